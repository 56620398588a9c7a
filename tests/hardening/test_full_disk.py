"""A disc that is full, by a limit on how large a file may be and by a small disc: one sentence, the former results whole,
nothing left over. What each command writes, at once and after what it wrote before."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from reach.base import text
from tests import loaded
from tests.conftest import SAMPLES
from tests.desk import conftest as desk

pytest.importorskip("resource")

STUDY = "study.toml"
SMALL_FILM = ["--size", "320x320", "--seconds", "1", "--fps", "5"]
# name: command line, and of what it writes the size in bytes that stops it early and late
COMMANDS = {
    "run": ["run", STUDY, "--out", "out/run", "--replace"],
    "write-study": [
        "run",
        "spots.csv",
        "--locator",
        "IO51es",
        "--title",
        "x",
        "--write-study",
        "out/new.toml",
        "--replace",
    ],
    "problems": ["vet", STUDY, "--problems", "out/problems.csv", "--replace"],
    "write-fixes": ["vet", STUDY, "--write-fixes", "out/fixes.csv", "--replace"],
    "deck": ["deck", STUDY, "--out", "out/deck", "--replace"],
    "motion": ["motion", STUDY, "--out", "out/film.webp", *SMALL_FILM, "--replace"],
    "motion-mp4": ["motion", STUDY, "--out", "out/film.mp4", *SMALL_FILM, "--replace"],
    "plan": [
        "plan",
        "--receivers",
        "9",
        "--start",
        "2026-05-16 18:00",
        "--seed",
        "{k}",
        "--out",
        "out/plan",
        "--replace",
    ],
    "add": ["add", "{k}.csv", "--to", "out/year", "--locator", "IO51es"],
}


def began(args: list[str], where: Path, k: int, limit: int | None = None) -> subprocess.CompletedProcess[str]:
    """`reach` as it is run: k is how often before, so that something new is to be written."""

    temporary = where / "tmp"
    temporary.mkdir(exist_ok=True)
    return loaded.run(
        [arg.format(k=k) for arg in args],
        cwd=where, largest_file=limit, pictures=2,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join(filter(None, sys.path)),
            "TMPDIR": str(temporary),
            "PYTHONDONTWRITEBYTECODE": "1",  # or Python itself would write cut off files beside the program
        },
    )  # fmt: skip


def prepared(where: Path) -> None:
    """A short evening with a setup that changes, and rows with something wrong; the same in two parts."""
    header, *rows = (SAMPLES / "messy.csv").read_text(encoding="utf-8").splitlines()
    for name, part in (("spots", rows[:240]), ("0", rows[:120]), ("1", rows[120:240])):
        (where / f"{name}.csv").write_text("\n".join([header, *part, ""]), encoding="utf-8")
    study = (SAMPLES / "messy.toml").read_text(encoding="utf-8").replace("messy.csv", "spots.csv")
    (where / STUDY).write_text(study, encoding="utf-8")
    for schedule in SAMPLES.glob("*_schedule.csv"):
        shutil.copy(schedule, where)


def there(where: Path) -> dict[str, str]:
    """Every file with its content, every folder, hidden ones too."""
    return {
        str(path.relative_to(where)): hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else "folder"
        for path in sorted(where.rglob("*"))
    }


def refused(ended: subprocess.CompletedProcess[str]) -> None:
    """One sentence, and the exit code of a refusal."""
    said = ended.stderr.strip().split("\n")
    assert ended.returncode == 2, (ended.stdout, ended.stderr)
    assert len(said) == 1 and said[0].startswith("reach: ") and said[0].endswith("."), said
    assert "out/" in said[0] and ".reach-" not in said[0] and "errno" not in said[0], said
    assert "written" in said[0] and "Traceback" not in said[0] and text.is_clean(said[0])


@pytest.fixture(scope="module", params=COMMANDS)
def done(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[str], Path]:
    """A command, and a folder in which it went well once."""
    where = tmp_path_factory.mktemp(request.param)
    prepared(where)
    args = COMMANDS[request.param]
    first = began(args, where, 0)
    assert first.returncode == 0, first.stderr
    return args, where


def most(where: Path) -> int:
    """The size of the largest file of the results."""
    return max(path.stat().st_size for path in (where / "out").rglob("*") if path.is_file())


def test_a_file_may_be_no_larger(done):
    args, where = done
    before = there(where)
    refused(began(args, where, 1, most(where) * 6 // 10))
    assert there(where) == before


def test_a_file_may_be_no_larger_that_holds_a_text_written_anew(tmp_path):
    prepared(tmp_path)
    assert began(COMMANDS["add"], tmp_path, 0).returncode == 0
    set_with_blanks = (SAMPLES / "weekend.csv").read_text(encoding="utf-8").replace(",", "  ")
    (tmp_path / "1.csv").write_text(set_with_blanks, encoding="utf-8")
    before = there(tmp_path)
    refused(began(COMMANDS["add"], tmp_path, 1, len(set_with_blanks) // 2))
    assert there(tmp_path) == before
    assert began(COMMANDS["add"], tmp_path, 1).returncode == 0


@pytest.fixture
def small_disc(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """A disc in memory, whose size is said; only who may mount has it."""
    place = tmp_path / "disc"
    place.mkdir()
    if sys.platform != "linux" or not shutil.which("mount") or os.geteuid():
        pytest.skip("only Linux's root can mount a small disc")
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256m", "none", str(place)], capture_output=True, text=True
    )
    if mounted.returncode:
        pytest.skip(f"no small disc can be mounted here: {mounted.stderr.strip()}")

    def sized(kilobytes: int) -> Path:
        subprocess.run(["mount", "-o", f"remount,size={kilobytes}k", str(place)], check=True)
        return place

    yield sized
    subprocess.run(["umount", "-l", str(place)], check=True)


def test_a_disc_without_room(done, small_disc):
    args, where = done
    place = small_disc(1 << 18)
    shutil.copytree(where, place, dirs_exist_ok=True)
    used = shutil.disk_usage(place).used // 1024
    before = there(place)
    pages = sum(path.stat().st_blocks // 8 for path in (place / "out").rglob("*") if path.is_file())
    for room in sorted({0, pages // 2}):
        small_disc(used + 4 * room)
        refused(began(args, place, 1))
        assert there(place) == before


def test_an_upload_to_a_disc_without_room(small_disc):
    """A limit on the size of files, and what is made of what was uploaded: tests/desk/test_hardship.py."""
    place = small_disc(1 << 18)
    served = desk.enter(desk.start(place / "Reach"))
    try:
        at = served.begin("full")
        before = there(place / "Reach")
        small_disc(shutil.disk_usage(place).used // 1024 + 8)
        answer = served.put(f"{at}/files/evening.csv", desk.sample("evening.csv"))
        assert answer.status == 507 and "No space left on device" in answer.text
        assert there(place / "Reach") == before
        small_disc(1 << 18)
        assert served.put(f"{at}/files/evening.csv", desk.sample("evening.csv")).status == 204
    finally:
        desk.end(served)

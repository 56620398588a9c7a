"""What a user has is never lost: each command refuses in one sentence with exit code 2, and no byte of theirs changes."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest

from reach.cli import main

SPOTS = "time,callsign,locator,snr,band,setup\n2026-05-16 18:02,G4QRA,IO91wm,-12,20m,a\n2026-05-16 18:04,F5QSA,JN18eu,-9,20m,b\n"
STATION = ("--locator", "IO51es")


@pytest.fixture
def here(tmp_path, monkeypatch) -> Path:
    """A folder with an export, a schedule, fixes, a control station's spots and a study that names them."""
    monkeypatch.chdir(tmp_path)
    for name in ("mine.csv", "control.csv", "more.csv"):
        Path(name).write_text(SPOTS)
    Path("times.csv").write_text("start,end,setup\n2026-05-16T18:00:00Z,2026-05-16T18:03:00Z,a\n")
    Path("fixes.csv").write_text("callsign,locator,suggestion,reason,reports,accept\n")
    Path("may.toml").write_text(
        'files = ["mi*.csv"]\nschedule = "times.csv"\nsessions = [{setup = "a", files = ["more.csv"]}]\n'
        '[station]\nlocator = "IO51es"\n[compare]\na = "a"\nb = "b"\ncontrol = "control.csv"\n'
    )
    return tmp_path


def everything(here: Path) -> dict[str, bytes]:
    return {path.relative_to(here).as_posix(): path.read_bytes() for path in here.rglob("*") if path.is_file()}


def refused(capsys, *args: str) -> str:
    """The one line that a refused command prints."""
    with pytest.raises(SystemExit) as ended:
        main(list(args))
    told = capsys.readouterr()
    assert ended.value.code == 2 and not told.out
    (line,) = told.err.splitlines()
    return line


def ours(folder: Path, makes: str = "report.html") -> None:
    """A folder as an earlier run left it."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / makes).write_text("the answer")
    listed = {makes: hashlib.sha256(b"the answer").hexdigest()}
    (folder / "manifest.json").write_text(json.dumps({"reach": "0.1.0", "outputs": listed}))


# --- a folder that is somebody else's -----------------------------------------------------------------------------------

FOLDERS = {
    "run": ("run", "mine.csv", *STATION, "--out", "app"),
    "demo": ("demo", "--only", "messy", "--out", "."),
    "deck": ("deck", "mine.csv", *STATION, "--out", "app"),
}


@pytest.mark.parametrize("command", FOLDERS)
@pytest.mark.parametrize("replace", [False, True])
@pytest.mark.parametrize("manifest", [None, '{"name": "my app", "start_url": "/index.html"}'])
def test_a_web_project_is_left_alone(here, capsys, command, replace, manifest):
    """Whatever is said: --replace is about changes to what `reach` wrote, never about other people's files."""
    app = Path("demo-messy" if command == "demo" else "app")
    app.mkdir()
    (app / "index.html").write_text("<h1>mine</h1>")
    if manifest:
        (app / "manifest.json").write_text(manifest)
    before = everything(here)
    line = refused(capsys, *FOLDERS[command], *(["--replace"] if replace else []))
    assert "index.html" in line and "left alone" in line
    assert everything(here) == before


@pytest.mark.parametrize("command", FOLDERS)
def test_a_file_of_ours_that_was_changed_is_left_alone(here, capsys, command):
    app = Path("demo-messy" if command == "demo" else "app")
    name = "deck.pptx" if command == "deck" else "report.html"
    ours(app, name)
    (app / name).write_text("my own words")
    before = everything(here)
    line = refused(capsys, *FOLDERS[command])
    assert f"{name} was changed" in line and "--replace" in line
    assert everything(here) == before


def test_demo_looks_at_all_its_folders_first(here, capsys):
    Path("demo-messy").mkdir()
    Path("demo-messy/thesis.txt").write_text("precious")
    before = everything(here)
    assert "thesis.txt" in refused(capsys, "demo", "--out", ".")
    assert everything(here) == before


def test_notes_in_an_earlier_report_stay_and_what_is_not_made_any_more_goes(here, capsys, two_pictures):
    ours(Path("app"))
    Path("app/old.svg").write_text("a picture")
    told = json.loads(Path("app/manifest.json").read_text())
    told["outputs"]["old.svg"] = hashlib.sha256(b"a picture").hexdigest()
    Path("app/manifest.json").write_text(json.dumps(told))
    Path("app/notes.txt").write_text("precious")
    with pytest.raises(SystemExit) as ended:
        main(["run", "mine.csv", *STATION, "--out", "app"])
    assert ended.value.code == 0, capsys.readouterr().err
    assert Path("app/notes.txt").read_text() == "precious"
    assert not Path("app/old.svg").exists() and Path("app/report.html").read_text() != "the answer"
    listed = json.loads(Path("app/manifest.json").read_text())["outputs"]
    assert "notes.txt" not in listed and "report.html" in listed
    # The next run finds a folder of ours with a note in it, and nothing changed.
    with pytest.raises(SystemExit) as ended:
        main(["run", "mine.csv", *STATION, "--out", "app"])
    assert ended.value.code == 0 and Path("app/notes.txt").read_text() == "precious"


def test_a_report_is_not_written_over_by_slides(here, capsys):
    ours(Path("app"))
    assert "another command" in refused(capsys, *FOLDERS["deck"])


# --- no output is an input ----------------------------------------------------------------------------------------------

INPUTS = ("mine.csv", "more.csv", "times.csv", "control.csv", "may.toml")


def links(name: str) -> list[str]:
    """The file by its own name, by a longer way, by a symbolic link and by a hard one."""
    os.symlink(name, f"soft-{name}.mp4")
    os.link(name, f"hard-{name}.mp4")
    return [name, f"./../{Path.cwd().name}/{name}", f"soft-{name}.mp4", f"hard-{name}.mp4"]


@pytest.mark.parametrize("name", [*INPUTS, "fixes.csv"])
def test_what_is_read_is_never_written_over(here, capsys, name):
    ways = links(name)
    before = everything(here)
    fixed = ("--fixes", "fixes.csv")
    for out in ways:
        asked = [("run", "may.toml", *fixed, "--write-study", out)]
        if name != "fixes.csv":
            asked += [("vet", "may.toml", "--problems", out), ("vet", "may.toml", "--write-fixes", out)]
        if out.endswith(".mp4"):
            asked.append(("motion", "may.toml", *fixed, "--out", out))
        for args in asked:
            line = refused(capsys, *args, "--replace")
            assert "one of the files to read" in line and out.removeprefix("./") in line
    assert everything(here) == before


def test_the_studys_own_corrections_are_never_written_over(here, capsys):
    """Even where others are given instead."""
    study = Path("may.toml")
    study.write_text('fixes = "fixes.csv"\n' + study.read_text())
    Path("others.csv").write_bytes(Path("fixes.csv").read_bytes())
    os.link("fixes.csv", "hard.csv")
    before = everything(here)
    for args in (("vet", "may.toml", "--write-fixes", "fixes.csv"), ("vet", "may.toml", "--problems", "hard.csv"),
                 ("run", "may.toml", "--fixes", "others.csv", "--write-study", "fixes.csv")):  # fmt: skip
        assert "one of the files to read" in refused(capsys, *args, "--replace")
    assert everything(here) == before


def test_a_plan_does_not_write_over_the_schedule_it_reads(here, capsys):
    Path("pl").mkdir()
    os.link("times.csv", "pl/schedule.csv")
    before = everything(here)
    args = ("plan", "may.toml", "--start", "2026-05-16 18:00", "--out", "pl", "--replace")
    assert "times.csv, one of the files to read" in refused(capsys, *args)
    assert everything(here) == before


@pytest.mark.parametrize("command", ["run", "deck"])
def test_an_earlier_report_is_no_input_of_the_next(here, capsys, command):
    ours(Path("app"), "report.html" if command == "run" else "deck.pptx")
    Path("app/spots.csv").write_text(SPOTS)
    told = json.loads(Path("app/manifest.json").read_text())
    told["outputs"]["spots.csv"] = hashlib.sha256(SPOTS.encode()).hexdigest()
    Path("app/manifest.json").write_text(json.dumps(told))
    os.symlink("app/spots.csv", "shortcut.csv")
    before = everything(here)
    for name in ("app/spots.csv", "shortcut.csv"):
        assert "one of the files to read" in refused(capsys, command, name, *STATION, "--out", "app")
    assert everything(here) == before


def test_two_outputs_of_one_name_are_refused(here, capsys):
    line = refused(capsys, "vet", "mine.csv", *STATION, "--problems", "new.csv", "--write-fixes", "./new.csv")
    assert "two files to write" in line and not Path("new.csv").exists()


# --- what a user may have edited ----------------------------------------------------------------------------------------

EDITED = {
    "schedule.csv": ("plan", "--start", "2026-05-16 18:00", "--out", "."),
    "schedule.ics": ("plan", "--start", "2026-05-16 18:00", "--out", "."),
    "decided.csv": ("vet", "mine.csv", *STATION, "--write-fixes", "decided.csv"),
    "notes.csv": ("vet", "mine.csv", *STATION, "--problems", "notes.csv"),
    "june.toml": ("run", "mine.csv", *STATION, "--write-study", "june.toml"),
    "film.webp": ("motion", "mine.csv", *STATION, "--out", "film.webp"),
}


@pytest.mark.parametrize("name", EDITED)
def test_what_was_edited_is_left_alone_unless_asked(here, capsys, name):
    Path(name).write_text("an evening's work")
    before = everything(here)
    line = refused(capsys, *EDITED[name])
    assert name in line and "left alone" in line and "--replace" in line
    assert everything(here) == before


@pytest.mark.parametrize("name", [name for name in EDITED if name != "film.webp"])
def test_asked_it_is_written_over_and_nothing_else_is(here, capsys, name):
    Path(name).write_text("an evening's work")
    before = everything(here)
    with pytest.raises(SystemExit) as ended:
        main([*EDITED[name], "--replace"])
    assert ended.value.code == 0, capsys.readouterr().err
    after = everything(here)
    assert after.pop(name) != before.pop(name)
    assert {other: after[other] for other in before} == before


def test_a_plan_leaves_what_else_is_in_its_folder(here, capsys):
    """It makes no report, so it needs no folder of its own."""
    before = everything(here)
    with pytest.raises(SystemExit) as ended:
        main(["plan", "--start", "2026-05-16 18:00", "--out", "."])
    assert ended.value.code == 0, capsys.readouterr().err
    after = everything(here)
    assert set(after) - set(before) == {"schedule.csv", "schedule.ics"}
    assert {name: after[name] for name in before} == before

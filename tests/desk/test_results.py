"""Results: report, slides, handout and film as the command line makes them of what was decided, painted and compared by forms; what
changed; all of it as one archive; cancelled or killed, what was there before."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import time
import zipfile
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from reach import cli
from reach.assign import schedule
from reach.cli import motion
from reach.desk import changes
from tests.conftest import KINDS_ALONE
from tests.desk.conftest import FILM_S, NARROW, NOW, SAMPLES, Served, few_pictures, sample, settled

Made = tuple[Served, str, Path]


SETUPS = {"setup-0-was": "", "setup-0-name": "vertical", "setup-1-was": "", "setup-1-name": "wire"}


@pytest.fixture(scope="module")
def made(served: Served) -> Made:
    """A study with all that forms can say of it: two exports, two setups painted and compared, two locators decided on. Its report,
    its slides and its film."""
    at = served.begin("evening")
    folder = served.folder / "evening"
    study = folder / "study.toml"
    study.write_text(NOW + study.read_text())
    for name in ("evening.csv", "messy.csv"):
        assert served.put(f"{at}/files/{name}", sample(name)).status == 204
    station = {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": "5", "title": "evening", "direction": "sent"}
    assert served.post(f"{at}/station", **station, setups="yes", **SETUPS).status == 303
    rows = (SAMPLES / "evening_schedule.csv").read_text().splitlines()[1:]
    painted = {
        f"{name}-{k}": cell
        for k, row in enumerate(rows, 1)
        for name, cell in zip(("start", "end", "setup"), row.split(","), strict=True)
    }
    assert served.post(f"{at}/on-air", **painted).status == 303
    assert served.post(f"{at}/on-air/compare", **{"setup-0": "vertical", "setup-1": "wire"}).status == 303
    for call, name, choice in (("DG5QUA", "RE61eg", {"choice": "yes", "suggestion": "JO61eg"}),
                               ("LY5QSE", "KO15", {"choice": "other", "other": "KO15xa"})):  # fmt: skip
        assert served.post(f"{at}/doubtful", callsign=call, locator=name, **choice).status == 303
    for what in ("run", "slides", "film"):
        assert served.post(f"{at}/run", what=what).headers["location"] == f"{at}/results"
    page = results(served, at)
    assert 'role="alert">' not in page.replace('role="alert" hidden>', ""), page
    return served, at, folder


def results(served: Served, at: str) -> str:
    """The screen, once nothing is being made."""
    return settled(served, f"{at}/results", "/cancel")


def files(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_the_report_is_that_of_the_command_line_to_the_byte(made: Made, tmp_path: Path) -> None:
    """What was painted and decided on counts in both, and what a helper draws is what one process draws alone. Of a picture of each kind."""
    served, at, folder = made
    page = results(served, at)
    assert "Open the report" in page and "Half of 3,057 reports came from beyond" in page
    painted, told = schedule.read(folder / "schedule.csv"), schedule.read(SAMPLES / "evening_schedule.csv")
    assert painted.equals(told)
    other = tmp_path / "evening"
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            f"{KINDS_ALONE}\nfrom reach.cli import main\nmain()",
            "run",
            "study.toml",
            "--out",
            str(other),
        ],
        cwd=folder,
        env={**os.environ, "REACH_HELPERS": "1"},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "24 rows had their locator replaced as you asked." in done.stdout
    ours = files(folder / "outputs" / "evening")
    assert ours == files(other)
    assert len(ours) > 15 and "comparison.json" in ours


def test_slides_handout_and_film_are_those_of_the_command_line(
    made: Made, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a film that is short on both sides; how long one is that nothing is asked of, the desk and the command line read in one place."""
    _, _, folder = made
    monkeypatch.chdir(folder)
    assert {each.name: each.default for each in motion.command.params}["seconds"] == motion.SECONDS > FILM_S
    for asked in (("deck", "study.toml", "--out", str(tmp_path / "evening-slides")),
                  ("motion", "study.toml", "--seconds", str(FILM_S), "--out", str(tmp_path / "evening.mp4"))):  # fmt: skip
        assert CliRunner().invoke(cli.reach, list(asked), catch_exceptions=False).exit_code == 0
    outputs = folder / "outputs"
    assert files(outputs / "evening-slides") == files(tmp_path / "evening-slides")
    assert (outputs / "evening.mp4").read_bytes() == (tmp_path / "evening.mp4").read_bytes()


def test_each_can_be_had_and_all_of_it_as_one(made: Made) -> None:
    served, at, folder = made
    page = results(served, at)
    names = ["evening-slides/deck.pptx", "evening-slides/deck.pdf", "evening-slides/handout.pdf", "evening.mp4"]
    for name in names:
        assert f'href="{at}/beside/{name}?download"' in page
        answer = served.get(f"{at}/beside/{name}?download")
        assert answer.content == (folder / "outputs" / name).read_bytes()
        assert answer.headers["content-security-policy"].startswith("sandbox")
    own = files(folder / "outputs" / "evening")
    assert sorted(re.findall(r'outputs/evening/([^"?]*)\?download', page)) == sorted(own)
    for name in ("report.html", "spots.csv"):
        answer = served.get(f"{at}/outputs/evening/{name}?download")
        assert answer.content == own[name]
        assert answer.headers["content-disposition"].startswith("attachment")
        assert answer.headers["content-security-policy"].startswith("sandbox allow-scripts allow-downloads")
    with zipfile.ZipFile(io.BytesIO(served.get(f"{at}/zip/evening").content)) as archive:
        packed = {name: archive.read(name) for name in archive.namelist()}
    report = {f"evening/{name}": content for name, content in own.items()}
    assert packed == {**report, **{name: (folder / "outputs" / name).read_bytes() for name in names}}
    for listed in ("Tables", "For map programs", "Pictures"):
        assert re.search(rf"<summary>{listed} \(\d+\)</summary>", page)


def test_a_link_among_the_results_is_not_followed(made: Made, tmp_path: Path) -> None:
    served, at, folder = made
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    link = folder / "outputs" / "evening" / "link.txt"
    link.symlink_to(secret)
    try:
        assert served.get(f"{at}/outputs/evening/link.txt").status == 404
        assert "link.txt" not in served.get(f"{at}/results").text
    finally:
        link.unlink()


@pytest.mark.parametrize("name", ["../study.toml", "evening-slides/../evening/spots.csv", "..%2fstudy.toml", "evening/spots.csv",
                                  "evening-slides/manifest.json", ""])  # fmt: skip
def test_nothing_else_is_beside(made: Made, name: str) -> None:
    served, at, _ = made
    assert served.get(f"{at}/beside/{name}").status == 404


def test_a_link_beside_is_not_followed(made: Made, tmp_path: Path) -> None:
    served, at, folder = made
    secret = tmp_path / "secret.txt"
    secret.write_text("secret")
    for link in (folder / "outputs" / "evening.webp", folder / "outputs" / "evening-slides" / "notes.txt"):
        link.symlink_to(secret)
        try:
            name = link.relative_to(folder / "outputs").as_posix()
            assert name not in results(served, at)
            assert served.get(f"{at}/beside/{name}").status == 404
        finally:
            link.unlink()


def test_of_a_film_without_an_encoder_it_says_what_plays_it(made: Made) -> None:
    served, at, folder = made
    note = "a picture that moves"
    assert note not in results(served, at)
    film = folder / "outputs" / "evening.webp"
    film.write_bytes(b"RIFF")
    try:
        assert note in results(served, at)
    finally:
        film.unlink()


def test_what_somebody_changed_is_left_alone(made: Made) -> None:
    served, at, folder = made
    for what, name in (("film", "evening.mp4"), ("slides", "evening-slides/deck.pptx"), ("run", "evening/report.html")):
        path = folder / "outputs" / name
        before = path.read_bytes()
        path.write_bytes(b"an evening's work")
        try:
            served.post(f"{at}/run", what=what)
            assert "may hold your work, so that nothing is written" in results(served, at)
            assert path.read_bytes() == b"an evening's work"
        finally:
            path.write_bytes(before)
    assert served.post(f"{at}/run", what="coffee").status == 422


def test_it_says_what_is_old(made: Made) -> None:
    served, at, _ = made
    assert "have changed since" not in results(served, at) and "since the run before" not in results(served, at)
    served.put(f"{at}/files/weekend.csv", sample("weekend.csv"))
    page = results(served, at)
    assert "Files, settings or decisions have changed since this report was made." in page
    assert page.count("They were made before files, settings or decisions changed.") == 2


@pytest.fixture(scope="module")
def twice(served: Served) -> str:
    """A small study whose report was made, once more with rows that came, and once more: what the screen said."""
    at = served.begin("twice made")
    served.put(f"{at}/files/a.csv", few_pictures())
    said = {"callsign": "", "locator": "IO51es", "power_w": "5", "title": "twice made", "direction": "sent"}
    assert served.post(f"{at}/station", **said).status == 303
    served.post(f"{at}/run", what="run")
    page = results(served, at)
    assert "Open the report" in page and "since the run before" not in page
    return at


def test_it_says_what_changed(twice: str, served: Served) -> None:
    served.put(f"{twice}/files/b.csv", few_pictures(30))
    assert "have changed since this report" in results(served, twice)
    served.post(f"{twice}/run", what="run")
    page = results(served, twice)
    assert "What changed since the run before" in page and "34 rows read (4 before)" in page
    assert "have changed since this report" not in page
    served.post(f"{twice}/run", what="run")
    assert changes.SAME in results(served, twice)


def test_cancelled_or_killed_the_former_report_stays_whole(made: Made) -> None:
    served, at, folder = made
    root = folder / "outputs" / "evening"
    others = {path.name for path in root.parent.iterdir()}
    before = files(root)
    study = folder / "study.toml"
    study.write_text(study.read_text() + "\n# another stamp\n")
    served.post(f"{at}/run")
    page = served.get(f"{at}/results").text
    assert (found := re.search(r'action="([^"]*/cancel)"', page))
    again = served.post(f"{at}/run") and served.get(f"{at}/results").text
    assert re.findall(r'action="([^"]*/cancel)"', again) == [found[1]], "asked for twice, it is one job"
    assert any(f".{root.name}.reach-" in name for name in _until_more(root.parent, others))
    assert served.post(found[1]).status == 303
    assert "Cancelled. What was here before is as it was." in results(served, at)
    assert files(root) == before
    assert {path.name for path in root.parent.iterdir()} == others
    assert "Open the report" in served.get(f"{at}/results").text
    assert "rows read" in settled(served, at, "Reading the files"), "another worker takes over"


def _until_more(folder: Path, known: set[str]) -> set[str]:
    """The names in a folder, once there are others than these."""
    until = time.monotonic() + 120
    while (found := {path.name for path in folder.iterdir()}) <= known and time.monotonic() < until:
        time.sleep(0.02)
    return found


# --- what changed, by itself -----------------------------------------------------------------------------------------------


def figures(**told: Any) -> dict[str, Any]:
    base = {
        "spots": 100, "receivers": 40, "countries": 9, "days": 1, "median_km": 1480.0, "median_km_interval": [1300.0, 1700.0],
        "p90_km": 5000.0, "p90_km_interval": None,
        "farthest": {"rx_call": "VK7QSZ", "rx_locator": "QE37pc", "distance_km": 18023.3},
    }  # fmt: skip
    return {**base, **told}


def summary(*, bands: tuple[str, ...] = ("20m",), counts: dict[str, int] | None = None, **told: Any) -> dict[str, Any]:
    return {
        "direction": "sent",
        "counts": {"read": 100, "accepted": 100, **(counts or {})},
        "period": {"first_utc": "2026-05-16T18:02:00Z", "last_utc": "2026-05-16T23:56:00Z"},
        "all": {"overall": figures(), "by_band": {band: {} for band in bands}},
        "corroborated": {"overall": figures(**told)},
    }


def test_nothing_changed_is_said_so() -> None:
    assert changes.said(summary(), summary()) == [changes.SAME]


def test_a_distance_within_its_former_interval_is_said_to_be() -> None:
    (near,) = changes.said(summary(), summary(median_km=1650.0))
    assert near.startswith(
        "Half of the reports: beyond 1,650 km, 1,480 km before; the new figure lies within the interval"
    )
    (far,) = changes.said(summary(), summary(median_km=2650.0))
    assert far == "Half of the reports: beyond 2,650 km, 1,480 km before."
    assert changes.said(summary(), summary(median_km=1480.3)) == [changes.SAME], "what reads the same is the same"
    assert changes.said(summary(), summary(p90_km=None)) == [changes.SAME]


def test_records_counts_bands_and_verdicts() -> None:
    other = {"rx_call": "ZL3QSA", "rx_locator": "RE66ha", "distance_km": 18600.0}
    told = changes.said(
        summary(bands=("20m", "40m"), counts={"fixed": 0}),
        summary(bands=("20m", "30m"), counts={"fixed": 23, "read": 150}, farthest=other, receivers=41),
    )
    assert told == [
        "Farthest: ZL3QSA in RE66ha, 18,600 km, VK7QSZ in QE37pc, 18,020 km before.",
        "41 receivers (40 before).",
        "New: reports on 30m.",
        "No more reports on 40m.",
        "150 rows read (100 before); 23 with their locator replaced as you asked (0 before).",
    ]
    verdict = {
        "a": "wire",
        "b": "b better",
        "verdict": "no clear difference",
        "difference_db": 0.6,
        "low_db": -0.4,
        "high_db": 1.6,
    }
    before, after = (
        {**summary(), "comparison": verdict},
        {**summary(), "comparison": {**verdict, "verdict": "b better"}},
    )
    assert changes.said(before, before) == [changes.SAME]
    assert changes.said(before, after)[0].startswith(
        "wire against b better: b better better (+0.6 dB, -0.4 to +1.6), no clear"
    )
    assert changes.said(after, summary()) == ["Setups are not compared any more."]


def test_a_folder_without_a_report_says_nothing(tmp_path: Path) -> None:
    assert changes.read(tmp_path) is None
    (tmp_path / "summary.json").write_text("[1")
    assert changes.read(tmp_path) is None


# --- in Chromium -----------------------------------------------------------------------------------------------------------


def test_axe_finds_no_fault(visit: Any, made: Made, twice: str) -> None:
    served, root, _ = made
    at = visit(**NARROW)
    at.page.goto(f"{served.origin}{root}/results")
    at.page.get_by_role("link", name="deck.pptx").wait_for()
    at.page.get_by_text("Tables (").click()
    at.without_fault()
    at.page.goto(f"{served.origin}{twice}/results")
    at.page.get_by_text("What changed since the run before").wait_for()
    at.without_fault()

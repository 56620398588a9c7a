"""The folder: whole or not at all, the same bytes for the same input, nothing foreign touched."""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from reach import study
from reach.errors import OutputError
from reach.tell import folder, pictures
from reach.tell.sentences import direction
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def messy(walks):
    return walks["messy"].findings


def _hashes(root: Path) -> dict[str, str]:
    return {
        path.relative_to(root).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def test_same_input_same_bytes_and_the_manifest_knows_them(messy, tmp_path, monkeypatch, two_pictures):
    """Once with a helper, once without. Every picture, drawn twice: test_pictures.py; reports with one of each kind, by two processes:
    tests/desk/test_results.py."""
    monkeypatch.setenv("REACH_HELPERS", "1")
    first = _hashes(folder.write(messy, tmp_path / "one"))
    monkeypatch.setenv("REACH_HELPERS", "0")
    second = _hashes(folder.write(Walk(study.load(SAMPLES / "messy.toml"), now=NOW).findings, tmp_path / "two"))
    assert first == second
    manifest = json.loads((tmp_path / "one" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["outputs"] == {name: value for name, value in first.items() if name != "manifest.json"}
    data = (SAMPLES / "messy.csv").read_bytes()
    assert manifest["inputs"][0]["sha256"] == hashlib.sha256(data).hexdigest()
    assert {"report.html", "summary.json", "spots.csv", "problems.csv"} <= set(first)


def test_spots_that_are_written_ahead_are_the_same(messy, tmp_path, monkeypatch, two_pictures):
    monkeypatch.setenv("REACH_HELPERS", "0")
    at_once = _hashes(folder.write(messy, tmp_path / "one"))
    with pictures.Drawers(0) as drawers, folder.begin(tmp_path / "two") as begun:
        begun.write_spots(messy.spots, direction.ends(messy), drawers)
        begun.draw(messy, drawers)
        begun.finish()
    assert _hashes(tmp_path / "two") == at_once


def test_no_folder_where_the_spots_cannot_be_written(messy, tmp_path, monkeypatch, two_pictures):
    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(folder, "write_spots", full)
    with pytest.raises(OutputError, match="No space left"):
        folder.write(messy, tmp_path / "outputs" / "one", drawers=pictures.Drawers(0))
    assert not list(tmp_path.iterdir())


def test_the_clock_shows_in_no_file(messy, tmp_path):
    """The same input a minute later gives the same bytes, with a spot of the future in it."""
    later = Walk(study.load(SAMPLES / "messy.toml"), now=datetime(2026, 11, 1, 0, 1, tzinfo=UTC)).findings
    assert messy.problems["rule"].eq("time-in-future").any()
    assert messy.problems.equals(later.problems)


def test_tables_read_back(messy, tmp_path):
    folder.write_tables(messy, tmp_path)
    spots = pd.read_csv(tmp_path / "spots.csv", keep_default_na=False)
    assert len(spots) == messy.counts.accepted
    problems = pd.read_csv(tmp_path / "problems.csv", keep_default_na=False)
    assert list(problems.columns) == [
        "source", "line", "callsign", "locator", "rule", "severity", "explanation", "suggestion"
    ]  # fmt: skip
    assert problems["line"].is_monotonic_increasing
    rejected = problems.loc[problems["severity"] == "rejected", "line"].nunique()
    assert rejected == messy.counts.rejected
    geo = json.loads((tmp_path / "receivers.geojson").read_text(encoding="utf-8"))
    assert len(geo["features"]) == len(messy.receivers)


# --- the folder and the user's own files --------------------------------------------------------------------------------


def fill(out: Path, contents: dict[str, str], *, replace: bool = False, makes: tuple[str, ...] = ()) -> None:
    """What a run does to a folder: these files, and a manifest that lists them."""
    with folder.replacing(out, replace=replace, makes=makes) as partial:
        for name, content in contents.items():
            (partial / name).parent.mkdir(parents=True, exist_ok=True)
            (partial / name).write_text(content)
        listed = folder.hashes(partial)
        (partial / folder.MANIFEST).write_text(json.dumps({"reach": "1", "outputs": listed}))


def read(out: Path) -> dict[str, str]:
    found = {path.relative_to(out).as_posix(): path.read_text() for path in out.rglob("*") if path.is_file()}
    found.pop(folder.MANIFEST)
    return found


REPORT = {"report.html": "the answer", "pictures/map.svg": "a map", "spots.csv": "spots"}


@pytest.fixture
def report(tmp_path) -> Path:
    fill(tmp_path / "out", REPORT)
    return tmp_path / "out"


def test_what_a_new_run_makes_no_more_goes(report):
    fill(report, {"report.html": "new", "spots.parquet": "spots"})
    assert read(report) == {"report.html": "new", "spots.parquet": "spots"}
    assert not (report / "pictures").exists()


def test_notes_in_a_report_stay_wherever_they_lie(report):
    notes = {"notes.txt": "precious", "pictures/holiday.jpg": "sun", "mine/deep/plan.md": "plan"}
    for name, content in notes.items():
        (report / name).parent.mkdir(parents=True, exist_ok=True)
        (report / name).write_text(content)
    (report / "empty").mkdir()
    (report / "link").symlink_to("notes.txt")
    fill(report, {"report.html": "new"})
    assert read(report) == {"report.html": "new", "link": "precious", **notes}
    assert (report / "link").is_symlink() and (report / "empty").is_dir()
    assert [path.name for path in report.parent.iterdir()] == ["out"]


def test_notes_stay_where_a_disc_knows_no_links(report, monkeypatch):
    def no_links(*args, **how):
        raise OSError(1, "Operation not permitted")

    (report / "notes.txt").write_text("precious")
    monkeypatch.setattr(folder.os, "link", no_links)
    fill(report, {"report.html": "new"})
    assert read(report) == {"report.html": "new", "notes.txt": "precious"}


@pytest.mark.parametrize("broken", ["before the swap", "in the swap"])
def test_a_run_that_fails_at_the_last_moment_loses_nothing(report, monkeypatch, broken):
    (report / "notes.txt").write_text("precious")
    before = read(report)
    replaced = os.replace

    def fails(old, new):
        if Path(new) == report and "was" not in Path(old).name:
            raise OSError(28, "No space left on device")
        replaced(old, new)

    if broken == "in the swap":
        monkeypatch.setattr(folder.os, "replace", fails)
    else:
        monkeypatch.setattr(
            folder, "_swap", lambda *given: (_ for _ in ()).throw(OSError(28, "No space left on device"))
        )
    with pytest.raises(OutputError, match="No space left"):
        fill(report, {"report.html": "new"})
    assert read(report) == before
    assert [path.name for path in report.parent.iterdir()] == ["out"]


def test_a_note_made_while_pictures_were_drawn_stays(report, monkeypatch):
    with folder.replacing(report) as partial:
        (partial / folder.MANIFEST).write_text(json.dumps({"reach": "1", "outputs": {}}))
        (report / "notes.txt").write_text("just now")
    assert read(report) == {"notes.txt": "just now"}
    kept = folder._keep

    def later(out, *given):
        kept(out, *given)
        (out / "later.txt").write_text("in the very last moment")

    monkeypatch.setattr(folder, "_keep", later)
    fill(report, {"report.html": "new"})
    assert read(report) == {"report.html": "new", "notes.txt": "just now", "later.txt": "in the very last moment"}


def test_a_report_that_somebody_changed_is_left_alone_unless_asked(report):
    (report / "report.html").write_text("my words")
    (report / "spots.csv").write_text("my spots")
    with pytest.raises(OutputError, match=r"report\.html and spots\.csv were changed after .* replace=True"):
        folder.check(report)
    with pytest.raises(OutputError), folder.replacing(report):
        raise AssertionError("nothing is done before the folder is looked at")
    assert read(report)["report.html"] == "my words"
    fill(report, {"report.html": "new"}, replace=True)
    # Asked or not: what is not written anew and holds somebody's work is not taken away.
    assert read(report) == {"report.html": "new", "spots.csv": "my spots"}


def test_a_link_in_the_place_of_a_file_of_ours_is_a_change(report, tmp_path):
    (tmp_path / "elsewhere.html").write_text(REPORT["report.html"])
    (report / "report.html").unlink()
    (report / "report.html").symlink_to(tmp_path / "elsewhere.html")
    with pytest.raises(OutputError, match=r"report\.html was changed"):
        folder.check(report)
    fill(report, {"report.html": "new"}, replace=True)
    assert (tmp_path / "elsewhere.html").read_text() == REPORT["report.html"]


@pytest.mark.parametrize("name", ["spots.parquet", "spots.parquet/inside.txt", "new"])
def test_a_foreign_file_under_a_name_of_ours_is_not_written_over(report, name):
    (report / name).parent.mkdir(exist_ok=True)
    (report / name).write_text("mine")
    with pytest.raises(OutputError, match=f"holds {name}, which `reach` did not write"):
        fill(report, {"spots.parquet": "ours", "new/thing": "ours"}, replace=True)
    assert (report / name).read_text() == "mine" and read(report)["report.html"] == REPORT["report.html"]


def test_a_folder_behind_a_link_is_written_and_the_link_stays(report, tmp_path):
    (tmp_path / "link").symlink_to(report)
    (report / "notes.txt").write_text("precious")
    fill(tmp_path / "link", {"report.html": "new"})
    assert (tmp_path / "link").is_symlink()
    assert read(report) == {"report.html": "new", "notes.txt": "precious"}


def test_a_folder_of_links_is_not_followed(report, tmp_path):
    """Pictures moved to another disc and linked: what lies there was ours, but is out of the folder."""
    shutil.move(report / "pictures", tmp_path / "album")
    (report / "pictures").symlink_to(tmp_path / "album")
    fill(report, {"report.html": "new"})
    assert (tmp_path / "album" / "map.svg").read_text() == "a map"
    assert (report / "pictures").is_symlink()


@pytest.mark.parametrize(
    "manifest",
    ['{"name": "web app", "icons": []}', '{"outputs": {"index.html": "x"}}', '{"reach": "1", "outputs": ["index.html"]}',
     '["reach"]', "no json", '{"reach": "1"}'],
)  # fmt: skip
def test_a_manifest_of_somebody_else_is_no_leave(tmp_path, manifest):
    (tmp_path / "manifest.json").write_text(manifest)
    (tmp_path / "index.html").write_text("my site")
    with pytest.raises(OutputError, match=r"holds index\.html, which `reach` did not write .* is not ours"):
        folder.check(tmp_path, replace=True)


def test_a_manifest_that_lists_what_lies_elsewhere_reaches_nothing(tmp_path):
    """Made on purpose or by moving folders about: only what lies in the folder itself can ever go."""
    (tmp_path / "precious.txt").write_text("mine")
    out = tmp_path / "out"
    out.mkdir()
    digest = hashlib.sha256(b"mine").hexdigest()
    listed = {"../precious.txt": digest, str(tmp_path / "precious.txt"): digest}
    (out / "manifest.json").write_text(json.dumps({"reach": "1", "outputs": listed}))
    fill(out, {"report.html": "new"})
    assert (tmp_path / "precious.txt").read_text() == "mine"


def test_the_folder_of_another_command_is_left_alone(report):
    folder.check(report, makes=("report.html",))
    with pytest.raises(OutputError, match="another command"):
        folder.check(report, makes=("deck.pptx",))


def test_what_is_read_may_lie_in_the_folder_unless_it_would_go(report):
    (report / "mine.csv").write_text("spots")
    folder.check(report, inputs=[report / "mine.csv", None, "-"])
    os.link(report / "spots.csv", report.parent / "hard.csv")
    for name in (report / "spots.csv", report.parent / "hard.csv"):
        with pytest.raises(OutputError, match="one of the files to read"):
            folder.check(report, inputs=[name])


def test_an_interrupted_run_leaves_nothing(tmp_path):
    with pytest.raises(KeyboardInterrupt), folder.replacing(tmp_path / "out"):
        raise KeyboardInterrupt
    assert not list(tmp_path.iterdir())


def test_files_and_foreign_folders_are_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    (tmp_path / "foreign").mkdir()
    for name in "abcde":
        (tmp_path / "foreign" / name).write_text("x")
    with pytest.raises(OutputError, match="is a file"):
        folder.check(tmp_path / "file")
    with pytest.raises(OutputError, match="holds a, b, c and 2 more, which"):
        folder.check(tmp_path / "foreign")
    folder.check(tmp_path / "new")


def test_headlines_stand_twice(messy):
    found = folder.summary_file(messy)
    assert found["counts"]["read"] == sum(found["counts"][k] for k in ("accepted", "rejected", "duplicates"))
    everything, sure = found["all"]["overall"], found["corroborated"]["overall"]
    assert everything["spots"] - sure["spots"] == found["spots_between"] > 0
    assert everything["farthest"]["rx_locator"] == "RE61eg"  # the planted false record
    assert sure["farthest"]["rx_locator"] != "RE61eg"

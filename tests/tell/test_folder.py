"""The folder: whole or not at all, the same bytes for the same input, nothing foreign touched."""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

from reach import study
from reach.errors import OutputError
from reach.tell import folder
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def messy():
    return Walk(study.load(SAMPLES / "messy.toml"), now=NOW).findings


def _hashes(root: Path) -> dict[str, str]:
    return {
        path.relative_to(root).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def test_same_input_same_bytes_and_the_manifest_knows_them(messy, tmp_path):
    first = _hashes(folder.write(messy, tmp_path / "one"))
    second = _hashes(folder.write(Walk(study.load(SAMPLES / "messy.toml"), now=NOW).findings, tmp_path / "two"))
    assert first == second
    manifest = json.loads((tmp_path / "one" / "manifest.json").read_text(encoding="utf-8"))
    assert manifest["outputs"] == {name: value for name, value in first.items() if name != "manifest.json"}
    data = (SAMPLES / "messy.csv").read_bytes()
    assert manifest["inputs"][0]["sha256"] == hashlib.sha256(data).hexdigest()
    assert {"report.html", "summary.json", "spots.csv", "problems.csv"} <= set(first)


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


def test_a_failed_run_leaves_the_old_folder_whole(messy, tmp_path, monkeypatch):
    out = tmp_path / "out"
    with folder.replacing(out) as partial:
        (partial / folder.MANIFEST).write_text("old")
    with pytest.raises(RuntimeError), folder.replacing(out) as partial:
        (partial / folder.MANIFEST).write_text("new")
        raise RuntimeError("power cut")
    assert (out / folder.MANIFEST).read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_an_interrupted_run_leaves_nothing(tmp_path):
    with pytest.raises(KeyboardInterrupt), folder.replacing(tmp_path / "out"):
        raise KeyboardInterrupt
    assert not list(tmp_path.iterdir())


def test_files_and_foreign_folders_are_refused(tmp_path):
    (tmp_path / "file").write_text("x")
    (tmp_path / "foreign").mkdir()
    (tmp_path / "foreign" / "x").write_text("x")
    for name in ("file", "foreign"):
        with pytest.raises(OutputError, match=name):
            folder.check(tmp_path / name)
    folder.check(tmp_path / "new")


def test_headlines_stand_twice(messy):
    found = folder.summary_file(messy)
    assert found["counts"]["read"] == sum(found["counts"][k] for k in ("accepted", "rejected", "duplicates"))
    everything, sure = found["all"]["overall"], found["corroborated"]["overall"]
    assert everything["spots"] - sure["spots"] == found["spots_between"] > 0
    assert everything["farthest"]["rx_locator"] == "RE61eg"  # the planted false record
    assert sure["farthest"]["rx_locator"] != "RE61eg"

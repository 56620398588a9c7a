"""The walk as a library: each stage once and on demand, tables in and out, parts that add up, rows never lost."""

from __future__ import annotations

import doctest
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest

import reach
from reach.base import threads
from reach.errors import LocatorError, StudyError
from reach.findings import Note, NoteCode
from reach.walk import Walk

ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def evening(walks) -> Walk:
    return walks["evening"]


def test_the_walk_in_the_help_runs_as_printed(monkeypatch):
    """It finds the demo's corroborated spots, compares the two setups, and says the numbers that stand there."""
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(reach, optionflags=doctest.ELLIPSIS)
    assert found.attempted >= 12 and not found.failed


def test_several_threads_find_what_one_does(walks, monkeypatch):
    """Columns of so few rows are worked on one after the other otherwise."""
    monkeypatch.setattr(threads, "_MANY", 0)
    monkeypatch.setattr(pa, "cpu_count", lambda: 3)
    alone, again = walks["messy"], reach.walk(SAMPLES / "messy.toml", now=NOW)
    assert again.counts == alone.counts
    pd.testing.assert_frame_equal(again.problems, alone.problems)
    pd.testing.assert_frame_equal(again.spots, alone.spots)
    pd.testing.assert_frame_equal(again.tally.cells, alone.tally.cells)


def test_stage_by_stage_is_the_whole_walk(evening):
    study = reach.load_study(SAMPLES / "evening.toml")
    vetted = reach.vet(reach.assign(reach.read(SAMPLES / "evening.csv"), study), station=study.station, now=NOW)
    doubts = reach.suspects(reach.place(vetted.spots))
    counted = reach.tally(doubts.spots)
    assert vetted.counts == evening.counts
    pd.testing.assert_frame_equal(doubts.spots, evening.spots)
    assert counted.equals(evening.tally)
    ours, theirs = (found.to_dict()["corroborated"]["overall"] for found in (reach.measure(counted), evening.reach))
    without_power = {"km_per_watt": None, "median_snr_at_1_w_db": None}
    assert ours == theirs | without_power


def test_each_stage_is_worked_out_once_and_in_order():
    said: list[str] = []
    walk = Walk(reach.load_study(SAMPLES / "evening.toml"), now=NOW, progress=said.append)
    assert not said  # nothing is read before something is asked for
    assert walk.counts.read == 1580
    assert said == ["reading", "vetting"]
    assert walk.findings.comparison is walk.comparison
    assert walk.findings.spots is walk.spots
    assert said == ["reading", "vetting", "placing", "looking for suspects", "counting", "comparing"]


def test_a_walk_prints_its_answer_in_six_lines(evening):
    lines = str(evening).splitlines()
    assert len(lines) == 6 and lines[0] == "One evening, two antennas"
    assert lines[1].startswith("1,580 rows read = 1,580 accepted") and "half of 1,580 reports" in lines[2].lower()
    html = evening._repr_html_()
    assert all(line.split(";")[0] in html for line in lines[:3])


def test_a_notebook_shows_a_title_as_text(tmp_path):
    (tmp_path / "x.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m\n")
    study = reach.Study(files=["x.csv"], folder=tmp_path, title="<b>five</b>", station=reach.Station(locator="IO51es"))
    assert "&lt;b&gt;five&lt;/b&gt;" in Walk(study, now=NOW)._repr_html_()


def test_small_objects_have_small_reprs(evening):
    for each in (evening.findings, evening.reach, evening.tally, evening.comparison):
        assert len(repr(each)) < 4000, type(each)


def test_receivers_are_points_on_the_globe(evening):
    found = evening.receivers
    assert found.crs.to_epsg() == 4326 and len(found) == len(evening.findings.receivers)
    assert found.geometry.x.to_numpy() == pytest.approx(found["rx_lon_deg"].to_numpy())


def test_only_what_is_written_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = reach.walk(SAMPLES / "evening.csv", locator="IO51es", power_w=5.0, now=NOW)
    assert found.counts.accepted == 1580 and not list(tmp_path.iterdir())
    assert found.study.station.power_w == 5


def test_parts_of_an_archive_are_walks_that_add_up(tmp_path, evening):
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    parts = []
    for k in range(3):
        (tmp_path / f"part{k}.csv").write_text("\n".join([text[0], *text[1 + k :: 3]]) + "\n", encoding="utf-8")
        parts.append(reach.walk(tmp_path / f"part{k}.csv", locator="IO51es", now=NOW))
    whole = reach.walk(SAMPLES / "evening.csv", locator="IO51es", now=NOW)
    assert sum((part.counts for part in parts[1:]), parts[0].counts) == whole.counts
    # Trust is judged from all reports of a receiver, so parts are added before it.
    assert reach.merge(reach.tally(part.placed) for part in parts).equals(reach.tally(whole.placed))


def test_sessions_by_file_and_by_time(tmp_path):
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    for name, rows in (("a.csv", text[1:700]), ("b.csv", text[700:])):
        (tmp_path / name).write_text("\n".join([text[0], *rows]) + "\n", encoding="utf-8")
    study = reach.Study(
        files=["a.csv", "b.csv"],
        folder=tmp_path,
        sessions=[
            {"setup": "vertical", "files": ["a.csv"]},
            {"setup": "wire", "name": "late", "start": datetime(2026, 5, 16, 22, tzinfo=UTC)},
        ],
    )
    found = reach.walk(study, now=NOW)
    spots = found.spots
    assert (spots.loc[spots["source"] == "a.csv", "setup"] == "vertical").all()
    late = (spots["source"] == "b.csv") & (spots["time_utc"] >= pd.Timestamp("2026-05-16T22:00Z"))
    assert (spots.loc[late, "setup"] == "wire").all() and (spots.loc[late, "session"] == "late").all()
    outside = int(spots["setup"].isna().sum())
    assert outside == int(((spots["source"] == "b.csv") & ~late).sum()) > 0
    assert Note(NoteCode.OUTSIDE_SESSIONS, {"spots": outside}) in found.findings.notes


def test_no_accepted_row_is_a_result_too(tmp_path):
    (tmp_path / "x.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,ZZ99zz,-12,20m\n")
    found = reach.walk(tmp_path / "x.csv", locator="IO51es", now=NOW)
    found.write(tmp_path / "out")
    assert found.counts.rejected == 1 and (tmp_path / "out" / "report.html").is_file()
    assert "No report was accepted" in str(found)


def test_what_cannot_be_walked_is_a_sentence(tmp_path):
    with pytest.raises(StudyError, match="names no files"):
        _ = reach.walk(reach.Study()).raw
    (tmp_path / "x.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m\n")
    unplaced = reach.walk(tmp_path / "x.csv", now=NOW)
    assert unplaced.counts.accepted == 1 and not unplaced.can_place and unplaced.problems.empty
    with pytest.raises(LocatorError, match="give it with locator="):
        _ = unplaced.spots


def test_a_comparison_heeds_approved_corrections(tmp_path, evening):
    """A receiver whose locator lost a character comes back with the fixes file, as if it had never happened."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8")
    whole = evening.comparison
    heard = whole.by_receiver[0]
    (tmp_path / "evening.csv").write_text(text.replace(heard.rx_locator, heard.rx_locator[:5]), encoding="utf-8")
    (tmp_path / "evening_schedule.csv").write_bytes((SAMPLES / "evening_schedule.csv").read_bytes())
    (tmp_path / "evening.toml").write_bytes((SAMPLES / "evening.toml").read_bytes())
    (tmp_path / "fixes.csv").write_text(
        f"callsign,locator,suggestion,reason,rows,accept\n{heard.rx_call},{heard.rx_locator[:5]},,x,1,{heard.rx_locator}\n"
    )
    study = reach.load_study(tmp_path / "evening.toml")
    assert heard.rx_call not in {one.rx_call for one in Walk(study, now=NOW).compare().by_receiver}
    mended = Walk(study, fixes=tmp_path / "fixes.csv", now=NOW).compare()
    assert mended.to_dict() == whole.to_dict()
    named = study.model_copy(update={"fixes": "fixes.csv"})
    assert Walk(named, now=NOW).compare().to_dict() == whole.to_dict(), "the study's own, relative to it"
    (tmp_path / "none.csv").write_text("callsign,locator,suggestion,accept\n")
    other = Walk(named, fixes=tmp_path / "none.csv", now=NOW)
    assert other.rows.applied.rows == 0, "what is given goes before the study's"
    walk = Walk(study, now=NOW)
    assert walk.rows.applied.rows == 0
    again = walk.mended_by(named)
    assert again.raw is walk.raw, "the files are not read again"
    assert again.compare().to_dict() == whole.to_dict() and again.mended_by(study).rows.applied.rows == 0


def test_where_there_are_too_many_suspects_it_is_said_for_how_many_a_repair_was_looked_for(monkeypatch):
    from reach.base.words import TERMINAL
    from reach.suspects import repair
    from reach.tell.sentences import notes

    monkeypatch.setattr(repair, "MOST_SEARCHED", 3)
    messy = reach.walk(SAMPLES / "messy.toml", now=NOW)
    suspects = len(messy.suspects)
    (told,) = [notes.note(each, TERMINAL) for each in messy.notes if each.code == "many-suspects"]
    assert suspects > 3 and told.startswith(f"{suspects} locators are suspect") and "with the 3 that weigh most" in told

"""The walk as a library: tables in, tables out; parts that add up; rows that are never lost."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest

import reach
from reach import walk
from reach.errors import ReachError, StudyError

SAMPLES = Path(__file__).parents[1] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)


def test_step_by_step_is_the_whole_walk():
    raw = reach.read(str(SAMPLES / "evening.csv"))
    vetted = reach.vet(raw, station=reach.Station(locator="IO51es"), now=NOW)
    spots = reach.place(vetted.spots)
    counted = reach.tally(spots)
    by_hand = reach.summary(counted, reach.paths(spots))
    walked = reach.walk(reach.Study(files=[str(SAMPLES / "evening.csv")]), now=NOW)
    assert by_hand["all"]["overall"]["median_km"] == walked.summary["all"]["overall"]["median_km"]
    assert vetted.counts == walked.counts
    assert walked.tally.equals(counted)


def test_run_without_a_folder_writes_nothing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    found = reach.run(SAMPLES / "evening.csv", locator="IO51es", power_w=5.0, now=NOW)
    assert found.counts.accepted == 1580 and not list(tmp_path.iterdir())
    assert found.study.station.power_w == 5


def test_files_are_counted_in_parts(tmp_path):
    """Three parts of a file, counted by threads, are the file; so with any executor, a cluster's too."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    for k in range(3):
        (tmp_path / f"part{k}.csv").write_text("\n".join([text[0], *text[1 + k :: 3]]) + "\n", encoding="utf-8")
    study = reach.Study(files=["part*.csv"], folder=tmp_path)
    whole = reach.walk(reach.Study(files=[str(SAMPLES / "evening.csv")]), now=NOW)
    with ThreadPoolExecutor(2) as executor:
        counted, counts = walk.tally_files(study, executor=executor, now=NOW)
    assert counted.equals(whole.tally) and counts == whole.counts
    assert walk.tally_files(study, now=NOW)[0].equals(counted)


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
    assert str(outside) in found.notes[0]


def test_no_accepted_row_is_a_result_too(tmp_path):
    (tmp_path / "x.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,ZZ99zz,-12,20m\n")
    found = reach.run(tmp_path / "x.csv", locator="IO51es", out=tmp_path / "out", now=NOW)
    assert found.counts.rejected == 1 and (tmp_path / "out" / "report.html").is_file()


def test_what_cannot_be_walked_is_a_sentence(tmp_path):
    with pytest.raises(StudyError, match="names no files"):
        reach.walk(reach.Study())
    (tmp_path / "x.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m\n")
    with pytest.raises(ReachError, match="--locator"):
        reach.walk(reach.Study(files=[str(tmp_path / "x.csv")]), now=NOW)


def test_places_that_nothing_confirms_are_no_places():
    """Distance, bearing and light go, everything else and every other row stays as it was."""
    spots = reach.walk(reach.load_study(SAMPLES / "evening.toml"), now=NOW).spots
    calls = spots["rx_call"].cat.categories[:2]
    trust = spots[["rx_call", "rx_locator"]].drop_duplicates().assign(trust="corroborated")
    trust.loc[trust["rx_call"] == calls[0], "trust"] = "suspect"
    trust.loc[trust["rx_call"] == calls[1], "trust"] = "unconfirmed"
    found = walk.trusted_places(spots, trust)
    of = spots["rx_call"].isin(calls).to_numpy()
    placed = ["distance_km", "bearing_deg", "mid_day_night"]
    assert of.any() and found.loc[of, placed].isna().all(axis=None)
    pd.testing.assert_frame_equal(found[~of], spots[~of])
    pd.testing.assert_frame_equal(found.drop(columns=placed), spots.drop(columns=placed))


def test_a_comparison_heeds_approved_corrections(tmp_path):
    """A receiver whose locator lost a character comes back with the fixes file, as if it had never happened."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8")
    base = reach.load_study(SAMPLES / "evening.toml")
    whole = walk.compared(base, now=NOW)
    heard = whole.by_receiver[0]
    (tmp_path / "evening.csv").write_text(text.replace(heard.rx_locator, heard.rx_locator[:5]), encoding="utf-8")
    (tmp_path / "evening_schedule.csv").write_bytes((SAMPLES / "evening_schedule.csv").read_bytes())
    (tmp_path / "evening.toml").write_bytes((SAMPLES / "evening.toml").read_bytes())
    (tmp_path / "fixes.csv").write_text(
        f"callsign,locator,suggestion,reason,rows,accept\n{heard.rx_call},{heard.rx_locator[:5]},,x,1,{heard.rx_locator}\n"
    )
    study = reach.load_study(tmp_path / "evening.toml")
    assert heard.rx_call not in {one.rx_call for one in walk.compared(study, now=NOW).by_receiver}
    mended = walk.compared(study, fixes=tmp_path / "fixes.csv", now=NOW)
    assert mended.to_dict() == whole.to_dict()

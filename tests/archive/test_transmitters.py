"""A collection by transmitter: the figures of each are those of its own report, and one is read at a time."""

from __future__ import annotations

import csv
import json
from itertools import product
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from click.testing import CliRunner

from reach import study as studies
from reach.archive import collection, ledger, transmitters
from reach.cli import reach
from reach.errors import InputError
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
CALLS = [f"{prefix}{digit}{suffix}" for prefix, digit, suffix in product(("DL", "SM", "OK"), "4567", ("QTB", "QUC"))]


def run(*args: str) -> str:
    return CliRunner().invoke(reach, list(args), catch_exceptions=False, standalone_mode=False).output


def of_many(path: Path, calls: list[str] = CALLS) -> Path:
    """The shared evening once more, its rows dealt out to many transmitters."""
    with (SAMPLES / "shared.csv").open(encoding="utf-8", newline="") as file:
        head, *rows = csv.reader(file)
    at = head.index("transmitter")
    mine = [row for row in rows if row[at].startswith("EI4QTB")]
    for k, row in enumerate(mine):
        row[at] = calls[k % len(calls)]
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *mine])
    return path


@pytest.fixture(scope="module")
def home(tmp_path_factory) -> Path:
    """Two stations, and an export of one that overlaps."""
    folder = tmp_path_factory.mktemp("c")
    lines = (SAMPLES / "shared.csv").read_text(encoding="utf-8").splitlines()
    (folder / "later.csv").write_text("\n".join([lines[0], *lines[300:]]) + "\n", encoding="utf-8")
    names = (SAMPLES / "shared.csv", folder / "later.csv", SAMPLES / "evening.csv")
    run("add", *map(str, names), "--to", str(folder / "c"), "--callsign", "EI4QTB/P", "--locator", "IO51es")
    return folder / "c"


def test_the_figures_of_a_station_are_those_of_its_report(home):
    found = transmitters.merged([list(transmitters.summaries(home, transmitters.stations(home)))])
    assert [each.call for each in found] == ["EI4QTB", "EI9QUC"]
    for each in found:
        walk = Walk(studies.check({"files": [str(home)], "station": {"callsign": each.call}}))
        every, sure = walk.reach.all.overall, walk.reach.headline
        assert walk.counts.duplicates > 0 and sure.reports > 100
        assert (each.reports, each.receivers) == (every.reports, every.receivers)
        assert each.median_km == sure.median_km.value
        assert (each.farthest_km, each.farthest_call) == (sure.farthest.distance_km, sure.farthest.call)
        assert (each.first, each.last) == (walk.reach.first_utc.date(), walk.reach.last_utc.date())


def test_the_list_says_them(home):
    said = run("list", str(home), "--summary")
    own, other = json.loads(run("list", str(home), "--summary", "--json"))["stations"]
    assert (own["call"], other["call"]) == ("EI4QTB", "EI9QUC")
    assert own["first"] == "2026-05-09" and own["last"] == "2026-05-16" and own["reports"] > other["reports"]
    assert f"{own['reports']:,}" in said and own["farthest_call"] in said and "half from beyond" in said


def test_one_station_is_read_at_a_time(home, monkeypatch):
    load, read = collection.load, []
    monkeypatch.setattr(
        collection,
        "load",
        lambda folder, calls, *more, **days: read.append(calls) or load(folder, calls, *more, **days),
    )
    going = transmitters.summaries(home, transmitters.stations(home))
    next(going)
    assert read == [("EI4QTB",)]
    next(going)
    assert read == [("EI4QTB",), ("EI9QUC",)]


def test_without_a_locator_reports_are_counted_and_nothing_is_measured(tmp_path):
    rows = ["time,callsign,locator,snr,band,transmitter"]
    rows += [f"2026-05-16 20:{k:02},DL2QTC,JN58td,-{k + 5},20m,EI4QTB" for k in range(6)]
    (tmp_path / "a.csv").write_text("\n".join(rows) + "\n")
    run("add", str(tmp_path / "a.csv"), "--to", str(tmp_path / "c"))
    (one,) = transmitters.summaries(tmp_path / "c", transmitters.stations(tmp_path / "c"))
    assert (one.call, one.reports, one.receivers) == ("EI4QTB", 6, 1)
    assert (one.median_km, one.farthest_km, one.farthest_call) == (None, None, None)
    assert "EI4QTB" in run("list", str(tmp_path / "c"), "--summary")


def test_many_transmitters_of_a_file_each_keep_their_rows(tmp_path):
    path = of_many(tmp_path / "many.csv")
    run("add", str(path), "--to", str(tmp_path / "c"), "--callsign", CALLS[0])
    (entry,) = ledger.read(tmp_path / "c").entries
    assert (
        set(entry.stations) == set(CALLS) and sum(share.rows for share in entry.stations.values()) == entry.rows == 538
    )
    assert [entry.stations[call].rows for call in CALLS] == [23] * 10 + [22] * 14
    for call in CALLS:
        held = collection.load(tmp_path / "c", [call], "sent").spots
        assert len(held) == entry.stations[call].sound and set(held["tx_call"]) == {call}
    for part in (tmp_path / "c").rglob("spots/*/*.parquet"):
        words = pq.read_table(part, read_dictionary=["rx_call", "tx_call"])
        for name in ("rx_call", "tx_call"):  # and no part the vocabulary of the whole file
            assert set(words[name].combine_chunks().dictionary.to_pylist()) == set(words[name].to_pylist())


def test_what_is_no_collection_has_no_stations(tmp_path):
    with pytest.raises(InputError, match="is no collection"):
        transmitters.stations(tmp_path)
    told = CliRunner().invoke(reach, ["list", str(tmp_path), "--cluster", "local"])
    assert told.exit_code == 2 and "goes with --summary" in told.output

"""The benchmark measures what it says: on a small file, against the same counts row by row. No seconds are asserted."""

import csv
import importlib.util
from collections import Counter

import pytest

from reach import study
from reach.measure.tally import tally
from reach.place.geometry import place
from reach.rows import Rows
from tests.benchmarks import big_export, throughput

ROWS = 20_000
PEERS = [name for name in ("duckdb", "polars") if importlib.util.find_spec(name)]


@pytest.fixture(scope="module")
def export(tmp_path_factory):
    path = tmp_path_factory.mktemp("throughput") / "spots.csv"
    big_export.write(path, ROWS)
    return path


def test_the_walk_counts_what_a_loop_counts(export):
    with export.open(newline="", encoding="ascii") as file:
        rows = list(csv.DictReader(file))
    once = {tuple(row.values()) for row in rows}
    loop = Counter(
        (call, locator, {"7": "40m", "10": "30m", "14": "20m"}[mhz.partition(".")[0]], antenna, time[:13], int(snr))
        for time, call, locator, snr, mhz, _, _, _, antenna in once
    )
    counted = tally(place(Rows(study.load(export.with_suffix(".toml"))).vetted.spots)).cells
    ours = {
        (row.rx_call, row.rx_locator, row.band, row.setup, f"{row.hour_utc:%Y-%m-%dT%H}", row.snr_db): row.reports
        for row in counted.itertuples()
    }
    assert ours == loop


def test_what_is_measured_reads_the_whole_file(export):
    walked = throughput.walk(export)
    assert throughput.bare(export)["rows"] == walked["rows"] == ROWS
    for peer in PEERS:
        assert throughput.MEASURED[peer](export)["cells"] == walked["cells"]

"""The benchmark measures what it says: on a small file, against the same counts row by row. No seconds are asserted."""

import csv
from collections import Counter

from reach.measure.tally import tally
from reach.place.geometry import place
from reach.read.table import read
from reach.vet.rules import vet
from tests.benchmarks import throughput


def test_the_walk_counts_what_a_loop_counts(tmp_path):
    path = tmp_path / "spots.csv"
    throughput.generate(path, 20_000)
    with path.open(newline="", encoding="ascii") as file:
        rows = list(csv.DictReader(file))
    sound = {tuple(row.values()) for row in rows if len(row["locator"]) == 6}
    loop = Counter(
        (call, locator, {"7": "40m", "10": "30m", "14": "20m"}[mhz.partition(".")[0]], time[:13], int(snr))
        for time, call, locator, snr, mhz, *_ in sound
    )
    counted = tally(place(vet(read(path)).spots)).cells
    ours = {
        (row.rx_call, row.rx_locator, row.band, f"{row.hour_utc:%Y-%m-%d %H}", row.snr_db): row.reports
        for row in counted.itertuples()
    }
    assert ours == loop


def test_what_is_measured_reads_the_whole_file(tmp_path):
    path = tmp_path / "spots.csv"
    throughput.generate(path, 500)
    rows = path.read_text(encoding="ascii").count("\n") - 1
    assert throughput.bare(str(path))["rows"] == throughput.walk(str(path))["rows"] == rows > 400

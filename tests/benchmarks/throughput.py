"""How fast are two million spots read, assigned, vetted, placed and counted, and how much memory does that take?

    python -m tests.benchmarks.throughput                 all of it, 2,000,000 rows
    python -m tests.benchmarks.throughput --rows 200000   smaller
    python -m tests.benchmarks.throughput --csv big.csv   a file of tests.benchmarks.big_export that is there already

Held against peers that check nothing: (a) a bare pyarrow.csv.read_csv of the same file, (b) a statement of DuckDB and
(c) a query of polars, streaming, which read it and count by the keys of the tally; these two need
`pip install -e '.[bench]'`. And against (d) the script that most people would write: row by row with `map` over maidenhead
and Geod, measured on the first rows and scaled up. Aims: at most 1.5 times the faster of (b) and (c), at least 20 times
faster than (d), peak memory below 1 GB.

Every measurement runs in a process of its own, once on a small file, so that modules and the map of countries are loaded, and
then on the large one, on all cores. They take turns, five times; times are medians, a ratio is the median of those of one turn,
memory is the largest. On a busy machine seconds of CPU tell more than those of the clock, so both are printed. Exit code 1 where
an aim is missed.
"""

from __future__ import annotations

import argparse
import importlib.util
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

ROWS, SMALL = 2_000_000, 100
SAMPLE = 20_000  # rows of the script in (d)
RUNS = 5
MOST_TIMES_PEER, LEAST_TIMES_SCRIPT, MOST_MEMORY_MB = 1.5, 20.0, 1000.0

NAMES = {
    "bare": "(a) bare pyarrow.csv.read_csv",
    "duckdb": "(b) DuckDB, unchecked",
    "polars": "(c) polars, unchecked",
    "walk": "read, assign, vet, place, tally",
}
STEPS = ("read", "assign", "vet", "place", "tally")
KEYS = ("transmitter", "transmitter_locator", "callsign", "locator", "antenna", "snr_db")  # beside band and hour
Run = dict[str, float]


# ------------------------------------------------------------------------------------------- what is measured, and how


def bare(path: Path) -> Run:
    """(a)"""
    from pyarrow import csv

    return {"rows": csv.read_csv(path).num_rows}


def duckdb(path: Path) -> Run:
    """(b)"""
    import duckdb

    counted = duckdb.sql(
        f"select {', '.join(KEYS)}, frequency_mhz::int as mhz, date_trunc('hour', time_utc) as hour_utc, "
        "count(*) as reports, min(time_utc) as first_utc, max(time_utc) as last_utc "
        f"from read_csv('{path}') group by all"
    ).to_arrow_table()
    return {"cells": counted.num_rows}


def polars(path: Path) -> Run:
    """(c)"""
    import polars as pl

    time_utc = pl.col("time_utc")
    keys = (*KEYS, pl.col("frequency_mhz").cast(pl.Int32), time_utc.dt.truncate("1h").alias("hour_utc"))
    asked = pl.scan_csv(path, try_parse_dates=True).group_by(keys)
    counted = asked.agg(pl.len(), time_utc.min().alias("first_utc"), time_utc.max().alias("last_utc"))
    return {"cells": counted.collect(engine="streaming").height}


def walk(path: Path) -> Run:
    """Ours, by step, as a command takes them."""
    from reach import study
    from reach.measure.tally import tally
    from reach.place.geometry import place
    from reach.rows import Rows

    found: Run = {}

    @contextmanager
    def step(name: str) -> Iterator[None]:
        start = time.perf_counter()
        yield
        found[name] = time.perf_counter() - start

    rows = Rows(study.load(path.with_suffix(".toml")))
    with step("read"):
        assert len(rows.raw)
    with step("assign"):
        assert len(rows.assigned)
    with step("vet"):
        vetted = rows.vetted
    with step("place"):
        spots = place(vetted.spots)
    with step("tally"):
        counted = tally(spots)
    assert counted.reports == vetted.counts.accepted
    return {**found, "rows": rows.counts.read, "cells": len(counted.cells)}


def script(path: Path) -> Run:
    """(d), on the first rows."""
    from collections import Counter

    import maidenhead
    import pandas as pd
    from pyproj import Geod

    table = pd.read_csv(path, nrows=SAMPLE)
    table["time_utc"] = pd.to_datetime(table["time_utc"], utc=True)
    table = table[table["locator"].map(lambda text: len(text) == 6)].drop_duplicates()
    geod = Geod(ellps="WGS84")
    lat, lon = maidenhead.to_location(table["transmitter_locator"].iloc[0], center=True)
    places = [*map(lambda text: maidenhead.to_location(text, center=True), table["locator"])]  # noqa: C417
    paths = [*map(lambda at: geod.inv(lon, lat, at[1], at[0]), places)]  # noqa: C417
    table["distance_km"] = [path[2] / 1000 for path in paths]
    table["bearing_deg"] = [path[0] % 360 for path in paths]
    counts: Counter[tuple[object, ...]] = Counter()
    for _, row in table.iterrows():
        counts[
            row["callsign"], row["locator"], int(row["frequency_mhz"]), row["time_utc"].floor("h"), row["snr_db"]
        ] += 1
    return {"rows": min(SAMPLE, int(counts.total()))}


MEASURED: dict[str, Callable[[Path], Run]] = {
    "bare": bare, "duckdb": duckdb, "polars": polars, "walk": walk, "script": script,
}  # fmt: skip


def timed(what: str, path: Path) -> Run:
    """What one run found, and its seconds by the clock and of CPU."""
    clock, cpu = time.perf_counter(), time.process_time()
    found = MEASURED[what](path)
    return {**found, "clock_s": time.perf_counter() - clock, "cpu_s": time.process_time() - cpu}


def measure(what: str, path: Path, small: Path) -> Run:
    """One run in a process of its own; `loading_s` is what the small file took, `memory_mb` the peak."""
    command = [sys.executable, "-m", __spec__.name, "--measure", what, "--csv", str(path), "--small", str(small)]
    found: Run = json.loads(subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True).stdout)
    return found


# --------------------------------------------------------------------------------------------------- what it comes to


def report(path: Path) -> bool:
    """Measure and print; whether all aims are met."""
    from tests.benchmarks import big_export  # not above: it imports numpy, which `memory.give_back` comes before

    peers = [name for name in ("duckdb", "polars") if importlib.util.find_spec(name)]
    with tempfile.TemporaryDirectory() as folder:
        small = Path(folder) / "small.csv"
        big_export.write(small, SMALL)
        turns = [{what: measure(what, path, small) for what in ("bare", *peers, "walk")} for _ in range(RUNS)]
        by_hand = measure("script", path, small)
    ours = [turn["walk"] for turn in turns]
    rows = ours[0]["rows"]
    print(f"{rows:,.0f} rows, {path.stat().st_size / 1e6:.0f} MB, {ours[0]['cells']:,.0f} cells of the tally, ", end="")
    print(f"{os.cpu_count()} processors; medians of {RUNS}\n")
    print(f"{'':34}{'seconds':>9}{'of CPU':>9}{'MB':>8}")
    for what in turns[0]:
        _line(NAMES[what], [turn[what] for turn in turns])
    for step in STEPS:
        print(f"    {step:30}{_median(ours, step):9.2f}")
    print(f"    {'before: loading, 100 rows':30}{_median(ours, 'loading_s'):9.2f}")
    by_hand_s = by_hand["cpu_s"] * rows / by_hand["rows"]
    print(f"{f'(d) script, scaled from {SAMPLE:,} rows':34}{'':9}{by_hand_s:9.1f}\n")
    for what in turns[0]:
        if what != "walk":
            clock, cpu = (_times(turns, [what], name) for name in ("clock_s", "cpu_s"))
            print(f"{clock:8.2f} times {NAMES[what]}, {cpu:.2f} by CPU")
    memory_mb, times_script = max(run["memory_mb"] for run in ours), by_hand_s / _median(ours, "cpu_s")
    aims = [
        (times_script, "times faster than (d), by CPU", "at least", LEAST_TIMES_SCRIPT),
        (-memory_mb, "MB at the peak", "at most", -MOST_MEMORY_MB),
    ]
    if peers:
        aims.append((-_times(turns, peers, "clock_s"), "times the faster peer", "at most", -MOST_TIMES_PEER))
    else:
        print("neither DuckDB nor polars is here: pip install -e '.[bench]'")
    for value, name, word, aim in aims:
        print(f"{abs(value):8.2f} {name:32} aim: {word} {abs(aim):6g} {'met' if value >= aim else 'MISSED'}")
    return bool(peers) and all(value >= aim for value, _, _, aim in aims)


def _line(name: str, runs: Sequence[Run]) -> None:
    memory_mb = max(run["memory_mb"] for run in runs)
    print(f"{name:34}{_median(runs, 'clock_s'):9.2f}{_median(runs, 'cpu_s'):9.2f}{memory_mb:8.0f}")


def _median(runs: Sequence[Run], what: str) -> float:
    return statistics.median(run[what] for run in runs)


def _times(turns: Sequence[dict[str, Run]], peers: Sequence[str], what: str) -> float:
    """How many times as long as the fastest of the peers we take, of each turn, in the middle."""
    return statistics.median(turn["walk"][what] / min(turn[peer][what] for peer in peers) for turn in turns)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--csv", type=Path, help="the file, with its study beside it")
    parser.add_argument("--small", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--measure", choices=MEASURED, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        if given.measure == "walk":
            from reach.base import memory

            memory.give_back()  # as a command does
        loading_s = timed(given.measure, given.small)["clock_s"]
        found = timed(given.measure, given.csv)
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps({**found, "loading_s": loading_s, "memory_mb": memory_mb}))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = given.csv or Path(folder) / "spots.csv"
        if given.csv is None:
            from tests.benchmarks import big_export

            big_export.write(path, given.rows)
        sys.exit(0 if report(path) else 1)


if __name__ == "__main__":
    main()

"""How fast are read, vet, place and tally on two million spots, and how much memory do they take?

    python tests/benchmarks/throughput.py                 all of it, 2,000,000 rows
    python tests/benchmarks/throughput.py --rows 200000   smaller
    python tests/benchmarks/throughput.py --csv big.csv   keep the generated file, or use one that is there

Held against (a) a bare pyarrow.csv.read_csv of the same file, which finds types by itself and checks nothing, and (b)
the script that most people would write: row by row with `map` over maidenhead and Geod, measured on the first rows and
scaled up. Aims: at most 4 times (a), at least 20 times faster than (b), peak memory below 1 GB.

Every measurement runs in a process of its own, once on a small file, so that modules and the map of countries are
loaded, and then on the large one. (a) and ours take turns; times are the best of seven, memory is the largest. What
loading costs is printed too. Exit code 1 where an aim is missed. Made-up data: callsigns of no one, places anywhere.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROWS = 2_000_000
RECEIVERS = 4_000
SAMPLE = 20_000  # rows of the script in (b)
RUNS = 7
MOST_TIMES_ARROW, LEAST_TIMES_SCRIPT, MOST_MEMORY_MB = 4.0, 20.0, 1000.0

BAND_MHZ = (7.0283, 10.1223, 14.0634)
SLOTS = 31 * 720  # of two minutes in May
STATION = "EI4QTB/P,IO51es,5"
HOME = "IO51es"
HEADER = (
    "time_utc,callsign,locator,snr_db,frequency_mhz,mode,transmitter,transmitter_locator,power_w,distance_km,bearing\n"
)
STEPS = ("read", "vet", "place", "tally")
Run = dict[str, float]


# ---------------------------------------------------------------------------------------------------------- the file


def generate(path: Path, rows: int) -> None:
    """A month of two-minute slots heard by a few thousand receivers of unequal zeal, as an export writes it.

    One row in a thousand has something wrong with it; one in five hundred was exported twice.
    """
    rng = np.random.default_rng(20260501)
    calls, locators = _receivers(rng)
    who, when = _receptions(rng, rows)
    start = np.datetime64("2026-05-01T00:00:00")
    stamps = [str(start + np.timedelta64(120 * slot, "s")).replace("T", " ") for slot in range(SLOTS)]
    offset_hz = rng.integers(0, 200, len(who))
    snr = np.clip(np.round(rng.normal(-17, 6, RECEIVERS)[who] + rng.normal(0, 3, len(who))), -33, 15).astype(int)
    wrong, again = rng.random(len(who)) < 0.001, rng.random(len(who)) < 0.002
    km = rng.integers(100, 18000, RECEIVERS)
    with path.open("w", encoding="ascii", newline="") as out:
        out.write(HEADER)
        for k, (receiver, slot) in enumerate(zip(who.tolist(), when.tolist(), strict=True)):
            name = locators[receiver][:5] if wrong[k] else locators[receiver]
            mhz = BAND_MHZ[slot % 3] + offset_hz[k] * 1e-6
            heard = f"{stamps[slot]},{calls[receiver]},{name},{snr[k]},{mhz:.6f},TEST"
            line = f"{heard},{STATION},{km[receiver]},{km[receiver] % 360}\n"
            out.write(line + line if again[k] else line)


def _receptions(rng: np.random.Generator, rows: int) -> tuple[np.ndarray, np.ndarray]:
    """Who reports in which slot, in order of time: nobody twice in one slot, most while the band is open to them.

    Each receiver hears a band in some hours of the day; in these, some report every other slot and most now and then.
    """
    opens, lasts = rng.integers(0, 24, (3, RECEIVERS)), rng.integers(2, 8, (3, RECEIVERS))
    zeal = rng.pareto(1.2, RECEIVERS) + 0.05
    for _ in range(20):  # nobody can report in more than all slots: what they cannot, the others do
        zeal = np.minimum(zeal * rows / SLOTS / (zeal * lasts.mean(axis=0) / 24).sum(), 0.9)
    heard = []
    for slot in range(SLOTS):
        open_now = (slot // 30 - opens[slot % 3]) % 24 < lasts[slot % 3]
        heard.append(np.flatnonzero(open_now & (rng.random(RECEIVERS) < zeal)))
    when = np.repeat(np.arange(SLOTS), [len(part) for part in heard])
    return np.concatenate(heard)[:rows], when[:rows]


def _receivers(rng: np.random.Generator) -> tuple[list[str], list[str]]:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWX"
    prefixes = ("DL", "G", "K", "F", "JA", "VK", "PA", "OH", "SM", "I", "EA", "ZS")
    calls = [f"{p}{d}Q{a}{b}" for p in prefixes for d in "123456789" for a in "RSTU" for b in letters]
    fields = ("IO", "JN", "JO", "FN", "EM", "EN", "KP", "PM", "QF", "KO")
    field, square, x, y = (rng.integers(0, most, RECEIVERS).tolist() for most in (len(fields), 100, 24, 24))
    locators = [
        f"{fields[f]}{s:02}{letters[i].lower()}{letters[j].lower()}"
        for f, s, i, j in zip(field, square, x, y, strict=True)
    ]
    return [calls[k] for k in rng.choice(len(calls), RECEIVERS, replace=False)], locators


# ------------------------------------------------------------------------------------------- what is measured, and how


def bare(path: str) -> Run:
    """(a)"""
    start = time.perf_counter()
    from pyarrow import csv

    table = csv.read_csv(path)
    return {"total": time.perf_counter() - start, "rows": table.num_rows}


def walk(path: str) -> Run:
    """read, vet, place, tally."""
    first = time.perf_counter()
    from reach.measure.tally import tally
    from reach.place.geometry import place
    from reach.read.table import read
    from reach.vet.rules import vet

    marks = [time.perf_counter()]
    raw = read(path)
    marks.append(time.perf_counter())
    vetted = vet(raw)
    marks.append(time.perf_counter())
    spots = place(vetted.spots)
    marks.append(time.perf_counter())
    counted = tally(spots)
    marks.append(time.perf_counter())
    assert counted.reports == vetted.counts.accepted
    steps = dict(zip(STEPS, np.diff(marks).tolist(), strict=True))
    return {**steps, "total": marks[-1] - first, "rows": vetted.counts.read, "cells": len(counted.cells)}


def script(path: str) -> Run:
    """(b), on the first rows."""
    from collections import Counter

    import maidenhead
    import pandas as pd
    from pyproj import Geod

    start = time.perf_counter()
    table = pd.read_csv(path, nrows=SAMPLE)
    table["time_utc"] = pd.to_datetime(table["time_utc"], utc=True)
    table = table[table["locator"].map(lambda text: len(text) == 6)].drop_duplicates()
    geod = Geod(ellps="WGS84")
    lat, lon = maidenhead.to_location(HOME, center=True)
    places = [*map(lambda text: maidenhead.to_location(text, center=True), table["locator"])]  # noqa: C417
    paths = [*map(lambda at: geod.inv(lon, lat, at[1], at[0]), places)]  # noqa: C417
    table["distance_km"] = [path[2] / 1000 for path in paths]
    table["bearing_deg"] = [path[0] % 360 for path in paths]
    counts: Counter[tuple[object, ...]] = Counter()
    for _, row in table.iterrows():
        counts[
            row["callsign"], row["locator"], int(row["frequency_mhz"]), row["time_utc"].floor("h"), row["snr_db"]
        ] += 1
    return {"total": time.perf_counter() - start, "rows": SAMPLE}


MEASURED: dict[str, Callable[[str], Run]] = {"bare": bare, "walk": walk, "script": script}


def measure(what: str, path: Path, small: Path | None = None) -> Run:
    """One run in a process of its own; `loading_s` is what the small file took, `memory_mb` the peak."""
    command = [sys.executable, __file__, "--measure", what, "--csv", str(path)]
    command += ["--small", str(small)] if small else []
    environment = {**os.environ, "OMP_NUM_THREADS": "1"}
    done = subprocess.run(command, stdout=subprocess.PIPE, text=True, check=True, env=environment)
    found: Run = json.loads(done.stdout)
    return found


def best(runs: list[Run]) -> Run:
    return {**min(runs, key=lambda run: run["total"]), "memory_mb": max(run["memory_mb"] for run in runs)}


def report(path: Path) -> bool:
    """Measure and print; whether all aims are met."""
    with tempfile.TemporaryDirectory() as folder:
        small = Path(folder) / "small.csv"
        generate(small, 100)
        turns = [(measure("bare", path, small), measure("walk", path, small)) for _ in range(RUNS)]
    a, ours = best([turn[0] for turn in turns]), best([turn[1] for turn in turns])
    b = measure("script", path)
    b_s = b["total"] * ours["rows"] / b["rows"]
    size = f"{path.stat().st_size / 1e6:.0f} MB, {ours['cells']:,.0f} cells of the tally"
    print(f"{ours['rows']:,.0f} rows, {size}, {os.cpu_count()} processors\n")
    print(f"{'':34}{'seconds':>9}{'rows/s':>12}{'MB':>8}")
    for name, run in (("(a) bare pyarrow.csv.read_csv", a), ("read + vet + place + tally", ours)):
        print(f"{name:34}{run['total']:9.2f}{run['rows'] / run['total']:12,.0f}{run['memory_mb']:8.0f}")
    for step in STEPS:
        print(f"    {step:30}{ours[step]:9.2f}")
    print(f"    {'before: loading, 100 rows':30}{ours['loading_s']:9.2f}")
    print(f"{f'(b) script, scaled from {SAMPLE:,} rows':34}{b_s:9.1f}{ours['rows'] / b_s:12,.0f}\n")
    return _aims(ours["total"] / a["total"], b_s / ours["total"], ours["memory_mb"])


def _aims(times_arrow: float, times_script: float, memory_mb: float) -> bool:
    aims = (
        (times_arrow, "times (a)", f"at most {MOST_TIMES_ARROW:g}", times_arrow <= MOST_TIMES_ARROW),
        (times_script, "times faster than (b)", f"at least {LEAST_TIMES_SCRIPT:g}", times_script >= LEAST_TIMES_SCRIPT),
        (memory_mb, "MB at the peak", f"at most {MOST_MEMORY_MB:g}", memory_mb <= MOST_MEMORY_MB),
    )
    for value, name, aim, met in aims:
        print(f"{value:8.1f} {name:24} aim: {aim:14} {'met' if met else 'MISSED'}")
    return all(met for *_, met in aims)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--csv", type=Path, help="where to keep the file, or where it is already")
    parser.add_argument("--small", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--measure", choices=MEASURED, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        run = MEASURED[given.measure]
        loading = run(str(given.small))["total"] if given.small else 0.0
        found = run(str(given.csv))
        memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(json.dumps({**found, "loading_s": loading, "memory_mb": memory_mb}))
        return
    with tempfile.TemporaryDirectory() as folder:
        path = given.csv or Path(folder) / "spots.csv"
        if not path.exists():
            generate(path, given.rows)
        sys.exit(0 if report(path) else 1)


if __name__ == "__main__":
    main()

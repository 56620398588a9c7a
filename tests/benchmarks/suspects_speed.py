"""How long does the search for suspects take on two million spots, against reading them?

    python -m tests.benchmarks.suspects_speed [--rows 2000000]

The spots are those of `tests/vet/slip_simulator.py` (4,000 receivers in real towns, one slip in two hundred), written out
again and again at other minutes until there are enough; reading is that of as many rows of `throughput.py`. Medians of five
after a warm-up. Aim: at most twice the time of reading. Exit code 1 where it is missed.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path

import pandas as pd

from reach.place.world import World
from reach.read.table import read
from reach.vet import suspects
from tests.benchmarks import throughput
from tests.vet import slip_simulator

RUNS = 5
RECEIVERS = 4_000
MOST_TIMES_READING = 2.0


def spots(rows: int) -> pd.DataFrame:
    """The simulator's spots, as many times as it takes, seventeen minutes later each time."""
    made = slip_simulator.simulate(RECEIVERS, seed=1).spots
    times = -(-rows // len(made))
    later = [made.assign(time_utc=made["time_utc"] + pd.Timedelta(minutes=17 * k)) for k in range(times)]
    return pd.concat(later, ignore_index=True)[:rows]


def seconds(work: object, *arguments: object) -> float:
    """How long one call takes."""
    begin = time.perf_counter()
    work(*arguments)  # type: ignore[operator]
    return time.perf_counter() - begin


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=throughput.ROWS)
    rows = parser.parse_args().rows
    world = World()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "spots.csv")
        throughput.generate(path, rows)
        table = spots(rows)
        suspects.find(table, world)
        runs = [(seconds(read, str(path)), seconds(suspects.find, table, world)) for _ in range(RUNS)]
    reading, search = (statistics.median(run[k] for run in runs) for k in (0, 1))
    ratio = search / reading
    met = "met" if ratio <= MOST_TIMES_READING else "MISSED"
    print(f"{rows:,} rows: reading {reading:.2f} s, suspects {search:.2f} s")
    print(f"{ratio:.2f} times reading, aim: at most {MOST_TIMES_READING:g}: {met}")
    sys.exit(met != "met")


if __name__ == "__main__":
    main()

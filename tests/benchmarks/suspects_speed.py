"""How long are two million rows vetted with all evidence, against reading them?

    python -m tests.benchmarks.suspects_speed [--rows 2000000] [--runs 5]

The rows are those of `tests/suspects/error_simulator.py` (4,000 receivers in real towns, one in fifty with an error), written out as
an export again and again, three days later each time, until there are enough. Vetting is the rules for each row and the search for
suspects; placing, which every walk does anyway, stands apart. Medians after a warm-up. Aim: at most twice the time of
reading. Exit code 1 where it is missed.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import csv

from reach.place.geometry import place
from reach.read.table import read
from reach.suspects import find
from reach.vet.rules import vet
from tests.suspects import error_simulator

RECEIVERS = 4_000
MOST_TIMES_READING = 2.0
BAND_MHZ = {"40m": 7.0283, "30m": 10.1223, "20m": 14.0634}


def write(path: Path, rows: int) -> None:
    """The simulator's spots as an export, as many times as it takes, each time after all before it: nothing twice."""
    made = error_simulator.simulate(RECEIVERS, seed=1).spots
    times = -(-rows // len(made))
    table = pd.concat([made.assign(time_utc=made["time_utc"] + pd.Timedelta(days=3 * k)) for k in range(times)])
    table = table.iloc[:rows]
    mhz = table["band"].astype(str).map(BAND_MHZ) + np.random.default_rng(1).integers(0, 200, rows) * 1e-6
    texts = {
        "time_utc": table["time_utc"].dt.strftime("%Y-%m-%d %H:%M:%S"),
        "callsign": table["rx_call"].astype(str),
        "locator": table["rx_locator"].astype(str),
        "snr_db": table["snr_db"].astype("int64"),
        "frequency_mhz": mhz.round(6),
        "mode": "TEST",
        "transmitter": "EI4QTB/P",
        "transmitter_locator": error_simulator.HOME,
        "power_w": 5,
    }
    csv.write_csv(pa.Table.from_pandas(pd.DataFrame(texts), preserve_index=False), path)


def timed(work: Callable[..., Any], *arguments: Any) -> tuple[float, Any]:
    """How long one call takes, and what it returns."""
    begin = time.perf_counter()
    result = work(*arguments)
    return time.perf_counter() - begin, result


def run(path: Path) -> dict[str, float]:
    """Seconds of each step over the file."""
    reading, raw = timed(read, str(path))
    rules, vetted = timed(vet, raw)
    placing, spots = timed(place, vetted.spots)
    search, found = timed(find.find, spots)
    return {"read": reading, "rules": rules, "place": placing, "suspects": search, "found": len(found.suspects)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=2_000_000)
    parser.add_argument("--runs", type=int, default=5)
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "spots.csv")
        write(path, given.rows)
        run(path)
        runs = [run(path) for _ in range(given.runs)]
    took = {step: statistics.median(each[step] for each in runs) for step in runs[0]}
    ratio = (took["rules"] + took["suspects"]) / took["read"]
    met = ratio <= MOST_TIMES_READING
    print(f"{given.rows:,} rows, {took['found']:.0f} suspects")
    for step in ("read", "rules", "place", "suspects"):
        print(f"    {step:10}{took[step]:7.2f} s")
    print(
        f"rules and suspects: {ratio:.2f} times reading; aim: at most {MOST_TIMES_READING:g}: {'met' if met else 'MISSED'}"
    )
    sys.exit(0 if met else 1)


if __name__ == "__main__":
    main()

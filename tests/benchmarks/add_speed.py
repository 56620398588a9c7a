"""An export of two million rows and one of ten times as many added to a collection: does the work grow with the rows, and nothing
with the memory?

    python -m tests.benchmarks.add_speed                      two and twenty million rows; 2 GB of disc
    python -m tests.benchmarks.add_speed --rows 200000        smaller
    python -m tests.benchmarks.add_speed --folder exports     keep the generated exports, or use those that are there

Each is `reach add` as a user would start it, a process of its own. Seconds of CPU tell the work where other jobs run beside it; the
last columns are what ten times the rows take, as times of the smaller export in the same round.
Aims: 10.5 times the seconds, memory within a quarter of each other and below 1,000 MB.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks.collection_speed import START, STATION

ROWS, DAYS, TIMES = 2_000_000, 30, 10


def added(csv: Path) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of CPU, and the most that the process held [MB]."""
    with tempfile.TemporaryDirectory(dir=csv.parent) as home:
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, "-m", "reach", "add", str(csv), "--to", f"{home}/c", *STATION], stdout=subprocess.DEVNULL
        )
        _, status, used = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        assert process.returncode == 0
        return time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def exports(folder: Path, rows: int) -> list[Path]:
    """The two exports, made where they are not there."""
    found = []
    for times in (1, TIMES):
        found.append(folder / f"{rows * times}.csv")
        if not found[-1].exists():
            how = ["--rows", rows * times, "--days", DAYS * times, "--start", START]
            # Elsewhere, since a process that is started counts as its own what the one that starts it held.
            subprocess.run(
                [sys.executable, "-m", "tests.benchmarks.big_export", *map(str, [found[-1], *how])],
                stdout=subprocess.DEVNULL,
                check=True,
            )
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS, help="of the smaller export")
    parser.add_argument("--rounds", type=int, default=1)
    parser.add_argument("--folder", type=Path, help="where to keep the exports, or where they are already")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        both = exports(given.folder or Path(name), given.rows)
        print(f"{'rows':>12}{'seconds':>9}{'of CPU':>9}{'MB':>7}{'x of CPU':>10}{'x MB':>7}")
        for _ in range(given.rounds):
            small_s = small_mb = 0.0
            for csv in both:
                seconds, cpu_s, held_mb = added(csv)
                small_s, small_mb = small_s or cpu_s, small_mb or held_mb
                ratios = f"{cpu_s / small_s:10.1f}{held_mb / small_mb:7.2f}"
                print(f"{csv.stem:>12}{seconds:9.1f}{cpu_s:9.1f}{held_mb:7.0f}{ratios}", flush=True)


if __name__ == "__main__":
    main()

"""A year in a collection: what one more day costs, and what a report of the whole year and a comparison of one week in it take.

    python -m tests.benchmarks.collection_speed                    three million spots
    python -m tests.benchmarks.collection_speed --rows 300000      smaller
    python -m tests.benchmarks.collection_speed --csv year.csv     keep the generated export, or use the one that is there

Every step is `reach` as a user would start it, a process of its own, its helpers counted. Seconds of CPU tell the work where other
jobs run beside it; the last column is the ratio to a bare pyarrow.csv.read_csv of the year, timed in the same run, which checks
nothing. The first run works out what is kept of each day, the second has it.
Aims on two quiet cores: `run` with a day more 15 s by the clock, `compare` of one week 3 s.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from tests.benchmarks import big_export

ROWS, DAYS, START = 3_000_000, 365, "2025-05-01"
LAST_DAY = "2026-04-30"
WEEK = ("--from", "2026-01-05", "--to", "2026-01-12")
STATION = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")
BARE = "import sys; from pyarrow import csv; csv.read_csv(sys.argv[1])"


def took(*args: str) -> tuple[float, float, float]:
    """Seconds by the clock, seconds of CPU, and the most that one process held [MB] of a run of Python."""
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([sys.executable, *args], stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return time.perf_counter() - start, cpu_s, after.ru_maxrss / 1024


def divided(csv: Path, folder: Path) -> tuple[Path, Path]:
    """The export without its last day, and that day, as two exports."""
    most, last = folder / "year.csv", folder / "day.csv"
    with (
        csv.open(encoding="utf-8") as rows,
        most.open("w", encoding="utf-8") as one,
        last.open("w", encoding="utf-8") as other,
    ):
        header = next(rows)
        one.write(header)
        other.write(header)
        for row in rows:
            (other if LAST_DAY in row[:12] else one).write(row)
    return most, last


def report(csv: Path, folder: Path) -> None:
    most, last = divided(csv, folder)
    home = str(folder / "collection")
    steps = {
        "bare read": ("-c", BARE, str(csv)),
        "add the year": ("-m", "reach", "add", str(most), "--to", home, *STATION),
        "run": ("-m", "reach", "run", home, "--out", str(folder / "report")),
        "add a day": ("-m", "reach", "add", str(last), "--to", home),
        "run again": ("-m", "reach", "run", home, "--out", str(folder / "report")),
        "compare a week": ("-m", "reach", "compare", home, "--a", "vertical", "--b", "wire", *WEEK),
    }
    print(f"{'':16}{'seconds':>9}{'of CPU':>9}{'MB at most':>12}{'x bare':>9}")
    bare_cpu_s = 0.0
    for name, args in steps.items():
        seconds, cpu_s, held_mb = took(*args)
        bare_cpu_s = bare_cpu_s or cpu_s
        print(f"{name:16}{seconds:9.1f}{cpu_s:9.1f}{held_mb:12.0f}{cpu_s / bare_cpu_s:9.1f}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--csv", type=Path, help="where to keep the export, or where it is already")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        csv = given.csv or Path(name) / "all.csv"
        if not csv.exists():
            big_export.write(csv, given.rows, days=DAYS, start=START)
        report(csv, Path(name))


if __name__ == "__main__":
    main()

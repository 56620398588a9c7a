"""Vetting a million rows that each name another callsign, another locator, or another text that is no locator, against a normal
million: CPU and memory.

    python -m tests.benchmarks.distinct_speed [--rows 1000000] [--whole] [--only locators]

The normal million is that of `big_export`. In the others one column alone is exchanged: for callsigns made of the prefixes in it, or
for cells of six characters from all over the world, seven in ten of them at sea, so that most of the rows are suspects; `malformed` has
these cells with letters and digits exchanged, so that every row is rejected. Nothing lies twice there, so work on distinct values
saves nothing. Each kind is a process of its own: read, assign, vet, place and the search for suspects; `--whole` takes `reach vet`
instead, from start to end, with the list of problems written. CPU counts all threads and the system's share. Aims: at most 20 times
the normal million, and 2,000 MB. Exit code 1 where one is missed.
"""

from __future__ import annotations

import argparse
import itertools
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

from reach.base import locator
from tests.benchmarks import big_export

ROWS = 1_000_000
MOST_TIMES, MOST_MB = 20.0, 2000.0
KINDS = ("normal", "callsigns", "locators", "malformed")
SEED = 20261127


def write(folder: Path, rows: int) -> None:
    """A study a kind, named by it."""
    normal = folder / "normal.csv"
    big_export.write(normal, rows)
    table = pd.read_csv(normal, dtype=str)
    callsigns(table).to_csv(folder / "callsigns.csv", index=False)
    located = locators(table)
    located.to_csv(folder / "locators.csv", index=False)
    malformed(located).to_csv(folder / "malformed.csv", index=False)
    for kind in KINDS:
        big_export.write_study(folder / f"{kind}.csv", compared=False)
    with (folder / "malformed.toml").open("a", encoding="utf-8") as study:  # nothing in the column looks like a locator
        study.write('\n[options]\ncolumns = { locator = "locator" }\n')


def callsigns(table: pd.DataFrame) -> pd.DataFrame:
    """Every receiver hears once: its prefix and digit, then a suffix that no other row has."""
    letters = [chr(code) for code in range(ord("A"), ord("Z") + 1)]
    suffixes = pd.Series(["".join(each) for each in itertools.product("Q", "RSTU", letters, letters, letters)])
    start = table["callsign"].str.extract(r"^([A-Z0-9]*?[0-9])[A-Z]", expand=False)
    written = start + suffixes[start.groupby(start).cumcount()].to_numpy()
    assert written.is_unique
    return table.assign(callsign=written)


def locators(table: pd.DataFrame) -> pd.DataFrame:
    """Every row from another cell of six characters, all over the world."""
    sizes = (18, 18, 10, 10, 24, 24)
    cells = np.random.default_rng(SEED).choice(np.prod(sizes), len(table), replace=False)
    first = (ord("A"), ord("A"), ord("0"), ord("0"), ord("a"), ord("a"))
    signs = np.stack(np.unravel_index(cells, sizes), axis=1) + np.array(first)
    names = signs.astype(np.uint8).tobytes().decode("ascii")
    made = [names[k : k + 6] for k in range(0, len(names), 6)]
    locator.checked(made[0])
    return table.assign(locator=made)


def malformed(located: pd.DataFrame) -> pd.DataFrame:
    """JN58td as 58JNtd."""
    names = located["locator"]
    written = names.str[2:4] + names.str[:2] + names.str[4:]
    assert written.is_unique
    return located.assign(locator=written)


def walked(study: str) -> None:
    from reach import study as studies
    from reach.base import memory
    from reach.walk import Walk

    memory.give_back()  # as every command does
    found = Walk(studies.load(study)).doubts
    print(len(found.suspects), end="")


def measured(study: Path, *, whole: bool) -> tuple[float, float, str]:
    """CPU seconds and the highest memory [MB] of one process, and what it said."""
    here = [sys.executable, "-c", f"from tests.benchmarks import distinct_speed as d; d.walked({str(study)!r})"]
    problems = str(study.with_suffix(".problems.csv"))
    there = [sys.executable, "-m", "reach", "vet", str(study), "--problems", problems, "--replace"]
    running = subprocess.Popen(there if whole else here, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    assert running.stdout is not None
    said = running.stdout.read()
    _, status, used = os.wait4(running.pid, 0)
    running.returncode = os.waitstatus_to_exitcode(status)
    if running.returncode:
        raise SystemExit(f"{study.stem}: the process ended with {running.returncode}")
    mb = used.ru_maxrss / (1024**2 if sys.platform == "darwin" else 1024)
    return used.ru_utime + used.ru_stime, mb, f"{said} suspects" if not whole else "as `reach vet`"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--whole", action="store_true", help="`reach vet` from start to end")
    parser.add_argument("--only", choices=KINDS[1:])
    parser.add_argument("--keep", type=Path, help="keep the files in this folder, or use those that are there")
    given = parser.parse_args()
    missed = False
    with tempfile.TemporaryDirectory() as made:
        folder = given.keep or Path(made)
        folder.mkdir(parents=True, exist_ok=True)
        if not (folder / f"{KINDS[-1]}.toml").exists():
            write(folder, given.rows)
        usual = 0.0
        for kind in [each for each in KINDS if given.only in (None, each) or each == KINDS[0]]:
            cpu_s, mb, said = measured(folder / f"{kind}.toml", whole=given.whole)
            usual = usual or cpu_s
            held = cpu_s <= MOST_TIMES * usual and mb <= MOST_MB
            missed |= not held
            print(
                f"{kind:10}{cpu_s:8.1f} s of CPU {cpu_s / usual:6.1f} times {mb:8,.0f} MB  {said}  {'met' if held else 'MISSED'}",
                flush=True,
            )
    print(f"aims: {MOST_TIMES:g} times a normal million, {MOST_MB:,.0f} MB")
    raise SystemExit(missed)


if __name__ == "__main__":
    main()

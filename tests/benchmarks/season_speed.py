"""How long a season of 60 days with three controls takes, by its stages, against one bare pass over the same rows.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.season_speed [--receivers 30]

Simulated spots, one report an hour; CPU seconds, the best of three runs, start-up and reading left out. The bare pass is what nobody can
do without: the four tables put together, sorted by receiver and time. Aim: under five seconds.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable

import pandas as pd

from reach.compare.season import change, judge, level, season
from tests.compare.season_spots import World, make


def best(work: Callable[[], object], runs: int = 3) -> float:
    """CPU seconds of the fastest run. The shapes of days that were worked out before are forgotten first."""
    took = []
    for _ in range(runs):
        change.shape.cache_clear()
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return min(took)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--receivers", type=int, default=30)
    spots, controls = make(World(receivers=parser.parse_args().receivers, steps={0: (30, -4.0)}), 1)
    tables = [spots, *controls.values()]
    print(f"{len(spots):,} spots of the station, {sum(map(len, tables)):,} in all")
    bare = best(lambda: pd.concat(tables).sort_values(["rx_call", "time_utc"]))
    ours, *theirs = level.heard(tables)
    pairs = [level.pairs(ours, each) for each in theirs]
    levels = {name: level.level(each) for name, each in zip(controls, pairs, strict=True)}
    rows = {
        "tables to arrays, limits": best(lambda: level.heard(tables)),
        "nearest reports": best(lambda: [level.pairs(ours, each) for each in theirs]),
        "levels a day": best(lambda: [level.level(each) for each in pairs]),
        "changes, whose": best(lambda: judge.judge(levels)),
        "all of it": best(lambda: season(spots, controls)),
    }
    for name, took in rows.items():
        print(f"{name:28}{took:7.2f} s {took / bare:7.1f} times the bare pass")


if __name__ == "__main__":
    main()

"""How long a comparison of 20,000 spots takes, and which stage takes what share.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.compare_speed [--spots 20000]

Simulated spots on two bands with full breakdown (zones, rings, sectors, bands, day and night). CPU seconds, the best of
five runs, start-up and reading left out. Aim: under two seconds.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any
from unittest import mock

import numpy as np
import pandas as pd

from reach.compare import cells, compare, estimate, evidence, verdict
from tests.compare.simulator import Scenario, make

# What is timed, where it is called from; a stage inside another is taken off the outer one.
STAGES = (
    ("tell the setups apart", evidence, "label"),
    ("clean, decoding limit, design", evidence, "gather"),
    ("counts, who heard what", evidence, "known"),
    ("estimates, overall and part by part", estimate, "fit"),
    ("interval, one receiver left out", verdict, "headline"),
    ("breakdown", cells, "breakdown"),
    ("where and by day or night", cells, "geometry"),
    ("cross-checks", verdict, "_sensitivity"),
    ("tables for drawing", evidence, "by_block"),
)


class Clock:
    """CPU time by stage; what a stage calls of another is that other's."""

    def __init__(self) -> None:
        self.spent: dict[str, float] = {}
        self._inner = [0.0]

    def timed(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """The same function with its time noted."""

        def run(*args: Any, **kwargs: Any) -> Any:
            self._inner.append(0.0)
            start = time.process_time()
            try:
                return function(*args, **kwargs)
            finally:
                took = time.process_time() - start
                self.spent[name] = self.spent.get(name, 0.0) + took - self._inner.pop()
                self._inner[-1] += took

        return run


def spots_for(count: int) -> pd.DataFrame:
    """So many simulated spots, placed, with the day and night."""
    made = make(Scenario("speed", receivers=170, hours=24, bands=2), 1).spots
    rows = np.sort(np.random.default_rng(1).choice(len(made), min(count, len(made)), replace=False))
    taken = made.iloc[rows].reset_index(drop=True)
    hour = taken["time_utc"].dt.hour
    return taken.assign(mid_day_night=pd.Categorical(np.where((hour > 6) & (hour < 19), "day", "night")))


def main() -> None:
    """Time it and print the shares."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--spots", type=int, default=20_000)
    spots = spots_for(parser.parse_args().spots)
    compare(spots, "vertical", "wire")  # imports and caches
    best = min(_once(spots) for _ in range(5))
    clock = Clock()
    with ExitStack() as patches:
        for name, module, function in STAGES:
            timed = clock.timed(name, getattr(module, function))
            patches.enter_context(mock.patch.object(module, function, timed))
        start = time.process_time()
        found = compare(spots, "vertical", "wire")
        total = time.process_time() - start
    print(f"{len(spots):,} spots, {found.receivers} receivers, {len(found.cells)} parts: {best:.2f} s of CPU (aim: 2)")
    for name, spent in sorted(clock.spent.items(), key=lambda item: -item[1]):
        print(f"  {100 * spent / total:5.1f} %  {name}")
    print(f"  {100 * (1 - sum(clock.spent.values()) / total):5.1f} %  the rest")


def _once(spots: pd.DataFrame) -> float:
    start = time.process_time()
    compare(spots, "vertical", "wire")
    return time.process_time() - start


if __name__ == "__main__":
    main()

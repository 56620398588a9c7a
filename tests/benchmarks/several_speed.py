"""How long five setups at once take.

    OMP_NUM_THREADS=1 python -m tests.benchmarks.several_speed [--spots 20000] [--setups 5]

Simulated spots of setups in turn, ten minutes each. CPU seconds, the best of three runs, start-up and reading left out.
Aim: under three seconds for 20,000 spots of five setups.
"""

from __future__ import annotations

import argparse
import time

from reach.compare.several import several
from tests.compare.several_simulator import Turns, make
from tests.compare.simulator import Scenario


def main() -> None:
    """Parse, simulate, time."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--spots", type=int, default=20_000)
    parser.add_argument("--setups", type=int, default=5)
    asked = parser.parse_args()
    turns = Turns("speed", (0.0,) * asked.setups, world=Scenario("turns", hours=96, receivers=100))
    spots = make(turns, 1)
    spots = spots.iloc[: asked.spots]
    took = []
    for _ in range(3):
        start = time.process_time()
        found = several(spots, turns.setups)
        took.append(time.process_time() - start)
    print(f"{len(spots):,} spots, {asked.setups} setups, {found.pairs:,} pairs: {min(took):.2f} s")


if __name__ == "__main__":
    main()

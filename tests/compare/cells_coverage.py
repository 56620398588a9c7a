"""How well the breakdown does: intervals of the parts, and parts claimed to differ, on simulated spots.

    OMP_NUM_THREADS=1 python -m tests.compare.cells_coverage [--seeds 100]

The truth of a part is the mean over its paired receivers by their weights; "any claimed" should be at most 5 % where
nothing differs. METHOD.md holds the table.
"""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from reach.compare import compare
from reach.compare.comparison import Cell, Comparison
from tests.compare.simulator import Made, Scenario, make

SCENARIOS = (
    Scenario("nothing differs", receivers=145),
    Scenario("nothing differs, fading mostly shared", receivers=145, shared=0.9),
    Scenario("receivers differ at random, sd 2 dB", receivers=145, truth_sd_db=2),
    Scenario("pattern of +-4 dB over bearing, 24 h", receivers=170, hours=24, pattern_db=4),
    Scenario("take-off: 3 dB per factor 4 in distance, 24 h", receivers=170, hours=24, take_off_db=3),
)
BREAKDOWNS = ("zone", "ring", "sector")


def run(scenario: Scenario, seed: int) -> tuple[list[tuple[bool, bool]], bool, bool]:
    """Of every shown part whether its plain and its joint interval hold its truth; whether all joint ones of one
    breakdown do; whether any part is claimed."""
    made = make(scenario, seed)
    found = compare(made.spots, "vertical", "wire")
    shown = [cell for cell in found.cells if cell.shown]
    truths = [_truth(cell, found, made) for cell in shown]
    plain = [cell.low_db <= truth <= cell.high_db for cell, truth in zip(shown, truths, strict=True)]
    joint = [cell.sidak_low_db <= truth <= cell.sidak_high_db for cell, truth in zip(shown, truths, strict=True)]
    sectors = [one for cell, one in zip(shown, joint, strict=True) if cell.by == "sector"]
    return list(zip(plain, joint, strict=True)), all(sectors), any(cell.differs for cell in shown)


def _truth(cell: Cell, found: Comparison, made: Made) -> float:
    where = made.spots.drop_duplicates("rx_call").set_index("rx_call")
    rows = [r for r in found.by_receiver if r.weight > 0 and _inside(cell, where.loc[r.rx_call])]
    weight = np.array([r.weight for r in rows])
    return float(weight @ made.truth_db[[r.rx_call for r in rows]].to_numpy() / weight.sum())


def _inside(cell: Cell, at: pd.Series) -> bool:
    assert cell.start is not None and cell.end is not None
    if cell.by == "sector":
        return bool((at["bearing_deg"] - cell.start) % 360 < (cell.end - cell.start) % 360)
    return bool(cell.start <= at["distance_km"] < cell.end)


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=100)
    seeds = parser.parse_args().seeds
    print("| case | parts shown | each alone % | each, joint interval % | all sectors, joint % | any claimed % |")
    print("|---|---|---|---|---|---|")
    for scenario in SCENARIOS:
        runs = [run(scenario, seed) for seed in range(seeds)]
        each = [pair for one in runs for pair in one[0]]
        plain, joint = (100 * np.mean([pair[k] for pair in each]) for k in (0, 1))
        sectors, claimed = (100 * np.mean([one[k] for one in runs]) for k in (1, 2))
        cells = len(each) / seeds
        print(
            f"| {scenario.name} | {cells:.0f} | {plain:.0f} | {joint:.1f} | {sectors:.0f} | {claimed:.0f} |", flush=True
        )


if __name__ == "__main__":
    main()

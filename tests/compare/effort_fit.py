"""Fit the law of planning to simulated sessions: half-width = k * hours^-a * receivers^-b.

    OMP_NUM_THREADS=1 python -m tests.compare.effort_fit [--seeds 8]

prints the constants of `reach.compare.design` with how far single sessions scatter about the law, and how often short
sessions are refused. Receivers are those that were paired; blocks come in random order within pairs, as `reach plan`
deals them.
"""

from __future__ import annotations

import argparse

import numpy as np

from reach.compare import compare
from tests.compare.simulator import Scenario, make

HOURS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.5, 9.0, 12.0, 24.0)
RECEIVERS = (8, 20, 60, 180)
DESIGNS = (("together", 2.0), ("random", 2.0), ("random", 5.0), ("random", 10.0), ("random", 20.0), ("random", 30.0))


def sessions(design: str, block_min: float, seeds: int) -> tuple[np.ndarray, dict[float, float]]:
    """Rows (hours, receivers, half-width) of every session that was told; and the share refused by hours, of those
    with 20 receivers or more."""
    rows, refused = [], {}
    for hours in HOURS:
        failed = 0
        for receivers in RECEIVERS:
            for seed in range(seeds):
                scenario = Scenario("effort", design=design, block_min=block_min, hours=hours, receivers=receivers)
                spots = make(scenario, seed).spots.drop(columns=["distance_km", "bearing_deg"])
                found = compare(spots, "vertical", "wire")
                if found.low_db is None or found.high_db is None:
                    failed += receivers >= 20
                else:
                    rows.append((hours, found.receivers, (found.high_db - found.low_db) / 2))
        refused[hours] = failed / ((len(RECEIVERS) - 1) * seeds)
    return np.array(rows), refused


def law(rows: np.ndarray) -> tuple[float, float, float, float]:
    """k, a, b by least squares on logarithms, and the scatter of one session as a factor (one standard deviation)."""
    log_hours, log_receivers, log_width = np.log(rows).T
    columns = np.column_stack([np.ones(len(rows)), -log_hours, -log_receivers])
    solved, *_ = np.linalg.lstsq(columns, log_width, rcond=None)
    scatter = np.exp(np.std(log_width - columns @ solved))
    return float(np.exp(solved[0])), float(solved[1]), float(solved[2]), float(scatter)


def main() -> None:
    """Parse and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=8)
    seeds = parser.parse_args().seeds
    print("| design | k | a | b | scatter, factor | sessions told | refused at 1, 1.5, 2, 2.5, 3, 4, 5, 6, 7.5 h |")
    print("|---|---|---|---|---|---|---|")
    for design, block_min in DESIGNS:
        rows, refused = sessions(design, block_min, seeds)
        k, a, b, scatter = law(rows)
        name = "both on the air at once" if design == "together" else f"{block_min:.0f}-min blocks"
        at = ", ".join(f"{100 * refused[hours]:.0f} %" for hours in HOURS[:9])
        print(f"| {name} | {k:.2f} | {a:.2f} | {b:.2f} | {scatter:.2f} | {len(rows)} | {at} |", flush=True)


if __name__ == "__main__":
    main()

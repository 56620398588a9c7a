"""How often all intervals of several setups hold at once, and how often somebody is called better who is not.

    OMP_NUM_THREADS=1 python -m tests.compare.several_coverage [--seeds 60] [--first 8000] [--only TEXT]

prints one line a case; METHOD.md holds the table.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

import numpy as np

from reach.compare.several import Several, several
from tests.compare.several_simulator import CASES, Turns, make


@dataclass(frozen=True)
class Run:
    """One seed. together : every difference inside its interval; alone : the share inside that of its own; wrong : a pair in
    the wrong order, or told apart though equal; half widths : medians over the differences [dB]"""

    refused: bool
    together: bool = False
    alone: float = np.nan
    wrong: bool = False
    half_db: float = np.nan
    half_alone_db: float = np.nan
    error_db: float = np.nan


def run(turns: Turns, seed: int) -> Run:
    """Simulate and compare once."""
    return judged(several(make(turns, seed), turns.setups), dict(zip(turns.setups, turns.levels_db, strict=True)))


def judged(found: Several, level_db: dict[str, float]) -> Run:
    """What was found against the truth."""
    if not found.differences:
        return Run(refused=True)
    truth = np.array([level_db[each.upper] - level_db[each.lower] for each in found.differences])
    low, high, alone_low, alone_high, value = np.array(
        [(d.low_db, d.high_db, d.alone_low_db, d.alone_high_db, d.difference_db) for d in found.differences]
    ).T
    return Run(
        refused=False,
        together=bool(((low <= truth) & (truth <= high)).all()),
        alone=float(np.mean((alone_low <= truth) & (truth <= alone_high))),
        wrong=bool(any(each.apart and t <= 0 for each, t in zip(found.differences, truth, strict=True))),
        half_db=float(np.median((high - low) / 2)),
        half_alone_db=float(np.median((alone_high - alone_low) / 2)),
        error_db=float(np.sqrt(np.mean((value - truth) ** 2))),
    )


def line(name: str, runs: list[Run]) -> str:
    """One row of the table."""
    told = [each for each in runs if not each.refused]
    cells = [name, str(len(runs)), f"{100 * (len(runs) - len(told)) / len(runs):.0f}"]
    if told:
        cells += [
            f"{100 * np.mean([each.together for each in told]):.0f}", f"{100 * np.mean([each.alone for each in told]):.0f}",
            f"{np.median([each.half_db for each in told]):.2f}", f"{np.median([each.half_alone_db for each in told]):.2f}",
            f"{100 * np.mean([each.wrong for each in told]):.0f}",
        ]  # fmt: skip
    return "| " + " | ".join(cells + ["-"] * (8 - len(cells))) + " |"


def main() -> None:
    """Parse and run."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=60)
    parser.add_argument("--first", type=int, default=8000, help="the first seed")
    parser.add_argument("--only", default="", help="cases whose name holds this text")
    asked = parser.parse_args()
    print("| case | runs | refused % | all inside % | each alone % | half-width dB | alone dB | wrong claims % |")
    print("|---|---|---|---|---|---|---|---|")
    for turns in (case for case in CASES if asked.only in case.name):
        print(line(turns.name, [run(turns, asked.first + k) for k in range(asked.seeds)]), flush=True)


if __name__ == "__main__":
    main()

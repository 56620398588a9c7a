"""False claims and shares told of the schedule's clock, on simulated sessions: the tables of reach/assign/METHOD.md.

    OMP_NUM_THREADS=1 python -m tests.assign.clock_table [--seeds 20] [--first 1000] [--jobs 1] [--part false|told|awkward]

Seeds 0 to 999 were used to choose the thresholds; the tables are of seeds from 1000 on.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial

from reach.assign import clock
from reach.assign.clock import Clock, ClockFit
from tests.assign.clock_simulator import ALIKE, AWKWARD, Kind, late, make

OFFSETS_MIN = (4, 6, 10, 14, 60, 725)
PLANS = ("10 min alternating, 8 h, 60 rx", "same, 15 rx, 3 h", "same, 30 rx, 12 h", "drawn, 8 h, 60 rx",
         "drawn, 20 rx, 4 h", "20 min alternating", "doubled (ABBA)", "slot by slot", "all fade together, drawn")  # fmt: skip


def fitted(kind: Kind, late_min: float, seed: int) -> ClockFit:
    """What is found for one session whose schedule is so many minutes late."""
    spots, schedule = make(kind, seed)
    found = clock.fit(spots, late(schedule, late_min), a="A", b="B")
    assert found is not None
    return found


def right(found: ClockFit, late_min: float) -> bool:
    """Whether one of the shifts that it names is the true one."""
    named = [shift for shift in (found.shift_min, found.other_min) if shift is not None]
    return any(abs(shift + late_min) <= max(found.within_min or 0, 2 * found.slot_min) for shift in named)


def unique(found: ClockFit, late_min: float) -> bool:
    return found.code == Clock.SHIFTED and right(found, late_min)


def _one(kind: Kind, offsets: tuple[float, ...], seed: int) -> list[ClockFit]:
    return [fitted(kind, each, seed) for each in offsets]


def table_false(kinds: tuple[Kind, ...], seeds: range, differences: tuple[float, ...], pool) -> None:
    total = claims = 0
    for kind in kinds:
        for db in differences:
            named = replace(kind, difference_db=db)
            runs = [found[0] for found in pool(partial(_one, named, (0.0,)), seeds)]
            codes = Counter(found.code for found in runs)
            wrong = sum(found.doubtful for found in runs)
            total, claims = total + len(runs), claims + wrong
            print(f"| {kind.name} | {db:g} | {wrong} | {codes[Clock.FITS]} | {codes[Clock.UNSEEN]} | {dict(codes)}"
                  f" {[(round(f.shift_min, 1), f.by, round(f.step_z2 or 0)) for f in runs if f.doubtful][:4]}", flush=True)  # fmt: skip
    print(f"{claims} false claims in {total} sessions: {100 * claims / max(total, 1):.2f} %")


def table_told(kinds: tuple[Kind, ...], seeds: range, differences: tuple[float, ...], pool) -> None:
    wrong = total = 0
    for kind in kinds:
        for db in differences:
            runs = pool(partial(_one, replace(kind, difference_db=db), OFFSETS_MIN), seeds)
            cells = []
            for k, minutes in enumerate(OFFSETS_MIN):
                found = [each[k] for each in runs]
                told = sum(one.doubtful for one in found)
                lone = sum(unique(one, minutes) for one in found)
                wrong += sum(one.doubtful and one.shift_min is not None and not right(one, minutes) for one in found)
                total += len(found)
                cells.append(f"{100 * told / len(found):.0f} ({100 * lone / len(found):.0f})")
            print(f"| {kind.name} | {db:g} | {' | '.join(cells)} |", flush=True)
    print(f"{wrong} of {total} named no true shift")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--first", type=int, default=1000)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--part", default="false")
    parser.add_argument("--only", default="")
    parser.add_argument("--db", default="")
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.seeds)
    with ProcessPoolExecutor(given.jobs) as executor:
        pool = (
            (lambda f, s: list(executor.map(f, s, chunksize=4))) if given.jobs > 1 else (lambda f, s: list(map(f, s)))
        )
        db = tuple(map(float, given.db.split(","))) if given.db else None
        began = time.perf_counter()
        if given.part == "told":
            kinds = tuple(kind for kind in ALIKE if kind.name in PLANS and given.only in kind.name)
            table_told(kinds, seeds, db or (0.0, 1.0, 2.0, 4.0), pool)
        else:
            kinds = AWKWARD if given.part == "awkward" else ALIKE
            table_false(tuple(kind for kind in kinds if given.only in kind.name), seeds, db or (0.0, 2.0), pool)
        print(f"{time.perf_counter() - began:.0f} s")


if __name__ == "__main__":
    main()

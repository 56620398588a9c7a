"""Bias, coverage and false verdicts of the comparison on simulated spots with a known truth.

    OMP_NUM_THREADS=1 python -m tests.compare.coverage [--seeds 200] [--first 0] [--only TEXT] [--jobs 1] [--keep FILE]

prints one line a scenario and one for each group taken together; METHOD.md holds the table. 200 seeds take about
half an hour of one core. With a file to keep them in, runs are added to those that it holds, a few seeds of every scenario
at a time, so that a table of fewer seeds exists early and `--print` shows it.
"""

from __future__ import annotations

import argparse
import json
from collections import defaultdict
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

import numpy as np

from reach.assign import powers
from reach.compare import compare
from reach.study import Study
from tests.compare import scenarios
from tests.compare.simulator import Made, Scenario, make

GROUPS = {
    "Designs that can tell": scenarios.IDENTIFIABLE,
    "No difference": scenarios.NO_DIFFERENCE,
    "Bands in turn": scenarios.TURNS,
    "Powers": scenarios.POWERS,
    "Day by day": scenarios.DAILY,
    "Confounded": scenarios.CONFOUNDED,
    "Hard": scenarios.HARD,
}


@dataclass(frozen=True)
class Run:
    """What one seed gave: NaN where it cannot be told.

    error_db, naive_error_db  estimate minus truth
    covered, covered_these  the truth lies in the interval for receivers like these; for these receivers only
    wrong  one setup is called better and is not
    period_min  the time between changes of setup that was told
    """

    verdict: str
    error_db: float
    naive_error_db: float
    half_width_db: float
    covered: float
    covered_these: float
    wrong: bool
    period_min: float


def run(scenario: Scenario, seed: int) -> Run:
    """Simulate and compare once."""
    made = make(scenario, seed)
    power_db = scenario.power_difference_db
    known = None
    if "power_w" in made.spots:
        own_w = made.spots["power_w"].to_numpy()
        known = powers.between(made.spots, "vertical", "wire", own_w=own_w, study=Study())
    spots = made.spots.drop(columns=["distance_km", "bearing_deg"])  # no breakdown: it takes most of the time
    found = compare(spots, "vertical", "wire", power_difference_db=power_db, powers=known, control=made.control)
    nan = float("nan")
    truth = scenario.truth_db
    naive = nan if found.naive_difference_db is None else found.naive_difference_db - power_db - truth
    wrong = _wrong(found.verdict, truth)
    period = nan if found.design is None or found.design.period_min is None else found.design.period_min
    if found.difference_db is None or found.low_db is None or found.high_db is None:
        return Run(str(found.verdict), nan, naive, nan, nan, nan, wrong, period)
    covered = float(found.low_db <= truth <= found.high_db)
    these = covered
    if found.these_low_db is not None and found.these_high_db is not None:
        these = float(found.these_low_db <= _weighted(made, found) <= found.these_high_db)
    half = (found.high_db - found.low_db) / 2
    return Run(str(found.verdict), found.difference_db - truth, naive, half, covered, these, wrong, period)


def _weighted(made: Made, found: object) -> float:
    """The truth for just these receivers: theirs, weighted as the result weights them."""
    rows = [r for r in found.by_receiver if r.weight > 0]  # type: ignore[attr-defined]
    weights = np.array([r.weight for r in rows])
    return float(weights @ made.truth_db[[r.rx_call for r in rows]].to_numpy() / weights.sum())


def line(name: str, runs: list[Run]) -> str:
    """One row of the table."""
    told = [r for r in runs if r.verdict != "cannot tell"]
    n = len(runs)
    cells = [name, f"{100 * (n - len(told)) / n:.1f}"]
    if told:
        error = np.array([r.error_db for r in told])
        cells += [
            f"{error.mean():+.2f}",
            f"{100 * np.mean([r.covered for r in told]):.1f}",
            f"{100 * np.mean([r.covered_these for r in told]):.1f}",
            f"{np.median([r.half_width_db for r in told]):.2f}",
        ]
    else:
        cells += ["-", "-", "-", "-"]
    cells += [f"{np.mean([r.period_min for r in runs]):.0f}"]
    cells += [f"{100 * np.mean([r.wrong for r in runs]):.1f}", f"{np.nanmean([r.naive_error_db for r in runs]):+.2f}"]
    return "| " + " | ".join(cells) + " |"


def _wrong(verdict: str, truth_db: float) -> bool:
    right = {"a better": truth_db > 0, "b better": truth_db < 0}
    return not right.get(verdict, True)


Runs = Callable[[Scenario], list[Run]]


def report(chosen: Iterable[tuple[str, Iterable[Scenario]]], runs_of: Runs) -> None:
    """Print the table, a line as soon as it is known; the group's bias is its mean."""
    print(
        "| case | refused % | bias dB | coverage % | these % | half-width dB | period said | wrong claims % | naive bias dB |"
    )
    print("|---|---|---|---|---|---|---|---|---|")
    for title, group in chosen:
        print(f"| **{title}** | | | | | | | | |")
        together: list[Run] = []
        for scenario in group:
            runs = runs_of(scenario)
            if runs:
                together += runs
                print(line(scenario.name, runs), flush=True)
        print(line(f"*together, {len(together)} runs*", together), flush=True)


def kept(path: Path) -> dict[str, dict[int, Run]]:
    """The runs that a file holds: by scenario and seed."""
    held: dict[str, dict[int, Run]] = defaultdict(dict)
    if path.exists():
        for text in path.read_text(encoding="utf-8").splitlines():
            entry = json.loads(text)
            scenario, seed = entry.pop("scenario"), entry.pop("seed")
            held[scenario][seed] = Run(**entry)
    return held


def add(path: Path, chosen: Iterable[Scenario], seeds: range, each: int = 20) -> None:
    """Run what the file does not hold yet, so many seeds of every scenario at a time."""
    held = kept(path)
    with path.open("a", encoding="utf-8") as file:
        for begin in range(0, len(seeds), each):
            for scenario in chosen:
                for seed in seeds[begin : begin + each]:
                    if seed not in held[scenario.name]:
                        entry = {"scenario": scenario.name, "seed": seed, **asdict(run(scenario, seed))}
                        file.write(json.dumps(entry) + "\n")
                file.flush()


def main() -> None:
    """Parse and run."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=200)
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--only", default="", help="scenarios whose name holds this text")
    parser.add_argument("--jobs", type=int, default=1, help="processes at work")
    parser.add_argument("--keep", type=Path, help="add the runs to this file, and print all that it holds")
    parser.add_argument("--print", action="store_true", help="run nothing")
    asked = parser.parse_args()
    chosen = [(title, [s for s in group if asked.only in s.name]) for title, group in GROUPS.items()]
    chosen = [(title, group) for title, group in chosen if group]
    seeds = range(asked.first, asked.first + asked.seeds)
    if asked.keep is not None:
        if not asked.print:
            add(asked.keep, [scenario for _, group in chosen for scenario in group], seeds)
        held = kept(asked.keep)
        report(chosen, lambda scenario: list(held[scenario.name].values()))
        return
    with ProcessPoolExecutor(asked.jobs) as pool:
        report(chosen, lambda scenario: list(pool.map(partial(run, scenario), seeds)))


if __name__ == "__main__":
    main()

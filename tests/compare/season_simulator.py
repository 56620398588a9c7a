"""Daily levels with a known truth: quiet months, steps, spells, slow change; and what `compare/season/change.py` says of them.

    python -m tests.compare.season_simulator     prints the tables of reach/compare/season/METHOD.md

Everything is made up and seeded. A day's level is noise of unit strength: white; AR(1); heavy-tailed (t with 4 degrees of
freedom); AR(1) over a wander of eight days' memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.signal import lfilter
from scipy.stats import chi2

from reach.compare.season import change

HOLDOUT = 90_000  # seeds from here on had no part in any choice


@dataclass(frozen=True)
class Noise:
    """phi : from day to day; wander : its standard deviation, in daily ones; heavy : t with 4 degrees of freedom."""

    name: str
    phi: float = 0.0
    wander: float = 0.0
    heavy: bool = False


NOISES = (
    Noise("white"),
    Noise("AR 0.2", phi=0.2),
    Noise("AR 0.5", phi=0.5),
    Noise("wander 0.17", phi=0.2, wander=0.17),
    Noise("wander 0.46", phi=0.2, wander=0.46),
    Noise("heavy tails", heavy=True),
)


def daily(noise: Noise, n: int, seed: int) -> np.ndarray:
    """Levels of n days, of unit standard deviation but for the wander."""
    rng = np.random.default_rng([seed, n])
    raw = rng.standard_t(4, n + 50) / np.sqrt(2) if noise.heavy else rng.standard_normal(n + 50)
    quick = lfilter([np.sqrt(1 - noise.phi**2)], [1, -noise.phi], raw)[50:]
    keep = np.exp(-1 / change.WANDER_DAYS)
    slow = lfilter([np.sqrt(1 - keep**2)], [1, -keep], rng.standard_normal(n + 100))[100:]
    return np.asarray(quick + noise.wander * slow)


def poisson(count: int, per: float) -> tuple[float, float, float]:
    """A rate with its exact 95 % range. per : what one is counted of"""
    low = chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    return count / per, float(low / per), float(chi2.ppf(0.975, 2 * count + 2) / 2 / per)


def quiet(noise: Noise, n: int, runs: int, *, watch: bool = False) -> tuple[int, int]:
    """In how many of so many quiet series a step, a spell is claimed first."""
    days, found = np.arange(n), [0, 0]
    for k in range(runs):
        claimed = change.claims(days, daily(noise, n, HOLDOUT + k), watch=watch)
        if claimed:
            found[max(claimed, key=lambda one: one.excess).is_spell] += 1
    return found[0], found[1]


def watched(noise: Noise, runs: int, *, watch: bool) -> int:
    """How many quiet series have a claim on any of the days 30 to 90, looked at every day."""
    hits = 0
    for k in range(runs):
        y = daily(noise, 90, 4 * HOLDOUT + k)
        hits += any(change.claims(np.arange(n), y[:n], watch=watch) for n in range(30, 91))
    return hits


@dataclass(frozen=True)
class Found:
    """Of steps of one size: share found within 14 days, error of the day (median), true day in the set, size covered."""

    found: float
    day_error: float
    day_held: float
    size_held: float
    size_bias: float
    half_width: float


def stepped(size: float, before: int, after: int, runs: int, noise: Noise = NOISES[1]) -> Found:
    """Steps of so many daily standard deviations."""
    days = np.arange(before + after)
    rows = []
    for k in range(runs):
        y = daily(noise, len(days), 3 * HOLDOUT + k) + size * (days >= before)
        near = [
            one
            for one in change.claims(days, y)
            if not one.is_spell and abs(int(one.days[one.scan.start[one.scan.best]]) - before) <= 14
        ]
        if near:
            one = max(near, key=lambda each: each.excess)
            likely = one.days[one.scan.likely()]
            middle, low, high = change.size(one.scan)
            error = abs(int(one.days[one.scan.start[one.scan.best]]) - before)
            rows.append((error, before in likely, low <= size <= high, middle - size, (high - low) / 2))
    if not rows:
        return Found(0.0, *[float("nan")] * 5)
    told = np.array(rows, dtype=float)
    return Found(len(rows) / runs, float(np.median(told[:, 0])), *(float(v) for v in told[:, 1:].mean(axis=0)))


def main(runs: int = 600, each: int = 300) -> None:
    """Print the tables."""
    print("| 60 quiet days | runs | steps | spells | false in 100 months | 95 % range |\n|---|---|---|---|---|---|")
    for noise in NOISES:
        step, spell = quiet(noise, 60, runs)
        rate, low, high = poisson(step + spell, runs * 60 / 30.44 / 100)
        print(f"| {noise.name} | {runs} | {step} | {spell} | {rate:.2f} | {low:.2f} to {high:.2f} |", flush=True)
    print("\n| step, daily sd | days | found | day error | day in set | size covered | bias | +- |")
    print("|---|---|---|---|---|---|---|---|")
    for size, before, after in (
        (1.0, 30, 30),
        (1.5, 30, 30),
        (2.0, 30, 30),
        (2.5, 30, 7),
        (2.0, 30, 14),
        (1.0, 60, 60),
    ):
        f = stepped(size, before, after, each)
        print(
            f"| {size} | {before} + {after} | {f.found:.0%} | {f.day_error:.0f} | {f.day_held:.0%} | {f.size_held:.0%} "
            f"| {f.size_bias:+.2f} | {f.half_width:.2f} |",
            flush=True,
        )
    for watch in (False, True):
        hits = watched(NOISES[1], each, watch=watch)
        print(f"\nlooked at daily, days 30 to 90, watch={watch}: {hits} of {each}", flush=True)


if __name__ == "__main__":
    main()

"""How often a claim is false on data without a difference, and what differences are found: the tables of CLAIMS.md.

python -m tests.measure.claims_simulator prints them. Receivers have very unequal zeal (log-normal), as on the air; their
reports fall on categories by lot, at random for each report or in bouts, so that a receiver counts as one.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from reach.measure import claims
from reach.measure.claims import Claim, Kind, Reason

SET_ASIDE = range(41_000, 41_300)  # had no part in making the test


@dataclass(frozen=True)
class World:
    """Reports by receiver and category.

    more     how many times as many reports in the first category as in each other
    farther  by how many spreads of log distance the first category is farther (or the far are weaker)
    best     so many categories have more, all alike: with two of them no winner is right
    """

    receivers: int = 60
    each: float = 12.0
    more: float = 1.0
    farther: float = 0.0
    best: int = 1


def _reports(rng: np.random.Generator, world: World) -> np.ndarray:
    """Reports of each receiver: half of them send few, some send hundreds."""
    return 1 + rng.poisson(world.each * rng.lognormal(-0.7, 1.2, world.receivers))


def _dealt(rng: np.random.Generator, size: int, n: int, shares: np.ndarray) -> np.ndarray:
    """What `rng.choice(size, n, p=shares)` draws, without looking at the shares each time."""
    upto = np.cumsum(shares)
    return np.searchsorted(upto / upto[-1], rng.random(n), side="right")


def spread(rng: np.random.Generator, world: World, size: int, *, bouts: bool) -> tuple[np.ndarray, np.ndarray]:
    """Receiver and category of each report. bouts : a receiver listens in a few categories only"""
    count = _reports(rng, world)
    shares = np.ones(size)
    shares[: world.best] *= world.more
    who, at = [], []
    for k, n in enumerate(count):
        own = shares * (rng.random(size) < 0.3) if bouts else shares
        own = own if own.sum() else shares
        who.append(np.full(n, k))
        at.append(_dealt(rng, size, n, own / own.sum()))
    return np.concatenate(who), np.concatenate(at)


def hours(rng: np.random.Generator, world: World, kind: Kind = Kind.FULLEST_HOUR, size: int = 24) -> Claim:
    who, at = spread(rng, world, size, bouts=True)
    return claims.fullest(kind, range(size), at, who, np.ones(len(who)))


def places(rng: np.random.Generator, world: World, kind: Kind = Kind.FULLEST_SECTOR, size: int = 12) -> Claim:
    """A receiver is in one category for good: a direction, a square."""
    count = _reports(rng, world)
    shares = np.ones(size)
    shares[: world.best] *= world.more
    at = rng.choice(size, world.receivers, p=shares / shares.sum())
    return claims.fullest(kind, range(size), at, np.arange(world.receivers), count)


def far_hours(rng: np.random.Generator, world: World, kind: Kind = Kind.FARTHEST_HOUR, size: int = 12) -> Claim:
    """Distances hang on receivers; in the first hour far ones come through more often."""
    km = np.exp(rng.normal(7.3, 0.8, world.receivers))
    count = _reports(rng, world)
    who, at = [], []
    for k, n in enumerate(count):
        own = (rng.random(size) < 0.4).astype(float)
        own[0] *= np.exp(world.farther * (np.log(km[k]) - 7.3) / 0.8)
        own = own if own.sum() else np.ones(size)
        who.append(np.full(n, k))
        at.append(_dealt(rng, size, n, own / own.sum()))
    receiver = np.concatenate(who)
    return claims.farthest(kind, range(size), np.concatenate(at), receiver, np.ones(len(receiver)), km[receiver])


def far_sectors(rng: np.random.Generator, world: World, kind: Kind = Kind.FARTHEST_SECTOR, size: int = 12) -> Claim:
    at = rng.integers(0, size, world.receivers)
    km = np.exp(rng.normal(7.3, 0.8, world.receivers) + 0.8 * world.farther * (at == 0))
    return claims.farthest(kind, range(size), at, np.arange(world.receivers), _reports(rng, world), km)


def weaker(rng: np.random.Generator, world: World) -> Claim:
    """Near and far receivers, each with a level of its own and fading about it; `farther` : spreads that the far are weaker."""
    count = _reports(rng, world)
    far = rng.random(world.receivers) < 0.3
    level = rng.normal(-15, 6, world.receivers) - 6 * world.farther * far
    who = np.repeat(np.arange(world.receivers), count)
    snr = np.rint(level[who] + rng.normal(0, 4, len(who)))
    return claims.farthest(Kind.WEAKER, (False, True), far[who].astype(int), who, np.ones(len(who)), -snr)


def receivers(rng: np.random.Generator, world: World) -> Claim:
    """`more` : odds that a receiver tells for the first."""
    first = int((rng.random(world.receivers) < world.more / (1 + world.more)).sum())
    return claims.majority(Kind.RECEIVERS, first, world.receivers - first, settled=True)


SIMULATED: dict[Kind, Callable[[np.random.Generator, World], Claim]] = {
    Kind.FULLEST_HOUR: hours,
    Kind.FARTHEST_HOUR: far_hours,
    Kind.FULLEST_SECTOR: places,
    Kind.FARTHEST_SECTOR: far_sectors,
    Kind.FULLEST_SQUARE: lambda rng, world: places(rng, world, Kind.FULLEST_SQUARE, 40),
    Kind.FARTHEST_BAND: lambda rng, world: far_hours(rng, world, Kind.FARTHEST_BAND, 4),
    Kind.HOUR_AND_SECTOR: lambda rng, world: hours(rng, world, Kind.HOUR_AND_SECTOR, 80),
    Kind.HOUR_OF_THE_FAR: lambda rng, world: hours(rng, world, Kind.HOUR_OF_THE_FAR, 10),
    Kind.CALENDAR_HOUR: lambda rng, world: hours(rng, world, Kind.CALENDAR_HOUR, 48),
    Kind.FARTHEST_STEP: lambda rng, world: far_hours(rng, world, Kind.FARTHEST_STEP, 12),
    Kind.WEAKER: weaker,
    Kind.RECEIVERS: receivers,
}
FEW, SOME, MANY = World(8, 30.0), World(60, 12.0), World(400, 6.0)


def claimed(kind: Kind, world: World, seeds: Sequence[int]) -> float:
    """Share of seeds in which something is singled out, or two or three are named as a tie."""
    found = [SIMULATED[kind](np.random.default_rng(seed), world) for seed in seeds]
    return sum(each.apart or bool(each.tie) for each in found) / len(found)


def found_rightly(kind: Kind, world: World, seeds: Sequence[int]) -> tuple[float, float]:
    """Share of seeds in which what was planted is singled out, and in which something else is."""
    planted = True if kind in (Kind.WEAKER, Kind.RECEIVERS) else 0
    found = [SIMULATED[kind](np.random.default_rng(seed), world) for seed in seeds]
    apart = [each for each in found if each.reason == Reason.APART]
    right = sum(each.winner == planted for each in apart)
    return right / len(found), (len(apart) - right) / len(found)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--first", type=int, default=SET_ASIDE.start)
    parser.add_argument("--seeds", type=int, default=len(SET_ASIDE))
    given = parser.parse_args()
    seeds = range(given.first, given.first + given.seeds)
    print("False claims on data without a difference, % of seeds\n")
    print(f"{'kind':18}{'8 receivers':>13}{'60':>8}{'400':>8}")
    for kind in SIMULATED:
        rates = [100 * claimed(kind, world, seeds) for world in (FEW, SOME, MANY)]
        print(f"{kind:18}{rates[0]:13.1f}{rates[1]:8.1f}{rates[2]:8.1f}")
    two = World(400, 6.0, more=6.0, best=2)
    print("\nTwo are best and alike (six times the others, 400 receivers): one of them called the winner, % of seeds\n")
    for kind in (Kind.FULLEST_HOUR, Kind.FULLEST_SECTOR, Kind.FULLEST_SQUARE, Kind.CALENDAR_HOUR):
        found = [SIMULATED[kind](np.random.default_rng(seed), two) for seed in seeds]
        winner, tie = (
            100 * sum(flags) / len(found) for flags in ([c.apart for c in found], [set(c.tie) == {0, 1} for c in found])
        )
        print(f"{kind:18}{winner:13.1f}   named as a tie {tie:.0f}")
    print("\nPlanted differences told, % of seeds (in brackets: another singled out)\n")
    farther = {Kind.FARTHEST_HOUR, Kind.FARTHEST_SECTOR, Kind.FARTHEST_BAND, Kind.FARTHEST_STEP, Kind.WEAKER}
    for head, kinds, steps in (
        ("times as many", [k for k in SIMULATED if k not in farther], (1.5, 2.0, 3.0, 5.0)),
        ("spreads apart", [k for k in SIMULATED if k in farther], (0.5, 1.0, 2.0, 3.0)),
    ):
        print(f"{head:18}{'receivers':>10}" + "".join(f"{step:>14}" for step in steps))
        for kind in kinds:
            for world in (SOME, MANY):
                told = [
                    found_rightly(
                        kind,
                        World(world.receivers, world.each, **{"farther" if kind in farther else "more": step}),
                        seeds,
                    )
                    for step in steps
                ]
                cells = [f"{100 * right:.0f} ({100 * wrong:.1f})" for right, wrong in told]
                print(f"{kind:18}{world.receivers:10}" + "".join(f"{cell:>14}" for cell in cells))
        print()


if __name__ == "__main__":
    main()

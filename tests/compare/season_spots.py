"""Two months of reports with a known truth: a station, its neighbours, and what they did.

    python -m tests.compare.season_spots [runs]     prints the table of the whole chain of reach/compare/season/METHOD.md

Everything is made up and seeded. Every transmitter sends once an hour; a report is the receiver's and the transmitter's
share, the band's day and hour, the transmitter's own share of that day, a share of receiver, transmitter and day, and fading,
in whole dB, kept above the receiver's limit.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from reach.compare.season import season
from reach.compare.season.found import Season, Whose

HOLDOUT = 700_000
START = pd.Timestamp("2026-09-01", tz="UTC")
NAMES = ("EI2QTC", "EI7QTD", "EI8QTE", "EI6QTF")  # controls
PLACES = ("IO51es", "IO51gu", "IO51lv", "IO52ja", "IO63aa")


@dataclass(frozen=True)
class World:
    """What happens.

    controls  how many; own_db : daily share of one transmitter alone; phi : of the day before that it keeps
    wander_db : slow wander of each transmitter, memory of eight days
    steps     transmitter (0 the station) -> (day, dB); spell : (first day, days, dB) of the station; slow : (first, days, dB)
    level_db  mean level above the receivers' limit
    """

    days: int = 60
    controls: int = 3
    receivers: int = 12
    own_db: float = 1.5
    phi: float = 0.2
    wander_db: float = 0.0
    steps: dict[int, tuple[int, float]] = field(default_factory=dict)
    spell: tuple[int, int, float] | None = None
    slow: tuple[int, int, float] | None = None
    level_db: float = 10.0
    hours: tuple[int, ...] = tuple(range(24))
    heavy: bool = False


def _chain(rng: np.random.Generator, n: int, phi: float, sd: float, heavy: bool = False) -> np.ndarray:
    raw = rng.standard_t(4, n) / np.sqrt(2) if heavy else rng.standard_normal(n)
    y = np.empty(n)
    y[0] = raw[0]
    for k in range(1, n):
        y[k] = phi * y[k - 1] + np.sqrt(1 - phi**2) * raw[k]
    return sd * y


def _done(world: World, who: int) -> np.ndarray:
    """What was done to a transmitter, day by day [dB]."""
    day, change = np.arange(world.days), np.zeros(world.days)
    if who in world.steps:
        at, db = world.steps[who]
        change += db * (day >= at)
    if who == 0 and world.spell is not None:
        at, long, db = world.spell
        change += db * ((day >= at) & (day < at + long))
    if who == 0 and world.slow is not None:
        at, long, db = world.slow
        change += db * np.clip((day - at) / long, 0, 1)
    return change


def make(world: World, seed: int) -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    """The station's spots and those of its controls."""
    rng = np.random.default_rng([seed, 17])
    n, many, hours = world.days, world.receivers, np.array(world.hours)
    floor = -27.0 + rng.normal(0, 1.5, many)
    usual = floor + world.level_db + rng.normal(0, 4, many)
    shared = _chain(rng, n, 0.5, 3.0)[:, None] + rng.normal(0, 1, (n, many))
    curve = 5 * np.cos((hours[:, None] - rng.uniform(0, 24, many)) / 24 * 2 * np.pi)
    tables = []
    for who in range(world.controls + 1):
        own = _chain(rng, n, world.phi, world.own_db, world.heavy) + _chain(rng, n, np.exp(-1 / 8), world.wander_db)
        liking = rng.normal(0, 2, many)
        at_day = usual + liking + shared + rng.normal(0, 1.5, (n, many)) + (own + _done(world, who))[:, None]
        level = at_day[:, None, :] + curve[None] + rng.normal(0, 4, (n, len(hours), many))
        minute = rng.integers(0, 4, (n, len(hours))) * 2
        day, hour, rx = np.nonzero((level >= floor) & (rng.random(level.shape) < 0.8))
        tables.append(
            pd.DataFrame(
                {
                    "time_utc": START + pd.to_timedelta(day * 1440 + hours[hour] * 60 + minute[day, hour], unit="min"),
                    "rx_call": pd.Categorical.from_codes(rx, [f"DL{k}QT{chr(65 + k % 26)}" for k in range(many)]),
                    "rx_locator": pd.Categorical.from_codes(rx, [f"JN{10 + k}aa" for k in range(many)]),
                    "snr_db": np.round(level[day, hour, rx]).astype("float32"),
                    "band": pd.Categorical.from_codes(np.zeros(len(day), int), ["20m"]),
                    "tx_locator": pd.Categorical.from_codes(np.zeros(len(day), int), [PLACES[who]]),
                }
            )
        )
    return tables[0], dict(zip(NAMES, tables[1:], strict=False))


def look(world: World, seed: int, **given: object) -> Season:
    """What the tool says."""
    spots, controls = make(world, seed)
    return season(spots, controls, **given)  # type: ignore[arg-type]


QUIET = (
    ("three controls", World()),
    ("two controls", World(controls=2)),
    ("weak signals", World(level_db=2.0)),
    ("wander 0.3 dB", World(wander_db=0.3)),
    ("wander 0.8 dB", World(wander_db=0.8)),
    ("five hours an evening", World(hours=(17, 18, 19, 20, 21))),
    ("own days heavy-tailed", World(heavy=True)),
)
CHANGED = (
    ("-3 dB after 30 days", World(steps={0: (30, -3.0)}), -3.0, 30),
    ("-6 dB after 30 days", World(steps={0: (30, -6.0)}), -6.0, 30),
    ("-6 dB, weak signals", World(steps={0: (30, -6.0)}, level_db=2.0), -6.0, 30),
    ("-4 dB, 10 days left", World(steps={0: (50, -4.0)}), -4.0, 50),
    ("-3 dB, one control", World(steps={0: (30, -3.0)}, controls=1), -3.0, 30),
    ("-3 dB; a control +4 dB", World(steps={0: (30, -3.0), 2: (20, 4.0)}), -3.0, 30),
    ("-6 dB for 5 days", World(spell=(30, 5, -6.0)), -6.0, 30),
)


def near(found: Season, at: int) -> list:
    """Changes within 14 days of the truth."""
    return [each for each in found.changes if abs((each.day - START.date()).days - at) <= 14]


def main(runs: int) -> None:
    """Print the tables."""
    quiet(runs)
    moved(runs // 2)
    changed(runs // 2)


def quiet(runs: int) -> None:
    """False claims where nothing changed."""
    from tests.compare.season_simulator import poisson

    print("| 60 quiet days | months | false claims | in 100 months | 95 % range |\n|---|---|---|---|---|")
    for name, world in QUIET:
        claimed = sum(bool(look(world, HOLDOUT + k).changes) for k in range(runs))
        months = runs * 60 / 30.44
        rate, low, high = poisson(claimed, months / 100)
        print(f"| {name} | {months:.0f} | {claimed} | {rate:.1f} | {low:.1f} to {high:.1f} |", flush=True)


def moved(runs: int) -> None:
    """A control that changed, the station quiet."""
    found = [look(World(steps={2: (30, 4.0)}), HOLDOUT + k) for k in range(runs)]
    out = sum(NAMES[1] in {each.name for each in one.controls if each.changed} for one in found)
    blamed = sum(any(each.whose is Whose.STATION for each in one.changes) for one in found)
    print(f"\na control +4 dB: left out in {out} of {runs}, the station blamed in {blamed}", flush=True)


def changed(runs: int) -> None:
    """What is found of what was done."""
    print(
        "\n| what was done | runs | found | day error | day in set | size error | size covered | +- | said of the station |"
    )
    print("|---|---|---|---|---|---|---|---|---|", flush=True)
    for name, world, size, at in CHANGED:
        when = (START + pd.Timedelta(days=at)).date()
        rows = []
        for k in range(runs):
            there = near(look(world, 3 * HOLDOUT + k), at)
            if there:
                one = max(there, key=lambda each: each.excess)
                held = one.low_db <= size <= one.high_db
                half, ours = (one.high_db - one.low_db) / 2, one.whose is Whose.STATION
                rows.append(
                    (abs((one.day - when).days), one.first <= when <= one.last, one.size_db - size, held, half, ours)
                )
        r = np.array(rows, dtype=float).reshape(-1, 6)
        print(
            f"| {name} | {runs} | {len(r) / runs:.0%} | {np.median(r[:, 0]):.0f} d | {r[:, 1].mean():.0%} "
            f"| {r[:, 2].mean():+.2f} | {r[:, 3].mean():.0%} | {r[:, 4].mean():.1f} | {int(r[:, 5].sum())} of {len(r)} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)

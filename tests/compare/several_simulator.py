"""Spots of three to eight setups in turn with known levels: the world of `simulator`, with more than two antennas in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from tests.compare import simulator
from tests.compare.simulator import FIRST, Scenario

NAMES = "ABCDEFGH"
TWELVE_HOURS = Scenario("turns")


@dataclass(frozen=True)
class Turns:
    """Setups in turn.

    levels_db  of A, B, C, ... [dB above some common level]
    order      plain | drawn (each round in an order of its own) | reversed (every second round backwards) | apart (the first
               half of the setups in the first half of the time) | long (each once, one after the other)
    world      everything else; its truth and design are not used
    """

    name: str
    levels_db: tuple[float, ...]
    order: str = "plain"
    world: Scenario = TWELVE_HOURS

    @property
    def setups(self) -> tuple[str, ...]:
        return tuple(NAMES[: len(self.levels_db)])


def make(turns: Turns, seed: int) -> pd.DataFrame:
    """Spots of one seeded run: time_utc, rx_call, rx_locator, snr_db, band, setup, distance_km, bearing_deg."""
    sc = turns.world
    rng = np.random.default_rng([seed, sum(map(ord, turns.name))])
    time_min = np.arange(0, sc.hours * 60, sc.slot_min) + sc.start_min
    block = ((time_min - sc.start_min) // sc.block_min).astype(int)
    setup = _order(turns, rng, int(block.max()) + 1)[block]
    band = np.zeros(len(time_min), dtype=int)
    distance_km = 10 ** rng.uniform(np.log10(300), np.log10(9000), sc.receivers)
    bearing_deg = rng.uniform(0, 360, sc.receivers)
    path = simulator._path(sc, rng, time_min, band, distance_km)
    own = rng.normal(0, sc.truth_sd_db, (sc.receivers, len(turns.levels_db))) if sc.truth_sd_db else 0.0
    gain = np.asarray(turns.levels_db)[None, :] + np.zeros((sc.receivers, 1)) + own
    some = np.zeros(len(time_min), dtype=bool)
    listening = simulator._listening(sc, rng, sc.receivers, time_min, some)
    limit = np.full(sc.receivers, simulator.DECODING_LIMIT_DB)
    level = path + gain[:, setup]
    table = simulator._heard(sc, rng, level, np.ones(len(time_min)), listening, limit, time_min, some, band)
    slot = np.round(
        (table["time_utc"] - FIRST).dt.total_seconds().to_numpy() / 60 / sc.slot_min - sc.start_min / sc.slot_min
    )
    at = table["rx_call"].cat.codes.to_numpy()
    return table.assign(
        setup=pd.Categorical.from_codes(setup[slot.astype(int)], list(turns.setups)),
        distance_km=distance_km[at],
        bearing_deg=bearing_deg[at],
    )


def _order(turns: Turns, rng: np.random.Generator, blocks: int) -> np.ndarray:
    """Which setup is on in each block."""
    n = len(turns.levels_db)
    rounds = -(-blocks // n)
    if turns.order == "plain":
        order = np.tile(np.arange(n), rounds)
    elif turns.order == "drawn":
        order = np.concatenate([rng.permutation(n) for _ in range(rounds)])
    elif turns.order == "reversed":
        order = np.concatenate([np.arange(n)[:: 1 if k % 2 == 0 else -1] for k in range(rounds)])
    elif turns.order == "long":
        order = np.repeat(np.arange(n), -(-blocks // n))
    elif turns.order == "apart":
        half = blocks // 2
        first, rest = np.arange(n // 2), np.arange(n // 2, n)
        order = np.concatenate([np.resize(first, half), np.resize(rest, blocks - half)])
    else:
        raise ValueError(turns.order)
    return order[:blocks]


CASES = (
    Turns("three: 2, 0, 0", (2, 0, 0)),
    Turns("three, none", (0, 0, 0)),
    Turns("three, order drawn each round", (2, 0, 0), order="drawn"),
    Turns("three, slot by slot", (2, 0, 0), world=Scenario("turns", block_min=2)),
    Turns("three, C 12 dB weaker", (0, 0, -12)),
    Turns("three, 15 receivers", (2, 0, 0), world=Scenario("turns", receivers=15)),
    Turns("three, 4 hours", (2, 0, 0), world=Scenario("turns", hours=4)),
    Turns("three, closing band, none", (0, 0, 0), world=Scenario("turns", trend_db=-20)),
    Turns("three, receivers differ, sd 2 dB", (2, 0, 0), world=Scenario("turns", truth_sd_db=2)),
    Turns("four: 3, 1, 1, -2", (3, 1, 1, -2)),
    Turns("four, none, order drawn", (0, 0, 0, 0), order="drawn"),
    Turns("five: 3, 2, 0, 0, -1", (3, 2, 0, 0, -1)),
    Turns("five, none", (0, 0, 0, 0, 0)),
    Turns("five, none, order drawn", (0, 0, 0, 0, 0), order="drawn"),
    Turns("eight, none, 5-minute blocks", (0,) * 8, world=Scenario("turns", block_min=5)),
    Turns("A, B in the morning, C, D after noon", (2, 0, 2, 0), order="apart"),
    Turns("four hours each", (2, 0, 0), order="long"),
)

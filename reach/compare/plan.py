"""Planning: how long to alternate two setups for a wanted half-width, and a schedule to follow.

The hours come from the law in `design.py`. Earlier spots make it the user's own: how many receivers heard the station,
and how wide the interval really was. Where they hold one setup only, setups are dealt out to them as a schedule would,
and the method is run on that: whatever it finds is chance, and its interval is what a real comparison would have had.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from enum import StrEnum
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import clock
from reach.assign import schedule as schedules
from reach.base import bands as known
from reach.compare import compare
from reach.compare import design as designs
from reach.compare.checks import FEWEST_RECEIVERS
from reach.compare.comparison import Comparison, DesignKind
from reach.compare.design import PAUSE_MIN
from reach.errors import CompareError

HALF_WIDTH_DB: Final = 1.0
RECEIVERS: Final = 20
BLOCK_MIN: Final = 10.0
BLOCKS_MIN: Final = (2.0, 5.0, 10.0, 20.0, 30.0)
TABLE_HOURS: Final = (2.0, 3.0, 6.0, 12.0, 24.0)
FITTED_HOURS: Final = 24.0
LONGEST_HOURS: Final = 1000.0
DEALS: Final = 5
MOST_DRAWS: Final = 100
TURNS_FACTOR: Final = 1.45  # bands in turn: intervals against one band of as many hours, in simulation (METHOD.md)
REGULAR_REPORTS: Final = 6  # a receiver with as many counts as one that will hear both setups


class Source(StrEnum):
    """What a plan rests on."""

    ASSUMED = "assumed"  # no earlier spots
    ALTERNATED = "alternated"  # two setups took turns in them
    DEALT = "dealt-out"  # setups were dealt out to them by coin
    TOO_FEW = "too-few"  # they show how many listen, but not how the band moves


@dataclass(frozen=True)
class Earlier:
    """What earlier spots told.

    receivers  that were paired, or, where there were too few spots, that reported `regular_reports` times or more; None
               where nothing is known
    factor     how much wider (or narrower) intervals are here than the law says, 1 where nothing is known
    a, b       the setups that alternated; '' where none did
    """

    source: Source
    receivers: int | None = None
    factor: float = 1.0
    a: str = ""
    b: str = ""
    regular_reports: int = REGULAR_REPORTS


@dataclass(frozen=True)
class Row:
    """One line of the table: a length of block.

    block_min   0: both setups on the air at once, on two frequencies or with two callsign suffixes
    hours       for the wanted half-width; never less than the least session
    blocks      how many blocks that is, an even number; None where both are on the air at once
    half_width_db  after each of TABLE_HOURS; None where such a session would be refused
    """

    block_min: float
    hours: float
    blocks: int | None
    half_width_db: tuple[float | None, ...]


@dataclass(frozen=True)
class Plan:
    """How long to alternate.

    half_width_db  wanted, of the 95 % interval [dB]
    receivers      that hear both setups: assumed, or counted in earlier spots
    factor         how much wider (or narrower) intervals are here than the law says, 1 where nothing is known
    from_spots     what that rests on
    block_min, hours, blocks  the answer
    table_hours    columns of the table
    table          a row a length of block
    bands          gone through in turn, a block of each setup on each; empty for one
    return_min     from one visit to a band to the next; None for one
    """

    half_width_db: float
    receivers: int
    factor: float
    from_spots: Earlier
    block_min: float
    hours: float
    blocks: int
    table_hours: tuple[float, ...]
    table: tuple[Row, ...]
    bands: tuple[str, ...] = ()
    return_min: float | None = None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the field names. With sentences: `reach.tell.sentences.plan.document`."""
        plain = asdict(self)
        return {**plain, "from_spots": {**plain["from_spots"], "source": str(self.from_spots.source)}}


def plan(
    spots: pd.DataFrame | None = None,
    *,
    half_width_db: float = HALF_WIDTH_DB,
    receivers: int | None = None,
    block_min: float = BLOCK_MIN,
    bands: Sequence[str] = (),
    seed: int = 0,
) -> Plan:
    """How many hours and blocks for a wanted half-width.

    spots : earlier spots, as `compare` takes them (`setup` not needed), or None
    half_width_db : of the 95 % interval [dB], > 0
    receivers : that will hear both setups, >= 3; counted in `spots`, or 20, where left out
    block_min : length of a block [minutes], 1 to 60; shorter is better
    bands : to go through in turn, a block of each setup on each; none or one: all on one band
    seed : for dealing setups out to earlier spots
    CompareError where a number is out of range.
    """
    if not 0 < half_width_db < 20:
        raise CompareError(f"a half-width is more than 0 and less than 20 dB, not {half_width_db!r}")
    if receivers is not None and receivers < FEWEST_RECEIVERS:
        raise CompareError(f"a comparison needs {FEWEST_RECEIVERS} receivers or more, not {receivers!r}")
    if not 1 <= block_min <= 60:
        raise CompareError(f"a block lasts 1 to 60 minutes, not {block_min!r}")
    turns = _turns(bands, block_min)
    seen = _seen(spots, seed) if spots is not None else Earlier(Source.ASSUMED)
    heard = seen.receivers if (seen.receivers or 0) >= FEWEST_RECEIVERS else None
    count = receivers or heard or RECEIVERS
    lengths = sorted({*BLOCKS_MIN, block_min})
    factor = seen.factor * (TURNS_FACTOR if turns else 1.0)
    table = tuple(_row(length, count, factor, half_width_db, len(turns) or 1) for length in (0.0, *lengths))
    answer = next(row for row in table if row.block_min == block_min)
    return Plan(
        half_width_db,
        count,
        seen.factor,
        seen,
        block_min,
        answer.hours,
        answer.blocks or 0,
        TABLE_HOURS,
        table,
        turns,
        2 * block_min * len(turns) if turns else None,
    )


def _turns(names: Sequence[str], block_min: float) -> tuple[str, ...]:
    """The bands in the order given; empty for one. CompareError where one is no band, comes twice or comes round too late."""
    for name in names:
        if name not in known.names():
            raise CompareError(f"no band is called {name!r}; wanted names such as 20m, of {', '.join(known.names())}")
    if len(set(names)) < len(names):
        raise CompareError(f"bands in turn are different ones, not {', '.join(names)}")
    again_min = 2 * block_min * len(names)
    if len(names) > 1 and again_min > PAUSE_MIN:
        raise CompareError(
            f"with {len(names)} bands of two {block_min:g}-minute blocks each is heard again after {again_min:g} minutes, and "
            f"must be within {PAUSE_MIN:g}: take fewer bands or shorter blocks"
        )
    return tuple(names) if len(names) > 1 else ()


def _row(block_min: float, receivers: int, factor: float, half_width_db: float, bands: int = 1) -> Row:
    together = block_min == 0
    law = designs.law(together, block_min)
    hours = min(designs.hours_needed(together, block_min, receivers, half_width_db / factor), LONGEST_HOURS)
    blocks = None if together else 2 * bands * int(np.ceil(hours * 60 / block_min / 2 / bands - 1e-9))
    widths = tuple(
        None if one < law.shortest_hours else factor * designs.half_width_db(together, block_min, receivers, one)
        for one in TABLE_HOURS
    )
    return Row(block_min, hours if blocks is None else blocks * block_min / 60, blocks, widths)


def _seen(spots: pd.DataFrame, seed: int) -> Earlier:
    """From a real alternation in the spots where there is one, else from setups dealt out to them."""
    real = _real(spots)
    if real is not None:
        return Earlier(Source.ALTERNATED, real.receivers, _factor([real]), real.a, real.b)
    dealt = [found for k in range(DEALS) if (found := _dealt(spots, seed + k)).low_db is not None]
    if not dealt:
        heard = spots.groupby("rx_call", observed=True).size()
        return Earlier(Source.TOO_FEW, int((heard >= REGULAR_REPORTS).sum()))
    return Earlier(Source.DEALT, int(np.median([found.receivers for found in dealt])), _factor(dealt))


def _real(spots: pd.DataFrame) -> Comparison | None:
    """The two setups with most reports compared, where they alternated."""
    if "setup" not in spots.columns:
        return None
    most = [str(name) for name in spots["setup"].value_counts().index[:2]]
    if len(most) < 2:
        return None
    found = compare(_bare(spots), *sorted(most), in_detail=False)
    alternated = found.design is not None and found.design.kind in (DesignKind.ALTERNATING, DesignKind.SIMULTANEOUS)
    return found if alternated and found.low_db is not None else None


def _dealt(spots: pd.DataFrame, seed: int) -> Comparison:
    """The comparison of two names dealt out to the times of the most reported setup, in 10-minute blocks."""
    if "setup" in spots.columns and spots["setup"].notna().any():
        most = spots["setup"].value_counts().index[0]
        spots = spots[(spots["setup"] == most).to_numpy()]
    block = schedules.micros(spots["time_utc"]) // int(BLOCK_MIN * 60e6)
    pair, which = np.unique(block // 2, return_inverse=True)
    first = np.random.default_rng([seed]).integers(0, 2, len(pair))[which]
    names = np.where((block + first) % 2 == 0, "a", "b")
    return compare(_bare(spots).assign(setup=pd.Categorical(names, categories=["a", "b"])), "a", "b", in_detail=False)


def _bare(spots: pd.DataFrame) -> pd.DataFrame:
    """Without what only the breakdown needs."""
    named = ["time_utc", "rx_call", "rx_locator", "snr_db", "band", "mode", "setup"]
    return spots[[name for name in named if name in spots.columns]]


def _factor(found: Sequence[Comparison]) -> float:
    """How much wider their intervals are than the law says, the geometric mean."""
    ratios = []
    for one in found:
        assert one.low_db is not None and one.high_db is not None and one.design is not None
        together = one.design.kind == DesignKind.SIMULTANEOUS
        block_min = one.design.period_min or BLOCK_MIN
        usual = designs.half_width_db(together, block_min, one.receivers, max(one.design.hours, 1.0))
        ratios.append((one.high_db - one.low_db) / 2 / usual)
    return float(np.exp(np.mean(np.log(ratios))))


def deal(
    a: str,
    b: str,
    *,
    start: datetime,
    blocks: int,
    block_min: float = BLOCK_MIN,
    session_hours: float | None = None,
    bands: Sequence[str] = (),
    seed: int = 0,
) -> pd.DataFrame:
    """A schedule: pairs of blocks, a coin deciding which setup goes first in each.

    With bands in turn each pair is a visit to the next band; the coin is tossed for every other visit to a band, and the
    visit after it has the order reversed, so that what a band does within a visit falls on both setups alike.

    An order that happens to repeat, as A-B-A-B does, is drawn again: shifted by one block it would be the same plan with the
    setups exchanged, so that no report could tell a clock that is wrong from the other setup being better.

    a, b : names of the setups, different and not blank
    start : of the first block, with its offset from UTC
    blocks : how many, rounded up to whole pairs; block_min : minutes each
    session_hours : hours a day; the next session starts 24 hours after the one before; None: all in one go
    bands : gone through in turn, as `plan` takes them
    seed : the same seed gives the same schedule
    Returns schedule.SCHEDULE, in time order, and `band` where there are several. CompareError where the session is shorter than a pair, or a name is wrong.
    """
    if not a.strip() or not b.strip() or a == b:
        raise CompareError(f"a schedule needs two different setups, not {a!r} and {b!r}")
    pairs = max(1, -(-blocks // 2))
    a_day = pairs if session_hours is None else int(session_hours * 60 / (2 * block_min) + 1e-9)
    if a_day < 1 or (session_hours is not None and session_hours > 24):
        raise CompareError(
            f"a session lasts from {2 * block_min / 60:.2g} hours (a pair of blocks) to 24, not {session_hours}"
        )
    turns = _turns(bands, block_min)
    coin = _coins(pairs, np.random.default_rng([seed]), len(turns))
    length = timedelta(minutes=block_min)
    rows: list[tuple[datetime, datetime, str]] = []
    for pair in range(pairs):
        day, place = divmod(pair, a_day)
        begin = start + timedelta(days=day) + 2 * place * length
        order = (a, b) if coin[pair] else (b, a)
        rows += [(begin, begin + length, order[0]), (begin + length, begin + 2 * length, order[1])]
    made = schedules.table(rows)
    return made.assign(band=[turns[k // 2 % len(turns)] for k in range(len(made))]) if turns else made


def _coins(pairs: int, rng: np.random.Generator, bands: int = 0) -> npt.NDArray[np.int64]:
    """Which setup goes first in each pair, such that the plan does not repeat; with one or two pairs there is no choice.

    bands : in turn; every second visit to each then has the order of the visit before reversed
    """
    for _ in range(MOST_DRAWS):
        coin = rng.integers(0, 2, pairs)
        for visit in range(bands or pairs, pairs):
            if visit // bands % 2:
                coin[visit] = 1 - coin[visit - bands]
        label = np.column_stack([2 * coin - 1, 1 - 2 * coin]).ravel()
        if clock.repeat_slots(label) is None:
            break
    return np.asarray(coin)

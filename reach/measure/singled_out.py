"""What the reports of a tally allow to be singled out: every claim of an hour, a direction, a square, a distance.

Pictures, page and slides read these; none of them looks for a largest of its own to name in a title.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands, keys
from reach.measure import claims, grain
from reach.measure.claims import FEW_REPORTS, Claim, Confounder, Kind
from reach.measure.grain import Unit
from reach.measure.sectors import CENTRES_DEG, SECTORS, ring_of, sector_of
from reach.measure.tally import Tally, hours_since_1970

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

# Steps of distance in which a median SNR is told: finer near by, where most reports are.
STRENGTH_EDGES_KM: Final = np.concatenate([500 * np.arange(6), 1000 * np.arange(3, 21)])
ENOUGH: Final = 8  # receivers, near and far, that the fall of the SNR with distance is told from
_HOURS: Final = range(24)


def found(tally: Tally, counts: Callable[[pd.DataFrame], Flags]) -> dict[Kind, Claim]:
    """Every claim that the counted rows may support.

    tally : of placed spots, with its cells
    counts : which rows of a table of it are of receivers that count
    Returns a Claim for each Kind but that of a long period (`of_steps`) and those of a comparison (RECEIVERS, STRETCHES).
    """
    # Counts add up, so nobody needs to go through a year's cells twelve times.
    by_hour, by_level = (rows[counts(rows)] for rows in (tally.pooled.by_hour, tally.pooled.by_level))
    timed = _by_hour(by_hour, "rx_locator", "distance_km", "bearing_deg")
    rows = _Rows(timed)
    sector = sector_of(timed["bearing_deg"])
    told = sector >= 0  # a report from the station's own cell has no direction
    listeners = (Confounder.LISTENERS,)
    locators = timed["rx_locator"].cat.remove_unused_categories().cat
    square = pd.Categorical([str(name)[:4] for name in locators.categories]).take(locators.codes.to_numpy())
    names = bands.in_order(map(str, timed["band"].cat.remove_unused_categories().cat.categories))
    of_band = timed["band"].cat.set_categories(names).cat.codes.to_numpy()  # -1 without a band
    return {
        Kind.FULLEST_HOUR: fullest_hour(by_hour),
        Kind.FARTHEST_HOUR: rows.farthest(Kind.FARTHEST_HOUR, _HOURS, rows.hour),
        Kind.FULLEST_SECTOR: rows.fullest(Kind.FULLEST_SECTOR, CENTRES_DEG, sector, told, listeners),
        Kind.FARTHEST_SECTOR: rows.farthest(Kind.FARTHEST_SECTOR, CENTRES_DEG, sector, told, listeners),
        Kind.FULLEST_SQUARE: rows.fullest(
            Kind.FULLEST_SQUARE, list(square.categories), square.codes, listeners=listeners
        ),
        Kind.FARTHEST_BAND: rows.farthest(
            Kind.FARTHEST_BAND, names, of_band, of_band >= 0, (Confounder.ON_THE_AIR,)
        ),
        Kind.HOUR_AND_SECTOR: rows.fullest(
            Kind.HOUR_AND_SECTOR, [(hour, way) for hour in _HOURS for way in CENTRES_DEG], rows.hour * SECTORS + sector,
            told, (Confounder.ON_THE_AIR, Confounder.LISTENERS),
        ),
        Kind.HOUR_OF_THE_FAR: _hour_of_the_far(rows, timed),
        Kind.CALENDAR_HOUR: _calendar_hour(tally.cells, counts(tally.cells)),
        Kind.WEAKER: _weaker(by_level),
    }  # fmt: skip


def _by_hour(rows: pd.DataFrame, *more: str) -> pd.DataFrame:
    """The rows by receiver, band, setup and hour of the day, and by what else is named."""
    return keys.added(
        rows[["rx_call", "band", "setup", "hour", "reports", *more]], ["rx_call", "band", "setup", "hour", *more]
    )


def fullest_hour(by_hour: pd.DataFrame) -> Claim:
    """Whether one hour of the day has more reports than every other; needs no locator, so it can be asked of all rows.

    by_hour : as `Pooled.by_hour`
    """
    rows = _Rows(_by_hour(by_hour))
    return rows.fullest(Kind.FULLEST_HOUR, _HOURS, rows.hour, listeners=(Confounder.ON_THE_AIR,))


def of_steps(cells: pd.DataFrame, step: npt.NDArray[Any], unit: Unit) -> dict[Kind, Claim]:
    """What a long period's weeks, months or years may support.

    cells : of a tally, of the receivers that count; step : of each, as `grain.number`; names are the first days of the steps
    """
    timed = keys.added(
        cells[["rx_call", "band", "setup", "reports", "distance_km"]].assign(at=step),
        ["rx_call", "band", "setup", "at", "distance_km"],
    )
    first, size = keys.span(timed["at"].to_numpy())
    steps, at = keys.distinct(timed["at"].to_numpy() - first, size)
    names = [grain.as_date(day) for day in grain.first_day(unit, first + steps)]
    on_the_air = (Confounder.ON_THE_AIR,)
    return {Kind.FARTHEST_STEP: _Rows(timed).farthest(Kind.FARTHEST_STEP, names, at, listeners=on_the_air)}


class _Rows:
    """Counted rows as arrays, and what each claim asks of them."""

    def __init__(self, cells: pd.DataFrame) -> None:
        self.receiver: Ints = cells["rx_call"].cat.codes.to_numpy().astype(np.int64)
        self.reports = cells["reports"].to_numpy().astype(float)
        self._cells = cells
        self.band, self.setup = (cells[name].cat.codes.to_numpy() for name in ("band", "setup"))

    @property
    def hour(self) -> Ints:
        """Of the day, where the rows have one."""
        return self._cells["hour"].to_numpy().astype(np.int64)

    @property
    def distance_km(self) -> npt.NDArray[np.float64]:
        """Of the path, where the rows have one."""
        return self._cells["distance_km"].to_numpy()

    def fullest(
        self, kind: Kind, names: Any, category: Any, some: Flags | None = None, listeners: tuple[Confounder, ...] = ()
    ) -> Claim:
        """`claims.fullest` of some rows, with what else sets the winner apart."""
        use = slice(None) if some is None else some
        at = np.asarray(category, np.int64)
        made = claims.fullest(kind, names, at[use], self.receiver[use], self.reports[use])
        return self._with_confounders(made, names, at, use, listeners)

    def farthest(
        self, kind: Kind, names: Any, category: Any, some: Flags | None = None, listeners: tuple[Confounder, ...] = ()
    ) -> Claim:
        """`claims.farthest` of distances, with what else sets the winner apart."""
        use = slice(None) if some is None else some
        at = np.asarray(category, np.int64)
        made = claims.farthest(
            kind, names, at[use], self.receiver[use], self.reports[use], self.distance_km[use]
        )  # fmt: skip
        return self._with_confounders(made, names, at, use, listeners)

    def _with_confounders(
        self, made: Claim, names: Any, at: Ints, use: Flags | slice, known: tuple[Confounder, ...]
    ) -> Claim:
        if made.winner is None:
            return made
        chosen = at[use] == list(names).index(made.winner)
        more = []
        if made.kind != Kind.FARTHEST_BAND and claims.mix_differs(chosen, self.band[use], self.reports[use]):
            more.append(Confounder.BAND)
        if claims.mix_differs(chosen, self.setup[use], self.reports[use]):
            more.append(Confounder.SETUP)
        return claims.confounded(made, (*known, *more))


def _calendar_hour(cells: pd.DataFrame, counted: Flags) -> Claim:
    """The hour of one day with most reports; names are hours since 1970."""
    # Cells are by hour already, so that adding them up would leave hardly fewer.
    some = cells.loc[counted, ["rx_call", "band", "setup", "reports"]]
    since_1970 = hours_since_1970(cells["hour_utc"])[counted]
    first, size = keys.span(since_1970)
    hours, at = keys.distinct(since_1970 - first, size)
    del since_1970
    told = [first + int(each) for each in hours]
    return _Rows(some).fullest(Kind.CALENDAR_HOUR, told, at, listeners=(Confounder.ON_THE_AIR,))


def _hour_of_the_far(rows: _Rows, cells: pd.DataFrame) -> Claim:
    """The hour of the day with most reports of the farthest ring that has any."""
    ring = ring_of(cells["distance_km"])
    far = ring == ring.max(initial=0)
    return rows.fullest(Kind.HOUR_OF_THE_FAR, _HOURS, rows.hour, far, (Confounder.ON_THE_AIR,))


def _weaker(by_level: pd.DataFrame) -> Claim:
    """Whether far reports are weaker than near ones, by median SNR.

    Near and far are the shortest and the longest stretch of whole steps that hold ENOUGH receivers, so that neither rests on
    a handful. Names are where near ends and far begins [km]; values are medians with their sign turned.
    """
    levels = keys.added(by_level, ["rx_call", "band", "setup", "distance_km", "snr_db"])
    rows = _Rows(levels)
    step = np.searchsorted(STRENGTH_EDGES_KM, rows.distance_km, side="right") - 1
    size = len(STRENGTH_EDGES_KM)
    edges = range(1, size)
    near = next((k for k in edges if _enough(rows, step < k)), size)
    far = next((k for k in reversed(edges) if _enough(rows, step >= k)), near)
    if near >= far:
        return Claim(Kind.WEAKER)
    use = (step < near) | (step >= far)
    return claims.farthest(
        Kind.WEAKER, [float(STRENGTH_EDGES_KM[k]) for k in (near, far)],
        (step[use] >= far).astype(np.int64), rows.receiver[use], rows.reports[use],
        -levels["snr_db"].to_numpy().astype(float)[use],
    )  # fmt: skip


def _enough(rows: _Rows, chosen: Flags) -> bool:
    return bool(rows.reports[chosen].sum() >= FEW_REPORTS and len(np.unique(rows.receiver[chosen])) >= ENOUGH)

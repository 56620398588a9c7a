"""A long period by the calendar: each day, each hour of the day month by month, the farthest of each month.

The one owner of the numbers behind the pictures of long periods and their tables. It is worked out from a tally, so whatever
adds tallies up adds this up; of parts that share no UTC day the tables of days are simply one below the other, and days and
reports of the hours can be added. Medians and receivers cannot, since one receiver may be in both.

Everything but `accepted` rests on corroborated receivers alone, as headlines do. A day without reports is one of two things,
which a log of times on the air can tell apart: silence, or a station that was switched off. Where there is no log, or one
that does not know of all days with reports, nobody can tell, and `in_use` says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands, keys, quantile
from reach.measure import grain, singled_out
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Claim, Kind
from reach.measure.grain import Grain, Unit
from reach.measure.reach import quantile_estimate
from reach.measure.tally import Tally, hours_since_1970
from reach.spots import CORROBORATED

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

FEW_DAYS: Final = 3  # with fewer a share of days says nothing
YES, NO, UNKNOWN = "yes", "no", "unknown"  # of `in_use`
DAYS: Final = {
    "day": ("date", "UTC day"),
    "accepted": ("int64", "all accepted spots, those with doubtful locators too"),
    "reports": ("int64", "spots of corroborated receivers; all below rests on them"),
    "receivers": ("int64", "distinct callsigns"),
    "median_km": ("float64", "half of the spots came from beyond; NaN without any"),
    "median_low_km": ("float64", "its 95 % interval, receivers being the observations; NaN with too few"),
    "median_high_km": ("float64", ""),
    "in_use": ("str", "yes or no by the schedule or the sessions; unknown where these do not tell"),
}
STEPS: Final = {
    "first_day": ("date", "the step's first UTC day; of week, month or year, as the file's name says"),
    "days": ("int64", "UTC days of it with a spot"),
    **{name: DAYS[name] for name in ("reports", "receivers", "median_km", "median_low_km", "median_high_km")},
    "p90_km": ("float64", "one in ten of the spots came from beyond"),
    "farthest_call": ("str", "the farthest receiver; empty without any"),
    "farthest_locator": ("str", ""),
    "farthest_km": ("float64", ""),
    "farthest_uncertainty_km": ("float64", "how far that may be off for the size of the cells"),
}
HOURS: Final = {
    "band": ("str", "empty: all bands together"),
    "first_day": STEPS["first_day"],
    "hour_utc": ("int64", "0..23"),
    "days": ("int64", "UTC days of the step with a spot on the band in that hour"),
    "days_heard": ("int64", "UTC days of the step with a spot on the band at any hour"),
    "share": ("float64", "days by days_heard; NaN where that is 0"),
    "reports": ("int64", ""),
    "receivers": ("int64", "distinct callsigns"),
    "in_use": ("str", "whether the station was in use in that hour on any day of the step, on whatever band"),
}
_PLACE: Final = ["tx_locator", "rx_call", "rx_locator"]
_NEEDED: Final = [*_PLACE, "band", "setup", "reports", "distance_km", "distance_uncertainty_km"]


@dataclass(frozen=True)
class Calendar:
    """A long period by the calendar.

    grain   in which steps it is drawn; steps and hours are by `grain.table`
    days    DAYS, every day from the first to the last with a spot
    steps   STEPS, every step from the first to the last, those without a spot too
    months  STEPS by month where the calendar is one of months (`grain.calendar`), else None
    hours   HOURS, the 24 hours of every step for each band, longest wave first, all together before them
    claims  what may be singled out of the steps
    """

    grain: Grain
    days: pd.DataFrame
    steps: pd.DataFrame
    hours: pd.DataFrame
    months: pd.DataFrame | None = None
    claims: Mapping[Kind, Claim] = field(default_factory=dict)

    @property
    def bands(self) -> tuple[str, ...]:
        """The bands that were heard, longest wave first."""
        return tuple(name for name in self.hours["band"].unique() if name)

    @property
    def knows_air(self) -> bool:
        """Whether it is known on which days the station was on the air."""
        return bool((self.days["in_use"] != UNKNOWN).all())


def is_few(rows: pd.DataFrame) -> Flags:
    """Where too few reports or receivers stand behind a distance for it to be told. rows : of DAYS or STEPS"""
    few: Flags = ((rows["reports"] < FEW_REPORTS) | (rows["receivers"] < FEW_RECEIVERS)).to_numpy()
    return few


def are_few_days(rows: pd.DataFrame) -> Flags:
    """Where the band was heard on too few days for a share of them to be told. rows : of HOURS"""
    few: Flags = (rows["days_heard"] < FEW_DAYS).to_numpy()
    return few


def calendar(tally: Tally, windows: pd.DataFrame | None = None) -> Calendar | None:
    """A period by the calendar; None where it is short (`measure.grain`), or nothing was counted.

    tally : of placed spots with `trust`, with its cells
    windows : when the station was on the air, as far as that is known: start, end [UTC]
    """
    cells = tally.cells
    if not len(cells) or "trust" not in cells:
        return None
    hour = hours_since_1970(cells["hour_utc"])
    first, last = int(hour.min()) // 24, int(hour.max()) // 24
    step = grain.grain(first, last)
    if step is None:
        return None
    # Of a year there are millions: no wider than they have to be.
    day, hour_of_day = (hour // 24 - first).astype(np.int32), (hour % 24).astype(np.int8)
    del hour
    accepted = np.bincount(day, cells["reports"]).astype(np.int64)
    air = _Air.of(windows, np.flatnonzero(accepted) + first)
    counted = (cells["trust"] == CORROBORATED).to_numpy()
    sure, day, hour_of_day = cells.loc[counted, _NEEDED], day[counted], hour_of_day[counted]
    places = _Places.of(sure)
    rows = _added(day, places.of_row, sure["reports"].to_numpy(), places)
    steps = grain.number(step.table, first + np.arange(len(accepted))).astype(np.int32)[day]
    return Calendar(
        grain=step,
        days=_days(rows, places, accepted, first, air),
        steps=_steps(rows, places, step.table, first, last),
        hours=_hours(_Moments(steps, day, hour_of_day), sure, step.table, first, last, air),
        months=_steps(rows, places, Unit.MONTH, first, last) if step.calendar is Unit.MONTH else None,
        claims=singled_out.of_steps(sure, steps, step.table),
    )


# --- on the air -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Air:
    """When the station was on the air. hours : those since 1970, in rising order; None where that is not known"""

    hours: Ints | None

    @classmethod
    def of(cls, windows: pd.DataFrame | None, heard: Ints) -> _Air:
        """windows : start, end, which is later; heard : days with a report, all of which a log must know to be believed of the others"""
        if windows is None:
            return cls(None)
        first = hours_since_1970(windows["start"])
        many = hours_since_1970(windows["end"].dt.ceil("h")) - first
        hours = np.unique(np.repeat(first - np.cumsum(many) + many, many) + np.arange(many.sum()))
        return cls(hours if np.isin(heard, hours // 24).all() else None)

    def on_days(self, days: Ints) -> npt.NDArray[Any]:
        """YES, NO or UNKNOWN for each day."""
        return self._said(days, None if self.hours is None else self.hours // 24)

    def in_hours(self, unit: Unit, step: Ints, hour: Ints) -> npt.NDArray[Any]:
        """The same for an hour of the day on any day of a step."""
        if self.hours is None:
            return self._said(step, None)
        return self._said(step * 24 + hour, grain.number(unit, self.hours // 24) * 24 + self.hours % 24)

    @staticmethod
    def _said(asked: Ints, on: Ints | None) -> npt.NDArray[Any]:
        if on is None:
            return np.full(len(asked), UNKNOWN, dtype=object)
        return np.where(np.isin(asked, on), YES, NO).astype(object)


# --- counted ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Places:
    """The distinct paths, the farthest first.

    call : a number for each callsign; far : call, locator, distance and its uncertainty, as STEPS names them; shape (places,)
    of_row : which of them each row has, shape (rows,)
    """

    km: npt.NDArray[np.float64]
    call: Ints
    far: pd.DataFrame
    of_row: npt.NDArray[np.int32]

    def __len__(self) -> int:
        return len(self.km)

    @classmethod
    def of(cls, cells: pd.DataFrame) -> _Places:
        values, row = keys.distinct(*keys.combine([keys.codes(cells[name]) for name in _PLACE]))
        some = cells.take(keys.first_rows(row, len(values)))
        call, locator = (some[name].cat.codes.to_numpy().astype(np.int64) for name in ("rx_call", "rx_locator"))
        order = np.lexsort((locator, call, -some["distance_km"].to_numpy()))
        rank = np.empty(len(order), dtype=np.int32)
        rank[order] = np.arange(len(order))
        some = some.take(order)
        far = pd.DataFrame(
            {
                "farthest_call": some["rx_call"].astype(object).to_numpy(),
                "farthest_locator": some["rx_locator"].astype(object).to_numpy(),
                "farthest_km": some["distance_km"].to_numpy(),
                "farthest_uncertainty_km": some["distance_uncertainty_km"].to_numpy(),
            }
        )
        return cls(some["distance_km"].to_numpy(), call[order], far, rank[row])


@dataclass(frozen=True)
class _Added:
    """Reports by step and place, in the order of steps, then from the farthest place to the nearest; shape (n,) each."""

    step: Ints
    place: Ints
    reports: Ints


def _added(step: npt.NDArray[Any], place: npt.NDArray[Any], reports: Ints, places: _Places) -> _Added:
    """Rows added up. step : from 0"""
    size = len(places)
    values, row = keys.distinct(step.astype(np.int64) * size + place, keys.room(step) * size)
    return _Added(*np.divmod(values, size), np.bincount(row, reports, len(values)).astype(np.int64))


def _days(rows: _Added, places: _Places, accepted: Ints, first: int, air: _Air) -> pd.DataFrame:
    days = np.arange(first, first + len(accepted))
    dates = [grain.as_date(day) for day in days]
    found = _figures(rows, places, len(days))
    table = pd.DataFrame({"day": dates, "accepted": accepted, **found, "in_use": air.on_days(days)})
    return table[list(DAYS)]


def _steps(rows: _Added, places: _Places, unit: Unit, first: int, last: int) -> pd.DataFrame:
    """rows : by day, the first being 0"""
    low, high = (int(each) for each in grain.number(unit, [first, last]))
    size = high - low + 1
    added = _added(grain.number(unit, rows.step + first) - low, rows.place, rows.reports, places)
    days = np.bincount(grain.number(unit, np.unique(rows.step) + first) - low, minlength=size).astype(np.int64)
    starts = grain.first_day(unit, np.arange(low, high + 1))
    found = _figures(added, places, size)
    table = pd.DataFrame({"first_day": [grain.as_date(day) for day in starts], "days": days, **found})
    return table[list(STEPS)]


def _figures(rows: _Added, places: _Places, size: int) -> dict[str, Any]:
    """How far and whom by, of each step."""
    edges = np.searchsorted(rows.step, np.arange(size + 1))
    km, call = places.km[rows.place], places.call[rows.place]
    parts = [slice(low, high) for low, high in zip(edges[:-1], edges[1:], strict=True)]
    medians = [quantile_estimate(km[part], rows.reports[part], 0.5) for part in parts]
    there = np.flatnonzero(np.diff(edges))
    far = places.far.take(rows.place[edges[there]])  # the first of a step is its farthest
    far = far.set_axis(there).reindex(range(size))
    text = {name: far[name].where(far[name].notna(), "") for name in ("farthest_call", "farthest_locator")}
    return {
        "reports": np.bincount(rows.step, rows.reports, size).astype(np.int64),
        "receivers": np.array([len(np.unique(call[part])) for part in parts], dtype=np.int64),
        "median_km": [each.value for each in medians],
        "median_low_km": [each.low for each in medians],
        "median_high_km": [each.high for each in medians],
        "p90_km": [float(quantile.weighted(km[part], rows.reports[part], [0.9])[0]) for part in parts],
        **{name: {**far, **text}[name].to_numpy() for name in far.columns},
    }


@dataclass(frozen=True)
class _Moments:
    """When each row was, shape (rows,). step : as `grain.number`; day : from the first; hour : of the day"""

    step: npt.NDArray[np.int32]
    day: npt.NDArray[np.int32]
    hour: npt.NDArray[np.int8]

    def __getitem__(self, chosen: Flags | slice) -> _Moments:
        return _Moments(self.step[chosen], self.day[chosen], self.hour[chosen])


def _hours(when: _Moments, cells: pd.DataFrame, unit: Unit, first: int, last: int, air: _Air) -> pd.DataFrame:
    """when : of the cells"""
    low, high = (int(each) for each in grain.number(unit, [first, last]))
    of_band, call = (cells[name].cat.codes.to_numpy() for name in ("band", "rx_call"))
    reports = cells["reports"].to_numpy()
    held = [str(name) for name in cells["band"].cat.categories]
    there = set(np.unique(of_band))
    names = bands.in_order(name for code, name in enumerate(held) if code in there)
    steps = np.arange(low, high + 1)
    parts = [("", slice(None)), *((name, of_band == held.index(name)) for name in names)]
    found = [_hours_of(name, when[some], call[some], reports[some], unit, steps, air) for name, some in parts]
    return pd.concat(found, ignore_index=True)


def _hours_of(
    band: str, when: _Moments, call: npt.NDArray[Any], reports: Ints, unit: Unit, steps: Ints, air: _Air
) -> pd.DataFrame:
    """The 24 hours of every step."""
    at = when.step - steps[0]
    cell, size = at * 24 + when.hour, 24 * len(steps)
    step, hour = np.repeat(steps, 24), np.tile(np.arange(24), len(steps))
    days, heard = _distinct(cell, when.day, size), np.repeat(_distinct(at, when.day, len(steps)), 24)
    return pd.DataFrame(
        {
            "band": band,
            "first_day": [grain.as_date(day) for day in grain.first_day(unit, step)],
            "hour_utc": hour,
            "days": days,
            "days_heard": heard,
            "share": np.divide(days, heard, out=np.full(size, np.nan), where=heard > 0),
            "reports": np.bincount(cell, reports, size).astype(np.int64),
            "receivers": _distinct(cell, call, size),
            "in_use": air.in_hours(unit, step, hour),
        }
    )[list(HOURS)]


def _distinct(group: npt.NDArray[Any], value: npt.NDArray[Any], size: int) -> Ints:
    """How many different values each group has. value : whole numbers from 0"""
    width = keys.room(value)
    key = group.astype(np.int64)
    key *= width
    key += value
    return np.bincount(keys.present(key, size * width) // width, minlength=size).astype(np.int64)

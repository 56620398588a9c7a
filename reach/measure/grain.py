"""In which steps a period is counted and drawn: one rule for pictures, page, slides and tables.

Up to FINE_DAYS a period is shown by minutes and hours. Beyond that bars stand for the finest of day, week, month and year of
which there are no more than MOST_STEPS: on a picture 1920 px wide each then has 14 px, and three of them from the back of the
room, which the eye still tells apart. Tables of hours, and the farthest of each step, take the next coarser step, so that
several days stand behind each.

| period | bars | hours, farthest | calendar |
|---|---|---|---|
| up to 10 days | ten minutes to an hour | none | none |
| up to 120 days | day | week | day |
| up to 120 weeks (two years and a quarter) | week | month | day |
| up to 120 months (ten years) | month | month | day |
| more | year | year | day, beyond twelve years month |

The page's grid of hours, which stands beside a map, has a row a day up to PAGE_DAYS and a row a month beyond; nine in ten
of its rows would else be thinner than the pointer. Days are UTC days, weeks begin on Monday.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]

FINE_DAYS: Final = 10
MOST_STEPS: Final = 120
PAGE_DAYS: Final = 60
MOST_YEARS: Final = 12  # of a calendar of days: seven rows a year leave each 8 px high
_THURSDAY: Final = 3  # 1 January 1970, counted from Monday


class Unit(StrEnum):
    """A step of the calendar."""

    DAY = "day"
    WEEK = "week"  # from Monday on
    MONTH = "month"
    YEAR = "year"


_UNITS: Final = tuple(Unit)


@dataclass(frozen=True)
class Grain:
    """The steps of a long period: of bars along it, of tables of hours and of the farthest, of the calendar."""

    bars: Unit
    table: Unit
    calendar: Unit


def grain(first_day: int, last_day: int) -> Grain | None:
    """The steps of a period.

    first_day, last_day : the UTC days of its first and its last report [days since 1970]
    Returns None for a period of up to FINE_DAYS.
    """
    if last_day - first_day + 1 <= FINE_DAYS:
        return None
    bars = next((unit for unit in _UNITS if _steps(unit, first_day, last_day) <= MOST_STEPS), Unit.YEAR)
    table = bars if bars in (Unit.MONTH, Unit.YEAR) else _UNITS[_UNITS.index(bars) + 1]
    years = _steps(Unit.YEAR, first_day, last_day)
    return Grain(bars, table, Unit.DAY if years <= MOST_YEARS else Unit.MONTH)


def _steps(unit: Unit, first_day: int, last_day: int) -> int:
    low, high = number(unit, np.array([first_day, last_day]))
    return int(high - low) + 1


def number(unit: Unit, day: npt.ArrayLike) -> Ints:
    """Which step each day lies in: whole numbers that rise by one from step to step, of days those since 1970.

    day : days since 1970, any shape
    """
    days = np.asarray(day, np.int64)
    if unit is Unit.DAY:
        return days
    if unit is Unit.WEEK:
        return (days + _THURSDAY) // 7
    return days.astype("datetime64[D]").astype(f"datetime64[{'M' if unit is Unit.MONTH else 'Y'}]").astype(np.int64)


def first_day(unit: Unit, step: npt.ArrayLike) -> Ints:
    """The day that a step begins with: the inverse of `number`."""
    steps = np.asarray(step, np.int64)
    if unit is Unit.DAY:
        return steps
    if unit is Unit.WEEK:
        return steps * 7 - _THURSDAY
    kind = "M" if unit is Unit.MONTH else "Y"
    return steps.astype(f"datetime64[{kind}]").astype("datetime64[D]").astype(np.int64)


def as_date(day: Any) -> date:
    """A day since 1970 as a date."""
    return date.fromordinal(int(day) + _EPOCH)


_EPOCH: Final = date(1970, 1, 1).toordinal()

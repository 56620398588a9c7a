"""Days that alternate: the setup changes only from day to day, many times; days are what counts.

Source on why receivers must not be counted as independent here: Bertrand, Duflo, Mullainathan (2004), How much should
we trust differences-in-differences estimates?, Quarterly J. Economics 119, 249-275.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare import limit as limits
from reach.compare.design import Alternation
from reach.compare.limit import Limits
from reach.compare.reports import Bools, Floats, Ints, Reports
from reach.compare.variance import interval

DAY_MIN: Final = 1440.0
HALF_HOUR_MIN: Final = 30.0
SLOWEST_DAILY_MIN: Final = 240.0
FEWEST_STRETCHES: Final = 4
FEWEST_DAYS: Final = 8
FEWEST_DAYS_EACH: Final = 3
FEWEST_RECEIVERS: Final = 4
PASSES: Final = 200
SETTLED_DB: Final = 1e-4
MOST_LIMIT_PASSES: Final = 25
SETTLED_LIMIT_DB: Final = 0.01
DAMPED_FROM: Final = 6
STEEPEST: Final = 0.9


@dataclass(frozen=True)
class DaysFound:
    """A difference with days as the units.

    difference_db, low_db, high_db  A minus B with its 95 % interval
    days_a, days_b                  days of each setup
    receivers, reports              what the days' levels were computed from
    kept_share                      reports above the common threshold (1 where none was needed)
    slope                           as `estimate.Fit.slope`
    """

    difference_db: float
    low_db: float
    high_db: float
    days_a: int
    days_b: int
    receivers: int
    reports: int
    kept_share: float
    slope: float


def alternating_days(reports: Reports, limit: Limits, design: Alternation) -> DaysFound | None:
    """Days of A and of B in turn, each report against its receiver's usual level at that half hour of the day.

    Returns DaysFound, or None where the days do not alternate often enough: at least 4 stretches of each setup, 8 days and
    4 receivers.
    """
    if design.period_min < SLOWEST_DAILY_MIN or min(design.runs_a, design.runs_b) < FEWEST_STRETCHES:
        return None
    day, keep = days(reports.time_min, reports.is_a)
    reports, limit, day = reports.take(keep), limit.take(keep), day[keep]
    if len(np.unique(day)) < FEWEST_DAYS or len(np.unique(reports.receiver)) < FEWEST_RECEIVERS:
        return None
    return settled(lambda beta: _days_fit(reports, limit, day, beta))


@dataclass(frozen=True)
class DayFit:
    """A difference with days as units, at some presumed difference.

    difference_db, error_db, df  estimate, standard error, degrees of freedom
    day_is_a   which setup each day had
    receivers  how many are left
    kept       mask of the reports above the threshold common to both setups
    """

    difference_db: float
    error_db: float
    df: float
    day_is_a: Bools
    receivers: int
    kept: Bools


def settled(fit_at: Callable[[float], DayFit | None]) -> DaysFound | None:
    """Let the presumed difference, which sets the common threshold, and the estimate agree.

    fit_at : the fit at a presumed difference [dB]
    Returns DaysFound, its standard error widened by what the limit costs; None where a fit fails.
    """
    beta, found = 0.0, fit_at(0.0)
    for step in range(MOST_LIMIT_PASSES):
        if found is None or abs(found.difference_db - beta) < SETTLED_LIMIT_DB:
            break
        beta = found.difference_db if step < DAMPED_FROM else (beta + found.difference_db) / 2
        found = fit_at(beta)
    up, down = fit_at(beta + 1.0), fit_at(beta - 1.0)
    if found is None or up is None or down is None:
        return None
    slope = (up.difference_db - down.difference_db) / 2
    error = found.error_db / (1 - min(max(slope, 0.0), STEEPEST))
    low, high = interval(found.difference_db, error, found.df)
    return DaysFound(
        difference_db=found.difference_db,
        low_db=low,
        high_db=high,
        days_a=int(found.day_is_a.sum()),
        days_b=int((~found.day_is_a).sum()),
        receivers=found.receivers,
        reports=int(found.kept.sum()),
        kept_share=float(found.kept.mean()),
        slope=slope,
    )


def days(time_min: Floats, is_a: Bools) -> tuple[Ints, Bools]:
    """Which day each report belongs to, a day beginning where fewest days hold both setups.

    Returns (day number, shape (n,); mask without the reports of the setup that a day has less of).
    """
    # Midnight UTC may lie in the middle of an evening: try every half hour and take the one that splits fewest.
    best: tuple[int, Ints, Bools] | None = None
    for begin in np.arange(0, DAY_MIN, HALF_HOUR_MIN):
        day = np.floor((time_min - begin) / DAY_MIN).astype(np.int64)
        day -= day.min()
        of_a = np.bincount(day, is_a)
        mostly_a = of_a >= np.bincount(day) - of_a
        keep = mostly_a[day] == is_a
        odd = int((~keep).sum())
        if best is None or odd < best[0]:
            best = odd, day, keep
    assert best is not None
    return best[1], best[2]


def _days_fit(reports: Reports, limit: Limits, day: Ints, beta_db: float) -> DayFit | None:
    kept = limits.kept(reports, limit, np.full(len(reports), beta_db))
    if not kept.any():
        return None
    half_hour = np.floor(np.mod(reports.time_min[kept], DAY_MIN) / HALF_HOUR_MIN).astype(np.int64)
    usual = np.unique(reports.unit[kept] * 48 + half_hour, return_inverse=True)[1]
    day_no, day_of = np.unique(day[kept], return_inverse=True)
    level = day_levels(reports.level_db[kept], usual, day_of)
    is_a = np.bincount(day_of, reports.is_a[kept]) > 0
    if min(is_a.sum(), (~is_a).sum()) < FEWEST_DAYS_EACH:
        return None
    # A straight line over the days goes out with the mean: a season's slope is neither setup's merit.
    design = np.column_stack([is_a.astype(float), np.ones(len(level)), day_no - day_no.mean()])
    solved, *_ = np.linalg.lstsq(design, level, rcond=None)
    left = level - design @ solved
    variance = left @ left / (len(level) - 3)
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    receivers = len(np.unique(reports.receiver[kept]))
    return DayFit(float(solved[0]), float(error), len(level) - 3, is_a, receivers, kept)


def day_levels(level_db: Floats, usual: Ints, day: Ints) -> Floats:
    """Level of each day once every receiver's usual level is taken off, by alternating projections."""
    per_usual, per_day = np.bincount(usual), np.bincount(day)
    of_day = np.zeros(len(per_day))
    for _ in range(PASSES):
        of_usual = np.bincount(usual, level_db - of_day[day]) / per_usual
        new = np.bincount(day, level_db - of_usual[usual]) / per_day
        moved = np.abs(new - new.mean() - of_day).max()
        of_day = new - new.mean()
        if moved < SETTLED_DB:
            break
    return of_day

"""Days that alternate: the setup changes only from day to day, many times; days are what counts.

Source on why receivers must not be counted as independent here: Bertrand, Duflo, Mullainathan (2004), How much should
we trust differences-in-differences estimates?, Quarterly J. Economics 119, 249-275.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare import estimate
from reach.compare.design import Alternation
from reach.compare.estimate import Limits
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
    day, keep, begin_min = days(reports.time_min, reports.is_a)
    reports, limit, day = reports.take(keep), limit.take(keep), day[keep]
    if len(np.unique(day)) < FEWEST_DAYS or len(np.unique(reports.receiver)) < FEWEST_RECEIVERS:
        return None
    return settled(lambda beta: _days_fit(reports, limit, day, begin_min, beta))


@dataclass(frozen=True)
class DayFit:
    """A difference with days as units, at some presumed difference.

    difference_db, error_db, df  estimate, standard error, degrees of freedom
    day_is_a   which setup each day had
    receivers  how many are left
    kept       share of each report above the threshold common to both setups
    """

    difference_db: float
    error_db: float
    df: float
    day_is_a: Bools
    receivers: int
    kept: Floats


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
        reports=int((found.kept > estimate.LEAST_SHARE).sum()),
        kept_share=float(found.kept.mean()),
        slope=slope,
    )


def days(time_min: Floats, is_a: Bools) -> tuple[Ints, Bools, float]:
    """Which day each report belongs to, a day beginning where fewest reports lie on a day with more of the other setup.

    Returns (day number, shape (n,); mask without the reports of the setup that a day has less of; when days begin [min]).
    """
    # Midnight UTC may lie in the middle of an evening. A day begins in the middle of some change of setup, so that nothing
    # hangs on where the clock happens to stand.
    best: tuple[int, Ints, Bools, float] | None = None
    for begin in _changes(time_min, is_a):
        day = np.floor((time_min - begin) / DAY_MIN).astype(np.int64)
        day -= day.min()
        of_a = np.bincount(day, is_a)
        mostly_a = of_a >= np.bincount(day) - of_a
        keep = mostly_a[day] == is_a
        odd = int((~keep).sum())
        if best is None or odd < best[0]:
            best = odd, day, keep, float(begin)
    assert best is not None
    return best[1:]


def _changes(time_min: Floats, is_a: Bools) -> Floats:
    """Times of day at which setups changed, each once, those in the middle of the longest silence first [min]."""
    order = np.lexsort((is_a, time_min))
    time, label = time_min[order], is_a[order]
    at = np.flatnonzero(label[1:] != label[:-1])
    silence = time[at + 1] - time[at]
    middle = np.round(np.mod((time[at] + time[at + 1]) / 2, DAY_MIN), 6)
    return np.asarray(list(dict.fromkeys(middle[np.argsort(-silence, kind="stable")])) or [0.0])


def _days_fit(reports: Reports, limit: Limits, day: Ints, begin_min: float, beta_db: float) -> DayFit | None:
    cut = estimate.above(reports, limit, beta_db, estimate.usual_power(reports))
    some = cut.some
    if not some.any():
        return None
    half_hour = np.floor(np.mod(reports.time_min[some] - begin_min, DAY_MIN) / HALF_HOUR_MIN).astype(np.int64)
    usual = np.unique(reports.unit[some] * 48 + half_hour, return_inverse=True)[1]
    day_no, day_of = np.unique(day[some], return_inverse=True)
    level = day_levels(cut.level_db[some], usual, day_of, cut.share[some])
    is_a = np.bincount(day_of, reports.is_a[some]) > 0
    if min(is_a.sum(), (~is_a).sum()) < FEWEST_DAYS_EACH:
        return None
    # A straight line over the days goes out with the mean: a season's slope is neither setup's merit.
    design = np.column_stack([is_a.astype(float), np.ones(len(level)), day_no - day_no.mean()])
    solved, *_ = np.linalg.lstsq(design, level, rcond=None)
    left = level - design @ solved
    variance = left @ left / (len(level) - 3)
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    receivers = len(np.unique(reports.receiver[some]))
    return DayFit(float(solved[0]), float(error), len(level) - 3, is_a, receivers, cut.share)


def day_levels(level_db: Floats, usual: Ints, day: Ints, share: Floats) -> Floats:
    """Level of each day once every receiver's usual level is taken off, by alternating projections.

    share : how much each report counts, > 0; all shape (n,)
    """
    per_usual, per_day = np.bincount(usual, share), np.bincount(day, share)
    of_day = np.zeros(len(per_day))
    for _ in range(PASSES):
        of_usual = np.bincount(usual, share * (level_db - of_day[day])) / per_usual
        new = np.bincount(day, share * (level_db - of_usual[usual])) / per_day
        moved = np.abs(new - new.mean() - of_day).max()
        of_day = new - new.mean()
        if moved < SETTLED_DB:
            break
    return of_day

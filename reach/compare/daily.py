"""Designs that change the setup only from day to day: wide intervals, days being what counts.

Days alternate: many days of A and of B in turn. Before and after with a control station: the control's setup did not
change, so what moved both is the band. Everything else that changes setup day by day is refused.
Source on why receivers must not be counted as independent here: Bertrand, Duflo, Mullainathan (2004), How much should
we trust differences-in-differences estimates?, Quarterly J. Economics 119, 249-275. Welch (1947), The generalization
of "Student's" problem when several different population variances are involved, Biometrika 34, 28-35.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare import floor
from reach.compare.design import Design
from reach.compare.floor import Limits
from reach.compare.reports import Bools, Floats, Ints, Reports
from reach.compare.variance import interval

DAY_MIN: Final = 1440.0
HALF_HOUR_MIN: Final = 30.0
SLOWEST_DAILY_MIN: Final = 240.0
FEWEST_STRETCHES: Final = 4
FEWEST_DAYS: Final = 8
FEWEST_DAYS_EACH: Final = 3
FEWEST_RECEIVERS: Final = 4
CONTROL_WITHIN_MIN: Final = 10.0
PASSES: Final = 200
SETTLED_DB: Final = 1e-4
MOST_FLOOR_PASSES: Final = 25
STEEPEST: Final = 0.9


@dataclass(frozen=True)
class Daily:
    """A difference with days as the units.

    difference_db, low_db, high_db  A minus B with its 95 % interval
    days_a, days_b                  days of each setup
    receivers, reports              what the days' levels were computed from
    kept_share                      reports above the common floor (1 where no floor was needed)
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


def alternating_days(reports: Reports, limit: Limits, design: Design, power_difference_db: float = 0.0) -> Daily | None:
    """Days of A and of B in turn, each report against its receiver's usual level at that half hour of the day.

    Returns Daily, or None where the days do not alternate often enough: at least 4 stretches of each setup, 8 days and
    4 receivers.
    """
    if design.period_min < SLOWEST_DAILY_MIN or min(design.runs_a, design.runs_b) < FEWEST_STRETCHES:
        return None
    day, keep = days(reports.time_min, reports.is_a)
    reports, limit, day = reports.take(keep), limit.take(keep), day[keep]
    if len(np.unique(day)) < FEWEST_DAYS or len(np.unique(reports.receiver)) < FEWEST_RECEIVERS:
        return None
    beta, found = 0.0, None
    for _ in range(MOST_FLOOR_PASSES):
        found = _days_fit(reports, limit, day, beta, power_difference_db)
        if found is None or abs(found[0] - beta) < 0.01:
            break
        beta = found[0]
    sides = [_days_fit(reports, limit, day, beta + by, power_difference_db) for by in (1.0, -1.0)]
    if found is None or sides[0] is None or sides[1] is None:
        return None
    slope = (sides[0][0] - sides[1][0]) / 2
    difference, error, day_is_a, kept = found
    error /= 1 - min(max(slope, 0.0), STEEPEST)
    low, high = interval(difference, error, len(day_is_a) - 3)
    return Daily(
        difference,
        low,
        high,
        int(day_is_a.sum()),
        int((~day_is_a).sum()),
        len(np.unique(reports.receiver[kept])),
        int(kept.sum()),
        float(kept.mean()),
        slope,
    )


def days(time_min: Floats, is_a: Bools) -> tuple[Ints, Bools]:
    """Which day each report belongs to, a day beginning where fewest days hold both setups.

    Returns (day number, shape (n,); mask without the reports of the setup that a day has less of).
    """
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


def _days_fit(
    reports: Reports, limit: Limits, day: Ints, beta_db: float, power_difference_db: float
) -> tuple[float, float, Bools, Bools] | None:
    """(difference, standard error, is each day A, mask kept) at a presumed difference."""
    kept = floor.kept(reports, limit, np.full(len(reports), beta_db), power_difference_db)
    if not kept.any():
        return None
    half_hour = np.floor(np.mod(reports.time_min[kept], DAY_MIN) / HALF_HOUR_MIN).astype(np.int64)
    usual = np.unique(reports.unit[kept] * 48 + half_hour, return_inverse=True)[1]
    day_no, day_of = np.unique(day[kept], return_inverse=True)
    level = _day_levels(reports.level_db[kept], usual, day_of)
    is_a = np.bincount(day_of, reports.is_a[kept]) > 0
    if min(is_a.sum(), (~is_a).sum()) < FEWEST_DAYS_EACH:
        return None
    design = np.column_stack([is_a.astype(float), np.ones(len(level)), day_no - day_no.mean()])
    solved, *_ = np.linalg.lstsq(design, level, rcond=None)
    left = level - design @ solved
    variance = left @ left / (len(level) - 3)
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    return float(solved[0]), float(error), is_a, kept


def _day_levels(level_db: Floats, usual: Ints, day: Ints) -> Floats:
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


def with_control(reports: Reports, control: Reports) -> Daily | None:
    """Each report against the control station's nearest report at the same receiver.

    reports, control : with receivers and channels (hence units) numbered alike; the control's setup did not change
    Returns Daily, or None with fewer than 3 days of either setup, or too few receivers that heard both stations.
    """
    row, nearest = _nearest(reports, control)
    if not len(row):
        return None
    chosen = reports.take(row)
    day, keep = days(chosen.time_min, chosen.is_a)
    difference = (chosen.level_db - control.level_db[nearest])[keep]
    chosen, day = chosen.take(keep), day[keep]
    if len(np.unique(chosen.receiver)) < FEWEST_RECEIVERS:
        return None
    _, day_of = np.unique(day, return_inverse=True)
    level = _day_levels(difference, np.unique(chosen.unit, return_inverse=True)[1], day_of)
    is_a = np.bincount(day_of, chosen.is_a) > 0
    a, b = level[is_a], level[~is_a]
    if min(len(a), len(b)) < FEWEST_DAYS_EACH:
        return None
    parts = np.array([a.var(ddof=1) / len(a), b.var(ddof=1) / len(b)])
    df = parts.sum() ** 2 / (parts**2 / np.array([len(a) - 1, len(b) - 1])).sum()
    mean = float(a.mean() - b.mean())
    low, high = interval(mean, float(np.sqrt(parts.sum())), float(df))
    receivers = len(np.unique(chosen.receiver))
    return Daily(mean, low, high, len(a), len(b), receivers, len(chosen), 1.0, 0.0)


def _nearest(reports: Reports, control: Reports) -> tuple[Ints, Ints]:
    """Rows of reports with a control report of the same unit within ten minutes, and which that is."""
    if not len(control) or not len(reports):
        none = np.empty(0, dtype=np.int64)
        return none, none
    span = max(reports.time_min.max(), control.time_min.max()) + 10 * CONTROL_WITHIN_MIN
    theirs = control.unit * span + control.time_min
    ours = reports.unit * span + reports.time_min
    order = np.argsort(theirs, kind="stable")
    after = np.maximum(np.searchsorted(theirs[order], ours), 1)
    before = order[after - 1]
    after = order[np.minimum(after, len(theirs) - 1)]
    nearer = np.where(np.abs(theirs[after] - ours) < np.abs(theirs[before] - ours), after, before)
    close = (control.unit[nearer] == reports.unit) & (np.abs(theirs[nearer] - ours) <= CONTROL_WITHIN_MIN)
    return np.flatnonzero(close), nearer[close]

"""Before and after with a control station: the control's setup did not change, so what moved both is the band.

Welch (1947), The generalization of "Student's" problem when several different population variances are involved,
Biometrika 34, 28-35, for the two groups of days.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from reach.compare import floor
from reach.compare.daily import (
    FEWEST_DAYS_EACH,
    FEWEST_RECEIVERS,
    Daily,
    DayFit,
    day_levels,
    days,
    settled,
)
from reach.compare.floor import Limits
from reach.compare.reports import Floats, Ints, Reports

WITHIN_MIN: Final = 10.0
DAYS_ALIKE: Final = 1.0  # days after which the band has forgotten all but 1/e of how it was


def with_control(reports: Reports, limit: Limits, control: Reports, power_difference_db: float = 0.0) -> Daily | None:
    """Each report against the control station's nearest report at the same receiver.

    reports, limit : of the same rows
    control : with receivers and channels (hence units) numbered as in `reports`; its setup did not change
    Returns Daily, or None with fewer than 3 days of either setup, or too few receivers that heard both stations.
    """
    row, nearest = _nearest(reports, control)
    if not len(row):
        return None
    chosen, limit = reports.take(row), limit.take(row)
    day, keep = days(chosen.time_min, chosen.is_a)
    chosen, limit, day = chosen.take(keep), limit.take(keep), day[keep]
    against_db = control.level_db[nearest][keep]
    return settled(lambda beta: _fit(chosen, limit, day, against_db, beta, power_difference_db))


def _fit(
    reports: Reports, limit: Limits, day: Ints, against_db: Floats, beta_db: float, power_difference_db: float
) -> DayFit | None:
    """Day levels of the difference to the control, days of A against days of B."""
    kept = floor.kept(reports, limit, np.full(len(reports), beta_db), power_difference_db)
    left = reports.take(kept)
    receivers = len(np.unique(left.receiver))
    if receivers < FEWEST_RECEIVERS:
        return None
    day_no, day_of = np.unique(day[kept], return_inverse=True)
    unit = np.unique(left.unit, return_inverse=True)[1]
    level = day_levels(left.level_db - against_db[kept], unit, day_of)
    is_a = np.bincount(day_of, left.is_a) > 0
    a, b = level[is_a], level[~is_a]
    if min(len(a), len(b)) < FEWEST_DAYS_EACH:
        return None
    parts = np.array([_mean_variance(a, day_no[is_a]), _mean_variance(b, day_no[~is_a])])
    df = parts.sum() ** 2 / (parts**2 / np.array([len(a) - 1, len(b) - 1])).sum()
    return DayFit(float(a.mean() - b.mean()), float(np.sqrt(parts.sum())), float(df), is_a, receivers, kept)


def _mean_variance(level_db: Floats, day: Ints) -> float:
    """Variance of the mean of day levels, where days near each other are alike: their correlation falls as
    exp(-days apart). Independent days would give level_db.var(ddof=1) / n, and too narrow an interval."""
    n = len(day)
    alike = np.exp(-np.abs(day[:, None] - day[None, :]) / DAYS_ALIKE)
    mean_of_one = alike.sum() / n**2
    seen_of_one = (n - alike.sum() / n) / (n - 1)
    return float(level_db.var(ddof=1) * mean_of_one / seen_of_one)


def _nearest(reports: Reports, control: Reports) -> tuple[Ints, Ints]:
    """Rows of reports with a control report of the same unit within ten minutes, and which that is."""
    if not len(control) or not len(reports):
        none = np.empty(0, dtype=np.int64)
        return none, none
    span = max(reports.time_min.max(), control.time_min.max()) + 10 * WITHIN_MIN
    theirs = control.unit * span + control.time_min
    ours = reports.unit * span + reports.time_min
    order = np.argsort(theirs, kind="stable")
    after = np.maximum(np.searchsorted(theirs[order], ours), 1)
    before = order[after - 1]
    after = order[np.minimum(after, len(theirs) - 1)]
    nearer = np.where(np.abs(theirs[after] - ours) < np.abs(theirs[before] - ours), after, before)
    close = (control.unit[nearer] == reports.unit) & (np.abs(theirs[nearer] - ours) <= WITHIN_MIN)
    return np.flatnonzero(close), nearer[close]

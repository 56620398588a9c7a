"""Days are what counts: the setup changes only from day to day many times, or once, beside a control station; and the control
compared as a check on a comparison that stands.

A control's setup did not change, so what moved it is the band. Before and after: each of our reports against the control's
nearest at the same receiver, days of A against days of B (Welch 1947, The generalization of "Student's" problem when several
different population variances are involved, Biometrika 34, 28-35).

Source on why receivers must not be counted as independent here: Bertrand, Duflo, Mullainathan (2004), How much should
we trust differences-in-differences estimates?, Quarterly J. Economics 119, 249-275.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from reach.assign import schedule as schedules
from reach.base import keys
from reach.compare import checks, estimate, variance
from reach.compare.comparison import Caution, Estimate, Method, Remark
from reach.compare.design import FEWEST_DAYS_EACH, TIE_MIN, Alternation
from reach.compare.estimate import Above, Limits
from reach.compare.evidence import NEEDED, Evidence, Labelled, gather, snr, square_of
from reach.compare.reports import Bools, Cleaned, Floats, Ints, Reports, one_after_another

DAY_MIN: Final = 1440.0
HALF_HOUR_MIN: Final = 30.0
SLOWEST_DAILY_MIN: Final = 240.0
FEWEST_STRETCHES: Final = 4
FEWEST_DAYS: Final = 8
FEWEST_RECEIVERS: Final = 4
PASSES: Final = 200
SETTLED_DB: Final = 1e-4
MOST_LIMIT_PASSES: Final = 25
SETTLED_LIMIT_DB: Final = 0.01
DAMPED_FROM: Final = 6
STEEPEST: Final = 0.9
WITHIN_MIN: Final = 10.0  # of the control's nearest report
DAYS_ALIKE: Final = 1.0  # days after which the band has forgotten all but 1/e of how it was


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
    cut        of each report, what is above the threshold common to both setups
    """

    difference_db: float
    error_db: float
    df: float
    day_is_a: Bools
    receivers: int
    cut: Above


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
    low, high = variance.interval(found.difference_db, error, found.df)
    return DaysFound(
        difference_db=found.difference_db,
        low_db=low,
        high_db=high,
        days_a=int(found.day_is_a.sum()),
        days_b=int((~found.day_is_a).sum()),
        receivers=found.receivers,
        reports=int(found.cut.some.sum()),
        kept_share=float(found.cut.share.mean()),
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
    """Times of day at which setups changed, each once, those in the middle of the longest silence first [min].

    A silence of a day and more has every time of day in it, and its middle may lie in the hours that are on the air: then it is
    the middle of the longest stretch of the day in which there never was a report.
    """
    order = np.lexsort((is_a, time_min))
    time, label = time_min[order], is_a[order]
    at = np.flatnonzero(label[1:] != label[:-1])
    silence = time[at + 1] - time[at]
    middle = np.where(silence < DAY_MIN, (time[at] + time[at + 1]) / 2, _quiet(time))
    middle = np.round(np.mod(middle, DAY_MIN), 6)
    return np.asarray(list(dict.fromkeys(middle[np.argsort(-silence, kind="stable")])) or [0.0])


def _quiet(time_min: Floats) -> float:
    """The middle of the longest stretch of the day without a report [min]."""
    of_day = np.unique(np.mod(time_min, DAY_MIN))
    gaps = np.diff(np.append(of_day, of_day[0] + DAY_MIN))
    return float(of_day[gaps.argmax()] + gaps.max() / 2)


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
    design = np.column_stack([is_a, np.ones(len(level)), day_no])
    solved, *_ = np.linalg.lstsq(design, level, rcond=None)
    left = level - design @ solved
    variance = left @ left / (len(level) - 3)
    error = np.sqrt(variance * np.linalg.inv(design.T @ design)[0, 0])
    receivers = len(np.unique(reports.receiver[some]))
    return DayFit(float(solved[0]), float(error), len(level) - 3, is_a, receivers, cut)


def day_levels(level_db: Floats, usual: Ints, day: Ints, share: Floats) -> Floats:
    """Level of each day once every receiver's usual level is taken off, by alternating projections.

    share : how much each report counts, > 0; all shape (n,)
    """
    per_usual, per_day = np.bincount(usual, share), np.bincount(day, share)
    of_day = np.zeros(len(per_day))
    for _ in range(PASSES):
        of_usual = np.bincount(usual, share * (level_db - of_day[day])) / per_usual
        new = np.bincount(day, share * (level_db - of_usual[usual])) / per_day
        new -= new.mean()
        moved, of_day = np.abs(new - of_day).max(), new
        if moved < SETTLED_DB:
            break
    return of_day


# ----------------------------------------------------------------------------------------------- beside a control station


def with_control(reports: Reports, limit: Limits, controls: Sequence[Reports]) -> DaysFound | None:
    """Each report against every control station's nearest report at the same receiver.

    reports, limit : of the same rows
    controls : one or several, with receivers and channels (hence units) numbered as in `reports`; their setups did not change
    Returns DaysFound, or None with fewer than 3 days of either setup, or too few receivers that heard both stations.
    """
    found = [_nearest(reports, control) for control in controls]
    row = np.concatenate([at for at, _ in found])
    if not len(row):
        return None
    # What a receiver hears of the station against one control is another usual level than against the next.
    whose = np.repeat(np.arange(len(controls)), [len(at) for at, _ in found])
    against_db = np.concatenate(
        [control.level_db[near].mean(axis=1) for control, (_, near) in zip(controls, found, strict=True)]
    )
    chosen, limit = reports.take(row), limit.take(row)
    chosen = replace(chosen, unit=chosen.unit + whose * keys.room(reports.unit))
    day, keep, _ = days(chosen.time_min, chosen.is_a)
    chosen, limit, day, against_db = chosen.take(keep), limit.take(keep), day[keep], against_db[keep]
    return settled(lambda beta: _fit(chosen, limit, day, against_db, beta))


def _fit(reports: Reports, limit: Limits, day: Ints, against_db: Floats, beta_db: float) -> DayFit | None:
    """Day levels of the difference to the control, days of A against days of B."""
    cut = estimate.above(reports, limit, beta_db, estimate.usual_power(reports))
    some = cut.some
    left = reports.take(some)
    receivers = len(np.unique(left.receiver))
    if receivers < FEWEST_RECEIVERS:
        return None
    day_no, day_of = np.unique(day[some], return_inverse=True)
    unit = np.unique(left.unit, return_inverse=True)[1]
    level = day_levels(cut.level_db[some] - against_db[some], unit, day_of, cut.share[some])
    is_a = np.bincount(day_of, left.is_a) > 0
    a, b = level[is_a], level[~is_a]
    if min(len(a), len(b)) < FEWEST_DAYS_EACH:
        return None
    parts = np.array([_mean_variance(a, day_no[is_a]), _mean_variance(b, day_no[~is_a])])
    df = parts.sum() ** 2 / (parts**2 / np.array([len(a) - 1, len(b) - 1])).sum()
    return DayFit(float(a.mean() - b.mean()), float(np.sqrt(parts.sum())), float(df), is_a, receivers, cut)


def _mean_variance(level_db: Floats, day: Ints) -> float:
    """Variance of the mean of day levels, where days near each other are alike: their correlation falls as
    exp(-days apart). Independent days would give level_db.var(ddof=1) / n, and too narrow an interval."""
    n = len(day)
    alike = np.exp(-np.abs(day[:, None] - day[None, :]) / DAYS_ALIKE)
    mean_of_one = alike.sum() / n**2
    seen_of_one = (n - alike.sum() / n) / (n - 1)
    return float(level_db.var(ddof=1) * mean_of_one / seen_of_one)


def _nearest(reports: Reports, control: Reports) -> tuple[Ints, Ints]:
    """Rows of reports with a control report of the same unit within ten minutes, and which that is, shape (m, 2): two where
    one before and one after are equally near, else one twice."""
    if not len(control) or not len(reports):
        return np.empty(0, dtype=np.int64), np.empty((0, 2), dtype=np.int64)
    unit, time_min = np.append(reports.unit, control.unit), np.append(reports.time_min, control.time_min)
    ours, theirs = np.split(one_after_another(unit, time_min, WITHIN_MIN + TIE_MIN), [len(reports)])
    order = np.argsort(theirs, kind="stable")
    at = np.searchsorted(theirs[order], ours)
    both = np.stack([order[np.maximum(at - 1, 0)], order[np.minimum(at, len(theirs) - 1)]], axis=1)
    apart = np.abs(theirs[both] - ours[:, None])
    nearest = apart.min(axis=1, keepdims=True)
    both = np.where(apart <= nearest + TIE_MIN, both, both[np.arange(len(both)), apart.argmin(axis=1)][:, None])
    close = (control.unit[both] == reports.unit[:, None]).all(axis=1) & (nearest[:, 0] <= WITHIN_MIN + TIE_MIN)
    return np.flatnonzero(close), both[close]


def placebo(evidence: Evidence, controls: Mapping[str, pd.DataFrame]) -> tuple[Estimate | None, tuple[Remark, ...]]:
    """The control station compared as if it had changed setups when ours did: its difference should be 0.

    controls : name -> spots, which need NEEDED; of several the one with most is looked at; may be empty
    Returns (its estimate, None where it says nothing; warnings). Nothing where both setups were on the air at once: no
    drift of the band can stand in for a difference then.
    """
    if not controls or evidence.design.simultaneous:
        return None, ()
    control = controls[max(sorted(controls), key=lambda name: len(controls[name]))]
    named = _label_like(control, evidence.spots, evidence.reports.is_a, evidence.design.period_min)
    if not named.is_a.any() or named.is_a.all():
        return None, (Remark(Caution.CONTROL_UNHEARD),)
    theirs = gather(named, evidence.a, evidence.b, np.zeros(len(named.is_a)), None)
    theirs = replace(
        theirs, design=evidence.design
    )  # the changes are ours; theirs would be as the labels happen to fall
    found = estimate.fit(theirs.reports, theirs.limit, theirs.design)
    spread = checks.enough(theirs, found)
    if isinstance(spread, checks.Refusal) or found is None:
        return None, (Remark(Caution.CONTROL_TOO_LITTLE),)
    mu = found.pooled.difference_db
    low, high = variance.interval(mu, spread.like, spread.like_df)
    moved = () if low <= 0 <= high else (Remark(Caution.CONTROL_DIFFERS, {"difference_db": mu}),)
    return Estimate(Method.CONTROL, mu, low, high), moved


def like(control: pd.DataFrame, spots: pd.DataFrame, cleaned: Cleaned) -> Reports | None:
    """A control station's reports, with receivers, channels and units numbered as ours are.

    control : needs NEEDED; spots : the rows that `cleaned` came from
    Returns Reports (is_a all False) of the receivers and channels that we have too, sorted; None where there are none.
    """
    rows = control[control[list(NEEDED)].notna().all(axis=1)]
    both = pd.concat([_keys(spots.iloc[cleaned.row]), _keys(rows)])
    key = both.groupby(list(both.columns), sort=False, dropna=False).ngroup().to_numpy()
    ours, theirs = key[: len(cleaned.row)], key[len(cleaned.row) :]
    unit = cleaned.reports.unit[np.unique(ours, return_index=True)[1]]  # ours come first, so the first keys are ours
    known = theirs < len(unit)
    if not known.any():
        return None
    rows, of_unit = rows[known], unit[theirs[known]]
    time_min = (schedules.micros(rows["time_utc"]) - cleaned.start_us) / 60e6
    level = snr(rows["snr_db"])
    order = np.lexsort((-level, time_min, of_unit))
    order = order[keys.begins(of_unit[order], time_min[order])]
    first = np.searchsorted(cleaned.reports.unit, of_unit[order])
    return Reports(
        time_min=time_min[order],
        receiver=cleaned.reports.receiver[first],
        channel=cleaned.reports.channel[first],
        unit=of_unit[order],
        is_a=np.zeros(len(order), dtype=bool),
        snr_db=level[order],
        power_db=np.zeros(len(order)),
        level_db=level[order],
        round_db=np.zeros(len(order)),
    )


def _keys(spots: pd.DataFrame) -> pd.DataFrame:
    """What makes a unit, as text: receiver, square, band, mode."""
    mode = spots["mode"].astype(object) if "mode" in spots.columns else ""
    return pd.DataFrame(
        {
            "call": spots["rx_call"].astype(str).str.upper().to_numpy(),
            "square": spots["rx_locator"].astype(str).map(square_of).to_numpy(),
            "band": spots["band"].astype(str).to_numpy(),
            "mode": mode if isinstance(mode, str) else mode.to_numpy(),
        }
    )


def _label_like(control: pd.DataFrame, spots: pd.DataFrame, is_a: Bools, period_min: float) -> Labelled:
    """A control station's rows, each under the setup that was on the air here at that moment.

    spots, is_a : our reports; a control report counts where our nearest transmissions before and after it, at most one
        alternation away, were of one setup
    """
    rows = control[control[list(NEEDED)].notna().all(axis=1)]
    ours = schedules.micros(spots["time_utc"])
    order = np.argsort(ours, kind="stable")
    ours, labels = ours[order], is_a[order]
    theirs = schedules.micros(rows["time_utc"])
    before = np.searchsorted(ours, theirs, side="right") - 1
    after = np.searchsorted(ours, theirs, side="left")
    inside = (before >= 0) & (after < len(ours))
    before, after = np.maximum(before, 0), np.minimum(after, len(ours) - 1)
    near = np.minimum(theirs - ours[before], ours[after] - theirs) <= period_min * 60e6
    use = inside & near & (labels[before] == labels[after])
    return Labelled(rows[use], labels[before][use], "control", None, {}, np.flatnonzero(use))

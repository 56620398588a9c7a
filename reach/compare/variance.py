"""How sure: fading common to all receivers, receivers' own differences, and both at once.

Many reports do not help when they share one fade; distinct stretches of time and distinct receivers do. The variance
is clustered by receiver and by time. Time is not cut into bins, whose place on the clock would be an accident: any two
contrasts count as related by how near they lie (Bartlett's weights). That is the mean over all places that bins could have.
Sources: Cameron, Gelbach, Miller (2011), Robust inference with multiway clustering, J. Business & Economic Statistics
29, 238-249; Chiang, Hansen, Sasaki (2022), Standard errors for two-way clustering with serially correlated time
effects; effective numbers of clusters after Carter, Schnepel, Steigerwald (2017), Asymptotic behavior of a t-test
robust to cluster heterogeneity, Review of Economics and Statistics 99, 698-709.

Classical statistics of the paired differences stand beside it as cross-checks: the interval of Walsh means, the sign test.
Sources: Wilcoxon (1945), Individual comparisons by ranking methods, Biometrics Bulletin 1, 80-83; Hodges, Lehmann (1963),
Estimates of location based on rank tests, Annals of Mathematical Statistics 34, 598-611; Bland, Altman (1986), Statistical
methods for assessing agreement between two methods of clinical measurement, Lancet i, 307-310; McNemar (1947), Note on the
sampling error of the difference between correlated proportions or percentages, Psychometrika 12, 153-157.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from reach.compare import design as designs
from reach.compare.comparison import CONFIDENCE
from reach.compare.design import Alternation
from reach.compare.estimate import Fit
from reach.compare.reports import Bools, Floats, Ints, Reports, one_after_another

LONGEST_MIN: Final = 60.0
SHORTEST_MIN: Final = 10.0
STRETCHES_WANTED: Final = 12
ENOUGH_RECEIVERS: Final = 6.0
TIMES_SPENT: Final = 2.5  # stretches of time that the mean and the neighbours take up: METHOD.md has what others give
WELL_ABOVE_DB: Final = 8.0
ENOUGH_STEPS: Final = 300
STEP_SLOTS: Final = 4  # so far apart at most are two reports whose difference is fading
SHORTEST_STEP_MIN: Final = 5.0  # or so far
STEP_PERIODS: Final = 2.1  # or, where the setups change places quickly, from one turn of a setup to its next
QUICK_MIN: Final = 10.0
FULL_SHARE: Final = 0.25  # of the usual weight about a moment, for a stretch to count in full
NEVER: Final = 1e9  # stands in for a division by nothing: no interval worth having
EXACT_UP_TO: Final = 60  # differences; beyond it rank sums are as good as normal
MOST_PAIRED: Final = 2000


@dataclass(frozen=True)
class Scores:
    """What each contrast adds to the error of the estimate, shape (m,).

    push      weight times (contrast - estimate) times the limit's inflation
    share     weight, summing to 1
    receiver, time_min  what it is clustered by
    width_min contrasts so far apart in time count as unrelated stretches
    """

    push: Floats
    share: Floats
    receiver: Ints
    time_min: Floats
    width_min: float


@dataclass(frozen=True)
class Spread:
    """Standard errors [dB] with their degrees of freedom.

    like, like_df    for receivers like these
    these, these_df  for these receivers only
    receivers, times effective numbers: how many equally weighted ones would be as good
    """

    like: float
    like_df: float
    these: float
    these_df: float
    receivers: float
    times: float


def width_min(reports: Reports, design: Alternation) -> float:
    """Length of a stretch of time [min]: at least two alternations, about a twelfth of the time on the air, 10 to 60."""
    on_air = designs.on_air_min(reports.time_min)
    return max(min(LONGEST_MIN, on_air / STRETCHES_WANTED), 2 * design.period_min, SHORTEST_MIN)


def scores(reports: Reports, found: Fit, width_min: float) -> Scores:
    """The scores of a fit to those reports, with stretches of that length."""
    row, weight = found.pairs.row, found.pooled.contrast_weight
    return Scores(
        push=weight * (found.pairs.difference_db - found.pooled.difference_db) * found.inflation,
        share=weight,
        receiver=reports.receiver[row],
        time_min=reports.time_min[row],
        width_min=width_min,
    )


def spread(score: Scores, spent: float = TIMES_SPENT) -> Spread:
    """Standard errors from scores; infinite where there is one receiver or too few stretches of time to tell.

    spent : stretches of time that the estimate takes up
    """
    return _spread(score, _effective_receivers(score), spent)


def contrast_spread(cell: Scores, rest: Scores) -> Spread:
    """Standard errors of cell minus rest: in common stretches of time, so that the fading they share cancels."""
    both = Scores(
        push=np.concatenate([cell.push, -rest.push]),
        share=np.concatenate([cell.share, rest.share]) / 2,
        receiver=np.concatenate([cell.receiver, rest.receiver]),
        time_min=np.concatenate([cell.time_min, rest.time_min]),
        width_min=cell.width_min,
    )
    return _spread(both, min(map(_effective_receivers, (cell, rest))), TIMES_SPENT)


def _effective_receivers(score: Scores) -> float:
    return 1 / float(np.sum(np.bincount(score.receiver, score.share) ** 2))


def _spread(score: Scores, receivers: float, spent: float) -> Spread:
    in_time = np.argsort(score.time_min, kind="stable")
    by_who = in_time[np.argsort(score.receiver[in_time], kind="stable")]
    t, push, width = score.time_min[in_time], score.push[in_time], score.width_min
    times = 1 / related(score.share[in_time], t, width)
    of_each = float(np.sum(np.bincount(score.receiver, score.push) ** 2))
    by_receiver = _over(receivers, receivers - 1) * of_each
    by_time = _over(times, times - spent) * max(related(push, t, 2 * width), related(push, t, width) / 2)
    by_both = related(score.push[by_who], score.time_min[by_who], 2 * width, score.receiver[by_who])
    like = max(by_receiver + by_time - by_both, by_receiver, by_time)
    these = min(like, max(by_time, _over(times, times - 1) * by_both))
    return Spread(
        like=float(np.sqrt(like)),
        like_df=max(1.0, min(receivers - 1, times - 2)),
        these=float(np.sqrt(max(these, 0.0))),
        these_df=max(1.0, times - 2),
        receivers=receivers,
        times=times,
    )


def _over(a: float, b: float) -> float:
    return a / b if b > 1e-9 else NEVER


def related(x: Floats, time_min: Floats, within_min: float, group: Ints | None = None) -> float:
    """Sum over all pairs k, l of one group, k = l too, of x_k x_l (1 - |t_k - t_l| / within), where that is positive.

    x, time_min, group : shape (m,), sorted by group, then time; None: all of one group. It is the mean over all phases of the
    sum of squares over bins of that length; with twice that length, of the same with Bartlett's neighbours
    """
    return float(x @ x + 2 * (x @ _earlier(x, time_min - time_min.min(), within_min, group)))


def _earlier(x: Floats, t: Floats, within_min: float, group: Ints | None = None) -> Floats:
    """For each row the sum of Bartlett's weights times x over those before it; arguments as `related` has them."""
    key = t if group is None else one_after_another(group, t, within_min)
    start = np.searchsorted(key, key - within_min)
    sums, moments = (np.concatenate([[0.0], np.cumsum(each)]) for each in (x, x * t))
    return (1 - t / within_min) * (sums[:-1] - sums[start]) + (moments[:-1] - moments[start]) / within_min


def by_time(score: Scores, difference_db: Floats) -> tuple[float, float, float]:
    """The mean with every stretch of time counted once, however much was heard in it: value, low, high [dB].

    difference_db : of each contrast, shape (m,). A stretch with next to nothing in it does not count as a full one. The
    interval allows for fading over time, not for other receivers.
    """
    order = np.argsort(score.time_min, kind="stable")
    t, share, d = score.time_min[order] - score.time_min.min(), score.share[order], difference_db[order]
    before = _earlier(share, t, score.width_min)
    after = _earlier(share[::-1], t[-1] - t[::-1], score.width_min)[::-1]
    about = share + before + after
    weight = share / np.maximum(about, FULL_SHARE * (share @ about))
    weight = weight / weight.sum()
    mean = float(weight @ d)
    nobody = np.zeros(len(d), dtype=np.int64)
    alike = spread(replace(score, push=weight * (d - mean), share=weight, receiver=nobody, time_min=t))
    return mean, *interval(mean, alike.these, alike.these_df)


def interval(difference_db: float, error_db: float, df: float, level: float = CONFIDENCE) -> tuple[float, float]:
    """Two-sided interval by Student's t [dB]."""
    from scipy.special import stdtrit

    half = float(stdtrit(df, 0.5 + level / 2)) * error_db
    return difference_db - half, difference_db + half


def p_value(difference_db: float, error_db: float, df: float) -> float:
    """Two-sided probability of a difference as far from 0 by chance."""
    from scipy.special import stdtr

    if error_db == 0:
        return 0.0 if difference_db else 1.0
    return float(2 * stdtr(df, -abs(difference_db) / error_db))


def fading_ratio(reports: Reports, threshold_db: Floats, design: Alternation) -> float | None:
    """Depth of fading under A over that under B, from steps between reports of one setup close in time.

    Only receivers well above the censoring threshold, where no deep fade is lost; None with fewer than 300 steps of either.
    """
    median = pd.Series(reports.snr_db).groupby(reports.receiver).transform("median").to_numpy()
    well_above = median >= threshold_db + WELL_ABOVE_DB
    steps = [_steps(reports, (reports.is_a == side) & well_above, design) for side in (True, False)]
    if min(map(len, steps)) < ENOUGH_STEPS:
        return None
    a, b = (float(np.sqrt(np.mean(of_one**2))) for of_one in steps)
    return a / b if b else None


def _steps(reports: Reports, chosen: Bools, design: Alternation) -> Floats:
    some = reports.take(chosen)
    widest = max(STEP_SLOTS * design.slot_min, SHORTEST_STEP_MIN)
    if design.period_min <= QUICK_MIN:
        widest = max(widest, STEP_PERIODS * design.period_min)
    near = (np.diff(some.unit) == 0) & (np.diff(some.time_min) <= widest)
    return np.diff(some.level_db)[near]


@dataclass(frozen=True)
class SignedRanks:
    """Median of the means of all pairs of differences, with the interval that the signed-rank test allows: exactly up to 60
    differences, else by the normal curve."""

    median: float
    low: float
    high: float


@dataclass(frozen=True)
class Agreement:
    """Where 95 % of single differences lie: mean +- 2 standard deviations, as Bland and Altman print them."""

    mean: float
    sd: float
    low: float
    high: float


def signed_ranks(differences: Floats) -> SignedRanks:
    """differences : n >= 1."""
    walsh = _walsh(differences)
    skip = round(_walsh_left_out(len(differences)) / _pairs(len(differences)) * len(walsh))
    return SignedRanks(float(np.median(walsh)), float(walsh[skip]), float(walsh[-1 - skip]))


def agreement(differences: Floats, share: Floats | None = None) -> Agreement:
    """differences : n >= 2; share : how much each counts, shape (n,)."""
    share = np.ones(len(differences)) if share is None else share
    mean = float(share @ differences / share.sum())
    sd = float(np.sqrt(share @ (differences - mean) ** 2 / share.sum() * len(differences) / (len(differences) - 1)))
    return Agreement(mean, sd, mean - 2 * sd, mean + 2 * sd)


def sign_test(only_a: int, only_b: int) -> float:
    """McNemar's exact two-sided p of two discordant counts: pairs in which one of the two alone succeeded, not both 0."""
    from scipy.special import bdtr

    return min(float(2 * bdtr(min(only_a, only_b), only_a + only_b, 0.5)), 1.0)


# -- the interval of Walsh means, which scipy does not have


def _walsh(differences: Floats) -> Floats:
    """Means of all pairs, each with itself too, rising."""
    differences = _few(differences)
    i, j = np.triu_indices(len(differences))
    return np.sort((differences[i] + differences[j]) / 2)


def _few(differences: Floats) -> Floats:
    """So many that all pairs of them fit in memory: evenly spaced quantiles where there are more."""
    if len(differences) <= MOST_PAIRED:
        return differences
    return np.quantile(differences, (np.arange(MOST_PAIRED) + 0.5) / MOST_PAIRED)


def _pairs(n: int) -> int:
    return n * (n + 1) // 2


def _walsh_left_out(n: int) -> int:
    """How many Walsh means to leave out on each side for 95 %.

    As many as the signed-rank test's critical sum: a difference within the interval is one that the test, applied to the
    differences less it, would not reject (Hodges, Lehmann 1963).
    """
    if n <= EXACT_UP_TO:
        below = np.cumsum(_rank_sum_counts(n)) / 2.0**n
        return max(int(np.searchsorted(below, 0.025, side="right")) - 1, 0)
    from scipy.special import ndtri

    mean, sd = n * (n + 1) / 4, np.sqrt(n * (n + 1) * (2 * n + 1) / 24)
    return max(int(mean + ndtri(0.025) * sd), 0)


def _rank_sum_counts(n: int) -> Floats:
    """How many of the 2**n sign patterns give each rank sum 0..n(n+1)/2, one rank after the other."""
    counts = np.zeros(_pairs(n) + 1)
    counts[0] = 1.0
    for rank in range(1, n + 1):
        counts[rank:] = counts[rank:] + counts[:-rank].copy()
    return counts

"""How sure: fading common to all receivers, receivers' own differences, and both at once.

Many reports do not help when they share one fade; distinct stretches of time and distinct receivers do. The variance
is clustered by receiver and by time bin, neighbouring bins counted as related.
Sources: Cameron, Gelbach, Miller (2011), Robust inference with multiway clustering, J. Business & Economic Statistics
29, 238-249; Chiang, Hansen, Sasaki (2022), Standard errors for two-way clustering with serially correlated time
effects; effective numbers of clusters after Carter, Schnepel, Steigerwald (2017), Asymptotic behavior of a t-test
robust to cluster heterogeneity, Review of Economics and Statistics 99, 698-709.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from reach.compare.design import Alternation
from reach.compare.estimate import Fit
from reach.compare.reports import Bools, Floats, Ints, Reports

CONFIDENCE: Final = 0.95
LONGEST_BIN_MIN: Final = 60.0
SHORTEST_BIN_MIN: Final = 10.0
BINS_WANTED: Final = 12
ENOUGH_RECEIVERS: Final = 6.0
BINS_SPENT: Final = 3.0  # bins that the mean and the neighbours take up; with 2 or 2.5 a few designs covered too little
WELL_ABOVE_DB: Final = 8.0
ENOUGH_STEPS: Final = 300
NEVER: Final = 1e9  # stands in for a division by nothing: no interval worth having


@dataclass(frozen=True)
class Scores:
    """What each contrast adds to the error of the estimate, shape (m,).

    push     weight times (contrast - estimate) times the limit's inflation
    share    weight
    receiver, bin  what it is clustered by
    """

    push: Floats
    share: Floats
    receiver: Ints
    bin: Ints


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


def bin_min(reports: Reports, design: Alternation) -> float:
    """Length of a time bin [min]: at least two alternations, about a twelfth of the time on the air, 10 to 60."""
    on_air = SHORTEST_BIN_MIN * len(np.unique(np.floor(reports.time_min / SHORTEST_BIN_MIN)))
    return max(min(LONGEST_BIN_MIN, on_air / BINS_WANTED), 2 * design.period_min, SHORTEST_BIN_MIN)


def scores(reports: Reports, found: Fit, step_min: float) -> Scores:
    """The scores of a fit to those reports, in bins of that length."""
    row, weight = found.pairs.row, found.pooled.contrast_weight
    return Scores(
        push=weight * (found.pairs.difference_db - found.pooled.difference_db) * found.inflation,
        share=weight,
        receiver=reports.receiver[row],
        bin=np.floor(reports.time_min[row] / step_min).astype(np.int64),
    )


def spread(score: Scores) -> Spread:
    """Standard errors from scores; infinite where there is one receiver or too few time bins to tell."""
    receivers = 1 / float(np.sum(_sum(score.receiver, score.share) ** 2))
    times = 1 / float(np.sum(_sum(score.bin, score.share) ** 2))
    return _spread(score, receivers, times)


def contrast_spread(cell: Scores, rest: Scores) -> Spread:
    """Standard errors of cell minus rest: in common bins, so that the fading they share cancels."""
    numbers = [1 / float(np.sum(_sum(s.receiver, s.share) ** 2)) for s in (cell, rest)]
    both = Scores(
        push=np.concatenate([cell.push, -rest.push]),
        share=np.concatenate([cell.share, rest.share]) / 2,
        receiver=np.concatenate([cell.receiver, rest.receiver]),
        bin=np.concatenate([cell.bin, rest.bin]),
    )
    return _spread(both, min(numbers), 1 / float(np.sum(_sum(both.bin, both.share) ** 2)))


def _spread(score: Scores, receivers: float, times: float) -> Spread:
    by_receiver = _over(receivers, receivers - 1) * float(np.sum(_sum(score.receiver, score.push) ** 2))
    by_bin = _sum(score.bin, score.push)
    by_time = _over(times, times - BINS_SPENT) * max(_hac(by_bin), 0.5 * float(by_bin @ by_bin))
    width = int(score.bin.max()) + 2
    by_both = _hac_of_each(score.receiver * width + score.bin, score.push)
    like = max(by_receiver + by_time - by_both, by_receiver, by_time)
    these = min(like, max(by_time, _over(times, times - 1) * by_both))
    return Spread(
        like=float(np.sqrt(like)),
        like_df=max(1.0, min(receivers - 1, times - 2)),
        these=float(np.sqrt(these)),
        these_df=max(1.0, times - 2),
        receivers=receivers,
        times=times,
    )


def _over(a: float, b: float) -> float:
    return a / b if b > 1e-9 else NEVER


def _sum(by: Ints, values: Floats) -> Floats:
    return np.bincount(by - by.min(), values).astype(float)


def _hac(x: Floats) -> float:
    """Sum of squares with neighbours: Bartlett's weights, lag 1 taken whole as the sum over both sides is halved."""
    return float(x @ x + x[1:] @ x[:-1])


def _hac_of_each(key: Ints, push: Floats) -> float:
    """The same within each receiver, over keys that leave a gap between receivers."""
    keys, which = np.unique(key, return_inverse=True)
    x = np.bincount(which, push)
    near = np.diff(keys) == 1
    return float(x @ x + x[1:][near] @ x[:-1][near])


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
    widest = max(4 * design.slot_min, 5.0, 2.1 * design.period_min if design.period_min <= 10 else 0.0)
    near = (np.diff(some.unit) == 0) & (np.diff(some.time_min) <= widest)
    return np.diff(some.level_db)[near]

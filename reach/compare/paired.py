"""Classical statistics of paired differences, for the cross-checks.

Sources: Student (1908), The probable error of a mean, Biometrika 6, 1-25; Wilcoxon (1945), Individual comparisons by
ranking methods, Biometrics Bulletin 1, 80-83; Hodges, Lehmann (1963), Estimates of location based on rank tests,
Annals of Mathematical Statistics 34, 598-611; Bland, Altman (1986), Statistical methods for assessing agreement between
two methods of clinical measurement, Lancet i, 307-310; McNemar (1947), Note on the sampling error of the difference
between correlated proportions or percentages, Psychometrika 12, 153-157.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.compare.variance import interval, p_value

Floats = npt.NDArray[np.float64]
EXACT_UP_TO: Final = 60  # differences; beyond it ranks sums are as good as normal
MOST_PAIRED: Final = 2000


@dataclass(frozen=True)
class Student:
    """Mean of differences: t on df degrees of freedom, two-sided p, 95 % interval."""

    mean: float
    t: float
    df: int
    p: float
    low: float
    high: float


@dataclass(frozen=True)
class SignedRanks:
    """Median of the means of all pairs of differences, with the interval that the signed-rank test allows.

    positive, negative : rank sums, zeros left out, ties given their mean rank
    p : two-sided; exact up to 60 differences without ties, else by the normal curve with continuity correction
    """

    median: float
    low: float
    high: float
    positive: float
    negative: float
    p: float


@dataclass(frozen=True)
class Agreement:
    """Where 95 % of single differences lie: mean +- 2 standard deviations, as Bland and Altman print them."""

    mean: float
    sd: float
    low: float
    high: float


@dataclass(frozen=True)
class McNemar:
    """Chi-square of two discordant counts, without and with continuity correction, and its exact p."""

    chi2: float
    chi2_corrected: float
    p_exact: float


def student(differences: Floats) -> Student:
    """differences : n >= 2."""
    n = len(differences)
    mean, error = float(differences.mean()), float(differences.std(ddof=1) / np.sqrt(n))
    low, high = interval(mean, error, n - 1)
    t = mean / error if error else np.copysign(np.inf, mean) if mean else 0.0
    return Student(mean, float(t), n - 1, p_value(mean, error, n - 1), low, high)


def signed_ranks(differences: Floats) -> SignedRanks:
    """differences : n >= 1."""
    d = differences[differences != 0]
    n = len(d)
    size, which, ties = np.unique(np.abs(d), return_inverse=True, return_counts=True)
    rank = (np.cumsum(ties) - (ties - 1) / 2)[which]
    positive, negative = float(rank[d > 0].sum()), float(rank[d < 0].sum())
    tied = len(size) < n
    exact = 0 < n <= EXACT_UP_TO and not tied
    p = _exact_p(min(positive, negative), n) if exact else _normal_p(positive, rank)
    walsh = _walsh(differences)
    skip = round(_walsh_left_out(len(differences)) / _pairs(len(differences)) * len(walsh))
    return SignedRanks(float(np.median(walsh)), float(walsh[skip]), float(walsh[-1 - skip]), positive, negative, p)


def agreement(differences: Floats) -> Agreement:
    """differences : n >= 2."""
    mean, sd = float(differences.mean()), float(differences.std(ddof=1))
    return Agreement(mean, sd, mean - 2 * sd, mean + 2 * sd)


def mcnemar(only_a: int, only_b: int) -> McNemar:
    """only_a, only_b : pairs in which one of the two alone succeeded, not both 0."""
    from scipy.special import bdtr

    total, off = only_a + only_b, abs(only_a - only_b)
    p = min(1.0, 2 * float(bdtr(min(only_a, only_b), total, 0.5)))
    return McNemar(off**2 / total, max(off - 1, 0) ** 2 / total, p)


def _rank_sum_counts(n: int) -> Floats:
    """How many of the 2**n sign patterns give each rank sum 0..n(n+1)/2."""
    counts = np.zeros(n * (n + 1) // 2 + 1)
    counts[0] = 1.0
    for rank in range(1, n + 1):
        counts[rank:] = counts[rank:] + counts[:-rank].copy()
    return counts


def _exact_p(smaller: float, n: int) -> float:
    counts = _rank_sum_counts(n)
    return min(1.0, float(2 * counts[: int(smaller) + 1].sum() / counts.sum()))


def _normal_p(positive: float, rank: Floats) -> float:
    from scipy.special import ndtr

    n = len(rank)
    if n == 0:
        return 1.0
    ties = np.unique(rank, return_counts=True)[1].astype(float)
    variance = n * (n + 1) * (2 * n + 1) / 24 - float((ties**3 - ties).sum()) / 48
    off = max(abs(positive - n * (n + 1) / 4) - 0.5, 0.0)
    return float(2 * ndtr(-off / np.sqrt(variance)))


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
    """How many Walsh means to leave out on each side for 95 %."""
    if n <= EXACT_UP_TO:
        below = np.cumsum(_rank_sum_counts(n)) / 2.0**n
        return max(int(np.searchsorted(below, 0.025, side="right")) - 1, 0)
    from scipy.special import ndtri

    mean, sd = n * (n + 1) / 4, np.sqrt(n * (n + 1) * (2 * n + 1) / 24)
    return max(int(mean + ndtri(0.025) * sd), 0)

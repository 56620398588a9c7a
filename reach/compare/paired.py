"""Classical statistics of paired differences, for the cross-checks: scipy's tests, and the interval of Walsh means.

Sources: Wilcoxon (1945), Individual comparisons by
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

Floats = npt.NDArray[np.float64]
EXACT_UP_TO: Final = 60  # differences; beyond it rank sums are as good as normal
MOST_PAIRED: Final = 2000


@dataclass(frozen=True)
class SignedRanks:
    """Median of the means of all pairs of differences, with the interval that the signed-rank test allows.

    smaller : of the two rank sums, zeros left out, ties given their mean rank
    p : two-sided; exact up to 60 differences without ties, else by the normal curve with continuity correction
    """

    median: float
    low: float
    high: float
    smaller: float
    p: float


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
    smaller, p = _wilcoxon(differences[differences != 0])
    return SignedRanks(float(np.median(walsh)), float(walsh[skip]), float(walsh[-1 - skip]), smaller, p)


def agreement(differences: Floats, share: Floats | None = None) -> Agreement:
    """differences : n >= 2; share : how much each counts, shape (n,)."""
    share = np.ones(len(differences)) if share is None else share
    mean = float(share @ differences / share.sum())
    sd = float(np.sqrt(share @ (differences - mean) ** 2 / share.sum() * len(differences) / (len(differences) - 1)))
    return Agreement(mean, sd, mean - 2 * sd, mean + 2 * sd)


def sign_test(only_a: int, only_b: int) -> float:
    """McNemar's exact two-sided p of two discordant counts: pairs in which one of the two alone succeeded, not both 0."""
    from scipy.stats import binomtest

    return float(binomtest(only_a, only_a + only_b).pvalue)


def _wilcoxon(d: Floats) -> tuple[float, float]:
    """The smaller rank sum and its p; d without zeros."""
    from scipy.stats import wilcoxon

    if not len(d):
        return 0.0, 1.0
    tied = len(np.unique(np.abs(d))) < len(d)
    method = "exact" if len(d) <= EXACT_UP_TO and not tied else "asymptotic"
    found = wilcoxon(d, correction=True, method=method)
    return float(found.statistic), float(found.pvalue)


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

"""Paired differences held to published examples, and to scipy and statsmodels on the same numbers."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, given
from hypothesis import strategies as st
from statsmodels.stats.contingency_tables import mcnemar as sm_mcnemar
from statsmodels.stats.meta_analysis import combine_effects

from reach.compare import estimate, variance

# Cross- and self-fertilised maize, Darwin's pairs, eighths of an inch. Wilcoxon (1945), Biometrics Bulletin 1, 80-83.
MAIZE = np.array([6, 8, 14, 16, 23, 24, 28, 29, 41, -48, 49, 56, 60, -67, 75], float)
# Hamilton depression scale, nine patients, two visits. Hollander, Wolfe (1973), Nonparametric Statistical Methods, 29.
DEPRESSION = np.array([1.83, 0.50, 1.62, 2.48, 1.68, 1.88, 1.55, 3.06, 1.30]) - np.array(
    [0.878, 0.647, 0.598, 2.05, 1.06, 1.29, 1.06, 3.14, 1.29]
)
# Peak flow by two meters, l/min. Bland, Altman (1986), Lancet i, 307-310, table 1.
LARGE = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427], float)
MINI = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451], float)


def test_wilcoxon_1945():
    """p = 0.041 by ranks: no difference lies outside the interval, just."""
    found = variance.signed_ranks(MAIZE)
    assert 0 < found.low < found.median < found.high
    assert scipy.stats.wilcoxon(MAIZE, method="exact").pvalue == pytest.approx(0.041259765625, abs=1e-12)


def test_hollander_and_wolfe_1973():
    """Their estimate -0.46 with (-0.786, -0.010) at 96 %, of the later visit less the earlier."""
    found = variance.signed_ranks(DEPRESSION)
    assert (found.median, found.low, found.high) == pytest.approx((0.46, 0.010, 0.786), abs=1e-9)


@given(st.integers(0, 2**32 - 1), st.integers(6, 40), st.floats(-3, 3))
def test_the_interval_is_what_the_signed_rank_test_allows(seed, n, shift):
    """Just inside its ends a difference is not rejected at 5 %, just outside it is (scipy's exact test)."""
    d = np.random.default_rng(seed).normal(shift, 2, n)
    found = variance.signed_ranks(d)
    for end, inward in ((found.low, 1e-9), (found.high, -1e-9)):
        assert scipy.stats.wilcoxon(d - (end + inward), method="exact").pvalue >= 0.05
        assert scipy.stats.wilcoxon(d - (end - inward), method="exact").pvalue < 0.05 + 1e-12
    assert found.low <= found.median <= found.high


@pytest.mark.parametrize("n", [variance.EXACT_UP_TO - 1, variance.EXACT_UP_TO])
def test_the_longest_that_are_counted_out_are_counted_out(n):
    """Ranks 1 to n get every sum there is: below the critical one lie at most 2.5 % of all signs, and with it more (scipy, exactly)."""
    left_out = variance._walsh_left_out(n)
    p = [scipy.stats.wilcoxon(_with_rank_sum(n, total), method="exact").pvalue for total in (left_out, left_out + 1)]
    assert p[0] <= 0.05 < p[1]


def _with_rank_sum(n: int, total: int) -> np.ndarray:
    """Differences 1 to n, the negative ones adding up to a total."""
    values = np.arange(1.0, n + 1)
    for k in range(n - 1, -1, -1):
        if values[k] <= total:
            total -= int(values[k])
            values[k] = -values[k]
    return values


def test_as_many_as_fit_in_memory_are_taken_as_they_are():
    values = np.random.default_rng(5).exponential(1.0, variance.MOST_PAIRED)
    assert variance._few(values) is values
    assert len(variance._few(np.append(values, 3.0))) == variance.MOST_PAIRED


def test_many_differences_take_the_normal_curve():
    d = np.random.default_rng(1).normal(0.2, 1, 500)
    found = variance.signed_ranks(d)
    for end in (found.low, found.high):
        other = scipy.stats.wilcoxon(d - end, correction=True, method="asymptotic").pvalue
        assert other == pytest.approx(0.05, abs=1e-3)
    assert found.low < found.median < found.high


def test_more_than_fit_in_memory_by_quantiles():
    d = np.random.default_rng(2).normal(1.0, 2.0, 5000)
    found = variance.signed_ranks(d)
    assert found.median == pytest.approx(1.0, abs=0.1)
    half = 1.96 * 2.0 / np.sqrt(5000) / np.sqrt(3 / np.pi)  # efficiency of signed ranks under the normal: 3/pi
    assert (found.high - found.low) / 2 == pytest.approx(half, rel=0.1)


def test_bland_and_altman_1986():
    found = variance.agreement(LARGE - MINI)
    assert found.mean == pytest.approx(-2.1, abs=0.1)
    assert found.sd == pytest.approx(38.8, abs=0.1)
    assert (found.low, found.high) == pytest.approx((-79.7, 75.5), abs=0.1)


def test_mcnemar_in_agresti_1990():
    """Approval of the President's performance, two surveys of 1600 voters. Agresti (1990), Categorical Data Analysis,
    350."""
    p = variance.sign_test(150, 86)
    assert p == pytest.approx(3.716e-05, abs=1e-8)
    assert p == pytest.approx(sm_mcnemar([[794, 86], [150, 570]], exact=True).pvalue, rel=1e-9)
    assert variance.sign_test(3, 3) == 1.0


@given(st.integers(0, 400), st.integers(0, 400))
def test_the_sign_test_is_scipys(a, b):
    assume(a + b)
    assert variance.sign_test(a, b) == pytest.approx(scipy.stats.binomtest(a, a + b).pvalue, rel=1e-9)


def test_differences_without_scatter():
    """All the same: certain where it is not 0, nothing where it is."""
    ranks = variance.signed_ranks(np.zeros(4))
    assert (ranks.median, ranks.low, ranks.high) == (0.0, 0.0, 0.0)


@given(st.integers(0, 2**32 - 1), st.integers(2, 30))
def test_the_variance_between_receivers_is_dersimonian_and_lairds(seed, n):
    """Pooled contrasts against statsmodels' meta-analysis of the same receivers."""
    rng = np.random.default_rng(seed)
    unit = np.repeat(np.arange(n), rng.integers(2, 12, n))
    d = rng.normal(rng.normal(1, 1.5, n)[unit], 2.0)
    pooled = estimate.pool(d, unit, np.ones(len(d)))
    with np.errstate(invalid="ignore"):  # of one of its other estimates
        other = combine_effects(pooled.own_db, pooled.own_variance, method_re="dl")
    assert pooled.spread_db2 == pytest.approx(max(other.tau2, 0.0), rel=1e-9, abs=1e-12)
    assert pooled.weight.sum() == pytest.approx(1)
    assert pooled.difference_db == pytest.approx(pooled.weight @ pooled.own_db)

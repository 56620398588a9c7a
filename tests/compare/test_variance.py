"""How sure: paired differences held to published examples, and to scipy and statsmodels on the same numbers; stretches of time, steps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scipy.stats
from hypothesis import assume, example, given
from hypothesis import strategies as st
from statsmodels.stats.contingency_tables import mcnemar as sm_mcnemar
from statsmodels.stats.meta_analysis import combine_effects

from reach.compare import design, estimate, variance
from tests.compare.factory import sorted_reports

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


@pytest.mark.parametrize("n", [variance.EXACT_UP_TO - 1, variance.EXACT_UP_TO, variance.EXACT_UP_TO + 1])
def test_the_longest_that_are_counted_out_are_counted_out_and_the_normal_curve_goes_on_from_there(n):
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
@example(5, 2)
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


@pytest.mark.parametrize(("n", "skip"), [(1, 0), (2, 0), (5, 0), (6, 0), (7, 2)])
def test_up_to_six_differences_leave_no_mean_out(n, skip):
    """A rank sum of 0 has a chance of 1 in 2^n, of 1 the same, of 2 the same: with seven three of these are 2.3 %."""
    d = np.random.default_rng(n).normal(0, 1, n)
    found = variance.signed_ranks(d)
    walsh = np.sort([(one + other) / 2 for k, one in enumerate(d) for other in d[k:]])
    assert (found.low, found.high, found.median) == pytest.approx((walsh[skip], walsh[-1 - skip], np.median(walsh)))


# -- how sure


def _design(period_min: float = 10.0, slot_min: float = 2.0) -> design.Alternation:
    nothing = np.zeros(0)
    return design.Alternation(False, period_min, 20.0, 20.0, slot_min, 9, 9, nothing, nothing.astype(bool))


@pytest.mark.parametrize(
    ("on_air_min", "period_min", "width_min"),
    [
        (60, 2.0, 10.0),
        (240, 2.0, 20.0),
        (720, 2.0, 60.0),
        (1200, 2.0, 60.0),
        (60, 10.0, 20.0),
        (60, 4.0, 10.0),
        (1200, 40.0, 80.0),
    ],
)
def test_a_stretch_is_a_twelfth_of_the_time_between_ten_minutes_and_sixty_and_two_alternations_at_least(
    on_air_min, period_min, width_min
):
    made = sorted_reports(np.arange(0.0, on_air_min, 2.0), [True] * (on_air_min // 2))
    assert variance.width_min(made, _design(period_min)) == pytest.approx(width_min)


def _scores(push, share, receiver, time_min, width_min=10.0) -> variance.Scores:
    return variance.Scores(
        np.asarray(push, float), np.asarray(share, float), np.asarray(receiver), np.asarray(time_min, float), width_min
    )


def test_one_receiver_or_too_few_stretches_have_no_interval_worth_having():
    """Nothing can be said of others from one, nor of days like this from two and a half stretches that the mean takes up."""
    share = np.full(12, 1 / 12)
    push = share * np.tile([1.0, -1.0, 0.5], 4)
    alone = variance.spread(_scores(push, share, np.zeros(12, int), np.arange(12) * 60.0))
    assert alone.receivers == 1.0 and alone.like > 1e3 and alone.these < 10 and alone.like_df == 1.0
    brief = variance.spread(_scores(push, share, np.arange(12) % 4, np.repeat([0.0, 60.0], 6)))
    assert brief.times == pytest.approx(2.0) and brief.like > 1e3 and (brief.like_df, brief.these_df) == (1.0, 1.0)


def test_these_receivers_alone_are_surer_than_receivers_like_them():
    rng = np.random.default_rng(3)
    m, receivers = 400, 10
    receiver, time_min = rng.integers(0, receivers, m), rng.uniform(0, 1200, m)
    d = rng.normal(0, 3, receivers)[receiver] + rng.normal(0, 1, m)
    share = np.full(m, 1 / m)
    found = variance.spread(_scores(share * (d - d.mean()), share, receiver, time_min))
    assert found.these < found.like / 2
    assert found.like_df == pytest.approx(found.receivers - 1) and found.these_df == pytest.approx(found.times - 2)


def test_a_part_against_the_rest_shares_the_fading_of_each_stretch():
    """What moves both in a stretch cancels; what moves them apart adds up."""
    time_min, receiver = np.repeat(np.arange(0, 1200, 20.0), 10), np.tile(np.arange(10), 60)
    share, fade = np.full(600, 1 / 600), np.random.default_rng(1).normal(0, 2, 60).repeat(10)
    fade, own = fade - fade.mean(), np.random.default_rng(2).normal(0, 0.1, 600)
    alike = _scores(share * (fade + own), share, receiver, time_min)
    against = _scores(share * (-fade + own), share, receiver + 10, time_min)
    together = variance.contrast_spread(alike, replace(alike, receiver=receiver + 10))
    apart = variance.contrast_spread(alike, against)
    assert together.like < variance.spread(alike).like / 5
    assert apart.like == pytest.approx(2 * variance.spread(alike).like, rel=0.1)
    assert together.receivers == pytest.approx(10.0)  # as few as the side that has fewer


def test_an_interval_is_students():
    """Against scipy.stats, two-sided; of other levels and of few degrees of freedom too."""
    for df, level in ((1.0, 0.95), (3.7, 0.95), (60.0, 0.99)):
        half = scipy.stats.t.ppf(0.5 + level / 2, df) * 0.7
        assert variance.interval(2.0, 0.7, df, level) == pytest.approx((2.0 - half, 2.0 + half))
        assert variance.p_value(-2.0, 0.7, df) == pytest.approx(2 * scipy.stats.t.sf(2.0 / 0.7, df))
    assert variance.interval(2.0, 0.7, 5.0) == variance.interval(2.0, 0.7, 5.0, 0.95)
    assert (variance.p_value(0.0, 0.0, 5.0), variance.p_value(0.1, 0.0, 5.0)) == (1.0, 0.0)


def test_stretches_counted_once_are_those_of_a_loop_over_all_pairs():
    """Bartlett's weights one by one; a report with next to nothing about it counts a quarter of the usual at most."""
    rng = np.random.default_rng(9)
    t, share = np.concatenate([rng.uniform(0, 100, 60), [400.0]]), rng.uniform(0.2, 1, 61)
    share[-1] = 0.001
    share, d = share / share.sum(), rng.normal(2, 1, 61)
    d[-1] = 300.0
    near = np.maximum(1 - np.abs(t[:, None] - t) / 20, 0)
    about = near @ share
    weight = share / np.maximum(about, 0.25 * (share @ about))
    weight /= weight.sum()
    score = _scores(np.zeros(61), share, rng.integers(0, 5, 61), t, 20.0)
    mean, low, high = variance.by_time(score, d)
    assert mean == pytest.approx(weight @ d)
    order = np.argsort(t)
    nobody = np.zeros(61, dtype=np.int64)
    alike = variance.spread(_scores((weight * (d - mean))[order], weight[order], nobody, t[order], 20.0))
    assert (low, high) == pytest.approx(variance.interval(mean, alike.these, alike.these_df))


# -- depth of fading


@pytest.mark.parametrize(
    ("slot_min", "period_min", "widest_min"),
    [(2.0, 20.0, 8.0), (1.0, 20.0, 5.0), (2.0, 10.0, 21.0), (2.0, 10.5, 8.0), (4.0, 2.0, 16.0), (2.0, np.inf, 8.0)],
)
def test_steps_are_between_reports_of_one_setup_close_in_time(slot_min, period_min, widest_min):
    """Four slots or five minutes; where the setups change quickly, to the next turn of the same one."""
    for gap_min, near in ((widest_min, True), (widest_min + 0.1, False)):
        made = sorted_reports([0.0, gap_min, 0.0], [True] * 3, receiver=[0, 0, 1], snr_db=[-10.0, -7.0, -1.0])
        found = variance._steps(made, np.array([True] * 3), _design(period_min, slot_min))
        assert found.tolist() == ([3.0] if near else [])


@pytest.mark.parametrize(("reports", "above_db", "told"), [(301, 8.0, True), (300, 8.0, False), (301, 7.9, False)])
def test_depth_of_fading_needs_300_steps_of_each_setup_at_receivers_eight_decibels_above_their_limit(
    reports, above_db, told
):
    """A steps 2 dB up and down all the time, B 1 dB about the same level: a ratio of two."""
    up = np.arange(reports) % 2
    snr_db = np.concatenate([up * 2.0 - 1.0, up * 1.0 - 0.5])
    time_min = np.concatenate([np.arange(reports) * 4.0, np.arange(reports) * 4.0 + 2.0])
    made = sorted_reports(time_min, np.repeat([True, False], reports), snr_db=snr_db)
    limit_db = np.full(len(made), np.median(made.snr_db) - above_db)
    found = variance.fading_ratio(made, limit_db, _design(2.0))
    assert found == (pytest.approx(2.0) if told else None)


def test_without_any_step_of_b_there_is_no_ratio():
    time_min = np.arange(1400) * 2.0
    made = sorted_reports(time_min, np.arange(1400) % 2 == 0, snr_db=np.where(np.arange(1400) % 4 == 0, 1.0, 0.0))
    assert variance.fading_ratio(made, np.full(1400, -20.0), _design(2.0)) is None

"""The decoding limit, the cut and the pooling at their edges, held against numpy and numbers worked out by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.compare import design, estimate
from reach.compare.estimate import Limits
from tests.compare.factory import sorted_reports

FAR_DOWN = -60.0


def _limits(snr_db, *, receiver=None, mode=None, known_db=None) -> Limits:
    n = len(snr_db)
    made = sorted_reports(
        np.arange(n), [True] * n, receiver=np.zeros(n) if receiver is None else receiver, snr_db=snr_db
    )
    return estimate.limits(made.snr_db, made.receiver, np.zeros(n, np.int64) if mode is None else mode, known_db)


# -- the threshold


@given(st.integers(0, 10_000), st.integers(1, 4), st.integers(1, 3))
def test_a_receivers_own_limit_is_the_third_percentile_of_its_reports_in_a_mode_and_two_decibels(
    seed, receivers, modes
):
    """numpy's quantile; from thirty reports on, and where it lies above the limit of all, the second percentile and three decibels."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(20, 120))
    receiver, mode = np.sort(rng.integers(0, receivers, n)), rng.integers(0, modes, n)
    snr_db = rng.normal(-15 + 4 * receiver, 3).round(1)
    found = _limits(snr_db, receiver=receiver, mode=mode).threshold_db
    for k in range(n):
        of_mode = snr_db[mode == mode[k]]
        common = np.quantile(of_mode if len(of_mode) >= 50 else snr_db, 0.02) + 3
        own = snr_db[(mode == mode[k]) & (receiver == receiver[k])]
        truth = max(common, np.quantile(own, 0.03) + 2) if len(own) >= 30 else common
        assert found[k] == pytest.approx(truth)


@pytest.mark.parametrize(("reports", "own"), [(29, False), (30, True)])
def test_thirty_reports_show_a_receivers_own_limit(reports, own):
    snr_db = np.concatenate([np.full(200, -20.0), np.full(reports, -5.0)])
    found = _limits(snr_db, receiver=np.repeat([0, 1], [200, reports])).threshold_db
    assert found[0] == -17.0 and found[-1] == (-3.0 if own else -17.0)


@pytest.mark.parametrize(("weakest_db", "own"), [(-18.5, True), (-17.5, False)])
def test_who_never_came_within_twelve_decibels_of_a_known_limit_is_not_cut_by_its_own(weakest_db, own):
    """Known -28: its own limit lies two decibels above its weakest reports, so beyond -18 nothing speaks of its decoder."""
    found = _limits(np.full(40, weakest_db), known_db=-28.0).threshold_db
    assert found == pytest.approx(weakest_db + 2 if own else -25.0)


@pytest.mark.parametrize(
    ("at_top", "just_below", "others", "ceiling_db"),
    [
        (10, 3, 200, -1.0),
        (9, 0, 200, np.inf),
        (10, 4, 200, np.inf),
        (12, 4, 200, np.inf),
        (13, 4, 200, -1.0),
        (10, 0, 990, np.inf),
        (10, 0, 989, -1.0),
    ],
)
def test_reports_pile_up_where_ten_a_hundredth_and_thrice_as_many_as_just_below_are_at_the_top(
    at_top, just_below, others, ceiling_db
):
    """More than a hundredth and more than thrice; just below is within a decibel, that one included."""
    snr_db = np.concatenate([np.zeros(at_top), np.full(just_below, -1.0), np.full(others, -1.5)])
    found = _limits(snr_db)
    assert (found.ceiling_db, found.saturated) == (ceiling_db, ceiling_db < 0)


# -- the cut


@pytest.mark.parametrize(("snr_db", "some"), [(-20.0, True), (-20.1, False), (-5.0, True), (-4.9, False)])
def test_a_report_on_a_limit_itself_counts(snr_db, some):
    made = sorted_reports([0.0, 2.0], [True, False], snr_db=[snr_db, -10.0])
    cut = estimate.above(made, Limits(np.full(2, -20.0), -5.0), 0.0, estimate.usual_power(made))
    assert cut.some.tolist() == [some, True] and cut.level_db[0] == pytest.approx(snr_db, abs=0.1)


@pytest.mark.parametrize("beta_db", [-4.0, 0.0, 4.0])
def test_a_saturated_signal_is_cut_at_one_level_of_both_setups(beta_db):
    """Where A is the stronger its ceiling is B's too, that much lower; where B is, the other way round."""
    snr_db = np.repeat(np.arange(-20, 1, 1.0), 2)
    made = sorted_reports(np.arange(42.0), np.arange(42) % 2 == 0, snr_db=snr_db)
    some = estimate.above(made, Limits(np.full(42, -99.0), -2.0), beta_db, estimate.usual_power(made)).some
    assert snr_db[some & made.is_a].max() == -2.0 + min(beta_db, 0.0)
    assert snr_db[some & ~made.is_a].max() == -2.0 - max(beta_db, 0.0)


def test_usual_power_leaves_out_a_twentieth_on_either_side_of_each_band():
    """numpy's quantiles; a setup that was not heard on a band has none there."""
    rng = np.random.default_rng(4)
    channel, is_a, power_db = rng.integers(0, 2, 200), rng.random(200) < 0.5, rng.normal(0, 5, 200)
    is_a[channel == 1] = True
    made = sorted_reports(np.arange(200.0), is_a, channel=channel, power_db=power_db)
    found = estimate.usual_power(made)
    for of in (0, 1):
        at = made.channel == of
        low, high = np.quantile(power_db[(channel == of) & is_a], (0.05, 0.95))
        assert (found.least_a_db[at] == pytest.approx(low)) and (found.most_a_db[at] == pytest.approx(high))
    low, high = np.quantile(power_db[~is_a], (0.05, 0.95))
    assert found.least_b_db[made.channel == 0] == pytest.approx(low) and found.most_b_db[
        made.channel == 0
    ] == pytest.approx(high)
    assert not found.least_b_db[made.channel == 1].any() and not found.most_b_db[made.channel == 1].any()


# -- the pool


def test_contrasts_without_scatter_within_receivers_are_pooled_by_what_receivers_differ():
    """1 and 3 dB, each three times: nothing within, so both count alike though one has more pairs."""
    found = estimate.pool(np.array([1.0, 1, 1, 3, 3, 3, 3]), np.array([0, 0, 0, 1, 1, 1, 1]), np.ones(7))
    within = np.var([1, 1, 1, 3, 3, 3, 3])  # the scatter of all, where none can be seen within
    assert max(within, 1.0) == 1.0
    assert found.own_variance == pytest.approx([1.5 / 3, 1.5 / 4])
    assert found.own_db.tolist() == [1.0, 3.0] and found.pairs.tolist() == [3, 4]


def test_one_receiver_alone_differs_from_nobody():
    found = estimate.pool(np.array([1.0, 3.0, 8.0]), np.zeros(3, int), np.ones(3))
    assert found.spread_db2 == 0.0 and found.weight.tolist() == [1.0] and found.difference_db == pytest.approx(4.0)


def test_one_contrast_a_receiver_has_the_scatter_of_all():
    d = np.array([1.0, 5.0, -6.0])
    found = estimate.pool(d, np.array([0, 1, 2]), np.ones(3))
    assert found.own_variance == pytest.approx(1.5 * np.var(d))


def test_what_is_left_of_a_contrast_is_its_weight():
    """A receiver's mean by shares, and as many full contrasts as Kish has it: (sum of shares) squared over sum of squares."""
    share, d = np.array([1.0, 0.5, 0.25, 1.0, 1.0]), np.array([2.0, 4.0, 8.0, 0.0, 1.0])
    found = estimate.pool(d, np.array([0, 0, 0, 1, 1]), share)
    assert found.own_db == pytest.approx([(2 + 2 + 2) / 1.75, 0.5])
    assert found.worth == pytest.approx([1.75**2 / (1 + 0.25 + 0.0625), 2.0])
    within = (share[:3] / 1.75 @ (d[:3] - 6 / 1.75) ** 2 * found.worth[0] + 0.25 * 2) / (found.worth.sum() - 2)
    assert found.own_variance == pytest.approx(1.5 * within / found.worth)
    assert found.contrast_weight.sum() == pytest.approx(1.0)
    assert found.difference_db == pytest.approx(found.contrast_weight @ d)


# -- the fit


def _pairs_of(level_a_db: float, level_b_db: float, receivers: int = 4):
    """Ten minutes of A and of B in turn at each receiver, the same level always, nothing whole."""
    time = np.tile(np.arange(0, 120, 2.0), receivers)
    is_a = time // 10 % 2 == 0
    who = np.repeat(np.arange(receivers), 60)
    wobble = np.random.default_rng(2).normal(0, 0.2, len(time))
    return sorted_reports(time, is_a, receiver=who, snr_db=np.where(is_a, level_a_db, level_b_db) + wobble)


def test_far_from_the_limit_nothing_follows_what_is_presumed():
    made = _pairs_of(3.0, 1.0)
    found = estimate.fit(made, Limits(np.full(len(made), FAR_DOWN), np.inf), design.alternation(made))
    assert found is not None and (found.slope, found.inflation, found.cost) == (0.0, 1.0, 1.0)
    assert found.pooled.difference_db == pytest.approx(2.0, abs=0.15) and (found.kept == 1.0).all()


def test_where_half_a_decibel_more_would_leave_nothing_the_slope_is_one():
    """Both a quarter of a decibel above the limit at most: presume half a decibel for either and the other is gone."""
    made = _pairs_of(0.0, 0.0)
    strongest = made.snr_db.max()
    found = estimate.fit(made, Limits(np.full(len(made), strongest - 0.45), np.inf), design.alternation(made))
    assert found is not None and found.slope == 1.0 and found.inflation == pytest.approx(10.0)


@pytest.mark.parametrize(("slope", "inflation"), [(-0.5, 1.0), (0.0, 1.0), (0.5, 2.0), (0.9, 10.0), (1.5, 10.0)])
def test_standard_errors_grow_with_the_slope_and_tenfold_at_most(slope, inflation):
    made = _pairs_of(3.0, 1.0)
    found = estimate.fit(made, Limits(np.full(len(made), FAR_DOWN), np.inf), design.alternation(made))
    assert found is not None
    assert replace(found, slope=slope).inflation == pytest.approx(inflation)
    assert replace(found, slope=slope, cost=1.15).inflation == pytest.approx(1.15 * inflation)


def test_with_bands_in_turn_errors_are_larger():
    time = np.arange(0, 480, 2.0)
    made = sorted_reports(
        time, time // 10 % 2 == 0, channel=time // 20 % 2, snr_db=np.random.default_rng(1).normal(0, 1, len(time))
    )
    found = estimate.fit(made, Limits(np.full(len(made), FAR_DOWN), np.inf), design.alternation(made))
    assert found is not None and found.cost == 1.15


def test_without_any_partner_there_is_no_fit():
    one = sorted_reports([0, 2, 4], [True] * 3)
    told = design.alternation(_pairs_of(0, 0))
    assert estimate.fit(one, Limits(np.full(3, FAR_DOWN), np.inf), told) is None
    made = _pairs_of(0.0, 0.0)
    assert estimate.fit(made, Limits(np.full(len(made), 20.0), np.inf), told) is None


# -- contrasts


@pytest.mark.parametrize(
    ("before", "after", "paired"),
    [(10, 12, True), (12, 10, True), (11, 11, False), (10, 20, True), (20, 10, True), (10, 21, False), (21, 10, False)],
)
def test_the_nearer_neighbour_lies_within_the_one_time_and_the_farther_within_the_other(before, after, paired):
    """Ten minutes and twenty, these included."""
    made = sorted_reports([0, before, before + after], [True, False, True])
    found = estimate.in_time(made, np.ones(3), 10.0, 20.0)
    assert (1 in found.row.tolist()) is paired


ROW = st.tuples(
    st.integers(0, 2), st.integers(0, 40), st.booleans(), st.integers(-20, 0)
)  # receiver, minute, setup, SNR


@given(st.lists(ROW, min_size=1, max_size=25, unique_by=lambda row: row[:3]))
def test_every_report_is_held_against_a_straight_line_between_its_neighbours_by_a_search_by_hand(rows):
    who, minute, is_a, snr_db = (np.array(each) for each in zip(*sorted(rows), strict=True))
    made = sorted_reports(minute, is_a, receiver=who, snr_db=snr_db)
    share = np.random.default_rng(len(rows)).uniform(0.1, 1, len(made))
    found = estimate.in_time(made, share, 6.0, 15.0)
    truth = []
    for k in range(len(made)):
        others = [j for j in range(len(made)) if made.unit[j] == made.unit[k] and made.is_a[j] != made.is_a[k]]
        before = max(
            (j for j in others if made.time_min[j] <= made.time_min[k]), key=lambda j: made.time_min[j], default=None
        )
        after = min(
            (j for j in others if made.time_min[j] >= made.time_min[k]), key=lambda j: made.time_min[j], default=None
        )
        if before is None or after is None:
            continue
        since, until = made.time_min[k] - made.time_min[before], made.time_min[after] - made.time_min[k]
        if min(since, until) > 6 or max(since, until) > 15:
            continue
        line = np.interp(made.time_min[k], made.time_min[[before, after]], made.level_db[[before, after]])
        counts = share[k] * share[before] * (1.0 if before == after else share[after])
        truth.append((k, (line - made.level_db[k]) * (1 if made.is_a[before] else -1), counts))
    assert found.row.tolist() == [k for k, _, _ in truth]
    assert found.difference_db == pytest.approx([d for _, d, _ in truth]) and found.share == pytest.approx(
        [s for _, _, s in truth]
    )

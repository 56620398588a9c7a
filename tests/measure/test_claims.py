"""The gate: what is uniform is never singled out, what stands apart is, few are too few, ties are ties."""

from __future__ import annotations

import itertools
import math
import operator
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from reach.measure import claims
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Confounder, Kind, Reason
from tests.measure import claims_simulator as simulated

PROMISED = 0.05  # of false claims


@pytest.mark.parametrize("kind", simulated.SIMULATED)
def test_hardly_anything_is_singled_out_of_data_without_a_difference(kind):
    """300 seeds that had no part in making the test, receivers of very unequal zeal."""
    assert simulated.claimed(kind, simulated.SOME, simulated.SET_ASIDE) <= PROMISED


def test_of_two_that_are_best_and_alike_neither_is_the_winner():
    """The hardest case, which tells that the number of candidates is allowed for."""
    two = simulated.World(400, 6.0, more=6.0, best=2)
    found = [simulated.hours(np.random.default_rng(seed), two) for seed in simulated.SET_ASIDE]
    assert np.mean([each.apart for each in found]) <= PROMISED
    assert np.mean([set(each.tie) == {0, 1} for each in found]) > 0.1
    assert not any(each.tie and 0 not in each.tie and 1 not in each.tie for each in found)


@pytest.mark.parametrize(
    ("kind", "world"),
    [
        (Kind.FULLEST_HOUR, simulated.World(400, 6.0, more=6.0)),
        (Kind.FULLEST_SECTOR, simulated.World(400, 6.0, more=6.0)),
        (Kind.FARTHEST_SECTOR, simulated.World(400, 6.0, farther=3.0)),
        (Kind.WEAKER, simulated.World(60, 12.0, farther=3.0)),
        (Kind.RECEIVERS, simulated.World(60, more=5.0)),
    ],
)
def test_what_was_planted_is_found(kind, world):
    right, wrong = simulated.found_rightly(kind, world, range(40))
    assert right > 0.8 and wrong == 0


def test_the_simulator_deals_as_numpy_does():
    for seed in range(50):
        one, other = np.random.default_rng(seed), np.random.default_rng(seed)
        shares = np.random.default_rng(seed + 1000).random(12) * (np.arange(12) % 3 > 0)
        shares /= shares.sum()
        assert np.array_equal(simulated._dealt(one, 12, 40, shares), other.choice(12, 40, p=shares))
        assert one.random() == other.random()


# --- the test of signs --------------------------------------------------------------------------------------------------


@given(st.lists(st.integers(-50, 50), min_size=1, max_size=9))
def test_signs_by_lot_are_counted_out(values):
    """Against every assignment of signs, written out."""
    total = abs(sum(values))
    every = [
        sum(s * v for s, v in zip(signs, values, strict=True))
        for signs in itertools.product((1, -1), repeat=len(values))
    ]
    truth = pytest.approx(np.mean([abs(each) >= total for each in every]))
    for unit in (
        1,
        1e6 / 3,
        1e-6 / 3,
    ):  # what the last digits of sums in another order make of equal ones is not counted
        assert claims.by_lot([each * unit for each in values]) == truth


def test_many_small_ones_are_near_what_drawing_gives():
    rng = np.random.default_rng(3)
    values = rng.lognormal(0, 1, 60) * np.where(rng.random(60) < 0.64, 1, -1)
    signs = rng.choice([-1.0, 1.0], (40_000, 60))
    drawn = np.mean(np.abs(signs @ np.abs(values)) >= abs(values.sum()))
    assert claims.by_lot(values) == pytest.approx(drawn, abs=0.006)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=40), st.floats(0.001, 1000))
def test_it_knows_neither_sign_nor_scale_nor_order(values, scale):
    p = claims.by_lot(values)
    assert 0 <= p <= 1
    assert claims.by_lot([-each for each in values]) == p
    assert claims.by_lot(values[::-1]) == pytest.approx(p)
    assert claims.by_lot([each * scale for each in values]) == pytest.approx(p, abs=2e-3)


def test_of_many_that_cancel_out_the_p_is_one():
    assert claims.by_lot([1, -1] * 10) == 1


def test_three_receivers_never_pass():
    assert claims.by_lot([100, 100, 100]) == 0.25
    assert claims.by_lot([1] * 7) == 2 / 2**7 < claims.LEVEL


@pytest.mark.parametrize(("ahead", "behind", "p"), [(10, 6, 0.3173), (10, 10, 1.0), (15, 10, 0.3173), (24, 12, 0.0455)])
def test_what_does_not_stand_apart_has_the_p_of_the_normal_distribution(ahead, behind, p):
    """Receivers with one report more for the one, and others with one more for the other: 10 to 6, and 15 to 10, are one standard
    deviation, 24 to 12 are two; 0.3173 and 0.0455 from any table of both tails."""
    more = np.array([True] * ahead + [False] * behind)
    who = np.arange(len(more))
    found = claims.closest(0, np.repeat([0, 1], len(more)), np.tile(who, 2), np.concatenate([2 + more, 2 + ~more]))
    assert found == pytest.approx(p, abs=1e-4)


# --- claims -------------------------------------------------------------------------------------------------------------


def fullest(*rows: tuple[int, int, int], names: str = "abcd") -> claims.Claim:
    """rows : category, receiver, reports"""
    return claims.fullest(Kind.FULLEST_HOUR, names, *np.array(rows).reshape(-1, 3).T)


def test_one_receiver_is_few_however_much_it_sends():
    found = fullest((0, 1, 500), (1, 2, 3))
    assert (found.reason, found.winner, found.receivers) == (Reason.FEW, "a", 1)
    assert not found.apart and not found.tie


def test_three_receivers_with_nine_reports_are_few():
    assert fullest((0, 1, 3), (0, 2, 3), (0, 3, 3)).reason == Reason.FEW
    assert fullest((0, 1, 4), (0, 2, 3), (0, 3, 3)).reason == Reason.ALONE
    assert (FEW_REPORTS, FEW_RECEIVERS) == (10, 3)


def test_what_every_receiver_says_stands_apart():
    rows = [(0, who, 5) for who in range(12)] + [(1, who, 2) for who in range(12)]
    found = fullest(*rows)
    assert found.apart and (found.winner, found.runner_up) == ("a", "b")
    assert (found.reports, found.receivers, found.value, found.next_value) == (60, 12, 60.0, 24.0)
    assert found.p == pytest.approx(2 / 2**12, rel=0.15)  # the quick test, a little stricter, counts where it is larger


def test_two_alike_are_a_tie_and_all_alike_are_none():
    low = [(at, who, 1) for at in (2, 3) for who in range(16)]
    two = [(at, who, 6 + (who + at) % 2) for at in (0, 1) for who in range(16)]
    found = fullest(*two, *low)
    assert found.reason == Reason.ALIKE and set(found.tie) == {"a", "b"}
    assert not fullest(*two).tie


@pytest.mark.parametrize(("behind", "tie"), [(8, ("a", "b")), (7, ())])
def test_what_a_tie_leaves_behind_is_behind_by_the_level_of_all_pairs(behind, tie):
    """Sidak's of three pairs, each two-sided: 1 - 0.975 ** (1 / 3) = 0.0084. Eight receivers that agree do so once in 128, 0.0078;
    of seven, and two small ones that cancel out, signs by lot give as much three times in 256, 0.0117."""
    a, b = ([(at, who, 10 - (who == last)) for who in range(10)] for at, last in ((0, -1), (1, 9)))
    small = {8: 0, 9: 0} if behind == 8 else {7: -1, 8: 1}
    c = [(2, who, 10 + small[who] if who in small else 5 if who < behind else 10) for who in range(10)]
    found = fullest(*a, *b, *c)
    assert (found.reason, found.winner, found.tie) == (Reason.ALIKE, "a", tie)


@pytest.mark.parametrize(("most", "alike"), [(4, "ab"), (3, "abc")])
def test_a_tie_with_ten_reports_of_three_receivers_is_told_and_with_nine_all_may_be_as_large(most, alike):
    rows = [(0, who, 1) for who in range(12)] + [(1, 0, most), (1, 1, 3), (1, 2, 3), (2, 11, 1)]
    assert fullest(*rows).alike == tuple(alike)


def test_the_largest_with_ten_reports_of_three_receivers_is_not_few_itself():
    found = fullest((0, 0, 4), (0, 1, 3), (0, 2, 3), (1, 0, 3), (1, 1, 3), (1, 2, 3))
    assert (found.reason, found.alike) == (Reason.ALIKE, ("a", "b"))


def test_without_another_there_is_no_closest():
    assert math.isnan(claims.closest(1, [1, 1, 2, 0], [1, 2, 3, 3], [5, 5, 0, 0]))


def test_nobody_is_no_claim():
    found = claims.fullest(Kind.FULLEST_HOUR, "ab", [], [], [])
    assert (found.reason, found.winner) == (Reason.FEW, None)
    assert (found.reports, found.receivers, found.candidates) == (0, 0, 0)
    for names in ("ab", ""):
        found = claims.farthest(Kind.FARTHEST_HOUR, names, [], [], [], [])
        assert (found.winner, found.reports, found.receivers, found.candidates) == (None, 0, 0, 0)


def farthest(*rows: tuple[int, int, int, float], names: str = "abcd") -> claims.Claim:
    """rows : category, receiver, reports, kilometres"""
    at, who, reports, km = zip(*rows, strict=True)
    return claims.farthest(Kind.FARTHEST_HOUR, names, at, who, reports, km)


def test_ten_reports_of_three_receivers_have_a_median_and_no_fewer():
    """Neither do nine, nor any number of two; then the most that there are of one category are told."""
    ten = [(0, 1, 4, 700.0), (0, 2, 3, 700.0), (0, 3, 3, 700.0)]
    found = farthest(*ten)
    assert (found.reason, found.winner, found.value, found.candidates) == (Reason.ALONE, "a", 700.0, 1)
    for few in ([(0, 1, 3, 700.0), *ten[1:]], [(0, 1, 500, 700.0), (0, 2, 3, 700.0)]):
        found = farthest((1, 9, 1, 100.0), *few)
        assert (found.reason, found.winner) == (Reason.FEW, None)
        assert (found.reports, found.receivers) == (sum(each[2] for each in few), len(few))


def test_of_two_equal_ones_the_earlier_is_the_winner():
    rows = [(at, who, 5, 700.0) for at in (2, 1) for who in range(6)]
    found = farthest(*rows)
    assert (found.winner, found.runner_up, found.reason, found.p) == ("b", "c", Reason.ALIKE, 1.0)
    assert fullest(*[row[:3] for row in rows]).winner == "b"


def test_of_more_rivals_than_are_looked_at_closely_the_closest_are():
    """Six receivers that agree do so once in 32, which a normal distribution takes for less. The one rival that only they tell
    behind the winner is looked at, though 29 others, whom twelve tell behind, are ranked alike."""
    winner = [(0, who, 20) for who in range(12)]
    close = [(1, who, 20 - (who < 6)) for who in range(12)]
    far = [(at, who, 19) for at in range(2, 31) for who in range(12)]
    found = fullest(*winner, *close, *far, names=range(31))
    assert found.p == 2 / 2**6 > claims.LEVEL
    assert (found.reason, found.winner, found.runner_up) == (Reason.ALIKE, 0, 1)


def test_rows_without_reports_are_no_rows():
    rows = [(0, who, 4) for who in range(3)] + [(1, who, 3) for who in range(3)]
    assert fullest(*rows, (0, 8, 0), (1, 9, 0), (2, 1, 0)) == fullest(*rows)
    assert (fullest(*rows).receivers, fullest(*rows).candidates) == (3, 2)
    assert fullest(*rows, (3, 0, 1)).candidates == 3  # one report makes a candidate


@given(
    st.lists(st.tuples(st.integers(0, 3), st.integers(0, 9), st.integers(1, 40)), min_size=1, max_size=40),
    st.randoms(use_true_random=False),
)
def test_order_and_names_of_receivers_change_nothing(rows, random):
    mixed = [(at, 1000 - 7 * who, n) for at, who, n in rows]
    random.shuffle(mixed)
    one, other = fullest(*rows), fullest(*mixed)
    assert (one.winner, one.reason, one.alike, one.value) == (other.winner, other.reason, other.alike, other.value)
    assert one.p == pytest.approx(other.p, nan_ok=True)


def test_a_far_receiver_alone_is_no_far_direction():
    """ "Farthest towards S" from one receiver: it is no candidate, whatever its distance."""
    at = np.repeat([0, 1, 2], [12, 12, 1])
    who = np.arange(25)
    km = np.concatenate([np.full(12, 1000.0), np.full(12, 1100.0), [18000.0]])
    found = claims.farthest(Kind.FARTHEST_SECTOR, ["N", "E", "S"], at, who, np.full(25, 20), km)
    assert found.winner != "S" and found.candidates == 2


def test_medians_are_told_apart_by_receivers_not_by_reports():
    """Nineteen reports of one receiver against three others: nothing, though every report agrees."""
    at, who = np.repeat([0, 1], [3, 1]), np.array([0, 1, 2, 3])
    found = claims.farthest(Kind.WEAKER, ["near", "far"], at, who, [20, 20, 20, 19], [5.0, 6.0, 7.0, 27.0])
    assert not found.apart
    many_at, many_who = np.repeat([0, 1], 10), np.arange(20)
    apart = claims.farthest(Kind.WEAKER, ["near", "far"], many_at, many_who, np.full(20, 5), 20.0 * many_at + many_who)
    assert apart.apart and apart.winner == "far"


def part(rows: list[tuple[int, int, float]]) -> claims._Part:
    """From (receiver, reports, value)."""
    receiver, reports, value = (np.array(each) for each in zip(*rows, strict=True))
    return claims._Part(receiver, reports.astype(float), value.astype(float))


def test_medians_differ_as_often_as_signs_fall_so_by_lot():
    """Four receivers that agree do so once in eight; one that was heard in both parts is one receiver, not two."""
    high, low = [(k, 5, 10.0) for k in range(4)], [(k, 7, 0.0) for k in range(4, 8)]
    assert claims.differ(part(high[:2]), part(low[:2])) == pytest.approx(1 / 8)
    assert claims.differ(part(high), part(low)) == pytest.approx(2 / 2**8)
    assert claims.differ(part(high), part([(k, 7, 0.0) for k in range(4)])) == pytest.approx(2 / 2**4)
    assert claims.differ(part(high), part(high)) == 1


PART = st.lists(st.tuples(st.integers(0, 8), st.integers(1, 9), st.integers(-5, 5)), min_size=1, max_size=10)


@settings(phases=(Phase.explicit, Phase.generate))
@given(PART, PART)
def test_all_signs_tried_out_one_by_one_in_whole_fractions_give_the_same(one, other):
    """Of each receiver the reports above the common median, those on it half, as shares of their part, against what all have."""
    rows = [*one, *other]
    middle = np.median(np.repeat([value for *_, value in rows], [reports for _, reports, _ in rows]))
    above = [Fraction(int(np.sign(value - middle)) + 1, 2) for *_, value in rows]
    share = sum(each * reports for each, (_, reports, _) in zip(above, rows, strict=True)) / sum(n for _, n, _ in rows)
    totals = [sum(n for _, n, _ in one)] * len(one) + [-sum(n for _, n, _ in other)] * len(other)
    of: dict[int, Fraction] = {}
    for each, (who, reports, _), total in zip(above, rows, totals, strict=True):
        of[who] = of.get(who, Fraction(0)) + (each - share) * reports / total
    size, seen = [abs(each) for each in of.values() if each], abs(sum(of.values()))
    sums = [abs(sum(map(operator.mul, signs, size))) for signs in itertools.product((1, -1), repeat=len(size))]
    assert claims.differ(part(one), part(other)) == pytest.approx(np.mean([each >= seen for each in sums]))


@settings(phases=(Phase.explicit, Phase.generate))
@given(PART, PART)
def test_which_part_comes_first_and_how_reports_are_put_together_changes_nothing(one, other):
    p = claims.differ(part(one), part(other))
    assert claims.differ(part(other), part(one)) == pytest.approx(p)
    split = [(who, share, value) for who, reports, value in one for share in (1, reports - 1) if share]
    assert claims.differ(part(split), part(other)) == pytest.approx(p)
    assert claims.differ(
        part([(who, 3 * reports, value) for who, reports, value in one]),
        part([(who, 3 * reports, value) for who, reports, value in other]),
    ) == pytest.approx(p)
    assert claims.differ(
        part([(who, reports, 2 * value + 7) for who, reports, value in one]),
        part([(who, reports, 2 * value + 7) for who, reports, value in other]),
    ) == pytest.approx(p)


@pytest.mark.parametrize(
    ("first", "second", "p"), [(30, 22, 0.3317), (8, 0, 2 / 256), (0, 8, 2 / 256), (5, 5, 1.0), (1, 0, 1.0)]
)
def test_a_majority_is_the_sign_test(first, second, p):
    found = claims.majority(Kind.RECEIVERS, first, second, settled=True)
    assert found.p == pytest.approx(p, abs=5e-5)
    assert found.apart == (p < claims.LEVEL)
    assert found.winner == (first >= second)


def test_a_majority_makes_no_verdict():
    assert not claims.majority(Kind.STRETCHES, 40, 2, settled=False).apart
    assert claims.majority(Kind.STRETCHES, 2, 0, settled=True).reason == Reason.FEW
    assert (
        claims.majority(Kind.STRETCHES, claims.FEW_RECEIVERS, 0, settled=True).reason == Reason.ALIKE
    )  # enough, and p is 1 in 4
    assert math.isnan(claims.majority(Kind.RECEIVERS, 0, 0, settled=True).p)
    assert claims.majority(Kind.RECEIVERS, 9, 1, settled=True).confounders == (Confounder.TIME,)


@pytest.mark.parametrize(("first", "second", "settled", "alike"), [
    (9, 1, True, (True,)), (1, 9, True, (False,)), (9, 1, False, (True, False)), (4, 5, True, (True, False)),
])  # fmt: skip
def test_where_a_majority_proves_nothing_both_are_named(first, second, settled, alike):
    found = claims.majority(Kind.RECEIVERS, first, second, settled=settled)
    assert found.alike == alike and found.candidates == 2
    assert (found.winner, found.runner_up) == (first >= second, first < second)
    assert (found.value, found.next_value, found.receivers) == (max(first, second), min(first, second), first + second)


def test_another_mix_of_bands_is_seen():
    chosen, band = np.array([True, True, False, False]), np.array(["20m", "20m", "20m", "40m"], object)
    assert claims.mix_differs(chosen, band, [5, 5, 1, 9])
    assert not claims.mix_differs(chosen, band, [5, 5, 9, 1])
    for all_or_none in (np.ones(4, bool), np.zeros(4, bool)):
        assert claims.mix_differs(all_or_none, band, [1, 1, 1, 1]) is False
    for other, differs in ((19, False), (21, True)):  # per cent of the reports on another band: a fifth is a difference
        assert claims.mix_differs(chosen, band, [50, 50, 100 - other, other]) is differs


def test_reports_without_a_band_are_a_mix_of_their_own():
    chosen = np.array([True, True, False, False])
    assert claims.mix_differs(chosen, np.array([None, None, "20m", "20m"], object), [1, 1, 1, 1])
    assert not claims.mix_differs(chosen, np.array([None, "20m", None, "20m"], object), [1, 1, 1, 1])


@pytest.mark.parametrize("scale", [1e-3, 1, 1e3])
def test_the_closest_of_amounts_is_the_same_in_every_unit(scale):
    """Visits by day are small fractions, reports are hundreds."""
    rng = np.random.default_rng(11)
    category, receiver = np.tile(np.arange(3), 40), np.repeat(np.arange(40), 3)
    amount = rng.integers(1, 9, 120) + np.where(category == 0, 2.0, 0.0)
    alone = claims.closest(0, category, receiver, amount)
    assert claims.closest(0, category, receiver, amount * scale) == pytest.approx(alone, rel=1e-6)
    assert 0 < alone < 1

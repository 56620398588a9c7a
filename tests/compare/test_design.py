"""How setups took turns, at the edges: pauses, stays, schedules, orders of bands, by hand; and what the law says at its ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.compare import design
from reach.compare.reports import one_after_another
from tests.compare.factory import sorted_reports

PAUSE = 240.0


@given(
    st.lists(st.tuples(st.integers(0, 3), st.floats(-50, 50)), min_size=1, max_size=20),
    st.sampled_from([0.0, 0.5, 20.0]),
)
def test_groups_on_one_axis_never_come_near_each_other(rows, gap_min):
    group, time_min = (np.array(each) for each in zip(*sorted(rows), strict=True))
    at = one_after_another(group, time_min, gap_min)
    assert (np.diff(at) >= 0).all()
    for one in range(4):
        inside = group == one
        assert np.diff(at[inside]) == pytest.approx(np.diff(time_min[inside]))
        if inside.any() and (group > one).any():
            assert at[group > one].min() - at[inside].max() > gap_min


@pytest.mark.parametrize(("pause_min", "runs"), [(PAUSE, [0]), (PAUSE + 0.1, [0, 2])])
def test_a_longer_silence_than_four_hours_ends_a_stretch(pause_min, runs):
    assert design._runs(np.array([0.0, 2.0, 2.0 + pause_min]), np.array([True] * 3)).tolist() == runs


@pytest.mark.parametrize(
    ("gaps", "usual"), [([10.0, PAUSE, PAUSE + 1], [10.0, PAUSE]), ([PAUSE + 1, 900.0], [PAUSE + 1, 900.0]), ([], [])]
)
def test_pauses_count_as_gaps_only_where_there_is_nothing_else(gaps, usual):
    assert design._usual(np.array(gaps)).tolist() == usual


def test_moments_with_both_setups_are_no_slots():
    time_min, is_a = np.array([4.0, 0.0, 0.0, 2.0, 2.0, 6.0]), np.array([False, True, True, True, False, False])
    slots, labels = design._slots(time_min, is_a)
    assert slots.tolist() == [0.0, 4.0, 6.0] and labels.tolist() == [True, False, False]


@pytest.mark.parametrize(
    ("first", "last", "rows"),
    [(0.0, 30.0, [0, 1, 2, 3]), (12.0, 25.0, [1, 2]), (10.0, 19.9, [1]), (9.9, 20.0, [0, 1, 2]), (31.0, 99.0, [3])],
)
def test_of_a_schedule_the_rows_from_the_first_report_s_to_the_last_one_s_count(first, last, rows):
    """Rows of ten minutes from 0 on, given in any order."""
    order = np.array([2, 0, 3, 1])
    starts, labels = design._within((10.0 * order, order % 2 == 0), np.array([first, last]))
    assert starts.tolist() == [10.0 * row for row in rows] and labels.tolist() == [row % 2 == 0 for row in rows]


def _in_blocks(minutes: float, block_min: float, slot_min: float = 2.0):
    time = np.arange(0, minutes, slot_min)
    return sorted_reports(time, time // block_min % 2 == 0)


def test_an_alternation_never_changed_has_no_period():
    found = design.alternation(sorted_reports([0.0, 2.0, 4.0], [True] * 3))
    assert found.period_min == np.inf and (found.within_min, found.farthest_min) == (10.0, 10.0)
    assert found.confounded and (found.runs_a, found.runs_b) == (0, 0)
    one = design.alternation(sorted_reports([3.0], [True]))
    assert one.slot_min == 0.0 and one.period_min == np.inf


@pytest.mark.parametrize(("block_min", "confounded"), [(90.0, False), (92.0, True)])
def test_ninety_minutes_are_the_slowest_change(block_min, confounded):
    found = design.alternation(_in_blocks(6 * block_min, block_min))
    assert found.period_min == block_min and found.confounded is confounded


def test_three_stretches_of_each_setup_are_enough():
    for blocks, confounded in ((6, False), (5, True)):
        found = design.alternation(_in_blocks(10.0 * blocks, 10.0))
        assert (found.runs_a, found.runs_b) == (3, blocks // 2) and found.confounded is confounded


def test_reports_are_paired_within_nine_in_ten_of_the_changes_and_ten_minutes_more():
    """Changes 4 to 40 minutes apart: numpy's quantile of the gaps between starts, and between ends."""
    lengths = np.arange(4, 42, 2)
    label = np.repeat(np.arange(len(lengths)) % 2 == 0, lengths // 2)
    time = np.arange(len(label)) * 2.0
    found = design.alternation(sorted_reports(time, label))
    gaps = np.concatenate([lengths[:-1], lengths[1:]])
    assert found.period_min == pytest.approx(gaps.mean())
    assert found.within_min == found.farthest_min == pytest.approx(10 + np.quantile(gaps, 0.9))


@pytest.mark.parametrize(("both", "together"), [(3, False), (4, True)])
def test_more_than_three_moments_in_ten_with_both_setups_are_on_the_air_at_once(both, together):
    """Ten moments, in three or four of them both; on two bands each moment counts for its band."""
    time = np.concatenate([np.arange(10) * 2.0, np.arange(both) * 2.0])
    is_a = np.repeat([True, False], [10, both])
    assert design._together_share(sorted_reports(time, is_a)) == pytest.approx(both / 10)
    assert design.alternation(sorted_reports(time, is_a)).simultaneous is together
    apart = sorted_reports(time, is_a, channel=np.repeat([0, 1], [10, both]))
    assert design._together_share(apart) == 0.0 and not design.alternation(apart).simultaneous
    assert design._together_share(sorted_reports([0.0], [True])) == 0.0


def test_both_at_once_are_paired_in_one_moment_and_ten_minutes_about():
    time = np.repeat(np.arange(0, 60, 4.0), 2)
    found = design.alternation(sorted_reports(time, np.arange(len(time)) % 2 == 0))
    assert found.simultaneous and not found.confounded
    assert (found.slot_min, found.period_min, found.within_min, found.farthest_min) == (4.0, 4.0, 14.0, 14.0)


def _turns(order: str, bands: int = 2, visits: int = 8):
    """Twenty minutes a band, ten of either setup, each visit's first one as the order says."""
    time = np.arange(0, 20.0 * visits, 2.0)
    visit = (time // 20).astype(int)
    first = np.array([order[k % len(order)] == "a" for k in visit])
    return design.alternation(sorted_reports(time, (time // 10 % 2 == 0) == first, channel=visit % bands))


@pytest.mark.parametrize(
    ("order", "same"),
    [
        ("aaaaaaaaaa", True),
        ("bbbbbbbbbb", True),
        ("abbbbbbbbb", True),
        ("abbbb", False),
        ("aaaab", False),
        ("ab", False),
    ],
)
def test_the_order_counts_as_changed_about_from_one_visit_in_five_on(order, same):
    """One in ten is not enough, one in five is."""
    found = _turns(order, visits=10)
    assert found.turns is not None
    assert (found.turns.bands, found.turns.stay_min, found.turns.return_min, found.turns.same_first) == (
        2,
        20.0,
        40.0,
        same,
    )


def test_a_band_that_was_never_come_back_to_takes_no_turns():
    assert _turns("ab", visits=2).turns is None
    found = _turns("ab", visits=3)
    assert found.turns is not None and found.turns.return_min == 40.0


@pytest.mark.parametrize(("within", "told"), [(2, True), (1, False)])
def test_two_changes_within_stays_tell_the_period_of_bands_in_turn(within, told):
    """So many visits had both setups, the rest one alone: below that a change of band is a change of setup."""
    time = np.arange(0, 20.0 * 6, 2.0)
    visit = (time // 20).astype(int)
    is_a = np.where(visit < within, time // 10 % 2 == 0, visit % 4 < 2)
    found = design.alternation(sorted_reports(time, is_a, channel=visit % 2))
    assert (found.turns is not None) is told
    assert (found.farthest_min > found.within_min) is told


def test_another_band_heard_between_two_slots_begins_another_stay():
    """In between, and not in the same moment as one of the two."""
    time = [0.0, 2.0, 3.0, 4.0, 6.0, 6.0, 8.0]
    channel = [0, 0, 1, 0, 0, 1, 0]
    made = sorted_reports(time, [True] * 7, channel=channel)
    found = design._channel(made, 0)
    assert found.time_min.tolist() == [0.0, 2.0, 4.0, 6.0, 8.0]
    assert found.stay.tolist() == [True, False, True, False, False]
    assert design._channel(made, 1).stay.tolist() == [True, True]


def test_stretches_are_counted_on_the_side_that_has_fewer_to_show():
    """By label alone over all bands, and band by band where both setups were heard."""
    time = np.arange(0, 120, 2.0)
    is_a = time // 10 % 2 == 0
    found = design.alternation(sorted_reports(time, is_a, channel=(time >= 60).astype(int)))
    assert (found.runs_a, found.runs_b) == (6, 6)
    apart = design.alternation(sorted_reports(time, is_a, channel=np.where(time < 60, is_a, 2)))
    assert (apart.runs_a, apart.runs_b) == (3, 3)  # on the first two bands one setup each
    slots = np.arange(0, 120, 20.0), np.arange(6) % 2 == 0
    scheduled = design.alternation(sorted_reports(time, time // 20 % 2 == 0), slots)
    assert (scheduled.runs_a, scheduled.runs_b, scheduled.period_min) == (3, 3, 20.0)


def test_with_a_schedule_the_period_is_the_schedule_s_on_one_band_and_that_of_the_reports_on_several():
    """Five-minute rows in a schedule of which every second was heard."""
    time = np.concatenate([k * 20.0 + np.array([0.0, 2.0, 10.0, 12.0]) for k in range(6)])
    is_a = time % 20 < 10
    slots = np.arange(0, 120, 5.0), np.arange(24) % 2 == 0
    assert design.alternation(sorted_reports(time, is_a), slots).period_min == 5.0
    assert design.alternation(sorted_reports(time, is_a, channel=time // 60), slots).period_min == 10.0


@pytest.mark.parametrize(
    ("block_min", "hours"),
    [(1.0, 1.0), (2.0, 1.0), (5.0, 1.5), (10.0, 3.0), (20.0, 5.0), (30.0, 7.5), (90.0, 7.5), (np.sqrt(50), 2.25)],
)
def test_the_shortest_session_grows_with_the_logarithm_of_the_block_between_the_lengths_that_were_fitted(
    block_min, hours
):
    """METHOD.md's table; half way between 5 and 10 minutes in the logarithm half way between 1.5 hours and 3."""
    assert design.law(False, block_min).shortest_hours == pytest.approx(hours)
    assert design.law(True, block_min).shortest_hours == 1.5

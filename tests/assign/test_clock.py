"""The schedule's clock: what is found on sessions with a known truth, laws of the fit, and its words.

METHOD.md has the tables of many seeds (`python -m tests.assign.clock_table`); here a few seeds hold the same aims.
"""

from __future__ import annotations

import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.assign import clock, schedule
from reach.assign.clock import Clock
from reach.base.words import PRINT, TERMINAL
from reach.tell.sentences import clock as sentences
from tests.assign.clock_simulator import ALIKE, AWKWARD, START, Kind, late, make
from tests.assign.clock_table import fitted, right

SEEDS = range(5000, 5004)
DRAWN = Kind("test, drawn", plan="drawn", difference_db=4)
IN_TURN = Kind("test, in turn", difference_db=4)


# -- on time


@pytest.mark.parametrize("kind", ALIKE, ids=lambda kind: kind.name)
def test_a_schedule_on_time_is_not_doubted(kind):
    """Over 32 kinds of sessions, with setups alike and 2 dB apart."""
    for db in (0.0, 2.0):
        found = [fitted(replace(kind, difference_db=db), 0.0, seed).code for seed in SEEDS]
        assert set(found) <= {Clock.FITS, Clock.UNSEEN}, (db, found)


def test_a_clear_step_is_seen_to_fit():
    for kind in (DRAWN, IN_TURN):
        found = [fitted(kind, 0.0, seed) for seed in SEEDS]
        assert all(one.code == Clock.FITS and one.by == "steps" and not one.doubtful for one in found)
    assert all(fitted(IN_TURN, 0.0, seed).other_min == -10.0 for seed in SEEDS)  # the plan comes back after two blocks
    assert all(fitted(DRAWN, 0.0, seed).other_min is None for seed in SEEDS)


def test_setups_alike_leave_no_step():
    assert all(fitted(replace(DRAWN, difference_db=0.0), 0.0, seed).code == Clock.UNSEEN for seed in SEEDS)


# -- not on time


@pytest.mark.parametrize("late_min", [-16, -6, 4, 10, 30, 60])
def test_a_drawn_order_tells_the_one_shift(late_min):
    kind = replace(DRAWN, before_min=60, after_min=60)  # on the air beyond the schedule: the ends say nothing
    for seed in SEEDS:
        found = fitted(kind, late_min, seed)
        assert found.code == Clock.SHIFTED and found.shift_min == pytest.approx(-late_min, abs=found.within_min)


def test_a_plan_that_repeats_names_two_shifts():
    """4 minutes late: -4 puts it right, +6 as well with A and B exchanged."""
    kind = replace(IN_TURN, before_min=60, after_min=60)
    for seed in SEEDS:
        found = fitted(kind, 4, seed)
        assert found.code == Clock.AMBIGUOUS and {found.shift_min, found.other_min} == {-4.0, 6.0}


@pytest.mark.parametrize("db", [0.0, 4.0])
@pytest.mark.parametrize("late_min", [60, 725])
def test_ends_tell_what_steps_cannot(db, late_min):
    """An hour is three periods of the plan, and twelve hours are beyond all steps; without a difference there are none."""
    for seed in SEEDS:
        found = fitted(replace(IN_TURN, difference_db=db), late_min, seed)
        assert found.doubtful and right(found, late_min)
    asked = fitted(replace(IN_TURN, difference_db=0), 60, 5000)
    assert asked.code == Clock.ENDS and asked.by == "ends" and asked.outside == pytest.approx(1 / 8, abs=0.05)


def test_ends_pick_the_lobe_of_the_steps():
    """14 minutes late: steps alone leave -4, +6, -14, ... open."""
    found = [fitted(IN_TURN, 14, seed) for seed in SEEDS]
    assert all(one.code == Clock.SHIFTED and one.by == "both" and one.shift_min == -14.0 for one in found)


def test_ends_that_mislead_are_a_question_and_silent_under_a_drawn_order_that_fits():
    asked = [fitted(AWKWARD[0], 0.0, seed) for seed in SEEDS]
    assert all(one.code == Clock.ENDS and one.shift_min == -60.0 for one in asked)
    drawn = [fitted(replace(AWKWARD[1], difference_db=4.0), 0.0, seed) for seed in SEEDS]
    assert all(one.code == Clock.FITS for one in drawn)


def test_a_schedule_of_another_day_does_not_meet_the_reports():
    spots, rows = make(DRAWN, 1)
    found = clock.fit(spots, late(rows, 3 * 1440))
    assert found.code == Clock.APART and found.shift_min is None and found.outside == 1.0
    assert found.schedule_first_utc == "2026-05-19T16:00Z" and found.first_utc == "2026-05-16T16:00Z"
    near = clock.fit(spots, late(rows, 600))
    assert near.code == Clock.APART and near.shift_min == pytest.approx(-600, abs=2) and near.outside_shifted < 0.02


# -- laws


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.integers(-10_000, 10_000))
def test_moving_schedule_and_reports_together_changes_nothing(seed, minutes):
    spots, rows = make(replace(DRAWN, hours=3, receivers=20), seed)
    moved = spots.assign(time_utc=spots["time_utc"] + pd.Timedelta(minutes=minutes))
    one, two = clock.fit(spots, rows), clock.fit(moved, late(rows, minutes))
    assert (one.code, one.shift_min, one.within_min) == (two.code, two.shift_min, two.within_min)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([0.0, 6.0, 10.0]))
def test_names_and_order_of_rows_change_nothing(seed, late_min):
    spots, rows = make(replace(IN_TURN, hours=3, receivers=20), seed)
    rows = late(rows, late_min)
    mixed = spots.sample(frac=1.0, random_state=seed)
    renamed = rows.assign(setup=rows["setup"].cat.rename_categories({"A": "wire", "B": "loop"}))
    one, two = clock.fit(spots, rows, a="A", b="B"), clock.fit(mixed, renamed, a="loop", b="wire")
    assert (one.code, one.shift_min, one.other_min) == (two.code, two.shift_min, two.other_min)


def test_nothing_to_fit():
    spots, rows = make(DRAWN, 1)
    assert clock.fit(spots.head(0), rows) is None and clock.fit(spots, rows.head(0)) is None
    one = clock.fit(spots.head(1), rows)
    assert one.code == Clock.UNSEEN and one.step_z2 is None
    lone = clock.fit(spots, rows.assign(setup="A"))
    assert lone.code == Clock.UNSEEN and lone.step_z2 is None  # one setup has no steps


def test_five_thousand_reports_take_a_tenth_of_a_second():
    spots, rows = make(replace(DRAWN, hours=8, receivers=60), 1)
    spots = spots.head(5000)
    clock.fit(spots, rows)
    began = time.process_time()
    for _ in range(5):
        clock.fit(spots, rows)
    assert (time.process_time() - began) / 5 < 0.1


# -- when a plan comes back


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ("ABABABABABAB", (2, True)),
        ("AABBAABBAABBAABB", (4, True)),
        ("ABBAABBAABBAABBAABBA", (4, True)),  # two blocks on, A-B-B-A is B-A-A-B
        ("AABAABAABAABAAB", (3, False)),
        ("ABC" * 6, (3, False)),
        ("ABBAABABBABAABBA", None),
        ("AB", None),
    ],
)
def test_when_a_plan_comes_back(order, found):
    label = np.array([{"A": 1, "B": -1, "C": 0}[name] for name in order])
    assert clock.repeat_slots(label) == found
    longer = clock.repeat_slots(np.repeat(label, 5))
    assert longer == (None if found is None else (5 * found[0], found[1]))


# -- zones and times to come


@pytest.mark.parametrize(
    ("shift_min", "lon_deg", "zone_h"),
    [
        (-120, 13, 2.0),  # written at UTC+2 in central Europe: two hours late
        (-60, 13, 1.0),
        (120, 13, 2.0),  # the reports are in local time, the schedule in UTC
        (300, -75, -5.0),
        (-330, 77, 5.5),
        (-120, -75, None),  # no zone of North America
        (-10, 13, None),
        (-97, 13, None),
        (-120, None, None),
    ],
)
def test_a_shift_that_is_a_zone(shift_min, lon_deg, zone_h):
    assert clock.zone_h(shift_min, 2.0, lon_deg) == zone_h


@pytest.mark.parametrize(("ahead_min", "by_min"), [(-5, None), (0, None), (2, None), (3, 15), (492, 495), (60, 60)])
def test_reports_later_than_now(ahead_min, by_min):
    now = datetime(2026, 5, 16, 12, 0, tzinfo=UTC)
    assert clock.future_min(now + timedelta(minutes=ahead_min), now) == by_min


def test_the_future_in_words():
    said = sentences.future(492, 495, say=TERMINAL)
    assert said == (
        "The newest report lies 8 h 12 min in the future: the times are not UTC, or a clock is ahead; a zone of at least "
        "+08:15 is likely."
    )


# -- words


def test_what_is_found_in_words():
    """Every code once, by the sessions above; typography is the medium's."""
    wide = {"before_min": 60, "after_min": 60}
    fits, drawn = fitted(IN_TURN, 0, 5000), fitted(replace(DRAWN, **wide), 10, 5000)
    two, ends = fitted(replace(IN_TURN, **wide), 4, 5000), fitted(replace(IN_TURN, difference_db=0), 60, 5000)
    said = {one.code: sentences.sentence(one.code, one.values, say=TERMINAL) for one in (fits, drawn, two, ends)}
    assert said[Clock.FITS] == (
        "The schedule fits: reports step where it says, within 2 min (shifted by -10 min it would fit as well with the other "
        "setup better: the plan repeats)."
    )
    assert said[Clock.SHIFTED].startswith(
        "The schedule does not fit the reports as it stands; it fits best if shifted by -10 min (give or take 2 min)."
    )
    assert "shifted by -4 min or +6 min it does" in said[Clock.AMBIGUOUS] or "+6 min or -4 min" in said[Clock.AMBIGUOUS]
    assert said[Clock.ENDS].startswith("The schedule may be shifted: 1")
    assert "begin and end about 60 min before it does; shifted by -60 min it fits." in said[Clock.ENDS]
    assert said[Clock.ENDS].endswith("Or the station was active outside it as well: say which.")
    printed = sentences.sentence(drawn.code, drawn.values, say=PRINT)
    assert f"{PRINT.minus}10{PRINT.gap}min" in printed and "-10" not in printed
    assert "--schedule-shift -4" in sentences.settle(two.values, say=TERMINAL)


@pytest.mark.parametrize(
    ("minutes", "text"), [(-10, "-10 min"), (2.5, "+2.5 min"), (-725, "-12 h 5 min"), (120, "+2 h"), (0, "0 min")]
)
def test_a_shift_in_words(minutes, text):
    assert sentences.shift(minutes, say=TERMINAL) == text


def test_a_plan_with_too_few_changes_claims_nothing():
    spots, _ = make(DRAWN, 1)
    hour = pd.Timedelta(hours=4)
    rows = schedule.table([(START, START + hour, "A"), (START + hour, START + 2 * hour, "B")])
    found = clock.fit(spots, rows)
    assert found.code == Clock.UNSEEN
    assert "too seldom" in sentences.sentence(found.code, found.values, say=TERMINAL)

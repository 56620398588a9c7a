"""Days as the units: when they begin, how many are enough, and the difference, held against searches by hand, scipy and statsmodels."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.regression.linear_model import OLS

from reach.assign.schedule import micros
from reach.compare import days, design, evidence
from reach.compare.estimate import Above, Limits
from reach.compare.reports import Reports, clean
from tests.compare.factory import sorted_reports

DAY = 1440


def _odd(minutes, is_a, begin):
    """How many reports lie on a day with more of the other setup, where days begin so; a day with as many of both is A's."""
    of_day = {}
    for minute, a in zip(minutes, is_a, strict=True):
        of_day.setdefault((minute - begin) // DAY, []).append(a)
    return sum(each.count(False) if 2 * sum(each) >= len(each) else sum(each) for each in of_day.values())


@given(
    st.lists(
        st.tuples(st.integers(0, 6 * DAY // 30), st.booleans()), min_size=1, max_size=40, unique_by=lambda row: row[0]
    )
)
def test_days_begin_in_the_middle_of_the_change_that_leaves_fewest_on_the_wrong_day(rows):
    minutes, is_a = zip(*sorted((30 * at, a) for at, a in rows), strict=True)
    on_air = sorted({minute % DAY for minute in minutes})
    stretches = [
        (later - earlier, earlier) for earlier, later in zip(on_air, [*on_air[1:], on_air[0] + DAY], strict=True)
    ]
    longest, since = max(stretches, key=lambda each: each[0])
    changes = [
        (later - earlier, ((earlier + later) / 2 if later - earlier < DAY else since + longest / 2) % DAY)
        for earlier, later, one, other in zip(minutes, minutes[1:], is_a, is_a[1:], strict=False)
        if one != other
    ]
    longest_first = [middle for _, middle in sorted(changes, key=lambda each: -each[0])] or [0.0]
    begin = min(longest_first, key=lambda middle: _odd(minutes, is_a, middle))  # of as few, the longest silence
    day, keep, found = days.days(np.array(minutes, float), np.array(is_a))
    number = [int((minute - begin) // DAY) for minute in minutes]
    assert found == begin
    assert day.tolist() == [each - min(number) for each in number]
    assert (~keep).sum() == _odd(minutes, is_a, begin)


# -- how far days that alternate are believed


def _in_turn(stretches: int, days_each: int, receivers: int, level_db: float = 3.0) -> Reports:
    """Evenings of one setup after the other, so many days each; every receiver hears three transmissions of each evening, the setup
    of the first stretch `level_db` stronger."""
    rows = [
        ((stretch * days_each + day) * DAY + 1200 + 10 * k, stretch % 2 == 0, who)
        for stretch in range(stretches) for day in range(days_each) for k in range(3) for who in range(receivers)
    ]  # fmt: skip
    time_min, is_a, receiver = (np.array(each) for each in zip(*rows, strict=True))
    wobble = np.random.default_rng(1).normal(0, 0.3, len(rows))
    return sorted_reports(time_min, is_a, receiver=receiver, snr_db=-10.0 - receiver + level_db * is_a + wobble)


@pytest.mark.parametrize(
    ("stretches", "days_each", "receivers", "told"),
    [(8, 1, 4, True), (7, 2, 4, False), (8, 1, 3, False), (8, 2, 4, True)],
)
def test_four_stretches_of_each_setup_eight_days_and_four_receivers_are_enough(stretches, days_each, receivers, told):
    reports = _in_turn(stretches, days_each, receivers)
    found = days.alternating_days(reports, Limits(np.full(len(reports), -99.0), np.inf), design.alternation(reports))
    assert (found is not None) is told
    if found is not None:
        half = stretches * days_each // 2
        assert (found.days_a, found.days_b, found.receivers, found.reports) == (half, half, receivers, len(reports))
        assert found.difference_db == pytest.approx(3.0, abs=0.5) and found.kept_share == 1.0


@pytest.mark.parametrize(("evenings", "told"), [(7, False), (8, True)])
def test_eight_days_are_enough(evenings, told):
    reports = _in_turn(evenings, 1, 5)
    changed = replace(design.alternation(reports), runs_a=4, runs_b=4)
    found = days.alternating_days(reports, Limits(np.full(len(reports), -99.0), np.inf), changed)
    assert (found is not None) is told


@pytest.mark.parametrize(
    ("period_min", "runs", "told"),
    [(240.0, (4, 4), True), (239.0, (4, 4), False), (1440.0, (3, 4), False), (1440.0, (4, 3), False)],
)
def test_days_are_what_counts_where_setups_change_every_four_hours_or_more_seldom(period_min, runs, told):
    reports = _in_turn(8, 1, 5)
    changed = replace(design.alternation(reports), period_min=period_min, runs_a=runs[0], runs_b=runs[1])
    found = days.alternating_days(reports, Limits(np.full(len(reports), -99.0), np.inf), changed)
    assert (found is not None) is told


def test_levels_of_days_are_those_of_least_squares_with_a_line_over_the_season():
    """Receivers at each half hour and days as dummies by numpy, days on setup, mean and date by statsmodels."""
    rng = np.random.default_rng(8)
    reports = _in_turn(10, 1, 5)
    some = np.sort(rng.choice(len(reports), 100, replace=False))
    reports = reports.take(some)
    day = (reports.time_min // DAY).astype(np.int64)
    found = days._days_fit(reports, Limits(np.full(100, -99.0), np.inf), day, 0.0, 0.0)
    assert found is not None
    usual = np.unique(reports.unit * 48 + (reports.time_min % DAY // 30).astype(int), return_inverse=True)[1]
    dummies = np.column_stack([usual[:, None] == np.arange(usual.max() + 1), day[:, None] == np.arange(1, 10)]).astype(
        float
    )
    of_day = np.append(0.0, np.linalg.lstsq(dummies, reports.level_db, rcond=None)[0][-9:])
    is_a = np.arange(10) % 2 == 0
    fitted = OLS(of_day, np.column_stack([is_a, np.ones(10), np.arange(10)]).astype(float)).fit()
    assert (found.difference_db, found.error_db) == pytest.approx((fitted.params[0], fitted.bse[0]), abs=1e-3)
    assert found.df == 7 and found.day_is_a.tolist() == is_a.tolist() and found.receivers == 5


# -- the presumed difference and the estimate


def _linear(start_db: float, slope: float, until_db: float = np.inf):
    """A fit that follows what is presumed; none beyond a presumed difference."""

    def fit_at(beta: float) -> days.DayFit | None:
        if beta > until_db:
            return None
        cut = Above(np.array([1.0, 0.5, 0.0, 1.0]), np.zeros(4))
        return days.DayFit(start_db + slope * beta, 0.4, 9.0, np.array([True, False, False]), 5, cut)

    return fit_at


@pytest.mark.parametrize("slope", [0.0, 0.5, -0.5, -1.5])
def test_a_difference_settles_where_it_is_what_was_presumed(slope):
    """d = start + slope * d, reached by half steps too where the two chase each other; limits widen the error by 1 / (1 - slope)."""
    found = days.settled(_linear(2.0, slope))
    assert found is not None
    assert found.difference_db == pytest.approx(2.0 / (1 - slope), abs=0.05)
    assert found.slope == pytest.approx(slope)
    half = stats.t.ppf(0.975, 9) * 0.4 / (1 - max(slope, 0.0))
    assert (found.high_db - found.low_db) / 2 == pytest.approx(half)
    assert (found.days_a, found.days_b, found.receivers, found.reports, found.kept_share) == (1, 2, 5, 3, 0.625)


def test_an_error_is_widened_ten_times_at_most():
    found = days.settled(_linear(0.0, 1.0))
    assert found is not None
    assert (found.high_db - found.low_db) / 2 == pytest.approx(stats.t.ppf(0.975, 9) * 0.4 / 0.1)


@pytest.mark.parametrize("until_db", [-2.0, -0.5, 0.5, 3.5])
def test_where_a_fit_fails_on_the_way_nothing_is_told(until_db):
    """At the first, and at 1 dB more than where it settled, 3 dB."""
    assert days.settled(_linear(3.0, 0.0, until_db)) is None
    assert days.settled(_linear(3.0, 0.0, 4.0)) is not None


# -- beside a control station

MINUTES = st.lists(st.tuples(st.integers(0, 2), st.integers(0, 90)), max_size=25, unique=True)


@given(MINUTES, MINUTES)
def test_the_controls_nearest_report_is_that_of_a_search_by_hand(ours, theirs):
    """At the same receiver within ten minutes; two where one before and one after are as near, else one twice."""

    def made(rows) -> Reports:
        rows = sorted(rows)
        found = sorted_reports([minute for _, minute in rows], [False] * len(rows), receiver=[who for who, _ in rows])
        return replace(found, unit=found.receiver)  # numbered over both alike

    row, nearest = days._nearest(made(ours), made(theirs))
    truth = {}
    for k, (who, minute) in enumerate(sorted(ours)):
        apart = {j: abs(other - minute) for j, (of, other) in enumerate(sorted(theirs)) if of == who}
        least = min(apart.values(), default=99)
        if least <= 10:
            truth[k] = {j for j, each in apart.items() if each == least}
    assert row.tolist() == list(truth)
    assert [set(each) for each in nearest.tolist()] == list(truth.values())


def _spots(rows) -> pd.DataFrame:
    """(receiver, minute, SNR) each, in any order."""
    begin = pd.Timestamp("2026-05-16 00:00", tz="UTC")
    return pd.DataFrame(
        {
            "time_utc": [begin + pd.Timedelta(minutes=minute) for _, minute, _ in rows],
            "rx_call": [f"G{who}QRA" for who, _, _ in rows],
            "rx_locator": ["IO91wm" if who % 2 else "IO91WM" for who, _, _ in rows],
            "snr_db": [float(snr) for _, _, snr in rows],
            "band": "20m",
        }
    )


@given(
    st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=1, max_size=12, unique_by=lambda row: row[0]),
    st.lists(st.integers(-5, 70), max_size=12),
    st.integers(1, 12),
)
def test_a_control_report_is_labelled_where_the_nearest_transmissions_on_either_side_were_of_one_setup(
    sent, heard, period
):
    """And the nearer of the two no farther away than one alternation."""
    ours = _spots([(1, minute, -9) for minute, _ in sent])
    is_a = np.array([a for _, a in sent])
    found = days._label_like(_spots([(2, minute, -9) for minute in heard]), ours, is_a, float(period))
    truth = []
    for k, minute in enumerate(heard):
        before = max((row for row in sent if row[0] <= minute), default=None)
        after = min((row for row in sent if row[0] >= minute), default=None)
        if before and after and before[1] == after[1] and min(minute - before[0], after[0] - minute) <= period:
            truth.append((k, before[1]))
    assert list(zip(found.row.tolist(), found.is_a.tolist(), strict=True)) == truth
    assert len(found.spots) == len(truth)


def test_incomplete_rows_of_a_control_are_not_looked_at():
    ours = _spots([(1, minute, -9) for minute in (0, 2, 4)])
    theirs = _spots([(2, 0, -9), (2, 2, np.nan), (2, 4, -9)])
    assert days._label_like(theirs, ours, np.array([True] * 3), 5.0).row.tolist() == [0, 1]
    none, zeros = np.zeros(3, np.int64), np.zeros(3)
    reports = clean(micros(ours["time_utc"]), none, none, np.array([True] * 3), np.full(3, -9.0), zeros)
    same = _spots([(1, 0, -9), (1, 2, np.nan), (1, 4, -9)])
    found = days.like(same, ours, reports)
    assert found is not None and found.time_min.tolist() == [0.0, 4.0]


def test_a_controls_receivers_are_numbered_as_ours_and_of_one_moment_the_strongest_stays():
    """Callsign and square make a receiver, in whatever case; those that we have not are left out."""
    ours = _spots([(3, 0, -9), (1, 0, -9), (1, 4, -9), (2, 2, -9)])
    code, _ = evidence.receivers(ours)
    is_a, zeros = np.array([True, False, True, False]), np.zeros(4)
    cleaned = clean(micros(ours["time_utc"]), code, np.zeros(4, np.int64), is_a, ours["snr_db"].to_numpy(), zeros)
    theirs = _spots([(1, 6, -20), (3, 1, -5), (1, 6, -14), (1, 6, -17), (7, 3, -1), (1, 2, -8)])
    found = days.like(theirs, ours, cleaned)
    assert found is not None
    number = dict(zip(ours["rx_call"].iloc[cleaned.row], cleaned.reports.unit.tolist(), strict=True))
    assert list(zip(found.unit.tolist(), found.time_min.tolist(), found.snr_db.tolist(), strict=True)) == [
        (number["G1QRA"], 2.0, -8.0), (number["G1QRA"], 6.0, -14.0), (number["G3QRA"], 1.0, -5.0),
    ]  # fmt: skip
    assert (
        not found.is_a.any()
        and (found.level_db == found.snr_db).all()
        and not found.power_db.any()
        and not found.round_db.any()
    )
    assert days.like(_spots([(7, 3, -1)]), ours, cleaned) is None


def _beside(days_a: int, days_b: int, receivers: int, apart_days: int = 1) -> tuple[Reports, Reports]:
    """Days of A and then of B, an hour of each; the control was heard a minute after every report."""
    rows = [
        (day * apart_days * DAY + 600 + 2 * k, day < days_a, who)
        for day in range(days_a + days_b) for k in range(4) for who in range(receivers)
    ]  # fmt: skip
    time_min, is_a, receiver = (np.array(each) for each in zip(*rows, strict=True))
    rng = np.random.default_rng(3)
    of_day = rng.normal(0, 2, days_a + days_b)[(time_min // (DAY * apart_days)).astype(int)]
    snr_db = -12.0 + 4 * is_a + of_day + rng.normal(0, 0.1, len(rows))
    ours = sorted_reports(time_min, is_a, receiver=receiver, snr_db=snr_db)
    theirs = sorted_reports(time_min + 1, [False] * len(rows), receiver=receiver)
    return ours, theirs


@pytest.mark.parametrize(
    ("days_a", "days_b", "receivers", "told"),
    [(3, 3, 4, True), (2, 3, 4, False), (3, 2, 4, False), (3, 3, 3, False)],
)
def test_three_days_of_each_and_four_receivers_beside_a_control_are_enough(days_a, days_b, receivers, told):
    ours, theirs = _beside(days_a, days_b, receivers)
    found = days.with_control(ours, Limits(np.full(len(ours), -99.0), np.inf), [theirs])
    assert (found is not None) is told
    if found is not None:
        assert (found.days_a, found.days_b, found.receivers, found.reports) == (days_a, days_b, receivers, len(ours))


@pytest.mark.parametrize("apart_days", [40, 41])
def test_days_far_apart_beside_a_control_are_welchs_test(apart_days):
    """scipy's, of each day's mean against the control. After an odd number of days without a report the middle of the silence at the
    change lies within the hour on the air: it is no border of days."""
    ours, theirs = _beside(4, 6, 5, apart_days=apart_days)
    found = days.with_control(ours, Limits(np.full(len(ours), -99.0), np.inf), [theirs])
    assert found is not None
    number = np.unique(ours.time_min // DAY, return_inverse=True)[1]
    level = np.bincount(number, ours.level_db) / np.bincount(number)
    welch = stats.ttest_ind(level[:4], level[4:], equal_var=False)
    assert found.difference_db == pytest.approx(level[:4].mean() - level[4:].mean(), abs=1e-6)
    assert (found.low_db, found.high_db) == pytest.approx(tuple(welch.confidence_interval()), abs=1e-6)

"""A long period by the calendar: the rule of its steps; every number against pandas' own grouping; parts; gaps; what is known of
times on the air."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest

from reach.measure import calendar as measured
from reach.measure import grain
from reach.measure.calendar import NO, UNKNOWN, YES, are_few_days, calendar, is_few
from reach.measure.claims import Kind, Reason
from reach.measure.grain import MOST_STEPS, Unit
from reach.measure.tally import Tally, merge, tally
from reach.spots import CORROBORATED
from tests import factory

METRE_KM = 1e-3


def day(text: str) -> int:
    return (date.fromisoformat(text) - date(1970, 1, 1)).days


def of_days(days: int, count: int = 4000, **shape) -> pd.DataFrame:
    """Placed spots with trust over so many days."""
    return factory.result(count, 60, days=days, hours=24, **shape).spots


def at(spots: pd.DataFrame, *moments: str) -> pd.DataFrame:
    """Some of these spots, one at each of these moments."""
    times = pd.DatetimeIndex(moments).tz_localize("UTC").as_unit("us")
    return spots.head(len(moments)).assign(time_utc=times)


# --- the rule ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "steps"),
    [
        ("2026-05-01", "2026-05-10", None),
        ("2026-05-01", "2026-05-11", ("day", "week", "day")),
        ("2026-01-01", "2026-04-30", ("day", "week", "day")),  # 120 days
        ("2026-01-01", "2026-05-01", ("week", "month", "day")),
        ("2025-01-01", "2026-12-31", ("week", "month", "day")),
        ("2020-01-01", "2026-12-31", ("month", "month", "day")),
        ("2016-01-01", "2026-12-31", ("year", "year", "day")),
        ("2001-01-01", "2026-12-31", ("year", "year", "month")),
    ],
)
def test_a_period_has_the_finest_steps_that_the_eye_tells_apart(first, last, steps):
    found = grain.grain(day(first), day(last))
    assert (None if found is None else (found.bars, found.table, found.calendar)) == steps


@pytest.mark.parametrize("days", [11, 120, 121, 365, 840, 900, 3600])
def test_no_more_bars_than_can_be_told_apart(days):
    found = grain.grain(day("2024-02-28"), day("2024-02-28") + days - 1)
    low, high = grain.number(found.bars, [day("2024-02-28"), day("2024-02-28") + days - 1])
    assert high - low < MOST_STEPS


@pytest.mark.parametrize("unit", list(Unit))
def test_steps_are_those_of_pandas(unit):
    """Weeks, months and years against another library's calendar, over leap days and the turn of years."""
    days = pd.date_range("1968-12-20", "2029-03-05", freq="D")
    since = (days - pd.Timestamp("1970-01-01")).days.to_numpy()
    period = days.to_period({"day": "D", "week": "W-SUN", "month": "M", "year": "Y"}[unit.value])
    starts = grain.first_day(unit, grain.number(unit, since))
    assert (starts == (period.start_time - pd.Timestamp("1970-01-01")).days).all()
    assert (np.diff(grain.number(unit, since)) <= 1).all()
    assert grain.as_date(since[71]) == days[71].date()


def test_a_step_with_ten_reports_of_three_receivers_is_told():
    """The same limits as for a claim (CLAIMS.md: ten reports of three receivers)."""
    rows = pd.DataFrame({"reports": [10, 9, 10, 0], "receivers": [3, 3, 2, 0]})
    assert is_few(rows).tolist() == [False, True, True, True]


def test_a_share_of_three_days_is_told():
    """Hollow: fewer than three such days (the legend of the picture)."""
    assert are_few_days(pd.DataFrame({"days_heard": [0, 2, 3, 4]})).tolist() == [True, True, False, False]


# --- the numbers ------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module", params=[40, 300])
def long(request):
    spots = of_days(request.param)
    return spots, calendar(tally(spots))


def test_days_are_what_pandas_groups(long):
    spots, found = long
    sure = spots[(spots["trust"] == CORROBORATED).to_numpy()]
    by = sure.groupby(sure["time_utc"].dt.date)
    days = found.days.set_index("day")
    assert list(days.index) == [d.date() for d in pd.date_range(days.index[0], days.index[-1])]
    accepted = spots.groupby(spots["time_utc"].dt.date).size()
    assert (days["accepted"] == accepted.reindex(days.index, fill_value=0)).all()
    assert (days["reports"] == by.size().reindex(days.index, fill_value=0)).all()
    assert (days["receivers"] == by["rx_call"].agg(lambda x: x.nunique()).reindex(days.index, fill_value=0)).all()
    median = by["distance_km"].median().reindex(days.index)
    assert np.allclose(days["median_km"], median, equal_nan=True, atol=METRE_KM)
    known = days["median_low_km"].notna()
    assert known.any()
    assert (days["median_low_km"] <= days["median_km"])[known].all()
    assert (days["median_high_km"] >= days["median_km"])[known].all()
    assert (days["in_use"] == UNKNOWN).all()


def test_steps_are_what_pandas_groups(long):
    spots, found = long
    sure = spots[(spots["trust"] == CORROBORATED).to_numpy()]
    kind = {"week": "W-SUN", "month": "M"}[found.grain.table.value]
    step = sure["time_utc"].dt.tz_convert(None).dt.to_period(kind).dt.start_time.dt.date
    by, steps = sure.groupby(step), found.steps.set_index("first_day")
    assert (steps["reports"] == by.size().reindex(steps.index, fill_value=0)).all()
    assert (steps["days"] == by["time_utc"].agg(lambda x: x.dt.date.nunique()).reindex(steps.index, fill_value=0)).all()
    assert (steps["receivers"] == by["rx_call"].agg(lambda x: x.nunique()).reindex(steps.index, fill_value=0)).all()
    assert np.allclose(steps["median_km"], by["distance_km"].median().reindex(steps.index), atol=METRE_KM)
    assert np.allclose(steps["p90_km"], by["distance_km"].quantile(0.9).reindex(steps.index), atol=METRE_KM)
    for first, rows in by:
        far = rows.sort_values("distance_km").iloc[-1]
        assert steps.loc[first, "farthest_km"] == pytest.approx(far["distance_km"], abs=METRE_KM)
        same = rows["rx_call"][(rows["distance_km"] == far["distance_km"]).to_numpy()].astype(str)
        assert steps.loc[first, "farthest_call"] in set(same)


def test_hours_are_what_pandas_groups(long):
    spots, found = long
    sure = spots[(spots["trust"] == CORROBORATED).to_numpy()]
    kind = {"week": "W-SUN", "month": "M"}[found.grain.table.value]
    plain = pd.DataFrame(
        {
            "band": sure["band"].astype(str),
            "first_day": sure["time_utc"].dt.tz_convert(None).dt.to_period(kind).dt.start_time.dt.date,
            "hour_utc": sure["time_utc"].dt.hour,
            "day": sure["time_utc"].dt.date,
            "call": sure["rx_call"].astype(str),
        }
    )
    plain = pd.concat([plain, plain.assign(band="")])
    by = plain.groupby(["band", "first_day", "hour_utc"])
    hours = found.hours.set_index(["band", "first_day", "hour_utc"])
    for name, truth in (("reports", by.size()), ("days", by["day"].nunique()), ("receivers", by["call"].nunique())):
        assert (hours[name] == truth.reindex(hours.index, fill_value=0)).all(), name
        assert hours[name].sum() == truth.sum()
    heard = plain.groupby(["band", "first_day"])["day"].nunique()
    truth = heard.reindex(hours.index.droplevel("hour_utc"), fill_value=0).to_numpy()
    assert (hours["days_heard"] == truth).all()
    assert np.allclose(hours["share"][truth > 0], (hours["days"] / truth)[truth > 0])
    assert found.bands == ("40m", "30m", "20m")


def test_parts_of_a_period_add_up():
    """What is counted from tallies added up is what is counted from all; of parts that share no day, days lie one below the
    other and days of hours can be added."""
    spots = of_days(300)
    turn = pd.Timestamp("2026-10-01T00:00Z")
    early, late = (spots[flags.to_numpy()] for flags in (spots["time_utc"] < turn, spots["time_utc"] >= turn))
    whole, one, two = calendar(tally(spots)), calendar(tally(early)), calendar(tally(late))
    again = calendar(merge([tally(late), tally(early)]))
    for name in ("days", "steps", "hours"):
        pd.testing.assert_frame_equal(getattr(whole, name), getattr(again, name))
    pd.testing.assert_frame_equal(whole.days, pd.concat([one.days, two.days], ignore_index=True))
    keys = ["band", "first_day", "hour_utc"]
    both = [part.hours.set_index(keys)[["days", "reports"]] for part in (one, two)]
    added = both[0].add(both[1], fill_value=0)
    pd.testing.assert_frame_equal(
        whole.hours.set_index(keys)[["days", "reports"]].sort_index(), added.astype("int64").sort_index()
    )


def test_the_order_of_rows_changes_nothing():
    spots = of_days(60)
    one, other = (calendar(tally(rows)) for rows in (spots, spots.sample(frac=1, random_state=3)))
    for name in ("days", "steps", "hours"):
        pd.testing.assert_frame_equal(getattr(one, name), getattr(other, name))


# --- edges ------------------------------------------------------------------------------------------------------------


def test_a_short_period_has_none():
    assert calendar(tally(of_days(9))) is None  # from 17:00 to 17:00: ten UTC days
    assert calendar(tally(of_days(1))) is None
    nothing = of_days(1).head(0)
    assert calendar(tally(nothing)) is None
    assert calendar(Tally(tally(of_days(40)).cells.drop(columns="trust"), tally(nothing).timeline)) is None


def test_a_gap_is_days_with_nothing():
    found = calendar(tally(at(of_days(1), "2023-12-30T10:00", "2024-02-29T10:00", "2025-12-29T23:59:59")))
    assert len(found.days) == (date(2025, 12, 29) - date(2023, 12, 30)).days + 1
    assert list(found.days["day"][found.days["accepted"] > 0]) == [
        date(2023, 12, 30),
        date(2024, 2, 29),
        date(2025, 12, 29),
    ]
    assert date(2024, 2, 29) in set(found.days["day"])
    empty = found.steps[(found.steps["reports"] == 0).to_numpy()]
    assert empty["farthest_km"].isna().all()
    assert (empty["farthest_call"] == "").all()
    assert list(found.steps["first_day"])[:3] == [date(2023, 12, 1), date(2024, 1, 1), date(2024, 2, 1)]
    assert is_few(found.steps).all()
    assert found.claims[Kind.FARTHEST_STEP].reason == Reason.FEW


def test_without_a_corroborated_locator_days_are_accepted_and_nothing_more():
    spots = of_days(40)
    found = calendar(
        tally(spots.assign(trust=pd.Categorical(["unconfirmed"] * len(spots), spots["trust"].cat.categories)))
    )
    assert found.days["accepted"].sum() == len(spots)
    assert found.days["reports"].sum() == 0
    assert (found.hours["days"] == 0).all()
    assert found.bands == ()


def test_months_stand_for_days_beyond_twelve_years():
    found = calendar(tally(at(of_days(1), "2005-05-05T10:00", "2026-05-05T10:00")))
    assert len(found.months) == 12 * 21 + 1
    assert list(found.months["first_day"][[0, 1]]) == [date(2005, 5, 1), date(2005, 6, 1)]
    assert calendar(tally(of_days(40))).months is None


# --- on the air -------------------------------------------------------------------------------------------------------


def windows(*spans: tuple[str, str]) -> pd.DataFrame:
    return pd.DataFrame(
        {name: pd.DatetimeIndex([s[k] for s in spans]).tz_localize("UTC") for k, name in enumerate(("start", "end"))}
    )


def test_a_log_tells_silence_from_off():
    spots = at(of_days(1), "2026-05-01T10:00", "2026-05-20T10:30")
    log = windows(
        ("2026-05-01T09:00", "2026-05-03T00:00"),
        ("2026-05-07T23:50", "2026-05-08T00:10"),
        ("2026-05-20T10:00", "2026-05-20T11:00"),
    )
    found = calendar(tally(spots), log)
    on = [d for d, use in zip(found.days["day"], found.days["in_use"], strict=True) if use == YES]
    assert on == [date(2026, 5, k) for k in (1, 2, 7, 8, 20)]  # a window that ends at midnight is not on the next day
    assert set(found.days["in_use"]) == {YES, NO}
    assert found.knows_air
    week = found.hours[((found.hours["band"] == "") & (found.hours["first_day"] == date(2026, 5, 4))).to_numpy()]
    assert list(week["hour_utc"][(week["in_use"] == YES).to_numpy()]) == [0, 23]
    week = found.hours[((found.hours["band"] == "") & (found.hours["first_day"] == date(2026, 5, 18))).to_numpy()]
    assert list(week["hour_utc"][(week["in_use"] == YES).to_numpy()]) == [10]  # from one full hour to the next


def test_a_log_that_lacks_a_day_with_reports_tells_nothing():
    spots = at(of_days(1), "2026-05-01T10:00", "2026-05-20T10:30")
    for log in (windows(("2026-05-01T09:00", "2026-05-03T00:00")), windows(), None):
        found = calendar(tally(spots), log)
        assert (found.days["in_use"] == UNKNOWN).all()
        assert (found.hours["in_use"] == UNKNOWN).all()
        assert not found.knows_air


# --- what may be singled out ------------------------------------------------------------------------------------------


def test_a_month_that_reached_farther_stands_apart_and_chance_does_not():
    spots = of_days(150, 6000)
    july = (spots["time_utc"].dt.month == 7).to_numpy() & (spots["distance_km"] < 2500).to_numpy()
    claim = calendar(tally(spots)).claims[Kind.FARTHEST_STEP]
    assert not claim.apart
    fewer = calendar(tally(spots[~july])).claims[Kind.FARTHEST_STEP]
    assert fewer.apart
    assert fewer.winner == date(2026, 7, 1)
    truth = spots[~july & (spots["time_utc"].dt.month == 7).to_numpy() & (spots["trust"] == CORROBORATED).to_numpy()]
    assert fewer.value == pytest.approx(truth["distance_km"].median(), abs=METRE_KM)


def test_tables_hold_the_columns_that_are_described():
    found = calendar(tally(of_days(40)))
    for table, told in ((found.days, measured.DAYS), (found.steps, measured.STEPS), (found.hours, measured.HOURS)):
        assert list(table.columns) == list(told) and list(table.index) == list(range(len(table)))
        for name, (kind, _) in told.items():
            if kind.startswith(("int", "float")):
                assert table[name].dtype == kind, name
    assert isinstance(replace(found, months=None).days["day"].iloc[0] + timedelta(days=1), date)

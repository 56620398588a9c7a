"""The level of a season from reports: laws of the pairing, truth of a made-up season, whose a change is, refusals, words."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta
from itertools import combinations_with_replacement
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from reach.base.words import PRINT, TERMINAL
from reach.compare.season import (
    MOST_CONTROLS,
    _about,
    _levels,
    _lost,
    _since,
    _too_few,
    _weak,
    change,
    judge,
    level,
    season,
)
from reach.compare.season.found import Control, Kind, Pace, Refused, Remark, Said, Vote, Whose, plain
from reach.tell.sentences import season as sentences
from tests.compare import season_spots as simulator
from tests.compare.season_spots import START, World, look, make, near

SIZE_DB = 1.5  # of a step of 5 dB with a daily scatter of 1.8


def _heard(reports: list[tuple[int, int]]) -> level.Heard:
    both = np.array(sorted(reports), dtype=np.int64).reshape(-1, 2)
    n, t = both[:, 0], both[:, 1].astype(float)
    blank = np.zeros(len(n))
    return level.Heard(n, n, t, (t // 1440).astype(np.int64), t.round(), blank, blank - 99)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 200)), max_size=30, unique=True),
    st.lists(st.tuples(st.integers(0, 2), st.integers(0, 200)), max_size=30, unique=True),
)
def test_each_report_is_held_against_the_nearest_at_the_same_receiver(ours, theirs):
    """Against a search by hand; of two as near the earlier. The SNR of a report is its minute here."""
    found = level.pairs(_heard(ours), _heard(theirs))
    truth = []
    for unit, minute in sorted(ours):
        near_by = [other for of, other in theirs if of == unit and abs(other - minute) <= level.WITHIN_MIN]
        if near_by:
            truth.append((unit, minute, min(near_by, key=lambda other: (abs(other - minute), other))))
    assert list(zip(found.unit, found.ours_db, found.theirs_db, strict=True)) == truth


@pytest.fixture(scope="module")
def changed() -> tuple[pd.DataFrame, dict[str, pd.DataFrame]]:
    return make(World(days=40, steps={0: (20, -5.0)}), 6)


def _curve(found) -> np.ndarray:
    return np.array([[each.level_db, each.low_db, each.high_db] for each in found.days])


def test_order_of_rows_names_of_receivers_and_the_week_change_nothing(changed):
    spots, controls = changed
    one = season(spots, controls)

    def other(table: pd.DataFrame) -> pd.DataFrame:
        named = table["rx_call"].astype(str).map(lambda call: f"Z{call[::-1]}")
        moved = table.assign(rx_call=named, time_utc=table["time_utc"] + pd.Timedelta(days=7))
        return pd.concat([moved, moved]).sample(frac=1.0, random_state=5)

    two = season(other(spots), {name: other(table) for name, table in list(controls.items())[::-1]})
    assert np.allclose(_curve(one), _curve(two), atol=1e-9)
    (a,), (b,) = one.changes, two.changes
    assert (b.day - a.day).days == 7 and b.size_db == pytest.approx(a.size_db, abs=1e-9)


def test_power_that_is_told_is_taken_off(changed):
    """Half the power from a day on, with rows that say so, is no change of the antenna's."""
    spots, controls = make(World(days=40), 3)
    late = spots["time_utc"] >= START + pd.Timedelta(days=20)
    weaker = spots.assign(snr_db=spots["snr_db"] - 6.0 * late, power_w=np.where(late, 5 * 10**-0.6, 5.0))
    found, plain = season(weaker, controls), season(spots, controls)
    assert not found.changes
    assert np.allclose(_curve(found)[:, 0], _curve(plain)[:, 0], atol=1.0)  # some of its reports are cut higher up
    assert [each.code for each in found.remarks] == [Remark.POWER]


def test_the_power_of_those_who_were_heard_is_nobody_s_change():
    spots, controls = make(World(days=25), 3)
    powers = np.where(np.arange(len(spots)) % 2, 0.2, 5.0)
    found = season(spots.assign(power_w=powers), controls, direction="heard")
    assert np.allclose(_curve(found), _curve(season(spots, controls)), atol=1e-9)
    assert Remark.POWER not in {each.code for each in found.remarks}


def test_a_step_is_found_sized_and_said_of_the_station(changed):
    found = season(*changed)
    (one,) = found.changes
    assert (one.kind, one.whose) == (Kind.STEP, Whose.STATION)
    assert one.first <= (START + pd.Timedelta(days=20)).date() <= one.last
    assert one.low_db <= -5.0 <= one.high_db and one.size_db == pytest.approx(-5.0, abs=SIZE_DB)
    assert set(one.votes.values()) == {Vote.YES}
    said = sentences.headline(found, say=TERMINAL)
    assert said.startswith("Since ") and "weaker" in said and "Each of them shows it." in said


def test_without_the_cut_at_the_limit_a_step_would_read_too_small():
    """Weak signals, three seasons, each against the same without the step, with the cut and without."""
    cut, uncut = [], []
    for seed, size in [(seed, size) for seed in range(3) for size in (-5.0, 0.0)]:
        spots, controls = make(World(days=40, steps={0: (20, size)}, level_db=7.0), 900 + seed)
        ours, *theirs = level.heard([spots, *controls.values()])
        for low, into in ((0.0, cut), (-99.0, uncut)):
            pairs = [level.pairs(ours, each) for each in theirs]
            pairs = [dataclasses.replace(each, floor_db=each.floor_db + low) for each in pairs]
            found = level.joined([level.level(each) for each in pairs])
            after = found.days - found.days[0] >= 20
            into.append((1 if size else -1) * (found.level_db[after].mean() - found.level_db[~after].mean()))
    with_cut, without = sum(cut) / 3, sum(uncut) / 3
    assert abs(with_cut + 5) < abs(without + 5) - 0.4
    assert with_cut == pytest.approx(-5.0, abs=0.8)


def test_a_control_that_changed_is_left_out_and_the_station_is_not_blamed():
    found = look(World(steps={2: (30, 5.0)}), 4)
    assert not found.changes
    (moved,) = [each for each in found.controls if each.changed]
    assert moved.name == simulator.NAMES[1] and moved.changed.size_db == pytest.approx(5.0, abs=SIZE_DB)
    assert f"{moved.name} itself changed by +" in " ".join(sentences.everything(found, say=TERMINAL))


def test_of_two_controls_the_one_that_alone_shows_it_is_named():
    found = look(World(controls=2, steps={1: (30, 7.0)}), 4)
    assert not any(each.whose is Whose.STATION for each in found.changes)
    (moved,) = [each for each in found.controls if each.changed]
    assert moved.name == simulator.NAMES[0] and moved.changed.size_db == pytest.approx(7.0, abs=2.0)


@pytest.mark.parametrize("seed", range(3))
def test_what_one_control_shows_is_a_two_sample_t_test_over_the_days_that_it_has(seed):
    """Against scipy's; days in a row are alike, so the standard error is that much larger."""
    rng = np.random.default_rng(seed)
    days = np.arange(100, 140)
    scan = change.steps(days, rng.normal(size=len(days)))
    claim = change.Claim(scan, days, days >= 125, False, 1.0, 0.0)
    has = np.sort(rng.choice(np.arange(90, 150), 45, replace=False))
    level_db = rng.normal(5, 2, len(has)) + 3 * (has >= 125)
    one = np.ones(len(has))
    shift, se = judge._shift(claim, level.Level(has, level_db, one, one.astype(np.int64), 1.0))
    both, late = np.isin(has, days), has >= 125
    truth = stats.ttest_ind(level_db[both & late], level_db[both & ~late])
    assert shift == pytest.approx(level_db[both & late].mean() - level_db[both & ~late].mean())
    assert shift / se == pytest.approx(truth.statistic / np.sqrt(judge.DAYS_ALIKE))


@pytest.mark.parametrize(
    ("shift", "vote"),
    [(3.1, Vote.YES), (2.6, Vote.YES), (2.4, Vote.UNCLEAR), (1.9, Vote.NO), (-4.0, Vote.NO), (np.nan, Vote.UNCLEAR)],
)
def test_a_control_that_shows_less_than_half_of_the_change_says_no(shift, vote):
    assert judge._vote(2 * shift, 2.0, 8.0) is vote


def test_with_one_control_it_is_never_said_of_the_station():
    found = look(World(controls=1, steps={0: (30, -6.0)}), 4)
    assert {each.whose for each in found.changes} == {Whose.EITHER}
    assert Remark.ONE_CONTROL in {each.code for each in found.remarks}
    assert "nobody can tell which of the two" in sentences.headline(found, say=TERMINAL)


def test_quiet_months_claim_next_to_nothing():
    """24 seasons of 60 days, 47 months: METHOD.md has the table of 1,380."""
    assert sum(bool(look(World(), 40_000 + k).changes) for k in range(24)) <= 2


def test_a_slow_change_is_never_called_sudden():
    found = [look(World(slow=(15, 30, -6.0)), 60 + k) for k in range(6)]
    paces = [each.pace for one in found for each in one.changes if each.kind is Kind.STEP]
    assert paces and Pace.SUDDEN not in paces


# -- what cannot be told


def test_without_a_control_there_is_a_curve_and_no_verdict():
    found = look(World(controls=0, steps={0: (30, -6.0)}), 4)
    assert found.refused.code is Refused.NO_CONTROL and not found.changes and len(found.days) == 60
    said = sentences.headline(found, say=TERMINAL)
    assert "the band and the antenna cannot be told apart" in said and "--control" in said and "antenna is" not in said


def _days_alone(days: list[int], gap_db: float = 0.0):
    """A station alone: five receivers on these days, the last week by so much stronger."""
    rows = [
        (START + pd.Timedelta(days=d, minutes=2 * k), f"G{who}QRA", "IO91wm", -10.0 - who + d % 2 + gap_db * (d > max(days) - 7))
        for d in days for who in range(5) for k in range(6)
    ]  # fmt: skip
    spots = pd.DataFrame(rows, columns=["time_utc", "rx_call", "rx_locator", "snr_db"]).assign(band="20m")
    return season(spots, {})


def test_alone_one_day_has_no_interval_and_two_have_that_of_their_scatter():
    (day,) = _days_alone([0]).days
    assert np.isnan(day.low_db) and np.isnan(day.high_db)
    first, second = _days_alone([0, 1]).days
    sd = abs(first.level_db - second.level_db) / np.sqrt(2)  # of two values
    assert sd > 0.5
    assert [first.high_db - first.level_db, second.level_db - second.low_db] == pytest.approx([1.96 * sd] * 2)


@pytest.mark.parametrize(("days", "told"), [
    ([*range(12), 21, 22, 23, 27], True), ([*range(12), 22, 23, 27], False), ([*range(11), 21, 22, 23, 27], False),
    ([*range(1, 13), 20, 21, 22, 27], False), ([-9, *range(1, 12), 21, 22, 23, 27], False), ([0, *range(1, 12), 21, 22, 23, 27], True),
])  # fmt: skip
def test_a_week_is_told_where_four_of_its_days_and_twelve_of_the_three_weeks_before_are_there(days, told):
    """Days 21 to 27 are the week, 0 to 20 the three weeks before."""
    values = _days_alone(days, 3.0).refused.values
    assert (values["week_db"] is not None) is told
    if told:
        assert values["week_db"] == pytest.approx(3.0, abs=0.6) and not values["strong"]


def test_a_control_of_too_few_pairs_a_day_does_not_serve():
    """Two pairs a day at a receiver say nothing of that day (METHOD.md: three)."""
    spots, controls = make(World(days=25, controls=1), 4)
    ((name, table),) = controls.items()
    seen = table.groupby([table["rx_call"], table["time_utc"].dt.floor("D")]).cumcount()
    found = season(spots, {name: table[(seen < 1).to_numpy()]})
    assert found.refused.code is Refused.NO_CONTROL and not found.controls and len(found.days) == 25


def test_only_a_very_large_drop_without_a_control_asks_to_check_the_station():
    strong = look(World(controls=0, steps={0: (54, -14.0)}), 4)
    assert strong.refused.values["strong"] and "check the station" in sentences.headline(strong, say=TERMINAL)
    assert not look(World(controls=0), 4).refused.values["strong"]


def test_a_control_heard_on_few_days_does_not_serve():
    spots, controls = make(World(controls=1), 4)
    ((name, table),) = controls.items()
    found = season(spots, {name: table[table["time_utc"] < START + pd.Timedelta(days=30)]})
    assert found.refused.code is Refused.NO_CONTROL
    assert [each.code for each in found.remarks] == [Remark.UNUSED]


def test_a_control_heard_every_day_by_one_receiver_alone_does_not_serve_and_is_told():
    spots, controls = make(World(controls=1), 4)
    ((name, table),) = controls.items()
    (most, *_) = table["rx_call"].value_counts().index
    found = season(spots, {name: table[table["rx_call"] == most]})
    assert found.refused.code is Refused.NO_CONTROL and not found.controls
    (thin,) = found.remarks
    assert thin.code is Remark.THIN and thin.values["name"] == name and thin.values["days"] > 50


def test_controls_beyond_as_many_as_serve_are_named():
    spots, controls = make(World(controls=1, days=30), 4)
    ((_, table),) = controls.items()
    every = {f"EI7QT{letter}": table.iloc[k:] for k, letter in enumerate("ABCDEFGHIJ")}  # fewer and fewer reports
    found = season(spots, every)
    assert [each.name for each in found.controls] == list(every)[:MOST_CONTROLS]
    surplus = next(each for each in found.remarks if each.code is Remark.SURPLUS)
    assert surplus.values == {"names": list(every)[MOST_CONTROLS:], "most": MOST_CONTROLS}


def test_few_days_say_when_to_come_back():
    found = look(World(days=15, steps={0: (8, -9.0)}), 4)
    assert found.refused.code is Refused.TOO_FEW_DAYS and not found.changes
    days, back = found.refused.values["days"], found.refused.values["come_back"]
    assert days < 15 and 20 - days <= back <= 30
    assert sentences.headline(found, say=TERMINAL).endswith(f"come back in {back} days.")


def _level(days) -> level.Level:
    one = np.ones(len(days))
    return level.Level(np.asarray(days), 0 * one, one, one.astype(np.int64), 1.0)


@pytest.mark.parametrize(
    ("level_db", "sd"), [([4.0], 0.0), ([4.0, 1.0], 3 / np.sqrt(2)), ([4.0, 1.0, 1.0], np.sqrt(3))]
)
def test_the_scatter_of_few_days_is_that_of_a_sample(level_db, sd):
    """Of one day it is none, of two with 3 dB between them 3 / sqrt(2), of 4, 1 and 1 the root of 6 / 2."""
    series = dataclasses.replace(_level(range(len(level_db))), level_db=np.array(level_db))
    days, found = judge.daily(series, ())
    assert found == pytest.approx(sd)
    half = 1.96 * sd * np.sqrt(1 + judge.DAILY_ALIKE / len(days))
    assert [each.high_db - each.level_db for each in days] == pytest.approx([half] * len(days))


def test_the_rest_of_the_days_takes_as_long_as_those_so_far():
    """Eight days with a level in fifteen, of twenty: twelve to come at that pace are 22 and a half, so 23."""
    told = _too_few(_level(20_000 + np.arange(0, 15, 2)), 8)
    assert (told.code, dict(told.values)) == (Refused.TOO_FEW_DAYS, {"days": 8, "needed": 20, "come_back": 23})
    assert _too_few(_level(20_000 + np.arange(20)), 20) is None


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        (range(30), range(30, 61, 3), {"days": 11, "of": 31, "weaker": True}),
        (range(0, 30, 3), range(30, 60), {"days": 10, "of": 30, "weaker": False}),
        (range(10), range(10, 60), None),  # as full, only longer
        (range(0, 30, 2), range(30, 60, 2), None),
        (range(20), [k for k in range(20, 60) if k % 5], None),  # four in five are still there
        (
            range(20),
            [k for k in range(20, 60) if k % 3],
            {"days": 27, "of": 40, "weaker": True},
        ),  # two in three are not enough
    ],
)
def test_days_lost_with_a_step_are_told_of_the_side_that_lost_them(before, after, told):
    days = 20_000 + np.array([*before, *after])
    step = SimpleNamespace(kind=Kind.STEP, day=date(1970, 1, 1) + timedelta(days=20_000 + min(after)))
    said = _lost(_level(days), [step, SimpleNamespace(kind=Kind.SPELL)])
    assert [dict(each.values) for each in said] == ([told] if told else [])


@pytest.mark.parametrize(("km", "far"), [(None, False), (299.0, False), (301.0, True)])
def test_a_control_beyond_300_km_is_called_far(km, far):
    """METHOD.md: near by is within 300 km."""
    told = [Control("EI7QTD", km, 30, 400, 12, None), Control("EI8QTD", 10.0, 30, 400, 12, None)]
    assert [each.code for each in _weak(told, 2.0, 0.9, True)] == ([Remark.FAR] if far else [])


def test_the_days_of_a_spell_size_no_other_change():
    """Days up to a step before and from a step after; the spell's own days, first and last, tell of nothing else."""
    day = date(1970, 1, 1)

    def change_on(first: int, until: int | None = None):
        at = day + timedelta(days=first)
        return SimpleNamespace(first=at, last=at, day=at, until=None if until is None else day + timedelta(days=until))

    days = np.arange(40)
    use = judge._about(days, [change_on(10, 14), change_on(30)], day + timedelta(days=20))
    assert days[use].tolist() == [*range(10), *range(15, 30)]
    assert days[judge._about(days, [change_on(10)], day + timedelta(days=20))].tolist() == list(range(10, 40))
    assert judge._about(days, [change_on(20)], day + timedelta(days=20)).all()


def test_far_off_values_count_as_huber_has_them():
    """At the solution the residuals in standard units, each cut at 1.5 robust standard deviations and weighed, add up to nothing in
    every row and column but for a constant. Source: Huber (1981), Robust Statistics, 7.8; 1.4826 makes the median of the normal
    distribution its standard deviation."""
    rng = np.random.default_rng(5)
    row, column = (part.ravel() for part in np.meshgrid(np.arange(12), np.arange(10), indexing="ij"))
    weight = rng.uniform(0.2, 9, len(row))
    y = rng.normal(0, 2, 12)[row] + rng.normal(0, 2, 10)[column] + rng.normal(0, 1, len(row)) / np.sqrt(weight)
    y[rng.integers(0, len(y), 12)] += 8
    of_row, of_column = level.two_way(y, weight, row, column, 12, 10, robust=True)
    z = (y - of_row[row] - of_column[column]) * np.sqrt(weight)
    s = 1.4826 * np.median(np.abs(z))
    pull = np.sqrt(weight) * np.clip(z, -1.5 * s, 1.5 * s)
    by_column, by_row = np.bincount(column, pull), np.bincount(row, pull)
    assert np.ptp(by_column) < 0.02 * np.abs(pull).sum() / 10 and np.ptp(by_row) < 0.02 * np.abs(pull).sum() / 12
    assert np.mean(of_column) == pytest.approx(0)


def test_no_reports_at_all_are_no_crash():
    spots, controls = make(World(days=20), 4)
    found = season(spots.iloc[:0], controls)
    assert found.refused.code is Refused.NO_LEVEL and sentences.everything(found, say=TERMINAL)


# -- the log


def test_a_dated_change_is_sized_without_search_and_not_across_another(changed):
    spots, controls = changed
    at = (START + pd.Timedelta(days=20)).date()
    early = (START + pd.Timedelta(days=9)).date()
    last = (START + pd.Timedelta(days=38)).date()
    found = season(spots, controls, log=[(at, "wire lowered", 1.4), (early, "new radio", None), (last, "rain", None)])
    first, second, third = found.log
    assert (first.day, second.day, third.day) == (early, at, last)
    assert second.low_db < -5.0 < second.high_db
    assert first.low_db < 0 < first.high_db and first.before + first.after <= 22, "the step later on has no part in it"
    assert third.size_db is None
    said = [sentences.entry(each, found, say=TERMINAL) for each in found.log]
    assert "No change shown with it" in said[0] and "(SWR read 1.4)" in said[1] and "Not sized" in said[2]


def test_the_attainable_step_shrinks_with_days_and_grows_with_scatter():
    few, many = judge.attainable(20, 20, 1.0), judge.attainable(200, 100, 1.0)
    assert many.now_db < few.now_db and many.after_db[30] < many.after_db[7]
    assert judge.attainable(20, 20, 2.0).now_db == pytest.approx(2 * few.now_db)
    assert judge.attainable(60, 30, 1.0).now_db == pytest.approx(1.5)  # METHOD.md: 30 + 30 days


# -- words


def test_every_code_has_its_sentence(changed):
    found = season(*changed)
    values = {
        Remark.ONE_CONTROL: {"name": "EI7QTD"}, Remark.WIDE: {"sd_db": 3.2}, Remark.NEAR_LIMIT: {"kept": 0.3},
        Remark.FAR: {"name": "EI7QTD", "distance_km": 410.0}, Remark.SETUPS_MIXED: {"setups": ["a", "b"]},
        Remark.CHOSEN: {"names": ["EI7QTD"]}, Remark.UNUSED: {"name": "EI7QTD", "days": 3, "of": 60},
        Remark.THIN: {"name": "EI7QTD", "days": 41}, Remark.SURPLUS: {"names": ["EI7QTD"], "most": 8},
        Remark.LOST_DAYS: {"days": 9, "of": 30, "weaker": True}, Remark.POWER: {"low_w": 1.0, "high_w": 5.0},
    }  # fmt: skip
    said = {sentences.remark(Said(code, values[code]), say=PRINT) for code in Remark}
    assert len(said) == len(Remark) and all(text.endswith(".") for text in said)
    for code, told in ((Refused.NO_CONTROL, {"week_db": None, "usual_db": 4.0, "strong": False}), (Refused.NO_LEVEL, {}),
                       (Refused.TOO_FEW_DAYS, {"days": 1, "needed": 20, "come_back": 19})):  # fmt: skip
        assert sentences.refused(Said(code, told), found, say=PRINT)
    (one,) = found.changes
    for whose in Whose:
        for pace in Pace:
            for kind, until in ((Kind.STEP, None), (Kind.SPELL, date(2026, 9, 25))):
                each = dataclasses.replace(one, whose=whose, pace=pace, kind=kind, until=until, of="EI7QTD")
                assert sentences.change(each, found, say=PRINT).endswith(".")


def test_the_document_is_plain_and_the_table_has_every_day(changed):
    import json

    found = season(*changed)
    told = json.loads(json.dumps(sentences.document(found), allow_nan=False))
    assert told["sentences"][0] == told["changes"][0]["text"]
    table = sentences.days(found)
    assert len(table) == len(found.days) and table["level_db"].notna().all() and table["fitted_db"].nunique() == 2


def test_simulated_seasons_are_what_they_say():
    assert near(look(World(spell=(30, 6, -9.0)), 4), 30)[0].kind is Kind.SPELL


def test_without_a_control_the_level_is_that_beside_each_receivers_usual_one_at_that_half_hour():
    """A hundred receivers, each heard now and then in four days: against pandas, grouped by receiver and half hour."""
    rng = np.random.default_rng(23)
    n = 3_000
    rows = pd.DataFrame({"unit": rng.integers(0, 100, n), "day": rng.integers(20_000, 20_004, n)})
    rows["time_min"] = rows["day"] * 1440.0 + rng.integers(0, 6 * 60, n)
    rows["half"] = rows["time_min"] % 1440 // 30
    rows["snr_db"], rows["power_db"] = rng.normal(-12, 5, n), rng.choice([0.0, 3.0], n)
    rows = rows.sort_values(["unit", "time_min"], ignore_index=True)
    ours = level.Heard(*(rows[name].to_numpy() for name in ("unit", "unit", "time_min", "day", "snr_db", "power_db")),
                       rows["snr_db"].to_numpy() - 99)  # fmt: skip
    y = rows["snr_db"] - rows["power_db"]
    a_day = (y - y.groupby([rows["unit"], rows["half"]]).transform("mean")).groupby(rows["day"])
    found = level.alone(ours)
    assert found.days.tolist() == [20_000, 20_001, 20_002, 20_003]
    assert found.level_db == pytest.approx(a_day.mean() - a_day.mean().mean())
    assert found.weight.tolist() == a_day.size().tolist()
    assert found.receivers.tolist() == rows.groupby("day")["unit"].nunique().tolist()


def test_of_transmitters_without_a_complete_report_nothing_is_heard():
    empty = pd.DataFrame(
        {"time_utc": [pd.NaT], "rx_call": ["F4QRA"], "rx_locator": ["JN18du"], "snr_db": [-9.0], "band": ["20m"]}
    )
    ours, theirs = level.heard([empty, empty])
    for each in (ours, theirs):
        assert [len(column) for column in dataclasses.astuple(each)] == [0] * 7


# -- what counts, at its edges


def _reports_of(unit: int, minutes, snr_db: float = -10.0, power_db: float = 0.0) -> level.Heard:
    t = np.asarray(minutes, float)
    at, even = np.full(len(t), unit, dtype=np.int64), np.ones(len(t))
    return level.Heard(at, at, t, (t // 1440).astype(np.int64), snr_db * even, power_db * even, -30.0 * even)


def test_the_controls_power_is_taken_off_as_the_stations_is():
    """A control 3 dB above its usual power is as if the station had 3 dB less."""
    found = level.pairs(_reports_of(0, [0, 60], power_db=1.0), _reports_of(0, [0, 60], power_db=3.0))
    assert found.power_db.tolist() == [-2.0, -2.0] and found.floor_db.tolist() == [-30.0, -30.0]


@pytest.mark.parametrize(("apart_min", "paired"), [(10.0, True), (10.1, False), (-10.0, True), (-10.1, False)])
def test_a_control_is_heard_within_ten_minutes_or_not_at_all(apart_min, paired):
    assert len(level.pairs(_reports_of(0, [20_000_000.0]), _reports_of(0, [20_000_000.0 + apart_min]))) == paired


@pytest.mark.parametrize(
    ("above_db", "half", "share"),
    [(0.0, 0.0, 1.0), (-0.1, 0.0, 0.0), (0.0, 0.5, 0.5), (-0.5, 0.5, 0.0), (0.5, 0.5, 1.0), (0.2, 0.5, 0.7)],
)
def test_a_report_on_the_limit_counts_and_of_a_whole_one_the_part_above(above_db, half, share):
    assert level._share(np.array([above_db]), half) == pytest.approx(share)


def test_a_receiver_counts_on_a_day_of_three_pairs_and_where_it_has_three_such_days():
    """Ten receivers; what one of them has less of takes it out: of that day, or wholly."""

    def found(of_first_day: int, days_of_last: int) -> level.Level:
        rows = [(who, day, k) for who in range(10) for day in range(5) for k in range(3)]
        rows = [row for row in rows if not (row[0] == 0 and row[1] == 0 and row[2] >= of_first_day)]
        rows = [row for row in rows if not (row[0] == 9 and row[1] >= days_of_last)]
        who, day, _ = (np.array(each, dtype=np.int64) for each in zip(*rows, strict=True))
        even = np.ones(len(rows))
        return level.level(level.Pairs(who, who, day, -10.5 * even, -12.5 * even, 0 * even, -30 * even))

    assert found(3, 5).receivers.tolist() == [10] * 5
    assert found(2, 5).receivers.tolist() == [9, 10, 10, 10, 10]
    assert found(3, 3).receivers.tolist() == [10, 10, 10, 9, 9] and found(3, 2).receivers.tolist() == [9] * 5


@pytest.mark.parametrize(("pairs", "days"), [(16, 4), (15, 0)])
def test_a_day_needs_the_weight_of_two_receivers_that_had_endless_pairs(pairs, days):
    """Three receivers with 16 pairs each weigh 3 * 16 / (16 + 8) = 2."""
    who, day, _ = (part.ravel() for part in np.meshgrid(np.arange(3), np.arange(4), np.arange(pairs), indexing="ij"))
    even = np.ones(len(who))
    found = level.level(level.Pairs(who, who, day, -10.5 * even, -12.5 * even, 0 * even, -30 * even))
    assert len(found.days) == days and found.kept == 1.0
    if days:
        assert found.weight == pytest.approx([2.0] * 4) and found.level_db == pytest.approx([0.0] * 4)


def test_of_no_receiver_with_days_enough_there_is_no_level():
    one = np.zeros(2, dtype=np.int64)
    found = level.level(level.Pairs(one, one, one, np.full(2, -9.5), np.full(2, -9.5), np.zeros(2), np.full(2, -30.0)))
    assert len(found.days) == len(found.level_db) == len(found.weight) == len(found.receivers) == 0


def test_power_is_told_above_each_transmitters_usual_one():
    """The median of the rows that say; those that do not, or say nothing that is one, have the usual power."""
    power_w, whose = np.array([5.0, 5.0, 0.5, np.nan, 0.0, 100.0, np.nan]), np.array([0, 0, 0, 0, 0, 1, 2])
    assert level._power_db(power_w, whose) == pytest.approx([0, 0, -10, 0, 0, 0, 0])


def _level_of(days, level_db, weight=6.0, receivers=4, kept=0.5) -> level.Level:
    even = np.ones(len(days))
    return level.Level(
        np.asarray(days), np.asarray(level_db, float), weight * even, (receivers * even).astype(np.int64), kept
    )


def test_several_controls_are_joined_each_with_an_offset_of_its_own():
    """Weighted least squares by numpy: a day of a control counts by w / (w + 5)."""
    rng = np.random.default_rng(2)
    one, two = np.arange(100, 130), np.arange(110, 140)
    a = _level_of(one, rng.normal(0, 1, 30), weight=15.0, receivers=7, kept=0.9)
    b = _level_of(two, rng.normal(4, 1, 30), weight=5.0, receivers=3, kept=0.3)
    found = level.joined([a, b])
    days = np.arange(100, 140)
    rows = [
        (day, k, y, w / (w + 5))
        for k, each in enumerate((a, b))
        for day, y, w in zip(each.days, each.level_db, each.weight, strict=True)
    ]
    x = np.array([[*(day == days), k] for day, k, _, _ in rows], dtype=float)
    y, root = np.array([row[2] for row in rows]), np.sqrt([row[3] for row in rows])
    fitted = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0][:40]
    assert found.days.tolist() == days.tolist()
    assert found.level_db == pytest.approx(fitted - fitted.mean(), abs=1e-3)
    assert found.weight.tolist() == [15.0] * 10 + [20.0] * 20 + [5.0] * 10
    assert found.receivers.tolist() == [7] * 30 + [3] * 10
    assert found.kept == pytest.approx((0.9 * 450 + 0.3 * 150) / 600)
    assert level.joined([a]) is a


def _changed(kind: Kind, day: int) -> SimpleNamespace:
    return SimpleNamespace(kind=kind, day=date(1970, 1, 1) + timedelta(days=day))


@pytest.mark.parametrize(
    ("changes", "since"),
    [
        ([], 30),
        ([(Kind.STEP, 110)], 20),
        ([(Kind.STEP, 110), (Kind.STEP, 125)], 5),
        ([(Kind.STEP, 110), (Kind.SPELL, 125)], 20),
    ],
)
def test_days_since_the_last_step_are_counted_from_its_own_on(changes, since):
    assert _since(_level(np.arange(100, 130)), [_changed(*each) for each in changes]) == since


@pytest.mark.parametrize(
    ("setups", "power_w", "told"),
    [
        (["a", "a", None], [5.0, 5.5, None], []),
        (["a", "b", None], [5.0, 5.0, 5.0], [Remark.SETUPS_MIXED]),
        ([None] * 3, [5.0, 5.6, None], [Remark.POWER]),
        (["b", "a", "c"], [None] * 3, [Remark.SETUPS_MIXED]),
    ],
)
def test_setups_taken_together_and_power_that_changed_by_more_than_a_tenth_are_told(setups, power_w, told):
    spots = pd.DataFrame({"setup": setups, "power_w": np.array(power_w, dtype=float)})
    found = _about(spots)
    assert [each.code for each in found] == told
    for each in found:
        if each.code is Remark.SETUPS_MIXED:
            assert each.values["setups"] == sorted(name for name in setups if name)
        else:
            assert dict(each.values) == {"low_w": 5.0, "high_w": 5.6}
    assert _about(spots[[]]) == []


@pytest.mark.parametrize(
    ("controls", "sd_db", "kept", "verdict", "told"),
    [
        (2, 3.0, 0.4, True, []),
        (1, 3.0, 0.4, True, [Remark.ONE_CONTROL]),
        (2, 3.1, 0.4, True, [Remark.WIDE]),
        (2, 3.0, 0.39, True, [Remark.NEAR_LIMIT]),
        (1, 3.1, 0.39, False, [Remark.NEAR_LIMIT]),
        (0, 3.1, 0.4, True, [Remark.WIDE]),
    ],
)
def test_what_weakens_a_season_is_said_beyond_each_limit(controls, sd_db, kept, verdict, told):
    """A control that changed itself is none that the level stands on."""
    names = [Control(f"EI{k}QTD", 10.0, 30, 400, 12, None) for k in range(controls)]
    moved = Control("EI9QTD", 900.0, 30, 400, 12, SimpleNamespace())
    assert [each.code for each in _weak([*names, moved], sd_db, kept, verdict)] == told


def _paired(days: int, pairs_a_day: int = 1) -> level.Pairs:
    day = np.repeat(np.arange(days), pairs_a_day)
    one = np.ones(len(day))
    return level.Pairs(0 * day, 0 * day, day, -9.5 * one, -9.5 * one, 0 * one, -30 * one)


def test_controls_serve_from_three_days_in_five_on_and_the_eight_with_most_pairs(monkeypatch):
    ours = _reports_of(0, np.arange(10) * 1440.0)
    given = {"x": _paired(6), "y": _paired(5), "z": _paired(0)}
    monkeypatch.setattr(level, "level", lambda pairs: _level_of(range(3), [0, 0, 0]))
    used, unused = _levels(ours, given)
    assert list(used) == ["x"] and [(each.code, each.values["name"], each.values["days"]) for each in unused] == [
        (Remark.UNUSED, "y", 5), (Remark.UNUSED, "z", 0),
    ]  # fmt: skip
    nine = {f"c{k}": _paired(10, 1 + (k == 8)) for k in range(9)}
    assert list(_levels(ours, nine)[0]) == ["c8", *(f"c{k}" for k in range(7))]
    monkeypatch.setattr(level, "level", lambda pairs: _level_of([], []))
    assert _levels(ours, given)[0] == {}
    assert [each.code for each in _levels(ours, nine)[1]] == [Remark.THIN] * 8 + [Remark.SURPLUS]


@pytest.mark.parametrize(("gap_db", "strong"), [(7.5, False), (8.5, True), (-8.5, True)])
def test_a_week_eight_decibels_off_is_more_than_a_band_usually_does(gap_db, strong):
    values = _days_alone(list(range(28)), gap_db).refused.values
    assert values["strong"] is strong and values["usual_db"] == 4.0
    assert values["week_db"] == pytest.approx(gap_db, abs=0.3)


def test_without_a_control_the_log_counts_days_before_an_entry_and_from_it_on():
    rows = pd.DataFrame(
        {
            "time_utc": START + pd.to_timedelta(np.arange(10), unit="D"),
            "rx_call": "G4QRA",
            "rx_locator": "IO91wm",
            "snr_db": -9.0,
            "band": "20m",
        }
    )
    found = season(rows, {}, log=[((START + pd.Timedelta(days=4)).date(), "rain", None)])
    assert [(each.before, each.after, each.size_db) for each in found.log] == [(4, 6, None)]
    assert found.receivers == 1 and not found.watch


# -- whose it is


@pytest.mark.parametrize("votes", [votes for n in (2, 3, 4, 5) for votes in combinations_with_replacement(Vote, n)])
def test_a_change_is_the_stations_where_most_show_it_and_a_controls_where_it_alone_does(votes):
    """METHOD.md: most controls, two at least, or all that say anything; one against all others; not clear else."""
    named = {f"c{k}": vote for k, vote in enumerate(votes)}
    yes, no = votes.count(Vote.YES), votes.count(Vote.NO)
    if yes == 1 and no == len(votes) - 1:
        truth = (Whose.CONTROL, next(name for name, vote in named.items() if vote is Vote.YES))
    elif (yes >= 2 and yes > len(votes) / 2) or (yes and not no):
        truth = (Whose.STATION, "")
    else:
        truth = (Whose.UNCLEAR, "")
    assert judge._whose(named) == truth


@pytest.mark.parametrize(
    ("pace_bf", "pace"),
    [(1.0, Pace.SUDDEN), (0.99, Pace.UNCLEAR), (-0.99, Pace.UNCLEAR), (-1.0, Pace.SLOW), (3.0, Pace.SUDDEN)],
)
def test_a_step_is_sudden_where_it_beats_a_line_by_one(pace_bf, pace):
    days = np.arange(100, 140)
    scan = change.steps(days, np.random.default_rng(1).normal(size=40))
    claim = change.Claim(scan, days, days >= 125, False, 1.5, pace_bf)
    told = judge._plain(claim, Whose.UNCLEAR, {})
    assert (told.pace, told.before, told.after, told.until, told.excess) == (pace, 25, 15, None, 1.5)
    assert (told.day, told.kind) == (date(1970, 5, 6), Kind.STEP)  # 125 days after the first of January
    spell = judge._plain(
        dataclasses.replace(claim, is_spell=True, inside=(days >= 125) & (days < 130)), Whose.UNCLEAR, {}, of="x"
    )
    assert (spell.kind, spell.until, spell.before, spell.after, spell.of) == (Kind.SPELL, date(1970, 5, 10), 35, 5, "x")


@pytest.mark.parametrize(("inside", "told"), [(2, True), (1, False), (38, True), (39, False)])
def test_two_days_on_either_side_are_what_a_control_alone_can_tell_from(inside, told):
    days = np.arange(40)
    claim = change.Claim(None, days, days >= 40 - inside, False, 1.0, 0.0)
    shift, se = judge._shift(claim, _level_of(days, np.random.default_rng(3).normal(size=40)))
    assert np.isfinite(shift) == np.isfinite(se) == told


def test_the_days_level_counts_from_what_it_was_before_the_first_change():
    """Ten days of 1 dB, ten of 4, ten of 2: two steps, told in any order."""
    days = np.arange(100, 130)
    level_db = np.repeat([1.0, 4.0, 2.0], 10) + np.tile([0.5, -0.5], 15)
    series = _level_of(days, level_db)
    first = change.Claim(None, days, days >= 110, False, 1.0, 0.0)
    second = change.Claim(None, days[10:], days[10:] >= 120, False, 1.0, 0.0)
    for claims in ((first, second), (second, first)):
        told, sd = judge.daily(series, claims)
        assert [each.fitted_db for each in told] == pytest.approx([0.0] * 10 + [3.0] * 10 + [1.0] * 10)
        assert [each.level_db for each in told] == pytest.approx(list(level_db - 1.0))
        assert sd == pytest.approx(np.sqrt(30 * 0.25 / 27))
        half = 1.96 * sd * np.sqrt(1 + judge.DAILY_ALIKE / 10)
        assert (told[0].high_db - told[0].level_db, told[0].level_db - told[0].low_db) == pytest.approx((half, half))
        assert told[0].day == date(1970, 4, 11) and told[0].receivers == 4


def test_controls_are_held_against_the_others_from_three_on():
    """Of two it cannot be told which; of those that changed the one that is farthest above its threshold goes first."""
    days = np.arange(100, 160)
    quiet = {name: _level_of(days, np.random.default_rng(k).normal(0, 1, 60)) for k, name in enumerate("abcd")}
    late = days >= 130
    moved = {
        **quiet,
        "b": _level_of(days, quiet["b"].level_db - 6.0 * late),
        "d": _level_of(days, quiet["d"].level_db + 9.0 * late),
    }
    left, out = judge._steady(dict(moved), False)
    assert list(left) == ["a", "c"] and list(out) == ["d", "b"]
    assert out["b"].size_db == pytest.approx(6.0, abs=1.0) and out["d"].size_db < -8.0
    assert {each.whose for each in out.values()} == {Whose.CONTROL} and out["b"].of == "b"
    two = {name: moved[name] for name in "ab"}
    assert judge._steady(dict(two), False) == (two, {})
    assert judge._steady(dict(quiet), False)[1] == {}


def test_a_control_that_alone_shows_a_change_is_told_with_its_own_size_the_other_way_round():
    days = np.arange(100, 140)
    series = _level_of(days, np.random.default_rng(5).normal(0, 1, 40) + 5.0 * (days >= 120))
    scan = change.steps(days, series.level_db)
    claim = change.Claim(scan, days, days >= 120, False, 1.0, 0.0)
    shift, se = judge._shift(claim, series)
    told = judge._of_control(judge._plain(claim, Whose.CONTROL, {}, of="x"), claim, series)
    assert (told.size_db, told.low_db, told.high_db) == pytest.approx((-shift, -shift - 1.96 * se, -shift + 1.96 * se))


def test_what_stands_in_a_record_is_plain():
    assert plain({1: (1.23456789, date(2026, 5, 9), Kind.STEP, [True, None, "x"])}) == {
        "1": [1.2346, "2026-05-09", "step", [True, None, "x"]]
    }


def test_a_season_shows_itself_in_one_line(changed):
    assert repr(season(*changed, station="EI4QTB")) == "<Season of EI4QTB: 39 days, 3 controls, 1 changes>"
    assert repr(look(World(controls=0, days=10), 1)) == "<Season of a station: 10 days, 0 controls, no-control>"

"""Planning: hours that grow as they should, the user's own spots counted, schedules that are fair and read back."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import UTC, datetime

import icalendar
import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from reach.assign import schedule
from reach.base.words import TERMINAL
from reach.cli.compare import command as compare_command
from reach.cli.plan import command as plan_command
from reach.compare import compare, design, plan
from reach.compare.comparison import DesignKind
from reach.errors import CompareError, OutputError, StudyError
from reach.tell.sentences import plan as sentences
from tests.compare import simulator
from tests.compare.factory import START, alternating

BEGIN = datetime(2026, 5, 16, 18, 0, tzinfo=UTC)


# -- what a plan leaves out


def test_without_detail_the_verdict_is_the_same():
    """Only what stands round it is missing, so that a plan goes by the same interval."""
    table = simulator.make(simulator.Scenario("an evening"), 3).spots
    whole, bare = compare(table, "vertical", "wire"), compare(table, "vertical", "wire", in_detail=False)
    apart = {each.name for each in fields(whole) if getattr(whole, each.name) != getattr(bare, each.name)}
    assert whole.low_db is not None and whole.cells
    round_it = {
        "warnings",
        "notes",
        "pair_low_db",
        "pair_high_db",
        "sensitivity",
        "control",
        "cells",
        "breakdown_left_out",
    }
    assert {"cells", "by_receiver", "by_block", "sensitivity"} <= apart <= {*round_it, "by_receiver", "by_block"}
    assert (bare.cells, bare.sensitivity) == ((), ())


# -- hours


@given(st.floats(0.3, 3), st.integers(3, 300), st.sampled_from([1.0, 2.0, 7.0, 10.0, 30.0, 60.0]))
def test_narrower_takes_longer_and_more_receivers_take_less(half_width_db, receivers, block_min):
    hours = design.hours_needed(False, block_min, receivers, half_width_db)
    assert design.hours_needed(False, block_min, receivers, half_width_db * 0.8) >= hours
    assert design.hours_needed(False, block_min, receivers + 10, half_width_db) <= hours
    assert hours >= design.law(False, block_min).shortest_hours
    reached = design.half_width_db(False, block_min, receivers, hours)
    assert reached <= half_width_db * (1 + 1e-9)
    assert hours == design.law(False, block_min).shortest_hours or reached == pytest.approx(half_width_db)


@given(st.booleans(), st.floats(1, 60), st.integers(3, 300), st.floats(2, 12), st.floats(0.3, 3))
def test_so_many_more_hours_give_the_wanted_half_width(together, block_min, receivers, had_hours, half_width_db):
    had_db = design.half_width_db(together, block_min, receivers, had_hours)
    hours = design.more_hours(together, block_min, had_hours, had_db, half_width_db)
    assert design.half_width_db(together, block_min, receivers, hours) == pytest.approx(half_width_db)


def test_shorter_blocks_need_fewer_hours():
    table = plan.plan(receivers=30, half_width_db=0.7).table
    hours = [row.hours for row in table]
    assert [row.block_min for row in table] == [0, 2, 5, 10, 20, 30]
    assert hours == sorted(hours)
    for row in table:
        widths = [width for width in row.half_width_db if width is not None]
        assert widths == sorted(widths, reverse=True)


def test_the_answer_is_a_row_of_the_table():
    made = plan.plan(receivers=30, block_min=4.0)
    row = next(row for row in made.table if row.block_min == 4.0)
    assert (made.hours, made.blocks) == (row.hours, row.blocks)
    assert made.blocks % 2 == 0 and made.hours == pytest.approx(made.blocks * 4 / 60)
    said = sentences.answer(made, say=TERMINAL)
    assert "30 receivers" in said and f"{made.blocks} blocks of 4 minutes" in said
    assert json.loads(json.dumps(made.to_dict(), allow_nan=False))["hours"] == made.hours


@pytest.mark.parametrize("block_min", [2, 5, 7, 30])
@pytest.mark.parametrize("half_width_db", [0.6, 0.9, 1.3])
def test_on_one_band_blocks_come_in_pairs_and_are_no_more_than_needed(block_min, half_width_db):
    """On several bands each gets its pair."""
    hours = design.hours_needed(False, block_min, 30, half_width_db)
    made = plan.plan(receivers=30, block_min=block_min, half_width_db=half_width_db)
    assert made.blocks % 2 == 0 and (made.blocks - 2) * block_min < hours * 60 <= made.blocks * block_min + 1e-6
    several = plan.plan(receivers=30, block_min=block_min, half_width_db=half_width_db, bands=["20m", "40m", "15m"])
    assert several.blocks % 6 == 0


def test_hours_beyond_the_fitted_ones_are_called_so():
    assert "order of magnitude" in sentences.answer(
        plan.plan(receivers=5, half_width_db=0.2, block_min=30), say=TERMINAL
    )
    assert "order of magnitude" not in sentences.answer(plan.plan(receivers=100), say=TERMINAL)


@pytest.mark.parametrize("wrong", [{"half_width_db": 0}, {"receivers": 2}, {"block_min": 0.5}, {"block_min": 90}])
def test_numbers_out_of_range_are_errors(wrong):
    with pytest.raises(CompareError):
        plan.plan(**wrong)


def test_the_law_holds_for_simulated_sessions():
    """Sessions that the fit has not seen: within a factor of 1.5 of the law on the whole."""
    ratios = []
    for seed in range(2000, 2006):
        made = simulator.make(simulator.Scenario("law", design="random", hours=5, receivers=70), seed)
        found = compare(made.spots.drop(columns=["distance_km", "bearing_deg"]), "vertical", "wire")
        expected = design.half_width_db(False, 10.0, found.receivers, 5.0)
        ratios.append((found.high_db - found.low_db) / 2 / expected)
    assert 1 / 1.5 < np.exp(np.mean(np.log(ratios))) < 1.5


# -- from earlier spots


def test_an_earlier_alternation_counts_as_it_was():
    spots = alternating(1, receivers=12, blocks=40)
    made = plan.plan(spots)
    found = compare(spots, "a", "b")
    assert made.receivers == found.receivers
    assert made.from_spots == plan.Earlier(plan.Source.ALTERNATED, found.receivers, made.factor, "a", "b")
    expected = design.half_width_db(False, found.design.period_min, found.receivers, found.design.hours)
    assert made.factor == pytest.approx((found.high_db - found.low_db) / 2 / expected)


def test_setups_are_dealt_out_to_spots_of_one_setup():
    """The factor comes out near that of a true alternation on the same band."""
    quiet, wild = (alternating(2, receivers=12, blocks=40, difference_db=0, noise_db=noise) for noise in (1.0, 5.0))
    plans = [plan.plan(spots.drop(columns="setup"), receivers=20) for spots in (quiet, wild)]
    assert all(made.from_spots.source == plan.Source.DEALT for made in plans)
    assert plans[1].factor > 1.5 * plans[0].factor
    assert plans[1].hours > plans[0].hours
    assert 10 <= plan.plan(quiet.drop(columns="setup")).receivers <= 12
    again = plan.plan(quiet.drop(columns="setup"), receivers=20)
    assert again == plans[0]


def test_setups_are_dealt_out_in_ten_minute_blocks_each_pair_in_a_drawn_order():
    spots = alternating(2, receivers=12, blocks=40, difference_db=0).drop(columns="setup")
    for seed in range(3):
        found = plan._dealt(spots, seed)
        starts = [pd.Timestamp(block.start_utc) for block in found.by_block]
        assert all(
            start.minute % 10 < 3 for start in starts
        )  # the first slots of a block may have been heard by nobody


def test_too_few_earlier_spots_are_said_to_be():
    made = plan.plan(alternating(3, receivers=4, blocks=3).drop(columns="setup"))
    assert made.factor == 1.0 and made.from_spots == plan.Earlier(plan.Source.TOO_FEW, 4)
    assert made.receivers == 4


# -- schedules


@given(st.integers(1, 200), st.integers(0, 99), st.sampled_from([2.0, 2.5, 10.0]), st.sampled_from([None, 1.0, 3.5]))
def test_a_schedule_is_fair_and_in_order(blocks, seed, block_min, session_hours):
    dealt = plan.deal("a", "b", start=BEGIN, blocks=blocks, block_min=block_min, session_hours=session_hours, seed=seed)
    assert len(dealt) == 2 * -(-blocks // 2)
    pairs = dealt["setup"].astype(str).to_numpy().reshape(-1, 2)
    assert all(set(pair) == {"a", "b"} for pair in pairs)
    starts, ends = dealt["start"], dealt["end"]
    assert (starts.iloc[1:].to_numpy() >= ends.iloc[:-1].to_numpy()).all()
    assert ((ends - starts) == pd.Timedelta(minutes=block_min)).all()
    if session_hours:
        since = (ends - starts.iloc[0]) % pd.Timedelta(days=1)
        assert (since <= pd.Timedelta(hours=session_hours)).all()
    assert dealt.equals(plan.deal("a", "b", start=BEGIN, blocks=blocks, block_min=block_min,
                                  session_hours=session_hours, seed=seed))  # fmt: skip
    assert schedule.parse(schedule.text(dealt)).astype(str).equals(dealt.astype(str))


def test_the_coin_falls_either_way():
    first = plan.deal("a", "b", start=BEGIN, blocks=400, seed=3)["setup"].astype(str).to_numpy()[::2]
    assert 70 < (first == "a").sum() < 130
    other = plan.deal("a", "b", start=BEGIN, blocks=400, seed=4)["setup"].astype(str).to_numpy()[::2]
    assert (first != other).any()


@pytest.mark.parametrize(
    "wrong",
    [{"a": "x", "b": "x"}, {"a": " "}, {"session_hours": 0.1}, {"session_hours": 25.0}],
)
def test_a_schedule_that_cannot_be_is_an_error(wrong):
    with pytest.raises(CompareError):
        plan.deal(**{"a": "a", "b": "b", "start": BEGIN, "blocks": 4, **wrong})


def test_the_calendar_holds_the_same_events():
    dealt = plan.deal("vertical", "wire, long", start=BEGIN, blocks=6, seed=1)
    content = schedule.calendar(dealt, title="Test; a, b")
    assert content == schedule.calendar(dealt, title="Test; a, b")
    events = icalendar.Calendar.from_ical(content).walk("VEVENT")
    assert [event.decoded("dtstart") for event in events] == list(dealt["start"].dt.to_pydatetime())
    assert [event.decoded("dtend") for event in events] == list(dealt["end"].dt.to_pydatetime())
    assert [str(event["summary"]) for event in events] == [f"Test; a, b: {name}" for name in dealt["setup"]]
    assert len({str(event["uid"]) for event in events}) == len(events)
    assert b"\r\n" in content and all(len(line) <= 75 for line in content.split(b"\r\n"))  # RFC 5545, 3.1


def test_a_spot_belongs_to_the_row_that_holds_its_time():
    """From the start up to, but not at, the end; gaps and missing times belong to none."""
    rows = [(0, 10, "a"), (10, 20, "b"), (30, 40, "a")]
    moments = [START + pd.Timedelta(minutes=m) for m in range(0, 50, 10)]
    table = schedule.table(
        [(moments[s // 10].to_pydatetime(), moments[e // 10].to_pydatetime(), name) for s, e, name in rows]
    )
    times = pd.Series([START + pd.Timedelta(minutes=m) for m in (-1, 0, 9.99, 10, 20, 29, 30, 40)] + [pd.NaT])
    named = schedule.assign(pd.DataFrame({"time_utc": times}), table)["setup"]
    assert named.astype(object).where(named.notna(), None).tolist() == [
        None, "a", "a", "b", None, None, "a", None, None,
    ]  # fmt: skip
    none = schedule.assign(pd.DataFrame({"time_utc": times}), schedule.table([]))
    assert none["setup"].isna().all()


def test_schedules_in_other_forms_are_read():
    text = "# made by hand\nsetup;end;start\n\nwire;2026-05-16T19:10+01:00;2026-05-16 18:00\n"
    read = schedule.parse(text)
    assert read["start"].iloc[0] == START and read["end"].iloc[0] == START + pd.Timedelta(minutes=10)


def test_a_schedule_file_that_is_none(tmp_path):
    with pytest.raises(StudyError, match="cannot be read"):
        schedule.read(tmp_path / "none.csv")
    (tmp_path / "latin.csv").write_bytes(
        "start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,Dr\xe4htle\n".encode("latin1")
    )
    with pytest.raises(StudyError, match="UTF-8"):
        schedule.read(tmp_path / "latin.csv")


# -- command line


def _run(command, *args: str):
    return CliRunner().invoke(command, list(args), catch_exceptions=False)


def _csv(spots: pd.DataFrame, path) -> str:
    columns = {"time_utc": "time", "rx_call": "callsign", "rx_locator": "locator", "snr_db": "snr", "band": "band"}
    table = spots[list(columns)].rename(columns=columns)
    table.assign(time=spots["time_utc"].dt.strftime("%Y-%m-%d %H:%M:%S")).to_csv(path, index=False)
    return str(path)


def test_plan_then_compare_by_its_schedule(tmp_path):
    """The schedule that `reach plan` writes is what `reach compare --schedule` reads."""
    out = tmp_path / "plans"
    done = _run(plan_command, "--receivers", "12", "--a", "vertical", "--b", "wire", "--start", "2026-05-16 18:00",
                "--seed", "5", "--out", str(out))  # fmt: skip
    assert done.exit_code == 0 and "Written" in done.output and "seed 5" in done.output
    dealt = schedule.read(out / "schedule.csv")
    assert dealt["start"].iloc[0] == START
    assert icalendar.Calendar.from_ical((out / "schedule.ics").read_bytes()).walk("VEVENT")
    order = "".join("a" if name == "vertical" else "b" for name in dealt["setup"])
    spots = alternating(6, receivers=12, blocks=len(dealt), order=order, difference_db=3.0)
    named = [f"G{k}QR{chr(65 + k)}" for k in range(10)] + ["M0QSA", "M1QSB"]
    renamed = spots.assign(rx_call=spots["rx_call"].cat.rename_categories(named))
    told = _run(compare_command, _csv(renamed, tmp_path / "spots.csv"), "--locator", "IO51es", "--a", "vertical",
                "--b", "wire", "--schedule", str(out / "schedule.csv"), "--power-difference-db", "0", "--json")  # fmt: skip
    found = json.loads(told.output)
    assert found["verdict"] == "a better" and found["low_db"] < 3.0 < found["high_db"]
    assert found["design"]["kind"] == "alternating"
    for line in ("warnings", "notes"):
        printed = _run(compare_command, str(tmp_path / "spots.csv"), "--locator", "IO51es", "--a", "vertical",
                       "--b", "wire", "--schedule", str(out / "schedule.csv"))  # fmt: skip
        assert all(printed.output.count(one["text"]) == 1 for one in found[line])


def test_plan_from_a_file_and_as_json(tmp_path):
    spots = alternating(6, receivers=10, blocks=40)
    renamed = spots.assign(rx_call=spots["rx_call"].cat.rename_categories([f"G{k}QR{chr(65 + k)}" for k in range(10)]))
    done = _run(plan_command, _csv(renamed, tmp_path / "spots.csv"), "--half-width", "0.8", "--json")
    told = json.loads(done.output)
    assert told["half_width_db"] == 0.8 and told["receivers"] == 10 and told["from_spots"]["source"] == "dealt-out"
    assert "dealt out" in told["from_spots"]["text"]
    assert told["schedule"] is None and told["written"] == []


def test_plan_prints_its_schedule_where_no_folder_is_given():
    done = _run(plan_command, "--start", "2026-05-16T20:00+02:00", "--a", "x", "--b", "y")
    assert "start,end,setup" in done.output and "2026-05-16 18:00,2026-05-16 18:10," in done.output


def test_plan_needs_a_start_to_write(tmp_path):
    for args, said in (
        (["--out", str(tmp_path)], "a schedule needs its start: give --start"),
        (["--start", "tomorrow"], "--start: 'tomorrow' is no day or time"),
    ):
        refused = CliRunner().invoke(plan_command, args)
        assert refused.exit_code == 2 and said in refused.output
    (tmp_path / "file").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        _run(plan_command, "--start", "2026-05-16 18:00", "--out", str(tmp_path / "file"))


# -- an order that the clock can be checked by


@given(st.integers(3, 100), st.integers(0, 300))
def test_no_dealt_order_repeats(pairs, seed):
    """Shifted by any number of blocks, at least a few blocks are neither all the same nor all exchanged."""
    dealt = plan.deal("a", "b", start=BEGIN, blocks=2 * pairs, seed=seed)
    label = np.where(dealt["setup"].astype(str) == "a", 1, -1)
    for lag in range(1, len(label) // 3 + 1):
        products = label[lag:] * label[:-lag]
        assert -1 < products.mean() < 1, lag


def test_an_order_that_repeats_is_drawn_again():
    """Of a hundred seeds some first draws of three pairs are A-B-A-B-A-B; none is dealt."""
    first = [np.random.default_rng([seed]).integers(0, 2, 3) for seed in range(100)]
    assert any(len(set(coin)) == 1 for coin in first)
    for seed in range(100):
        names = "".join(plan.deal("a", "b", start=BEGIN, blocks=6, seed=seed)["setup"].astype(str))
        assert names not in ("ababab", "bababa")


def test_the_plan_says_why_the_order_is_drawn():
    assert any("A-B-A-B" in advice and "clock" in advice for advice in sentences.ADVICE)


# -- several bands in turn

BANDS = ("20m", "30m", "40m")


def test_bands_in_turn_are_visited_one_after_the_other_with_the_order_reversed_every_second_time():
    made = plan.plan(receivers=30, bands=BANDS)
    assert made.bands == BANDS and made.return_min == 60.0 and made.blocks % 6 == 0
    assert made.hours > plan.plan(receivers=30).hours
    table = plan.deal("vertical", "wire", start=BEGIN, blocks=made.blocks, bands=BANDS, seed=3)
    assert list(table["band"][::2]) == list(table["band"][1::2])  # both setups on each visit
    visits = table["setup"].astype(str).to_numpy().reshape(-1, 2)
    assert list(table["band"][::2]) == [BANDS[k % 3] for k in range(len(visits))]
    for k in range(3, len(visits)):
        if k // 3 % 2:
            assert visits[k].tolist() == visits[k - 3][::-1].tolist()
    again = set()  # whether a band's third visit begins with the setup that its first began with: drawn
    for seed in range(12):
        table = plan.deal("vertical", "wire", start=BEGIN, blocks=24, bands=BANDS, seed=seed)
        first = table["setup"].astype(str).to_numpy()[::2]
        again |= set(first[6:9] == first[:3])
    assert again == {True, False}


def test_a_plan_of_several_bands_is_understood_by_the_comparison():
    """The schedule dealt, heard by a dozen receivers, compared: the design read back is the one that was planned."""
    table = plan.deal("a", "b", start=BEGIN, blocks=36, bands=BANDS, seed=3)
    again = schedule.parse(schedule.text(table))
    assert again["setup"].astype(str).tolist() == table["setup"].astype(str).tolist()
    rng = np.random.default_rng(1)
    slots = [row["start"] + pd.Timedelta(minutes=2 * k) for row in table.to_dict("records") for k in range(5)]
    band = np.repeat(table["band"].to_numpy(), 5)
    named = np.repeat(table["setup"].astype(str).to_numpy(), 5)
    calls = [f"M{k}QRA" for k in range(9)]
    spots = pd.DataFrame(
        [
            (slot, call, "JN58td", round(rng.normal(2.0 * (one == "a"), 1)), on)
            for slot, on, one in zip(slots, band, named, strict=True)
            for call in calls
        ],
        columns=["time_utc", "rx_call", "rx_locator", "snr_db", "band"],
    ).astype({"snr_db": float})
    found = compare(spots, "a", "b", schedule=again, decoding_limit_db=-28)
    assert (found.design.bands, found.design.stay_min, found.design.return_min) == (3, 20.0, 60.0)
    assert found.design.period_min == 10.0 and found.low_db < 2.0 < found.high_db


@pytest.mark.parametrize(
    ("bands", "says"),
    [(("20m", "20 metres"), "no band is called '20 metres'"), (("20m", "20m"), "different ones"),
     (tuple(f"{k}m" for k in (160, 80, 60, 40, 30, 20, 17, 15, 12, 10, 6, 2, 4)), "must be within 240")],
)  # fmt: skip
def test_bands_that_cannot_take_turns_are_one_sentence(bands, says):
    with pytest.raises(CompareError, match=says):
        plan.plan(bands=bands)


def test_several_bands_on_the_command_line(tmp_path):
    asked = ["--bands", "20m, 30m,40m", "--start", "2026-05-16 18:00", "--out", str(tmp_path)]
    said = CliRunner().invoke(plan_command, asked)
    assert said.exit_code == 0, said.output
    assert (
        "Through 3 bands in turn (20m, 30m, 40m), 20 minutes each, so each band is heard every 60 minutes."
        in said.output
    )
    assert "every second visit" in said.output
    rows = pd.read_csv(tmp_path / "schedule.csv")
    assert list(rows.columns) == ["start", "end", "setup", "band"] and set(rows["band"]) == set(BANDS)
    assert b"on 30m" in (tmp_path / "schedule.ics").read_bytes()


# -- edges


@pytest.mark.parametrize(
    ("given", "fine"),
    [({"half_width_db": 19.9}, True), ({"half_width_db": 20}, False), ({"half_width_db": 0.01}, True), ({"receivers": 3}, True),
     ({"block_min": 1}, True), ({"block_min": 60}, True), ({"block_min": 60.5}, False), ({"block_min": 0.9}, False)],
)  # fmt: skip
def test_numbers_within_their_range_are_taken(given, fine):
    if fine:
        assert plan.plan(**given).hours > 0
        return
    with pytest.raises(CompareError):
        plan.plan(**given)


def test_what_is_not_said_is_twenty_receivers_on_one_band_and_blocks_of_ten_minutes():
    made = plan.plan()
    assert (made.receivers, made.block_min, made.half_width_db, made.bands, made.return_min) == (
        20,
        10.0,
        1.0,
        (),
        None,
    )
    assert made.from_spots == plan.Earlier(plan.Source.ASSUMED) and made.table_hours == (2.0, 3.0, 6.0, 12.0, 24.0)
    assert plan.plan(bands=["20m"]).table == made.table


def test_a_session_shorter_than_the_shortest_has_no_half_width_and_one_as_long_has():
    """Ten-minute blocks take three hours, both on the air at once one and a half."""
    rows = {row.block_min: row for row in plan.plan(receivers=30).table}
    assert [width is None for width in rows[10.0].half_width_db] == [True, False, False, False, False]
    assert [width is None for width in rows[0].half_width_db] == [False] * 5 and rows[0].blocks is None
    assert rows[10.0].half_width_db[1] == pytest.approx(design.half_width_db(False, 10.0, 30, 3.0))


def test_no_plan_is_longer_than_a_thousand_hours():
    made = plan.plan(receivers=3, half_width_db=0.04, block_min=30)
    assert made.hours == 1000.0 and made.blocks == 2000


@pytest.mark.parametrize(("heard", "receivers"), [(2, 20), (3, 3)])
def test_receivers_counted_in_earlier_spots_are_believed_from_three_on(heard, receivers):
    made = plan.plan(alternating(3, receivers=heard, blocks=3, heard=1.0, limit_db=-99.0).drop(columns="setup"))
    assert made.from_spots == plan.Earlier(plan.Source.TOO_FEW, heard) and made.receivers == receivers


@pytest.mark.parametrize(("reports", "regular"), [(5, 0), (6, 1)])
def test_six_reports_make_a_receiver_a_regular_one(reports, regular):
    spots = alternating(3, receivers=1, blocks=4, heard=1.0, limit_db=-99.0).drop(columns="setup").iloc[:reports]
    assert plan.plan(spots).from_spots.receivers == regular


def test_setups_are_dealt_to_the_most_reported_setup_alone():
    spots = alternating(2, receivers=12, blocks=40, order="aaab")
    assert plan._dealt(spots, 0).spots == (spots["setup"] == "a").sum()
    nameless = spots.assign(setup=None)
    assert plan._dealt(nameless, 0).spots == len(spots)


def test_of_earlier_setups_the_two_with_most_reports_count_and_one_is_no_alternation():
    spots = alternating(1, receivers=12, blocks=60, order="ab")
    third = spots.assign(setup=spots["setup"].astype(object).where(np.arange(len(spots)) % 20 > 0, "z"))
    made = plan.plan(third)
    assert (made.from_spots.source, made.from_spots.a, made.from_spots.b) == (plan.Source.ALTERNATED, "a", "b")
    assert plan._real(spots[(spots["setup"] == "a").to_numpy()]) is None
    assert plan._real(spots.assign(setup="a")) is None and plan._real(spots.drop(columns="setup")) is None
    halves = alternating(1, receivers=12, blocks=40, order="a" * 20 + "b" * 20)
    assert plan._real(halves) is None


@pytest.mark.parametrize(
    ("session_hours", "block_min", "a_day"),
    [(1.0, 10.0, 3), (1 / 3, 10.0, 1), (0.3, 3.0, 3), (1.1, 3.0, 11), (0.99, 10.0, 2), (24.0, 10.0, 72)],
)
def test_a_day_has_as_many_whole_pairs_as_its_hours_hold(session_hours, block_min, a_day):
    dealt = plan.deal("a", "b", start=BEGIN, blocks=2 * a_day + 2, block_min=block_min, session_hours=session_hours)
    day = (dealt["start"] - dealt["start"].iloc[0]) // pd.Timedelta(hours=24)
    assert (day == 0).sum() == 2 * a_day and (day == 1).sum() == 2


@pytest.mark.parametrize(("blocks", "rows"), [(0, 2), (1, 2), (2, 2), (3, 4)])
def test_blocks_are_rounded_up_to_whole_pairs(blocks, rows):
    assert len(plan.deal("a", "b", start=BEGIN, blocks=blocks)) == rows


@pytest.mark.parametrize(
    ("bands", "block_min", "fine"),
    [(2, 60.0, True), (2, 61.0, False), (1, 200.0, True), (12, 10.0, True), (12, 10.5, False)],
)
def test_a_band_must_come_round_within_four_hours(bands, block_min, fine):
    names = ["160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m", "2m"][:bands]
    if fine:
        dealt = plan.deal("a", "b", start=BEGIN, blocks=2 * bands, block_min=block_min, bands=names)
        assert len(dealt) == 2 * bands and ("band" in dealt.columns) is (bands > 1)
        return
    with pytest.raises(CompareError, match="must be within 240"):
        plan.deal("a", "b", start=BEGIN, blocks=4, block_min=block_min, bands=names)


def test_intervals_are_held_against_the_law_of_an_hour_at_least():
    """The geometric mean of how much wider they are; a comparison without a period is one of ten-minute blocks."""
    found = compare(alternating(1, receivers=12, blocks=40), "a", "b", in_detail=False)
    short = replace(
        found, receivers=3, design=replace(found.design, hours=0.2, period_min=None), low_db=-1.0, high_db=3.0
    )
    law_db = design.half_width_db(False, 10.0, 3, 1.0)
    assert plan._factor([short]) == pytest.approx(2.0 / law_db)
    wide = replace(short, low_db=-4.0, high_db=4.0)
    assert plan._factor([short, wide]) == pytest.approx(np.sqrt(2.0 * 4.0) / law_db)
    at_once = replace(short, design=replace(short.design, kind=DesignKind.SIMULTANEOUS))
    assert plan._factor([at_once]) == pytest.approx(2.0 / design.half_width_db(True, 10.0, 3, 1.0))

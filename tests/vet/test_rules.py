"""Rows to spots: each rule, what is kept, what is said, and that no row is lost."""

from datetime import UTC, datetime

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import reach
from reach import spots as contract
from reach.errors import InputError, LocatorError
from reach.findings import Counts
from reach.read import times
from reach.study import Options, Station
from reach.vet import rules
from reach.vet.fixes import Fix
from reach.vet.rules import vet
from tests.vet.rows import NOW, SOUND, judged, raw, said
from tests.vet.rows import words as told

STATION = Station(callsign="ei4qtb/p", locator="IO51ES", power_w=5)


def test_a_sound_row_becomes_a_spot():
    vetted = judged({})
    assert vetted.counts == Counts(1, 1, 0, 0)
    assert said(vetted) == []
    spot = vetted.spots.iloc[0]
    assert spot["time_utc"] == pd.Timestamp("2026-05-16T20:04:00Z")
    assert (spot["rx_call"], spot["rx_locator"], spot["snr_db"], spot["band"]) == ("DL2QTC", "JN58td", -12, "20m")
    assert (spot["source"], spot["line"]) == ("may.csv", 2)
    unknown = ["freq_mhz", "mode", "tx_call", "tx_locator", "power_w", "setup", "session"]
    assert vetted.spots[unknown].isna().all(axis=None)


@pytest.mark.parametrize("rows", [(), ({},), ({}, {"snr_db": "x"}), ({"snr_db": "x"},)])
def test_the_tables_are_those_of_the_contract(rows):
    vetted = judged(*rows)
    assert [(name, str(dtype)) for name, dtype in vetted.spots.dtypes.items()] == [
        (name, dtype) for name, (dtype, _) in contract.SPOT.items()
    ]
    assert [(name, str(dtype)) for name, dtype in vetted.problems.dtypes.items()] == [
        (name, dtype) for name, (dtype, _) in contract.PROBLEMS.items()
    ]
    assert isinstance(vetted.spots.index, pd.RangeIndex)
    assert set(vetted.problems["severity"]) <= set(contract.SEVERITIES)


def test_arguments_are_left_alone():
    table = raw({}, {"snr_db": "x"}, {})
    before = table.copy(deep=True)
    vet(table, station=STATION, now=NOW)
    pd.testing.assert_frame_equal(table, before)


def test_form_is_no_content():
    vetted = judged(
        {"rx_call": " dl2qtc", "rx_locator": "jn58TD ", "mode": " cw", "setup": " Wire ", "snr_db": "-12 dB"}
    )
    spot = vetted.spots.iloc[0]
    assert (spot["rx_call"], spot["rx_locator"], spot["mode"], spot["setup"]) == ("DL2QTC", "JN58td", "CW", "Wire")
    assert said(vetted) == []


@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ({"time_utc": ""}, "time-blank"),
        ({"time_utc": None}, "time-blank"),
        ({"time_utc": "soon"}, "time-unreadable"),
        ({"time_utc": "2026-06-01 00:01"}, "time-in-future"),
        ({"time_utc": "1989-12-31 23:59"}, "time-too-early"),
        ({"rx_call": ""}, "callsign-blank"),
        ({"rx_call": "?"}, "callsign-unreadable"),
        ({"rx_locator": ""}, "locator-blank"),
        ({"rx_locator": None}, "locator-blank"),
        ({"rx_locator": "JNO8td"}, "locator-letter-for-digit"),
        ({"rx_locator": "JN58"}, "locator-four-characters"),
        ({"snr_db": ""}, "snr-blank"),
        ({"snr_db": "loud"}, "snr-unreadable"),
        ({"snr_db": "61"}, "snr-range"),
        ({"band": ""}, "band-blank"),
        ({"band": "x"}, "band-unreadable"),
        ({"tx_locator": "IO5les"}, "tx-locator-letter-for-digit"),
        ({"tx_call": "?"}, "tx-callsign-unreadable"),
        ({"fault": "row-length 2 5"}, "row-length"),
    ],
)
def test_one_thing_wrong_rejects_the_row(change, rule):
    vetted = judged({}, change)
    assert said(vetted) == [(3, rule, "rejected")]
    assert vetted.counts == Counts(2, 1, 1, 0)
    assert vetted.spots["line"].tolist() == [2]


def test_the_limits_of_time_belong_to_it():
    assert said(judged({"time_utc": "2026-06-01 00:00"}, {"time_utc": "1990-01-01 00:00"})) == []


def test_the_clock_is_looked_at_where_nobody_says_what_time_it_is():
    assert said(vet(raw({"time_utc": "2999-01-01 00:00"}))) == [(2, "time-in-future", "rejected")]
    naive = judged({"time_utc": "2026-05-31 23:59"}, {"time_utc": "2026-06-01 01:00+00:30"}, now=datetime(2026, 6, 1))
    assert said(naive) == [(3, "time-in-future", "rejected"), (3, "time-offset", "note")]


def test_all_that_is_wrong_with_a_row_is_said_in_file_order():
    vetted = judged(
        {"snr_db": "x", "rx_locator": "JNO8td"},
        {},
        {"time_utc": "x", "rx_call": "", "band": ""},
        {"rx_locator": "", "source": "june.csv", "line": 2},
    )
    assert said(vetted) == [
        (2, "locator-letter-for-digit", "rejected"),
        (2, "snr-unreadable", "rejected"),
        (4, "time-unreadable", "rejected"),
        (4, "callsign-blank", "rejected"),
        (4, "band-blank", "rejected"),
        (2, "locator-blank", "rejected"),
    ]
    first = vetted.problems.iloc[0]
    assert (first["source"], first["callsign"], first["locator"], first["suggestion"]) == (
        "may.csv", "DL2QTC", "JNO8td", "JN08td",
    )  # fmt: skip
    assert vetted.problems["source"].tolist() == ["may.csv"] * 5 + ["june.csv"]
    assert vetted.counts == Counts(4, 1, 3, 0)


def test_a_problem_shows_the_cells_as_they_came():
    problem = judged({"rx_call": " dl2qtc ", "rx_locator": None, "snr_db": "x"}).problems.iloc[0]
    assert (problem["callsign"], problem["locator"]) == (" dl2qtc ", "")


def test_of_a_row_of_the_wrong_shape_nothing_else_is_said():
    fault = "row-quote"
    vetted = judged({"fault": fault, "snr_db": "", "band": "", "time_utc": ""})
    assert said(vetted) == [(2, "row-quote", "rejected")]
    assert told(vetted)[0] == "A quote is opened and never closed."


def test_a_blank_row_is_one_problem():
    blank = dict.fromkeys(SOUND, " ")
    assert said(judged({}, blank, dict.fromkeys(SOUND, None))) == [
        (3, "row-blank", "rejected"),
        (4, "row-blank", "rejected"),
    ]


def test_a_row_of_no_break_spaces_is_blank_too():
    """They come last in the alphabet, behind all that is written."""
    assert said(judged({}, dict.fromkeys(SOUND, "\u00a0"))) == [(3, "row-blank", "rejected")]


def test_offsets_of_parts_are_those_of_the_file():
    none, some, more = rules.Offsets(), rules.Offsets(5, 2, 7), rules.Offsets(4, 1, 3)
    assert none + some == some + none == some and some + more == rules.Offsets(9, 3, 7) and none.first == 0


@pytest.mark.parametrize("cut", range(6))
def test_a_file_read_in_two_parts_counts_its_offsets_as_if_read_whole(cut):
    plain, shifted = {"time_utc": "2026-05-16 20:04"}, {"time_utc": "2026-05-16T22:04:00+02:00"}
    table = raw(plain, plain, shifted, plain, shifted, shifted)

    def found(part):
        return rules.offsets(part, times.moments(part)).get("may.csv", rules.Offsets())

    assert found(table) == rules.Offsets(6, 3, 4) == found(table[:cut]) + found(table[cut:].reset_index(drop=True))


def test_a_header_among_the_rows_is_one_problem():
    again = {"time_utc": "Time", "rx_call": "Heard by", "rx_locator": "GRID", "snr_db": "SNR (dB)", "band": "Band"}
    assert said(judged({}, again, {"snr_db": "SNR"})) == [
        (3, "row-header", "rejected"),
        (4, "snr-unreadable", "rejected"),
    ]


def test_squares_where_the_user_allows_them():
    rows = {"rx_locator": "jn58"}, {"rx_locator": "JN58TD12"}
    vetted = judged(*rows, options=Options(four_character_locators=True))
    assert vetted.spots["rx_locator"].tolist() == ["JN58td12"]  # the square repeats the other: the longer one is kept
    assert judged(rows[0], options=Options(four_character_locators=True)).spots["rx_locator"].tolist() == ["JN58"]


def test_listeners_without_a_callsign_are_heard_too():
    vetted = judged({"rx_call": "NL9222"}, {"rx_call": "Garden SDR"})
    assert vetted.spots["rx_call"].tolist() == ["NL9222", "GARDEN SDR"]
    assert said(vetted) == []


# ---------------------------------------------------------------------------------------------------------- the station


def test_the_station_fills_in_what_a_row_does_not_say():
    rows = (
        {"tx_call": "", "tx_locator": " ", "power_w": ""},
        {"tx_call": "EI4QTB", "tx_locator": "io51aa", "power_w": "10", "rx_call": "F5QSA"},
    )
    spots = judged(*rows, station=STATION).spots
    assert spots["tx_call"].tolist() == ["EI4QTB/P", "EI4QTB"]
    assert spots["tx_locator"].tolist() == ["IO51es", "IO51aa"]
    assert spots["power_w"].tolist() == [5, 10]
    nobody = judged(*rows).spots
    assert nobody[["tx_call", "tx_locator", "power_w"]].isna().iloc[0].all()
    bare = judged({}, station=STATION).spots.iloc[0]
    assert (bare["tx_call"], bare["tx_locator"], bare["power_w"]) == ("EI4QTB/P", "IO51es", 5)


def test_a_station_in_the_wrong_place_is_an_error():
    with pytest.raises(LocatorError, match=r"the station's own locator: .*Did you mean IO51es\?"):
        judged({}, station=Station(locator="I051es"))
    assert judged({}, station=Station(locator="IO51")).spots["tx_locator"].tolist() == ["IO51"]


def test_power_in_any_unit_and_a_note_where_it_is_none():
    rows = [{"power_mw": "500"}, {"power_dbm": "30"}, {"power_w": "2,5"}, {"power_w": "lots"}, {"power_w": "0"}, {}]
    vetted = judged(*({"rx_call": f"G{k}QTA"} | row for k, row in enumerate(rows)), station=STATION)
    np.testing.assert_allclose(vetted.spots["power_w"], [0.5, 1, 2.5, np.nan, np.nan, 5], rtol=1e-6)
    assert said(vetted) == [(5, "power-unreadable", "note"), (6, "power-range", "note")]


# ----------------------------------------------------------------------------------------------------- times and dates


def test_an_offset_is_a_note():
    vetted = judged({"time_utc": "2026-05-16T22:04:00+02:00"}, {"rx_call": "F5QSA"})
    assert vetted.spots["time_utc"].tolist() == [pd.Timestamp("2026-05-16T20:04Z")] * 2
    assert said(vetted) == [(2, "time-offset", "note")]
    assert told(vetted)[0] == "'2026-05-16T22:04:00+02:00' was turned into UTC."


def test_a_file_in_which_all_times_have_an_offset_is_noted_once():
    rows = [{"time_utc": f"2026-05-16T22:0{k}+02:00"} for k in range(4)]
    other = {"time_utc": "2026-05-16 20:04", "source": "june.csv"}
    vetted = judged(*rows, other)
    assert said(vetted) == [(2, "time-offset", "note")]
    assert "All 4 times of this file" in told(vetted)[0]


AMBIGUOUS, DAY_ONLY, MONTH_ONLY = "03/05/2026 20:04", "16/05/2026 20:04", "05/16/2026 20:04"


def test_an_order_that_cannot_be_told_is_an_error_with_both_readings_and_the_option():
    with pytest.raises(InputError) as error:
        judged({"time_utc": "2026-05-16 20:04"}, {"time_utc": AMBIGUOUS})
    assert str(error.value) == (
        "may.csv, line 3: '03/05/2026 20:04' may be 3 May 2026 or 5 March 2026, and no other date of the file tells "
        "which; choose with day_first=True or False."
    )


@pytest.mark.parametrize(("day_first", "month"), [(True, 5), (False, 3)])
def test_the_option_decides(day_first, month):
    vetted = judged({"time_utc": AMBIGUOUS}, options=Options(day_first=day_first))
    assert vetted.spots["time_utc"].iloc[0].month == month
    assert said(vetted) == []


@pytest.mark.parametrize(("telling", "month", "order"), [(DAY_ONLY, 5, "day first"), (MONTH_ONLY, 3, "month first")])
def test_a_file_that_can_have_one_order_only_has_it(telling, month, order):
    vetted = judged({"time_utc": AMBIGUOUS}, {"time_utc": telling})
    assert vetted.spots["time_utc"].iloc[0].month == month
    assert said(vetted) == [(3, "time-order-told", "note")]
    assert told(vetted)[0] == (f"'{telling}' can only be {order}, so all dates of this file are read {order}.")


def test_no_order_is_needed_where_every_date_can_be_read_one_way_only():
    assert said(judged({"time_utc": DAY_ONLY})) == []
    assert said(judged({"time_utc": "32/13/2026 20:04"})) == [(2, "time-impossible", "rejected")]


def test_each_file_has_its_own_order():
    vetted = judged(
        {"time_utc": AMBIGUOUS, "source": "eu.csv"},
        {"time_utc": DAY_ONLY, "source": "eu.csv"},
        {"time_utc": AMBIGUOUS, "source": "us.csv"},
        {"time_utc": MONTH_ONLY, "source": "us.csv", "rx_call": "F5QSA"},
        {"time_utc": "2026-05-16 20:04+01:00", "source": "us.csv"},
        {"time_utc": "x", "source": "us.csv"},
    )
    assert vetted.spots["time_utc"].dt.month.tolist() == [5, 5, 3, 5, 5]
    assert said(vetted) == [
        (3, "time-order-told", "note"),
        (5, "time-order-told", "note"),
        (6, "time-offset", "note"),
        (7, "time-unreadable", "rejected"),
    ]
    with pytest.raises(InputError, match=r"us\.csv, line 4"):
        judged(*[{"time_utc": text, "source": source} for text, source in (
            (AMBIGUOUS, "eu.csv"), (DAY_ONLY, "eu.csv"), (AMBIGUOUS, "us.csv"))])  # fmt: skip


def test_a_file_of_both_orders_is_an_error_until_one_is_chosen():
    rows = {"time_utc": MONTH_ONLY}, {"time_utc": DAY_ONLY}
    with pytest.raises(InputError, match=r"line 3: '16/05/2026 20:04' can only be day first, but '05/16/.*' on line 2"):
        judged(*rows)
    assert said(judged(*rows, options=Options(day_first=True))) == [(2, "time-impossible", "rejected")]


# -------------------------------------------------------------------------------------------------------- conservation

NASTY = st.one_of(
    st.sampled_from(
        ["", " ", "x", "-12", "599", "20m", "14.1", "7028", "JN58td", "JN58", "JNO8td", "DL2QTC", "?", "0"]
    ),
    st.sampled_from(["2026-05-16 20:04", "16/05/2026 20:04", "2026-05-16T20:04+02:00", "1778961600", "20:04", "Time"]),
    st.text(max_size=8),
    st.none(),
)
COLUMNS = [*SOUND, "freq", "freq_khz", "freq_mhz", "mode", "tx_call", "tx_locator", "power_w", "power_dbm", "setup"]
ROW = st.fixed_dictionaries(
    {}, optional={name: st.one_of(NASTY, st.just(SOUND.get(name, ""))) for name in COLUMNS}
    | {"fault": st.sampled_from(["row-length 2 5", None]), "source": st.sampled_from(["a.csv", "b.csv"])},
)  # fmt: skip


@given(st.lists(ROW, max_size=12), st.booleans(), st.sampled_from([1, 2, 3]))
def test_every_row_is_accepted_or_rejected_or_a_duplicate_and_what_is_accepted_is_sound(rows, four, region):
    options = Options(four_character_locators=four, itu_region=region, day_first=True)
    vetted = judged(*rows, options=options, station=STATION)
    counts, problems = vetted.counts, vetted.problems
    assert counts.read == len(rows) == counts.accepted + counts.rejected + counts.duplicates
    assert counts.accepted == len(vetted.spots)
    rejected = set(problems.loc[problems["severity"] == "rejected", "line"])
    duplicates = set(problems.loc[problems["rule"].str.startswith("duplicate"), "line"])
    accepted = set(vetted.spots["line"])
    assert (len(accepted), len(rejected), len(duplicates)) == (counts.accepted, counts.rejected, counts.duplicates)
    assert accepted | rejected | duplicates == set(range(2, len(rows) + 2))
    assert problems["line"].is_monotonic_increasing
    assert vetted.spots["line"].is_monotonic_increasing
    _is_sound(vetted.spots, r"[A-R]{2}\d\d([a-x]{2}(\d\d([a-x]{2})?)?)" + ("?" if four else ""))


def _is_sound(spots: pd.DataFrame, locator: str) -> None:
    """What is accepted has all that is needed, within bounds, and knows no category that no row has."""
    needed = ["time_utc", "rx_call", "rx_locator", "snr_db", "band", "tx_call", "tx_locator"]
    assert spots[needed].notna().all(axis=None)
    assert spots["snr_db"].between(-60, 60).all()
    assert spots["time_utc"].between(pd.Timestamp(1990, 1, 1, tz=UTC), pd.Timestamp(NOW)).all()
    assert spots["rx_locator"].astype(str).str.fullmatch(locator).all()
    for name, (dtype, _) in contract.SPOT.items():
        if dtype == "category" and name != "source":
            assert set(spots[name].cat.categories) == set(spots[name].dropna())


@given(st.lists(st.lists(NASTY.map(lambda c: (c or "").replace("\x00", "")), min_size=5, max_size=7), max_size=10))
def test_no_row_of_a_file_is_lost_from_text_to_table(tmp_path_factory, rows):
    """Through a real file: rows of any width, cells with quotes, commas and newlines in them."""
    import csv

    path = tmp_path_factory.mktemp("nasty") / "may.csv"
    with path.open("w", newline="", encoding="utf-8", errors="replace") as out:
        writer = csv.writer(out, quoting=csv.QUOTE_ALL)
        writer.writerows([["time", "callsign", "locator", "snr", "band", "remarks"], *rows])
    # Said by the user: what columns of rubbish hold cannot be told from them.
    columns = {name: name for name in ("time", "callsign", "locator", "snr", "band")}
    vetted = reach.vet(reach.read(path, columns=columns, day_first=True), options=Options(day_first=True), now=NOW)
    assert vetted.counts.read == len(rows)


# ---------------------------------------------------------------------------------------------------- the front door


@pytest.mark.parametrize(
    "texts",
    [
        ["2026-05-16 20:04", "x", "2026-05-16T22:04+02:00", "1980-01-01 00:00"],
        ["03/05/2026 20:04", "16/05/2026 20:04", "", "2999-01-01 00:00"],
    ],
)
def test_times_that_were_read_already_are_judged_the_same(texts):
    table = raw(*({"time_utc": text, "rx_call": f"G{k}QTA"} for k, text in enumerate(texts)))
    once, again = vet(table, now=NOW), vet(table, now=NOW, moments=times.moments(table))
    pd.testing.assert_frame_equal(once.spots, again.spots)
    pd.testing.assert_frame_equal(once.problems, again.problems)


@pytest.mark.parametrize(("column", "rule"), [("rx_locator", "locator-blank"), ("rx_call", "callsign-blank")])
def test_of_a_file_without_a_column_each_row_is_told_with_blanks_for_it(column, rule):
    vetted = judged({"time_utc": "x"}, {}, drop=(column,))
    assert said(vetted) == [(2, "time-unreadable", "rejected"), (2, rule, "rejected"), (3, rule, "rejected")]
    known = {"rx_call": "DL2QTC", "rx_locator": "JN58td", column: ""}
    assert vetted.problems[["callsign", "locator"]].to_numpy().tolist() == [[known["rx_call"], known["rx_locator"]]] * 3


def test_fixes_are_applied_before_anything_is_judged():
    table = raw({"rx_locator": "JNO8td"}, {"rx_call": "F5QSA"})
    fix = Fix("DL2QTC", "JNO8TD", "JN08td", "line 2")
    vetted = reach.vet(table, now=NOW, fixes=[fix])
    assert vetted.counts == Counts(2, 2, 0, 0) and vetted.problems.empty
    assert vetted.spots["rx_locator"].tolist() == ["JN08td", "JN58td"]
    assert vetted.spots[contract.AS_RECEIVED].tolist()[0] == "JNO8td"
    assert reach.vet(table, now=NOW).counts.rejected == 1


def test_duplicates_cost_no_object_a_row():
    """What is found of them stays in columns of Arrow; the one column of objects holds nothing."""
    table = raw({}, {"snr_db": "-13"})
    many = pd.concat([table] * 50, ignore_index=True)
    found = vet(many, now=NOW).problems
    assert len(found) == 99 and set(found["rule"]) == {"duplicate", "duplicate-conflict"}
    assert [name for name in found if found[name].dtype.kind == "O" and str(found[name].dtype) != "str"] == ["evidence"]
    assert found["evidence"].isna().all()


def test_none_of_what_is_wrong_is_nothing():
    wrong = judged({"snr_db": "loud"}).wrong
    assert len(wrong) == 1 and len(wrong.none()) == 0
    assert list(wrong.none().table.columns) == list(wrong.table.columns)

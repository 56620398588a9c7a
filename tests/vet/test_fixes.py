"""Fixes: written as suggestions, applied exactly as asked, and one sentence for what is wrong."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base.words import TERMINAL
from reach.errors import StudyError
from reach.findings import NoteCode
from reach.place.geometry import place
from reach.study import Station
from reach.suspects import find
from reach.tell.sentences.problems import written
from reach.vet import fixes
from reach.vet.rules import Vetted, vet
from tests.vet.rows import NOW, judged, raw

HEADER = "callsign,locator,suggestion,reason,rows,accept\n"


def read(tmp_path, text: str) -> list[fixes.Fix]:
    path = tmp_path / "fixes.csv"
    path.write_text(text, encoding="utf-8")
    return fixes.read(path)


def test_one_row_a_distinct_claim_with_an_empty_accept():
    vetted = judged({"rx_locator": "JN5Btd"}, {"rx_locator": "JN5Btd"}, {"rx_locator": "JNO8td"}, {})
    table = fixes.suggestions(written(vetted.problems, say=TERMINAL))
    assert list(table.columns) == list(fixes.COLUMNS)
    assert table[["locator", "rows"]].values.tolist() == [["JN5Btd", 2], ["JNO8td", 1]]
    assert (table["accept"] == "").all() and table.index.tolist() == [0, 1]


def test_exactly_what_was_accepted_is_applied(tmp_path):
    text = HEADER + "DL2QTC,JNO8td,JN08td,x,1,yes\nDL2QTC,JN5Btd,JN58td,x,1,\nDL2QTC,JN58td,,x,1,JN58te\n"
    table = raw({"rx_locator": "jno8TD "}, {"rx_locator": "JN5Btd"}, {}, {"rx_call": "F5QTC"})
    fixed, applied = fixes.apply(table, read(tmp_path, text))
    assert fixed["rx_locator"].tolist() == ["JN08td", "JN5Btd", "JN58te", "JN58td"]
    received = fixed[fixes.AS_RECEIVED]
    assert received.dropna().tolist() == ["jno8TD ", "JN58td"] and applied.rows == 2 and not applied.notes
    assert table["rx_locator"].tolist() == [
        "jno8TD ",
        "JN5Btd",
        "JN58td",
        "JN58td",
    ]  # nothing is written into the argument


def test_what_matches_nothing_any_more_is_said(tmp_path):
    _, applied = fixes.apply(raw({}), read(tmp_path, HEADER + "F5QTC,JN18du,,x,1,JN18dv\n"))
    (note,) = applied.notes
    assert applied.rows == 0 and note.code is NoteCode.FIX_WITHOUT_ROW
    assert (note.values["call"], note.values["locator"]) == ("F5QTC", "JN18DU") and "line 2" in note.values["where"]


def test_no_fixes_change_nothing():
    table = raw({})
    same, applied = fixes.apply(table, [])
    assert same is table and (applied.rows, applied.notes) == (0, ())


def test_semicolons_as_spreadsheets_save_them(tmp_path):
    (fix,) = read(tmp_path, HEADER.replace(",", ";") + "DL2QTC;JNO8td;JN08td;x;1;YES\n")
    assert fix.becomes == "JN08td"


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("DL2QTC,JN5,,x,1,yes", "no suggestion to accept"),
        ("DL2QTC,JN5,,x,1,ZZ99zz", "line 2"),
        ("DL2QTC,JN5,,x,1,JN58td\nDL2QTC,JN5,,x,1,JN58te", "earlier row wants JN58td"),
    ],
)
def test_what_is_wrong_is_one_sentence(tmp_path, row, says):
    with pytest.raises(StudyError, match=says) as error:
        read(tmp_path, HEADER + row + "\n")
    assert "fixes.csv" in str(error.value) and "\n" not in str(error.value)


def test_a_file_without_the_columns(tmp_path):
    with pytest.raises(StudyError, match="accept"):
        read(tmp_path, "callsign,locator,suggestion\nA,B,C\n")
    with pytest.raises(StudyError, match="No such file"):
        fixes.read(tmp_path / "none.csv")


def test_suggestions_of_suspects_are_written_too():
    problems = pd.DataFrame(
        [["may.csv", 5, "DL2QTC", "JO58td", "locator-suspect", "suspect", "why", "JN58td"]],
        columns=["source", "line", "callsign", "locator", "rule", "severity", "explanation", "suggestion"],
    )
    assert fixes.suggestions(problems)["suggestion"].tolist() == ["JN58td"]


def test_a_blank_locator_can_be_filled_in(tmp_path):
    table = raw({"rx_locator": ""}, {"rx_locator": None}, {})
    fixed, applied = fixes.apply(table, read(tmp_path, HEADER + "DL2QTC,,,x,2,JN58td\n"))
    assert fixed["rx_locator"].tolist() == ["JN58td"] * 3 and applied.rows == 2
    assert fixed[fixes.AS_RECEIVED].tolist()[:2] == ["", ""] and fixed[fixes.AS_RECEIVED].isna().tolist()[2]


def test_remarks_are_no_decisions():
    problems = pd.DataFrame(
        [
            ["may.csv", 5, "DL2QTC", "JN58td", "receiver-moved", "note", "why", ""],
            ["may.csv", 6, "DL2QTC", "JN58te", "locator-doubtful", "note", "why", ""],
            ["may.csv", 7, "DL2QTC", "JN58td", "snr-blank", "rejected", "why", ""],
            ["may.csv", 8, "", "JN5Btd", "locator-letter-for-digit", "rejected", "why", "JN58td"],
        ],
        columns=["source", "line", "callsign", "locator", "rule", "severity", "explanation", "suggestion"],
    )
    assert fixes.suggestions(problems).empty


def test_round_trip_from_a_suspect_to_none(tmp_path):
    """Found, written, accepted, applied: the suspect is gone, its locator as received is kept, all rows are there."""
    home = [{"time_utc": f"2026-05-16 20:{k:02}"} for k in range(0, 40, 4)]
    table = raw(*home, {"time_utc": "2026-05-16 20:41", "rx_locator": "jo58TD"})
    station = Station(locator="IO51es")

    def look(rows: pd.DataFrame) -> tuple[Vetted, find.Doubts]:
        vetted = vet(rows, station=station, now=NOW)
        return vetted, find.find(place(vetted.spots))

    vetted, found = look(table)
    asked = fixes.suggestions(written(pd.concat([vetted.problems, found.problems]), say=TERMINAL))
    assert asked["suggestion"].tolist() == ["JN58td"] and asked["rows"].tolist() == [1]
    asked.assign(accept="yes").to_csv(tmp_path / "fixes.csv", index=False)
    fixed, applied = fixes.apply(table, fixes.read(tmp_path / "fixes.csv"))
    vetted, found = look(fixed)
    assert applied.rows == 1 and found.suspects.empty and vetted.counts.accepted == len(table)
    assert vetted.spots[fixes.AS_RECEIVED].tolist()[-1] == "jo58TD"
    assert vetted.spots[fixes.AS_RECEIVED].isna().tolist() == [True] * 10 + [False]


@given(
    st.lists(
        st.tuples(st.sampled_from(["A1QR", "B1QR"]), st.sampled_from(["JN58td", "jn58TD ", "XX", "", "IO51es"])),
        min_size=1,
        max_size=12,
    )
)
def test_as_one_row_after_the_other_would_do_it(rows):
    asked = [
        fixes.Fix("A1QR", "JN58TD", "JN58te", "a"),
        fixes.Fix("B1QR", "", "IO51es", "b"),
        fixes.Fix("C1QR", "XX", "IO51es", "c"),
    ]
    fixed, applied = fixes.apply(raw(*({"rx_call": call, "rx_locator": name} for call, name in rows)), asked)
    wanted = [
        next((fix.becomes for fix in asked if (fix.call, fix.locator) == (call, name.strip().upper())), name)
        for call, name in rows
    ]
    assert fixed["rx_locator"].tolist() == wanted
    assert applied.rows == sum(new != old for new, (_, old) in zip(wanted, rows, strict=True))
    assert ("C1QR", "c") in {(note.values["call"], note.values["where"]) for note in applied.notes}


def test_every_one_of_several_fixes_is_applied():
    calls = ["A1QR", "B1QR", "C1QR", "D1QR"]
    table = raw(*({"rx_call": call, "rx_locator": "JN58td"} for call in calls))
    asked = [fixes.Fix(call, "JN58TD", f"JN5{k}td", call) for k, call in enumerate(calls)]
    for some in (asked, asked[::-1], asked[:2], asked[2:], asked[1:2]):
        fixed, applied = fixes.apply(table, some)
        becomes = {fix.call: fix.becomes for fix in some}
        assert fixed["rx_locator"].tolist() == [becomes.get(call, "JN58td") for call in calls]
        assert applied.rows == len(some) and not applied.notes


def _decision(callsign: str, locator: str, suggestion: str, accept: str, **more: str) -> dict[str, str]:
    return dict(zip(fixes.COLUMNS, (callsign, locator, suggestion, "", "", accept), strict=True)) | more


def test_a_decision_takes_the_place_of_the_former_about_the_same_and_stands_last():
    """What the user wrote beside the former stays; rows about others stay as they are, and what came in is not written into."""
    kept = [
        _decision("DL1QTB", "JN58TD", "JN58te", "", reason="typed", mine="look again"),
        _decision("DL1QTB", "JN59td", "JN58td", "yes"),
        _decision("F5QTC", "JN58td", "JN18du", "no"),
    ]
    before = [dict(each) for each in kept]
    made = fixes.decided(kept, _decision("dl1qtb", "jn58td", "", "JN58te"))
    assert made == [
        before[1],
        before[2],
        {**before[0], "callsign": "dl1qtb", "locator": "jn58td", "accept": "JN58te"},
    ]
    assert kept == before
    back = fixes.decided(made, _decision("DL1QTB", "JN58td", "", ""))[-1]
    assert back["accept"] == "" and back["mine"] == "look again" and not fixes.is_decided(back)
    assert list(fixes.table(made).columns) == [*fixes.COLUMNS, "mine"]


def test_rows_come_back_as_the_user_keeps_them(tmp_path):
    """With columns of the user's own, and without the apostrophe that keeps a spreadsheet from reckoning."""
    path = tmp_path / "fixes.csv"
    path.write_text(
        "callsign,locator,suggestion,reason,rows,accept,mine\nDL1QTB,JN58TD,JN58te,,3,,'=1+2\n", encoding="utf-8"
    )
    kept = [
        {"callsign": "DL1QTB", "locator": "JN58TD", "suggestion": "JN58te", "reason": "", "rows": "3", "accept": ""}
    ]
    assert fixes.rows(path) == [{**kept[0], "mine": "=1+2"}]


@pytest.mark.parametrize(("suggestion", "accept"), [("JN58te", "JN5"), ("", "yes"), ("", "Y"), ("JN58te", "58JNte")])
def test_a_decision_for_what_is_no_locator_is_refused(suggestion, accept):
    with pytest.raises(StudyError):
        fixes.decided([], _decision("DL1QTB", "JN58td", suggestion, accept))


@pytest.mark.parametrize("accept", ["", "no", "N", "yes", "YES", "y", "JN58te", "JN58"])
def test_a_decision_for_a_locator_is_kept(accept):
    (row,) = fixes.decided([], _decision("DL1QTB", "JN58td", "JN58te", accept))
    assert row["accept"] == accept and "reason" not in row

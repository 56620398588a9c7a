"""Who can serve as a control: near, and heard by the same receivers at the same times on the same bands."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach.base.words import TERMINAL
from reach.compare import control
from reach.compare.control import Suits
from reach.findings import Note, NoteCode
from reach.tell.sentences import notes

HOME, NEAR, FAR = "IO51es", "IO51rv", "JN58td"


def heard(locator, receivers=8, minutes=range(0, 120, 10), band="20m"):
    """Every receiver at each of these minutes."""
    minute, call = np.meshgrid(list(minutes), [f"G{k}QRA" for k in range(receivers)])
    time = pd.Timestamp("2026-05-09 19:02", tz="UTC") + pd.to_timedelta(minute.ravel(), unit="min")
    return pd.DataFrame(
        {"time_utc": time, "rx_call": pd.Categorical(call.ravel()), "band": pd.Categorical([band] * minute.size),
         "rx_locator": pd.Categorical(["IO91aa"] * minute.size), "tx_locator": pd.Categorical([locator] * minute.size)}
    )  # fmt: skip


OURS = heard(HOME)


def one(theirs):
    (found,) = control.neighbours(OURS, {"EI9QUC": theirs})
    return found


def test_a_neighbour_that_the_same_receivers_heard_is_offered():
    found = one(heard(NEAR, minutes=range(4, 124, 10)))
    assert (found.fit, found.receivers, found.reports) == (Suits.GOOD, 8, 96)
    # IO51es to IO51rv: 1 degree 5' of longitude, 7.5' of latitude: on a sphere 75.6 km by the haversine formula.
    assert found.distance_km == pytest.approx(75.6, abs=0.5)


@pytest.mark.parametrize(
    ("theirs", "fit"),
    [
        (heard(FAR), Suits.FAR),
        (heard(NEAR, receivers=4), Suits.CHECK),
        (heard(NEAR, band="40m"), Suits.FEW),
        (heard(NEAR, minutes=range(300, 420, 10)), Suits.FEW),
        (heard("??"), Suits.NO_PLACE),
    ],
)
def test_others_are_not(theirs, fit):
    assert one(theirs).fit == fit


@pytest.mark.parametrize(("square", "fit"), [("IO63so", Suits.GOOD), ("IO63xk", Suits.FAR)])
def test_beyond_300_km_the_band_is_another(square, fit):
    """From IO51es, by the haversine formula on a sphere: IO63so 295.1 km, IO63xk 304.7."""
    found = one(heard(square))
    assert found.fit == fit


def test_who_stands_nowhere_is_told_apart():
    """Theirs is looked for among those who heard as well; where this station's own is what is missing that is said."""
    there = heard("??")
    ours = OURS.assign(
        rx_locator=NEAR, rx_call=OURS["rx_call"].astype(object).where(OURS["rx_call"] != "G0QRA", "EI9QUC")
    )
    (found,) = control.neighbours(ours, {"EI9QUC": there})
    assert (found.fit, round(found.distance_km)) == (Suits.GOOD, 76)
    (found,) = control.neighbours(heard("??"), {"EI9QUC": heard(NEAR)})
    assert found.fit == Suits.NO_HOME
    values = {"direction": "sent", "rows": 9, "calls": {"EI9QUC": 9}, "controls": [found.to_dict()]}
    said = notes.note(Note(NoteCode.OTHERS_SET_ASIDE, values), TERMINAL)
    assert said.endswith("EI9QUC cannot serve as a control: where this station itself stood is not known.")


def test_the_best_comes_first_and_the_note_says_how_or_why_not():
    found = control.neighbours(OURS, {"DL1QTC": heard(FAR), "EI9QUC": heard(NEAR, 6), "EI3QTD": heard(NEAR)})
    assert [each.call for each in found] == ["EI3QTD", "EI9QUC", "DL1QTC"]

    def said(offered):
        values = {
            "direction": "sent",
            "rows": 9,
            "calls": {"EI3QTD": 9},
            "controls": [each.to_dict() for each in offered],
        }
        return notes.note(Note(NoteCode.OTHERS_SET_ASIDE, values), TERMINAL)

    assert "EI3QTD, 76 km away and heard by 8 receivers within ten minutes" in said(found)
    assert "(so can EI9QUC): `--control EI3QTD`." in said(found)
    assert "DL1QTC cannot serve as a control: DL1QTC is 1,570 km away" in said(found[2:])
    assert "it can check a comparison (`--control A1QRA`)" in said(control.neighbours(OURS, {"A1QRA": heard(NEAR, 3)}))
    late = heard(NEAR, minutes=range(300, 420, 10))
    assert "None of them" in said(control.neighbours(OURS, {"A1QRA": late, "A2QRA": late}))
    assert "not known" in said(control.neighbours(OURS, {"A1QRA": heard("??")}))


@pytest.mark.parametrize(
    ("receivers", "reports_each", "fit"),
    [(5, 4, Suits.GOOD), (4, 5, Suits.CHECK), (5, 3, Suits.FEW), (20, 1, Suits.GOOD), (19, 1, Suits.FEW)],
)
def test_five_receivers_in_common_and_twenty_reports_beside_ours_are_enough(receivers, reports_each, fit):
    ours = heard(HOME, receivers=20)
    (found,) = control.neighbours(ours, {"EI9QUC": heard(NEAR, receivers, range(0, 10 * reports_each, 10))})
    assert (found.fit, found.receivers, found.reports) == (fit, receivers, receivers * reports_each)


def test_reports_at_other_receivers_at_the_same_times_can_check_and_no_more():
    """Twenty beside ours on the band, of which nineteen at receivers of ours."""
    theirs = heard(NEAR, receivers=5, minutes=range(0, 40, 10))
    one_elsewhere = theirs.assign(rx_call=np.where(np.arange(20) == 0, "M9QRA", theirs["rx_call"].astype(object)))
    (found,) = control.neighbours(OURS, {"EI9QUC": one_elsewhere})
    assert (found.fit, found.receivers, found.reports) == (Suits.CHECK, 5, 19)


@pytest.mark.parametrize(("minute", "beside"), [(0, 0), (1, 8), (10, 8), (11, 0)])
def test_beside_is_within_the_same_ten_minutes_of_the_clock(minute, beside):
    """Ours at 19:12, theirs 19:09 to 19:20: both in the stretch that begins at 19:10."""
    ours, theirs = heard(HOME, minutes=[10]), heard(NEAR, minutes=[minute])
    theirs = theirs.assign(time_utc=theirs["time_utc"] + pd.Timedelta(minutes=7))
    (found,) = control.neighbours(ours, {"EI9QUC": theirs})
    assert found.reports == beside and found.fit == Suits.FEW


def test_of_those_that_fit_the_one_with_more_receivers_then_more_reports_then_the_first_by_name_comes_first():
    twelve, eight = range(0, 120, 10), range(0, 80, 10)
    given = {
        "D": heard(NEAR, 3),
        "C": heard(NEAR, 6, eight),
        "B": heard(NEAR, 6, twelve),
        "A": heard(NEAR, 6, twelve),
        "E": heard(FAR, 8),
        "F": heard(NEAR, 8),
    }
    assert [each.call for each in control.neighbours(OURS, given)] == ["F", "A", "B", "C", "D", "E"]


def test_a_place_is_the_locator_that_most_reports_name_and_that_is_sound():
    names = ["??"] * 3 + ["IO51es"] * 2 + ["JN58td"]
    # IO51es: from 20 W and 50 N on 8 fields of 2 degrees less, i.e. 10 W, 51 N; 4 and 18 subsquares of 5' and 2.5', and half of one.
    assert control.position(pd.Series(names)) == pytest.approx((-10 + 4.5 / 12, 51 + 18.5 / 24))
    assert control.position(pd.Series(["??", None])) is None and control.position(pd.Series([], dtype=object)) is None

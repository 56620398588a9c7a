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

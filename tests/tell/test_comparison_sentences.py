"""A comparison in words: every code has its sentence in every typography, and numbers are written by one rule."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import pytest

from reach.assign.clock import Clock
from reach.assign.powers import Told
from reach.base.words import PRINT, TERMINAL
from reach.compare.comparison import (
    BREAKDOWNS,
    CODES,
    Caution,
    Cell,
    Design,
    DesignKind,
    Estimate,
    Gap,
    IntervalFor,
    LeftOut,
    Method,
    NextStep,
    Note,
    Refused,
    Remark,
    Verdict,
)
from reach.tell.sentences import comparison as sentences
from tests import factory

SILENT = (Told.GIVEN,)
FOUND = factory.comparison(factory.result().receivers)
REFUSED = factory.comparison(factory.result().receivers, told=False)
BOTH = pytest.mark.parametrize("say", [TERMINAL, PRINT], ids=["terminal", "print"])
FIT = {
    "slot_min": 2.0, "outside": 0.2, "first_utc": "2026-05-16T18:00Z", "last_utc": "2026-05-16T23:58Z",
    "schedule_first_utc": "2026-05-16T18:00Z", "schedule_last_utc": "2026-05-17T00:00Z", "shift_min": -10.0, "within_min": 2.0,
    "other_min": 10.0, "outside_shifted": 0.01, "by": "steps",
}  # fmt: skip
POWER = {
    "at": "radio",
    "line_db": 0.0,
    "difference_db": 6.99,
    "a_w": 5.0,
    "b_w": 1.0,
    "radio_a_w": 5.0,
    "radio_b_w": 1.0,
}
DOUBT = {"study_a_w": 5.0, "study_b_w": 1.0, "rows_a_w": 5.0, "rows_b_w": 5.0, "study_db": 6.99, "rows_db": 0.0}
# What each code comes with, as its enumeration lists it; a code that is not here has no values.
VALUES: dict[Any, dict[str, Any]] = {
    Refused.ONE_UNHEARD: {"silent": "b"},
    Refused.NO_COMMON_BAND: {"naive_db": -1.26},
    Refused.TOO_FEW_STRETCHES: {"stretches_a": 1, "stretches_b": 2, "needed": 3, "naive_db": 1234.5},
    Refused.CHANGED_TOO_SLOWLY: {"period_min": 1440.0, "slowest_min": 90.0, "naive_db": 1.0},
    Refused.TOO_LITTLE: {
        "receivers": 2, "receivers_needed": 3, "pairs": 1480, "pairs_needed": 20, "times": 1.26, "times_needed": 4.0,
    },
    Refused.AT_DECODING_LIMIT: {"kept": 0.184, "slope": 0.666, "saturated": True},
    Refused.ONE_RECEIVER: {"rx_call": "EI2QSU", "square": "IO51", "verdict": "a better", "without": "cannot tell"},
    NextStep.GO_ON: {"hours": 12.4, "wanted_db": 1.0, "shorter_blocks": True},
    NextStep.AT_THIS_PACE: {"hours": 45.7},
    NextStep.FEWER_BANDS: {"bands": 13, "return_min": 260.0, "within_min": 240.0},
    NextStep.CONTROL: {"days_each": 3},
    NextStep.HOURS: {"hours": 6.07, "wanted_db": 1.0},
    Caution.NEAR_LIMIT: {"kept": 0.5, "saturated": False},
    Caution.FADING_DIFFERS: {"ratio": 0.76},
    Caution.FEW_RECEIVERS: {"receivers": 4.44},
    Caution.HEAVY_RECEIVER: {
        "rx_call": "EI2QSU", "square": "IO51", "weight": 0.31, "reports": 0.452, "too_little_without": True,
    },
    Caution.HEARD_ALONE: {"more": "a"},
    Caution.CONTROL_DIFFERS: {"difference_db": -2.34},
    Caution.CONTROL_APART: {"name": "EI8QUE", "difference_db": -7.2, "left_out": True},
    Caution.DAYS_COUNT: {"half_width_db": 5.37, "days": 10, "quick_db": 0.56},
    Note.SATURATED: {"ceiling_db": -1.0},
    Note.REPEATED: {"share": 0.151},
    Note.NO_PLACE: {"reports": 12345},
    Gap.WRONG_LOCATOR: {"error": "'ZZ99' is no locator"},
    Refused.CLOCK: {"code": "shifted", **FIT},
    Refused.POWER: {"told": "study-and-rows-disagree", **DOUBT},
    NextStep.SETTLE_CLOCK: {"shift_min": -10.0, "other_min": 10.0},
    **{code: {"code": code, **FIT} for code in Clock},
    **dict.fromkeys(Told, POWER),
    Told.ROWS_EQUAL: {**POWER, "difference_db": 0.0, "b_w": 5.0, "radio_b_w": 5.0},
    Told.DISAGREE: DOUBT,
    Told.ONE_ONLY: {"known": "vertical", "blank": 0.4},
    Method.TIME_BINS: {"step_min": 30.0},
    Method.BESIDE_ONE: {"name": "EI9QUC"},
    Method.WITHOUT: {"rx_call": "EI2QSU", "square": "IO51"},
}  # fmt: skip
# A difference in power that the user named, or that nobody heard both setups of, is told by its number and no sentence.
ALL_CODES = [code for codes in CODES for code in codes if code not in SILENT]


def _flawless(text: str, say: Any) -> None:
    """One medium's characters only, nothing left to fill in, no programmer's words."""
    assert text and text == text.strip() and "  " not in text
    assert not re.search(r"\{|\}|None|nan|True|False|inf\b", text), text
    if say is TERMINAL:
        assert text.isascii(), text
    else:
        assert "`" not in text and "+-" not in text and "+/-" not in text
        typed = re.sub(r"--[\w-]+ -?\d+", "", text)  # what is typed on a command line is spelled as it is typed
        assert not re.search(r"(?<![\w-])-\d|\d,\d{3}", typed), text  # no hyphen for a minus, no comma between digits


@BOTH
@pytest.mark.parametrize("code", ALL_CODES)
def test_every_code_has_a_sentence(code, say):
    text = sentences.remark(Remark(code, VALUES.get(code, {})), FOUND, say=say)
    _flawless(text, say)
    if not isinstance(code, Gap):  # those stand in a list
        assert text.endswith(".")
    follows = isinstance(code, Refused | Gap) or code in (Told.DISAGREE, Told.ONE_ONLY)  # behind "Cannot tell: "
    assert text[0].islower() == follows or text.startswith(FOUND.a)


@BOTH
def test_every_sentence_stands_in_what_is_told_and_in_json(say):
    """All codes at once in one comparison: none is lost on the way to terminal, page and JSON."""
    by_kind = {
        name: tuple(Remark(code, VALUES.get(code, {})) for code in codes)
        for name, codes in (("next_steps", NextStep), ("warnings", Caution), ("notes", Note))
    }
    full = replace(FOUND, **by_kind)
    said = sentences.everything(full, say=say)
    for one in (*full.next_steps, *full.warnings, *full.notes):
        assert sentences.remark(one, full, say=say) in said
    refused = replace(REFUSED, reasons=tuple(Remark(code, VALUES.get(code, {})) for code in Refused))
    for one in refused.reasons:
        assert sentences.remark(one, refused, say=say) in sentences.headline(refused, say=say)


@BOTH
@pytest.mark.parametrize("method", list(Method))
def test_every_method_and_reason_for_leaving_out_has_words(method, say):
    each = Estimate(method, -0.04, -1.0, 0.92, VALUES.get(method, {}))
    _flawless(sentences.method(each, FOUND, say=say), say)
    assert (sentences.caveat(each, FOUND) == "") == (method == Method.WITHOUT)
    for why in LeftOut:
        _flawless(sentences.left_out(why, FOUND), say)


def test_codes_of_different_kinds_never_share_a_text():
    """They are keys of one catalogue, and text enumerations are equal where their texts are."""
    assert len(set(map(str, ALL_CODES))) == len(ALL_CODES)


def test_the_catalogue_holds_no_sentence_for_a_code_that_is_gone():
    assert set(sentences._REMARKS) == {*ALL_CODES, *SILENT}
    assert set(sentences._METHODS) == set(Method) and set(sentences._LEFT_OUT) == set(LeftOut)


# -- the finding


def _said(say=TERMINAL, **changes) -> str:
    values = {"pairs": 412, "receivers": 61, "blocks": 24, **changes}
    return sentences.headline(replace(FOUND, **values), say=say)


def test_the_headline_says_effect_interval_evidence():
    assert _said(verdict=Verdict.A_BETTER, difference_db=2.4, low_db=1.6, high_db=3.2) == (
        "vertical was 2.4 dB stronger than wire (95 % interval 1.6 to 3.2 dB; 412 pairs at 61 receivers in 24 blocks)."
    )
    assert _said(verdict=Verdict.B_BETTER, difference_db=-2.4, low_db=-3.2, high_db=-1.6).startswith(
        "wire was 2.4 dB stronger than vertical (95 % interval 1.6 to 3.2 dB"
    )
    assert _said(verdict=Verdict.NO_CLEAR_DIFFERENCE, difference_db=-0.2, low_db=-0.9, high_db=0.6) == (
        "No clear difference between vertical and wire: 0.9 dB in favour of wire to 0.6 dB in favour of vertical "
        "(95 % interval; 412 pairs at 61 receivers in 24 blocks)."
    )


def test_a_small_but_certain_difference_does_not_read_as_none():
    assert "0.04 dB stronger" in _said(verdict=Verdict.A_BETTER, difference_db=0.04, low_db=0.01, high_db=0.07)


def test_what_it_rests_on_is_named_as_it_was():
    design = Design(DesignKind.SIMULTANEOUS, 2.0, 12.0, 9, 9, 1.0, 3.0, 1, "", "", "tx_call")
    assert _said(design=design).endswith("in 24 slots).")
    days = _said(interval_for=IntervalFor.DAYS, blocks=10, spots=12345)
    assert "12,345 reports at 61 receivers on 10 days" in days
    assert "1 pair at 1 receiver in 1 block)" in _said(pairs=1, receivers=1, blocks=1)


def test_the_title_of_a_picture_is_the_headline_without_its_evidence():
    for verdict, name in ((Verdict.A_BETTER, "vertical (20 m) v. 2"), (Verdict.NO_CLEAR_DIFFERENCE, "a (b); c.")):
        found = replace(FOUND, verdict=verdict, a=name)
        short, whole = sentences.short(found, say=PRINT), sentences.headline(found, say=PRINT)
        assert whole.startswith(f"{short} (95")
        assert name in short  # brackets and semicolons of a name do not cut it off
    assert sentences.short(REFUSED, say=PRINT) == "Cannot tell vertical from wire"


def test_print_and_terminal_say_the_same_words():
    """Apart from their characters: taking those back gives the other."""
    full = replace(FOUND, warnings=tuple(Remark(code, VALUES.get(code, {})) for code in Caution), spots=12345)
    back = {PRINT.minus: "-", PRINT.plus_minus: "+/-"}
    for printed, typed in zip(
        sentences.everything(full, say=PRINT), sentences.everything(full, say=TERMINAL), strict=True
    ):
        for theirs, ours in back.items():
            printed = printed.replace(theirs, ours)
        assert re.sub(f"(?<=\\d){PRINT.thousands}(?=\\d{{3}})", ",", printed).replace(PRINT.gap, " ") == re.sub(
            r" \(`[^`]*`\)", "", typed
        )


@pytest.mark.parametrize(("value", "said"), [(-0.3, "-0.3"), (-0.04, "0.0"), (0.04, "0.0"), (2.44, "+2.4")])
def test_what_rounds_to_nothing_has_no_sign(value, said):
    found = replace(FOUND, naive_difference_db=value)
    assert any(text.endswith(f", {said} dB.") for text in sentences.everything(found, say=TERMINAL))


# -- its parts


def test_parts_by_name_and_as_a_sentence_needs_them():
    zone = Cell("zone", "0-1500", 0, 1500, 9, 90, True)
    far = replace(zone, name="3000-20100", start=3000, end=20100)
    assert sentences.part(zone, say=TERMINAL) == "within 1,500 km"
    assert sentences.part(replace(zone, start=1500, end=3000), say=TERMINAL) == "1,500 to 3,000 km"
    assert sentences.part(far, say=PRINT) == f"beyond 3{PRINT.thousands}000{PRINT.gap}km"
    assert sentences.where(Cell("sector", "ENE", 45, 75, 9, 90, True), say=PRINT) == "towards ENE"
    assert sentences.where(Cell("band", "20m", None, None, 9, 90, True), say=PRINT) == "on 20m"
    lit = [Cell("day_night", name, None, None, 9, 90, True) for name in ("day", "night", "twilight")]
    assert [sentences.where(cell, say=PRINT) for cell in lit] == ["by day", "by night", "in twilight"]


def test_parts_that_differ_are_said_the_greatest_first_and_rings_not_again():
    cells = [
        Cell("zone", "0-1500", 0, 1500, 9, 90, True, -2.0, -3.0, -1.0, differs=True),
        Cell("zone", "3000-20100", 3000, 20100, 9, 90, True, 4.1, 3.0, 5.0, differs=True),
        Cell("ring", "0-500", 0, 500, 9, 90, True, -2.0, -3.0, -1.0, differs=True),
        Cell("sector", "E", 75, 105, 9, 90, True, 0.1, -1.0, 1.0),
    ]
    found = replace(FOUND, cells=tuple(cells))
    assert sentences.parts(found, say=TERMINAL) == ("Beyond 3,000 km: 4.1 dB; within 1,500 km: wire by 2.0 dB.",)
    same = replace(found, cells=tuple(replace(cell, differs=False) for cell in cells))
    (text,) = sentences.parts(same, say=TERMINAL)
    assert text == "No distance, direction, band or time of day differs beyond chance (4 parts looked at)."
    assert sentences.parts(replace(found, cells=()), say=TERMINAL) == ()


def test_power_is_said_to_be_part_of_the_result_or_taken_off():
    def power(value: float | None) -> str:
        return " ".join(sentences.everything(replace(FOUND, power_difference_db=value), say=TERMINAL))

    assert "antenna plus power" in power(None)
    assert "No difference in power was taken off" in power(0.004)
    assert "3.0 dB more power at the antenna of vertical has been taken off" in power(3.0)
    assert "0.3 dB more power at the antenna of wire has been taken off" in power(-0.3)


# -- JSON


def test_the_document_has_codes_and_their_words():
    plain = json.loads(json.dumps(sentences.document(FOUND), allow_nan=False))
    assert plain["sentences"] == list(sentences.everything(FOUND, say=TERMINAL))
    assert plain["warnings"] == [
        {
            "code": "heavy-receiver",
            "values": dict(FOUND.warnings[0].values),
            "text": sentences.remark(FOUND.warnings[0], FOUND, say=TERMINAL),
        }
    ]
    assert plain["sensitivity"][0]["method"] == "signed-ranks" and "signed ranks" in plain["sensitivity"][0]["text"]
    assert plain["without"]["text"] == "Without G4QRA (IO91)" and plain["control"] is None
    assert [cell["label"] for cell in plain["cells"]][:3] == ["20m", "within 1,500 km", "beyond 3,000 km"]
    assert {cell["by"] for cell in plain["cells"]} <= set(BREAKDOWNS)
    assert plain["left_out"] == {"no-setup": 12} and plain["verdict"] == "a better"
    assert plain["design"]["kind"] == "alternating"


# -- honest headlines


def test_a_wide_interval_leads_and_its_middle_is_no_headline():
    found = replace(FOUND, verdict=Verdict.A_BETTER, difference_db=6.5, low_db=1.0, high_db=12.0)
    assert sentences.short(found, say=TERMINAL) == f"{FOUND.a} was 1.0 to 12.0 dB stronger than {FOUND.b}"
    assert sentences.headline(found, say=TERMINAL).startswith(
        f"{FOUND.a} was 1.0 to 12.0 dB stronger than {FOUND.b} (95 % interval, its middle 6.5 dB; "
    )
    narrow = replace(found, low_db=3.6, high_db=9.4)
    assert sentences.short(narrow, say=TERMINAL) == f"{FOUND.a} was 6.5 dB stronger than {FOUND.b}"


@BOTH
@pytest.mark.parametrize("near", [0.04, 0.004])
def test_a_limit_beside_better_never_reads_as_none(near, say):
    found = replace(FOUND, verdict=Verdict.A_BETTER, difference_db=1.0, low_db=near, high_db=2.0)
    assert f"{near} to 2.0" in sentences.headline(found, say=say)
    assert say.limits(-near, 2.0).startswith(f"{say.minus}{near} to +2.0")
    assert say.limits(0.0, 2.0).startswith("0.0 to")


def test_both_at_the_antenna_and_as_installed_where_the_cables_differ():
    at = Remark(Told.STUDY, {**POWER, "at": "antenna", "line_db": -0.8})
    found = replace(FOUND, difference_db=2.0, low_db=1.0, high_db=3.0, power=at)
    said = " ".join(sentences.power(found, say=TERMINAL))
    assert "That is at the antenna" in said
    assert (
        f"As installed, cables and matches included, it is +1.2 dB (+0.2 to +2.2 dB; {FOUND.a} minus {FOUND.b})" in said
    )
    same = replace(found, power=Remark(Told.STUDY, {**POWER, "at": "antenna", "line_db": 0.01}))
    assert "installed" not in " ".join(sentences.power(same, say=TERMINAL))


# -- bands

LACKS = {"receivers": 38, "receivers_needed": 3, "pairs": 295, "pairs_needed": 20, "times": 3.98, "times_needed": 4.0}


def _band(**how: Any) -> Cell:
    return Cell("band", "20m", None, None, 38, 295, how.get("difference_db") is not None, **how)


@BOTH
def test_a_band_has_its_own_sentence(say):
    told = {"difference_db": 2.1, "low_db": 1.4, "high_db": 2.8, "sidak_low_db": 1.2, "sidak_high_db": 3.0}
    better = _band(**told, verdict=Verdict.A_BETTER)
    unclear = _band(**{**told, "sidak_low_db": -0.04}, verdict=Verdict.NO_CLEAR_DIFFERENCE)
    found = replace(FOUND, cells=(better, unclear))
    one, other = sentences.by_band(found, say=say)
    gap = say.gap
    assert one == f"20m: {FOUND.a} was 2.1{gap}dB stronger (1.2 to 3.0{gap}dB, 295 pairs at 38 receivers)."
    assert f"0.04{gap}dB in favour of {FOUND.b} to 3.0{gap}dB in favour of {FOUND.a}" in other
    for text in (one, other):
        _flawless(text, say)
        assert text in sentences.everything(found, say=say)


@BOTH
@pytest.mark.parametrize(
    ("hours", "longer"),
    [(0.004, "about 10 minutes"), (0.7, "about 50 minutes"), (2.2, "about 2.5 hours"), (6.9, "about 7 hours")],
)
def test_a_band_without_a_verdict_says_what_is_short_and_how_long_it_takes(hours, longer, say):
    """What is there never reads like what is needed."""
    cell = _band(verdict=Verdict.CANNOT_TELL, reason=Remark(Refused.TOO_LITTLE, LACKS), more_hours=hours)
    text = sentences.band(cell, FOUND, say=say)
    _flawless(text, say)
    assert text == (
        "cannot tell: needs 4 independent stretches of time (has 3.9); "
        f"{longer} more on 20m with both setups in turn should do."
    )


def test_a_band_that_heard_one_setup_says_which_is_missing():
    cell = _band(verdict=Verdict.CANNOT_TELL, reason=Remark(Refused.ONE_UNHEARD, {"silent": "b"}))
    assert sentences.band(cell, FOUND, say=TERMINAL) == f"cannot tell: {FOUND.b} was never heard there."


def test_bands_in_turn_are_said_as_they_were_gone_through():
    design = replace(FOUND.design, period_min=10.0, bands=9, stay_min=20.0, return_min=180.0)
    said = " ".join(sentences.everything(replace(FOUND, design=design), say=TERMINAL))
    assert "a change every 10 minutes" in said
    assert "You went through 9 bands, 20 minutes each, so each band was heard every 3 hours." in said

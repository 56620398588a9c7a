"""Every sentence that says how something is given: an option at the command line, a field at the desk, words alone on a page."""

from __future__ import annotations

import re

import pytest

from reach import cli
from reach.assign.clock import SESSIONS
from reach.base.words import DESK, LIBRARY, PRINT, TERMINAL
from reach.compare.comparison import Caution, NextStep, Refused
from reach.compare.comparison import Remark as Compared
from reach.compare.control import Suits
from reach.compare.season import found as weeks
from reach.findings import Note, NoteCode
from reach.tell.sentences import clock, comparison, notes, season
from tests.tell.test_comparison_sentences import ALL_CODES, FIT, FOUND, VALUES

TYPED = re.compile(r"--[a-z]|\breach (?:" + "|".join(cli.COMMANDS) + r")\b|power_w|\[compare\]")
SCREENS = re.compile(r" on (?:Files|Station and setups|Who was on when|Controls and weeks)\b|study\.toml")
OTHERS = {"direction": "sent", "rows": 9, "calls": {"EI9QUC": 9}}
OFFERED = [
    {**OTHERS, "controls": [{"call": "EI9QUC", "fit": fit, "distance_km": 34.0, "receivers": 41, "reports": 300}]}
    for fit in Suits
]
# What each note comes with, more than once where it says several things.
NOTES = {
    NoteCode.OUTSIDE_SESSIONS: [{"spots": 3}],
    NoteCode.STATION_TAKEN: [{"direction": way, "call": "EI4QTB", "rows": 3} for way in ("sent", "heard")],
    NoteCode.OTHERS_SET_ASIDE: [OTHERS, {**OTHERS, "direction": "heard"}, *OFFERED],
    NoteCode.OPPOSITE_SET_ASIDE: [{"direction": way, "rows": 2} for way in ("sent", "heard")],
    NoteCode.ENDS_TURNED: [{"file": "log.csv", "tx_hz": 3.0, "rx_hz": 900.0}],
    NoteCode.MANY_REJECTED: [{"rows": 40, "of": 90, "rules": {"locator-four-characters": 40}}],
    NoteCode.NOT_ASKED: [{"rows": 4, "start": "2026-05-16", "bands": ["20m"]}],
    NoteCode.ONE_PATH: [{"direction": way, "call": "EI4QTB"} for way in ("sent", "heard")],
    NoteCode.STATION_MOVED: [{"locators": {"IO51ro": 4, "IO52aa": 2}}],
    NoteCode.SCHEDULE: [{"code": "shifted", "values": FIT}],
    NoteCode.CLOCK_BEHIND: [{"now": "2026-05-16 18:00", "newest": "2026-06-01 18:00"}],
    NoteCode.FUTURE: [{"ahead_min": 40.0, "by_min": 45.0}],
    NoteCode.WRONG_LIGHT: [{"wrong": 0.6, "after_h": 2, "after": 0.1}],
    NoteCode.MANY_SUSPECTS: [{"suspects": 2_000, "searched": 1_000}],
    NoteCode.CONTROL_READ: [
        {"file": "near.csv", "counts": {"read": 3, "accepted": 3, "rejected": 0, "duplicates": 0, "set_aside": 0}}
    ],
    NoteCode.FIX_WITHOUT_ROW: [{"where": "fixes.csv, line 2", "call": "EI9QUC", "locator": "IO51ro"}],
}
WEEKS = weeks.Season("EI4QTB", "sent", (), ())
STRONG = {"week_db": 2.0, "usual_db": 3.0, "strong": True}
SETTLE = {
    "clock": {"shift_min": -10.0, "other_min": 10.0},
    "clock alone": {},
    "clock of sessions": {"shift_min": -10.0, "told_by": SESSIONS},
}


def every(say):
    """What each sentence is called, and the sentence."""
    for code in ALL_CODES:
        yield str(code), comparison.remark(Compared(code, VALUES.get(code, {})), FOUND, say=say)
    for name, values in SETTLE.items():
        yield name, clock.settle(values, say=say)
    for code, several in NOTES.items():
        for values in several:
            yield f"{code} {values}", notes.note(Note(code, values), say)
    yield "season", season.refused(weeks.Said(weeks.Refused.NO_CONTROL, STRONG), WEEKS, say=say)


def test_no_code_is_left_out():
    assert set(NOTES) == set(NoteCode) and {*Refused, *NextStep, *Caution} <= set(ALL_CODES)


@pytest.mark.parametrize("say", [PRINT, DESK, LIBRARY], ids=["page", "desk", "library"])
def test_only_the_command_line_is_told_of_options_and_commands(say):
    found = {name: text for name, text in every(say) if TYPED.search(text) and not (say is LIBRARY and "_w=" in text)}
    assert not found


@pytest.mark.parametrize("say", [PRINT, TERMINAL, LIBRARY], ids=["page", "command line", "library"])
def test_only_the_desk_is_told_of_its_screens(say):
    assert not {name: text for name, text in every(say) if SCREENS.search(text)}


def test_what_is_given_with_an_option_at_the_command_line_is_given_on_a_screen_at_the_desk():
    typed = {name for name, text in every(TERMINAL) if TYPED.search(text)}
    shown = {name for name, text in every(DESK) if SCREENS.search(text)}
    assert typed == shown and len(typed) > 10


def test_the_words_come_first_and_the_way_behind_them():
    """A page says what to do; the command line says the same, and how."""
    bare = dict(every(PRINT))
    steps = [str(NextStep.ALTERNATE), str(NextStep.CONTROL), "clock", "clock alone", "clock of sessions", "season"]
    for say in (TERMINAL, DESK, LIBRARY):
        for name, text in every(say):
            if name in steps:
                without = re.sub(r" \((?:[^()]|\([^()]*\))*\)", "", text)
                page = re.sub(r" \([^()]*\)", "", bare[name])
                assert without.replace("-", PRINT.minus) == page.replace(PRINT.gap, " ").replace("-", PRINT.minus)
                assert without != text

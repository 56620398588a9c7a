"""How what a sentence asks for is given: an option of the command line, an argument of the library, a field on a screen of the desk.

A sentence is made where nobody knows who will read it, so it holds a mark, `asked("column", "snr", "HEADER")`, in whose place `said`
puts the words of one medium. `ReachError` and the questions about a file do so; `WAYS` is the only place where these words stand.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final


class Medium(StrEnum):
    """Who reads a sentence."""

    OPTION = "option"  # at the command line
    ARGUMENT = "argument"  # who calls the library
    SCREEN = "screen"  # at the desk


# Columns that a user may name, as `study.toml` calls them -> what they hold.
COLUMNS: Final[Mapping[str, str]] = {
    "time": "time", "callsign": "receiver's callsign", "locator": "receiver's locator", "snr": "SNR",
    "frequency": "frequency", "band": "band", "power": "power", "transmitter": "transmitter's callsign",
    "transmitter_locator": "transmitter's locator", "setup": "setup", "session": "session",
}  # fmt: skip
SOME_HEADER: Final = "HEADER"
_BEGIN, _BETWEEN, _END = "\ufdd0", "\ufdd1", "\ufdd2"  # characters that no text may hold, by Unicode's rule
_MARK: Final = re.compile(f"{_BEGIN}([^{_BEGIN}{_END}]*){_END}")


def _typed(name: str) -> str:
    """A header as it is typed behind an option."""
    return name if name.replace("_", "").replace(".", "").replace("-", "").isalnum() and name.isascii() else f"'{name}'"


def _on(screen: str, kind: str, label: str, what: str = "") -> str:
    return f"{what} in the {kind} '{label}' on {screen}" if what else f"the {kind} '{label}' on {screen}"


def _column(ours: str, theirs: str) -> dict[Medium, str]:
    known = COLUMNS.get(ours, COLUMNS.get(ours.partition("_")[0], ours))
    return {
        Medium.OPTION: f"--column {ours}={_typed(theirs)}",
        Medium.ARGUMENT: f"columns={{{ours!r}: {theirs!r}}}",
        Medium.SCREEN: _on(
            "Files", "field", f"Column with the {known}", "" if theirs == SOME_HEADER else f"{theirs!r}"
        ),
    }


def _zone(zone: str, file: str = "") -> dict[Medium, str]:
    return {
        Medium.OPTION: f"--zone {_typed(file)}={zone}" if file else f"--zone {zone}",
        Medium.ARGUMENT: f"zone={zone!r}",
        Medium.SCREEN: _on("Files", "field", "Zone of its times", zone),
    }


def _control(call: str) -> dict[Medium, str]:
    return {
        Medium.OPTION: f"--control {call}",
        Medium.ARGUMENT: f"control={call!r}",
        Medium.SCREEN: f"a tick beside {call} under 'Stations that may serve' on Controls and weeks",
    }


def _shift(minutes: str) -> dict[Medium, str]:
    return {
        Medium.OPTION: f"--schedule-shift {minutes}",
        Medium.ARGUMENT: f"schedule_shift_min={minutes}",
        Medium.SCREEN: _on("Who was on when", "part", "Its clock"),
    }


def _elsewhere(what: str, over: str = "") -> dict[Medium, str]:
    """What to do where something is left alone. what : "folder" or "name"; over : what may be written over if that is asked"""
    option, argument = (f", or say {way} to write over {over}" if over else "" for way in ("--replace", "replace=True"))
    return {
        Medium.OPTION: f"choose another {what}{' with --out' if what == 'folder' else ''}{option}",
        Medium.ARGUMENT: f"choose another {what}{' as out=' if what == 'folder' else ''}{argument}",
        Medium.SCREEN: "move it to another folder, and try again",
    }


def _add(folder: str) -> dict[Medium, str]:
    return {
        Medium.OPTION: f"reach add FILES --to {folder}",
        Medium.ARGUMENT: "reach.archive.taking.add",
        Medium.SCREEN: _on("Files", "button", "Make it a collection"),
    }


def _always(option: str, argument: str, screen: str) -> Callable[[], dict[Medium, str]]:
    return lambda: {Medium.OPTION: option, Medium.ARGUMENT: argument, Medium.SCREEN: screen}


# Code -> the words of each medium, from the parameters that go with it; they stand behind "with".
# What no screen has a field for is a key of the study.
WAYS: Final[Mapping[str, Callable[..., dict[Medium, str]]]] = {
    "column": _column,
    "zone": _zone,
    "control": _control,
    "controls": _always("--control", "control=", _on("Controls and weeks", "part", "Stations that may serve")),
    "yardsticks": _always(
        "--control", "season={'controls': ...}", _on("Controls and weeks", "part", "Stations that may serve")
    ),
    "days": _always(
        "reach compare --before DAY", "before_after of the walk", _on("Who was on when", "part", "The table")
    ),
    "plan": _always(
        "reach plan", "reach.compare.plan.plan", _on("Who was on when", "part", "A plan for the next evening")
    ),
    "compare": _always(
        "--a NAME --b NAME",
        "compare={'a': ..., 'b': ...}",
        _on("Who was on when", "part", "What to compare"),
    ),
    "power": _always("power_w", "power_w=", _on("Station and setups", "field", "Power at the radio, in watts")),
    "difference": lambda: {
        Medium.OPTION: "--power-difference-db",
        Medium.ARGUMENT: "power_difference_db=",
    },
    "shift": _shift,
    "schedule_zone": _always("--schedule-zone", "schedule_zone=", _on("Who was on when", "field", "Zone of its times")),
    "confirmed": _always(
        "--schedule-confirmed", "schedule_confirmed=True", _on("Who was on when", "button", "It is right as it stands")
    ),
    "problems": _always("reach vet", "problems of the walk", _on("Files", "part", "What was understood")),
    "held": _always("reach list", "reach.archive.listing.held", _on("Files", "part", "In this study")),
    "add": _add,
    "elsewhere": _elsewhere,
    "squares": _always(
        "--four-character", "four_character_locators=True", "'four_character_locators = true' in study.toml"
    ),
    "now": _always("--now", "now=", "'now' in study.toml"),
    "order": _always("--day-first or --month-first", "day_first=True or False", _on("Files", "field", "03/05/2026 is")),
    "callsign": _always("--callsign", "callsign=", _on("Station and setups", "field", "Callsign")),
    "locator": _always(
        "--locator, in the study file under [station],", "locator=", _on("Station and setups", "field", "Locator")
    ),
    "pair": _always(
        "--a and --b, or in the study under [compare]",
        "a and b, or in the study under [compare]",
        "the part 'What to compare' on Who was on when",
    ),
    "heard": _always(
        "--heard", "direction='heard'", _on("Station and setups", "choice", "what this station heard of others")
    ),
    "sent": _always("--sent", "direction='sent'", _on("Station and setups", "choice", "how others heard this station")),
}


def asked(code: str, *values: str) -> str:
    """The mark for what is asked. code : a key of WAYS; values : its parameters, text from outside among them"""
    return f"{_BEGIN}{_BETWEEN.join([code, *(re.sub(f'[{_BEGIN}-{_END}]', '', value) for value in values)])}{_END}"


def said(sentence: str, medium: Medium) -> str:
    """The sentence with each mark in the words of a medium."""
    return _MARK.sub(lambda found: _words(found[1].split(_BETWEEN), medium), sentence)


def _words(parts: list[str], medium: Medium) -> str:
    code, *values = parts
    try:
        return WAYS[code](*values)[medium]
    except (KeyError, TypeError):  # a file that holds such characters, and no mark
        return ""

"""What a walk wants to tell once, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, assert_never

from reach.base import words
from reach.base.words import TERMINAL, Typography
from reach.compare.neighbours import Fit
from reach.findings import Note, NoteCode
from reach.tell.sentences import clock

MOST_CALLS: Final = 3  # of other stations, named in one note
# What a reader must know before the first number: whose rows these are, and which were left out.
FIRST: Final = (
    NoteCode.ENDS_TURNED,
    NoteCode.STATION_TAKEN,
    NoteCode.OTHERS_SET_ASIDE,
    NoteCode.OPPOSITE_SET_ASIDE,
    NoteCode.NOT_ASKED,
    NoteCode.ONE_PATH,
    NoteCode.STATION_MOVED,
)


def note(told: Note, say: Typography) -> str:
    """One sentence."""
    values = told.values
    match told.code:
        case NoteCode.OUTSIDE_SESSIONS:
            spots = say.things(values["spots"], "spot was", "spots were")
            return f"{spots} outside every session and schedule row; they count in the whole, under no setup."
        case NoteCode.STATION_TAKEN:
            kind = "transmitter" if values["direction"] == "sent" else "receiver"
            return f"No callsign was given; {values['call']}, the only {kind}, was taken for the station."
        case NoteCode.OTHERS_SET_ASIDE:
            return _others(values, say)
        case NoteCode.OPPOSITE_SET_ASIDE:
            return _opposite(values, say)
        case NoteCode.ENDS_TURNED:
            apart, near = (f"{say.number(values[name], 0)}{say.gap}Hz" for name in ("tx_hz", "rx_hz"))
            return (
                f"{values['file']}: no header says who transmitted. The station's rows of one slot lie {near} apart one way "
                f"round and {apart} the other, so both ends were exchanged."
            )
        case NoteCode.NOT_ASKED:
            return _not_asked(values, say)
        case NoteCode.ONE_PATH:
            if values["direction"] == "sent":
                return f"{values['call']} is the only receiver: this is one path."
            return f"{values['call']} is the only transmitter: this is one path."
        case NoteCode.STATION_MOVED:
            places = words.listed([f"{name} ({say.things(rows, 'row')})" for name, rows in values["locators"].items()])
            return f"The station's own locator changes: {places}; each place is a session of its own."
        case NoteCode.SCHEDULE:
            return clock.sentence(values["code"], values["values"], say=say)
        case NoteCode.CLOCK_BEHIND:
            return (
                f"The clock of this machine shows {values['now']} UTC, while reports run to {values['newest']}: it is taken to be "
                f"wrong, and no report to lie in the future. {say.command('--now')} says what counts as now."
            )
        case NoteCode.FUTURE:
            return clock.future(values["ahead_min"], values["by_min"], say=say)
        case NoteCode.WRONG_LIGHT:
            return clock.wrong_light(values["wrong"], values["after_h"], values["after"], say=say)
        case NoteCode.MANY_SUSPECTS:
            return (
                f"{say.things(values['suspects'], 'locator is', 'locators are')} suspect, more than a real export holds: what was "
                f"probably meant was looked for with the {say.count(values['searched'])} that weigh most."
            )
        case NoteCode.FIX_WITHOUT_ROW:
            call, locator = values["call"] or "a blank callsign", values["locator"] or "left blank"
            return f"{values['where']}: no row of {call} has the locator {locator} any more."
        case _:
            assert_never(told.code)


def _opposite(values: Mapping[str, Any], say: Typography) -> str:
    """Rows of the other direction. How to study them is told where there is a command line to do it in."""
    rows, heard = say.things(values["rows"], "row"), say.command("--heard")
    if values["direction"] == "sent":
        how = f"; {heard} studies them" if say is TERMINAL else ""
        return f"{rows} of what the station itself heard: set aside{how}."
    how = f"; without {heard} they are studied" if say is TERMINAL else ""
    return f"{rows} of what others heard of the station: set aside{how}."


def _not_asked(values: Mapping[str, Any], say: Typography) -> str:
    """'1 204 rows lie before 2026-10-01 00:00 UTC or on other bands than 20m: set aside.'"""
    outside = [f"{word} {values[name]} UTC" for name, word in (("start", "before"), ("end", "from")) if name in values]
    if "end" in values:
        outside[-1] += " on"
    if "bands" in values:
        outside.append(f"on other bands than {words.listed(values['bands'])}")
    return f"{say.things(values['rows'], 'row lies', 'rows lie')} {' or '.join(outside)}: set aside."


def _others(values: Mapping[str, Any], say: Typography) -> str:
    """'569 rows are reports of other transmitters (DL9QXY 500, F5QRT 69): set aside.', and who can serve as a control."""
    calls = [f"{call} {say.count(rows)}" for call, rows in values["calls"].items()]
    named = ", ".join(calls[:MOST_CALLS]) + (" and others" if len(calls) > MOST_CALLS else "")
    rows = say.things(values["rows"], "row is", "rows are")
    as_control = f" {_control(values['controls'], say)}" if values.get("controls") and say is TERMINAL else ""
    if values["direction"] == "heard":
        return f"{rows} of other receivers ({named}): set aside.{as_control}"
    return f"{rows} reports of other transmitters ({named}): set aside.{as_control}"


def _control(offered: Sequence[Mapping[str, Any]], say: Typography) -> str:
    """Who of them can serve as a control, and how; else why the likeliest cannot."""
    best = offered[0]
    call, away = best["call"], say.km(best["distance_km"]) + " away"
    alongside = f"heard by {say.things(best['receivers'], 'receiver')} within ten minutes of this station"
    if best["fit"] == Fit.GOOD:
        also = [each["call"] for each in offered[1:] if each["fit"] == Fit.GOOD]
        more = f" (so can {words.listed(also)})" if also else ""
        how = say.command(f"--control {call}")
        return f"{call}, {away} and {alongside}, can serve as a control in a comparison{more}: {how}."
    if best["fit"] == Fit.CHECK:
        how = say.command(f"--control {call}")
        return (
            f"{call}, {away}, was heard at the same times, but by few of the same receivers: it can check a comparison "
            f"({how}), not stand for the band before and after a change."
        )
    none = "None of them can serve as a control" if len(offered) > 1 else f"{call} cannot serve as a control"
    if best["fit"] == Fit.FAR:
        return f"{none}: {call} is {away}, where the band is another."
    if best["fit"] == Fit.NO_PLACE:
        return f"{none}: where {call} stood is not known."
    return f"{none}: too few reports of {call} lie within ten minutes of this station's on the same band."

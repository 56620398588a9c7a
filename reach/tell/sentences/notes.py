"""What a walk wants to tell once, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, assert_never

from reach.base.tongue import Phrase
from reach.base.words import Typography
from reach.compare.control import Suits
from reach.findings import Counts, Note, NoteCode
from reach.tell.sentences import clock, problems

MOST_CALLS: Final = 3  # of other stations, named in one note
# What a reader must know before the first number: whose rows these are, and which were left out.
FIRST: Final = (
    NoteCode.ENDS_TURNED,
    NoteCode.STATION_TAKEN,
    NoteCode.OTHERS_SET_ASIDE,
    NoteCode.OPPOSITE_SET_ASIDE,
    NoteCode.MANY_REJECTED,
    NoteCode.NOT_ASKED,
    NoteCode.ONE_PATH,
    NoteCode.STATION_MOVED,
)


def law(c: Counts, say: Typography) -> str:
    """The law of conservation with its numbers, without a full stop; what was set aside is named where there is any."""
    return say.text(
        "{rows} read = {sum}",
        rows=say.things(c.read, "row"),
        sum=" + ".join((f"{count} {name}" for name, count in fates(c, say))),
    )


def fates(c: Counts, say: Typography) -> list[tuple[str, str]]:
    """What became of the rows, with how many of each: they add up to the rows read."""
    found = [
        (say.text("accepted"), c.accepted),
        (say.text("rejected"), c.rejected),
        (say.text("duplicate") if c.duplicates == 1 else say.text("duplicates"), c.duplicates),
        (say.text("set aside"), c.set_aside),
    ]
    always = found[:3]
    return [(name, say.count(count)) for name, count in found if count or (name, count) in always]


def first(told: Sequence[Note], say: Typography) -> list[str]:
    """What was left out or assumed before anything was counted, a sentence each: it stands above the first headline."""
    return [note(each, say) for each in told if each.code in FIRST]


def after(told: Sequence[Note], say: Typography) -> list[str]:
    """The rest of what is to be told once, a sentence each."""
    return [note(each, say) for each in told if each.code not in FIRST]


def note(told: Note, say: Typography) -> str:
    """One sentence."""
    values = told.values
    match told.code:
        case NoteCode.OUTSIDE_SESSIONS:
            return say.plural(
                values["spots"],
                "{n} spot was outside every session and schedule row; they count in the whole, under no setup.",
                "{n} spots were outside every session and schedule row; they count in the whole, under no setup.",
            )
        case NoteCode.STATION_TAKEN:
            return say.text(
                "No callsign was given; {call}, the only transmitter, was taken for the station."
                if values["direction"] == "sent"
                else "No callsign was given; {call}, the only receiver, was taken for the station.",
                call=values["call"],
            )
        case NoteCode.OTHERS_SET_ASIDE:
            return _others(values, say)
        case NoteCode.OPPOSITE_SET_ASIDE:
            return _opposite(values, say)
        case NoteCode.ENDS_TURNED:
            apart, near = (f"{say.number(values[name], 0)}{say.gap}Hz" for name in ("tx_hz", "rx_hz"))
            return say.text(
                "{file}: no header says who transmitted. The station's rows of one slot lie {near} apart one way round "
                "and {apart} the other, so both ends were exchanged.",
                file=values["file"],
                near=near,
                apart=apart,
            )
        case NoteCode.MANY_REJECTED:
            return _rejected(values, say)
        case NoteCode.NOT_ASKED:
            return _not_asked(values, say)
        case NoteCode.ONE_PATH:
            if values["direction"] == "sent":
                return say.text("{call} is the only receiver: this is one path.", call=values["call"])
            return say.text("{call} is the only transmitter: this is one path.", call=values["call"])
        case NoteCode.STATION_MOVED:
            places = say.listed([f"{name} ({say.things(rows, 'row')})" for name, rows in values["locators"].items()])
            return say.text(
                "The station's own locator changes: {places}; each place is a session of its own.", places=places
            )
        case NoteCode.SCHEDULE:
            return clock.sentence(values["code"], values["values"], say=say)
        case NoteCode.CLOCK_BEHIND:
            how = f" {now} says what counts as now." if (now := say.way("now")) else ""
            return say.text(
                "The clock of this machine shows {now} UTC, while reports run to {newest}: it is taken to be wrong, "
                "and no report to lie in the future.{how}",
                now=values["now"],
                newest=values["newest"],
                how=how,
            )
        case NoteCode.FUTURE:
            return clock.future(values["ahead_min"], values["by_min"], say=say)
        case NoteCode.WRONG_LIGHT:
            return clock.wrong_light(values["wrong"], values["after_h"], values["after"], say=say)
        case NoteCode.MANY_SUSPECTS:
            return say.plural(
                values["suspects"],
                "{n} locator is suspect, more than a real export holds: what was probably meant was looked for with the "
                "{searched} that weigh most.",
                "{n} locators are suspect, more than a real export holds: what was probably meant was looked for with the "
                "{searched} that weigh most.",
                searched=say.count(values["searched"]),
            )
        case NoteCode.FIX_WITHOUT_ROW:
            call, locator = values["call"] or say.text("a blank callsign"), values["locator"] or say.text("left blank")
            return say.text(
                "{where}: no row of {call} has the locator {locator} any more.",
                where=values["where"],
                call=call,
                locator=locator,
            )
        case NoteCode.CONTROL_READ:
            return say.text("Control {file}: {law}.", file=values["file"], law=law(Counts(**values["counts"]), say))
        case _:
            assert_never(told.code)


def _opposite(values: Mapping[str, Any], say: Typography) -> str:
    """Rows of the other direction. How to study them is told where that can be done."""
    rows = say.things(values["rows"], "row")
    if values["direction"] == "sent":
        how = f"; {say.way('heard')} studies them" if say.medium else ""
        return say.text("{rows} of what the station itself heard: set aside{how}.", rows=rows, how=how)
    how = f"; {say.way('sent')} studies them" if say.medium else ""
    return say.text("{rows} of what others heard of the station: set aside{how}.", rows=rows, how=how)


def _rejected(values: Mapping[str, Any], say: Typography) -> str:
    """'340 of 392 rows were rejected (locator of four characters 340).', and what takes them, where that can be given."""
    why = ", ".join(f"{problems.name(rule, say)} {say.count(rows)}" for rule, rows in values["rules"].items())
    squares = say.medium is not None and any(rule.endswith("locator-four-characters") for rule in values["rules"])
    how = (
        say.text(
            " {option} accepts squares; each leaves a place open by up to 125{gap}km.",
            option=say.way("squares"),
        )
        if squares
        else ""
    )
    return say.plural(
        values["rows"],
        "{n} of {of} rows was rejected ({why}).{how}",
        "{n} of {of} rows were rejected ({why}).{how}",
        of=say.count(values["of"]),
        why=why,
        how=how,
    )


def _not_asked(values: Mapping[str, Any], say: Typography) -> str:
    """'1 204 rows lie before 2026-10-01 00:00 UTC or on other bands than 20m: set aside.'"""
    sides = (("start", Phrase("before {day} UTC")), ("end", Phrase("from {day} UTC on")))
    outside = [say.text(message, day=values[name]) for name, message in sides if name in values]
    if "bands" in values:
        outside.append(say.text("on other bands than {bands}", bands=say.listed(values["bands"])))
    return say.plural(
        values["rows"],
        "{n} row lies {outside}: set aside.",
        "{n} rows lie {outside}: set aside.",
        outside=say.text(" or ").join(outside),
    )


def _others(values: Mapping[str, Any], say: Typography) -> str:
    """'569 rows are reports of other transmitters (DL9QXY 500, F5QRT 69): set aside.', and who can serve as a control."""
    calls = [f"{call} {say.count(rows)}" for call, rows in values["calls"].items()]
    named = ", ".join(calls[:MOST_CALLS]) + (say.text(" and others") if len(calls) > MOST_CALLS else "")
    as_control = f" {_control(values['controls'], say)}" if values.get("controls") and say.medium else ""
    if values["direction"] == "heard":
        return say.plural(
            values["rows"],
            "{n} row is of other receivers ({named}): set aside.{as_control}",
            "{n} rows are of other receivers ({named}): set aside.{as_control}",
            named=named,
            as_control=as_control,
        )
    return say.plural(
        values["rows"],
        "{n} row is reports of other transmitters ({named}): set aside.{as_control}",
        "{n} rows are reports of other transmitters ({named}): set aside.{as_control}",
        named=named,
        as_control=as_control,
    )


def _control(offered: Sequence[Mapping[str, Any]], say: Typography) -> str:
    """Who of them can serve as a control, and how; else why the likeliest cannot."""
    best = offered[0]
    call, distance_km = best["call"], best["distance_km"]
    # The middles of two locators that are one are no distance apart, which says nothing of the two stations.
    same = distance_km == 0
    away = say.text("at the same locator") if same else say.text("{distance} away", distance=say.km(distance_km))
    alongside = say.text(
        "heard by {receivers} within ten minutes of this station", receivers=say.things(best["receivers"], "receiver")
    )
    if best["fit"] == Suits.GOOD:
        also = [each["call"] for each in offered[1:] if each["fit"] == Suits.GOOD]
        more = say.text(" (so can {also})", also=say.listed(also)) if also else ""
        how = say.way("control", call)
        return say.text(
            "{call}, {away} and {alongside}, can serve as a control in a comparison{more}: {how}.",
            call=call,
            away=away,
            alongside=alongside,
            more=more,
            how=how,
        )
    if best["fit"] == Suits.CHECK:
        how = say.way("control", call)
        return say.text(
            "{call}, {away}, was heard at the same times, but by few of the same receivers: it can check a comparison "
            "({how}), not stand for the band before and after a change.",
            call=call,
            away=away,
            how=how,
        )
    none = (
        say.text("None of them can serve as a control")
        if len(offered) > 1
        else say.text("{call} cannot serve as a control", call=call)
    )
    if best["fit"] == Suits.FAR:
        return say.text("{none}: {call} is {away}, where the band is another.", none=none, call=call, away=away)
    if best["fit"] == Suits.NO_HOME:
        return f"{none}: where this station itself stood is not known."
    if best["fit"] == Suits.NO_PLACE:
        return say.text("{none}: where {call} stood is not known.", none=none, call=call)
    return say.text(
        "{none}: too few reports of {call} lie within ten minutes of this station's on the same band.",
        none=none,
        call=call,
    )

"""Local time beside UTC: what stands behind a time, below an axis, and that clocks changed meanwhile."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from reach.base.local_time import Change, LocalTime
from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography

_MOST_CHANGES = 3  # told one by one
HOUR_OF_THE_DAY = Phrase("hour of the day [UTC]")
TIME = Phrase("time [UTC]")


def offset(minutes: int, say: Typography = PRINT) -> str:
    """'UTC+2', 'UTC+5:30', 'UTC'."""
    if not minutes:
        return "UTC"
    hours, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else say.minus}{hours}{f':{rest:02d}' if rest else ''}"


def zone(local: LocalTime, say: Typography = PRINT) -> str:
    """'Europe/Berlin at UTC+2', with all that there were: 'Europe/Berlin at UTC+1 and UTC+2'."""
    offsets = say.listed([offset(each, say) for each in local.offsets_min])
    return say.text("{zone} at {offsets}", zone=local.zone, offsets=offsets)


def axis(name: str, local: LocalTime | None, say: Typography = PRINT) -> str:
    """What an axis in UTC is, whose labels have a line below for each offset of the zone; as it was without a zone.

    name : as it is said, or a Phrase
    """
    said = say.text(name) if isinstance(name, Phrase) else name
    return said if local is None else say.text("{axis}; below: {zone}", axis=said, zone=zone(local, say))


def hours(said: str, local: LocalTime | None, starts: Sequence[int], say: Typography = PRINT) -> str:
    """A text about hours of the day in UTC, and when these begin by local clocks.

    starts : the hours that it names, as they begin
    """
    if local is None or not starts:
        return said
    by_offset = zip(*(local.hours(hour) for hour in starts), strict=True)
    return f"{said} ({say.listed([say.listed(each) for each in by_offset], 'or')}, {local.zone})"


def hour(said: str, local: LocalTime | None, which: int, say: Typography = PRINT) -> str:
    """A text about one hour of the day in UTC, and from when to when that is by local clocks."""
    if local is None:
        return said
    ends = zip(local.hours(which), local.hours(which + 1), strict=True)
    return f"{said} ({say.listed([say.dash.join(each) for each in ends], 'or')}, {local.zone})"


def at(said: str, local: LocalTime | None, *moments: datetime, say: Typography = PRINT) -> str:
    """A text about one moment, or from one to another, and when that was by local clocks."""
    if local is None:
        return said
    return f"{said} ({say.dash.join(f'{local.at(moment):%H:%M}' for moment in moments)}, {local.zone})"


def film(local: LocalTime, *moments: datetime, say: Typography = PRINT) -> str:
    """A moment by local clocks, or from one to another: '20:05 Europe/Berlin'."""
    return f"{say.dash.join(f'{local.at(moment):%H:%M}' for moment in moments)} {local.zone}"


def lines(local: LocalTime | None, say: Typography = PRINT) -> str:
    """What lines of local hours are on an axis of hours in UTC over a long period; empty without a zone."""
    if local is None:
        return ""
    named = zone(local, say)
    if not local.changes:
        return say.text("Lines, named at the right: hours by the clocks of {zone}.", zone=named)
    if len(local.changes) > _MOST_CHANGES:
        return say.text(
            "Lines, named at the right: hours by the clocks of {zone}; they step where these changed.", zone=named
        )
    return say.text(
        "Lines, named at the right: hours by the clocks of {zone}; they step where these changed ({changes}).",
        zone=named,
        changes=say.listed([_change(local, each, say) for each in local.changes]),
    )


def whose(local: LocalTime, say: Typography = PRINT) -> str:
    """Whose local times stand beside UTC, and that the clocks changed where they did."""
    said = say.text("Local times beside them are those of {zone}.", zone=zone(local, say))
    return " ".join(part for part in (said, note(local, say)) if part)


def note(local: LocalTime | None, say: Typography = PRINT) -> str:
    """That clocks changed within the period, so that an hour of the day in UTC is two by local clocks; else empty."""
    if local is None or not local.changes:
        return ""
    if len(local.changes) > _MOST_CHANGES:
        return say.plural(
            len(local.changes),
            "The clocks of {zone} changed {n} time meanwhile: an hour in UTC has a local hour before and another after.",
            "The clocks of {zone} changed {n} times meanwhile: an hour in UTC has a local hour before and another after.",
            zone=local.zone,
        )
    return say.text(
        "The clocks of {zone} changed meanwhile ({changes}): an hour in UTC has a local hour before and another after.",
        zone=local.zone,
        changes=say.listed([_change(local, each, say) for each in local.changes]),
    )


def _change(local: LocalTime, change: Change, say: Typography) -> str:
    return say.text("{day} to {offset}", day=say.day(local.at(change.when_utc)), offset=offset(change.offset_min, say))

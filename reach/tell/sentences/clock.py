"""What the reports say of the schedule's clock, in words. Values are those of `reach.assign.clock.ClockFit`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, Final

from reach.assign.clock import SESSIONS, Clock
from reach.base.tongue import Phrase
from reach.base.words import Typography

Values = Mapping[str, Any]

HALF_DAY: Final = Phrase("Nothing was changed; check whether the file's times are UTC.")


def sentence(code: str, values: Values, *, say: Typography) -> str:
    """The finding: 'The schedule fits: reports step where it says, within 2 min.'"""
    return _SENTENCES[Clock(code)](values, say)


def reason(values: Values, *, say: Typography) -> str:
    """The same as what follows 'Cannot tell: '."""
    text = sentence(str(values["code"]), values, say=say)
    return text[0].lower() + text[1:]


def settle(values: Values, *, say: Typography) -> str:
    """How a doubt about the schedule is settled. values : shift_min, other_min, told_by, as far as there are any"""
    shifts = [
        f"{shift(minutes, say=say)}{say.how('shift', f'{minutes:g}')}"
        for minutes in (values[name] for name in ("shift_min", "other_min") if name in values)
    ]
    by = say.text(", here by {shift}", shift=say.text(" or ").join(shifts)) if shifts else ""
    zone = say.text(", name the zone it was written in{how}", how=say.how("schedule_zone"))
    if values.get("told_by") == SESSIONS:
        zone = say.text(", write the times with their offset, such as 18:00:00+02:00")
    return say.text(
        "Correct {what}{by}{zone}, or confirm it as it stands{how}.",
        what=_what(values, say),
        by=by,
        zone=zone,
        how=say.how("confirmed"),
    )


def shift(minutes: float, *, say: Typography) -> str:
    """A shift: '-10 min', '+2 h', '-12 h 5 min'."""
    hours, rest = divmod(abs(minutes), 60)
    sign = "+" if minutes > 0 else say.minus if minutes < 0 else ""
    if abs(minutes) < 120:
        return f"{sign}{say.plain(abs(minutes))}{say.gap}min"
    return f"{sign}{say.plain(hours)}{say.gap}h" + (f" {say.plain(rest)}{say.gap}min" if rest else "")


def future(ahead_min: float, by_min: float, *, say: Typography) -> str:
    """Reports later than now. ahead_min : how far the newest is; by_min : that, up to a quarter of an hour"""
    hours, minutes = divmod(round(by_min), 60)
    return say.text(
        "The newest report lies {ahead} in the future: the times are not UTC, or a clock is ahead; a zone of at least "
        "+{hours}:{minutes} is likely.",
        ahead=shift(round(ahead_min), say=say).lstrip("+"),
        hours=f"{hours:02d}",
        minutes=f"{minutes:02d}",
    )


def wrong_light(wrong: float, after_h: int, after: float, *, say: Typography) -> str:
    """Paths lit where they should be dark. wrong : share as it stands; after : share once moved by after_h hours"""
    return say.text(
        "{wrong} of the far paths were heard by day where nights carry, or by night where days do; moved by {shift} it "
        "would be {after}. {half_day}",
        wrong=say.share(wrong),
        shift=shift(after_h * 60, say=say),
        after=say.share(after),
        half_day=HALF_DAY,
    )


def _what(v: Values, say: Typography, *, first: bool = False) -> str:
    """What has the times: 'the schedule', or 'the schedule of sessions', which a study has instead; first : in a sentence"""
    if v.get("told_by") == SESSIONS:
        return say.text("The schedule of sessions") if first else say.text("the schedule of sessions")
    return say.text("The schedule") if first else say.text("the schedule")


def _off(v: Values, say: Typography) -> str:
    return say.text("give or take {within_min}{gap}min", within_min=say.plain(v["within_min"]))


def _fits(v: Values, say: Typography) -> str:
    again = ""
    if "other_min" in v:
        again = say.text(
            " (shifted by {shift} it would fit as well with the other setup better: the plan repeats)",
            shift=shift(v["other_min"], say=say),
        )
    return say.text(
        "{what} fits: reports step where it says, within {within_min}{gap}min{again}.",
        what=_what(v, say, first=True),
        within_min=say.plain(v["within_min"]),
        again=again,
    )


def _shifted(v: Values, say: Typography) -> str:
    return say.text(
        "{what} does not fit the reports as it stands; it fits best if shifted by {shift} ({off}).{zone} Check the "
        "clock and the zone it was written in.",
        what=_what(v, say, first=True),
        shift=shift(v["shift_min"], say=say),
        off=_off(v, say),
        zone=_zone(v, say),
    )


def _ambiguous(v: Values, say: Typography) -> str:
    return say.text(
        "{what} does not fit the reports as it stands; shifted by {shift} or {other} it does, and which of the two "
        "decides which setup is better: the reports alone cannot say, as the plan repeats.",
        what=_what(v, say, first=True),
        shift=shift(v["shift_min"], say=say),
        other=shift(v["other_min"], say=say),
    )


def _ends(v: Values, say: Typography) -> str:
    return say.text(
        "{what} may be shifted: {outside} of the reports lie outside it, and reports begin and end about {ahead} before it "
        "does; shifted by {shift} it fits.{zone} Or the station was active outside it as well: say which."
        if v["shift_min"] < 0
        else "{what} may be shifted: {outside} of the reports lie outside it, and reports begin and end about {ahead} after "
        "it does; shifted by {shift} it fits.{zone} Or the station was active outside it as well: say which.",
        what=_what(v, say, first=True),
        outside=say.share(v["outside"]),
        ahead=shift(abs(v["shift_min"]), say=say).lstrip("+"),
        shift=shift(v["shift_min"], say=say),
        zone=_zone(v, say),
    )


def _apart(v: Values, say: Typography) -> str:
    told = say.text(
        "No report lies inside {what}: it runs from {schedule}, the reports from {reports}.",
        what=_what(v, say),
        schedule=_span(v, "schedule_", say),
        reports=_span(v, "", say),
    )
    if "shift_min" in v:
        told += say.text(
            " Shifted by {shift} they meet.{zone}", shift=shift(v["shift_min"], say=say), zone=_zone(v, say)
        )
    return say.text("{told} Check the dates, the clock and the zone of both.", told=told)


def _unseen(v: Values, say: Typography) -> str:
    if "step_z2" not in v:
        return say.text(
            "The setups changed places too seldom for the reports to tell whether {what} is on time.",
            what=_what(v, say),
        )
    return say.text(
        "No step at the switch times is seen, however {what} is shifted: with setups so alike the reports cannot tell "
        "whether it is on time.",
        what=_what(v, say),
    )


def _zone(v: Values, say: Typography) -> str:
    if "zone_h" not in v:
        return ""
    hours = abs(v["zone_h"])
    zone = f"UTC{'+' if v['zone_h'] > 0 else say.minus}{say.plain(hours)}"
    return say.text(
        " That is the offset of {zone}, a zone near the station: {what} is, or the reports are, in local time.",
        zone=zone,
        what=_what(v, say),
    )


def _span(v: Values, whose: str, say: Typography) -> str:
    """'2026-05-16 18:00 to 23:58 UTC'."""
    first, last = (datetime.fromisoformat(v[f"{whose}{end}_utc"]) for end in ("first", "last"))
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%Y-%m-%d %H:%M}"
    return say.text("{first} to {until} UTC", first=f"{first:%Y-%m-%d %H:%M}", until=until)


_SENTENCES: Final[Mapping[Clock, Callable[[Values, Typography], str]]] = {
    Clock.FITS: _fits,
    Clock.SHIFTED: _shifted,
    Clock.AMBIGUOUS: _ambiguous,
    Clock.ENDS: _ends,
    Clock.APART: _apart,
    Clock.UNSEEN: _unseen,
}

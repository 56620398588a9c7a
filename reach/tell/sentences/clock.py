"""What the reports say of the schedule's clock, in words. Values are those of `reach.assign.clock.ClockFit`."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any, Final

from reach.assign.clock import SESSIONS, Clock
from reach.base.words import Typography

Values = Mapping[str, Any]

HALF_DAY: Final = "Nothing was changed; check whether the file's times are UTC."


def sentence(code: str, values: Values, *, say: Typography) -> str:
    """The finding: 'The schedule fits: reports step where it says, within 2 min.'"""
    return _SENTENCES[Clock(code)](values, say)


def reason(values: Values, *, say: Typography) -> str:
    """The same as what follows 'Cannot tell: '."""
    text = sentence(str(values["code"]), values, say=say)
    return text[0].lower() + text[1:]


def settle(values: Values, *, say: Typography) -> str:
    """How a doubt about the schedule is settled. values : shift_min, other_min, told_by, as far as there are any"""
    shifts = [f"{values[name]:g}" for name in ("shift_min", "other_min") if name in values]
    how = f", here with {say.command(f'--schedule-shift {shifts[0]}')}" if shifts else ""
    how += f" or {say.command(f'--schedule-shift {shifts[1]}')}" if len(shifts) > 1 else ""
    zone = f" (or {say.command('--schedule-zone')} for the zone it was written in)"
    if values.get("told_by") == SESSIONS:
        zone = " (or write the times with their offset, such as 18:00:00+02:00)"
    return f"Correct {_what(values)}{how}{zone}, or confirm it as it stands with {say.command('--schedule-confirmed')}."


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
    return (
        f"The newest report lies {shift(round(ahead_min), say=say).lstrip('+')} in the future: the times are not UTC, or a clock "
        f"is ahead; a zone of at least +{hours:02d}:{minutes:02d} is likely."
    )


def wrong_light(wrong: float, after_h: int, after: float, *, say: Typography) -> str:
    """Paths lit where they should be dark. wrong : share as it stands; after : share once moved by after_h hours"""
    return (
        f"{say.share(wrong)} of the far paths were heard by day where nights carry, or by night where days do; moved by "
        f"{shift(after_h * 60, say=say)} it would be {say.share(after)}. {HALF_DAY}"
    )


def _what(v: Values, *, first: bool = False) -> str:
    """What has the times: 'the schedule', or 'the schedule of sessions', which a study has instead; first : in a sentence"""
    name = "the schedule of sessions" if v.get("told_by") == SESSIONS else "the schedule"
    return f"T{name[1:]}" if first else name


def _off(v: Values, say: Typography) -> str:
    return f"give or take {say.plain(v['within_min'])}{say.gap}min"


def _fits(v: Values, say: Typography) -> str:
    again = ""
    if "other_min" in v:
        again = (
            f" (shifted by {shift(v['other_min'], say=say)} it would fit as well with the other setup better: the plan "
            "repeats)"
        )
    return f"{_what(v, first=True)} fits: reports step where it says, within {say.plain(v['within_min'])}{say.gap}min{again}."


def _shifted(v: Values, say: Typography) -> str:
    return (
        f"{_what(v, first=True)} does not fit the reports as it stands; it fits best if shifted by {shift(v['shift_min'], say=say)} "
        f"({_off(v, say)}).{_zone(v, say)} Check the clock and the zone it was written in."
    )


def _ambiguous(v: Values, say: Typography) -> str:
    return (
        f"{_what(v, first=True)} does not fit the reports as it stands; shifted by {shift(v['shift_min'], say=say)} or "
        f"{shift(v['other_min'], say=say)} it does, and which of the two decides which setup is better: the reports alone "
        "cannot say, as the plan repeats."
    )


def _ends(v: Values, say: Typography) -> str:
    sooner = "before" if v["shift_min"] < 0 else "after"
    return (
        f"{_what(v, first=True)} may be shifted: {say.share(v['outside'])} of the reports lie outside it, and reports begin and end about "
        f"{shift(abs(v['shift_min']), say=say).lstrip('+')} {sooner} it does; shifted by {shift(v['shift_min'], say=say)} it "
        f"fits.{_zone(v, say)} Or the station was active outside it as well: say which."
    )


def _apart(v: Values, say: Typography) -> str:
    told = f"No report lies inside {_what(v)}: it runs from {_span(v, 'schedule_', say)}, the reports from {_span(v, '', say)}."
    if "shift_min" in v:
        told += f" Shifted by {shift(v['shift_min'], say=say)} they meet.{_zone(v, say)}"
    return f"{told} Check the dates, the clock and the zone of both."


def _unseen(v: Values, say: Typography) -> str:
    if "step_z2" not in v:
        return f"The setups changed places too seldom for the reports to tell whether {_what(v)} is on time."
    return (
        f"No step at the switch times is seen, however {_what(v)} is shifted: with setups so alike the reports cannot tell "
        "whether it is on time."
    )


def _zone(v: Values, say: Typography) -> str:
    if "zone_h" not in v:
        return ""
    hours = abs(v["zone_h"])
    zone = f"UTC{'+' if v['zone_h'] > 0 else say.minus}{say.plain(hours)}"
    return f" That is the offset of {zone}, a zone near the station: {_what(v)} is, or the reports are, in local time."


def _span(v: Values, whose: str, say: Typography) -> str:
    """'2026-05-16 18:00 to 23:58 UTC'."""
    first, last = (datetime.fromisoformat(v[f"{whose}{end}_utc"]) for end in ("first", "last"))
    until = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%Y-%m-%d %H:%M}"
    return f"{first:%Y-%m-%d %H:%M} to {until} UTC"


_SENTENCES: Final[Mapping[Clock, Callable[[Values, Typography], str]]] = {
    Clock.FITS: _fits,
    Clock.SHIFTED: _shifted,
    Clock.AMBIGUOUS: _ambiguous,
    Clock.ENDS: _ends,
    Clock.APART: _apart,
    Clock.UNSEEN: _unseen,
}

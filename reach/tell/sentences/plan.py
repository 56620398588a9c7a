"""A plan in words: the hours first, then what they rest on, then advice."""

from __future__ import annotations

from typing import Any, Final

from reach.base.words import TERMINAL, Typography
from reach.compare.plan import FITTED_HOURS, TURNS_FACTOR, Earlier, Plan, Source
from reach.tell.sentences.comparison import about_hours
from reach.tell.sentences.direction import HEARD, SENT, Ends

ADVICE: Final = (
    "Change as quickly as the equipment allows: a band changes by several dB within the hour.",
    "Let a coin decide which setup starts each pair of blocks; the schedule has tossed it.",
    "Keep power, frequency, mode and everything else equal; measure the power at the radio for both.",
    "Note every change, also the unwanted ones, with its time in UTC: a row of the schedule is on the air from its start "
    "up to its end.",
    "Length of the session counts first, receivers second; more reports in the same minutes hardly help.",
    "Keep the order that was drawn: a strict A-B-A-B is the same plan when shifted by one block, so that the reports could not "
    "tell a clock that is wrong from the other setup being better.",
)


IN_TURN: Final = (
    "On every second visit to a band the order of the setups is reversed (A-B, then B-A), so that what the band does within a "
    "visit falls on both; keep it so."
)


def advice(way: Ends = SENT, bands: int = 1) -> tuple[str, ...]:
    """What to do besides, most telling first. bands : gone through in turn"""
    more = (IN_TURN,) if bands > 1 else ()
    if way is SENT:
        return (*ADVICE, *more)
    listening = {
        ADVICE[2]: "Keep frequency, mode, radio and its settings the same for both.",
        ADVICE[3]: (
            "Note every change, also the unwanted ones, with its time in UTC: a row of the schedule counts from its start "
            "up to its end."
        ),
        ADVICE[4]: ADVICE[4].replace("receivers", "transmitters"),
    }
    return (*(listening.get(one, one) for one in ADVICE), *more)


def everything(p: Plan, *, say: Typography, way: Ends = SENT) -> tuple[str, ...]:
    """The answer, what it rests on, and how far it may be off; with several bands how they take turns.

    way : who hears whom
    """
    off = f"Two sessions in three come out within a factor of {say.number(1.5)} of that; allow for a wider one."
    return (answer(p, say=say, way=way), *in_turn(p, say=say), earlier(p.from_spots, say=say, way=way), off)


def in_turn(p: Plan, *, say: Typography) -> tuple[str, ...]:
    """How the bands are gone through and what that costs; nothing for one band."""
    if p.return_min is None:
        return ()
    visit, again = 2 * p.block_min, p.return_min
    heard = f"{_short(again, say)} minutes" if again < 120 else f"{_short(again / 60, say)} hours"
    return (
        f"Through {say.count(len(p.bands))} bands in turn ({', '.join(p.bands)}), {_short(visit, say)} minutes each, so each band "
        f"is heard every {heard}. That makes the interval of all together {say.number(TURNS_FACTOR, 2)} times as wide as on "
        f"one band; a verdict for each band takes {say.count(len(p.bands))} times the hours of one.",
    )


def answer(p: Plan, *, say: Typography, way: Ends = SENT) -> str:
    """How long to alternate, in how many blocks."""
    beyond = (
        f" That is beyond the {say.count(FITTED_HOURS)} hours that the law was fitted to: take it as an order of magnitude."
        if p.hours > FITTED_HOURS
        else ""
    )
    hear = "are heard with" if way is HEARD else "hear"
    return (
        f"For {half_width(p, say=say)} ({say.share(0.95)}) with {way.fars(p.receivers, say)} that {hear} both setups: "
        f"alternate for {about_hours(p.hours, say=say)}, {say.count(p.blocks)} blocks of {_short(p.block_min, say)} minutes."
        f"{beyond}"
    )


def half_width(p: Plan, *, say: Typography) -> str:
    """What is wanted: '+/-1 dB'."""
    return f"{say.plus_minus}{_short(p.half_width_db, say)}{say.gap}dB"


def earlier(e: Earlier, *, say: Typography, way: Ends = SENT) -> str:
    """What earlier spots told, or that there were none."""
    receivers, wider = way.fars(e.receivers or 0, say), f"{say.number(e.factor)} times"
    usual = f"{wider} the usual one, and the figures allow for it."
    if e.source == Source.ALTERNATED:
        return f"In the earlier spots {e.a} and {e.b} alternated: {receivers} gave an interval {usual}"
    if e.source == Source.DEALT:
        return f"Setups dealt out to the earlier spots by coin: {receivers} would have been paired, with an interval {usual}"
    if e.source == Source.TOO_FEW:
        reported = "reported" if way is SENT else "were heard"
        return (
            f"The earlier spots are too few to show how much the band moves; {receivers} {reported} "
            f"{e.regular_reports} times or more."
        )
    return f"The number of {way.far}s is assumed; earlier spots would make this your own figure."


def document(p: Plan, way: Ends = SENT) -> dict[str, Any]:
    """The plan as `reach plan --json` prints it: its fields, `sentences`, `advice`, and a `text` in `from_spots`."""
    plain = p.to_dict()
    plain["from_spots"]["text"] = earlier(p.from_spots, say=TERMINAL, way=way)
    return {**plain, "sentences": list(everything(p, say=TERMINAL, way=way)), "advice": list(advice(way, len(p.bands)))}


def _short(value: float, say: Typography) -> str:
    """A number with as many digits as it needs, two at most: '1', '0.5', '2.25'."""
    return say.number(value, next(digits for digits in (0, 1, 2) if digits == 2 or round(value, digits) == value))

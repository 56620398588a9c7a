"""A plan in words: the hours first, then what they rest on, then advice."""

from __future__ import annotations

from typing import Any, Final

from reach.base.tongue import Phrase
from reach.base.words import PRINT, TERMINAL, Typography
from reach.compare.plan import FITTED_HOURS, TURNS_FACTOR, Earlier, Plan, Source
from reach.tell.sentences.comparison import about_hours
from reach.tell.sentences.direction import HEARD, SENT, Ends

ADVICE: Final = (
    Phrase("Change as quickly as the equipment allows: a band changes by several dB within the hour."),
    Phrase("Let a coin decide which setup starts each pair of blocks; the schedule has tossed it."),
    Phrase("Keep power, frequency, mode and everything else equal; measure the power at the radio for both."),
    Phrase(
        "Note every change, also the unwanted ones, with its time in UTC: a row of the schedule is on the air from its "
        "start "
        "up to its end."
    ),
    Phrase("Length of the session counts first, receivers second; more reports in the same minutes hardly help."),
    Phrase(
        "Keep the order that was drawn: a strict A-B-A-B is the same plan when shifted by one block, so that the reports "
        "could not "
        "tell a clock that is wrong from the other setup being better."
    ),
)


IN_TURN: Final = Phrase(
    "On every second visit to a band the order of the setups is reversed (A-B, then B-A), so that what the band does "
    "within a "
    "visit falls on both; keep it so."
)


_ADVICE_HEARING: Final = {
    2: Phrase("Keep frequency, mode, radio and its settings the same for both."),
    3: Phrase(
        "Note every change, also the unwanted ones, with its time in UTC: a row of the schedule counts from its start up "
        "to its end."
    ),
    4: Phrase("Length of the session counts first, transmitters second; more reports in the same minutes hardly help."),
}


def advice(way: Ends = SENT, bands: int = 1, *, say: Typography = PRINT) -> tuple[str, ...]:
    """What to do besides, most telling first. bands : gone through in turn"""
    more = (IN_TURN,) if bands > 1 else ()
    listening = {} if way is SENT else _ADVICE_HEARING
    return tuple(say.text(one) for one in (*(listening.get(k, one) for k, one in enumerate(ADVICE)), *more))


def everything(p: Plan, *, say: Typography, way: Ends = SENT) -> tuple[str, ...]:
    """The answer, what it rests on, and how far it may be off; with several bands how they take turns.

    way : who hears whom
    """
    off = say.text(
        "Two sessions in three come out within a factor of {factor} of that; allow for a wider one.",
        factor=say.number(1.5),
    )
    return (answer(p, say=say, way=way), *in_turn(p, say=say), earlier(p.from_spots, say=say, way=way), off)


def in_turn(p: Plan, *, say: Typography) -> tuple[str, ...]:
    """How the bands are gone through and what that costs; nothing for one band."""
    if p.return_min is None:
        return ()
    visit, again = 2 * p.block_min, p.return_min
    heard = (
        say.text("{minutes} minutes", minutes=_short(again, say))
        if again < 120
        else say.text("{hours} hours", hours=_short(again / 60, say))
    )
    return (
        say.text(
            "Through {bands} bands in turn ({names}), {visit} minutes each, so each band is heard every {heard}. That "
            "makes the interval of all together {turns_factor} times as wide as on one band; a verdict for each band "
            "takes {bands} times the hours of one.",
            bands=say.count(len(p.bands)),
            names=", ".join(p.bands),
            visit=_short(visit, say),
            heard=heard,
            turns_factor=say.number(TURNS_FACTOR, 2),
        ),
    )


def answer(p: Plan, *, say: Typography, way: Ends = SENT) -> str:
    """How long to alternate, in how many blocks."""
    beyond = (
        say.text(
            " That is beyond the {fitted_hours} hours that the law was fitted to: take it as an order of magnitude.",
            fitted_hours=say.count(FITTED_HOURS),
        )
        if p.hours > FITTED_HOURS
        else ""
    )
    return say.text(
        "For {half_width} ({share}) with {fars} that are heard with both setups: alternate for {about_hours}, {blocks} blocks "
        "of {minutes} minutes.{beyond}"
        if way is HEARD
        else "For {half_width} ({share}) with {fars} that hear both setups: alternate for {about_hours}, {blocks} blocks of "
        "{minutes} minutes.{beyond}",
        half_width=half_width(p, say=say),
        share=say.share(0.95),
        fars=way.fars(p.receivers, say),
        about_hours=about_hours(p.hours, say=say),
        blocks=say.count(p.blocks),
        minutes=_short(p.block_min, say),
        beyond=beyond,
    )


def half_width(p: Plan, *, say: Typography) -> str:
    """What is wanted: '+/-1 dB'."""
    return f"{say.plus_minus}{_short(p.half_width_db, say)}{say.gap}dB"


def earlier(e: Earlier, *, say: Typography, way: Ends = SENT) -> str:
    """What earlier spots told, or that there were none."""
    receivers, factor = way.fars(e.receivers or 0, say), say.number(e.factor)
    if e.source == Source.ALTERNATED:
        return say.text(
            "In the earlier spots {a} and {b} alternated: {receivers} gave an interval {factor} times the usual one, and the "
            "figures allow for it.",
            a=e.a,
            b=e.b,
            receivers=receivers,
            factor=factor,
        )
    if e.source == Source.DEALT:
        return say.text(
            "Setups dealt out to the earlier spots by coin: {receivers} would have been paired, with an interval {factor} "
            "times the usual one, and the figures allow for it.",
            receivers=receivers,
            factor=factor,
        )
    if e.source == Source.TOO_FEW:
        return say.text(
            "The earlier spots are too few to show how much the band moves; {receivers} reported {regular_reports} times or "
            "more."
            if way is SENT
            else "The earlier spots are too few to show how much the band moves; {receivers} were heard {regular_reports} "
            "times or more.",
            receivers=receivers,
            regular_reports=e.regular_reports,
        )
    return say.text(
        "The number of {fars} is assumed; earlier spots would make this your own figure.", fars=way.far_many
    )


def document(p: Plan, way: Ends = SENT) -> dict[str, Any]:
    """The plan as `reach plan --json` prints it: its fields, `sentences`, `advice`, and a `text` in `from_spots`."""
    plain = p.to_dict()
    plain["from_spots"]["text"] = earlier(p.from_spots, say=TERMINAL, way=way)
    return {
        **plain,
        "sentences": list(everything(p, say=TERMINAL, way=way)),
        "advice": list(advice(way, len(p.bands), say=TERMINAL)),
    }


def _short(value: float, say: Typography) -> str:
    """A number with as many digits as it needs, two at most: '1', '0.5', '2.25'."""
    return say.number(value, next(digits for digits in (0, 1, 2) if digits == 2 or round(value, digits) == value))

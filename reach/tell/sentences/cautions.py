"""The safety cautions, in one place: README, command line, page, slides and handout all show these texts.

They are cautions. They defer to local codes and to licensed practice and are no advice on compliance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography
from reach.radio.power import END_OHM, end_voltage_v

USUAL_W: Final = 5.0  # the power spoken of where none is known
CLOSING: Final = Phrase(
    "These are cautions, not advice on compliance: local electrical and building codes, your licence and your "
    "country's exposure rules decide; where you are unsure, ask a licensed electrician or an experienced licensed "
    "amateur."
)


@dataclass(frozen=True)
class Caution:
    """One caution: a short title and its text."""

    title: str
    text: str


def cautions(power_w: float = USUAL_W, say: Typography = PRINT) -> tuple[Caution, ...]:
    """The cautions for a power at the radio [W], in the order in which they are shown. LineError where not above 0."""
    near, far = (f"{say.number(end_voltage_v(power_w, ohm), 0)}{say.gap}V" for ohm in END_OHM)
    low, high = (say.text("{ohm}{gap}ohm", ohm=say.number(ohm, 0)) for ohm in END_OHM)
    return (
        Caution(
            say.text("Power lines"),
            say.text(
                "Keep every wire, mast and throwing line so far from power lines, the drop to the house included, that "
                "nothing can touch them if it falls, swings or slips; common practice is to stay one and a half times its "
                "length away, or more. What your local electrical code or network operator demands comes first.",
            ),
        ),
        Caution(
            say.text("Lightning and bonding"),
            say.text(
                "Before a thunderstorm disconnect the feedline and leave it outside. Bond mast and feedline to the "
                "building's earth as the local electrical code asks; an earth rod of its own is no substitute for that.",
            ),
        ),
        Caution(
            say.text("Exposure to radio waves"),
            say.text(
                "Limits, and how they are assessed, differ from country to country; a low power alone does not settle the "
                "question. Keep people a few metres from the wires while you transmit, and look up what your country asks.",
            ),
        ),
        Caution(
            say.text("Voltage at wire ends"),
            say.text(
                "The end of a wire is hot with radio frequency: {power_w}{gap}W into {low} is {near} rms, into {high} "
                "{far}. Keep ends insulated and out of reach of people and animals.",
                power_w=say.plain(power_w),
                low=low,
                near=near,
                high=high,
                far=far,
            ),
        ),
    )


def lines(power_w: float = USUAL_W, say: Typography = PRINT) -> list[str]:
    """The cautions and the closing sentence as plain text, one string each."""
    return [*(f"{each.title}: {each.text}" for each in cautions(power_w, say)), say.text(CLOSING)]

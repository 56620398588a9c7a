"""The safety cautions, in one place: README, command line, page and slides all show these texts.

They are cautions. They defer to local codes and to licensed practice and are no advice on compliance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from reach.errors import LineError

# Impedance at the end of a half-wave wire, by order of size (common practice): what a 49 : 1 transformer is made for,
# and a value at the upper end.
END_OHM: Final = (2450.0, 4000.0)

CLOSING: Final = (
    "These are cautions, not advice on compliance: local electrical and building codes, your licence and your "
    "country's exposure rules decide; where you are unsure, ask a licensed electrician or an experienced licensed "
    "amateur."
)


@dataclass(frozen=True)
class Caution:
    """One caution: a short title and its text."""

    title: str
    text: str


def end_voltage_v(power_w: float, resistance_ohm: float) -> float:
    """RMS voltage of a power in a resistance [V].

    power_w, resistance_ohm : above 0
    Returns sqrt(P R): 5 W into 2450 ohm is 111 V. LineError where either is not above 0 or not finite.
    """
    for value, what in ((power_w, "a power in watts"), (resistance_ohm, "a resistance in ohms")):
        if not (math.isfinite(value) and value > 0):
            raise LineError(f"{value:g} cannot be {what}: it is a number above 0")
    return math.sqrt(power_w * resistance_ohm)


def cautions(power_w: float = 5.0) -> tuple[Caution, ...]:
    """The cautions for a power at the radio [W], in the order in which they are shown. LineError where not above 0."""
    volts = [end_voltage_v(power_w, ohm) for ohm in END_OHM]
    return (
        Caution(
            "Power lines",
            "Keep every wire, mast and throwing line so far from power lines, the drop to the house included, that "
            "nothing can touch them if it falls, swings or slips; common practice is to stay one and a half times its "
            "length away, or more. What your local electrical code or network operator demands comes first.",
        ),
        Caution(
            "Lightning and bonding",
            "Before a thunderstorm disconnect the feedline and leave it outside. Bond mast and feedline to the "
            "building's earth as the local electrical code asks; an earth rod of its own is no substitute for that.",
        ),
        Caution(
            "Exposure to radio waves",
            "Limits, and how they are assessed, differ from country to country; a low power alone does not settle the "
            "question. Keep people a few metres from the wires while you transmit, and look up what your country asks.",
        ),
        Caution(
            "Voltage at wire ends",
            f"The end of a wire is hot with radio frequency: {power_w:g} W into {END_OHM[0]:.0f} ohm is "
            f"{volts[0]:.0f} V rms, into {END_OHM[1]:.0f} ohm {volts[1]:.0f} V. Keep ends insulated and out of reach "
            "of people and animals.",
        ),
    )


def lines(power_w: float = 5.0) -> list[str]:
    """The cautions and the closing sentence as plain text, one string each."""
    return [*(f"{each.title}: {each.text}" for each in cautions(power_w)), CLOSING]


def markdown(power_w: float = 5.0) -> str:
    """The cautions as a Markdown list with the closing sentence after it, for README."""
    items = [f"- **{each.title}.** {each.text}" for each in cautions(power_w)]
    return "\n".join([*items, "", CLOSING]) + "\n"

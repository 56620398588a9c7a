"""How long a wire or whip should be: starting lengths, and how much to trim after measuring.

All of it is common practice: the resonant length of a wire is inversely proportional to its frequency, and a real wire
resonates a little shorter than in free space, because of its ends and its surroundings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from reach.errors import LineError
from reach.radio.feedline import LIGHT_M_PER_US, check_frequency_mhz

# The usual rules, 234 / f and 468 / f feet (f in MHz; common practice): a thin wire at moderate height. They stand for
# an end correction of about 5 per cent; insulation, thickness and the ground shift it by several per cent more.
QUARTER_WAVE_M_MHZ: Final = 234 * 0.3048
HALF_WAVE_M_MHZ: Final = 468 * 0.3048
# Beyond this the dip that was measured is hardly the resonance that was meant: another band's, or a harmonic.
FAR_PERCENT: Final = 25.0


@dataclass(frozen=True)
class StartingLength:
    """Where to begin with a wire, in metres, and the same in free space."""

    frequency_mhz: float
    quarter_wave_m: float
    half_wave_m: float
    free_quarter_wave_m: float
    free_half_wave_m: float


def starting_length(frequency_mhz: float) -> StartingLength:
    """Quarter- and half-wave lengths with the usual end correction.

    frequency_mhz : above 0
    Returns StartingLength. LineError where the frequency cannot be.
    Source: wavelength = c / f; 234 / f and 468 / f feet (common practice).
    """
    f = check_frequency_mhz(frequency_mhz)
    wave_m = LIGHT_M_PER_US / f
    return StartingLength(f, QUARTER_WAVE_M_MHZ / f, HALF_WAVE_M_MHZ / f, wave_m / 4, wave_m / 2)


@dataclass(frozen=True)
class Trim:
    """How much longer (above 0) or shorter (below 0) an element should become.

    change_percent  of its present length
    change_m        in metres, None where the present length was not given
    """

    resonant_mhz: float
    wanted_mhz: float
    change_percent: float
    change_m: float | None = None

    @property
    def is_far(self) -> bool:
        """Whether the step is so large that the dip that was measured is to be doubted."""
        return abs(self.change_percent) > FAR_PERCENT


def trim(resonant_mhz: float, wanted_mhz: float, *, length_m: float | None = None) -> Trim:
    """Trim advice for a resonant wire or whip.

    resonant_mhz, wanted_mhz : where it is resonant, and where it should be
    length_m : its present length, where known
    Returns Trim. LineError where a frequency or the length cannot be.
    14.150 to 14.050 MHz is 0.7 % longer. Source: length is inversely proportional to frequency (common practice).
    """
    change = check_frequency_mhz(resonant_mhz) / check_frequency_mhz(wanted_mhz) - 1
    if length_m is not None and not (math.isfinite(length_m) and length_m > 0):
        raise LineError(f"an element of {length_m:g} m cannot be: its length is a number of metres above 0")
    return Trim(resonant_mhz, wanted_mhz, change * 100, None if length_m is None else change * length_m)

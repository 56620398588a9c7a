"""Numbers and moments in words, once for each medium.

Sentences never write a number themselves: they ask a `Typography`. `PRINT` is what pictures, page, slides and handout
use, `TERMINAL` what a terminal, a CSV file and JSON use, where the finer characters are not always there. The functions
of this module are those of `PRINT`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK: Final = "\N{NO-BREAK SPACE}"
EN_DASH: Final = "\N{EN DASH}"
MINUS: Final = "\N{MINUS SIGN}"
_LONGEST: Final = 40  # characters of a quoted cell
_POINTS: Final = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()


@dataclass(frozen=True)
class Typography:
    """How one medium writes numbers.

    thousands  between groups of three digits; gap : between a number and its unit; blank : where a line must not break
    minus, plus_minus, dash  the signs; code : round the name of a command
    """

    thousands: str
    gap: str
    blank: str
    minus: str
    plus_minus: str
    dash: str
    code: str

    def count(self, value: float) -> str:
        """A whole number: '12 345'."""
        return f"{value:,.0f}".replace("-", self.minus).replace(",", self.thousands)

    def km(self, value: float) -> str:
        """A distance: '1 480 km', to 10 km from 1 000 km on, to 1 km below."""
        rounded = round(value, -1) if abs(value) >= 1000 else value
        return f"{self.count(rounded)}{self.gap}km"

    def km_span(self, low: float, high: float) -> str:
        """Two distances: '1 390 to 1 610 km'."""
        return f"{self.km(low).removesuffix(f'{self.gap}km')} to {self.km(high)}"

    def distance(self, value_km: float, uncertainty_km: float) -> str:
        """'17 020 ± 9 km': a distance with the uncertainty of its locators, which is rounded up to whole kilometres."""
        within = max(1, math.ceil(uncertainty_km))
        return f"{self.count(value_km)}{self.blank}{self.plus_minus}{self.blank}{self.count(within)}{self.gap}km"

    def bearing(self, bearing_deg: float, within_deg: float) -> str:
        """'12° ± 3°, or the other way round at 192°': a bearing near the antipode, with its uncertainty and its opposite."""
        if within_deg >= 90:
            return "any bearing: it is as good as the antipode"
        within = f"{self.plus_minus}{self.blank}{max(1, math.ceil(within_deg))}°"
        return (
            f"{bearing_deg % 360:.0f}°{self.blank}{within}, or the other way round at {(bearing_deg + 180) % 360:.0f}°"
        )

    def number(self, value: float, digits: int = 1) -> str:
        """A number with so many digits; what rounds to nothing has no sign."""
        return f"{round(value, digits) + 0.0:.{digits}f}".replace("-", self.minus)

    def plain(self, value: float) -> str:
        """A number as it was given, in as few characters as it takes: '14.1', '20', '−8'."""
        return f"{value:g}".replace("-", self.minus)

    def signed(self, value: float, digits: int = 1) -> str:
        """A number with its sign: '+2.4', '−1.0'; what rounds to nothing has none: '0.0'."""
        text = f"{value:+.{digits}f}" if round(value, digits) else f"{0:.{digits}f}"
        return text.replace("-", self.minus)

    def db(self, value: float, digits: int = 0) -> str:
        """A level: '−12 dB'."""
        return f"{self.number(value, digits)}{self.gap}dB"

    def db_signed(self, value: float, digits: int = 1) -> str:
        """A difference: '+2.4 dB'."""
        return f"{self.signed(value, digits)}{self.gap}dB"

    def limits(self, low: float, high: float, unit: bool = True) -> str:
        """The ends of an interval of a difference: '-0.4 to +1.6 dB'. An end that is not 0 never reads as 0: '+0.04 to +3.2 dB',
        since whether an interval leaves 0 out is what it is read for."""
        span = f"{self.signed(low, digits_for(low))} to {self.signed(high, digits_for(high))}"
        return f"{span}{self.gap}dB" if unit else span

    def watt(self, value: float) -> str:
        """A power: '5 W', '4.3 W', '200 mW'."""
        if value < 0.9995:  # from there on it rounds to 1 W, and "1000 mW" is no way to say that
            milli = value * 1000
            return f"{milli:.0f}{self.gap}mW" if milli >= 0.95 else f"{milli:.2g}{self.gap}mW"
        return f"{value:.1f}".removesuffix(".0") + f"{self.gap}W"

    def things(self, value: float, one: str, many: str | None = None) -> str:
        """'1 report', '1 480 reports'."""
        return f"{self.count(value)} {one if value == 1 else many or one + 's'}"

    def share(self, part: float, whole: float = 1.0) -> str:
        """'62 %'; a share that is small but not none is '<1 %'."""
        percent = 100 * part / whole if whole else 0.0
        return f"<1{self.gap}%" if 0 < percent < 0.5 else f"{percent:.0f}{self.gap}%"

    def day(self, moment: date) -> str:
        """'9 May 2026'."""
        return f"{moment.day} {moment:%B %Y}".replace(" ", self.blank)

    def period(self, first: datetime, last: datetime) -> str:
        """From when to when, in UTC, as short as it can be said."""
        if first.date() == last.date():
            return f"{self.day(first)}, {first:%H:%M}{self.dash}{last:%H:%M} UTC"
        if (first.year, first.month) == (last.year, last.month):
            return f"{first.day}{self.dash}{self.day(last)}"
        return f"{self.day(first)} {self.dash} {self.day(last)}"

    def command(self, text: str) -> str:
        """The name of a command."""
        return f"{self.code}{text}{self.code}"


PRINT: Final = Typography(THIN, THIN, NO_BREAK, MINUS, "±", EN_DASH, "")
TERMINAL: Final = Typography(",", " ", " ", "-", "+/-", "-", "`")

count, km, number, signed = PRINT.count, PRINT.km, PRINT.number, PRINT.signed
db_signed, watt, things, share = PRINT.db_signed, PRINT.watt, PRINT.things, PRINT.share


def digits_for(value: float, least: int = 1, most: int = 4) -> int:
    """How many digits behind the point a number needs so that it does not read as 0, unless it is as good as that."""
    return next((digits for digits in range(least, most) if round(value, digits)), least)


def listed(names: Sequence[str], last: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'; '' for none."""
    return f"{', '.join(names[:-1])} {last} {names[-1]}" if len(names) > 1 else "".join(names)


def compass(bearing_deg: float) -> str:
    """The nearest of sixteen compass points: 'NNE'."""
    return _POINTS[int(((bearing_deg % 360) + 11.25) // 22.5) % 16]


def hour(which: int) -> str:
    """An hour of the day: '21:00 and 22:00', what lies between."""
    return f"{which:02d}:00 and {(which + 1) % 24:02d}:00"


def quoted(text: str) -> str:
    """A cell as an explanation shows it: in quotes, on one line, shortened where it would drown the sentence."""
    return repr(text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "...")

"""Numbers and moments as pictures write them."""

from __future__ import annotations

import re
from datetime import datetime

from reach.compare import wording

THIN = "\N{NARROW NO-BREAK SPACE}"
NO_BREAK = "\N{NO-BREAK SPACE}"
EN_DASH = "\N{EN DASH}"
MINUS = "\N{MINUS SIGN}"


def count(value: float) -> str:
    """12345 -> '12 345' with thin no-break spaces."""
    return f"{value:,.0f}".replace(",", THIN)


def spaced(text: str) -> str:
    """A sentence written for a terminal as pictures, page and slides write it: '3,000 km' becomes '3 000 km', and the
    marks round the name of a command go."""
    return re.sub(r"(?<=\d),(?=\d{3}(?!\d))", THIN, text).replace("`", "")


def km(value: float) -> str:
    """A distance: '1 480 km', to 10 km from 1 000 km on, to 1 km below; the space never breaks."""
    rounded = round(value, -1) if abs(value) >= 1000 else value
    return f"{count(rounded)}{THIN}km"


def db(value: float, digits: int = 0) -> str:
    """A level: '−12 dB'."""
    return f"{value:.{digits}f}{THIN}dB".replace("-", MINUS)


def signed(value: float, digits: int = 1) -> str:
    """A number with its sign: '+2.4', '−1.0'; what rounds to nothing has none: '0.0'."""
    return wording.signed(value, digits).replace("-", MINUS)


def db_signed(value: float, digits: int = 1) -> str:
    """A difference: '+2.4 dB'."""
    return f"{signed(value, digits)}{THIN}dB"


def watt(value: float) -> str:
    """A power: '5 W', '4.3 W', '200 mW'."""
    if value < 1:
        return f"{value * 1000:.0f}{THIN}mW"
    return f"{value:.1f}".removesuffix(".0") + f"{THIN}W"


def things(value: float, one: str, many: str | None = None) -> str:
    """'1 report', '1 480 reports'."""
    return f"{count(value)} {one if value == 1 else many or one + 's'}"


def share(part: float, whole: float) -> str:
    """'62 %'; a share that is small but not none is '<1 %'."""
    if not whole:
        return f"0{THIN}%"
    percent = 100 * part / whole
    return f"<1{THIN}%" if 0 < percent < 0.5 else f"{percent:.0f}{THIN}%"


def day(moment: datetime) -> str:
    """'9 May 2026'."""
    return f"{moment.day} {moment:%B %Y}".replace(" ", NO_BREAK)


def period(first: datetime, last: datetime) -> str:
    """From when to when, in UTC, as short as it can be said."""
    if first.date() == last.date():
        return f"{day(first)}, {first:%H:%M}{EN_DASH}{last:%H:%M} UTC"
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}{EN_DASH}{day(last)}"
    return f"{day(first)} {EN_DASH} {day(last)}"


def listed(names: list[str], last: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def compass(bearing_deg: float) -> str:
    """The nearest of sixteen compass points: 'NNE'."""
    points = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()
    return points[int(((bearing_deg % 360) + 11.25) // 22.5) % 16]

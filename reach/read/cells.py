"""What one cell may be: a number with its unit, a locator, a callsign, a band. Nothing here knows of columns."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Final, NamedTuple

from reach.base import bands
from reach.read.lexicon import UNITS, folded

_SIGNS: Final = str.maketrans(
    {
        "\u2212": "-",
        "\u2013": "-",
        "\u2010": "-",
        "\u2011": "-",
        "\u2012": "-",
        "\u2014": "-",
        "\u02d7": "-",
        "\u2019": "'",
    }
)
_FORMULA: Final = re.compile(r'="?([^"]*)"?')  # how a spreadsheet is made to keep a text as it is
_NUMBER: Final = re.compile(r"([-+]?) ?(\d[\d.,' ]*|[.,]\d+)(e[-+]?\d{1,2})? ?([^\d\s.,'-]{0,9})\.?", re.IGNORECASE)
_GROUPED: Final = re.compile(r"\d{1,3}(?:[ ']\d{3})+(?:[.,]\d+)?")
_THOUSANDS: Final = {"km", "mi", "hz", "m"}  # units of which there are thousands, so that 14.087 is many
_LOCATOR: Final = re.compile(r"[A-R]{2}\d\d(?:[A-X]{2}(?:\d\d(?:[A-X]{2})?)?)?", re.IGNORECASE | re.ASCII)
# A prefix with a letter, a number, a suffix ending in a letter, and what stands before and behind strokes. More generous
# than the rule for a row: here it tells a column of callsigns from other columns and judges none of them.
_CALL: Final = re.compile(
    r"(?:[A-Z0-9]{1,4}/)?(?:[A-Z]{1,2}|\d[A-Z]{1,2}|[A-Z]\d)\d{1,4}[A-Z0-9]{0,5}[A-Z](?:-[A-Z0-9]{1,2})?(?:/[A-Z0-9]{1,5}){0,3}",
    re.IGNORECASE | re.ASCII,
)
_LISTENER: Final = re.compile(
    r"(?=.*\d)(?=.*[A-Z])[A-Z0-9]{2,12}(?:[-/_][A-Z0-9]{1,10}){0,2}", re.IGNORECASE | re.ASCII
)
_WAVE: Final = re.compile(r"(\d{1,4}(?:[.,]\d{1,2})?) ?(mm|cm|m)(?: ?[-]?(?:band|bande|banda))?", re.IGNORECASE)
_METRES: Final = re.compile(r"(\d{1,4}) ?(?:met|mèt|м|メートル|米|미터)\S*", re.IGNORECASE)
_MHZ: Final = {"hz": 1e-6, "khz": 1e-3, "mhz": 1.0, "ghz": 1e3}
# What people call a band by its megahertz: not always a frequency inside it.
_BY_MHZ: Final = {
    1.8: "160m", 3.5: "80m", 5: "60m", 7: "40m", 10: "30m", 14: "20m", 18: "17m", 21: "15m", 24: "12m", 28: "10m",
    50: "6m", 70: "4m", 144: "2m", 432: "70cm", 430: "70cm", 1296: "23cm",
}  # fmt: skip


class Number(NamedTuple):
    """A number and its unit, one of the values of lexicon.UNITS or "" where the cell names none."""

    value: float
    unit: str
    digits: str  # as written, without sign and marks
    whole: bool


@lru_cache(maxsize=1 << 16)
def tidy(text: str) -> str:
    """A cell as people read it: no odd blanks, minus signs, widths, or what keeps a spreadsheet from meddling."""
    plain = unicodedata.normalize("NFKC", text.replace("\ufeff", "")).translate(_SIGNS)
    plain = " ".join(plain.split())
    if plain.startswith("="):
        found = _FORMULA.fullmatch(plain)
        plain = found[1] if found else plain
    return plain.removeprefix("'").strip()


def number(text: str) -> Number | None:
    """The number a tidy cell says, with the unit behind it; None where it is none.

    Of two marks the last is the decimal one; a mark that comes twice is none; one mark with three digits behind it is
    decimal, but before a unit of which there are thousands (km, miles, Hz).
    """
    found = _NUMBER.fullmatch(text)
    if not found:
        return None
    sign, body, power, word = found.groups()
    unit = UNITS.get(folded(word), "") if word else ""
    if word and not unit:
        return None
    plain = _decimal(body.strip(), unit)
    if plain is None:
        return None
    value = float(f"{sign}{plain}{power or ''}")
    return Number(value, unit, re.sub(r"\D", "", body), "." not in plain and not power)


def _decimal(body: str, unit: str) -> str | None:
    if " " in body or "'" in body:
        if not _GROUPED.fullmatch(body):
            return None
        body = body.replace(" ", "").replace("'", "")
    dots, commas = body.count("."), body.count(",")
    if dots and commas:
        mark = "." if body.rfind(".") > body.rfind(",") else ","
        other = "," if mark == "." else "."
        return None if body.count(mark) > 1 else body.replace(other, "").replace(mark, ".")
    mark = "." if dots else ","
    if dots + commas > 1:
        return body.replace(mark, "") if re.fullmatch(rf"\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+", body) else None
    if dots + commas == 1 and unit in _THOUSANDS and re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", body):
        return body.replace(mark, "")
    return body.replace(",", ".")


def is_locator(text: str) -> bool:
    """Whether a tidy cell is a locator of 4 to 10 characters."""
    return _LOCATOR.fullmatch(text) is not None


def is_callsign(text: str) -> bool:
    """Whether a tidy cell looks like a callsign; a locator of six characters does not."""
    return _CALL.fullmatch(text) is not None and not is_locator(text)


def is_listener(text: str) -> bool:
    """Whether a tidy cell may be a listener's identifier: letters and digits, and neither locator nor band."""
    return _LISTENER.fullmatch(text) is not None and not is_locator(text) and not number(text)


def megahertz(value: float, unit: str) -> float:
    """A frequency [MHz]."""
    return round(value * _MHZ[unit], 9)


@lru_cache(maxsize=4096)
def band(text: str) -> str | None:
    """The band that a tidy cell names with its unit: 20m, 70 cm, 14 MHz, 20 mètres; None where it names none."""
    if found := _WAVE.fullmatch(text):
        name = f"{float(found[1].replace(',', '.')):g}{found[2].lower()}"
        return name if name in bands.names() else None
    if found := _METRES.fullmatch(text):
        return f"{int(found[1])}m" if f"{int(found[1])}m" in bands.names() else None
    said = number(text)
    if said and said.unit in ("mhz", "ghz", "khz"):
        mhz = megahertz(said.value, said.unit)
        return bands.band_anywhere(mhz) or _BY_MHZ.get(mhz)
    return None


def bare_band(value: float) -> tuple[str | None, str | None]:
    """The bands a bare number may name: as a wavelength in metres, and by its megahertz."""
    wave = f"{value:g}m"
    return wave if wave in bands.names() else None, bands.band_anywhere(value) or _BY_MHZ.get(value)

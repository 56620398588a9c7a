"""Positions as people write them: degrees with decimals, degrees and minutes, or with seconds; signs, or letters of the compass."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Final

from reach.errors import LocatorError

EXAMPLES: Final = "51.77 -9.63, or 51° 46.2' N 9° 37.8' W"
_LONGEST: Final = 100  # characters
_MINUS: Final = "-\u2010\u2011\u2012\u2013\u2212"
_NUMBER: Final = re.compile(rf"[{_MINUS}+]?\d+(?:[.,]\d+)?")
_SIGNS: Final = re.compile("[°º\u02da'\u00b4\u2032\u2019\u2018\"\u2033\u201d\u201c:]")  # of degrees, minutes, seconds
_COMPASS: Final = {"N": ("lat", 1), "S": ("lat", -1), "E": ("lon", 1), "W": ("lon", -1)}
_LONG: Final = {"NORTH": "N", "SOUTH": "S", "EAST": "E", "WEST": "W"}
_AXES: Final = {"LAT": "lat", "LATITUDE": "lat", "LON": "lon", "LONG": "lon", "LNG": "lon", "LONGITUDE": "lon"}
_IDLE: Final = {"GEO", "DEG", "DEGREES", "MIN", "SEC"}
_LIMITS: Final = {"lat": 90.0, "lon": 180.0}
_TWO: Final = "two angles are wanted, a latitude and a longitude"


@dataclass(frozen=True)
class _Angle:
    """degrees : without the sign of a letter; minus : that it has a sign of its own; axis, sign : as a letter or a word says"""

    degrees: float
    minus: bool
    axis: str = ""
    sign: int = 0


def read(text: str) -> tuple[float, float]:
    """The position that a text tells: latitude first, unless letters of the compass say otherwise.

    text : such as '51.77 -9.63', '51,77; -9,63', '51° 46.2' N 9° 37.8' W', 'N51 46 12 W009 37 48', 'geo:51.77,-9.63'
    Returns (lon_deg, lat_deg), on the globe. LocatorError, one sentence, where it tells none.
    """
    if len(text) > _LONGEST:
        raise LocatorError(f"a text of {len(text):,} characters is no position; wanted is one such as {EXAMPLES}")
    try:
        angles = _angles(_tokens(text))
        axes = [angle.axis for angle in angles]
        if len(angles) != 2:
            raise ValueError(_TWO)
        if axes[0] and axes[0] == axes[1]:
            raise ValueError("one of the two has to be N or S and the other E or W")
        if axes in (["lon", "lat"], ["lon", ""], ["", "lat"]):
            angles.reverse()
        lat, lon = (_signed(angle, axis) for angle, axis in zip(angles, _LIMITS, strict=True))
    except ValueError as why:
        raise LocatorError(f"{text!r} is no position: {why}; wanted is one such as {EXAMPLES}") from None
    return lon, lat


def _tokens(text: str) -> list[str]:
    """Numbers, names of an axis, letters of the compass, and '|' where latitude and longitude are set apart."""
    rest = unicodedata.normalize("NFKC", _SIGNS.sub(" ", text))
    # A comma is the decimal's where no point is and digits stand on both sides.
    rest = re.sub(r",", "|", rest) if re.search(r"\d\.\d", rest) else re.sub(r"(?<!\d),|,(?!\d)", "|", rest)
    rest = re.sub("[;/]", "|", rest)
    found: list[str] = []
    while rest := rest.strip():
        match = _NUMBER.match(rest) or re.match(r"[^\W\d_]+|.", rest)
        assert match is not None
        rest, word = rest[match.end() :], match[0].upper()
        known = word == "|" or word[-1].isdecimal() or _LONG.get(word, word) in _COMPASS or word in _AXES
        if not known and word not in _IDLE:
            hint = " (O is west in some languages and east in others: write W or E)" if word == "O" else ""
            raise ValueError(f"{match[0]!r} is not understood{hint}")
        found += [_LONG.get(word, word)] if known else []
    letters = any(token in _COMPASS for token in found)
    return [token for token in found if not (letters and token in _AXES)]


def _angles(tokens: list[str]) -> list[_Angle]:
    plain = [token for token in tokens if token != "|"]
    if any(token in _COMPASS or token in _AXES for token in plain):
        return _named(plain)
    at = next((k for k, token in enumerate(tokens) if token == "|" and 0 < k < len(tokens) - 1), len(tokens) // 2)
    halves = [[token for token in half if token != "|"] for half in (tokens[:at], tokens[at:])]
    if len(halves[0]) != len(halves[1]) or not plain:
        raise ValueError(_TWO)
    return [_angle(half) for half in halves]


def _named(tokens: list[str]) -> list[_Angle]:
    """Angles each with its letter or word, before it or behind it, the same for both."""
    first = tokens[0] in _COMPASS or tokens[0] in _AXES
    found: list[_Angle] = []
    numbers: list[str] = []
    for token in reversed(tokens) if first else tokens:
        if token not in _COMPASS and token not in _AXES:
            numbers.append(token)
            continue
        axis, sign = _COMPASS.get(token) or (_AXES[token], 0)
        found.append(_angle(numbers[::-1] if first else numbers, axis, sign))
        numbers = []
    if numbers:
        raise ValueError("each of the two has to have its letter, N or S and E or W")
    return found[::-1] if first else found


def _angle(numbers: list[str], axis: str = "", sign: int = 0) -> _Angle:
    if not 1 <= len(numbers) <= 3 or any(not token[0].isdecimal() for token in numbers[1:]):
        raise ValueError("an angle is degrees, or degrees and minutes, or those and seconds")
    parts = [float(token.lstrip(_MINUS + "+").replace(",", ".")) for token in numbers]
    if any(part >= 60 for part in parts[1:]) or any(part != int(part) for part in parts[:-1]):
        raise ValueError("minutes and seconds run from 0 to below 60, and only the last has decimals")
    return _Angle(sum(part / 60**k for k, part in enumerate(parts)), numbers[0][0] in _MINUS, axis, sign)


def _signed(angle: _Angle, axis: str) -> float:
    if angle.minus and angle.sign:
        raise ValueError("it has a sign and a letter of the compass, and one of them says it")
    if angle.degrees > _LIMITS[axis]:
        raise ValueError("latitude runs from -90 to 90 and longitude from -180 to 180 degrees")
    return -angle.degrees if angle.minus else angle.degrees * (angle.sign or 1)

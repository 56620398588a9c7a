"""What a callsign says about where its station may be: the administration behind its prefix, and how it travels.

The series are the ITU's (Radio Regulations, Appendix 42), the rule of how many characters decide is RR 19.50.1. An
administration's overseas territories count as its own, since few of them have a series of their own. What the digit
says of the part of a country is in `call_areas`. A text that has not the shape of
a callsign (RR 19.68) is an identifier of a listener and says nothing.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from reach import data

# RR 19.50.1: for these the first character alone identifies the nationality.
_ONE_DECIDES: Final = frozenset("BFGIKMNRW2")
# Half series: the third character decides; callsigns of amateurs often have a digit there.
_THREE_DECIDE: Final = frozenset({"3D", "SS"})
_HALF_BY_DIGIT: Final = {"3D2": "FJ"}  # 3DA0 is Eswatini and read by its letter
# Allocated to an international organisation, or used by ships and bases anywhere: no country to compare with.
_ANYWHERE: Final = re.compile(r"(4U|4Y|C7|DP[01])")
# Callsigns of bases south of 60 S: those of territory AQ in call_territories.csv, and EM1, HF0, LZ0 (from memory).
_ANTARCTIC: Final = re.compile(
    r"KC4(AA[A-F]|US[A-Z])|VP8|FT[0-9]?Y|3Y|RI?1AN|VK0|ZL5|CE9|L[O-W][0-9]Z|ZS7|8J1R[LM]|OR4|EM1|HF0|LZ0"
)
# In use, though in no row of the table.
_UNLISTED: Final = {"Z6": "XK", "S0": "EH", "1A": "IT", "1B": "CY"}
# Places that the polygons show apart and where stations of these administrations are licensed as well.
_ALSO: Final = {
    "MA": {"EH"},
    "EH": {"MA"},
    "RS": {"XK"},
    "IL": {"PS"},
    "CH": {"LI"},
    "IT": {"VA", "SM"},
    "IN": {"KAS"},
    "PK": {"KAS"},
    "RU": {"CRIMEA"},
    "UA": {"CRIMEA"},
}
# Rows that give a whole country for a base inside it. The bases themselves are places of their own in `world`.
_BASES: Final = frozenset({("US", "CU"), ("GB", "CY")})

_SHAPE: Final = re.compile(r"(?:[BFGIKMNRW2]|SS[A-Z]|[A-Z]{2}|[0-9][A-Z]{1,2}|[A-Z][0-9])[0-9][A-Z0-9]{0,6}[A-Z]")
_A_LOCATOR: Final = re.compile(r"[A-R]{2}[0-9]{2}[A-X]{2}")  # a listener's identifier more often than a callsign
_PREFIX: Final = re.compile(r"(?:[BFGIKMNRW]|[A-Z]{2}|[0-9][A-Z]{1,2}|[A-Z][0-9])[0-9]?[A-Z]?")
_AFLOAT: Final = frozenset({"MM", "AM"})
_ON_THE_MOVE: Final = frozenset({"P", "M", "A", "PM"})
_SAYS_NOTHING: Final = frozenset({"QRP", "QRPP", "B", "R", "LH"})


@dataclass(frozen=True)
class Origin:
    """What one callsign says.

    administrations  ISO codes of the administrations its prefix may belong to; empty where it says nothing
    places           codes of the countries and territories, as `world` names them, where such a station may be; AQ,
                     Antarctica, only for callsigns of bases there
    roams            it signs as portable, mobile or alternative, or uses a visitor's prefix
    afloat           it signs as at sea or in the air
    """

    administrations: tuple[str, ...] = ()
    places: frozenset[str] = frozenset()
    roams: bool = False
    afloat: bool = False


def origins(calls: Iterable[str]) -> list[Origin]:
    """What each callsign says about where its station may be.

    calls : n texts, in any case
    Returns n Origins; an Origin without places for identifiers that are no callsigns, for unallocated series, for
    international organisations and for stations at sea or in the air.
    """
    return [origin(str(call)) for call in calls]


def administrations(calls: Iterable[str]) -> npt.NDArray[np.object_]:
    """The ISO 3166 code of the administration behind each callsign, "" where it says none or leaves two open.

    calls : n texts. Returns an object array of str, shape (n,). The country of the visitor's prefix in F/EI4QTB is FR.
    """
    found = [o.administrations for o in origins(calls)]
    return np.array([codes[0] if len(codes) == 1 else "" for codes in found], dtype=object)


@lru_cache(maxsize=1 << 20)
def origin(call: str) -> Origin:
    """What one callsign says; see `origins`."""
    return _shared(_origin(call))


@cache
def _shared(told: Origin) -> Origin:
    """The same for all that say the same: a million callsigns say a few hundred things."""
    return told


def _origin(call: str) -> Origin:
    parts, endings = _parts(call)
    afloat = bool(_AFLOAT & endings)
    roams = afloat or bool(_ON_THE_MOVE & endings) or len(parts) > 1
    deciding = _deciding(parts)
    if afloat or not deciding or any(_ANYWHERE.match(part) for part in deciding):
        return Origin(roams=roams, afloat=afloat)
    found = [administration for part in deciding if (administration := _administration(part))]
    if len(found) < len(deciding):  # a part that nobody allocated leaves the place open
        return Origin(roams=roams)
    places = frozenset[str]().union(*(_places()[code] for code in found))
    if any(_ANTARCTIC.match(part) for part in parts):
        places |= {"AQ"}
    return Origin(tuple(dict.fromkeys(found)), places, roams)


def _parts(call: str) -> tuple[list[str], set[str]]:
    """The parts of a callsign that may name a place, and the endings that tell how it travels.

    Only behind the first part is M, P or A an ending: M/EI4QTB is in England, EI4QTB/M in a car.
    """
    text = re.sub(r"-[0-9]+$", "", call.strip().upper())  # a second receiver of the same station: EI4QTB-2
    first, *rest = [part for part in text.split("/") if part] or [""]
    endings = {part for part in rest if part in _AFLOAT | _ON_THE_MOVE | _SAYS_NOTHING or re.fullmatch("[0-9]", part)}
    return [first] + [part for part in rest if part not in endings], endings


def _deciding(parts: list[str]) -> list[str]:
    """The parts that name the place: the prefix beside a callsign, the callsign alone, both where it is unclear.

    Empty where no part has the shape of a callsign: then it is an identifier of another kind.
    """
    whole = [part for part in parts if _SHAPE.fullmatch(part) and not _A_LOCATOR.fullmatch(part)]
    if not whole or len(parts) > 2:
        return []
    if len(whole) == len(parts):
        return whole
    other = next(part for part in parts if part not in whole)
    if not _PREFIX.fullmatch(other):
        return []  # a second part that is no prefix leaves the place open
    # EI4QTB/VP9 is in Bermuda; EI4QTB/RX may be in Russia, but more likely RX is a word of its own.
    sure = other == parts[0] or any(character.isdigit() for character in other)
    return [other] if sure else [*whole, other]


def _administration(part: str) -> str | None:
    """The administration of a callsign or prefix by its deciding characters; None where nobody has the series."""
    if part[0] in _ONE_DECIDES:
        return _series()[part[0]]
    two, three = part[:2], part[:3]
    if two in _THREE_DECIDE:
        return _HALF_BY_DIGIT.get(three, _series().get(three))
    return _UNLISTED.get(two, _series().get(two))


def _rows(name: str) -> Iterator[dict[str, str]]:
    yield from csv.DictReader(io.StringIO(data.read_text(name)))


@cache
def _series() -> dict[str, str]:
    """From the deciding characters (1, 2 or 3 of them) to the administration's ISO code."""
    series = {}
    for row in _rows("itu_call_series.csv"):
        first, last, code = row["first_prefix"], row["last_prefix"], row["iso3166_alpha2"]
        code = _parents().get(code, code)
        if first[0] in _ONE_DECIDES:
            series[first[0]] = code
        for second in range(ord(first[1]), ord(last[1]) + 1):
            two = first[0] + chr(second)
            if two in _THREE_DECIDE:
                lowest = first[2] if second == ord(first[1]) else "A"
                highest = last[2] if second == ord(last[1]) else "Z"
                series.update({two + chr(third): code for third in range(ord(lowest), ord(highest) + 1)})
            else:
                series[two] = code
    return {deciding: code for deciding, code in series.items() if code}


@cache
def _parents() -> dict[str, str]:
    """From a territory's ISO code to its administration's."""
    pairs = {(row["territory_iso2"], row["administration_iso2"]) for row in _rows("call_territories.csv")}
    return {
        territory: owner
        for territory, owner in pairs
        if territory != owner and territory != "AQ" and (owner, territory) not in _BASES
    }


@cache
def _places() -> dict[str, frozenset[str]]:
    """From an administration to the codes of all places where its stations may be."""
    places: dict[str, set[str]] = {code: {code} for code in {*_series().values(), *_UNLISTED.values()}}
    for row in _rows("call_territories.csv"):
        owner, pair = row["administration_iso2"], (row["administration_iso2"], row["natural_earth_code"])
        if pair not in _BASES:
            places[owner] |= {row["territory_iso2"], row["natural_earth_code"]} - {"IOA", "AQ"}
    for owner, more in _ALSO.items():
        places[owner] |= more
    return {owner: frozenset(codes) for owner, codes in places.items()}

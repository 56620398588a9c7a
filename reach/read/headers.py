"""Which header of a file holds what: the one map of trade terms, and the user's own word before it.

A header is compared without case, spaces, punctuation: "SNR (dB)", "snr_db" and "Snr dB" are one.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from reach.base import ways
from reach.errors import InputError

# Our column: what operators and programs call it. `freq` is a frequency whose header names no unit; `date` is a day
# whose time of day stands in another column. Each name also counts with the units of UNITS behind it.
ALIASES: Final = {
    "time_utc": (
        "time", "utc", "utc time", "time of report", "time heard", "timestamp", "time stamp", "date time",
        "date and time", "datetime", "utc date time", "moment", "when",
    ),
    "date": ("date", "day", "utc date", "date of report"),
    "rx_call": (
        "callsign", "call sign", "call", "receiver", "receiver call", "receiver callsign", "receiving station",
        "receiving call", "reporter", "reporter call", "reporter callsign", "reporting station", "reported by",
        "heard by", "received by", "spotted by", "spotter", "spotter call", "listener", "listener call", "monitor",
        "rx", "rx call", "rx callsign", "rx station",
    ),
    "rx_locator": (
        "locator", "grid", "grid square", "square", "grid locator", "maidenhead", "maidenhead locator", "qth locator",
        "loc", "receiver locator", "receiver grid", "receiver grid square", "receiver square", "reporter locator",
        "reporter grid", "reporter grid square", "spotter locator", "spotter grid", "listener locator",
        "listener grid", "listener square", "rx locator", "rx grid", "rx grid square", "rx square", "rx loc",
    ),
    "snr_db": (
        "snr", "s/n", "sn", "signal to noise", "signal to noise ratio", "signal noise ratio", "report", "signal report",
        "signal", "db",
    ),
    "band": ("band", "bands", "wavelength", "wave band"),
    "freq": ("frequency", "freq", "qrg", "dial", "dial frequency", "dial freq", "tx frequency", "tx freq"),
    "mode": ("mode", "emission", "transmission mode"),
    "tx_call": (
        "transmitter", "transmitter call", "transmitter callsign", "transmitting station", "tx", "tx call",
        "tx callsign", "tx station", "sender", "sender call", "sender callsign", "sent by", "heard", "heard station",
        "station heard", "heard call", "my call", "my callsign", "own call", "own callsign",
    ),
    "tx_locator": (
        "transmitter locator", "transmitter grid", "transmitter grid square", "transmitter square", "tx locator",
        "tx grid", "tx grid square", "tx square", "tx loc", "sender locator", "sender grid", "sender grid square",
        "my locator", "my grid", "my grid square", "own locator", "own grid",
    ),
    "power_w": ("power", "pwr", "tx power", "tx pwr", "transmitter power", "output power", "rf power"),
    "setup": ("setup", "set up", "antenna", "aerial", "ant", "configuration"),
    "session": ("session", "run"),
}  # fmt: skip

# Our column: what may stand behind its names, and which column that makes it.
UNITS: Final = {
    "time_utc": {"utc": "time_utc", "gmt": "time_utc", "z": "time_utc"},
    "date": {"utc": "date", "gmt": "date"},
    "snr_db": {"db": "snr_db"},
    "freq": {"hz": "freq_hz", "khz": "freq_khz", "mhz": "freq_mhz"},
    "power_w": {"w": "power_w", "watt": "power_w", "watts": "power_w", "mw": "power_mw", "dbm": "power_dbm"},
}
# Units that say by themselves what stands below them.
BARE_UNITS: Final = {
    "hz": "freq_hz", "khz": "freq_khz", "mhz": "freq_mhz",
    "watt": "power_w", "watts": "power_w", "mw": "power_mw", "dbm": "power_dbm",
}  # fmt: skip

# Columns of one kind: a file may have one of them.
_KIND: Final = {
    "freq_hz": "freq", "freq_khz": "freq", "freq_mhz": "freq", "power_mw": "power_w", "power_dbm": "power_w",
}  # fmt: skip
# Each kind in words, and the name to give with --column.
_WORDS: Final = {
    "time_utc": ("the time", "time"),
    "date": ("the date", "date"),
    "rx_call": ("the receiver's callsign", "callsign"),
    "rx_locator": ("the receiver's locator", "locator"),
    "snr_db": ("the SNR", "snr"),
    "band": ("the band", "band"),
    "freq": ("the frequency", "frequency"),
    "mode": ("the mode", "mode"),
    "tx_call": ("the transmitter's callsign", "transmitter"),
    "tx_locator": ("the transmitter's locator", "transmitter_locator"),
    "power_w": ("the power", "power"),
    "setup": ("the setup", "setup"),
    "session": ("the session", "session"),
}
# In brackets behind a header these say how a time or a date is written, and nothing else.
_TIME_FORMAT: Final = re.compile(r"[ymdhs:./\- tz]*|iso ?8601|.*\b(utc|gmt)\b.*", re.IGNORECASE)
_BRACKETS: Final = re.compile(r"[(\[{].*")


@dataclass(frozen=True)
class Headers:
    """Where a file keeps what.

    place   our column -> position in the row, from 0
    unused  headers that hold nothing we know, as in the file
    """

    place: dict[str, int]
    unused: tuple[str, ...]


def recognise(header: str) -> str | None:
    """Our column for a header, None where it is none of the trade terms."""
    found = _terms().get(_plain(header))
    if found or not (bracket := _BRACKETS.search(header)):
        return found
    bare = _terms().get(_plain(header[: bracket.start()]))
    if bare in ("time_utc", "date"):
        return bare if _TIME_FORMAT.fullmatch(bracket[0].strip("()[]{} ")) else None
    return None if bare in ("freq", "power_w") else bare


def match(
    headers: Sequence[str],
    columns: Mapping[str, str] | None = None,
    *,
    chosen: Mapping[str, int] | None = None,
    name: str = "the file",
) -> Headers:
    """Find our columns among the headers of a file.

    headers : as in the file
    columns : our column or a trade term -> header in the file; goes before the map
    chosen  : the same as `choose` returns it, where it is there already
    name    : of the file, for errors
    Returns Headers. InputError where two headers hold the same thing, or one of `columns` is no column of ours.
    A header of `columns` that is not there is left to the map; see `missing_choices`.
    """
    chosen = choose(headers, columns or {}, name=name) if chosen is None else chosen
    taken = {_kind(ours) for ours in chosen}
    place = dict(chosen)
    for at, header in enumerate(headers):
        ours = recognise(header)
        if ours is None or at in chosen.values() or _kind(ours) in taken:
            continue
        rival = next((other for other in place if _kind(other) == _kind(ours)), None)
        if rival is not None:
            raise InputError(_conflict(name, headers[place[rival]], header, _kind(ours)))
        place[ours] = at
    unused = tuple(header.strip() for at, header in enumerate(headers) if at not in place.values() and header.strip())
    return Headers(place, unused)


def require(found: Headers, headers: Sequence[str], *, name: str = "the file") -> None:
    """InputError where a column that every spot needs is not among them."""
    kinds = {_kind(ours) for ours in found.place}
    if "date" in kinds:
        kinds.add("time_utc")  # a date may hold the time of day as well; the vet knows
    lacking = [kind for kind in ("time_utc", "rx_call", "rx_locator", "snr_db") if kind not in kinds]
    words = [_WORDS[kind][0] for kind in lacking]
    if not kinds & {"band", "freq"}:
        lacking.append("band")
        words.append("the band or frequency")
    if not lacking:
        return
    listed = ", ".join(repr(header.strip()) for header in headers if header.strip()) or "none"
    option = _WORDS[lacking[0]][1]
    raise InputError(
        f"{name}: no column for {_listed(words)} among the headers {listed}; "
        f"say which one it is with {ways.asked('column', option, ways.SOME_HEADER)}."
    )


def missing_choices(columns: Mapping[str, str] | None, files: Iterable[Sequence[str]]) -> list[str]:
    """Headers that the user named and no file has."""
    tables = list(files)
    there = {_plain(header) for headers in tables for header in headers}
    there |= {str(number) for number in range(1, max(map(len, tables), default=0) + 1)}
    return [theirs for theirs in (columns or {}).values() if _plain(theirs) not in there]


def choose(headers: Sequence[str], columns: Mapping[str, str], *, name: str = "the file") -> dict[str, int]:
    """The user's own choice: our column -> position.

    headers : as in the file, blank where it has none
    columns : our column or a trade term -> header in the file, or its number from 1 where no header is called so
    InputError where it is no column of ours, or two of them are one.
    """
    chosen: dict[str, int] = {}
    for ours, theirs in columns.items():
        column = _ours(ours)
        at = _find(headers, theirs, name)
        if at is None:
            continue
        if at in chosen.values():
            raise InputError(f"{name}: the column {theirs!r} is asked to hold two things; name it once.")
        column = _with_unit(column, headers[at])
        rival = next((other for other in chosen if _kind(other) == _kind(column)), None)
        if rival is not None:
            raise InputError(_conflict(name, headers[chosen[rival]], theirs, _kind(column)))
        chosen[column] = at
    return chosen


def _ours(text: str) -> str:
    column = text if text in ALIASES else recognise(text)
    if column is None:
        known = [option for _, option in _WORDS.values()]
        near = difflib.get_close_matches(text.lower(), known, n=1)
        hint = f"did you mean {near[0]!r}?" if near else f"known are {', '.join(known)}."
        raise InputError(f"{text!r} is none of our columns; {hint}")
    return column


def _find(headers: Sequence[str], theirs: str, name: str) -> int | None:
    """The position of the header that the user named: exactly so, or else but for case, spaces and punctuation."""
    for same in (lambda header: header.strip() == theirs.strip(), lambda header: _plain(header) == _plain(theirs)):
        hits = [at for at, header in enumerate(headers) if same(header)]
        if len(hits) > 1:
            raise InputError(f"{name}: {len(hits)} columns are headed {theirs!r}; rename all but one of them.")
        if hits:
            return hits[0]
    number = int(theirs) if theirs.strip().isdecimal() and len(theirs.strip()) < 4 else 0
    return number - 1 if 1 <= number <= len(headers) else None


def _with_unit(column: str, header: str) -> str:
    """The column with the unit that the header ends in, where it has one and the user named none."""
    plain = _plain(header)
    units = UNITS.get(column, {}) if column in ("freq", "power_w") else {}
    endings = sorted((unit for unit in units if plain.endswith(unit) and len(unit) > 1), key=len)
    return units[endings[-1]] if endings else column


def _conflict(name: str, first: str, second: str, kind: str) -> str:
    words, option = _WORDS[kind]
    a, b = first.strip(), second.strip()
    if a == b:
        return f"{name}: two columns are headed {a!r}, both for {words}; rename one of them."
    return f"{name}: {a!r} and {b!r} both name {words}; say which one counts with {ways.asked('column', option, b)}."


def _kind(column: str) -> str:
    return _KIND.get(column, column)


def _plain(header: str) -> str:
    folded = unicodedata.normalize("NFKC", header).casefold()
    return "".join(character for character in folded if character.isalnum())


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


@cache
def _terms() -> dict[str, str]:
    """Every plain form that is known -> our column."""
    terms = {}
    for column, names in ALIASES.items():
        for term in (column, *names):
            terms[_plain(term)] = column
            for unit, unit_column in UNITS.get(column, {}).items():
                terms[_plain(term) + unit] = unit_column
    return terms | BARE_UNITS

"""Texts of times: what they say, in microseconds since 1970 UTC, or, by code, why they say nothing.

`moments(raw)` reads the times of a raw table before anything is judged, so that a setup can be named by the clock first;
`vet` takes what was read and judges it.

ISO 8601 with or without offset, a date and a time of day in most other common orders, and seconds or milliseconds
since 1970. What names no offset is UTC. Second 60 is the first of the next minute (ITU-R TF.460-6, leap seconds).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reach.base import ways
from reach.base.vocabulary import Words, words
from reach.base.words import quoted
from reach.errors import InputError

Ints = npt.NDArray[np.intp]

NOWHEN: Final = np.iinfo(np.int64).min  # what pandas takes for NaT
# The column of a raw table that brings times which took understanding a file (`read.when`): microseconds since 1970 UTC,
# NOWHEN where the row says no time, PLAIN in rows of files whose texts say it by themselves.
COLUMN: Final = "moment_us"
PLAIN: Final = NOWHEN + 1
DAY_FIRST: Final = "day-first"
MONTH_FIRST: Final = "month-first"

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

# What the quick way takes: it is the same in every country, so one look at the vocabulary by Arrow and one call of pandas
# read it, whatever the number of texts. Dates that a country may read otherwise go one by one.
_ISO: Final = r"^\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-](0\d|1[0-4]):[0-5]\d)?$"
_OFFSET: Final = r"[+-](\d[1-9]|[1-9]\d):\d\d$|[+-]00:(\d[1-9]|[1-9]\d)$"

_FLAGS: Final = re.IGNORECASE | re.ASCII
_DATES: Final = (
    r"(?P<year>\d{4})(?P<mark>[-/.])(?P<month>\d{1,2})(?P=mark)(?P<day>\d{1,2})",
    r"(?P<first>\d{1,2})(?P<mark>[-/.])(?P<second>\d{1,2})(?P=mark)(?P<year>\d{4})",
    r"(?P<year>(?:19|20)\d\d)(?P<month>\d\d)(?P<day>\d\d)",
    r"(?P<day>\d{1,2})[ -](?P<name>[a-z]{3,9})\.?[ ,-]{1,2}(?P<year>\d{4})",
    r"(?P<name>[a-z]{3,9})\.? (?P<day>\d{1,2})(?:,| |, )(?P<year>\d{4})",
)
_CLOCK: Final = (
    r"(?:(?P<hour>\d{1,2}):(?P<minute>\d\d)(?::(?P<sec>\d\d)(?:[.,](?P<part>\d{1,9}))?)?(?: ?(?P<half>[ap])\.?m\.?)?"
    r"|(?P<digits>\d{3,6}))"
)
_ZONE: Final = r"(?: ?(?:z|utc|gmt)| ?(?P<sign>[-+\u2212])(?P<off_h>\d\d):?(?P<off_m>\d\d)?)?"
_SHAPES: Final = tuple(re.compile(rf"{date}(?:[t ]|, ){_CLOCK}{_ZONE}", _FLAGS) for date in _DATES)
_STAMP: Final = re.compile(r"(?P<date>(?:19|20)\d{6})(?P<digits>\d{4}|\d{6})", _FLAGS)
_SECONDS: Final = re.compile(r"(?P<s>\d{9,10})(?:\.(?P<part>\d{1,9}))?|(?P<ms>\d{12,13})|(?P<us>\d{15,16})", _FLAGS)
_NO_CLOCK: Final = tuple(re.compile(date, _FLAGS) for date in _DATES)
_NO_DATE: Final = re.compile(rf"{_CLOCK}{_ZONE}", _FLAGS)
_SHORT_YEAR: Final = re.compile(r"\d{1,2}[-/.]\d{1,2}[-/.]\d{2}([t ,].*)?", _FLAGS)
_EITHER: Final = re.compile(_DATES[1] + r"(?:[t ,].*)?", _FLAGS)
_EITHER_ARROW: Final = r"^\s*\d{1,2}[-/.]\d{1,2}[-/.]\d{4}"


class Fault(NamedTuple):
    """Why a text says no time: a code (see vet.ledger.RULES), the text, and what tells more."""

    code: str
    value: str = ""
    other: str = ""
    detail: str = ""


class _Impossible(Exception):
    """Carries a Fault out of the depth of a date."""

    def __init__(self, *fault: str) -> None:
        super().__init__(*fault)
        self.fault = Fault(*fault)


@dataclass(frozen=True)
class Times:
    """What texts say.

    micros  int64, shape (texts,): microseconds since 1970 UTC, NOWHEN where the text says no time
    faults  why not, None where it does
    offset  bool, shape (texts,): whether the text names an offset other than zero
    """

    micros: npt.NDArray[np.int64]
    faults: list[Fault | None]
    offset: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Reading:
    """The words of a column as some of its rows are to be read: those of files with one order of day and month.

    rows  which rows, None for all
    said  what each word of the column says in that order
    """

    rows: Ints | None
    said: Times


@dataclass(frozen=True)
class Moments:
    """The times of a raw table.

    micros    int64, shape (rows,): microseconds since 1970 UTC, NOWHEN where the row says no time
    column    the words that say them
    readings  what each word says; one for each order of day and month in use, mostly one
    told      (row that decides it, whether the day comes first) for each file that had to be asked for its order
    """

    micros: npt.NDArray[np.int64]
    column: Words
    readings: tuple[Reading, ...]
    told: tuple[tuple[int, bool], ...] = ()


@dataclass(frozen=True)
class Told:
    """Of the times of some rows: how many there are, how many are later than a moment, and the latest [microseconds since 1970],
    NOWHEN without any; of parts of the rows they can be added."""

    rows: int = 0
    later: int = 0
    newest: int = NOWHEN

    @classmethod
    def of(cls, micros: npt.NDArray[np.int64], moment: datetime) -> Told:
        """The same of rows. micros : as Moments has them"""
        told = micros[micros != NOWHEN]
        return cls(len(told), int((told > micros_of(moment)).sum()), int(told.max()) if len(told) else NOWHEN)

    def __add__(self, other: Told) -> Told:
        return Told(self.rows + other.rows, self.later + other.later, max(self.newest, other.newest))


def micros_of(moment: datetime) -> int:
    """Microseconds since 1970. moment : with its zone"""
    return (moment - _EPOCH) // timedelta(microseconds=1)


def known(times: pd.Series) -> Moments:
    """Moments that were read long ago. times : datetime64 in UTC"""
    return Moments(
        times.dt.as_unit("us").astype("int64").to_numpy(), Words(np.zeros(len(times), np.int8), pd.Index([""])), ()
    )


def moments(raw: pd.DataFrame, *, day_first: bool | None = None) -> Moments:
    """The times of a raw table, nothing judged.

    raw       : needs source and line; time_utc, blank throughout where there is none
    day_first : how to read 03/05/2026; None where each file has to tell
    Returns Moments. InputError where a file has dates whose day and month cannot be told apart: there is no time to go
    on with then.
    """
    column = words(raw, "time_utc")
    if COLUMN in raw:
        return _understood(raw, column, day_first)
    orders, told = _orders(raw, column, day_first)
    readings = tuple(Reading(rows, read(column.index, day_first=order)) for rows, order in orders)
    if len(readings) == 1:
        micros = readings[0].said.micros[column.codes]
    else:
        micros = np.empty(len(raw), dtype=np.int64)
        for each in readings:
            micros[each.rows] = each.said.micros[column.codes[each.rows]]
    return Moments(micros, column, readings, told)


def _understood(raw: pd.DataFrame, column: Words, day_first: bool | None) -> Moments:
    """The times of a raw table in which some files have theirs read already."""
    micros = raw[COLUMN].to_numpy().copy()
    plain = np.flatnonzero(micros == PLAIN)
    readings = []
    if len(plain):
        said = read(column.index, day_first=day_first)
        micros[plain] = said.micros[column.codes[plain]]
        readings.append(Reading(plain, said))
    files = raw["source"].astype("category").cat.codes.to_numpy()
    done = np.flatnonzero(raw[COLUMN].to_numpy() != PLAIN)
    for file in np.unique(files[done]):
        rows = done[files[done] == file]
        of_words = np.full(len(column), NOWHEN, dtype=np.int64)
        of_words[column.codes[rows]] = micros[rows]
        faults: list[Fault | None] = [None] * len(column)
        for at in np.unique(column.codes[rows]):
            if of_words[at] == NOWHEN:
                faults[at] = _fault(" ".join(column.text(at).split()))
        readings.append(Reading(rows, Times(of_words, faults, np.zeros(len(column), dtype=bool))))
    return Moments(micros, column, tuple(readings))


def _fault(text: str) -> Fault:
    try:
        _slow(text, True)
    except _Impossible as why:
        return why.fault
    return Fault("time-unreadable", text)


def is_plain(texts: Sequence[str]) -> bool:
    """Whether texts are ISO 8601 or blank throughout: read alike everywhere."""
    array = pc.utf8_trim_whitespace(pa.array(texts, pa.large_string()))
    fine = pc.or_(pc.match_substring_regex(array, _ISO), pc.equal(array, ""))
    return bool(pc.all(fine).as_py() is not False)


def read(texts: pd.Index, *, day_first: bool | None) -> Times:
    """Read texts as times.

    texts     : shape (texts,); surrounding blanks do not matter
    day_first : how to read 03/05/2026; None where it does not matter (`undecided` says whether it does)
    """
    array = pa.array(texts, pa.large_string())
    iso = np.asarray(pc.match_substring_regex(array, _ISO))
    micros = np.full(len(texts), NOWHEN, dtype=np.int64)
    offset = np.zeros(len(texts), dtype=bool)
    faults: list[Fault | None] = [None] * len(texts)
    if iso.any():
        micros[iso] = _iso(texts[iso])
        offset[iso] = np.asarray(pc.match_substring_regex(array.filter(pa.array(iso)), _OFFSET))
    for at in np.flatnonzero(micros == NOWHEN):
        try:
            micros[at], offset[at] = _slow(" ".join(str(texts[int(at)]).split()), day_first)
        except _Impossible as why:
            faults[at] = why.fault
    return Times(micros, faults, offset)


def undecided(texts: pd.Index) -> npt.NDArray[np.bool_]:
    """Shape (texts,): which texts begin with a date that has day and month before the year, in digits."""
    return np.asarray(pc.match_substring_regex(pa.array(texts, pa.large_string()), _EITHER_ARROW))


def orders(text: str) -> tuple[bool, bool]:
    """Whether a text of `undecided` can be read day first, and whether month first."""
    found = _EITHER.fullmatch(" ".join(text.split()))
    if not found:
        return False, False
    first, second = int(found["first"]), int(found["second"])
    return 1 <= second <= 12 and 1 <= first <= 31, 1 <= first <= 12 and 1 <= second <= 31


def both_readings(text: str) -> tuple[str, str]:
    """A text read day first and month first, in words: 3 May 2026, 5 March 2026."""
    found = _EITHER.fullmatch(" ".join(text.split()))
    assert found is not None
    first, second, year = int(found["first"]), int(found["second"]), found["year"]
    months = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
              "November", "December")  # fmt: skip
    return f"{first} {months[second - 1]} {year}", f"{second} {months[first - 1]} {year}"


def _iso(texts: pd.Index) -> npt.NDArray[np.int64]:
    # Only texts that the pattern has let through come here: pandas alone would also take "2026-05" or a bare hour. A date
    # that no calendar has becomes NaT, and the slow way then says what is wrong with it.
    moments = pd.to_datetime(texts, format="ISO8601", utc=True, errors="coerce")
    return np.asarray(moments.as_unit("us").asi8)  # NaT is the least integer, as NOWHEN is


def _slow(text: str, day_first: bool | None) -> tuple[int, bool]:
    """One text, blanks tidied. _Impossible where it says no time."""
    if not text:
        raise _Impossible("time-blank")
    # Fourteen digits are a date and a clock; ten and fewer count seconds, and nine are the least since 1973.
    if found := _STAMP.fullmatch(text):
        text = f"{found['date']} {found['digits']}"
    elif found := _SECONDS.fullmatch(text):
        return _since_1970(found), False
    for shape in _SHAPES:
        if found := shape.fullmatch(text):
            return _moment(found.groupdict(), text, day_first)
    raise _Impossible(*_why_not(text))


def _since_1970(found: re.Match[str]) -> int:
    if found["ms"]:
        return int(found["ms"]) * 1000
    if found["us"]:
        return int(found["us"])
    return int(found["s"]) * 1_000_000 + _fraction(found["part"])


def _fraction(digits: str | None) -> int:
    return int((digits or "0").ljust(6, "0")[:6])


def _moment(parts: dict[str, str | None], text: str, day_first: bool | None) -> tuple[int, bool]:
    year, month, day = _date(parts, text, day_first)
    hour, minute, second = _clock(parts, text)
    try:
        moment = datetime(year, month, day, tzinfo=UTC)
    except ValueError:
        raise _Impossible("time-impossible", text, "", "day") from None
    if hour > 23 or minute > 59 or second > 60:
        raise _Impossible("time-impossible", text, "", "clock")
    offset = _offset(parts, text)
    try:
        moment += (
            timedelta(hours=hour, minutes=minute, seconds=second, microseconds=_fraction(parts.get("part"))) - offset
        )
    except OverflowError:
        raise _Impossible("time-impossible", text, "", "calendar") from None
    return (moment - _EPOCH) // timedelta(microseconds=1), bool(offset)


def _date(parts: dict[str, str | None], text: str, day_first: bool | None) -> tuple[int, int, int]:
    year = int(parts["year"] or 0)
    if parts.get("first"):
        first, second = int(parts["first"] or 0), int(parts["second"] or 0)
        if day_first is None:  # nobody had to be asked
            day_first = first > 12  # the other order has been found impossible
        day, month = (first, second) if day_first else (second, first)
        if month > 12:
            raise _Impossible("time-impossible", text, str(month), DAY_FIRST if day_first else MONTH_FIRST)
        return year, month, day
    day = int(parts["day"] or 0)
    if name := parts.get("name"):
        start = name.lower()[:3]
        if start not in _MONTHS:
            raise _Impossible("time-unreadable", text, "", "month-name")
        return year, _MONTHS.index(start) + 1, day
    return year, int(parts["month"] or 0), day


def _clock(parts: dict[str, str | None], text: str) -> tuple[int, int, int]:
    if digits := parts.get("digits"):
        digits = digits.zfill(4 if len(digits) <= 4 else 6)
        return int(digits[:2]), int(digits[2:4]), int(digits[4:] or 0)
    hour, half = int(parts["hour"] or 0), parts.get("half")
    if half:
        if not 1 <= hour <= 12:
            raise _Impossible("time-impossible", text, "", "clock")
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    return hour, int(parts["minute"] or 0), int(parts["sec"] or 0)


def _offset(parts: dict[str, str | None], text: str) -> timedelta:
    if not parts.get("sign"):
        return timedelta(0)
    hours, minutes = int(parts["off_h"] or 0), int(parts["off_m"] or 0)
    if hours > 14 or minutes > 59:
        raise _Impossible("time-impossible", text, "", "zone")
    return timedelta(hours=hours, minutes=minutes) * (1 if parts["sign"] == "+" else -1)


def _why_not(text: str) -> Fault:
    if any(shape.fullmatch(text) for shape in _NO_CLOCK):
        return Fault("time-no-clock", text)
    if _NO_DATE.fullmatch(text):
        return Fault("time-no-date", text)
    return Fault("time-two-digit-year" if _SHORT_YEAR.fullmatch(text) else "time-unreadable", text)


# ------------------------------------------------------------------------------------------------ day first or month?

_Orders = list[tuple[Ints | None, bool | None]]


def _orders(raw: pd.DataFrame, column: Words, day_first: bool | None) -> tuple[_Orders, tuple[tuple[int, bool], ...]]:
    """Which rows (None for all) are to be read in which order; and for each file that told its order, by which row."""
    open_words = undecided(column.index)
    if day_first is not None or not open_words.any():
        return [(None, day_first)], ()
    rows = np.flatnonzero(open_words[column.codes])
    files = raw["source"].astype("category").cat.codes.to_numpy()
    order: dict[int, bool | None] = {}
    told = []
    for file in pd.unique(files[rows]):
        order[int(file)], decides = _order(raw, column, rows[files[rows] == file])
        if decides is not None:
            told.append((decides, order[int(file)] is True))
    if len(set(order.values())) == 1:
        return [(None, next(iter(order.values())))], tuple(told)
    wanted = np.array([order.get(file) is True for file in range(int(files.max()) + 1)])[files]
    return [(np.flatnonzero(wanted), True), (np.flatnonzero(~wanted), False)], tuple(told)


def _order(raw: pd.DataFrame, column: Words, rows: Ints) -> tuple[bool | None, int | None]:
    """Whether the dates of one file have the day first, None where none of them is a date either way; and the first row
    that can be read in this order only, None where no other row needed it.

    rows : those of the file whose dates are in question. InputError where the file cannot tell.
    """
    # A file is written by one program in one order: a single 16/05 among its dates settles what 03/05 means.
    which, first = np.unique(column.codes[rows], return_index=True)
    readings = [(orders(column.text(word)), int(rows[at])) for word, at in zip(which, first, strict=True)]
    day_only = min((row for (day, month), row in readings if day and not month), default=None)
    month_only = min((row for (day, month), row in readings if month and not day), default=None)
    either = min((row for (day, month), row in readings if day and month), default=None)
    if day_only is not None and month_only is not None:
        raise InputError(_both(raw, day_only, month_only))
    decides = day_only if day_only is not None else month_only
    if decides is None:
        if either is not None:
            raise InputError(_neither(raw, either))
        return None, None
    return day_only is not None, decides if either is not None else None


def _neither(raw: pd.DataFrame, row: int) -> str:
    day, month = both_readings(str(raw["time_utc"].iloc[row]))
    return (
        f"{_place(raw, row)}: {_cell(raw, row)} may be {day} or {month}, and no other date of the file tells which; "
        f"choose with {ways.asked('order')}."
    )


def _both(raw: pd.DataFrame, day_only: int, month_only: int) -> str:
    return (
        f"{_place(raw, day_only)}: {_cell(raw, day_only)} can only be day first, but {_cell(raw, month_only)} on line "
        f"{raw['line'].iloc[month_only]} only month first; choose with {ways.asked('order')}, and the rows of "
        "the other kind are rejected."
    )


def _place(raw: pd.DataFrame, row: int) -> str:
    return f"{raw['source'].iloc[row]}, line {raw['line'].iloc[row]}"


def _cell(raw: pd.DataFrame, row: int) -> str:
    return quoted(str(raw["time_utc"].iloc[row]).strip())

"""Texts of dates and clocks in the habits of many countries, one cell at a time.

A date says year, month and day in a plain order (`ymd`), or three numbers whose order is the file's to tell (`xyz`). A
clock says the time of day, whether it is of twelve hours or twenty-four, and perhaps a zone.
"""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache
from typing import Final, NamedTuple

from reach.read import cells, lexicon

DAY_US: Final = 86_400_000_000
EPOCH_DAY: Final = date(1970, 1, 1).toordinal()
SERIAL_ZERO: Final = date(1899, 12, 30).toordinal() - EPOCH_DAY  # day 0 of a spreadsheet, counted from 1970
SERIAL_LEAST, SERIAL_MOST = 36_900, 55_000  # January 2001 to July 2050
_EPOCH_LEAST, _EPOCH_MOST = 978_307_200, 2_145_916_800  # 2001 to 2037, seconds since 1970

# Minutes east of UTC. Only abbreviations that mean one zone to the amateurs who write them.
ZONES: Final = {
    "z": 0, "utc": 0, "gmt": 0, "ut": 0, "zulu": 0, "wet": 0, "west": 60, "cet": 60, "mez": 60, "cest": 120, "mesz": 120,
    "eet": 120, "oez": 120, "eest": 180, "msk": 180, "мск": 180, "jst": 540, "kst": 540, "hkt": 480, "est": -300, "edt": -240,
    "cdt": -300, "mst": -420, "mdt": -360, "pst": -480, "pdt": -420, "akst": -540, "hst": -600, "aest": 600, "aedt": 660,
    "acst": 570, "awst": 480, "nzst": 720, "nzdt": 780, "brt": -180, "sast": 120, "trt": 180, "日本時間": 540, "한국시간": 540,
}  # fmt: skip
# Written all year by people whose clocks turn in March and October.
ALL_YEAR: Final = {"cet": 60, "mez": 60, "eet": 120, "oez": 120, "est": -300, "mst": -420, "pst": -480}


class Date(NamedTuple):
    """Three numbers; `order` is "ymd" where they are year, month, day for sure, else "xyz" with the mark between them."""

    a: int
    b: int
    c: int
    order: str
    mark: str = ""
    short: bool = False  # the year has two digits


class Clock(NamedTuple):
    """Time of day [microseconds], a zone [minutes east of UTC, None where none is named], and its name."""

    micros: int
    zone: int | None = None
    zone_name: str = ""


class Stamp(NamedTuple):
    """A date and a clock in one cell."""

    date: Date
    clock: Clock


_WORD: Final = r"[^\W\d_]+"
_OF: Final = r"(?: ?(?:de|del|di|of|d'|the)\b)?"
_DATES: Final = (
    ("ymd", r"(?P<y>\d{4})(?P<m>[-/.])(?P<b>\d{1,2})(?P=m)(?P<c>\d{1,2})"),
    ("ymd", r"(?P<y>\d{4})\. ?(?P<b>\d{1,2})\. ?(?P<c>\d{1,2})\.?"),
    ("ymd", r"(?P<y>\d{4}) ?[年년] ?(?P<b>\d{1,2}) ?[月월] ?(?P<c>\d{1,2}) ?[日일]?"),
    ("ymd", r"(?P<y>(?:19|20)\d\d)(?P<b>\d\d)(?P<c>\d\d)"),
    ("xyz", r"(?P<a>\d{1,2})(?P<m>[-/.]) ?(?P<b>\d{1,2})(?P=m) ?(?P<c>\d{4}|\d\d)\.?(?: ?(?:г|р|y|j)\.?)?"),
    ("xyz", r"(?P<a>\d\d)(?P<m>)(?P<b>\d\d)(?P<c>\d\d)"),
    ("dny", rf"(?P<c>\d{{1,2}})(?:\.|o|°|a|er|st|nd|rd|th|-го)?[ \-/.]*{_OF} ?(?P<n>{_WORD})\.?[ \-/.,]*{_OF} ?'?(?P<y>\d{{4}}|\d\d)(?: ?(?:г|р)\.?)?"),
    ("ndy", rf"(?P<n>{_WORD})\.?[ \-]?(?P<c>\d{{1,2}})(?:st|nd|rd|th)?,?[ \-]+(?P<y>\d{{4}})"),
    ("ynd", rf"(?P<y>\d{{4}})[.,]?[ \-]?(?P<n>{_WORD})\.?[ \-]?(?P<c>\d{{1,2}})\.?"),
)  # fmt: skip
_HALF: Final = r"(?P<{0}>[ap]\.? ?m\.?|午前|午後|上午|下午|오전|오후)"
_COLON: Final = (
    rf"(?:{_HALF.format('h1')} ?)?(?P<hh>\d{{1,2}}) ?(?:[:hu時时시点]|uhr) ?(?P<mm>\d{{1,2}})"
    r"(?: ?(?:[:'分분]|m(?![a-z])|min\.?) ?(?:(?P<ss>\d{1,2})(?:[.,](?P<f>\d{1,9}))? ?(?:s|秒|초|\"|'')?)?)?"
    rf"(?: ?{_HALF.format('h2')})?(?: ?(?:uhr|uur|h|klo|ч)\b\.?)?"
)
_HOUR: Final = rf"(?:{_HALF.format('h1')} ?)?(?P<hh>\d{{1,2}}) ?(?:(?:h|uhr|uur|時|时|시)|{_HALF.format('h2')})"
_DOTTED: Final = r"(?P<hh>\d{1,2})[.,](?P<mm>\d{1,2})(?:[.,](?P<ss>\d\d))?(?: ?(?:uhr|uur))?"
_ZONE: Final = r"(?: ?\(?(?P<zone>(?:utc|gmt)? ?[-+] ?\d{1,2}(?::?\d\d)?|[^\W\d_]{1,5}|日本時間|한국시간)\)?)?"
_LEAD: Final = r"(?:(?:kl|klo|um|at|à|a las|alle|ore|о|в)\.? )?"
_I: Final = re.IGNORECASE

_CLOCKS: Final = {
    "colon": re.compile(f"{_LEAD}{_COLON}{_ZONE}", _I),
    "hour": re.compile(f"{_LEAD}{_HOUR}{_ZONE}", _I),
    "dotted": re.compile(f"{_LEAD}{_DOTTED}{_ZONE}", _I),
    "digits": re.compile(rf"(?P<digits>\d{{1,6}})(?: ?(?:h|uhr|uur))?{_ZONE}", _I),
}
_ONLY_DATE: Final = [(kind, re.compile(shape, _I)) for kind, shape in _DATES]
_SIX: Final = _DATES[5][1]  # six digits: too little to find a date by where a clock may stand as well
_BEHIND: Final = [  # a date, then a clock
    (kind, re.compile(rf"{shape}(?:[ t,;_-]| - |, | ?@ ?| à | um | a las | kl\.? | klo | в | о )(?P<clock>.+)", _I))
    for kind, shape in _DATES
    if shape != _SIX
]
_TIGHT: Final = re.compile(r"(?P<y>\d{4}) ?年 ?(?P<b>\d{1,2}) ?月 ?(?P<c>\d{1,2}) ?日(?P<clock>.+)", _I)
_BEFORE: Final = [
    (kind, re.compile(rf"(?P<clock>\d{{1,2}}[:h]\d\d\S*(?: [ap]\.?m\.?)?) *[, -] *{shape}", _I))
    for kind, shape in _DATES
    if shape != _SIX
]
_COMPACT: Final = re.compile(
    r"(?P<y>20\d\d)(?P<b>\d\d)(?P<c>\d\d)[ t_-]?(?P<hh>\d\d)(?P<mm>\d\d)(?P<ss>\d\d)?(?P<zone>z)?", _I
)
_SIX_AND_SIX: Final = re.compile(r"(?P<a>\d\d)(?P<m>)(?P<b>\d\d)(?P<c>\d\d)[ t_-](?P<digits>\d{4}|\d{6})", _I)
_WEEKDAY: Final = re.compile(rf"\(?(?:{_WORD})\)?[.,]? +(?=\d)", _I)
_WEEKDAY_AFTER: Final = re.compile(r" ?\([^\W\d_]{1,4}\)(?= ?)")
_OFFSET: Final = re.compile(r"(?:utc|gmt)? ?(?P<sign>[-+]) ?(?P<h>\d{1,2})(?::?(?P<m>\d\d))?", _I)


def stamp(text: str) -> Stamp | None:
    """A date with a clock, both in one tidy cell; None where it is none."""
    return _stamp(text)


@lru_cache(maxsize=1 << 16)
def _stamp(text: str) -> Stamp | None:
    if len(text) < 8 or not any(character.isdigit() for character in text):
        return None
    if found := _COMPACT.fullmatch(text):
        said = _checked(int(found["hh"]), int(found["mm"]), int(found["ss"] or 0), 0, 0 if found["zone"] else None, "")
        return Stamp(Date(int(found["y"]), int(found["b"]), int(found["c"]), "ymd"), said) if said else None
    if found := _SIX_AND_SIX.fullmatch(text):
        day, said = _date("xyz", found), clock(found["digits"])
        return Stamp(day, said) if day and said else None
    for plain in _without_weekday(text):
        for kind, shape in (*_BEHIND, ("ymd", _TIGHT), *_BEFORE):
            if found := shape.fullmatch(plain):
                day, said = _date(kind, found), clock(found["clock"].strip())
                if day and said:
                    return Stamp(day, said)
    return None


@lru_cache(maxsize=1 << 16)
def day(text: str) -> Date | None:
    """A date alone in a tidy cell; None where it is none."""
    if len(text) < 6 or not text[0].isalnum() and text[0] != "(":
        return None
    for plain in _without_weekday(text):
        for kind, shape in _ONLY_DATE:
            if (found := shape.fullmatch(plain)) and (said := _date(kind, found)):
                return said
    return None


def _without_weekday(text: str) -> list[str]:
    """The text as it stands, and without the name of the day before or behind the date."""
    bare = _WEEKDAY_AFTER.sub(" ", text)
    cut = _WEEKDAY.sub("", bare, count=1) if not bare[:1].isdigit() else bare
    return list(dict.fromkeys((text, " ".join(bare.split()), " ".join(cut.split()))))


def clock(text: str, kinds: tuple[str, ...] = ("colon", "hour", "dotted", "strict")) -> Clock | None:
    """A time of day in a tidy cell; None where it is none.

    kinds : which ways of writing count: "colon" (20:04, 20h04, 20時04分), "hour" (20 h, 8 PM), "dotted" (20.04, 20,4),
            "digits" (804 is 08:04), "strict" (four or six digits)
    """
    for kind in kinds:
        found = _CLOCKS["digits" if kind == "strict" else kind].fullmatch(text)
        if found and (kind != "strict" or len(found["digits"]) in (4, 6)):
            return _clock(found.groupdict(), kind)
    return None


def _clock(parts: dict[str, str | None], kind: str) -> Clock | None:
    zone, name = None, ""
    if written := parts.get("zone"):
        name = written.strip()
        zone = zone_minutes(name)
        if zone is None:
            return None
    if digits := parts.get("digits"):
        digits = digits.zfill(6 if len(digits) > 4 else 4)
        return _checked(int(digits[:2]), int(digits[2:4]), int(digits[4:] or 0), 0, zone, name)
    hour, minute, second = int(parts["hh"] or 0), parts.get("mm") or "0", int(parts.get("ss") or 0)
    # A number loses the zero at its end: 20.4 was 20.40.
    minutes = int(minute) * 10 if kind == "dotted" and len(minute) == 1 else int(minute)
    fraction = int((parts.get("f") or "0").ljust(6, "0")[:6])
    if half := (parts.get("h1") or parts.get("h2")):
        if not (0 <= hour <= 12):
            return None
        later = half.lower().startswith("p") or half in ("午後", "下午", "오후")
        hour = hour % 12 + (12 if later else 0)
    return _checked(hour, minutes, second, fraction, zone, name)


def _checked(hour: int, minute: int, second: int, fraction: int, zone: int | None, name: str) -> Clock | None:
    whole = (hour, minute, second) == (24, 0, 0)  # midnight as the end of a day
    if not whole and (hour > 23 or minute > 59 or second > 60):
        return None
    return Clock(((hour * 60 + minute) * 60 + second) * 1_000_000 + fraction, zone, name)


def _date(kind: str, found: re.Match[str]) -> Date | None:
    parts = found.groupdict()
    if kind == "xyz":
        if not parts["m"] and not (
            int(parts["b"]) <= 31 and (1 <= int(parts["a"]) <= 31 or 1 <= int(parts["c"]) <= 31)
        ):
            return None
        return Date(int(parts["a"]), int(parts["b"]), int(parts["c"]), "xyz", parts["m"], len(parts["c"]) == 2)
    month = int(parts["b"]) if kind == "ymd" else lexicon.month(parts["n"])
    if month is None or not 1 <= month <= 12 or not 1 <= int(parts["c"]) <= 31:
        return None
    year = int(parts["y"])
    return Date(year + 2000 if len(parts["y"]) == 2 else year, month, int(parts["c"]), "ymd", parts.get("m") or "")


def zone_minutes(text: str) -> int | None:
    """Minutes east of UTC of "+05:30", "UTC+2", "Z" or an abbreviation; None where it names no zone."""
    plain = cells.tidy(text).casefold().strip("() ")
    if plain in ZONES:
        return ZONES[plain]
    found = _OFFSET.fullmatch(plain)
    if not found:
        return None
    # Without a mark the last two of three or four digits are minutes.
    hours, minutes = int(found["h"]), int(found["m"] or 0)
    if hours > 14 or minutes > 59:
        return None
    return (hours * 60 + minutes) * (1 if found["sign"] == "+" else -1)


def day_number(year: int, month: int, dom: int) -> int | None:
    """Days since 1970; None where no calendar has that day."""
    try:
        return date(year, month, dom).toordinal() - EPOCH_DAY
    except ValueError:
        return None


def epoch_us(value: float) -> int | None:
    """Microseconds since 1970 of a number of seconds, milliseconds or microseconds from 2001 to 2037; None else."""
    for scale in (1, 1000, 1_000_000):
        if _EPOCH_LEAST <= value / scale <= _EPOCH_MOST:
            return round(value * (1_000_000 // scale))
    return None


def is_serial(value: float) -> bool:
    """Whether a number may be a day as a spreadsheet counts it."""
    return SERIAL_LEAST <= value <= SERIAL_MOST


def serial_us(value: float, decimals: int) -> int:
    """Microseconds since 1970 of a spreadsheet's day number, to the minute where the printed digits leave it open.

    decimals : how many were printed. Six decimals of a day are a tenth of a second, four are nine seconds.
    """
    micros = (value + SERIAL_ZERO) * DAY_US
    within = 0.5 * 10.0**-decimals * DAY_US + 1
    minute = round(micros / 60_000_000) * 60_000_000
    return minute if abs(minute - micros) <= max(within, 500_000) else round(micros / 1_000_000) * 1_000_000

"""When the reports of one file were made: day and month in one order for the whole file, zones, numbers of spreadsheets.

Distinct cells are read once. Dates whose three numbers leave the order open are read by what the whole file allows.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.read import cells, dates, lexicon, times
from reach.read.dates import DAY_US, Clock, Date
from reach.read.rows import Column
from reach.read.times import NOWHEN
from reach.read.understood import Assumption, Question, Settings

Ints = npt.NDArray[np.int64]

_MONTHS: Final = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
                  "November", "December")  # fmt: skip
_YEAR_2000: Final = dates.day_number(2000, 1, 1)
_TWO_YEARS, _FIVE_YEARS = 731, 1826
_CLOSE_DAYS, _APART_DAYS = 3, 20
_STRAY: Final = 0.005  # of the rows; a date that fewer have may be a slip of the hand
_FEW: Final = 0.02  # contradictions to an order that may be slips of single rows
_OFFSET_IN_HEADER: Final = re.compile(r"(?:utc|gmt) ?([-+] ?\d{1,2}(?::?\d\d)?)", re.IGNORECASE)
_ABBREVIATION: Final = re.compile(r"[^\W\d_]{2,5}|日本時間|한국시간")


@dataclass(frozen=True)
class When:
    """How the words of one file say times.

    said         part -> microseconds of each of its words, NOWHEN where it says none: the moment, or the day and what the
                 clock adds to it
    words        part -> its words, in the same order
    assumptions  what the file does not say outright
    questions    what only the user can tell
    """

    said: Mapping[str, Ints]
    words: Mapping[str, Sequence[str]]
    assumptions: tuple[Assumption, ...] = ()
    questions: tuple[Question, ...] = ()

    @cached_property
    def _positions(self) -> dict[str, dict[str, int]]:
        return {name: {word: at for at, word in enumerate(words)} for name, words in self.words.items()}

    def micros(self, columns: Mapping[str, Column]) -> Ints:
        """int64, shape (rows,): microseconds since 1970 UTC, NOWHEN where a row says no time.

        columns : parts, of all rows of the file or of some
        """
        parts = []
        for name, said in self.said.items():
            column, positions = columns[name], self._positions[name]
            at = np.array([positions[word] for word in column.words], dtype=np.int64)
            parts.append(said[at][column.codes])
        nowhere = np.any([part == NOWHEN for part in parts], axis=0)
        return np.where(nowhere, NOWHEN, np.sum([np.where(nowhere, 0, part) for part in parts], axis=0))


@dataclass(frozen=True)
class Part:
    """A column that says a time or a part of it: header as in the file, its words in the order in which the rows first use
    them, and how many rows use each."""

    name: str
    words: Sequence[str]
    rows: Sequence[int] | Ints

    @classmethod
    def of(cls, name: str, column: Column) -> Part:
        """The same of all rows of a file."""
        first = np.full(len(column.words), len(column.codes), dtype=np.int64)
        np.minimum.at(first, column.codes, np.arange(len(column.codes)))
        order = np.argsort(first, kind="stable")
        rows = np.bincount(column.codes, minlength=len(column.words))[order]
        return cls(name, [column.words[at] for at in order], rows)


def read(parts: dict[str, Part], settings: Settings, *, source: str, now: datetime, days: Sequence[int] = ()) -> When:
    """The times of a file.

    parts    : "datetime", or "date" and "clock", or one of these where there is no other
    settings : what the user settled: day_first, zone
    source   : name of the file, for questions
    now      : no date is later than the day after
    days     : days since 1970 on which the station was on the air, where a schedule tells
    Returns When.
    """
    book = _Book(parts, settings, source, now.replace(tzinfo=now.tzinfo or UTC), days)
    if "datetime" in parts:
        said = {"datetime": book.moments(parts["datetime"])}
    else:
        said = book.days_and_clocks(parts.get("date"), parts.get("clock"))
    words = {name: parts[name].words for name in said}
    return When(said, words, tuple(book.assumptions), tuple(book.questions))


class _Book:
    """What one file is found to say, put together cell by cell."""

    def __init__(
        self, parts: dict[str, Part], settings: Settings, source: str, now: datetime, days: Sequence[int]
    ) -> None:
        self.parts, self.settings, self.source, self.now, self.days = parts, settings, source, now, set(days)
        self.assumptions: list[Assumption] = []
        self.questions: list[Question] = []
        self.order = "dmy" if settings.day_first else "mdy" if settings.day_first is False else None

    # ---------------------------------------------------------------------------------------------------- whole columns

    def moments(self, part: Part) -> Ints:
        """Times of the words of a column in which date and clock stand together."""
        texts = [cells.tidy(word) for word in part.words]
        stamps = [dates.stamp(text) for text in texts]
        self._settle_order(part, [s.date if s else None for s in stamps], texts)
        clocks = [s.clock if s else None for s in stamps]
        micros = np.full(len(texts), NOWHEN, dtype=np.int64)
        for at, (text, found) in enumerate(zip(texts, stamps, strict=True)):
            if found:
                micros[at] = self._sum(self._day(found.date), found.clock.micros)
            elif text:
                micros[at] = self._number(text)
        day_of = np.where(micros == NOWHEN, NOWHEN, micros // DAY_US)
        shift = self._zone(part, clocks, day_of[micros != NOWHEN])
        absolute = np.array([dates.epoch_us(n.value) is not None if (n := cells.number(t)) else False for t in texts])
        micros = np.where((micros == NOWHEN) | absolute, micros, micros - shift)
        self._last_resort(part, micros)
        return micros

    def days_and_clocks(self, date: Part | None, clock: Part | None) -> dict[str, Ints]:
        """What the words of two columns add to a time; NOWHEN throughout where one is missing."""
        if date is None or clock is None:
            there = {"date": date, "clock": clock}
            return {name: np.full(len(part.words), NOWHEN) for name, part in there.items() if part is not None}
        day = self._days(date)
        texts = [cells.tidy(word) for word in clock.words]
        read = self._clock_reader(texts)
        clocks = [read(text) if text else None for text in texts]
        known = day[day != NOWHEN]
        shifts = self._zone(clock, clocks, known)
        of_day = np.array([0 if c is None else c.micros for c in clocks], dtype=np.int64) - shifts
        none = np.array([c is None for c in clocks], dtype=bool)
        since = np.where(day == NOWHEN, NOWHEN, np.where(day == NOWHEN, 0, day) * DAY_US)
        return {"date": since, "clock": np.where(none, NOWHEN, of_day)}

    def _days(self, part: Part) -> Ints:
        """Days since 1970 of the words of a date column."""
        texts = [cells.tidy(word) for word in part.words]
        found: list[Date | None] = []
        for text in texts:
            both = dates.stamp(text) if len(text) > 10 else None
            found.append(both.date if both else dates.day(text))
        self._settle_order(part, found, texts)
        days = np.full(len(texts), NOWHEN, dtype=np.int64)
        serial = False
        for at, (text, date) in enumerate(zip(texts, found, strict=True)):
            if date:
                day = self._day(date)
                days[at] = NOWHEN if day is None else day
            elif (n := cells.number(text)) and dates.is_serial(n.value):
                days[at], serial = int(n.value) + dates.SERIAL_ZERO, True
        if serial:
            self.assumptions.append(Assumption("serial", {"column": part.name}))
        return days

    @staticmethod
    def _in_order(part: Part, found: Sequence[Date | None]) -> list[Date]:
        """The dates of three numbers in the order in which the rows use them first, without what only stray rows say."""
        rows: dict[Date, int] = {}
        for date, count in zip(found, part.rows, strict=True):
            if date is not None and date.order == "xyz":
                rows[date] = rows.get(date, 0) + int(count)
        least = _STRAY * sum(rows.values())
        return [date for date, n in rows.items() if n >= least]

    # -------------------------------------------------------------------------------------------------- single cells

    def _day(self, date: Date) -> int | None:
        if date.order == "ymd":
            return dates.day_number(date.a, date.b, date.c)
        return _in(date, self.order or "dmy")

    @staticmethod
    def _sum(day: int | None, micros: int) -> int:
        return NOWHEN if day is None else day * DAY_US + micros

    def _number(self, text: str) -> int:
        said = cells.number(text)
        if said is None or said.unit:
            return NOWHEN
        if (since := dates.epoch_us(said.value)) is not None:
            self._once(Assumption("epoch", {"column": self.parts["datetime"].name}))
            return since
        if dates.is_serial(said.value):
            self._once(Assumption("serial", {"column": self.parts["datetime"].name}))
            return dates.serial_us(said.value, len(re.split(r"[.,]", text)[-1]) if not said.whole else 0)
        return NOWHEN

    def _last_resort(self, part: Part, micros: Ints) -> None:
        """Ways of writing that only the plain reader of times knows."""
        import pandas as pd

        left = [at for at in np.flatnonzero(micros == NOWHEN) if part.words[int(at)].strip()]
        if left:
            said = times.read(pd.Index([part.words[int(at)] for at in left]), day_first=self.order != "mdy")
            micros[left] = said.micros

    def _clock_reader(self, texts: Sequence[str]) -> Callable[[str], Clock | None]:
        """How the cells of one column of clocks are read: one way for all, as 1200 may be a clock or a fraction lost."""
        some = [text for text in texts if text][:400]
        fractions = sum(
            1 for t in some if (n := cells.number(t)) and not n.unit and 0 <= n.value < 1 and len(n.digits) > 2
        )
        if some and fractions >= 0.9 * len(some):
            self._once(Assumption("serial", {"column": self.parts["clock"].name}))
            return _fraction
        zeros = next((t for t in some if re.fullmatch(r"\d{1,3}|\d{5}|\d{1,2}[.,]\d", t)), None)
        kinds = ("colon", "hour", "dotted", "digits")
        if zeros and (said := dates.clock(zeros, kinds)):
            minutes = said.micros // 60_000_000
            self._once(Assumption("lost-zeros", {"example": zeros, "read": f"{minutes // 60:02}:{minutes % 60:02}"}))

        def read(text: str) -> Clock | None:
            said = dates.clock(text, kinds)
            if said is None and (both := dates.stamp(text)):
                return both.clock  # on a day of 1899 or 1970: a spreadsheet's way of keeping a clock alone
            return said if said else _fraction(text)

        return read

    def _once(self, assumption: Assumption) -> None:
        if assumption not in self.assumptions:
            self.assumptions.append(assumption)

    # ------------------------------------------------------------------------------------------------- day and month

    def _settle_order(self, part: Part, said: Sequence[Date | None], texts: Sequence[str]) -> None:
        """Decide how dates of three numbers are read, by the first rule that leaves one order."""
        open_dates = self._in_order(part, said)
        if not open_dates:
            return
        if self.order is not None:
            self._once(Assumption("order", {"read": self.order, "why": "option"}))
            return
        self.order, why = self._order_of(open_dates)
        if self.order:
            self._once(Assumption("order", {"read": self.order, "why": why}))
            return
        self.order = "dmy"
        example: dict[Date, str] = {}
        for date, text in zip(said, texts, strict=True):
            if date:
                example.setdefault(date, text)
        if why == "mixed":
            day_only = next(d for d in open_dates if _in(d, "dmy") is not None and _in(d, "mdy") is None)
            month_only = next(d for d in open_dates if _in(d, "mdy") is not None and _in(d, "dmy") is None)
            shown = tuple(example.get(d, "") for d in (day_only, month_only))
            self.questions.append(Question("order-mixed", self.source, {"column": part.name, "examples": shown}))
            return
        date = next((d for d in open_dates if _in(d, "dmy") != _in(d, "mdy")), open_dates[0])
        year = date.c + 2000 if date.short else date.c
        readings = f"{date.a} {_MONTHS[date.b - 1]} {year}", f"{date.b} {_MONTHS[date.a - 1]} {year}"
        values = {"column": part.name, "example": example.get(date, ""), "readings": readings}
        self.questions.append(Question("order", self.source, values))

    def _order_of(self, found: Sequence[Date]) -> tuple[str | None, str]:
        """The order and the rule that tells it; None and "mixed" or "open" where none does. Dates in the order of rows."""
        distinct = list(dict.fromkeys(found))
        orders = ["dmy", "mdy"] + (["ymd"] if all(date.short for date in distinct) else [])
        readings = {order: [_in(date, order) for date in distinct] for order in orders}
        # What no calendar has in any order is a mistake of that row and tells nothing.
        fair_dates = [k for k in range(len(distinct)) if any(days[k] is not None for days in readings.values())]
        distinct = [distinct[k] for k in fair_dates]
        readings = {order: [days[k] for k in fair_dates] for order, days in readings.items()}
        if not distinct:
            return "dmy", "range"
        wrong = {order: np.mean([day is None for day in days]) for order, days in readings.items()}
        # Dots stand in dates of countries that write the day first; a year in front is the only other way.
        if all(date.mark == "." for date in distinct) and wrong["dmy"] <= _FEW:
            return "dmy", "dots"
        fair = [order for order in orders if wrong[order] <= _FEW]
        if not fair:
            return None, "mixed"
        none_wrong = [order for order in fair if not wrong[order]]
        fair, why = (none_wrong or fair), "range"
        rules: tuple[tuple[str, Callable[[list[int]], bool]], ...] = (
            ("future", self._possible),
            ("recent", self._recent(readings, fair, distinct)),
            ("schedule", self._on_schedule(readings, fair)),
            ("gaps", _without_gaps(readings, fair)),
            ("rising", _rising(readings, fair)),
        )
        for name, holds in rules:
            if len({tuple(readings[order]) for order in fair}) == 1:
                break
            kept = [order for order in fair if holds([day for day in readings[order] if day is not None])]
            if kept and len(kept) < len(fair):
                fair, why = kept, name
        if len({tuple(readings[order]) for order in fair}) == 1:
            return fair[0], why
        return None, "open"

    def _possible(self, days: list[int]) -> bool:
        tomorrow = (self.now + timedelta(days=1)).date().toordinal() - dates.EPOCH_DAY
        return max(days) <= tomorrow and min(days) >= (_YEAR_2000 or 0)

    def _recent(
        self, readings: dict[str, list[int | None]], fair: Sequence[str], found: Sequence[Date]
    ) -> Callable[[list[int]], bool]:
        """Years of two digits could be any: exports are read soon after they were made."""
        today = self.now.date().toordinal() - dates.EPOCH_DAY
        newest = {order: max(day for day in readings[order] if day is not None) for order in fair}
        best = max((day for day in newest.values() if day <= today + 1), default=0)

        def holds(days: list[int]) -> bool:
            return not found[0].short or today - best > _TWO_YEARS or best - max(days) <= _FIVE_YEARS

        return holds

    def _on_schedule(self, readings: dict[str, list[int | None]], fair: Sequence[str]) -> Callable[[list[int]], bool]:
        fits = {tuple(readings[o]): np.mean([d in self.days for d in readings[o]]) >= 0.5 for o in fair}

        def holds(days: list[int]) -> bool:
            return not self.days or bool(fits.get(tuple(days), False))

        return holds

    # --------------------------------------------------------------------------------------------------------- zones

    def _zone(self, part: Part, clocks: Sequence[Clock | None], days: Ints) -> Ints:
        """How far each word's clock is ahead of UTC [microseconds]: its own zone, the user's, the header's, none."""
        said = [c.zone if c else None for c in clocks]
        named = {c.zone_name.casefold() for c in clocks if c and c.zone_name}
        rest, where, name = self._zone_of_the_rest(part)
        if any(zone is None and c for zone, c in zip(said, clocks, strict=True)):
            if where == "local":
                self.questions.append(Question("zone", self.source, {"name": part.name}))
            elif where:
                self._once(Assumption("zone", {"zone": rest, "from": where, "name": name}))
            elif "epoch" not in [a.code for a in self.assumptions] or any(c for c in clocks):
                self._once(Assumption("no-zone", {}))
        if any(zone for zone in said):
            zones = sorted({zone for zone in said if zone is not None})
            self._once(Assumption("zone", {"zone": zones[0], "from": "cell", "name": ", ".join(sorted(named))}))
        self._summer(part, name, named, days)
        return np.array([(rest if zone is None else zone) * 60_000_000 for zone in said], dtype=np.int64)

    def _zone_of_the_rest(self, part: Part) -> tuple[int, str, str]:
        """Of clocks that name none: minutes, where that is said ("" nowhere), and the name."""
        if self.settings.zone is not None:
            return self.settings.zone, "option", ""
        names = [part.name] + [other.name for key, other in self.parts.items() if key in ("date", "clock")]
        for header in names:
            plain = cells.tidy(header)
            if found := _OFFSET_IN_HEADER.search(plain):
                return dates.zone_minutes(found[1]) or 0, "header", found[0]
            for word in _ABBREVIATION.findall(plain):
                if word.casefold() in dates.ZONES and word.casefold() != "west":
                    return dates.ZONES[word.casefold()], "header", word
            leanings = lexicon.leanings(header)
            if leanings.get("local", 0) > 0.5:
                return 0, "local", header
            if leanings.get("utc", 0) > 0.5:
                return 0, "header", header
        return 0, "", ""

    def _summer(self, part: Part, name: str, named: set[str], days: Ints) -> None:
        """Winter's name on summer's days: people write it all year."""
        winter = next((zone for zone in (name.casefold(), *named) if zone in dates.ALL_YEAR), None)
        if winter is None or self.settings.zone is not None or not len(days):
            return
        months = {(datetime(1970, 1, 1) + timedelta(days=int(day))).month for day in np.unique(days)}
        if months & set(range(4, 11)):
            values = {"name": part.name, "zone": winter.upper(), "minutes": dates.ALL_YEAR[winter]}
            self.questions.append(Question("zone-summer", self.source, values))


def says_zone(header: str) -> bool:
    """Whether a header names a zone other than UTC, or local time."""
    leanings = lexicon.leanings(header)
    if leanings.get("local", 0) > 0.5 or _OFFSET_IN_HEADER.search(cells.tidy(header)):
        return True
    return any(dates.ZONES.get(word.casefold()) for word in _ABBREVIATION.findall(cells.tidy(header)))


def _in(date: Date, order: str) -> int | None:
    """Days since 1970 of a date of three numbers read in an order; None where no calendar has it."""
    a, b, c = date.a, date.b, date.c
    day, month, year = {"dmy": (a, b, c), "mdy": (b, a, c), "ymd": (c, b, a)}[order]
    return dates.day_number(year + 2000 if year < 100 else year, month, day)


def _fraction(text: str) -> Clock | None:
    said = cells.number(text)
    if said is None or said.unit or not 0 <= said.value < 1:
        return None
    decimals = len(re.split(r"[.,]", text)[-1]) if not said.whole else 0
    return Clock(dates.serial_us(said.value - dates.SERIAL_ZERO, decimals) % DAY_US)


def _gap(days: Sequence[int | None]) -> int:
    known = sorted({day for day in days if day is not None})
    return max((b - a for a, b in zip(known, known[1:], strict=False)), default=0)


def _without_gaps(readings: dict[str, list[int | None]], fair: Sequence[str]) -> Callable[[list[int]], bool]:
    """In one order the days follow each other, in the others weeks lie between them."""
    gaps = {order: _gap(readings[order]) for order in fair}
    several = all(len({day for day in readings[order] if day is not None}) >= 2 for order in fair)
    close = [order for order in fair if gaps[order] <= _CLOSE_DAYS]
    apart = [order for order in fair if gaps[order] >= _APART_DAYS]
    clear = several and len(close) == 1 and len(close) + len(apart) == len(fair)
    return lambda days: not clear or _gap(days) <= _CLOSE_DAYS


def _rising(readings: dict[str, list[int | None]], fair: Sequence[str]) -> Callable[[list[int]], bool]:
    """In one order the rows follow the calendar, forwards or backwards."""
    enough = all(len({day for day in readings[order] if day is not None}) >= 3 for order in fair)

    def holds(days: list[int]) -> bool:
        steps = np.diff(np.array(days))
        return not enough or bool((steps >= 0).all() or (steps <= 0).all())

    return holds

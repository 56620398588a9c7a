"""One file: what is known of it before its rows are read, and what a piece of its text becomes.

A file that is read at once is one piece. What only the whole of it tells, the order of day and month above all, is settled
from what its pieces say together (`Times`).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from fnmatch import fnmatch
from typing import Any, Final

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reach.base import text as texts
from reach.errors import InputError
from reach.read import cells, columns, dialect, headers, lexicon, profile, readable, rows, times, when
from reach.read.columns import Reading
from reach.read.dialect import Dialect
from reach.read.encoding import Bytes
from reach.read.profile import Profile
from reach.read.roles import Own
from reach.read.rows import Column, Rows
from reach.read.understood import Assumption, Settings, Understood, zone_of
from reach.read.when import Part, When
from reach.study import Study

TIME_PARTS: Final = ("datetime", "date", "clock")
MOST_COLUMNS: Final = 1000
HEAD: Final = 1 << 16  # bytes that tell how a file is written
_WHOLE: Final = 1 << 18  # bytes of a file that is looked at whole
_TOGETHER: Final = 1 << 24  # bytes of a text that are written anew at a time
_SLICES, _SLICE = 24, 1 << 13
_DATED: Final = re.compile(r"\d[-/.]\d{1,2}[-/.]\d|^\d{9}")  # a time that brings its own date


@dataclass(frozen=True)
class Asked:
    """What is known before a file is opened.

    settings  what the user settled for all files; by_file: for single ones, by their names or by patterns of names
    own       the station: callsign and locator; power_w: its power [W]
    now       no date is later than the day after
    heard     whether what the station heard of others is asked for
    days      days since 1970 on which the station was on the air, where a schedule tells
    """

    settings: Settings = field(default_factory=Settings)
    by_file: Mapping[str, Settings] = field(default_factory=dict)
    own: Own = field(default_factory=Own)
    power_w: float | None = None
    now: datetime = field(default_factory=lambda: datetime.now(UTC))
    heard: bool = False
    days: Sequence[int] = ()

    def of(self, name: str) -> Settings:
        """What is settled for one file: for all, then for each name or pattern that fits it, later ones going before."""
        found = self.settings
        for pattern, settings in self.by_file.items():
            if name == pattern or fnmatch(name, pattern) or fnmatch(name.rpartition("/")[2], pattern):
                found = found | settings
        return found


@dataclass(frozen=True)
class Layout:
    """What is known of a file before its rows are read.

    name, encoding  of the file
    written    how it is written; settings: what the user settled for it
    delimiter  what stands between cells, once columns set with blanks are set with tabs
    found      what its columns are; sampled: of all of them, what a sample of their cells looks like
    """

    name: str
    encoding: str
    written: Dialect
    settings: Settings
    delimiter: str
    found: Reading
    sampled: list[Profile]

    @property
    def is_askable(self) -> bool:
        """Whether it takes the user to know what the columns are, and no rows would tell more."""
        return bool(self.found.questions) and not set(TIME_PARTS) & self.found.place.keys()

    @property
    def shape(self) -> dict[str, Any]:
        """What `rows.take` needs to know."""
        return {"delimiter": self.delimiter, "place": self.found.place, "width": len(self.written.headers)}


@dataclass(frozen=True)
class Piece:
    """Rows of a file, and their times where a plain reader of times would not know them."""

    rows: Rows
    micros: np.ndarray | None = None


def nothing() -> Rows:
    """No rows."""
    return Rows({}, np.empty(0, dtype=np.int64), {})


def written(sample: bytes, asked: Asked, name: str) -> Dialect:
    """How a file is written, from its beginning. InputError where it is empty, or has more columns than any table of spots."""
    found = dialect.find(sample.decode("utf-8", errors="ignore"), asked.of(name).columns, name=name)
    if len(found.headers) > MOST_COLUMNS:
        raise InputError(f"{name}: has {len(found.headers):,} columns, more than the limit of {MOST_COLUMNS:,}.")
    return replace(found, headers=tuple(texts.shown(header) for header in found.headers))


def is_as_it_stands(written: Dialect) -> bool:
    """Whether the rows are cut out of the text itself: no quotes round whole lines, no columns set with blanks."""
    return not written.wrapped and written.delimiter not in (dialect.BLANKS, dialect.BLANK)


def _in_memory(parts: Iterable[bytes]) -> Bytes:
    return pa.py_buffer(b"".join(parts))


def plain_text(
    text: Bytes, written: Dialect, *, keep: Callable[[Iterable[bytes]], Bytes] = _in_memory, size: int = _TOGETHER
) -> tuple[Bytes, str]:
    """The text of a file, and what stands between its cells; columns set with blanks are set with tabs.

    keep : where the text goes if it has to be written anew, part by part
    size : bytes that are looked at together, which changes nothing but the memory that it takes
    """
    mark = written.delimiter
    if is_as_it_stands(written):
        return text, mark
    if written.wrapped:
        # The lines of the beginning stand in quotes; whether all do is asked first.
        counted = sum((dialect.Wrapped.of(part.decode()) for part in _whole_lines(text, size)), dialect.Wrapped())
        if not counted.mostly:
            return text, mark
        return keep(dialect.without_quotes(part.decode()).encode() for part in _whole_lines(text, size)), mark
    apart = re.compile(rb" {2,}" if mark == dialect.BLANKS else rb"[ \t]+")
    return keep(_set_with_tabs(part, apart) for part in _whole_lines(text, size)), "\t"


def _whole_lines(text: Bytes, size: int) -> Iterator[bytes]:
    """A text in parts of about so many bytes, each but the last up to the end of a line, whatever marks it."""
    waiting: list[bytes] = []
    for start in range(0, text.size, size):
        part = text.slice(start, min(size, text.size - start)).to_pybytes()
        # A carriage return at the end of what is here may have its line feed behind it.
        end = max(part.rfind(b"\n"), part.rfind(b"\r", 0, len(part) - 1)) + 1
        if end:
            yield b"".join([*waiting, part[:end]])
            waiting = []
        waiting.append(part[end:])
    if last := b"".join(waiting):
        yield last


def _set_with_tabs(lines: bytes, apart: re.Pattern[bytes]) -> bytes:
    return apart.sub(b"\t", b"".join(line.strip(b" ") + b"\n" for line in lines.splitlines()))


def layout(text: Bytes, written: Dialect, asked: Asked, *, name: str, encoding: str, delimiter: str) -> Layout:
    """What the columns of a file are.

    text : as `plain_text` has it, with `delimiter` between its cells
    """
    settings, names = asked.of(name), written.headers
    chosen = headers.choose(names, settings.columns, name=name)
    sample = _sample(text, delimiter, len(names), written.header_lines)
    sampled = profile.profiles(names, [row for row in sample if not _says_nothing(row, names)])
    found = columns.understand(
        sampled,
        source=name,
        headed=written.headed,
        chosen=chosen,
        own=asked.own,
        power_w=asked.power_w,
        heard=asked.heard,
    )
    return Layout(name, encoding, written, settings, delimiter, found, sampled)


def ready(taken: Rows, form: Layout, when: When | None) -> Piece:
    """Rows of a file as the raw table has them: date and time of day joined, numbers as they are read, rows that are no report
    marked. when : how the file says times, None where that is plain"""
    same = {
        ours: Column(np.zeros(len(taken.line), dtype=np.int8), [text]) for ours, text in form.found.constants.items()
    }
    cells_ready = _joined_time(readable.columns(taken.columns, form.found)) | same
    faults = _no_reports(taken, form.found.place, form.written.headers)
    return Piece(Rows(cells_ready, taken.line, faults), None if when is None else when.micros(taken.columns))


def _sample(text: Bytes, delimiter: str, width: int, header_lines: int) -> list[tuple[str, ...]]:
    """Rows of the right width from all over a file."""
    if text.size <= _WHOLE:
        # Quoted cells may run over lines, so the header is left out by its records and not by its lines.
        reader = csv.reader(
            io.StringIO(text.slice(0, text.size).to_pybytes().decode("utf-8", errors="replace"), newline=None),
            delimiter=delimiter,
        )
        found = []
        try:
            for row in reader:
                if reader.line_num > header_lines and len(row) == width and any(cell.strip() for cell in row):
                    found.append(tuple(row))
        except csv.Error:
            pass
        return found
    found = []
    for start in np.linspace(0, text.size - _SLICE, _SLICES).astype(int):
        piece = text.slice(int(start), _SLICE).to_pybytes().decode("utf-8", errors="ignore")
        # The first and the last line of a slice are cut somewhere.
        lines = piece.splitlines()[header_lines if start == 0 else 1 : -1]
        try:
            found += [tuple(row) for row in csv.reader(lines, delimiter=delimiter) if len(row) == width]
        except csv.Error:
            continue
    return found


def _says_nothing(row: Sequence[str], names: Sequence[str]) -> bool:
    """Whether a row is the header once more, or a total. Such are told row by row later; of a short table, one among the rows
    that tell what a column holds would spoil each column."""
    if sum(cell == name and bool(cell.strip()) for cell, name in zip(row, names, strict=True)) >= 3:
        return True
    if sum(not cell.strip() for cell in row) < len(row) // 2:
        return False
    first = next((cell for cell in row if cell.strip()), "")
    return not any(map(str.isdigit, first)) and lexicon.is_total(first)  # asked last, for it looks long at each word


# --------------------------------------------------------------------------------------------------------------- times


@dataclass(frozen=True)
class Times:
    """What rows of a file say of its times: of several pieces of it they can be added, in their order.

    plain  whether they are ISO 8601 throughout and in UTC, which needs no understanding
    words  part -> word -> how many rows use it, in the order in which they first do; empty where it is plain
    """

    plain: bool = True
    words: Mapping[str, Mapping[str, int]] = field(default_factory=dict)

    def __add__(self, other: Times) -> Times:
        words = {name: dict(counts) for name, counts in self.words.items()}
        for name, counts in other.words.items():
            mine = words.setdefault(name, {})
            for word, count in counts.items():
                mine[word] = mine.get(word, 0) + count
        return Times(self.plain and other.plain, words)


def times_of(taken: Mapping[str, Column], form: Layout, *, plain: bool = True) -> Times:
    """What some rows say of the times of their file. plain : False where it is known that they need understanding"""
    there = {name: taken[name] for name in TIME_PARTS if name in taken}
    if plain and _is_plain(there, form):
        return Times()
    parts = {name: Part.of("", column) for name, column in there.items()}
    rows = {name: dict(zip(part.words, map(int, part.rows), strict=True)) for name, part in parts.items()}
    return Times(plain=False, words=rows)


def understood_times(said: Times, form: Layout, asked: Asked) -> When | None:
    """How a file says times; None where that is plain, or there are none. said : of all its rows"""
    if said.plain or not said.words:
        return None
    parts = {name: Part(header(form.found, name), list(rows), list(rows.values())) for name, rows in said.words.items()}
    return when.read(parts, form.settings, source=form.name, now=asked.now, days=asked.days)


def _is_plain(there: Mapping[str, Column], form: Layout) -> bool:
    if not there:
        return True
    joined = _joined_time(dict(there))["time_utc"]
    zoned = form.settings.zone is not None or any(when.says_zone(header(form.found, name)) for name in there)
    # A clock alone that a spreadsheet put on a day of its own looks like ISO 8601 as well.
    old = "clock" in there and any(map(profile.is_old_day, there["clock"].words[:100]))
    return not zoned and not old and times.is_plain(joined.words)


def header(found: Reading, part: str) -> str:
    """The header of the column that says a part of the time."""
    at = found.place[part]
    return next((column.name for column in found.columns if column.at == at), "")


def _joined_time(columns: dict[str, Column]) -> dict[str, Column]:
    """One column for date and time of day; each distinct pair is joined once.

    A time that says its own date stands for itself.
    """
    rest = {ours: column for ours, column in columns.items() if ours not in TIME_PARTS}
    there = [columns[name] for name in ("datetime", "date", "clock") if name in columns]
    if len(there) < 2 or "datetime" in columns:
        return rest | ({"time_utc": there[0]} if there else {})
    date, time = there
    pairs = date.codes.astype(np.int64) * max(len(time.words), 1) + time.codes
    codes, values = pd.factorize(pairs)
    texts = [
        _join_time(date.words[d], time.words[t]) for d, t in (divmod(int(v), max(len(time.words), 1)) for v in values)
    ]
    again, words = pd.factorize(np.array(texts, dtype=object))
    return rest | {"time_utc": Column(again.astype(np.int32)[codes], [str(word) for word in words])}


def _join_time(date: str, time: str) -> str:
    date, time = date.strip(), time.strip()
    whole = _DATED.search(time) and not profile.is_old_day(time)
    return time if whole or not date else f"{date} {time}".strip()


# ----------------------------------------------------------------------------------------------------- what is told


@dataclass(frozen=True)
class Read:
    """How many rows of a file were read, and how many of them are the header once more, or a total: counts that can be added."""

    rows: int = 0
    headers: int = 0
    totals: int = 0

    @classmethod
    def of(cls, piece: Piece) -> Read:
        """The same of some rows."""
        faults = list(piece.rows.faults.values())
        return cls(len(piece.rows.line), faults.count(rows.HEADER), faults.count(rows.TOTAL))

    def __add__(self, other: Read) -> Read:
        return Read(self.rows + other.rows, self.headers + other.headers, self.totals + other.totals)


def understood(form: Layout, when: When | None, read: Read) -> Understood:
    """What the user is told of a file. read : of all its rows"""
    used = set(form.found.place.values())
    no_report = {"title": form.written.titles, "header": read.headers, "total": read.totals}
    return Understood(
        source=form.name,
        encoding=form.encoding,
        delimiter=form.written.delimiter,
        header_lines=form.written.header_lines,
        headed=form.written.headed,
        columns=form.found.columns,
        unused=tuple(
            header.strip() if header.strip() else f"column {at + 1}"
            for at, header in enumerate(form.written.headers)
            if at not in used and (header.strip() or not form.written.headed)
        ),
        assumptions=(*form.found.assumptions, *(when.assumptions if when else _zone_of_plain(form.found, read.rows))),
        questions=(*form.found.questions, *(when.questions if when else ())),
        rows=read.rows,
        no_report={what: count for what, count in no_report.items() if count},
        settings=form.settings,
    )


def _zone_of_plain(found: Reading, read: int) -> tuple[Assumption, ...]:
    """Times in ISO 8601 without a zone are UTC, and where neither they nor the header say so, that is told."""
    column = next((column for column in found.columns if column.role in ("datetime", "clock")), None)
    said = (
        column is None or lexicon.leanings(column.name).get("utc") or re.search(r"[zZ]$|[+-]\d\d:\d\d$", column.example)
    )
    return () if said or not read else (Assumption("no-zone", {}),)


def _no_reports(taken: Rows, place: Mapping[str, int], names: Sequence[str]) -> dict[int, str]:
    """Faults of rows, with those of rows that are no report: the header once more, the total at the end."""
    faults = dict(taken.faults)
    headed = [(taken.columns[ours], names[at]) for ours, at in place.items() if names[at].strip()]
    alike = [(column.codes, column.words.index(header)) for column, header in headed if header in column.words]
    if len(alike) >= min(3, len(place)):
        again = sum((codes == word).astype(np.int8) for codes, word in alike)
        for row in np.flatnonzero(again >= min(3, len(place))):
            faults.setdefault(int(row), rows.HEADER)
    totals = np.zeros(len(taken.line), dtype=bool)
    for name in ("rx_call", "datetime", "date", "clock"):
        if name in taken.columns:
            column = taken.columns[name]
            # Words with a digit say a time or who; of the others there are few.
            wordy = pc.match_substring_regex(pa.array(column.words, pa.large_string()), r"^[^0-9]+$")
            hits = [k for k in np.flatnonzero(wordy) if lexicon.is_total(column.words[k])]
            if hits:
                totals |= np.isin(column.codes, hits)
    if totals.any() and "rx_locator" in taken.columns:
        places = taken.columns["rx_locator"]
        none = np.array([not cells.is_locator(cells.tidy(word)) for word in places.words])
        for row in np.flatnonzero(totals & none[places.codes]):
            faults.setdefault(int(row), rows.TOTAL)
    return faults


def asked_by(study: Study, now: datetime | None = None, days: Sequence[int] = ()) -> Asked:
    """What a study tells of its files before they are opened.

    now : the clock's time where left out; days : as Asked has them
    """
    station, options = study.station, study.options
    zone = None if options.zone is None else zone_of(options.zone)
    return Asked(
        settings=Settings(options.columns, options.day_first, zone),
        own=Own(station.callsign.strip(), station.locator.strip()),
        power_w=station.power_w,
        now=now or datetime.now(UTC),
        heard=study.direction == "heard",
        by_file={
            each.file: Settings(each.columns, each.day_first, None if each.zone is None else zone_of(each.zone))
            for each in study.readings
        },
        days=days,
    )

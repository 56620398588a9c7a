"""From files to one raw table in which every cell is still text."""

from __future__ import annotations

import csv
import io
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from fnmatch import fnmatch
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reach.base import text as texts
from reach.errors import InputError
from reach.findings import InputFile
from reach.read import cells, columns, dialect, headers, lexicon, profile, readable, rows, sources, times, when
from reach.read.columns import Reading
from reach.read.direction import direction
from reach.read.roles import Own
from reach.read.rows import Column, Rows
from reach.read.understood import Assumption, Settings, Unclear, Understood, zone_of
from reach.read.when import When
from reach.study import Study

Path = str | os.PathLike[str]

# The raw table: text columns (category, as in the file; null where the file has no such column), those that some file
# has, in this order; then `source` (category), `line` (int64) and, where some row has the wrong shape, `fault`
# (category): a code and its numbers such as "row-length 2 5", null where the row is sound. `freq` is a frequency whose header names no unit.
# Columns of numbers and bands that had to be rewritten to be understood follow once more as the file has them (readable.WRITTEN).
RAW: Final = (
    "time_utc", "rx_call", "rx_locator", "snr_db", "band", "freq", "freq_hz", "freq_khz", "freq_mhz", "mode", "tx_call",
    "tx_locator", "power_w", "power_mw", "power_dbm", "setup", "session",
)  # fmt: skip
TIME_PARTS: Final = ("datetime", "date", "clock")
MOST_COLUMNS: Final = 1000
_SAMPLE: Final = 1 << 16
_WHOLE: Final = 1 << 18  # bytes of a file that is looked at whole
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
class _File:
    source: sources.Source
    written: dialect.Dialect
    settings: Settings


def read(
    *paths: Path, columns: Mapping[str, str] | None = None, folder: Path | None = None, asked: Asked | None = None
) -> pd.DataFrame:
    """Read spots as text.

    paths   : CSV files, packed ones too (.gz .bz2 .xz .zst .zip), globs, "-" for standard input
    columns : our name -> header in the file, or its number, such as {"callsign": "Reporter"}, where a file does not tell
    folder  : where relative paths start; the current one where left out
    asked   : what is known beforehand
    Returns the raw table (see RAW), rows in the order of the files. InputError where a file will not do; Unclear, with all
    questions of all files, where only the user can tell what a file means.
    """
    return _join(_parts(paths, columns, folder, asked))


def read_files(
    *paths: Path, columns: Mapping[str, str] | None = None, folder: Path | None = None, asked: Asked | None = None
) -> tuple[pd.DataFrame, list[InputFile]]:
    """As `read`; with the particulars of each file for a manifest, and how it was understood."""
    parts = _parts(paths, columns, folder, asked)
    inputs = [
        InputFile(source.name, source.sha256(), len(part.rows.line), part.understood.unused, part.understood)
        for source, part in parts
    ]
    return _join(parts), inputs


def _parts(
    paths: Sequence[Path], columns: Mapping[str, str] | None, folder: Path | None, asked: Asked | None
) -> list[tuple[sources.Source, _Part]]:
    """Each file with its rows. Unclear where some file has a question: all of them are asked at once."""
    asked = asked or Asked()
    if columns:
        asked = replace(asked, settings=Settings(columns) | asked.settings)
    files = _open(paths, asked, folder)
    parts = [_rows(file, asked) for file in files]
    questions = [question for part in parts for question in part.understood.questions]
    if questions:
        raise Unclear(questions, [part.understood for part in parts])
    return [(file.source, part) for file, part in zip(files, parts, strict=True)]


def _open(paths: Sequence[Path], asked: Asked, folder: Path | None) -> list[_File]:
    files = []
    for source in sources.open_all(paths, folder):
        sample = sources.head(source.text, _SAMPLE).decode("utf-8", errors="ignore")
        settings = asked.of(source.name)
        written = dialect.find(sample, settings.columns, name=source.name)
        if len(written.headers) > MOST_COLUMNS:
            raise InputError(
                f"{source.name}: has {len(written.headers):,} columns, more than the limit of {MOST_COLUMNS:,}."
            )
        shown = tuple(texts.shown(header) for header in written.headers)
        files.append(_File(source, replace(written, headers=shown), settings))
    nowhere = headers.missing_choices(asked.settings.columns, [file.written.headers for file in files])
    if nowhere:
        there = ", ".join(repr(header.strip()) for header in files[0].written.headers if header.strip())
        raise InputError(f"{files[0].source.name}: no column is headed {nowhere[0]!r}; the headers are {there}.")
    return files


# ------------------------------------------------------------------------------------------------------------ one file


@dataclass(frozen=True)
class _Part:
    """The rows of one file, the times read already where a plain reader would not know them, and what was understood."""

    rows: Rows
    micros: np.ndarray | None
    understood: Understood


def _rows(file: _File, asked: Asked) -> _Part:
    """The rows of a file with the columns that it has, date and time of day joined."""
    names, name = file.written.headers, file.source.name
    text, delimiter = _without_blanks(file)
    chosen = headers.choose(names, file.settings.columns, name=name)
    sample = _sample(text, delimiter, len(names), file.written.header_lines)
    sampled = profile.profiles(names, [row for row in sample if not _says_nothing(row, names)])
    found = columns.understand(
        sampled,
        source=name,
        headed=file.written.headed,
        chosen=chosen,
        own=asked.own,
        power_w=asked.power_w,
        heard=asked.heard,
    )
    # Where the user is asked, no row is read: what would be done with them?
    if found.questions and not {"datetime", "date", "clock"} & found.place.keys():
        return _Part(_nothing(), None, _told(file, found, When(np.empty(0, dtype=np.int64)), _nothing()))
    taken = rows.take(
        text, delimiter=delimiter, place=found.place, width=len(names), header_lines=file.written.header_lines
    )
    when = _times(taken.columns, found, file, asked)
    same = {ours: Column(np.zeros(len(taken.line), dtype=np.int8), [text]) for ours, text in found.constants.items()}
    cells_ready = _joined_time(readable.columns(taken.columns, found)) | same
    ready = Rows(cells_ready, taken.line, _no_reports(taken, found.place, names))
    micros = None if when is None else when.micros
    whose = direction(taken.columns, found, sampled, micros, asked.own)
    return _Part(ready, micros, replace(_told(file, found, when, ready), direction=whose))


def _nothing() -> Rows:
    return Rows({}, np.empty(0, dtype=np.int64), {})


def _without_blanks(file: _File) -> tuple[pa.Buffer, str]:
    """The text, and what stands between its cells; columns set with blanks are set with tabs."""
    mark = file.written.delimiter
    if file.written.wrapped:
        return pa.py_buffer(dialect.unwrapped(file.source.text.to_pybytes().decode()).encode()), mark
    if mark not in (dialect.BLANKS, dialect.BLANK):
        return file.source.text, mark
    apart = rb" {2,}" if mark == dialect.BLANKS else rb"[ \t]+"
    lines = file.source.text.to_pybytes().split(b"\n")
    return pa.py_buffer(b"\n".join(re.sub(apart, b"\t", line.strip(b" \r")) for line in lines)), "\t"


def _sample(text: pa.Buffer, delimiter: str, width: int, header_lines: int) -> list[tuple[str, ...]]:
    """Rows of the right width from all over a file."""
    if text.size <= _WHOLE:
        # Quoted cells may run over lines, so the header is left out by its records and not by its lines.
        reader = csv.reader(
            io.StringIO(text.to_pybytes().decode("utf-8", errors="replace"), newline=None), delimiter=delimiter
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


def _times(taken: Mapping[str, Column], found: Reading, file: _File, asked: Asked) -> When | None:
    """The times of the rows; None where they are ISO 8601 throughout and in UTC, which needs no understanding."""
    parts = {name: when.Part(_header(found, name), taken[name]) for name in TIME_PARTS if name in taken}
    if not parts:
        return None
    joined = _joined_time({name: part.column for name, part in parts.items()})["time_utc"]
    zoned = file.settings.zone is not None or any(when.says_zone(part.name) for part in parts.values())
    # A clock alone that a spreadsheet put on a day of its own looks like ISO 8601 as well.
    old = "clock" in taken and any(map(profile.is_old_day, taken["clock"].words[:100]))
    if not zoned and not old and times.is_plain(joined.words):
        return None
    return when.read(parts, file.settings, source=file.source.name, now=asked.now, days=asked.days)


def _header(found: Reading, part: str) -> str:
    at = found.place[part]
    return next((column.name for column in found.columns if column.at == at), "")


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


def _told(file: _File, found: Reading, when: When | None, ready: Rows) -> Understood:
    """What the user is told of the file."""
    written, faults = file.written, list(ready.faults.values())
    used = set(found.place.values())
    no_report = {
        "title": written.titles,
        "header": faults.count(rows.HEADER),
        "total": faults.count(rows.TOTAL),
    }
    return Understood(
        source=file.source.name,
        encoding=file.source.encoding,
        delimiter=written.delimiter,
        header_lines=written.header_lines,
        headed=written.headed,
        columns=found.columns,
        unused=tuple(
            header.strip() if header.strip() else f"column {at + 1}"
            for at, header in enumerate(written.headers)
            if at not in used and (header.strip() or not written.headed)
        ),
        assumptions=(*found.assumptions, *(when.assumptions if when else _zone_of_plain(found, ready))),
        questions=(*found.questions, *(when.questions if when else ())),
        rows=len(ready.line),
        no_report={what: count for what, count in no_report.items() if count},
        settings=file.settings,
    )


def _zone_of_plain(found: Reading, ready: Rows) -> tuple[Assumption, ...]:
    """Times in ISO 8601 without a zone are UTC, and where neither they nor the header say so, that is told."""
    column = next((column for column in found.columns if column.role in ("datetime", "clock")), None)
    said = (
        column is None or lexicon.leanings(column.name).get("utc") or re.search(r"[zZ]$|[+-]\d\d:\d\d$", column.example)
    )
    return () if said or not len(ready.line) else (Assumption("no-zone", {}),)


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


# ----------------------------------------------------------------------------------------------------------- one table


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


def _join(files: Sequence[tuple[sources.Source, _Part]]) -> pd.DataFrame:
    """The files below each other."""
    parts = [(source.name, part.rows) for source, part in files]
    lengths = [len(part.line) for _, part in parts]
    every = (*RAW, *(f"{ours}{readable.WRITTEN}" for ours in RAW))
    there = [ours for ours in every if any(ours in part.columns for _, part in parts)]
    table: dict[str, pd.Categorical | np.ndarray] = {}
    for ours in there:
        table[ours] = _stack([part.columns.get(ours) for _, part in parts], lengths)
    table["source"] = pd.Categorical.from_codes(
        np.repeat(np.arange(len(parts)), lengths), categories=_index([name for name, _ in parts])
    )
    table["line"] = np.concatenate([part.line for _, part in parts])
    if any(part.faults for _, part in parts):
        faults = [_faults(part) for _, part in parts]
        table["fault"] = _stack(faults, lengths)
    if any(part.micros is not None for _, part in files):
        moments = [
            np.full(n, times.PLAIN) if part.micros is None else part.micros
            for (_, part), n in zip(files, lengths, strict=True)
        ]
        table[times.COLUMN] = np.concatenate(moments)
    return pd.DataFrame(table, copy=False)


def _faults(part: Rows) -> Column:
    """What is wrong with the shape of each row, code -1 where nothing is."""
    words: dict[str, int] = {}
    codes = np.full(len(part.line), -1, dtype=np.int32)
    for row, fault in part.faults.items():
        codes[row] = words.setdefault(fault, len(words))
    return Column(codes, list(words))


def _stack(columns: Sequence[Column | None], lengths: Sequence[int]) -> pd.Categorical:
    """Columns below each other with one vocabulary; a file without the column has nulls."""
    words: dict[str, int] = {}
    pieces = []
    for column, length in zip(columns, lengths, strict=True):
        if column is None:
            pieces.append(np.full(length, -1, dtype=np.int32))
            continue
        to = np.array([words.setdefault(word, len(words)) for word in column.words] + [-1], dtype=np.int32)
        pieces.append(column.codes if _same(to) else to[column.codes])
    codes = pieces[0] if len(pieces) == 1 else np.concatenate(pieces)
    return pd.Categorical.from_codes(codes, categories=_index(list(words)), validate=False)


def _same(to: np.ndarray) -> bool:
    return bool((to[:-1] == np.arange(len(to) - 1)).all())


def _index(words: list[str]) -> pd.Index:
    return pd.Index(pa.array(words, pa.large_string()).to_pandas() if words else [], dtype="str")

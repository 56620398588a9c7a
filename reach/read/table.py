"""From files to one raw table in which every cell is still text."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa

from reach.errors import InputError
from reach.findings import InputFile
from reach.read import dialect, headers, rows, sources
from reach.read.rows import Column, Rows

Path = str | os.PathLike[str]

# The raw table: text columns (category, as in the file; null where the file has no such column), those that some file
# has, in this order; then `source` (category), `line` (int64) and, where some row has the wrong shape, `fault`
# (category): a code and its numbers such as "row-length 2 5", null where the row is sound. `freq` is a frequency whose header names no unit.
RAW: Final = (
    "time_utc", "rx_call", "rx_locator", "snr_db", "band", "freq", "freq_hz", "freq_khz", "freq_mhz", "mode", "tx_call",
    "tx_locator", "power_w", "power_mw", "power_dbm", "setup", "session",
)  # fmt: skip
_SAMPLE: Final = 1 << 16
_DATED: Final = re.compile(r"\d[-/.]\d{1,2}[-/.]\d|^\d{9}")  # a time that brings its own date


@dataclass(frozen=True)
class _File:
    source: sources.Source
    written: dialect.Dialect


def read(*paths: Path, columns: Mapping[str, str] | None = None, folder: Path | None = None) -> pd.DataFrame:
    """Read spots as text.

    paths   : CSV files, packed ones too (.gz .bz2 .xz .zst .zip), globs, "-" for standard input
    columns : our name -> header in the file, such as {"callsign": "Reporter"}, where the map of trade terms will not do
    folder  : where relative paths start; the current one where left out
    Returns the raw table (see RAW), rows in the order of the files. InputError where a file will not do.
    """
    return _join([(file.source.name, _rows(file, columns)) for file in _open(paths, columns, folder)])


def read_files(
    *paths: Path, columns: Mapping[str, str] | None = None, folder: Path | None = None
) -> tuple[pd.DataFrame, list[InputFile]]:
    """As `read`; with the particulars of each file for a manifest."""
    parts, files = [], []
    for file in _open(paths, columns, folder):
        found = _rows(file, columns)
        unused = headers.match(file.written.headers, columns, name=file.source.name).unused
        parts.append((file.source.name, found))
        files.append(InputFile(file.source.name, file.source.sha256(), len(found.line), unused))
    return _join(parts), files


def _open(paths: Sequence[Path], columns: Mapping[str, str] | None, folder: Path | None) -> list[_File]:
    files = []
    for source in sources.open_all(paths, folder):
        sample = sources.head(source.text, _SAMPLE).decode("utf-8", errors="ignore")
        files.append(_File(source, dialect.find(sample, columns, name=source.name)))
    nowhere = headers.missing_choices(columns, [file.written.headers for file in files])
    if nowhere:
        there = ", ".join(repr(header.strip()) for header in files[0].written.headers if header.strip())
        raise InputError(f"{files[0].source.name}: no column is headed {nowhere[0]!r}; the headers are {there}.")
    return files


def _rows(file: _File, columns: Mapping[str, str] | None) -> Rows:
    """The rows of a file with the columns that we know, date and time of day joined."""
    names, name = file.written.headers, file.source.name
    found = headers.match(names, columns, name=name)
    headers.require(found, names, name=name)
    taken = rows.take(
        file.source.text,
        delimiter=file.written.delimiter,
        place=found.place,
        width=len(names),
        header_lines=file.written.header_lines,
    )
    return Rows(_joined_time(taken.columns), taken.line, taken.faults)


def _joined_time(columns: dict[str, Column]) -> dict[str, Column]:
    """One column for date and time of day; each distinct pair is joined once.

    A time that says its own date stands for itself.
    """
    rest = {ours: column for ours, column in columns.items() if ours != "date"}
    if "date" not in columns:
        return rest
    if "time_utc" not in columns:
        return rest | {"time_utc": columns["date"]}
    date, time = columns["date"], columns["time_utc"]
    pairs = date.codes.astype(np.int64) * max(len(time.words), 1) + time.codes
    codes, values = pd.factorize(pairs)
    texts = [
        _join_time(date.words[d], time.words[t]) for d, t in (divmod(int(v), max(len(time.words), 1)) for v in values)
    ]
    again, words = pd.factorize(np.array(texts, dtype=object))
    return rest | {"time_utc": Column(again.astype(np.int32)[codes], [str(word) for word in words])}


def _join_time(date: str, time: str) -> str:
    date, time = date.strip(), time.strip()
    return time if _DATED.search(time) or not date else f"{date} {time}".strip()


def _join(parts: Sequence[tuple[str, Rows]]) -> pd.DataFrame:
    """The files below each other."""
    lengths = [len(part.line) for _, part in parts]
    there = [ours for ours in RAW if any(ours in part.columns for _, part in parts)]
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

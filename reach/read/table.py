"""From files to one raw table in which every cell is still text."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa

from reach.base import threads
from reach.base.vocabulary import of_distinct
from reach.errors import InputError
from reach.findings import InputFile
from reach.read import dialect, direction, headers, layout, rows, sources, times
from reach.read.layout import Asked, Piece
from reach.read.rows import Column, Rows
from reach.read.understood import Settings, Unclear, Understood
from reach.spots import WRITTEN

Path = str | os.PathLike[str]

# The raw table: text columns (category, as in the file; null where the file has no such column), those that some file
# has, in this order; then `source` (category), `line` (int64) and, where some row has the wrong shape, `fault`
# (category): a code and its numbers such as "row-length 2 5", null where the row is sound. `freq` is a frequency whose header names no unit.
# Columns of numbers and bands that had to be rewritten to be understood follow once more as the file has them (spots.WRITTEN).
RAW: Final = (
    "time_utc", "rx_call", "rx_locator", "snr_db", "band", "freq", "freq_hz", "freq_khz", "freq_mhz", "mode", "tx_call",
    "tx_locator", "power_w", "power_mw", "power_dbm", "setup", "session",
)  # fmt: skip


@dataclass(frozen=True)
class File:
    """A file that is open, and how it is written."""

    source: sources.Source
    written: dialect.Dialect


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
    asked = _with(asked, columns)
    return _table(_parts(opened(paths, asked, folder), asked))


def read_files(
    *paths: Path, columns: Mapping[str, str] | None = None, folder: Path | None = None, asked: Asked | None = None
) -> tuple[pd.DataFrame, list[InputFile]]:
    """As `read`; with the particulars of each file for a manifest, and how it was understood."""
    asked = _with(asked, columns)
    files = opened(paths, asked, folder)
    # Who reads waits for one thing after another, and the sum of a file for nothing.
    with threads.begun(lambda file: file.source.sha256(), files) as sums:
        parts = _parts(files, asked)
        table = _table(parts)
        inputs = [
            InputFile(source.name, sha256, len(part.piece.rows.line), part.understood.unused, part.understood)
            for (source, part), sha256 in zip(parts, sums, strict=True)
        ]
    return table, inputs


def _with(asked: Asked | None, columns: Mapping[str, str] | None) -> Asked:
    asked = asked or Asked()
    return replace(asked, settings=Settings(columns) | asked.settings) if columns else asked


def _parts(files: Sequence[File], asked: Asked) -> list[tuple[sources.Source, _Part]]:
    """Each file with its rows. Unclear where some file has a question: all of them are asked at once."""
    parts = [_part(file, asked) for file in files]
    asked_at_once([part.understood for part in parts])
    return [(file.source, part) for file, part in zip(files, parts, strict=True)]


def asked_at_once(understood: Sequence[Understood]) -> None:
    """Unclear where some of the files of one reading have a question."""
    questions = [question for each in understood for question in each.questions]
    if questions:
        raise Unclear(questions, understood)


def opened(paths: Sequence[Path], asked: Asked, folder: Path | None, disc: sources.Disc | None = None) -> list[File]:
    """Files of a reading, in their order. disc : as `sources.open_all` has it

    InputError where one cannot be read, or a column that was chosen is in none."""
    files = []
    for source in sources.open_all(paths, folder, disc):
        files.append(File(source, layout.written(sources.head(source.text, layout.HEAD), asked, source.name)))
    _require(asked, [(file.source.name, file.written) for file in files])
    return files


def _require(asked: Asked, files: Sequence[tuple[str, dialect.Dialect]]) -> None:
    """InputError where a column that the user chose for all files is in none of them. files : name and how it is written"""
    nowhere = headers.missing_choices(asked.settings.columns, [written.headers for _, written in files])
    if nowhere:
        name, written = files[0]
        there = ", ".join(repr(header.strip()) for header in written.headers if header.strip())
        raise InputError(f"{name}: no column is headed {nowhere[0]!r}; the headers are {there}.")


@dataclass(frozen=True)
class _Part:
    """The rows of one file, and what was understood."""

    piece: Piece
    understood: Understood


def _part(file: File, asked: Asked) -> _Part:
    """The rows of a file with the columns that it has."""
    text, delimiter = layout.plain_text(file.source.text, file.written)
    form = layout.layout(
        text, file.written, asked, name=file.source.name, encoding=file.source.encoding, delimiter=delimiter
    )
    # Where the user is asked, no row is read: what would be done with them?
    if form.is_askable:
        return _Part(Piece(layout.nothing()), layout.understood(form, None, layout.Read()))
    taken = rows.take(text, header_lines=form.written.header_lines, **form.shape)
    when = layout.understood_times(layout.times_of(taken.columns, form), form, asked)
    piece = layout.ready(taken, form, when)
    slots = direction.slots(taken.columns, form.found, form.sampled, asked.own)
    whose = direction.settled(form.found, form.sampled, slots)
    return _Part(piece, replace(layout.understood(form, when, layout.Read.of(piece)), direction=whose))


# ----------------------------------------------------------------------------------------------------------- one table


def _table(parts: Sequence[tuple[sources.Source, _Part]]) -> pd.DataFrame:
    return joined([(source.name, part.piece) for source, part in parts])


def joined(files: Sequence[tuple[str, Piece]]) -> pd.DataFrame:
    """The raw table of files, or of pieces of them, below each other, each with its name."""
    parts = [(name, piece.rows) for name, piece in files]
    lengths = [len(part.line) for _, part in parts]
    every = (*RAW, *(f"{ours}{WRITTEN}" for ours in RAW))
    there = [ours for ours in every if any(ours in part.columns for _, part in parts)]
    table: dict[str, pd.Categorical | np.ndarray] = {}
    for ours in there:
        table[ours] = _stack([part.columns.get(ours) for _, part in parts], lengths)
    table["source"] = pd.Categorical.from_codes(
        np.repeat(np.arange(len(parts), dtype=np.min_scalar_type(-len(parts))), lengths),
        categories=_index([name for name, _ in parts]),
    )
    table["line"] = np.concatenate([part.line for _, part in parts])
    if any(part.faults for _, part in parts):
        faulty = [faults(part) for _, part in parts]
        table["fault"] = _stack(faulty, lengths)
    if any(part.micros is not None for _, part in files):
        moments = [
            np.full(n, times.PLAIN) if part.micros is None else part.micros
            for (_, part), n in zip(files, lengths, strict=True)
        ]
        table[times.COLUMN] = np.concatenate(moments)
    return pd.DataFrame(table, copy=False)


def faults(part: Rows) -> Column:
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
    names = list(words)
    del words, pieces  # the times of millions of rows are as many words
    return of_distinct(codes, _index(names))


def _same(to: np.ndarray) -> bool:
    return bool((to[:-1] == np.arange(len(to) - 1)).all())


def _index(words: list[str]) -> pd.Index:
    return pd.Index(pa.array(words, pa.large_string()).to_pandas() if words else [], dtype="str")

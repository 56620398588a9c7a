"""Files read piece by piece, where no memory should hold all rows of one: what the rows say waits in a spool meanwhile.

What is understood of a file, and the raw tables of its pieces one below the other, are what `table` makes of it at once,
whatever the size of a piece. The text of a file is never in memory whole either.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa

from reach.base.spool import Spool
from reach.findings import InputFile
from reach.read import direction, layout, rows, table
from reach.read.encoding import Bytes
from reach.read.layout import TIME_PARTS, Asked, Layout, Piece, Times
from reach.read.rows import Column, Rows
from reach.read.sources import Disc, Known
from reach.read.when import When

PIECE: Final = 1 << 24  # bytes of text
_BEHIND: Final = 1 << 16  # bytes that mostly hold rows.LONGEST_CELL lines
_PART: Final = "part "  # before the name of a column that says a part of the time as it stands in the file


@dataclass(frozen=True)
class Waiting:
    """A file whose rows wait in a spool.

    input   what a manifest says of it, and how it was understood
    spool, numbers  where the pieces lie; when: how the file says times, None where that is plain
    """

    input: InputFile
    spool: Spool
    numbers: range
    when: When | None

    def tables(self) -> Iterator[pd.DataFrame]:
        """The raw table (table.RAW) of each piece, in the order of the file; at least one, which may have no rows."""
        for number in self.numbers:
            held = self.spool.take(number)
            micros = None if self.when is None else self.when.micros(_parts(held))
            yield table.joined([(self.input.name, Piece(_rows(held), micros))])


def read_files(
    *paths: str | os.PathLike[str],
    asked: Asked,
    spool: Spool,
    folder: Path | None = None,
    size: int = PIECE,
    known: Known | None = None,
) -> list[Waiting]:
    """Read files as `table.read_files` does, their rows into a spool.

    size : bytes of text that are looked at together, rows that start in them whole
    known : a file among them that was looked at before
    Errors as there; OSError where the disc of the spool is full.
    """
    with Disc(spool.folder, known) as disc:
        files = table.opened(paths, asked, folder, disc)
        found = [_read(file, asked, spool, size, disc) for file in files]
    table.asked_at_once([each.input.understood for each in found if each.input.understood is not None])
    return found


def _read(file: table.File, asked: Asked, spool: Spool, size: int, disc: Disc) -> Waiting:
    source = file.source
    text, delimiter = layout.plain_text(
        source.text, file.written, keep=lambda parts: disc.rewritten(parts, source.name), size=size
    )
    form = layout.layout(text, file.written, asked, name=source.name, encoding=source.encoding, delimiter=delimiter)
    read, is_plain, numbers, slots = layout.Read(), True, [], direction.NONE
    for taken in _taken(text, form, size) if not form.is_askable else ():
        piece = layout.ready(taken, form, None)
        read += layout.Read.of(piece)
        is_plain = is_plain and layout.times_of(taken.columns, form).plain
        slots += direction.slots(taken.columns, form.found, form.sampled, asked.own)
        numbers.append(spool.put(_held(piece.rows, taken)))
    waiting = range(numbers[0], numbers[-1] + 1) if numbers else range(0)
    when = None if is_plain else layout.understood_times(_said(spool, waiting, form), form, asked)
    understood = layout.understood(form, when, read)
    if not form.is_askable:
        understood = replace(understood, direction=direction.settled(form.found, form.sampled, slots))
    told = InputFile(source.name, source.sha256(), read.rows, understood.unused, understood)
    return Waiting(told, spool, waiting, when)


def _said(spool: Spool, numbers: range, form: Layout) -> Times:
    """What all rows of a file say of its times, where some of them need understanding."""
    said = Times(plain=False)
    for number in numbers:
        said += layout.times_of(_parts(spool.take(number)), form, plain=False)
    return said


# ------------------------------------------------------------------------------------------------- pieces of the text


def _taken(text: Bytes, form: Layout, size: int) -> Iterator[Rows]:
    """The rows of a file, piece by piece; at least one piece."""
    start, before, is_first = _body(text, form.written.header_lines), form.written.header_lines, True
    while start < text.size or is_first:
        part, own = _piece(text, start, size)
        taken, used, lines = rows.take_some(part, own, before=before, **form.shape)
        start, before, is_first = start + used, before + lines, False
        yield taken


def _body(text: Bytes, header_lines: int) -> int:
    """Where the rows begin."""
    size = layout.HEAD
    while (start := rows.offset(text.slice(0, min(size, text.size)), header_lines)) >= size:
        size *= 2
    return start


def _piece(text: Bytes, start: int, size: int) -> tuple[pa.Buffer, int]:
    """Text from the start of a row on, and how many bytes of it are the piece, up to the end of a line; behind it lie
    rows.LONGEST_CELL lines, or all that there are."""
    left, behind = text.size - start, _BEHIND
    while True:
        part = text.slice(start, min(size + behind, left))
        own = left if size >= left else _line_end(part, size)
        if left and not own:
            size *= 2  # no line ends in it
        elif part.size == left or rows.line_ends(part.slice(own)) > rows.LONGEST_CELL:
            return part, own
        else:
            behind *= 2


def _line_end(part: pa.Buffer, size: int) -> int:
    """Where the last line ends of a piece of so many bytes, 0 where none does. part : the piece and what is behind it"""
    piece = part.slice(0, size + 1).to_pybytes()
    feed = piece.rfind(b"\n", 0, size)
    if feed >= 0:
        return feed + 1
    alone = piece.rfind(b"\r", 0, size)
    return alone + 1 if alone >= 0 and piece[alone + 1 : alone + 2] != b"\n" else 0


# ------------------------------------------------------------------------------------------------- rows in the spool


def _held(ready: Rows, taken: Rows) -> pa.Table:
    """Rows as they are kept: ready but for times that need understanding, of which the parts stand beside."""
    columns = {name: _array(column) for name, column in ready.columns.items()}
    columns |= {f"{_PART}{name}": _array(taken.columns[name]) for name in TIME_PARTS if name in taken.columns}
    if ready.faults:
        columns["fault"] = _array(table.faults(ready))
    return pa.table({**columns, "line": ready.line})


def _array(column: Column) -> pa.DictionaryArray:
    codes = pa.array(column.codes, mask=column.codes < 0)
    return pa.DictionaryArray.from_arrays(codes, pa.array(column.words, pa.large_string()))


def _column(held: pa.ChunkedArray) -> Column:
    if not held.num_chunks:  # pyarrow 18 makes no empty array of a vocabulary
        return Column(np.empty(0, np.int32), [])
    one = held.combine_chunks()
    one = one.chunk(0) if isinstance(one, pa.ChunkedArray) else one
    return Column(one.indices.fill_null(-1).to_numpy(zero_copy_only=False), one.dictionary.to_pylist())


def _rows(held: pa.Table) -> Rows:
    names = [name for name in held.column_names if name not in ("line", "fault") and not name.startswith(_PART)]
    faults = {}
    if "fault" in held.column_names:
        fault = _column(held.column("fault"))
        faults = {int(row): fault.words[fault.codes[row]] for row in np.flatnonzero(fault.codes >= 0)}
    return Rows({name: _column(held.column(name)) for name in names}, held.column("line").to_numpy(), faults)


def _parts(held: pa.Table) -> dict[str, Column]:
    there = [name for name in TIME_PARTS if f"{_PART}{name}" in held.column_names]
    return {name: _column(held.column(f"{_PART}{name}")) for name in there}

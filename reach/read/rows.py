"""From text to columns of codes. Two ways to the same end: a fast one for files in which every line is a row, and a
careful one for all others. Either way each row knows the line it starts on, the first line of the file being 1.
"""

from __future__ import annotations

import csv
import io
from array import array
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa
from pyarrow import csv as arrow_csv

from reach.base import text as texts
from reach.base import threads
from reach.read import lexicon

Codes = npt.NDArray[np.signedinteger]
Lines = npt.NDArray[np.int64]

TOTAL: Final = "row-total"  # the last line of many a table, which is no report
HEADER: Final = "row-header"  # the header once more

# Python's csv module takes a cell beyond 131,072 characters for a fault; here it is a cell like any other.
csv.field_size_limit((1 << 31) - 1)
_BLOCK: Final = 1 << 22
_MARK: Final = b"\xef\xbb\xbf"  # a byte order mark, which Arrow drops wherever it begins to read
_PART: Final = 1 << 20
LONGEST_CELL: Final = 100  # lines a quoted cell may run over before its first quote counts as a stray one


@dataclass(frozen=True)
class Column:
    """Text as a vocabulary: `words` are distinct; `codes`, shape (rows,), say which word each row holds."""

    codes: Codes
    words: list[str]


@dataclass(frozen=True)
class Rows:
    """The rows of one file.

    columns  our column -> Column, all of one length
    line     int64, shape (rows,): the line a row starts on
    faults   row number -> what is wrong with its shape, a code and its numbers: "row-length 2 5" (cells, headers)
    """

    columns: dict[str, Column]
    line: Lines
    faults: dict[int, str]


def take(text: pa.Buffer, *, delimiter: str, place: dict[str, int], width: int, header_lines: int) -> Rows:
    """The rows of a file.

    text         : UTF-8
    place        : our column -> position in the row
    width        : how many cells a row should have
    header_lines : lines before the first row
    Returns Rows. Lines that are blank are no rows; rows of another width are kept with a fault.
    """
    body = text.slice(offset(text, header_lines))
    rows = _fast(body, delimiter, place, width, header_lines)
    rows = rows if rows is not None else _careful(body, delimiter, place, width, header_lines)[0]
    return _cleaned(rows)


def take_some(
    text: pa.Buffer, size: int, *, delimiter: str, place: dict[str, int], width: int, before: int
) -> tuple[Rows, int, int]:
    """The rows of a file that start in a piece of it; pieces one behind the other give the rows of `take`.

    text   : UTF-8, the piece, from the start of a row to the end of a line, and what comes behind it: LONGEST_CELL lines, or
             all that there is. `size` : bytes of the piece itself
    before : lines of the file before it
    Others as `take`. Returns Rows; how many bytes of the text they are, which is more than the piece where its last row runs
    over its end; and how many lines.
    """
    piece = text.slice(0, size)
    lines = line_ends(piece) + (size == text.size and size > 0 and bytes(piece[size - 1 :]) not in (b"\n", b"\r"))
    rows = _fast(piece, delimiter, place, width, before)
    if rows is not None:
        return _cleaned(rows), size, lines
    rows, used = _careful(text, delimiter, place, width, before, most=lines)
    beyond = max(used - lines, 0)
    return _cleaned(rows), size + offset(text.slice(size), beyond), lines + beyond


def line_ends(text: pa.Buffer) -> int:
    """How many lines of a text have an end, whatever marks it."""
    ends = 0
    for part in _parts(text):
        ends += int(np.count_nonzero(part == 10))
        at = np.flatnonzero(part == 13)
        if len(at):
            ends += len(at) - int(np.count_nonzero(part[np.minimum(at + 1, len(part) - 1)] == 10))
    return ends


def _cleaned(rows: Rows) -> Rows:
    return Rows({ours: _clean(column) for ours, column in rows.columns.items()}, rows.line, rows.faults)


def _clean(column: Column) -> Column:
    """The column with control characters shown as such; nearly every column is so already and comes back as it is."""
    if all(map(texts.is_clean, column.words)):
        return column
    words: dict[str, int] = {}
    to = np.array([words.setdefault(texts.shown(word), len(words)) for word in column.words], dtype=np.int32)
    return Column(to[column.codes], list(words))


def offset(text: pa.Buffer, lines: int) -> int:
    """Where the text goes on after so many lines."""
    if not lines:
        return 0
    stream = io.BufferedReader(pa.BufferReader(text), 1 << 16)
    at = 0
    while lines and (chunk := stream.read(1 << 16)):
        for k, byte in enumerate(chunk):
            if byte == 10 or (byte == 13 and chunk[k + 1 : k + 2] != b"\n"):
                lines -= 1
                if not lines:
                    return at + k + 1
        at += len(chunk)
    return text.size


# ------------------------------------------------------------------------------------------------------- the fast way


def _fast(body: pa.Buffer, delimiter: str, place: dict[str, int], width: int, before: int) -> Rows | None:
    """Let Arrow read the known columns, straight into dictionaries. None where some line is not one row."""
    body = _without_trailing_blanks(body)
    if width < 2 or not body.size:
        return None  # of a single column a blank line and a blank cell look the same
    read = partial(_block, delimiter=delimiter, names=[str(at) for at in range(width)], wanted=[*place.values()])
    tables: list[pa.Table] = []
    with threads.begun(read, _blocks(body)) as found:
        for table in found:
            if table is None:
                return None
            tables.append(table)
    whole = pa.concat_tables(tables)
    columns = threads.named({ours: partial(_column, whole.column(str(at))) for ours, at in place.items()}, len(whole))
    lines = len(whole)
    del tables, whole
    pa.default_memory_pool().release_unused()  # it would keep a quarter of a gigabyte for two million rows
    return Rows(columns, np.arange(before + 1, before + 1 + lines, dtype=np.int64), {})


def _blocks(body: pa.Buffer) -> Iterator[pa.Buffer]:
    """Whole lines, so many that Arrow need not look itself where it may cut, which it does slowly where there are quotes."""
    start = 0
    while start < body.size:
        end = start + _BLOCK
        while end < body.size:
            feed = body.slice(end, min(_PART, body.size - end)).to_pybytes().find(b"\n")
            end += feed + 1 if feed >= 0 else _PART
            if feed >= 0:
                break
        end = min(end, body.size)
        yield body.slice(start, end - start)
        start = end


def _block(block: pa.Buffer, delimiter: str, names: list[str], wanted: list[int]) -> pa.Table | None:
    """Some lines, read by Arrow; None where some line is not one row."""
    lines = _lines(block)
    if lines is None or block.slice(0, min(3, block.size)).to_pybytes() == _MARK:
        return None
    if any((part == ord('"')).any() for part in _parts(block)) and _left_open(block, delimiter):
        return None
    columns = [names[at] for at in wanted]
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(block),
            read_options=arrow_csv.ReadOptions(column_names=names, block_size=block.size, use_threads=False),
            parse_options=arrow_csv.ParseOptions(delimiter=delimiter),
            convert_options=arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(columns, pa.dictionary(pa.int32(), pa.string())),
                include_columns=columns,
                strings_can_be_null=False,
                check_utf8=False,
            ),
        )
    except pa.ArrowInvalid:
        return None
    return table if table.num_rows == lines else None


def _left_open(body: pa.Buffer, delimiter: str) -> bool:
    """Whether the last line leaves a quote open, at which Arrow guesses. Anywhere else it would join two lines, and be seen
    by their number."""
    end = body.slice(max(body.size - _PART, 0)).to_pybytes().rstrip(b"\r\n")
    start = max(end.rfind(b"\n"), end.rfind(b"\r")) + 1
    if not start and body.size > _PART:
        return True  # no end of a line for so long: not for the fast way
    last = end[start:]
    return not _record(_Rewindable([last.decode("utf-8", errors="replace")]), delimiter)[1]


def _column(chunked: pa.ChunkedArray) -> Column:
    chunked = chunked.unify_dictionaries()
    words = chunked.chunk(0).dictionary
    codes = np.empty(len(chunked), dtype=np.min_scalar_type(-max(len(words), 1)))
    start = 0
    for chunk in chunked.chunks:
        codes[start : start + len(chunk)] = chunk.indices.to_numpy()
        start += len(chunk)
    return Column(codes, words.to_pylist())


def _without_trailing_blanks(body: pa.Buffer) -> pa.Buffer:
    end = body.size
    while end:
        start = max(end - 4096, 0)
        kept = len(body.slice(start, end - start).to_pybytes().rstrip(b"\r\n"))
        end = start + kept
        if kept:
            break
    return body.slice(0, end)


def _lines(body: pa.Buffer) -> int | None:
    """How many lines there are; None where a carriage return stands alone somewhere."""
    feeds = returns = both = 0
    for part in _parts(body):
        feeds += int(np.count_nonzero(part == 10))
        if (part == 13).any():
            at = np.flatnonzero(part == 13)
            returns += len(at)
            both += int(np.count_nonzero(part.take(at + 1, mode="clip") == 10))
    return feeds + (body.slice(body.size - 1).to_pybytes() != b"\n") if returns == both else None


def _parts(body: pa.Buffer) -> Iterator[npt.NDArray[np.uint8]]:
    """The bytes in pieces of cache size, none ending between a carriage return and its line feed."""
    whole = np.frombuffer(body, dtype=np.uint8)
    start = 0
    while start < len(whole):
        end = min(start + _PART, len(whole))
        while end < len(whole) and whole[end - 1] == 13:
            end += 1
        yield whole[start:end]
        start = end


# ---------------------------------------------------------------------------------------------------- the careful way


def _careful(
    body: pa.Buffer, delimiter: str, place: dict[str, int], width: int, before: int, most: int | None = None
) -> tuple[Rows, int]:
    """Row by row with Python's csv module; every line of the file ends up in a row or is blank.

    most : rows that start behind so many lines are left; none where left out
    Returns Rows, and the line on which the last of them ends.
    """
    words: dict[str, dict[str, int]] = {ours: {} for ours in place}
    codes = {ours: array("i") for ours in place}
    at = [(place[ours], words[ours], codes[ours]) for ours in place]
    line, faults, last = array("q"), {}, 0
    for start, end, cells, fault in _records(body, delimiter, width):
        if most is not None and start > most:
            break
        last = end
        if fault:
            faults[len(line)] = fault
        line.append(before + start)
        for position, vocabulary, column in at:
            cell = cells[position] if position < len(cells) else ""
            column.append(vocabulary.setdefault(cell, len(vocabulary)))
    columns = {ours: Column(np.array(codes[ours], dtype=np.int32), list(words[ours])) for ours in place}
    return Rows(columns, np.array(line, dtype=np.int64), faults), last


def _records(body: pa.Buffer, delimiter: str, width: int) -> Iterator[tuple[int, int, Sequence[str], str]]:
    """(line the record starts on, from 1; line it ends on; its cells; what is wrong with its shape).

    Where a quote is left open, lines that are no part of the record would be swallowed. So a record over several lines
    has to be well formed, and if it has not the right number of cells, its lines must not have it by themselves.
    Otherwise that line is one faulty row, and reading goes on with the next.
    """
    lines = _Rewindable(io.TextIOWrapper(io.BytesIO(body.to_pybytes()), encoding="utf-8", newline=None))
    while (start := lines.number + 1) and lines.more():
        cells, closed = _record(lines, delimiter)
        if (len(lines.taken) > 1 or not closed) and _ditto(lines.taken, delimiter, width):
            lines.rewind(len(lines.taken) - 1)
            yield start, start, lines.taken[0].rstrip("\n").split(delimiter), ""
            continue
        if len(lines.taken) > 1:
            # A quote that closes well may still be two stray ones: then the lines between are rows by themselves.
            alone = all(
                any(line.count(delimiter) == width - 1 for line in part) for part in (lines.taken[:1], lines.taken[1:])
            )
            closed = closed and _well_formed(lines.taken, delimiter) and not (alone and len(cells) != width)
            if not closed:
                lines.rewind(len(lines.taken) - 1)
                cells = lines.taken[0].rstrip("\n").split(delimiter)
        if closed and len(cells) < 2 and not "".join(cells).strip():
            continue
        yield start, lines.number, cells, _fault(cells, closed, width)


def _ditto(taken: Sequence[str], delimiter: str, width: int) -> bool:
    """Whether a quote that runs over lines is no quote but a mark for "as above", which would join rows in pairs: it fills
    its cell by itself in the first line, and every line makes a row of the right width alone."""
    alone = [line.rstrip("\n").split(delimiter) for line in taken[:2]]
    return '"' in (cell.strip() for cell in alone[0]) and all(len(cells) == width for cells in alone)


def _record(lines: _Rewindable, delimiter: str) -> tuple[list[str], bool]:
    """The next record, and whether its last quote was closed within reason."""
    lines.forget()
    reader = csv.reader(lines.until(LONGEST_CELL), delimiter=delimiter)
    try:
        cells = next(reader)
    except csv.Error:
        return [], False
    return cells, not lines.ran_out


def _well_formed(lines: Sequence[str], delimiter: str) -> bool:
    """Whether every quote that opens a cell is closed at the end of one."""
    try:
        return sum(1 for _ in csv.reader(lines, delimiter=delimiter, strict=True)) == 1
    except csv.Error:
        return False


def _fault(cells: Sequence[str], closed: bool, width: int) -> str:
    if not closed:
        return "row-quote"
    if len(cells) != width and lexicon.is_total(next((cell for cell in cells if cell.strip()), "")):
        return TOTAL
    if len(cells) < width or any(cell.strip() for cell in cells[width:]):
        return f"row-length {len(cells)} {width}"
    return ""


class _Rewindable:
    """Lines of a text that can be given back.

    taken    the lines taken since `forget`
    number   how many were taken since the beginning
    ran_out  whether more were asked for than `until` allows or the text has
    """

    def __init__(self, text: Iterable[str]) -> None:
        self._text = iter(text)
        self._waiting: list[str] = []  # given back, last first
        self.taken: list[str] = []
        self.number = 0
        self.ran_out = False

    def more(self) -> bool:
        """Whether there is another line."""
        if not self._waiting:
            line = next(self._text, None)
            if line is None:
                return False
            self._waiting.append(line)
        return True

    def forget(self) -> None:
        """Begin a record."""
        self.taken = []
        self.ran_out = False

    def until(self, limit: int) -> Iterator[str]:
        """Up to so many lines."""
        for _ in range(limit):
            if not self.more():
                break
            self.taken.append(self._waiting.pop())
            self.number += 1
            yield self.taken[-1]
        self.ran_out = True

    def rewind(self, count: int) -> None:
        """Give the last lines back."""
        for _ in range(count):
            self._waiting.append(self.taken.pop())
        self.number -= count

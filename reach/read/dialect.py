"""Find a file's delimiter and its header by what the header says, which a decimal comma cannot disturb."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from reach.errors import InputError
from reach.read import headers

DELIMITERS: Final = (",", ";", "\t", "|")
_SEARCHED: Final = 20  # how many records may come before the header: a title, remarks, "sep=;"
_ENOUGH: Final = 2  # known headers that make a line a header

_NUMBER: Final = re.compile(r"[-+\u2212]?\d+([.,]\d+)?( ?[a-z]{1,3})?", re.IGNORECASE)
_LOCATOR: Final = re.compile(r"[a-r]{2}\d\d([a-x]{2}(\d\d([a-x]{2})?)?)?", re.IGNORECASE)
_DATE: Final = re.compile(r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{4}")
_CLOCK: Final = re.compile(r"\d{1,2}:\d\d(:\d\d(\.\d+)?)?( ?z|[-+]\d\d:?\d\d)?", re.IGNORECASE)
_TIME: Final = re.compile(rf"({_DATE.pattern})[ t]+{_CLOCK.pattern}|\d{{9,10}}(\.\d+)?|\d{{13}}", re.IGNORECASE)
_CALL: Final = re.compile(r"(?=[a-z/\d-]*\d[a-z/\d-]*)(?=[\d/-]*[a-z])[a-z\d][a-z\d/-]{2,14}", re.IGNORECASE)
_BAND: Final = re.compile(r"\d{1,4}(\.\d+)? ?c?m", re.IGNORECASE)


@dataclass(frozen=True)
class Dialect:
    """How a file is written.

    delimiter     one of DELIMITERS
    headers       the cells of the header
    header_lines  how many physical lines come before the first row of data
    """

    delimiter: str
    headers: tuple[str, ...]
    header_lines: int


@dataclass(frozen=True)
class _Record:
    cells: tuple[str, ...]
    line: int  # on which it ends


def find(sample: str, columns: Mapping[str, str] | None = None, *, name: str = "the file") -> Dialect:
    """The dialect of a file from its beginning.

    sample  : the first lines of the file
    columns : the user's own choice of headers, which count as known ones
    name    : of the file, for errors
    Returns Dialect: the delimiter and line that give the most known headers. InputError where the file is empty or
    has no header.
    """
    wanted = {header.strip().casefold() for header in (columns or {}).values()}
    records = {delimiter: _records(sample, delimiter) for delimiter in DELIMITERS}
    known, delimiter, at = max(
        (
            (_known(record, wanted), delimiter, at)
            for delimiter in DELIMITERS
            for at, record in enumerate(records[delimiter])
        ),
        key=lambda found: (found[0], -found[2]),
        default=(0, DELIMITERS[0], 0),
    )
    if not all(records.values()):
        raise InputError(f"{name}: is empty.")
    if known < _ENOUGH:
        delimiter, at = _by_width(records)
    before, header = records[delimiter][:at], records[delimiter][at]
    data = next((record for record in before if _says(record) > 1), None)
    if data is None and known < _ENOUGH and _says(header):
        data = header
    if data is not None:
        raise InputError(_no_header(name, delimiter, data.cells))
    return Dialect(delimiter, header.cells, header.line)


def _records(sample: str, delimiter: str) -> list[_Record]:
    reader = csv.reader(io.StringIO(sample, newline=None), delimiter=delimiter)
    found = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append(_Record(tuple(cells), reader.line_num))
            if len(found) > _SEARCHED:
                break
    except csv.Error:
        pass  # a cell beyond all bounds: what came before it will do
    return found


def _known(record: _Record, wanted: set[str]) -> int:
    """How many of our columns the cells of a record name."""
    ours = {headers.recognise(cell) for cell in record.cells} - {None}
    return len(ours) + sum(cell.strip().casefold() in wanted for cell in record.cells)


def _by_width(records: dict[str, list[_Record]]) -> tuple[str, int]:
    """The delimiter that cuts most records into the same number of cells, and its first such record."""
    best, found = (0, 0), (DELIMITERS[0], 0)
    for delimiter, rows in records.items():
        widths = Counter(len(record.cells) for record in rows if len(record.cells) > 1)
        if widths:
            width, count = max(widths.items(), key=lambda item: (item[1], item[0]))
            if (count, width) > best:
                best = (count, width)
                found = (delimiter, next(at for at, record in enumerate(rows) if len(record.cells) == width))
    return found


def _says(record: _Record) -> int:
    """How many cells are a number, a locator or a time, as no header says; 0 where there is one cell only."""
    cells = [cell.strip() for cell in record.cells]
    patterns = (_NUMBER, _LOCATOR, _DATE, _CLOCK, _TIME)
    return sum(any(p.fullmatch(cell) for p in patterns) for cell in cells) if len(cells) > 1 else 0


def _no_header(name: str, delimiter: str, cells: tuple[str, ...]) -> str:
    line = delimiter.join(_guess(cells)).replace("\t", "<Tab>")
    return f"{name}: has no header; write a first line that names the columns, for this file perhaps: {line}"


def _guess(cells: tuple[str, ...]) -> list[str]:
    """A header for a row of data: what each cell looks like, the first of a kind being the receiver's."""
    names: list[str] = []
    for at, cell in enumerate(cells):
        kinds = [name for name in _looks_like(cell.strip()) if name not in names]
        names.append(kinds[0] if kinds else f"column{at + 1}")
    return names


def _looks_like(cell: str) -> list[str]:
    """What a cell may be, the likeliest first."""
    if _TIME.fullmatch(cell):
        return ["time"]
    if _DATE.fullmatch(cell):
        return ["date"]
    if _CLOCK.fullmatch(cell):
        return ["time"]
    if _LOCATOR.fullmatch(cell):
        return ["locator", "transmitter_locator"]
    if _BAND.fullmatch(cell):
        return ["band"]
    if _NUMBER.fullmatch(cell):
        return _number(float(re.sub(r"[^\d.+-]", "", cell.replace(",", ".").replace("\u2212", "-")) or 0))
    return ["callsign", "transmitter"] if _CALL.fullmatch(cell) else []


def _number(value: float) -> list[str]:
    if value > 100_000:
        return ["frequency_hz"]
    if value > 1000:
        return ["frequency_khz"]
    return ["frequency_mhz", "snr"] if value != int(value) else ["snr", "power"]

"""How a file is cut into a table: what stands between cells, which lines come before the rows, and what the header says.

A header that is known by its words decides at once, which no decimal comma can disturb. Otherwise the mark decides that
cuts most lines into equally many cells of which each column holds one kind.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from reach.errors import InputError
from reach.read import cells, dates, headers, lexicon

DELIMITERS: Final = (",", ";", "\t", "|")
BLANKS: Final = "  "  # two blanks or more: columns set with a typewriter
BLANK: Final = " "  # any blanks
_SEARCHED: Final = 20  # how many records may come before the header: a title, remarks, "sep=;"
_RECORDS: Final = 400
_ENOUGH: Final = 4  # known headers that make a line a header whatever comes below it
_WHOLE: Final = re.compile(r'"(?:[^"]|"")*[,;\t|](?:[^"]|"")*[,;\t|](?:[^"]|"")*"')
_SEP: Final = re.compile(r'\s*"?sep=(.|\\t)"?\s*[,;\t|]*\s*', re.IGNORECASE)


@dataclass(frozen=True)
class Dialect:
    """How a file is written.

    delimiter     one of DELIMITERS, BLANKS or BLANK
    headers       the cells of the header; blank texts where there is none
    header_lines  how many physical lines come before the first row of data
    headed        whether there is a header
    titles        how many of those lines say something and are no header
    wrapped       whether each line stands in quotes as a whole, see `unwrapped`
    """

    delimiter: str
    headers: tuple[str, ...]
    header_lines: int
    headed: bool = True
    titles: int = 0
    wrapped: bool = False


@dataclass(frozen=True)
class Record:
    """One record: its cells, and the line on which it ends."""

    cells: tuple[str, ...]
    line: int


def find(sample: str, columns: Mapping[str, str] | None = None, *, name: str = "the file") -> Dialect:
    """The dialect of a file from its beginning.

    sample  : the first lines of the file
    columns : the user's own choice of headers, which count as known ones
    name    : of the file, for errors
    Returns Dialect. InputError where the file is empty.
    """
    plain = unwrapped(sample)
    if plain != sample:
        return replace(find(plain, columns, name=name), wrapped=True)
    wanted = {header.strip().casefold() for header in (columns or {}).values()}
    first = sample.split("\n", 1)[0]
    told = _SEP.fullmatch(first.strip("\r"))
    marks = [told[1].replace("\\t", "\t")] if told else [*DELIMITERS, BLANKS, BLANK]
    tables = {mark: records(sample, mark) for mark in marks}
    if not any(any(re.search(r"\w", cell) for cell in record.cells) for found in tables.values() for record in found):
        raise InputError(f"{name}: is empty.")
    if told:
        tables = {
            mark: [record for record in found if not "".join(record.cells).strip().lower().startswith("sep=")]
            for mark, found in tables.items()
        }
    by_words = _by_words({mark: found for mark, found in tables.items() if mark not in (BLANKS, BLANK)}, wanted)
    return by_words or _by_values(tables) or _by_width(tables, wanted)


def unwrapped(text: str) -> str:
    """The text without the quotes that stand round whole lines: what a spreadsheet makes of a table that it took for one
    column. Any other text comes back as it is.
    """
    return without_quotes(text) if Wrapped.of(text).mostly else text


@dataclass(frozen=True)
class Wrapped:
    """How many lines of a text say something, and how many of those stand in quotes: counts that can be added."""

    lines: int = 0
    whole: int = 0

    @classmethod
    def of(cls, text: str) -> Wrapped:
        """Of whole lines."""
        full = [line for line in text.splitlines() if line.strip()]
        return cls(len(full), sum(_WHOLE.fullmatch(line) is not None for line in full))

    def __add__(self, other: Wrapped) -> Wrapped:
        return Wrapped(self.lines + other.lines, self.whole + other.whole)

    @property
    def mostly(self) -> bool:
        """Whether that is how the text is written."""
        return self.lines > 0 and self.whole >= 0.9 * self.lines


def without_quotes(text: str) -> str:
    """Whole lines, without the quotes round those that stand in some."""
    lines = text.splitlines()
    return "\n".join(line[1:-1].replace('""', '"') if _WHOLE.fullmatch(line) else line for line in lines) + "\n"


def records(sample: str, delimiter: str) -> list[Record]:
    """The records of a text that are not blank, at most so many as it takes to know it."""
    found: list[Record] = []
    if delimiter in (BLANKS, BLANK):
        apart = re.compile(" {2,}|\t" if delimiter == BLANKS else r"[ \t]+")
        for at, line in enumerate(sample.splitlines()[: _RECORDS * 2], start=1):
            if line.strip():
                found.append(Record(tuple(apart.split(line.strip())), at))
        return found[:_RECORDS]
    reader = csv.reader(io.StringIO(sample, newline=None), delimiter=delimiter)
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                found.append(Record(tuple(row), reader.line_num))
            if len(found) >= _RECORDS:
                break
    except csv.Error:
        pass  # a cell beyond all bounds: what came before it will do
    return found


# ------------------------------------------------------------------------------------------------------ by known words


def _by_words(tables: dict[str, list[Record]], wanted: set[str]) -> Dialect | None:
    """The mark and line that give the most known headers, where these are many and no row of data comes before."""
    known, delimiter, at = max(
        (
            (_known(record, wanted), delimiter, at)
            for delimiter, found in tables.items()
            for at, record in enumerate(found[: _SEARCHED + 1])
        ),
        key=lambda item: (item[0], -item[2]),
        default=(0, DELIMITERS[0], 0),
    )
    if known < _ENOUGH:
        return None
    before, header = tables[delimiter][:at], tables[delimiter][at]
    if any(_says(record) > 1 for record in before):
        return None
    names, line, used = header.cells, header.line, 1
    upper = before[-1] if before and len(before[-1].cells) == len(names) and _filled(before[-1]) >= 3 else None
    if upper and _weight(_joined(upper.cells, names)) > _weight(names) + 0.5:
        names, used = _joined(upper.cells, names), 2
    below = tables[delimiter][at + 1] if at + 1 < len(tables[delimiter]) else None
    if below and len(below.cells) == len(names) and _only_units(below):
        names, line, used = _joined(names, below.cells), below.line, used + 1
    return Dialect(delimiter, names, line, titles=at - (used > 1 and upper is not None))


def _joined(upper: Sequence[str], lower: Sequence[str]) -> tuple[str, ...]:
    return tuple(" ".join(part for part in (a.strip(), b.strip()) if part) for a, b in zip(upper, lower, strict=True))


def _only_units(record: Record) -> bool:
    said = [cell.strip() for cell in record.cells if cell.strip()]
    return bool(said) and all(
        not any(map(str.isdigit, cell)) and (lexicon.units(cell) or len(cell) < 2) for cell in said
    )


def _known(record: Record, wanted: set[str]) -> int:
    """How many of our columns the cells of a record name."""
    ours = {headers.recognise(cell) for cell in record.cells} - {None}
    return len(ours) + sum(cell.strip().casefold() in wanted for cell in record.cells)


def _says(record: Record) -> int:
    """How many cells are a number, a locator or a time, as no header says; 0 where there is one cell only."""
    return sum(kind_of(cell) not in ("", "text", "call") for cell in record.cells) if len(record.cells) > 1 else 0


# ----------------------------------------------------------------------------------------------------------- by values


@lru_cache(maxsize=1 << 15)
def kind_of(text: str) -> str:
    """The kind of one cell: locator, time, number, call, text, "" where it is blank."""
    plain = cells.tidy(text)
    if not plain:
        return ""
    if cells.is_locator(plain):
        return "locator"
    if cells.number(plain):
        return "number"
    if dates.stamp(plain) or dates.day(plain) or dates.clock(plain, ("colon", "hour")):
        return "time"
    return "call" if cells.is_callsign(plain) else "text"


@dataclass(frozen=True)
class _Cut:
    """A table as one mark cuts it: its width, and the commonest kind of each column."""

    delimiter: str
    records: list[Record]
    width: int
    kinds: tuple[str, ...]
    score: float

    def is_data(self, record: Record) -> bool:
        """Whether at least half of the columns that hold places, numbers or times hold them here."""
        typed = [k for k, kind in enumerate(self.kinds) if kind in ("locator", "number", "time")]
        if len(record.cells) != self.width or not typed:
            return False
        hits = sum(kind_of(record.cells[k]) == self.kinds[k] for k in typed)
        return hits >= len(typed) / 2 and hits > 0


def _by_values(tables: dict[str, list[Record]]) -> Dialect | None:
    """The mark that cuts best, and the header above the first row of data; None where no mark makes rows of data."""
    cuts = [cut for mark, found in tables.items() if (cut := _cut(mark, found)) is not None]
    if not cuts:
        return None
    best = max(cuts, key=lambda cut: cut.score)
    at = next((k for k, record in enumerate(best.records) if best.is_data(record)), None)
    return None if at is None else _headed(best, at)


def _cut(mark: str, found: list[Record]) -> _Cut | None:
    widths = Counter(len(record.cells) for record in found if len(record.cells) > 2)
    if not widths:
        return None
    width, rows = max(widths.items(), key=lambda item: (item[1], item[0]))
    body = [record for record in found if len(record.cells) == width]
    # A header is no data and tells nothing of how well its mark cuts.
    headed = len(body) > 1 and all(kind_of(cell) in ("", "text", "call") for cell in body[0].cells)
    columns = [[kind_of(record.cells[k]) for record in body[headed:]] for k in range(width)]
    kinds, purity = [], []
    for column in columns:
        filled = Counter(kind for kind in column if kind)
        kind, count = filled.most_common(1)[0] if filled else ("", 0)
        kinds.append(kind)
        purity.append(count / sum(filled.values()) if filled else 1.0)
    all_cells = [kind for column in columns for kind in column if kind]
    typed = sum(kind != "text" for kind in all_cells) / max(len(all_cells), 1)
    odd = np.mean([cell.count('"') % 2 for record in body for cell in record.cells])
    score = rows / len(found) * typed * float(np.mean(purity)) + 0.5 * ("locator" in kinds) - float(odd)
    # A blank stands within dates and names as well, so it cuts only where nothing else does.
    score -= 0.3 if mark == BLANK else 0.05 if mark == BLANKS else 0
    return _Cut(mark, found, width, tuple(kinds), score)


def _headed(cut: _Cut, at: int) -> Dialect:
    """The dialect with the header that stands above row `at`, in one line or two, or none."""
    above = cut.records[:at]
    full = [k for k, record in enumerate(above) if len(record.cells) == cut.width and _filled(record) >= 3]
    if full:
        names, end, used = _best_header(above, full[-2:])
    elif above and abs(len(above[-1].cells) - cut.width) == 1 and _filled(above[-1]) >= 3:
        names, end, used = tuple([*above[-1].cells, ""][: cut.width]), at, 1  # a cell too few or too many
    else:
        names, end, used = tuple([""] * cut.width), at, 0
    # What stands between header and data may be a rule of dashes, or a row with a fault: that one stays a row.
    last = next((k for k in range(end, at) if _says(above[k]) or _blanks(above[k])), at)
    line = above[last - 1].line if last else _lines_before(cut, at)
    return Dialect(cut.delimiter, names, line, headed=bool(used), titles=last - used)


def _blanks(record: Record) -> bool:
    """Whether most cells are blank, as in a row that was never filled in."""
    return _filled(record) < len(record.cells) / 2 and any(
        kind_of(cell) in ("time", "locator", "call") for cell in record.cells
    )


def _lines_before(cut: _Cut, at: int) -> int:
    """Physical lines before the first record: blank ones, or none."""
    first = cut.records[at]
    return max(first.line - 1 - sum(cell.count("\n") for cell in first.cells), 0)


def _filled(record: Record) -> int:
    return sum(bool(cell.strip()) for cell in record.cells)


def _best_header(above: Sequence[Record], full: Sequence[int]) -> tuple[tuple[str, ...], int, int]:
    """Cells of the header, how many records there are up to its end, and of how many it is made.

    The last line above the data is the header, joined to the one above it where both together say more.
    """
    lower = above[full[-1]].cells
    options = [(_weight(lower), lower, full[-1] + 1, 1)]
    if len(full) > 1:
        upper = above[full[0]].cells
        both = _joined(upper, lower)
        options.append((_weight(both) - 0.5, both, full[-1] + 1, 2))
        options.append((_weight(upper) - 0.6, upper, full[0] + 1, 1))  # the lower one may be a row with a fault
    _, names, end, used = max(options, key=lambda option: option[0])
    return names, end, used


def _weight(names: Sequence[str]) -> float:
    """How much a row speaks as headers do: its kinds, each once, and its units."""
    kinds: dict[str, float] = {}
    for name in names:
        for kind, weight in lexicon.leanings(name).items():
            kinds[kind] = max(kinds.get(kind, 0.0), weight)
    return sum(kinds.values()) + 0.3 * len({unit for name in names for unit in lexicon.units(name)})


# ------------------------------------------------------------------------------------------------------------ by width


def _by_width(tables: dict[str, list[Record]], wanted: set[str]) -> Dialect:
    """Of a file without rows of data: the mark under which a line says most headers, else makes most cells."""
    best, found = (0.0, 0.0, 0), (DELIMITERS[0], 0)
    for mark, rows in tables.items():
        if mark in (BLANKS, BLANK) and any(
            len(r.cells) > 1 for k, v in tables.items() if k not in (BLANKS, BLANK) for r in v
        ):
            continue
        widths = Counter(len(record.cells) for record in rows)
        for at, record in enumerate(rows[: _SEARCHED + 1]):
            rank = (
                float(_known(record, wanted)),
                float(widths[len(record.cells)] * (len(record.cells) > 1)),
                len(record.cells),
            )
            if rank > best:
                best, found = rank, (mark, at)
    mark, at = found
    header = tables[mark][at]
    return Dialect(mark, header.cells, header.line, titles=at)

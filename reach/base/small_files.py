"""Tables that the user keeps by hand, a schedule or fixes: each line is a row, and none is swallowed by another."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from typing import Final

from reach.base import text as texts
from reach.errors import StudyError

LONGEST_CELL: Final = 2000  # characters
_MOST_ROWS: Final = 200_000


def rows(text: str, delimiter: str, name: str) -> Iterator[tuple[int, list[str]]]:
    """The line and the cells of each row that is not blank.

    name : of the file, for errors
    StudyError with the line where a quote is left open there (the rows below would vanish in it), where a cell is longer
    than LONGEST_CELL, or where there are more rows than anybody writes.
    """
    for line, row in enumerate(text.splitlines(), start=1):
        if line > _MOST_ROWS:
            raise StudyError(f"{name}: has more than {_MOST_ROWS:,} lines.")
        if max(map(len, row.split(delimiter))) > LONGEST_CELL:
            raise StudyError(f"{name}, line {line}: a cell is longer than {LONGEST_CELL:,} characters.")
        try:
            cells = next(csv.reader([row], delimiter=delimiter, strict=True), [])
        except csv.Error:
            raise StudyError(
                f'{name}, line {line}: a quote (") is opened here and not closed at the end of its cell: {row!r}; '
                "write the cell without quotes, or with both, each row on one line."
            ) from None
        if any(cell.strip() for cell in cells):
            yield line, [texts.shown(cell).strip() for cell in cells]

"""Rows of one file that were judged piece by piece, by station and UTC day, until the last piece is: then each day is joined.

What is taken out is the same whatever the pieces were.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from reach.base.spool import Spool
from reach.spots import PROBLEMS, SPOT

Ints = npt.NDArray[np.int64]
DAY_US: Final = 86_400_000_000
TOGETHER: Final = 1 << 17  # rows that are no report of a day are written at a time: a file may have nothing else
SPOTS, MENDABLE, PROBLEM = "spots", "mendable", "problems"
KEPT: Final = [name for name in SPOT if name != "source"]
SAID: Final = [name for name in PROBLEMS if name not in ("evidence", "source")]  # rows alone are under no suspicion
WORDS: Final = [name for name in KEPT if SPOT[name][0] == "category"]


class Blocks:
    """Rows in a spool, each kind of them by station and day: SPOTS and MENDABLE are spots.SPOT without `source`, PROBLEM
    spots.PROBLEMS without `source` and `evidence`.

    Words are numbered as they come, so that a block is numbers alone.
    """

    def __init__(self, spool: Spool) -> None:
        self._spool = spool
        self._where: dict[tuple[str, str, int], list[int]] = defaultdict(list)
        self._numbers: dict[str, dict[str, int]] = {name: {} for name in WORDS}
        self._texts: dict[str, list[str]] = {name: [] for name in WORDS}

    def put(self, kind: str, table: pd.DataFrame, station: Ints, calls: Sequence[str]) -> None:
        """Keep rows of the next piece.

        station : shape (rows,), position in `calls` of whose each row is
        """
        if not len(table):
            return
        day = _micros(table) // DAY_US if kind == SPOTS else np.zeros(len(table), dtype=np.int64)
        order = np.lexsort((day, station))
        ends = np.flatnonzero(np.diff(station[order]) | np.diff(day[order])) + 1
        rows = self._plain(table, kind).take(pa.array(order))
        for start, end in zip([0, *ends], [*ends, len(order)], strict=True):
            first = order[start]
            key = kind, calls[station[first]], int(day[first])
            self._where[key].append(self._spool.put(rows.slice(start, end - start)))

    def _plain(self, table: pd.DataFrame, kind: str) -> pa.Table:
        if kind == PROBLEM:
            plain = table[SAID]
        else:
            plain = table[KEPT].assign(**{name: self._numbered(name, table[name].array) for name in WORDS})
        return pa.Table.from_pandas(plain, preserve_index=False).replace_schema_metadata(None)

    def _numbered(self, name: str, column: pd.Categorical) -> npt.NDArray[np.int32]:
        """The number of each row's word in the column of that name, -1 where it has none."""
        known = self._numbers[name]
        words = list(map(str, column.categories))
        new = [word for word in words if word not in known]
        known.update(zip(new, range(len(known), len(known) + len(new)), strict=True))
        self._texts[name] += new
        return np.array([*map(known.__getitem__, words), -1], dtype=np.int32)[column.codes]

    def days(self) -> Iterable[tuple[str, str, int]]:
        """Kind, station and day [days since 1970, 0 of what is kept without one] of all that there is."""
        return sorted(self._where)

    def joined(self, kind: str, call: str, day: int) -> Iterator[pa.Table]:
        """All rows of a kind, station and day, each table with the words of its own rows alone: SPOTS by time, then line, in one;
        the others by line, TOGETHER in each but the last."""
        pieces = (self._spool.take(number) for number in self._where[kind, call, day])
        if kind == SPOTS:
            table = pa.concat_tables(pieces).combine_chunks()
            micros = table.column("time_utc").to_numpy().astype("datetime64[us]").astype(np.int64)
            yield self._worded(table.take(pa.array(np.lexsort((table.column("line").to_numpy(), micros)))))
        else:
            yield from (self._worded(table) if kind == MENDABLE else table for table in _together(pieces))

    def _worded(self, table: pa.Table) -> pa.Table:
        for name in WORDS:
            at = table.column_names.index(name)
            table = table.set_column(at, name, _words(table.column(name).to_numpy(), self._texts[name]))
        return table


def _together(pieces: Iterable[pa.Table]) -> Iterator[pa.Table]:
    waiting: list[pa.Table] = []
    rows = 0
    for piece in pieces:
        rest = piece
        while rows + len(rest) >= TOGETHER:
            full = [*waiting, rest.slice(0, TOGETHER - rows)]
            waiting, rows, rest = [], 0, rest.slice(TOGETHER - rows)
            yield pa.concat_tables(full).combine_chunks()
        if len(rest):
            waiting.append(rest)
            rows += len(rest)
    if waiting:
        yield pa.concat_tables(waiting).combine_chunks()


def _words(numbers: npt.NDArray[np.int32], words: Sequence[str]) -> pa.DictionaryArray:
    """The words of these numbers, in the order of their text."""
    used = np.flatnonzero(np.bincount(numbers[numbers >= 0])).tolist()
    ordered = sorted((words[number], number) for number in used)
    to = np.full(max(used, default=0) + 2, -1, dtype=np.int32)
    for position, (_, number) in enumerate(ordered):
        to[number] = position
    codes = to[numbers]
    texts = pa.array([word for word, _ in ordered], pa.string())
    return pa.DictionaryArray.from_arrays(pa.array(codes, mask=codes < 0), texts)


def _micros(table: pd.DataFrame) -> Ints:
    return table["time_utc"].dt.as_unit("us").astype("int64").to_numpy()

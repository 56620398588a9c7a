"""What is wrong with the rows of a station in a collection: read piece by piece, and never in memory whole.

Of ten years there may be millions of rows that are no report. What is told of the rows that count, that they repeat others or name a
doubtful place, is no more than these are, and is merged in where it belongs.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import groupby
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from reach.archive import blocks, collection
from reach.archive import ledger as ledgers
from reach.spots import PROBLEMS
from reach.vet.ledger import REJECTED, Problems, in_file_order, no_problems

_TEXTS: Final = {name: "str" for name, (dtype, _) in PROBLEMS.items() if dtype == "str"}
_COUNTED: Final = ("line", "rule", "severity")
_LINES: Final = 40  # bits, more than any file has lines


def of(folder: Path, calls: Sequence[str], direction: str, *, mended: pd.DataFrame) -> Problems:
    """What is wrong with a station's rows by themselves.

    mended : rows that count by a correction (source, line): that their locator could not be read is told no more
    InputError, when it is gone through, where a part is missing or damaged.
    """
    entries = ledgers.read(folder).holding(calls, direction)
    parts = collection.parts(folder, entries, calls, direction, "problems")
    if not parts:
        return Problems(no_problems(0))
    ordered = sorted(parts, key=lambda part: (part[1].parent, part[0]))
    stations = [list(of_one) for _, of_one in groupby(ordered, key=lambda part: part[1].parent)]
    return _Kept(stations, [entry.name for entry in entries], mended)


class _Kept(Problems):
    """Problems on a disc, and more of them beside in memory.

    stations : for each folder of parts these, each with the position of its file in `names`
    more : spots.PROBLEMS
    """

    def __init__(
        self,
        stations: Sequence[Sequence[tuple[int, Path]]],
        names: Sequence[str],
        mended: pd.DataFrame,
        more: Sequence[pd.DataFrame] = (),
    ) -> None:
        self._stations, self._names, self._mended, self._more = stations, names, mended, tuple(more)

    def beside(self, raw: pd.DataFrame, more: pd.DataFrame) -> Problems:
        return _Kept(self._stations, self._names, self._mended, (*self._more, in_file_order(raw, more)))

    @cached_property
    def table(self) -> pd.DataFrame:
        return pd.concat(list(self.parts()), ignore_index=True)

    def parts(self) -> Iterator[pd.DataFrame]:
        rank = {name: at for at, name in enumerate(self._names)}
        ours = [self._told(station) for station in self._stations]
        nothing = True
        for part in _merged([_Stream(each, rank) for each in (*ours, *([table] for table in self._more))]):
            nothing = False
            yield part
        if nothing:
            yield no_problems(0)

    def _counts(self) -> Mapping[tuple[str, str], int]:
        found = Counter[tuple[str, str]]()
        for table in self._more:
            found.update(Problems(table).counted)
        for station in self._stations:
            for left in self._kept(station, _COUNTED):
                said = left.group_by(["rule", "severity"]).aggregate([([], "count_all")]).to_pylist()
                found.update({(each["rule"], each["severity"]): each["count_all"] for each in said})
        return found

    def _told(self, station: Iterable[tuple[int, Path]]) -> Iterator[pd.DataFrame]:
        for left in self._kept(station, blocks.SAID):
            yield left.to_pandas().assign(evidence=None)[list(PROBLEMS)].astype(_TEXTS)

    def _kept(self, station: Iterable[tuple[int, Path]], columns: Sequence[str]) -> Iterator[pa.Table]:
        """Some columns, and `source`, of what is on the disc, so many rows at a time as were written."""
        for at, path in station:
            for held in _read(path, columns):
                yield self._left(held.append_column("source", pa.repeat(self._names[at], len(held))))

    def _left(self, held: pa.Table) -> pa.Table:
        """Some of them without what a correction has mended."""
        lines = held.column("line").to_numpy()
        likely = self._mended[self._mended["line"].isin(lines)]
        if likely.empty:
            return held
        rule, severity = (held.column(name).to_pandas() for name in ("rule", "severity"))
        refused = (severity.eq(REJECTED) & rule.str.startswith("locator-")).to_numpy()
        sound = pd.MultiIndex.from_arrays([likely["source"].astype("str"), likely["line"]])
        again = pd.MultiIndex.from_arrays([held.column("source").to_pandas(), lines]).isin(sound)
        return held.filter(pa.array(~(refused & again)))


def _read(path: Path, columns: Sequence[str]) -> Iterator[pa.Table]:
    """A part, so many rows at a time as they were written."""
    try:
        with pq.ParquetFile(path) as file:
            for batch in file.iter_batches(blocks.TOGETHER, columns=list(columns), use_threads=False):
                yield pa.Table.from_batches([batch])
    except (OSError, pa.ArrowException) as error:
        raise collection.missing(path, error) from None


# ------------------------------------------------------------------------------------------------------- in one order


class _Stream:
    """Tables in file order, of which so much is here as was asked for.

    rest, place  the rows that are here, and where each belongs: a number that rises by file and line
    """

    def __init__(self, tables: Iterable[pd.DataFrame], rank: Mapping[str, int]) -> None:
        self._tables, self._rank, self.ended = iter(tables), rank, False
        self.rest, self.place = no_problems(0), np.empty(0, dtype=np.int64)

    def go_on(self) -> None:
        """Take the next table too."""
        table = next(self._tables, None)
        if table is None:
            self.ended = True
            return
        self.rest = pd.concat([self.rest, table], ignore_index=True) if len(self.rest) else table
        codes, names = pd.factorize(self.rest["source"])
        ranks = np.array([self._rank.get(str(name), len(self._rank)) for name in names], dtype=np.int64)
        self.place = (ranks[codes] << _LINES) + self.rest["line"].to_numpy()

    def before(self, place: int | None) -> tuple[pd.DataFrame, npt.NDArray[np.int64]]:
        """Give away the rows that belong before a place; all where none is said."""
        end = len(self.rest) if place is None else int(np.searchsorted(self.place, place))
        given = self.rest.iloc[:end], self.place[:end]
        self.rest, self.place = self.rest.iloc[end:], self.place[end:]
        return given


def _merged(streams: Sequence[_Stream]) -> Iterator[pd.DataFrame]:
    """All of them in one order; of what belongs to one line that of the first stream first."""
    while True:
        for stream in streams:
            while not (stream.ended or len(stream.rest)):
                stream.go_on()
        here = [stream for stream in streams if len(stream.rest)]
        if not here:
            return
        going_on = [stream for stream in here if not stream.ended]
        # More of the line that one ends with may come, and nothing before it.
        end = min((int(stream.place[-1]) for stream in going_on), default=None)
        tables, places = zip(*(stream.before(end) for stream in here), strict=True)
        if not any(map(len, tables)):
            for stream in going_on:
                if stream.place[-1] == end:
                    stream.go_on()
            continue
        some = [table for table in tables if len(table)]
        order = np.argsort(np.concatenate(places), kind="stable")
        yield pd.concat(some, ignore_index=True).take(order).reset_index(drop=True) if len(some) > 1 else some[0]

"""Work on large arrays on all cores: numpy and Arrow let other threads run while they work on one.

As many threads as Arrow uses, which OMP_NUM_THREADS bounds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any, Final, TypeVar

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Item = TypeVar("Item")
Found = TypeVar("Found")

_LARGE: Final = 1 << 17  # numbers, below which starting a thread takes longer than the work
_MANY: Final = 1 << 14  # rows of a column, below which it does so too
_BLOCK: Final = 1 << 17  # of which a processor holds several beside it
_RUN: Final = 3  # numbers that are in order on average, from which on merging such runs beats sorting


@contextmanager
def begun(function: Callable[[Item], Found], items: Iterable[Item]) -> Iterator[Iterator[Found]]:
    """What a function makes of each item, in their order, one after the other; at the end what was not begun is left."""
    pool = ThreadPoolExecutor(pa.cpu_count())
    try:
        yield pool.map(function, items)
    finally:
        pool.shutdown(cancel_futures=True)


def each(function: Callable[[Item], Found], items: Iterable[Item]) -> list[Found]:
    """What a function makes of each item, in their order. An error is the first item's that has one."""
    with begun(function, items) as found:
        return list(found)


def named(made: Mapping[str, Callable[[], Found]], rows: int) -> dict[str, Found]:
    """Name -> what its function makes, in their order. An error is the first name's that has one.

    rows : that each of them goes through; where these are few the one after the other, without threads
    """
    if rows < _MANY:
        return {name: make() for name, make in made.items()}
    return dict(zip(made, each(lambda make: make(), made.values()), strict=True))


def blocks(function: Callable[[slice], object], rows: int) -> None:
    """Let a function work on so many rows block by block, so that what it needs in passing stays small."""
    parts = [slice(start, min(start + _BLOCK, rows)) for start in range(0, rows, _BLOCK)]
    if len(parts) > 1:
        each(function, parts)
    elif parts:
        function(parts[0])


def filled(made: Callable[[slice], npt.NDArray[Any]], rows: int, dtype: npt.DTypeLike) -> npt.NDArray[Any]:
    """An array of so many rows. made : what stands in a block of them"""
    found = np.empty(rows, dtype=dtype)
    blocks(lambda part: found.__setitem__(part, made(part)), rows)
    return found


def sort(values: npt.NDArray[np.int64]) -> None:
    """Sort numbers in place: parts of them at once, which are then merged, unless they are nearly in order.

    values : shape (n,), contiguous
    """
    if len(values) < _LARGE:
        values.sort()
        return
    # The stable way finds runs that are in order and merges them: the cells of a tally have been sorted by much the same keys.
    in_runs = bool(np.count_nonzero(values[1:] < values[:-1]) * _RUN < len(values))
    if not in_runs and pa.cpu_count() > 1:
        each(np.ndarray.sort, np.array_split(values, pa.cpu_count()))
        in_runs = True
    values.sort(kind="stable" if in_runs else "quicksort")

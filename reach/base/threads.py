"""Work on large arrays on all cores: numpy and Arrow let other threads run while they work on one.

As many threads as Arrow uses, which OMP_NUM_THREADS bounds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Final, TypeVar

import numpy as np
import numpy.typing as npt
import pyarrow as pa

Item = TypeVar("Item")
Found = TypeVar("Found")

_LARGE: Final = 1 << 17  # numbers, below which starting a thread takes longer than the work


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


def named(made: Mapping[str, Callable[[], Found]]) -> dict[str, Found]:
    """Name -> what its function makes, in their order. An error is the first name's that has one."""
    return dict(zip(made, each(lambda make: make(), made.values()), strict=True))


def sort(values: npt.NDArray[np.int64]) -> None:
    """Sort numbers in place: parts of them at once, which are then merged.

    values : shape (n,), contiguous
    """
    if len(values) >= _LARGE and pa.cpu_count() > 1:
        each(np.ndarray.sort, np.array_split(values, pa.cpu_count()))
        values.sort(kind="stable")  # which finds runs that are in order and merges them
    else:
        values.sort()

"""Work on the vocabulary, not the rows: integer keys for combinations of category columns."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
import pandas as pd

Codes = npt.NDArray[np.int64]


def codes(column: pd.Series) -> tuple[Codes, int]:
    """Codes of a category column, nulls as 0, the first category as 1; and how many codes there can be.

    column : Series of dtype category, n rows
    Returns (codes, shape (n,); size).
    """
    return column.cat.codes.to_numpy().astype(np.int64) + 1, len(column.cat.categories) + 1


def combine(parts: Sequence[tuple[Codes, int]]) -> tuple[Codes, int]:
    """One key from several, the first varying slowest.

    parts : pairs of (codes, shape (n,), 0 <= code < size; size)
    Returns (keys, shape (n,); size). OverflowError where the product of the sizes passes 2**63.
    """
    keys, size = parts[0]
    for more, more_size in parts[1:]:
        if size * more_size >= 2**63:
            raise OverflowError("too many combinations for one integer key")
        keys, size = keys * more_size + more, size * more_size
    return keys, size


def distinct(keys: Codes, size: int) -> tuple[Codes, Codes]:
    """The distinct keys in rising order, and for each row which of them it holds.

    keys : shape (n,), 0 <= key < size
    Returns (values, shape (m,), rising; inverse, shape (n,)), as np.unique does, in linear time where the keys are
    dense enough for a table.
    """
    if size <= 4 * len(keys) + 1_000_000:
        seen = np.zeros(size, dtype=bool)
        seen[keys] = True
        values = np.flatnonzero(seen).astype(np.int64)
        rank = np.empty(size, dtype=np.int64)
        rank[values] = np.arange(len(values))
        return values, rank[keys]
    inverse, found = pd.factorize(keys, sort=False)
    order = np.argsort(found)
    rank = np.empty(len(found), dtype=np.int64)
    rank[order] = np.arange(len(found))
    return np.asarray(found)[order].astype(np.int64), rank[inverse]


def split(values: Codes, sizes: Sequence[int]) -> list[Codes]:
    """Take combined keys apart again: the inverse of `combine` for the given sizes, in the same order."""
    parts: list[Codes] = []
    for size in reversed(sizes):
        values, part = np.divmod(values, size)
        parts.append(part)
    return parts[::-1]


def category(part: Codes, like: pd.Series) -> pd.Categorical:
    """A category column from codes as `codes` gives them, with the categories of the column they came from."""
    return pd.Categorical.from_codes(part - 1, categories=like.cat.categories)

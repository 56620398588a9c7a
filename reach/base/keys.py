"""Work on the vocabulary, not the rows: integer keys for combinations of category columns."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import threads

Codes = npt.NDArray[np.int64]
_SAMPLE: Final = 1 << 14


def codes(column: pd.Series) -> tuple[Codes, int]:
    """Codes of a category column, nulls as 0, the first category as 1; and how many codes there can be.

    column : Series of dtype category, n rows
    Returns (codes, shape (n,); size).
    """
    return np.add(column.cat.codes.to_numpy(), 1, dtype=np.int64), len(column.cat.categories) + 1


def ends(values: npt.NDArray[Any]) -> tuple[Any, Any]:
    """The least and the greatest, 0 without any."""
    return (values.min(), values.max()) if len(values) else (0, 0)


def span(values: npt.NDArray[Any]) -> tuple[int, int]:
    """The least of whole numbers, of whatever dtype, and how many there are from it up to the greatest; 0 and 1 without any."""
    low, high = map(int, ends(values))
    return low, high - low + 1


def room(codes: npt.NDArray[np.integer[Any]]) -> int:
    """How many codes there can be, from 0 up to the greatest that is there; 1 without any."""
    return int(codes.max(initial=0)) + 1


@dataclass(frozen=True)
class Made:
    """Codes that are worked out where they are asked for, a slice of the rows at a time: not all of them need be held."""

    rows: int
    of: Callable[[slice], npt.NDArray[np.integer[Any]]]

    def __len__(self) -> int:
        return self.rows

    def __getitem__(self, part: slice) -> npt.NDArray[np.integer[Any]]:
        return self.of(part)


Part = tuple[npt.NDArray[np.integer[Any]] | Made, int]  # of a key: codes, and how many there can be


def made_of(column: pd.Series) -> Part:
    """The same codes as `codes`, made when they are asked for."""
    held = column.cat.codes.to_numpy()
    return Made(len(held), lambda part: np.add(held[part], 1, dtype=np.int64)), len(column.cat.categories) + 1


def combine(parts: Sequence[Part]) -> tuple[Codes, int]:
    """One key from several, the first varying slowest.

    parts : pairs of (codes, shape (n,), 0 <= code < size; size)
    Returns (keys, shape (n,); size). OverflowError where the product of the sizes passes 2**63.
    """
    size = math.prod(size for _, size in parts)
    if size >= 2**63:
        raise OverflowError("too many combinations for one integer key")

    def joined(part: slice) -> Codes:
        found = parts[0][0][part].astype(np.int64)
        for codes, its_size in parts[1:]:
            found *= its_size
            found += codes[part]
        return found

    return threads.filled(joined, len(parts[0][0]), np.int64), size


def distinct(keys: Codes, size: int) -> tuple[Codes, Codes]:
    """The distinct keys in rising order, and for each row which of them it holds.

    keys : shape (n,), 0 <= key < size
    Returns (values, shape (m,), rising; inverse, shape (n,)), as np.unique does, in linear time where the keys are
    dense enough for a table.
    """
    if _is_dense(keys, size):
        values = present(keys, size)
        rank = np.empty(size, dtype=np.int64)
        rank[values] = np.arange(len(values))
        return values, rank[keys]
    if _are_few(keys):
        which, values = pd.factorize(keys)
        rising = np.argsort(values)
        rank = np.empty(len(values), dtype=np.int64)
        rank[rising] = np.arange(len(values))
        return values[rising], rank[which]
    rows, first = grouped(keys, size)
    inverse = np.empty(len(keys), dtype=np.int64)
    inverse[rows] = np.repeat(np.arange(len(first)), np.diff(first, append=len(rows)))
    return keys[rows[first]], inverse


def _are_few(keys: Codes) -> bool:
    """Whether so many rows share each key that looking keys up one by one beats sorting them, by a sample: with a key a row it
    would take three times as long."""
    sample = keys[:: len(keys) // _SAMPLE + 1]
    return len(np.unique(sample)) * 2 < len(sample)


def present(keys: Codes, size: int) -> Codes:
    """The distinct keys in rising order alone, arguments as for `distinct`."""
    if not _is_dense(keys, size):
        return np.unique(keys)
    seen = np.zeros(size, dtype=bool)
    seen[keys] = True
    return np.flatnonzero(seen).astype(np.int64)


def _is_dense(keys: Codes, size: int) -> bool:
    return size <= 4 * len(keys) + 1_000_000


def order(keys: Codes, size: int) -> Codes:
    """The rows in rising order of their keys, those of equal keys as they stand.

    keys : shape (n,), 0 <= key < size
    """
    packed, bits = _packed(keys, size)
    if packed is None:
        return np.argsort(keys, kind="stable")
    packed &= (1 << bits) - 1
    return packed


def begins(first: npt.NDArray[Any], *more: npt.NDArray[Any]) -> npt.NDArray[np.bool_]:
    """Where a group begins in rows that stand in groups: the first row, and each that differs from the one before it.

    first, more : whose values make a group together, all of shape (n,)
    """
    new = np.empty(len(first), dtype=bool)
    new[:1] = True
    np.not_equal(first[1:], first[:-1], out=new[1:])
    for each in more:
        new[1:] |= each[1:] != each[:-1]
    return new


def starts(ordered: Codes) -> Codes:
    """Where each distinct key begins, shape (m,). ordered : keys, equal ones next to each other, shape (n,)"""
    return np.flatnonzero(begins(ordered))


def grouped(keys: Codes, size: int) -> tuple[npt.NDArray[np.integer[Any]], Codes]:
    """The same rows as `order` gives, in 32 bits where these hold them, and where among them each distinct key begins."""
    packed, bits = _packed(keys, size)
    small = np.int32 if len(keys) < 2**31 else np.int64
    if packed is None:
        rows = np.argsort(keys, kind="stable")
        return rows.astype(small), starts(keys[rows])
    # What is sorted tells the key too, so that it is not looked up row by row.
    key = threads.filled(lambda part: packed[part] >> bits, len(keys), np.int64)
    packed &= (1 << bits) - 1
    return packed.astype(small), starts(key)


def _packed(keys: Codes, size: int) -> tuple[Codes | None, int]:
    """Keys with their rows in the lower bits, sorted: numbers are sorted and no index, in half the time; and how many bits are
    the row's. None where both do not fit into one number."""
    bits = len(keys).bit_length()
    if int(size) << bits >= 2**63:
        return None, bits
    packed = threads.filled(lambda part: keys[part] << bits | np.arange(part.start, part.stop), len(keys), np.int64)
    threads.sort(packed)
    return packed, bits


def first_rows(which: npt.NDArray[np.integer[Any]], count: int) -> Codes:
    """The first row of each distinct value, for what is the same in all of its rows.

    which : for each row which value it holds, 0..count - 1, each of them somewhere, as `distinct` gives it
    Returns rows, shape (count,).
    """
    rows = np.empty(count, dtype=np.int64)
    rows[which[::-1]] = np.arange(len(which))[::-1]  # of several writes to one place the last one stays: the first row
    return rows


def split(values: Codes, sizes: Sequence[int], dtype: npt.DTypeLike = np.int64) -> list[npt.NDArray[Any]]:
    """Take combined keys apart again: the inverse of `combine` for the given sizes, in the same order.

    dtype : of the parts, large enough for the sizes
    """
    parts = [np.empty(len(values), dtype=dtype) for _ in sizes]

    def some(rows: slice) -> None:
        left = values[rows]
        for part, size in zip(reversed(parts), reversed(sizes), strict=True):
            left, part[rows] = np.divmod(left, size)

    threads.blocks(some, len(values))
    return parts


def added(table: pd.DataFrame, by: Sequence[str], *, carry: Sequence[str] = ()) -> pd.DataFrame:
    """Rows with the same values added up: what is summed over many rows is then summed over few.

    table : n rows; where it has a column `reports` that many are added, else each row counts once
    by : columns of any type; nulls are a value like any other
    carry : columns that hang on those alone, taken along
    Returns the distinct rows of these columns, in rising order of their codes, and `reports`; of `first_utc` and `last_utc`,
    where they are carried, the earliest and the latest.
    """
    # Sorted rather than looked up in a table, but where that is small: of millions of rows the tables would be what memory
    # ends on.
    key, size = _one_key(table, by)
    if size * _SMALL <= len(key):
        return _looked_up(table, key, size, by, carry)
    rows, first = grouped(key, size)
    del key
    counts = np.diff(first, append=len(rows))
    if "reports" in table and len(rows):
        counts = np.add.reduceat(table["reports"].to_numpy()[rows], first, dtype=np.int64)
    ends = {name: _end(table[name], rows, first, how) for name, how in _ENDS.items() if name in carry}
    return _summed(table, rows[first], [*by, *carry], counts, ends)


_ENDS: Final = {"first_utc": np.minimum, "last_utc": np.maximum}
_SMALL: Final = 2  # rows, at least, for each key that there may be


def _looked_up(table: pd.DataFrame, key: Codes, size: int, by: Sequence[str], carry: Sequence[str]) -> pd.DataFrame:
    """The same where few keys can be: counted in a table of them, which takes a fraction of the time of sorting."""
    some = np.full(size, -1, dtype=np.int64)
    some[key] = np.arange(len(key))
    there = np.flatnonzero(some >= 0)
    weights = table["reports"].to_numpy() if "reports" in table else None
    counts = np.bincount(key, weights, size)[there]
    ends = {}
    for name in _ENDS.keys() & set(carry):
        moments = table[name].dt.tz_convert(None).to_numpy()
        found = np.full(size, moments[0] if len(moments) else np.datetime64("NaT"))
        found[key] = moments
        _ENDS[name].at(found, key, moments)
        ends[name] = pd.DatetimeIndex(found[there]).tz_localize("UTC")
    return _summed(table, some[there], [*by, *carry], counts, ends)


def _summed(
    table: pd.DataFrame,
    rows: npt.NDArray[np.integer[Any]],
    names: Sequence[str],
    counts: npt.NDArray[Any],
    ends: dict[str, pd.DatetimeIndex],
) -> pd.DataFrame:
    """One row of each group, with its reports and ends. Column by column: there are few rows, and tables have their price."""
    kept = {name: table[name].array.take(rows) for name in names}
    return pd.DataFrame({**kept, "reports": counts.astype(np.int64), **ends}, copy=False)


def _end(moments: pd.Series, rows: npt.NDArray[np.integer[Any]], starts: Codes, how: np.ufunc) -> pd.DatetimeIndex:
    """The earliest or the latest of the moments of each group. rows : one group after the other"""
    plain = moments.dt.tz_convert(None).to_numpy()[rows]
    return pd.DatetimeIndex(how.reduceat(plain, starts) if len(starts) else plain).tz_localize("UTC")


def first_of_each(table: pd.DataFrame, by: Sequence[str]) -> Codes:
    """The rows in which values of some columns stand together for the first time, rising: what `drop_duplicates` would keep."""
    values, which = distinct(*_one_key(table, by))
    return np.sort(first_rows(which, len(values)))


def numbers(table: pd.DataFrame, by: Sequence[str]) -> Codes:
    """A number from 0 for each distinct row of some columns, shape (n,), in the order of their codes."""
    return distinct(*_one_key(table, by))[1]


def _one_key(table: pd.DataFrame, by: Sequence[str]) -> tuple[Codes, int]:
    """One whole number a row for the values of some columns, in the order of their codes; and how many there can be."""
    key, size = _numbered(table[by[0]])
    for name in by[1:]:
        more, more_size = _numbered(table[name])
        if size * more_size >= 2**63:  # rows are fewer than what could be: their own numbers keep the order
            values, key = distinct(key, size)
            size = len(values)
        key *= more_size
        key += more
        size *= more_size
    return key, size


def _numbered(column: pd.Series) -> tuple[Codes, int]:
    """Codes from 0 for any column: of categories and small whole numbers their own, else in order of appearance."""
    if isinstance(column.dtype, pd.CategoricalDtype):
        return codes(column)
    if column.dtype.kind in "iub" and len(column):
        low, high = int(column.min()), int(column.max())
        if high - low < len(column) + 1_000_000:
            return column.to_numpy().astype(np.int64) - low, high - low + 1
    found, values = pd.factorize(column, use_na_sentinel=False)
    return found.astype(np.int64), max(len(values), 1)


def category(part: Codes, like: pd.Series) -> pd.Categorical:
    """A category column from codes as `codes` gives them, with the categories of the column they came from."""
    return pd.Categorical.from_codes(part - 1, categories=like.cat.categories)

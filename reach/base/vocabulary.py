"""The vocabulary of a raw column: distinct texts, and which of them each row holds. Rules look at words, never rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

Codes = npt.NDArray[np.integer]
_BLANK: Final = pd.Index([""], dtype="str")


@dataclass(frozen=True)
class Words:
    """A text column.

    codes  shape (rows,): position in `index` of the row's word
    index  the words; the last is blank and stands for cells that the file does not have
    """

    codes: Codes
    index: pd.Index

    @cached_property
    def texts(self) -> list[str]:
        """The words as plain strings."""
        return [str(word) for word in self.index]

    @cached_property
    def blank(self) -> npt.NDArray[np.bool_]:
        """Shape (words,): whether a word is nothing but blanks."""
        trimmed = pc.utf8_trim_whitespace(pa.array(self.index, pa.large_string()))
        return np.asarray(pc.equal(pc.utf8_length(trimmed), 0))

    def text(self, at: int | np.integer) -> str:
        """One word as a plain string."""
        return str(self.index[int(at)])

    def __len__(self) -> int:
        return len(self.index)


def words(raw: pd.DataFrame, name: str) -> Words:
    """The vocabulary of a column of the raw table; blank throughout where there is no such column."""
    if name not in raw:
        return Words(np.zeros(len(raw), dtype=np.int8), _BLANK)
    column = raw[name]
    held = column.array if isinstance(column.dtype, pd.CategoricalDtype) else column.astype("category").array
    codes = held.codes
    index = held.categories.astype("str").append(_BLANK)
    if (codes < 0).any():
        codes = np.where(codes < 0, len(index) - 1, codes.astype(np.int64))
    return Words(codes, index)


def category(codes: Codes, values: Sequence[str | None]) -> pd.Categorical:
    """A category column from codes and what each of them means.

    codes  : shape (rows,), positions in `values`
    values : texts, not necessarily distinct; None is null
    Returns a Categorical whose categories are those in use, in the order of their text.
    """
    if len(codes) and codes.min() == codes.max():  # one word throughout, as columns of the station itself have
        only = values[int(codes[0])]
        names = [] if only is None else [only]
        return of_distinct(np.full(len(codes), len(names) - 1, dtype=np.int8), pd.Index(names, dtype="str"))
    used = np.bincount(codes, minlength=len(values)) > 0 if len(codes) else np.zeros(len(values), dtype=bool)
    names = sorted({value for value, here in zip(values, used, strict=True) if here and value is not None})
    at = {name: k for k, name in enumerate(names)}
    to = np.array([-1 if value is None else at.get(value, -1) for value in values], dtype=np.int32)
    small = to.astype(np.min_scalar_type(-len(names) - 1))
    return of_distinct(small[codes], pd.Index(names, dtype="str"))


def of_distinct(codes: Codes, names: pd.Index) -> pd.Categorical:
    """A category column from codes and its categories, which the caller knows to be distinct.

    pandas would look whether they are, and keep with them the table it looked in and each name as a text of its own, some
    90 bytes a name. It is told instead, for which there is no public way.
    """
    names._cache["is_unique"] = True  # type: ignore[attr-defined]
    return pd.Categorical.from_codes(codes, categories=names, validate=False)


def in_use(column: pd.Categorical) -> pd.Categorical:
    """The column without the categories that no row has; the others keep their order."""
    codes, size = column.codes, len(column.categories)
    if size <= 1 and codes.max(initial=-1) == size - 1:
        return column
    used = np.bincount(codes[codes >= 0] if (codes < 0).any() else codes, minlength=size) > 0
    if used.all():
        return column
    to = np.append(np.cumsum(used) - 1, -1).astype(codes.dtype)  # code -1 takes the last
    return of_distinct(to[codes], column.categories[used])

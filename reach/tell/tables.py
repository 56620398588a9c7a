"""Tables as files: CSV for reading and for spreadsheets, Parquet where a spreadsheet would give up.

CSV is put together column by column in Arrow, not row by row: two million rows take seconds where the usual writer takes
most of a minute. The bytes are those of that writer: numbers in their shortest form, text quoted where it must be.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from reach.base import text as texts

if TYPE_CHECKING:
    import pyarrow as pa

_ROWS: Final = 200_000  # put together at a time: some 60 MB of text
_ROWS_SAID: Final = 50_000  # where sentences are made of them
_SPECIAL: Final = '[",\r\n]'
_UTC: Final = "%Y-%m-%dT%H:%M:%SZ"
# Columns that go with the clock: hardly a value comes twice, so that a dictionary of them costs time and room.
_WITH_THE_CLOCK: Final = ("time_utc", "line", "sun_deg", "solar_hour")
# Between these the shortest form of a number has no exponent, and Arrow's is Python's but for a missing ".0".
_PLAIN: Final = (1e-4, 1e9)


def write_csv(
    table: pd.DataFrame | Iterator[pd.DataFrame],
    path: Path,
    *,
    said: Callable[[pd.DataFrame], pd.DataFrame] | None = None,
) -> None:
    """A table as UTF-8 CSV: times in ISO 8601 with Z, numbers without noise, blanks for what is not known.

    table : whole, or piece by piece, at least one
    said : what is written of some rows of it, where that is made piece by piece, because all of it at once is large
    """
    import pyarrow as pa

    with path.open("wb") as out:
        written = said or (lambda part: part)
        for k, piece in enumerate([table] if isinstance(table, pd.DataFrame) else table):
            if not k:
                names = pa.array(map(str, written(piece.iloc[:0]).columns), pa.large_string())
                out.write(f"{','.join(_quoted(names).to_pylist())}\n".encode())
            for part in _parts(piece, _ROWS_SAID if said else _ROWS):
                out.write(_lines(written(part)))


def write_parquet(table: pd.DataFrame, path: Path) -> None:
    """The same table as Parquet: the same columns and roundings, times as times, unknown numbers as null."""
    import pyarrow as pa
    from pyarrow import parquet

    def arrow(part: pd.DataFrame) -> pa.Table:
        return pa.Table.from_pandas(_rounded(part), preserve_index=False)

    words = [str(name) for name in table if not str(name).endswith(_WITH_THE_CLOCK)]
    with parquet.ParquetWriter(
        path, arrow(table.iloc[:0]).schema, compression="zstd", use_dictionary=words or False
    ) as out:
        for part in _parts(table, _ROWS):
            out.write_table(arrow(part))


def _parts(table: pd.DataFrame, rows: int) -> Iterator[pd.DataFrame]:
    """The table in pieces of so many rows, so that never more than one is there twice."""
    for start in range(0, len(table), rows):
        yield table.iloc[start : start + rows]


def _rounded(table: pd.DataFrame) -> pd.DataFrame:
    return table.assign(**{str(name): _round(column) for name, column in table.items() if column.dtype.kind == "f"})


def _round(column: pd.Series) -> pd.Series:
    """Six decimals for degrees and MHz (a tenth of a metre, a hertz), three for the rest (a metre, a thousandth of a dB)."""
    decimals = 6 if str(column.name).endswith(("lon_deg", "lat_deg", "_mhz")) else 3
    return column.astype(float).round(decimals)


def _lines(table: pd.DataFrame) -> memoryview | bytes:
    """The rows as text, each with its line end."""
    import pyarrow as pa

    *most, last = (_words(table[name]) for name in table.columns)
    lines = _joined(*most, _joined(last, pa.scalar("\n", last.type), by=""), by=",")
    # The lines of an Arrow array lie end to end in one piece of memory: that piece is the text.
    return memoryview(lines.buffers()[2]) if len(lines) else b""


def _joined(*parts: Any, by: str) -> pa.Array:
    """Columns of text side by side as one, nothing where a part is missing."""
    import pyarrow as pa
    from pyarrow import compute

    between = pa.scalar(by, pa.large_string())
    return compute.binary_join_element_wise(*parts, between, null_handling="replace", null_replacement="")


def _words(column: pd.Series) -> pa.Array:
    """A column as Arrow text, null where there is nothing."""
    import pyarrow as pa

    kind = column.dtype
    if isinstance(kind, pd.CategoricalDtype):  # a word a category, taken by code
        names, codes = kind.categories, column.cat.codes.to_numpy()
        if len(names) > len(codes):  # of many names only those that are here
            used = np.unique(codes[codes >= 0])
            names, codes = names[used], np.where(codes >= 0, np.searchsorted(used, codes), -1)
        words = _quoted(pa.array(names.astype(str).to_numpy(dtype=object), pa.large_string()))
        return words.take(pa.array(codes.astype(np.int64), mask=codes < 0))
    if isinstance(kind, pd.DatetimeTZDtype):
        times, at = np.unique(column.to_numpy(dtype="datetime64[us]"), return_inverse=True)
        text = pd.DatetimeIndex(times).strftime(_UTC)
        return pa.array(text.to_numpy(dtype=object), pa.large_string(), from_pandas=True).take(pa.array(at))
    if kind.kind == "f":
        return _numbers(_round(column).to_numpy())
    if kind.kind in "iu":
        return pa.array(column.to_numpy()).cast(pa.large_string())
    if kind.kind == "b":
        return pa.array(["False", "True"], pa.large_string()).take(pa.array(column.to_numpy().astype(np.int8)))
    if isinstance(kind, pd.StringDtype):
        text = pa.array(column.array, pa.large_string())
        # A column that was put together from several tables comes in as many pieces.
        return _quoted(text.combine_chunks() if isinstance(text, pa.ChunkedArray) else text)
    return _quoted(pa.array([None if pd.isna(value) else str(value) for value in column], pa.large_string()))


def _numbers(values: np.ndarray) -> pa.Array:
    """Numbers in their shortest form, whole ones with '.0'."""
    import pyarrow as pa
    from pyarrow import compute

    known = pa.array(values, mask=np.isnan(values))
    text = known.cast(pa.large_string())
    ending = compute.if_else(compute.match_substring(text, "."), "", ".0").fill_null("")
    text = _joined(text, ending.cast(pa.large_string()), by="")
    size = np.abs(values)
    odd = np.isfinite(size) & (size != 0) & ((size < _PLAIN[0]) | (size >= _PLAIN[1])) | np.isinf(size)
    if not odd.any():
        return text
    return compute.replace_with_mask(
        text, pa.array(odd), pa.array([repr(value) for value in values[odd].tolist()], pa.large_string())
    )


def _quoted(words: pa.Array) -> pa.Array:
    """Text as it must stand in a CSV: in quotes where it holds a comma, a quote or a line end, and nothing that a spreadsheet
    would work out."""
    import pyarrow as pa
    from pyarrow import compute

    formula = compute.match_substring_regex(words, texts.FORMULA_START).fill_null(False)
    if compute.any(formula).as_py():
        harmless = [texts.as_cell(word) for word in words.filter(formula).to_pylist()]
        words = compute.replace_with_mask(words, formula, pa.array(harmless, words.type))
    special = compute.match_substring_regex(words, _SPECIAL).fill_null(False)
    if not compute.any(special).as_py():
        return words
    quote = pa.scalar('"', words.type)
    wrapped = _joined(quote, compute.replace_substring(words, '"', '""'), quote, by="")
    return compute.if_else(special, wrapped, words)

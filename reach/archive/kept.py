"""What was worked out of the rows of a day once, and is kept beside the collection.

    COLLECTION/kept/sent-EI4QTB/2026-10-01.arrow

Of each sound row: the day and night on its path, and whether another row may report the same reception. Both follow from the
day's parts alone. Nothing that the user may change enters: a corrected locator, or a row that takes the study's, is reckoned
anew when the collection is read. Each file names the content that it came from, by SHA-256 over the bytes of the parts, and is
otherwise not believed; so it may be deleted, damaged or old at any time, and every report stays the same.
"""

from __future__ import annotations

import contextlib
import hashlib
import zlib
from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
import pyarrow as pa

from reach.base import keys
from reach.base.installed import version_of
from reach.errors import OutputError
from reach.place import daylight, geometry
from reach.place.daylight import DAYLIGHT, STATES
from reach.tell import files
from reach.vet import duplicates

NAME: Final = "kept"
ENDING: Final = ".arrow"
TWICE: Final = "twice"  # whether another row may report the same reception: every duplicate, and few others
COLUMNS: Final = (*DAYLIGHT, TWICE)
_MARK: Final = b"reach kept 1\n"
_KEY: Final = 64  # letters of a SHA-256
_SUM: Final = 8  # of a CRC-32
_TYPES: Final = {"float32": pa.float32(), "category": pa.int8(), "bool": pa.bool_()}
_SCHEMA: Final = pa.schema([*((name, _TYPES[dtype]) for name, (dtype, _) in DAYLIGHT.items()), (TWICE, pa.bool_())])


def key(parts: Sequence[tuple[str, bytes]]) -> str:
    """What the rows of a day come from: name and bytes of each part, in their order, and this program's version."""
    told = hashlib.sha256(f"{version_of('reach', otherwise='unknown')}\n".encode())
    for name, content in parts:
        told.update(f"{name} {hashlib.sha256(content).hexdigest()}\n".encode())
    return told.hexdigest()


def read(path: Path, of: str) -> pa.Table | None:
    """What is kept of a day, in the order of its rows. of : the content that it must have come from

    Returns None where nothing is, or where it came from other content, is damaged or is none of ours.
    """
    try:
        held = path.read_bytes()
    except OSError:
        return None
    head = len(_MARK) + _KEY
    if held[:head] != _MARK + of.encode() or held[head : head + _SUM] != _sum(held[head + _SUM :]):
        return None
    try:
        table = pa.ipc.open_stream(pa.py_buffer(held[head + _SUM :])).read_all()
    except pa.ArrowException:
        return None
    return table if table.schema.equals(_SCHEMA) else None


def write(path: Path, of: str, table: pa.Table) -> None:
    """Keep what was worked out of a day; where the place may not be written to, nothing is kept."""
    out = pa.BufferOutputStream()
    with pa.ipc.new_stream(out, _SCHEMA, options=pa.ipc.IpcWriteOptions(compression="zstd")) as stream:
        stream.write_table(table.combine_chunks())
    content = out.getvalue().to_pybytes()
    with contextlib.suppress(OutputError):
        # There are hundreds the first time, and one that a power cut leaves torn is not believed.
        files.write(path, _MARK + of.encode() + _sum(content) + content, replace=True, lasting=False)


def work_out(spots: pd.DataFrame) -> pa.Table:
    """The same from the rows. spots : spots.SPOT; day and night stay unknown where the row names no station's locator"""
    told = spots["tx_locator"].notna().to_numpy()
    placed = spots[["time_utc", "tx_locator", "rx_locator"]][told]
    found = daylight.daylight(geometry.place(placed)) if len(placed) else None
    columns = {}
    for name, (dtype, _) in DAYLIGHT.items():
        values = np.full(len(spots), -1 if dtype == "category" else np.nan if dtype == "float32" else False)
        values = values.astype("int8" if dtype == "category" else dtype)
        if found is not None:
            values[told] = found[name].cat.codes if dtype == "category" else found[name]
        columns[name] = pa.array(values)
    return pa.table({**columns, TWICE: pa.array(duplicates.maybe(spots))}, schema=_SCHEMA)


def none() -> pa.Table:
    """What is kept of no rows."""
    return _SCHEMA.empty_table()


def as_columns(table: pa.Table) -> pd.DataFrame:
    """COLUMNS as the stages have them; unknown where tx_sun_deg is NaN."""
    columns = {}
    for name in COLUMNS:
        values = table.column(name).to_numpy()
        is_state = name in DAYLIGHT and DAYLIGHT[name][0] == "category"
        columns[name] = pd.Categorical.from_codes(values, categories=pd.Index(STATES)) if is_state else values
    return pd.DataFrame(columns, copy=False)


def taken(known: pd.DataFrame, rows: keys.Codes) -> pd.DataFrame:
    """Some of COLUMNS by their rows, unknown where a row is -1."""
    if len(rows) == len(known) and np.array_equal(rows, np.arange(len(rows))):
        return known
    some = known.take(np.maximum(rows, 0)).reset_index(drop=True) if len(known) else known.reindex(range(len(rows)))
    there = rows >= 0
    return some.assign(tx_sun_deg=some["tx_sun_deg"].where(there).astype("float32")) if not there.all() else some


def _sum(content: bytes) -> bytes:
    return f"{zlib.crc32(content):0{_SUM}x}".encode()

"""Tables that wait on a disc to be read again, one by one and in any order."""

from __future__ import annotations

import tempfile
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import pyarrow as pa

_WRITTEN: Final = pa.ipc.IpcWriteOptions(compression="lz4")


class Spool:
    """A file without a name, which is gone with its process however that ends. OSError where the disc is full."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._file = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115 (closed by __exit__)
        self._starts = [0]

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._file.close()

    def put(self, table: pa.Table) -> int:
        """Keep a table. Returns its number."""
        self._file.seek(self._starts[-1])
        with pa.ipc.new_stream(self._file, table.schema, options=_WRITTEN) as stream:
            stream.write_table(table)
        self._starts.append(self._file.tell())
        return len(self._starts) - 2

    def take(self, number: int) -> pa.Table:
        """The table of a number."""
        start, end = self._starts[number : number + 2]
        self._file.seek(start)
        with pa.ipc.open_stream(pa.py_buffer(self._file.read(end - start))) as stream:
            return stream.read_all()

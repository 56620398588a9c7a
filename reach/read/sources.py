"""Open what the user named: files, globs, standard input, packed or not, in whatever encoding; UTF-8 comes out."""

from __future__ import annotations

import bz2
import contextlib
import glob
import gzip
import hashlib
import io
import lzma
import os
import stat
import sys
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any, Final

import pyarrow as pa

from reach.base import text as texts
from reach.errors import InputError
from reach.read import encoding, remote
from reach.read.encoding import Bytes

STANDARD_INPUT: Final = "standard input"
LARGEST: Final = 1 << 32  # bytes of a file as it is
LARGEST_UNPACKED: Final = 1 << 31  # bytes of what one file unpacks to: a small file may unpack to more than any memory
MOST_MEMBERS: Final = 1000  # tables in an archive
_DEEPEST: Final = 3  # packed in packed in packed
_CHUNK: Final = 1 << 20

_PACKED: Final = {
    "gzip": b"\x1f\x8b",
    "bzip2": b"BZh",
    "xz": b"\xfd7zXZ\x00",
    "zstd": b"\x28\xb5\x2f\xfd",
    "zip": b"PK\x03\x04",
}
_TABLES: Final = (".csv", ".tsv", ".txt")  # what is taken from an archive that holds other files too


class OnDisc:
    """A file, or what is behind its first bytes, that stays on the disc; its parts are read when they are asked for."""

    def __init__(self, file: io.BufferedReader, name: str, start: int = 0) -> None:
        self._file, self._name, self._start = file, name, start
        self._status = self._now()
        self.size = self._status[0] - start

    def behind(self, start: int) -> OnDisc:
        """What is behind so many bytes."""
        return OnDisc(self._file, self._name, start) if start else self

    def slice(self, offset: int = 0, length: int | None = None) -> pa.Buffer:
        """So many bytes, all from there on where left out. InputError where the disc does not give them."""
        wanted = self.size - offset if length is None else min(length, self.size - offset)
        try:
            self._file.seek(self._start + offset)
            found = self._file.read(wanted)
        except OSError as error:
            raise InputError(f"{self._name}: cannot be read ({error.strerror or error}).") from None
        if len(found) < wanted:
            raise self._changed()
        return pa.py_buffer(found)

    def sha256(self) -> str:
        """Of the whole file, in hexadecimal. InputError where it is not what it was when it was opened."""
        self._file.seek(0)
        found = hashlib.file_digest(self._file, "sha256").hexdigest()
        if self._now() != self._status:
            raise self._changed()
        return found

    def _now(self) -> tuple[int, int]:
        status = os.fstat(self._file.fileno())
        return status.st_size, status.st_mtime_ns

    def _changed(self) -> InputError:
        return InputError(f"{self._name}: was changed while it was read; try again when it is done.")


@dataclass(frozen=True)
class Source:
    """One text of spots.

    name      the file's own name, with as much of its folder as tells it from the others
    text      UTF-8 without a byte order mark
    file      the bytes as they were on disk
    encoding  the text was in
    """

    name: str
    text: pa.Buffer | OnDisc
    file: pa.Buffer | OnDisc
    encoding: str = "utf-8"

    def sha256(self) -> str:
        """Of the file as it was on disk, in hexadecimal. InputError where it has changed since."""
        return self.file.sha256() if isinstance(self.file, OnDisc) else hashlib.sha256(self.file).hexdigest()


def open_all(
    sources: Iterable[str | os.PathLike[str]],
    folder: str | os.PathLike[str] | None = None,
    on_disc: contextlib.ExitStack | None = None,
) -> list[Source]:
    """Open files in the order given, those of one glob by name; a file that is named twice is opened once.

    sources : paths, globs, or "-" for standard input
    folder  : where relative paths start; the current one where left out
    on_disc : where it is given, files that are UTF-8 as they stand are not read into memory, and are open until it ends
    Returns Sources, more than one for an archive. InputError where there is nothing, or it cannot be opened.
    """
    paths = expand(sources, Path(folder or "."))
    if not paths:
        raise InputError("no file of spots was named.")
    found = []
    for path, name in zip(paths, _names(paths), strict=True):
        said = texts.one_line(name)
        stays = None if on_disc is None or path is None else _plain(path, said, on_disc)
        if stays is not None:
            found.append(Source(said, stays, stays))
            continue
        file = _load(path, name)
        for inner, plain in _unpack(file, said):
            text = encoding.text(plain)
            found.append(Source(inner, text.utf8, file, text.encoding))
    return found


def head(data: Bytes, size: int) -> bytes:
    """The first bytes, at most so many."""
    return bytes(data.slice(0, min(size, data.size)).to_pybytes())


def expand(sources: Iterable[str | os.PathLike[str]], folder: Path) -> list[Path | None]:
    """Paths in order, None for standard input."""
    paths: dict[Path | None, Path | None] = {}
    for source in sources:
        if isinstance(source, str) and source == "-":
            paths.setdefault(None, None)
            continue
        if remote.is_url(str(source)):
            raise InputError(
                f"{remote.Url(str(source)).shown}: lies elsewhere, and is fetched only where you name it among the files of a command."
            )
        try:
            path = folder / Path(source).expanduser()
            for hit in [path] if path.exists() or not glob.has_magic(str(path)) else _glob(path):
                paths.setdefault(hit.resolve(), hit)
        except OSError as error:
            raise InputError(f"{source}: cannot be read ({error.strerror or error}).") from None
        except (ValueError, RuntimeError) as error:  # a NUL in the name; nobody's home folder; a loop of links
            raise InputError(f"{source}: is no file ({error}).") from None
    return list(paths.values())


def _glob(path: Path) -> list[Path]:
    hits = [Path(hit) for hit in sorted(glob.glob(str(path), recursive=True))]
    files = [hit for hit in hits if hit.is_file()]
    if not files:
        raise InputError(f"{path}: no file is called so.")
    return files


def _names(paths: Sequence[Path | None]) -> list[str]:
    """Base names, with so many folders before them that no two are alike."""
    names = [STANDARD_INPUT if path is None else path.name for path in paths]
    depth = 1
    while len(set(names)) < len(names):
        depth += 1
        twice = {name for name in names if names.count(name) > 1}
        longer = [
            _tail(path, depth) if path is not None and name in twice else name
            for path, name in zip(paths, names, strict=True)
        ]
        if longer == names:
            break
        names = longer
    return names


def _tail(path: Path, depth: int) -> str:
    return PurePath(*path.resolve().parts[-depth:]).as_posix()


def _plain(path: Path, name: str, on_disc: contextlib.ExitStack) -> OnDisc | None:
    """A file that is UTF-8 as it stands; None of any other, and where there is something to be told of it."""
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode) or status.st_size > LARGEST:
            return None
        file = OnDisc(on_disc.enter_context(path.open("rb")), name)
    except OSError:
        return None
    begin = None if _kind(file) else encoding.as_it_stands(file)
    return None if begin is None else file.behind(begin)


def _load(path: Path | None, name: str) -> pa.Buffer:
    try:
        if path is None:
            if sys.stdin is None:
                raise InputError(f"{name}: is closed, so there is nothing to read.")
            return _bounded(getattr(sys.stdin, "buffer", sys.stdin), name, LARGEST)
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise InputError(f"{path}: is a folder; name the files in it, such as '{path / '*.csv'}'.")
        # Read and not mapped: a mapped file that another program shortens meanwhile ends this one without a word.
        with path.open("rb") as file:
            if stat.S_ISREG(status.st_mode) and status.st_size <= LARGEST:
                return pa.py_buffer(file.read(LARGEST))
            return _bounded(file, name, LARGEST)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file.") from None
    except OSError as error:
        raise InputError(f"{path or name}: cannot be read ({error.strerror or error}).") from None


def _bounded(stream: Any, name: str, most: int) -> pa.Buffer:
    """All that a stream gives. InputError where it is more than so many bytes, or begins with a million zero bytes."""
    found = bytearray()
    while chunk := stream.read(_CHUNK):
        if not found and len(chunk) == _CHUNK and not any(chunk):
            raise InputError(f"{name}: holds zero bytes and no text.")
        found += chunk
        if len(found) > most:
            raise InputError(f"{name}: is more than {most / (1 << 30):g} GiB of text, which is the limit; divide it.")
    return pa.py_buffer(found)


def _unpack(file: pa.Buffer, name: str, deep: int = 0) -> Iterator[tuple[str, pa.Buffer]]:
    """What is inside: the file itself, what it unpacks to, or the tables in an archive."""
    kind = _kind(file)
    if kind is None:
        yield name, file
        return
    if deep >= _DEEPEST:
        raise InputError(f"{name}: is packed more than {_DEEPEST} times over; unpack it first.")
    try:
        if kind == "zip":
            for inner, content in _archive(file, name):
                yield from _unpack(content, f"{name}/{inner}", deep + 1)
        else:
            with _UNPACK[kind](pa.BufferReader(file)) as stream:
                plain = _bounded(stream, name, LARGEST_UNPACKED)
            yield from _unpack(plain, name, deep + 1)
    except (OSError, EOFError, ValueError, RuntimeError, lzma.LZMAError, zlib.error, zipfile.BadZipFile) as error:
        raise InputError(f"{name}: looks like {kind} and cannot be unpacked ({error}).") from None


def _kind(file: Bytes) -> str | None:
    start = head(file, 10)
    for kind, mark in _PACKED.items():
        if start.startswith(mark) and (kind != "bzip2" or start[4:10] == b"1AY&SY"):
            return kind
    return None


def _archive(file: pa.Buffer, name: str) -> Iterator[tuple[str, pa.Buffer]]:
    with zipfile.ZipFile(pa.BufferReader(file)) as archive:
        members = archive.infolist()
        inside = [entry.filename for entry in members]
        if "[Content_Types].xml" in inside or "mimetype" in inside:
            raise InputError(f"{name}: is a spreadsheet or a document; save the table as CSV first.")
        files = [entry for entry in inside if not entry.endswith("/") and not entry.startswith("__MACOSX/")]
        tables = [entry for entry in files if PurePath(entry.removesuffix(".gz")).suffix.lower() in _TABLES] or files
        if not tables:
            raise InputError(f"{name}: is an archive without a file in it.")
        if len(tables) > MOST_MEMBERS:
            raise InputError(
                f"{name}: holds {len(tables):,} files, more than the limit of {MOST_MEMBERS:,}; divide it."
            )
        left, times, wanted = LARGEST_UNPACKED, Counter[str](), set(tables)
        for entry in (each for each in members if each.filename in wanted):
            times[entry.filename] += 1  # an archive may hold two files of one name
            again = f" ({times[entry.filename]})" if times[entry.filename] > 1 else ""
            inner = texts.one_line(entry.filename) + again
            with archive.open(entry) as stream:
                content = _bounded(stream, f"{name}/{inner}", left)
            left -= content.size
            yield inner, content


_UNPACK: Final[dict[str, Callable[[Any], Any]]] = {
    "gzip": lambda file: gzip.GzipFile(fileobj=file),
    "bzip2": bz2.BZ2File,
    "xz": lzma.LZMAFile,
    "zstd": lambda file: pa.CompressedInputStream(file, "zstd"),
}

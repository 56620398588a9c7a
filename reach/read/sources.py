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
import tempfile
import zipfile
import zlib
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import Any, BinaryIO, Final, Self

import numpy as np
import pyarrow as pa

from reach.base import text as texts
from reach.base import threads
from reach.errors import InputError
from reach.read import encoding, remote
from reach.read.encoding import Bytes

STANDARD_INPUT: Final = "standard input"
LARGEST: Final = 1 << 32  # bytes of a file as it is
LARGEST_UNPACKED: Final = 1 << 31  # bytes of what one file unpacks to: a small file may unpack to more than any memory
MOST_MEMBERS: Final = 1000  # tables in an archive
_DEEPEST: Final = 3  # packed in packed in packed
_CHUNK: Final = 1 << 20
_PART: Final = 1 << 22  # of a file, read at once
_BUFFER: Final = 1 << 16

_PACKED: Final = {
    "gzip": b"\x1f\x8b",
    "bzip2": b"BZh",
    "xz": b"\xfd7zXZ\x00",
    "zstd": b"\x28\xb5\x2f\xfd",
    "zip": b"PK\x03\x04",
}
_TABLES: Final = (".csv", ".tsv", ".txt")  # what is taken from an archive that holds other files too


class OnDisc:
    """Bytes that stay on a disc: a file, or a part of one; what is asked for of them is read then.

    size : how many there are; start : where they begin in the file
    status : what the system said of a file that others may change; None of one that is ours alone
    sha256 : where it is known already
    """

    def __init__(
        self,
        file: BinaryIO,
        name: str,
        size: int,
        start: int = 0,
        status: Status | None = None,
        sha256: str | None = None,
    ) -> None:
        self._file, self._name, self.size, self._start = file, name, size, start
        self._status, self._sha256 = status, sha256

    @classmethod
    def of(cls, file: BinaryIO, name: str, known: Known | None = None) -> OnDisc:
        """A whole file that others may change. known : perhaps this very one, as it was looked at before"""
        status = _status(file)
        sha256 = known.sha256 if known is not None and known.status == status else None
        return cls(file, name, status[0], status=status, sha256=sha256)

    def behind(self, start: int) -> OnDisc:
        """What is behind so many bytes."""
        return OnDisc(self._file, self._name, self.size - start, self._start + start, self._status)

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
        """Of all these bytes, in hexadecimal. InputError where the file is not what it was when it was opened."""
        if self._sha256 is None:
            found = hashlib.sha256()
            for start in range(0, self.size, _CHUNK):
                found.update(self.slice(start, _CHUNK))
            self._sha256 = found.hexdigest()
        if self._status is not None and _status(self._file) != self._status:
            raise self._changed()
        return self._sha256

    def _changed(self) -> InputError:
        return InputError(f"{self._name}: was changed while it was read; try again when it is done.")


Status = tuple[int, ...]


def _status(file: BinaryIO) -> Status:
    """What tells a file from any other, and from what it was: size, time of the last change, disc and number on it."""
    status = os.fstat(file.fileno())
    return status.st_size, status.st_mtime_ns, status.st_dev, status.st_ino


class _Stream(io.RawIOBase):
    """Bytes as a file that is read from its beginning."""

    def __init__(self, held: Bytes) -> None:
        self._held, self._at = held, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        self._at = offset + {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._held.size}[whence]
        return self._at

    def readinto(self, into: Any) -> int:
        part = self._held.slice(self._at, min(len(into), max(self._held.size - self._at, 0))).to_pybytes()
        into[: len(part)] = part
        self._at += len(part)
        return len(part)


@dataclass(frozen=True)
class Known:
    """A file that was looked at before: what the system said of it, and its SHA-256 in hexadecimal."""

    status: Status
    sha256: str


def look_at(path: Path) -> Known:
    """OSError where the file cannot be read; InputError where it changes meanwhile."""
    with path.open("rb") as file:
        return Known(_status(file), OnDisc.of(file, path.name).sha256())


class Disc:
    """Where bytes stay that should not be in memory whole: files as they are, which are open until it ends, and in a file without
    a name, which is gone with the process however that ends, what comes from elsewhere or is written anew.

    known : a file that was looked at before, so that it need not be again
    OSError where the folder takes no file.
    """

    def __init__(self, folder: Path, known: Known | None = None) -> None:
        self._open, self._known = contextlib.ExitStack(), known
        self._ours = self._open.enter_context(tempfile.TemporaryFile(dir=folder))  # noqa: SIM115 (closed by __exit__)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *why: object) -> None:
        self._open.close()

    def file(self, path: Path, name: str) -> OnDisc:
        """A file as it is. OSError where it cannot be opened."""
        return OnDisc.of(self._open.enter_context(path.open("rb")), name, self._known)

    def put(self, parts: Iterable[bytes], name: str) -> OnDisc:
        """Bytes that come part by part."""
        start, size = self._ours.seek(0, io.SEEK_END), 0
        for part in parts:
            try:
                self._ours.seek(start + size)
                self._ours.write(part)
                self._ours.flush()
            except OSError as error:
                raise _NoRoomError from error
            size += len(part)
        return OnDisc(self._ours, name, size, start)

    def rewritten(self, parts: Iterable[bytes], name: str) -> OnDisc:
        """A text that is written anew, part by part. OSError where the disc is full."""
        with _told_as_it_is():
            return self.put(parts, name)


@contextlib.contextmanager
def _told_as_it_is() -> Iterator[None]:
    """OSError where the disc is full."""
    try:
        yield
    except _NoRoomError as full:
        assert full.__cause__ is not None
        raise full.__cause__ from None


class _NoRoomError(Exception):
    """The disc does not take what should be put there; the OSError is its cause, which is none of what is read."""


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
    disc: Disc | None = None,
) -> list[Source]:
    """Open files in the order given, those of one glob by name; a file that is named twice is opened once.

    sources : paths, globs, or "-" for standard input
    folder  : where relative paths start; the current one where left out
    disc    : where it is given, nothing is in memory whole
    Returns Sources, more than one for an archive. InputError where there is nothing, or it cannot be opened; OSError where the
    disc is full.
    """
    paths = expand(sources, Path(folder or "."))
    if not paths:
        raise InputError("no file of spots was named.")
    found = []
    with _told_as_it_is():
        for path, name in zip(paths, _names(paths), strict=True):
            file = _load(path, name, disc)
            for inner, plain in _unpack(file, texts.one_line(name), disc):
                text, written = _text(plain, inner, disc)
                found.append(Source(inner, text, file, written))
    return found


def _text(plain: pa.Buffer | OnDisc, name: str, disc: Disc | None) -> tuple[pa.Buffer | OnDisc, str]:
    """The text of a file in UTF-8, and the encoding it was in."""
    if not isinstance(plain, OnDisc) or disc is None:
        return encoding.text(plain)
    written = encoding.find(plain)
    text = plain.behind(written.begin) if written.stands else disc.put(encoding.recoded(plain, written), name)
    return text, encoding.said(written)


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


def _load(path: Path | None, name: str, disc: Disc | None) -> pa.Buffer | OnDisc:
    try:
        if path is None:
            if sys.stdin is None:
                raise InputError(f"{name}: is closed, so there is nothing to read.")
            return _held(getattr(sys.stdin, "buffer", sys.stdin), name, LARGEST, disc)
        status = path.stat()
        if stat.S_ISDIR(status.st_mode):
            raise InputError(f"{path}: is a folder; name the files in it, such as '{path / '*.csv'}'.")
        if disc is not None and stat.S_ISREG(status.st_mode) and status.st_size <= LARGEST:
            return disc.file(path, texts.one_line(name))
        # Read and not mapped: a mapped file that another program shortens meanwhile ends this one without a word.
        with path.open("rb") as file:
            if stat.S_ISREG(status.st_mode) and status.st_size <= LARGEST:
                return _whole(file)
            return _held(file, name, LARGEST, None)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file.") from None
    except OSError as error:
        raise InputError(f"{path or name}: cannot be read ({error.strerror or error}).") from None


def _whole(file: BinaryIO) -> pa.Buffer:
    """A file as it is: parts of it at once, where the system has a call for that."""
    size = os.fstat(file.fileno()).st_size
    if hasattr(os, "preadv") and size > _PART:
        found = np.empty(size, dtype=np.uint8)
        read = threads.each(
            lambda start: os.preadv(file.fileno(), [found[start : start + _PART].data], start), range(0, size, _PART)
        )
        if sum(read) == size:
            return pa.py_buffer(found)
    return pa.py_buffer(file.read(LARGEST))


def _held(stream: Any, name: str, most: int, disc: Disc | None) -> pa.Buffer | OnDisc:
    """All that a stream gives, on the disc where there is one. InputError as `_bounded`."""
    parts = _bounded(stream, name, most)
    if disc is not None:
        return disc.put(parts, texts.one_line(name))
    found = bytearray()
    for part in parts:
        found += part
    return pa.py_buffer(found)


def _bounded(stream: Any, name: str, most: int) -> Iterator[bytes]:
    """All that a stream gives. InputError where it is more than so many bytes, or begins with a million zero bytes."""
    size = 0
    while chunk := stream.read(_CHUNK):
        if not size and len(chunk) == _CHUNK and not any(chunk):
            raise InputError(f"{name}: holds zero bytes and no text.")
        size += len(chunk)
        if size > most:
            raise InputError(f"{name}: is more than {most / (1 << 30):g} GiB of text, which is the limit; divide it.")
        yield chunk


def _unpack(
    file: pa.Buffer | OnDisc, name: str, disc: Disc | None, deep: int = 0
) -> Iterator[tuple[str, pa.Buffer | OnDisc]]:
    """What is inside: the file itself, what it unpacks to, or the tables in an archive."""
    kind = _kind(file)
    if kind is None:
        yield name, file
        return
    if deep >= _DEEPEST:
        raise InputError(f"{name}: is packed more than {_DEEPEST} times over; unpack it first.")
    try:
        if kind == "zip":
            for inner, content in _archive(file, name, disc):
                yield from _unpack(content, f"{name}/{inner}", disc, deep + 1)
        else:
            with _UNPACK[kind](io.BufferedReader(_Stream(file), _CHUNK)) as stream:
                plain = _held(stream, name, LARGEST_UNPACKED, disc)
            yield from _unpack(plain, name, disc, deep + 1)
    except (OSError, EOFError, ValueError, RuntimeError, lzma.LZMAError, zlib.error, zipfile.BadZipFile) as error:
        raise InputError(f"{name}: looks like {kind} and cannot be unpacked ({error}).") from None


def _kind(file: Bytes) -> str | None:
    start = head(file, 10)
    for kind, mark in _PACKED.items():
        if start.startswith(mark) and (kind != "bzip2" or start[4:10] == b"1AY&SY"):
            return kind
    return None


def _archive(file: pa.Buffer | OnDisc, name: str, disc: Disc | None) -> Iterator[tuple[str, pa.Buffer | OnDisc]]:
    with zipfile.ZipFile(io.BufferedReader(_Stream(file), _BUFFER)) as archive:
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
                content = _held(stream, f"{name}/{inner}", left, disc)
            left -= content.size
            yield inner, content


_UNPACK: Final[dict[str, Callable[[Any], Any]]] = {
    "gzip": lambda file: gzip.GzipFile(fileobj=file),
    "bzip2": bz2.BZ2File,
    "xz": lzma.LZMAFile,
    "zstd": lambda file: pa.CompressedInputStream(file, "zstd"),
}

"""A collection on disc: sound rows as Parquet by station and UTC day, what is wrong with the others beside them.

    COLLECTION/ledger.json                              which files it holds (ledger.py)
    COLLECTION/sent-EI4QTB/spots/2026-10-01/PART.parquet  sound rows of a file and day: spots.SPOT without `source`
    COLLECTION/sent-EI4QTB/mendable/PART.parquet          rows whose only fault is the receiver's locator, as in the file
    COLLECTION/sent-EI4QTB/problems/PART.parquet          what is wrong with rows by themselves: spots.PROBLEMS (problems.py)
    COLLECTION/study.toml, fixes.csv, ...                 the user's own, applied when the collection is read
    COLLECTION/kept/sent-EI4QTB/2026-10-01.arrow          what was worked out of a day once (kept.py); may be deleted

A part belongs to one file, so adding a file writes new parts and touches no old one; parts of files that are not in the
ledger were left by something that was killed, and nobody reads them. What two files report twice is told when they are
read together, by the rule that holds within one file, whichever came first.
"""

from __future__ import annotations

import contextlib
import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Final
from urllib.parse import quote

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from reach.archive import blocks, kept
from reach.archive import ledger as ledgers
from reach.archive.blocks import Blocks
from reach.archive.ledger import Entry, Ledger
from reach.base import beside, memory
from reach.base.spool import Spool
from reach.base.vocabulary import category
from reach.errors import InputError, OutputError
from reach.place import world
from reach.spots import SPOT
from reach.tell import files

Ints = npt.NDArray[np.int64]
STUDY: Final = "study.toml"
FIXES: Final = "fixes.csv"
_ADDING: Final = ".adding"
_STAGED: Final = "staged"


@dataclass(frozen=True)
class Loaded:
    """Rows of a station as they were kept.

    spots     spots.SPOT, sound rows in the order of the files and of their lines; a reception may be there twice
    mendable  the same of rows that wait for a correction, read when they are first asked for
    beyond    sound rows on days that were not asked for
    known     kept.COLUMNS of the spots; None where nothing was to be kept
    """

    spots: pd.DataFrame
    waiting: Callable[[], pd.DataFrame]
    beyond: int
    known: pd.DataFrame | None = None

    @cached_property
    def mendable(self) -> pd.DataFrame:
        return self.waiting()


def is_one(path: Path) -> bool:
    """Whether a path leads to a collection."""
    return (path / ledgers.NAME).is_file()


@contextlib.contextmanager
def adding(folder: Path) -> Iterator[None]:
    """Nobody else adds to this collection or takes out of it meanwhile; the folder is made where there is none, and what an earlier run left that
    was killed is cleared away.

    OutputError where something else than a collection is there, or where somebody is at it.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is a file; a collection is a folder.")
    if folder.is_dir() and not is_one(folder) and any(not _is_ours(each) for each in folder.iterdir()):
        raise OutputError(f"{folder}: holds other files and is no collection; give a folder of its own.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be made ({error.strerror}); choose another place.") from None
    with beside.alone(folder / _ADDING) as is_alone:
        if not is_alone:
            raise OutputError(
                f"{folder}: another run is adding to it or taking out of it; try again when it has ended."
            )
        _clear(folder)
        yield


@contextlib.contextmanager
def staging(folder: Path) -> Iterator[Path]:
    """A folder in the collection for what is not in it yet, gone at the end; on another machine that shares the disc it has
    the same name."""
    with beside.folder(folder / _STAGED) as staged:
        yield staged


@contextlib.contextmanager
def spool(staged: Path) -> Iterator[Spool]:
    """A spool on the disc of the collection. OutputError, here and while it lasts, where that cannot be written, or where
    `staged` is in a folder that is gone, as where a worker comes too late: it is not made anew."""
    try:
        staged.mkdir(exist_ok=True)
        with Spool(staged) as made:
            yield made
    except OSError as error:
        raise OutputError(f"{staged.parent}: could not be written ({files.why(error)}).") from None


def put(staged: Path, entry: Entry, kept: Blocks) -> None:
    """Write the parts of a file where they wait until they are entered. OSError where `staged` is gone: it is not made anew."""
    said = staged.parent  # the user knows the collection, not what waits in it
    for kind, call, day in kept.days():
        names = (kind, str(np.datetime64(day, "D"))) if kind == blocks.SPOTS else (kind,)
        home = _below(staged / _station(entry.direction, call), *names)
        _write(kept.joined(kind, call, day), home / f"{entry.part}.parquet", said)


def enter(folder: Path, waiting: Iterable[tuple[Path, Sequence[Entry]]]) -> list[list[Entry]]:
    """Bring what waits to its place, then say so in the ledger: all of it at once or none.

    waiting : for each file that was added where its parts were put, and what it holds: several entries for an archive
    Returns for each the entries as they stand in the ledger, under names that no other file has.
    """
    held, entered = ledgers.read(folder), []
    for staged, entries in waiting:
        named = [replace(entry, name=held.name_for(entry.name, entry.sha256)) for entry in entries]
        for entry, final in zip(entries, named, strict=True):
            _move(staged, folder, entry.part, final.part)
        held = Ledger((*held.entries, *named))
        entered.append(named)
    if any(entered):
        ledgers.write(folder, held)
    return entered


def remove(folder: Path, gone: Iterable[Entry]) -> None:
    """Take files out again: the ledger without them, by which their rows are gone at once, then their parts. For one who is `adding`.

    gone : entries as they stand in the ledger; others are passed over
    """
    held, left_out = ledgers.read(folder), {each.part for each in gone}
    kept = tuple(each for each in held.entries if each.part not in left_out)
    if len(kept) < len(held.entries):
        ledgers.write(folder, Ledger(kept))
        _clear(folder)


def load(
    folder: Path,
    calls: Sequence[str],
    direction: str,
    *,
    start: date | None = None,
    end: date | None = None,
    keep: bool = False,
) -> Loaded:
    """Read the rows of a station.

    calls : its callsigns; direction : sent or heard
    start, end : UTC days, both included; all where left out
    keep : whether what is kept of each day is wanted, and what is not there yet is worked out and kept
    """
    entries = ledgers.read(folder).holding(calls, direction)
    wanted: dict[tuple[str, str], list[tuple[int, Path]]] = {}
    beyond = 0
    for at, path in parts(folder, entries, calls, direction, "spots/*"):
        day = date.fromisoformat(path.parent.name)
        if (start and day < start) or (end and day > end):
            beyond += _rows(path)
        else:
            wanted.setdefault((path.parents[2].name, path.parent.name), []).append((at, path))
    # Arrow reads and unpacks without taking a turn of the interpreter, so that it does so for several days at once.
    with ThreadPoolExecutor() as readers:
        reading = readers.map(lambda day: _Day.of(folder, day, wanted[day], keep=keep), wanted)
        if keep:
            world.unpack()  # spots will be placed, and this thread has nothing else to do
        days = list(reading)
    spots = [part for day in days for part in day.parts]
    names = [entry.name for entry in entries]

    def waiting() -> pd.DataFrame:
        paths = parts(folder, entries, calls, direction, "mendable")
        return _joined([(at, _read(path, blocks.KEPT)) for at, path in paths], names)[0]

    known = _known(days, names) if keep else None
    joined, order = _joined(spots, names)
    del days, spots
    memory.give_back_now()  # as Arrow read them they take as much again
    if known is not None and order is not None:
        known = known.take(order).reset_index(drop=True)
    return Loaded(joined, waiting, beyond, known)


@dataclass(frozen=True)
class _Day:
    """A station's day as it was read.

    path, key : where something of it is kept, and under which key
    parts : in the order of files
    known : what is kept; None where nothing is, or nothing is wanted
    """

    path: Path
    key: str
    parts: list[tuple[int, pa.Table]]
    known: pa.Table | None

    @classmethod
    def of(cls, folder: Path, at: tuple[str, str], parts: Iterable[tuple[int, Path]], *, keep: bool) -> _Day:
        """at : the station's folder and the day"""
        ordered = sorted(parts)
        content = [_content(each) for _, each in ordered]
        tables = [(file, _table(pa.py_buffer(held), each)) for (file, each), held in zip(ordered, content, strict=True)]
        station, day = at
        path = folder / kept.NAME / station / f"{day}{kept.ENDING}"
        key = kept.key([(each.stem, held) for (_, each), held in zip(ordered, content, strict=True)])
        found = cls(path, key, tables, kept.read(path, key) if keep else None)
        is_whole = found.known is not None and len(found.known) == found.rows
        return found if is_whole else replace(found, known=None)

    @property
    def rows(self) -> int:
        return sum(len(table) for _, table in self.parts)


def _known(days: Sequence[_Day], names: Sequence[str]) -> pd.DataFrame:
    """kept.COLUMNS of some days, one below the other. Of days of which nothing is kept it is worked out, all at once."""
    found = [day.known for day in days]
    new = [day for day in days if day.known is None]
    if new:
        rows, order = _joined([part for day in new for part in day.parts], names)
        table = kept.work_out(rows)
        if order is not None:
            table = table.take(pa.array(np.argsort(order)))
        starts = np.cumsum([0, *(day.rows for day in new)])
        made = [table.slice(start, day.rows) for start, day in zip(starts[:-1], new, strict=True)]
        for day, each in zip(new, made, strict=True):
            kept.write(day.path, day.key, each)
        left = iter(made)
        found = [next(left) if each is None else each for each in found]
    return kept.as_columns(pa.concat_tables(found) if found else kept.none())


def days(folder: Path, call: str, direction: str) -> list[date]:
    """The UTC days on which a station has rows, rising."""
    entries = ledgers.read(folder).holding([call], direction)
    paths = (path for _, path in parts(folder, entries, [call], direction, "spots/*"))
    return sorted({date.fromisoformat(path.parent.name) for path in paths})


def _is_ours(path: Path) -> bool:
    """Whether something in a folder that is no collection yet may be of one that was to be."""
    return path.name in (STUDY, FIXES) or path.name.startswith((*_STATIONS, "."))


_STATIONS: Final = ("sent-", "heard-")
_PART: Final = re.compile(r"[0-9a-f]{20}\.parquet")  # as an entry of the ledger calls its parts


def _station(direction: str, call: str) -> str:
    """The folder of a station. No system takes a name with such a beginning for a device, as some take COM1."""
    return f"{direction}-{quote(call, safe='')}"


def _clear(folder: Path) -> None:
    """Remove parts that belong to no file of the ledger, what was kept of days that went with them, and what waited to be
    entered. What else lies there is not ours."""
    beside.clear(folder / _STAGED)
    here, homes = {entry.part for entry in ledgers.read(folder).entries}, set()
    for station, below in itertools.product(_STATIONS, ("spots/*", "mendable", "problems")):
        for path in folder.glob(f"{station}*/{below}/*"):
            if _PART.fullmatch(path.name) and path.is_file() and path.stem not in here:
                path.unlink(missing_ok=True)
                homes |= {home for home in path.parents if home.is_relative_to(folder) and home != folder}
    _without_empty(homes)
    gone = set()
    for path in folder.glob(f"{kept.NAME}/*/*{kept.ENDING}"):
        if path.parent.name.startswith(_STATIONS) and not (folder / path.parent.name / "spots" / path.stem).is_dir():
            with contextlib.suppress(OSError):  # nothing but room is lost by it
                path.unlink()
            gone |= {path.parent, path.parent.parent}
    _without_empty(gone)


def _without_empty(homes: Iterable[Path]) -> None:
    """Remove those of some folders that hold nothing any more."""
    for home in sorted(homes, key=lambda each: -len(each.parts)):  # the innermost first
        with contextlib.suppress(OSError):  # something else is in it
            home.rmdir()


def _move(staged: Path, folder: Path, part: str, name: str) -> None:
    """The parts of a file from where they were put to their place, under their name there."""
    homes = set()
    for path in sorted(staged.rglob(f"{part}.parquet")):
        home = folder / path.parent.relative_to(staged)
        home.mkdir(parents=True, exist_ok=True)
        path.replace(home / f"{name}.parquet")
        homes.add(home)
    for home in homes:
        beside.settle(home)


def _below(station: Path, *names: str) -> Path:
    """A folder of a station, made step by step, so that what it stands in is not."""
    home = station
    home.mkdir(exist_ok=True)
    for name in names:
        home = home / name
        home.mkdir(exist_ok=True)
    return home


def parts(
    folder: Path, entries: Sequence[Entry], calls: Iterable[str], direction: str, below: str
) -> list[tuple[int, Path]]:
    """Parts of some stations, each with the position of its file, by station, then by name."""
    here = {entry.part: at for at, entry in enumerate(entries)}
    homes = [folder / _station(direction, call) for call in calls]
    paths = [path for home in homes for path in sorted(home.glob(f"{below}/*.parquet"))]
    return [(here[path.stem], path) for path in paths if path.stem in here]


def _write(tables: Iterable[pa.Table], path: Path, said: Path) -> None:
    tables = iter(tables)
    first = next(tables)
    with (
        files.taking_the_place_of(path, replace=True, said=said) as partial,
        pq.ParquetWriter(partial, first.schema, compression="zstd", store_schema=False) as writer,
    ):
        for table in itertools.chain([first], tables):
            writer.write_table(table)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise missing(path, error) from None


def _table(held: pa.Buffer, path: Path) -> pa.Table:
    """The sound rows of a part. held : its bytes"""
    try:
        read = pq.ParquetFile(pa.BufferReader(held), read_dictionary=blocks.WORDS)
        return read.read(columns=blocks.KEPT, use_threads=False)
    except (OSError, KeyError, pa.ArrowException) as error:
        raise missing(path, error) from None


def _read(path: Path, columns: Sequence[str]) -> pa.Table:
    try:
        return pq.read_table(path, columns=list(columns), partitioning=None, read_dictionary=blocks.WORDS)
    except (OSError, pa.ArrowException) as error:
        raise missing(path, error) from None


def missing(path: Path, error: Exception) -> InputError:
    """What is told where a part of a file is not what it was."""
    reason = getattr(error, "strerror", None) or "it is damaged"
    return InputError(f"{path}: cannot be read ({reason}); the collection misses a part of a file.")


def _rows(path: Path) -> int:
    try:
        return int(pq.read_metadata(path).num_rows)
    except (OSError, pa.ArrowException):
        raise InputError(f"{path}: is damaged; the collection misses a part of a file.") from None


def _joined(parts: Sequence[tuple[int, pa.Table]], names: Sequence[str]) -> tuple[pd.DataFrame, Ints | None]:
    """Parts below each other as spots.SPOT, in the order of files and lines; and which of the rows as they came each is, None
    where they came in that order."""
    text = pd.Index(list(names), dtype="str")
    if not parts:
        empty = {name: pd.Series(dtype=dtype) for name, (dtype, _) in SPOT.items()}
        return pd.DataFrame(empty).assign(source=pd.Categorical([], categories=text)), None
    source = np.repeat([at for at, _ in parts], [len(table) for _, table in parts])
    whole = pa.concat_tables([table for _, table in parts], promote_options="permissive").unify_dictionaries()
    line = whole.column("line").to_numpy()
    order = None
    if ((np.diff(source) < 0) | ((np.diff(source) == 0) & (np.diff(line) < 0))).any():
        order = np.lexsort((line, source))
        whole, source = whole.take(pa.array(order)), source[order]
    table = whole.to_pandas()
    table["source"] = pd.Categorical.from_codes(source, categories=text)
    return as_vetted(table[list(SPOT)]), order


def as_vetted(table: pd.DataFrame) -> pd.DataFrame:
    """The columns as `vet` leaves them: categories in the order of their text."""
    made = {}
    for name, (dtype, _) in SPOT.items():
        column = table[name]
        if dtype == "category" and name != "source":
            held = pd.Categorical(column)
            made[name] = category(np.where(held.codes < 0, len(held.categories), held.codes), [*held.categories, None])
        else:
            made[name] = column.array
    return pd.DataFrame(made, copy=False)

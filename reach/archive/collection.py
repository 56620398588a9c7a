"""A collection on disc: sound rows as Parquet by station and UTC day, what is wrong with the others beside them.

    COLLECTION/ledger.json                                 which files it holds (ledger.py)
    COLLECTION/spots/sent-EI4QTB/2026-10-01/<part>.parquet    one part a file and day: spots.SPOT without `source`
    COLLECTION/problems/<part>.parquet                     spots.PROBLEMS of a file, as far as rows alone tell
    COLLECTION/study.toml, fixes.csv                       the user's own, applied when the collection is read

A part belongs to one file, so adding a file writes new parts and touches no old one; parts of files that are not in the
ledger were left by something that was killed, and nobody reads them. What two files report twice is told when they are
read together, by the rule that holds within one file, whichever came first.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final
from urllib.parse import quote

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from reach.archive import ledger as ledgers
from reach.archive.ledger import Entry, Ledger
from reach.base import beside
from reach.errors import InputError, OutputError
from reach.spots import PROBLEMS, SPOT
from reach.tell import files

STUDY: Final = "study.toml"
FIXES: Final = "fixes.csv"
_SPOTS, _PROBLEMS = "spots", "problems"
_KEPT: Final = [name for name in SPOT if name != "source"]
_SAID: Final = [name for name in PROBLEMS if name not in ("evidence", "source")]  # of rows alone nothing is suspected


@dataclass(frozen=True)
class Taken:
    """What is to be kept of one file.

    entry     for the ledger
    spots     callsign -> spots.SPOT of its sound rows
    problems  spots.PROBLEMS of the file
    """

    entry: Entry
    spots: Mapping[str, pd.DataFrame]
    problems: pd.DataFrame


@dataclass(frozen=True)
class Loaded:
    """Rows of a collection as they were kept.

    spots   spots.SPOT, sound rows in the order of the files and of their lines; a reception may be there twice
    beyond  sound rows of the same stations on other days
    """

    spots: pd.DataFrame
    beyond: int


def is_one(path: Path) -> bool:
    """Whether a path leads to a collection."""
    return (path / ledgers.NAME).is_file()


@contextlib.contextmanager
def adding(folder: Path) -> Iterator[None]:
    """Nobody else adds to this collection meanwhile; the folder is made where there is none.

    OutputError where something else than a collection is there, or where somebody is adding.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputError(f"{folder}: is a file; a collection is a folder.")
    if folder.is_dir() and not is_one(folder) and any(each.name not in _OWN for each in folder.iterdir()):
        raise OutputError(f"{folder}: holds other files and is no collection; give a folder of its own.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be made ({error.strerror}); choose another place.") from None
    with beside.alone(folder) as is_alone:
        if not is_alone:
            raise OutputError(f"{folder}: another run is adding to it; try again when it has ended.")
        yield


def keep(folder: Path, taken: Taken) -> None:
    """Write what is to be kept of one file, then say so in the ledger: at once or not at all."""
    part = f"{taken.entry.part}.parquet"
    for call, spots in taken.spots.items():
        home = folder / _SPOTS / _station(taken.entry.direction, call)
        day = spots["time_utc"].dt.strftime("%Y-%m-%d").to_numpy()
        ordered = spots[_KEPT].iloc[np.lexsort((spots["line"], spots["time_utc"]))]
        for name, rows in ordered.groupby(np.sort(day), sort=True):
            _write(rows, home / str(name) / part)
    said = taken.problems[taken.problems["severity"].ne("suspect")]
    _write(said[_SAID], folder / _PROBLEMS / part)
    held = ledgers.read(folder)
    ledgers.write(folder, Ledger((*held.entries, taken.entry)))


def load(
    folder: Path, calls: Sequence[str], direction: str, *, start: date | None = None, end: date | None = None
) -> Loaded:
    """Read the rows of a station.

    calls : its callsigns; direction : sent or heard
    start, end : UTC days, both included; all where left out
    """
    entries = ledgers.read(folder).holding(calls, direction)
    here = {entry.part: at for at, entry in enumerate(entries)}
    tables, sources, beyond = [], [], 0
    for path in _parts(folder, calls, direction):
        if path.stem not in here:
            continue
        day = date.fromisoformat(path.parent.name)
        if (start and day < start) or (end and day > end):
            beyond += _rows(path)
            continue
        tables.append(_read(path, _KEPT))
        sources += [here[path.stem]] * len(tables[-1])
    return Loaded(_joined(tables, np.array(sources, dtype=np.int64), [entry.name for entry in entries]), beyond)


def problems(folder: Path, entries: Iterable[Entry]) -> pd.DataFrame:
    """What is wrong with the rows of these files by themselves: spots.PROBLEMS, in the order of the files."""
    found = []
    for entry in entries:
        table = _read(folder / _PROBLEMS / f"{entry.part}.parquet", _SAID).to_pandas()
        found.append(table.assign(source=entry.name, evidence=None))
    text = {name: "str" for name, (dtype, _) in PROBLEMS.items() if dtype == "str"}
    return pd.concat(found, ignore_index=True)[list(PROBLEMS)].astype(text)


def days(folder: Path, call: str, direction: str) -> list[date]:
    """The UTC days on which a station has rows, rising."""
    here = {entry.part for entry in ledgers.read(folder).holding([call], direction)}
    return sorted({date.fromisoformat(path.parent.name) for path in _parts(folder, [call], direction) if path.stem in here})


_OWN: Final = {STUDY, FIXES, _SPOTS, _PROBLEMS}


def _station(direction: str, call: str) -> str:
    """The folder of a station. No system takes a name with such a beginning for a device, as some take COM1."""
    return f"{direction}-{quote(call, safe='')}"


def _parts(folder: Path, calls: Iterable[str], direction: str) -> list[Path]:
    """All parts of some stations, by station, then day."""
    homes = [folder / _SPOTS / _station(direction, call) for call in calls]
    return [part for home in homes for part in sorted(home.glob("*/*.parquet"))]


def _write(table: pd.DataFrame, path: Path) -> None:
    held = pa.Table.from_pandas(table, preserve_index=False).replace_schema_metadata(None)
    with files.taking_the_place_of(path, replace=True) as partial:
        pq.write_table(held, partial, compression="zstd")


def _read(path: Path, columns: Sequence[str]) -> pa.Table:
    try:
        return pq.read_table(path, columns=list(columns), memory_map=False)
    except (OSError, pa.ArrowException) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else "it is damaged"
        raise InputError(f"{path}: cannot be read ({reason}); the collection misses a part of a file.") from None


def _rows(path: Path) -> int:
    try:
        return int(pq.read_metadata(path).num_rows)
    except (OSError, pa.ArrowException):
        raise InputError(f"{path}: is damaged; the collection misses a part of a file.") from None


def _joined(tables: Sequence[pa.Table], source: np.ndarray, names: Sequence[str]) -> pd.DataFrame:
    """Parts below each other as spots.SPOT, in the order of files and lines."""
    if not tables:
        return _none(names)
    whole = pa.concat_tables(tables, promote_options="permissive").unify_dictionaries()
    order = np.lexsort((whole.column("line").to_numpy(), source))
    table = whole.take(pa.array(order)).to_pandas()
    text = pd.Index(list(names), dtype="str")
    table["source"] = pd.Categorical.from_codes(source[order], categories=text)
    return table[list(SPOT)].astype({name: dtype for name, (dtype, _) in SPOT.items() if dtype != "category"})


def _none(names: Sequence[str]) -> pd.DataFrame:
    empty = {name: pd.Series(dtype=dtype) for name, (dtype, _) in SPOT.items()}
    return pd.DataFrame(empty).assign(source=pd.Categorical([], categories=pd.Index(list(names), dtype="str")))

"""What a collection keeps of one file: the rows of every station in it, each judged by itself.

What the user may change later stays open: the station's own locator, power, setups and sessions are filled in when the
collection is read, and a row whose only fault is the receiver's locator is kept beside the sound ones, for a correction to mend.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.archive import collection
from reach.archive import ledger as ledgers
from reach.archive.collection import Kept, Taken
from reach.archive.ledger import Entry, Share
from reach.assign import owners
from reach.assign.owners import Owned
from reach.base import ways
from reach.base.vocabulary import words
from reach.errors import InputError
from reach.findings import InputFile
from reach.read import remote, sources
from reach.read.remote import Url
from reach.rows import Rows
from reach.study import Options, Station, Study
from reach.tell import files
from reach.vet import rules
from reach.vet.ledger import REJECTED

Ints = npt.NDArray[np.int64]
_SOME_LOCATOR: Final = "JJ00aa"  # stands for one that cannot be read while the rest of its row is judged


def add(home: Path, study: Study, path: Path | Url | None) -> list[Entry]:
    """Put one file into a collection: read here, judged, entered. As `adds`; returns the entries as they stand in the ledger."""
    with collection.staging(home) as staged:
        (entered,) = collection.enter(home, [(staged, adds(home, study, path, staged))])
    return entered


def adds(home: Path, study: Study, path: Path | Url | None, staged: Path) -> list[Entry]:
    """What one file adds to a collection: read, judged, and put where it waits to be entered. It is the same wherever it runs.

    home : the collection; study : whose rows they are and how they are read; path : the file, None for standard input; what
        lies elsewhere is fetched first
    staged : a folder of its own, or one that holds parts of other files
    Returns the entries, several for an archive; none where this very file was added before. InputError as `take`, and where
    the file will not do.
    """
    if isinstance(path, Url):
        with tempfile.TemporaryDirectory(prefix="reach-") as folder:
            return adds(home, study, remote.fetch(path, Path(folder), most=sources.LARGEST), staged)
    if path is not None and _is_here(home, path, study):
        return []
    named = "-" if path is None else str(path.absolute())
    rows = Rows(study.model_copy(update={"files": [named], "fixes": None, "sessions": [], "schedule": None}))
    return collection.put(staged, take(rows))


def _is_here(home: Path, path: Path, study: Study) -> bool:
    """Whether this very file was added before. What cannot be read is told by who reads it."""
    if not path.is_file():
        return False
    return ledgers.read(home).holds(files.sha256(path), study.direction)


def take(rows: Rows) -> list[Taken]:
    """What is to be kept of some files.

    rows : of the files, by owner
    Returns Taken, one a file, in their order. InputError where no row and no option names the station: a collection keeps
    spots by station.
    """
    owned, inputs = rows.owned, rows.inputs
    if not owned.own:
        raise InputError(
            f"{inputs[0].name}: names no station; say whose rows these are with {ways.asked('callsign')}, as a collection keeps spots by station."
        )
    found: dict[str, dict[str, tuple[Share, Kept]]] = {file.name: {} for file in inputs}
    for raw in (owned.raw, owners.others(owned)):
        for source, call, share, kept in _kept(raw, owned.own[0], rows.options, rows.judged_at):
            found[source][call] = share, kept
    return [_taken(file, owned, found[file.name]) for file in inputs]


def _taken(file: InputFile, owned: Owned, kept: dict[str, tuple[Share, Kept]]) -> Taken:
    entry = Entry(
        name=file.name,
        sha256=file.sha256,
        direction=str(owned.direction),
        rows=file.rows,
        own=tuple(call for call in owned.own if call in kept) or owned.own[:1],
        stations={call: share for call, (share, _) in kept.items()},
        unused_headers=file.unused_headers,
    )
    return Taken(entry, {call: each for call, (_, each) in kept.items()})


def _kept(
    raw: pd.DataFrame, nobody: str, options: Options, now: datetime | None
) -> Iterator[tuple[str, str, Share, Kept]]:
    """File, callsign and what is kept of it. nobody : whose a row is that names nobody"""
    if not len(raw):
        return
    station = Station(callsign=nobody)
    judged = rules.sound(raw, station=station, options=options, now=now)
    rows, mendable = _mendable(raw, judged, station, options, now)
    calls = [owners.base(text) if any(map(str.isalnum, text)) else nobody for text in words(raw, "tx_call").texts]
    names = sorted(set(calls))
    number = {name: k for k, name in enumerate(names)}
    call_of_row = np.array([number[call] for call in calls], dtype=np.int64)[words(raw, "tx_call").codes]
    source = raw["source"].astype("category").cat
    part_of_row = source.codes.to_numpy().astype(np.int64) * len(names) + call_of_row
    tables = [
        (judged.spots, _rows_of(part_of_row[judged.rows])),
        (mendable, _rows_of(part_of_row[rows])),
        (judged.problems, _rows_of(part_of_row[judged.told])),
    ]
    for part, count in zip(*np.unique(part_of_row, return_counts=True), strict=True):
        kept = Kept(*(table.take(of.get(part, np.empty(0, dtype=np.int64))) for table, of in tables))
        share = Share(rows=int(count), sound=len(kept.spots))
        yield str(source.categories[part // len(names)]), names[part % len(names)], share, kept


def _rows_of(parts: Ints) -> dict[int, Ints]:
    """Which rows each part has, in their order: one sort, where there may be thousands of stations in a file."""
    order = np.argsort(parts, kind="stable")
    values, starts = np.unique(parts[order], return_index=True)
    return dict(zip(values.tolist(), np.split(order, starts[1:]), strict=bool(len(values))))


def _mendable(
    raw: pd.DataFrame, judged: rules.Sound, station: Station, options: Options, now: datetime | None
) -> tuple[Ints, pd.DataFrame]:
    """Rows that a correction of the receiver's locator would make sound, and what they say: spots.SPOT, the locator as in
    the file."""
    refused = (judged.problems["severity"] == REJECTED).to_numpy()
    place = judged.problems["rule"].str.startswith("locator-").to_numpy()
    rows = np.setdiff1d(judged.told[refused & place], judged.told[refused & ~place])
    some = raw.take(rows).reset_index(drop=True)
    placed = some.assign(rx_locator=pd.Categorical([_SOME_LOCATOR] * len(some)))
    again = rules.sound(placed, station=station, options=options, now=now)
    texts = some["rx_locator"].astype("str").fillna("").str.strip().astype("category").take(again.rows)
    return rows[again.rows], again.spots.assign(rx_locator=texts.array)

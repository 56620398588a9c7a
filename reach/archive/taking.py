"""What a collection keeps of one file: the rows of every station in it, each judged by itself.

What the user may change later stays open: the station's own locator, power, setups and sessions are filled in when the
collection is read, and a row whose only fault is the receiver's locator is kept beside the sound ones, for a correction to mend.

A file is gone through piece by piece, so that memory does not grow with it: what only the whole of it tells, whose rows it holds,
whether the clock fits and where the station is, is added up first.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.archive import blocks, collection
from reach.archive import ledger as ledgers
from reach.archive.blocks import Blocks
from reach.archive.ledger import Entry, Share
from reach.assign import owners
from reach.assign.owners import Direction, Owned, Seen
from reach.base import ways
from reach.base.spool import Spool
from reach.base.vocabulary import words
from reach.errors import InputError
from reach.findings import InputFile
from reach.read import pieces, remote, sources, times
from reach.read.layout import asked_by
from reach.read.pieces import Waiting
from reach.read.remote import Url
from reach.read.sources import Known
from reach.read.times import Told
from reach.rows import Rows
from reach.study import Station, Study
from reach.vet import rules
from reach.vet.ledger import REJECTED
from reach.vet.rules import Offsets

Ints = npt.NDArray[np.int64]
_SOME_LOCATOR: Final = "JJ00aa"  # stands for one that cannot be read while the rest of its row is judged


def add(home: Path, study: Study, path: Path | Url | None) -> list[Entry]:
    """Put one file into a collection: read here, judged, entered. As `adds`; returns the entries as they stand in the ledger."""
    with collection.staging(home) as staged:
        (entered,) = collection.enter(home, [(staged, adds(home, study, path, staged))])
    return entered


def adds(home: Path, study: Study, path: Path | Url | None, staged: Path, *, size: int = pieces.PIECE) -> list[Entry]:
    """What one file adds to a collection: read, judged, and put where it waits to be entered. It is the same wherever it runs.

    home : the collection; study : whose rows they are and how they are read; path : the file, None for standard input; what
        lies elsewhere is fetched first
    staged : a folder of its own, or one that holds parts of other files
    size : bytes of its text that are looked at together, which changes nothing but the memory that it takes
    Returns the entries, several for an archive; none where this very file was added before. InputError where no row and no
    option names the station, as a collection keeps spots by station, and where the file will not do.
    """
    if isinstance(path, Url):
        with tempfile.TemporaryDirectory(prefix="reach-") as folder:
            return adds(home, study, remote.fetch(path, Path(folder), most=sources.LARGEST), staged, size=size)
    known = _looked_at(path) if path is not None else None
    if known is not None and ledgers.read(home).holds(known.sha256, study.direction):
        return []
    named = "-" if path is None else str(path.absolute())
    alone = study.model_copy(update={"files": [named], "fixes": None, "sessions": [], "schedule": None})
    with collection.spool(staged) as read:
        rows = PiecedRows(alone, read, size, known)
        return [_put(staged, rows, number) for number in range(len(rows.inputs))]


def _looked_at(path: Path) -> Known | None:
    """What tells whether this very file was added before; None where it cannot be read, which is told by who reads it."""
    with contextlib.suppress(OSError):
        return sources.look_at(path) if path.is_file() else None
    return None


# ---------------------------------------------------------------------------------- what the whole file tells


@dataclass(frozen=True)
class _Whole:
    """What is added up of owned rows, piece by piece, before any is judged.

    rows, opposite  how many are the station's, and its own in the other direction
    told, places    of the station's: their times beside now, and the locators that they give as its own
    offsets  (number of the file, whether they are the station's) -> Offsets
    """

    rows: int = 0
    opposite: int = 0
    told: Told = field(default_factory=Told)
    places: Counter[str] = field(default_factory=Counter)
    offsets: Mapping[tuple[int, bool], Offsets] = field(default_factory=dict)

    def __add__(self, other: _Whole) -> _Whole:
        both = dict(self.offsets)
        for key, more in other.offsets.items():
            both[key] = both.get(key, Offsets()) + more
        return _Whole(
            self.rows + other.rows,
            self.opposite + other.opposite,
            self.told + other.told,
            self.places + other.places,
            both,
        )


class PiecedRows(Rows):
    """The rows of the files of a study that lie in a spool, judged piece by piece. `raw`, `owned` and what follows from them,
    tables of all rows, are never made."""

    def __init__(self, study: Study, spool: Spool, size: int, known: Known | None) -> None:
        super().__init__(study)
        self._spool, self._size, self._known = spool, size, known

    @cached_property
    def waiting(self) -> list[Waiting]:
        """The files, read."""
        asked = asked_by(self.study, self.now)
        return pieces.read_files(
            *self.study.files,
            folder=self.study.folder,
            asked=asked,
            spool=self._spool,
            size=self._size,
            known=self._known,
        )

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        return tuple(each.input for each in self.waiting)

    def _raw(self, number: int) -> Iterator[pd.DataFrame]:
        """The pieces of a file, both ends the right way round."""
        file = self.waiting[number]
        return (owners.ends_told(raw, [file.input], self.study.station.callsign)[0] for raw in file.tables())

    @cached_property
    def seen(self) -> Seen:
        """Who stands in the files."""
        found = Seen({}, {}, {})
        for number in range(len(self.waiting)):
            for raw in self._raw(number):
                found += owners.seen(raw, self.study.station, self._direction)
        return found

    @property
    def _direction(self) -> Direction:
        return Direction(self.study.direction)

    def pieces(self, number: int) -> Iterator[Owned]:
        """The pieces of a file, each with whose its rows are. InputError as owners.own."""
        asked = self.study.compare
        for raw in self._raw(number):
            yield owners.own(
                raw,
                self.study.station,
                direction=self._direction,
                setups=asked.asked if asked else (),
                of=self.seen,
            )

    @cached_property
    def whole(self) -> _Whole:
        """What all rows tell together. InputError where none is the station's, or nothing says which station that is."""
        found = _Whole()
        for number in range(len(self.waiting)):
            for owned in self.pieces(number):
                if not owned.own:
                    raise InputError(
                        f"{self.inputs[0].name}: names no station; say whose rows these are with {ways.asked('callsign')}, "
                        "as a collection keeps spots by station."
                    )
                found += self._of(owned, number)
        if not found.rows:
            owners.nothing_left(self.seen, self.study.station, self._direction, found.opposite)
        return found

    def _of(self, owned: Owned, number: int) -> _Whole:
        offsets: dict[tuple[int, bool], Offsets] = {}
        told = Told()
        for is_own, raw in _both(owned):
            moments = times.moments(raw, day_first=self.study.options.day_first)
            offsets[number, is_own] = sum(rules.offsets(raw, moments).values(), Offsets())
            told = Told.of(moments.micros, self.now) if is_own else told
        return _Whole(len(owned.raw), owned.opposite, told, owners.places(owned.raw), offsets)

    @property
    def _told(self) -> Told:
        return self.whole.told

    @property
    def _places(self) -> Mapping[str, int]:
        return owners.ranked(self.whole.places)


def _both(owned: Owned) -> tuple[tuple[bool, pd.DataFrame], tuple[bool, pd.DataFrame]]:
    """The station's rows and those of others, which are judged apart; and whether they are the station's."""
    return (True, owned.raw), (False, owners.others(owned))


# --------------------------------------------------------------------------------------------- rows judged


def _put(staged: Path, rows: PiecedRows, number: int) -> Entry:
    """Judge the rows of a file and write them where they wait. Returns its entry."""
    file, own = rows.inputs[number], tuple[str, ...]()
    count: dict[bool, Counter[str]] = {True: Counter(), False: Counter()}
    sound: Counter[str] = Counter()
    with collection.spool(staged) as spool:
        kept = Blocks(spool)
        for owned in rows.pieces(number):
            own = owned.own
            for is_own, raw in _both(owned):
                offsets = rows.whole.offsets.get((number, is_own), Offsets())
                here, fine = _judged(raw, own[0], rows, {file.name: offsets}, kept)
                count[is_own] += here
                sound += fine
        stations = {call: Share(count[is_own][call], sound[call]) for is_own in count for call in sorted(count[is_own])}
        entry = Entry(
            name=file.name,
            sha256=file.sha256,
            direction=rows.study.direction,
            rows=file.rows,
            own=tuple(call for call in own if call in stations) or own[:1],
            stations=stations,
            unused_headers=file.unused_headers,
        )
        collection.put(staged, entry, kept)
    return entry


def _judged(
    raw: pd.DataFrame, nobody: str, rows: PiecedRows, offsets: Mapping[str, Offsets], kept: Blocks
) -> tuple[Counter[str], Counter[str]]:
    """Judge rows of a piece and keep what is to be kept. nobody : whose a row is that names nobody

    Returns how many rows each station has, and how many of them are sound.
    """
    if not len(raw):
        return Counter(), Counter()

    def judge(some: pd.DataFrame) -> rules.Sound:
        return rules.sound(some, station=Station(callsign=nobody), options=rows.options, now=rows.judged_at, of=offsets)

    judged = judge(raw)
    mended, mendable = _mendable(raw, judged, judge)
    column = words(raw, "tx_call")
    named = [owners.base(text) if any(map(str.isalnum, text)) else nobody for text in column.texts]
    calls = sorted(set(named))
    position = {call: at for at, call in enumerate(calls)}
    station = np.array([position[call] for call in named], dtype=np.int64)[column.codes]
    kept.put(blocks.SPOTS, judged.spots, station[judged.rows], calls)
    kept.put(blocks.MENDABLE, mendable, station[mended], calls)
    kept.put(blocks.PROBLEM, judged.problems, station[judged.told], calls)
    return _counted(station, calls), _counted(station[judged.rows], calls)


def _counted(station: Ints, calls: list[str]) -> Counter[str]:
    count = np.bincount(station, minlength=len(calls)).tolist()
    return Counter({call: rows for call, rows in zip(calls, count, strict=True) if rows})


def _mendable(
    raw: pd.DataFrame, judged: rules.Sound, judge: Callable[[pd.DataFrame], rules.Sound]
) -> tuple[Ints, pd.DataFrame]:
    """Rows that a correction of the receiver's locator would make sound, and what they say: spots.SPOT, the locator as in
    the file."""
    refused = (judged.problems["severity"] == REJECTED).to_numpy()
    place = judged.problems["rule"].str.startswith("locator-").to_numpy()
    rows = np.setdiff1d(judged.told[refused & place], judged.told[refused & ~place])
    some = raw.take(rows).reset_index(drop=True)
    again = judge(some.assign(rx_locator=pd.Categorical([_SOME_LOCATOR] * len(some))))
    texts = some["rx_locator"].astype("str").fillna("").str.strip().astype("category").take(again.rows)
    return rows[again.rows], again.spots.assign(rx_locator=texts.array)

"""The ledger of a collection: which files it holds, and where every row of each of them went.

A row is in a collection when its file is in the ledger, and not before. So the ledger, one small file that is exchanged
whole, is what makes adding a file happen at once or not at all.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from reach.errors import InputError
from reach.tell import files

NAME: Final = "ledger.json"
VERSION: Final = 1


@dataclass(frozen=True)
class Share:
    """What one file holds of one station in one direction: rows == sound + rejected."""

    rows: int
    sound: int

    @property
    def rejected(self) -> int:
        """Rows that are no report."""
        return self.rows - self.sound


@dataclass(frozen=True)
class Entry:
    """One file as it was added.

    name      base name, with a number where another file of the collection has it too
    sha256    of its bytes
    direction sent or heard: which end of its rows the stations are
    rows      all of its rows
    own       callsigns of the station it was added for
    stations  callsign -> Share, the station's own and those of others in the same direction
    unused_headers  columns that were not used

    Rows of no Share are those of the own station in the other direction: counted, and not kept.
    """

    name: str
    sha256: str
    direction: str
    rows: int
    own: tuple[str, ...]
    stations: Mapping[str, Share]
    unused_headers: tuple[str, ...] = ()

    @property
    def part(self) -> str:
        """What its parts are called. An archive holds several files under one hash, so the name counts too."""
        return hashlib.sha256(f"{self.sha256} {self.direction} {self.name}".encode()).hexdigest()[:20]

    @property
    def file(self) -> str:
        """The name of the file that it came in, which is added and taken out whole: an archive has an entry for each file in it."""
        return self.name.partition("/")[0]

    def share(self, calls: Iterable[str]) -> Share:
        """What it holds of these callsigns together."""
        mine = [self.stations[call] for call in calls if call in self.stations]
        return Share(sum(each.rows for each in mine), sum(each.sound for each in mine))


@dataclass(frozen=True)
class Ledger:
    """The files of a collection, in the order in which they were added."""

    entries: tuple[Entry, ...] = field(default=())

    def holds(self, sha256: str, direction: str) -> bool:
        """Whether a file is here in a direction."""
        return any((each.sha256, each.direction) == (sha256, direction) for each in self.entries)

    def name_for(self, name: str, sha256: str) -> str:
        """The name of an entry, with a number behind that of its file where another file is called so."""
        file, inside, member = name.partition("/")
        taken = {each.file for each in self.entries if each.sha256 != sha256}
        number, free = 1, file
        while free in taken:
            number += 1
            free = f"{file} ({number})"
        return f"{free}{inside}{member}"

    def called(self, file: str, direction: str | None = None) -> list[Entry]:
        """What a file brought, by its name here: in one direction, or in any where none is said."""
        return [each for each in self.entries if each.file == file and direction in (None, each.direction)]

    def stations(self, direction: str) -> dict[str, int]:
        """Whose files these are in a direction: callsign -> sound rows, the most first."""
        here = [each for each in self.entries if each.direction == direction]
        rows = dict.fromkeys((call for each in here for call in each.own), 0)
        for each in here:
            rows.update({call: rows[call] + share.sound for call, share in each.stations.items() if call in rows})
        return dict(sorted(rows.items(), key=lambda item: (-item[1], item[0])))

    def holding(self, calls: Iterable[str], direction: str) -> list[Entry]:
        """The files that hold something of these callsigns in a direction."""
        wanted = set(calls)
        return [each for each in self.entries if each.direction == direction and wanted & each.stations.keys()]


def read(folder: Path) -> Ledger:
    """The ledger of a collection; an empty one where there is none yet.

    InputError where it is damaged, or of a version that this one does not know.
    """
    path = folder / NAME
    try:
        stamp = path.stat()
        return _read(path.absolute(), (stamp.st_dev, stamp.st_ino, stamp.st_size, stamp.st_mtime_ns))
    except FileNotFoundError:
        return Ledger()
    except OSError as error:
        raise InputError(f"{path}: cannot be read ({error.strerror}).") from None


@lru_cache(maxsize=2)
def _read(path: Path, stamp: tuple[int, ...]) -> Ledger:
    """A ledger is asked for again and again, for each of thousands of stations. stamp : another one for another content"""
    try:
        held = json.loads(path.read_bytes())
        version = held["version"]
        if version == VERSION:
            return Ledger(tuple(_entry(each) for each in held["files"]))
    except (ValueError, KeyError, TypeError, AttributeError):
        raise InputError(f"{path}: is no ledger of a collection, or is damaged.") from None
    raise InputError(f"{path}: is of version {version!r}, while this program knows version {VERSION}; use a newer one.")


def write(folder: Path, ledger: Ledger) -> None:
    """Exchange the ledger of a collection for this one."""
    held = {"version": VERSION, "files": [asdict(each) for each in ledger.entries]}
    files.write(folder / NAME, json.dumps(held, indent=1, ensure_ascii=False) + "\n", replace=True)


def _entry(held: dict[str, Any]) -> Entry:
    stations = {call: Share(**share) for call, share in held["stations"].items()}
    lists = {name: tuple(held[name]) for name in ("own", "unused_headers")}
    return Entry(**{**held, "stations": stations, **lists})

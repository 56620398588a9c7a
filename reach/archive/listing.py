"""What a collection holds, in numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any

from reach.archive import collection, ledger
from reach.archive.ledger import Entry
from reach.errors import InputError


@dataclass(frozen=True)
class Station:
    """One station in one direction. spots : sound rows, those that two files tell counted twice; files : that hold some"""

    call: str
    direction: str
    own: bool
    spots: int
    days: int
    first: date | None
    last: date | None
    files: int


@dataclass(frozen=True)
class Held:
    """Stations, one's own first, then by spots; files in the order they were added."""

    stations: tuple[Station, ...]
    files: tuple[Entry, ...]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        stations = [{**asdict(each), "first": _iso(each.first), "last": _iso(each.last)} for each in self.stations]
        return {"stations": stations, "files": [asdict(entry) for entry in self.files]}


def held(folder: Path) -> Held:
    """What lies in a collection. InputError where the folder is none."""
    if not collection.is_one(folder):
        raise InputError(f"{folder}: is no collection; one is made by `reach add FILES --to {folder}`.")
    entries = ledger.read(folder).entries
    files: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        for call in entry.stations:
            files.setdefault((call, entry.direction), []).append(entry)
    stations = [_station(folder, call, direction, held) for (call, direction), held in files.items()]
    stations.sort(key=lambda each: (not each.own, -each.spots, each.call, each.direction))
    return Held(tuple(stations), entries)


def _station(folder: Path, call: str, direction: str, files: Sequence[Entry]) -> Station:
    """files : that hold some of it"""
    days = collection.days(folder, call, direction)
    return Station(
        call,
        direction,
        own=any(call in entry.own for entry in files),
        spots=sum(entry.share([call]).sound for entry in files),
        days=len(days),
        first=days[0] if days else None,
        last=days[-1] if days else None,
        files=len(files),
    )


def _iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()

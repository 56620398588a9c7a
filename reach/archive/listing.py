"""What a collection holds: in numbers, and by the names of its files."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from reach.archive import collection, ledger
from reach.archive.ledger import Entry, Ledger
from reach.base import text, ways
from reach.errors import InputError

_NAMED: Final = 4  # files in a sentence that says which there are


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
    entries = ledger_of(folder).entries
    files: dict[tuple[str, str], list[Entry]] = {}
    for entry in entries:
        for call in entry.stations:
            files.setdefault((call, entry.direction), []).append(entry)
    stations = [_station(folder, call, direction, held) for (call, direction), held in files.items()]
    stations.sort(key=lambda each: (not each.own, -each.spots, each.call, each.direction))
    return Held(tuple(stations), entries)


def ledger_of(folder: Path) -> Ledger:
    """The ledger of a collection. InputError where the folder is none."""
    if not collection.is_one(folder):
        raise InputError(f"{folder}: is no collection; one is made by {ways.asked('add', str(folder))}.")
    return ledger.read(folder)


def named(folder: Path, names: Iterable[str], direction: str | None = None) -> list[Entry]:
    """What files brought to a collection.

    names : of files as they stand in the ledger; direction : sent or heard, needed where a file was added in both
    InputError, with what there is, where one of them is not here, is a part of a file, or is here in both directions.
    """
    held = ledger_of(folder)
    return [
        entry for name in dict.fromkeys(map(text.one_line, names)) for entry in _called(folder, held, name, direction)
    ]


def _called(folder: Path, held: Ledger, name: str, direction: str | None) -> list[Entry]:
    found = held.called(name, direction)
    directions = sorted({entry.direction for entry in found})
    if len(directions) > 1:
        raise InputError(
            f"{name}: was added to {folder} both as sent and as heard; say which with {ways.asked('sent')} or {ways.asked('heard')}."
        )
    if found:
        return found
    if elsewhere := held.called(name):
        other = elsewhere[0].direction
        raise InputError(f"{name}: is in {folder} as {other}, not as {direction}; say {ways.asked(other)}.")
    whole = next((entry.file for entry in held.entries if entry.name == name), None)
    if whole is not None:
        raise InputError(f"{name}: came in {whole}, which is added and taken out whole; give {whole}.")
    raise InputError(f"{name or repr(name)}: is no file of {folder}; {_there(held, name)}")


def _there(held: Ledger, name: str) -> str:
    """Which files could have been meant, of many the nearest."""
    files = list(dict.fromkeys(entry.file for entry in held.entries))
    if not files:
        return "it holds none."
    near = [Path(name).name] if Path(name).name in files else difflib.get_close_matches(name, files, n=1)
    if near:
        return f"did you mean {near[0]}?"
    more = f" and {len(files) - _NAMED:,} more, as {ways.asked('held')} says" if len(files) > _NAMED else ""
    return f"there is {', '.join(files[:_NAMED])}{more}."


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

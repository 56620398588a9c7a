"""What is said of a collection that files are put into."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from reach.base.words import Typography

if TYPE_CHECKING:
    from reach.archive.ledger import Entry
    from reach.archive.listing import Station
    from reach.archive.transmitters import Summary


def already(name: str) -> str:
    """That a file is here, so that nothing was added."""
    return f"{name}: is in the collection already; nothing was added."


def added(entry: Entry, say: Typography) -> str:
    """What became of the rows of a file: 'october.csv: 1,492 rows read = 923 of EI4QTB (920 sound) + 569 of DL9QXY (569 sound)'."""
    return f"{entry.name}: {say.things(entry.rows, 'row')} read = {_where(entry, say)}"


def removed(entry: Entry, say: Typography) -> str:
    """What went with a file: 'october.csv: taken out, 1,492 rows = 923 of EI4QTB (920 sound) + 569 of DL9QXY (569 sound)'."""
    return f"{entry.name}: taken out, {say.things(entry.rows, 'row')} = {_where(entry, say)}"


def left(folder: str, entries: Sequence[Entry], say: Typography) -> str:
    """What a collection holds afterwards."""
    files, rows = len({entry.file for entry in entries}), sum(entry.rows for entry in entries)
    return f"Left in {folder}: {say.things(files, 'file')}, {say.things(rows, 'row')}."


def _where(entry: Entry, say: Typography) -> str:
    """Where the rows of a file went."""
    parts = [
        f"{say.count(share.rows)} of {call} ({say.count(share.sound)} sound)" for call, share in entry.stations.items()
    ]
    rest = _elsewhere(entry)
    if rest:
        parts.append(f"{say.count(rest)} set aside, of the other direction")
    return " + ".join(parts) or say.count(0)


def station(each: Station, say: Typography) -> list[str]:
    """A line of the list of stations; one's own are marked."""
    days = [day.isoformat() if day else "" for day in (each.first, each.last)]
    own = " (own)" if each.own else ""
    counts = (each.spots, each.days)
    return [f"{each.call}{own}", each.direction, *map(say.count, counts), *days, say.count(each.files)]


def summary(each: Summary, say: Typography) -> list[str]:
    """A line of the figures of all stations; nothing where there is no locator to measure by."""
    far = [
        "" if each.median_km is None else say.beyond(each.median_km),
        "" if each.farthest_km is None else say.km(each.farthest_km),
    ]
    days = [day.isoformat() if day else "" for day in (each.first, each.last)]
    counts = map(say.count, (each.reports, each.receivers))
    return [each.call, each.direction, *counts, *far, each.farthest_call or "", *days]


def file(entry: Entry, say: Typography) -> list[str]:
    """A line of the list of files."""
    sound = sum(share.sound for share in entry.stations.values())
    rejected = sum(share.rejected for share in entry.stations.values())
    return [entry.name, entry.direction, *map(say.count, (entry.rows, sound, rejected, _elsewhere(entry)))]


def _elsewhere(entry: Entry) -> int:
    return entry.rows - sum(share.rows for share in entry.stations.values())

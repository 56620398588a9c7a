"""A collection by transmitter: for each station what `reach run` would have at the head of its report.

One station at a time is read, here or on a worker, so that memory is that of the largest and not of all.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reach.archive import asked, collection, ledger
from reach.archive.rows import CollectedRows
from reach.assign import owners
from reach.base import ways
from reach.errors import InputError
from reach.study import Study

if TYPE_CHECKING:
    from reach.measure.reach import Reach


@dataclass(frozen=True)
class Summary:
    """One station in one direction.

    reports, receivers  of all accepted reports: a reception that two files tell counts once
    median_km, farthest_km, farthest_call  of corroborated locators; None where there are none, or the station's is not known
    first, last  UTC days with an accepted report
    """

    call: str
    direction: str
    reports: int
    receivers: int
    median_km: float | None
    farthest_km: float | None
    farthest_call: str | None
    first: date | None
    last: date | None

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON."""
        days = {name: day.isoformat() if (day := getattr(self, name)) else None for name in ("first", "last")}
        return {**asdict(self), **days}


def stations(folder: Path) -> list[tuple[str, str]]:
    """Who is in a collection, as (callsign, direction), by callsign. InputError where the folder is none."""
    if not collection.is_one(folder):
        raise InputError(f"{folder}: is no collection; one is made by {ways.asked('add', str(folder))}.")
    entries = ledger.read(folder).entries
    return sorted({(call, entry.direction) for entry in entries for call in entry.stations})


def summaries(folder: Path, which: Sequence[tuple[str, str]]) -> Iterator[Summary]:
    """The stations one after the other, each read when it is its turn."""
    study, own = asked.study_of(folder), asked.own(folder)
    for call, direction in which:
        yield _summary(_about(owners.asked_of(study, call, own=own), folder, call, direction), call)


def merged(parts: Iterable[Sequence[Summary]]) -> list[Summary]:
    """Summaries of some stations each, together: the most reports first."""
    found = [each for part in parts for each in part]
    return sorted(found, key=lambda each: (-each.reports, each.call, each.direction))


def _about(study: Study, folder: Path, call: str, direction: str) -> Study:
    """What is asked of a station: all days and bands."""
    every = {"files": [str(folder.absolute())], "direction": direction, "start": None, "end": None, "bands": []}
    station = study.station.model_copy(update={"callsign": call})
    return study.model_copy(update={**every, "station": station, "compare": None, "season": None})


class _Passing(CollectedRows):
    """Thousands of stations are summed up in passing: nothing of them is kept."""

    keeps = False


def _summary(study: Study, call: str) -> Summary:
    rows = _Passing(study)
    spots = rows.vetted.spots
    days = spots["time_utc"].dt.date
    first, last = (days.min(), days.max()) if len(days) else (None, None)
    if spots["tx_locator"].isna().any() or not len(spots):
        receivers = int(spots["rx_call"].nunique())
        return Summary(call, study.direction, len(spots), receivers, None, None, None, first, last)
    found = _reach(spots)
    every, sure = found.all.overall, found.headline
    far = sure.farthest
    return Summary(
        call,
        study.direction,
        every.reports,
        every.receivers,
        median_km=sure.median_km.value if sure.reports else None,
        farthest_km=far.distance_km if far else None,
        farthest_call=far.call if far else None,
        first=first,
        last=last,
    )


def _reach(spots: Any) -> Reach:
    from reach.measure.reach import reach
    from reach.measure.tally import tally
    from reach.place.geometry import place
    from reach.suspects import suspects

    return reach(tally(suspects(place(spots)).spots))

"""What the clocks of a zone showed over a stretch of time: for times that are shown in local time beside UTC.

Nothing is worked out in local time; it is only written beside a time in UTC.
"""

from __future__ import annotations

import difflib
import zoneinfo
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final, NamedTuple

_LOOK: Final = timedelta(days=1)  # no zone changes twice within it
_MINUTE: Final = timedelta(minutes=1)
_DAY_MIN: Final = 1440


class Change(NamedTuple):
    """From which minute on (UTC) clocks were another number of minutes ahead of UTC."""

    when_utc: datetime
    offset_min: int


@dataclass(frozen=True)
class LocalTime:
    """A zone over a stretch of time. zone : its IANA name; first_min : minutes ahead of UTC at the start; changes : since then"""

    zone: str
    first_min: int
    changes: tuple[Change, ...] = ()

    @classmethod
    def over(cls, zone: str, first: datetime, last: datetime) -> LocalTime:
        """What a zone's clocks showed from one moment to another. zone : as `checked` let it pass"""
        known = zoneinfo.ZoneInfo(zone)
        return cls(zone, _offset_min(known, first), tuple(_changes(known, first, last)))

    @property
    def offsets_min(self) -> tuple[int, ...]:
        """The minutes ahead of UTC that there were, each once, in the order in which they came."""
        return tuple(dict.fromkeys([self.first_min, *(each.offset_min for each in self.changes)]))

    def at(self, moment: datetime) -> datetime:
        """What the clocks showed at a moment, without a zone."""
        offset_min = self.first_min
        for change in self.changes:
            if moment >= change.when_utc:
                offset_min = change.offset_min
        return moment.replace(tzinfo=None) + timedelta(minutes=offset_min)

    def hours(self, hour_utc: int) -> tuple[str, ...]:
        """An hour of the day in UTC as the clocks showed it, one text for each of `offsets_min`: ('20:00',), ('01:30',)."""
        return tuple(clock(60 * hour_utc + offset_min) for offset_min in self.offsets_min)

    def below(self, hour_utc: int) -> str:
        """What stands below an hour on an axis: a line for each of `offsets_min`, '22' or '01:30'."""
        return "\n".join(text.removesuffix(":00") for text in self.hours(hour_utc))


def checked(zone: str) -> str:
    """The zone itself. ValueError, one sentence that names the nearest, where there is none of that name."""
    names = zoneinfo.available_timezones()
    if zone in names:
        return zone
    if not names:
        raise ValueError("this machine has no table of zones; `pip install tzdata` brings one")
    by_lower = {name.lower(): name for name in names}
    near = difflib.get_close_matches(zone.lower(), [*by_lower], n=1, cutoff=0.5)
    meant = by_lower[near[0]] if near else "Europe/Dublin"
    raise ValueError(f"a zone has a name such as {meant!r}")


def clock(minutes: int) -> str:
    """Minutes since some midnight as a time of day: '01:30'."""
    hour, minute = divmod(minutes % _DAY_MIN, 60)
    return f"{hour:02d}:{minute:02d}"


def _offset_min(zone: zoneinfo.ZoneInfo, moment: datetime) -> int:
    offset = moment.astimezone(zone).utcoffset()
    assert offset is not None  # a ZoneInfo always has one
    return round(offset.total_seconds() / 60)


def _changes(zone: zoneinfo.ZoneInfo, first: datetime, last: datetime) -> Iterator[Change]:
    """Zones tell their offset at a moment, not when it changes: that is looked for day by day, then by halves."""
    low = first
    while low < last:
        high = min(low + _LOOK, last)
        before, after = _offset_min(zone, low), _offset_min(zone, high)
        if before != after:
            yield Change(_when(zone, low, high, before), after)
        low = high


def _when(zone: zoneinfo.ZoneInfo, low: datetime, high: datetime, before: int) -> datetime:
    """The first minute with another offset than `before`, which there is at `low` and no more at `high`."""
    low, high = low.replace(second=0, microsecond=0), high.replace(second=0, microsecond=0)
    while high - low > _MINUTE:
        middle = (low + (high - low) / 2).replace(second=0, microsecond=0)
        low, high = (middle, high) if _offset_min(zone, middle) == before else (low, middle)
    return high.astimezone(UTC)

"""The first half of the walk: read, assign, vet; the rows of a study's files, each judged by itself.

What is asked of them is the same for files and for a collection (`reach.archive.rows`): a `Walk` goes on from either.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Self

from reach.errors import StudyError

if TYPE_CHECKING:
    import pandas as pd

    from reach.assign.frequencies import TwoMhz
    from reach.assign.owners import Owned
    from reach.findings import Counts, InputFile
    from reach.read.times import Moments, Told
    from reach.read.understood import Understood
    from reach.study import Options, Study
    from reach.vet.fixes import Applied
    from reach.vet.rules import Vetted

Progress = Callable[[str], None]
LATER_SHARE: Final = 0.5  # of the reports later than the clock: then it is the clock that is wrong


_AS_READ: Final = ("_files", "_loaded", "_entries", "_calls")  # stages that know no corrections


def silent(step: str) -> None:
    """No progress told."""


class Rows:
    """The rows of a study, each stage worked out once, when it is first asked for.

    study     what was asked
    raw       every row as text (reach.read)
    owned     .raw this station's rows in the direction studied; the others counted and set aside (reach.assign)
    assigned  the same with the setups and sessions that the study tells (reach.assign)
    judged    .spots accepted, in the period and on the bands studied, .problems, .counts (reach.vet); power as the rows have it
    vetted    the same, with the station's own power where a row names none
    counts    where every row went
    """

    def __init__(
        self,
        study: Study,
        *,
        fixes: str | Path | None = None,
        now: datetime | None = None,
        progress: Progress = silent,
    ) -> None:
        self.study = study
        own = study.folder / study.fixes if study.fixes else None
        self.fixes, self._now, self.progress = fixes or own, now or study.now, progress

    @property
    def given(self) -> dict[str, Any]:
        """What was given beside the study, for other rows to be made the same way."""
        return {"fixes": self.fixes, "now": self._now, "progress": self.progress}

    def mended_by(self, study: Study) -> Self:
        """The same rows with the corrections of a study that differs in nothing else: the files are not read again."""
        other = type(self)(study, now=self._now, progress=self.progress)
        other.__dict__.update({name: self.__dict__[name] for name in _AS_READ if name in self.__dict__})
        return other

    @cached_property
    def now(self) -> datetime:
        """What counts as now: as given, else the end of the hour that the clock shows, so that a run a minute later is the same."""
        from reach.study import utc

        clock = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        return utc(self._now) if self._now else clock

    @cached_property
    def _told(self) -> Told:
        """The times of the station's rows beside now."""
        from reach.read.times import Told

        return Told.of(self.moments.micros, self.now)

    @property
    def clock_is_behind(self) -> bool:
        """Whether most reports are later than the clock, which then is wrong and not they."""
        return self._now is None and self._told.later > LATER_SHARE * self._told.rows

    @property
    def judged_at(self) -> datetime:
        """The moment after which no report can be: now, or the newest of them where the clock is wrong."""
        if not self.clock_is_behind:
            return self.now
        return datetime.fromtimestamp(self._told.newest / 1e6, UTC) + timedelta(seconds=1)

    def towards(self, direction: str) -> Self:
        """The same rows in a direction, "sent" or "heard": the files are not read again."""
        if direction == self.study.direction:
            return self
        study = self.study.model_copy(update={"direction": direction})
        other = type(self)(study, **self.given)
        other.__dict__.update(self._of_both_directions())
        return other

    def _of_both_directions(self) -> dict[str, Any]:
        """The stages that know no direction."""
        return {"_files": self._files, "_mended": self._mended}

    @cached_property
    def _files(self) -> tuple[pd.DataFrame, list[InputFile]]:
        from reach.read.layout import asked_by
        from reach.read.table import read_files

        self.progress("reading")
        named = [*self.study.files, *(name for session in self.study.sessions for name in session.files)]
        if not named:
            raise StudyError("the study names no files of spots; give them under `files`, or in its sessions.")
        asked = asked_by(self.study, self.now, self._days)
        return read_files(*dict.fromkeys(named), folder=self.study.folder, asked=asked)

    @property
    def _days(self) -> list[int]:
        """Days since 1970 on which the schedule has the station on the air: they may tell 3 May from 5 March."""
        if self.schedule is None:
            return []
        moments = [
            self.schedule[name].dt.tz_convert(None).to_numpy().astype("datetime64[D]") for name in ("start", "end")
        ]
        return sorted({int(day) for column in moments for day in column.astype(int)})

    @property
    def raw(self) -> pd.DataFrame:
        """Every row of the files, all cells text."""
        return self._files[0]

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        """The files behind it."""
        return tuple(self._files[1])

    @property
    def understood(self) -> list[Understood]:
        """How each file was read."""
        return [file.understood for file in self.inputs if file.understood is not None]

    @cached_property
    def _mended(self) -> tuple[pd.DataFrame, Applied]:
        from reach.vet import fixes

        return fixes.apply(self.raw, fixes.read(self.fixes) if self.fixes else [])

    @property
    def applied(self) -> Applied:
        """The corrections that the user approved: what they changed."""
        return self._mended[1]

    @cached_property
    def owned(self) -> Owned:
        """The rows that are this station's in the direction that is studied; the others are set aside."""
        from dataclasses import replace

        from reach.assign import owners

        asked = self.study.compare
        raw, told = owners.ends_told(self._mended[0], self.inputs, self.study.station.callsign)
        owned = owners.own(
            raw,
            self.study.station,
            direction=owners.Direction(self.study.direction),
            setups=asked.asked if asked else (),
        )
        return replace(owned, notes=(*told, *owned.notes)) if told else owned

    @cached_property
    def moments(self) -> Moments:
        """The times of the rows: whose setup was on the air and whether a row can be believed both hang on them."""
        from reach.read import times

        return times.moments(self.owned.raw, day_first=self.study.options.day_first)

    @cached_property
    def schedule(self) -> pd.DataFrame | None:
        """The study's schedule in UTC, shifted as the study says; None without one."""
        from reach.assign import schedule

        return schedule.of_study(self.study)

    @cached_property
    def assigned(self) -> pd.DataFrame:
        """The raw rows with the setups and sessions that the study tells."""
        from reach.assign import sessions

        return sessions.assign(self.owned.raw, self.study, moments=self.moments, planned=self.schedule)

    @cached_property
    def judged(self) -> Vetted:
        """The rows judged, those of the period and the bands that are studied; power blank where a row names none."""
        from reach.vet import selection

        return selection.within(self._of_all_days, self.study)

    @cached_property
    def _of_all_days(self) -> Vetted:
        """The rows judged, in the period or not."""
        return self._vetted_rows()

    @property
    def span(self) -> tuple[date, date] | None:
        """The first and the last UTC day with a report, in the period that is studied or not; None without any."""
        moments = self._of_all_days.spots["time_utc"]
        return (moments.min().date(), moments.max().date()) if len(moments) else None

    @property
    def by_mhz(self) -> TwoMhz | None:
        """The two frequencies that the study compares, on the air at once; None where it compares setups or callsigns."""
        from reach.assign import frequencies

        return frequencies.two(self.study.compare.asked) if self.study.compare else None

    def _vetted_rows(self) -> Vetted:
        from reach.vet import rules

        assigned = self.assigned
        self.progress("vetting")
        found = rules.vet(
            assigned,
            station=self.study.station.model_copy(update={"power_w": None}),
            options=self.options,
            now=self.judged_at,
            moments=self.moments,
            by_mhz=self.by_mhz,
        )
        # Large where every time is another; who asks again has them worked out again.
        self.__dict__.pop("moments", None)
        return found

    @cached_property
    def options(self) -> Options:
        """The study's options, with the ITU region of the station's locator where none was given."""
        from reach.base import grammar, locator
        from reach.place import region

        options = self.study.options
        if options.itu_region is not None:
            return options
        name = self.study.station.locator or next(iter(self._places), "")
        if grammar.judge(name, four_characters=True).locator is None:
            return options  # where the station is nobody knows; then no band edges of a region count
        (lon,), (lat,) = locator.centre([locator.checked(name)])
        return options.model_copy(update={"itu_region": region.region(float(lon), float(lat))})

    @property
    def _places(self) -> Mapping[str, int]:
        """Locators that the station's rows give as its own, as they stand there, and how many do: the most first."""
        from reach.assign import owners

        return owners.ranked(owners.places(self.owned.raw))

    @cached_property
    def vetted(self) -> Vetted:
        """Rows judged one by one: .spots, .problems, .counts."""
        from dataclasses import replace

        own_w = self.study.own_end.power_w
        if own_w is None:
            return self.judged
        power_w = self.judged.spots["power_w"].fillna(own_w).astype("float32")
        return replace(self.judged, spots=self.judged.spots.assign(power_w=power_w))

    @property
    def counts(self) -> Counts:
        """Where every row went."""
        from reach.findings import Counts

        aside = self.owned.set_aside
        return self.vetted.counts + Counts(read=aside, accepted=0, rejected=0, duplicates=0, set_aside=aside)

    @property
    def daylight(self) -> pd.DataFrame | None:
        """What was worked out before of day and night for each accepted spot (place.daylight); None where nothing was."""
        return None

    @property
    def outside(self) -> int:
        """Sound rows that are not studied, as they lie outside the period or the bands."""
        return self.judged.counts.set_aside

    def set_aside(self, callsign: str) -> pd.DataFrame:
        """The spots of a transmitter whose rows were set aside, judged as this station's are."""
        from reach.assign import owners
        from reach.vet import rules

        return rules.vet(owners.rows_of(self.owned, callsign), options=self.options, now=self.judged_at).spots

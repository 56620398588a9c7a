"""The walk: read, assign, vet, place, suspects, measure, compare; then draw and tell.

Each stage of a `Walk` is worked out once, when it is first asked for, from the stage before it. A command asks for the
stage it needs and for no more: `reach vet` stops at the suspects, `reach plan` at the vetted rows. The stages are the
plain functions that the library offers (`reach.read`, `reach.assign`, ...); nothing is worked out here.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Iterable, Sequence
from datetime import UTC, datetime, timedelta
from functools import cached_property
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach.errors import StudyError

if TYPE_CHECKING:
    import geopandas
    import pandas as pd

    from reach.archive.collection import Loaded
    from reach.archive.ledger import Entry
    from reach.archive.taking import Taken
    from reach.assign.clock import ClockFit
    from reach.assign.owners import Owned
    from reach.compare.comparison import Comparison
    from reach.compare.season.found import Season
    from reach.compare.several import Several
    from reach.draw.plot import Plot
    from reach.findings import Counts, Findings, InputFile, Note
    from reach.measure.reach import Reach
    from reach.measure.tally import Tally
    from reach.radio.power import Budget
    from reach.read.times import Moments
    from reach.read.understood import Understood
    from reach.study import Options, Study
    from reach.suspects.find import Doubts
    from reach.vet.fixes import Applied
    from reach.vet.rules import Vetted

Progress = Callable[[str], None]
MOST_LOOKED_AT: Final = 12  # transmitters that might be controls of a season, those with most rows
LATER_SHARE: Final = 0.5  # of the reports later than the clock: then it is the clock that is wrong
UNTOLD_SHARE: Final = 0.5  # of the rows must leave their setup to the schedule, for its clock to matter


def _silent(step: str) -> None:
    """No progress told."""


def walk(
    study: Study | str | Path | Iterable[str | Path],
    *,
    callsign: str | None = None,
    locator: str | None = None,
    power_w: float | None = None,
    fixes: str | Path | None = None,
    now: datetime | None = None,
    progress: Progress = _silent,
) -> Walk:
    """From the files of a study to everything that can be said about them.

    study : a Study, a study file (.toml), a file of spots, or several
    callsign, locator, power_w : of the station, where there is no study to say them
    fixes : corrections that the user approved, as written by `reach vet --write-fixes` and filled in
    now : no spot may be later; the clock's time where left out
    progress : told the name of each step
    Returns Walk; each of its stages is worked out when it is first asked for. ReachError, one sentence, where the input
    will not do.
    """
    station = {"callsign": callsign, "locator": locator, "power_w": power_w}
    known = {name: value for name, value in station.items() if value is not None}
    return over(_study(study, known), fixes=fixes, now=now, progress=progress)


def over(
    study: Study, *, fixes: str | Path | None = None, now: datetime | None = None, progress: Progress = _silent
) -> Walk:
    """The walk over what a study names: files, or a collection."""
    kind = Walk if _collection(study) is None else Collected
    return kind(study, fixes=fixes, now=now, progress=progress)


def _collection(study: Study) -> Path | None:
    """The collection that a study is about; None where it names files. StudyError where it names files beside one."""
    from reach.archive import collection

    named = [*study.files, *(name for session in study.sessions for name in session.files)]
    held = [path for name in study.files if collection.is_one(path := Path(study.folder, Path(name).expanduser()))]
    if held and len(study.files) > 1:
        raise StudyError(f"{held[0]}: a collection stands alone; put the other files into it with `reach add`.")
    return held[0] if held and named else None


def _study(given: Study | str | Path | Iterable[str | Path], station: dict[str, Any]) -> Study:
    from reach import study as studies
    from reach.study import Study

    if isinstance(given, Study):
        base = given
    elif isinstance(given, (str, Path)) and str(given).lower().endswith(".toml"):
        base = studies.load(given)
    else:
        base = Study(files=[str(given)] if isinstance(given, (str, Path)) else [str(name) for name in given])
    return studies.changed(base, station=station)


class Walk:
    """One walk through the spots of a study. Tables are as `reach.spots` describes them.

    study     what was asked
    raw       every row as text (reach.read)
    owned     .raw this station's rows in the direction studied; the others counted and set aside (reach.assign)
    vetted    .spots accepted, .problems, .counts (reach.vet)
    doubts    .spots placed and with `trust`, .suspects (reach.suspects)
    spots     the accepted spots: placed, with day and night, with trust
    tally     counts that can be added (reach.tally)
    reach     how far, where to, when, with intervals (reach.measure)
    comparison  the two setups that the study compares, or None (reach.compare)
    several   the three to eight setups that the study compares at once, or None (reach.compare.several)
    season    the level over weeks, or None where the study does not ask for it (reach.compare.season)
    findings  all of it as one record, which pictures, page and slides read
    """

    def __init__(
        self,
        study: Study,
        *,
        fixes: str | Path | None = None,
        now: datetime | None = None,
        progress: Progress = _silent,
    ) -> None:
        self.study = study
        self._fixes, self._now, self._progress = fixes, now or study.now, progress

    @cached_property
    def now(self) -> datetime:
        """What counts as now: as given, else the end of the hour that the clock shows, so that a run a minute later is the same."""
        from reach.study import utc

        clock = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) + timedelta(hours=1)
        return utc(self._now) if self._now else clock

    @property
    def _clock_is_behind(self) -> bool:
        """Whether most reports are later than the clock, which then is wrong and not they."""
        from reach.read.times import NOWHEN, micros_of

        told = self._moments.micros[self._moments.micros != NOWHEN]
        return self._now is None and len(told) > 0 and bool((told > micros_of(self.now)).mean() > LATER_SHARE)

    @property
    def _judged_at(self) -> datetime:
        """The moment after which no report can be: now, or the newest of them where the clock is wrong."""
        if not self._clock_is_behind:
            return self.now
        return datetime.fromtimestamp(int(self._moments.micros.max()) / 1e6, UTC) + timedelta(seconds=1)

    def towards(self, direction: str) -> Walk:
        """The same walk in a direction, "sent" or "heard": the files are not read again."""
        if direction == self.study.direction:
            return self
        study = self.study.model_copy(update={"direction": direction})
        other = type(self)(study, fixes=self._fixes, now=self._now, progress=self._progress)
        other.__dict__.update(self._of_both_directions())
        return other

    def _of_both_directions(self) -> dict[str, Any]:
        """The stages that know no direction."""
        return {"_read": self._read, "_mended": self._mended}

    # --- the stages, in their order -----------------------------------------------------------------------------------

    @cached_property
    def _read(self) -> tuple[pd.DataFrame, list[InputFile]]:
        from reach.read.table import asked_by, read_files

        self._progress("reading")
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
        return self._read[0]

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        """The files behind it."""
        return tuple(self._read[1])

    @property
    def understood(self) -> list[Understood]:
        """How each file was read."""
        return [file.understood for file in self.inputs if file.understood is not None]

    @cached_property
    def _mended(self) -> tuple[pd.DataFrame, Applied]:
        from reach.vet import fixes

        return fixes.apply(self.raw, fixes.read(self._fixes) if self._fixes else [])

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
    def _moments(self) -> Moments:
        """The times of the rows: whose setup was on the air and whether a row can be believed both hang on them."""
        from reach.read import times

        return times.moments(self.owned.raw, day_first=self.study.options.day_first)

    @cached_property
    def assigned(self) -> pd.DataFrame:
        """The raw rows with the setups and sessions that the study tells."""
        from reach.assign import sessions

        return sessions.assign(self.owned.raw, self.study, moments=self._moments, planned=self.schedule)

    @cached_property
    def _judged(self) -> Vetted:
        """The rows judged, those of the period and the bands that are studied; power blank where a row names none."""
        from reach.vet import selection

        return selection.within(self._vetted_rows(), self.study)

    def _vetted_rows(self) -> Vetted:
        from reach.vet import rules

        assigned = self.assigned
        self._progress("vetting")
        return rules.vet(
            assigned,
            station=self.study.station.model_copy(update={"power_w": None}),
            options=self._options,
            now=self._judged_at,
            moments=self._moments,
        )

    @cached_property
    def _options(self) -> Options:
        """The study's options, with the ITU region of the station's locator where none was given."""
        from reach.base import grammar, locator
        from reach.place import region

        options = self.study.options
        if options.itu_region is not None:
            return options
        raw = self.owned.raw
        stated = raw["tx_locator"].dropna().astype(str).value_counts().index[:1] if "tx_locator" in raw else ()
        names = [self.study.station.locator, *stated]
        name = next((each for each in names if each), "")
        if grammar.judge(name, four_characters=True).locator is None:
            return options  # where the station is nobody knows; then no band edges of a region count
        (lon,), (lat,) = locator.centre([locator.checked(name)])
        return options.model_copy(update={"itu_region": region.region(float(lon), float(lat))})

    @cached_property
    def schedule(self) -> pd.DataFrame | None:
        """The study's schedule in UTC, shifted as the study says; None without one."""
        from reach.assign import schedule

        return schedule.of_study(self.study)

    @cached_property
    def vetted(self) -> Vetted:
        """Rows judged one by one: .spots, .problems, .counts."""
        from dataclasses import replace

        own_w = self.study.own_end.power_w
        if own_w is None:
            return self._judged
        power_w = self._judged.spots["power_w"].fillna(own_w).astype("float32")
        return replace(self._judged, spots=self._judged.spots.assign(power_w=power_w))

    @property
    def counts(self) -> Counts:
        """Where every row went."""
        from reach.findings import Counts

        aside = self.owned.set_aside
        return self.vetted.counts + Counts(read=aside, accepted=0, rejected=0, duplicates=0, set_aside=aside)

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What was assumed and what was left out: whose rows, corrections without a row, where the station was."""
        from reach.assign import sessions

        told = sessions.notes(self.vetted.spots, self.study)
        return (*self._whose, *self._not_asked, *self._many_suspects, *self.clock_notes, *self._mended[1].notes, *told)

    @property
    def _many_suspects(self) -> list[Note]:
        """That what was meant was looked for with some of the suspects only."""
        from reach.findings import Note, NoteCode
        from reach.suspects.repair import MOST_SEARCHED

        suspects = len(self.suspects) if self.can_place else 0
        values = {"suspects": suspects, "searched": MOST_SEARCHED}
        return [Note(NoteCode.MANY_SUSPECTS, values)] if suspects > MOST_SEARCHED else []

    @property
    def _not_asked(self) -> list[Note]:
        """How many sound rows lie outside the period and the bands that are studied."""
        from reach.findings import Note, NoteCode

        study, rows = self.study, self._outside
        if not rows:
            return []
        ends = {"start": study.start, "end": study.end}
        asked: dict[str, Any] = {name: f"{end:%Y-%m-%d %H:%M}" for name, end in ends.items() if end is not None}
        return [Note(NoteCode.NOT_ASKED, {"rows": rows, **asked, **({"bands": study.bands} if study.bands else {})})]

    @property
    def _outside(self) -> int:
        """Sound rows that are not studied, as they lie outside the period or the bands."""
        return self._judged.counts.set_aside

    @property
    def _whose(self) -> list[Note]:
        """Whose rows these are, and of those that were set aside which can serve as a control."""
        from reach.compare import neighbours
        from reach.findings import NoteCode

        calls = list(self.owned.other)[: neighbours.MOST]
        if not calls or self.study.direction == "heard":  # of receivers a control is another antenna in the same place
            return list(self.owned.notes)
        found = neighbours.neighbours(self.vetted.spots, {call: self._set_aside(call) for call in calls})
        offered = {"controls": [each.to_dict() for each in found]}
        return [
            note._replace(values={**note.values, **offered}) if note.code == NoteCode.OTHERS_SET_ASIDE else note
            for note in self.owned.notes
        ]

    @property
    def can_place(self) -> bool:
        """Whether the station's locator is known for every spot, without which nothing can be placed."""
        return not self.vetted.spots["tx_locator"].isna().any()

    @cached_property
    def placed(self) -> pd.DataFrame:
        """The accepted spots with distance, bearing, country, day and night."""
        from reach.place import daylight
        from reach.place.geometry import place

        spots = self.vetted.spots
        self._progress("placing")
        return daylight.daylight(place(spots))

    @cached_property
    def doubts(self) -> Doubts:
        """The suspects, and the spots with how far each locator can be trusted."""
        from reach.suspects import suspects

        placed = self.placed
        self._progress("looking for suspects")
        return suspects(placed)

    @property
    def spots(self) -> pd.DataFrame:
        """The accepted spots: spots.SPOT + spots.PLACED + daylight.DAYLIGHT + spots.TRUSTED."""
        return self.doubts.spots

    @property
    def suspects(self) -> pd.DataFrame:
        """Receivers whose locator is probably wrong, heaviest first."""
        return self.doubts.suspects

    @cached_property
    def problems(self) -> pd.DataFrame:
        """Every row that was rejected or is doubtful: spots.PROBLEMS, in file order. Without the station's locator
        nobody can look for suspects, and these are the rows that were judged alone."""
        from reach.vet.ledger import in_file_order

        if not self.can_place:
            return self.vetted.problems
        return in_file_order(self.raw, self.vetted.problems, self.doubts.problems)

    @cached_property
    def clock(self) -> ClockFit | None:
        """Whether the schedule, or the sessions' windows where there is none, fits the reports; None without either, or where
        it was confirmed."""
        return self._clock(*(self._two or (None, None)))

    def _clock(self, a: str | None, b: str | None) -> ClockFit | None:
        """The same by the steps of two setups; None where the schedule does not tell them apart."""
        from dataclasses import replace

        from reach.assign import clock, schedule, sessions
        from reach.base import locator

        planned = self.schedule if self.schedule is not None else schedule.of_sessions(self.study)
        if planned is None or self.study.schedule_confirmed:
            return None
        named = {str(name) for name in planned["setup"].unique()}
        untold = sessions.untold(self.owned.raw, self.study, moments=self._moments)[self._judged.rows]
        if not {a, b} - {None} <= named or untold.mean() < UNTOLD_SHARE:
            return None
        lon_deg = None
        where = self._judged.spots["tx_locator"].dropna()
        if len(where):
            lon_deg = float(locator.centre([str(where.iloc[0])])[0][0])
        found = clock.fit(self._judged.spots[untold], planned, a=a, b=b, station_lon_deg=lon_deg)
        return found if self.schedule is not None or found is None else replace(found, told_by=clock.SESSIONS)

    @cached_property
    def tally(self) -> Tally:
        """Counts that can be added."""
        from reach.measure.tally import tally

        spots = self.spots
        self._progress("counting")
        return tally(spots)

    @cached_property
    def budgets(self) -> dict[tuple[str, str], Budget]:
        """Power at the antenna by (setup, band); none where the station only heard."""
        from reach.radio import power

        if self.study.direction == "heard":
            return {}
        study = self.study.model_copy(update={"options": self._options})
        return power.budgets(study, power.frequencies_mhz(self.spots))

    @cached_property
    def reach(self) -> Reach:
        """How far, where to, when: every headline with its interval."""
        from reach.measure import reach
        from reach.radio import power

        if self.study.direction == "heard":
            return reach.reach(self.tally, far_power_w=power.of_far_ends(self.spots))
        return reach.reach(self.tally, power=power.powers(self.study, self.spots, self.budgets))

    @cached_property
    def comparison(self) -> Comparison | None:
        """The comparison of two that the study asks for; None where it asks for none, or for more than two."""
        return self.compare() if self._two else None

    @property
    def _two(self) -> tuple[str, str] | None:
        """The two setups that the study compares; None where it compares none, or more."""
        return self.study.compare.two if self.study.compare else None

    @cached_property
    def several(self) -> Several | None:
        """The three to eight setups that the study compares at once; None where it compares none, or two."""
        asked = self.study.compare
        return self.compare_several(asked.setups) if asked and asked.setups else None

    def compare(
        self,
        a: str | None = None,
        b: str | None = None,
        *,
        control: str | Iterable[str] | None = None,
        power_difference_db: float | None = None,
    ) -> Comparison:
        """Two setups compared.

        a, b : names of the setups; those of the study's `compare` where left out
        control : callsign of a control station whose rows these files hold, or a file with its spots; several may be given
        power_difference_db : power of A minus power of B at the antenna; from rows and study where left out
        StudyError where no setups are named.
        """
        from dataclasses import replace

        from reach.assign import powers
        from reach.compare import compare, labels

        asked, two = self.study.compare, self._two or (None, None)
        a, b = a or two[0], b or two[1]
        if not (a and b):
            raise StudyError("name the two setups with --a and --b, or in the study under [compare].")
        spots = self.spots
        clock = self.clock if (a, b) == two else self._clock(a, b)
        known = None
        sent = self.study.direction == "sent"  # the power of what was heard is the other end's, pair by pair the same
        if sent and power_difference_db is None and not (clock is not None and clock.doubtful):
            names = labels.names_of(spots, a, b)
            own_w = self._judged.spots["power_w"].to_numpy(float)
            known = powers.between(spots, a, b, own_w=own_w, study=self.study, budgets=self.budgets, names=names)
        asked_for = control if control else asked.control if asked else None
        beside = [asked_for] if isinstance(asked_for, str) else list(asked_for or ())
        self._progress("comparing")
        found = compare(
            spots,
            a,
            b,
            power_difference_db=power_difference_db,
            powers=known,
            clock=clock,
            control={name: self._control(name) for name in beside},
            decoding_limit_db=self.study.options.decoding_limit_db,
        )
        return replace(found, direction=self.study.direction)

    def compare_several(self, setups: Sequence[str]) -> Several:
        """Three to eight setups compared at once; CompareError where they are fewer, more, or not all different."""
        from dataclasses import replace

        from reach.assign import powers
        from reach.compare.several import several

        spots, names = self.spots, tuple(setups)
        counts = spots["setup"].astype(object).value_counts()
        most = sorted(names, key=lambda name: -int(counts.get(name, 0)))[:2]
        clock = self._clock(*most)  # one schedule has one clock: the two with most reports show it best
        known = {}
        if self.study.direction == "sent" and not (clock is not None and clock.doubtful):
            own_w = self._judged.spots["power_w"].to_numpy(float)
            known = {
                (a, b): powers.between(spots, a, b, own_w=own_w, study=self.study, budgets=self.budgets)
                for a, b in combinations(names, 2)
            }
        self._progress("comparing")
        limit_db = self.study.options.decoding_limit_db
        found = several(spots, names, powers=known, clock=clock, decoding_limit_db=limit_db)
        return replace(found, direction=self.study.direction)

    def before_after(
        self, before: datetime, after: datetime, *control: str, power_difference_db: float | None = None
    ) -> Comparison:
        """A step that cannot be taken back: reports from before a moment against those after another, beside controls.

        before : reports earlier than this are the setup "before"; after : those from then on are "after"
        control : as for `compare`; those that serve best where none is named
        """
        from reach import study as studies

        sessions = [{"setup": "before", "end": before}, {"setup": "after", "start": after}]
        setups: dict[str, Any] = {"before": {}, "after": {}} | {
            name: each.model_dump() for name, each in self.study.setups.items()
        }
        asked = self.study.compare
        named = control or (asked.control if asked else None) or ()
        study = studies.changed(
            self.study, setups=setups, sessions=sessions, schedule=None, schedule_confirmed=True, compare=None
        )
        walk = over(study, fixes=self._fixes, now=self._now, progress=self._progress)
        names = [named] if isinstance(named, str) else list(named)
        return walk.compare(
            "after", "before", control=names or list(walk._near_by()), power_difference_db=power_difference_db
        )

    @cached_property
    def season(self) -> Season | None:
        """The level over weeks as the study asks for it; None where it does not."""
        return self.level() if self.study.season is not None else None

    def level(self, *controls: str, watch: bool | None = None) -> Season:
        """The station's level from day to day against controls, and where it changed.

        controls : callsigns whose rows these files hold, or files of their own; those of the study where left out, and where
            it names none either, those that serve best
        watch : whether someone looks every day; as the study says where left out
        Returns Season. InputError where a control is neither a file nor in these files.
        """
        from reach.compare.season import season

        asked = self.study.season
        names = controls or (tuple(asked.controls) if asked else ())
        self._progress("looking at the season")
        spots = self.vetted.spots
        beside = {name: self._control(name) for name in names} if names else self._near_by()
        return season(
            spots,
            beside,
            log=[(entry.date, entry.done, entry.swr) for entry in self.study.log],
            watch=(asked.watch if asked else False) if watch is None else watch,
            chosen=not names,
            station=self.study.station.callsign or next(iter(self.owned.own), ""),
            direction=self.study.direction,
            decoding_limit_db=self.study.options.decoding_limit_db,
        )

    def _near_by(self) -> dict[str, pd.DataFrame]:
        """Of the stations whose rows were set aside, those that serve best as controls: near ones, and far ones only where
        there is no other."""
        from reach.compare import neighbours

        others = {call: self._set_aside(call) for call in list(self.owned.other)[:MOST_LOOKED_AT]}
        found = neighbours.neighbours(self.vetted.spots, others)
        near = [each.call for each in found if each.fit is neighbours.Fit.GOOD]
        far = [each.call for each in found if each.fit in (neighbours.Fit.FAR, neighbours.Fit.NO_PLACE)]
        return {call: others[call] for call in near or far}

    def _control(self, name: str) -> pd.DataFrame:
        """The spots of a control station: of another file, read and judged as this one, or of a transmitter whose rows in
        these files were set aside."""
        from reach.study import Station

        if Path(self.study.folder, name).exists():
            told = {"files": [name], "sessions": [], "schedule": None, "compare": None, "station": Station()}
            return over(self.study.model_copy(update=told), now=self._now, progress=self._progress).vetted.spots
        return self._set_aside(name)

    def _set_aside(self, callsign: str) -> pd.DataFrame:
        """The spots of a transmitter whose rows were set aside, judged as this station's are."""
        from reach.assign import owners
        from reach.vet import rules

        return rules.vet(owners.rows_of(self.owned, callsign), options=self._options, now=self._judged_at).spots

    def kept(self) -> list[Taken]:
        """What a collection keeps of each file."""
        from reach.archive import taking

        return taking.take(self.owned, self.inputs, options=self._options, now=self._judged_at)

    @cached_property
    def findings(self) -> Findings:
        """Everything as one record: what pictures, page and slides are made from."""
        from reach.findings import Findings
        from reach.measure.receivers import receivers

        applied = self._mended[1]
        return Findings(
            study=self.study,
            inputs=self.inputs,
            counts=self.counts,
            spots=self.spots,
            problems=self.problems,
            suspects=self.suspects,
            receivers=receivers(self.tally),
            tally=self.tally,
            reach=self.reach,
            comparison=self.comparison,
            season=self.season,
            several=self.several,
            budgets=self.budgets,
            fixed_rows=applied.rows,
            now=self.now,
            notes=self.notes,
        )

    @property
    def clock_notes(self) -> tuple[Note, ...]:
        """What is odd about the clocks of schedule and file, where no comparison says so already."""
        from reach.assign import clock
        from reach.findings import Note, NoteCode
        from reach.place.wrong_light import wrong_light

        said = []
        if self.study.compare is None and self.clock is not None and self.clock.doubtful:
            said.append(Note(NoteCode.SCHEDULE, {"code": self.clock.code, "values": self.clock.values}))
        newest, now = self._judged.newest_utc, self.now
        by_min = clock.future_min(newest, now) if newest is not None else None
        if newest is not None and self._clock_is_behind:
            shown = {name: f"{moment:%Y-%m-%d %H:%M}" for name, moment in (("now", now), ("newest", newest))}
            said.append(Note(NoteCode.CLOCK_BEHIND, shown))
        elif newest is not None and by_min is not None:
            ahead_min = (newest - now).total_seconds() / 60
            said.append(Note(NoteCode.FUTURE, {"ahead_min": ahead_min, "by_min": by_min}))
        light = wrong_light(self.spots) if self.can_place else None
        if light is not None:
            values = {"wrong": light.wrong, "after_h": light.after_h, "after": light.after}
            said.append(Note(NoteCode.WRONG_LIGHT, values))
        return tuple(said)

    # --- what is made from them ---------------------------------------------------------------------------------------

    @property
    def receivers(self) -> geopandas.GeoDataFrame:
        """Who heard it from where: spots.RECEIVERS with a point each, in WGS 84 (EPSG:4326)."""
        import geopandas

        table = self.findings.receivers
        points = geopandas.points_from_xy(table["rx_lon_deg"], table["rx_lat_deg"])
        return geopandas.GeoDataFrame(table, geometry=points, crs="EPSG:4326")

    @property
    def plot(self) -> Plot:
        """The pictures, onto axes of your own: `w.plot.map(ax)`, `w.plot.distance()`, ..."""
        from reach.draw.plot import Plot

        return Plot(self.findings)

    def write(self, out: str | Path, *, style: str = "light", csv: bool = False, replace: bool = False) -> Path:
        """Write the folder of page, pictures and tables.

        out : folder to make, or of an earlier run to replace; what else is in it stays
        style : light or dark, for the pictures
        csv : spots as CSV even where they are so many that Parquet serves better
        replace : whether files that were changed after an earlier run may be written over
        Returns the folder. OutputError, before anything is read, where it is to be left alone or would take what is read.
        """
        from reach.tell import files, folder

        inputs = [*files.read_by(self.study), self._fixes]
        folder.check(Path(out), makes=folder.MAKES, replace=replace, inputs=inputs)
        return folder.write(self.findings, out, style=style, csv=csv, replace=replace, progress=self._progress)

    def __str__(self) -> str:
        """The answer in six lines: what, where every row went, how far, where to, when, which setup."""
        return "\n".join(self._lines())

    def __repr__(self) -> str:
        return str(self)

    def _repr_html_(self) -> str:
        """The same for a notebook."""
        title, counts, *lines = (html.escape(line) for line in self._lines())
        answer = "".join(f"<li>{line}</li>" for line in lines)
        return f"<h4>{title}</h4><p><small>{counts}</small></p><ul>{answer}</ul>"

    def _lines(self) -> list[str]:
        from reach.base.words import TERMINAL
        from reach.tell.sentences import reach as sentences

        found = self.findings
        answer = [sentence.text for sentence in sentences.answer(found, TERMINAL)]
        counts = " ".join([sentences.counts(found, TERMINAL), *sentences.left_out(found, TERMINAL)])
        return [sentences.title(found, TERMINAL), counts, *answer]


class Collected(Walk):
    """The same walk over a collection. Its rows were read and judged one by one when they were added; what the user may change
    since, corrections, setups, sessions and the station's place and power, is applied now, and so is the search for duplicates."""

    @cached_property
    def folder(self) -> Path:
        """The collection."""
        found = _collection(self.study)
        assert found is not None
        return found

    def _of_both_directions(self) -> dict[str, Any]:
        return {}

    @cached_property
    def _calls(self) -> tuple[str, ...]:
        """The station's callsigns. InputError where the collection holds several stations and none is named."""
        from reach.archive import asked

        return asked.whose(self.folder, self.study)

    @cached_property
    def _entries(self) -> list[Entry]:
        from reach.archive import ledger

        return ledger.read(self.folder).holding(self._calls, self.study.direction)

    @cached_property
    def _loaded(self) -> Loaded:
        from reach.archive import collection

        self._progress("reading")
        days = {name: moment.date() for name in ("start", "end") if (moment := getattr(self.study, name)) is not None}
        return collection.load(self.folder, self._calls, self.study.direction, **days)

    @cached_property
    def _read(self) -> tuple[pd.DataFrame, list[InputFile]]:
        from reach.findings import InputFile

        return self._loaded.spots, [
            InputFile(entry.name, entry.sha256, entry.rows, entry.unused_headers) for entry in self._entries
        ]

    @cached_property
    def _mended(self) -> tuple[pd.DataFrame, Applied]:
        from reach.archive import asked
        from reach.vet import fixes

        path = self._fixes or asked.fixes_of(self.folder)
        return asked.mended(self._loaded, fixes.read(path) if path else [])

    @property
    def _waited(self) -> int:
        """How many rows were refused for their locator, and are mended now."""
        return len(self._mended[0]) - len(self._loaded.spots)

    @cached_property
    def owned(self) -> Owned:
        """The rows of the station. Those of others in the same files lie in the collection beside them."""
        from reach.archive import asked

        return asked.owned(self._mended[0], self._entries, self._calls, self.study)

    @cached_property
    def _moments(self) -> Moments:
        from reach.read.times import known

        return known(self.owned.raw["time_utc"])

    def _vetted_rows(self) -> Vetted:
        from dataclasses import replace

        from reach.archive import collection
        from reach.vet import rules
        from reach.vet.ledger import in_file_order

        found = rules.once(self.assigned)
        told = collection.problems(self.folder, self._calls, self.study.direction, mended=self._mended[0])
        return replace(found, problems=in_file_order(self.raw, told, found.problems))

    @property
    def counts(self) -> Counts:
        """Where every row went of the files that hold something of the station."""
        from reach.findings import Counts

        rejected = sum(entry.share(self._calls).rejected for entry in self._entries) - self._waited
        aside = self.owned.set_aside + self._loaded.beyond
        return self.vetted.counts + Counts(rejected + aside, 0, rejected, 0, aside)

    @property
    def _outside(self) -> int:
        return super()._outside + self._loaded.beyond

    def _set_aside(self, callsign: str) -> pd.DataFrame:
        from reach.archive import collection
        from reach.assign import owners
        from reach.vet import rules

        return rules.once(collection.load(self.folder, [owners.base(callsign)], self.study.direction).spots).spots

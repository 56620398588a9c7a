"""The walk: read, assign, vet, place, suspects, measure, compare; then draw and tell.

Each stage of a `Walk` is worked out once, when it is first asked for, from the stage before it. A command asks for the
stage it needs and for no more: `reach vet` stops at the suspects, `reach plan` at the vetted rows. The stages are the
plain functions that the library offers (`reach.read`, `reach.assign`, ...); nothing is worked out here.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import cached_property
from itertools import combinations
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach.base import ways
from reach.errors import CompareError, StudyError
from reach.rows import Progress, Rows, silent

if TYPE_CHECKING:
    import geopandas
    import pandas as pd

    from reach.assign.clock import ClockFit
    from reach.assign.owners import Owned
    from reach.compare.comparison import Comparison
    from reach.compare.season.found import Season
    from reach.compare.several import Several
    from reach.draw.plot import Plot
    from reach.findings import Counts, Findings, InputFile, Note
    from reach.measure.calendar import Calendar
    from reach.measure.reach import Reach
    from reach.measure.tally import Tally
    from reach.radio.power import Budget
    from reach.read.understood import Understood
    from reach.study import Study
    from reach.suspects.find import Doubts
    from reach.vet.ledger import Problems
    from reach.vet.rules import Vetted

MOST_LOOKED_AT: Final = 12  # transmitters that might be controls of a season, those with most rows
UNTOLD_SHARE: Final = 0.5  # of the rows must leave their setup to the schedule, for its clock to matter


def walk(
    study: Study | str | Path | Iterable[str | Path],
    *,
    callsign: str | None = None,
    locator: str | None = None,
    power_w: float | None = None,
    fixes: str | Path | None = None,
    now: datetime | None = None,
    progress: Progress = silent,
) -> Walk:
    """From the files of a study to everything that can be said about them.

    study : a Study, a study file (.toml), a file of spots, or several
    callsign, locator, power_w : of the station, where there is no study to say them; a callsign of another station than the
        study's own asks it of that one, and nothing that it says of its own counts then
    fixes : corrections that the user approved, as written by `reach vet --write-fixes` and filled in; the study's own where
        left out
    now : no spot may be later; the clock's time where left out
    progress : told the name of each step
    Returns Walk; each of its stages is worked out when it is first asked for. ReachError, one sentence, where the input
    will not do.
    """
    station = {"callsign": callsign, "locator": locator, "power_w": power_w}
    known = {name: value for name, value in station.items() if value is not None}
    return Walk(_study(study, known), fixes=fixes, now=now, progress=progress)


def _study(given: Study | str | Path | Iterable[str | Path], station: dict[str, Any]) -> Study:
    from reach import study as studies
    from reach.assign import owners
    from reach.study import Study

    if isinstance(given, Study):
        base = given
    elif isinstance(given, (str, Path)) and str(given).lower().endswith(".toml"):
        base = studies.load(given)
    else:
        base = Study(files=[str(given)] if isinstance(given, (str, Path)) else [str(name) for name in given])
    return studies.changed(owners.asked_of(base, station.get("callsign")), station=station)


def _rows(study: Study, **given: Any) -> Rows:
    """The rows of what a study names: of files, or of a collection."""
    from reach.archive import rows

    return (Rows if rows.collection_of(study) is None else rows.CollectedRows)(study, **given)


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
    calendar  a long period day by day, its hours month by month; None where it is short
    season    the level over weeks, or None where the study does not ask for it (reach.compare.season)
    findings  all of it as one record, which pictures, page and slides read
    """

    def __init__(
        self,
        study: Study,
        *,
        fixes: str | Path | None = None,
        now: datetime | None = None,
        progress: Progress = silent,
    ) -> None:
        self._go_on_from(_rows(study, fixes=fixes, now=now, progress=progress))

    def _go_on_from(self, rows: Rows) -> None:
        self.study, self.rows, self._progress = rows.study, rows, rows.progress
        self._controls: dict[str, Rows] = {}

    def towards(self, direction: str) -> Walk:
        """The same walk in a direction, "sent" or "heard": the files are not read again."""
        if direction == self.study.direction:
            return self
        other = object.__new__(Walk)
        other._go_on_from(self.rows.towards(direction))
        return other

    def mended_by(self, study: Study) -> Walk:
        """The same walk with the corrections of a study that differs in nothing else: the files are not read again."""
        other = object.__new__(Walk)
        other._go_on_from(self.rows.mended_by(study))
        return other

    # --- the stages, in their order -----------------------------------------------------------------------------------

    @property
    def now(self) -> datetime:
        """What counts as now: no report can be later."""
        return self.rows.now

    @property
    def raw(self) -> pd.DataFrame:
        """Every row of the files, all cells text."""
        return self.rows.raw

    @property
    def inputs(self) -> tuple[InputFile, ...]:
        """The files behind it."""
        return self.rows.inputs

    @property
    def understood(self) -> list[Understood]:
        """How each file was read."""
        return self.rows.understood

    @property
    def owned(self) -> Owned:
        """The rows that are this station's in the direction that is studied; the others are set aside."""
        return self.rows.owned

    @property
    def assigned(self) -> pd.DataFrame:
        """The raw rows with the setups and sessions that the study tells."""
        return self.rows.assigned

    @property
    def vetted(self) -> Vetted:
        """Rows judged one by one: .spots, .problems, .counts."""
        return self.rows.vetted

    @property
    def counts(self) -> Counts:
        """Where every row went."""
        return self.rows.counts

    @cached_property
    def notes(self) -> tuple[Note, ...]:
        """What was assumed and what was left out: whose rows, corrections without a row, where the station was."""
        from reach import notes

        placed = self.spots if self.can_place else None
        suspects = len(self.suspects) if self.can_place else 0
        return notes.notes(self.rows, placed=placed, suspects=suspects, clock=self.clock)

    @property
    def control_notes(self) -> tuple[Note, ...]:
        """Where every row went of the files of control stations that were asked for so far."""
        from reach import notes

        return tuple(notes.control(name, rows.counts) for name, rows in self._controls.items())

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
        return daylight.daylight(place(spots), self.rows.daylight)

    @cached_property
    def doubts(self) -> Doubts:
        """The suspects, and the spots with how far each locator can be trusted."""
        from reach.base import memory
        from reach.suspects import suspects

        placed = self.placed
        self._progress("looking for suspects")
        with memory.sparing():
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
    def wrong(self) -> Problems:
        """Every row that was rejected or is doubtful, to be gone through piece by piece. Without the station's locator
        nobody can look for suspects, and these are the rows that were judged alone."""
        found = self.vetted.wrong
        return found.beside(self.raw, self.doubts.problems) if self.can_place else found

    @property
    def problems(self) -> pd.DataFrame:
        """The same as one table: spots.PROBLEMS, in file order."""
        return self.wrong.table

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

        planned = self.rows.schedule if self.rows.schedule is not None else schedule.of_sessions(self.study)
        if planned is None or self.study.schedule_confirmed:
            return None
        named = {str(name) for name in planned["setup"].unique()}
        untold = sessions.untold(self.owned.raw, self.study, moments=self.rows.moments)[self.rows.judged.rows]
        if not {a, b} - {None} <= named or not len(untold) or untold.mean() < UNTOLD_SHARE:
            return None
        lon_deg = None
        where = self.rows.judged.spots["tx_locator"].dropna()
        if len(where):
            lon_deg = float(locator.centre([str(where.iloc[0])])[0][0])
        found = clock.fit(self.rows.judged.spots[untold], planned, a=a, b=b, station_lon_deg=lon_deg)
        return found if self.rows.schedule is not None or found is None else replace(found, told_by=clock.SESSIONS)

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
        study = self.study.model_copy(update={"options": self.rows.options})
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
    def calendar(self) -> Calendar | None:
        """A long period day by day, its hours month by month, the farthest of each month; None where it is short."""
        from reach.assign import schedule
        from reach.measure.calendar import calendar

        windows = self.rows.schedule if self.rows.schedule is not None else schedule.of_sessions(self.study)
        return calendar(self.tally, windows)

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

        from reach import study as studies
        from reach.assign import frequencies, powers
        from reach.compare import compare, evidence
        from reach.study import one_or_several

        asked, two = self.study.compare, self._two or (None, None)
        a, b = a or two[0], b or two[1]
        if not (a and b):
            raise StudyError(f"name the two setups with {ways.asked('pair')}.")
        beside = one_or_several(control) or (asked.controls if asked else ())
        if frequencies.two((a, b)) not in (None, self.rows.by_mhz):
            # What was sent on both at once is no duplicate then, so the rows are judged for these two.
            study = studies.changed(self.study, compare={"a": a, "b": b})
            return Walk(study, **self.rows.given).compare(control=beside, power_difference_db=power_difference_db)
        spots = self._comparable()
        clock = self.clock if (a, b) == two else self._clock(a, b)
        known = None
        sent = self.study.direction == "sent"  # the power of what was heard is the other end's, pair by pair the same
        if sent and power_difference_db is None and not (clock is not None and clock.doubtful):
            names = evidence.names_of(spots, a, b)
            own_w = self.rows.judged.spots["power_w"].to_numpy(float)
            known = powers.between(spots, a, b, own_w=own_w, study=self.study, budgets=self.budgets, names=names)
        self._progress("comparing")
        found = compare(
            spots,
            a,
            b,
            power_difference_db=power_difference_db,
            powers=known,
            clock=clock,
            control={name: self.control(name) for name in beside},
            decoding_limit_db=self.study.options.decoding_limit_db,
        )
        return replace(found, direction=self.study.direction)

    def _comparable(self) -> pd.DataFrame:
        """The spots; CompareError where there is none: that no setup is called so would be true and beside the point."""
        spots, rows = self.spots, self.counts
        if not len(spots):
            raise CompareError(
                f"there is no spot to compare: of {rows.read:,} rows {rows.rejected:,} were rejected, {rows.set_aside:,} "
                "set aside, and none is left in the period and on the bands asked for; "
                f"{ways.asked('problems')} says why, row by row"
            )
        return spots

    def compare_several(self, setups: Sequence[str]) -> Several:
        """Three to eight setups compared at once; CompareError where they are fewer, more, or not all different."""
        from dataclasses import replace

        from reach.assign import powers
        from reach.compare.several import several

        spots, names = self._comparable(), tuple(setups)
        counts = spots["setup"].astype(object).value_counts()
        most = sorted(names, key=lambda name: -int(counts.get(name, 0)))[:2]
        clock = self._clock(*most)  # one schedule has one clock: the two with most reports show it best
        known = {}
        if self.study.direction == "sent" and not (clock is not None and clock.doubtful):
            own_w = self.rows.judged.spots["power_w"].to_numpy(float)
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
        named = control or (asked.controls if asked else ())
        study = studies.changed(
            self.study, setups=setups, sessions=sessions, schedule=None, schedule_confirmed=True, compare=None
        )
        walk = Walk(study, **self.rows.given)
        walk._controls = self._controls
        return walk.compare(
            "after", "before", control=named or list(walk._near_by()), power_difference_db=power_difference_db
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
        beside = {name: self.control(name) for name in names} if names else self._near_by()
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
        from reach.compare import control

        others = {call: self.rows.set_aside(call) for call in list(self.owned.other)[:MOST_LOOKED_AT]}
        found = control.neighbours(self.vetted.spots, others)
        near = [each.call for each in found if each.fit is control.Suits.GOOD]
        far = [
            each.call
            for each in found
            if each.fit in (control.Suits.FAR, control.Suits.NO_PLACE, control.Suits.NO_HOME)
        ]
        return {call: others[call] for call in near or far}

    def control(self, name: str) -> pd.DataFrame:
        """The spots of a control station: of another file, read and judged as this one, or of a transmitter whose rows in
        these files were set aside."""
        from reach.study import Station

        if Path(self.study.folder, name).exists():
            told = {
                "files": [name], "fixes": None, "sessions": [], "schedule": None, "compare": None, "station": Station(),
            }  # fmt: skip
            if name not in self._controls:
                given = {**self.rows.given, "fixes": None}
                self._controls[name] = _rows(self.study.model_copy(update=told), **given)
            return self._controls[name].vetted.spots
        return self.rows.set_aside(name)

    @cached_property
    def findings(self) -> Findings:
        """Everything as one record: what pictures, page and slides are made from."""
        from reach.findings import Findings
        from reach.measure.receivers import receivers

        applied = self.rows.applied
        return Findings(
            study=self.study,
            inputs=self.inputs,
            counts=self.counts,
            spots=self.spots,
            wrong=self.wrong,
            suspects=self.suspects,
            receivers=receivers(self.tally),
            tally=self.tally,
            reach=self.reach,
            comparison=self.comparison,
            season=self.season,
            several=self.several,
            calendar=self.calendar,
            budgets=self.budgets,
            fixed_rows=applied.rows,
            now=self.now,
            notes=(*self.notes, *self.control_notes),
        )

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

        inputs = [*files.read_by(self.study), self.rows.fixes]
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
        from reach.base.words import LIBRARY
        from reach.tell.sentences import reach as sentences

        found = self.findings
        answer = [sentence.text for sentence in sentences.answer(found, LIBRARY)]
        counts = " ".join([sentences.counts(found, LIBRARY), *sentences.left_out(found, LIBRARY)])
        return [sentences.title(found, LIBRARY), counts, *answer]

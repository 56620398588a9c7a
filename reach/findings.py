"""What one walk finds: the one record that pictures, page, slides, film and tables are made from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, replace
from enum import StrEnum
from functools import cached_property
from typing import TYPE_CHECKING, Any, NamedTuple

from reach.base import bands
from reach.spots import CORROBORATED

if TYPE_CHECKING:
    from datetime import datetime

    import pandas as pd

    from reach.base.local_time import LocalTime
    from reach.compare.comparison import Comparison
    from reach.compare.season.found import Season
    from reach.compare.several import Several
    from reach.measure.calendar import Calendar
    from reach.measure.reach import Reach
    from reach.measure.tally import Pooled, Tally
    from reach.radio.power import Budget, Stated
    from reach.read.understood import Understood
    from reach.study import Study
    from reach.vet.ledger import Problems


@dataclass(frozen=True)
class Counts:
    """Where every row went. read == accepted + rejected + duplicates + set_aside, always.

    set_aside : rows of other stations, and of this one in the other direction; never judged, so never rejected
    """

    read: int
    accepted: int
    rejected: int
    duplicates: int
    set_aside: int = 0

    def __post_init__(self) -> None:
        if self.read != self.accepted + self.rejected + self.duplicates + self.set_aside:
            raise AssertionError(f"rows were lost: {self}")

    @property
    def numbers(self) -> dict[str, int]:
        """All of them by name, as every file has them."""
        return asdict(self)

    def __add__(self, other: Counts) -> Counts:
        return Counts(
            self.read + other.read,
            self.accepted + other.accepted,
            self.rejected + other.rejected,
            self.duplicates + other.duplicates,
            self.set_aside + other.set_aside,
        )


@dataclass(frozen=True)
class InputFile:
    """One input as the manifest names it: base name, SHA-256 of its bytes, rows read, headers not used; how it was read."""

    name: str
    sha256: str
    rows: int
    unused_headers: tuple[str, ...] = ()
    understood: Understood | None = field(default=None, compare=False, repr=False)


class NoteCode(StrEnum):
    """What a walk may want to tell once."""

    OUTSIDE_SESSIONS = "outside-sessions"  # spots: how many lie outside every session and schedule row
    STATION_TAKEN = "station-taken"  # direction, call, rows: the only one there is was taken for the station
    OTHERS_SET_ASIDE = "others-set-aside"  # direction, rows, calls (callsign -> rows)
    OPPOSITE_SET_ASIDE = "opposite-set-aside"  # direction, rows: of the station, in the other direction
    ENDS_TURNED = "ends-turned"  # file, tx_hz, rx_hz: spread of own rows in a slot as transmitter, as receiver
    MANY_REJECTED = (
        "many-rejected"  # rows, of, rules (rule -> rows, the most frequent first): a tenth of the rows or more
    )
    NOT_ASKED = "not-asked"  # rows, and of start, end (ISO 8601), bands what was asked: sound rows outside of it
    ONE_PATH = "one-path"  # direction, call, rows: the far end is one station alone
    STATION_MOVED = "station-moved"  # locators (locator -> rows): each is a session of its own
    SCHEDULE = "schedule"  # code, values: of assign.clock.ClockFit, whose schedule does not fit the reports
    CLOCK_BEHIND = (
        "clock-behind"  # now, newest (ISO 8601 to the minute): most reports are later than the machine's clock
    )
    FUTURE = "future"  # ahead_min, by_min: reports later than now, and by how much a clock is ahead at least
    WRONG_LIGHT = (
        "wrong-light"  # wrong, after_h, after: share of reports in the wrong light, and of what shift mends it
    )
    MANY_SUSPECTS = "many-suspects"  # suspects, searched: for how many of them it was looked what was meant
    CONTROL_READ = "control-read"  # file, counts (of Counts): where every row of a control's own file went
    FIX_WITHOUT_ROW = "fix-without-row"  # where, call, locator: a correction that matches no row any more


class Note(NamedTuple):
    """Something that the user should read once; `tell/sentences/notes.py` says it."""

    code: NoteCode
    values: Mapping[str, Any]


@dataclass(frozen=True, repr=False)
class Findings:
    """Everything that one walk found. Tables as `spots.py` describes them.

    study       what was asked
    inputs      the files behind it
    counts      read = accepted + rejected + duplicates + set aside
    spots       accepted rows, placed (spots.SPOT + spots.PLACED), with day and night (place.daylight.DAYLIGHT) and trust
    wrong       what is wrong with rows; problems: the same as one table, spots.PROBLEMS in file order
    suspects    one row a distinct suspect (rx_call, rx_locator), heaviest first
    receivers   spots.RECEIVERS, one row a distinct (rx_call, rx_locator)
    tally       counts that can be added, with the geometry and trust of each cell
    reach       every headline number with its interval
    comparison  two setups compared, or None where none was asked for
    season      the level over weeks, or None where the study does not ask for it
    several     three to eight setups compared at once, or None
    calendar    the period day by day, its hours month by month; None where it is short (measure.grain)
    budgets     power at the antenna, by (setup, band); missing where the study does not say enough
    fixed_rows  rows whose locator was replaced on the user's word
    now         what counted as now; None where nothing was judged by it
    notes       what the user should read once: fixes that match nothing, spots outside every session, ...
    """

    study: Study
    inputs: tuple[InputFile, ...]
    counts: Counts
    spots: pd.DataFrame
    wrong: Problems
    suspects: pd.DataFrame
    receivers: pd.DataFrame
    tally: Tally
    reach: Reach
    comparison: Comparison | None = None
    season: Season | None = None
    several: Several | None = None
    calendar: Calendar | None = None
    budgets: dict[tuple[str, str], Budget] = field(default_factory=dict)
    fixed_rows: int = 0
    now: datetime | None = None
    notes: tuple[Note, ...] = ()

    @property
    def problems(self) -> pd.DataFrame:
        """What is wrong with rows, all of it at once."""
        return self.wrong.table

    @property
    def direction(self) -> str:
        """ "sent": others heard this station; "heard": it heard others, and the columns rx_ speak of who transmitted."""
        return self.study.direction

    def __repr__(self) -> str:
        return f"<Findings: {self.counts.accepted} of {self.counts.read} rows, {len(self.receivers)} receivers>"

    @property
    def pooled(self) -> Pooled:
        """The tally's cells added up over days and over hours: what pictures and slides are drawn from."""
        return self.tally.pooled

    @cached_property
    def counted(self) -> pd.DataFrame:
        """Reports by hour of the day that findings rest on: of corroborated receivers only; may be empty."""
        return _corroborated(self.pooled.by_hour)

    @cached_property
    def counted_by_level(self) -> pd.DataFrame:
        """The same reports by SNR instead."""
        return _corroborated(self.pooled.by_level)

    def without_cells(self) -> Findings:
        """The same with the tally pooled, its cells let go: of a year they are most of what there is, and everything that is
        drawn and told from here on reads what is pooled."""
        return replace(self, tally=self.tally.without_cells())

    def for_pictures(self) -> Findings:
        """What pictures need of a walk: of the rows no more than the distinct powers."""
        return replace(
            self.without_cells(),
            spots=self.powered,
            wrong=self.wrong.none(),
        )

    @cached_property
    def sure(self) -> pd.DataFrame:
        """Receivers that findings rest on: corroborated ones."""
        return self.receivers[(self.receivers["trust"] == CORROBORATED).to_numpy()]

    @cached_property
    def unsure(self) -> pd.DataFrame:
        """All other receivers: shown, never counted."""
        return self.receivers[(self.receivers["trust"] != CORROBORATED).to_numpy()]

    @cached_property
    def station(self) -> tuple[str, str]:
        """Callsign and locator of the station: the study's, else those that most reports carry; "" where unknown."""
        asked = self.study.station
        return asked.callsign or self._most("tx_call"), asked.locator or self._most("tx_locator")

    @cached_property
    def local_time(self) -> LocalTime | None:
        """The clocks that are shown beside UTC, over the period of the reports; None where none are asked for."""
        if not self.study.local_time or not self.tally.reports:
            return None
        from reach.base.local_time import LocalTime

        first, last = (moment.to_pydatetime() for moment in (self.reach.first_utc, self.reach.last_utc))
        return LocalTime.over(self.study.local_time, first, last)

    @cached_property
    def powers(self) -> Stated:
        """The powers behind the spots, as every picture, page and slide states them: worked out once, over all rows.

        Where the station heard, the powers are those of others, each its own: none is stated as the station's.
        """
        from reach.radio import power

        if self.direction == "heard":
            return power.Stated("unknown")
        return power.stated(self.study, self.powered, self.budgets)

    @cached_property
    def powered(self) -> pd.DataFrame:
        """The distinct setups, bands and powers of the spots: nobody need go through millions of rows for a handful."""
        from reach.radio import power

        return power.distinct(self.spots)

    @cached_property
    def setup_order(self) -> tuple[str, ...]:
        """Every setup in the one order that lists and colours follow: those that are compared, in the order asked, heard or
        not, then the others by name."""
        first: tuple[str, ...] = ()
        if self.comparison is not None:
            first = (self.comparison.a, self.comparison.b)
        elif self.several is not None:
            first = self.several.setups
        elif self.study.compare is not None:
            first = self.study.compare.asked
        there = {str(name) for name in self.pooled.by_hour["setup"].dropna().unique()}
        return (*first, *sorted(there.difference(first)))

    @cached_property
    def setups(self) -> tuple[str, ...]:
        """The setups in use, in that order."""
        there = {str(name) for name in self.pooled.by_hour["setup"].dropna().unique()}
        return tuple(name for name in self.setup_order if name in there)

    @cached_property
    def bands(self) -> tuple[str, ...]:
        """The bands in use, longest wave first."""
        return tuple(bands.in_order(str(name) for name in self.pooled.by_hour["band"].dropna().unique()))

    def _most(self, column: str) -> str:
        rows = self.pooled.by_hour
        if rows.empty:
            return ""
        reports = rows.groupby(column, observed=True)["reports"].sum()
        return str(reports.idxmax()) if len(reports) else ""


def _corroborated(rows: pd.DataFrame) -> pd.DataFrame:
    return rows[(rows["trust"] == CORROBORATED).to_numpy()]

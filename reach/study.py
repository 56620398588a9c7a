"""A study: who transmitted from where, with which setups, when, and what is asked of the spots.

A study is written as TOML and checked here; nothing else in the project parses it. Unknown keys are errors that name
the nearest known key. Times are UTC. Paths in a study are relative to the study file.
"""

from __future__ import annotations

import difflib
import io
import re
import tomllib
from collections.abc import Iterable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, field_validator, model_validator

from reach.base import bands, local_time, text
from reach.base.tongue import ENGLISH, LANGUAGES
from reach.errors import StudyError

if TYPE_CHECKING:
    from reach.read.understood import Understood


def check_year(year: int) -> None:
    """The one rule for times that a user gives, in a study, a schedule or on the command line. ValueError outside YEARS."""
    if not YEARS[0] <= year <= YEARS[1]:
        raise ValueError(f"a time lies in the years {YEARS[0]} to {YEARS[1]}")


def utc(moment: datetime) -> datetime:
    """Times without an offset are UTC; others are turned into UTC. ValueError outside YEARS."""
    check_year(moment.year)
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _a_band(name: str) -> str:
    if name not in bands.names():
        raise ValueError(f"a band is called by its wavelength; known are {', '.join(bands.names())}")
    return name


def _day_within_years(day: date) -> date:
    check_year(day.year)
    return day


def _no_trace(power_w: float) -> float:
    if power_w < LEAST_W:
        raise ValueError(f"a power is a number of watts from {LEAST_W:g} to 100000")
    return power_w


YEARS: Final = (1900, 2199)  # both included, and far from the ends of what computers can count
LEAST_W: Final = 1e-9
LONGEST_TEXT: Final = 10_000  # characters of one text in a study
LARGEST_FILE: Final = 20_000_000  # bytes of a study, a schedule or a fixes file


def _a_language(code: str) -> str:
    if code and code not in LANGUAGES:
        known = ", ".join(f"{name} ({own})" for name, own in LANGUAGES.items())
        raise ValueError(f"{code!r} is none of the languages: {known}")
    return code


def _a_place_on_the_clock(zone: str) -> str:
    return local_time.checked(zone) if zone else zone


Language = Annotated[str, AfterValidator(_a_language)]
Moment = Annotated[datetime, AfterValidator(utc)]
Band = Annotated[str, AfterValidator(_a_band)]
Day = Annotated[date, AfterValidator(_day_within_years)]
Watt = Annotated[float, Field(gt=0, le=100_000), AfterValidator(_no_trace)]
_ZONE: Final = re.compile(r"Z|[+-](0\d|1[0-4]):[0-5]\d")
_FILE_NAMES: Final = {"files", "fixes", "schedule", "control", "controls", "source", "folder"}
_NOT_IN_A_FILE: Final = {"folder", "source"}  # what a Study knows of its file beside what the file says


def _a_zone(zone: str | None) -> str | None:
    if zone is not None and not _ZONE.fullmatch(zone):
        raise ValueError("a zone is written as its offset from UTC, such as '+01:00'")
    return zone


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _clean(cls, given: Any) -> Any:
        return _cleaned(given)


class Cable(_Part):
    """A feedline: a class of cable from the bundled table, or the user's own loss at a frequency."""

    kind: str | None = Field(default=None, description="class of cable, such as 'RG-58 class'")
    length_m: float = Field(ge=0, le=1_000_000, description="length in metres")
    loss_db_per_100m: float | None = Field(default=None, ge=0, le=10_000, description="own figure, instead of `kind`")
    loss_at_mhz: float | None = Field(default=None, ge=0.001, le=300_000, description="the frequency of that figure")

    @model_validator(mode="after")
    def _one_source(self) -> Cable:
        own = self.loss_db_per_100m is not None
        if own == (self.kind is not None):
            raise ValueError("give either `kind` or `loss_db_per_100m` with `loss_at_mhz`")
        if own != (self.loss_at_mhz is not None):
            raise ValueError("`loss_db_per_100m` and `loss_at_mhz` go together")
        return self


class Match(_Part):
    """How an antenna matches the feedline."""

    swr: float | None = Field(default=None, ge=1, le=100_000, description="SWR at the antenna")
    resistance_ohm: float | None = Field(default=None, ge=1e-3, le=1e7, description="R at the antenna")
    reactance_ohm: float | None = Field(default=None, ge=-1e7, le=1e7, description="X at the antenna")

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.resistance_ohm is None) != (self.reactance_ohm is None):
            raise ValueError("`resistance_ohm` and `reactance_ohm` go together")
        if self.swr is not None and self.resistance_ohm is not None:
            raise ValueError("give either `swr` or `resistance_ohm` with `reactance_ohm`")
        return self


class _Fed(_Part):
    antenna: str = Field(default="", description="in your own words")
    power_w: Watt | None = Field(default=None, description="power at the radio; the station's where left out")
    cable: Cable | None = None


class Setup(Match, _Fed):  # fields of the last come first, and so they are written
    """An antenna with its feedline and power; its match, and that on single bands where it was measured there."""

    bands: dict[Band, Match] = Field(
        default_factory=dict, description="SWR, or R and X, on a band, such as { 40m = { swr = 1.8 } }"
    )

    def on(self, band: str | None) -> Match:
        """Its match on a band: as measured there, else what it has for all of them."""
        return self.bands.get(band or "", self)


class Session(_Part):
    """A stretch of time on one setup: a window, some files, or a window within some files."""

    name: str = ""
    setup: str
    start: Moment | None = None
    end: Moment | None = None
    files: list[str] = Field(default_factory=list)

    @model_validator(mode="after")
    def _says_something(self) -> Session:
        if self.start is None and self.end is None and not self.files:
            raise ValueError("a session needs `start` and `end`, or `files`")
        if self.start and self.end and self.start >= self.end:
            raise ValueError(f"`start` {self.start:%Y-%m-%d %H:%M} is not before `end` {self.end:%Y-%m-%d %H:%M}")
        return self


class Station(_Part):
    """The station under study."""

    callsign: str = Field(default="", description="as transmitted; blank: as in the spots")
    locator: str = Field(default="", description="six characters; blank: as in the spots")
    power_w: Watt | None = Field(default=None, description="power at the radio")


class Options(_Part):
    """How rows are read and judged."""

    itu_region: Literal[1, 2, 3] | None = Field(
        default=None, description="whose band edges count; unset: that of the station's locator"
    )
    four_character_locators: bool = Field(default=False, description="accept squares such as JN58")
    day_first: bool | None = Field(default=None, description="how to read 03/05/2026; unset: an error shows both")
    columns: dict[str, str] = Field(default_factory=dict, description="our column = header in the file, or its number")
    zone: str | None = Field(
        default=None, description="zone of times that name none, such as '+01:00'; UTC where left out"
    )
    decoding_limit_db: float | None = Field(
        default=None, ge=-200, le=100, description="known decoding limit in 2500 Hz"
    )

    _zone = field_validator("zone")(_a_zone)


class Reading(_Part):
    """How the files of one exporter are read: what the user settled, so that it is asked once. Goes before `options`."""

    file: str = Field(description="name of the file, or a pattern such as 'log-*.csv'")
    columns: dict[str, str] = Field(default_factory=dict, description="our column = header in the file, or its number")
    day_first: bool | None = Field(default=None, description="how to read 03/05/2026")
    zone: str | None = Field(default=None, description="zone of times that name none, such as '+01:00'")

    _zone = field_validator("zone")(_a_zone)


def one_or_several(names: str | Iterable[str] | None) -> tuple[str, ...]:
    """Names that may be given as one, as several, or not at all."""
    return (names,) if isinstance(names, str) else tuple(names or ())


class Comparison(_Part):
    """Which setups to compare: two, or three to eight at once."""

    a: str | None = Field(default=None, description="the one of two")
    b: str | None = Field(default=None, description="the other")
    setups: list[str] = Field(default_factory=list, max_length=8, description="three to eight, instead of `a` and `b`")
    control: str | list[str] | None = Field(
        default=None,
        description="callsign of a control station in the same files, or a file with its spots; or several",
    )

    @model_validator(mode="after")
    def _two_or_several(self) -> Comparison:
        named = {self.a is not None, self.b is not None}
        if len(named) > 1 or bool(self.setups) in named:
            raise ValueError("name two setups with `a` and `b`, or three to eight with `setups`")
        if self.setups and len(self.setups) < 3:
            raise ValueError("`setups` wants three to eight names; two are named with `a` and `b`")
        twice = next((name for name in self.asked if self.asked.count(name) > 1), None)
        if twice is not None:
            count = "two different setups" if self.two else "different setups"
            raise ValueError(f"`compare` needs {count}, not {twice!r} twice")
        return self

    @property
    def controls(self) -> tuple[str, ...]:
        """Every control, in the order given."""
        return one_or_several(self.control)

    @property
    def asked(self) -> tuple[str, ...]:
        """Every setup that is compared, in the order given."""
        return self.two or tuple(self.setups)

    @property
    def two(self) -> tuple[str, str] | None:
        """The two that are compared; None where there are more."""
        return None if self.a is None or self.b is None else (self.a, self.b)


class Entry(_Part):
    """A line of the station's log: what was done on a day. It is marked on the season's curve and sized."""

    date: Day
    done: str = Field(min_length=1, description="in your own words, such as 'new mast'")
    swr: float | None = Field(default=None, ge=1, le=100_000, description="as read afterwards")


class Season(_Part):
    """That the level is watched over weeks, against which stations."""

    controls: list[str] = Field(
        default_factory=list,
        description="callsigns in the same files, or files of their own; blank: those that serve best",
    )
    watch: bool = Field(default=False, description="true: looked at every day, so that more is asked of a claim")


class Study(_Part):
    """The whole of it."""

    title: str = ""
    about: str = Field(default="", description="one or two sentences for the report")
    made_up: bool = Field(default=False, description="true for demonstration data; every output then says so")
    files: list[str] = Field(default_factory=list, description="CSV files, globs allowed")
    readings: list[Reading] = Field(default_factory=list, description="how single files are read, where it was asked")
    fixes: str | None = Field(default=None, description="CSV with the corrections that you approved")
    schedule: str | None = Field(default=None, description="CSV with start, end, setup")
    direction: Literal["sent", "heard"] = Field(
        default="sent", description="sent: others heard this station; heard: this station heard others"
    )
    schedule_zone: str | None = Field(
        default=None, description="zone of its times, such as '+01:00'; UTC where left out"
    )
    schedule_shift_min: float = Field(
        default=0.0,
        ge=-1440,
        le=1440,
        description="minutes to add to its times; to the sessions' where there is no schedule",
    )
    schedule_confirmed: bool = Field(default=False, description="true: it is right, whatever the reports say")
    station: Station = Field(default_factory=Station)
    setups: dict[str, Setup] = Field(default_factory=dict)
    sessions: list[Session] = Field(default_factory=list)
    compare: Comparison | None = None
    start: Moment | None = Field(default=None, description="only spots from this moment on")
    end: Moment | None = Field(default=None, description="only spots before this moment")
    now: Moment | None = Field(default=None, description="the moment that counts as now; the clock's where left out")
    bands: list[Band] = Field(default_factory=list, description="only spots on these bands, such as '20m'")
    season: Season | None = None
    log: list[Entry] = Field(default_factory=list, description="what was done to the station, and when")
    options: Options = Field(default_factory=Options)
    language: Language = Field(
        default="", description="of page, pictures, slides and film, such as 'de'; that of the system where left out"
    )
    local_time: Annotated[str, AfterValidator(_a_place_on_the_clock)] = Field(
        default="", description="zone whose local time is shown beside UTC, such as 'Europe/Berlin'"
    )
    folder: Path = Field(default=Path("."), exclude=True, repr=False, description="where relative paths start")
    source: str = Field(default="", exclude=True, repr=False, description="its TOML, so that a rewrite keeps comments")

    @model_validator(mode="after")
    def _names_agree(self) -> Study:
        asked = [s.setup for s in self.sessions] + (list(self.compare.asked) if self.compare else [])
        if self.setups:
            for name in asked:
                if name not in self.setups:
                    raise ValueError(f"no setup is called {name!r}; there are {', '.join(map(repr, self.setups))}")
        if self.start and self.end and self.start >= self.end:
            raise ValueError(f"`start` {self.start:%Y-%m-%d %H:%M} is not before `end` {self.end:%Y-%m-%d %H:%M}")
        return self

    @property
    def own_end(self) -> Station:
        """What the study knows of the station's end of a report: where it only heard, its power sent nothing."""
        return self.station if self.direction == "sent" else self.station.model_copy(update={"power_w": None})

    @property
    def spoken(self) -> str:
        """The language of what is written for people; English where neither the study nor the command line names one."""
        return self.language or ENGLISH

    def power_w(self, setup: str | None) -> float | None:
        """Power at the radio with this setup [W]; None where the study does not say."""
        own = self.setups[setup].power_w if setup in self.setups else None
        return own if own is not None else self.station.power_w


def load(path: str | Path) -> Study:
    """Read and check a study file.

    path : a TOML file
    Returns Study with `folder` and `source` set to the file's own. StudyError where the file is missing, is no TOML, or says
    something that a study cannot: one sentence with the file, the key, what came and what was wanted.
    """
    path = Path(path)
    try:
        written = read_text(path, "TOML")
        given = tomllib.loads(written)
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"{path}: is not valid TOML: {error}.") from None
    except RecursionError:
        raise StudyError(f"{path}: is not a study: lists or tables stand within each other hundreds deep.") from None
    except ValueError as error:  # a number of thousands of digits, a date that no calendar has
        raise StudyError(f"{path}: holds a value that cannot be read: {error}.") from None
    for name in _NOT_IN_A_FILE & given.keys():
        raise StudyError(f"{path}: {name!r} is not a key of a study.")
    return check(given, name=str(path), folder=path.parent, source=written)


def read_text(path: str | Path, what: str) -> str:
    """The text of a small file that the user wrote.

    what : what it should be, for the error
    StudyError, one sentence with the file, where it cannot be read or is not UTF-8.
    """
    try:
        with Path(path).open("rb") as file:
            content = file.read(LARGEST_FILE + 1)
        if len(content) > LARGEST_FILE:
            raise StudyError(f"{path}: is larger than {LARGEST_FILE // 1_000_000} MB, which {what} never is.")
        return io.StringIO(content.decode("utf-8-sig"), newline=None).read()
    except OSError as error:
        raise StudyError(f"{path}: cannot be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise StudyError(f"{path}: is not UTF-8 text, which {what} must be.") from None


def changed(
    base: Study, *, station: dict[str, Any] | None = None, options: dict[str, Any] | None = None, **top: Any
) -> Study:
    """A study with some of its values replaced: of the station, of the options, or its own.

    StudyError where the new values do not make a study.
    """
    if not (station or options or top):
        return base
    given = base.model_dump()
    given["station"] |= station or {}
    given["options"] |= options or {}
    return check(given | top, name="arguments", folder=base.folder, source=base.source)


def settled(base: Study, understood: Iterable[Understood]) -> Study:
    """A study that says of each of its files how it is read, as it was read now; the options then need not, but for the
    order of day and month, by which the schedule is read too.

    understood : how each was
    """
    readings = [{"file": each.source, **each.confirmed().to_dict()} for each in understood]
    here = {each["file"] for each in readings}
    kept = [each.model_dump(exclude_none=True) for each in base.readings if each.file not in here]
    free: dict[str, Any] = {"columns": {}, "zone": None}
    return changed(base, options=free, readings=[*kept, *readings])


def check(given: dict[str, Any], *, name: str = "study", folder: Path = Path("."), source: str = "") -> Study:
    """A checked Study from plain values, as read from TOML.

    StudyError, one sentence about the first thing that is wrong.
    """
    try:
        return Study.model_validate({**given, "folder": folder, "source": source})
    except ValidationError as error:
        raise StudyError(f"{name}: {_sentence(error)}") from None


def _cleaned(value: Any, key: str = "") -> Any:
    """A study's values with each text as it may be shown anywhere. Names of files stay as they are: they lead to files."""
    if isinstance(value, dict):
        return {_cleaned(name, key): _cleaned(each, name) for name, each in value.items()}
    if isinstance(value, list):
        return [_cleaned(each, key) for each in value]
    if not isinstance(value, str):
        return value
    if len(value) > LONGEST_TEXT and key != "source":
        raise ValueError(f"{key!r}: a text of {len(value):,} characters; at most {LONGEST_TEXT:,} are wanted")
    if key in _FILE_NAMES:
        if "\0" in value:
            raise ValueError(f"{key!r}: {value!r} is no name of a file: it holds a NUL character")
        return value
    return text.shown(value)


def _sentence(error: ValidationError) -> str:
    # A mistyped key also shows as a missing one: tell of the key that is there.
    first = min(error.errors(), key=lambda e: e["type"] != "extra_forbidden")
    where = [str(part) for part in first["loc"]]
    key = ".".join(where)
    if first["type"] == "extra_forbidden":
        known = _keys_at(Study, where[:-1])
        near = difflib.get_close_matches(where[-1], known, n=1, cutoff=0.5)
        hint = f"did you mean {near[0]!r}?" if near else f"known here: {', '.join(known)}."
        return f"unknown key {key!r}; {hint}"
    message = first["msg"].removeprefix("Value error, ")
    at = f"{key!r}: " if key else ""
    silent = first["type"] == "missing" or isinstance(first["input"], (dict, BaseModel))
    came = "" if silent else f", not {first['input']!r}"
    return f"{at}{message[:1].lower() + message[1:]}{came}."


def _keys_at(model: type[BaseModel], where: list[str]) -> list[str]:
    """The keys known at a place in the study, for the hint in an error."""
    kinds: dict[str, type[BaseModel]] = {
        "station": Station,
        "compare": Comparison,
        "options": Options,
        "setups": Setup,
        "sessions": Session,
        "readings": Reading,
        "season": Season,
        "log": Entry,
    }
    found: type[BaseModel] = model
    for part in where:
        inside: dict[str, type[BaseModel]] = {"cable": Cable, "bands": Match} if found is Setup else kinds
        found = inside.get(part, found)
    return [name for name in found.model_fields if name not in _NOT_IN_A_FILE]

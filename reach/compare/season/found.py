"""What a season showed, as numbers and codes. `reach.tell.sentences.season` says every code, once for each medium."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any


class Kind(StrEnum):
    """What a change looks like."""

    STEP = "step"  # another level from a day on
    SPELL = "spell"  # another level for some days, then the old one


class Pace(StrEnum):
    """How a step came about."""

    SUDDEN = "sudden"
    SLOW = "slow"
    UNCLEAR = "unclear"  # at once or little by little cannot be told


class Whose(StrEnum):
    """Who changed."""

    STATION = "station"
    CONTROL = "control"
    EITHER = "station-or-control"  # with one control it cannot be told which of the two
    UNCLEAR = "unclear"  # the controls do not agree


class Vote(StrEnum):
    """Whether one control alone shows a change."""

    YES = "yes"
    NO = "no"
    UNCLEAR = "unclear"


class Refused(StrEnum):
    """Why there is no verdict; behind each the values it comes with.

    NO_CONTROL     week_db (None: too few days), usual_db: this week's level against the three before, and up to which
                   size such differences are usual; strong (more than the band usually does)
    TOO_FEW_DAYS   days, needed, come_back (days until there may be enough)
    NO_LEVEL       nothing that the level could be taken from
    """

    NO_CONTROL = "no-control"
    TOO_FEW_DAYS = "too-few-days"
    NO_LEVEL = "no-level"


class Remark(StrEnum):
    """What weakens or explains a season; behind each the values it comes with.

    ONE_CONTROL     name
    WIDE            sd_db: daily scatter
    FAR             name, distance_km
    NEAR_LIMIT      kept: share of pairs that is above the decoding limit
    SETUPS_MIXED    setups: names, whose levels are taken together
    CHOSEN          names: controls that were taken because nobody named any
    UNUSED          name, days, of: a control heard together with the station on too few of its days
    THIN            name, days: a control heard together with the station on so many days, and too seldom on each for a level
    SURPLUS         names, most: controls beyond as many as serve at once, those with the fewest pairs
    LOST_DAYS       days, of: with a level since a step, of all since, where before it most had one; weaker (bool)
    POWER           low_w, high_w: the station's power changed and was taken off
    """

    ONE_CONTROL = "one-control"
    WIDE = "wide"
    FAR = "far"
    NEAR_LIMIT = "near-limit"
    SETUPS_MIXED = "setups-mixed"
    CHOSEN = "chosen"
    UNUSED = "unused"
    THIN = "thin"
    SURPLUS = "surplus"
    LOST_DAYS = "lost-days"
    POWER = "power"


@dataclass(frozen=True)
class Said:
    """A code with its values."""

    code: Refused | Remark
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Day:
    """The station's level on one day against what it was before the first change; without a control, against the mean.

    level_db, low_db, high_db  with its 95 % interval; receivers : how many stand behind it, in units of receiver and band
    fitted_db        what the changes found say of it; None without a verdict
    """

    day: date
    level_db: float
    low_db: float
    high_db: float
    receivers: int
    fitted_db: float | None = None


@dataclass(frozen=True)
class Change:
    """A change of level.

    day              the likeliest first day of it; first, last : it began between these, with 95 % probability
    until            of a spell, the last day of it
    size_db          negative: weaker; low_db, high_db : 95 % interval
    before, after    days with a level on either side (of a spell: outside, inside)
    pace             of a step
    whose, votes     who changed, and what each control says alone; of : the control, where it was one
    excess           by how much its Bayes factor (log) passes the threshold
    """

    kind: Kind
    day: date
    first: date
    last: date
    until: date | None
    size_db: float
    low_db: float
    high_db: float
    before: int
    after: int
    pace: Pace
    whose: Whose
    votes: Mapping[str, Vote]
    of: str = ""
    excess: float = 0.0


@dataclass(frozen=True)
class Dated:
    """An entry of the station's log, and the step on that day, sized without search.

    size_db, low_db, high_db  None where fewer than four days with a level lie on a side, or no control serves
    before, after    days with a level on either side
    """

    day: date
    done: str
    swr: float | None
    size_db: float | None
    low_db: float | None
    high_db: float | None
    before: int
    after: int


@dataclass(frozen=True)
class Control:
    """A station that serves as a yardstick.

    days       with a level; pairs : of reports; receivers : that heard both
    changed    its own change, where it was found to have one; it is then left out
    """

    name: str
    distance_km: float | None
    days: int
    pairs: int
    receivers: int
    changed: Change | None = None


@dataclass(frozen=True)
class Attainable:
    """Which step would be seen in 4 of 5 cases [dB].

    now_db    in the middle of the days so far
    after_db  from now on, by days after it: 7, 14 and 30
    """

    now_db: float
    after_db: Mapping[int, float]


@dataclass(frozen=True, repr=False)
class Season:
    """A station's level from day to day.

    sd_db     scatter of single days about the levels found; None without a verdict
    watch     whether the thresholds are those of a look every day
    kept      share of the pairs that is above the decoding limit
    """

    station: str
    direction: str
    days: tuple[Day, ...]
    controls: tuple[Control, ...]
    changes: tuple[Change, ...] = ()
    log: tuple[Dated, ...] = ()
    refused: Said | None = None
    remarks: tuple[Said, ...] = ()
    sd_db: float | None = None
    attainable: Attainable | None = None
    receivers: int = 0
    pairs: int = 0
    kept: float | None = None
    watch: bool = False

    @property
    def used(self) -> tuple[Control, ...]:
        """The controls that the level stands on."""
        return tuple(each for each in self.controls if each.changed is None)

    def __repr__(self) -> str:
        told = self.refused.code if self.refused else f"{len(self.changes)} changes"
        return f"<Season of {self.station or 'a station'}: {len(self.days)} days, {len(self.used)} controls, {told}>"

    def to_dict(self) -> dict[str, Any]:
        """Plain values, days as YYYY-MM-DD; METHOD.md lists the keys."""
        return {name: plain(value) for name, value in asdict(self).items()}


def plain(value: Any) -> Any:
    """Numbers, texts, lists and mappings only."""
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if isinstance(value, (tuple, list)):
        return [plain(each) for each in value]
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, float):
        return round(value, 4)
    return value

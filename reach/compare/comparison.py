"""What a comparison found, as numbers and codes: the verdict, what it stands on, and the small tables behind pictures.

No sentence is made here. `reach.tell.sentences.comparison` says every code, once for each medium.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from enum import StrEnum
from typing import Any, Final

from reach.assign.clock import Clock
from reach.assign.powers import Told
from reach.spots import CORROBORATED

BREAKDOWNS: Final = ("band", "zone", "ring", "sector", "day_night")
Value = str | int | float | bool


class Verdict(StrEnum):
    """Which setup was better."""

    A_BETTER = "a better"
    B_BETTER = "b better"
    NO_CLEAR_DIFFERENCE = "no clear difference"
    CANNOT_TELL = "cannot tell"


def verdict_of(low_db: float, high_db: float) -> Verdict:
    """Only an interval that leaves 0 out claims a difference."""
    if low_db > 0:
        return Verdict.A_BETTER
    return Verdict.B_BETTER if high_db < 0 else Verdict.NO_CLEAR_DIFFERENCE


class IntervalFor(StrEnum):
    """What the headline's interval speaks of."""

    LIKE = "receivers like these"
    THESE = "these receivers only"
    DAYS = "days like these"


class DesignKind(StrEnum):
    """How the setups took turns."""

    ALTERNATING = "alternating"
    SIMULTANEOUS = "simultaneous"
    DAYS_ALTERNATE = "days alternate"
    WITH_CONTROL = "before and after with control"
    CONFOUNDED = "confounded"


class Refused(StrEnum):
    """Why it cannot be told; behind each the values it comes with.

    NOBODY_HEARD       neither setup was reported
    ONE_UNHEARD        silent (a | b): the one never reported
    NO_COMMON_BAND     naive_db: difference of the mean reports
    TOO_FEW_STRETCHES  stretches_a, stretches_b, needed, naive_db
    CHANGED_TOO_SLOWLY period_min, slowest_min, naive_db
    TOO_LITTLE         receivers, pairs, times, and of each how many are needed: receivers_needed, ...
    AT_DECODING_LIMIT  kept (share), slope (0..1), saturated (true where reports pile up at the top too)
    ONE_RECEIVER       rx_call, square, verdict, without (the verdict without it)
    CLOCK              the schedule's clock is in doubt: the values of `assign.clock.ClockFit`
    POWER              what is known of the powers contradicts itself: told (a code of `assign.powers.Told`) and its values
    """

    NOBODY_HEARD = "nobody-heard"
    ONE_UNHEARD = "one-unheard"
    NO_COMMON_BAND = "no-common-band"
    TOO_FEW_STRETCHES = "too-few-stretches"
    CHANGED_TOO_SLOWLY = "changed-too-slowly"
    TOO_LITTLE = "too-little"
    AT_DECODING_LIMIT = "at-decoding-limit"
    ONE_RECEIVER = "one-receiver-carries"
    CLOCK = "schedule-in-doubt"
    POWER = "power-in-doubt"


class NextStep(StrEnum):
    """What to do next.

    ALTERNATE        and quickly
    GO_ON            hours in all; shorter_blocks: true where shorter ones would need fewer
    AT_THIS_PACE     hours in all for the pairs and stretches of time needed: receivers report less often than is usual
    LONGER_STRETCHES  of 5 to 10 minutes, so that a receiver reports a setup more than once in each
    WAIT_FOR_STRONGER  reports, or use more power
    MORE_RECEIVERS   until more have heard both
    FEWER_BANDS      bands, return_min: each was heard again too late to be compared
    REVERSE          the setups on every second visit to a band
    CONTROL          a station whose setup did not change, where the setups cannot take turns; days_each
    HOURS            hours in all that would tell wanted_db apart
    SETTLE_CLOCK     correct the schedule by shift_min (or other_min), or confirm it
    SETTLE_POWER     say which power is right
    """

    ALTERNATE = "alternate"
    GO_ON = "go-on"
    AT_THIS_PACE = "at-this-pace"
    LONGER_STRETCHES = "longer-stretches"
    WAIT_FOR_STRONGER = "wait-for-stronger"
    MORE_RECEIVERS = "more-receivers"
    FEWER_BANDS = "fewer-bands"
    REVERSE = "reverse-the-order"
    CONTROL = "control"
    HOURS = "hours"
    SETTLE_CLOCK = "settle-clock"
    SETTLE_POWER = "settle-power"


class Caution(StrEnum):
    """What weakens a result that stands.

    NEAR_LIMIT         kept (share), saturated
    FADING_DIFFERS     ratio: depth of fading, A over B
    FEW_RECEIVERS      receivers: effective number
    HEAVY_RECEIVER     rx_call, square, weight, reports (shares), too_little_without
    HEARD_ALONE        more: a | b, that more receivers heard alone, against the verdict
    CONTROL_APART      name, difference_db: beside this control alone; the others say another; left_out (bool)
    CONTROL_UNHEARD    the control station was not heard alongside both
    CONTROL_TOO_LITTLE pairs of it
    CONTROL_DIFFERS    difference_db of a station whose setup did not change
    DAYS_COUNT         half_width_db, days, quick_db: half-width that one day of short blocks would have given
    """

    NEAR_LIMIT = "near-limit"
    FADING_DIFFERS = "fading-differs"
    FEW_RECEIVERS = "few-receivers"
    HEAVY_RECEIVER = "heavy-receiver"
    HEARD_ALONE = "heard-alone"
    CONTROL_APART = "control-apart"
    CONTROL_UNHEARD = "control-unheard"
    CONTROL_TOO_LITTLE = "control-too-little"
    CONTROL_DIFFERS = "control-differs"
    DAYS_COUNT = "days-count"


class Note(StrEnum):
    """What was done with the data.

    SATURATED        ceiling_db: reports above it were not used
    REPEATED         share of the rows that repeated a transmission
    NO_PLACE         reports: how many are in the whole but in no distance or direction
    CONTROL_ASSUMED  that the control station's paths moved as this station's
    """

    SATURATED = "saturated"
    REPEATED = "repeated"
    NO_PLACE = "no-place"
    CONTROL_ASSUMED = "control-assumed"


class LeftOut(StrEnum):
    """Why rows were not looked at, or not used."""

    OUTSIDE_SCHEDULE = "outside-schedule"
    NO_SETUP = "no-setup"
    OTHER_SETUP = "another-setup"
    INCOMPLETE = "incomplete"
    DUPLICATE = "duplicate"


class Gap(StrEnum):
    """Why a breakdown is missing.

    NO_STATION_PLACE  no tx_locator: no distance and direction
    NO_STATION_LIGHT  no tx_locator: no day and night
    WRONG_LOCATOR     error: what is wrong with it, as its check says
    """

    NO_STATION_PLACE = "no-station-place"
    NO_STATION_LIGHT = "no-station-light"
    WRONG_LOCATOR = "wrong-locator"


class Method(StrEnum):
    """Another way of reckoning the difference.

    SIGNED_RANKS  every receiver counted once
    TIME_BINS     step_min: every stretch of so many minutes counted once, wherever it begins
    WITHOUT       rx_call, square: the receiver left out
    CONTROL       a station whose setup did not change, as if it had
    """

    SIGNED_RANKS = "signed-ranks"
    TIME_BINS = "time-bins"
    WITHOUT = "without-receiver"
    CONTROL = "control"
    BESIDE_ONE = "beside-one-control"


CODES: Final = (Refused, NextStep, Caution, Note, Gap, Told, Clock)  # what a Remark can be


@dataclass(frozen=True)
class Remark:
    """Something to be said: a code, and the values that its enumeration lists for it."""

    code: Refused | NextStep | Caution | Note | Gap | Told | Clock
    values: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Estimate:
    """A difference by some way of reckoning, A minus B [dB].

    method  what was done; values : as `Method` lists them
    low_db, high_db  its own 95 % interval, None where it has none worth having
    """

    method: Method
    difference_db: float
    low_db: float | None
    high_db: float | None
    values: Mapping[str, Value] = field(default_factory=dict)


@dataclass(frozen=True)
class Design:
    """The design as the reports show it.

    period_min    mean time from one change of setup to the next; the slot spacing where simultaneous; None where the
                  setup never changed
    within_min    how far apart in time reports were still paired
    stretches_a, stretches_b  how often each was on the air, several days of one setup in a row being one
    overlap       share of the reports that have one of the other setup within that time at the same receiver
    hours         time on the air: no gap between transmissions counts for more than ten minutes
    days          UTC days with a report
    first_utc, last_utc  ISO 8601
    told_by       what told the setups apart: setup | schedule | tx_call | freq_mhz
    bands, stay_min, return_min  where bands were gone through in turn, each with both setups: how many, how long each
                  stay, and from one visit to a band to the next; None otherwise
    """

    kind: DesignKind
    period_min: float | None
    within_min: float
    stretches_a: int
    stretches_b: int
    overlap: float
    hours: float
    days: int
    first_utc: str
    last_utc: str
    told_by: str
    bands: int | None = None
    stay_min: float | None = None
    return_min: float | None = None


@dataclass(frozen=True)
class Heard:
    """Receivers heard by. Shown, never used as evidence: who listens when is no accident.

    a_only, b_only, both  'CALL SQUARE', in order of the text
    """

    a_only: tuple[str, ...]
    b_only: tuple[str, ...]
    both: tuple[str, ...]


@dataclass(frozen=True)
class Cell:
    """One part of the receivers, or of the hours.

    by        zone | ring | sector | band | day_night
    name      short and stable: '1500-3000' [km], 'E', '20m', 'night'
    start, end  its edges [km, or deg from north, the sector N having start > end]; None for bands, day and night
    shown     False: it cannot be told by itself, and `reason` says why; all numbers down to `p_holm` are then None
    times     how many independent stretches of time its pairs are worth; None without pairs
    low_db, high_db    95 % interval of this cell taken alone
    sidak_low_db, ...  95 % for all shown cells of this breakdown together
    these_low_db, ...  95 % for these receivers only
    rest_db   everything outside the cell
    p_holm    probability that it differs from the rest as much by chance, allowing for the cells of all breakdowns
    differs   p_holm < 0.05
    verdict   which setup was better here, by the interval for all cells of this breakdown together; of bands only
    reason    why it cannot be told: ONE_UNHEARD, TOO_LITTLE or AT_DECODING_LIMIT of Refused
    more_hours  on the air with both setups that should do, where more time would; None otherwise
    """

    by: str
    name: str
    start: float | None
    end: float | None
    receivers: int
    pairs: int
    shown: bool
    difference_db: float | None = None
    low_db: float | None = None
    high_db: float | None = None
    sidak_low_db: float | None = None
    sidak_high_db: float | None = None
    these_low_db: float | None = None
    these_high_db: float | None = None
    rest_db: float | None = None
    p_holm: float | None = None
    differs: bool = False
    times: float | None = None
    verdict: Verdict | None = None
    reason: Remark | None = None
    more_hours: float | None = None


@dataclass(frozen=True)
class Receiver:
    """One receiver: a callsign in one locator square.

    rx_locator the one with most of its reports, the first in text order among equals. Everything about its place
               belongs to that locator, so that every picture and table puts it at one distance
    heard      a | b | both
    difference_db, low_db, high_db  A minus B with the 95 % interval of this receiver alone; None without pairs
    weight     its share in the result
    rx_lon_deg, rx_lat_deg, distance_km, bearing_deg  of its locator, seen from the station; None where not known
    trust      of its locator (spots.TRUST), None where the table of spots has no such column
    """

    rx_call: str
    square: str
    rx_locator: str
    heard: str
    reports_a: int
    reports_b: int
    pairs: int
    weight: float
    difference_db: float | None = None
    low_db: float | None = None
    high_db: float | None = None
    rx_lon_deg: float | None = None
    rx_lat_deg: float | None = None
    distance_km: float | None = None
    bearing_deg: float | None = None
    trust: str | None = None

    @property
    def placed(self) -> bool:
        """Whether its place may be shown: it is known, and nothing leaves its locator in doubt."""
        return self.distance_km is not None and self.trust in (None, CORROBORATED)


@dataclass(frozen=True)
class Block:
    """One stretch on one setup, in time order.

    difference_db, low_db, high_db  mean of the pairs about its reports, with the interval of their own scatter; None
    where it has fewer than two pairs
    """

    start_utc: str
    end_utc: str
    setup: str
    reports: int
    pairs: int
    difference_db: float | None = None
    low_db: float | None = None
    high_db: float | None = None


@dataclass(frozen=True, repr=False)
class Comparison:
    """Two setups compared. Differences are A minus B [dB], power taken off as far as it is known.

    difference_db, low_db, high_db  the headline; None where it cannot be told
    confidence     of the interval
    interval_for   what it speaks of
    reasons        why it cannot be told; empty otherwise
    next_steps     what to do next
    warnings       what weakens the result
    notes          what was done with the data
    spots, spots_a, spots_b  reports of the two setups that were looked at
    pairs, receivers, blocks what the headline stands on: contrasts, receivers with contrasts, stretches with contrasts
    left_out       rows that were not looked at, or not used: LeftOut and how many
    like_low_db, like_high_db    interval for receivers like these
    these_low_db, these_high_db  interval for these receivers only
    equal_within_db  1.0 where the headline's interval lies within +-1 dB, else None
    power_difference_db  taken off: power of A minus power of B; None where unknown and not taken off
    power          how the powers are known, with at (antenna | radio), difference_db and line_db (what cables and matches
                   make of it); None where the caller gave a number
    clock          whether the schedule fits the reports; None without one, or where it was confirmed
    naive_difference_db  mean report of A minus mean report of B, not corrected for anything (not even power)
    near_limit     share of the reports near the decoding limit
    kept           share of the reports above the censoring threshold common to both setups
    limit_slope    how much the result depends on where that threshold lies, 0..1
    spread_ratio   depth of fading, A over B; None where it cannot be seen
    effective_receivers, effective_times  how many equally weighted ones would be as good
    between_receivers_db  standard deviation of the difference between receivers beyond fading
    pair_low_db, pair_high_db  where 95 % of single pairs lie: what one look at the band may show
    sensitivity    the same by other estimators
    without        the result without the one receiver that has much of the weight, or None
    controls       the control stations that the result is measured against, where days before and after are compared
    control        what the control station shows, whose setup did not change: should be 0
    heard          A only, B only, both
    cells          breakdown by zone, ring, sector, band, day and night
    breakdown_left_out  why a breakdown is missing
    by_receiver, by_block  for drawing
    direction      "sent": others heard the setups; "heard": the setups heard others, and a receiver of this record is a
                   transmitter
    """

    a: str
    b: str
    verdict: Verdict
    difference_db: float | None
    low_db: float | None
    high_db: float | None
    confidence: float
    interval_for: IntervalFor | None
    reasons: tuple[Remark, ...]
    next_steps: tuple[Remark, ...]
    warnings: tuple[Remark, ...]
    notes: tuple[Remark, ...]
    spots: int
    spots_a: int
    spots_b: int
    pairs: int
    receivers: int
    blocks: int
    left_out: dict[LeftOut, int]
    design: Design | None
    power_difference_db: float | None
    naive_difference_db: float | None
    heard: Heard = field(repr=False)
    like_low_db: float | None = None
    like_high_db: float | None = None
    these_low_db: float | None = None
    these_high_db: float | None = None
    equal_within_db: float | None = None
    near_limit: float | None = None
    kept: float | None = None
    limit_slope: float | None = None
    spread_ratio: float | None = None
    effective_receivers: float | None = None
    effective_times: float | None = None
    between_receivers_db: float | None = None
    pair_low_db: float | None = None
    pair_high_db: float | None = None
    power: Remark | None = None
    clock: Remark | None = None
    sensitivity: tuple[Estimate, ...] = ()
    without: Estimate | None = None
    controls: tuple[str, ...] = ()
    control: Estimate | None = None
    cells: tuple[Cell, ...] = field(default=(), repr=False)
    breakdown_left_out: tuple[Remark, ...] = ()
    by_receiver: tuple[Receiver, ...] = field(default=(), repr=False)
    by_block: tuple[Block, ...] = field(default=(), repr=False)
    direction: str = "sent"

    def __repr__(self) -> str:
        return f"<Comparison of {self.a} and {self.b}: {self.verdict.value}, {self.pairs} pairs>"

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the field names, codes as their text; numbers to a millionth.

        With sentences: `reach.tell.sentences.comparison.document`.
        """
        return {key: plain(value) for key, value in asdict(self).items()}


CONFIDENCE: Final = 0.95


def cannot_tell(a: str, b: str, spots: tuple[int, int], left_out: dict[LeftOut, int]) -> Comparison:
    """A Comparison that cannot tell and knows nothing yet but its counts. spots : of A, of B"""
    return Comparison(
        a=a,
        b=b,
        verdict=Verdict.CANNOT_TELL,
        difference_db=None,
        low_db=None,
        high_db=None,
        confidence=CONFIDENCE,
        interval_for=None,
        reasons=(),
        next_steps=(),
        warnings=(),
        notes=(),
        spots=sum(spots),
        spots_a=spots[0],
        spots_b=spots[1],
        pairs=0,
        receivers=0,
        blocks=0,
        left_out=left_out,
        design=None,
        power_difference_db=None,
        naive_difference_db=None,
        heard=Heard((), (), ()),
    )


def plain(value: Any) -> Any:
    """Plain values for JSON: codes as their text, numbers to a millionth, None for what is no number."""
    if isinstance(value, StrEnum):
        return str(value)
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, float):
        return None if value != value or value in (float("inf"), float("-inf")) else round(value, 6)
    return value

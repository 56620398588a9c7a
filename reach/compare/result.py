"""What a comparison found: the verdict, what it stands on, and the small tables that pictures are drawn from."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import Any, Final

A_BETTER: Final = "a better"
B_BETTER: Final = "b better"
NO_CLEAR_DIFFERENCE: Final = "no clear difference"
CANNOT_TELL: Final = "cannot tell"
VERDICTS: Final = (A_BETTER, B_BETTER, NO_CLEAR_DIFFERENCE, CANNOT_TELL)

LIKE: Final = "receivers like these"
THESE: Final = "these receivers only"
DAYS: Final = "days like these"

BREAKDOWNS: Final = ("zone", "ring", "sector", "band", "day_night")


@dataclass(frozen=True)
class Estimate:
    """A difference by some way of reckoning, A minus B [dB].

    method  what was done, in a few words
    low_db, high_db  its own 95 % interval, None where it has none worth having
    note    what it is not
    """

    method: str
    difference_db: float
    low_db: float | None
    high_db: float | None
    note: str = ""


@dataclass(frozen=True)
class Design:
    """The design as the reports show it.

    kind          alternating | simultaneous | days alternate | before and after with control | confounded
    period_min    mean time from one change of setup to the next; the slot spacing where simultaneous; None where the
                  setup never changed
    within_min    how far apart in time reports were still paired
    stretches_a, stretches_b  how often each was on the air, several days of one setup in a row being one
    overlap       share of the reports that have one of the other setup within that time at the same receiver
    hours         time on the air, counted in ten-minute intervals with a report
    days          UTC days with a report
    first_utc, last_utc  ISO 8601
    told_by       what told the setups apart: setup | schedule | tx_call | freq_mhz
    """

    kind: str
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
    label     as it is written: '1,500-3,000 km', 'E', '20m', 'night'
    start, end  its edges [km, or deg from north, the sector N having start > end]; None for bands, day and night
    shown     False: too few receivers, pairs or stretches of time; all numbers below are then None
    low_db, high_db    95 % interval of this cell taken alone
    sidak_low_db, ...  95 % for all shown cells of this breakdown together
    these_low_db, ...  95 % for these receivers only
    rest_db   everything outside the cell
    p_holm    probability that it differs from the rest as much by chance, allowing for the cells of all breakdowns
    differs   p_holm < 0.05
    """

    by: str
    label: str
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


@dataclass(frozen=True)
class Receiver:
    """One receiver: a callsign in one locator square.

    heard      a | b | both
    difference_db, low_db, high_db  A minus B with the 95 % interval of this receiver alone; None without pairs
    weight     its share in the result
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


@dataclass(frozen=True)
class Comparison:
    """Two setups compared. Differences are A minus B [dB], power at the antenna taken off as far as it is known.

    verdict        a better | b better | no clear difference | cannot tell
    difference_db, low_db, high_db  the headline; None where it cannot be told
    confidence     of the interval
    interval_for   what it speaks of: receivers like these | these receivers only | days like these
    reasons        why it cannot be told; empty otherwise
    next_steps     what to do next
    warnings       what weakens the result
    notes          what was done with the data
    spots, spots_a, spots_b  reports of the two setups that were looked at
    pairs, receivers, blocks what the headline stands on: contrasts, receivers with contrasts, stretches with contrasts
    left_out       rows that were not looked at, or not used: why and how many
    like_low_db, like_high_db    interval for receivers like these
    these_low_db, these_high_db  interval for these receivers only
    equal_within_db  1.0 where the headline's interval lies within +-1 dB, else None
    power_difference_db  taken off: power of A minus power of B; None where unknown and not taken off
    naive_difference_db  mean report of A minus mean report of B, not corrected for anything (not even power)
    near_limit     share of the reports near the decoding limit
    kept           share of the reports above the floor common to both setups
    floor_slope    how much the result depends on where that floor lies, 0..1
    spread_ratio   depth of fading, A over B; None where it cannot be seen
    effective_receivers, effective_times  how many equally weighted ones would be as good
    between_receivers_db  standard deviation of the difference between receivers beyond fading
    pair_low_db, pair_high_db  where 95 % of single pairs lie: what one look at the band may show
    sensitivity    the same by other estimators
    without        the result without the one receiver that has much of the weight, or None
    control        what the control station shows, whose setup did not change: should be 0
    heard          A only, B only, both
    cells          breakdown by zone, ring, sector, band, day and night
    breakdown_left_out  why a breakdown is missing
    by_receiver, by_block  for drawing
    sentences      the finding in words: effect first, then interval and evidence, breakdown, cautions
    """

    a: str
    b: str
    verdict: str
    difference_db: float | None
    low_db: float | None
    high_db: float | None
    confidence: float
    interval_for: str | None
    reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    warnings: tuple[str, ...]
    notes: tuple[str, ...]
    spots: int
    spots_a: int
    spots_b: int
    pairs: int
    receivers: int
    blocks: int
    left_out: dict[str, int]
    design: Design | None
    power_difference_db: float | None
    naive_difference_db: float | None
    heard: Heard
    like_low_db: float | None = None
    like_high_db: float | None = None
    these_low_db: float | None = None
    these_high_db: float | None = None
    equal_within_db: float | None = None
    near_limit: float | None = None
    kept: float | None = None
    floor_slope: float | None = None
    spread_ratio: float | None = None
    effective_receivers: float | None = None
    effective_times: float | None = None
    between_receivers_db: float | None = None
    pair_low_db: float | None = None
    pair_high_db: float | None = None
    sensitivity: tuple[Estimate, ...] = ()
    without: Estimate | None = None
    control: Estimate | None = None
    cells: tuple[Cell, ...] = ()
    breakdown_left_out: tuple[str, ...] = ()
    by_receiver: tuple[Receiver, ...] = field(default=(), repr=False)
    by_block: tuple[Block, ...] = field(default=(), repr=False)
    sentences: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """Plain values for JSON, under the field names; numbers to a millionth."""
        return {key: _plain(value) for key, value in asdict(self).items()}


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(one) for one in value]
    if isinstance(value, float):
        return None if value != value or value in (float("inf"), float("-inf")) else round(value, 6)
    return value

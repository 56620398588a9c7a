"""When a comparison is refused, with what to do next, and when it is only warned about. Codes and values, no sentences."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.assign.clock import ClockFit
from reach.assign.powers import Powers
from reach.compare import design as designs
from reach.compare import variance
from reach.compare.comparison import Caution, NextStep, Refused, Remark
from reach.compare.design import FEWEST_DAYS_EACH, FEWEST_RUNS, PAUSE_MIN, SLOWEST_MIN, Alternation, on_air_min
from reach.compare.estimate import Fit
from reach.compare.evidence import Evidence
from reach.compare.variance import Spread

FEWEST_RECEIVERS: Final = 3
FEWEST_PAIRS: Final = 20
FEWEST_TIMES: Final = 4.0
AT_LIMIT_SLOPE: Final = 0.6
AT_LIMIT_KEPT: Final = 0.25
NEAR_LIMIT_SLOPE: Final = 0.35
NEAR_LIMIT_KEPT: Final = 0.6
ALIKE: Final = (0.80, 1.25)
FEW_RECEIVERS: Final = variance.ENOUGH_RECEIVERS
WANTED_DB: Final = 1.0
PAIRS_A_PACE: Final = 5  # fewer tell no pace
ENOUGH_MIN: Final = 10  # of a setup on a band: whoever hears it well reports it more than once


@dataclass(frozen=True)
class Refusal:
    """Why it cannot be told, and what to do next."""

    reason: Remark
    next_step: Remark
    or_else: Remark | None = None

    @property
    def next_steps(self) -> tuple[Remark, ...]:
        """What to do next, the surest first."""
        return (self.next_step,) if self.or_else is None else (self.next_step, self.or_else)


ALTERNATE: Final = Remark(NextStep.ALTERNATE)
CONTROL: Final = Remark(NextStep.CONTROL, {"days_each": FEWEST_DAYS_EACH})  # where nothing can take turns: a new mast


def in_doubt(powers: Powers | None, clock: ClockFit | None) -> Refusal | None:
    """Neither a schedule that does not fit nor powers that contradict each other may decide which setup was better.

    The schedule goes first: it says which reports are whose.
    """
    if clock is not None and clock.doubtful:
        known = {name: value for name, value in clock.values.items() if name in ("shift_min", "other_min", "told_by")}
        return Refusal(Remark(Refused.CLOCK, clock.values), Remark(NextStep.SETTLE_CLOCK, known))
    if powers is not None and powers.refused:
        told = {"told": str(powers.told), **powers.values}
        return Refusal(Remark(Refused.POWER, told), Remark(NextStep.SETTLE_POWER))
    return None


def unheard(spots_a: int, spots_b: int) -> Refusal | None:
    """Both setups must have been heard."""
    if spots_a and spots_b:
        return None
    if not spots_a and not spots_b:
        return Refusal(Remark(Refused.NOBODY_HEARD), ALTERNATE)
    return Refusal(Remark(Refused.ONE_UNHEARD, {"silent": "b" if spots_a else "a"}), ALTERNATE)


def confounded(design: Alternation, naive_db: float) -> Refusal | None:
    """The setups must have changed places often and quickly enough, on one band at least.

    naive_db : difference of the mean reports, which then says nothing
    """
    if not design.confounded:
        return None
    values: dict[str, float] = {"naive_db": naive_db}
    if not design.runs_a or not design.runs_b:
        return Refusal(Remark(Refused.NO_COMMON_BAND, values), ALTERNATE)
    if min(design.runs_a, design.runs_b) < FEWEST_RUNS:
        values |= {"stretches_a": design.runs_a, "stretches_b": design.runs_b, "needed": FEWEST_RUNS}
        once = design.runs_a == design.runs_b == 1
        return Refusal(Remark(Refused.TOO_FEW_STRETCHES, values), ALTERNATE, CONTROL if once else None)
    values |= {"period_min": design.period_min, "slowest_min": SLOWEST_MIN}
    return Refusal(Remark(Refused.CHANGED_TOO_SLOWLY, values), ALTERNATE)


def enough(evidence: Evidence, found: Fit | None) -> Refusal | Spread:
    """Is there enough to go on? The standard errors, or the refusal."""
    r = evidence.reports
    both = np.bincount(r.receiver, r.is_a) > 0
    both &= np.bincount(r.receiver, ~r.is_a) > 0
    heard_both = int(both.sum())
    if found is None:  # no report has one of the other setup close in time
        nothing = lacking(0, 0, 0.0)
        assert nothing is not None
        return _too_little(evidence, nothing, heard_both)
    score = variance.scores(r, found, variance.width_min(r, evidence.design))
    spread = variance.spread(score)
    pairs, receivers = len(found.pairs.row), len(np.unique(score.receiver))
    short = lacking(receivers, pairs, spread.times)
    if short is not None:
        return _too_little(evidence, short, heard_both)
    return at_the_limit(found, evidence.limit.saturated) or spread


def lacking(receivers: int, pairs: int, times: float) -> Remark | None:
    """What there is and what is needed, where something is short; the same for the whole and for a part."""
    if receivers >= FEWEST_RECEIVERS and pairs >= FEWEST_PAIRS and times >= FEWEST_TIMES:
        return None
    values: dict[str, float] = {
        "receivers": receivers,
        "receivers_needed": FEWEST_RECEIVERS,
        "pairs": pairs,
        "pairs_needed": FEWEST_PAIRS,
        "times": times,
        "times_needed": FEWEST_TIMES,
    }
    return Remark(Refused.TOO_LITTLE, values)


def _too_little(evidence: Evidence, reason: Remark, heard_both: int) -> Refusal:
    """With how long it should take to get there, or what else it takes. reason : as `lacking` gives it"""
    pairs, times = (float(reason.values[name]) for name in ("pairs", "times"))
    design, had_hours = evidence.design, on_air_min(evidence.reports.time_min) / 60
    if design.turns is not None and design.turns.return_min > PAUSE_MIN:
        fewer = {"bands": design.turns.bands, "return_min": design.turns.return_min, "within_min": PAUSE_MIN}
        return Refusal(reason, Remark(NextStep.FEWER_BANDS, fewer))
    if heard_both < FEWEST_RECEIVERS:
        return Refusal(reason, Remark(NextStep.MORE_RECEIVERS))
    longer = not design.simultaneous and design.period_min < ENOUGH_MIN
    block_min = design.period_min
    if pairs < PAIRS_A_PACE and had_hours >= designs.law(design.simultaneous, block_min).shortest_hours:
        return Refusal(reason, Remark(NextStep.LONGER_STRETCHES if longer else NextStep.MORE_RECEIVERS))
    usual_hours = designs.hours_needed(design.simultaneous, block_min, heard_both, WANTED_DB)
    pace_hours = had_hours * max(FEWEST_PAIRS / pairs, FEWEST_TIMES / times) if pairs >= PAIRS_A_PACE else 0.0
    if pace_hours > usual_hours:  # they report less often than is usual, on which the law rests
        or_else = Remark(NextStep.LONGER_STRETCHES) if longer else None
        return Refusal(reason, Remark(NextStep.AT_THIS_PACE, {"hours": pace_hours}), or_else)
    shorter = not design.simultaneous and design.period_min > ENOUGH_MIN
    return Refusal(
        reason, Remark(NextStep.GO_ON, {"hours": usual_hours, "wanted_db": WANTED_DB, "shorter_blocks": shorter})
    )


def at_the_limit(found: Fit, saturated: bool) -> Refusal | None:
    """Enough reports must lie above the level at which both setups are heard completely."""
    kept = float(found.kept.mean())
    if found.slope <= AT_LIMIT_SLOPE and kept >= AT_LIMIT_KEPT:
        return None
    values = {"kept": kept, "slope": min(max(found.slope, 0.0), 1.0), "saturated": saturated}
    return Refusal(Remark(Refused.AT_DECODING_LIMIT, values), Remark(NextStep.WAIT_FOR_STRONGER))


def warnings(found: Fit, spread: Spread, ratio: float | None, saturated: bool) -> tuple[Remark, ...]:
    """What weakens a result that stands. ratio : depth of fading, A over B, None where it cannot be seen."""
    said = []
    kept = float(found.kept.mean())
    if kept < NEAR_LIMIT_KEPT or found.slope > NEAR_LIMIT_SLOPE:
        said.append(Remark(Caution.NEAR_LIMIT, {"kept": kept, "saturated": saturated}))
    if ratio is not None and not ALIKE[0] <= ratio <= ALIKE[1]:
        said.append(Remark(Caution.FADING_DIFFERS, {"ratio": ratio}))
    if spread.receivers < FEW_RECEIVERS:
        said.append(Remark(Caution.FEW_RECEIVERS, {"receivers": spread.receivers}))
    return tuple(said)

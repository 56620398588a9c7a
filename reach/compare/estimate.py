"""The difference: contrasts averaged within receivers, receivers averaged by how sure each is, above a common threshold.

A contrast holds each report against the other setup's just before and just after it, at the same receiver.
Sources: DerSimonian, Laird (1986), Meta-analysis in clinical trials, Controlled Clinical Trials 7, 177-188, for the
variance between receivers; Honore (1992) for the common censoring threshold (see `limit.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare import limit as limits
from reach.compare.design import Alternation
from reach.compare.limit import Limits
from reach.compare.reports import Bools, Floats, Ints, Reports

OVERLAP: Final = 1.5  # neighbouring contrasts share reports: their mean is less sure than m independent ones
LEAST_SPREAD_DB: Final = 1.0  # no two antennas are equal on every path; also keeps one receiver from taking over
SETTLED_DB: Final = 0.01
FEWEST_PASSES: Final = 3
MOST_PASSES: Final = 25
DAMPED_FROM: Final = 7
NUDGE_DB: Final = 0.5
STEEPEST: Final = 0.9


@dataclass(frozen=True)
class Contrasts:
    """A minus B, one row a contrast.

    row            which of the reports each is about, shape (m,)
    difference_db  shape (m,)
    """

    row: Ints
    difference_db: Floats


@dataclass(frozen=True)
class Pooled:
    """Receivers pooled to one difference. All by unit, shape (m,), are for units with contrasts.

    difference_db   the weighted mean
    unit            which units, rising
    pairs           contrasts of each
    own_db          their mean
    own_variance    of that mean, as fading makes it
    spread_db2      variance between receivers beyond fading (tau0 squared), >= 0
    weight          share of each unit, summing to 1
    contrast_weight share of each contrast, shape as the contrasts
    """

    difference_db: float
    unit: Ints
    pairs: Ints
    own_db: Floats
    own_variance: Floats
    spread_db2: float
    weight: Floats
    contrast_weight: Floats


@dataclass(frozen=True)
class Fit:
    """One estimate with what it stands on.

    pairs   contrasts; their `row` counts in the reports that the fit was given
    pooled  receivers and weights
    kept    mask of the reports above the common threshold
    slope   how far the estimate follows the presumed difference: 0 far from the decoding limit, 1 at it
    """

    pairs: Contrasts
    pooled: Pooled
    kept: Bools
    slope: float

    @property
    def inflation(self) -> float:
        """What the limit costs in precision: standard errors are multiplied by it."""
        return 1 / (1 - min(max(self.slope, 0.0), STEEPEST))


def fit(reports: Reports, limit: Limits, design: Alternation) -> Fit | None:
    """Estimate A minus B.

    reports : sorted, n rows; limit : of the same rows
    design : how the setups alternated
    Returns Fit, or None where no report has a partner. Passes alternate between "which reports are above the
    threshold of both setups, given the differences" and "the differences, given those reports" until they agree.
    """
    units = int(reports.unit.max()) + 1 if len(reports) else 0
    beta, last = np.zeros(units), np.inf
    for step in range(1, MOST_PASSES + 1):
        found = _once(reports, limit, design, beta)
        if found is None:
            return None
        pooled = found[1]
        new = _shrunk(pooled, units)
        # Near the limit the two may chase each other round a loop; half steps break it.
        beta = (beta + new) / 2 if step >= DAMPED_FROM else new
        if step >= FEWEST_PASSES and abs(pooled.difference_db - last) < SETTLED_DB:
            break
        last = pooled.difference_db
    found = _once(reports, limit, design, beta)
    if found is None:
        return None
    # How far the answer follows the question: presumed half a dB more and half a dB less.
    nudged = [_once(reports, limit, design, beta + by) for by in (NUDGE_DB, -NUDGE_DB)]
    up, down = (np.nan if n is None else n[1].difference_db for n in nudged)
    slope = 1.0 if np.isnan(up - down) else (up - down) / (2 * NUDGE_DB)
    return Fit(found[0], found[1], found[2], float(slope))


def _once(
    reports: Reports, limit: Limits, design: Alternation, beta_db: Floats
) -> tuple[Contrasts, Pooled, Bools] | None:
    kept = limits.kept(reports, limit, beta_db[reports.unit])
    above = reports.take(kept)
    pairs = at_once(above) if design.simultaneous else in_time(above, design.within_min)
    if not len(pairs.row):
        return None
    pooled = pool(pairs.difference_db, above.unit[pairs.row])
    return Contrasts(np.flatnonzero(kept)[pairs.row], pairs.difference_db), pooled, kept


def pool(difference_db: Floats, unit: Ints) -> Pooled:
    """Average contrasts within units, then units by how sure each is.

    difference_db, unit : shape (m,), m > 0
    """
    units, which, pairs = np.unique(unit, return_inverse=True, return_counts=True)
    own = np.bincount(which, difference_db) / pairs
    spare = len(unit) - len(units)
    # One variance for all receivers: most have too few pairs for one of their own.
    squares = float(np.sum((difference_db - own[which]) ** 2))
    within = squares / spare if spare and squares > 0 else max(float(np.var(difference_db)), 1.0)
    variance = OVERLAP * within / pairs
    spread = _between(own, variance)
    weight = 1 / (max(spread, LEAST_SPREAD_DB**2) + variance)
    weight = weight / weight.sum()
    each = (weight / pairs)[which]
    return Pooled(float(each @ difference_db), units, pairs, own, variance, spread, weight, each)


def _between(own_db: Floats, variance: Floats) -> float:
    """DerSimonian and Laird's variance between units beyond what `variance` explains."""
    if len(own_db) < 2:
        return 0.0
    w = 1 / variance
    mean = w @ own_db / w.sum()
    excess = w @ (own_db - mean) ** 2 - (len(own_db) - 1)
    return max(0.0, float(excess / (w.sum() - w @ w / w.sum())))


def _shrunk(pooled: Pooled, units: int) -> Floats:
    """What is presumed of each unit: its own mean drawn towards the common one as far as it is unsure."""
    beta = np.full(units, pooled.difference_db)
    trust = pooled.spread_db2 / (pooled.spread_db2 + pooled.own_variance)
    beta[pooled.unit] += trust * (pooled.own_db - pooled.difference_db)
    return beta


def in_time(reports: Reports, within_min: float) -> Contrasts:
    """Every report against a straight line between its neighbours of the other setup: A-B-A and B-A-B.

    reports : sorted, n rows; within_min : how far away in time each of the two neighbours may lie
    Returns Contrasts. A steady drift of the band cancels; a report with a neighbour on one side only gives none.
    """
    n = len(reports)
    index = np.arange(n)
    starts = np.searchsorted(reports.unit, reports.unit, side="left")
    ends = np.searchsorted(reports.unit, reports.unit, side="right")
    # Nearest of the other setup over all rows; where that is beyond the unit's own rows, the unit has none.
    before = np.where(reports.is_a, _last(~reports.is_a), _last(reports.is_a))
    after = np.where(reports.is_a, _next(~reports.is_a), _next(reports.is_a))
    both = (before >= starts) & (after < ends)
    row, before, after = index[both], before[both], after[both]
    near = reports.time_min[row] - reports.time_min[before] <= within_min
    near &= reports.time_min[after] - reports.time_min[row] <= within_min
    row, before, after = row[near], before[near], after[near]
    since = reports.time_min[row] - reports.time_min[before]
    until = reports.time_min[after] - reports.time_min[row]
    level = reports.level_db
    line = (until * level[before] + since * level[after]) / (since + until)
    sign = np.where(reports.is_a[row], 1.0, -1.0)
    return Contrasts(row, sign * (level[row] - line))


def at_once(reports: Reports) -> Contrasts:
    """A minus B of one moment at one receiver, for setups on the air together.

    reports : sorted, n rows
    Returns Contrasts, `row` being the first of the two.
    """
    same = (reports.unit[1:] == reports.unit[:-1]) & (reports.time_min[1:] == reports.time_min[:-1])
    row = np.flatnonzero(same)
    step = reports.level_db[row] - reports.level_db[row + 1]
    return Contrasts(row, np.where(reports.is_a[row], step, -step))


def _last(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or before it, -1 where there is none."""
    return np.maximum.accumulate(np.where(chosen, np.arange(len(chosen)), -1))


def _next(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or after it, n where there is none."""
    n = len(chosen)
    return np.minimum.accumulate(np.where(chosen, np.arange(n), n)[::-1])[::-1]

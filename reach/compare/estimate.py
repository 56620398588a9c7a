"""The difference: contrasts averaged within receivers, receivers averaged by how sure each is, above a common threshold.

A contrast holds each report against the other setup's just before and just after it, at the same receiver.
Sources: DerSimonian, Laird (1986), Meta-analysis in clinical trials, Controlled Clinical Trials 7, 177-188, for the
variance between receivers; Honore (1992) for the common censoring threshold (see `limit.py`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from reach.compare import limit as limits
from reach.compare.design import TIE_MIN, Alternation
from reach.compare.limit import Above, Limits
from reach.compare.reports import Floats, Ints, Reports

OVERLAP: Final = 1.5  # neighbouring contrasts share reports: their mean is less sure than m independent ones
LEAST_SPREAD_DB: Final = 1.0  # no two antennas are equal on every path; also keeps one receiver from taking over
SETTLED_DB: Final = 0.01
FEWEST_PASSES: Final = 3
MOST_PASSES: Final = 25
DAMPED_FROM: Final = 7
NUDGE_DB: Final = 0.5
STEEPEST: Final = 0.9
# With bands in turn a report's farther neighbour lies in the next visit, and that visit's contrasts rest on it too: fading that
# the kernel counts at half or not at all. By so much errors were larger than reckoned in simulation (METHOD.md).
TURNS_COST: Final = 1.15
LEAST_SPARE: Final = 1e-6


@dataclass(frozen=True)
class Contrasts:
    """A minus B, one row a contrast.

    row            which of the reports each is about, shape (m,)
    difference_db  shape (m,)
    share          how much of the reports behind it lies above the common threshold, 0..1, shape (m,)
    """

    row: Ints
    difference_db: Floats
    share: Floats


@dataclass(frozen=True)
class Pooled:
    """Receivers pooled to one difference. All by unit, shape (m,), are for units with contrasts.

    difference_db   the weighted mean
    unit            which units, rising
    pairs           contrasts of each
    worth           how many full contrasts they are as good as (Kish 1965, Survey sampling, 8.2)
    own_db          their mean
    own_variance    of that mean, as fading makes it
    spread_db2      variance between receivers beyond fading (tau0 squared), >= 0
    weight          share of each unit, summing to 1
    contrast_weight share of each contrast, shape as the contrasts
    """

    difference_db: float
    unit: Ints
    pairs: Ints
    worth: Floats
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
    kept    share of each report above the common threshold, 0..1
    slope   how far the estimate follows the presumed difference: 0 far from the decoding limit, 1 at it
    cost    what the design adds to the standard errors: 1 but for bands in turn
    """

    pairs: Contrasts
    pooled: Pooled
    kept: Floats
    slope: float
    cost: float = 1.0

    @property
    def inflation(self) -> float:
        """What limit and design cost in precision: standard errors are multiplied by it."""
        return self.cost / (1 - min(max(self.slope, 0.0), STEEPEST))


def fit(reports: Reports, limit: Limits, design: Alternation) -> Fit | None:
    """Estimate A minus B.

    reports : sorted, n rows; limit : of the same rows
    design : how the setups alternated
    Returns Fit, or None where no report has a partner. Passes alternate between "which reports are above the
    threshold of both setups, given the differences" and "the differences, given those reports" until they agree.
    """
    units = int(reports.unit.max()) + 1 if len(reports) else 0
    # Both received alike is where to begin: then power that is known to be different comes off to the last digit.
    beta, last = np.full(units, -_more_power(reports)), np.inf
    usual = limits.usual_power(reports)

    def once(beta_db: Floats) -> tuple[Contrasts, Pooled, Floats] | None:
        return _once(reports, limits.above(reports, limit, beta_db[reports.unit], usual), design)

    for step in range(1, MOST_PASSES + 1):
        found = once(beta)
        if found is None:
            return None
        pooled = found[1]
        new = _shrunk(pooled, units)
        # Near the limit the two may chase each other round a loop; half steps break it.
        beta = (beta + new) / 2 if step >= DAMPED_FROM else new
        if step >= FEWEST_PASSES and abs(pooled.difference_db - last) < SETTLED_DB:
            break
        last = pooled.difference_db
    found = once(beta)
    if found is None:
        return None
    # How far the answer follows the question: presumed half a dB more and half a dB less.
    nudged = [once(beta + by) for by in (NUDGE_DB, -NUDGE_DB)]
    up, down = (np.nan if n is None else n[1].difference_db for n in nudged)
    slope = 1.0 if np.isnan(up - down) else (up - down) / (2 * NUDGE_DB)
    cost = TURNS_COST if design.farthest_min > design.within_min else 1.0
    return Fit(found[0], found[1], found[2], float(slope), cost)


def _more_power(reports: Reports) -> float:
    """A's usual power above that of B [dB]; 0 where one was not heard."""
    of_a, of_b = reports.power_db[reports.is_a], reports.power_db[~reports.is_a]
    return float(np.median(of_a) - np.median(of_b)) if len(of_a) and len(of_b) else 0.0


def _once(reports: Reports, cut: Above, design: Alternation) -> tuple[Contrasts, Pooled, Floats] | None:
    pairs = contrasts(reports, cut, design)
    if not len(pairs.row):
        return None
    return pairs, pool(pairs.difference_db, reports.unit[pairs.row], pairs.share), cut.share


def contrasts(reports: Reports, cut: Above, design: Alternation) -> Contrasts:
    """Every report that something is left of against its neighbours of the other setup.

    Returns Contrasts, `row` counting in the reports given.
    """
    left = np.flatnonzero(cut.some)
    some = replace(reports.take(left), level_db=cut.level_db[left])
    if design.simultaneous:
        found = at_once(some, cut.share[left])
    else:
        found = in_time(some, cut.share[left], design.within_min, design.farthest_min)
    return replace(found, row=left[found.row])


def pool(difference_db: Floats, unit: Ints, share: Floats) -> Pooled:
    """Average contrasts within units, then units by how sure each is.

    difference_db, unit, share : shape (m,), m > 0; a contrast counts by its share
    """
    units, which, pairs = np.unique(unit, return_inverse=True, return_counts=True)
    total = np.bincount(which, share)
    own = np.bincount(which, share * difference_db) / total
    worth = total**2 / np.bincount(which, share**2)
    spare = float(worth.sum()) - len(units)
    # One variance for all receivers: most have too few pairs for one of their own.
    part = share / total[which]
    squares = float(worth @ np.bincount(which, part * (difference_db - own[which]) ** 2))
    within = squares / spare if spare > LEAST_SPARE and squares > 0 else max(float(np.var(difference_db)), 1.0)
    variance = OVERLAP * within / worth
    spread = _between(own, variance)
    weight = 1 / (max(spread, LEAST_SPREAD_DB**2) + variance)
    weight = weight / weight.sum()
    each = weight[which] * part
    return Pooled(float(each @ difference_db), units, pairs, worth, own, variance, spread, weight, each)


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


def in_time(reports: Reports, share: Floats, within_min: float, farthest_min: float) -> Contrasts:
    """Every report against a straight line between its neighbours of the other setup: A-B-A and B-A-B.

    reports : sorted, n rows; share : how much of each counts, shape (n,)
    within_min, farthest_min : how far away in time the nearer of the two neighbours may lie, and the farther
    Returns Contrasts. A steady drift of the band cancels; a report with a neighbour on one side only gives none. A report of
    the same moment is the neighbour on both sides.
    """
    n = len(reports)
    before = np.where(reports.is_a, _last(~reports.is_a), _last(reports.is_a))
    after = np.where(reports.is_a, _next(~reports.is_a), _next(reports.is_a))
    together = _together(reports)
    before[together], after[together + 1] = together + 1, together
    # The nearest of the other setup over all rows; where that is beyond the unit's own rows, the unit has none.
    row = np.flatnonzero((before >= 0) & (after < n))
    before, after = before[row], after[row]
    own = (reports.unit[before] == reports.unit[row]) & (reports.unit[after] == reports.unit[row])
    since, until = reports.time_min[row] - reports.time_min[before], reports.time_min[after] - reports.time_min[row]
    near = own & (np.minimum(since, until) <= within_min + TIE_MIN)
    near &= np.maximum(since, until) <= farthest_min + TIE_MIN
    row, before, after, since, until = row[near], before[near], after[near], since[near], until[near]
    span, level = since + until, reports.level_db
    of_before = np.where(span > 0, until / np.where(span > 0, span, 1.0), 0.5)
    line = of_before * level[before] + (1 - of_before) * level[after]
    counts = share[row] * share[before] * np.where(before == after, 1.0, share[after])
    return Contrasts(row, np.where(reports.is_a[row], 1.0, -1.0) * (level[row] - line), counts)


def at_once(reports: Reports, share: Floats) -> Contrasts:
    """A minus B of one moment at one receiver, for setups on the air together.

    reports : sorted, n rows; share : how much of each counts, shape (n,)
    Returns Contrasts, `row` being the first of the two.
    """
    row = _together(reports)
    step = reports.level_db[row] - reports.level_db[row + 1]
    return Contrasts(row, np.where(reports.is_a[row], step, -step), share[row] * share[row + 1])


def _together(reports: Reports) -> Ints:
    """Rows whose next one is of the same moment at the same unit, and so of the other setup."""
    same = (reports.unit[1:] == reports.unit[:-1]) & (reports.time_min[1:] == reports.time_min[:-1])
    return np.flatnonzero(same)


def _last(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or before it, -1 where there is none."""
    return np.maximum.accumulate(np.where(chosen, np.arange(len(chosen)), -1))


def _next(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or after it, n where there is none."""
    n = len(chosen)
    return np.minimum.accumulate(np.where(chosen, np.arange(n), n)[::-1])[::-1]

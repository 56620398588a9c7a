"""The difference: contrasts averaged within receivers, receivers averaged by how sure each is, cut at a common floor.

Sources: DerSimonian, Laird (1986), Meta-analysis in clinical trials, Controlled Clinical Trials 7, 177-188, for the
variance between receivers; Honore (1992) for the common floor (see `floor.py`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare import contrasts, floor
from reach.compare.contrasts import Contrasts
from reach.compare.design import Design
from reach.compare.floor import Limits
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
    kept    mask of the reports above the common floor
    slope   how far the estimate follows the presumed difference: 0 far from the floor, 1 at it
    """

    pairs: Contrasts
    pooled: Pooled
    kept: Bools
    slope: float

    @property
    def inflation(self) -> float:
        """What the floor costs in precision: standard errors are multiplied by it."""
        return 1 / (1 - min(max(self.slope, 0.0), STEEPEST))


def fit(reports: Reports, limit: Limits, design: Design, power_difference_db: float = 0.0) -> Fit | None:
    """Estimate A minus B.

    reports : sorted, n rows; limit : of the same rows
    design : how the setups alternated
    power_difference_db : already taken off `level_db`
    Returns Fit, or None where no report has a partner. Passes alternate between "which reports are above the floor of
    both setups, given the differences" and "the differences, given those reports" until they agree.
    """
    units = int(reports.unit.max()) + 1 if len(reports) else 0
    beta, last = np.zeros(units), np.inf
    for step in range(1, MOST_PASSES + 1):
        found = _once(reports, limit, design, beta, power_difference_db)
        if found is None:
            return None
        pooled = found[1]
        new = _shrunk(pooled, units)
        beta = (beta + new) / 2 if step >= DAMPED_FROM else new
        if step >= FEWEST_PASSES and abs(pooled.difference_db - last) < SETTLED_DB:
            break
        last = pooled.difference_db
    found = _once(reports, limit, design, beta, power_difference_db)
    if found is None:
        return None
    nudged = [_once(reports, limit, design, beta + by, power_difference_db) for by in (NUDGE_DB, -NUDGE_DB)]
    up, down = (np.nan if n is None else n[1].difference_db for n in nudged)
    slope = 1.0 if np.isnan(up - down) else (up - down) / (2 * NUDGE_DB)
    return Fit(found[0], found[1], found[2], float(slope))


def _once(
    reports: Reports, limit: Limits, design: Design, beta_db: Floats, power_difference_db: float
) -> tuple[Contrasts, Pooled, Bools] | None:
    kept = floor.kept(reports, limit, beta_db[reports.unit], power_difference_db)
    above = reports.take(kept)
    pairs = contrasts.at_once(above) if design.simultaneous else contrasts.in_time(above, design.within_min)
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

"""The difference: contrasts averaged within receivers, receivers averaged by how sure each is, above a common threshold.

A contrast holds each report against the other setup's just before and just after it, at the same receiver. But a report
exists only where it was strong enough, so the weaker setup is seen on its good moments only: reports are censored, by the
decoding limit below and by saturation above. Cutting both setups at the same level of the underlying signal makes the means
that are left agree.
Sources: DerSimonian, Laird (1986), Meta-analysis in clinical trials, Controlled Clinical Trials 7, 177-188, for the
variance between receivers; Honore (1992), Trimmed LAD and least squares estimation of truncated and censored regression
models with fixed effects, Econometrica 60, 533-565, for the common censoring threshold; here applied per report, and to
whole-dB reports as the decibel they stand for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from reach.base import keys
from reach.compare.design import TIE_MIN, Alternation
from reach.compare.reports import Bools, Floats, Ints, Reports

LOWEST_SHARE: Final = 0.02  # the quantile taken as the limit where none is known
MARGIN_DB: Final = 3.0  # above it a report is as good as never lost
OWN_REPORTS: Final = 30  # from here on a receiver's own decoding limit can be seen
OWN_SHARE: Final = 0.03
OWN_MARGIN_DB: Final = 2.0
FAR_ABOVE_DB: Final = 12.0  # a receiver that never came nearer to a known limit than this is not cut by it
LEAST_POWER_SHARE: Final = 0.05
TOP_REPORTS: Final = 10
TOP_SHARE: Final = 0.01
TOP_PILE: Final = 3.0
LEAST_SHARE: Final = 1e-6
TOUCHING_DB: Final = 1e-9  # a report on the limit itself counts, however its decimals were rounded
OVERLAP: Final = 1.5  # neighbouring contrasts share reports: their mean is less sure than m independent ones
LEAST_SPREAD_DB2: Final = 1.0  # no two antennas are equal on every path; also keeps one receiver from taking over
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
class Limits:
    """The levels between which reports are complete, as reported [dB].

    threshold_db  shape (n,), for each report its receiver's censoring threshold: the decoding limit and a margin above it
    ceiling_db    reports above it are saturated; infinite where none are
    """

    threshold_db: Floats
    ceiling_db: float

    @property
    def saturated(self) -> bool:
        """Whether reports pile up at the strongest."""
        return bool(np.isfinite(self.ceiling_db))

    def take(self, chosen: Bools | Ints) -> Limits:
        """The limits of some of the reports."""
        return Limits(self.threshold_db[chosen], self.ceiling_db)


def limits(snr_db: Floats, receiver: Ints, mode: Ints, decoding_limit_db: float | None = None) -> Limits:
    """Censoring threshold of every report and the ceiling.

    snr_db, receiver, mode : of each report, shape (n,), n > 0; each mode has its own decoding limit
    decoding_limit_db : the weakest that can be decoded, where it is known [dB in 2500 Hz]; else it is taken from the
        weakest reports
    Returns Limits. A receiver with 30 reports or more has its own threshold, as decoders differ.
    """
    common = _common_threshold(snr_db, mode, decoding_limit_db)
    own, enough = _own_threshold(snr_db, receiver, mode)
    use = enough & (own > common)
    if decoding_limit_db is not None:
        # A strong receiver's own weakest report shows its band, not its decoder.
        use &= own < decoding_limit_db + FAR_ABOVE_DB
    return Limits(np.where(use, own, common), _ceiling(snr_db))


def _common_threshold(snr_db: Floats, mode: Ints, decoding_limit_db: float | None) -> Floats:
    if decoding_limit_db is not None:
        return np.full(len(snr_db), decoding_limit_db + MARGIN_DB)
    limit = np.full(len(snr_db), np.quantile(snr_db, LOWEST_SHARE))
    for code in np.unique(mode):
        of_mode = mode == code
        if of_mode.sum() >= 1 / LOWEST_SHARE:
            limit[of_mode] = np.quantile(snr_db[of_mode], LOWEST_SHARE)
    return limit + MARGIN_DB


def _own_threshold(snr_db: Floats, receiver: Ints, mode: Ints) -> tuple[Floats, Bools]:
    """For each report its receiver's own low quantile (within the mode) plus a margin; and whether it had enough."""
    key = receiver * keys.room(mode) + mode
    _, of, count = np.unique(key, return_inverse=True, return_counts=True)
    rising = snr_db[np.lexsort((snr_db, key))]  # one receiver and mode after the other
    start, place = np.cumsum(count) - count, (count - 1) * OWN_SHARE
    below, above = np.floor(place).astype(np.int64), np.ceil(place).astype(np.int64)
    low, high = rising[start + below], rising[start + above]
    quantile = low + (place - below) * (high - low)
    return quantile[of] + OWN_MARGIN_DB, count[of] >= OWN_REPORTS


def _ceiling(snr_db: Floats) -> float:
    # Decoders that clip pile their strongest reports up at one value; a band that is merely strong thins out above.
    top = snr_db.max()
    at_top, below = np.sum(snr_db == top), np.sum((snr_db >= top - 1) & (snr_db < top))
    piled = at_top >= TOP_REPORTS and at_top > TOP_SHARE * len(snr_db) and at_top > TOP_PILE * below
    return float(top) - 1 if piled else np.inf


@dataclass(frozen=True)
class Above:
    """What of each report lies between the limits of BOTH setups, shape (n,).

    A report in whole dB stands for the whole decibel about it, of which the limits may leave a part: so nothing jumps
    where a limit passes a report, and no chance is needed to spread the reports over their decibel.

    share     of each report, 0..1
    level_db  the middle of that part, as `Reports.level_db`
    """

    share: Floats
    level_db: Floats

    @property
    def some(self) -> Bools:
        """Of which reports anything is left."""
        return np.asarray(self.share > LEAST_SHARE)


def above(reports: Reports, limit: Limits, beta_db: Floats | float, usual: UsualPower) -> Above:
    """Cut both setups' reports at the same level of the underlying signal.

    beta_db : what A is presumed to be stronger by at each report's unit, shape (n,) or one number
    usual : `usual_power` of the same reports, which does not hang on beta
    Returns Above; exchanging A and B (and the signs) gives the same.
    """
    # Each report is brought to what B would have been reported at with the reference power: one level then cuts the same
    # signals of both. Where A is the stronger by beta, its reports between the threshold and beta above it have no partner
    # in B and must go too. Decoders cut what they receive, power and all; so where A also has the more power, its weak
    # reports lack a partner by that much more, although the levels that are compared have had it taken off.
    as_b_db = reports.level_db - beta_db * reports.is_a
    received_db = reports.snr_db - as_b_db  # what this report was received above that
    # A report sent with less than the usual power is cut where it was received; the others are cut higher anyway.
    low = limit.threshold_db - np.minimum(np.minimum(usual.least_a_db + beta_db, usual.least_b_db), received_db)
    high = limit.ceiling_db - np.maximum(np.maximum(usual.most_a_db + beta_db, usual.most_b_db), received_db)
    bottom = np.maximum(as_b_db - reports.round_db, low)
    top = np.minimum(as_b_db + reports.round_db, high)
    share = (top - bottom >= -TOUCHING_DB).astype(float)  # a report that is no whole number is in or out
    whole = reports.round_db > 0
    share[whole] = np.clip((top - bottom)[whole] / (2 * reports.round_db[whole]), 0.0, 1.0)
    return Above(share, reports.level_db + ((bottom + top) / 2 - as_b_db))


@dataclass(frozen=True)
class UsualPower:
    """Least and most power that each setup was usually sent with on each report's band and mode, each shape (n,) [dB].

    Usually: one report with a tenth of the power must not throw out all others.
    """

    least_a_db: Floats
    most_a_db: Floats
    least_b_db: Floats
    most_b_db: Floats


def usual_power(reports: Reports) -> UsualPower:
    """Of each report's band and mode; 0 where a setup was not heard on it."""
    return UsualPower(*_usual_span(reports, True), *_usual_span(reports, False))


def _usual_span(reports: Reports, is_a: bool) -> tuple[Floats, Floats]:
    least, most = np.zeros(len(reports)), np.zeros(len(reports))
    for channel in np.unique(reports.channel):
        on_it = reports.channel == channel
        power = reports.power_db[on_it & (reports.is_a == is_a)]
        if len(power):
            least[on_it], most[on_it] = np.quantile(power, (LEAST_POWER_SHARE, 1 - LEAST_POWER_SHARE))
    return least, most


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
    cost: float

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
    if reports.is_a.all() or not reports.is_a.any():
        return None
    units = keys.room(reports.unit)
    # Both received alike is where to begin: then power that is known to be different comes off to the last digit.
    beta, last = np.full(units, -_more_power(reports)), np.inf
    usual = usual_power(reports)

    def once(beta_db: Floats) -> tuple[Contrasts, Pooled, Floats] | None:
        return _once(reports, above(reports, limit, beta_db[reports.unit], usual), design)

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
    up, down = once(beta + NUDGE_DB), once(beta - NUDGE_DB)
    slope = 1.0
    if up is not None and down is not None:
        slope = (up[1].difference_db - down[1].difference_db) / (2 * NUDGE_DB)
    cost = TURNS_COST if design.farthest_min > design.within_min else 1.0
    return Fit(*found, slope, cost)


def _more_power(reports: Reports) -> float:
    """A's usual power above that of B [dB]."""
    return float(np.median(reports.power_db[reports.is_a]) - np.median(reports.power_db[~reports.is_a]))


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
    weight = 1 / (max(spread, LEAST_SPREAD_DB2) + variance)
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
    # Rows of one setup that follow each other have the same neighbours of the other: the rows before and after their run.
    turns = np.flatnonzero(np.diff(reports.is_a)) + 1
    start, end = np.append(0, turns), np.append(turns, n)
    before, after = np.repeat(start - 1, end - start), np.repeat(end, end - start)
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
    of_before = np.divide(until, span, out=np.zeros(len(span)), where=span > 0)  # any part of two that are one
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

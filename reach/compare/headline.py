"""The verdict with its interval, or why there is none; and whether it hangs on one receiver."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from reach.compare import checks, effort, estimate, facts, result, tables, variance
from reach.compare.checks import Refusal
from reach.compare.data import Data
from reach.compare.estimate import Fit
from reach.compare.result import CANNOT_TELL, Comparison, Estimate
from reach.compare.variance import Spread

HEAVY_WEIGHT: Final = 0.3
HEAVY_REPORTS: Final = 0.4
CARRYING_WEIGHT: Final = 0.4
EQUAL_DB: Final = 1.0
WANTED_DB: Final = 1.0


def enough(data: Data, found: Fit | None) -> Refusal | Spread:
    """Is there enough to go on? The standard errors, or the refusal."""
    r = data.reports
    both = np.bincount(r.receiver, r.is_a) > 0
    both &= np.bincount(r.receiver, ~r.is_a) > 0
    heard_both = int(both.sum())
    if found is None:
        return checks.too_little(data.design, 0, 0, 0.0, heard_both) or checks.NOTHING
    score = variance.scores(r, found, variance.bin_min(r, data.design))
    spread = variance.spread(score)
    pairs, receivers = len(found.pairs.row), len(np.unique(score.receiver))
    little = checks.too_little(data.design, pairs, receivers, spread.times, heard_both)
    saturated = bool(np.isfinite(data.limit.ceiling_db))
    return little or checks.at_the_limit(found, float(found.kept.mean()), saturated) or spread


def refused(base: Comparison, refusal: Refusal | Spread) -> Comparison:
    """`cannot tell`: no difference, no interval; everything else stays for the reader to see."""
    assert isinstance(refusal, Refusal)
    return replace(
        base,
        verdict=CANNOT_TELL,
        difference_db=None,
        low_db=None,
        high_db=None,
        interval_for=None,
        like_low_db=None,
        like_high_db=None,
        these_low_db=None,
        these_high_db=None,
        equal_within_db=None,
        reasons=(refusal.reason,),
        next_steps=(refusal.next_step,),
    )


def with_fit(base: Comparison, found: Fit | None) -> Comparison:
    """What a fit stands on, whether or not its result can be told."""
    if found is None:
        return base
    return replace(
        base,
        pairs=len(found.pairs.row),
        kept=float(found.kept.mean()),
        floor_slope=found.slope,
    )


def verdict_of(low_db: float, high_db: float) -> str:
    """Only an interval that leaves 0 out claims a difference."""
    if low_db > 0:
        return result.A_BETTER
    return result.B_BETTER if high_db < 0 else result.NO_CLEAR_DIFFERENCE


def equal_within_db(low_db: float, high_db: float) -> float | None:
    """1.0 where the whole interval lies within 1 dB of 0: only then are two setups called equal."""
    return EQUAL_DB if max(abs(low_db), abs(high_db)) <= EQUAL_DB else None


def told(data: Data, base: Comparison, found: Fit, spread: Spread) -> Comparison:
    """The headline with both intervals, what it stands on and what weakens it."""
    mu = found.pooled.difference_db
    like = variance.interval(mu, spread.like, spread.like_df)
    these = variance.interval(mu, spread.these, spread.these_df)
    of_like = spread.receivers >= variance.ENOUGH_RECEIVERS
    low, high = like if of_like else these
    kept = float(found.kept.mean())
    ratio = tables.spread_ratio(data.reports, data.limit.floor_db, data.design)
    saturated = bool(np.isfinite(data.limit.ceiling_db))
    block = tables.block_numbers(data.reports, data.design)
    return replace(
        with_fit(base, found),
        verdict=verdict_of(low, high),
        difference_db=mu,
        low_db=low,
        high_db=high,
        interval_for=result.LIKE if of_like else result.THESE,
        next_steps=_next(data, (high - low) / 2, base),
        warnings=checks.warnings(found, spread, kept, ratio, saturated, (data.a, data.b)),
        receivers=len(np.unique(data.reports.receiver[found.pairs.row])),
        blocks=len(np.unique(block[found.pairs.row])),
        like_low_db=like[0],
        like_high_db=like[1],
        these_low_db=these[0],
        these_high_db=these[1],
        equal_within_db=equal_within_db(low, high),
        spread_ratio=ratio,
        effective_receivers=spread.receivers,
        effective_times=spread.times,
        between_receivers_db=float(np.sqrt(found.pooled.spread_db2)),
    )


def _next(data: Data, half_width_db: float, base: Comparison) -> tuple[str, ...]:
    """How long would tell one decibel apart, where this session does not."""
    if half_width_db <= WANTED_DB or base.design is None:
        return ()
    d = data.design
    hours = effort.more_hours(d.simultaneous, d.period_min, max(base.design.hours, 0.5), half_width_db, WANTED_DB)
    return (f"To tell 1 dB apart, alternate for {effort.about(hours)} in all.",)


def without_heavy(data: Data, so_far: Comparison, found: Fit) -> tuple[Comparison, Refusal | None]:
    """Where one receiver has much of the weight or of the reports: the result without it, and whether that differs."""
    r = data.reports
    weight = np.bincount(r.receiver[found.pairs.row], found.pooled.contrast_weight, minlength=len(data.who))
    share = np.bincount(r.receiver, minlength=len(data.who)) / len(r)
    heavy = np.flatnonzero((weight > HEAVY_WEIGHT) | (share > HEAVY_REPORTS))
    for k in heavy[np.argsort(-weight[heavy], kind="stable")]:
        name = f"{data.who['rx_call'][k]} ({data.who['square'][k]})"
        estimated, verdict = _without(data, int(k), name)
        so_far = so_far if so_far.without is not None else replace(so_far, without=estimated)
        if _carries(so_far.verdict, verdict, float(weight[k])):
            return so_far, checks.carried(name, so_far.verdict, verdict)
        alone = " Without it there is too little to tell." if estimated is None else ""
        warning = f"{name} has {100 * weight[k]:.0f} % of the weight and {100 * share[k]:.0f} % of the reports.{alone}"
        so_far = replace(so_far, warnings=(*so_far.warnings, warning))
    return so_far, None


def _carries(verdict: str, without: str, weight: float) -> bool:
    """Does the result hang on one receiver? Where the others cannot tell alone: if it has more than its share."""
    if without == CANNOT_TELL:
        return weight > CARRYING_WEIGHT
    return verdict in (result.A_BETTER, result.B_BETTER) and without != verdict


def _without(data: Data, receiver: int, name: str) -> tuple[Estimate | None, str]:
    """The estimate and verdict of all the other receivers."""
    others = data.reports.receiver != receiver
    part = replace(
        data,
        cleaned=replace(data.cleaned, reports=data.reports.take(others), row=data.cleaned.row[others]),
        limit=data.limit.take(others),
    )
    found = estimate.fit(part.reports, part.limit, part.design, part.power_db)
    spread = enough(part, found)
    if isinstance(spread, Refusal) or found is None:
        return None, CANNOT_TELL
    rest = told(part, facts.nothing(data.labelled, data.a, data.b, data.power_db), found, spread)
    return Estimate(f"Without {name}", found.pooled.difference_db, rest.low_db, rest.high_db), rest.verdict

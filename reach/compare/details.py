"""Around the headline: cross-checks, the control station, the breakdown and the tables for drawing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from reach.compare import cells, estimate, geometry, headline, labels, paired, result, tables, variance
from reach.compare.checks import Refusal
from reach.compare.data import Data, gather
from reach.compare.estimate import Fit
from reach.compare.reports import Floats, Reports
from reach.compare.result import Comparison, Estimate


def detailed(data: Data, told: Comparison, found: Fit, control: pd.DataFrame | None) -> Comparison:
    """Cross-checks, breakdown and the tables for drawing."""
    r = data.reports
    rows = tables.by_receiver(r, data.who, found)
    where = geometry.geometry(data.spots)
    setting = cells.Setting(data.limit, data.design, variance.bin_min(r, data.design), data.power_db)
    spread = paired.agreement(found.pairs.difference_db)
    warned = (*told.warnings, *_against_heard(told))
    checked, more = _placebo(data, control)
    return replace(
        told,
        warnings=(*warned, *more),
        notes=(*told.notes, *_placeless(where)),
        pair_low_db=spread.low,
        pair_high_db=spread.high,
        sensitivity=_sensitivity(r, found, setting.step_min),
        control=checked,
        cells=cells.breakdown(r, where, data.spots["band"], setting),
        breakdown_left_out=where.left_out,
        by_receiver=rows,
        by_block=tables.by_block(r, data.design, found.pairs, (data.a, data.b), data.cleaned.start_us),
    )


def _placeless(where: geometry.Geometry) -> tuple[str, ...]:
    """How many reports are in the whole but in no distance and direction, because nobody knows where they were."""
    if where.distance_km is None:
        return ()
    count = int(np.isnan(where.distance_km).sum())
    if not count:
        return ()
    reports, verb = ("report", "counts") if count == 1 else ("reports", "count")
    return (f"{count:,} {reports} with locators that nothing confirms {verb} here, but in no distance or direction.",)


def _sensitivity(r: Reports, found: Fit, step_min: float) -> tuple[Estimate, ...]:
    """The same by two other estimators: receivers counted once, and stretches of time counted once."""
    means = tables.receiver_means(r, found)
    ranks = paired.signed_ranks(means)
    by_time = paired.student(_bin_means(r, found, step_min))
    return (
        Estimate(
            "every receiver counted once, by signed ranks",
            ranks.median,
            ranks.low,
            ranks.high,
            "its interval ignores the fading that receivers share and is too narrow",
        ),
        Estimate(
            f"every stretch of {step_min:.0f} minutes counted once, by Student's t",
            by_time.mean,
            by_time.low,
            by_time.high,
            "its interval speaks of these receivers only",
        ),
    )


def _bin_means(r: Reports, found: Fit, step_min: float) -> Floats:
    """Weighted mean contrast of every time bin with at least a quarter of its share of the weight."""
    bin_no = np.unique(np.floor(r.time_min[found.pairs.row] / step_min), return_inverse=True)[1]
    share = np.bincount(bin_no, found.pooled.contrast_weight)
    sums = np.bincount(bin_no, found.pooled.contrast_weight * found.pairs.difference_db)
    full = share >= 0.25 * share.mean()
    return np.asarray(sums[full] / share[full])


def _against_heard(told: Comparison) -> tuple[str, ...]:
    """A warning where the receivers that heard one setup only point the other way."""
    ahead = len(told.heard.a_only) - len(told.heard.b_only)
    if not ahead or paired.mcnemar(len(told.heard.a_only), len(told.heard.b_only)).p_exact >= 0.05:
        return ()
    other = {result.A_BETTER: -1, result.B_BETTER: 1}.get(told.verdict, 0)
    if ahead * other <= 0:
        return ()
    return (
        f"More receivers heard only {told.a if ahead > 0 else told.b}, against the verdict: look at who they are and "
        "when they listened.",
    )


def _placebo(data: Data, control: pd.DataFrame | None) -> tuple[Estimate | None, tuple[str, ...]]:
    """The control station compared as if it had changed setups when ours did: its difference should be 0."""
    if control is None or data.design.simultaneous:
        return None, ()
    named = labels.label_like(control, data.spots, data.reports.is_a, data.design.period_min)
    if not named.is_a.any() or named.is_a.all():
        return None, ("The control station was not heard alongside both setups and says nothing.",)
    theirs = gather(named, data.a, data.b, 0.0, None)
    theirs = replace(theirs, design=data.design)
    found = estimate.fit(theirs.reports, theirs.limit, theirs.design)
    spread = headline.enough(theirs, found)
    if isinstance(spread, Refusal) or found is None:
        return None, ("The control station has too few pairs to say anything.",)
    mu = found.pooled.difference_db
    low, high = variance.interval(mu, spread.like, spread.like_df)
    note = "It should be 0, as its setup did not change."
    checked = Estimate("Control station, as if it had changed too", mu, low, high, note)
    if low <= 0 <= high:
        return checked, ()
    return checked, (
        f"The control station differs by {mu:+.1f} dB between the times of {data.a} and {data.b}, although its setup "
        "did not change: the band may have moved in step with the setups.",
    )

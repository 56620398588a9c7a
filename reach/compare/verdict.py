"""The verdict with its interval, or why there is none; whether it hangs on one receiver; and what stands round it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
import pandas as pd

from reach.compare import cells, checks, days, estimate, evidence, variance
from reach.compare import design as designs
from reach.compare.checks import WANTED_DB, Refusal
from reach.compare.comparison import (
    Caution,
    Comparison,
    DesignKind,
    Estimate,
    IntervalFor,
    Method,
    NextStep,
    Note,
    Refused,
    Remark,
    Value,
    Verdict,
    verdict_of,
)
from reach.compare.days import DaysFound
from reach.compare.design import block_numbers
from reach.compare.estimate import Fit
from reach.compare.evidence import Evidence
from reach.compare.reports import Reports
from reach.compare.variance import Spread

HEAVY_WEIGHT: Final = 0.3
HEAVY_REPORTS: Final = 0.4
CARRYING_WEIGHT: Final = 0.4
EQUAL_DB: Final = 1.0
CHANCE: Final = 0.05
CLAIMS: Final = (Verdict.A_BETTER, Verdict.B_BETTER)
QUICK_BLOCK_MIN, QUICK_HOURS = 10.0, 8.0  # the day of quick changes that slow ones are held against


def judge(
    data: Evidence, base: Comparison, controls: Mapping[str, pd.DataFrame], *, in_detail: bool = True
) -> Comparison:
    """The steps of the method in their order, each of which may refuse.

    base : what can be said whatever the verdict
    controls : name -> spots of stations whose setup did not change; may be empty
    in_detail : with what stands round a verdict
    """
    refusal = checks.confounded(data.design, evidence.naive_db(data.reports))
    if refusal is not None:
        slowly = _by_days(data, base, controls)
        return slowly if slowly is not None else refused(base, refusal)
    found = estimate.fit(data.reports, data.limit, data.design)
    spread = checks.enough(data, found)
    if isinstance(spread, Refusal) or found is None:
        return refused(_with_fit(base, found), spread)
    told, refusal = without_heavy(data, headline(data, base, found, spread), found)
    if refusal is not None:
        return refused(told, refusal)
    return _detailed(data, told, found, controls) if in_detail else told


def refused(base: Comparison, refusal: Refusal | Spread) -> Comparison:
    """`cannot tell`: no difference, no interval; everything else stays for the reader to see."""
    assert isinstance(refusal, Refusal)
    return replace(
        base,
        verdict=Verdict.CANNOT_TELL,
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
        next_steps=refusal.next_steps,
    )


def _with_fit(base: Comparison, found: Fit | None) -> Comparison:
    """What a fit stands on, whether or not its result can be told."""
    if found is None:
        return base
    return replace(base, pairs=len(found.pairs.row), kept=float(found.kept.mean()), limit_slope=found.slope)


def equal_within_db(low_db: float, high_db: float) -> float | None:
    """1.0 where the whole interval lies within 1 dB of 0: only then are two setups called equal."""
    return EQUAL_DB if max(abs(low_db), abs(high_db)) <= EQUAL_DB else None


def headline(data: Evidence, base: Comparison, found: Fit, spread: Spread) -> Comparison:
    """The difference with both intervals, what it stands on and what weakens it."""
    mu = found.pooled.difference_db
    like = variance.interval(mu, spread.like, spread.like_df)
    these = variance.interval(mu, spread.these, spread.these_df)
    # Few receivers cannot speak for others: then the interval is for just these, and says so.
    of_like = spread.receivers >= variance.ENOUGH_RECEIVERS
    low, high = like if of_like else these
    ratio = variance.fading_ratio(data.reports, data.limit.threshold_db, data.design)
    block = block_numbers(data.reports, data.design)
    return replace(
        _with_fit(base, found),
        verdict=verdict_of(low, high),
        difference_db=mu,
        low_db=low,
        high_db=high,
        interval_for=IntervalFor.LIKE if of_like else IntervalFor.THESE,
        next_steps=_next(data, (high - low) / 2, base),
        warnings=checks.warnings(found, spread, ratio, data.limit.saturated),
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


def _next(data: Evidence, half_width_db: float, base: Comparison) -> tuple[Remark, ...]:
    """How long would tell one decibel apart, where this session does not; and the order of setups, where bands take turns."""
    d = data.design
    reverse = (Remark(NextStep.REVERSE),) if d.turns is not None and d.turns.same_first else ()
    if half_width_db <= WANTED_DB or base.design is None:
        return reverse
    hours = designs.more_hours(d.simultaneous, d.period_min, max(base.design.hours, 0.5), half_width_db, WANTED_DB)
    return (Remark(NextStep.HOURS, {"hours": hours, "wanted_db": WANTED_DB}), *reverse)


# -- one receiver with much of the weight


def without_heavy(data: Evidence, so_far: Comparison, found: Fit) -> tuple[Comparison, Refusal | None]:
    """Where one receiver has much of the weight or of the reports: the result without it, and whether that differs."""
    r = data.reports
    weight = np.bincount(r.receiver[found.pairs.row], found.pooled.contrast_weight, minlength=len(data.who))
    share = np.bincount(r.receiver, minlength=len(data.who)) / len(r)
    heavy = np.flatnonzero((weight > HEAVY_WEIGHT) | (share > HEAVY_REPORTS))
    for k in heavy[np.argsort(-weight[heavy], kind="stable")]:
        who: dict[str, Value] = {"rx_call": str(data.who["rx_call"][k]), "square": str(data.who["square"][k])}
        estimated, verdict = _without(data, int(k), who)
        so_far = so_far if so_far.without is not None else replace(so_far, without=estimated)
        if carries(so_far.verdict, verdict, float(weight[k])):
            values = who | {"verdict": str(so_far.verdict), "without": str(verdict)}
            return so_far, Refusal(Remark(Refused.ONE_RECEIVER, values), Remark(NextStep.MORE_RECEIVERS))
        shares: dict[str, Value] = {
            "weight": float(weight[k]),
            "reports": float(share[k]),
            "too_little_without": estimated is None,
        }
        so_far = replace(so_far, warnings=(*so_far.warnings, Remark(Caution.HEAVY_RECEIVER, who | shares)))
    return so_far, None


def carries(verdict: Verdict, without: Verdict, weight: float) -> bool:
    """Does the result hang on one receiver? Where the others cannot tell alone: if it has more than its share."""
    if without == Verdict.CANNOT_TELL:
        return weight > CARRYING_WEIGHT
    return verdict in CLAIMS and without != verdict


def _without(data: Evidence, receiver: int, who: dict[str, Value]) -> tuple[Estimate | None, Verdict]:
    """The estimate and verdict of all the other receivers."""
    others = data.reports.receiver != receiver
    part = replace(
        data,
        cleaned=replace(data.cleaned, reports=data.reports.take(others), row=data.cleaned.row[others]),
        limit=data.limit.take(others),
    )
    found = estimate.fit(part.reports, part.limit, part.design)
    spread = checks.enough(part, found)
    if isinstance(spread, Refusal) or found is None:
        return None, Verdict.CANNOT_TELL
    rest = headline(part, evidence.nothing(data.labelled, data.a, data.b), found, spread)
    left = Estimate(Method.WITHOUT, found.pooled.difference_db, rest.low_db, rest.high_db, dict(who))
    return left, rest.verdict


# -- setups that changed from day to day only


def _by_days(data: Evidence, base: Comparison, controls: Mapping[str, pd.DataFrame]) -> Comparison | None:
    """With control stations, or many days in turn; None where neither can tell."""
    beside = _beside(data, base, controls)
    if beside is not None:
        return beside
    found = days.alternating_days(data.reports, data.limit, data.design)
    if found is None or found.slope > checks.AT_LIMIT_SLOPE or found.kept_share < checks.AT_LIMIT_KEPT:
        return None
    return _told_by_days(data, base, found, DesignKind.DAYS_ALTERNATE, ())


def _beside(data: Evidence, base: Comparison, controls: Mapping[str, pd.DataFrame]) -> Comparison | None:
    """Days before and after beside the control stations, and beside each of several alone; None where they cannot tell."""
    theirs = {name: days.like(spots, data.labelled.spots, data.cleaned) for name, spots in controls.items()}
    alike = {name: reports for name, reports in theirs.items() if reports is not None}
    alone = {name: _joined(data, [reports]) for name, reports in alike.items()}
    alike, apart = _agreeing(data, {name: alike[name] for name, one in alone.items() if one is not None}, alone)
    found = _joined(data, list(alike.values()))
    if found is None:
        return None
    told = _told_by_days(data, base, found, DesignKind.WITH_CONTROL, (Remark(Note.CONTROL_ASSUMED),))
    each = [
        Estimate(Method.BESIDE_ONE, one.difference_db, one.low_db, one.high_db, {"name": name})
        for name, one in alone.items()
        if one is not None and len(alone) > 1
    ]
    return replace(told, controls=tuple(alike), warnings=(*told.warnings, *apart), sensitivity=tuple(each))


def _joined(data: Evidence, theirs: list[Reports]) -> DaysFound | None:
    return days.with_control(data.reports, data.limit, theirs) if theirs else None


def _agreeing(
    data: Evidence, alike: dict[str, Reports], alone: Mapping[str, DaysFound | None]
) -> tuple[dict[str, Reports], list[Remark]]:
    """The controls without those that changed themselves, and what is said of those.

    With three or more, one whose own interval lies apart from that of the others joined is left out, the farthest first; of
    two that lie apart nobody can tell which it was.
    """
    said = []
    while len(alike) > 1:
        gaps = {}
        for name in alike:
            rest = _joined(data, [reports for other, reports in alike.items() if other != name])
            one = alone[name]
            gaps[name] = max(one.low_db - rest.high_db, rest.low_db - one.high_db) if one and rest else 0.0
        worst = max(sorted(gaps), key=lambda name: gaps[name])
        if gaps[worst] <= 0:
            break
        out, one = len(alike) > 2, alone[worst]
        assert one is not None
        said.append(Remark(Caution.CONTROL_APART, {"name": worst, "difference_db": one.difference_db, "left_out": out}))
        if not out:
            break
        alike = {name: reports for name, reports in alike.items() if name != worst}
    return alike, said


def _told_by_days(
    data: Evidence, base: Comparison, found: DaysFound, kind: DesignKind, notes: tuple[Remark, ...]
) -> Comparison:
    low, high = found.low_db, found.high_db
    on_days = found.days_a + found.days_b
    once = data.design.runs_a == data.design.runs_b == 1  # a new mast: nothing can take turns
    quick = designs.half_width_db(False, QUICK_BLOCK_MIN, found.receivers, QUICK_HOURS)
    cost = Remark(Caution.DAYS_COUNT, {"half_width_db": (high - low) / 2, "days": on_days, "quick_db": quick})
    return replace(
        base,
        verdict=verdict_of(low, high),
        difference_db=found.difference_db,
        low_db=low,
        high_db=high,
        interval_for=IntervalFor.DAYS,
        next_steps=(checks.ALTERNATE,) if high - low > 2 * WANTED_DB and not once else (),
        warnings=(cost,),
        notes=(*base.notes, *notes),
        pairs=found.reports,
        receivers=found.receivers,
        blocks=on_days,
        equal_within_db=equal_within_db(low, high),
        kept=found.kept_share,
        limit_slope=found.slope,
        design=evidence.design_of(data, kind),
    )


# -- what stands round a verdict


def _detailed(data: Evidence, told: Comparison, found: Fit, controls: Mapping[str, pd.DataFrame]) -> Comparison:
    """Cross-checks, breakdown and the tables for drawing."""
    r = data.reports
    where = cells.geometry(data.spots)
    setting = cells.Setting(data.limit, data.design, variance.width_min(r, data.design))
    spread = variance.agreement(found.pairs.difference_db, found.pairs.share)
    checked, moved = days.placebo(data, controls)
    return replace(
        told,
        warnings=(*told.warnings, *_against_heard(told), *moved),
        notes=(*told.notes, *_placeless(where)),
        pair_low_db=spread.low,
        pair_high_db=spread.high,
        sensitivity=_sensitivity(data, found, setting.width_min),
        control=checked,
        cells=cells.breakdown(r, where, data.spots["band"], setting),
        breakdown_left_out=where.gaps,
        by_receiver=evidence.by_receiver(r, data.who, found),
        by_block=evidence.by_block(r, data.design, found.pairs, (data.a, data.b), data.cleaned.start_us),
    )


def _placeless(where: cells.Geometry) -> tuple[Remark, ...]:
    """How many reports are in the whole but in no distance and direction, because nobody knows where they were."""
    count = 0 if where.distance_km is None else int(np.isnan(where.distance_km).sum())
    return (Remark(Note.NO_PLACE, {"reports": count}),) if count else ()


def _sensitivity(data: Evidence, found: Fit, width_min: float) -> tuple[Estimate, ...]:
    """The same by two other estimators: receivers counted once, and stretches of time counted once."""
    ranks = variance.signed_ranks(evidence.receiver_means(data.reports, found))
    mean, low, high = variance.by_time(variance.scores(data.reports, found, width_min), found.pairs.difference_db)
    return (
        Estimate(Method.SIGNED_RANKS, ranks.median, ranks.low, ranks.high),
        Estimate(Method.TIME_BINS, mean, low, high, {"step_min": width_min}),
    )


def _against_heard(told: Comparison) -> tuple[Remark, ...]:
    """A warning where the receivers that heard one setup only point the other way."""
    if told.verdict not in CLAIMS:
        return ()
    alone = {"a": len(told.heard.a_only), "b": len(told.heard.b_only)}
    better, worse = ("a", "b") if told.verdict == Verdict.A_BETTER else ("b", "a")
    if alone[worse] <= alone[better] or variance.sign_test(alone["a"], alone["b"]) >= CHANCE:
        return ()
    return (Remark(Caution.HEARD_ALONE, {"more": worse}),)

"""What is said round a difference, at its edges: equal, heavy, heard alone, beside which controls; hours worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from reach.compare import days, design, estimate, evidence, variance, verdict
from reach.compare.comparison import Caution, DesignKind, Heard, NextStep, Verdict, verdict_of
from reach.compare.days import DaysFound
from tests.compare.factory import alternating, sorted_reports


def test_only_an_interval_that_leaves_0_out_claims_a_difference():
    assert verdict_of(0.0, 1.0) == verdict_of(-1.0, 0.0) == verdict_of(-1.0, 1.0) == Verdict.NO_CLEAR_DIFFERENCE
    assert (verdict_of(0.1, 1.0), verdict_of(-1.0, -0.1)) == (Verdict.A_BETTER, Verdict.B_BETTER)


@pytest.mark.parametrize(
    ("low_db", "high_db", "equal"),
    [(-1.0, 1.0, 1.0), (-1.01, 0.0, None), (0.0, 1.01, None), (0.2, 0.9, 1.0), (-0.9, -0.2, 1.0)],
)
def test_setups_are_called_equal_where_the_whole_interval_lies_within_a_decibel(low_db, high_db, equal):
    assert verdict.equal_within_db(low_db, high_db) == equal


@pytest.mark.parametrize(("weight", "carries"), [(0.4, False), (0.41, True)])
def test_one_receiver_carries_what_the_others_cannot_tell_from_two_fifths_of_the_weight_on(weight, carries):
    for one in (Verdict.A_BETTER, Verdict.B_BETTER, Verdict.NO_CLEAR_DIFFERENCE):
        assert verdict.carries(one, Verdict.CANNOT_TELL, weight) is carries


@pytest.mark.parametrize("better", [Verdict.A_BETTER, Verdict.B_BETTER])
@pytest.mark.parametrize(
    ("with_better", "with_worse", "warned"),
    [(0, 6, True), (0, 5, False), (5, 15, True), (5, 14, False), (6, 0, False), (6, 6, False), (0, 0, False)],
)
def test_receivers_that_heard_the_worse_setup_alone_are_warned_of_where_chance_would_not_do_it(
    better, with_better, with_worse, warned
):
    """Two-sided by coin: 0 of 6 has 2 / 64, 0 of 5 has 2 / 32; 5 of 20 has 0.041, 5 of 19 0.064."""
    names = tuple(f"G{k}QRA IO91" for k in range(20))
    alone = names[:with_better], names[:with_worse]
    heard = Heard(*(alone if better == Verdict.A_BETTER else alone[::-1]), ())
    found = verdict._against_heard(SimpleNamespace(verdict=better, heard=heard))
    more = "b" if better == Verdict.A_BETTER else "a"
    assert [(one.code, dict(one.values)) for one in found] == (
        [(Caution.HEARD_ALONE, {"more": more})] if warned else []
    )
    assert verdict._against_heard(SimpleNamespace(verdict=Verdict.NO_CLEAR_DIFFERENCE, heard=heard)) == ()


# -- how long it would take


def _evidence(**how) -> evidence.Evidence:
    spots = alternating(5, **how)
    labelled = evidence.label(spots, "a", "b")
    return evidence.gather(labelled, "a", "b", np.zeros(len(labelled.is_a)), None)


@pytest.mark.parametrize("half_width_db", [1.0, 1.01, 2.0])
def test_hours_are_told_where_a_decibel_cannot_be_told_apart(half_width_db):
    """By the law of ten-minute blocks: hours grow with the half-width to the power of 1 / 0.57."""
    data = _evidence(blocks=24)
    base = evidence.known(data)
    steps = verdict._next(data, half_width_db, base)
    if half_width_db <= 1:
        assert steps == ()
        return
    (step,) = steps
    assert (step.code, step.values["wanted_db"]) == (NextStep.HOURS, 1.0)
    assert step.values["hours"] == pytest.approx(base.design.hours * half_width_db ** (1 / 0.57))
    short = replace(base, design=replace(base.design, hours=0.1))
    assert verdict._next(data, 2.0, short)[0].values["hours"] == pytest.approx(0.5 * 2 ** (1 / 0.57))


def test_an_order_that_was_always_the_same_is_to_be_reversed_whether_or_not_hours_are_told():
    data = _evidence(blocks=24, bands=("20m", "40m"))
    base = evidence.known(data)
    assert [one.code for one in verdict._next(data, 0.9, base)] == [NextStep.REVERSE]
    assert [one.code for one in verdict._next(data, 2.0, base)] == [NextStep.HOURS, NextStep.REVERSE]


def test_a_headline_speaks_for_others_from_six_receivers_on():
    data = _evidence(blocks=24, receivers=10)
    found = estimate.fit(data.reports, data.limit, data.design)
    assert found is not None
    spread = variance.Spread(like=0.5, like_df=5.0, these=0.3, these_df=30.0, receivers=6.0, times=32.0)
    base, mu = evidence.known(data), found.pooled.difference_db
    for receivers, of_like in ((6.0, True), (5.99, False)):
        told = verdict.headline(data, base, found, replace(spread, receivers=receivers))
        assert (told.like_low_db, told.like_high_db) == pytest.approx(variance.interval(mu, 0.5, 5.0))
        assert (told.these_low_db, told.these_high_db) == pytest.approx(variance.interval(mu, 0.3, 30.0))
        assert (told.low_db, told.high_db) == (
            (told.like_low_db, told.like_high_db) if of_like else (told.these_low_db, told.these_high_db)
        )
        assert told.between_receivers_db == pytest.approx(np.sqrt(found.pooled.spread_db2))


# -- one receiver with much


def _pooled(
    data: evidence.Evidence, weight: np.ndarray, share: np.ndarray, monkeypatch
) -> list[tuple[str, float, float]]:
    """Which receivers are named as heavy, where weights and shares of reports are these and the rest says the same."""
    receiver = np.repeat(np.arange(len(weight)), (share * 1000).astype(int))
    reports = sorted_reports(np.arange(len(receiver)), [True] * len(receiver), receiver=receiver)
    rows = np.searchsorted(receiver, np.arange(len(weight)))
    found = SimpleNamespace(pairs=SimpleNamespace(row=rows), pooled=SimpleNamespace(contrast_weight=weight))
    monkeypatch.setattr(verdict, "_without", lambda data, k, who: (None, Verdict.NO_CLEAR_DIFFERENCE))
    part = SimpleNamespace(reports=reports, who=data.who)
    told, refusal = verdict.without_heavy(
        part, replace(evidence.known(data), verdict=Verdict.NO_CLEAR_DIFFERENCE), found
    )
    assert refusal is None
    return [(one.values["rx_call"], one.values["weight"], one.values["reports"]) for one in told.warnings]


def test_three_tenths_of_the_weight_or_two_fifths_of_the_reports_make_a_receiver_heavy(monkeypatch):
    """More than that; the heaviest first, the weight and not the reports."""
    data = _evidence(receivers=4)
    calls = list(data.who["rx_call"])
    even = np.full(4, 0.25)
    assert _pooled(data, np.array([0.3, 0.3, 0.2, 0.2]), np.array([0.4, 0.2, 0.2, 0.2]), monkeypatch) == []
    assert _pooled(data, np.array([0.31, 0.32, 0.2, 0.17]), even, monkeypatch) == [
        (calls[1], 0.32, 0.25),
        (calls[0], 0.31, 0.25),
    ]
    assert _pooled(data, even, np.array([0.41, 0.2, 0.2, 0.19]), monkeypatch) == [(calls[0], 0.25, 0.41)]


# -- days as the units


def _found(low_db: float, high_db: float, **more) -> DaysFound:
    values = {"days_a": 4, "days_b": 5, "receivers": 9, "reports": 300, "kept_share": 0.8, "slope": 0.1, **more}
    return DaysFound((low_db + high_db) / 2, low_db, high_db, **values)


@pytest.mark.parametrize(("slope", "kept_share", "told"), [(0.6, 0.25, True), (0.61, 0.25, False), (0.6, 0.24, False)])
def test_days_in_turn_are_refused_at_the_decoding_limit_as_blocks_are(slope, kept_share, told, monkeypatch):
    data = _evidence()
    found = _found(0.0, 2.0, slope=slope, kept_share=kept_share)
    monkeypatch.setattr(days, "alternating_days", lambda *_: found)
    result = verdict._by_days(data, evidence.known(data), {})
    assert (result is not None) is told
    if result is not None:
        assert (result.pairs, result.receivers, result.blocks, result.kept, result.limit_slope) == (
            300,
            9,
            9,
            0.25,
            0.6,
        )
        assert result.design.kind == DesignKind.DAYS_ALTERNATE


@pytest.mark.parametrize(
    ("high_db", "runs", "advised"),
    [(2.0, (4, 4), False), (2.1, (4, 4), True), (2.1, (1, 1), False), (2.1, (1, 2), True), (2.1, (2, 1), True)],
)
def test_to_alternate_quickly_is_advised_where_a_decibel_cannot_be_told_apart_and_setups_can_take_turns(
    high_db, runs, advised
):
    data = _evidence()
    data = replace(data, design=replace(data.design, runs_a=runs[0], runs_b=runs[1]))
    told = verdict._told_by_days(data, evidence.known(data), _found(0.0, high_db), DesignKind.WITH_CONTROL, ())
    assert [one.code for one in told.next_steps] == ([NextStep.ALTERNATE] if advised else [])
    (cost,) = told.warnings
    quick_db = design.half_width_db(False, 10.0, 9, 8.0)
    assert dict(cost.values) == {"half_width_db": high_db / 2, "days": 9, "quick_db": pytest.approx(quick_db)}


def _agreeing(intervals: dict[str, tuple[float, float]], monkeypatch):
    """Which controls are left where each alone says so much, and all joined the mean of both ends."""

    def joined(_, names):
        ends = np.array([intervals[name] for name in names])
        return _found(*ends.mean(axis=0)) if names else None

    monkeypatch.setattr(verdict, "_joined", joined)
    alone = {name: _found(*each) for name, each in intervals.items()}
    left, said = verdict._agreeing(None, {name: name for name in intervals}, alone)
    return list(left), [(one.values["name"], one.values["left_out"]) for one in said]


def test_a_control_that_lies_apart_from_the_others_is_left_out_the_farthest_first(monkeypatch):
    near = {"x": (0.0, 2.0), "y": (0.5, 2.5)}
    assert _agreeing(near, monkeypatch) == (["x", "y"], [])
    assert _agreeing({**near, "z": (9.0, 11.0)}, monkeypatch) == (["x", "y"], [("z", True)])
    assert _agreeing({**near, "z": (-11.0, -9.0)}, monkeypatch) == (["x", "y"], [("z", True)])
    assert _agreeing({**near, "u": (6.0, 8.0), "z": (20.0, 22.0)}, monkeypatch) == (
        ["x", "y"],
        [("z", True), ("u", True)],
    )


def test_controls_that_touch_agree_and_of_two_that_lie_apart_both_stay(monkeypatch):
    """Of two apart the first by name is the one that is told."""
    assert _agreeing({"x": (0.0, 2.0), "y": (2.0, 4.0)}, monkeypatch) == (["x", "y"], [])
    assert _agreeing({"y": (0.0, 2.0), "x": (2.5, 4.0)}, monkeypatch) == (["y", "x"], [("x", False)])
    assert _agreeing({"x": (0.0, 2.0)}, monkeypatch) == (["x"], [])

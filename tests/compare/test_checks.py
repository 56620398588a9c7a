"""What is refused, warned about and advised, at the edges of each: hours and counts worked out by hand from METHOD.md's tables."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from reach.compare import checks, design
from reach.compare.comparison import Caution, NextStep, Refused
from reach.compare.design import Alternation, Turns

SECONDS_OFF = 1e-9


def _design(period_min: float, *, together: bool = False, runs=(9, 9), turns: Turns | None = None) -> Alternation:
    nothing = np.zeros(0)
    return Alternation(together, period_min, 20.0, 20.0, 2.0, *runs, nothing, nothing.astype(bool), turns)


def _advised(told: Alternation, minutes: int, pairs: int, times: float, receivers: int = 60) -> checks.Refusal:
    """What to do after so many minutes on the air, a transmission every two."""
    evidence = SimpleNamespace(design=told, reports=SimpleNamespace(time_min=np.arange(0.0, minutes, 2.0)))
    reason = checks.lacking(0, pairs, times)
    assert reason is not None
    return checks._too_little(evidence, reason, receivers)


def _steps(refusal: checks.Refusal) -> list[tuple[str, dict[str, object]]]:
    return [(one.code, dict(one.values)) for one in refusal.next_steps]


@pytest.mark.parametrize(
    ("period_min", "together", "minutes", "advised"),
    [
        (5.0, False, 90, NextStep.LONGER_STRETCHES),
        (5.0, False, 88, NextStep.GO_ON),
        (10.0, False, 180, NextStep.MORE_RECEIVERS),
        (10.0, False, 178, NextStep.GO_ON),
        (20.0, False, 300, NextStep.MORE_RECEIVERS),
        (2.0, True, 90, NextStep.MORE_RECEIVERS),
        (2.0, True, 88, NextStep.GO_ON),
    ],
)
def test_who_was_on_the_air_as_long_as_the_shortest_session_is_not_sent_on_for_more_of_the_same(
    period_min, together, minutes, advised
):
    """1.5 hours of five-minute blocks, 3 of ten-minute ones, 5 of twenty, 1.5 with both on the air at once; four pairs tell no pace."""
    assert [code for code, _ in _steps(_advised(_design(period_min, together=together), minutes, 4, 1.0))] == [advised]


def test_five_pairs_tell_a_pace():
    """In two hours 5 pairs of 20 and 2 stretches of 4: eight hours in all for the pairs, four for the stretches. By the law ten-minute
    blocks take (6.11 * 60 ** -0.19) ** (1 / 0.57) = 6.11 hours with 60 receivers."""
    short, long = (_advised(_design(period_min), 120, 5, 2.0) for period_min in (2.0, 10.0))
    assert _steps(short) == [(NextStep.AT_THIS_PACE, {"hours": 8.0}), (NextStep.LONGER_STRETCHES, {})]
    assert _steps(long) == [(NextStep.AT_THIS_PACE, {"hours": 8.0})]
    for pairs, times, hours in ((10, 0.5, 16.0), (5, 0.5, 16.0), (10, 1.0, 8.0)):
        assert _steps(_advised(_design(10.0), 120, pairs, times)) == [(NextStep.AT_THIS_PACE, {"hours": hours})]
    ((code, values),) = _steps(_advised(_design(10.0), 120, 7, 2.0))  # 5.7 hours
    usual = (6.11 * 60**-0.19) ** (1 / 0.57)
    assert code == NextStep.GO_ON and values["hours"] == pytest.approx(usual)


@pytest.mark.parametrize(
    ("period_min", "together", "shorter"), [(10.0, False, False), (12.0, False, True), (12.0, True, False)]
)
def test_blocks_are_called_too_long_beyond_ten_minutes(period_min, together, shorter):
    ((code, values),) = _steps(_advised(_design(period_min, together=together), 20, 3, 1.0))
    assert code == NextStep.GO_ON and values["shorter_blocks"] is shorter and values["wanted_db"] == 1.0


@pytest.mark.parametrize(("return_min", "advised"), [(240.0, NextStep.GO_ON), (242.0, NextStep.FEWER_BANDS)])
def test_a_band_heard_again_after_four_hours_comes_too_late(return_min, advised):
    told = _design(10.0, turns=Turns(6, 20.0, return_min, same_first=False))
    ((code, values),) = _steps(_advised(told, 60, 0, 0.0))
    assert code == advised
    if advised == NextStep.FEWER_BANDS:
        assert values == {"bands": 6, "return_min": 242.0, "within_min": 240.0}


@pytest.mark.parametrize(("receivers", "advised"), [(2, NextStep.MORE_RECEIVERS), (3, NextStep.GO_ON)])
def test_three_receivers_that_heard_both_are_enough_to_go_on(receivers, advised):
    assert [code for code, _ in _steps(_advised(_design(10.0), 60, 3, 1.0, receivers))] == [advised]


@pytest.mark.parametrize(
    ("receivers", "pairs", "times", "short"),
    [(3, 20, 4.0, False), (2, 20, 4.0, True), (3, 19, 4.0, True), (3, 20, 3.99, True)],
)
def test_what_is_just_enough_is_enough(receivers, pairs, times, short):
    found = checks.lacking(receivers, pairs, times)
    assert (found is not None) is short
    if found is not None:
        wanted = {"receivers_needed": 3, "pairs_needed": 20, "times_needed": 4.0}
        assert found.code == Refused.TOO_LITTLE
        assert dict(found.values) == {"receivers": receivers, "pairs": pairs, "times": times, **wanted}


def _fit(kept: float, slope: float) -> SimpleNamespace:
    return SimpleNamespace(kept=np.array([kept, kept]), slope=slope)


@pytest.mark.parametrize(
    ("kept", "slope", "told"),
    [(0.25, 0.6, None), (0.24, 0.6, 0.6), (0.25, 0.61, 0.61), (0.25, 1.7, 1.0), (0.2, -0.3, 0.0)],
)
def test_too_many_reports_at_the_limit_are_a_quarter_kept_or_a_slope_beyond_0_6(kept, slope, told):
    found = checks.at_the_limit(_fit(kept, slope), False)
    assert (found is None) is (told is None)
    if found is not None:
        assert dict(found.reason.values) == {"kept": kept, "slope": told, "saturated": False}


@pytest.mark.parametrize(
    ("kept", "slope", "ratio", "receivers", "warned"),
    [
        (0.6, 0.35, 0.8, 6.0, []),
        (0.6, 0.35, 1.25, 6.0, []),
        (0.6, 0.35, None, 6.0, []),
        (0.59, 0.35, None, 6.0, [Caution.NEAR_LIMIT]),
        (0.6, 0.36, None, 6.0, [Caution.NEAR_LIMIT]),
        (0.6, 0.35, 0.79, 6.0, [Caution.FADING_DIFFERS]),
        (0.6, 0.35, 1.26, 6.0, [Caution.FADING_DIFFERS]),
        (0.6, 0.35, None, 5.9, [Caution.FEW_RECEIVERS]),
    ],
)
def test_a_result_is_warned_about_beyond_each_limit_and_not_at_it(kept, slope, ratio, receivers, warned):
    found = checks.warnings(_fit(kept, slope), SimpleNamespace(receivers=receivers), ratio, False)
    assert [one.code for one in found] == warned


@pytest.mark.parametrize(
    ("runs", "period_min", "why", "steps"),
    [
        ((3, 3), 90.0, None, None),
        ((3, 3), 91.0, Refused.CHANGED_TOO_SLOWLY, [NextStep.ALTERNATE]),
        ((2, 3), 10.0, Refused.TOO_FEW_STRETCHES, [NextStep.ALTERNATE]),
        ((1, 2), 10.0, Refused.TOO_FEW_STRETCHES, [NextStep.ALTERNATE]),
        ((1, 1), 10.0, Refused.TOO_FEW_STRETCHES, [NextStep.ALTERNATE, NextStep.CONTROL]),
        ((0, 1), 10.0, Refused.NO_COMMON_BAND, [NextStep.ALTERNATE]),
        ((1, 0), 10.0, Refused.NO_COMMON_BAND, [NextStep.ALTERNATE]),
    ],
)
def test_three_stretches_of_each_and_ninety_minutes_are_enough(runs, period_min, why, steps):
    """Where each setup was on once there may be nothing that could take turns: then a control is offered as well."""
    found = checks.confounded(_design(period_min, runs=runs), 1.5)
    if why is None:
        assert found is None
        return
    assert found is not None and (found.reason.code, [code for code, _ in _steps(found)]) == (why, steps)
    assert found.reason.values["naive_db"] == 1.5
    if why == Refused.TOO_FEW_STRETCHES:
        assert dict(found.reason.values) == {
            "naive_db": 1.5,
            "stretches_a": runs[0],
            "stretches_b": runs[1],
            "needed": 3,
        }
    if why == Refused.CHANGED_TOO_SLOWLY:
        assert dict(found.reason.values) == {"naive_db": 1.5, "period_min": 91.0, "slowest_min": 90.0}


def test_with_both_on_the_air_at_once_nothing_is_confounded():
    assert checks.confounded(_design(200.0, together=True, runs=(1, 1)), 0.0) is None


@pytest.mark.parametrize(
    ("time_min", "minutes"),
    [([5.0], 10.0), ([0.0, 2.0, 4.0], 6.0), ([0.0, 2.0, 300.0, 302.0], 2 + 10 + 2 + 2.0), ([0.0, 0.0, 4.0], 8.0)],
)
def test_time_on_the_air_counts_no_gap_as_more_than_ten_minutes_and_the_last_transmission_as_the_usual_gap(
    time_min, minutes
):
    assert design.on_air_min(np.array(time_min)) == pytest.approx(minutes, abs=SECONDS_OFF)

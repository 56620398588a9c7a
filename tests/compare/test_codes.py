"""For each code the data that should raise it do: a catalogue that a new code must be entered in."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from functools import cache

import numpy as np
import pandas as pd
import pytest

from reach.assign.clock import Clock, ClockFit
from reach.assign.powers import Powers, Told
from reach.base.words import TERMINAL
from reach.compare import compare
from reach.compare.comparison import CODES, Caution, Comparison, Gap, LeftOut, Method, NextStep, Note, Refused
from reach.tell.sentences import comparison as sentences
from tests.compare import simulator
from tests.compare.factory import alternating
from tests.compare.simulator import Scenario


@cache
def _simulated(scenario: Scenario) -> Comparison:
    made = simulator.make(scenario, 1)
    return compare(made.spots, "vertical", "wire", control=made.control)


def _ab(spots: pd.DataFrame, **more) -> Comparison:
    return compare(spots, "a", "b", **more)


def _of(spots: pd.DataFrame, setup: str) -> pd.DataFrame:
    return spots[(spots["setup"] == setup).to_numpy()]


def _local(seed: int, others: pd.DataFrame, difference_db: float, blocks: int = 40) -> pd.DataFrame:
    """A station next door that hears everything."""
    local = alternating(
        seed, receivers=1, blocks=blocks, difference_db=difference_db, heard=1.0, level_db=0.0, noise_db=1.0
    )
    local = local.assign(rx_call=pd.Categorical(["EI2QSU"] * len(local)))
    return pd.concat([others, local], ignore_index=True)


def _carried() -> Comparison:
    others = alternating(2, receivers=3, blocks=40, difference_db=3.0, heard=0.2, noise_db=4.0)
    return _ab(_local(3, others, 3.0), decoding_limit_db=-40)


def _heavy() -> Comparison:
    others = alternating(2, receivers=4, blocks=40, difference_db=4.0, heard=0.2)
    return _ab(_local(3, others, 4.0), decoding_limit_db=-40)


def _alone() -> Comparison:
    """A is better, yet twelve receivers heard B only."""
    both = alternating(10, receivers=12, blocks=40, difference_db=3.0)
    only = _of(alternating(12, receivers=12, blocks=40), "b")
    only = only.assign(rx_call=only["rx_call"].cat.rename_categories(lambda name: "K" + name[1:]))
    return _ab(pd.concat([both, only], ignore_index=True))


def _beside(control: pd.DataFrame) -> Comparison:
    return _ab(alternating(10, receivers=12, blocks=40, difference_db=3.0), control=control)


def _later(spots: pd.DataFrame, days: int) -> pd.DataFrame:
    return spots.assign(time_utc=spots["time_utc"] + pd.Timedelta(days=days))


def _doubted() -> Comparison:
    spots = alternating(14, blocks=30).assign(tx_locator="IO51es")
    first = (spots["rx_call"] == spots["rx_call"].iloc[0]).to_numpy()
    return _ab(spots.assign(trust=np.where(first, "unconfirmed", "corroborated")))


BANDS = {"blocks": 30, "bands": ("20m", "40m")}
LIMIT = Scenario(
    "limit", level_db=-34, truth_db=4, offset_sd_db=1, slow_sd_db=1.5, day_sd_db=0, trend_db=0, receivers=100
)
CLIPPED = Scenario("both", level_db=-6, top_db=0, duplicates=0.2, hours=3, receivers=40)
CONTROLLED = Scenario("control", design="before after", days=8, hours=3, receivers=30, control=True)


def _before_after(*moved_db: float) -> Comparison:
    """Four days each of two setups beside as many controls, which rose by so much half way."""
    made = simulator.make(CONTROLLED, 1)
    assert made.control is not None
    half = made.spots.loc[(made.spots["setup"] == made.spots["setup"].iloc[-1]).to_numpy(), "time_utc"].min()
    late = (made.control["time_utc"] >= half).to_numpy()
    controls = {
        f"EI{k}QTD": made.control.assign(snr_db=made.control["snr_db"] + late * db) for k, db in enumerate(moved_db)
    }
    return compare(made.spots, "vertical", "wire", control=controls)


RAISES: dict[StrEnum, Callable[[], Comparison]] = {
    Refused.NOBODY_HEARD: lambda: _ab(alternating(1).iloc[:0]),
    Refused.ONE_UNHEARD: lambda: _ab(_of(alternating(1), "a")),
    Refused.NO_COMMON_BAND: lambda: _simulated(Scenario("split", design="split", bands=2, hours=6, receivers=40)),
    Refused.TOO_FEW_STRETCHES: lambda: _simulated(Scenario("halves", design="halves", hours=6, receivers=40)),
    Refused.CHANGED_TOO_SLOWLY: lambda: _simulated(Scenario("2-hour blocks", block_min=120, receivers=40)),
    Refused.TOO_LITTLE: lambda: _ab(alternating(1, receivers=2)),
    Refused.AT_DECODING_LIMIT: lambda: _simulated(LIMIT),
    Refused.ONE_RECEIVER: _carried,
    NextStep.ALTERNATE: lambda: _ab(_of(alternating(1), "a")),
    NextStep.GO_ON: lambda: _ab(alternating(1, receivers=3, blocks=6)),
    NextStep.AT_THIS_PACE: lambda: _ab(alternating(1, receivers=60, blocks=300, block_min=2, heard=0.04)),
    NextStep.LONGER_STRETCHES: lambda: _ab(alternating(1, receivers=60, blocks=300, block_min=2, heard=0.02)),
    NextStep.WAIT_FOR_STRONGER: lambda: _simulated(LIMIT),
    NextStep.MORE_RECEIVERS: _carried,
    NextStep.FEWER_BANDS: lambda: _ab(
        alternating(14, blocks=120, block_min=14, bands=tuple(f"{k}m" for k in range(10)))
    ),
    NextStep.REVERSE: lambda: _ab(alternating(14, blocks=60, level_db=10, bands=("20m", "40m"))),
    NextStep.CONTROL: lambda: _simulated(Scenario("day each", design="day each", days=2, hours=3, receivers=40)),
    NextStep.HOURS: lambda: _ab(alternating(14, **BANDS)),
    Caution.NEAR_LIMIT: lambda: _ab(alternating(14, **BANDS)),
    Caution.FADING_DIFFERS: lambda: _simulated(Scenario("deeper", fast_b_factor=2.0, hours=6, level_db=-12)),
    Caution.FEW_RECEIVERS: lambda: _ab(alternating(9, receivers=4, blocks=40, heard=0.9)),
    Caution.HEAVY_RECEIVER: _heavy,
    Caution.HEARD_ALONE: _alone,
    Caution.CONTROL_UNHEARD: lambda: _beside(_later(alternating(11, blocks=40), 7)),
    Caution.CONTROL_TOO_LITTLE: lambda: _beside(alternating(11, receivers=2, blocks=40)),
    Caution.CONTROL_DIFFERS: lambda: _beside(alternating(11, receivers=12, blocks=40, difference_db=3.0)),
    Caution.CONTROL_APART: lambda: _before_after(0.0, 25.0),
    Caution.DAYS_COUNT: lambda: _simulated(CONTROLLED),
    Note.SATURATED: lambda: _simulated(CLIPPED),
    Note.REPEATED: lambda: _simulated(CLIPPED),
    Note.NO_PLACE: _doubted,
    Note.CONTROL_ASSUMED: lambda: _simulated(CONTROLLED),
    Gap.NO_STATION_PLACE: lambda: _ab(alternating(14, **BANDS)),
    Gap.NO_STATION_LIGHT: lambda: _ab(alternating(14, **BANDS).assign(distance_km=900.0, bearing_deg=9.0)),
    Gap.WRONG_LOCATOR: lambda: _ab(alternating(14, **BANDS).assign(tx_locator="ZZ99")),
}


def _clock(code: Clock) -> Callable[[], Comparison]:
    """Clocks are told from the reports in `assign.clock` (tests/assign); a comparison says what it was given."""
    fit = ClockFit(code, 2.0, 0.2, *["2026-05-16T18:00Z"] * 4, shift_min=-10.0, within_min=2.0, other_min=10.0)
    return lambda: _ab(alternating(1), clock=fit)


def _power(told: Told) -> Callable[[], Comparison]:
    """Powers likewise, in `assign.powers`."""
    spots = alternating(1)
    given = Powers(told, 7.0, "radio", 0.0, np.where(spots["setup"] == "a", 37.0, 30.0))
    return lambda: _ab(spots, powers=given)


RAISES |= {code: _clock(code) for code in Clock} | {code: _power(code) for code in Told}
RAISES |= {
    Refused.CLOCK: _clock(Clock.SHIFTED),
    NextStep.SETTLE_CLOCK: _clock(Clock.AMBIGUOUS),
    Refused.POWER: _power(Told.DISAGREE),
    NextStep.SETTLE_POWER: _power(Told.ONE_ONLY),
}


def _codes(found: Comparison) -> list[StrEnum]:
    told = (*found.reasons, *found.next_steps, *found.warnings, *found.notes, *found.breakdown_left_out)
    about = [one for one in (found.power, found.clock) if one is not None]
    return [one.code for one in (*told, *about)]


@pytest.mark.parametrize("code", [code for codes in CODES for code in codes])
def test_the_data_that_should_raise_a_code_do(code):
    assert code in _codes(RAISES[code]())


def test_a_clear_case_raises_none():
    """Quiet, strong, twelve receivers, forty blocks, everything known: nothing to warn of and nothing left out."""
    spots = alternating(10, receivers=12, blocks=40, difference_db=3.0, noise_db=1.0, level_db=15.0)
    found = _ab(
        spots.assign(tx_locator="IO51es", trust="corroborated"),
        control=alternating(11, receivers=12, blocks=40, difference_db=0.0, level_db=15.0),
        decoding_limit_db=-28.0,
    )
    assert found.verdict == "a better" and _codes(found) == [] and found.left_out == {}


def test_every_row_that_is_not_looked_at_is_counted_by_its_reason():
    """Accepted by the comparison and left out by it are all there is."""
    spots = alternating(14, blocks=30)
    names = spots["setup"].astype(object).copy()
    names.iloc[:3], names.iloc[3:5] = None, "loop"
    weak = spots.assign(setup=names, snr_db=spots["snr_db"].mask(np.arange(len(spots)) == 6))
    weak = pd.concat([weak, weak.iloc[[20]].assign(snr_db=-30.0)], ignore_index=True)
    found = _ab(weak)
    wanted = {LeftOut.NO_SETUP: 3, LeftOut.OTHER_SETUP: 2, LeftOut.INCOMPLETE: 1, LeftOut.DUPLICATE: 1}
    assert found.left_out == wanted
    assert found.spots + sum(found.left_out.values()) == len(weak)


def test_every_other_way_of_reckoning_is_taken():
    steady = alternating(11, receivers=12, blocks=40, difference_db=0.0)
    told = [*_beside(steady).sensitivity, _beside(steady).control, _heavy().without, *_before_after(0, 0).sensitivity]
    assert {one.method for one in told} == set(Method)


def test_of_three_controls_the_one_that_changed_is_left_out_and_the_headline_names_the_rest():
    found, two = _before_after(0.0, 0.0, 25.0), _before_after(0.0, 0.0)
    assert found.controls == two.controls == ("EI0QTD", "EI1QTD")
    assert found.difference_db == pytest.approx(two.difference_db, abs=1e-9)
    (apart,) = [one for one in found.warnings if one.code == Caution.CONTROL_APART]
    assert apart.values["name"] == "EI2QTD" and apart.values["left_out"]
    assert ", measured against EI0QTD and EI1QTD (95 % interval" in sentences.headline(found, say=TERMINAL)
    assert NextStep.ALTERNATE not in _codes(found), "a mast that stands cannot take turns"


def test_of_two_controls_that_disagree_neither_is_believed_more():
    found = _before_after(0.0, 25.0)
    assert found.controls == ("EI0QTD", "EI1QTD")
    (apart,) = [one for one in found.warnings if one.code == Caution.CONTROL_APART]
    assert "one of the two changed" in sentences.remark(apart, found, say=TERMINAL)


def test_one_control_by_any_name_is_the_same_and_several_alike_change_nothing():
    """Twice the same station has twice the pairs, and days stay what counts."""
    one, named, twice = _simulated(CONTROLLED), _before_after(0.0), _before_after(0.0, 0.0)
    assert named.difference_db == pytest.approx(one.difference_db, abs=1e-9)
    assert twice.difference_db == pytest.approx(one.difference_db, abs=0.02)
    assert twice.low_db == pytest.approx(one.low_db, abs=0.05)

"""How far a map opens."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.measure.frame import AIR, STEPS_KM, WORLD_KM, opens_km

PLACES = st.lists(st.tuples(st.floats(0, 20000), st.integers(0, 500)), min_size=1, max_size=40)


@given(PLACES)
def test_nine_tenths_of_reports_and_of_receivers_lie_within(places: list[tuple[float, int]]) -> None:
    km, reports = (np.array(values) for values in zip(*places, strict=True))
    opens = opens_km(km, reports)
    assert opens in (*STEPS_KM, WORLD_KM)
    if reports.sum():
        for counts in (reports, (reports > 0).astype(int)):
            # Written out one by one and counted: at most one in ten lies outside.
            assert np.sum(np.repeat(km, counts) > opens) <= 0.1 * counts.sum() + 1


@given(PLACES)
def test_no_step_less_would_do(places: list[tuple[float, int]]) -> None:
    km, reports = (np.array(values) for values in zip(*places, strict=True))
    opens = opens_km(km, reports)
    if not reports.sum() or opens == STEPS_KM[0]:
        return
    before = STEPS_KM[STEPS_KM.index(int(opens)) - 1] if opens in STEPS_KM else STEPS_KM[-1]
    within = [np.quantile(np.repeat(km, counts), 0.9) * AIR for counts in (reports, (reports > 0).astype(int))]
    assert max(within) > before * (1 - 1e-12)


@pytest.mark.parametrize("km", range(100, 11_100, 100))
def test_a_map_opens_at_a_round_distance_and_not_half_as_far_again_as_is_needed(km: int) -> None:
    opens = opens_km([km], [1])
    assert opens % 250 == 0
    assert AIR * km <= opens <= max(1.5 * AIR * km, STEPS_KM[0])


@pytest.mark.parametrize("step", STEPS_KM[:-1])
def test_a_map_opens_at_the_step_that_just_holds_what_is_needed(step: int) -> None:
    assert opens_km([step / AIR], [1]) == step < opens_km([step / AIR + 0.001], [1])


@pytest.mark.parametrize(
    ("km", "reports", "opens"),
    [
        ([], [], WORLD_KM),
        ([300.0], [0], WORLD_KM),
        ([3.0], [1], 500.0),  # no closer than the land is drawn for
        (
            [200.0, 900.0, 1300.0, 17000.0] * 6,
            [1] * 24,
            WORLD_KM,
        ),  # a quarter lies at the antipodes: that is not left out
        ([*range(100, 2000, 100), 17000.0], [1] * 20, 2500.0),  # one in twenty is
        ([100.0, *range(1000, 2000, 100)], [10_000, *[1] * 10], 2500.0),  # a busy neighbour hides nobody
        (
            [*range(100, 2000, 100), 17000.0, 17000.0, 17000.0],
            [*[1] * 20, 0, 0],
            2500.0,
        ),  # who reported nothing is nobody
    ],
)
def test_worked_examples(km: list[float], reports: list[int], opens: float) -> None:
    assert opens_km(km, reports) == opens

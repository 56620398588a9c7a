"""Hop geometry against published ranges and laws."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import LineError
from reach.radio import hops
from tests.reference import values

HEIGHT = st.floats(80, 500)
ANGLE = st.floats(0, 60)


@pytest.mark.parametrize("height", [110, 250, 300, 350, 400])
def test_published_ranges(height):
    assert hops.hop_range_km(height, [0, 3]) == pytest.approx(values.numbers(f"hop-{height}"), abs=1)


def test_range_by_construction():
    """The same from the triangle centre of the earth, station, mirror: law of cosines, no arcsine."""
    for height, angle in [(110, 3), (300, 3), (300, 10), (350, 25)]:
        half = float(hops.hop_range_km(height, angle)) / 2 / hops.EARTH_KM
        up = np.array([np.sin(half), np.cos(half)]) * (hops.EARTH_KM + height) - np.array([0, hops.EARTH_KM])
        assert np.degrees(np.arctan2(up[1], up[0])) == pytest.approx(angle, abs=1e-9)


@pytest.mark.parametrize(
    ("distance", "height", "angle", "count"),
    [(1700, 110, 3, 1), (1800, 110, 3, 2), (3200, 300, 3, 1), (3300, 300, 3, 2), (18000, 300, 3, 6), (0, 300, 3, 0)],
)
def test_fewest_hops(distance, height, angle, count):
    """Ranges 1776 and 3225 km from the published rows."""
    assert hops.fewest_hops(distance, height_km=height, take_off_deg=angle) == count


def test_unknown_distance_has_no_hops():
    assert hops.fewest_hops([np.nan, 100.0], height_km=300, take_off_deg=3).tolist() == [0, 1]


@given(HEIGHT, ANGLE, st.floats(1, 20004))
def test_that_many_hops_span_it_and_one_fewer_does_not(height, angle, distance):
    count = int(hops.fewest_hops(distance, height_km=height, take_off_deg=angle))
    one = float(hops.hop_range_km(height, angle))
    assert count * one >= distance > (count - 1) * one


@given(HEIGHT, HEIGHT, ANGLE, ANGLE)
def test_higher_and_flatter_reach_farther(one, other, flat, steep):
    low, high = sorted((one, other))
    flat, steep = sorted((flat, steep))
    assert hops.hop_range_km(high, flat) >= hops.hop_range_km(low, flat) - 1e-9
    assert hops.hop_range_km(low, flat) >= hops.hop_range_km(low, steep) - 1e-9


def test_the_table_has_both_mirrors_and_angles():
    found = hops.table([1000.0, 5000.0])
    assert set(found) == {(110.0, 3.0), (110.0, 10.0), (300.0, 3.0), (300.0, 10.0)}
    assert found[300.0, 3.0].tolist() == [1, 2]


@pytest.mark.parametrize(("height", "angle"), [(0, 3), (-100, 3), (300, -1), (300, 90), (np.nan, 3)])
def test_the_impossible_gets_one_sentence(height, angle):
    with pytest.raises(LineError):
        hops.hop_range_km(height, angle)

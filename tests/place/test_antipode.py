"""Near the antipode: by how much a bearing may be off for the size of the cells, against paths drawn to their corners."""

from __future__ import annotations

import numpy as np
import pytest

from reach.base.words import PRINT, TERMINAL
from reach.place import path


@pytest.mark.parametrize("bearing_deg", [10.0, 100.0, 250.0])
@pytest.mark.parametrize("distance_km", [500.0, 5000.0, 15000.0, 19000.0, 19700.0])
def test_the_far_end_moved_about_stays_within(bearing_deg, distance_km):
    """The far end moved by 40 km in 360 directions: no bearing is off by more, on a sphere, and one is off by as much."""
    sphere = (path.MEAN_RADIUS_KM * 1000, 0.0)
    lon, lat = path.direct(10.0, 50.0, bearing_deg, distance_km, ellipsoid=sphere)
    lons, lats = path.direct(lon, lat, np.arange(360.0), 40.0, ellipsoid=sphere)
    _, moved = path.inverse(10.0, 50.0, lons, lats, ellipsoid=sphere)
    off = np.abs((moved - bearing_deg + 180) % 360 - 180)
    within = path.bearing_within_deg([distance_km], [40.0])[0]
    assert off.max() == pytest.approx(within, rel=1e-3)


def test_as_good_as_the_antipode_is_any_bearing():
    assert path.bearing_within_deg([20_000.0], [40.0]) == [180.0]
    assert "any bearing" in PRINT.bearing(12.0, 180.0)
    assert np.isnan(path.bearing_within_deg([0.0], [5.0])[0])


def test_the_other_way_round_is_named():
    assert TERMINAL.bearing(300.2, 2.1) == "300° +/- 3°, or the other way round at 120°"


def test_the_mean_radius_is_that_of_wgs_84():
    """(2a + b) / 3; a = 6378.137 km, b = a (1 - f), f = 1 / 298.257223563, by definition."""
    a_km, b_km = 6378.137, 6378.137 * (1 - 1 / 298.257223563)
    assert pytest.approx((2 * a_km + b_km) / 3, abs=1e-4) == path.MEAN_RADIUS_KM


def test_near_the_antipode_the_long_way_is_a_tenth_longer_than_the_short_one():
    """And 40 km at the far end, as much as two cells of six characters are wide, turn the bearing by more than two degrees."""
    around_km = 2 * np.pi * path.MEAN_RADIUS_KM
    assert (around_km - path.ANTIPODE_KM) / path.ANTIPODE_KM == pytest.approx(1.1, abs=0.02)
    assert path.bearing_within_deg([path.ANTIPODE_KM], [40.0])[0] == pytest.approx(2.3, abs=0.2)


@pytest.mark.parametrize(
    ("distance_km", "uncertainty_km", "within_deg"),
    [
        (5.0, 5.0, 180.0),
        (5.0, 4.9, 78.5),
        (5.0, 2.5, 30.0),
        (20_015.0, 1.0, 180.0),
        (20_010.0, 1.0, None),
        (1000.0, 30_000.0, 180.0),
    ],
)
def test_close_by_every_bearing_may_be_right_once_the_cell_is_as_large_as_the_way(
    distance_km, uncertainty_km, within_deg
):
    """On a plane so small: the arc sine of one by the other."""
    found = path.bearing_within_deg([distance_km], [uncertainty_km])[0]
    assert found < 90 if within_deg is None else found == pytest.approx(within_deg, abs=0.1)

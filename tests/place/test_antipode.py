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

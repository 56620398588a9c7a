"""Geodesics against published lines, a second library, and laws."""

import re

import geographiclib.geodesic
import numpy as np
import pytest
import scipy.special
from hypothesis import given
from hypothesis import strategies as st

from reach.place import path
from tests.reference import values
from tests.reference.values import degrees

MILLIMETRE_KM = 1e-6
ARCSECOND_DEG = 1 / 3600
BESSEL = (6377397.155, 1 / 299.1528128)  # Bessel 1841
INTERNATIONAL = (6378388.0, 1 / 297.0)  # International 1924
GRS80 = (6378137.0, 1 / 298.257222101)


def _line(id):
    """Positions of a Vincenty row: lat1, lat2, difference of longitude, in degrees."""
    found = re.search(r"lat1 ([-\d. ]+?) lat2 ([-\d. ]+?) dlon ([-\d. ]+?)(?: \(|$)", values.rows()[id]["inputs"])
    return [degrees(part) for part in found.groups()]


@pytest.mark.parametrize("id", [f"geod-vincenty-{k}" for k in "abcde"])
def test_vincenty_1975(id):
    """Vincenty (1975), Direct and inverse solutions of geodesics, Survey Review XXIII(176), Table II."""
    metres, azimuth_deg, _ = values.numbers(id)
    lat1, lat2, dlon = _line(id)
    ellipsoid = BESSEL if id.endswith("a") else INTERNATIONAL
    distance_km, bearing_deg = path.inverse(0, lat1, dlon, lat2, ellipsoid=ellipsoid)
    assert distance_km[0] == pytest.approx(metres / 1000, abs=MILLIMETRE_KM)
    assert bearing_deg[0] == pytest.approx(azimuth_deg, abs=0.0011 * ARCSECOND_DEG)


@pytest.mark.parametrize("id", [f"geod-vincenty-{k}" for k in "abcde"])
def test_vincenty_1975_the_other_way(id):
    metres, azimuth_deg, azimuth_2_deg = values.numbers(id)
    lat1, lat2, dlon = _line(id)
    ellipsoid = BESSEL if id.endswith("a") else INTERNATIONAL
    lon, lat = path.direct(0, lat1, azimuth_deg, metres / 1000, ellipsoid=ellipsoid)
    assert lat[0] == pytest.approx(lat2, abs=0.0011 * ARCSECOND_DEG)
    assert lon[0] == pytest.approx(dlon, abs=0.0011 * ARCSECOND_DEG)
    _, back_deg = path.inverse(dlon, lat2, 0, lat1, ellipsoid=ellipsoid)
    assert back_deg[0] == pytest.approx((azimuth_2_deg + 180) % 360, abs=0.0011 * ARCSECOND_DEG)


def test_geoscience_australia():
    """ICSM / Geoscience Australia, GDA94 Technical Manual: Flinders Peak to Buninyong."""
    metres, forward_deg, reverse_deg = values.numbers("geod-ga")
    start, end = values.rows()["geod-ga"]["inputs"].split(";")[1].split(" to ")
    lat1, lon1 = (degrees(part) for part in start.split(","))
    lat2, lon2 = (degrees(part) for part in end.split(","))
    distance_km, bearing_deg = path.inverse(lon1, lat1, lon2, lat2, ellipsoid=GRS80)
    _, back_deg = path.inverse(lon2, lat2, lon1, lat1, ellipsoid=GRS80)
    assert distance_km[0] == pytest.approx(metres / 1000, abs=MILLIMETRE_KM)
    assert bearing_deg[0] == pytest.approx(forward_deg, abs=0.005 * ARCSECOND_DEG)
    assert back_deg[0] == pytest.approx(reverse_deg, abs=0.005 * ARCSECOND_DEG)


def test_geographiclib_pages():
    """GeographicLib documentation: inverse, direct and GeodSolve examples (nearly antipodal, long, transatlantic)."""
    distance_km, _ = path.inverse(174.81, -41.32, -5.50, 40.96)
    assert distance_km[0] * 1000 == pytest.approx(values.numbers("geod-gl-inverse")[0], abs=0.001)
    lat2, lon2 = values.numbers("geod-gl-direct")
    lon, lat = path.direct(115.74, -32.06, 225, 20000)
    assert (lat[0], lon[0]) == pytest.approx((lat2, lon2), abs=1e-8)
    metres, azimuth_1, azimuth_2 = values.numbers("geod-gl-solve")
    distance_km, bearing_deg = path.inverse(-73.8, 40.6, -0.5, 51.6)
    _, back_deg = path.inverse(-0.5, 51.6, -73.8, 40.6)
    assert distance_km[0] * 1000 == pytest.approx(metres, abs=0.001)
    assert bearing_deg[0] == pytest.approx(azimuth_1, abs=1e-8)
    assert back_deg[0] - 180 == pytest.approx(azimuth_2, abs=1e-8)


def test_karney_set():
    """Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43-55: the lines shipped in the geographiclib package."""
    from geographiclib.test.test_geodesic import GeodesicTest

    lines = np.array(GeodesicTest.testcases)
    lat1, lon1, azi1, lat2, lon2, _, metres = lines[:, :7].T
    assert len(lines) == 20
    distance_km, bearing_deg = path.inverse(lon1, lat1, lon2, lat2)
    assert distance_km * 1000 == pytest.approx(metres, rel=1e-9)
    assert bearing_deg == pytest.approx(azi1 % 360, abs=1e-9)
    lon, lat = path.direct(lon1, lat1, azi1, metres / 1000)
    assert lat == pytest.approx(lat2, abs=1e-9)
    assert (lon - lon2 + 180) % 360 - 180 == pytest.approx(0, abs=1e-9)


def test_great_circle_navigation_page():
    """Valparaiso to Shanghai, on a sphere of 6371 km and on WGS 84 (Wikipedia, Great-circle navigation)."""
    here, there = (-71.6, -33.0), (121.8, 31.4)
    angle_deg, sphere_km, course_1, course_2 = values.numbers("sphere-gcn")
    sphere = (6371000.0, 0.0)
    distance_km, bearing_deg = path.inverse(*here, *there, ellipsoid=sphere)
    _, back_deg = path.inverse(*there, *here, ellipsoid=sphere)
    assert np.degrees(distance_km[0] / 6371) == pytest.approx(angle_deg, abs=0.01)
    assert distance_km[0] == pytest.approx(sphere_km, abs=1)
    assert bearing_deg[0] == pytest.approx(course_1 % 360, abs=0.01)
    assert back_deg[0] == pytest.approx((course_2 + 180) % 360, abs=0.01)
    km, azimuth_1, azimuth_2 = values.numbers("sphere-gcn-wgs84")
    distance_km, bearing_deg = path.inverse(*here, *there)
    _, back_deg = path.inverse(*there, *here)
    assert distance_km[0] == pytest.approx(km, abs=1)
    assert bearing_deg[0] == pytest.approx(azimuth_1 % 360, abs=0.01)
    assert back_deg[0] == pytest.approx((azimuth_2 + 180) % 360, abs=0.01)


def test_aviation_formulary():
    """Williams, Aviation Formulary: Los Angeles to New York on a unit sphere."""
    angle_rad, course_rad = values.numbers("sphere-williams")
    lon1, lat1, lon2, lat2 = -degrees("118 24"), degrees("33 57"), -degrees("73 47"), degrees("40 38")
    distance_km, bearing_deg = path.inverse(lon1, lat1, lon2, lat2, ellipsoid=(1000.0, 0.0))
    assert distance_km[0] == pytest.approx(angle_rad, abs=5e-7)
    assert np.radians(bearing_deg[0]) == pytest.approx(course_rad, abs=5e-7)


def test_quarter_meridian_by_an_elliptic_integral():
    a_m, f = path.WGS84
    truth_km = a_m / 1000 * scipy.special.ellipe(f * (2 - f))  # no geodesic code
    distance_km, bearing_deg = path.inverse(0, 0, 0, 90)
    assert distance_km[0] == pytest.approx(truth_km, abs=MILLIMETRE_KM)
    assert bearing_deg[0] == 0


longitudes = st.floats(-180, 180, allow_nan=False)
latitudes = st.floats(-90, 90, allow_nan=False)


@given(longitudes, latitudes, longitudes, latitudes)
def test_against_geographiclib(lon0, lat0, lon1, lat1):
    truth = geographiclib.geodesic.Geodesic.WGS84.Inverse(lat0, lon0, lat1, lon1)
    distance_km, bearing_deg = path.inverse(lon0, lat0, lon1, lat1)
    assert distance_km[0] == pytest.approx(truth["s12"] / 1000, abs=MILLIMETRE_KM)
    assert np.isnan(bearing_deg[0]) or 0 <= bearing_deg[0] < 360


@given(longitudes, latitudes, longitudes, latitudes)
def test_distance_is_symmetric_and_bounded(lon0, lat0, lon1, lat1):
    there, _ = path.inverse(lon0, lat0, lon1, lat1)
    back, _ = path.inverse(lon1, lat1, lon0, lat0)
    assert there[0] == pytest.approx(back[0], abs=MILLIMETRE_KM)
    assert 0 <= there[0] <= 20003.9315


@given(longitudes, st.floats(-89, 89), st.floats(0, 359.9), st.floats(1, 19000))
def test_direct_undoes_inverse(lon, lat, bearing, km):
    end_lon, end_lat = path.direct(lon, lat, bearing, km)
    distance_km, bearing_deg = path.inverse(lon, lat, end_lon, end_lat)
    assert distance_km[0] == pytest.approx(km, abs=1e-5)
    assert (bearing_deg[0] - bearing + 180) % 360 - 180 == pytest.approx(0, abs=1e-5)


def test_bearings_at_the_poles():
    """From the south pole everything is north along its meridian; from the north pole, south."""
    _, bearing_deg = path.inverse([0, 0, 30], [90, -90, 90], [90, 90, 30], [0, 0, 0])
    assert bearing_deg == pytest.approx([90, 90, 180])
    _, to_pole = path.inverse([17, -120], [40, -70], [99, 99], [90, 90])
    assert to_pole % 360 == pytest.approx([0, 0], abs=1e-9)


def test_bearings_across_the_date_line():
    distance_km, bearing_deg = path.inverse([179.5, -179.5], [0, 0], [-179.5, 179.5], [0, 0])
    assert bearing_deg == pytest.approx([90, 270])
    assert distance_km == pytest.approx([111.3195, 111.3195], abs=1e-3)  # a degree of the equator, a * pi / 180


def test_a_bearing_of_360_is_0():
    """np.mod(-1e-15, 360.0) is 360.0; random search does not find it."""
    assert path.turn(np.array([-1e-15, 360.0, -0.0, 720.0, 359.999])).tolist() == [0.0, 0.0, 0.0, 0.0, 359.999]


def test_no_distance_has_no_bearing():
    distance_km, bearing_deg = path.inverse(10, 50, 10, 50)
    assert distance_km[0] == 0 and np.isnan(bearing_deg[0])


def test_antipode_has_a_distance_and_some_bearing():
    distance_km, bearing_deg = path.inverse(0, 0, 180, 0)
    assert distance_km[0] == pytest.approx(20003.931458, abs=1e-5)
    assert 0 <= bearing_deg[0] < 360


def test_cell_radius():
    """Half diagonals of six-character cells: 5.2, 4.0, 3.3, 2.8 km at 0, 45, 60, 70 degrees, from lengths of a degree."""
    names = ["JJ00aa", "JN55aa", "JP50aa", "JP50ax", "JQ50aa"]
    for name, radius_km in zip(names, path.cell_radius_km(names), strict=True):
        lat = {"JJ00aa": 0, "JN55aa": 45, "JP50aa": 60, "JP50ax": 60.98, "JQ50aa": 70}[name]
        plain = np.hypot(111.32 * np.cos(np.radians(lat)) * 5 / 120, 111.2 * 2.5 / 120)
        assert radius_km == pytest.approx(plain, rel=0.01)


@pytest.mark.parametrize("name", ["JJ00aa", "JI99xx", "IO51es", "PM95", "RF80", "QQ", "BR99xx", "AA00aa"])
def test_the_cell_radius_is_that_of_the_farthest_corner(name):
    """All four corners, by geographiclib."""
    from reach.base import locator

    lon, lat, width, height = (float(part[0]) for part in locator.cells([name]))
    away_km = [
        geographiclib.geodesic.Geodesic.WGS84.Inverse(lat, lon, lat + up * height / 2, lon + east * width / 2)["s12"]
        / 1000
        for up in (-1, 1)
        for east in (-1, 1)
    ]
    assert path.cell_radius_km([name])[0] == pytest.approx(max(away_km), abs=MILLIMETRE_KM)


@given(longitudes, latitudes)
def test_a_station_is_within_its_cell_radius(lon_deg, lat_deg):
    from reach.base import locator

    name = locator.from_position(lon_deg, lat_deg)
    away_km, _ = path.inverse(*locator.centre(name), lon_deg, lat_deg)
    assert away_km[0] <= path.cell_radius_km(name)[0] * (1 + 1e-4) + MILLIMETRE_KM


def test_one_path_reaches_pyproj_as_a_list(monkeypatch):
    """Of an array of one value pyproj makes a number, and numpy before 2.4 warns of it."""
    geod, handed = path._geod(path.WGS84), []

    class Recorded:
        def inv(self, *given):
            handed.extend(given)
            return geod.inv(*given)

        def fwd(self, *given):
            handed.extend(given)
            return geod.fwd(*given)

    monkeypatch.setattr(path, "_geod", lambda ellipsoid: Recorded())
    one = path.inverse(0, 0, [0], 1), path.direct([0], 0, 0, 100)
    assert all(isinstance(each, list) for each in handed)
    two = path.inverse([0, 0], 0, 0, 1), path.direct([0, 0], 0, 0, 100)
    for a, b in zip((*one[0], *one[1]), (*two[0], *two[1]), strict=True):
        assert a.shape == (1,) and (a == b).all()

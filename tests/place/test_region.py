"""The ITU region of known places, on both sides of each line and of each exception."""

from __future__ import annotations

import geographiclib.geodesic
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.place import region, world


@pytest.mark.parametrize(
    ("place", "lon_deg", "lat_deg", "its"),
    [
        ("Ireland", -9.6, 51.8, 1), ("Iceland", -21.9, 64.1, 1), ("Azores", -25.7, 37.7, 1), ("Canary Is.", -15.4, 28.1, 1),
        ("Cape Verde", -23.5, 14.9, 1), ("South Africa", 28.0, -26.2, 1), ("Madagascar", 47.5, -18.9, 1),
        ("Reunion", 55.5, -21.1, 1), ("Oman", 58.4, 23.6, 1), ("Moscow", 37.6, 55.8, 1), ("Vladivostok", 131.9, 43.1, 1),
        ("Ulaanbaatar", 106.9, 47.9, 1), ("Almaty", 76.9, 43.2, 1), ("Turkey", 43.4, 38.5, 1), ("Franz Josef Land", 55.0, 80.5, 1),
        ("Greenland", -51.7, 64.2, 2), ("Newfoundland", -52.7, 47.6, 2), ("Bermuda", -64.8, 32.3, 2), ("Recife", -34.9, -8.1, 2),
        ("Fernando de Noronha", -32.4, -3.9, 2), ("Hawaii", -157.9, 21.3, 2), ("Alaska", -149.9, 61.2, 2),
        ("Attu", 172.9, 52.9, 2), ("Clipperton", -109.2, 10.3, 2), ("Easter I.", -109.4, -27.1, 2), ("Falklands", -57.9, -51.7, 2),
        ("Tehran", 51.4, 35.7, 3), ("Tabriz", 46.3, 38.1, 3), ("Delhi", 77.2, 28.6, 3), ("Beijing", 116.4, 39.9, 3),
        ("Tokyo", 139.7, 35.7, 3), ("Sydney", 151.2, -33.9, 3), ("New Zealand", 174.8, -41.3, 3), ("Tahiti", -149.6, -17.5, 3),
        ("Kiritimati", -157.4, 1.9, 3), ("Samoa", -171.8, -13.8, 3), ("Pitcairn", -130.1, -25.1, 3), ("Kabul", 69.2, 34.5, 3),
        ("Arctic Ocean north of Siberia", 110.0, 84.0, 1), ("Laptev Sea", 125.0, 75.5, 1), ("Beaufort Sea", -140.0, 75.0, 2),
    ],
)  # fmt: skip
def test_known_places(place, lon_deg, lat_deg, its):
    assert region.region(lon_deg, lat_deg) == its, place


@given(st.floats(-180, 180), st.floats(-90, 90))
def test_every_place_has_one(lon_deg, lat_deg):
    assert region.region(lon_deg, lat_deg) in (1, 2, 3)


SPHERE = geographiclib.geodesic.Geodesic(6_371_000.0, 0.0)
NORTH, SOUTH = 90.0, -90.0
# Radio Regulations, Nos. 5.4 to 5.6: from the north pole along meridians and great circles to the south pole. For each piece its two
# ends [degrees east, north] and the regions to its west and its east; the tropic of Cancer is the obliquity of 2000, 23.4393.
LINES = [
    ((40, NORTH), (40, 40), 1, 3), ((40, 40), (60, 23.4393), 1, 3), ((60, 23.4393), (60, SOUTH), 1, 3),
    ((-10, NORTH), (-10, 72), 2, 1), ((-10, 72), (-50, 40), 2, 1), ((-50, 40), (-20, -10), 2, 1), ((-20, -10), (-20, SOUTH), 2, 1),
    ((-168.98, NORTH), (-168.98, 65.5), 3, 2), ((-168.98, 65.5), (165, 50), 3, 2), ((165, 50), (-170, 10), 3, 2),
    ((-120, 10), (-120, SOUTH), 3, 2),
]  # fmt: skip


@pytest.mark.parametrize(("start", "end", "west", "east"), LINES)
def test_a_mile_from_a_line_the_region_is_that_of_its_side(start, end, west, east):
    """Points along each piece by geographiclib on a sphere, and two kilometres to either side of them."""
    line = SPHERE.InverseLine(start[1], start[0], end[1], end[0])
    asked = 0
    for share in np.linspace(0.02, 0.98, 49):
        at = line.Position(share * line.s13)
        lon_deg, lat_deg = at["lon2"], at["lat2"]
        aside_deg = 2 / 111.2 / np.cos(np.radians(lat_deg))
        for sign, its in ((-1, west), (1, east)):
            there = (lon_deg + sign * aside_deg + 180) % 360 - 180
            if world.countries_at([there], [lat_deg], within_km=5)[0] in region._WHOLE_1 | region._WHOLE_3:
                continue
            asked += 1
            # No. 5.3: region 1 has what lies north of Russia between the lines A and C.
            assert region.region(there, lat_deg) == (1 if its == 3 and lat_deg > 70 else its), (there, lat_deg)
    assert asked > 15


def test_line_c_goes_along_ten_degrees_north():
    for lon_deg in np.arange(-169.5, -120):
        assert [region.region(lon_deg, lat_deg) for lat_deg in (9.99, 10.01)] == [3, 2]


def test_on_a_line_the_region_is_that_to_its_east():
    assert [region.region(lon_deg, -40.0) for lon_deg in (60.0, -20.0, -120.0)] == [3, 1, 2]


def test_north_of_russia_begins_at_seventy_degrees():
    """In the East Siberian Sea, no country near."""
    assert [region.region(165.0, lat_deg) for lat_deg in (70.0, 70.01)] == [3, 1]


def test_a_country_counts_to_its_coast_and_no_farther():
    """On the Gulf north of Bushehr Iran lies west of line A: the land is in region 3, the sea half a kilometre off in region 1."""
    sea, land = 50.0, 51.2
    while land - sea > 1e-4:
        middle = (sea + land) / 2
        is_land = world.countries_at([middle], [29.0], within_km=0.0)[0] == "Iran"
        sea, land = (sea, middle) if is_land else (middle, land)
    half_a_km_deg = 0.5 / (111.2 * np.cos(np.radians(29)))
    assert [region.region(lon_deg, 29.0) for lon_deg in (sea - half_a_km_deg, land + half_a_km_deg)] == [1, 3]

"""The ITU region of known places, on both sides of each line and of each exception."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.place import region


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

"""Call areas against places that everybody knows; positions of cities are from memory, to a tenth of a degree."""

from __future__ import annotations

import csv
import io
import re

import numpy as np
import pytest

from reach import data
from reach.base import call_areas

CITIES = {
    # callsign with the digit of the city's area, city
    "W1QRA": (-71.1, 42.4),  # Boston
    "K2QSD": (-74.0, 40.7),  # New York
    "N4QTB": (-80.2, 25.8),  # Miami
    "W6QTD": (-118.2, 34.1),  # Los Angeles
    "WB7QUD": (-122.3, 47.6),  # Seattle
    "AA0QRE": (-105.0, 39.7),  # Denver
    "VE3QSB": (-79.4, 43.7),  # Toronto
    "VA7QTA": (-123.1, 49.3),  # Vancouver
    "VK6QRD": (115.9, -32.0),  # Perth
    "VK3QSF": (145.0, -37.8),  # Melbourne
    "JA8QTE": (141.4, 43.1),  # Sapporo
    "JR6QUA": (127.7, 26.2),  # Naha
    "IK0QRF": (12.5, 41.9),  # Rome
    "IS0QSC": (9.1, 39.2),  # Cagliari
    "EA7QTF": (-6.0, 37.4),  # Seville
    "SM0QUB": (18.1, 59.3),  # Stockholm
}


@pytest.mark.parametrize("call", CITIES)
def test_a_city_lies_in_its_own_area(call):
    lon, lat = CITIES[call]
    assert call_areas.outside_km([call], np.array([lon]), np.array([lat]))[0] == 0


def test_a_place_elsewhere_lies_so_far_outside():
    """Los Angeles from the box of area 1: 44.4 degrees of longitude west of it, at 34.1 N, and 6.8 degrees south."""
    (away,) = call_areas.outside_km(["W1QRA"], np.array([-118.2]), np.array([34.1]))
    truth_km = 111.2 * np.hypot(40.9 - 34.1, (118.2 - 73.8) * np.cos(np.radians(34.1)))
    assert away == pytest.approx(truth_km, rel=1e-9) and 4000 < away < 4300


@pytest.mark.parametrize(
    "call",
    ["DL1QTC", "G3QRA", "F5QRE", "W1QRA/7", "EI4QTB/P", "KH6QRA", "KL7QSA", "NP4QTA", "AH6QUA", "SWL-QT7", "IT9", ""],
)
def test_where_the_digit_says_nothing_nothing_is_said(call):
    assert call_areas.area(call) is None
    assert np.isnan(call_areas.outside_km([call], np.array([0.0]), np.array([50.0]))[0])


def test_every_row_names_its_source_and_is_a_box():
    rows = list(csv.DictReader(io.StringIO(data.read_text("call_areas.csv"))))
    assert len(rows) == 64
    for row in rows:
        assert re.search("from memory|compared with a published list", row["source"]) and len(row["digit"]) == 1
        assert float(row["west_deg"]) < float(row["east_deg"]) and float(row["south_deg"]) < float(row["north_deg"])

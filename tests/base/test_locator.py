"""Locators against published examples, the definition, and the round trip as a law."""

import maidenhead
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import locator
from reach.errors import LocatorError
from tests.reference import values

ROUNDING_CELLS = 1e-6


@pytest.mark.parametrize("id", [id for id in values.rows() if id.startswith("loc-") and id != "loc-centre"])
def test_published_locators(id):
    row = values.rows()[id]  # source and verification stand in the row
    words = row["inputs"].split()
    lat_deg, lon_deg = float(words[1]), float(words[3])
    assert locator.from_position(lon_deg, lat_deg)[0] == row["expected"]


def test_centre_by_definition():
    lat_deg, lon_deg = values.numbers("loc-centre")
    lon, lat = locator.centre(["JN58td"])
    assert (lon[0], lat[0]) == pytest.approx((lon_deg, lat_deg), abs=1e-9)


def test_cell_sizes_by_definition():
    """IARU Region 1 VHF Managers Handbook: 20 x 10 deg, 2 x 1 deg, 5' x 2.5', 30" x 15"; the last pair is a 24th."""
    width, height = locator.cell_deg(["JN", "JN58", "JN58td", "JN58td12", "JN58td12ab"])
    assert width == pytest.approx([20, 2, 5 / 60, 30 / 3600, 30 / 3600 / 24], rel=1e-12)
    assert height == pytest.approx([10, 1, 2.5 / 60, 15 / 3600, 15 / 3600 / 24], rel=1e-12)


@given(
    st.floats(-180, 180, allow_nan=False),
    st.floats(-90, 90, allow_nan=False),
    st.sampled_from([2, 4, 6, 8, 10]),
)
def test_the_cell_holds_the_point(lon_deg, lat_deg, characters):
    name = locator.from_position(lon_deg, lat_deg, characters)
    lon, lat = locator.centre(name)
    width, height = locator.cell_deg(name)
    east = (lon_deg - lon[0] + 180) % 360 - 180
    assert abs(east) <= width[0] * (0.5 + ROUNDING_CELLS)
    assert abs(lat_deg - lat[0]) <= height[0] * (0.5 + ROUNDING_CELLS)


@given(st.floats(-180, 180, allow_nan=False), st.floats(-90, 90, allow_nan=False), st.sampled_from([2, 4, 6, 8, 10]))
def test_round_trip_of_a_locator(lon_deg, lat_deg, characters):
    name = locator.from_position(lon_deg, lat_deg, characters)
    assert locator.from_position(*locator.centre(name), characters)[0] == name[0]


def test_edges_belong_to_the_cell_north_east_of_them():
    """A cell owns its south and west edge; the date line is west, the poles stay in their last cell."""
    lon, lat = [0, -180, 180, 0, 0, 2, 2 - 1e-4], [0, -90, 0, 90, 10, 0, 0]
    expected = ["JJ00aa", "AA00aa", "AJ00aa", "JR09ax", "JK00aa", "JJ10aa", "JJ00xa"]
    assert locator.from_position(lon, lat).tolist() == expected


def test_just_below_an_edge_stays_below_it():
    """Where the package we use for the other direction goes wrong: within 1/360 of a cell of an edge."""
    lat_deg = 45 + 1 / 24 - (1 / 24) / 1000
    assert locator.from_position(0.01, lat_deg)[0] == "JN05aa"


def test_case_does_not_matter_and_order_is_kept():
    lon, lat = locator.centre(["jn58TD", "IO51es", "JN58td"])
    assert lon[0] == lon[2] and lat[0] == lat[2] and lon[1] < 0


def test_cells_are_centres_and_sizes_at_once():
    names = ["jn58TD", "JN", "IO51es", "JN58", "JN58td", "JN58td12ab"]
    together = locator.cells(names)
    for ours, theirs in zip(together, (*locator.centre(names), *locator.cell_deg(names)), strict=True):
        assert ours.tolist() == theirs.tolist()


def test_none_gives_none():
    lon, lat = locator.centre([])
    assert lon.shape == lat.shape == (0,)
    assert locator.cell_deg([])[0].shape == (0,)


@pytest.mark.parametrize("text", ["JO6", "ZZ00aa", "JN58zz", "", "JN５８td", "5812ab"])
def test_what_is_no_locator_is_refused(text):
    with pytest.raises(LocatorError):
        locator.centre([text])


@pytest.mark.parametrize(("lon", "lat"), [(181, 0), (0, 91), (np.nan, 0), (0, -90.001)])
def test_off_the_globe(lon, lat):
    with pytest.raises(LocatorError, match="off the globe"):
        locator.from_position(lon, lat)


def test_only_whole_pairs():
    with pytest.raises(LocatorError, match="not 5"):
        locator.from_position(0, 0, 5)


@given(st.lists(st.integers(0, 17280 * 17280 - 1), max_size=30), st.sampled_from([2, 4, 6, 8, 10]))
def test_many_at_once_are_what_the_package_says_of_each(cells, characters):
    """Converted by halves: the very number, not nearly."""
    lon, lat = (np.array(cells) % 17280 / 48 - 180, np.array(cells) // 17280 / 96 - 90)
    names = locator.from_position(lon, lat, characters).tolist() if cells else []
    assert list(zip(*locator.centre(names)[::-1], strict=True)) == [
        maidenhead.to_location(n, center=True) for n in names
    ]

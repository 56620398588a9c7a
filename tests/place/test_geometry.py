"""What is added to each spot: its place, distance, bearing and country, by geographiclib and by hand."""

from __future__ import annotations

import geographiclib.geodesic
import numpy as np
import pandas as pd
import pytest

from reach.base import locator
from reach.errors import LocatorError
from reach.place import geometry
from reach.spots import PLACED

WGS84 = geographiclib.geodesic.Geodesic.WGS84
METRE_KM = 1e-3


def table(*pairs: tuple[str | None, str | None]) -> pd.DataFrame:
    tx, rx = zip(*pairs, strict=True)
    return pd.DataFrame(
        {"tx_locator": pd.Categorical(tx), "rx_locator": pd.Categorical(rx)}, index=range(7, 7 + len(pairs))
    )


def test_each_row_has_the_geodesic_of_its_own_two_locators():
    """Two stations and three receivers in any order; a column as described in each, the index as it was."""
    rows = [("IO51es", "JN58td"), ("JO62qm", "JN58td"), ("IO51es", "RE78ir"), ("JO62qm", "FN42"), ("IO51es", "JN58td")]
    spots = table(*rows)
    placed = geometry.place(spots)
    assert placed.index.tolist() == spots.index.tolist() and list(placed) == ["tx_locator", "rx_locator", *PLACED]
    assert {name: str(placed[name].dtype) for name in PLACED} == {name: dtype for name, (dtype, _) in PLACED.items()}
    for (tx, rx), found in zip(rows, placed.to_dict("records"), strict=True):
        (lon0,), (lat0,) = locator.centre([tx])
        (lon1,), (lat1,) = locator.centre([rx])
        truth = WGS84.Inverse(lat0, lon0, lat1, lon1)
        assert (found["rx_lon_deg"], found["rx_lat_deg"]) == (lon1, lat1)
        assert found["distance_km"] == pytest.approx(truth["s12"] / 1000, abs=METRE_KM)
        assert found["bearing_deg"] == pytest.approx(truth["azi1"] % 360, abs=1e-6)
        corners = [
            max(WGS84.Inverse(lat, lon, lat + up * high / 2, lon + wide / 2)["s12"] for up in (-1, 1)) / 1000
            for (lon,), (lat,), (wide,), (high,) in (locator.cells([name]) for name in (tx, rx))
        ]
        assert found["distance_uncertainty_km"] == pytest.approx(sum(corners), abs=METRE_KM)


def test_a_country_counts_to_25_km_off_its_coast():
    """About Clipperton, a point of the map that is alone in the sea: the distance to each cell's centre by geographiclib."""
    lat_deg = 10.3 + np.arange(-9, 10) / 24
    names = locator.from_position(np.full(len(lat_deg), -109.215), lat_deg)
    lon, lat = locator.centre(names)
    km = np.array([WGS84.Inverse(10.3, -109.215, y, x)["s12"] / 1000 for x, y in zip(lon, lat, strict=True)])
    placed = geometry.place(table(*(("IO51es", name) for name in names)))
    clear = np.abs(km - 25) > 0.3
    assert (placed["country"].notna().to_numpy() == (km < 25))[clear].all() and (
        (km > 25) & (km < 37) & clear
    ).sum() >= 3
    assert set(placed["country"].dropna()) == {"France"}


def test_a_station_without_a_locator_is_an_error_where_there_are_rows():
    with pytest.raises(LocatorError, match="the station's own locator is missing"):
        geometry.place(table(("IO51es", "JN58td"), (None, "JN58td")))
    assert len(geometry.place(table((None, "JN58td")).iloc[:0])) == 0

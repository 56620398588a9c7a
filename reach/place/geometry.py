"""Put spots on the globe: one row of geometry a distinct pair of locators, taken back to the rows by code."""

from __future__ import annotations

import numpy as np
import pandas as pd

from reach.base import keys, locator, ways
from reach.errors import LocatorError
from reach.place import path, world
from reach.spots import PLACED

COUNTRY_WITHIN_KM = 25.0


def place(spots: pd.DataFrame) -> pd.DataFrame:
    """Add where each receiver is, how far and in which direction.

    spots : spot table; needs tx_locator and rx_locator
    Returns a new table with spots.PLACED added. LocatorError where a row has no station locator.
    """
    geometry, row = _paths(spots)
    # As series they become columns as they are; arrays would be copied.
    return spots.assign(
        **{name: pd.Series(geometry[name].array.take(row), index=spots.index, copy=False) for name in PLACED}
    )


def _paths(spots: pd.DataFrame) -> tuple[pd.DataFrame, np.ndarray]:
    parts = [keys.codes(spots[name]) for name in ("tx_locator", "rx_locator")]
    if len(spots) and (parts[0][0] == 0).any():
        raise LocatorError(
            f"the station's own locator is missing: give it with {ways.asked('locator')} or in a column of the spots."
        )
    values, row = keys.distinct(*keys.combine(parts))
    tx, rx = keys.split(values, [size for _, size in parts])
    tx_locator, rx_locator = (
        keys.category(part, spots[name]) for part, name in ((tx, "tx_locator"), (rx, "rx_locator"))
    )
    return _geometry(tx_locator, rx_locator), row


def _geometry(tx_locator: pd.Categorical, rx_locator: pd.Categorical) -> pd.DataFrame:
    tx, rx = locator.cells(tx_locator.astype(object)), locator.cells(rx_locator.astype(object))
    (tx_lon, tx_lat), (rx_lon, rx_lat) = tx[:2], rx[:2]
    distance_km, bearing_deg = path.inverse(tx_lon, tx_lat, rx_lon, rx_lat)
    table = pd.DataFrame(
        {
            "rx_lon_deg": rx_lon,
            "rx_lat_deg": rx_lat,
            "distance_km": distance_km,
            "distance_uncertainty_km": path.radius_km(*tx) + path.radius_km(*rx),
            "bearing_deg": bearing_deg,
            "country": pd.Categorical(world.countries_at(rx_lon, rx_lat, within_km=COUNTRY_WITHIN_KM)),
        }
    )
    return table[list(PLACED)]

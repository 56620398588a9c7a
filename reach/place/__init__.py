"""Put spots on the globe: geodesics, land and countries, the sun."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def place(spots: pd.DataFrame) -> pd.DataFrame:
    """Add where each receiver is, how far and in which direction, and whether it was day or night on the way.

    spots : spot table (spots.SPOT); needs tx_locator, rx_locator, time_utc
    Returns a new table with spots.PLACED and place.daylight.DAYLIGHT added. LocatorError where a row has no station
    locator.
    """
    from reach.place import daylight, geometry

    return daylight.daylight(geometry.place(spots))

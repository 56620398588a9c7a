"""Where and by day or night each report was heard, as far as the table says or can be worked out from its locators."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from reach.compare.reports import Floats
from reach.errors import LocatorError

DAY_NIGHT_COLUMN: Final = "mid_day_night"
NO_STATION: Final = "no station locator (tx_locator), so no breakdown by distance and direction"
NO_SKY: Final = "no station locator (tx_locator), so no breakdown by day and night"


@dataclass(frozen=True)
class Geometry:
    """For each report, shape (n,); None where it cannot be known.

    distance_km, bearing_deg  NaN where missing
    day_night day | twilight | night at the middle of the path
    left_out  what is None, and why
    """

    distance_km: Floats | None
    bearing_deg: Floats | None
    day_night: pd.Series | None
    left_out: tuple[str, ...]


def geometry(spots: pd.DataFrame) -> Geometry:
    """From the columns distance_km, bearing_deg and mid_day_night, or from tx_locator and rx_locator.

    spots : any table of reports; a locator that is none leaves its breakdowns out, and that is said
    """
    placed = {"distance_km", "bearing_deg"} <= set(spots.columns)
    if placed and DAY_NIGHT_COLUMN in spots.columns:
        return _given(spots, spots[DAY_NIGHT_COLUMN], ())
    if "tx_locator" not in spots.columns or spots["tx_locator"].isna().any():
        return _given(spots, None, (NO_SKY,)) if placed else Geometry(None, None, None, (NO_STATION, NO_SKY))
    try:
        worked_out = _worked_out(spots)
    except LocatorError as error:
        why = f"no breakdown by distance, direction or day and night: {error}"
        return _given(spots, None, (why,)) if placed else Geometry(None, None, None, (why,))
    return _given(spots if placed else worked_out, worked_out[DAY_NIGHT_COLUMN], ())


def _given(table: pd.DataFrame, day_night: pd.Series | None, left_out: tuple[str, ...]) -> Geometry:
    return Geometry(
        distance_km=table["distance_km"].to_numpy(float),
        bearing_deg=table["bearing_deg"].to_numpy(float),
        day_night=day_night,
        left_out=left_out,
    )


def _worked_out(spots: pd.DataFrame) -> pd.DataFrame:
    from reach.base import locator
    from reach.place import daylight, path

    table = spots[["time_utc", "tx_locator", "rx_locator"]].copy()
    table["time_utc"] = pd.to_datetime(table["time_utc"], utc=True)
    ends = {}
    for end in ("tx", "rx"):
        table[f"{end}_locator"] = table[f"{end}_locator"].astype("category").cat.remove_unused_categories()
        names = table[f"{end}_locator"].cat
        lon_deg, lat_deg = locator.centre(names.categories)
        ends[end] = lon_deg[names.codes], lat_deg[names.codes]
    pair = table["tx_locator"].cat.codes.to_numpy(np.int64) * len(ends["rx"][0]) + table["rx_locator"].cat.codes
    _, first, back = np.unique(pair, return_index=True, return_inverse=True)
    distance_km, bearing_deg = path.inverse(
        ends["tx"][0][first], ends["tx"][1][first], ends["rx"][0][first], ends["rx"][1][first]
    )
    table = table.assign(
        rx_lon_deg=ends["rx"][0],
        rx_lat_deg=ends["rx"][1],
        distance_km=distance_km[back],
        bearing_deg=bearing_deg[back],
    )
    return daylight.daylight(table)

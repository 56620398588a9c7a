"""Receivers as GeoJSON (RFC 7946), for any map program."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd


def receivers_geojson(receivers: pd.DataFrame) -> str:
    """Receivers as a GeoJSON text.

    receivers : spots.RECEIVERS
    Returns a FeatureCollection of points at the centres of the receivers' cells, longitude and latitude on WGS 84 to
    six decimals, times in ISO 8601.
    """
    table = receivers.drop(columns=["rx_lon_deg", "rx_lat_deg"])
    for name in table.columns:
        if isinstance(table[name].dtype, pd.DatetimeTZDtype):
            table[name] = table[name].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        elif isinstance(table[name].dtype, pd.CategoricalDtype):
            table[name] = table[name].astype(object).where(table[name].notna(), None)
        elif table[name].dtype.kind == "f":
            table[name] = table[name].round(3)
    points = gpd.points_from_xy(receivers["rx_lon_deg"].round(6), receivers["rx_lat_deg"].round(6))
    return str(gpd.GeoDataFrame(table, geometry=points).to_json(drop_id=True)) + "\n"

"""Receivers as GeoJSON (RFC 7946), for any map program."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd


def receivers_geojson(receivers: pd.DataFrame) -> str:
    """Receivers as a GeoJSON text.

    receivers : spots.RECEIVERS, or the same of transmitters, as sentences.direction.as_written names it
    Returns a FeatureCollection of points at the centres of the receivers' cells, longitude and latitude on WGS 84 to
    six decimals, times in ISO 8601.
    """
    lon, lat = (next(name for name in receivers if str(name).endswith(end)) for end in ("_lon_deg", "_lat_deg"))
    table = receivers.drop(columns=[lon, lat])
    for name in table.columns:
        if isinstance(table[name].dtype, pd.DatetimeTZDtype):
            table[name] = table[name].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        elif isinstance(table[name].dtype, pd.CategoricalDtype):
            table[name] = table[name].astype(object).where(table[name].notna(), None)
        elif table[name].dtype.kind == "f":
            table[name] = table[name].round(3)
    points = gpd.points_from_xy(receivers[lon].round(6), receivers[lat].round(6))
    return str(gpd.GeoDataFrame(table, geometry=points).to_json(drop_id=True)) + "\n"

"""Receivers as GeoJSON (RFC 7946) and as GeoParquet (OGC, version 1.0), for any map program."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import geopandas as gpd
import pandas as pd

_GEOPARQUET: Final = "1.0.0"


def receivers_geojson(receivers: pd.DataFrame) -> str:
    """Receivers as a GeoJSON text.

    receivers : spots.RECEIVERS, or the same of transmitters, as sentences.direction.as_written names it
    Returns a FeatureCollection of points at the centres of the receivers' cells, longitude and latitude on WGS 84 to
    six decimals, times in ISO 8601.
    """
    table = _as_points(receivers)
    for name in table.columns.drop(table.geometry.name):
        if isinstance(table[name].dtype, pd.DatetimeTZDtype):
            table[name] = table[name].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        elif isinstance(table[name].dtype, pd.CategoricalDtype):
            table[name] = table[name].astype(object).where(table[name].notna(), None)
    return str(table.to_json(drop_id=True)) + "\n"


def write_geoparquet(receivers: pd.DataFrame, path: Path) -> None:
    """The same receivers as GeoParquet: the same points and roundings, times as times, on WGS 84 with longitude first."""
    table = _as_points(receivers).set_crs("OGC:CRS84")
    table.to_parquet(path, index=False, compression="zstd", schema_version=_GEOPARQUET)


def _as_points(receivers: pd.DataFrame) -> gpd.GeoDataFrame:
    """Receivers as points at the centres of their cells, in place of the columns of longitude and latitude."""
    lon, lat = (next(name for name in receivers if str(name).endswith(end)) for end in ("_lon_deg", "_lat_deg"))
    table = receivers.drop(columns=[lon, lat])
    for name in table.columns:
        if table[name].dtype.kind == "f":
            table[name] = table[name].round(3)
    return gpd.GeoDataFrame(table, geometry=gpd.points_from_xy(receivers[lon].round(6), receivers[lat].round(6)))

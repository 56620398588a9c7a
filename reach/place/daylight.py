"""The day and night for each spot: the sun at both ends and the middle of its path, and how much of it is dark.

Everything is reckoned at the ground. At 300 km the sun sets when it is about 17 degrees below the horizon of the ground
beneath, so a layer up there sees daylight for longer than these columns say.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys, locator
from reach.place import path, sun

Floats = npt.NDArray[np.float64]

DAYLIGHT: Final = {
    "tx_sun_deg": ("float32", "elevation of the sun at the station, without refraction"),
    "rx_sun_deg": ("float32", "the same at the receiver"),
    "mid_sun_deg": ("float32", "the same at the middle of the path"),
    "tx_day_night": ("category", "day, twilight or night at the station"),
    "rx_day_night": ("category", "the same at the receiver"),
    "mid_day_night": ("category", "the same at the middle of the path"),
    "grey_line": ("bool", "both ends within 6 degrees of the terminator"),
    "dark_share": ("float32", "share of the path on which the sun has set, 0..1"),
    "tx_solar_hour": ("float32", "local apparent solar time at the station, 0 <= h < 24"),
}

DAY: Final = "day"  # from sunrise to sunset
TWILIGHT: Final = "twilight"  # to the end of civil twilight
NIGHT: Final = "night"
STATES: Final = (DAY, TWILIGHT, NIGHT)
# The end of civil twilight (common practice), and how near the terminator counts as grey line.
TWILIGHT_DEG: Final = -6.0
GREY_LINE_DEG: Final = 6.0

_ROWS_AT_ONCE: Final = 200_000  # what is worked on together: some tens of megabytes, however long the table


def daylight(spots: pd.DataFrame, known: pd.DataFrame | None = None) -> pd.DataFrame:
    """Add the day and night to placed spots.

    spots : needs time_utc, tx_locator, rx_locator (categories), rx_lon_deg, rx_lat_deg, distance_km, bearing_deg; no
        tx_locator may be missing
    known : DAYLIGHT of the same rows as it was worked out before; rows in which tx_sun_deg is NaN are worked out now
    Returns a new table with DAYLIGHT added; NaN, null and False where time or place is missing.
    The middle of a path is that of the geodesic on WGS 84.
    """
    if known is None:
        return spots.assign(**_worked_out(spots))
    left = np.flatnonzero(known["tx_sun_deg"].isna())
    if not len(left):
        return spots.assign(**{name: known[name].set_axis(spots.index) for name in DAYLIGHT})  # as series, not copied
    added = {}
    for name, values in _worked_out(spots.iloc[left]).items():
        is_state = DAYLIGHT[name][0] == "category"
        whole = (known[name].cat.codes if is_state else known[name]).to_numpy().copy()
        whole[left] = values.codes if is_state else values
        added[name] = _category(whole.astype("int8")) if is_state else whole
    return spots.assign(**added)


def _worked_out(spots: pd.DataFrame) -> dict[str, Any]:
    """DAYLIGHT by name, as `daylight` adds it."""
    paths, path_of_row = _paths(spots)
    suns, sun_of_row = _suns(spots["time_utc"])
    columns = {name: np.empty(len(spots), "float32") for name, (dtype, _) in DAYLIGHT.items() if dtype == "float32"}
    states = {name: np.empty(len(spots), "int8") for name, (dtype, _) in DAYLIGHT.items() if dtype == "category"}
    grey = np.empty(len(spots), bool)
    for start in range(0, len(spots), _ROWS_AT_ONCE):
        rows = slice(start, start + _ROWS_AT_ONCE)
        at = {name: values[path_of_row[rows]] for name, values in paths.items()}
        lon, lat = suns[0][sun_of_row[rows]], suns[1][sun_of_row[rows]]
        height = {end: sun.from_subsolar(lon, lat, at[f"{end}_lon"], at[f"{end}_lat"]) for end in ("tx", "rx", "mid")}
        for end, elevation in height.items():
            columns[f"{end}_sun_deg"][rows] = elevation
            states[f"{end}_day_night"][rows] = _state_codes(elevation)
        grey[rows] = (np.abs(height["tx"]) <= GREY_LINE_DEG) & (np.abs(height["rx"]) <= GREY_LINE_DEG)
        columns["dark_share"][rows] = dark_share(lon, lat, at["tx_lon"], at["tx_lat"], at["bearing"], at["distance"])
        hour = sun.solar_hour(lon, at["tx_lon"]).astype("float32")
        columns["tx_solar_hour"][rows] = np.where(hour >= 24, 0, hour)  # rounding to float32 may reach 24
    added: dict[str, Any] = {**columns, **{name: _category(codes) for name, codes in states.items()}, "grey_line": grey}
    return {name: added[name] for name in DAYLIGHT}


def dark_share(
    sun_lon_deg: npt.ArrayLike,
    sun_lat_deg: npt.ArrayLike,
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    bearing_deg: npt.ArrayLike,
    distance_km: npt.ArrayLike,
) -> Floats:
    """Share of a path on which the sun has set.

    sun_lon_deg, sun_lat_deg : the point below the sun (`sun.subsolar`)
    lon_deg, lat_deg, bearing_deg, distance_km : where the path starts, its initial bearing (NaN at distance 0), its
        length, 0..20004; all six broadcast to shape (...)
    Returns 0..1, shape (...): 0 where it is day all along, 1 where it is day nowhere; NaN where an input is missing.
    Along a great circle the sine of the sun's elevation is a cosine of the way gone, a cos s + b sin s; so the lit
    part is found without sampling. On a sphere with the geodesic's length and bearing: within about 0.01 of WGS 84.
    """
    sun_lat, lat = np.radians(sun_lat_deg), np.radians(lat_deg)
    west = np.radians(np.asarray(sun_lon_deg, dtype=float) - np.asarray(lon_deg, dtype=float))
    length = np.asarray(distance_km, dtype=float) / path.MEAN_RADIUS_KM
    bearing = np.radians(np.asarray(bearing_deg, dtype=float))
    up = np.sin(lat) * np.sin(sun_lat) + np.cos(lat) * np.cos(sun_lat) * np.cos(west)
    north = np.cos(lat) * np.sin(sun_lat) - np.sin(lat) * np.cos(sun_lat) * np.cos(west)
    ahead = north * np.cos(bearing) + np.cos(sun_lat) * np.sin(west) * np.sin(bearing)
    horizon = np.sin(np.radians(sun.SUNRISE_DEG))
    noon = np.arctan2(ahead, up)  # where on the great circle the sun stands highest
    with np.errstate(divide="ignore", invalid="ignore"):
        half = np.arccos(np.maximum(horizon / np.hypot(up, ahead), -1.0))  # below 0, so never above 1
        # A path is no longer than half a turn and noon lies within half a turn of its start: a turn earlier it is over.
        lit = sum(_overlap(length, noon + turn - half, noon + turn + half) for turn in (0.0, 2 * np.pi))
        share = 1 - lit / length
    share = np.where(length == 0, up < horizon, np.maximum(share, 0.0))
    return np.asarray(np.round(share, 6), dtype=np.float64)


def _overlap(length: Floats, start: Floats, end: Floats) -> Floats:
    """How much of start..end lies in 0..length."""
    return np.maximum(0.0, np.minimum(length, end) - np.maximum(0.0, start))


def _paths(spots: pd.DataFrame) -> tuple[dict[str, Floats], npt.NDArray[np.int64]]:
    """Both ends and the middle of each distinct path, and which path each row has."""
    parts = [keys.codes(spots[name]) for name in ("tx_locator", "rx_locator")]
    values, row = keys.distinct(*keys.combine(parts))
    one = spots.iloc[keys.first_rows(row, len(values))]
    tx_lon, tx_lat = locator.centre(one["tx_locator"].astype(object))
    distance, bearing = (one[name].to_numpy().astype(float) for name in ("distance_km", "bearing_deg"))
    mid_lon, mid_lat = path.direct(tx_lon, tx_lat, np.nan_to_num(bearing), distance / 2)
    return {
        "tx_lon": tx_lon,
        "tx_lat": tx_lat,
        "rx_lon": one["rx_lon_deg"].to_numpy().astype(float),
        "rx_lat": one["rx_lat_deg"].to_numpy().astype(float),
        "mid_lon": mid_lon,
        "mid_lat": mid_lat,
        "bearing": bearing,
        "distance": distance,
    }, row


def _suns(time_utc: pd.Series) -> tuple[tuple[Floats, Floats], npt.NDArray[np.intp]]:
    """The point below the sun at each distinct time, and which time each row has."""
    codes, times = pd.factorize(time_utc.dt.tz_convert(None).to_numpy(), use_na_sentinel=False)
    return sun.subsolar(np.asarray(times)), codes


def _state_codes(elevation_deg: Floats) -> npt.NDArray[np.int8]:
    day, twilight = elevation_deg >= sun.SUNRISE_DEG, elevation_deg >= TWILIGHT_DEG
    return np.select([np.isnan(elevation_deg), day, twilight], [-1, 0, 1], 2).astype("int8")


def _category(codes: npt.NDArray[np.int8]) -> pd.Categorical[str]:
    return pd.Categorical.from_codes(codes, categories=pd.Index(STATES))

"""Where the sun is: the point below it and its elevation, for any times and places at once.

Low-accuracy formulas of Meeus, numpy only. Against a full ephemeris the elevation is within 0.02 degrees from 2000 to
2050. Elevations are geometric: of the sun's centre, without refraction, because a path through the ionosphere does not
look through the same air as an eye on the ground.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]

# The sun's upper edge on the horizon, refraction included: the convention of sunrise tables.
SUNRISE_DEG: Final = -0.833
_J2000_US: Final = np.datetime64("2000-01-01T12:00:00", "us").astype(np.int64)
_DAY_US: Final = 86_400_000_000
# Terrestrial less universal time: 64 s in 2000, near 69 s since 2016, forecast near 90 s in 2050. A constant moves the
# sun by less than 0.001 degrees.
_DELTA_T_DAYS: Final = 70.0 / 86_400


def subsolar(time_utc: Any) -> tuple[Floats, Floats]:
    """The point on the globe where the sun stands in the zenith.

    time_utc : shape (n,) or one moment: datetime64, datetime, pandas Series or index; UTC where it has no offset
    Returns lon_deg (-180 <= lon < 180), lat_deg (which is the declination), shape (n,), or 0-d for one moment; NaN for
    a missing time.
    Source: Meeus (1998), Astronomical Algorithms, 2nd ed., ch. 12 (mean sidereal time), ch. 22 (obliquity, nutation by
    its largest term), ch. 25 (solar coordinates, low accuracy).
    """
    days = days_since_2000(time_utc)
    longitude_deg, obliquity_deg, nutation_deg = _ecliptic(days + _DELTA_T_DAYS)
    longitude, obliquity = np.radians(longitude_deg), np.radians(obliquity_deg)
    ascension_deg = np.degrees(np.arctan2(np.cos(obliquity) * np.sin(longitude), np.cos(longitude)))
    declination_deg = np.degrees(np.arcsin(np.sin(obliquity) * np.sin(longitude)))
    centuries = days / 36525
    sidereal_deg = 280.46061837 + 360.98564736629 * days + 0.000387933 * centuries**2 + nutation_deg * np.cos(obliquity)
    return half_turn(ascension_deg - sidereal_deg), declination_deg


def elevation_deg(time_utc: Any, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> Floats:
    """Elevation of the sun's centre above the horizon, without refraction.

    time_utc : as for `subsolar`; lon_deg, lat_deg : degrees east and north; all three broadcast to shape (...)
    Returns degrees, shape (...), -90..90; NaN where a time or a place is missing.
    """
    sun_lon, sun_lat = subsolar(time_utc)
    return from_subsolar(sun_lon, sun_lat, lon_deg, lat_deg)


def from_subsolar(
    sun_lon_deg: npt.ArrayLike, sun_lat_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike
) -> Floats:
    """The same where the point below the sun is known already; all broadcast to shape (...)."""
    sun_lat, lat = np.radians(sun_lat_deg), np.radians(lat_deg)
    hour_angle = np.radians(np.asarray(lon_deg, dtype=float) - np.asarray(sun_lon_deg, dtype=float))
    sine = np.sin(lat) * np.sin(sun_lat) + np.cos(lat) * np.cos(sun_lat) * np.cos(hour_angle)
    return np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0)))


def solar_hour(sun_lon_deg: npt.ArrayLike, lon_deg: npt.ArrayLike) -> Floats:
    """Local apparent solar time: 12 when the sun is due south or north, on the place's own meridian.

    sun_lon_deg : longitude of the point below the sun; lon_deg : of the place; broadcast to shape (...)
    Returns hours, shape (...), 0 <= h < 24.
    """
    west = np.asarray(lon_deg, dtype=float) - np.asarray(sun_lon_deg, dtype=float)
    hours = np.mod(12 + west / 15, 24.0)
    return np.where(hours >= 24.0, 0.0, hours)  # np.mod alone turns -1e-15 into 24


def days_since_2000(time_utc: Any) -> Floats:
    """Days since 2000-01-01 12:00 UTC, shape as given; NaN for a missing time."""
    micros = _micros(time_utc)
    missing = micros == np.iinfo(np.int64).min
    return np.where(missing, np.nan, (np.where(missing, _J2000_US, micros) - _J2000_US) / _DAY_US)


def half_turn(angle_deg: npt.ArrayLike) -> Floats:
    """Any angle as a longitude, -180 <= lon < 180 [deg]."""
    turned = np.mod(np.asarray(angle_deg, dtype=float) + 180.0, 360.0) - 180.0
    return np.where(turned >= 180.0, -180.0, turned)


def _ecliptic(days: Floats) -> tuple[Floats, Floats, Floats]:
    """Apparent longitude of the sun, true obliquity, nutation in longitude [deg]; Meeus ch. 25 and 22."""
    t = days / 36525
    mean_longitude = 280.46646 + 36000.76983 * t + 0.0003032 * t**2
    anomaly = np.radians(357.52911 + 35999.05029 * t - 0.0001537 * t**2)
    centre = (
        (1.914602 - 0.004817 * t - 0.000014 * t**2) * np.sin(anomaly)
        + (0.019993 - 0.000101 * t) * np.sin(2 * anomaly)
        + 0.000289 * np.sin(3 * anomaly)
    )
    node = np.radians(125.04 - 1934.136 * t)
    nutation = -0.00478 * np.sin(node)
    aberration = -0.00569
    obliquity = 23.43929111 - 0.013004167 * t + 0.00256 * np.cos(node)
    return mean_longitude + centre + aberration + nutation, obliquity, nutation


def _micros(time_utc: Any) -> npt.NDArray[np.int64]:
    """Microseconds since 1970, int64; the least int64 for a missing time."""
    one = np.ndim(time_utc) == 0
    index = pd.DatetimeIndex(pd.to_datetime([pd.Timestamp(np.asarray(time_utc).item())] if one else time_utc, utc=True))
    micros = index.tz_localize(None).to_numpy().astype("datetime64[us]").astype(np.int64)
    return micros.reshape(()) if one else micros

"""How far our sun is from two full ones, by decade. Run: python -m tests.place.sun_error

Against pvlib's SPA (Reda, Andreas 2003) always; against the JPL ephemeris DE421 too where skyfield and its packaged
data are installed. Geometric elevation, random moments and places.
"""

import contextlib
import importlib.util
import warnings

import numpy as np
import pandas as pd
from pvlib import spa

from reach.place import sun

YEARS = (2000, 2051)


def scene(count: int, seed: int, years: tuple[int, int] = YEARS):
    """Random moments and places, even over the globe: time_utc, lon_deg, lat_deg."""
    rng = np.random.default_rng(seed)
    start, end = (np.datetime64(f"{year}-01-01", "us").astype(np.int64) for year in years)
    time = rng.integers(start, end, count).astype("datetime64[us]")
    return time, rng.uniform(-180, 180, count), np.degrees(np.arcsin(rng.uniform(-1, 1, count)))


def spa_elevation_deg(time, lon_deg, lat_deg):
    """pvlib's SPA without refraction, for arrays of the same shape."""
    index = pd.DatetimeIndex(time)
    unix_s = time.astype("datetime64[us]").astype(np.int64) / 1e6
    delta_t_s = spa.calculate_deltat(index.year.to_numpy(), index.month.to_numpy())
    return spa.solar_position(unix_s, lat_deg, lon_deg, 0.0, 1013.25, 12.0, delta_t_s, 0.5667)[3]


def ephemeris_elevation_deg(time, lon_deg, lat_deg):
    """DE421 by skyfield, topocentric, without refraction; None where it is not installed."""
    if not all(importlib.util.find_spec(name) for name in ("skyfield", "skyfield_data")):
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its earth-rotation table is older than today
        from skyfield.api import Loader, wgs84
        from skyfield_data import get_skyfield_data_path

        load = Loader(get_skyfield_data_path(), verbose=False)
        moments = load.timescale(builtin=True).from_datetimes(
            list(pd.DatetimeIndex(time).tz_localize("UTC").to_pydatetime())
        )
        with contextlib.closing(load("de421.bsp")) as bodies:
            place = bodies["earth"] + wgs84.latlon(lat_deg, lon_deg)
            return place.at(moments).observe(bodies["sun"]).apparent().altaz()[0].degrees


def errors_deg(reference, count: int, seed: int, years: tuple[int, int] = YEARS):
    """Our elevation less the reference's, shape (count,); None where there is no reference."""
    time, lon, lat = scene(count, seed, years)
    there = reference(time, lon, lat)
    return None if there is None else sun.elevation_deg(time, lon, lat) - there


def main() -> None:
    for name, reference, count in (("SPA", spa_elevation_deg, 20_000), ("DE421", ephemeris_elevation_deg, 4_000)):
        for start in (2000, 2010, 2020, 2030, 2040):
            found = errors_deg(reference, count, start, (start, start + 10 + (start == 2040)))
            if found is None:
                print(f"{name}: not installed")
                break
            print(f"{name:6} {start}-{start + 9}  max {np.abs(found).max():.4f}  rms {found.std():.4f} degrees")


if __name__ == "__main__":
    main()

"""Great-circle paths on WGS 84: distance, bearing, the point at the end, points along. pyproj's Geod, called here only.

Source of the method: Karney (2013), Algorithms for geodesics, J. Geodesy 87, 43-55.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from pyproj import Geod

from reach.base import locator

Floats = npt.NDArray[np.float64]
MEAN_RADIUS_KM: Final = 6371.0088  # of WGS 84, (2a + b) / 3
# From here on the long way round is hardly longer than the short one, and the bearing hangs on a few kilometres.
ANTIPODE_KM: Final = 19_000.0
WGS84: Final = (6378137.0, 1 / 298.257223563)  # semi-major axis [m], flattening; by definition


@cache
def _geod(ellipsoid: tuple[float, float]) -> Geod:
    return Geod(a=ellipsoid[0], f=ellipsoid[1])


def inverse(
    lon0_deg: npt.ArrayLike,
    lat0_deg: npt.ArrayLike,
    lon1_deg: npt.ArrayLike,
    lat1_deg: npt.ArrayLike,
    *,
    ellipsoid: tuple[float, float] = WGS84,
) -> tuple[Floats, Floats]:
    """Distance and initial bearing from one position to another.

    lon0_deg, lat0_deg, lon1_deg, lat1_deg : broadcast to shape (n,) [deg]; NaN passes through
    ellipsoid : semi-major axis [m] and flattening; 0 flattening is a sphere
    Returns distance_km, shape (n,), 0..20004; bearing_deg, shape (n,), 0 <= b < 360 from true north at the first
    position, NaN where the distance is 0. At a pole the bearing counts from the meridian of the longitude given; to
    the exact antipode all bearings are as short, and one of them comes back.
    """
    arrays = [np.array(a, dtype=float) for a in np.broadcast_arrays(lon0_deg, lat0_deg, lon1_deg, lat1_deg)]
    azimuth, _, metres = _geod(ellipsoid).inv(*map(_one_or_many, arrays))
    distance_km = np.asarray(metres) / 1000
    return distance_km, np.where(distance_km > 0, turn(np.asarray(azimuth)), np.nan)


def direct(
    lon_deg: npt.ArrayLike,
    lat_deg: npt.ArrayLike,
    bearing_deg: npt.ArrayLike,
    distance_km: npt.ArrayLike,
    *,
    ellipsoid: tuple[float, float] = WGS84,
) -> tuple[Floats, Floats]:
    """Where a path of that length and initial bearing ends.

    All broadcast to shape (n,). Returns lon_deg (-180..180), lat_deg.
    """
    arrays = [np.array(a, dtype=float) for a in np.broadcast_arrays(lon_deg, lat_deg, bearing_deg, distance_km)]
    arrays[3] *= 1000
    end_lon, end_lat, _ = _geod(ellipsoid).fwd(*map(_one_or_many, arrays))
    return np.asarray(end_lon), np.asarray(end_lat)


def _one_or_many(values: Floats) -> Floats | list[float]:
    """As pyproj takes them: an array of one value it turns into a number, which numpy before 2.4 warns of."""
    return [values.item()] if values.size == 1 else np.atleast_1d(values)


def turn(azimuth_deg: Floats) -> Floats:
    """Any angle as a bearing, 0 <= b < 360 [deg]. np.mod alone turns -1e-15 into 360."""
    bearing = np.mod(azimuth_deg, 360.0)
    return np.where(bearing >= 360.0, 0.0, bearing)


def bearing_within_deg(distance_km: npt.ArrayLike, uncertainty_km: npt.ArrayLike) -> Floats:
    """How far a bearing may be off because nobody knows where in their cells the two ends are.

    distance_km, uncertainty_km : shape (n,), of the path; of both its cells together
    Returns deg, shape (n,), 0..180: little in between, much close by and near the antipode, where a few kilometres at the far
    end turn the path about. 180 where every bearing may be right, and NaN where there is none (distance 0).
    Source: the angle under which a circle is seen, sin b = sin r / sin d, on a sphere of the earth's mean radius (spherical law
    of sines; Todhunter 1886, Spherical Trigonometry, 40).
    """
    far, near = np.asarray(distance_km, float) / MEAN_RADIUS_KM, np.asarray(uncertainty_km, float) / MEAN_RADIUS_KM
    opened, seen = np.sin(np.minimum(near, np.pi / 2)), np.sin(np.clip(far, 0.0, np.pi))
    with np.errstate(divide="ignore", invalid="ignore"):
        found = np.where(opened < seen, np.degrees(np.arcsin(opened / seen)), 180.0)
    return np.where(far > 0, found, np.nan)


def cell_radius_km(locators: Iterable[str]) -> Floats:
    """How far a station may be from the centre of its cell.

    locators : n locators
    Returns km, shape (n,): from the centre to the farthest corner. 5.2 km for six characters at the equator.
    """
    return radius_km(*locator.cells(locators))


def radius_km(lon_deg: Floats, lat_deg: Floats, width_deg: Floats, height_deg: Floats) -> Floats:
    """The same from what `locator.cells` gives."""
    # West and east are alike; of north and south the one nearer the equator is the farther.
    corners = [inverse(lon_deg, lat_deg, lon_deg + width_deg / 2, lat_deg + up * height_deg / 2)[0] for up in (-1, 1)]
    return np.max(corners, axis=0)

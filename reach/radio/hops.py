"""Hops as geometry: how far one reflection can carry, and how many it takes at least to span a distance.

Geometry only. A distance that one hop can span may have been covered in three, and nothing here proves a layer.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from reach.errors import LineError

Floats = npt.NDArray[np.float64]

EARTH_KM: Final = 6371.0
# Heights of the mirror [km] and take-off angles [deg] that pages and tables show: about where the E and the F2 layer
# reflect, for a signal that leaves as flat as a low antenna may send it and for a steeper one.
HEIGHTS_KM: Final = (110.0, 300.0)
TAKE_OFF_DEG: Final = (3.0, 10.0)

HIGHEST_MHZ: Final = 54.0  # common practice: beyond the 6 m band next to nothing is reflected
NEAREST_KM: Final = 150.0  # common practice: nearer than that a signal may well have come along the ground


def may_be_mirrored(distance_km: float, freq_mhz: float) -> bool:
    """Whether hops are worth a word: as far and on as low a frequency as the ionosphere reflects."""
    return distance_km >= NEAREST_KM and freq_mhz <= HIGHEST_MHZ


def hop_range_km(height_km: npt.ArrayLike, take_off_deg: npt.ArrayLike) -> Floats:
    """Ground distance that one reflection spans.

    height_km : of the mirror, above 0; take_off_deg : above the horizon, 0 <= e < 90; broadcast to shape (...)
    Returns km, shape (...). LineError where a height or an angle cannot be.
    Source: mirror on a sphere, 2 R (90 deg - e - asin(R cos e / (R + h))); 110 km at 3 degrees: 1776 km.
    """
    height = np.asarray(height_km, dtype=float)
    angle = np.asarray(take_off_deg, dtype=float)
    if not np.all(np.isfinite(height) & (height > 0)):
        raise LineError("a height of reflection is a number of km above 0, such as 300")
    if not np.all((angle >= 0) & (angle < 90)):
        raise LineError("a take-off angle is a number of degrees from 0 to below 90, such as 10")
    e = np.radians(angle)
    return 2 * EARTH_KM * (np.pi / 2 - e - np.arcsin(EARTH_KM * np.cos(e) / (EARTH_KM + height)))


def fewest_hops(distance_km: npt.ArrayLike, *, height_km: float, take_off_deg: float) -> npt.NDArray[np.int64]:
    """The fewest hops that can span a distance.

    distance_km : shape (...), >= 0
    Returns counts, shape (...), int64: 1 or more; 0 where the distance is 0 or unknown (NaN).
    """
    distance = np.nan_to_num(np.asarray(distance_km, dtype=float), nan=0.0)
    return np.ceil(distance / hop_range_km(height_km, take_off_deg)).astype(np.int64)


def table(distance_km: npt.ArrayLike) -> dict[tuple[float, float], npt.NDArray[np.int64]]:
    """`fewest_hops` for each of HEIGHTS_KM and TAKE_OFF_DEG, by (height_km, take_off_deg)."""
    return {
        (height, angle): fewest_hops(distance_km, height_km=height, take_off_deg=angle)
        for height in HEIGHTS_KM
        for angle in TAKE_OFF_DEG
    }

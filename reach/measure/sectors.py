"""Sectors of bearing and rings of distance: where a path is counted."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import numpy.typing as npt

from reach.spots import RING_EDGES_KM, SECTOR_DEG

CENTRES_DEG: Final = range(0, 360, SECTOR_DEG)
SECTORS: Final = len(CENTRES_DEG)


def sector_of(bearing_deg: Any) -> npt.NDArray[np.int64]:
    """The sector a bearing falls into, 0..11, the first centred on north; -1 where there is no bearing.

    bearing_deg : shape (n,) [deg]
    """
    bearing = np.asarray(bearing_deg, dtype=float)
    unknown = np.isnan(bearing)
    sector = np.floor(np.where(unknown, 0.0, bearing) / SECTOR_DEG + 0.5).astype(int) % SECTORS
    return np.where(unknown, -1, sector)


def ring_of(distance_km: Any) -> npt.NDArray[np.int64]:
    """The distance ring, 0..9: RING_EDGES_KM[k] <= distance < RING_EDGES_KM[k + 1].

    distance_km : shape (n,), 0..20004
    """
    return np.searchsorted(RING_EDGES_KM, np.asarray(distance_km, dtype=float), side="right") - 1

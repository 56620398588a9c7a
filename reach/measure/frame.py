"""How far a map round the station opens: on what matters, with the whole world one step away.

Most reports come from part of the way round the Earth, and a map of all of it shows that part as a blob.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from reach.base import quantile

SHARE: Final = 0.9  # of the reports, and of the places they came from, that lie within
AIR: Final = 1.12  # how much farther the map goes than that
STEPS_KM: Final = (500, 750, 1000, 1500, 2000, 2500, 3000, 4000, 5000, 6000, 7500, 10000, 12500)
WORLD_KM: Final = 20015.0  # half way round: a map this far is the whole world


def opens_km(distance_km: npt.ArrayLike, reports: npt.ArrayLike) -> float:
    """How far from the station a map is drawn to begin with.

    distance_km : of each receiver, shape (n,) [km]; reports : how many each made, shape (n,)
    Returns a round distance [km] within which nine tenths of the reports lie and of the receivers as well: one busy neighbour
    shall not hide the others, nor one quiet corner shrink the rest. WORLD_KM where that is most of the world, or nothing
    was reported.
    """
    far_km = np.asarray(distance_km, float)
    heard = (np.asarray(reports) > 0).astype(int)
    if not heard.any():
        return WORLD_KM
    needed_km = max(quantile.weighted(far_km, counts, [SHARE])[0] for counts in (reports, heard)) * AIR
    return next((float(step) for step in STEPS_KM if needed_km <= step), WORLD_KM)

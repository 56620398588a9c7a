"""What the search for suspects asks about the world. `place.world.World` answers; tests may hand in a small one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Protocol

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

YES: Final = 1
NO: Final = 0
UNKNOWN: Final = -1

ANTARCTIC_DEG: Final = -60.0  # the edge of the Antarctic Treaty's area: south of it there are no countries


class World(Protocol):
    """Places and callsigns. Each method takes and returns arrays of one length.

    characters : how many characters the locators have; their cells are that large
    """

    def distance_km(self, lon0_deg: Floats, lat0_deg: Floats, lon1_deg: Floats, lat1_deg: Floats) -> Floats:
        """Geodesic distance [km]."""

    def on_land(self, lon_deg: Floats, lat_deg: Floats, characters: Ints) -> Flags:
        """Whether land or an inhabited place lies within 10 km of the cells with these centres."""

    def countries(self, lon_deg: Floats, lat_deg: Floats) -> npt.NDArray[np.object_]:
        """Names of the countries of places, None at sea."""

    def agrees(self, calls: Sequence[str], lon_deg: Floats, lat_deg: Floats, characters: Ints) -> npt.NDArray[np.int8]:
        """YES where the callsign's administration has a place within 25 km of the cell, NO where only others have, and
        UNKNOWN where the callsign says nothing of a country or no country is near. South of 60 S never NO, and YES for
        callsigns of bases there."""

    def administrations(self, calls: Sequence[str]) -> npt.NDArray[np.object_]:
        """Names of the administrations behind the callsigns; "" where a callsign says none."""

    def roams(self, calls: Sequence[str]) -> Flags:
        """Whether the callsign says portable, mobile or visiting."""

    def afloat(self, calls: Sequence[str]) -> Flags:
        """Whether the callsign says at sea or in the air."""

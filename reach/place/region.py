"""The ITU region of a place: 1, 2 or 3.

Source: Radio Regulations, Article 5, Nos. 5.3 to 5.9 (from memory): lines A, B and C, and the territories that belong to a
region whole though a line cuts them off. The lines run along meridians and great circles between the points below.
"""

from __future__ import annotations

import itertools
from typing import Final

import numpy as np

from reach.place import world

# Corners [degrees east, north] from north to south; between two of them the shorter great circle, before the first and behind
# the last the meridian to the pole. Line C goes along a parallel at last, which no other parallel crosses.
_A: Final = ((40.0, 40.0), (60.0, 23.43))  # the second on the tropic
_B: Final = ((-10.0, 72.0), (-50.0, 40.0), (-20.0, -10.0))
_C: Final = ((-168.98, 65.5), (165.0, 50.0), (-170.0, 10.0), (-120.0, 10.0))
# No. 5.3: the whole territory of these is in region 1, and what lies north of Russia between lines A and C.
_WHOLE_1: Final = frozenset(
    {
        "Armenia", "Azerbaijan", "Georgia", "Kazakhstan", "Mongolia", "Uzbekistan", "Kyrgyzstan", "Russia", "Tajikistan",
        "Turkmenistan", "Turkey", "Ukraine",
    }
)  # fmt: skip
_NORTH_OF_RUSSIA_DEG: Final = 70.0
_WHOLE_3: Final = frozenset({"Iran"})  # Nos. 5.3 and 5.5: all of it, where line A cuts a part off


def region(lon_deg: float, lat_deg: float) -> int:
    """The ITU region of a place.

    lon_deg, lat_deg : -180..180, -90..90
    Returns 1, 2 or 3. On a line: the region to its east.
    """
    country = world.countries_at([lon_deg], [lat_deg], within_km=0.0)[0]
    if country in _WHOLE_1:
        return 1
    if country in _WHOLE_3:
        return 3
    a, b, c = (_line_deg(line, lat_deg) for line in (_A, _B, _C))
    between_a_and_c = _east_of(a, lon_deg) < _east_of(a, c)
    if between_a_and_c and lat_deg > _NORTH_OF_RUSSIA_DEG:
        return 1
    if between_a_and_c:
        return 3
    return 2 if _east_of(c, lon_deg) < _east_of(c, b) else 1


def _east_of(line_deg: float, lon_deg: float) -> float:
    """How far east of a line a longitude lies, 0..360."""
    return (lon_deg - line_deg) % 360


def _line_deg(corners: tuple[tuple[float, float], ...], lat_deg: float) -> float:
    """The longitude at which a line crosses a parallel."""
    for (lon0, lat0), (lon1, lat1) in itertools.pairwise(corners):
        if lat1 <= lat_deg <= lat0:
            return _crossing_deg(_unit(lon0, lat0), _unit(lon1, lat1), lat_deg)
    return corners[0 if lat_deg > corners[0][1] else -1][0]


def _crossing_deg(start: np.ndarray, end: np.ndarray, lat_deg: float) -> float:
    """The longitude at which the shorter great circle between two unit vectors, the second farther south, crosses a parallel."""
    normal = np.cross(start, end)
    # Points (cos lat cos lon, cos lat sin lon, sin lat) at a right angle to it: two, and who goes from start to end comes by the
    # western one on the way south, by the eastern one on the way north.
    middle = np.degrees(np.arctan2(normal[1], normal[0]))
    aside = np.degrees(np.arccos(-normal[2] * np.tan(np.radians(lat_deg)) / np.hypot(normal[0], normal[1])))
    return float(middle - aside)


def _unit(lon_deg: float, lat_deg: float) -> np.ndarray:
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    return np.array([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])

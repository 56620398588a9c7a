"""Where a locator lies, as numbers that a template draws as SVG: its square in the country round it, and the cell in its square.

A plain map: degrees of longitude are as long as they are at the middle latitude. One is at most ten degrees high.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from reach import data

if TYPE_CHECKING:
    import numpy as np

WIDTH: Final = 320.0  # of a map, in its own units
HEIGHT: Final = 220.0
COUNTRY_DEG: Final = 10.0  # high
SQUARE_DEG: Final = 1.25  # high: a square of one degree with some room
_FLATTEST: Final = 0.1  # cosine of latitude: beyond 84 degrees the map is not stretched further
_LEAST: Final = 5.0  # units that a cell is wide at least, to be seen


@dataclass(frozen=True)
class _View:
    """What a map shows: its middle, and how many units a degree has."""

    lon_deg: float
    lat_deg: float
    high_deg: float

    @property
    def up(self) -> float:
        return HEIGHT / self.high_deg

    @property
    def right(self) -> float:
        return self.up * max(math.cos(math.radians(self.lat_deg)), _FLATTEST)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """West, south, east, north [deg]; west may be below -180, east above 180."""
        wide = WIDTH / self.right / 2
        half = self.high_deg / 2
        return self.lon_deg - wide, self.lat_deg - half, self.lon_deg + wide, self.lat_deg + half

    def at(self, lon_deg: float, lat_deg: float) -> tuple[float, float]:
        return (
            round(WIDTH / 2 + (lon_deg - self.lon_deg) * self.right, 1),
            round(HEIGHT / 2 - (lat_deg - self.lat_deg) * self.up, 1),
        )

    def rectangle(self, lon_deg: float, lat_deg: float, width_deg: float, height_deg: float) -> dict[str, float]:
        """Round a middle, wide and high enough to be seen."""
        x, y = self.at(lon_deg, lat_deg)
        wide, high = max(width_deg * self.right, _LEAST), max(height_deg * self.up, _LEAST)
        return {
            "x": round(x - wide / 2, 1),
            "y": round(y - high / 2, 1),
            "width": round(wide, 1),
            "height": round(high, 1),
        }


def shown(name: str) -> dict[str, Any]:
    """A locator of 4 to 10 characters, in its usual form, as plain values.

    Returns `locator`, `lon_deg`, `lat_deg` of its middle, `within_km`, and `maps`: each `land` (SVG path data), `cell` and, where it has
    them, `lines` (of a grid), `square` (its name) and `at` (where that stands). LocatorError where it is none.
    """
    from reach.base import locator
    from reach.place import path

    (lon,), (lat,) = locator.centre([name])
    square = name[:4]
    (square_lon,), (square_lat,) = locator.centre([square])
    country = _View(float(square_lon), float(square_lat), COUNTRY_DEG)
    (wide,), (high,) = locator.cell_deg([square])
    maps = [{"land": _land(country), "cell": country.rectangle(square_lon, square_lat, wide, high), "lines": ""}]
    if len(name) > 4:
        near = _View(float(square_lon), float(square_lat), SQUARE_DEG)
        (wide,), (high,) = locator.cell_deg([name])
        maps.append({"land": _land(near), "cell": near.rectangle(lon, lat, wide, high), "lines": _grid(near)})
    return {
        "locator": name,
        "square": square,
        "lon_deg": round(float(lon), 4),
        "lat_deg": round(float(lat), 4),
        "within_km": round(float(path.cell_radius_km([name])[0]), 1),
        "width": WIDTH,
        "height": HEIGHT,
        "maps": maps,
    }


def _grid(view: _View) -> str:
    """The subsquares of the square in the middle, as path data."""
    west, south = view.lon_deg - 1, view.lat_deg - 0.5
    said = []
    for k in range(25):
        (x, top), (_, foot) = view.at(west + k / 12, south + 1), view.at(west + k / 12, south)
        (left, y), (right, _) = view.at(west, south + k / 24), view.at(west + 2, south + k / 24)
        said.append(f"M{x} {top}V{foot}M{left} {y}H{right}")
    return "".join(said)


def _land(view: _View) -> str:
    """Land within the map, as path data."""
    import numpy as np
    import shapely

    west, south, east, north = view.box
    found: list[str] = []
    for turn in (-360.0, 0.0, 360.0):
        near = _countries()[_tree().query(shapely.box(west - turn, south, east - turn, north))]
        inside = shapely.clip_by_rect(near, west - turn - 1, south - 1, east - turn + 1, north + 1)
        for ring in shapely.get_rings(shapely.get_parts(shapely.simplify(inside, 0.5 / view.up))):
            lon, lat = shapely.get_coordinates(ring).T
            x = np.round(WIDTH / 2 + (lon + turn - view.lon_deg) * view.right, 1)
            y = np.round(HEIGHT / 2 - (lat - view.lat_deg) * view.up, 1)
            found.append("M" + "L".join(f"{a:g} {b:g}" for a, b in zip(x, y, strict=True)) + "Z")
    return "".join(found)


@cache
def _countries() -> np.ndarray:
    import json

    import numpy as np
    import shapely

    each = [
        json.dumps(feature["geometry"])
        for feature in json.loads(data.read_text("countries_50m.geojson.xz"))["features"]
    ]
    parts: np.ndarray = np.asarray(shapely.get_parts(shapely.from_geojson(each)))
    return parts


@cache
def _tree() -> Any:
    import shapely

    return shapely.STRtree(_countries())

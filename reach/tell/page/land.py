"""Land and borders for maps on the sphere, small enough to travel in the page.

d3-geo draws on the sphere: it cuts at the date line and the poles itself, and wants the outer ring of a polygon
clockwise as seen on a plain map, the other way round from GeoJSON (RFC 7946, 3.1.6).
"""

from __future__ import annotations

import json
from functools import cache
from typing import Any, Final

import numpy as np
import shapely

from reach import data
from reach.tell.page import columns

STEPS_PER_DEG: Final = 100  # 1.1 km at the equator, far finer than the map's own 110 m generalisation
SLIVER_DEG2: Final = 0.5
_FILE: Final = "countries_110m.geojson.xz"


@cache
def encode() -> dict[str, Any]:
    """Land as polygons and borders as lines, for JSON.

    Returns {"steps": steps a degree, "land": rings, "borders": lines}; rings and lines are {"sizes": [points of each],
    "points": column of lon, lat, lon, lat, ... in steps, i16}, and land has "polygons": [rings of each].
    """
    countries = json.loads(data.read_text(_FILE))["features"]
    shapes = shapely.from_geojson([json.dumps(each["geometry"]) for each in countries])
    land = shapely.union_all(shapes)
    borders = shapely.difference(shapely.union_all(shapely.boundary(shapes)), shapely.boundary(land))
    polygons = shapely.get_parts(shapely.orient_polygons(land, exterior_cw=True))
    rings = [_rings(each) for each in polygons]
    lines = [shapely.get_coordinates(each) for each in shapely.get_parts(shapely.line_merge(borders))]
    return {
        "steps": STEPS_PER_DEG,
        "land": {"polygons": [len(each) for each in rings], **_points([ring for each in rings for ring in each])},
        "borders": _points(lines),
    }


def _rings(polygon: shapely.Polygon) -> list[np.ndarray]:
    """The outer ring and the lakes; slivers between two countries' outlines are left out."""
    lakes = [ring for ring in polygon.interiors if shapely.Polygon(ring).area > SLIVER_DEG2]
    return [shapely.get_coordinates(ring) for ring in (polygon.exterior, *lakes)]


def _points(lines: list[np.ndarray]) -> dict[str, Any]:
    whole = np.rint(np.concatenate(lines) * STEPS_PER_DEG).astype(np.int16)
    return {"sizes": [len(line) for line in lines], "points": columns.typed(whole.ravel(), "i16")}

"""A small map for a screen, as numbers that a template draws as SVG: land, rings of distance, marks round the station.

The map is that of the report: on it distances and bearings from the station are true, and a path is a straight line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from matplotlib.path import Path

Floats = npt.NDArray[np.float64]

WIDTH: Final = 400.0  # of the drawing, in its own units; a letter is 14 of them
HEIGHT: Final = 240.0
_LEAST_KM: Final = 900.0  # that the width shows, however near the marks lie
_ROOM: Final = 1.35  # of the marks' extent
_GRADES: Final = (
    (10.0, 4.0),
    (40.0, 32.0),
    (np.inf, 64.0),
)  # up to these kilometres a unit, land of this grade: so few do
_EDGE: Final = 8.0  # land is drawn on beyond the frame, so that its outline does not run along it
_STEPS_KM: Final = (100, 250, 500, 1000, 2500, 5000)
_LETTER: Final = 8.4  # width of one, about
_LINE: Final = 17.0


@dataclass(frozen=True)
class Mark:
    """A place to be shown; kind is 'claimed', 'likely' or 'rival'."""

    kind: str
    label: str
    lon_deg: float
    lat_deg: float


def sketch(lon_deg: float, lat_deg: float, marks: Sequence[Mark]) -> dict[str, Any]:
    """The map round a station, opened as far as its marks ask.

    lon_deg, lat_deg : of the station
    Returns plain values: `land` (SVG path data), `rim` (the edge of the world: x, y, r), `rings` (the same), `step_km` between
    rings, `home` (x, y) and `marks` (kind, x, y, label and where it stands).
    """
    xy_km = _round_home(lon_deg, lat_deg, marks)
    west, east = min(0.0, *xy_km[:, 0]), max(0.0, *xy_km[:, 0])
    south, north = min(0.0, *xy_km[:, 1]), max(0.0, *xy_km[:, 1])
    wide_km = max((east - west) * _ROOM, (north - south) * _ROOM * WIDTH / HEIGHT, _LEAST_KM)
    km = wide_km / WIDTH  # a unit
    left_km, top_km = (west + east - wide_km) / 2, (south + north + wide_km * HEIGHT / WIDTH) / 2

    def at(x_km: float, y_km: float) -> tuple[float, float]:
        return round((x_km - left_km) / km, 1), round((top_km - y_km) / km, 1)

    from reach.draw import basemap

    shapes = basemap.shapes(
        basemap.round_the_station(lon_deg, lat_deg), next(grade for most, grade in _GRADES if km <= most)
    )
    home, step_km = at(0.0, 0.0), next((step for step in _STEPS_KM if wide_km / step < 6), _STEPS_KM[-1])
    farthest = float(np.hypot(*xy_km.T).max()) if len(xy_km) else 0.0
    radii = np.arange(step_km, min(max(farthest, wide_km / 2) + step_km, basemap.RIM_KM), step_km)
    return {
        "width": WIDTH,
        "height": HEIGHT,
        "land": _path_data(shapes.land, left_km, top_km, km),
        "rim": (*home, round(basemap.RIM_KM / km, 1)),
        "rings": [(*home, round(float(radius) / km, 1)) for radius in radii],
        "step_km": step_km,
        "home": home,
        "marks": _labelled([(mark, *at(*xy)) for mark, xy in zip(marks, xy_km.tolist(), strict=True)], home),
    }


def _round_home(lon_deg: float, lat_deg: float, marks: Sequence[Mark]) -> Floats:
    """Places of the marks from the station [km], east and north, shape (marks, 2)."""
    from reach.place import path

    lon, lat = np.array([(mark.lon_deg, mark.lat_deg) for mark in marks]).reshape(-1, 2).T
    away_km, bearing_deg = path.inverse(lon_deg, lat_deg, lon, lat)
    angle = np.radians(np.nan_to_num(bearing_deg))
    return np.column_stack([away_km * np.sin(angle), away_km * np.cos(angle)])


def _path_data(shape: Path, left_km: float, top_km: float, km: float) -> str:
    """A filled shape within the frame, in the drawing's units."""
    from matplotlib.transforms import Bbox

    metres = 1000 * km
    west, north = left_km * 1000 - _EDGE * metres, top_km * 1000 + _EDGE * metres
    frame = Bbox([[west, north - (HEIGHT + 2 * _EDGE) * metres], [west + (WIDTH + 2 * _EDGE) * metres, north]])
    clipped = shape.clip_to_bbox(frame)
    x, y = (np.asarray(clipped.vertices, dtype=float).reshape(-1, 2) / metres - [left_km / km, top_km / km]).T
    letters = {int(clipped.MOVETO): "M", int(clipped.CLOSEPOLY): ""}
    said = []
    for to_right, up, code in zip(x.tolist(), y.tolist(), np.asarray(clipped.codes, dtype=int).tolist(), strict=True):
        letter = letters.get(code, "L")
        said.append(f"{letter}{to_right:.1f} {-up:.1f}" if letter else "Z")
    return "".join(said)


def _labelled(found: Sequence[tuple[Mark, float, float]], home: tuple[float, float]) -> list[dict[str, Any]]:
    """The marks with the place of each label: beside its mark where there is room, and on no other label."""
    taken = [(home[0] - 8, home[1] - 8, home[0] + 8, home[1] + 8)]
    taken += [(x - 8, y - 8, x + 8, y + 8) for _, x, y in found]
    placed = []
    for mark, x, y in found:
        long = _LETTER * len(mark.label)
        tried = [(dx, dy) for dy in (5.0, -12.0, 22.0, -28.0, 38.0) for dx in (11.0, -11.0 - long)]
        boxes = [(x + dx, y + dy - 13, x + dx + long, y + dy + 4) for dx, dy in tried]
        free = [box for box in boxes if _is_inside(box) and not any(_meet(box, other) for other in taken)]
        box = (free or [box for box in boxes if _is_inside(box)] or boxes)[0]
        taken.append(box)
        placed.append({"kind": mark.kind, "x": x, "y": y, "label": mark.label, "at": (round(box[0], 1), box[3] - 4)})
    return placed


def _is_inside(box: tuple[float, float, float, float]) -> bool:
    return box[0] >= 2 and box[1] >= 2 and box[2] <= WIDTH - 2 and box[3] <= HEIGHT - 2


def _meet(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]

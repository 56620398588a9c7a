"""The base map: land, coasts and borders from the bundled Natural Earth files, projected once and kept.

Two projections. Round the station (azimuthal equidistant): every distance and bearing from the station is true and a
path is a straight line; a close-up is a window of it. The whole world (Equal Earth): areas are true.

Projected shapes are kept in the user's cache folder, so that the next picture of the same station starts at once:
`$REACH_CACHE` if that is set (empty: keep nothing), else the platform's own place, as platformdirs knows it
(`$XDG_CACHE_HOME/reach` or `~/.cache/reach`, `~/Library/Caches/reach`, `%LOCALAPPDATA%\\reach`). The folder may be
deleted at any time; a folder that cannot be written is no error.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from io import BytesIO
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import platformdirs

from reach.base import beside
from reach.data import read_bytes
from reach.draw import arcs

if TYPE_CHECKING:
    from cartopy.crs import Projection
    from matplotlib.path import Path

Floats = npt.NDArray[np.float64]
Project = Callable[[Floats], Floats]

RIM_KM = 20004.0  # no geodesic on WGS 84 is longer
COARSE_FROM_KM = 60.0  # kilometres a pixel from which the coarse file is fine enough
_KEPT_FILES = 60
_FORMAT = 2  # of the cached files
_TOLERANCE_PX = 0.3
_NUDGE_DEG = 2e-3


@dataclass(frozen=True)
class Shapes:
    """The base map in a projection's own coordinates, as paths ready to draw."""

    land: Path
    coast: Path
    borders: Path


def round_the_station(lon_deg: float, lat_deg: float) -> Projection:
    """The map on which distances and bearings from the station are true."""
    import cartopy.crs as ccrs

    return ccrs.AzimuthalEquidistant(central_longitude=float(lon_deg), central_latitude=float(lat_deg))


def world(lon_deg: float = 0.0) -> Projection:
    """The map of the whole world. Its middle is the multiple of 30 degrees nearest to the longitude."""
    import cartopy.crs as ccrs

    middle = (round(lon_deg / 30) * 30 + 180) % 360 - 180
    return ccrs.EqualEarth(central_longitude=float(middle))


def shapes(projection: Projection, km_per_px: float) -> Shapes:
    """Land, coasts and borders on a projection, no finer than can be seen.

    projection : one of the two above (or another map that is cut along one meridian)
    km_per_px : how many kilometres a pixel of the picture shows, > 0; taken to the power of two below it
    Returns Shapes in the projection's coordinates, from memory, else from the cache folder, else worked out.
    """
    detail_km = 2.0 ** math.floor(math.log2(max(km_per_px, 0.25)))
    return _remembered(_rounded(projection), detail_km, str(cache_folder() or ""))


def cache_folder() -> FilePath | None:
    """Where projected base maps are kept; None where the user wants none kept."""
    told = os.environ.get("REACH_CACHE")
    if told is not None:
        return FilePath(told) if told else None
    try:
        # `opinion` would put another "Cache" below the program's own folder on Windows.
        folder = platformdirs.user_cache_path("reach", appauthor=False, opinion=False)
    except RuntimeError:  # no home at all: a service, a container
        return None
    return folder if folder.is_absolute() else None  # before platformdirs 4.14 that was "~/.cache/reach", below here


# --- keeping --------------------------------------------------------------------------------------------------------


def _rounded(projection: Projection) -> Projection:
    """The projection with its station rounded to a hundredth of a degree, half a pixel of the closest map."""
    if projection.proj4_params["proj"] != "aeqd":
        return projection
    given = projection.proj4_params
    return round_the_station(round(given["lon_0"], 2), round(given["lat_0"], 2))


@lru_cache(maxsize=24)
def _remembered(projection: Projection, detail_km: float, folder: str) -> Shapes:
    scale = "110m" if detail_km >= COARSE_FROM_KM else "50m"
    packed = read_bytes(f"countries_{scale}.geojson.xz")
    key = f"{_FORMAT}|{projection.proj4_init}|{detail_km}|{hashlib.sha256(packed).hexdigest()}"
    file = FilePath(folder) / f"basemap-{hashlib.sha256(key.encode()).hexdigest()[:24]}.npz" if folder else None
    arrays = _load(file) if file else None
    if arrays is None:
        arrays = _worked_out(projection, detail_km, scale)
        if file:
            _keep(file, arrays)
    return Shapes(*(_path(arrays[f"{name}_xy"], arrays[f"{name}_codes"]) for name in ("land", "coast", "borders")))


def _load(file: FilePath) -> dict[str, npt.NDArray[Any]] | None:
    """What a cached file holds; None where there is none or it is damaged."""
    try:
        with np.load(BytesIO(file.read_bytes()), allow_pickle=False) as kept:
            arrays = {f"{name}_{part}": kept[f"{name}_{part}"] for name in ("land", "coast", "borders")
                      for part in ("xy", "codes")}  # fmt: skip
    except Exception:  # whatever a damaged or foreign file makes numpy raise: it is worked out anew
        return None
    fits = all(
        arrays[f"{name}_xy"].shape == (len(arrays[f"{name}_codes"]), 2)
        and arrays[f"{name}_xy"].dtype == np.float32
        and arrays[f"{name}_codes"].ndim == 1
        and arrays[f"{name}_codes"].dtype == np.uint8
        for name in ("land", "coast", "borders")
    )
    return arrays if fits else None


def _keep(file: FilePath, arrays: dict[str, npt.NDArray[Any]]) -> None:
    """Write a cached file whole or not at all, and let the oldest go. A folder that cannot be written is no error."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        beside.clear(file)
        with beside.file(file) as part:
            with part.open("wb") as out:
                np.savez(out, **arrays)  # type: ignore[arg-type]
            os.replace(part, file)
        kept = sorted(file.parent.glob("basemap-*.npz"), key=lambda each: each.stat().st_mtime, reverse=True)
        for old in kept[_KEPT_FILES:]:
            old.unlink()
    except OSError:
        return


def _path(xy: npt.NDArray[np.float32], codes: npt.NDArray[np.uint8]) -> Path:
    from matplotlib.path import Path

    return Path(xy.astype(float), codes if len(codes) else None)


# --- working out ----------------------------------------------------------------------------------------------------


@lru_cache(maxsize=2)
def _on_the_globe(scale: str) -> tuple[Any, Any, Any]:
    """Land polygons, coast lines and border lines in degrees, shapely arrays.

    A piece of outline that two countries share is a border; the rest is coast, but for the cuts along 180 degrees and
    the edge at the south pole, which the file has only because it is flat.
    """
    import shapely

    content = json.loads(read_bytes(f"countries_{scale}.geojson.xz"))
    countries = shapely.get_parts(shapely.from_geojson(json.dumps(content)))
    parts = shapely.get_parts(shapely.get_parts(countries))
    land = shapely.get_parts(shapely.coverage_union_all(parts))
    ends, times = np.unique(_segments(parts), axis=0, return_counts=True)
    borders = _merged(ends[times == 2])
    outline = np.unique(_segments(land), axis=0)
    lon, lat = outline[:, [0, 2]], outline[:, [1, 3]]
    cut = (np.abs(lon) > 179.9995).all(axis=1) | (lat < -89.9).all(axis=1)
    return land, _merged(outline[~cut]), borders


def _segments(polygons: Any) -> Floats:
    """Every segment of the outlines, shape (n, 4), the smaller end first so that equal segments are equal rows."""
    import shapely

    points, ring = shapely.get_coordinates(shapely.get_rings(polygons), return_index=True)
    same = ring[1:] == ring[:-1]
    a, b = points[:-1][same], points[1:][same]
    swap = (a[:, 0] > b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] > b[:, 1]))
    return np.hstack([np.where(swap[:, None], b, a), np.where(swap[:, None], a, b)])


def _merged(segments: Floats) -> Any:
    import shapely

    loose = shapely.multilinestrings(shapely.linestrings(segments.reshape(-1, 2, 2)))
    return shapely.get_parts(shapely.line_merge(loose))


def _worked_out(projection: Projection, detail_km: float, scale: str) -> dict[str, npt.NDArray[Any]]:
    """The paths of the base map as plain arrays."""
    import shapely

    land, coast, borders = _on_the_globe(scale)
    tolerance_m = detail_km * 1000 * _TOLERANCE_PX
    if arcs.seam_deg(projection) is None:
        flat = _round_a_point(projection, land, tolerance_m)
        flat_lines = [_lines_round_a_point(projection, each, tolerance_m) for each in (coast, borders)]
    else:
        flat = _cut_open(projection, land, tolerance_m)
        flat_lines = [_cut_open(projection, each, tolerance_m) for each in (coast, borders)]
    whole = _united(flat)
    whole = shapely.simplify(whole[shapely.get_type_id(whole) == 3], tolerance_m)
    fills = shapely.get_rings(shapely.orient_polygons(whole[~shapely.is_empty(whole)]))
    found = {"land": fills}
    for name, each in zip(("coast", "borders"), flat_lines, strict=True):
        found[name] = shapely.simplify(each, tolerance_m, preserve_topology=False)
    arrays: dict[str, npt.NDArray[Any]] = {}
    for name, each in found.items():
        arrays[f"{name}_xy"], arrays[f"{name}_codes"] = _as_path(each, closed=name == "land")
    return arrays


def _united(polygons: Any) -> Any:
    """Polygons with those that touch another made one. Few do, where the file is cut; uniting all of them takes most of
    the time of a map."""
    import shapely

    parts = shapely.get_parts(polygons)
    one, other = shapely.STRtree(parts).query(parts)  # whose boxes meet
    near = one < other  # each pair once, and none with itself
    one, other = one[near], other[near]
    shapely.prepare(parts)
    meet = shapely.intersects(parts[one], parts[other])
    touching = np.unique(np.concatenate([one[meet], other[meet]]))
    alone = np.delete(parts, touching)
    return np.concatenate([alone, shapely.get_parts(shapely.union_all(parts[touching]))])


def _as_path(each: Any, *, closed: bool) -> tuple[npt.NDArray[np.float32], npt.NDArray[np.uint8]]:
    """Rings or lines as one path's vertices and codes."""
    import shapely

    xy, index = shapely.get_coordinates(each, return_index=True)
    codes = np.full(len(xy), 2, np.uint8)  # Path.LINETO
    new = np.diff(index, prepend=-1) != 0
    codes[new] = 1  # Path.MOVETO
    if closed and len(xy):
        codes[np.append(new[1:], True)] = 79  # Path.CLOSEPOLY
    return xy.astype(np.float32), codes


def _cut_open(projection: Projection, geometries: Any, tolerance_m: float) -> Any:
    """Polygons or lines on a map that is cut along the meridian opposite its middle."""
    import shapely

    middle = arcs.seam_deg(projection) or 0.0
    lines = shapely.get_type_id(geometries[0]) == 1
    pieces = []
    for shift in (-360.0, 0.0, 360.0):
        frame = shapely.box(middle - 180, -90, middle + 180, 90)
        moved = shapely.transform(geometries, lambda at, shift=shift: at + [shift, 0.0])
        near = moved[shapely.intersects(moved, frame)]
        inside = shapely.covers(frame, near)
        across = near[~inside] if lines else shapely.make_valid(near[~inside])  # shifting rounds, and may spoil a ring
        pieces.append(np.concatenate([near[inside], shapely.get_parts(shapely.intersection(across, frame))]))
    parts = shapely.get_parts(np.concatenate(pieces))
    parts = parts[shapely.get_type_id(parts) == (1 if lines else 3)]

    def flat(at: Floats) -> Floats:
        inner = np.clip(at[:, 0] - middle, -180 + 1e-7, 180 - 1e-7)
        return arcs.project(projection, middle + inner, at[:, 1])

    bent = _curved(parts, flat, tolerance_m)
    return bent if lines else shapely.make_valid(bent)


def _curved(geometries: Any, flat: Project, tolerance_m: float) -> Any:
    """Geometries in degrees carried to the map, with vertices added where a straight edge becomes a curve."""
    import shapely

    rings = shapely.get_rings(geometries) if shapely.get_type_id(geometries[0]) == 3 else geometries
    at, xy, start = _bent(rings, flat, tolerance_m)
    del at
    if shapely.get_type_id(geometries[0]) != 3:
        return shapely.linestrings(xy, indices=start)
    owner = np.repeat(np.arange(len(geometries)), shapely.get_num_interior_rings(geometries) + 1)
    return shapely.polygons(shapely.linearrings(xy, indices=start), indices=owner)


def _bent(lines: Any, flat: Project, tolerance_m: float) -> tuple[Floats, Floats, npt.NDArray[np.intp]]:
    """Vertices of lines in degrees and on the map, halved until no edge bends by more than half the tolerance.

    Returns (at_deg (n, 2), xy_m (n, 2), which line each vertex belongs to).
    """
    import shapely

    at, line = shapely.get_coordinates(lines, return_index=True)
    xy = flat(at)
    fresh = np.ones(len(at) - 1, bool) & (line[1:] == line[:-1])
    for _ in range(24):
        asked = np.flatnonzero(fresh)
        if not len(asked):
            break
        middle = (at[asked] + at[asked + 1]) / 2
        middle_xy = flat(middle)
        sag = np.linalg.norm(middle_xy - (xy[asked] + xy[asked + 1]) / 2, axis=1)
        length = np.linalg.norm(xy[asked + 1] - xy[asked], axis=1)
        bends = (sag > tolerance_m / 2) | (length > 500_000.0)
        bends &= np.abs(at[asked + 1] - at[asked]).max(axis=1) > 1e-7
        where = asked[bends] + 1
        new = np.zeros(len(at) + len(where), bool)
        new[where + np.arange(len(where))] = True
        line = np.insert(line, where, line[where - 1])
        at, xy = np.insert(at, where, middle[bends], axis=0), np.insert(xy, where, middle_xy[bends], axis=0)
        fresh = (new[1:] | new[:-1]) & (line[1:] == line[:-1])
    return at, xy, line


def _round_a_point(projection: Projection, land: Any, tolerance_m: float) -> Any:
    """Land on a map whose rim is one point, the antipode of its middle.

    A ring drawn on such a map encloses either what it encloses on the globe or everything else; it is the latter
    exactly where it has the antipode inside. Then the disc less the drawn ring is the answer.
    """
    import shapely

    rings = shapely.get_rings(land)
    lon, lat = _middle_off_the_outlines(projection, rings)
    _, xy, ring = _bent(rings, lambda at: _about(lon, lat, at), tolerance_m)
    drawn = shapely.make_valid(shapely.polygons(shapely.linearrings(xy, indices=ring)))
    disc = shapely.Point(0, 0).buffer(RIM_KM * 1000, quad_segs=180)
    # Just inside the file's own cut at 180 degrees, which is no outline on the globe.
    antipode = shapely.Point(np.clip((lon + 360) % 360 - 180, -179.99, 179.99), -lat)
    inside_out = shapely.contains(shapely.polygons(rings), antipode)
    drawn[inside_out] = shapely.difference(disc, drawn[inside_out])
    owner = np.repeat(np.arange(len(land)), shapely.get_num_interior_rings(land) + 1)
    outer = np.diff(owner, prepend=-1) != 0
    whole = drawn[outer]
    for hole in np.flatnonzero(~outer):
        whole[owner[hole]] = shapely.difference(whole[owner[hole]], drawn[hole])
    return whole


def _lines_round_a_point(projection: Projection, geometries: Any, tolerance_m: float) -> Any:
    """Lines on a map round a point; one that runs through the antipode is taken apart there."""
    import shapely

    lon, lat = _middle_off_the_outlines(projection, geometries)
    _, xy, line = _bent(geometries, lambda at: _about(lon, lat, at), tolerance_m)
    torn = (np.linalg.norm(np.diff(xy, axis=0), axis=1) > 2_000_000.0) & (line[1:] == line[:-1])
    piece = np.cumsum(np.append(False, (line[1:] != line[:-1]) | torn))
    enough = np.bincount(piece)[piece] > 1
    return shapely.linestrings(xy[enough], indices=np.unique(piece[enough], return_inverse=True)[1])


def _middle_off_the_outlines(projection: Projection, outlines: Any) -> tuple[float, float]:
    """The middle of the map, moved by some 200 m where its antipode would lie on an outline; lon, lat [deg]."""
    import shapely

    lon, lat = float(projection.proj4_params["lon_0"]), float(projection.proj4_params["lat_0"])
    lat = float(np.clip(lat, -89.99, 89.99))
    for _ in range(8):
        antipode_lon = (lon + 360) % 360 - 180
        near = shapely.distance(outlines, shapely.Point(antipode_lon, -lat)).min() < _NUDGE_DEG / 2
        if not near or abs(antipode_lon) > 179.995:
            break
        lon, lat = lon + _NUDGE_DEG, lat - math.copysign(_NUDGE_DEG, lat)
    return lon, lat


def _about(lon_deg: float, lat_deg: float, at_deg: Floats) -> Floats:
    """Azimuthal equidistant coordinates [m] about a position, shape (n, 2), for outlines.

    Geodesics on WGS 84 as far as 150 degrees. Near the antipode they cross each other, so an outline would tear: beyond
    170 degrees great circles on a sphere take over, and between the two the map goes over smoothly. There the coast
    may be some 60 km off, about a pixel of a map that shows that far.
    """
    from reach.place import path

    angle, sphere = _about_on_a_sphere(lon_deg, lat_deg, at_deg)
    near = angle < math.radians(170)
    distance_km, bearing_deg = path.inverse(lon_deg, lat_deg, at_deg[near, 0], at_deg[near, 1])
    bearing = np.radians(np.nan_to_num(bearing_deg))
    exact = 1000 * distance_km[:, None] * np.stack([np.sin(bearing), np.cos(bearing)], -1)
    share = np.clip((np.degrees(angle[near]) - 150) / 20, 0, 1)[:, None]
    smooth = share**2 * (3 - 2 * share)
    sphere[near] = exact + smooth * (sphere[near] - exact)
    return sphere


def _about_on_a_sphere(lon_deg: float, lat_deg: float, at_deg: Floats) -> tuple[Floats, Floats]:
    """Angle from the middle [rad] and the map's coordinates [m], with the antipode on the rim."""
    turn = np.radians(at_deg[:, 0] - lon_deg)
    lat, lat_0 = np.radians(at_deg[:, 1]), math.radians(lat_deg)
    east = np.cos(lat) * np.sin(turn)
    north = math.cos(lat_0) * np.sin(lat) - math.sin(lat_0) * np.cos(lat) * np.cos(turn)
    up = math.sin(lat_0) * np.sin(lat) + math.cos(lat_0) * np.cos(lat) * np.cos(turn)
    side = np.hypot(east, north)
    angle = np.arctan2(side, up)
    radius = RIM_KM * 1000 * angle / math.pi
    return angle, radius[:, None] * np.stack([east, north], -1) / np.where(side > 0, side, 1.0)[:, None]

"""Land, sea and countries: what lies at a place, and whether a callsign may be there.

Countries are Natural Earth's polygons at 1:50 million; small territories that have none are added as points. Land is
one bit for each six-character cell: set where land or an inhabited place lies within 10 km. Both are bundled.
"""

from __future__ import annotations

import io
import itertools
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach import data
from reach.base import callsigns

if TYPE_CHECKING:
    from scipy.spatial import cKDTree
    from shapely import STRtree

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

# Whether a callsign may be at a place.
YES: Final = 1
NO: Final = 0
UNKNOWN: Final = -1

ANTARCTIC_DEG: Final = -60.0  # the edge of the Antarctic Treaty's area: south of it there are no countries

_EARTH_RADIUS_KM: Final = 6371.0088  # mean radius (IUGG); tolerances of 25 km need no ellipsoid
_BORDER_STEP_DEG: Final = 0.05  # borders as points at most 5.6 km apart: 25 km come out as 24.8 to 25
_IS_A_POINT_KM: Final = 4.0  # as near to a territory that is only a point, a place is that territory
_MASK_ROWS: Final = 4320
_MASK_COLUMNS: Final = 4320
_AT_ONCE: Final = 50_000  # callsigns and places worked on together, however many there are
_NEAR_A_SQUARE_DEG: Final = 0.3  # more than the 25 km of `agrees`, of latitude
_HALF_A_SQUARE_KM: Final = 125.0  # from its centre to a corner, at the equator

_PROPERTIES: Final = re.compile(r'"properties":\s*(\{[^{}]*\})')
# Polygons without a code of their own.
_CODE_OF_POLYGON: Final = {"SOL": "SO", "CYN": "CY", "KAS": "KAS"}
# Territories without a polygon of their own: the code and name under which the polygons count them.
_COUNTED_AS: Final = {
    "BQ": ("NL", "Netherlands"),
    "BV": ("NO", "Norway"),
    "SJ": ("NO", "Norway"),
    "YT": ("FR", "France"),
    "TK": ("NZ", "New Zealand"),
    "CC": ("AU", "Indian Ocean Ter."),
    "CX": ("AU", "Indian Ocean Ter."),
    "UM": ("UM", "U.S. Minor Outlying Is."),
}
# Inhabited territories inside or beside another country's polygon: name, code, longitude, latitude.
_TERRITORIES: Final = (
    ("Gibraltar", "GI", -5.35, 36.14),
    ("Spain", "ES", -5.32, 35.89),  # Ceuta
    ("Spain", "ES", -2.94, 35.29),  # Melilla
    ("United States of America", "US", -75.14, 19.91),  # Guantanamo Bay
    ("United Kingdom", "GB", 32.98, 34.59),  # Akrotiri
    ("United Kingdom", "GB", 33.73, 34.99),  # Dhekelia
)
# The polygons draw Crimea inside Russia; callsigns of both administrations are in use: west, south, east, north.
_SHARED: Final = (("CRIMEA", 32.4, 44.3, 36.7, 46.25),)


@dataclass(frozen=True)
class _Atlas:
    """The countries, ready to be asked."""

    parts: npt.NDArray[Any]  # polygons
    part_code: npt.NDArray[np.int64]  # index into codes and names, which may hold a code twice
    tree: STRtree
    border: cKDTree  # points on borders and coasts, and islands, as unit vectors
    border_code: npt.NDArray[np.int64]
    points: cKDTree  # the islands and small territories alone
    point_code: npt.NDArray[np.int64]
    codes: list[str]
    names: npt.NDArray[np.object_]


def countries_at(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, *, within_km: float = 25.0) -> npt.NDArray[np.object_]:
    """The country of each place: the one it lies in, else the nearest within a distance.

    lon_deg, lat_deg : shape (n,), WGS 84
    within_km : how far off a coast still counts
    Returns names in English as the bundled data has them, shape (n,); None at sea.
    """
    lon, lat = _flat(lon_deg, lat_deg)
    atlas = _atlas()
    index = np.full(len(lon), -1)
    place, code = _inside(lon, lat)
    index[place] = code
    coast, nearest = _nearest(atlas.border, lon, lat, within_km)
    offshore = index[coast] < 0
    index[coast[offshore]] = atlas.border_code[nearest[offshore]]
    exact, nearest = _nearest(atlas.points, lon, lat, _IS_A_POINT_KM)
    index[exact] = atlas.point_code[nearest]
    return np.array([atlas.names[n] if n >= 0 else None for n in index], dtype=object)


def on_land(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, characters: npt.ArrayLike = 6) -> Flags:
    """Whether land or an inhabited place lies within 10 km of each cell.

    lon_deg, lat_deg : shape (n,), WGS 84, anywhere in a cell of six characters; centres where locators are shorter
    characters : of the locators, shape (n,) or one for all; of a square or field any part on land will do
    Returns bool, shape (n,); True everywhere south of 60 S.
    """
    lon, lat = _flat(lon_deg, lat_deg)
    row = np.minimum(np.floor((lat + 90) * 24), _MASK_ROWS - 1).astype(np.int64)
    column = np.floor((lon + 180) * 12).astype(np.int64) % _MASK_COLUMNS
    land = _land_bit(row, column)
    long = np.broadcast_to(characters, lon.shape)
    for n in np.flatnonzero(long < 6):  # squares are few: a look at 576 cells each
        land[n] = _any_land(lon[n], lat[n], int(long[n]))
    return land


def agrees(
    calls: Sequence[str], lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, characters: npt.ArrayLike = 6
) -> npt.NDArray[np.int8]:
    """Whether each callsign may be at each place: YES, NO, or UNKNOWN where nothing can be said.

    calls : n texts; lon_deg, lat_deg : centres of cells, shape (n,); characters : of the locators
    YES where a place of its administration lies within 25 km of the cell's centre (of a square: of any part).
    UNKNOWN where the callsign says nothing of a country, and where no country lies within 25 km: at sea, or on an
    island too small for the polygons. South of 60 S there are no countries: YES for callsigns of bases there,
    UNKNOWN for all others.
    """
    lon, lat = _flat(lon_deg, lat_deg)
    codes, allowed = _distinct_places(calls)
    answer = np.full(len(codes), UNKNOWN, dtype=np.int8)
    asked = np.flatnonzero(codes >= 0)
    if len(asked):
        more_km = np.where(np.broadcast_to(characters, lon.shape) < 6, _HALF_A_SQUARE_KM, 0.0)[asked]
        for start in range(0, len(asked), _AT_ONCE):
            some = asked[start : start + _AT_ONCE]
            within_km = 25.0 + more_km[start : start + _AT_ONCE]
            answer[some] = _permitted(lon[some], lat[some], codes[some], allowed, within_km)
    return answer


def squares(calls: Sequence[str]) -> tuple[npt.NDArray[np.int64], Flags]:
    """In which squares of 2 by 1 degrees `agrees` may say YES of a cell of six characters; nowhere else it does.

    calls : n texts
    Returns (which of the sets of squares each call has, shape (n,); the sets, shape (sets, 180 columns, 180 rows)).
    """
    codes, allowed = _distinct_places(calls)
    none = np.zeros((1, *_near_squares().shape[1:]), dtype=bool)  # the last one, of calls that say nothing of a country
    return codes, np.concatenate([*(_near_squares()[code].any(axis=0)[None] for code in allowed), none])


@cache
def _near_squares() -> Flags:
    """Which squares each code of the atlas lies in, or within 25 km of, or a little farther; shape (codes, columns, rows)."""
    atlas = _atlas()
    near = np.zeros((len(atlas.codes), 180, 180), dtype=bool)
    x, y, z = atlas.border.data.T
    lon, lat = np.degrees(np.arctan2(y, x)), np.degrees(np.arcsin(z))
    up = _NEAR_A_SQUARE_DEG
    aside = up / np.maximum(np.cos(np.radians(np.minimum(np.abs(lat) + up, 90))), 1e-9)
    for dy in (-up, 0, up):
        row = np.clip(np.floor(lat + dy + 90).astype(np.int64), 0, 179)
        for side in (-1, 0, 1):
            column = np.floor((lon + side * aside + 180) / 2).astype(np.int64) % 180
            near[atlas.border_code, column, row] = True
        polar = aside >= 2  # more than the square beside it
        near[atlas.border_code[polar], :, row[polar]] = True
    # Where no border is near, all of a square lies in the country of its centre.
    columns, rows = np.divmod(np.arange(180 * 180), 180)
    place, code = _inside(2.0 * columns - 179, rows - 89.5)
    near[code, columns[place], rows[place]] = True
    for name, west, south, east, north in _SHARED:
        near[
            atlas.codes.index(name),
            int(west + 180) // 2 : int(east + 180) // 2 + 1,
            int(south + 90) : int(north + 90) + 1,
        ] = True
    near[atlas.codes.index("AQ"), :, : int(ANTARCTIC_DEG + 90)] = True
    return near


def administrations(calls: Sequence[str]) -> npt.NDArray[np.object_]:
    """Names of the administrations behind callsigns, as the map names countries; "" where a callsign says none."""
    names = _names()
    return np.array([names.get(code, code) for code in callsigns.administrations(calls)], dtype=object)


@cache
def _names() -> dict[str, str]:
    """Names of countries by their codes; a code may stand for several polygons, of which the first is the country itself."""
    return dict(zip(_atlas().codes[::-1], _atlas().names[::-1], strict=True))


def roams(calls: Sequence[str]) -> Flags:
    """Whether each callsign says portable, mobile or visiting."""
    return np.array([o.roams for o in callsigns.origins(calls)], dtype=bool)


def afloat(calls: Sequence[str]) -> Flags:
    """Whether each callsign says at sea or in the air."""
    return np.array([o.afloat for o in callsigns.origins(calls)], dtype=bool)


def _permitted(
    lon: Floats, lat: Floats, call_set: npt.NDArray[np.int64], allowed: Flags, within_km: Floats
) -> npt.NDArray[np.int8]:
    """Whether one of the codes allowed to each call lies within a distance of its place: YES, NO or UNKNOWN.

    lon, lat, call_set, within_km : shape (n,); allowed : shape (sets, codes)
    """
    antarctic = lat <= ANTARCTIC_DEG
    yes = antarctic & allowed[call_set, _atlas().codes.index("AQ")]
    place, code = _inside(lon, lat)
    np.logical_or.at(yes, place, allowed[call_set[place], code])
    for name, west, south, east, north in _SHARED:
        there = (lon >= west) & (lon <= east) & (lat >= south) & (lat <= north)
        yes |= there & allowed[call_set, _atlas().codes.index(name)]
    answer = np.where(yes, YES, UNKNOWN).astype(np.int8)
    answer[place[~yes[place]]] = NO
    left = np.flatnonzero(~yes)
    near = _atlas().border.query_ball_point(_unit(lon[left], lat[left]), _chord(within_km[left]), return_sorted=False)
    counts = np.fromiter(map(len, near), dtype=np.int64, count=len(left))
    asked = np.repeat(left, counts)
    found = np.fromiter(itertools.chain.from_iterable(near), dtype=np.int64, count=len(asked))
    answer[asked] = NO
    answer[asked[allowed[call_set[asked], _atlas().border_code[found]]]] = YES
    answer[antarctic & (answer == NO)] = UNKNOWN
    return answer


def _distinct_places(calls: Sequence[str]) -> tuple[npt.NDArray[np.int64], Flags]:
    """For each call which distinct set of places it may be at, -1 for none; and the sets over the atlas's codes."""
    sets = [o.places for o in callsigns.origins(calls)]
    distinct = [s for s in dict.fromkeys(sets) if s]
    number = {s: n for n, s in enumerate(distinct)}
    codes = np.array([number.get(s, -1) for s in sets], dtype=np.int64)
    allowed = np.array([[code in s for code in _atlas().codes] for s in distinct], dtype=bool)
    return codes, allowed.reshape(len(distinct), len(_atlas().codes))


def _inside(lon: Floats, lat: Floats) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Pairs (place, code) of places inside a polygon; a place on a shared border comes twice."""
    import shapely

    atlas = _atlas()
    place, part = atlas.tree.query(shapely.points(lon, lat))
    holds = shapely.intersects_xy(atlas.parts[part], lon[place], lat[place])
    return place[holds], atlas.part_code[part[holds]]


def unpack() -> None:
    """Unpack the countries and load what they are searched with, as the first question does else: half a second."""
    _atlas()


@cache
def _atlas() -> _Atlas:
    """Unpack the countries once: 0.3 s."""
    import shapely
    from scipy.spatial import cKDTree

    text = data.read_text("countries_50m.geojson.xz")
    about = [json.loads(told) for told in _PROPERTIES.findall(text)]  # not the outlines, which shapely reads
    codes = [p["iso_a2"] or _CODE_OF_POLYGON[p["iso_a3"]] for p in about]
    names = [p["name"] for p in about]
    points = _points(dict(zip(codes[::-1], names[::-1], strict=True)))
    point_code = len(codes) + np.arange(len(points))
    codes += [*points["code"], *(name for name, *_ in _SHARED)]
    names += [*points["name"], *("" for _ in _SHARED)]
    parts, owner = shapely.get_parts(shapely.get_parts(shapely.from_geojson(text)), return_index=True)
    shapely.prepare(parts)
    corners, which = shapely.get_coordinates(shapely.segmentize(parts, _BORDER_STEP_DEG), return_index=True)
    islands = _unit(points["lon_deg"].to_numpy(), points["lat_deg"].to_numpy())
    return _Atlas(
        parts=parts,
        part_code=owner,
        tree=shapely.STRtree(parts),
        border=cKDTree(np.concatenate([_unit(corners[:, 0], corners[:, 1]), islands])),
        border_code=np.concatenate([owner[which], point_code]),
        points=cKDTree(islands),
        point_code=point_code,
        codes=codes,
        names=np.array(names, dtype=object),
    )


def _points(name_of: dict[str, str]) -> pd.DataFrame:
    """Islands and small territories: name, code, lon_deg, lat_deg.

    name_of : the polygons' names by code
    """
    islands = pd.read_csv(io.StringIO(data.read_text("small_islands.csv")), keep_default_na=False)
    counted = [_COUNTED_AS.get(code, (code, name_of.get(code, code))) for code in islands["iso_a2"]]
    islands = islands.assign(code=[code for code, _ in counted], name=[name for _, name in counted])
    more = pd.DataFrame(_TERRITORIES, columns=["name", "code", "lon_deg", "lat_deg"])
    return pd.concat([islands, more])[["name", "code", "lon_deg", "lat_deg"]]


@cache
def _mask() -> npt.NDArray[np.uint8]:
    """One bit a cell, rows south to north, cells west to east, the first in the highest bit of a byte."""
    return np.frombuffer(data.read_bytes("land_mask.bin.xz"), dtype=np.uint8)


def _land_bit(row: npt.NDArray[np.int64], column: npt.NDArray[np.int64]) -> Flags:
    bit = row * _MASK_COLUMNS + column
    return ((_mask()[bit >> 3] >> (7 - (bit & 7)).astype(np.uint8)) & 1).astype(bool)


def _any_land(lon: float, lat: float, characters: int) -> bool:
    """Whether any six-character cell inside a square or field is on land. lon, lat : its centre."""
    half = 12 if characters == 4 else 120
    columns = round((lon + 180) * 12) + np.arange(-half, half)
    rows = round((lat + 90) * 24) + np.arange(-half, half)
    grid_row, grid_column = np.meshgrid(rows, columns)
    return bool(_land_bit(grid_row.ravel(), grid_column.ravel()).any())


def _nearest(
    tree: cKDTree, lon: Floats, lat: Floats, within_km: float
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.int64]]:
    """Which places have a point of the tree within a distance, and which point is the nearest."""
    away, nearest = tree.query(_unit(lon, lat), distance_upper_bound=float(_chord(within_km)))
    found = np.flatnonzero(np.isfinite(np.asarray(away)))
    return found, np.asarray(nearest, dtype=np.int64)[found]


def _flat(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[Floats, Floats]:
    lon, lat = np.broadcast_arrays(*np.atleast_1d(np.asarray(lon_deg, float), np.asarray(lat_deg, float)))
    return lon.ravel(), lat.ravel()


def _unit(lon_deg: Floats, lat_deg: Floats) -> Floats:
    """Places as unit vectors, shape (n, 3): no date line and no pole in the way of a nearest neighbour."""
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    return np.column_stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)])


def _chord(distance_km: Any) -> Any:
    """Length of the straight line under an arc of that length, on the unit sphere."""
    return 2 * np.sin(np.asarray(distance_km) / _EARTH_RADIUS_KM / 2)

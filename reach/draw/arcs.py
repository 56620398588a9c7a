"""Great circles and other lines on the globe as smooth curves on any map: own vertices, one transform for all.

Drawing libraries bend a two-point line on the globe by halving it until it looks straight enough, a line at a time,
which is slow and at their usual thresholds visibly angular. Here every vertex of every line is worked out in one array.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from cartopy.crs import Projection

Floats = npt.NDArray[np.float64]
EARTH_KM = 6371.0088  # mean radius, IUGG
STEP_KM = 400.0  # between the vertices of a path; a chord is within 3.2 km of the arc, a seventh of a px of a world map
_FINER = 2.5  # by which steps are made shorter where the map stretches them
_LEAST, _MOST = 8, 1600
_FINEST_KM = 10.0
_LONG_SHARE = 0.02  # of the map's width: a step that long is drawn finer
_NO_SIGHT_RAD = 1e-9  # ends closer than this, or this near to opposite, have no great circle of their own
_EDGE_DEG = 180 - 1e-7


def vertices(
    lon0_deg: npt.ArrayLike, lat0_deg: npt.ArrayLike, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike,
    *, step_km: float = STEP_KM,
) -> tuple[Floats, Floats]:  # fmt: skip
    """Points along the great circles from one position to n others, both ends included.

    lon0_deg, lat0_deg : one position, or n [deg]; lon_deg, lat_deg : shape (n,) [deg]
    Returns lon_deg, lat_deg, each of shape (n, k): k equal steps, as many as the longest path needs.
    An exact antipode is reached over the north; a path of no length stays where it is. On a sphere: the middle of a path
    is typically within 1 km of the geodesic on WGS 84.
    Source: spherical linear interpolation; the angle by arctan2, which holds for very short and for nearly antipodal paths.
    """
    lon, lat = np.atleast_1d(np.asarray(lon_deg, float)), np.atleast_1d(np.asarray(lat_deg, float))
    if not len(lon):
        return np.empty((0, 2)), np.empty((0, 2))
    start = np.broadcast_to(_unit(np.asarray(lon0_deg, float), np.asarray(lat0_deg, float)), (len(lon), 3))
    end = _unit(lon, lat)
    angle = np.arctan2(np.linalg.norm(np.cross(start, end), axis=-1), np.sum(start * end, axis=-1))
    steps = int(np.clip(np.ceil(angle.max() * EARTH_KM / step_km), _LEAST, _MOST))
    # Walk from the start along the unit vector that points to the end: cos(a) * start + sin(a) * towards.
    towards = _towards(start, end, angle)
    walked = angle[:, None] * np.linspace(0, 1, steps + 1)
    points = np.cos(walked)[..., None] * start[:, None] + np.sin(walked)[..., None] * towards[:, None]
    return np.degrees(np.arctan2(points[..., 1], points[..., 0])), np.degrees(
        np.arctan2(points[..., 2], np.hypot(points[..., 0], points[..., 1]))
    )


def _unit(lon_deg: Floats, lat_deg: Floats) -> Floats:
    lon, lat = np.radians(lon_deg), np.radians(lat_deg)
    return np.stack([np.cos(lat) * np.cos(lon), np.cos(lat) * np.sin(lon), np.sin(lat)], -1)


def _towards(start: Floats, end: Floats, angle: Floats) -> Floats:
    """Unit vectors at the starts, pointing along the paths; north where the path does not say."""
    side = end - np.sum(start * end, axis=-1, keepdims=True) * start
    north = np.array([0.0, 0.0, 1.0]) - start[:, 2:] * start
    at_pole = np.linalg.norm(north, axis=-1) < _NO_SIGHT_RAD
    north[at_pole] = (1.0, 0.0, 0.0)
    blind = (angle < _NO_SIGHT_RAD) | (np.pi - angle < _NO_SIGHT_RAD)
    side = np.where(blind[:, None], north, side)
    return side / np.linalg.norm(side, axis=-1, keepdims=True)


def paths(projection: Projection, lon0_deg: float, lat0_deg: float, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike,
          *, step_km: float = STEP_KM) -> tuple[list[Floats], npt.NDArray[np.intp]]:  # fmt: skip
    """The great circles from a station to n positions as lines on a map, cut where the map is cut.

    lon_deg, lat_deg : shape (n,) [deg]
    Returns (pieces, which) as `lines` does. Paths of like length are worked out together, so that a short one is not
    given the vertices that a long one needs.
    """
    lon, lat = np.atleast_1d(np.asarray(lon_deg, float)), np.atleast_1d(np.asarray(lat_deg, float))
    start, end = _unit(np.asarray(lon0_deg, float), np.asarray(lat0_deg, float)), _unit(lon, lat)
    chord_km = 2 * EARTH_KM * np.arcsin(np.clip(np.linalg.norm(end - start, axis=-1) / 2, 0, 1))
    group = np.searchsorted(_LEAST * step_km * np.array([1, 2, 3, 4.5, 6.5, 9]), chord_km)
    pieces: list[Floats] = []
    which: list[int] = []
    for number in np.unique(group):
        at = np.flatnonzero(group == number)
        found, owner = lines(projection, *vertices(lon0_deg, lat0_deg, lon[at], lat[at], step_km=step_km))
        pieces += found
        which += at[owner].tolist()
    rough = _rough(projection, pieces, which) if step_km > _FINEST_KM else set()
    if rough:
        smooth = [k for k, owner in enumerate(which) if owner not in rough]
        again = np.array(sorted(rough))
        finer, owner = paths(
            projection, lon0_deg, lat0_deg, lon[again], lat[again], step_km=max(step_km / _FINER, _FINEST_KM)
        )
        pieces = [pieces[k] for k in smooth] + finer
        which = [which[k] for k in smooth] + again[owner].tolist()
    return pieces, np.array(which, np.intp)


def _rough(projection: Projection, pieces: list[Floats], which: list[int]) -> set[int]:
    """The paths with a step that the map stretches so far that its corners would show: near a rim, or near a pole."""
    if not pieces:
        return set()
    far = _LONG_SHARE * (projection.x_limits[1] - projection.x_limits[0])
    owner = np.repeat(which, [len(piece) for piece in pieces])
    new = np.repeat(np.arange(len(pieces)), [len(piece) for piece in pieces])
    step = np.linalg.norm(np.diff(np.concatenate(pieces), axis=0), axis=1)
    return set(owner[1:][(step > far) & (np.diff(new) == 0)].tolist())


def circle(lon_deg: float, lat_deg: float, radius_km: float, points: int = 361) -> tuple[Floats, Floats]:
    """A circle of that radius round a position, closed.

    Returns lon_deg, lat_deg, each of shape (1, points): the ends of geodesics on WGS 84.
    """
    from reach.place import path

    lon, lat = path.direct(lon_deg, lat_deg, np.linspace(0, 360, points), radius_km)
    return lon[None], lat[None]


def project(projection: Projection, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> Floats:
    """Positions in the coordinates of the map.

    lon_deg, lat_deg : any equal shape [deg]
    Returns shape (..., 2), metres for every projection of ours; infinite where a position is not on the map.
    """
    import cartopy.crs as ccrs

    lon, lat = np.asarray(lon_deg, float), np.asarray(lat_deg, float)
    if not lon.size:
        return np.empty((*lon.shape, 2))
    return np.asarray(projection.transform_points(ccrs.Geodetic(), lon.ravel(), lat.ravel()))[:, :2].reshape(
        (*lon.shape, 2)
    )


def seam_deg(projection: Projection) -> float | None:
    """The middle longitude of a map that is cut open along one meridian; None for a map round a point.

    Such a map tears every line that crosses the meridian opposite its middle.
    """
    if projection.proj4_params["proj"] in ("aeqd", "laea", "ortho", "stere", "gnom", "nsper"):
        return None
    return float(projection.proj4_params.get("lon_0", 0.0))


def lines(projection: Projection, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> tuple[list[Floats], npt.NDArray[np.intp]]:  # fmt: skip
    """Lines on the globe as lines on the map, cut where the map is cut.

    lon_deg, lat_deg : shape (n, k) [deg], n lines of k vertices whose steps are short
    Returns (pieces, which): arrays of shape (m, 2) in the map's coordinates, and which line each is a piece of. Both
    halves of a line that crosses the seam end on it.
    """
    lon, lat = np.asarray(lon_deg, float), np.asarray(lat_deg, float)
    if not lon.size:
        return [], np.empty(0, np.intp)
    xy = project(projection, lon, lat)
    middle = seam_deg(projection)
    if middle is None:
        return _whole_or_torn(projection, xy)
    turned = (lon - middle + 180) % 360 - 180
    jump = np.abs(np.diff(turned, axis=1)) > 180
    whole = np.flatnonzero(~jump.any(axis=1))
    row, column = np.nonzero(jump)
    pieces = [xy[k] for k in whole]
    which = [int(k) for k in whole]
    leave, enter = _on_the_seam(projection, middle, turned, lat, row, column)
    for k in np.unique(row):
        at = np.flatnonzero(row == k)
        cuts = column[at] + 1
        parts = np.split(xy[k], cuts)
        for number, part in enumerate(parts):
            before = [enter[at[number - 1]]] if number else []
            after = [leave[at[number]]] if number < len(cuts) else []
            pieces.append(np.vstack([*before, part, *after]))
            which.append(int(k))
    return pieces, np.array(which, np.intp)


def _on_the_seam(projection: Projection, middle: float, turned: Floats, lat: Floats, row: npt.NDArray[np.intp],
                 column: npt.NDArray[np.intp]) -> tuple[Floats, Floats]:  # fmt: skip
    """Where lines leave the map at the seam and where they enter it again on the other side."""
    before, after = turned[row, column], turned[row, column + 1]
    side = np.sign(before)
    share = (side * 180 - before) / (after + side * 360 - before)
    at = lat[row, column] + share * (lat[row, column + 1] - lat[row, column])
    return project(projection, middle + side * _EDGE_DEG, at), project(projection, middle - side * _EDGE_DEG, at)


def _whole_or_torn(projection: Projection, xy: Floats) -> tuple[list[Floats], npt.NDArray[np.intp]]:
    """On a map round a point only a line through the point's antipode tears: it jumps across the whole disc."""
    far = 0.25 * (projection.x_limits[1] - projection.x_limits[0])
    step = np.linalg.norm(np.diff(xy, axis=1), axis=-1)
    torn = ~(step < far)  # also where a vertex is infinite
    if not torn.any():
        return list(xy), np.arange(len(xy))
    pieces, which = [], []
    for k in range(len(xy)):
        for part in np.split(xy[k], np.flatnonzero(torn[k]) + 1) if torn[k].any() else [xy[k]]:
            if len(part) > 1 and np.isfinite(part).all():
                pieces.append(part)
                which.append(k)
    return pieces, np.array(which, np.intp)

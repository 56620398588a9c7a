"""Layers of a map. Each draws onto the axes it is given and returns what it drew.

Axes are cartopy GeoAxes of one of the projections in `basemap`, with their limits set before the first layer. From the
bottom up: land, graticule or locator fields, night, rings, squares, reach, paths, receivers, those not counted, the station.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from reach.base import words
from reach.draw import arcs, basemap, style
from reach.draw.style import points
from reach.spots import SECTOR_DEG

if TYPE_CHECKING:
    import pandas as pd
    from cartopy.mpl.geoaxes import GeoAxes
    from matplotlib.artist import Artist
    from matplotlib.collections import LineCollection, PathCollection
    from matplotlib.colors import Colormap, Normalize
    from matplotlib.image import AxesImage
    from matplotlib.patches import PathPatch
    from matplotlib.text import Text
    from matplotlib.transforms import Bbox

Floats = npt.NDArray[np.float64]
_RIM_PX, _NIGHT_RIM_PX = 1.2, 3.0  # of a receiver's dot
_MANY_SUSPECTS = 40
_FIELD_PX = (48.0, 34.0)  # room that the name of a field keeps
_FIELD_KM = 1110.0  # from south to north
_SMALL_FIELD_PX = 60.0  # there the names of all would hide what they name
# Where a name may go: the middle of its field, or else aside.
_PLACES_DEG = np.array([(0.0, 0.0), *((dx, dy) for dy in (2.5, -2.5, 4.0, -4.0) for dx in (0.0, 5.0, -5.0))])
_SQUARE_KM = 111.0
_LEAST_SQUARE_PX = 12.0  # a smaller square could not be seen from the back row
_NEAR_RIM = 0.95  # of the way to the antipode, from where squares are spread along the rim

# What lies over what.
(Z_LAND, Z_GRID, Z_NIGHT, Z_RINGS, Z_SQUARES, Z_REACH, Z_PATHS, Z_DOTS, Z_MARKS, Z_LABELS) = range(1, 11)


@dataclass(frozen=True)
class Site:
    """Where the station is."""

    lon_deg: float
    lat_deg: float


def km_per_px(axes: GeoAxes) -> float:
    """How many kilometres of the map one pixel of the picture shows, at the picture's own resolution."""
    left, right = axes.get_xlim()
    return (right - left) / 1000 / axes.get_window_extent().width


def land(axes: GeoAxes, look: style.Theme) -> list[PathPatch]:
    """Land in quiet grey, borders and coasts as thin lines. Returns three patches."""
    from matplotlib.patches import PathPatch

    shapes = basemap.shapes(axes.projection, km_per_px(axes))
    axes.set_facecolor(look.sea)
    drawn = [
        PathPatch(shapes.land, facecolor=look.land, edgecolor="none", zorder=Z_LAND),
        PathPatch(shapes.borders, fill=False, edgecolor=look.border, linewidth=points(1), zorder=Z_LAND + 0.1),
        PathPatch(shapes.coast, fill=False, edgecolor=look.coast, linewidth=points(1.2), zorder=Z_LAND + 0.2),
    ]
    for patch in drawn:
        patch.set_transform(axes.transData)
        patch.set_clip_path(axes.patch)
        axes.add_artist(patch)
    return drawn


def _line_layer(axes: GeoAxes, pieces: Sequence[Floats], **how: Any) -> LineCollection:
    from matplotlib.collections import LineCollection

    lines = LineCollection(pieces, **how)
    style.as_one_image_if_many(lines, len(pieces))
    axes.add_collection(lines, autolim=False)
    return lines


def marks(axes: GeoAxes, xy: Floats, **how: Any) -> PathCollection:
    """Marks at n places on the map. xy : shape (n, 2), its coordinates; how : as for scatter."""
    drawn = axes.scatter(xy[:, 0], xy[:, 1], **how)
    style.as_one_image_if_many(drawn, len(xy))
    return drawn


def graticule(
    axes: GeoAxes, look: style.Theme, step_deg: float = 30.0, step_lat_deg: float | None = None
) -> LineCollection:
    """Meridians and parallels, that many degrees apart. The meridians stop one step short of the poles."""
    step_lat = step_lat_deg or step_deg
    lon, lat = np.arange(-180, 180, step_deg), np.arange(-90 + step_lat, 90, step_lat)
    along_lat, along_lon = np.linspace(lat[0], lat[-1], 121), np.linspace(-180, 180, 361)
    up, _ = arcs.lines(axes.projection, *np.broadcast_arrays(lon[:, None], along_lat[None]))
    round_, _ = arcs.lines(axes.projection, *np.broadcast_arrays(along_lon[None], lat[:, None]))
    return _line_layer(axes, [*up, *round_], colors=look.coast, alpha=0.45, linewidths=points(1), zorder=Z_GRID)


def fields(
    axes: GeoAxes, look: style.Theme, shown: PathCollection | None = None, names_of: Sequence[str] = ()
) -> tuple[LineCollection, list[Text]]:
    """The graticule of locator fields (20 by 10 degrees), each named by its two letters where there is room.

    shown : squares that no name may cover; names_of : those squares. Where fields are small only theirs are named
    """
    lines = graticule(axes, look, 20.0, 10.0)
    small = _FIELD_KM / km_per_px(axes) < _SMALL_FIELD_PX
    wanted = {name[:2] for name in names_of}
    lon, lat = np.meshgrid(np.arange(-170, 180, 20.0), np.arange(-85, 90, 10.0))
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    margin = 30 * km_per_px(axes) * 1000
    taken = _rooms(axes, shown)  # and where fields taper towards a pole there is no room for all

    def is_free(x: float, y: float) -> bool:
        inside = left + margin < x < right - margin and low + margin < y < high - margin
        return inside and _takes_room(axes, x, y, _FIELD_PX, taken)

    labels = []
    for j, i in itertools.product(range(18), range(18)):
        name = chr(65 + i) + chr(65 + j)
        if abs(lat[j, i]) >= 80 or (small and name not in wanted):
            continue
        places = arcs.project(axes.projection, lon[j, i] + _PLACES_DEG[:, 0], lat[j, i] + _PLACES_DEG[:, 1])
        free = next(((x, y) for x, y in places if is_free(x, y)), None)
        if free is not None:
            labels.append(_haloed(axes, look, *free, name, px=style.NOTE, color=look.muted, zorder=Z_SQUARES + 0.1))
    return lines, labels


def _rooms(axes: GeoAxes, shown: PathCollection | None) -> list[Bbox]:
    """The room that each of some outlines takes on the picture [px]."""
    if shown is None:
        return []
    return [axes.transData.transform_bbox(path.get_extents()) for path in shown.get_paths()]


def ring_step_km(reach_km: float) -> float:
    """How far apart distance rings are on a map that shows this far: three to six of them."""
    for step in (1.0, 2.5, 5.0, 10.0, 25.0, 50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0):
        if reach_km / step <= 6:
            return step
    return 5000.0


def rings(
    axes: GeoAxes, look: style.Theme, site: Site, radii_km: Sequence[float], *, label_bearing_deg: float | None = None,
    bold: bool = False,
) -> tuple[LineCollection, list[Text]]:  # fmt: skip
    """Circles of equal distance round the station, labelled in km at that bearing (None: not labelled): each whose label does
    not lie on that of a nearer one.

    bold : whether they are what is to be seen, and not quiet help
    """
    drawn: list[Floats] = []
    labels: list[Text] = []
    taken: list[Bbox] = []
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    for radius in radii_km:
        lon, lat = arcs.circle(site.lon_deg, site.lat_deg, radius)
        drawn += arcs.lines(axes.projection, lon, lat)[0]
        if label_bearing_deg is not None:
            place = arcs.circle(site.lon_deg, site.lat_deg, radius)
            at = round(label_bearing_deg) % 360
            x, y = arcs.project(axes.projection, place[0][0, at], place[1][0, at])
            if left < x < right and low < y < high and _takes_room(axes, x, y, _note_px(words.km(radius)), taken):
                labels.append(_haloed(axes, look, x, y, words.km(radius), px=style.NOTE, color=look.muted))
    how: dict[str, Any] = (
        {"colors": look.ink, "linewidths": points(3)}
        if bold
        else {"colors": look.ring, "linewidths": points(1.3), "alpha": 0.75}
    )
    return _line_layer(axes, drawn, zorder=Z_RINGS, **how), labels


def _note_px(label: str) -> tuple[float, float]:
    """Width and height of a label of NOTE."""
    return style.width_px(label, style.NOTE), style.NOTE


def _takes_room(axes: GeoAxes, x: float, y: float, size_px: tuple[float, float], taken: list[Bbox]) -> bool:
    """Whether a label with its middle at a place of the map lies on no other; then its room is taken, too.

    taken : the room of the labels so far, on the picture [px]
    """
    from matplotlib.transforms import Bbox

    middle = axes.transData.transform((x, y))
    size = np.array(size_px) * axes.figure.dpi / style.DPI
    box = Bbox([middle - size / 2, middle + size / 2])
    if any(box.overlaps(other) for other in taken):
        return False
    taken.append(box)
    return True


def _haloed(axes: GeoAxes, look: style.Theme, x: float, y: float, label: str, **how: Any) -> Text:
    """A label that stays readable over lines."""
    halo = style.halo(look)
    how = {"ha": "center", "va": "center", "zorder": Z_LABELS, "clip_on": True, "path_effects": halo, **how}
    return style.text(axes, x, y, label, **how)


def bare_disc(axes: GeoAxes, look: style.Theme, radius_km: float) -> None:
    """Cut a map round the station to a circle, without anything at its rim."""
    axes.set_xlim(-radius_km * 1000, radius_km * 1000)
    axes.set_ylim(-radius_km * 1000, radius_km * 1000)
    _cut_to_a_circle(axes, look, radius_km, step_deg=2, width_px=1.4)


def _cut_to_a_circle(axes: GeoAxes, look: style.Theme, radius_km: float, *, step_deg: int, width_px: float) -> None:
    from matplotlib.path import Path

    turn = np.radians(np.arange(0, 360 + step_deg, step_deg))
    axes.set_boundary(Path(radius_km * 1000 * np.stack([np.sin(turn), np.cos(turn)], -1)))
    axes.spines["geo"].set(edgecolor=look.ring, linewidth=points(width_px))


def rim(axes: GeoAxes, look: style.Theme, radius_km: float) -> list[Artist]:
    """Bearing ticks round the rim of a station-centred map, named every 30 degrees, north marked.

    radius_km : how far the map shows; the axes are cut to that circle
    """
    _cut_to_a_circle(axes, look, radius_km, step_deg=1, width_px=1.6)
    radius = radius_km * 1000
    bearing = np.arange(0, 360, 10)
    out = np.stack([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))], -1)
    length = np.where(bearing % 30 == 0, 0.022, 0.011)
    ticks = np.stack([out * radius, out * radius * (1 + length)[:, None]], 1)
    lines = _line_layer(axes, list(ticks), colors=look.ring, linewidths=points(1.6), clip_on=False, zorder=Z_LABELS)
    drawn: list[Artist] = [lines]
    cardinal = {deg: words.compass(deg) for deg in (0, 90, 180, 270)}
    for number in np.flatnonzero(bearing % 30 == 0):
        x, y = out[number] * radius * 1.055
        name = cardinal.get(int(bearing[number]))
        drawn.append(
            style.text(axes, x, y, name or f"{bearing[number]}°", px=style.LABEL if name else style.NOTE, ha="center",
                       va="center", color=look.ink if name else look.muted, clip_on=False,
                       weight=style.BOLD if name else style.REGULAR)
        )  # fmt: skip
    return drawn


class Night:
    """The night side with its twilights, as one picture over the map that can be moved to another moment.

    The map's longitudes and latitudes are worked out once, on a grid of `cell_px` pixels; a new moment costs one pass
    of the sun's elevation over the grid. `image` is the artist.
    """

    # Elevation of the sun's centre [deg] -> how dark. Steps at the twilights' edges, softened over a degree:
    # sunset, then civil, nautical and astronomical twilight and night.
    # Source: Nautical Almanac Office, Astronomical Almanac, glossary: twilight (6, 12, 18 degrees below the horizon).
    _ELEVATION = (-18.6, -17.4, -12.6, -11.4, -6.6, -5.4, -1.4, -0.2)
    _DARK = (1.0, 0.78, 0.72, 0.52, 0.46, 0.28, 0.2, 0.0)

    def __init__(self, axes: GeoAxes, look: style.Theme, when: datetime, *, cell_px: float = 3.0) -> None:
        import cartopy.crs as ccrs
        from matplotlib.colors import to_rgb
        from matplotlib.image import AxesImage

        extent = axes.get_window_extent()
        (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
        columns, rows = max(int(extent.width / cell_px), 2), max(int(extent.height / cell_px), 2)
        x, y = np.meshgrid(
            left + (np.arange(columns) + 0.5) * (right - left) / columns,
            low + (np.arange(rows) + 0.5) * (high - low) / rows,
        )
        at = ccrs.PlateCarree().transform_points(axes.projection, x.ravel(), y.ravel())
        lon, lat = at[:, 0].reshape(x.shape), at[:, 1].reshape(x.shape)
        self._on_map = np.isfinite(lon) & np.isfinite(lat)
        self._lon, self._lat = np.where(self._on_map, lon, 0.0), np.where(self._on_map, lat, 0.0)
        self._most = 0.42 if look.name == "light" else 0.62
        self._rgba = np.empty((*x.shape, 4))
        self._rgba[..., :3] = to_rgb(look.night)
        self.image: AxesImage = AxesImage(
            axes, extent=(left, right, low, high), origin="lower", interpolation="bilinear", zorder=Z_NIGHT
        )
        self.image.set_transform(axes.transData)
        self.image.set_clip_path(axes.patch)
        self.move(when)
        axes.add_image(self.image)

    def move(self, when: datetime) -> AxesImage:
        """Show another moment (UTC)."""
        from reach.place import sun

        elevation = sun.elevation_deg(when, self._lon, self._lat)
        dark = np.interp(elevation, self._ELEVATION, self._DARK)
        self._rgba[..., 3] = np.where(self._on_map, dark * self._most, 0.0)
        self.image.set_data(self._rgba)
        return self.image


def paths(
    axes: GeoAxes, look: style.Theme, site: Site, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike,
    colours: Any, *, alpha: float | None = None, width_px: float = 1.6,
) -> LineCollection:  # fmt: skip
    """Great circles from the station to n positions, thin, in one colour each or one for all.

    On the map round the station they are straight; elsewhere smooth arcs, cut at the seam.
    """
    from matplotlib.colors import to_rgba_array

    lon, lat = np.asarray(lon_deg, float), np.asarray(lat_deg, float)
    rgba = to_rgba_array(colours) if isinstance(colours, str) else np.asarray(colours)
    if _is_round(axes, site):
        ends = arcs.project(axes.projection, lon, lat)
        pieces = list(np.stack([np.zeros_like(ends), ends], 1))
        which = np.arange(len(ends))
    else:
        pieces, which = arcs.paths(axes.projection, site.lon_deg, site.lat_deg, lon, lat)
    shown = rgba if len(rgba) == 1 else rgba[which]
    fade = path_alpha(len(lon)) if alpha is None else alpha
    return _line_layer(axes, pieces, colors=shown, linewidths=points(width_px), alpha=fade, zorder=Z_PATHS,
                       capstyle="round", joinstyle="bevel")  # fmt: skip


def _is_round(axes: GeoAxes, site: Site) -> bool:
    """Whether the map is the one round this very station."""
    params = axes.projection.proj4_params
    return bool(
        params["proj"] == "aeqd"
        and abs(params["lon_0"] - site.lon_deg) < 1e-6
        and abs(params["lat_0"] - site.lat_deg) < 1e-6
    )


def path_alpha(paths_drawn: int) -> float:
    """How opaque paths are: the more there are, the fainter each."""
    return float(np.clip(0.62 - 0.2 * np.log10(max(paths_drawn, 1) / 40), 0.14, 0.62))


def diameter_px(reports: npt.ArrayLike, crowd: int = 0) -> Floats:
    """How large a receiver's dot is [px]: it grows with the logarithm of its reports; smaller where many are drawn."""
    size = 10 + 9 * np.log10(np.maximum(np.asarray(reports, float), 1))
    return np.minimum(size, 38) * float(np.clip((250 / max(crowd, 1)) ** 0.35, 0.45, 1.0))


def receivers(
    axes: GeoAxes, look: style.Theme, table: pd.DataFrame, colours: Colormap, norm: Normalize,
    *, value: str = "median_snr_db", marker: str = "o", crowd: int | None = None,
) -> PathCollection:  # fmt: skip
    """A dot a receiver: its size from `reports`, its colour from `value`. Small dots lie over large ones. Where the map has a
    night side each has a rim from which its colour is 3:1.

    table : spots.RECEIVERS
    """
    rim_px = _NIGHT_RIM_PX if any(image.get_zorder() == Z_NIGHT for image in axes.images) else _RIM_PX
    table = table.sort_values("reports", ascending=False, kind="stable")
    xy = arcs.project(axes.projection, table["rx_lon_deg"], table["rx_lat_deg"])
    wide_px = diameter_px(table["reports"], len(table) if crowd is None else crowd) + rim_px - _RIM_PX
    size = points(wide_px) ** 2  # type: ignore[arg-type]
    return marks(
        axes, xy, s=size, c=colours(norm(table[value].to_numpy(float))), marker=marker, zorder=Z_DOTS,
        edgecolors=look.paper if look.name == "light" else look.sea, linewidths=points(rim_px),
    )  # fmt: skip


def suspects(axes: GeoAxes, look: style.Theme, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> list[Artist]:
    """Receivers whose place is doubted: hollow, dashed, with a query mark; where there are very many, smaller and without."""
    xy = arcs.project(axes.projection, lon_deg, lat_deg)
    size = float(np.clip((_MANY_SUSPECTS / max(len(xy), 1)) ** 0.25, 0.6, 1.0))
    readable = size == 1.0  # a query mark that nobody can read says nothing
    taken: list[Bbox] = []
    drawn: list[Artist] = [
        marks(axes, xy, s=points(34 * size) ** 2, facecolors=look.sea, edgecolors=look.ink, alpha=0.95,
               linewidths=points(1.8), linestyles=(0, (2.2, 1.4)), zorder=Z_MARKS)
    ]  # fmt: skip
    drawn += [
        style.text(axes, x, y, "?", px=style.NOTE, color=look.ink, weight=style.BOLD, ha="center", va="center_baseline",
                   zorder=Z_MARKS + 0.1, clip_on=True)
        for x, y in (xy.tolist() if readable else ())
        if _takes_room(axes, x, y, _note_px("?"), taken)
    ]  # fmt: skip
    return drawn


def unconfirmed(axes: GeoAxes, look: style.Theme, lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike) -> PathCollection:
    """Receivers whose place nothing speaks for or against: small and hollow."""
    xy = arcs.project(axes.projection, lon_deg, lat_deg)
    return marks(axes, xy, s=points(12) ** 2, facecolors=look.sea, edgecolors=look.muted,
                  linewidths=points(2), zorder=Z_DOTS - 0.1)  # fmt: skip


def station(axes: GeoAxes, look: style.Theme, site: Site) -> PathCollection:
    """The station: a ring with a dot, in ink. The ring lies over all, what is in it under the receivers: one beside the
    station is seen in the ring. At a pole it lies on the rim of a map of the world and is seen whole."""
    xy = arcs.project(axes.projection, [site.lon_deg], [site.lat_deg])
    axes.scatter(
        xy[:, 0], xy[:, 1], s=points(22) ** 2, color=look.paper, linewidths=0, zorder=Z_PATHS + 0.2, clip_on=False
    )
    axes.scatter(xy[:, 0], xy[:, 1], s=points(22) ** 2, facecolors="none", edgecolors=look.ink, linewidths=points(2.6),
                 zorder=Z_MARKS + 0.2, clip_on=False)  # fmt: skip
    return axes.scatter(
        xy[:, 0], xy[:, 1], s=points(8) ** 2, color=look.ink, linewidths=0, zorder=Z_PATHS + 0.3, clip_on=False
    )


def squares(
    axes: GeoAxes, look: style.Theme, names: Sequence[str], values: npt.ArrayLike, colours: Colormap, norm: Normalize
) -> PathCollection:
    """Locator squares (2 by 1 degrees) shaded by a value.

    names : n squares of four characters; values : shape (n,). Where the map is so small that they could not be seen, they are
        drawn larger
    """
    from matplotlib.collections import PolyCollection

    pieces: list[Floats] = []
    owner: list[int] = []
    for number, name in enumerate(names):
        for outline in _square_outline(axes, name):
            pieces.append(outline)
            owner.append(number)
    shade = colours(norm(np.asarray(values, float)))[owner] if owner else colours(norm(np.empty(0)))
    lacks_px = _LEAST_SQUARE_PX - _SQUARE_KM / km_per_px(axes)
    edge: dict[str, Any] = {"edgecolors": look.sea, "linewidths": points(0.8)}
    if lacks_px > 0:
        edge = {"edgecolors": shade, "linewidths": points(lacks_px), "joinstyle": "miter"}
    drawn = PolyCollection(pieces, facecolors=shade, zorder=Z_SQUARES, **edge)
    axes.add_collection(drawn, autolim=False)
    return drawn  # type: ignore[return-value]


def _square_outline(axes: GeoAxes, name: str) -> list[Floats]:
    """A square's outline on the map; in two parts where the map is cut through it."""
    west, south = -180 + 20 * (ord(name[0]) - 65) + 2 * int(name[2]), -90 + 10 * (ord(name[1]) - 65) + int(name[3])
    along = np.linspace(0, 1, 5)
    lon = west + 2 * np.concatenate([along, np.ones(5), along[::-1], np.zeros(5)])
    lat = south + np.concatenate([np.zeros(5), along, np.ones(5), along[::-1]])
    middle = arcs.seam_deg(axes.projection)
    if middle is None:
        return [_unfolded(arcs.project(axes.projection, lon, lat))]
    turned = (west + 1 - middle + 180) % 360 - 180 + (lon - west - 1)  # the whole square on one side of the seam
    parts = [np.clip(turned + shift, -180 + 1e-7, 180 - 1e-7) for shift in (0, -360, 360)]
    return [arcs.project(axes.projection, middle + part, lat) for part in parts if np.ptp(part) > 1e-3]


def _unfolded(outline: Floats) -> Floats:
    """A closed outline on the map round the station, right beside the antipode too.

    There a small square spreads along the rim: between two of its corners the line follows the rim instead of cutting
    through the map, and one that goes round the antipode is what lies between the rim and its outline.
    """
    far = np.hypot(*outline.T)
    if far.max() < _NEAR_RIM * basemap.RIM_KM * 1000:
        return outline
    turn = np.unwrap(np.arctan2(outline[:, 0], outline[:, 1]))
    at = np.linspace(0, len(outline) - 1, 40 * len(outline))
    bent_turn, bent_far = (np.interp(at, np.arange(len(outline)), each) for each in (turn, far))
    bent = bent_far[:, None] * np.stack([np.sin(bent_turn), np.cos(bent_turn)], -1)
    if abs(turn[-1] - turn[0]) < np.pi:
        return bent
    rim = np.linspace(turn[-1], turn[0], 181)
    return np.vstack([bent, basemap.RIM_KM * 1000 * np.stack([np.sin(rim), np.cos(rim)], -1)])


def reach(
    axes: GeoAxes, look: style.Theme, site: Site, sector: npt.ArrayLike, within_km: npt.ArrayLike, *, color: str,
    fill: bool = True, linestyle: str = "-",
) -> list[Artist]:  # fmt: skip
    """How far the reports of each sector stayed: a wedge a sector, none where there are too few reports.

    sector : shape (n,), whole numbers, 0 the sector centred on north; within_km : shape (n,), NaN for a gap
    """
    from matplotlib.collections import PolyCollection

    distance = np.asarray(within_km, float)
    known = np.isfinite(distance) & (distance > 0)
    outlines, edges = [], []
    for number, km in zip(np.asarray(sector)[known], distance[known], strict=True):
        bearing = np.linspace(-SECTOR_DEG / 2, SECTOR_DEG / 2, 31) + number * SECTOR_DEG
        arc = _at_bearings(axes, site, bearing, km)
        outlines.append(np.vstack([_at_bearings(axes, site, bearing[[0]], 0.0), arc]))
        edges.append(arc)
    drawn: list[Artist] = []
    if fill:
        wedges = PolyCollection(outlines, facecolors=color, alpha=0.22, linewidths=0, zorder=Z_REACH)
        axes.add_collection(wedges, autolim=False)
        drawn.append(wedges)
    drawn.append(
        _line_layer(axes, edges, colors=color, linewidths=points(4), linestyles=linestyle, zorder=Z_REACH + 0.1)
    )
    return drawn


def _at_bearings(axes: GeoAxes, site: Site, bearing_deg: Floats, km: float) -> Floats:
    from reach.place import path

    return arcs.project(axes.projection, *path.direct(site.lon_deg, site.lat_deg, bearing_deg, km))


def clearest_bearing(bearing_deg: npt.ArrayLike, avoid: Sequence[float] = (0.0, 180.0)) -> float:
    """The bearing with most room around it, for labels of rings; exact multiples of 30 degrees are left to the rim."""
    taken = np.asarray(bearing_deg, float)
    taken = np.concatenate([taken[np.isfinite(taken)], np.asarray(avoid, float)])
    tried = np.arange(15.0, 360.0, 5.0)
    gap = np.abs((tried[:, None] - taken[None] + 180) % 360 - 180).min(axis=1)
    return float(tried[np.argmax(np.minimum(gap, 25))])

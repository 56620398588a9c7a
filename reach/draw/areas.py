"""Maps of areas: how far each direction reached, which locator squares heard, the busiest hour with the night side.

`draw_...` draws onto the axes of a map (of a projection of `basemap`) and returns what it drew; the function without
that prefix makes the whole picture, with its words round it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import locator, words
from reach.base.words import PRINT
from reach.draw import basemap, captions, frame, layers, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.tell.sentences import direction, pictures

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

_LEAST_KM = 1000.0  # shown round a station whose directions cannot be told, where anybody heard it so far away
_NEAREST_KM = 20.0
_HALF: Any = (0, (4, 1.5))  # dash of the line that half stayed within


# --- how far each way -------------------------------------------------------------------------------------------------


def reach(findings: Findings, look: style.Theme) -> Figure:
    """The distance that half and nine in ten of each sector's reports stayed within, round the station."""
    title = pictures.farthest_way(findings, PRINT)
    figure, top, _ = frame.beside(findings, look, title, notes=(captions.no_far_end(findings),))
    site = station_site(findings)
    axes = frame.disc(figure, basemap.round_the_station(site.lon_deg, site.lat_deg))
    draw_reach(axes, findings, look)
    _reach_key(findings, figure, look, top)
    return figure


def draw_reach(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the dots of receivers, then wedges and lines of nine in ten, then the line of half; none of a direction
    with too few reports."""
    site, table = station_site(findings), findings.sure
    enough = [None if sector.is_few else sector for sector in findings.reach.headline.sectors]
    half, most = (
        np.array([getattr(sector, name) if sector is not None else np.nan for sector in enough])
        for name in ("median_km", "p90_km")
    )
    farthest = findings.reach.headline.farthest
    least_km = min(_LEAST_KM, max(farthest.distance_km if farthest is not None else _LEAST_KM, _NEAREST_KM))
    radius_km = min(float(np.nanmax([least_km, *most])) * 1.12, basemap.RIM_KM - 1)
    furnish(axes, look, site, radius_km, table["bearing_deg"])
    xy = layers.arcs.project(axes.projection, table["rx_lon_deg"], table["rx_lat_deg"])
    dots = layers.marks(axes, xy, s=style.points(8) ** 2, color=look.muted, linewidths=0, zorder=layers.Z_REACH - 0.1)
    each = np.arange(len(enough))
    wide = layers.reach(axes, look, site, each, most, color=look.plain)
    near = layers.reach(axes, look, site, each, half, color=look.ink, linestyle=_HALF)
    layers.station(axes, look, site)
    return [dots, *wide, *near]


# --- squares ----------------------------------------------------------------------------------------------------------


def squares(findings: Findings, look: style.Theme) -> Figure:
    """Locator squares that heard the station, shaded by reports, where nine reports in ten lie."""
    figure, top, foot = frame.around(
        findings, look, pictures.squares(findings, PRINT), notes=(captions.no_far_end(findings),)
    )
    site = station_site(findings)
    axes: Any = style.place(
        figure, style.MARGIN_PX, top + 8, style.WIDTH_PX - 2 * style.MARGIN_PX, foot - top - 110,
        projection=basemap.round_the_station(site.lon_deg, site.lat_deg),
    )  # fmt: skip
    draw_squares(axes, findings, look)
    norm = _shades(findings)
    ticks = [t for t in (1, 3, 10, 30, 100, 300, 1000, 3000, 10000, 100000) if t <= float(norm.vmax or 10)]
    style.bar(figure, look, style.ramp(look.counts), norm, words.text("Reports from a square"), x=style.MARGIN_PX, y=foot - 88,
              length=420, ticks=ticks, names=[words.count(t) for t in ticks])  # fmt: skip
    style.write(figure, style.MARGIN_PX + 480, foot - 54, words.text(pictures.FIELDS), px=style.NOTE, color=look.muted)
    return figure


def draw_squares(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the squares as one collection."""
    count = _by_square(findings)
    _window(axes, findings)
    axes.spines["geo"].set(edgecolor=look.hair, linewidth=style.points(1.4))
    layers.land(axes, look)
    shaded = layers.squares(axes, look, list(count.index), count, style.ramp(look.counts), _shades(findings))
    layers.fields(axes, look, shaded, list(count.index))
    layers.station(axes, look, station_site(findings))
    return [shaded]


def _by_square(findings: Findings) -> pd.Series:
    """Reports by locator square, fewest first."""
    by_place = captions.counted(findings).groupby("rx_locator", observed=True)["reports"].sum()
    return by_place.groupby(by_place.index.astype(str).str[:4]).sum().sort_values(kind="stable")


def _shades(findings: Findings) -> Normalize:
    from matplotlib.colors import LogNorm

    return LogNorm(1, max(float(_by_square(findings).max()), 10.0))


# --- one hour ---------------------------------------------------------------------------------------------------------


def busiest_hour(findings: Findings, look: style.Theme) -> Figure:
    """The hour with most reports on the world map, with the night side in its middle."""
    hour = _Busiest.of(findings)
    steps = words.text("; its steps are civil, nautical and astronomical twilight.")
    note = pictures.night(hour.middle, steps, findings.local_time)
    notes = (note, captions.no_far_end(findings))
    figure, top, foot = frame.around(findings, look, busiest_hour_title(findings), notes=notes)
    draw_busiest_hour(world_axes(figure, station_site(findings), top + 8, foot - top - 16), findings, look)
    return figure


def busiest_hour_title(findings: Findings) -> str:
    """Which hour of the calendar, with how many reports."""
    hour = _Busiest.of(findings)
    reports, calls = int(hour.rows["reports"].sum()), int(hour.rows["rx_call"].nunique())
    return pictures.one_hour(findings, hour.start.to_pydatetime(), reports, calls, PRINT)


def draw_busiest_hour(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the paths, then the dots."""
    hour, site = _Busiest.of(findings), station_site(findings)
    furnish_world(axes, look)
    layers.Night(axes, look, hour.middle)
    heard = hour.rows.groupby(["rx_call", "rx_locator"], observed=True).agg(
        reports=("reports", "sum"), rx_lon_deg=("rx_lon_deg", "first"), rx_lat_deg=("rx_lat_deg", "first")
    )
    lines = layers.paths(axes, look, site, heard["rx_lon_deg"], heard["rx_lat_deg"], look.plain, width_px=2.2)
    xy = layers.arcs.project(axes.projection, heard["rx_lon_deg"], heard["rx_lat_deg"])
    size = style.points(layers.diameter_px(heard["reports"], len(heard))) ** 2  # type: ignore[arg-type]
    dots = layers.marks(axes, xy, s=size, color=look.plain, edgecolors=look.paper, linewidths=style.points(1.2),
                        zorder=layers.Z_DOTS)  # fmt: skip
    layers.station(axes, look, site)
    return [lines, dots]


@dataclass(frozen=True)
class _Busiest:
    """The hour of the calendar with most reports. Not the hour of the day with most, over all days: the night side
    belongs to one date."""

    start: pd.Timestamp
    rows: pd.DataFrame

    @property
    def middle(self) -> Any:
        return (self.start + pd.Timedelta(minutes=30)).to_pydatetime()

    @classmethod
    def of(cls, findings: Findings) -> _Busiest:
        return cls(findings.pooled.busiest_utc, findings.pooled.busiest)


# --- the map below ----------------------------------------------------------------------------------------------------


def world_axes(figure: Figure, site: Site, y: float, height: float) -> Any:
    """Axes for the whole world across the picture. y, height : [px]"""
    return style.place(
        figure, style.MARGIN_PX, y, style.WIDTH_PX - 2 * style.MARGIN_PX, height, projection=basemap.world(site.lon_deg)
    )


def furnish_world(axes: Any, look: style.Theme) -> None:
    """Land and graticule of a map of the whole world."""
    axes.set_global()
    axes.spines["geo"].set(edgecolor=look.ring, linewidth=style.points(1.4))
    layers.land(axes, look)
    layers.graticule(axes, look)


def station_site(findings: Findings) -> Site:
    """Where most reports were sent from."""
    cells = findings.pooled.by_hour
    names = cells["tx_locator"].cat
    reports = np.bincount(names.codes, weights=cells["reports"])  # a pass of addition: every map asks
    lon_deg, lat_deg = locator.centre([str(names.categories[int(reports.argmax())])])
    return Site(float(lon_deg[0]), float(lat_deg[0]))


def furnish(
    axes: Any, look: style.Theme, site: Site, radius_km: float, bearing_deg: Any, *, roomy: float = 0.92
) -> list[Artist]:
    """Land, rings and rim of a map round the station, on square axes. Returns the artists of the rim.

    roomy : share of the radius up to which rings are labelled; a label on the rim would be cut
    """
    axes.set_xlim(-radius_km * 1000, radius_km * 1000)
    axes.set_ylim(-radius_km * 1000, radius_km * 1000)
    rim = layers.rim(axes, look, radius_km)
    layers.land(axes, look)
    radii = np.arange(1, 7) * layers.ring_step_km(radius_km)
    named = radii < roomy * radius_km
    layers.rings(axes, look, site, list(radii[named]), label_bearing_deg=layers.clearest_bearing(bearing_deg))
    layers.rings(axes, look, site, list(radii[~named & (radii < radius_km)]))
    return rim


def _window(axes: Any, findings: Findings) -> None:
    """The part of the map that holds the station and the nearest nine reports in ten, in the shape of the axes."""
    rows, limit = captions.counted(findings), findings.reach.headline.p90_km.value
    near = rows[(rows["distance_km"] <= limit).to_numpy()].drop_duplicates("rx_locator")  # projecting a million is slow
    xy = layers.arcs.project(axes.projection, near["rx_lon_deg"], near["rx_lat_deg"])
    low, high = np.vstack([xy, [[0.0, 0.0]]]).min(axis=0), np.vstack([xy, [[0.0, 0.0]]]).max(axis=0)
    extent = axes.get_window_extent()
    middle, size = (low + high) / 2, np.maximum(high - low, 300_000.0) * 1.18
    size[0] = max(size[0], size[1] * extent.width / extent.height)
    size[1] = size[0] * extent.height / extent.width
    axes.set_xlim(middle[0] - size[0] / 2, middle[0] + size[0] / 2)
    axes.set_ylim(middle[1] - size[1] / 2, middle[1] + size[1] / 2)


def _reach_key(findings: Findings, figure: Figure, look: style.Theme, top: float) -> None:
    from matplotlib.lines import Line2D

    width, height = style.size_px(figure)
    y = top
    way = direction.ends(findings)
    keys: tuple[tuple[str, str, Any], ...] = (
        (
            words.text("half of what was heard came from within")
            if way is direction.HEARD
            else words.text("half of the reports stayed within"),
            look.ink,
            _HALF,
        ),
        (
            words.text("nine in ten came from within")
            if way is direction.HEARD
            else words.text("nine in ten stayed within"),
            look.plain,
            "-",
        ),
    )
    for said, color, dash in keys:
        x = np.array([style.MARGIN_PX, style.MARGIN_PX + 60]) / width
        figure.add_artist(
            Line2D(x, [1 - (y + 12) / height] * 2, color=color, linestyle=dash, linewidth=style.points(4))
        )
        style.write(figure, style.MARGIN_PX + 76, y, said, px=style.TICK, color=look.ink)
        y += 44
    for line in pictures.open_sectors(findings):
        y = style.paragraph(figure, style.MARGIN_PX, y + 8, line, px=style.TICK, color=look.muted, room=frame.COLUMN_PX)

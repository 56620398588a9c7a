"""Maps of areas: how far each direction reached, which locator squares heard, the busiest hour with the night side."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import locator, quantile, words
from reach.draw import basemap, captions, frame, layers, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.measure import sectors
from reach.spots import SECTOR_DEG

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure

FEW = 10  # reports below which a sector is left open


def reach(findings: Findings, look: style.Theme) -> Figure:
    """The distance that half and nine in ten of each sector's reports stayed within, round the station."""
    rows = captions.counted(findings)
    within = by_sector(rows)
    known = within.dropna()
    if len(known):
        at = int(known["p50_km"].to_numpy().argmax())
        where = words.compass(float(known["sector"].to_numpy()[at]) * SECTOR_DEG)
        title = f"Farthest towards {where}: half of those reports came from beyond {words.km(known['p50_km'].max())}"
    else:
        title = f"No direction has the {FEW} reports that its reach is worked out from"
    figure, top = frame.beside(findings, look, title, notes=(captions.NO_LISTENER,))
    site = station_site(findings)
    radius_km = min(float(np.nanmax([1000.0, *known["p90_km"]])) * 1.12, basemap.RIM_KM - 1)
    table = captions.receivers(findings)[0]
    axes = round_map(figure, look, site, radius_km, table["bearing_deg"])
    xy = layers.arcs.project(axes.projection, table["rx_lon_deg"], table["rx_lat_deg"])
    layers.marks(axes, xy, s=style.points(8) ** 2, color=look.muted, linewidths=0, zorder=layers.Z_REACH - 0.1)
    layers.reach(axes, look, site, within["sector"], within["p90_km"], color=look.setups[0])
    layers.reach(axes, look, site, within["sector"], within["p50_km"], color=look.setups[1], linestyle=(0, (4, 1.5)))  # type: ignore[arg-type]
    layers.station(axes, look, site)
    _reach_key(figure, look, top)
    return figure


def by_sector(rows: pd.DataFrame) -> pd.DataFrame:
    """sector, reports, p50_km, p90_km: one row a sector; the distances are NaN where it has fewer than FEW reports.

    rows : as captions.counted gives them
    """
    at = sectors.sector_of(rows["bearing_deg"])
    found = []
    for k in range(sectors.SECTORS):
        part = rows[at == k]
        reports = int(part["reports"].sum())
        enough = reports >= FEW
        half, most = quantile.weighted(part["distance_km"], part["reports"], [0.5, 0.9]) if enough else (np.nan, np.nan)
        found.append((k, reports, half, most))
    return pd.DataFrame(found, columns=["sector", "reports", "p50_km", "p90_km"])


def squares(findings: Findings, look: style.Theme) -> Figure:
    """Locator squares that heard the station, shaded by reports, where nine reports in ten lie."""
    from matplotlib.colors import LogNorm

    rows = captions.counted(findings)
    count = rows.groupby(rows["rx_locator"].astype(str).str[:4])["reports"].sum().sort_values(kind="stable")
    title = f"{words.things(len(count), 'square')} heard the signal; {count.index[-1]} sent {words.things(int(count.iloc[-1]), 'report')}, the most"
    figure, top, foot = frame.around(findings, look, title, notes=(captions.NO_LISTENER,))
    site = station_site(findings)
    axes: Any = style.place(
        figure, style.MARGIN_PX, top + 8, style.WIDTH_PX - 2 * style.MARGIN_PX, foot - top - 110,
        projection=basemap.round_the_station(site.lon_deg, site.lat_deg),
    )  # fmt: skip
    _window(axes, rows)
    axes.spines["geo"].set(edgecolor=look.hair, linewidth=style.points(1.4))
    layers.land(axes, look)
    layers.fields(axes, look)
    norm = LogNorm(1, max(float(count.max()), 10.0))
    layers.squares(axes, look, list(count.index), count, style.ramp(look.ramp), norm)
    layers.station(axes, look, site)
    ticks = [t for t in (1, 3, 10, 30, 100, 300, 1000, 3000, 10000, 100000) if t <= max(count.max(), 10)]
    style.bar(figure, look, style.ramp(look.ramp), norm, "Reports from a square", x=style.MARGIN_PX, y=foot - 88,
              length=420, ticks=ticks, names=[words.count(t) for t in ticks])  # fmt: skip
    style.write(figure, style.MARGIN_PX + 480, foot - 54, "Letters and lines are locator fields. Shown: nine reports in ten.",
                px=style.NOTE, color=look.muted)  # fmt: skip
    return figure


def busiest_hour(findings: Findings, look: style.Theme) -> Figure:
    """The hour with most reports on the world map, with the night side in its middle."""
    rows = captions.counted(findings)
    by_hour = rows.groupby("hour_utc")["reports"].sum()
    hour = pd.Timestamp(by_hour.index[int(by_hour.to_numpy().argmax())])
    part = rows[(rows["hour_utc"] == hour).to_numpy()]
    calls = words.things(int(part["rx_call"].nunique()), "receiver")
    title = f"The busiest hour, from {hour:%H:%M} UTC on {words.day(hour)}: {words.things(int(by_hour.max()), 'report')} from {calls}"
    middle = (hour + pd.Timedelta(minutes=30)).to_pydatetime()
    note = f"Night side at {middle:%H:%M} UTC; its steps are civil, nautical and astronomical twilight."
    figure, top, foot = frame.around(findings, look, title, notes=(note, captions.NO_LISTENER))
    site = station_site(findings)
    axes = world_map(figure, look, site, top + 8, foot - top - 16)
    layers.Night(axes, look, middle)
    heard = part.groupby(["rx_call", "rx_locator"], observed=True).agg(
        reports=("reports", "sum"), rx_lon_deg=("rx_lon_deg", "first"), rx_lat_deg=("rx_lat_deg", "first")
    )
    layers.paths(axes, look, site, heard["rx_lon_deg"], heard["rx_lat_deg"], look.setups[1], width_px=2.2)
    xy = layers.arcs.project(axes.projection, heard["rx_lon_deg"], heard["rx_lat_deg"])
    size = style.points(layers.diameter_px(heard["reports"], len(heard))) ** 2  # type: ignore[arg-type]
    layers.marks(axes, xy, s=size, color=look.setups[1], edgecolors=look.paper, linewidths=style.points(1.2),
                 zorder=layers.Z_DOTS)  # fmt: skip
    layers.station(axes, look, site)
    return figure


def world_map(figure: Figure, look: style.Theme, site: Site, y: float, height: float) -> Any:
    """The whole world across the picture, land and graticule drawn. y, height : [px]. Returns the map's axes."""
    axes: Any = style.place(
        figure, style.MARGIN_PX, y, style.WIDTH_PX - 2 * style.MARGIN_PX, height, projection=basemap.world(site.lon_deg)
    )
    axes.set_global()
    axes.spines["geo"].set(edgecolor=look.ring, linewidth=style.points(1.4))
    layers.land(axes, look)
    layers.graticule(axes, look)
    return axes


def station_site(findings: Findings) -> Site:
    """Where most reports were sent from."""
    busiest = findings.tally.cells.groupby("tx_locator", observed=True)["reports"].sum().idxmax()
    lon_deg, lat_deg = locator.centre([str(busiest)])
    return Site(float(lon_deg[0]), float(lat_deg[0]))


def round_map(figure: Figure, look: style.Theme, site: Site, radius_km: float, bearing_deg: Any) -> Any:
    """The map round the station with land, rings and rim, ready for what lies on it. Returns its axes.

    bearing_deg : where receivers lie, so that the rings' labels keep out of their way
    """
    axes: Any = frame.disc(figure, basemap.round_the_station(site.lon_deg, site.lat_deg))
    furnish(axes, look, site, radius_km, bearing_deg)
    return axes


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


def _window(axes: Any, rows: pd.DataFrame) -> None:
    """The part of the map that holds the station and the nearest nine reports in ten, in the shape of the axes."""
    limit = captions.distances(rows, (0.9,))[0]
    near = rows[(rows["distance_km"] <= limit).to_numpy()]
    xy = layers.arcs.project(axes.projection, near["rx_lon_deg"], near["rx_lat_deg"])
    low, high = np.vstack([xy, [[0.0, 0.0]]]).min(axis=0), np.vstack([xy, [[0.0, 0.0]]]).max(axis=0)
    extent = axes.get_window_extent()
    middle, size = (low + high) / 2, np.maximum(high - low, 300_000.0) * 1.18
    size[0] = max(size[0], size[1] * extent.width / extent.height)
    size[1] = size[0] * extent.height / extent.width
    axes.set_xlim(middle[0] - size[0] / 2, middle[0] + size[0] / 2)
    axes.set_ylim(middle[1] - size[1] / 2, middle[1] + size[1] / 2)


def _reach_key(figure: Figure, look: style.Theme, top: float) -> None:
    from matplotlib.lines import Line2D

    width, height = style.size_px(figure)
    y = top
    keys: tuple[tuple[str, str, Any], ...] = (
        ("half of the reports stayed within", look.setups[1], (0, (4, 1.5))),
        ("nine in ten stayed within", look.setups[0], "-"),
    )
    for said, color, dash in keys:
        x = np.array([style.MARGIN_PX, style.MARGIN_PX + 60]) / width
        figure.add_artist(
            Line2D(x, [1 - (y + 12) / height] * 2, color=color, linestyle=dash, linewidth=style.points(4))
        )
        style.write(figure, style.MARGIN_PX + 76, y, said, px=style.TICK, color=look.ink)
        y += 40
    for line in (f"A direction of 30° with fewer than {FEW} reports is left open.", "Small dots are receivers."):
        y = style.paragraph(figure, style.MARGIN_PX, y + 8, line, px=style.TICK, color=look.muted, room=frame.COLUMN_PX)

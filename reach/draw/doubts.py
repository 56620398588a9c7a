"""Suspects as pictures: where a locator claims to be, and where the receiver probably is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from reach.base.words import PRINT
from reach.draw import arcs, areas, basemap, frame, layers, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.tell.sentences import pictures
from reach.tell.sentences import suspects as sentences

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MOST = 6
_WORDS_PX = 160  # below each map


def suspects(findings: Findings, look: style.Theme) -> Figure:
    """The suspects that weigh most, a small map each."""
    table = findings.suspects.head(_MOST)
    many = len(findings.suspects)
    title = sentences.in_doubt(findings.suspects, say=PRINT)
    notes = (pictures.UNCHANGED, *([pictures.shown_suspects(_MOST)] if many > _MOST else []))
    figure, top, foot = frame.around(findings, look, title, notes=notes, rest="everything")
    across = min(len(table), 3)
    down = -(-len(table) // across)
    room_x, room_y = (style.WIDTH_PX - 2 * style.MARGIN_PX) / across, (foot - top - 20) / down
    for k, row in enumerate(table.to_dict("records")):
        x, y = style.MARGIN_PX + (k % across) * room_x, top + 16 + (k // across) * room_y
        _one(figure, look, areas.station_site(findings), row, x, y, room_x - 36, room_y - _WORDS_PX - 10)
        _told(figure, look, row, x, y + room_y - _WORDS_PX, room_x - 36)
    return figure


def _one(figure: Figure, look: style.Theme, site: Site, row: dict[Any, Any], x: float, y: float, width: float,
         height: float) -> None:  # fmt: skip
    axes: Any = style.place(
        figure, x, y, width, height, projection=basemap.round_the_station(site.lon_deg, site.lat_deg)
    )
    lon, lat = [row["claimed_lon_deg"]], [row["claimed_lat_deg"]]
    if np.isfinite(row["probable_lon_deg"]):
        lon, lat = [*lon, row["probable_lon_deg"]], [*lat, row["probable_lat_deg"]]
    xy = arcs.project(axes.projection, lon, lat)
    points = np.vstack([xy, [[0.0, 0.0]]])
    middle, size = (points.min(axis=0) + points.max(axis=0)) / 2, np.ptp(points, axis=0) * 1.25 + 800_000
    size = np.maximum(size, size[::-1] * np.array([width / height, height / width]))
    axes.set_xlim(middle[0] - size[0] / 2, middle[0] + size[0] / 2)
    axes.set_ylim(middle[1] - size[1] / 2, middle[1] + size[1] / 2)
    axes.spines["geo"].set(edgecolor=look.hair, linewidth=style.points(1.4))
    layers.land(axes, look)
    layers.paths(axes, look, site, lon[:1], lat[:1], look.ring, alpha=0.9)
    if len(xy) == 2:
        axes.plot(
            xy[:, 0],
            xy[:, 1],
            color=look.plain,
            linewidth=style.points(2.5),
            linestyle=(0, (3, 2)),
            zorder=layers.Z_PATHS,
        )
        axes.scatter(*xy[1], s=style.points(24) ** 2, color=look.plain, edgecolors=look.paper, zorder=layers.Z_MARKS)
    layers.suspects(axes, look, lon[:1], lat[:1])
    layers.station(axes, look, site)


def _told(figure: Figure, look: style.Theme, row: dict[Any, Any], x: float, y: float, room: float) -> None:
    claimed, meant, odds = (say(row, say=PRINT) for say in (sentences.claim, sentences.meant, sentences.odds))
    y = style.paragraph(figure, x, y, claimed, px=style.TICK, color=look.ink, room=room, weight=style.BOLD)
    y = style.paragraph(figure, x, y, meant, px=style.TICK, color=look.ink, room=room)
    style.paragraph(figure, x, y, odds, px=style.NOTE, color=look.muted, room=room)

"""Maps of a comparison: the paired difference at each receiver, and a small map a sector or ring of the verdict.

`draw_...` draws onto the axes that it is given and returns what it drew. All need a comparison with a difference.
"""

from __future__ import annotations

from itertools import compress
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import words
from reach.base.words import PRINT
from reach.compare.comparison import Cell, Comparison
from reach.draw import areas, basemap, captions, frame, layers, maps, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.tell.sentences import comparison as sentences
from reach.tell.sentences import pictures

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.collections import PathCollection
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

HEARD = {"both": "o", "a": "^", "b": "s"}  # who was heard there, by shape
PARTS = ("zone", "sector")  # of the breakdown: those that are areas of a map
_MOST_DB = 10.0
SIGNED_FROM_DB = 0.5  # a smaller difference bears no sign: it is as good as none
_DASHED: Any = (0, (2.0, 1.6))
_WORLD_PX = 224  # the small map of the whole world, right of the shapes
_SHAPE_PX = 40  # left of what a shape means
_LINE_PX = 36  # below the small maps
_IN_A_ROW = 4  # small maps; with more there are two rows


def receivers_map(findings: Findings, look: style.Theme) -> Figure:
    """Receivers coloured by A minus B, their shape saying which of the two they heard: what matters of them, and the whole world
    small beside it."""
    found = findings.comparison
    assert found is not None
    notes = (pictures.heard(found, PRINT), captions.no_far_end(findings))
    figure, top, _ = frame.beside(
        findings, look, pictures.receivers_on_the_map(found, PRINT), notes=notes, rest="compared"
    )
    site, table = areas.station_site(findings), differences(findings)
    small = goes_on(table) and _leaves_room(found)
    axes = frame.disc(figure, basemap.round_the_station(site.lon_deg, site.lat_deg))
    _draw_receivers(axes, look, site, table, maps.opens_on_km(table) if small else maps.radius_km(table["distance_km"]))
    _key(figure, look, found, top, scale(table["difference_db"]), small=small)
    if small:
        whole_world(figure, look, site, table, style.MARGIN_PX + frame.COLUMN_PX - _WORLD_PX, top - 6, _WORLD_PX)
    return figure


def draw_receivers(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns what `dots` does. What lies beyond the map is on the small one of `receivers_map`."""
    table = differences(findings)
    return _draw_receivers(axes, look, areas.station_site(findings), table, maps.opens_on_km(table))


def _draw_receivers(axes: Any, look: style.Theme, site: Site, table: pd.DataFrame, shown_km: float) -> list[Artist]:
    areas.furnish(axes, look, site, shown_km, table["bearing_deg"])
    drawn = dots(axes, look, table, scale(table["difference_db"]))
    layers.station(axes, look, site)
    return [*drawn]


def goes_on(table: pd.DataFrame) -> bool:
    """Whether there is something to see beyond that map. table : as `differences` gives it"""
    return maps.opens_on_km(table) < maps.radius_km(table["distance_km"])


def whole_world(
    figure: Figure, look: style.Theme, site: Site, table: pd.DataFrame, x: float, y: float, side: float
) -> None:
    """All receivers small, coloured as on the large map, whose rim is a circle there.

    table : as `differences` gives it; x, y, side : the place [px]
    """
    axes = maps.whole_world(figure, look, site, maps.opens_on_km(table), x, y, side)
    table = table.sort_values("sure", kind="stable")
    layers.marks(axes, layers.arcs.project(axes.projection, table["rx_lon_deg"], table["rx_lat_deg"]), s=style.points(11) ** 2,
                 facecolors=_faces(look, table, scale(table["difference_db"])), edgecolors=look.ink,
                 linewidths=style.points(1), zorder=layers.Z_DOTS)  # fmt: skip


def differences(findings: Findings) -> pd.DataFrame:
    """One row a receiver of the comparison whose place may be shown: rx_call, square, heard, difference_db (NaN where it
    has none), sure (the difference is beyond chance), reports, rx_lon_deg, rx_lat_deg, distance_km, bearing_deg (NaN at
    distance 0)."""
    found = findings.comparison
    assert found is not None
    named = ["rx_call", "square", "heard", "difference_db", "rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg"]
    placed = [r for r in found.by_receiver if r.placed]
    rows = pd.DataFrame([[getattr(r, name) for name in named] for r in placed], columns=named)
    numbers = dict.fromkeys(named[3:], float)
    sure = [captions.at_least_db(r) != 0 for r in placed]
    return rows.astype(numbers).assign(reports=[r.reports_a + r.reports_b for r in placed], sure=np.array(sure, bool))


def parts_map(findings: Findings, look: style.Theme) -> Figure:
    """One small map a sector and a zone of distance: the verdict there. Needs a comparison that has such parts."""
    found = findings.comparison
    assert found is not None and found.difference_db is not None
    cells = [cell for cell in found.cells if cell.by in PARTS and cell.start is not None and cell.receivers]
    shown = [cell for cell in cells if cell.shown]
    title = pictures.parts(found, shown, PRINT)
    figure, top, foot = frame.around(findings, look, title, notes=(pictures.grey_parts(found),), rest="compared")
    sure = [least_db for cell in shown if (least_db := captions.at_least_db(cell))]
    norm = scale(pd.Series(sure, dtype=float))
    if sure:
        foot -= 96
        label = words.text("{a} minus {b}: at least [dB]", a=found.a, b=found.b)
        scale_bar(figure, look, norm, label, x=style.MARGIN_PX, y=foot + 8, length=420)
    across = -(-len(cells) // 2) if len(cells) > _IN_A_ROW else len(cells)
    down = -(-len(cells) // across)
    room_x, room_y = (style.WIDTH_PX - 2 * style.MARGIN_PX) / across, (foot - top - 20) / down
    told = max(len(_told_lines(pictures.part(cell, found, PRINT), room_x - 24, style.BOLD)) for cell in cells)
    side = min(room_x - 30, room_y - 68 - told * _LINE_PX)
    site = areas.station_site(findings)
    far = min(float(differences(findings)["distance_km"].max()) * 1.03 + 50, basemap.RIM_KM - 1)
    for k, cell in enumerate(cells):
        x = style.MARGIN_PX + (k % across) * room_x + (room_x - side) / 2
        y = top + 24 + (k // across) * room_y
        _small(figure, look, site, found, cell, norm, far, x, y, side, room_x - 24)
    return figure


def blocks(findings: Findings, look: style.Theme) -> Figure:
    """The difference at each stretch on one setup, in time order. Needs a comparison with such differences."""
    found = findings.comparison
    assert found is not None
    title = pictures.stretches(found, PRINT)
    figure, axes = frame.chart(findings, look, title, notes=(pictures.NEIGHBOURS,), rest="compared",
                               hours=frame.by_the_clock(findings))  # fmt: skip
    draw_blocks(axes, findings, look)
    return figure


def draw_blocks(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns of each stretch its interval where it has one, and its mark; then arrows."""
    from matplotlib import dates

    found = findings.comparison
    assert found is not None and found.difference_db is not None
    if found.low_db is not None and found.high_db is not None:
        axes.axhspan(found.low_db, found.high_db, color=look.hair, zorder=0)
    axes.axhline(found.difference_db, color=look.plain, linewidth=style.points(3), linestyle=(0, (5, 2)))
    color_of = {name: captions.setup_color(findings, look, name) for name in (found.a, found.b)}
    ends: list[float] = []
    spans: list[frame.Span] = []
    drawn: list[Artist] = []
    for block in found.by_block:
        if block.difference_db is None:
            continue
        start, end = (float(dates.date2num(np.datetime64(text[:19]))) for text in (block.start_utc, block.end_utc))
        middle, is_a = (start + end) / 2, block.setup == found.a
        color = color_of[found.a if is_a else found.b]
        ends.append(abs(block.difference_db))
        if block.low_db is not None and block.high_db is not None:
            ends += [abs(block.low_db), abs(block.high_db)]
            bar = [block.low_db, block.high_db]
            drawn += axes.plot([middle, middle], bar, color=color, linewidth=style.points(3), alpha=0.6)
            spans.append((middle, block.low_db, block.high_db, color))
        drawn += axes.plot([middle], [block.difference_db], color=color, marker="o" if is_a else "s",
                           markersize=style.points(16), markeredgecolor=look.paper)  # fmt: skip
    axes.axhline(0, color=look.ink, linewidth=style.points(2.4))
    _mark_key(axes, look, found, color_of)
    axes.xaxis_date()
    said = frame.clock(axes, findings.local_time)
    limit = max(float(np.quantile(ends, 0.95)) * 1.1, 1.0)  # a few wild stretches may run out of the picture
    axes.set_ylim(-limit, limit)
    drawn += frame.arrows(axes, spans, upright=True)
    axes.yaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.whole(axes.yaxis)
    style.name_axes(
        axes,
        look,
        x=said,
        y=words.text("{a} minus {b} [dB]; band: 95{gap}% interval of the whole", a=found.a, b=found.b),
    )
    return drawn


def _mark_key(axes: Axes, look: style.Theme, found: Comparison, color_of: dict[str, str]) -> None:
    from matplotlib.lines import Line2D

    marks = [
        Line2D(
            [],
            [],
            linestyle="",
            marker=marker,
            markersize=style.points(16),
            label=words.text("on {setup}", setup=name),
            color=color_of[name],
        )
        for marker, name in (("o", found.a), ("s", found.b))
    ]
    frame.key(axes, look, handles=marks, loc="lower right", bbox_to_anchor=(1, 1), ncols=2, borderaxespad=0)


def _small(figure: Figure, look: style.Theme, site: Site, found: Comparison, cell: Cell, norm: Normalize, far_km: float,
           x: float, y: float, side: float, room: float) -> None:  # fmt: skip
    from matplotlib.colors import to_rgb

    axes: Any = style.place(figure, x, y, side, side, projection=basemap.round_the_station(site.lon_deg, site.lat_deg))
    layers.bare_disc(axes, look, far_km)
    layers.land(axes, look)
    color: Any = "none"  # hollow where nothing is sure
    least_db = captions.at_least_db(cell)
    if cell.shown and least_db:
        color = style.diverging(look.diverging)(norm(least_db))
    elif not cell.shown:
        color = (*to_rgb(look.muted), 0.3)
    axes.fill(*_outline(cell, far_km).T * 1000, facecolor=color, edgecolor=look.ink, linewidth=style.points(1.6),
              zorder=layers.Z_REACH)  # fmt: skip
    middle = x + side / 2
    weight = style.BOLD if cell.differs else style.REGULAR
    style.write(
        figure,
        middle,
        y + side + 8,
        sentences.part(cell, say=PRINT),
        px=style.TICK,
        color=look.ink,
        weight=style.BOLD,
        ha="center",
    )
    told = pictures.part(cell, found, PRINT)
    for line, words_ in enumerate(_told_lines(told, room, weight)):
        style.write(figure, middle, y + side + 42 + line * _LINE_PX, words_, px=style.NOTE, color=look.ink, weight=weight,
                    ha="center")  # fmt: skip


def _told_lines(told: str, room: float, weight: int) -> list[str]:
    """What is said of a part in lines that fit, its interval in one piece if it can be."""
    if style.width_px(told, style.NOTE, weight) <= room:
        return [told]
    before, bracket, interval = told.partition(" (")
    pieces = [before, bracket.strip() + interval] if interval else [told]
    return [line for piece in pieces for line in style.wrapped(piece, style.NOTE, room, weight)]


def _outline(cell: Cell, far_km: float) -> np.ndarray:
    """The part's outline on the map round the station [km], shape (n, 2): a wedge, or a ring."""
    start, end = float(cell.start or 0.0), float(far_km if cell.end is None else cell.end)
    if cell.by == "sector":
        turn = np.radians(np.linspace(start - 360 if start > end else start, end, 31))
        return np.vstack([[[0.0, 0.0]], far_km * np.stack([np.sin(turn), np.cos(turn)], -1)])
    turn = np.radians(np.linspace(0, 360, 181))
    circle = np.stack([np.sin(turn), np.cos(turn)], -1)
    return np.vstack([min(end, far_km) * circle, start * circle[::-1]])


def dots(axes: Any, look: style.Theme, table: pd.DataFrame, norm: Normalize) -> list[PathCollection]:
    """Receivers by what they heard (shape) and by A minus B (colour, and a + or a minus sign that survives grey print).

    table : as `differences` gives it; hollow where the difference is not beyond chance, dashed where there is none
    Returns the marks of each shape, then the signs.
    """
    table = table.sort_values("sure", kind="stable")  # what is sure lies on top
    drawn, signs = [], []
    diameter_px = layers.diameter_px(table["reports"], len(table)) + 5
    xy = layers.arcs.project(axes.projection, table["rx_lon_deg"], table["rx_lat_deg"])
    value = table["difference_db"].to_numpy(float)
    face = _faces(look, table, norm)
    dashes = [_DASHED if unknown else "-" for unknown in np.isnan(value)]
    for heard, marker in HEARD.items():
        of = (table["heard"] == heard).to_numpy()
        size = style.points(diameter_px[of]) ** 2  # type: ignore[arg-type]
        drawn.append(layers.marks(axes, xy[of], s=size, marker=marker, facecolors=face[of], edgecolors=look.ink,
                                  linewidths=style.points(1.6), linestyles=list(compress(dashes, of)),
                                  zorder=layers.Z_DOTS))  # fmt: skip
    for sign, of in (("+", value >= SIGNED_FROM_DB), ("_", value <= -SIGNED_FROM_DB)):
        size = style.points(0.55 * diameter_px[of]) ** 2  # type: ignore[arg-type]
        signs.append(layers.marks(axes, xy[of], s=size, marker=sign, c=_on(face[of]), linewidths=style.points(2.2),
                                  zorder=layers.Z_DOTS + 0.1))  # fmt: skip
    return [*drawn, *signs]


def _faces(look: style.Theme, table: pd.DataFrame, norm: Normalize) -> np.ndarray:
    """What marks are filled with, shape (n, 4): nothing but paper where the difference is not beyond chance."""
    from matplotlib.colors import to_rgba

    face: np.ndarray = style.diverging(look.diverging)(norm(np.nan_to_num(table["difference_db"].to_numpy(float))))
    face[~table["sure"].to_numpy(bool)] = to_rgba(look.paper)
    return face


def _on(face: np.ndarray) -> np.ndarray:
    """Black or white, whichever is seen better on each colour, shape (n, 4)."""
    dark = style.oklab(face[:, :3])[:, 0] < 0.62 if len(face) else np.empty(0, bool)
    return np.where(dark[:, None], [1.0, 1.0, 1.0, 1.0], [0.06, 0.09, 0.12, 1.0])


def scale(values: pd.Series) -> Normalize:
    """A scale centred on 0 dB; a few wild receivers do not stretch it."""
    from matplotlib.colors import Normalize

    known = values.dropna().abs()
    most = float(np.ceil(np.clip(known.quantile(0.9), 2.0, _MOST_DB))) if len(known) else 2.0
    return Normalize(-most, most, clip=True)


def scale_bar(figure: Figure, look: style.Theme, norm: Normalize, label: str, **place: float) -> None:
    """What the colours of differences mean. place : x, y, length [px], as for style.bar"""
    most = float(norm.vmax or 1.0)
    ticks = [-most, 0.0, most]
    names = [words.signed(tick, 0) for tick in ticks]
    style.bar(figure, look, style.diverging(look.diverging), norm, label, ticks=ticks, names=names, **place)


def _leaves_room(found: Comparison) -> bool:
    """Whether the names of the setups in the key leave room for a map at its right."""
    room = frame.COLUMN_PX - _WORLD_PX - 20
    widest = max(style.width_px(said, style.TICK) for said in pictures.shapes(found).values()) + _SHAPE_PX
    return max(widest, style.width_px(_minus(found), style.TICK)) <= room


def _minus(found: Comparison) -> str:
    return words.text("{a} minus {b} [dB]", a=found.a, b=found.b)


def _key(figure: Figure, look: style.Theme, found: Comparison, top: float, norm: Normalize, *, small: bool) -> None:
    """What colours, shapes and signs mean. small : whether the whole world stands small at the right of them"""
    from matplotlib.lines import Line2D

    scale_bar(figure, look, norm, _minus(found), x=style.MARGIN_PX, y=top, length=420)
    y = top + 104
    width, height = style.size_px(figure)
    for heard, said in pictures.shapes(found).items():
        at = [(style.MARGIN_PX + 12) / width], [1 - (y + 13) / height]
        figure.add_artist(Line2D(*at, marker=HEARD[heard], markersize=style.points(22), color=look.ink,
                                 markerfacecolor=look.hair if heard == "both" else "none", linestyle=""))  # fmt: skip
        style.write(figure, style.MARGIN_PX + _SHAPE_PX, y, said, px=style.TICK, color=look.ink)
        y += 42
    # One paragraph: one each has no room in every language above the notes.
    said = " ".join([*pictures.marks(found, PRINT), *([words.text(pictures.SMALL_WORLD)] if small else [])])
    style.paragraph(figure, style.MARGIN_PX, y + 6, said, px=style.TICK, color=look.muted, room=frame.COLUMN_PX)

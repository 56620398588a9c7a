"""Charts of when and where together: hour against distance, hour against direction; reach as a curve; by band.

`draw_...` draws onto the axes that it is given and returns what it drew; the function without that prefix makes the
whole picture, with its words round it.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import words
from reach.base.words import PRINT
from reach.draw import captions, charts, frame, style
from reach.draw.style import points
from reach.findings import Findings
from reach.measure import sectors
from reach.spots import RING_EDGES_KM
from reach.tell.sentences import local_time, pictures
from reach.tell.sentences.reach import sector_name

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]

_LOG_EDGES_KM = (0, 50, 100, 200, 400, 800, 1600, 3200, 6400, 12800, 20100)
_NEAR_EDGES_KM = (0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 1024)  # where all lies within the last of them
_FAR_KM = 3200
_NEAR_RINGS = 8  # rows of a table where the usual rings are too wide to tell anything
_KEY_PX = 92  # below the cells
_TICKS_PX = 98  # left of rows of axes, to the names of the rows


# --- when and where ---------------------------------------------------------------------------------------------------


def hour_by_distance(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour and ring of distance."""
    title = pictures.hour_of_the_far(findings, PRINT)
    figure, axes = frame.chart(findings, look, title, notes=(pictures.empty_hour(findings),), left_px=110, hours=True)
    _key_unless_numbered(figure, axes, look, draw_hour_by_distance(axes, findings, look))
    return figure


def draw_hour_by_distance(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the shaded cells, then their numbers."""
    edges_km = _rings(findings)
    table = _by_ring(findings, edges_km)
    names = [_from_to(low, high) for low, high in itertools.pairwise(edges_km)]
    return _heat(axes, findings, look, table, names[: len(table)], words.text("distance [km]"))


def _rings(findings: Findings) -> Sequence[float]:
    """The edges of the rows of a table by distance [km]: the rings of all tables, finer ones where all lies within two of them."""
    far_km = findings.reach.headline.far_km
    return RING_EDGES_KM if far_km >= RING_EDGES_KM[2] else charts.distance_edges(far_km, _NEAR_RINGS).tolist()


def _by_ring(findings: Findings, edges_km: Sequence[float]) -> Floats:
    """Reports by ring of distance and hour of the day, up to the last ring with any: shape (rings, 24)."""
    rows = captions.counted(findings)
    ring = np.searchsorted(edges_km, rows["distance_km"], side="right") - 1
    table = _table(ring, rows, len(edges_km) - 1)
    return table[: int(np.flatnonzero(table.any(axis=1)).max()) + 1]


def hour_by_bearing(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour and direction. Needs a report with a direction."""
    notes = (captions.no_far_end(findings), pictures.empty_hour(findings))
    figure, axes = frame.chart(
        findings, look, pictures.fullest_hour_and_way(findings, PRINT), notes=notes, left_px=110, hours=True
    )
    _key_unless_numbered(figure, axes, look, draw_hour_by_bearing(axes, findings, look))
    return figure


def draw_hour_by_bearing(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the shaded cells, then their numbers."""
    names = [sector_name(k) for k in range(sectors.SECTORS)]
    return _heat(axes, findings, look, _by_sector(findings), names, words.text("direction"))


def _by_sector(findings: Findings) -> Floats:
    """Reports by direction and hour of the day: shape (12, 24). What came from the station's own cell has no direction."""
    rows = captions.counted(findings)
    sector = sectors.sector_of(rows["bearing_deg"])
    return _table(sector[sector >= 0], rows[sector >= 0], sectors.SECTORS)


def _table(row: npt.ArrayLike, rows: pd.DataFrame, count: int) -> Floats:
    table = np.zeros((count, 24))
    np.add.at(table, (np.asarray(row), rows["hour"].to_numpy()), rows["reports"].to_numpy(float))
    return table


def _key_unless_numbered(figure: Figure, axes: Axes, look: style.Theme, drawn: list[Any]) -> None:
    """What the shades mean, below the cells, where their numbers had no room. drawn : the cells, then their numbers"""
    cells, *numbers = drawn
    if numbers:
        return
    width, height = style.size_px(figure)
    box, foot = axes.get_position(), _KEY_PX / height
    axes.set_position((box.x0, box.y0 + foot, box.width, box.height - foot))
    ticks = [tick for tick in 10.0 ** np.arange(9) if tick <= cells.norm.vmax]
    style.bar(figure, look, cells.cmap, cells.norm, words.text("reports"), x=box.x0 * width,
              y=(1 - box.y0) * height - 26, length=420, ticks=ticks, names=[words.count(tick) for tick in ticks])  # fmt: skip


def _heat(
    axes: Axes, findings: Findings, look: style.Theme, table: Floats, names: Sequence[str], what: str
) -> list[Artist]:
    """A table of counts by UTC hour as shaded cells, each with its number; the first row lies lowest."""
    from matplotlib.colors import LogNorm

    norm = LogNorm(1, max(float(table.max()), 2.0))
    colours = style.ramp(look.counts)
    shown = np.where(table > 0, table, np.nan)
    first, last = frame.hours_shown(np.flatnonzero(table.any(axis=0)).tolist())
    drawn: list[Artist] = [
        axes.pcolormesh(np.arange(25), np.arange(len(names) + 1), shown, cmap=colours, norm=norm, edgecolors=look.paper,
                        linewidth=points(2))
    ]  # fmt: skip
    box = axes.get_window_extent()
    numbered = _fits(table, box.width / (last - first), box.height / len(names))
    for (row, hour), value in np.ndenumerate(table):
        if value and numbered:
            ink = style.ink_on(colours(norm(value)))
            drawn.append(style.text(axes, hour + 0.5, row + 0.5, words.count(value), px=style.NOTE, ha="center", va="center",
                                    color=ink, clip_on=True))  # fmt: skip
    style.tidy(axes, look, grid="")
    frame.hours_of_the_day(axes, first, last, findings.local_time)
    axes.set_xlim(first, last)
    style.name_ticks(axes, np.arange(len(names)) + 0.5, names)
    axes.set_ylim(0, len(names))
    said = pictures.HOUR_AND_REPORTS if numbered else pictures.HOUR_SHADED
    style.name_axes(axes, look, x=local_time.axis(said, findings.local_time))
    style.name_rows(axes, look, what)
    return drawn


def _fits(table: Floats, width_px: float, height_px: float) -> bool:
    """Whether the longest number of a table has room in a cell of that size; else none is written."""
    longest = style.width_px(words.count(float(table.max())), style.NOTE)
    return longest < width_px - 6 and height_px > style.NOTE * 1.15


# --- how far ----------------------------------------------------------------------------------------------------------


def distance_log(findings: Findings, look: style.Theme) -> Figure:
    """Reports by distance in steps that double, the setups mirrored about the middle where there are two."""
    figure, axes = frame.chart(findings, look, distance_log_title(findings), notes=_no_verdict(findings), left_px=130)
    draw_distance_log(axes, findings, look)
    return figure


def distance_log_title(findings: Findings) -> str:
    """Which share came from far away."""
    rows = captions.counted(findings)
    far_km = _FAR_KM
    if findings.reach.headline.far_km < far_km:  # then the edge that the middle of the bars lies beyond
        far_km = max(each for each in _log_edges(findings) if each <= findings.reach.headline.median_km.value)
    if not far_km:
        return pictures.distance(findings, PRINT)
    far = float(rows["reports"][rows["distance_km"] >= far_km].sum())
    return pictures.beyond(findings, far, far_km, PRINT)


def _log_edges(findings: Findings) -> tuple[int, ...]:
    return _NEAR_EDGES_KM if findings.reach.headline.far_km < _NEAR_EDGES_KM[-1] else _LOG_EDGES_KM


def draw_distance_log(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the bars, those of the first setup to the left."""
    rows = captions.counted(findings)
    every = _log_edges(findings)
    ring = np.searchsorted(every, rows["distance_km"], side="right") - 1
    edges = np.array(every[ring.min() : ring.max() + 2], float)
    at = np.arange(len(edges) - 1)
    groups = captions.by_setup(findings)
    mirrored = len(groups) == 2
    drawn: list[Artist] = []
    for k, (name, part) in enumerate(
        [(name, part) for name, (_, part) in groups.items()] if mirrored else [("", rows)]
    ):
        count = np.histogram(part["distance_km"], bins=edges, weights=part["reports"])[0]
        side = -1 if mirrored and k == 0 else 1
        color = captions.setup_color(findings, look, name) if mirrored else look.plain
        drawn += axes.barh(at, side * count, height=0.8, color=color, hatch="//" if k else "", edgecolor=look.paper,
                           linewidth=0)  # fmt: skip
        if mirrored:
            style.text(axes, 0.5 + side * 0.02, 1.02, name, px=style.LABEL, color=look.ink, weight=style.BOLD,
                       transform=axes.transAxes, ha="right" if side < 0 else "left", va="bottom")  # fmt: skip
    if mirrored:
        limit = max(abs(value) for value in axes.get_xlim())
        axes.set_xlim(-limit, limit)
        axes.axvline(0, color=look.paper, linewidth=points(3))
    style.tidy(axes, look, grid="x")
    axes.set_yticks(at, [_from_to(low, high) for low, high in zip(edges[:-1], edges[1:], strict=True)])
    axes.xaxis.set_major_formatter(lambda value, _: words.count(abs(value)))
    style.whole(axes.xaxis)
    style.name_axes(axes, look, x=words.text("reports"))
    style.name_rows(axes, look, words.text("distance [km]"))
    return drawn


def reach_curve(findings: Findings, look: style.Theme) -> Figure:
    """Which share of the reports came from beyond a distance: one curve a setup, half and a tenth marked."""
    figure, axes = frame.chart(findings, look, pictures.curve(findings, PRINT), notes=_no_verdict(findings))
    draw_reach_curve(axes, findings, look)
    return figure


def draw_reach_curve(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the curves, then the marks of half and a tenth, each with its label."""
    found = findings.reach.headline
    groups = captions.by_setup(findings)
    places = captions.setups(findings, captions.counted(findings))
    drawn: list[Artist] = []
    for name, (_, part) in groups.items():
        km, share = _beyond(part)
        color = captions.setup_color(findings, look, name) if name else look.plain
        dash = captions.DASHES[places[name] % 4 if name else 0]
        drawn += axes.step(km, share, where="post", linewidth=points(5), linestyle=dash, label=name, color=color)
    if len(groups) > 1:
        frame.key(axes, look, handlelength=3.2)
    for mark, at_km in ((50.0, found.median_km.value), (10.0, found.p90_km.value)):
        drawn += axes.plot(
            [0.0, at_km, at_km], [mark, mark, 0.0], color=look.muted, linewidth=points(2.2), linestyle=(0, (2, 3))
        )
        # At the foot, left of the mark, there is no curve, since curves only fall.
        drawn.append(style.text(axes, at_km, 1.5, f"{words.PRINT.beyond(at_km)} ", px=style.TICK, color=look.ink, weight=style.BOLD,
                                va="bottom", ha="right"))  # fmt: skip
    axes.set_xlim(0, found.far_km * 1.02 + 1)
    axes.set_ylim(0, 103)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.whole(axes.xaxis)
    style.name_axes(
        axes, look, x=words.text("distance from the station [km]"), y=words.text("% of the reports from beyond")
    )
    return drawn


def bands_distance(findings: Findings, look: style.Theme) -> Figure:
    """How far, a small chart a band, on one scale."""
    rows = captions.counted(findings)
    by_band = findings.reach.corroborated.by_band
    figure, top, foot = frame.around(findings, look, pictures.bands(findings, PRINT))
    edges = charts.distance_edges(findings.reach.headline.far_km)
    step = float(edges[1])
    said = [words.things(found.reports, "report") for found in by_band.values()]
    beside = _TICKS_PX + max(style.width_px(each, style.NOTE) for each in said)
    made = frame.rows_of_axes(figure, look, top, foot, len(by_band), left_px=beside)
    for axes, reports, (band, found) in zip(made, said, by_band.items(), strict=True):
        part = rows[(rows["band"] == band).to_numpy()]
        axes.set_xlim(0, edges[-1])
        counts, *_ = axes.hist(
            part["distance_km"], bins=edges.tolist(), weights=part["reports"], color=look.plain, rwidth=0.9
        )
        axes.axvline(found.median_km.value, color=look.ink, linewidth=points(3.5))
        _median(axes, look, found.median_km.value, f"  {pictures.median_km('', found, PRINT)}", counts, edges)
        left = -_TICKS_PX / axes.get_window_extent().width
        box: dict[str, Any] = {"transform": axes.transAxes, "ha": "right", "va": "center"}
        style.text(axes, left, 0.62, band, px=32, color=look.ink, weight=style.BOLD, **box)
        style.text(axes, left, 0.25, reports, px=style.NOTE, color=look.muted, **box)
        axes.locator_params(axis="y", nbins=3, integer=True)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.whole(axes.xaxis)
    style.name_axes(axes, look, x=words.text("distance from the station [km]; a bar is {step}", step=words.km(step)))
    return figure


def _median(axes: Axes, look: style.Theme, at_km: float, said: str, counts: Any, edges: Floats) -> None:
    """The label of a median, right of its mark, at the top: that rises where bars below would reach it."""
    box = axes.get_window_extent()
    to_km = at_km + style.width_px(said, style.TICK, style.BOLD) / box.width * edges[-1]
    below = np.asarray(counts)[(edges[1:] > at_km) & (edges[:-1] < to_km)]
    free = max(1 - style.TICK * 1.4 / box.height, 0.2)
    axes.set_ylim(top=max(axes.get_ylim()[1], float(below.max(initial=0.0)) / free))
    style.text(axes, at_km, axes.get_ylim()[1], said, px=style.TICK, color=look.ink, weight=style.BOLD, va="top")


def _no_verdict(findings: Findings) -> tuple[str, ...]:
    return (pictures.COUNTS_ARE_NO_VERDICT,) if len(captions.by_setup(findings)) > 1 else ()


def _beyond(rows: pd.DataFrame) -> tuple[Floats, Floats]:
    """Distances in rising order, and the share of the reports from beyond each [%]."""
    km, at = np.unique(rows["distance_km"], return_inverse=True)  # a step a distance, however many reports came from it
    count = np.bincount(at, weights=rows["reports"])
    return np.append(0.0, km), 100 * (1 - np.append(0, np.cumsum(count)) / count.sum())


def _from_to(low_km: float, high_km: float) -> str:
    return f"{words.count(low_km)}{words.EN_DASH}{words.count(high_km)}"

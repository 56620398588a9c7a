"""The pictures onto axes of your own, one each: `reach.walk("may.toml").plot`.

A picture of the gallery is a sheet of 1920 x 1080 px with words round it. Here the same drawing goes onto axes of any
size in any figure: the title sentence becomes the axes' title, type follows your own font size, marks and lines follow
the size of the axes. Nothing is drawn outside the axes, nothing is saved, no setting of matplotlib is changed.
"""

from __future__ import annotations

import difflib
import functools
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from reach.base import words
from reach.base.words import PRINT
from reach.draw import areas, basemap, calendar, captions, charts, maps, patterns, season, style, versus
from reach.errors import DrawError
from reach.findings import Findings
from reach.tell.sentences import calendar as calendar_words
from reach.tell.sentences import comparison, pictures
from reach.tell.sentences import reach as sentences
from reach.tell.sentences import season as season_words

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    from reach.measure.calendar import Calendar

Draw = Callable[[Any, Findings, style.Theme], list["Artist"]]

_ROOMY_IN: Final = 5.5  # axes as wide as this [in] have type of the user's own size, narrower ones smaller
_SMALLEST: Final = 0.7  # of it
_SHEET_IN2: Final = 60.0  # area of the axes of a whole picture [square inches]: there marks have their full size
_FINEST: Final = 0.3  # of that size, on the smallest axes
_LEAST_PT: Final = 4.0  # a number in a cell that would be smaller is left out
_BAR_PX: Final = 26.0  # of type between a map's rim and its scale
_LINE: Final = 1.3  # height of a line of type, brackets and tails included
_FULLY_WIDE: Final = 0.95  # of the axes' width, for their title: a later layout may make them narrower


class Plot:
    """The pictures of one walk, a method each, onto axes.

    findings : of a walk (`Walk.plot` hands them in); look : light or dark, which suits a dark figure
    Each method takes `ax`, axes to draw onto, and returns the axes. Without `ax` it makes a figure with pyplot, as
    notebooks show it. Maps and directions need axes of their own kind: plain axes that are given are replaced in place by
    such ones, which are returned. DrawError, one sentence, where the findings do not hold what a picture shows.

    >>> import reach
    >>> plot = reach.walk("sample_spots/evening.toml").plot
    >>> plot.hours().get_title(loc="left").replace(chr(10), " ")
    'Reports were most frequent between 20:00 and 21:00 UTC'
    >>> from matplotlib.figure import Figure
    >>> left, right = Figure(figsize=(9, 4)).subplots(1, 2)
    >>> plot.curve(left) is left
    True
    >>> type(plot.map(right)).__name__
    'GeoAxes'
    """

    def __init__(self, findings: Findings, look: str = "light") -> None:
        self._findings, self._look = findings, style.theme(look)

    def __repr__(self) -> str:
        names = ", ".join(name for name, each in vars(Plot).items() if callable(each) and not name.startswith("_"))
        return f"<Plot: {names}>"

    # --- maps ---------------------------------------------------------------------------------------------------------

    def map(self, ax: Axes | None = None) -> Axes:
        """Who heard the station, round it, coloured by median SNR. Where no locator is corroborated: where receivers
        claim to be."""
        if not self._findings.reach.headline.reports:
            self._need_reports()
            return self._round(ax, maps.draw_claimed, words.text(captions.NOTHING_CLAIMED))
        axes = self._round(ax, maps.draw_station, sentences.headline(self._findings, PRINT))
        return self._with_snr(axes)

    def close(self, ax: Axes | None = None) -> Axes:
        """The part of that map in which nine reports in ten lie."""
        self._need_reach()
        return self._with_snr(self._round(ax, maps.draw_close, pictures.close(self._findings, PRINT)))

    def world(self, ax: Axes | None = None) -> Axes:
        """The same on a map of the world, with the night side where the reports lie within a day."""
        self._need_reach()
        projection = basemap.world(areas.station_site(self._findings).lon_deg)
        return self._with_snr(self._drawn(ax, maps.draw_world, pictures.world(self._findings, PRINT), projection))

    def ways(self, ax: Axes | None = None) -> Axes:
        """How far each direction reached: half (dashed) and nine in ten of its reports stayed within."""
        self._need_directions()
        return self._round(ax, areas.draw_reach, pictures.farthest_way(self._findings, PRINT))

    def squares(self, ax: Axes | None = None) -> Axes:
        """Locator squares, shaded by their reports."""
        self._need_reach()
        return self._round(ax, areas.draw_squares, pictures.squares(self._findings, PRINT))

    def busiest_hour(self, ax: Axes | None = None) -> Axes:
        """The hour with most reports on the world map, with the night side."""
        self._need_reach()
        projection = basemap.world(areas.station_site(self._findings).lon_deg)
        return self._drawn(ax, areas.draw_busiest_hour, areas.busiest_hour_title(self._findings), projection)

    # --- how far, how strong ------------------------------------------------------------------------------------------

    def distance(self, ax: Axes | None = None) -> Axes:
        """Reports by distance, a line a setup, medians marked."""
        self._need_reach()
        return self._drawn(ax, charts.draw_distance, pictures.distance(self._findings, PRINT))

    def distance_steps(self, ax: Axes | None = None) -> Axes:
        """Reports by distance in steps that double, two setups mirrored."""
        self._need_reach()
        return self._drawn(ax, patterns.draw_distance_log, patterns.distance_log_title(self._findings))

    def curve(self, ax: Axes | None = None) -> Axes:
        """The share of reports from beyond each distance."""
        self._need_reach()
        return self._drawn(ax, patterns.draw_reach_curve, pictures.curve(self._findings, PRINT))

    def strength(self, ax: Axes | None = None) -> Axes:
        """Reports by SNR, a line a setup, medians marked."""
        self._need_reach()
        return self._drawn(ax, charts.draw_snr, pictures.strength(self._findings, PRINT))

    def strength_by_distance(self, ax: Axes | None = None) -> Axes:
        """SNR against distance: a dot a receiver and whole dB, and the median."""
        self._need_reach()
        return self._drawn(ax, charts.draw_snr_by_distance, pictures.strength_by_distance(self._findings, PRINT))

    # --- when, where to -----------------------------------------------------------------------------------------------

    def hours(self, ax: Axes | None = None) -> Axes:
        """Reports by hour of the day, UTC."""
        self._need_reach()
        return self._drawn(ax, charts.draw_hours, pictures.hours(self._findings, PRINT))

    def hours_by_distance(self, ax: Axes | None = None) -> Axes:
        """Reports by hour and distance, as shaded cells."""
        self._need_reach()
        title = pictures.hour_of_the_far(self._findings, PRINT)
        return _numbers_fit(self._drawn(ax, patterns.draw_hour_by_distance, title))

    def hours_by_direction(self, ax: Axes | None = None) -> Axes:
        """Reports by hour and direction, as shaded cells."""
        self._need_directions()
        title = pictures.fullest_hour_and_way(self._findings, PRINT)
        return _numbers_fit(self._drawn(ax, patterns.draw_hour_by_bearing, title))

    def timeline(self, ax: Axes | None = None) -> Axes:
        """All accepted reports in time order, a colour a setup."""
        self._need_reports()
        return self._drawn(ax, charts.draw_timeline, charts.timeline_title(self._findings))

    def directions(self, ax: Axes | None = None) -> Axes:
        """Reports by direction, on polar axes, north up."""
        self._need_directions()
        return self._drawn(ax, charts.draw_directions, pictures.directions(self._findings, PRINT), "polar")

    # --- over weeks ---------------------------------------------------------------------------------------------------

    def season(self, ax: Axes | None = None) -> Axes:
        """The level day by day, with the changes found and the log's entries."""
        if not season.has(self._findings):
            raise DrawError("This walk has no season: give the study a [season].")
        assert self._findings.season is not None
        return self._drawn(ax, season.draw_season, season_words.title(self._findings.season, say=PRINT))

    def calendar(self, ax: Axes | None = None) -> Axes:
        """A long period by the calendar, a cell a day, shaded by its reports."""
        self._need_long()
        return self._drawn(ax, calendar.draw_calendar, calendar_words.days(self._findings, PRINT))

    def calendar_distance(self, ax: Axes | None = None) -> Axes:
        """The same, shaded by the distance that half of the day's reports came from beyond."""
        self._need_long()
        return self._drawn(ax, calendar.draw_calendar_distance, calendar_words.days(self._findings, PRINT))

    def hours_over_time(self, ax: Axes | None = None, *, band: str = "") -> Axes:
        """The hours of the day of each week, month or year of a long period, shaded by the share of days with reports.

        band : such as "20m"; all bands together where left out
        """
        bands = self._need_long().bands
        if band and band not in bands:
            raise DrawError(f"There is no report on {band!r}; there are some on {words.listed(bands)}.")
        draw = functools.partial(calendar.draw_hours, band=band)
        title = calendar_words.hours_of(self._findings, band, PRINT)
        return self._drawn(ax, draw, title)

    def farthest(self, ax: Axes | None = None) -> Axes:
        """The farthest of each week, month or year of a long period, with one report in ten and half of them."""
        self._need_long()
        return self._drawn(ax, calendar.draw_farthest, calendar_words.farthest(self._findings, PRINT))

    # --- two setups ---------------------------------------------------------------------------------------------------

    def comparison(self, ax: Axes | None = None) -> Axes:
        """The difference of the two setups, over all and part by part, with 95 % intervals."""
        title = comparison.short(self._need_comparison(), say=PRINT)
        return self._drawn(ax, charts.draw_comparison, title)

    def receivers(self, ax: Axes | None = None) -> Axes:
        """Each receiver's difference against its distance."""
        title = pictures.receivers_of_each(self._need_comparison(receivers=True), PRINT)
        return self._drawn(ax, charts.draw_comparison_receivers, title)

    def receivers_map(self, ax: Axes | None = None) -> Axes:
        """Each receiver's difference on the map: its colour how large, its shape which setup was heard there."""
        title = pictures.receivers_on_the_map(self._need_comparison(receivers=True), PRINT)
        return self._round(ax, versus.draw_receivers, title)

    def stretches(self, ax: Axes | None = None) -> Axes:
        """The difference at each stretch on the air, in time order."""
        found = self._need_comparison()
        if not any(block.difference_db is not None for block in found.by_block):
            raise DrawError("No stretch on the air has a difference of its own: too few pairs in each.")
        return self._drawn(ax, versus.draw_blocks, pictures.stretches(found, PRINT))

    # --- whole sheets -------------------------------------------------------------------------------------------------

    def sheet(self, name: str) -> Figure:
        """A picture of the gallery as it is written to the folder: a figure of its own, 1920 x 1080 px, with its words.

        name : as its file is called, such as "bands-distance"; the way to pictures that are several maps or charts at once
        Returns a new Figure. DrawError, with the names there are, where there is no such picture of this walk.
        """
        from reach.draw import gallery

        there = {each.name: each for each in gallery.pictures(self._findings, style=self._look.name)}
        if name not in there:
            near = difflib.get_close_matches(name, there, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"there are {', '.join(there)}."
            raise DrawError(f"No picture of this walk is called {name!r}; {hint}")
        with style.own_settings():
            return there[name].build()

    # --- what they need -----------------------------------------------------------------------------------------------

    def _need_reports(self) -> None:
        if not self._findings.tally.reports:
            raise DrawError(f"{sentences.NO_REPORT}, and there is nothing to draw.")

    def _need_reach(self) -> None:
        self._need_reports()
        if not self._findings.reach.headline.reports:
            raise DrawError(f"{captions.NOTHING_CLAIMED}; `map` draws where receivers claim to be, `timeline` when.")

    def _need_directions(self) -> None:
        self._need_reach()
        if not self._findings.reach.headline.has_directions:
            raise DrawError("Every report came from the station's own cell, which has no direction.")

    def _need_long(self) -> Calendar:
        self._need_reach()
        if self._findings.calendar is None:
            raise DrawError("This period is too short for a calendar: it takes more than ten days.")
        return self._findings.calendar

    def _need_comparison(self, *, receivers: bool = False) -> Any:
        found = self._findings.comparison
        if found is None:
            raise DrawError("No two setups were compared; name them under [compare] in the study.")
        if found.difference_db is None:
            raise DrawError(f"{comparison.short(found, say=PRINT)}, so there is no difference to draw.")
        if receivers and not pictures.stronger(found)[1]:
            raise DrawError("No receiver of the comparison has a place that may be shown.")
        return found

    # --- onto axes ----------------------------------------------------------------------------------------------------

    def _round(self, ax: Axes | None, draw: Draw, title: str) -> Axes:
        """On a map round the station."""
        site = areas.station_site(self._findings)
        return self._drawn(ax, draw, title, basemap.round_the_station(site.lon_deg, site.lat_deg))

    def _drawn(self, ax: Axes | None, draw: Draw, title: str, projection: Any = None) -> Axes:
        """The picture on these axes or on new ones of that projection, fitted to their size."""
        axes = self._new(projection) if ax is None else _of_kind(ax, projection)
        before = set(axes.get_children())
        if projection is None:
            style.tidy(axes, self._look)
        draw(axes, self._findings, self._look)
        axes.apply_aspect()  # a map is narrower than its place: what is worked out from its size must know
        _fit(axes, self._look, [each for each in axes.get_children() if each not in before])
        _title(axes, self._look, title)
        return axes

    def _new(self, projection: Any) -> Axes:
        from matplotlib import pyplot

        kind = {} if projection is None else {"projection": projection}
        axes: Axes = pyplot.subplots(subplot_kw=kind, layout="constrained", facecolor=self._look.paper)[1]
        return axes

    def _with_snr(self, axes: Axes) -> Axes:
        """A map with its scale of SNR below it, as part of the axes."""
        norm = maps.snr_norm(self._findings.sure)
        text, _ = _scales(axes)
        height = axes.get_window_extent().height / axes.figure.dpi * 72
        type_pt = text * style.points(_BAR_PX)
        below = 0.08 + 1.6 * type_pt / height
        bar = axes.inset_axes((0.0, -below, 0.45, 0.35 * type_pt / height))
        style.draw_bar(bar, self._look, style.ramp(self._look.ramp), norm, maps.snr_ticks(norm, 15))
        bar.set_title(
            style.drawable(words.text(maps.SNR)), loc="left", pad=2, **style.font(style.TICK * text, self._look.ink)
        )
        _fit_axis(bar.xaxis, text, text)
        return axes


def _of_kind(ax: Axes, projection: Any) -> Axes:
    """The axes themselves where they are of that kind, else new ones of that kind in their place."""
    held = getattr(ax, "projection", ax.name)
    # A name is no projection; asking one whether it equals a name would have PROJ look the name up, for a third of a second.
    if projection is None or (isinstance(held, str) == isinstance(projection, str) and held == projection):
        return ax
    figure, spec = ax.figure, ax.get_subplotspec()
    place: Any = spec if spec is not None else ax.get_position(original=True).bounds
    add = figure.add_subplot if spec is not None else figure.add_axes
    made: Axes = add(place, projection=projection, label=ax.get_label(), zorder=ax.get_zorder())
    ax.remove()
    return made


def _scales(axes: Axes) -> tuple[float, float]:
    """How much smaller than on a whole picture type and marks are on these axes."""
    from matplotlib import rcParams

    width, height = (side / axes.figure.dpi for side in axes.get_window_extent().size)
    own = rcParams["font.size"] / style.points(style.LABEL)
    text = own * float(np.clip(width / _ROOMY_IN, _SMALLEST, 1.0))
    return text, float(np.clip(np.sqrt(width * height / _SHEET_IN2), _FINEST, 1.0))


def _fit(axes: Any, look: style.Theme, drawn: list[Artist]) -> None:
    """Make what was drawn, and the axes round it, as small as the axes are.

    Pictures are drawn in the sizes of a whole sheet, by functions that know no other; what came out is scaled here, once,
    instead of handing a scale through every one of them.
    """
    from matplotlib.legend import Legend

    text, mark = _scales(axes)
    for artist in drawn:
        if not isinstance(artist, Legend):
            _smaller(artist, look, text, mark)
    for spine in axes.spines.values():
        spine.set_linewidth(spine.get_linewidth() * mark)
    for axis in (axes.xaxis, axes.yaxis):
        _fit_axis(axis, text, mark)
        for label in axis.get_ticklabels():
            if label.get_path_effects():
                label.set_path_effects(style.halo(look, 6 * text))
    legend = axes.get_legend()
    if legend is not None:
        handles, names = legend.legend_handles, [each.get_text() for each in legend.get_texts()]
        for handle in handles:
            _smaller(handle, look, text, mark)
        size = style.points(style.LABEL) * text
        smaller = axes.legend(handles, names, loc="best", frameon=False, labelcolor=look.ink,
                              prop={"family": style.FAMILY, "size": size})  # fmt: skip
        smaller.set_zorder(9)
        for said in smaller.get_texts():
            said.set_parse_math(False)


def _fit_axis(axis: Any, text: float, mark: float) -> None:
    """Labels by `text`, ticks and grid by `mark`."""
    scale = {"labelsize": text, "pad": text, "length": mark, "width": mark, "grid_linewidth": mark}
    for which in ("major", "minor"):
        now = axis.get_tick_params(which)
        axis.set_tick_params(which, **{name: now[name] * by for name, by in scale.items() if name in now})
    axis.label.set_fontsize(axis.label.get_fontsize() * text)
    axis.labelpad *= text


def _smaller(artist: Any, look: style.Theme, text: float, mark: float) -> None:
    """One artist scaled, whatever it is."""
    from matplotlib.collections import Collection, PathCollection
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch
    from matplotlib.text import Text

    if isinstance(artist, Text):
        artist.set_fontsize(float(artist.get_fontsize()) * text)
        if artist.get_path_effects():
            artist.set_path_effects(style.halo(look, 6 * text))
    elif isinstance(artist, Line2D):
        artist.set_linewidth(artist.get_linewidth() * mark)
        artist.set_markersize(artist.get_markersize() * mark)
        artist.set_markeredgewidth(artist.get_markeredgewidth() * mark)
    elif isinstance(artist, Patch):
        artist.set_linewidth(artist.get_linewidth() * mark)
    elif isinstance(artist, Collection):
        artist.set_linewidth((np.asarray(artist.get_linewidth()) * mark).tolist())
        if isinstance(artist, PathCollection):
            artist.set_sizes(np.asarray(artist.get_sizes()) * mark**2)


def _title(axes: Axes, look: style.Theme, title: str) -> None:
    """The finding as the axes' title, broken to their width, clear of what stands above them."""
    from matplotlib import rcParams
    from matplotlib.font_manager import FontProperties

    figure: Any = axes.get_figure(root=True)
    if figure.get_layout_engine() is not None:
        figure.draw_without_rendering()  # only then is it known how wide the axes are
    text, _ = _scales(axes)
    full_pt = FontProperties(size=rcParams["axes.titlesize"]).get_size_in_points()
    size_pt = full_pt * text / (rcParams["font.size"] / style.points(style.LABEL))
    extent = axes.get_window_extent()
    room_px = _FULLY_WIDE * extent.width / figure.dpi * style.DPI
    lines = style.wrapped(title, size_pt * style.DPI / 72, room_px, style.BOLD)
    how = style.font(size_pt * style.DPI / 72, look.ink, weight=style.BOLD)
    axes.set_title(style.drawable("\n".join(lines)), loc="left", pad=_taken_pt(axes) + 0.4 * size_pt, **how)


def _taken_pt(axes: Any) -> float:
    """How high the words above the axes reach: what the vertical axis is, names of sides, the N of a map."""
    high = [text for text in axes.texts if text.get_transform() == axes.transAxes and text.get_position()[1] >= 1]
    height_pt = axes.get_window_extent().height / axes.figure.dpi * 72
    above = [(text.get_position()[1] - 1) * height_pt + _LINE * float(text.get_fontsize()) for text in high]
    if "polar" in axes.spines:
        above.append(axes.xaxis.get_tick_params()["pad"] + style.points(style.LABEL))
    # The rim of a round map has its names at 1.055 of the radius.
    rim = [text for text in axes.texts if text.get_text() == "N" and text.get_transform() == axes.transData]
    above += [0.0275 * height_pt + 0.5 * text.get_fontsize() for text in rim]
    return max(above, default=0.0)


def _numbers_fit(axes: Any) -> Axes:
    """The numbers in the cells of a table no wider than the cells, or left out where they could not be read."""
    across = float(np.ptp(axes.get_xlim()))
    cell_pt = axes.get_window_extent().width / axes.figure.dpi * 72 / across
    inside: list[Text] = [each for each in axes.texts if each.get_transform() == axes.transData]
    if not inside:
        return axes
    widest = max(style.width_px(each.get_text(), 100) / 100 for each in inside)  # in units of the type's own size
    size_pt = min(inside[0].get_fontsize(), 0.9 * cell_pt / widest)
    for each in inside:
        each.set_fontsize(size_pt)
        each.set_visible(size_pt >= _LEAST_PT)
    return axes

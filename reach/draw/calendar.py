"""Pictures of long periods: a calendar of days, the hours of each band over the months, the farthest of each month.

Which steps a period has is `measure.grain`'s to say, every number `measure.calendar`'s. A cell says one of four things: how
much; hollow, too little to tell; hatched, nothing; blank, nothing because the station was off, where that is known.

`draw_...` draws onto the axes that it is given and returns what it drew; the function without that prefix makes the
whole picture, with its words round it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import tongue, words
from reach.base.local_time import LocalTime
from reach.base.words import PRINT
from reach.draw import frame, style
from reach.draw.style import points
from reach.findings import Findings
from reach.measure import calendar as measured
from reach.measure import grain
from reach.measure.calendar import Calendar
from reach.measure.grain import Unit
from reach.tell.sentences import calendar as sentences
from reach.tell.sentences import local_time as local_words

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap, Normalize
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

MOST_BANDS: Final = 6  # side by side in one picture
_STRIP_WEEKS: Final = 54  # up to so many weeks stand in one row: a year
_YEAR_ROWS: Final = 8.0  # of a year's block: seven days and the gap to the next
_AIR: Final = 0.08  # of a cell, round it
_HATCH: Final = "////"
_WILD: Final = 0.02  # of the days, at either end of a scale
_LEAST_TIMES: Final = 2.0  # from end to end of a scale: days that hardly differ look it, whatever their number
_LARGEST_PX: Final = 84.0  # a cell of a short period
_WIDEST: Final = 1.6  # times as wide as high
_KEY_PX: Final = 104.0  # below a calendar, for the names of months and the scale
_KEY_WIDE_PX, _KEY_IN_PX = 420.0, 36.0  # so that the name of its first tick stands below its calendar
_BETWEEN_PX: Final = 70.0  # panels
_WEEKDAY: Final = 3  # 1 January 1970 was a Thursday


# --- the calendar -----------------------------------------------------------------------------------------------------


def calendar(findings: Findings, look: style.Theme) -> Figure:
    """Reports of each day, and the median distance of each day, by the calendar. Needs a long period."""
    found = sentences.found_in(findings)
    cells = Cells.of(found)
    figure, top, foot = frame.around(findings, look, sentences.days(findings, PRINT), notes=said(findings, cells))
    panels = _panels(cells, style.MARGIN_PX + cells.names_px, top + 58, foot - 6)
    drawings = (
        (draw_calendar, words.text("reports"), look.counts, reports_shown(cells)),
        (draw_calendar_distance, words.text("median distance [km]"), look.far, distances_shown(cells)),
    )
    for (x, y, width, height), (draw, what, colours, shown) in zip(panels, drawings, strict=True):
        draw(style.place(figure, x, y, width, height), findings, look)
        style.write(figure, x, y - 52, what, px=style.LABEL, color=look.ink, weight=style.BOLD)
        key(figure, look, colours, shown, x=x + _KEY_IN_PX, y=y + height + 44)
    return figure


def said(findings: Findings, cells: Cells) -> tuple[str, ...]:
    """How the cells stand, and what those are that are not shaded, of each kind that there is."""
    order = sentences.layout(sentences.found_in(findings), cells.strip)
    silence = sentences.silence(findings, cells.off[~cells.some])
    few = sentences.few(findings) if (cells.some & ~distances_shown(cells).told).any() else ""
    return tuple(filter(None, (order, silence, few)))


def draw_calendar(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Reports of each day, a cell a day. Returns the shaded cells, the hollow ones, the hatched ones."""
    cells = Cells.of(sentences.found_in(findings))
    return _draw_cells(axes, look, cells, reports_shown(cells), style.ramp(look.counts))


def draw_calendar_distance(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """The distance that half of each day's reports came from beyond. Returns what `draw_calendar` does."""
    cells = Cells.of(sentences.found_in(findings))
    return _draw_cells(axes, look, cells, distances_shown(cells), style.ramp(look.far))


@dataclass(frozen=True)
class Shown:
    """What the cells of a calendar show: a value each, where there is enough to tell it, and its place on a scale of 0..1."""

    value: Floats
    told: Flags
    norm: Normalize

    @property
    def level(self) -> Floats:
        """0..1; 0 where nothing is told."""
        return np.asarray(self.norm(np.where(self.told, self.value, self.norm.vmin or 0.0)), float)

    def ticks(self) -> tuple[list[float], list[str]]:
        """The ends of the scale, which say so where they gather what is beyond, and a round number between."""
        from matplotlib.colors import LogNorm

        low, high = float(self.norm.vmin or 0.0), float(self.norm.vmax or 1.0)
        middle = float(np.sqrt(low * high)) if isinstance(self.norm, LogNorm) else (low + high) / 2
        round_to = 10.0 ** np.floor(np.log10(max((high - low) / 5, 1.0)))
        middle = float(np.round(middle / round_to) * round_to)
        told = self.value[self.told]
        below, above = (told < low).any(), (told > high).any()
        ends = (
            f"\N{LESS-THAN OR EQUAL TO} {words.count(low)}" if below else words.count(low),
            f"\N{GREATER-THAN OR EQUAL TO} {words.count(high)}" if above else words.count(high),
        )
        if not low < middle < high:
            return [low, high], list(ends)
        return [low, middle, high], [ends[0], words.count(middle), ends[1]]


def reports_shown(cells: Cells) -> Shown:
    """Reports, by their logarithm."""
    from matplotlib.colors import LogNorm

    reports = cells.table["reports"].to_numpy(float)
    low, high = _ends(reports[reports > 0])
    return Shown(reports, reports > 0, LogNorm(max(low, 1.0), high, clip=True))


def distances_shown(cells: Cells) -> Shown:
    """Median distances."""
    from matplotlib.colors import Normalize

    km, told = cells.table["median_km"].to_numpy(float), ~measured.is_few(cells.table)
    return Shown(km, told, Normalize(*_ends(km[told]), clip=True))


def _ends(value: Floats) -> tuple[float, float]:
    """Between which ends of a scale nearly all values lie, so that one wild day does not make all others alike; far enough apart
    that days which hardly differ have hardly different colours."""
    low, high = (float(end) for end in np.quantile(value, [_WILD, 1 - _WILD])) if len(value) else (1.0, 2.0)
    if high >= _LEAST_TIMES * low:
        return low, max(high, low + 1.0)
    half = np.sqrt(_LEAST_TIMES * low / high)
    low, high = low / half, high * half
    digit = 10.0 ** max(np.floor(np.log10(high)) - 1, 0.0)  # round ends, for they are no day's
    return float(np.floor(low / digit) * digit), float(np.ceil(high / digit) * digit)


@dataclass(frozen=True)
class Cells:
    """Where each day (or month) stands: x, y of its corner, y downwards; how large all of it is.

    table : DAYS or STEPS; x_names, y_names : (place, name) of months and of years; strip : all in one row of weeks
    """

    table: pd.DataFrame
    x: Floats
    y: Floats
    columns: float
    rows: float
    x_names: tuple[tuple[float, str], ...]
    y_names: tuple[tuple[float, str], ...]
    strip: bool

    @property
    def some(self) -> Flags:
        """Where there are reports, corroborated or not."""
        accepted = self.table["accepted"] if "accepted" in self.table else self.table["reports"]
        return np.asarray(accepted.to_numpy() > 0)

    @property
    def off(self) -> Flags:
        """Where it is known that the station was not in use."""
        known = self.table["in_use"] if "in_use" in self.table else np.full(len(self.table), measured.UNKNOWN)
        return np.asarray(known == measured.NO)

    @property
    def corners(self) -> Floats:
        """The four corners of each cell, with air round it: shape (cells, 4, 2)."""
        low = np.stack([self.x, self.y], -1)[:, None, :] + _AIR / 2
        return low + (1 - _AIR) * np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)

    @property
    def names_px(self) -> float:
        """Room for the names of years at the left."""
        return 84.0 if self.y_names else 0.0

    @classmethod
    def of(cls, found: Calendar) -> Cells:
        if found.months is not None:
            return cls._of_months(found.months)
        table = found.days
        day = np.array([each.toordinal() for each in table["day"]], dtype=np.int64) - date(1970, 1, 1).toordinal()
        week = grain.number(Unit.WEEK, day)
        weekday = (day + _WEEKDAY) % 7
        year = grain.number(Unit.YEAR, day)
        columns = int(week.max() - week.min()) + 1
        if columns <= _STRIP_WEEKS:
            names = _months_over(table["day"], week - week.min())
            return cls(table, (week - week.min()).astype(float), weekday.astype(float), columns, 7, names, (), True)
        x = week - grain.number(Unit.WEEK, grain.first_day(Unit.YEAR, year))
        block = year - year.min()
        first = table["day"].iloc[0].year
        names = _months_over(*_a_year(first + int(block.max())))
        years = tuple((k * _YEAR_ROWS + 3.5, str(first + k)) for k in range(int(block.max()) + 1))
        return cls(
            table, x.astype(float), block * _YEAR_ROWS + weekday, _STRIP_WEEKS, (block.max() + 1) * _YEAR_ROWS - 1,
            names, years, False,
        )  # fmt: skip

    @classmethod
    def _of_months(cls, table: pd.DataFrame) -> Cells:
        year = np.array([each.year for each in table["first_day"]])
        month = np.array([each.month for each in table["first_day"]])
        names = tuple((k + 0.5, _short(date(2001, k + 1, 1))) for k in range(12))
        first, last = int(year.min()), int(year.max())
        every = -(-(last - first + 1) // 20)
        years = tuple((each - first + 0.5, str(each)) for each in range(first, last + 1, every))
        return cls(table, month - 1.0, (year - first).astype(float), 12, last - first + 1, names, years, False)


def _a_year(year: int) -> tuple[Sequence[date], Ints]:
    """The days of a year, and which week of it each lies in."""
    first = date(year, 1, 1).toordinal()
    days = np.arange(first, date(year, 12, 31).toordinal() + 1)
    return [date.fromordinal(int(each)) for each in days], (days - first + (first - 1) % 7) // 7


def _months_over(days: Sequence[date] | pd.Series, week: Ints) -> tuple[tuple[float, str], ...]:
    """The names of months above the weeks that they begin in; the first month by its first day that there is."""
    names: list[tuple[float, str]] = []
    before = None
    for each, at in zip(days, week, strict=True):
        if (each.year, each.month) != before:
            before = (each.year, each.month)
            names.append((float(at), _short(each)))
    if len(names) > 1 and names[1][0] - names[0][0] < 2:  # the last days of a month have no room for its name
        names = names[1:]
    return tuple(names)


def _short(day: date) -> str:
    """The short name of a month."""
    english = f"{day:%b}"
    return tongue.spoken().months([f"{date(2000, month, 1):%b}" for month in range(1, 13)]).get(english, english)


def _panels(cells: Cells, left: float, top: float, foot: float) -> list[tuple[float, float, float, float]]:
    """Places of two calendars [px: x, y, width, height], one below the other or side by side, as leaves larger cells."""
    right = style.WIDTH_PX - style.MARGIN_PX
    under = _place(cells, right - left, (foot - top - _BETWEEN_PX) / 2 - _KEY_PX)
    beside = _place(cells, (right - left - _BETWEEN_PX - cells.names_px) / 2, foot - top - _KEY_PX)
    if min(under) >= min(beside):
        width, height = under[0] * cells.columns, under[1] * cells.rows
        return [(left, top + k * (height + _KEY_PX + _BETWEEN_PX), width, height) for k in range(2)]
    width, height = beside[0] * cells.columns, beside[1] * cells.rows
    step = max(width, _KEY_WIDE_PX) + _BETWEEN_PX + cells.names_px
    return [(left + k * step, top, width, height) for k in range(2)]


def _place(cells: Cells, width: float, height: float) -> tuple[float, float]:
    """How large a cell is in that room: width, height."""
    high = min(height / cells.rows, _LARGEST_PX)
    return min(width / cells.columns, _WIDEST * high), high


def _draw_cells(axes: Axes, look: style.Theme, cells: Cells, shown: Shown, colours: Colormap) -> list[Artist]:
    """The cells with a value, those with too little to tell, those without anything."""
    from matplotlib.collections import PolyCollection

    corners = cells.corners
    hollow, empty = cells.some & ~shown.told, ~cells.some & ~cells.off
    face = colours(shown.level)
    drawn: list[Any] = [
        PolyCollection(
            list(corners[shown.told]), facecolors=face[shown.told], linewidths=0, cmap=colours, norm=shown.norm
        ),
        PolyCollection(list(corners[hollow]), facecolors="none", edgecolors=look.plain, linewidths=points(2)),
        PolyCollection(list(corners[empty]), facecolors="none", edgecolors=look.ring, hatch=_HATCH, linewidths=0),
    ]
    for each in drawn:
        axes.add_collection(each, autolim=False)
        style.as_one_image_if_many(each, len(corners))
    style.tidy(axes, look, grid="")
    axes.spines["bottom"].set_visible(False)
    axes.set_xlim(0, cells.columns)
    axes.set_ylim(cells.rows, 0)
    _name_columns(axes, cells)
    style.name_ticks(axes, [at for at, _ in cells.y_names], [name for _, name in cells.y_names])
    return drawn


def _name_columns(axes: Axes, cells: Cells) -> None:
    """The names of months below, as many as have room."""
    width = axes.get_window_extent().width
    room = width / cells.columns
    in_the_middle = len(cells.x_names) == 12 == cells.columns  # of its cell, which is a month
    shown: list[tuple[float, str]] = []
    free = 0.0
    for at, name in cells.x_names:
        long = style.width_px(name, style.TICK)
        if not shown or (at * room > free and (in_the_middle or at * room + long <= width)):
            shown.append((at, name))
            free = at * room + long + 10
    axes.set_xticks([at for at, _ in shown], [name for _, name in shown], ha="center" if in_the_middle else "left")
    style.letters(axes.get_xticklabels())
    axes.tick_params(axis="x", which="major", length=0)


def key(
    figure: Figure, look: style.Theme, colours: tuple[str, ...], shown: Shown, *, x: float, y: float,
    length: float = _KEY_WIDE_PX,
) -> None:  # fmt: skip
    """The scale of a calendar, at a place [px]; none where no cell is shaded."""
    if not shown.told.any():
        return
    ticks, names = shown.ticks()
    style.draw_bar(style.place(figure, x, y, length, 18), look, style.ramp(colours), shown.norm, ticks, names)


# --- the hours of each band -------------------------------------------------------------------------------------------


def hours(findings: Findings, look: style.Theme) -> Figure:
    """In which hours each band was heard, over the period. Needs a long period."""
    found = sentences.found_in(findings)
    shown = busiest(found)
    more = sentences.most_bands(len(shown), len(found.bands))
    lines = local_words.lines(local_over(findings))
    silence = sentences.silence(findings, unheard(found, shown))
    notes = tuple(each for each in (sentences.shares(), silence, more, lines) if each)
    figure, top, foot = frame.around(findings, look, sentences.hours(findings, PRINT), notes=notes)
    across = {1: 1, 2: 2, 4: 2}.get(len(shown), 3)
    down = -(-len(shown) // across)
    left, key_px = style.MARGIN_PX + 64, 84.0
    width = (style.WIDTH_PX - style.MARGIN_PX - left - _BETWEEN_PX * (across - 1)) / across
    height = (foot - key_px - top - (52 + 56) * down) / down
    for k, band in enumerate(shown):
        row, column = divmod(k, across)
        x, y = left + column * (width + _BETWEEN_PX), top + 52 + row * (height + 52 + 56)
        axes = style.place(figure, x, y, width, height)
        style.write(figure, x, y - 46, band, px=32, color=look.ink, weight=style.BOLD)
        draw_hours(axes, findings, look, band=band, named=k == len(shown) - 1 or column == across - 1)
        if column:
            axes.tick_params(axis="y", labelleft=False)
    style.write(figure, left - 64, top + 6, "UTC", px=style.LABEL, color=look.muted)
    key_of_shares(figure, look, x=left, y=foot - key_px + 22)
    return figure


def busiest(found: Calendar, most: int = MOST_BANDS) -> tuple[str, ...]:
    """The bands that are shown, longest wave first."""
    reports = found.hours.groupby("band")["reports"].sum()
    shown = sorted(found.bands, key=lambda band: -int(reports[band]))[:most]
    return tuple(band for band in found.bands if band in shown)


def unheard(found: Calendar, bands: Collection[str]) -> Flags:
    """Of each hour of these bands without reports, whether it is known that the station was not in use."""
    rows = found.hours[found.hours["band"].isin(bands) & ~(found.hours["share"] > 0)]
    return np.asarray(rows["in_use"] == measured.NO)


def key_of_shares(figure: Figure, look: style.Theme, *, x: float, y: float, length: float = _KEY_WIDE_PX) -> None:
    """The scale of the hours, with what it is a share of, at a place [px]."""
    ticks = [0.25, 0.5, 0.75, 1.0] if length >= _KEY_WIDE_PX else [0.5, 1.0]
    names = [words.share(tick) for tick in ticks]
    style.draw_bar(style.place(figure, x, y, length, 18), look, style.ramp(look.counts), _share_norm(), ticks, names)
    what = words.text("of the days on which the band was heard")
    beside = x + length + 50
    style.paragraph(figure, beside, y - 10, what, px=style.TICK, color=look.ink, room=style.size_px(figure)[0] - beside)


def _share_norm() -> Normalize:
    from matplotlib.colors import Normalize

    return Normalize(0.0, 1.0)


def draw_hours(
    axes: Axes, findings: Findings, look: style.Theme, *, band: str = "", named: bool = True
) -> list[Artist]:
    """The hours of the day, upwards, of each week, month or year that a band was heard in.

    band : "" for all together; named : whether lines of local hours, where these are asked for, are named at the right
    Returns the hatched ground, the shaded cells, the blank and hollow ones; then lines of local hours and their names.
    """
    from matplotlib import dates
    from matplotlib.collections import PolyCollection
    from matplotlib.patches import Rectangle

    found = sentences.found_in(findings)
    edges = dates.date2num(edges_of(found))
    rows = found.hours[(found.hours["band"] == band).to_numpy()]
    at = np.searchsorted(edges, dates.date2num(list(rows["first_day"])))
    share = rows["share"].to_numpy()
    few = measured.are_few_days(rows)
    table = np.full((24, len(edges) - 1), np.nan)
    use = (share > 0) & ~few
    table[rows["hour_utc"].to_numpy()[use], at[use]] = share[use]
    ground = Rectangle(
        (edges[0], 0), edges[-1] - edges[0], 24, facecolor="none", edgecolor=look.ring, hatch=_HATCH, linewidth=0
    )
    axes.add_patch(ground)
    ramp = style.ramp(look.counts)
    mesh = axes.pcolormesh(edges, np.arange(25), table, cmap=ramp, norm=_share_norm())
    off = (rows["in_use"] == measured.NO).to_numpy() & ~(share > 0)
    hollow = few & (share > 0)
    boxes = _boxes(edges, at, rows["hour_utc"].to_numpy())
    blank = PolyCollection(list(boxes[off]), facecolors=look.paper, edgecolors="none")
    outlined = PolyCollection(list(boxes[hollow]), facecolors=look.paper, edgecolors=look.plain, linewidths=points(1.6))
    for each in (blank, outlined):
        axes.add_collection(each, autolim=False)
    style.tidy(axes, look, grid="")
    axes.set_xlim(edges[0], edges[-1])
    axes.set_ylim(0, 24)
    axes.set_yticks(range(0, 25, 6), [f"{hour:02d}" for hour in range(0, 25, 6)])
    _name_steps(axes, found, edges)
    return [ground, mesh, blank, outlined, *_draw_local(axes, findings, look, named)]


def local_over(findings: Findings) -> LocalTime | None:
    """What clocks showed from where the first step begins to where the last one ends; None where nobody asks."""
    if findings.local_time is None:
        return None
    first, *_, last = edges_of(sentences.found_in(findings))
    return LocalTime.over(findings.local_time.zone, *(datetime.combine(each, time(), UTC) for each in (first, last)))


Run = list[tuple[datetime, float]]


def local_lines(findings: Findings) -> list[tuple[str, list[Run]]]:
    """Where every sixth hour of local clocks lies by UTC over a long period: its name, and runs of (moment, hour in UTC).

    A run has a step where clocks changed, and ends where that takes it over midnight. Empty where nobody asks.
    """
    local = local_over(findings)
    if local is None:
        return []
    first, *_, last = edges_of(sentences.found_in(findings))
    begins = [datetime.combine(first, time(), UTC), *(each.when_utc for each in local.changes)]
    ends = [*begins[1:], datetime.combine(last, time(), UTC)]
    ahead_min = [local.first_min, *(each.offset_min for each in local.changes)]
    lines = []
    for hour in range(0, 24, 6):
        runs: list[Run] = []
        for begin, end, ahead in zip(begins, ends, ahead_min, strict=True):
            at = (60 * hour - ahead) % 1440 / 60
            if not runs or abs(runs[-1][-1][1] - at) > 12:
                runs.append([])
            runs[-1] += [(begin, at), (end, at)]
        lines.append((f"{hour:02d}", runs))
    return lines


def _draw_local(axes: Axes, findings: Findings, look: style.Theme, named: bool) -> list[Artist]:
    """The lines of local hours, then their names at the right."""
    drawn: list[Artist] = []
    names: list[Artist] = []
    for name, runs in local_lines(findings):
        for run in runs:
            at, hour = zip(*run, strict=True)
            drawn += axes.plot(at, hour, color=look.ink, linewidth=points(2.4), path_effects=style.halo(look))
        if named:
            names.append(
                axes.annotate(name, (1, runs[-1][-1][1]), xycoords=axes.get_yaxis_transform(), xytext=(points(8), 0),
                              textcoords="offset points", va="center", annotation_clip=False, **style.font(style.TICK, look.ink))
            )  # fmt: skip
    return [*drawn, *names]


def edges_of(found: Calendar) -> list[date]:
    """Where the steps begin, and where the last one ends."""
    first = list(found.steps["first_day"])
    days = np.array([each.toordinal() for each in first[-1:]]) - date(1970, 1, 1).toordinal()
    unit = found.grain.table
    end = grain.first_day(unit, grain.number(unit, days) + 1)
    return [*first, grain.as_date(end[0])]


def _boxes(edges: Floats, at: Ints, hour: Ints) -> Floats:
    """The corners of cells: shape (cells, 4, 2)."""
    left, right, low = edges[at], edges[at + 1], hour.astype(float)
    return np.stack(
        [np.stack(pair, -1) for pair in ((left, low), (right, low), (right, low + 1), (left, low + 1))], axis=1
    )


def _name_steps(axes: Axes, found: Calendar, edges: Floats) -> None:
    """The names of steps below, from where they begin on, as many as have room."""
    day_px = axes.get_window_extent().width / (edges[-1] - edges[0])
    named = step_names(found, lambda name: style.width_px(name, style.TICK) + 16, float(np.diff(edges).min()) * day_px)
    shown = [
        (edges[k], name)
        for k, name in named
        if k == 0 or edges[k] + style.width_px(name, style.TICK) / day_px <= edges[-1]
    ]
    axes.set_xticks([at for at, _ in shown], [name for _, name in shown], ha="left")
    style.letters(axes.get_xticklabels())


def step_names(found: Calendar, width: Callable[[str], float], room: float) -> list[tuple[int, str]]:
    """Which steps are named at the foot of a chart, and how: a day, a month (its year in place of January), a year.

    width : of a name with the air beside it; room : of a step, in the same unit
    """
    first, unit = list(found.steps["first_day"]), found.grain.table
    names = [sentences.short_step(unit, each) if unit is not Unit.MONTH else _month_or_year(each) for each in first]
    every = max(1, -(-int(max(map(width, names))) // max(int(room), 1)))
    if unit is not Unit.MONTH:
        return [(k, names[k]) for k in range(0, len(first), every)]
    every = next((k for k in (1, 2, 3, 4, 6, 12) if k >= every), 12 * -(-every // 12))
    since = [each.year * 12 + each.month - 1 for each in first]  # the same months each year, January among them
    chosen = [k for k, each in enumerate(since) if each % every == 0] or [0]
    return [(k, names[k]) for k in chosen]


def _month_or_year(day: date) -> str:
    return str(day.year) if day.month == 1 else _short(day)


# --- the farthest -----------------------------------------------------------------------------------------------------


def farthest(findings: Findings, look: style.Theme) -> Figure:
    """The farthest of each week, month or year, and how far its reports came. Needs a long period."""
    title, notes = sentences.farthest(findings, PRINT), sentences.far_marks(findings)
    figure, axes = frame.chart(findings, look, title, notes=notes, left_px=40)
    draw_farthest(axes, findings, look)
    return figure


def draw_farthest(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the dots of the farthest, the dashes of the tenth, the line of the medians, then the callsigns that have room."""
    from matplotlib import dates

    found = sentences.found_in(findings)
    table = found.steps
    edges = dates.date2num(edges_of(found))
    middle, width = (edges[:-1] + edges[1:]) / 2, np.diff(edges)
    told = ~measured.is_few(table)
    far, tenth, half = (table[name].to_numpy(float) for name in ("farthest_km", "p90_km", "median_km"))
    half, tenth = np.where(told, half, np.nan), np.where(told, tenth, np.nan)
    axes.vlines(middle, 0, far, color=look.hair, linewidth=points(3), zorder=1)
    drawn: list[Artist] = [
        axes.scatter(middle, far, s=points(17) ** 2, color=look.ink, linewidths=0, zorder=4),
        axes.hlines(tenth, middle - 0.3 * width, middle + 0.3 * width, color=look.plain, linewidth=points(5), zorder=3),
        *axes.plot(middle, half, color=look.plain, linewidth=points(4), marker="o", markersize=points(9), zorder=3),
    ]
    low, high = (table[f"median_{end}_km"].to_numpy(float) for end in ("low", "high"))
    axes.vlines(middle[told], low[told], high[told], color=look.plain, linewidth=points(4), alpha=0.6, zorder=2)
    top = float(np.nanmax(far)) if np.isfinite(far).any() else 1.0
    axes.set_ylim(0, max(top * 1.16, 1.0))
    axes.set_xlim(edges[0], edges[-1])
    drawn += _calls(axes, look, middle, far, list(table["farthest_call"]))
    _name_steps(axes, found, edges)
    axes.yaxis.set_major_formatter(lambda value, _: words.count(value))
    style.whole(axes.yaxis)
    style.name_axes(axes, look, y=words.text("distance from the station [km]"))
    return drawn


def _calls(axes: Axes, look: style.Theme, x: Floats, y: Floats, calls: list[str]) -> list[Artist]:
    """Who was the farthest, above the dots: where it is another than before, and where all of these have room."""
    named = [k for k, call in enumerate(calls) if call and (k == 0 or call != calls[k - 1])]
    if not named:
        return []
    px = axes.get_window_extent().width / float(np.ptp(axes.get_xlim()))
    for one, other in zip(named[:-1], named[1:], strict=True):
        gap = (x[other] - x[one]) * px
        if gap < (style.width_px(calls[one], style.NOTE) + style.width_px(calls[other], style.NOTE)) / 2 + 12:
            return []
    shown: list[Artist] = []
    for k in named:
        half = style.width_px(calls[k], style.NOTE) / 2 / px
        at = float(np.clip(x[k], axes.get_xlim()[0] + half, axes.get_xlim()[1] - half))
        shown.append(
            axes.annotate(style.drawable(calls[k]), (at, y[k]), xytext=(0, points(16)), textcoords="offset points", ha="center",
                          va="bottom", **style.font(style.NOTE, look.ink, words=calls[k]))
        )  # fmt: skip
    return shown

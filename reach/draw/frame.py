"""The frame round a chart: title, circumstances, notes, and one or several sets of plain axes between them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np

from reach.base import tongue
from reach.draw import captions, scripts, style
from reach.findings import Findings
from reach.tell.sentences import local_time as local_words

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from reach.base.local_time import LocalTime

_TICKS_PX = 70  # room for the labels of the vertical axis
_BELOW_PX = 110  # and for those of the horizontal one
_LINE_PX = 34  # and for each line of local time below these
_BY_THE_CLOCK = timedelta(days=2)
_NOTHING_ABOVE_PX = 16
_ABOVE_PX = 70  # and for what the vertical axis is


def around(
    findings: Findings, look: style.Theme, title: str, *, notes: tuple[str, ...] = (), rest: captions.Rest = "counted"
) -> tuple[Figure, float, float]:
    """An empty picture with its words. Returns the figure and between which heights there is room [px from the top].

    rest : which rows it shows
    """
    told = captions.about(findings, title, notes=notes, rest=rest)
    figure = style.sheet(look)
    top = style.headline(figure, look, told)
    return figure, top, style.footer(figure, look, told)


COLUMN_PX = 760  # of words beside a round map
_DISC_PX = 920
HALF_A_DAY = 12


def beside(
    findings: Findings, look: style.Theme, title: str, *, notes: tuple[str, ...] = (), rest: captions.Rest = "counted"
) -> tuple[Figure, float, float]:
    """An empty picture with its words in a column on the left. Returns the figure, where the column goes on, and where the
    notes at its foot begin [px from the top].

    rest : as for `around`
    """
    told = captions.about(findings, title, notes=notes, rest=rest)
    figure = style.sheet(look)
    top = style.headline(figure, look, told, y=70, room=COLUMN_PX)
    return figure, top + 36, style.footer(figure, look, told, room=COLUMN_PX)


def disc(figure: Figure, projection: Any) -> Any:
    """Square axes for a round map, as high as the picture allows, right of the column."""
    x = style.WIDTH_PX - style.MARGIN_PX - 34 - _DISC_PX
    return style.place(figure, x, (style.HEIGHT_PX - _DISC_PX) / 2, _DISC_PX, _DISC_PX, projection=projection)


def chart(
    findings: Findings, look: style.Theme, title: str, *, notes: tuple[str, ...] = (), left_px: float = 0,
    right_px: float = 0, rest: captions.Rest = "counted", hours: bool = False, above: bool = True,
) -> tuple[Figure, Axes]:  # fmt: skip
    """A picture with one set of axes.

    left_px, right_px : more room beside the axes; rest : as for `around`
    above : whether the vertical axis is named above it
    hours : whether the axis below shows hours, so that local time stands below them where it is asked for
    """
    local = findings.local_time if hours else None
    told = (*notes, local_words.note(local)) if local is not None else notes
    figure, top, foot = around(findings, look, title, notes=told, rest=rest)
    below = _BELOW_PX + (0 if local is None else _LINE_PX * len(local.offsets_min))
    left = style.MARGIN_PX + _TICKS_PX + left_px
    width = style.WIDTH_PX - left - style.MARGIN_PX - right_px
    over = _ABOVE_PX if above else _NOTHING_ABOVE_PX
    axes = style.place(figure, left, top + over, width, foot - top - over - below)
    style.tidy(axes, look)
    return figure, axes


def key(axes: Any, look: style.Theme, **where: Any) -> None:
    """What the colours of setups stand for, from the artists' labels. where : as for the axes' own `legend`"""
    told: dict[str, Any] = {"loc": "upper right", "frameon": False, "labelcolor": look.ink, **where}
    legend = axes.legend(prop={"family": style.FAMILY, "size": style.points(style.LABEL)}, **told)
    legend.set_zorder(9)
    for text in legend.get_texts():
        words = style.drawable(text.get_text())
        text.set(text=words, fontfamily=scripts.families(words), parse_math=False)  # a setup may be called `$a{$`


Span = tuple[float, float, float, str]  # of an interval: where it stands on the other axis, its ends, its colour


def arrows(axes: Axes, spans: Iterable[Span], *, upright: bool) -> list[Artist]:
    """An arrow at the edge wherever an interval goes on beyond the axes, whose limits have been set.

    upright : whether they run up and down
    """
    first, last = axes.get_ylim() if upright else axes.get_xlim()
    across = axes.get_xaxis_transform() if upright else axes.get_yaxis_transform()
    drawn: list[Artist] = []
    for at, low, high, color in spans:
        for goes_on, edge, marker in (
            (low < first, 0.0, "v" if upright else "<"),
            (high > last, 1.0, "^" if upright else ">"),
        ):
            if goes_on:
                x, y = (at, edge) if upright else (edge, at)
                drawn += axes.plot([x], [y], marker=marker, markersize=style.points(15), color=color, markeredgewidth=0,
                                   transform=across, clip_on=False, zorder=4)  # fmt: skip
    return drawn


def rows_of_axes(
    figure: Figure, look: style.Theme, top: float, foot: float, count: int, *, left_px: float
) -> list[Axes]:
    """That many wide axes one below the other, sharing their horizontal axis. left_px : room for their names"""
    left = style.MARGIN_PX + left_px
    gap = 26.0
    height = (foot - top - _ABOVE_PX - _BELOW_PX - gap * (count - 1)) / count
    made: list[Axes] = []
    for k in range(count):
        axes = style.place(figure, left, top + _ABOVE_PX + k * (height + gap), style.WIDTH_PX - left - style.MARGIN_PX,
                           height, sharex=made[0] if made else None)  # fmt: skip
        style.tidy(axes, look)
        if k < count - 1:
            axes.tick_params(axis="x", labelbottom=False, length=0)
        made.append(axes)
    return made


def side_by_side(
    figure: Figure, look: style.Theme, top: float, foot: float, count: int, *, left_px: float
) -> list[Axes]:
    """That many axes in a row for lying bars. left_px : room for the names of each"""
    wide = (style.WIDTH_PX - 2 * style.MARGIN_PX) / count
    made = [
        style.place(
            figure, style.MARGIN_PX + k * wide + left_px, top + _NOTHING_ABOVE_PX, wide - left_px,
            foot - top - _NOTHING_ABOVE_PX - _BELOW_PX,
        )
        for k in range(count)
    ]  # fmt: skip
    for axes in made:
        style.tidy(axes, look)
    return made


def hours_shown(used: Sequence[int]) -> tuple[int, int]:
    """From which to which hour of the day a picture goes: those with reports, where all lie within half a day."""
    if len(used) and max(used) - min(used) < HALF_A_DAY:
        return int(min(used)), int(max(used)) + 1
    return 0, 24


def hours_of_the_day(axes: Axes, first: int, last: int, local: LocalTime | None) -> None:
    """Name an axis of hours, every one up to half a day, with local time below where it is asked for."""
    every = 1 if last - first <= HALF_A_DAY else 2
    shown = range(first, last + 1, every)
    below = [""] * len(shown) if local is None else [f"\n{local.below(hour)}" for hour in shown]
    axes.set_xticks(shown, [f"{hour:02d}{more}" for hour, more in zip(shown, below, strict=True)])


def by_the_clock(findings: Findings) -> bool:
    """Whether reports lie close enough in time for an axis of it to be named by the clock."""
    return bool(findings.tally.reports) and findings.reach.last_utc - findings.reach.first_utc < _BY_THE_CLOCK


def clock(axes: Any, local: LocalTime | None = None) -> str:
    """Name a time axis: by the clock within two days (the date stands in the subtitle), by the date beyond. Returns what it
    is: by the clock it has local time below, where that is asked for."""
    from matplotlib import dates

    def by_the_clock(value: float, _: object = None) -> str:
        moment = dates.num2date(value)
        return f"{moment:%H:%M}" if local is None else f"{moment:%H:%M}\n{local.at(moment):%H:%M}"

    locator = dates.AutoDateLocator(minticks=4, maxticks=10)
    axes.xaxis.set_major_locator(locator)
    short = np.ptp(axes.get_xlim()) < _BY_THE_CLOCK.days
    axes.xaxis.set_major_formatter(by_the_clock if short else _dates(locator))
    axes.xaxis.get_offset_text().set_visible(False)
    return local_words.axis(local_words.TIME, local if short else None)


def _dates(locator: Any) -> Any:
    """Days and months as short as they can be told apart, months in the reader's language."""
    from matplotlib import dates

    own = tongue.spoken().months([f"{date(2000, month, 1):%b}" for month in range(1, 13)])

    class Dates(dates.ConciseDateFormatter):
        def format_ticks(self, values: Any) -> list[str]:
            return [own.get(text, text) for text in super().format_ticks(values)]

        def get_offset(self) -> str:
            return "-".join(own.get(part, part) for part in super().get_offset().split("-"))

    return Dates(locator)

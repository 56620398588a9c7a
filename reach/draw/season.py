"""The level of the station day by day: dots, what was found of them, and what the log says was done."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np

from reach.base import words
from reach.base.words import PRINT
from reach.compare.season.found import Season
from reach.draw import frame, style
from reach.findings import Findings
from reach.tell.sentences import season as sentences

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MIDDAY = 0.5  # where in its day a dot stands


def season(findings: Findings, look: style.Theme) -> Figure:
    """The whole picture. Needs a season with days."""
    found = findings.season
    assert found is not None
    title = sentences.title(found, say=PRINT)
    figure, axes = frame.chart(findings, look, title, notes=sentences.legend(found, say=PRINT), rest="everything")
    draw_season(axes, findings, look)
    return figure


def draw_season(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the dots; of each change when it began; of each stretch between changes its level; of each entry of the log
    its line, then its number."""
    found = findings.season
    assert found is not None
    x = np.array([_number(each.day) + _MIDDAY for each in found.days])
    level_db = np.array([each.level_db for each in found.days])
    low_db, high_db = (np.array([getattr(each, name) for each in found.days]) for name in ("low_db", "high_db"))
    axes.vlines(x, low_db, high_db, color=look.muted, alpha=0.4, linewidth=style.points(2.4), zorder=1)
    judged = found.refused is None
    drawn: list[Artist] = [
        axes.scatter(x, level_db, s=style.points(13) ** 2, facecolors=look.plain if judged else "none", edgecolors=look.plain,
                     linewidths=style.points(2), zorder=4),
        *_began(axes, found, look),
        *(_stretches(axes, found, look) if judged else []),
        *_log(axes, found, look),
    ]  # fmt: skip
    axes.axhline(0, color=look.muted, linewidth=style.points(1.6), linestyle=(0, (5, 4)), zorder=2)
    _limits(axes, x, level_db, low_db, high_db)
    axes.xaxis_date()
    frame.clock(axes)
    axes.yaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.whole(axes.yaxis)
    style.name_axes(axes, look, x=words.text("day, UTC"), y=sentences.scale(found))
    return drawn


def _number(day: date) -> float:
    """The beginning of a day as the axis counts."""
    from matplotlib import dates

    return float(dates.date2num(day))


def _began(axes: Axes, found: Season, look: style.Theme) -> list[Artist]:
    """When each change began, with 95 % probability."""
    drawn: list[Artist] = []
    for each in found.changes:
        drawn.append(
            axes.axvspan(_number(each.first), _number(each.last) + 1, color=look.hair, alpha=0.6, linewidth=0, zorder=0)
        )
    return drawn


def _stretches(axes: Axes, found: Season, look: style.Theme) -> list[Artist]:
    """The level between changes, a line each; a spell interrupts it."""
    drawn: list[Artist] = []
    for level_db, days in groupby(found.days, key=lambda each: each.fitted_db):
        x = [_number(each.day) + _MIDDAY for each in days]
        drawn += axes.plot([x[0] - _MIDDAY, x[-1] + _MIDDAY], [level_db, level_db], color=look.ink,
                           linewidth=style.points(5), solid_capstyle="butt", zorder=3)  # fmt: skip
    return drawn


def _log(axes: Axes, found: Season, look: style.Theme) -> list[Artist]:
    """A line and a number for each entry of the log; what was done stands in the notes."""
    drawn: list[Artist] = []
    for number, each in sentences.numbered(found):
        x = _number(each.day)
        drawn.append(axes.axvline(x, color=look.ink, linewidth=style.points(2.2), linestyle=(0, (1, 2)), zorder=2))
        drawn.append(
            axes.annotate(str(number), (x, 1.0), xycoords=("data", "axes fraction"), xytext=(4, -2), textcoords="offset points",
                          ha="left", va="top", color=look.ink, family=style.FAMILY, fontsize=style.points(style.TICK))
        )  # fmt: skip
    return drawn


def _limits(axes: Axes, x: np.ndarray, level_db: np.ndarray, low_db: np.ndarray, high_db: np.ndarray) -> None:
    """Room for all days and, but for a few wild ones, their intervals."""
    axes.set_xlim(x[0] - 1, x[-1] + 1)
    known = np.isfinite(low_db)
    low = np.quantile(low_db[known], 0.02) if known.any() else level_db.min()
    high = np.quantile(high_db[known], 0.98) if known.any() else level_db.max()
    axes.set_ylim(min(low, level_db.min(), -1.0) - 0.5, max(high, level_db.max(), 1.0) + 0.5)


def has(findings: Findings) -> bool:
    """Whether there is a curve to draw."""
    return findings.season is not None and len(findings.season.days) > 1

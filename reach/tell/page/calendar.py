"""The section of the page about a long period: calendars, hours by band, the farthest, as pictures that need no script.

Cells of one shade are one path, so that ten years of days cost the page a hundred kilobytes and the browser two dozen shapes.
Places and scales are those of the pictures (`draw.calendar`), numbers those of `measure.calendar`.
"""

from __future__ import annotations

from datetime import UTC, datetime, time
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from reach.base import words
from reach.base.words import PRINT
from reach.draw import calendar as drawn
from reach.draw import charts
from reach.findings import Findings
from reach.measure import calendar as measured
from reach.measure.calendar import Calendar
from reach.tell.page import looks
from reach.tell.sentences import calendar as sentences
from reach.tell.sentences import local_time

WIDTH: Final = 1000.0  # of a drawing, in its own units; the page stretches it
_CELL: Final = 17.6  # of a strip of weeks: a year is as wide as the drawing
_LARGEST: Final = 44.0
_NAMES: Final = 22.0  # below, for the names of months
_YEARS: Final = 48.0  # at the left, for those of years, or for hours
_HOUR, _ABOVE = 10.0, 12.0  # height of an hour, room above them for half a name
_LETTER, _LETTER_OF_HOURS = 8.5, 14.0  # wide, as the style has them
_AIR: Final = 1.0
_FAR: Final = (300.0, 64.0, 12.0, 30.0, 26.0)  # of the farthest: height, and room left, right, above, below
_MOST_NAMES: Final = 12  # below the axis

Floats = npt.NDArray[np.float64]


def section(findings: Findings) -> dict[str, Any] | None:
    """What the section says and draws, as plain values; None where the period is short or nothing is claimed."""
    found = findings.calendar
    if found is None or not findings.reach.headline.reports:
        return None
    cells = drawn.Cells.of(found)
    finding, *rest = sentences.told(findings, PRINT)
    shown = drawn.busiest(found)
    more = sentences.most_bands(len(shown), len(found.bands))
    lines = local_time.lines(drawn.local_over(findings))
    return {
        "finding": finding,
        "rest": rest,
        "calendars": [
            _calendar(findings, cells, drawn.reports_shown(cells), "counts", words.text("reports")),
            _calendar(findings, cells, drawn.distances_shown(cells), "far", words.text("median distance [km]")),
        ],
        "legend": drawn.said(findings, cells),
        "hours": [_hours(findings, band) for band in shown],
        "hours_title": sentences.hours(findings, PRINT),
        "hours_key": [(k * (looks.SHADES - 1) // 4, words.share(k / 4)) for k in range(1, 5)],
        "hours_legend": [
            each
            for each in (sentences.shares(), sentences.silence(findings, drawn.unheard(found, shown)), more, lines)
            if each
        ],
        "farthest": _farthest(findings),
        "farthest_legend": sentences.far_marks(findings),
    }


def css() -> str:
    """What this section alone needs: its shades in both looks."""
    return looks.shades()


def _shade(level: Floats) -> npt.NDArray[np.int64]:
    return np.minimum((level * looks.SHADES).astype(np.int64), looks.SHADES - 1)


def _paths(x: Floats, y: Floats, wide: float, high: float, shade: npt.NDArray[np.int64]) -> list[tuple[int, str]]:
    """One path for the cells of each shade. x, y : their corners"""
    made = []
    for each in np.unique(shade):
        its = shade == each
        made.append((int(each), _path(x[its], y[its], wide, high)))
    return made


def _path(x: Floats, y: Floats, wide: float, high: float) -> str:
    box = f"h{wide:.4g}v{high:.4g}h-{wide:.4g}z"
    return "".join(f"M{left:.5g},{top:.5g}{box}" for left, top in zip(x, y, strict=True))


# --- the calendar -----------------------------------------------------------------------------------------------------


def _calendar(findings: Findings, cells: drawn.Cells, shown: drawn.Shown, ramp: str, what: str) -> dict[str, Any]:
    left = _YEARS if cells.y_names else 0.0
    side = min((WIDTH - left) / cells.columns, _LARGEST)
    high = side if cells.strip else min(side, 2 * _CELL)
    x, y = left + cells.x * side, cells.y * high
    box = (max(side - 1.5, 0.5 * side), max(high - 1.5, 0.5 * high))
    hollow, empty = cells.some & ~shown.told, ~cells.some & ~cells.off
    ticks, names = shown.ticks()
    levels = _shade(np.asarray(shown.norm(ticks), float))
    return {
        "label": words.text(
            "{what}: {title}. The table has the numbers.", what=what, title=sentences.days(findings, PRINT)
        ),
        "what": what,
        "ramp": ramp,
        "size": (WIDTH, round(cells.rows * high + _NAMES, 1)),
        "paths": _paths(x[shown.told], y[shown.told], *box, _shade(shown.level)[shown.told]),
        "hollow": _path(x[hollow], y[hollow], *box),
        "empty": _path(x[empty], y[empty], *box),
        "columns": _apart([(round(left + at * side, 1), name) for at, name in cells.x_names]),
        "rows": [(round(at * high + 5, 1), name) for at, name in cells.y_names],
        "foot": round(cells.rows * high + 16, 1),
        "key": list(zip(levels.tolist(), names, strict=True)),
    }


def _apart(names: list[tuple[float, str]], least: float = 46.0) -> list[tuple[float, str]]:
    """As many names as have room."""
    shown: list[tuple[float, str]] = []
    for at, name in names:
        if not shown or at - shown[-1][0] >= least:
            shown.append((at, name))
    return shown


# --- the hours --------------------------------------------------------------------------------------------------------


def _hours(findings: Findings, band: str) -> dict[str, Any]:
    found = sentences.found_in(findings)
    rows = found.hours[(found.hours["band"] == band).to_numpy()]
    steps = len(found.steps)
    lines = drawn.local_lines(findings)
    wide = (WIDTH - _YEARS - (_YEARS if lines else 0)) / steps
    x = _YEARS + np.repeat(np.arange(steps), 24) * wide
    y = _ABOVE + (23 - rows["hour_utc"].to_numpy()) * _HOUR
    share = np.nan_to_num(rows["share"].to_numpy())
    few = measured.are_few_days(rows)
    told, hollow = (share > 0) & ~few, (share > 0) & few
    empty = (share == 0) & (rows["in_use"] != measured.NO).to_numpy()
    box = (wide, _HOUR)
    return {
        "band": band,
        "label": words.text("{what}: {title}. The table has the numbers.", what=band, title=sentences.hours(findings, PRINT)),
        "size": (WIDTH, 24 * _HOUR + _ABOVE + 40),
        "paths": _paths(x[told], y[told], *box, _shade(share)[told]),
        "hollow": _path(x[hollow] + _AIR, y[hollow] + _AIR, wide - 2 * _AIR, _HOUR - 2 * _AIR),
        "empty": _path(x[empty], y[empty], *box),
        "rows": [(_ABOVE + (24 - hour) * _HOUR + 8, f"{hour:02d}") for hour in (0, 6, 12, 18, 24)],
        "columns": _step_names(found, _YEARS, wide, _LETTER_OF_HOURS),
        "foot": _ABOVE + 24 * _HOUR + 34,
        "local": [(" ".join(_line(run, found, wide) for run in runs), _ABOVE + (24 - runs[-1][-1][1]) * _HOUR + 8, name)
                  for name, runs in lines],
    }  # fmt: skip


def _line(run: drawn.Run, found: Calendar, wide: float) -> str:
    """A line of a local hour as a path: steps are of one width here, whatever their days."""
    edges = [datetime.combine(each, time(), UTC).timestamp() for each in drawn.edges_of(found)]
    at = np.interp([moment.timestamp() for moment, _ in run], edges, np.arange(len(edges)))
    return "M" + "L".join(
        f"{_YEARS + step * wide:.1f} {_ABOVE + (24 - hour) * _HOUR:.1f}"
        for step, (_, hour) in zip(at, run, strict=True)
    )


def _step_names(found: Calendar, left: float, wide: float, letter: float) -> list[tuple[float, str]]:
    """Where each week, month or year begins, as many as have room. letter : how wide one is"""
    named = drawn.step_names(found, lambda name: (len(name) + 1.5) * letter, wide)
    return [(round(left + k * wide, 1), name) for k, name in named]


# --- the farthest -----------------------------------------------------------------------------------------------------


def _farthest(findings: Findings) -> dict[str, Any]:
    found = sentences.found_in(findings)
    table = found.steps
    height, left, right, above, below = _FAR
    wide = (WIDTH - left - right) / len(table)
    top_km = max(float(np.nanmax(table["farthest_km"])) * 1.05, 1.0)

    def y(km: float) -> float:
        return round(above + (1 - km / top_km) * (height - above - below), 1)

    told = ~measured.is_few(table)
    dots, medians, tenths = [], [], []
    for k, row in enumerate(table.to_dict("records")):
        x = round(left + (k + 0.5) * wide, 1)
        if row["farthest_km"] == row["farthest_km"]:
            dots.append((x, y(row["farthest_km"])))
        if told[k]:
            low, high = (row[f"median_{end}_km"] for end in ("low", "high"))
            interval = (y(low), y(high)) if low == low else (None, None)
            medians.append((x, y(row["median_km"]), *interval))
            tenths.append((round(x - 0.3 * wide, 1), round(x + 0.3 * wide, 1), y(row["p90_km"])))
    step = charts.nice(top_km / 4)
    return {
        "title": sentences.farthest(findings, PRINT),
        "label": words.text(
            "{what}: {title}. The table has the numbers.",
            what=words.text("distance from the station [km]"),
            title=sentences.farthest(findings, PRINT),
        ),
        "size": (WIDTH, height),
        "box": (left, WIDTH - right, above, height - below),
        "ticks": [(y(km), words.count(km)) for km in np.arange(0, top_km, step)],
        "dots": dots,
        "medians": medians,
        "tenths": tenths,
        "columns": _step_names(found, left, wide, _LETTER),
        "foot": height - 8,
    }

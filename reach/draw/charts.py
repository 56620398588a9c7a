"""Charts: distance, strength, time, direction, and what a comparison rests on.

`draw_...` draws onto the axes that it is given and returns what it drew; the function without that prefix makes the
whole picture, with its words round it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import quantile, words
from reach.base.tongue import Phrase
from reach.base.words import PRINT
from reach.draw import captions, frame, style
from reach.draw.style import points
from reach.findings import Findings
from reach.measure import grain, sectors
from reach.measure.grain import Unit
from reach.measure.singled_out import STRENGTH_EDGES_KM
from reach.spots import SECTOR_DEG
from reach.tell.sentences import calendar as calendar_words
from reach.tell.sentences import comparison as sentences
from reach.tell.sentences import local_time, pictures
from reach.tell.sentences import several as several_words

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from reach.compare.several import Difference
    from reach.measure.reach import Figures

Floats = npt.NDArray[np.float64]

_FEW = 5
_MOST_DOTS = 5000
_ACROSS = 300  # beyond as many dots no more than these are drawn beside each other: a dot is nine of 1 700 px
_LEVEL_GAPS = [2, 3, 8, 9]  # gaps after these petals lie nearly level, where the names of rings run into each other
_BAR = 0.9  # of its stretch of time: the rest is a gap
_DAY_MIN = 1440
_STEPS = (
    (10, Phrase("ten minutes")), (30, Phrase("half hour")), (60, Phrase("hour")), (180, Phrase("three hours")),
    (360, Phrase("six hours")),
)  # fmt: skip
_MOST_BARS = 400
_MOST_ROWS = 15  # below each other, with room between their names
_PARTS = ("zone", "ring", "sector", "band", "day_night")  # of the breakdown of a comparison


# --- how far ----------------------------------------------------------------------------------------------------------


def distance(findings: Findings, look: style.Theme) -> Figure:
    """How many reports came from how far, one line a setup, medians marked."""
    figure, axes = frame.chart(findings, look, pictures.distance(findings, PRINT))
    draw_distance(axes, findings, look)
    return figure


def draw_distance(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Reports by distance. Returns the bars, then of each setup the stepped line, the mark of its median and its label."""
    edges = distance_edges(findings.reach.headline.far_km)
    step = float(edges[1])
    drawn = _histogram(
        axes, look, findings, "distance_km", edges, lambda found: found.median_km.value, pictures.median_km
    )
    axes.set_xlim(0, edges[-1])
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.whole(axes.xaxis)
    style.name_axes(
        axes,
        look,
        x=words.text("distance from the station [km]"),
        y=words.text("reports per {step}", step=words.km(step)),
    )
    return drawn


# --- how strong -------------------------------------------------------------------------------------------------------


def snr(findings: Findings, look: style.Theme) -> Figure:
    """How strong the reports were, one line a setup, medians marked."""
    figure, axes = frame.chart(
        findings, look, pictures.strength(findings, PRINT), notes=(pictures.decoding_limit(findings),)
    )
    draw_snr(axes, findings, look)
    return figure


def draw_snr(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Reports by SNR. Returns what `draw_distance` does."""
    low, *_, high = findings.reach.headline.snr_db
    step = 1 if high - low < 45 else 2
    edges = np.arange(int(low) - 0.5, int(high) + step, step)
    drawn = _histogram(axes, look, findings, "snr_db", edges, lambda found: found.snr_db[2], pictures.median_db)
    axes.xaxis.set_major_formatter(lambda value, _: words.number(value, 0))
    style.whole(axes.xaxis)
    style.name_axes(
        axes,
        look,
        x=words.text("SNR in 2500{gap}Hz [dB]"),
        y=words.text("reports per dB") if step == 1 else words.text("reports per 2{gap}dB"),
    )
    return drawn


def snr_by_distance(findings: Findings, look: style.Theme) -> Figure:
    """Strength against distance: one dot a receiver and whole dB, and the median in steps of distance."""
    title, note = pictures.strength_by_distance(findings, PRINT), pictures.weakest(findings, PRINT)
    figure, axes = frame.chart(findings, look, title, notes=(note,))
    draw_snr_by_distance(axes, findings, look)
    return figure


def draw_snr_by_distance(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the dots, the line of medians and the line at the weakest report."""
    rows, found = findings.counted_by_level, findings.reach.headline
    dots = rows.drop_duplicates(["rx_call", "rx_locator", "snr_db"])  # however many hours and bands they came in
    if len(dots) > _MOST_DOTS:
        dots = dots[~_side_by_side(dots, found.far_km)]
    rng = np.random.default_rng(1)  # dots of whole dB would lie on top of each other
    jitter = rng.uniform(-0.35, 0.35, len(dots))
    steps = _by_distance(findings)
    marks = axes.scatter(
        dots["distance_km"], dots["snr_db"] + jitter, s=points(9) ** 2, color=look.plain, alpha=0.35, linewidths=0
    )
    style.as_one_image_if_many(marks, len(dots))
    drawn: list[Artist] = [
        marks,
        *axes.plot([(each.from_km + each.to_km) / 2 for each in steps], [each.median_db for each in steps], color=look.ink,
                   linewidth=points(5), marker="o", markersize=points(13)),
        axes.axhline(found.snr_db[0], color=look.muted, linewidth=points(2.5), linestyle=(0, (5, 4))),
    ]  # fmt: skip
    axes.set_xlim(0, max(found.far_km * 1.03, 1.0))
    style.whole(axes.xaxis)
    style.whole(axes.yaxis)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    axes.yaxis.set_major_formatter(lambda value, _: words.number(value, 0))
    style.name_axes(
        axes,
        look,
        x=words.text("distance from the station [km]"),
        y=words.text("SNR in 2500{gap}Hz [dB]; line: median"),
    )
    return drawn


def _side_by_side(dots: pd.DataFrame, far_km: float) -> npt.NDArray[np.bool_]:
    """Dots of a level that would lie on an earlier one, as much as makes no difference to the eye."""
    place = (dots["distance_km"].to_numpy() / max(far_km, 1.0) * _ACROSS).astype(np.int64)
    return pd.DataFrame({"place": place, "level": dots["snr_db"].to_numpy()}).duplicated().to_numpy()


@dataclass(frozen=True)
class _Step:
    from_km: float
    to_km: float
    median_db: float


def _by_distance(findings: Findings) -> list[_Step]:
    """Median SNR in steps of distance, of those that hold _FEW reports: the one thing that no other output says."""
    rows = findings.counted_by_level
    edges = STRENGTH_EDGES_KM
    which = np.searchsorted(edges, rows["distance_km"], side="right") - 1
    found = []
    for k in range(len(edges) - 1):
        part = rows[which == k]
        if part["reports"].sum() >= _FEW:
            median_db = quantile.weighted(part["snr_db"], part["reports"], [0.5])[0]
            to_km = min(float(edges[k + 1]), findings.reach.headline.far_km)  # nothing lies behind the farthest
            found.append(_Step(float(edges[k]), to_km, float(median_db)))
    return found


# --- when -------------------------------------------------------------------------------------------------------------


def hours(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour of the day."""
    figure, axes = frame.chart(
        findings, look, pictures.hours(findings, PRINT), notes=(pictures.silent_hour(findings),), hours=True
    )
    draw_hours(axes, findings, look)
    return figure


def draw_hours(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the bars, one an hour with reports."""
    found = findings.reach.headline.hours
    bars = axes.bar(
        [hour.hour_utc + 0.5 for hour in found], [hour.reports for hour in found], width=0.86, color=look.plain
    )
    first, last = frame.hours_shown([hour.hour_utc for hour in found])
    axes.set_xlim(first, last)
    style.whole(axes.yaxis)
    frame.hours_of_the_day(axes, first, last, findings.local_time)
    style.name_axes(
        axes, look, x=local_time.axis(local_time.HOUR_OF_THE_DAY, findings.local_time), y=words.text("reports")
    )
    return list(bars)


def timeline(findings: Findings, look: style.Theme) -> Figure:
    """Reports of each ten minutes in time order, a colour a setup, and below when each setup was heard, as bands.

    Over long periods the stretches are longer, so that each can be seen.
    """
    unit = _Stretches.of(findings.tally.timeline).unit
    cut = calendar_words.cut_short(unit) if isinstance(unit, Unit) else ""
    notes = (pictures.EVERYTHING, *([cut] if cut else []))
    figure, axes = frame.chart(
        findings, look, timeline_title(findings), notes=notes, rest="everything", hours=frame.by_the_clock(findings)
    )
    draw_timeline(axes, findings, look)
    return figure


def timeline_title(findings: Findings) -> str:
    """How many reports, and how long a bar is."""
    found = _Stretches.of(findings.tally.timeline)
    if isinstance(found.unit, Unit):
        return calendar_words.timeline(findings, found.unit, PRINT)
    return pictures.in_time_order(findings, found.step, PRINT)


def draw_timeline(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns the bars: of each setup those above the line, then its band below it where there are several setups."""
    found = _Stretches.of(findings.tally.timeline)
    named = captions.setups(findings, found.table)
    groups: list[str | None] = [*named, *([None] if found.table["setup"].isna().any() else [])]
    under = pd.Series(0, index=found.total.index)
    row = 0.055 * float(found.total.max())
    drawn: list[Artist] = []
    for line, name in enumerate(groups, start=1):
        place = named[name] if name else len(findings.setup_order)
        part = found.table[(found.table["setup"].isna() if name is None else found.table["setup"] == name).to_numpy()]
        counts = part.groupby("start_utc")["reports"].sum()
        color = captions.setup_color(findings, look, name) if name else look.plain
        how: dict[str, Any] = {"width": _BAR * found.days(counts.index), "align": "edge", "color": color,
                               "hatch": captions.HATCHES[place % 4], "edgecolor": look.paper, "linewidth": 0}  # fmt: skip
        drawn += axes.bar(
            _naive(counts.index), counts, bottom=under[counts.index], label=name or words.text("no setup named"), **how
        )
        under = under.add(counts, fill_value=0)
        if len(groups) > 1:
            drawn += axes.bar(_naive(counts.index), 0.7 * row, bottom=-line * row, **how)
    if len(groups) > 1:
        axes.set_ylim(top=axes.get_ylim()[1] * 1.14)
        frame.key(axes, look, ncols=len(groups))
        axes.axhline(0, color=look.ring, linewidth=points(1.6))
        axes.set_ylim(bottom=-(len(groups) + 0.5) * row)
    style.whole(axes.yaxis)
    axes.set_yticks([tick for tick in axes.get_yticks() if 0 <= tick <= axes.get_ylim()[1]])
    said = frame.clock(axes, findings.local_time)
    style.name_axes(axes, look, x=said, y=words.text("reports per {step}", step=found.step))
    return drawn


@dataclass(frozen=True)
class _Stretches:
    """The timeline in steps that leave each bar wide enough to be seen: minutes and hours, of a long period those of
    `measure.grain`.

    table : start_utc, setup, reports; total : reports by start_utc; step : how long, in words
    """

    table: pd.DataFrame
    total: pd.Series
    step: Phrase
    unit: int | Unit  # minutes, or a step of the calendar

    @classmethod
    def of(cls, timeline: pd.DataFrame) -> _Stretches:
        start = timeline["start_utc"]
        day = start.dt.tz_convert(None).to_numpy().astype("datetime64[D]").astype(np.int64)
        coarse = grain.grain(int(day.min()), int(day.max()))
        if coarse is not None:
            first = grain.first_day(coarse.bars, grain.number(coarse.bars, day))
            begun = pd.Series(pd.DatetimeIndex(first.astype("datetime64[D]")).tz_localize("UTC"), start.index)
            return cls._by(timeline, begun, calendar_words.bar(coarse.bars), coarse.bars)
        span_min = (start.max() - start.min()).total_seconds() / 60
        step_min, said = next(each for each in _STEPS if span_min / each[0] <= _MOST_BARS)
        return cls._by(timeline, start.dt.floor(f"{step_min}min"), said, step_min)

    @classmethod
    def _by(cls, timeline: pd.DataFrame, begun: pd.Series, said: Phrase, unit: int | Unit) -> _Stretches:
        table = timeline[["setup", "reports"]].assign(start_utc=begun)
        return cls(table, table.groupby("start_utc")["reports"].sum(), said, unit)

    def days(self, starts: pd.Index) -> Any:
        """How long the bars are that begin then, in days."""
        if not isinstance(self.unit, Unit):
            return self.unit / _DAY_MIN
        first = _naive(starts).to_numpy().astype("datetime64[D]").astype(np.int64)
        return grain.first_day(self.unit, grain.number(self.unit, first) + 1) - first


# --- where to ---------------------------------------------------------------------------------------------------------


def bearing(findings: Findings, look: style.Theme) -> Figure:
    """Reports and median distance by direction, 30 degrees each. Needs a report with a direction."""
    title = pictures.directions(findings, PRINT)
    few = any(sector.is_few and sector.reports for sector in findings.reach.headline.sectors)
    notes = (*((calendar_words.few(findings, PRINT),) if few else ()), captions.no_far_end(findings))
    figure, start, foot = frame.around(findings, look, title, notes=notes)
    side = foot - start - 130
    for left, draw, label in (
        (200, draw_directions, words.text("reports")),
        (1040, draw_distances_by_direction, words.text("median distance")),
    ):
        axes = style.place(figure, left, start + 86, side, side, projection="polar")
        style.write(figure, left - 60, start + 16, label, px=style.LABEL, color=look.ink, weight=style.BOLD)
        draw(axes, findings, look)
    return figure


def draw_directions(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Reports by direction on polar axes. Returns the petals, the first towards north."""
    values = np.array([float(sector.reports) for sector in findings.reach.headline.sectors])
    return _rose(axes, look, values, look.plain, words.count)


def draw_distances_by_direction(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Median distance by direction on polar axes, hollow where it rests on too little. Returns the petals, the first towards
    north."""
    found = findings.reach.headline.sectors
    drawn = _rose(axes, look, np.nan_to_num(np.array([sector.median_km for sector in found])), look.plain, words.km)
    for petal, sector in zip(drawn, found, strict=True):
        if sector.is_few:
            petal.set(facecolor=look.paper, edgecolor=look.plain, linewidth=points(2.4))
    return drawn


def _rose(axes: Any, look: style.Theme, values: Floats, color: str, say: Callable[[float], str]) -> list[Artist]:
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    turn = np.radians(np.arange(sectors.SECTORS) * SECTOR_DEG)
    # A petal's area is what the eye compares, and it grows with the square of the radius.
    bars = axes.bar(turn, np.sqrt(values), width=np.radians(SECTOR_DEG - 3), color=color, alpha=0.9, zorder=3)
    axes.set_facecolor(look.sea)
    axes.spines["polar"].set_color(look.ring)
    axes.set_xticks(turn, [f"{deg}°" if deg % 90 else words.compass(deg) for deg in range(0, 360, 30)])
    axes.tick_params(labelsize=points(style.TICK), labelfontfamily=style.FAMILY, colors=look.muted, pad=10)
    style.letters(axes.get_xticklabels())
    top = float(values.max()) or 1.0
    # One at the rim would run into the names of the directions.
    ticks = [tick for tick in np.arange(1, 5) * max(nice(top / 4), 1.0) if tick <= top * 0.7] or [top / 2]
    axes.set_ylim(0, np.sqrt(top * 1.1))
    axes.set_yticks(np.sqrt(ticks), [say(tick) for tick in ticks])
    beside = np.maximum(values, np.roll(values, -1))  # of the two petals that a gap lies between
    beside[_LEVEL_GAPS] = np.inf
    axes.set_rlabel_position(float(np.argmin(beside)) * SECTOR_DEG + SECTOR_DEG / 2)
    for label in axes.get_yticklabels():
        label.set(fontsize=points(style.NOTE), color=look.ink, zorder=5, path_effects=style.halo(look))
    axes.grid(color=look.ring, linewidth=points(1.2), alpha=0.6)
    return list(bars)


# --- two setups -------------------------------------------------------------------------------------------------------


def comparison_cells(findings: Findings, look: style.Theme) -> Figure:
    """The difference part by part, with intervals: by distance, direction, band, day and night. Needs a comparison."""
    found = findings.comparison
    assert found is not None
    title = sentences.short(found, say=PRINT)
    notes = (*sentences.noise(found), pictures.FOREST)
    figure, axes = frame.chart(findings, look, title, notes=notes, left_px=260, rest="compared", above=False)
    draw_comparison(axes, findings, look)
    return figure


def draw_comparison(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns of the whole, then of each part: the wide interval where there is one, the interval, the estimate; then the
    arrows of intervals that go on beyond the axes."""
    found = findings.comparison
    assert found is not None
    cells = [cell for cell in found.cells if cell.shown and cell.by in _PARTS]
    y = np.arange(len(cells) + 1, dtype=float)[::-1]
    a, b = (captions.setup_color(findings, look, name) for name in (found.a, found.b))
    spans: list[frame.Span] = []
    drawn = _interval(axes, look.ink, y[0], found.difference_db, found.low_db, found.high_db, None, None, marker="D")
    for at, cell in zip(y[1:], cells, strict=True):
        color = a if (cell.difference_db or 0.0) > 0 else b
        drawn += _interval(
            axes, color, at, cell.difference_db, cell.low_db, cell.high_db, cell.sidak_low_db, cell.sidak_high_db,
            hollow=None if captions.at_least_db(cell) else look.paper,
        )  # fmt: skip
        known = [end for end in (cell.low_db, cell.high_db, cell.sidak_low_db, cell.sidak_high_db) if end is not None]
        if cell.low_db is not None and cell.high_db is not None:
            spans.append((at, min(known), max(known), color))
    axes.axvline(0, color=look.ink, linewidth=points(2.4))
    ends = [abs(end) for cell in cells for end in (cell.low_db, cell.high_db) if end is not None]
    limit = max([2.0, *ends]) * 1.12  # the wider intervals of small parts may run out of the picture
    axes.set_xlim(-limit, limit)
    drawn += frame.arrows(axes, spans, upright=False)
    names = [
        f"{sentences.part(cell, say=PRINT)} · {words.count(cell.receivers)} {pictures.few(found)}" for cell in cells
    ]
    style.name_ticks(axes, y, (words.text("all together"), *names))
    for label, cell in zip(axes.get_yticklabels()[1:], cells, strict=True):
        label.set_fontweight(style.BOLD if cell.differs else style.REGULAR)
    axes.set_ylim(-0.8, len(cells) + 0.8)
    axes.tick_params(axis="y", labelsize=points(style.TICK))
    axes.xaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.whole(axes.xaxis)
    style.name_axes(axes, look, x=words.text("{a} minus {b} [dB]", a=found.a, b=found.b))
    return drawn


def comparison_receivers(findings: Findings, look: style.Theme) -> Figure:
    """Each receiver's paired difference against its distance; the bar is its own interval. Needs a comparison."""
    found = findings.comparison
    assert found is not None
    title = pictures.receivers_of_each(found, PRINT)
    figure, axes = frame.chart(findings, look, title, notes=(pictures.paired_dots(found),), rest="compared")
    draw_comparison_receivers(axes, findings, look)
    return figure


def draw_comparison_receivers(axes: Axes, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns of each receiver its interval where it has one, and its dot; then the arrows of intervals that go on beyond."""
    found = findings.comparison
    assert found is not None
    shown = [r for r in found.by_receiver if r.difference_db is not None and r.placed]
    biggest = max((r.weight for r in shown), default=1.0)
    a, b = (captions.setup_color(findings, look, name) for name in (found.a, found.b))
    spans: list[frame.Span] = []
    drawn: list[Artist] = []
    for r in shown:
        x, y = float(r.distance_km or 0.0), float(r.difference_db or 0.0)
        color = a if y > 0 else b
        if r.low_db is not None and r.high_db is not None:
            drawn += axes.plot([x, x], [r.low_db, r.high_db], color=color, alpha=0.3, linewidth=points(2.5))
            spans.append((x, r.low_db, r.high_db, color))
        size = points(10 + 22 * np.sqrt(r.weight / biggest)) ** 2
        marker = "o" if y > 0 else "s"
        sure = captions.at_least_db(r) != 0
        filled: dict[str, Any] = {
            "facecolors": color if sure else look.paper,
            "edgecolors": look.paper if sure else color,
        }
        drawn.append(axes.scatter([x], [y], s=size, marker=marker, linewidths=points(2.4), zorder=3, **filled))
    axes.axhline(0, color=look.ink, linewidth=points(2.4))
    limit = max([abs(r.difference_db or 0) for r in shown] or [1.0]) * 1.25
    axes.set_ylim(-limit, limit)
    axes.set_xlim(left=0)
    drawn += frame.arrows(axes, spans, upright=True)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    axes.yaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.whole(axes.yaxis)
    style.name_axes(
        axes,
        look,
        x=words.text("distance from the station [km]"),
        y=words.text("{a} minus {b} [dB]", a=found.a, b=found.b),
    )
    return drawn


def several(findings: Findings, look: style.Theme) -> Figure:
    """Every two of several setups with the interval that holds for all together. Needs differences between them."""
    found = findings.several
    assert found is not None
    title, notes, many = several_words.short(found, say=PRINT), (pictures.ALL_TOGETHER,), len(found.differences)
    if many <= _MOST_ROWS:
        figure, axes = frame.chart(findings, look, title, notes=notes, left_px=330, rest="everything", above=False)
        draw_several(axes, findings, look)
        return figure
    figure, top, foot = frame.around(findings, look, title, notes=notes, rest="everything")
    half = -(-many // 2)
    names = max(style.width_px(_pair(each), style.TICK) for each in found.differences)
    for k, axes in enumerate(frame.side_by_side(figure, look, top, foot, 2, left_px=min(names, 520) + 60)):
        draw_several(axes, findings, look, slice(k * half, (k + 1) * half))
    return figure


def draw_several(axes: Axes, findings: Findings, look: style.Theme, part: slice = slice(None)) -> list[Artist]:
    """Returns of each difference its interval and its mark: full where the two are told apart, hollow where not.

    part : which of them
    """
    found = findings.several
    assert found is not None
    shown = found.differences[part]
    y = np.arange(len(shown), dtype=float)[::-1]
    drawn: list[Artist] = []
    for at, each in zip(y, shown, strict=True):
        drawn += axes.plot(
            [each.low_db, each.high_db], [at, at], color=look.ink, linewidth=points(5), solid_capstyle="butt"
        )
        drawn += axes.plot(
            [each.difference_db], [at], color=look.ink, marker="o", markersize=points(18), markeredgewidth=points(4),
            markerfacecolor=look.ink if each.apart else look.paper,
        )  # fmt: skip
    axes.axvline(0, color=look.ink, linewidth=points(2.4))
    limit = max([2.0, *(abs(end) for each in found.differences for end in (each.low_db, each.high_db))]) * 1.08
    axes.set_xlim(-limit, limit)
    style.name_ticks(axes, y, [_pair(each) for each in shown])
    axes.set_ylim(-0.8, len(y) - 0.2)
    axes.tick_params(axis="y", labelsize=points(style.LABEL if len(y) < 16 else style.TICK))
    axes.xaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.whole(axes.xaxis)
    style.name_axes(axes, look, x=words.text("difference [dB]"))
    return drawn


def _pair(each: Difference) -> str:
    return words.text("{a} minus {b}", a=each.upper, b=each.lower)


def nothing(findings: Findings, look: style.Theme) -> Figure:
    """A picture that says there is nothing to draw."""
    figure = style.sheet(look)
    style.headline(figure, look, style.Words(*pictures.nothing(findings, PRINT)))
    return figure


# --- pieces -----------------------------------------------------------------------------------------------------------


def _histogram(
    axes: Axes, look: style.Theme, findings: Findings, column: str, edges: Floats,
    median_of: Callable[[Figures], float], label: Callable[[str, Figures, words.Typography], str],
) -> list[Artist]:  # fmt: skip
    """Bars for everything, a stepped line for each setup, medians as labelled marks.

    column : of the counted rows, what the bars count; median_of, label : the median of a set of figures, and its words
    """
    rows = findings.counted_by_level
    style.whole(axes.yaxis)
    groups = captions.by_setup(findings, rows)
    faint = 0.28 if len(groups) > 1 else 0.85  # behind the lines of setups, or all there is to see
    *_, bars = axes.hist(rows[column], bins=edges.tolist(), weights=rows["reports"], color=look.plain, alpha=faint)
    drawn: list[Artist] = list(bars)  # type: ignore[arg-type]
    top = axes.get_ylim()[1] * 1.22
    axes.set_ylim(0, top)
    medians = [median_of(found) for found, _ in groups.values()]
    # The smallest reaches highest: its label passes over the others.
    rank = np.argsort(np.argsort(medians, kind="stable"))
    places = captions.setups(findings, rows)
    for at, (name, (found, part)) in enumerate(groups.items()):
        color = captions.setup_color(findings, look, name) if name else look.ink
        dash = captions.DASHES[places[name] % 4 if name else 0]
        if name:
            *_, lines = axes.hist(part[column], bins=edges.tolist(), weights=part["reports"], histtype="step", color=color,
                                  linewidth=points(4), linestyle=dash)  # fmt: skip
            drawn += lines  # type: ignore[arg-type]
        height = top * (0.985 - 0.07 * rank[at])
        drawn += axes.plot([medians[at]] * 2, [0, height], color=color, linewidth=points(3), linestyle=dash)
        said = f"  {label(name, found, PRINT)}"
        drawn.append(style.text(axes, medians[at], height, said, px=style.TICK, color=color, va="top", weight=style.BOLD,
                                zorder=6))  # fmt: skip
    return drawn


def _interval(
    axes: Axes, color: str, y: float, middle: float | None, low: float | None, high: float | None,
    wide_low: float | None, wide_high: float | None, *, marker: str = "o", hollow: str | None = None,
) -> list[Artist]:  # fmt: skip
    if middle is None or low is None or high is None:
        return []
    drawn: list[Artist] = []
    if wide_low is not None and wide_high is not None:
        drawn += axes.plot([wide_low, wide_high], [y, y], color=color, linewidth=points(2.2))
    drawn += axes.plot([low, high], [y, y], color=color, linewidth=points(8), solid_capstyle="butt", alpha=0.75)
    (mark,) = axes.plot([middle], [y], color=color, marker=marker, markersize=points(17), markeredgewidth=points(3))
    if hollow is not None:
        mark.set_markerfacecolor(hollow)
    return [*drawn, mark]


def _naive(times: Any) -> Any:
    return pd.DatetimeIndex(times).tz_convert(None)


def distance_edges(far_km: float, bars: int = 40) -> Floats:
    """The edges of bars by distance [km]: some forty as far as the farthest, or as many as are asked for."""
    step = max(nice(far_km / bars), 1.0)  # all of it may have come from the station's own cell
    return np.asarray(np.arange(far_km // step + 2) * step)


def nice(step: float) -> float:
    """The round number 1, 2, 2.5 or 5 times a power of ten at or above a step."""
    power = 10.0 ** np.floor(np.log10(max(step, 1e-9)))
    return float(next(k * power for k in (1, 2, 2.5, 5, 10) if k * power >= step * (1 - 1e-9)))

"""Charts as whole pictures: distance, strength, time, direction, and what the comparison rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import quantile, words
from reach.draw import captions, frame, style
from reach.draw.style import points
from reach.findings import Findings
from reach.measure import sectors
from reach.tell.sentences import comparison as sentences

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_FEW = 5
_BAR = 0.9  # of its stretch of time: the rest is a gap
_DAY_MIN = 1440
_STEPS = ((10, "ten minutes"), (30, "half hour"), (60, "hour"), (180, "three hours"), (360, "six hours"), (_DAY_MIN, "day"),
          (7 * _DAY_MIN, "week"))  # fmt: skip
_MOST_BARS = 400


def distance(findings: Findings, look: style.Theme) -> Figure:
    """How many reports came from how far, one line a setup, medians marked."""
    rows = captions.counted(findings)
    median_km, p90_km = captions.distances(rows)
    figure, axes = frame.chart(
        findings, look, f"Half came from beyond {words.km(median_km)}, a tenth from beyond {words.km(p90_km)}"
    )
    step = _nice(float(rows["distance_km"].max()) / 32)
    edges = np.arange(0, rows["distance_km"].max() + step, step)
    _histogram(axes, look, findings, rows, "distance_km", edges, words.km)
    axes.set_xlim(0, edges[-1])
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.name_axes(axes, look, x="distance from the station [km]", y=f"reports per {words.km(step)}")
    return figure


def snr(findings: Findings, look: style.Theme) -> Figure:
    """How strong the reports were, one line a setup, medians marked."""
    rows = captions.counted(findings)
    low, median, high = quantile.weighted(rows["snr_db"], rows["reports"], [0.25, 0.5, 0.75])
    title = f"The median report was {words.db(median)}, half lay between {words.db(low)} and {words.db(high)}"
    note = "Reports near the left end pile up or vanish at the receivers' decoding limit: averages there read too high."
    figure, axes = frame.chart(findings, look, title, notes=(note,))
    step = 1 if np.ptp(rows["snr_db"]) < 45 else 2
    edges = np.arange(int(rows["snr_db"].min()) - 0.5, int(rows["snr_db"].max()) + step, step)
    _histogram(axes, look, findings, rows, "snr_db", edges, words.db)
    axes.xaxis.set_major_formatter(lambda value, _: style.signed(value))
    style.name_axes(axes, look, x="SNR in 2500 Hz [dB]", y="reports per dB" if step == 1 else "reports per 2 dB")
    return figure


def snr_by_distance(findings: Findings, look: style.Theme) -> Figure:
    """Strength against distance: one dot a receiver and whole dB, and the median in steps of distance."""
    rows = captions.counted(findings)
    weakest = float(rows["snr_db"].min())
    note = f"Dashed: the weakest report, {words.db(weakest)}. Weaker signals were not decoded and are missing here."
    edges = np.unique(np.concatenate([np.arange(0, 3000, 500), np.arange(3000, 20500, 1000)]))
    middles, medians = _running(rows, edges)
    title = "Strength against distance"
    if len(medians) > 1:
        fall = medians[0] - medians[-1]
        way = "weaker" if fall > 0 else "stronger"
        title = f"The median report beyond {words.km(edges[np.searchsorted(edges, middles[-1]) - 1])} is {words.db(abs(fall))} {way} than near by"
    figure, axes = frame.chart(findings, look, title, notes=(note,))
    dots = rows.drop_duplicates(["rx_call", "rx_locator", "snr_db"])  # however many hours and bands they came in
    rng = np.random.default_rng(1)  # dots of whole dB would lie on top of each other
    jitter = rng.uniform(-0.35, 0.35, len(dots))
    marks = axes.scatter(
        dots["distance_km"], dots["snr_db"] + jitter, s=points(9) ** 2, color=look.plain, alpha=0.35, linewidths=0
    )
    style.as_one_image_if_many(marks, len(dots))
    axes.plot(middles, medians, color=look.ink, linewidth=points(5), marker="o", markersize=points(13))
    axes.axhline(weakest, color=look.muted, linewidth=points(2.5), linestyle=(0, (5, 4)))
    axes.set_xlim(0, float(rows["distance_km"].max()) * 1.03)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    axes.yaxis.set_major_formatter(lambda value, _: style.signed(value))
    style.name_axes(axes, look, x="distance from the station [km]", y="SNR in 2500 Hz [dB]; line: median")
    return figure


def hours(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour of the day."""
    rows = captions.counted(findings)
    by_hour = np.bincount(rows["hour_utc"].dt.hour, weights=rows["reports"], minlength=24)
    busy = int(by_hour.argmax())
    title = f"Most reports came between {busy:02d}:00 and {(busy + 1) % 24:02d}:00 UTC"
    note = "An hour without transmissions has no reports."
    figure, axes = frame.chart(findings, look, title, notes=(note,))
    axes.bar(np.arange(24) + 0.5, by_hour, width=0.86, color=look.plain)
    axes.set_xlim(0, 24)
    axes.set_xticks(range(0, 25, 2))
    axes.set_xticklabels([f"{hour:02d}" for hour in range(0, 25, 2)])
    style.name_axes(axes, look, x="hour of the day [UTC]", y="reports")
    return figure


def timeline(findings: Findings, look: style.Theme) -> Figure:
    """Reports of each ten minutes in time order, a colour a setup, and below when each setup was heard, as bands.

    Over long periods the stretches are longer, so that each can be seen.
    """
    table, step_min, step = _stretches(findings.tally.timeline)
    total = table.groupby("start_utc")["reports"].sum()
    best = pd.Timestamp(total.index[int(total.to_numpy().argmax())])
    title = (
        f"The best {step}, {_moment(best, total.index, step_min)}, brought {words.things(int(total.max()), 'report')}"
    )
    note = "All accepted reports, those with doubtful locators too."
    figure, axes = frame.chart(findings, look, title, notes=(note,), rows=captions.everything(findings))
    named = captions.setups(findings, table)
    groups: list[str | None] = [*named, *([None] if table["setup"].isna().any() else [])]
    under = pd.Series(0, index=total.index)
    row = 0.055 * float(total.max())
    for line, name in enumerate(groups, start=1):
        k = named[name] if name else len(captions.setup_names(findings))
        part = table[(table["setup"].isna() if name is None else table["setup"] == name).to_numpy()]
        counts = part.groupby("start_utc")["reports"].sum()
        hatch = ("", "//", "xx", "..")[k % 4]
        color = captions.setup_color(findings, look, name) if name else look.plain
        how: dict[str, Any] = {"width": _BAR * step_min / 1440, "align": "edge", "color": color, "hatch": hatch,
                               "edgecolor": look.paper, "linewidth": 0}  # fmt: skip
        axes.bar(_naive(counts.index), counts, bottom=under[counts.index], label=name or "no setup named", **how)
        under = under.add(counts, fill_value=0)
        if len(groups) > 1:
            axes.bar(_naive(counts.index), 0.7 * row, bottom=-line * row, **how)
    if len(groups) > 1:
        _key(axes, look, [str(name) for name in groups])
        axes.axhline(0, color=look.ring, linewidth=points(1.6))
        axes.set_ylim(bottom=-(len(groups) + 0.5) * row)
    axes.set_yticks([tick for tick in axes.get_yticks() if 0 <= tick <= axes.get_ylim()[1]])
    frame.clock(axes)
    style.name_axes(axes, look, x="time [UTC]", y=f"reports per {step}")
    return figure


def _stretches(timeline: pd.DataFrame) -> tuple[pd.DataFrame, int, str]:
    """The timeline in steps that leave each bar wide enough to be seen: start_utc, setup, reports; the step [min], in words."""
    start = timeline["start_utc"]
    span_min = (start.max() - start.min()).total_seconds() / 60
    fitting = [each for each in _STEPS if span_min / each[0] <= _MOST_BARS]
    step_min, said = fitting[0] if fitting else _STEPS[-1]
    table = timeline[["setup", "reports"]].assign(start_utc=start.dt.floor(f"{step_min}min"))
    return table, step_min, said


def _moment(start: pd.Timestamp, every: pd.Index, step_min: int) -> str:
    """When a stretch began: the day where it is one, the time of day, and the day too where there are several."""
    if step_min >= _DAY_MIN:
        return f"from {words.day(start)}" if step_min > _DAY_MIN else words.day(start)
    day = f" on {words.day(start)}" if every.min().date() != every.max().date() else ""
    return f"from {start:%H:%M} UTC{day}"


def bearing(findings: Findings, look: style.Theme) -> Figure:
    """Reports and median distance by direction, 30 degrees each."""
    rows = captions.counted(findings)
    sector = sectors.sector_of(rows["bearing_deg"])
    count = np.bincount(np.maximum(sector, 0), weights=rows["reports"] * (sector >= 0), minlength=sectors.SECTORS)
    median = np.array([_median_km(rows[sector == k]) for k in range(sectors.SECTORS)])
    top = int(count.argmax())
    share = words.share(count[top], count.sum())
    title = (
        f"{share} of the reports came from {words.compass(top * 30)}, half of those from beyond {words.km(median[top])}"
    )
    figure, start, foot = frame.around(findings, look, title, notes=(captions.NO_LISTENER,))
    side = foot - start - 130
    for left, values, color, label, unit in (
        (200, count, look.plain, "reports", words.count),
        (1040, np.nan_to_num(median), look.setups[0], "median distance", words.km),
    ):
        axes = style.place(figure, left, start + 86, side, side, projection="polar")
        style.write(figure, left - 60, start + 16, label, px=style.LABEL, color=look.ink, weight=style.BOLD)
        _rose(axes, look, values, color, unit)
    return figure


def comparison_cells(findings: Findings, look: style.Theme) -> Figure:
    """The difference part by part, with intervals: by distance, direction, band, day and night."""
    found = findings.comparison
    assert found is not None
    cells = [cell for cell in found.cells if cell.shown and cell.by in ("zone", "ring", "sector", "band", "day_night")]
    title = sentences.short(found, say=words.PRINT)
    note = "Thick: 95 % interval of a part alone; thin: 95 % for all parts of its group together. " + (
        "Bold: differs from the rest beyond chance, allowing for the number of parts."
    )
    figure, axes = frame.chart(findings, look, title, notes=(note,), left_px=260, rows=captions.compared(findings))
    y = np.arange(len(cells) + 1, dtype=float)[::-1]
    stronger = [captions.setup_color(findings, look, name) for name in (found.a, found.b)]
    _interval(axes, look.ink, y[0], found.difference_db, found.low_db, found.high_db, None, None, whole=True)
    names = ["all together"]
    for at, cell in zip(y[1:], cells, strict=True):
        color = stronger[0] if (cell.difference_db or 0.0) > 0 else stronger[1]
        _interval(axes, color, at, cell.difference_db, cell.low_db, cell.high_db, cell.sidak_low_db, cell.sidak_high_db)
        names.append(f"{sentences.part(cell, say=words.PRINT)} · {words.count(cell.receivers)} rx")
    axes.axvline(0, color=look.ink, linewidth=points(2.4))
    ends = [abs(end) for cell in cells for end in (cell.low_db, cell.high_db) if end is not None]
    limit = max([2.0, *ends]) * 1.12  # the wider intervals of small parts may run out of the picture
    axes.set_xlim(-limit, limit)
    axes.set_yticks(y, [style.drawable(name) for name in names])
    for label, cell in zip(axes.get_yticklabels()[1:], cells, strict=True):
        label.set_fontweight(style.BOLD if cell.differs else style.REGULAR)
    axes.set_ylim(-0.8, len(cells) + 0.8)
    axes.tick_params(axis="y", labelsize=points(style.TICK if len(cells) < 22 else 18))
    axes.xaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.name_axes(axes, look, x=f"{found.a} minus {found.b} [dB]")
    return figure


def comparison_receivers(findings: Findings, look: style.Theme) -> Figure:
    """Each receiver's paired difference against its distance; the bar is its own interval."""
    found = findings.comparison
    assert found is not None
    shown = [r for r in found.by_receiver if r.difference_db is not None and r.placed]
    stronger = sum(float(r.difference_db or 0.0) > 0 for r in shown)
    title = f"Of {words.things(len(shown), 'receiver')}, {found.a} was stronger at {words.count(stronger)} and {found.b} at "
    title += words.count(len(shown) - stronger)
    note = "A dot is a receiver that heard both setups close together in time; the larger, the more weight it has."
    figure, axes = frame.chart(findings, look, title, notes=(note,), rows=captions.compared(findings))
    biggest = max((r.weight for r in shown), default=1.0)
    color_of = {name: captions.setup_color(findings, look, name) for name in (found.a, found.b)}
    for r in shown:
        x, y = float(r.distance_km or 0.0), float(r.difference_db or 0.0)
        color = color_of[found.a if y > 0 else found.b]
        if r.low_db is not None and r.high_db is not None:
            axes.plot([x, x], [r.low_db, r.high_db], color=color, alpha=0.3, linewidth=points(2.5))
        size = points(10 + 22 * np.sqrt(r.weight / biggest)) ** 2
        axes.scatter([x], [y], s=size, color=color, marker="o" if y > 0 else "s", edgecolors=look.paper, zorder=3)
    axes.axhline(0, color=look.ink, linewidth=points(2.4))
    limit = max([abs(r.difference_db or 0) for r in shown] or [1.0]) * 1.25
    axes.set_ylim(-limit, limit)
    axes.set_xlim(left=0)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    axes.yaxis.set_major_formatter(lambda value, _: words.signed(value, 0))
    style.name_axes(axes, look, x="distance from the station [km]", y=f"{found.a} minus {found.b} [dB]")
    return figure


def nothing(findings: Findings, look: style.Theme) -> Figure:
    """A picture that says there is nothing to draw."""
    read = words.things(findings.counts.read, "row was", "rows were")
    told = style.Words("No report was accepted", f"{read} read; problems.csv says why none could be used.")
    figure = style.sheet(look)
    style.headline(figure, look, told)
    return figure


def _histogram(
    axes: Axes, look: style.Theme, findings: Findings, rows: pd.DataFrame, column: str, edges: np.ndarray, say: Any
) -> None:
    """Bars for everything, a stepped line for each setup, medians as labelled marks."""
    axes.hist(rows[column], bins=edges.tolist(), weights=rows["reports"], color=look.plain, alpha=0.28)
    names = captions.setups(findings, rows)
    top = axes.get_ylim()[1] * 1.22
    axes.set_ylim(0, top)
    groups = [(name, rows[(rows["setup"] == name).to_numpy()]) for name in names] if len(names) > 1 else [("", rows)]
    medians = [quantile.weighted(part[column], part["reports"], [0.5])[0] for _, part in groups]
    rank = np.argsort(
        np.argsort(medians, kind="stable")
    )  # the smallest reaches highest: its label passes over the others
    for at, (name, part) in enumerate(groups):
        color = captions.setup_color(findings, look, name) if name else look.ink
        dash = ("-", (0, (5, 2)), (0, (1, 1)), "-.")[names[name] % 4 if name else 0]
        if name:
            axes.hist(part[column], bins=edges.tolist(), weights=part["reports"], histtype="step", color=color,
                      linewidth=points(4), linestyle=dash)  # fmt: skip
        height = top * (0.985 - 0.07 * rank[at])
        axes.plot([medians[at]] * 2, [0, height], color=color, linewidth=points(3), linestyle=dash)
        label = f"  {name + ': ' if name else ''}median {say(medians[at])}"
        style.text(axes, medians[at], height, label, px=style.TICK, color=color, va="top", weight=style.BOLD, zorder=6)


def _running(rows: pd.DataFrame, edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    bin_of = np.searchsorted(edges, rows["distance_km"], side="right") - 1
    middles, medians = [], []
    for k in range(len(edges) - 1):
        part = rows[bin_of == k]
        if part["reports"].sum() >= _FEW:
            middles.append((edges[k] + edges[k + 1]) / 2)
            medians.append(quantile.weighted(part["snr_db"], part["reports"], [0.5])[0])
    return np.array(middles), np.array(medians)


def _median_km(rows: pd.DataFrame) -> float:
    return float(quantile.weighted(rows["distance_km"], rows["reports"], [0.5])[0])


def _rose(axes: Any, look: style.Theme, values: np.ndarray, color: str, say: Any) -> None:
    from matplotlib.patheffects import withStroke

    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    turn = np.radians(np.arange(sectors.SECTORS) * 30)
    axes.bar(turn, values, width=np.radians(27), color=color, alpha=0.9, zorder=3)
    axes.set_facecolor(look.sea)
    axes.spines["polar"].set_color(look.ring)
    axes.set_xticks(turn, ["N", "30°", "60°", "E", "120°", "150°", "S", "210°", "240°", "W", "300°", "330°"])
    axes.tick_params(labelsize=points(style.TICK), labelfontfamily=style.FAMILY, colors=look.muted, pad=10)
    top = float(values.max()) or 1.0
    ticks = [tick for tick in np.arange(1, 5) * _nice(top / 4) if tick <= top * 1.1]
    axes.set_ylim(0, top * 1.1)
    axes.set_yticks(ticks, [say(tick) for tick in ticks])
    beside = np.maximum(values, np.roll(values, -1))  # of the two petals that a gap lies between
    axes.set_rlabel_position(float(np.argmin(beside)) * 30 + 15)
    halo = [withStroke(linewidth=points(6), foreground=look.sea, alpha=0.85)]
    for label in axes.get_yticklabels():
        label.set(fontsize=points(style.NOTE), color=look.ink, zorder=5, path_effects=halo)
    axes.grid(color=look.ring, linewidth=points(1.2), alpha=0.6)


def _interval(
    axes: Axes, color: str, y: float, middle: float | None, low: float | None, high: float | None,
    wide_low: float | None, wide_high: float | None, *, whole: bool = False,
) -> None:  # fmt: skip
    if middle is None or low is None or high is None:
        return
    if wide_low is not None and wide_high is not None:
        axes.plot([wide_low, wide_high], [y, y], color=color, linewidth=points(2.2))
    axes.plot([low, high], [y, y], color=color, linewidth=points(8), solid_capstyle="butt", alpha=0.75)
    axes.plot([middle], [y], color=color, marker="D" if whole else "o", markersize=points(17))


def _key(axes: Axes, look: style.Theme, names: list[str]) -> None:
    if len(names) > 1:
        axes.set_ylim(top=axes.get_ylim()[1] * 1.14)
        legend = axes.legend(loc="upper right", ncols=len(names), frameon=False, labelcolor=look.ink,
                             prop={"family": style.FAMILY, "size": points(style.LABEL)})  # fmt: skip
        legend.set_zorder(9)


def _naive(times: Any) -> Any:
    return pd.DatetimeIndex(times).tz_convert(None)


def _nice(step: float) -> float:
    """The round number 1, 2, 2.5 or 5 times a power of ten at or above a step."""
    power = 10.0 ** np.floor(np.log10(max(step, 1e-9)))
    return float(next(k * power for k in (1, 2, 2.5, 5, 10) if k * power >= step * (1 - 1e-9)))

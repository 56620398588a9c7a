"""Charts of when and where together: hour against distance, hour against direction; reach as a curve; per watt; by band."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import words
from reach.draw import captions, frame, style
from reach.draw.style import points
from reach.findings import Findings
from reach.measure import sectors
from reach.spots import RING_EDGES_KM, SECTOR_DEG

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = npt.NDArray[np.float64]

FEW = 10  # reports below which a share or a median of a group is not singled out in a title
NOT_ON_THE_AIR = "An empty hour may be an hour without transmissions."
COUNTS_ARE_NO_VERDICT = "Counts alone are no verdict on the setups: each had its own times on the air."
_LOG_EDGES_KM = (0, 50, 100, 200, 400, 800, 1600, 3200, 6400, 12800, 20100)
_DASHES = ("-", (0, (5, 2)), (0, (1, 1)), "-.")


def hour_by_distance(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour and ring of distance."""
    rows = captions.counted(findings)
    hour, ring = rows["hour_utc"].dt.hour.to_numpy(), sectors.ring_of(rows["distance_km"])
    table = _table(ring, hour, rows["reports"], len(RING_EDGES_KM) - 1)
    last = int(np.flatnonzero(table.any(axis=1)).max())
    busiest = int(table[last].argmax())
    title = (
        f"Reports from beyond {words.km(RING_EDGES_KM[last])} came mostly around {busiest:02d} UTC"
        if table[last].sum() >= FEW
        else _fullest_hour(table)
    )
    rings = [
        f"{words.count(a)}{words.EN_DASH}{words.count(b)}"
        for a, b in zip(RING_EDGES_KM[:-1], RING_EDGES_KM[1:], strict=True)
    ]
    return _heat(findings, look, title, table[: last + 1], rings[: last + 1], "distance [km]", (NOT_ON_THE_AIR,))


def hour_by_bearing(findings: Findings, look: style.Theme) -> Figure:
    """Reports by UTC hour and direction."""
    rows = captions.counted(findings)
    sector = sectors.sector_of(rows["bearing_deg"])
    known = sector >= 0
    table = _table(
        sector[known], rows["hour_utc"].dt.hour.to_numpy()[known], rows["reports"].to_numpy()[known], sectors.SECTORS
    )
    at, hour = np.unravel_index(int(table.argmax()), table.shape)
    where = words.compass(float(at * SECTOR_DEG))
    title = f"The fullest hour and direction: {hour:02d} UTC from {where}, {words.things(table[at, hour], 'report')}"
    names = [f"{k * SECTOR_DEG}° {words.compass(k * SECTOR_DEG)}" for k in range(sectors.SECTORS)]
    return _heat(findings, look, title, table, names, "direction", (captions.NO_LISTENER, NOT_ON_THE_AIR))


def distance_log(findings: Findings, look: style.Theme) -> Figure:
    """Reports by distance in steps that double, the setups mirrored about the middle where there are two."""
    rows = captions.counted(findings)
    ring = np.searchsorted(_LOG_EDGES_KM, rows["distance_km"], side="right") - 1
    edges = np.array(_LOG_EDGES_KM[ring.min() : ring.max() + 2], float)
    names = captions.setups(findings, rows)
    beyond = float(rows["reports"][rows["distance_km"] >= 3200].sum())
    title = f"{words.share(beyond, float(rows['reports'].sum()))} of the reports came from beyond {words.km(3200)}"
    figure, axes = frame.chart(
        findings, look, title, notes=(COUNTS_ARE_NO_VERDICT,) if len(names) > 1 else (), left_px=130
    )
    at = np.arange(len(edges) - 1)
    mirrored = len(names) == 2
    for k, name in enumerate(names if mirrored else [""]):  # the first to the left
        part = rows[(rows["setup"] == name).to_numpy()] if name else rows
        count = np.histogram(part["distance_km"], bins=edges, weights=part["reports"])[0]
        side = -1 if mirrored and k == 0 else 1
        color = captions.setup_color(findings, look, name) if mirrored else look.plain
        axes.barh(at, side * count, height=0.8, color=color, hatch="//" if k else "", edgecolor=look.paper, linewidth=0)
        if mirrored:
            style.text(axes, 0.5 + side * 0.02, 1.02, name, px=style.LABEL, color=look.ink, weight=style.BOLD,
                       transform=axes.transAxes, ha="right" if side < 0 else "left", va="bottom")  # fmt: skip
    if mirrored:
        limit = max(abs(value) for value in axes.get_xlim())
        axes.set_xlim(-limit, limit)
        axes.axvline(0, color=look.paper, linewidth=points(3))
    style.tidy(axes, look, grid="x")
    axes.set_yticks(
        at, [f"{words.count(a)}{words.EN_DASH}{words.count(b)}" for a, b in zip(edges[:-1], edges[1:], strict=True)]
    )
    axes.xaxis.set_major_formatter(lambda value, _: words.count(abs(value)))
    style.name_axes(axes, look, x="reports")
    style.text(
        axes,
        -0.005,
        1.02,
        "distance [km]",
        px=style.LABEL,
        color=look.ink,
        transform=axes.transAxes,
        ha="right",
        va="bottom",
    )
    return figure


def reach_curve(findings: Findings, look: style.Theme) -> Figure:
    """Which share of the reports came from beyond a distance: one curve a setup, half and a tenth marked."""
    rows = captions.counted(findings)
    median_km, p90_km = captions.distances(rows)
    title = f"Half of all reports came from beyond {words.km(median_km)}, one in ten from beyond {words.km(p90_km)}"
    names = captions.setups(findings, rows)
    figure, axes = frame.chart(findings, look, title, notes=(COUNTS_ARE_NO_VERDICT,) if len(names) > 1 else ())
    groups = [(name, rows[(rows["setup"] == name).to_numpy()]) for name in names] if len(names) > 1 else [("", rows)]
    for name, part in groups:
        km, share = _beyond(part)
        axes.step(km, share, where="post", linewidth=points(5), linestyle=_DASHES[names[name] % 4 if name else 0],
                  label=name, color=captions.setup_color(findings, look, name) if name else look.plain)  # fmt: skip
    _key(axes, look, len(groups) > 1)
    for mark, at_km in ((50.0, float(median_km)), (10.0, float(p90_km))):
        axes.plot(
            [0.0, at_km, at_km], [mark, mark, 0.0], color=look.muted, linewidth=points(2.2), linestyle=(0, (2, 3))
        )
        # At the foot, left of the mark, there is no curve, since curves only fall.
        style.text(axes, at_km, 1.5, f"{words.km(at_km)} ", px=style.TICK, color=look.ink, weight=style.BOLD, va="bottom",
                   ha="right")  # fmt: skip
    axes.set_xlim(0, float(rows["distance_km"].max()) * 1.02 + 1)
    axes.set_ylim(0, 103)
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.name_axes(axes, look, x="distance from the station [km]", y="% of the reports from beyond")
    return figure


def per_watt(findings: Findings, look: style.Theme) -> Figure:
    """Reports per watt and hour on the air, by band and setup. Needs a setup and band whose power is known."""
    table = watts(findings)
    best = table.sort_values("per_watt", kind="stable").iloc[-1]
    what = " with ".join(part for part in (str(best["band"]), str(best["setup"])) if part)
    at = "antenna" if (table["at"] == "antenna").all() else "radio"
    title = f"{what} brought {words.count(best['per_watt'])} reports an hour for each watt, the most of all"
    notes = (f"Power at the {at}. Hours are ten-minute stretches with at least one report of that band and setup.",)
    figure, axes = frame.chart(
        findings, look, title, notes=notes, left_px=200, right_px=160, rows=captions.everything(findings)
    )
    y = np.arange(len(table))[::-1]
    places = captions.setups(findings, table)
    for name in table["setup"].unique():
        of, k = (table["setup"] == name).to_numpy(), places.get(name, 0)
        color = captions.setup_color(findings, look, name) if name else look.plain
        axes.barh(y[of], table["per_watt"][of], height=0.7, color=color, hatch=("", "//", "xx", "..")[k % 4],
                  edgecolor=look.paper, linewidth=0)  # fmt: skip
    for at_y, (_, row) in zip(y, table.iterrows(), strict=True):
        label = f"  {words.count(row['per_watt'])}  ({words.count(row['reports'])} at {words.watt(row['power_w'])})"
        style.text(axes, row["per_watt"], at_y, label, px=style.TICK, color=look.ink, va="center")
    style.tidy(axes, look, grid="x")
    axes.set_xlim(0, float(table["per_watt"].max()) * 1.16)
    pairs = zip(table["band"].astype(str), table["setup"].astype(str), strict=True)
    labels = [" · ".join(part for part in pair if part) for pair in pairs]
    axes.set_yticks(y, [style.drawable(label) for label in labels])
    style.name_axes(axes, look, x="reports per hour and watt")
    return figure


def watts(findings: Findings) -> pd.DataFrame:
    """Reports per hour and watt: band, setup ("" where unknown), reports, hours, power_w, at, per_watt; by band, setup.

    Only groups whose power is known. Hours count ten-minute intervals with a report of the group.
    """
    timeline = findings.tally.timeline
    setup = timeline["setup"].astype(object).where(timeline["setup"].notna(), "")
    groups = timeline.groupby([timeline["band"].astype(str), setup], sort=True)
    found = []
    for (band, name), part in groups:
        power = findings.budgets.get((str(name), str(band)))
        power_w, at = power.known if power is not None else (None, "radio")
        if power_w is not None:
            hours = part["start_utc"].nunique() / 6
            reports = int(part["reports"].sum())
            found.append((band, name, reports, hours, power_w, at, reports / hours / power_w))
    return pd.DataFrame(found, columns=["band", "setup", "reports", "hours", "power_w", "at", "per_watt"])


def bands_distance(findings: Findings, look: style.Theme) -> Figure:
    """How far, a small chart a band, on one scale."""
    rows = captions.counted(findings)
    bands = _by_wavelength(rows["band"])
    medians = {band: float(captions.distances(rows[(rows["band"] == band).to_numpy()], (0.5,))[0]) for band in bands}
    title = "Half of the reports came from beyond " + words.listed(
        [f"{words.km(medians[b])} on {b}" for b in bands[:4]]
    )
    figure, top, foot = frame.around(findings, look, title)
    step = 500.0 if rows["distance_km"].max() > 4000 else 100.0
    edges = np.arange(0, float(rows["distance_km"].max()) + step, step)
    for axes, band in zip(frame.rows_of_axes(figure, look, top, foot, len(bands)), bands, strict=True):
        part = rows[(rows["band"] == band).to_numpy()]
        axes.hist(part["distance_km"], bins=edges.tolist(), weights=part["reports"], color=look.plain, rwidth=0.9)
        axes.axvline(medians[band], color=look.ink, linewidth=points(3.5))
        height = axes.get_ylim()[1]
        style.text(axes, medians[band], height, f"  median {words.km(medians[band])}", px=style.TICK, color=look.ink,
                   weight=style.BOLD, va="top")  # fmt: skip
        box: dict[str, Any] = {"transform": axes.transAxes, "ha": "right", "va": "center"}
        style.text(axes, -0.06, 0.62, band, px=32, color=look.ink, weight=style.BOLD, **box)
        style.text(
            axes,
            -0.06,
            0.25,
            words.things(int(part["reports"].sum()), "report"),
            px=style.NOTE,
            color=look.muted,
            **box,
        )
        axes.locator_params(axis="y", nbins=3, integer=True)
    axes.set_xlim(0, edges[-1])
    axes.xaxis.set_major_formatter(lambda value, _: words.count(value))
    style.name_axes(axes, look, x=f"distance from the station [km]; a bar is {words.km(step)}")
    return figure


def _table(row: npt.ArrayLike, hour: npt.ArrayLike, reports: npt.ArrayLike, count: int) -> Floats:
    table = np.zeros((count, 24))
    np.add.at(table, (np.asarray(row), np.asarray(hour)), np.asarray(reports, float))
    return table


def _fullest_hour(table: Floats) -> str:
    hour = int(table.sum(axis=0).argmax())
    return f"Most reports came around {hour:02d} UTC: {words.count(table[:, hour].sum())}"


def _heat(findings: Findings, look: style.Theme, title: str, table: Floats, names: list[str], what: str,
          notes: tuple[str, ...]) -> Figure:  # fmt: skip
    """A table of counts by UTC hour as shaded cells, each with its number; the first row lies lowest."""
    from matplotlib.colors import LogNorm

    figure, axes = frame.chart(findings, look, title, notes=notes, left_px=110)
    norm = LogNorm(1, max(float(table.max()), 2.0))
    colours = style.ramp(look.ramp)
    axes.pcolormesh(np.arange(25), np.arange(len(names) + 1), np.where(table > 0, table, np.nan), cmap=colours, norm=norm,
                    edgecolors=look.paper, linewidth=points(2))  # fmt: skip
    for (row, hour), value in np.ndenumerate(table):
        if value:
            light = style.oklab(np.array(colours(norm(value))[:3]))[0] > 0.62
            style.text(axes, hour + 0.5, row + 0.5, words.count(value), px=18, ha="center", va="center",
                       color="#101820" if light else "#ffffff")  # fmt: skip
    style.tidy(axes, look, grid="")
    used = np.flatnonzero(table.any(axis=0))
    first, last = (int(used.min()), int(used.max()) + 1) if np.ptp(used) < 12 else (0, 24)
    every = 1 if last - first <= 12 else 2
    axes.set_xticks(range(first, last + 1, every), [f"{hour:02d}" for hour in range(first, last + 1, every)])
    axes.set_xlim(first, last)
    axes.set_yticks(np.arange(len(names)) + 0.5, names)
    axes.set_ylim(0, len(names))
    style.name_axes(axes, look, x="hour of the day [UTC]; the numbers are reports")
    style.text(
        axes, -0.005, 1.01, what, px=style.LABEL, color=look.ink, transform=axes.transAxes, ha="right", va="bottom"
    )
    return figure


def _beyond(rows: pd.DataFrame) -> tuple[Floats, Floats]:
    """Distances in rising order, and the share of the reports from beyond each [%]."""
    order = np.argsort(rows["distance_km"].to_numpy())
    km, count = rows["distance_km"].to_numpy()[order], rows["reports"].to_numpy()[order]
    return np.append(0.0, km), 100 * (1 - np.append(0, np.cumsum(count)) / count.sum())


def _key(axes: Axes, look: style.Theme, wanted: bool) -> None:
    if wanted:
        axes.legend(loc="upper right", frameon=False, labelcolor=look.ink, handlelength=3.2,
                    prop={"family": style.FAMILY, "size": points(style.LABEL)})  # fmt: skip


def _by_wavelength(column: pd.Series) -> list[str]:
    """The bands in use, longest wave first."""

    def metres(name: str) -> float:
        digits = "".join(c for c in name if c.isdigit() or c == ".")
        return float(digits or 0) * (0.01 if name.endswith("cm") else 0.001 if name.endswith("mm") else 1)

    return sorted({str(name) for name in column.dropna()}, key=lambda name: (-metres(name), name))

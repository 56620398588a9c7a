"""Every picture of a walk, by name: what it is called, what it says to those who cannot see it, how it is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from reach.draw import charts, findings, maps, style, words
from reach.result import Result

if TYPE_CHECKING:
    from matplotlib.figure import Figure


@dataclass(frozen=True)
class Picture:
    """One picture: a file name, a caption, a text for those who cannot see it, and how to make it."""

    name: str
    caption: str
    alt_text: str
    build: Callable[[], Figure]


def pictures(result: Result, *, style: str = "light") -> list[Picture]:
    """The pictures of a walk, most telling first.

    style : light or dark
    Each `build` makes a new Figure of 1920 x 1080 px; nothing is drawn before. DrawError for an unknown style.
    """
    look = _theme(style)
    if result.tally.reports == 0:
        return [Picture("nothing", "No report", "No report was accepted.", partial(charts.nothing, result, look))]
    rows, _ = findings.counted(result)
    behind = (
        f"{words.things(int(rows['reports'].sum()), 'report')} of {words.things(rows['rx_call'].nunique(), 'receiver')}"
    )
    entries = [
        (
            "map-station",
            "Round the station",
            maps.station,
            "Map centred on the station with a great circle to each receiver",
        ),
        ("map-close", "Nine reports in ten", maps.close, "Close-up of the map in which nine reports in ten lie"),
        ("map-world", "The world", maps.world, "World map with a great circle to each receiver"),
        ("distance", "How far", charts.distance, "Histogram of distances"),
        ("snr", "How strong", charts.snr, "Histogram of signal-to-noise ratios"),
        ("snr-by-distance", "Strength against distance", charts.snr_by_distance, "Scatter of SNR against distance"),
        ("bearing", "Where to", charts.bearing, "Two roses: reports and median distance by direction"),
        ("hours", "When", charts.hours, "Bars of reports by hour of the day in UTC"),
        ("timeline", "In time order", charts.timeline, "Bars of reports per ten minutes"),
    ]
    if result.comparison is not None and result.comparison.by_receiver and result.comparison.difference_db is not None:
        entries += [
            ("comparison", "Part by part", charts.comparison_cells, "Differences of the setups with intervals"),
            (
                "comparison-receivers",
                "By receiver",
                charts.comparison_receivers,
                "Difference at each receiver by distance",
            ),
        ]
    return [
        Picture(name, caption, f"{alt}; {behind}.", partial(build, result, look))
        for name, caption, build, alt in entries
    ]


def _theme(name: str) -> style.Theme:
    return style.theme(name)

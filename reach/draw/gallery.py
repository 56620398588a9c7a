"""Every picture of a walk, by name: what it is called, what it says to those who cannot see it, how it is made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Final

from reach.base.tongue import Phrase
from reach.base.words import PRINT
from reach.draw import areas, calendar, captions, charts, doubts, maps, patterns, season, style, versus
from reach.findings import Findings
from reach.measure.grain import Unit
from reach.tell.sentences import direction
from reach.tell.sentences import reach as said

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from reach.compare.comparison import Comparison


@dataclass(frozen=True)
class Picture:
    """One picture: a file name, a text for those who cannot see it, and how to make it."""

    name: str
    alt_text: str
    build: Callable[[], Figure]


Entry = tuple[str, Callable[[Findings, "style.Theme"], "Figure"], Phrase]
# Name, how it is made, what it is to those who cannot see it.
ALWAYS: list[Entry] = [
    ("map-station", maps.station, Phrase("Map centred on the station with a great circle to each receiver")),
    ("map-close", maps.close, Phrase("Close-up of the map in which nine reports in ten lie")),
    ("map-world", maps.world, Phrase("World map with a great circle to each receiver")),
    (
        "map-reach",
        areas.reach,
        Phrase("Map of the distance that half and nine in ten reports of each direction stayed within"),
    ),
    ("map-squares", areas.squares, Phrase("Map of locator squares shaded by their reports")),
    ("map-busiest-hour", areas.busiest_hour, Phrase("World map of the hour with most reports, with the night side")),
    ("distance", charts.distance, Phrase("Histogram of distances")),
    ("distance-log", patterns.distance_log, Phrase("Bars of reports by distance in steps that double")),
    ("reach-curve", patterns.reach_curve, Phrase("Curve of the share of reports from beyond each distance")),
    ("bands-distance", patterns.bands_distance, Phrase("Histogram of distances, a small one for each band")),
    ("snr", charts.snr, Phrase("Histogram of signal-to-noise ratios")),
    ("snr-by-distance", charts.snr_by_distance, Phrase("Scatter of SNR against distance")),
    ("bearing", charts.bearing, Phrase("Two roses: reports and median distance by direction")),
    ("hours", charts.hours, Phrase("Bars of reports by hour of the day in UTC")),
    ("hour-by-distance", patterns.hour_by_distance, Phrase("Table of reports by hour and distance, shaded")),
    ("hour-by-bearing", patterns.hour_by_bearing, Phrase("Table of reports by hour and direction, shaded")),
    ("timeline", charts.timeline, Phrase("Bars of reports per ten minutes")),
]
# Where no locator is corroborated: what can be shown without claiming any reach.
UNSURE: list[Entry] = [
    (
        "map-claimed",
        maps.claimed,
        Phrase(
            "Map centred on the station with a hollow mark where each receiver claims to be; no locator is corroborated"
        ),
    ),
    *(entry for entry in ALWAYS if entry[0] == "timeline"),
]
SUSPECTS: Entry = ("suspects", doubts.suspects, Phrase("Small maps of doubted locators: as claimed and as probable"))
SEASON: Entry = ("season", season.season, Phrase("Level of the station day by day, with what was found of it"))
_OF_DIRECTIONS = ("map-reach", "bearing", "hour-by-bearing")  # they need a report with a direction
_OF_ALL = ("map-claimed", "timeline", "suspects", "season", "setups")  # they count every accepted row
COMPARED: list[Entry] = [
    ("comparison", charts.comparison_cells, Phrase("Differences of the setups with intervals")),
    ("comparison-receivers", charts.comparison_receivers, Phrase("Difference at each receiver by distance")),
    ("comparison-map", versus.receivers_map, Phrase("Map of receivers coloured by the difference of the setups")),
    ("comparison-blocks", versus.blocks, Phrase("Difference of the setups at each stretch on the air")),
    (
        "comparison-parts",
        versus.parts_map,
        Phrase("Small maps of the difference in each direction and at each distance"),
    ),
]
SEVERAL: Entry = ("setups", charts.several, Phrase("Differences of every two setups with intervals"))


def pictures(findings: Findings, *, style: str = "light") -> list[Picture]:
    """The pictures of a walk, most telling first.

    style : light or dark
    Each `build` makes a new Figure of 1920 x 1080 px; nothing is drawn before. DrawError for an unknown style.
    """
    look, way = _theme(style), direction.ends(findings)
    if findings.tally.reports == 0:
        return [Picture("nothing", f"{PRINT.text(said.NO_REPORT)}.", partial(charts.nothing, findings, look))]
    found = findings.reach.headline
    entries = list(ALWAYS) if found.reports else list(UNSURE)
    if not found.has_directions:  # all from the station's own cell, which has no direction
        entries = [entry for entry in entries if entry[0] not in _OF_DIRECTIONS]
    if all(sector.is_few for sector in found.sectors):  # of which no line is drawn
        entries = [entry for entry in entries if entry[0] != "map-reach"]
    if len(findings.suspects):
        entries.append(SUSPECTS)
    if season.has(findings):
        entries.append(SEASON)
    compared = findings.comparison
    if compared is not None and compared.difference_db is not None and compared.by_receiver:
        entries += [entry for entry in COMPARED if _has(findings, compared, entry[0])]
    if findings.several is not None and findings.several.differences:
        entries.append(SEVERAL)
    if findings.calendar is not None:
        entries = [LONG_TIMELINE if entry[0] == "timeline" else entry for entry in entries]
        entries += _of_long_periods(findings.calendar.grain.table) if found.reports else []
    return [
        Picture(
            name,
            f"{PRINT.text(alt)}; {said.behind(captions.behind(findings, _rests_on(name)), PRINT, way)}.",
            partial(build, findings, look),
        )
        for name, build, alt in (_directed(entry, way) for entry in entries)
    ]


LONG_TIMELINE: Entry = ("timeline", charts.timeline, Phrase("Bars of reports by day, week, month or year"))


def _of_long_periods(unit: Unit) -> list[Entry]:
    """What only a period beyond some days has, named for its steps."""
    return [
        ("calendar", calendar.calendar, Phrase("Calendar of days, shaded by reports and by median distance")),
        (f"hours-by-{unit}", calendar.hours, _HOURS_BY[unit]),
        (f"farthest-by-{unit}", calendar.farthest, _FARTHEST_BY[unit]),
    ]


_HOURS_BY: Final = {
    Unit.WEEK: Phrase("Table of hours and weeks for each band, shaded by days with reports"),
    Unit.MONTH: Phrase("Table of hours and months for each band, shaded by days with reports"),
    Unit.YEAR: Phrase("Table of hours and years for each band, shaded by days with reports"),
}
_FARTHEST_BY: Final = {
    Unit.WEEK: Phrase("Dots at the farthest distance of each week, with a line of medians"),
    Unit.MONTH: Phrase("Dots at the farthest distance of each month, with a line of medians"),
    Unit.YEAR: Phrase("Dots at the farthest distance of each year, with a line of medians"),
}

# What differs where the station heard others.
_HEARD: Final = {
    "map-station": Phrase("Map centred on the station with a great circle to each transmitter"),
    "map-world": Phrase("World map with a great circle to each transmitter"),
    "map-claimed": Phrase(
        "Map centred on the station with a hollow mark where each transmitter claims to be; no locator is corroborated"
    ),
    "comparison-receivers": Phrase("Difference at each transmitter by distance"),
    "comparison-map": Phrase("Map of transmitters coloured by the difference of the setups"),
    "comparison-blocks": Phrase("Difference of the setups at each stretch in use"),
}


def _directed(entry: Entry, way: direction.Ends) -> Entry:
    """An entry as the direction has it."""
    name, build, alt = entry
    return name, build, _HEARD.get(name, alt) if way is direction.HEARD else alt


def _rests_on(name: str) -> captions.Rest:
    """Which rows a picture shows."""
    if name in _OF_ALL:
        return "everything"
    return "compared" if name.startswith("comparison") else "counted"


def _theme(name: str) -> style.Theme:
    return style.theme(name)


def _has(findings: Findings, compared: Comparison, name: str) -> bool:
    """Whether a comparison has what a picture of it shows."""
    if name in ("comparison-receivers", "comparison-map"):
        return not versus.differences(findings).empty
    if name == "comparison-blocks":
        return any(block.difference_db is not None for block in compared.by_block)
    return name != "comparison-parts" or any(cell.by in versus.PARTS and cell.shown for cell in compared.cells)

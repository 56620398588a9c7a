"""Maps, and the curve of a season, without words around them, drawn into a place on a figure: for slides, which say the words themselves.

Each has its scale of colours in a corner and nothing else that needs reading.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from reach.base import words
from reach.draw import areas, basemap, captions, layers, maps, style, versus
from reach.draw import calendar as over_time
from reach.draw import season as curve
from reach.findings import Findings
from reach.tell.sentences import calendar as sentences

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

RIM_PX: Final = 46  # round the disc, for bearings
BAR_PX: Final = 240
BAR_SHARE: Final = 0.27  # of a narrow place, so that the bar stays clear of the disc
_WORLD_PX: Final = 168  # the small map of the whole world: clear of the bearings round the large one
BAR_X_PX: Final = 24  # so that the name of its first tick is not cut
_HEAD_PX, _NAMES_PX, _AIR_PX, _HOURS_PX = 70, 44, 44, 54  # above and below a calendar, between two, left of hours
_KEY_BELOW_PX, _KEY_IN_PX = 44, 40  # a scale below the name of its calendar
BANDS: Final = 4  # whose hours have room side by side
_OUT_PX: Final = 11  # names of bearings stand farther out than on a large map, where a px is less of the disc


def heard(
    figure: Figure, look: style.Theme, findings: Findings, *, x: float, y: float, width: float, height: float
) -> Axes:
    """Who heard the station, round the station, coloured by median SNR; those not counted hollow. Where it does not show all,
    the whole world stands small in the corner.

    x, y, width, height : the place [px]; the disc is as high as it and lies at its right end
    Returns the map's axes.
    """
    sure, others = captions.receivers(findings)
    far_km = maps.opens_km(findings)
    axes, site = _disc(figure, look, findings, far_km, sure["bearing_deg"], x, y, width, height)
    if maps.goes_on(findings):
        maps.small_world(figure, look, findings, x + 4, y + 4, _WORLD_PX)
    maps.heard(axes, look, site, sure, others)
    if not len(sure):  # nothing is coloured
        return axes
    long = min(BAR_PX, BAR_SHARE * width)
    maps.snr_bar(
        figure, look, sure, words.text("Median SNR [dB]"), x=x + BAR_X_PX, y=y + height - 92, length=long, fine_db=15
    )
    return axes


def compared(
    figure: Figure, look: style.Theme, findings: Findings, *, x: float, y: float, width: float, height: float
) -> Axes:
    """Receivers coloured by A minus B, their shape saying which they heard, and where it does not show all, the whole world small.
    Needs a comparison with a difference.

    x, y, width, height : as for `heard`
    Returns the map's axes.
    """
    table = versus.differences(findings)
    far_km = maps.opens_on_km(table)
    axes, site = _disc(figure, look, findings, far_km, table["bearing_deg"], x, y, width, height)
    norm = versus.scale(table["difference_db"])
    if versus.goes_on(table):
        versus.whole_world(figure, look, site, table, x + 4, y + 4, _WORLD_PX)
    versus.dots(axes, look, table, norm)
    layers.station(axes, look, site)
    long = min(BAR_PX, BAR_SHARE * width)
    versus.scale_bar(figure, look, norm, words.text("Difference [dB]"), x=x + BAR_X_PX, y=y + height - 92, length=long)
    return axes


def season(
    figure: Figure, look: style.Theme, findings: Findings, *, x: float, y: float, width: float, height: float
) -> Axes:
    """The level of the station day by day. Needs a season with days.

    x, y, width, height : as for `heard`
    Returns the chart's axes.
    """
    axes: Axes = style.place(figure, x + 70, y + 60, width - 90, height - 160)
    style.tidy(axes, look)
    curve.draw_season(axes, findings, look)
    return axes


def calendar(
    figure: Figure, look: style.Theme, findings: Findings, *, x: float, y: float, width: float, height: float,
    both: bool = True,
) -> list[Axes]:  # fmt: skip
    """Reports of each day by the calendar, and the median distances. Needs a long period.

    x, y, width, height : as for `heard`; both : whether the distances are shown as well; the reports alone are not named
    Returns the axes of the calendars.
    """
    cells = over_time.Cells.of(sentences.found_in(findings))
    drawings = [
        (over_time.draw_calendar, words.text("reports"), look.counts, over_time.reports_shown(cells)),
        (
            over_time.draw_calendar_distance,
            words.text("median distance [km]"),
            look.far,
            over_time.distances_shown(cells),
        ),
    ][: 2 if both else 1]
    made: list[Axes] = []
    down = len(drawings) if cells.strip else 1
    across = len(drawings) // down
    high, wide = height / down, (width - _AIR_PX * (across - 1)) / across
    below = 0 if not both or cells.strip else _KEY_BELOW_PX  # side by side a scale has no room right of the name
    head = _HEAD_PX + below
    for k, (draw, what, colours, shown) in enumerate(drawings):
        left, top = x + (k % across) * (wide + _AIR_PX), y + (k // across) * high
        if both:
            style.write(figure, left, top, what, px=style.LABEL, color=look.ink, weight=style.BOLD)
        at = left + (wide - 320 if not below else _KEY_IN_PX)
        over_time.key(figure, look, colours, shown, x=at, y=top + 6 + below, length=240)
        room = high - head - _NAMES_PX
        side = min((wide - cells.names_px) / cells.columns, 1.6 * room / cells.rows)
        axes = style.place(figure, left + cells.names_px, top + head, side * cells.columns, room)
        draw(axes, findings, look)
        made.append(axes)
    return made


def openings(
    figure: Figure, look: style.Theme, findings: Findings, *, x: float, y: float, width: float, height: float
) -> list[Axes]:
    """The hours in which each of the busiest bands was heard over the period, side by side. Needs a long period.

    x, y, width, height : as for `heard`
    Returns the axes, one a band.
    """
    shown = over_time.busiest(sentences.found_in(findings), BANDS)
    across = min(2, len(shown))
    down = -(-len(shown) // across)
    left, made = x + _HOURS_PX, []
    local_px = _HOURS_PX if findings.local_time is not None else 0
    wide = (width - _HOURS_PX - local_px - _AIR_PX * (across - 1)) / across
    high = (height - _HEAD_PX - 40) / down
    for k, band in enumerate(shown):
        row, column = divmod(k, across)
        at_x, at_y = left + column * (wide + _AIR_PX), y + row * high
        axes = style.place(figure, at_x, at_y + _NAMES_PX, wide, high - 2 * _NAMES_PX - 10)
        style.write(figure, at_x, at_y + 2, band, px=style.LABEL, color=look.ink, weight=style.BOLD)
        over_time.draw_hours(axes, findings, look, band=band, named=k == len(shown) - 1 or column == across - 1)
        if column:
            axes.tick_params(axis="y", labelleft=False)
        made.append(axes)
    over_time.key_of_shares(figure, look, x=left, y=y + height - 70, length=170)
    return made


def _disc(figure: Figure, look: style.Theme, findings: Findings, far_km: float, bearing_deg: Any, x: float,
          y: float, width: float, height: float) -> tuple[Any, layers.Site]:  # fmt: skip
    """The map round the station with land, rings and rim."""
    from matplotlib.text import Text

    site = areas.station_site(findings)
    side = min(width, height) - 2 * RIM_PX
    axes: Any = style.place(
        figure, x + width - RIM_PX - side, y + (height - side) / 2, side, side,
        projection=basemap.round_the_station(site.lon_deg, site.lat_deg),
    )  # fmt: skip
    out = 1 + 2 * _OUT_PX / side
    for name in areas.furnish(axes, look, site, far_km, bearing_deg, roomy=0.9):
        if isinstance(name, Text) and name.get_text().endswith("°"):
            at_x, at_y = name.get_position()
            name.set_position((at_x * out, at_y * out))
    return axes, site

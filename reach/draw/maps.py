"""Maps of who heard the station: round it, the close-up, the world. The layers are in `layers`.

`draw_...` draws onto the axes of a map (of a projection of `basemap`) and returns what it drew; the function without
that prefix makes the whole picture, with its words round it.
"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import words
from reach.base.tongue import Phrase
from reach.base.words import PRINT
from reach.draw import areas, basemap, captions, frame, layers, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.measure import frame as opening
from reach.spots import SUSPECT
from reach.tell.sentences import pictures
from reach.tell.sentences import reach as sentences

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

_SNR_STEP_DB = 5
_SMALL_PX = 270  # the small map of the whole world, at most
SNR = Phrase("Median SNR in 2500{gap}Hz [dB]")


def station(findings: Findings, look: style.Theme) -> Figure:
    """What matters of what was heard, round the station, and the whole world small beside it: bearings and distances are true."""
    figure, top, foot = frame.beside(
        findings,
        look,
        sentences.headline(findings, PRINT),
        notes=tuple(filter(None, (pictures.near_the_antipode(findings, PRINT), captions.no_far_end(findings)))),
    )
    draw_station(_disc(figure, findings), findings, look)
    _legend(figure, look, findings, top, foot=foot)
    return figure


def draw_station(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns what `heard` does. What lies beyond the map is on the small one of `station`."""
    return _round(axes, findings, look, opens_km(findings))


def opens_km(findings: Findings) -> float:
    """How far the map round the station shows: what matters, no farther than there is anything to see."""
    return min(opens_on_km(findings.sure), radius_km(findings.receivers["distance_km"]))


def opens_on_km(table: pd.DataFrame) -> float:
    """The same for receivers of one's own choice: distance_km, reports."""
    return min(opening.opens_km(table["distance_km"], table["reports"]), radius_km(table["distance_km"]))


def goes_on(findings: Findings) -> bool:
    """Whether there is something to see beyond that map."""
    return opens_km(findings) < radius_km(findings.receivers["distance_km"])


def close(findings: Findings, look: style.Theme) -> Figure:
    """The part of the map in which nine reports of ten lie."""
    figure, top, _ = frame.beside(
        findings, look, pictures.close(findings, PRINT), notes=(captions.no_far_end(findings),)
    )
    draw_close(_disc(figure, findings), findings, look)
    _legend(figure, look, findings, top)
    return figure


def draw_close(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns what `heard` does."""
    p90_km = findings.reach.headline.p90_km.value
    return _round(axes, findings, look, min(max(p90_km * 1.05, 100.0), basemap.RIM_KM - 1))


def claimed(findings: Findings, look: style.Theme) -> Figure:
    """Where receivers say they are, when not one of them is corroborated: hollow marks and no finding."""
    title = captions.NOTHING_CLAIMED
    figure, top, _ = frame.beside(findings, look, title, notes=(pictures.CLAIMS,), rest="everything")
    draw_claimed(_disc(figure, findings), findings, look)
    _lines(figure, look, top, [pictures.claimed_marks(findings), *_hollow(findings.receivers)])
    return figure


def draw_claimed(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns what `heard` does."""
    site, table = areas.station_site(findings), findings.receivers
    areas.furnish(axes, look, site, radius_km(table["distance_km"]), table["bearing_deg"])
    return heard(axes, look, site, table.iloc[:0], table)


def world(findings: Findings, look: style.Theme) -> Figure:
    """The whole world, with the night side at the middle of the period where that is within a day."""
    middle, others = _middle(findings), findings.unsure
    notes = (captions.no_far_end(findings), *_hollow(others))
    if middle is not None:
        notes = (pictures.night(middle, words.text(", the middle of the period."), findings.local_time), *notes)
    figure, top, foot = frame.around(findings, look, pictures.world(findings, PRINT), notes=notes)
    site = areas.station_site(findings)
    draw_world(areas.world_axes(figure, site, top + 8, foot - top - 122), findings, look)
    snr_bar(figure, look, findings.sure, words.text(SNR), x=style.MARGIN_PX, y=foot - 100, length=420)
    return figure


def draw_world(axes: Any, findings: Findings, look: style.Theme) -> list[Artist]:
    """Returns what `heard` does."""
    areas.furnish_world(axes, look)
    middle = _middle(findings)
    if middle is not None:
        layers.Night(axes, look, middle)
    return heard(axes, look, areas.station_site(findings), findings.sure, findings.unsure)


def _middle(findings: Findings) -> datetime | None:
    """The middle of the period, for the night side; None beyond a day, when no one night is meant."""
    first, last = findings.reach.first_utc, findings.reach.last_utc
    return (first + (last - first) / 2).to_pydatetime() if last - first <= pd.Timedelta(days=1) else None


def radius_km(distance_km: pd.Series) -> float:
    """How far a map round the station must show to hold these distances, with some room."""
    far = float(distance_km.max()) if len(distance_km) else 1000.0
    return min(far * 1.04 + 50, basemap.RIM_KM - 1)


def _disc(figure: Figure, findings: Findings) -> Any:
    site = areas.station_site(findings)
    return frame.disc(figure, basemap.round_the_station(site.lon_deg, site.lat_deg))


def _round(axes: Any, findings: Findings, look: style.Theme, shown_km: float) -> list[Artist]:
    site = areas.station_site(findings)
    areas.furnish(axes, look, site, shown_km, findings.sure["bearing_deg"])
    return heard(axes, look, site, findings.sure, findings.unsure)


def heard(axes: Any, look: style.Theme, site: Site, sure: pd.DataFrame, others: pd.DataFrame) -> list[Artist]:
    """Paths thin below round dots, coloured by median SNR; those not counted hollow, suspects with a query mark.

    sure, others : as captions.receivers gives them
    Returns the paths, the dots, the marks of those not counted and of the station.
    """
    colours, norm = style.ramp(look.ramp), snr_norm(sure)
    drawn: list[Artist] = []
    if len(sure):
        shade = colours(norm(sure["median_snr_db"].to_numpy(float)))
        drawn.append(layers.paths(axes, look, site, sure["rx_lon_deg"], sure["rx_lat_deg"], shade))
        drawn.append(layers.receivers(axes, look, sure, colours, norm))
    suspect = (others["trust"] == SUSPECT).to_numpy()
    if not suspect.all():
        drawn.append(layers.unconfirmed(axes, look, others["rx_lon_deg"][~suspect], others["rx_lat_deg"][~suspect]))
    if suspect.any():
        drawn += layers.suspects(axes, look, others["rx_lon_deg"][suspect], others["rx_lat_deg"][suspect])
    return [*drawn, layers.station(axes, look, site)]


def _legend(figure: Figure, look: style.Theme, findings: Findings, top: float, *, foot: float | None = None) -> None:
    """The scale and what the marks are, then the farthest: beside the whole world, small, where the map leaves some of it out.

    foot : where the notes begin [px], if the small map is wanted
    """
    snr_bar(figure, look, findings.sure, words.text(SNR), x=style.MARGIN_PX, y=top, length=420)
    y = _lines(figure, look, top + 108, [*pictures.dots(findings), *_hollow(findings.unsure)]) + 18
    x, room = float(style.MARGIN_PX), float(frame.COLUMN_PX)
    if foot is not None and goes_on(findings):
        side = min(foot - y - 16, _SMALL_PX)
        small_world(figure, look, findings, x, y, side)
        x, room = x + side + 28, room - side - 28
        y = (
            style.paragraph(figure, x, y, words.text(pictures.WHOLE_WORLD), px=style.TICK, color=look.muted, room=room)
            + 10
        )
    far = findings.reach.headline.farthest
    if far is not None:
        style.write(figure, x, y, words.text("Farthest"), px=style.LABEL, color=look.ink, weight=style.BOLD)
        style.paragraph(figure, x, y + 38, pictures.farthest(far, PRINT), px=style.LABEL, color=look.ink, room=room)


def small_world(figure: Figure, look: style.Theme, findings: Findings, x: float, y: float, side: float) -> None:
    """A small map of everything round the station, and on it how far the large one shows."""
    axes = whole_world(figure, look, areas.station_site(findings), opens_km(findings), x, y, side)
    sure = findings.sure
    layers.marks(axes, layers.arcs.project(axes.projection, sure["rx_lon_deg"], sure["rx_lat_deg"]), s=style.points(6) ** 2,
                 color=look.plain, linewidths=0, zorder=layers.Z_DOTS)  # fmt: skip


def whole_world(figure: Figure, look: style.Theme, site: Site, shown_km: float, x: float, y: float, side: float) -> Any:
    """A small map of the whole world round the station without marks, and on it how far the large one shows. Returns its axes."""
    axes = style.place(figure, x, y, side, side, projection=basemap.round_the_station(site.lon_deg, site.lat_deg))
    layers.bare_disc(axes, look, basemap.RIM_KM - 1)
    layers.land(axes, look)
    layers.rings(axes, look, site, [shown_km], bold=True)
    return axes


def _lines(figure: Figure, look: style.Theme, y: float, said: list[str]) -> float:
    """Small print in the column beside the map. Returns where it ends [px]."""
    for line in said:
        y = style.paragraph(figure, style.MARGIN_PX, y, line, px=style.TICK, color=look.muted, room=frame.COLUMN_PX) + 6
    return y


def _hollow(others: pd.DataFrame) -> list[str]:
    """What hollow marks stand for, where there are any."""
    suspect = int((others["trust"] == SUSPECT).sum())
    return pictures.hollow(suspect, len(others) - suspect, PRINT)


def snr_norm(sure: pd.DataFrame) -> Normalize:
    """A scale of whole steps that holds every receiver's median SNR."""
    from matplotlib.colors import Normalize

    levels = sure["median_snr_db"].to_numpy(float)
    low, high = (float(levels.min()), float(levels.max())) if len(levels) else (-30.0, 0.0)
    low = np.floor(low / _SNR_STEP_DB) * _SNR_STEP_DB
    return Normalize(low, max(np.ceil(high / _SNR_STEP_DB) * _SNR_STEP_DB, low + _SNR_STEP_DB))


def snr_bar(
    figure: Figure, look: style.Theme, sure: pd.DataFrame, label: str, *, x: float, y: float, length: float,
    fine_db: float = 30,
) -> None:  # fmt: skip
    """The scale of the receivers' median SNR, with a tick every 5 dB as long as it is no wider than `fine_db`."""
    norm = snr_norm(sure)
    ticks = snr_ticks(norm, fine_db)
    style.bar(figure, look, style.ramp(look.ramp), norm, label, x=x, y=y, length=length, ticks=ticks)


def snr_ticks(norm: Normalize, fine_db: float = 30) -> list[float]:
    """Every 5 dB of a scale no wider than `fine_db`, else every 10."""
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 0.0)
    return np.arange(low, high + 1, _SNR_STEP_DB if high - low <= fine_db else 2 * _SNR_STEP_DB).tolist()

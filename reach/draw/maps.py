"""Maps as whole pictures: round the station, the close-up, the world. The layers are in `layers`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from reach.base import words
from reach.draw import areas, basemap, captions, frame, layers, style
from reach.draw.layers import Site
from reach.findings import Findings
from reach.spots import SUSPECT

if TYPE_CHECKING:
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

_SNR_STEP_DB = 5
_SNR = "Median SNR in 2500 Hz [dB]"


def station(findings: Findings, look: style.Theme) -> Figure:
    """Everything that was heard, round the station: bearings and distances are true."""
    rows = captions.counted(findings)
    median_km = captions.distances(rows)[0]
    title = f"Half of the reports came from beyond {words.km(median_km)}"
    return _round(findings, look, title, radius_km(findings.receivers["distance_km"]))


def claimed(findings: Findings, look: style.Theme) -> Figure:
    """Where receivers say they are, when not one of them is corroborated: hollow marks and no finding."""
    note = "Distances and directions here are claims. Which rows to look at: suspects.csv and problems.csv."
    figure, top = frame.beside(
        findings, look, captions.NOTHING_CLAIMED, notes=(note,), rows=captions.everything(findings)
    )
    site = areas.station_site(findings)
    table = findings.receivers
    axes = areas.round_map(figure, look, site, radius_km(table["distance_km"]), table["bearing_deg"])
    heard(axes, look, site, table.iloc[:0], table)
    said = ["Marks lie where receivers claim to be.", *_hollow(table)]
    _lines(figure, look, top, said)
    return figure


def radius_km(distance_km: pd.Series) -> float:
    """How far a map round the station must show to hold these distances, with some room."""
    far = float(distance_km.max()) if len(distance_km) else 1000.0
    return min(far * 1.04 + 50, basemap.RIM_KM - 1)


def close(findings: Findings, look: style.Theme) -> Figure:
    """The part of the map in which nine reports of ten lie."""
    rows = captions.counted(findings)
    p90_km = float(captions.distances(rows)[1])
    title = f"Nine reports in ten came from within {words.km(p90_km)}"
    return _round(findings, look, title, min(max(p90_km * 1.05, 100.0), basemap.RIM_KM - 1))


def world(findings: Findings, look: style.Theme) -> Figure:
    """The whole world, with the night side at the middle of the period where that is within a day."""
    sure, others = captions.receivers(findings)
    first, last = findings.reach.first_utc, findings.reach.last_utc
    one_day = last - first <= pd.Timedelta(days=1)
    middle = (first + (last - first) / 2).to_pydatetime()
    countries, squares = sure["country"].nunique(), sure["rx_locator"].astype(str).str[:4].nunique()
    where = words.things(countries, "country", "countries")
    notes: tuple[str, ...] = (captions.NO_LISTENER,)
    if one_day:
        notes = (f"Night side at {middle:%H:%M} UTC, the middle of the period.", *notes)
    notes = (*notes, *_hollow(others))
    title = f"Heard in {where} and {words.things(squares, 'square')}"
    figure, top, foot = frame.around(findings, look, title, notes=notes)
    site = areas.station_site(findings)
    axes = areas.world_map(figure, look, site, top + 8, foot - top - 122)
    if one_day:
        layers.Night(axes, look, middle)
    heard(axes, look, site, sure, others)
    snr_bar(figure, look, sure, _SNR, x=style.MARGIN_PX, y=foot - 100, length=420)
    return figure


def _round(findings: Findings, look: style.Theme, title: str, shown_km: float) -> Figure:
    sure, others = captions.receivers(findings)
    figure, top = frame.beside(findings, look, title, notes=(captions.NO_LISTENER,))
    site = areas.station_site(findings)
    axes = areas.round_map(figure, look, site, shown_km, sure["bearing_deg"])
    heard(axes, look, site, sure, others)
    _legend(figure, look, sure, others, top)
    return figure


def heard(axes: Any, look: style.Theme, site: Site, sure: pd.DataFrame, others: pd.DataFrame) -> None:
    """Paths thin below round dots, coloured by median SNR; those not counted hollow, suspects with a query mark.

    sure, others : as captions.receivers gives them
    """
    colours, norm = style.ramp(look.ramp), snr_norm(sure)
    if len(sure):
        shade = colours(norm(sure["median_snr_db"].to_numpy(float)))
        layers.paths(axes, look, site, sure["rx_lon_deg"], sure["rx_lat_deg"], shade)
        layers.receivers(axes, look, sure, colours, norm)
    suspect = (others["trust"] == SUSPECT).to_numpy()
    for draw, rows in ((layers.unconfirmed, others[~suspect]), (layers.suspects, others[suspect])):
        if len(rows):
            draw(axes, look, rows["rx_lon_deg"], rows["rx_lat_deg"])
    layers.station(axes, look, site)


def _legend(figure: Figure, look: style.Theme, sure: pd.DataFrame, others: pd.DataFrame, top: float) -> None:
    snr_bar(figure, look, sure, _SNR, x=style.MARGIN_PX, y=top, length=420)
    said = ["A dot is a receiver: the larger, the more reports.", "Paths are great circles, here straight lines."]
    y = _lines(figure, look, top + 100, [*said, *_hollow(others)])
    far = sure.iloc[int(sure["distance_km"].to_numpy().argmax())]
    style.write(figure, style.MARGIN_PX, y + 26, "Farthest", px=style.LABEL, color=look.ink, weight=style.BOLD)
    where = "" if pd.isna(far["country"]) else f", {far['country']}"
    away = f"{words.count(far['distance_km'])} ± {far['distance_uncertainty_km']:.0f} km".replace(" ", words.NO_BREAK)
    line = f"{far['rx_call']} in {far['rx_locator']}{where}: {away}"
    style.paragraph(figure, style.MARGIN_PX, y + 60, line, px=style.LABEL, color=look.ink, room=frame.COLUMN_PX)


def _lines(figure: Figure, look: style.Theme, y: float, said: list[str]) -> float:
    """Small print in the column beside the map. Returns where it ends [px]."""
    for line in said:
        y = style.paragraph(figure, style.MARGIN_PX, y, line, px=style.TICK, color=look.muted, room=frame.COLUMN_PX) + 6
    return y


def _hollow(others: pd.DataFrame) -> list[str]:
    """What hollow marks stand for, where there are any."""
    suspect = int((others["trust"] == SUSPECT).sum())
    open_ = len(others) - suspect
    said = []
    if suspect:
        said.append(f"Hollow with a query mark: {words.things(suspect, 'locator')} in doubt, not counted.")
    if open_:
        said.append(f"Small and hollow: {words.things(open_, 'locator')} that nothing confirms, not counted.")
    return said


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
    low, high = float(norm.vmin or 0.0), float(norm.vmax or 0.0)
    ticks = np.arange(low, high + 1, _SNR_STEP_DB if high - low <= fine_db else 2 * _SNR_STEP_DB)
    style.bar(
        figure, look, style.ramp(look.ramp), norm, label, x=x, y=y, length=length, ticks=[float(t) for t in ticks]
    )

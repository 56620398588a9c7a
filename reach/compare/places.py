"""Who is one receiver, where it is, and where and by day or night each report was heard.

Trust decides here and nowhere else: a report whose locator is not corroborated counts in the whole, because a pair of
reports needs no place, but it has none, so it lies in no ring, sector, zone or cell of day and night.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys
from reach.compare.comparison import Gap, Remark
from reach.compare.reports import Bools, Floats, Ints
from reach.errors import LocatorError
from reach.spots import CORROBORATED

DAY_NIGHT_COLUMN: Final = "mid_day_night"
SQUARE_CHARACTERS: Final = 4
PLACE: Final = ("rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg")


def receivers(spots: pd.DataFrame) -> tuple[Ints, pd.DataFrame]:
    """Who is one receiver: a callsign in one locator square, so that two stations under one callsign stay two.

    Returns (code of each row, shape (n,), in order of the names; table, row = code: rx_call, square, rx_locator, PLACE, `trust`). A receiver
    may have been given as several locators of its square. It stands at the one that most of its reports carry, the first
    in text order among equals, and every number about its place belongs to that locator. NaN and None where not known.
    """
    call, calls = _on_vocabulary(spots["rx_call"], str.upper)
    square, squares = _on_vocabulary(spots["rx_locator"], square_of)
    there, code = keys.distinct(
        *keys.combine([(call, len(calls)), (square, len(squares))])
    )  # whatever the order of the rows
    of_call, of_square = keys.split(there, [len(calls), len(squares)])
    chosen = _standing(spots, code)
    at = spots.iloc[chosen]
    place = _places(at)
    trust = at["trust"].astype(object).to_numpy() if "trust" in at.columns else np.full(len(at), None, dtype=object)
    told = {
        "rx_call": calls[of_call],
        "square": squares[of_square],
        "rx_locator": at["rx_locator"].astype(str).to_numpy(),
    }
    return code, pd.DataFrame({**told, **place, "trust": trust})


def square_of(locator: str) -> str:
    """The square that a locator lies in: JN58td -> JN58."""
    return locator[:SQUARE_CHARACTERS].upper()


def _on_vocabulary(column: pd.Series, change: Callable[[str], str]) -> tuple[Ints, npt.NDArray[np.object_]]:
    """(code of each row, what the codes stand for, in order of text) of a text column without nulls, changed once a distinct text."""
    texts = column.astype("category").cat
    changed = [change(str(name)) for name in texts.categories]
    names = sorted(set(changed))
    number = {name: k for k, name in enumerate(names)}
    to = np.array([number[name] for name in changed], dtype=np.int64)
    return to[texts.codes.to_numpy()], np.array(names, dtype=object)


def _standing(spots: pd.DataFrame, code: Ints) -> Ints:
    """For each receiver a row that carries the locator it stands at (and, of these, the station's usual locator)."""
    rx, rx_names = _on_vocabulary(spots["rx_locator"], str)
    parts = [(code, int(code.max(initial=0)) + 1), (rx, len(rx_names))]
    if "tx_locator" in spots.columns:
        tx = spots["tx_locator"].astype("category").cat
        rank = np.append(np.argsort(np.argsort([str(name) for name in tx.categories], kind="stable")) + 1, 0)
        parts.append((rank[tx.codes.to_numpy()].astype(np.int64), len(rank)))  # code -1, none, takes the last
    distinct, first, count = np.unique(keys.combine(parts)[0], return_index=True, return_counts=True)
    its, its_rx, *its_tx = keys.split(distinct, [size for _, size in parts])
    _, claim = np.unique(its * len(rx_names) + its_rx, return_inverse=True)
    order = np.lexsort([*its_tx, -count, its_rx, -np.bincount(claim, count)[claim], its])
    return first[order][np.diff(its[order], prepend=-1) > 0]


def _places(at: pd.DataFrame) -> dict[str, Floats]:
    """PLACE of some rows, as the table says it or as their locators do; NaN where neither does."""
    found = {name: at[name].to_numpy(float) for name in PLACE if name in at.columns}
    if len(found) < len(PLACE) and len(at):
        found = _of_locators(at) | found
    return {name: found.get(name, np.full(len(at), np.nan)) for name in PLACE}


def _of_locators(at: pd.DataFrame) -> dict[str, Floats]:
    """PLACE worked out from tx_locator and rx_locator; what cannot be worked out is not in it."""
    from reach.base import locator
    from reach.place import path

    try:
        lon, lat = locator.centre(at["rx_locator"].astype(str))
        found = {"rx_lon_deg": lon, "rx_lat_deg": lat}
        if "tx_locator" in at.columns and at["tx_locator"].notna().all():
            tx_lon, tx_lat = locator.centre(at["tx_locator"].astype(str))
            found["distance_km"], found["bearing_deg"] = path.inverse(tx_lon, tx_lat, lon, lat)
    except LocatorError:
        return {}  # `geometry` says so
    return found


@dataclass(frozen=True)
class Geometry:
    """For each report, shape (n,); None where it cannot be known.

    distance_km, bearing_deg  NaN where missing, and where the locator is not corroborated
    day_night  day | twilight | night at the middle of the path, null as above
    gaps       what is None, and why
    """

    distance_km: Floats | None
    bearing_deg: Floats | None
    day_night: pd.Series | None
    gaps: tuple[Remark, ...]


def geometry(spots: pd.DataFrame) -> Geometry:
    """From the columns distance_km, bearing_deg and mid_day_night, or from tx_locator and rx_locator; and from `trust`.

    spots : any table of reports; a locator that is none leaves its breakdowns out, and that is said. Where there is no
        column `trust`, every place is believed
    """
    placed = {"distance_km", "bearing_deg"} <= set(spots.columns)
    sure = _sure(spots)
    if placed and DAY_NIGHT_COLUMN in spots.columns:
        return _given(spots, spots[DAY_NIGHT_COLUMN], sure, ())
    no_light = Remark(Gap.NO_STATION_LIGHT)
    if "tx_locator" not in spots.columns or spots["tx_locator"].isna().any():
        if placed:
            return _given(spots, None, sure, (no_light,))
        return Geometry(None, None, None, (Remark(Gap.NO_STATION_PLACE), no_light))
    try:
        worked_out = _worked_out(spots)
    except LocatorError as error:
        wrong = (Remark(Gap.WRONG_LOCATOR, {"error": str(error)}),)
        return _given(spots, None, sure, wrong) if placed else Geometry(None, None, None, wrong)
    return _given(spots if placed else worked_out, worked_out[DAY_NIGHT_COLUMN], sure, ())


def _sure(spots: pd.DataFrame) -> Bools:
    """Which reports come from a place that is believed."""
    if "trust" not in spots.columns:
        return np.ones(len(spots), dtype=bool)
    return (spots["trust"] == CORROBORATED).to_numpy(bool)


def _given(table: pd.DataFrame, day_night: pd.Series | None, sure: Bools, gaps: tuple[Remark, ...]) -> Geometry:
    return Geometry(
        distance_km=np.where(sure, table["distance_km"].to_numpy(float), np.nan),
        bearing_deg=np.where(sure, table["bearing_deg"].to_numpy(float), np.nan),
        day_night=None if day_night is None else day_night.where(sure),
        gaps=gaps,
    )


def _worked_out(spots: pd.DataFrame) -> pd.DataFrame:
    """Distance, bearing, day and night of each report; geodesics once a distinct pair of locators."""
    from reach.base import locator
    from reach.place import daylight, path

    table = spots[["time_utc", "tx_locator", "rx_locator"]].copy()
    table["time_utc"] = pd.to_datetime(table["time_utc"], utc=True)
    ends: dict[str, tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]] = {}
    for end in ("tx", "rx"):
        table[f"{end}_locator"] = table[f"{end}_locator"].astype("category").cat.remove_unused_categories()
        names = table[f"{end}_locator"].cat
        lon_deg, lat_deg = locator.centre(names.categories)
        ends[end] = lon_deg[names.codes], lat_deg[names.codes]
    pair = table["tx_locator"].cat.codes.to_numpy(np.int64) * len(ends["rx"][0]) + table["rx_locator"].cat.codes
    _, first, back = np.unique(pair, return_index=True, return_inverse=True)
    distance_km, bearing_deg = path.inverse(
        ends["tx"][0][first], ends["tx"][1][first], ends["rx"][0][first], ends["rx"][1][first]
    )
    table = table.assign(
        rx_lon_deg=ends["rx"][0],
        rx_lat_deg=ends["rx"][1],
        distance_km=distance_km[back],
        bearing_deg=bearing_deg[back],
    )
    return daylight.daylight(table)

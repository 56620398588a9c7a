"""Spots as columns that a browser reads at once: typed arrays in base64, six bytes a spot.

A spot is five numbers: its place (which receiver, heard from which station; two bytes), SNR in whole dB, ten minutes of
the day, day or month, band with setup. Each column is as narrow as its values allow, so a study with more than 65 535
places or 256 combinations of band and setup takes wider columns and nothing is left out.
Spots are in the order of place, then SNR, and places in the order of distance: the page finds medians by counting.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands, keys
from reach.measure.grain import PAGE_DAYS
from reach.measure.sectors import sector_of
from reach.spots import TRUST, UNCONFIRMED

_PLACE: Final = ["tx_locator", "rx_call", "rx_locator"]
_GEOMETRY: Final = ["rx_lon_deg", "rx_lat_deg", "distance_km", "distance_uncertainty_km", "bearing_deg"]
POSITION_STEPS: Final = 100  # to a degree, of where a dot is drawn: 1.1 km, less than a pixel
BEARING_STEPS: Final = 10  # to a degree, of the bearing that is shown; -1 degree stands for none
_TICK_US: Final = 600_000_000
_TICKS: Final = 144  # a day
_WIDTHS: Final = (("u8", np.uint8), ("u16", np.uint16), ("u32", np.uint32))


def encode(spots: pd.DataFrame, setups: Sequence[str] | None = None) -> dict[str, Any]:
    """Plain values for JSON: `spots`, `places`, and the names that their numbers stand for.

    spots : placed spot table with `trust`; may be empty
    setups : in the order of their colours; by name where left out
    Returns a dict; arrays are {"type": "u8 u16 u32 i8 f32 f64", "data": base64, little endian}.
    """
    places, at = _places(spots)
    unit, names, index = _periods(spots["time_utc"])
    in_use, kinds = bands.in_order(spots["band"].dropna().unique().astype(str)), _setups(spots, setups)
    kind = _codes(spots["band"], in_use) * max(len(kinds), 1) + _codes(spots["setup"], kinds)
    snr = np.rint(spots["snr_db"].to_numpy()).astype(np.int64)
    order = _order(at, snr)
    return {
        "bands": in_use,
        "setups": kinds,
        "period": {"unit": unit, "names": names},
        "spots": {
            "place": narrow(at, order),
            "snr": typed(np.clip(snr, -128, 127).astype(np.int8)[order], "i8"),
            "tick": narrow(_tick(spots["time_utc"]), order),
            "period": narrow(index, order),
            "kind": narrow(kind, order),
        },
        "places": _encode_places(places),
    }


def narrow(values: npt.NDArray[np.int64], order: npt.NDArray[np.int64] | slice = slice(None)) -> dict[str, str]:
    """Whole numbers >= 0 in the narrowest column that holds them. order : of the rows, as they stand where left out"""
    top = int(values.max(initial=0))
    name, dtype = next((name, dtype) for name, dtype in _WIDTHS if top <= np.iinfo(dtype).max)
    return typed(values.astype(dtype)[order], name)  # what is narrow is sooner put in order


def typed(values: npt.NDArray[Any], name: str) -> dict[str, str]:
    """An array as base64 with the name of its type."""
    little = values.astype(values.dtype.newbyteorder("<"))
    return {"type": name, "data": base64.b64encode(little.tobytes()).decode("ascii")}


def _order(at: npt.NDArray[np.int64], snr: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Rows by place, then SNR, then as they stand."""
    low, levels = keys.span(snr)
    return keys.order(at * levels + (snr - low), keys.room(at) * levels)


def _places(spots: pd.DataFrame) -> tuple[pd.DataFrame, npt.NDArray[np.int64]]:
    """One row a distinct path and receiver, nearest first; and which of them each spot is of."""
    parts = [keys.codes(spots[name]) for name in _PLACE]
    values, place = keys.distinct(*keys.combine(parts))
    some = spots[[*_PLACE, *_GEOMETRY, "country", "trust"]].take(keys.first_rows(place, len(values)))
    table = some.reset_index(drop=True).sort_values(["distance_km", "rx_call", "rx_locator", "tx_locator"])
    rank = np.empty(len(table), dtype=np.int64)
    rank[table.index] = np.arange(len(table))
    return table.reset_index(drop=True), rank[place]


def _encode_places(places: pd.DataFrame) -> dict[str, Any]:
    stations = [str(name) for name in places["tx_locator"].drop_duplicates()]
    countries = sorted({str(name) for name in places["country"].dropna()})
    trust = places["trust"].astype(object).fillna(UNCONFIRMED)
    return {
        "stations": stations,
        "station": narrow(_codes(places["tx_locator"], stations)),
        "call": [str(name) for name in places["rx_call"]],
        "locator": [str(name) for name in places["rx_locator"]],
        "countries": ["", *countries],
        "country": narrow(_codes(places["country"].astype(object).fillna(""), ["", *countries])),
        "trust_kinds": list(TRUST),
        "trust": narrow(_codes(trust, list(TRUST))),
        "position": typed(_steps(places[["rx_lon_deg", "rx_lat_deg"]], POSITION_STEPS), "i16"),
        "km": typed(places["distance_km"].to_numpy(np.float64), "f64"),
        "uncertainty_km": typed(places["distance_uncertainty_km"].to_numpy(np.float32), "f32"),
        "bearing": typed(_steps(places[["bearing_deg"]].fillna(-1.0), BEARING_STEPS), "i16"),
        "sector": typed(sector_of(places["bearing_deg"]).astype(np.int8), "i8"),
    }


def _steps(degrees: pd.DataFrame, steps_per_deg: int) -> npt.NDArray[np.int16]:
    return np.rint(degrees.to_numpy() * steps_per_deg).astype(np.int16).ravel()


def _setups(spots: pd.DataFrame, named: Sequence[str] | None) -> list[str]:
    """Names of setups; the empty name last where spots carry none."""
    there = sorted(str(name) for name in spots["setup"].dropna().unique()) if named is None else list(named)
    return there + ([""] if spots["setup"].isna().any() else [])


def _codes(column: pd.Series, names: list[str]) -> npt.NDArray[np.int64]:
    """Which of the names each row holds; a null is the empty name."""
    held = column.astype("category").cat
    words = pd.Index([*held.categories.astype(object), ""], dtype=object)
    return pd.Index(names, dtype=object).get_indexer(words).astype(np.int64)[held.codes.to_numpy()]  # -1 takes the last


def _tick(times: pd.Series) -> npt.NDArray[np.int64]:
    """Ten minutes of the day, 0..143."""
    micros = times.dt.tz_convert(None).to_numpy().astype("datetime64[us]").astype(np.int64)
    return micros // _TICK_US % _TICKS


def _periods(times: pd.Series) -> tuple[str, list[str], npt.NDArray[np.int64]]:
    """Days, or months where there are more than PAGE_DAYS of them: the unit, the names of all, which each row is in."""
    if times.empty:
        return "day", [], np.empty(0, np.int64)
    plain = times.dt.tz_localize(None).to_numpy()
    for unit, code in (("day", "D"), ("month", "M")):
        count = plain.astype(f"datetime64[{code}]").astype(np.int64)
        first, last = int(count.min()), int(count.max())
        if last - first < PAGE_DAYS or unit == "month":
            break
    names = [str(name) for name in np.arange(first, last + 1).astype(f"datetime64[{code}]")]
    return unit, names, count - first

"""Cells in the ways of writing that the rules for rows know: plain decimals, bands by wavelength, no spreadsheet's quotes.

Only cells that a rule would not read, or would read wrongly, change; all others stay as they are in the file.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import Final

import numpy as np
import pandas as pd

from reach.read import cells
from reach.read.columns import Reading
from reach.read.rows import Column
from reach.spots import WRITTEN

_TIMES: Final = ("datetime", "date", "clock")


def columns(taken: Mapping[str, Column], found: Reading) -> dict[str, Column]:
    """Numbers and bands in ways of writing that the rules for rows do not know, in one that they do.

    Only such cells change; all others stay as they are in the file. A column of numbers or bands with such cells is there
    once more as it stands in the file, under its name and WRITTEN, for whoever has to quote it.
    """
    ready = dict(taken)
    for ours, column in taken.items():
        if ours == "snr_db" or ours.startswith(("freq", "power")):
            scale = found.scale.get(ours, 1.0)
            ready |= _told_twice(ours, column, partial(_plain_number, scale=scale))
        elif ours not in _TIMES and ours != "band":
            ready[ours] = _changed(column, _unwrapped)
        elif ours == "band":
            ready |= _told_twice(ours, column, lambda text: _plain_band(text, found.band_by_mhz))
    return ready


def _told_twice(name: str, column: Column, change: Callable[[str], str]) -> dict[str, Column]:
    fresh = _changed(column, change)
    return {name: column} if fresh is column else {name: fresh, f"{name}{WRITTEN}": column}


def _changed(column: Column, change: Callable[[str], str]) -> Column:
    fresh = [change(word) for word in column.words]
    if fresh == column.words:
        return column
    codes, distinct = pd.factorize(np.array(fresh, dtype=object))
    return Column(codes.astype(np.int32)[column.codes], [str(word) for word in distinct])


_SIMPLE: Final = re.compile(r"\s*[-+]?\d+(\.\d+)?\s*", re.ASCII)
_KNOWN: Final = re.compile(
    r"([-+\u2212\u2013\u2010\u2011]? ?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d{1,2})?) ?(db|hz|khz|mhz|ghz|m?w|kw|watts?|dbm)?",
    re.I | re.A,
)
_KNOWN_BAND: Final = re.compile(
    r"\d{1,4}(?:[.,]\d{1,2})? ?(?:m|cm|meters?|metres?)?(?: band)?|[\d.,]+ ?[kM]?Hz", re.I | re.A
)


def _unwrapped(text: str) -> str:
    """A text without what keeps a spreadsheet from taking it for something else."""
    bare = text.strip()
    return cells.tidy(bare) if bare[:2] == '="' or (bare[:1] == "'" and len(bare) > 1) else text


def _plain_number(text: str, scale: float = 1.0) -> str:
    if scale == 1.0 and _SIMPLE.fullmatch(text):
        return text
    said = cells.number(cells.tidy(text))
    if said is None:
        return text
    known = _KNOWN.fullmatch(" ".join(text.split()))
    if scale == 1.0 and known:
        as_read = float(re.sub("[\u2212\u2013\u2010\u2011]", "-", known[1]).replace(",", ".").replace(" ", ""))
        if as_read == said.value:
            return text
    unit = {
        "w": " W",
        "mw": " mW",
        "kw": " kW",
        "dbm": " dBm",
        "hz": " Hz",
        "khz": " kHz",
        "mhz": " MHz",
        "ghz": " GHz",
    }
    return f"{said.value * scale:.12g}{unit.get(said.unit, '')}"


def _plain_band(text: str, by_mhz: bool) -> str:
    plain = cells.tidy(text)
    if by_mhz and (said := cells.number(plain)) and not said.unit:
        return cells.bare_band(said.value)[1] or text
    return text if _KNOWN_BAND.fullmatch(" ".join(text.split())) else cells.band(plain) or text

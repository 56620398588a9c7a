"""Maidenhead locators: from text to the cell on the ground and back.

The grammar is ours (`vet.grammar`); the conversion to a position is the `maidenhead` package's, called here only.
The way back is our own arithmetic, because the package (1.8) moves a point that lies within 1/360 of a cell below an
edge into the next cell, and turns the last one, RR99xx, into AA00aa.
Definition: 18 x 18 fields of 20 by 10 degrees from 180 W 90 S, divided by 10, 24, 10, 24; cells own their west and
south edges. IARU Region 1 VHF Managers Handbook, "Locator system"; WGS 84.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import maidenhead
import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import grammar
from reach.errors import LocatorError

Floats = npt.NDArray[np.float64]

LENGTHS: Final = (2, 4, 6, 8, 10)
_DIVISIONS: Final = (18, 10, 24, 10, 24)
_FIRST: Final = ("A", "0", "a", "0", "a")
_FIELD: Final = "ABCDEFGHIJKLMNOPQR"
# A millionth of a cell: what binary fractions of a degree may miss an edge by.
_EDGE_CELLS: Final = 1e-6


def centre(locators: Iterable[str]) -> tuple[Floats, Floats]:
    """Centres of locator cells.

    locators : n texts, each a locator of 2 to 10 characters in any case; each distinct one is converted once
    Returns lon_deg, lat_deg, shape (n,), WGS 84. LocatorError where one is no locator.
    """
    codes, names = _distinct(locators)
    lon, lat = _centres(names)
    return lon[codes], lat[codes]


def cell_deg(locators: Iterable[str]) -> tuple[Floats, Floats]:
    """Widths and heights of locator cells.

    locators : n locators
    Returns width_deg (west to east), height_deg (south to north), shape (n,).
    """
    codes, names = _distinct(locators)
    width, height = _sizes(names)
    return width[codes], height[codes]


def cells(locators: Iterable[str]) -> tuple[Floats, Floats, Floats, Floats]:
    """`centre` and `cell_deg` in one, for a million locators that are looked at once: lon_deg, lat_deg, width_deg, height_deg."""
    codes, names = _distinct(locators)
    lon, lat, width, height = (values[codes] for values in (*_centres(names), *_sizes(names)))
    return lon, lat, width, height


def from_position(lon_deg: npt.ArrayLike, lat_deg: npt.ArrayLike, characters: int = 6) -> npt.NDArray[np.str_]:
    """The locator of the cell that holds a position.

    lon_deg, lat_deg : shape (n,) or scalar, -180..180 and -90..90; 180 is -180, the poles belong to their last cell
    characters : 2, 4, 6, 8 or 10
    Returns texts, shape (n,). LocatorError where a position is off the globe or the length is none of those.
    """
    if characters not in LENGTHS:
        raise LocatorError(f"a locator has 2, 4, 6, 8 or 10 characters, not {characters}")
    lon, lat = np.broadcast_arrays(*np.atleast_1d(np.asarray(lon_deg, float), np.asarray(lat_deg, float)))
    off = ~((np.abs(lon) <= 180) & (np.abs(lat) <= 90))
    if off.any():
        raise LocatorError(
            f"longitude {lon[off][0]:g}, latitude {lat[off][0]:g} is off the globe: "
            "longitude runs from -180 to 180 and latitude from -90 to 90 degrees"
        )
    pairs = characters // 2
    cells = int(np.prod(_DIVISIONS[:pairs]))
    column = np.floor((lon + 180) / 360 * cells + _EDGE_CELLS).astype(np.int64) % cells
    row = np.minimum(np.floor((lat + 90) / 180 * cells + _EDGE_CELLS).astype(np.int64), cells - 1)
    letters: list[npt.NDArray[np.str_]] = []
    for divisions, first in zip(_DIVISIONS[:pairs][::-1], _FIRST[:pairs][::-1], strict=True):
        column, east = np.divmod(column, divisions)
        row, north = np.divmod(row, divisions)
        alphabet = np.array([chr(ord(first) + k) for k in range(divisions)])
        letters.insert(0, np.char.add(alphabet[east], alphabet[north]))
    text = letters[0]
    for pair in letters[1:]:
        text = np.char.add(text, pair)
    return text


def _centres(names: list[str]) -> tuple[Floats, Floats]:
    # Longitude stands in every other character, latitude in those between, of the same alphabets: a million locators are made of
    # a few thousand such halves, and a half beside itself is a locator that the package converts.
    east, north = [name[::2] for name in names], [name[1::2] for name in names]
    lat_lon = {
        half: maidenhead.to_location("".join(2 * character for character in half), center=True)
        for half in {*east, *north}
    }
    lon, lat = ([lat_lon[half][axis] for half in halves] for halves, axis in ((east, 1), (north, 0)))
    return np.array(lon, dtype=float), np.array(lat, dtype=float)


def _sizes(names: list[str]) -> tuple[Floats, Floats]:
    pairs = np.array([len(name) // 2 for name in names], dtype=int)
    shrink = np.cumprod([1.0, *_DIVISIONS[1:]])[pairs - 1] if len(pairs) else np.empty(0)
    return 20.0 / shrink, 10.0 / shrink


def _distinct(locators: Iterable[str]) -> tuple[npt.NDArray[np.intp], list[str]]:
    codes, names = pd.factorize(np.asarray(list(locators), dtype=object))
    return codes, [checked(name) for name in names]


def checked(text: object) -> str:
    """The locator in its usual form, JN58td; a field alone (JN) will do, though no spot may have one.

    LocatorError where it is none, with the reason.
    """
    name = str(text)
    if len(name) == 2 and set(name.upper()) <= set(_FIELD):
        return name.upper()
    verdict = grammar.judge(name, four_characters=True)
    if verdict.locator is None:
        raise LocatorError(verdict.explanation)
    return verdict.locator

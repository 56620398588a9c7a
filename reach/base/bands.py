"""Amateur bands: their names by wavelength and their edges by ITU region, for naming a band, never for judging a
licence.

Source: data/amateur_bands.csv, after the Radio Regulations, Article 5; the file says row by row what was seen and what
is from memory. A row without a region is allotted by some administrations only.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.data import read_text

_FILE: Final = "amateur_bands.csv"
_WAVELENGTH: Final = re.compile(r"(\d+(?:\.\d+)?)(mm|cm|m)")
_PER_METRE: Final = {"m": 1, "cm": 100, "mm": 1000}


@dataclass(frozen=True)
class Band:
    """One allocation.

    name                  by wavelength, 20m
    regions               ITU regions, 1 to 3; none where some administrations only have it
    lower_mhz, upper_mhz  edges [MHz]
    """

    name: str
    regions: frozenset[int]
    lower_mhz: float
    upper_mhz: float

    def holds(self, freq_mhz: float) -> bool:
        """Whether a frequency lies in it, edges included."""
        return self.lower_mhz <= freq_mhz <= self.upper_mhz


@cache
def allocations() -> tuple[Band, ...]:
    """All rows of the table, longest wave first."""
    rows = csv.DictReader(read_text(_FILE).splitlines())
    found = [
        Band(
            row["band"],
            frozenset(int(region) for region in row["itu_regions"].split(",") if region),
            float(row["lower_khz"]) / 1000,
            float(row["upper_khz"]) / 1000,
        )
        for row in rows
    ]
    return tuple(sorted(found, key=lambda band: -wavelength_m(band.name)))


@cache
def names() -> tuple[str, ...]:
    """The bands there are, longest wave first."""
    return tuple(dict.fromkeys(band.name for band in allocations()))


def wavelength_m(name: str) -> float:
    """The wavelength that names a band [m].

    name : such as 20m, 70cm or 6mm. ValueError where it is no such name.
    """
    found = _WAVELENGTH.fullmatch(name)
    if not found:
        raise ValueError(f"{name!r} names no band by wavelength, such as 20m")
    return float(found[1]) / _PER_METRE[found[2]]


def in_order(names: Iterable[str]) -> list[str]:
    """Bands as every table, legend and sentence lists them: each once, longest wave first.

    names : by wavelength, in any order; what names no band by wavelength comes last, in the order of its text
    """
    distinct = sorted(set(names))
    known = [name for name in distinct if _WAVELENGTH.fullmatch(name)]
    other = [name for name in distinct if not _WAVELENGTH.fullmatch(name)]
    # The number alone will not do: 70cm is a shorter wave than 60m. Sorting is stable, so equal waves stay by text.
    return sorted(known, key=wavelength_m, reverse=True) + other


def band(freq_mhz: float, region: int = 1) -> str | None:
    """The band of a frequency in one ITU region.

    freq_mhz : [MHz]
    region   : 1, 2 or 3
    Returns its name, 20m, or None where the region has no band there.
    """
    return next((b.name for b in allocations() if region in b.regions and b.holds(freq_mhz)), None)


def band_anywhere(freq_mhz: float) -> str | None:
    """The band of a frequency in any region or administration; None where there is none."""
    for name, lower_mhz, upper_mhz in _edges():
        if lower_mhz <= freq_mhz <= upper_mhz:
            return name
    return None


@cache
def _edges() -> tuple[tuple[str, float, float], ...]:
    """Of all rows of the table: name and edges [MHz]."""
    return tuple((band.name, band.lower_mhz, band.upper_mhz) for band in allocations())


def codes(freq_mhz: npt.NDArray[np.float64], region: int | None = None) -> npt.NDArray[np.int8]:
    """The bands of many frequencies.

    freq_mhz : shape (n,) [MHz]
    region   : 1, 2 or 3; anywhere in the world where left out
    Returns shape (n,): positions in `names()`, -1 where there is no band.
    """
    found = np.full(len(freq_mhz), -1, dtype=np.int8)
    for b in allocations():
        if region is None or region in b.regions:
            found[(freq_mhz >= b.lower_mhz) & (freq_mhz <= b.upper_mhz)] = names().index(b.name)
    return found


def edges_mhz(name: str, region: int = 1) -> tuple[float, float] | None:
    """The lower and upper edge of a band in a region [MHz]; where the region has none, those of the first that has.

    None where there is no such band.
    """
    same = [b for b in allocations() if b.name == name]
    best = next((b for b in same if region in b.regions), same[0] if same else None)
    return None if best is None else (best.lower_mhz, best.upper_mhz)


def middle_mhz(name: str, region: int = 1) -> float | None:
    """The middle of a band [MHz], as `edges_mhz`; None where there is no such band."""
    edges = edges_mhz(name, region)
    return None if edges is None else sum(edges) / 2

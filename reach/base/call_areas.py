"""The call area that the digit of a callsign names, where the administration assigns digits by region.

A table of our own, `data/call_areas.csv`: a generous box round each area. A holder who moves may keep the callsign in most of
these countries, so that a digit is a hint and never a proof. Where digits mean nothing (Germany, Britain, France, ...) or are
free to choose, there is no row.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from functools import cache, lru_cache
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from reach import data

Floats = npt.NDArray[np.float64]

KM_A_DEGREE: Final = 111.2
_CALL: Final = re.compile(r"([A-Z]{1,2}|[0-9][A-Z]|[A-Z][0-9])([0-9])[A-Z]{1,4}")


class Area(NamedTuple):
    """A call area: its name, and the box round it [deg]."""

    name: str
    west_deg: float
    south_deg: float
    east_deg: float
    north_deg: float


def area(call: str) -> Area | None:
    """The call area of a callsign; None where its digit says nothing, or a stroke says that it is elsewhere.

    call : in any case
    """
    return _area(call.strip().upper())


@lru_cache(maxsize=1 << 16)
def _area(call: str) -> Area | None:
    found = _CALL.fullmatch(call)  # with a stroke there is no match
    if found is None:
        return None
    prefix, digit = found.groups()
    return next((area for pattern, its, area in _areas() if its == digit and pattern.fullmatch(prefix)), None)


def outside_km(calls: Sequence[str], lon_deg: Floats, lat_deg: Floats) -> Floats:
    """How far outside its call area each place lies.

    calls : n; lon_deg, lat_deg : shape (n,)
    Returns [km], shape (n,), on a sphere and good to some per cent; 0 within the area; NaN where the digit says nothing.
    """
    boxes = np.full((len(calls), 4), np.nan)
    for k, call in enumerate(calls):
        if (found := area(str(call))) is not None:
            boxes[k] = found[1:]
    west, south, east, north = boxes.T
    up = np.maximum(np.maximum(south - lat_deg, lat_deg - north), 0.0)
    across = np.maximum(np.maximum(west - lon_deg, lon_deg - east), 0.0)
    return KM_A_DEGREE * np.hypot(up, np.minimum(across, 360 - across) * np.cos(np.radians(lat_deg)))


@cache
def _areas() -> list[tuple[re.Pattern[str], str, Area]]:
    rows = csv.DictReader(io.StringIO(data.read_text("call_areas.csv")))
    sides = ("west_deg", "south_deg", "east_deg", "north_deg")
    return [
        (re.compile(row["prefixes"]), row["digit"], Area(row["area"], *(float(row[side]) for side in sides)))
        for row in rows
    ]

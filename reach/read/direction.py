"""Who transmitted, where no header says so: one signal has one frequency, many signals have many.

Receivers agree within some ten hertz on the frequency of one transmission; different stations on a band lie a hundred
hertz apart. So the callsign column in which this station's rows agree within each slot is the transmitter's.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.read import cells, roles
from reach.read.columns import Reading
from reach.read.profile import Profile
from reach.read.roles import Own
from reach.read.rows import Column
from reach.read.understood import Direction

_SAID: Final = 0.5  # leaning of a header from which it says who transmitted
_LEAST_SLOTS: Final = 5
_FINE_HZ: Final = 10.0  # how finely frequencies must be given
_TO_HZ: Final = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}


def direction(
    taken: Mapping[str, Column], found: Reading, profiles: list[Profile], micros: npt.NDArray[np.int64] | None, own: Own
) -> Direction:
    """Whether the header says who transmitted, and where it does not, how far own rows of one slot lie apart.

    taken    : columns of the file, by raw column or part of a time
    micros   : times of the rows, None where their texts are plain
    own      : the station; without its callsign there is nothing to compare
    Returns Direction; NaN where it cannot be tested.
    """
    calls = [profiles[found.place[raw]] for raw in ("tx_call", "rx_call") if raw in found.place]
    if any(p.lean("tx", "rx") >= _SAID for p in calls):
        return Direction(said=True)
    raw = next((name for name in found.place if name.startswith("freq")), None)
    if len(calls) < 2 or raw is None or not own.call:
        return Direction(said=False)
    hz = _hertz(taken[raw], profiles[found.place[raw]])
    slot = micros if micros is not None else np.unique(_clock_codes(taken), return_inverse=True)[1]
    table = pd.DataFrame({"slot": slot, "band": np.round(hz / 1e6), "hz": hz})
    spread = [_spread(table[_own_rows(taken[name], own)]) for name in ("tx_call", "rx_call")]
    return Direction(False, spread[0][0], spread[1][0], (spread[0][1], spread[1][1]))


def _clock_codes(taken: Mapping[str, Column]) -> npt.NDArray[np.int64]:
    """A number for each moment of the rows, from the columns that say it."""
    code: npt.NDArray[np.int64] = np.zeros(1, dtype=np.int64)
    for name in ("datetime", "date", "clock"):
        if name in taken:
            code = code * (len(taken[name].words) + 1) + taken[name].codes
    return code


def _hertz(column: Column, p: Profile) -> npt.NDArray[np.float64]:
    """Frequencies [Hz], NaN where they are given too coarsely to tell signals apart."""
    unit = roles.frequency(p)[1]
    values = []
    for word in column.words:
        said = cells.number(cells.tidy(word))
        if said is None:
            values.append(np.nan)
            continue
        scale = _TO_HZ[said.unit if said.unit in _TO_HZ else unit]
        decimals = 0 if said.whole else len(said.digits) - len(str(int(abs(said.value))))
        values.append(said.value * scale if scale * 10.0**-decimals <= _FINE_HZ else np.nan)
    return np.array(values)[column.codes]


def _own_rows(column: Column, own: Own) -> npt.NDArray[np.bool_]:
    return np.array([own.is_call(cells.tidy(word)) for word in column.words], dtype=bool)[column.codes]


def _spread(rows: pd.DataFrame) -> tuple[float, int]:
    """Median range of frequency [Hz] over slots with two rows or more, and how many these are; NaN where too few."""
    of_slot = rows.dropna().groupby(["slot", "band"])["hz"].agg(["min", "max", "size"])
    several = of_slot[of_slot["size"] >= 2]
    if len(several) < _LEAST_SLOTS:
        return float("nan"), len(several)
    return float((several["max"] - several["min"]).median()), len(several)

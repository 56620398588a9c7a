"""Who transmitted, where no header says so: one signal has one frequency, many signals have many.

Receivers agree within some ten hertz on the frequency of one transmission; different stations on a band lie a hundred
hertz apart. So the callsign column in which this station's rows agree within each slot is the transmitter's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
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

_ENDS: Final = ("tx_call", "rx_call")
_TIMES: Final = ("datetime", "date", "clock")
_SAID: Final = 0.5  # leaning of a header from which it says who transmitted
_LEAST_SLOTS: Final = 5
_FINE_HZ: Final = 10.0  # how finely frequencies must be given
_TO_HZ: Final = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}


@dataclass(frozen=True)
class Slots:
    """How far rows of this station lie apart in each slot, in which it stands as the transmitter and in which as the receiver;
    of several parts of a file they can be added.

    tx, rx : indexed by slot, as the texts of its time, and band [MHz]; min and max of the frequencies [Hz], size: how many;
             None where nothing is to be compared
    """

    tx: pd.DataFrame | None = None
    rx: pd.DataFrame | None = None

    def __add__(self, other: Slots) -> Slots:
        return Slots(_both(self.tx, other.tx), _both(self.rx, other.rx))


NONE: Final = Slots()


def slots(taken: Mapping[str, Column], found: Reading, profiles: list[Profile], own: Own) -> Slots:
    """How far rows of this station lie apart, where no header says who transmitted.

    taken    : columns of rows of the file, by raw column or part of a time
    own      : the station; without its callsign there is nothing to compare
    """
    raw = next((name for name in found.place if name.startswith("freq")), None)
    if _is_said(found, profiles) or any(name not in found.place for name in _ENDS) or raw is None or not own.call:
        return NONE
    hz = _hertz(taken[raw], profiles[found.place[raw]])
    said = {name: taken[name] for name in _TIMES if name in taken}
    time = {name: pd.Categorical.from_codes(column.codes, pd.Index(column.words)) for name, column in said.items()}
    table = pd.DataFrame({**time, "band": np.round(hz / 1e6), "hz": hz})
    return Slots(*(_apart(table[_own_rows(taken[name], own)], [*time, "band"]) for name in _ENDS))


def settled(found: Reading, profiles: list[Profile], slots: Slots) -> Direction:
    """Whether the header says who transmitted, and where it does not, how far own rows of one slot lie apart.

    slots : of all rows of the file
    Returns Direction; NaN where it cannot be tested.
    """
    if _is_said(found, profiles):
        return Direction(said=True)
    if slots.tx is None or slots.rx is None:
        return Direction(said=False)
    tx, rx = _spread(slots.tx), _spread(slots.rx)
    return Direction(False, tx[0], rx[0], (tx[1], rx[1]))


def _is_said(found: Reading, profiles: list[Profile]) -> bool:
    return any(profiles[found.place[raw]].lean("tx", "rx") >= _SAID for raw in _ENDS if raw in found.place)


def _apart(rows: pd.DataFrame, slot: list[str]) -> pd.DataFrame:
    found = rows.dropna().groupby(slot, observed=True)["hz"].agg(["min", "max", "size"]).reset_index()
    return found.astype(dict.fromkeys(slot[:-1], "str")).set_index(slot)


def _both(one: pd.DataFrame | None, other: pd.DataFrame | None) -> pd.DataFrame | None:
    if one is None or other is None:
        return other if one is None else one
    return pd.concat([one, other]).groupby(level=list(one.index.names)).agg({"min": "min", "max": "max", "size": "sum"})


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


def _spread(of_slot: pd.DataFrame) -> tuple[float, int]:
    """Median range of frequency [Hz] over slots with two rows or more, and how many these are; NaN where too few."""
    several = of_slot[of_slot["size"] >= 2]
    if len(several) < _LEAST_SLOTS:
        return float("nan"), len(several)
    return float((several["max"] - several["min"]).median()), len(several)

"""Which of the transmitters that were set aside can serve as a control station, whose setup did not change: near by, and heard by
the same receivers at the same times.

A control stands for what the band did to this station's signals, so it must have been heard where and when this station was,
from about the same place. Common practice: within some 200 km; beyond 300 km its band is another.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np
import pandas as pd

from reach.base import grammar, keys, locator
from reach.place import path

FARTHEST_KM: Final = 300.0
FEWEST_IN_COMMON: Final = 5  # in common: with three or four a single odd one decides
FEWEST_REPORTS: Final = 20  # of the neighbour, beside one of ours
TOGETHER_MIN: Final = 10
MOST: Final = 6  # transmitters that are looked at, those with most rows
Place = tuple[float, float]  # longitude, latitude


class Suits(StrEnum):
    """Whether a transmitter can serve as a control.

    GOOD       near, and heard alongside by the same receivers
    CHECK      near and heard at the same times, but by others: it shows whether the band moved with the setups, no more
    FAR        its band is another
    NO_PLACE   where it stood nobody says
    NO_HOME    nor where this station did
    FEW        too few of its reports lie within ten minutes of this station's on a band
    """

    GOOD = "good"
    CHECK = "check-only"
    FAR = "far"
    NO_PLACE = "no-place"
    NO_HOME = "no-home"
    FEW = "few-in-common"


@dataclass(frozen=True)
class Neighbour:
    """One of the others. distance_km : from the station, NaN where unknown; receivers : in common; reports : its reports
    beside one of ours at such a receiver"""

    call: str
    fit: Suits
    distance_km: float
    receivers: int
    reports: int

    def to_dict(self) -> dict[str, Any]:
        """Plain values, for a note."""
        return {**asdict(self), "fit": str(self.fit)}


def neighbours(spots: pd.DataFrame, others: Mapping[str, pd.DataFrame]) -> tuple[Neighbour, ...]:
    """Each of some other transmitters as a control, the best first.

    spots : this station's; others : callsign -> spots of theirs. Needs time_utc, rx_call, rx_locator, band, tx_locator of both
    Returns one Neighbour for each, those that fit first, then by receivers in common.
    """
    ours, home = _seen(spots), position(spots["tx_locator"])
    heard = [spots, *others.values()]
    found = []
    for call, theirs in others.items():
        there = position(theirs["tx_locator"])
        if there is None:  # it may have heard some of the others itself
            there = position(
                pd.concat([each.loc[each["rx_call"] == call, "rx_locator"].astype(object) for each in heard])
            )
        found.append(_one(call, theirs, ours, home, there))
    return tuple(sorted(found, key=_last))


def _last(one: Neighbour) -> tuple[object, ...]:
    """What puts a neighbour behind others."""
    return one.fit != Suits.GOOD, one.fit != Suits.CHECK, -one.receivers, -one.reports, one.call


def _one(call: str, theirs: pd.DataFrame, ours: pd.Series, home: Place | None, there: Place | None) -> Neighbour:
    seen = _seen(theirs)
    beside = seen.loc[seen.index.isin(ours.index)]
    receivers = beside.index.get_level_values("rx_call").nunique()
    away_km = float("nan")
    if home is not None and there is not None:
        away_km = float(path.inverse([home[0]], [home[1]], [there[0]], [there[1]])[0][0])
    reports = int(beside.sum())
    anywhere = seen.reset_index("rx_call", drop=True)
    at_once = int(anywhere.loc[anywhere.index.isin(ours.reset_index("rx_call", drop=True).index)].sum())
    if at_once < FEWEST_REPORTS:
        fit = Suits.FEW
    elif home is None:
        fit = Suits.NO_HOME
    elif there is None:
        fit = Suits.NO_PLACE
    elif away_km > FARTHEST_KM:
        fit = Suits.FAR
    else:
        fit = Suits.GOOD if receivers >= FEWEST_IN_COMMON and reports >= FEWEST_REPORTS else Suits.CHECK
    return Neighbour(call, fit, away_km, receivers, reports)


def _seen(spots: pd.DataFrame) -> pd.Series:
    """How many reports by rx_call, band and stretch of ten minutes."""
    minutes = spots["time_utc"].dt.tz_convert(None).to_numpy().astype("datetime64[m]").astype(np.int64)
    by = ["rx_call", "band", "stretch"]
    counted = keys.added(spots[["rx_call", "band"]].assign(stretch=minutes // TOGETHER_MIN), by)
    # Categories of two tables are not each other's, their texts are.
    return counted.astype({"rx_call": str, "band": str}).set_index(by)["reports"]


def position(locators: pd.Series) -> Place | None:
    """Longitude and latitude of the locator that most reports name; None where none is sound."""
    names = locators.dropna().astype(str).value_counts()
    name = next((str(each) for each in names.index if grammar.judge(str(each), four_characters=True).locator), None)
    if name is None:
        return None
    (lon,), (lat,) = locator.centre([locator.checked(name)])
    return float(lon), float(lat)

"""Far paths heard in the wrong light: a sign that the file's times are half a day from UTC. A note, never a correction.

By day the bands from 14 MHz on carry far and those below 8 MHz hardly do, and by night the other way round. Real bands keep to
that so loosely that a clock one hour or three hours wrong cannot be seen by it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import locator
from reach.place import path, sun

BY_DAY: Final = frozenset({"20m", "17m", "15m", "12m", "10m"})
BY_NIGHT: Final = frozenset({"160m", "80m", "60m", "40m"})
FAR_KM: Final = 1000.0
LIT_SINE: Final = -0.05  # of the sun's elevation at the ground: the layer above still has light
FEWEST_HOURS: Final = 12
FEWEST_CELLS: Final = 30
WRONG: Final = 0.33  # in summer two thirds of the far paths are lit at any hour, and half a day of error does no more
MUCH_BETTER: Final = 0.5
HOURS: Final = np.arange(-12, 13)


@dataclass(frozen=True)
class WrongLight:
    """wrong: share of the far paths in the wrong light; after: the least share, with all times moved by after_h hours."""

    wrong: float
    after_h: int
    after: float


NEEDED: Final = ["time_utc", "tx_locator", "rx_call", "band", "distance_km", "bearing_deg"]
MOST_CELLS: Final = 20_000  # receivers' hours that are looked at


def wrong_light(spots: pd.DataFrame) -> WrongLight | None:
    """Whether the times of placed spots look half a day wrong by the sun.

    spots : needs time_utc, tx_locator, rx_call, band, distance_km, bearing_deg
    Returns WrongLight; None where nothing speaks of it, or where there is too little: 12 hours of the day, 30 receivers' hours.
    """
    shares = wrong_shares(spots)
    if shares is None:
        return None
    now, best = float(shares[HOURS == 0][0]), int(np.argmin(shares))
    if now <= WRONG or shares[best] >= MUCH_BETTER * now:
        return None
    return WrongLight(now, int(HOURS[best]), float(shares[best]))


def wrong_shares(spots: pd.DataFrame) -> npt.NDArray[np.float64] | None:
    """Share of the far paths in the wrong light with all times moved by each of HOURS; None where there is too little."""
    far = (spots["distance_km"].to_numpy(float) > FAR_KM) & spots["band"].isin(BY_DAY | BY_NIGHT).to_numpy()
    # One vote for a receiver in an hour: prolific ones would speak for the world.
    hour = spots["time_utc"].dt.floor("h")
    one = spots.loc[far, NEEDED].assign(hour=hour[far]).drop_duplicates(["rx_call", "hour", "band"])
    one = one.iloc[
        :: max(1, len(one) // MOST_CELLS)
    ]  # at even steps: a share needs no millions, and each is worked out 24 times
    if len(one) < FEWEST_CELLS or one["hour"].dt.hour.nunique() < FEWEST_HOURS:
        return None
    lon, lat = locator.centre(one["tx_locator"].astype(object))
    bearing, distance = (one[name].to_numpy(float) for name in ("bearing_deg", "distance_km"))
    mid_lon, mid_lat = path.direct(lon, lat, bearing, distance / 2)
    sun_lon, sun_lat = sun.subsolar(one["time_utc"])
    # In an hour the sun goes 15 degrees west; its declination hardly moves in a day.
    height = sun.from_subsolar(sun_lon[:, None] - 15.0 * HOURS, sun_lat[:, None], mid_lon[:, None], mid_lat[:, None])
    lit = np.sin(np.radians(height)) > LIT_SINE
    by_day = one["band"].isin(BY_DAY).to_numpy()
    return np.asarray((lit != by_day[:, None]).mean(axis=0))

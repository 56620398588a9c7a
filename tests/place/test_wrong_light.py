"""Far paths in the wrong light: half a day of error is noted, summer time and right clocks are not."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach.base import locator
from reach.place import path, sun
from reach.place.wrong_light import FEWEST_HOURS, wrong_light, wrong_shares

HOME = "IO51es"
SEEDS = range(10)


def _heard(
    seed: int, *, hours: int = 24, band: str = "20m", strays: float = 0.15, ahead_h: float = 0.0
) -> pd.DataFrame:
    """Placed spots of a day on which far paths open by their light; so many are heard in the wrong light all the same.

    ahead_h : how far ahead of UTC the clock is that wrote the times
    """
    rng = np.random.default_rng(seed)
    n = 4000
    lon, lat = (float(each[0]) for each in locator.centre([HOME]))
    distance, bearing = rng.uniform(1500, 9000, n), rng.uniform(0, 360, n)
    start = pd.Timestamp("2026-05-16") + pd.Timedelta(hours=int(rng.integers(24)))
    time = pd.Series(start + pd.to_timedelta(rng.uniform(0, hours, n), unit="h")).dt.tz_localize("UTC")
    mid_lon, mid_lat = path.direct(np.full(n, lon), np.full(n, lat), bearing, distance / 2)
    lit = np.sin(np.radians(sun.elevation_deg(time, mid_lon, mid_lat))) > -0.05
    opened = lit if band == "20m" else ~lit
    heard = rng.random(n) < np.where(opened, 1.0, strays)
    table = pd.DataFrame(
        {"time_utc": time + pd.Timedelta(hours=ahead_h), "distance_km": distance, "bearing_deg": bearing}
    )
    table = table.assign(
        rx_call=pd.Categorical([f"G{k % 10}Q{k % 300}" for k in range(n)]), band=pd.Categorical([band] * n)
    )
    return table.assign(tx_locator=pd.Categorical([HOME] * n))[heard].reset_index(drop=True)


@pytest.mark.parametrize("band", ["20m", "40m"])
@pytest.mark.parametrize("ahead_h", [0, 1, 2, 3])
def test_no_note_where_the_clock_is_right_or_an_hour_or_three_off(band, ahead_h):
    assert not [seed for seed in SEEDS if wrong_light(_heard(seed, band=band, ahead_h=ahead_h))]


@pytest.mark.parametrize("ahead_h", [9, 12, -9])
def test_half_a_day_is_noted_with_its_hours(ahead_h):
    for seed in SEEDS:
        found = wrong_light(_heard(seed, ahead_h=ahead_h))
        assert found is not None and found.wrong > 0.33 > 2 * found.after
        assert abs((found.after_h + ahead_h + 12) % 24 - 12) <= 2  # moved back by as much as it was ahead


def test_twelve_hours_of_the_day_are_enough_and_eleven_are_not():
    table = _heard(3, hours=24)
    hour = table["time_utc"].dt.hour
    assert wrong_shares(table[hour < FEWEST_HOURS]) is not None
    assert wrong_shares(table[hour < FEWEST_HOURS - 1]) is None


def test_a_short_evening_says_nothing():
    assert all(wrong_light(_heard(seed, hours=FEWEST_HOURS - 2, ahead_h=12)) is None for seed in SEEDS)


def test_near_receivers_and_other_bands_say_nothing():
    spots = _heard(1, ahead_h=12)
    assert wrong_light(spots.assign(distance_km=500.0)) is None
    assert wrong_light(spots.assign(band=pd.Categorical(["30m"] * len(spots)))) is None
    assert wrong_light(spots.head(0)) is None

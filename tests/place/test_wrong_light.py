"""Far paths in the wrong light: half a day of error is noted, summer time and right clocks are not."""

from __future__ import annotations

import geographiclib.geodesic
import numpy as np
import pandas as pd
import pytest

from reach.base import locator
from reach.place import path, sun
from reach.place import wrong_light as light
from reach.place.wrong_light import FEWEST_HOURS, wrong_light, wrong_shares
from tests.place.sun_error import spa_elevation_deg

WGS84 = geographiclib.geodesic.Geodesic.WGS84
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


@pytest.mark.parametrize("band", ["20m", "40m"])
def test_the_shares_are_those_of_another_sun(band):
    """Each receiver's hour once, at every shift by whole hours: pvlib's SPA at the middle that geographiclib finds, where light is
    taken to last until the sine of the sun's elevation is -0.05."""
    spots = _heard(5, band=band, strays=0.5).head(600)
    assert len(spots) == 600
    one = spots.assign(hour=spots["time_utc"].dt.floor("h")).drop_duplicates(["rx_call", "hour", "band"])
    (lon,), (lat,) = locator.centre([HOME])
    middles = [
        WGS84.Direct(lat, lon, azimuth, km * 500)
        for azimuth, km in zip(one["bearing_deg"], one["distance_km"], strict=True)
    ]
    mid_lon, mid_lat = (np.array([each[name] for each in middles]) for name in ("lon2", "lat2"))
    shares = wrong_shares(spots)
    for hours, share in zip(range(-12, 13), shares, strict=True):
        time = (one["time_utc"] + pd.Timedelta(hours=hours)).dt.tz_convert(None).to_numpy()
        lit = np.sin(np.radians(spa_elevation_deg(time, mid_lon, mid_lat))) > -0.05
        assert share == pytest.approx((lit != (band == "20m")).mean(), abs=0.012), hours


def test_both_kinds_of_bands_count_together():
    day, night = _heard(2), _heard(3, band="40m")
    both = pd.concat([day, night], ignore_index=True).assign(band=lambda t: pd.Categorical(t["band"]))
    sizes = [len(t.assign(h=t["time_utc"].dt.floor("h")).drop_duplicates(["rx_call", "h"])) for t in (day, night)]
    assert wrong_shares(both) == pytest.approx(
        np.average([wrong_shares(day), wrong_shares(night)], axis=0, weights=sizes)
    )


def test_thirty_receivers_hours_beyond_a_thousand_kilometres_are_enough():
    table = (
        _heard(3).sort_values("time_utc").assign(rx_call=lambda t: pd.Categorical([f"G{k}QTC" for k in range(len(t))]))
    )
    some = table.iloc[:: len(table) // 30].head(30).reset_index(drop=True)
    assert some["time_utc"].dt.hour.nunique() >= 12
    assert wrong_shares(some) is not None and wrong_shares(some.head(29)) is None
    near = some.assign(distance_km=some["distance_km"].where(some.index > 0, 1000.0))
    assert wrong_shares(near) is None
    assert wrong_shares(near.assign(distance_km=near["distance_km"].where(near.index > 0, 1000.1))) is not None
    twice = pd.concat([some.head(29), some.head(5)], ignore_index=True)  # a receiver's hour counts once
    assert wrong_shares(twice) is None


def test_of_very_many_some_at_even_steps_are_looked_at(monkeypatch):
    table = _heard(3).assign(rx_call=lambda t: pd.Categorical([f"G{k}QTC" for k in range(len(t))]))
    monkeypatch.setattr(light, "MOST_CELLS", len(table) // 3)
    assert wrong_shares(table).tolist() == wrong_shares(table.iloc[::3]).tolist()


@pytest.mark.parametrize(
    ("now", "best", "noted"),
    [(0.33, 0.1, False), (0.34, 0.16, True), (0.5, 0.25, False), (0.5, 0.24, True), (0.9, 0.5, False)],
)
def test_a_third_in_the_wrong_light_and_half_of_it_elsewhere_are_noted(monkeypatch, now, best, noted):
    shares = np.full(25, 1.0)
    shares[12], shares[3] = now, best
    monkeypatch.setattr(light, "wrong_shares", lambda spots: shares)
    assert wrong_light(None) == (light.WrongLight(now, -9, best) if noted else None)

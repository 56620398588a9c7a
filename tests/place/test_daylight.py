"""The day and night per spot: against sampled paths with another sun and another geodesic, and laws."""

from functools import partial

import geographiclib.geodesic
import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import locator
from reach.place import daylight, path, sun
from reach.spots import SPOT
from tests import factory
from tests.place.sun_error import spa_elevation_deg

SHARE = 0.01  # what `dark_share` says of its sphere
WGS84 = geographiclib.geodesic.Geodesic.WGS84

MINUTE = st.integers(0, 51 * 365 * 1440)
LON, LAT = st.floats(-180, 180), st.floats(-89, 89)


@pytest.fixture(scope="module")
def spots():
    rng = np.random.default_rng(5)
    table = factory.spots(1500, factory.receivers(120, rng), rng, days=3, hours=24)
    return table.drop(columns=[name for name in daylight.DAYLIGHT if name in table])


@pytest.fixture(scope="module")
def found(spots):
    return daylight.daylight(spots)


def test_columns_are_as_described(spots, found):
    assert list(found.columns) == [*spots.columns, *daylight.DAYLIGHT]
    for name, (dtype, meaning) in daylight.DAYLIGHT.items():
        assert str(found[name].dtype) == dtype and meaning, name
    assert not set(daylight.DAYLIGHT) & set(spots.columns)  # nothing was written into the argument


def test_elevations_are_those_of_another_sun(spots, found):
    """pvlib's SPA at both ends and at the middle that geographiclib finds."""
    time = spots["time_utc"].dt.tz_convert(None).to_numpy()
    tx_lon, tx_lat = locator.centre(spots["tx_locator"].astype(str))
    rx_lon, rx_lat = spots["rx_lon_deg"].to_numpy(), spots["rx_lat_deg"].to_numpy()
    middles = [
        WGS84.InverseLine(*ends).Position(WGS84.Inverse(*ends)["s12"] / 2)
        for ends in zip(tx_lat[:300], tx_lon[:300], rx_lat[:300], rx_lon[:300], strict=True)
    ]
    mid_lon, mid_lat = (np.array([each[name] for each in middles]) for name in ("lon2", "lat2"))
    assert found["tx_sun_deg"].to_numpy() == pytest.approx(spa_elevation_deg(time, tx_lon, tx_lat), abs=0.02)
    assert found["rx_sun_deg"].to_numpy() == pytest.approx(spa_elevation_deg(time, rx_lon, rx_lat), abs=0.02)
    assert found["mid_sun_deg"].to_numpy()[:300] == pytest.approx(
        spa_elevation_deg(time[:300], mid_lon, mid_lat), abs=0.02
    )


def test_day_night_and_twilight_are_all(found):
    for end in ("tx", "rx", "mid"):
        counts = found[f"{end}_day_night"].value_counts()
        assert set(counts.index) == set(daylight.STATES)
        assert counts.sum() == len(found)
        elevation = found[f"{end}_sun_deg"]
        assert (elevation[found[f"{end}_day_night"] == daylight.DAY] >= sun.SUNRISE_DEG - 1e-4).all()
        assert (elevation[found[f"{end}_day_night"] == daylight.NIGHT] < daylight.TWILIGHT_DEG + 1e-4).all()


@pytest.mark.parametrize("end", ["tx", "rx", "mid"])
def test_day_ends_at_the_sun_s_upper_edge_and_twilight_at_six_degrees(found, end):
    """-0.833 and -6 degrees are common practice; elevations are kept as float32, so the last ten thousandth may fall either way."""
    elevation = found[f"{end}_sun_deg"].to_numpy(float)
    clear = (np.abs(elevation + 0.833) > 1e-4) & (np.abs(elevation + 6) > 1e-4)
    expected = np.select([elevation > -0.833, elevation > -6], ["day", "twilight"], "night")
    assert clear.sum() > 0.99 * len(found)
    assert (found[f"{end}_day_night"].astype(str).to_numpy() == expected)[clear].all()
    assert {"day", "twilight", "night"} <= set(expected)


def test_grey_line_is_both_ends_near_the_terminator(found):
    near = (found[["tx_sun_deg", "rx_sun_deg"]].abs() <= 6).all(axis=1)
    assert found["grey_line"].equals(near)
    assert 0 < near.sum() < len(found)


def test_dark_share_against_sampled_geodesics():
    """201 points along each WGS 84 path, by pvlib's sun."""
    rng = np.random.default_rng(8)
    for _ in range(60):
        lon, lat, bearing, distance = (
            rng.uniform(-180, 180),
            rng.uniform(-80, 80),
            rng.uniform(0, 360),
            rng.uniform(1, 19500),
        )
        time = np.datetime64("2026-01-01", "us") + np.timedelta64(int(rng.integers(0, 525600)), "m")
        steps = (np.arange(200) + 0.5) / 200 * distance
        there_lon, there_lat = path.direct(lon, lat, bearing, steps)
        dark = spa_elevation_deg(np.full(200, time), there_lon, there_lat) < sun.SUNRISE_DEG
        ours = daylight.dark_share(*sun.subsolar(time), lon, lat, bearing, distance)
        assert ours == pytest.approx(dark.mean(), abs=SHARE)


@given(MINUTE, LON, LAT, LON, LAT)
def test_the_way_back_is_as_dark(minute, lon0, lat0, lon1, lat1):
    """But for the sphere: a geodesic and its way back differ a little as great circles."""
    (distance,), (there,) = path.inverse(lon0, lat0, lon1, lat1)
    _, (back,) = path.inverse(lon1, lat1, lon0, lat0)
    at = sun.subsolar(np.datetime64("2000-01-01", "us") + np.timedelta64(minute, "m"))
    if distance > 19_000:
        return  # near the antipode a little of bearing is a lot of path
    one, other = (
        daylight.dark_share(*at, lon0, lat0, there, distance),
        daylight.dark_share(*at, lon1, lat1, back, distance),
    )
    assert 0 <= one <= 1
    assert one == pytest.approx(float(other), abs=max(2 * SHARE, 60 / max(distance, 1e-9)))


@given(MINUTE, LON, LAT, st.floats(0, 360), st.floats(0, 20004), st.floats(0, 1))
def test_dark_shares_of_the_parts_make_the_whole(minute, lon, lat, bearing, distance, part):
    """On a sphere: the share of a path is that of its first part and of its rest, weighed by their length."""
    at = sun.subsolar(np.datetime64("2000-01-01", "us") + np.timedelta64(minute, "m"))
    whole = daylight.dark_share(*at, lon, lat, bearing, distance) * distance
    first = daylight.dark_share(*at, lon, lat, bearing, distance * part) * distance * part
    rounding_km = 20004 * 1e-6
    assert -rounding_km <= whole - first <= distance * (1 - part) + rounding_km


def test_a_path_of_no_length():
    """The station itself: dark or not, by its own sun."""
    moments = np.array(["2026-05-10T12:00", "2026-05-10T00:30"], "datetime64[us]")
    assert daylight.dark_share(*sun.subsolar(moments), -9.6, 51.7, np.nan, 0.0).tolist() == [0, 1]


def test_known_shares():
    """At an equinox from the subsolar point: a quarter of the way round is light, the antipode's half is dark."""
    at = sun.subsolar(np.datetime64("2026-03-20T14:46", "us"))
    lon, lat = float(at[0]), float(at[1])
    quarter_km = np.pi / 2 * 6371.0088
    assert daylight.dark_share(*at, lon, lat, 40.0, quarter_km) == 0
    assert daylight.dark_share(*at, lon, lat, 40.0, 2 * quarter_km) == pytest.approx(0.5 - 0.833 / 180, abs=1e-6)
    assert daylight.dark_share(*at, lon + 180, -lat, 40.0, quarter_km * 0.9) == 1


def test_solar_hour_at_the_station(found):
    """From longitude and the equation of time, +3.6 minutes from 9 to 12 May (any almanac)."""
    lon, _ = locator.centre(["IO51es"])
    clock = found["time_utc"].dt.hour + found["time_utc"].dt.minute / 60
    expected = (clock + lon[0] / 15 + 3.6 / 60) % 24
    away = np.abs(found["tx_solar_hour"] - expected)
    assert np.minimum(away, 24 - away).max() < 0.01
    assert found["tx_solar_hour"].between(0, 24, inclusive="left").all()


def test_blocks_make_no_difference(spots, found, monkeypatch):
    monkeypatch.setattr(daylight, "_ROWS_AT_ONCE", 97)
    pd.testing.assert_frame_equal(daylight.daylight(spots), found)


def test_no_rows(spots):
    empty = daylight.daylight(spots.iloc[:0])
    assert len(empty) == 0 and set(daylight.DAYLIGHT) <= set(empty.columns)


def test_an_index_of_its_own_is_kept(spots, found):
    shuffled = spots.sample(frac=0.2, random_state=1)
    pd.testing.assert_frame_equal(daylight.daylight(shuffled), found.loc[shuffled.index], check_categorical=False)


def test_needs_no_more_than_it_says(spots, found):
    needed = ["time_utc", "tx_locator", "rx_locator", "rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg"]
    slim = daylight.daylight(spots[needed])
    assert set(needed) - set(SPOT) == {"rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg"}
    pd.testing.assert_frame_equal(slim[list(daylight.DAYLIGHT)], found[list(daylight.DAYLIGHT)])


def test_what_is_known_already_is_kept_and_the_rest_worked_out(spots, found):
    """Rows without an elevation are worked out; of the others all stays as it was, were it wrong."""
    known = found[list(daylight.DAYLIGHT)].copy()
    assert_same = partial(pd.testing.assert_frame_equal, right=found)
    assert_same(daylight.daylight(spots, known))
    lost = np.arange(len(spots)) % 7 == 3
    known.loc[lost, "tx_sun_deg"] = np.nan
    known.loc[lost, "rx_day_night"] = None
    known.loc[lost, "dark_share"] = np.float32(0.5)
    assert_same(daylight.daylight(spots, known))
    marked = known.assign(
        dark_share=np.float32(0.25),
        grey_line=True,
        mid_day_night=pd.Categorical(["night"] * len(spots), daylight.STATES),
    )
    again = daylight.daylight(spots, marked)
    for name, mark in (("dark_share", 0.25), ("grey_line", True), ("mid_day_night", "night")):
        assert (again[name][~lost] == mark).all()
        assert again[name][lost].tolist() == found[name][lost].tolist()


def test_a_row_without_time_or_place_has_no_light(spots):
    some = spots.head(4).copy()
    some["time_utc"] = some["time_utc"].where([False, True, True, True])
    some.loc[some.index[1], ["rx_locator", "rx_lon_deg", "rx_lat_deg", "distance_km", "bearing_deg"]] = [
        None,
        *[np.nan] * 4,
    ]
    got = daylight.daylight(some)
    assert got["tx_sun_deg"].isna().tolist() == [True, False, False, False]
    for end in ("rx", "mid"):
        assert (
            got[f"{end}_sun_deg"].isna().tolist()
            == got[f"{end}_day_night"].isna().tolist()
            == [True, True, False, False]
        )
    assert got["dark_share"].isna().tolist() == [True, True, False, False] and not got["grey_line"][:2].any()
    assert got["tx_solar_hour"].isna().tolist() == [True, False, False, False]


def test_an_elevation_on_an_edge_belongs_to_the_lighter_side():
    elevation = np.array([0.0, sun.SUNRISE_DEG, np.nextafter(sun.SUNRISE_DEG, -1), -6.0, np.nextafter(-6, -7), np.nan])
    assert daylight._state_codes(elevation).tolist() == [0, 0, 1, 1, 2, -1]


def test_six_degrees_are_within_six_degrees(spots, monkeypatch):
    """At both ends, above the horizon or below."""
    ends = iter([6.0, -6.0, 0.0, 6.0, 6.01, 0.0, -6.01, 6.0, 0.0])
    monkeypatch.setattr(sun, "from_subsolar", lambda lon, *_: np.full(np.shape(lon), next(ends)))
    assert [daylight.daylight(spots.head(1))["grey_line"].item() for _ in range(3)] == [True, False, False]


def test_an_hour_that_rounds_to_24_is_0(spots, monkeypatch):
    """In the 24 bits of a float32 the last millionth of a day is lost."""
    for hour, kept in ((23.9999999, 0.0), (23.99, np.float32(23.99)), (0.25, 0.25)):
        monkeypatch.setattr(sun, "solar_hour", lambda lon, _, hour=hour: np.full(np.shape(lon), hour))
        assert daylight.daylight(spots.head(1))["tx_solar_hour"].item() == kept


def test_along_the_terminator_it_is_day_all_the_way():
    """The sun's centre on the horizon is above -0.833 degrees, and a degree into the night nothing of the path is lit."""
    assert daylight.dark_share(0.0, 0.0, 90.0, 0.0, 0.0, 15_000.0) == 0
    assert daylight.dark_share(0.0, 0.0, [90.5, 91.0], 0.0, 0.0, 3_000.0).tolist() == [0, 1]


def test_a_share_is_told_to_the_millionth():
    """From the point below the sun to the antipode, which lies (180 - 90.833) / 180 of the way in the dark."""
    assert daylight.dark_share(0.0, 0.0, 0.0, 0.0, 40.0, np.pi * 6371.0088) == 0.495372

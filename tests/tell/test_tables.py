"""Tables as files: the bytes of the usual writer, and the same table back from Parquet."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as some

from reach.tell import tables


def usual(table: pd.DataFrame) -> bytes:
    """As pandas writes the same: rounded, times as ISO 8601."""
    shown = table.copy()
    for name in shown.columns:
        if isinstance(shown[name].dtype, pd.DatetimeTZDtype):
            shown[name] = shown[name].dt.strftime("%Y-%m-%dT%H:%M:%SZ")
        elif shown[name].dtype.kind == "f":
            shown[name] = shown[name].astype(float).round(6 if name.endswith(("lon_deg", "lat_deg", "_mhz")) else 3)
    return shown.to_csv(index=False, lineterminator="\n").encode()


def ours(table: pd.DataFrame, path) -> bytes:
    tables.write_csv(table, path)
    return path.read_bytes()


SIZES = some.one_of(some.floats(-1e30, 1e30), some.sampled_from([np.nan, np.inf, -np.inf, -0.0, 9.99e-5, 1e9, 1e16]))


@given(some.lists(SIZES, min_size=1, max_size=30))
def test_numbers_are_written_as_the_usual_writer_does(tmp_path_factory, values):
    path = tmp_path_factory.mktemp("csv") / "t.csv"
    table = pd.DataFrame({"rx_lon_deg": values, "other": np.float32(values)})
    assert ours(table, path) == usual(table)


@given(some.lists(some.one_of(some.none(), some.text('a",\n ;ü', max_size=4)), min_size=1, max_size=20))
def test_text_is_quoted_as_the_usual_writer_does(tmp_path_factory, words):
    path = tmp_path_factory.mktemp("csv") / "t.csv"
    column = pd.Series(words, dtype="str")
    table = pd.DataFrame({"a": column, "b": pd.Categorical(column), "c": range(len(words)), "d": column})
    assert ours(table, path) == usual(table)


def mixed(rows: int) -> pd.DataFrame:
    rng = np.random.default_rng(2)
    times = pd.Series(pd.date_range("2026-05-16", periods=rows, freq="7s", tz="UTC").as_unit("us"))
    return pd.DataFrame(
        {
            "time_utc": times.where(rng.random(rows) < 0.9),
            "snr_db": rng.integers(-30, 10, rows).astype("float32"),
            "freq_mhz": np.where(rng.random(rows) < 0.1, np.nan, 14.0871 + rng.integers(0, 200, rows) * 1e-6),
            "rx_call": pd.Categorical(np.array(["G4QRA", "F5QSA", None], dtype=object)[rng.integers(0, 3, rows)]),
            "line": np.arange(rows),
            "grey_line": rng.random(rows) < 0.5,
            "mid_sun_deg": rng.uniform(-90, 90, rows),
        }
    )


@pytest.mark.parametrize("rows", [0, 1, 500])
def test_a_table_of_all_kinds_is_the_same_bytes_in_parts_of_any_size(tmp_path, monkeypatch, rows):
    monkeypatch.setattr(tables, "_ROWS", 77)
    assert ours(mixed(rows), tmp_path / "t.csv") == usual(mixed(rows))


@pytest.mark.parametrize("rows", [0, 1, 500])
def test_what_is_said_of_rows_is_made_in_parts_and_the_same_bytes(tmp_path, monkeypatch, rows):
    most = []

    def said(part: pd.DataFrame) -> pd.DataFrame:
        most.append(len(part))
        return part.assign(twice=2 * part["line"])[["line", "twice"]]

    monkeypatch.setattr(tables, "_ROWS_SAID", 77)
    table, path = mixed(rows), tmp_path / "t.csv"
    tables.write_csv(table, path, said=said)
    assert path.read_bytes() == usual(table.assign(twice=2 * table["line"])[["line", "twice"]])
    assert max(most) <= 77 and sum(most) == rows


def test_parquet_gives_the_table_back_rounded_as_in_csv(tmp_path, monkeypatch):
    monkeypatch.setattr(tables, "_ROWS", 77)
    table = mixed(500)
    tables.write_parquet(table, tmp_path / "t.parquet")
    back = pd.read_parquet(tmp_path / "t.parquet")
    expected = table.assign(
        snr_db=table["snr_db"].astype(float),
        freq_mhz=table["freq_mhz"].round(6),
        mid_sun_deg=table["mid_sun_deg"].round(3),
    )
    pd.testing.assert_frame_equal(back, expected, check_categorical=False)
    tables.write_parquet(table, tmp_path / "again.parquet")
    assert (tmp_path / "again.parquet").read_bytes() == (tmp_path / "t.parquet").read_bytes()


def test_text_that_was_put_together_from_several_tables_is_written(tmp_path):
    """Of which Arrow makes an array in pieces; such were the problems of files with a handful of faults."""
    pieces = [pd.DataFrame({"a": pd.Series([word], dtype="str"), "line": [k]}) for k, word in enumerate(("x", "y"))]
    table = pd.concat(pieces, ignore_index=True)[["line", "a"]]
    assert ours(table, tmp_path / "t.csv") == b"line,a\n0,x\n1,y\n"


@pytest.mark.parametrize("of", [3, 40])
def test_of_many_names_only_those_that_are_there_are_written(tmp_path, of):
    """A column of few rows and many names: cut out of a long table, with blanks, names in no order of text, odd ones among them."""
    names = [f"n{9 - k % 10}{k}" for k in range(of)] + ['a "b", c', "=1+1", "-,", "x\ny", "ß"]
    codes = np.array([of + 1, -1, of, 2, of + 4, of + 3, of + 2, 0, 2])
    table = pd.DataFrame({"name": pd.Categorical.from_codes(codes, names), "line": np.arange(len(codes))})
    tables.write_csv(table, tmp_path / "few.csv")
    tables.write_csv(table.assign(name=table["name"].astype(object)), tmp_path / "plain.csv")
    text = (tmp_path / "few.csv").read_bytes().decode()
    assert text == (tmp_path / "plain.csv").read_bytes().decode()
    assert text.splitlines()[1:4] == ["'=1+1,0", ",1", '"a ""b"", c",2'] and '"\'-,",6' not in text and '"-,",6' in text

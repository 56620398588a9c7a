"""What is opened: bombs, devices, odd archives, cells and marks that swallow rows. Nothing lost, one sentence."""

from __future__ import annotations

import gzip
import io
import os
import zipfile
from pathlib import Path

import pyarrow as pa
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import reach
from reach.base import text
from reach.errors import InputError
from reach.read import rows, sources

HEADER = "time,callsign,locator,snr,frequency,remarks\n"
ROW = "2026-05-16 18:{:02},EI4QTB,IO51es,-20,14.15,{}\n"


def read(path: Path):
    return reach.read(path)


def test_a_small_file_that_unpacks_to_more_than_the_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(sources, "LARGEST_UNPACKED", 3 << 20)
    bomb = tmp_path / "a.csv.gz"
    bomb.write_bytes(gzip.compress((HEADER + ROW.format(1, "x") * 100_000).encode()))
    assert bomb.stat().st_size < 100_000
    with pytest.raises(InputError, match=r"more than .* of text, which is the limit"):
        sources.open_all([bomb])
    archive = tmp_path / "a.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as out:
        for k in range(3):
            out.writestr(f"{k}.csv", HEADER + ROW.format(1, "x") * 40_000)
    with pytest.raises(InputError, match="which is the limit"):
        sources.open_all([archive])


def test_zero_bytes_without_end(tmp_path):
    if not os.path.exists("/dev/zero"):
        pytest.skip("no such device here")
    with pytest.raises(InputError, match="zero bytes"):
        sources.open_all(["/dev/zero"])
    (tmp_path / "a.gz").write_bytes(gzip.compress(bytes(5 << 20)))
    with pytest.raises(InputError, match="zero bytes"):
        sources.open_all([tmp_path / "a.gz"])


def test_packed_over_and_over(tmp_path):
    content = HEADER.encode()
    for _ in range(50):
        content = gzip.compress(content)
    (tmp_path / "a.gz").write_bytes(content)
    with pytest.raises(InputError, match="packed more than"):
        sources.open_all([tmp_path / "a.gz"])


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_members_of_one_name_are_both_read(tmp_path):
    path = tmp_path / "a.zip"
    with zipfile.ZipFile(path, "w") as out:
        out.writestr("a.csv", HEADER + ROW.format(1, ""))
        out.writestr("a.csv", HEADER + ROW.format(2, ""))
    found = read(path)
    assert len(found) == 2 and list(found["source"]) == ["a.zip/a.csv", "a.zip/a.csv (2)"]


def test_more_members_than_the_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(sources, "MOST_MEMBERS", 3)
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as out:
        for k in range(4):
            out.writestr(f"{k}.csv", HEADER)
    with pytest.raises(InputError, match="holds 4 files, more than the limit of 3"):
        sources.open_all([tmp_path / "a.zip"])


def test_a_file_that_shrinks_after_it_was_opened(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER + ROW.format(1, "x") * 10_000)
    (source,) = sources.open_all([path])
    before = source.text.size
    path.write_text("")
    assert source.text.size == before and source.text.to_pybytes().endswith(b"\n")


def test_more_columns_than_the_limit(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER.strip() + "," + ",".join(f"c{k}" for k in range(1100)) + "\n")
    with pytest.raises(InputError, match=r"more than the limit of 1,000"):
        read(path)


def test_a_number_of_400_digits(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER + ROW.format(1, "") + ROW.format(2, "1,2,-" + "9" * 400) + ROW.format(3, "-" + "9" * 400))
    assert len(read(path)) == 3


def test_ditto_marks_join_no_rows(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER + ROW.format(0, "cold") + "".join(ROW.format(k, '"') for k in range(1, 41)))
    found = read(path)
    assert list(found["line"]) == list(range(2, 43))
    assert "fault" not in found or found["fault"].isna().all()


def test_a_long_cell_is_a_cell_like_any_other(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER + ROW.format(0, "") + ROW.format(1, '"' + "x" * 140_000 + '"') + ROW.format(2, ""))
    found = read(path)
    assert len(found) == 3 and "fault" not in found


def test_control_characters_are_shown_and_rows_kept(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEADER + ROW.format(0, "") + ROW.format(1, "").replace("EI4QTB", "EI4QTB\x1b[31m\u202e"))
    found = read(path)
    assert list(found["rx_call"]) == ["EI4QTB", "EI4QTB\u241b[31m<U+202E>"]
    assert all(text.is_clean(str(word)) for name in found for word in found[name].astype(str))


PIECES = (
    "a",
    "b",
    ",",
    ",",
    "\n",
    "\n",
    "\r\n",
    "\r",
    '"',
    '""',
    '",',
    ',"',
    " ",
    "\t",
    "'",
    "\ufeff",
    "\0",
    "\xa0",
    "\u2028",
    "\x0b",
    "\x1c",
    "\x85",
)


@settings(max_examples=1500)
@given(st.lists(st.sampled_from(PIECES), min_size=1, max_size=24).map("".join))
def test_both_readers_read_the_same(content):
    """The fast reader steps aside, or says what the careful one says of every row."""
    how = (pa.py_buffer(content.encode()), ",", {"x": 0, "y": 1}, 2, 0)
    fast = rows._fast(*how)
    if fast is not None:
        assert told(fast) == told(rows._careful(*how)[0])


def told(found: rows.Rows) -> object:
    cells = {name: [column.words[code] for code in column.codes] for name, column in found.columns.items()}
    return cells, found.line.tolist(), found.faults


def test_foreign_bytes_in_a_zip_are_told(tmp_path):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("a.csv", HEADER)
    content = out.getvalue()
    for cut in range(5, len(content), 7):
        path = tmp_path / "a.zip"
        path.write_bytes(content[:cut])
        with pytest.raises(InputError) as error:
            read(path)
        assert text.is_clean(str(error.value)) and "\n" not in str(error.value)

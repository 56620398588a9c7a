"""Opening: packing, encodings, globs, names, standard input, and what cannot be opened."""

import bz2
import gzip
import hashlib
import io
import lzma
import os
import zipfile

import pyarrow as pa
import pytest

from reach.errors import InputError
from reach.read import encoding, sources
from reach.read.sources import Disc, open_all

TEXT = "time,callsign\n2026-05-16 20:00,DL2QTC\n"
ACCENTED = "time,callsign\n2026-05-16 20:00,Küche–SDR\n"


def zstd(data):
    sink = pa.BufferOutputStream()
    with pa.CompressedOutputStream(sink, "zstd") as stream:
        stream.write(data)
    return sink.getvalue().to_pybytes()


def zipped(**entries):
    sink = io.BytesIO()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in entries.items():
            archive.writestr(name, text)
    return sink.getvalue()


def texts(*paths, **more):
    return {source.name: source.text.to_pybytes().decode() for source in open_all(paths, **more)}


@pytest.mark.parametrize(
    ("name", "pack"),
    [
        ("a.csv", bytes),
        ("a.csv.gz", gzip.compress),
        ("a.csv.bz2", bz2.compress),
        ("a.csv.xz", lzma.compress),
        ("a.csv.zst", zstd),
        ("a.csv", gzip.compress),  # the content says how it is packed, not the name
        ("a.csv.gz.xz", lambda data: lzma.compress(gzip.compress(data))),
        ("two.gz", lambda data: gzip.compress(data[:10]) + gzip.compress(data[10:])),
    ],
)
def test_unpacks(tmp_path, name, pack):
    (tmp_path / name).write_bytes(pack(TEXT.encode()))
    assert texts(tmp_path / name) == {name: TEXT}


def test_an_archive_gives_its_tables_each_under_its_own_name(tmp_path):
    entries = {"b/spots.csv": TEXT, "a.tsv": "x", "README.md": "no table", "__MACOSX/._a.csv": "no table"}
    (tmp_path / "may.zip").write_bytes(zipped(**entries))
    assert texts(tmp_path / "may.zip") == {"may.zip/b/spots.csv": TEXT, "may.zip/a.tsv": "x"}


@pytest.mark.parametrize(
    ("encoding", "mark"),
    [
        ("utf-8", b""),
        ("utf-8-sig", b""),
        ("utf-16", b""),
        ("utf-16-le", b"\xff\xfe"),
        ("utf-16-be", b"\xfe\xff"),
        ("utf-16-le", b""),
        ("utf-16-be", b""),
        ("utf-32", b""),
        ("cp1252", b""),
    ],
)
def test_any_encoding_comes_out_as_utf8_without_a_mark(tmp_path, encoding, mark):
    (tmp_path / "a.csv").write_bytes(mark + ACCENTED.encode(encoding))
    assert texts(tmp_path / "a.csv") == {"a.csv": ACCENTED}


def test_a_byte_that_windows_1252_does_not_know_is_replaced(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"caf\xe9 \x81\n")
    assert texts(tmp_path / "a.csv") == {"a.csv": "café \ufffd\n"}


def test_utf8_is_tested_to_the_very_end(tmp_path, monkeypatch):
    monkeypatch.setattr(encoding, "_CHUNK", 7)
    for data, text in (
        (ACCENTED.encode() * 9, ACCENTED * 9),
        (ACCENTED.encode() * 9 + b"\xc3", ACCENTED * 9 + "\ufffd"),
    ):
        (tmp_path / "a.csv").write_bytes(data)
        assert texts(tmp_path / "a.csv") == {"a.csv": text}


def test_globs_in_order_of_names_and_no_file_twice(tmp_path):
    for name in ("b.csv", "a.csv", "c.txt"):
        (tmp_path / name).write_text(name)
    found = texts(tmp_path / "b.csv", str(tmp_path / "*.csv"), str(tmp_path / "?.txt"), tmp_path / "." / "a.csv")
    assert list(found) == ["b.csv", "a.csv", "c.txt"]


def test_a_name_with_brackets_is_a_file_before_it_is_a_glob(tmp_path):
    (tmp_path / "spots[1].csv").write_text("here")
    assert texts(str(tmp_path / "spots[1].csv")) == {"spots[1].csv": "here"}


def test_relative_paths_start_at_the_folder(tmp_path):
    (tmp_path / "a.csv").write_text("here")
    assert texts("a.csv", folder=tmp_path) == {"a.csv": "here"}
    assert texts("*.csv", folder=tmp_path) == {"a.csv": "here"}


def test_files_of_one_name_are_told_apart_by_their_folders(tmp_path):
    for folder in ("may/one", "may/two", "june/one"):
        (tmp_path / folder).mkdir(parents=True)
        (tmp_path / folder / "spots.csv").write_text(folder)
    (tmp_path / "other.csv").write_text("x")
    paths = [tmp_path / f / "spots.csv" for f in ("may/one", "may/two", "june/one")]
    assert texts(*paths[:2], tmp_path / "other.csv") == {
        "one/spots.csv": "may/one", "two/spots.csv": "may/two", "other.csv": "x",
    }  # fmt: skip
    assert set(texts(*paths)) == {"may/one/spots.csv", "two/spots.csv", "june/one/spots.csv"}


def test_standard_input(monkeypatch):
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(gzip.compress(TEXT.encode()))))
    assert texts("-") == {"standard input": TEXT}


UMLAUTS = TEXT + "äöü,ß,Łódź\n"


@pytest.mark.parametrize("chunk", [1 << 20, 100, 7, 3])
@pytest.mark.parametrize(
    "content",
    [
        TEXT.encode(),
        b"\xef\xbb\xbf" + UMLAUTS.encode(),
        UMLAUTS.encode() + b"\xc3",
        UMLAUTS.encode("utf-16"),
        UMLAUTS.encode("utf-16-be"),
        UMLAUTS.encode("utf-32"),
        UMLAUTS.encode("cp1250"),
        gzip.compress(UMLAUTS.encode("cp1250")),
        bz2.compress(TEXT.encode()),
        lzma.compress(TEXT.encode()),
        zstd(UMLAUTS.encode()),
        zipped(**{"a.csv": TEXT, "b.csv": UMLAUTS}),
        gzip.compress(zipped(**{"a.csv": TEXT, "b.csv": UMLAUTS})),
        b"",
    ],
    ids=range(14),  # bytes hold the time
)
def test_what_stays_on_the_disc_is_what_memory_would_hold(tmp_path, monkeypatch, content, chunk):
    (tmp_path / "a").write_bytes(content)

    def opened(disc=None):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(content)))
        return [
            (source.name, source.encoding, source.sha256(), source.text.slice(0, source.text.size).to_pybytes())
            for source in open_all([tmp_path / "a", "-"], disc=disc)
        ]

    monkeypatch.setattr(encoding, "_CHUNK", 2 * chunk)
    whole = opened()
    monkeypatch.setattr(sources, "_CHUNK", chunk)
    with Disc(tmp_path) as disc:
        assert opened(disc) == whole


def test_the_hash_is_that_of_the_file_as_it_was(tmp_path):
    packed = gzip.compress(TEXT.encode())
    (tmp_path / "a.csv.gz").write_bytes(packed)
    assert open_all([tmp_path / "a.csv.gz"])[0].sha256() == hashlib.sha256(packed).hexdigest()


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("a.csv.gz", gzip.compress(TEXT.encode())[:-9], "looks like gzip and cannot be unpacked"),
        ("a.csv.gz", b"\x1f\x8bnonsense", "looks like gzip and cannot be unpacked"),
        ("a.xz", lzma.compress(TEXT.encode())[:-9], "looks like xz and cannot be unpacked"),
        ("a.zst", zstd(TEXT.encode() * 99)[:-5], "looks like zstd and cannot be unpacked"),
        ("a.zip", zipped(a="b")[:-9], "looks like zip and cannot be unpacked"),
        ("a.zip", zipped(**{"folder/": ""}), "without a file in it"),
        ("a.xlsx", zipped(**{"[Content_Types].xml": "", "xl/a.xml": ""}), "save the table as CSV first"),
    ],
    ids=[
        "gzip cut",
        "gzip nonsense",
        "xz cut",
        "zstd cut",
        "zip cut",
        "zip of nothing",
        "workbook",
    ],  # bytes hold the time
)
def test_what_cannot_be_unpacked(tmp_path, name, content, message):
    (tmp_path / name).write_bytes(content)
    with pytest.raises(InputError, match=rf"{name}: .*{message}"):
        open_all([tmp_path / name])


def test_what_is_not_there(tmp_path):
    with pytest.raises(InputError, match=r"nowhere\.csv: there is no such file"):
        open_all([tmp_path / "nowhere.csv"])
    with pytest.raises(InputError, match="no file is called so"):
        open_all([str(tmp_path / "*.csv")])
    with pytest.raises(InputError, match=r"is a folder; name the files in it, such as '.*\*\.csv'"):
        open_all([tmp_path])
    with pytest.raises(InputError, match="no file of spots was named"):
        open_all([])


def test_an_empty_file_is_opened_and_left_to_others_to_refuse(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"")
    assert texts(tmp_path / "a.csv") == {"a.csv": ""}


@pytest.mark.parametrize("size", [0, 9, 10, 11, 95])
@pytest.mark.parametrize("given", [4, 10])
def test_a_file_read_in_parts_is_the_file(tmp_path, monkeypatch, size, given):
    """Also where the system gives less at a time than it was asked for."""
    monkeypatch.setattr(sources, "_PART", 10)
    reads = os.preadv
    monkeypatch.setattr(os, "preadv", lambda file, into, start: reads(file, [into[0][:given]], start))
    content = bytes(range(32, 32 + size))
    (tmp_path / "spots.csv").write_bytes(content)
    (source,) = open_all([tmp_path / "spots.csv"])
    assert source.file.to_pybytes() == content

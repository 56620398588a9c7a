"""A file that is gone through piece by piece adds what it adds at once, to the byte, wherever it is cut."""

from __future__ import annotations

import gzip
import hashlib
import io
import shutil
import tempfile
import zipfile
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pyarrow.parquet as pq
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from reach import study as studies
from reach.archive import blocks, collection, taking
from reach.errors import ReachError
from reach.read import encoding, pieces, sources
from reach.study import Study
from tests.archive.test_cluster import bytes_of
from tests.read.test_understood import heard_and_sent

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)
AT_ONCE = 1 << 30
HEADER = "time_utc,callsign,locator,snr_db,frequency_mhz,transmitter,transmitter_locator"
PLAIN = ("2026-05-16T20:00:00Z", "2026-05-16 20:02", "2026-05-17T00:00:00Z", "2026-05-15T23:58:00Z")
AHEAD = ("2026-05-16T22:00:00+02:00", "2026-05-16T22:02:00+02:00")
LATER = ("2190-05-16T20:00:00Z", "2190-05-17T20:00:00Z")
OPEN = ("16/05/2026 20:00", "05/06/2026 20:02", "6/5/2026 20:04")
KINDS = (
    PLAIN,
    AHEAD,
    LATER,
    OPEN,
    (*PLAIN, *AHEAD),
    (*PLAIN, *LATER),
    (*PLAIN, ""),
    (*PLAIN, "16 May 2026 20:00", "never"),
)
PLACES = ("JN58td", "IO91wm", "JN58t", "RE61eg", "JO6leg", "", '"JN\n58td"', '"')
WHO = ("DL2QTC", "EI4QTB/P", "G4QRA", "", "TOTAL", "callsign", '"DL2\nQTC"')
SENT = ("EI4QTB", "EI4QTB/P", "EI9QUC", "", "?", "Total")


def study(**more: Any) -> Study:
    return studies.check({"station": {"callsign": "EI4QTB/P"}, **more}).model_copy(update={"now": NOW})


def added(path: Path, asked: Study, size: int) -> dict[str, bytes] | str:
    """The collection that a file makes; where it will not do, what is said."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        try:
            with collection.adding(home / "c"), collection.staging(home / "c") as staged:
                collection.enter(home / "c", [(staged, taking.adds(home / "c", asked, path, staged, size=size))])
        except ReachError as error:
            return str(error)
        return bytes_of(home / "c")


@st.composite
def exports(draw: st.DrawFn) -> str:
    """Good rows and bad, of several stations, some the other way round, some with cells over two lines or too few."""
    times = st.sampled_from(draw(st.sampled_from(KINDS)))
    good = times.map(lambda time: f"{time},DL2QTC,JN58td,-12,14.0971,EI4QTB,IO51es")
    cells = (times, st.sampled_from(WHO), st.sampled_from(PLACES), st.sampled_from(("-12", "x", "59")),
             st.sampled_from(("14.0971", "14097.1", "13", "")), st.sampled_from(SENT), st.sampled_from(("IO51es", "FN31", "")))  # fmt: skip
    odd = st.sampled_from((HEADER, "", "Total,12", ",,,,,,"))
    more = st.one_of(*[good] * 3, *[st.tuples(*cells).map(",".join)] * 4, odd)
    rows = [*draw(st.lists(good, min_size=3, max_size=5)), *draw(st.lists(more, max_size=12))]
    end = draw(st.sampled_from(("\n", "\r\n", "\r")))
    lines = draw(st.sampled_from((list, *WRITTEN_ANEW)))("\n".join([HEADER, *rows]).split("\n"))
    return end.join(lines) + draw(st.sampled_from(("", end, end + end)))


def set_with_blanks(lines: list[str]) -> list[str]:
    """In columns; a line that is no row of the table stands as it is."""
    rows = [line.split(",") for line in lines]
    widths = [max(len(row[k]) for row in rows if len(row) == len(rows[0])) + 2 for k in range(len(rows[0]))]
    return ["".join(map(str.ljust, row, widths)) if len(row) == len(widths) else " ".join(row) for row in rows]


def with_a_blank_between(lines: list[str]) -> list[str]:
    return [f" {line.replace(' ', 'T')}".replace(",", "  \t") for line in lines]


def in_quotes(lines: list[str]) -> list[str]:
    """Each line as one cell."""
    return ['"' + line.replace('"', '""') + '"' for line in lines]


WRITTEN_ANEW = (set_with_blanks, with_a_blank_between, in_quotes)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(exports(), st.integers(30, 400), st.sampled_from(("sent", "heard")), st.booleans())
@example(HEADER + "\n", 30, "sent", True)
@example(
    "\n".join([HEADER, *(f"{time},DL2QTC,JN58td,-12,14.0971,EI4QTB,IO51es" for time in (*AHEAD, *AHEAD))]),
    30,
    "sent",
    True,
)
@example("\n".join([HEADER, *(f"{time},DL2QTC,JN58td,-12,14.0971,EI9QUC,IO51es" for time in OPEN)]), 30, "sent", True)
def test_the_size_of_a_piece_changes_not_a_byte(text, size, direction, is_now_given):
    now = NOW if is_now_given else None
    asked = study(direction=direction).model_copy(update={"now": now})
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        path.write_bytes(text.encode())
        assert added(path, asked, size) == added(path, asked, AT_ONCE)


@pytest.mark.parametrize(
    ("name", "more"),
    [("messy.csv", {}), ("shared.csv", {}), ("listening.csv", {"direction": "heard"}), ("weekend.csv", {})],
)
def test_samples_in_pieces_of_a_few_kilobytes(name, more, monkeypatch):
    monkeypatch.setattr(blocks, "TOGETHER", 7)
    whole = added(SAMPLES / name, study(**more), AT_ONCE)
    assert isinstance(whole, dict) and len(whole) > 1
    assert added(SAMPLES / name, study(**more), 7000) == whole


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("how", WRITTEN_ANEW)
def test_a_text_that_is_written_anew_adds_the_rows_of_the_plain_one_in_pieces_too(how, end, tmp_path, monkeypatch):
    plain, expected = weekend(end)
    (tmp_path / "export.csv").write_bytes(end.join(how(plain)).encode())
    whole = added(tmp_path / "export.csv", study(), AT_ONCE)
    assert spots_in(whole) == expected
    assert added(tmp_path / "export.csv", study(), 7000) == whole


@cache
def weekend(end: str) -> tuple[list[str], dict[str, list[dict[str, Any]]]]:
    """The lines of a sample, and the sound rows of what the plain file adds whose lines end so."""
    plain = (SAMPLES / "weekend.csv").read_text().splitlines()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "export.csv"
        path.write_bytes(end.join(plain).encode())
        expected = spots_in(added(path, study(), AT_ONCE))
    assert len(expected) > 1
    return plain, expected


def spots_in(made: dict[str, bytes] | str) -> dict[str, list[dict[str, Any]]]:
    """The sound rows of a collection by station and day, whatever the file was called."""
    assert isinstance(made, dict), made
    parts = {name.rpartition("/")[0]: held for name, held in made.items() if "/spots/" in name}
    return {home: pq.read_table(io.BytesIO(held)).to_pylist() for home, held in parts.items()}


def test_an_archive_whose_files_tell_together_whose_they_are(tmp_path):
    with zipfile.ZipFile(tmp_path / "two.zip", "w") as packed:
        for name in ("evening.csv", "messy.csv"):
            packed.writestr(zipfile.ZipInfo(name), (SAMPLES / name).read_bytes())
    whole = added(tmp_path / "two.zip", study(), AT_ONCE)
    assert isinstance(whole, dict)
    assert added(tmp_path / "two.zip", study(), 20_000) == whole


def test_who_transmitted_is_found_from_the_frequencies_of_all_pieces(tmp_path):
    """No header says it, and no piece has slots enough to tell."""
    path = heard_and_sent(np.random.default_rng(1), tmp_path)
    columns = {"callsign": "a", "transmitter": "b", "locator": "c", "snr": "e"}  # the wrong way round
    asked = study(station={"callsign": "EI4QRA"}, options={"columns": columns})
    whole = added(path, asked, AT_ONCE)
    assert isinstance(whole, dict) and any(b"EI4QRA" in name.encode() for name in whole)
    assert added(path, asked, 600) == whole


def test_times_that_late_pieces_alone_explain_are_read_in_all(tmp_path):
    """Plain ones first, then such as need understanding, and at last the one date that tells day from month."""
    times = [
        *(f"2026-05-0{k} 20:00" for k in range(1, 9)),
        *(f"0{k}/05/2026 20:00" for k in range(1, 9)),
        "16/05/2026 20:00",
    ]
    rows = [f"{time},DL2QTC,JN58td,-12,14.0971,EI4QTB,IO51es" for time in times]
    (tmp_path / "a.csv").write_text("\n".join([HEADER, *rows]) + "\n")
    whole = added(tmp_path / "a.csv", study(), AT_ONCE)
    days = {name.split("/")[2] for name in whole if "/spots/" in name}
    assert days == {*(f"2026-05-0{k}" for k in range(1, 9)), "2026-05-16"}
    assert added(tmp_path / "a.csv", study(), 100) == whole


@pytest.mark.parametrize(
    ("most", "last"),
    [
        (f"{LATER[0]},DL2QTC,JN58td,-12,14.0971,EI4QTB,IO51es", f"{PLAIN[0]},DL2QTC,JN58td,-12,14.0971,EI4QTB,IO51es"),
        (f"{PLAIN[0]},W1QTC,FN42aa,-12,7.25,EI4QTB,FN31aa", f"{PLAIN[0]},DL2QTC,JN58td,-12,7.05,EI4QTB,IO51es"),
    ],
    ids=["the clock is behind", "where the station is, so which edges its bands have"],
)
def test_what_most_rows_of_a_file_tell_holds_in_a_piece_that_tells_otherwise(tmp_path, most, last):
    (tmp_path / "a.csv").write_text("\n".join([HEADER, *[most] * 9, last, last]) + "\n")
    by_the_clock = study().model_copy(update={"now": None})
    whole = added(tmp_path / "a.csv", by_the_clock, AT_ONCE)
    assert isinstance(whole, dict) and not [name for name in whole if "problems" in name]
    assert added(tmp_path / "a.csv", by_the_clock, 100) == whole


def test_what_is_killed_between_two_pieces_leaves_nothing(tmp_path, monkeypatch):
    """The collection is as it was, and after the next run no file is there that is not of it."""
    home, judged = tmp_path / "c", taking._judged
    with collection.adding(home):
        taking.add(home, study(), SAMPLES / "shared.csv")
    before, seen = bytes_of(home), list[Any]()

    def killed(*args: Any) -> Any:
        seen.append(args)
        if len(seen) > 4:
            raise KeyboardInterrupt
        return judged(*args)

    monkeypatch.setattr(taking, "_judged", killed)
    with pytest.raises(KeyboardInterrupt), collection.adding(home), collection.staging(home) as staged:
        taking.adds(home, study(), SAMPLES / "weekend.csv", staged, size=9000)
    assert bytes_of(home) == before


@pytest.mark.parametrize("change", [lambda file: file.write(b"more"), lambda file: file.truncate(5000)])
def test_a_file_that_another_program_changes_meanwhile_is_told_and_adds_nothing(tmp_path, monkeypatch, change):
    path, take_some = tmp_path / "evening.csv", pieces.rows.take_some
    shutil.copy(SAMPLES / "evening.csv", path)

    def changes(*args: Any, **more: Any) -> Any:
        with path.open("r+b") as file:
            file.seek(0, 2)
            change(file)
        return take_some(*args, **more)

    monkeypatch.setattr(pieces.rows, "take_some", changes)
    assert added(path, study(), 9000) == "evening.csv: was changed while it was read; try again when it is done."


def _two_packed(text: bytes) -> bytes:
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("a.csv.gz", gzip.compress(text))
    return made.getvalue()


@pytest.mark.parametrize(
    "written",
    [
        bytes,
        lambda text: b"\xef\xbb\xbf" + text,
        gzip.compress,
        _two_packed,
        lambda text: text.decode().encode("utf-16"),
        lambda text: gzip.compress(text.decode().replace("remark", "Präfix").encode("cp1252")),
        lambda text: "\n".join(set_with_blanks(text.decode().splitlines())).encode(),
        lambda text: "\r".join(with_a_blank_between(text.decode().splitlines())).encode(),
        lambda text: "\n".join(in_quotes(text.decode().splitlines())).encode(),
    ],
    ids=["plain", "mark", "gzip", "gzip in zip", "utf-16", "cp1252 in gzip", "blanks", "a blank", "lines in quotes"],
)
def test_of_no_file_more_than_a_few_pieces_are_held(tmp_path, monkeypatch, written):
    asked_for, texts = list[int](), list[int]()
    slice_of, recoded = sources.OnDisc.slice, encoding.recoded

    def watched(self: sources.OnDisc, offset: int = 0, length: int | None = None) -> Any:
        found = slice_of(self, offset, length)
        asked_for.append(found.size)
        return found

    def parts(*args: Any) -> Any:
        for part in recoded(*args):
            texts.append(len(part))
            yield part

    lines = (SAMPLES / "evening.csv").read_bytes().splitlines(keepends=True)
    head, *rows = [line.replace(b"\n", b",remark\n") for line in lines]
    (tmp_path / "long.csv").write_bytes(written(b"".join([head, *rows * 16])))
    for module in (encoding, sources):
        monkeypatch.setattr(module, "_CHUNK", 1 << 17)
    monkeypatch.setattr(encoding, "recoded", parts)
    monkeypatch.setattr(sources.OnDisc, "slice", watched)
    whole = added(tmp_path / "long.csv", study(), 1 << 17)
    assert isinstance(whole, dict) and sum(asked_for) > 2 * len(lines[1]) * len(rows) * 16
    assert max([*asked_for, *texts]) < 1 << 18 < len(lines[1]) * len(rows) * 16 // 6


def test_a_file_is_hashed_once(tmp_path, monkeypatch):
    hashed = list[int]()
    watched = SimpleNamespace(sha256=lambda: hashed.append(1) or hashlib.sha256())
    monkeypatch.setattr(sources, "hashlib", watched)
    shutil.copy(SAMPLES / "shared.csv", tmp_path)
    assert isinstance(added(tmp_path / "shared.csv", study(), AT_ONCE), dict)
    assert len(hashed) == 1

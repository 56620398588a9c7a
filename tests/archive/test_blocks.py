"""A file that is gone through piece by piece adds what it adds at once, to the byte, wherever it is cut."""

from __future__ import annotations

import tempfile
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from reach import study as studies
from reach.archive import collection, taking
from reach.errors import ReachError
from reach.study import Study
from tests.archive.test_cluster import bytes_of
from tests.read.test_understood import heard_and_sent

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)
AT_ONCE = 1 << 30
HEADER = "time_utc,callsign,locator,snr_db,frequency_mhz,transmitter,transmitter_locator"
PLAIN = ("2026-05-16T20:00:00Z", "2026-05-16 20:02", "2026-05-17T00:00:00Z", "2026-05-15T23:58:00Z")
AHEAD = ("2026-05-16T22:00:00+02:00", "2026-05-16T22:02:00+02:00")
LATER = ("2031-05-16T20:00:00Z", "2031-05-17T20:00:00Z")
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
    return end.join([HEADER, *rows]) + draw(st.sampled_from(("", end, end + end)))


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
def test_samples_in_pieces_of_a_few_kilobytes(name, more):
    whole = added(SAMPLES / name, study(**more), AT_ONCE)
    assert isinstance(whole, dict) and len(whole) > 1
    assert added(SAMPLES / name, study(**more), 7000) == whole


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


def test_what_is_killed_between_two_pieces_leaves_nothing(tmp_path, monkeypatch):
    """The collection is as it was, and after the next run no file is there that is not of it."""
    home, judged = tmp_path / "c", taking._judged
    with collection.adding(home):
        taking.add(home, study(), SAMPLES / "shared.csv")
    before, pieces = bytes_of(home), list[Any]()

    def killed(*args: Any) -> Any:
        pieces.append(args)
        if len(pieces) > 4:
            raise KeyboardInterrupt
        return judged(*args)

    monkeypatch.setattr(taking, "_judged", killed)
    with pytest.raises(KeyboardInterrupt), collection.adding(home), collection.staging(home) as staged:
        taking.adds(home, study(), SAMPLES / "weekend.csv", staged, size=9000)
    assert bytes_of(home) == before

"""A station that moved: each of its places is a session, the user is told, and distances start where it was."""

from __future__ import annotations

import pandas as pd
import pytest

from reach.assign import sessions
from reach.base.words import TERMINAL
from reach.findings import NoteCode
from reach.study import Session, Study
from reach.tell.sentences import notes
from reach.walk import walk
from tests.conftest import NOW, SAMPLES


def raw(*places: str, **more: list[str]) -> pd.DataFrame:
    table = {"time_utc": [f"2026-05-16 18:{k:02d}" for k in range(len(places))], "tx_locator": list(places)}
    return pd.DataFrame({**table, "source": "a.csv", **more})


def names(table: pd.DataFrame) -> list[str | None]:
    return [None if pd.isna(name) else str(name) for name in table["session"]]


def test_each_place_is_a_session():
    assert names(sessions.assign(raw("IO51es", "IO51es", "JN58td"), Study())) == ["IO51es", "IO51es", "JN58td"]


def test_what_a_row_or_the_study_says_wins():
    told = Study(
        sessions=[Session(name="first", setup="wire", start="2026-05-16T18:00:00Z", end="2026-05-16T18:01:00Z")]
    )
    table = raw("IO51es", "IO51es", "JN58td", session=["", "mine", ""])
    assert names(sessions.assign(table, told)) == ["first", "mine", "JN58td"]


@pytest.mark.parametrize(
    "places",
    [
        ("IO51es", "IO51es"),
        ("IO51es", "io51ES"),
        ("IO51es", "IO51"),
        ("IO51es", "IO51es34"),
        ("IO51es", ""),
        ("IO51es", "not a place"),
    ],
)
def test_one_place_said_in_several_ways_is_no_move(places):
    table = raw(*places)
    assert sessions.assign(table, Study()) is table


def test_a_square_without_its_subsquare_is_a_place_of_its_own_where_it_may_be_either():
    assert names(sessions.assign(raw("IO51es", "IO51et", "IO51"), Study())) == ["IO51es", "IO51et", "IO51"]


@pytest.fixture(scope="module")
def moved(tmp_path_factory):
    table = pd.read_csv(SAMPLES / "evening.csv", dtype=str)
    table.loc[table.index[1000:], "transmitter_locator"] = "IO63wf"
    path = tmp_path_factory.mktemp("moved") / "moved.csv"
    table.to_csv(path, index=False)
    return walk(path, now=NOW)


def test_the_user_is_told_with_counts(moved):
    told = [note for note in moved.notes if note.code == NoteCode.STATION_MOVED]
    assert [notes.note(note, TERMINAL) for note in told] == [
        "The station's own locator changes: IO51es (1,000 rows) and IO63wf (580 rows); each place is a session of its own."
    ]
    assert str(moved).splitlines()[1].endswith("each place is a session of its own.")


def test_distances_start_where_the_station_was(moved):
    """A listener near the second place is far from the first."""
    spots = moved.spots
    there = spots[spots["rx_locator"] == "IO63vl"].groupby("session", observed=True)["distance_km"].first()
    assert spots.groupby("session", observed=True).size().to_dict() == {"IO51es": 1000, "IO63wf": 580}
    assert there.empty or there["IO63wf"] < 40 < there.get("IO51es", 300)


def test_the_place_of_another_station_in_the_file_makes_no_session(walks):
    """The neighbour's rows are set aside; its locator stays a word of the column that no row has."""
    assert walks["shared"].spots["session"].isna().all()


def test_a_station_that_stayed_is_not_told_of(walks):
    assert all(note.code != NoteCode.STATION_MOVED for walk in walks.values() for note in walk.notes)

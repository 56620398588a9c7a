"""What is wrong with the rows of a collection is gone through piece by piece, and is what it is all at once."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.archive import blocks, problems
from reach.archive.problems import _merged, _Stream
from reach.base.words import TERMINAL
from reach.tell import folder, page, tables
from reach.tell.deck import outline
from reach.tell.sentences import problems as sentences
from reach.vet.ledger import REJECTED, in_file_order, no_problems
from tests.archive.test_collection import add, of_collection, of_files, same

FILES = ("a.csv", "b.csv", "c.csv")
A_PIECE = 7


@st.composite
def streams(draw: st.DrawFn) -> list[list[pd.DataFrame]]:
    """Problems of several kinds, each in file order and in pieces; many of one line."""
    made = []
    for kind in range(draw(st.integers(1, 4))):
        places = sorted(draw(st.lists(st.tuples(st.integers(0, 2), st.integers(1, 6)), max_size=12)))
        table = no_problems(len(places)).assign(
            source=pd.array([FILES[file] for file, _ in places], dtype="str"),
            line=np.array([line for _, line in places], dtype=np.int64),
            value=pd.array([f"{kind} {number}" for number in range(len(places))], dtype="str"),
        )
        cuts = sorted(draw(st.lists(st.integers(0, len(places)), max_size=4)))
        made.append([table.iloc[start:end] for start, end in zip([0, *cuts], [*cuts, len(places)], strict=True)])
    return made


@given(streams())
def test_streams_that_are_merged_stand_as_in_one_table(given_streams):
    raw = pd.DataFrame({"source": pd.Categorical([], categories=pd.Index(FILES, dtype="str"))})
    whole = in_file_order(raw, *(pd.concat(pieces, ignore_index=True) for pieces in given_streams))
    rank = {name: at for at, name in enumerate(FILES)}
    parts = list(_merged([_Stream(pieces, rank) for pieces in given_streams]))
    assert all(map(len, parts))
    found = pd.concat(parts, ignore_index=True) if parts else no_problems(0)
    pd.testing.assert_frame_equal(found, whole, check_dtype=bool(parts))


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Files with much that is wrong, written a few rows at a time."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(blocks, "TOGETHER", A_PIECE)
        made = tmp_path_factory.mktemp("problems") / "c"
        add(made, "messy.csv", "weekend.csv")
        yield made


def test_a_report_of_a_collection_never_holds_all_that_is_wrong(home, tmp_path, monkeypatch):
    files, walk = of_files("messy.csv", "weekend.csv"), of_collection(home)
    same(walk, files)
    said = partial(sentences.written, say=TERMINAL)
    tables.write_csv(walk.problems, tmp_path / "at-once.csv", said=said)
    first, walk = walk.problems.head(30), of_collection(home)

    def whole(of: Any) -> None:
        raise AssertionError("all of it at once")

    monkeypatch.setattr(problems._Kept, "table", property(whole))
    sizes = [len(part) for part in walk.wrong.parts()]
    refused = int(files.problems["severity"].eq(REJECTED).sum())
    assert sum(sizes) == len(walk.wrong) == len(files.problems) and len(sizes) > refused // A_PIECE > 5
    # What is told of rows that count lies between the pieces.
    assert max(sizes) < A_PIECE + len(files.problems) - refused
    assert dict(walk.wrong.counted) == dict(files.wrong.counted)
    assert walk.wrong.rejecting == files.wrong.rejecting
    pd.testing.assert_frame_equal(walk.wrong.head(30), first)
    folder.write_tables(walk.findings, tmp_path)
    assert (tmp_path / "problems.csv").read_bytes() == (tmp_path / "at-once.csv").read_bytes()
    assert page.html(walk.findings) and outline.deck(walk.findings)


def test_rows_that_wait_for_a_correction_are_read_where_there_is_one(home, tmp_path):
    walk = of_collection(home)
    assert walk.findings and "mendable" not in walk.rows._loaded.__dict__
    (tmp_path / "fixes.csv").write_text("callsign,locator,suggestion,accept\nDG5QUA,RE61eg,JO61eg,yes\n")
    walk = of_collection(home, str(tmp_path / "fixes.csv"))
    assert walk.findings and "mendable" in walk.rows._loaded.__dict__

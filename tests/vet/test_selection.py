"""Of the sound rows those that a study asks for; the others are set aside and counted."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from reach import study as studies
from reach.vet import selection
from tests.vet.rows import judged

ROWS = (
    {"time_utc": "2026-05-16 20:04", "band": "20m", "rx_call": "A1QTC"},
    {"time_utc": "2026-05-16 20:06", "band": "40m", "rx_call": "B1QTC"},
    {"time_utc": "2026-05-16 20:06", "band": "x", "rx_call": "C1QTC"},
    {"time_utc": "2026-05-16 20:08", "band": "20m", "rx_call": "D1QTC"},
)


def at(minute: int) -> datetime:
    return datetime(2026, 5, 16, 20, minute, tzinfo=UTC)


@pytest.mark.parametrize(
    ("asked", "calls"),
    [
        ({"start": at(6)}, ["B1QTC", "D1QTC"]),
        ({"end": at(6)}, ["A1QTC"]),
        ({"bands": ["20m"]}, ["A1QTC", "D1QTC"]),
        ({"start": at(5), "bands": ["20m"]}, ["D1QTC"]),
        ({"start": at(6), "end": at(8), "bands": ["40m", "20m"]}, ["B1QTC"]),
        ({"bands": ["80m"]}, []),
    ],
)
def test_what_lies_outside_is_set_aside(asked, calls):
    vetted = judged(*ROWS)
    found = selection.within(vetted, studies.check(asked))
    assert found.spots["rx_call"].tolist() == calls
    assert found.rows.tolist() == [
        int(row) for row, call in zip(vetted.rows, "ABD", strict=True) if f"{call}1QTC" in calls
    ]
    counts = found.counts
    assert (counts.read, counts.accepted, counts.rejected, counts.set_aside) == (4, len(calls), 1, 3 - len(calls))
    assert found.problems is vetted.problems


def test_where_all_are_wanted_nothing_is_made_anew():
    vetted = judged(*ROWS)
    assert selection.within(vetted, studies.check({})) is vetted

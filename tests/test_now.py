"""What counts as now: given, in the manifest, and told where the machine's clock must be wrong."""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from reach import study as studies
from reach.base.words import TERMINAL
from reach.cli import reach
from reach.tell.sentences import notes
from reach.walk import Walk

SAMPLES = Path(__file__).parents[1] / "sample_spots"


def clock(monkeypatch, shows: datetime) -> None:
    """The machine's clock, where a walk reads it."""

    class Clock(datetime):
        @classmethod
        def now(cls, tz=None):
            return shows

    monkeypatch.setattr(sys.modules["reach.rows"], "datetime", Clock)


def evening(**more: object) -> Walk:
    return Walk(studies.check({"files": [str(SAMPLES / "evening.csv")], "station": {"locator": "IO51es"}, **more}))


def test_a_clock_before_the_spots_is_told_once_and_rejects_none(monkeypatch):
    clock(monkeypatch, datetime(2019, 3, 1, 12, 30, tzinfo=UTC))
    walk = evening()
    assert walk.counts.accepted == 1580 and walk.counts.rejected == 0
    told = [notes.note(each, TERMINAL) for each in walk.notes]
    assert [said for said in told if "clock" in said] == [
        "The clock of this machine shows 2019-03-01 13:00 UTC, while reports run to 2026-05-16 23:56: it is taken to be wrong, and "
        "no report to lie in the future. `--now` says what counts as now."
    ]


def test_a_few_rows_later_than_the_clock_are_still_rejected(monkeypatch):
    clock(monkeypatch, datetime(2026, 5, 16, 22, 30, tzinfo=UTC))
    walk = evening()
    assert 0 < walk.counts.rejected < 790 and set(walk.problems["rule"]) == {"time-in-future"}


def test_now_as_given_is_believed(monkeypatch):
    clock(monkeypatch, datetime(2019, 3, 1, tzinfo=UTC))
    assert evening(now="2026-05-16T18:30:00Z").counts.rejected > 1000
    assert evening(now="2026-11-01T00:00:00Z").counts.rejected == 0
    assert not [note for note in evening(now="2026-11-01T00:00:00Z").notes if note.code == "clock-behind"]


def test_within_an_hour_two_runs_are_the_same(monkeypatch):
    moments = []
    for minute in (1, 59):
        clock(monkeypatch, datetime(2026, 6, 1, 12, minute, tzinfo=UTC))
        moments.append(evening().now)
    assert moments == [datetime(2026, 6, 1, 13, tzinfo=UTC)] * 2


def test_it_stands_in_the_manifest(tmp_path, two_pictures):
    out = tmp_path / "out"
    args = ["run", str(SAMPLES / "evening.csv"), "--locator", "IO51es", "--now", "2026-06-01", "--out", str(out)]
    done = CliRunner().invoke(reach, args, catch_exceptions=False, standalone_mode=False)
    assert "1,580 accepted" in done.output
    assert json.loads((out / "manifest.json").read_text(encoding="utf-8"))["now"] == "2026-06-01T00:00:00+00:00"


@pytest.mark.parametrize("year", [2026, 2036])
def test_the_demo_is_the_same_in_ten_years(monkeypatch, year):
    """The messy export holds rows that are later than its own now."""
    clock(monkeypatch, datetime(year, 12, 24, tzinfo=UTC))
    walk = Walk(studies.load(SAMPLES / "messy.toml"))
    assert walk.problems["rule"].eq("time-in-future").sum() > 0
    assert walk.now == datetime(2026, 11, 1, tzinfo=UTC)

"""Order of day and month, zones, clocks apart from dates: for a whole file."""

from datetime import UTC, datetime

import numpy as np
import pytest

from reach.base.ways import Medium
from reach.read import when
from reach.read.rows import Column
from reach.read.times import NOWHEN
from reach.read.understood import Settings

NOW = datetime(2026, 11, 20, tzinfo=UTC)


def part(name, cells):
    words = list(dict.fromkeys(cells))
    return when.Part(name, words, [cells.count(word) for word in words])


def read(texts, name="Time", settings=None, days=()):
    return when.read({"datetime": part(name, texts)}, settings or Settings(), source="a.csv", now=NOW, days=days)


def micros(found, **cells):
    """Of rows with these cells, of its words in their order where left out."""
    cells = cells or found.words
    return found.micros({name: column(found.words[name], rows) for name, rows in cells.items()})


def column(words, cells):
    return Column(np.array([list(words).index(cell) for cell in cells]), list(words))


def shown(found, **cells):
    return [str(np.datetime64(int(m), "us"))[:16].replace("T", " ") for m in micros(found, **cells)]


def why(found):
    return next((a.values["read"], a.values["why"]) for a in found.assumptions if a.code == "order")


@pytest.mark.parametrize(
    ("dates", "order"),
    [
        (["05.06.2026", "06.06.2026"], ("dmy", "dots")),
        (["05/06/2026", "13/06/2026"], ("dmy", "range")),
        (["06/05/2026", "06/13/2026"], ("mdy", "range")),
        (["05/12/2026", "06/11/2026"], ("mdy", "future")),  # the other way it would be the fifth of December
        (["26/05/09", "26/05/10"], ("ymd", "recent")),
        (["05/06/2026", "06/06/2026"], ("dmy", "gaps")),
        (["01/05/2026", "02/10/2026", "03/02/2026", "03/09/2026"], ("mdy", "rising")),
        (["05/05/2026", "06/06/2026"], ("dmy", "range")),  # either way the same
    ],
)
def test_the_first_rule_that_leaves_one_order(dates, order):
    found = read([f"{date} 20:04" for date in dates])
    assert not found.questions
    assert why(found) == order


def test_the_days_of_the_schedule_tell():
    june_5 = (datetime(2026, 6, 5) - datetime(1970, 1, 1)).days
    found = read(["05/06/2026 20:04"], days=[june_5])
    assert why(found) == ("dmy", "schedule") and shown(found) == ["2026-06-05 20:04"]


def test_what_nothing_tells_is_asked_with_both_readings():
    (question,) = read(["06/05/2026 20:04"]).questions
    assert question.said(Medium.OPTION) == (
        "a.csv: '06/05/2026 20:04' may be 6 May 2026 or 5 June 2026, and nothing in the file tells which; "
        "say which with --day-first or --month-first."
    )
    assert shown(read(["06/05/2026 20:04"], settings=Settings({}, False))) == ["2026-06-05 20:04"]


def test_contradictions_are_asked_and_a_single_slip_is_not():
    (question,) = read(["13/05/2026 20:04", "05/14/2026 20:04"] * 5).questions
    assert question.code == "order-mixed"
    found = read(["13/05/2026 20:04"] * 400 + ["14/05/2026 20:04"] * 400 + ["05/15/2026 20:04"])
    assert not found.questions and micros(found)[-1] == NOWHEN


@pytest.mark.parametrize(
    ("name", "text", "utc", "settings"),
    [
        ("Time (JST)", "2026-09-12 05:04", "2026-09-11 20:04", None),
        ("Zeit UTC+2", "2026-09-12 22:04", "2026-09-12 20:04", None),
        ("Uhrzeit MEZ", "2026-01-12 21:04", "2026-01-12 20:04", None),
        ("Time", "2026-09-12 22:04 +02:00", "2026-09-12 20:04", Settings({}, None, 540)),  # the cell's own zone first
        ("Ortszeit", "2026-09-12 22:04", "2026-09-12 20:04", Settings({}, None, 120)),
        ("Time (UTC)", "2026-09-12 20:04", "2026-09-12 20:04", None),
    ],
)
def test_zones(name, text, utc, settings):
    found = read([text], name, settings)
    assert not found.questions and shown(found) == [utc]


@pytest.mark.parametrize(
    ("name", "code"), [("Ortszeit", "zone"), ("Hora local", "zone"), ("MEZ", "zone-summer"), ("EST", "zone-summer")]
)
def test_local_time_is_asked_about(name, code):
    assert [q.code for q in read(["2026-07-12 22:04"], name).questions] == [code]


def test_a_date_and_a_clock_and_what_they_lack():
    cells = {"date": ["20260912", "20260912", "", "20260912"], "clock": ["4", "804", "2004", ""]}
    parts = {name: part(name, texts) for name, texts in cells.items()}
    found = when.read(parts, Settings(), source="a.csv", now=NOW)
    assert shown(found, **cells)[:2] == ["2026-09-12 00:04", "2026-09-12 08:04"]
    assert (micros(found, **cells)[2:] == NOWHEN).all()


def test_a_column_of_numbers():
    assert shown(read(["46277,75139"])) == ["2026-09-12 18:02"]
    assert shown(read(["1789236120"])) == ["2026-09-12 18:02"]
    assert shown(read(["1789236120000"], "Ortszeit")) == ["2026-09-12 18:02"]  # since 1970 is UTC wherever it is


def test_midnight_as_the_end_of_a_day():
    assert shown(read(["2026-09-12 24:00"])) == ["2026-09-13 00:00"]

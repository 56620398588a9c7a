"""Schedules as people write them: tongues, dates, separators, zones; and what must be asked."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.assign import schedule
from reach.errors import StudyError

FIRST = datetime(2026, 5, 16, 18, 0, tzinfo=UTC)
ROWS = [(18, 0, 18, 10, "A"), (18, 10, 18, 20, "B")]


def _is_usual(table) -> bool:
    starts, ends = table["start"].dt.to_pydatetime(), table["end"].dt.to_pydatetime()
    at = [(start.hour, start.minute, end.hour, end.minute) for start, end in zip(starts, ends, strict=True)]
    return at == [row[:4] for row in ROWS] and list(table["setup"]) == ["A", "B"] and starts[0] == FIRST


@pytest.mark.parametrize(
    "header",
    [
        "start,end,setup", "Begin;End;Antenna", "Beginn;Ende;Antenne", "von;bis;Aufbau", "inicio;fin;antena",
        "Comienzo;Final;Configuración", "début;fin;antenne", "de;jusqu'à;Antenne", "Inizio\tFine\tAntenna", "początek;koniec;antena",
        "od;do;zestaw", "開始,終了,アンテナ", "開始時刻,終了時刻,設定", "Start (UTC),Stop (UTC),Setup", "Time on;Time off;Setup name",
        "Início;Fim;Antena", "van;tot;antenne", "Start;Slut;Antenn", "från;till;antenn", "fra;til;antenne", "začátek;konec;anténa",
        "od;do;anténa", "kezdet;vége;antenna", "început;sfârșit;antenă", "alku;loppu;antenni", "Başlangıç;Bitiş;Anten",
        "Έναρξη;Λήξη;Κεραία", "Начало;Конец;Антенна", "с;до;антенна", "початок;кінець;антена", "시작,종료,안테나", "开始,结束,天线",
    ],
)  # fmt: skip
def test_headers_in_many_tongues(header):
    mark = next(mark for mark in "\t;," if mark in header)
    lines = [
        header,
        *(f"2026-05-16 {a:02d}:{b:02d}{mark}2026-05-16 {c:02d}:{d:02d}{mark}{n}" for a, b, c, d, n in ROWS),
    ]
    assert _is_usual(schedule.parse("\n".join(lines)))


@pytest.mark.parametrize(
    "date",
    ["2026-05-16 {}", "2026-05-16T{}Z", "16.05.2026 {}", "16.5.2026, {}", "2026/05/16 {}", "16/05/2026 {}", "05/16/2026 {}",
     "20260516 {}", "2026年5月16日 {}", "2026-05-16 {}:00", "2026-05-16 {}:00.000", "16-05-2026 {} UTC", "2026-05-16 {}+00:00"],
)  # fmt: skip
def test_dates_as_people_write_them(date):
    rows = [f"{date.format(f'{a:02d}:{b:02d}')};{date.format(f'{c:02d}:{d:02d}')};{n}" for a, b, c, d, n in ROWS]
    assert _is_usual(schedule.parse("start;end;setup\n" + "\n".join(rows)))
    assert _is_usual(schedule.parse("\n".join(rows)))  # without a header


@pytest.mark.parametrize(
    ("first", "second", "third"),
    [("18h00", "18h10", "18h20"), ("18.00", "18.10", "18.20"), ("1800", "1810", "1820"), ("6:00 PM", "6:10 p.m.", "6:20pm"),
     ("18:00 Uhr", "18:10 Uhr", "18:20 Uhr"), ("18時00分", "18時10分", "18時20分")],
)  # fmt: skip
def test_clocks_beside_one_column_of_dates(first, second, third):
    text = f"Datum;von;bis;Antenne\n16.05.2026;{first};{second};A\n16.05.2026;{second};{third};B\n"
    assert _is_usual(schedule.parse(text))


def test_a_row_with_one_date_may_run_over_midnight():
    read = schedule.parse("date,start,end,setup\n2026-05-16,23:50,00:10,A\n2026-05-17,00:10,24:00,B\n")
    assert read["end"].iloc[0] == datetime(2026, 5, 17, 0, 10, tzinfo=UTC)
    assert read["end"].iloc[1] == datetime(2026, 5, 18, tzinfo=UTC)


@pytest.mark.parametrize(
    ("zone", "hour"), [("+02:00", 16), ("UTC+2", 16), ("-05:30", 23), ("Europe/Berlin", 16), ("Z", 18), ("utc", 18)]
)
def test_times_in_another_zone(zone, hour):
    """18:00 on 16 May: summer time in Berlin is UTC+2."""
    read = schedule.parse("start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,A\n", zone=zone)
    assert read["start"].iloc[0].hour == hour
    named = schedule.parse("start,end,setup\n2026-05-16 18:00Z,2026-05-16 18:10Z,A\n", zone=zone)
    assert named["start"].iloc[0] == FIRST  # a time that names its own zone keeps it


def test_a_header_may_name_the_zone():
    read = schedule.parse("Start (UTC+2);Ende;Antenne\n2026-05-16 20:00;2026-05-16 20:10;A\n")
    assert read["start"].iloc[0] == FIRST


@given(st.floats(-1440, 1440))
def test_a_shift_is_added_to_all_times(minutes):
    text = "start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,A\n"
    moved, still = schedule.parse(text, shift_min=minutes), schedule.parse(text)
    for name in ("start", "end"):
        assert abs((moved[name] - still[name]).iloc[0].total_seconds() - 60 * minutes) < 1e-3


def test_day_or_month_first_is_asked_where_nothing_tells():
    text = "start,end,setup\n05/06/2026 18:00,05/06/2026 18:10,A\n"
    with pytest.raises(StudyError, match="say which with day_first=True or False"):
        schedule.parse(text)
    assert schedule.parse(text, day_first=True)["start"].iloc[0].month == 6
    assert schedule.parse(text, day_first=False)["start"].iloc[0].month == 5
    told = schedule.parse(text + "13/06/2026 18:00,13/06/2026 18:10,B\n")
    assert told["start"].iloc[0].month == 6


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("start,end,setup\n2026-05-16 25:00,2026-05-16 18:10,A\n", "is no time"),
        ("start,end,setup\n2026-05-16 18:00 somewhen,2026-05-16 18:10,A\n", "is no time"),
        ("start,end,setup\nyesterday,2026-05-16 18:10,A\n", "is no time"),
        ("start,end,setup\n2026-05-16 18:10,2026-05-16 18:00,A\n", "not after its start"),
        ("start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,\n", "'setup' is blank"),
        ("start,finish,setup\n2026-05-16 18:00,2026-05-16 18:10,A\n", "end is not in"),
        ("start,end,setup\n", "holds no rows"),
        ("", "holds no rows"),
        (
            "start,end,setup\n2026-05-16 18:00,2026-05-16 18:20,A\n2026-05-16 18:10,2026-05-16 18:30,B\n",
            "may not overlap",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_line(text, says):
    with pytest.raises(StudyError, match=says):
        schedule.parse(text)


@pytest.mark.parametrize("zone", ["Nowhere/Town", "+25:00", "summer"])
def test_a_zone_that_is_none(zone):
    with pytest.raises(StudyError, match=r"zone|offset"):
        schedule.parse("start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,A\n", zone=zone)

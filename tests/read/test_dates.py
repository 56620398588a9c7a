"""Dates and clocks, one cell at a time, held against what a person reads."""

from datetime import datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.read import cells, dates

TWELFTH = (2026, 9, 12)


@pytest.mark.parametrize(
    "text",
    [
        "2026-09-12", "2026/9/12", "2026. 9. 12.", "20260912", "2026年9月12日", "2026년 9월 12일", "12 sept. 2026",
        "Sat, 12 Sep 2026", "samedi 12 septembre 2026", "12 de septiembre de 2026", "12 set 2026", "12-Sep-26",
        "September 12, 2026", "2026. szeptember 12.", "12. září 2026", "12 września 2026", "12 сентября 2026 г.",
        "12. syyskuuta 2026", "12 Eylül 2026", "12 Σεπ 2026", "2026/09/12(土)", "Sep 12th, 2026", "1º" * 0 + "12 set. 2026",
    ],
)  # fmt: skip
def test_dates_that_say_their_order(text):
    found = dates.day(cells.tidy(text))
    assert found.order == "ymd" and found[:3] == TWELFTH


@pytest.mark.parametrize(
    ("text", "parts", "short"),
    [("12.09.2026", (12, 9, 2026), False), ("9/12/26", (9, 12, 26), True), ("Sa 12.09.2026", (12, 9, 2026), False),
     ("12-9-2026", (12, 9, 2026), False), ("120926", (12, 9, 26), True)],
)  # fmt: skip
def test_dates_whose_order_the_file_tells(text, parts, short):
    found = dates.day(cells.tidy(text))
    assert (found.order, found[:3], found.short) == ("xyz", parts, short)


@pytest.mark.parametrize(
    "text", ["DL2QTB", "JN58td", "-12", "14.0871", "20:04", "2026-13-01", "32 Sep 2026", "12 Foo 2026", "", "999999"]
)
def test_what_is_no_date(text):
    assert dates.day(cells.tidy(text)) is None


@pytest.mark.parametrize(
    "text",
    [
        "20:04", "20h04", "20 h 04", "20時04分", "20시04분", "20.04", "20,04", "2004", "8:04 PM", "08:04 pm", "8:04 p. m.",
        "午後8:04", "午後 8時04分", "오후 8:04", "20:04 Uhr", "kl. 20:04", "20:04:00", "20:04:00.000", "200400",
    ],
)  # fmt: skip
def test_clocks(text):
    assert dates.clock(cells.tidy(text)) == dates.Clock((20 * 60 + 4) * 60_000_000)


@pytest.mark.parametrize(
    ("text", "kinds", "minutes"),
    [("804", ("digits",), 484), ("4", ("digits",), 4), ("20,4", ("dotted",), 1240), ("24:00", ("colon",), 1440),
     ("12:00 AM", ("colon",), 0), ("12:00 PM", ("colon",), 720), ("8 PM", ("hour",), 1200), ("20 h", ("hour",), 1200)],
)  # fmt: skip
def test_clocks_that_lost_something(text, kinds, minutes):
    assert dates.clock(cells.tidy(text), kinds).micros == minutes * 60_000_000


@pytest.mark.parametrize("text", ["25:00", "20:61", "13:00 PM", "JN58td", "-12", "20:04 xyz", ""])
def test_what_no_clock_shows(text):
    assert dates.clock(cells.tidy(text)) is None


@pytest.mark.parametrize(
    ("text", "zone"),
    [("20:04 UTC+2", 120), ("20:04Z", 0), ("20:04+05:30", 330), ("20:04 MEZ", 60), ("20:04 JST", 540), ("20:04 -0330", -210),
     ("20:04 UTC", 0), ("20:04", None)],
)  # fmt: skip
def test_zones_in_cells(text, zone):
    assert dates.clock(cells.tidy(text)).zone == zone


@given(st.datetimes(datetime(2001, 1, 1), datetime(2037, 1, 1)).map(lambda t: t.replace(microsecond=0, second=0)))
def test_every_way_of_writing_one_moment_says_the_same(moment):
    ways = [
        "%Y-%m-%d %H:%M",
        "%Y/%m/%d %H:%M:%S",
        "%Y%m%dT%H%M%SZ",
        "%d %b %Y %H:%M",
        "%H:%M %Y-%m-%d",
        "%Y年%m月%d日%H時%M分",
    ]
    for way in ways:
        found = dates.stamp(cells.tidy(moment.strftime(way)))
        day = dates.day_number(*found.date[:3])
        assert datetime(1970, 1, 1) + timedelta(days=day, microseconds=found.clock.micros) == moment, way


@given(
    st.datetimes(datetime(2001, 2, 1), datetime(2037, 1, 1)).map(lambda t: t.replace(microsecond=0, second=0)),
    st.integers(4, 8),
)
def test_a_spreadsheets_days_come_back_to_the_minute(moment, decimals):
    serial = (moment - datetime(1899, 12, 30)) / timedelta(days=1)
    found = dates.serial_us(float(f"{serial:.{decimals}f}"), decimals)
    assert datetime(1970, 1, 1) + timedelta(microseconds=found) == moment


@given(st.integers(978_307_200, 2_145_000_000))
def test_seconds_milliseconds_and_microseconds_since_1970(seconds):
    assert (
        dates.epoch_us(seconds) == dates.epoch_us(seconds * 1e3) == dates.epoch_us(seconds * 1e6) == seconds * 1_000_000
    )
    assert dates.epoch_us(14_087_100) is None  # a frequency

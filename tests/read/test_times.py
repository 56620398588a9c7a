"""Texts of times, against Python's own calendar and against seconds since 1970 worked out apart from it."""

from datetime import UTC, datetime, timedelta, timezone

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import InputError
from reach.read import times

MAY_16 = datetime(2026, 5, 16, 20, 4, tzinfo=UTC)


def read(text, day_first=None):
    """(time or None, rule, whether an offset was named)."""
    found = times.read(pd.Index([text], dtype="str"), day_first=day_first)
    micros, finding = int(found.micros[0]), found.faults[0]
    assert (finding is None) == (micros != times.NOWHEN)
    time = None if finding else datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=micros)
    return time, finding.code if finding else "", bool(found.offset[0])


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-16T20:04:00Z",
        "2026-05-16T20:04Z",
        "2026-05-16 20:04:00",
        "2026-05-16 20:04",
        "  2026-05-16   20:04 ",
        "2026-05-16t20:04z",
        "2026-05-16 20:04 UTC",
        "2026-05-16 20:04:00 GMT",
        "2026-05-16 20:04:00+00:00",
        "2026-05-16 20:03:60",  # a leap second is the first second of the next minute: ITU-R TF.460-6
        "2026-05-16, 20:04",
        "2026/05/16 20:04",
        "2026.5.16 20:04",
        "2026-05-16 2004",
        "20260516 2004",
        "20260516T200400",
        "202605162004",
        "20260516200400",
        "16 May 2026 20:04",
        "16-May-2026 20:04:00",
        "16 may. 2026 2004",
        "May 16, 2026 8:04 PM",
        "16/05/2026 20:04",
        "16.05.2026 20:04",
        "16-5-2026 20:04:00,0",
        "05/16/2026 08:04:00 pm",
        "5/16/2026 8:04:00 p.m.",
        "1778961840",  # 20589 days and 72240 s, see test_epoch
        "1778961840.0",
        "1778961840000",
        "1778961840000000",
    ],
)
def test_many_ways_to_say_one_moment(text):
    assert read(text) == (MAY_16, "", False)


def test_epoch_of_the_examples_by_counting_days():
    days = 56 * 365 + 14 + (31 + 28 + 31 + 30) + 15  # 1970 to 2025 with 14 leap days, January to April, 15 days
    assert days * 86400 + 20 * 3600 + 4 * 60 == 1778961840


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-16T22:04:00+02:00",
        "2026-05-16 22:04+0200",
        "2026-05-16 22:04 +02",
        "16.05.2026 22:04+02:00",
        "2026-05-16T15:34:00-04:30",
        "2026-05-16T15:34:00\u221204:30",
        "2026-05-17T06:04:00+10:00",
        "2026-05-16T20:34:00+00:30",
    ],
)
def test_an_offset_is_heeded_and_told(text):
    assert read(text) == (MAY_16, "", True)


@pytest.mark.parametrize(
    ("text", "day", "month"),
    [
        ("03/05/2026 20:04", (5, 3), (3, 5)),
        ("3.5.2026 20:04", (5, 3), (3, 5)),
        ("12-11-2026 20:04", (11, 12), (12, 11)),
    ],
)
def test_day_or_month_first_as_told(text, day, month):
    assert read(text, True)[0] == datetime(2026, *day, 20, 4, tzinfo=UTC)
    assert read(text, False)[0] == datetime(2026, *month, 20, 4, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "time-blank"),
        ("   ", "time-blank"),
        ("2026-05-16", "time-no-clock"),
        ("16/05/2026", "time-no-clock"),
        ("20260516", "time-no-clock"),
        ("20:04", "time-no-date"),
        ("20:04:00Z", "time-no-date"),
        ("2004", "time-no-date"),
        ("16/05/26 20:04", "time-two-digit-year"),
        ("31/06/2026 20:04", "time-impossible"),
        ("2026-02-29 20:04", "time-impossible"),
        ("2026-13-01 20:04", "time-impossible"),
        ("2026-05-16 25:04", "time-impossible"),
        ("2026-05-16 24:00", "time-impossible"),
        ("2026-05-16 20:60", "time-impossible"),
        ("2026-05-16 20:04:61", "time-impossible"),
        ("2026-05-16 13:04 pm", "time-impossible"),
        ("2026-05-16 20:04+15:00", "time-impossible"),
        ("2026-05-16 20:04+01:75", "time-impossible"),
        ("01/01/0000 00:00", "time-impossible"),
        ("31/12/9999 23:59-02:00", "time-impossible"),
        ("16 Floreal 2026 20:04", "time-unreadable"),
        ("yesterday", "time-unreadable"),
        ("2026-05-16 20", "time-unreadable"),
        ("46158.836", "time-unreadable"),
        ("-1778961840", "time-unreadable"),
        ("\u0662\u0660\u0662\u0666-05-16 20:04", "time-unreadable"),
        ("2026-05-16 20:04 CEST", "time-unreadable"),
    ],
)
def test_says_why_not(text, rule):
    assert read(text) == (None, rule, False)


def test_the_wrong_order_is_impossible_and_says_so():
    found = times.read(pd.Index(["16/05/2026 20:04"], dtype="str"), day_first=False)
    assert found.faults[0] == ("time-impossible", "16/05/2026 20:04", "16", times.MONTH_FIRST)


MOMENTS = st.datetimes(datetime(1990, 1, 1), datetime(2099, 12, 31)).map(lambda t: t.replace(tzinfo=UTC))


@given(MOMENTS, st.integers(-14 * 60, 14 * 60))
def test_isoformat_comes_back_to_the_microsecond(moment, minutes):
    zone = timezone(timedelta(minutes=minutes))
    assert read(moment.astimezone(zone).isoformat()) == (moment, "", minutes != 0)
    assert read(moment.isoformat(sep=" ")[:-6])[0] == moment


@given(MOMENTS)
def test_every_way_of_writing_comes_back(moment):
    second = moment.replace(microsecond=0)
    for form in ("%Y/%m/%d %H:%M:%S", "%Y%m%d %H%M%S", "%Y%m%d%H%M%S", "%d %b %Y %H:%M:%S", "%B %d, %Y %I:%M:%S %p"):
        assert read(second.strftime(form))[0] == second, form
    assert read(second.strftime("%d.%m.%Y %H:%M:%S"), True)[0] == second
    assert read(second.strftime("%m/%d/%Y %I:%M:%S %p"), False)[0] == second
    assert read(str(int(second.timestamp())))[0] == second


@given(st.text(max_size=20))
def test_any_text_is_answered(text):
    read(text)
    read(text, True)


@pytest.mark.parametrize(
    ("text", "orders"),
    [
        ("16/05/2026 20:04", (True, False)),
        ("05/16/2026 20:04", (False, True)),
        ("05/06/2026 20:04", (True, True)),
        ("31.12.2026", (True, False)),
        ("32/12/2026 20:04", (False, False)),
        ("13/13/2026 20:04", (False, False)),
        ("00/05/2026 20:04", (False, False)),
    ],
)
def test_orders_a_date_may_have(text, orders):
    assert times.orders(text) == orders
    assert bool(times.undecided(pd.Index([text], dtype="str"))[0])


def test_both_readings():
    assert times.both_readings("03/05/2026 22:10") == ("3 May 2026", "5 March 2026")


# ------------------------------------------------------------------------------------------------------ a whole table


def table(*rows: tuple[str | None, str]) -> pd.DataFrame:
    """A raw table of times and the files they stand in."""
    text, source = zip(*rows, strict=True)
    return pd.DataFrame(
        {"time_utc": pd.Categorical(text), "source": pd.Categorical(source), "line": range(2, len(rows) + 2)}
    )


def utc(micros: int) -> datetime | None:
    return None if micros == times.NOWHEN else datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(micros))


def test_moments_are_those_of_the_words_row_by_row():
    texts = ["2026-05-16 20:04", "soon", None, "2026-05-16T22:04+02:00", "2026-05-16 20:04", ""]
    found = times.moments(table(*((text, "may.csv") for text in texts)))
    assert [utc(value) for value in found.micros] == [MAY_16, None, None, MAY_16, MAY_16, None]
    (reading,) = found.readings
    assert reading.rows is None and found.told == ()
    said = [reading.said.faults[code] for code in found.column.codes]
    assert [fault and fault.code for fault in said] == [
        None, "time-unreadable", "time-blank", None, None, "time-blank",
    ]  # fmt: skip
    assert reading.said.offset[found.column.codes].tolist() == [False, False, False, True, False, False]


def test_each_file_is_read_in_its_own_order_and_says_which_row_told_it():
    rows = [("03/05/2026 20:04", "eu.csv"), ("03/05/2026 20:04", "us.csv"), ("16/05/2026 20:04", "eu.csv"),
            ("05/16/2026 20:04", "us.csv"), ("2026-05-16 20:04", "iso.csv")]  # fmt: skip
    found = times.moments(table(*rows))
    assert [utc(value).month for value in found.micros] == [5, 3, 5, 5, 5]
    assert sorted(found.told) == [(2, True), (3, False)]
    assert sorted(row for each in found.readings for row in each.rows) == [0, 1, 2, 3, 4]


def test_an_order_that_is_given_asks_no_file():
    for first, month in ((True, 5), (False, 3)):
        found = times.moments(table(("03/05/2026 20:04", "a.csv")), day_first=first)
        assert utc(found.micros[0]).month == month and found.told == ()


def test_an_order_that_cannot_be_told_stops_here():
    with pytest.raises(InputError, match=r"a\.csv, line 2: .*3 May 2026 or 5 March 2026"):
        times.moments(table(("03/05/2026 20:04", "a.csv")))


def test_a_table_without_times_says_so_in_every_row():
    raw = table(("x", "a.csv"), ("y", "a.csv")).drop(columns="time_utc")
    found = times.moments(raw)
    assert (found.micros == times.NOWHEN).all() and len(found.micros) == 2

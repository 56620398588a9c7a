"""Transmit schedules: CSV text with start, end and setup; and whose setup was on the air at a moment.

Times are UTC unless they, the header or the user name another zone. Headers may speak the tongues that exports may; a log with
one column of dates and clocks for start and end is a schedule too.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import small_files, ways
from reach.errors import StudyError
from reach.read import cells as cells_of
from reach.read import dates, lexicon
from reach.study import Study, check_year, read_text

COLUMNS: Final = ("start", "end", "setup")
SCHEDULE: Final = {
    "start": ("datetime64[us, UTC]", "when the setup goes on the air"),
    "end": ("datetime64[us, UTC]", "when it goes off: the first moment that is not its own"),
    "setup": ("category", "which setup"),
}
EXAMPLE: Final = "2026-05-09 18:00,2026-05-09 18:10,vertical"


# Words of a header, folded as `lexicon.folded` does it. A cell that is one goes before a cell that holds one; of words of two letters,
# which stand in many a heading, only `on` counts within a longer one.
WORDS: Final = {
    "start": "start begin beginning from on beginn anfang von ab inicio comienzo desde debut inizio da de poczatek od 開始 "
    "início van fra börjar begynner började från začátek začiatok kezdet kezdete început alku algus başlangıç έναρξη αρχή από "
    "начало с від початок 시작 开始 开机 mulai",
    "end": "end stop until till to off ende bis schluss fin final hasta jusqu fine fino koniec do 終了 "
    "fim até eind einde tot slut slutt til konec vége sfârșit loppu lõpp bitiş son λήξη τέλος έως конец до кінець 끝 종료 结束 关机 selesai",
    "setup": "setup antenna antenne antena aerial ant aufbau zestaw configuracion configuration configurazione アンテナ 空中線 設定 "
    "antenn anténa antenni antenă anten κεραία антенна антена 안테나 天线 antene",
    "date": "date day datum tag fecha data jour 日付 日 dia dag dato den nap dátum päivä päiväys kuupäev tarih gün ημερομηνία дата день 날짜 日期 tanggal",
}  # fmt: skip
_OFFSET: Final = re.compile(r"(?:UTC|GMT) ?[-+\u2212] ?\d{1,2}(?::?\d\d)?", re.IGNORECASE)


def read(
    path: str | Path, *, zone: str | None = None, shift_min: float = 0.0, day_first: bool | None = None
) -> pd.DataFrame:
    """A schedule file.

    path : CSV with a header of start, end and setup in any order (further columns are ignored), or with a date and clocks;
        see `parse`
    zone : of times that name none, such as +01:00 or Europe/Berlin; UTC where left out
    shift_min : to be added to all times: a clock that was ten minutes fast wants -10
    day_first : how to read 03/05/2026; None where the file has to tell
    Returns SCHEDULE, in time order. StudyError, one sentence with file and line, where the file cannot be read, a cell
    is no time, a row ends before it starts, or two rows are on the air at once.
    """
    return parse(
        read_text(path, "a schedule"), name=str(path), zone=zone, shift_min=shift_min, day_first=day_first
    )  # fmt: skip


def of_study(study: Study) -> pd.DataFrame | None:
    """The schedule that a study names, in UTC and shifted as the study says; None where it names none."""
    if not study.schedule:
        return None
    return read(
        Path(study.folder, study.schedule),
        zone=study.schedule_zone,
        shift_min=study.schedule_shift_min,
        day_first=study.options.day_first,
    )


def of_sessions(study: Study) -> pd.DataFrame | None:
    """The windows of a study's sessions as a schedule, shifted as the study says; None where they make none: a session of files
    alone, or open at an end, or two of them at once."""
    windows = sorted((each.start, each.end, each.setup) for each in study.sessions if each.start and each.end)
    if not windows or len(windows) < len(study.sessions) or any(two[0] < one[1] for one, two in pairwise(windows)):
        return None
    by = shift_of_sessions(study)
    return table((start + by, end + by, setup) for start, end, setup in windows)


def shift_of_sessions(study: Study) -> timedelta:
    """What is added to the times of sessions: the study's shift is the schedule's where it has one."""
    return timedelta(minutes=0.0 if study.schedule else study.schedule_shift_min)


def parse(
    text: str,
    *,
    name: str = "schedule",
    zone: str | None = None,
    shift_min: float = 0.0,
    day_first: bool | None = None,
) -> pd.DataFrame:
    """As `read`, from the text of a schedule; name : what errors call it.

    Commas, semicolons or tabs. Without a header the columns are start, end, setup. Dates are ISO, 16.05.2026, 2026年5月16日,
    20260516, or 16/05/2026 where some date of the file can only be read one way.
    """
    lines = _lines(text, name)
    if not lines:
        raise StudyError(f"{name}: holds no rows; wanted are the header start,end,setup and rows such as {EXAMPLE}.")
    layout, body = _layout(lines, name)
    if not body:
        raise StudyError(f"{name}: holds no rows; wanted are the header start,end,setup and rows such as {EXAMPLE}.")
    how = _How(_zone(zone) if zone else layout.zone, _order(body, layout, day_first))
    rows = _in_order({f"{name}, line {line}": (line, cells) for line, cells in body}, layout, how, "the row in line")
    by = timedelta(minutes=shift_min)
    return table((start + by, end + by, setup) for start, end, setup in rows)


def of_rows(rows: Mapping[int, Sequence[str]]) -> pd.DataFrame:
    """A schedule from (start, end, setup) as they were typed into a form, by the number of their row, in UTC.

    Returns SCHEDULE, in time order. StudyError, one sentence that begins with 'row 3: ', where `parse` would have one.
    """
    layout = _Layout(dict(zip(COLUMNS, range(3), strict=True)), UTC)
    given = [(number, list(cells)) for number, cells in rows.items()]
    how = _How(UTC, _order(given, layout, None))
    return table(_in_order({f"row {number}": (number, cells) for number, cells in given}, layout, how, "row"))


def _in_order(
    body: Mapping[str, tuple[int, Sequence[str]]], layout: _Layout, how: _How, called: str
) -> list[tuple[datetime, datetime, str]]:
    """Rows in time order. body : number and cells by what an error calls the row; called : and how it calls another one"""
    rows = [(*_row(cells, layout, how, where), number, where) for where, (number, cells) in body.items()]
    rows.sort(key=lambda row: row[0])
    for one, two in pairwise(rows):
        if two[0] < one[1]:
            raise StudyError(
                f"{two[4]}: starts {_text(two[0])}, while {called} {one[3]} is on the air until {_text(one[1])}; rows may not overlap."
            )
    return [row[:3] for row in rows]


def table(rows: Iterable[tuple[datetime, datetime, str]]) -> pd.DataFrame:
    """SCHEDULE from (start, end, setup) in UTC."""
    listed = list(rows)
    return pd.DataFrame(
        {
            "start": pd.Series([row[0] for row in listed], dtype="datetime64[us, UTC]"),
            "end": pd.Series([row[1] for row in listed], dtype="datetime64[us, UTC]"),
            "setup": pd.Categorical([row[2] for row in listed]),
        }
    )


def assign(spots: pd.DataFrame, schedule: pd.DataFrame) -> pd.DataFrame:
    """Name the setup of every spot from a schedule.

    spots : needs time_utc; schedule : SCHEDULE, rows that do not overlap
    Returns a new table with `setup` set (or replaced): that of the row with start <= time < end, null outside all rows
    and where the time is missing.
    """
    codes, names = setup_at(micros(spots["time_utc"]), schedule)
    codes = np.where(spots["time_utc"].notna().to_numpy(), codes, -1)
    return spots.assign(
        setup=pd.Series(pd.Categorical.from_codes(codes, categories=pd.Index(names)), index=spots.index)
    )


def setup_at(time_us: npt.NDArray[np.int64], schedule: pd.DataFrame) -> tuple[npt.NDArray[np.int64], list[str]]:
    """Which setup was on the air at some moments.

    time_us : shape (n,), microseconds since 1970 UTC; schedule : SCHEDULE, rows that do not overlap
    Returns (codes, shape (n,): positions in names, -1 outside all rows; names).
    """
    ordered = schedule.sort_values("start", kind="stable")
    starts, ends = (micros(ordered[name]) for name in ("start", "end"))
    setup = pd.Categorical(ordered["setup"])
    if not len(ordered):
        return np.full(len(time_us), -1, dtype=np.int64), []
    # Rows do not overlap, so the last one that has begun is the only one that can still be on the air.
    row = np.searchsorted(starts, time_us, side="right") - 1
    inside = (row >= 0) & (time_us < ends[np.maximum(row, 0)])
    codes = np.where(inside, setup.codes[np.maximum(row, 0)], -1).astype(np.int64)
    return codes, [str(name) for name in setup.categories]


def since_1970(moment: datetime) -> int:
    """Microseconds since 1970 UTC."""
    return (moment - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


def text(schedule: pd.DataFrame) -> str:
    """CSV text that `parse` reads back; with a column `band`, which is for the operator, where the schedule has one."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    more = ["band"] if "band" in schedule.columns else []
    writer.writerow((*COLUMNS, *more))
    for row in schedule.to_dict("records"):
        writer.writerow((_text(row["start"]), _text(row["end"]), row["setup"], *(row[name] for name in more)))
    return out.getvalue()


def calendar(schedule: pd.DataFrame, *, title: str = "") -> bytes:
    """The same as an iCalendar file (RFC 5545), one event a row, in UTC.

    title : put before the setup in every event's summary
    The same schedule gives the same bytes: identifiers and stamps come from the rows, not from a clock.
    """
    from icalendar import Calendar, Event

    out = Calendar()
    out.add("prodid", "-//reach//transmit schedule//EN")
    out.add("version", "2.0")
    on = [f" on {band}" for band in schedule["band"]] if "band" in schedule.columns else [""] * len(schedule)
    for start, end, setup, where in zip(schedule["start"], schedule["end"], schedule["setup"], on, strict=True):
        event = Event()
        event.add("summary", f"{title}: {setup}{where}" if title else f"{setup}{where}")
        event.add("dtstart", start.to_pydatetime())
        event.add("dtend", end.to_pydatetime())
        event.add("dtstamp", schedule["start"].iloc[0].to_pydatetime())
        event.add("uid", f"{start:%Y%m%dT%H%M%SZ}-{_plain(str(setup))}@reach.invalid")
        out.add_component(event)
    return bytes(out.to_ical())


def _plain(setup: str) -> str:
    return "".join(c if c.isascii() and c.isalnum() else f"{ord(c):x}" for c in setup)


def micros(column: pd.Series) -> npt.NDArray[np.int64]:
    """Microseconds since 1970; times without an offset are UTC; a missing time is some number below all others."""
    return pd.to_datetime(column, utc=True).astype("datetime64[us, UTC]").astype("int64").to_numpy().astype(np.int64)


# --- how a schedule is written ----------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Layout:
    """Which column is what, and in which zone its header says its times are."""

    place: dict[str, int]
    zone: tzinfo


@dataclass(frozen=True)
class _How:
    """How times without an offset, and dates with day and month either way, are to be read."""

    zone: tzinfo
    day_first: bool | None


def _lines(text: str, name: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every row that is no comment."""
    first = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    # A comment may hold anything, quotes too.
    plain = "\n".join("" if line.lstrip(' \t"').startswith("#") else line for line in text.splitlines())
    return list(small_files.rows(plain, max("\t;,", key=first.count), name))


def _layout(lines: list[tuple[int, list[str]]], name: str) -> tuple[_Layout, list[tuple[int, list[str]]]]:
    """The columns, and the rows below the header. A first row with times in it is no header."""
    line, cells = lines[0]
    if len(cells) >= 3 and all(_is_time(cell) for cell in cells[:2]):
        return _Layout(dict(zip(COLUMNS, range(3), strict=True)), UTC), lines
    place: dict[str, int] = {}
    for word in WORDS:
        for how in (_is_named, _is_word, _holds):
            hits = [at for at, cell in enumerate(cells) if how(lexicon.folded(cell), word) and at not in place.values()]
            if hits:
                place[word] = hits[0]
                break
    missing = [each for each in COLUMNS if each not in place]
    if missing:
        raise StudyError(
            f"{name}, line {line}: the header needs start,end,setup, but {', '.join(missing)} is not in {cells!r}."
        )
    written = (_OFFSET.search(cells[place[each]]) for each in COLUMNS[:2])
    named = next((found[0] for found in written if found), None)
    return _Layout(place, _zone(named) if named else UTC), lines[1:]


def _is_time(cell: str) -> bool:
    """Whether a cell says a date, with or without a clock."""
    tidy = cells_of.tidy(cell)
    return dates.stamp(tidy) is not None or dates.day(tidy) is not None


def _is_named(cell: str, word: str) -> bool:
    return cell == word


def _is_word(cell: str, word: str) -> bool:
    return cell in map(lexicon.folded, WORDS[word].split())


def _holds(cell: str, word: str) -> bool:
    parts = re.findall(r"[^\W\d_]+", cell)
    known = [
        each for each in map(lexicon.folded, WORDS[word].split()) if len(each) > 2 or each == "on" or not each.isascii()
    ]
    return any(each in parts if each.isascii() else cell.startswith(each) for each in known)


def _order(body: list[tuple[int, list[str]]], layout: _Layout, day_first: bool | None) -> bool | None:
    """Whether 03/05/2026 has the day first: as told, else by a date of the file that can only be read one way."""
    if day_first is not None:
        return day_first
    at = [layout.place[name] for name in ("date", "start", "end") if name in layout.place]
    found = [_date(cells[k]) for _, cells in body for k in at if k < len(cells)]
    firsts = {day.a > 12 for day in found if day is not None and day.order == "xyz" and max(day.a, day.b) > 12}
    return firsts.pop() if len(firsts) == 1 else None


def _date(cell: str) -> dates.Date | None:
    tidy = cells_of.tidy(cell)
    found = dates.stamp(tidy)
    return found.date if found is not None else dates.day(tidy)


def _row(cells: Sequence[str], layout: _Layout, how: _How, where: str) -> tuple[datetime, datetime, str]:
    given = {name: cells[at] if at < len(cells) else "" for name, at in layout.place.items()}
    day = given.get("date", "")
    start, end = (_moment(given[name], day, name, how, where) for name in COLUMNS[:2])
    if not given["setup"]:
        raise StudyError(f"{where}: 'setup' is blank; a row is such as {EXAMPLE}.")
    if end <= start and day and not _is_time(given["end"]):
        end += timedelta(days=1)  # one date for both: the row runs over midnight
    if end <= start:
        raise StudyError(f"{where}: ends {_text(end)}, which is not after its start {_text(start)}.")
    return start, end, given["setup"]


def _moment(value: str, day: str, name: str, how: _How, where: str) -> datetime:
    """One time, in UTC."""
    try:
        moment = _reading(value if _is_time(value) or not day else f"{day} {value}", how)
    except ValueError as error:
        raise StudyError(
            f"{where}: {name!r} is no time: {value!r}: {error}; wanted UTC such as 2026-05-09 18:00."
        ) from None
    return moment.astimezone(UTC)


def _reading(text: str, how: _How) -> datetime:
    """A date and a clock, perhaps with a zone, as exports have them. ValueError where it is none."""
    found = dates.stamp(cells_of.tidy(text))
    if found is None:
        raise ValueError("no date with a time of day")
    a, b, c, order, mark, short = found.date
    if order == "ymd":
        year, month, day = a, b, c
    else:
        first = True if mark == "." else how.day_first  # with dots the day comes first everywhere
        if first is None:
            raise ValueError(f"day or month may come first; say which with {ways.asked('order')}")
        year, month, day = c + 2000 * short, b if first else a, a if first else b
    check_year(year)
    zone = how.zone if found.clock.zone is None else timezone(timedelta(minutes=found.clock.zone))
    return datetime(year, month, day, tzinfo=zone) + timedelta(
        microseconds=found.clock.micros
    )  # 24:00 is the next day's


def _zone(text: str) -> tzinfo:
    """A zone as an offset from UTC or as a place. StudyError where it is neither."""
    if (minutes := dates.zone_minutes(text)) is not None:
        return timezone(timedelta(minutes=minutes))
    try:
        from zoneinfo import ZoneInfo

        return ZoneInfo(text.strip())
    except (ValueError, OSError, KeyError):
        raise StudyError(
            f"{text!r} is no zone; wanted is an offset from UTC such as +01:00, or a place such as Europe/Berlin."
        ) from None


def _text(moment: datetime) -> str:
    whole = moment.second == 0 and moment.microsecond == 0
    return f"{moment:%Y-%m-%d %H:%M}" if whole else f"{moment:%Y-%m-%d %H:%M:%S.%f}".rstrip("0").rstrip(".")

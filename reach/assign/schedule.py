"""Transmit schedules: CSV text with start, end and setup in UTC; and whose setup was on the air at a moment."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.errors import StudyError
from reach.study import read_text

COLUMNS: Final = ("start", "end", "setup")
SCHEDULE: Final = {
    "start": ("datetime64[us, UTC]", "when the setup goes on the air"),
    "end": ("datetime64[us, UTC]", "when it goes off: the first moment that is not its own"),
    "setup": ("category", "which setup"),
}
EXAMPLE: Final = "2026-05-09 18:00,2026-05-09 18:10,vertical"


def read(path: str | Path) -> pd.DataFrame:
    """A schedule file.

    path : CSV with the header start,end,setup (in any order; further columns are ignored), times as
        2026-05-09 18:00 or ISO 8601, UTC unless they carry an offset
    Returns SCHEDULE, in time order. StudyError, one sentence with file and line, where the file cannot be read, a cell
    is no time, a row ends before it starts, or two rows are on the air at once.
    """
    return parse(read_text(path, "a schedule"), name=str(path))


def parse(text: str, *, name: str = "schedule") -> pd.DataFrame:
    """As `read`, from the text of a schedule; name : what errors call it."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    header: list[str] | None = None
    rows: list[tuple[datetime, datetime, str, int]] = []
    for cells in reader:
        if not any(cell.strip() for cell in cells) or cells[0].lstrip().startswith("#"):
            continue
        if header is None:
            header = _header(cells, f"{name}, line {reader.line_num}")
            continue
        rows.append((*_row(header, cells, f"{name}, line {reader.line_num}"), reader.line_num))
    if not rows:
        raise StudyError(f"{name}: holds no rows; wanted are the header start,end,setup and rows such as {EXAMPLE}.")
    rows.sort(key=lambda row: row[0])
    for one, two in pairwise(rows):
        if two[0] < one[1]:
            raise StudyError(
                f"{name}, line {two[3]}: starts {_text(two[0])}, while the row in line {one[3]} is on the air until "
                f"{_text(one[1])}; rows may not overlap."
            )
    return table((start, end, setup) for start, end, setup, _ in rows)


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
    """CSV text that `parse` reads back."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for start, end, setup in zip(schedule["start"], schedule["end"], schedule["setup"], strict=True):
        writer.writerow((_text(start), _text(end), setup))
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
    for start, end, setup in zip(schedule["start"], schedule["end"], schedule["setup"], strict=True):
        event = Event()
        event.add("summary", f"{title}: {setup}" if title else str(setup))
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


def _delimiter(content: str) -> str:
    first = next((line for line in content.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    return max(",;\t", key=first.count)


def _header(cells: list[str], where: str) -> list[str]:
    header = [cell.strip().lower() for cell in cells]
    missing = [name for name in COLUMNS if name not in header]
    if missing:
        raise StudyError(f"{where}: the header needs start,end,setup, but {', '.join(missing)} is not in {cells!r}.")
    return header


def _row(header: list[str], cells: list[str], where: str) -> tuple[datetime, datetime, str]:
    given = dict(zip(header, (cell.strip() for cell in cells), strict=False))
    values = [given.get(name, "") for name in COLUMNS]
    start, end = (_moment(value, name, where) for value, name in zip(values, COLUMNS[:2], strict=False))
    if not values[2]:
        raise StudyError(f"{where}: 'setup' is blank; a row is such as {EXAMPLE}.")
    if end <= start:
        raise StudyError(f"{where}: ends {_text(end)}, which is not after its start {_text(start)}.")
    return start, end, values[2]


def _moment(value: str, name: str, where: str) -> datetime:
    try:
        moment = datetime.fromisoformat(value)
    except ValueError:
        raise StudyError(f"{where}: {name!r} is no time: {value!r}; wanted UTC such as 2026-05-09 18:00.") from None
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)


def _text(moment: datetime) -> str:
    whole = moment.second == 0 and moment.microsecond == 0
    return f"{moment:%Y-%m-%d %H:%M}" if whole else f"{moment:%Y-%m-%d %H:%M:%S.%f}".rstrip("0").rstrip(".")

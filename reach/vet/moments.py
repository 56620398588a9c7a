"""The time of each row: parsable, not in the future, not before 1990, day and month in an order that can be told."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base.vocabulary import Words, words
from reach.base.words import quoted
from reach.errors import InputError
from reach.vet import times
from reach.vet.ledger import NOTE, REJECTED, Finding, Ledger
from reach.vet.times import NOWHEN, Times

Ints = npt.NDArray[np.intp]

EARLIEST: Final = datetime(1990, 1, 1, tzinfo=UTC)


def judge(raw: pd.DataFrame, ledger: Ledger, *, day_first: bool | None, now: datetime) -> pd.DatetimeIndex:
    """The time of each row of the raw table, NaT where there is none, and into the ledger what is wrong with them.

    day_first : how to read 03/05/2026; None where each file has to tell
    now       : no time may be later; UTC where it names no zone
    InputError where a file has dates whose day and month cannot be told apart.
    """
    column = words(raw, "time_utc")
    micros = np.empty(0, dtype=np.int64)
    for rows, order in _by_order(raw, column, day_first, ledger):
        read = times.read(column.index, day_first=order)
        part = Words(column.codes if rows is None else column.codes[rows], column.index)
        if rows is None:
            micros = read.micros[part.codes]
        else:
            micros = micros if len(micros) else np.empty(len(raw), dtype=np.int64)
            micros[rows] = read.micros[part.codes]
        _tell(rows, part, _in_range(read, part, now), ledger)
        _tell_offsets(raw, rows, part, read.offset, ledger)
    return pd.DatetimeIndex(micros.view("datetime64[us]")).tz_localize("UTC")


def _tell(rows: Ints | None, part: Words, findings: list[Finding | None], ledger: Ledger) -> None:
    faulty = np.array([finding is not None for finding in findings], dtype=bool)
    if faulty.any():
        here = np.flatnonzero(faulty[part.codes])
        there = [finding for finding in findings if finding is not None]
        which = (np.cumsum(faulty) - 1)[part.codes[here]]
        ledger.add_each(here if rows is None else rows[here], which, there)


def _in_range(read: Times, column: Words, now: datetime) -> list[Finding | None]:
    """The findings, with those on times that are too early or too late."""
    now = now.replace(tzinfo=UTC) if now.tzinfo is None else now.astimezone(UTC)
    known = read.micros != NOWHEN
    findings = list(read.findings)
    for at in np.flatnonzero(known & (read.micros > _micros(now))):
        why = f"{quoted(column.text(at))} lies in the future: no report can be later than the clock."
        findings[at] = Finding("time-in-future", REJECTED, why)
    for at in np.flatnonzero(known & (read.micros < _micros(EARLIEST))):
        why = f"{quoted(column.text(at))} lies before {EARLIEST.year}, when no such reports were made."
        findings[at] = Finding("time-too-early", REJECTED, why)
    return findings


def _micros(moment: datetime) -> int:
    return int(np.datetime64(moment.replace(tzinfo=None), "us").astype(np.int64))


def _tell_offsets(
    raw: pd.DataFrame, rows: Ints | None, part: Words, offset: npt.NDArray[np.bool_], ledger: Ledger
) -> None:
    """A note on each row whose time was turned into UTC; on the first of them only where all times of a file are so."""
    if not offset.any():
        return
    flags = offset[part.codes]
    files = _files(raw, rows)
    for file in np.unique(files[flags]):
        mine = np.flatnonzero(files == file)
        shifted = mine[flags[mine]]
        if len(shifted) == len(mine) > 1:
            text = f"All {len(mine)} times of this file name an offset from UTC, as does"
            _note(rows, part, shifted[:1], text, ledger)
        else:
            _note(rows, part, shifted, "", ledger)


def _note(rows: Ints | None, part: Words, here: Ints, start: str, ledger: Ledger) -> None:
    which, distinct = pd.factorize(part.codes[here])
    texts = [quoted(part.text(word)) for word in distinct]
    told = [
        f"{start} {text}; they were turned into UTC." if start else f"{text} was turned into UTC." for text in texts
    ]
    findings = [Finding("time-offset", NOTE, text) for text in told]
    ledger.add_each(here if rows is None else rows[here], which.astype(np.int64), findings)


def _files(raw: pd.DataFrame, rows: Ints | None) -> npt.NDArray[np.integer]:
    codes = raw["source"].astype("category").cat.codes.to_numpy()
    return codes if rows is None else codes[rows]


# ------------------------------------------------------------------------------------------------ day first or month?


def _by_order(
    raw: pd.DataFrame, column: Words, day_first: bool | None, ledger: Ledger
) -> list[tuple[Ints | None, bool | None]]:
    """Which rows (None for all) are to be read in which order."""
    open_words = times.undecided(column.index)
    if day_first is not None or not open_words.any():
        return [(None, day_first)]
    rows = np.flatnonzero(open_words[column.codes])
    files = _files(raw, None)
    order: dict[int, bool | None] = {}
    for file in pd.unique(files[rows]):
        order[int(file)] = _order(raw, column, rows[files[rows] == file], ledger)
    if len(set(order.values())) == 1:
        return [(None, next(iter(order.values())))]
    wanted = np.array([order.get(file) is True for file in range(int(files.max()) + 1)])[files]
    return [(np.flatnonzero(wanted), True), (np.flatnonzero(~wanted), False)]


def _order(raw: pd.DataFrame, column: Words, rows: Ints, ledger: Ledger) -> bool | None:
    """Whether the dates of one file have the day first; None where none of them is a date either way.

    rows : those of the file whose dates are in question. InputError where the file cannot tell.
    """
    which, first = np.unique(column.codes[rows], return_index=True)
    readings = [(times.orders(column.text(word)), rows[at]) for word, at in zip(which, first, strict=True)]
    day_only = min((row for (day, month), row in readings if day and not month), default=None)
    month_only = min((row for (day, month), row in readings if month and not day), default=None)
    either = min((row for (day, month), row in readings if day and month), default=None)
    if day_only is not None and month_only is not None:
        raise InputError(_both(raw, day_only, month_only))
    decides = day_only if day_only is not None else month_only
    if decides is None:
        if either is not None:
            raise InputError(_neither(raw, either))
        return None
    if either is not None:
        ledger.add(np.array([decides]), _told(raw, decides, day_only is not None))
    return day_only is not None


def _told(raw: pd.DataFrame, row: int, day_first: bool) -> Finding:
    order = "day first" if day_first else "month first"
    why = f"{_cell(raw, row)} can only be {order}, so all dates of this file are read {order}."
    return Finding("time-order-told", NOTE, why)


def _neither(raw: pd.DataFrame, row: int) -> str:
    day, month = times.both_readings(str(raw["time_utc"].iloc[row]))
    return (
        f"{_place(raw, row)}: {_cell(raw, row)} may be {day} or {month}, and no other date of the file tells which; "
        "choose with --day-first or --month-first."
    )


def _both(raw: pd.DataFrame, day_only: int, month_only: int) -> str:
    return (
        f"{_place(raw, day_only)}: {_cell(raw, day_only)} can only be day first, but {_cell(raw, month_only)} on line "
        f"{raw['line'].iloc[month_only]} only month first; choose with --day-first or --month-first, and the rows of "
        "the other kind are rejected."
    )


def _place(raw: pd.DataFrame, row: int) -> str:
    return f"{raw['source'].iloc[row]}, line {raw['line'].iloc[row]}"


def _cell(raw: pd.DataFrame, row: int) -> str:
    return quoted(str(raw["time_utc"].iloc[row]).strip())

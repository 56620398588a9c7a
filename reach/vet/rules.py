"""The rules for one row: what makes a row of text a spot, and why others are none.

Each rule looks at the distinct texts of a column and its answers are taken back to the rows by code. Nothing is mended:
case and surrounding blanks are form, everything else is accepted as it is or listed as a problem.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign.frequencies import TwoMhz
from reach.base import grammar, threads
from reach.base.vocabulary import category, in_use, words
from reach.errors import LocatorError
from reach.findings import Counts
from reach.read import headers, times
from reach.read.times import NOWHEN, Moments
from reach.spots import AS_RECEIVED, SPOT
from reach.study import Options, Station
from reach.vet import cells, duplicates, frequency
from reach.vet.ledger import EARLIEST, NOTE, REJECTED, Finding, Ledger, Problems

_NEEDED: Final = ("time_utc", "rx_call", "rx_locator", "snr_db")
_POWERS: Final = {"power_w": "w", "power_mw": "mw", "power_dbm": "dbm"}


@dataclass(frozen=True)
class Sound:
    """Rows that can be believed by themselves; some may report the same reception twice.

    spots     spots.SPOT, sound rows in file order
    problems  spots.PROBLEMS, in file order
    rows        positions in the raw table of the sound rows
    told        positions of the rows that the problems are about, one a problem
    newest_utc  the latest time of all rows, those in the future included; None without any
    """

    spots: pd.DataFrame
    problems: pd.DataFrame
    rows: npt.NDArray[np.intp]
    told: npt.NDArray[np.int64]
    newest_utc: pd.Timestamp | None


@dataclass(frozen=True)
class Vetted:
    """What became of the rows.

    spots     spots.SPOT, accepted rows in file order
    wrong     what is wrong with rows; problems: the same as one table, spots.PROBLEMS in file order
    counts    read = accepted + rejected + duplicates
    rows        positions in the raw table of the accepted rows
    newest_utc  the latest time of all rows, those in the future included; None without any
    """

    spots: pd.DataFrame
    wrong: Problems
    counts: Counts
    rows: npt.NDArray[np.intp]
    newest_utc: pd.Timestamp | None

    @property
    def problems(self) -> pd.DataFrame:
        """What is wrong with rows, all of it at once."""
        return self.wrong.table


def vet(
    raw: pd.DataFrame,
    *,
    station: Station | None = None,
    options: Options | None = None,
    now: datetime | None = None,
    moments: Moments | None = None,
    by_mhz: TwoMhz | None = None,
) -> Vetted:
    """Judge each row of a raw table.

    raw     : as `read` returns it: text columns, source, line
    station : fills in the transmitter's callsign, locator and power where a row is silent
    options : ITU region, four-character locators, day or month first
    now     : no spot may be later, UTC where it names no zone; the clock's time where left out
    moments : the times of this very table, where `read.times.moments` has read them already
    by_mhz  : two frequencies by which setups on the air at once are told apart, where rows name none
    Returns Vetted. Every row is in exactly one of its counts; `raw` is left as it is. InputError where the order of day
    and month cannot be told; LocatorError where the station's own locator is none.
    """
    table, ledger = _judged(raw, station, options, now, moments)
    # Duplicates come last, among what is sound: a rejected row is no reception, so none is a duplicate of it.
    rejected = ledger.rejected.copy()
    repeated = duplicates.find(table, ~rejected, ledger, by_mhz=by_mhz)
    rows = np.flatnonzero(~(rejected | repeated))
    spots = some_of(table, rows)
    counts = Counts(read=len(raw), accepted=len(spots), rejected=int(rejected.sum()), duplicates=int(repeated.sum()))
    return Vetted(spots, Problems(ledger.problems(raw)), counts, rows, _newest(table["time_utc"]))


def sound(
    raw: pd.DataFrame,
    *,
    station: Station | None = None,
    options: Options | None = None,
    now: datetime | None = None,
    moments: Moments | None = None,
    of: Mapping[str, Offsets] | None = None,
) -> Sound:
    """Judge each row of a raw table by itself, as `vet` does, and leave what is told twice for later.

    of : source -> Offsets of the whole file, where the table is a part of it
    Other arguments and errors as `vet`. Returns Sound; `once` makes a Vetted from its spots.
    """
    table, ledger = _judged(raw, station, options, now, moments, of)
    rows = np.flatnonzero(~ledger.rejected)
    return Sound(some_of(table, rows), ledger.problems(raw), rows, ledger.rows(), _newest(table["time_utc"]))


def once(spots: pd.DataFrame, among: npt.NDArray[np.bool_] | None = None, *, by_mhz: TwoMhz | None = None) -> Vetted:
    """Keep each reception once.

    spots : spots.SPOT of sound rows
    among : which of them may report what another does, as `duplicates.maybe` says of them or of more setups; all where left out
    by_mhz : as for `vet`
    Returns Vetted, in which none is rejected; its problems are the duplicates.
    """
    ledger = Ledger(len(spots))
    repeated = duplicates.find(spots, ~ledger.rejected if among is None else among, ledger, by_mhz=by_mhz)
    rows = np.flatnonzero(~repeated)
    counts = Counts(read=len(spots), accepted=len(rows), rejected=0, duplicates=int(repeated.sum()))
    return Vetted(some_of(spots, rows), Problems(ledger.problems(spots)), counts, rows, _newest(spots["time_utc"]))


def _judged(
    raw: pd.DataFrame,
    station: Station | None,
    options: Options | None,
    now: datetime | None,
    moments: Moments | None,
    of: Mapping[str, Offsets] | None = None,
) -> tuple[pd.DataFrame, Ledger]:
    """The spot table of all rows, and what is wrong with each."""
    station, options = station or Station(), options or Options()
    ledger = Ledger(len(raw))
    _shapes(raw, ledger)
    if moments is None:
        moments = times.moments(raw, day_first=options.day_first)
    _judge_times(raw, moments, now or datetime.now(UTC), offsets(raw, moments) if of is None else of, ledger)
    return _columns(raw, moments, ledger, station, options), ledger


def _newest(times: pd.Series) -> pd.Timestamp | None:
    newest = times.max()
    return None if pd.isna(newest) else newest


def _columns(raw: pd.DataFrame, moments: Moments, ledger: Ledger, station: Station, options: Options) -> pd.DataFrame:
    """The spot table of all rows, with nulls where a cell is no good; what is wrong goes into the ledger."""
    judges: dict[str, Callable[[Ledger], Any]] = {
        "rx_call": lambda part: _texts(raw, "rx_call", part, cells.callsign),
        "rx_locator": lambda part: _texts(raw, "rx_locator", part, _locator_rule(options)),
        "snr_db": lambda part: _snr(raw, part),
        "band": lambda part: frequency.judge(raw, part, region=options.itu_region),
        "mode": lambda part: _texts(raw, "mode", part, _upper),
        "tx_call": lambda part: _texts(raw, "tx_call", part, _transmitter_rule(station)),
        "tx_locator": lambda part: _texts(raw, "tx_locator", part, _station_rule(station, options)),
        "power_w": lambda part: _power(raw, part, station),
        "setup": lambda part: _texts(raw, "setup", part, _as_it_is),
        "session": lambda part: _texts(raw, "session", part, _as_it_is),
    }
    # All columns at once, each with a part of the ledger; these are put together in the order above, in which the problems of
    # a row stand.
    parts = {name: ledger.part() for name in judges}
    judged = threads.named({name: partial(judge, parts[name]) for name, judge in judges.items()}, len(raw))
    for part in parts.values():
        ledger.take(part)
    columns = {
        **judged,
        "time_utc": pd.DatetimeIndex(moments.micros.view("datetime64[us]")).tz_localize("UTC"),
        "band": judged["band"].band,
        "freq_mhz": judged["band"].freq_mhz,
        "source": raw["source"].astype("category").array,
        "line": raw["line"].to_numpy(dtype=np.int64),
    }
    table = pd.DataFrame({name: columns[name] for name in SPOT}, copy=False)
    return table.assign(**{AS_RECEIVED: raw[AS_RECEIVED].array}) if AS_RECEIVED in raw else table


def some_of(table: pd.DataFrame, rows: npt.NDArray[np.intp]) -> pd.DataFrame:
    """Some rows, numbered anew, without the categories that are no longer in use (but with all files)."""
    if len(rows) == len(table):
        return table

    def taken(name: str) -> Any:
        some = table[name].array.take(rows)
        return in_use(some) if name != "source" and SPOT.get(name, ("",))[0] == "category" else some

    return pd.DataFrame(threads.named({name: partial(taken, name) for name in map(str, table)}, len(rows)), copy=False)


# --------------------------------------------------------------------------------------------------------------- times


@dataclass(frozen=True)
class Offsets:
    """Of the times of a file that say themselves when they are: how many rows there are, in how many the time names an offset from
    UTC, and the first line of these, 0 without any; of parts of a file, in their order, they can be added."""

    rows: int = 0
    shifted: int = 0
    first: int = 0

    def __add__(self, other: Offsets) -> Offsets:
        return Offsets(self.rows + other.rows, self.shifted + other.shifted, self.first or other.first)


def offsets(raw: pd.DataFrame, moments: Moments) -> dict[str, Offsets]:
    """Source -> Offsets of a raw table. moments : its times"""
    found = {}
    source = raw["source"].astype("category").cat
    files, codes, line = source.codes.to_numpy(), moments.column.codes, raw["line"].to_numpy()
    for each in moments.readings:
        rows = slice(None) if each.rows is None else each.rows
        which = each.said.offset[codes[rows]].nonzero()[0] if each.said.offset.any() else np.empty(0, dtype=np.intp)
        shifted = which if each.rows is None else each.rows[which]
        count = np.bincount(files[rows])
        for file in np.flatnonzero(count):
            mine = shifted[files[shifted] == file]
            first = int(line[mine[0]]) if len(mine) else 0
            found[str(source.categories[int(file)])] = Offsets(int(count[file]), len(mine), first)
    return found


def _judge_times(raw: pd.DataFrame, moments: Moments, now: datetime, of: Mapping[str, Offsets], ledger: Ledger) -> None:
    """Into the ledger what is wrong with times as they were read, and what was assumed of them."""
    now = now.replace(tzinfo=UTC) if now.tzinfo is None else now.astimezone(UTC)
    for row, day_first in moments.told:
        detail = times.DAY_FIRST if day_first else times.MONTH_FIRST
        text = str(raw["time_utc"].iloc[row]).strip()
        ledger.add(np.array([row]), Finding("time-order-told", NOTE, text, detail=detail))
    for rows, said in ((each.rows, each.said) for each in moments.readings):
        findings = [
            None if fault is None else Finding(fault.code, REJECTED, fault.value, fault.other, fault.detail)
            for fault in said.faults
        ]
        known = said.micros != NOWHEN
        for rule, wrong in (
            ("time-in-future", said.micros > _micros(now)),
            ("time-too-early", said.micros < _micros(EARLIEST)),
        ):
            for at in np.flatnonzero(known & wrong):
                findings[at] = Finding(rule, REJECTED, moments.column.text(at))
        ledger.add_words(moments.column, findings, rows)
        _note_offsets(raw, moments, rows, said.offset, of, ledger)


def _micros(moment: datetime) -> int:
    return int(np.datetime64(moment.replace(tzinfo=None), "us").astype(np.int64))


def _note_offsets(
    raw: pd.DataFrame,
    moments: Moments,
    rows: npt.NDArray[np.intp] | None,
    offset: npt.NDArray[np.bool_],
    of: Mapping[str, Offsets],
    ledger: Ledger,
) -> None:
    """A note on each row whose time was turned into UTC; on the first of them only where all times of a file are so."""
    if not offset.any():
        return
    codes, source = moments.column.codes, raw["source"].astype("category").cat
    files = source.codes.to_numpy()
    every = np.arange(len(raw)) if rows is None else rows
    every = every[offset[codes[every]]]
    for file in np.unique(files[every]):
        shifted, told = every[files[every] == file], of[str(source.categories[file])]
        # A program that always writes offsets is no surprise in each of its rows.
        whole = told.shifted == told.rows > 1
        if whole:
            shifted = shifted[:1] if raw["line"].iloc[shifted[0]] == told.first else shifted[:0]
        which, distinct = pd.factorize(codes[shifted])
        count = str(told.rows) if whole else ""
        findings = [Finding("time-offset", NOTE, moments.column.text(word), count) for word in distinct]
        ledger.add_each(shifted, which.astype(np.int64), findings)


# ------------------------------------------------------------------------------------------------------ shape of rows


def _shapes(raw: pd.DataFrame, ledger: Ledger) -> None:
    """Rows whose cells are too few or too many, or all blank: nothing more can be said of them."""
    if "fault" in raw:
        faults = words(raw, "fault")
        parted = [(text or " ").split(" ") for text in faults.texts]
        findings = [Finding(rule, REJECTED, *numbers) for rule, *numbers in parted]
        rows = np.flatnonzero(~faults.blank[faults.codes])
        ledger.add_each(rows, faults.codes[rows].astype(np.int64), findings, close=True)
    _headers(raw, ledger)
    blank = np.ones(len(raw), dtype=bool)
    for name in _NEEDED:
        column = words(raw, name)
        # Where one needed column has no blank word at all, no row is blank, and nobody has to look at the rows.
        if not column.blank[:-1].any() and name in raw and not raw[name].hasnans:
            return
        blank &= column.blank[column.codes]
    ledger.add(np.flatnonzero(blank), Finding("row-blank", REJECTED), close=True)


def _headers(raw: pd.DataFrame, ledger: Ledger) -> None:
    """Rows that are the header once more, as in exports that were put one behind the other."""
    column = words(raw, "snr_db")
    # The SNR column has the fewest words: where none of them reads like a header, no row does.
    like = np.array([headers.recognise(text) == "snr_db" for text in column.texts], dtype=bool)
    rows = np.flatnonzero(like[column.codes]) if like.any() else np.empty(0, dtype=np.int64)
    for name in ("rx_call", "rx_locator"):
        rows = rows[[headers.recognise(str(text)) == name for text in raw[name].take(rows)]] if len(rows) else rows
    ledger.add(rows, Finding("row-header", REJECTED), close=True)


# -------------------------------------------------------------------------------------------------------- one text each

Rule = Callable[[str], tuple[str | None, Finding | None]]


def _texts(raw: pd.DataFrame, name: str, ledger: Ledger, rule: Rule) -> pd.Categorical:
    """A category column: the rule's value of each word."""
    column = words(raw, name)
    judged = [rule(text) for text in column.texts]
    ledger.add_words(column, [finding for _, finding in judged])
    return category(column.codes, [value for value, _ in judged])


def _as_it_is(text: str) -> tuple[str | None, Finding | None]:
    return text.strip() or None, None


def _upper(text: str) -> tuple[str | None, Finding | None]:
    return text.strip().upper() or None, None


def _locator_rule(options: Options) -> Rule:
    def rule(text: str) -> tuple[str | None, Finding | None]:
        verdict = grammar.judge(text, four_characters=options.four_character_locators)
        return verdict.locator, _refusal(verdict, text)

    return rule


def _refusal(verdict: grammar.Verdict, text: str, whose: str = "") -> Finding | None:
    if verdict.locator is not None:
        return None
    return Finding(whose + verdict.rule, REJECTED, text.strip(), suggestion=verdict.suggestion)


def _transmitter_rule(station: Station) -> Rule:
    own = station.callsign.strip().upper() or None

    def rule(text: str) -> tuple[str | None, Finding | None]:
        if not text.strip():
            return own, None
        call, finding = cells.callsign(text)
        if finding is None:
            return call, None
        return call, finding._replace(rule=f"tx-{finding.rule}")

    return rule


def _station_rule(station: Station, options: Options) -> Rule:
    own = own_locator(station)

    def rule(text: str) -> tuple[str | None, Finding | None]:
        if not text.strip():
            return own, None
        verdict = grammar.judge(text, four_characters=options.four_character_locators)
        return verdict.locator, _refusal(verdict, text, "tx-")

    return rule


def own_locator(station: Station) -> str | None:
    """The station's own locator as it is written; None without one. LocatorError where it is none."""
    if not station.locator.strip():
        return None
    try:
        return grammar.tidy(station.locator)
    except LocatorError as error:
        raise LocatorError(f"the station's own locator: {error}") from None


# ------------------------------------------------------------------------------------------------------------- numbers


def _snr(raw: pd.DataFrame, ledger: Ledger) -> npt.NDArray[np.float32]:
    column = words(raw, "snr_db")
    judged = [cells.snr_db(text) for text in column.texts]
    ledger.add_words(column, [finding for _, finding in judged])
    return np.array([value for value, _ in judged], dtype=np.float32)[column.codes]


def _power(raw: pd.DataFrame, ledger: Ledger, station: Station) -> npt.NDArray[np.float32]:
    """Power in W: the row's own, the station's where the row is silent, NaN where neither says."""
    power = np.full(len(raw), np.nan, dtype=np.float32)
    silent = np.ones(len(raw), dtype=bool)
    for name, unit in _POWERS.items():
        if name in raw:
            column = words(raw, name)
            judged = [cells.power_w(text, unit) for text in column.texts]
            ledger.add_words(column, [finding for _, finding in judged])
            here, values = ~column.blank[column.codes], np.array([value for value, _ in judged], dtype=np.float32)
            power = np.where(here, values[column.codes], power)
            silent &= ~here
    if station.power_w is not None:
        power[silent] = station.power_w
    return power

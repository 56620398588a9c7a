"""The rules for one row: what makes a row of text a spot, and why others are none.

Each rule looks at the distinct texts of a column and its answers are taken back to the rows by code. Nothing is mended:
case and surrounding blanks are form, everything else is accepted as it is or listed as a problem.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import grammar
from reach.base.vocabulary import category, in_use, words
from reach.errors import LocatorError
from reach.findings import Counts
from reach.read import headers
from reach.spots import AS_RECEIVED, SPOT
from reach.study import Options, Station
from reach.vet import calls, duplicates, frequency, moments, numbers
from reach.vet.ledger import REJECTED, Finding, Ledger

_NEEDED: Final = ("time_utc", "rx_call", "rx_locator", "snr_db")
_POWERS: Final = {"power_w": "w", "power_mw": "mw", "power_dbm": "dbm"}


@dataclass(frozen=True)
class Vetted:
    """What became of the rows.

    spots     spots.SPOT, accepted rows in file order
    problems  spots.PROBLEMS, in file order
    counts    read = accepted + rejected + duplicates
    newest_utc  the latest time of all rows, those in the future included (a Timestamp in UTC); NaT without any
    """

    spots: pd.DataFrame
    problems: pd.DataFrame
    counts: Counts
    newest_utc: Any = field(default=pd.NaT)


def vet(
    raw: pd.DataFrame,
    *,
    station: Station | None = None,
    options: Options | None = None,
    now: datetime | None = None,
) -> Vetted:
    """Judge each row of a raw table.

    raw     : as `read` returns it: text columns, source, line
    station : fills in the transmitter's callsign, locator and power where a row is silent
    options : ITU region, four-character locators, day or month first
    now     : no spot may be later; the clock's time where left out
    Returns Vetted. InputError where the order of day and month cannot be told; LocatorError where the station's own
    locator is none.
    """
    station, options = station or Station(), options or Options()
    ledger = Ledger(len(raw))
    _shapes(raw, ledger)
    table = _columns(raw, ledger, station, options, now or datetime.now(UTC))
    rejected = ledger.rejected.copy()
    repeated = duplicates.find(table, ~rejected, ledger)
    spots = _take(table, np.flatnonzero(~(rejected | repeated)))
    counts = Counts(read=len(raw), accepted=len(spots), rejected=int(rejected.sum()), duplicates=int(repeated.sum()))
    return Vetted(spots, ledger.problems(raw), counts, table["time_utc"].max())


def _columns(raw: pd.DataFrame, ledger: Ledger, station: Station, options: Options, now: datetime) -> pd.DataFrame:
    """The spot table of all rows, with nulls where a cell is no good; what is wrong goes into the ledger."""
    time = moments.judge(raw, ledger, day_first=options.day_first, now=now)
    call = _texts(raw, "rx_call", ledger, calls.judge)
    locator = _texts(raw, "rx_locator", ledger, _locator_rule(options))
    snr = _snr(raw, ledger)
    band = frequency.judge(raw, ledger, region=options.itu_region)
    table = pd.DataFrame(
        {
            "time_utc": time,
            "rx_call": call,
            "rx_locator": locator,
            "snr_db": snr,
            "band": band.band,
            "freq_mhz": band.freq_mhz,
            "mode": _texts(raw, "mode", ledger, _upper),
            "tx_call": _texts(raw, "tx_call", ledger, _transmitter_rule(station)),
            "tx_locator": _texts(raw, "tx_locator", ledger, _station_rule(station, options)),
            "power_w": _power(raw, ledger, station),
            "setup": _texts(raw, "setup", ledger, _as_it_is),
            "session": _texts(raw, "session", ledger, _as_it_is),
            "source": raw["source"].astype("category").array,
            "line": raw["line"].to_numpy(dtype=np.int64),
        },
        copy=False,
    )[list(SPOT)]
    return table.assign(**{AS_RECEIVED: raw[AS_RECEIVED].array}) if AS_RECEIVED in raw else table


def _take(table: pd.DataFrame, rows: npt.NDArray[np.intp]) -> pd.DataFrame:
    """Some rows, numbered anew, without the categories that are no longer in use (but with all files)."""
    if len(rows) == len(table):
        return table
    some = {name: table[name].array.take(rows) for name in table.columns}
    for name, (dtype, _) in SPOT.items():
        if dtype == "category" and name != "source":
            some[name] = in_use(some[name])
    return pd.DataFrame(some, copy=False)


# ------------------------------------------------------------------------------------------------------ shape of rows


def _shapes(raw: pd.DataFrame, ledger: Ledger) -> None:
    """Rows whose cells are too few or too many, or all blank: nothing more can be said of them."""
    if "fault" in raw:
        faults = words(raw, "fault")
        parted = [text.partition(": ") for text in faults.texts]
        findings = [Finding(rule, REJECTED, why) for rule, _, why in parted]
        rows = np.flatnonzero(~faults.blank[faults.codes])
        ledger.add_each(rows, faults.codes[rows].astype(np.int64), findings, close=True)
    _headers(raw, ledger)
    blank = np.ones(len(raw), dtype=bool)
    for name in _NEEDED:
        column = words(raw, name)
        if not column.blank[:-1].any() and name in raw and not raw[name].hasnans:
            return
        blank &= column.blank[column.codes]
    ledger.add(np.flatnonzero(blank), Finding("row-blank", REJECTED, "The row is blank."), close=True)


def _headers(raw: pd.DataFrame, ledger: Ledger) -> None:
    """Rows that are the header once more, as in exports that were put one behind the other."""
    column = words(raw, "snr_db")
    like = np.array([headers.recognise(text) == "snr_db" for text in column.texts], dtype=bool)
    rows = np.flatnonzero(like[column.codes]) if like.any() else np.empty(0, dtype=np.int64)
    for name in ("rx_call", "rx_locator"):
        rows = rows[[headers.recognise(str(text)) == name for text in raw[name].take(rows)]] if len(rows) else rows
    ledger.add(rows, Finding("row-header", REJECTED, "The row repeats the header."), close=True)


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
        return verdict.locator, _refusal(verdict)

    return rule


def _refusal(verdict: grammar.Verdict, whose: str = "") -> Finding | None:
    if verdict.locator is not None:
        return None
    explanation = f"Transmitter: {verdict.explanation}" if whose else verdict.explanation
    return Finding(whose + verdict.rule, REJECTED, explanation, verdict.suggestion)


def _transmitter_rule(station: Station) -> Rule:
    own = station.callsign.strip().upper() or None

    def rule(text: str) -> tuple[str | None, Finding | None]:
        if not text.strip():
            return own, None
        call, finding = calls.judge(text)
        if finding is None:
            return call, None
        return call, finding._replace(rule=f"tx-{finding.rule}", explanation=f"Transmitter: {finding.explanation}")

    return rule


def _station_rule(station: Station, options: Options) -> Rule:
    own = _own_locator(station)

    def rule(text: str) -> tuple[str | None, Finding | None]:
        if not text.strip():
            return own, None
        verdict = grammar.judge(text, four_characters=options.four_character_locators)
        return verdict.locator, _refusal(verdict, "tx-")

    return rule


def _own_locator(station: Station) -> str | None:
    if not station.locator.strip():
        return None
    try:
        return grammar.tidy(station.locator)
    except LocatorError as error:
        raise LocatorError(f"the station's own locator: {error}") from None


# ------------------------------------------------------------------------------------------------------------- numbers


def _snr(raw: pd.DataFrame, ledger: Ledger) -> npt.NDArray[np.float32]:
    column = words(raw, "snr_db")
    judged = [numbers.snr_db(text) for text in column.texts]
    ledger.add_words(column, [finding for _, finding in judged])
    return np.array([value for value, _ in judged], dtype=np.float32)[column.codes]


def _power(raw: pd.DataFrame, ledger: Ledger, station: Station) -> npt.NDArray[np.float32]:
    """Power in W: the row's own, the station's where the row is silent, NaN where neither says."""
    power = np.full(len(raw), np.nan, dtype=np.float32)
    silent = np.ones(len(raw), dtype=bool)
    for name, unit in _POWERS.items():
        if name in raw:
            column = words(raw, name)
            judged = [numbers.power_w(text, unit) for text in column.texts]
            ledger.add_words(column, [finding for _, finding in judged])
            here = ~column.blank[column.codes]
            power[here] = np.array([value for value, _ in judged], dtype=np.float32)[column.codes[here]]
            silent &= ~here
    if station.power_w is not None:
        power[silent] = station.power_w
    return power

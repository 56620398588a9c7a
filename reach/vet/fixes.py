"""Corrections on the user's word: written as suggestions, filled in by the user, applied exactly so.

A fixes file is CSV, one row a distinct (callsign, locator): callsign, locator, suggestion, reason, rows, accept.
`accept` is empty as written. The user puts `yes` (take the suggestion) or another locator; rows left empty change
nothing.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from reach.errors import StudyError
from reach.spots import AS_RECEIVED
from reach.vet import grammar

COLUMNS: Final = ("callsign", "locator", "suggestion", "reason", "rows", "accept")
_YES: Final = {"yes", "y"}
_NO: Final = {"", "no", "n"}


@dataclass(frozen=True)
class Fix:
    """One correction: this locator under this callsign becomes that one; `where` names the row of the fixes file."""

    call: str
    locator: str
    becomes: str
    where: str


@dataclass(frozen=True)
class Applied:
    """How many rows were changed, and a sentence for each correction that matched nothing."""

    rows: int = 0
    notes: tuple[str, ...] = ()


def suggestions(problems: pd.DataFrame, suspects: pd.DataFrame | None = None) -> pd.DataFrame:
    """The suggestions worth a decision, one row a distinct (callsign, locator).

    problems : spots.PROBLEMS; suspects : adds those of which only several rows together speak
    Returns COLUMNS with `accept` empty: first what is malformed, then what is suspect, in the order of the problems.
    """
    about = problems["rule"].str.startswith("locator") | problems["severity"].eq("suspect")
    rows = problems[(about & problems["callsign"].ne("")).to_numpy()]
    firsts = rows.assign(_key=rows["callsign"].str.strip().str.upper() + " " + rows["locator"].str.strip().str.upper())
    counted = firsts["_key"].map(firsts["_key"].value_counts())
    table = firsts.assign(rows=counted, reason=rows["explanation"], accept="")
    table = table.sort_values("suggestion", key=lambda text: text.eq(""), kind="stable").drop_duplicates("_key")
    return table.sort_index()[list(COLUMNS)].reset_index(drop=True)


def read(path: str | Path) -> list[Fix]:
    """The corrections that a filled-in file asks for.

    Returns those with `yes` or a locator under `accept`. StudyError, one sentence with file and line, where the file
    cannot be read, lacks a column, says `yes` where there is no suggestion, or names something that is no locator.
    """
    name = str(path)
    try:
        text = Path(path).read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StudyError(f"{name}: cannot be read ({error.strerror}).") from None
    except UnicodeDecodeError:
        raise StudyError(f"{name}: is not UTF-8 text, which a fixes file must be.") from None
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
    header = [(field or "").strip().lower() for field in reader.fieldnames or []]
    missing = [column for column in ("callsign", "locator", "suggestion", "accept") if column not in header]
    if missing:
        raise StudyError(f"{name}: has no column {missing[0]!r}; a fixes file has the header {','.join(COLUMNS)}.")
    reader.fieldnames = header
    fixes = [fix for row in reader if (fix := _fix(row, f"{name}, line {reader.line_num}")) is not None]
    return _agreeing(fixes)


def apply(raw: pd.DataFrame, fixes: Sequence[Fix]) -> tuple[pd.DataFrame, Applied]:
    """Replace exactly the locators the user asked for.

    raw : raw table (text), needs rx_call and rx_locator
    Returns (a new table with rx_locator replaced and the text as received in rx_locator_as_received, null where nothing
    was changed; how many rows changed, and a sentence for each correction that matched nothing).
    """
    if not fixes:
        return raw, Applied()
    call, locator = (_plain(raw[column]) for column in ("rx_call", "rx_locator"))
    changed = raw["rx_locator"].astype(object).to_numpy().copy()
    received = np.full(len(raw), None, dtype=object)
    notes = []
    for fix in fixes:
        hit = (call == fix.call) & (locator == fix.locator)
        if not hit.any():
            notes.append(f"{fix.where}: no row of {fix.call} has the locator {fix.locator or 'left blank'!s} any more.")
            continue
        received[hit], changed[hit] = changed[hit], fix.becomes
    table = raw.assign(rx_locator=pd.Categorical(changed), **{AS_RECEIVED: pd.Categorical(received)})
    return table, Applied(int((received != None).sum()), tuple(notes))  # noqa: E711 - elementwise


def _fix(row: dict[str, str | None], where: str) -> Fix | None:
    cell = {key: (value or "").strip() for key, value in row.items() if isinstance(value, str) or value is None}
    accept = cell.get("accept", "")
    if accept.lower() in _NO:
        return None
    wanted = cell.get("suggestion", "") if accept.lower() in _YES else accept
    if not wanted:
        raise StudyError(f"{where}: says {accept!r}, but there is no suggestion to accept; write the locator instead.")
    verdict = grammar.judge(wanted, four_characters=True)
    if verdict.locator is None:
        raise StudyError(f"{where}: {verdict.explanation} Under `accept` goes yes, a locator, or nothing.")
    return Fix(cell.get("callsign", "").upper(), cell.get("locator", "").upper(), verdict.locator, where)


def _agreeing(fixes: list[Fix]) -> list[Fix]:
    """StudyError where two rows want different things of the same locator; equal rows count once."""
    by_key: dict[tuple[str, str], Fix] = {}
    for fix in fixes:
        first = by_key.setdefault((fix.call, fix.locator), fix)
        if first.becomes != fix.becomes:
            raise StudyError(
                f"{fix.where}: wants {fix.locator} of {fix.call} to become {fix.becomes}, "
                f"while an earlier row wants {first.becomes}."
            )
    return list(by_key.values())


def _plain(column: pd.Series) -> np.ndarray:
    text = column.astype(object).where(column.notna(), "").astype(str)
    return text.str.strip().str.upper().to_numpy(dtype=object)


def _delimiter(text: str) -> str:
    """Spreadsheets of some countries save with semicolons."""
    first = text.split("\n", 1)[0]
    return max(",;\t", key=first.count)

"""Corrections on the user's word: written as suggestions, filled in by the user, applied exactly so.

A fixes file is CSV, one row a distinct (callsign, locator): callsign, locator, suggestion, reason, rows, accept.
`accept` is empty as written. The user puts `yes` (take the suggestion) or another locator; rows left empty change
nothing. Case and blanks do not matter when rows are matched.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import grammar, small_files
from reach.base import text as texts
from reach.base.vocabulary import Words, category, words
from reach.errors import StudyError
from reach.findings import Note, NoteCode
from reach.spots import AS_RECEIVED
from reach.study import read_text

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
    """How many rows were changed, and a note for each correction that matched nothing."""

    rows: int = 0
    notes: tuple[Note, ...] = ()


def suggestions(problems: pd.DataFrame) -> pd.DataFrame:
    """The locators worth a decision, one row a distinct (callsign, locator).

    problems : spots.PROBLEMS, those of suspects among them, with the column `explanation` that
        `tell.sentences.problems.written` adds: it becomes the reason
    Returns COLUMNS with `accept` empty, in the order of the problems: what is malformed and what is suspect. Where there
    is no suggestion, the user may know better.
    """
    about = problems["rule"].str.startswith("locator") & problems["severity"].isin(["rejected", "suspect"])
    rows = problems[(about & problems["callsign"].ne("")).to_numpy()]
    keys = rows["callsign"].map(_plain) + " " + rows["locator"].map(_plain)
    table = rows.assign(_key=keys, rows=keys.map(keys.value_counts()), reason=rows["explanation"], accept="")
    return table.drop_duplicates("_key")[list(COLUMNS)].reset_index(drop=True)


def read(path: str | Path) -> list[Fix]:
    """The corrections that a filled-in file asks for.

    Returns those with `yes` or a locator under `accept`. StudyError, one sentence with file and line, where the file
    cannot be read, lacks a column, says `yes` where there is no suggestion, or names something that is no locator.
    """
    found = (_fix(cell, where) for where, cell in _rows(path))
    return _agreeing([fix for fix in found if fix is not None])


def rows(path: str | Path) -> list[dict[str, str]]:
    """Every row as it stands, the undecided ones too: column -> cell, with whatever columns the user added.

    Returns them in their order; none where there is no such file. StudyError as `read`.
    """
    if not os.path.lexists(path):
        return []
    return [{name: texts.from_cell(text) for name, text in cell.items()} for _, cell in _rows(path)]


def decided(kept: Sequence[Mapping[str, str]], row: Mapping[str, str]) -> list[dict[str, str]]:
    """The rows with one more decision, which stands last.

    kept : as `rows` returns them; a row about the same callsign and locator goes, what it says beside the decision stays
    row : COLUMNS -> text, `accept` among them; "" there takes a decision back
    StudyError where it accepts something that is no locator, or a suggestion where there is none.
    """
    if row["accept"].lower() not in _NO | _YES:
        verdict = grammar.judge(row["accept"], four_characters=True)
        if verdict.locator is None:
            raise StudyError(verdict.explanation)
    _fix(dict(row), "this decision")
    about = _about(row)
    before = next((each for each in kept if _about(each) == about), {})
    said = {name: text for name, text in row.items() if text or name == "accept"}
    return [*(dict(each) for each in kept if _about(each) != about), {**before, **said}]


def is_decided(row: Mapping[str, str]) -> bool:
    """Whether the user has said what is to be done; that nothing is, is a decision too."""
    return bool(row.get("accept", "").strip())


def table(kept: Sequence[Mapping[str, str]]) -> pd.DataFrame:
    """Rows as they are written: COLUMNS, then those that the user added."""
    names = dict.fromkeys([*COLUMNS, *(name for row in kept for name in row)])
    return pd.DataFrame({name: pd.array([row.get(name, "") for row in kept], dtype="str") for name in names})


def _about(row: Mapping[str, str]) -> tuple[str, str]:
    return _plain(row.get("callsign", "")), _plain(row.get("locator", ""))


def _rows(path: str | Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Where each row stands, for errors, and its cells by column."""
    name = str(path)
    text = read_text(path, "a fixes file")
    found = small_files.rows(text, _delimiter(text), name)
    _, names = next(found, (None, []))
    header = [field.lower() for field in names]
    missing = [column for column in ("callsign", "locator", "suggestion", "accept") if column not in header]
    if missing:
        raise StudyError(f"{name}: has no column {missing[0]!r}; a fixes file has the header {','.join(COLUMNS)}.")
    for line, row in found:
        yield f"{name}, line {line}", _row(header, row, f"{name}, line {line}")


def apply(raw: pd.DataFrame, fixes: Sequence[Fix]) -> tuple[pd.DataFrame, Applied]:
    """Replace exactly the locators the user asked for.

    raw : raw table (text), needs rx_call and rx_locator
    Returns (a new table with rx_locator replaced and the text as received in rx_locator_as_received, null where nothing
    was changed; how many rows changed, and a note for each correction that matched nothing).
    """
    if not fixes:
        return raw, Applied()
    call, locator = words(raw, "rx_call"), words(raw, "rx_locator")
    fix_of_row = _matching(call, locator, fixes)
    hit = fix_of_row >= 0
    rows = np.bincount(fix_of_row[hit], minlength=len(fixes))
    notes = tuple(
        Note(NoteCode.FIX_WITHOUT_ROW, {"where": fix.where, "call": fix.call, "locator": fix.locator})
        for fix, count in zip(fixes, rows, strict=True)
        if not count
    )
    # The new locators become words of the vocabulary, and the rows point at them: no row is touched as text.
    texts = [*locator.texts, *(fix.becomes for fix in fixes)]
    changed = np.where(hit, len(locator) + fix_of_row, locator.codes)
    received = np.where(hit, locator.codes, len(locator.texts))
    table = raw.assign(rx_locator=category(changed, texts), **{AS_RECEIVED: category(received, [*locator.texts, None])})
    return table, Applied(int(hit.sum()), notes)


def _matching(call: Words, locator: Words, fixes: Sequence[Fix]) -> npt.NDArray[np.int64]:
    """Which fix each row asks for, -1 for none."""
    call_number, call_of_word = _numbered(call)
    locator_number, locator_of_word = _numbered(locator)
    asked = {
        call_number[fix.call] * len(locator_number) + locator_number[fix.locator]: k
        for k, fix in enumerate(fixes)
        if fix.call in call_number and fix.locator in locator_number
    }
    if not asked:
        return np.full(len(call.codes), -1, dtype=np.int64)
    row = call_of_word[call.codes] * len(locator_number) + locator_of_word[locator.codes]
    # Both columns are vocabularies, so a pair of words is one whole number: the rows are matched without a text compared.
    keys = np.array(sorted(asked), dtype=np.int64)
    at = np.minimum(np.searchsorted(keys, row), len(keys) - 1)
    return np.where(keys[at] == row, np.array([asked[int(key)] for key in keys], dtype=np.int64)[at], -1)


def _numbered(column: Words) -> tuple[dict[str, int], npt.NDArray[np.int64]]:
    """Distinct words, case and blanks aside, with a number each; and the number of each word."""
    plain = [_plain(text) for text in column.texts]
    number = {text: k for k, text in enumerate(dict.fromkeys(plain))}
    return number, np.array([number[text] for text in plain], dtype=np.int64)


def _plain(text: str) -> str:
    return " ".join(texts.from_cell(text).split()).upper()


def _row(header: list[str], row: list[str], where: str) -> dict[str, str]:
    """The cells by their headers. StudyError where there are more than headers: what stands under `accept` may be another's."""
    if any(row[len(header) :]):
        raise StudyError(f"{where}: has {len(row)} cells, while the header has {len(header)}.")
    return dict(zip(header, row, strict=False))


def _fix(cell: dict[str, str], where: str) -> Fix | None:
    accept = cell.get("accept", "")
    if accept.lower() in _NO:
        return None
    wanted = cell.get("suggestion", "") if accept.lower() in _YES else accept
    if not wanted:
        raise StudyError(f"{where}: says {accept!r}, but there is no suggestion to accept; write the locator instead.")
    verdict = grammar.judge(wanted, four_characters=True)
    if verdict.locator is None:
        raise StudyError(f"{where}: {verdict.explanation} Under `accept` goes yes, a locator, or nothing.")
    return Fix(_plain(cell.get("callsign", "")), _plain(cell.get("locator", "")), verdict.locator, where)


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


def _delimiter(text: str) -> str:
    """Spreadsheets of some countries save with semicolons."""
    first = text.partition("\n")[0]
    return max(",;\t", key=first.count)

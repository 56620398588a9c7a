"""The book of what is wrong with which row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base.vocabulary import Words
from reach.spots import PROBLEMS

REJECTED: Final = "rejected"
NOTE: Final = "note"

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]


class Finding(NamedTuple):
    """What is to be said about a value: see spots.PROBLEMS."""

    rule: str
    severity: str
    explanation: str
    suggestion: str = ""


class Ledger:
    """Doubts by row. A row that is closed takes no more of them: what is said of it says enough.

    rejected  bool, shape (rows,): whether a finding rejects the row
    """

    def __init__(self, rows: int) -> None:
        self.rejected: Flags = np.zeros(rows, dtype=bool)
        self._closed: Flags = np.zeros(rows, dtype=bool)
        self._rows: list[Ints] = []
        self._which: list[Ints] = []
        self._said: list[pd.DataFrame] = [_as_table([])]  # the fields of Finding, one below the other

    def add(self, rows: Ints, finding: Finding, *, close: bool = False) -> None:
        """Say one thing of some rows."""
        self.add_each(rows, np.zeros(len(rows), dtype=np.int64), [finding], close=close)

    def add_each(self, rows: Ints, which: Ints, findings: Sequence[Finding], *, close: bool = False) -> None:
        """Say something of each of some rows.

        rows     : row numbers, shape (k,)
        which    : shape (k,), positions in `findings`
        """
        still = ~self._closed[rows]
        rows, which = rows[still], which[still]
        if not len(rows):
            return
        rejects = np.array([finding.severity == REJECTED for finding in findings])
        self.rejected[rows[rejects[which]]] = True
        self._closed[rows] |= close
        self._note(rows, which, _as_table(findings))

    def add_table(self, rows: Ints, said: pd.DataFrame) -> None:
        """Say of each of very many rows something of its own that rejects none.

        rows : row numbers, shape (k,)
        said : k rows, the fields of Finding as columns of dtype str
        """
        still = np.flatnonzero(~self._closed[rows])
        self._note(rows[still], still, said)

    def _note(self, rows: Ints, which: Ints, said: pd.DataFrame) -> None:
        self._rows.append(rows)
        self._which.append(which + sum(map(len, self._said)))
        self._said.append(said)

    def add_words(self, words: Words, findings: Sequence[Finding | None]) -> None:
        """Say of every row what is said of its word.

        findings : one a word, None where there is nothing to say
        """
        faulty = np.array([finding is not None for finding in findings], dtype=bool)
        if not faulty.any():
            return
        there = [finding for finding in findings if finding is not None]
        rows = np.flatnonzero(faulty[words.codes])
        self.add_each(rows, (np.cumsum(faulty) - 1)[words.codes[rows]], there)

    def problems(self, raw: pd.DataFrame) -> pd.DataFrame:
        """spots.PROBLEMS: findings in the order of the rows of the raw table, those of one row as they were added."""
        rows = np.concatenate([np.empty(0, dtype=np.int64), *self._rows])
        which = np.concatenate([np.empty(0, dtype=np.int64), *self._which])
        order = np.argsort(rows, kind="stable")
        rows, which = rows[order], which[order]
        said = pd.concat(self._said, ignore_index=True).take(which)
        found = {
            "source": _text(raw, "source", rows),
            "line": raw["line"].to_numpy()[rows],
            "callsign": _text(raw, "rx_call", rows),
            "locator": _text(raw, "rx_locator", rows),
            **{name: said[name].array for name in Finding._fields},
        }
        return pd.DataFrame(found)[list(PROBLEMS)]


def _as_table(findings: Sequence[Finding]) -> pd.DataFrame:
    return pd.DataFrame(findings, columns=list(Finding._fields), dtype="str")


def _text(raw: pd.DataFrame, name: str, rows: Ints) -> pd.Series:
    """Cells as they came, blank where there are none."""
    if name not in raw:
        return pd.Series([""] * len(rows), dtype="str")
    return raw[name].take(rows).astype("str").fillna("").reset_index(drop=True)


def in_file_order(raw: pd.DataFrame, *tables: pd.DataFrame) -> pd.DataFrame:
    """Problems from several steps as one table: by file in the order read, then by line."""
    both = pd.concat([table for table in tables if len(table)] or [tables[0]], ignore_index=True)
    order = {name: k for k, name in enumerate(raw["source"].cat.categories)}
    rank = both["source"].map(lambda name: order.get(name, len(order)))
    ordered = both.assign(_rank=rank).sort_values(["_rank", "line"], kind="stable", ignore_index=True)
    return ordered.drop(columns="_rank")

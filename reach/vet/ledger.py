"""The book of what is wrong with which row: every rule by its code, and who broke it.

Codes and values only; `tell.sentences.problems` says them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime
from functools import cached_property
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import pandas as pd
import pyarrow as pa

from reach.base.vocabulary import Words, words
from reach.spots import PROBLEMS, WRITTEN

EARLIEST: Final = datetime(1990, 1, 1, tzinfo=UTC)  # before any such report
REJECTED: Final = "rejected"
NOTE: Final = "note"
DUPLICATE: Final = "duplicate"  # begins the rules of rows that report a reception which another row reports

Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

LOCATOR_RULES: Final = {
    "locator-blank": "no locator is given",
    "locator-not-ascii": "it holds a character that is no plain letter or digit",
    "locator-stray-character": "it holds something else than letters and digits",
    "locator-odd-length": "a character is missing or too many",
    "locator-too-short": "fewer than four characters",
    "locator-too-long": "more than ten characters",
    "locator-pairs-swapped": "its pairs stand in another order",
    "locator-no-locator": "it is nothing like a locator",
    "locator-letter-for-digit": "a letter stands where a digit must",
    "locator-digit-for-letter": "a digit stands where a letter must",
    "locator-beyond-r": "a letter of the field lies beyond R",
    "locator-beyond-x": "a letter of a subsquare lies beyond X",
    "locator-four-characters": "a square, where six characters are wanted",
}
_CALLSIGN: Final = {
    "callsign-unreadable": "it names nobody; detail: nobody or unprintable",
    "callsign-too-long": "more characters than any identifier has; other: how many",
    "callsign-blank-inside": "a note: a callsign but for a blank inside",
    "callsign-not-ascii": "a note: a callsign but for its letters' alphabet",
}

# Every code with what it means. `value` is the cell's text, `other` and `detail` are empty, where nothing else is said.
RULES: Final = {
    "row-length": "the row has too few or too many cells; value: how many, other: how many the header has",
    "row-quote": "a quote is opened and never closed; no value",
    "row-blank": "all its cells are blank; no value",
    "row-header": "it repeats the header; no value",
    "row-total": "it is the total of the table and no report; no value",
    "time-blank": "no time is given; no value",
    "time-unreadable": "the text is no time; detail: month-name where only the month's name is not known",
    "time-impossible": "no clock or calendar shows it; detail: day, clock, calendar, zone, or day-first or month-first where the "
    "month is no month in that order (other: its number)",
    "time-no-clock": "a date without a time of day",
    "time-no-date": "a time of day without a date",
    "time-two-digit-year": "the year has two digits only",
    "time-in-future": "it is later than the clock",
    "time-too-early": "it is earlier than any such report",
    "time-offset": "a note: it was turned into UTC; other: how many times the file has, where all of them were",
    "time-order-told": "a note: this date told the order of day and month; detail: day-first or month-first",
    "callsign-blank": "no callsign is given; no value",
    **_CALLSIGN,
    **LOCATOR_RULES,
    **{
        f"tx-{code}": f"the same of the transmitter: {what}"
        for code, what in {**_CALLSIGN, **LOCATOR_RULES}.items()
        if code != "locator-blank"
    },
    "snr-blank": "no SNR is given; no value",
    "snr-unreadable": "the text is no number of dB",
    "snr-range": "no SNR is that high or low; detail: report where it looks like a readability and strength report",
    "band-blank": "neither band nor frequency is given; no value",
    "band-unreadable": "the text is no band; other: the frequency that counts instead, detail: its unit",
    "frequency-unreadable": "the text is no frequency; other: the band that counts instead, detail: the header's unit",
    "frequency-outside-bands": "it lies in no amateur band; detail: the header's unit",
    "frequency-other-region": "a note: in MHz it lies outside the band (other) of this ITU region (detail)",
    "band-frequency": "they contradict each other; value: the band, other: the frequency, detail: its unit",
    "power-unreadable": "a note: the text is no power",
    "power-range": "a note: nobody has such a power",
    "duplicate": "a note: another row reports the same reception and is kept (kept_source, kept_line); no value",
    "duplicate-conflict": "the same with another SNR; value: this row's in dB, other: that of the row that is kept",
    "locator-suspect": "well-formed and probably wrong; value: the country where it lies, empty at sea; evidence: why",
    "locator-doubtful": "a note: well-formed and perhaps wrong; value and evidence as with a suspect",
    "receiver-moved": "a note: the receiver reports from another place since; value and evidence as with a suspect",
}


# Those whose values are cells of numbers and bands.
_QUOTING: Final = {
    "snr-unreadable", "snr-range", "power-unreadable", "power-range", "band-unreadable", "frequency-unreadable",
    "frequency-outside-bands", "band-frequency",
}  # fmt: skip


class Finding(NamedTuple):
    """What was found of a value: columns of spots.PROBLEMS."""

    rule: str
    severity: str
    value: str = ""
    other: str = ""
    detail: str = ""
    suggestion: str = ""


_TEXTS: Final = (*Finding._fields, "kept_source")


class _Said(NamedTuple):
    """So many findings by column: what spots.PROBLEMS tells of each beyond the row it is about."""

    findings: int
    texts: Mapping[str, pa.Array]
    kept_line: Ints | None

    def of(self, name: str) -> pa.Array:
        """A column of texts, empty ones where nothing was said."""
        return self.texts[name] if name in self.texts else pa.repeat(pa.scalar("", pa.large_string()), self.findings)

    @property
    def lines(self) -> Ints:
        return np.zeros(self.findings, dtype=np.int64) if self.kept_line is None else self.kept_line


class Ledger:
    """Doubts by row. A row that is closed takes no more of them: what is said of it says enough.

    rejected  bool, shape (rows,): whether a finding rejects the row
    """

    def __init__(self, rows: int) -> None:
        self.rejected: Flags = np.zeros(rows, dtype=bool)
        self._closed: Flags = np.zeros(rows, dtype=bool)
        # Findings are kept once, in a table of those that differ; which row has which of them are two whole numbers. So a
        # file in which every row has the same thing wrong costs no object a row.
        self._rows: list[Ints] = []
        self._which: list[Ints] = []
        self._said: list[_Said] = []
        self._findings = 0  # how many they are

    def part(self) -> Ledger:
        """A ledger of the same rows for one thread, which closes none of them; `take` puts what it says behind what is said here."""
        part = Ledger(0)
        # Both are the same for all parts: a row is only ever rejected, so it matters to nobody who said so first.
        part.rejected, part._closed = self.rejected, self._closed
        return part

    def take(self, part: Ledger) -> None:
        """Add what was said in a part."""
        self._rows += part._rows
        self._which += [which + self._findings for which in part._which]
        self._said += part._said
        self._findings += part._findings

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
        if close:
            self._closed[rows] = True
        said = zip(Finding._fields, zip(*findings, strict=True), strict=True)
        texts = {name: pa.array(column, pa.large_string()) for name, column in said}
        self._note(rows, which, _Said(len(findings), texts, None))

    def add_columns(self, rows: Ints, texts: Mapping[str, pa.Array], kept_line: Ints) -> None:
        """Say of each of very many rows something of its own that rejects none.

        rows : row numbers, shape (k,)
        texts : columns of spots.PROBLEMS, each of k texts; what is missing is empty
        kept_line : shape (k,)
        """
        still = np.flatnonzero(~self._closed[rows])
        self._note(rows[still], still, _Said(len(rows), texts, kept_line))

    def _note(self, rows: Ints, which: Ints, said: _Said) -> None:
        self._rows.append(rows)
        self._which.append(which + self._findings)
        self._said.append(said)
        self._findings += said.findings

    def add_words(self, words: Words, findings: Sequence[Finding | None], rows: Ints | None = None) -> None:
        """Say of rows what is said of their word.

        findings : one a word, None where there is nothing to say
        rows     : of which rows, all where left out
        """
        faulty = np.array([finding is not None for finding in findings], dtype=bool)
        if not faulty.any():
            return
        there = [finding for finding in findings if finding is not None]
        codes = words.codes if rows is None else words.codes[rows]
        here = np.flatnonzero(faulty[codes])
        which = (np.cumsum(faulty) - 1)[codes[here]]
        self.add_each(here if rows is None else rows[here], which, there)

    def rows(self) -> Ints:
        """The row of the raw table that each of the problems is about, in their order."""
        return np.sort(np.concatenate([np.empty(0, dtype=np.int64), *self._rows]), kind="stable")

    def problems(self, raw: pd.DataFrame) -> pd.DataFrame:
        """spots.PROBLEMS: findings in the order of the rows of the raw table, those of one row as they were added."""
        rows = np.concatenate([np.empty(0, dtype=np.int64), *self._rows])
        which = np.concatenate([np.empty(0, dtype=np.int64), *self._which])
        order = np.argsort(rows, kind="stable")
        rows, which = rows[order], which[order]
        texts = {name: self._column(name, which) for name in _TEXTS}
        lines = [np.empty(0, dtype=np.int64), *(said.lines for said in self._said)]
        found = {
            **texts,
            "kept_line": np.concatenate(lines)[which],
            "source": _text(raw, "source", rows),
            "line": raw["line"].to_numpy()[rows],
            "callsign": _text(raw, "rx_call", rows),
            "locator": _text(raw, "rx_locator", rows),
            "evidence": np.full(len(rows), None, dtype=object),
        }
        return _as_written(pd.DataFrame({name: found[name] for name in PROBLEMS}), raw, rows)

    def _column(self, name: str, which: Ints) -> pd.api.extensions.ExtensionArray:
        """What was said under a name of spots.PROBLEMS, finding by finding."""
        all_said = pa.chunked_array([said.of(name) for said in self._said], pa.large_string())
        return pd.array(all_said.take(pa.array(which)), dtype="str")


def no_problems(rows: int) -> pd.DataFrame:
    """spots.PROBLEMS of so many rows in which nothing is filled in yet: empty texts, line 0, no evidence."""
    blank: dict[str, object] = {"str": pd.array([""], dtype="str").take(np.zeros(rows, dtype=np.int64))}
    blank |= {"int64": np.zeros(rows, dtype=np.int64), "object": np.full(rows, None, dtype=object)}
    return pd.DataFrame({name: blank[dtype] for name, (dtype, _) in PROBLEMS.items()})


def _as_written(problems: pd.DataFrame, raw: pd.DataFrame, rows: Ints) -> pd.DataFrame:
    """Cells that were rewritten to be understood are quoted as the file has them."""
    quotes = np.flatnonzero(problems["rule"].isin(_QUOTING))
    rewritten = [name for name in map(str, raw) if name.endswith(WRITTEN)] if len(quotes) else []
    told = problems[["value", "other"]].copy() if rewritten else problems
    for name in rewritten:
        cell = _text(raw, name.removesuffix(WRITTEN), rows[quotes])
        file = _text(raw, name, rows[quotes])
        for column in ("value", "other"):
            same = (told[column].iloc[quotes].to_numpy() == cell.to_numpy()) & file.str.strip().ne("").to_numpy()
            told.loc[quotes[same], column] = file.to_numpy()[same]
    return problems.assign(value=told["value"], other=told["other"]) if rewritten else problems


def _text(raw: pd.DataFrame, name: str, rows: Ints) -> pd.Series:
    """Cells as they came, blank where there are none."""
    column = words(raw, name)
    return pd.Series(column.index.take(column.codes[rows]))


class Problems:
    """What is wrong with rows: spots.PROBLEMS in file order, to be gone through piece by piece. Here all of it is in memory; of a
    collection it is not (archive.problems).
    """

    def __init__(self, table: pd.DataFrame) -> None:
        self._table = table

    @property
    def table(self) -> pd.DataFrame:
        """All of it at once."""
        return self._table

    def __len__(self) -> int:
        return sum(self.counted.values())

    def beside(self, raw: pd.DataFrame, more: pd.DataFrame) -> Problems:
        """These and more of them. raw : rows whose `source` has the files in their order"""
        return Problems(in_file_order(raw, self.table, more))

    def none(self) -> Problems:
        """None of them."""
        return Problems(no_problems(0))

    def parts(self) -> Iterator[pd.DataFrame]:
        """All of it, piece by piece; at least one, which may have no rows."""
        yield self._table

    def head(self, rows: int) -> pd.DataFrame:
        """The first ones, at most so many."""
        found, left = [], rows
        for part in self.parts():
            found.append(part.head(left))
            left -= len(found[-1])
            if not left:
                break
        return pd.concat(found, ignore_index=True) if len(found) > 1 else found[0]

    @cached_property
    def counted(self) -> Mapping[tuple[str, str], int]:
        """How many there are by rule and severity, the most frequent first, then by name."""
        return dict(sorted(self._counts().items(), key=lambda each: (-each[1], each[0])))

    @property
    def rejecting(self) -> dict[str, int]:
        """How often each rule rejected a row, the most frequent first."""
        return {rule: rows for (rule, severity), rows in self.counted.items() if severity == REJECTED}

    def _counts(self) -> Mapping[tuple[str, str], int]:
        sizes = self._table.groupby(["rule", "severity"]).size()
        return dict(zip(sizes.index.tolist(), sizes.tolist(), strict=True))


def in_file_order(raw: pd.DataFrame, *tables: pd.DataFrame) -> pd.DataFrame:
    """Problems from several steps as one table: by file in the order read, then by line."""
    both = pd.concat([table for table in tables if len(table)] or [tables[0]])
    named = pd.Categorical(both["source"], categories=raw["source"].cat.categories).codes
    rank = np.where(named < 0, len(raw["source"].cat.categories), named)
    order = np.lexsort((both["line"].to_numpy(), rank))
    return both.take(order).reset_index(drop=True)


def is_rejected(problems: pd.DataFrame) -> pd.Series:
    """Which problems (spots.PROBLEMS) are of rows that were not accepted."""
    return problems["severity"].astype(str) == REJECTED


def is_duplicate(problems: pd.DataFrame) -> pd.Series:
    """Which problems are of rows that report a reception which another row reports, with the same SNR or another."""
    return problems["rule"].astype(str).str.startswith(DUPLICATE)

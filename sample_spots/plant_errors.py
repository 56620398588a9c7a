"""Make an export messy: take clean rows, plant the errors that people and programs make, and keep a list of them.

Used by make_samples.py. Nothing here is random but the choice of rows, and that comes from the caller's generator.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

# A header in other words than in the tidy files.
HEADER = (
    "Heard by",
    "Grid square",
    "Report (dB)",
    "Date",
    "UTC time",
    "QRG (MHz)",
    "Transmitter",
    "Transmitter grid",
    "Power (W)",
    "Remarks",
)
CALL, GRID, REPORT, DATE, TIME, QRG, _, _, _, REMARKS = HEADER

# What a reader of the file should do with a planted row.
REJECTED = "rejected"  # the row alone shows that it is wrong
SUSPECT = "suspect"  # well formed; only the world or other rows speak against it
DUPLICATE = "duplicate"  # the same report again
CONFLICT = "conflict"  # the same report again with another SNR
HARMLESS = "harmless"  # odd, but there is one way to read it, and it is right

ORIGINAL = "original"  # not an error: the row is repeated further down


@dataclass(frozen=True)
class Error:
    kind: str
    expect: str
    column: str = ""
    planted: str = ""
    truth: str = ""


@dataclass(frozen=True)
class Row:
    """One line of the export as texts by header; who it is about; the error in it, if any; the row it repeats."""

    texts: dict[str, str]
    listener: int
    error: Error | None = None
    repeats: Row | None = field(default=None, repr=False)

    def change(self, kind: str, expect: str, column: str, planted: str, truth: str | None = None) -> Row:
        """This row with one text changed, and the error written down; the truth is the old text unless given."""
        truth = self.texts[column] if truth is None else truth
        return replace(
            self, texts={**self.texts, column: planted}, error=Error(kind, expect, column, planted.strip(), truth)
        )


class Export:
    """The rows of the export, in file order; each can take one error."""

    def __init__(self, rows: list[Row], rng: np.random.Generator) -> None:
        self.rows, self._rng = rows, rng

    def clean(self, wanted: Callable[[Row], bool] = lambda row: True) -> list[int]:
        """Numbers of the rows that have no error yet and are as wanted."""
        return [k for k, row in enumerate(self.rows) if row.error is None and wanted(row)]

    def pick(self, count: int, wanted: Callable[[Row], bool] = lambda row: True) -> list[int]:
        """So many of them by chance, in file order."""
        return sorted(int(k) for k in self._rng.choice(self.clean(wanted), size=count, replace=False))

    def plant(
        self,
        kind: str,
        expect: str,
        column: str,
        wrong: Callable[[str], str],
        *,
        count: int,
        wanted: Callable[[Row], bool] = lambda row: True,
    ) -> None:
        """Change the text of a column in so many rows."""
        for k in self.pick(count, wanted):
            self.rows[k] = self.rows[k].change(kind, expect, column, wrong(self.rows[k].texts[column]))

    def plant_listener(
        self, kind: str, expect: str, column: str, wrong: Callable[[str], str], listener: int, share: float = 1.0
    ) -> None:
        """Change the text of a column in all rows of a listener, or in a share of them (at least one)."""
        mine = self.clean(lambda row: row.listener == listener)
        chosen = mine if share == 1 else self._rng.choice(mine, size=max(1, round(share * len(mine))), replace=False)
        for k in sorted(int(k) for k in chosen):
            self.rows[k] = self.rows[k].change(kind, expect, column, wrong(self.rows[k].texts[column]))

    def repeat(self, kind: str, expect: str, wrong: Callable[[Row], tuple[str, str]], *, count: int) -> None:
        """Write some rows again, a few lines further down, with one text as `wrong` says (column, text)."""
        originals = [self.rows[k] for k in self.pick(count, lambda row: row.repeats is None)]
        for original in originals:
            column, text = wrong(original)
            here = next(k for k, row in enumerate(self.rows) if row is original)
            self.rows[here] = replace(original, error=Error(ORIGINAL, HARMLESS))  # so that it takes no other error
            copy = replace(original.change(kind, expect, column, text), repeats=self.rows[here])
            self.rows.insert(min(len(self.rows), here + int(self._rng.integers(1, 40))), copy)


# ------------------------------------------------------------------------------------------------ one way to be wrong


def swap_pairs(locator: str) -> str:
    return locator[2:4] + locator[:2] + locator[4:]


def letter_for_zero(locator: str) -> str:
    return locator[:2] + locator[2:4].replace("0", "O") + locator[4:]


def letter_for_one(locator: str) -> str:
    return locator[:2] + locator[2:4].replace("1", "I") + locator[4:]


def wide_digits(locator: str) -> str:
    """Digits as an East Asian keyboard may give them: wide, not ASCII."""
    return locator[:2] + "".join(chr(ord(digit) + 0xFEE0) for digit in locator[2:4]) + locator[4:]


def next_letter(letter: str) -> str:
    return chr(ord("a") + (ord(letter) - ord("a") + 5) % 24)


def has_digit(digit: str) -> Callable[[Row], bool]:
    return lambda row: digit in row.texts[GRID][2:4]


def plant_everything(rows: list[Row], listeners: pd.DataFrame, rng: np.random.Generator) -> list[Row]:
    """All errors of the messy export: first whole listeners, then single rows, then repeated rows."""
    export = Export(rows, rng)
    _listeners_with_errors(export, listeners)
    _locator_errors(export)
    _other_errors(export)
    _oddities(export, listeners)
    _repeats(export)
    return export.rows


def _listeners_with_errors(export: Export, listeners: pd.DataFrame) -> None:
    """Errors that only other rows or the map can show, and listeners with longer or shorter locators."""
    reports = pd.Series([row.listener for row in export.rows]).value_counts()

    def one_from(*countries: str, near: int, like: Callable[[str], bool] = bool) -> int:
        """The listener in these countries, with such a locator, whose number of reports is nearest to that."""
        place, grid = listeners["country"], listeners["locator"]
        fitting = [k for k in reports.index if place.iloc[k] in countries and like(grid.iloc[k])]
        return min(fitting, key=lambda k: (abs(reports[k] - near), k))

    pacific = one_from("DE", near=20)
    once = export.pick(1, lambda row: row.listener == pacific)[0]
    row = export.rows[once]
    export.rows[once] = row.change("locator-field-once", SUSPECT, GRID, "RE" + row.texts[GRID][2:])
    always = one_from("FR", "IT", near=5)
    export.plant_listener("locator-field-always", SUSPECT, GRID, lambda text: text[0] + "F" + text[2:], always)
    lender = str(listeners["locator"].iloc[one_from("FR", "BE", near=25)])
    export.plant_listener(
        "locator-borrowed", SUSPECT, GRID, lambda _: lender, one_from("ES", "PT", "GR", "TR", near=15)
    )
    typist = one_from("GB", "IE", "NL", near=40)
    export.plant_listener(
        "locator-subsquare", SUSPECT, GRID, lambda text: text[:4] + next_letter(text[4]) + text[5], typist, share=0.3
    )
    export.plant_listener(
        "locator-four-characters",
        REJECTED,
        GRID,
        lambda text: text[:4],
        one_from("SE", "FI", "NO", "DK", "EE", "LT", "PL", near=6),
    )
    export.plant_listener(
        "locator-eight-characters", HARMLESS, GRID, lambda text: text + "57", one_from("CH", "AT", "CZ", near=12)
    )
    swapper = one_from("US", "CA", near=15, like=lambda text: abs(int(text[2]) - int(text[3])) >= 3)
    export.plant_listener(
        "locator-digits-swapped", SUSPECT, GRID, lambda t: t[:2] + t[3] + t[2] + t[4:], swapper, share=0.15
    )


def _locator_errors(export: Export) -> None:
    """Locators that are none, each with the error that people make."""
    export.plant("locator-blank", REJECTED, GRID, lambda _: "", count=4)
    export.plant("locator-letter-o", REJECTED, GRID, letter_for_zero, count=3, wanted=has_digit("0"))
    export.plant("locator-letter-i", REJECTED, GRID, letter_for_one, count=2, wanted=has_digit("1"))
    export.plant("locator-swapped-pairs", REJECTED, GRID, swap_pairs, count=3)
    export.plant("locator-beyond-r", REJECTED, GRID, lambda text: "S" + text[1:], count=1)
    export.plant("locator-beyond-x", REJECTED, GRID, lambda text: text[:5] + "y", count=2)
    export.plant("locator-short", REJECTED, GRID, lambda text: text[:3], count=1)
    export.plant("locator-five-characters", REJECTED, GRID, lambda text: text[:5], count=1)
    export.plant("locator-not-ascii", REJECTED, GRID, wide_digits, count=1)


def _other_errors(export: Export) -> None:
    """Reports, times, frequencies and callsigns that cannot be."""
    export.plant("snr-blank", REJECTED, REPORT, lambda _: "", count=1)
    export.plant("snr-no-number", REJECTED, REPORT, lambda _: "n/a", count=2)
    export.plant("snr-impossible", REJECTED, REPORT, lambda text: "-1" + text[1:].rjust(2, "4"), count=1)
    export.plant("snr-signal-report", REJECTED, REPORT, lambda _: "599", count=1)
    export.plant("date-future", REJECTED, DATE, lambda text: text.replace("2026", "2030"), count=1)
    export.plant("date-long-ago", REJECTED, DATE, lambda text: text.replace("2026", "1926"), count=1)
    export.plant("date-impossible", REJECTED, DATE, lambda _: "31.06.2026", count=1)
    export.plant("time-impossible", REJECTED, TIME, lambda text: "25" + text[2:], count=1)
    export.plant("time-blank", REJECTED, TIME, lambda _: "", count=1)
    export.plant("frequency-outside-bands", REJECTED, QRG, lambda text: "12,3" + text[-4:], count=1)
    export.plant("frequency-in-khz", REJECTED, QRG, lambda text: f"{float(text.replace(',', '.')) * 1000:.0f}", count=1)
    export.plant("callsign-blank", REJECTED, CALL, lambda _: "", count=1)
    export.plant("callsign-unreadable", REJECTED, CALL, lambda _: "?", count=1)


def _oddities(export: Export, listeners: pd.DataFrame) -> None:
    """Texts that look untidy and still say one thing."""

    def local_time(text: str) -> str:
        return f"{int(text[:2]) + 1:02}{text[2:]}+01:00"

    def british_day(row: Row) -> bool:  # an hour on is the same day, and there it is summer time
        at_home = listeners["country"].iloc[row.listener] in ("GB", "IE", "PT")
        return at_home and 10 <= int(row.texts[TIME][:2]) < 20

    export.plant("time-local", HARMLESS, TIME, local_time, count=3, wanted=british_day)
    export.plant("case-locator", HARMLESS, GRID, str.upper, count=40)
    export.plant("case-locator", HARMLESS, GRID, str.lower, count=20)
    export.plant("case-callsign", HARMLESS, CALL, str.lower, count=25)
    export.plant("spaces", HARMLESS, CALL, "  {} ".format, count=4)
    export.plant("spaces", HARMLESS, GRID, " {} ".format, count=4)
    export.plant("snr-with-unit", HARMLESS, REPORT, "{} dB".format, count=4)
    export.plant("snr-decimal-comma", HARMLESS, REPORT, "{},0".format, count=3)
    export.plant("remark-two-lines", HARMLESS, REMARKS, lambda _: "deep fading,\ngone a minute later", count=2)
    export.plant("remark-semicolon", HARMLESS, REMARKS, lambda _: "weak; fluttery", count=2)
    export.plant("remark-quotes", HARMLESS, REMARKS, lambda _: 'heard on the "big" loop', count=1)


def _repeats(export: Export) -> None:
    """Rows that were exported twice."""

    def other_report(row: Row) -> tuple[str, str]:
        return REPORT, str(int(row.texts[REPORT]) + (3 if row.listener % 2 else -2))

    export.repeat("duplicate", DUPLICATE, lambda row: (CALL, row.texts[CALL]), count=12)
    export.repeat("duplicate-other-case", DUPLICATE, lambda row: (CALL, row.texts[CALL].lower()), count=2)
    export.repeat("duplicate-other-snr", CONFLICT, other_report, count=5)


# ---------------------------------------------------------------------------------------------------------- writing


def write(rows: list[Row]) -> tuple[bytes, pd.DataFrame]:
    """The export as a program on a Central European desktop writes it, and the list of its errors.

    UTF-8 with BOM, semicolons, CRLF. A quoted remark may hold a line feed: the line of a row is the one it starts on,
    the header being line 1.
    Returns the bytes, and one row an error in file order: line, callsign (as it should be), kind, column, planted,
    truth, expect.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, delimiter=";", lineterminator="\r\n")
    writer.writerow(HEADER)
    line_of, line = {}, 2
    for row in rows:
        line_of[id(row)] = line
        cells = [row.texts[name] for name in HEADER]
        writer.writerow(cells)
        line += 1 + sum(cell.count("\n") for cell in cells)
    errors = []
    for row in rows:
        error = row.error
        if error is None or error.kind == ORIGINAL:
            continue
        truth = f"line {line_of[id(row.repeats)]}" if error.expect == DUPLICATE else error.truth
        call = error.truth if error.column == CALL else row.texts[CALL]
        errors.append((line_of[id(row)], call, error.kind, error.column, error.planted, truth, error.expect))
    columns = ["line", "callsign", "kind", "column", "planted", "truth", "expect"]
    return b"\xef\xbb\xbf" + text.getvalue().encode(), pd.DataFrame(errors, columns=columns)

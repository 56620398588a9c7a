"""What a column holds, on rows taken at even steps: the shares of its cells that are a locator, a date, a number and so on.

Every test looks at distinct cells only, and a kind that the first of them show nothing of is not looked for in the rest.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.base import bands
from reach.read import cells, dates, lexicon

MOST_ROWS: Final = 2000
_FEW_ROWS: Final = 300
_FIRST_LOOK: Final = 60
_MANY: Final = 300  # distinct cells are looked at no further, at even steps: shares within two hundredths
Floats = npt.NDArray[np.float64]

_OLD_DAYS: Final = re.compile(
    r"(?:1899-12-3[01]|1900-01-0[01]|1970-01-01|30[./]12[./]1899|31[./]12[./]1899|12/30/1899)\b.*"
)


def is_old_day(text: str) -> bool:
    """Whether a text begins with a day on which spreadsheets keep a clock that has no date."""
    return _OLD_DAYS.fullmatch(text.strip()) is not None


def _is_moment(text: str) -> bool:
    return dates.stamp(text) is not None


def _is_clock(text: str) -> bool:
    return dates.clock(text, ("colon", "hour")) is not None


def _is_dotted(text: str) -> bool:
    return dates.clock(text, ("dotted",)) is not None


def _is_digits(text: str) -> bool:
    return dates.clock(text, ("digits",)) is not None


def _is_call(text: str) -> bool:
    return cells.is_callsign(text)


def _is_identifier(text: str) -> bool:
    return cells.is_callsign(text) or cells.is_listener(text)


@lru_cache(4096)
def _number_in(text: str) -> cells.Number | None:
    """The number a cell says: every test of numbers asks it of the same cells."""
    return cells.number(text)


def _in_band(unit: str) -> Callable[[str], bool]:
    def holds(text: str) -> bool:
        said = _number_in(text)
        own = said.unit if said and said.unit in ("hz", "khz", "mhz", "ghz") else unit
        return bool(said and said.value > 0 and bands.band_anywhere(cells.megahertz(said.value, own)))

    return holds


def _number(test: Callable[[cells.Number], bool]) -> Callable[[str], bool]:
    def holds(text: str) -> bool:
        said = _number_in(text)
        return said is not None and test(said)

    return holds


_TESTS: Final[dict[str, Callable[[str], bool]]] = {
    "locator": cells.is_locator,
    "locator6": lambda text: len(text) >= 6 and cells.is_locator(text),
    "call": _is_call,
    "identifier": _is_identifier,
    "moment": _is_moment,
    "date": lambda text: dates.day(text) is not None,
    "clock": _is_clock,
    "dotted": _is_dotted,
    "digits": _is_digits,
    "old day": lambda text: is_old_day(text) and _is_moment(text),
    "number": lambda text: _number_in(text) is not None,
    "epoch": _number(lambda said: not said.unit and dates.epoch_us(said.value) is not None),
    "serial": _number(lambda said: not said.unit and dates.is_serial(said.value)),
    "fraction of a day": _number(lambda said: not said.unit and 0 <= said.value < 1 and len(said.digits) > 2),
    "band": lambda text: cells.band(text) is not None,
    **{f"in band {unit}": _in_band(unit) for unit in ("hz", "khz", "mhz", "ghz")},
}  # fmt: skip


@dataclass(frozen=True)
class Profile:
    """One column of a table.

    name  its header as in the file; "" where it has none
    at    its position, from 0
    raw   cells of the rows that are looked at, as in the file
    """

    name: str
    at: int
    raw: Sequence[str]

    @cached_property
    def rows(self) -> tuple[str, ...]:
        """The cells, tidy, blank ones included."""
        return tuple(map(cells.tidy, self.raw))

    @cached_property
    def thinned(self) -> Profile:
        """The same on fewer rows, where only what is plain is looked for."""
        step = -(-len(self.raw) // _FEW_ROWS) if self.raw else 1
        return Profile(self.name, self.at, self.raw[::step])

    @cached_property
    def counts(self) -> Counter[str]:
        """How often each cell that is not blank comes."""
        return Counter(text for text in self.rows if text)

    @cached_property
    def filled(self) -> int:
        """How many cells are not blank."""
        return sum(self.counts.values())

    @cached_property
    def _looked_at(self) -> list[tuple[str, int]]:
        all_of_them = list(self.counts.items())
        step = -(-len(all_of_them) // _MANY) if all_of_them else 1
        return all_of_them[::step]

    @cached_property
    def _shares(self) -> dict[str, float]:
        return {}

    def share(self, kind: str) -> float:
        """The share of cells that are of a kind, a key of _TESTS; 0 in an empty column."""
        if kind not in self._shares:
            test, looked_at = _TESTS[kind], self._looked_at
            some = any(test(text) for text, _ in looked_at[:: max(1, len(looked_at) // _FIRST_LOOK)])
            hits = sum(count for text, count in looked_at if test(text)) if some else 0
            self._shares[kind] = hits / max(sum(count for _, count in looked_at), 1)
        return self._shares[kind]

    @cached_property
    def values(self) -> Floats:
        """The numbers of the rows, NaN where a cell is none; shape (rows,)."""
        said = {text: cells.number(text) for text in self.counts}
        known = {text: found.value for text, found in said.items() if found}
        return np.array([known.get(text, np.nan) for text in self.rows], dtype=np.float64)

    @cached_property
    def numbers(self) -> Floats:
        """The same without NaN; a column in which hardly a cell is a number has none."""
        return self.values[~np.isnan(self.values)] if self.share("number") > 0.3 else np.empty(0)

    @cached_property
    def cell_units(self) -> Counter[str]:
        """How often each unit stands behind a number, "" where there is none."""
        found: Counter[str] = Counter()
        for text, count in self.counts.items():
            said = cells.number(text)
            if said:
                found[said.unit] += count
        return found

    @cached_property
    def unit(self) -> str:
        """The unit of most cells; "" where most name none."""
        top = self.cell_units.most_common(1)
        return top[0][0] if top else ""

    @cached_property
    def significant(self) -> float:
        """The median number of digits of its numbers."""
        said = [cells.number(text) for text, _ in self._looked_at]
        return float(np.median([len(found.digits.lstrip("0")) for found in said if found] or [0]))

    @cached_property
    def decimals(self) -> bool:
        """Whether some number is not whole."""
        return bool((self.numbers != np.round(self.numbers)).any())

    @cached_property
    def leanings(self) -> dict[str, float]:
        """What its header leans towards (lexicon)."""
        return lexicon.leanings(self.name) if self.name else {}

    @cached_property
    def header_units(self) -> set[str]:
        """The units that its header names."""
        return lexicon.units(self.name)

    def lean(self, *kinds: str) -> float:
        """The largest leaning of its header towards one of these kinds."""
        return max((self.leanings.get(kind, 0.0) for kind in kinds), default=0.0)

    @property
    def example(self) -> str:
        """Its first cell that is not blank, "" where all are."""
        return next(iter(self.counts), "")


def profiles(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[Profile]:
    """The columns of a table.

    names : headers, "" where there is none
    rows  : the rows, all as wide as `names`; at most MOST_ROWS of them are looked at, at even steps
    """
    step = -(-len(rows) // MOST_ROWS) if rows else 1
    some = rows[::step]
    return [Profile(name, at, [row[at] for row in some]) for at, name in enumerate(names)]

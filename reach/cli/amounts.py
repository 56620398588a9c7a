"""Numbers as options: each finite and within what the trade can mean, checked once where they enter."""

from __future__ import annotations

import math
from typing import Any, Final

import click

_MOST_DIGITS: Final = 40  # of a number on the command line: beyond that it is a slip, and some are slow to read


class Amount(click.ParamType):
    """A number from `low` to `high`, both included; `whole`: without decimals. Anything else is one sentence with the range."""

    name = "number"

    def __init__(self, low: float, high: float, *, whole: bool = False) -> None:
        self.low, self.high, self.whole = low, high, whole

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float | int:
        number = self._number(value)
        if number is None or not self.low <= number <= self.high:
            kind = "whole number" if self.whole else "number"
            shown = repr(value) if len(str(value)) <= _MOST_DIGITS else f"{str(value)[:_MOST_DIGITS]!r}..."
            self.fail(f"{shown} is no {kind} from {_plain(self.low)} to {_plain(self.high)}", param, ctx)
        return number

    def _number(self, value: Any) -> float | int | None:
        if isinstance(value, str) and len(value) > _MOST_DIGITS:
            return None
        try:
            number = int(value) if self.whole else float(value)
        except (ValueError, OverflowError):
            return None
        return number if math.isfinite(number) else None

    def __repr__(self) -> str:
        return f"Amount({self.low:g}, {self.high:g})"


def _plain(value: float) -> str:
    return f"{value:,.0f}" if value == int(value) else f"{value:g}"


WATT: Final = Amount(1e-9, 100_000)
MHZ: Final = Amount(0.001, 300_000)
METRES: Final = Amount(0, 1_000_000)
OHM: Final = Amount(-1e7, 1e7)
DB: Final = Amount(-200, 200)
SWR: Final = Amount(1, 100_000)
MINUTES: Final = Amount(0.1, 1440)

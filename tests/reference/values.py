"""The published check values beside this file, by id. Each row names its source and how it was verified."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

Row = dict[str, str]


@cache
def rows() -> dict[str, Row]:
    with (Path(__file__).parent / "check_values.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: row for row in csv.DictReader(file)}


def numbers(id: str) -> list[float]:
    """The expected values of a row as numbers, separated by semicolons in the file."""
    return [degrees(part) for part in rows()[id]["expected"].split(";")]


def degrees(text: str) -> float:
    """A number, or degrees minutes seconds, as decimal degrees."""
    parts = [float(part) for part in text.split()]
    sign = -1.0 if text.strip().startswith("-") else 1.0
    return sign * sum(abs(part) / 60**k for k, part in enumerate(parts))

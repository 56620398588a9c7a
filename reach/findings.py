"""What one walk yields: the tables and findings that pictures, page and slides are made from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

    from reach.compare.comparison import Comparison
    from reach.measure.tally import Tally
    from reach.radio.power import Budget
    from reach.study import Study


@dataclass(frozen=True)
class Counts:
    """Where every row went. read == accepted + rejected + duplicates, always."""

    read: int
    accepted: int
    rejected: int
    duplicates: int

    def __post_init__(self) -> None:
        if self.read != self.accepted + self.rejected + self.duplicates:
            raise AssertionError(f"rows were lost: {self}")

    def __add__(self, other: Counts) -> Counts:
        return Counts(
            self.read + other.read,
            self.accepted + other.accepted,
            self.rejected + other.rejected,
            self.duplicates + other.duplicates,
        )


@dataclass(frozen=True)
class InputFile:
    """One input as the manifest names it: base name, SHA-256 of its bytes, rows read, headers not used."""

    name: str
    sha256: str
    rows: int
    unused_headers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Findings:
    """Everything that one walk found. Tables as `spots.py` describes them.

    study       what was asked
    inputs      the files behind it
    counts      read = accepted + rejected + duplicates
    spots       accepted rows, placed (spots.SPOT + spots.PLACED), with the day and night (place.daylight.DAYLIGHT)
    problems    spots.PROBLEMS, in file order
    suspects    one row a distinct suspect (rx_call, rx_locator); vet.suspects.SUSPECTS, heaviest first
    receivers   spots.RECEIVERS, one row a distinct (rx_call, rx_locator)
    paths       spots.PATHS
    tally       counts that can be added
    summary     the documented content of summary.json
    comparison  two setups compared, or None where none was asked for
    budgets     power at the antenna, by (setup, band); missing where the study does not say enough
    fixed_rows  rows whose locator was replaced on the user's word
    notes       sentences the user should read once: fixes that match nothing, spots outside every session, ...
    """

    study: Study
    inputs: tuple[InputFile, ...]
    counts: Counts
    spots: pd.DataFrame
    problems: pd.DataFrame
    suspects: pd.DataFrame
    receivers: pd.DataFrame
    paths: pd.DataFrame
    tally: Tally
    summary: dict[str, Any]
    comparison: Comparison | None = None
    budgets: dict[tuple[str, str], Budget] = field(default_factory=dict)
    fixed_rows: int = 0
    notes: tuple[str, ...] = ()

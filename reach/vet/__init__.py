"""Rules for one row, duplicates, corrections that the user approved, and the ledger of every row."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from reach.study import Options, Station
    from reach.vet.rules import Vetted


def vet(
    raw: pd.DataFrame,
    *,
    station: Station | None = None,
    options: Options | None = None,
    now: datetime | None = None,
) -> Vetted:
    """Judge each row of a raw table.

    raw : as `read` returns it: text columns, source, line
    station : fills in the transmitter's callsign, locator and power where a row is silent
    options : ITU region, four-character locators, day or month first
    now : no spot may be later; the clock's time where left out
    Returns Vetted: .spots (spots.SPOT), .problems (spots.PROBLEMS), .counts. InputError where the order of day and month
    cannot be told; LocatorError where the station's own locator is none.
    """
    from reach.vet import rules

    return rules.vet(raw, station=station, options=options, now=now)

"""Rules for one row, duplicates, corrections that the user approved, and the ledger of every row."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from reach.read.times import Moments
    from reach.study import Options, Station
    from reach.vet.fixes import Fix
    from reach.vet.rules import Vetted


def vet(
    raw: pd.DataFrame,
    *,
    station: Station | None = None,
    options: Options | None = None,
    now: datetime | None = None,
    fixes: Sequence[Fix] = (),
    moments: Moments | None = None,
) -> Vetted:
    """Judge each row of a raw table.

    raw : as `read` returns it: text columns, source, line
    station : fills in the transmitter's callsign, locator and power where a row is silent
    options : ITU region, four-character locators, day or month first
    now : no spot may be later; the clock's time where left out
    fixes : locators to replace first, as `reach.vet.fixes.read` returns them
    moments : the times of this very table, where `reach.read.times.moments` has read them already
    Returns Vetted: .spots (spots.SPOT), .problems (spots.PROBLEMS: codes and values, which
    reach.tell.sentences.problems puts into words), .counts. InputError where the order of day and month cannot be told;
    LocatorError where the station's own locator is none.
    """
    from reach.vet import fixes as corrections
    from reach.vet import rules

    mended, _ = corrections.apply(raw, fixes)
    return rules.vet(mended, station=station, options=options, now=now, moments=moments)

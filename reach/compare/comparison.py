"""Compare two setups: the steps of the method in their order, from a table of spots to a Comparison."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

import pandas as pd

from reach.assign import schedule as schedules
from reach.compare import by_days, checks, details, estimate, facts, headline, labels, wording
from reach.compare.checks import Refusal
from reach.compare.data import Data, gather
from reach.compare.result import Comparison
from reach.errors import CompareError

STRONGEST_POWER_DB: Final = 60.0


def compare(
    spots: pd.DataFrame,
    a: str,
    b: str,
    *,
    schedule: pd.DataFrame | str | Path | None = None,
    power_difference_db: float | None = 0.0,
    control: pd.DataFrame | None = None,
    decoding_limit_db: float | None = None,
) -> Comparison:
    """Compare two setups.

    spots : any table with time_utc, rx_call, rx_locator, snr_db, band and setup; `mode` keeps modes apart;
        distance_km and bearing_deg, or tx_locator, and mid_day_night allow the breakdown
    a, b : names of the setups; with both on the air at once also two callsigns of tx_call or two frequencies in MHz
    schedule : transmit schedule with start, end, setup (a table or a CSV file); replaces `setup`
    power_difference_db : power of A minus power of B at the antenna [dB], taken off; None: not known, not taken off
    control : spots of another station in the same period whose setup did not change; same columns, `setup` not needed
    decoding_limit_db : the weakest report that can be decoded [dB in 2500 Hz], where it is known
    Returns Comparison; its verdict is `cannot tell`, with reasons, where the design cannot tell. CompareError where
    the question itself is wrong; StudyError for a schedule file with a mistake.
    """
    if power_difference_db is not None and not abs(power_difference_db) <= STRONGEST_POWER_DB:
        raise CompareError(f"a power difference is a number of dB within +-60, not {power_difference_db!r}")
    if control is not None:
        labels.needed(control, "the control station's spots need")
    rows = schedules.read(schedule) if isinstance(schedule, (str, Path)) else schedule
    labelled = labels.label(spots, a, b, rows)
    refusal = checks.unheard(a, b, int(labelled.is_a.sum()), int((~labelled.is_a).sum()))
    if refusal is not None:
        return _said(headline.refused(facts.nothing(labelled, a, b, power_difference_db), refusal))
    data = gather(labelled, a, b, power_difference_db or 0.0, decoding_limit_db)
    base = replace(facts.known(data), power_difference_db=power_difference_db)
    return _said(_judged(data, base, control))


def _judged(data: Data, base: Comparison, control: pd.DataFrame | None) -> Comparison:
    refusal = checks.confounded(data.a, data.b, data.design, facts.naive_db(data.reports))
    if refusal is not None:
        daily = by_days.by_days(data, base, control)
        return daily if daily is not None else headline.refused(base, refusal)
    found = estimate.fit(data.reports, data.limit, data.design, data.power_db)
    enough = headline.enough(data, found)
    if isinstance(enough, Refusal) or found is None:
        return headline.refused(headline.with_fit(base, found), enough)
    told, refusal = headline.without_heavy(data, headline.told(data, base, found, enough), found)
    if refusal is not None:
        return headline.refused(told, refusal)
    return details.detailed(data, told, found, control)


def _said(found: Comparison) -> Comparison:
    return replace(found, sentences=wording.sentences(found))

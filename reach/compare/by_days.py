"""The headline of setups that changed from day to day only: with a control station, or many days in turn."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from reach.compare import checks, daily, effort, facts, headline, labels, result
from reach.compare import control as control_station
from reach.compare.daily import Daily
from reach.compare.data import Data
from reach.compare.reports import Reports
from reach.compare.result import Comparison


def by_days(data: Data, base: Comparison, control: pd.DataFrame | None) -> Comparison | None:
    """Setups that change from day to day only: with a control station, or many days in turn."""
    theirs = labels.like(control, data.labelled.spots, data.cleaned) if control is not None else None
    found = _with_control(data, theirs) if theirs is not None else None
    if found is not None:
        note = "It assumes that the paths from the control station moved as this station's did."
        return _told(data, base, found, "before and after with control", (note,))
    found = daily.alternating_days(data.reports, data.limit, data.design, data.power_db)
    if found is None or found.slope > checks.AT_FLOOR_SLOPE or found.kept_share < checks.AT_FLOOR_KEPT:
        return None
    return _told(data, base, found, "days alternate", ())


def _with_control(data: Data, theirs: Reports) -> Daily | None:
    return control_station.with_control(data.reports, data.limit, theirs, data.power_db)


def _told(data: Data, base: Comparison, found: Daily, kind: str, notes: tuple[str, ...]) -> Comparison:
    low, high = found.low_db, found.high_db
    quick = effort.half_width_db(False, 10.0, max(found.receivers, 3), 8.0)
    cost = (
        f"Days are what counts here: +-{(high - low) / 2:.1f} dB from {found.days_a + found.days_b} days, where "
        f"one day of 10-minute blocks with as many receivers gives about +-{quick:.1f} dB."
    )
    return replace(
        base,
        verdict=headline.verdict_of(low, high),
        difference_db=found.difference_db,
        low_db=low,
        high_db=high,
        interval_for=result.DAYS,
        next_steps=(checks.ALTERNATE,) if high - low > 2 * headline.WANTED_DB else (),
        warnings=(cost,),
        notes=(*base.notes, *notes),
        pairs=found.reports,
        receivers=found.receivers,
        blocks=found.days_a + found.days_b,
        equal_within_db=headline.equal_within_db(low, high),
        kept=found.kept_share,
        floor_slope=found.slope,
        design=facts.design_of(data, kind),
    )

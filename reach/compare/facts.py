"""What can be said of two setups whatever the verdict: counts, the design, who heard what, the naive difference."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from reach.compare import result, tables
from reach.compare.data import Data
from reach.compare.design import Design
from reach.compare.labels import Labelled
from reach.compare.reports import Reports
from reach.compare.result import CANNOT_TELL, Comparison
from reach.compare.variance import CONFIDENCE

MANY_DUPLICATES: Final = 0.02


def nothing(labelled: Labelled, a: str, b: str, power_db: float | None) -> Comparison:
    """A Comparison that cannot tell, with the counts of the rows and nothing else."""
    spots_a = int(labelled.is_a.sum())
    return Comparison(
        a=a,
        b=b,
        verdict=CANNOT_TELL,
        difference_db=None,
        low_db=None,
        high_db=None,
        confidence=CONFIDENCE,
        interval_for=None,
        reasons=(),
        next_steps=(),
        warnings=(),
        notes=(),
        spots=len(labelled.is_a),
        spots_a=spots_a,
        spots_b=len(labelled.is_a) - spots_a,
        pairs=0,
        receivers=0,
        blocks=0,
        left_out=labelled.left_out,
        design=None,
        power_difference_db=power_db,
        naive_difference_db=None,
        heard=result.Heard((), (), ()),
    )


def known(data: Data) -> Comparison:
    """What can be said whatever the verdict."""
    r = data.reports
    rows = tables.by_receiver(r, data.who, None)
    left_out = dict(data.labelled.left_out)
    if data.cleaned.duplicates:
        left_out["duplicates"] = data.cleaned.duplicates
    return replace(
        nothing(data.labelled, data.a, data.b, data.power_db),
        spots=len(r),
        spots_a=int(r.is_a.sum()),
        spots_b=int((~r.is_a).sum()),
        notes=_notes(data),
        left_out=left_out,
        design=design_of(data, kind_of(data.design)),
        naive_difference_db=naive_db(r),
        heard=tables.heard(rows),
        near_limit=float(np.mean(r.snr_db < data.limit.floor_db)),
        by_receiver=rows,
        by_block=tables.by_block(r, data.design, None, (data.a, data.b), data.cleaned.start_us),
    )


def naive_db(r: Reports) -> float:
    """Mean report of A minus mean report of B, not corrected for anything."""
    return float(r.snr_db[r.is_a].mean() - r.snr_db[~r.is_a].mean())


def kind_of(design: Design) -> str:
    """The design in a word."""
    if design.simultaneous:
        return "simultaneous"
    return "confounded" if design.confounded else "alternating"


def design_of(data: Data, kind: str) -> result.Design:
    """The design as the result shows it."""
    r, d = data.reports, data.design
    start = data.cleaned.start_us
    return result.Design(
        kind=kind,
        period_min=d.period_min if np.isfinite(d.period_min) else None,
        within_min=d.within_min,
        stretches_a=d.runs_a,
        stretches_b=d.runs_b,
        overlap=tables.overlap(r, 0.0 if d.simultaneous else d.within_min),
        hours=len(np.unique(np.floor(r.time_min / 10))) / 6,
        days=len(np.unique(np.floor(r.time_min / 1440))),
        first_utc=tables.iso(start, float(r.time_min.min())),
        last_utc=tables.iso(start, float(r.time_min.max())),
        told_by=data.labelled.told_by,
    )


def _notes(data: Data) -> tuple[str, ...]:
    said = []
    if np.isfinite(data.limit.ceiling_db):
        said.append(f"Reports above {data.limit.ceiling_db:.0f} dB are saturated and were not used.")
    share = data.cleaned.duplicates / max(len(data.labelled.is_a), 1)
    if share > MANY_DUPLICATES:
        said.append(
            f"{100 * share:.0f} % of the rows repeated a receiver's report of one transmission; the strongest stayed."
        )
    return tuple(said)

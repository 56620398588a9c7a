"""The evidence: cleaned reports with their limits, their design and who heard them; and what can be said of it whatever
the verdict."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from reach.compare import comparison, labels, places, tables
from reach.compare import design as designs
from reach.compare import limit as limits
from reach.compare.comparison import Comparison, DesignKind, LeftOut, Note, Remark
from reach.compare.design import Alternation
from reach.compare.labels import Labelled
from reach.compare.limit import Limits
from reach.compare.reports import Cleaned, Floats, Reports

MANY_DUPLICATES: Final = 0.02


@dataclass(frozen=True)
class Evidence:
    """What every step works on, all of the same reports.

    a, b      names of the setups
    labelled  the rows of the table behind it; cleaned : the reports made of them
    who       as `places.receivers` gives it, row = receiver number
    limit     between which levels reports are complete
    design    how the setups took turns
    """

    a: str
    b: str
    labelled: Labelled
    cleaned: Cleaned
    who: pd.DataFrame
    limit: Limits
    design: Alternation

    @property
    def reports(self) -> Reports:
        return self.cleaned.reports

    @property
    def spots(self) -> pd.DataFrame:
        """The rows of the table behind the reports, in their order."""
        return self.labelled.spots.iloc[self.cleaned.row]


def gather(labelled: Labelled, a: str, b: str, power_db: Floats, decoding_limit_db: float | None) -> Evidence:
    """Everything that the rows of A and B are evidence for. Needs rows of both.

    power_db : power of each of the labelled rows above a common reference, taken off [dB]; others as `compare` has them
    """
    code, who = places.receivers(labelled.spots)
    cleaned = labels.cleaned(labelled.spots, labelled.is_a, code, power_db=power_db)
    mode = labels.channels(labelled.spots)[1][cleaned.row]
    slots = None
    if labelled.slots is not None:
        slots = (labelled.slots[0] - cleaned.start_us) / 60e6, labelled.slots[1]
    return Evidence(
        a,
        b,
        labelled,
        cleaned,
        who,
        limits.limits(cleaned.reports, mode, decoding_limit_db),
        designs.alternation(cleaned.reports, slots),
    )


def nothing(labelled: Labelled, a: str, b: str) -> Comparison:
    """A Comparison that cannot tell, with the counts of the rows and nothing else."""
    spots_a = int(labelled.is_a.sum())
    return comparison.cannot_tell(a, b, spots=(spots_a, len(labelled.is_a) - spots_a), left_out=labelled.left_out)


def known(evidence: Evidence) -> Comparison:
    """What can be said whatever the verdict."""
    r = evidence.reports
    rows = tables.by_receiver(r, evidence.who, None)
    left_out = dict(evidence.labelled.left_out)
    if evidence.cleaned.duplicates:
        left_out[LeftOut.DUPLICATE] = evidence.cleaned.duplicates
    return replace(
        nothing(evidence.labelled, evidence.a, evidence.b),
        spots=len(r),
        spots_a=int(r.is_a.sum()),
        spots_b=int((~r.is_a).sum()),
        notes=_notes(evidence),
        left_out=left_out,
        design=design_of(evidence, kind_of(evidence.design)),
        naive_difference_db=naive_db(r),
        heard=tables.heard(rows),
        near_limit=float(np.mean(r.snr_db < evidence.limit.threshold_db)),
        by_receiver=rows,
        by_block=tables.by_block(r, evidence.design, None, (evidence.a, evidence.b), evidence.cleaned.start_us),
    )


def naive_db(r: Reports) -> float:
    """Mean report of A minus mean report of B, not corrected for anything."""
    return float(r.snr_db[r.is_a].mean() - r.snr_db[~r.is_a].mean())


def kind_of(design: Alternation) -> DesignKind:
    """What kind of design it is, as far as changes from block to block go."""
    if design.simultaneous:
        return DesignKind.SIMULTANEOUS
    return DesignKind.CONFOUNDED if design.confounded else DesignKind.ALTERNATING


def design_of(evidence: Evidence, kind: DesignKind) -> comparison.Design:
    """The design as the result shows it."""
    r, d = evidence.reports, evidence.design
    start = evidence.cleaned.start_us
    return comparison.Design(
        kind=kind,
        period_min=d.period_min if np.isfinite(d.period_min) else None,
        within_min=d.within_min,
        stretches_a=d.runs_a,
        stretches_b=d.runs_b,
        overlap=designs.overlap(r, 0.0 if d.simultaneous else d.within_min),
        bands=None if d.turns is None else d.turns.bands,
        stay_min=None if d.turns is None else d.turns.stay_min,
        return_min=None if d.turns is None else d.turns.return_min,
        hours=designs.on_air_min(r.time_min) / 60,
        days=len(np.unique(np.floor(r.time_min / 1440))),
        first_utc=tables.iso(start, float(r.time_min.min())),
        last_utc=tables.iso(start, float(r.time_min.max())),
        told_by=evidence.labelled.told_by,
    )


def _notes(evidence: Evidence) -> tuple[Remark, ...]:
    said = []
    if np.isfinite(evidence.limit.ceiling_db):
        said.append(Remark(Note.SATURATED, {"ceiling_db": evidence.limit.ceiling_db}))
    share = evidence.cleaned.duplicates / max(len(evidence.labelled.is_a), 1)
    if share > MANY_DUPLICATES:
        said.append(Remark(Note.REPEATED, {"share": share}))
    return tuple(said)

"""What every step of the comparison works on: cleaned reports with their limits, their design and who heard them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from reach.compare import design as designs
from reach.compare import floor, labels
from reach.compare.design import Design
from reach.compare.floor import Limits
from reach.compare.labels import Labelled
from reach.compare.reports import Cleaned, Reports


@dataclass(frozen=True)
class Data:
    """What every step works on; all of the same reports."""

    a: str
    b: str
    labelled: Labelled
    cleaned: Cleaned
    who: pd.DataFrame
    limit: Limits
    design: Design
    power_db: float

    @property
    def reports(self) -> Reports:
        return self.cleaned.reports

    @property
    def spots(self) -> pd.DataFrame:
        """The rows of the table behind the reports, in their order."""
        return self.labelled.spots.iloc[self.cleaned.row]


def gather(labelled: Labelled, a: str, b: str, power_db: float, decoding_limit_db: float | None) -> Data:
    code, who = labels.receivers(labelled.spots)
    cleaned = labels.cleaned(labelled.spots, labelled.is_a, code, power_difference_db=power_db, a_first=a < b)
    old = code[cleaned.row]
    numbered = np.empty(len(who), dtype=np.int64)
    numbered[cleaned.reports.receiver] = old
    mode = labels.channels(labelled.spots)[1][cleaned.row]
    slots = None
    if labelled.slots is not None:
        slots = (labelled.slots[0] - cleaned.start_us) / 60e6, labelled.slots[1]
    return Data(
        a,
        b,
        labelled,
        cleaned,
        who.iloc[numbered].reset_index(drop=True),
        floor.limits(cleaned.reports, mode, decoding_limit_db),
        designs.design(cleaned.reports, slots),
        power_db,
    )

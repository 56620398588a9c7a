"""Which of the accepted spots are studied: a period, some bands. The others are set aside, and counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reach.study import Study
from reach.vet.rules import Vetted, some_of


def within(vetted: Vetted, study: Study) -> Vetted:
    """The spots that lie in the study's period and bands.

    vetted : rows as judged; study : start, end and bands, each unset where all are wanted
    Returns a Vetted in whose counts the other spots are set aside; the very same where all are wanted.
    """
    if not (study.start or study.end or study.bands):
        return vetted
    spots = vetted.spots
    keep = np.ones(len(spots), dtype=bool)
    if study.start:
        keep &= (spots["time_utc"] >= study.start).to_numpy()
    if study.end:
        keep &= (spots["time_utc"] < study.end).to_numpy()
    if study.bands:
        keep &= spots["band"].isin(study.bands).to_numpy()
    counts = vetted.counts
    aside = int((~keep).sum())
    return replace(
        vetted,
        spots=some_of(spots, np.flatnonzero(keep)),
        rows=vetted.rows[keep],
        counts=replace(counts, accepted=counts.accepted - aside, set_aside=counts.set_aside + aside),
    )

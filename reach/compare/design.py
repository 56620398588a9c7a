"""The design as the reports show it: which setup was on the air when, how quickly they changed, how often."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare.reports import Bools, Floats, Ints, Reports

PAUSE_MIN: Final = 240.0  # a longer silence ends a run
SPARE_MIN: Final = 10.0
TOGETHER_SHARE: Final = 0.3  # from here on the setups count as on the air at once
FEWEST_RUNS: Final = 3
SLOWEST_MIN: Final = 90.0  # run starts farther apart: the band changes faster than the setups


@dataclass(frozen=True)
class Alternation:
    """How the setups alternated.

    simultaneous  both on the air in the same moments
    period_min    mean time from one change of setup to the next; the slot spacing where simultaneous
    within_min    how far apart in time reports are still paired
    slot_min      usual time between transmissions
    runs_a, runs_b  stretches of each setup by label alone, on whichever side has fewer bands to show for it
    starts_min, labels  when each run began and whether it was A, in time order
    """

    simultaneous: bool
    period_min: float
    within_min: float
    slot_min: float
    runs_a: int
    runs_b: int
    starts_min: Floats
    labels: Bools

    @property
    def confounded(self) -> bool:
        """Too few changes of setup, or too slow, to tell the setups from the band's own change."""
        if self.simultaneous:
            return False
        return min(self.runs_a, self.runs_b) < FEWEST_RUNS or self.period_min > SLOWEST_MIN


def alternation(reports: Reports, slots: tuple[Floats, Bools] | None = None) -> Alternation:
    """How the setups behind the reports took turns.

    reports : n > 0 reports
    slots : start [min, as `reports.time_min`] and setup of every row of a transmit schedule, where there is one;
        else the moments of the reports are the slots
    Returns Alternation. Periods are taken band by band, since only reports of one band are compared.
    """
    moments = np.unique(reports.time_min)
    slot_min = float(np.median(np.diff(moments))) if len(moments) > 1 else 0.0
    starts, labels = _slots(reports.time_min, reports.is_a) if slots is None else _within(slots, moments)
    together = _together_share(reports)
    one_band = not reports.channel.any()
    gaps = _usual(_gaps(starts, labels)) if slots is not None and one_band else _gaps_by_channel(reports)
    if together > TOGETHER_SHARE:
        period, within = slot_min, slot_min + SPARE_MIN
    elif len(gaps):
        period, within = float(gaps.mean()), SPARE_MIN + float(np.quantile(gaps, 0.9))
    else:
        period, within = np.inf, SPARE_MIN
    runs = _runs(starts, labels)
    a, b = _stretches(labels)
    a_paired, b_paired = _paired_stretches(reports)
    return Alternation(
        simultaneous=together > TOGETHER_SHARE,
        period_min=period,
        within_min=within,
        slot_min=slot_min,
        runs_a=min(a, a_paired),
        runs_b=min(b, b_paired),
        starts_min=starts[runs],
        labels=labels[runs],
    )


def _slots(time_min: Floats, is_a: Bools) -> tuple[Floats, Bools]:
    """Distinct (moment, setup) in time order: one transmission however many heard it."""
    key = np.unique(np.stack([time_min, is_a.astype(float)]), axis=1)
    return key[0], key[1] > 0


def _within(slots: tuple[Floats, Bools], moments: Floats) -> tuple[Floats, Bools]:
    """The schedule's rows from the one in which the first report lies to the one with the last."""
    order = np.argsort(slots[0], kind="stable")
    starts, labels = slots[0][order], slots[1][order]
    first = max(int(np.searchsorted(starts, moments[0], side="right")) - 1, 0)
    last = int(np.searchsorted(starts, moments[-1], side="right"))
    return starts[first:last], labels[first:last]


def _runs(starts_min: Floats, labels: Bools) -> Ints:
    """Where a maximal stretch of one setup begins; a pause of more than four hours begins one too."""
    begins = np.ones(len(starts_min), dtype=bool)
    begins[1:] = (labels[1:] != labels[:-1]) | (np.diff(starts_min) > PAUSE_MIN)
    return np.flatnonzero(begins)


def _gaps(starts_min: Floats, labels: Bools) -> Floats:
    return np.diff(starts_min[_runs(starts_min, labels)])


def _gaps_by_channel(reports: Reports) -> Floats:
    """Times between run starts, band by band, without the pauses (where there is anything else)."""
    parts = []
    for channel in np.unique(reports.channel):
        of = reports.channel == channel
        parts.append(_gaps(*_slots(reports.time_min[of], reports.is_a[of])))
    gaps = np.concatenate(parts)
    return _usual(gaps)


def _usual(gaps: Floats) -> Floats:
    """Without nights and other pauses, which say nothing of how quickly the setups changed; all where there is nothing
    else."""
    short = gaps <= PAUSE_MIN
    return gaps[short] if short.any() else gaps


def _together_share(reports: Reports) -> float:
    """The share of moments (of one band) in which both setups were heard by somebody."""
    key = np.unique(np.stack([reports.channel.astype(float), reports.time_min, reports.is_a]), axis=1)
    if key.shape[1] < 2:
        return 0.0
    repeated = (np.diff(key[:2], axis=1) == 0).all(axis=0)
    return float(repeated.sum() / (key.shape[1] - repeated.sum()))


def _stretches(labels: Bools) -> tuple[int, int]:
    begins = np.concatenate([[True], labels[1:] != labels[:-1]])[: len(labels)]
    return int(np.sum(labels[begins])), int(np.sum(~labels[begins]))


def _paired_stretches(reports: Reports) -> tuple[int, int]:
    """Stretches counted band by band and added, from bands that heard both setups only: A on one band and B on
    another are no alternation, however often they change."""
    a = b = 0
    for channel in np.unique(reports.channel):
        of = reports.channel == channel
        if reports.is_a[of].any() and not reports.is_a[of].all():
            more_a, more_b = _stretches(_slots(reports.time_min[of], reports.is_a[of])[1])
            a, b = a + more_a, b + more_b
    return a, b


def block_numbers(reports: Reports, design: Alternation) -> Ints:
    """In which stretch on one setup each report lies: 0.. in time order; with both on the air at once, which slot."""
    if design.simultaneous:
        return np.unique(reports.time_min, return_inverse=True)[1].astype(np.int64)
    return np.searchsorted(design.starts_min, reports.time_min, side="right") - 1


def overlap(reports: Reports, within_min: float) -> float:
    """Share of the reports with one of the other setup within that time at the same receiver and band."""
    if not len(reports):
        return 0.0
    key = reports.unit * (float(reports.time_min.max()) + 3 * within_min + 1)
    near = np.zeros(len(reports), dtype=bool)
    for side in (True, False):
        ours = reports.is_a == side
        theirs = (key + reports.time_min)[~ours]
        if len(theirs):
            near[ours] = _nearest_gap((key + reports.time_min)[ours], theirs) <= within_min
    return float(near.mean())


def _nearest_gap(values: Floats, rising: Floats) -> Floats:
    at = np.searchsorted(rising, values)
    before = rising[np.maximum(at - 1, 0)]
    after = rising[np.minimum(at, len(rising) - 1)]
    return np.minimum(np.abs(values - before), np.abs(after - values))

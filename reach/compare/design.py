"""The design as the reports show it: which setup was on the air when, how quickly they changed, how often; and how long a
design must last for a wanted half-width, by a law fitted to simulated sessions.

half-width [dB, 95 %] = k * hours^-a * receivers^-b, receivers being those with pairs. Fitted by tests/compare/effort_fit
over 1 to 24 h and 8 to 180 listeners, blocks in random order within pairs, a transmission every two minutes; two sessions
in three lie within a factor of 1.3 to 1.5. METHOD.md has the table.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from reach.base import keys
from reach.compare.reports import Bools, Floats, Ints, Reports, one_after_another

PAUSE_MIN: Final = 240.0  # a longer silence ends a run
SPARE_MIN: Final = 10.0
TOGETHER_SHARE: Final = 0.3  # from here on the setups count as on the air at once
FEWEST_DAYS_EACH: Final = 3  # where days are what counts
FEWEST_RUNS: Final = 3
FEWEST_CHANGES: Final = 2  # within stays on one band, and a quarter of all, that tell the period of bands in turn
SLOWEST_MIN: Final = 90.0  # run starts farther apart: the band changes faster than the setups
ALIKE: Final = 0.2  # of the visits begun with either setup at least, for the order to count as changed about
ON_AIR_MIN: Final = 10.0  # a longer gap between transmissions is time off the air
TIE_MIN: Final = 1e-6  # times that were meant to be equal are, however their fractions were rounded


@dataclass(frozen=True)
class Turns:
    """Bands gone through in turn, each with both setups before the next.

    bands       how many
    stay_min    usual time on one band before the next
    return_min  usual time from one visit to a band to the next visit
    same_first  the same setup began nearly every visit, so that what a band does within a visit falls on one side
    """

    bands: int
    stay_min: float
    return_min: float
    same_first: bool


@dataclass(frozen=True)
class Alternation:
    """How the setups alternated.

    simultaneous  both on the air in the same moments
    period_min    mean time from one change of setup to the next, within a stay on one band; the slot spacing where
                  simultaneous
    within_min    how far apart in time reports are still paired
    farthest_min  how far away the farther of a report's two neighbours may lie; more than `within_min` with bands in turn
    slot_min      usual time between transmissions
    runs_a, runs_b  stretches of each setup by label alone, on whichever side has fewer bands to show for it
    starts_min, labels  when each run began and whether it was A, in time order
    turns         the bands that were gone through in turn; None where there was one, or no such order
    """

    simultaneous: bool
    period_min: float
    within_min: float
    farthest_min: float
    slot_min: float
    runs_a: int
    runs_b: int
    starts_min: Floats
    labels: Bools
    turns: Turns | None = None

    @property
    def confounded(self) -> bool:
        """Too few changes of setup, or too slow, to tell the setups from the band's own change."""
        few_or_slow = min(self.runs_a, self.runs_b) < FEWEST_RUNS or self.period_min > SLOWEST_MIN
        return few_or_slow and not self.simultaneous


def alternation(reports: Reports, slots: tuple[Floats, Bools] | None = None) -> Alternation:
    """How the setups behind the reports took turns.

    reports : n > 0 reports
    slots : start [min, as `reports.time_min`] and setup of every row of a transmit schedule, where there is one;
        else the moments of the reports are the slots
    Returns Alternation. Periods are taken band by band, since only reports of one band are compared.
    """
    moments = np.unique(reports.time_min)
    slot_min = float(np.median(np.diff(moments))) if len(moments) > 1 else 0.0
    together = _together_share(reports)
    a, b = _paired_stretches(reports)
    starts, labels = _slots(reports.time_min, reports.is_a) if slots is None else _within(slots, moments)
    runs = _runs(starts, labels)
    # Without any, every moment had both, each on a band of its own, and there is nothing to add to the bands' own.
    if len(runs):
        of_a, of_b = _stretches(labels)
        a, b = min(a, of_a), min(b, of_b)
    found = Alternation(
        simultaneous=together > TOGETHER_SHARE,
        period_min=slot_min,
        within_min=slot_min + SPARE_MIN,
        farthest_min=slot_min + SPARE_MIN,
        slot_min=slot_min,
        runs_a=a,
        runs_b=b,
        starts_min=starts[runs],
        labels=labels[runs],
    )
    if found.simultaneous:
        return found
    if slots is not None and not reports.channel.any():
        return _timed(found, _usual(np.diff(starts[runs])), None, None)
    return _timed(found, *_changes(reports))


def _timed(found: Alternation, near: Floats, usual: Floats | None, turns: Turns | None) -> Alternation:
    """The period, and how far reports are paired, from the gaps between changes within stays on one band; and all of a band's
    gaps where others were heard in between, else None."""
    if not len(near):
        return replace(found, period_min=np.inf, within_min=SPARE_MIN, farthest_min=SPARE_MIN)
    within = farthest = SPARE_MIN + float(np.quantile(near, 0.9))
    if usual is not None:
        farthest = max(within, min(PAUSE_MIN, SPARE_MIN + float(np.quantile(usual, 0.9))))
    return replace(found, period_min=float(near.mean()), within_min=within, farthest_min=farthest, turns=turns)


def on_air_min(time_min: Floats) -> float:
    """Time on the air [min]: gaps between transmissions, none counted as more than ten minutes, and the last one itself."""
    gaps = np.minimum(np.diff(np.unique(time_min)), ON_AIR_MIN)
    return float(gaps.sum() + (np.median(gaps) if len(gaps) else ON_AIR_MIN))


def _slots(time_min: Floats, is_a: Bools) -> tuple[Floats, Bools]:
    """Distinct moments in time order with the setup of each: one transmission however many heard it.

    Moments that had both are left out: which of the two came first nobody can say.
    """
    moments, which = np.unique(time_min, return_inverse=True)
    of_a, of_all = np.bincount(which, is_a), np.bincount(which)
    one = (of_a == 0) | (of_a == of_all)
    return moments[one], of_a[one] > 0


def _within(slots: tuple[Floats, Bools], moments: Floats) -> tuple[Floats, Bools]:
    """The schedule's rows from the one in which the first report lies to the one with the last."""
    order = np.argsort(slots[0], kind="stable")
    starts, labels = slots[0][order], slots[1][order]
    first = int(np.searchsorted(starts, moments[0], side="right")) - 1
    last = int(np.searchsorted(starts, moments[-1], side="right"))
    return starts[first:last], labels[first:last]


def _runs(starts_min: Floats, labels: Bools) -> Ints:
    """Where a maximal stretch of one setup begins; a pause of more than four hours begins one too."""
    return np.flatnonzero(_begins(starts_min, labels))


def _begins(starts_min: Floats, labels: Bools) -> Bools:
    """Whether one begins there."""
    begins = keys.begins(labels)
    begins[1:] |= np.diff(starts_min) > PAUSE_MIN + TIE_MIN
    return begins


@dataclass(frozen=True)
class _Channel:
    """The slots of one band, and which of them begin a stay on it."""

    time_min: Floats
    is_a: Bools
    stay: Bools


def _changes(reports: Reports) -> tuple[Floats, Floats | None, Turns | None]:
    """Gaps between runs: (within stays on one band; all, None where they are the same; the bands in turn).

    Two runs lie within a stay where no other band was heard between them. Where that is too seldom (two transmitters on two
    bands; a change of setup with the change of band only) all gaps count, and no order of bands is told.
    """
    channels = [_channel(reports, code) for code in np.unique(reports.channel)]
    both = [one for one in channels if one.is_a.any() and not one.is_a.all()]
    usual = np.concatenate([np.zeros(0), *(_gaps(one.time_min, one.is_a) for one in both)])
    near = np.concatenate([np.zeros(0), *(_near_gaps(one) for one in both)])
    # Each change is two gaps, from start to start and from end to end.
    few = (near <= PAUSE_MIN).sum() < max(2 * FEWEST_CHANGES, (usual <= PAUSE_MIN).sum() / 4)
    if few or all(one.stay.sum() == 1 for one in both):
        return _usual(usual), None, None
    return _usual(near), _usual(usual), _turns(both)


def _channel(reports: Reports, code: int) -> _Channel:
    of = reports.channel == code
    time, is_a = _slots(reports.time_min[of], reports.is_a[of])
    others = np.unique(reports.time_min[~of])
    # Of another band strictly between two slots of this one: then the second begins another stay.
    passed = np.searchsorted(others, time[1:], side="left") > np.searchsorted(others, time[:-1], side="right")
    return _Channel(time, is_a, np.concatenate([[True], passed])[: len(time)])


def _gaps(starts_min: Floats, labels: Bools) -> Floats:
    """From the start of each run to the start of the next, and from end to end: the same however time runs."""
    begin = _runs(starts_min, labels)
    end = np.append(begin[1:] - 1, len(starts_min) - 1)[: len(begin)]
    return np.concatenate([np.diff(starts_min[begin]), np.diff(starts_min[end])])


def _near_gaps(one: _Channel) -> Floats:
    """The same within each stay on the band, one stay after the other."""
    begin = np.flatnonzero(_begins(one.time_min, one.is_a) | one.stay)
    end = np.append(begin[1:] - 1, len(one.time_min) - 1)[: len(begin)]
    stay = np.cumsum(one.stay)[begin]
    within = np.diff(stay) == 0
    gaps = np.concatenate([np.diff(one.time_min[at])[within] for at in (begin, end)])
    return gaps[np.argsort(np.tile(stay[1:][within], 2), kind="stable")]


def _turns(channels: list[_Channel]) -> Turns | None:
    """The bands that heard both setups as they were gone through; None where no band was come back to."""
    begins = [one.time_min[one.stay] for one in channels]
    order = np.sort(np.concatenate(begins))
    back = np.concatenate([np.diff(one) for one in begins])
    if len(channels) < 2 or not len(back):
        return None
    of_a = float(np.mean(np.concatenate([one.is_a[one.stay] for one in channels])))
    return Turns(
        len(channels), float(np.median(_usual(np.diff(order)))), float(np.median(back)), not ALIKE <= of_a <= 1 - ALIKE
    )


def _usual(gaps: Floats) -> Floats:
    """Without nights and other pauses, which say nothing of how quickly the setups changed; all where there is nothing
    else."""
    short = gaps <= PAUSE_MIN + TIE_MIN
    return gaps[short] if short.any() else gaps


def _together_share(reports: Reports) -> float:
    """The share of moments (of one band) in which both setups were heard by somebody."""
    key = np.unique(np.stack([reports.channel.astype(float), reports.time_min, reports.is_a]), axis=1)
    if key.shape[1] < 2:
        return 0.0
    repeated = (np.diff(key[:2], axis=1) == 0).all(axis=0)
    return float(repeated.sum() / (key.shape[1] - repeated.sum()))


def _stretches(labels: Bools) -> tuple[int, int]:
    first = labels[keys.begins(labels)]
    return int(first.sum()), int((~first).sum())


def _paired_stretches(reports: Reports) -> tuple[int, int]:
    """Stretches counted band by band and added, from bands that heard both setups only: A on one band and B on
    another are no alternation, however often they change."""
    a = b = 0
    for channel in np.unique(reports.channel):
        of = reports.channel == channel
        labels = _slots(reports.time_min[of], reports.is_a[of])[1]
        if labels.any() and not labels.all():
            more_a, more_b = _stretches(labels)
            a, b = a + more_a, b + more_b
    return a, b


def block_numbers(reports: Reports, design: Alternation) -> Ints:
    """In which stretch on one setup each report lies: 0.. in time order; with both on the air at once, which slot."""
    if design.simultaneous:
        return np.unique(reports.time_min, return_inverse=True)[1].astype(np.int64)
    return np.searchsorted(design.starts_min, reports.time_min, side="right") - 1


def overlap(reports: Reports, within_min: float) -> float:
    """Share of the reports with one of the other setup within that time at the same receiver and band. Needs reports of both."""
    at = one_after_another(reports.unit, reports.time_min, within_min)
    near = np.zeros(len(reports), dtype=bool)
    for side in (True, False):
        ours = reports.is_a == side
        near[ours] = _nearest_gap(at[ours], at[~ours]) <= within_min
    return float(near.mean())


def _nearest_gap(values: Floats, rising: Floats) -> Floats:
    at = np.searchsorted(rising, values)
    before = rising[np.maximum(at - 1, 0)]
    after = rising[np.minimum(at, len(rising) - 1)]
    return np.minimum(np.abs(values - before), np.abs(after - values))


@dataclass(frozen=True)
class Law:
    """One design's law.

    block_min  length of a block; 0 where both setups are on the air at once
    shortest_hours  a shorter session may be refused
    """

    block_min: float
    k: float
    a: float
    b: float
    shortest_hours: float


TOGETHER: Final = Law(0.0, 3.39, 0.45, 0.52, 1.5)
LAWS: Final = (
    Law(2.0, 3.60, 0.42, 0.32, 1.0),
    Law(5.0, 4.51, 0.51, 0.25, 1.5),
    Law(10.0, 6.11, 0.57, 0.19, 3.0),
    Law(20.0, 14.82, 0.72, 0.19, 5.0),
    Law(30.0, 27.48, 0.92, 0.13, 7.5),
)


def law(together: bool, block_min: float) -> Law:
    """The law for blocks of that length: between the fitted ones by the logarithm of the length, at the ends theirs."""
    if together:
        return TOGETHER
    lengths = np.log([one.block_min for one in LAWS])
    at = np.log(np.clip(block_min, LAWS[0].block_min, LAWS[-1].block_min))
    named = ("k", "a", "b", "shortest_hours")
    k, a, b, shortest = (float(np.interp(at, lengths, [getattr(one, name) for one in LAWS])) for name in named)
    return Law(block_min, k, a, b, shortest)


def half_width_db(together: bool, block_min: float, receivers: float, hours: float) -> float:
    """What a session of that length should give."""
    one = law(together, block_min)
    return one.k * hours**-one.a * receivers**-one.b


def hours_needed(together: bool, block_min: float, receivers: float, half_width: float) -> float:
    """Hours for a wanted half-width [dB]; never less than the shortest session of the design."""
    one = law(together, block_min)
    return max(one.shortest_hours, float((one.k * receivers**-one.b / half_width) ** (1 / one.a)))


def more_hours(together: bool, block_min: float, had_hours: float, had_db: float, half_width: float) -> float:
    """Hours in all for a wanted half-width, when some hours gave a known one."""
    return had_hours * (had_db / half_width) ** (1 / law(together, block_min).a)

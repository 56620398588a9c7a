"""The schedule's clock: was it on time, late, or in local time? METHOD.md beside this file has the method and the figures.

Two witnesses, each blind where the other sees. *Steps*: at every change of setup the reports grow stronger and more, or
weaker and fewer, unless the setups are alike. *Ends*: reports begin and end when the schedule does, unless the band or the
operator did otherwise. Numbers and codes only; `reach.tell.sentences.clock` says them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import schedule as schedules

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Value = str | int | float | bool

MINUTE_US: Final = 60_000_000
SLOT_SHARE: Final = 0.95  # so many of the moments must lie on a grid for it to be the slots
SHORTEST_SLOT_US: Final = 10_000_000
LONGEST_SLOT_US: Final = 15 * MINUTE_US
COARSEST_US: Final = 2 * MINUTE_US
MOST_SETUPS: Final = 8  # of a schedule, of which every two are looked at
FEWEST_SPOTS: Final = 6  # of one receiver on one band, for its own mean to say anything
FEWEST_SLOTS: Final = 12
MOST_SLOTS: Final = 6000
WINDOW_SLOTS: Final = 20
REPEATS: Final = 0.98
REPEATS_OVER: Final = 2 / 3
FARTHEST_MIN: Final = 90.0
FARTHEST_BLOCK_MIN: Final = 60.0
FEWEST_CHANGES: Final = 5  # of setup: fewer steps than that a fading band makes by itself
SEEN: Final = 23.0  # squared z of a step that is there, over the many shifts looked at
SEEN_REPEATING: Final = 18.0  # a repeating plan leaves few shifts to look at
CLEARER: Final = 4.0
THERE: Final = 9.0  # squared z of a step at one given place
LEVEL_Z: Final = 2.5  # of strength alone
WORSE: Final = 14.0  # how much better than no shift the best must be
WORSE_REPEATING: Final = 10.0
WORSE_TURNED: Final = 12.0
WITHIN: Final = 6.6  # chi squared of one degree of freedom at 99 %
INSIDE: Final = 0.2
INSIDE_OF_BEST: Final = 0.5
ROUNDS: Final = 3
STRONGEST_AR: Final = 0.95
STRONGEST_BOND: Final = 0.9
HALF_WEIGHT: Final = 5.0  # a slot with so many reports counts half as much as one with very many
ENDS_HOURS: Final = 14.0  # no zone is farther from UTC
ENDS_GAIN: Final = 20.0
ENDS_DISPERSION: Final = 3.0  # silences come in runs: slots are not independent
ENDS_SLOTS: Final = 2.5
ENDS_EXPLAIN: Final = (
    0.9  # of the busy slots must lie inside the shifted schedule: else reports do not end with it at all
)
PAUSE_SLOTS: Final = 2.5
LOBE_SLOTS: Final = 2.0
ZONE_MIN: Final = 15.0  # zones are whole quarters of an hour from UTC
FARTHEST_ZONE_MIN: Final = 14 * 60  # no zone is farther from UTC
NEAR_ZONE_H: Final = 2.0
FUTURE_MIN: Final = 2.0


class Clock(StrEnum):
    """What the reports say of the schedule's clock.

    FITS       the steps lie where it says
    SHIFTED    shifted by shift_min they do, and by nothing else
    AMBIGUOUS  by shift_min or by other_min they do, with opposite winners: the plan repeats
    ENDS       a question: reports begin and end as if shifted by shift_min
    APART      no report lies inside the schedule; shift_min where one would bring them together
    UNSEEN     the reports cannot tell
    """

    FITS = "fits"
    SHIFTED = "shifted"
    AMBIGUOUS = "ambiguous"
    ENDS = "ends"
    APART = "apart"
    UNSEEN = "unseen"


SCHEDULE: Final = "schedule"
SESSIONS: Final = "sessions"
DOUBTFUL: Final = frozenset({Clock.SHIFTED, Clock.AMBIGUOUS, Clock.ENDS, Clock.APART})


@dataclass(frozen=True)
class ClockFit:
    """How a schedule fits the reports. A shift is what must be added to the schedule's times [minutes].

    shift_min    the best; None where UNSEEN, and where APART without one
    within_min   how far it may be off: the shifts beside it that fit as well
    other_min    of a plan that repeats, the other shift that fits as well, with the other setup better
    slot_min     time between transmissions, and the grid of shifts
    outside      share of the reports outside the schedule as it stands; outside_shifted : by shift_min shifted
    by           steps | ends | both : what tells
    zone_h       offset from UTC [h] of a zone near the station that such a shift would be; None where it is none
    first_utc, last_utc    of the reports, ISO 8601 to the minute; schedule_first_utc, schedule_last_utc : of the schedule
    told_by      what tells the times: the schedule, or the sessions of the study
    step_z2      squared z of the best step, step_z2_now : of the step as it stands; None where none could be looked for
    """

    code: Clock
    slot_min: float
    outside: float
    first_utc: str
    last_utc: str
    schedule_first_utc: str
    schedule_last_utc: str
    shift_min: float | None = None
    within_min: float | None = None
    other_min: float | None = None
    outside_shifted: float | None = None
    by: str = ""
    zone_h: float | None = None
    step_z2: float | None = None
    step_z2_now: float | None = None
    told_by: str = SCHEDULE

    @property
    def doubtful(self) -> bool:
        """Whether the schedule should be corrected or confirmed before it decides which setup was better."""
        return self.code in DOUBTFUL

    @property
    def values(self) -> Mapping[str, Value]:
        """What is known, by field name, for a sentence or JSON; what is not known is left out."""
        plain = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return {name: str(value) if name == "code" else value for name, value in plain.items() if value is not None}


def fit(
    spots: pd.DataFrame,
    schedule: pd.DataFrame,
    *,
    a: str | None = None,
    b: str | None = None,
    station_lon_deg: float | None = None,
) -> ClockFit | None:
    """Whether a schedule lies where the reports say.

    spots : needs time_utc, rx_call, band, snr_db; those rows whose setup only the schedule tells
    schedule : schedules.SCHEDULE
    a, b : the two setups whose steps are looked for; the two that it names most time for where left out
    station_lon_deg : of the station [degrees east], for naming a zone
    Returns ClockFit; None without reports or without rows of the schedule. Where the steps of A and B are found elsewhere and
    the schedule names a third setup, they may be steps from or to that one: as soon as those of any two lie where the
    schedule says, it fits.
    """
    found = _by_steps_of(spots, schedule, a, b, station_lon_deg)
    names = sorted(schedule["setup"].astype(str).unique())
    if found is None or not found.doubtful or not 2 < len(names) <= MOST_SETUPS:
        return found
    others = (_by_steps_of(spots, schedule, *pair, station_lon_deg) for pair in combinations(names, 2))
    return next((each for each in others if each is not None and each.code == Clock.FITS), found)


def _by_steps_of(
    spots: pd.DataFrame, schedule: pd.DataFrame, a: str | None, b: str | None, station_lon_deg: float | None
) -> ClockFit | None:
    """The same by the steps between two setups alone."""
    spots = spots[spots["time_utc"].notna().to_numpy()]
    if not len(spots) or not len(schedule):
        return None
    plan = _Plan.of(schedule, a, b)
    time_us = schedules.micros(spots["time_utc"])
    near = (time_us >= plan.start.min() - _us(ENDS_HOURS * 60)) & (time_us < plan.end.max() + _us(ENDS_HOURS * 60))
    base = _base(time_us, plan)
    if not near.any():
        return base
    grid = _Grid.of(time_us[near])
    steps = _steps(_unit(spots)[near], spots["snr_db"].to_numpy(float)[near], grid, plan)
    ends = _ends(grid, plan)
    found = _settled(replace(base, slot_min=grid.slot_min), steps, None if ends is None else ends * grid.slot_min)
    if found.shift_min is not None:
        moved = 1 - float(plan.scheduled(time_us - _us(found.shift_min)).mean())
        found = replace(found, outside_shifted=moved, zone_h=zone_h(found.shift_min, grid.slot_min, station_lon_deg))
    return found


def future_min(newest: datetime, now: datetime) -> float | None:
    """By how many minutes a clock is ahead at least, up to the next quarter of an hour; None where it may be right, and
    where no zone is so far ahead: a mistyped year is no clock.

    newest : of the reports; now : the clock's time, both with their offset from UTC
    """
    excess = (newest - now).total_seconds() / 60
    return math.ceil(excess / ZONE_MIN) * ZONE_MIN if FUTURE_MIN < excess <= FARTHEST_ZONE_MIN else None


def zone_h(shift_min: float, slot_min: float, station_lon_deg: float | None) -> float | None:
    """The offset from UTC [h] of the zone in which the schedule, or the reports, would be to explain a shift.

    A schedule written at UTC+2 is two hours late; so a shift of -120 minutes speaks of +2 h, if the sun at the station is
    about as far ahead. Reports in local time with a schedule in UTC are the other way round: then of the shift's own sign.
    """
    hours = round(shift_min / ZONE_MIN) * ZONE_MIN / 60
    if station_lon_deg is None or abs(hours) < 1 or abs(hours * 60 - shift_min) > slot_min:
        return None
    return next((z for z in (-hours, hours) if abs(z - station_lon_deg / 15) <= NEAR_ZONE_H), None)


def repeat_slots(label: Ints) -> tuple[int, bool] | None:
    """After how many slots a plan comes back, and whether it comes back with the setups exchanged half-way.

    label : +1 and -1 for the two setups, 0 for neither, slot by slot
    Returns (period, exchanged), or None where it does not repeat. A-B-A-B exchanges: shifted by one block it is the same
    plan with the other setup better, and no report can tell. Looked at are lags that leave two thirds of the plan.
    """
    n = len(label)
    labelled = np.abs(label)
    size = 1 << int(np.ceil(np.log2(2 * n)))
    spectrum = np.fft.rfft(label, size), np.fft.rfft(labelled, size)
    same, both = (np.round(np.fft.irfft(np.abs(each) ** 2, size)[:n]) for each in spectrum)
    enough = both >= REPEATS_OVER * labelled.sum()
    enough[0] = False
    share = np.divide(same, both, out=np.zeros(n), where=both > 0)  # +1: all alike, -1: all exchanged
    exchanged, alike = (np.flatnonzero(enough & (sign * share >= 2 * REPEATS - 1)) for sign in (-1, 1))
    if len(exchanged) and not (len(alike) and alike[0] < exchanged[0]):
        return 2 * int(exchanged[0]), True
    return (int(alike[0]), False) if len(alike) else None


# --- what is given ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Plan:
    """The rows of a schedule: start, end [us since 1970], and sign: +1 setup A, -1 setup B, 0 another."""

    start: Ints
    end: Ints
    sign: Ints

    @classmethod
    def of(cls, schedule: pd.DataFrame, a: str | None, b: str | None) -> _Plan:
        rows = schedule.sort_values("start", kind="stable")
        start, end = (schedules.micros(rows[name]) for name in ("start", "end"))
        name = rows["setup"].astype(str).to_numpy()
        if a is None or b is None:
            on_air = pd.Series(end - start).groupby(name).sum().sort_values(kind="stable")
            a, b = (*on_air.index[::-1][:2], "", "")[:2]
        return cls(start, end, (name == a).astype(np.int64) - (name == b))

    def _row(self, time_us: Ints) -> tuple[Ints, Bools]:
        row = np.maximum(np.searchsorted(self.start, time_us, side="right") - 1, 0)
        return row, (time_us >= self.start[row]) & (time_us < self.end[row])

    def scheduled(self, time_us: Ints) -> Bools:
        """Which moments lie inside a row."""
        return self._row(time_us)[1]

    def label(self, time_us: Ints) -> Ints:
        """+1, -1 or 0 for each moment."""
        row, inside = self._row(time_us)
        return np.where(inside, self.sign[row], 0)


@dataclass(frozen=True)
class _Grid:
    """Time in slots. slot: of each report; zero_us: when slot 0 begins; slot_us: how long each lasts."""

    slot: Ints
    zero_us: int
    slot_us: int

    @property
    def slot_min(self) -> float:
        return self.slot_us / MINUTE_US

    @classmethod
    def of(cls, time_us: Ints) -> _Grid:
        """The longest of the commonest gaps whose grid holds nearly all moments; else whole minutes."""
        moments = np.unique(time_us)
        whole = np.unique(time_us // MINUTE_US * MINUTE_US)
        if len(moments) > 2 * len(whole):  # to the second: when each was reported, not when the slot began
            moments = whole
        gap, count = np.unique(np.diff(moments), return_counts=True)
        usual = gap[np.argsort(-count, kind="stable")[:5]]
        for slot_us in sorted(map(int, usual), reverse=True):
            if SHORTEST_SLOT_US <= slot_us <= LONGEST_SLOT_US:
                phase, hits = np.unique(moments % slot_us, return_counts=True)
                if hits.max() >= SLOT_SHARE * len(moments):
                    zero = int(moments[0] // slot_us * slot_us + phase[np.argmax(hits)])
                    return cls((time_us - zero) // slot_us, zero, slot_us)
        return cls((time_us - int(whole[0])) // MINUTE_US, int(whole[0]), MINUTE_US)

    def coarser(self, block_us: float) -> _Grid:
        """Several short slots as one, two minutes at most and a quarter of a block: strength from one short slot to the next
        is noise on top of slow fading, which one autoregression cannot follow both of."""
        times = int(min(COARSEST_US, block_us / 4) // self.slot_us)
        return self if times < 2 else _Grid(self.slot // times, self.zero_us, self.slot_us * times)

    def moment(self, slot: Ints) -> Ints:
        """A moment inside each slot, nearer to its start, by which reports belong to a row of the schedule."""
        return self.zero_us + slot * self.slot_us + self.slot_us // 4


def _us(minutes: float) -> int:
    return round(minutes * MINUTE_US)


def _unit(spots: pd.DataFrame) -> Ints:
    """One number a receiver and band."""
    call, band = (pd.factorize(spots[name])[0].astype(np.int64) for name in ("rx_call", "band"))
    return call * (int(band.max(initial=0)) + 2) + band


def _base(time_us: Ints, plan: _Plan) -> ClockFit:
    """What is known before any shift is looked at: the two time spans, and how much lies outside."""
    inside = plan.scheduled(time_us)
    moments = (time_us.min(), time_us.max(), plan.start.min(), plan.end.max())
    first, last, schedule_first, schedule_last = (
        pd.Timestamp(int(at), unit="us").strftime("%Y-%m-%dT%H:%MZ") for at in moments
    )
    return ClockFit(
        code=Clock.UNSEEN if inside.any() else Clock.APART,
        slot_min=1.0,
        outside=1 - float(inside.mean()),
        first_utc=first,
        last_utc=last,
        schedule_first_utc=schedule_first,
        schedule_last_utc=schedule_last,
    )


# --- steps ------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Steps:
    """The best shift, and how far down and up others fit as well [slots of slot_min]; z : its squared z, z0 : that of no shift;
    repeat_slots : period of the plan, None where it has none; half_slots : half of it where the setups are exchanged by then."""

    slot_min: float
    best: int
    z: float
    z0: float
    low: int
    high: int
    repeat_slots: int | None
    half_slots: int | None
    seen: bool
    same_sign: bool

    @property
    def fits(self) -> bool:
        if self.repeat_slots is not None:
            return self.z - self.z0 < WORSE_REPEATING
        # A step that stands there with the other setup better may be the echo of one a block away, since a drawn order has one
        # setup mostly follow the other: to call that a fit would turn the winner round.
        return self.z - self.z0 < (WORSE if self.same_sign else WORSE_TURNED)


@dataclass(frozen=True)
class _Search:
    """Where to look: first, last : slots of the schedule; farthest : shift; reach : half of the window of a moving mean;
    repeat : as `repeat_slots` gives it."""

    first: int
    last: int
    farthest: int
    reach: float
    repeat: tuple[int, bool] | None

    @classmethod
    def of(cls, grid: _Grid, plan: _Plan, block: float) -> _Search | None:
        """For blocks of so many slots; None where the setups hardly changed."""
        first, last = (int(at - grid.zero_us) // grid.slot_us for at in (plan.start.min(), plan.end.max()))
        label = plan.label(grid.moment(np.arange(first, last + 1)))
        if np.count_nonzero(np.diff(label[label != 0])) < FEWEST_CHANGES:
            return None
        repeat = repeat_slots(label)
        farthest = round(max(FARTHEST_MIN, 2 * min(block * grid.slot_min, FARTHEST_BLOCK_MIN)) / grid.slot_min)
        if repeat is not None:  # beyond, all that was found comes again, exchanged or not
            farthest = min(farthest, repeat[0] // (4 if repeat[1] else 2))
        return cls(first, last, farthest, max(repeat[0] if repeat else 0, 2 * block, WINDOW_SLOTS), repeat)


def _steps(unit: Ints, snr_db: Floats, grid: _Grid, plan: _Plan) -> _Steps | None:
    """The shift under which strength and number of the reports step most clearly at the changes of setup."""
    block_us = float(np.median(plan.end - plan.start))
    grid = grid.coarser(block_us)
    search = _Search.of(grid, plan, block_us / grid.slot_us)
    if search is None:
        return None
    farthest, reach = search.farthest, search.reach
    slots, level, count = _series(unit, snr_db, grid.slot, reach)
    # Reports far outside the schedule meet no step of it: they would only blur the noise.
    near = (slots >= search.first - farthest) & (slots <= search.last + farthest)
    slots, level, count = slots[near], level[near], count[near]
    if len(slots) < FEWEST_SLOTS:
        return None
    shift = np.arange(-farthest, farthest + 1)
    over = np.arange(slots[0] - farthest, slots[-1] + farthest + 1)
    x = plan.label(grid.moment(over))[(slots[:, None] - shift[None, :]) - over[0]].astype(float)
    # A shift that leaves a handful of reports at the schedule's rim fits those by chance.
    inside = (np.abs(x) * count[:, None]).sum(axis=0) / count.sum()
    looked = (inside >= INSIDE) & (inside >= INSIDE_OF_BEST * inside.max())
    if not looked.any():
        return None
    # The number of reports is a second witness: the weaker setup drops below more receivers' decoding limits.
    log_count = np.log1p(count)
    y = np.column_stack([level, log_count - _moving(log_count[:, None], slots, reach)[:, 0]])
    z, z_level = _z(y, x - _moving(x, slots, reach), slots, count / (count + HALF_WEIGHT), looked)
    return _best(np.where(looked, z, 0.0), z_level, shift, grid, search)


def _best(z: Floats, z_level: Floats, shift: Ints, grid: _Grid, search: _Search) -> _Steps:
    """The best of the shifts, and those beside it that fit as well."""
    z2 = z**2
    best = low = high = int(np.argmax(z2))
    while low > 0 and z2[low - 1] >= z2[best] - WITHIN:
        low -= 1
    while high < len(z2) - 1 and z2[high + 1] >= z2[best] - WITHIN:
        high += 1
    repeat = search.repeat
    clear = z2[best] >= (SEEN if repeat is None else SEEN_REPEATING)
    # Numbers alone are no witness: receivers that look in on other bands in step with the plan would pass for one.
    stronger = z_level[best] * np.sign(z[best]) >= LEVEL_Z
    return _Steps(
        slot_min=grid.slot_min,
        best=int(shift[best]),
        z=float(z2[best]),
        z0=float(z2[search.farthest]),
        low=int(shift[low]),
        high=int(shift[high]),
        repeat_slots=None if repeat is None else repeat[0],
        half_slots=repeat[0] // 2 if repeat is not None and repeat[1] else None,
        seen=bool(clear and stronger),
        same_sign=bool(z[best] * z[search.farthest] > 0),
    )


def _series(unit: Ints, snr_db: Floats, slot: Ints, reach: float) -> tuple[Ints, Floats, Floats]:
    """Slots with a report; mean over the receivers of how far each lies above its own usual level; how many reports."""
    slots, at, count = np.unique(slot, return_inverse=True, return_counts=True)
    order = np.lexsort((slot, unit))
    unit, snr_db, of_slot, at = unit[order], snr_db[order], slot[order], at[order]
    _, of_unit, size = np.unique(unit, return_inverse=True, return_counts=True)
    # One key sorted by unit, then slot, with gaps wider than the window: no receiver's mean reaches into another's.
    key = of_unit * (int(slots[-1] - slots[0]) + 3 * math.ceil(reach) + 3) + (of_slot - slots[0])
    low = np.searchsorted(key, key - reach, side="left")
    high = np.searchsorted(key, key + reach, side="right")
    total = np.concatenate([[0.0], np.cumsum(snr_db)])
    above = snr_db - (total[high] - total[low]) / (high - low)
    enough = size[of_unit] >= FEWEST_SPOTS
    said = np.bincount(at[enough], minlength=len(slots))
    level = np.bincount(at[enough], above[enough], minlength=len(slots)) / np.maximum(said, 1)
    if len(slots) > MOST_SLOTS:  # the stretch with most reports tells a shift as well as all of them
        sums = np.concatenate([[0], np.cumsum(count)])
        first = int(np.argmax(sums[MOST_SLOTS:] - sums[:-MOST_SLOTS]))
        kept = slice(first, first + MOST_SLOTS)
        slots, level, count = slots[kept], level[kept], count[kept]
    return slots, level, count.astype(float)


def _moving(x: Floats, slots: Ints, reach: float) -> Floats:
    """Centred moving mean of each column over the slots within `reach`."""
    low = np.searchsorted(slots, slots - reach, side="left")
    high = np.searchsorted(slots, slots + reach, side="right")
    total = np.vstack([np.zeros((1, x.shape[1])), np.cumsum(x, axis=0)])
    return np.asarray((total[high] - total[low]) / (high - low)[:, None])


def _z(y: Floats, x: Floats, slots: Ints, weight: Floats, looked: Bools) -> tuple[Floats, Floats]:
    """How many standard errors each step stands from nothing: both witnesses together, and strength alone.

    y : shape (slots, 2), strength and number; x : shape (slots, shifts), the step at each shift; both detrended alike
    weight : of each slot; looked : which shifts may be the best
    Noise is a first-order autoregression, refitted with the best step taken out (Cochrane, Orcutt 1949, Application of least
    squares regression to relationships containing autocorrelated error terms, JASA 44, 32-61), since a band that fades
    for minutes would pass for a step.
    """
    root = np.sqrt(weight)[:, None]
    y, x = y * root, x * root
    gap = np.diff(slots).astype(float)[:, None]
    usual = float(np.median(gap))
    next_ = np.flatnonzero(gap[:, 0] == usual)
    ar = np.zeros(2)
    best = x.shape[1] // 2
    z = np.zeros(x.shape[1])
    for _ in range(ROUNDS):
        each, left = [], []
        for k in (0, 1):
            xw, yw = _white(x, gap, ar[k]), _white(y[:, k : k + 1], gap, ar[k])[:, 0]
            power = np.maximum((xw**2).sum(axis=0), 1e-12)
            size = xw.T @ yw / power
            rest = yw - xw[:, best] * size[best]
            sigma = np.sqrt(rest @ rest / max(len(rest) - 2, 1))
            each.append(size * np.sqrt(power) / sigma if sigma > 0 else np.zeros_like(size))
            left.append(rest)
            noise = y[:, k] - x[:, best] * size[best]
            square = noise[next_] @ noise[next_]
            alike = noise[next_ + 1] @ noise[next_] / square if square > 0 else 0.0
            ar[k] = np.clip(alike, 0.0, STRONGEST_AR) ** (1 / usual)
        norm = np.sqrt((left[0] @ left[0]) * (left[1] @ left[1]))
        bond = np.clip(left[0] @ left[1] / norm if norm > 0 else 0.0, 0.0, STRONGEST_BOND)
        z = (each[0] + each[1]) / np.sqrt(2 * (1 + bond))
        best = int(np.argmax(np.where(looked, z**2, -1.0)))
    return z, each[0]


def _white(values: Floats, gap: Floats, ar: float) -> Floats:
    """Each value less what the one before foretells, to unit variance; `gap` slots lie between them."""
    if ar == 0:
        return values
    keep = ar**gap
    scale = np.sqrt((1 - ar**2) / np.maximum(1 - keep**2, 1e-12))
    return np.vstack([values[:1] * np.sqrt(1 - ar**2), (values[1:] - keep * values[:-1]) * scale])


# --- ends -------------------------------------------------------------------------------------------------------------


def _ends(grid: _Grid, plan: _Plan) -> int | None:
    """The shift [slots] under which reports begin and end with the schedule; None where none is clearly better than none.

    Every slot is busy or silent, at one rate inside the schedule and at another outside. Outside counts the span of the
    reports that is left and, once more, as much as the schedule has: before and after it nobody would have heard anything.
    """
    busy_slots = np.unique(grid.slot)
    farthest = int(ENDS_HOURS * 60 / grid.slot_min)
    stretch = _stretches(grid, plan)
    lowest = min(int(busy_slots[0]), int(stretch[0, 0])) - farthest - 1
    highest = max(int(busy_slots[-1]), int(stretch[-1, 1])) + farthest + 1
    busy = np.zeros(highest - lowest + 1)
    busy[busy_slots - lowest] = 1
    heard = np.concatenate([[0.0], np.cumsum(busy)])
    span = np.zeros_like(busy)
    span[busy_slots[0] - lowest : busy_slots[-1] + 1 - lowest] = 1
    lasted = np.concatenate([[0.0], np.cumsum(span)])
    shift = np.arange(-farthest, farthest + 1)
    from_, to = (stretch[:, k][:, None] + shift[None, :] - lowest for k in (0, 1))
    scheduled = float((stretch[:, 1] - stretch[:, 0]).sum())
    within = (heard[to] - heard[from_]).sum(axis=0)
    outside = lasted[-1] - (lasted[to] - lasted[from_]).sum(axis=0) + scheduled
    total = heard[-1]
    likely = _two_rates(within, scheduled) + _two_rates(total - within, outside)
    # A schedule inside out, silent inside and busy outside, is as likely by rates alone: it is no fit.
    likely = np.where(within / scheduled >= (total - within) / outside, likely, -np.inf)
    best = int(np.argmax(likely))
    none = (
        likely[farthest]
        if np.isfinite(likely[farthest])
        else _two_rates(np.array(total), scheduled + outside[farthest])
    )
    gain = 2 * (likely[best] - none) / ENDS_DISPERSION
    explains = within[best] >= ENDS_EXPLAIN * total
    return int(shift[best]) if gain >= ENDS_GAIN and abs(shift[best]) > ENDS_SLOTS and explains else None


def _two_rates(busy: Floats, slots: float | Floats) -> Floats:
    """Log-likelihood of so many busy ones among so many slots, at their own rate."""
    from scipy.special import xlogy

    silent = np.maximum(slots - busy, 0.0)
    return np.asarray(xlogy(busy, busy / slots) + xlogy(silent, silent / slots))


def _stretches(grid: _Grid, plan: _Plan) -> Ints:
    """First slot and the one after the last of each stretch on the air, joined over short pauses; shape (stretches, 2)."""
    start = -((grid.zero_us - plan.start) // grid.slot_us)
    end = -((grid.zero_us - plan.end) // grid.slot_us)
    new = np.concatenate([[True], plan.start[1:] - np.maximum.accumulate(plan.end)[:-1] > PAUSE_SLOTS * grid.slot_us])
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(start)) - 1
    return np.column_stack([start[first], np.maximum(end[last], start[first] + 1)])


# --- both together ----------------------------------------------------------------------------------------------------


def _settled(base: ClockFit, steps: _Steps | None, ends_min: float | None) -> ClockFit:
    """What both witnesses say together. Ends ask and never correct: band and operator begin and end as they please."""
    if steps is not None:
        base = replace(base, step_z2=steps.z, step_z2_now=steps.z0)
    by_ends = base
    if ends_min is not None:
        code = base.code if base.code == Clock.APART else Clock.ENDS
        by_ends = replace(base, code=code, shift_min=ends_min, within_min=ENDS_SLOTS * base.slot_min, by="ends")
    if steps is None or not steps.seen:
        drawn = steps is not None and steps.repeat_slots is None and base.code != Clock.APART
        # A step just where a drawn order says, and none clearer elsewhere, is no chance that ends could outweigh.
        there = drawn and steps is not None and steps.same_sign and steps.z0 >= THERE and steps.z - steps.z0 < CLEARER
        return base if there else by_ends
    slot_min = steps.slot_min
    best, half = steps.best * slot_min, None if steps.half_slots is None else steps.half_slots * slot_min
    within = max(steps.high - steps.best, steps.best - steps.low, 1) * slot_min
    by_steps = replace(base, shift_min=best, within_min=within, by="steps")
    if half is not None and ends_min is not None:
        # The steps say where within the plan's period, the ends which period.
        lobe = best + round((ends_min - best) / half) * half
        if steps.fits or abs(lobe - ends_min) > min(LOBE_SLOTS * slot_min, half / 2 - slot_min):
            return by_ends
        return replace(by_steps, code=Clock.SHIFTED, shift_min=lobe, by="both")
    if steps.fits:
        return replace(by_steps, code=Clock.FITS, shift_min=0.0, other_min=None if half is None else -half)
    if half is None:
        return replace(by_steps, code=Clock.SHIFTED)
    return replace(by_steps, code=Clock.AMBIGUOUS, other_min=best - half if best > 0 else best + half)

"""The station's level from day to day, against controls that the same receivers heard at the same times.

Each report of the station is held against the control's nearest at the same receiver, band and mode. What the band does to
both cancels; what is left is the difference of the two stations, one number a day, from which each receiver's own liking
for one of them is taken off. Reports near the decoding limit are cut where both stations would have been lost.
Source of the cut: Honore (1992), Econometrica 60, 533-565; of the robust weights: Huber (1964), Annals of Mathematical
Statistics 35, 73-101.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import schedule as schedules
from reach.base import keys
from reach.compare import estimate, evidence
from reach.compare.design import TIE_MIN
from reach.compare.reports import WHOLE_DB, one_after_another

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

WITHIN_MIN: Final = 10.0  # the control's report from the station's
FEWEST_A_DAY: Final = 3.0  # pairs at a receiver for it to count that day
FADING: Final = 8.0  # pairs at which fading weighs as much as what differs from receiver to receiver
FEWEST_DAYS_HEARD: Final = 3  # of a receiver
LEAST_WEIGHT: Final = 2.0  # of a day: some three receivers
JOINED: Final = 5.0  # weight of a day at which a control counts half
HUBER: Final = 1.5
ROUNDS: Final = 6
PASSES: Final = 12
_DAY_MIN: Final = 1440.0


@dataclass(frozen=True)
class Heard:
    """Reports of one transmitter, sorted by unit, then time; one row a (unit, time). All shape (n,).

    unit      which receiver on which band and mode, numbered over all transmitters alike; receiver : which receiver
    time_min  minutes since 1970; day : days since 1970, UTC
    snr_db    as reported; power_db : power above a common reference; floor_db : that receiver's decoding limit
    """

    unit: Ints
    receiver: Ints
    time_min: Floats
    day: Ints
    snr_db: Floats
    power_db: Floats
    floor_db: Floats


def heard(tables: Sequence[pd.DataFrame], decoding_limit_db: float | None = None) -> list[Heard]:
    """The reports of some transmitters with units and decoding limits in common.

    tables : spots of each, with the columns of evidence.NEEDED; power_w, where a row has it, is taken off
    decoding_limit_db : where it is known
    Returns Heard for each, in their order.
    """
    whose = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
    spots = pd.concat([_plain(table) for table in tables], ignore_index=True)
    complete = spots[list(evidence.NEEDED)].notna().all(axis=1).to_numpy()
    spots, whose = spots[complete], whose[complete]
    if spots.empty:
        none, no = np.empty(0, np.int64), np.empty(0)
        return [Heard(none, none, no, none, no, no, no) for _ in tables]
    receiver = np.asarray(spots.groupby(["rx_call", "rx_locator"], sort=False).ngroup(), dtype=np.int64)
    channel, mode = evidence.channels(spots)
    unit = np.unique(receiver * keys.room(channel) + channel, return_inverse=True)[1].astype(np.int64)
    time_min, snr_db = schedules.micros(spots["time_utc"]) / 60e6, evidence.snr(spots["snr_db"])
    power_db = _power_db(spots["power_w"].to_numpy(float), whose)
    # Of reports of one moment the strongest; before limits are looked for, or a row told twice would count twice.
    order = np.lexsort((-snr_db, time_min, unit, whose))
    row = order[keys.begins(*(key[order] for key in (unit, time_min, whose)))]
    floor_db = estimate.limits(snr_db[row], receiver[row], mode[row], decoding_limit_db).threshold_db
    day = np.floor(time_min / _DAY_MIN).astype(np.int64)
    every = (*(column[row] for column in (unit, receiver, time_min, day, snr_db, power_db)), floor_db)
    return [Heard(*(column[whose[row] == one] for column in every)) for one in range(len(tables))]


def _plain(table: pd.DataFrame) -> pd.DataFrame:
    """The columns that count, receivers as callsign and square; texts as texts, as categories of two tables are not each
    other's."""
    kept = table.reindex(columns=[*evidence.NEEDED, "mode", "power_w"])
    call, where = (kept[name].astype("category") for name in ("rx_call", "rx_locator"))
    texts = {"rx_call": call.map(str.upper), "rx_locator": where.map(evidence.square_of), "band": kept["band"]}
    return kept.assign(**{name: column.astype(object) for name, column in (texts | {"mode": kept["mode"]}).items()})


def _power_db(power_w: Floats, whose: Ints) -> Floats:
    """Power above the transmitter's usual one; 0 where a row does not say, and for who never says."""
    found = np.zeros(len(power_w))
    for one in np.unique(whose):
        mine = whose == one
        known = mine & np.isfinite(power_w) & (power_w > 0)
        if known.any():
            found[known] = 10 * np.log10(power_w[known] / np.median(power_w[known]))
    return found


@dataclass(frozen=True)
class Pairs:
    """Reports of the station with the control's nearest. All shape (n,).

    unit, receiver, day  of the station's report; ours_db, theirs_db : as reported
    power_db    the station's power above its usual one, less the control's; floor_db : where both are cut
    """

    unit: Ints
    receiver: Ints
    day: Ints
    ours_db: Floats
    theirs_db: Floats
    power_db: Floats
    floor_db: Floats

    def __len__(self) -> int:
        return len(self.unit)


def pairs(ours: Heard, theirs: Heard) -> Pairs:
    """Each report of the station with the control's nearest at the same unit within ten minutes; of two as near the earlier."""
    if not len(ours.unit) or not len(theirs.unit):
        none, no = np.empty(0, np.int64), np.empty(0)
        return Pairs(none, none, none, no, no, no, no)
    unit, time_min = np.append(ours.unit, theirs.unit), np.append(ours.time_min, theirs.time_min)
    every = one_after_another(unit, time_min, WITHIN_MIN + TIE_MIN)
    mine, other = np.split(every, [len(ours.unit)])
    after = np.maximum(np.searchsorted(other, mine), 1)
    before, after = after - 1, np.minimum(after, len(other) - 1)
    near = np.where(np.abs(other[after] - mine) < np.abs(other[before] - mine), after, before)
    close = np.flatnonzero((theirs.unit[near] == ours.unit) & (np.abs(other[near] - mine) <= WITHIN_MIN + TIE_MIN))
    near = near[close]
    return Pairs(
        ours.unit[close],
        ours.receiver[close],
        ours.day[close],
        ours.snr_db[close],
        theirs.snr_db[near],
        ours.power_db[close] - theirs.power_db[near],
        ours.floor_db[close],
    )


@dataclass(frozen=True)
class Level:
    """The station's level above one control, or above several joined.

    days       (n,) days since 1970 that have one, rising
    level_db   (n,) mean 0; weight : (n,) of each; receivers : (n,) units behind each
    kept       share of the pairs above the decoding limit
    """

    days: Ints
    level_db: Floats
    weight: Floats
    receivers: Ints
    kept: float


def level(found: Pairs) -> Level:
    """The level day by day from pairs with one control, one at least; of no days where there are too few."""
    unit_no, unit = np.unique(found.unit, return_inverse=True)
    days, day = np.unique(found.day, return_inverse=True)
    units, n_days = len(unit_no), len(days)
    beta, whole = np.zeros(len(found)), _whole(found)
    for _ in range(ROUNDS):
        d, omega = _cut(found, beta, whole)
        at, mean_db, n = _receiver_days(unit * n_days + day, d, omega)
        of_unit, of_day = np.divmod(at, n_days)
        use = (np.bincount(of_unit, minlength=units) >= FEWEST_DAYS_HEARD)[of_unit]
        of_unit, of_day, mean_db = of_unit[use], of_day[use], mean_db[use]
        weight = n[use] / (n[use] + FADING)
        if not len(weight):
            return Level(np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0, np.int64), 0.0)
        liking, theta = two_way(mean_db, weight, of_unit, of_day, units, n_days, robust=True)
        usual = np.where(np.isnan(liking), np.nanmedian(liking), liking)
        beta = usual[unit] + np.nan_to_num(theta)[day]
    total = np.bincount(of_day, weight, minlength=n_days).astype(float)
    there = total >= LEAST_WEIGHT
    receivers = np.bincount(of_day, minlength=n_days)
    level_db = theta[there] - theta[there].mean() if there.any() else theta[there]
    return Level(days[there], level_db, total[there], receivers[there].astype(np.int64), float(omega.mean()))


def _whole(found: Pairs) -> bool:
    both = np.concatenate([found.ours_db, found.theirs_db])
    return float(np.abs(both - np.round(both)).max()) <= WHOLE_DB


def _cut(found: Pairs, beta_db: Floats, whole: bool) -> tuple[Floats, Floats]:
    """Differences with power taken off, and the share of each pair above the level where both would have been heard.

    A whole-dB report stands for half a dB either way, and the part of that above the cut counts.
    """
    ahead = beta_db + found.power_db
    low = found.floor_db + np.maximum(-ahead, 0)
    half = 0.5 if whole else 0.0
    ours = _share(found.ours_db - ahead - low, half)
    theirs = _share(found.theirs_db - low, half)
    d = found.ours_db - found.theirs_db - found.power_db + half * (theirs - ours)
    return d, ours * theirs


def _share(above_db: Floats, half: float) -> Floats:
    return np.clip(above_db + half, 0, 1) if half else (above_db >= 0).astype(float)


def _receiver_days(key: Ints, d: Floats, omega: Floats) -> tuple[Ints, Floats, Floats]:
    """The mean of each receiver and day with enough pairs: its key, mean and number of pairs."""
    n = np.bincount(key, omega).astype(float)
    at = np.flatnonzero(n >= FEWEST_A_DAY).astype(np.int64)
    return at, np.bincount(key, omega * d)[at] / n[at], n[at]


def two_way(
    y: Floats, weight: Floats, row: Ints, column: Ints, rows: int, columns: int, *, robust: bool = False
) -> tuple[Floats, Floats]:
    """y = of its row + of its column, by alternating weighted means; columns with mean 0, NaN where there is nothing.

    robust : from the third pass what lies far off counts less
    """
    of_column, w = np.zeros(columns), weight
    of_row = np.zeros(rows)
    with np.errstate(invalid="ignore", divide="ignore"):
        for k in range(PASSES):
            of_row = np.bincount(row, w * (y - of_column[column]), rows) / np.bincount(row, w, rows)
            of_column = np.bincount(column, w * (y - of_row[row]), columns) / np.bincount(column, w, columns)
            of_column -= np.nanmean(of_column)
            if robust and k >= 1:
                z = (y - of_row[row] - of_column[column]) * np.sqrt(weight)
                s = 1.4826 * float(np.median(np.abs(z)))
                w = weight * np.minimum(1, HUBER * s / np.maximum(np.abs(z), 1e-12)) if s > 0 else weight
    return of_row, of_column


def joined(levels: Sequence[Level]) -> Level:
    """Several controls' levels as one: each with an offset of its own, days weighted by what stands behind them."""
    if len(levels) == 1:
        return levels[0]
    days, day = np.unique(np.concatenate([each.days for each in levels]), return_inverse=True)
    whose = np.repeat(np.arange(len(levels)), [len(each.days) for each in levels])
    behind = np.concatenate([each.weight for each in levels])
    y = np.concatenate([each.level_db for each in levels])
    if not len(days):
        return levels[0]
    _, theta = two_way(y, behind / (behind + JOINED), whose, day, len(levels), len(days))
    receivers = np.zeros(len(days), dtype=np.int64)
    np.maximum.at(receivers, day, np.concatenate([each.receivers for each in levels]))
    kept = float(np.average([each.kept for each in levels], weights=[max(each.weight.sum(), 1e-9) for each in levels]))
    return Level(days, theta, np.bincount(day, behind).astype(float), receivers, kept)


def alone(ours: Heard) -> Level:
    """The level without any control: each report less the receiver's usual level at that half hour, the mean of a day.

    It moves with the band as much as with the antenna, and no verdict rests on it.
    """
    if not len(ours.unit):
        return Level(np.empty(0, np.int64), np.empty(0), np.empty(0), np.empty(0, np.int64), 0.0)
    hour = (ours.time_min % _DAY_MIN // 30).astype(np.int64)
    key = np.unique(ours.unit * 48 + hour, return_inverse=True)[1]
    y = ours.snr_db - ours.power_db
    days, day = np.unique(ours.day, return_inverse=True)
    off = y - (np.bincount(key, y) / np.bincount(key))[key]
    count = np.bincount(day)
    units = pd.Series(ours.unit).groupby(day).nunique().to_numpy().astype(np.int64)
    level_db = np.bincount(day, off) / count
    return Level(days, level_db - level_db.mean(), count.astype(float), units, 1.0)

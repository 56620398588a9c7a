"""The reports of two setups as sorted arrays: what every number of the comparison is computed from."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from pandas.util import hash_array

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

GOLDEN: Final = 0.6180339887498949
WHOLE_DB: Final = 1e-3  # float32 holds -28.0 to 2e-6; a report this near a whole dB is one


@dataclass(frozen=True)
class Reports:
    """One row a report, sorted by unit, then time, then setup. All shape (n,).

    time_min  minutes since 00 UTC of the first day
    receiver  who heard it: 0..R-1 (a callsign in one locator square)
    channel   which band and mode: 0..C-1
    unit      which receiver in which channel, 0..U-1; only reports of one unit are ever paired
    is_a      heard with setup A (else with B)
    snr_db    as reported
    power_db  power of the transmission above a common reference
    level_db  as reported, rounding spread out, that power taken off
    """

    time_min: Floats
    receiver: Ints
    channel: Ints
    unit: Ints
    is_a: Bools
    snr_db: Floats
    power_db: Floats
    level_db: Floats

    def __len__(self) -> int:
        return len(self.time_min)

    def take(self, chosen: npt.NDArray[np.generic]) -> Reports:
        """Some of the rows, by mask or index in rising order; receivers and units keep their numbers."""
        return replace(self, **{f.name: getattr(self, f.name)[chosen] for f in fields(self)})


@dataclass(frozen=True)
class Cleaned:
    """Reports with what was done to get them.

    reports     sorted, one row a (time, receiver, channel, setup)
    row         the row of the input that each came from, shape (n,)
    duplicates  rows left out because the same receiver reported the same transmission more strongly
    start_us    the moment that `time_min` counts from [us since 1970]
    """

    reports: Reports
    row: Ints
    duplicates: int
    start_us: int


def clean(
    time_us: Ints,
    receiver: Ints,
    channel: Ints,
    is_a: Bools,
    snr_db: Floats,
    *,
    power_db: Floats | float = 0.0,
    a_first: bool = True,
) -> Cleaned:
    """One row a (time, receiver, channel, setup), the strongest; sorted; rounding spread out; power taken off.

    time_us : microseconds since 1970; receiver, channel : codes from 0, in any numbering
    is_a : with setup A; snr_db : as reported; all shape (n,)
    power_db : power of each transmission above a common reference [dB], shape (n,) or one number for all
    a_first : which setup comes first among reports of one moment; go by the setups' names, so that exchanging
        A and B changes no order
    Returns Cleaned. Receivers and channels are renumbered by what they heard, so that their names, and the order of
    the rows, change no number.
    """
    second = is_a != a_first
    strongest = np.lexsort((-snr_db, second, channel, receiver, time_us))
    keys = np.stack([a[strongest] for a in (time_us, receiver, channel, second.astype(np.int64))])
    first = np.ones(len(strongest), dtype=bool)
    first[1:] = (keys[:, 1:] != keys[:, :-1]).any(axis=0)
    row = strongest[first]
    duplicates = len(time_us) - len(row)

    what = _mix(time_us[row], _above_weakest(snr_db[row], second[row]), second[row].astype(np.int64))
    channel_no = _renumber(channel[row], what)
    receiver_no = _renumber(receiver[row], _mix(what.astype(np.int64), channel_no, channel_no))
    n_channels = int(channel_no.max()) + 1 if len(row) else 1
    both = receiver_no * n_channels + channel_no
    order = np.lexsort((second[row], time_us[row], both))
    row, receiver_no, channel_no, both = row[order], receiver_no[order], channel_no[order], both[order]

    day_us = 86_400_000_000
    start = time_us.min() // day_us * day_us if len(time_us) else 0
    chosen_a = is_a[row]
    snr = snr_db[row].astype(float)
    power = np.broadcast_to(np.asarray(power_db, dtype=float), is_a.shape)[row]
    reports = Reports(
        time_min=(time_us[row] - start) / 60e6,
        receiver=receiver_no,
        channel=channel_no,
        unit=np.unique(both, return_inverse=True)[1].astype(np.int64),
        is_a=chosen_a,
        snr_db=snr,
        power_db=power,
        level_db=snr + _rounding(snr, chosen_a) - power,
    )
    return Cleaned(reports, row, duplicates, int(start))


def _above_weakest(snr_db: Floats, second: Bools) -> Ints:
    """Thousandths of a dB above the weakest report of the same setup: what an offset of one setup does not change."""
    above = np.zeros(len(snr_db))
    for setup in (second, ~second):
        if setup.any():
            above[setup] = snr_db[setup] - snr_db[setup].min()
    return np.round(above * 1000).astype(np.int64)


def _rounding(snr_db: Floats, is_a: Bools) -> Floats:
    """What spreads whole-dB reports evenly over their dB: a fixed low-discrepancy sequence, not a random one.

    Without it a threshold at a fraction of a dB cuts A and B at different levels. Each setup may lie on its own
    whole-dB grid (an offset added to all its reports); reports on no grid are left as they are.
    """
    spread = np.mod(np.arange(1, len(snr_db) + 1) * GOLDEN, 1.0) - 0.5
    for setup in (is_a, ~is_a):
        if setup.any():
            off = snr_db[setup] - snr_db[setup][0]
            if np.abs(off - np.round(off)).max() > WHOLE_DB:
                return np.zeros(len(snr_db))
    return spread


# Where hashing starts: 2**64 over the golden ratio. Another number would spread the decibels in another order.
START: Final = 0x9E3779B97F4A7C15


def _mix(*columns: Ints) -> npt.NDArray[np.uint64]:
    """A 64-bit hash of each row, the same on every machine. Each column is mixed with the hash of those before it, so
    that the order of the columns matters and two equal ones do not cancel out."""
    mixed = np.full(len(columns[0]), START, dtype=np.uint64)
    for column in columns:
        mixed = hash_array(mixed + column.astype(np.uint64))
    return mixed


def _renumber(codes: Ints, what: npt.NDArray[np.uint64]) -> Ints:
    """Codes from 0 in an order that depends on the rows behind each code only, not on its old number."""
    if not len(codes):
        return codes
    _, dense = np.unique(codes, return_inverse=True)
    order = np.argsort(dense, kind="stable")
    starts = np.flatnonzero(np.diff(dense[order], prepend=-1))
    rank = np.argsort(np.argsort(np.add.reduceat(what[order], starts), kind="stable"), kind="stable")
    return rank[dense].astype(np.int64)

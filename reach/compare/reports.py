"""The reports of two setups as sorted arrays: what every number of the comparison is computed from."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.base import keys

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

WHOLE_DB: Final = 1e-3  # float32 holds -28.0 to 2e-6; a report this near a whole dB is one


@dataclass(frozen=True)
class Reports:
    """One row a report, sorted by unit, then time, then setup. All shape (n,).

    Setups are sorted only to have one order of rows: no number hangs on which comes first.

    time_min  minutes since 00 UTC of the first day
    receiver  who heard it: 0..R-1 (a callsign in one locator square)
    channel   which band and mode: 0..C-1
    unit      which receiver in which channel, 0..U-1; only reports of one unit are ever paired
    is_a      heard with setup A (else with B)
    snr_db    as reported
    power_db  power of the transmission above a common reference
    level_db  as reported, that power taken off
    round_db  the signal lay within so much of the report: 0.5 where reports are whole dB, 0 where they are not
    """

    time_min: Floats
    receiver: Ints
    channel: Ints
    unit: Ints
    is_a: Bools
    snr_db: Floats
    power_db: Floats
    level_db: Floats
    round_db: Floats

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


def clean(time_us: Ints, receiver: Ints, channel: Ints, is_a: Bools, snr_db: Floats, power_db: Floats) -> Cleaned:
    """One row a (time, receiver, channel, setup), the strongest; sorted; power taken off.

    time_us : microseconds since 1970; receiver, channel : codes from 0, in any numbering
    is_a : with setup A; snr_db : as reported; power_db : of each transmission, above a common reference [dB]; all shape (n,)
    """
    unit = np.unique(receiver * keys.room(channel) + channel, return_inverse=True)[1]
    strongest = np.lexsort((-snr_db, is_a, time_us, unit))
    row = strongest[keys.begins(*(key[strongest] for key in (unit, time_us, is_a)))]
    day_us = 86_400_000_000
    start = time_us.min() // day_us * day_us if len(time_us) else 0
    snr = snr_db[row].astype(float)
    chosen_a, power = is_a[row], power_db[row]
    reports = Reports(
        time_min=(time_us[row] - start) / 60e6,
        receiver=receiver[row],
        channel=channel[row],
        unit=unit[row].astype(np.int64),
        is_a=chosen_a,
        snr_db=snr,
        power_db=power,
        level_db=snr - power,
        round_db=_rounding(snr, chosen_a),
    )
    return Cleaned(reports, row, duplicates=len(time_us) - len(row), start_us=int(start))


def one_after_another(group: Ints, time_min: Floats, gap_min: float) -> Floats:
    """Groups on one axis of time, each behind the one before it: rows of two groups lie farther apart than `gap_min`, those of one
    group as they did.

    group, time_min : shape (n,), n > 0
    """
    since = time_min - time_min.min()  # small numbers, of which more digits are left
    return group * (since.max() + gap_min + 1) + since


def _rounding(snr_db: Floats, is_a: Bools) -> Floats:
    """Half a decibel for a setup whose reports all lie on one grid of whole decibels, be it a shifted one; else 0."""
    half = np.zeros(len(snr_db))
    for setup in (is_a, ~is_a):
        if setup.any():
            off = snr_db[setup] - snr_db[setup].min()
            half[setup] = 0.5 if np.abs(off - np.round(off)).max() <= WHOLE_DB else 0.0
    return half

"""Strength: are a receiver's reports as strong as others from that far, on that band, in that hour?

Reports are held against those of all other receivers in the same hour, on the same band and in the same ring of
distance. A receiver with a quiet place and a good antenna is stronger than others by nature, so this is weak evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys
from reach.spots import RING_EDGES_KM
from reach.suspects.claims import Claims

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

LEAST_OTHERS: Final = 8  # reports of others, to hold against
_LOWEST_DB: Final = -60
_BINS: Final = 122  # whole decibels from there, and one for reports without strength
_LEAST_SPREAD_DB: Final = 4.0
_AT_ONCE: Final = 2000  # claims and groups worked on together: what a processor holds beside it
_MOST_HOURS: Final = 200_000
_HOUR_US: Final = 3_600_000_000


@dataclass(frozen=True)
class Strength:
    """How far each claim's reports are out of keeping, shape (claims,) each.

    spreads   mean difference to the others' median, in spreads (robust standard deviations) of the others; NaN where
              too few others were there to hold against
    excess_db the same in decibels
    """

    spreads: Floats
    excess_db: Floats


def strength(spots: pd.DataFrame, claims: Claims, asked: npt.NDArray[np.bool_]) -> Strength:
    """Hold the reports of some claims against those of others.

    spots : the table the claims are of; needs time_utc and snr_db
    asked : bool, shape (claims,): the claims to look at; the others get NaN
    """
    rows = claims.rows_of(asked)
    sums, weights, excess = (np.zeros(len(claims)) for _ in range(3))
    if len(rows):
        group, size = _groups(spots, claims)
        level = _levels(spots)
        # Only groups that some asked claim is in are counted, and these are numbered without gaps.
        wanted = np.zeros(size, dtype=bool)
        wanted[group[rows]] = True
        rank = np.cumsum(wanted) - 1
        inside = np.flatnonzero(wanted[group])
        every = _counts(rank[group[inside]], level[inside], int(wanted.sum()))
        claim = claims.claim_of(rows)
        pairs, pair = np.unique(claim * size + group[rows], return_inverse=True)
        by_pair = np.argsort(pair, kind="stable")
        ends = np.searchsorted(pair, np.arange(0, len(pairs) + _AT_ONCE, _AT_ONCE), sorter=by_pair)
        for start, some in zip(range(0, len(pairs), _AT_ONCE), np.split(by_pair, ends[1:]), strict=False):
            here = pairs[start : start + _AT_ONCE]
            own = _counts(pair[some] - start, level[rows[some]], len(here))
            others = every[rank[here % size]] - own
            n, more, difference = _against(own, others)
            at = here // size
            # A claim's reports lie in many groups; each group counts by how many of its own reports it holds.
            np.add.at(sums, at, n * difference / more)
            np.add.at(excess, at, n * difference)
            np.add.at(weights, at, n)
    known = np.where(weights > 0, weights, np.nan)
    return Strength(spreads=sums / known, excess_db=excess / known)


def _groups(spots: pd.DataFrame, claims: Claims) -> tuple[Ints, int]:
    """A number for the hour, band and ring of each row; and how many there can be."""
    ring = np.searchsorted(RING_EDGES_KM, claims.cell_distance_km, side="right")
    of_cell = claims.cell_band * (len(RING_EDGES_KM) + 1) + ring
    width = keys.room(of_cell)
    hour = spots["time_utc"].dt.as_unit("us").astype("int64").to_numpy() // _HOUR_US
    hour -= hour.min()
    if hour.max() > _MOST_HOURS:  # years apart: number the hours that there are
        hour = np.unique(hour, return_inverse=True)[1]
    return hour * width + of_cell[claims.cell_of_row], keys.room(hour) * width


def _levels(spots: pd.DataFrame) -> Ints:
    """Whole decibels above the lowest; the last bin where there is no strength."""
    snr = spots["snr_db"].to_numpy()
    level = np.clip(np.rint(np.nan_to_num(snr, nan=0.0)) - _LOWEST_DB, 0, _BINS - 2).astype(np.int64)
    level[np.isnan(snr)] = _BINS - 1
    return level


def _counts(group: Ints, level: Ints, groups: int) -> Ints:
    """Reports by group and level, those without strength left out; shape (groups, levels)."""
    return np.bincount(group * _BINS + level, minlength=groups * _BINS).reshape(groups, _BINS)[:, :-1]


def _against(own: Ints, others: Ints) -> tuple[Floats, Floats, Floats]:
    """Own reports that can be held against others, the others' spread, and the difference of own mean to their median.

    own, others : counts, shape (pairs, levels). Returns three arrays of shape (pairs,).
    """
    level = np.arange(own.shape[1])
    n = own.sum(axis=1).astype(float)
    mean = (own * level).sum(axis=1) / np.maximum(n, 1)
    upto = np.cumsum(others, axis=1)
    n[upto[:, -1] < LEAST_OTHERS] = 0
    low, middle, high = (_quantile(upto, share) for share in (0.25, 0.5, 0.75))
    spread = np.maximum((high - low) / 1.349, _LEAST_SPREAD_DB)  # quartiles of a normal distribution
    return n, spread, mean - middle


def _quantile(upto: Ints, share: float) -> Floats:
    """The level below or at which a share of each group lies. upto : reports at each level or below."""
    return (upto >= share * upto[:, -1:]).argmax(axis=1).astype(float)

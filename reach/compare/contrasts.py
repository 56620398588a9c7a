"""Contrasts: each report against the other setup's reports just before and just after it, at the same receiver."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reach.compare.reports import Floats, Ints, Reports


@dataclass(frozen=True)
class Contrasts:
    """A minus B, one row a contrast.

    row            which of the reports each is about, shape (m,)
    difference_db  shape (m,)
    """

    row: Ints
    difference_db: Floats


def in_time(reports: Reports, within_min: float) -> Contrasts:
    """Every report against a straight line between its neighbours of the other setup: A-B-A and B-A-B.

    reports : sorted, n rows; within_min : how far away in time each of the two neighbours may lie
    Returns Contrasts. A steady drift of the band cancels; a report with a neighbour on one side only gives none.
    """
    n = len(reports)
    index = np.arange(n)
    starts = np.searchsorted(reports.unit, reports.unit, side="left")
    ends = np.searchsorted(reports.unit, reports.unit, side="right")
    before = np.where(reports.is_a, _last(~reports.is_a), _last(reports.is_a))
    after = np.where(reports.is_a, _next(~reports.is_a), _next(reports.is_a))
    both = (before >= starts) & (after < ends)
    row, before, after = index[both], before[both], after[both]
    near = reports.time_min[row] - reports.time_min[before] <= within_min
    near &= reports.time_min[after] - reports.time_min[row] <= within_min
    row, before, after = row[near], before[near], after[near]
    since = reports.time_min[row] - reports.time_min[before]
    until = reports.time_min[after] - reports.time_min[row]
    level = reports.level_db
    line = (until * level[before] + since * level[after]) / (since + until)
    sign = np.where(reports.is_a[row], 1.0, -1.0)
    return Contrasts(row, sign * (level[row] - line))


def at_once(reports: Reports) -> Contrasts:
    """A minus B of one moment at one receiver, for setups on the air together.

    reports : sorted, n rows
    Returns Contrasts, `row` being the first of the two.
    """
    same = (reports.unit[1:] == reports.unit[:-1]) & (reports.time_min[1:] == reports.time_min[:-1])
    row = np.flatnonzero(same)
    step = reports.level_db[row] - reports.level_db[row + 1]
    return Contrasts(row, np.where(reports.is_a[row], step, -step))


def _last(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or before it, -1 where there is none."""
    return np.maximum.accumulate(np.where(chosen, np.arange(len(chosen)), -1))


def _next(chosen: np.ndarray) -> Ints:
    """For each place the nearest chosen one at or after it, n where there is none."""
    n = len(chosen)
    return np.minimum.accumulate(np.where(chosen, np.arange(n), n)[::-1])[::-1]

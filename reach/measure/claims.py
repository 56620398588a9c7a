"""The one gate for every claim: what a title, a sentence or a slide may single out, and why it may not.

Of any numbers one is the largest. To say so ("most reports came between 20:00 and 21:00") is a claim about the signal only
where the largest stands apart from all others by more than chance. Chance is that of receivers: a station that reports
five hundred times is one listener, so each callsign with all its reports is one observation (a cluster). Every function
returns a `Claim` of codes and values; `tell.sentences` says it, or says the plain thing instead.

What is compared with the largest is compared in each receiver: how far it tells for the one and for the other. Were the
two alike, every such difference might as well have the other sign, and that is what the test asks: how often would signs
drawn by lot give as much? It needs no normal distribution, holds for receivers of very unequal zeal, and three receivers
can never pass it, since three signs agree too often. The number of candidates is allowed for: whichever comes out first
has to stand apart from each of the others, two-sided, which keeps the chance of a false winner at that of one test (Hung
and Fithian); a tie, which leaves the others behind without a winner, is tested at Sidak's level for all pairs. CLAIMS.md
shows how often a claim is false on data that are uniform by construction, and what differences are found.

Source of the test: Fisher (1935), The Design of Experiments, section 21; Efron (1969), Student's t-test under symmetry
conditions, JASA 64, 1278-1302. Of the allowance: Hung, Fithian (2019), Rank verification for exponential families, Annals of
Statistics 47, 758-782; Sidak (1967), Rectangular confidence regions for the means of
multivariate normal distributions, JASA 62, 626-633.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys, quantile

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

FEW_REPORTS, FEW_RECEIVERS = 10, 3  # with less than either, nothing is singled out
MOST_ALIKE: Final = 3  # more than so many that are alike are no tie but a plain
LEVEL: Final = (
    0.025  # chance of a false claim: half of what is promised, so that 300 seeds can show that the promise holds
)
_SIGNS: Final = 12  # receivers whose signs are all tried out: 4 096 ways
_CLOSEST: Final = 24  # rivals that the slow test looks at; those farther behind pass the quick one
MIX_DIFFERS: Final = 0.2  # share of reports that would have to change band (or setup) for the mix to be the same


class Kind(StrEnum):
    """What is singled out. The winner is what stands behind the dash."""

    FULLEST_HOUR = "fullest-hour"  # hour of the day, 0..23 UTC
    FARTHEST_HOUR = "farthest-hour"  # the same, by median distance
    FULLEST_SECTOR = "fullest-sector"  # centre of the direction [deg]
    FARTHEST_SECTOR = "farthest-sector"  # the same, by median distance
    FULLEST_SQUARE = "fullest-square"  # locator square
    FARTHEST_BAND = "farthest-band"  # band, by median distance
    HOUR_AND_SECTOR = "hour-and-sector"  # (hour of the day, centre of the direction)
    HOUR_OF_THE_FAR = "hour-of-the-far"  # hour of the day with most reports of the farthest ring
    CALENDAR_HOUR = "calendar-hour"  # hours since 1970 UTC
    FARTHEST_STEP = "farthest-step"  # first day of a week, month or year, by median distance
    WEAKER = "weaker"  # where near ends, or where far begins [km], whichever is the weaker; values : medians with their sign turned
    RECEIVERS = "receivers"  # True where more receivers tell for the first setup, False where more for the second
    STRETCHES = "stretches"  # the same of stretches on the air


class Reason(StrEnum):
    """Why something is singled out or not."""

    APART = "apart"  # it stands apart from every other: it may be said
    ALIKE = "alike"  # others may be as large: `Claim.alike`
    FEW = "few"  # fewer than FEW_REPORTS or FEW_RECEIVERS behind it
    ALONE = "alone"  # there is no other to be larger than


class Confounder(StrEnum):
    """What the difference may come from instead. A claim of counts holds all the same; its cause is open."""

    ON_THE_AIR = "on-the-air"  # reports do not tell how long the station was sending in each hour
    BAND = "band"  # it had other bands than the rest
    SETUP = "setup"  # it had other setups than the rest
    LISTENERS = "listeners"  # where more people listen, more reports come from
    TIME = "time"  # receivers and stretches share the changes of the band, which a count of them leaves out


@dataclass(frozen=True)
class Claim:
    """Whether something may be singled out.

    winner, runner_up  as `kind` says, by size; None where there is none
    reason      APART, or why nothing is singled out
    alike       the winner and those that it does not stand apart from, by size
    reports, receivers  behind the winner
    candidates  how many there were to choose from
    p           of the closest test, before the number of candidates is allowed for; NaN where none was made
    value, next_value   of winner and runner-up: reports, a median, or how many
    confounders what the difference may come from instead
    """

    kind: Kind
    winner: Any = None
    runner_up: Any = None
    reason: Reason = Reason.FEW
    alike: tuple[Any, ...] = ()
    reports: int = 0
    receivers: int = 0
    candidates: int = 0
    p: float = math.nan
    value: float = math.nan
    next_value: float = math.nan
    confounders: tuple[Confounder, ...] = ()

    @property
    def apart(self) -> bool:
        """Whether it may be singled out."""
        return self.reason == Reason.APART

    @property
    def tie(self) -> tuple[Any, ...]:
        """Those that may be named as a tie: two or three that are alike and together stand apart; else empty."""
        few_enough = 1 < len(self.alike) <= MOST_ALIKE and len(self.alike) < self.candidates
        return self.alike if self.reason == Reason.ALIKE and few_enough else ()


# --- counts -----------------------------------------------------------------------------------------------------------


def fullest(
    kind: Kind,
    names: Sequence[Any],
    category: npt.ArrayLike,
    receiver: npt.ArrayLike,
    reports: npt.ArrayLike,
) -> Claim:
    """Whether one category has more reports than every other.

    names : of the categories, n of them; of two that are equal the earlier one is the winner
    category : shape (rows,), 0..n-1; receiver : shape (rows,), whole numbers; reports : shape (rows,), >= 0
    Only categories with reports are candidates.
    Returns Claim.
    """
    cells = _Cells.of(category, receiver, reports, len(names))
    there = np.flatnonzero(cells.total > 0)
    if not len(there):
        return Claim(kind)
    ranked = there[np.argsort(-cells.total[there], kind="stable")]
    winner, rivals = int(ranked[0]), ranked[1:]
    p = cells.tests(winner, rivals)
    return _claim(kind, names, ranked, cells.total, cells, p)


@dataclass(frozen=True)
class _Cells:
    """Reports by receiver and category, without the empty ones. total, receivers : of each category."""

    category: Ints
    receiver: Ints
    reports: Floats
    total: Floats
    receivers: Ints

    @classmethod
    def of(cls, category: npt.ArrayLike, receiver: npt.ArrayLike, reports: npt.ArrayLike, size: int) -> _Cells:
        at, who, count = np.asarray(category, np.int64), np.asarray(receiver, np.int64), np.asarray(reports, float)
        used = count > 0
        if not used.all():
            at, who, count = at[used], who[used], count[used]
        # As np.unique would, in linear time: a year has millions of cells.
        _, who = keys.distinct(who, keys.room(who))
        key, inverse = keys.distinct(who * size + at, keys.room(who) * size)
        summed: Floats = np.bincount(inverse, count, len(key)).astype(np.float64)
        who, at = np.divmod(key, size)
        total = np.asarray(np.bincount(at, summed, size), dtype=np.float64)
        return cls(at, who, summed, total, np.bincount(at, minlength=size).astype(np.int64))

    def tests(self, winner: int, rivals: Ints) -> Floats:
        """The p of winner against each rival. The quick test needs sums alone, so thousands of squares cost one pass."""
        size = len(self.total)
        mine = np.zeros(keys.room(self.receiver))
        its = self.category == winner
        mine[self.receiver[its]] = self.reports[its]
        squares = np.bincount(self.category, self.reports**2, size)
        cross = np.bincount(self.category, self.reports * mine[self.receiver], size)
        spread = np.sqrt(np.maximum(squares[winner] + squares[rivals] - 2 * cross[rivals], 0.0))
        ahead = self.total[winner] - self.total[rivals]
        p = 2 * _beyond(np.abs(np.divide(ahead, spread, out=np.zeros(len(rivals)), where=spread > 0)))
        for k in np.argsort(-p, kind="stable")[:_CLOSEST]:
            if p[k] < LEVEL:  # what the quick test lets pass, the slow one looks at
                theirs = np.zeros_like(mine)
                its = self.category == rivals[k]
                theirs[self.receiver[its]] = self.reports[its]
                p[k] = max(p[k], by_lot(mine - theirs))
        return p


def closest(winner: int, category: npt.ArrayLike, receiver: npt.ArrayLike, amount: npt.ArrayLike) -> float:
    """The p of one category against the one that comes closest to it, by any amount that adds up: visits, reports a day.

    Arguments as for `fullest`, the winner being known
    Returns p, below LEVEL where the winner stands apart; NaN without another category.
    """
    at = np.asarray(category, np.int64)
    cells = _Cells.of(at, receiver, amount, keys.room(at))
    rivals = np.flatnonzero(cells.total)
    rivals = rivals[rivals != winner]
    return float(cells.tests(winner, rivals).max()) if len(rivals) else math.nan


# --- medians ----------------------------------------------------------------------------------------------------------


def farthest(
    kind: Kind,
    names: Sequence[Any],
    category: npt.ArrayLike,
    receiver: npt.ArrayLike,
    reports: npt.ArrayLike,
    values: npt.ArrayLike,
) -> Claim:
    """Whether the median report of one category is larger than that of every other: farther, or stronger.

    values : shape (rows,), such as a distance [km]; the others as for `fullest`. Only categories with FEW_REPORTS of
    FEW_RECEIVERS are candidates.
    Returns Claim, with the medians as values.
    """
    at, who = np.asarray(category, np.int64), np.asarray(receiver, np.int64)
    count, value = np.asarray(reports, float), np.asarray(values, float)
    cells = _Cells.of(at, who, count, len(names))
    there = np.flatnonzero((cells.total >= FEW_REPORTS) & (cells.receivers >= FEW_RECEIVERS))
    if not len(names):
        return Claim(kind)
    if not len(there):
        most = int(np.argmax(cells.total))
        return Claim(kind, reports=int(cells.total[most]), receivers=int(cells.receivers[most]))
    medians = np.full(len(names), np.nan)
    parts = {int(k): _Part(who[at == k], count[at == k], value[at == k]) for k in there}
    for k, part in parts.items():
        medians[k] = quantile.weighted(part.value, part.reports, [0.5])[0]
    ranked = there[np.argsort(-medians[there], kind="stable")]
    p = np.array([differ(parts[int(ranked[0])], parts[int(k)]) for k in ranked[1:]], dtype=float)
    return _claim(kind, names, ranked, medians, cells, p)


@dataclass(frozen=True)
class _Part:
    receiver: Ints
    reports: Floats
    value: Floats


def differ(one: _Part, other: _Part) -> float:
    """The p of two medians being one: do receivers lie above the common median for the one, below it for the other?

    A receiver heard in both is compared with itself. The shares are taken about the common median, not about each
    one's own: a single receiver has no spread about its own and would always seem to differ.
    """
    value = np.concatenate([one.value, other.value])
    reports = np.concatenate([one.reports, other.reports])
    middle = quantile.weighted(value, reports, [0.5])[0]
    above = np.where(value > middle, 1.0, np.where(value == middle, 0.5, 0.0))  # whole dB have many that are equal
    share = (above * reports).sum() / reports.sum()
    sign = np.repeat([1 / one.reports.sum(), -1 / other.reports.sum()], [len(one.value), len(other.value)])
    _, who = np.unique(np.concatenate([one.receiver, other.receiver]), return_inverse=True)
    # Of a receiver that both parts heard alike the last digits would stay, and count as a difference.
    return by_lot(np.round(np.bincount(who, (above - share) * reports * sign), 12))


# --- more of one than of the other ------------------------------------------------------------------------------------


def majority(kind: Kind, first: int, second: int, *, settled: bool) -> Claim:
    """Whether more of some things tell for the first of two than for the second: the sign test.

    first, second : how many tell for each
    settled : whether the comparison as a whole tells the two apart, in that direction. Receivers share the changes of the
        band, and neighbouring stretches share pairs, so that they are no independent votes: they may illustrate a verdict
        but never make one.
    Returns Claim; the winner is True for the first, False for the second. Source: Arbuthnot (1710); Dixon, Mood (1946), The
    statistical sign test, JASA 41, 557-566.
    """
    ahead, behind = max(first, second), min(first, second)
    n = ahead + behind
    p = min(1.0, 2 * sum(math.comb(n, k) for k in range(behind + 1)) / 2**n) if n else math.nan
    if n < FEW_RECEIVERS:
        reason = Reason.FEW
    else:
        reason = Reason.APART if settled and p < LEVEL else Reason.ALIKE
    winner = first >= second
    return Claim(
        kind=kind, winner=winner, runner_up=not winner, reason=reason, receivers=n, candidates=2, p=p, value=float(ahead),
        alike=(True, False) if reason == Reason.ALIKE else (winner,), next_value=float(behind),
        confounders=(Confounder.TIME,),
    )  # fmt: skip


# --- the test ---------------------------------------------------------------------------------------------------------


def by_lot(differences: npt.ArrayLike) -> float:
    """How often signs drawn by lot would give a sum as far from 0: two-sided.

    differences : shape (receivers,)
    All signs of the twelve largest are tried out; what the many small ones add together is taken as normal. The few large
    are what a normal distribution alone would get wrong: four receivers that agree do so once in eight.
    Returns p, 0..1; 1 where there is no difference.
    """
    size = np.abs(np.asarray(differences, float))
    size = np.sort(size[size > 0])[::-1]
    if not len(size):
        return 1.0
    # A sum of the same numbers in another order may differ in its last digits: what equals the total counts as reaching it.
    total = abs(float(np.asarray(differences, float).sum())) - 1e-9 * float(size.sum())
    large, small = size[:_SIGNS], size[_SIGNS:]
    sums, rest = _signs(len(large)) @ large, math.sqrt(float((small**2).sum()))
    if rest == 0.0:
        return float(np.mean(np.abs(sums) >= total))
    # With every way to sign the large ones there is its opposite, so what lies beyond the total counts for both ends.
    return float(min(1.0, 2 * _beyond((total - sums) / rest).mean()))


@cache
def _signs(count: int) -> Floats:
    """Every way to give so many numbers a sign: shape (2**count, count)."""
    bits = (np.arange(2**count)[:, None] >> np.arange(count)) & 1
    return (1 - 2 * bits).astype(np.float64)


def _beyond(z: Floats) -> Floats:
    """How much of a normal distribution lies above z."""
    from scipy.special import ndtr

    found: Floats = ndtr(-z)
    return found


def _claim(kind: Kind, names: Sequence[Any], ranked: Ints, value: Floats, cells: _Cells, p: Floats) -> Claim:
    """What is said of candidates in rank order. p : of the first against each of the others"""
    first, others = int(ranked[0]), ranked[1:]
    reports, receivers = cells.total, cells.receivers
    pairs = math.comb(len(ranked), 2)
    alike = others[p >= LEVEL]
    if len(alike):  # no winner; those that a tie leaves behind are to be behind by the stricter level
        alike = others[p >= 1 - (1 - LEVEL) ** (1 / pairs)]
    group = [first, *(int(k) for k in alike)]
    if any(reports[k] < FEW_REPORTS or receivers[k] < FEW_RECEIVERS for k in group):
        # One with too few may be as large: a tie with it would be no more than a guess.
        own = reports[first] < FEW_REPORTS or receivers[first] < FEW_RECEIVERS
        reason, group = (Reason.FEW, []) if own else (Reason.ALIKE, [int(k) for k in ranked])
    elif not len(others):
        reason = Reason.ALONE
    else:
        reason = Reason.ALIKE if len(alike) else Reason.APART
    return Claim(
        kind=kind,
        winner=names[first],
        runner_up=names[int(others[0])] if len(others) else None,
        reason=reason,
        alike=tuple(names[k] for k in group),
        reports=int(reports[first]),
        receivers=int(receivers[first]),
        candidates=len(ranked),
        p=float(p.max()) if len(p) else math.nan,
        value=float(value[first]),
        next_value=float(value[int(others[0])]) if len(others) else math.nan,
    )


# --- what else differs ------------------------------------------------------------------------------------------------


def confounded(claim: Claim, by: tuple[Confounder, ...]) -> Claim:
    """The claim with what it may come from instead."""
    return replace(claim, confounders=by)


def mix_differs(chosen: npt.NDArray[np.bool_], label: npt.NDArray[Any], reports: npt.ArrayLike) -> bool:
    """Whether chosen rows hold other labels (bands, setups) than the rest: the total variation between their shares.

    chosen, label, reports : shape (rows,)
    """
    count = np.asarray(reports, float)
    which, names = pd.factorize(label, use_na_sentinel=False)
    everywhere, inside = (np.bincount(which[of], count[of], len(names)) for of in (slice(None), chosen))
    outside = everywhere - inside
    if not inside.sum() or not outside.sum():
        return False
    return bool(np.abs(inside / inside.sum() - outside / outside.sum()).sum() / 2 > MIX_DIFFERS)

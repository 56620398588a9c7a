"""From daily levels to what is claimed: controls that changed themselves, the station's changes, and whose they are."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.compare.season import change
from reach.compare.season.found import Attainable, Change, Dated, Day, Kind, Pace, Vote, Whose
from reach.compare.season.level import Level, joined

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

FEWEST_CONTROLS: Final = 3  # to see that one of them changed: of two it cannot be told which
SURE_SE: Final = 2.5  # a control shows a change from here on
DAYS_ALIKE: Final = 1.5  # how much more a mean of days scatters than independent ones would
DAILY_ALIKE: Final = 1.3
BEATS: Final = 1.0  # log Bayes factor by which a step must beat a line, or a line a step
EPOCH: Final = date(1970, 1, 1)

# The step that is found in 4 of 5 cases, in daily standard deviations, by 1 / (1 / days before + 1 / days after).
_EFFECTIVE_DAYS: Final = (4.0, 5.7, 9.5, 15.0, 20.0, 30.0, 45.0)
_FOUND_4_OF_5: Final = (3.0, 2.4, 1.9, 1.5, 1.3, 1.0, 0.8)
AHEAD_DAYS: Final = (7, 14, 30)


@dataclass(frozen=True)
class Judged:
    """levels : of the controls that are left; left_out : name -> its own change; series : theirs joined;
    claims and changes : in the same order"""

    levels: Mapping[str, Level]
    left_out: Mapping[str, Change]
    series: Level
    claims: tuple[change.Claim, ...]
    changes: tuple[Change, ...]


def judge(levels: Mapping[str, Level], *, watch: bool = False) -> Judged:
    """Changes of the station, once the controls that changed themselves are left out.

    levels : the station's against each control, one at least
    """
    left, left_out = _steady(dict(levels), watch)
    while True:
        series = joined(list(left.values()))
        claims = change.claims(series.days, series.level_db, watch=watch)
        changes = tuple(_told(claim, left) for claim in claims)
        moved = next((each for each in changes if each.whose is Whose.CONTROL), None)
        if moved is None or len(left) == 1:
            return Judged(left, left_out, series, tuple(claims), changes)
        left_out[moved.of] = _of_control(moved, claims[changes.index(moved)], left[moved.of])
        del left[moved.of]


def _of_control(moved: Change, claim: change.Claim, level: Level) -> Change:
    """A change of the station's level that one control alone shows, as that control's own: the other way round."""
    shift, se = _shift(claim, level)
    return replace(moved, size_db=-shift, low_db=-shift - 1.96 * se, high_db=-shift + 1.96 * se)


def _steady(left: dict[str, Level], watch: bool) -> tuple[dict[str, Level], dict[str, Change]]:
    """The controls without those that changed, and what those did. Each against the others: the station cancels."""
    left_out: dict[str, Change] = {}
    while len(left) >= FEWEST_CONTROLS:
        moved = {name: _own(name, left, watch) for name in left}
        worst = max(left, key=lambda name: moved[name].excess if moved[name] else -np.inf)  # type: ignore[union-attr]
        found = moved[worst]
        if found is None:
            break
        left_out[worst] = _plain(found, Whose.CONTROL, {}, of=worst)
        del left[worst]
    return left, left_out


def _own(name: str, left: Mapping[str, Level], watch: bool) -> change.Claim | None:
    """The strongest step of one control against the others joined, or None."""
    others = joined([each for other, each in left.items() if other != name])
    days, here, there = np.intersect1d(left[name].days, others.days, return_indices=True)
    claims = change.claims(days, others.level_db[there] - left[name].level_db[here], watch=watch, only_steps=True)
    return max(claims, key=lambda one: one.excess, default=None)


def _told(claim: change.Claim, levels: Mapping[str, Level]) -> Change:
    """A claim with whose it is."""
    if len(levels) == 1:
        return _plain(claim, Whose.EITHER, {}, of=next(iter(levels)))
    shifts = {name: _shift(claim, each) for name, each in levels.items()}
    sign = np.sign(change.size(claim.scan)[0])
    largest = max(sign * shift for shift, _ in shifts.values())
    votes = {name: _vote(sign * shift, se, largest) for name, (shift, se) in shifts.items()}
    whose, of = _whose(votes)
    return _plain(claim, whose, votes, of=of)


def _shift(claim: change.Claim, level: Level) -> tuple[float, float]:
    """What one control alone says of a change: the shift and its standard error; NaN with too few days."""
    _, of_claim, here = np.intersect1d(claim.days, level.days, return_indices=True)
    inside, y = claim.inside[of_claim], level.level_db[here]
    n1, n2 = int((~inside).sum()), int(inside.sum())
    if min(n1, n2) < 2:
        return float("nan"), float("nan")
    before, after = y[~inside], y[inside]
    s2 = (((before - before.mean()) ** 2).sum() + ((after - after.mean()) ** 2).sum()) / (n1 + n2 - 2)
    return float(after.mean() - before.mean()), float(np.sqrt(s2 * DAYS_ALIKE * (1 / n1 + 1 / n2)))


def _vote(shift: float, se: float, largest: float) -> Vote:
    if not np.isfinite(shift):
        return Vote.UNCLEAR
    if shift > SURE_SE * se:
        return Vote.YES
    return Vote.NO if shift < largest / 2 else Vote.UNCLEAR


def _whose(votes: Mapping[str, Vote]) -> tuple[Whose, str]:
    yes = [name for name, vote in votes.items() if vote is Vote.YES]
    no = [name for name, vote in votes.items() if vote is Vote.NO]
    if len(yes) == 1 and len(no) == len(votes) - 1:
        return Whose.CONTROL, yes[0]
    if (len(yes) >= 2 and 2 * len(yes) > len(votes)) or (yes and not no):
        return Whose.STATION, ""
    return Whose.UNCLEAR, ""


def _plain(claim: change.Claim, whose: Whose, votes: Mapping[str, Vote], *, of: str = "") -> Change:
    scan, days = claim.scan, claim.days
    likely = days[scan.likely()]
    inside = days[claim.inside]
    pace = Pace.SUDDEN if claim.pace_bf >= BEATS else Pace.SLOW if claim.pace_bf <= -BEATS else Pace.UNCLEAR
    size, low, high = change.size(scan)
    return Change(
        kind=Kind.SPELL if claim.is_spell else Kind.STEP,
        day=day(inside[0]),
        first=day(likely[0]),
        last=day(likely[-1]),
        until=day(inside[-1]) if claim.is_spell else None,
        size_db=size,
        low_db=low,
        high_db=high,
        before=int((~claim.inside).sum()),
        after=int(claim.inside.sum()),
        pace=pace,
        whose=whose,
        votes=votes,
        of=of,
        excess=claim.excess,
    )


def day(number: int | np.integer) -> date:
    """The date of a day since 1970."""
    return EPOCH + timedelta(days=int(number))


def number(of: date) -> int:
    """Days since 1970 of a date."""
    return (of - EPOCH).days


def dated(
    series: Level, changes: Iterable[Change], entries: Iterable[tuple[date, str, float | None]]
) -> tuple[Dated, ...]:
    """Each entry of a log with the step on that day, sized without search.

    changes : those found; days beyond another change than the one of that day, and in a spell, are left out
    """
    changes = tuple(changes)
    found = []
    for when, done, swr in sorted(entries, key=lambda entry: entry[0]):
        use = _about(series.days, changes, when)
        days = series.days[use]
        before = int(np.searchsorted(days, number(when)))
        scan = change.step_on(days, series.level_db[use], number(when))
        size, low, high = change.size(scan) if scan is not None else (None, None, None)
        found.append(Dated(when, done, swr, size, low, high, before, len(days) - before))
    return tuple(found)


def _about(days: Ints, changes: Iterable[Change], when: date) -> Bools:
    """Which days can tell of a change on a day: up to the next changes on either side that are not that one."""
    use = np.ones(len(days), dtype=bool)
    for each in (one for one in changes if not one.first <= when <= one.last):
        at = number(each.day)
        if each.until is not None:
            use &= (days < at) | (days > number(each.until))
        else:
            use &= days < at if when < each.day else days >= at
    return use


def fitted(series: Level, claims: tuple[change.Claim, ...]) -> Floats:
    """The level that the claims leave constant in between: the mean of the days of each stretch."""
    edges = np.zeros(len(series.days), dtype=np.int64)
    for k, claim in enumerate(claims):
        inside = np.isin(series.days, claim.days[claim.inside])
        edges += inside * 2**k
    stretch = np.unique(edges, return_inverse=True)[1]
    return np.asarray((np.bincount(stretch, series.level_db) / np.bincount(stretch))[stretch])


def daily(series: Level, claims: tuple[change.Claim, ...]) -> tuple[tuple[Day, ...], float]:
    """Each day against those before the first change, with the interval of one day alone; and the daily scatter."""
    level_db = series.level_db
    held = fitted(series, claims)
    levels = len(np.unique(held))
    sd = float(np.sqrt(((level_db - held) ** 2).sum() / max(len(held) - levels, 1)))
    first = min((int(claim.days[claim.inside][0]) for claim in claims), default=None)
    base = level_db[series.days < first] if first is not None else level_db
    half = 1.96 * sd * np.sqrt(1 + DAILY_ALIKE / max(len(base), 1))
    zero = float(base.mean())
    rows = zip(series.days, level_db - zero, held - zero, series.receivers, strict=True)
    return tuple(
        Day(day(at), float(y), float(y - half), float(y + half), int(n), float(fit)) for at, y, fit, n in rows
    ), sd


def attainable(days: int, since: int, sd: float) -> Attainable:
    """Which step would be seen in 4 of 5 cases. days : with a level in all; since : those after the last change."""

    def step_db(before: float, after: float) -> float:
        effective = 1 / (1 / before + 1 / after)
        more = max(effective / _EFFECTIVE_DAYS[-1], 1.0)  # beyond the table as the root of the days
        return float(sd * np.interp(np.log(effective), np.log(_EFFECTIVE_DAYS), _FOUND_4_OF_5) / np.sqrt(more))

    return Attainable(step_db(days / 2, days / 2), {ahead: step_db(max(since, 4), ahead) for ahead in AHEAD_DAYS})

"""When a daily level changed: Bayes factors for one step or one spell in noise that wanders.

The days are y = level + size * x(day) + noise. The noise is an average over sixteen kinds with equal prior: day to day it
forgets (phi), and a slow wander of eight days' memory lies below it (kappa); its strength is integrated out. The size has a
normal prior of twice the noise. Everything follows from two numbers for each x: a = x'Px and b = x'Py, where P weighs the
days by the inverse covariance with the mean taken off.
Source: Smith (1975), A Bayesian approach to inference about a change-point in a sequence of random variables, Biometrika
62, 407-416; Kass and Raftery (1995), Bayes factors, JASA 90, 773-795.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import logsumexp, softmax, stdtr

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

PHI: Final = (0.0, 0.2, 0.4, 0.6)
KAPPA: Final = (0.03, 0.1, 0.3, 1.0)
WANDER_DAYS: Final = 8.0
PRIOR: Final = 4.0  # variance of the size, in variances of the noise
SIZE_PRIOR: Final = 36.0  # the same once a change is claimed: then its size is asked, and nothing need hold it back
FEWEST_SIDE: Final = 4  # days with a level on either side of a step
SPELL_DAYS: Final = (2, 14)
SPELL_EDGE: Final = 2  # a spell does not touch the first and last days
FEWEST_DAYS: Final = 20  # for a verdict at all
FEWEST_AGAIN: Final = 12  # for a part between changes to be scanned again
DEPTH: Final = 3
WATCH: Final = 1.5  # added to the thresholds where someone looks every day

# Thresholds of the log Bayes factor by days with a level: 0.75 false steps and 0.25 false spells in 100 quiet months.
THRESHOLD_DAYS: Final = (20, 30, 45, 60, 90, 120, 180)
STEP_THRESHOLD: Final = (1.05, 0.65, 0.45, 0.37, 0.29, 0.10, -0.10)
SPELL_THRESHOLD: Final = (1.95, 1.45, 1.25, 1.20, 1.05, 0.90, 0.85)


@dataclass(frozen=True)
class Shape:
    """What the days say before any level is seen; all of shape (cells, ...).

    base    (cells,) log of the constant; weigh : (cells, n, n) the matrices P
    corner  (cells, n+1, n+1) their sums over the first days in both directions
    """

    base: Floats
    weigh: Floats
    corner: Floats


@lru_cache(maxsize=64)
def shape(days: tuple[int, ...]) -> Shape:
    """The weighing of these days, which are whole numbers in rising order."""
    lag = np.abs(np.subtract.outer(days, days)).astype(float)
    slow = np.exp(-lag / WANDER_DAYS)
    base, weigh = [], []
    for phi in PHI:
        quick = phi**lag  # 0 to the 0 is 1
        for kappa in KAPPA:
            sigma = quick + kappa * slow
            inverse = np.linalg.inv(sigma)
            ones = inverse.sum(axis=1)
            total = ones.sum()
            weigh.append(inverse - np.outer(ones, ones) / total)
            base.append(-0.5 * np.linalg.slogdet(sigma)[1] - 0.5 * np.log(total))
    stacked = np.array(weigh)
    corner = np.zeros((len(base), len(days) + 1, len(days) + 1))
    corner[:, 1:, 1:] = stacked.cumsum(axis=1).cumsum(axis=2)
    return Shape(np.array(base), stacked, corner)


@dataclass(frozen=True)
class Scan:
    """One family of changes held against no change.

    log_bf   log of the Bayes factor, mean over the family
    start    (k,) index of the first day of each change; stop : one behind its last
    log_like (cells, k); a : (cells, k); b : (cells, k); r0 : (cells,)
    n        days
    """

    log_bf: float
    start: Ints
    stop: Ints
    log_like: Floats
    a: Floats
    b: Floats
    r0: Floats
    n: int

    @property
    def weights(self) -> Floats:
        """Posterior probability of each (cell, change)."""
        return np.asarray(softmax(self.log_like))

    @property
    def best(self) -> int:
        """The likeliest change."""
        return int(self.weights.sum(axis=0).argmax())

    def likely(self, share: float = 0.95) -> Ints:
        """The likeliest first days that together have this probability, as indices in rising order."""
        chance = np.bincount(self.start, self.weights.sum(axis=0), minlength=self.n)
        order = np.argsort(-chance, kind="stable")
        many = int(np.searchsorted(np.cumsum(chance[order]), share)) + 1
        return np.sort(order[:many])


def _held(days: Ints, level_db: Floats, start: Ints, stop: Ints) -> Scan:
    """Changes that begin with the day `start` and end before the day `stop`, all against none."""
    known = shape(tuple(int(day) for day in days))
    weighed = known.weigh @ level_db
    ahead = np.concatenate([np.zeros((len(weighed), 1)), weighed.cumsum(axis=1)], axis=1)
    c = known.corner
    a = c[:, stop, stop] - 2 * c[:, start, stop] + c[:, start, start]
    return _scan(known, level_db, weighed, a, ahead[:, stop] - ahead[:, start], start, stop)


def _scan(known: Shape, level_db: Floats, weighed: Floats, a: Floats, b: Floats, start: Ints, stop: Ints) -> Scan:
    n = len(level_db)
    r0 = np.maximum(weighed @ level_db, 1e-12)
    left = np.maximum(r0[:, None] - b**2 / (a + 1 / PRIOR), 1e-12)
    log_like = known.base[:, None] - 0.5 * np.log1p(PRIOR * a) - (n - 1) / 2 * np.log(left)
    none = known.base - (n - 1) / 2 * np.log(r0)
    log_bf = float(logsumexp(log_like) - np.log(len(start)) - logsumexp(none))
    return Scan(log_bf, start, stop, log_like, a, b, r0, n)


def steps(days: Ints, level_db: Floats) -> Scan | None:
    """Every step with enough days on either side; None where there is room for none."""
    n = len(days)
    start = np.arange(FEWEST_SIDE, n - FEWEST_SIDE + 1)
    return _held(days, level_db, start, np.full(len(start), n)) if len(start) else None


def step_on(days: Ints, level_db: Floats, day: int) -> Scan | None:
    """The one step on a known day; None with fewer than four days with a level on either side."""
    at = int(np.searchsorted(days, day))
    if min(at, len(days) - at) < FEWEST_SIDE:
        return None
    return _held(days, level_db, np.array([at]), np.array([len(days)]))


def spells(days: Ints, level_db: Floats) -> Scan | None:
    """Every spell of 2 to 14 days with a level that leaves the first and last two days alone; None without room."""
    n = len(days)
    start, stop = np.meshgrid(np.arange(SPELL_EDGE, n), np.arange(SPELL_EDGE, n - SPELL_EDGE + 1), indexing="ij")
    long = stop - start
    fits = (long >= SPELL_DAYS[0]) & (long <= SPELL_DAYS[1])
    return _held(days, level_db, start[fits], stop[fits]) if fits.any() else None


def line(days: Ints, level_db: Floats) -> float:
    """Log Bayes factor of a straight line over all days, with the prior of a step for its whole change."""
    known = shape(tuple(int(day) for day in days))
    x = (days - days[0]) / (days[-1] - days[0])
    a = np.einsum("i,kij,j->k", x, known.weigh, x)[:, None]
    one = np.zeros(1, dtype=np.int64)
    weighed = known.weigh @ level_db
    return _scan(known, level_db, weighed, a, (weighed @ x)[:, None], one, one).log_bf


def size(scan: Scan) -> tuple[float, float, float]:
    """Size of the change over all that it may be: median, 2.5 % and 97.5 % point [dB]."""
    held = scan.a + 1 / SIZE_PRIOR
    middle = (scan.b / held).ravel()
    left = np.maximum(scan.r0[:, None] - scan.b**2 / held, 1e-12)
    scale = np.sqrt(left / ((scan.n - 1) * held)).ravel()
    weight = scan.weights.ravel()
    use = weight > 1e-6 * weight.max()
    middle, scale, weight = middle[use], scale[use], weight[use] / weight[use].sum()
    mean, low, high = (_quantile(middle, scale, weight, scan.n - 1, p) for p in (0.5, 0.025, 0.975))
    return mean, low, high


def _quantile(middle: Floats, scale: Floats, weight: Floats, df: int, p: float) -> float:
    """A point of a mixture of t distributions, by halving."""
    low, high = float((middle - 40 * scale).min()), float((middle + 40 * scale).max())
    for _ in range(60):
        half = (low + high) / 2
        if weight @ stdtr(df, (half - middle) / scale) < p:
            low = half
        else:
            high = half
    return (low + high) / 2


def step_threshold(n: int, *, watch: bool = False) -> float:
    """What the log Bayes factor of steps over n days must pass."""
    return float(np.interp(n, THRESHOLD_DAYS, STEP_THRESHOLD)) + WATCH * watch


def spell_threshold(n: int, *, watch: bool = False) -> float:
    """What that of spells must pass."""
    return float(np.interp(n, THRESHOLD_DAYS, SPELL_THRESHOLD)) + WATCH * watch


@dataclass(frozen=True)
class Claim:
    """A change that passed its threshold.

    scan    the family it was found in; inside : bool (n,) of the days scanned, where the change holds
    days    the days scanned; excess : by how much it passed; pace_bf : log Bayes factor of the step against a line
    """

    scan: Scan
    days: Ints
    inside: npt.NDArray[np.bool_]
    is_spell: bool
    excess: float
    pace_bf: float


def claims(days: Ints, level_db: Floats, *, watch: bool = False, only_steps: bool = False) -> list[Claim]:
    """Every change of a series, in order of time.

    days : (n,) whole numbers, rising; level_db : (n,)
    Returns none where nothing passes its threshold. After a step both sides are looked at again; after a spell the days
    without it.
    """
    return sorted(_claims(days, level_db, watch, only_steps, 0), key=lambda one: int(one.days[one.inside][0]))


def _claims(days: Ints, level_db: Floats, watch: bool, only_steps: bool, depth: int) -> list[Claim]:
    if len(days) < (FEWEST_AGAIN if depth else FEWEST_DAYS) or depth > DEPTH:
        return []
    found = _strongest(days, level_db, watch, only_steps)
    if found is None:
        return []
    parts = [~found.inside] if found.is_spell else [~found.inside, found.inside]
    again = [one for part in parts for one in _claims(days[part], level_db[part], watch, only_steps, depth + 1)]
    return [found, *again]


def _strongest(days: Ints, level_db: Floats, watch: bool, only_steps: bool) -> Claim | None:
    """The change that is farthest above its threshold; None where none is."""
    n = max(len(days), FEWEST_DAYS)
    step, spell = steps(days, level_db), None if only_steps else spells(days, level_db)
    over = [
        (scan.log_bf - threshold(n, watch=watch), scan, is_spell)
        for scan, threshold, is_spell in ((step, step_threshold, False), (spell, spell_threshold, True))
        if scan is not None
    ]
    if not over:
        return None
    excess, scan, is_spell = max(over, key=lambda one: one[0])
    if excess <= 0:
        return None
    at = np.arange(len(days))
    inside = (at >= scan.start[scan.best]) & (at < scan.stop[scan.best])
    pace = 0.0 if is_spell else scan.log_bf - line(days, level_db)
    return Claim(scan, days, inside, is_spell, excess, pace)

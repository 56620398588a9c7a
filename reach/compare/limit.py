"""Where reports are censored: the decoding limit below, saturation above, and the rule that cuts both setups alike.

A report exists only where it was strong enough, so the weaker setup is seen on its good moments only. Cutting both
setups at the same level of the underlying signal makes the means that are left agree.
Source of the idea: Honore (1992), Trimmed LAD and least squares estimation of truncated and censored regression models
with fixed effects, Econometrica 60, 533-565; here applied per report, and to whole-dB reports as the decibel they stand for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from reach.compare.reports import Bools, Floats, Ints, Reports

LOWEST_SHARE: Final = 0.02  # the quantile taken as the limit where none is known
MARGIN_DB: Final = 3.0  # above it a report is as good as never lost
OWN_REPORTS: Final = 30  # from here on a receiver's own decoding limit can be seen
OWN_SHARE: Final = 0.03
OWN_MARGIN_DB: Final = 2.0
FAR_ABOVE_DB: Final = 12.0  # a receiver that never came nearer to a known limit than this is not cut by it
LEAST_POWER_SHARE: Final = 0.05
TOP_REPORTS: Final = 10
TOP_SHARE: Final = 0.01
TOP_PILE: Final = 3.0
LEAST_SHARE: Final = 1e-6
TOUCHING_DB: Final = 1e-9  # a report on the limit itself counts, however its decimals were rounded


@dataclass(frozen=True)
class Limits:
    """The levels between which reports are complete, as reported [dB].

    threshold_db  shape (n,), for each report its receiver's censoring threshold: the decoding limit and a margin above it
    ceiling_db    reports above it are saturated; infinite where none are
    """

    threshold_db: Floats
    ceiling_db: float

    @property
    def saturated(self) -> bool:
        """Whether reports pile up at the strongest."""
        return bool(np.isfinite(self.ceiling_db))

    def take(self, chosen: Bools | Ints) -> Limits:
        """The limits of some of the reports."""
        return Limits(self.threshold_db[chosen], self.ceiling_db)


def limits(reports: Reports, mode: Ints, decoding_limit_db: float | None = None) -> Limits:
    """Censoring threshold of every report and the ceiling.

    reports : n > 0 reports; mode : 0..M-1, shape (n,): each mode has its own decoding limit
    decoding_limit_db : the weakest that can be decoded, where it is known [dB in 2500 Hz]; else it is taken from the
        weakest reports
    Returns Limits. A receiver with 30 reports or more has its own threshold, as decoders differ.
    """
    common = _common_threshold(reports.snr_db, mode, decoding_limit_db)
    own, enough = _own_threshold(reports, mode)
    use = enough & (own > common)
    if decoding_limit_db is not None:
        # A strong receiver's own weakest report shows its band, not its decoder.
        use &= own < decoding_limit_db + FAR_ABOVE_DB
    return Limits(np.where(use, own, common), _ceiling(reports.snr_db))


def _common_threshold(snr_db: Floats, mode: Ints, decoding_limit_db: float | None) -> Floats:
    if decoding_limit_db is not None:
        return np.full(len(snr_db), decoding_limit_db + MARGIN_DB)
    limit = np.full(len(snr_db), np.quantile(snr_db, LOWEST_SHARE))
    for code in np.unique(mode):
        of_mode = mode == code
        if of_mode.sum() >= 1 / LOWEST_SHARE:
            limit[of_mode] = np.quantile(snr_db[of_mode], LOWEST_SHARE)
    return limit + MARGIN_DB


def _own_threshold(reports: Reports, mode: Ints) -> tuple[Floats, Bools]:
    """For each report its receiver's own low quantile (within the mode) plus a margin; and whether it had enough."""
    key = reports.receiver * (int(mode.max()) + 1) + mode
    order = np.lexsort((reports.snr_db, key))
    _, start, inverse, count = np.unique(key[order], return_index=True, return_inverse=True, return_counts=True)
    place = (count - 1) * OWN_SHARE
    below = np.floor(place).astype(np.int64)
    above = np.minimum(below + 1, count - 1)
    low, high = reports.snr_db[order][start + below], reports.snr_db[order][start + above]
    quantile = low + (place - below) * (high - low)
    back = np.empty(len(reports), dtype=np.int64)
    back[order] = inverse
    return quantile[back] + OWN_MARGIN_DB, count[back] >= OWN_REPORTS


def _ceiling(snr_db: Floats) -> float:
    # Decoders that clip pile their strongest reports up at one value; a band that is merely strong thins out above.
    top = snr_db.max()
    at_top, below = np.sum(snr_db == top), np.sum((snr_db >= top - 1) & (snr_db < top))
    piled = at_top >= TOP_REPORTS and at_top > TOP_SHARE * len(snr_db) and at_top > TOP_PILE * below
    return float(top) - 1 if piled else np.inf


@dataclass(frozen=True)
class Above:
    """What of each report lies between the limits of BOTH setups, shape (n,).

    A report in whole dB stands for the whole decibel about it, of which the limits may leave a part: so nothing jumps
    where a limit passes a report, and no chance is needed to spread the reports over their decibel.

    share     of each report, 0..1
    level_db  the middle of that part, as `Reports.level_db`
    """

    share: Floats
    level_db: Floats

    @property
    def some(self) -> Bools:
        """Of which reports anything is left."""
        return np.asarray(self.share > LEAST_SHARE)


def above(reports: Reports, limit: Limits, beta_db: Floats | float, usual: UsualPower) -> Above:
    """Cut both setups' reports at the same level of the underlying signal.

    beta_db : what A is presumed to be stronger by at each report's unit, shape (n,) or one number
    usual : `usual_power` of the same reports, which does not hang on beta
    Returns Above; exchanging A and B (and the signs) gives the same.
    """
    # Each report is brought to what B would have been reported at with the reference power: one level then cuts the same
    # signals of both. Where A is the stronger by beta, its reports between the threshold and beta above it have no partner
    # in B and must go too. Decoders cut what they receive, power and all; so where A also has the more power, its weak
    # reports lack a partner by that much more, although the levels that are compared have had it taken off.
    as_b_db = reports.level_db - beta_db * reports.is_a
    received_db = reports.snr_db - as_b_db  # what this report was received above that
    # A report sent with less than the usual power is cut where it was received; the others are cut higher anyway.
    low = limit.threshold_db - np.minimum(np.minimum(usual.least_a_db + beta_db, usual.least_b_db), received_db)
    high = limit.ceiling_db - np.maximum(np.maximum(usual.most_a_db + beta_db, usual.most_b_db), received_db)
    bottom = np.maximum(as_b_db - reports.round_db, low)
    top = np.minimum(as_b_db + reports.round_db, high)
    width = 2 * reports.round_db
    inside = (top - bottom >= -TOUCHING_DB).astype(float)  # a report that is no whole number is in or out
    share = np.where(width > 0, np.clip((top - bottom) / np.where(width > 0, width, 1.0), 0.0, 1.0), inside)
    middle = np.where(width > 0, (bottom + top) / 2 - as_b_db, 0.0)
    return Above(share, reports.level_db + middle)


@dataclass(frozen=True)
class UsualPower:
    """Least and most power that each setup was usually sent with on each report's band and mode, each shape (n,) [dB].

    Usually: one report with a tenth of the power must not throw out all others.
    """

    least_a_db: Floats
    most_a_db: Floats
    least_b_db: Floats
    most_b_db: Floats


def usual_power(reports: Reports) -> UsualPower:
    """Of each report's band and mode; 0 where a setup was not heard on it."""
    return UsualPower(*_usual_span(reports, True), *_usual_span(reports, False))


def _usual_span(reports: Reports, is_a: bool) -> tuple[Floats, Floats]:
    least, most = np.zeros(len(reports)), np.zeros(len(reports))
    for channel in np.unique(reports.channel):
        on_it = reports.channel == channel
        power = reports.power_db[on_it & (reports.is_a == is_a)]
        if len(power):
            least[on_it], most[on_it] = np.quantile(power, (LEAST_POWER_SHARE, 1 - LEAST_POWER_SHARE))
    return least, most

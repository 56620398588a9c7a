"""The small tables behind a comparison: by receiver, by block in time order, who heard what."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import pandas as pd

from reach.compare.comparison import Block, Heard, Receiver
from reach.compare.design import Alternation, block_numbers
from reach.compare.estimate import Contrasts, Fit
from reach.compare.limit import LEAST_SHARE
from reach.compare.places import PLACE
from reach.compare.reports import Floats, Ints, Reports

TWO_SIDED: Final = 1.96  # receivers' own intervals stand on the variance pooled over all, so the normal curve will do


def by_receiver(reports: Reports, who: pd.DataFrame, found: Fit | None) -> tuple[Receiver, ...]:
    """One row a receiver, those with most weight first.

    who : as `places.receivers` gives it; row = receiver number
    """
    n = len(who)
    of_a = np.bincount(reports.receiver, reports.is_a, minlength=n).astype(int)
    of_b = np.bincount(reports.receiver, ~reports.is_a, minlength=n).astype(int)
    pairs, weight, mean, error = _own(reports, found, n)
    heard = np.where(of_b == 0, "a", np.where(of_a == 0, "b", "both"))
    rows = []
    for k, one in enumerate(who.to_dict("records")):
        some = pairs[k] > 0
        rows.append(
            Receiver(
                rx_call=str(one["rx_call"]),
                square=str(one["square"]),
                rx_locator=str(one["rx_locator"]),
                heard=str(heard[k]),
                reports_a=int(of_a[k]),
                reports_b=int(of_b[k]),
                pairs=int(pairs[k]),
                weight=float(weight[k]),
                difference_db=float(mean[k]) if some else None,
                low_db=float(mean[k] - TWO_SIDED * error[k]) if some else None,
                high_db=float(mean[k] + TWO_SIDED * error[k]) if some else None,
                trust=None if pd.isna(one["trust"]) else str(one["trust"]),
                **{name: None if np.isnan(one[name]) else float(one[name]) for name in PLACE},
            )
        )
    return tuple(sorted(rows, key=lambda r: (-r.weight, -r.pairs, r.rx_call, r.square)))


def _own(reports: Reports, found: Fit | None, n: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Pairs, weight, own difference and its standard error of each receiver; its bands weighted by what their pairs are worth."""
    if found is None:
        return np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    pooled = found.pooled
    first = np.searchsorted(reports.unit, pooled.unit)
    receiver = reports.receiver[first]
    pairs = np.bincount(receiver, pooled.pairs, minlength=n).astype(float)
    weight = np.bincount(receiver, pooled.weight, minlength=n)
    worth = np.bincount(receiver, pooled.worth, minlength=n)
    share = pooled.worth / worth[receiver]
    mean = np.bincount(receiver, share * pooled.own_db, minlength=n)
    variance = np.bincount(receiver, share**2 * pooled.own_variance, minlength=n)
    return pairs, weight.astype(float), mean.astype(float), found.inflation * np.sqrt(variance)


def receiver_means(reports: Reports, found: Fit) -> Floats:
    """Own difference of every receiver with pairs [dB]."""
    pairs, _, mean, _ = _own(reports, found, int(reports.receiver.max()) + 1)
    return mean[pairs > 0]


def heard(rows: tuple[Receiver, ...]) -> Heard:
    """Receivers by what they heard."""
    named = {which: [f"{r.rx_call} {r.square}" for r in rows if r.heard == which] for which in ("a", "b", "both")}
    return Heard(*(tuple(sorted(named[which])) for which in ("a", "b", "both")))


def by_block(
    reports: Reports, design: Alternation, pairs: Contrasts | None, names: tuple[str, str], start_us: int
) -> tuple[Block, ...]:
    """One row a stretch on one setup, in time order.

    names : of A and B; start_us : the moment that `time_min` counts from
    """
    if not len(reports):
        return ()
    number = block_numbers(reports, design)
    present, which = np.unique(number, return_inverse=True)
    count = np.bincount(which)
    first, last = np.full(len(present), np.inf), np.full(len(present), -np.inf)
    np.minimum.at(first, which, reports.time_min)
    np.maximum.at(last, which, reports.time_min)
    is_a = np.bincount(which, reports.is_a) > count / 2
    m, mean, error = _block_means(pairs, which, len(present))
    rows = []
    for k in range(len(present)):
        some = m[k] >= 2
        rows.append(
            Block(
                start_utc=iso(start_us, first[k]),
                end_utc=iso(start_us, last[k]),
                setup="both" if design.simultaneous else names[0] if is_a[k] else names[1],
                reports=int(count[k]),
                pairs=int(m[k]),
                difference_db=float(mean[k]) if some else None,
                low_db=float(mean[k] - TWO_SIDED * error[k]) if some else None,
                high_db=float(mean[k] + TWO_SIDED * error[k]) if some else None,
            )
        )
    return tuple(rows)


def _block_means(pairs: Contrasts | None, block: Ints, n: int) -> tuple[Floats, Floats, Floats]:
    if pairs is None:
        return np.zeros(n), np.zeros(n), np.zeros(n)
    of = block[pairs.row]
    count = np.bincount(of, minlength=n).astype(float)
    total = np.maximum(np.bincount(of, pairs.share, minlength=n), LEAST_SHARE)
    mean = np.bincount(of, pairs.share * pairs.difference_db, minlength=n) / total
    squares = np.bincount(of, pairs.share * (pairs.difference_db - mean[of]) ** 2, minlength=n) / total
    return count, mean, np.sqrt(squares / np.maximum(count - 1, 1))


def iso(start_us: int, minutes: float = 0.0) -> str:
    """A moment as ISO 8601 in UTC, to the second."""
    moment = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(microseconds=int(start_us + round(minutes * 60e6)))
    return moment.strftime("%Y-%m-%dT%H:%M:%SZ")

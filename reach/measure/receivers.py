"""Who heard it: one row a receiver, read from the tally."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import keys
from reach.measure.tally import Tally
from reach.spots import RECEIVERS, UNCONFIRMED

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

_PLACE = ["rx_call", "rx_locator"]


def receivers(tally: Tally) -> pd.DataFrame:
    """One row a distinct receiver and locator, the one with most reports first.

    tally : of placed spots
    Returns spots.RECEIVERS. Where the station moved, geometry is that of the path with most reports; where nobody
    looked for suspects, every receiver is unconfirmed.
    """
    timed, levels = tally.pooled.by_hour, tally.pooled.by_level
    if "trust" not in timed:
        timed = timed.assign(trust=pd.Categorical([UNCONFIRMED] * len(timed)))
    # Codes are in the order of the text, and so are receivers with as many reports.
    values, place = _places(timed)
    first = timed.take(_row_of_busiest_path(timed, place, len(values)))
    by_snr, starts = _in_order(_places(levels)[1], levels["snr_db"])
    best, median = _best_and_median(
        levels["snr_db"].to_numpy().astype(float)[by_snr], levels["reports"].to_numpy()[by_snr], starts
    )
    by_place, starts = _in_order(place)
    first_utc, last_utc = (
        pd.DatetimeIndex(_reduced(how, timed[name], by_place, starts)).tz_localize("UTC")
        for how, name in ((np.minimum, "first_utc"), (np.maximum, "last_utc"))
    )
    known = {name: first[name].array for name in RECEIVERS if name in first}
    table = pd.DataFrame(
        known
        | {
            "reports": np.bincount(place, timed["reports"], len(values)).astype(np.int64),
            "median_snr_db": median,
            "best_snr_db": best,
            "first_utc": first_utc,
            "last_utc": last_utc,
        }
    )
    return table.sort_values("reports", ascending=False, kind="stable", ignore_index=True)[list(RECEIVERS)]


def _places(rows: pd.DataFrame) -> tuple[Ints, Ints]:
    """Keys of the distinct receivers and locators in the order of their text, and which of them each row has."""
    return keys.distinct(*keys.combine([keys.codes(rows[name]) for name in _PLACE]))


def _in_order(place: Ints, *within: pd.Series) -> tuple[Ints, Ints]:
    """Rows by place, then by what else is named; and where each place begins among them."""
    order = np.lexsort((*(column.to_numpy() for column in within), place))
    return order, keys.starts(place[order])


def _row_of_busiest_path(rows: pd.DataFrame, place: Ints, places: int) -> Ints:
    """A row of each place, on the path with most of its reports; shape (places,)."""
    sent_from, size = keys.codes(rows["tx_locator"])
    paths, path = keys.distinct(*keys.combine([(place, places), (sent_from, size)]))
    reports = np.bincount(path, rows["reports"], len(paths))
    order = np.lexsort((-reports, paths // size))  # by place, the busiest first
    return keys.first_rows(path, len(paths))[order[keys.starts(paths // size)]]


def _reduced(how: np.ufunc, moments: pd.Series, order: Ints, starts: Ints) -> npt.NDArray[np.datetime64]:
    """The earliest or the latest moment of each place."""
    micros = moments.dt.tz_convert(None).to_numpy().astype("datetime64[us]")[order]
    found: npt.NDArray[np.datetime64] = how.reduceat(micros, starts)
    return found


def _best_and_median(snr_db: Floats, count: Ints, starts: Ints) -> tuple[Floats, Floats]:
    """The best and the median SNR of each place, from rows in order of place, then SNR: a quantile a place would sort anew."""
    upto = np.cumsum(count)
    ends = starts + np.diff(starts, append=len(snr_db)) - 1
    position = upto[ends] - (np.add.reduceat(count, starts) + 1) / 2  # of the median among all reports, counted from 0
    low = np.searchsorted(upto, np.floor(position), side="right")
    high = np.searchsorted(upto, np.ceil(position), side="right")
    return snr_db[ends], (snr_db[low] + snr_db[high]) / 2

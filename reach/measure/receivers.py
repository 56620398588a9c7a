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
    cells = tally.cells
    if "trust" not in cells:
        cells = cells.assign(trust=pd.Categorical([UNCONFIRMED] * len(cells)))
    # By code and not by groups of the table: of millions of cells, copies of columns are what memory ends on. Codes are in the
    # order of the text, and so are receivers with as many reports.
    values, place = keys.distinct(*keys.combine([keys.codes(cells[name]) for name in _PLACE]))
    count = cells["reports"].to_numpy()
    first = cells.take(_cell_of_busiest_path(cells, place, len(values), count))
    by_snr = np.lexsort((cells["snr_db"].to_numpy(), place))
    starts = keys.starts(place[by_snr])
    best, median = _best_and_median(cells["snr_db"].to_numpy().astype(float)[by_snr], count[by_snr], starts)
    first_utc, last_utc = (
        pd.DatetimeIndex(_reduced(how, cells[name], by_snr, starts)).tz_localize("UTC")
        for how, name in ((np.minimum, "first_utc"), (np.maximum, "last_utc"))
    )
    known = {name: first[name].array for name in RECEIVERS if name in first}
    table = pd.DataFrame(
        known
        | {
            "reports": np.bincount(place, count, len(values)).astype(np.int64),
            "median_snr_db": median,
            "best_snr_db": best,
            "first_utc": first_utc,
            "last_utc": last_utc,
        }
    )
    return table.sort_values("reports", ascending=False, kind="stable", ignore_index=True)[list(RECEIVERS)]


def _cell_of_busiest_path(cells: pd.DataFrame, place: Ints, places: int, count: Ints) -> Ints:
    """A cell of each place, on the path with most of its reports; shape (places,)."""
    sent_from, size = keys.codes(cells["tx_locator"])
    paths, path = keys.distinct(*keys.combine([(place, places), (sent_from, size)]))
    reports = np.bincount(path, count, len(paths))
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

"""Who heard it: one row a receiver, read from the tally."""

from __future__ import annotations

import numpy as np
import pandas as pd

from reach.measure.tally import Tally
from reach.spots import RECEIVERS, UNCONFIRMED

_PLACE = ["rx_call", "rx_locator"]


def receivers(tally: Tally) -> pd.DataFrame:
    """One row a distinct receiver and locator, the one with most reports first.

    tally : of placed spots
    Returns spots.RECEIVERS. Where the station moved, geometry is that of the path with most reports; where nobody
    looked for suspects, every receiver is unconfirmed.
    """
    rows = tally.cells
    if "trust" not in rows:
        rows = rows.assign(trust=pd.Categorical([UNCONFIRMED] * len(rows)))
    by_path = rows.groupby([*_PLACE, "tx_locator"], observed=True, sort=False)["reports"].transform("sum")
    # Positions are sorted, not the table: of millions of cells a second copy would be the largest thing in memory.
    busiest = np.argsort(-by_path.to_numpy(), kind="stable")
    again = rows[_PLACE].take(busiest).duplicated().to_numpy()
    first = rows.take(busiest[~again]).set_index(_PLACE)
    groups = rows.groupby(_PLACE, observed=True, sort=True)
    table = groups.agg(
        reports=("reports", "sum"),
        best_snr_db=("snr_db", "max"),
        first_utc=("first_utc", "min"),
        last_utc=("last_utc", "max"),
    )
    table["best_snr_db"] = table["best_snr_db"].astype(float)
    table["median_snr_db"] = _median_by_group(rows, groups.ngroup().to_numpy(), len(table))
    known = [name for name in RECEIVERS if name in first.columns and name not in table.columns]
    full = table.join(first[known]).reset_index()
    for name in _PLACE:
        full[name] = pd.Categorical(full[name])
    return full.sort_values(["reports", *_PLACE], ascending=[False, True, True], ignore_index=True)[list(RECEIVERS)]


def _median_by_group(rows: pd.DataFrame, group: np.ndarray, groups: int) -> np.ndarray:
    """Median SNR of each group of counted rows, by one sort: a quantile a group would sort once a group."""
    order = np.lexsort((rows["snr_db"].to_numpy(), group))
    snr, count = rows["snr_db"].to_numpy().astype(float)[order], rows["reports"].to_numpy()[order]
    upto = np.cumsum(count)
    ends = np.searchsorted(group[order], np.arange(groups), side="right") - 1
    total = upto[ends]
    before = np.concatenate([[0], total[:-1]])
    position = before + (total - before - 1) / 2  # of the median among all reports, counted from 0
    low = np.searchsorted(upto, np.floor(position), side="right")
    high = np.searchsorted(upto, np.ceil(position), side="right")
    return (snr[low] + snr[high]) / 2

"""Quantiles of counted values: the same numbers as if every report were written out."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt


def weighted(values: npt.ArrayLike, counts: npt.ArrayLike, shares: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Quantiles of values that occur so many times each.

    values : shape (n,); counts : shape (n,), whole, >= 0; shares : shape (k,), 0..1
    Returns shape (k,): what numpy.quantile(numpy.repeat(values, counts), shares) gives (linear interpolation),
    without writing the values out; NaN where nothing was counted. NaN values are left out.
    Source of the definition: Hyndman, Fan (1996), Sample quantiles in statistical packages, type 7.
    """
    share = np.asarray(shares, dtype=float)
    values, counts = _counted(np.asarray(values), np.asarray(counts, dtype=np.int64))
    if not len(counts):
        return np.full(share.shape, np.nan)
    value = np.asarray(values, dtype=float)
    count = np.where(np.isnan(value), 0, counts)
    order = np.argsort(value)
    value, upto = value[order], np.cumsum(count[order])
    if upto[-1] == 0:
        return np.full(share.shape, np.nan)
    position = share * (upto[-1] - 1)
    below = np.floor(position)
    low = value[np.searchsorted(upto, below, side="right")]
    high = value[np.searchsorted(upto, np.minimum(below + 1, upto[-1] - 1), side="right")]
    return low + (high - low) * (position - below)


def _counted(values: npt.NDArray[Any], counts: npt.NDArray[np.int64]) -> tuple[npt.NDArray[Any], npt.NDArray[np.int64]]:
    """Whole numbers that lie close, such as dB, each once: millions of them are then not sorted."""
    if values.dtype.kind not in "iu" or not len(values):
        return values, counts
    low, high = int(values.min()), int(values.max())
    if high - low > len(values):
        return values, counts
    there = np.arange(low, high + 1)
    return there, np.bincount(values.astype(np.int64) - low, counts, len(there)).astype(np.int64)

"""Two setups on the air at once under one callsign, told apart by their frequencies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

TwoMhz = tuple[float, float]


def two(names: Sequence[str]) -> TwoMhz | None:
    """The frequencies [MHz] that two setups are called by; None where their names are none, or one twice."""
    try:
        found = [float(name) for name in names]
    except ValueError:
        return None
    if len(found) != 2 or found[0] == found[1] or not all(0 < mhz < np.inf for mhz in found):
        return None
    return found[0], found[1]


def nearer(freq_mhz: npt.NDArray[np.float64], of: TwoMhz) -> npt.NDArray[np.int8]:
    """Which of two frequencies each report is nearer to.

    freq_mhz : shape (rows,) [MHz], NaN where unknown
    Returns 0 or 1; -1 where none is known, where both are as near, and where both are farther off than half of what is between
    them. So it does not matter which of the two comes first.
    """
    off = np.abs(freq_mhz[:, None] - np.array(of))
    off_first, off_second = off[:, 0], off[:, 1]
    farthest = abs(of[0] - of[1]) / 2
    near = [(off_first < off_second) & (off_first <= farthest), (off_second < off_first) & (off_second <= farthest)]
    return np.select(near, [np.int8(0), np.int8(1)], np.int8(-1))

"""Compare two setups: paired in time, honest about chance, refusing where the design cannot tell.

METHOD.md beside this file has the method in plain words, the evidence and the limits.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

    from reach.compare.result import Comparison


def compare(
    spots: pd.DataFrame,
    a: str,
    b: str,
    *,
    schedule: pd.DataFrame | str | Path | None = None,
    power_difference_db: float | None = 0.0,
    control: pd.DataFrame | None = None,
    decoding_limit_db: float | None = None,
) -> Comparison:
    """Compare two setups; the contract is that of `compare.comparison.compare`."""
    from reach.compare import comparison

    return comparison.compare(
        spots,
        a,
        b,
        schedule=schedule,
        power_difference_db=power_difference_db,
        control=control,
        decoding_limit_db=decoding_limit_db,
    )

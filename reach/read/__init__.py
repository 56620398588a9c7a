"""Open what operators export, find its dialect and headers, and keep every cell as text with its file and line."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def read(
    *paths: str | os.PathLike[str], columns: Mapping[str, str] | None = None, folder: Path | None = None
) -> pd.DataFrame:
    """Read spots as text.

    paths : CSV files, packed ones too (.gz .bz2 .xz .zst .zip), globs, "-" for standard input
    columns : our name -> header in the file, such as {"callsign": "Reporter"}, where the map of trade terms will not do
    folder : where relative paths start; the current one where left out
    Returns the raw table (read.table.RAW): one row a row of the files in their order, every cell text, with `source`
    and `line`. InputError where a file will not do.
    """
    from reach.read import table

    return table.read(*paths, columns=columns, folder=folder)

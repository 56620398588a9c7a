"""Open what operators export, find its dialect and what its columns hold, and keep every cell as text with file and line."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


def read(
    *paths: str | os.PathLike[str],
    columns: Mapping[str, str] | None = None,
    day_first: bool | None = None,
    zone: str | None = None,
    own_call: str = "",
    own_locator: str = "",
    power_w: float | None = None,
    folder: Path | None = None,
) -> pd.DataFrame:
    """Read spots as text.

    paths : CSV files, packed ones too (.gz .bz2 .xz .zst .zip), globs, "-" for standard input
    columns : our name -> header in the file, or its number, such as {"callsign": "Reporter"}; only where a file is unclear
    day_first : how to read 03/05/2026; None where each file has to tell
    zone : of times that name none, such as "+01:00"; None where each file has to tell, and UTC where it does not
    own_call, own_locator, power_w : of the station, which help to tell its columns from the others'
    folder : where relative paths start; the current one where left out
    Returns the raw table (read.table.RAW): one row a row of the files in their order, every cell text, with `source`
    and `line`. InputError where a file will not do; read.understood.Unclear, with all questions of all files, where only the
    user can tell what a file means. ValueError where `zone` names none.
    """
    from reach.read import table
    from reach.read.roles import Own
    from reach.read.understood import Settings, zone_of

    settings = Settings(columns or {}, day_first, None if zone is None else zone_of(zone))
    asked = table.Asked(settings, own=Own(own_call, own_locator), power_w=power_w)
    return table.read(*paths, folder=folder, asked=asked)

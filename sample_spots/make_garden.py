"""An evening of three antennas for garden.toml: the vertical and the wire of the other samples, and a small loop.

All of it is made up. Written by make_samples.py, whose slots, listeners and signals these are.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pandas as pd

SETUPS = ("vertical", "wire", "loop")
START = datetime(2026, 5, 10, 18, tzinfo=UTC)
BLOCKS, BLOCK_MIN = 30, 10
BAND = "20m"
TRANSMISSIONS_MIN = (2, 6)  # into a block: time to change over the antennas
LOOP_DB = -4.0  # the loop against the mean of vertical and wire, at every listener


def slots() -> tuple[pd.DataFrame, list[tuple[datetime, datetime, str]]]:
    """10 May 2026, 18 to 23 UTC: the three in turn, ten minutes each; slots (time_utc, band, setup) and blocks."""
    rows, blocks = [], []
    for block in range(BLOCKS):
        begin, setup = START + timedelta(minutes=BLOCK_MIN * block), SETUPS[block % 3]
        blocks.append((begin, begin + timedelta(minutes=BLOCK_MIN), setup))
        rows += [(begin + timedelta(minutes=k), BAND, setup) for k in TRANSMISSIONS_MIN]
    return pd.DataFrame(rows, columns=["time_utc", "band", "setup"]), blocks


def gain_db(setup: pd.Series, vertical_minus_wire_db: pd.Series) -> np.ndarray:
    """What the setup of each slot adds at each listener, shape (slots, listeners) [dB].

    vertical_minus_wire_db : at each listener
    """
    half = setup.map({"vertical": 0.5, "wire": -0.5, "loop": 0.0}).to_numpy()
    level = (setup == "loop").to_numpy() * LOOP_DB
    return level[:, None] + half[:, None] * vertical_minus_wire_db.to_numpy()


def truth(spots: pd.DataFrame, vertical_minus_wire_db: pd.Series) -> dict[str, object]:
    """Counts, and the true differences averaged over the listeners that heard all three, each once."""
    heard = spots.groupby("listener")["setup"].nunique()
    all_three = heard.index[heard == len(SETUPS)]
    between = float(vertical_minus_wire_db.iloc[all_three].mean())
    return {
        "spots": len(spots),
        "spots_by_setup": {setup: int(n) for setup, n in spots["setup"].value_counts().sort_index().items()},
        "listeners": int(spots["listener"].nunique()),
        "heard_all": {
            "listeners": len(all_three),
            "vertical_minus_wire_db": round(between, 2),
            "vertical_minus_loop_db": round(between / 2 - LOOP_DB, 2),
            "wire_minus_loop_db": round(-between / 2 - LOOP_DB, 2),
        },
    }

"""Two months of evenings for season.toml: a station that loses 4 dB on one day, and three neighbours, one of whom changes too.

All of it is made up. Written by make_samples.py; an invention of its own with daily shares of the band and of each
transmitter, as a season is about days.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

START = pd.Timestamp("2026-03-01T18:00:00")
DAYS = 60
CHANGE_DAY, CHANGE_DB = 32, -4.0  # of the station, from 2 April 2026
OTHER_DAY, OTHER_DB = 19, 5.0  # of the last neighbour, from 20 March 2026
# Neighbours: call, locator, power.
CONTROLS = (("EI9QUC", "IO51rv", 10), ("EI7QTD", "IO52qb", 5), ("EI8QUE", "IO51gx", 2))
LISTENERS, NEAR_KM, FAR_KM = 8, 700.0, 2600.0
SLOTS, EVERY_MIN = 8, 30
BAND_MHZ = 14.0871
LEVEL_DB, FLOOR_DB = -7.0, -28.0


def table(rng: np.random.Generator, listeners: pd.DataFrame, call: str, locator: str, power_w: float) -> pd.DataFrame:
    """The export: rows of all four transmitters in order of time."""
    there = listeners["distance_km"].between(NEAR_KM, FAR_KM) & listeners["callsign"].str.match(r"^[A-Z0-9]+$")
    who = listeners[there].iloc[:: max(int(there.sum()) // LISTENERS, 1)].head(LISTENERS).reset_index(drop=True)
    many = len(who)
    usual = LEVEL_DB + rng.normal(0, 3, many)
    band = _days(rng, 0.5, 2.5)[:, None] + rng.normal(0, 1, (DAYS, many))
    parts = []
    for k, (name, place, watts) in enumerate([(call, locator, power_w), *CONTROLS]):
        done = np.zeros(DAYS)
        if k == 0:
            done[CHANGE_DAY:] = CHANGE_DB
        if k == len(CONTROLS):
            done[OTHER_DAY:] = OTHER_DB
        day = (
            usual
            + rng.normal(0, 2, many)
            + band
            + rng.normal(0, 1.2, (DAYS, many))
            + (_days(rng, 0.2, 1.0) + done)[:, None]
        )
        snr = day[:, None, :] + rng.normal(0, 3.5, (DAYS, SLOTS, many))
        heard = (snr >= FLOOR_DB) & (rng.random(snr.shape) < 0.95)
        at, slot, listener = np.nonzero(heard)
        minutes = at * 1440 + slot * EVERY_MIN + 2 * k
        times = START + pd.to_timedelta(minutes, unit="min")
        parts.append(
            pd.DataFrame(
                {
                    "time_utc": times.strftime("%Y-%m-%dT%H:%MZ"),
                    "callsign": who["callsign"].to_numpy()[listener],
                    "locator": who["locator"].to_numpy()[listener],
                    "snr_db": np.rint(snr[at, slot, listener]).astype(int),
                    "frequency_mhz": f"{BAND_MHZ + k * 2e-5:.5f}",
                    "transmitter": name,
                    "transmitter_locator": place,
                    "power_w": f"{watts:g}",
                }
            )
        )
    rows = pd.concat(parts)
    return rows.sort_values(["time_utc", "transmitter", "callsign"], kind="stable", ignore_index=True)


def truth(rows: pd.DataFrame, call: str) -> dict[str, Any]:
    """What truth.json says of it."""
    counts = {str(name): int(count) for name, count in rows["transmitter"].value_counts().sort_index().items()}
    changed = (START + pd.Timedelta(days=CHANGE_DAY)).strftime("%Y-%m-%d")
    other = (START + pd.Timedelta(days=OTHER_DAY)).strftime("%Y-%m-%d")
    return {
        "rows": counts,
        "days": DAYS,
        "change": {"callsign": call, "day": changed, "db": CHANGE_DB},
        "control_changed": {"callsign": CONTROLS[-1][0], "day": other, "db": OTHER_DB},
    }


def _days(rng: np.random.Generator, keeps: float, sd_db: float) -> np.ndarray:
    """A level a day that keeps a share of the day before."""
    y = rng.normal(0, 1, DAYS)
    for k in range(1, DAYS):
        y[k] = keeps * y[k - 1] + np.sqrt(1 - keeps**2) * y[k]
    return sd_db * y

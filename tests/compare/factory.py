"""Small tables of spots and of reports for tests: alternating setups, receivers with offsets, noise; seeded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from reach.compare.reports import Reports, clean

START = pd.Timestamp("2026-05-16 18:00", tz="UTC")
LOCATORS = ("JN58td", "JO22lj", "IO91wm", "FN31pr", "EM12kp", "PM95ur", "GG66qj", "KP20le", "JM75fv", "IM58jl")


def alternating(
    seed: int,
    *,
    receivers: int = 8,
    blocks: int = 12,
    block_min: float = 10.0,
    slot_min: float = 2.0,
    difference_db: float = 2.0,
    heard: float = 0.7,
    level_db: float = -12.0,
    noise_db: float = 2.5,
    limit_db: float = -28.0,
    bands: tuple[str, ...] = ("20m",),
    order: str = "ab",
) -> pd.DataFrame:
    """Blocks of `a` and `b` in turn (or as `order` says, repeated), every slot heard by a share of the receivers."""
    rng = np.random.default_rng(seed)
    slots = np.arange(0, blocks * block_min, slot_min)
    setup = np.array([order[int(t // block_min) % len(order)] for t in slots])
    band = np.array([bands[int(t // (2 * block_min)) % len(bands)] for t in slots])
    offset = rng.normal(0, 4, receivers)
    drift = rng.normal(0, 1.5, receivers)[:, None] * np.sin(slots / 35.0)
    level = level_db + offset[:, None] + drift + rng.normal(0, noise_db, (receivers, len(slots)))
    level = level + np.where(setup == "a", difference_db, 0.0)
    who, when = np.nonzero((rng.random(level.shape) < heard) & (level > limit_db))
    calls = np.array([f"M{k}QR{chr(65 + k % 17)}" for k in range(receivers)], dtype=object)
    places = np.array([LOCATORS[k % len(LOCATORS)] for k in range(receivers)], dtype=object)
    return pd.DataFrame(
        {
            "time_utc": START + pd.to_timedelta(slots[when], unit="min"),
            "rx_call": pd.Categorical(calls[who]),
            "rx_locator": pd.Categorical(places[who]),
            "snr_db": np.round(level[who, when]).astype("float32"),
            "band": pd.Categorical(band[when]),
            "setup": pd.Categorical(setup[when], categories=["a", "b"]),
        }
    )


def sorted_reports(
    time_min: Sequence[float] | np.ndarray,
    is_a: Sequence[bool] | np.ndarray,
    *,
    receiver: Sequence[int] | np.ndarray | None = None,
    channel: Sequence[int] | np.ndarray | None = None,
    snr_db: Sequence[float] | np.ndarray | None = None,
    power_db: Sequence[float] | np.ndarray | None = None,
    whole: bool = False,
) -> Reports:
    """Sorted reports that stand for their value alone, or for the whole decibel about it."""
    n = len(time_min)
    zeros = np.zeros(n, dtype=np.int64)
    found = clean(
        (np.asarray(time_min, float) * 60e6).astype(np.int64),
        zeros if receiver is None else np.asarray(receiver, np.int64),
        zeros if channel is None else np.asarray(channel, np.int64),
        np.asarray(is_a, bool),
        np.full(n, -10.0) if snr_db is None else np.asarray(snr_db, float),
        np.zeros(n) if power_db is None else np.asarray(power_db, float),
    ).reports
    return found if whole else replace(found, round_db=np.zeros(n))

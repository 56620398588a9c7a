"""Sessions on two setups with a known schedule, made up and seeded: what the schedule's clock is tried on.

A band fades slowly, partly for all receivers at once, and quickly for each; receivers come and go, hear with different
offsets and stop decoding below a limit. A `Kind` turns each of these up or off; what is transmitted outside the schedule,
and a band that opens late or closes early, are what reports' ends must not be misled by.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import lfilter
from scipy.special import ndtr

from reach.assign import schedule as schedules

START = pd.Timestamp("2026-05-16 16:00", tz="UTC")
LIMIT_DB = -28.0


@dataclass(frozen=True)
class Kind:
    """What is simulated. Times in minutes, levels in dB.

    plan        alternating | drawn (pairs in random order) | doubled (ABBA) | slots | three (A B C in turn)
    difference_db  A minus B; shared : how much of the slow fading all receivers have in common
    before_min, after_min  transmitted outside the schedule as well, with setup A
    opens_min, closes_min  from the first start: the band is shut before, and from then on
    pause_slots  silence after every block; on_air : share of the slots that are used
    hoppers     share of the receivers that listen in turns of their own; in_step : in turns as long as a block
    jitter_s    reports carry the second they were made, so many late at most
    """

    name: str
    plan: str = "alternating"
    block_min: float = 10.0
    slot_min: float = 2.0
    hours: float = 8.0
    days: int = 1
    receivers: int = 60
    difference_db: float = 0.0
    level_db: float = -18.0
    slow_sd_db: float = 5.0
    slow_min: float = 20.0
    shared: float = 0.45
    fast_sd_db: float = 2.6
    trend_db: float = -4.0
    before_min: float = 0.0
    after_min: float = 0.0
    opens_min: float = -np.inf
    closes_min: float = np.inf
    pause_slots: int = 0
    on_air: float = 1.0
    hoppers: float = 0.3
    in_step: bool = False
    jitter_s: int = 0
    bands: int = 1


def make(kind: Kind, seed: int) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The spots of one seeded session, and the schedule as it truly was."""
    rng = np.random.default_rng([seed, *map(ord, kind.name)])
    schedule = _schedule(kind, rng)
    minute, sign, band = _slots(kind, schedule, rng)
    n = kind.receivers
    base = kind.level_db + rng.normal(0, 6, n)
    into = minute % 1440 / max(kind.hours * 60, 1) - 0.5
    level = base[:, None] + rng.normal(kind.trend_db, 2, n)[:, None] * into + _fading(kind, rng, n, minute)
    level += kind.difference_db / 2 * sign
    shut = (minute < kind.opens_min) | (minute >= kind.closes_min)
    level[:, shut] -= 40
    snr = level + kind.fast_sd_db * rng.normal(size=level.shape)
    heard = _listening(kind, rng, n, minute) & (rng.random(level.shape) < ndtr((snr - LIMIT_DB) / 1.0))
    who, when = np.nonzero(heard)
    second = np.round(minute[when] * 60).astype(np.int64) + rng.integers(0, kind.jitter_s + 1, len(when))
    spots = pd.DataFrame(
        {
            "time_utc": START + pd.to_timedelta(second, unit="s"),
            "rx_call": pd.Categorical.from_codes(who, [f"M{k % 10}Q{k:03d}" for k in range(n)]),
            "band": pd.Categorical.from_codes(band[when], ["20m", "40m"]),
            "snr_db": np.round(snr[who, when]).astype("float32"),
        }
    )
    return spots.sort_values("time_utc", kind="stable", ignore_index=True), schedule


def late(schedule: pd.DataFrame, minutes: float) -> pd.DataFrame:
    """The schedule as a clock so many minutes ahead would have written it."""
    by = pd.Timedelta(minutes=minutes)
    return schedule.assign(start=schedule["start"] + by, end=schedule["end"] + by)


def _schedule(kind: Kind, rng: np.random.Generator) -> pd.DataFrame:
    block = kind.slot_min if kind.plan == "slots" else kind.block_min
    blocks = int(kind.hours * 60 / (block + kind.pause_slots * kind.slot_min))
    rows = []
    for day in range(kind.days):
        coin = rng.integers(0, 2, blocks)
        for k in range(blocks):
            if kind.plan == "drawn":
                which = "AB"[(k + coin[k // 2]) % 2]
            elif kind.plan == "doubled":
                which = "ABBA"[k % 4]
            else:
                which = "ABC"[k % 3] if kind.plan == "three" else "AB"[k % 2]
            begin = START + pd.Timedelta(minutes=day * 1440 + k * (block + kind.pause_slots * kind.slot_min))
            rows.append((begin, begin + pd.Timedelta(minutes=block), which))
    return schedules.table(rows)


def _slots(kind: Kind, schedule: pd.DataFrame, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Start of each transmission from START on, +1 or -1 by what was on the air (0: a third setup), and its band."""
    start, end = (((schedule[name] - START).dt.total_seconds() / 60).to_numpy() for name in ("start", "end"))
    grid = np.arange(-kind.before_min, end[-1] + kind.after_min, kind.slot_min)
    row = np.searchsorted(start, grid, side="right") - 1
    inside = (row >= 0) & (grid < end[np.maximum(row, 0)])
    outside = (grid < 0) | (grid >= end[-1])
    sign = np.array([{"A": 1, "B": -1, "C": 0}[name] for name in schedule["setup"]])[np.maximum(row, 0)]
    sign = np.where(outside, 1, sign)
    used = (inside | outside) & (rng.random(len(grid)) < kind.on_air)
    block = np.floor(grid / kind.block_min).astype(int) // 2
    return grid[used], sign[used], (block % kind.bands)[used]


def _fading(kind: Kind, rng: np.random.Generator, n: int, minute: np.ndarray) -> np.ndarray:
    """Slow fading on the whole grid, read off where something was sent."""
    grid = np.arange(minute.min(), minute.max() + kind.slot_min, kind.slot_min)
    keep = np.exp(-kind.slot_min / kind.slow_min)
    noise = rng.normal(size=(n + 1, len(grid)))
    noise[:, 1:] *= np.sqrt(1 - keep**2)
    paths = lfilter([1.0], [1.0, -keep], noise, axis=1)
    mixed = np.sqrt(kind.shared) * paths[:1] + np.sqrt(1 - kind.shared) * paths[1:]
    at = np.round((minute - grid[0]) / kind.slot_min).astype(int)
    return kind.slow_sd_db * mixed[:, at]


def _listening(kind: Kind, rng: np.random.Generator, n: int, minute: np.ndarray) -> np.ndarray:
    listening = np.ones((n, len(minute)), dtype=bool)
    span = minute.max() - minute.min() + kind.slot_min
    part = rng.random(n) < 0.4
    begin, length = minute.min() + rng.uniform(-span / 2, span, n), rng.uniform(span / 6, span, n)
    window = (minute >= begin[:, None]) & (minute < (begin + length)[:, None])
    listening[part] = window[part]
    hop = rng.random(n) < kind.hoppers
    dwell = np.full(n, 2 * kind.block_min) if kind.in_step else rng.uniform(4, 30, n)
    on = (minute / dwell[:, None] + rng.uniform(0, 1, n)[:, None]) % 1 < rng.uniform(0.25, 0.8, n)[:, None]
    listening[hop] &= on[hop]
    return listening


ALIKE = (
    Kind("10 min alternating, 8 h, 60 rx"),
    Kind("same, 15 rx, 3 h", receivers=15, hours=3),
    Kind("same, 30 rx, 12 h", receivers=30, hours=12),
    Kind("same, 170 rx, 8 h", receivers=170),
    Kind("drawn, 8 h, 60 rx", plan="drawn"),
    Kind("drawn, 20 rx, 4 h", plan="drawn", receivers=20, hours=4),
    Kind("drawn, 60 rx, 2 h", plan="drawn", hours=2),
    Kind("20 min alternating", block_min=20),
    Kind("30 min alternating", block_min=30),
    Kind("20 min drawn", plan="drawn", block_min=20),
    Kind("doubled (ABBA)", plan="doubled"),
    Kind("slot by slot", plan="slots"),
    Kind("three setups in turn", plan="three"),
    Kind("all fade together", shared=0.95),
    Kind("all fade together, drawn", shared=0.95, plan="drawn"),
    Kind("fades slowly (60 min), drawn", slow_min=60, plan="drawn", shared=0.7),
    Kind("fades quickly (5 min)", slow_min=5),
    Kind("band closing, 6 h", hours=6, trend_db=-25),
    Kind("band closing, 6 h, drawn", hours=6, trend_db=-25, plan="drawn"),
    Kind("band opens an hour late", opens_min=60),
    Kind("band shuts an hour early", closes_min=420),
    Kind("on the air an hour before", before_min=60),
    Kind("on the air an hour after", after_min=60),
    Kind("on the air all day", before_min=600, after_min=300),
    Kind("weak: near the limit", level_db=-25),
    Kind("a pause after every block", pause_slots=2),
    Kind("one slot in three", on_air=0.34),
    Kind("receivers hop in step", hoppers=0.6, in_step=True),
    Kind("two days", days=2, hours=4),
    Kind("two bands in turn, drawn", bands=2, plan="drawn"),
    Kind("reports to the second", jitter_s=40, plan="drawn"),
    Kind("15-second slots, drawn, 2 h", slot_min=0.25, hours=2, plan="drawn", receivers=30),
)
# An operator who began an hour early on a band that closed within that hour: only he can tell.
AWKWARD = (
    Kind("an hour before, and the band shut an hour early", before_min=60, closes_min=420),
    Kind("the same, drawn", before_min=60, closes_min=420, plan="drawn"),
)

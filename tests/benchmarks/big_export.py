"""A large export like the world's, for measuring: made up, from a fixed seed, as large as asked.

    python -m tests.benchmarks.big_export big.csv --rows 2000000

A month of one station (or a year, or as many days as asked), two setups alternated every ten minutes, three bands in turn,
heard in the towns of the sample spots by listeners with the prefixes of their countries. One claim of a place in 150 is
mistyped, a few rows in a hundred were exported twice. Who hears what is a plain guess: nearer and by night is easier.
"""

from __future__ import annotations

import argparse
import importlib.util
import sys
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd

SAMPLES = Path(__file__).parents[2] / "sample_spots"
SEED = 20260501
START = "2026-05-01"
LISTENERS_A_TOWN = 12
MISTYPED = 1 / 150  # of the claims of a place
TWICE = 0.025  # of the rows
SLOTS_A_DAY = 720  # of two minutes
SETUPS, BLOCK_SLOTS = ("vertical", "wire"), 5
MOST_LIKELY = 0.92  # nobody decodes everything

STUDY = """title = "A large export"
made_up = true
files = ["{name}"]

[station]
callsign = "EI4QTB/P"
locator = "IO51es"
power_w = 5
"""
COMPARED = """
[compare]
a = "vertical"
b = "wire"
"""


def write(path: Path, rows: int, *, days: int = 30, start: str = START, compared: bool = False) -> Path:
    """Write the export, and beside it a study, which compares the two setups if asked. Returns the study file.

    start : the first day, such as 2025-05-01
    """
    from pyarrow import Table, csv

    samples = _samples()
    rng = np.random.default_rng(SEED)
    listeners = _listeners(samples, rng)
    slot, who = _receptions(listeners, rng, round(rows / (1 + TWICE)), days)
    snr_db = _snr_db(listeners, slot, who, rng)
    table = _table(samples, listeners, start, slot, who, snr_db, rng)
    again = np.sort(np.concatenate([np.arange(len(table)), rng.integers(0, len(table), rows - len(table))]))
    csv.write_csv(Table.from_pandas(table.iloc[again], preserve_index=False), path)
    return write_study(path, compared=compared)


def write_study(path: Path, *, compared: bool) -> Path:
    """The study beside an export."""
    study = path.with_suffix(".toml")
    study.write_text(STUDY.format(name=path.name) + (COMPARED if compared else ""), encoding="utf-8")
    return study


def _samples() -> ModuleType:
    """The script that makes the sample spots: its towns, prefixes and way of writing a locator."""
    sys.path.insert(0, str(SAMPLES))
    try:
        spec = importlib.util.spec_from_file_location("make_samples", SAMPLES / "make_samples.py")
        assert spec is not None and spec.loader is not None
        module = importlib.util.module_from_spec(spec)
        sys.modules["make_samples"] = module
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(SAMPLES))
    return module


def _listeners(samples: Any, rng: np.random.Generator) -> pd.DataFrame:
    """callsign, locator as claimed, distance_km, zeal, offset_db, opens (hour UTC by band), lasts (hours)."""
    towns = pd.read_csv(SAMPLES / "towns.csv", dtype={"region": str}, keep_default_na=False)
    places, suffixes = samples.places(), samples.suffixes()
    calls: list[str] = []
    taken = set()
    for number in np.repeat(towns["place"], LISTENERS_A_TOWN):
        place = places.loc[number]
        while True:
            call = str(rng.choice(place.prefixes)) + str(rng.choice(list(place.digits))) + str(rng.choice(suffixes))
            call += "" if call not in taken else f"/{rng.integers(1, 10)}"
            if call not in taken:
                break
        taken.add(call)
        calls.append(call)
    # Within the town: less than half a subsquare, so that nobody lives in the sea.
    lon = np.repeat(towns["lon_deg"], LISTENERS_A_TOWN).to_numpy() + rng.uniform(-0.03, 0.03, len(calls))
    lat = np.repeat(towns["lat_deg"], LISTENERS_A_TOWN).to_numpy() + rng.uniform(-0.015, 0.015, len(calls))
    names = samples.locator(lon, lat)
    for k in np.flatnonzero(rng.random(len(calls)) < MISTYPED):
        names[k] = _mistyped(names[k], rng)
    return pd.DataFrame(
        {
            "callsign": calls,
            "locator": names,
            "distance_km": samples.great_circle(lon, lat)[0],
            "lon_deg": lon,
            "zeal": rng.pareto(1.3, len(calls)) + 0.05,
            "offset_db": rng.normal(0, 6, len(calls)),
        }
    )


def _mistyped(name: str, rng: np.random.Generator) -> str:
    """One character replaced by another that may stand there."""
    at = int(rng.integers(0, 6))
    choices = ("ABCDEFGHIJKLMNOPQR", "0123456789", "abcdefghijklmnopqrstuvwx")[at // 2]
    other = str(rng.choice([letter for letter in choices if letter != name[at]]))
    return name[:at] + other + name[at + 1 :]


def _receptions(listeners: pd.DataFrame, rng: np.random.Generator, rows: int, days: int) -> tuple[Any, Any]:
    """(slot, listener) of every reception in order of time: nobody hears one slot twice.

    A path is open in some hours of the day, longest for near listeners; zeal says how many of the open slots are decoded.
    """
    count = len(listeners)
    night = (24 - listeners["lon_deg"].to_numpy() / 15) % 24  # midnight there, UTC
    opens = (night + rng.normal(-4, 3, (3, count))) % 24
    lasts = np.clip(14 - listeners["distance_km"].to_numpy() / 1500 + rng.normal(0, 2, (3, count)), 2, 20)
    hour = np.arange(24)[:, None, None]
    is_open = (hour - opens) % 24 < lasts  # (hour, band, listener)
    zeal = listeners["zeal"].to_numpy()
    for _ in range(30):  # what some cannot hear oftener, the others do
        expected = (is_open * np.minimum(zeal, MOST_LIKELY)).mean(axis=(0, 1)).sum() * SLOTS_A_DAY * days
        zeal = zeal * rows / expected
    likely = is_open * np.minimum(zeal * 1.01, MOST_LIKELY)  # a few too many, so that some can be taken away
    found_slots, found_who = [], []
    slots = np.arange(SLOTS_A_DAY)
    for day in range(days):
        heard = rng.random((SLOTS_A_DAY, count), dtype=np.float32) < likely[slots // 30, slots % 3]
        slot, who = np.nonzero(heard)
        found_slots.append((slot + day * SLOTS_A_DAY).astype(np.int32))
        found_who.append(who.astype(np.int32))
    slot, who = np.concatenate(found_slots), np.concatenate(found_who)
    taken = np.sort(rng.choice(len(slot), min(rows, len(slot)), replace=False))
    return slot[taken], who[taken]


def _snr_db(listeners: pd.DataFrame, slot: Any, who: Any, rng: np.random.Generator) -> Any:
    """Weaker from afar; the vertical 4 dB better beyond 3000 km and 1.5 dB worse within."""
    far = listeners["distance_km"].to_numpy()[who]
    level = -8 - 6 * np.log2(np.maximum(far, 300) / 1000) / 2 + listeners["offset_db"].to_numpy()[who]
    drift = rng.normal(0, 3, slot.max() // 30 + 1)[slot // 30]
    antenna = np.where(slot // BLOCK_SLOTS % 2 == 0, 0.5, -0.5) * np.where(far > 3000, 4.0, -1.5)
    return np.clip(np.rint(level + drift + antenna + rng.normal(0, 3, len(slot))), -29, 15).astype(np.int32)


def _table(
    samples: Any, listeners: pd.DataFrame, start: str, slot: Any, who: Any, snr_db: Any, rng: Any
) -> pd.DataFrame:
    """The export, as text where it is text; text columns as categories."""
    slots = np.arange(slot.max() + 1)
    times = np.datetime64(f"{start}T00:00:00") + (slots * 120).astype("timedelta64[s]")
    bands = [band.mhz for band in samples.BANDS.values()]
    hz = rng.integers(0, 200, len(slot))
    frequency = pd.Series(np.array(bands)[slot % 3] + hz * 1e-6).round(6)

    def of(codes: Any, names: list[str]) -> pd.Categorical:
        return pd.Categorical.from_codes(codes, categories=pd.Index(names, dtype=object))

    zeros = np.zeros(len(slot), np.int8)
    claimed, at = np.unique(listeners["locator"], return_inverse=True)
    return pd.DataFrame(
        {
            "time_utc": of(slot, [f"{text}Z" for text in np.datetime_as_string(times).tolist()]),
            "callsign": of(who, listeners["callsign"].tolist()),
            "locator": of(at[who], claimed.tolist()),
            "snr_db": snr_db,
            "frequency_mhz": frequency,
            "transmitter": of(zeros, [samples.CALL]),
            "transmitter_locator": of(zeros, [samples.LOCATOR]),
            "power_w": zeros + samples.POWER_W,
            "antenna": of(slot // BLOCK_SLOTS % 2, list(SETUPS)),
        }
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("path", type=Path)
    parser.add_argument("--rows", type=int, default=2_000_000)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--start", default=START, help="the first day")
    given = parser.parse_args()
    print(write(given.path, given.rows, days=given.days, start=given.start))

"""A long period of made-up spots: a station that nobody owns, listeners who do not exist, bands that open as a rule of thumb has it.

python -m tests.samples.year FOLDER [--days 365] [--rows 60000] writes year.csv, year_schedule.csv and year.toml there, for looking
at the pictures of long periods and at how large a page becomes. Nothing of it was ever on the air.

What is built in, so that pictures can be held against it: three weeks without transmissions in the summer (the schedule says so),
five days in the autumn on which the station transmitted and nobody heard it, 10 m open by day in the darker half of the year only,
40 m by night, 20 m by day; the receivers that hear it grow more by a third over the year.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import locator
from reach.place import path
from tests import factory

FIRST = np.datetime64("2025-03-01T00:00:00", "s")
HOME_LON_DEG, HOME_LAT_DEG = -9.6, 51.7
BANDS = {"40m": 7.0401, "30m": 10.1402, "20m": 14.0971, "15m": 21.0961, "10m": 28.1261}
AWAY = (140, 161)  # days since the first: not on the air
DEAF = (215, 220)  # on the air, and nobody heard it
RECEIVERS = 500


def spots(days: int = 365, rows: int = 60_000, *, seed: int = 7, receivers: int = RECEIVERS) -> pd.DataFrame:
    """The export, in order of time: about so many rows."""
    rng = np.random.default_rng(seed)
    among = factory.receivers(receivers, rng)
    among = among[(among["trust"] != "suspect").to_numpy()].reset_index(drop=True)
    rate = _open(days)  # day, band, hour
    rate /= rate.sum()
    count = rng.poisson(rate * rows)
    day, band, hour = (np.repeat(at, count.ravel()) for at in np.indices(count.shape).reshape(3, -1))
    zeal = rng.pareto(1.6, len(among)) + 0.2
    joined = rng.integers(0, days, len(among)) * (rng.random(len(among)) < 0.35)
    who = _who(rng, among, zeal, band, day)
    minute = rng.integers(0, 30, len(day)) * 2
    there = day >= joined[who]
    day, band, hour, who, minute = (each[there] for each in (day, band, hour, who, minute))
    snr = np.round(rng.normal(-17, 6, len(day))).clip(-33, 15).astype(int)
    time = FIRST + ((day * 24 + hour) * 60 + minute).astype("timedelta64[m]")
    table = pd.DataFrame(
        {
            "time_utc": pd.DatetimeIndex(time).strftime("%Y-%m-%dT%H:%M:%SZ"),
            "callsign": among["rx_call"].to_numpy()[who],
            "locator": among["rx_locator"].to_numpy()[who],
            "snr_db": snr,
            "frequency_mhz": np.array(list(BANDS.values()))[band],
            "transmitter": factory.STATION,
            "transmitter_locator": factory.HOME,
            "power_w": 0.2,
        }
    )
    table = table.drop_duplicates(["time_utc", "callsign", "frequency_mhz"])
    return table.sort_values(["time_utc", "callsign"], kind="stable", ignore_index=True)


def _open(days: int) -> npt.NDArray[np.float64]:
    """How often each band is heard: shape (days, bands, 24)."""
    day, hour = np.arange(days)[:, None], np.arange(24)[None, :]
    season = 2 * np.pi * (day + 59 - 172) / 365.25  # 0 at midsummer
    declination = np.radians(23.44) * np.cos(season)
    angle = np.radians((hour + 0.5 - 12) * 15 + HOME_LON_DEG)
    lat = np.radians(HOME_LAT_DEG)
    sun = np.sin(lat) * np.sin(declination) + np.cos(lat) * np.cos(declination) * np.cos(angle)
    light = 1 / (1 + np.exp(-12 * sun))
    winter = (1 - np.cos(season)) / 2
    shares = [
        0.9 * (1 - light) + 0.03, 0.6 * (1 - light) + 0.35 * light, 0.9 * light + 0.12 * (1 - winter),
        0.5 * light * (0.3 + winter), 0.7 * light * np.clip(2 * winter - 0.6, 0, None),
    ]  # fmt: skip
    rate = np.stack([np.broadcast_to(share, (days, 24)) for share in shares], axis=1)
    wave = 1 + 0.35 * np.sin(2 * np.pi * np.arange(days) / 27)
    rate = rate * wave[:, None, None] * (~off(days) & ~deaf(days))[:, None, None]
    return np.where(rate > 0.02, rate, 0.0)


def _who(rng: np.random.Generator, among: pd.DataFrame, zeal: npt.NDArray[np.float64], band: npt.NDArray[np.int64],
         day: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:  # fmt: skip
    """Which receiver heard it: near ones on 40 m, far ones the higher the band, and farther in the darker half of the year."""
    lon, lat = locator.centre(list(among["rx_locator"]))
    km, _ = path.inverse(np.full(len(lon), HOME_LON_DEG), np.full(len(lon), HOME_LAT_DEG), lon, lat)
    winter = (1 - np.cos(2 * np.pi * (day + 59 - 172) / 365.25)) / 2
    who = np.empty(len(day), dtype=np.int64)
    for k in range(len(BANDS)):
        for dark in (False, True):
            its = (band == k) & ((winter > 0.5) == dark)
            reach_km = (900, 1300, 2200, 3500, 4500)[k] * (1.4 if dark else 1.0)
            share = zeal * np.exp(-km / reach_km) * (1 if k < 3 else km / reach_km)
            who[its] = rng.choice(len(among), int(its.sum()), p=share / share.sum())
    return who


def off(days: int) -> npt.NDArray[np.bool_]:
    """Which days the station was away, once a year."""
    since = np.arange(days) % 365
    return (since >= AWAY[0]) & (since < AWAY[1])


def deaf(days: int) -> npt.NDArray[np.bool_]:
    """On which it was on the air and nobody heard it."""
    since = np.arange(days) % 365
    return (since >= DEAF[0]) & (since < DEAF[1])


def schedule(days: int) -> pd.DataFrame:
    """When it was on the air: whole days."""
    on = np.flatnonzero(~off(days))
    start = FIRST + on.astype("timedelta64[D]")
    text = [pd.DatetimeIndex(each).strftime("%Y-%m-%dT%H:%M:%SZ") for each in (start, start + np.timedelta64(1, "D"))]
    return pd.DataFrame({"start": text[0], "end": text[1], "setup": "vertical"})


STUDY = """# Made up: the station, the listeners and every report.
title = "A year of two hundred milliwatts"
about = "Made-up data to look at pictures of long periods with: neither the station nor a listener exists."
made_up = true
now = 2045-01-01T00:00:00Z
files = ["year.csv"]
{schedule}
[station]
callsign = "EI4QTB/P"
locator = "IO51es"
power_w = 0.2
"""


def write(folder: Path, *, days: int = 365, rows: int = 60_000, known: bool = True, seed: int = 7) -> Path:
    """The study with its files. known : whether a schedule says when the station was on the air"""
    folder.mkdir(parents=True, exist_ok=True)
    spots(days, rows, seed=seed).to_csv(folder / "year.csv", index=False)
    schedule(days).to_csv(folder / "year_schedule.csv", index=False)
    line = 'schedule = "year_schedule.csv"\nschedule_confirmed = true\n' if known else ""
    study = folder / "year.toml"
    study.write_text(STUDY.format(schedule=line), encoding="utf-8")
    return study


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--days", type=int, default=365)
    parser.add_argument("--rows", type=int, default=60_000)
    parser.add_argument("--no-schedule", action="store_true")
    given = parser.parse_args()
    print(write(given.folder, days=given.days, rows=given.rows, known=not given.no_schedule))


if __name__ == "__main__":
    main()

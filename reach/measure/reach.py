"""How far, where to and when: every headline with its interval, worked out here and nowhere else.

`reach` reads a tally and gives a `Reach`. Terminal, page, slides, handout, pictures, film and summary.json all read
that one object, so that no two of them can differ. Headlines rest on `Reach.corroborated.overall` (`Reach.headline`);
where no locator is corroborated it holds no report, and nothing is claimed.

Intervals are 95 % intervals for receivers like these: a receiver with all its reports counts as one observation,
because a station that reports five hundred times is still one station.

`to_dict` gives what summary.json holds. Its keys, all numbers plain JSON (null where there is nothing to say):

period          first_utc, last_utc (ISO 8601)
power           the power that "per watt" is worked out with: entries setup ("" where spots carry none), band,
                power_w (null where it is not known), at ("antenna", or "radio" where losses are not known)
all             a block over all accepted spots
corroborated    the same over spots of corroborated receivers only: the one that headlines use
claims          what may be singled out of the corroborated spots, by measure.claims.Kind: winner, runner_up, reason (apart:
                it may; alike, few, alone: it may not), alike (those it does not stand apart from), value and next_value
                (of winner and runner-up: spots, or a median), spots and receivers behind it, candidates, p (of the
                closest test), confounders (what the difference may come from instead)
spots_between   how many spots stand behind the difference of the two
suspect_spots   how many of these are of suspect receivers

A block: overall (figures), by_band, by_setup ({name: figures}), by_band_and_setup ([{band, setup, figures}]).
Figures (an `..._interval` is [low, high], null with fewer than six effective receivers):
spots, receivers (distinct callsigns), places (distinct callsign and locator), squares (distinct first four
    characters), countries (distinct, of the receivers' cells), days (UTC)
median_km, p90_km       half, and nine in ten, of the spots came from within this distance; each with its _interval
farthest                rx_call, rx_locator, country, distance_km, uncertainty_km, bearing_deg, bearing_uncertainty_deg, bands, reports,
                        best_snr_db, first_utc, trust (spots.TRUST); null where there are no spots
km_per_watt             the most kilometres by watt of any path: a curiosity of one report, no measure of a setup, since watts
                        add decibels and kilometres hang on where somebody listens; null where a power is not known
median_snr_at_1_w_db    median SNR if every spot had been sent with 1 W; null where a power is not known. Where the
                        station heard others: over the reports whose own power is known, null below half of them
snr_db                  lowest, lower_quartile, median, upper_quartile, highest
by_hour                 24 counts, UTC hour of the day
hours                   the hours with spots: hour_utc, reports, receivers, median_km, median_km_interval
by_sector               12 entries centre_deg, reports, receivers, share (of the spots), share_interval, median_km,
                        p90_km; 30 degrees, the first on north
by_ring                 entries from_km, to_km, reports, receivers
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands, keys, quantile
from reach.measure import singled_out
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Claim, Kind
from reach.measure.sectors import CENTRES_DEG, ring_of, sector_of
from reach.measure.tally import Tally, hours_since_1970
from reach.place import path
from reach.spots import CORROBORATED, RING_EDGES_KM, SUSPECT

if TYPE_CHECKING:
    from reach.radio.power import Power

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]

LEAST_RECEIVERS: Final = 6.0  # effective receivers below which no interval is given
NORMAL_95: Final = 1.959963984540054  # the 97.5th percentile of the normal distribution
NAN: Final = float("nan")


# --- what is found ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Estimate:
    """A number with its 95 % interval; low and high are NaN where there are too few receivers for one."""

    value: float
    low: float = NAN
    high: float = NAN

    @property
    def has_interval(self) -> bool:
        """Whether an interval is given."""
        return bool(np.isfinite(self.low))


@dataclass(frozen=True)
class Farthest:
    """The farthest receiver of a set of reports; bearing_within_deg : how far the bearing may be off for the size of the cells;
    trust : spots.TRUST, how far its locator can be trusted."""

    call: str
    locator: str
    country: str
    distance_km: float
    uncertainty_km: float
    bearing_deg: float
    bearing_within_deg: float
    reports: int
    bands: tuple[str, ...]
    best_snr_db: float
    first_utc: pd.Timestamp
    trust: str


@dataclass(frozen=True)
class Hour:
    """An hour of the day with reports."""

    hour_utc: int
    reports: int
    receivers: int
    median_km: Estimate


@dataclass(frozen=True)
class Sector:
    """A direction, 30 degrees wide. share : of all reports; distances are NaN without reports."""

    centre_deg: int
    reports: int
    receivers: int
    share: Estimate
    median_km: float
    p90_km: float

    @property
    def is_few(self) -> bool:
        """Too few reports or receivers for its distances to be told."""
        return self.reports < FEW_REPORTS or self.receivers < FEW_RECEIVERS


@dataclass(frozen=True)
class Ring:
    """A ring of distance."""

    from_km: int
    to_km: int
    reports: int
    receivers: int


@dataclass(frozen=True)
class Figures:
    """How far a set of reports reached: half came from beyond `median_km`, one in ten from beyond `p90_km`.

    snr_db    lowest, lower quartile, median, upper quartile, highest [dB]
    days      UTC days with a report
    hours     those with reports, in order of the day
    sectors   all twelve; rings : all ten
    """

    reports: int
    receivers: int
    places: int
    squares: int
    countries: int
    days: int
    median_km: Estimate
    p90_km: Estimate
    farthest: Farthest | None
    km_per_watt: float
    median_snr_at_1_w_db: float
    snr_db: tuple[float, float, float, float, float]
    hours: tuple[Hour, ...]
    sectors: tuple[Sector, ...]
    rings: tuple[Ring, ...]

    @property
    def is_few(self) -> bool:
        """Too few reports or receivers for a share of them to say anything of others."""
        return self.reports < FEW_REPORTS or self.receivers < FEW_RECEIVERS

    @property
    def tells_tenth(self) -> bool:
        """Whether one in ten from beyond says anything: not of too few, nor where the farthest itself is the tenth."""
        return not self.is_few and self.p90_km.value < self.far_km

    @property
    def far_km(self) -> float:
        """How far away the farthest is; 0 without any."""
        return self.farthest.distance_km if self.farthest is not None else 0.0

    @property
    def has_directions(self) -> bool:
        """Whether any report has a direction: none from the station's own cell has."""
        return any(sector.reports for sector in self.sectors)


@dataclass(frozen=True)
class Block:
    """Figures over all and over parts of a set of reports. Bands come longest wave first.

    claims : what may be singled out of `overall`. Of all reports that is the hour alone: whatever else is claimed hangs on
        locators, so that only corroborated ones carry it
    """

    overall: Figures
    by_band: dict[str, Figures]
    by_setup: dict[str, Figures]
    by_band_and_setup: dict[tuple[str, str], Figures]
    claims: Mapping[Kind, Claim] = field(default_factory=dict)


@dataclass(frozen=True, repr=False)
class Reach:
    """Everything that headlines, pictures and summary.json say of how far, where to and when.

    first_utc, last_utc  of all accepted reports; NaT without any
    all       over all accepted reports; corroborated : over those of corroborated receivers alone
    suspect   reports of suspect receivers
    power     by (setup, band)
    """

    first_utc: pd.Timestamp
    last_utc: pd.Timestamp
    all: Block
    corroborated: Block
    suspect: int
    power: Mapping[tuple[str, str], Power]

    @property
    def headline(self) -> Figures:
        """What headlines rest on: corroborated locators alone, so perhaps no report at all."""
        return self.corroborated.overall

    @property
    def claims(self) -> Mapping[Kind, Claim]:
        """What may be singled out of them."""
        return self.corroborated.claims

    @property
    def between(self) -> int:
        """Reports that were accepted and do not count in the headline."""
        return self.all.overall.reports - self.headline.reports

    def __repr__(self) -> str:
        found = self.headline
        return f"<Reach: {found.reports} reports of {found.receivers} receivers, half from beyond {found.median_km.value:.0f} km>"

    def to_dict(self) -> dict[str, Any]:
        """The documented content of summary.json (see the top of this module)."""
        return {
            "period": {"first_utc": _iso(self.first_utc), "last_utc": _iso(self.last_utc)},
            "power": [
                {"setup": setup, "band": band, "power_w": _plain(p.power_w), "at": p.at}
                for (setup, band), p in sorted(self.power.items())
            ],
            "all": _block_dict(self.all),
            "corroborated": _block_dict(self.corroborated),
            "claims": {kind.value: _claim_dict(claim) for kind, claim in self.claims.items()},
            "spots_between": self.between,
            "suspect_spots": self.suspect,
        }


# --- worked out -------------------------------------------------------------------------------------------------------


def reach(
    tally: Tally,
    *,
    power: Mapping[tuple[str, str], Power] | None = None,
    far_power_w: pd.Series | None = None,
) -> Reach:
    """How far, where to, when.

    tally : of placed spots with `trust`; without it no locator is corroborated
    power : by (setup, band), setup "" for spots without one; figures per watt are NaN where it is left out
    far_power_w : of those who were heard, where the station only listened: by (rx_call, band, hour_utc), as
        `radio.power.of_far_ends` gives it; it takes the place of `power`
    Returns Reach.
    """
    known = dict(power or {})
    by_hour = tally.pooled.by_hour
    claims = singled_out.found(tally, _is_sure)
    rows = _Rows.of(tally, known, far_power_w)
    return Reach(
        first_utc=by_hour["first_utc"].min(),
        last_utc=by_hour["last_utc"].max(),
        all=replace(
            _block(rows, sure=False),
            claims={Kind.FULLEST_HOUR: singled_out.fullest_hour(by_hour)},
        ),
        corroborated=replace(_block(rows, sure=True), claims=claims),
        suspect=int(by_hour["reports"].to_numpy()[_is(by_hour, SUSPECT)].sum()),
        power=known,
    )


def _is(rows: pd.DataFrame, trust: str) -> Flags:
    """Which rows of a tally are of locators that can be trusted so far; none where nobody looked."""
    return (rows["trust"] == trust).to_numpy() if "trust" in rows else np.zeros(len(rows), dtype=bool)


def _is_sure(rows: pd.DataFrame) -> Flags:
    """Which rows headlines rest on."""
    return _is(rows, CORROBORATED)


def quantile_estimate(values: npt.ArrayLike, reports: npt.ArrayLike, share: float) -> Estimate:
    """A quantile over reports, with an interval that treats receivers as the observations.

    values : shape (n,), one a receiver; reports : shape (n,), how often it occurs; share : 0..1
    Returns Estimate; without interval below LEAST_RECEIVERS effective receivers.
    Source: Woodruff (1952), Confidence intervals for medians and other position measures, JASA 47, 635-646, with the
    variance of a ratio over clusters (Cochran 1977, Sampling Techniques, 3rd ed., 9A.1).
    """
    value, count = np.asarray(values, float), np.asarray(reports, float)
    found = float(quantile.weighted(value, count, [share])[0])
    half = _half_width(value <= found, count)
    if not np.isfinite(half):
        return Estimate(found)
    low, high = quantile.weighted(value, count, [max(0.0, share - half), min(1.0, share + half)])
    return Estimate(found, float(low), float(high))


def share_estimate(holds: npt.ArrayLike, reports: npt.ArrayLike) -> Estimate:
    """The share of reports for which something holds, with an interval that treats receivers as the observations.

    holds : bool, shape (n,), one a receiver; reports : shape (n,)
    Returns Estimate, 0..1. Source of the variance: Cochran (1977), Sampling Techniques, 3rd ed., 9A.1.
    """
    yes, count = np.asarray(holds, bool), np.asarray(reports, float)
    if not count.sum():
        return Estimate(NAN)
    share, half = float(count[yes].sum() / count.sum()), _half_width(yes, count)
    return Estimate(share, max(0.0, share - half), min(1.0, share + half)) if np.isfinite(half) else Estimate(share)


def _half_width(holds: Flags, count: Floats) -> float:
    """Half the 95 % interval of a share of reports, receivers being the observations; NaN with too few of them."""
    used = count > 0
    holds, count = holds[used], count[used]
    total, n = count.sum(), len(count)
    # Receivers of equal zeal that would be as good (Kish): one that sends half of all reports is most of the evidence.
    if not n or total**2 / (count**2).sum() < LEAST_RECEIVERS:
        return NAN
    residual = count * (holds - (count * holds).sum() / total)
    return float(NORMAL_95 * np.sqrt(n / (n - 1) * (residual**2).sum()) / total)


class _Parted:
    """Which rows of a table belong to a part of the reports. The categories are asked, not the rows.

    table : with sure, and the categories band and setup
    """

    def __init__(self, table: pd.DataFrame) -> None:
        self._sure = table["sure"].to_numpy()
        self._held = {
            name: ([*table[name].cat.categories, ""], table[name].cat.codes.to_numpy()) for name in ("band", "setup")
        }

    def chosen(self, part: _Part) -> Flags:
        """Of each row whether it belongs to the part; a null is the empty name."""
        use = self._sure.copy() if part.sure else np.ones(len(self._sure), dtype=bool)
        for name, wanted in (("band", part.band), ("setup", part.setup)):
            if wanted is not None:
                names, codes = self._held[name]
                use &= np.array([each == wanted for each in names])[codes]  # code -1, a null, takes the last
        return use


class _Counts(_Parted):
    """Reports added up by place, band, setup and one thing more, so that no figure goes through the cells of a year again.

    place : shape (n,), row of `_Rows.places`; band, setup : names, shape (n,); value : the one thing more; reports
    """

    def __init__(self, rows: pd.DataFrame, value: str, *, more: Sequence[str] = (), carry: Sequence[str] = ()) -> None:
        self.table = keys.added(rows, ["place", "sure", "band", "setup", value, *more], carry=carry)
        super().__init__(self.table)
        self.place = self.table["place"].to_numpy().astype(np.int64)
        self.band = self.table["band"].astype(object).to_numpy()
        self.setup = self.table["setup"].astype(object).where(self.table["setup"].notna(), "").to_numpy()
        self.value = self.table[value].to_numpy()
        self.reports = self.table["reports"].to_numpy()


@dataclass(frozen=True)
class _Part:
    """Which reports: of corroborated receivers only or all, of one band or all, of one setup or all ("": of no known one)."""

    sure: bool
    band: str | None = None
    setup: str | None = None


@dataclass(frozen=True)
class _Rows:
    """The tally added up by hour of the day, by level, by power and by day. Distances hang on places alone, of which there
    are few, so that each group is added up by place first and sorted never.

    least_known : share of the reports whose power must be known before anything is said per watt
    by_power : by level and power_w [W], NaN where it is not known
    at_1_w_db, at_1_w : the different levels that these would have had with 1 W, and which of them each has; -1 where it is not known
    days, day : each UTC day with a report, and which it is, since 1970
    places : columns of one row a distinct (tx_locator, rx_call, rx_locator), in the order of their text
    km, sector, ring : of each place
    call, receiver, square, country : a number for each different callsign, callsign and locator, square, country of the places;
        -1 where it is missing
    """

    by_hour: _Counts
    by_level: _Counts
    by_power: _Counts
    at_1_w_db: Floats
    at_1_w: Ints
    days: _Parted
    day: Ints
    least_known: float
    places: Mapping[str, Any]
    km: Floats
    sector: Ints
    ring: Ints
    call: Ints
    receiver: Ints
    square: Ints
    country: Ints

    @classmethod
    def of(cls, tally: Tally, power: Mapping[tuple[str, str], Power], far_power_w: pd.Series | None = None) -> _Rows:
        cells, timed = tally.cells, tally.pooled.by_hour
        by_hour = _Counts(_placed(timed, "hour", "first_utc"), "hour", carry=["first_utc"])
        by_level = _Counts(_placed(tally.pooled.by_level, "snr_db"), "snr_db")
        if far_power_w is None:
            powered = by_level.table.assign(power_w=_watts(by_level.band, by_level.setup, power))
        else:
            at = pd.MultiIndex.from_frame(cells[["rx_call", "band", "hour_utc"]].astype({"rx_call": str, "band": str}))
            powered = _placed(cells, "snr_db").assign(power_w=far_power_w.reindex(at).to_numpy(dtype=float))
        by_power = _Counts(powered, "snr_db", more=["power_w"])
        at_1_w, at_1_w_db = pd.factorize(by_power.value - 10 * np.log10(by_power.table["power_w"].to_numpy()))
        places, days = _places(timed), _days(cells)
        return cls(
            by_hour=by_hour,
            by_level=by_level,
            by_power=by_power,
            at_1_w_db=at_1_w_db,
            at_1_w=at_1_w,
            days=_Parted(days),
            day=days["day"].to_numpy(),
            least_known=1.0 if far_power_w is None else _LEAST_KNOWN,
            places={str(name): column.array for name, column in places.items()},
            km=places["distance_km"].to_numpy(dtype=float),
            sector=sector_of(places["bearing_deg"]),
            ring=ring_of(places["distance_km"]),
            call=_numbers(places["rx_call"]),
            receiver=keys.numbers(places, ["rx_call", "rx_locator"]),
            square=_numbers(places["rx_locator"].astype(str).str[:4]),
            country=_numbers(places["country"]),
        )


def _numbers(column: pd.Series) -> Ints:
    """A number for each different thing; -1 where there is none."""
    return pd.factorize(column)[0].astype(np.int64)


def _placed(rows: pd.DataFrame, *more: str) -> pd.DataFrame:
    """Rows of a tally with the number of their place; the same place has the same number in every table of one tally."""
    place = _place_of(rows)[1].astype(np.int32)
    return rows[["band", "setup", "reports", *more]].assign(place=place, sure=_is_sure(rows))


def _place_of(rows: pd.DataFrame) -> tuple[Ints, Ints]:
    """(keys of the places in the order of their text, which of them each row has)."""
    return keys.distinct(*keys.combine([keys.codes(rows[name]) for name in ("tx_locator", "rx_call", "rx_locator")]))


def _days(cells: pd.DataFrame) -> pd.DataFrame:
    """The days on which there are reports, since 1970, by trust, band and setup."""
    rows = cells[["band", "setup"]].assign(sure=_is_sure(cells), day=hours_since_1970(cells["hour_utc"]) // 24)
    return keys.added(rows, ["sure", "band", "setup", "day"])


def _places(rows: pd.DataFrame) -> pd.DataFrame:
    """The table of places. rows : of a tally, all places among them"""
    values, place = _place_of(rows)
    some_row = keys.first_rows(place, len(values))
    names = ["rx_call", "rx_locator", "distance_km", "distance_uncertainty_km", "bearing_deg", "country"]
    places = rows[[*names, *(["trust"] if "trust" in rows else [])]].take(some_row)
    return places.assign(trust=places.get("trust", ""))


def _watts(band: npt.NDArray[Any], setup: npt.NDArray[Any], power: Mapping[tuple[str, str], Power]) -> Floats:
    """The power of each row [W], by its band and setup; NaN where it is not known."""
    watts = np.full(len(band), np.nan)
    for (its_setup, its_band), known in power.items():
        if known.power_w is not None:
            watts[(setup == its_setup) & (band == its_band)] = known.power_w
    return watts


_LEAST_KNOWN: Final = 0.5  # of the reports, where each power is another's


def _block(rows: _Rows, sure: bool) -> Block:
    there = rows.by_hour.chosen(_Part(sure))
    band_names = bands.in_order(set(rows.by_hour.band[there]))
    setup_names = sorted(set(rows.by_hour.setup[there]))
    pairs = set(zip(rows.by_hour.band[there], rows.by_hour.setup[there], strict=True))
    known: dict[bytes, Figures] = {}

    def figures(part: _Part) -> Figures:
        # The one band of a study is all of it, and so is the one setup of a band: the same reports have the same figures.
        same = rows.by_hour.chosen(part).tobytes()
        if same not in known:
            known[same] = _figures(rows, part)
        return known[same]

    return Block(
        overall=figures(_Part(sure)),
        by_band={band: figures(_Part(sure, band)) for band in band_names},
        by_setup={setup: figures(_Part(sure, setup=setup)) for setup in setup_names if setup},
        by_band_and_setup={
            key: figures(_Part(sure, *key)) for key in itertools.product(band_names, setup_names) if key in pairs
        },
    )


def _figures(rows: _Rows, part: _Part) -> Figures:
    timed, level = rows.by_hour.chosen(part), rows.by_level.chosen(part)
    # Reports by place and hour as one array: distances and receivers hang on the place, so all below is sums over it.
    by_hour = np.bincount(
        rows.by_hour.place[timed] * 24 + rows.by_hour.value[timed], rows.by_hour.reports[timed], 24 * len(rows.km)
    )
    by_hour = by_hour.reshape(len(rows.km), 24).astype(np.int64)
    all_counts = by_hour.sum(axis=1)
    there = np.flatnonzero(all_counts)
    count, km, call = all_counts[there], rows.km[there], rows.call[there]
    levels = quantile.weighted(rows.by_level.value[level], rows.by_level.reports[level], [0, 0.25, 0.5, 0.75, 1])
    km_per_watt, at_1_w_db = _per_watt(rows, part)
    return Figures(
        reports=int(count.sum()),
        receivers=_different(call),
        places=_different(rows.receiver[there]),
        squares=_different(rows.square[there]),
        countries=_different(rows.country[there]),
        days=len(np.unique(rows.day[rows.days.chosen(part)])),
        median_km=quantile_estimate(km, count, 0.5),
        p90_km=quantile_estimate(km, count, 0.9),
        farthest=_farthest(rows, timed, level, there),
        km_per_watt=km_per_watt,
        median_snr_at_1_w_db=at_1_w_db,
        snr_db=tuple(float(level) for level in levels),  # type: ignore[arg-type]
        hours=_hours(rows, by_hour),
        sectors=_sectors(rows.sector[there], km, call, count),
        rings=_rings(rows.ring[there], call, count),
    )


def _different(numbers: Ints) -> int:
    """How many there are, where the same thing has the same number; what is missing has -1 and is none."""
    return int(np.count_nonzero(np.bincount(numbers[numbers >= 0])))


def _per_watt(rows: _Rows, part: _Part) -> tuple[float, float]:
    """(most kilometres by watt, median SNR if all had been sent with 1 W); NaN where too few powers are known.

    Per watt means nothing where some of the station's own power is not known. Of others many a one never tells theirs.
    """
    counts = rows.by_power
    chosen = counts.chosen(part)
    reports, place = counts.reports[chosen], counts.place[chosen]
    watts = counts.table["power_w"].to_numpy()[chosen]
    known = np.isfinite(watts)
    if not known.any() or reports[known].sum() < rows.least_known * reports.sum():
        return NAN, NAN
    km = rows.km[place]
    levels = np.bincount(rows.at_1_w[chosen][known], reports[known], len(rows.at_1_w_db))
    return float(np.nanmax(km / watts)), float(quantile.weighted(rows.at_1_w_db, levels, [0.5])[0])


def _farthest(rows: _Rows, timed: Flags, level: Flags, there: Ints) -> Farthest | None:
    """there : rows of `places`"""
    if not len(there):
        return None
    km = rows.km[there]
    # `there` is in the order of the station's locator first, so that of two that are as far it need not be the first.
    at = min(there[km == km.max()], key=lambda k: (str(rows.places["rx_call"][k]), str(rows.places["rx_locator"][k])))
    top = {name: column[at] for name, column in rows.places.items()}
    its = rows.receiver == rows.receiver[at]
    same = timed & its[rows.by_hour.place]
    return Farthest(
        call=str(top["rx_call"]),
        locator=str(top["rx_locator"]),
        country="" if pd.isna(top["country"]) else str(top["country"]),
        distance_km=float(top["distance_km"]),
        uncertainty_km=float(top["distance_uncertainty_km"]),
        bearing_deg=float(top["bearing_deg"]),
        bearing_within_deg=float(path.bearing_within_deg(top["distance_km"], top["distance_uncertainty_km"])),
        reports=int(rows.by_hour.reports[same].sum()),
        bands=tuple(bands.in_order({str(band) for band in rows.by_hour.band[same] if not pd.isna(band)})),
        best_snr_db=float(rows.by_level.value[level & its[rows.by_level.place]].max()),
        first_utc=rows.by_hour.table["first_utc"].array[same].min(),
        trust=str(top["trust"]),
    )


def _hours(rows: _Rows, by_hour: Ints) -> tuple[Hour, ...]:
    """by_hour : reports, shape (places, 24)"""
    found = []
    for hour in np.flatnonzero(by_hour.any(axis=0)):
        count = by_hour[:, hour]
        there = np.flatnonzero(count)
        median = quantile_estimate(rows.km[there], count[there], 0.5)
        found.append(Hour(int(hour), int(count.sum()), _different(rows.call[there]), median))
    return tuple(found)


def _sectors(sector: Ints, km: Floats, call: Ints, count: Ints) -> tuple[Sector, ...]:
    found = []
    for k, centre_deg in enumerate(CENTRES_DEG):
        its = sector == k
        median, p90 = quantile.weighted(km[its], count[its], [0.5, 0.9])
        share = share_estimate(its, count)  # of all reports: one from the station's own cell has no direction
        receivers = _different(call[its])
        found.append(Sector(centre_deg, int(count[its].sum()), receivers, share, float(median), float(p90)))
    return tuple(found)


def _rings(ring: Ints, call: Ints, count: Ints) -> tuple[Ring, ...]:
    return tuple(
        Ring(low, high, int(count[ring == k].sum()), _different(call[ring == k]))
        for k, (low, high) in enumerate(itertools.pairwise(RING_EDGES_KM))
    )


# --- as summary.json has it -------------------------------------------------------------------------------------------


def _block_dict(block: Block) -> dict[str, Any]:
    return {
        "overall": _figures_dict(block.overall),
        "by_band": {name: _figures_dict(figures) for name, figures in block.by_band.items()},
        "by_setup": {name: _figures_dict(figures) for name, figures in block.by_setup.items()},
        "by_band_and_setup": [
            {"band": band, "setup": setup, **_figures_dict(figures)}
            for (band, setup), figures in block.by_band_and_setup.items()
        ],
    }


def _figures_dict(found: Figures) -> dict[str, Any]:
    levels = ("lowest", "lower_quartile", "median", "upper_quartile", "highest")
    by_hour = {hour.hour_utc: hour.reports for hour in found.hours}
    return {
        "spots": found.reports,
        "receivers": found.receivers,
        "places": found.places,
        "squares": found.squares,
        "countries": found.countries,
        "days": found.days,
        **_estimate_dict("median_km", found.median_km),
        **_estimate_dict("p90_km", found.p90_km),
        "farthest": _farthest_dict(found.farthest) if found.farthest is not None else None,
        "km_per_watt": _plain(found.km_per_watt),
        "median_snr_at_1_w_db": _plain(found.median_snr_at_1_w_db),
        "snr_db": {name: _plain(level) for name, level in zip(levels, found.snr_db, strict=True)},
        "by_hour": [by_hour.get(hour, 0) for hour in range(24)],
        "hours": [
            {
                "hour_utc": hour.hour_utc,
                "reports": hour.reports,
                "receivers": hour.receivers,
                **_estimate_dict("median_km", hour.median_km),
            }
            for hour in found.hours
        ],
        "by_sector": [
            {
                "centre_deg": sector.centre_deg,
                "reports": sector.reports,
                "receivers": sector.receivers,
                **_estimate_dict("share", sector.share),
                "median_km": _plain(sector.median_km),
                "p90_km": _plain(sector.p90_km),
            }
            for sector in found.sectors
        ],
        "by_ring": [
            {"from_km": ring.from_km, "to_km": ring.to_km, "reports": ring.reports, "receivers": ring.receivers}
            for ring in found.rings
        ],
    }


def _claim_dict(claim: Claim) -> dict[str, Any]:
    return {
        "winner": claim.winner,
        "runner_up": claim.runner_up,
        "reason": claim.reason.value,
        "alike": list(claim.alike),
        "value": _plain(claim.value),
        "next_value": _plain(claim.next_value),
        "spots": claim.reports,
        "receivers": claim.receivers,
        "candidates": claim.candidates,
        "p": _plain(claim.p),
        "confounders": [each.value for each in claim.confounders],
    }


def _farthest_dict(far: Farthest) -> dict[str, Any]:
    return {
        "rx_call": far.call,
        "rx_locator": far.locator,
        "country": far.country or None,
        "distance_km": _plain(far.distance_km),
        "uncertainty_km": _plain(far.uncertainty_km),
        "bearing_deg": _plain(far.bearing_deg),
        "bearing_uncertainty_deg": _plain(far.bearing_within_deg),
        "bands": list(far.bands),
        "reports": far.reports,
        "best_snr_db": _plain(far.best_snr_db),
        "first_utc": _iso(far.first_utc),
        "trust": far.trust,
    }


def _estimate_dict(name: str, found: Estimate) -> dict[str, Any]:
    interval = [_plain(found.low), _plain(found.high)] if found.has_interval else None
    return {name: _plain(found.value), f"{name}_interval": interval}


def _plain(value: float | None) -> float | None:
    """A JSON number with no more digits than it is worth; null for NaN."""
    return None if value is None or np.isnan(value) else round(float(value), 3)


def _iso(moment: Any) -> str | None:
    return None if pd.isna(moment) else moment.strftime("%Y-%m-%dT%H:%M:%SZ")

"""What a walk found, as numbers and sentences: the page and the slides say it in the same words.

Headlines rest on reports of receivers with a corroborated locator and on no others; where there are none, nothing is
claimed, and the sentences say why. Intervals are 95 % intervals for receivers like these: a receiver with all its
reports counts as one observation, because a station that reports five hundred times is still one station.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import bands as bands_by_wavelength
from reach.base import quantile, words
from reach.compare.comparison import Verdict
from reach.draw import captions
from reach.findings import Findings
from reach.measure import summary
from reach.measure.summary import sector_of
from reach.spots import CORROBORATED, SECTOR_DEG, SUSPECT
from reach.tell.sentences import comparison as sentences

LEAST_RECEIVERS: Final = 6.0  # effective receivers below which no interval is given
NORMAL_95: Final = 1.959963984540054  # the 97.5th percentile of the normal distribution
FEW_REPORTS, FEW_RECEIVERS = 10, 3  # a sector or an hour with less than either is not singled out
_PLACE: Final = ["tx_locator", "rx_call", "rx_locator"]


@dataclass(frozen=True)
class Estimate:
    """A number with its 95 % interval; low and high are NaN where there are too few receivers for one."""

    value: float
    low: float = float("nan")
    high: float = float("nan")

    @property
    def has_interval(self) -> bool:
        """Whether an interval is given."""
        return bool(np.isfinite(self.low) and np.isfinite(self.high))


@dataclass(frozen=True)
class Farthest:
    """The farthest receiver of a set of reports."""

    call: str
    locator: str
    country: str
    distance_km: float
    uncertainty_km: float
    bearing_deg: float
    reports: int
    bands: tuple[str, ...]
    trust: str


@dataclass(frozen=True)
class Reach:
    """How far a set of reports reached: half came from beyond `median_km`, one in ten from beyond `p90_km`."""

    reports: int
    receivers: int
    squares: int
    countries: int
    median_km: Estimate
    p90_km: Estimate
    farthest: Farthest | None


@dataclass(frozen=True)
class Sentence:
    """One finding: what it answers, the finding, and what stands behind it."""

    topic: str
    text: str
    evidence: str


def with_trust(findings: Findings) -> pd.DataFrame:
    """The spots of a result with the `trust` of each row's receiver (spots.TRUST, category), in their order.

    A receiver that the table of receivers does not know is unconfirmed.
    """
    return findings.spots.assign(trust=summary.trust_of(findings.spots, findings.receivers))


def reach(spots: pd.DataFrame) -> Reach:
    """How far these reports reached.

    spots : placed spot table with `trust` (`with_trust`); may be empty
    Returns Reach. Quantiles are those of all reports written out; NaN where there is none.
    """
    places = _places(spots)
    return Reach(
        reports=len(spots),
        receivers=int(spots["rx_call"].nunique()),
        squares=len({str(name)[:4] for name in spots["rx_locator"].unique()}),
        countries=int(spots["country"].nunique()),
        median_km=quantile_estimate(places["distance_km"], places["reports"], 0.5),
        p90_km=quantile_estimate(places["distance_km"], places["reports"], 0.9),
        farthest=_farthest(spots, places),
    )


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
        return Estimate(float("nan"))
    share, half = float(count[yes].sum() / count.sum()), _half_width(yes, count)
    return Estimate(share, max(0.0, share - half), min(1.0, share + half)) if np.isfinite(half) else Estimate(share)


def _half_width(holds: npt.NDArray[np.bool_], count: npt.NDArray[np.float64]) -> float:
    """Half the 95 % interval of a share of reports, receivers being the observations; NaN with too few of them."""
    used = count > 0
    holds, count = holds[used], count[used]
    total, n = count.sum(), len(count)
    if n < 2 or total**2 / (count**2).sum() < LEAST_RECEIVERS:
        return float("nan")
    residual = count * (holds - (count * holds).sum() / total)
    return float(NORMAL_95 * np.sqrt(n / (n - 1) * (residual**2).sum()) / total)


# --- the circumstances ------------------------------------------------------------------------------------------------


def period(findings: Findings) -> str:
    """From when to when in words; "no reports" where there are none."""
    if findings.spots.empty:
        return "no reports"
    times = findings.spots["time_utc"]
    return words.period(times.min().to_pydatetime(), times.max().to_pydatetime())


def bands(spots: pd.DataFrame) -> list[str]:
    """The bands in use, longest wave first."""
    return bands_by_wavelength.in_order(map(str, spots["band"].dropna().unique()))


def setups(spots: pd.DataFrame) -> list[str]:
    """The setups in use, by name."""
    return sorted(str(name) for name in spots["setup"].dropna().unique())


def powers(findings: Findings) -> list[float]:
    """The distinct powers at the radio behind the spots [W], rising: the study's, else those in the spots."""
    asked = {findings.study.power_w(name) for name in (setups(findings.spots) or [None])}  # type: ignore[list-item]
    known = {float(watt) for watt in asked if watt is not None}
    return sorted(known or {round(float(watt), 3) for watt in findings.spots["power_w"].dropna().unique()})


def circumstances(findings: Findings) -> str:
    """Who, where, when, with how much, on what: one line."""
    watt = words.listed([words.watt(value) for value in powers(findings)]) if powers(findings) else "power not given"
    parts = [captions.signature(findings), period(findings), watt]
    parts += [words.listed(names) for names in (bands(findings.spots), setups(findings.spots)) if names]
    return " · ".join(part for part in parts if part)


def headline(findings: Findings) -> str:
    """The finding in one short sentence, for a title."""
    if findings.spots.empty:
        return "No report was accepted"
    found = headline_reach(findings)
    if not found.reports:
        return captions.NOTHING_CLAIMED
    return f"Half of the reports came from beyond {words.km(found.median_km.value)}"


def headline_reach(findings: Findings) -> Reach:
    """The Reach that headlines use: of corroborated locators alone, so perhaps of no report at all."""
    return reach(_corroborated(with_trust(findings)))


def _corroborated(spots: pd.DataFrame) -> pd.DataFrame:
    return spots[(spots["trust"] == CORROBORATED).to_numpy()]


# --- the answer -------------------------------------------------------------------------------------------------------


def answer(findings: Findings) -> tuple[Sentence, ...]:
    """How far, where to, when, which setup: a sentence each with its numbers, and the evidence behind it.

    Where no locator is corroborated: that nothing is claimed and why, when the reports came, which setup.
    """
    if findings.spots.empty:
        read = words.things(findings.counts.read, "row was", "rows were")
        return (Sentence("How far", "No report was accepted, so nothing can be said.", f"{read} read."),)
    spots = with_trust(findings)
    sure = _corroborated(spots)
    if sure.empty:
        return (_nothing_claimed(spots), _when(spots, far=False), better(findings))
    return (_how_far(spots, sure), _where_to(sure), _when(sure), better(findings))


def _nothing_claimed(spots: pd.DataFrame) -> Sentence:
    receivers = words.things(int(spots["rx_call"].nunique()), "receiver")
    suspects = int((spots["trust"] == SUSPECT).sum())
    doubt = f"; {words.count(suspects)} of these are suspect" if suspects else ""
    return Sentence(
        "How far",
        f"{captions.NOTHING_CLAIMED}: nothing confirms where any of the {receivers} was.",
        f"{words.things(len(spots), 'report')} accepted{doubt}. A locator is corroborated where the callsign's country "
        "agrees with it, or where a listener without a callsign reported in two different hours, as strongly as others "
        "did from that far.",
    )


def _how_far(spots: pd.DataFrame, sure: pd.DataFrame) -> Sentence:
    found, everything = reach(sure), reach(spots)
    far = found.farthest
    text = (
        f"Half of {words.things(found.reports, 'report')} came from beyond {words.km(found.median_km.value)}, "
        f"one in ten from beyond {words.km(found.p90_km.value)}"
    )
    if far is not None:
        where = f" in {far.country}" if far.country else ""
        text += f"; the farthest from {far.call}{where}, {distance(far.distance_km, far.uncertainty_km)} away"
    evidence = (
        f"{words.things(found.receivers, 'receiver')}, {words.things(found.squares, 'square')}; 95 % intervals: "
        f"half-way distance {interval_km(found.median_km)}, one in ten {interval_km(found.p90_km)}. "
    )
    return Sentence("How far", text + ".", evidence + _what_was_left_out(spots, sure, everything))


def _what_was_left_out(spots: pd.DataFrame, sure: pd.DataFrame, everything: Reach) -> str:
    """Which rows stand behind the difference between the headline and all accepted rows, and what they would say."""
    between = len(spots) - len(sure)
    if not between:
        return "Every locator is corroborated."
    suspects = int((spots["trust"] == SUSPECT).sum())
    far = everything.farthest
    with_all = f"half beyond {words.km(everything.median_km.value)}"
    if far is not None:
        with_all += f", the farthest {words.km(far.distance_km)} ({far.call}, {far.trust})"
    doubt = "all suspect" if suspects == between else f"{words.count(suspects)} of them suspect"
    return (
        f"Corroborated locators only; {words.things(between, 'report')} with other locators, {doubt}, would make it "
        f"{with_all}."
    )


def _where_to(spots: pd.DataFrame) -> Sentence:
    places = _places(spots)
    places = places.assign(sector=sector_of(places["bearing_deg"]))
    by_sector = places[places["sector"] >= 0].groupby("sector")["reports"].sum()
    found = reach(spots)
    text = (
        f"It was heard in {words.things(found.countries, 'country', 'countries')} and "
        f"{words.things(found.squares, 'square')}"
    )
    if by_sector.empty:
        return Sentence("Where to", text + ".", f"{words.things(found.reports, 'report')}.")
    top = int(by_sector.index[int(by_sector.argmax())])
    inside = (places["sector"] == top).to_numpy()
    part = share_estimate(inside, places["reports"])
    text += f"; the largest share of reports, {percent(part.value)}, came from {towards(top)}."
    spread = f", 95 % interval {percent(part.low)} to {percent(part.high)}" if part.has_interval else ""
    evidence = (
        f"{words.things(int(places['reports'][inside].sum()), 'report')} of "
        f"{words.things(int(places['rx_call'][inside].nunique()), 'receiver')} in that sector{spread}."
    )
    silent = (360 // SECTOR_DEG) - len(by_sector)
    if silent:
        evidence += f" Nothing from {words.things(silent, 'sector')}: that may also mean that nobody listens there."
    return Sentence("Where to", text, evidence)


def _when(spots: pd.DataFrame, *, far: bool = True) -> Sentence:
    """When most reports came and, where their locators carry it, when the signal reached farthest."""
    hours = spots["time_utc"].dt.hour
    table = spots.groupby(hours).agg(reports=("line", "size"), receivers=("rx_call", "nunique"))
    busy = int(table.index[int(table["reports"].argmax())])
    text = f"Most reports came between {hour(busy)} UTC"
    evidence = (
        f"{words.count(int(table['reports'][busy]))} of {words.things(len(spots), 'report')}, "
        f"{words.things(int(table['receivers'][busy]), 'receiver')} in that hour"
    )
    enough = table[(table["reports"] >= FEW_REPORTS) & (table["receivers"] >= FEW_RECEIVERS)].index
    if far and len(enough) > 1:
        medians = {int(h): _median_at(spots, hours, int(h)) for h in enough}
        best = max(medians, key=lambda h: medians[h].value)
        reach_then = f"half beyond {words.km(medians[best].value)}"
        if best == busy:
            text += f", when the signal also reached farthest: {reach_then}"
        else:
            text += f"; the signal reached farthest between {hour(best)}: {reach_then}"
            evidence += f"; {words.things(int(table['reports'][best]), 'report')} between {hour(best)}"
        evidence += f"; 95 % interval of that distance {interval_km(medians[best])}"
    days = words.things(int(spots["time_utc"].dt.date.nunique()), "day")
    evidence += f". Hours of the day over {days}; an hour without transmissions has no reports."
    return Sentence("When", text + ".", evidence)


def _median_at(spots: pd.DataFrame, hours: pd.Series, which: int) -> Estimate:
    places = _places(spots[(hours == which).to_numpy()])
    return quantile_estimate(places["distance_km"], places["reports"], 0.5)


def better(findings: Findings) -> Sentence:
    """Which setup is better, or why that cannot be said."""
    names = setups(findings.spots)
    if findings.comparison is None:
        if len(names) < 2:
            only = f"only {names[0]!r} is named" if names else "the reports name no setup"
            return Sentence("Which setup", f"Nothing to compare: {only}.", "")
        how = "To compare two, name them under [compare] in a study file, or ask reach compare."
        return Sentence("Which setup", "No comparison was asked for.", f"Setups: {words.listed(names)}. {how}")
    found = findings.comparison
    say = words.PRINT
    if found.verdict == Verdict.CANNOT_TELL:
        behind = [sentences.remark(step, found, say=say) for step in found.next_steps]
    else:
        behind = [*sentences.parts(found, say=say)]
    return Sentence("Which setup", sentences.headline(found, say=say), " ".join(behind))


# --- small words ------------------------------------------------------------------------------------------------------


def percent(share: float) -> str:
    """0.414 -> '41 %'."""
    return words.share(share, 1.0)


def interval_km(estimate: Estimate) -> str:
    """'1 390 to 1 610 km', or why there is none."""
    if not estimate.has_interval:
        return "not given (too few receivers)"
    low = words.km(estimate.low).removesuffix(f"{words.THIN}km")
    return f"{low} to {words.km(estimate.high)}"


def distance(value_km: float, uncertainty_km: float) -> str:
    """'17 020 ± 8 km': a distance with the uncertainty of its locators, both in whole kilometres."""
    return f"{words.count(value_km)} ± {words.count(max(1, np.ceil(uncertainty_km)))}{words.THIN}km"


def towards(sector: int) -> str:
    """A sector in words: 'the sector around 60° (ENE)'."""
    centre = sector * SECTOR_DEG
    return f"the sector around {centre}° ({words.compass(centre)})"


def hour(which: int) -> str:
    """'21 and 22': the hour from 21:00 on."""
    return f"{which:02d}:00 and {(which + 1) % 24:02d}:00"


# --- inside -----------------------------------------------------------------------------------------------------------


def _places(spots: pd.DataFrame) -> pd.DataFrame:
    """One row a distinct path and receiver: _PLACE, reports and the geometry."""
    groups = spots.groupby(_PLACE, observed=True, sort=True)
    table = groups.agg(
        reports=("line", "size"),
        distance_km=("distance_km", "first"),
        distance_uncertainty_km=("distance_uncertainty_km", "first"),
        bearing_deg=("bearing_deg", "first"),
        country=("country", "first"),
        trust=("trust", "first"),
    )
    return table.reset_index()


def _farthest(spots: pd.DataFrame, places: pd.DataFrame) -> Farthest | None:
    if places.empty:
        return None
    top = places.sort_values(["distance_km", "rx_call", "rx_locator"], ascending=[False, True, True]).iloc[0]
    same = (spots["rx_call"] == top["rx_call"]) & (spots["rx_locator"] == top["rx_locator"])
    return Farthest(
        call=str(top["rx_call"]),
        locator=str(top["rx_locator"]),
        country="" if pd.isna(top["country"]) else str(top["country"]),
        distance_km=float(top["distance_km"]),
        uncertainty_km=float(top["distance_uncertainty_km"]),
        bearing_deg=float(top["bearing_deg"]),
        reports=int(same.sum()),
        bands=tuple(bands(spots[same.to_numpy()])),
        trust=str(top["trust"]),
    )

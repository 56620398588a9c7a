"""What pictures say: titles that are findings, the circumstances, notes at the foot, labels that carry a number.

A function takes what was found and the `Typography` of the medium. Headline numbers are read from `findings.reach`, so
that a title cannot differ from the page; what only one picture counts (its own bars and cells) is handed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from reach.base import words
from reach.base.words import Typography
from reach.measure.reach import FEW_REPORTS, Farthest, Figures
from reach.tell.sentences import comparison
from reach.tell.sentences import reach as answers

if TYPE_CHECKING:
    from reach.compare.comparison import Cell, Comparison
    from reach.findings import Findings

NOT_ON_THE_AIR = "An empty hour may be an hour without transmissions."
NO_TRANSMISSIONS = "An hour without transmissions has no reports."
COUNTS_ARE_NO_VERDICT = "Counts alone are no verdict on the setups: each had its own times on the air."
DECODING_LIMIT = (
    "Reports near the left end pile up or vanish at the receivers' decoding limit: averages there read too high."
)
EVERYTHING = "All accepted reports, those with doubtful locators too."
CLAIMS = "Distances and directions here are claims. Which rows to look at: suspects.csv and problems.csv."
CLAIMED_MARKS = "Marks lie where receivers claim to be."
DOTS = ("A dot is a receiver: the larger, the more reports.", "Paths are great circles, here straight lines.")
OPEN_SECTORS = (f"A direction of 30° with fewer than {FEW_REPORTS} reports is left open.", "Small dots are receivers.")
FIELDS = "Letters and lines are locator fields. Shown: nine reports in ten."
NEIGHBOURS = "Neighbouring stretches share pairs, so they are not independent; the verdict allows for that."
GREY_PARTS = "Grey: too few receivers or pairs to tell. Numbers: difference and 95 % interval of the part alone."
FOREST = (
    "Thick: 95 % interval of a part alone; thin: 95 % for all parts of its group together. "
    "Bold: differs from the rest beyond chance, allowing for the number of parts."
)
PAIRED_DOTS = "A dot is a receiver that heard both setups close together in time; the larger, the more weight it has."
UNCHANGED = "None of these counts in any finding. Nothing is corrected unless you say so."
_MOST_BANDS = 4  # named in a title


# --- the circumstances ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Behind:
    """What a picture rests on: reports, receivers, from when to when (None without reports), setups in their order."""

    reports: int
    receivers: int
    first_utc: datetime | None
    last_utc: datetime | None
    setups: tuple[str, ...]


def behind(found: Behind, say: Typography) -> str:
    """'1 580 reports of 70 receivers'."""
    return f"{say.things(found.reports, 'report')} of {say.things(found.receivers, 'receiver')}"


def circumstances(findings: Findings, found: Behind, say: Typography) -> str:
    """What stands below a title: reports, receivers, period, power, setups."""
    parts = [say.things(found.reports, "report"), say.things(found.receivers, "receiver")]
    if found.first_utc is not None and found.last_utc is not None:
        parts.append(say.period(found.first_utc, found.last_utc))
    parts += [answers.stated_power(findings, say), words.listed(found.setups)]
    return " · ".join(part for part in parts if part)


def left_out(findings: Findings, say: Typography) -> str:
    """What a picture of corroborated receivers leaves out; empty where that is nothing."""
    if findings.unsure.empty:
        return ""
    more = say.things(findings.reach.between, "report")
    return f"Receivers with corroborated locators only; {more} with other locators are not counted."


def hollow(suspect: int, unconfirmed: int, say: Typography) -> list[str]:
    """What hollow marks stand for, where there are any."""
    said = []
    if suspect:
        said.append(f"Hollow with a query mark: {say.things(suspect, 'locator')} in doubt, not counted.")
    if unconfirmed:
        said.append(f"Small and hollow: {say.things(unconfirmed, 'locator')} that nothing confirms, not counted.")
    return said


def nothing(findings: Findings, say: Typography) -> tuple[str, str]:
    """Title and subtitle of a picture with nothing on it."""
    read = say.things(findings.counts.read, "row was", "rows were")
    return "No report was accepted", f"{read} read; problems.csv says why none could be used."


# --- how far ----------------------------------------------------------------------------------------------------------


def close(findings: Findings, say: Typography) -> str:
    """Of the close-up."""
    return f"Nine reports in ten came from within {say.km(findings.reach.headline.p90_km.value)}"


def distance(findings: Findings, say: Typography) -> str:
    """Of the histogram of distances."""
    found = findings.reach.headline
    return f"Half came from beyond {say.km(found.median_km.value)}, a tenth from beyond {say.km(found.p90_km.value)}"


def curve(findings: Findings, say: Typography) -> str:
    """Of the curve of shares."""
    found = findings.reach.headline
    return (
        f"Half of all reports came from beyond {say.km(found.median_km.value)}, "
        f"one in ten from beyond {say.km(found.p90_km.value)}"
    )


def beyond(findings: Findings, reports: float, far_km: float, say: Typography) -> str:
    """Of the bars in doubling steps. reports : so many came from beyond far_km"""
    share = say.share(reports, findings.reach.headline.reports)
    return f"{share} of the reports came from beyond {say.km(far_km)}"


def bands(findings: Findings, say: Typography) -> str:
    """Of the small charts by band."""
    by_band = list(findings.reach.corroborated.by_band.items())[:_MOST_BANDS]
    return "Half of the reports came from beyond " + words.listed(
        [f"{say.km(found.median_km.value)} on {band}" for band, found in by_band]
    )


def farthest(found: Farthest, say: Typography) -> str:
    """The farthest receiver with its distance: 'VK7QSZ in QE37pc, Australia: 18 023 ± 9 km'."""
    where = f", {found.country}" if found.country else ""
    away = say.distance(found.distance_km, found.uncertainty_km).replace(" ", say.blank)
    return f"{found.call} in {found.locator}{where}: {away}"


def median_km(name: str, found: Figures, say: Typography) -> str:
    """A mark at a median distance: 'wire: median 1 480 km'."""
    return f"{_of(name)}median {say.km(found.median_km.value)}"


def median_db(name: str, found: Figures, say: Typography) -> str:
    """A mark at a median SNR."""
    return f"{_of(name)}median {say.db(found.snr_db[2])}"


def _of(name: str) -> str:
    return f"{name}: " if name else ""


# --- how strong -------------------------------------------------------------------------------------------------------


def strength(findings: Findings, say: Typography) -> str:
    """Of the histogram of SNR."""
    _, low, median, high, _ = findings.reach.headline.snr_db
    return f"The median report was {say.db(median)}, half lay between {say.db(low)} and {say.db(high)}"


def strength_by_distance(from_km: float | None, fall_db: float, say: Typography) -> str:
    """Of the SNR against distance.

    from_km : where its last step of distance begins; None where there are fewer than two steps
    fall_db : by how much the median report of the first step is stronger than that of the last
    """
    if from_km is None:
        return "Strength against distance"
    way = "weaker" if fall_db > 0 else "stronger"
    return f"The median report beyond {say.km(from_km)} is {say.db(abs(fall_db))} {way} than near by"


def weakest(findings: Findings, say: Typography) -> str:
    """What the dashed line of that picture is."""
    level = say.db(findings.reach.headline.snr_db[0])
    return f"Dashed: the weakest report, {level}. Weaker signals were not decoded and are missing here."


# --- where to ---------------------------------------------------------------------------------------------------------


def world(findings: Findings, say: Typography) -> str:
    """Of the world map."""
    found = findings.reach.headline
    return f"Heard in {say.things(found.countries, 'country', 'countries')} and {say.things(found.squares, 'square')}"


def squares(findings: Findings, fullest: str, reports: int, say: Typography) -> str:
    """Of the map of squares. fullest : the square with most reports"""
    count = say.things(findings.reach.headline.squares, "square")
    return f"{count} heard the signal; {fullest} sent {say.things(reports, 'report')}, the most"


def directions(findings: Findings, say: Typography) -> str:
    """Of the roses: the direction with most reports. Needs a report with a direction."""
    top = findings.reach.headline.fullest_sector
    assert top is not None
    return (
        f"{say.share(top.share.value)} of the reports came from {words.compass(top.centre_deg)}, "
        f"half of those from beyond {say.km(top.median_km)}"
    )


def farthest_way(findings: Findings, say: Typography) -> str:
    """Of the map of how far each way: the direction with the farthest median, of those with enough reports."""
    enough = [each for each in findings.reach.headline.sectors if each.reports >= FEW_REPORTS]
    if not enough:
        return f"No direction has the {FEW_REPORTS} reports that its reach is worked out from"
    top = max(enough, key=lambda each: each.median_km)
    where = words.compass(top.centre_deg)
    return f"Farthest towards {where}: half of those reports came from beyond {say.km(top.median_km)}"


# --- when -------------------------------------------------------------------------------------------------------------


def hours(findings: Findings, say: Typography) -> str:
    """Of the bars by hour of the day."""
    return f"Most reports came between {words.hour(findings.reach.headline.busiest.hour_utc)} UTC"


def hour_of_the_far(findings: Findings, hour_utc: int, say: Typography) -> str:
    """Of reports by hour and distance. hour_utc : with most reports of the farthest ring that has any"""
    found = findings.reach.headline
    ring = next(each for each in reversed(found.rings) if each.reports)
    if ring.reports < FEW_REPORTS:
        busy = found.busiest
        return f"Most reports came around {busy.hour_utc:02d} UTC: {say.count(busy.reports)}"
    return f"Reports from beyond {say.km(ring.from_km)} came mostly around {hour_utc:02d} UTC"


def fullest_hour_and_way(hour_utc: int, bearing_deg: float, reports: float, say: Typography) -> str:
    """Of reports by hour and direction."""
    where, many = words.compass(bearing_deg), say.things(reports, "report")
    return f"The fullest hour and direction: {hour_utc:02d} UTC from {where}, {many}"


def busiest_hour(start: datetime, reports: int, receivers: int, say: Typography) -> str:
    """Of the map of one hour, not of the day but of the calendar."""
    calls = say.things(receivers, "receiver")
    return f"The busiest hour, from {start:%H:%M} UTC on {say.day(start)}: {say.things(reports, 'report')} from {calls}"


def night(when: datetime, of: str) -> str:
    """What the shade on a map is: 'Night side at 19:30 UTC, the middle of the period.'"""
    return f"Night side at {when:%H:%M} UTC{of}"


def best_stretch(stretch: str, when: str, reports: int, say: Typography) -> str:
    """Of the timeline. stretch : 'ten minutes'; when : 'from 21:20 UTC'"""
    return f"The best {stretch}, {when}, brought {say.things(reports, 'report')}"


def moment(start: datetime, *, step_min: int, several_days: bool, say: Typography) -> str:
    """When a stretch began: the day where it is one, the time of day, and the day too where there are several."""
    if step_min >= 1440:
        return f"from {say.day(start)}" if step_min > 1440 else say.day(start)
    day = f" on {say.day(start)}" if several_days else ""
    return f"from {start:%H:%M} UTC{day}"


# --- power ------------------------------------------------------------------------------------------------------------


def per_watt(band: str, setup: str, an_hour: float, say: Typography) -> str:
    """Of the reports for each watt: the best band and setup ("" where unknown)."""
    what = " with ".join(part for part in (band, setup) if part)
    return f"{what} brought {say.count(an_hour)} reports an hour for each watt, the most of all"


def watts_at(places: Sequence[str]) -> str:
    """Where the powers of that picture were known: all at the antenna, or not."""
    at = "antenna" if set(places) == {"antenna"} else "radio"
    return f"Power at the {at}. Hours are ten-minute stretches with at least one report of that band and setup."


def watt_bar(an_hour: float, reports: int, power_w: float, say: Typography) -> str:
    """What stands at the end of a bar of it."""
    return f"{say.count(an_hour)}  ({say.count(reports)} at {say.watt(power_w)})"


# --- two setups -------------------------------------------------------------------------------------------------------


def stronger(found: Comparison) -> tuple[int, int]:
    """At how many receivers A was the stronger, and how many can tell: those whose place is known."""
    known = [float(one.difference_db) for one in found.by_receiver if one.placed and one.difference_db is not None]
    return sum(value > 0 for value in known), len(known)


def receivers_of_each(found: Comparison, say: Typography) -> str:
    """Of the dots by distance."""
    ahead, known = stronger(found)
    return (
        f"Of {say.things(known, 'receiver')}, {found.a} was stronger at {say.count(ahead)} and {found.b} at "
        f"{say.count(known - ahead)}"
    )


def receivers_on_the_map(found: Comparison, say: Typography) -> str:
    """Of the map of differences."""
    ahead, known = stronger(found)
    return f"At {say.count(ahead)} of {say.things(known, 'receiver')} that can tell, {found.a} was the stronger"


def heard(found: Comparison, say: Typography) -> str:
    """How many heard which setup, for the foot of that map."""
    alone_a, alone_b, both = (
        say.count(len(names)) for names in (found.heard.a_only, found.heard.b_only, found.heard.both)
    )
    said = f"{alone_a} heard {found.a} only, {alone_b} heard {found.b} only, {both} both"
    return f"Heard on one setup only is shown, never counted: {said}."


def marks(found: Comparison, say: Typography) -> tuple[str, ...]:
    """What its marks mean."""
    return (
        f"+ in a mark: {found.a} stronger there by half a decibel or more; {say.minus}: {found.b}.",
        "Hollow: no pair close enough in time.", "The larger, the more reports.",
    )  # fmt: skip


def stretches(found: Comparison, say: Typography) -> str:
    """Of the differences in time order."""
    known = [float(block.difference_db) for block in found.by_block if block.difference_db is not None]
    above = say.count(sum(value > 0 for value in known))
    return f"In {above} of {say.things(len(known), 'stretch', 'stretches')} on the air {found.a} was the stronger"


def parts(found: Comparison, shown: Sequence[Cell], say: Typography) -> str:
    """Of the small maps: the whole, and which of the shown parts differ. Needs a difference."""
    assert found.difference_db is not None
    differ = [comparison.where(cell, say=say) for cell in shown if cell.differs]
    said = f"beyond chance it differs {words.listed(differ)}" if differ else "no part differs beyond chance"
    return f"Over all {say.db_signed(found.difference_db)}, {found.a} minus {found.b}; {said}"


def part(cell: Cell, say: Typography) -> str:
    """What stands below a small map: the difference with its interval."""
    if not cell.shown or cell.difference_db is None or cell.low_db is None or cell.high_db is None:
        return f"too few ({say.count(cell.receivers)} rx)"
    return f"{say.db_signed(cell.difference_db)} ({say.signed(cell.low_db)} to {say.signed(cell.high_db)})"


# --- locators in doubt ------------------------------------------------------------------------------------------------


def shown_suspects(shown: int) -> str:
    """That there are more than those."""
    return f"Shown: the {shown} that would change the result most."


# --- the film ---------------------------------------------------------------------------------------------------------


def film(whose: str, start: datetime, last: datetime, say: Typography) -> str:
    """The title of a film: whose signal, when. last : the last moment shown"""
    when = say.day(start) if start.date() == last.date() else say.period(start, last)
    return f"{whose or 'The station'}, {when}"


def fading(minutes: float) -> str:
    """What its lines and dots are."""
    return f"Lines are great circles and fade within {minutes:.0f} minutes; small dots heard it earlier."


def visible(reports: int, receivers: int, minutes: float, say: Typography) -> str:
    """How much a frame shows."""
    return f"{say.things(reports, 'report')}, {say.things(receivers, 'receiver')} in {minutes:.0f} min"


def film_leaves_out(findings: Findings, say: Typography) -> str:
    """Which reports a film does not show; empty where it shows all."""
    hidden = findings.reach.between
    return f"{say.things(hidden, 'report')} with doubtful or unconfirmed locators not shown." if hidden else ""


def nothing_to_film(findings: Findings) -> str:
    """Why there is no film."""
    why = answers.NOTHING_CLAIMED if findings.tally.reports else "No report was accepted"
    return f"{why}, and there is nothing to film."

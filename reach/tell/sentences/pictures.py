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
from reach.compare.comparison import Verdict
from reach.measure import claims
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Kind
from reach.measure.reach import Farthest, Figures
from reach.tell.sentences import comparison
from reach.tell.sentences import reach as answers
from reach.tell.sentences.direction import HEARD, Ends, ends

if TYPE_CHECKING:
    from reach.compare.comparison import Cell, Comparison
    from reach.findings import Findings
    from reach.measure.claims import Claim

COUNTS_ARE_NO_VERDICT = "Counts alone are no verdict on the setups: each had times of its own."
EVERYTHING = "All accepted reports, those with doubtful locators too."
CLAIMS = "Distances and directions here are claims. Which rows to look at: suspects.csv and problems.csv."
FIELDS = "Letters and lines are locator fields. Shown: nine reports in ten."
NEIGHBOURS = "Neighbouring stretches share pairs, so they are not independent; the verdict allows for that."
FOREST = (
    "Thick: 95 % interval of a part alone; thin: 95 % for all parts of its group together. "
    "Hollow: no difference beyond chance. Bold: differs from the rest, allowing for the number of parts."
)
ALL_TOGETHER = (
    "Bars: the 95 % interval that holds for all differences together. A hollow mark: the two cannot be told apart. "
    "The order is that of the estimates, no ranking."
)
UNCHANGED = "None of these counts in any finding. Nothing is corrected unless you say so."
_MOST_BANDS = 4  # named in a title


# --- notes that depend on who heard whom -------------------------------------------------------------------------------


def empty_hour(findings: Findings) -> str:
    """What an hour without reports may be."""
    return f"An empty hour may be {ends(findings).silent}."


def silent_hour(findings: Findings) -> str:
    """What has no reports for sure."""
    silent = ends(findings).silent
    return f"{silent[0].upper()}{silent[1:]} has no reports."


def decoding_limit(findings: Findings) -> str:
    """Why averages of weak reports read too high."""
    whose = "the decoding limit" if ends(findings) is HEARD else "the receivers' decoding limit"
    return f"Reports near the left end pile up or vanish at {whose}: averages there read too high."


def claimed_marks(findings: Findings) -> str:
    """What the marks of unconfirmed places are."""
    return f"Marks lie where {ends(findings).far}s claim to be."


def dots(findings: Findings) -> tuple[str, str]:
    """What the dots and lines of a map are."""
    return (
        f"A dot is a {ends(findings).far}: the larger, the more reports.",
        "Paths are great circles, here straight lines.",
    )


def open_sectors(findings: Findings) -> tuple[str, str]:
    """What is left open on the map of how far each way, and what its dots are."""
    return (
        f"A direction of 30° with fewer than {FEW_REPORTS} reports or {FEW_RECEIVERS} {ends(findings).far}s is left open.",
        f"Small dots are {ends(findings).far}s.",
    )


def grey_parts(found: Comparison) -> str:
    """What is grey on the small maps."""
    return (
        f"Hollow: no difference beyond chance. Grey: too few {ends(found).far}s or pairs to tell. "
        "Numbers: difference and 95 % interval of the part alone."
    )


def paired_dots(found: Comparison) -> str:
    """What the dots of a comparison are."""
    who = "transmitter that was heard with both setups" if ends(found) is HEARD else "receiver that heard both setups"
    return f"A dot is a {who} close together in time; the larger, the more weight it has; hollow: no difference beyond chance."


# --- the circumstances ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Behind:
    """What a picture rests on: reports, receivers, from when to when (None without reports), setups in their order."""

    reports: int
    receivers: int
    first_utc: datetime | None
    last_utc: datetime | None
    setups: tuple[str, ...]


def circumstances(findings: Findings, found: Behind, say: Typography) -> str:
    """What stands below a title: reports, receivers, period, power, setups; or the transmitters that were heard."""
    way = ends(findings)
    far = way.fars(found.receivers, say) + (" heard" if way is HEARD else "")
    parts = [say.things(found.reports, "report"), far]
    if found.first_utc is not None and found.last_utc is not None:
        parts.append(say.period(found.first_utc, found.last_utc))
    parts += [answers.stated_power(findings, say), words.listed(found.setups)]
    return " · ".join(part for part in parts if part)


def left_out(findings: Findings, say: Typography) -> str:
    """What a picture of corroborated receivers leaves out; empty where that is nothing."""
    if findings.unsure.empty:
        return ""
    more = say.things(findings.reach.between, "report")
    who = ends(findings).far.capitalize()
    return f"{who}s with corroborated locators only; {more} with other locators are not counted."


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
    return answers.NO_REPORT, f"{read} read; problems.csv says why none could be used."


# --- how far ----------------------------------------------------------------------------------------------------------


def close(findings: Findings, say: Typography) -> str:
    """Of the close-up."""
    if findings.reach.headline.is_few:
        return answers.how_far(findings.reach.headline, say, ends(findings))
    nine = "Nine tenths of what was heard" if ends(findings) is HEARD else "Nine reports in ten"
    return f"{nine} came from within {say.km(findings.reach.headline.p90_km.value)}"


def distance(findings: Findings, say: Typography) -> str:
    """Of the histogram of distances."""
    return _half_and_tenth(findings, "a tenth", say)


def curve(findings: Findings, say: Typography) -> str:
    """Of the curve of shares."""
    return _half_and_tenth(findings, "one in ten", say)


def _half_and_tenth(findings: Findings, tenth: str, say: Typography) -> str:
    found = findings.reach.headline
    beyond = "" if found.is_few else f", {tenth} from beyond {say.km(found.p90_km.value)}"
    return answers.how_far(found, say, ends(findings)) + beyond


def beyond(findings: Findings, reports: float, far_km: float, say: Typography) -> str:
    """Of the bars in doubling steps. reports : so many came from beyond far_km"""
    share = say.share(reports, findings.reach.headline.reports)
    return f"{share} of {ends(findings).reports_came} came from beyond {say.km(far_km)}"


def bands(findings: Findings, say: Typography) -> str:
    """Of the small charts by band: the band that reached farthest where one stands apart, else the distances themselves."""
    block = findings.reach.corroborated
    claim, came = block.claims[Kind.FARTHEST_BAND], ends(findings).reports_came
    if claim.apart:
        return (
            f"Half of {came} on {claim.winner} came from beyond {say.km(claim.value)}, on {claim.runner_up} from beyond "
            f"{say.km(claim.next_value)}"
        )
    told = [(band, found) for band, found in block.by_band.items() if not found.is_few][:_MOST_BANDS]
    if not told:
        return f"Reports by distance and band; no band has {FEW_REPORTS} of {FEW_RECEIVERS} {ends(findings).far}s"
    return f"Half of {came} came from beyond " + words.listed(
        [f"{say.km(found.median_km.value)} on {band}" for band, found in told]
    )


def farthest(found: Farthest, say: Typography) -> str:
    """The farthest receiver with its distance: 'VK7QSZ in QE37pc, Australia: 18 023 ± 9 km'."""
    where = f", {found.country}" if found.country else ""
    away = say.distance(found.distance_km, found.uncertainty_km).replace(" ", say.blank)
    return f"{found.call} in {found.locator}{where}: {away}"


def near_the_antipode(findings: Findings, say: Typography) -> str:
    """That the line to the farthest might as well go the other way round; empty where it is not near the antipode."""
    far = findings.reach.headline.farthest
    way = answers.antipode(far, say) if far is not None else ""
    return f"{far.call} lies near the antipode{way}." if far is not None and way else ""


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


def strength_by_distance(findings: Findings, say: Typography) -> str:
    """Of the SNR against distance: by how much far reports are weaker than near ones, where that stands apart."""
    claim = findings.reach.claims[Kind.WEAKER]
    if not claim.apart:
        median = say.db(findings.reach.headline.snr_db[2])
        return f"Strength against distance; the median report was {median}"
    near_km, far_km = sorted((claim.winner, claim.runner_up))
    way = "weaker" if claim.winner == far_km else "stronger"
    fall = say.db(claim.value - claim.next_value)
    return f"The median report beyond {say.km(far_km)} is {fall} {way} than within {say.km(near_km)}"


def weakest(findings: Findings, say: Typography) -> str:
    """What the dashed line of that picture is."""
    level = say.db(findings.reach.headline.snr_db[0])
    return f"Dashed: the weakest report, {level}. Weaker signals were not decoded and are missing here."


# --- where to ---------------------------------------------------------------------------------------------------------


def world(findings: Findings, say: Typography) -> str:
    """Of the world map."""
    found = findings.reach.headline
    places = f"{say.things(found.countries, 'country', 'countries')} and {say.things(found.squares, 'square')}"
    return f"{ends(findings).where_heard} {places}"


def squares(findings: Findings, say: Typography) -> str:
    """Of the map of squares, with the one with most reports where it stands apart."""
    number = findings.reach.headline.squares
    count, claim = say.things(number, "square"), findings.reach.claims[Kind.FULLEST_SQUARE]
    if ends(findings) is HEARD:
        most = f"; {claim.winner} the most, with {say.things(claim.value, 'report')}" if claim.apart else ""
        return f"{count} {'was' if number == 1 else 'were'} heard{most}"
    most = f"; {claim.winner} sent {say.things(claim.value, 'report')}, the most" if claim.apart else ""
    return f"{count} heard the signal{most}"


def directions(findings: Findings, say: Typography) -> str:
    """Of the roses: the direction with most reports where one stands apart. Needs a report with a direction."""
    found, claim = findings.reach.headline, findings.reach.claims[Kind.FULLEST_SECTOR]
    if not claim.apart:
        full = sum(bool(sector.reports) for sector in found.sectors)
        return f"{ends(findings).came} from {say.count(full)} of {say.count(len(found.sectors))} directions"
    top = next(sector for sector in found.sectors if sector.centre_deg == claim.winner)
    return (
        f"{say.share(top.share.value)} of {ends(findings).reports_came} came from {words.compass(top.centre_deg)}, "
        f"half of those from beyond {say.km(top.median_km)}"
    )


def farthest_way(findings: Findings, say: Typography) -> str:
    """Of the map of how far each way: the direction with the farthest median where one stands apart."""
    claim, way = findings.reach.claims[Kind.FARTHEST_SECTOR], ends(findings)
    if claim.apart:
        those = "what was heard there" if way is HEARD else "those reports"
        return f"Farthest towards {words.compass(claim.winner)}: half of {those} came from beyond {say.km(claim.value)}"
    told = sum(not sector.is_few for sector in findings.reach.headline.sectors)
    if not told:
        return f"No direction has the {FEW_REPORTS} reports of {FEW_RECEIVERS} {way.far}s that its reach is worked out from"
    reached = "the station heard" if way is HEARD else "the signal reached"
    return f"How far {reached}, in {say.things(told, 'direction')} with enough reports to tell"


# --- when -------------------------------------------------------------------------------------------------------------


def hours(findings: Findings, say: Typography) -> str:
    """Of the bars by hour of the day."""
    claim = findings.reach.claims[Kind.FULLEST_HOUR]
    return answers.most_reports(findings.reach.headline, claim, say, ends(findings))


def hour_of_the_far(findings: Findings, say: Typography) -> str:
    """Of reports by hour and distance: around which hour the farthest ring was heard, where one stands apart."""
    claim = findings.reach.claims[Kind.HOUR_OF_THE_FAR]
    if not claim.apart:
        return f"{say.things(findings.reach.headline.reports, 'report')} by hour of the day and distance"
    ring = next(each for each in reversed(findings.reach.headline.rings) if each.reports)
    what = "What was heard" if ends(findings) is HEARD else "Reports"
    return f"{what} from beyond {say.km(ring.from_km)} came mostly around {claim.winner:02d} UTC"


def fullest_hour_and_way(findings: Findings, say: Typography) -> str:
    """Of reports by hour and direction."""
    claim = findings.reach.claims[Kind.HOUR_AND_SECTOR]
    if not claim.apart:
        return f"{say.things(findings.reach.headline.reports, 'report')} by hour of the day and direction"
    hour, bearing_deg = claim.winner
    where, many = words.compass(bearing_deg), say.things(claim.value, "report")
    return f"The fullest hour and direction: {hour:02d} UTC from {where}, {many}"


def one_hour(findings: Findings, start: datetime, reports: int, receivers: int, say: Typography) -> str:
    """Of the map of one hour of the calendar, that with most reports; called the busiest where it stands apart."""
    way = ends(findings)
    calls = f"{'of' if way is HEARD else 'from'} {way.fars(receivers, say)}"
    named = "The busiest hour" if findings.reach.claims[Kind.CALENDAR_HOUR].apart else "One hour"
    return f"{named}, from {start:%H:%M} UTC on {say.day(start)}: {say.things(reports, 'report')} {calls}"


def night(when: datetime, of: str) -> str:
    """What the shade on a map is: 'Night side at 19:30 UTC, the middle of the period.'"""
    return f"Night side at {when:%H:%M} UTC{of}"


def in_time_order(findings: Findings, stretch: str, say: Typography) -> str:
    """Of the timeline. stretch : 'ten minutes'

    No stretch is singled out: a tally does not hold who reported in which ten minutes, so nobody can say whether one stands
    apart.
    """
    return f"{say.things(findings.tally.reports, 'report')} in time order, {stretch} a bar"


# --- two setups -------------------------------------------------------------------------------------------------------


def stronger(found: Comparison) -> tuple[int, int]:
    """At how many receivers A was the stronger, and how many can tell: those whose place is known."""
    known = [float(one.difference_db) for one in found.by_receiver if one.placed and one.difference_db is not None]
    return sum(value > 0 for value in known), len(known)


def ahead(found: Comparison) -> Claim:
    """Whether more receivers tell for the one setup than for the other: said only beside a verdict that says so too."""
    first, known = stronger(found)
    return claims.majority(Kind.RECEIVERS, first, known - first, settled=_settled(found, first > known - first))


def _settled(found: Comparison, a_ahead: bool) -> bool:
    return found.verdict == (Verdict.A_BETTER if a_ahead else Verdict.B_BETTER)


def receivers_of_each(found: Comparison, say: Typography) -> str:
    """Of the dots by distance."""
    first, known = stronger(found)
    if not ahead(found).apart:
        return divided(found, say)
    if ends(found) is HEARD:
        each = f"{found.a} heard {say.count(first)} better and {found.b} {say.count(known - first)}"
        return f"Of {say.things(known, 'transmitter')}, {each}"
    return (
        f"Of {say.things(known, 'receiver')}, {found.a} was stronger at {say.count(first)} and {found.b} at "
        f"{say.count(known - first)}"
    )


def receivers_on_the_map(found: Comparison, say: Typography) -> str:
    """Of the map of differences."""
    claim = ahead(found)
    if not claim.apart:
        return divided(found, say)
    better, many = (found.a if claim.winner else found.b), say.count(claim.value)
    if ends(found) is HEARD:
        return f"Of {say.things(claim.receivers, 'transmitter')} that can tell, {better} heard {many} better"
    return f"At {many} of {say.things(claim.receivers, 'receiver')} that can tell, {better} was the stronger"


def divided(found: Comparison, say: Typography) -> str:
    """What is said where they do not tell for one setup: 'Receivers are divided: 30 for vertical, 22 for wire'."""
    first, known = stronger(found)
    said = f"{say.count(first)} for {found.a}, {say.count(known - first)} for {found.b}"
    far = ends(found).far.capitalize()
    return f"{far}s are divided: {said}" if known > 1 else f"One {far.lower()} alone can tell: {said}"


def heard(found: Comparison, say: Typography) -> str:
    """How many heard which setup, for the foot of that map."""
    alone_a, alone_b, both = (
        say.count(len(names)) for names in (found.heard.a_only, found.heard.b_only, found.heard.both)
    )
    if ends(found) is HEARD:
        said = f"{alone_a} with {found.a} only, {alone_b} with {found.b} only, {both} with both"
    else:
        said = f"{alone_a} heard {found.a} only, {alone_b} heard {found.b} only, {both} both"
    return f"Heard on one setup only is shown, never counted: {said}."


def shapes(found: Comparison) -> dict[str, str]:
    """What its shapes mean, by who was heard with what: both, a, b."""
    by = "heard with" if ends(found) is HEARD else "heard"
    return {"both": f"{by} both", "a": f"{by} {found.a} only", "b": f"{by} {found.b} only"}


def marks(found: Comparison, say: Typography) -> tuple[str, ...]:
    """What its marks mean."""
    return (
        f"+ in a mark: {found.a} {ends(found).better} there by half a decibel or more; {say.minus}: {found.b}.",
        "Hollow: no pair close enough in time.", "The larger, the more reports.",
    )  # fmt: skip


def few(found: Comparison) -> str:
    """The far ends of a part, where room is short."""
    return "tx" if ends(found) is HEARD else "rx"


def stretches(found: Comparison, say: Typography) -> str:
    """Of the differences in time order."""
    known = [float(block.difference_db) for block in found.by_block if block.difference_db is not None]
    above = sum(value > 0 for value in known)
    below = len(known) - above
    claim, way = claims.majority(Kind.STRETCHES, above, below, settled=_settled(found, above > below)), ends(found)
    of = f"{say.things(len(known), 'stretch', 'stretches')} {way.on_the_air}"
    if not claim.apart:
        return f"{of}: {found.a} ahead in {say.count(above)}, {found.b} in {say.count(below)}"
    better = found.a if claim.winner else found.b
    return f"In {say.count(claim.value)} of {of} {better} was the {way.better}"


def parts(found: Comparison, shown: Sequence[Cell], say: Typography) -> str:
    """Of the small maps: the whole, and which of the shown parts differ. Needs a difference."""
    assert found.difference_db is not None
    differ = [comparison.where(cell, say=say) for cell in shown if cell.differs]
    said = f"beyond chance it differs {words.listed(differ)}" if differ else "no part differs beyond chance"
    return f"Over all {say.db_signed(found.difference_db)}, {found.a} minus {found.b}; {said}"


def part(cell: Cell, found: Comparison, say: Typography) -> str:
    """What stands below a small map: the difference with its interval."""
    if not cell.shown or cell.difference_db is None or cell.low_db is None or cell.high_db is None:
        return f"too few ({say.count(cell.receivers)} {few(found)})"
    return f"{say.db_signed(cell.difference_db)} ({say.limits(cell.low_db, cell.high_db, unit=False)})"


# --- locators in doubt ------------------------------------------------------------------------------------------------


def shown_suspects(shown: int) -> str:
    """That there are more than those."""
    return f"Shown: the {shown} that would change the result most."


# --- the film ---------------------------------------------------------------------------------------------------------


def film(whose: str, start: datetime, last: datetime, say: Typography, way: Ends) -> str:
    """The title of a film: whose signal, or what who heard, when. last : the last moment shown"""
    when = say.day(start) if start.date() == last.date() else say.period(start, last)
    if way is HEARD:
        return f"What {whose or 'the station'} heard, {when}"
    return f"{whose or 'The station'}, {when}"


def fading(minutes: float, way: Ends) -> str:
    """What its lines and dots are."""
    earlier = "were heard earlier" if way is HEARD else "heard it earlier"
    return f"Lines are great circles and fade within {minutes:.0f} minutes; small dots {earlier}."


def visible(reports: int, receivers: int, minutes: float, say: Typography, way: Ends) -> str:
    """How much a frame shows."""
    return f"{say.things(reports, 'report')}, {way.fars(receivers, say)} in {minutes:.0f} min"


def film_leaves_out(findings: Findings, say: Typography) -> str:
    """Which reports a film does not show; empty where it shows all."""
    hidden = findings.reach.between
    return f"{say.things(hidden, 'report')} with doubtful or unconfirmed locators not shown." if hidden else ""


def nothing_to_film(findings: Findings) -> str:
    """Why there is no film."""
    why = answers.NOTHING_CLAIMED if findings.tally.reports else answers.NO_REPORT
    return f"{why}, and there is nothing to film."

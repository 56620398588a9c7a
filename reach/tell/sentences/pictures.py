"""What pictures say: titles that are findings, the circumstances, notes at the foot, labels that carry a number.

A function takes what was found and the `Typography` of the medium. Headline numbers are read from `findings.reach`, so
that a title cannot differ from the page; what only one picture counts (its own bars and cells) is handed in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography
from reach.compare.comparison import Verdict
from reach.measure import claims
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Kind
from reach.measure.reach import Farthest, Figures
from reach.tell.sentences import comparison, local_time
from reach.tell.sentences import reach as answers
from reach.tell.sentences.direction import HEARD, Ends, ends

if TYPE_CHECKING:
    from reach.base.local_time import LocalTime
    from reach.compare.comparison import Cell, Comparison
    from reach.findings import Findings
    from reach.measure.claims import Claim

COUNTS_ARE_NO_VERDICT = Phrase("Counts alone are no verdict on the setups: each had times of its own.")
EVERYTHING = Phrase("All accepted reports, those with doubtful locators too.")
CLAIMS = Phrase("Distances and directions here are claims. Which rows to look at: suspects.csv and problems.csv.")
FIELDS = Phrase("Letters and lines are locator fields. Shown: nine reports in ten.")
NEIGHBOURS = Phrase("Neighbouring stretches share pairs, so they are not independent; the verdict allows for that.")
WITHOUT_TYPEFACE = Phrase("\N{LOZENGE} stands for a character that no typeface on this machine has.")
SLIDES_WITHOUT_TYPEFACE = Phrase(
    "In the pictures and in the PDF \N{LOZENGE} stands for a character that no typeface on the machine had that made them; "
    "in the presentation and in the tables the names are whole."
)
LETTER_BY_LETTER = Phrase(
    "The PDF sets names in Arabic, Hebrew and scripts of India letter by letter, from left to right; the pictures and the "
    "presentation set them as they are read."
)
FOREST = Phrase(
    "Thick: 95{gap}% interval of a part alone; thin: 95{gap}% for all parts of its group together. "
    "Hollow: no difference beyond chance. Bold: differs from the rest, allowing for the number of parts."
)
ALL_TOGETHER = Phrase(
    "Bars: the 95{gap}% interval that holds for all differences together. A hollow mark: the two cannot be told apart. "
    "The order is that of the estimates, no ranking."
)
UNCHANGED = Phrase("None of these counts in any finding. Nothing is corrected unless you say so.")
HOUR_AND_REPORTS = Phrase("hour of the day [UTC]; the numbers are reports")
HOUR_SHADED = Phrase("hour of the day [UTC]; the more a cell stands out, the more reports")
WHOLE_WORLD = Phrase("The whole world; the circle is the large map.")
SMALL_WORLD = Phrase("Small: the whole world; the circle on it is the large map.")
_MOST_BANDS = 4  # named in a title


# --- notes that depend on who heard whom -------------------------------------------------------------------------------


def empty_hour(findings: Findings, say: Typography = PRINT) -> str:
    """What an hour without reports may be."""
    if ends(findings) is HEARD:
        return say.text("An empty hour may be an hour without listening.")
    return say.text("An empty hour may be an hour without transmissions.")


def silent_hour(findings: Findings, say: Typography = PRINT) -> str:
    """What has no reports for sure."""
    if ends(findings) is HEARD:
        return say.text("An hour without listening has no reports.")
    return say.text("An hour without transmissions has no reports.")


def decoding_limit(findings: Findings, say: Typography = PRINT) -> str:
    """Why averages of weak reports read too high."""
    if ends(findings) is HEARD:
        return say.text(
            "Reports near the left end pile up or vanish at the decoding limit: averages there read too high."
        )
    return say.text(
        "Reports near the left end pile up or vanish at the receivers' decoding limit: averages there read too high."
    )


def claimed_marks(findings: Findings, say: Typography = PRINT) -> str:
    """What the marks of unconfirmed places are."""
    return say.text("Marks lie where {fars} claim to be.", fars=ends(findings).far_many)


def dots(findings: Findings, say: Typography = PRINT) -> tuple[str, str]:
    """What the dots and lines of a map are."""
    return (
        say.text("A dot is a {far}: the larger, the more reports.", far=ends(findings).far),
        say.text("Paths are great circles, here straight lines."),
    )


def open_sectors(findings: Findings, say: Typography = PRINT) -> tuple[str, str]:
    """What is left open on the map of how far each way, and what its dots are."""
    fars = ends(findings).far_many
    return (
        say.text(
            "A direction of 30° with fewer than {reports} reports or {receivers} {fars} is left open.",
            reports=FEW_REPORTS,
            receivers=FEW_RECEIVERS,
            fars=fars,
        ),
        say.text("Small dots are {fars}.", fars=fars),
    )


def grey_parts(found: Comparison, say: Typography = PRINT) -> str:
    """What is grey on the small maps."""
    return say.text(
        "Hollow: no difference beyond chance. Grey: too few {fars} or pairs to tell. "
        "Numbers: difference and 95{gap}% interval of the part alone.",
        fars=ends(found).far_many,
    )


def paired_dots(found: Comparison, say: Typography = PRINT) -> str:
    """What the dots of a comparison are."""
    if ends(found) is HEARD:
        return say.text(
            "A mark is a transmitter that was heard with both setups close together in time; the larger, the more weight it "
            "has; hollow: no difference beyond chance."
        )
    return say.text(
        "A mark is a receiver that heard both setups close together in time; the larger, the more weight it has; hollow: no "
        "difference beyond chance."
    )


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
    far = way.fars(found.receivers, say)
    if way is HEARD:
        far = say.plural(found.receivers, "{n} transmitter heard", "{n} transmitters heard")
    parts = [say.things(found.reports, "report"), far]
    if found.first_utc is not None and found.last_utc is not None:
        parts.append(answers.from_to(findings, found.first_utc, found.last_utc, say))
    parts += [answers.stated_power(findings, say), say.listed(found.setups)]
    return " · ".join(part for part in parts if part)


def hollow(suspect: int, unconfirmed: int, say: Typography) -> list[str]:
    """What hollow marks stand for, where there are any."""
    said = []
    if suspect:
        said.append(
            say.text(
                "Hollow with a query mark: {locators} in doubt, not counted.", locators=say.things(suspect, "locator")
            )
        )
    if unconfirmed:
        said.append(
            say.text(
                "Small and hollow: {locators} that nothing confirms, not counted.",
                locators=say.things(unconfirmed, "locator"),
            )
        )
    return said


def nothing(findings: Findings, say: Typography) -> tuple[str, str]:
    """Title and subtitle of a picture with nothing on it."""
    return say.text(answers.NO_REPORT), say.plural(
        findings.counts.read,
        "{n} row was read; problems.csv says why none could be used.",
        "{n} rows were read; problems.csv says why none could be used.",
    )


# --- how far ----------------------------------------------------------------------------------------------------------


def close(findings: Findings, say: Typography) -> str:
    """Of the close-up."""
    found = findings.reach.headline
    if not found.tells_tenth:
        return answers.how_far(found, say, ends(findings))
    within = say.within(found.p90_km.value)
    if ends(findings) is HEARD:
        return say.text("Nine tenths of what was heard came from within {km}", km=within)
    return say.text("Nine reports in ten came from within {km}", km=within)


def distance(findings: Findings, say: Typography) -> str:
    """Of the histogram of distances."""
    found = findings.reach.headline
    half = answers.how_far(found, say, ends(findings))
    return (
        half + say.text(", a tenth from beyond {km}", km=say.beyond(found.p90_km.value)) if found.tells_tenth else half
    )


def curve(findings: Findings, say: Typography) -> str:
    """Of the curve of shares."""
    found = findings.reach.headline
    half = answers.how_far(found, say, ends(findings))
    return (
        half + say.text(", one in ten from beyond {km}", km=say.beyond(found.p90_km.value))
        if found.tells_tenth
        else half
    )


def beyond(findings: Findings, reports: float, far_km: float, say: Typography) -> str:
    """Of the bars in doubling steps. reports : so many came from beyond far_km"""
    share = say.share(reports, findings.reach.headline.reports)
    return say.text(
        "{share} of {reports_came} came from beyond {far_km}",
        share=share,
        reports_came=ends(findings).reports_came,
        far_km=say.km(far_km),
    )


def bands(findings: Findings, say: Typography) -> str:
    """Of the small charts by band: the band that reached farthest where one stands apart, else the distances themselves."""
    block = findings.reach.corroborated
    claim, came = block.claims[Kind.FARTHEST_BAND], ends(findings).reports_came
    if claim.apart:
        return say.text(
            "Half of {reports_came} on {winner} came from beyond {value}, on {runner_up} from beyond {next_value}",
            reports_came=came,
            winner=claim.winner,
            value=say.beyond(claim.value),
            runner_up=claim.runner_up,
            next_value=say.beyond(claim.next_value),
        )
    told = [(band, found) for band, found in block.by_band.items() if not found.is_few][:_MOST_BANDS]
    if not told:
        return say.text(
            "Reports by distance and band; no band has {few_reports} of {few_receivers} {fars}",
            few_reports=FEW_REPORTS,
            few_receivers=FEW_RECEIVERS,
            fars=ends(findings).far_many,
        )
    each = [say.text("{km} on {band}", km=say.beyond(found.median_km.value), band=band) for band, found in told]
    return say.text("Half of {reports_came} came from beyond {km}", reports_came=came, km=say.listed(each))


def farthest(found: Farthest, say: Typography) -> str:
    """The farthest receiver with its distance: 'VK7QSZ in QE37pc, Australia: 18 023 ± 9 km'."""
    where = f", {say.country(found.country)}" if found.country else ""
    away = say.distance(found.distance_km, found.uncertainty_km).replace(" ", say.blank)
    return say.text(
        "{call} in {locator}{where}: {away}", call=found.call, locator=found.locator, where=where, away=away
    )


def near_the_antipode(findings: Findings, say: Typography) -> str:
    """That the line to the farthest might as well go the other way round; empty where it is not near the antipode."""
    far = findings.reach.headline.farthest
    way = answers.antipode(far, say) if far is not None else ""
    return say.text("{call} lies near the antipode{way}.", call=far.call, way=way) if far is not None and way else ""


def median_km(name: str, found: Figures, say: Typography) -> str:
    """A mark at a median distance: 'wire: median 1 480 km'."""
    return _of(name) + say.text("median {value}", value=say.beyond(found.median_km.value))


def median_db(name: str, found: Figures, say: Typography) -> str:
    """A mark at a median SNR."""
    return _of(name) + say.text("median {value}", value=say.db(found.snr_db[2]))


def _of(name: str) -> str:
    return f"{name}: " if name else ""


# --- how strong -------------------------------------------------------------------------------------------------------


def strength(findings: Findings, say: Typography) -> str:
    """Of the histogram of SNR."""
    _, low, median, high, _ = findings.reach.headline.snr_db
    return say.text(
        "The median report was {median}, half lay between {low} and {high}",
        median=say.db(median),
        low=say.db(low),
        high=say.db(high),
    )


def strength_by_distance(findings: Findings, say: Typography) -> str:
    """Of the SNR against distance: by how much far reports are weaker than near ones, where that stands apart."""
    claim = findings.reach.claims[Kind.WEAKER]
    if not claim.apart:
        median = say.db(findings.reach.headline.snr_db[2])
        return say.text("Strength against distance; the median report was {median}", median=median)
    near_km, far_km = sorted((claim.winner, claim.runner_up))
    way = (
        Phrase("The median report beyond {far_km} is {fall} weaker than within {near_km}")
        if claim.winner == far_km
        else Phrase("The median report beyond {far_km} is {fall} stronger than within {near_km}")
    )
    fall = say.db(claim.value - claim.next_value)
    return say.text(way, far_km=say.km(far_km), fall=fall, near_km=say.km(near_km))


def weakest(findings: Findings, say: Typography) -> str:
    """What the dashed line of that picture is."""
    level = say.db(findings.reach.headline.snr_db[0])
    return say.text(
        "Dashed: the weakest report, {level}. Weaker signals were not decoded and are missing here.", level=level
    )


# --- where to ---------------------------------------------------------------------------------------------------------


def world(findings: Findings, say: Typography) -> str:
    """Of the world map."""
    found = findings.reach.headline
    return say.text(
        "{where_heard} {countries} and {squares}",
        where_heard=ends(findings).where_heard,
        countries=say.things(found.countries, "country", "countries"),
        squares=say.things(found.squares, "square"),
    )


def squares(findings: Findings, say: Typography) -> str:
    """Of the map of squares, with the one with most reports where it stands apart."""
    number, claim = findings.reach.headline.squares, findings.reach.claims[Kind.FULLEST_SQUARE]
    most = ""
    if ends(findings) is HEARD:
        if claim.apart:
            reports = say.things(claim.value, "report")
            most = say.text("; {square} the most, with {reports}", square=claim.winner, reports=reports)
        return say.plural(number, "{n} square was heard", "{n} squares were heard") + most
    if claim.apart:
        reports = say.things(claim.value, "report")
        most = say.text("; {square} sent {reports}, the most", square=claim.winner, reports=reports)
    return say.plural(number, "{n} square heard the signal", "{n} squares heard the signal") + most


def directions(findings: Findings, say: Typography) -> str:
    """Of the roses: the direction with most reports where one stands apart. Needs a report with a direction."""
    found, claim = findings.reach.headline, findings.reach.claims[Kind.FULLEST_SECTOR]
    if not claim.apart:
        full = sum(bool(sector.reports) for sector in found.sectors)
        return say.text(
            "{came} from {full} of {sectors} directions",
            came=ends(findings).came,
            full=say.count(full),
            sectors=say.count(len(found.sectors)),
        )
    top = next(sector for sector in found.sectors if sector.centre_deg == claim.winner)
    return say.text(
        "{value} of {reports_came} came from {point}, half of those from beyond {median_km}",
        value=say.share(top.share.value),
        reports_came=ends(findings).reports_came,
        point=say.compass(top.centre_deg),
        median_km=say.beyond(top.median_km),
    )


def farthest_way(findings: Findings, say: Typography) -> str:
    """Of the map of how far each way: the direction with the farthest median where one stands apart."""
    claim, way = findings.reach.claims[Kind.FARTHEST_SECTOR], ends(findings)
    if claim.apart:
        return say.text(
            "Farthest towards {point}: half of what was heard there came from beyond {km}"
            if way is HEARD
            else "Farthest towards {point}: half of those reports came from beyond {km}",
            point=say.compass(claim.winner),
            km=say.beyond(claim.value),
        )
    told = sum(not sector.is_few for sector in findings.reach.headline.sectors)
    if not told:
        return say.text(
            "No direction has the {few_reports} reports of {few_receivers} {fars} that its reach is worked out from",
            few_reports=FEW_REPORTS,
            few_receivers=FEW_RECEIVERS,
            fars=way.far_many,
        )
    if way is HEARD:
        return say.plural(
            told,
            "How far the station heard, in {n} direction with enough reports to tell",
            "How far the station heard, in {n} directions with enough reports to tell",
        )
    return say.plural(
        told,
        "How far the signal reached, in {n} direction with enough reports to tell",
        "How far the signal reached, in {n} directions with enough reports to tell",
    )


# --- when -------------------------------------------------------------------------------------------------------------


def hours(findings: Findings, say: Typography) -> str:
    """Of the bars by hour of the day."""
    claim = findings.reach.claims[Kind.FULLEST_HOUR]
    return answers.most_reports(findings.reach.headline, claim, say, ends(findings), findings.local_time)


def hour_of_the_far(findings: Findings, say: Typography) -> str:
    """Of reports by hour and distance: around which hour the farthest ring was heard, where one stands apart."""
    claim = findings.reach.claims[Kind.HOUR_OF_THE_FAR]
    ring = next((each for each in reversed(findings.reach.headline.rings) if each.reports), None)
    if not claim.apart or ring is None or not ring.from_km:
        return say.text(
            "{reports} by hour of the day and distance", reports=say.things(findings.reach.headline.reports, "report")
        )
    said = say.text(
        "Signals from beyond {from_km} were heard most often around {winner} UTC"
        if ends(findings) is HEARD
        else "Reports from beyond {from_km} were most frequent around {winner} UTC",
        from_km=say.km(ring.from_km),
        winner=f"{claim.winner:02d}",
    )
    return local_time.hours(said, findings.local_time, [claim.winner], say)


def fullest_hour_and_way(findings: Findings, say: Typography) -> str:
    """Of reports by hour and direction."""
    claim = findings.reach.claims[Kind.HOUR_AND_SECTOR]
    if not claim.apart:
        return say.text(
            "{reports} by hour of the day and direction", reports=say.things(findings.reach.headline.reports, "report")
        )
    hour, bearing_deg = claim.winner
    where, many = say.compass(bearing_deg), say.things(claim.value, "report")
    said = say.text(
        "The fullest hour and direction: {hour} UTC from {where}, {many}", hour=f"{hour:02d}", where=where, many=many
    )
    return local_time.hours(said, findings.local_time, [hour], say)


def one_hour(findings: Findings, start: datetime, reports: int, receivers: int, say: Typography) -> str:
    """Of the map of one hour of the calendar, that with most reports; called the busiest where it stands apart."""
    way = ends(findings)
    busiest = findings.reach.claims[Kind.CALENDAR_HOUR].apart
    calls = (
        say.text(
            "{reports} of {transmitters}", reports=say.things(reports, "report"), transmitters=way.fars(receivers, say)
        )
        if way is HEARD
        else say.text(
            "{reports} from {receivers}", reports=say.things(reports, "report"), receivers=way.fars(receivers, say)
        )
    )
    return say.text(
        "The busiest hour, from {start} UTC on {day}: {reports}"
        if busiest
        else "One hour, from {start} UTC on {day}: {reports}",
        start=f"{start:%H:%M}",
        day=local_time.at(say.day(start), findings.local_time, start, say=say),
        reports=calls,
    )


def night(when: datetime, of: str, local: LocalTime | None = None, say: Typography = PRINT) -> str:
    """What the shade on a map is: 'Night side at 19:30 UTC, the middle of the period.'"""
    return say.text(
        "Night side at {time} UTC{of}", time=f"{when:%H:%M}", of=local_time.at("", local, when, say=say) + of
    )


def in_time_order(findings: Findings, stretch: str, say: Typography) -> str:
    """Of the timeline. stretch : 'ten minutes'

    No stretch is singled out: a tally does not hold who reported in which ten minutes, so nobody can say whether one stands
    apart.
    """
    return say.text(
        "{reports} in time order, {stretch} a bar",
        reports=say.things(findings.tally.reports, "report"),
        stretch=stretch,
    )


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
        return say.text(
            "Of {transmitters}, {a} heard {first} better and {b} {others}",
            transmitters=say.things(known, "transmitter"),
            a=found.a,
            first=say.count(first),
            b=found.b,
            others=say.count(known - first),
        )
    return say.text(
        "Of {receivers}, {a} was stronger at {first} and {b} at {others}",
        receivers=say.things(known, "receiver"),
        a=found.a,
        first=say.count(first),
        b=found.b,
        others=say.count(known - first),
    )


def receivers_on_the_map(found: Comparison, say: Typography) -> str:
    """Of the map of differences."""
    claim = ahead(found)
    if not claim.apart:
        return divided(found, say)
    better, many = (found.a if claim.winner else found.b), say.count(claim.value)
    if ends(found) is HEARD:
        return say.text(
            "Of {transmitters} that can tell, {better} heard {many} better",
            transmitters=say.things(claim.receivers, "transmitter"),
            better=better,
            many=many,
        )
    return say.text(
        "At {many} of {receivers} that can tell, {better} was the stronger",
        many=many,
        receivers=say.things(claim.receivers, "receiver"),
        better=better,
    )


def divided(found: Comparison, say: Typography) -> str:
    """What is said where they do not tell for one setup: 'Receivers are divided: 30 for vertical, 22 for wire'."""
    first, known = stronger(found)
    said = say.text(
        "{first} for {a}, {others} for {b}",
        first=say.count(first),
        a=found.a,
        others=say.count(known - first),
        b=found.b,
    )
    if ends(found) is HEARD:
        if known > 1:
            return say.text("Transmitters are divided: {said}", said=said)
        return say.text("One transmitter alone can tell: {said}", said=said)
    if known > 1:
        return say.text("Receivers are divided: {said}", said=said)
    return say.text("One receiver alone can tell: {said}", said=said)


def heard(found: Comparison, say: Typography) -> str:
    """How many heard which setup, for the foot of that map."""
    alone_a, alone_b, both = (
        say.count(len(names)) for names in (found.heard.a_only, found.heard.b_only, found.heard.both)
    )
    if ends(found) is HEARD:
        said = say.text(
            "{alone_a} with {a} only, {alone_b} with {b} only, {both} with both",
            alone_a=alone_a,
            a=found.a,
            alone_b=alone_b,
            b=found.b,
            both=both,
        )
    else:
        said = say.text(
            "{alone_a} heard {a} only, {alone_b} heard {b} only, {both} both",
            alone_a=alone_a,
            a=found.a,
            alone_b=alone_b,
            b=found.b,
            both=both,
        )
    return say.text("Heard on one setup only is shown, never counted: {said}.", said=said)


def shapes(found: Comparison, say: Typography = PRINT) -> dict[str, str]:
    """What its shapes mean, by who was heard with what: both, a, b."""
    if ends(found) is HEARD:
        only = {
            side: say.text("heard with {setup} only", setup=name) for side, name in (("a", found.a), ("b", found.b))
        }
        return {"both": say.text("heard with both")} | only
    only = {side: say.text("heard {setup} only", setup=name) for side, name in (("a", found.a), ("b", found.b))}
    return {"both": say.text("heard both")} | only


def marks(found: Comparison, say: Typography) -> tuple[str, ...]:
    """What its marks mean."""
    return (
        say.text('+ in a mark: {a} {better} there by half a decibel or more; {minus}: {b}.', a=found.a, better=ends(found).better, b=found.b),
        say.text("Hollow: no difference beyond chance; dashed: no pair close enough in time."), say.text("The larger, the more reports."),
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
    of = say.things(len(known), "stretch", "stretches")
    if not claim.apart:
        return say.text(
            "{stretches} {on_the_air}: {a} ahead in {above}, {b} in {below}",
            stretches=of,
            on_the_air=way.on_the_air,
            a=found.a,
            above=say.count(above),
            b=found.b,
            below=say.count(below),
        )
    better = found.a if claim.winner else found.b
    return say.text(
        "In {value} of {stretches} in use {better} was the better"
        if way is HEARD
        else "In {value} of {stretches} on the air {better} was the stronger",
        value=say.count(claim.value),
        stretches=of,
        better=better,
    )


def parts(found: Comparison, shown: Sequence[Cell], say: Typography) -> str:
    """Of the small maps: the whole, and which of the shown parts differ. Needs a difference."""
    assert found.difference_db is not None
    differ = [comparison.where(cell, say=say) for cell in shown if cell.differs]
    said = (
        say.text("beyond chance it differs {differ}", differ=say.listed(differ))
        if differ
        else say.text("no part differs beyond chance")
    )
    return say.text(
        "Over all {difference_db}, {a} minus {b}; {said}",
        difference_db=say.db_signed(found.difference_db),
        a=found.a,
        b=found.b,
        said=said,
    )


def part(cell: Cell, found: Comparison, say: Typography) -> str:
    """What stands below a small map: the difference with its interval."""
    if not cell.shown or cell.difference_db is None or cell.low_db is None or cell.high_db is None:
        return say.text("too few ({receivers} {few})", receivers=say.count(cell.receivers), few=few(found))
    return f"{say.db_signed(cell.difference_db)} ({say.limits(cell.low_db, cell.high_db, unit=False)})"


# --- locators in doubt ------------------------------------------------------------------------------------------------


def shown_suspects(shown: int, say: Typography = PRINT) -> str:
    """That there are more than those."""
    return say.text("Shown: the {shown} that would change the result most.", shown=shown)


# --- the film ---------------------------------------------------------------------------------------------------------


def film(whose: str, start: datetime, last: datetime, say: Typography, way: Ends) -> str:
    """The title of a film: whose signal, or what who heard, when. last : the last moment shown"""
    when = say.day(start) if start.date() == last.date() else say.period(start, last)
    if way is HEARD:
        return say.text("What {whose} heard, {when}", whose=whose or say.text("the station"), when=when)
    return f"{whose or say.text('The station')}, {when}"


def fading(minutes: float, way: Ends, say: Typography = PRINT) -> str:
    """What its lines and dots are."""
    return say.text(
        "Lines are great circles and fade within {minutes} minutes; small dots were heard earlier."
        if way is HEARD
        else "Lines are great circles and fade within {minutes} minutes; small dots heard it earlier.",
        minutes=say.number(minutes, 0),
    )


def visible(reports: int, receivers: int, minutes: float, say: Typography, way: Ends) -> str:
    """How much a frame shows."""
    return say.text(
        "{reports}, {fars} in {minutes}{gap}min",
        reports=say.things(reports, "report"),
        fars=way.fars(receivers, say),
        minutes=say.number(minutes, 0),
    )


def filmed(reports: int, receivers: int, say: Typography, way: Ends) -> str:
    """How much a whole film shows."""
    return say.text("{reports}, {fars} in all", reports=say.things(reports, "report"), fars=way.fars(receivers, say))


def all_at_once(way: Ends, say: Typography = PRINT) -> str:
    """What the last picture of a film shows, where it is not all that is known."""
    return say.text(
        "All of it at once: every station that was heard, by its latest report."
        if way is HEARD
        else "All of it at once: every receiver that heard it, by its latest report."
    )


def film_leaves_out(findings: Findings, say: Typography) -> str:
    """Which reports a film does not show; empty where it shows all."""
    hidden = findings.reach.between
    return (
        say.text("{reports} with doubtful or unconfirmed locators not shown.", reports=say.things(hidden, "report"))
        if hidden
        else ""
    )


def nothing_to_film(findings: Findings, say: Typography = PRINT) -> str:
    """Why there is no film."""
    if findings.tally.reports:
        return say.text("No locator is corroborated, so no reach is claimed, and there is nothing to film.")
    return say.text("No report was accepted, and there is nothing to film.")

"""How far, where to, when and which setup, in words: the answer that terminal, page, slides and handout give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from reach.base import words
from reach.base.words import Typography
from reach.compare.comparison import Verdict
from reach.measure.claims import Confounder, Kind, Reason
from reach.place.path import ANTIPODE_KM
from reach.radio import power
from reach.spots import SECTOR_DEG
from reach.tell.sentences import comparison, notes, several
from reach.tell.sentences import power as power_words
from reach.tell.sentences.direction import HEARD, SENT, Ends, ends

if TYPE_CHECKING:
    from reach.findings import Counts, Findings
    from reach.measure.claims import Claim
    from reach.measure.reach import Block, Estimate, Farthest, Figures, Reach, Sector

NO_REPORT = "No report was accepted"
NOTHING_CLAIMED = "No locator is corroborated, so no reach is claimed"


class Counted(Protocol):
    """Anything that knows how many reports it rests on, and of how many receivers."""

    @property
    def reports(self) -> int: ...
    @property
    def receivers(self) -> int: ...


@dataclass(frozen=True)
class Sentence:
    """One finding: what it answers, the finding, and what stands behind it.

    needs_evidence : it says little without what stands behind it, as a refusal without its reason
    """

    topic: str
    text: str
    evidence: str
    needs_evidence: bool = False


# --- the circumstances ------------------------------------------------------------------------------------------------


def title(findings: Findings, say: Typography) -> str:
    """What the study is called, or whose reach it is."""
    call, locator = findings.station
    whose = call or locator or "a station"
    return findings.study.title or (f"What {whose} heard" if ends(findings) is HEARD else f"Reach of {whose}")


def signature(findings: Findings) -> str:
    """Whose signal it was: 'EI4QTB/P in IO51es', or what of that is known."""
    return " in ".join(part for part in findings.station if part)


def period(findings: Findings, say: Typography) -> str:
    """From when to when; "no reports" where there are none."""
    if not findings.tally.reports:
        return "no reports"
    return say.period(findings.reach.first_utc.to_pydatetime(), findings.reach.last_utc.to_pydatetime())


def circumstances(findings: Findings, say: Typography) -> str:
    """Who, where, in which direction, when, with how much, on what: one line."""
    named = ends(findings).named
    whose = signature(findings)
    parts = [f"{whose}, {named}" if whose else named.capitalize(), period(findings, say), stated_power(findings, say)]
    parts += [words.listed(names) for names in (findings.bands, findings.setups) if names]
    return " · ".join(part for part in parts if part)


def powers(findings: Findings) -> list[float]:
    """The distinct powers at the radio behind the spots [W], rising: what the cautions are about."""
    return [] if ends(findings) is HEARD else list(power.at_radio_w(findings.study, findings.spots)[0])


def stated_power(findings: Findings, say: Typography) -> str:
    """With how many watts, and where they were known: '4.3 W at the antenna'."""
    return "" if ends(findings) is HEARD else power_words.stated(findings.powers, say)


def counts(findings: Findings, say: Typography) -> str:
    """Where every row went: '1 580 rows read = ...'."""
    return f"{law(findings.counts, say)}; {say.things(len(findings.suspects), 'suspect locator')}."


def law(c: Counts, say: Typography) -> str:
    """The law of conservation with its numbers, without a full stop; what was set aside is named where there is any."""
    return f"{say.things(c.read, 'row')} read = {' + '.join(f'{count} {name}' for name, count in fates(c, say))}"


def fates(c: Counts, say: Typography) -> list[tuple[str, str]]:
    """What became of the rows, with how many of each: they add up to the rows read."""
    found = [
        ("accepted", c.accepted),
        ("rejected", c.rejected),
        ("duplicates", c.duplicates),
        ("set aside", c.set_aside),
    ]
    return [(name, say.count(count)) for name, count in found if count or name != "set aside"]


def left_out(findings: Findings, say: Typography) -> list[str]:
    """What was left out or assumed before anything was counted, a sentence each: it stands above the first headline."""
    return [notes.note(each, say) for each in findings.notes if each.code in notes.FIRST]


def made_up(findings: Findings) -> str:
    """That demonstration data are invented; empty where the study is real."""
    if not findings.study.made_up:
        return ""
    return f"Made-up demonstration data: the station, the {ends(findings).far_people} and every report are invented."


def no_far_end(findings: Findings) -> str:
    """What an empty direction does not prove."""
    return ends(findings).no_far_end


def replaced(findings: Findings, say: Typography) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    rows = findings.fixed_rows
    return f"{say.things(rows, 'row carries', 'rows carry')} a locator that the operator replaced." if rows else ""


def behind(found: Counted, say: Typography, way: Ends) -> str:
    """'1 580 reports of 70 receivers': what a finding rests on."""
    return f"{say.things(found.reports, 'report')} of {way.fars(found.receivers, say)}"


# --- the answer -------------------------------------------------------------------------------------------------------


def headline(findings: Findings, say: Typography) -> str:
    """The finding in one short sentence, for a title."""
    if not findings.tally.reports:
        return NO_REPORT
    found = findings.reach.headline
    if not found.reports:
        return NOTHING_CLAIMED
    way, more = ends(findings), findings.reach.between
    # A headline that rests on the smaller part says so: the larger part may have said something else.
    rest = f"; {say.count(more)} more are not counted" if more > found.reports else ""
    return how_far(found, say, way) + rest


def how_far(found: Figures, say: Typography, way: Ends) -> str:
    """Half of the reports came from beyond so many kilometres, with the interval; or that too few came to say so."""
    if found.is_few:
        far = found.farthest
        away = f", {'' if found.receivers == 1 else 'up to '}{_away(far, say)}" if far is not None else ""
        return f"{behind(found, say, way)}{away}: too few to say how far"
    half = found.median_km
    if not half.has_interval:
        return f"Half of {behind(found, say, way)} came from beyond {say.km(half.value)}"
    said = f"Half of {way.reports(found.reports, say)} came from beyond {say.km(half.value)}"
    return f"{said} (95{say.gap}% interval {interval_km(half, say, way)})"


def answer(findings: Findings, say: Typography) -> tuple[Sentence, ...]:
    """How far, where to, when, which setup: a sentence each with its numbers, and the evidence behind it.

    Where no locator is corroborated: that nothing is claimed and why, when the reports came, which setup.
    """
    if not findings.tally.reports:
        read = say.things(findings.counts.read, "row was", "rows were")
        return (Sentence("How far", f"{NO_REPORT}, so nothing can be said.", f"{read} read."),)
    found, way = findings.reach, ends(findings)
    if not found.headline.reports:
        return (_nothing_claimed(found, say, way), _when(found.all, say, way), better(findings, say))
    return (
        _how_far(found, say, way),
        _where_to(found.corroborated, say, way),
        _when(found.corroborated, say, way),
        better(findings, say),
    )


def better(findings: Findings, say: Typography) -> Sentence:
    """Which setup is better, or why that cannot be said."""
    names = findings.setups
    if findings.several is not None:
        first, *more = several.everything(findings.several, say=say)
        return Sentence("Which setup", first, " ".join(more), needs_evidence=True)
    if findings.comparison is None:
        if len(names) < 2:
            only = f"only {names[0]!r} is named" if names else "the reports name no setup"
            return Sentence("Which setup", f"Nothing to compare: {only}.", "")
        how = "To compare two, name them under [compare] in a study file, or ask reach compare."
        said = f"Setups: {words.listed(names)}. {how}"
        return Sentence("Which setup", "No comparison was asked for.", said, needs_evidence=True)
    found = findings.comparison
    if found.verdict == Verdict.CANNOT_TELL:
        behind = [comparison.remark(step, found, say=say) for step in found.next_steps]
    else:
        behind = [*comparison.power(found, say=say), *comparison.noise(found), *comparison.parts(found, say=say)]
    return Sentence("Which setup", comparison.headline(found, say=say), " ".join(behind), needs_evidence=True)


def _nothing_claimed(found: Reach, say: Typography, way: Ends) -> Sentence:
    everything = found.all.overall
    doubt = f"; {say.count(found.suspect)} of these are suspect" if found.suspect else ""
    return Sentence(
        "How far",
        f"{NOTHING_CLAIMED}: nothing confirms where any of the {way.fars(everything.receivers, say)} was.",
        f"{say.things(everything.reports, 'report')} accepted{doubt}. {way.corroborated}",
        needs_evidence=True,
    )


def _how_far(reach: Reach, say: Typography, way: Ends) -> Sentence:
    found, far = reach.headline, reach.headline.farthest
    text = how_far(found, say, way)
    if not found.is_few:
        text += f", one in ten from beyond {say.km(found.p90_km.value)}"
    if far is not None and not (found.is_few and found.receivers == 1):
        where = f" in {far.country}" if far.country else ""
        text += f"; {way.farthest_heard} {far.call}{where}, {_away(far, say)}"
    evidence = f"{way.fars(found.receivers, say)}, {say.things(found.squares, 'square')}"
    if not found.is_few:
        evidence += f"; 95 % interval of one in ten: {interval_km(found.p90_km, say, way)}"
    return Sentence("How far", text + ".", f"{evidence}. {_what_was_left_out(reach, say, way)}")


def _what_was_left_out(reach: Reach, say: Typography, way: Ends) -> str:
    """Which rows stand behind the difference between the headline and all accepted rows, and what they would say."""
    if not reach.between:
        return f"Every locator is corroborated ({way.corroborated_by})."
    everything = reach.all.overall
    with_all = f"half beyond {say.km(everything.median_km.value)}"
    if everything.farthest is not None:
        far = everything.farthest
        with_all += f", the farthest {say.km(far.distance_km)} ({far.call}, {far.trust})"
    doubt = "all suspect" if reach.suspect == reach.between else f"{say.count(reach.suspect)} of them suspect"
    return (
        f"Corroborated locators only ({way.corroborated_by}); {say.things(reach.between, 'report')} with other locators, {doubt}, would make it "
        f"{with_all}."
    )


def _where_to(block: Block, say: Typography, way: Ends) -> Sentence:
    """In how many countries and squares, and the direction with most reports where one stands apart."""
    found, claim = block.overall, block.claims[Kind.FULLEST_SECTOR]
    text = f"{way.it_heard} {say.things(found.countries, 'country', 'countries')} and {say.things(found.squares, 'square')}"
    if not found.has_directions:
        return Sentence(way.where, text + ".", f"{say.things(found.reports, 'report')}.")
    by_centre = {sector.centre_deg: sector for sector in found.sectors}
    full = sum(bool(sector.reports) for sector in found.sectors)
    if claim.apart:
        top = by_centre[claim.winner]
        text += f"; the largest share of {way.share_of}, {say.share(top.share.value)}, came from {towards(top)}"
        spread = (
            f", 95 % interval {say.share(top.share.low)} to {say.share(top.share.high)}"
            if top.share.has_interval
            else ""
        )
        evidence = f"{say.things(top.reports, 'report')} of {way.fars(top.receivers, say)} in that sector{spread}."
    elif claim.tie:
        text += (
            f"; most came from {words.listed([towards(by_centre[centre]) for centre in claim.tie])}, which are alike"
        )
        evidence = (
            f"{say.count(claim.value)} reports from the first of them, {say.count(claim.next_value)} from the second."
        )
    else:
        text += f", in {say.count(full)} of {say.count(len(found.sectors))} directions"
        evidence = f"{behind(found, say, way)}. {none_apart(claim, 'direction')}"
    silent = len(found.sectors) - full
    if silent:
        evidence += f" Nothing from {say.things(silent, 'sector')}: that may also mean that {way.nobody}."
    return Sentence(way.where, text + ".", evidence)


def _when(block: Block, say: Typography, way: Ends) -> Sentence:
    """When most reports came and, where their locators carry it, when the distance was largest; as far as an hour stands
    apart."""
    found, claim = block.overall, block.claims[Kind.FULLEST_HOUR]
    text = most_reports(found, claim, say, way)
    evidence = f"{behind(found, say, way)}. {none_apart(claim, 'hour')}"
    if claim.apart:
        evidence = (
            f"{say.count(claim.value)} of {say.things(found.reports, 'report')}, {way.fars(claim.receivers, say)} in that "
            f"hour; {say.count(claim.next_value)} between {words.hour(claim.runner_up)}.{_other_bands(claim)}"
        )
    elif claim.tie or claim.reason == Reason.ALONE:
        evidence = (
            f"{say.count(claim.value)} of {say.things(found.reports, 'report')} from {claim.winner:02d}:00 UTC on."
        )
    far = block.claims.get(Kind.FARTHEST_HOUR)
    if far is not None and far.apart:
        text += f"; {way.reached} between {words.hour(far.winner)}: half beyond {say.km(far.value)}"
        median = next(hour.median_km for hour in found.hours if hour.hour_utc == far.winner)
        evidence += (
            f" {say.things(far.reports, 'report')} between {words.hour(far.winner)}; 95 % interval of that distance "
            f"{interval_km(median, say, way)}, next {say.km(far.next_value)} between {words.hour(far.runner_up)}."
            f"{_other_bands(far)}"
        )
    evidence += f" Hours of the day over {say.things(found.days, 'day')}; {way.silent} has no reports."
    return Sentence("When", text + ".", evidence)


# --- what may be singled out ------------------------------------------------------------------------------------------


def most_reports(found: Figures, claim: Claim, say: Typography, way: Ends) -> str:
    """The hour of the day with most reports, those that are alike, or in how many hours reports came."""
    if claim.apart:
        return f"{way.most_came} between {words.hour(claim.winner)} UTC"
    if claim.tie:
        starts = words.listed([f"{hour:02d}:00" for hour in sorted(claim.tie)])
        return f"{way.most_came} in the hours from {starts} UTC, which are alike"
    if claim.reason == Reason.ALONE:
        return f"{way.all_came} between {words.hour(claim.winner)} UTC"
    return f"{way.came} in {say.things(len(found.hours), 'hour')} of the day"


def none_apart(claim: Claim, what: str) -> str:
    """Why nothing is singled out: 'No hour stands apart from the others.'"""
    if claim.reason == Reason.FEW:
        return f"Too few reports to say which {what} brought most."
    return f"No {what} stands apart from the others."


def _other_bands(claim: Claim) -> str:
    """That an hour had other bands or setups than the rest, so that it may be these that it stands out for."""
    names = {Confounder.BAND: "bands", Confounder.SETUP: "setups"}
    other = [name for code, name in names.items() if code in claim.confounders]
    return f" That hour had other {words.listed(other)} than the rest." if other else ""


# --- small words ------------------------------------------------------------------------------------------------------


def _away(far: Farthest, say: Typography) -> str:
    return f"{say.distance(far.distance_km, far.uncertainty_km)} away{antipode(far, say)}"


def antipode(far: Farthest, say: Typography) -> str:
    """Of a place near the antipode: its bearing with the uncertainty, and that of the other way round; else empty."""
    if far.distance_km < ANTIPODE_KM:
        return ""
    return f" at {say.bearing(far.bearing_deg, far.bearing_within_deg)}"


def interval_km(estimate: Estimate, say: Typography, way: Ends = SENT) -> str:
    """'1 390 to 1 610 km', or why there is none."""
    return say.km_span(estimate.low, estimate.high) if estimate.has_interval else f"not given (too few {way.far}s)"


def towards(sector: Sector) -> str:
    """A sector: 'the sector around 60° (ENE)'."""
    return f"the sector around {sector.centre_deg}° ({words.compass(sector.centre_deg)})"


def sector_name(which: int) -> str:
    """'60° ENE'."""
    return f"{which * SECTOR_DEG}° {words.compass(which * SECTOR_DEG)}"

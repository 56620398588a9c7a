"""How far, where to, when and which setup, in words: the answer that terminal, page, slides and handout give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reach.base import words
from reach.base.words import Typography
from reach.compare.comparison import Verdict
from reach.measure.claims import Confounder, Kind, Reason
from reach.radio import power
from reach.spots import SECTOR_DEG
from reach.tell.sentences import comparison
from reach.tell.sentences import power as power_words

if TYPE_CHECKING:
    from reach.findings import Findings
    from reach.measure.claims import Claim
    from reach.measure.reach import Block, Estimate, Farthest, Figures, Reach, Sector

NOTHING_CLAIMED = "No locator is corroborated, so no reach is claimed"
NO_LISTENER = (
    "Where nobody listens nothing is reported: an empty direction is no proof that the signal did not get there."
)
MADE_UP = "Made-up demonstration data: the station, the listeners and every report are invented."


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
    return findings.study.title or f"Reach of {call or locator or 'a station'}"


def signature(findings: Findings) -> str:
    """Whose signal it was: 'EI4QTB/P in IO51es', or what of that is known."""
    return " in ".join(part for part in findings.station if part)


def period(findings: Findings, say: Typography) -> str:
    """From when to when; "no reports" where there are none."""
    if not findings.tally.reports:
        return "no reports"
    return say.period(findings.reach.first_utc.to_pydatetime(), findings.reach.last_utc.to_pydatetime())


def circumstances(findings: Findings, say: Typography) -> str:
    """Who, where, when, with how much, on what: one line."""
    parts = [signature(findings), period(findings, say), stated_power(findings, say)]
    parts += [words.listed(names) for names in (findings.bands, findings.setups) if names]
    return " · ".join(part for part in parts if part)


def powers(findings: Findings) -> list[float]:
    """The distinct powers at the radio behind the spots [W], rising: what the cautions are about."""
    return list(power.at_radio_w(findings.study, findings.spots)[0])


def stated_power(findings: Findings, say: Typography) -> str:
    """With how many watts, and where they were known: '4.3 W at the antenna'."""
    return power_words.stated(findings.powers, say)


def counts(findings: Findings, say: Typography) -> str:
    """Where every row went: '1 580 rows read = ...'."""
    c = findings.counts
    return (
        f"{say.things(c.read, 'row')} read = {say.count(c.accepted)} accepted + {say.count(c.rejected)} rejected + "
        f"{say.count(c.duplicates)} duplicates; {say.things(len(findings.suspects), 'suspect locator')}."
    )


def replaced(findings: Findings, say: Typography) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    rows = findings.fixed_rows
    return f"{say.things(rows, 'row carries', 'rows carry')} a locator that the operator replaced." if rows else ""


def behind(figures: Figures, say: Typography) -> str:
    """'1 580 reports of 70 receivers': what a finding rests on."""
    return f"{say.things(figures.reports, 'report')} of {say.things(figures.receivers, 'receiver')}"


# --- the answer -------------------------------------------------------------------------------------------------------


def headline(findings: Findings, say: Typography) -> str:
    """The finding in one short sentence, for a title."""
    if not findings.tally.reports:
        return "No report was accepted"
    found = findings.reach.headline
    if not found.reports:
        return NOTHING_CLAIMED
    more = findings.reach.between
    # A headline that rests on the smaller part says so: the larger part may have said something else.
    rest = f"; {say.count(more)} more are not counted" if more > found.reports else ""
    return how_far(found, say) + rest


def how_far(found: Figures, say: Typography) -> str:
    """Half of the reports came from beyond so many kilometres, with the interval; or that too few came to say so."""
    if found.is_few:
        far = found.farthest
        away = f", {'' if found.receivers == 1 else 'up to '}{_away(far, say)}" if far is not None else ""
        return f"{behind(found, say)}{away}: too few to say how far"
    half = found.median_km
    if not half.has_interval:
        return f"Half of {behind(found, say)} came from beyond {say.km(half.value)}"
    said = f"Half of {say.things(found.reports, 'report')} came from beyond {say.km(half.value)}"
    return f"{said} (95{say.gap}% interval {interval_km(half, say)})"


def answer(findings: Findings, say: Typography) -> tuple[Sentence, ...]:
    """How far, where to, when, which setup: a sentence each with its numbers, and the evidence behind it.

    Where no locator is corroborated: that nothing is claimed and why, when the reports came, which setup.
    """
    if not findings.tally.reports:
        read = say.things(findings.counts.read, "row was", "rows were")
        return (Sentence("How far", "No report was accepted, so nothing can be said.", f"{read} read."),)
    found = findings.reach
    if not found.headline.reports:
        return (_nothing_claimed(found, say), _when(found.all, say), better(findings, say))
    return (
        _how_far(found, say),
        _where_to(found.corroborated, say),
        _when(found.corroborated, say),
        better(findings, say),
    )


def better(findings: Findings, say: Typography) -> Sentence:
    """Which setup is better, or why that cannot be said."""
    names = findings.setups
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
        behind = [*comparison.parts(found, say=say)]
    return Sentence("Which setup", comparison.headline(found, say=say), " ".join(behind), needs_evidence=True)


def _nothing_claimed(found: Reach, say: Typography) -> Sentence:
    everything = found.all.overall
    doubt = f"; {say.count(found.suspect)} of these are suspect" if found.suspect else ""
    return Sentence(
        "How far",
        f"{NOTHING_CLAIMED}: nothing confirms where any of the {say.things(everything.receivers, 'receiver')} was.",
        f"{say.things(everything.reports, 'report')} accepted{doubt}. A locator is corroborated where the callsign's "
        "country agrees with it, or where a listener without a callsign reported in two different hours, as strongly as "
        "others did from that far.",
        needs_evidence=True,
    )


def _how_far(reach: Reach, say: Typography) -> Sentence:
    found, far = reach.headline, reach.headline.farthest
    text = how_far(found, say)
    if not found.is_few:
        text += f", one in ten from beyond {say.km(found.p90_km.value)}"
    if far is not None and not (found.is_few and found.receivers == 1):
        where = f" in {far.country}" if far.country else ""
        text += f"; the farthest from {far.call}{where}, {_away(far, say)}"
    evidence = f"{say.things(found.receivers, 'receiver')}, {say.things(found.squares, 'square')}"
    if not found.is_few:
        evidence += f"; 95 % interval of one in ten: {interval_km(found.p90_km, say)}"
    return Sentence("How far", text + ".", f"{evidence}. {_what_was_left_out(reach, say)}")


def _what_was_left_out(reach: Reach, say: Typography) -> str:
    """Which rows stand behind the difference between the headline and all accepted rows, and what they would say."""
    if not reach.between:
        return "Every locator is corroborated."
    everything = reach.all.overall
    with_all = f"half beyond {say.km(everything.median_km.value)}"
    if everything.farthest is not None:
        far = everything.farthest
        with_all += f", the farthest {say.km(far.distance_km)} ({far.call}, {far.trust})"
    doubt = "all suspect" if reach.suspect == reach.between else f"{say.count(reach.suspect)} of them suspect"
    return (
        f"Corroborated locators only; {say.things(reach.between, 'report')} with other locators, {doubt}, would make it "
        f"{with_all}."
    )


def _where_to(block: Block, say: Typography) -> Sentence:
    """In how many countries and squares, and the direction with most reports where one stands apart."""
    found, claim = block.overall, block.claims[Kind.FULLEST_SECTOR]
    text = f"It was heard in {say.things(found.countries, 'country', 'countries')} and {say.things(found.squares, 'square')}"
    if not found.has_directions:
        return Sentence("Where to", text + ".", f"{say.things(found.reports, 'report')}.")
    by_centre = {sector.centre_deg: sector for sector in found.sectors}
    full = sum(bool(sector.reports) for sector in found.sectors)
    if claim.apart:
        top = by_centre[claim.winner]
        text += f"; the largest share of reports, {say.share(top.share.value)}, came from {towards(top)}"
        spread = (
            f", 95 % interval {say.share(top.share.low)} to {say.share(top.share.high)}"
            if top.share.has_interval
            else ""
        )
        evidence = (
            f"{say.things(top.reports, 'report')} of {say.things(top.receivers, 'receiver')} in that sector{spread}."
        )
    elif claim.tie:
        text += (
            f"; most came from {words.listed([towards(by_centre[centre]) for centre in claim.tie])}, which are alike"
        )
        evidence = (
            f"{say.count(claim.value)} reports from the first of them, {say.count(claim.next_value)} from the second."
        )
    else:
        text += f", in {say.count(full)} of {say.count(len(found.sectors))} directions"
        evidence = f"{behind(found, say)}. {none_apart(claim, 'direction')}"
    silent = len(found.sectors) - full
    if silent:
        evidence += f" Nothing from {say.things(silent, 'sector')}: that may also mean that nobody listens there."
    return Sentence("Where to", text + ".", evidence)


def _when(block: Block, say: Typography) -> Sentence:
    """When most reports came and, where their locators carry it, when the signal reached farthest; as far as an hour stands
    apart."""
    found, claim = block.overall, block.claims[Kind.FULLEST_HOUR]
    text = most_reports(found, claim, say)
    evidence = f"{behind(found, say)}. {none_apart(claim, 'hour')}"
    if claim.apart:
        evidence = (
            f"{say.count(claim.value)} of {say.things(found.reports, 'report')}, "
            f"{say.things(claim.receivers, 'receiver')} in that hour; {say.count(claim.next_value)} between "
            f"{words.hour(claim.runner_up)}.{_other_bands(claim)}"
        )
    elif claim.tie or claim.reason == Reason.ALONE:
        evidence = (
            f"{say.count(claim.value)} of {say.things(found.reports, 'report')} from {claim.winner:02d}:00 UTC on."
        )
    far = block.claims.get(Kind.FARTHEST_HOUR)
    if far is not None and far.apart:
        text += f"; the signal reached farthest between {words.hour(far.winner)}: half beyond {say.km(far.value)}"
        median = next(hour.median_km for hour in found.hours if hour.hour_utc == far.winner)
        evidence += (
            f" {say.things(far.reports, 'report')} between {words.hour(far.winner)}; 95 % interval of that distance "
            f"{interval_km(median, say)}, next {say.km(far.next_value)} between {words.hour(far.runner_up)}."
            f"{_other_bands(far)}"
        )
    evidence += f" Hours of the day over {say.things(found.days, 'day')}; an hour without transmissions has no reports."
    return Sentence("When", text + ".", evidence)


# --- what may be singled out ------------------------------------------------------------------------------------------


def most_reports(found: Figures, claim: Claim, say: Typography) -> str:
    """The hour of the day with most reports, those that are alike, or in how many hours reports came."""
    if claim.apart:
        return f"Most reports came between {words.hour(claim.winner)} UTC"
    if claim.tie:
        starts = words.listed([f"{hour:02d}:00" for hour in sorted(claim.tie)])
        return f"Most reports came in the hours from {starts} UTC, which are alike"
    if claim.reason == Reason.ALONE:
        return f"All reports came between {words.hour(claim.winner)} UTC"
    return f"Reports came in {say.things(len(found.hours), 'hour')} of the day"


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
    return f"{say.distance(far.distance_km, far.uncertainty_km)} away"


def interval_km(estimate: Estimate, say: Typography) -> str:
    """'1 390 to 1 610 km', or why there is none."""
    return say.km_span(estimate.low, estimate.high) if estimate.has_interval else "not given (too few receivers)"


def towards(sector: Sector) -> str:
    """A sector: 'the sector around 60° (ENE)'."""
    return f"the sector around {sector.centre_deg}° ({words.compass(sector.centre_deg)})"


def sector_name(which: int) -> str:
    """'60° ENE'."""
    return f"{which * SECTOR_DEG}° {words.compass(which * SECTOR_DEG)}"

"""How far, where to, when and which setup, in words: the answer that terminal, page, slides and handout give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from reach.base import words
from reach.base.words import Typography
from reach.compare.comparison import Verdict
from reach.radio import power
from reach.spots import SECTOR_DEG
from reach.tell.sentences import comparison, notes
from reach.tell.sentences import power as power_words
from reach.tell.sentences.direction import HEARD, SENT, Ends, ends

if TYPE_CHECKING:
    from reach.findings import Counts, Findings
    from reach.measure.reach import Estimate, Figures, Reach, Sector

NOTHING_CLAIMED = "No locator is corroborated, so no reach is claimed"


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


def behind(figures: Figures, say: Typography, far: Ends = SENT) -> str:
    """'1 580 reports of 70 receivers': what a finding rests on."""
    return f"{say.things(figures.reports, 'report')} of {far.fars(figures.receivers, say)}"


# --- the answer -------------------------------------------------------------------------------------------------------


def headline(findings: Findings, say: Typography) -> str:
    """The finding in one short sentence, for a title."""
    if not findings.tally.reports:
        return "No report was accepted"
    found = findings.reach.headline
    if not found.reports:
        return NOTHING_CLAIMED
    return f"Half of {ends(findings).reports_came} came from beyond {say.km(found.median_km.value)}"


def answer(findings: Findings, say: Typography) -> tuple[Sentence, ...]:
    """How far, where to, when, which setup: a sentence each with its numbers, and the evidence behind it.

    Where no locator is corroborated: that nothing is claimed and why, when the reports came, which setup.
    """
    if not findings.tally.reports:
        read = say.things(findings.counts.read, "row was", "rows were")
        return (Sentence("How far", "No report was accepted, so nothing can be said.", f"{read} read."),)
    found, way = findings.reach, ends(findings)
    if not found.headline.reports:
        return (_nothing_claimed(found, say, way), _when(found.all.overall, say, way, far=False), better(findings, say))
    return (
        _how_far(found, say, way),
        _where_to(found.headline, say, way),
        _when(found.headline, say, way),
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
    text = (
        f"Half of {way.reports(found.reports, say)} came from beyond {say.km(found.median_km.value)}, "
        f"one in ten from beyond {say.km(found.p90_km.value)}"
    )
    if far is not None:
        where = f" in {far.country}" if far.country else ""
        text += f"; {way.farthest_heard} {far.call}{where}, {say.distance(far.distance_km, far.uncertainty_km)} away"
    evidence = (
        f"{way.fars(found.receivers, say)}, {say.things(found.squares, 'square')}; 95 % intervals: "
        f"half-way distance {interval_km(found.median_km, say, way)}, one in ten {interval_km(found.p90_km, say, way)}. "
    )
    return Sentence("How far", text + ".", evidence + _what_was_left_out(reach, say))


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


def _where_to(found: Figures, say: Typography, way: Ends) -> Sentence:
    text = f"{way.it_heard} {say.things(found.countries, 'country', 'countries')} and {say.things(found.squares, 'square')}"
    top = found.fullest_sector
    if top is None:
        return Sentence("Where to", text + ".", f"{say.things(found.reports, 'report')}.")
    text += f"; the largest share of {way.share_of}, {say.share(top.share.value)}, came from {towards(top)}."
    spread = (
        f", 95 % interval {say.share(top.share.low)} to {say.share(top.share.high)}" if top.share.has_interval else ""
    )
    evidence = f"{say.things(top.reports, 'report')} of {way.fars(top.receivers, say)} in that sector{spread}."
    silent = sum(not sector.reports for sector in found.sectors)
    if silent:
        evidence += f" Nothing from {say.things(silent, 'sector')}: that may also mean that {way.nobody}."
    return Sentence("Where to", text, evidence)


def _when(found: Figures, say: Typography, way: Ends, *, far: bool = True) -> Sentence:
    """When most reports came and, where their locators carry it, when the distance was largest."""
    busy = found.busiest
    text = f"{way.most_came} between {words.hour(busy.hour_utc)} UTC"
    evidence = (
        f"{say.count(busy.reports)} of {say.things(found.reports, 'report')}, "
        f"{way.fars(busy.receivers, say)} in that hour"
    )
    best = found.farthest_hour if far else None
    if best is not None:
        reach_then = f"half beyond {say.km(best.median_km.value)}"
        if best == busy:
            text += f", when {way.reached_also}: {reach_then}"
        else:
            text += f"; {way.reached} between {words.hour(best.hour_utc)}: {reach_then}"
            evidence += f"; {say.things(best.reports, 'report')} between {words.hour(best.hour_utc)}"
        evidence += f"; 95 % interval of that distance {interval_km(best.median_km, say, way)}"
    evidence += f". Hours of the day over {say.things(found.days, 'day')}; {way.silent} has no reports."
    return Sentence("When", text + ".", evidence)


# --- small words ------------------------------------------------------------------------------------------------------


def interval_km(estimate: Estimate, say: Typography, way: Ends = SENT) -> str:
    """'1 390 to 1 610 km', or why there is none."""
    return say.km_span(estimate.low, estimate.high) if estimate.has_interval else f"not given (too few {way.far}s)"


def towards(sector: Sector) -> str:
    """A sector: 'the sector around 60° (ENE)'."""
    return f"the sector around {sector.centre_deg}° ({words.compass(sector.centre_deg)})"


def sector_name(which: int) -> str:
    """'60° ENE'."""
    return f"{which * SECTOR_DEG}° {words.compass(which * SECTOR_DEG)}"

"""How far, where to, when and which setup, in words: the answer that terminal, page, slides and handout give."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography
from reach.compare.comparison import Verdict
from reach.measure.claims import Confounder, Kind, Reason
from reach.place.path import ANTIPODE_KM
from reach.radio import power
from reach.spots import SECTOR_DEG
from reach.tell.sentences import comparison, local_time, notes, season, several
from reach.tell.sentences import power as power_words
from reach.tell.sentences.direction import HEARD, SENT, Ends, ends

if TYPE_CHECKING:
    from datetime import datetime

    from reach.base.local_time import LocalTime
    from reach.findings import Findings
    from reach.measure.claims import Claim
    from reach.measure.reach import Block, Estimate, Farthest, Figures, Reach, Sector

NO_REPORT = Phrase("No report was accepted")
NOTHING_CLAIMED = Phrase("No locator is corroborated, so no reach is claimed")


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
    whose = call or locator or say.text("a station")
    return findings.study.title or (
        say.text("What {whose} heard", whose=whose)
        if ends(findings) is HEARD
        else say.text("Reach of {whose}", whose=whose)
    )


def signature(findings: Findings, say: Typography = PRINT) -> str:
    """Whose signal it was: 'EI4QTB/P in IO51es', or what of that is known."""
    call, locator = findings.station
    return say.text("{call} in {locator}", call=call, locator=locator) if call and locator else call or locator


def period(findings: Findings, say: Typography) -> str:
    """From when to when; "no reports" where there are none."""
    if not findings.tally.reports:
        return say.text("no reports")
    first, last = findings.reach.first_utc.to_pydatetime(), findings.reach.last_utc.to_pydatetime()
    return from_to(findings, first, last, say)


def from_to(findings: Findings, first: datetime, last: datetime, say: Typography) -> str:
    """A period of the study; within a day by the clock, with local time beside UTC where it is asked for."""
    said = say.period(first, last)
    return local_time.at(said, findings.local_time, first, last, say=say) if first.date() == last.date() else said


def circumstances(findings: Findings, say: Typography) -> str:
    """Who, where, in which direction, when, with how much, on what: one line."""
    named, whose = say.text(ends(findings).named), signature(findings, say)
    parts = [
        f"{whose}, {named}" if whose else named[0].upper() + named[1:],
        period(findings, say),
        stated_power(findings, say),
    ]
    parts += [say.listed(names) for names in (findings.bands, findings.setups) if names]
    return " · ".join(part for part in parts if part)


def powers(findings: Findings) -> list[float]:
    """The distinct powers at the radio behind the spots [W], rising: what the cautions are about."""
    return [] if ends(findings) is HEARD else list(power.at_radio_w(findings.study, findings.powered)[0])


def stated_power(findings: Findings, say: Typography) -> str:
    """With how many watts, and where they were known: '4.3 W at the antenna'."""
    return "" if ends(findings) is HEARD else power_words.stated(findings.powers, say)


def counts(findings: Findings, say: Typography) -> str:
    """Where every row went: '1 580 rows read = ...'."""
    return say.text(
        "{law}; {suspects}.",
        law=notes.law(findings.counts, say),
        suspects=say.things(len(findings.suspects), "suspect locator"),
    )


def left_out(findings: Findings, say: Typography) -> list[str]:
    """What was left out or assumed before anything was counted, a sentence each: it stands above the first headline."""
    doubted = doubtful(findings, say) if findings.reach.headline.reports else ""
    return [*notes.first(findings.notes, say), *([doubted] if doubted else [])]


def doubtful(findings: Findings, say: Typography) -> str:
    """How many accepted reports no distance or direction counts, for their locators; empty where all do."""
    if findings.unsure.empty:
        return ""
    more = say.things(findings.reach.between, "report")
    if ends(findings) is HEARD:
        return say.text(
            "Transmitters with corroborated locators only; {reports} with other locators are not counted.", reports=more
        )
    return say.text(
        "Receivers with corroborated locators only; {reports} with other locators are not counted.", reports=more
    )


def made_up(findings: Findings, say: Typography = PRINT) -> str:
    """That demonstration data are invented; empty where the study is real."""
    if not findings.study.made_up:
        return ""
    return say.text(
        "Made-up demonstration data: the station, the {people} and every report are invented.",
        people=ends(findings).far_people,
    )


def no_far_end(findings: Findings, say: Typography = PRINT) -> str:
    """What an empty direction does not prove."""
    return say.text(ends(findings).no_far_end)


def replaced(findings: Findings, say: Typography) -> str:
    """How many rows carry a locator that the user replaced; empty where none does."""
    rows = findings.fixed_rows
    if not rows:
        return ""
    return say.plural(
        rows,
        "{n} row carries a locator that the operator replaced.",
        "{n} rows carry a locator that the operator replaced.",
    )


def behind(found: Counted, say: Typography, way: Ends) -> str:
    """'1 580 reports of 70 receivers': what a finding rests on."""
    return say.text(
        "{reports} of {fars}", reports=say.things(found.reports, "report"), fars=way.fars(found.receivers, say)
    )


# --- the answer -------------------------------------------------------------------------------------------------------


def headline(findings: Findings, say: Typography) -> str:
    """The finding in one short sentence, for a title."""
    if not findings.tally.reports:
        return say.text(NO_REPORT)
    found = findings.reach.headline
    if not found.reports:
        return say.text(NOTHING_CLAIMED)
    way, more = ends(findings), findings.reach.between
    # A headline that rests on the smaller part says so: the larger part may have said something else.
    rest = say.text("; {more} more are not counted", more=say.count(more)) if more > found.reports else ""
    return how_far(found, say, way) + rest


def how_far(found: Figures, say: Typography, way: Ends) -> str:
    """Half of the reports came from beyond so many kilometres, with the interval; or that too few came to say so."""
    if found.is_few:
        far = found.farthest
        behind_it = behind(found, say, way)
        if far is None:
            return say.text("{reports}: too few to say how far", reports=behind_it)
        if found.receivers == 1:
            return say.text("{reports}, {away}: too few to say how far", reports=behind_it, away=_away(far, say))
        return say.text("{reports}, up to {away}: too few to say how far", reports=behind_it, away=_away(far, say))
    half = found.median_km
    if found.farthest is not None and half.value >= found.far_km:
        away = say.distance(found.far_km, found.farthest.uncertainty_km)
        return say.text(
            "At least half of {reports} came from {away}, the farthest of all",
            reports=behind(found, say, way),
            away=away,
        )
    if not half.has_interval:
        return say.text(
            "Half of {reports} came from beyond {km}", reports=behind(found, say, way), km=say.beyond(half.value)
        )
    said = say.text(
        "Half of {reports} came from beyond {km}", reports=way.reports(found.reports, say), km=say.beyond(half.value)
    )
    return say.text("{said} (95{gap}% interval {interval})", said=said, interval=interval_km(half, say, way))


def answer(findings: Findings, say: Typography) -> tuple[Sentence, ...]:
    """How far, where to, when, which setup, and what changed over the weeks where the study asks: a sentence each with its numbers,
    and the evidence behind it.

    Where no locator is corroborated: that nothing is claimed and why, when the reports came, which setup.
    """
    if not findings.tally.reports:
        return (
            Sentence(
                say.text("How far"),
                say.text("No report was accepted, so nothing can be said."),
                say.plural(findings.counts.read, "{n} row was read.", "{n} rows were read."),
            ),
        )
    found, way = findings.reach, ends(findings)
    local = findings.local_time
    last = (better(findings, say), *_over_the_weeks(findings, say))
    if not found.headline.reports:
        return (_nothing_claimed(found, say, way), _when(found.all, local, say, way), *last)
    return (
        _how_far(found, say, way),
        _where_to(found.corroborated, say, way),
        _when(found.corroborated, local, say, way),
        *last,
    )


def _over_the_weeks(findings: Findings, say: Typography) -> tuple[Sentence, ...]:
    """What changed, where the study has a season."""
    if findings.season is None:
        return ()
    return (Sentence(say.text("Over the weeks"), season.headline(findings.season, say=say), ""),)


def better(findings: Findings, say: Typography) -> Sentence:
    """Which setup is better, or why that cannot be said."""
    names = findings.setups
    if findings.several is not None:
        first, *more = several.everything(findings.several, say=say)
        return Sentence(say.text("Which setup"), first, " ".join(more), needs_evidence=True)
    if findings.comparison is None:
        if len(names) < 2:
            only = (
                say.text("Nothing to compare: only {name} is named.", name=repr(names[0]))
                if names
                else say.text("Nothing to compare: the reports name no setup.")
            )
            return Sentence(say.text("Which setup"), only, "")
        how = say.text("To compare two, name both of them{how}.", how=say.how("compare"))
        said = say.text("Setups: {names}. {how}", names=say.listed(names), how=how)
        return Sentence(say.text("Which setup"), say.text("No comparison was asked for."), said, needs_evidence=True)
    found = findings.comparison
    if found.verdict == Verdict.CANNOT_TELL:
        behind = [comparison.remark(step, found, say=say) for step in found.next_steps]
    else:
        behind = [
            *comparison.power(found, say=say),
            *comparison.noise(found, say=say),
            *comparison.parts(found, say=say),
        ]
    return Sentence(say.text("Which setup"), comparison.headline(found, say=say), " ".join(behind), needs_evidence=True)


def _nothing_claimed(found: Reach, say: Typography, way: Ends) -> Sentence:
    everything = found.all.overall
    doubt = say.text("; {suspect} of these are suspect", suspect=say.count(found.suspect)) if found.suspect else ""
    return Sentence(
        say.text("How far"),
        say.text(
            "No locator is corroborated, so no reach is claimed: nothing confirms where any of the {fars} was.",
            fars=way.fars(everything.receivers, say),
        ),
        say.text(
            "{reports} accepted{doubt}. {corroborated}",
            reports=say.things(everything.reports, "report"),
            doubt=doubt,
            corroborated=way.corroborated,
        ),
        needs_evidence=True,
    )


def _how_far(reach: Reach, say: Typography, way: Ends) -> Sentence:
    found, far = reach.headline, reach.headline.farthest
    text = how_far(found, say, way)
    if found.tells_tenth:
        text += say.text(", one in ten from beyond {km}", km=say.beyond(found.p90_km.value))
    if far is not None and not (found.is_few and found.receivers == 1):
        text += say.text(
            "; {farthest_heard} {call} in {country}, {away}" if far.country else "; {farthest_heard} {call}, {away}",
            farthest_heard=way.farthest_heard,
            call=far.call,
            country=say.country(far.country or ""),
            away=_away(far, say),
        )
    evidence = f"{way.fars(found.receivers, say)}, {say.things(found.squares, 'square')}"
    if found.tells_tenth:
        evidence += say.text(
            "; 95{gap}% interval of one in ten: {interval_km}", interval_km=interval_km(found.p90_km, say, way)
        )
    return Sentence(say.text("How far"), text + say.stop, f"{evidence}{say.stop} {_what_was_left_out(reach, say, way)}")


def _what_was_left_out(reach: Reach, say: Typography, way: Ends) -> str:
    """Which rows stand behind the difference between the headline and all accepted rows, and what they would say."""
    if not reach.between:
        return say.text("Every locator is corroborated ({corroborated_by}).", corroborated_by=way.corroborated_by)
    everything = reach.all.overall
    with_all = say.text("half beyond {value}", value=say.beyond(everything.median_km.value))
    if everything.farthest is not None:
        far = everything.farthest
        with_all += say.text(
            ", the farthest {distance_km} ({call}, {trust})",
            distance_km=say.km(far.distance_km),
            call=far.call,
            trust=Phrase(far.trust),
        )
    doubt = (
        say.text("all suspect")
        if reach.suspect == reach.between
        else say.text("{suspect} of them suspect", suspect=say.count(reach.suspect))
    )
    return say.text(
        "Corroborated locators only ({corroborated_by}); {reports} with other locators, {doubt}, would make it "
        "{with_all}.",
        corroborated_by=way.corroborated_by,
        reports=say.things(reach.between, "report"),
        doubt=doubt,
        with_all=with_all,
    )


def _where_to(block: Block, say: Typography, way: Ends) -> Sentence:
    """In how many countries and squares, and the direction with most reports where one stands apart."""
    found, claim = block.overall, block.claims[Kind.FULLEST_SECTOR]
    text = say.text(
        "{it_heard} {countries} and {squares}",
        it_heard=way.it_heard,
        countries=say.things(found.countries, "country", "countries"),
        squares=say.things(found.squares, "square"),
    )
    if not found.has_directions:
        return Sentence(say.text(way.where), text + say.stop, f"{say.things(found.reports, 'report')}{say.stop}")
    by_centre = {sector.centre_deg: sector for sector in found.sectors}
    full = sum(bool(sector.reports) for sector in found.sectors)
    if claim.apart:
        top = by_centre[claim.winner]
        text += say.text(
            "; the largest share of {share_of}, {value}, came from {towards}",
            share_of=way.share_of,
            value=say.share(top.share.value),
            towards=towards(top, say),
        )
        spread = (
            say.text(
                ", 95{gap}% interval {low} to {high}", low=say.share(top.share.low), high=say.share(top.share.high)
            )
            if top.share.has_interval
            else ""
        )
        evidence = say.text(
            "{reports} of {fars} in that sector{spread}.",
            reports=say.things(top.reports, "report"),
            fars=way.fars(top.receivers, say),
            spread=spread,
        )
    elif claim.tie:
        text += say.text(
            "; most came from {sectors}, which are alike",
            sectors=say.listed([towards(by_centre[centre], say) for centre in claim.tie]),
        )
        evidence = say.text(
            "{value} reports from the first of them, {next_value} from the second.",
            value=say.count(claim.value),
            next_value=say.count(claim.next_value),
        )
    else:
        text += say.text(
            ", in {full} of {sectors} directions", full=say.count(full), sectors=say.count(len(found.sectors))
        )
        evidence = f"{behind(found, say, way)}{say.stop} {_no_direction_apart(claim, say)}"
    silent = len(found.sectors) - full
    if silent:
        evidence += say.text(
            " Nothing from {sectors}: that may also mean that {nobody}.",
            sectors=say.things(silent, "sector"),
            nobody=way.nobody,
        )
    return Sentence(say.text(way.where), text + say.stop, evidence)


def _when(block: Block, local: LocalTime | None, say: Typography, way: Ends) -> Sentence:
    """When most reports came and, where their locators carry it, when the distance was largest; as far as an hour stands
    apart. Hours that it names are told by local clocks too, where these are asked for."""
    found, claim = block.overall, block.claims[Kind.FULLEST_HOUR]
    text = most_reports(found, claim, say, way, local)
    evidence = f"{behind(found, say, way)}{say.stop} {_no_hour_apart(claim, say)}"
    if claim.apart:
        evidence = say.text(
            "{value} of {reports}, {fars} in that hour; {next_value} between {hour}.{other_bands}",
            value=say.count(claim.value),
            reports=say.things(found.reports, "report"),
            fars=way.fars(claim.receivers, say),
            next_value=say.count(claim.next_value),
            hour=say.hour(claim.runner_up),
            other_bands=_other_bands(claim, say),
        )
    elif claim.tie or claim.reason == Reason.ALONE:
        evidence = say.text(
            "{value} of {reports} in the hour from {winner}:00 UTC.",
            value=say.count(claim.value),
            reports=say.things(found.reports, "report"),
            winner=f"{claim.winner:02d}",
        )
    far = block.claims.get(Kind.FARTHEST_HOUR)
    if far is not None and far.apart:
        text += say.text(
            "; {reached} between {hour}: half beyond {value}",
            reached=way.reached,
            hour=local_time.hour(say.hour(far.winner), local, far.winner, say),
            value=say.beyond(far.value),
        )
        median = next(hour.median_km for hour in found.hours if hour.hour_utc == far.winner)
        evidence += say.text(
            " {reports} between {hour}; 95{gap}% interval of that distance {interval_km}, next {next_value} between "
            "{hour_2}.{other_bands}",
            reports=say.things(far.reports, "report"),
            hour=say.hour(far.winner),
            interval_km=interval_km(median, say, way),
            next_value=say.beyond(far.next_value),
            hour_2=say.hour(far.runner_up),
            other_bands=_other_bands(far, say),
        )
    evidence += say.text(
        " Hours of the day over {days}; {silent} has no reports.", days=say.things(found.days, "day"), silent=way.silent
    )
    return Sentence(say.text("When"), text + say.stop, evidence)


# --- what may be singled out ------------------------------------------------------------------------------------------


def most_reports(found: Figures, claim: Claim, say: Typography, way: Ends, local: LocalTime | None = None) -> str:
    """The hour of the day with most reports, those that are alike, or in how many hours reports came; with local time where
    that is asked for."""
    if claim.apart:
        said = say.text("{most_often} between {hour} UTC", most_often=way.most_often, hour=say.hour(claim.winner))
        return local_time.hour(said, local, claim.winner, say)
    if claim.tie:
        starts = say.listed([f"{hour:02d}:00" for hour in sorted(claim.tie)])
        said = say.text(
            "{most_often} in the hours from {starts} UTC, which are alike", most_often=way.most_often, starts=starts
        )
        return local_time.hours(said, local, sorted(claim.tie), say)
    if claim.reason == Reason.ALONE:
        said = say.text("{all_came} between {hour} UTC", all_came=way.all_came, hour=say.hour(claim.winner))
        return local_time.hour(said, local, claim.winner, say)
    return say.text("{came} in {hours} of the day", came=way.came, hours=say.things(len(found.hours), "hour"))


def _no_direction_apart(claim: Claim, say: Typography) -> str:
    """Why no direction is singled out."""
    if claim.reason == Reason.FEW:
        return say.text("Too few reports to say which direction brought most.")
    return say.text("No direction stands apart from the others.")


def _no_hour_apart(claim: Claim, say: Typography) -> str:
    """Why no hour is singled out."""
    if claim.reason == Reason.FEW:
        return say.text("Too few reports to say which hour brought most.")
    return say.text("No hour stands apart from the others.")


def _other_bands(claim: Claim, say: Typography) -> str:
    """That an hour had other bands or setups than the rest, so that it may be these that it stands out for."""
    band, setup = (code in claim.confounders for code in (Confounder.BAND, Confounder.SETUP))
    if band and setup:
        return say.text(" That hour had other bands and setups than the rest.")
    if band:
        return say.text(" That hour had other bands than the rest.")
    return say.text(" That hour had other setups than the rest.") if setup else ""


# --- small words ------------------------------------------------------------------------------------------------------


def _away(far: Farthest, say: Typography) -> str:
    return say.text(
        "{distance} away{antipode}",
        distance=say.distance(far.distance_km, far.uncertainty_km),
        antipode=antipode(far, say),
    )


def antipode(far: Farthest, say: Typography) -> str:
    """Of a place near the antipode: its bearing with the uncertainty, and that of the other way round; else empty."""
    if far.distance_km < ANTIPODE_KM:
        return ""
    return say.text(" at {bearing}", bearing=say.bearing(far.bearing_deg, far.bearing_within_deg))


def interval_km(estimate: Estimate, say: Typography, way: Ends = SENT) -> str:
    """Of a distance from beyond which reports came: '1 390 to 1 610 km', or why there is none."""
    return (
        say.beyond_span(estimate.low, estimate.high)
        if estimate.has_interval
        else say.text("not given (too few {fars})", fars=way.far_many)
    )


def towards(sector: Sector, say: Typography) -> str:
    """A sector: 'the sector around 60° (ENE)'."""
    return say.text(
        "the sector around {bearing}° ({point})", bearing=sector.centre_deg, point=say.compass(sector.centre_deg)
    )


def sector_name(which: int, say: Typography = PRINT) -> str:
    """'60° ENE'."""
    return f"{which * SECTOR_DEG}° {say.compass(which * SECTOR_DEG)}"

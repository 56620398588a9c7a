"""A season in words: what changed and since when, what would have been seen, on whom it rests, what weakens it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from reach.base.tongue import Phrase
from reach.base.words import PRINT, TERMINAL, Typography
from reach.compare.season.found import (
    Change,
    Control,
    Dated,
    Kind,
    Pace,
    Refused,
    Remark,
    Said,
    Season,
    Vote,
    Whose,
)
from reach.tell.sentences.direction import SIGNAL_AND_NOISE, ends

CASES: Final = Phrase("in 4 of 5 cases")
_PACE: Final = {
    Pace.SUDDEN: Phrase("It came at once."),
    Pace.SLOW: Phrase("It came little by little rather than at once, so the day says little."),
    Pace.UNCLEAR: Phrase("Whether it came at once or little by little cannot be told."),
}


def everything(found: Season, *, say: Typography) -> tuple[str, ...]:
    """All of it, one item a finding; the first is the headline."""
    said = [headline(found, say=say)]
    steps = told(found)
    said += [change(each, found, say=say) for each in steps[:-1][::-1]]
    said += [entry(each, found, say=say) for each in found.log]
    said += [control(each, say=say) for each in found.controls if each.changed is not None]
    said += attainable(found, say=say)
    said += scatter(found, say=say)
    said += [remark(each, say=say) for each in found.remarks]
    if found.direction == "heard":
        said.append(say.text(SIGNAL_AND_NOISE))
    return tuple(said)


def told(found: Season) -> tuple[Change, ...]:
    """The changes in the order of time, the last being the headline's."""
    return found.changes


def headline(found: Season, *, say: Typography) -> str:
    """The finding: the latest change, or that none is shown, or why nothing can be said."""
    if found.refused is not None:
        return refused(found.refused, found, say=say)
    if found.changes:
        return change(found.changes[-1], found, say=say)
    seen = ""
    if found.attainable is not None:
        step = say.db(found.attainable.now_db, 1)
        seen = say.text("; a step of {step} in the middle of them would have been seen {cases}", step=step, cases=CASES)
    return say.text("No change shown in {days}{seen}.", days=say.things(len(found.days), "day"), seen=seen)


def title(found: Season, *, say: Typography) -> str:
    """The finding as a title: short, with its size."""
    if found.refused is not None:
        if found.refused.code is Refused.NO_CONTROL:
            return say.text("Without another station as yardstick there is no verdict")
        if found.refused.code is Refused.TOO_FEW_DAYS:
            return say.text("Too few days for a verdict")
        return say.text("No report that a level could be taken from")
    if not found.changes:
        return say.text("No change shown in {days}", days=say.things(len(found.days), "day"))
    last = found.changes[-1]
    values = {"since": _since(last, say), "size": _size(last, found, say), "of": last.of}
    if last.whose is Whose.STATION:
        return say.text("{since}: the station {size}", **values)
    if last.whose is Whose.EITHER:
        return say.text("{since}: the station against {of} {size}", **values)
    return say.text("{since}: the station, perhaps {size}", **values)


def change(each: Change, found: Season, *, say: Typography) -> str:
    """A change: since when, how much, against whom, and whose it is.

    'Since 3 November 2026 (between 31 October 2026 and 5 November 2026) the station is 3.1 dB weaker (1.4 to 4.9 dB) than
    against three others heard by the same 24 receivers before. Each of the three shows it.'
    """
    when = _since(each, say)
    if each.first != each.last:
        when += say.text(" (began between {first} and {last})", first=say.day(each.first), last=say.day(each.last))
    text = say.text(
        "{when} the station was {size} ({span}), measured against {against}."
        if each.kind is Kind.SPELL
        else "{when} the station is {size} ({span}), measured against {against}.",
        when=when,
        size=_size(each, found, say),
        span=_span(each, say),
        against=_against(found, say),
    )
    pace = f" {say.text(_PACE[each.pace])}" if each.kind is Kind.STEP else ""
    return f"{text} {_whose(each, say)}{pace}"


def scale(found: Season, say: Typography = PRINT) -> str:
    """What the curve's levels are, for an axis."""
    if not found.used:
        if found.direction == "sent":
            return say.text("level against each receiver's usual [dB]")
        return say.text("level against the usual [dB]")
    if len(found.used) == 1:
        return say.text("level against {control} [dB]", control=found.used[0].name)
    return say.text("level against {number} controls [dB]", number=_number(len(found.used), say))


def numbered(found: Season) -> list[tuple[int, Dated]]:
    """The entries of the log with the numbers that stand for them in pictures."""
    return list(enumerate(found.log, start=1))


def legend(found: Season, *, say: Typography) -> tuple[str, ...]:
    """What a picture of the curve needs said: its marks, then what the numbers of the log stand for."""
    dots = say.text("Dots: days, with the 95{gap}% interval of a single one")
    if found.refused is None:
        dots += say.text("; line: the level before and after") if found.changes else say.text("; line: the level")
    if found.changes:
        dots += say.text("; grey: when the change began, with 95{gap}% probability")
    log = [f"{number}: {say.day(each.day)}, {each.done}" for number, each in numbered(found)]
    return tuple(
        filter(None, [f"{dots}{say.stop}", say.text("Log: {entries}.", entries="; ".join(log)) if log else ""])
    )


def _since(each: Change, say: Typography) -> str:
    if each.until is not None:
        return say.text("From {day} to {until}", day=say.day(each.day), until=say.day(each.until))
    return say.text("Since {day}", day=say.day(each.day))


def _size(each: Change | Dated, found: Season, say: Typography) -> str:
    assert each.size_db is not None
    weaker, size = each.size_db < 0, say.db(abs(each.size_db), 1)
    if found.direction == "heard":
        return say.text("{size} worse at hearing" if weaker else "{size} better at hearing", size=size)
    return say.text("{size} weaker" if weaker else "{size} stronger", size=size)


def _span(each: Change | Dated, say: Typography) -> str:
    """The interval in the direction of the change: '1.4 to 4.9 dB', and with signs where it holds 0."""
    assert each.low_db is not None and each.high_db is not None and each.size_db is not None
    if each.low_db <= 0 <= each.high_db:
        return say.text(
            "95{gap}% interval {low_db} to {high_db}",
            low_db=say.signed(each.low_db),
            high_db=say.db_signed(each.high_db),
        )
    low, high = sorted((abs(each.low_db), abs(each.high_db)))
    return say.text("95{gap}% interval {low} to {high}", low=say.number(low), high=say.db(high, 1))


def _against(found: Season, say: Typography) -> str:
    names = sorted(each.name for each in found.used)
    others = (
        names[0]
        if len(names) == 1
        else say.text("{number} others ({names})", number=_number(len(names), say), names=say.listed(names))
    )
    far = ends(found).fars(found.receivers, say)
    if found.direction == "sent":
        return say.text("{others}, which the same {receivers} heard", others=others, receivers=far)
    return say.text("{others}, which heard the same {transmitters}", others=others, transmitters=far)


_NUMBERS: Final = (
    Phrase("no"), Phrase("one"), Phrase("two"), Phrase("three"), Phrase("four"), Phrase("five"), Phrase("six"),
    Phrase("seven"), Phrase("eight"),
)  # fmt: skip


def _number(n: int, say: Typography) -> str:
    return say.text(_NUMBERS[n])


def _whose(each: Change, say: Typography) -> str:
    yes, no = ([name for name, vote in each.votes.items() if vote is which] for which in (Vote.YES, Vote.NO))
    if each.whose is Whose.EITHER:
        return say.text(
            "It may be {of} that changed, the other way: with one control nobody can tell which of the two.", of=each.of
        )
    if each.whose is Whose.STATION:
        if len(yes) == len(each.votes):
            return say.text("Each of them shows it.")
        return say.plural(
            len(yes),
            "{yes} shows it clearly, {others} of {all} less so.",
            "{yes} show it clearly, {others} of {all} less so.",
            yes=say.listed(yes),
            others=_number(len(each.votes) - len(yes), say),
            all=_number(len(each.votes), say),
        )
    shown = (
        say.plural(len(yes), "{yes} shows it", "{yes} show it", yes=say.listed(yes))
        if yes
        else say.text("none alone shows it clearly")
    )
    against = say.plural(len(no), ", {no} does not", ", {no} do not", no=say.listed(no)) if no else ""
    return say.text(
        "The controls do not agree ({shown}{against}), so whether the station changed is not clear.",
        shown=shown,
        against=against,
    )


def control(each: Control, *, say: Typography) -> str:
    """A control that changed itself: 'EI7QTD changed by +4.1 dB on 12 November 2026 and was left out.'"""
    assert each.changed is not None
    return say.text(
        "{name} itself changed by {size_db} about {day} and was left out.",
        name=each.name,
        size_db=say.db_signed(each.changed.size_db),
        day=say.day(each.changed.day),
    )


def entry(each: Dated, found: Season, *, say: Typography) -> str:
    """A line of the log, with the step on that day."""
    swr = say.text(" (SWR read {swr})", swr=say.plain(each.swr)) if each.swr is not None else ""
    head = say.text("Log, {day}: {done}{swr}", day=say.day(each.day), done=each.done, swr=swr)
    if each.size_db is None:
        if found.refused is not None and found.refused.code is not Refused.TOO_FEW_DAYS:
            return say.text("{head}. Not sized: there is no control.", head=head)
        return say.text(
            "{head}. Not sized: that takes four days with a level on either side, and there are {before} before and "
            "{after} from then on.",
            head=head,
            before=each.before,
            after=each.after,
        )
    either = say.text(", or {name} the other way", name=found.used[0].name) if len(found.used) == 1 else ""
    behind = say.text(
        "{span}; {before} days before, {after} since", span=_span(each, say), before=each.before, after=each.after
    )
    if each.low_db is not None and each.high_db is not None and each.low_db <= 0 <= each.high_db:
        return say.text("{head}. No change shown with it ({behind}).", head=head, behind=behind)
    return say.text(
        "{head}. Since then {size}{either} ({behind}); whatever else happened about that day is in it.",
        head=head,
        size=_size(each, found, say),
        either=either,
        behind=behind,
    )


def attainable(found: Season, *, say: Typography) -> list[str]:
    """What size of step would be seen from now on."""
    if found.attainable is None or found.refused is not None:
        return []
    ahead = found.attainable.after_db
    each = say.listed(
        [say.text("within {days} days if it has {db}", days=days, db=say.db(db, 1)) for days, db in ahead.items()]
    )
    return [say.text("With these controls a step from now on would be seen {cases} {each}.", cases=CASES, each=each)]


def scatter(found: Season, *, say: Typography) -> list[str]:
    """How far one day may be off."""
    if found.sd_db is None or found.refused is not None:
        return []
    return [
        say.text(
            "Single days scatter by {sd_db}, so a day alone says nothing below {twice}.",
            sd_db=say.db(found.sd_db, 1),
            twice=say.db(2 * found.sd_db, 1),
        )
    ]


def refused(code: Said, found: Season, *, say: Typography) -> str:
    """Why there is no verdict, and what to do."""
    values: Mapping[str, Any] = code.values
    if code.code is Refused.TOO_FEW_DAYS:
        return say.text(
            "Too few days for a verdict: {days} with a level, {needed} are needed; come back in {wait}.",
            days=say.things(values["days"], "day"),
            needed=values["needed"],
            wait=say.things(values["come_back"], "day"),
        )
    if code.code is Refused.NO_LEVEL:
        return say.text("No report that a level could be taken from.")
    text = say.text("Without another station as yardstick the band and the antenna cannot be told apart.")
    week = values["week_db"]
    if week is not None:
        usual = say.db(values["usual_db"], 0)
        if not round(week, 1):
            text += say.text(
                " The last week's level is equal to that of the three before; changes up to {usual} (more about the "
                "equinoxes) are usual.",
                usual=usual,
            )
        else:
            text += say.text(
                " The last week's level is {db} above that of the three before; changes up to {usual} (more about the "
                "equinoxes) are usual."
                if week > 0
                else " The last week's level is {db} below that of the three before; changes up to {usual} (more about the "
                "equinoxes) are usual.",
                db=say.db(abs(week), 1),
                usual=usual,
            )
    if values["strong"]:
        text += say.text(" This is more than the band usually does: check the station.")
    return say.text(
        "{text} An export that also holds a station within 200{gap}km, or a friend's export of the same weeks, gives a "
        "verdict: name that station as a control{how}.",
        text=text,
        how=say.how("yardsticks"),
    )


def remark(code: Said, *, say: Typography) -> str:
    """What weakens or explains a season."""
    v: Mapping[str, Any] = code.values
    match code.code:
        case Remark.ONE_CONTROL:
            return say.text("{name} is the only control: three would show which station changed.", name=v["name"])
        case Remark.WIDE:
            return say.text(
                "Days scatter by {sd_db}: only large steps can be seen. Nearer controls help most.",
                sd_db=say.db(v["sd_db"], 1),
            )
        case Remark.FAR:
            return say.text(
                "{name} is {distance_km} away: its band is not yours. Take one within 200{gap}km if you can.",
                name=v["name"],
                distance_km=say.km(v["distance_km"]),
            )
        case Remark.NEAR_LIMIT:
            return say.text(
                "Only {kept} of the pairs lie above the decoding limit: what was lost below it is not seen.",
                kept=say.share(v["kept"]),
            )
        case Remark.SETUPS_MIXED:
            return say.text(
                "{setups} are taken together: a change of which was on when shows as a change of level.",
                setups=say.listed(v["setups"]),
            )
        case Remark.CHOSEN:
            return say.text(
                "Nobody named controls: {names} were taken, heard with the station most often from near by.",
                names=say.listed(v["names"]),
            )
        case Remark.UNUSED:
            return say.text(
                "{name} could not serve: heard together with the station on {days} of its {of} days.",
                name=v["name"],
                days=v["days"],
                of=v["of"],
            )
        case Remark.THIN:
            return say.text(
                "{name} could not serve: heard together with the station on {days} of its days, on none of them often enough "
                "for a level.",
                name=v["name"],
                days=v["days"],
            )
        case Remark.SURPLUS:
            return say.text(
                "{most} controls serve at most, those most often heard together with the station; without {names}.",
                most=v["most"],
                names=say.listed(v["names"]),
            )
        case Remark.LOST_DAYS:
            return say.text(
                "Of the {of} days since the change only {days} have a level: signals were too weak on the others, so it may "
                "be larger than said."
                if v["weaker"]
                else "Of the {of} days before the change only {days} have a level: signals were too weak on the others, so "
                "it may be larger than said.",
                of=v["of"],
                days=v["days"],
            )
    return say.text(
        "The power changed between {low_w} and {high_w}; that was taken off.",
        low_w=say.watt(v["low_w"]),
        high_w=say.watt(v["high_w"]),
    )


def document(found: Season) -> dict[str, Any]:
    """The season as season.json and `reach season --json` hold it: METHOD.md lists the keys."""
    plain = found.to_dict()
    for entry_, each in zip(plain["changes"], found.changes, strict=True):
        entry_["text"] = change(each, found, say=TERMINAL)
    for entry_, dated in zip(plain["log"], found.log, strict=True):
        entry_["text"] = entry(dated, found, say=TERMINAL)
    for entry_, one in zip(plain["remarks"], found.remarks, strict=True):
        entry_["text"] = remark(one, say=TERMINAL)
    if found.refused is not None:
        plain["refused"]["text"] = refused(found.refused, found, say=TERMINAL)
    return {**plain, "sentences": list(everything(found, say=TERMINAL))}


def short(found: Season) -> dict[str, Any]:
    """What summary.json says of it; season.json has the rest."""
    told = document(found)
    kept = ("sd_db", "changes", "refused", "attainable")
    controls = [each["name"] for each in told["controls"] if each["changed"] is None]
    return {"text": told["sentences"][0], "days": len(found.days), "controls": controls} | {k: told[k] for k in kept}


def days(found: Season) -> pd.DataFrame:
    """The curve as a table: day, level_db, low_db, high_db, fitted_db, receivers, log (what was done that day)."""
    done: dict[Any, str] = {}
    for each in found.log:
        done[each.day] = "; ".join(filter(None, [done.get(each.day, ""), each.done]))
    rows = [
        [
            each.day.isoformat(),
            each.level_db,
            each.low_db,
            each.high_db,
            each.fitted_db,
            each.receivers,
            done.get(each.day, ""),
        ]
        for each in found.days
    ]
    table = pd.DataFrame(rows, columns=["day", "level_db", "low_db", "high_db", "fitted_db", "receivers", "log"])
    return table.astype({"fitted_db": float})

"""A season in words: what changed and since when, what would have been seen, on whom it rests, what weakens it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import pandas as pd

from reach.base.words import TERMINAL, Typography, listed
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

CASES: Final = "in 4 of 5 cases"
_PACE: Final = {
    Pace.SUDDEN: "It came at once.",
    Pace.SLOW: "It came little by little rather than at once, so the day says little.",
    Pace.UNCLEAR: "Whether it came at once or little by little cannot be told.",
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
        said.append(SIGNAL_AND_NOISE)
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
        seen = f"; a step of {step} in the middle of them would have been seen {CASES}"
    return f"No change shown in {say.things(len(found.days), 'day')}{seen}."


def title(found: Season, *, say: Typography) -> str:
    """The finding as a title: short, with its size."""
    if found.refused is not None:
        if found.refused.code is Refused.NO_CONTROL:
            return "Without another station as yardstick there is no verdict"
        return refused(found.refused, found, say=say).partition(":")[0].rstrip(".")
    if not found.changes:
        return f"No change shown in {say.things(len(found.days), 'day')}"
    last = found.changes[-1]
    who = {Whose.STATION: "the station", Whose.EITHER: f"the station against {last.of}"}.get(
        last.whose, "the station, perhaps"
    )
    return f"{_since(last, say)}: {who} {_size(last, found, say)}"


def change(each: Change, found: Season, *, say: Typography) -> str:
    """A change: since when, how much, against whom, and whose it is.

    'Since 3 November 2026 (between 31 October 2026 and 5 November 2026) the station is 3.1 dB weaker (1.4 to 4.9 dB) than
    against three others heard by the same 24 receivers before. Each of the three shows it.'
    """
    when = _since(each, say)
    if each.first != each.last:
        when += f" (began between {say.day(each.first)} and {say.day(each.last)})"
    is_was = "was" if each.kind is Kind.SPELL else "is"
    text = f"{when} the station {is_was} {_size(each, found, say)} ({_span(each, say)}), measured against {_against(found, say)}."
    pace = f" {_PACE[each.pace]}" if each.kind is Kind.STEP else ""
    return f"{text} {_whose(each, say)}{pace}"


def scale(found: Season) -> str:
    """What the curve's levels are, for an axis."""
    if not found.used:
        return (
            "level against each receiver's usual [dB]" if found.direction == "sent" else "level against the usual [dB]"
        )
    against = found.used[0].name if len(found.used) == 1 else f"{_number(len(found.used))} controls"
    return f"level against {against} [dB]"


def numbered(found: Season) -> list[tuple[int, Dated]]:
    """The entries of the log with the numbers that stand for them in pictures."""
    return list(enumerate(found.log, start=1))


def legend(found: Season, *, say: Typography) -> tuple[str, ...]:
    """What a picture of the curve needs said: its marks, then what the numbers of the log stand for."""
    dots = "Dots: days, with the 95 % interval of a single one"
    if found.refused is None:
        dots += "; line: the level" + (" before and after" if found.changes else "")
    if found.changes:
        dots += "; grey: when the change began, with 95 % probability"
    log = [f"{number}: {say.day(each.day)}, {each.done}" for number, each in numbered(found)]
    return tuple(filter(None, [f"{dots}.", f"Log: {'; '.join(log)}." if log else ""]))


def _since(each: Change, say: Typography) -> str:
    if each.until is not None:
        return f"From {say.day(each.day)} to {say.day(each.until)}"
    return f"Since {say.day(each.day)}"


def _size(each: Change | Dated, found: Season, say: Typography) -> str:
    assert each.size_db is not None
    way = "weaker" if each.size_db < 0 else "stronger"
    if found.direction == "heard":
        way = "worse at hearing" if each.size_db < 0 else "better at hearing"
    return f"{say.db(abs(each.size_db), 1)} {way}"


def _span(each: Change | Dated, say: Typography) -> str:
    """The interval in the direction of the change: '1.4 to 4.9 dB', and with signs where it holds 0."""
    assert each.low_db is not None and each.high_db is not None and each.size_db is not None
    if each.low_db <= 0 <= each.high_db:
        return f"95 % interval {say.signed(each.low_db)} to {say.db_signed(each.high_db)}"
    low, high = sorted((abs(each.low_db), abs(each.high_db)))
    return f"95 % interval {say.number(low)} to {say.db(high, 1)}"


def _against(found: Season, say: Typography) -> str:
    names = sorted(each.name for each in found.used)
    others = names[0] if len(names) == 1 else f"{_number(len(names))} others ({listed(names)})"
    by = "which the same" if found.direction == "sent" else "which heard the same"
    far = ends(found).fars(found.receivers, say)
    heard = f", {by} {far} heard" if found.direction == "sent" else f", {by} {far}"
    return f"{others}{heard}"


def _number(n: int) -> str:
    return ("no", "one", "two", "three", "four", "five", "six", "seven", "eight")[n]


def _whose(each: Change, say: Typography) -> str:
    yes, no = ([name for name, vote in each.votes.items() if vote is which] for which in (Vote.YES, Vote.NO))
    if each.whose is Whose.EITHER:
        return f"It may be {each.of} that changed, the other way: with one control nobody can tell which of the two."
    if each.whose is Whose.STATION:
        if len(yes) == len(each.votes):
            return "Each of them shows it."
        return f"{listed(yes)} {_show(yes)} it clearly, {_number(len(each.votes) - len(yes))} of {_number(len(each.votes))} less so."
    shown = f"{listed(yes)} {_show(yes)} it" if yes else "none alone shows it clearly"
    against = f", {listed(no)} {'do' if len(no) > 1 else 'does'} not" if no else ""
    return f"The controls do not agree ({shown}{against}), so whether the station changed is not clear."


def _show(names: list[str]) -> str:
    return "show" if len(names) > 1 else "shows"


def control(each: Control, *, say: Typography) -> str:
    """A control that changed itself: 'EI7QTD changed by +4.1 dB on 12 November 2026 and was left out.'"""
    assert each.changed is not None
    return (
        f"{each.name} itself changed by {say.db_signed(each.changed.size_db)} about {say.day(each.changed.day)} and was "
        "left out."
    )


def entry(each: Dated, found: Season, *, say: Typography) -> str:
    """A line of the log, with the step on that day."""
    swr = f" (SWR read {each.swr:g})" if each.swr is not None else ""
    head = f"Log, {say.day(each.day)}: {each.done}{swr}"
    if each.size_db is None:
        if found.refused is not None and found.refused.code is not Refused.TOO_FEW_DAYS:
            return f"{head}. Not sized: there is no control."
        return (
            f"{head}. Not sized: that takes four days with a level on either side, and there are {each.before} before and "
            f"{each.after} from then on."
        )
    either = f", or {found.used[0].name} the other way" if len(found.used) == 1 else ""
    behind = f"{_span(each, say)}; {each.before} days before, {each.after} since"
    if each.low_db is not None and each.high_db is not None and each.low_db <= 0 <= each.high_db:
        return f"{head}. No change shown with it ({behind})."
    return f"{head}. Since then {_size(each, found, say)}{either} ({behind}); whatever else happened about that day is in it."


def attainable(found: Season, *, say: Typography) -> list[str]:
    """What size of step would be seen from now on."""
    if found.attainable is None or found.refused is not None:
        return []
    ahead = found.attainable.after_db
    each = listed([f"within {days} days if it has {say.db(db, 1)}" for days, db in ahead.items()])
    return [f"With these controls a step from now on would be seen {CASES} {each}."]


def scatter(found: Season, *, say: Typography) -> list[str]:
    """How far one day may be off."""
    if found.sd_db is None or found.refused is not None:
        return []
    return [
        f"Single days scatter by {say.db(found.sd_db, 1)}, so a day alone says nothing below {say.db(2 * found.sd_db, 1)}."
    ]


def refused(code: Said, found: Season, *, say: Typography) -> str:
    """Why there is no verdict, and what to do."""
    values: Mapping[str, Any] = code.values
    if code.code is Refused.TOO_FEW_DAYS:
        return (
            f"Too few days for a verdict: {say.things(values['days'], 'day')} with a level, {values['needed']} are needed; come "
            f"back in {say.things(values['come_back'], 'day')}."
        )
    if code.code is Refused.NO_LEVEL:
        return "No report that a level could be taken from."
    text = "Without another station as yardstick the band and the antenna cannot be told apart."
    week = values["week_db"]
    if week is not None:
        usual = say.db(values["usual_db"], 0)
        apart = f"{say.db(abs(week), 1)} {'above' if week > 0 else 'below'}" if round(week, 1) else "equal to"
        text += f" The last week's level is {apart} that of the three before; "
        text += f"changes up to {usual} (more about the equinoxes) are usual."
    if values["strong"]:
        text += " This is more than the band usually does: check the station."
    return (
        f"{text} An export that also holds a station within 200 km, or a friend's export of the same weeks, gives a verdict: name "
        f"it with {say.command('--control')}."
    )


def remark(code: Said, *, say: Typography) -> str:
    """What weakens or explains a season."""
    v: Mapping[str, Any] = code.values
    match code.code:
        case Remark.ONE_CONTROL:
            return f"{v['name']} is the only control: three would show which station changed."
        case Remark.WIDE:
            return f"Days scatter by {say.db(v['sd_db'], 1)}: only large steps can be seen. Nearer controls help most."
        case Remark.FAR:
            return f"{v['name']} is {say.km(v['distance_km'])} away: its band is not yours. Take one within 200 km if you can."
        case Remark.NEAR_LIMIT:
            return f"Only {say.share(v['kept'])} of the pairs lie above the decoding limit: what was lost below it is not seen."
        case Remark.SETUPS_MIXED:
            return (
                f"{listed(v['setups'])} are taken together: a change of which was on when shows as a change of level."
            )
        case Remark.CHOSEN:
            return f"Nobody named controls: {listed(v['names'])} were taken, heard with the station most often from near by."
        case Remark.UNUSED:
            return f"{v['name']} could not serve: heard together with the station on {v['days']} of its {v['of']} days."
        case Remark.LOST_DAYS:
            side = "since the change" if v["weaker"] else "before the change"
            return (
                f"Of the {v['of']} days {side} only {v['days']} have a level: signals were too weak on the others, so it may be "
                "larger than said."
            )
    return f"The power changed between {say.watt(v['low_w'])} and {say.watt(v['high_w'])}; that was taken off."


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

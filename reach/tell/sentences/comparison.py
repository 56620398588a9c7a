"""A comparison in words: effect first, then interval and evidence, the parts that differ, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

from reach.assign.clock import Clock
from reach.assign.powers import REFUSED, Told
from reach.base.tongue import Phrase
from reach.base.words import PRINT, TERMINAL, Typography, digits_for
from reach.compare.comparison import (
    Caution,
    Cell,
    Comparison,
    DesignKind,
    Estimate,
    Gap,
    IntervalFor,
    LeftOut,
    Method,
    NextStep,
    Note,
    Refused,
    Remark,
    Verdict,
)
from reach.spots import RING_EDGES_KM
from reach.tell.sentences import clock as clock_words
from reach.tell.sentences import power as power_words
from reach.tell.sentences.direction import HEARD, SIGNAL_AND_NOISE, ends

AHEAD: Final = {Verdict.A_BETTER: 1, Verdict.B_BETTER: -1}
WIDE_DB: Final = 6.0  # from there on the interval leads: its middle would be taken for what was found
LINE_DB: Final = 0.05  # what cables and matches make, from where on it is said
AS_GOOD_AS_NO_POWER_DB: Final = 0.005
_INTERVAL_FOR: Final = {
    IntervalFor.LIKE: (Phrase("receivers like these"), Phrase("transmitters like these")),
    IntervalFor.THESE: (Phrase("these receivers only"), Phrase("these transmitters only")),
    IntervalFor.DAYS: (Phrase("days like these"), Phrase("days like these")),
}
# Names of parts and verdicts, as the codes have them.
_NAMES: Final = {
    name: Phrase(name)
    for name in (
        Phrase("day"), Phrase("night"), Phrase("twilight"),
        Phrase("a better"), Phrase("b better"), Phrase("no clear difference"), Phrase("cannot tell"),
    )
}  # fmt: skip
_BY_LIGHT: Final = {"day": Phrase("by day"), "night": Phrase("by night"), "twilight": Phrase("in twilight")}


def everything(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """All of it, one sentence (or a few that belong together) an item; the first says the finding."""
    steps = [remark(one, c, say=say) for one in c.next_steps]
    if c.verdict == Verdict.CANNOT_TELL:
        said = [headline(c, say=say), *steps]
    else:
        said = [headline(c, say=say), *power(c, say=say), *noise(c, say=say), *by_band(c, say=say), *parts(c, say=say)]
        said += [*_scope(c, say), *_equal(c, say), *steps]
    said += [*_design(c, say), *clock(c, say=say), *_evidence(c, say), *_checks(c, say), *_heard(c, say)]
    said += [remark(one, c, say=say) for one in (*c.warnings, *c.notes)]
    return (*said, *_left_out(c, say))


def document(c: Comparison) -> dict[str, Any]:
    """The comparison as comparison.json and `reach compare --json` hold it: METHOD.md lists the keys.

    `Comparison.to_dict` with `sentences`, a `text` beside every code, and a `label` for every part.
    """
    plain = c.to_dict()
    for name in ("reasons", "next_steps", "warnings", "notes", "breakdown_left_out"):
        for entry, one in zip(plain[name], getattr(c, name), strict=True):
            entry["text"] = remark(one, c, say=TERMINAL)
    for entry, cell in zip(plain["cells"], c.cells, strict=True):
        entry["label"] = part(cell, say=TERMINAL)
        entry["text"] = band(cell, c, say=TERMINAL) if cell.by == "band" else why_not(cell, c, say=TERMINAL)
    estimates = [*zip(plain["sensitivity"], c.sensitivity, strict=True), (plain["without"], c.without)]
    for entry, each in [*estimates, (plain["control"], c.control)]:
        if each is not None:
            entry["text"], entry["note"] = method(each, c, say=TERMINAL), caveat(each, c, say=TERMINAL)
    for name, told in (("power", c.power), ("clock", c.clock)):
        if told is not None:
            plain[name]["text"] = remark(told, c, say=TERMINAL)
    return {**plain, "sentences": list(everything(c, say=TERMINAL))}


# -- the finding


def headline(c: Comparison, *, say: Typography) -> str:
    """The finding with its interval and what it stands on.

    'vertical was 2.4 dB stronger than wire (95 % interval 1.6 to 3.2 dB; 412 pairs at 61 receivers in 24 blocks).'
    """
    if c.verdict == Verdict.CANNOT_TELL or c.difference_db is None or c.low_db is None or c.high_db is None:
        return say.text("Cannot tell: {reasons}", reasons=" ".join(remark(one, c, say=say) for one in c.reasons))
    sure, found = say.share(c.confidence), _found(c, say)
    if c.verdict not in AHEAD:
        behind = say.text("{share} interval; {found}", share=sure, found=found)
    elif wide(c):
        middle = size(c.difference_db, say=say)
        behind = say.text("{share} interval, its middle {db}{gap}dB; {found}", share=sure, db=middle, found=found)
    else:
        span = _sizes(c.low_db, c.high_db, say)
        behind = say.text("{share} interval {span}{gap}dB; {found}", share=sure, span=span, found=found)
    return f"{short(c, say=say)}{_beside(c, say)} ({behind})."


def _beside(c: Comparison, say: Typography) -> str:
    """What a result with controls rests on: ', measured against EI9QUC'."""
    if c.design is None or c.design.kind != DesignKind.WITH_CONTROL:
        return ""
    named = [name for name in c.controls if name]
    if named:
        return say.text(", measured against {controls}", controls=say.listed(named))
    return say.text(", measured against the control station")


def wide(c: Comparison) -> bool:
    """Whether the interval is so wide that it must lead, and not the estimate."""
    return c.low_db is not None and c.high_db is not None and c.high_db - c.low_db > WIDE_DB


def by_how_much(c: Comparison, *, say: Typography) -> str:
    """'2.4', or where the interval is wide '0.9 to 11.9': decibels by which one was ahead."""
    if c.difference_db is None or c.low_db is None or c.high_db is None:
        return ""
    return _sizes(c.low_db, c.high_db, say) if wide(c) else size(c.difference_db, say=say)


def _sizes(low_db: float, high_db: float, say: Typography) -> str:
    low, high = sorted((abs(low_db), abs(high_db)))
    return say.text("{low} to {high}", low=size(low, say=say), high=size(high, say=say))


def short(c: Comparison, *, say: Typography) -> str:
    """The finding alone, without its evidence and without a full stop: for the title of a picture.

    'vertical was 2.4 dB stronger than wire', 'No clear difference between vertical and wire: 0.9 dB in favour of wire to
    0.6 dB in favour of vertical', 'Cannot tell vertical from wire'.
    """
    if c.verdict == Verdict.CANNOT_TELL or c.difference_db is None or c.low_db is None or c.high_db is None:
        return say.text("Cannot tell {a} from {b}", a=c.a, b=c.b)
    if c.verdict not in AHEAD:
        span = say.text("{low} to {high}", low=_favour(c, c.low_db, say), high=_favour(c, c.high_db, say))
        return say.text("No clear difference between {a} and {b}: {span}", a=c.a, b=c.b, span=span)
    better, worse = (c.a, c.b) if c.verdict == Verdict.A_BETTER else (c.b, c.a)
    if ends(c) is HEARD:
        return say.text(
            "{better} received with {db}{gap}dB more SNR than {worse}",
            better=better,
            db=by_how_much(c, say=say),
            worse=worse,
        )
    return say.text(
        "{better} was {db}{gap}dB stronger than {worse}",
        better=better,
        db=by_how_much(c, say=say),
        worse=worse,
    )


def noise(c: Comparison, *, say: Typography = PRINT) -> tuple[str, ...]:
    """What stands beside the finding of receiving antennas: that more SNR is not the stronger signal; none otherwise."""
    return (say.text(SIGNAL_AND_NOISE),) if ends(c) is HEARD and c.difference_db is not None else ()


def size(value_db: float, *, say: Typography) -> str:
    """How many decibels the one was stronger by: '2.4', '0.04'; never '0.0', which would read as none."""
    return say.number(abs(value_db), digits_for(value_db))


def _favour(c: Comparison, value_db: float, say: Typography) -> str:
    """'0.9 dB in favour of wire'."""
    return say.text("{db}{gap}dB in favour of {setup}", db=size(value_db, say=say), setup=c.a if value_db >= 0 else c.b)


def _found(c: Comparison, say: Typography) -> str:
    fars = ends(c).fars(c.receivers, say)
    if c.interval_for == IntervalFor.DAYS:
        return say.text(
            "{reports} of {transmitters} on {days}" if ends(c) is HEARD else "{reports} at {receivers} on {days}",
            reports=say.things(c.spots, "report"),
            transmitters=fars,
            receivers=fars,
            days=say.things(c.blocks, "day"),
        )
    together = c.design is not None and c.design.kind == DesignKind.SIMULTANEOUS
    stretches = say.things(c.blocks, "slot") if together else say.things(c.blocks, "block")
    return say.text("{pairs} in {blocks}", pairs=_pairs(c.pairs, c.receivers, c, say), blocks=stretches)


def _pairs(pairs: int, receivers: int, c: Comparison, say: Typography) -> str:
    """'412 pairs at 61 receivers', '412 pairs of 61 transmitters'."""
    return say.text(
        "{pairs} of {transmitters}" if ends(c) is HEARD else "{pairs} at {receivers}",
        pairs=say.things(pairs, "pair"),
        receivers=ends(c).fars(receivers, say),
        transmitters=ends(c).fars(receivers, say),
    )


# -- its parts


def part(cell: Cell, *, say: Typography) -> str:
    """A part by name: 'within 1,500 km', '1,500 to 3,000 km', 'beyond 3,000 km', 'ENE', '20m', 'night'."""
    if cell.by not in ("zone", "ring") or cell.start is None or cell.end is None:
        return _named(cell, say)
    if cell.start == 0:
        return say.text("within {end}", end=say.km(cell.end))
    return (
        say.text("beyond {start}", start=say.km(cell.start))
        if cell.end >= RING_EDGES_KM[-1]
        else say.km_span(cell.start, cell.end)
    )


def _named(cell: Cell, say: Typography) -> str:
    """A direction, a band or a time of day by its name."""
    return cell.name if cell.by == "band" else say.text(Phrase(cell.name))


def where(cell: Cell, *, say: Typography) -> str:
    """A part as a sentence needs it: 'towards ENE', 'on 20m', 'by night', 'beyond 3,000 km'."""
    if cell.by == "sector":
        return say.text("towards {point}", point=Phrase(cell.name))
    if cell.by == "band":
        return say.text("on {band}", band=cell.name)
    if cell.by == "day_night":
        return say.text(_BY_LIGHT.get(cell.name, cell.name))
    return part(cell, say=say)


def by_band(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """A verdict for each band, or why there is none; nothing where there was one band only."""
    return tuple(f"{cell.name}: {band(cell, c, say=say)}" for cell in c.cells if cell.by == "band")


def band(cell: Cell, c: Comparison, *, say: Typography) -> str:
    """A band's own verdict.

    'vertical was 2.1 dB stronger (1.2 to 3.0 dB, 295 pairs at 38 receivers)', 'no clear difference, ...', 'cannot tell: ...'
    """
    if cell.difference_db is None or cell.sidak_low_db is None or cell.sidak_high_db is None:
        return say.text("cannot tell: {reason}.", reason=why_not(cell, c, say=say))
    here = replace(
        c, verdict=cell.verdict or c.verdict, difference_db=cell.difference_db, low_db=cell.sidak_low_db,
        high_db=cell.sidak_high_db,
    )  # fmt: skip
    found = _pairs(cell.pairs, cell.receivers, c, say)
    low, high = cell.sidak_low_db, cell.sidak_high_db
    if here.verdict not in AHEAD:
        return say.text(
            "no clear difference, {low} to {high} ({found}).",
            low=_favour(c, low, say),
            high=_favour(c, high, say),
            found=found,
        )
    better = c.a if here.verdict == Verdict.A_BETTER else c.b
    said = say.text(
        "{better} received with {db}{gap}dB more SNR" if ends(c) is HEARD else "{better} was {db}{gap}dB stronger",
        better=better,
        db=by_how_much(here, say=say),
    )
    spread = "" if wide(here) else f"{_sizes(low, high, say)}{say.gap}dB, "
    return f"{said} ({spread}{found})."


def why_not(cell: Cell, c: Comparison, *, say: Typography) -> str:
    """Why a part cannot be told by itself, and how much longer it takes: without a full stop."""
    if cell.reason is None:
        return ""
    short_of = {
        Refused.ONE_UNHEARD: lambda v: say.text(
            "{setup} was never heard there", setup=c.a if v["silent"] == "a" else c.b
        ),
        Refused.TOO_LITTLE: lambda v: _needs(v, c, say),
        Refused.AT_DECODING_LIMIT: lambda v: say.text(
            "nearly all reports lie at the decoding limit or at saturation"
            if v["saturated"]
            else "nearly all reports lie at the decoding limit"
        ),
    }[Refused(cell.reason.code)](cell.reason.values)
    if cell.more_hours is None:
        return short_of
    return say.text(
        "{short_of}; about {longer} more on {band} with both setups in turn should do"
        if cell.by == "band"
        else "{short_of}; about {longer} more should do",
        short_of=short_of,
        longer=_longer(cell.more_hours, say),
        band=cell.name,
    )


def _needs(v: Values, c: Comparison, say: Typography) -> str:
    """'needs 3 receivers (has 1) and 20 pairs (has 4)'. What is there is rounded down, lest it read like what is needed."""
    named = (
        (
            "receivers",
            Phrase("{needed} transmitters (has {has})")
            if ends(c) is HEARD
            else Phrase("{needed} receivers (has {has})"),
            0,
        ),
        ("pairs", Phrase("{needed} pairs (has {has})"), 0),
        ("times", Phrase("{needed} independent stretches of time (has {has})"), 1),
    )
    short = [
        say.text(
            message,
            needed=say.count(v[f"{key}_needed"]),
            has=say.number(math.floor(v[key] * 10**digits) / 10**digits, digits),
        )
        for key, message, digits in named
        if v[key] < v[f"{key}_needed"]
    ]
    return say.text("needs {what}", what=say.listed(short))


def _longer(hours: float, say: Typography) -> str:
    """Rounded up, to ten minutes or half an hour: '20 minutes', '2.5 hours'."""
    if hours <= 1.5:
        return say.text("{minutes} minutes", minutes=say.count(max(10 * math.ceil(hours * 6 - 1e-09), 10)))
    return say.text("{hours} hours", hours=say.plain(math.ceil(2 * hours - 1e-09) / 2))


def parts(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """Which parts differ beyond chance: 'Beyond 3,000 km: 4.1 dB; within 1,500 km: wire by 2.0 dB.'"""
    shown = [cell for cell in c.cells if cell.shown]
    if not shown:
        return ()
    differ = [cell for cell in shown if cell.differs]
    if any(cell.by == "zone" for cell in differ):
        differ = [cell for cell in differ if cell.by != "ring"]  # rings would say the same again, more finely
    if not differ:
        return (
            say.text(
                "No distance, direction, band or time of day differs beyond chance ({parts} looked at).",
                parts=say.things(len(shown), "part"),
            ),
        )
    groups = [[cell for cell in differ if cell.by == by] for by in dict.fromkeys(cell.by for cell in differ)]
    return tuple(_list(c, group, say) for group in groups)


def _list(c: Comparison, group: list[Cell], say: Typography) -> str:
    group = sorted(group, key=lambda cell: -abs(cell.difference_db or 0.0))
    text = "; ".join(f"{where(cell, say=say)}: {_by(c, cell.difference_db or 0.0, say)}" for cell in group)
    return f"{text[0].upper()}{text[1:]}{say.stop}"


def _by(c: Comparison, value_db: float, say: Typography) -> str:
    """'4.1 dB' in favour of the one that was better overall, 'wire by 2.0 dB' otherwise."""
    size = say.db(abs(value_db), 1)
    if value_db * AHEAD.get(c.verdict, 0) > 0:
        return size
    return say.text("{setup} by {db}", setup=c.a if value_db >= 0 else c.b, db=size)


# -- what it stands on


def interval_for(c: Comparison, say: Typography = PRINT) -> str:
    """What the headline's interval speaks of: 'receivers like these'; '' where there is none."""
    if c.interval_for is None:
        return ""
    return say.text(_INTERVAL_FOR[c.interval_for][ends(c) is HEARD])


def _scope(c: Comparison, say: Typography) -> tuple[str, ...]:
    receivers = say.count(c.receivers)
    if c.interval_for == IntervalFor.LIKE and c.these_low_db is not None and c.these_high_db is not None:
        return (
            say.text(
                "The interval speaks of {fars} like these; for just these {receivers} it is {limits} ({a} minus {b}), "
                "{fars} that are surer of theirs counting for more.",
                fars=ends(c).far_many,
                receivers=receivers,
                limits=say.limits(c.these_low_db, c.these_high_db),
                a=c.a,
                b=c.b,
            ),
        )
    if c.interval_for == IntervalFor.THESE:
        return (
            say.text(
                "The interval speaks of just these {receivers} {fars}, not of others.",
                receivers=receivers,
                fars=ends(c).far_many,
            ),
        )
    return ()


def _equal(c: Comparison, say: Typography) -> tuple[str, ...]:
    return (
        (say.text("Equal within {equal_within_db}.", equal_within_db=say.db(c.equal_within_db)),)
        if c.equal_within_db is not None
        else ()
    )


def _design(c: Comparison, say: Typography) -> tuple[str, ...]:
    """The design as it was understood: a reader who did something else knows then that a time or a name is wrong."""
    d = c.design
    if d is None:
        return ()
    on_air = say.text(
        "{hours} hours {on_the_air} on {days}",
        hours=say.number(d.hours),
        on_the_air=ends(c).on_the_air,
        days=say.things(d.days, "day"),
    )
    if d.kind == DesignKind.SIMULTANEOUS:
        return (
            say.text(
                "Design as understood: both at once, {on_air}; {overlap} of the reports have a partner.",
                on_air=on_air,
                overlap=say.share(d.overlap),
            ),
        )
    once = d.stretches_a == d.stretches_b == 1  # a change there was, and no "every"
    every = say.text(", a change every {span}", span=_span(d.period_min, say)) if d.period_min and not once else ""
    turns = ""
    if d.bands is not None and d.stay_min is not None and d.return_min is not None:
        turns = say.text(
            " You went through {bands} bands, {stay} each, so each band was heard every {again}.",
            bands=say.count(d.bands),
            stay=_span(d.stay_min, say),
            again=_span(d.return_min, say),
        )
    return (
        say.text(
            "Design as understood: {stretches} of {a} and {stretches_b} of {b}{every}, {on_air}; {overlap} of the "
            "reports have one of the other setup within {span} of the same transmitter.{turns}"
            if ends(c) is HEARD
            else "Design as understood: {stretches} of {a} and {stretches_b} of {b}{every}, {on_air}; {overlap} of the "
            "reports have one of the other setup within {span} at the same receiver.{turns}",
            stretches=_stretches(d.stretches_a, say),
            a=c.a,
            stretches_b=say.count(d.stretches_b),
            b=c.b,
            every=every,
            on_air=on_air,
            overlap=say.share(d.overlap),
            span=_span(d.within_min, say),
            turns=turns,
        ),
    )


def _stretches(n: int, say: Typography) -> str:
    return say.things(n, "stretch", "stretches")


def _span(minutes: float, say: Typography) -> str:
    if minutes < 119.5:
        return say.text("{minutes} minutes", minutes=say.count(minutes))
    hours = minutes / 60
    return say.text(
        "{hours} hours", hours=say.number(hours, 0 if round(hours, 1) == round(hours) or hours >= 10 else 1)
    )


def about_hours(hours: float, *, say: Typography) -> str:
    """'about 2.5 hours', 'about 40 hours'."""
    return say.text("about {hours} hours", hours=say.number(hours, 1 if hours < 9.95 else 0))


def clock(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """Whether the schedule fits the reports; nothing where there is none, or where that is the reason of a refusal."""
    if c.clock is None or any(reason.code == Refused.CLOCK for reason in c.reasons):
        return ()
    return (remark(c.clock, c, say=say),)


def power(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """Which part of the difference is power; nothing where there is no difference."""
    if c.verdict == Verdict.CANNOT_TELL:
        return ()
    return (*_power_taken(c, say), *_as_installed(c, say))


def _as_installed(c: Comparison, say: Typography) -> tuple[str, ...]:
    """The same with what cables and matches lose, where the headline is without."""
    line_db = (
        0.0 if c.power is None or c.power.values.get("at") != "antenna" else float(c.power.values.get("line_db", 0.0))
    )
    if ends(c) is HEARD or abs(line_db) < LINE_DB or c.difference_db is None or c.low_db is None or c.high_db is None:
        return ()
    return (
        say.text(
            "That is at the antenna, with equal power reaching each. As installed, cables and matches included, it is "
            "{difference_db} ({limits}; {a} minus {b}).",
            difference_db=say.db_signed(c.difference_db + line_db, digits_for(c.difference_db + line_db)),
            limits=say.limits(c.low_db + line_db, c.high_db + line_db),
            a=c.a,
            b=c.b,
        ),
    )


def _power_taken(c: Comparison, say: Typography) -> tuple[str, ...]:
    if ends(c) is HEARD:
        return (say.text("Each pair is of one transmitter, whose power is taken to be the same for both."),)
    if c.power is not None and c.power.code != Told.GIVEN:
        return tuple(filter(None, (remark(c.power, c, say=say),)))
    p = c.power_difference_db
    if p is None:
        return (say.text("Powers at the antennas are not known: the difference is antenna plus power."),)
    if abs(p) < AS_GOOD_AS_NO_POWER_DB:
        return (say.text("No difference in power was taken off; had there been one, it would be part of the result."),)
    return (
        say.text(
            "{db} more power at the antenna of {setup} has been taken off.",
            db=say.db(abs(p), 1),
            setup=c.a if p > 0 else c.b,
        ),
    )


def _evidence(c: Comparison, say: Typography) -> tuple[str, ...]:
    said = []
    if c.effective_receivers is not None and c.effective_times is not None and c.kept is not None:
        said.append(
            say.text(
                "As good as {effective_receivers} equally weighted {fars} and {effective_times} independent stretches "
                "of time; {kept} of the reports lie above the decoding limit common to both.",
                effective_receivers=say.count(c.effective_receivers),
                fars=ends(c).far_many,
                effective_times=say.count(c.effective_times),
                kept=say.share(c.kept),
            )
        )
    if c.naive_difference_db is not None:
        mean = say.db_signed(c.naive_difference_db)
        said.append(say.text("Not corrected: mean report of {a} minus that of {b}, {mean}.", a=c.a, b=c.b, mean=mean))
    return tuple(said)


def method(each: Estimate, c: Comparison, *, say: Typography) -> str:
    """What was done, in a few words. c : the comparison that it belongs to"""
    return _METHODS[each.method](each.values, c, say)


def caveat(each: Estimate, c: Comparison, *, say: Typography = PRINT) -> str:
    """What such an estimate is not; '' where there is nothing to say."""
    return say.text(_CAVEATS[each.method], fars=ends(c).far_many) if each.method in _CAVEATS else ""


def _checks(c: Comparison, say: Typography) -> tuple[str, ...]:
    said = []
    if c.sensitivity:
        each = "; ".join(f"{method(one, c, say=say)} {_estimate(one, say)}" for one in c.sensitivity)
        said.append(say.text("Cross-checks ({a} minus {b}): {each}.", a=c.a, b=c.b, each=each))
    if c.without is not None:
        said.append(
            say.text(
                "{method}: {estimate} ({a} minus {b}).",
                method=method(c.without, c, say=say),
                estimate=_estimate(c.without, say),
                a=c.a,
                b=c.b,
            )
        )
    if c.control is not None:
        said.append(f"{method(c.control, c, say=say)}: {_estimate(c.control, say)}. {caveat(c.control, c, say=say)}")
    return tuple(said)


def _estimate(one: Estimate, say: Typography) -> str:
    value = say.db_signed(one.difference_db)
    if one.low_db is None or one.high_db is None:
        return value
    return f"{value} ({say.limits(one.low_db, one.high_db, unit=False)})"


def _heard(c: Comparison, say: Typography) -> tuple[str, ...]:
    alone = len(c.heard.a_only), len(c.heard.b_only)
    if not any(alone):
        return ()
    return (
        say.text(
            "Transmitters heard with {a} only: {alone_a}; {b} only: {alone_b}; both: {both}. {no_evidence}"
            if ends(c) is HEARD
            else "Receivers that heard {a} only: {alone_a}; {b} only: {alone_b}; both: {both}. {no_evidence}",
            a=c.a,
            alone_a=say.count(alone[0]),
            b=c.b,
            alone_b=say.count(alone[1]),
            both=say.count(len(c.heard.both)),
            no_evidence=NO_EVIDENCE_HEARD if ends(c) is HEARD else NO_EVIDENCE_SENT,
        ),
    )


NO_EVIDENCE_SENT: Final = Phrase("Shown, but no evidence: who listens when is no accident.")
NO_EVIDENCE_HEARD: Final = Phrase("Shown, but no evidence: who transmits when is no accident.")


def who_heard(c: Comparison, say: Typography = PRINT) -> str:
    """What stands before the name of a setup and 'only': 'Receivers that heard', 'Transmitters heard with'."""
    return say.text("Transmitters heard with") if ends(c) is HEARD else say.text("Receivers that heard")


def left_out(why: LeftOut, c: Comparison, say: Typography = PRINT) -> str:
    """Why rows were not looked at: 'outside the schedule'."""
    return say.text(_LEFT_OUT[why], far=ends(c).far)


def _left_out(c: Comparison, say: Typography) -> tuple[str, ...]:
    if not c.left_out:
        return ()
    return (
        say.text(
            "Rows not looked at: {reasons}.",
            reasons="; ".join((f"{left_out(why, c, say)} {say.count(n)}" for why, n in c.left_out.items())),
        ),
    )


# -- codes


def remark(one: Remark, c: Comparison, *, say: Typography) -> str:
    """A reason, a next step, a warning, a note or a gap: one sentence.

    A reason continues 'Cannot tell: ' and a gap stands in a list, so these begin with a small letter.
    """
    return _REMARKS[one.code](one.values, c, say)


Values = Mapping[str, Any]


def _one_unheard(v: Values, c: Comparison, say: Typography) -> str:
    silent, known = (c.a, c.b) if v["silent"] == "a" else (c.b, c.a)
    if ends(c) is HEARD:
        return say.text("something was heard only with {known}, with {silent} never.", known=known, silent=silent)
    return say.text("only {known} was reported, {silent} never.", known=known, silent=silent)


def _heard_alone(v: Values, c: Comparison, say: Typography) -> str:
    more = c.a if v["more"] == "a" else c.b
    if ends(c) is HEARD:
        return say.text(
            "More transmitters were heard only with {more}, against the verdict: look at who they are and when they "
            "transmitted.",
            more=more,
        )
    return say.text(
        "More receivers heard only {more}, against the verdict: look at who they are and when they listened.", more=more
    )


def _nothing(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "the {naive_db} between their mean reports say nothing about the antennas.",
        naive_db=say.db(abs(v["naive_db"]), 1),
    )


def _too_few_stretches(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "{a} was {on_the_air} in {stretches} and {b} in {stretches_2}, and at least {needed} of each are needed; a "
        "band changes by several dB from hour to hour and day to day, so {nothing}",
        a=c.a,
        on_the_air=ends(c).on_the_air,
        stretches=_stretches(v["stretches_a"], say),
        b=c.b,
        stretches_2=_stretches(v["stretches_b"], say),
        needed=say.count(v["needed"]),
        nothing=_nothing(v, c, say),
    )


def _changed_too_slowly(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "{a} and {b} changed places every {span}, more than {slowest_min} minutes apart; a band changes by several dB "
        "in that time, so {nothing}",
        a=c.a,
        b=c.b,
        span=_span(v["period_min"], say),
        slowest_min=say.count(v["slowest_min"]),
        nothing=_nothing(v, c, say),
    )


def _too_little(v: Values, c: Comparison, say: Typography) -> str:
    receivers, pairs, times = v["receivers"], v["pairs"], v["times"]
    lacks = [
        (
            receivers < v["receivers_needed"],
            say.text(
                "pairs of {needed} transmitters are needed and there are {receivers}"
                if ends(c) is HEARD
                else "pairs at {needed} receivers are needed and there are {receivers}",
                needed=say.count(v["receivers_needed"]),
                receivers=say.count(receivers),
            ),
        ),
        (
            pairs < v["pairs_needed"],
            say.text(
                "{pairs_needed} pairs are needed and there are {pairs}",
                pairs_needed=say.count(v["pairs_needed"]),
                pairs=say.count(pairs),
            ),
        ),
        (
            times < v["times_needed"],
            say.text(
                "{times_needed} independent stretches of time are needed and there are {times}",
                times_needed=say.count(v["times_needed"]),
                times=say.number(math.floor(10 * times) / 10),
            ),
        ),
    ]
    return say.text("there is too little to go on: {lacks}.", lacks="; ".join((text for lack, text in lacks if lack)))


def _at_decoding_limit(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "nearly all reports lie at the decoding limit or at saturation: {kept} are strong enough to have been heard with "
        "either setup, and {slope} of every dB presumed comes back as result."
        if v["saturated"]
        else "nearly all reports lie at the decoding limit: {kept} are strong enough to have been heard with either setup, "
        "and {slope} of every dB presumed comes back as result.",
        kept=say.share(v["kept"]),
        slope=say.db(v["slope"], 2),
    )


def _who(v: Values) -> str:
    return f"{v['rx_call']} ({v['square']})"


def _one_receiver(v: Values, c: Comparison, say: Typography) -> str:
    with_it, without = v["verdict"], v["without"]
    return say.text(
        "one {far} carries the result: with {who} it reads {with_it}, without it {without}.",
        far=ends(c).far,
        who=_who(v),
        with_it=repr(say.text(Phrase(with_it))),
        without=repr(say.text(Phrase(without))),
    )


def _go_on(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "Go on alternating: {about_hours} in all should tell {wanted_db} apart with this many {fars}, or less with blocks of "
        "2 to 10 minutes."
        if v["shorter_blocks"]
        else "Go on alternating: {about_hours} in all should tell {wanted_db} apart with this many {fars}.",
        about_hours=about_hours(v["hours"], say=say),
        wanted_db=say.db(v["wanted_db"]),
        fars=ends(c).far_many,
    )


def _fading_differs(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "The setups fade differently ({setup} more deeply, ratio {ratio}): no single number of dB describes the "
        "difference, and this one may be off by half a dB or more.",
        setup=c.b if v["ratio"] < 1 else c.a,
        ratio=say.number(v["ratio"], 2),
    )


def _heavy_receiver(v: Values, c: Comparison, say: Typography) -> str:
    alone = say.text(" Without it there is too little to tell.") if v["too_little_without"] else ""
    return say.text(
        "{who} has {weight} of the weight and {reports} of the reports.{alone}",
        who=_who(v),
        weight=say.share(v["weight"]),
        reports=say.share(v["reports"]),
        alone=alone,
    )


def _control_differs(v: Values, c: Comparison, say: Typography) -> str:
    return say.text(
        "The control station differs by {difference_db} between the times of {a} and {b}, although its setup did not "
        "change: the band may have moved in step with the setups.",
        difference_db=say.db_signed(v["difference_db"]),
        a=c.a,
        b=c.b,
    )


def _days_count(v: Values, c: Comparison, say: Typography) -> str:
    wide, quick = (f"{say.plus_minus}{say.db(v[name], 1)}" for name in ("half_width_db", "quick_db"))
    return say.text(
        "Days are what counts here: {wide} from {days}, where one day of 10-minute blocks with as many {fars} gives "
        "about {quick}.",
        wide=wide,
        days=say.things(v["days"], "day"),
        fars=ends(c).far_many,
        quick=quick,
    )


def _power_told(told: Told, v: Values, c: Comparison, say: Typography) -> str:
    if told in REFUSED:
        return power_words.in_doubt(told, v, c.a, c.b, say=say)
    return power_words.taken_off(told, v, c.a, c.b, say=say)


def _clock_told(code: Clock, v: Values, c: Comparison, say: Typography) -> str:
    return clock_words.sentence(code, v, say=say)


def _no_place(v: Values, c: Comparison, say: Typography) -> str:
    return say.plural(
        v["reports"],
        "{n} report with locators that nothing confirms counts here, but in no distance or direction.",
        "{n} reports with locators that nothing confirms count here, but in no distance or direction.",
    )


_REMARKS: Final[Mapping[str, Callable[[Values, Comparison, Typography], str]]] = {
    Refused.NOBODY_HEARD: lambda v, c, say: (
        say.text("nothing was heard with {a} or {b}.", a=c.a, b=c.b)
        if ends(c) is HEARD
        else say.text("nobody reported {a} or {b}.", a=c.a, b=c.b)
    ),
    Refused.ONE_UNHEARD: _one_unheard,
    Refused.NO_COMMON_BAND: lambda v, c, say: say.text(
        "{a} and {b} were never {on_the_air} on the same band, so {nothing}",
        a=c.a,
        b=c.b,
        on_the_air=ends(c).on_the_air,
        nothing=_nothing(v, c, say),
    ),
    Refused.TOO_FEW_STRETCHES: _too_few_stretches,
    Refused.CHANGED_TOO_SLOWLY: _changed_too_slowly,
    Refused.TOO_LITTLE: _too_little,
    Refused.AT_DECODING_LIMIT: _at_decoding_limit,
    Refused.ONE_RECEIVER: _one_receiver,
    Refused.CLOCK: lambda v, c, say: clock_words.reason(v, say=say),
    Refused.POWER: lambda v, c, say: power_words.in_doubt(Told(v["told"]), v, c.a, c.b, say=say),
    NextStep.ALTERNATE: lambda v, c, say: say.text(
        "Alternate the setups every 2 to 10 minutes for 3 hours or more, by a schedule written beforehand{how}.",
        how=say.how("plan"),
    ),
    NextStep.GO_ON: _go_on,
    NextStep.AT_THIS_PACE: lambda v, c, say: say.text(
        "Go on alternating: at the pace so far it takes {about_hours} in all until there is enough.",
        about_hours=about_hours(v["hours"], say=say),
    ),
    NextStep.LONGER_STRETCHES: lambda v, c, say: (
        say.text(
            "Keep each setup for 5 to 10 minutes on one band, so that a transmitter is heard more than once with it: a report counts "
            "where the other setup has one before and one after it."
        )
        if ends(c) is HEARD
        else say.text(
            "Keep each setup on the air for 5 to 10 minutes on one band, so that a receiver reports it more than once: a report "
            "counts where the other setup has one before and one after it."
        )
    ),
    NextStep.WAIT_FOR_STRONGER: lambda v, c, say: say.text(
        "Compare when the band is more open, so that most reports lie {db} or more above the weakest."
        if ends(c) is HEARD
        else "Compare when the band is more open or with more power for both setups, so that most reports lie {db} or more "
        "above the weakest.",
        db=say.db(6),
    ),
    NextStep.MORE_RECEIVERS: lambda v, c, say: (
        say.text(
            "Go on alternating until more transmitters were heard with both setups; leave out a transmitter next door."
        )
        if ends(c) is HEARD
        else say.text("Go on alternating until more receivers have heard both setups; leave out a receiver next door.")
    ),
    NextStep.FEWER_BANDS: lambda v, c, say: say.text(
        "Go through fewer bands, or stay for less time on each: a band must be heard again within {within}, and with "
        "{bands} bands that took {again}.",
        within=_span(v["within_min"], say),
        bands=say.count(v["bands"]),
        again=_span(v["return_min"], say),
    ),
    NextStep.REVERSE: lambda v, c, say: say.text(
        "Reverse the order on every second visit to a band ({a} first, then {b} first), so that what the band does "
        "within a visit falls on both.",
        a=c.a,
        b=c.b,
    ),
    NextStep.CONTROL: lambda v, c, say: say.text(
        "Where they cannot take turns (a new mast, a moved wire), compare {days} or more of each beside a station "
        "whose setup did not change: name it as a control{control}, by its callsign where its rows are in the same export, else "
        "by an export of its own, and tell the days apart{apart}.",
        days=say.things(v["days_each"], "day"),
        control=say.how("controls"),
        apart=say.how("days"),
    ),
    NextStep.HOURS: lambda v, c, say: say.text(
        "To tell {wanted_db} apart, alternate for {about_hours} in all.",
        wanted_db=say.db(v["wanted_db"]),
        about_hours=about_hours(v["hours"], say=say),
    ),
    NextStep.SETTLE_CLOCK: lambda v, c, say: clock_words.settle(v, say=say),
    NextStep.SETTLE_POWER: lambda v, c, say: say.text(
        "Name the power of each setup in the study{how}{difference}.",
        how=say.how("power"),
        difference=say.way("difference") and f", or give the difference{say.how('difference')}",
    ),
    Caution.NEAR_LIMIT: lambda v, c, say: say.text(
        "Near the decoding limit or saturation: {kept} of the reports could be used; the interval allows for it."
        if v["saturated"]
        else "Near the decoding limit: {kept} of the reports could be used; the interval allows for it.",
        kept=say.share(v["kept"]),
    ),
    Caution.FADING_DIFFERS: _fading_differs,
    Caution.FEW_RECEIVERS: lambda v, c, say: say.text(
        "The weight lies on {receivers} {fars}: the interval speaks of these {fars} only, not of others.",
        receivers=say.number(v["receivers"]),
        fars=ends(c).far_many,
    ),
    Caution.HEAVY_RECEIVER: _heavy_receiver,
    Caution.HEARD_ALONE: _heard_alone,
    Caution.CONTROL_APART: lambda v, c, say: say.text(
        "Beside {name} alone the difference is {difference_db}, which the others do not bear out: it was left out."
        if v["left_out"]
        else "Beside {name} alone the difference is {difference_db}, which the other does not bear out: one of the two "
        "changed.",
        name=v["name"],
        difference_db=say.db_signed(v["difference_db"]),
    ),
    Caution.CONTROL_UNHEARD: lambda v, c, say: say.text(
        "The control station was not heard alongside both setups and says nothing."
    ),
    Caution.CONTROL_TOO_LITTLE: lambda v, c, say: say.text("The control station has too few pairs to say anything."),
    Caution.CONTROL_DIFFERS: _control_differs,
    Caution.DAYS_COUNT: _days_count,
    Note.SATURATED: lambda v, c, say: say.text(
        "Reports above {ceiling_db} are saturated and were not used.", ceiling_db=say.db(v["ceiling_db"])
    ),
    Note.REPEATED: lambda v, c, say: say.text(
        "{share} of the rows repeated a transmitter's report of one transmission; the strongest stayed."
        if ends(c) is HEARD
        else "{share} of the rows repeated a receiver's report of one transmission; the strongest stayed.",
        share=say.share(v["share"]),
    ),
    Note.NO_PLACE: _no_place,
    Note.CONTROL_ASSUMED: lambda v, c, say: say.text(
        "It assumes that the paths from the control station moved as this station's did."
    ),
    Gap.NO_STATION_PLACE: lambda v, c, say: say.text(
        "no station locator (tx_locator), so no breakdown by distance and direction"
    ),
    Gap.NO_STATION_LIGHT: lambda v, c, say: say.text(
        "no station locator (tx_locator), so no breakdown by day and night"
    ),
    Gap.WRONG_LOCATOR: lambda v, c, say: say.text(
        "no breakdown by distance, direction or day and night: {error}", error=v["error"]
    ),
    **{told: partial(_power_told, told) for told in Told},
    **{code: partial(_clock_told, code) for code in Clock},
}

_METHODS: Final[Mapping[str, Callable[[Values, Comparison, Typography], str]]] = {
    Method.SIGNED_RANKS: lambda v, c, say: say.text("every {far} counted once, by signed ranks", far=ends(c).far),
    Method.TIME_BINS: lambda v, c, say: say.text(
        "every stretch of {step_min} minutes counted once, by Student's t", step_min=say.count(v["step_min"])
    ),
    Method.WITHOUT: lambda v, c, say: say.text("Without {who}", who=_who(v)),
    Method.BESIDE_ONE: lambda v, c, say: say.text("beside {name} alone", name=v["name"] or say.text("the control")),
    Method.CONTROL: lambda v, c, say: say.text("Control station, as if it had changed too"),
}
_CAVEATS: Final[Mapping[str, str]] = {
    Method.SIGNED_RANKS: Phrase("its interval ignores the fading that {fars} share and is too narrow"),
    Method.TIME_BINS: Phrase("its interval speaks of these {fars} only"),
    Method.BESIDE_ONE: Phrase("one station's days stand behind it"),
    Method.CONTROL: Phrase("It should be 0, as its setup did not change."),
}
_LEFT_OUT: Final[Mapping[str, str]] = {
    LeftOut.OUTSIDE_SCHEDULE: Phrase("outside the schedule"),
    LeftOut.NO_SETUP: Phrase("no setup known"),
    LeftOut.OTHER_SETUP: Phrase("another setup"),
    LeftOut.INCOMPLETE: Phrase("time, {far}, report or band missing"),
    LeftOut.DUPLICATE: Phrase("duplicates"),
}

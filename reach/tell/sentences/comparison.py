"""A comparison in words: effect first, then interval and evidence, the parts that differ, cautions."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from typing import Any, Final

from reach.assign.clock import Clock
from reach.assign.powers import REFUSED, Told
from reach.base.words import TERMINAL, Typography, digits_for, listed
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
_BY_LIGHT: Final = {"day": "by day", "night": "by night", "twilight": "in twilight"}


def everything(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """All of it, one sentence (or a few that belong together) an item; the first says the finding."""
    steps = [remark(one, c, say=say) for one in c.next_steps]
    if c.verdict == Verdict.CANNOT_TELL:
        said = [headline(c, say=say), *steps]
    else:
        said = [headline(c, say=say), *power(c, say=say), *noise(c), *by_band(c, say=say), *parts(c, say=say)]
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
            entry["text"], entry["note"] = method(each, c, say=TERMINAL), caveat(each, c)
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
        return f"Cannot tell: {' '.join(remark(one, c, say=say) for one in c.reasons)}"
    interval = f"{say.share(c.confidence)} interval"
    if c.verdict in AHEAD and wide(c):
        interval += f", its middle {size(c.difference_db, say=say)}{say.gap}dB"
    elif c.verdict in AHEAD:
        interval += f" {_sizes(c.low_db, c.high_db, say)}{say.gap}dB"
    return f"{short(c, say=say)}{_beside(c)} ({interval}; {_found(c, say)})."


def _beside(c: Comparison) -> str:
    """What a result with controls rests on: ', measured against EI9QUC'."""
    if c.design is None or c.design.kind != DesignKind.WITH_CONTROL:
        return ""
    named = [name for name in c.controls if name]
    return f", measured against {listed(named) if named else 'the control station'}"


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
    return f"{size(low, say=say)} to {size(high, say=say)}"


def short(c: Comparison, *, say: Typography) -> str:
    """The finding alone, without its evidence and without a full stop: for the title of a picture.

    'vertical was 2.4 dB stronger than wire', 'No clear difference between vertical and wire: 0.9 dB in favour of wire to
    0.6 dB in favour of vertical', 'Cannot tell vertical from wire'.
    """
    if c.verdict == Verdict.CANNOT_TELL or c.difference_db is None or c.low_db is None or c.high_db is None:
        return f"Cannot tell {c.a} from {c.b}"
    if c.verdict not in AHEAD:
        span = f"{_favour(c, c.low_db, say)} to {_favour(c, c.high_db, say)}"
        return f"No clear difference between {c.a} and {c.b}: {span}"
    better, worse = (c.a, c.b) if c.verdict == Verdict.A_BETTER else (c.b, c.a)
    if ends(c) is HEARD:
        return f"{better} received with {by_how_much(c, say=say)}{say.gap}dB more SNR than {worse}"
    return f"{better} was {by_how_much(c, say=say)}{say.gap}dB stronger than {worse}"


def noise(c: Comparison) -> tuple[str, ...]:
    """What stands beside the finding of receiving antennas: that more SNR is not the stronger signal; none otherwise."""
    return (SIGNAL_AND_NOISE,) if ends(c) is HEARD and c.difference_db is not None else ()


def size(value_db: float, *, say: Typography) -> str:
    """How many decibels the one was stronger by: '2.4', '0.04'; never '0.0', which would read as none."""
    return say.number(abs(value_db), digits_for(value_db))


def _favour(c: Comparison, value_db: float, say: Typography) -> str:
    """'0.9 dB in favour of wire'."""
    return f"{size(value_db, say=say)}{say.gap}dB in favour of {c.a if value_db >= 0 else c.b}"


def _found(c: Comparison, say: Typography) -> str:
    at = f"{_at(c)} {ends(c).fars(c.receivers, say)}"
    if c.interval_for == IntervalFor.DAYS:
        return f"{say.things(c.spots, 'report')} {at} on {say.things(c.blocks, 'day')}"
    together = c.design is not None and c.design.kind == DesignKind.SIMULTANEOUS
    return f"{say.things(c.pairs, 'pair')} {at} in {say.things(c.blocks, 'slot' if together else 'block')}"


def _at(c: Comparison) -> str:
    """Pairs at a receiver, of a transmitter."""
    return "of" if ends(c) is HEARD else "at"


# -- its parts


def part(cell: Cell, *, say: Typography) -> str:
    """A part by name: 'within 1,500 km', '1,500 to 3,000 km', 'beyond 3,000 km', 'ENE', '20m', 'night'."""
    if cell.by not in ("zone", "ring") or cell.start is None or cell.end is None:
        return cell.name
    if cell.start == 0:
        return f"within {say.km(cell.end)}"
    return f"beyond {say.km(cell.start)}" if cell.end >= RING_EDGES_KM[-1] else say.km_span(cell.start, cell.end)


def where(cell: Cell, *, say: Typography) -> str:
    """A part as a sentence needs it: 'towards ENE', 'on 20m', 'by night', 'beyond 3,000 km'."""
    if cell.by == "sector":
        return f"towards {cell.name}"
    if cell.by == "band":
        return f"on {cell.name}"
    return _BY_LIGHT.get(cell.name, cell.name) if cell.by == "day_night" else part(cell, say=say)


def by_band(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """A verdict for each band, or why there is none; nothing where there was one band only."""
    return tuple(f"{cell.name}: {band(cell, c, say=say)}" for cell in c.cells if cell.by == "band")


def band(cell: Cell, c: Comparison, *, say: Typography) -> str:
    """A band's own verdict.

    'vertical was 2.1 dB stronger (1.2 to 3.0 dB, 295 pairs at 38 receivers)', 'no clear difference, ...', 'cannot tell: ...'
    """
    if cell.difference_db is None or cell.sidak_low_db is None or cell.sidak_high_db is None:
        return f"cannot tell: {why_not(cell, c, say=say)}."
    here = replace(
        c, verdict=cell.verdict or c.verdict, difference_db=cell.difference_db, low_db=cell.sidak_low_db,
        high_db=cell.sidak_high_db,
    )  # fmt: skip
    found = f"{say.things(cell.pairs, 'pair')} {_at(c)} {ends(c).fars(cell.receivers, say)}"
    low, high = cell.sidak_low_db, cell.sidak_high_db
    if here.verdict not in AHEAD:
        return f"no clear difference, {_favour(c, low, say)} to {_favour(c, high, say)} ({found})."
    better = c.a if here.verdict == Verdict.A_BETTER else c.b
    ahead = f"{by_how_much(here, say=say)}{say.gap}dB"
    more = f"received with {ahead} more SNR" if ends(c) is HEARD else f"was {ahead} stronger"
    spread = "" if wide(here) else f"{_sizes(low, high, say)}{say.gap}dB, "
    return f"{better} {more} ({spread}{found})."


def why_not(cell: Cell, c: Comparison, *, say: Typography) -> str:
    """Why a part cannot be told by itself, and how much longer it takes: without a full stop."""
    if cell.reason is None:
        return ""
    short_of = {
        Refused.ONE_UNHEARD: lambda v: f"{c.a if v['silent'] == 'a' else c.b} was never heard there",
        Refused.TOO_LITTLE: lambda v: _needs(v, c, say),
        Refused.AT_DECODING_LIMIT: lambda v: f"nearly all reports lie at {_limits(v, 'or at')}",
    }[Refused(cell.reason.code)](cell.reason.values)
    if cell.more_hours is None:
        return short_of
    both = "" if cell.by != "band" else f" on {cell.name} with both setups in turn"
    return f"{short_of}; about {_longer(cell.more_hours, say)} more{both} should do"


def _needs(v: Values, c: Comparison, say: Typography) -> str:
    """'needs 3 receivers (has 1) and 20 pairs (has 4)'. What is there is rounded down, lest it read like what is needed."""
    named = (("receivers", f"{ends(c).far}s", 0), ("pairs", "pairs", 0), ("times", "independent stretches of time", 1))
    short = [
        f"{say.count(v[f'{key}_needed'])} {name} (has {say.number(math.floor(v[key] * 10**digits) / 10**digits, digits)})"
        for key, name, digits in named
        if v[key] < v[f"{key}_needed"]
    ]
    return f"needs {listed(short)}"


def _longer(hours: float, say: Typography) -> str:
    """Rounded up, to ten minutes or half an hour: '20 minutes', '2.5 hours'."""
    if hours <= 1.5:
        return f"{say.count(max(10 * math.ceil(hours * 6 - 1e-9), 10))} minutes"
    return f"{say.plain(math.ceil(2 * hours - 1e-9) / 2)} hours"


def parts(c: Comparison, *, say: Typography) -> tuple[str, ...]:
    """Which parts differ beyond chance: 'Beyond 3,000 km: 4.1 dB; within 1,500 km: wire by 2.0 dB.'"""
    shown = [cell for cell in c.cells if cell.shown]
    if not shown:
        return ()
    differ = [cell for cell in shown if cell.differs]
    if any(cell.by == "zone" for cell in differ):
        differ = [cell for cell in differ if cell.by != "ring"]  # rings would say the same again, more finely
    if not differ:
        looked = say.things(len(shown), "part")
        return (f"No distance, direction, band or time of day differs beyond chance ({looked} looked at).",)
    groups = [[cell for cell in differ if cell.by == by] for by in dict.fromkeys(cell.by for cell in differ)]
    return tuple(_list(c, group, say) for group in groups)


def _list(c: Comparison, group: list[Cell], say: Typography) -> str:
    group = sorted(group, key=lambda cell: -abs(cell.difference_db or 0.0))
    text = "; ".join(f"{where(cell, say=say)}: {_by(c, cell.difference_db or 0.0, say)}" for cell in group)
    return f"{text[0].upper()}{text[1:]}."


def _by(c: Comparison, value_db: float, say: Typography) -> str:
    """'4.1 dB' in favour of the one that was better overall, 'wire by 2.0 dB' otherwise."""
    size = say.db(abs(value_db), 1)
    if value_db * AHEAD.get(c.verdict, 0) > 0:
        return size
    return f"{c.a if value_db >= 0 else c.b} by {size}"


# -- what it stands on


def interval_for(c: Comparison) -> str:
    """What the headline's interval speaks of: 'receivers like these'; '' where there is none."""
    return "" if c.interval_for is None else str(c.interval_for).replace("receivers", f"{ends(c).far}s")


def _scope(c: Comparison, say: Typography) -> tuple[str, ...]:
    receivers = say.count(c.receivers)
    if c.interval_for == IntervalFor.LIKE and c.these_low_db is not None and c.these_high_db is not None:
        return (
            f"The interval speaks of {ends(c).far}s like these; for just these {receivers} it is "
            f"{say.limits(c.these_low_db, c.these_high_db)} ({c.a} minus {c.b}), {ends(c).far}s that "
            "are surer of theirs counting for more.",
        )
    if c.interval_for == IntervalFor.THESE:
        return (f"The interval speaks of just these {receivers} {ends(c).far}s, not of others.",)
    return ()


def _equal(c: Comparison, say: Typography) -> tuple[str, ...]:
    return (f"Equal within {say.db(c.equal_within_db)}.",) if c.equal_within_db is not None else ()


def _design(c: Comparison, say: Typography) -> tuple[str, ...]:
    """The design as it was understood: a reader who did something else knows then that a time or a name is wrong."""
    d = c.design
    if d is None:
        return ()
    on_air = f"{say.number(d.hours)} hours {ends(c).on_the_air} on {say.things(d.days, 'day')}"
    same = "at the same receiver" if ends(c) is not HEARD else "of the same transmitter"
    if d.kind == DesignKind.SIMULTANEOUS:
        partner = f"{say.share(d.overlap)} of the reports have a partner."
        return (f"Design as understood: both at once, {on_air}; {partner}",)
    every = f", a change every {_span(d.period_min, say)}" if d.period_min is not None else ""
    turns = ""
    if d.bands is not None and d.stay_min is not None and d.return_min is not None:
        turns = (
            f" You went through {say.count(d.bands)} bands, {_span(d.stay_min, say)} each, so each band was heard every "
            f"{_span(d.return_min, say)}."
        )
    return (
        f"Design as understood: {_stretches(d.stretches_a, say)} of {c.a} and {say.count(d.stretches_b)} of {c.b}{every}, "
        f"{on_air}; {say.share(d.overlap)} of the reports have one of the other setup within "
        f"{_span(d.within_min, say)} {same}.{turns}",
    )


def _stretches(n: int, say: Typography) -> str:
    return say.things(n, "stretch", "stretches")


def _span(minutes: float, say: Typography) -> str:
    if minutes < 119.5:
        return f"{say.count(minutes)} minutes"
    hours = minutes / 60
    return f"{say.number(hours, 0 if round(hours, 1) == round(hours) or hours >= 10 else 1)} hours"


def about_hours(hours: float, *, say: Typography) -> str:
    """'about 2.5 hours', 'about 40 hours'."""
    return f"about {say.number(hours, 1 if hours < 9.95 else 0)} hours"


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
        f"That is at the antenna, with equal power reaching each. As installed, cables and matches included, it is "
        f"{say.db_signed(c.difference_db + line_db, digits_for(c.difference_db + line_db))} "
        f"({say.limits(c.low_db + line_db, c.high_db + line_db)}; {c.a} minus {c.b}).",
    )


def _power_taken(c: Comparison, say: Typography) -> tuple[str, ...]:
    if ends(c) is HEARD:
        return ("Each pair is of one transmitter, whose power is taken to be the same for both.",)
    if c.power is not None and c.power.code != Told.GIVEN:
        return tuple(filter(None, (remark(c.power, c, say=say),)))
    p = c.power_difference_db
    if p is None:
        return ("Powers at the antennas are not known: the difference is antenna plus power.",)
    if abs(p) < AS_GOOD_AS_NO_POWER_DB:
        return ("No difference in power was taken off; had there been one, it would be part of the result.",)
    return (f"{say.db(abs(p), 1)} more power at the antenna of {c.a if p > 0 else c.b} has been taken off.",)


def _evidence(c: Comparison, say: Typography) -> tuple[str, ...]:
    said = []
    if c.effective_receivers is not None and c.effective_times is not None and c.kept is not None:
        said.append(
            f"As good as {say.count(c.effective_receivers)} equally weighted {ends(c).far}s and "
            f"{say.count(c.effective_times)} independent stretches of time; {say.share(c.kept)} of the reports lie above the decoding limit common to both."
        )
    if c.naive_difference_db is not None:
        mean = say.db_signed(c.naive_difference_db)
        said.append(f"Not corrected: mean report of {c.a} minus that of {c.b}, {mean}.")
    return tuple(said)


def method(each: Estimate, c: Comparison, *, say: Typography) -> str:
    """What was done, in a few words. c : the comparison that it belongs to"""
    return _METHODS[each.method](each.values, c, say)


def caveat(each: Estimate, c: Comparison) -> str:
    """What such an estimate is not; '' where there is nothing to say."""
    return _CAVEATS.get(each.method, "").format(far=ends(c).far)


def _checks(c: Comparison, say: Typography) -> tuple[str, ...]:
    said = []
    if c.sensitivity:
        each = "; ".join(f"{method(one, c, say=say)} {_estimate(one, say)}" for one in c.sensitivity)
        said.append(f"Cross-checks ({c.a} minus {c.b}): {each}.")
    if c.without is not None:
        said.append(f"{method(c.without, c, say=say)}: {_estimate(c.without, say)} ({c.a} minus {c.b}).")
    if c.control is not None:
        said.append(f"{method(c.control, c, say=say)}: {_estimate(c.control, say)}. {caveat(c.control, c)}")
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
        f"{who_heard(c)} {c.a} only: {say.count(alone[0])}; {c.b} only: {say.count(alone[1])}; both: "
        f"{say.count(len(c.heard.both))}. {NO_EVIDENCE_HEARD if ends(c) is HEARD else NO_EVIDENCE_SENT}",
    )


NO_EVIDENCE_SENT: Final = "Shown, but no evidence: who listens when is no accident."
NO_EVIDENCE_HEARD: Final = "Shown, but no evidence: who transmits when is no accident."


def who_heard(c: Comparison) -> str:
    """What stands before the name of a setup and 'only': 'Receivers that heard', 'Transmitters heard with'."""
    return "Transmitters heard with" if ends(c) is HEARD else "Receivers that heard"


def left_out(why: LeftOut, c: Comparison) -> str:
    """Why rows were not looked at: 'outside the schedule'."""
    return _LEFT_OUT[why].format(far=ends(c).far)


def _left_out(c: Comparison, say: Typography) -> tuple[str, ...]:
    if not c.left_out:
        return ()
    return (f"Rows not looked at: {'; '.join(f'{left_out(why, c)} {say.count(n)}' for why, n in c.left_out.items())}.",)


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
        return f"something was heard only with {known}, with {silent} never."
    return f"only {known} was reported, {silent} never."


def _heard_alone(v: Values, c: Comparison, say: Typography) -> str:
    more = c.a if v["more"] == "a" else c.b
    if ends(c) is HEARD:
        return (
            f"More transmitters were heard only with {more}, against the verdict: look at who they are and when they "
            "transmitted."
        )
    return f"More receivers heard only {more}, against the verdict: look at who they are and when they listened."


def _nothing(v: Values, c: Comparison, say: Typography) -> str:
    return f"the {say.db(abs(v['naive_db']), 1)} between their mean reports say nothing about the antennas."


def _too_few_stretches(v: Values, c: Comparison, say: Typography) -> str:
    return (
        f"{c.a} was {ends(c).on_the_air} in {_stretches(v['stretches_a'], say)} and {c.b} in {_stretches(v['stretches_b'], say)}, and "
        f"at least {say.count(v['needed'])} of each are needed; a band changes by several dB from hour to hour and day to "
        f"day, so {_nothing(v, c, say)}"
    )


def _changed_too_slowly(v: Values, c: Comparison, say: Typography) -> str:
    return (
        f"{c.a} and {c.b} changed places every {_span(v['period_min'], say)}, more than {say.count(v['slowest_min'])} "
        f"minutes apart; a band changes by several dB in that time, so {_nothing(v, c, say)}"
    )


def _too_little(v: Values, c: Comparison, say: Typography) -> str:
    receivers, pairs, times = v["receivers"], v["pairs"], v["times"]
    lacks = [
        (
            receivers < v["receivers_needed"],
            f"pairs {_at(c)} {say.count(v['receivers_needed'])} {ends(c).far}s are needed and there are {say.count(receivers)}",
        ),
        (
            pairs < v["pairs_needed"],
            f"{say.count(v['pairs_needed'])} pairs are needed and there are {say.count(pairs)}",
        ),
        (
            times < v["times_needed"],
            f"{say.count(v['times_needed'])} independent stretches of time are needed and there are {say.number(math.floor(10 * times) / 10)}",
        ),
    ]
    return f"there is too little to go on: {'; '.join(text for lack, text in lacks if lack)}."


def _limits(v: Values, last: str) -> str:
    """What cuts reports off, at the bottom and perhaps at the top."""
    return f"the decoding limit {last} saturation" if v["saturated"] else "the decoding limit"


def _at_decoding_limit(v: Values, c: Comparison, say: Typography) -> str:
    return (
        f"nearly all reports lie at {_limits(v, 'or at')}: {say.share(v['kept'])} are strong enough to have been heard with "
        f"either setup, and {say.db(v['slope'], 2)} of every dB presumed comes back as result."
    )


def _who(v: Values) -> str:
    return f"{v['rx_call']} ({v['square']})"


def _one_receiver(v: Values, c: Comparison, say: Typography) -> str:
    with_it, without = v["verdict"], v["without"]
    return f"one {ends(c).far} carries the result: with {_who(v)} it reads {with_it!r}, without it {without!r}."


def _go_on(v: Values, c: Comparison, say: Typography) -> str:
    quicker = ", or less with blocks of 2 to 10 minutes" if v["shorter_blocks"] else ""
    return (
        f"Go on alternating: {about_hours(v['hours'], say=say)} in all should tell {say.db(v['wanted_db'])} apart with this "
        f"many {ends(c).far}s{quicker}."
    )


def _fading_differs(v: Values, c: Comparison, say: Typography) -> str:
    return (
        f"The setups fade differently ({c.b if v['ratio'] < 1 else c.a} more deeply, ratio {say.number(v['ratio'], 2)}): no "
        "single number of dB describes the difference, and this one may be off by half a dB or more."
    )


def _heavy_receiver(v: Values, c: Comparison, say: Typography) -> str:
    alone = " Without it there is too little to tell." if v["too_little_without"] else ""
    return f"{_who(v)} has {say.share(v['weight'])} of the weight and {say.share(v['reports'])} of the reports.{alone}"


def _control_differs(v: Values, c: Comparison, say: Typography) -> str:
    return (
        f"The control station differs by {say.db_signed(v['difference_db'])} between the times of {c.a} and {c.b}, although "
        "its setup did not change: the band may have moved in step with the setups."
    )


def _days_count(v: Values, c: Comparison, say: Typography) -> str:
    wide, quick = (f"{say.plus_minus}{say.db(v[name], 1)}" for name in ("half_width_db", "quick_db"))
    return (
        f"Days are what counts here: {wide} from {say.things(v['days'], 'day')}, where one day of 10-minute blocks with as "
        f"many {ends(c).far}s gives about {quick}."
    )


def _power_told(told: Told, v: Values, c: Comparison, say: Typography) -> str:
    if told in REFUSED:
        return power_words.in_doubt(told, v, c.a, c.b, say=say)
    return power_words.taken_off(told, v, c.a, c.b, say=say)


def _clock_told(code: Clock, v: Values, c: Comparison, say: Typography) -> str:
    return clock_words.sentence(code, v, say=say)


def _no_place(v: Values, c: Comparison, say: Typography) -> str:
    reports, verb = ("report", "counts") if v["reports"] == 1 else ("reports", "count")
    return (
        f"{say.count(v['reports'])} {reports} with locators that nothing confirms {verb} here, but in no distance or "
        "direction."
    )


_REMARKS: Final[Mapping[str, Callable[[Values, Comparison, Typography], str]]] = {
    Refused.NOBODY_HEARD: lambda v, c, say: (
        f"nothing was heard with {c.a} or {c.b}." if ends(c) is HEARD else f"nobody reported {c.a} or {c.b}."
    ),
    Refused.ONE_UNHEARD: _one_unheard,
    Refused.NO_COMMON_BAND: lambda v, c, say: (
        f"{c.a} and {c.b} were never {ends(c).on_the_air} on the same band, so {_nothing(v, c, say)}"
    ),
    Refused.TOO_FEW_STRETCHES: _too_few_stretches,
    Refused.CHANGED_TOO_SLOWLY: _changed_too_slowly,
    Refused.TOO_LITTLE: _too_little,
    Refused.AT_DECODING_LIMIT: _at_decoding_limit,
    Refused.ONE_RECEIVER: _one_receiver,
    Refused.CLOCK: lambda v, c, say: clock_words.reason(v, say=say),
    Refused.POWER: lambda v, c, say: power_words.in_doubt(Told(v["told"]), v, c.a, c.b, say=say),
    NextStep.ALTERNATE: lambda v, c, say: (
        f"Alternate the setups every 2 to 10 minutes for 3 hours or more; {say.command('reach plan')} writes a schedule to "
        "follow."
    ),
    NextStep.GO_ON: _go_on,
    NextStep.WAIT_FOR_STRONGER: lambda v, c, say: (
        f"Compare when the band is more open{'' if ends(c) is HEARD else ' or with more power for both setups'}, so that "
        f"most reports lie {say.db(6)} or more above the weakest."
    ),
    NextStep.MORE_RECEIVERS: lambda v, c, say: (
        "Go on alternating until more transmitters were heard with both setups; leave out a transmitter next door."
        if ends(c) is HEARD
        else "Go on alternating until more receivers have heard both setups; leave out a receiver next door."
    ),
    NextStep.FEWER_BANDS: lambda v, c, say: (
        f"Go through fewer bands, or stay for less time on each: a band must be heard again within "
        f"{_span(v['within_min'], say)}, and with {say.count(v['bands'])} bands that took {_span(v['return_min'], say)}."
    ),
    NextStep.REVERSE: lambda v, c, say: (
        f"Reverse the order on every second visit to a band ({c.a} first, then {c.b} first), so that what the band does "
        "within a visit falls on both."
    ),
    NextStep.CONTROL: lambda v, c, say: (
        f"Where they cannot take turns (a new mast, a moved wire), compare {say.things(v['days_each'], 'day')} or more of "
        f"each beside a station whose setup did not change: {say.command('--control')} takes its callsign, where "
        f"its rows are in the same export, or a file; {say.command('reach compare --before DAY')} tells the days apart."
    ),
    NextStep.HOURS: lambda v, c, say: (
        f"To tell {say.db(v['wanted_db'])} apart, alternate for {about_hours(v['hours'], say=say)} in all."
    ),
    NextStep.SETTLE_CLOCK: lambda v, c, say: clock_words.settle(v, say=say),
    NextStep.SETTLE_POWER: lambda v, c, say: (
        f"Name the power of each setup in the study ({say.command('power_w')}), or give the difference with "
        f"{say.command('--power-difference-db')}."
    ),
    Caution.NEAR_LIMIT: lambda v, c, say: (
        f"Near {_limits(v, 'or')}: {say.share(v['kept'])} of the reports could be used; the interval allows for it."
    ),
    Caution.FADING_DIFFERS: _fading_differs,
    Caution.FEW_RECEIVERS: lambda v, c, say: (
        f"The weight lies on {say.number(v['receivers'])} {ends(c).far}s: the interval speaks of these {ends(c).far}s only, "
        "not of others."
    ),
    Caution.HEAVY_RECEIVER: _heavy_receiver,
    Caution.HEARD_ALONE: _heard_alone,
    Caution.CONTROL_APART: lambda v, c, say: (
        f"Beside {v['name']} alone the difference is {say.db_signed(v['difference_db'])}, which "
        + (
            "the others do not bear out: it was left out."
            if v["left_out"]
            else "the other does not bear out: one of the two changed."
        )
    ),
    Caution.CONTROL_UNHEARD: lambda v, c, say: (
        "The control station was not heard alongside both setups and says nothing."
    ),
    Caution.CONTROL_TOO_LITTLE: lambda v, c, say: "The control station has too few pairs to say anything.",
    Caution.CONTROL_DIFFERS: _control_differs,
    Caution.DAYS_COUNT: _days_count,
    Note.SATURATED: lambda v, c, say: f"Reports above {say.db(v['ceiling_db'])} are saturated and were not used.",
    Note.REPEATED: lambda v, c, say: (
        f"{say.share(v['share'])} of the rows repeated a {ends(c).far}'s report of one transmission; the strongest stayed."
    ),
    Note.NO_PLACE: _no_place,
    Note.CONTROL_ASSUMED: lambda v, c, say: (
        "It assumes that the paths from the control station moved as this station's did."
    ),
    Gap.NO_STATION_PLACE: lambda v, c, say: (
        "no station locator (tx_locator), so no breakdown by distance and direction"
    ),
    Gap.NO_STATION_LIGHT: lambda v, c, say: "no station locator (tx_locator), so no breakdown by day and night",
    Gap.WRONG_LOCATOR: lambda v, c, say: f"no breakdown by distance, direction or day and night: {v['error']}",
    **{told: partial(_power_told, told) for told in Told},
    **{code: partial(_clock_told, code) for code in Clock},
}

_METHODS: Final[Mapping[str, Callable[[Values, Comparison, Typography], str]]] = {
    Method.SIGNED_RANKS: lambda v, c, say: f"every {ends(c).far} counted once, by signed ranks",
    Method.TIME_BINS: lambda v, c, say: (
        f"every stretch of {say.count(v['step_min'])} minutes counted once, by Student's t"
    ),
    Method.WITHOUT: lambda v, c, say: f"Without {_who(v)}",
    Method.BESIDE_ONE: lambda v, c, say: f"beside {v['name'] or 'the control'} alone",
    Method.CONTROL: lambda v, c, say: "Control station, as if it had changed too",
}
_CAVEATS: Final[Mapping[str, str]] = {
    Method.SIGNED_RANKS: "its interval ignores the fading that {far}s share and is too narrow",
    Method.TIME_BINS: "its interval speaks of these {far}s only",
    Method.BESIDE_ONE: "one station's days stand behind it",
    Method.CONTROL: "It should be 0, as its setup did not change.",
}
_LEFT_OUT: Final[Mapping[str, str]] = {
    LeftOut.OUTSIDE_SCHEDULE: "outside the schedule",
    LeftOut.NO_SETUP: "no setup known",
    LeftOut.OTHER_SETUP: "another setup",
    LeftOut.INCOMPLETE: "time, {far}, report or band missing",
    LeftOut.DUPLICATE: "duplicates",
}

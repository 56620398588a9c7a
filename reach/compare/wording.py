"""A comparison in words: effect first, then interval and evidence, the parts that differ, cautions."""

from __future__ import annotations

from reach.compare.result import (
    A_BETTER,
    B_BETTER,
    CANNOT_TELL,
    DAYS,
    LIKE,
    THESE,
    Cell,
    Comparison,
    Estimate,
)


def sentences(c: Comparison) -> tuple[str, ...]:
    """All of it, one sentence (or a few that belong together) an item; the first says the finding."""
    if c.verdict == CANNOT_TELL:
        said = [headline(c), *c.next_steps]
    else:
        said = [headline(c), *parts(c), *_scope(c), *_equal(c), *c.next_steps]
    said += [_design(c), _power(c), *_evidence(c), *_checks(c), *_heard(c), *c.warnings, *c.notes, *_left_out(c)]
    return tuple(one for one in said if one)


def headline(c: Comparison) -> str:
    """The finding with its interval and what it stands on.

    'vertical was 2.4 dB stronger than wire (95 % interval 1.6 to 3.2 dB; 412 pairs at 61 receivers in 24 blocks).'
    """
    if c.verdict == CANNOT_TELL or c.difference_db is None or c.low_db is None or c.high_db is None:
        return f"Cannot tell: {' '.join(c.reasons)}"
    found = _found(c)
    if c.verdict in (A_BETTER, B_BETTER):
        better, worse = (c.a, c.b) if c.verdict == A_BETTER else (c.b, c.a)
        digits = 1 if abs(c.difference_db) >= 0.1 else 2
        low, high = sorted((abs(c.low_db), abs(c.high_db)))
        return (
            f"{better} was {abs(c.difference_db):.{digits}f} dB stronger than {worse} "
            f"({100 * c.confidence:.0f} % interval {low:.{digits}f} to {high:.{digits}f} dB; {found})."
        )
    return (
        f"No clear difference between {c.a} and {c.b}: {favour(c, c.low_db)} to {favour(c, c.high_db)} "
        f"({100 * c.confidence:.0f} % interval; {found})."
    )


def favour(c: Comparison, value_db: float) -> str:
    """'0.9 dB in favour of wire'."""
    return f"{abs(value_db):.1f} dB in favour of {c.a if value_db >= 0 else c.b}"


def _found(c: Comparison) -> str:
    if c.interval_for == DAYS:
        return f"{_count(c.spots)} reports at {_many(c.receivers, 'receiver')} on {_many(c.blocks, 'day')}"
    where = f"{_many(c.pairs, 'pair')} at {_many(c.receivers, 'receiver')}"
    together = c.design is not None and c.design.kind == "simultaneous"
    return f"{where} in {_many(c.blocks, 'slot' if together else 'block')}"


def parts(c: Comparison) -> tuple[str, ...]:
    """Which parts differ beyond chance: 'Beyond 3,000 km: 4.1 dB; within 1,500 km: wire by 2.0 dB.'"""
    shown = [cell for cell in c.cells if cell.shown]
    if not shown:
        return ()
    differ = [cell for cell in shown if cell.differs]
    if any(cell.by == "zone" for cell in differ):
        differ = [cell for cell in differ if cell.by != "ring"]
    if not differ:
        return (f"No distance, direction, band or time of day differs beyond chance ({len(shown)} parts looked at).",)
    groups = [[cell for cell in differ if cell.by == by] for by in dict.fromkeys(cell.by for cell in differ)]
    return tuple(_list(c, group) for group in groups)


def _list(c: Comparison, group: list[Cell]) -> str:
    group = sorted(group, key=lambda cell: -abs(cell.difference_db or 0.0))
    text = "; ".join(f"{_where(cell)}: {_by(c, cell.difference_db or 0.0)}" for cell in group)
    return f"{text[0].upper()}{text[1:]}."


def _where(cell: Cell) -> str:
    if cell.by == "sector":
        return f"towards {cell.label}"
    if cell.by == "band":
        return f"on {cell.label}"
    if cell.by == "day_night":
        return {"day": "by day", "night": "by night", "twilight": "in twilight"}.get(cell.label, cell.label)
    return cell.label


def _by(c: Comparison, value_db: float) -> str:
    """'4.1 dB' in favour of the one that was better overall, 'wire by 2.0 dB' otherwise."""
    ahead = {A_BETTER: 1, B_BETTER: -1}.get(c.verdict, 0)
    if ahead and value_db * ahead > 0:
        return f"{abs(value_db):.1f} dB"
    return f"{c.a if value_db >= 0 else c.b} by {abs(value_db):.1f} dB"


def _scope(c: Comparison) -> tuple[str, ...]:
    if c.interval_for == LIKE and c.these_low_db is not None and c.these_high_db is not None:
        return (
            f"The interval speaks of receivers like these; for just these {_count(c.receivers)} it is "
            f"{_signed(c.these_low_db)} to {_signed(c.these_high_db)} ({c.a} minus {c.b}), receivers that are surer of "
            "theirs counting for more.",
        )
    if c.interval_for == THESE:
        return (f"The interval speaks of just these {_count(c.receivers)} receivers, not of others.",)
    return ()


def _equal(c: Comparison) -> tuple[str, ...]:
    return (f"Equal within {c.equal_within_db:.0f} dB.",) if c.equal_within_db is not None else ()


def _design(c: Comparison) -> str:
    """The design as it was understood: a reader who did something else knows then that a time or a name is wrong."""
    d = c.design
    if d is None:
        return ""
    span = f"{d.hours:.1f} hours on the air on {_many(d.days, 'day')}"
    if d.kind == "simultaneous":
        return f"Design as understood: both at once, {span}; {100 * d.overlap:.0f} % of the reports have a partner."
    changes = f"{_many(d.stretches_a, 'stretch', 'stretches')} of {c.a} and {_count(d.stretches_b)} of {c.b}"
    every = f", a change every {_span(d.period_min)}" if d.period_min is not None else ""
    return (
        f"Design as understood: {changes}{every}, {span}; {100 * d.overlap:.0f} % of the reports have one of the other "
        f"setup within {_span(d.within_min)} at the same receiver."
    )


def _span(minutes: float) -> str:
    return f"{minutes:.0f} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"


def _power(c: Comparison) -> str:
    if c.verdict == CANNOT_TELL:
        return ""
    p = c.power_difference_db
    if p is None:
        return "Powers at the antennas are not known: the difference is antenna plus power."
    if abs(p) < 0.005:
        return "No difference in power was taken off; had there been one, it would be part of the result."
    more = c.a if p > 0 else c.b
    return f"{abs(p):.1f} dB more power at the antenna of {more} has been taken off."


def _evidence(c: Comparison) -> tuple[str, ...]:
    said = []
    if c.effective_receivers is not None and c.effective_times is not None and c.kept is not None:
        said.append(
            f"As good as {c.effective_receivers:.0f} equally weighted receivers and {c.effective_times:.0f} "
            f"independent stretches of time; {100 * c.kept:.0f} % of the reports lie above the floor common to both."
        )
    if c.naive_difference_db is not None:
        said.append(f"Not corrected: mean report of {c.a} minus that of {c.b}, {_signed(c.naive_difference_db)}.")
    return tuple(said)


def _checks(c: Comparison) -> tuple[str, ...]:
    said = []
    if c.sensitivity:
        each = "; ".join(f"{one.method} {_estimate(one)}" for one in c.sensitivity)
        said.append(f"Cross-checks ({c.a} minus {c.b}): {each}.")
    if c.without is not None:
        said.append(f"{c.without.method}: {_estimate(c.without)} ({c.a} minus {c.b}).")
    if c.control is not None:
        said.append(f"{c.control.method}: {_estimate(c.control)}. {c.control.note}")
    return tuple(said)


def _estimate(one: Estimate) -> str:
    if one.low_db is None or one.high_db is None:
        return _signed(one.difference_db)
    return f"{_signed(one.difference_db)} ({signed(one.low_db)} to {signed(one.high_db)})"


def _heard(c: Comparison) -> tuple[str, ...]:
    alone = len(c.heard.a_only), len(c.heard.b_only)
    if not any(alone):
        return ()
    return (
        f"Receivers that heard {c.a} only: {_count(alone[0])}; {c.b} only: {_count(alone[1])}; both: "
        f"{_count(len(c.heard.both))}. Shown, but no evidence: who listens when is no accident.",
    )


def _left_out(c: Comparison) -> tuple[str, ...]:
    if not c.left_out:
        return ()
    return (f"Rows not looked at: {'; '.join(f'{why} {_count(n)}' for why, n in c.left_out.items())}.",)


def _signed(value_db: float) -> str:
    return f"{signed(value_db)} dB"


def signed(value: float, digits: int = 1) -> str:
    """'+2.4', '-1.0'; what rounds to nothing has no sign: '0.0'."""
    return f"{value:+.{digits}f}" if round(value, digits) else f"{0:.{digits}f}"


def _count(n: int) -> str:
    return f"{n:,}"


def _many(n: int, what: str, more: str | None = None) -> str:
    return f"{n:,} {what}" if n == 1 else f"{n:,} {more or what + 's'}"

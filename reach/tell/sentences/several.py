"""Several setups compared at once, in words: who is best, who cannot be told apart, who cannot be compared, and why."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from reach.base import words
from reach.base.words import TERMINAL, Typography
from reach.compare.comparison import Comparison, cannot_tell
from reach.compare.several import Difference, Edge, Several, Standing
from reach.tell.sentences import comparison
from reach.tell.sentences.direction import HEARD, SIGNAL_AND_NOISE, ends

ADVICE: Final = "Two or three setups at a time, always in the same turn (A-B-C-A-B-C), tell most: each further setup widens every interval."


def everything(s: Several, *, say: Typography) -> tuple[str, ...]:
    """All of it, one sentence (or a few that belong together) an item; the first says the finding."""
    said = [headline(s, say=say)]
    if ends(s) is HEARD and s.differences:
        said.append(SIGNAL_AND_NOISE)
    said += [*apart(s, say=say), *_power(s, say), *misfit(s, say=say), *_evidence(s, say), *_pairs_alone(s, say)]
    return (*said, *_next(s, say))


def document(s: Several) -> dict[str, Any]:
    """As setups.json and `reach compare --json` hold it: `Several.to_dict` with `sentences`, and a `text` beside every reason."""
    plain = s.to_dict()
    for entry, edge in zip(plain["edges"], s.edges, strict=True):
        for name, one in (("reason", edge.reason), ("next_step", edge.next_step)):
            if one is not None:
                entry[name]["text"] = comparison.remark(one, _as_two(edge, s), say=TERMINAL)
    return {**plain, "sentences": list(everything(s, say=TERMINAL))}


def summary(s: Several) -> dict[str, Any]:
    """What summary.json says of it; setups.json has the rest."""
    plain = s.to_dict()
    kept = ("standing", "order", "top", "tied", "unconnected", "differences")
    return {"text": headline(s, say=TERMINAL)} | {name: plain[name] for name in kept}


# --- the finding ------------------------------------------------------------------------------------------------------


def headline(s: Several, *, say: Typography) -> str:
    """The order as far as it can be told, with the interval of the difference that decides it.

    'A was best of 3: 2.1 dB stronger than C (+1.2 to +3.0 dB) and 3.2 dB stronger than B (+2.2 to +4.1 dB); these 95 %
    intervals hold together. B and C cannot be told apart.'
    """
    if s.standing == Standing.CANNOT_TELL:
        return f"Cannot tell {words.listed(s.setups, 'or')} from one another."
    if s.standing == Standing.NONE_SHOWN:
        widest = max((max(-each.low_db, each.high_db) for each in s.differences), default=0.0)
        return (
            f"No difference shown between {words.listed(s.order)}: none of the differences is likely to be more than "
            f"{say.db(widest, 1)}; {_together(s, say)}."
        )
    first = short(s, say=say)
    rest = [f"{words.listed(pair)} cannot be told apart" for pair in s.tied]
    told = f" {'; '.join(rest)}." if rest else ""
    return f"{first}: {_against_top(s, say)}; {_together(s, say)}.{told}"


def short(s: Several, *, say: Typography) -> str:
    """The finding alone, without numbers and full stop: for a title."""
    if s.standing == Standing.CANNOT_TELL:
        return f"Cannot tell {words.listed(s.setups, 'or')} from one another"
    if s.standing == Standing.NONE_SHOWN:
        return f"No difference shown between {words.listed(s.order)}"
    if s.standing == Standing.ONE_BEST:
        return f"{s.top[0]} was best of {len(s.order)}"
    return f"{words.listed(s.top)} cannot be told apart at the top"


def _together(s: Several, say: Typography) -> str:
    return f"these {say.share(s.confidence)} intervals hold together"


def _against_top(s: Several, say: Typography) -> str:
    """What those at the top are above others by: '2.1 dB stronger than C (+1.2 to +3.0 dB)'."""
    below = [each for each in s.differences if each.apart and each.upper in s.top]
    better = "stronger than" if ends(s) is not HEARD else "more SNR than"
    told = []
    for name in s.top:
        mine = [
            f"{say.db(each.difference_db, 1)} {better} {each.lower} ({interval(each, say=say)})"
            for each in below
            if each.upper == name
        ]
        if mine:
            told.append(words.listed(mine) if len(s.top) == 1 else f"{name} was {words.listed(mine)}")
    return "; ".join(told)


def interval(each: Difference, *, say: Typography) -> str:
    """'+1.2 to +3.0 dB', both ends of the interval that holds together with all others."""
    return say.limits(each.low_db, each.high_db)


def apart(s: Several, *, say: Typography) -> tuple[str, ...]:
    """Who cannot be compared with whom, and why; nothing where all could be."""
    refused = [edge for edge in s.edges if edge.reason is not None]
    said = []
    if s.unconnected and s.order:
        said.append(f"{words.listed(s.unconnected)} cannot be compared with {words.listed(s.order)}.")
    for edge in refused:
        assert edge.reason is not None
        said.append(f"{edge.a} and {edge.b} as two: {comparison.remark(edge.reason, _as_two(edge, s), say=say)}")
    return tuple(said)


def _power(s: Several, say: Typography) -> tuple[str, ...]:
    """What was done about the setups' powers; nothing of receiving, where it is the other end's."""
    told = [edge for edge in s.edges if edge.reason is None]
    if ends(s) is HEARD or not told:
        return ()
    known = [(edge, edge.power_difference_db) for edge in told if edge.power_difference_db is not None]
    if len(known) < len(told):
        return ("The power of the setups is not known, or not of all, and the differences are not rid of it.",)
    unlike = [(edge, db) for edge, db in known if abs(db) >= comparison.AS_GOOD_AS_NO_POWER_DB]
    if not unlike:
        return ("All are given the same power.",)
    each = [f"{edge.a} minus {edge.b} {say.db_signed(db)}" for edge, db in unlike]
    return (f"Taken off is what they differ in power: {words.listed(each)}.",)


def misfit(s: Several, *, say: Typography) -> tuple[str, ...]:
    """A warning where differences do not add up; nothing where they do."""
    if not s.misfit:
        return ()
    pairs = [f"{edge.a}-{edge.b} by {say.db(abs(edge.off_db or 0.0), 1)}" for edge in s.misfit]
    far = ends(s).far
    return (
        f"The pairs do not add up ({words.listed(pairs)}): {far}s that hear a weak setup see another difference than the others.",
    )


def _evidence(s: Several, say: Typography) -> tuple[str, ...]:
    if not s.order:
        return ()
    reports = words.listed([f"{say.count(n)} of {name}" for name, n in s.reports.items()])
    return (f"Behind it: {say.things(s.pairs, 'pair')}, {ends(s).fars(s.receivers, say)}; reports: {reports}.",)


def _pairs_alone(s: Several, say: Typography) -> tuple[str, ...]:
    told = [edge for edge in s.edges if edge.difference_db is not None]
    if len(told) < 2:
        return ()
    each = "; ".join(
        f"{e.a} minus {e.b} {say.db_signed(e.difference_db or 0.0)} ({say.limits(e.low_db or 0.0, e.high_db or 0.0)})"
        for e in told
    )
    return (f"Each pair alone: {each}.",)


def _next(s: Several, say: Typography) -> tuple[str, ...]:
    steps = dict.fromkeys(
        comparison.remark(edge.next_step, _as_two(edge, s), say=say) for edge in s.edges if edge.next_step is not None
    )
    return (*list(steps)[:1], ADVICE) if len(s.setups) > 3 or steps else ()


def _as_two(edge: Edge, s: Several) -> Comparison:
    """An edge as the sentences of two setups ask for it: they need the names and the direction."""
    return replace(cannot_tell(edge.a, edge.b), direction=s.direction)

"""Several setups compared at once, in words: who is best, who cannot be told apart, who cannot be compared, and why."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from reach.base.tongue import Phrase
from reach.base.words import TERMINAL, Typography
from reach.compare.comparison import Comparison, cannot_tell
from reach.compare.several import Difference, Edge, Several, Standing
from reach.tell.sentences import comparison
from reach.tell.sentences.direction import HEARD, SIGNAL_AND_NOISE, ends

MOST_ALONE: Final = 3
ADVICE: Final = Phrase(
    "Two or three setups at a time, always in the same turn (A-B-C-A-B-C), tell most: each further setup widens every interval."
)


def everything(s: Several, *, say: Typography) -> tuple[str, ...]:
    """All of it, one sentence (or a few that belong together) an item; the first says the finding."""
    said = [headline(s, say=say)]
    if ends(s) is HEARD and s.differences:
        said.append(say.text(SIGNAL_AND_NOISE))
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
        return say.text("Cannot tell {setups} from one another.", setups=say.listed(s.setups, "or"))
    if s.standing == Standing.NONE_SHOWN:
        widest = max((max(-each.low_db, each.high_db) for each in s.differences), default=0.0)
        return say.text(
            "No difference shown between {order}: none of the differences is likely to be more than {widest}; "
            "{together}.",
            order=say.listed(s.order),
            widest=say.db(widest, 1),
            together=_together(s, say),
        )
    first = short(s, say=say)
    rest = [say.text("{pair} cannot be told apart", pair=say.listed(pair)) for pair in s.alike]
    told = f" {'; '.join(rest)}." if rest else ""
    return f"{first}: {_against_top(s, say)}; {_together(s, say)}.{told}"


def short(s: Several, *, say: Typography) -> str:
    """The finding alone, without numbers and full stop: for a title."""
    if s.standing == Standing.CANNOT_TELL:
        return say.text("Cannot tell {setups} from one another", setups=say.listed(s.setups, "or"))
    if s.standing == Standing.NONE_SHOWN:
        return say.text("No difference shown between {order}", order=say.listed(s.order))
    if s.standing == Standing.ONE_BEST:
        return say.text("{top} was best of {number}", top=s.top[0], number=len(s.order))
    return say.text("{top} cannot be told apart at the top", top=say.listed(s.top))


def _together(s: Several, say: Typography) -> str:
    return say.text("these {confidence} intervals hold together", confidence=say.share(s.confidence))


def _against_top(s: Several, say: Typography) -> str:
    """What those at the top are above others by: '2.1 dB stronger than C (+1.2 to +3.0 dB)'."""
    below = [each for each in s.differences if each.apart and each.upper in s.top]
    than = (
        Phrase("{db} more SNR than {other} ({interval})")
        if ends(s) is HEARD
        else Phrase("{db} stronger than {other} ({interval})")
    )
    told = []
    for name in s.top:
        mine = [
            say.text(than, db=say.db(each.difference_db, 1), other=each.lower, interval=interval(each, say=say))
            for each in below
            if each.upper == name
        ]
        if mine:
            told.append(
                say.listed(mine) if len(s.top) == 1 else say.text("{name} was {mine}", name=name, mine=say.listed(mine))
            )
    return "; ".join(told)


def interval(each: Difference, *, say: Typography) -> str:
    """'+1.2 to +3.0 dB', both ends of the interval that holds together with all others."""
    return say.limits(each.low_db, each.high_db)


def apart(s: Several, *, say: Typography) -> tuple[str, ...]:
    """Who cannot be compared with whom, and why; nothing where all could be."""
    refused = [edge for edge in s.edges if edge.reason is not None]
    said = []
    if s.unconnected and s.order:
        said.append(
            say.text(
                "{unconnected} cannot be compared with {order}.",
                unconnected=say.listed(s.unconnected),
                order=say.listed(s.order),
            )
        )
    for edge in refused:
        assert edge.reason is not None
        said.append(
            say.text(
                "{a} and {b} as two: {remark}",
                a=edge.a,
                b=edge.b,
                remark=comparison.remark(edge.reason, _as_two(edge, s), say=say),
            )
        )
    return tuple(said)


def _power(s: Several, say: Typography) -> tuple[str, ...]:
    """What was done about the setups' powers; nothing of receiving, where it is the other end's."""
    told = [edge for edge in s.edges if edge.reason is None]
    if ends(s) is HEARD or not told:
        return ()
    known = [(edge, edge.power_difference_db) for edge in told if edge.power_difference_db is not None]
    if len(known) < len(told):
        return (
            say.text("The power of the setups is not known, or not of all, and the differences are not rid of it."),
        )
    unlike = [(edge, db) for edge, db in known if abs(db) >= comparison.AS_GOOD_AS_NO_POWER_DB]
    if not unlike:
        return (say.text("All are given the same power."),)
    each = [say.text("{a} minus {b} {db}", a=edge.a, b=edge.b, db=say.db_signed(db)) for edge, db in unlike]
    return (say.text("Taken off is what they differ in power: {each}.", each=say.listed(each)),)


def misfit(s: Several, *, say: Typography) -> tuple[str, ...]:
    """A warning where differences do not add up; nothing where they do."""
    if not s.misfit:
        return ()
    pairs = [
        say.text("{a}-{b} by {db}", a=edge.a, b=edge.b, db=say.db(abs(edge.off_db or 0.0), 1)) for edge in s.misfit
    ]
    return (
        say.text(
            "The pairs do not add up ({pairs}): {fars} that hear a weak setup see another difference than the others.",
            pairs=say.listed(pairs),
            fars=ends(s).far_many,
        ),
    )


def _evidence(s: Several, say: Typography) -> tuple[str, ...]:
    if not s.order:
        return ()
    reports = say.listed([say.text("{n} of {name}", n=say.count(n), name=name) for name, n in s.reports.items()])
    return (
        say.text(
            "Behind it: {pairs}, {fars}; reports: {reports}.",
            pairs=say.things(s.pairs, "pair"),
            fars=ends(s).fars(s.receivers, say),
            reports=reports,
        ),
    )


def _pairs_alone(s: Several, say: Typography) -> tuple[str, ...]:
    """Every two by their own reports; of four setups and more there are too many to be read, and setups.json has them."""
    told = [edge for edge in s.edges if edge.difference_db is not None]
    if not 2 <= len(told) <= MOST_ALONE:
        return ()
    each = "; ".join(
        say.text(
            "{a} minus {b} {db} ({limits})",
            a=e.a,
            b=e.b,
            db=say.db_signed(e.difference_db or 0.0),
            limits=say.limits(e.low_db or 0.0, e.high_db or 0.0),
        )
        for e in told
    )
    return (say.text("Each pair alone: {each}.", each=each),)


def _next(s: Several, say: Typography) -> tuple[str, ...]:
    steps = dict.fromkeys(
        comparison.remark(edge.next_step, _as_two(edge, s), say=say) for edge in s.edges if edge.next_step is not None
    )
    return (*list(steps)[:1], say.text(ADVICE)) if len(s.setups) > 3 or steps else ()


def _as_two(edge: Edge, s: Several) -> Comparison:
    """An edge as the sentences of two setups ask for it: they need the names and the direction."""
    return replace(cannot_tell(edge.a, edge.b, (0, 0), {}), direction=s.direction)

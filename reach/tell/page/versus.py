"""The comparison section as plain values: finding, breakdown as bars, what stands behind it, refusals."""

from __future__ import annotations

import math
from typing import Any, Final

import pandas as pd

from reach.base import words
from reach.base.tongue import Phrase
from reach.compare.comparison import BREAKDOWNS, Cell, Comparison, Estimate, Remark
from reach.findings import Findings
from reach.tell.sentences import comparison as sentences
from reach.tell.sentences import several as several_words
from reach.tell.sentences.direction import HEARD, ends

TITLES: Final = {
    "zone": Phrase("By distance zone"),
    "ring": Phrase("By distance ring"),
    "sector": Phrase("By direction"),
    "band": Phrase("By band"),
    "day_night": Phrase("By day and night"),
}
LEAST_DB: Final = 3.0  # how far the bars' scale reaches to either side, at least and at most
MOST_DB: Final = 20.0
MOST_RECEIVERS: Final = 250  # that are drawn, those with most weight first; comparison.json has all


def section(findings: Findings) -> dict[str, Any] | None:
    """What the section shows; None where nothing was compared."""
    found = findings.comparison
    if found is None:
        return None
    limit = scale_db(found)
    return {
        "a": found.a,
        "b": found.b,
        "finding": sentences.headline(found, say=words.PRINT),
        "parts": [
            *sentences.noise(found),
            *sentences.by_band(found, say=words.PRINT),
            *sentences.parts(found, say=words.PRINT),
        ],
        "sentences": sentences.everything(found, say=words.PRINT),
        "numbers": _numbers(found),
        "limit": limit,
        "axis": axis(limit),
        "breakdowns": [
            {"title": TITLES[by], "rows": [_row(cell, found, limit) for cell in found.cells if cell.by == by]}
            for by in BREAKDOWNS
            if any(cell.by == by for cell in found.cells)
        ],
        "checks": [
            _check(each, found) for each in (*found.sensitivity, found.without, found.control) if each is not None
        ],
        "heard": _heard(found),
        "who_heard": sentences.who_heard(found),
        "better": ends(found).better,
        "lists": _lists(found),
    }


def several(findings: Findings) -> dict[str, Any] | None:
    """What the section shows of three setups or more; None where no more than two were compared."""
    found = findings.several
    if found is None:
        return None
    first, *more = several_words.everything(found, say=words.PRINT)
    ends_db = [abs(end) for each in found.differences for end in (each.low_db, each.high_db)]
    limit = float(math.ceil(min(max([LEAST_DB, *ends_db]), MOST_DB)))
    rows = [
        {
            "upper": each.upper,
            "lower": each.lower,
            "value": words.db_signed(each.difference_db),
            "interval": several_words.interval(each, say=words.PRINT),
            "alone": _range(each.alone_low_db, each.alone_high_db),
            "apart": words.text("apart") if each.apart else words.text("cannot be told apart"),
            "at": percent_across(each.difference_db, limit),
            "from": percent_across(each.low_db, limit),
            "to": percent_across(each.high_db, limit),
            "sign": "a" if each.apart else "none",
        }
        for each in found.differences
    ]
    return {"finding": first, "sentences": more, "rows": rows, "limit": limit}


def _lists(found: Comparison) -> list[tuple[str, list[str]]]:
    """Titles and what stands below each; none that is empty."""

    def said(remarks: tuple[Remark, ...]) -> list[str]:
        return [sentences.remark(one, found, say=words.PRINT) for one in remarks]

    left_out = [
        f"{sentences.left_out(why, found, words.PRINT)}: {words.things(rows, 'row')}"
        for why, rows in found.left_out.items()
    ]
    lists = [
        (words.text("Why it cannot be told"), said(found.reasons)),
        (words.text("What to do next"), said(found.next_steps)),
        (words.text("What weakens the result"), said(found.warnings)),
        (words.text("Parts that cannot be told apart"), said(found.breakdown_left_out)),
        (words.text("What was left out"), left_out),
        (words.text("What was done with the data"), said(found.notes)),
    ]
    return [(title, texts) for title, texts in lists if texts]


def scale_db(found: Comparison) -> float:
    """How far the bars' scale reaches to either side, a whole number of dB."""
    ends = [end for cell in found.cells if cell.shown for end in (cell.low_db, cell.high_db) if end is not None]
    ends += [end for end in (found.low_db, found.high_db) if end is not None]
    return float(math.ceil(min(max([LEAST_DB, *(abs(end) for end in ends)]), MOST_DB)))


def drawn(findings: Findings) -> dict[str, Any] | None:
    """What the script draws: differences by receiver against distance, and by stretch of time.

    A receiver whose locator is not corroborated has no distance.
    """
    found = findings.comparison
    if found is None or found.difference_db is None:
        return None
    with_pairs = [each for each in found.by_receiver if each.difference_db is not None]
    return {
        "a": found.a,
        "b": found.b,
        "receivers_in_all": len(with_pairs),
        "difference": found.difference_db,
        "low": found.low_db,
        "high": found.high_db,
        "receivers": [
            [each.rx_call, each.rx_locator, _number(each.distance_km if each.placed else None), each.pairs,
             _number(each.weight, 5), _number(each.difference_db), _number(each.low_db), _number(each.high_db)]
            for each in with_pairs[:MOST_RECEIVERS]
        ],
        "blocks": [
            [_milliseconds(each.start_utc), _milliseconds(each.end_utc), each.setup, each.reports, each.pairs,
             _number(each.difference_db), _number(each.low_db), _number(each.high_db)]
            for each in found.by_block
        ],
    }  # fmt: skip


def _numbers(found: Comparison) -> list[tuple[str, str, str]]:
    """Name, value and a word on each number behind the finding."""
    rows = [
        (words.text("{a} less {b}", a=found.a, b=found.b), _difference(found.difference_db, found.low_db, found.high_db),
         sentences.interval_for(found)),
        (words.text("For these {fars} only", fars=ends(found).far_many), _range(found.these_low_db, found.these_high_db), ""),
        (words.text("Evidence"), words.things(found.pairs, "pair") if found.pairs else "", _evidence(found)),
        (words.text("Power taken off"), _signed(found.power_difference_db) or words.text("not known"), _power(found))
        if ends(found) is not HEARD else ("", "", ""),
        (words.text("Means of all reports"), _signed(found.naive_difference_db), words.text("not corrected for anything; shown as a warning")),
        (words.text("Near the decoding limit"), _percent(found.near_limit), words.text("of the reports")),
        (words.text("A single look at the band"), _range(found.pair_low_db, found.pair_high_db), words.text("where 95{gap}% of single pairs lie")),
    ]  # fmt: skip
    return [(name, value, note or "") for name, value, note in rows if value]


def _evidence(found: Comparison) -> str:
    way = ends(found)
    receivers, blocks = way.fars(found.receivers, words.PRINT), words.things(found.blocks, "block")
    if way is HEARD:
        where = words.text("of {transmitters} in {blocks}", transmitters=receivers, blocks=blocks)
    else:
        where = words.text("at {receivers} in {blocks}", receivers=receivers, blocks=blocks)
    if found.effective_receivers is None or found.effective_times is None:
        return where
    return words.text(
        "{where}; worth {receivers} {fars} and {times} stretches of time of equal weight",
        where=where,
        receivers=words.number(found.effective_receivers),
        fars=way.far_many,
        times=words.number(found.effective_times),
    )


def _power(found: Comparison) -> str:
    if found.power_difference_db is None:
        return words.text("so the difference is that of antenna and power together")
    at = "antenna" if found.power is None else found.power.values.get("at", "antenna")
    return words.text(
        "power at the antenna of {a} less that of {b}"
        if at == "antenna"
        else "power at the radio of {a} less that of {b}",
        a=found.a,
        b=found.b,
    )


def _row(cell: Cell, found: Comparison, limit_db: float) -> dict[str, Any]:
    if not cell.shown or cell.difference_db is None or cell.low_db is None or cell.high_db is None:
        return {
            "label": sentences.part(cell, say=words.PRINT),
            "receivers": cell.receivers,
            "pairs": cell.pairs,
            "shown": False,
            "why": sentences.why_not(cell, found, say=words.PRINT),
        }
    low, high = cell.low_db, cell.high_db
    return {
        "label": sentences.part(cell, say=words.PRINT),
        "receivers": cell.receivers,
        "pairs": cell.pairs,
        "shown": True,
        "value": words.db_signed(cell.difference_db),
        "interval": _range(low, high),
        "all_cells": _range(cell.sidak_low_db, cell.sidak_high_db),
        "differs": words.text("differs from the rest") if cell.differs else "",
        "at": percent_across(cell.difference_db, limit_db),
        "from": percent_across(low, limit_db),
        "to": percent_across(high, limit_db),
        "beyond": [at for at, is_beyond in (("low", low < -limit_db), ("high", high > limit_db)) if is_beyond],
        "sign": "a" if low > 0 else "b" if high < 0 else "none",
    }


def axis(limit_db: float) -> list[dict[str, str]]:
    """Ticks of the bars' scale, in whole dB and as many to either side: where, and what stands there."""
    step = next(step for step in (1, 2, 5, 10) if limit_db / step <= 3)
    ticks = range(-int(limit_db // step) * step, int(limit_db) + 1, step)
    return [{"at": percent_across(tick, limit_db), "text": words.signed(tick, 0)} for tick in ticks]


def percent_across(value_db: float, limit_db: float) -> str:
    """Where a difference lies on a bar whose middle is 0 dB, in per cent; beyond the scale at its end."""
    share = 50 + 50 * max(-1.0, min(1.0, value_db / limit_db))
    return f"{share:.2f}%"


def _check(each: Estimate, found: Comparison) -> dict[str, str]:
    return {
        "method": sentences.method(each, found, say=words.PRINT),
        "value": _difference(each.difference_db, each.low_db, each.high_db),
        "note": sentences.caveat(each, found),
    }


def _heard(found: Comparison) -> list[tuple[str, str]]:
    return [
        (words.text("{setup} only", setup=found.a), words.count(len(found.heard.a_only))),
        (words.text("{setup} only", setup=found.b), words.count(len(found.heard.b_only))),
        (words.text("both"), words.count(len(found.heard.both))),
    ]


def _difference(value: float | None, low: float | None, high: float | None) -> str:
    if value is None:
        return ""
    spread = _range(low, high)
    return f"{words.db_signed(value)} ({spread})" if spread else words.db_signed(value)


def _range(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return ""
    return words.PRINT.limits(low, high)


def _signed(value: float | None) -> str:
    return "" if value is None else words.db_signed(value)


def _percent(share: float | None) -> str:
    return "" if share is None else words.share(share, 1.0)


def _number(value: float | None, digits: int = 2) -> float | None:
    return None if value is None or math.isnan(value) else round(float(value), digits)


def _milliseconds(moment: str) -> int:
    return int(pd.Timestamp(moment).timestamp() * 1000)

"""What is wrong with rows, in words: each rule of `vet.ledger.RULES` has one sentence here.

Lists, files, the page and the terminal all take their explanation from this module.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any, Final, NamedTuple

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from reach.base import bands, grammar
from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography, quoted
from reach.spots import PROBLEMS
from reach.suspects import find
from reach.tell.sentences import suspects
from reach.tell.sentences.direction import HEARD, SENT, Ends
from reach.vet import cells, duplicates
from reach.vet.ledger import EARLIEST, LOCATOR_RULES, REJECTED, RULES

# spots.PROBLEMS as it is shown and written: with the sentence in place of the values that it is made of.
WRITTEN: Final = {
    "source": ("str", "the file"),
    "line": ("int64", "the line in that file"),
    "callsign": ("str", "as in the file"),
    "locator": ("str", "as in the file"),
    "rule": ("str", "a short stable code, such as locator-letter-for-digit"),
    "severity": ("str", "rejected, suspect or note"),
    "explanation": ("str", "one sentence: what came, what was wanted"),
    "suggestion": ("str", "the obvious repair, empty where there is none; never applied unasked"),
}

_TRANSMITTER: Final = "tx-"
_DIGITS: Final = re.compile(r"[\d.]+", re.ASCII)
_SAME: Final = ("rule", "severity", "value", "other", "detail", "suggestion")  # of these the sentence is made, mostly


class _Said(NamedTuple):
    """What one sentence is made of: columns of spots.PROBLEMS."""

    rule: str
    severity: str
    value: str
    other: str
    detail: str
    suggestion: str


def written(problems: pd.DataFrame, *, say: Typography, way: Ends = SENT) -> pd.DataFrame:
    """Problems as a table for people.

    problems : spots.PROBLEMS, n rows
    way : who heard whom: what the rows call a transmitter's is the station's own where it heard
    Returns WRITTEN, n rows in the same order.
    """
    return problems.assign(explanation=explanations(problems, say=say, way=way))[list(WRITTEN)]


def explanations(problems: pd.DataFrame, *, say: Typography, way: Ends = SENT) -> pd.Series:
    """One sentence for each problem: what came, what was wanted.

    problems : spots.PROBLEMS, n rows; ValueError where a rule is not in vet.ledger.RULES
    Returns a Series of dtype str with the index of the table.
    """
    rule = problems["rule"].to_numpy(dtype=object)
    repeated = np.isin(rule, [duplicates.SAME, duplicates.CONFLICT])
    doubted = problems["evidence"].notna().to_numpy()
    # Three ways, each as dear as it has to be: duplicates may be many and hardly two are alike, so they are put together by
    # column; the rest has few distinct texts, and a suspect's rows share one sentence.
    said = [pa.array([], pa.large_string())]
    order = []
    for rows, sentences in (
        (np.flatnonzero(repeated), _of_duplicates),
        (np.flatnonzero(doubted & ~repeated), _of_suspects),
        (np.flatnonzero(~doubted & ~repeated), partial(_of_cells, way=way)),
    ):
        if len(rows):
            said.append(sentences(problems.take(rows), say))
            order.append(rows)
    back = np.argsort(np.concatenate(order)) if order else np.empty(0, dtype=np.int64)
    texts = pa.concat_arrays(said).take(pa.array(back))
    return pd.Series(pd.array(texts, dtype="str"), index=problems.index, name="explanation")


def explanation(problem: Mapping[Any, Any], *, say: Typography) -> str:
    """The sentence of one problem.

    problem : a row of spots.PROBLEMS by column, such as one of `problems.to_dict("records")`
    """
    return str(explanations(pd.DataFrame([dict(problem)])[list(PROBLEMS)], say=say).iloc[0])


def _of_cells(problems: pd.DataFrame, say: Typography, way: Ends) -> pa.LargeStringArray:
    """Sentences of rules about cells, from their distinct values."""
    which = problems.groupby(list(_SAME), sort=False).ngroup().to_numpy()
    distinct = problems[list(_SAME)].drop_duplicates()
    texts = [_sentence(_Said(*row), say, way) for row in distinct.itertuples(index=False)]
    return pa.array(texts, pa.large_string()).take(pa.array(which))


def _of_suspects(problems: pd.DataFrame, say: Typography) -> pa.LargeStringArray:
    """Sentences of suspects and of receivers that moved, one for each callsign and locator."""
    key = ["callsign", "locator"]
    which = problems.groupby(key, sort=False).ngroup().to_numpy()
    distinct = problems.drop_duplicates(key)
    rows = zip(*(distinct[name].to_numpy(object) for name in (*key, "value", "evidence", "rule")), strict=True)
    texts = (
        suspects.against(call, locator, country, evidence, moved=rule == find.MOVED_RULE, say=say)
        for call, locator, country, evidence, rule in rows
    )
    return pa.array(texts, pa.large_string(), size=len(distinct)).take(pa.array(which))


def _of_duplicates(problems: pd.DataFrame, say: Typography) -> pa.LargeStringArray:
    """Which row is kept instead, and how the two differ."""
    line, source = (
        pc.cast(pa.array(problems["kept_line"].to_numpy()), pa.large_string()),
        _column(problems, "kept_source"),
    )
    this, other = (
        _joined(pc.replace_substring(_column(problems, name), "-", say.minus), f"{say.gap}dB")
        for name in ("value", "other")
    )
    values = {"line": line, "source": source, "this": this, "other": other}
    conflict = pc.equal(_column(problems, "rule"), duplicates.CONFLICT)
    same = _filled(Phrase("Line {line} reports the same reception and is kept."), say, values)
    same_elsewhere = _filled(Phrase("Line {line} of {source} reports the same reception and is kept."), say, values)
    unlike = _filled(
        Phrase("Line {line} reports the same reception with {other} and is kept; this row says {this}."), say, values
    )
    unlike_elsewhere = _filled(
        Phrase("Line {line} of {source} reports the same reception with {other} and is kept; this row says {this}."),
        say,
        values,
    )
    here = pc.equal(source, "")
    return pc.if_else(conflict, pc.if_else(here, unlike, unlike_elsewhere), pc.if_else(here, same, same_elsewhere))


def _filled(message: Phrase, say: Typography, values: Mapping[str, pa.Array]) -> pa.LargeStringArray:
    """A message with columns put in row by row: as `Typography.text` does it, in the medium's tongue."""
    names = {name: f"\0{name}\0" for name in values}
    parts = say.text(message, **names).split("\0")
    return _joined(*(values.get(part, part) if k % 2 else part for k, part in enumerate(parts)))


def _column(problems: pd.DataFrame, name: str) -> pa.LargeStringArray:
    column = pa.array(problems[name].array, pa.large_string())
    return column.combine_chunks() if isinstance(column, pa.ChunkedArray) else column


def _joined(*parts: str | pa.Array) -> pa.LargeStringArray:
    """Texts put together row by row."""
    whole = pa.large_string()
    typed = [pa.scalar(part, whole) if isinstance(part, str) else pc.cast(part, whole) for part in parts]
    return pc.binary_join_element_wise(*typed, pa.scalar("", whole))


def _sentence(said: _Said, say: Typography, way: Ends) -> str:
    """The sentence of a rule about cells; of the transmitter's the same with a word in front."""
    bare = said.rule.removeprefix(_TRANSMITTER)
    if said.rule not in RULES or not (bare in _SENTENCES or bare in LOCATOR_RULES):
        raise ValueError(f"{said.rule!r} is no rule about cells; vet.ledger.RULES has those that there are")
    sentence = _SENTENCES[bare](said, say) if bare in _SENTENCES else _locator(said, say)
    if said.rule == bare:
        return sentence
    return say.text("Station: {sentence}" if way is HEARD else "Transmitter: {sentence}", sentence=sentence)


_NAMES: Final = {
    "time-blank": Phrase("time blank"),
    "time-unreadable": Phrase("time unreadable"),
    "time-impossible": Phrase("time impossible"),
    "time-too-early": Phrase("time too early"),
    "callsign-blank": Phrase("callsign blank"),
    "callsign-unreadable": Phrase("callsign unreadable"),
    "callsign-too-long": Phrase("callsign too long"),
    "locator-blank": Phrase("locator blank"),
    "locator-too-short": Phrase("locator too short"),
    "locator-too-long": Phrase("locator too long"),
    "band-blank": Phrase("band blank"),
    "band-unreadable": Phrase("band unreadable"),
    "frequency-unreadable": Phrase("frequency unreadable"),
    "power-unreadable": Phrase("power unreadable"),
    "duplicate": Phrase("duplicate"),
    "receiver-moved": Phrase("receiver moved"),
    "row-length": Phrase("too few or too many cells"),
    "row-quote": Phrase("a quote never closed"),
    "row-blank": Phrase("blank row"),
    "row-header": Phrase("the header again"),
    "row-total": Phrase("a total, no report"),
    "time-no-clock": Phrase("date without a time of day"),
    "time-no-date": Phrase("time of day without a date"),
    "time-two-digit-year": Phrase("year of two digits"),
    "time-in-future": Phrase("time in the future"),
    "time-offset": Phrase("time turned into UTC"),
    "time-order-told": Phrase("order of day and month told"),
    "callsign-blank-inside": Phrase("callsign with a blank inside"),
    "callsign-not-ascii": Phrase("callsign in another alphabet"),
    "locator-not-ascii": Phrase("locator in another alphabet"),
    "locator-stray-character": Phrase("locator with a stray character"),
    "locator-odd-length": Phrase("locator of odd length"),
    "locator-pairs-swapped": Phrase("locator with pairs exchanged"),
    "locator-no-locator": Phrase("no locator at all"),
    "locator-letter-for-digit": Phrase("locator with a letter for a digit"),
    "locator-digit-for-letter": Phrase("locator with a digit for a letter"),
    "locator-beyond-r": Phrase("locator with a field beyond R"),
    "locator-beyond-x": Phrase("locator with a subsquare beyond X"),
    "locator-four-characters": Phrase("locator of four characters"),
    "snr-blank": Phrase("SNR blank"),
    "snr-unreadable": Phrase("SNR unreadable"),
    "snr-range": Phrase("SNR out of range"),
    "frequency-outside-bands": Phrase("frequency outside the bands"),
    "frequency-other-region": Phrase("frequency of another region"),
    "band-frequency": Phrase("band and frequency contradict each other"),
    "power-range": Phrase("power out of range"),
    "duplicate-conflict": Phrase("duplicate with another SNR"),
    "locator-suspect": Phrase("suspect locator"),
    "locator-doubtful": Phrase("doubtful locator"),
}


def name(rule: str, say: Typography = PRINT) -> str:
    """A rule as people call it: 'locator with a letter for a digit'."""
    bare = rule.removeprefix(_TRANSMITTER)
    said = say.text(_NAMES[bare])
    return said if bare == rule else say.text("transmitter's {what}", what=said)


# ---------------------------------------------------------------------------------------------------- one rule each


def _locator(said: _Said, say: Typography) -> str:
    """The grammar's own sentence, as errors say it too: it depends on nothing but the text."""
    why = grammar.judge(said.value).why
    return why.said(say) if why else ""


def _length(said: _Said, say: Typography) -> str:
    return say.text("The row has {value} cells where the header has {other}.", value=said.value, other=said.other)


def _impossible(said: _Said, say: Typography) -> str:
    parts = {
        "day": say.text("names a day that no calendar has"),
        "clock": say.text("names a time of day that no clock shows"),
        "calendar": say.text("is beyond the calendar"),
        "zone": say.text("names an offset from UTC that no zone has"),
    }
    if said.detail in parts:
        return f"{quoted(said.value)} {parts[said.detail]}."
    return say.text(
        "{value}, read {order}, names the month {other}.",
        value=quoted(said.value),
        order=_order(said, say),
        other=said.other,
    )


_ORDERS: Final = {order: Phrase(order) for order in (Phrase("day first"), Phrase("month first"), Phrase("year first"))}


def _order(said: _Said, say: Typography) -> str:
    return say.text(Phrase(said.detail.replace("-", " ")))


def _no_time(said: _Said, say: Typography) -> str:
    if said.detail == "month-name":
        return say.text("{value} names no month that is known by its English name.", value=quoted(said.value))
    return say.text("{value} is no time; a form such as 2026-05-16 21:30 is wanted.", value=quoted(said.value))


def _offset(said: _Said, say: Typography) -> str:
    if said.other:
        count = say.count(int(said.other))
        return say.text(
            "All {count} times of this file name an offset from UTC, as does {value}; they were turned into UTC.",
            count=count,
            value=quoted(said.value),
        )
    return say.text("{value} was turned into UTC.", value=quoted(said.value))


def _order_told(said: _Said, say: Typography) -> str:
    return say.text(
        "{value} can only be {order}, so all dates of this file are read {order}.",
        value=quoted(said.value),
        order=_order(said, say),
    )


def _no_callsign(said: _Said, say: Typography) -> str:
    if said.detail == "unprintable":
        return say.text("{value} holds characters that cannot be printed.", value=quoted(said.value))
    return say.text(
        "{value} names nobody; a callsign such as EI4QTB or a listener's identifier is wanted.",
        value=quoted(said.value),
    )


def _snr_range(said: _Said, say: Typography) -> str:
    like = say.text(" (it looks like a readability and strength report)") if said.detail == "report" else ""
    low, high = say.number(cells.LOWEST_SNR_DB, 0), say.db(cells.HIGHEST_SNR_DB)
    return say.text(
        "{value} is no SNR from {low} to {high}{like}.", value=quoted(said.value), low=low, high=high, like=like
    )


def _with_unit(text: str, said: _Said) -> str:
    """A frequency as it came, with the unit that the header gave it."""
    return f"{quoted(text)} {said.detail}".strip()


def _no_frequency(said: _Said, say: Typography) -> str:
    came = _with_unit(said.value, said)
    if said.severity == REJECTED:
        return say.text("{came} is no frequency; a number such as 14.0437 is wanted.", came=came)
    return say.text(
        "{came} is no frequency; the row is kept for its band {other}.", came=came, other=quoted(said.other)
    )


def _outside(said: _Said, say: Typography) -> str:
    """With a hint where the number would be in a band in the next smaller unit: the commonest mistake of all."""
    smaller = {"MHz": "kHz", "kHz": "Hz"}.get(said.detail, "")
    mhz = cells.frequency_mhz(said.value, smaller.lower()) if smaller and _DIGITS.fullmatch(said.value) else None
    band = bands.band_anywhere(mhz) if mhz else None
    hint = say.text("; in {smaller} it would be on {band}", smaller=smaller, band=band) if band else ""
    return say.text(
        "{with_unit} is in no international amateur band{hint}.", with_unit=_with_unit(said.value, said), hint=hint
    )


def _no_band(said: _Said, say: Typography) -> str:
    if said.severity == REJECTED:
        return say.text("{value} is no band; a wavelength such as 20m is wanted.", value=quoted(said.value))
    return say.text(
        "{value} is no band; the row is kept for its frequency {with_unit}.",
        value=quoted(said.value),
        with_unit=_with_unit(said.other, said),
    )


def _contradiction(said: _Said, say: Typography) -> str:
    frequency = _with_unit(said.other, said)
    return say.text(
        "The band {value} and the frequency {frequency} contradict each other.",
        value=quoted(said.value),
        frequency=frequency,
    )


def _other_region(said: _Said, say: Typography) -> str:
    region = int(said.detail)
    edges = bands.edges_mhz(said.other, region)
    home = any(b.name == said.other and region in b.regions for b in bands.allocations())
    there = (
        say.text(" ({low} to {high}{gap}MHz there)", low=say.plain(edges[0]), high=say.plain(edges[1]))
        if edges and home
        else ""
    )
    if not home:  # 4m and the like: the ITU has no such band there, administrations may
        outside = say.text(
            "{value}{gap}MHz is on {other}, which is no international band of ITU region {region}",
            value=said.value,
            other=said.other,
            region=region,
        )
    else:
        outside = say.text(
            "{value}{gap}MHz is outside the international {other} band of ITU region {region}{there}",
            value=said.value,
            other=said.other,
            region=region,
            there=there,
        )
    return say.text("{outside}; it counts as {other} all the same.", outside=outside, other=said.other)


def _blank_inside(said: _Said, say: Typography) -> str:
    return say.text(
        "{value} has a blank inside; it is kept as it is and counts as another station than {suggestion}.",
        value=quoted(said.value),
        suggestion=said.suggestion,
    )


def _not_ascii(said: _Said, say: Typography) -> str:
    return say.text(
        "{value} is not in plain letters and digits; it is kept as it is, a station apart from {suggestion}.",
        value=quoted(said.value),
        suggestion=said.suggestion,
    )


def _template(message: str) -> Callable[[_Said, Typography], str]:
    """A sentence with nothing but the value in it."""
    return lambda said, say: say.text(message, value=quoted(said.value), year=EARLIEST.year)


_SENTENCES: Final[dict[str, Callable[[_Said, Typography], str]]] = {
    "row-length": _length,
    "row-quote": _template(Phrase("A quote is opened and never closed.")),
    "row-blank": _template(Phrase("The row is blank.")),
    "row-header": _template(Phrase("The row repeats the header.")),
    "row-total": _template(Phrase("The row is the total of the table and no report.")),
    "time-blank": _template(Phrase("The time is blank.")),
    "time-unreadable": _no_time,
    "time-impossible": _impossible,
    "time-no-clock": _template(Phrase("{value} is a date without a time of day.")),
    "time-no-date": _template(Phrase("{value} is a time of day without a date.")),
    "time-two-digit-year": _template(Phrase("{value} has a year of two digits; write four.")),
    "time-in-future": _template(Phrase("{value} lies in the future: no report can be later than the clock.")),
    "time-too-early": _template(Phrase("{value} lies before {year}, when no such reports were made.")),
    "time-offset": _offset,
    "time-order-told": _order_told,
    "callsign-blank": _template(Phrase("The callsign is blank.")),
    "callsign-unreadable": _no_callsign,
    "callsign-too-long": lambda said, say: say.text(
        "{value} has {other} characters; a callsign or identifier has at most {longest}.",
        value=quoted(said.value),
        other=said.other,
        longest=cells.LONGEST,
    ),
    "callsign-blank-inside": _blank_inside,
    "callsign-not-ascii": _not_ascii,
    "snr-blank": _template(Phrase("The SNR is blank.")),
    "snr-unreadable": _template(Phrase("{value} is no SNR; a number of dB such as -12 is wanted.")),
    "snr-range": _snr_range,
    "band-blank": _template(Phrase("Neither band nor frequency is given.")),
    "band-unreadable": _no_band,
    "frequency-unreadable": _no_frequency,
    "frequency-outside-bands": _outside,
    "frequency-other-region": _other_region,
    "band-frequency": _contradiction,
    "power-unreadable": _template(
        Phrase("{value} is no power; a number of watts such as 5 is wanted. The power counts as unknown.")
    ),
    "power-range": _template(Phrase("{value} is no power above 0 and up to 100 kW. The power counts as unknown.")),
}

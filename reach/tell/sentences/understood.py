"""What was understood of a file, in words: its columns with an example and how sure, and what was assumed.

Questions are sentences already (`read.understood.Question`), because an error says them too.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Mapping
from typing import Any, Final

from reach.base.ways import Medium
from reach.base.words import Typography, quoted
from reach.read.understood import ASSUMED, CONFIRMED, PLAIN, ROLE_WORDS, TOLD, Assumption, Column, Understood, zone_text

_SURE: Final = {
    PLAIN: "header and values say so",
    TOLD: "the values say so",
    ASSUMED: "assumed",
    CONFIRMED: "you said so",
}
_DELIMITERS: Final = {
    ",": "commas", ";": "semicolons", "\t": "tabs", "|": "bars", "  ": "two blanks or more", " ": "blanks",
}  # fmt: skip
_ENCODINGS: Final = {
    "utf-8": "UTF-8", "utf-16": "UTF-16", "utf-32": "UTF-32", "cp1252": "Windows-1252", "cp1250": "Windows-1250",
    "cp1251": "Windows-1251", "cp1253": "Windows-1253", "cp1254": "Windows-1254", "cp932": "Shift-JIS",
    "gb18030": "GB 18030", "cp949": "Korean (949)", "euc_jp": "EUC-JP", "koi8_r": "KOI8-R", "mac_roman": "Mac Roman",
}  # fmt: skip
_UNITS: Final = {
    "hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz", "w": "W", "mw": "mW", "dbm": "dBm",
}  # fmt: skip
_ORDERS: Final = {"dmy": "day first", "mdy": "month first", "ymd": "year first"}
_WHY_ORDER: Final = {
    "option": "you said so",
    "dots": "as dates with dots are",
    "range": "only so are all of them dates",
    "future": "the other way some would lie in the future",
    "recent": "only so are they recent",
    "schedule": "only so do they fall on days of the schedule",
    "gaps": "only so do the reports follow each other without weeks between them",
    "rising": "only so do the rows follow the calendar",
}
_WHY_POWER: Final = {
    "negative": "some are negative",
    "fractions": "some are no whole numbers",
    "station": "that is the station's power",
    "steps": "all are usual steps of dBm",
    "watts": "all are usual in watts",
}


def headline(file: Understood, say: Typography) -> str:
    """One line of how the file is written: '1 492 rows; semicolons between cells, Windows-1252, the header on line 2'."""
    rows = f"{say.count(file.rows)} row{'s' * (file.rows != 1)}"
    header = f"header on line {file.header_lines}" if file.headed else "no header"
    between = _DELIMITERS.get(file.delimiter, quoted(file.delimiter))
    return f"{rows}; {between} between cells, {_ENCODINGS.get(file.encoding, file.encoding)}, {header}."


def table(file: Understood) -> list[tuple[str, str, str, str]]:
    """One row a column: (column, what it is, an example, how sure)."""
    return [(column.name, _is(column), column.example, _how_sure(column)) for column in file.columns]


def _how_sure(column: Column) -> str:
    """What says so; of what is read by its values only, these."""
    held = f" ({column.holds})" if column.sure in (TOLD, ASSUMED) and column.holds else ""
    return f"{_SURE[column.sure]}{held}"


def assumed(file: Understood, say: Typography) -> list[str]:
    """One sentence for each thing that the file does not say outright, and for what is not used."""
    others = [each for each in file.assumptions if each.code != "role"]  # the table says those
    told = [sentence for each in others if (sentence := assumption(each, say))]
    if file.no_report:
        told.append(_no_report(file.no_report, say))
    if file.unused:
        told.append(f"Not used: {', '.join(map(quoted, file.unused))}.")
    return told


def lines(file: Understood, say: Typography) -> list[str]:
    """All of it, line by line, the table with aligned columns."""
    rows = table(file)
    wide = [max((_width(row[k]) for row in rows), default=0) for k in range(3)]
    shown = ["  " + "  ".join([*(row[k] + " " * (wide[k] - _width(row[k])) for k in range(3)), row[3]]) for row in rows]
    told = [f"  {sentence}" for sentence in [*assumed(file, say), *(q.said(Medium.OPTION) for q in file.questions)]]
    return [f"{file.source}: {headline(file, say)}", *shown, *told]


def _width(text: str) -> int:
    """How many columns of a terminal a text takes: East Asian letters take two, accents on letters none."""
    wide = sum(unicodedata.east_asian_width(character) in "WF" for character in text)
    return len(text) + wide - sum(unicodedata.combining(character) > 0 for character in text)


def assumption(each: Assumption, say: Typography) -> str:
    """One assumption in words; "" where there is nothing to say, as of UTC."""
    return _ASSUMED[each.code](each.values, say)


def _is(column: Column) -> str:
    words = ROLE_WORDS[column.role][0].removeprefix("the ")
    return f"{words} in {_UNITS[column.unit]}" if column.unit in _UNITS else words


def _no_report(counts: Mapping[str, int], say: Typography) -> str:
    words = {"title": "title or remark", "header": "header once more", "total": "total"}
    parts = [f"{say.count(count)} {words[what]}" for what, count in counts.items()]
    one = sum(counts.values()) == 1
    return f"{', '.join(parts)}: {'a line that is' if one else 'lines that are'} no report."


# ------------------------------------------------------------------------------------------------- one for each code

_Values = Mapping[str, Any]


def _role(values: _Values, say: Typography) -> str:
    what = ROLE_WORDS[values["role"]][0]
    close = " (assumed)" if values["assumed"] else ""
    return f"Read {quoted(values['column'])} as {what}: {values['holds']}{close}."


def _unit(values: _Values, say: Typography) -> str:
    header, read = _UNITS[values["header"]], _UNITS[values["read"]]
    return f"{quoted(values['column'])} says {header} but holds amateur frequencies only if read in {read}; so it was read."


def _frequency_unit(values: _Values, say: Typography) -> str:
    return f"{quoted(values['column'])} names no unit; its numbers are amateur frequencies in {_UNITS[values['read']]}."


def _power_unit(values: _Values, say: Typography) -> str:
    return f"{quoted(values['column'])} was read in {_UNITS[values['read']]}: {_WHY_POWER[values['why']]}."


def _own_end(values: _Values, say: Typography) -> str:
    if values["call"]:
        return f"No column says who received: taken as {values['call']} in {values['locator']}, as you asked for what it heard."
    return f"No column says where the receiver is: taken as {values['locator']}, the station's own place."


def _order(values: _Values, say: Typography) -> str:
    return f"Dates are read {_ORDERS[values['read']]}: {_WHY_ORDER[values['why']]}."


def _zone(values: _Values, say: Typography) -> str:
    if values["zone"] == 0:
        return ""
    origin = {"cell": "the cells say", "header": f"the header says {values['name']}", "option": "you said"}[
        values["from"]
    ]
    ahead = "ahead of" if values["zone"] > 0 else "behind"
    return f"Times are {zone_text(values['zone'])[1:]} hours {ahead} UTC, as {origin}; they were moved to UTC."


_ASSUMED: Final[dict[str, Callable[[_Values, Typography], str]]] = {
    "no-header": lambda values, say: "The file has no header; its columns are numbered from 1.",
    "role": _role,
    "unit": _unit,
    "frequency-unit": _frequency_unit,
    "power-unit": _power_unit,
    "own-end": _own_end,
    "order": _order,
    "no-zone": lambda values, say: "No zone is named; times are taken as UTC.",
    "zone": _zone,
    "serial": lambda values, say: (
        f"{quoted(values['column'])} holds days as a spreadsheet counts them, from the end of 1899."
        if "column" in values
        else "Days are counted as a spreadsheet does."
    ),
    "epoch": lambda values, say: f"{quoted(values['column'])} counts seconds or milliseconds since 1970.",
    "lost-zeros": lambda values, say: (
        f"Times of day have lost a zero: {quoted(values['example'])} is {values['read']}."
    ),
}

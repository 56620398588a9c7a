"""What was understood of a file, in codes and values; and the questions that only the user can answer.

`tell.sentences.understood` says it. Questions are sentences already here, because they are also what an error says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from reach.base import ways
from reach.base.ways import Medium
from reach.base.words import quoted
from reach.errors import InputError

# How sure a reading is.
PLAIN: Final = "plain"  # header and values say so
TOLD: Final = "told"  # the values say so
ASSUMED: Final = "assumed"  # the values would allow another reading, and this is the likelier
CONFIRMED: Final = "confirmed"  # the user says so

# Role of a column -> what it is in words, and the name under which a user names its column.
ROLE_WORDS: Final = {
    "datetime": ("the time", "time"),
    "date": ("the date", "date"),
    "clock": ("the time of day", "time"),
    "rx_call": ("the receiver's callsign", "callsign"),
    "tx_call": ("the transmitter's callsign", "transmitter"),
    "rx_locator": ("the receiver's locator", "locator"),
    "tx_locator": ("the transmitter's locator", "transmitter_locator"),
    "snr": ("the SNR", "snr"),
    "freq": ("the frequency", "frequency"),
    "band": ("the band", "band"),
    "distance": ("the distance", "distance"),
    "azimuth": ("the bearing", "azimuth"),
    "power": ("the power", "power"),
    "mode": ("the mode", "mode"),
    "setup": ("the setup", "setup"),
    "session": ("the session", "session"),
}

# Every code of an assumption with its parameters.
ASSUMPTIONS: Final = {
    "no-header": "the file has no header; columns are numbered",
    "role": "a column was read by its values; column, role, what it holds, and 'assumed' where it was close",
    "unit": "a header says one unit and the values are amateur frequencies in another; column, header, read",
    "frequency-unit": "the header names no unit of frequency; column, read",
    "power-unit": "the unit of the power came from its values; column, read, why (steps, station, watts)",
    "own-end": "no column says where (and by whom) was received: by this station; call, locator",
    "order": "the order of day and month; read, why (option, dots, range, future, recent, schedule, gaps, rising)",
    "no-zone": "no zone is named: times are UTC",
    "zone": "times were moved to UTC; zone (minutes east), from (cell, header, option), name",
    "serial": "days are numbers of a spreadsheet",
    "epoch": "times are seconds or milliseconds since 1970",
    "lost-zeros": "times of day lack leading or trailing zeros; example, read",
}


@dataclass(frozen=True)
class Settings:
    """What the user has settled for one file. A study keeps it, so that nothing is asked twice.

    columns    our name -> header in the file, or number of the column from 1
    day_first  how to read 03/05/2026; None where the file has to tell
    zone       minutes east of UTC of times that name no zone; None where the file has to tell
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    day_first: bool | None = None
    zone: int | None = None

    def __or__(self, other: Settings) -> Settings:
        """These, and where `other` says more, that."""
        return Settings(
            {**self.columns, **other.columns},
            self.day_first if other.day_first is None else other.day_first,
            self.zone if other.zone is None else other.zone,
        )

    def to_dict(self) -> dict[str, Any]:
        """As plain values; only what is settled."""
        found: dict[str, Any] = {"columns": dict(self.columns)} if self.columns else {}
        if self.day_first is not None:
            found["day_first"] = self.day_first
        if self.zone is not None:
            found["zone"] = zone_text(self.zone)
        return found


@dataclass(frozen=True)
class Column:
    """One column that was understood.

    name     as in the file, or "column 3"
    at       its position, from 0
    role     a key of ROLE_WORDS
    example  its first cell that is not blank
    sure     PLAIN, TOLD, ASSUMED or CONFIRMED
    margin   how much worse the table reads otherwise [nats]
    holds    its values in short, see `holds`
    unit     of frequency, power or distance, "" where it has none
    """

    name: str
    at: int
    role: str
    example: str
    sure: str = PLAIN
    margin: float = float("inf")
    holds: str = ""
    unit: str = ""


@dataclass(frozen=True)
class Assumption:
    """Something the file does not say outright: a key of ASSUMPTIONS, and its parameters."""

    code: str
    values: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Choice:
    """One answer to a question: what it is called in the file, what it holds, and how it is given, as `ways.asked` marks it."""

    name: str
    holds: str
    way: str


@dataclass(frozen=True)
class Question:
    """What only the user can tell.

    code     missing, called-so, close, rst, own-places, no-locators, who-received, order, order-mixed, zone, zone-summer, power-unit,
             no-table
    source   the file
    values   parameters by code
    choices  answers, likeliest first
    """

    code: str
    source: str
    values: Mapping[str, Any] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()

    def sentence(self) -> str:
        """One sentence with the choices in the words of the file, and marks for how they are given."""
        return f"{self.source}: {_ASKED[self.code](self)}"

    def said(self, medium: Medium) -> str:
        """The same in the words of a medium."""
        return ways.said(self.sentence(), medium)


@dataclass(frozen=True)
class Direction:
    """Who transmitted, as far as one file tells.

    said    whether a header says which station transmitted
    s_tx_hz median range of frequency within one slot of the rows in which this station is the transmitter; NaN unknown
    s_rx_hz the same of the rows in which it is the receiver
    slots   how many slots each rests on: (transmitter, receiver)

    One signal has one frequency: where own rows of one slot lie within some ten hertz, it was this station's.
    """

    said: bool
    s_tx_hz: float = float("nan")
    s_rx_hz: float = float("nan")
    slots: tuple[int, int] = (0, 0)


@dataclass(frozen=True)
class Understood:
    """How one file was read.

    source       the file
    encoding     of its text
    delimiter    between cells
    header_lines lines before the first row
    headed       whether it has a header
    columns      those that have a role, in the order of the file
    unused       names of the others
    assumptions  what it does not say outright
    questions    what only the user can tell; nothing is read while there is one
    rows         how many rows were read
    no_report    how many lines are no report: title, header (repeated), total
    direction    who transmitted
    settings     what the user settled
    """

    source: str
    encoding: str = "utf-8"
    delimiter: str = ","
    header_lines: int = 1
    headed: bool = True
    columns: tuple[Column, ...] = ()
    unused: tuple[str, ...] = ()
    assumptions: tuple[Assumption, ...] = ()
    questions: tuple[Question, ...] = ()
    rows: int = 0
    no_report: Mapping[str, int] = field(default_factory=dict)
    direction: Direction = field(default_factory=lambda: Direction(True))
    settings: Settings = field(default_factory=Settings)

    def column(self, role: str) -> Column | None:
        """The column with a role; None where the file has none."""
        return next((column for column in self.columns if column.role == role), None)

    def confirmed(self) -> Settings:
        """What a study would keep of this reading, so that it is read alike for ever: see Settings.to_dict."""
        columns = {_option(column): column.name if self.headed else str(column.at + 1) for column in self.columns}
        day_first = next((a.values["read"] == "dmy" for a in self.assumptions if a.code == "order"), None)
        zone = next(
            (a.values["zone"] for a in self.assumptions if a.code == "zone" and a.values["from"] == "option"), None
        )
        return replace(self.settings, columns=columns) | Settings({}, day_first, zone)

    def to_dict(self) -> dict[str, Any]:
        """Plain values, for JSON; `settings` is what a study can feed back."""
        return {
            "source": self.source,
            "encoding": self.encoding,
            "delimiter": self.delimiter,
            "header_lines": self.header_lines,
            "headed": self.headed,
            "columns": [
                {
                    "name": c.name,
                    "number": c.at + 1,
                    "role": c.role,
                    "example": c.example,
                    "sure": c.sure,
                    "margin": None if c.margin == float("inf") else round(c.margin, 2),
                    "holds": c.holds,
                    "unit": c.unit,
                }
                for c in self.columns
            ],
            "unused": list(self.unused),
            "assumed": [{"code": a.code, **a.values} for a in self.assumptions],
            "questions": [
                {
                    "code": q.code,
                    "sentence": q.said(Medium.OPTION),
                    "options": [ways.said(choice.way, Medium.OPTION) for choice in q.choices],
                }
                for q in self.questions
            ],
            "rows": self.rows,
            "no_report": dict(self.no_report),
            "settings": self.confirmed().to_dict(),
        }


class Unclear(InputError):
    """Files with questions that only the user can answer: all of them at once.

    questions  of all files
    understood  of all files, as far as they were
    """

    def __init__(self, questions: Sequence[Question], understood: Sequence[Understood] = ()) -> None:
        self.questions, self.understood = tuple(questions), tuple(understood)
        super().__init__(*(question.sentence() for question in questions))


def zone_text(minutes: int) -> str:
    """Minutes east of UTC as +01:00."""
    return f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"


def zone_of(text: str) -> int:
    """Minutes east of UTC of +01:00, UTC+2 or Z. ValueError where the text names no zone."""
    from reach.read import dates

    minutes = dates.zone_minutes(str(text))
    if minutes is None:
        raise ValueError(f"{text!r} names no zone; one such as +01:00 is wanted")
    return minutes


def _option(column: Column) -> str:
    name = ROLE_WORDS[column.role][1]
    return f"{name}_{column.unit}" if column.role in ("freq", "power") and column.unit else name


# ---------------------------------------------------------------------------------------------------------- questions


def _listed(choices: Sequence[Choice]) -> str:
    each = [f"{quoted(c.name)} ({c.holds})" if c.holds else quoted(c.name) for c in choices]
    return each[0] if len(each) == 1 else f"{', '.join(each[:-1])} or {each[-1]}"


def _ways(choices: Sequence[Choice]) -> str:
    return " or ".join(dict.fromkeys(choice.way for choice in choices))


def _any(column: str) -> str:
    return ways.asked("column", column, ways.SOME_HEADER)


def _missing(q: Question) -> str:
    headers = ", ".join(map(quoted, q.values.get("headers", ())))
    among = f" among {headers}" if headers else ""
    if q.choices:
        return (
            f"no column is surely {q.values['words']}; it may be {_listed(q.choices)}: say so with {_ways(q.choices)}."
        )
    return f"no column for {q.values['words']}{among}; say which one it is with {_any(q.values['option'])}."


def _close(q: Question) -> str:
    return f"{q.values['words']} may be {_listed(q.choices)}; say which with {_ways(q.choices)}."


def _rst(q: Question) -> str:
    return (
        f"{quoted(q.values['name'])} holds readability and strength ({q.values['example']}), which is no SNR; if another "
        f"column is the SNR, say which with {_any('snr')}."
    )


def _own_places(q: Question) -> str:
    return (
        f"the only locators are in {quoted(q.values['name'])}, always {q.values['example']}: where the receivers are is not in "
        f"this file; if another column tells, say which with {_any('locator')}."
    )


def _called_so(q: Question) -> str:
    called = q.choices[0]
    return (
        f"{quoted(called.name)} is called {q.values['words']}, but most of what it holds is none (it begins with "
        f"{quoted(q.values['example'])}); say that it is with {called.way}, or which other one is with "
        f"{_any(q.values['option'])}."
    )


def _no_locators(q: Question) -> str:
    called = q.choices[0]
    return (
        f"{quoted(called.name)} is called as the receivers' locators are, and no cell of it is one ({called.holds}; wanted are six "
        f"characters such as JN58td); if another column tells, say which with {_any('locator')}; to have its rows judged one by "
        f"one, say {called.way}."
    )


def _who_received(q: Question) -> str:
    (heard, hearing) = q.choices
    return (
        f"{quoted(q.values['name'])} seems to name who transmitted, and no column says who received: if they are "
        f"{heard.holds}, say so with {heard.way}; if they are {hearing.holds}, with {hearing.way}."
    )


def _order(q: Question) -> str:
    a, b = q.values["readings"]
    return (
        f"{quoted(q.values['example'])} may be {a} or {b}, and nothing in the file tells which; "
        f"say which with {ways.asked('order')}."
    )


def _order_mixed(q: Question) -> str:
    a, b = q.values["examples"]
    return (
        f"{quoted(a)} can only be day first and {quoted(b)} only month first, so a spreadsheet may have turned half of the "
        f"dates; say which counts with {ways.asked('order')}, and the rows of the other kind are rejected."
    )


def _zone(q: Question) -> str:
    return (
        f"{quoted(q.values['name'])} is local time, and of which zone is not said; say it with {ways.asked('zone', '+01:00', q.source)}, "
        f"or whichever it is."
    )


def _zone_summer(q: Question) -> str:
    return (
        f"{quoted(q.values['name'])} names {q.values['zone']} for days of summer, when clocks there stand an hour further: "
        f"say which counts with {' or '.join(ways.asked('zone', zone_text(q.values['minutes'] + k)) for k in (0, 60))}."
    )


def _power_unit(q: Question) -> str:
    return (
        f"{q.values['example']} in {quoted(q.values['name'])} may be {q.values['as_w']} W or {q.values['as_dbm']} W "
        f"({q.values['example']} dBm); say which with {_ways(q.choices)}."
    )


def _no_table(q: Question) -> str:
    return "no table of reports is found in it; lines of cells with a comma, semicolon, tab or bar between them are wanted."


_ASKED: Final = {
    "missing": _missing,
    "close": _close,
    "rst": _rst,
    "own-places": _own_places,
    "called-so": _called_so,
    "no-locators": _no_locators,
    "who-received": _who_received,
    "order": _order,
    "order-mixed": _order_mixed,
    "zone": _zone,
    "zone-summer": _zone_summer,
    "power-unit": _power_unit,
    "no-table": _no_table,
}

"""Whose row it is: this station's, another transmitter's, or what the station itself heard.

An export may hold more than one's own reports. Rows of others are set aside before any of them is judged: they are
counted, never rejected, and a transmitter that is set aside can serve as a control. What is assumed is told as a note;
where two readings are open, the user is asked with the counts.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.base import ways
from reach.base.vocabulary import Words, words
from reach.errors import InputError
from reach.findings import InputFile, Note, NoteCode
from reach.study import Station, Study

Flags = npt.NDArray[np.bool_]

# What a study says of one station and nobody else.
_OF_A_STATION: Final = (
    "title", "about", "station", "setups", "sessions", "schedule", "schedule_zone", "schedule_shift_min",
    "schedule_confirmed", "compare", "season", "log",
)  # fmt: skip
_ENDS: Final = (("rx_call", "tx_call"), ("rx_locator", "tx_locator"))
# Rows of one slot: of one transmitter, of several [Hz].
_TOGETHER_HZ: Final = 25.0
_APART_HZ: Final = 45.0
NAMED: Final = 6  # transmitters that a question or a note names, those with most rows first


class Direction(StrEnum):
    """Which way the reports went: others heard this station, or this station heard others."""

    SENT = "sent"
    HEARD = "heard"


_KIND: Final = {Direction.SENT: "transmitter", Direction.HEARD: "receiver"}  # what the station's own end is


@dataclass(frozen=True)
class Owned:
    """The rows of one station in one direction, and where the others went.

    raw       a raw table of the rows that are studied. Where the station heard others, both ends have changed places:
              the columns rx_ speak of the far end in either direction, tx_ of the station
    own       callsigns of the station in use, upper case; empty where no row and no study names one
    other     rows of other transmitters (of other receivers, where the station heard): callsign -> rows, most first
    opposite  rows of this station in the other direction
    aside     the raw table of the rows of others, in file order: what a control station is taken from; none of a collection,
              where they lie beside
    notes     what was assumed
    """

    raw: pd.DataFrame
    direction: Direction
    own: tuple[str, ...]
    other: dict[str, int]
    opposite: int
    aside: pd.DataFrame
    notes: tuple[Note, ...] = ()

    @property
    def set_aside(self) -> int:
        """How many rows were set aside."""
        return sum(self.other.values()) + self.opposite


@dataclass(frozen=True)
class Seen:
    """Who stands in some rows, base callsign -> rows; what is seen in parts of a file can be added.

    ours    at the own end
    home, theirs  of these, rows whose own end lies in the station's locator, and who stands at the far end; empty where the
        station's callsign is known, and they tell nothing
    """

    ours: Mapping[str, int]
    home: Mapping[str, int]
    theirs: Mapping[str, int]

    def __add__(self, other: Seen) -> Seen:
        return Seen(
            *(
                Counter(one) + Counter(two)
                for one, two in ((self.ours, other.ours), (self.home, other.home), (self.theirs, other.theirs))
            )
        )


def seen(raw: pd.DataFrame, station: Station, direction: Direction) -> Seen:
    """Who stands in a raw table. station : whose rows are studied"""
    here, far = _ends(direction)
    ours, theirs = words(raw, here), words(raw, far)
    there = _counted(ours)
    if _named(station):  # then nobody asks for the others
        return Seen(there, {}, {})
    at_home = _counted(ours, _at(raw, station.locator, direction)) if station.locator.strip() else {}
    return Seen(there, at_home, _counted(theirs))


def _ends(direction: Direction) -> tuple[str, str]:
    """The columns that say who stands at the own end and at the far one."""
    return ("tx_call", "rx_call") if direction is Direction.SENT else ("rx_call", "tx_call")


def own(
    raw: pd.DataFrame,
    station: Station,
    *,
    direction: Direction = Direction.SENT,
    setups: Iterable[str] = (),
    of: Seen | None = None,
) -> Owned:
    """Keep the rows of one station in one direction, and set the others aside.

    raw : raw table; needs rx_call, and tx_call where some file tells the transmitter
    station : whose rows are studied; without a callsign the one transmitter of the table is taken
    direction : sent (others heard the station) or heard (the station heard others)
    setups : names that are compared: where two callsigns on the air at once are the two setups, both are own
    of : who stands in the whole file of which these rows are a part, none of them the station's perhaps; where left out they
        are all rows
    Returns Owned; kept and set aside rows together are all rows. InputError, one sentence with the counts, where it
    cannot be told whose rows are meant.
    """
    here, far = _ends(direction)
    ours, theirs = words(raw, here), words(raw, far)
    there = seen(raw, station, direction) if of is None else of
    calls, notes = _calls(there, station, direction, set(setups))
    if calls is None:  # nothing in the table says whose the rows are: all of them are studied
        return Owned(_turned(raw, direction), direction, _named(station), {}, 0, raw.iloc[:0], notes)
    # A cell that names nobody is no other station's: whatever the row is, vetting judges it.
    mine = _says(ours, calls) | _nobody(ours)
    # What the station itself reported is its own row in the other direction, whatever else stands in it.
    opposite = _says(theirs, calls)
    keep = mine & ~opposite
    if not keep.any() and of is None:
        nothing_left(there, station, direction, int(opposite.sum()))
    aside = ~keep & ~opposite
    other = _counted(ours, aside)
    if aside.any():
        notes = (
            *notes,
            Note(NoteCode.OTHERS_SET_ASIDE, {"direction": str(direction), "rows": int(aside.sum()), "calls": other}),
        )
    if opposite.any():
        notes = (*notes, Note(NoteCode.OPPOSITE_SET_ASIDE, {"direction": str(direction), "rows": int(opposite.sum())}))
    notes = (*notes, *_one_path(theirs, keep, direction))
    kept = raw if keep.all() else raw[keep].reset_index(drop=True)
    return Owned(
        raw=_turned(kept, direction),
        direction=direction,
        own=tuple(sorted(calls)),
        other=other,
        opposite=int(opposite.sum()),
        aside=raw[aside].reset_index(drop=True),
        notes=notes,
    )


def ends_told(raw: pd.DataFrame, files: Sequence[InputFile], callsign: str) -> tuple[pd.DataFrame, tuple[Note, ...]]:
    """The rows with both ends the right way round where no header says who transmitted.

    raw : raw table; files : as read, with what the reading found out of the frequencies of own rows
    callsign : of the station; without it nothing can be told and the very table comes back
    Returns the table, in which the ends of such files have changed places where the frequencies say so, and notes.
    InputError where they say that the station did not transmit and do not say that it received.
    Source: one transmitter has one frequency, so its rows of one slot lie within some ten hertz wherever they were
    received; transmitters that one station hears in a slot lie a hundred hertz apart.
    """
    notes, turned = [], []
    for file in files:
        found = file.understood.direction if file.understood is not None else None
        if found is None or found.said or not callsign.strip():
            continue
        if math.isnan(found.s_tx_hz) or found.s_tx_hz <= _APART_HZ:
            continue  # as the columns were taken; `tell.sentences.understood` says what that rests on
        if not found.s_rx_hz < _TOGETHER_HZ:
            raise InputError(
                f"{file.name}: no header says who transmitted, and the rows of {callsign} in one slot lie "
                f"{found.s_tx_hz:.0f} Hz apart, which is more than one transmitter; say which column is whose with "
                f"{ways.asked('column', 'transmitter', ways.SOME_HEADER)}."
            )
        turned.append(file.understood.source if file.understood is not None else file.name)
        notes.append(Note(NoteCode.ENDS_TURNED, {"file": file.name, "tx_hz": found.s_tx_hz, "rx_hz": found.s_rx_hz}))
    if not turned:
        return raw, ()
    here = raw["source"].isin(turned).to_numpy()
    new = {}
    for one, two in _ENDS:
        a, b = (
            raw[name].astype(object) if name in raw else pd.Series("", raw.index, dtype=object) for name in (one, two)
        )
        new[one], new[two] = a.where(~here, b), b.where(~here, a)
    return raw.assign(**{name: column.astype("category") for name, column in new.items()}), tuple(notes)


def others(owned: Owned) -> pd.DataFrame:
    """The rows that were set aside as others', turned round as the station's own are."""
    return _turned(owned.aside, owned.direction)


def rows_of(owned: Owned, callsign: str) -> pd.DataFrame:
    """The rows of a station that was set aside, to serve as a control; InputError where there is none.

    Where the station heard, a control is another receiver, whose antenna did not change; its ends are turned round too.
    """
    found = _says(words(owned.aside, "tx_call" if owned.direction is Direction.SENT else "rx_call"), {base(callsign)})
    if not found.any():
        there = ", ".join(list(owned.other)[:NAMED]) or "none"
        kind = _KIND[owned.direction]
        raise InputError(f"{callsign!r} is no file and no {kind} that was set aside; of these there are: {there}.")
    return _turned(owned.aside[found].reset_index(drop=True), owned.direction)


def asked_of(study: Study, callsign: str | None, *, own: Iterable[str] = ()) -> Study:
    """A study as it is asked of a callsign: where that is another station's than its own, without all that it says of its own.

    callsign : None or blank: of its own
    own : callsigns of its own station, for where it names none
    """
    named = study.station.callsign.strip()
    ours = {base(call) for call in ([named] if named else own)}
    if not (callsign or "").strip() or not ours or base(str(callsign)) in ours:
        return study
    silent = Study()
    files = [*study.files, *(name for session in study.sessions for name in session.files)]
    return study.model_copy(update={"files": files, **{name: getattr(silent, name) for name in _OF_A_STATION}})


@lru_cache(maxsize=1 << 16)  # each piece of a file asks for the same ones again
def base(callsign: str) -> str:
    """A callsign without what stands before and behind its strokes: 'EI4QTB' for 'F/EI4QTB/P'.

    Parts without a digit, or of less than three characters, say where and how, not who.
    """
    parts = callsign.strip().upper().split("/")
    whole = [part for part in parts if len(part) >= 3 and _names(part)]
    # A prefix such as 3D2 ends with its digit, a callsign with a letter: so K1A is the base of 3D2/K1A.
    return max(whole, key=lambda part: (part[-1].isalpha(), len(part))) if whole else callsign.strip().upper()


def _names(text: str) -> bool:
    """Whether a text may name a station: callsigns and listeners' identifiers alike hold letters and digits."""
    return any(c.isdigit() for c in text) and any(c.isalpha() for c in text)


def _calls(
    seen: Seen, station: Station, direction: Direction, setups: set[str]
) -> tuple[set[str] | None, tuple[Note, ...]]:
    """Base callsigns of the station; None where nothing tells whose a row is. And what was assumed for it."""
    there = dict(seen.ours)
    if not there:  # the column is missing, or blank throughout: then all rows are the station's
        return None, ()
    named = set(_named(station))
    compared = {base(name) for name in setups}
    if len(compared) == 2 and compared <= set(there) and (not named or named <= compared):
        return compared, ()
    if named:
        return named, ()
    if len(there) > 1:
        there = dict(seen.home) or there
    if len(there) > 1:
        _ask(there, dict(seen.theirs), direction)
    (call,) = there
    note = Note(NoteCode.STATION_TAKEN, {"direction": str(direction), "call": call, "rows": there[call]})
    return {call}, (note,)


def _at(raw: pd.DataFrame, locator: str, direction: Direction) -> Flags:
    """Rows whose own end lies in the station's locator, as far as both are given."""
    column = words(raw, "tx_locator" if direction is Direction.SENT else "rx_locator")
    wanted = locator.strip().upper()
    same = np.array([bool(text.strip()) and wanted.startswith(text.strip().upper()[:6]) for text in column.texts])
    return same[column.codes]


def _says(column: Words, calls: set[str]) -> Flags:
    """Rows whose callsign is one of these, strokes apart."""
    return np.array([base(text) in calls for text in column.texts], dtype=bool)[column.codes]


def _nobody(column: Words) -> Flags:
    """Rows whose cell names no station: blank, or a repeated header, a total, a question mark."""
    return np.array([not _names(text) for text in column.texts], dtype=bool)[column.codes]


def _one_path(theirs: Words, keep: Flags, direction: Direction) -> tuple[Note, ...]:
    """That all rows are of one and the same far end, where it is so: then this is one path and no reach."""
    there = _counted(theirs, keep)
    if len(there) != 1:
        return ()
    ((call, rows),) = there.items()
    return (Note(NoteCode.ONE_PATH, {"direction": str(direction), "call": call, "rows": rows}),)


def _counted(column: Words, among: Flags | None = None) -> dict[str, int]:
    """Base callsign -> rows, of those whose cell names a station; the most first, then by name."""
    codes = column.codes if among is None or among.all() else column.codes[among]
    count = np.bincount(codes, minlength=len(column))
    found: Counter[str] = Counter()
    for at in np.flatnonzero(count):
        if _names(text := column.texts[at]):
            found[base(text)] += int(count[at])
    return ranked(found)


def places(raw: pd.DataFrame) -> Counter[str]:
    """Locators of the own end as they stand in the rows, and how many have each. raw : as Owned has it"""
    column = words(raw, "tx_locator")
    count = np.bincount(column.codes, minlength=len(column))
    return Counter({text: int(rows) for text, rows in zip(column.texts[:-1], count, strict=False) if rows})


def ranked(rows: Mapping[str, int]) -> dict[str, int]:
    """Callsign -> rows, the most first, then by name."""
    return dict(sorted(rows.items(), key=lambda item: (-item[1], item[0])))


def _named(station: Station) -> tuple[str, ...]:
    return (base(station.callsign),) if station.callsign.strip() else ()


def _turned(raw: pd.DataFrame, direction: Direction) -> pd.DataFrame:
    """Both ends exchanged where the station heard: every later step then asks about the far end, whoever sent."""
    if direction is Direction.SENT:
        return raw
    swap = {**dict(_ENDS), **{two: one for one, two in _ENDS}}
    return raw.rename(columns={name: swap[name] for name in swap if name in raw})


def _listed(there: dict[str, int]) -> str:
    shown = [f"{call} ({rows:,} rows)" for call, rows in list(there.items())[:NAMED]]
    more = len(there) - NAMED
    return ", ".join(shown) + (f" and {more} more" if more > 0 else "")


def _ask(there: dict[str, int], far: dict[str, int], direction: Direction) -> None:
    """InputError: whose rows are meant? Where the far end is one station alone, that is probably the user's."""
    said = f"the export holds rows of {len(there)} {_KIND[direction]}s: {_listed(ranked(there))}"
    if len(far) > 1:
        raise InputError(f"{said}; say whose with {ways.asked('callsign')}.")
    only = next(iter(far), "")
    if direction is Direction.SENT:
        whose = f"all heard by {only}: what {only} heard is studied with {ways.asked('heard')}"
    else:
        whose = f"all of what {only} transmitted: that is studied with {ways.asked('sent')}"
    raise InputError(f"{said}, {whose}; otherwise say whose rows are meant with {ways.asked('callsign')}.")


def nothing_left(seen: Seen, station: Station, direction: Direction, opposite: int) -> None:
    """InputError, as no row of a file is the station's in this direction: what is there instead.

    opposite : rows in the other direction
    """
    call = station.callsign.strip().upper()
    if opposite:
        if direction is Direction.SENT:
            raise InputError(
                f"every row is what {call} heard, none what others heard of it; what the station receives is studied with "
                f"{ways.asked('heard')}."
            )
        raise InputError(
            f"every row is what others heard of {call}, none what it heard itself; the former is studied with {ways.asked('sent')}."
        )
    kind = "transmitted by" if direction is Direction.SENT else "heard by"
    there = _listed(ranked(seen.ours)) or "no callsigns in that column"
    raise InputError(f"no row was {kind} {call}; there are {there}.")

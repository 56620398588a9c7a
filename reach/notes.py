"""What a walk wants to tell once, in codes and values: what it assumed, what it left out, whose clock looks wrong.

`tell/sentences/notes.py` says it in words.
"""

from __future__ import annotations

from itertools import islice
from typing import TYPE_CHECKING, Any, Final

from reach.findings import Note, NoteCode

if TYPE_CHECKING:
    import pandas as pd

    from reach.assign.clock import ClockFit
    from reach.findings import Counts
    from reach.rows import Rows

MANY_REJECTED: Final = 0.1  # of the rows: what is left may be another picture than all would give
MOST_REASONS: Final = 3


def notes(rows: Rows, *, placed: pd.DataFrame | None, suspects: int, clock: ClockFit | None) -> tuple[Note, ...]:
    """Everything that should be read once before the first headline.

    rows : the rows behind it
    placed : the spots as placed; None where the station's locator is not known for all
    suspects : how many receivers have a doubtful locator
    clock : whether the schedule fits the reports; None where there is none
    """
    from reach.assign import sessions

    told = sessions.notes(rows.vetted.spots, rows.study)
    clocks = [*_schedule(rows, clock), *_machine(rows), *([] if placed is None else _light(placed))]
    return (*_whose(rows), *_rejected(rows), *_not_asked(rows), *_many(suspects), *clocks, *rows.applied.notes, *told)


def control(file: str, counts: Counts) -> Note:
    """Where every row of a control station's own file went."""
    return Note(NoteCode.CONTROL_READ, {"file": file, "counts": counts.numbers})


def _whose(rows: Rows) -> list[Note]:
    """Whose rows these are, and of those that were set aside which can serve as a control."""
    from reach.compare import control

    calls, study = list(rows.owned.other)[: control.MOST], rows.study
    has_one = study.season is not None or (study.compare is not None and study.compare.control)
    if (
        not calls or has_one or study.direction == "heard"
    ):  # of receivers a control is another antenna in the same place
        return list(rows.owned.notes)
    found = control.neighbours(rows.vetted.spots, {call: rows.set_aside(call) for call in calls})
    offered = {"controls": [each.to_dict() for each in found]}
    return [
        note._replace(values={**note.values, **offered}) if note.code == NoteCode.OTHERS_SET_ASIDE else note
        for note in rows.owned.notes
    ]


def _rejected(rows: Rows) -> list[Note]:
    """That many rows are not counted, and why."""
    counts = rows.vetted.counts
    judged = counts.read - counts.set_aside
    if counts.rejected < max(MANY_REJECTED * judged, 1):
        return []
    reasons = dict(islice(rows.vetted.wrong.rejecting.items(), MOST_REASONS))
    return [Note(NoteCode.MANY_REJECTED, {"rows": counts.rejected, "of": judged, "rules": reasons})]


def _not_asked(rows: Rows) -> list[Note]:
    """How many sound rows lie outside the period and the bands that are studied."""
    study = rows.study
    if not rows.outside:
        return []
    ends = {"start": study.start, "end": study.end}
    asked: dict[str, Any] = {name: f"{end:%Y-%m-%d %H:%M}" for name, end in ends.items() if end is not None}
    bands = {"bands": study.bands} if study.bands else {}
    return [Note(NoteCode.NOT_ASKED, {"rows": rows.outside, **asked, **bands})]


def _many(suspects: int) -> list[Note]:
    """That what was meant was looked for with some of the suspects only."""
    from reach.suspects.repair import MOST_SEARCHED

    values = {"suspects": suspects, "searched": MOST_SEARCHED}
    return [Note(NoteCode.MANY_SUSPECTS, values)] if suspects > MOST_SEARCHED else []


def _schedule(rows: Rows, clock: ClockFit | None) -> list[Note]:
    """That the schedule does not fit the reports, where no comparison says so already."""
    if rows.study.compare is not None or clock is None or not clock.doubtful:
        return []
    return [Note(NoteCode.SCHEDULE, {"code": clock.code, "values": clock.values})]


def _machine(rows: Rows) -> list[Note]:
    """That this machine's clock, or the file's, must be wrong: reports lie in the future."""
    from reach.assign import clock

    newest, now = rows.judged.newest_utc, rows.now
    if newest is None:
        return []
    if rows.clock_is_behind:
        shown = {name: f"{moment:%Y-%m-%d %H:%M}" for name, moment in (("now", now), ("newest", newest))}
        return [Note(NoteCode.CLOCK_BEHIND, shown)]
    by_min = clock.future_min(newest, now)
    if by_min is None:
        return []
    return [Note(NoteCode.FUTURE, {"ahead_min": (newest - now).total_seconds() / 60, "by_min": by_min})]


def _light(placed: pd.DataFrame) -> list[Note]:
    """That the times do not fit day and night on the paths."""
    from reach.place.wrong_light import wrong_light

    light = wrong_light(placed)
    if light is None:
        return []
    return [Note(NoteCode.WRONG_LIGHT, {"wrong": light.wrong, "after_h": light.after_h, "after": light.after})]

"""What a walk wants to tell once, in words."""

from __future__ import annotations

from reach.base.words import Typography
from reach.findings import Note, NoteCode


def note(told: Note, say: Typography) -> str:
    """One sentence."""
    values = told.values
    match told.code:
        case NoteCode.OUTSIDE_SESSIONS:
            spots = say.things(values["spots"], "spot was", "spots were")
            return f"{spots} outside every session and schedule row; they count in the whole, under no setup."
        case NoteCode.FIX_WITHOUT_ROW:
            call, locator = values["call"] or "a blank callsign", values["locator"] or "left blank"
            return f"{values['where']}: no row of {call} has the locator {locator} any more."

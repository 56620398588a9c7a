"""How a cell is shown in an explanation."""

from __future__ import annotations

_LONGEST = 40


def quoted(text: str) -> str:
    """The text in quotes, on one line, shortened where it would drown the sentence."""
    return repr(text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "...")

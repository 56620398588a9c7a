"""Whether a form shows what is kept now: it carries a stamp of the files that it would change, and an older one changes nothing."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Final

from reach.errors import StudyError

SENTENCE: Final = (
    "This was changed meanwhile, in another tab or in an editor, so that nothing was kept: load the screen again to see it, then "
    "change what you meant to change."
)


def stamp(*held: Path | str | None) -> str:
    """Of what files hold; of one that is not there too, and of a text that was read from one."""
    seen = hashlib.sha256()
    for each in held:
        try:
            content = each.encode() if isinstance(each, str) else each.read_bytes() if each is not None else None
        except OSError:
            content = None
        seen.update(b"-" if content is None else b"+" + hashlib.sha256(content).digest())
    return seen.hexdigest()[:16]


def check(shown: str, *held: Path | str | None) -> None:
    """StudyError with SENTENCE where a form was made of other contents. shown : its stamp; a form that carries none shows nothing"""
    if shown and shown != stamp(*held):
        raise StudyError(SENTENCE)

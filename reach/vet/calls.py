"""Who heard it: callsigns, and identifiers of listeners that are none.

The shape is generous: it tells a callsign from a listener's number or a nickname, and judges nobody's licence.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Final

from reach.base.words import quoted
from reach.vet.ledger import NOTE, REJECTED, Finding

LONGEST: Final = 32

# Prefix (1 to 3 characters, a letter among them, no Q and no 0 or 1 in front: Radio Regulations, Appendix 42 allots
# none), a number, a suffix that ends in a letter. Before or after it, behind strokes: a visitor's prefix, /P, /MM, /4.
_BASE: Final = r"(?:[A-PR-Z][A-Z]?|[2-9][A-Z]{1,2}|[A-PR-Z][2-9])\d{1,4}[A-Z0-9]{0,5}[A-Z]"
_CALLSIGN: Final = re.compile(
    rf"(?:[A-Z0-9]{{1,4}}/)?{_BASE}(?:-[A-Z0-9]{{1,2}})?(?:/[A-Z0-9]{{1,5}}){{0,3}}", re.ASCII
)


def is_callsign(text: str) -> bool:
    """Whether a text has the shape of an amateur callsign, portable forms such as F/EI4QTB/P included.

    text : in any case, blanks around it do not matter. False for numbers of listeners such as NL9222.
    """
    return _CALLSIGN.fullmatch(text.strip().upper()) is not None


def judge(text: str) -> tuple[str | None, Finding | None]:
    """The identifier in upper case, or None where it cannot be one; and what is to be said about it.

    text : what came; blanks around it do not matter
    """
    bare = " ".join(text.split()).upper()
    if not bare:
        return None, Finding("callsign-blank", REJECTED, "The callsign is blank.")
    if not any(character.isalnum() for character in bare):
        why = f"{quoted(text)} names nobody; a callsign such as EI4QTB or a listener's identifier is wanted."
        return None, Finding("callsign-unreadable", REJECTED, why)
    if not bare.isprintable():
        why = f"{quoted(text)} holds characters that cannot be printed."
        return None, Finding("callsign-unreadable", REJECTED, why)
    if len(bare) > LONGEST:
        why = f"{quoted(text)} has {len(bare)} characters; a callsign or identifier has at most {LONGEST}."
        return None, Finding("callsign-too-long", REJECTED, why)
    return bare, None if is_callsign(bare) else _nearly(bare)


def _nearly(bare: str) -> Finding | None:
    """A note where the text is one obvious step from a callsign."""
    joined = bare.replace(" ", "")
    plain = unicodedata.normalize("NFKC", joined).replace("Ø", "0")
    if not is_callsign(plain):
        return None
    if joined == plain:
        why = f"{quoted(bare)} has a blank inside; it is kept as it is and counts as another receiver than {plain}."
        return Finding("callsign-blank-inside", NOTE, why, plain)
    why = f"{quoted(bare)} is not in plain letters and digits; it is kept as it is, a receiver apart from {plain}."
    return Finding("callsign-not-ascii", NOTE, why, plain)

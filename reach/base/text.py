"""Text from outside, cleaned once where it enters: control characters become visible, what turns the direction of writing
is named, and no sentence grows without end."""

from __future__ import annotations

import re
from typing import Final

LONGEST_SENTENCE: Final = 1500  # characters of an error or a line on the terminal: more is nobody's reading
_BEHIND: Final = 300  # of them from the end, where the advice stands
# C0 without tab and line ends, DEL, C1, what turns the direction of writing or joins lines, and halves of pairs (bytes of
# a file's name that are no UTF-8).
_ODD: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
_ENDS: Final = re.compile(r"[\t\r\n]+")


def is_clean(text: str) -> bool:
    """Whether a text holds nothing that a terminal, a page or a reader would take for an order."""
    return _ODD.search(text) is None


def shown(text: str) -> str:
    """The text with control and direction characters as visible ones: ESC as ␛, U+202E as <U+202E>.

    Tabs and line ends stay, for cells may run over lines; whatever else is clean comes back as it is.
    """
    return _ODD.sub(lambda found: _visible(found[0]), text)


def one_line(text: str) -> str:
    """As `shown`, on one line and no longer than LONGEST_SENTENCE: from the middle of a longer one something is left out,
    which is said."""
    plain = _ENDS.sub(" ", shown(text))
    if len(plain) <= LONGEST_SENTENCE:
        return plain
    left_out = f" ... ({len(plain) - LONGEST_SENTENCE:,} characters left out) ... "
    return plain[: LONGEST_SENTENCE - _BEHIND - len(left_out)] + left_out + plain[-_BEHIND:]


def _visible(character: str) -> str:
    code = ord(character)
    if code < 0x20:
        return chr(0x2400 + code)  # Unicode's own pictures of control characters
    if code == 0x7F:
        return "\u2421"
    return "\ufffd" if 0xD800 <= code < 0xE000 else f"<U+{code:04X}>"


_FORMULA: Final = re.compile(r"[=+\-@\t]")
_HARMLESS: Final = re.compile(r"[-+]?[\d., ]*(?:e[-+]?\d+)?|-+", re.IGNORECASE)  # numbers, and a stroke for nothing
FORMULA_START: Final = r"^[=+\-@\t]"  # for whoever looks through many cells at once


def as_cell(text: str) -> str:
    """The text as a spreadsheet may have it: what it would take for a formula stands behind an apostrophe."""
    return "'" + text if _FORMULA.match(text) and not _HARMLESS.fullmatch(text) else text


def from_cell(cell: str) -> str:
    """The text that `as_cell` wrote."""
    return cell[1:] if cell.startswith("'") and as_cell(cell[1:]) == cell else cell

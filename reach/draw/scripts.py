"""Characters and the typefaces that have them: the bundled ones, else one of this machine's; and both directions of writing
in one line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from importlib.resources import files
from typing import Final

from reach.base import tongue
from reach.base.text import shown

FAMILY: Final = ["IBM Plex Sans Condensed", "DejaVu Sans"]
FONT_FILES: Final = ("IBMPlexSansCondensed-Regular.ttf", "IBMPlexSansCondensed-SemiBold.ttf")
_NOT_FOR_WORDS: Final = ("Last Resort", "Emoji")  # boxes that name a script, pictures of many colours
_RIGHT_TO_LEFT: Final = (
    "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc"  # Unicode's blocks: Hebrew, Arabic, Syriac and their like
)
_RUN: Final = re.compile(f"[{_RIGHT_TO_LEFT}]+(?: +[{_RIGHT_TO_LEFT}]+)*")
# Scripts whose letters join, or change their order: those, and the blocks of India and its neighbours.
_JOINED: Final = re.compile(f"[{_RIGHT_TO_LEFT}\u0900-\u109f\u1780-\u17ff]")
_LEFT_TO_RIGHT: Final = "\N{LEFT-TO-RIGHT MARK}"


@cache
def bundled() -> frozenset[int]:
    """Make the bundled fonts known to matplotlib, once; the characters that they and matplotlib's own have."""
    import logging

    from matplotlib import font_manager

    # The fallback family has no semi-bold; its bold will do, and a user need not be told.
    logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)
    for name in FONT_FILES:
        font_manager.fontManager.addfont(str(files("reach.data").joinpath(name)))
    known: set[int] = set()
    for family in FAMILY:
        known |= _characters(font_manager.findfont(family))
    return frozenset(known)


@cache
def stand_in(character: str) -> tuple[str, str] | None:
    """Family and file of a typeface of this machine that has a character which the bundled ones lack; None without one."""
    return next((face for face in _of_this_machine() if ord(character) in _characters(face[1])), None)


@cache
def _of_this_machine() -> tuple[tuple[str, str], ...]:
    """Family and file of every upright typeface of usual weight and width, those without serifs first."""
    from matplotlib import font_manager

    found = {
        (str(face.name), str(face.fname))
        for face in font_manager.fontManager.ttflist
        if (face.style, face.stretch) == ("normal", "normal")
        and face.weight in (400, "normal", "regular")
        and face.name not in FAMILY
        and not any(name in face.name for name in _NOT_FOR_WORDS)
    }
    return tuple(sorted(found, key=lambda face: ("sans" not in face[0].lower(), face)))


@cache
def _characters(file: str) -> frozenset[int]:
    from matplotlib import font_manager

    try:
        return frozenset(font_manager.get_font(file).get_charmap())
    except (OSError, RuntimeError):  # removed since matplotlib looked, or none that can be drawn with
        return frozenset()


def has(character: str) -> bool:
    """Whether a character can be drawn."""
    return ord(character) in bundled() or character == "\n" or stand_in(character) is not None


def missing(texts: Iterable[str]) -> bool:
    """Whether any text has a character that no typeface has."""
    return not all(has(character) for text in texts for character in shown(text))


def joined(texts: Iterable[str]) -> bool:
    """Whether any text is in a script that cannot be set letter by letter from left to right."""
    return any(_JOINED.search(text) for text in texts)


def known(words: str) -> str:
    """The text with every character that no typeface has replaced by a lozenge, so that nothing is lost silently, and with
    what turns the direction of writing named, so that it turns nothing."""
    usual = bundled()
    return "".join(c if ord(c) in usual or has(c) else "\N{LOZENGE}" for c in shown(words))


def left_to_right(words: str) -> str:
    """A line that runs from left to right whatever is in it: a name in Hebrew or Arabic runs the other way by itself, and
    neither the sentence nor the number after it turns with it."""
    if not _RUN.search(words):
        return words
    return _LEFT_TO_RIGHT + _RUN.sub(lambda run: run[0] + _LEFT_TO_RIGHT, words)


# Scripts without blanks between words: a line may end after any of their letters, but not before a closing mark nor after an
# opening one. Source: JIS X 4051, characters that no line begins or ends with, in its main parts.
_NO_BLANKS: Final = re.compile("[\u3000-\u30ff\u3400-\u9fff\uff00-\uffef]")
_NOT_FIRST: Final = frozenset("、。，．・：；？！）」』】〕％…～ー々ゃゅょっぁぃぅぇぉャュョッァィゥェォ)],.;:%°")
_NOT_LAST: Final = frozenset("（「『【〔([")


def pieces(words: str) -> tuple[list[str], str]:
    """What a text may be broken into where a line ends, and what joins the pieces on one line."""
    if not _NO_BLANKS.search(words):
        return words.split(" "), " "
    found = [""]
    for here, after in zip(words, [*words[1:], ""], strict=True):
        found[-1] += here
        between = bool(_NO_BLANKS.match(here) or (after and _NO_BLANKS.match(after)))
        if here == " " or (between and after and after != " " and after not in _NOT_FIRST and here not in _NOT_LAST):
            found.append("")
    return [piece for piece in found if piece] or [""], ""


def drawn_in(language: str) -> str:
    """The language that pictures, slides and film speak: this one, or English where no typeface has its letters.

    language : one of tongue.LANGUAGES
    """
    told = tongue.tongue(language).catalogue.gettext("A dot is a {far}: the larger, the more reports.")
    return tongue.ENGLISH if missing([tongue.LANGUAGES[language], told]) else language


def families(words: str) -> list[str]:
    """The typefaces that a text needs, in order."""
    usual = bundled()
    others = (stand_in(c) for c in words if ord(c) not in usual and c not in ("\n", _LEFT_TO_RIGHT))
    return [*FAMILY, *dict.fromkeys(face[0] for face in others if face is not None)]

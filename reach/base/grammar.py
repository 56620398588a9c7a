"""The grammar of a Maidenhead locator, and what is wrong with text that is none.

field      2 letters  A to R     20 by 10 degrees
square     2 digits              2 by 1 degrees
subsquare  2 letters  A to X     5 by 2.5 minutes
extended   2 digits              30 by 15 seconds
further    2 letters  A to X

Source: IARU Region 1, VHF Managers Handbook, section 5.12 (the locator system of Maidenhead, 1980). The pair after the
extended square is common usage, in no standard. Case and blanks around the text are form, not content; everything
else counts: ASCII only, no blanks inside.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import combinations, product
from typing import Any, Final, NamedTuple

from reach.base.tongue import Phrase
from reach.base.words import TERMINAL, Typography, quoted
from reach.errors import LocatorError

LENGTHS: Final = (4, 6, 8, 10)

_LETTERS: Final = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_DIGITS: Final = "0123456789"
_PLACES: Final = (_LETTERS[:18], _DIGITS, _LETTERS[:24], _DIGITS, _LETTERS[:24])  # what each pair may be made of
_IN_ITS_FORM: Final = re.compile(
    "[A-R]{2}[0-9]{2}(?:[a-x]{2}(?:[0-9]{2}(?:[a-x]{2})?)?)?"
)  # a locator as it is written down
_PAIR_NAMES: Final = (
    Phrase("field"), Phrase("square"), Phrase("subsquare"), Phrase("extended square"), Phrase("last pair"),
)  # fmt: skip
_ORDINALS: Final = (
    Phrase("1st"), Phrase("2nd"), Phrase("3rd"), Phrase("4th"), Phrase("5th"), Phrase("6th"), Phrase("7th"), Phrase("8th"),
    Phrase("9th"), Phrase("10th"),
)  # fmt: skip

# What a hand or an eye takes for one another. A digit may stand for more than one letter: then nothing is obvious.
_DIGITS_FOR: Final = {"O": "0", "I": "1", "L": "1", "Z": "2", "S": "5", "B": "8"}
_LETTERS_FOR: Final = {"0": "O", "1": "IL", "2": "Z", "5": "S", "8": "B"}
_CHARACTER_NAMES: Final = {
    "O": Phrase("the letter O"), "0": Phrase("the digit zero"), "I": Phrase("the letter I"), "1": Phrase("the digit one"),
}  # fmt: skip

_FAR: Final = 2  # with more misfits than this, text is something else and not a mistyped locator

# Cyrillic and Greek capitals drawn like Latin ones: what a keyboard left in the other alphabet types.
_DRAWN_ALIKE: Final = str.maketrans("АВЕЅІЈКМНОРСТХΑΒΕΗΙΚΜΝΟΡΤΧØ", "ABESIJKMHOPCTXABEHIKMNOPTX0")


@dataclass(frozen=True)
class Why:
    """What is wrong with a text, as a message with its values, for `Typography.text`."""

    message: Phrase
    values: Mapping[str, Any]

    def said(self, say: Typography) -> str:
        """The sentence."""
        return say.text(self.message, **self.values)


def _why(message: Phrase, **values: Any) -> Why:
    return Why(message, values)


class Verdict(NamedTuple):  # of a million distinct locators one each
    """What the grammar says of one text.

    locator      in the form JN58td, or None where the text is no locator
    rule         a short stable name of what is wrong, empty where nothing is
    why          one sentence: what came, what was wanted; None where nothing is wrong; `explanation` is its English
    suggestion   the locator that was meant, where exactly one obvious reading exists, otherwise empty
    """

    locator: str | None
    rule: str = ""
    why: Why | None = None
    suggestion: str = ""

    @property
    def explanation(self) -> str:
        """`why` in English, as errors say it."""
        return self.why.said(TERMINAL) if self.why else ""


def judge(text: str, *, four_characters: bool = False) -> Verdict:
    """Is this text a locator, and if not, why not?

    text            : what came; case and surrounding blanks do not matter
    four_characters : whether a square such as JN58 will do; 6, 8 and 10 characters always do
    Returns a Verdict; never raises.
    """
    if _IN_ITS_FORM.fullmatch(text) and (four_characters or len(text) > 4):
        return Verdict(text)  # of a million distinct ones nearly all
    bare = text.strip()
    if not bare:
        return Verdict(None, "locator-blank", _why(Phrase("The locator is blank.")))
    if not bare.isascii():
        return _not_ascii(bare, four_characters)
    if not bare.isalnum():
        return _stray(bare, four_characters)
    body = bare.upper()
    if len(body) % 2:
        return _odd(bare)
    if len(body) < 4:
        why = _why(
            Phrase("{text} has {n} characters; a locator has six, such as JN58td."), text=quoted(bare), n=len(body)
        )
        return Verdict(None, "locator-too-short", why)
    if len(body) > LENGTHS[-1]:
        why = _why(Phrase("{text} has {n} characters; a locator has six, at most ten."), text=quoted(bare), n=len(body))
        return Verdict(None, "locator-too-long", why)
    if not _fits(body):
        return _misfit(bare, body, four_characters)
    if len(body) == 4 and not four_characters:
        why = _why(
            Phrase("{text} is a square of 2 by 1 degrees; six characters are wanted unless squares are allowed."),
            text=quoted(bare),
        )
        return Verdict(None, "locator-four-characters", why)
    return Verdict(_tidy(body))


def tidy(text: str) -> str:
    """A locator of 4, 6, 8 or 10 characters in the form JN58td.

    LocatorError with the reason where the text is none.
    """
    verdict = judge(text, four_characters=True)
    if verdict.locator is None:
        hint = f" Did you mean {verdict.suggestion}?" if verdict.suggestion else ""
        raise LocatorError(verdict.explanation + hint)
    return verdict.locator


def _tidy(body: str) -> str:
    return body[:4].upper() + body[4:].lower()


def _fits(body: str) -> bool:
    """Upper case, even length: does every character belong to the alphabet of its place?"""
    return all(character in _PLACES[i // 2] for i, character in enumerate(body))


def _misfits(body: str) -> int:
    """How many characters are of the wrong kind, or too many, or all of them where there are none."""
    wrong = sum((character in _DIGITS) != (_PLACES[i // 2] is _DIGITS) for i, character in enumerate(body[:10]))
    return wrong + max(len(body) - LENGTHS[-1], 0) if body else LENGTHS[-1]


def _is_locator(body: str, four_characters: bool) -> bool:
    return len(body) in LENGTHS and (len(body) > 4 or four_characters) and _fits(body)


def _one(readings: set[str]) -> str:
    """The suggestion: the only reading there is, or nothing."""
    return _tidy(next(iter(readings))) if len(readings) == 1 else ""


def _no_locator(bare: str) -> Verdict:
    why = _why(Phrase("{text} is no locator; six characters such as JN58td are wanted."), text=quoted(bare))
    return Verdict(None, "locator-no-locator", why)


def _not_ascii(bare: str, four_characters: bool) -> Verdict:
    plain = unicodedata.normalize("NFKC", bare).upper().translate(_DRAWN_ALIKE).replace(" ", "")
    foreign = next(character for character in bare if not character.isascii())
    name = unicodedata.name(foreign, f"U+{ord(foreign):04X}")
    why = _why(
        Phrase("{text} holds {character} ({name}); a locator is written in plain letters A to X and digits 0 to 9."),
        text=quoted(bare),
        character=repr(foreign),
        name=name,
    )
    readings = {plain} if plain.isascii() and _is_locator(plain, four_characters) else set()
    return Verdict(None, "locator-not-ascii", why, _one(readings))


def _stray(bare: str, four_characters: bool) -> Verdict:
    joined = "".join(character for character in bare if character.isalnum()).upper()
    if len(joined) < LENGTHS[0] or _misfits(joined) > _FAR:
        return _no_locator(bare)
    stray = next(character for character in bare if not character.isalnum())
    why = _why(
        Phrase("{text} holds {character}; a locator is letters and digits only, such as JN58td."),
        text=quoted(bare),
        character=repr(stray),
    )
    readings = {joined} if _is_locator(joined, four_characters) else set()
    return Verdict(None, "locator-stray-character", why, _one(readings))


def _odd(bare: str) -> Verdict:
    if _misfits(bare.upper()) > 1:
        return _no_locator(bare)
    rule = "locator-too-short" if len(bare) < 4 else "locator-odd-length"
    one = Phrase("{text} has {n} character; a locator is made of pairs, six characters such as JN58td.")
    many = Phrase("{text} has {n} characters; a locator is made of pairs, six characters such as JN58td.")
    why = _why(many if len(bare) > 1 else one, text=quoted(bare), n=len(bare))
    return Verdict(None, rule, why)


def _misfit(bare: str, body: str, four_characters: bool) -> Verdict:
    """The right length, and yet no locator: name the first thing wrong, and the one repair if there is one."""
    swaps = {s for s in _pair_orders(body) if _fits(s)} if _misfits(body) else set()
    if swaps:
        why = _why(Phrase("{text} has its pairs in another order than letters, digits, letters."), text=quoted(bare))
        return Verdict(None, "locator-pairs-swapped", why, _one(swaps) if len(body) > 4 or four_characters else "")
    if _misfits(body) > _FAR:
        return _no_locator(bare)
    at = next(i for i, character in enumerate(body) if character not in _PLACES[i // 2])
    wanted = _PLACES[at // 2]
    readings = {r for r in _look_alikes(body) if _is_locator(r, four_characters)}
    what = _CHARACTER_NAMES.get(body[at], bare[at])
    values = {
        "ordinal": _ORDINALS[at],
        "text": quoted(bare),
        "what": what,
        "last": wanted[-1],
        "pair": _PAIR_NAMES[at // 2],
    }
    if wanted is _DIGITS:
        message = Phrase("The {ordinal} character of {text} is {what}, where a digit must stand ({pair}).")
        return Verdict(None, "locator-letter-for-digit", Why(message, values), _one(readings))
    if body[at] in _DIGITS:
        message = Phrase("The {ordinal} character of {text} is {what}, where a letter A to {last} must stand ({pair}).")
        return Verdict(None, "locator-digit-for-letter", Why(message, values), _one(readings))
    message = Phrase(
        "The {ordinal} character of {text} is {what}, beyond {last}: a letter A to {last} must stand ({pair})."
    )
    return Verdict(None, f"locator-beyond-{wanted[-1].lower()}", Why(message, values), _one(readings))


def _pair_orders(body: str) -> list[str]:
    """The text with each two of its pairs exchanged, and turned round so that another pair comes first."""
    pairs = [body[i : i + 2] for i in range(0, len(body), 2)]
    orders = ["".join(pairs[k:] + pairs[:k]) for k in range(1, len(pairs))]
    for i, j in combinations(range(len(pairs)), 2):
        order = list(pairs)
        order[i], order[j] = order[j], order[i]
        orders.append("".join(order))
    return orders


def _look_alikes(body: str) -> list[str]:
    """Every reading in which characters of the wrong kind stand for those they look like."""
    choices = []
    for i, character in enumerate(body):
        wanted = _PLACES[i // 2]
        if wanted is _DIGITS:
            choices.append(character if character in _DIGITS else _DIGITS_FOR.get(character, ""))
        else:
            choices.append(character if character not in _DIGITS else _LETTERS_FOR.get(character, ""))
    return ["".join(reading) for reading in product(*choices)]

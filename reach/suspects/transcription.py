"""Known transcription errors: how a hand or an eye turns one good locator into another.

An error changes the six characters in one of these ways. One character for a neighbour on the keyboard, or for any other;
the letters or digits of a pair exchanged, or of all pairs (latitude written before longitude); the first and the last
pair exchanged; the position mirrored, north for south or east for west; latitude and longitude exchanged before
they were converted. O for 0 and I for 1 leave no locator at all: `grammar` knows them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Small = npt.NDArray[np.int16]  # characters as numbers: of a million locators each has a hundred neighbours
Floats = npt.NDArray[np.float64]

SIZES: Final = (18, 18, 10, 10, 24, 24)  # how many values each of the six characters has
_FIRST: Final = "AA00AA"
_MIDDLE: Final = ord("M") - ord("A")  # what a square has for its last pair: the cell just north-east of its middle
_CASE: Final = np.uint8(0x20)  # in ASCII the bit between a capital and a small letter, set in every digit
_ORIGIN: Final = np.array([ord(character) for character in _FIRST], dtype=np.int16)


class Kind(StrEnum):
    """What turned one locator into another."""

    NEIGHBOUR = "neighbouring-key"
    CHARACTER = "wrong-character"
    EXCHANGED = "characters-exchanged"
    MIRRORED = "mirrored"  # north for south, east for west, or both
    TURNED = "latitude-for-longitude"
    PAIRS = "pairs-exchanged"  # the first and the last


# What can happen, and how often each is taken to be the cause of a well-formed wrong locator. Nobody has counted; these
# are our guess, and only their order of size matters.
KINDS: Final = {
    Kind.NEIGHBOUR: 0.35,
    Kind.CHARACTER: 0.20,
    Kind.EXCHANGED: 0.25,
    Kind.MIRRORED: 0.10,
    Kind.TURNED: 0.07,
    Kind.PAIRS: 0.03,
}
(NEIGHBOUR, CHARACTER, EXCHANGED, MIRRORED, TURNED, PAIRS) = range(len(KINDS))
CODES: Final = tuple(KINDS)

# Each keyboard as rows with the place of their first key, in widths of a key.
_KEYBOARDS: Final = (
    (("QWERTYUIOP", 0.0), ("ASDFGHJKL", 0.25), ("ZXCVBNM", 0.75)),
    (("QWERTZUIOP", 0.0), ("ASDFGHJKL", 0.25), ("YXCVBNM", 0.75)),
    (("AZERTYUIOP", 0.0), ("QSDFGHJKLM", 0.25), ("WXCVBN", 0.75)),
    (("1234567890", 0.0),),
    (("789", 0.0), ("456", 0.0), ("123", 0.0), ("0", 0.0)),
)
AT_ONCE: Final = 2000  # locators worked on together: 20 MB
_NEXT_KEY: Final = 1.3  # widths; the key beside, and those above and below


@dataclass(frozen=True)
class Candidates:
    """What may have been meant, for n locators with up to k candidates each.

    values  shape (n, k, 6): the six characters as numbers
    kind    shape (k,): index into CODES
    there   shape (n, k): whether there is such a candidate
    """

    values: Small
    kind: Ints
    there: npt.NDArray[np.bool_]

    def log_prior(self) -> Floats:
        """Logarithm of the share of the kind, divided among the candidates of that kind; shape (n, k)."""
        prior = np.full(self.there.shape, -np.inf)
        for kind, share in enumerate(KINDS.values()):
            of_kind = self.there & (self.kind == kind)
            count = of_kind.sum(axis=1, keepdims=True)
            prior = np.where(of_kind, np.log(share / np.maximum(count, 1)), prior)
        return prior


def relations(first: Sequence[str], second: Sequence[str]) -> npt.NDArray[np.object_]:
    """The error that lies between each two locators, by code; "" where it takes more than one, or none.

    first, second : n locators each, of at least four characters; compared as far as both go, at most six characters
    Returns Kinds or "", shape (n,).
    """
    names = np.full(len(first), "", dtype=object)
    for start in range(0, len(first), AT_ONCE):
        a, b = first[start : start + AT_ONCE], second[start : start + AT_ONCE]
        wide = np.fromiter(map(len, a), int, len(a)) >= 6
        wide &= np.fromiter(map(len, b), int, len(b)) >= 6
        here, there = _given(a), _given(b)
        here[~wide, 4:] = there[~wide, 4:] = _MIDDLE
        names[start : start + AT_ONCE] = np.array([*CODES, ""], dtype=object)[_relation(here, there, wide)]
    return names


def _relation(here: Small, there: Small, wide: npt.NDArray[np.bool_]) -> Ints:
    """Index into CODES of the error between each two locators as numbers, len(CODES) where there is none.

    The same as a search among all `candidates`, without making those of the characters: one of them differs, or not.
    """
    differ = here != there
    kind = np.full(len(here), len(CODES), dtype=np.int64)
    # Two kinds may lead to one locator (all pairs exchanged is one pair exchanged where the others are double
    # letters): the first in the table is named.
    for values, number, good in (*_exchanges(here, wide), *_mirrors(here), *_turns(here)):
        match = (good & (values == there[:, None]).all(axis=2)).any(axis=1) & differ.any(axis=1)
        kind[match] = np.minimum(kind[match], number)
    one = np.flatnonzero(differ.sum(axis=1) == 1)
    place = differ[one].argmax(axis=1)
    a, b = here[one, place], there[one, place]
    near = np.where(place // 2 == 1, _near(False)[np.minimum(a, 9), np.minimum(b, 9)], _near(True)[a, b])
    kind[one] = np.where(near, NEIGHBOUR, CHARACTER)
    return kind


def are_far(first: npt.NDArray[np.object_], second: npt.NDArray[np.object_]) -> npt.NDArray[np.bool_]:
    """Whether each two locators differ in their first four characters, shape (n,)."""
    a, b = (names.astype("S4").view(np.uint8).reshape(len(names), 4) for names in (first, second))
    return (((a ^ b) & ~_CASE) != 0).any(axis=1)


def numbers(locator: str) -> Small:
    """The first six characters as numbers from 0; a square stands for its cell just north-east of the middle."""
    return _given([locator])[0]


def _given(locators: Sequence[str]) -> Small:
    """`numbers` of many at once, shape (n, 6)."""
    text = "".join([name[:6] if len(name) >= 6 else name[:4] + "MM" for name in locators]).upper()
    return np.frombuffer(text.encode("ascii"), dtype=np.uint8).reshape(-1, 6).astype(np.int16) - _ORIGIN


def text(values: Small, like: str = "") -> str:
    """A locator from six numbers, as long as another and with its characters behind the sixth."""
    name = "".join(chr(int(value) + ord(first)) for value, first in zip(values, _FIRST, strict=True))
    name = name[:4] + name[4:].lower()
    return name[:4] if 0 < len(like) < 6 else name + like[6:]


def centres(values: Small) -> tuple[Floats, Floats]:
    """lon_deg, lat_deg of the cells' centres. values : shape (..., 6)."""
    lon = -180 + 20 * values[..., 0] + 2 * values[..., 2] + (values[..., 4] + 0.5) / 12
    lat = -90 + 10 * values[..., 1] + values[..., 3] + (values[..., 5] + 0.5) / 24
    return lon, lat


def candidates(locators: list[str]) -> Candidates:
    """All locators from which one error leads to each of these.

    locators : n locators of four or more characters; only the first six characters are varied, of a square four
    Returns Candidates. Every error but that of the neighbouring key on uneven keyboards works both ways.
    """
    given = _given(locators)
    wide = np.array([len(name) >= 6 for name in locators], dtype=bool)
    others = [*_exchanges(given, wide), *_mirrors(given), *_turns(given)]
    parts = [
        *_characters(given, wide),
        *((part, kind, good & (part != given[:, None]).any(axis=2)) for part, kind, good in others),
    ]
    values = np.concatenate([part for part, _, _ in parts], axis=1)
    kind = np.concatenate([np.full(part.shape[1], kind) for part, kind, _ in parts])
    return Candidates(values, kind, np.concatenate([good for _, _, good in parts], axis=1))


_Part = tuple[Small, int, npt.NDArray[np.bool_]]


def _characters(given: Small, wide: npt.NDArray[np.bool_]) -> list[_Part]:
    """Each character for each other one: neighbours on a keyboard, and the rest."""
    parts: list[_Part] = []
    for place, size in enumerate(SIZES):
        values = np.repeat(given[:, None], size, axis=1)
        values[:, :, place] = np.arange(size)
        near = _near(place // 2 != 1)[:, :size][given[:, place]]
        good = np.broadcast_to((wide | (place < 4))[:, None], near.shape) & (values[:, :, place] != given[:, [place]])
        parts += [(values, NEIGHBOUR, good & near), (values, CHARACTER, good & ~near)]
    return parts


def _exchanges(given: Small, wide: npt.NDArray[np.bool_]) -> list[_Part]:
    """The characters of one pair exchanged, or of all; the first pair exchanged with the last."""
    orders = ([1, 0, 2, 3, 4, 5], [0, 1, 3, 2, 4, 5], [0, 1, 2, 3, 5, 4])
    one = np.stack([given[:, order] for order in orders], axis=1)
    some = np.stack([np.ones_like(wide), np.ones_like(wide), wide], axis=1)
    every = given[:, None, [1, 0, 3, 2, 5, 4]]
    ends = given[:, None, [4, 5, 2, 3, 0, 1]]
    fits = (wide & (given[:, 4:] < SIZES[0]).all(axis=1))[:, None]
    return [(one, EXCHANGED, some), (every, TURNED, np.ones((len(given), 1), dtype=bool)), (ends, PAIRS, fits)]


def _mirrors(given: Small) -> list[_Part]:
    """North for south, east for west, and both."""
    flipped = np.array(SIZES, dtype=np.int16) - 1 - given
    east = np.array([True, False] * 3)
    some = np.stack([np.where(flip, flipped, given) for flip in (east, ~east, east | ~east)], axis=1)
    return [(some, MIRRORED, np.ones(some.shape[:2], dtype=bool))]


def _turns(given: Small) -> list[_Part]:
    """Degrees of longitude taken for degrees of latitude and the reverse.

    A cell is twice as many degrees wide as high, so two cells, one above the other, may have been meant.
    """
    lon, lat = centres(given)
    fits = np.abs(lon) < 90
    column = np.floor((lat + 180) * 12).astype(np.int64)
    both = []
    for half_up in (-1 / 48, 1 / 48):
        row = np.floor((np.where(fits, lon, 0) + half_up + 90) * 24).astype(np.int64)
        values = [column // 240, row // 240, column // 24 % 10, row // 24 % 10, column % 24, row % 24]
        both.append(np.stack(values, axis=1).astype(np.int16))
    return [(np.stack(both, axis=1), TURNED, np.stack([fits, fits], axis=1))]


@cache
def _near(letters: bool) -> npt.NDArray[np.bool_]:
    """Which characters lie beside which on some keyboard; shape (24, 24) for letters, (10, 10) for digits."""
    size, first = (24, "A") if letters else (10, "0")
    near = np.zeros((size, size), dtype=bool)
    for keyboard in _KEYBOARDS:
        keys = [(ord(key) - ord(first), start + k, row) for row, (names, start) in enumerate(keyboard)
                for k, key in enumerate(names)]  # fmt: skip
        inside = [key for key in keys if 0 <= key[0] < size]
        for a, a_x, a_y in inside:
            for b, b_x, b_y in inside:
                near[a, b] |= a != b and np.hypot(a_x - b_x, a_y - b_y) < _NEXT_KEY
    return near

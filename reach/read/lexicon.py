"""What the words of a header lean towards, in some thirty languages, and the names of months.

A header is cut into words without case and accents: a table saved in the wrong one of two related code pages still
leans the right way. A word leans, it never decides: what a column holds does.
"""

from __future__ import annotations

import csv
import re
import unicodedata
from functools import cache, lru_cache
from typing import Final

from reach.data import read_text

# Letters that fall apart into no letter and accent, as people without that key type them.
_LETTERS: Final = str.maketrans({"ø": "o", "ł": "l", "đ": "d", "ß": "ss", "æ": "ae", "œ": "oe", "ı": "i", "ё": "е"})
_CAMEL: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")
_WORD: Final = re.compile(r"[^\W_]+")
_SHORTEST_STEM: Final = 4
_ALIKE: Final = 5  # characters of the same beginning that make two words relatives
# The scripts that write words without blanks between them.
_RUN_ON: Final = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af]")

UNITS: Final = {
    "hz": "hz", "гц": "hz", "khz": "khz", "кгц": "khz", "mhz": "mhz", "мгц": "mhz", "ghz": "ghz", "ггц": "ghz",
    "db": "db", "дб": "db", "dbm": "dbm", "дбм": "dbm", "w": "w", "watt": "w", "watts": "w", "вт": "w", "mw": "mw",
    "мвт": "mw", "kw": "kw", "km": "km", "км": "km", "mi": "mi", "miles": "mi", "公里": "km", "m": "m", "м": "m",
    "deg": "deg", "°": "deg", "瓦": "w",
}  # fmt: skip


def folded(text: str) -> str:
    """A text without case, accents and the width of its characters."""
    plain = unicodedata.normalize("NFKD", text.casefold()).translate(_LETTERS)
    bare = "".join(character for character in plain if not unicodedata.combining(character))
    return unicodedata.normalize("NFC", bare)  # Hangul falls apart as accents do: put it together again


@cache
def leanings(header: str) -> dict[str, float]:
    """How much a header leans towards each kind of column.

    header : as in the file
    Returns kind -> weight above 0 up to 1: a whole word counts 1, the beginning of a longer word less. The kinds are those
    of data/header_words.csv; not among them where nothing leans that way.
    """
    # Words that touch are taken apart at the change of case: "rxCall" is "rx call".
    words = _WORD.findall(folded(_CAMEL.sub(" ", unicodedata.normalize("NFKC", header))))
    found: dict[str, float] = {}
    spent: set[int] = set()
    # The longest phrase first, and its words are spent: "reported by" is who, though "report" alone is how strong.
    for size in range(min(4, len(words)), 0, -1):
        for at in range(len(words) - size + 1):
            span = set(range(at, at + size))
            kinds = _phrases().get(" ".join(words[at : at + size]), ())
            if kinds and not span & spent:
                spent |= span
                found |= dict.fromkeys(kinds, 1.0)
    for at, word in enumerate(words):
        if at not in spent:
            for kind, weight in _partial(word).items():
                found[kind] = max(found.get(kind, 0.0), weight)
    return found


def units(header: str) -> set[str]:
    """The units that a header names: "QRG (kHz)" names khz."""
    marks = {"deg"} if "°" in header else set()
    plain = unicodedata.normalize("NFKC", header)
    for part in (plain, _CAMEL.sub(" ", plain)):  # "freqMHz" only falls apart the second way, "kHz" only the first
        found = {UNITS[word] for word in _WORD.findall(folded(part)) if word in UNITS}
        if found:
            return marks | found
    return marks


def month(word: str) -> int | None:
    """The month of a name in any of the languages known, 1 to 12; None where it is none."""
    return _months().get(folded(word.strip(" .")))


def is_total(text: str) -> bool:
    """Whether a cell begins as the last row of a table does: total, sum, mean."""
    words = _WORD.findall(folded(text))
    return bool(words) and ("total" in leanings(words[0]) or "total" in leanings(text))


@cache
def _phrases() -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for kind, phrases in _rows("header_words.csv"):
        for phrase in phrases.split("|"):
            plain = " ".join(_WORD.findall(folded(phrase)))
            if plain and kind not in found.get(plain, ()):
                found[plain] = (*found.get(plain, ()), kind)
    return found


@cache
def _run_on() -> list[str]:
    """Words of scripts without blanks, which may stand in another anywhere."""
    return [phrase for phrase in _phrases() if " " not in phrase and _RUN_ON.search(phrase)]


@cache
def _stems() -> dict[str, list[str]]:
    """The other single words, by the characters that they begin with; shorter ones say nothing of longer."""
    found: dict[str, list[str]] = {}
    for phrase in _phrases():
        if len(phrase) >= _SHORTEST_STEM and " " not in phrase and not _RUN_ON.search(phrase):
            found.setdefault(phrase[:_SHORTEST_STEM], []).append(phrase)
    return found


@lru_cache(4096)
def _partial(word: str) -> dict[str, float]:
    """What parts of a word lean towards: 'Empfängerrufzeichen' begins with a word for the receiver."""
    found: dict[str, float] = {}
    endings = [word[at:] for at in range(len(word) - _SHORTEST_STEM + 1)]
    stems = {
        *_stems().get(word[:_SHORTEST_STEM], ()),
        *(end for end in endings if end in _stems().get(end[:_SHORTEST_STEM], ())),
    }
    weights = {stem: 1.0 for stem in _run_on() if stem in word and (len(stem) > 1 or len(word) == 1)}
    weights |= {stem: _weight(stem, word) for stem in stems}
    for stem, weight in weights.items():
        for kind in _phrases()[stem]:
            found[kind] = max(found.get(kind, 0.0), weight)
    return {kind: weight for kind, weight in found.items() if weight}


def _weight(stem: str, word: str) -> float:
    """How much a word leans as another does that it begins or ends with, or that it begins, or with whose beginning it begins."""
    if word.startswith(stem) or word.endswith(stem):
        return min(1.0, 0.4 + 0.12 * len(stem)) * 0.9
    shorter = min(len(word), len(stem))
    same = next((at for at in range(shorter) if stem[at] != word[at]), shorter)
    if same == len(word) or same >= max(_ALIKE, 0.65 * max(len(word), len(stem))):
        return min(1.0, 0.4 + 0.12 * same) * 0.8  # another ending of the same word
    return 0.0


@cache
def _months() -> dict[str, int]:
    found: dict[str, int] = {}
    for row in csv.reader(read_text("month_names.csv").splitlines()[1:]):
        for number, names in enumerate(row[1:], start=1):
            for name in names.split():
                # A word that is one month here and another there would be read wrongly somewhere.
                assert found.setdefault(folded(name), number) == number, name
    return found


def _rows(name: str) -> list[tuple[str, str]]:
    return [(row[0], row[1]) for row in csv.reader(read_text(name).splitlines()[1:])]

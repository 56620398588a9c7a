"""How much text fits where: lines, sizes that fit, cuts with an ellipsis, tables that stay in their box.

Widths are the faces' own, without the rounding to screen pixels that drawing libraries measure with.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from reach.base import words
from reach.draw import style
from reach.tell.deck import layout
from reach.tell.deck.layout import Box, Paragraph

if TYPE_CHECKING:
    from reach.tell.deck.model import Deck, Slide

ELLIPSIS: Final = "…"
LONGEST_NAME: Final = 36  # characters
LEAST_ON_ONE_LINE: Final = 28  # size down to which a table is rather made smaller than its texts broken
MOST_LINES: Final = 3  # in a cell of a table
_UNFIT: Final = ("Cc", "Cf", "Cs", "Co", "Cn")
_WIDE_EM: Final = 1.0  # of a character that no face has


def clean(text: str) -> str:
    """The text in one line without anything that a slide cannot hold: control characters, halves of characters, marks
    that turn the direction of writing."""
    one_line = re.sub(r"[ \t\r\n\f\v]+", " ", text)
    return "".join(c for c in one_line if unicodedata.category(c) not in _UNFIT).strip()


def plain(text: str) -> str:
    """The cleaned text with the thin space, which common faces lack, as a plain one that does not break either."""
    return clean(text).replace(words.THIN, words.NO_BREAK)


def name(text: str) -> str:
    """A setup's name, a callsign, ... to be put into a sentence: cleaned, and not longer than a sentence can bear."""
    text = clean(text)
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1].rstrip() + ELLIPSIS


def signs(text: str) -> str:
    """The cleaned text of a sentence written for a terminal, with true signs (no line ends after the minus of -0.2) and
    thousands as everywhere on slides."""
    return words.spaced(re.sub(r"(?<!\w)-(?=\d)", words.MINUS, clean(text).replace("+-", "±")))


@dataclass(frozen=True)
class Grid:
    """A table that fits: texts as they are shown, first the names of the columns; widths and heights [px]."""

    rows: tuple[tuple[str, ...], ...]
    size: float
    widths: tuple[float, ...]
    heights: tuple[float, ...]


@dataclass(frozen=True)
class Face:
    """A family of type and what fits when it is used. Sizes and widths in px."""

    family: str
    bold_weight: int

    def width(self, text: str, size: float, *, bold: bool = False) -> float:
        """How wide a line of text is."""
        weight = self.bold_weight if bold else style.REGULAR
        return size * sum(_advance_em(self.family, weight, character) for character in text)

    def lines(self, text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
        """The text broken into lines that fit; a word too long for a line is broken anywhere, as programs do."""
        found: list[str] = []
        for word in text.split(" "):
            longer = f"{found[-1]} {word}" if found else word
            if found and self.width(longer, size, bold=bold) <= room:
                found[-1] = longer
                continue
            *full, rest = self._pieces(word, size, room, bold)
            found += [*full, rest]
        return found

    def _pieces(self, word: str, size: float, room: float, bold: bool) -> list[str]:
        """A word in pieces that fit, one for most words."""
        pieces = [""]
        wide = 0.0
        for character in word:
            own = self.width(character, size, bold=bold)
            if pieces[-1] and wide + own > room:
                pieces.append("")
                wide = 0.0
            pieces[-1] += character
            wide += own
        return pieces

    def cut(self, text: str, size: float, room: float, most: int, *, bold: bool = False) -> str:
        """The text, cut with an ellipsis where it needs more than so many lines."""
        whole = self.lines(text, size, room, bold=bold)
        if len(whole) <= most:
            return text
        keep = len(" ".join(whole[:most]))
        while keep > 1 and len(self.lines(text[:keep].rstrip() + ELLIPSIS, size, room, bold=bold)) > most:
            keep -= 1
        return text[:keep].rstrip() + ELLIPSIS

    def title(self, text: str, sizes: Sequence[float], room: float, most: int = 2) -> tuple[str, float]:
        """A title and its size: smaller if need be, then cut, never more than so many lines."""
        for size in sizes:
            if len(self.lines(text, size, room, bold=True)) <= most:
                return text, size
        return self.cut(text, sizes[-1], room, most, bold=True), sizes[-1]

    def title_on(self, slide: Slide) -> tuple[Box, str, float]:
        """The place of a slide's title, the title as it fits there, its size."""
        opening = slide.layout == "opening"
        box, sizes = (layout.BIG_TITLE, layout.BIG_TITLE_SIZES) if opening else (layout.TITLE, layout.TITLE_SIZES)
        return box, *self.title(plain(slide.title), sizes, box.width, 3 if opening else 2)

    def texts_on(self, slide: Slide) -> list[tuple[Box, list[Paragraph], float]]:
        """The places of a slide's texts, the paragraphs as they fit there, their size."""
        places = layout.TEXTS[slide.layout]
        told = [[replace(one, text=plain(one.text)) for one in each] for each in slide.texts]
        return [
            (place, *self.fitted(paragraphs, place, self.sizes(told, places, k)))
            for k, (place, paragraphs) in enumerate(zip(places, told, strict=True))
        ]

    def foot(self, deck: Deck) -> str:
        """What stands at the foot of every slide, in one line."""
        notice = f"{plain(deck.notice)} · " if deck.notice else ""
        return self.cut(notice + plain(deck.foot), layout.FOOT_SIZE, layout.FOOT.width, 1)

    def height(self, paragraphs: Iterable[Paragraph], size: float, room: float) -> float:
        """How high paragraphs are, one below the other."""
        total = 0.0
        for k, one in enumerate(paragraphs):
            own = one.share * size
            count = len(self.lines(one.text, own, room - one.indent * own, bold=one.bold))
            total += count * own * layout.LEADING + (one.gap * own if k else 0.0)
        return total

    def fitted(
        self, paragraphs: Sequence[Paragraph], box: Box, sizes: Sequence[float] = layout.TEXT_SIZES
    ) -> tuple[list[Paragraph], float]:
        """Paragraphs and the size at which they fit: smaller if need be, then the last ones are cut or left out."""
        for size in sizes:
            if self.height(paragraphs, size, box.width) <= box.height:
                return list(paragraphs), size
        size = sizes[-1]
        kept: list[Paragraph] = []
        for one in paragraphs:
            own = one.share * size
            room = box.height - self.height(kept, size, box.width) - (one.gap * own if kept else 0.0)
            most = int(room / (own * layout.LEADING) + 1e-9)
            if most < 1:
                break
            kept.append(replace(one, text=self.cut(one.text, own, box.width - one.indent * own, most, bold=one.bold)))
            if kept[-1].text != one.text:
                break
        return kept, size

    def sizes(self, texts: Sequence[Sequence[Paragraph]], boxes: Sequence[Box], place: int) -> Sequence[float]:
        """The sizes to try for one of several texts: all but the last, which closes, have the same."""
        if len(texts) == 1:
            return layout.TEXT_SIZES
        most = min(self.fitted(text, box)[1] for text, box in zip(texts[:-1], boxes[:-1], strict=True))
        return (most,) if place < len(texts) - 1 else tuple(size for size in layout.TEXT_SIZES if size <= most)

    def named_every(self, names: Sequence[str], size: float, width: float) -> int:
        """Every how manyth column of a chart that wide can be named without the names running into each other."""
        widest = max((self.width(name, size) for name in names), default=0.0) + size / 2
        room = (width - 4 * size) / max(len(names), 1)
        return max(1, int(-(-widest // room)))

    def grid(
        self,
        columns: Sequence[str],
        rows: Sequence[Sequence[str]],
        shares: Sequence[float],
        box: Box,
        bold: Collection[int] = (),
    ) -> Grid:
        """A table in a box: smaller type if need be, then long words cut, then the last rows left out, said in a row.

        columns : names, shown bold; rows : texts, as many in each as there are names; bold : rows that are so too
        shares : of the box for each column, in any unit, where not every text fits on a line of its own
        """
        texts = [tuple(columns), *(tuple(row) for row in rows)]
        heavy = [0, *(k + 1 for k in bold)]
        tries = [(size, self._needed(texts, heavy, size, shares, box.width)) for size in layout.TABLE_SIZES]
        tries = [(size, widths) for size, widths in tries if widths and size >= LEAST_ON_ONE_LINE]
        tries += [(size, tuple(box.width * each / sum(shares) for each in shares)) for size in layout.TABLE_SIZES]
        for size, widths in tries:
            shown, heights = self._rows(texts, heavy, widths, size)
            if shown == texts and sum(heights) <= box.height:
                break
        while sum(heights) > box.height and len(shown) > 2:
            left_out = len(texts) - len(shown) + 2
            shown = [*shown[:-2], (f"{ELLIPSIS} + {left_out}", *[""] * (len(columns) - 1))]
            _, heights = self._rows(shown, heavy, widths, size)
        return Grid(tuple(shown), size, widths, tuple(heights))

    def _needed(
        self,
        texts: Sequence[tuple[str, ...]],
        heavy: Collection[int],
        size: float,
        shares: Sequence[float],
        room: float,
    ) -> tuple[float, ...]:
        """Widths that keep every text on a line of its own and the names' words whole, what is left over going by the
        shares; empty where there is no room for that."""
        needed = []
        for column in range(len(shares)):
            words_of_name = [self.width(word, size, bold=True) for word in texts[0][column].split(" ")]
            body = [self.width(row[column], size, bold=k in heavy) for k, row in enumerate(texts) if k]
            needed.append(max(words_of_name + body) + 2 * layout.CELL_PX + 1)
        left_over = room - sum(needed)
        if left_over < 0:
            return ()
        return tuple(own + left_over * share / sum(shares) for own, share in zip(needed, shares, strict=True))

    def _rows(
        self, texts: Sequence[tuple[str, ...]], heavy: Collection[int], widths: Sequence[float], size: float
    ) -> tuple[list[tuple[str, ...]], list[float]]:
        """Rows with their cells cut to MOST_LINES, and how high each is."""
        shown, heights = [], []
        rooms = [width - 2 * layout.CELL_PX for width in widths]
        for k, row in enumerate(texts):
            pairs = list(zip(row, rooms, strict=True))
            cells = tuple(self.cut(text, size, room, MOST_LINES, bold=k in heavy) for text, room in pairs)
            pairs = list(zip(cells, rooms, strict=True))
            most = max(len(self.lines(text, size, room, bold=k in heavy)) for text, room in pairs)
            shown.append(cells)
            heights.append(most * size * layout.LEADING + layout.ROW_PX)
        return shown, heights


# Of the slides: wider than the faces they are shown in, so that words stay in their place on a machine that has none.
WIDE: Final = Face("DejaVu Sans", 700)
# Of what is drawn here, with the bundled face.
OWN: Final = Face(style.FAMILY[0], style.BOLD)


@cache
def _font(family: str, weight: int) -> Any:
    from matplotlib import font_manager

    style.drawable("")  # makes the bundled faces known
    wanted = font_manager.FontProperties(family=family, weight=weight)
    return font_manager.get_font(font_manager.findfont(wanted))


@cache
def _advance_em(family: str, weight: int, character: str) -> float:
    """How wide a character is, in sizes of type: of the family, else of the widest that stands in for it."""
    from matplotlib.ft2font import LoadFlags

    if unicodedata.east_asian_width(character) in "WF":
        return _WIDE_EM
    for name in (family, WIDE.family):
        font = _font(name, weight)
        if font.get_char_index(ord(character)):
            glyph = font.load_char(ord(character), flags=LoadFlags.NO_SCALE)
            return float(glyph.horiAdvance) / float(font.units_per_EM)
    return _WIDE_EM

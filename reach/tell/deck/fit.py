"""How much text fits where: lines, sizes that fit, cuts with an ellipsis, tables that stay in their box.

Nobody knows in which face an office program will show the slides, so words are measured in one as wide as the widest
that is likely. Widths are the faces' own, without the rounding to screen pixels that drawing libraries measure with.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

from reach.base import words
from reach.draw import scripts, style
from reach.tell.deck import model
from reach.tell.deck.model import Box, Deck, Paragraph, Slide, Table

ELLIPSIS: Final = "…"
BETWEEN: Final = " · "  # parts of the foot
LONGEST_NAME: Final = 36  # characters
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


def lines(text: str) -> str:
    """The name of a column of a chart, `plain` line by line: local time stands below the hour in UTC."""
    return "\n".join(map(plain, text.split("\n")))


def name(text: str) -> str:
    """A setup's name, a callsign, ... to be put into a sentence: cleaned, and not longer than a sentence can bear."""
    text = clean(text)
    return text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1].rstrip() + ELLIPSIS


@dataclass(frozen=True)
class Grid:
    """A table that fits: texts as they are shown, first the names of the columns; widths and heights [px]."""

    rows: tuple[tuple[str, ...], ...]
    size: float
    widths: tuple[float, ...]
    heights: tuple[float, ...]


@dataclass(frozen=True)
class Face:
    """A family of type and what fits when it is used. Sizes and widths in px. stretch : of all its widths."""

    family: str
    bold_weight: int
    stretch: float = 1.0

    def width(self, text: str, size: float, *, bold: bool = False) -> float:
        """How wide a line of text is."""
        weight = self.bold_weight if bold else style.REGULAR
        return size * self.stretch * sum(_advance_em(self.family, weight, character) for character in text)

    def lines(self, text: str, size: float, room: float, *, bold: bool = False) -> list[str]:
        """The text broken into lines that fit; a word too long for a line is broken anywhere, as programs do."""
        found: list[str] = []
        words, joint = scripts.pieces(text)
        for word in words:
            longer = f"{found[-1]}{joint}{word}" if found else word
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

    def height(self, paragraphs: Iterable[Paragraph], size: float, room: float) -> float:
        """How high paragraphs are, one below the other."""
        total = 0.0
        for k, one in enumerate(paragraphs):
            own = one.size(size)
            count = len(self.lines(one.text, own, room - one.indent * own, bold=one.bold))
            total += count * own * model.LEADING + (model.GAP * own if k else 0.0)
        return total

    def fitted(
        self, paragraphs: Sequence[Paragraph], box: Box, sizes: Sequence[float] = model.TEXT_SIZES
    ) -> tuple[list[Paragraph], float]:
        """Paragraphs and the size at which they fit: smaller if need be, then evidence is left out, the last of it first and as a
        whole; then the last paragraphs are cut or left out."""
        for size in sizes:
            if self.height(paragraphs, size, box.width) <= box.height:
                return list(paragraphs), size
        size = sizes[-1]
        kept = list(paragraphs)
        for at in reversed([k for k, one in enumerate(paragraphs) if one.muted]):
            del kept[at]
            if kept and self.height(kept, size, box.width) <= box.height:
                return kept, size
        kept = []
        for one in paragraphs:
            own = one.size(size)
            room = box.height - self.height(kept, size, box.width) - (model.GAP * own if kept else 0.0)
            most = int(room / (own * model.LEADING) + 1e-9)
            if most < 1:
                break
            kept.append(replace(one, text=self.cut(one.text, own, box.width - one.indent * own, most, bold=one.bold)))
            if kept[-1].text != one.text:
                break
        return kept, size

    def named_every(self, names: Sequence[str], size: float, width: float) -> int:
        """Every how manyth column of a chart that wide can be named without the names running into each other."""
        widest = max((self.width(line, size) for name in names for line in name.split("\n")), default=0.0) + size / 2
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
        """A table in a box: texts broken, smaller type if need be, then long texts cut, then the last rows left out, which
        a row says.

        columns : names, shown bold; rows : texts, as many in each as there are names; bold : rows that are so too
        shares : of the room that is left over, or of all where a word alone is wider than a column; in any unit
        """
        texts = [tuple(columns), *(tuple(row) for row in rows)]
        heavy = [0, *(k + 1 for k in bold)]
        ways = [(size, self._widths(texts, heavy, size, shares, box.width, whole=True)) for size in model.TABLE_SIZES]
        ways += [(size, self._widths(texts, heavy, size, shares, box.width, whole=False)) for size in model.TABLE_SIZES]
        ways += [(size, tuple(box.width * each / sum(shares) for each in shares)) for size in model.TABLE_SIZES]
        made = [(size, widths, *self._rows(texts, heavy, widths, size)) for size, widths in ways if widths]
        high_enough = [one for one in made if sum(one[3]) <= box.height]
        uncut = [one for one in high_enough if one[2] == texts]
        # Nothing cut before anything else, but a word cut short is better than a table that nobody can read.
        size, widths, shown, heights = (uncut or sorted(high_enough, key=lambda one: -one[0]) or made[-1:])[0]
        while sum(heights) > box.height and len(shown) > 2:
            left_out = len(texts) - len(shown) + 2
            shown = [*shown[:-2], (f"{ELLIPSIS} + {left_out}", *[""] * (len(columns) - 1))]
            _, heights = self._rows(shown, heavy, widths, size)
        return Grid(tuple(shown), size, widths, tuple(heights))

    def _widths(
        self,
        texts: Sequence[tuple[str, ...]],
        heavy: Collection[int],
        size: float,
        shares: Sequence[float],
        room: float,
        *,
        whole: bool,
    ) -> tuple[float, ...]:
        """Widths of columns that keep every text on one line (`whole`), or at least every word in one piece.

        What is left over goes to the columns by their shares, or to those whose texts are broken by what they lack; empty
        where there is no room for the least. Names of columns may always be broken between words.
        """
        least, wanted = [], []
        for column in range(len(shares)):
            cells = [(row[column], k in heavy or k == 0) for k, row in enumerate(texts)]
            pieces = [self.width(word, size, bold=bold) for text, bold in cells for word in scripts.pieces(text)[0]]
            lines = [self.width(text, size, bold=bold) for text, bold in cells[1:]]
            least.append(max(pieces) + 2 * model.CELL_PX + 1)
            wanted.append(max([*pieces, *lines]) + 2 * model.CELL_PX + 1)
        if whole:
            least = wanted
        left_over = room - sum(least)
        lacking = [most - own for most, own in zip(wanted, least, strict=True)]
        parts = shares if sum(lacking) <= left_over else lacking
        if left_over < 0:
            return ()
        return tuple(own + left_over * part / sum(parts) for own, part in zip(least, parts, strict=True))

    def _rows(
        self, texts: Sequence[tuple[str, ...]], heavy: Collection[int], widths: Sequence[float], size: float
    ) -> tuple[list[tuple[str, ...]], list[float]]:
        """Rows with their cells cut to MOST_LINES, and how high each is."""
        shown, heights = [], []
        rooms = [width - 2 * model.CELL_PX for width in widths]
        for k, row in enumerate(texts):
            pairs = list(zip(row, rooms, strict=True))
            cells = tuple(self.cut(text, size, room, MOST_LINES, bold=k in heavy) for text, room in pairs)
            pairs = list(zip(cells, rooms, strict=True))
            most = max(len(self.lines(text, size, room, bold=k in heavy)) for text, room in pairs)
            shown.append(cells)
            heights.append(most * size * model.LEADING + model.ROW_PX)
        return shown, heights


# Of the slides. Calibri is as narrow as Carlito, which stands in for it; where a machine has neither, most programs take
# a face as wide as Arial, which is nine tenths of DejaVu Sans. Where even that one has to do, the office program makes
# the text smaller: every place for text in the template allows it.
WIDE: Final = Face("DejaVu Sans", 700, 0.9)
# Of what is drawn here, with the bundled face.
OWN: Final = Face(style.FAMILY[0], style.BOLD)


@dataclass(frozen=True)
class Text:
    """Paragraphs as they fit their place, and their size of type [px]."""

    box: Box
    paragraphs: tuple[Paragraph, ...]
    size: float


def title(slide: Slide) -> tuple[str, float]:
    """A slide's title as it fits its place, and its size."""
    place = model.LAYOUTS[slide.layout]
    sizes, most = (model.BIG_TITLE_SIZES, 3) if place.big else (model.TITLE_SIZES, 2)
    return WIDE.title(plain(slide.title), sizes, place.title.width, most)


def texts(slide: Slide) -> list[Text]:
    """A slide's texts as they fit their places. Several texts have one size, but for the last one, which closes."""
    place = model.LAYOUTS[slide.layout]
    sizes = [size for size in model.TEXT_SIZES if size <= place.text_px]
    told = [[replace(one, text=plain(one.text)) for one in each] for each in slide.texts]
    alike = list(zip(told, place.texts, strict=True))[: max(len(told) - 1, 1)]
    common = min(WIDE.fitted(paragraphs, box, sizes)[1] for paragraphs, box in alike)
    made = []
    for k, (paragraphs, box) in enumerate(zip(told, place.texts, strict=True)):
        own = [common] if k < len(alike) else [size for size in sizes if size <= common]
        shown, size = WIDE.fitted(paragraphs, box, own)
        made.append(Text(box, tuple(shown), size))
    return made


def grid(table: Table, box: Box) -> Grid:
    """A slide's table as it fits its place."""
    columns, rows = [plain(each) for each in table.columns], [[plain(each) for each in row] for row in table.rows]
    return WIDE.grid(columns, rows, table.shares, box, table.bold)


def foot(deck: Deck) -> str:
    """What stands at the foot of every slide, in one line: as much of it as there is room for, the first part cut if need be."""
    first, *more = [plain(part) for part in (deck.notice, *deck.foot.split(BETWEEN)) if part]
    bold = bool(deck.notice)
    line = WIDE.cut(first, model.FOOT_SIZE, model.FOOT.width, 1, bold=bold)
    for part in more:
        longer = line + BETWEEN + part
        if WIDE.width(longer, model.FOOT_SIZE, bold=bold) > model.FOOT.width:
            break
        line = longer
    return line


@cache
def _font(family: str, weight: int) -> Any:
    from matplotlib import font_manager

    scripts.bundled()  # makes them known
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

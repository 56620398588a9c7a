"""What slides are made of, whatever they are written as, and where it stands: texts, and a table, chart or map beside them.

A slide is 1920 x 1080 px; sizes of type are in px as well. It is 13.33 inches wide as a presentation and as a PDF, so two
px are one point in both.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

if TYPE_CHECKING:
    from reach.draw.style import Theme
    from reach.tell.sentences.reach import Sentence

WIDTH_PX, HEIGHT_PX = 1920, 1080


@dataclass(frozen=True)
class Box:
    """A place on a slide, px from the top left corner."""

    x: float
    y: float
    width: float
    height: float


# --- sizes of type ----------------------------------------------------------------------------------------------------

READABLE: Final = 36  # 18 points: from the back of a club room; nothing on a slide is smaller
TITLE_SIZES: Final = (56, 52, 48, 44, 40)
BIG_TITLE_SIZES: Final = (92, 80, 68, 56)
TEXT_SIZES: Final = (44, 42, 40, 38, READABLE)
TABLE_SIZES: Final = (READABLE,)
CHART_SIZE: Final = READABLE
FOOT_SIZE: Final = READABLE
LEADING: Final = 1.22
TITLE_LEADING: Final = 1.15
GAP: Final = 0.45  # between paragraphs, of the size of type
INDENT: Final = 1.0  # of an item, of its size of type
CELL_PX: Final = 10  # left and right of the words in a cell
ROW_PX: Final = 18  # above and below them together


@dataclass(frozen=True)
class Paragraph:
    """One paragraph.

    share : its size of type against that of the text; item : a mark hangs in front of it
    """

    text: str
    share: float = 1.0
    bold: bool = False
    muted: bool = False
    item: bool = False

    def size(self, text_px: float) -> float:
        """Its size of type in a text of a size [px]: what is small is never made unreadable by it."""
        return max(round(self.share * text_px), min(text_px, READABLE))

    @property
    def indent(self) -> float:
        """How far it stands in, in sizes of its type."""
        return INDENT if self.item else 0.0

    @property
    def level(self) -> int:
        """Which of LEVELS it is most like: the same in kind where there is one, then the nearest in size."""
        alike = (self.bold, self.muted, self.item)
        return min(
            range(len(LEVELS)),
            key=lambda k: (
                alike != (LEVELS[k].bold, LEVELS[k].muted, LEVELS[k].item),
                abs(LEVELS[k].share - self.share),
            ),
        )


# The levels of text that the masters of the presentation hold: whoever edits one there changes it on all slides.
LEVELS: Final = (
    Paragraph("said"),
    Paragraph("evidence", 0.8, muted=True),
    Paragraph("item", item=True),
    Paragraph("small item", 0.8, item=True),
    Paragraph("heading", 1.1, bold=True),
)


# --- where things stand -----------------------------------------------------------------------------------------------

MARGIN: Final = 96
ROOM: Final = WIDTH_PX - 2 * MARGIN
FOOT: Final = Box(MARGIN, 1004, 1580, 48)
NUMBER: Final = Box(WIDTH_PX - MARGIN - 120, 1004, 120, 48)
# Circles round one point, decoration of the first slide.
OPENING_RINGS: Final = tuple(Box(1700 - r, 240 - r, 2 * r, 2 * r) for r in (70, 140, 210))

_TITLE: Final = Box(MARGIN, 60, ROOM, 132)
_TOP, _HIGH = 216, 768
_LEFT: Final = Box(MARGIN, _TOP, 726, _HIGH)
_RIGHT: Final = Box(862, _TOP, WIDTH_PX - MARGIN - 862, _HIGH)


@dataclass(frozen=True)
class Layout:
    """The places of a kind of slide: of its title, its texts, and its table, chart or map; `text_px`: of its largest text."""

    texts: tuple[Box, ...]
    exhibits: tuple[Box, ...] = ()
    title: Box = _TITLE
    text_px: int = TEXT_SIZES[0]
    big: bool = False


# over: the exhibit above the text. beside: text left, exhibit right. wide: exhibit left and larger, text right. pair: as
# beside, and a second exhibit below the text. quarters: four texts and a closing one. text: nothing but text.
Kind = Literal["opening", "over", "beside", "wide", "pair", "quarters", "text"]
LAYOUTS: Final[dict[str, Layout]] = {
    "opening": Layout((Box(MARGIN, 520, 1300, 440),), title=Box(MARGIN, 210, 1340, 290), big=True),
    "over": Layout((Box(MARGIN, 740, ROOM, 244),), (Box(MARGIN, _TOP, ROOM, 500),)),
    "beside": Layout((_LEFT,), (_RIGHT,)),
    "wide": Layout((Box(1290, _TOP, WIDTH_PX - MARGIN - 1290, _HIGH),), (Box(MARGIN, _TOP, 1150, _HIGH),)),
    "pair": Layout(
        (Box(MARGIN, _TOP, 726, 300),), (_RIGHT, Box(MARGIN, 530, 726, _TOP + _HIGH - 530)), text_px=READABLE
    ),
    # The cautions: the first of the two rows needs more lines, and the title one line only, so the texts begin higher.
    "quarters": Layout(
        (
            *(Box(MARGIN + 884 * (k % 2), (164, 556)[k // 2], 844, (380, 288)[k // 2]) for k in range(4)),
            Box(MARGIN, 856, ROOM, 134),
        ),
        title=Box(MARGIN, 60, ROOM, 90), text_px=READABLE,
    ),
    "text": Layout((Box(MARGIN, _TOP, ROOM, _HIGH),)),
}  # fmt: skip


def template_name(layout: str, exhibits: Sequence[str]) -> str:
    """How a layout of the bundled presentation is called: 'Beside: table'."""
    return layout.capitalize() + (": " + " and ".join(exhibits) if exhibits else "")


# --- what is shown ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Table:
    """A table. The first row names the columns.

    shares  widths of the columns, in any unit
    left    which columns hold words; the others hold numbers and are aligned right
    bold    rows that stand out, counted from the first below the names
    """

    name: str
    alt: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    shares: tuple[float, ...]
    left: tuple[int, ...] = (0,)
    bold: tuple[int, ...] = ()


@dataclass(frozen=True)
class Series:
    """The columns of one colour in a chart: its name, a value a category, a colour in hexadecimal."""

    name: str
    values: tuple[float, ...]
    color: str


@dataclass(frozen=True)
class Chart:
    """A column chart: series side by side, or on top of each other. signed: values of either sign, shown with it."""

    name: str
    alt: str
    categories: tuple[str, ...]
    series: tuple[Series, ...]
    x: str
    y: str
    stacked: bool = False
    signed: bool = False


@dataclass(frozen=True)
class Picture:
    """A picture, drawn into a place on any figure: draw(figure, look, x=, y=, width=, height=) [px]."""

    name: str
    alt: str
    draw: Callable[..., object]


Exhibit = Table | Chart | Picture


@dataclass(frozen=True)
class Slide:
    """One slide. `texts` has one entry for each place that the layout has for text; `second` is for a pair only."""

    name: str
    layout: Kind
    title: str
    texts: tuple[tuple[Paragraph, ...], ...]
    shows: str
    hides: str
    exhibit: Exhibit | None = None
    second: Exhibit | None = None

    @property
    def exhibits(self) -> tuple[tuple[Exhibit, Box], ...]:
        """What is shown besides text, each with its place."""
        places = LAYOUTS[self.layout].exhibits
        shown = [each for each in (self.exhibit, self.second) if each is not None]
        return tuple(zip(shown, places, strict=True))

    @property
    def notes(self) -> str:
        """The speaker notes: what the slide shows, and what it does not."""
        return f"{self.shows} {self.hides}"


@dataclass(frozen=True)
class Deck:
    """Slides in their order, and what stands at the foot of each.

    title : of the file; foot : on the left of every slide; look : colours; notice : empty, or that the data is made up
    answer : the answers to the study's questions, most important first; language : of the words, such as 'en'
    """

    title: str
    foot: str
    notice: str
    look: Theme
    slides: tuple[Slide, ...]
    answer: tuple[Sentence, ...]
    language: str = "en"

    def slide(self, name: str) -> Slide | None:
        """The slide of that name, if there is one."""
        return next((one for one in self.slides if one.name == name), None)

    def pictures(self) -> dict[tuple[str, str], bytes]:
        """Every picture as a PNG, by the names of its slide and its own: drawn once for all that is written from them.

        They are drawn on a smaller sheet than their place and enlarged, so that the words in a map, which are sized for
        a picture of its own, can be read on a slide as well.
        """
        from reach.draw import style

        made = {}
        for slide in self.slides:
            for shown, box in slide.exhibits:
                if isinstance(shown, Picture):
                    width, height = round(box.width / ENLARGED), round(box.height / ENLARGED)
                    figure = style.sheet(self.look, width, height)
                    shown.draw(figure, self.look, x=0, y=0, width=width, height=height)
                    made[slide.name, shown.name] = style.png(figure, SHARP * ENLARGED)
        return made


ENLARGED: Final = 1.3  # the smallest words of a map become READABLE
SHARP: Final = 2  # pixels a px of the slide

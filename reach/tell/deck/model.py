"""What slides are made of, whatever they are written as: texts, and one table, chart or map beside them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from reach.tell.deck.layout import EXHIBITS, SECOND, Box, Paragraph

if TYPE_CHECKING:
    from reach.draw.style import Theme

# opening: a large title and text. over: the exhibit above the text. beside: text left, exhibit right. wide: exhibit left
# and larger, text right. pair: as beside, and a second exhibit below the text. quarters: four texts and a closing one. text: nothing but text.
Layout = Literal["opening", "over", "beside", "wide", "pair", "quarters", "text"]


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


Exhibit = Table | Chart | Picture | None


@dataclass(frozen=True)
class Slide:
    """One slide. `texts` has one entry for each place that the layout has for text; `second` is for a pair only."""

    name: str
    layout: Layout
    title: str
    texts: tuple[tuple[Paragraph, ...], ...]
    shows: str
    hides: str
    exhibit: Exhibit = None
    second: Exhibit = None

    @property
    def exhibits(self) -> tuple[tuple[Table | Chart | Picture, Box], ...]:
        """What is shown besides text, each with its place."""
        placed = ((self.exhibit, EXHIBITS), (self.second, SECOND))
        return tuple((each, boxes[self.layout]) for each, boxes in placed if each is not None)

    @property
    def notes(self) -> str:
        """The speaker notes: what the slide shows, and what it does not."""
        return f"{self.shows} {self.hides}"


@dataclass(frozen=True)
class Deck:
    """Slides in their order, and what stands at the foot of each.

    title : of the file; foot : on the left of every slide; look : colours; notice : empty, or that the data is made up
    """

    title: str
    foot: str
    notice: str
    look: Theme
    slides: tuple[Slide, ...]

"""The same deck as a PDF for machines without an office program: drawn, not converted. Words stay words, maps stay lines.

No date goes into the file: the same deck gives the same bytes.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from reach.base import words
from reach.draw import style
from reach.tell.deck import layout
from reach.tell.deck.fit import OWN, plain
from reach.tell.deck.layout import Box, Paragraph
from reach.tell.deck.model import Chart, Deck, Picture, Slide, Table

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_TITLE_LEADING: Final = 1.15
_BETWEEN: Final = 0.3  # of a category's width, left free


def pdf(deck: Deck) -> bytes:
    """All slides, a page each, 16 by 9 inches."""
    return bound((_page(slide, deck, number) for number, slide in enumerate(deck.slides, 1)), deck.title, deck.foot)


def bound(figures: Iterable[Figure], title: str, subject: str) -> bytes:
    """Figures as the pages of one PDF without dates; its letters are TrueType outlines, which printers like."""
    import matplotlib as mpl
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    about = {"Title": title, "Subject": subject, "Author": "reach", "CreationDate": None}
    with mpl.rc_context({"pdf.fonttype": 42}), PdfPages(out, metadata=about) as pages:
        for figure in figures:
            pages.savefig(figure, facecolor=figure.get_facecolor())
    return out.getvalue()


def _page(slide: Slide, deck: Deck, number: int) -> Figure:
    look = deck.look
    figure = style.sheet(look, layout.WIDTH_PX, layout.HEIGHT_PX)
    opening = slide.layout == "opening"
    box, text, size = OWN.title_on(slide)
    lines = OWN.lines(text, size, box.width, bold=True)
    y = box.y + box.height - len(lines) * size * _TITLE_LEADING if opening else box.y
    for k, line in enumerate(lines):
        style.write(figure, box.x, y + k * size * _TITLE_LEADING, line, px=size, color=look.ink, weight=style.BOLD)
    for place, paragraphs, size in OWN.texts_on(slide):
        paragraphs_at(figure, look, place, paragraphs, size)
    if opening:
        _rings(figure, look)
    for shown, box in slide.exhibits:
        exhibit(figure, look, shown, box)
    _foot(figure, deck, number)
    return figure


def paragraphs_at(figure: Figure, look: style.Theme, box: Box, paragraphs: list[Paragraph], size: float) -> float:
    """Paragraphs one below the other in a box. Returns where they end [px from the top]."""
    y = box.y
    for k, one in enumerate(paragraphs):
        own = one.share * size
        y += one.gap * own if k else 0.0
        if one.item:
            style.write(figure, box.x, y, "•", px=own, color=look.ink)
        weight, color = style.BOLD if one.bold else style.REGULAR, look.muted if one.muted else look.ink
        for line in OWN.lines(one.text, own, box.width - one.indent * own, bold=one.bold):
            style.write(figure, box.x + one.indent * own, y, line, px=own, color=color, weight=weight)
            y += own * layout.LEADING
    return y


def _rings(figure: Figure, look: style.Theme) -> None:
    from matplotlib.patches import Ellipse

    for box in layout.OPENING_RINGS:
        middle = (box.x + box.width / 2) / layout.WIDTH_PX, 1 - (box.y + box.height / 2) / layout.HEIGHT_PX
        figure.add_artist(
            Ellipse(middle, box.width / layout.WIDTH_PX, box.height / layout.HEIGHT_PX, fill=False, color=look.land,
                    linewidth=style.points(3), transform=figure.transFigure)
        )  # fmt: skip


def _foot(figure: Figure, deck: Deck, number: int) -> None:
    look, x, y = deck.look, layout.FOOT.x, layout.FOOT.y + layout.FOOT.height / 2
    weight = style.BOLD if deck.notice else style.REGULAR
    style.write(figure, x, y, OWN.foot(deck), px=layout.FOOT_SIZE, color=look.muted, weight=weight, va="center")
    right = layout.NUMBER.x + layout.NUMBER.width
    style.write(figure, right, y, str(number), px=layout.FOOT_SIZE, color=look.muted, ha="right", va="center")


# --- exhibits ---------------------------------------------------------------------------------------------------------


def exhibit(figure: Figure, look: style.Theme, shown: Table | Chart | Picture, box: Box) -> None:
    """A table, a chart or a map at a place on a figure."""
    if isinstance(shown, Table):
        _table(figure, look, shown, box)
    elif isinstance(shown, Chart):
        chart(figure, look, shown, box, layout.CHART_SIZE)
    else:
        shown.draw(figure, look, x=box.x, y=box.y, width=box.width, height=box.height)


def _table(figure: Figure, look: style.Theme, shown: Table, box: Box) -> None:
    from matplotlib.lines import Line2D

    grid = OWN.grid(
        [plain(name) for name in shown.columns], [[plain(text) for text in row] for row in shown.rows],
        shown.shares, box, shown.bold,
    )  # fmt: skip
    y = box.y
    width, height = style.size_px(figure)
    for k, (row, row_px) in enumerate(zip(grid.rows, grid.heights, strict=True)):
        x = box.x
        for column, (text, column_px) in enumerate(zip(row, grid.widths, strict=True)):
            left = column in shown.left
            at = x + layout.CELL_PX if left else x + column_px - layout.CELL_PX
            weight = style.BOLD if k == 0 or k - 1 in shown.bold else style.REGULAR
            lines = OWN.lines(text, grid.size, column_px - 2 * layout.CELL_PX, bold=True)
            high = len(lines) * grid.size * layout.LEADING
            top = y + layout.ROW_PX / 2 if k else y + row_px - layout.ROW_PX / 2 - high  # names stand on their line
            for n, line in enumerate(lines):
                style.write(
                    figure, at, top + n * grid.size * layout.LEADING, line, px=grid.size,
                    color=look.ink if k else look.muted, weight=weight, ha="left" if left else "right",
                )  # fmt: skip
            x += column_px
        y += row_px
        color, line_px = (look.hair, 2) if k else (look.muted, 3)
        figure.add_artist(
            Line2D(
                [box.x / width, (box.x + box.width) / width], [1 - y / height] * 2, color=color,
                linewidth=style.points(line_px),
            )
        )  # fmt: skip


def chart(figure: Figure, look: style.Theme, shown: Chart, box: Box, size: float) -> Any:
    """A column chart at a place on a figure, its words of a size [px]. Returns its axes."""
    from matplotlib.ticker import MaxNLocator

    key = sum(OWN.width(plain(one.name), size) + 4 * size for one in shown.series) if len(shown.series) > 1 else 0.0
    own_line = key + OWN.width(plain(shown.y), size) > box.width - 3.6 * size  # else the key stands beside the name
    above = (1.7 * size if key else 0.4 * size) + (1.4 * size if own_line else 0.0)
    axes = style.place(
        figure, box.x + 3.4 * size, box.y + above + 1.6 * size, box.width - 3.6 * size,
        box.height - above - 5.2 * size,
    )  # fmt: skip
    style.tidy(axes, look)
    axes.tick_params(labelsize=style.points(size))
    at = np.arange(len(shown.categories), dtype=float)
    under = np.zeros(len(at))
    wide = (1 - _BETWEEN) / (1 if shown.stacked else len(shown.series))
    for k, one in enumerate(shown.series):
        left = at if shown.stacked else at + (k - (len(shown.series) - 1) / 2) * wide
        axes.bar(left, one.values, width=wide, bottom=under, color=one.color, label=style.drawable(plain(one.name)))
        under = under + np.array(one.values) if shown.stacked else under
    every = OWN.named_every(shown.categories, size, box.width)
    axes.set_xticks(at[::every], [plain(name) for name in shown.categories[::every]])
    axes.set_xlim(-0.6, len(at) - 0.4)
    axes.yaxis.set_major_locator(MaxNLocator(6, integer=True))
    axes.yaxis.set_major_formatter(lambda value, _: style.signed(value) if shown.signed else words.count(value))
    if shown.signed:
        axes.axhline(0, color=look.ink, linewidth=style.points(2))
    axes.set_xlabel(style.drawable(plain(shown.x)), labelpad=8, **style.font(size, look.ink))
    style.text(axes, 0, 1.02, shown.y, px=size, color=look.ink, transform=axes.transAxes, va="bottom")
    if len(shown.series) > 1:
        axes.legend(
            loc="lower right", bbox_to_anchor=(1, 1 + (1.4 * size / axes.get_window_extent().height if own_line else 0.0)),
            ncols=len(shown.series), frameon=False, labelcolor=look.ink,
            borderaxespad=0.2, prop={"family": style.FAMILY, "size": style.points(size)},
        )  # fmt: skip
    return axes

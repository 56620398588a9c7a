"""The same deck as a PDF for machines without an office program. Words stay words, charts stay lines, maps are pictures.

No date goes into the file: the same deck gives the same bytes. What platypus breaks into lines here is as large as on the
presentation's slides and set in a narrower face, so it fits wherever it fits there.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from typing import Any, Final
from xml.sax.saxutils import escape

import numpy as np

from reach.base import tongue, words
from reach.draw import scripts, style
from reach.tell.deck import fit, model
from reach.tell.deck.fit import OWN, lines, plain
from reach.tell.deck.model import LAYOUTS, Box, Chart, Deck, Paragraph, Slide, Table

PX: Final = 0.5  # points: a slide of 1920 px is 13.33 inches wide, as the presentation is
REGULAR, BOLD = "reach-regular", "reach-bold"
_STAND_IN: Final = "-stand-in"  # of the same weight, for characters that the bundled face lacks
_BETWEEN: Final = 0.3  # of a category's width, left free between the columns of a chart
_MOST_STEPS: Final = 6  # of a chart's axis


def pdf(deck: Deck, pictures: dict[tuple[str, str], bytes] | None = None) -> bytes:
    """All slides, a page each, 13.33 by 7.5 inches. pictures : what deck.pictures() gave, if it was asked already."""
    pictures = deck.pictures() if pictures is None else pictures
    size = model.WIDTH_PX * PX, model.HEIGHT_PX * PX

    def draw(page: Any) -> None:
        for number, slide in enumerate(deck.slides, 1):
            page.setFillColor(deck.look.paper)
            page.rect(0, 0, *size, stroke=0, fill=1)
            page.bookmarkPage(str(number))
            page.addOutlineEntry(plain(slide.title), str(number))
            _slide(page, slide, deck, pictures)
            _foot(page, deck, number)
            page.showPage()

    return written(draw, size, title=deck.title, subject=deck.foot, language=deck.language)


def written(
    draw: Callable[[Any], None], size: tuple[float, float], *, title: str, subject: str, language: str
) -> bytes:
    """What is drawn onto the canvas of an empty PDF of a page size [pt], as bytes without a date."""
    from reportlab.pdfgen.canvas import Canvas

    fonts()
    out = io.BytesIO()
    with _settings():
        page = Canvas(out, pagesize=size, invariant=1, pageCompression=1, lang=language, initialFontName=REGULAR)
        page._doc.info = _about_without_dates()
        page.setTitle(plain(title))
        page.setSubject(plain(subject))
        for name_it in (page.setAuthor, page.setCreator, page.setProducer):
            name_it("reach")
        draw(page)
        page.save()
    return out.getvalue()


@contextmanager
def _settings() -> Iterator[None]:
    """What reportlab only lets one say for the whole program, put back as it was afterwards."""
    from reportlab import rl_config
    from reportlab.graphics import shapes

    before = rl_config.useA85, shapes.STATE_DEFAULTS["fontName"]
    rl_config.useA85 = (
        0  # else streams are spelt in letters, which takes longer than all the rest and a quarter more room
    )
    shapes.STATE_DEFAULTS["fontName"] = REGULAR  # else every page with a chart names a face that is not in the file
    try:
        yield
    finally:
        rl_config.useA85, shapes.STATE_DEFAULTS["fontName"] = before


def _about_without_dates() -> Any:
    """What a PDF says about itself. reportlab writes a date even where it may not ask the clock (the first of 2000), and
    a wrong date is worse than none; the format wants neither."""
    from reportlab.pdfbase import pdfdoc

    class About(pdfdoc.PDFInfo):
        def format(self, document: Any) -> Any:
            told = {
                "Title": self.title, "Subject": self.subject, "Author": self.author, "Creator": self.creator,
                "Producer": self.producer,
            }  # fmt: skip
            return pdfdoc.PDFDictionary({key: pdfdoc.PDFString(text) for key, text in told.items()}).format(document)

    return About()


@cache
def fonts() -> None:
    """Make the bundled faces known to reportlab, and matplotlib's own for characters that they lack."""
    from importlib.resources import files

    import matplotlib as mpl
    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    for name, ours, theirs in (
        (REGULAR, "IBMPlexSansCondensed-Regular.ttf", "DejaVuSans.ttf"),
        (BOLD, "IBMPlexSansCondensed-SemiBold.ttf", "DejaVuSans-Bold.ttf"),
    ):
        pdfmetrics.registerFont(TTFont(name, str(files("reach.data").joinpath(ours))))
        pdfmetrics.registerFont(TTFont(name + _STAND_IN, f"{mpl.get_data_path()}/fonts/ttf/{theirs}"))


def _markup(text: str, face: str) -> str:
    """A text as platypus reads it: no tags but ours, a character that a face lacks in the one that stands in."""
    from reportlab.pdfbase import pdfmetrics

    known = pdfmetrics.getFont(face).face.charToGlyph
    made = ""
    for character in scripts.known(text):
        if ord(character) in known:
            made += escape(character)
            continue
        other = f"{face}{_STAND_IN}"
        if ord(character) not in scripts.bundled():
            theirs = _of_this_machine((scripts.stand_in(character) or ("", ""))[1])
            character, other = (character, theirs) if theirs else ("\N{LOZENGE}", other)
        made += f'<font face="{other}">{escape(character)}</font>'
    return made


@cache
def _of_this_machine(file: str) -> str:
    """What a typeface of this machine is called here; empty where it is of a kind that cannot go into a PDF."""
    from reportlab.pdfbase import pdfmetrics, ttfonts

    name = f"machine-{len(pdfmetrics.getRegisteredFontNames())}"
    try:
        pdfmetrics.registerFont(ttfonts.TTFont(name, file))
    except (ttfonts.TTFError, OSError):
        return ""
    return name


def paragraph(text: str, size: float, color: str, *, bold: bool = False, item: bool = False, align: int = 0) -> Any:
    """A piece of text that platypus breaks and places. size [pt]; align : 0 left, 1 middle, 2 right."""
    return told(_markup(plain(text), BOLD if bold else REGULAR), size, color, bold=bold, item=item, align=align)


def told(markup: str, size: float, color: str, *, bold: bool = False, item: bool = False, align: int = 0,
         leading: float = model.LEADING) -> Any:  # fmt: skip
    """The same of a text that holds tags."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph as Flowing

    unspaced = tongue.spoken().language == "ja"
    face = BOLD if bold else REGULAR
    looks = ParagraphStyle(
        "text", fontName=face, fontSize=size, leading=size * leading, textColor=color, alignment=align,
        leftIndent=model.INDENT * size if item else 0, bulletFontName=face, bulletFontSize=size, bulletColor=color,
        spaceBefore=model.GAP * size, wordWrap="CJK" if unspaced else None,
    )  # fmt: skip
    return (_unspaced() if unspaced else Flowing)(markup, looks, bulletText="•" if item else None)


@cache
def _unspaced() -> Any:
    """A paragraph whose lines end where `scripts.pieces` lets them. reportlab's own rule for such scripts hangs a closing mark
    into the margin, and lets a second one begin the next line."""
    from reportlab.platypus import paragraph as theirs

    class Unspaced(theirs.Paragraph):
        def breakLinesCJK(self, maxWidths: Any) -> Any:
            rooms = list(maxWidths) if isinstance(maxWidths, (list, tuple)) else [maxWidths]
            theirs._handleBulletWidth(self.bulletText, self.style, rooms)
            letters = [theirs.cjkU(letter, part, "utf8") for part in self.frags for letter in part.text]
            made: list[Any] = []
            for line in broken(letters, rooms) if letters else []:
                wide = sum(each.width for each in line)
                room = rooms[min(len(made), len(rooms) - 1)]
                made.append(theirs.makeCJKParaLine(line, room, wide, room - wide, False, False))
            return theirs.ParaLines(kind=1, lines=made)

    return Unspaced


def broken(letters: Sequence[Any], rooms: Sequence[float]) -> list[list[Any]]:
    """Letters, each with its `width`, in lines that fit: a piece too long for a line is broken anywhere.

    rooms : of the first lines; the last is that of all that follow
    """
    pieces, joint = scripts.pieces("".join(letters))
    lines: list[list[Any]] = [[]]
    wide, at = 0.0, 0
    for piece in pieces:
        part, at = letters[at : at + len(piece + joint)], at + len(piece + joint)
        if lines[-1] and wide + sum(each.width for each in part[: len(piece)]) > _room(rooms, lines):
            lines.append([])
            wide = 0.0
        for letter in part:
            if lines[-1] and letter != " " and wide + letter.width > _room(rooms, lines):
                lines.append([])
                wide = 0.0
            lines[-1].append(letter)
            wide += letter.width
    return lines


def _room(rooms: Sequence[float], lines: Sequence[Any]) -> float:
    return rooms[min(len(lines), len(rooms)) - 1] + 1e-6


def flowing(paragraphs: Iterable[Paragraph], size: float, look: style.Theme) -> list[Any]:
    """Paragraphs of a text of a size [pt]."""
    return [
        paragraph(
            one.text, one.size(size / PX) * PX, look.muted if one.muted else look.ink, bold=one.bold, item=one.item
        )
        for one in paragraphs
    ]


# --- slides -----------------------------------------------------------------------------------------------------------


def _slide(page: Any, slide: Slide, deck: Deck, pictures: dict[tuple[str, str], bytes]) -> None:
    from reportlab.lib.utils import ImageReader

    look, place = deck.look, LAYOUTS[slide.layout]
    text, size = fit.title(slide)
    heading = told(_markup(text, BOLD), size * PX, look.ink, bold=True, leading=model.TITLE_LEADING)
    _, high = heading.wrap(place.title.width * PX, place.title.height * PX)
    room = place.title.height - high / PX
    put(page, [heading], Box(place.title.x, place.title.y + (room if place.big else 0), place.title.width, high / PX))
    for one in fit.texts(slide):
        put(page, flowing(one.paragraphs, one.size * PX, look), one.box)
    if place.big:
        _rings(page, look)
    for shown, box in slide.exhibits:
        if isinstance(shown, Table):
            put(page, [_table(shown, box, look)], box)
        elif isinstance(shown, Chart):
            put(page, chart(shown, look, box.width * PX, box.height * PX, model.CHART_SIZE * PX), box)
        else:
            y = model.HEIGHT_PX - box.y - box.height
            shown_at = (each * PX for each in (box.x, y, box.width, box.height))
            page.drawImage(ImageReader(picture(pictures[slide.name, shown.name])), *shown_at)


def put(page: Any, flowables: Sequence[Any], box: Box) -> None:
    """Flowing pieces into a place. They were measured to fit; should they not, they are made smaller, never lost."""
    from reportlab.platypus import Frame, KeepInFrame

    width, height = box.width * PX, box.height * PX
    frame = Frame(box.x * PX, page._pagesize[1] - box.y * PX - height, width, height, 0, 0, 0, 0)
    frame.addFromList([KeepInFrame(width, height, list(flowables), mode="shrink")], page)


def picture(png: bytes) -> io.BytesIO:
    """A picture as a file that reportlab reads: without a layer of transparency, of which nothing can be seen but which
    a program that shows the page would mix in all the same."""
    from PIL import Image

    out = io.BytesIO()
    with Image.open(io.BytesIO(png)) as image:
        image.convert("RGB").save(out, "PPM")  # not packed: it is packed once more on its way into the PDF
    out.seek(0)
    return out


def _rings(page: Any, look: style.Theme) -> None:
    page.setStrokeColor(look.land)
    page.setLineWidth(3 * PX)
    for box in model.OPENING_RINGS:
        y = model.HEIGHT_PX - box.y - box.height / 2
        page.circle((box.x + box.width / 2) * PX, y * PX, box.width / 2 * PX, stroke=1, fill=0)


def _foot(page: Any, deck: Deck, number: int) -> None:
    size = model.FOOT_SIZE * PX
    put(page, [paragraph(fit.foot(deck), size, deck.look.muted, bold=bool(deck.notice))], model.FOOT)
    put(page, [paragraph(str(number), size, deck.look.muted, align=2)], model.NUMBER)


def _table(shown: Table, box: Box, look: style.Theme) -> Any:
    """A table whose rows are as high as their texts need."""
    from reportlab.platypus import Table as Flowing

    grid = fit.grid(shown, box)
    rows = [
        [
            paragraph(
                text, grid.size * PX, look.ink if k else look.muted, bold=k == 0 or k - 1 in shown.bold,
                align=0 if column in shown.left else 2,
            )
            for column, text in enumerate(row)
        ]
        for k, row in enumerate(grid.rows)
    ]  # fmt: skip
    looks = [
        ("FONTNAME", (0, 0), (-1, -1), REGULAR), ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("VALIGN", (0, 1), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), model.CELL_PX * PX), ("RIGHTPADDING", (0, 0), (-1, -1), model.CELL_PX * PX),
        ("TOPPADDING", (0, 0), (-1, -1), model.ROW_PX / 2 * PX),
        ("BOTTOMPADDING", (0, 0), (-1, -1), model.ROW_PX / 2 * PX),
        ("LINEBELOW", (0, 0), (-1, 0), 3 * PX, look.muted), ("LINEBELOW", (0, 1), (-1, -1), 2 * PX, look.hair),
    ]  # fmt: skip
    return Flowing(rows, colWidths=[width * PX for width in grid.widths], style=looks)


# --- charts -----------------------------------------------------------------------------------------------------------


def chart(shown: Chart, look: style.Theme, width: float, height: float, size: float) -> list[Any]:
    """A column chart as flowing pieces: its key, the columns, the name of what is below them. All lengths in points."""
    key = told(_key(shown), size, look.ink)
    below = paragraph(shown.x, size, look.ink, align=1)
    taken = sum(each.wrap(width, height)[1] for each in (key, below)) + model.GAP * size
    return [key, _columns(shown, look, width, height - taken, size), below]


def _key(shown: Chart) -> str:
    """What goes upward, and whose the colours are."""
    named = [_markup(plain(shown.y), REGULAR)]
    if len(shown.series) > 1:
        for one in shown.series:
            name = _markup(plain(one.name), REGULAR)
            # no break between a colour and its name
            named.append(
                f'<font face="{REGULAR}{_STAND_IN}" color="{one.color}">\N{BLACK SQUARE}</font>{words.NO_BREAK}{name}'
            )
    return (words.NO_BREAK * 3 + " ").join(named)


def _columns(shown: Chart, look: style.Theme, width: float, height: float, size: float) -> Any:
    from reportlab.graphics.charts.barcharts import VerticalBarChart
    from reportlab.graphics.shapes import Drawing
    from reportlab.lib.colors import HexColor

    plot = VerticalBarChart()
    plot.data = [tuple(one.values) for one in shown.series]
    for k, one in enumerate(shown.series):
        plot.bars[k].fillColor, plot.bars[k].strokeColor = HexColor(one.color), None
    plot.groupSpacing, plot.barSpacing, plot.barWidth = _BETWEEN, 0, (1 - _BETWEEN)
    if not shown.stacked:
        plot.barWidth /= len(shown.series)
    below = 1.2 * size * max(name.count("\n") for name in shown.categories)  # a line of local time or two
    plot.y, plot.height = 1.5 * size + below, height - 2.1 * size - below
    _upward(plot.valueAxis, shown, look, size, most_steps=min(_MOST_STEPS, max(2, int(plot.height / (2 * size)))))
    _across(plot.categoryAxis, shown, look, width, size)
    names = [plot.valueAxis.labelTextFormat(step) for step in plot.valueAxis.valueSteps]
    left = max(OWN.width(name, size) for name in names) + 0.6 * size
    plot.x, plot.width = left, width - left
    drawing = Drawing(width, height)
    drawing.add(plot)
    return drawing


def _upward(axis: Any, shown: Chart, look: style.Theme, size: float, *, most_steps: int) -> None:
    from matplotlib.ticker import MaxNLocator
    from reportlab.lib.colors import HexColor

    values = np.array([one.values for one in shown.series], float)
    up, down = values.clip(min=0), values.clip(max=0)
    if shown.stacked:  # columns of one sign stand on each other
        up, down = up.sum(axis=0), down.sum(axis=0)
    # An axis of whole steps that begins at nothing, and has a step even where nothing was counted.
    ticks = MaxNLocator(most_steps, integer=True).tick_values(min(0.0, down.min()), max(1.0, up.max()))
    steps = [float(each) for each in ticks]
    axis.valueMin, axis.valueMax, axis.valueSteps = steps[0], steps[-1], steps
    axis.labelTextFormat = lambda value: _named(value, shown)
    axis.visibleAxis, axis.visibleTicks, axis.visibleGrid = False, False, True
    axis.gridStrokeColor, axis.gridStrokeWidth = HexColor(look.hair), 2 * PX
    axis.labels.fontName, axis.labels.fontSize, axis.labels.fillColor = REGULAR, size, HexColor(look.muted)


def _named(value: float, shown: Chart) -> str:
    """A step of an axis in words."""
    if not shown.signed:
        return plain(words.count(round(value)))
    return words.signed(value, 0)


def _across(axis: Any, shown: Chart, look: style.Theme, width: float, size: float) -> None:
    from reportlab.lib.colors import HexColor

    every = OWN.named_every(shown.categories, size, width)
    axis.categoryNames = [scripts.known(lines(n)) if k % every == 0 else "" for k, n in enumerate(shown.categories)]
    axis.style = "stacked" if shown.stacked else "parallel"
    axis.strokeColor, axis.strokeWidth = HexColor(look.ink if shown.signed else look.ring), 2 * PX
    axis.visibleTicks = False
    axis.labelAxisMode = "low"  # below the columns that hang down
    axis.labels.fontName, axis.labels.fontSize, axis.labels.fillColor = REGULAR, size, HexColor(look.muted)
    axis.labels.boxAnchor, axis.labels.dy = "n", -0.3 * size

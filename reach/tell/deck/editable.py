"""The deck as a .pptx whose words, tables and charts stay editable; maps are pictures with a text for the blind.

Slides are made from a bundled presentation of ours (reach/data, made by tests/tell/make_slides.py) and fill its
placeholders: places, faces, colours and sizes of type are those of its master and layouts, so whoever changes them there
changes the slides. A slide says a size of its own only where its words need a smaller one. The same deck gives the same
bytes: no date and no name of a machine goes into the file.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Sequence
from importlib.resources import files
from typing import Any, Final

from reach.base import text as texts
from reach.base import tongue, words
from reach.draw.style import Theme
from reach.tell.deck import fit, model
from reach.tell.deck.fit import WIDE, lines, plain
from reach.tell.deck.model import LAYOUTS, LEVELS, Box, Chart, Deck, Exhibit, Paragraph, Slide, Table

EMU_PER_PX: Final = 6350  # a slide of 1920 px is 13.333 inches wide
NO_STYLE: Final = "{2D5ABB26-0587-4C30-8999-92F81FD0307C}"  # a table without lines and shades of its own
FOOT, NUMBER, FIRST_EXHIBIT = 11, 12, 21  # idx of placeholders; the title has 0, texts have 1, 2, ...
FIRST_DAY: Final = (1980, 1, 1, 0, 0, 0)  # the earliest date a zip can hold: no clock shows in a file
_FEW: Final = 5
_KEY_MARK: Final = 1.6  # sizes of type that the patch of colour before a name takes, with the gaps beside it
_SIGNED: Final = f"+0.#;{words.MINUS}0.#;0"
_LONGEST: Final = 255  # characters of a property
_DATES: Final = re.compile(rb"<dcterms:(created|modified)\b.*?</dcterms:\1>", re.DOTALL)
_DRAWING: Final = 'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"'


def template_file(look: Theme) -> str:
    """The bundled presentation of a style, in reach/data."""
    return f"slides_{look.name}.pptx"


def emu(px: float) -> int:
    """Pixels of a slide in the unit of the file."""
    return round(px * EMU_PER_PX)


def pptx(deck: Deck, pictures: dict[tuple[str, str], bytes] | None = None) -> bytes:
    """The whole presentation as bytes. pictures : what deck.pictures() gave, if it was asked already."""
    from pptx import Presentation

    pictures = deck.pictures() if pictures is None else pictures
    show = Presentation(io.BytesIO(files("reach.data").joinpath(template_file(deck.look)).read_bytes()))
    layouts = {one.name: one for one in show.slide_layouts}
    for number, slide in enumerate(deck.slides, 1):
        shown = [type(one).__name__.lower() for one, _ in slide.exhibits]
        _slide(show.slides.add_slide(layouts[model.template_name(slide.layout, shown)]), slide, deck, number, pictures)
    about = show.core_properties
    about.title, about.author, about.subject = plain(deck.title)[:_LONGEST], "reach", plain(deck.foot)[:_LONGEST]
    about.last_modified_by, about.comments, about.language = "reach", deck.notice, deck.language
    out = io.BytesIO()
    show.save(out)
    return dateless(out.getvalue())


def dateless(package: bytes) -> bytes:
    """An Office file without the dates that the clock put into it, those of the workbooks inside included."""
    with zipfile.ZipFile(io.BytesIO(package)) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for name, content in parts.items():
        if name == "docProps/core.xml":
            parts[name] = _DATES.sub(b"", content)
        elif name.endswith(".xlsx"):
            parts[name] = dateless(content)
    return zipped(parts)


def zipped(parts: dict[str, bytes]) -> bytes:
    """A zip of parts in the order given, all of one date: the same parts give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            about = zipfile.ZipInfo(name, FIRST_DAY)
            about.compress_type = zipfile.ZIP_DEFLATED
            about.create_system = 3  # as on any system
            about.external_attr = 0o600 << 16
            archive.writestr(about, content)
    return out.getvalue()


def _slide(page: Any, slide: Slide, deck: Deck, number: int, pictures: dict[tuple[str, str], bytes]) -> None:
    place = LAYOUTS[slide.layout]
    text, size = fit.title(slide)
    page.shapes.title.text_frame.text = text
    run = page.shapes.title.text_frame.paragraphs[0].runs[0] if text else None
    if run is not None and size != (model.BIG_TITLE_SIZES if place.big else model.TITLE_SIZES)[0]:
        run.font.size = _points(size)
    for k, one in enumerate(fit.texts(slide), 1):
        _write(page.placeholders[k].text_frame, one.paragraphs, one.size, place.text_px)
    holders = {each.placeholder_format.idx: each for each in page.placeholders}
    for k, (shown, box) in enumerate(slide.exhibits):
        frame = _exhibit(holders[FIRST_EXHIBIT + k], shown, box, deck, pictures.get((slide.name, shown.name), b""))
        frame.name = shown.name
        frame._element.xpath(".//p:cNvPr")[0].set("descr", plain(shown.alt))
    _foot(page, deck, number)
    page.notes_slide.notes_text_frame.text = plain(slide.notes)


def _points(px: float) -> Any:
    from pptx.util import Pt

    return Pt(px / 2)


def _language() -> Any:
    """What a program for slides is told of the words, so that it checks their spelling by the right book."""
    from pptx.enum.lang import MSO_LANGUAGE_ID

    return {
        "en": MSO_LANGUAGE_ID.ENGLISH_UK,
        "de": MSO_LANGUAGE_ID.GERMAN,
        "es": MSO_LANGUAGE_ID.SPANISH,
        "fr": MSO_LANGUAGE_ID.FRENCH,
        "it": MSO_LANGUAGE_ID.ITALIAN,
        "ja": MSO_LANGUAGE_ID.JAPANESE,
    }[tongue.spoken().language]


def _write(frame: Any, paragraphs: Sequence[Paragraph], size: float, usual: float) -> None:
    """Paragraphs as levels of the master, with a size of their own [px] where it is not the usual one of the place."""
    from pptx.enum.dml import MSO_THEME_COLOR

    for k, one in enumerate(paragraphs):
        paragraph = frame.paragraphs[0] if not k else frame.add_paragraph()
        paragraph.level = one.level
        run = paragraph.add_run()
        run.text = one.text
        run.font.language_id = _language()
        masters = LEVELS[one.level]
        own = one.size(size)
        if one.bold != masters.bold:
            run.font.bold = one.bold
        if one.muted != masters.muted:
            run.font.color.theme_color = MSO_THEME_COLOR.TEXT_2 if one.muted else MSO_THEME_COLOR.TEXT_1
        if own != masters.size(usual):
            run.font.size = _points(own)
            paragraph.space_before = _points(model.GAP * own)
        if not k:
            paragraph.space_before = 0  # some programs leave the gap above the first one out, others do not


def _foot(page: Any, deck: Deck, number: int) -> None:
    """Whose signal, the notice, and the number of the slide, as the footers of the layout."""
    from copy import deepcopy

    from pptx.oxml.ns import qn

    for holder in page.slide_layout.placeholders:
        kind = holder.placeholder_format.idx
        if kind not in (FOOT, NUMBER):
            continue
        shape = deepcopy(holder._element)
        shape.nvSpPr.cNvPr.set("id", str(max(int(each.shape_id) for each in page.shapes) + 1))
        for own in list(shape.spPr):
            shape.spPr.remove(own)
        page.shapes._spTree.append(shape)
        if kind == NUMBER:
            shape.find(".//" + qn("a:t")).text = str(number)
            continue
        frame = page.shapes[-1].text_frame
        frame.paragraphs[0].add_run().text = fit.foot(deck)
        if deck.notice:
            frame.paragraphs[0].runs[0].font.bold = True


# --- exhibits ---------------------------------------------------------------------------------------------------------


def _exhibit(holder: Any, shown: Exhibit, box: Box, deck: Deck, png: bytes) -> Any:
    """A table, chart or map in its placeholder."""
    if isinstance(shown, Table):
        return _table(holder, shown, box, deck)
    if isinstance(shown, Chart):
        return _chart(holder, shown, box, deck)
    frame = holder.insert_picture(io.BytesIO(png))
    # It was drawn for this place; what rounding to whole pixels leaves is not worth a crop.
    frame.crop_left = frame.crop_right = frame.crop_top = frame.crop_bottom = 0
    return frame


def _table(holder: Any, shown: Table, box: Box, deck: Deck) -> Any:
    from pptx.enum.text import MSO_ANCHOR

    grid = fit.grid(shown, box)
    frame = holder.insert_table(rows=len(grid.rows), cols=len(grid.widths))
    frame.width, frame.height = emu(sum(grid.widths)), emu(sum(grid.heights))
    table = frame.table
    table.horz_banding = False
    table._tbl.tblPr.find("{*}tableStyleId").text = NO_STYLE
    for k, each in enumerate(grid.widths):
        table.columns[k].width = emu(each)
    for k, height in enumerate(grid.heights):
        table.rows[k].height = emu(height)  # the least: programs make rows higher where their own face needs it
        for column, text in enumerate(grid.rows[k]):
            bold = k == 0 or k - 1 in shown.bold
            _cell(table.cell(k, column), text, grid.size, deck.look, bold=bold, left=column in shown.left, head=k == 0)
            if k and height < 2 * grid.size * model.LEADING:  # one line: programs differ in where it would hang
                table.cell(k, column).vertical_anchor = MSO_ANCHOR.MIDDLE
    return frame


def _cell(cell: Any, text: str, size: float, look: Theme, *, bold: bool, left: bool, head: bool) -> None:
    from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
    from pptx.oxml import parse_xml

    cell.margin_left = cell.margin_right = emu(model.CELL_PX)
    cell.margin_top = cell.margin_bottom = emu(model.ROW_PX / 2)
    cell.vertical_anchor = MSO_ANCHOR.BOTTOM if head else MSO_ANCHOR.TOP
    paragraph = cell.text_frame.paragraphs[0]
    run = paragraph.add_run()
    run.text = text
    run.font.size, run.font.bold, run.font.language_id = _points(size), bold, _language()
    _paint(run.font.color, look.muted if head else look.ink, look)
    paragraph.alignment = PP_ALIGN.LEFT if left else PP_ALIGN.RIGHT
    width, color = (19050, "tx2") if head else (9525, "bg2")
    line = f'<a:lnB {_DRAWING} w="{width}"><a:solidFill><a:schemeClr val="{color}"/></a:solidFill></a:lnB>'
    cell._tc.get_or_add_tcPr().insert(0, parse_xml(line))


def _chart(holder: Any, shown: Chart, box: Box, deck: Deck) -> Any:
    from pptx.chart.data import CategoryChartData
    from pptx.enum.chart import XL_CHART_TYPE, XL_LEGEND_POSITION, XL_TICK_LABEL_POSITION

    # The names stand in cells of the workbook behind the chart too.
    data = CategoryChartData(number_format=_SIGNED if shown.signed else "#,##0")
    data.categories = [texts.as_cell(lines(name)) for name in shown.categories]
    room = box.width / len(shown.series) - _KEY_MARK * model.CHART_SIZE  # names of the key stand side by side
    for one in shown.series:
        named = WIDE.cut(plain(one.name), model.CHART_SIZE, room, 1)
        data.add_series(texts.as_cell(named), one.values)
    kind = XL_CHART_TYPE.COLUMN_STACKED if shown.stacked else XL_CHART_TYPE.COLUMN_CLUSTERED
    frame = holder.insert_chart(kind, data)
    chart = frame.chart
    chart.has_title = False
    chart.font.size = _points(model.CHART_SIZE)
    _paint(chart.font.color, deck.look.ink, deck.look)
    chart.has_legend = len(shown.series) > 1
    if chart.has_legend:
        chart.legend.position, chart.legend.include_in_layout = XL_LEGEND_POSITION.TOP, False
    plot = chart.plots[0]
    plot.gap_width, plot.overlap = (35, 100) if shown.stacked else (45, 0)
    for drawn, one in zip(plot.series, shown.series, strict=True):
        drawn.format.fill.solid()
        drawn.invert_if_negative = False  # else a column that hangs down is white
        _paint(drawn.format.fill.fore_color, one.color, deck.look)
    _axis(chart.category_axis, shown.x, deck, grid=False)
    every = WIDE.named_every(shown.categories, model.CHART_SIZE, box.width)
    _name_every(chart, every)
    _axis(chart.value_axis, shown.y, deck, grid=True)
    _name_axes(chart)
    if shown.signed:
        chart.category_axis.tick_label_position = XL_TICK_LABEL_POSITION.LOW  # below the columns that hang down
        labels = chart.value_axis.tick_labels
        labels.number_format, labels.number_format_is_linked = _SIGNED, False
    if max(value for one in shown.series for value in one.values) < _FEW:
        chart.value_axis.major_unit = 1  # reports are whole
    return frame


def _axis(axis: Any, name: str, deck: Deck, *, grid: bool) -> None:
    from pptx.enum.chart import XL_TICK_MARK

    look = deck.look
    axis.has_title = True
    axis.axis_title.text_frame.text = plain(name)
    run = axis.axis_title.text_frame.paragraphs[0].runs[0]
    run.font.size, run.font.bold = _points(model.CHART_SIZE), False
    _paint(run.font.color, look.ink, look)
    axis.tick_labels.font.size = _points(model.CHART_SIZE)
    _paint(axis.tick_labels.font.color, look.muted, look)
    axis.major_tick_mark = XL_TICK_MARK.NONE
    axis.has_major_gridlines = grid
    if grid:
        _paint(axis.major_gridlines.format.line.color, look.hair, look)
        axis.format.line.fill.background()
    else:
        _paint(axis.format.line.color, look.ring, look)


def _name_axes(chart: Any) -> None:
    """Small numbers as names of the axes: python-pptx writes negative ones, which the format does not allow, and large
    ones are beyond what some programs read."""
    numbers = chart._chartSpace.xpath(".//c:axId | .//c:crossAx")
    known = {name: str(k + 1) for k, name in enumerate(dict.fromkeys(each.get("val") for each in numbers))}
    for each in numbers:
        each.set("val", known[each.get("val")])


def _name_every(chart: Any, step: int) -> None:
    """Name every so manyth column only. LibreOffice does not know that it may leave names out, and lays or breaks them all:
    so the chart itself holds those that are shown, and the sheet behind it has them all."""
    from pptx.oxml import parse_xml
    from pptx.oxml.ns import nsdecls, qn

    axis = chart.category_axis
    for point in chart._chartSpace.xpath(".//c:cat//c:pt"):
        if int(point.get("idx")) % step:
            point.getparent().remove(point)
    after = axis._element.find(qn("c:noMultiLvlLbl"))
    for name in ("c:tickLblSkip", "c:tickMarkSkip"):
        one = parse_xml(f'<{name} {nsdecls("c")} val="{step}"/>')
        after.addprevious(one) if after is not None else axis._element.append(one)


def _paint(color: Any, wanted: str, look: Theme) -> None:
    """A colour of the style, as that of the theme where the theme has it, so that it changes with the theme."""
    from pptx.dml.color import RGBColor
    from pptx.enum.dml import MSO_THEME_COLOR

    named = {
        look.ink: "TEXT_1",
        look.muted: "TEXT_2",
        look.land: "BACKGROUND_2",
        look.plain: "ACCENT_5",
        look.ring: "ACCENT_6",
    }
    named |= {each: f"ACCENT_{k + 1}" for k, each in enumerate(look.setups[:4])}
    if wanted in named:
        color.theme_color = getattr(MSO_THEME_COLOR, named[wanted])
    else:
        color.rgb = RGBColor.from_string(wanted.lstrip("#").upper())

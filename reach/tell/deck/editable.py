"""The deck as a .pptx whose words, tables and charts stay editable; maps are pictures with a text for the blind.

The same deck gives the same bytes: no date and no name of a machine goes into the file.
"""

from __future__ import annotations

import io
import re
import zipfile
from typing import Any, Final

from reach.base import words
from reach.draw import style
from reach.tell.deck import layout, template
from reach.tell.deck.fit import WIDE, plain
from reach.tell.deck.layout import Box, Paragraph
from reach.tell.deck.model import Chart, Deck, Picture, Slide, Table

PICTURE_SCALE: Final = 2
_FEW: Final = 5
_SIGNED: Final = f"+0.#;{words.MINUS}0.#;0"
_LONGEST: Final = 255  # characters of a property
_DATES: Final = re.compile(rb"<dcterms:(created|modified)\b.*?</dcterms:\1>", re.DOTALL)


def pptx(deck: Deck) -> bytes:
    """The whole presentation as bytes."""
    from pptx import Presentation

    show = Presentation(io.BytesIO(template.package(deck.look)))
    kinds = {one.name: one for one in show.slide_layouts}
    for number, slide in enumerate(deck.slides, 1):
        _slide(show.slides.add_slide(kinds[slide.layout]), slide, deck, number)
    about = show.core_properties
    about.title, about.author, about.subject = plain(deck.title)[:_LONGEST], "reach", plain(deck.foot)[:_LONGEST]
    about.last_modified_by, about.comments = "reach", deck.notice
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
    return template.zipped(parts)


def _slide(page: Any, slide: Slide, deck: Deck, number: int) -> None:
    _, text, size = WIDE.title_on(slide)
    _write(page.shapes.title.text_frame, [Paragraph(text, bold=True)], size, deck, leading=False)
    for k, (_, paragraphs, size) in enumerate(WIDE.texts_on(slide), 1):
        _write(page.placeholders[k].text_frame, paragraphs, size, deck)
    for shown, box in slide.exhibits:
        _exhibit(page, shown, box, deck)
    _foot(page, deck, number)
    page.notes_slide.notes_text_frame.text = plain(slide.notes)


def _write(frame: Any, paragraphs: list[Paragraph], size: float, deck: Deck, *, leading: bool = True) -> None:
    from pptx.enum.dml import MSO_THEME_COLOR
    from pptx.enum.lang import MSO_LANGUAGE_ID
    from pptx.util import Pt

    for k, one in enumerate(paragraphs):
        paragraph = frame.paragraphs[0] if not k else frame.add_paragraph()
        own = one.share * size
        run = paragraph.add_run()
        run.text = one.text
        run.font.size, run.font.bold = Pt(own / 2), one.bold
        run.font.language_id = MSO_LANGUAGE_ID.ENGLISH_UK
        if one.muted:
            run.font.color.theme_color = MSO_THEME_COLOR.TEXT_2
        if leading:
            paragraph.space_before = Pt(one.gap * own / 2 if k else 0)
        if one.item:
            _mark(paragraph, own)


def _mark(paragraph: Any, size: float) -> None:
    """A bullet in front of a paragraph, its lines in one column."""
    from pptx.oxml import parse_xml

    indent = template.emu(0.8 * size)
    about = paragraph._p.get_or_add_pPr()
    about.set("marL", str(indent))
    about.set("indent", str(-indent))
    for xml in ('<a:buFont {} typeface="Arial"/>', '<a:buChar {} char="•"/>'):
        about.append(parse_xml(xml.format(f'xmlns:a="{template._MAIN}"')))


def _foot(page: Any, deck: Deck, number: int) -> None:
    """Whose signal, the notice, and the number of the slide, as the footers of the layout."""
    from copy import deepcopy

    from pptx.oxml.ns import qn

    for holder in page.slide_layout.placeholders:
        kind = holder.placeholder_format.idx
        if kind not in (template.FOOT, template.NUMBER):
            continue
        shape = deepcopy(holder._element)
        shape.nvSpPr.cNvPr.set("id", str(max(int(each.shape_id) for each in page.shapes) + 1))
        for own in list(shape.spPr):
            shape.spPr.remove(own)
        page.shapes._spTree.append(shape)
        if kind == template.NUMBER:
            shape.find(".//" + qn("a:t")).text = str(number)
            continue
        frame = page.shapes[-1].text_frame
        frame.paragraphs[0].add_run().text = WIDE.foot(deck)
        if deck.notice:
            frame.paragraphs[0].runs[0].font.bold = True


# --- exhibits ---------------------------------------------------------------------------------------------------------


def _exhibit(page: Any, shown: Table | Chart | Picture, box: Box, deck: Deck) -> None:
    if isinstance(shown, Table):
        frame = _table(page, shown, box, deck)
    elif isinstance(shown, Chart):
        frame = _chart(page, shown, box, deck)
    else:
        frame = _picture(page, shown, box, deck)
    frame.name = shown.name
    frame._element.xpath(".//p:cNvPr")[0].set("descr", plain(shown.alt))


def _place(box: Box) -> tuple[int, int, int, int]:
    return template.emu(box.x), template.emu(box.y), template.emu(box.width), template.emu(box.height)


def _picture(page: Any, shown: Picture, box: Box, deck: Deck) -> Any:
    figure = style.sheet(deck.look, round(box.width), round(box.height))
    shown.draw(figure, deck.look, x=0, y=0, width=box.width, height=box.height)
    content = io.BytesIO(style.png(figure, PICTURE_SCALE))
    return page.shapes.add_picture(content, *_place(box))


def _table(page: Any, shown: Table, box: Box, deck: Deck) -> Any:
    grid = WIDE.grid(
        [plain(name) for name in shown.columns], [[plain(text) for text in row] for row in shown.rows], shown.shares,
        box, shown.bold,
    )  # fmt: skip
    x, y, width, _ = _place(box)
    frame = page.shapes.add_table(len(grid.rows), len(grid.widths), x, y, width, template.emu(sum(grid.heights)))
    table = frame.table
    table.horz_banding = False
    table._tbl.tblPr.find("{*}tableStyleId").text = template.NO_STYLE
    for k, each in enumerate(grid.widths):
        table.columns[k].width = template.emu(each)
    for k, height in enumerate(grid.heights):
        table.rows[k].height = template.emu(height)
        for column, text in enumerate(grid.rows[k]):
            bold = k == 0 or k - 1 in shown.bold
            _cell(table.cell(k, column), text, grid.size, deck, bold=bold, left=column in shown.left, head=k == 0)
    return frame


def _cell(cell: Any, text: str, size: float, deck: Deck, *, bold: bool, left: bool, head: bool) -> None:
    from pptx.enum.text import MSO_ANCHOR, PP_ALIGN
    from pptx.oxml import parse_xml

    cell.margin_left = cell.margin_right = template.emu(layout.CELL_PX)
    cell.margin_top = cell.margin_bottom = template.emu(layout.ROW_PX / 2)
    cell.vertical_anchor = MSO_ANCHOR.BOTTOM if head else MSO_ANCHOR.TOP
    _write(cell.text_frame, [Paragraph(text, bold=bold, muted=head)], size, deck)
    cell.text_frame.paragraphs[0].alignment = PP_ALIGN.LEFT if left else PP_ALIGN.RIGHT
    width, color = (19050, "tx2") if head else (9525, "bg2")
    line = (
        f'<a:lnB xmlns:a="{template._MAIN}" w="{width}"><a:solidFill><a:schemeClr val="{color}"/></a:solidFill></a:lnB>'
    )
    cell._tc.get_or_add_tcPr().insert(0, parse_xml(line))


def _chart(page: Any, shown: Chart, box: Box, deck: Deck) -> Any:
    from pptx.chart.data import CategoryChartData
    from pptx.enum.chart import XL_CHART_TYPE, XL_LEGEND_POSITION, XL_TICK_LABEL_POSITION
    from pptx.util import Pt

    data = CategoryChartData(number_format=_SIGNED if shown.signed else "#,##0")
    data.categories = [plain(name) for name in shown.categories]
    for one in shown.series:
        data.add_series(plain(one.name), one.values)
    kind = XL_CHART_TYPE.COLUMN_STACKED if shown.stacked else XL_CHART_TYPE.COLUMN_CLUSTERED
    frame = page.shapes.add_chart(kind, *_place(box), data)
    chart = frame.chart
    chart.has_title = False
    chart.font.size, chart.font.name = Pt(layout.CHART_SIZE / 2), template.FACE
    chart.font.color.rgb = _rgb(deck.look.ink)
    chart.has_legend = len(shown.series) > 1
    if chart.has_legend:
        chart.legend.position, chart.legend.include_in_layout = XL_LEGEND_POSITION.TOP, False
    plot = chart.plots[0]
    plot.gap_width, plot.overlap = (35, 100) if shown.stacked else (45, 0)
    for drawn, one in zip(plot.series, shown.series, strict=True):
        drawn.format.fill.solid()
        drawn.format.fill.fore_color.rgb = _rgb(one.color)
    _axis(chart.category_axis, shown.x, deck, grid=False)
    _name_every(chart.category_axis, WIDE.named_every(shown.categories, layout.CHART_SIZE, box.width))
    _axis(chart.value_axis, shown.y, deck, grid=True)
    _name_axes(chart)
    if shown.signed:
        chart.category_axis.tick_label_position = XL_TICK_LABEL_POSITION.LOW  # below the columns that hang down
        chart.value_axis.tick_labels.number_format, chart.value_axis.tick_labels.number_format_is_linked = (
            _SIGNED,
            False,
        )
    if max(value for one in shown.series for value in one.values) < _FEW:
        chart.value_axis.major_unit = 1  # reports are whole
    return frame


def _axis(axis: Any, name: str, deck: Deck, *, grid: bool) -> None:
    from pptx.enum.chart import XL_TICK_MARK
    from pptx.util import Pt

    axis.has_title = True
    axis.axis_title.text_frame.text = plain(name)
    run = axis.axis_title.text_frame.paragraphs[0].runs[0]
    run.font.size, run.font.bold = Pt(layout.CHART_SIZE / 2), False
    run.font.color.rgb = _rgb(deck.look.ink)
    axis.tick_labels.font.size = Pt(layout.CHART_SIZE / 2)
    axis.tick_labels.font.color.rgb = _rgb(deck.look.muted)
    axis.major_tick_mark = XL_TICK_MARK.NONE
    axis.has_major_gridlines = grid
    if grid:
        axis.major_gridlines.format.line.color.rgb = _rgb(deck.look.hair)
        axis.format.line.fill.background()
    else:
        axis.format.line.color.rgb = _rgb(deck.look.ring)


def _name_axes(chart: Any) -> None:
    """Small numbers as names of the axes: python-pptx writes negative ones, which the format does not allow, and large
    ones are beyond what some programs read."""
    numbers = chart._chartSpace.xpath(".//c:axId | .//c:crossAx")
    known = {name: str(k + 1) for k, name in enumerate(dict.fromkeys(each.get("val") for each in numbers))}
    for each in numbers:
        each.set("val", known[each.get("val")])


def _name_every(axis: Any, step: int) -> None:
    """Name every so manyth column only."""
    from pptx.oxml import parse_xml
    from pptx.oxml.ns import nsdecls, qn

    after = axis._element.find(qn("c:noMultiLvlLbl"))
    for name in ("c:tickLblSkip", "c:tickMarkSkip"):
        one = parse_xml(f'<{name} {nsdecls("c")} val="{step}"/>')
        after.addprevious(one) if after is not None else axis._element.append(one)


def _rgb(color: str) -> Any:
    from pptx.dml.color import RGBColor

    return RGBColor.from_string(color.lstrip("#").upper())

"""Slides: what they say, that it fits, that it can be edited, that no clock shows, and the folder they are written to.

How the pages of the PDFs look, and the slides as an office program shows them, is tested in test_deck_pages.py.
"""

from __future__ import annotations

import io
import re
import zipfile
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from pptx import Presentation
from pptx.util import Emu

from reach import study as studies
from reach.base import words
from reach.base.words import PRINT
from reach.cli.deck import command
from reach.draw import captions, style
from reach.errors import OutputError
from reach.findings import Note, NoteCode
from reach.tell import deck, folder, texts
from reach.tell.deck import editable, fit, model, outline
from reach.tell.deck.editable import EMU_PER_PX
from reach.tell.deck.fit import OWN, WIDE
from reach.tell.deck.model import LAYOUTS, Box, Chart, Paragraph, Picture, Table
from reach.tell.sentences import cautions
from reach.tell.sentences import comparison as comparison_words
from reach.tell.sentences import reach as sentences
from tests import factory
from tests.tell import make_slides

LONG = "An extraordinarily long title about a very long evening on a very long peninsula with "
NASTY = "<b>&amp;</b> \x00\x1b[31m \u202eevil\u202c \u65e5\u672c \U0001f389 $x^2$ {0} %s \ud800 "
AMONG = factory.receivers(90, np.random.default_rng(1))
PLAIN = factory.result()
COMPARED = replace(PLAIN, comparison=factory.comparison(PLAIN.receivers))
REFUSED = replace(PLAIN, comparison=factory.comparison(PLAIN.receivers, told=False))
NOTHING = replace(factory.from_spots(PLAIN.spots.iloc[:0], AMONG), study=factory.study(compare=None))
UNSURE = factory.from_spots(PLAIN.spots, PLAIN.receivers.assign(trust="unconfirmed"), study=factory.study(compare=None))
ONE = replace(factory.from_spots(PLAIN.spots.iloc[:1], AMONG), study=studies.check({"files": ["x.csv"]}))


LONG_NAME = "vertical with sixteen radials on the north side of the lawn!"  # 60 characters
MARKUP = '<b>&"'
assert len(LONG_NAME) == 60


def renamed():
    """Setups with a name of 60 characters and one that is markup in most files."""
    new = {"vertical": LONG_NAME, "wire": MARKUP}
    table = PLAIN.spots.assign(setup=PLAIN.spots["setup"].cat.rename_categories(new))
    study = factory.study(
        compare={"a": LONG_NAME, "b": MARKUP}, setups={name: {"power_w": 5.0} for name in new.values()}
    )
    blocks = tuple(replace(one, setup=new[one.setup]) for one in COMPARED.comparison.by_block)
    found = replace(COMPARED.comparison, a=LONG_NAME, b=MARKUP, by_block=blocks)
    return factory.from_spots(table, AMONG, study=study, comparison=found)


def hostile():
    """Everything too long and full of what breaks files."""
    names = [f"{k} " + (LONG if k % 2 else "W" * 2500) + NASTY for k in range(12)]
    study = factory.study(
        title=LONG * 4 + NASTY, about=(LONG + NASTY) * 6, compare={"a": names[0], "b": names[1]},
        setups={name: {"antenna": LONG * 3 + "W" * 300, "power_w": 5.0} for name in names},
    )  # fmt: skip
    heavy = COMPARED.comparison.warnings[0]
    warned = replace(heavy, values={**heavy.values, "rx_call": LONG * 4})
    found = replace(COMPARED.comparison, a=names[0], b=names[1], warnings=(warned,) * 6)
    lost = Note(NoteCode.FIX_WITHOUT_ROW, {"where": LONG * 5, "call": "W" * 900, "locator": "IO51es"})
    return replace(PLAIN, study=study, comparison=found, notes=(lost,))


HOSTILE = hostile()
ALL = {
    "plain": PLAIN, "compared": COMPARED, "refused": REFUSED, "nothing": NOTHING, "unsure": UNSURE, "one": ONE,
    "renamed": renamed(), "hostile": HOSTILE,
}  # fmt: skip


@cache
def composed(name: str):
    """A deck of a kind, and its pictures."""
    club = LONG * 3 + NASTY if name == "hostile" else "Beara Radio Club"
    made = outline.deck(ALL[name], club=club, look="dark" if name == "compared" else "light")
    return made, made.pictures()


@cache
def presented(name: str) -> bytes:
    """The presentation of a deck of a kind."""
    return editable.pptx(*composed(name))


@pytest.fixture(scope="module", params=list(ALL))
def case(request):
    """A deck of each kind with its presentation: (name, result, deck, bytes)."""
    return request.param, ALL[request.param], composed(request.param)[0], presented(request.param)


def opened(content: bytes):
    return Presentation(io.BytesIO(content))


def words_of(slide) -> str:
    return "\n".join(shape.text_frame.text for shape in slide.shapes if shape.has_text_frame)


def named(slide, name):
    return next(shape for shape in slide.shapes if shape.name == name)


# --- which slides -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("result", "names"),
    [
        (PLAIN, "question station cautions where far when limits next"),
        (COMPARED, "question station cautions where far when verdict receivers limits next"),
        (REFUSED, "question station cautions where far when verdict limits next"),
        (NOTHING, "question station cautions nothing next"),
    ],
)
def test_eight_slides_and_two_for_a_comparison(result, names):
    assert [slide.name for slide in outline.deck(result).slides] == names.split()


def test_titles_say_the_finding():
    for result, verdict in (
        (COMPARED, "vertical was 2.4\u202fdB stronger than wire"), (REFUSED, "These data cannot tell vertical from wire"),
    ):  # fmt: skip
        titles = {slide.name: slide.title for slide in outline.deck(result).slides}
        assert (titles["far"], titles["verdict"]) == (sentences.headline(result, PRINT), verdict)


@pytest.mark.parametrize(
    ("verdict", "db", "said"),
    [
        ("b better", -1.84, "wire was 1.8\u202fdB stronger than vertical"),
        ("a better", 0.04, "vertical was 0.04\u202fdB stronger than wire"),
        ("no clear difference", 0.4, "No clear difference between vertical and wire"),
    ],
)
def test_the_verdict_in_a_title(verdict, db, said):
    found = replace(COMPARED.comparison, verdict=verdict, difference_db=db)
    titles = [slide.title for slide in outline.deck(replace(PLAIN, comparison=found)).slides]
    assert said in titles


def test_the_question_names_what_is_known():
    text = " ".join(p.text for slide in outline.deck(COMPARED).slides[:1] for p in slide.texts[0])
    assert (
        "EI4QTB/P" in text
        and "5\N{NARROW NO-BREAK SPACE}W" in text
        and "Was vertical better" in text.replace("was", "Was")
    )
    unknown = replace(ONE, spots=ONE.spots.assign(power_w=np.float32("nan")))
    first = outline.deck(unknown).slides[0]
    assert first.title == "How far did the signal reach?"


def test_limits_name_the_doubt_and_the_days():
    said = " ".join(p.text for p in outline.deck(PLAIN).slides[-2].texts[0])
    suspects = int((PLAIN.receivers["trust"] == "suspect").sum())
    assert suspects > 0
    assert f"{suspects} locator" in said and "this was 1 day" in said and captions.no_far_end(PLAIN) in said
    assert f"31{words.THIN}% of the weight" in " ".join(p.text for p in outline.deck(COMPARED).slides[-2].texts[0])


def test_the_next_step_is_that_of_the_plan():
    from reach.compare import plan

    slide = outline.deck(PLAIN).slides[-1]
    planned = plan.plan(PLAIN.spots)
    assert f"{planned.blocks} blocks" in slide.texts[0][0].text
    assert isinstance(slide.exhibit, Table) and len(slide.exhibit.rows) == len(planned.table)
    (bold,) = slide.exhibit.bold
    assert slide.exhibit.rows[bold][0] == "10\u202fmin"


def test_powers_and_antennas_of_every_setup():
    table = outline.deck(PLAIN).slides[1].exhibit
    assert isinstance(table, Table)
    assert [row[0] for row in table.rows] == ["vertical", "wire"]
    assert table.rows[0][1] == "quarter-wave, raised radials"
    assert [row[3] for row in table.rows] == ["5\N{NARROW NO-BREAK SPACE}W"] * 2


# --- the presentation -------------------------------------------------------------------------------------------------


def test_a_presentation_opens_and_has_the_same_slides(case):
    name, _, made, content = case
    show = opened(content)
    assert (show.slide_width, show.slide_height) == (1920 * EMU_PER_PX, 1080 * EMU_PER_PX)
    titles = [slide.shapes.title.text_frame.text for slide in show.slides]
    for shown, slide in zip(titles, made.slides, strict=True):
        told = fit.plain(slide.title)
        assert shown == told or (name == "hostile" and shown.endswith("…") and told.startswith(shown[:-1]))


def test_every_slide_has_notes_of_two_sentences(case):
    _, _, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        notes = page.notes_slide.notes_text_frame.text
        assert notes == f"{slide.shows} {slide.hides}"
        assert slide.shows.count(". ") == 0 and slide.hides.count(". ") == 0
        assert slide.shows.endswith(".") and slide.hides.endswith(".")


def test_made_up_data_says_so_on_every_slide(case):
    name, result, _, content = case
    for page in opened(content).slides:
        assert ("Made-up demonstration data" in words_of(page)) == result.study.made_up, name


def test_slides_are_numbered(case):
    *_, content = case
    for number, page in enumerate(opened(content).slides, 1):
        assert str(number) in words_of(page).split("\n")


def test_the_cautions_are_there_in_full(case):
    *_, content = case
    page = opened(content).slides[2]
    said = words_of(page)
    for each in cautions.cautions(5.0):
        assert each.title in said and fit.plain(each.text) in said
    assert cautions.CLOSING in said


def test_a_map_is_a_picture_of_twice_the_pixels_with_a_text(case):
    name, _, made, content = case
    found = 0
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        if isinstance(slide.exhibit, Picture):
            picture = named(page, slide.exhibit.name)
            with Image.open(io.BytesIO(picture.image.blob)) as image:
                assert image.format == "PNG"
                assert image.width >= 2 * picture.width / EMU_PER_PX - 2
                assert len(np.unique(np.asarray(image.convert("L")))) > 20  # something is drawn
            found += 1
    assert found == {"plain": 1, "one": 1, "refused": 1, "unsure": 1, "nothing": 0}.get(name, 2)


def test_everything_shown_has_a_text_for_the_blind(case):
    _, _, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        if slide.exhibit is not None:
            shape = named(page, slide.exhibit.name)
            assert shape._element.xpath(".//p:cNvPr")[0].get("descr") == fit.plain(slide.exhibit.alt)
            assert len(slide.exhibit.alt) > 20


def test_charts_are_native_and_hold_every_report(case):
    _, result, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        if not isinstance(slide.exhibit, Chart):
            continue
        chart = named(page, slide.exhibit.name).chart
        assert sum(sum(series.values) for series in chart.plots[0].series) == result.reach.headline.reports
        named_ones, whole = list(chart.plots[0].categories), [fit.plain(each) for each in slide.exhibit.categories]
        every = int(chart.category_axis._element.xpath("./c:tickLblSkip")[0].get("val"))
        assert named_ones == [each if k % every == 0 else "" for k, each in enumerate(whole)]
        with zipfile.ZipFile(io.BytesIO(chart.part.chart_workbook.xlsx_part.blob)) as sheet:
            written = re.findall(r"<t[^>]*>([^<]*)</t>", sheet.read("xl/sharedStrings.xml").decode())
        assert set(whole) <= set(written)  # the sheet behind it has them all
        numbers = [int(each) for each in re.findall(r'(?:axId|crossAx) val="(-?\d+)"', chart._chartSpace.xml)]
        assert len(set(numbers)) == 2 and all(0 < each < 2**31 for each in numbers)
        assert chart.category_axis.axis_title.text_frame.text != chart.value_axis.axis_title.text_frame.text


def test_the_distance_chart_counts_each_step():
    slide = next(slide for slide in outline.deck(PLAIN).slides if slide.name == "far")
    rows = captions.counted(PLAIN)
    assert isinstance(slide.exhibit, Chart)
    assert [series.name for series in slide.exhibit.series] == ["vertical", "wire"]
    vertical = rows[(rows["setup"] == "vertical").to_numpy()]
    within = int(vertical["reports"][(vertical["distance_km"] < 1000).to_numpy()].sum())
    assert slide.exhibit.categories[:2] == ("0", "1") and slide.exhibit.series[0].values[0] == within > 0


@pytest.mark.parametrize(
    ("farthest_km", "step_km", "columns"),
    [(18969, 1000, 19), (10000, 500, 21), (5200, 500, 11), (340, 50, 7), (0, 10, 1), (20004, 2000, 11)],
)
def test_steps_of_distance_are_round_and_hold_the_farthest(farthest_km, step_km, columns):
    step, edges = outline._steps(farthest_km)
    assert (step, len(edges) - 1) == (step_km, columns)
    assert edges[0] == 0 and edges[-1] > farthest_km


def test_many_bands_are_not_many_colours():
    bands = ("160m", "80m", "40m", "30m", "20m", "17m", "15m", "10m")
    result = factory.result(900, 40, bands=bands)
    slide = next(slide for slide in outline.deck(result).slides if slide.name == "when")
    assert isinstance(slide.exhibit, Chart)
    assert len(slide.exhibit.series) == outline.MOST_BANDS and slide.exhibit.series[-1].name == "other bands"
    assert sum(sum(one.values) for one in slide.exhibit.series) == result.reach.headline.reports


def test_tables_are_native_and_say_what_they_should():
    show = opened(presented("compared"))
    table = named(show.slides[6], "parts").table
    texts_ = [[cell.text_frame.text for cell in row.cells] for row in table.rows]
    assert texts_[0] == ["Part", "vertical − wire", "95\xa0% interval", "Receivers"]
    assert texts_[1] == ["all together", "+2.4\N{NO-BREAK SPACE}dB", "+1.6 to +3.2", "61"]
    assert [
        "beyond 3\N{NO-BREAK SPACE}000\N{NO-BREAK SPACE}km *",
        "+4.1\N{NO-BREAK SPACE}dB",
        "+2.8 to +5.4",
        "31",
    ] in texts_


def test_a_refusal_shows_reasons_and_claims_no_decibels():
    slide = outline.deck(REFUSED).slides[6]
    said = " ".join(p.text for p in slide.texts[0])
    (why,) = REFUSED.comparison.reasons
    assert fit.clean(comparison_words.remark(why, REFUSED.comparison, say=PRINT)) in said
    assert "dB" not in slide.title and "dB" not in " ".join(" ".join(row) for row in slide.exhibit.rows)
    assert isinstance(slide.exhibit, Table) and slide.exhibit.rows[0] == ("Reports", "610", "590")


def test_stretches_stand_in_time_order_below_the_map_s_words():
    found = COMPARED.comparison
    known = [block for block in found.by_block if block.difference_db is not None]
    page = opened(presented("compared")).slides[7]
    chart = named(page, "stretches").chart
    starts = [block.start_utc[11:16] for block in known]
    every = int(chart.category_axis._element.xpath("./c:tickLblSkip")[0].get("val"))  # as many names as have room
    shown = [start if k % every == 0 else "" for k, start in enumerate(starts)]
    assert list(chart.plots[0].categories) == shown and shown[0] and len(shown) > every
    on_a, on_b = (list(one.values) for one in chart.plots[0].series)
    for block, of_a, of_b in zip(known, on_a, on_b, strict=True):
        own, other = (of_a, of_b) if block.setup == found.a else (of_b, of_a)
        assert (own, other) == (round(block.difference_db, 2), 0.0)
    assert named(page, "map").left > named(page, "stretches").left + named(page, "stretches").width


def test_very_many_stretches_are_taken_together_by_their_pairs():
    block = COMPARED.comparison.by_block[0]
    many = tuple(replace(block, pairs=1 + k % 3, difference_db=float(k)) for k in range(100))
    made = outline.deck(replace(COMPARED, comparison=replace(COMPARED.comparison, by_block=many)))
    (series,) = made.slides[7].second.series
    assert len(series.values) == 34  # three together, as 100 / 48 is more than two
    assert series.values[0] == pytest.approx((0 * 1 + 1 * 2 + 2 * 3) / 6, abs=0.01)
    assert "3 stretches together" in series.name


def test_replaced_locators_are_counted_on_slides_and_pictures():
    """Every report says how many rows the operator changed, and none says so where nothing was changed. (That the
    handout does is tested on its page.)"""
    changed = replace(PLAIN, fixed_rows=11)
    station = " ".join(one.text for one in outline.deck(changed).slides[1].texts[0])
    assert "The operator replaced the locator of 11 rows." in station
    assert "11 rows carry a locator that the operator replaced." in captions.about(changed, "x").notes
    untouched = " ".join(one.text for one in outline.deck(PLAIN).slides[1].texts[0])
    for said in (untouched, " ".join(captions.about(PLAIN, "x").notes)):
        assert "replaced" not in said


# --- it fits ----------------------------------------------------------------------------------------------------------


def sizes_of(holder, place: model.Layout) -> list[float]:
    """Size of type of each paragraph of a placeholder [px]: its own, else that of its level in the template."""
    found = []
    for paragraph in holder.text_frame.paragraphs:
        own = paragraph.runs[0].font.size
        found.append(own.pt * 2 if own is not None else model.LEVELS[paragraph.level].size(place.text_px))
    return found


def test_no_words_run_out_of_their_place(case):
    """With the widest face that may stand in, every text fits its box."""
    name, _, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        place = LAYOUTS[slide.layout]
        for holder in page.placeholders:
            k = holder.placeholder_format.idx
            if not 1 <= k <= len(place.texts) or not holder.text_frame.text:
                continue
            box, high = place.texts[k - 1], 0.0
            for n, (paragraph, size) in enumerate(
                zip(holder.text_frame.paragraphs, sizes_of(holder, place), strict=True)
            ):
                level = model.LEVELS[paragraph.level]
                lines = WIDE.lines(paragraph.text, size, box.width - level.indent * size, bold=level.bold)
                high += len(lines) * size * model.LEADING + (model.GAP * size if n else 0)
            assert high <= box.height * 1.005, (name, slide.name, holder.text_frame.text[:40])


def test_titles_have_two_lines_at_most_and_three_on_the_first_slide(case):
    name, _, made, _ = case
    for slide in made.slides:
        place = LAYOUTS[slide.layout]
        text, size = fit.title(slide)
        lines = WIDE.lines(text, size, place.title.width, bold=True)
        assert len(lines) * size * model.TITLE_LEADING <= place.title.height * 1.1, (name, slide.name)


def test_what_a_club_reads_is_eighteen_points_or_more(case):
    """Text, tables, axes, the foot and the number, whatever names users give; maps are drawn to be so."""
    name, _, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        place = LAYOUTS[slide.layout]
        for holder in page.placeholders:
            if 1 <= holder.placeholder_format.idx <= len(place.texts) and holder.text_frame.text:
                assert min(sizes_of(holder, place)) >= model.READABLE, (name, slide.name, holder.text_frame.text[:60])
        for shown, box in slide.exhibits:
            if isinstance(shown, Table):
                assert fit.grid(shown, box).size >= model.READABLE, (name, slide.name)
        said = [int(size) for size in re.findall(r'sz="(\d+)"', etree(page))]  # in hundredths of a point
        assert min(said, default=1800) >= 1800, (name, slide.name)
    assert min(model.CHART_SIZE, model.FOOT_SIZE, *model.TEXT_SIZES, *model.TITLE_SIZES) >= model.READABLE
    assert style.NOTE * model.ENLARGED >= model.READABLE  # the smallest words of a map, as a slide shows them


def etree(page) -> str:
    """A slide as it stands in the file."""
    from lxml import etree as xml

    return xml.tostring(page._element).decode()


def test_a_master_that_is_edited_changes_the_slides():
    """Words say no face, colour or size of their own where they fit as the template has them; places are its too."""
    show = opened(presented("plain"))
    for page in show.slides:
        for holder in page.placeholders:
            if holder.placeholder_format.idx >= editable.FIRST_EXHIBIT:
                continue
            own = holder._element.spPr
            assert len(own) == 0, (page.slide_layout.name, holder.name)
            for paragraph in holder.text_frame.paragraphs:
                for run in paragraph.runs:
                    about = run._r.rPr
                    assert about is None or not len(about), (page.slide_layout.name, run.text[:40])
    for holder in show.slides[0].placeholders:
        for paragraph in holder.text_frame.paragraphs:
            assert all(run.font.size is None for run in paragraph.runs)


def test_exhibits_fill_the_placeholders_of_their_layout(case):
    _, _, made, content = case
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        held = {each.placeholder_format.idx: each.name for each in page.placeholders}
        expected = {editable.FIRST_EXHIBIT + k: shown.name for k, (shown, _) in enumerate(slide.exhibits)}
        assert {idx: name for idx, name in held.items() if idx >= editable.FIRST_EXHIBIT} == expected
        loose = [shape.name for shape in page.shapes if not shape.is_placeholder]
        assert loose == []


@pytest.mark.parametrize("look", ["light", "dark"])
def test_the_bundled_presentation_is_what_its_script_makes(look):
    """Part by part: how a zip is packed may differ from one machine to the next, what is in it may not."""
    theme = style.theme(look)
    kept = (Path(outline.__file__).parents[2] / "data" / editable.template_file(theme)).read_bytes()
    made = make_slides.package(theme)
    assert [(about.filename, part) for about, part in parts_of(kept)] == [
        (about.filename, part) for about, part in parts_of(made)
    ]
    assert (
        theme.paper.lstrip("#").upper().encode()
        in {about.filename: part for about, part in parts_of(kept)}["ppt/theme/theme1.xml"]
    )


def test_the_template_has_every_layout_that_slides_ask_for(case):
    _, _, made, content = case
    named_ = {one.name for one in opened(content).slide_layouts}
    assert named_ == {model.template_name(*one) for one in make_slides.KINDS}
    for page, slide in zip(opened(content).slides, made.slides, strict=True):
        assert page.slide_layout.name.lower().startswith(slide.layout)


def test_everything_lies_on_the_slide_and_nothing_on_top_of_words(case):
    name, _, made, content = case
    show = opened(content)
    for page, slide in zip(show.slides, made.slides, strict=True):
        shapes = [named(page, shown.name) for shown, _ in slide.exhibits]
        texts_ = [LAYOUTS[slide.layout].title, *LAYOUTS[slide.layout].texts, model.FOOT]
        for shape in shapes:
            left, top, width, height = (
                Emu(each) / EMU_PER_PX for each in (shape.left, shape.top, shape.width, shape.height)
            )
            assert left >= 0 and top >= 0 and left + width <= 1920.5 and top + height <= 1080.5, (name, slide.name)
            for box in texts_:
                apart = (
                    left >= box.x + box.width - 0.5 or left + width <= box.x + 0.5
                    or top >= box.y + box.height - 0.5 or top + height <= box.y + 0.5
                )  # fmt: skip
                assert apart, (name, slide.name, box)


@given(st.text(max_size=400), st.integers(100, 1200))
def test_cut_text_fits_and_begins_as_the_whole(text, room):
    text = fit.clean(text)
    shown = WIDE.cut(text, 40, room, 2, bold=True)
    assert len(WIDE.lines(shown, 40, room, bold=True)) <= 2
    assert shown == text or (shown.endswith("…") and text.startswith(shown[:-1].rstrip()))


@given(st.lists(st.text(max_size=300), max_size=8), st.integers(200, 900), st.integers(40, 700))
def test_fitted_paragraphs_fit(texts_, width, height):
    box = Box(0, 0, width, height)
    told = [Paragraph(fit.clean(text), 0.8 if k else 1.0, item=bool(k % 2)) for k, text in enumerate(texts_)]
    shown, size = OWN.fitted(told, box)
    assert OWN.height(shown, size, width) <= height + 1e-6
    assert len(shown) <= len(told)


def test_evidence_is_left_out_as_a_whole_before_anything_is_cut():
    """What to try next stood below it, and the evidence was cut in the middle of a word."""
    say, evidence, step = "A" + " word" * 60, "B" + " word" * 60, "C word word."
    told = [Paragraph(say), Paragraph(evidence, 0.8, muted=True), Paragraph(step, 0.8, item=True)]
    small = model.TEXT_SIZES[-1]
    width = 400.0
    room = model.Box(0, 0, width, OWN.height([told[0], told[2]], small, width) + 1)
    assert [one.text for one in OWN.fitted(told, room)[0]] == [say, step]
    assert [one.text for one in OWN.fitted(told, replace(room, height=5000.0))[0]] == [say, evidence, step]


@given(
    st.lists(st.lists(st.text(max_size=60), min_size=3, max_size=3), max_size=30), st.integers(500, 1700),
    st.integers(300, 700),
)  # fmt: skip
def test_tables_fit_their_box(rows, width, height):
    clean = [[fit.clean(text) for text in row] for row in rows]
    grid = WIDE.grid(["name", "much", "more words"], clean, (2.0, 1.0, 1.0), Box(0, 0, width, height))
    assert sum(grid.heights) <= height + 1e-6 or len(grid.rows) <= 2
    assert sum(grid.widths) == pytest.approx(width)
    left_out = re.fullmatch(r"… \+ (\d+)", grid.rows[-1][0]) if len(grid.rows) <= len(rows) else None
    shown = len(grid.rows) - 1
    assert shown == len(rows) or (left_out is not None and shown - 1 + int(left_out.group(1)) == len(rows))


def test_what_a_slide_cannot_hold_is_dropped():
    assert fit.clean("a\x00b\x1b c\u202ed\ud800e\u200b\n\tf") == "ab cde f"
    assert fit.plain("2\N{NARROW NO-BREAK SPACE}080") == "2\N{NO-BREAK SPACE}080"
    assert len(fit.name("W" * 99)) == fit.LONGEST_NAME


# --- no clock -----------------------------------------------------------------------------------------------------------


def test_the_same_deck_gives_the_same_bytes(case):
    _, _, made, content = case
    assert editable.pptx(made) == content


def parts_of(content: bytes):
    """Every part of an Office file, those of the files inside included: (zip info, bytes)."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        for about in archive.infolist():
            yield about, archive.read(about)
            if about.filename.endswith(".xlsx"):
                yield from parts_of(archive.read(about))


def test_no_date_is_in_a_presentation(case):
    *_, content = case
    seen = set()
    for about, part in parts_of(content):
        assert about.date_time == (1980, 1, 1, 0, 0, 0)
        if about.filename.endswith("core.xml"):
            assert b"dcterms:created" not in part and b"dcterms:modified" not in part
            seen.add(about.filename)
    assert seen


# --- the folder -----------------------------------------------------------------------------------------------------------


def test_a_folder_is_written_whole_and_can_be_written_again(tmp_path):
    out = deck.write(PLAIN, tmp_path / "slides", club="Beara Radio Club")
    assert {path.name for path in out.iterdir()} == {"deck.pptx", "deck.pdf", "handout.pdf", "manifest.json"}
    before = {path.name: path.read_bytes() for path in out.iterdir()}
    deck.write(PLAIN, out, club="Beara Radio Club")
    assert {path.name: path.read_bytes() for path in out.iterdir()} == before


@pytest.fixture
def slides(tmp_path) -> Path:
    """A folder as `reach deck` leaves it, with something short in the place of the slides."""
    out = tmp_path / "slides"
    out.mkdir()
    (out / "deck.pptx").write_bytes(b"slides")
    (out / "manifest.json").write_text(folder.to_json(folder.manifest(ONE, out)))
    return out


@pytest.mark.parametrize("name", ["deck.pptx", "manifest.json"])
def test_slides_that_somebody_changed_are_left_alone(slides, name):
    folder.check(slides, makes=deck.MAKES)
    (slides / name).write_text("my own words")
    with pytest.raises(OutputError, match="left alone"):
        deck.write(ONE, slides)
    assert (slides / name).read_text() == "my own words"


def test_what_somebody_put_beside_the_slides_stays(slides):
    (slides / "mine.txt").write_text("my own words")
    deck.write(ONE, slides)
    assert (slides / "mine.txt").read_text() == "my own words"
    assert (slides / "deck.pptx").read_bytes() != b"slides"


def test_a_foreign_folder_is_left_alone(tmp_path):
    (tmp_path / "thesis.pptx").touch()
    with pytest.raises(OutputError, match="did not write"):
        deck.write(ONE, tmp_path)


def test_the_command(tmp_path):
    spots = tmp_path / "spots.csv"
    spots.write_text("time,callsign,grid,snr,band\n2026-05-16 18:02,G4QRA,IO91wm,-12,20m\n")
    out = tmp_path / "out"
    asked = [str(spots), "--locator", "IO51es", "--callsign", "EI4QTB/P", "--power", "5", "--title", "Five watts"]
    ran = CliRunner().invoke(
        command, [*asked, "--club", "Beara", "--out", str(out), "--paper", "letter", "--style", "dark"],
        catch_exceptions=False,
    )  # fmt: skip
    assert ran.exit_code == 0
    assert ran.output.splitlines() == [f"Wrote {out / name}" for name in ("deck.pptx", "deck.pdf", "handout.pdf")]
    show = opened((out / "deck.pptx").read_bytes())
    assert show.slides[0].shapes.title.text_frame.text == "Five watts" and "Beara" in words_of(show.slides[3])
    assert len(show.slides) == 8


# --- texts --------------------------------------------------------------------------------------------------------------


def test_every_text_is_used_and_every_text_used_is_there():
    used = set()
    for path in Path(outline.__file__).parent.glob("*.py"):
        code = path.read_text(encoding="utf-8")
        used |= set(re.findall(r'say\(\s*"([^"]+)"(?: if [^"]+ else "[^"]+")?', code))
        used |= set(re.findall(r'say\(\s*"[^"]+" if [^"]+ else "([^"]+)"', code))
        used |= {f"far.x.{unit}" for unit in (1, 1000) if 'say(f"far.x.{unit}"' in code}
    assert used == set(texts.SENT)


def test_hostile_names_are_no_gaps_to_fill():
    assert texts.speaker()("verdict.same", a="{b}", b="%s") == "No clear difference between {b} and %s"

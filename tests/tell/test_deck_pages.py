"""The pages of deck.pdf and handout.pdf, and the slides as an office program shows them: nothing on top of anything,
nothing off the page, faces embedded, no date, the same bytes each time.

The pages are read back by other programs (poppler, LibreOffice). Where a machine has none the test is skipped, unless
REACH_NEED_OFFICE says that it must be there.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from reach.base.words import PRINT
from reach.draw import style
from reach.tell.deck import fit, handout, model, outline, pages
from reach.tell.deck.model import Chart, Series, Table
from reach.tell.sentences import cautions
from reach.tell.sentences import reach as sentences
from tests.tell.test_deck import ALL, COMPARED, LONG_NAME, MARKUP, PLAIN, composed, presented

NO_BREAK = "\N{NO-BREAK SPACE}"


def needs(program: str) -> None:
    """Skip without the program, or fail where it must be there."""
    if shutil.which(program) is None:
        assert not os.environ.get("REACH_NEED_OFFICE"), f"{program} is not on this machine"
        pytest.skip(f"no {program} on this machine")


@dataclass(frozen=True)
class Page:
    """What stands on a page: its size [pt], words, and the box of each (left, top, right, bottom)."""

    width: float
    height: float
    words: list[str]
    boxes: np.ndarray

    @property
    def text(self) -> str:
        return " ".join(self.words).replace(NO_BREAK, " ")

    def overlaps(self) -> list[tuple[str, str]]:
        """Words that lie over one another: by more than a point across, and by over a third of the lower one's height.
        (Boxes are as high as the face, so those of neighbouring lines may touch.)"""
        left, top, right, bottom = self.boxes.T
        across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
        along = np.minimum(bottom[:, None], bottom) - np.maximum(top[:, None], top)
        high = bottom - top
        over = np.triu((across > 1) & (along > 0.35 * np.minimum(high[:, None], high)), 1)
        return [(self.words[j], self.words[k]) for j, k in zip(*np.nonzero(over), strict=True)]

    def outside(self, margin: float = 0.0) -> list[str]:
        """Words that run off the page."""
        left, top, right, bottom = self.boxes.T
        off = (left < margin) | (top < margin) | (right > self.width - margin) | (bottom > self.height - margin)
        return [self.words[k] for k in np.flatnonzero(off)]


def read(content: bytes) -> list[Page]:
    """The pages of a PDF, as poppler reads them."""
    needs("pdftotext")
    told = subprocess.run(["pdftotext", "-bbox", "-", "-"], input=content, capture_output=True, check=True).stdout
    made = []
    # poppler writes the title into the head as it is, tags and all
    body = re.sub(rb"<head>.*</head>", b"", told, flags=re.DOTALL)
    for sheet in ET.fromstring(body).findall(".//{*}page"):
        words = list(sheet.findall(".//{*}word"))
        boxes = [[float(word.get(side)) for side in ("xMin", "yMin", "xMax", "yMax")] for word in words]
        made.append(
            Page(float(sheet.get("width")), float(sheet.get("height")), [word.text or "" for word in words],
                 np.array(boxes).reshape(-1, 4))
        )  # fmt: skip
    return made


def plain(text: str) -> str:
    return fit.plain(fit.clean(text)).replace(NO_BREAK, " ")


@cache
def slides(name: str) -> bytes:
    made, pictures = composed(name)
    return pages.pdf(made, pictures)


@cache
def sheet(name: str, paper: str = "a4") -> bytes:
    return handout.pdf(ALL[name], composed(name)[0], club="Beara Radio Club", paper=paper)


@pytest.fixture(params=list(ALL))
def printed(request):
    """A deck of each kind as a PDF: (name, result, deck, bytes)."""
    return request.param, ALL[request.param], composed(request.param)[0], slides(request.param)


# --- the checks can fail ----------------------------------------------------------------------------------------------


def test_words_over_one_another_are_found():
    boxes = np.array([[10, 10, 60, 30], [50, 12, 90, 32], [10, 29, 60, 49], [95, 10, 130, 30.0]])
    page = Page(120, 60, ["one", "two", "below", "off"], boxes)
    assert page.overlaps() == [("one", "two")] and page.outside() == ["off"]


def test_a_table_with_rows_too_low_would_be_found(monkeypatch):
    """Rows as low as a line each, whatever is in them: what deck.pdf once had."""
    long = Table("t", "a table", ("Setup", "Antenna"), (("a", "radial " * 40), ("b", "mast " * 40)), (1, 1))
    slide = replace(composed("plain")[0].slides[1], exhibit=long)
    made = replace(composed("plain")[0], slides=(slide,))
    assert read(pages.pdf(made))[0].overlaps() == []
    from reportlab import platypus

    real = platypus.Table
    monkeypatch.setattr(platypus, "Table", lambda rows, **more: real(rows, rowHeights=20, **more))
    assert read(pages.pdf(made))[0].overlaps() != []


# --- deck.pdf ---------------------------------------------------------------------------------------------------------


def test_the_pdf_has_the_slides_in_their_order(printed):
    name, _, made, content = printed
    sheets = read(content)
    assert len(sheets) == len(made.slides) == len(re.findall(rb"/Type /Page\b", content))
    for slide, page in zip(made.slides, sheets, strict=True):
        assert (page.width, page.height) == (960, 540)
        if name != "hostile":
            assert fit.plain(slide.title).replace(NO_BREAK, " ") in page.text


def test_nothing_lies_on_anything_on_the_slides(printed):
    name, _, made, content = printed
    for slide, page in zip(made.slides, read(content), strict=True):
        assert page.overlaps() == [], (name, slide.name)
        assert page.outside(margin=8) == [], (name, slide.name)


def test_no_word_of_the_pdf_is_below_eighteen_points(printed):
    """A word's box is as high as its size of type. Words in maps are pictures, and measured where they are drawn."""
    name, _, made, content = printed
    for slide, page in zip(made.slides, read(content), strict=True):
        high = page.boxes[:, 3] - page.boxes[:, 1]
        assert high.min() >= 18 - 0.01, (name, slide.name, page.words[int(high.argmin())])


def test_everything_that_a_slide_says_is_in_the_pdf(printed):
    name, _, made, content = printed
    if name == "hostile":
        return
    for slide, page in zip(made.slides, read(content), strict=True):
        for text in fit.texts(slide):
            for one in text.paragraphs:
                assert " ".join(one.text.replace(NO_BREAK, " ").split()) in page.text, (name, slide.name)
        for shown, box in slide.exhibits:
            if isinstance(shown, Table):
                for row in fit.grid(shown, box).rows:
                    for word in " ".join(row).replace(NO_BREAK, " ").split():
                        assert word in page.text, (name, slide.name, word)


def test_names_that_are_markup_are_shown_as_they_are():
    pages_ = read(slides("renamed"))
    assert MARKUP in pages_[1].text and LONG_NAME in pages_[1].text
    assert MARKUP in pages_[4].text  # the key of the chart


@pytest.mark.parametrize("kind", ["slides", "handout"])
def test_every_face_is_in_the_file(kind):
    needs("pdffonts")
    for name in ("compared", "hostile"):
        content = slides(name) if kind == "slides" else sheet(name)
        told = subprocess.run(["pdffonts", "-"], input=content, capture_output=True, text=False, check=True).stdout
        faces = [re.split(r"\s{2,}|\s(?=yes|no)", line) for line in told.decode().splitlines()[2:]]
        names = {each[0].split("+")[-1] for each in faces}
        assert {"IBMPlexSansCond-Regular", "IBMPlexSansCond-SemiBold"} <= names, names
        assert all("yes yes yes" in line for line in told.decode().splitlines()[2:]), told.decode()


def test_pdfs_are_the_same_each_time_and_have_no_date():
    first, page = slides("compared"), sheet("compared")
    slides("renamed")  # what was written in between leaves no trace
    again = outline.deck(COMPARED, club="Beara Radio Club", look="dark")
    assert first == pages.pdf(again) and page == handout.pdf(COMPARED, again, club="Beara Radio Club")
    for content in (first, page):
        assert b"CreationDate" not in content and b"ModDate" not in content
        assert b"/FontFile2" in content  # TrueType, as printers like


def test_pdfs_say_what_they_are():
    for content, title in ((slides("compared"), "slides"), (sheet("compared"), "handout")):
        assert b"/Lang (en)" in content and b"/Author (reach)" in content, title
        assert b"/Title (An evening on the Beara peninsula)" in content, title
        assert b"untitled" not in content and b"anonymous" not in content and b"unspecified" not in content


def test_maps_in_the_pdf_have_twice_the_pixels_of_their_place():
    needs("pdfimages")
    told = subprocess.run(
        ["pdfimages", "-list", "-"], input=slides("compared"), capture_output=True, check=True
    ).stdout.decode()
    dots = [int(line.split()[12]) for line in told.splitlines()[2:]]
    assert len(dots) == 2 and min(dots) >= 2 * 72 / pages.PX - 2


def test_charts_in_the_pdf_are_lines_and_their_columns_stand_to_scale():
    from reportlab.graphics import shapes

    look = style.theme("light")
    shown = Chart(
        "c", "a chart", ("1", "2", "3"), (Series("a", (1, 2, 0), look.setups[0]), Series("b", (4, 0, 3), look.setups[1])),
        "x", "y",
    )  # fmt: skip
    pages.fonts()
    _, drawing, _ = pages.chart(shown, look, 400, 300, 12)
    bars = [
        (each.fillColor.hexval()[2:], each.height)
        for each in every(drawing.expandUserNodes())
        if isinstance(each, shapes.Rect) and each.fillColor is not None and each.height
    ]
    tall = {color: [high for found, high in bars if found == color.lstrip("#")] for color in look.setups[:2]}
    assert tall[look.setups[0]] == pytest.approx([tall[look.setups[1]][0] * share for share in (1 / 4, 2 / 4)])
    assert tall[look.setups[1]][1] == pytest.approx(tall[look.setups[1]][0] * 3 / 4)


def every(node):
    yield node
    for one in getattr(node, "contents", ()):
        yield from every(one)


@pytest.mark.parametrize(
    ("values", "signed", "steps"),
    [
        (((0.4, -1.2), (0.0, 0.0)), True, (-2, 1)), (((3, 5), (4, 6)), False, (0, 12)), (((0, 0), (0, 0)), False, (0, 1)),
    ],
)  # fmt: skip
def test_the_axis_holds_what_is_stacked(values, signed, steps):
    look = style.theme("light")
    series = tuple(Series(str(k), each, look.setups[k]) for k, each in enumerate(values))
    shown = Chart("c", "a chart", ("1", "2"), series, "x", "y", stacked=True, signed=signed)
    pages.fonts()
    _, drawing, _ = pages.chart(shown, look, 400, 300, 12)
    axis = drawing.contents[0].valueAxis
    assert (
        axis.valueMin <= steps[0] and axis.valueMax >= steps[1] and axis.valueMax - axis.valueMin <= 2 * np.ptp(steps)
    )


def test_settings_of_the_library_are_put_back():
    from reportlab import rl_config
    from reportlab.graphics import shapes

    before = rl_config.useA85, shapes.STATE_DEFAULTS["fontName"]
    pages.written(lambda page: page.showPage(), (100, 100), title="", subject="", language="en")
    assert (rl_config.useA85, shapes.STATE_DEFAULTS["fontName"]) == before


# --- handout.pdf ------------------------------------------------------------------------------------------------------

PAPER_PT = {"a4": (595.28, 841.89), "letter": (612, 792)}  # ISO 216: 210 x 297 mm; ANSI Y14.1: 8.5 x 11 inches


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", list(ALL))
def test_the_handout_is_one_page_of_its_paper_with_nothing_on_top_of_anything(name, paper):
    result = ALL[name]
    (page,) = read(sheet(name, paper))
    assert (page.width, page.height) == pytest.approx(PAPER_PT[paper], abs=0.01)
    assert page.overlaps() == [] and page.outside(margin=20) == []
    for each in cautions.lines(5.0):
        assert plain(each) in page.text
    assert ("Made-up demonstration data" in page.text) == result.study.made_up
    high = page.boxes[:, 3] - page.boxes[:, 1]
    assert high.min() >= (5.5 if name == "hostile" else 7.2) - 0.01, page.words[int(high.argmin())]


def test_the_handout_gives_the_answers():
    (page,) = read(sheet("compared"))
    for sentence in sentences.answer(COMPARED, PRINT):
        assert plain(sentence.text) in page.text and plain(sentence.evidence) in page.text


def test_the_handout_repeats_what_the_slides_say_of_limits_and_next_steps():
    made, _ = composed("compared")
    (page,) = read(sheet("compared"))
    for name in ("limits", "next"):
        for one in made.slide(name).texts[0][: handout._LIMITS]:
            assert plain(one.text) in page.text


def test_replaced_locators_are_counted_on_the_handout():
    changed = handout.pdf(replace(PLAIN, fixed_rows=11), composed("plain")[0])
    assert "11 rows with a replaced locator." in read(changed)[0].text
    assert "replaced" not in read(sheet("plain"))[0].text


def test_a_handout_claims_no_reach_where_no_locator_is_corroborated():
    (page,) = read(sheet("unsure"))
    assert "Where receivers claim to be" in page.text and "How far " not in page.text.replace("How far:", "")


# --- as an office program shows it ------------------------------------------------------------------------------------


def by_office(folder: Path, decks: dict[str, bytes]) -> dict[str, list[Page]]:
    """Presentations as LibreOffice prints them, all in one start of it."""
    needs("soffice")
    for name, content in decks.items():
        (folder / f"{name}.pptx").write_bytes(content)
    subprocess.run(
        ["soffice", f"-env:UserInstallation={(folder / 'profile').as_uri()}", "--headless", "--convert-to", "pdf",
         "--outdir", str(folder), *(str(folder / f"{name}.pptx") for name in decks)],
        check=True, capture_output=True, timeout=600,
    )  # fmt: skip
    return {name: read((folder / f"{name}.pdf").read_bytes()) for name in decks}


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    """Each deck.pptx as LibreOffice prints it: name -> pages."""
    return by_office(tmp_path_factory.mktemp("office"), {name: presented(name) for name in ALL})


@pytest.mark.parametrize("name", list(ALL))
def test_nothing_lies_on_anything_in_the_presentation(shown, name):
    made, _ = composed(name)
    assert len(shown[name]) == len(made.slides)
    for slide, page in zip(made.slides, shown[name], strict=True):
        assert page.overlaps() == [], (name, slide.name)
        assert page.outside() == [], (name, slide.name)
        wide, high = (page.boxes[:, end] - page.boxes[:, end - 2] for end in (2, 3))
        # What stands upright lies on its side in a chart; the program may shrink text where its own face is wider.
        assert np.maximum(wide, high).min() >= 18, (name, slide.name)
        if name != "hostile":
            assert fit.plain(slide.title).replace(NO_BREAK, " ") in page.text, (name, slide.name)


@pytest.mark.parametrize("name", ["compared", "refused", "nothing", "renamed"])
def test_tables_of_the_presentation_stay_in_their_place(shown, name):
    """Rows grow with their words in an office program: the last row still lies above what stands below the table."""
    made, _ = composed(name)
    for slide, page in zip(made.slides, shown[name], strict=True):
        for one, box in slide.exhibits:
            if isinstance(one, Table):
                left, top, right, bottom = page.boxes.T / pages.PX
                foot = (box.y + box.height) * 1.0
                inside = (left >= box.x - 2) & (right <= box.x + box.width + 2) & (top >= box.y - 2) & (top < foot)
                words = " ".join(np.array(page.words, dtype=object)[inside])
                last = fit.grid(one, box).rows[-1][0].replace(NO_BREAK, " ").split()[0]
                assert last in words and bottom[inside].max() <= foot + model.ROW_PX, (name, slide.name)

"""Names in any script: drawn with a typeface that has it, said where none has; no name turns the rest of a sentence."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from matplotlib import font_manager

from reach.base.words import PRINT
from reach.draw import charts, scripts, style
from reach.study import Setup
from reach.tell import texts
from reach.tell.deck import limits, pages
from reach.tell.sentences import pictures
from tests import factory
from tests.draw import audience

LOOK = style.theme("light")
BUNDLED = {
    "Latin": "žđøşłæ ÄÖÜß", "Greek": "κεραία Ωμ", "Cyrillic": "антенна Їжак", "Hebrew": "אנטנה", "Arabic": "هوائي",
}  # fmt: skip
UNKNOWN = "漢字"


@pytest.fixture
def one_more_typeface(tmp_path, monkeypatch):
    """A machine that has another typeface, with one character of private use that no other has."""
    character = "\U000f1235"
    pen = TTGlyphPen(None)
    for k, corner in enumerate(((100, 0), (100, 700), (800, 700), (800, 0))):
        (pen.lineTo if k else pen.moveTo)(corner)
    pen.closePath()
    font = FontBuilder(1000, isTTF=True)
    font.setupGlyphOrder([".notdef", "box"])
    font.setupCharacterMap({ord(character): "box"})
    font.setupGlyf({".notdef": TTGlyphPen(None).glyph(), "box": pen.glyph()})
    font.setupHorizontalMetrics({".notdef": (500, 0), "box": (900, 100)})
    font.setupHorizontalHeader(ascent=800, descent=-200)
    font.setupNameTable({"familyName": "Only Box Sans", "styleName": "Regular", "psName": "OnlyBoxSans-Regular"})
    font.setupOS2(sTypoAscender=800, sTypoDescender=-200, usWinAscent=800, usWinDescent=200)
    font.setupPost()
    font.save(tmp_path / "box.ttf")
    known = list(font_manager.fontManager.ttflist)
    font_manager.fontManager.addfont(str(tmp_path / "box.ttf"))
    _forget()
    yield character
    font_manager.fontManager.ttflist[:] = known
    _forget()


@pytest.fixture
def no_other_typeface(monkeypatch):
    """A machine that has the bundled typefaces only."""
    monkeypatch.setattr(scripts, "_of_this_machine", tuple)
    scripts.stand_in.cache_clear()
    yield
    scripts.stand_in.cache_clear()


def _forget() -> None:
    for each in (scripts.stand_in, scripts._of_this_machine):
        each.cache_clear()


@pytest.mark.parametrize("script", BUNDLED)
def test_what_the_bundled_typefaces_have_is_drawn(script):
    assert not scripts.missing([BUNDLED[script]])
    assert "\N{LOZENGE}" not in style.drawable(BUNDLED[script])
    assert style.drawable(BUNDLED[script]).replace("\u200e", "") == BUNDLED[script]


def test_a_typeface_of_the_machine_stands_in(one_more_typeface):
    assert scripts.stand_in(one_more_typeface)[0] == "Only Box Sans"
    assert scripts.families("mast " + one_more_typeface) == [*scripts.FAMILY, "Only Box Sans"]
    assert scripts.families("mast") == scripts.FAMILY
    assert style.width_px(one_more_typeface, 100) == pytest.approx(90, abs=2)  # 0.9 of its size of type
    figure = style.sheet(LOOK, 400, 200)
    style.write(figure, 50, 50, one_more_typeface, px=100, color=LOOK.ink)
    figure.canvas.draw()  # pyplot is not used: a missing glyph would be a warning, and so an error
    ink = np.asarray(figure.canvas.buffer_rgba())[..., 0] < 100
    assert ink.sum() == pytest.approx(70 * 70, rel=0.05)  # the box is filled
    pages.fonts()
    assert "machine-" in pages._markup(one_more_typeface, pages.REGULAR)


def test_what_no_typeface_has_is_a_lozenge_and_that_is_said(no_other_typeface):
    assert scripts.missing(["mast", UNKNOWN]) and style.drawable(f"a{UNKNOWN}") == "a\N{LOZENGE}\N{LOZENGE}"
    findings = factory.result(300, 20, setups=(f"mast {UNKNOWN}", "wire"))
    said = PRINT.text(pictures.WITHOUT_TYPEFACE)
    for draw in (charts.timeline, charts.distance):
        shown = " ".join(text.get_text() for text in audience.texts(draw(findings, LOOK))).replace("\n", " ")
        assert said in shown, draw.__name__
    assert PRINT.text(pictures.SLIDES_WITHOUT_TYPEFACE) in limits.sentences(findings, texts.speaker())
    plain = factory.result(300, 20, setups=("mast", "wire"))
    assert said not in " ".join(text.get_text() for text in audience.texts(charts.timeline(plain, LOOK)))
    assert PRINT.text(pictures.SLIDES_WITHOUT_TYPEFACE) not in limits.sentences(plain, texts.speaker())


def test_the_slides_say_that_their_pdf_sets_some_scripts_letter_by_letter():
    findings = factory.result(300, 20)
    said = PRINT.text(pictures.LETTER_BY_LETTER)
    assert said not in limits.sentences(findings, texts.speaker())
    study = replace_setup(findings, BUNDLED["Hebrew"])
    assert said in limits.sentences(study, texts.speaker())


def replace_setup(findings, antenna: str):
    study = findings.study.model_copy(update={"setups": {"mast": Setup(antenna=antenna)}})
    return replace(findings, study=study)


# --- both directions --------------------------------------------------------------------------------------------------


def _places(words: str) -> np.ndarray:
    """Where the ink of each run of columns begins and ends in a drawn line [px]."""
    figure = style.sheet(LOOK, 1400, 120)
    style.write(figure, 20, 20, words, px=60, color="#000000")
    figure.canvas.draw()
    return (np.asarray(figure.canvas.buffer_rgba())[..., 0] < 128).any(axis=0)


@pytest.mark.parametrize("name", [BUNDLED["Hebrew"], BUNDLED["Arabic"]])
def test_a_name_written_from_right_to_left_turns_nothing_but_itself(name):
    """The sentence begins with the name, at the left; what follows is drawn as it is after any other name."""
    alone, behind = _places(name), " minus wire (95 %)"
    whole = _places(name + behind)
    wide = np.flatnonzero(alone)[-1] + 1
    np.testing.assert_array_equal(whole[:wide], alone[:wide])
    tail = _places("x" + behind)
    from_tail, from_whole = (np.flatnonzero(columns)[-1] for columns in (tail, whole))
    length = round(style.width_px("minus wire (95 %)", 60)) - 4
    assert (whole[from_whole - length : from_whole] != tail[from_tail - length : from_tail]).mean() < 0.06


def test_a_number_after_such_a_name_stays_after_it():
    hebrew = BUNDLED["Hebrew"]
    assert style.drawable(f"{hebrew} 12 m").count("\u200e") == 2
    alone, whole = _places(hebrew), _places(f"{hebrew} 12")
    np.testing.assert_array_equal(whole[: np.flatnonzero(alone)[-1]], alone[: np.flatnonzero(alone)[-1]])


def test_text_without_such_names_is_left_alone():
    for words in ("vertical minus wire", "κεραία 12 m", "漢字", ""):
        assert scripts.left_to_right(words) == words


# --- long words -------------------------------------------------------------------------------------------------------


def test_a_word_of_any_length_is_measured_a_few_times_only(monkeypatch):
    """Halving in on the cut: some ten measurings for a thousand characters, not a thousand."""
    asked = []
    real = style.width_px
    monkeypatch.setattr(style, "width_px", lambda *given: asked.append(given) or real(*given))
    for length in (1_000, 8_000):
        asked.clear()
        (line,) = style.wrapped("a" * length, 48, 800)
        assert line.endswith("…") and real(line, 48) <= 800 < real(line[:-1] + "aa…", 48)
        assert len(asked) <= 2 * np.log2(length) + 6

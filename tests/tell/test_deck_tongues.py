"""Both decks of the samples in every language: nothing lies on anything, nothing runs off the page, no line of Japanese
begins with a closing mark.

Of one study the tests take all languages; what an office program makes of the presentation, and another study, in the longest
one, by how wide its words are set, and in Japanese. All of it takes minutes:
`python -m tests.tell.test_deck_tongues [language ...]` prints every fault that it finds.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import tempfile
import warnings
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import tongue
from reach.draw import scripts
from reach.findings import Findings
from reach.tell.deck import editable, fit, handout, model, outline, pages
from tests.tell import messages
from tests.tell.test_deck_pages import Page, by_office, needs, read

STUDIES = ("evening", "messy", "garden")
NEVER_FIRST = "、。）」』】，．！？ー"


@cache
def measured(language: str) -> float:
    """How wide all its messages are when they are set on a slide."""
    said = (each.string for each in messages.catalogue(language) if each.id)
    texts = (text for each in said for text in (each if isinstance(each, tuple) else (each,)))
    return sum(fit.WIDE.width(text, 1.0) for text in texts)


def longest() -> str:
    """The language whose words are widest of those with blanks between them."""
    return max((code for code in tongue.LANGUAGES if code not in (tongue.ENGLISH, "ja")), key=measured)


IN_CI = (longest(), "ja")


def composed(found: Findings, language: str) -> tuple[model.Deck, dict[tuple[str, str], bytes]]:
    """A deck in a language; its maps are blank, since what they say is measured where they are drawn."""
    with tongue.speaking(language):
        made = outline.deck(found, club="Beara Radio Club")
    shown = [(slide, one) for slide in made.slides for one, _ in slide.exhibits if isinstance(one, model.Picture)]
    return made, {(slide.name, one.name): _blank() for slide, one in shown}


@cache
def _blank() -> bytes:
    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (16, 9), "white").save(out, "png")
    return out.getvalue()


def faults(page: Page, *, margin: float = 0.0) -> list[str]:
    """What is wrong with a page, in words."""
    over = [f"{one!r} lies on {other!r}" for one, other in page.overlaps()]
    return [*over, *(f"{word!r} runs off the page" for word in page.outside(margin))]


def lines(content: bytes) -> list[str]:
    """Every line of a PDF, as poppler reads it."""
    needs("pdftotext")
    told = subprocess.run(
        ["pdftotext", "-bbox-layout", "-", "-"], input=content, capture_output=True, check=True
    ).stdout
    body = told[told.index(b"<doc>") :].rsplit(b"</body>", 1)[0]
    return [" ".join(word.text or "" for word in line.iter("word")) for line in ET.fromstring(body).iter("line")]


@contextmanager
def with_letters() -> Iterator[None]:
    """Where no typeface of this machine has the letters of Japanese they are set as the empty boxes of one that has none of
    them: words keep their lines, and a PDF says which letters it means."""
    import matplotlib as mpl

    before, boxes = scripts.stand_in, ("DejaVu Sans", f"{mpl.get_data_path()}/fonts/ttf/DejaVuSans.ttf")
    scripts.stand_in = lambda character: before(character) or boxes
    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", "Glyph .* missing from font")  # in the handout's map
            yield
    finally:
        scripts.stand_in = before


def look(
    found: dict[str, Findings], languages: tuple[str, ...], folder: Path | None
) -> dict[tuple[str, str], list[str]]:
    """Of every study in every language: the faults of its presentation, its slides as a PDF and its handout.

    folder : where an office program makes its pages of presentations; these are passed over without one
    """
    told: dict[tuple[str, str], list[str]] = {}
    decks, made = {}, {}
    for language in languages:
        for study, findings in found.items():
            own = replace(findings, study=findings.study.model_copy(update={"language": language}))
            deck, pictures = composed(own, language)
            with tongue.speaking(language), with_letters():
                printed, sheet = pages.pdf(deck, pictures), handout.pdf(own, deck)
                if folder is not None:
                    decks[f"{study}-{language}"] = editable.pptx(deck, pictures)
            made[f"{study}-{language}"] = deck
            told[study, language] = [
                f"{what} {number}: {fault}"
                for what, content in (("deck.pdf", printed), ("handout", sheet))
                for number, page in enumerate(read(content), 1)
                for fault in faults(page)
            ]
            told[study, language] += [
                f"a line of {what} begins with a closing mark: {line!r}"
                for what, content in (("deck.pdf", printed), ("handout", sheet))
                for line in lines(content)
                if line[:1] and line[0] in NEVER_FIRST
            ]
    for name, shown in by_office(folder, decks).items() if folder is not None else ():
        study, _, language = name.partition("-")
        if len(shown) != len(made[name].slides):
            told[study, language].append(f"deck.pptx has {len(shown)} pages of {len(made[name].slides)}")
        told[study, language] += [
            f"deck.pptx {number}: {fault}" for number, page in enumerate(shown, 1) for fault in faults(page)
        ]
    return told


@pytest.fixture(scope="module")
def seen(walks: dict[str, Any], tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], list[str]]:
    found = {study: walks[study].findings for study in ("evening", "messy")}
    others = tuple(language for language in tongue.LANGUAGES if language not in IN_CI)
    return {
        **look(found, IN_CI, tmp_path_factory.mktemp("tongues")),
        **look({"evening": found["evening"]}, others, None),
    }


@pytest.mark.parametrize(
    ("study", "language"), [*(("evening", each) for each in tongue.LANGUAGES), *(("messy", each) for each in IN_CI)]
)
def test_nothing_lies_on_anything_or_runs_off_in_either_deck(seen, study, language):
    assert seen[study, language] == []


class Wide(str):
    """A letter as wide as it is high."""

    width = 1.0


@given(st.text("日本語のー、。）」「（ab .", min_size=1, max_size=60), st.integers(4, 12))
def test_no_line_begins_with_a_closing_mark_and_nothing_is_lost(words, room):
    found = ["".join(line) for line in pages.broken([Wide(letter) for letter in words], [room])]
    assert "".join(found) == words
    for before, line in zip(found, found[1:], strict=False):
        first = line.lstrip(" ")[:1]
        if first and first in NEVER_FIRST:  # only where the marks alone, with what they hang on, fill a line
            run = re.search(r"\S*$", before)
            assert run is not None and len(run[0]) >= room - 1
    assert all(len(line.rstrip(" ")) <= room for line in found)


def test_two_closing_marks_where_a_line_ends_stay_with_their_word(monkeypatch):
    """reportlab's own rule let the second one begin the next line."""
    monkeypatch.setattr(scripts, "known", str)
    monkeypatch.setattr(scripts, "stand_in", lambda character: None)
    with tongue.speaking("ja"), pages._settings():
        pages.fonts()
        told = pages.told("日本語日本語（日本）。日本", 10, "#000000")
        told.wrap(9 * 6.0, 500)
    lines_ = ["".join(part.text for part in line.words) for line in told.blPara.lines]
    assert "".join(lines_) == "日本語日本語（日本）。日本" and len(lines_) > 1
    assert not any(line[0] in NEVER_FIRST for line in lines_)


def test_faults_are_found():
    import numpy as np

    page = Page(100, 60, ["one", "two", "off"], np.array([[10, 10, 60, 30], [50, 12, 90, 32], [95, 40, 130, 55.0]]))
    assert faults(page) == ["'one' lies on 'two'", "'off' runs off the page"]


def main() -> None:
    from reach import study
    from reach.cli.demo import samples_folder
    from reach.walk import walk

    asked = tuple(sys.argv[1:]) or tuple(tongue.LANGUAGES)
    found = {name: walk(study.load(samples_folder() / f"{name}.toml")).findings for name in STUDIES}
    for language in asked:
        print(f"{language}: {measured(language) if language != tongue.ENGLISH else 0:,.0f} em of messages")
    with tempfile.TemporaryDirectory() as folder:
        for (name, language), told in look(found, asked, Path(folder)).items():
            print(f"{name:8} {language}  {len(told)} faults", *told, sep="\n    ")


if __name__ == "__main__":
    main()

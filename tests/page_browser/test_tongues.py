"""The page in other languages than English: it says so, it speaks as the catalogue does, and nothing about it is broken."""

from __future__ import annotations

from dataclasses import replace

import pytest

from reach.base import tongue
from reach.base.words import PRINT
from reach.tell import page
from tests.page_browser.conftest import Open
from tests.page_browser.test_page import AXE, NO_COLOURS, RESULT, without_fault

OTHERS = [code for code in tongue.LANGUAGES if code != tongue.ENGLISH]


def html(language: str) -> str:
    return page.html(replace(RESULT, study=RESULT.study.model_copy(update={"language": language})))


@pytest.mark.parametrize("language", OTHERS)
def test_the_page_speaks_keeps_its_edge_and_has_no_fault(open_page: Open, language: str) -> None:
    """One opening of the page for all of it, on a telephone first. Colours, which know no language: test_page.py."""
    opened = open_page(html(language), width=320, bypass_csp=True)
    assert opened.page.evaluate("() => document.documentElement.lang") == language
    with tongue.speaking(language):
        far = PRINT.text("How far: distance")
        level = PRINT.text("{level} or less", level="LEVEL").replace("LEVEL", "").strip()
        button = PRINT.text("Play the day")
    assert opened.text("#far-title") == far and level in opened.text("#scale-low")
    assert opened.text("#play") == button
    assert PRINT.text("How far: distance") == "How far: distance"  # nothing of it stays behind
    for width in (320, 1280):
        opened.page.set_viewport_size({"width": width, "height": 900})
        opened.settle()
        assert opened.page.evaluate("() => document.documentElement.scrollWidth") <= width, f"at {width}"
    opened.page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
    for summary in opened.page.locator("details.numbers summary").all():
        summary.click()
    without_fault(opened, NO_COLOURS)

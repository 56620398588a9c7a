"""The bundled samples, walked from file to page and opened."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from reach.base import words
from reach.base.words import PRINT
from reach.findings import Findings
from reach.tell import page
from reach.tell.sentences import reach as sentences
from reach.walk import Walk
from tests.page_browser.conftest import Open, Opened


@pytest.fixture(scope="module")
def html(walks: dict[str, Walk]) -> Callable[[str], str]:
    """The page of a sample, by its name."""
    return cache(lambda name: page.html(walks[name].findings))


@pytest.mark.parametrize("name", ["evening", "weekend", "messy"])
@pytest.mark.parametrize(("width", "theme"), [(390, "dark"), (1920, "light")])
def test_a_sample_opens_and_says_what_was_found(
    open_page: Open, html: Callable[[str], str], walks: dict[str, Walk], name: str, width: int, theme: str
) -> None:
    says_what_was_found(open_page(html(name), width=width, color_scheme=theme), walks[name].findings, width)


def test_it_does_so_in_the_browser_that_users_have(
    open_in_whole: Open, html: Callable[[str], str], walks: dict[str, Walk], tmp_path: Path
) -> None:
    """And its numbers can be kept, and it can be printed."""
    result = walks["evening"].findings
    opened = open_in_whole(html("evening"))
    says_what_was_found(opened, result, 1280)
    assert sum(int(row["reports"]) for row in opened.table("when")) == opened.count()
    opened.page.pdf(path=tmp_path / "page.pdf")
    assert (tmp_path / "page.pdf").read_bytes().startswith(b"%PDF")


def says_what_was_found(opened: Opened, result: Findings, width: int) -> None:
    spots = result.spots
    assert opened.count() == int((spots["trust"] != "suspect").sum())
    assert opened.page.evaluate("() => document.documentElement.scrollWidth") == width
    assert "Made-up data." in opened.text("header")
    answer = opened.text("#answer")
    for sentence in sentences.answer(result, PRINT):
        assert sentence.text in answer
    quality = opened.text("#quality")
    for count in (result.counts.read, result.counts.accepted, result.counts.rejected, result.counts.duplicates):
        assert words.count(count) in quality
    for thumb in opened.page.locator(".suspects .thumb").all():
        thumb.scroll_into_view_if_needed()
        thumb.locator("svg").wait_for()
    assert opened.page.locator(".suspects .thumb svg").count() == len(result.suspects)
    figures = result.reach.to_dict()["corroborated"]["overall"]
    assert opened.text("#key-median") == words.PRINT.beyond(figures["median_km"])
    assert figures["farthest"]["rx_call"] in opened.text("#key-farthest-detail")

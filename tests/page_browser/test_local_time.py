"""Local time beside UTC on the page, where it is asked for."""

from __future__ import annotations

from dataclasses import replace

from reach.tell import page
from tests.page_browser.conftest import Open
from tests.page_browser.test_page import RESULT


def html(zone: str) -> str:
    return page.html(replace(RESULT, study=RESULT.study.model_copy(update={"local_time": zone})))


def test_the_page_says_both(open_page: Open) -> None:
    opened = open_page(html("Asia/Kolkata"))
    rows = opened.page.locator("#when .axis text").all_text_contents()
    assert "UTC" in rows and "+5:30" in rows and "05:30" in rows
    opened.page.locator("#clock").fill("1200")
    opened.settle()
    assert opened.text("#clock-text") == "20:00 UTC (01:30, Asia/Kolkata)"
    assert "Local times beside them are those of Asia/Kolkata at UTC+5:30." in opened.page.content()


def test_without_a_zone_the_page_has_nothing_of_it(open_page: Open) -> None:
    plain = html("")
    assert '"local":{' not in plain and "Local times" not in plain
    opened = open_page(plain)
    assert "UTC" not in opened.page.locator("#when .axis text").all_text_contents()

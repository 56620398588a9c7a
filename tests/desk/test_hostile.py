"""A study of hostile texts on every screen of the desk, in Chromium: nothing of it runs, and the policy would not let it."""

from __future__ import annotations

import time
from typing import Any

import pytest

from tests.desk.conftest import Served
from tests.hardening.test_hostile import MARKUP, write_all

SCREENS = ("", "/station", "/on-air", "/doubtful", "/results", "/rows/rejected", "/rows/accepted")
INLINE = """() => {
  const script = document.createElement("script"), image = document.createElement("img");
  script.textContent = "window.ran = 1";
  image.setAttribute("onerror", "window.ran = 2");
  image.src = "x";
  document.body.append(script, image);
  return new Promise((done) => setTimeout(() => done(window.ran ?? 0), 300));
}"""


@pytest.fixture(scope="module")
def served(brief: Served) -> Served:
    return brief


@pytest.fixture(scope="module")
def hostile(served: Served) -> str:
    """The address of the study, once it was read and its report is made, which itself is looked at in tests/hardening/test_hostile.py."""
    at = served.begin("hostile")
    folder = served.folder / "hostile"
    write_all(folder)
    served.post(f"{at}/run", what="run")
    for _ in range(1500):
        if "/cancel" not in served.get(f"{at}/results").text:
            break
        time.sleep(0.2)
    assert list((folder / "outputs").glob("*/report.html"))
    return at


@pytest.fixture
def page(served: Served, hostile: str, browser: Any) -> Any:
    context = browser.new_context()
    name, _, value = served.cookie.partition("=")
    context.add_cookies([{"name": name, "value": value, "url": served.origin}])
    opened = context.new_page()
    opened.said = []
    opened.on("dialog", lambda dialog: (opened.said.append(dialog.message), dialog.dismiss()))
    opened.on("pageerror", lambda error: opened.said.append(str(error)))
    yield opened
    context.close()


def test_no_screen_runs_anything_of_it(served: Served, hostile: str, page: Any) -> None:
    seen = ""
    for screen in SCREENS:
        answer = page.goto(f"{served.origin}{hostile}{screen}", wait_until="load")
        assert answer.status == 200, screen
        page.wait_for_timeout(300)
        assert page.title() != "owned" and not page.said, screen
        assert not page.query_selector("img[onerror], [onerror]"), screen
        assert page.evaluate(INLINE) == 0, f"{screen}: the policy let a script of a page's own run"
        seen += page.inner_text("body")
    assert MARKUP[:20] in seen, "it came, as text"
    page.goto(served.origin)
    assert page.title() != "owned" and not page.said

"""What was broken once: rings of focus, narrow windows, no room at all, tables that carry a part, marks beyond the rim."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from reach.base import words
from reach.tell import page
from reach.vet import ledger
from tests import factory
from tests.page_browser.conftest import Open, Opened, contrast, rows_of

PLAIN = factory.result(1500, 120, seed=3)
RESULT = replace(PLAIN, comparison=factory.comparison(PLAIN.receivers))
MOST_STOPS = 200
# What has the focus, how it is drawn, and how it would be drawn without: choices hide their box and ring their label.
RING = """() => {
  const node = document.activeElement;
  if (!node || node === document.body) return null;
  const thumb = node.closest(".range-track") ? "::-webkit-slider-thumb" : null;
  const drawn = node.closest(".choice") ? node.nextElementSibling : node, look = getComputedStyle(drawn, thumb);
  const name = node.getAttribute("aria-label") || node.textContent.trim().slice(0, 40) || node.id;
  return {
    name: `${node.tagName} ${name}`, style: look.outlineStyle, wide: parseFloat(look.outlineWidth),
    colour: look.outlineColor, paper: getComputedStyle(document.body).backgroundColor,
    box: drawn.getBoundingClientRect().toJSON(), last: node === window.__last, thumb: Boolean(thumb),
  };
}"""


# All that can be used, and the same of each of them.
EVERY = """[...document.querySelectorAll("a[href], button, select, input, summary, [tabindex='0']")]
  .filter((node) => !node.disabled && node.checkVisibility() && (node.type !== "radio" || node.checked))"""
RINGS = f"() => {EVERY}.map((node) => {{ node.focus({{ focusVisible: true }}); return ({RING})(); }})"


@pytest.fixture(scope="module")
def html() -> str:
    return page.html(RESULT)


# --- focus -----------------------------------------------------------------------------------------------------------


def stops(opened: Opened) -> Iterator[dict[str, Any]]:
    """Every stop of the Tab key, from the top of the page to its end."""
    for _ in range(MOST_STOPS):
        opened.press("Tab")
        found = opened.page.evaluate(RING)
        if found is None:
            return
        if found["thumb"]:  # no style of a thumb can be asked for, so its ring is looked for in the picture
            found |= {"style": "solid", "wide": 3.0 if _ringed(opened) else 0.0}
        yield found
    raise AssertionError(f"more than {MOST_STOPS} stops: does the walk run in a circle?")


def _ringed(opened: Opened) -> bool:
    """Whether the slider in focus shows more of the accent's colour than when it is left."""

    def accent() -> int:
        shot = Image.open(io.BytesIO(opened.page.locator(".range-track:has(input[data-walked])").screenshot()))
        red, green, blue = np.moveaxis(np.asarray(shot.convert("RGB"), int), -1, 0)
        want = opened.page.evaluate("() => getComputedStyle(document.querySelector('nav a')).color")
        r, g, b = (int(part) for part in re.findall(r"\d+", want)[:3])
        return int(((abs(red - r) < 9) & (abs(green - g) < 9) & (abs(blue - b) < 9)).sum())

    opened.page.evaluate("() => { document.activeElement.dataset.walked = ''; }")
    with_focus = accent()
    opened.page.evaluate("() => { document.activeElement.blur(); }")
    without = accent()
    opened.page.evaluate(
        "() => { const node = document.querySelector('[data-walked]'); node.focus({ focusVisible: true }); delete node.dataset.walked; }"
    )
    return with_focus > without + 60


def test_in_dark_nothing_but_colours_is_another(html: str) -> None:
    """So that what hangs on no colour need not be looked at in both."""
    sheets = "".join(re.findall(r"<style[^>]*>(.*?)</style>", html, re.DOTALL))
    themed = [found for found in re.findall(r"([^{}]*)\{([^{}]*)\}", sheets) if "data-theme" in found[0]]
    asked = re.findall(r"@media[^{]*color-scheme[^{]*\{ :root:not\(\[data-theme=light\]\) \{", sheets)
    assert len(asked) == len(re.findall(r"@media[^{]*color-scheme", sheets)) >= 1
    assert len(themed) >= 2 * len(asked)
    for where, told in themed:
        names = [each.partition(":")[0].strip() for each in told.split(";") if each.strip()]
        assert names and all(name == "color-scheme" or name.startswith("--") for name in names), where


def test_every_stop_of_the_keyboard_has_a_ring(open_page: Open, html: str) -> None:
    """By keys in light; what had the focus there is looked at again in dark."""
    opened = open_page(html)
    for each in opened.page.locator("details").all():
        each.evaluate("(details) => { details.open = true; }")
    walked = list(stops(opened))
    every = opened.page.evaluate(f"() => {EVERY}.length")
    assert len(walked) == every  # nothing that can be used is left out of the walk, and nothing is walked twice
    opened.page.emulate_media(color_scheme="dark")
    opened.settle()
    again = opened.page.evaluate(RINGS)
    assert {stop["paper"] for stop in again}.isdisjoint({stop["paper"] for stop in walked})
    for stop in [*walked, *again]:
        assert contrast(stop["colour"], stop["paper"]) >= 3, stop["name"]
    for stop in walked:
        assert stop["style"] in ("solid", "auto"), stop["name"]
        assert stop["wide"] >= 2, stop["name"]
        assert stop["box"]["width"] > 0, stop["name"]
    kinds = {stop["name"].split()[0] for stop in walked}
    assert {"A", "SELECT", "INPUT", "BUTTON", "DIV", "SUMMARY"} <= kinds == {stop["name"].split()[0] for stop in again}


# --- room ------------------------------------------------------------------------------------------------------------


def test_no_figure_runs_into_its_neighbour(open_page: Open) -> None:
    """However wide the window is made; opened narrow, wide and between: tests/page_browser/test_page.py."""
    opened = open_page(page.html(PLAIN), width=320)
    for width in (320, 390, 768, 1024, 1280, 1440, 1600, 1920):
        opened.page.set_viewport_size({"width": width, "height": 900})
        opened.settle()
        assert opened.page.evaluate("() => document.documentElement.scrollWidth") == width
        boxes = opened.page.evaluate("""() => [...document.querySelectorAll(".card .value")].map((value) => {
          const range = document.createRange();
          range.selectNodeContents(value);
          return [range.getBoundingClientRect().right, value.parentElement.getBoundingClientRect().right];
        })""")
        assert len(boxes) == 5, width
        for text, card in boxes:
            assert text <= card + 0.5, width


def test_numbers_stay_with_their_units() -> None:
    say = words.PRINT
    for told in (say.distance(18023.0, 7.6), say.km(1480), say.db(-12), say.bearing(12, 3).split(",")[0]):
        assert not re.search(r"[ \n]", told), told


def test_without_room_the_page_waits_and_comes_alive_when_shown(browser: Any, html: str, tmp_path: Path) -> None:
    (tmp_path / "inside.html").write_text(html, encoding="utf-8")
    (tmp_path / "outside.html").write_text(
        '<!doctype html><title>Frame</title><iframe src="inside.html" style="display:none" width="900" height="700"></iframe>',
        encoding="utf-8",
    )
    tab, complaints = browser.new_page(), []
    tab.on("console", lambda message: complaints.append(message.text))
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    tab.goto((tmp_path / "outside.html").as_uri())
    tab.wait_for_timeout(300)
    inside = tab.frames[1]
    assert inside.evaluate("() => document.documentElement.dataset.ready") is None
    tab.evaluate("() => { document.querySelector('iframe').style.display = 'block'; }")
    inside.wait_for_selector("html[data-ready]", timeout=5000)
    assert inside.locator("#far rect.bar").count() > 5
    _nothing_negative(inside)
    before = inside.locator("#map-canvas").evaluate("(canvas) => canvas.toDataURL().length")
    for width in (0, 3, 40, 900):  # as a tool for screenshots does, which shrinks the window and opens it again
        tab.evaluate(f"() => {{ document.querySelector('iframe').width = {width}; }}")
        tab.wait_for_timeout(120)
        _nothing_negative(inside)
    assert inside.locator("#map-canvas").evaluate("(canvas) => canvas.toDataURL().length") == before
    inside.locator("#map").focus()
    tab.keyboard.press("n")
    tab.wait_for_timeout(100)
    assert " in " in inside.locator("#receiver").inner_text()
    tab.close()
    assert complaints == []


def _nothing_negative(inside: Any) -> None:
    sizes = inside.evaluate("""() => [...document.querySelectorAll("svg rect, svg circle")].flatMap((node) =>
      ["width", "height", "r"].map((name) => Number(node.getAttribute(name)?.replace("%", "") ?? 0)))""")
    assert all(size >= 0 for size in sizes)


# --- tables that carry a part ----------------------------------------------------------------------------------------


def test_a_table_that_carries_a_part_says_so_and_is_named_so(open_page: Open) -> None:
    many = pd.concat([factory.problems()] * 150, ignore_index=True)
    opened = open_page(page.html(replace(PLAIN, wrong=ledger.Problems(many))))
    opened.page.get_by_label("Table on show").select_option(index=0)
    said = opened.text("#table-on-show .note:not(.sideways)")
    assert f"the first 200 of {words.count(len(many))} rows" in said
    assert "carries the first 300" in said
    assert "problems.csv" in said
    assert "all of them" not in said
    with opened.page.expect_download() as waiting:
        opened.page.get_by_role("button", name="Download the first 300 rows (CSV)").click()
    assert waiting.value.suggested_filename == "problems-first-300.csv"
    assert len(rows_of(Path(waiting.value.path()).read_text(encoding="utf-8-sig"))) == 300


# --- marks -----------------------------------------------------------------------------------------------------------


def test_query_marks_stay_on_the_map(open_page: Open) -> None:
    """Suspects all round the antipode, where the rim is."""
    from reach.base import locator
    from reach.place import geometry

    names = locator.from_position([171.0, 170.0, 169.0, 172.0, 176.0, 166.0] * 2, [-51.0, -50.0, -53.0, -52.0] * 3)
    base = PLAIN.spots.iloc[:12][[name for name in PLAIN.spots if name not in (
        "rx_lon_deg", "rx_lat_deg", "distance_km", "distance_uncertainty_km", "bearing_deg", "country")]]  # fmt: skip
    base = base.assign(rx_locator=pd.Categorical(names))
    trust = base[["rx_call", "rx_locator"]].astype(str).drop_duplicates().assign(trust="suspect")
    opened = open_page(page.html(factory.from_spots(geometry.place(base), trust)))
    opened.page.evaluate("""() => {
      window.__marks = [];
      const write = CanvasRenderingContext2D.prototype.fillText;
      CanvasRenderingContext2D.prototype.fillText = function (text, x, y) {
        if (text === "?") window.__marks.push([x, y]);
        return write.call(this, text, x, y);
      };
    }""")
    opened.page.get_by_role("radio", name="Suspects too").check()
    opened.settle()
    marks = opened.page.evaluate("() => window.__marks")
    assert len(marks) >= 6
    size = opened.page.locator("#map").evaluate("(map) => [map.clientWidth, map.clientHeight]")
    rim = min(size) / 2 - 8
    for x, y in marks:
        assert ((x - size[0] / 2) ** 2 + (y - size[1] / 2) ** 2) ** 0.5 < rim


# --- paper -----------------------------------------------------------------------------------------------------------


def test_no_last_sheet_of_two_lines(open_page: Open, html: str, tmp_path: Path) -> None:
    """Wherever the end of the text falls on the paper, the last sheet has more than the closing line."""
    pytest.importorskip("playwright")
    opened = open_page(html)
    opened.page.evaluate(
        "() => { const gap = document.createElement('div'); gap.id = 'gap'; document.querySelector('main').prepend(gap); }"
    )
    for height in range(0, 1000, 125):
        opened.page.evaluate(f"() => {{ document.getElementById('gap').style.height = '{height}px'; }}")
        opened.page.pdf(path=tmp_path / "page.pdf", format="A4")
        info = subprocess.run(["pdfinfo", tmp_path / "page.pdf"], capture_output=True, check=True, text=True).stdout
        last = re.search(r"Pages:\s+(\d+)", info)
        assert last is not None
        text = subprocess.run(["pdftotext", "-f", last[1], "-layout", tmp_path / "page.pdf", "-"],
                              capture_output=True, check=True, text=True).stdout  # fmt: skip
        assert len([line for line in text.splitlines() if line.strip()]) > 3, height

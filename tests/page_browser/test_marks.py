"""What the page opens on, and what each mark of it says: by pointer, by keyboard, aloud."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from reach.base import words
from reach.draw import style
from reach.measure import frame
from reach.tell import page
from reach.tell.page import looks, versus
from reach.tell.sentences import problems
from tests import factory
from tests.page_browser.conftest import Open, Opened, contrast, distance_edges

PLAIN = factory.result(1500, 120, seed=3)
RESULT = replace(PLAIN, comparison=factory.comparison(PLAIN.receivers))
SOUND = PLAIN.spots[(PLAIN.spots["trust"] != "suspect").to_numpy()]
OPENING = "() => document.getElementById('beyond').textContent"
NEAR = ("G4", "GM3", "F5", "DL2", "OK1", "SM5")  # of factory.PLACES: within some 2 000 km of the station


@pytest.fixture(scope="module")
def html() -> str:
    return page.html(RESULT)


def near_and_few_far() -> Any:
    """Reports from Europe but for a few from the other side of the Earth."""
    calls = PLAIN.spots["rx_call"].astype(str)
    near, far = calls.str.startswith(NEAR), calls.str.startswith("ZL2")
    some = far & (calls == calls[far].iloc[0])
    return factory.from_spots(PLAIN.spots[(near | some).to_numpy()], PLAIN.receivers)


def tip(opened: Opened) -> str:
    opened.settle()
    found = opened.page.locator(".tip")
    return str(found.inner_text()) if found.count() and found.is_visible() else ""


def tip_at(opened: Opened, mark: str, number: int) -> str:
    """What is said at the pointer over the middle of a mark; asked again where the page was still on its way there."""
    shape = opened.page.locator(mark).nth(number)
    for _ in range(20):
        shape.scroll_into_view_if_needed()
        opened.settle()
        box = shape.bounding_box()
        opened.page.mouse.move(0, 0)
        opened.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
        if said := tip(opened):
            return said
    return ""


# --- the map opens on what matters -----------------------------------------------------------------------------------


def test_the_map_opens_on_nine_tenths_and_says_what_lies_beyond(open_page: Open) -> None:
    found = near_and_few_far()
    receivers = found.receivers[(found.receivers["trust"] != "suspect").to_numpy()]
    opens = frame.opens_km(receivers["distance_km"], receivers["reports"])
    assert opens < 5000
    opened = open_page(page.html(found))
    beyond = int((receivers["distance_km"] > opens * 2**0.5).sum())  # the map is a square round that circle
    assert beyond > 0
    opened.settle()
    said = opened.page.evaluate(OPENING)
    assert said == f"{words.things(beyond, 'receiver')} beyond the edge of the map, where the arrows point."
    assert opened.fragment() == ""  # how it opens needs no saying
    opened.page.get_by_role("button", name="Whole world").click()
    opened.settle()
    assert opened.page.evaluate(OPENING) == ""
    assert "zoom=1.00" in opened.fragment()
    opened.page.get_by_role("button", name="Reset view").click()
    opened.settle()
    assert opened.page.evaluate(OPENING) == said
    again = open_page(page.html(found), "#zoom=1.00")
    again.settle()
    assert again.page.evaluate(OPENING) == ""


# --- every mark speaks -----------------------------------------------------------------------------------------------


def test_marks_speak_by_keyboard_and_aloud(open_page: Open, html: str) -> None:
    opened = open_page(html)
    for figure in ("far", "strong", "when", "bearing", "by-receiver", "by-block"):
        speaks(opened, figure)


def speaks(opened: Opened, figure: str) -> None:
    """The marks of a figure, from one to the next by keys."""
    drawing = opened.page.locator(f"#{figure} svg.drawing")
    drawing.scroll_into_view_if_needed()
    opened.page.locator(f"#{figure} svg.drawing .bar, #{figure} svg.drawing .point").first.wait_for(state="attached")
    drawing.focus()
    opened.settle()  # a page that scrolls hides what is said, and what the lines above scrolled is told a frame later
    opened.press("ArrowRight")
    first = tip(opened)
    assert first, figure
    opened.press("ArrowLeft")
    if tip(opened) == first:  # the first from the left
        opened.press("ArrowRight")
    assert tip(opened) not in ("", first), figure
    opened.page.wait_for_timeout(500)
    assert opened.page.locator("#spoken").text_content() == tip(opened), figure
    assert opened.page.locator(f"#{figure} .pointed").count() == 1, figure
    opened.press("Escape")
    assert tip(opened) == "", figure
    assert opened.page.locator(f"#{figure} .pointed").count() == 0, figure


def test_a_bar_says_its_number_at_the_pointer_and_can_be_chosen(open_page: Open, html: str) -> None:
    opened = open_page(html)
    edges = distance_edges(PLAIN.spots["distance_km"])
    counts, _ = np.histogram(SOUND["distance_km"], edges)
    fullest = int(np.argmax(counts))
    opened.page.locator("#far").scroll_into_view_if_needed()
    opened.settle()  # what is said goes where the page moves
    box = opened.page.locator("#far rect.bar").nth(fullest).bounding_box()
    opened.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    said = f"{words.count(edges[fullest])} to {words.count(edges[fullest + 1])}\u202fkm: {words.things(counts[fullest], 'report')}"
    assert tip(opened) == said
    place = opened.page.locator(".tip").bounding_box()
    assert abs(place["x"] - box["x"]) < 80
    assert 0 < box["y"] + box["height"] / 2 - place["y"] < 80
    opened.page.locator("#far svg.drawing").focus()
    opened.press("ArrowRight", "Enter")
    assert opened.count() == counts[fullest]


def test_cells_and_petals_say_their_numbers(open_page: Open, html: str) -> None:
    opened = open_page(html)
    hours = SOUND["time_utc"].dt.hour
    hour = int(hours.mode()[0])
    opened.page.locator("#when").scroll_into_view_if_needed()
    opened.settle()
    bar, drawing = (
        opened.page.locator(f"#when {each}").bounding_box() for each in (f"rect.bar >> nth={hour}", "svg.drawing")
    )
    opened.page.mouse.move(
        bar["x"] + bar["width"] / 2, drawing["y"] + drawing["height"] - 2.2 * REM_PX
    )  # the one row of cells
    assert (
        tip(opened)
        == f"9 May, {hour:02d}:00 to {(hour + 1) % 24:02d}:00 UTC: {words.things((hours == hour).sum(), 'report')}"
    )
    sector = ((SOUND["bearing_deg"] + 15) // 30 % 12).dropna().astype(int)
    fullest = int(sector.mode()[0])
    assert tip_at(opened, "#bearing path.bar", fullest).endswith(
        f"°: {words.things((sector == fullest).sum(), 'report')}"
    )


def test_a_receiver_speaks_at_the_pointer_and_at_its_dot(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.page.locator("#map").scroll_into_view_if_needed()
    opened.settle()  # what is said goes where the page moves
    opened.page.locator("#map").focus()
    opened.settle()
    opened.press("n")
    said = tip(opened)
    assert said == opened.text("#receiver")
    assert said.split(" in ")[0] in set(PLAIN.receivers["rx_call"])
    place = opened.page.locator(".tip").bounding_box()
    box = opened.page.locator("#map").bounding_box()
    assert box["x"] - 5 < place["x"] + place["width"] and place["x"] < box["x"] + box["width"]
    opened.press("Escape")
    assert tip(opened) == ""


# The colours of the cells in the middle of each, those without a report first.
CELLS = """() => {
  const canvas = document.querySelector("#when canvas.cells"), pen = canvas.getContext("2d");
  const box = canvas.getBoundingClientRect(), ratio = canvas.width / box.width, y = canvas.height / 2;
  const row = pen.getImageData(0, y, canvas.width, 1).data;
  const found = [...document.querySelectorAll("#when rect.bar")].map((bar) => {
    const { left, width } = bar.getBoundingClientRect(), at = 4 * Math.floor((left + width / 2 - box.left) * ratio);
    return [Number(bar.getAttribute("height")) > 0, "#" + [...row.slice(at, at + 3)].map((part) => part.toString(16).padStart(2, "0")).join("")];
  });
  return [...new Set([...found].sort((a, b) => a[0] - b[0]).map(([, colour]) => colour))];
}"""
REM_PX = 16


# --- keys ------------------------------------------------------------------------------------------------------------


def test_every_ramp_has_its_key_made_from_the_scale(open_page: Open, html: str) -> None:
    opened = open_page(html)
    cells = SOUND.groupby([SOUND["time_utc"].dt.date, SOUND["time_utc"].dt.hour]).size()
    assert opened.page.locator("#when .key-ends span").first.inner_text() == "1"
    assert opened.page.locator("#when .key-ends span").last.inner_text() == words.count(cells.max())
    stops = "(at) => [...document.querySelectorAll(at + ' stop')].map((stop) => stop.getAttribute('stop-color'))"
    sea, *shades = opened.page.evaluate(CELLS)
    assert len(shades) > 3 and set(shades) <= set(opened.page.evaluate(stops, "#when"))
    assert sea not in shades
    assert len(opened.page.evaluate(stops, "#scale")) > 20


@pytest.mark.parametrize("width", [1280, 1920])
def test_the_columns_end_at_about_one_height(open_page: Open, html: str, width: int) -> None:
    opened = open_page(html, width=width)
    bottoms = opened.page.evaluate("""() => ["map-chart", "charts"].map((name) => {
      const last = document.querySelector(`.${name} > :last-child`).getBoundingClientRect().bottom;
      return last - document.querySelector(".views").getBoundingClientRect().top;
    })""")
    assert min(bottoms) > 0.84 * max(bottoms)


# --- words -----------------------------------------------------------------------------------------------------------


def test_a_station_that_heard_is_asked_where_from(open_page: Open) -> None:
    heard = replace(PLAIN, study=PLAIN.study.model_copy(update={"direction": "heard"}))
    opened = open_page(page.html(heard))
    body = opened.text("body")
    assert "Where from" in body
    assert "Where to" not in body
    assert "receiver" not in opened.text("#explore").lower()


def test_the_plural_is_right_for_one(open_page: Open) -> None:
    one = factory.from_spots(PLAIN.spots.iloc[:1], PLAIN.receivers[["rx_call", "rx_locator", "trust"]])
    said = open_page(page.html(one)).text("body")
    for wrong in ("1 reports", "1 receivers", "1 squares", "1 countries", "1 rows", "1 pairs"):
        assert wrong not in said


# --- contrast and the table of parts ---------------------------------------------------------------------------------

FILLS = """() => {
  window.__fills = [];
  window.__faint = 0;
  for (const { prototype: proto } of [CanvasRenderingContext2D, OffscreenCanvasRenderingContext2D]) {
    const { fill, stroke, beginPath, drawImage } = proto;
    let rim = null;
    proto.beginPath = function () { rim = null; return beginPath.apply(this); };
    proto.stroke = function (...path) { rim = [this.strokeStyle, this.lineWidth]; return stroke.apply(this, path); };
    proto.fill = function (...path) {
      window.__fills.push([this.fillStyle, this.globalAlpha, ...(rim || ["", 0])]);
      return fill.apply(this, path);
    };
    proto.drawImage = function (...image) { window.__faint += this.globalAlpha < 1; return drawImage.apply(this, image); };
  }
}"""


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("fragment", ["#zoom=1.00", "#time=17:30"])
def test_the_weakest_dots_stand_out_by_day_and_night(open_page: Open, html: str, theme: str, fragment: str) -> None:
    """Each dot is opaque, on a rim of paper from which its colour stands out 3:1, whatever night or land lies around."""
    look = style.theme(theme)
    ramp = set(looks.for_canvas()[theme]["ramp"])
    for colour in ramp:
        for ground in (look.paper, look.land, look.sea):
            assert contrast(rgb(colour), rgb(ground)) >= 3, (colour, ground)
    opened = open_page(html, fragment, color_scheme=theme)
    opened.page.evaluate(FILLS)
    opened.page.get_by_role("radio", name="Suspects too").check()
    opened.page.set_viewport_size({"width": 1000, "height": 900})  # dots are stamps, made anew for another size
    opened.settle()
    assert opened.page.evaluate("() => window.__faint") == 0
    dots = [found for found in opened.page.evaluate("() => window.__fills") if found[0] in ramp]
    assert len(dots) > 5
    for _, alpha, rim, wide in dots:
        assert (alpha, rim) == (1, look.paper)
        assert wide >= 3  # half of it shows


def rgb(colour: str) -> str:
    return ",".join(str(int(colour[at : at + 2], 16)) for at in (1, 3, 5))


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_setups_as_text_stand_out(theme: str) -> None:
    look = style.theme(theme)
    for colour in look.setups[:2]:
        assert contrast(rgb(colour), rgb(look.paper)) >= 4.5


def test_the_table_of_parts_has_an_axis_and_arrows(open_page: Open) -> None:
    compared = factory.comparison(PLAIN.receivers)
    wild = next(cell for cell in compared.cells if cell.shown)
    cells = tuple(replace(cell, high_db=45.0) if cell is wild else cell for cell in compared.cells)
    compared = replace(compared, cells=cells)
    opened = open_page(page.html(replace(PLAIN, comparison=compared)))
    limit = versus.scale_db(compared)
    assert limit == versus.MOST_DB
    ticks = opened.page.locator(".scale-of-parts text").all_text_contents()
    assert ticks == ["\N{MINUS SIGN}20", "\N{MINUS SIGN}10", "0", "+10", "+20"]
    assert opened.page.locator(".interval .beyond").count() == 1
    at = opened.page.locator(".scale-of-parts").bounding_box()
    bar = opened.page.locator(".bar-cell svg.interval:not(.scale-of-parts)").first.bounding_box()
    assert abs(at["x"] - bar["x"]) < 1
    assert abs(at["width"] - bar["width"]) < 1


def test_a_table_wider_than_the_window_says_that_it_goes_on(open_page: Open, html: str) -> None:
    opened = open_page(html, width=390)
    table = opened.page.locator(".scroll:has(.forest)")
    table.scroll_into_view_if_needed()
    opened.settle()
    assert (
        table.locator("xpath=preceding-sibling::p[1]")
        .inner_text()
        .endswith("scroll it sideways, or use the arrow keys.")
    )
    assert "more-right" in (table.get_attribute("class") or "")
    table.evaluate("(box) => { box.scrollLeft = box.scrollWidth; }")
    opened.settle()
    assert "more-right" not in (table.get_attribute("class") or "")
    assert "more-left" in (table.get_attribute("class") or "")
    wide = open_page(html, width=1920)
    assert wide.page.locator(".sideways:visible").count() == 0


def test_rules_and_evidence_are_told_in_words(open_page: Open, html: str) -> None:
    opened = open_page(html)
    quality = opened.text("#quality")
    for rule in PLAIN.problems["rule"].unique():
        if "-" in rule:
            assert rule not in quality
        assert problems.name(rule) in quality
    assert "In the balance" in quality
    assert not re.search(r"[+\u2212]\d\.\d(?! ?dB)", opened.text(".suspects"))

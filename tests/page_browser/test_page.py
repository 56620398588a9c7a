"""The page as a whole: it plays, prints, reads aloud, fits narrow screens, and runs nothing that came with the data."""

from __future__ import annotations

import itertools
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from reach import spots as contract
from reach.base import words
from reach.compare.comparison import BREAKDOWNS, Cell, Gap, Remark
from reach.findings import InputFile, Note, NoteCode
from reach.suspects.evidence import Kind, Piece
from reach.tell import page
from reach.tell.sentences import comparison as sentences
from reach.vet import ledger
from tests import factory
from tests.page_browser.conftest import Open, Opened, contrast, distance_edges, rows_of

AXE = Path(__file__).parent / "vendor" / "axe.min.js"
PLAIN = factory.result(1500, 120, seed=3)
RESULT = replace(PLAIN, comparison=factory.comparison(PLAIN.receivers))
HOSTILE = "<!--<script></script ></script><script>alert(1)</script><img src=x onerror=alert(2)>\"'`{{7*7}}&lt;\u2028"


@pytest.fixture(scope="module")
def html() -> str:
    return page.html(RESULT)


# --- playing ---------------------------------------------------------------------------------------------------------


def test_the_day_plays_pauses_and_steps(open_page: Open, html: str) -> None:
    opened = open_page(html)
    assert opened.text("#clock-text") == "whole day"
    still = pixels(opened)
    opened.page.locator("#speed").select_option("fast")
    opened.page.get_by_role("button", name="Play the day").press("Enter")
    opened.page.wait_for_timeout(500)
    opened.page.get_by_role("button", name="Pause").press("Enter")
    reached = shown(opened)
    assert reached > "00:10 UTC"
    assert pixels(opened) != still
    opened.page.wait_for_timeout(200)
    assert opened.text("#clock-text") == reached
    opened.page.locator("#clock").press("Home")
    opened.page.get_by_role("button", name="10 min on").press("Enter")
    assert shown(opened) == "00:10 UTC"
    opened.page.get_by_role("button", name="10 min back").press("Enter")
    opened.page.get_by_role("button", name="10 min back").press("Enter")
    assert shown(opened) == "23:50 UTC"
    opened.page.get_by_role("button", name="Whole day").press("Enter")
    assert shown(opened) == "whole day"
    assert pixels(opened) == still


def test_with_little_movement_the_clock_jumps_by_hours(open_page: Open, html: str) -> None:
    opened = open_page(html, reduced_motion="reduce")
    opened.page.locator("#speed").select_option("fast")
    opened.page.get_by_role("button", name="Play the day").click()
    seen = set()
    for _ in range(12):
        opened.page.wait_for_timeout(60)
        seen.add(opened.text("#clock-text"))
    assert len(seen) > 1
    assert {text[3:] for text in seen} == {"00 UTC"}


def test_the_night_moves(open_page: Open, html: str) -> None:
    noon, midnight = (pixels(open_page(html, f"#time={time}")) for time in ("12:00", "00:00"))
    assert noon != midnight


def shown(opened: Opened) -> str:
    opened.settle()
    return opened.text("#clock-text")


def pixels(opened: Opened) -> str:
    """What is on the map, as text."""
    opened.settle()
    return str(opened.page.evaluate("() => document.getElementById('map-canvas').toDataURL()"))


# --- the map ---------------------------------------------------------------------------------------------------------


def test_receivers_by_keyboard_and_pointer(open_page: Open, html: str) -> None:
    opened = open_page(html)
    nearest = RESULT.receivers.sort_values("distance_km").query("trust != 'suspect'").iloc[0]
    opened.page.locator("#map").focus()
    opened.press("n")
    opened.settle()
    said = opened.text("#receiver")
    assert said.startswith(f"{nearest['rx_call']} in {nearest['rx_locator']}")
    assert f"{nearest['reports']} report" in said
    opened.page.wait_for_timeout(500)
    assert opened.page.locator("#spoken").text_content() == said
    opened.press("n")
    opened.settle()
    assert opened.text("#receiver") != said
    opened.press("p")
    opened.settle()
    assert opened.text("#receiver") == said
    opened.press("Escape")
    opened.settle()
    assert opened.text("#receiver").startswith("Point at")
    box = opened.page.locator("#map").bounding_box()
    opened.page.mouse.move(box["x"] + box["width"] / 2 + 8, box["y"] + box["height"] / 2 - 2)
    opened.settle()
    assert "locator" in opened.text("#receiver")


@pytest.mark.parametrize("name", ["From the station", "Globe", "World"])
def test_the_map_turns_and_zooms(open_page: Open, html: str, name: str) -> None:
    opened = open_page(html)
    opened.page.get_by_role("radio", name=name).check()
    views = [pixels(opened)]
    opened.page.locator("#map").focus()
    for key in ("ArrowLeft", "+", "ArrowDown"):
        opened.press(key)
        opened.page.wait_for_timeout(220)
        views.append(pixels(opened))
    box = opened.page.locator("#map").bounding_box()
    opened.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    opened.page.mouse.wheel(0, -200)
    opened.page.wait_for_timeout(220)
    views.append(pixels(opened))
    opened.page.mouse.down()
    opened.page.mouse.move(box["x"] + box["width"] / 2 + 60, box["y"] + box["height"] / 2 + 20, steps=3)
    opened.page.mouse.up()
    opened.page.wait_for_timeout(220)
    views.append(pixels(opened))
    assert len(set(views)) == len(views)
    opened.page.locator("#map").focus()
    opened.press("0")
    opened.page.mouse.move(0, 0)
    opened.page.wait_for_timeout(220)
    assert pixels(opened) == views[0]


def test_the_wheel_scrolls_the_page_until_the_map_has_the_focus(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.page.locator("#map").scroll_into_view_if_needed()
    box = opened.page.locator("#map").bounding_box()
    opened.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + 80)
    opened.page.mouse.wheel(0, 200)
    opened.page.wait_for_timeout(300)
    assert "zoom" not in opened.fragment()


# --- for everybody, everywhere ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_axe_finds_no_fault(open_page: Open, html: str, theme: str) -> None:
    """In dark of what hangs on colours, for nothing else is another: test_broken.py."""
    opened = open_page(html, color_scheme=theme, bypass_csp=True)
    opened.page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
    rules = COLOURS if theme == "dark" else None
    without_fault(opened, rules)
    opened.drag("far", (0.2, 0.5), (0.7, 0.5))
    for summary in opened.page.locator("details.numbers summary").all():
        summary.click()
    opened.page.get_by_role("radio", name="Suspects too").check()
    opened.page.get_by_role("button", name="10 min on").click()
    opened.page.locator("#bearing svg.drawing").focus()
    opened.press("ArrowRight")
    without_fault(opened, rules)


@pytest.mark.parametrize("kind", ["nothing", "one", "refused", "narrow"])
def test_axe_finds_no_fault_in_odd_states(open_page: Open, html: str, kind: str) -> None:
    trust = PLAIN.receivers[["rx_call", "rx_locator", "trust"]]
    pages = {
        "nothing": lambda: page.html(factory.from_spots(PLAIN.spots.iloc[:0], trust)),
        "one": lambda: page.html(factory.from_spots(PLAIN.spots.iloc[:1], trust)),
        "refused": lambda: page.html(replace(PLAIN, comparison=factory.comparison(PLAIN.receivers, told=False))),
        "narrow": lambda: html,
    }
    opened = open_page(pages[kind](), width=390 if kind == "narrow" else 1280, bypass_csp=True)
    opened.page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
    without_fault(opened)


# What axe leaves to a person: text in drawings and in what scrolls. Each is measured here: its colour against what lies behind.
MEASURE = """(selector) => {
  const node = document.querySelector(selector), drawn = node instanceof SVGElement;
  const solid = (colour) => !/, 0\\)$/.test(colour) && colour !== "transparent";
  let behind = drawn ? document.body : node;
  while (behind !== document.body && !solid(getComputedStyle(behind).backgroundColor)) behind = behind.parentElement;
  const look = getComputedStyle(node);
  return [drawn ? look.fill : look.color, getComputedStyle(behind).backgroundColor];
}"""


# What passes is counted there: to be told all of it takes as long as a third of the look.
LOOK = """(rules) => axe.run(document, { resultTypes: ["violations", "incomplete"], ...rules }).then(
  ({ violations, incomplete, passes }) => ({ violations, incomplete, passes: passes.length }))"""


# Of axe's rules, what hangs on colours, and what does not. Two thirds of a look is contrast.
COLOURS: dict[str, Any] = {"runOnly": ["color-contrast", "link-in-text-block"]}
NO_COLOURS: dict[str, Any] = {"rules": {"color-contrast": {"enabled": False}}}


def without_fault(opened: Opened, rules: dict[str, Any] | None = None) -> None:
    """No violation; of what axe wants looked at, only contrast, and that is 4.5:1 or more. rules : all, COLOURS or NO_COLOURS"""
    found = opened.page.evaluate(LOOK, rules or {})
    assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found["violations"]] == []
    assert found["passes"] > (0 if rules is COLOURS else 20)
    left = {each["id"]: each["nodes"] for each in found["incomplete"]}
    contrasts = left.pop("color-contrast", [])
    assert {name: [node["html"] for node in nodes] for name, nodes in left.items()} == {}
    for node in contrasts:
        text, behind = opened.page.evaluate(MEASURE, node["target"][0])
        assert contrast(text, behind) >= 4.5, node["html"]


def test_headings_are_in_order_and_names_are_there(open_page: Open, html: str) -> None:
    opened = open_page(html)
    levels = opened.page.evaluate(
        "() => [...document.querySelectorAll('h1,h2,h3,h4')].map((h) => Number(h.tagName[1]))"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))
    opened.press("Tab", "Enter")  # the first stop: past everything, to the answer
    assert opened.page.evaluate("() => document.activeElement.id") == "answer"


@pytest.mark.parametrize("width", [390, 1280, 1920])
def test_nothing_is_wider_than_the_screen(open_page: Open, html: str, width: int) -> None:
    opened = open_page(html, width=width)
    assert opened.page.evaluate("() => document.documentElement.scrollWidth") == width


def test_the_reader_chooses_the_colours(open_page: Open, html: str) -> None:
    opened = open_page(html, color_scheme="light")
    paper = "() => getComputedStyle(document.body).backgroundColor"
    light, before = opened.page.evaluate(paper), pixels(opened)
    opened.page.locator("#theme").select_option("dark")
    assert opened.page.evaluate(paper) != light
    assert pixels(opened) != before


def test_prints_to_a4_with_nothing_cut(open_page: Open, html: str, tmp_path: Path) -> None:
    opened = open_page(html, color_scheme="dark")
    opened.page.pdf(path=tmp_path / "page.pdf", format="A4", print_background=True)
    opened.page.emulate_media(media="print")
    opened.page.set_viewport_size({"width": 690, "height": 1000})  # the room inside the margins
    for figure in opened.page.locator("figure.chart").all():
        box = figure.bounding_box()
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 690
        assert box["height"] < 1000
        assert figure.evaluate("(f) => getComputedStyle(f).breakInside") == "avoid"
    if shutil.which("pdftotext") is None:
        pytest.skip("poppler is not installed, so the text on paper was not looked at")
    printed = subprocess.run(
        ["pdftotext", tmp_path / "page.pdf", "-"], capture_output=True, check=True, text=True
    ).stdout
    for said in ("The answer", "How far: distance", "Where to: bearing", "Cautions", "Provenance"):
        assert said in printed
    assert "Play the day" not in printed
    subprocess.run(["pdftoppm", "-r", "20", "-gray", tmp_path / "page.pdf", tmp_path / "sheet"], check=True)
    for sheet in sorted(tmp_path.glob("sheet*.pgm")):  # paper stays light, the map on it too
        grey = np.frombuffer(sheet.read_bytes(), np.uint8)[-20 * 20 * 8 * 11 :]
        assert np.mean(grey < 100) < 0.08


# --- nothing that came with the data runs ----------------------------------------------------------------------------


def hostile() -> str:
    result = factory.result(300, 40, seed=8, bands=(HOSTILE, "20m"), setups=(HOSTILE, "=2+3"))
    rename = {name: f"{HOSTILE}{number}" for number, name in enumerate(result.spots["rx_call"].cat.categories[:5])}
    spots = result.spots.assign(
        rx_call=result.spots["rx_call"].cat.rename_categories(rename),
        tx_call=result.spots["tx_call"].cat.rename_categories({factory.STATION: HOSTILE}),
        country=result.spots["country"].cat.rename_categories({result.spots["country"].cat.categories[0]: HOSTILE}),
    )
    trust = result.receivers[["rx_call", "rx_locator", "trust"]].assign(
        rx_call=result.receivers["rx_call"].astype(object).replace(rename)
    )
    problems = factory.problems().assign(
        source=HOSTILE,
        callsign=HOSTILE,
        locator=HOSTILE,
        rule="time-unreadable",
        value=HOSTILE,
        suggestion="=HYPERLINK(1)",
    )
    setups: Any = {HOSTILE: {"antenna": HOSTILE, "power_w": 5}, "=2+3": {"antenna": HOSTILE}}
    study = factory.study(
        title=HOSTILE,
        about=HOSTILE,
        setups=setups,
        compare=None,
        schedule=HOSTILE,
        station={"callsign": HOSTILE, "locator": "IO51es"},
    )
    inputs = (InputFile(HOSTILE, "ab" * 32, 305, (HOSTILE,)),)
    made = factory.from_spots(
        spots,
        trust,
        wrong=ledger.Problems(problems),
        study=study,
        inputs=inputs,
        notes=(Note(NoteCode.FIX_WITHOUT_ROW, {"where": HOSTILE, "call": HOSTILE, "locator": HOSTILE}),),
    )
    against = pd.Series([(Piece(Kind.COUNTRY, 6.2, HOSTILE),)] * len(made.suspects), dtype=object)
    suspects = made.suspects.assign(rx_call=HOSTILE, suggestion=HOSTILE, suggestion_reason="mirrored", evidence=against)
    compared = replace(
        factory.comparison(made.receivers), a=HOSTILE, b="=2+3",
        warnings=(Remark(Gap.WRONG_LOCATOR, {"error": HOSTILE}),), cells=(Cell("band", HOSTILE, None, None, 9, 90, True, 1.0, 0.5, 1.5),),
    )  # fmt: skip
    return page.html(replace(made, suspects=suspects, comparison=compared))


def test_hostile_text_runs_nothing_and_is_shown_as_text(open_page: Open) -> None:
    opened = open_page(hostile(), width=390)
    scripts = "() => [document.scripts.length, document.images.length, document.querySelectorAll('[onerror]').length]"
    assert opened.page.evaluate(scripts) == [2, 0, 0]
    shown = HOSTILE.replace("\u2028", "")
    assert shown in opened.page.locator(".eyebrow").text_content().replace("\u2028", "")
    opened.page.locator("#map").focus()
    for _ in range(8):
        opened.press("n")
    for summary in opened.page.locator("details.numbers summary").all():
        summary.click()
    opened.page.get_by_label("Table on show").select_option(index=0)
    opened.page.wait_for_timeout(600)
    opened.fragment()
    assert opened.page.evaluate(scripts) == [2, 0, 0]
    table = opened.table("receivers")
    assert any(row["receiver"].startswith(shown[:60]) for row in table)


def test_a_spreadsheet_is_handed_no_formula(open_page: Open) -> None:
    opened = open_page(hostile())
    with opened.page.expect_download() as waiting:
        opened.page.get_by_role("button", name="Download this table (CSV)").click()
    table = rows_of(Path(waiting.value.path()).read_text(encoding="utf-8-sig"))
    assert [row["suggestion"] for row in table] == ["'=HYPERLINK(1)"] * 3
    assert [row["line"] for row in table] == ["41", "97", "120"]


# --- the comparison --------------------------------------------------------------------------------------------------


def test_comparison_shows_effect_interval_parts_and_pairs(open_page: Open, html: str) -> None:
    opened = open_page(html)
    found = RESULT.comparison
    assert found is not None
    section = opened.text("#comparison")
    assert sentences.headline(found, say=words.PRINT) in section
    for cell in found.cells:
        assert sentences.part(cell, say=words.PRINT) in section
    assert section.count("differs from the rest") == sum(cell.differs for cell in found.cells)
    assert opened.page.locator("#comparison .why").count() == sum(not cell.shown for cell in found.cells)
    for one in (*found.warnings, *found.next_steps, *found.breakdown_left_out):
        assert sentences.remark(one, found, say=words.PRINT) in section
    opened.page.locator("#by-block").scroll_into_view_if_needed()
    opened.page.locator("#by-block .point").first.wait_for(state="attached")
    drawn = opened.page.locator("#by-receiver .point").count()
    shown = [each for each in found.by_receiver if each.difference_db is not None]
    assert drawn == sum(each.placed for each in shown) < len(shown)
    assert f"Not drawn: {len(shown) - drawn} receivers whose place nothing confirms." in opened.text("#by-receiver")
    assert opened.page.locator("#by-block .point").count() == len(found.by_block)
    receivers = opened.table("by-receiver")
    assert [row["receiver"] for row in receivers] == [each.rx_call for each in found.by_receiver]
    bars = opened.page.locator(".interval.a circle, .interval.b circle, .interval.none circle")
    at = [float(bar.get_attribute("cx").rstrip("%")) for bar in bars.all()]
    differences = [cell.difference_db for by in BREAKDOWNS for cell in found.cells if cell.by == by and cell.shown]
    assert sorted(range(len(at)), key=at.__getitem__) == sorted(range(len(at)), key=differences.__getitem__)


def test_a_refusal_says_why_and_what_next(open_page: Open) -> None:
    refused = factory.comparison(PLAIN.receivers, told=False)
    opened = open_page(page.html(replace(PLAIN, comparison=refused)))
    section = opened.text("#comparison")
    assert "Cannot tell" in section
    for one in (*refused.reasons, *refused.next_steps):
        assert sentences.remark(one, refused, say=words.PRINT) in section
    assert opened.page.locator("#by-receiver").count() == 0


# --- odd studies -----------------------------------------------------------------------------------------------------


def test_no_spot_at_all(open_page: Open) -> None:
    nothing = RESULT.spots.iloc[:0]
    opened = open_page(page.html(factory.from_spots(nothing, RESULT.receivers[["rx_call", "rx_locator", "trust"]])))
    assert opened.count() == 0
    assert "No report was accepted" in opened.text("h1")


def test_one_spot_only(open_page: Open) -> None:
    one = RESULT.spots.iloc[:1]
    opened = open_page(page.html(factory.from_spots(one, RESULT.receivers[["rx_call", "rx_locator", "trust"]])))
    assert opened.counts("far") == [1]
    assert opened.counts("bearing") == [1]


def test_a_receiver_next_door_has_a_distance_but_no_bearing(open_page: Open) -> None:
    from reach.place import geometry

    near = RESULT.spots.iloc[:20].assign(rx_locator=RESULT.spots["tx_locator"].iloc[:20])
    base = near[[name for name in near if name not in ("rx_lon_deg", "rx_lat_deg", "distance_km",
        "distance_uncertainty_km", "bearing_deg", "country")]]  # fmt: skip
    trust = base[["rx_call", "rx_locator"]].astype(str).drop_duplicates().assign(trust="corroborated")
    opened = open_page(page.html(factory.from_spots(geometry.place(base), trust)))
    assert opened.counts("far") == [20]
    assert opened.counts("bearing") == []
    assert opened.text("#key-farthest").startswith("0\N{NO-BREAK SPACE}±")


def test_a_station_that_moved(open_page: Open) -> None:
    from reach.place import daylight, geometry

    base = PLAIN.spots[[name for name in contract.SPOT if name in PLAIN.spots]]
    away = np.arange(len(base)) % 3 == 0
    moved = daylight.daylight(
        geometry.place(base.assign(tx_locator=pd.Categorical(np.where(away, "JN58td", factory.HOME))))
    )
    result = factory.from_spots(moved, PLAIN.receivers)
    opened = open_page(page.html(result), "#trust=all")
    assert opened.count() == len(moved)
    found, _ = np.histogram(moved["distance_km"], distance_edges(moved["distance_km"]))
    assert opened.counts("far") == [count for count in found if count]
    assert opened.text("#key-farthest-detail").count(" in ") > 0


def test_a_long_campaign_is_counted_by_month(open_page: Open) -> None:
    result = factory.result(900, 60, days=200, hours=24)
    opened = open_page(page.html(result))
    table = opened.table("when")
    by_month = (
        result.spots[~result.spots["rx_call"].isin(_suspects(result))]["time_utc"].dt.strftime("%Y-%m").value_counts()
    )
    assert {
        month: sum(int(row["reports"]) for row in table if row["month"] == month) for month in by_month.index
    } == dict(by_month)


def _suspects(result: Any) -> set[str]:
    return set(result.receivers.query("trust == 'suspect'")["rx_call"].astype(str))

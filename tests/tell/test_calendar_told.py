"""The section of the page about a long period, its slides and its tables: read back and held against the numbers."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import pytest

from reach.base import tongue
from reach.draw import charts, style
from reach.measure import calendar as measured
from reach.tell import folder, page
from reach.tell.deck import outline
from reach.tell.page import looks
from reach.tell.sentences import calendar as sentences
from tests import factory

A_CELL = 24  # bytes, of a path


def long(days: int, count: int = 3000):
    found = factory.result(count, 60, days=days, hours=24)
    return replace(found, calendar=measured.calendar(found.tally))


@pytest.fixture(scope="module")
def year():
    return long(365, 9000)


def section(html: str) -> str:
    return re.search(r'<section id="calendar".*?</section>', html, re.DOTALL).group(0)


def cells(part: str) -> int:
    """How many cells shaded paths hold."""
    return sum(path.count("M") for path in re.findall(r'<path class="s\d" d="([^"]*)"', part))


@pytest.fixture(scope="module")
def html(year) -> str:
    return page.html(year)


def test_the_page_has_a_cell_for_each_day_and_hour(year, html):
    part = section(html)
    found = year.calendar
    reports, distances, *bands = re.findall(r'<svg class="calendar".*?</svg>', part, re.DOTALL)
    assert cells(reports) == (found.days["reports"] > 0).sum()
    assert cells(distances) == (~measured.is_few(found.days)).sum()
    for band, drawn in zip(found.bands, bands, strict=True):
        rows = found.hours[(found.hours["band"] == band).to_numpy()]
        told = (rows["share"] > 0) & (rows["days_heard"] >= measured.FEW_DAYS)
        assert cells(drawn) == told.sum()
    far = re.search(r'<svg class="calendar farthest".*?</svg>', part, re.DOTALL).group(0)
    assert far.count('r="5"') == found.steps["farthest_km"].notna().sum()
    assert all(f".s{k} " in html for k in range(looks.SHADES))


def test_a_short_period_has_no_section():
    html = page.html(long(5))
    assert 'id="calendar"' not in html
    assert "no-report" not in html


def test_ten_years_cost_the_page_little():
    """Every cell of ten years is a few bytes of a path, and shades are few."""
    part = section(page.html(long(3600, 6000)))
    assert len(part) < 3600 * 2 * A_CELL + 120 * 24 * 4 * A_CELL
    assert len(re.findall("<path", part)) <= 6 * (looks.SHADES + 2)


def test_every_picture_says_what_it_is(year, html):
    part = section(html)
    for label in re.findall(r'<svg class="calendar[^>]*aria-label="([^"]*)"', part):
        assert label.endswith("The table has the numbers.")
    names = [table["file"] for table in page.sections.tables(year, page.sections.sound(year))]
    assert names[-3:] == ["calendar", "hours-by-month", "farthest-by-month"]


@pytest.mark.parametrize("days", [40, 365])
def test_slides_and_tables(days, tmp_path):
    found = long(days)
    names = [slide.name for slide in outline.deck(found).slides]
    assert names.index("calendar") + 1 == names.index("openings")
    assert "calendar" not in [slide.name for slide in outline.deck(long(5)).slides]
    folder.write_tables(found, tmp_path)
    for name, table in sentences.written(found.calendar).items():
        with (tmp_path / f"{name}.csv").open(encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        assert len(rows) == len(table)
        assert sum(int(row["reports"]) for row in rows) == table["reports"].sum()


def test_words_of_a_station_that_heard():
    heard = replace(long(40), study=factory.study(direction="heard"))
    html = section(page.html(heard))
    assert "Signals were heard on" in html
    assert "whether anyone was listening" in html
    assert not re.search(r"on the air|receivers?\b", re.sub("<[^>]*>", "", html))


@pytest.mark.parametrize("language", [code for code in tongue.LANGUAGES if code != tongue.ENGLISH])
def test_it_speaks(year, language):
    with tongue.speaking(language):
        told = sentences.told(year, sentences.PRINT)
    assert all(told)
    assert told[0] != sentences.told(year, sentences.PRINT)[0]


def test_dots_that_lie_on_each_other_are_drawn_once():
    found = factory.result(60_000, 2500, days=30, hours=24)
    figure = charts.snr_by_distance(found, style.LIGHT)
    dots = figure.axes[0].collections[0].get_offsets()
    distinct = found.counted_by_level.drop_duplicates(["rx_call", "rx_locator", "snr_db"])
    assert len(dots) < 0.8 * len(distinct)
    assert len(dots) > 3000
    assert dots[:, 0].max() == pytest.approx(distinct["distance_km"].max(), rel=0.01)

"""A season in the folder, on the page, in the picture, on a slide: one finding, the same numbers everywhere."""

from __future__ import annotations

import dataclasses
import html
import json
import re
from datetime import UTC, datetime

import pandas as pd
import pytest

import reach
from reach.base.words import PRINT, TERMINAL
from reach.compare.season import season
from reach.draw import gallery, style
from reach.draw import season as picture
from reach.errors import DrawError
from reach.findings import Findings
from reach.tell import folder, page, texts
from reach.tell.deck import outline
from reach.tell.sentences import reach as answers
from reach.tell.sentences import season as sentences
from tests.conftest import SAMPLES

LATER = datetime(2027, 1, 1, tzinfo=UTC)


@pytest.fixture(scope="module")
def walk() -> reach.Walk:
    return reach.walk(SAMPLES / "season.toml", now=LATER)


@pytest.fixture(scope="module")
def findings(walk: reach.Walk) -> Findings:
    return walk.findings


def test_the_folder_has_every_day_and_the_summary_the_finding(findings, tmp_path):
    folder.write_tables(findings, tmp_path)
    table = pd.read_csv(tmp_path / "season.csv")
    assert list(table["day"]) == [each.day.isoformat() for each in findings.season.days]
    told = json.loads((tmp_path / "season.json").read_text())
    summary = json.loads((tmp_path / "summary.json").read_text())["season"]
    first = sentences.headline(findings.season, say=TERMINAL)
    assert summary["text"] == told["sentences"][0] == first
    assert summary["changes"] == told["changes"] and summary["controls"] == ["EI7QTD", "EI9QUC"]


def test_the_page_says_it_and_draws_every_day(findings):
    html = page.html(findings)
    section = html[html.index('<section id="season"') : html.index('<section id="conditions"')]
    assert 'href="#season"' in html and "3.4" in section and "EI8QUE" in section
    drawn = section[section.index("<svg") : section.index("</svg>")]
    assert drawn.count("<circle") == len(findings.season.days)
    assert len(re.findall('class="level"', drawn)) == 2 and len(re.findall('class="logged"', drawn)) == 2
    assert "left out: it changed" in section
    heights = [float(each) for each in re.findall(r'cy="([\d.]+)"', drawn)]
    levels = [each.level_db for each in findings.season.days]
    assert [a < b for a, b in zip(heights, heights[1:], strict=False)] == [
        a > b for a, b in zip(levels, levels[1:], strict=False)
    ]


def test_what_changed_is_part_of_the_answer_everywhere(walk, findings):
    """The page's first section, the terminal, a notebook and the slides' handout read the same sentences."""
    last = answers.answer(findings, PRINT)[-1]
    assert (last.topic, last.text) == ("Over the weeks", sentences.headline(findings.season, say=PRINT))
    first_section = page.html(findings).split('id="answer"')[1].split("</section>")[0]
    assert last.text in html.unescape(first_section)
    assert sentences.headline(findings.season, say=TERMINAL) in str(walk)
    assert last in outline.deck(findings).answer


def test_a_walk_without_a_season_has_none_of_it(tmp_path):
    other = reach.walk(SAMPLES / "shared.toml", now=LATER)
    assert other.season is None
    assert 'id="season"' not in page.html(other.findings)
    assert "season" not in {each.name for each in gallery.pictures(other.findings)}
    assert "season" not in folder.summary_file(other.findings)
    with pytest.raises(DrawError, match="no season"):
        other.plot.season()


def test_the_picture_has_a_dot_a_day_and_a_line_a_stretch(findings):
    (entry,) = [each for each in gallery.pictures(findings) if each.name == "season"]
    figure = entry.build()
    (axes,) = figure.axes
    dots = axes.collections[-1] if len(axes.collections[-1].get_offsets()) > 2 else axes.collections[1]
    assert len(dots.get_offsets()) == len(findings.season.days)
    look = style.theme("light")
    stretches = [line for line in axes.lines if line.get_color() == look.ink and line.get_linestyle() == "-"]
    assert [float(line.get_ydata()[0]) for line in stretches] == sorted(
        {each.fitted_db for each in findings.season.days}, reverse=True
    )
    assert {text.get_text() for text in axes.texts} >= {"1", "2"}
    said = " ".join(text.get_text() for text in figure.texts)
    assert "2 April" in said.replace("\N{NO-BREAK SPACE}", " ") and "new connectors" in said


def test_without_a_verdict_dots_are_hollow_and_no_line_is_drawn(walk):
    found = season(walk.vetted.spots, {})
    figure = picture.season(dataclasses.replace(walk.findings, season=found), style.theme("light"))
    (axes,) = figure.axes
    assert any(
        not len(each.get_facecolors()) for each in axes.collections if len(each.get_offsets()) == len(found.days)
    )
    assert sentences.title(found, say=PRINT) == "Without another station as yardstick there is no verdict"


def test_the_slide_says_what_it_shows_and_hides(findings):
    made = outline.deck(findings)
    (slide,) = [each for each in made.slides if each.name == "season"]
    assert slide.title.startswith("Since 2") and slide.shows == texts.speaker()("season.shows")


def test_axes_of_your_own(walk):
    from matplotlib.figure import Figure

    axes = Figure().subplots()
    assert walk.plot.season(axes) is axes and axes.get_title(loc="left").startswith("Since 2")

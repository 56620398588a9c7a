"""Local time beside UTC, where it is asked for, in pictures, slides and film; without it nothing of it anywhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from matplotlib.text import Text

from reach import study as studies
from reach.draw import charts, motion, patterns, style
from reach.errors import StudyError
from reach.findings import Findings
from reach.tell.deck import model, outline
from reach.tell.sentences import pictures
from reach.tell.sentences import reach as answers

LOOK = style.theme("light")
ZONE = "Asia/Kolkata"


@pytest.fixture(scope="module")
def shown(walks: dict[str, Any]) -> Findings:
    return in_zone(walks["evening"].findings, ZONE)


def in_zone(found: Findings, zone: str) -> Findings:
    return replace(found, study=found.study.model_copy(update={"local_time": zone}))


def ticks(axes: Any) -> list[str]:
    axes.figure.canvas.draw()
    return [label.get_text() for label in axes.get_xticklabels()]


@pytest.mark.parametrize("build", [charts.hours, patterns.hour_by_distance, patterns.hour_by_bearing])
def test_an_axis_of_hours_has_the_local_hour_below_and_says_whose(shown, walks, build):
    (axes, *_) = build(shown, LOOK).axes
    assert ticks(axes)[:2] == ["18\n23:30", "19\n00:30"]
    assert "below: Asia/Kolkata at UTC+5:30" in axes.get_xlabel()
    label, foot = axes.xaxis.label.get_window_extent(), axes.figure
    below = [text.get_window_extent() for text in foot.texts if text.get_window_extent().y1 < axes.bbox.y0]
    assert all(label.y0 > box.y1 for box in below)
    (plain, *_) = build(walks["evening"].findings, LOOK).axes
    assert all("\n" not in text for text in ticks(plain)) and "Asia" not in plain.get_xlabel()


def test_the_timeline_has_it_by_the_clock(shown):
    (axes, *_) = charts.timeline(shown, LOOK).axes
    assert "18:00\n23:30" in ticks(axes)


def test_where_clocks_changed_both_hours_stand_there_and_a_note_says_so(walks):
    """The evening moved so far that Lisbon's clocks, which change on the last Sunday of October, change in it."""
    found = in_zone(walks["evening"].findings, "Europe/Lisbon")
    from reach.base.local_time import LocalTime
    from tests.base.test_local_time import at

    found.__dict__["local_time"] = LocalTime.over("Europe/Lisbon", at("2026-10-24T12:00"), at("2026-10-26T12:00"))
    figure = charts.hours(found, LOOK)
    assert ticks(figure.axes[0])[0] == "18\n19\n18"
    assert "Europe/Lisbon at UTC+1 and UTC" in figure.axes[0].get_xlabel()
    told = " ".join(text.get_text() for text in figure.findobj(Text))
    assert "The clocks of Europe/Lisbon changed meanwhile" in told.replace("\n", " ")


def test_titles_and_captions_say_both(shown):
    assert pictures.hours(shown, pictures.PRINT).endswith("UTC (01:30–02:30, Asia/Kolkata)")
    assert "UTC (23:32–05:26, Asia/Kolkata)" in answers.circumstances(shown, pictures.PRINT)


def test_the_slide_and_its_chart_say_both(shown, walks):
    def when(found: Findings) -> model.Slide:
        return next(slide for slide in outline.deck(found).slides if slide.name == "when")

    chart = when(shown).exhibit
    assert isinstance(chart, model.Chart)
    assert chart.categories[0] == "18\n23:30" and chart.x == "hour, UTC; below: Asia/Kolkata at UTC+5:30"
    plain = when(walks["evening"].findings).exhibit
    assert isinstance(plain, model.Chart)
    assert plain.categories[0] == "18" and plain.x == "hour, UTC"


def test_the_films_clock_has_it_below(shown):
    reel = motion.Film(shown, motion.span(shown), size_px=(640, 360))
    moment = reel.moments(3)[0]
    reel.frame(moment)
    assert f"{moment + timedelta(hours=5, minutes=30):%H:%M} Asia/Kolkata" in [
        text.get_text() for text in reel.figure.findobj(Text)
    ]


def test_a_zone_that_is_none_is_refused_with_the_nearest():
    with pytest.raises(StudyError, match="a zone has a name such as 'Asia/Kolkata'"):
        studies.check({"local_time": "Asia/Kolkatta"})

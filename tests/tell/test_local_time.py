"""Local time beside UTC, where it is asked for, in pictures, slides and film; without it nothing of it anywhere."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from matplotlib.text import Annotation, Text

from reach import study as studies
from reach.draw import calendar, charts, motion, patterns, style
from reach.errors import StudyError
from reach.findings import Findings
from reach.measure import calendar as measured
from reach.tell import page, texts
from reach.tell.deck import calendar as deck_calendar
from reach.tell.deck import model, outline
from reach.tell.page import calendar as page_calendar
from reach.tell.sentences import pictures
from reach.tell.sentences import reach as answers
from tests import factory
from tests.draw import audience

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


@pytest.fixture(scope="module")
def long() -> Findings:
    found = factory.result(1500, 60, days=400, hours=24)
    return replace(found, calendar=measured.calendar(found.tally))


@pytest.mark.parametrize("zone", ["Europe/Berlin", "Europe/Lisbon", "Asia/Kolkata", "Australia/Lord_Howe"])
def test_lines_of_a_long_period_lie_where_local_clocks_showed_that_hour(long, zone):
    """Truth: the standard library's clocks, at the ends and in the middle of every piece; also where a change takes midnight
    from one end of the day to the other, and where it is half an hour."""
    lines = calendar.local_lines(in_zone(long, zone))
    assert [name for name, _ in lines] == ["00", "06", "12", "18"]
    changes = 0
    for name, runs in lines:
        pieces = [piece for run in runs for piece in zip(run[::2], run[1::2], strict=True)]
        changes += len(pieces) - 1
        for (begin, hour), (end, same) in pieces:
            assert hour == same and begin < end
            for moment in (begin, begin + (end - begin) / 2, end - timedelta(minutes=1)):
                midnight = moment.replace(hour=0, minute=0, second=0, microsecond=0)
                there = (midnight + timedelta(hours=hour)).replace(tzinfo=UTC)
                ahead = moment.astimezone(ZoneInfo(zone)).utcoffset()
                assert f"{(there + ahead):%H:%M}" == f"{name}:00"
        for before, after in zip(runs, runs[1:], strict=False):  # nothing is drawn across the day
            assert before[-1][0] == after[0][0] and abs(before[-1][1] - after[0][1]) > 12
        assert all(abs(one[1] - other[1]) <= 2 for run in runs for one, other in pairwise(run))
    assert changes == (0 if zone == "Asia/Kolkata" else 4 * len(calendar.local_over(in_zone(long, zone)).changes))


def test_the_hours_of_a_long_period_have_local_hours_at_the_right_and_say_when_clocks_changed(long):
    found = in_zone(long, "Europe/Berlin")
    changed = "(25 October 2026 to UTC+1 and 28 March 2027 to UTC+2)"
    told = f"hours by the clocks of Europe/Berlin at UTC+2 and UTC+1; they step where these changed {changed}."
    figure = calendar.hours(found, LOOK)
    said = (
        " ".join(text.get_text() for text in figure.findobj(Text)).replace("\n", " ").replace("\N{NO-BREAK SPACE}", " ")
    )
    assert told in said
    _, overlaps, cut = audience.lying(figure)
    assert (overlaps, cut) == ((), ())
    lines = [line for axes in figure.axes for line in axes.lines]
    bands = len(found.calendar.bands)
    assert len(lines) == 4 * bands
    names = [text for text in figure.findobj(Annotation) if text.get_text() in ("00", "06", "12", "18")]
    assert len(names) == 4  # at the right of the last column alone: the three bands stand side by side
    at = {text.get_text(): text.xy[1] for text in names}
    assert at == {"00": 22, "06": 4, "12": 10, "18": 16}
    slide = next(each for each in deck_calendar.slides(found, texts.speaker()) if each.name == "openings")
    assert told in " ".join(part.text for part in slide.texts[0]).replace("\N{NO-BREAK SPACE}", " ")
    section = page_calendar.section(found)
    assert told in section["hours_legend"][-1].replace("\N{NO-BREAK SPACE}", " ")
    assert [[name for *_, name in each["local"]] for each in section["hours"]] == [["00", "06", "12", "18"]] * bands
    assert page.html(found).count('class="local"') == 4 * bands


def test_without_a_zone_a_long_period_has_no_lines(long):
    assert calendar.local_lines(long) == [] and calendar.local_over(long) is None
    assert not any(axes.lines for axes in calendar.hours(long, LOOK).axes)
    assert 'class="local"' not in page.html(long)

"""The pictures onto axes of one's own: on those axes, all of it, as large as they are, and nothing beside them."""

from __future__ import annotations

import doctest
import inspect
from dataclasses import replace
from pathlib import Path

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure
from pyproj import CRS

from reach.base import words
from reach.draw import basemap, charts, gallery, plot, style
from reach.draw.plot import Plot
from reach.errors import DrawError
from reach.spots import UNCONFIRMED
from tests.draw.test_gallery import heard
from tests.draw.test_pictures import LOOK, TITLES, shapes, title_of

ROOT = Path(__file__).parents[2]
# Each method, and the picture of the gallery that shows the same.
METHODS = {
    "map": "map-station", "close": "map-close", "world": "map-world", "ways": "map-reach", "squares": "map-squares",
    "busiest_hour": "map-busiest-hour", "distance": "distance", "distance_steps": "distance-log", "curve": "reach-curve",
    "strength": "snr", "strength_by_distance": "snr-by-distance", "hours": "hours",
    "hours_by_distance": "hour-by-distance", "hours_by_direction": "hour-by-bearing", "timeline": "timeline",
    "directions": "bearing", "comparison": "comparison", "receivers": "comparison-receivers",
    "receivers_map": "comparison-map", "stretches": "comparison-blocks",
}  # fmt: skip
PLAIN = [name for name in METHODS if name not in ("map", "close", "world", "ways", "squares", "busiest_hour",
                                                  "directions", "receivers_map")]  # fmt: skip


@pytest.fixture(scope="module")
def evening(walks) -> Plot:
    return walks["evening"].plot


def axes_of(width_in: float = 4.0, height_in: float = 3.0) -> mpl.axes.Axes:
    """Plain axes of that size, with room round them, in a figure that pyplot does not know."""
    figure = Figure(figsize=(width_in + 2, height_in + 2))
    return figure.add_axes(
        (1 / (width_in + 2), 1 / (height_in + 2), width_in / (width_in + 2), height_in / (height_in + 2))
    )


def title(axes: mpl.axes.Axes) -> str:
    return axes.get_title(loc="left").replace("\n", " ")


def test_every_public_method_is_tested():
    public = {name for name, each in inspect.getmembers(Plot, inspect.isfunction) if not name.startswith("_")}
    long = {"calendar", "calendar_distance", "hours_over_time", "farthest"}  # tests/draw/test_calendar.py has these
    assert public == {*METHODS, *long, "season", "sheet"}  # tests/tell/test_season_told.py has that of weeks


def test_every_picture_of_the_gallery_can_be_had_as_a_figure(evening):
    """Also those of several maps or charts, which fit no single axes."""
    for picture in gallery.pictures(evening._findings):
        figure = evening.sheet(picture.name)
        assert style.size_px(figure) == (style.WIDTH_PX, style.HEIGHT_PX)
    assert len(evening.sheet("bands-distance").axes) == len(evening._findings.bands)
    with pytest.raises(DrawError, match="did you mean 'bands-distance'"):
        evening.sheet("band-distance")
    with pytest.raises(DrawError, match="there are map-station, "):
        evening.sheet("?")


def test_the_example_runs(monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(plot)
    assert found.attempted >= 6 and not found.failed


@pytest.mark.parametrize("name", METHODS)
def test_the_title_is_the_picture_s_and_nothing_stands_beside_the_axes(evening, walks, drawn, name):
    given = axes_of()
    figure = given.figure
    axes = getattr(evening, name)(given)
    assert figure.axes == [axes] and axes.get_subplotspec() is given.get_subplotspec()
    assert axes.get_position(original=True).bounds == pytest.approx(given.get_position(original=True).bounds)
    assert TITLES[METHODS[name]](walks["evening"].findings) in title(axes)
    assert title(axes) == title_of(drawn("evening", METHODS[name]))
    assert not figure.texts and not figure.legends and not figure.images and figure.get_suptitle() == ""


@pytest.mark.parametrize("name", PLAIN)
def test_plain_axes_are_drawn_onto_and_hold_what_the_picture_holds(evening, drawn, name):
    given = axes_of()
    assert getattr(evening, name)(given) is given
    whole = drawn("evening", METHODS[name])
    assert shapes(given.figure) == shapes(whole)
    assert [len(each.get_offsets()) for each in given.findobj(PathCollection)] == [
        len(each.get_offsets()) for each in whole.axes[0].findobj(PathCollection)
    ]


def test_a_map_takes_the_place_of_plain_axes(evening, monkeypatch):
    asked, equals = [], CRS.equals
    monkeypatch.setattr(CRS, "equals", lambda own, other, *more: asked.append(other) or equals(own, other, *more))
    figure = Figure()
    grid = figure.subplots(2, 2)
    spec = grid[1, 0].get_subplotspec()
    axes = evening.map(grid[1, 0])
    assert axes is not grid[1, 0] and grid[1, 0] not in figure.axes and len(figure.axes) == 4
    assert axes.get_subplotspec() == spec and axes.name == "cartopy.geoaxes"
    assert evening.map(axes) is axes  # axes of that projection are drawn onto
    assert evening.directions(grid[0, 0]).name == "polar"
    assert not [each for each in asked if isinstance(each, str)]  # each would be looked up in PROJ's tables


def test_a_map_in_part_of_a_figure_stays_there(evening):
    left, right = Figure(figsize=(8, 4)).subfigures(1, 2)
    axes = evening.world(right.subplots())
    assert axes.figure is right and not left.axes


def test_type_follows_the_user_s_and_marks_the_axes(evening):
    """A third of the width: type at seven tenths of the user's own size, and marks by the axes' area."""
    large, small = (evening.strength_by_distance(axes_of(*size)) for size in ((9.0, 60 / 9), (3.0, 20 / 9)))
    assert large.xaxis.label.get_fontsize() == pytest.approx(mpl.rcParams["font.size"])
    assert small.xaxis.label.get_fontsize() == pytest.approx(0.7 * mpl.rcParams["font.size"])
    with mpl.rc_context({"font.size": 20}):
        twice = evening.hours(axes_of(9.0, 6.0))
    assert twice.xaxis.label.get_fontsize() == pytest.approx(20)
    dots = [axes.findobj(PathCollection)[0].get_sizes()[0] for axes in (large, small)]
    assert dots[0] == pytest.approx(style.points(9) ** 2) and dots[1] == pytest.approx(dots[0] / 9)
    lines = [axes.lines[0].get_linewidth() for axes in (large, small)]
    assert lines[0] == pytest.approx(style.points(5)) and lines[1] == pytest.approx(lines[0] / 3)


@pytest.mark.parametrize("name", METHODS)
def test_words_stay_clear_of_each_other_on_small_axes(evening, name):
    """The title above all else that stands on top of the axes, and no wider than the axes by more than a word."""
    axes = getattr(evening, name)(axes_of(3.2, 2.6))
    axes.figure.draw_without_rendering()
    heading = axes._left_title.get_window_extent()
    others = [text for text in axes.texts if text.get_text().strip() and text.get_visible()]
    assert not [text.get_text() for text in others if heading.overlaps(text.get_window_extent())]
    assert heading.width <= axes.get_window_extent().width * 1.05


def test_numbers_in_cells_fit_or_are_left_out(evening):
    wide = evening.hours_by_direction(axes_of(6, 5))
    cell = wide.get_window_extent().width / np.ptp(wide.get_xlim())
    inside = [text for text in wide.texts if text.get_transform() == wide.transData]
    assert inside and all(text.get_visible() and text.get_window_extent().width <= cell for text in inside)
    narrow = evening.hours_by_direction(axes_of(0.5, 1.0))
    assert not any(text.get_visible() for text in narrow.texts if text.get_transform() == narrow.transData)


def test_what_was_on_the_axes_stays_as_it_was(evening):
    axes = axes_of()
    (mine,) = axes.plot([0, 24], [1, 2], linewidth=7, label="mine")
    evening.hours(axes)
    assert mine in axes.lines and mine.get_linewidth() == 7


def test_nothing_global_is_touched(evening, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    before, open_ = dict(mpl.rcParams), pyplot.get_fignums()
    for name in ("distance", "map", "timeline", "comparison", "directions"):
        getattr(evening, name)(axes_of())
    assert dict(mpl.rcParams) == before and pyplot.get_fignums() == open_ and not list(tmp_path.iterdir())


def test_without_axes_pyplot_makes_a_figure(evening):
    open_ = pyplot.get_fignums()
    axes = evening.world()
    assert len(pyplot.get_fignums()) == len(open_) + 1 and axes.figure.axes == [axes]
    pyplot.close(axes.figure)


def test_the_scale_of_a_map_belongs_to_its_axes(evening):
    """Colours without a scale say nothing; as a child of the axes it goes where they go."""
    axes = evening.map(axes_of())
    (bar,) = axes.child_axes
    assert bar.get_title(loc="left") == "Median SNR in 2500\u202fHz [dB]"
    ticks = [label.get_text() for label in bar.get_xticklabels()]
    assert ticks[0].startswith(words.MINUS) and len(ticks) >= 3


def test_dark_is_for_dark_figures(walks):
    axes = Plot(walks["evening"].findings, "dark").hours(axes_of())
    assert axes._left_title.get_color() == style.DARK.ink
    assert {bar.get_facecolor()[:3] for bar in axes.patches} == {mpl.colors.to_rgb(style.DARK.plain)}
    with pytest.raises(DrawError, match="sepia"):
        Plot(walks["evening"].findings, "sepia")


def test_what_cannot_be_drawn_is_a_sentence(walks):
    """And no axes are made or replaced for it."""
    given = axes_of()
    nothing, unsure, own = heard("IO51es", []), heard("IO51es", ["JN58td"], UNCONFIRMED), heard("IO51es", ["IO51es"])
    for found, names, why in (
        (nothing, METHODS, "No report was accepted|No two setups"),
        (unsure, ("distance", "world", "hours", "directions"), "no reach is claimed"),
        (own, ("directions", "ways", "hours_by_direction"), "has no direction"),
        (own, ("comparison", "receivers", "receivers_map", "stretches"), "No two setups were compared"),
        (walks["weekend"].findings, ("comparison", "stretches"), "Cannot tell vertical from wire"),
    ):
        for name in names:
            with pytest.raises(DrawError, match=why):
                getattr(Plot(found), name)(given)
    assert given.figure.axes == [given] and not given.texts
    assert "no reach is claimed" in title(Plot(unsure).map(axes_of()))
    assert "1 report in time order" in title(Plot(unsure).timeline(axes_of()))


def test_a_station_with_one_report_can_be_drawn():
    """Axes have some width and height however little there is on them."""
    for found in (heard("IO51es", ["JN58td"]), heard("IO51es", ["IO51es"]), heard("JR09aa", ["JN58td"])):
        for name in (
            "map",
            "close",
            "world",
            "squares",
            "distance",
            "curve",
            "strength",
            "strength_by_distance",
            "hours",
        ):
            axes = getattr(Plot(found), name)(axes_of())
            limits = [*axes.get_xlim(), *axes.get_ylim()]
            assert np.isfinite(limits).all() and limits[1] > limits[0] and limits[3] > limits[2], name
            axes.figure.canvas.draw()


def test_functions_that_draw_return_what_they_drew(walks):
    """All of it is on the axes, and it is what the picture is about: the bars of the hours are the hours of Reach."""
    found = walks["evening"].findings
    axes = axes_of()
    bars = charts.draw_hours(axes, found, LOOK)
    assert bars == list(axes.patches)
    assert [bar.get_height() for bar in bars] == [hour.reports for hour in found.reach.headline.hours]
    figure = style.sheet(LOOK)
    lines = charts.draw_comparison(style.place(figure, 100, 100, 900, 800), found, LOOK)
    assert set(lines) <= set(figure.axes[0].lines)
    world = style.place(figure, 0, 0, 900, 500, projection=basemap.world(-9.0))
    from reach.draw import maps

    marks = maps.draw_world(world, found, LOOK)
    assert len(marks[1].get_offsets()) == len(found.sure) and all(mark.axes is world for mark in marks)


def test_pictures_of_the_same_findings_are_the_same(walks):
    """What is drawn does not depend on what was drawn before."""
    found = replace(walks["messy"].findings)
    one, two = (Plot(found).strength_by_distance(axes_of()).findobj(PathCollection)[0].get_offsets() for _ in range(2))
    assert np.array_equal(one, two)

"""What the audience of a picture sees: nothing over something else, nothing cut, nothing too faint."""

from __future__ import annotations

import numpy as np
import pytest
from matplotlib.colors import to_hex, to_rgb

from reach.draw import charts, frame, gallery, layers, patterns, style, versus
from reach.tell.deck import model, outline
from tests.draw import audience

SMALLEST_PX = 27.99  # of 1920: what can be read from the back row; sizes are kept in points


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("sample", ["evening", "messy"])
def test_no_text_of_any_picture_is_small_lies_on_another_or_is_cut(sample, name, walks):
    for picture in gallery.pictures(walks[sample].findings, style=name):
        seen = audience.look_at(picture.build())
        assert seen.overlaps == (), picture.name
        assert seen.cut == (), picture.name
        assert seen.faint == (), picture.name
        assert seen.smallest_px >= SMALLEST_PX, picture.name


def test_the_measure_itself():
    """Black on white is 21 by definition; two texts at one place overlap; one beyond the edge is cut."""
    assert audience.contrast("#000000", "#ffffff") == pytest.approx(21)
    look = style.theme("light")
    figure = style.sheet(look)
    for x in (100, 120, 1900):
        style.write(figure, x, 100, "thirty", px=30, color=look.sea)
    seen = audience.look_at(figure)
    assert seen.smallest_px == pytest.approx(30)
    assert seen.overlaps == (("thirty", "thirty"),)
    assert seen.cut == ("thirty",)
    assert len(seen.faint) == 3


@pytest.mark.parametrize("name", ["light", "dark"])
@pytest.mark.parametrize("sample", ["evening", "messy"])
def test_no_text_of_a_slide_s_picture_lies_on_another_is_cut_or_small(sample, name, walks):
    """A slide shows it enlarged."""
    made = outline.deck(walks[sample].findings, look=name)
    shown = [(one, box) for slide in made.slides for one, box in slide.exhibits if isinstance(one, model.Picture)]
    assert shown
    for one, box in shown:
        seen = audience.look_at(audience.on_a_slide(made.look, one, box))
        assert (seen.overlaps, seen.cut, seen.faint) == ((), (), ()), one.alt
        assert seen.smallest_px * model.ENLARGED >= model.READABLE


@pytest.mark.parametrize("name", ["light", "dark"])
def test_dots_on_a_map_with_a_night_side_have_a_rim_of_three_to_one(name, walks):
    look = style.theme(name)
    pictures = {picture.name: picture for picture in gallery.pictures(walks["evening"].findings, style=name)}
    axes = pictures["map-world"].build().axes[0]
    assert any(image.get_zorder() == layers.Z_NIGHT for image in axes.images)
    (dots,) = (each for each in axes.collections if each.get_zorder() == layers.Z_DOTS)
    assert dots.get_linewidths()[0] / style.points(1) >= 3
    rim = to_hex(dots.get_edgecolors()[0])
    assert min(audience.contrast(face, rim) for face in dots.get_facecolors()[:, :3]) >= 3
    assert rim in (look.paper, look.sea)


def test_bars_that_are_all_there_is_stand_out_from_paper(walks):
    """With several setups they are a backdrop for their lines; with one they are the finding."""
    for name in ("light", "dark"):
        look = style.theme(name)
        bar = charts.distance(walks["messy"].findings, look).axes[0].patches[0]
        *colour, alpha = bar.get_facecolor()
        seen = np.array(colour) * alpha + np.array(to_rgb(look.paper)) * (1 - alpha)
        assert audience.contrast(tuple(seen), look.paper) >= 3


def test_hours_without_reports_leave_the_frame_where_all_lie_within_half_a_day(walks):
    hours = charts.hours(walks["evening"].findings, style.LIGHT).axes[0]
    cells = patterns.hour_by_bearing(walks["evening"].findings, style.LIGHT).axes[0]
    assert hours.get_xlim() == cells.get_xlim() == (18, 24)
    assert charts.hours(walks["messy"].findings, style.LIGHT).axes[0].get_xlim() == (0, 24)
    assert frame.hours_shown([3, 14]) == (3, 15) and frame.hours_shown([3, 15]) == (0, 24)
    assert frame.hours_shown([]) == (0, 24)


@pytest.mark.parametrize("draw", [patterns.hour_by_bearing, patterns.hour_by_distance])
def test_shaded_cells_without_numbers_have_their_key(draw, walks, monkeypatch):
    findings = walks["evening"].findings
    assert len(draw(findings, style.LIGHT).axes) == 1  # numbers say it
    monkeypatch.setattr(patterns, "_fits", lambda *given: False)
    figure = draw(findings, style.LIGHT)
    seen = audience.look_at(figure)
    assert (seen.overlaps, seen.cut) == ((), ())
    cells, key = figure.axes
    norm = cells.collections[0].norm
    ticks = [tick for tick in (1, 10, 100, 1000) if tick <= norm.vmax]
    assert len(ticks) >= 2 and [label.get_text() for label in key.get_xticklabels()] == [str(tick) for tick in ticks]
    assert list(key.get_xticks()) == pytest.approx([float(norm(tick)) for tick in ticks])


def test_the_interval_of_a_part_stays_in_one_piece():
    told = "+3.8 dB (+2.4 to +5.2)"
    assert versus._told_lines(told, 1000, style.REGULAR) == [told]
    assert versus._told_lines(told, 200, style.REGULAR) == ["+3.8 dB", "(+2.4 to +5.2)"]
    assert versus._told_lines("too few", 200, style.REGULAR) == ["too few"]

"""Odd data through every picture: next to nothing, one receiver, edges of the map, long times, odd names."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.colors import Normalize

from reach.base.words import PRINT
from reach.draw import areas, basemap, charts, gallery, layers, patterns, style, versus
from reach.measure.claims import Kind, Reason
from reach.tell.sentences import pictures
from tests import factory
from tests.draw import audience
from tests.draw.test_gallery import heard

LOOK = style.theme("light")
WORLDS = {
    "one spot": ("IO51es", ["JO62qm"]),
    "its own cell": ("IO51es", ["IO51es"]),
    "two spots": ("IO51es", ["JO62qm", "FN31pr"]),
    "one receiver": ("IO51es", ["JO62qm"] * 5),
    "poles": ("IO51es", ["JR09aa", "AR00aa", "RA00aa"] * 3),
    "date line": ("RE66aa", ["AE46xa", "RE99xx", "AE00aa"] * 3),
    "antipode": ("RE66aa", ["IO51es", "IN73aa"] * 4),
    "at a pole": ("JR09aa", ["IO91wm", "FN31pr"] * 3),
}


@pytest.mark.parametrize("world", WORLDS)
def test_every_picture_can_be_drawn_and_no_axis_says_a_number_twice(world):
    findings = heard(*WORLDS[world])
    for picture in gallery.pictures(findings):
        figure = picture.build()
        figure.canvas.draw()
        for axes in figure.axes:
            for axis in (axes.xaxis, axes.yaxis):
                said = [label.get_text() for label in axis.get_ticklabels() if label.get_text()]
                assert len(set(said)) == len(said), (picture.name, said)


def test_nothing_is_a_picture_too():
    for findings in (factory.result(0, 1), factory.result(2, 1), factory.result(300, 1)):
        assert all(picture.build() is not None for picture in gallery.pictures(findings))


def test_two_years_have_names_of_time_that_can_be_read():
    figure = charts.timeline(factory.result(900, 30, days=730), LOOK)
    assert audience.lying(figure)[1] == ()


def _largest_share(station: str, squares: list[str]) -> float:
    """Of the whole disc round a station, what the largest of some squares fills."""
    from reach.base import locator

    lon, lat = (float(each[0]) for each in locator.centre([station]))
    figure = style.sheet(LOOK)
    axes = style.place(figure, 0, 0, 900, 900, projection=basemap.round_the_station(lon, lat))
    axes.set_global()
    drawn = layers.squares(axes, LOOK, squares, np.ones(len(squares)), style.ramp(LOOK.ramp), Normalize(0, 1))
    assert isinstance(drawn, PolyCollection)
    shares = []
    for path in drawn.get_paths():
        x, y = path.vertices.T
        shares.append(abs(float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))) / 2)
    return max(shares) / (np.pi * (basemap.RIM_KM * 1000) ** 2)


@pytest.mark.parametrize("station", ["AE46xa", "AE46aa", "AE46lm", "RE66aa", "IO51es"])
def test_a_square_beside_the_antipode_does_not_fill_the_globe(station):
    """Around the antipode squares are spread along the rim, but a square is 1 in 30 000 of the globe and no part of a
    chord through its middle: what lies within 250 km of the antipode is a ring of 1 in 40 of the disc."""
    field = [f"{a}{b}{i}{j}" for a, b in ("JN", "IN", "JE", "RE", "AE", "IO") for i in range(10) for j in range(10)]
    assert _largest_share(station, field) < 0.04


def test_a_receiver_beside_the_station_is_seen_in_its_mark():
    figure = style.sheet(LOOK)
    axes = style.place(figure, 0, 0, 900, 900, projection=basemap.round_the_station(0.0, 50.0))
    dot = layers.station(axes, LOOK, areas.Site(0.0, 50.0))
    above = [each for each in axes.collections if each.get_zorder() > layers.Z_DOTS]
    assert dot.get_zorder() < layers.Z_DOTS
    assert all(each.get_facecolor().size == 0 for each in above)  # a ring and nothing in it


NAMES = ("$\\foo{$", "a" * 1000, "\u202ereversed", "漢字 عربي עברית हिन्दी", "x\ny", "<b>&amp;", "100 % $5 and $6")


@pytest.mark.parametrize(
    "names", [(*NAMES, "wire")[k : k + 2] for k in range(0, len(NAMES), 2)], ids=range(0, len(NAMES), 2)
)
def test_setups_may_be_called_anything(names):
    findings = factory.result(300, 20, setups=names)
    a, b = names
    compared = replace(findings, comparison=replace(factory.comparison(findings.receivers), a=a, b=b))
    for draw in (charts.timeline, charts.distance, charts.comparison_cells, versus.blocks, versus.receivers_map):
        figure = draw(compared, LOOK)
        style.png(figure)
        assert b"<svg" in style.svg(figure, a + b)
        assert not any("\u202e" in text.get_text() for text in audience.texts(figure))


NEAR = ("IO51es", [f"IO51{a}{b}" for a in "cdefg" for b in "qrstu"])  # within some 25 km


def test_where_all_is_near_bars_rows_and_rings_are_as_fine_as_that():
    findings = heard(*NEAR)
    far_km = findings.reach.headline.farthest.distance_km
    assert far_km < 30
    (axes,) = patterns.bands_distance(findings, LOOK).axes
    filled = [bar for bar in axes.patches if bar.get_height()]
    assert len(filled) >= 8 and max(bar.get_width() for bar in filled) <= 1.0
    rows = patterns.hour_by_distance(findings, LOOK).axes[0]
    assert len(rows.get_yticks()) >= 5
    doubling = patterns.distance_log(findings, LOOK).axes[0]
    assert len(doubling.patches) >= 4
    share, beyond_km = re.match(
        r"(\d+)\D+ of the reports came from beyond (\d+)", patterns.distance_log_title(findings)
    ).groups()
    counted = findings.spots.groupby("distance_km").size()
    assert int(share) == round(100 * counted[counted.index >= int(beyond_km)].sum() / counted.sum()) >= 50
    disc = areas.reach(findings, LOOK).axes[0]
    assert disc.get_xlim()[1] / 1000 < 25
    assert layers.ring_step_km(far_km) == 2.5


def test_the_only_ring_is_no_far_one():
    """Where nothing came from beyond the first ring, no hour is singled out for what came 'from beyond 0 km'."""
    findings = heard(*NEAR)
    claim = replace(findings.reach.claims[Kind.HOUR_OF_THE_FAR], reason=Reason.APART, winner=12)
    block = findings.reach.corroborated
    block = replace(block, claims={**block.claims, Kind.HOUR_OF_THE_FAR: claim})
    reach = replace(findings.reach, corroborated=block)
    assert "beyond" not in pictures.hour_of_the_far(replace(findings, reach=reach), PRINT)

"""One setup keeps its colour in every picture of a study, whatever its name and whichever others are on the picture."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex

from reach.draw import captions, charts, patterns, style, versus
from reach.tell import texts
from reach.tell.deck import outline
from reach.tell.deck import versus as deck_versus
from tests import factory

LOOK = style.theme("light")
PLAIN = factory.result()
FORWARD = factory.comparison(PLAIN.receivers)


def _compared(a: str, b: str):
    """Findings whose comparison has these two as A and B: `wire` before `vertical` is against the alphabet."""
    return replace(PLAIN, comparison=replace(FORWARD, a=a, b=b))


def _legend(figure) -> dict[str, str]:
    """Name and colour of every entry of a picture's legend."""
    legend = next(axes.get_legend() for axes in figure.axes if axes.get_legend() is not None)
    found = {}
    for handle, text in zip(legend.legend_handles, legend.get_texts(), strict=True):
        color = handle.get_facecolor() if hasattr(handle, "get_facecolor") else handle.get_color()
        found[text.get_text().removeprefix("on ")] = to_hex(color)
    return found


@pytest.mark.parametrize(("a", "b"), [("vertical", "wire"), ("wire", "vertical")])
def test_a_setup_has_one_colour_in_every_picture(a, b):
    findings = _compared(a, b)
    wanted = {a: to_hex(LOOK.setups[0]), b: to_hex(LOOK.setups[1])}
    for picture in (charts.timeline, patterns.reach_curve, versus.blocks):
        assert _legend(picture(findings, LOOK)) == wanted, picture.__name__
    medians = {
        text.get_text().split(":")[0].strip(): to_hex(text.get_color())
        for text in charts.distance(findings, LOOK).axes[0].texts
        if ": median" in text.get_text()
    }
    assert medians == wanted
    slide = outline.distances(findings, texts.speaker(), LOOK, findings.reach.headline)
    assert {series.name: to_hex(series.color) for series in slide.series} == wanted


def test_receivers_are_coloured_by_the_setup_that_was_stronger_there():
    findings = _compared("wire", "vertical")
    wire, vertical = (to_hex(LOOK.setups[k]) for k in (0, 1))
    for dots in charts.comparison_receivers(findings, LOOK).axes[0].collections:
        ((_, difference),) = dots.get_offsets()
        face = to_hex(dots.get_facecolor()[0])  # of a hollow one the edge has the colour
        assert (to_hex(dots.get_edgecolor()[0]) if face == LOOK.paper else face) == (
            wire if difference > 0 else vertical
        )


def test_a_picture_without_one_setup_leaves_the_others_their_colours():
    rows = PLAIN.tally.cells
    third = rows.assign(setup=pd.Categorical(np.where(np.arange(len(rows)) % 3, rows["setup"].astype(str), "beam")))
    findings = replace(_compared("wire", "vertical"), tally=replace(PLAIN.tally, cells=third))
    assert findings.setup_order == ("wire", "vertical", "beam")
    assert captions.setups(findings, third) == {"wire": 0, "vertical": 1, "beam": 2}
    only = third[(third["setup"] != "vertical").to_numpy()]
    assert captions.setups(findings, only) == {"wire": 0, "beam": 2}
    assert captions.setup_color(findings, LOOK, "beam") == LOOK.setups[2]


def test_stretches_on_a_slide_have_the_colours_of_the_pictures():
    findings = _compared("wire", "vertical")
    assert findings.comparison is not None
    chart = deck_versus._in_time_order(findings, findings.comparison, texts.speaker(), LOOK)
    assert chart is not None and [series.color for series in chart.series] == list(LOOK.setups[:2])

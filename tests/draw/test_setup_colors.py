"""One setup keeps its colour in every picture of a study, whatever its name and whichever others are on the picture."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_hex, to_rgb

from reach.draw import captions, charts, patterns, style, versus
from reach.tell import texts
from reach.tell.deck import outline
from reach.tell.deck import versus as deck_versus
from tests import factory
from tests.draw import audience

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


@pytest.mark.parametrize("look", ["light", "dark"])
def test_colour_means_one_thing_on_a_slide(look):
    """Beside the map whose colours are a sign, columns bear no colour of a setup, and are told apart by lightness."""
    theme = style.theme(look)
    chart = deck_versus._in_time_order(_compared("wire", "vertical").comparison, texts.speaker(), theme)
    assert chart is not None
    tones = [series.color for series in chart.series]
    assert len(tones) == 2 and not set(tones) & {*theme.setups, *theme.diverging, *theme.ramp}
    assert audience.contrast(*tones) >= 1.9
    assert min(audience.contrast(tone, theme.paper) for tone in tones) >= 3


# --- how far colours stand apart --------------------------------------------------------------------------------------

# Distances in OKLab, where 0.02 is about what can just be told apart side by side. Source: B. Ottosson (2020), A perceptual
# color space for image processing.
TOLD, TOLD_BY_ALL, NEIGHBOURS = 0.10, 0.09, 0.14


def _apart(one, other) -> float:
    a, b = (style.oklab(np.array(to_rgb(each))) for each in (one, other))
    return float(np.linalg.norm(a - b))


def _seen_apart(one, other) -> float:
    return _apart(audience.as_a_deuteranope_sees(one), audience.as_a_deuteranope_sees(other))


def test_the_measure_of_red_green_blindness_itself():
    """Grey stays grey; a red and a green of one lightness are nearly one colour, which blue and orange are not."""
    assert audience.as_a_deuteranope_sees("#808080") == pytest.approx((0.502, 0.502, 0.502), abs=0.002)
    assert _seen_apart("#c86464", "#828a5a") < 0.02 < 0.14 < _apart("#c86464", "#828a5a")
    assert _seen_apart("#174a70", "#ad5a00") > 0.2


@pytest.mark.parametrize("look", ["light", "dark"])
def test_eight_setups_are_told_apart_by_both_kinds_of_sight(look):
    colours = style.theme(look).setups
    for one, other in combinations(colours, 2):
        assert _apart(one, other) >= TOLD, (one, other)
        assert _seen_apart(one, other) >= TOLD_BY_ALL, (one, other)
    for other in (2, 4, 5):  # of the first: the one compared with it, and those that were once too like it
        assert _apart(colours[0], colours[other - 1]) >= NEIGHBOURS, other
        assert _seen_apart(colours[0], colours[other - 1]) >= NEIGHBOURS, other


@pytest.mark.parametrize("look", ["light", "dark"])
def test_setups_can_be_read_as_text_and_marks_stand_out(look):
    theme = style.theme(look)
    assert min(audience.contrast(colour, theme.paper) for colour in theme.setups) >= 4.5
    for words in (theme.ink, theme.muted):
        assert min(audience.contrast(words, ground) for ground in (theme.paper, theme.sea, theme.land)) >= 4.5
    for stops in (theme.ramp, theme.counts):
        shades = style.ramp(stops)(np.arange(256))[:, :3]
        for ground in (theme.paper, theme.sea, theme.land):
            assert min(audience.contrast(shade, ground) for shade in shades) >= 3, (stops[0], ground)

"""Rows of bars below each other: their names keep apart, and the label of a median lies on no bar."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest
from matplotlib.text import Text

from reach.draw import charts, patterns, style
from tests.conftest import SAMPLES
from tests.draw import audience

LOOK = style.theme("light")


@pytest.mark.parametrize("sample", ["evening", "weekend", "messy"])
def test_a_median_s_label_touches_no_bar_and_names_stay_on_the_page(walks: dict[str, Any], sample: str) -> None:
    figure = patterns.bands_distance(walks[sample].findings, LOOK)
    figure.canvas.draw()
    for axes in figure.axes:
        (label,) = (each for each in axes.texts if each.get_text().strip().startswith("median"))
        box = label.get_window_extent()
        for bar in axes.patches:
            bar_box = bar.get_window_extent()
            assert not (bar_box.x0 < box.x1 and box.x0 < bar_box.x1 and bar_box.y1 > box.y0), label.get_text()
    for text in figure.findobj(Text):
        if text.get_text().endswith("reports"):
            assert text.get_window_extent().x0 >= style.MARGIN_PX - 1


def test_twenty_eight_differences_of_eight_setups_keep_apart() -> None:
    from reach.walk import walk

    found = walk(SAMPLES / "garden.toml").findings
    assert found.several is not None
    known = found.several.differences
    names = [f"setup number {k}" for k in range(8)]
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    many = tuple(replace(known[k % 3], upper=a, lower=b) for k, (a, b) in enumerate(pairs))
    figure = charts.several(replace(found, several=replace(found.several, differences=many)), LOOK)
    seen = audience.look_at(figure)
    assert (seen.overlaps, seen.cut) == ((), ())
    labels = [label.get_text() for axes in figure.axes for label in axes.get_yticklabels()]
    assert labels == [f"{a} minus {b}" for a, b in pairs]
    left, right = (SimpleNamespace(axes=axes, box=axes.get_window_extent()) for axes in figure.axes)
    assert all(label.get_window_extent().x0 > left.box.x1 for label in right.axes.get_yticklabels())


def test_rows_of_a_comparison_have_more_room_than_their_names_are_high(walks: dict[str, Any]) -> None:
    axes = charts.comparison_cells(walks["evening"].findings, LOOK).axes[0]
    axes.figure.canvas.draw()
    boxes = [label.get_window_extent() for label in axes.get_yticklabels()]
    assert all(upper.y0 >= lower.y1 - 1 for upper, lower in zip(boxes, boxes[1:], strict=False))

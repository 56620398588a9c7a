"""What the audience of a picture sees: nothing over something else, nothing cut, nothing too faint."""

from __future__ import annotations

import pytest

from reach.draw import gallery, style
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

"""What an audience sees of a picture, by its artists: how large type is, what lies on what, what the frame cuts, how far
colours stand apart.

`python -m tests.draw.audience [--list]` prints the figures for every picture of every sample, in both styles.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from unittest import mock

import numpy as np
import numpy.typing as npt
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Annotation, Text

from reach.draw import style
from reach.tell.deck import model

SAMPLES = ("evening", "weekend", "messy", "listening", "shared")
STYLES = ("light", "dark")
TOUCH_PX = 2  # boxes of type hold some air

# Red-green blindness at its fullest, on linear sRGB. Source: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes (2009), A
# physiologically-based model for simulation of color vision deficiency, IEEE Trans. Vis. Comput. Graph. 15(6), table of
# severity 1.0: deuteranomaly.
DEUTERANOPE = np.array(
    [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
)


@dataclass(frozen=True)
class Seen:
    """The figures of one picture. Pieces of text are named by what they say."""

    smallest_px: float  # type, on a picture 1920 px wide
    faintest: float  # contrast of the faintest text, 1..21
    faint: tuple[str, ...]  # text below 4.5
    overlaps: tuple[tuple[str, str], ...]
    cut: tuple[str, ...]  # text that the picture's edge cuts


def luminance(color: Any) -> float:
    """Relative luminance of a colour, 0..1. Source: W3C (2023), Web Content Accessibility Guidelines 2.2, definition."""
    rgb = np.array(to_rgb(color))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(one: Any, other: Any) -> float:
    """How far two colours stand apart, 1..21. Source: as for `luminance`."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def as_a_deuteranope_sees(color: Any) -> tuple[float, float, float]:
    """The colour without a difference of red and green."""
    rgb = np.array(to_rgb(color))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    seen = np.clip(DEUTERANOPE @ linear, 0, 1)
    red, green, blue = np.where(seen <= 0.0031308, seen * 12.92, 1.055 * seen ** (1 / 2.4) - 0.055)
    return float(red), float(green), float(blue)


def texts(figure: Figure) -> list[Text]:
    """Every piece of text that is seen, in a picture that has been drawn."""
    spare = {id(label) for axes in figure.axes for axis in (axes.xaxis, axes.yaxis) for label in _not_drawn(axis)}
    return [
        each
        for each in figure.findobj(Text)
        if each.get_visible() and each.get_text().strip() and id(each) not in spare and _within(each)
    ]


def _not_drawn(axis: Any) -> list[Text]:
    """Labels of ticks that are artists but beyond the limits, or kept for later."""
    drawn = {id(tick) for tick in axis._update_ticks()} if axis.get_visible() and axis.axes.axison else set()
    ticks = (*axis.majorTicks, *axis.minorTicks)
    return [label for tick in ticks if id(tick) not in drawn for label in (tick.label1, tick.label2)]


def _within(text: Text) -> bool:
    """Whether a text that its axes cut lies inside them."""
    axes = text.axes
    if _uncut(text) or axes is None:
        return True
    box = text.get_window_extent(text.figure.canvas.get_renderer())  # type: ignore[union-attr]
    frame = axes.get_window_extent()
    middle = ((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2)
    return bool(frame.x0 <= middle[0] <= frame.x1 and frame.y0 <= middle[1] <= frame.y1)


def _uncut(text: Text) -> bool:
    """Whether nothing cuts a text."""
    return text.get_clip_box() is None and text.get_clip_path() is None


def look_at(figure: Figure) -> Seen:
    """Draw a picture and measure it."""
    behind = _without_text(figure)
    found, boxes, overlaps, cut = _lying(figure)
    sizes = [float(text.get_fontsize()) * figure.dpi / 72 for text in found]
    apart = list(_contrasts(figure, behind, found, boxes))
    faint = tuple(text.get_text() for text, ratio in zip(found, apart, strict=True) if ratio < 4.5)
    return Seen(min(sizes), min(apart), faint, overlaps, cut)


def on_a_slide(look: style.Theme, picture: model.Picture, box: model.Box) -> Figure:
    """A picture as a slide has it at its place, before it is enlarged."""
    width, height = round(box.width / model.ENLARGED), round(box.height / model.ENLARGED)
    figure = style.sheet(look, width, height)
    picture.draw(figure, look, x=0, y=0, width=width, height=height)
    return figure


def lying(figure: Figure) -> tuple[list[Text], tuple[tuple[str, str], ...], tuple[str, ...]]:
    """How text lies, for which no pixel is needed: every piece of it, which two overlap, which the picture's edge cuts."""
    figure.draw_without_rendering()
    found, _, overlaps, cut = _lying(figure)
    return found, overlaps, cut


def _lying(
    figure: Figure,
) -> tuple[list[Text], npt.NDArray[np.float64], tuple[tuple[str, str], ...], tuple[str, ...]]:
    """The same of a picture that has been laid out, with left, low, right and high edge of each text [px]."""
    found = texts(figure)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = np.array([text.get_window_extent(renderer).extents for text in found]).reshape(-1, 4)
    low, high = boxes[:, :2] + TOUCH_PX, boxes[:, 2:] - TOUCH_PX
    meet = ((low[:, None] < high) & (low < high[:, None])).all(axis=-1)
    overlaps = tuple((found[k].get_text(), found[n].get_text()) for k, n in np.argwhere(np.triu(meet, 1)))
    is_cut = ((low < 0) | (high > figure.get_size_inches() * figure.dpi)).any(axis=1)
    return found, boxes, overlaps, tuple(found[k].get_text() for k in np.flatnonzero(is_cut))


def _without_text(figure: Figure) -> npt.NDArray[np.uint8]:
    """The picture laid out and drawn but for its text: red, green and blue of each pixel, 0..255."""

    def passed_over(text: Text, renderer: Any) -> None:
        if isinstance(text, Annotation):
            text.update_positions(renderer)

    canvas = figure.canvas
    assert isinstance(canvas, FigureCanvasAgg)
    with mock.patch.object(Text, "draw", passed_over), mock.patch.object(Annotation, "draw", passed_over):
        canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3]


def _contrasts(
    figure: Figure, behind: npt.NDArray[np.uint8], found: list[Text], boxes: npt.NDArray[np.float64]
) -> Iterator[float]:
    """Of each text against what lies behind it."""
    high = behind.shape[0]
    for text, (left, low, right, top) in zip(found, boxes, strict=True):
        rows = slice(max(int(high - top), 0), max(int(high - low), 1))
        part = behind[rows, max(int(left), 0) : max(int(right), 1)].reshape(-1, 3)
        # A letter lies over the coast here and over a ring there; what most of it lies on is what counts.
        ground = np.median(part / 255, axis=0) if len(part) else np.array(to_rgb(figure.get_facecolor()))
        for effect in text.get_path_effects():
            ground = 0.15 * ground + 0.85 * np.array(to_rgb(effect._gc["foreground"]))  # its halo
        color = np.array(to_rgb(text.get_color()))
        alpha = 1.0 if text.get_alpha() is None else float(text.get_alpha() or 0)
        yield contrast(tuple(color * alpha + ground * (1 - alpha)), tuple(ground))


def main() -> None:
    from reach import study
    from reach.cli.demo import samples_folder
    from reach.draw import gallery
    from reach.walk import Walk

    for sample in SAMPLES:
        findings = Walk(study.load(samples_folder() / f"{sample}.toml")).findings
        for look in STYLES:
            sums = np.zeros(3, int)
            smallest, faintest = np.inf, np.inf
            for picture in gallery.pictures(findings, style=look):
                seen = look_at(picture.build())
                counts = [len(seen.overlaps), len(seen.cut), len(seen.faint)]
                sums += counts
                smallest, faintest = min(smallest, seen.smallest_px), min(faintest, seen.faintest)
                print(f"{sample:10} {look:6} {picture.name:22} smallest {seen.smallest_px:4.1f} px  faintest "
                      f"{seen.faintest:4.1f}  overlaps {counts[0]:3}  cut {counts[1]:3}  faint {counts[2]:3}")  # fmt: skip
                if "--list" in sys.argv:
                    for kind in ("overlaps", "cut", "faint"):
                        if getattr(seen, kind):
                            print("    ", kind, getattr(seen, kind)[:8])
            print(f"{sample:10} {look:6} {'ALL':22} smallest {smallest:4.1f} px  faintest {faintest:4.1f}  overlaps "
                  f"{sums[0]:3}  cut {sums[1]:3}  faint {sums[2]:3}\n")  # fmt: skip


if __name__ == "__main__":
    main()

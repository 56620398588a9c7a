"""How everything drawn looks: colours, type, sizes. Change it here and every picture follows.

A picture is 1920 x 1080 px. Places on it are in pixels from the top left corner, as a layout is thought of; sizes of
type are in pixels too, none below 28. Nothing here touches matplotlib's global settings or pyplot.

Colour carries one thing at a time: a setup, or a sign, or a number. SNR and counts each have a ramp of their own,
even to the eye (equal steps in OKLab), whose lightness only rises or only falls, so it survives a grey print and
red-green blindness. Setups use colours that stand apart in either sight, dark enough for text on paper, and always a
shape, a line style or a label besides.
"""

from __future__ import annotations

import base64
import contextlib
import io
import re
import struct
import threading
import zlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, Literal
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import numpy.typing as npt

from reach.base.words import number
from reach.draw import scripts
from reach.draw.scripts import FAMILY as FAMILY
from reach.draw.scripts import FONT_FILES
from reach.errors import DrawError

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.colors import Colormap, Normalize
    from matplotlib.figure import Figure
    from matplotlib.text import Text

WIDTH_PX, HEIGHT_PX, DPI = 1920, 1080, 120
MARGIN_PX = 64

# Sizes of type [px].
TITLE, SUBTITLE, LABEL, TICK, NOTE = 50, 31, 30, 28, 28

REGULAR, BOLD = 400, 600


@dataclass(frozen=True)
class Theme:
    """One style: every colour that a picture uses."""

    name: str
    paper: str  # behind everything
    sea: str  # behind a map
    land: str
    coast: str
    border: str
    ink: str  # titles, labels
    muted: str  # subtitles, notes, ticks
    hair: str  # grid lines, frames
    ring: str  # distance rings and bearing ticks on a map
    plain: str  # bars and dots that stand for everything at once
    night: str
    setups: tuple[str, ...]  # the first two are A and B of a comparison
    ramp: tuple[str, ...]  # SNR, weak to strong; the weakest is 3:1 against land and sea, for it is from farthest away
    counts: tuple[str, ...]  # few to many
    far: tuple[str, ...]  # near to far
    diverging: tuple[str, ...]  # B stronger, no difference, A stronger


LIGHT = Theme(
    name="light",
    paper="#f8f7f3",
    sea="#edf0ef",
    land="#d9d8d1",
    coast="#b3b2aa",
    border="#c8c7bf",
    ink="#1c2830",
    muted="#505d66",
    hair="#d3d6d3",
    ring="#8b979d",
    plain="#4d6b7c",
    night="#24364a",
    setups=("#174a70", "#ad5a00", "#6647ff", "#a64b97", "#2e5919", "#3636bf", "#805a53", "#7956bf"),
    ramp=("#857717", "#3f7a55", "#1f6a7d", "#22538a", "#22295f"),
    counts=("#5f7887", "#3a5160", "#12222d"),
    far=("#a0708f", "#6d3c69", "#31133a"),
    diverging=("#a4520a", "#dd9440", "#e9e7e1", "#6a9cc0", "#14406a"),
)
DARK = Theme(
    name="dark",
    paper="#11181e",
    sea="#17212a",
    land="#2b3741",
    coast="#4b5b67",
    border="#3a4853",
    ink="#eaeff1",
    muted="#a3b2bb",
    hair="#2d3a44",
    ring="#6f8391",
    plain="#8fb3c6",
    night="#04070b",
    setups=("#7fc1e8", "#d9892f", "#7373ff", "#3f8c8c", "#ffb5a6", "#8da695", "#6b8c27", "#c562d9"),
    ramp=("#7d86d8", "#4fa3b8", "#5cbf9d", "#b0d488", "#f4ecae"),
    counts=("#6a8da1", "#a4c1d0", "#e8f3f9"),
    far=("#96719f", "#c7a0cf", "#f5e5f8"),
    diverging=("#f0a04a", "#a2652a", "#39434b", "#4585ae", "#9ad4f7"),
)
THEMES = {"light": LIGHT, "dark": DARK}


def theme(name: str) -> Theme:
    """The style of that name. DrawError where there is none."""
    if name not in THEMES:
        raise DrawError(f"There is no style {name!r}; there are {' and '.join(map(repr, THEMES))}.")
    return THEMES[name]


# --- colour ---------------------------------------------------------------------------------------------------------

# Source of both matrices: B. Ottosson (2020), A perceptual color space for image processing (OKLab).
_TO_CONE = np.array(
    [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566],
     [0.0883024619, 0.2817188376, 0.6299787005]]
)  # fmt: skip
_TO_LAB = np.array(
    [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
     [0.0259040371, 0.7827717662, -0.8086757660]]
)  # fmt: skip


def oklab(rgb: np.ndarray) -> np.ndarray:
    """sRGB, shape (..., 3), 0..1 -> OKLab (lightness 0..1, green-red, blue-yellow), same shape."""
    rgb = np.asarray(rgb, float)
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return np.cbrt(linear @ _TO_CONE.T) @ _TO_LAB.T


def from_oklab(lab: np.ndarray) -> np.ndarray:
    """OKLab -> sRGB, cut to 0..1."""
    linear = (np.asarray(lab, float) @ np.linalg.inv(_TO_LAB).T) ** 3 @ np.linalg.inv(_TO_CONE).T
    linear = np.clip(linear, 0, 1)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)


@cache
def ramp(stops: tuple[str, ...], steps: int = 256) -> Colormap:
    """A colour map through the stops whose neighbouring colours are equally far apart to the eye.

    stops : two or more colours, hexadecimal
    """
    from matplotlib.colors import ListedColormap, to_rgb

    corners = oklab(np.array([to_rgb(stop) for stop in stops]))
    fine = np.linspace(0, len(stops) - 1, 2049)
    lab = np.stack([np.interp(fine, np.arange(len(stops)), corners[:, axis]) for axis in range(3)], -1)
    walked = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(lab, axis=0), axis=1))])
    even = np.linspace(0, walked[-1], steps)
    return ListedColormap(from_oklab(np.stack([np.interp(even, walked, lab[:, axis]) for axis in range(3)], -1)))


@cache
def diverging(stops: tuple[str, ...], steps: int = 257) -> Colormap:
    """A colour map whose middle colour is the middle stop; each half is even by itself.

    stops : an odd number of colours, three or more
    """
    from matplotlib.colors import ListedColormap

    middle = len(stops) // 2
    low = ramp(stops[: middle + 1], steps // 2 + 1)(np.arange(steps // 2 + 1))
    high = ramp(stops[middle:], steps // 2 + 1)(np.arange(steps // 2 + 1))
    return ListedColormap(np.concatenate([low, high[1:]])[:, :3])


def ink_on(color: Any) -> str:
    """Black or white, whichever stands out more from a colour: 4.5:1 or more on any. Source: W3C (2023), Web Content
    Accessibility Guidelines 2.2, relative luminance."""
    from matplotlib.colors import to_rgb

    rgb = np.array(to_rgb(color))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return "#000000" if float(linear @ [0.2126, 0.7152, 0.0722]) > 0.179 else "#ffffff"


# --- type -----------------------------------------------------------------------------------------------------------


def drawable(words: str) -> str:
    """The text as it can be drawn: a lozenge for what no typeface has, from left to right whatever is in it."""
    return scripts.left_to_right(scripts.known(words))


def points(px: float) -> float:
    """Pixels of a picture -> points of type and of line width."""
    return px * 72 / DPI


def font(px: float, color: str, *, weight: int = REGULAR, words: str = "") -> dict[str, Any]:
    """The keywords of a piece of text. Dollar signs are dollar signs, not mathematics.

    words : the text, where it may hold characters that the bundled typefaces lack
    """
    scripts.bundled()
    return {
        "family": scripts.families(words),
        "size": points(px),
        "color": color,
        "weight": weight,
        "parse_math": False,
    }


def text(on: Axes | Figure, x: float, y: float, words: str, *, px: float, color: str, weight: int = REGULAR,
         **more: Any) -> Text:  # fmt: skip
    """Text on axes (data coordinates unless `transform` says otherwise) or on a figure (fractions)."""
    words = drawable(words)
    return on.text(x, y, words, **font(px, color, weight=weight, words=words), **more)


def width_px(words: str, px: float, weight: int = REGULAR) -> float:
    """How wide a line of text is on a picture [px]."""
    from matplotlib import rcParams

    return _width_px(drawable(words.replace("\n", " ")), px, weight, rcParams["text.hinting"])


@lru_cache(maxsize=8192)  # pictures of one study share most of their small print
def _width_px(words: str, px: float, weight: int, hinting: str) -> float:
    """Letters that are fitted to pixels have another width: what was measured with one setting is not believed under another."""
    width, _, _ = _ruler().get_text_width_height_descent(
        words, _properties(px, weight, tuple(scripts.families(words))), ismath=False
    )
    return float(width)


@cache
def _ruler() -> Any:
    """What measures text: a drawing surface of the pictures' resolution on which nothing is drawn."""
    from matplotlib.backends.backend_agg import RendererAgg

    return RendererAgg(1, 1, DPI)


@cache
def _properties(px: float, weight: int, families: tuple[str, ...]) -> Any:
    from matplotlib.font_manager import FontProperties

    return FontProperties(family=list(families), size=points(px), weight=weight)


def wrapped(words: str, px: float, room_px: float, weight: int = REGULAR) -> list[str]:
    """The text broken into lines that fit. A single word that is too long is cut with an ellipsis."""
    lines: list[str] = []
    left, joint = scripts.pieces(words.replace("\n", " "))
    while left:
        count = _words_that_fit(left, joint, px, room_px, weight)
        line = joint.join(left[:count])
        if count == 1 and width_px(line, px, weight) > room_px:
            line = _cut(line, px, room_px, weight)
        lines.append(line)
        left = left[count:]
    return lines


def _cut(word: str, px: float, room_px: float, weight: int) -> str:
    """As much of a word as fits with an ellipsis, at least its first letter; halved in on, as one may be very long."""
    fits, too_many = 1, len(word)
    while too_many - fits > 1:
        tried = (fits + too_many) // 2
        if width_px(word[:tried] + "…", px, weight) <= room_px:
            fits = tried
        else:
            too_many = tried
    return word[:fits] + "…"


def _words_that_fit(left: list[str], joint: str, px: float, room_px: float, weight: int) -> int:
    """How many of the words stand on one line, at least one. Measuring costs more than all else in a layout, so the place
    is halved in on instead of trying one word more each time; a line never gets narrower by a word more."""
    fits, too_many = 1, len(left) + 1
    tried = len(left)  # mostly all of it fits
    while too_many - fits > 1:
        if width_px(joint.join(left[:tried]), px, weight) <= room_px:
            fits = tried
        else:
            too_many = tried
        tried = (fits + too_many) // 2
    return fits


# --- layout ---------------------------------------------------------------------------------------------------------


def sheet(look: Theme, width: int = WIDTH_PX, height: int = HEIGHT_PX) -> Figure:
    """An empty picture [px], on paper of the style, with its own canvas."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    scripts.bundled()
    figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor=look.paper)
    FigureCanvasAgg(figure)
    return figure


def size_px(figure: Figure) -> tuple[float, float]:
    """Width and height of a figure [px]."""
    width, height = figure.get_size_inches() * DPI
    return float(width), float(height)


def place(figure: Figure, x: float, y: float, width: float, height: float, **more: Any) -> Axes:
    """Axes at a place [px from the top left corner]."""
    full_width, full_height = size_px(figure)
    rect = (x / full_width, 1 - (y + height) / full_height, width / full_width, height / full_height)
    return figure.add_axes(rect, **more)


def write(figure: Figure, x: float, y: float, words: str, *, px: float, color: str, weight: int = REGULAR,
          ha: str = "left", va: str = "top", **more: Any) -> Text:  # fmt: skip
    """Text at a place [px from the top left corner]; (x, y) is the top left corner of the text unless said otherwise."""
    width, height = size_px(figure)
    return text(figure, x / width, 1 - y / height, words, px=px, color=color, weight=weight, ha=ha, va=va, **more)


def paragraph(figure: Figure, x: float, y: float, words: str, *, px: float, color: str, room: float,
              weight: int = REGULAR, leading: float = 1.32) -> float:  # fmt: skip
    """Text broken to fit `room` [px], line under line. Returns where the next thing may start [px from the top]."""
    for line in wrapped(words, px, room, weight):
        write(figure, x, y, line, px=px, color=color, weight=weight)
        y += px * leading
    return y


@dataclass(frozen=True)
class Words:
    """What is written around a picture: a title that says the finding, the circumstances, cautions at the foot."""

    title: str
    subtitle: str = ""
    notes: tuple[str, ...] = ()
    signature: str = ""  # whose signal, at the foot on the right


def headline(figure: Figure, look: Theme, words: Words, *, x: float = MARGIN_PX, y: float = 46,
             room: float = WIDTH_PX - 2 * MARGIN_PX, px: float = TITLE) -> float:  # fmt: skip
    """Title and subtitle. Returns where the picture may start [px from the top]."""
    figure.suptitle("", alpha=0)  # nothing else may claim the figure's title
    if len(wrapped(words.title, px, room, BOLD)) > 2:
        px *= 0.85
    y = paragraph(figure, x, y, words.title, px=px, color=look.ink, room=room, weight=BOLD, leading=1.16)
    y += 6
    if words.subtitle:
        y = paragraph(figure, x, y, words.subtitle, px=SUBTITLE, color=look.muted, room=room)
    return y


def footer(figure: Figure, look: Theme, words: Words, *, x: float = MARGIN_PX, room: float | None = None) -> float:
    """Notes at the foot on the left, whose signal on the right. Returns where they start [px from the top]."""
    width, height = size_px(figure)
    signature_px = 0.0
    if words.signature:
        write(
            figure, width - MARGIN_PX, height - 30, words.signature, px=NOTE, color=look.muted, ha="right", va="bottom"
        )
        signature_px = width_px(words.signature, NOTE) + 40
    room = width - x - MARGIN_PX - signature_px if room is None else room
    lines = [line for note in words.notes for line in wrapped(note, NOTE, room)]
    for count, line in zip(reversed(range(len(lines))), lines, strict=True):  # from the first on: so it is read aloud
        write(figure, x, height - 30 - count * NOTE * 1.32, line, px=NOTE, color=look.muted, va="bottom")
    return height - 30 - max(len(lines), 1) * NOTE * 1.32 - 8


def tidy(axes: Axes, look: Theme, *, grid: Literal["x", "y", "both", ""] = "y") -> None:
    """Plain axes: no box, quiet grid behind the data, readable ticks."""
    axes.set_facecolor("none")
    for side, spine in axes.spines.items():
        spine.set_visible(side == "bottom")
        spine.set_color(look.ring)
        spine.set_linewidth(points(1.6))
    axes.tick_params(length=0, pad=8, colors=look.muted, labelsize=points(TICK), labelfontfamily=FAMILY)
    axes.tick_params(axis="x", which="major", length=points(8), color=look.ring, width=points(1.6))
    axes.tick_params(which="minor", length=0)
    axes.set_axisbelow(True)
    axes.grid(False)  # of a call before
    if grid:
        axes.grid(True, axis=grid, color=look.hair, linewidth=points(1.6))


def whole(axis: Any) -> None:
    """Ticks at whole numbers only, for an axis whose labels are whole: else a short one reads 12, 12, 12."""
    from matplotlib.ticker import MaxNLocator

    axis.set_major_locator(MaxNLocator("auto", steps=[1, 2, 2.5, 5, 10], integer=True, min_n_ticks=1))


def name_axes(axes: Axes, look: Theme, x: str = "", y: str = "") -> None:
    """What the axes are: x below at the right end, y above at the left end, both upright."""
    if x:
        axes.set_xlabel(drawable(x), loc="right", labelpad=8, **font(LABEL, look.ink, words=drawable(x)))
    if y:
        text(axes, 0, 1, y, px=LABEL, color=look.ink, transform=axes.transAxes, ha="left", va="bottom")


def name_ticks(axes: Axes, at: npt.ArrayLike, names: Sequence[str]) -> None:
    """What stands beside lying bars, setups' names among it."""
    shown = [drawable(name) for name in names]
    axes.set_yticks(np.asarray(at, float), shown, parse_math=False)
    letters(axes.get_yticklabels())


def letters(labels: Iterable[Text]) -> None:
    """Give each label the typefaces that its letters need."""
    for label in labels:
        label.set_fontfamily(scripts.families(label.get_text()))


def name_rows(axes: Axes, look: Theme, what: str) -> None:
    """What the rows of a table or of lying bars are: above their names, left of the axes."""
    text(axes, -0.005, 1.015, what, px=LABEL, color=look.ink, transform=axes.transAxes, ha="right", va="bottom")


def bar(figure: Figure, look: Theme, colours: Colormap, norm: Normalize, label: str, *, x: float, y: float,
        length: float, ticks: Sequence[float], names: Sequence[str] | None = None, thickness: float = 18) -> Axes:  # fmt: skip
    """A labelled bar that says what the colours mean, lying flat at a place [px]."""
    write(figure, x, y, label, px=TICK, color=look.ink)
    axes = place(figure, x, y + 34, length, thickness)
    draw_bar(axes, look, colours, norm, ticks, names)
    return axes


def draw_bar(axes: Axes, look: Theme, colours: Colormap, norm: Normalize, ticks: Sequence[float],
             names: Sequence[str] | None = None) -> None:  # fmt: skip
    """Such a bar filling the axes. ticks : in the numbers of `norm`; names : what stands below them"""
    axes.imshow(np.linspace(0, 1, 256)[None], cmap=colours, aspect="auto", extent=(0, 1, 0, 1), vmin=0, vmax=1)
    axes.set_yticks([])
    axes.set_xticks([float(norm(tick)) for tick in ticks])
    axes.set_xticklabels(names or [number(tick, 0) for tick in ticks])
    axes.tick_params(length=points(6), pad=4, colors=look.muted, labelsize=points(NOTE), labelfontfamily=FAMILY)
    for spine in axes.spines.values():
        spine.set_visible(False)


def halo(look: Theme, px: float = 6) -> list[Any]:
    """What keeps a label readable over lines. px : how wide"""
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=points(px), foreground=look.sea, alpha=0.85)]


# --- files ----------------------------------------------------------------------------------------------------------

_SAVING = threading.Lock()  # the settings that make an SVG repeatable are global to matplotlib
_COMPRESSION = 2  # of 9: beyond, files hardly get smaller
MANY_MARKS = 2000  # beyond which marks are one image inside the SVG: each for itself it would open in no program


@contextlib.contextmanager
def own_settings() -> Iterator[None]:
    """Pictures are the same whatever matplotlibrc lies in the folder or at home; afterwards the user's settings are back, for
    who draws onto axes of their own keeps them."""
    import matplotlib as mpl

    plain = {
        name: value for name, value in mpl.rcParamsDefault.items() if not name.startswith(("backend", "interactive"))
    }
    # Letters are large: fitting them to the pixels changes nothing that one sees and takes a third of the time of a text.
    with mpl.rc_context({**plain, "text.hinting": "no_hinting"}):
        yield


def png(figure: Figure, scale: float = 1.0) -> bytes:
    """The picture as PNG, the same bytes for the same picture. scale 2 : twice as many pixels each way."""
    from PIL import Image

    canvas = figure.canvas
    figure.dpi = DPI * scale
    try:
        canvas.draw()
        # Paper is opaque, so nothing shows through and three channels say it all. Pillow drops the fourth four times as fast
        # as an array that is copied with gaps.
        drawn = Image.frombuffer("RGBA", canvas.get_width_height(), canvas.buffer_rgba())  # type: ignore[attr-defined]
        return _packed(np.asarray(drawn.convert("RGB")), DPI * scale)
    finally:
        figure.dpi = DPI


def _packed(pixels: npt.NDArray[np.uint8], dpi: float) -> bytes:
    """Pixels as PNG (ISO/IEC 15948), its rows unfiltered.

    Libraries choose a filter for each row, which serves photographs. Pictures of even areas and thin lines are smaller without,
    by a tenth, and written in half the time, and there are some twenty of them a report.
    """
    height, width, _ = pixels.shape
    rows = np.zeros((height, 1 + 3 * width), np.uint8)  # each begins with its filter: none
    rows[:, 1:] = pixels.reshape(height, -1)
    per_metre = round(dpi / 0.0254)
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)),
        (b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)),
        (b"IDAT", zlib.compress(rows.tobytes(), _COMPRESSION)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in chunks
    )


def svg(figure: Figure, title: str = "") -> bytes:
    """The picture as SVG, the same bytes for the same picture. Text stays text, to be selected, searched and read aloud, and
    the typeface travels with it, so that it looks the same everywhere.

    title : what the picture says, for those who cannot see it
    """
    import matplotlib as mpl

    out = io.BytesIO()
    with _as_they_are(figure), _SAVING, mpl.rc_context({"svg.hashsalt": "reach", "svg.fonttype": "none"}):
        figure.savefig(out, format="svg", dpi=_svg_dpi(figure), metadata={"Date": None, "Creator": None})
    drawn = _NOT_XML.sub(b"", out.getvalue())  # a control character in a name would leave no program able to open it
    start = drawn.index(b"<svg ")
    body = drawn.index(b">", start) + 1
    told = f' role="img" aria-label={quoteattr(title)}>\n <title>{escape(title)}</title>' if title else ' role="img">'
    return b"".join([drawn[: body - 1], told.encode(), typefaces(), drawn[body:]])


@contextlib.contextmanager
def _as_they_are(figure: Figure) -> Iterator[None]:
    """Have images go into an SVG with the pixels that they have, for the program that shows it to scale: there is nothing more
    to see in them, and blown up beforehand each takes a tenth of a second and half a megabyte."""
    scaled = [(image, image.get_interpolation()) for axes in figure.axes for image in axes.images]
    for image, _ in scaled:
        image.set_interpolation("none")
    try:
        yield
    finally:
        for image, how in scaled:
            image.set_interpolation(how)


_NOT_XML: Final = re.compile(rb"[\x00-\x08\x0b\x0c\x0e-\x1f]")


@cache
def typefaces() -> bytes:
    """The style element that brings our typeface along in an SVG."""
    faces = [
        f"@font-face{{font-family:'{FAMILY[0]}';font-weight:{weight};src:url(data:font/woff;base64,{_woff(name)})}}"
        for weight, name in zip((REGULAR, BOLD), FONT_FILES, strict=True)
    ]
    return f"\n <style>{''.join(faces)}text{{white-space:pre}}</style>".encode()


def _woff(name: str) -> str:
    """A bundled typeface as WOFF in base64, its tables as they are, the same bytes each time."""
    from fontTools.ttLib import TTFont

    packed, content = io.BytesIO(), io.BytesIO(files("reach.data").joinpath(name).read_bytes())
    with TTFont(content, lazy=True, recalcTimestamp=False, recalcBBoxes=False) as font:
        font.flavor = "woff"
        font.save(packed, reorderTables=None)
    return base64.b64encode(packed.getvalue()).decode("ascii")


def _svg_dpi(figure: Figure) -> float:
    """Resolution of images inside an SVG: twice that of the PNG where marks are among them, so that they stay sharp on a
    larger screen."""
    many = any(marks.get_rasterized() for axes in figure.axes for marks in axes.collections)
    return 2 * DPI if many else DPI


def as_one_image_if_many(marks: Artist, count: int) -> None:
    """Have marks drawn as one image inside an SVG where they are more than MANY_MARKS; a PNG is not changed."""
    marks.set_rasterized(count > MANY_MARKS)

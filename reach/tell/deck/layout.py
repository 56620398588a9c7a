"""Where things are on a slide, and how large: the same for the slides and for their PDF.

A slide is 1920 x 1080 px; sizes of type are in px as well (two px are one point of a 13.33 inch slide).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

WIDTH_PX, HEIGHT_PX = 1920, 1080


@dataclass(frozen=True)
class Box:
    """A place on a slide, px from the top left corner."""

    x: float
    y: float
    width: float
    height: float


MARGIN: Final = 96
ROOM: Final = WIDTH_PX - 2 * MARGIN
TITLE: Final = Box(MARGIN, 60, ROOM, 132)
FOOT: Final = Box(MARGIN, 1004, 1500, 40)
NUMBER: Final = Box(WIDTH_PX - MARGIN - 160, 1004, 160, 40)
BIG_TITLE: Final = Box(MARGIN, 210, 1340, 290)
# Circles round one point, decoration of the first slide.
OPENING_RINGS: Final = tuple(Box(1700 - r, 240 - r, 2 * r, 2 * r) for r in (70, 140, 210))

_TOP, _HIGH = 226, 740
_WHOLE: Final = Box(MARGIN, _TOP, ROOM, _HIGH)
_QUARTERS: Final = tuple(Box(MARGIN + 884 * (k % 2), 216 + 328 * (k // 2), 844, 314) for k in range(4))

# Kind of slide -> the places of its texts, and of its table, chart or map; of a second one below the text.
TEXTS: Final[dict[str, tuple[Box, ...]]] = {
    "opening": (Box(MARGIN, 520, 1300, 400),),
    "over": (Box(MARGIN, 770, ROOM, 200),),
    "beside": (Box(MARGIN, _TOP, 760, _HIGH),),
    "wide": (Box(1290, _TOP, WIDTH_PX - MARGIN - 1290, _HIGH),),
    "pair": (Box(MARGIN, _TOP, 760, 250),),
    "quarters": (*_QUARTERS, Box(MARGIN, 880, ROOM, 96)),
    "text": (_WHOLE,),
}
EXHIBITS: Final[dict[str, Box]] = {
    "over": Box(MARGIN, _TOP, ROOM, 520),
    "beside": Box(904, _TOP, WIDTH_PX - MARGIN - 904, _HIGH),
    "wide": Box(MARGIN, _TOP, 1150, _HIGH),
    "pair": Box(904, _TOP, WIDTH_PX - MARGIN - 904, _HIGH),
}
SECOND: Final[dict[str, Box]] = {"pair": Box(MARGIN, 486, 760, 480)}

TITLE_SIZES: Final = (56, 52, 48, 44, 40)
BIG_TITLE_SIZES: Final = (92, 80, 68, 56)
TEXT_SIZES: Final = (44, 40, 36, 32, 30, 28, 26, 24)
TABLE_SIZES: Final = (34, 32, 30, 28, 26, 24)
FOOT_SIZE: Final = 24
CHART_SIZE: Final = 28
LEADING: Final = 1.22
GAP: Final = 0.45  # between paragraphs, of the size of type
TIGHT_GAP: Final = 0.12
CELL_PX: Final = 10  # left and right of the words in a cell
ROW_PX: Final = 18  # above and below them together


@dataclass(frozen=True)
class Paragraph:
    """One paragraph.

    share : its size of type against that of the text; item : a mark hangs in front of it; tight : close to the one above
    """

    text: str
    share: float = 1.0
    bold: bool = False
    muted: bool = False
    item: bool = False
    tight: bool = False

    @property
    def indent(self) -> float:
        """How far it stands in, in sizes of its type."""
        return 0.8 if self.item else 0.0

    @property
    def gap(self) -> float:
        """The space above it, in sizes of its type."""
        return TIGHT_GAP if self.tight else GAP

"""One page to take home: the answer, the map, how far, what the data cannot tell, what to try next, the cautions."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from reach.base import words
from reach.draw import bare, style
from reach.findings import Findings
from reach.tell import texts
from reach.tell.deck import limits, outline, pages
from reach.tell.deck.fit import OWN, clean, plain, signs
from reach.tell.deck.layout import Box, Paragraph
from reach.tell.sentences import cautions
from reach.tell.sentences import reach as answers

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Paper = Literal["a4", "letter"]
SIZES_MM: Final[dict[str, tuple[float, float]]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
LOOK: Final = replace(style.LIGHT, paper="#ffffff")  # printed on white, whatever the slides look like
TEXT_SIZES: Final = (18.0, 17.0, 16.0, 15.0, 14.0, 13.0)  # px, of which a point has 1.67
_MM: Final = style.DPI / 25.4
_MARGIN_MM: Final = 13.0
_PICTURE_PX: Final = (900, 760)  # of the map as it is drawn, before it is made small
_SMALLEST_PICTURE, _LEAST_PICTURE, _MOST_PICTURE = 240.0, 330.0, 470.0
_GAP: Final = 26.0
_HEAD, _HEAD_SIZE = 28.0, 17.0
_SMALL: Final = 0.9
_LIMITS, _NEXT = 5, 5


@dataclass(frozen=True)
class _Block:
    """Paragraphs in a box of their own width, with their height at a size."""

    paragraphs: Sequence[Paragraph]
    x: float
    width: float

    def height(self, size: float) -> float:
        return OWN.height(self.paragraphs, size, self.width)


def pdf(findings: Findings, *, club: str = "", paper: Paper = "a4", language: str = "en") -> bytes:
    """The handout as a PDF of one page, without dates."""
    figure = page(findings, club=club, paper=paper, language=language)
    title = clean(findings.study.title) or answers.headline(findings, words.PRINT)
    return pages.bound([figure], title, answers.circumstances(findings, words.PRINT))


def page(findings: Findings, *, club: str = "", paper: Paper = "a4", language: str = "en") -> Figure:
    """The page as a figure: words above, map and chart in the middle, cautions at the foot, always whole."""
    say = texts.speaker(language)
    width, height = (round(each * _MM) for each in SIZES_MM[paper])
    figure = style.sheet(LOOK, width, height)
    margin = _MARGIN_MM * _MM
    room, half = width - 2 * margin, (width - 2 * margin - _GAP) / 2
    top = _title(figure, findings, say, club, margin, room)
    answer, cautious = _Block(_answer(findings), margin, room), _Block(_cautions(findings, say), margin, room)
    columns = [_Block(_limits(findings, say), margin, half), _Block(_next(findings, say), margin + half + _GAP, half)]
    foot = height - margin - 24
    filled = findings.tally.reports > 0
    size, high = _shares(answer, columns, cautious, foot - top, filled)
    under = foot - cautious.height(size * _SMALL) - _GAP  # where the cautions begin, less a gap
    y = _put(figure, answer, top, size, top + 0.36 * (under - top))
    if filled:
        _pictures(figure, findings, say, margin, y + _GAP / 2, room, high)
        y += high + _GAP / 2
    y = max([_put(figure, each, y + _GAP, size, under) for each in columns])
    _put(figure, cautious, min(y, under) + _GAP, size * _SMALL, foot + 1)
    _foot(figure, findings, say, margin, room, height)
    return figure


def _shares(answer: _Block, columns: list[_Block], cautious: _Block, room: float, filled: bool) -> tuple[float, float]:
    """The largest size of type at which the pictures keep a good height, and that height; else the smallest of both."""
    for size in TEXT_SIZES:
        taken = answer.height(size) + max(each.height(size) for each in columns) + cautious.height(size * _SMALL)
        left = room - taken - 3 * _GAP
        if left >= (_LEAST_PICTURE if filled else 0.0):
            return size, min(left, _MOST_PICTURE)
    return size, float(np.clip(left, _SMALLEST_PICTURE, _MOST_PICTURE))


def _put(figure: Figure, block: _Block, y: float, size: float, foot: float) -> float:
    box = Box(block.x, y, block.width, max(foot - y, 0.0))
    return pages.paragraphs_at(figure, LOOK, box, *OWN.fitted(block.paragraphs, box, (size,)))


def _title(figure: Figure, findings: Findings, say: texts.Say, club: str, x: float, room: float) -> float:
    title = plain(findings.study.title) or plain(answers.headline(findings, words.PRINT))
    text, size = OWN.title(title, (40, 36, 32, 28), room)
    lines = [Paragraph(text, size / 17, bold=True)]
    about = [say("made_up") if findings.study.made_up else "", answers.circumstances(findings, words.PRINT), club]
    lines += [Paragraph(OWN.cut(plain(each), 17, room, 2), muted=True) for each in about if each]
    return pages.paragraphs_at(figure, LOOK, Box(x, x * 0.8, room, 200), lines, 17) + _GAP


def _answer(findings: Findings) -> list[Paragraph]:
    told = []
    for one in answers.answer(findings, words.PRINT):
        told.append(Paragraph(plain(signs(f"{one.topic}: {one.text}")), bold=True))
        if one.evidence:
            told.append(Paragraph(plain(signs(one.evidence)), 0.92, muted=True, tight=True))
    return told


def _limits(findings: Findings, say: texts.Say) -> list[Paragraph]:
    heading = Paragraph(say("handout.limits"), 1.1, bold=True)
    if not findings.tally.reports:
        return [heading, Paragraph(say("nothing.limit"), item=True)]
    return [heading, *(Paragraph(plain(one), item=True) for one in limits.sentences(findings, say)[:_LIMITS])]


def _next(findings: Findings, say: texts.Say) -> list[Paragraph]:
    slide = limits.next_step(findings, say)
    return [
        Paragraph(slide.title, 1.1, bold=True),
        *(Paragraph(plain(one.text), item=True) for one in slide.texts[0][:_NEXT]),
    ]


def _cautions(findings: Findings, say: texts.Say) -> list[Paragraph]:
    watts = answers.powers(findings)
    told = cautions.lines(max(watts)) if watts else cautions.lines()
    return [Paragraph(say("cautions.title"), 1.15, bold=True), *(Paragraph(plain(one)) for one in told)]


def _pictures(figure: Figure, findings: Findings, say: texts.Say, x: float, y: float, room: float, high: float) -> None:
    """The map on the left, how far on the right; the map alone where no reach is claimed."""
    from PIL import Image

    sheet = style.sheet(LOOK, *_PICTURE_PX)
    bare.heard(sheet, LOOK, findings, x=0, y=0, width=_PICTURE_PX[0], height=_PICTURE_PX[1])
    picture = np.asarray(Image.open(io.BytesIO(style.png(sheet, 2))).convert("RGB"))
    wide = min((high - _HEAD) * _PICTURE_PX[0] / _PICTURE_PX[1], room * 0.52)
    right = x + wide + _GAP
    found = findings.reach.headline
    sure = found.reports > 0
    heads = [(x, say("handout.where")), (right, say("handout.far"))] if sure else [(x, say("handout.claimed"))]
    for at, name in heads:
        style.write(figure, at, y, name, px=_HEAD_SIZE, color=LOOK.ink, weight=style.BOLD)
    axes = style.place(figure, x, y + _HEAD, wide, wide * _PICTURE_PX[1] / _PICTURE_PX[0])
    axes.imshow(picture, aspect="auto", interpolation="none")
    axes.set_axis_off()
    if sure:
        place = Box(right, y + _HEAD, room - wide - _GAP, high - _HEAD)
        pages.chart(figure, LOOK, outline.distances(findings, say, LOOK, found), place, 14)


def _foot(figure: Figure, findings: Findings, say: texts.Say, x: float, room: float, height: int) -> None:
    counts = findings.counts
    data = say(
        "handout.data", read=words.things(counts.read, "row"), accepted=words.count(counts.accepted),
        rejected=words.count(counts.rejected), duplicates=words.count(counts.duplicates),
    )  # fmt: skip
    if findings.fixed_rows:
        data += " " + say("handout.replaced", rows=words.things(findings.fixed_rows, "row"))
    notice = f"{say('made_up')} · " if findings.study.made_up else ""
    line = OWN.cut(plain(f"{notice}{data} · {say('about')}"), 13, room, 1)
    style.write(figure, x, height - x * 0.8, line, px=13, color=LOOK.muted, va="bottom")

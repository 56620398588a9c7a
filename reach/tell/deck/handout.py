"""One page to take home: the answer, the map, how far, what the data cannot tell, what to try next, the cautions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from reach.base import words
from reach.draw import bare, style
from reach.findings import Findings
from reach.tell import texts
from reach.tell.deck import calendar, outline, pages
from reach.tell.deck.fit import OWN, clean, plain
from reach.tell.deck.model import GAP, Deck
from reach.tell.sentences import cautions, notes
from reach.tell.sentences import reach as answers
from reach.tell.sentences.direction import ends
from reach.tell.sentences.plan import advice

Paper = Literal["a4", "letter"]
SIZES_PT: Final[dict[str, tuple[float, float]]] = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
LOOK: Final = replace(style.LIGHT, paper="#ffffff")  # printed on white, whatever the slides look like
TEXT_SIZES: Final = (11.0, 10.5, 10.0, 9.5, 9.0, 8.5, 8.0)  # points
TITLE_SIZES: Final = (24.0, 21.0, 19.0, 17.0)
_MARGIN: Final = 36.0
_FOOT_SIZE: Final = 8.0
_SMALLEST_PICTURE, _LEAST_PICTURE, _MOST_PICTURE = 130.0, 165.0, 300.0  # their height
_MAP_PX: Final = (720, 608)  # the sheet that the map is drawn on; its words are sized for one so large
_STRIP_PX: Final = (1700, 300)  # and the calendar of a long period
_SHARP: Final = 2  # pixels a px of it: 350 and more to the inch where it is printed
_BETWEEN: Final = 16.0  # pieces, and columns
_SMALL: Final = 0.9  # cautions against the rest
_LIMITS, _NEXT = 5, 5  # the most telling ones
_MOST_LINES: Final = 4  # of a sentence


def pdf(findings: Findings, deck: Deck, *, club: str = "", paper: Paper = "a4") -> bytes:
    """The handout as a PDF of one page.

    deck : the slides of the same findings, whose answers, limits and next steps it repeats; where there is room it gives more advice
    club : whose evening it was; may be empty
    """
    say = texts.speaker(findings.direction)
    made_up = say("made_up") if findings.study.made_up else ""
    left_out = " ".join(answers.left_out(findings, words.PRINT))
    about = [each for each in (made_up, answers.circumstances(findings, words.PRINT), club, left_out) if each]
    watts = answers.powers(findings)
    cannot, following = deck.slide("limits"), deck.slides[-1]
    sheet = _Sheet(
        findings,
        say,
        *SIZES_PT[paper],
        title=plain(findings.study.title) or plain(answers.headline(findings, words.PRINT)),
        about=about,
        answer=deck.answer,
        advice=(
            (
                say("handout.limits"),
                [one.text for one in cannot.texts[0][:_LIMITS]] if cannot else [say("nothing.limit")],
            ),
            (
                following.title,
                list(dict.fromkeys([one.text for one in following.texts[0]] + list(advice(ends(findings)))))[:_NEXT],
            ),
        ),
        cautions=cautions.lines(max(watts)) if watts else cautions.lines(),
        foot=_foot(findings, say, made_up),
    )
    return pages.written(
        sheet.draw, SIZES_PT[paper], title=sheet.title, subject=" · ".join(about), language=deck.language
    )


def _foot(findings: Findings, say: texts.Say, made_up: str) -> str:
    """How many rows are behind it all."""
    data = say("handout.data", law=notes.law(findings.counts, words.PRINT))
    if findings.fixed_rows:
        data += " " + say("handout.replaced", rows=words.things(findings.fixed_rows, "row"))
    return " · ".join(each for each in (made_up, data, say("about")) if each)


@dataclass(frozen=True)
class _Sheet:
    """The page with what goes on it. width, height : of the paper [pt]; advice : two headings with their sentences."""

    findings: Findings
    say: texts.Say
    width: float
    height: float
    title: str
    about: Sequence[str]
    answer: Sequence[answers.Sentence]
    advice: Sequence[tuple[str, Sequence[str]]]
    cautions: Sequence[str]
    foot: str

    @property
    def room(self) -> float:
        return self.width - 2 * _MARGIN

    def draw(self, page: Any) -> None:
        """Everything from top to bottom, the text as large as leaves the pictures a good height."""
        from reportlab.platypus import Frame, KeepInFrame

        high = self.height - 2 * _MARGIN - 2 * _FOOT_SIZE
        for size in TEXT_SIZES:
            above, below = [*self._title(), *self._answer(size)], [self._advice(size), *self._cautions(size * _SMALL)]
            strip = self._strip(size)
            left = high - self._height(above) - self._height(below) - self._height(strip) - 2 * _BETWEEN
            if left >= (_LEAST_PICTURE if self.findings.tally.reports else 0.0):
                break
        story = [*above, _space(_BETWEEN), *below]
        if self.findings.tally.reports:
            pictures = self._pictures(size, min(max(left, _SMALLEST_PICTURE), _MOST_PICTURE))
            story = [*above, _space(_BETWEEN), pictures, *strip, *below]
        frame = Frame(_MARGIN, _MARGIN + 2 * _FOOT_SIZE, self.room, high, 0, 0, 0, 0)
        # Only words beyond all measure need it: made smaller rather than lost.
        frame.addFromList([KeepInFrame(self.room, high, story, mode="shrink")], page)
        self._sign(page)
        page.showPage()

    def _height(self, story: list[Any]) -> float:
        """How high pieces are, one below the other, as a frame would place them."""
        from reportlab.platypus.flowables import _listWrapOn

        return float(_listWrapOn(story, self.room, None)[1])

    def _sentence(self, text: str, size: float, *, room: float = 0.0, lines: int = _MOST_LINES, **looks: Any) -> Any:
        """A sentence, cut with an ellipsis where it is beyond all measure."""
        shown = OWN.cut(plain(clean(text)), size, (room or self.room) - size, lines, bold=looks.get("bold", False))
        return pages.paragraph(shown, size, looks.pop("color", LOOK.ink), **looks)

    def _title(self) -> list[Any]:
        text, size = OWN.title(self.title, TITLE_SIZES, self.room)
        shown = [self._sentence(each, TEXT_SIZES[0], lines=2, color=LOOK.muted) for each in self.about]
        return [pages.paragraph(text, size, LOOK.ink, bold=True), *shown, _space(GAP * size)]

    def _answer(self, size: float) -> list[Any]:
        told = []
        for one in self.answer:
            told.append(self._sentence(f"{one.topic}: {one.text}", size, bold=True))
            if one.evidence:
                evidence = self._sentence(one.evidence, 0.92 * size, color=LOOK.muted)
                evidence.style.spaceBefore = 0.12 * size  # it belongs to the line above
                told.append(evidence)
        return told

    def _advice(self, size: float) -> Any:
        """What the data cannot tell, and what to try next, side by side."""
        half = (self.room - _BETWEEN) / 2
        columns = [
            [
                self._sentence(heading, 1.1 * size, room=half, bold=True),
                *(self._sentence(one, size, room=half - size, item=True) for one in items),
            ]
            for heading, items in self.advice
        ]
        return _columns([columns], [half + _BETWEEN, half])

    def _cautions(self, size: float) -> list[Any]:
        heading = pages.paragraph(self.say("cautions.title"), 1.15 * size, LOOK.ink, bold=True)
        heading.style.spaceBefore = _BETWEEN
        return [heading, *(pages.paragraph(one, size, LOOK.ink) for one in self.cautions)]

    def _pictures(self, size: float, high: float) -> Any:
        """The map on the left, how far on the right; the map alone where no reach is claimed."""
        from reportlab.platypus import Image

        sheet = style.sheet(LOOK, *_MAP_PX)
        bare.heard(sheet, LOOK, self.findings, x=0, y=0, width=_MAP_PX[0], height=_MAP_PX[1])
        room = high - 1.1 * size * 1.22 - _BETWEEN
        wide = room * _MAP_PX[0] / _MAP_PX[1]
        shown = Image(pages.picture(style.png(sheet, _SHARP)), wide, room)
        found = self.findings.reach.headline
        names = [self.say("handout.where"), self.say("handout.far")] if found.reports else [self.say("handout.claimed")]
        heads = [pages.paragraph(name, 1.1 * size, LOOK.ink, bold=True) for name in names]
        if not found.reports:
            return _columns([[heads[0]], [shown]], [self.room])
        beside = self.room - wide - _BETWEEN
        chart = pages.chart(outline.distances(self.findings, self.say, LOOK, found), LOOK, beside, room, 0.92 * size)
        return _columns([heads, [shown, chart]], [wide + _BETWEEN, beside])

    def _strip(self, size: float) -> list[Any]:
        """The calendar of a long period across the page, where all of it stands in one row of weeks."""
        from reportlab.platypus import Image

        if not calendar.has_strip(self.findings):
            return []
        sheet = style.sheet(LOOK, *_STRIP_PX)
        bare.calendar(sheet, LOOK, self.findings, x=0, y=0, width=_STRIP_PX[0], height=_STRIP_PX[1], both=False)
        shown = Image(pages.picture(style.png(sheet, _SHARP)), self.room, self.room * _STRIP_PX[1] / _STRIP_PX[0])
        return [
            pages.paragraph(self.say("handout.calendar"), 1.1 * size, LOOK.ink, bold=True),
            shown,
            _space(_BETWEEN / 2),
        ]

    def _sign(self, page: Any) -> None:
        """What stands at the foot."""
        line = self._sentence(self.foot, _FOOT_SIZE, lines=1, color=LOOK.muted)
        line.wrapOn(page, self.room, _MARGIN)
        line.drawOn(page, _MARGIN, _MARGIN - _FOOT_SIZE)


def _space(height: float) -> Any:
    from reportlab.platypus import Spacer

    return Spacer(1, height)


def _columns(rows: list[Any], widths: list[float]) -> Any:
    """Pieces side by side, without lines; what is between them belongs to the column on the left."""
    from reportlab.platypus import Table

    looks = [
        ("FONTNAME", (0, 0), (-1, -1), pages.REGULAR), ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 0), ("BOTTOMPADDING", (0, 0), (-1, -1), 0),
        *(("RIGHTPADDING", (k, 0), (k, -1), _BETWEEN) for k in range(len(widths) - 1)),
    ]  # fmt: skip
    return Table(rows, colWidths=widths, style=looks, hAlign="LEFT", spaceAfter=_BETWEEN / 2)

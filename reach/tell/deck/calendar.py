"""The slides of a long period: its calendar of days, and the hours of each band over it."""

from __future__ import annotations

from functools import partial
from typing import Final

from reach.base import words
from reach.draw import bare
from reach.draw import calendar as drawn
from reach.findings import Findings
from reach.tell import texts
from reach.tell.deck.fit import clean
from reach.tell.deck.model import Paragraph, Picture, Slide
from reach.tell.sentences import calendar as sentences
from reach.tell.sentences import local_time

_MUTED: Final = 0.8
_MOST_ROWS: Final = 40  # of a calendar: five years; beyond, a day could not be told from the next


def slides(findings: Findings, say: texts.Say) -> list[Slide]:
    """Two where the period is long and a reach is claimed, else none."""
    found = findings.calendar
    if found is None or not findings.reach.headline.reports:
        return []
    cells = drawn.Cells.of(found)
    shown = [_openings(findings, say)]
    return [_calendar(findings, say, cells), *shown] if cells.rows <= _MOST_ROWS else shown


def has_strip(findings: Findings) -> bool:
    """Whether the handout has room for the calendar: where all days stand in one row of weeks."""
    found = findings.calendar
    return found is not None and findings.reach.headline.reports > 0 and drawn.Cells.of(found).strip


def _calendar(findings: Findings, say: texts.Say, cells: drawn.Cells) -> Slide:
    _, *told = sentences.told(findings, words.PRINT)
    more = " ".join(drawn.said(findings, cells))
    lines = (Paragraph(clean(" ".join(told))), Paragraph(more, _MUTED, muted=True))
    picture = Picture("calendar", say("calendar.alt"), partial(bare.calendar, findings=findings))
    title = clean(sentences.days(findings, words.PRINT))
    return Slide("calendar", "beside", title, (lines,), say("calendar.shows"), say("calendar.hides"), picture)


def _openings(findings: Findings, say: texts.Say) -> Slide:
    found = sentences.found_in(findings)
    shown = drawn.busiest(found, bare.BANDS)
    more = [
        sentences.silence(findings, drawn.unheard(found, shown)),
        sentences.most_bands(len(shown), len(found.bands)),
        local_time.lines(drawn.local_over(findings)),
    ]
    lines = (Paragraph(sentences.shares()), Paragraph(" ".join(each for each in more if each), _MUTED, muted=True))
    picture = Picture("openings", say("openings.alt"), partial(bare.openings, findings=findings))
    title = sentences.hours(findings, words.PRINT)
    return Slide("openings", "beside", title, (lines,), say("openings.shows"), say("openings.hides"), picture)

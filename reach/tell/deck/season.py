"""The slide of a season: what changed over weeks, and the curve."""

from __future__ import annotations

from functools import partial
from typing import Final

from reach.base import words
from reach.draw import bare
from reach.draw import season as curve
from reach.findings import Findings
from reach.tell import texts
from reach.tell.deck.fit import clean
from reach.tell.deck.model import Paragraph, Picture, Slide
from reach.tell.sentences import season as sentences

_MUTED: Final = 0.8
_TOLD: Final = 3  # sentences after the first: the page has all of them


def slides(findings: Findings, say: texts.Say) -> list[Slide]:
    """One where the study asks for a season, else none."""
    found = findings.season
    if found is None or not curve.has(findings):
        return []
    first, *told = sentences.everything(found, say=words.PRINT)
    lines = (Paragraph(clean(first)), *(Paragraph(clean(one), _MUTED, muted=True) for one in told[:_TOLD]))
    picture = Picture("season", say("season.alt"), partial(bare.season, findings=findings))
    title = clean(sentences.title(found, say=words.PRINT))
    return [Slide("season", "beside", title, (lines,), say("season.shows"), say("season.hides"), picture)]

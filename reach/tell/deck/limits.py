"""The last slides: what the data cannot tell, and what to try next."""

from __future__ import annotations

from typing import Final

from reach.base import words
from reach.compare import plan as plans
from reach.draw import captions, scripts
from reach.findings import Findings
from reach.spots import SUSPECT
from reach.tell import texts
from reach.tell.deck.fit import clean
from reach.tell.deck.model import Paragraph, Slide, Table
from reach.tell.sentences import comparison as sentences_of
from reach.tell.sentences import notes, pictures
from reach.tell.sentences import plan as plan_sentences
from reach.tell.sentences import reach as answers
from reach.tell.sentences.direction import ends

MOST: Final = 8
_MUTED: Final = 0.8
_ADVICE: Final = 2  # with what goes before, as many as can be read from the back of a room; `reach plan` has them all
NEAR_LIMIT: Final = 0.05  # a smaller share of reports near the decoding limit is not worth a line


def sentences(findings: Findings, say: texts.Say) -> list[str]:
    """The limits, most telling first."""
    found = findings.comparison
    days = words.things(findings.reach.all.overall.days, "day")
    decoded = say("limits.decoded")
    if found is not None and found.near_limit is not None and found.near_limit >= NEAR_LIMIT:
        decoded += " " + say("limits.near", share=words.share(found.near_limit))
    suspects = int((findings.receivers["trust"] == SUSPECT).sum())
    doubt = say("limits.suspects", suspects=words.things(suspects, "locator")) if suspects else say("limits.sure")
    said = [
        captions.no_far_end(findings),
        decoded,
        say("limits.days", days=days),
        say("limits.snr"),
        say("limits.locators", doubt=doubt),
    ]
    if found is not None:
        said += [clean(sentences_of.remark(one, found, say=words.PRINT)) for one in found.warnings]
    said += [clean(notes.note(one, words.PRINT)) for one in findings.notes]
    if found is None:
        said.append(clean(answers.better(findings, words.PRINT).text))
    return [*_typefaces(findings), *said][:MOST]


def _typefaces(findings: Findings) -> list[str]:
    """What the slides cannot write as it is."""
    study = findings.study
    antennas = [setup.antenna for setup in study.setups.values()]
    texts_of_users = (*findings.setup_order, *findings.station, study.title, study.about, *antennas)
    written = [clean(text) for text in texts_of_users]
    told = [pictures.SLIDES_WITHOUT_TYPEFACE] if scripts.missing(written) else []
    told += [pictures.LETTER_BY_LETTER] if scripts.joined(written) else []
    return [words.PRINT.text(each) for each in told]


def limits(findings: Findings, say: texts.Say) -> Slide:
    """What the data cannot tell."""
    items = tuple(Paragraph(one, item=True) for one in sentences(findings, say))
    return Slide("limits", "text", say("limits.title"), (items,), say("limits.shows"), say("limits.hides"))


def next_step(findings: Findings, say: texts.Say) -> Slide:
    """How long to alternate two setups next time, from these spots where there are any."""
    planned = plans.plan(findings.spots if findings.tally.reports else None)
    found = findings.comparison
    steps = found.next_steps if found is not None else ()
    first = [sentences_of.remark(one, found, say=words.PRINT) for one in steps if found is not None]
    answer, known, _ = plan_sentences.everything(planned, say=words.PRINT, way=ends(findings))
    lines = [Paragraph(clean(one)) for one in (*first, answer)]
    lines.append(Paragraph(clean(known), _MUTED, muted=True))
    lines += [
        Paragraph(clean(one), _MUTED, item=True)
        for one in plan_sentences.advice(ends(findings))[: _ADVICE - bool(first)]
    ]
    rows = [
        (
            say("next.minutes", minutes=words.PRINT.plain(row.block_min)) if row.block_min else say("next.together"),
            say("next.hours", hours=words.number(row.hours, 1 if row.hours < 9.95 else 0)),
            "" if row.blocks is None else words.count(row.blocks),
        )
        for row in planned.table
    ]
    at = next((k for k, row in enumerate(planned.table) if row.block_min == planned.block_min), 0)
    table = Table(
        "plan",
        say("next.alt"),
        tuple(say("next.columns", half=f"±{words.PRINT.plain(planned.half_width_db)}").split("|")),
        tuple(rows),
        (1.5, 1.0, 1.0),
        (0,),
        (at,),
    )
    return Slide("next", "beside", say("next.title"), (tuple(lines),), say("next.shows"), say("next.hides"), table)

"""The slides of a comparison: the verdict with its parts, and the map of receivers; or why it cannot be told."""

from __future__ import annotations

from functools import partial
from typing import Final

from reach.base import words
from reach.compare.comparison import Block, Cell, Comparison, Verdict
from reach.compare.several import Several
from reach.draw import bare, style
from reach.findings import Findings
from reach.tell import texts
from reach.tell.deck.fit import WIDE, clean, name
from reach.tell.deck.model import CHART_SIZE, Chart, Paragraph, Picture, Series, Slide, Table
from reach.tell.sentences import comparison as sentences
from reach.tell.sentences import pictures
from reach.tell.sentences import several as several_words
from reach.tell.sentences.direction import ends

MOST_PARTS: Final = 9
MOST_STRETCHES: Final = 48  # columns of the chart; neighbours are taken together beyond
_ORDER: Final = ("band", "zone", "day_night", "sector")  # of the breakdown; rings say the same as zones, finer
_UPWARD_PX: Final = 340  # room for what goes upward, beside the columns
_MUTED: Final = 0.8
_TOLD: Final = 3  # sentences after the first; cautions have a slide of their own


def slides(findings: Findings, say: texts.Say, look: style.Theme) -> list[Slide]:
    """None without a comparison, one where it cannot be told, else two."""
    if findings.several is not None:
        return [_several(findings.several, say)]
    found = findings.comparison
    if found is None:
        return []
    if found.verdict == Verdict.CANNOT_TELL or found.difference_db is None:
        return [_unknown(found, say)]
    made = [_verdict(found, say)]
    if pictures.stronger(found)[1]:
        made.append(_receivers(findings, found, say, look))
    return made


def title(found: Comparison, say: texts.Say) -> str:
    """The verdict, short."""
    a, b = name(found.a), name(found.b)
    if found.verdict == Verdict.CANNOT_TELL or found.difference_db is None:
        return say("verdict.unknown", a=a, b=b)
    if found.verdict in sentences.AHEAD:
        better, worse = (a, b) if found.verdict == Verdict.A_BETTER else (b, a)
        return say("verdict.stronger", better=better, worse=worse, db=sentences.by_how_much(found, say=words.PRINT))
    return say("verdict.same", a=a, b=b)


def _verdict(found: Comparison, say: texts.Say) -> Slide:
    by_band = sentences.by_band(found, say=words.PRINT)  # the table has a row for each
    first, *told = [one for one in sentences.everything(found, say=words.PRINT) if one not in by_band]
    lines = [Paragraph(clean(first)), *(Paragraph(clean(one), _MUTED, muted=True) for one in told[:_TOLD])]
    a, b = name(found.a), name(found.b)
    parts = sorted(
        (cell for cell in found.cells if cell.by in _ORDER and (cell.shown or cell.by == "band")),
        key=lambda cell: (_ORDER.index(cell.by), not cell.differs if cell.by == "sector" else False),
    )[:MOST_PARTS]
    whole = (
        say("verdict.all"),
        _signed(found.difference_db),
        _interval(found.low_db, found.high_db),
        words.count(found.receivers),
    )
    rows = [whole, *(_row(cell, say) for cell in parts)]
    if any(cell.differs for cell in parts):
        lines.append(Paragraph(say("verdict.star"), _MUTED, muted=True))
    table = Table(
        "parts", say("verdict.alt"), tuple(say("verdict.columns", a=a, b=b).split("|")), tuple(rows),
        (3.1, 1.9, 2.5, 1.7), (0,), (0,),
    )  # fmt: skip
    return Slide(
        "verdict", "beside", title(found, say), (tuple(lines),), say("verdict.shows"), say("verdict.hides"), table
    )


def _several(found: Several, say: texts.Say) -> Slide:
    """Three setups or more: the finding, and every two of them as far as there is room, those at the top first."""
    first, *told = several_words.everything(found, say=words.PRINT)
    lines = [Paragraph(clean(first)), *(Paragraph(clean(one), _MUTED, muted=True) for one in told[:_TOLD])]
    shown = sorted(found.differences, key=lambda each: each.upper not in found.top)[:MOST_PARTS]
    rows = tuple(
        (
            f"{name(each.upper)} {words.MINUS} {name(each.lower)}",
            words.db_signed(each.difference_db),
            several_words.interval(each, say=words.PRINT),
            say("several.apart" if each.apart else "several.alike"),
        )
        for each in shown
    )
    columns = tuple(say("several.columns").split("|"))
    table = Table("setups", say("several.alt"), columns, rows, (3.1, 1.9, 2.7, 1.5), (0,)) if rows else None
    return Slide(
        "verdict", "beside" if table else "text", clean(several_words.short(found, say=words.PRINT)), (tuple(lines),),
        say("several.shows"), say("several.hides"), table,
    )  # fmt: skip


def _row(cell: Cell, say: texts.Say) -> tuple[str, ...]:
    if not cell.shown:
        return sentences.part(cell, say=words.PRINT), say("verdict.untold"), "", words.count(cell.receivers)
    star = " " + say("verdict.differs") if cell.differs else ""
    return (
        sentences.part(cell, say=words.PRINT) + star,
        _signed(cell.difference_db),
        _interval(cell.low_db, cell.high_db),
        words.count(cell.receivers),
    )


def _signed(value_db: float | None) -> str:
    return "" if value_db is None else words.db_signed(value_db)


def _interval(low_db: float | None, high_db: float | None) -> str:
    if low_db is None or high_db is None:
        return ""
    return words.PRINT.limits(low_db, high_db, unit=False)


def _unknown(found: Comparison, say: texts.Say) -> Slide:
    lines = [Paragraph(clean(sentences.remark(one, found, say=words.PRINT))) for one in found.reasons]
    more = [sentences.remark(one, found, say=words.PRINT) for one in (*found.next_steps, *found.warnings)]
    lines += [Paragraph(clean(one), _MUTED, muted=True) for one in more]
    a, b = name(found.a), name(found.b)
    rows = [(say("verdict.reports"), words.count(found.spots_a), words.count(found.spots_b))]
    if found.design is not None:
        stretches = words.count(found.design.stretches_a), words.count(found.design.stretches_b)
        rows.append((say("verdict.stretches"), *stretches))
    rows.append((say("verdict.only"), words.count(len(found.heard.a_only)), words.count(len(found.heard.b_only))))
    columns = tuple(say("verdict.design", a=a, b=b).split("|"))
    table = Table("design", say("verdict.alt.design"), columns, tuple(rows), (2.4, 1.0, 1.0))
    return Slide(
        "verdict", "beside", title(found, say), (tuple(lines),), say("verdict.shows.unknown"),
        say("verdict.hides.unknown"), table,
    )  # fmt: skip


def _receivers(findings: Findings, found: Comparison, say: texts.Say, look: style.Theme) -> Slide:
    a, b, heard = name(found.a), name(found.b), found.heard
    stronger, known = pictures.stronger(found)
    receivers = ends(found).fars(known, words.PRINT)
    lines = (
        Paragraph(say("receivers.key", a=a, b=b)),
        Paragraph(
            say(
                "receivers.heard", a=a, b=b, a_only=words.count(len(heard.a_only)), b_only=words.count(len(heard.b_only)),
                both=words.count(len(heard.both)),
            ), _MUTED, muted=True,
        ),
    )  # fmt: skip
    picture = Picture(
        "map",
        say("receivers.alt", a=a, b=b, stronger=stronger, receivers=receivers),
        partial(bare.compared, findings=findings),
    )
    in_time = _in_time_order(found, say, look)
    return Slide(
        "receivers", "pair" if in_time else "beside",
        clean(pictures.receivers_on_the_map(found, words.PRINT)), (lines,),
        say("receivers.shows"), say("receivers.hides"), picture, in_time,
    )  # fmt: skip


def _in_time_order(found: Comparison, say: texts.Say, look: style.Theme) -> Chart | None:
    """The difference of each stretch on the air, or of a few neighbours together where there are very many."""
    known = [block for block in found.by_block if block.difference_db is not None]
    if not known:
        return None
    a, b = name(found.a), name(found.b)
    together = -(-len(known) // MOST_STRETCHES)
    groups = [known[k : k + together] for k in range(0, len(known), together)]
    values = [_mean_db(group) for group in groups]
    on = {found.a: 0, found.b: 1}
    tones = (look.ink, look.plain)  # the map beside it has the setups' colours for who was stronger
    if together == 1 and all(block.setup in on for block in known):
        series = tuple(
            Series(
                say("blocks.on", setup=label),
                tuple(value if on[group[0].setup] == k else 0.0 for value, group in zip(values, groups, strict=True)),
                tones[k],
            )
            for k, label in enumerate((a, b))
        )
    else:
        series = (Series(say("blocks.some", count=together), tuple(values), look.plain),)
    upward = say("blocks.y", a=a, b=b)
    if WIDE.width(upward, CHART_SIZE) > _UPWARD_PX:
        upward = words.text("Difference [dB]")
    return Chart(
        "stretches", say("blocks.alt", a=a, b=b, count=len(values)), tuple(group[0].start_utc[11:16] for group in groups),
        series, say("blocks.x"), upward, stacked=True, signed=True,
    )  # fmt: skip


def _mean_db(blocks: list[Block]) -> float:
    """Mean of their differences, by how many pairs each has, to a hundredth of a dB."""
    pairs = sum(block.pairs for block in blocks)
    return round(sum(block.pairs * (block.difference_db or 0.0) for block in blocks) / pairs, 2)

"""What the slides say, in their order: question, station, cautions, where, how far, when, the comparison, limits, next.

Findings come from `sentences` and the comparison's own words; fixed texts from `texts`. Nothing is measured here.
"""

from __future__ import annotations

from functools import partial
from itertools import islice
from typing import TYPE_CHECKING, Final

import numpy as np

from reach.base import tongue, words
from reach.draw import bare, captions, maps, style
from reach.findings import Findings
from reach.measure.reach import Figures
from reach.radio.feedline import Line
from reach.tell import texts
from reach.tell.deck import calendar, limits, season, versus
from reach.tell.deck.fit import BETWEEN, clean, name
from reach.tell.deck.model import Chart, Deck, Paragraph, Picture, Series, Slide, Table
from reach.tell.sentences import cautions, direction, local_time, notes, pictures, problems
from reach.tell.sentences import power as power_words
from reach.tell.sentences import reach as answers
from reach.tell.sentences.reach import Sentence

if TYPE_CHECKING:
    import pandas as pd

MOST_BANDS: Final = 6  # told apart by colour; the rest is one
FAR_KM: Final = 10_000.0  # from here on distances are named in thousands, and more columns find room
MUTED: Final = 0.8  # size of evidence against findings


def deck(findings: Findings, *, club: str = "", look: str = "light") -> Deck:
    """The whole deck of a walk: 8 slides, 9 or 10 with a comparison, one more with a season, one or two with a long period, fewer where nothing can be claimed.

    club : shown on the first slide and at the foot of each; may be empty
    look : light or dark
    """
    say, theme = texts.speaker(findings.direction), style.theme(look)
    own, place = map(name, findings.station)
    whose = words.text("{call} in {locator}", call=own, locator=place) if own and place else own or place
    foot = BETWEEN.join(part for part in (whose, clean(club), say("about")) if part)
    notice = say("made_up") if findings.study.made_up else ""
    opening = [question(findings, say, club), station(findings, say), caution(findings, say)]
    told = answers.answer(findings, words.PRINT)
    if not findings.tally.reports:
        found = [nothing(findings, say)]
    else:
        found = [
            *reach(findings, say, theme, told),
            *calendar.slides(findings, say),
            *versus.slides(findings, say, theme),
            *season.slides(findings, say),
            limits.limits(findings, say),
        ]
    slides = (*opening, *found, limits.next_step(findings, say))
    return Deck(opening[0].title, foot, notice, theme, slides, told, tongue.spoken().language)


def question(findings: Findings, say: texts.Say, club: str) -> Slide:
    """What was asked, of whom, when."""
    watts = answers.powers(findings)
    power = words.watt(max(watts)) if watts else ""
    call = name(findings.station[0]) or words.text("the station")
    asked = say("question.ask", call=call, watt=power) if power else say("question.ask.unknown", call=call)
    title = say("question.title", watt=power) if power else say("question.title.unknown")
    lines = [Paragraph(asked)]
    if findings.comparison is not None:
        a, b = name(findings.comparison.a), name(findings.comparison.b)
        lines.append(Paragraph(say("question.compare", a=a, b=b)))
    about = [clean(text) for text in (findings.study.about, answers.circumstances(findings, words.PRINT), club)]
    lines += [Paragraph(text, MUTED, muted=True) for text in about if text]
    return Slide(
        "question", "opening", clean(findings.study.title) or title, (tuple(lines),),
        say("question.shows"), say("question.hides"),
    )  # fmt: skip


def station(findings: Findings, say: texts.Say) -> Slide:
    """What was on the air."""
    call, locator = (name(part) for part in findings.station)
    if call and locator:
        title = say("station.title", call=call, locator=locator)
    else:
        title = say("station.title.call", call=call or locator) if call or locator else say("station.title.unknown")
    lines = [Paragraph(answers.circumstances(findings, words.PRINT))] if findings.tally.reports else []
    law = notes.law(findings.counts, words.PRINT)
    rows = " ".join([say("station.rows", law=law), *map(clean, answers.left_out(findings, words.PRINT))])
    lines.append(Paragraph(rows, MUTED, muted=True))
    if findings.fixed_rows:
        lines.append(
            Paragraph(say("station.replaced", rows=words.things(findings.fixed_rows, "row")), MUTED, muted=True)
        )
    heard = direction.ends(findings) is direction.HEARD
    if not heard and any(one.power_at_antenna_w is not None for one in findings.budgets.values()):
        lines.append(Paragraph(say("station.budget"), MUTED, muted=True))
    table = _setups(findings, say) if _setup_names(findings) else _plain_facts(findings, say)
    return Slide("station", "over", title, (tuple(lines),), say("station.shows"), say("station.hides"), table)


def _setup_names(findings: Findings) -> list[str]:
    known = list(findings.study.setups)
    return known + [each for each in findings.setups if each not in known]


def _setups(findings: Findings, say: texts.Say) -> Table:
    unknown = say("station.unknown")
    rows = []
    for setup in _setup_names(findings):
        told = findings.study.setups.get(setup)
        radio_w = findings.study.power_w(setup)
        rows.append(
            (
                clean(setup),
                clean(told.antenna if told else "") or unknown,
                _feedline(findings, setup) or unknown,
                words.watt(radio_w) if radio_w is not None else unknown,
                _at_antenna(findings, setup) or unknown,
            )
        )
    columns = tuple(say("station.columns").split("|"))
    many, widths = len(columns), (1.5, 3.4, 2.0, 1.4, 1.7)  # of what only received no power is told
    shown = tuple(row[:many] for row in rows)
    return Table("setups", say("station.alt"), columns, shown, widths[:many], (0, 1, 2))


def _feedline(findings: Findings, named: str) -> str:
    told = findings.study.setups.get(named)
    return clean(power_words.line(Line.of(told.cable), words.PRINT)) if told and told.cable else ""


def _at_antenna(findings: Findings, named: str) -> str:
    """Least to most power at the antenna over the bands, in words; empty where not known."""
    known = [
        budget.power_at_antenna_w
        for (setup, _), budget in findings.budgets.items()
        if setup == named and budget.power_at_antenna_w is not None
    ]
    if not known:
        return ""
    low, high = words.watt(min(known)), words.watt(max(known))
    return low if low == high else words.text("{low} to {high}", low=low, high=high)


def _plain_facts(findings: Findings, say: texts.Say) -> Table:
    """What is known of the station where no setup is named."""
    unknown = say("station.unknown")
    watts = answers.powers(findings)
    power = (say("station.power"), words.PRINT.listed([words.watt(each) for each in watts]) if watts else unknown)
    rows = (
        (say("station.period"), answers.period(findings, words.PRINT)),
        *(() if direction.ends(findings) is direction.HEARD else (power,)),
        (say("station.bands"), words.PRINT.listed(findings.bands) if findings.bands else unknown),
    )
    columns = tuple(say("station.facts").split("|"))
    return Table("station", say("station.alt.facts"), columns, rows, (1.0, 3.0), (0, 1))


def caution(findings: Findings, say: texts.Say) -> Slide:
    """The cautions in their own words, for the largest power in use."""
    watts = answers.powers(findings)
    each = cautions.cautions(max(watts)) if watts else cautions.cautions()
    boxes: list[tuple[Paragraph, ...]] = [(Paragraph(one.title, 1.1, bold=True), Paragraph(one.text)) for one in each]
    boxes.append((Paragraph(words.text(cautions.CLOSING), muted=True),))
    return Slide(
        "cautions", "quarters", say("cautions.title"), tuple(boxes), say("cautions.shows"), say("cautions.hides")
    )


def reach(findings: Findings, say: texts.Say, look: style.Theme, told: tuple[Sentence, ...]) -> list[Slide]:
    """Where, how far and when; where no locator is corroborated, only what receivers claim."""
    found = findings.reach.headline
    if not found.reports:
        return [claimed(findings, say, told)]
    how_far, where_to, at_times = told[:3]
    return [
        where(findings, say, found, where_to),
        far(findings, say, look, found, how_far),
        when(findings, say, look, found, at_times),
    ]


def where(findings: Findings, say: texts.Say, found: Figures, sentence: Sentence) -> Slide:
    """The map of everyone who heard it."""
    title = say(
        "where.title", countries=words.things(found.countries, "country", "countries"),
        squares=words.things(found.squares, "square"),
    )  # fmt: skip
    small = words.text(pictures.SMALL_WORLD) if maps.goes_on(findings) else ""
    more = [each for each in (clean(sentence.evidence), small, captions.no_far_end(findings)) if each]
    text = (Paragraph(clean(sentence.text)), *(Paragraph(each, MUTED, muted=True) for each in more))
    picture = Picture(
        "map",
        say("where.alt", behind=answers.behind(found, words.PRINT, direction.ends(findings))),
        partial(bare.heard, findings=findings),
    )
    return Slide("where", "beside", title, (text,), say("where.shows"), say("where.hides"), picture)


def claimed(findings: Findings, say: texts.Say, answer: tuple[Sentence, ...]) -> Slide:
    """Where receivers say they are, when no locator is corroborated: no finding."""
    told = [clean(text) for one in answer[:2] for text in (one.text, one.evidence)]
    text = tuple(Paragraph(one, MUTED if k % 2 else 1.0, muted=bool(k % 2)) for k, one in enumerate(told))
    picture = Picture("map", say("claimed.alt"), partial(bare.heard, findings=findings))
    return Slide(
        "claimed",
        "beside",
        answers.headline(findings, words.PRINT),
        (text,),
        say("claimed.shows"),
        say("claimed.hides"),
        picture,
    )


def far(findings: Findings, say: texts.Say, look: style.Theme, found: Figures, sentence: Sentence) -> Slide:
    """How many reports came from how far."""
    text = (Paragraph(clean(sentence.text)), Paragraph(clean(sentence.evidence), MUTED, muted=True))
    chart = distances(findings, say, look, found)
    return Slide(
        "far", "wide", answers.headline(findings, words.PRINT), (text,), say("far.shows"), say("far.hides"), chart
    )


def distances(findings: Findings, say: texts.Say, look: style.Theme, found: Figures) -> Chart:
    """Reports by distance in equal steps, setups side by side. Needs a report of a corroborated receiver."""
    rows = captions.counted(findings)
    assert found.farthest is not None
    farthest_km = found.farthest.distance_km
    step, edges = _steps(farthest_km)
    unit = 1000 if farthest_km >= FAR_KM else 1
    names = list(captions.setups(findings, rows))
    if not 2 <= len(names) <= len(look.setups):
        names = []
    series = [
        Series(
            clean(name),
            _count(rows[(rows["setup"] == name).to_numpy()], edges),
            captions.setup_color(findings, look, name),
        )
        for name in names
    ] or [Series(say("far.all"), _count(rows, edges), look.plain)]
    return Chart(
        "distance", say("far.alt", steps=len(edges) - 1, step=words.km(step), behind=answers.behind(found, words.PRINT, direction.ends(findings))),
        tuple(f"{low / 1000:g}" if unit == 1000 else words.count(low) for low in edges[:-1]), tuple(series),
        say(f"far.x.{unit}", step=words.km(step)), say("far.y"),
    )  # fmt: skip


def _steps(farthest_km: float) -> tuple[float, np.ndarray]:
    """A round step and the edges that hold every distance: 12 columns at most, 20 where distances are long."""
    least = max(farthest_km, 1.0) / (20 if farthest_km >= FAR_KM else 12)
    power = 10.0 ** np.floor(np.log10(least))
    step = next(k * power for k in (1.0, 2.0, 2.5, 5.0, 10.0) if k * power >= least)
    step = max(step, 10.0)
    return step, np.arange(int(farthest_km // step) + 2) * step


def _count(rows: pd.DataFrame, edges: np.ndarray) -> tuple[int, ...]:
    counted, _ = np.histogram(rows["distance_km"], edges, weights=rows["reports"])
    return tuple(int(each) for each in counted)


def when(findings: Findings, say: texts.Say, look: style.Theme, found: Figures, sentence: Sentence) -> Slide:
    """Reports by hour and band: the hours of the period where it is within a day, else the hours of the day."""
    rows = captions.counted(findings)
    text = (Paragraph(clean(sentence.text)), Paragraph(clean(sentence.evidence), MUTED, muted=True))
    hours = _hours(rows)
    bands = _bands(findings, say)
    shades = style.ramp(look.counts)(np.linspace(1.0, 0.15, max(len(bands), 2)))
    hour, reports = rows["hour"].to_numpy(), rows["reports"].to_numpy()
    series = tuple(
        Series(
            shown,
            tuple(int(reports[rows["band"].isin(held).to_numpy() & (hour == each)].sum()) for each in hours),
            _hexadecimal(shades[k]),
        )
        for k, (shown, held) in enumerate(bands.items())
    )
    local = findings.local_time
    names = tuple(f"{each:02d}" if local is None else f"{each:02d}\n{local.below(each)}" for each in hours)
    chart = Chart(
        "hours", say("when.alt", behind=answers.behind(found, words.PRINT, direction.ends(findings))), names, series,
        local_time.axis(say("when.x"), local), say("far.y"), stacked=True,
    )  # fmt: skip
    return Slide(
        "when",
        "wide",
        clean(pictures.hours(findings, words.PRINT)),
        (text,),
        say("when.shows"),
        say("when.hides"),
        chart,
    )


def _bands(findings: Findings, say: texts.Say) -> dict[str, list[str]]:
    """What the colours of the chart stand for, longest wave first: a band each, and the least used ones together."""
    by_band = findings.reach.corroborated.by_band
    names = list(by_band)
    if len(names) <= MOST_BANDS:
        return {band: [band] for band in names}
    busy = set(sorted(names, key=lambda band: -by_band[band].reports)[: MOST_BANDS - 1])
    return {band: [band] for band in names if band in busy} | {
        say("when.other"): [band for band in names if band not in busy]
    }


def _hours(rows: pd.DataFrame) -> list[int]:
    first, last = rows["first_utc"].min().floor("h"), rows["last_utc"].max().floor("h")
    count = int((last - first).total_seconds() // 3600) + 1
    return [(first.hour + k) % 24 for k in range(count)] if count < 24 else list(range(24))


def _hexadecimal(rgba: np.ndarray) -> str:
    return "#" + "".join(f"{round(255 * float(part)):02x}" for part in rgba[:3])


def nothing(findings: Findings, say: texts.Say) -> Slide:
    """Why no report could be used."""
    counted = islice(findings.wrong.rejecting.items(), 9)
    rows = tuple((clean(problems.name(rule)), words.count(n)) for rule, n in counted)
    text = (Paragraph(say("nothing.text", read=words.things(findings.counts.read, "row"))),)
    columns = tuple(say("nothing.columns").split("|"))
    table = Table("reasons", say("nothing.alt"), columns, rows, (3.0, 1.0)) if rows else None
    return Slide(
        "nothing", "beside" if table else "text", say("nothing.title"), (text,), say("nothing.shows"),
        say("nothing.hides"), table,
    )  # fmt: skip

"""The section of the page about a season: its sentences, and the curve as a picture that needs no script."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from typing import Any, Final

from reach.base import words
from reach.base.words import PRINT
from reach.findings import Findings
from reach.tell.sentences import season as sentences

WIDTH: Final = 1000.0  # of the drawing, in its own units; the page stretches it
HEIGHT: Final = 340.0
LEFT: Final = 64.0
RIGHT: Final = 12.0
TOP: Final = 26.0
BOTTOM: Final = 44.0
_DATES: Final = 8  # on the axis, at most


def section(findings: Findings) -> dict[str, Any] | None:
    """What the section says and draws, as plain values; None where the study asks for no season."""
    found = findings.season
    if found is None:
        return None
    finding, *rest = sentences.everything(found, say=PRINT)
    curve = _curve(findings) if len(found.days) > 1 else None
    controls = [
        (
            each.name,
            words.km(each.distance_km) if each.distance_km is not None else words.text("not known"),
            words.count(each.days),
            words.count(each.receivers),
            words.count(each.pairs),
            words.text("left out: it changed") if each.changed is not None else "",
        )
        for each in found.controls
    ]
    return {"finding": finding, "rest": rest, "curve": curve, "controls": controls}


def _curve(findings: Findings) -> dict[str, Any]:
    found = findings.season
    assert found is not None
    first, last = found.days[0].day.toordinal(), found.days[-1].day.toordinal()
    known = [value for each in found.days for value in (each.low_db, each.high_db) if value == value]
    low = min([*known, *(each.level_db for each in found.days), -1.0]) - 0.5
    high = max([*known, *(each.level_db for each in found.days), 1.0]) + 0.5

    def x(ordinal: float) -> float:
        return round(LEFT + (ordinal - first + 0.5) / (last - first + 1) * (WIDTH - LEFT - RIGHT), 1)

    def y(level_db: float) -> float:
        return round(TOP + (high - level_db) / (high - low) * (HEIGHT - TOP - BOTTOM), 1)

    every = -(-(last - first + 1) // _DATES)
    step = 2 if high - low <= 14 else 5
    judged = found.refused is None
    return {
        "label": words.text(
            "{title}. Level day by day; the table has the numbers.", title=sentences.title(found, say=PRINT)
        ),
        "scale": sentences.scale(found),
        "legend": sentences.legend(found, say=PRINT),
        "judged": judged,
        "days": [
            {"x": x(each.day.toordinal()), "y": y(each.level_db), "low": y(each.low_db), "high": y(each.high_db)}
            for each in found.days
            if each.low_db == each.low_db
        ],
        "began": [(x(each.first.toordinal() - 0.5), x(each.last.toordinal() + 0.5)) for each in found.changes],
        "levels": _levels(findings, x, y) if judged else [],
        "log": [(x(each.day.toordinal() - 0.5), number) for number, each in sentences.numbered(found)],
        "dates": [(x(k), PRINT.day_of_year(date.fromordinal(k))) for k in range(first, last + 1, every)],
        "ticks": [
            (y(k), words.signed(k, 0)) for k in range(int(low // step) * step, int(high) + 1, step) if low <= k <= high
        ],
        "zero": y(0.0),
        "box": (WIDTH, HEIGHT, LEFT, WIDTH - RIGHT, TOP, HEIGHT - BOTTOM),
    }


def _levels(findings: Findings, x: Any, y: Any) -> list[tuple[float, float, float]]:
    """Each stretch between changes: from, to, height."""
    assert findings.season is not None
    made = []
    for level_db, group in groupby(findings.season.days, key=lambda each: each.fitted_db):
        days = [each.day.toordinal() for each in group]
        made.append((x(days[0] - 0.5), x(days[-1] + 0.5), y(level_db)))
    return made

"""What is said of a long period: titles of its calendar, its hours and its farthest, and what their marks mean.

Which of weeks, months or years a period has is `measure.grain`'s to say; every message stands here once for each of them.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from reach.base.tongue import Phrase
from reach.base.words import PRINT, Typography
from reach.measure.calendar import FEW_DAYS, NO, Calendar
from reach.measure.claims import FEW_RECEIVERS, FEW_REPORTS, Kind
from reach.measure.grain import Unit
from reach.tell.sentences.direction import HEARD, ends

if TYPE_CHECKING:
    import pandas as pd

    from reach.findings import Findings

_BARS: Final = {
    Unit.DAY: Phrase("day"), Unit.WEEK: Phrase("week"), Unit.MONTH: Phrase("month"), Unit.YEAR: Phrase("year"),
}  # fmt: skip
_TIMELINE: Final = {
    Unit.DAY: Phrase("{reports} in time order, a bar a day"),
    Unit.WEEK: Phrase("{reports} in time order, a bar a week"),
    Unit.MONTH: Phrase("{reports} in time order, a bar a month"),
    Unit.YEAR: Phrase("{reports} in time order, a bar a year"),
}
_HOURS: Final = {
    Unit.WEEK: Phrase("In which hours each band was heard, week by week"),
    Unit.MONTH: Phrase("In which hours each band was heard, month by month"),
    Unit.YEAR: Phrase("In which hours each band was heard, year by year"),
}
_HOURS_OF_ONE: Final = {
    Unit.WEEK: Phrase("In which hours {band} was heard, week by week"),
    Unit.MONTH: Phrase("In which hours {band} was heard, month by month"),
    Unit.YEAR: Phrase("In which hours {band} was heard, year by year"),
}
_HOURS_OF_ALL: Final = {
    Unit.WEEK: Phrase("In which hours anything was heard, week by week"),
    Unit.MONTH: Phrase("In which hours anything was heard, month by month"),
    Unit.YEAR: Phrase("In which hours anything was heard, year by year"),
}
_FARTHEST: Final = {
    Unit.WEEK: Phrase("The farthest of each week lay between {low} and {high}"),
    Unit.MONTH: Phrase("The farthest of each month lay between {low} and {high}"),
    Unit.YEAR: Phrase("The farthest of each year lay between {low} and {high}"),
}
_FARTHEST_ALIKE: Final = {
    Unit.WEEK: Phrase("The farthest of each week lay {low} away"),
    Unit.MONTH: Phrase("The farthest of each month lay {low} away"),
    Unit.YEAR: Phrase("The farthest of each year lay {low} away"),
}
_STANDS_APART: Final = {
    Unit.WEEK: Phrase(
        "Half of {reports_came} came from beyond {km} in the week from {step}, farther than in any other week"
    ),
    Unit.MONTH: Phrase("Half of {reports_came} came from beyond {km} in {step}, farther than in any other month"),
    Unit.YEAR: Phrase("Half of {reports_came} came from beyond {km} in {step}, farther than in any other year"),
}


def found_in(findings: Findings) -> Calendar:
    """The calendar of findings that have one."""
    assert findings.calendar is not None
    return findings.calendar


def bar(unit: Unit) -> Phrase:
    """What a bar of the timeline stands for."""
    return _BARS[unit]


def step(unit: Unit, first: date, say: Typography) -> str:
    """The name of a week (its first day), a month or a year."""
    if unit is Unit.YEAR:
        return str(first.year)
    return say.month(first) if unit is Unit.MONTH else say.day(first)


def timeline(findings: Findings, unit: Unit, say: Typography) -> str:
    """Of the timeline, a bar of which stands for a step. No bar is singled out: see `pictures.in_time_order`."""
    return say.text(_TIMELINE[unit], reports=say.things(findings.tally.reports, "report"))


def cut_short(unit: Unit, say: Typography = PRINT) -> str:
    """That a period need not begin with a step; empty for days, which are whole enough to be compared."""
    return "" if unit is Unit.DAY else say.text("The first and the last bar may not be whole.")


def short_step(unit: Unit, first: date, say: Typography = PRINT) -> str:
    """The same for the foot of a chart: '4 May', 'May 2026', '2026'."""
    return say.day_of_year(first) if unit is Unit.WEEK else step(unit, first, say)


# --- titles -----------------------------------------------------------------------------------------------------------


def days(findings: Findings, say: Typography) -> str:
    """Of the calendar: on how many days something was heard."""
    found = found_in(findings)
    there = int((found.days["reports"] > 0).sum())
    of = found.days["in_use"] != NO  # of days that are known to be off the air nobody expects reports
    values = {"there": say.count(there), "days": say.things(int(of.sum()), "day")}
    if ends(findings) is HEARD:
        known = Phrase("Signals were heard on {there} of {days} of listening")
        return say.text(known if found.knows_air else Phrase("Signals were heard on {there} of {days}"), **values)
    known = Phrase("Heard on {there} of {days} on the air")
    return say.text(known if found.knows_air else Phrase("Heard on {there} of {days}"), **values)


def hours(findings: Findings, say: Typography) -> str:
    """Of the hours of each band over the period."""
    return say.text(_HOURS[found_in(findings).grain.table])


def hours_of(findings: Findings, band: str, say: Typography) -> str:
    """The same of one band; of all together where it is empty."""
    unit = found_in(findings).grain.table
    return say.text(_HOURS_OF_ONE[unit], band=band) if band else say.text(_HOURS_OF_ALL[unit])


def farthest(findings: Findings, say: Typography) -> str:
    """Of the farthest of each step: the step that reached farthest where one stands apart, else where they lay."""
    found = found_in(findings)
    unit, claim = found.grain.table, found.claims[Kind.FARTHEST_STEP]
    if claim.apart:
        return say.text(
            _STANDS_APART[unit],
            reports_came=ends(findings).reports_came,
            km=say.beyond(claim.value),
            step=step(unit, claim.winner, say),
        )
    known = found.steps["farthest_km"].dropna()
    low, high = say.km(known.min()), say.km(known.max())
    return say.text((_FARTHEST if low != high else _FARTHEST_ALIKE)[unit], low=low, high=high)


# --- what the marks mean ----------------------------------------------------------------------------------------------


def layout(found: Calendar, strip: bool, say: Typography = PRINT) -> str:
    """How to read the calendar. strip : whether all of it is one row of weeks"""
    if found.grain.calendar is Unit.MONTH:
        return say.text("A row is a year, a cell a month.")
    if strip:
        return say.text("A column is a week, Monday at the top.")
    return say.text("A block is a year, a column of it a week, Monday at the top.")


def silence(findings: Findings, off: npt.NDArray[np.bool_], say: Typography = PRINT) -> str:
    """What cells without reports are, of each kind that there is; '' where every cell has some.

    off : shape (cells without reports,), whether it is known that the station was off
    """
    heard = ends(findings) is HEARD
    if not found_in(findings).knows_air:
        hatched = say.text(
            "Hatched: nothing was heard; whether anyone was listening is not known."
            if heard
            else "Hatched: no report; whether the station was on the air is not known."
        )
    else:
        hatched = say.text(
            "Hatched: listening, and nothing was heard." if heard else "Hatched: on the air, and no report."
        )
    blank = say.text("Blank: not listening." if heard else "Blank: not on the air.")
    return " ".join(each for each, there in ((hatched, (~off).any()), (blank, off.any())) if there)


def few(findings: Findings, say: Typography = PRINT) -> str:
    """What a hollow cell of a calendar is."""
    return say.text(
        "Hollow: fewer than {reports} reports or {receivers} {fars} with corroborated locators.",
        reports=FEW_REPORTS,
        receivers=FEW_RECEIVERS,
        fars=ends(findings).far_many,
    )


def shares(say: Typography = PRINT) -> str:
    """What is shaded in the hours of a band."""
    return say.text(
        "Shaded: how many of the days on which the band was heard at all had a report in that hour. Hollow: fewer than "
        "{days} such days.",
        days=FEW_DAYS,
    )


def most_bands(shown: int, of: int, say: Typography = PRINT) -> str:
    """That there are more bands; empty where there are none."""
    return say.text("Shown: the {shown} bands with most reports.", shown=shown) if shown < of else ""


def far_marks(findings: Findings, say: Typography = PRINT) -> tuple[str, str]:
    """What the marks of the farthest are, and why a farthest is no measure of a month."""
    return (
        say.text(
            "Dot: the farthest {far} with a corroborated locator. Dash: one report in ten came from beyond. Line: half did, "
            "with its 95{gap}% interval.",
            far=ends(findings).far,
        ),
        say.text("The more reports, the farther the farthest is likely to be; the table says how many there were."),
    )


# --- for those who cannot see it, and for slides ----------------------------------------------------------------------


def told(findings: Findings, say: Typography) -> tuple[str, ...]:
    """The finding of the section in sentences: days with reports, a middling day, the farthest of the steps."""
    found = found_in(findings)
    counted = found.days["reports"].to_numpy()
    some = counted[counted > 0]
    if not len(some):
        return (days(findings, say) + say.stop,)
    low, middle, high = (float(value) for value in np.quantile(some, [0.25, 0.5, 0.75]))
    return (
        days(findings, say) + say.stop,
        say.text(
            "Half of these days had {low} to {high} reports, the middle one {middle}.",
            low=say.count(low),
            high=say.count(high),
            middle=say.count(middle),
        ),
        farthest(findings, say) + say.stop,
    )


def written(found: Calendar) -> dict[str, pd.DataFrame]:
    """The tables behind the pictures, by the names of their files, which are those of the pictures."""
    unit = found.grain.table
    return {"calendar": found.days, f"hours-by-{unit}": found.hours, f"farthest-by-{unit}": found.steps}

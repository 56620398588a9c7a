"""Who was on when, in the worker: the schedule as a table of texts, the reports by day, the fit of its clock, a plan for another evening.

The table is the study's schedule in UTC, shifted as the study says. A file that the user brought stays as it is: what is changed in the
table is written into a file of the desk's own, which the study then names.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach import study as studies
from reach.base.ways import Medium
from reach.desk import names, stale
from reach.errors import ReachError, StudyError
from reach.study import Study

if TYPE_CHECKING:
    import pandas as pd

    from reach.walk import Walk

CELL_MIN: Final = 5
CELLS: Final = 24 * 60 // CELL_MIN
MOST_DAYS: Final = 14  # on one screen
_OWN_NAME: Final = "schedule.csv"

Row = dict[str, str]


def _file(study: Study) -> Path | None:
    return Path(study.folder, study.schedule) if study.schedule else None


def _unchanged(path: Path, shown: str) -> Study:
    """The study. StudyError where it or its schedule is not what a form was made of. shown : the form's stamp"""
    study = studies.load(path)
    stale.check(shown, study.source, _file(study))
    return study


def table(path: Path) -> dict[str, Any]:
    """The schedule as a form has it.

    Returns `rows` (start, end, setup), `setups` that can be chosen, `file` and what the study says of it, `sessions` that go before
    it, `fault` where the file cannot be read, and `stamp`.
    """
    from reach.assign import schedule as schedules

    study, fault = studies.load(path), ""
    shown = stale.stamp(
        study.source, _file(study)
    )  # before the schedule is read: changed meanwhile, the form is an old one
    rows: list[Row] = []
    try:
        found = schedules.of_study(study)
        rows = [] if found is None else _rows(found)
    except StudyError as error:
        fault = error.said(Medium.SCREEN).replace(f"{study.folder}/", "")
    return {
        "rows": rows,
        "setups": list(dict.fromkeys([*study.setups, *(row["setup"] for row in rows)])),
        "file": study.schedule or "",
        "zone": study.schedule_zone or "",
        "shift_min": study.schedule_shift_min,
        "confirmed": study.schedule_confirmed,
        "sessions": [_session(each) for each in study.sessions],
        "compare": list(study.compare.asked) if study.compare else [],
        "fault": fault,
        "stamp": shown,
    }


def _rows(schedule: pd.DataFrame) -> list[Row]:
    moments = zip(schedule["start"], schedule["end"], schedule["setup"], strict=True)
    return [{"start": _text(start), "end": _text(end), "setup": str(setup)} for start, end, setup in moments]


def _text(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M}" + (f":{moment:%S}" if moment.second else "")


def _session(session: studies.Session) -> str:
    window = " to ".join(_text(moment) for moment in (session.start, session.end) if moment)
    return ", ".join(part for part in (session.setup, window, *session.files) if part)


def keep(path: Path, shown: str, rows: Sequence[Row]) -> dict[str, str]:
    """Make these rows the schedule; blank ones are none. Returns faults by field ('3-start', '3'); with any, nothing is changed."""
    from reach.assign import schedule as schedules

    study = _unchanged(path, shown)
    given = {k: (row["start"], row["end"], row["setup"]) for k, row in enumerate(rows, 1) if any(row.values())}
    try:
        wanted = schedules.of_rows(given)
    except StudyError as error:
        number, _, said = error.said(Medium.SCREEN).removeprefix("row ").partition(": ")
        field = next((name for name in schedules.COLUMNS if said.startswith(f"'{name}' ")), "")
        return {f"{number}-{field}" if field else number: said}
    try:
        now = schedules.of_study(study)
    except StudyError:
        now = None
    if now is not None and _rows(now) == _rows(wanted):
        return {}
    _write(study, path, schedules.text(wanted) if len(wanted) else "")
    return {}


def compare(path: Path, shown: str, setups: Sequence[str]) -> None:
    """Have these setups held against one another in the report; with none, none are. StudyError where one is alone."""
    study = _unchanged(path, shown)
    if len(setups) == 1:
        raise StudyError("A comparison needs two setups; choose another one too, or none.")
    before = study.compare
    if set(setups) == set(before.asked if before else ()):
        return  # the order that was written stays: it says which is taken from which
    named = {"a": setups[0], "b": setups[1]} if len(setups) == 2 else {"setups": list(setups)}
    change(path, compare={**named, "control": before.control if before else None} if setups else None)


def _write(study: Study, path: Path, text: str) -> None:
    from reach.tell import files

    if not text:
        return _name(path, schedule=None)
    there, name = _file(study), study.schedule
    if there is None or name is None or not _is_own(study, there):
        name = names.free(_OWN_NAME, [each.name for each in path.parent.iterdir()])
    files.write(path.parent / name, text, replace=True)
    return _name(path, schedule=name)


def _is_own(study: Study, there: Path) -> bool:
    """Whether a schedule lies in the study's folder and is, to the byte, what would be written here: then no word of anyone is lost."""
    from reach.assign import schedule as schedules

    if there.parent.resolve() != study.folder.resolve() or study.schedule_zone or study.schedule_shift_min:
        return False
    try:
        return there.read_text(encoding="utf-8") == schedules.text(schedules.read(there))
    except (OSError, ValueError, ReachError):
        return False


def _name(path: Path, **changes: Any) -> None:
    """The study with another schedule, of which nothing is known yet."""
    change(path, **{"schedule_zone": None, "schedule_shift_min": 0.0, "schedule_confirmed": False, **changes})


def change(path: Path, **changes: Any) -> None:
    """The study with some of its values changed, all else in it as it was."""
    from reach.tell import study_file

    study_file.rewrite(path, studies.changed(studies.load(path), **changes))


def take(path: Path, shown: str, arrived: Path, called: str, zone: str) -> None:
    """Make a file that was sent the schedule, as it is. StudyError, with its line, where it is none."""
    from reach.assign import schedule as schedules
    from reach.tell import files

    study = _unchanged(path, shown)
    text = studies.read_text(arrived, "a schedule")
    schedules.parse(text, name=called, zone=zone or None, day_first=study.options.day_first)
    name = names.free(names.plain(called, otherwise=_OWN_NAME), [each.name for each in path.parent.iterdir()])
    files.write(path.parent / name, arrived.read_bytes())
    _name(path, schedule=name, schedule_zone=zone or None)


def settle(path: Path, shown: str, shift_min: float | None, confirmed: bool | None) -> None:
    """Shift the clock by so many minutes more, or say that it is right as it stands."""
    study = _unchanged(path, shown)
    if shift_min is not None:
        change(path, schedule_shift_min=study.schedule_shift_min + shift_min)
    if confirmed is not None:
        change(path, schedule_confirmed=confirmed)


def renamed(path: Path, moved: Mapping[str, str]) -> None:
    """The schedule with setups called otherwise."""
    from reach.assign import schedule as schedules

    study = studies.load(path)
    try:
        found = schedules.of_study(study)
    except StudyError:
        return
    if found is not None and any(old in moved for old in found["setup"].astype(str)):
        rows = zip(found["start"], found["end"], found["setup"].astype(str), strict=True)
        _write(
            study,
            path,
            schedules.text(schedules.table((start, end, moved.get(name, name)) for start, end, name in rows)),
        )


def seen(walk: Walk) -> dict[str, Any]:
    """The reports and what they say of the schedule's clock.

    Returns `days` (day and counts of the reports each CELL_MIN), and `clock`: its sentence, and shifts that would make it fit.
    """
    import numpy as np

    from reach.assign import schedule as schedules
    from reach.base.words import DESK
    from reach.tell.sentences import clock as sentences

    cell = schedules.micros(walk.vetted.spots["time_utc"]) // (CELL_MIN * 60_000_000)
    days = {}
    for day in np.unique(cell // CELLS).tolist():
        counts = np.bincount(cell[cell // CELLS == day] % CELLS, minlength=CELLS)
        days[f"{datetime(1970, 1, 1, tzinfo=UTC) + timedelta(days=day):%Y-%m-%d}"] = counts.tolist()
    found, clock = walk.clock, None
    if found is not None:
        shifts = [found.shift_min, found.other_min] if found.doubtful else []
        clock = {
            "sentence": sentences.sentence(found.code, found.values, say=DESK),
            "doubtful": found.doubtful,
            "shifts": [{"min": shift, "said": sentences.shift(shift, say=DESK)} for shift in shifts if shift],
        }
    return {"days": days, "clock": clock}


def plan(walk: Walk | None, study: Study, asked: Mapping[str, str]) -> dict[str, Any]:
    """How long to alternate two setups, and a schedule for it. asked : a, b, start, half_width_db, block_min, hours, as typed

    Returns `said`, `rows`, and the schedule as `csv` and `ics`. A ReachError where something asked for cannot be.
    """
    from reach.assign import schedule as schedules
    from reach.base.words import DESK
    from reach.compare import plan as plans
    from reach.tell.sentences import direction
    from reach.tell.sentences import plan as sentences

    way = direction.ends(study)
    try:
        start = studies.utc(datetime.fromisoformat(asked["start"].strip()))
    except ValueError:
        raise StudyError(f"The start is a time in UTC such as 2026-05-16 18:00, not {asked['start']!r}.") from None
    block_min, hours = _number(asked, "block_min", "10"), asked["hours"].strip()
    made = plans.plan(
        walk.vetted.spots if walk is not None else None,
        half_width_db=_number(asked, "half_width_db", "1"),
        block_min=block_min,
    )
    schedule = plans.deal(
        asked["a"], asked["b"], start=start, blocks=made.blocks, block_min=block_min,
        session_hours=_number(asked, "hours", "3") if hours else None,
    )  # fmt: skip
    return {
        "said": list(sentences.everything(made, say=DESK, way=way)),
        "advice": list(sentences.advice(way, say=DESK)),
        "rows": _rows(schedule),
        "csv": schedules.text(schedule),
        "ics": schedules.calendar(schedule, title=study.title).decode("utf-8"),
    }


def _number(asked: Mapping[str, str], name: str, example: str) -> float:
    try:
        return float(asked[name].replace(",", "."))
    except ValueError:
        raise StudyError(f"A number is wanted, such as {example}, not {asked[name]!r}.") from None

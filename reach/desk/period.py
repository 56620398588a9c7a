"""The period that a study is about, as a form has it: a day counts whole, blank is open. For the clerk."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from reach import study as studies
from reach.errors import StudyError
from reach.study import Study

FIELDS: Final = ("from", "to")
_DAY: Final = timedelta(days=1)


def shown(study: Study) -> dict[str, str]:
    """The period by field. A study ends before a moment; where that is midnight, the day before is the last one."""
    start, end = study.start, study.end
    last = end - _DAY if end is not None and _is_midnight(end) else end
    return {"from": "" if start is None else _text(start), "to": "" if last is None else _text(last)}


def keep(path: Path, form: Mapping[str, str]) -> dict[str, str]:
    """Put the period into the study, its comments kept. Returns faults by field; with any, nothing is changed."""
    from reach.tell import study_file

    found: dict[str, datetime | None] = {}
    faults = {}
    for field in FIELDS:
        try:
            found[field] = _moment(form.get(field, "").strip(), last=field == "to")
        except ValueError as error:
            faults[field] = str(error)
    if not faults:
        study = studies.load(path)
        try:
            study_file.rewrite(path, studies.changed(study, start=found["from"], end=found["to"]))
        except StudyError as error:
            if "is not before" not in str(error):
                raise
            faults["to"] = "This is before the beginning."
    return faults


def _moment(text: str, *, last: bool) -> datetime | None:
    """A day or a time in UTC; None where nothing is said. last : of a day, its end. ValueError, a sentence, where it is neither."""
    if not text:
        return None
    try:
        moment = studies.utc(datetime.fromisoformat(text))
        return moment + _DAY if last and len(text) <= len("2026-05-16") else studies.utc(moment)
    except (ValueError, OverflowError):
        raise ValueError(f"{text!r} is no day or time; wanted one such as 2026-05-16, or 2026-05-16 18:00.") from None


def _is_midnight(moment: datetime) -> bool:
    return moment == moment.replace(hour=0, minute=0, second=0, microsecond=0)


def _text(moment: datetime) -> str:
    if _is_midnight(moment):
        return f"{moment:%Y-%m-%d}"
    return f"{moment:%Y-%m-%d %H:%M}" + (f":{moment:%S}" if moment.second else "")

"""Which setup was on the air when: a study's sessions and schedule put into the `setup` and `session` columns.

What a row says itself wins; then the sessions in the order of the study; then the schedule.
"""

from __future__ import annotations

from fnmatch import fnmatchcase
from pathlib import Path, PurePosixPath

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import schedule
from reach.study import Session, Study

Flags = npt.NDArray[np.bool_]


def assign(raw: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Name the setup and session of each raw row."""
    return by_file(raw, study)


def by_file(raw: pd.DataFrame, study: Study) -> pd.DataFrame:
    """Name the setup of rows whose file belongs to one setup, while every cell is still text.

    raw : raw table, needs source
    Returns a new table; rows of a session that has files and no window get its setup and name. This comes before
    vetting, because two setups heard in the same moment are no duplicates.
    """
    whole = [session for session in study.sessions if session.files and not (session.start or session.end)]
    return _named(raw, [(session, _of_files(raw, session)) for session in whole])


def by_time(spots: pd.DataFrame, study: Study, rows: pd.DataFrame | None = None) -> pd.DataFrame:
    """Name the setup of spots by the time windows of sessions and by the schedule.

    spots : needs time_utc, source, setup, session
    rows : the study's schedule, where it has been read already
    Returns a new table. StudyError where the schedule file has a mistake.
    """
    windows = [session for session in study.sessions if session.start or session.end]
    named = _named(spots, [(session, _in_window(spots, session)) for session in windows])
    rows = schedule.of_study(study) if rows is None else rows
    if rows is None:
        return named
    told = schedule.assign(named, rows)["setup"]
    return named.assign(setup=_filled(named["setup"], told))


def notes(spots: pd.DataFrame, study: Study) -> tuple[str, ...]:
    """What the user should know: how many spots belong to no setup although the study names some."""
    if not (study.schedule or study.sessions) or not len(spots):
        return ()
    outside = int(spots["setup"].isna().sum())
    if not outside:
        return ()
    were = "spot was" if outside == 1 else "spots were"
    return (f"{outside} {were} outside every session and schedule row; they count in the whole, under no setup.",)


def _named(table: pd.DataFrame, members: list[tuple[Session, Flags]]) -> pd.DataFrame:
    if not members:
        return table
    setup, session = (_texts(table, name) for name in ("setup", "session"))
    for told, inside in members:
        free = inside & (setup == "")
        setup[free] = told.setup
        session[inside & (session == "")] = told.name or told.setup
    return table.assign(setup=_category(setup, table.index), session=_category(session, table.index))


def _of_files(table: pd.DataFrame, session: Session) -> Flags:
    source = table["source"].astype("category")
    hit = np.array([any(_is(str(name), pattern) for pattern in session.files) for name in source.cat.categories])
    return hit[source.cat.codes.to_numpy()] if len(hit) else np.zeros(len(table), dtype=bool)


def _is(source: str, pattern: str) -> bool:
    """Whether a source, named by as much of its path as tells it from the others, is meant by a path or glob."""
    parts = PurePosixPath(source).parts
    meant = PurePosixPath(Path(pattern).as_posix()).parts[-len(parts) :]
    return fnmatchcase("/".join(parts[-len(meant) :]), "/".join(meant))


def _in_window(spots: pd.DataFrame, session: Session) -> Flags:
    inside = np.ones(len(spots), dtype=bool)
    if session.start:
        inside &= (spots["time_utc"] >= session.start).to_numpy()
    if session.end:
        inside &= (spots["time_utc"] < session.end).to_numpy()
    return inside & _of_files(spots, session) if session.files else inside


def _filled(own: pd.Series, told: pd.Series) -> pd.Series:
    text = own.astype(object).where(own.notna(), told.astype(object))
    return _category(text.where(text.notna(), "").to_numpy(dtype=object), own.index)


def _texts(table: pd.DataFrame, name: str) -> npt.NDArray[np.object_]:
    if name not in table:
        return np.full(len(table), "", dtype=object)
    column = table[name].astype(object)
    return column.where(column.notna(), "").to_numpy(dtype=object).copy()


def _category(text: npt.NDArray[np.object_], index: pd.Index) -> pd.Series:
    """A category column from texts, blanks as null."""
    values = text.copy()
    values[text == ""] = None
    return pd.Series(pd.Categorical(values), index=index)

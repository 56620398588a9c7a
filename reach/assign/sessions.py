"""Which setup was on the air when: a study's sessions and schedule put into the `setup` and `session` columns.

What a row says itself wins; then the sessions in the order of the study; then the schedule. This comes before vetting:
two setups heard in the same moment are no duplicates.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta
from fnmatch import fnmatchcase
from pathlib import Path, PurePosixPath

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach.assign import schedule
from reach.base import grammar
from reach.base.vocabulary import words
from reach.findings import Note, NoteCode
from reach.read import times
from reach.read.times import NOWHEN, Moments
from reach.study import Session, Study

Flags = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


def assign(
    raw: pd.DataFrame, study: Study, *, moments: Moments | None = None, planned: pd.DataFrame | None = None
) -> pd.DataFrame:
    """Name the setup and session of each raw row, as far as the study tells them.

    raw : raw table, needs source
    moments : the times of this very table, where `read.times.moments` has read them already
    planned : the study's schedule (schedule.SCHEDULE), where it has been read already
    Returns a new table with `setup` and `session` filled in; the very table where the study tells nothing and the station
    stayed where it was: each place of a station that moved is a session of that name. StudyError
    where the schedule file has a mistake; InputError where the order of day and month cannot be told.
    """
    own = words(raw, "tx_locator")
    places = _places(own.text(at) for at in np.unique(own.codes))  # of rows that were set aside there may be more words
    if not (study.sessions or study.schedule or len(set(places.values())) > 1):
        return raw
    found = moments or times.moments(raw, day_first=study.options.day_first)
    setup, session = _told(raw, study, found.micros)
    rows = schedule.of_study(study) if planned is None else planned
    if rows is not None:
        code, names = schedule.setup_at(found.micros, rows)
        for k, name in enumerate(names):
            setup.fill(code == k, name)
    _by_place(raw, places, session)
    return raw.assign(setup=setup.column(), session=session.column())


def untold(raw: pd.DataFrame, study: Study, *, moments: Moments) -> Flags:
    """Rows whose setup only the schedule can know, or the windows of the sessions where there is no schedule: they name none
    themselves and lie in no session that goes before it. Shape (rows,)."""
    return _told(raw, study, moments.micros)[0].free if study.schedule else _Names(raw, "setup").free


def _told(raw: pd.DataFrame, study: Study, micros: Ints) -> tuple[_Names, _Names]:
    """Setup and session of each row, as the row itself and the sessions tell them."""
    setup, session = _Names(raw, "setup"), _Names(raw, "session")
    for told in study.sessions:
        inside = _inside(raw, micros, told, schedule.shift_of_sessions(study))
        # The setup that a row names itself may be another than the session's: then it is not of this session either.
        session.fill(inside & setup.free | inside & setup.says(told.setup), told.name or told.setup)
        setup.fill(inside, told.setup)
    return setup, session


def notes(spots: pd.DataFrame, study: Study) -> tuple[Note, ...]:
    """What the user should know: that the station moved, and how many spots belong to no setup although the study names
    some."""
    told = []
    rows = spots["tx_locator"].value_counts(sort=False)
    places = _places(str(name) for name in rows.index[rows.to_numpy() > 0])
    if len(set(places.values())) > 1:
        count: Counter[str] = Counter()
        for name, place in places.items():
            count[place] += int(rows[name])
        told.append(Note(NoteCode.STATION_MOVED, {"locators": dict(count.most_common())}))
    outside = int(spots["setup"].isna().sum()) if study.schedule or study.sessions else 0
    return (*told, Note(NoteCode.OUTSIDE_SESSIONS, {"spots": outside})) if outside else tuple(told)


def _places(locators: Iterable[str]) -> dict[str, str]:
    """The place of each of the station's own locators, as six characters where some row gives so many.

    'IO51' and 'IO51es' are one place said twice, as long as no other subsquare of it occurs. Texts that are no locator
    have no place: vetting judges them.
    """
    found = {
        text: verdict.locator for text in locators if (verdict := grammar.judge(text, four_characters=True)).locator
    }
    fine = {name[:6] for name in found.values() if len(name) >= 6}
    coarse = {name: [one for one in fine if one[:4] == name[:4]] for name in found.values() if len(name) < 6}
    return {
        text: name[:6] if len(name) >= 6 else coarse[name][0] if len(coarse[name]) == 1 else name
        for text, name in found.items()
    }


def _by_place(raw: pd.DataFrame, places: dict[str, str], session: _Names) -> None:
    """Where the station moved, each place is a session of its own: its name goes where no other stands."""
    if len(set(places.values())) < 2:
        return
    column = words(raw, "tx_locator")
    for place in dict.fromkeys(places.values()):
        here = np.array([places.get(text) == place for text in column.texts], dtype=bool)[column.codes]
        session.fill(here, place)


class _Names:
    """A text column as codes, into which names are put where it is blank. A million rows hold a handful of names."""

    def __init__(self, raw: pd.DataFrame, name: str) -> None:
        column = words(raw, name)
        self._names: list[str] = []
        self._code = np.array([self._number(text.strip()) for text in column.texts], dtype=np.int64)[column.codes]

    def _number(self, name: str) -> int:
        """The code of a name; -1 for none."""
        if name and name not in self._names:
            self._names.append(name)
        return self._names.index(name) if name else -1

    @property
    def free(self) -> Flags:
        """Rows without a name."""
        return self._code < 0

    def says(self, name: str) -> Flags:
        """Rows with this very name."""
        return self._code == self._names.index(name) if name in self._names else np.zeros(len(self._code), dtype=bool)

    def fill(self, rows: Flags, name: str) -> None:
        """Put a name into those of the rows that have none."""
        self._code[rows & self.free] = self._number(name)

    def column(self) -> pd.Categorical:
        return pd.Categorical.from_codes(self._code, categories=pd.Index(self._names, dtype="str"))


def _inside(raw: pd.DataFrame, micros: Ints, session: Session, shift: timedelta) -> Flags:
    """The rows of a session: of its files, within its shifted window; a row without a readable time is in no window."""
    inside = _of_files(raw, session) if session.files else np.ones(len(raw), dtype=bool)
    if session.start or session.end:
        inside &= micros != NOWHEN
    if session.start:
        inside &= micros >= schedule.since_1970(session.start + shift)
    if session.end:
        inside &= micros < schedule.since_1970(session.end + shift)
    return inside


def _of_files(table: pd.DataFrame, session: Session) -> Flags:
    source = table["source"].astype("category")
    hit = np.array([any(_is(str(name), pattern) for pattern in session.files) for name in source.cat.categories])
    return hit[source.cat.codes.to_numpy()] if len(hit) else np.zeros(len(table), dtype=bool)


def _is(source: str, pattern: str) -> bool:
    """Whether a source, named by as much of its path as tells it from the others, is meant by a path or glob."""
    parts = PurePosixPath(source).parts
    meant = PurePosixPath(Path(pattern).as_posix()).parts[-len(parts) :]
    return fnmatchcase("/".join(parts[-len(meant) :]), "/".join(meant))

"""What a study asks of a collection: which station, with which corrections, and what else the files hold."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pandas as pd

from reach import study as studies
from reach.archive import collection
from reach.archive import ledger as ledgers
from reach.archive.collection import Loaded
from reach.archive.ledger import Entry, Ledger
from reach.assign import owners
from reach.assign.owners import Direction, Owned
from reach.base import ways
from reach.errors import InputError
from reach.findings import Note, NoteCode
from reach.spots import AS_RECEIVED, SPOT
from reach.study import Study
from reach.vet import fixes, rules
from reach.vet.fixes import Applied, Fix


def mended(loaded: Loaded, asked: Sequence[Fix]) -> tuple[pd.DataFrame, Applied, npt.NDArray[np.int64]]:
    """The sound rows with the corrections that the user approved, and those that were refused for their locator and are
    sound with one; in the order of files and lines. With them which of the rows loaded each is as it came, -1 for those that
    were changed."""
    if not asked:
        return loaded.spots, Applied(), np.arange(len(loaded.spots))
    waiting = np.repeat([False, True], [len(loaded.spots), len(loaded.mendable)])
    whole = _below(loaded.spots, loaded.mendable)
    table, applied = fixes.apply(whole, asked)
    keep = ~waiting | table[AS_RECEIVED].notna().to_numpy()
    order = np.lexsort((table["line"].to_numpy(), table["source"].cat.codes.to_numpy()))
    rows = order[keep[order]]
    changed = table[AS_RECEIVED].notna().to_numpy()
    return rules.some_of(table, rows), applied, np.where(changed[rows], -1, rows)


def owned(table: pd.DataFrame, entries: Sequence[Entry], calls: Sequence[str], study: Study) -> Owned:
    """The rows of a station as `assign.own` would have them of the files: silent rows take the study's locator, and what else
    the files hold is set aside and told.

    table : rows of the station; entries : the files that hold some; calls : the station's callsigns
    """
    other: Counter[str] = Counter()
    for entry in entries:
        other.update({call: share.rows for call, share in entry.stations.items() if call not in calls})
    opposite = sum(entry.rows - sum(share.rows for share in entry.stations.values()) for entry in entries)
    ranked = dict(sorted(other.items(), key=lambda item: (-item[1], item[0])))
    way = {"direction": study.direction}
    notes = []
    if ranked:
        notes.append(Note(NoteCode.OTHERS_SET_ASIDE, {**way, "rows": sum(ranked.values()), "calls": ranked}))
    if opposite:
        notes.append(Note(NoteCode.OPPOSITE_SET_ASIDE, {**way, "rows": opposite}))
    own = rules.own_locator(study.station)
    if own is not None and table["tx_locator"].isna().any():
        filled = table["tx_locator"].astype("str").fillna(own)
        table = table.assign(tx_locator=filled.astype("category"))
    return Owned(table, Direction(study.direction), tuple(calls), ranked, opposite, table.iloc[:0], tuple(notes))


def whose(folder: Path, study: Study) -> tuple[str, ...]:
    """The callsigns of the station that a study is about: as it says, or the only one there is.

    InputError, with what there is, where the collection holds nothing of it, or several and none is named.
    """
    held = ledgers.read(folder)
    pair = tuple(owners.base(name) for name in study.compare.asked) if study.compare else ()
    if len(set(pair)) > 1 and all(held.holding([call], study.direction) for call in pair):
        return pair
    if study.station.callsign.strip():
        call = owners.base(study.station.callsign)
        if held.holding([call], study.direction):
            return (call,)
        raise InputError(f"{folder}: holds nothing that {call} {study.direction}; there is {_listed(held, study)}.")
    here = held.stations(study.direction)
    if len(here) == 1:
        return tuple(here)
    if not here:
        raise InputError(f"{folder}: holds no spots that a station {study.direction}.")
    raise InputError(
        f"{folder}: holds spots of {len(here)} stations: {_listed(held, study)}; say whose with {ways.asked('callsign')}."
    )


def _listed(held: Ledger, study: Study) -> str:
    """Some of those who are there, the most first."""
    here = list(held.stations(study.direction).items())[: owners.NAMED]
    return ", ".join(f"{call} ({rows:,} spots)" for call, rows in here) or "nothing"


def study_of(folder: Path, callsign: str | None = None) -> Study:
    """The study that lies in a collection, about it; a bare one where none does. StudyError where it is none.

    callsign : whom it is asked of, where that may be another station than its own
    """
    path = folder / collection.STUDY
    if not path.is_file():
        return Study(files=[str(folder)])
    study = studies.load(path).model_copy(update={"files": ["."]})
    return owners.asked_of(study, callsign, own=own(folder)) if callsign else study


def own(folder: Path) -> set[str]:
    """Whose files a collection holds, as it was said or seen when they were added."""
    return {call for entry in ledgers.read(folder).entries for call in entry.own}


def fixes_of(folder: Path) -> Path | None:
    """The corrections that lie in a collection; None where there are none."""
    path = folder / collection.FIXES
    return path if path.is_file() else None


def _below(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """Two tables of a collection below each other."""
    names = one["source"].cat.categories
    plain = [
        table.astype({name: "object" for name, (dtype, _) in SPOT.items() if dtype == "category"})
        for table in (one, other)
    ]
    whole = pd.concat([table for table in plain if len(table)] or plain[:1], ignore_index=True)
    return collection.as_vetted(whole.assign(source=pd.Categorical(whole["source"], categories=names)))

"""A study that grows into a collection, for the worker: its exports taken in, one taken out again, what was understood of one.

The exports stay in `spots/` as they came; the collection beside them holds their rows, read and judged once, and study.toml names it
instead of them. Everything that touches it is `reach.archive`'s.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reach import study as studies
from reach.base import beside
from reach.base.ways import Medium
from reach.desk import names
from reach.desk.shelf import COLLECTION, SPOTS, Kept
from reach.errors import OutputError, ReachError, StudyError
from reach.study import Study

if TYPE_CHECKING:
    import pandas as pd

    from reach.walk import Walk

Step = Callable[[str], None]


def grow(path: str, progress: Step) -> None:
    """Put the exports of a study into a collection, which it names from then on. StudyError where it is about more than its exports;
    where a file will not do, or it is cancelled, the study is as it was."""
    from reach.archive import collection

    kept, study = Kept(Path(path).parent), studies.load(path)
    exports = _exports(study, kept.exports)
    home = kept.folder / names.free(COLLECTION, [each.name for each in kept.folder.iterdir()])
    with beside.turn(kept.folder):
        beside.clear(kept.folder / COLLECTION)
    with beside.folder(kept.folder / COLLECTION) as made:  # which is locked itself, so that the collection grows within
        with collection.adding(made / COLLECTION):
            _add(made / COLLECTION, study, exports, progress)
        os.replace(made / COLLECTION, home)
    beside.settle(kept.folder)
    kept.name_files([home.name])


def _exports(study: Study, here: Sequence[str]) -> list[Path]:
    """Its exports by path, in their order. StudyError where it names others, or more of them than their rows."""
    if any(session.files for session in study.sessions):
        raise StudyError(
            "The sessions in study.toml name files of their own, which a collection does not tell apart; give them a start and an end."
        )
    named = [f"{SPOTS}/{name}" for name in here]
    if not named or set(study.files) != set(named):
        raise StudyError(
            f"study.toml names other files than those in {SPOTS}/: put them in here first, so that the collection has them all."
        )
    return [study.folder / name for name in study.files]


def _add(home: Path, study: Study, exports: Iterable[Path], progress: Step) -> None:
    from reach.archive import taking

    for each in exports:
        progress(f"reading {each.name}")
        taking.add(home, study, each)


def take_in(path: str, progress: Step) -> dict[str, str]:
    """Put the exports that wait into the collection. Returns why not, by name, of those that will not do; the others are in it."""
    from reach.archive import collection, ledger
    from reach.tell import files

    kept, study = Kept(Path(path).parent), studies.load(path)
    home, faults = _home(kept), {}
    with collection.adding(home):
        for name in kept.waiting:
            try:
                _add(home, study, [kept.folder / SPOTS / name], progress)
            except OutputError:
                raise  # it is the disc, and not the file
            except ReachError as error:
                faults[name] = error.said(Medium.SCREEN)
        for name in kept.waiting:
            if name not in faults:  # the same bytes are in it under another name
                sha256 = files.sha256(kept.folder / SPOTS / name)
                held = next(each for each in ledger.read(home).entries if each.sha256 == sha256)
                os.replace(kept.folder / SPOTS / name, kept.folder / SPOTS / held.file)
    return faults


def take_out(path: str, name: str) -> None:
    """Take an export out of the collection, and lay it beside the others; it can be put back."""
    kept = Kept(Path(path).parent)
    _leave(kept, name)
    kept.lay_beside(name)


def read_anew(path: str, name: str) -> None:
    """Take the rows of an export out of the collection, for it to be read again as the study says now."""
    _leave(Kept(Path(path).parent), name)


def _leave(kept: Kept, name: str) -> None:
    from reach.archive import collection, ledger

    home = _home(kept)
    with collection.adding(home):
        collection.remove(home, ledger.read(home).called(name))


def _home(kept: Kept) -> Path:
    home = kept.collection
    if home is None:
        raise StudyError("This study has no collection of its own any more; load the screen again.")
    return home


def alone(path: str, name: str) -> Study:
    """The study about one of its exports alone, as that was taken in. StudyError where it is not there any more."""
    kept, study = Kept(Path(path).parent), studies.load(path)
    if name not in kept.exports:
        raise StudyError(f"{names.plain(name, otherwise='this file')}: is not among the exports in {SPOTS}/ any more.")
    return studies.changed(study, files=[f"{SPOTS}/{name}"])


def set_aside(walk: Walk) -> tuple[pd.DataFrame, int]:
    """The rows of the exports that were neither accepted nor refused nor told twice, and how many rows are not here to be shown: of
    files that were put into the collection elsewhere."""
    import pandas as pd

    from reach.rows import Rows
    from reach.vet import ledger

    kept = Kept(walk.study.folder)
    here = {each.file for each in kept.collected} & set(kept.exports)
    if not here:
        return walk.raw.iloc[:0], walk.counts.set_aside
    study = walk.study.model_copy(update={"files": [f"{SPOTS}/{name}" for name in sorted(here)], "sessions": []})
    raw = Rows(study, now=walk.now).raw
    refused = walk.problems[ledger.is_rejected(walk.problems) | ledger.is_duplicate(walk.problems)]
    judged = pd.concat([each[["source", "line"]].astype(object) for each in (walk.vetted.spots, refused)])
    table = raw[
        ~pd.MultiIndex.from_frame(raw[["source", "line"]].astype(object)).isin(pd.MultiIndex.from_frame(judged))
    ]
    return table, walk.counts.set_aside - len(table)

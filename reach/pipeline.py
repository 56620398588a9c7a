"""The walk, a line a step: read, vet, place, measure, compare; then draw and tell."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from reach import study as studies
from reach.errors import StudyError
from reach.result import Result
from reach.study import Study

Progress = Callable[[str], None]


def _silent(step: str) -> None:
    """No progress told."""


def walk(
    study: Study, *, fixes: str | Path | None = None, now: datetime | None = None, progress: Progress = _silent
) -> Result:
    """From the files of a study to everything that can be said about them.

    study : who, where, which files
    fixes : corrections that the user approved, as written by `reach vet --write-fixes` and filled in
    now : no spot may be later; the clock's time where left out
    progress : told the name of each step
    Returns Result. ReachError, one sentence, where the input will not do.
    """
    from reach.compare import sessions
    from reach.measure import summary
    from reach.measure.tally import tally
    from reach.place import sky
    from reach.place.place import paths, place
    from reach.place.world import World
    from reach.radio import power
    from reach.read.table import read_files
    from reach.vet import fixes as corrections
    from reach.vet import rules, suspects

    progress("reading")
    raw, inputs = read_files(*_files(study), columns=study.options.columns, folder=study.folder)
    raw, fixed = corrections.apply(raw, corrections.read(fixes) if fixes else None)
    raw = sessions.by_file(raw, study)
    progress("vetting")
    vetted = rules.vet(raw, station=study.station, options=study.options, now=now)
    progress("placing")
    spots = sky.sky(place(sessions.by_time(vetted.spots, study)))
    progress("looking for suspects")
    found = suspects.find(spots, World())
    progress("counting")
    counted, geometry = tally(spots), paths(spots)
    budgets = power.budgets(study, frequencies_mhz(spots))
    progress("comparing")
    return Result(
        study=study,
        inputs=tuple(inputs),
        counts=vetted.counts,
        spots=spots,
        problems=in_file_order(vetted.problems, found.problems),
        suspects=found.suspects,
        receivers=summary.receivers(counted, geometry, found.standings),
        paths=geometry,
        tally=counted,
        summary=summary.summarise(counted, geometry, found.standings, power_w=powers(study, spots)),
        comparison=_comparison(study, spots, budgets),
        budgets=budgets,
        fixed_rows=fixed.rows,
        notes=(*fixed.notes, *sessions.notes(spots, study)),
    )

"""The walk, a line a step: read, vet, place, measure, compare; then draw and tell."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from reach import study as studies
from reach.errors import StudyError
from reach.findings import Counts, Findings, InputFile
from reach.spots import CORROBORATED
from reach.study import Study

if TYPE_CHECKING:
    from reach.suspects.find import Doubts
    from reach.vet.fixes import Applied
    from reach.vet.rules import Vetted

Progress = Callable[[str], None]


def _silent(step: str) -> None:
    """No progress told."""


def walk(
    study: Study, *, fixes: str | Path | None = None, now: datetime | None = None, progress: Progress = _silent
) -> Findings:
    """From the files of a study to everything that can be said about them.

    study : who, where, which files
    fixes : corrections that the user approved, as written by `reach vet --write-fixes` and filled in
    now : no spot may be later; the clock's time where left out
    progress : told the name of each step
    Returns Findings. ReachError, one sentence, where the input will not do.
    """
    from reach.assign import sessions
    from reach.measure import summary
    from reach.measure.tally import tally
    from reach.place.place import paths
    from reach.radio import power
    from reach.read.table import read_files

    progress("reading")
    raw, inputs = read_files(*_files(study), columns=study.options.columns, folder=study.folder)
    seen = _vouched(study, raw, fixes, now, progress)
    judged, spots, found = seen.judged, seen.spots, seen.found
    progress("counting")
    counted, geometry = tally(spots), paths(spots)
    budgets = power.budgets(study, frequencies_mhz(spots))
    progress("comparing, summing up")
    return Findings(
        study=study,
        inputs=tuple(inputs),
        counts=judged.counts,
        spots=spots,
        problems=in_file_order(seen.raw, judged.problems, found.problems),
        suspects=found.suspects,
        receivers=summary.receivers(counted, geometry, found.trust),
        paths=geometry,
        tally=counted,
        summary=summary.summarise(counted, geometry, found.trust, power=powers(study, spots, budgets)),
        comparison=_comparison(study, trusted_places(spots, found.trust), budgets, now),
        budgets=budgets,
        fixed_rows=seen.fixed.rows,
        notes=(*seen.fixed.notes, *sessions.notes(spots, study)),
    )


@dataclass(frozen=True)
class _Vouched:
    """Rows as the user mended them, what was mended, the rows judged, the accepted ones placed, and which are doubted."""

    raw: pd.DataFrame
    fixed: Applied
    judged: Vetted
    spots: pd.DataFrame
    found: Doubts


def _vouched(
    study: Study, raw: pd.DataFrame, fixes: str | Path | None, now: datetime | None, progress: Progress
) -> _Vouched:
    """From rows of text to spots of which is known where and by day or night they were, and how sure that is."""
    from reach.assign import sessions
    from reach.place.place import place
    from reach.suspects import find
    from reach.vet import fixes as corrections

    raw, fixed = corrections.apply(raw, corrections.read(fixes) if fixes else [])
    progress("vetting")
    judged = _judged(study, raw, now)
    progress("placing")
    from reach.place import daylight

    spots = daylight.daylight(place(sessions.by_time(judged.spots, study)))
    progress("looking for suspects")
    return _Vouched(raw, fixed, judged, spots, find.find(spots))


def run(
    study: Study | str | Path | Iterable[str | Path],
    *,
    out: str | Path | None = None,
    fixes: str | Path | None = None,
    style: str = "light",
    now: datetime | None = None,
    progress: Progress = _silent,
    **station: Any,
) -> Findings:
    """The whole walk, and the folder of pictures, tables and the page if one is wanted.

    study : a Study, a study file (.toml), a file of spots, or several
    out : folder to write; nothing is written where it is left out
    station : callsign, locator, power_w, where there is no study to say them
    Returns Findings. ReachError, one sentence, where the input will not do or the folder cannot be written.
    """
    from reach.tell import folder

    if out is not None:
        folder.check(Path(out))
    findings = walk(as_study(study, **station), fixes=fixes, now=now, progress=progress)
    if out is not None:
        folder.write(findings, out, style=style, progress=progress)
    return findings


def as_study(given: Study | str | Path | Iterable[str | Path], **station: Any) -> Study:
    """A Study from whatever was given: itself, a study file, or files of spots with the station's particulars."""
    if isinstance(given, Study):
        base = given
    elif isinstance(given, (str, Path)) and str(given).lower().endswith(".toml"):
        base = studies.load(given)
    else:
        base = Study(files=[str(given)] if isinstance(given, (str, Path)) else [str(name) for name in given])
    return studies.changed(base, station=station)


def frequencies_mhz(spots: pd.DataFrame) -> dict[str, float | None]:
    """The bands of the spots, with the median of the frequencies reported on each; None where none was."""
    medians = spots.groupby("band", observed=True)["freq_mhz"].median()
    return {str(band): None if pd.isna(mhz) else float(mhz) for band, mhz in medians.items()}


def in_file_order(raw: pd.DataFrame, *tables: pd.DataFrame) -> pd.DataFrame:
    """Problems from several steps as one table: by file in the order read, then by line."""
    both = pd.concat([table for table in tables if len(table)] or [tables[0]], ignore_index=True)
    order = {name: k for k, name in enumerate(raw["source"].cat.categories)}
    rank = both["source"].map(lambda name: order.get(name, len(order)))
    ordered = both.assign(_rank=rank).sort_values(["_rank", "line"], kind="stable", ignore_index=True)
    return ordered.drop(columns="_rank")


def trusted_places(spots: pd.DataFrame, trust: pd.DataFrame) -> pd.DataFrame:
    """Spots without distance, bearing and sky where the receiver's locator is not corroborated.

    A pair of reports needs no locator, so these count in a comparison; but in none of its rings and sectors.
    """
    from reach.measure import summary

    doubted = summary.trust_of(spots, trust) != CORROBORATED
    return spots.assign(**{name: spots[name].mask(doubted) for name in ("distance_km", "bearing_deg", "mid_day_night")})


def powers(study: Study, spots: pd.DataFrame, budgets: dict[tuple[str, str], Any]) -> dict[tuple[str, str], Any]:
    """Power by (setup, band) for figures per watt: at the antenna where the study tells enough, else at the radio.

    Where the study says nothing of power, the spots' own power is taken if all of a setup and band agree.
    """
    from reach.measure.summary import Power

    found = {}
    setup = spots["setup"].astype(object).where(spots["setup"].notna(), "")
    for (name, band), own in spots.groupby([setup, "band"], observed=True)["power_w"]:
        budget = budgets.get((str(name), str(band)))
        watts, at = budget.known if budget is not None else (None, "radio")
        if watts is None and own.notna().all() and own.min() == own.max():
            watts = float(own.iloc[0])
        found[str(name), str(band)] = Power(watts, at)
    return found


def _files(study: Study) -> list[str]:
    """The files of a study: those named on top, and those of its sessions."""
    named = [*study.files, *(name for session in study.sessions for name in session.files)]
    if not named:
        raise StudyError("the study names no files of spots; give them under `files`, or in its sessions.")
    return list(dict.fromkeys(named))


@dataclass(frozen=True)
class Checked:
    """Rows checked and nothing else: counts, files, problems in file order; suspects heaviest first, None where they
    could not be looked for because the station's locator is not known."""

    counts: Counts
    inputs: tuple[InputFile, ...]
    problems: pd.DataFrame
    suspects: pd.DataFrame | None


def vetted(study: Study, *, now: datetime | None = None, progress: Progress = _silent) -> Checked:
    """Read and check rows, and look for suspects where the station's locator is known; measure and draw nothing."""
    from reach.place.place import place
    from reach.read.table import read_files
    from reach.suspects import find

    progress("reading")
    raw, inputs = read_files(*_files(study), columns=study.options.columns, folder=study.folder)
    progress("vetting")
    found = _judged(study, raw, now)
    if found.spots["tx_locator"].isna().any():
        return Checked(found.counts, tuple(inputs), found.problems, None)
    progress("looking for suspects")
    doubts = find.find(place(found.spots))
    return Checked(found.counts, tuple(inputs), in_file_order(raw, found.problems, doubts.problems), doubts.suspects)


def compared(
    study: Study,
    *,
    a: str | None = None,
    b: str | None = None,
    control: str | None = None,
    power_difference_db: float | None = None,
    fixes: str | Path | None = None,
    now: datetime | None = None,
    progress: Progress = _silent,
) -> Any:
    """Only the comparison of two setups, without counting or drawing.

    a, b : names of the setups; those of the study's `compare` where left out
    control : file with the spots of a control station
    power_difference_db : power of A minus power of B at the antenna; from the study where left out
    fixes : corrections that the user approved, as for `walk`
    Returns compare.result.Comparison. StudyError where no setups are named.
    """
    asked = study.compare
    name_a, name_b = a or (asked.a if asked else None), b or (asked.b if asked else None)
    if not (name_a and name_b):
        raise StudyError("name the two setups with --a and --b, or in the study under [compare].")
    from reach.radio import power
    from reach.read.table import read

    progress("reading")
    raw = read(*_files(study), columns=study.options.columns, folder=study.folder)
    seen = _vouched(study, raw, fixes, now, progress)
    progress("comparing")
    spots = trusted_places(seen.spots, seen.found.trust)
    known = power.budgets(study, frequencies_mhz(spots))
    beside = control or (asked.control if asked else None)
    return _compared(study, spots, name_a, name_b, beside, known, now, power_db=power_difference_db)


def _comparison(study: Study, spots: pd.DataFrame, budgets: dict[tuple[str, str], Any], now: datetime | None) -> Any:
    """The comparison that the study asks for; None where it asks for none."""
    asked = study.compare
    return _compared(study, spots, asked.a, asked.b, asked.control, budgets, now) if asked else None


def _compared(
    study: Study,
    spots: pd.DataFrame,
    a: str,
    b: str,
    control: str | None,
    budgets: dict[tuple[str, str], Any],
    now: datetime | None,
    *,
    power_db: float | None = None,
) -> Any:
    from reach.compare.comparison import compare

    return compare(
        spots,
        a,
        b,
        power_difference_db=power_difference_db(spots, a, b, budgets) if power_db is None else power_db,
        control=_control(study, control, now) if control else None,
        decoding_limit_db=study.options.decoding_limit_db,
    )


def power_difference_db(spots: pd.DataFrame, a: str, b: str, budgets: dict[tuple[str, str], Any]) -> float | None:
    """Power of A minus power of B at the antenna, as the mean over the bands both were heard on; None if not known."""
    from reach.radio import power

    both = [band for band in spots["band"].cat.categories if (a, band) in budgets and (b, band) in budgets]
    known = [power.power_difference_db(budgets[a, band], budgets[b, band]) for band in both]
    sure = [value for value in known if value is not None]
    return sum(sure) / len(sure) if sure and len(sure) == len(known) else None


def _control(study: Study, name: str, now: datetime | None) -> pd.DataFrame:
    """The spots of a control station, read and vetted as any other."""
    from reach.place.place import place
    from reach.read.table import read

    return place(_judged(study, read(name, columns=study.options.columns, folder=study.folder), now).spots)


def _judged(study: Study, raw: pd.DataFrame, now: datetime | None) -> Vetted:
    """The rows of a study's file judged; setups that files tell are named first, so that they keep rows apart."""
    from reach.assign import sessions
    from reach.vet import rules

    return rules.vet(sessions.by_file(raw, study), station=study.station, options=study.options, now=now)


def tally_files(study: Study, *, executor: Executor | None = None, now: datetime | None = None) -> tuple[Any, Counts]:
    """Count a study's files one by one, or many at a time on other processes or machines, and add the counts up.

    executor : anything with the standard library's Executor interface, such as ProcessPoolExecutor, or
        `distributed.Client(...).get_executor()` for a cluster (the `cluster` extra); this process where left out
    now : no spot may be later; the clock's time where left out
    Returns (Tally, Counts) of all files. Duplicates are looked for within a file only, suspects not at all.
    """
    from reach.measure.tally import merge
    from reach.read import sources

    names = [str(path) for path in sources.expand(_files(study), study.folder)]
    jobs = [(study, name, now) for name in names]
    parts = list(executor.map(_tally_file, jobs) if executor else map(_tally_file, jobs))
    return merge(part for part, _ in parts), sum((counts for _, counts in parts), Counts(0, 0, 0, 0))


def _tally_file(job: tuple[Study, str, datetime | None]) -> tuple[Any, Counts]:
    """One file's tally and counts, in a process of its own if need be."""
    from reach.assign import sessions
    from reach.measure.tally import tally
    from reach.read.table import read

    study, name, now = job
    judged = _judged(study, read(name, columns=study.options.columns, folder=study.folder), now)
    return tally(sessions.by_time(judged.spots, study)), judged.counts

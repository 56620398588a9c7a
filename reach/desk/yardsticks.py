"""Control stations, the level over weeks and the log of the station, in the worker: what may serve, what the study says, what a form changes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach import study as studies
from reach.base.ways import Medium
from reach.desk import stale
from reach.desk.shelf import CONTROLS, Kept
from reach.errors import ReachError, StudyError

if TYPE_CHECKING:
    from reach.study import Comparison
    from reach.walk import Walk

LOG: Final = ("date", "done", "swr")


def table(path: Path) -> dict[str, Any]:
    """What the study says of them, as a form has it.

    Returns `two` (whether it compares two setups, which alone can have controls), `control` and `yardstick` (names chosen for the
    comparison and for the level), `season` and `watch`, `log`, `files` of controls that lie in the study's folder, and `stamp`.
    """
    study = studies.load(path)
    season, compare = study.season, study.compare
    return {
        "two": compare is not None and compare.two is not None,
        "control": list(compare.controls) if compare else [],
        "yardstick": list(season.controls) if season else [],
        "season": season is not None,
        "watch": season is not None and season.watch,
        "log": [
            {"date": each.date.isoformat(), "done": each.done, "swr": "" if each.swr is None else f"{each.swr:g}"}
            for each in study.log
        ],
        "files": [f"{CONTROLS}/{name}" for name in Kept(path.parent).controls],
        "stamp": stale.stamp(study.source),
    }


def near(walk: Walk, files: Sequence[str]) -> list[dict[str, Any]]:
    """Who may serve: stations whose rows were set aside, and files of controls, those that serve best first.

    Returns of each `name`, `rows` of reports, `fit` (a code of `compare.control.Suits`; blank of what was heard, where a control is
    another antenna in the same place), `away` and `receivers` in words, and `fault` where a file cannot be read.
    """
    from reach.base.words import DESK
    from reach.compare import control

    spots, faults = {}, {}
    for name in [*list(walk.owned.other)[: control.MOST], *files]:
        try:
            spots[name] = walk.control(name)
        except ReachError as error:
            faults[name] = error.said(Medium.SCREEN)
    found = control.neighbours(walk.vetted.spots, spots)
    heard = walk.study.direction == "heard"
    return [
        *(
            {
                "name": each.call,
                "rows": len(spots[each.call]),
                "fit": "" if heard else str(each.fit),
                "away": DESK.km(each.distance_km) if each.distance_km == each.distance_km else "",
                "receivers": DESK.things(each.receivers, "receiver"),
                "fault": "",
            }
            for each in found
        ),
        *(
            {"name": name, "rows": 0, "fit": "", "away": "", "receivers": "", "fault": said}
            for name, said in faults.items()
        ),
    ]


def keep(path: Path, shown: str, form: Mapping[str, Any]) -> dict[str, str]:
    """Put a form into the study, its comments kept. Returns faults by field ('3-date'); with any, nothing is changed.

    shown : the form's stamp; form : `control`, `yardstick`, `season`, `watch`, and `log` as typed, blank rows being none
    """
    from reach.tell import study_file

    study = studies.load(path)
    stale.check(shown, study.source)
    faults: dict[str, str] = {}
    log = [_entry(k, row, faults) for k, row in enumerate(form["log"], 1) if any(row.values())]
    if faults:
        return faults
    changes: dict[str, Any] = {"log": log}
    changes["season"] = {"controls": list(form["yardstick"]), "watch": form["watch"]} if form["season"] else None
    if study.compare is not None and study.compare.two is not None:
        changes["compare"] = _with_controls(study.compare, form["control"])
    study_file.rewrite(path, studies.changed(study, **changes))
    return {}


def take_out(path: Path, name: str) -> None:
    """Take the export of a control station out of the study: chosen no more, and laid beside the others; it can be put back.

    name : among `Kept.controls`; nothing changes where it is not
    """
    from reach.tell import study_file

    kept, study = Kept(path.parent), studies.load(path)
    if name not in kept.controls:
        return
    changes: dict[str, Any] = {}
    if study.compare is not None and (left := _without(study, study.compare.controls, name)) is not None:
        changes["compare"] = _with_controls(study.compare, left)
    if study.season is not None and (left := _without(study, study.season.controls, name)) is not None:
        changes["season"] = {**study.season.model_dump(), "controls": left}
    if changes:
        study_file.rewrite(path, studies.changed(study, **changes))
    kept.lay_control_beside(name)


def _without(study: studies.Study, named: Sequence[str], name: str) -> list[str] | None:
    """The stations named but for one export of controls; None where that is not among them."""
    left = [each for each in named if study.folder / each != study.folder / CONTROLS / name]
    return left if len(left) < len(named) else None


def _with_controls(compare: Comparison, named: Sequence[str]) -> dict[str, Any]:
    """What is compared, beside these stations."""
    control = None if not named else named[0] if len(named) == 1 else list(named)
    return {**compare.model_dump(), "control": control}


def _entry(number: int, row: Mapping[str, str], faults: dict[str, str]) -> dict[str, Any]:
    """A row of the log as a study has it; what is wrong with it goes into `faults`."""
    told: dict[str, Any] = {"done": row["done"]}
    try:
        told["date"] = date.fromisoformat(row["date"])
    except ValueError:
        faults[f"{number}-date"] = f"{row['date']!r} is no day; wanted one such as 2026-05-16."
    try:
        told["swr"] = float(row["swr"].replace(",", ".")) if row["swr"] else None
    except ValueError:
        faults[f"{number}-swr"] = f"{row['swr']!r} is no SWR; wanted a number such as 1.3, or nothing."
    if not row["done"]:
        faults[f"{number}-done"] = "Say what was done, in your own words."
    if not any(field.startswith(f"{number}-") for field in faults):
        try:
            studies.check({"log": [told]})
        except StudyError as error:
            field = next((name for name in LOG if f"'log.0.{name}'" in str(error)), LOG[0])
            faults[f"{number}-{field}"] = str(error).partition(f"'log.0.{field}': ")[2] or str(error)
    return told

"""Doubtful locators as the screen shows them: cards with a small map, rows of what is malformed, what was decided.

For the worker: it loads what a walk loads. All words about a locator are those of `tell.sentences`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from reach.errors import StudyError

if TYPE_CHECKING:
    import pandas as pd

    from reach.study import Study
    from reach.walk import Walk

FIXES: Final = "fixes.csv"
A_PAGE: Final = 12  # cards
_MOST_MALFORMED: Final = 200
_RIVALS_DRAWN: Final = 3


def file_of(study: Study) -> Path:
    """Where the decisions of a study stand: as it says, else beside it. StudyError where that is another folder."""
    path = study.folder / (study.fixes or FIXES)
    if path.resolve().parent != study.folder.resolve():
        raise StudyError(f"{path}: lies outside the study's folder, so that it is yours to edit.")
    return path


def shown(walk: Walk, start: int) -> dict[str, Any]:
    """Everything on the screen.

    start : the first card
    Returns plain values: `placed` (whether the station's place is known), `cards` and `of` (how many there are), `malformed` and
    `malformed_of`, `decided` (the last one first), `mended` (rows that were changed).
    """
    from reach.vet import fixes

    kept = fixes.rows(walk.rows.fixes) if walk.rows.fixes else []
    made = [row for row in kept if fixes.is_decided(row)]
    known = {_about(row["callsign"], row["locator"]) for row in made}
    unmatched = {(note.values["call"], note.values["locator"]) for note in walk.rows.applied.notes}
    told = _malformed(walk)
    malformed = [row for row in told if _about(row["callsign"], row["locator"]) not in known]
    cards: list[dict[str, Any]] = []
    of = 0
    if walk.can_place and len(walk.vetted.spots):
        table = walk.suspects
        open_ = [
            _about(*pair) not in known
            for pair in zip(table["rx_call"].astype(str), table["rx_locator"].astype(str), strict=True)
        ]
        of = sum(open_)
        start = min(start, max(of - 1, 0) // A_PAGE * A_PAGE)  # the last page, once all of a page are decided
        page = table[open_].iloc[start : start + A_PAGE]
        cards = [_card(row, walk) for row in page.to_dict("records")]
    return {
        "placed": walk.can_place,
        "cards": cards,
        "of": of,
        "start": start,
        "a_page": A_PAGE,
        "malformed": malformed[:_MOST_MALFORMED],
        "malformed_of": len(malformed),
        "decided": [_decision(row, unmatched) for row in reversed(made)],
        "mended": walk.rows.applied.rows,
    }


def decide(path: str, **row: str) -> None:
    """Write a decision into the study's file of corrections, which the study then names.

    path : of the study; row : as `reach.vet.fixes.decided` takes it
    """
    from reach import study as studies
    from reach.tell import files, study_file, tables
    from reach.vet import fixes

    study = studies.load(path)
    target = file_of(study)
    table = fixes.table(fixes.decided(fixes.rows(target), row))
    with files.taking_the_place_of(target, replace=True) as partial:
        tables.write_csv(table, partial)
    if study.fixes is None:
        study_file.rewrite(Path(path), studies.changed(study, fixes=target.name))


def _about(call: str, locator: str) -> tuple[str, str]:
    return " ".join(call.split()).upper(), " ".join(locator.split()).upper()


def _decision(row: Mapping[str, str], unmatched: Collection[tuple[Any, Any]]) -> dict[str, Any]:
    said = row["accept"].strip()
    becomes = {"yes": row["suggestion"], "y": row["suggestion"], "no": "", "n": ""}.get(said.lower(), said)
    return {
        "call": row["callsign"],
        "locator": row["locator"],
        "becomes": becomes,
        "suggestion": row["suggestion"],
        "unmatched": _about(row["callsign"], row["locator"]) in unmatched,
    }


def _malformed(walk: Walk) -> list[dict[str, str]]:
    """Locators for which rows were refused, one row each, the most frequent first."""
    from reach.base.words import DESK
    from reach.tell.sentences import direction, problems
    from reach.vet import fixes, ledger

    refused = walk.problems[ledger.is_rejected(walk.problems)]
    table = fixes.suggestions(problems.written(refused, say=DESK, way=direction.ends(walk.study)))
    table = table.sort_values("rows", ascending=False, kind="stable")
    return [{str(name): str(value) for name, value in row.items()} for row in table.to_dict("records")]


def _card(suspect: dict[Any, Any], walk: Walk) -> dict[str, Any]:
    from reach.base.words import DESK
    from reach.tell.sentences import suspects as sentences

    return {
        "callsign": str(suspect["rx_call"]),
        "locator": str(suspect["rx_locator"]),
        "suggestion": str(suspect["suggestion"]),
        "competing": str(suspect["competing"]).split(),
        "rows": str(suspect["reports"]),
        "sentence": sentences.sentence(suspect, say=DESK),
        "meant": sentences.suggestion(suspect, say=DESK),
        "weight": sentences.weight(suspect, say=DESK),
        "evidence": sentences.in_the_balance(suspect["evidence"], say=DESK),
        "map": _map(suspect, walk.vetted.spots),
    }


def _map(suspect: Mapping[Any, Any], spots: pd.DataFrame) -> dict[str, Any]:
    from reach.base import locator
    from reach.desk import sketch

    heard = (spots["rx_call"] == suspect["rx_call"]) & (spots["rx_locator"] == suspect["rx_locator"])
    (home_lon,), (home_lat,) = locator.centre([str(spots["tx_locator"].to_numpy()[heard.to_numpy().argmax()])])
    marks = [sketch.Mark("claimed", str(suspect["rx_locator"]), *_place(suspect, "claimed"))]
    if suspect["suggestion"]:
        marks.append(sketch.Mark("likely", str(suspect["suggestion"]), *_place(suspect, "probable")))
    else:
        rivals: Sequence[str] = str(suspect["competing"]).split()[:_RIVALS_DRAWN]
        for name, lon, lat in zip(rivals, *locator.centre(rivals), strict=True):
            marks.append(sketch.Mark("rival", name, float(lon), float(lat)))
    return sketch.sketch(float(home_lon), float(home_lat), marks)


def _place(suspect: Mapping[Any, Any], which: str) -> tuple[float, float]:
    return float(suspect[f"{which}_lon_deg"]), float(suspect[f"{which}_lat_deg"])

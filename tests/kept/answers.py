"""What every stage of the walk answers to a study, as plain values that a person can read in a difference of two files.

A short table stands column by column; of a long one each column is told by its `digest`, which another number, another order or another
text changes.
"""

from __future__ import annotations

import dataclasses
import json
import math
import zlib
from collections import Counter
from collections.abc import Iterator, Mapping
from enum import Enum
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from reach.compare import compare, control, plan
from reach.measure import conditions, frame
from reach.place import wrong_light
from reach.spots import CARRIED, SUSPECT
from reach.walk import Walk, walk
from tests.kept.functions import functions
from tests.kept.studies import FIRST, STUDIES

FUNCTIONS: Final = "functions"
NAMES: Final = (*STUDIES, FUNCTIONS)
KEPT: Final = Path(__file__).with_name("answers")
SUM, ORDER = "+", "#"  # in a digest: the sum, and what hangs on the order
# Other versions of libraries add up in another order. NEAR is relative, and of what is nearly 0 absolute.
DIGITS, NEAR = 8, 2e-7
EXACT, NEARER = 12, 1e-10  # of sums, in which one number should not drown
SHORT: Final = 14  # rows of a table that is kept whole
LONG: Final = 36  # what else there is of one kind
WIDE: Final = 150  # characters of a line
PLANNED: Final = ("evening", "short_session", "fiji", "few", "year")  # a plan is dear


def answers(name: str, folder: Path) -> dict[str, Any]:
    """All answers to a study, or of plain functions. folder : where its files may be written"""
    found = functions() if name == FUNCTIONS else _of_study(name, folder)
    plain: dict[str, Any] = json.loads(json.dumps(_plain(found)).replace(f"{folder}/", ""))
    return plain


def _of_study(name: str, folder: Path) -> dict[str, Any]:
    for file, text in STUDIES[name]().items():
        (folder / file).write_text(text, encoding="utf-8")
    w = walk(folder / "study.toml")
    spots = w.spots if w.can_place else w.vetted.spots
    found = {
        "rows": {
            **w.counts.numbers,
            "own": w.owned.own,
            "other": w.owned.other,
            "opposite": w.owned.opposite,
            "outside": w.rows.outside,
        },
        "region": w.rows.options.itu_region,
        "problems": {
            "rules": Counter(f"{row.severity} {row.rule}" for row in w.problems.itertuples()),
            "rows": _table(w.problems.drop(columns=["source", "kept_source", "evidence"]), 40),
        },
        "spots": _table(spots.drop(columns=["source"])),
        **(_placed(w, spots) if w.can_place else {}),
        **_compared(w, spots),
        "neighbours": control.neighbours(w.vetted.spots, {call: w.rows.set_aside(call) for call in w.owned.other}),
    }
    if name in PLANNED:
        found["plan"] = plan.plan(w.vetted.spots, half_width_db=0.7, block_min=5, bands=["40m", "20m"])
    return found


def _placed(w: Walk, spots: pd.DataFrame) -> dict[str, Any]:
    pooled = {"by_hour": w.tally.pooled.by_hour, "by_level": w.tally.pooled.by_level, "busiest": w.tally.pooled.busiest}
    receivers = w.findings.receivers
    return {
        "suspects": w.doubts.suspects,
        "doubtful": w.doubts.notes,
        "receivers": receivers,
        "notes": [[each.code, each.values] for each in w.notes],
        "map_km": frame.opens_km(receivers["distance_km"], receivers["reports"]),
        "wrong_light": [wrong_light.wrong_light(spots), wrong_light.wrong_shares(spots)],
        "tally": {
            "cells": w.tally.cells,
            "timeline": w.tally.timeline,
            "busiest_utc": w.tally.pooled.busiest_utc,
            **{
                name: table.drop(columns=[each for each in CARRIED if each != "trust"])
                for name, table in pooled.items()
            },
        },
        "budgets": {f"{setup} {band}": each for (setup, band), each in w.budgets.items()},
        "reach": _reach(w),
        "calendar": w.calendar,
        "conditions": _conditions(spots) if w.study.compare is None else None,
    }


def _reach(w: Walk) -> dict[str, Any]:
    """Of its parts less; and least where the study is one that compares."""
    found = {**w.reach.to_dict(), "claims": w.reach.claims, "claims of all": w.reach.all.claims}
    found["all"]["overall"] = _shortened(found["all"]["overall"])
    for name in ("all", "corroborated"):
        block, whole = found[name], name == "corroborated" and w.study.compare is None
        for part in ("by_band", "by_setup"):
            block[part] = {key: _shortened(each) if whole else _told(each) for key, each in block[part].items()}
        block["by_band_and_setup"] = [_told(each) for each in block["by_band_and_setup"]]
    return found


def _shortened(figures: Mapping[str, Any]) -> dict[str, Any]:
    """Hours, sectors and rings by their digests."""
    return {
        name: _told(each) if name in ("by_hour", "hours", "by_sector", "by_ring") else each
        for name, each in figures.items()
    }


def _told(value: Any) -> Any:
    """All its numbers and all its texts by their digests."""
    every = [_leaf(each) for _, each in _leaves("", value)]
    numbers = pd.Series([None if isinstance(each, str) else each for each in every], dtype=float)
    texts = [each for each in every if isinstance(each, str)]
    return [digest(numbers), *([digest(pd.Series(texts, dtype=object))] if texts else [])]


def _conditions(spots: pd.DataFrame) -> dict[str, Any]:
    sound = conditions.numbered(spots[(spots["trust"] != SUSPECT).to_numpy()])
    every = (
        conditions.by_solar_hour,
        conditions.by_darkness,
        conditions.by_ends,
        conditions.best_hours,
        conditions.skip,
    )
    return {each.__name__: _table(each(sound)) for each in every}


def _compared(w: Walk, spots: pd.DataFrame) -> dict[str, Any]:
    if w.can_place:
        return {"comparison": w.comparison, "several": w.several, "season": w.season, "clock": w.clock}
    return {"comparison": compare(spots, *w.study.compare.asked) if w.study.compare else None}


# --- plain --------------------------------------------------------------------------------------------------------------------


def _plain(value: Any) -> Any:
    if isinstance(value, pd.DataFrame):
        return _table(value)
    if isinstance(value, pd.Series):
        return digest(value)
    if dataclasses.is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, list | tuple | np.ndarray):
        if len(value) and all(dataclasses.is_dataclass(each) or isinstance(each, dict) for each in value):
            rows = [_plain(each) for each in value]
            if all(list(each) == list(rows[0]) for each in rows):
                return _table(
                    pd.DataFrame({name: pd.Series([each[name] for each in rows], dtype=object) for name in rows[0]}),
                    LONG,
                )
        return [_plain(each) for each in value] if len(value) <= LONG else digest(pd.Series(list(value), dtype=object))
    return _leaf(value)


def _leaf(value: Any) -> Any:
    if isinstance(value, Enum):
        return str(value.value)
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, float | np.floating):
        return float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None if math.isnan(value) else str(value)
    if isinstance(value, int | np.integer):
        return int(value)
    return str(value)


def _table(table: pd.DataFrame, most: int = SHORT) -> dict[str, Any]:
    """Columns without any value are left out."""
    if not len(table):
        return {"rows": 0}
    there = {str(name): table[name] for name in table if table[name].notna().any()}
    if len(table) > most:
        return {"rows": len(table), **{name: digest(column) for name, column in there.items()}}
    columns = {name: [_plain(each) for each in column.astype(object)] for name, column in there.items()}
    # A column that says the same in every row says it once.
    once = {name: len(set(map(str, values))) == 1 < len(table) for name, values in columns.items()}
    return {
        "rows": len(table),
        **{name: {"all": values[0]} if once[name] else values for name, values in columns.items()},
    }


def digest(column: pd.Series) -> dict[str, Any]:
    """Many values told by few. Of numbers and moments (in minutes) their sum, and their sum weighted by their place; of texts and lists how
    often each is there, or how many there are, and a number that hangs on their order; of both how many are missing, where some are."""
    missing = {"missing": int(column.isna().sum())} if column.isna().any() else {}
    if isinstance(column.dtype, pd.DatetimeTZDtype):
        column = (column.dt.tz_convert(None) - pd.Timestamp(FIRST)).dt.total_seconds() / 60
    if pd.api.types.is_numeric_dtype(column.dtype):
        numbers = column.to_numpy(float, na_value=np.nan)
        there, place = ~np.isnan(numbers), np.arange(len(numbers)) % 97 + 1
        sums = (math.fsum(each[there]) for each in (numbers, numbers * place))
        return {**{name: float(f"{each:.{EXACT}g}") for name, each in zip((SUM, ORDER), sums, strict=True)}, **missing}
    texts = [
        "" if gone else each if isinstance(each, str) else json.dumps(_plain(each))
        for each, gone in zip(column.astype(object), column.isna(), strict=True)
    ]
    many = Counter(texts)
    counts = dict(sorted(many.items())) if len(many) <= 6 else {"different": len(many)}
    return {**counts, ORDER: f"{zlib.crc32(chr(10).join(texts).encode()):08x}", **missing}


# --- kept and compared -----------------------------------------------------------------------------------------------------


def written(value: Any, depth: int = 0) -> str:
    """JSON, what fits on a line on one."""
    line = json.dumps(value, ensure_ascii=False)
    if not isinstance(value, dict) or not value or len(line) + depth <= WIDE:
        return line
    pad = " " * (depth + 1)
    lines = [f"{pad}{json.dumps(name, ensure_ascii=False)}: {written(each, depth + 1)}" for name, each in value.items()]
    return "{\n" + ",\n".join(lines) + "\n" + " " * depth + "}"


def differences(kept: Any, now: Any) -> Iterator[str]:
    """Which leaf has become what."""
    before, after = dict(_leaves("", kept)), dict(_leaves("", now))
    for name in [*before, *(each for each in after if each not in before)]:
        one, other = before.get(name, "nothing"), after.get(name, "nothing")
        if not _same(one, other, NEARER if name.endswith((f" {SUM}", f" {ORDER}")) else NEAR):
            yield f"{name}: {one} has become {other}"


def _same(one: Any, other: Any, near: float) -> bool:
    numbers = all(isinstance(each, int | float) and not isinstance(each, bool) for each in (one, other))
    return (
        math.isclose(one, other, rel_tol=near, abs_tol=NEAR) if numbers else type(one) is type(other) and one == other
    )


def _leaves(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict | list) and value:
        for key, each in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _leaves(f"{name} / {key}" if name else str(key), each)
    else:
        yield name, value if not isinstance(value, dict | list) else str(value)

"""What plain functions answer over a grid: thresholds, laws of hours and half-widths, the sun, who lives where."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd

from reach.base import locator
from reach.compare import design, several
from reach.compare.season import change, judge
from reach.measure import claims, frame, grain
from reach.place import path, region, sun, world
from reach.suspects import transcription

CALLS = (
    "G4QUY",
    "DL1QRC",
    "W6QTB",
    "VK2QTD",
    "EA8QUD",
    "KH6QTF",
    "UA9QUE",
    "OJ0QUB",
    "KC4QTB",
    "4U1QUC",
    "3D2QTB",
    "QUY",
)
LOCATORS = ("IO83pm", "JN58td", "RA00aa", "AR99xx", "JJ00", "QF56kd")


def functions() -> dict[str, Any]:
    lon, lat = (each.ravel() for each in np.meshgrid(np.arange(-179.0, 180, 7), np.arange(-88.0, 90, 7)))
    when = pd.date_range("1950-01-01", "2150-01-01", periods=60, tz="UTC")
    return {
        "step threshold": {n: [change.step_threshold(n), change.step_threshold(n, watch=True)] for n in range(20, 200, 8)},
        "spell threshold": {n: change.spell_threshold(n) for n in range(20, 200, 8)},
        "hours needed": _laws(design.hours_needed, (0.5, 1.0, 2.0)),
        "half width": _laws(design.half_width_db, (1.0, 4.0, 24.0, 100.0)),
        "more hours": [design.more_hours(together, 10.0, 4.0, 2.0, half) for together in (True, False) for half in (0.5, 1.0, 1.9)],
        "attainable step": {days: judge.attainable(days, since, 1.5) for days, since in ((20, 20), (40, 12), (90, 2), (400, 400))},
        "cautious": [several.cautious(minutes) for minutes in (5, 14, 20, 30, 60, 90)],
        "by lot": [claims.by_lot(each) for each in ([9, 8, 7], [9, -1, 3, 3, 3, 3], np.arange(-3.0, 20), np.ones(30))],
        "grain": {days: grain.grain(20_513, 20_513 + days - 1) for days in (10, 11, 119, 120, 121, 830, 845, 3600, 3700, 4300, 4500)},
        "steps": {unit: grain.number(unit, [0, 3, 4, 365, 20_513]).tolist() for unit in grain.Unit},
        "first day of week 2900": str(grain.as_date(grain.first_day(grain.Unit.WEEK, [2900])[0]) or date.min),
        "map opens": [frame.opens_km([300.0 * k, 900.0 * k, 40.0], [4, 5, 60 - k]) for k in range(1, 22, 2)],
        "sun": np.column_stack([*sun.subsolar(when), sun.elevation_deg(when, 10.0, 50.0)]).round(7).tolist(),
        "region": _counted([region.region(*each) for each in zip(lon, lat, strict=True)]),
        "countries": _counted(world.countries_at(lon, lat)),
        "land": {count: _counted(world.on_land(lon, lat, count)) for count in (4, 6)},
        "who may live there": {call: _counted(world.agrees([call] * len(lon), lon, lat, [6] * len(lon))) for call in CALLS},
        "roams": world.roams(CALLS).tolist(),
        "afloat": world.afloat(CALLS).tolist(),
        "cells": path.cell_radius_km(LOCATORS).tolist(),
        "bearing within": path.bearing_within_deg([0.0, 5.0, 50.0, 5000.0, 20_000.0], [4.0, 8.0, 80.0, 8.0, 300.0]).tolist(),
        "paths": np.column_stack(path.inverse(np.full(len(lon), -2.7), np.full(len(lon), 53.5), lon, lat))[::40].tolist(),
        "relations": [str(each) for each in transcription.relations(LOCATORS[:2] * 3, ["IO38pm", "JN58dt", "IO83pn", "NJ58td", "OI83pm", "JN57td"])],
        "candidates": _candidates(),
        "centres": [each.tolist() for each in locator.centre(LOCATORS)],
    }  # fmt: skip


def _laws(law: Any, last: tuple[float, ...]) -> dict[str, list[float]]:
    return {
        f"{'at once' if together else f'{block:g} min'}, {receivers} receivers": [law(together, block, receivers, each) for each in last]
        for together, block in ((True, 2.0), *((False, length) for length in (1.0, 2.0, 5.0, 10.0, 30.0, 60.0)))
        for receivers in (3, 8, 20, 100)
    }  # fmt: skip


def _counted(values: Any) -> pd.Series:
    return pd.Series([None if each is None else str(each) for each in values], dtype=object)


def _candidates() -> dict[str, Any]:
    found = transcription.candidates(["IO83pm", "JN58td", "JO62"])
    return {
        "there": found.there.sum(axis=1).tolist(),
        "kind": np.bincount(found.kind).tolist(),
        "prior": np.where(found.there, np.exp(found.log_prior()), 0).sum(axis=1).tolist(),
        "values": (found.values * found.there[..., None]).sum(axis=(1, 2)).tolist(),
    }

"""No number changes unnoticed. What a study holds stands at its function in `studies`; each is a test of its own, so that a failure names
what else is alike. After a change that was meant: `python -m tests.kept`, look at the difference, and say in the changelog why."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest

from tests.kept.answers import KEPT, NAMES, answers, differences, digest, written
from tests.kept.studies import STUDIES

MOST_TOLD = 12


def _test(name):
    def test(tmp_path):
        kept = json.loads((KEPT / f"{name}.json").read_text(encoding="utf-8"))
        found = list(differences(kept, answers(name, tmp_path)))
        told = "\n  ".join(
            [*found[:MOST_TOLD], *([f"and {len(found) - MOST_TOLD} more"] if len(found) > MOST_TOLD else [])]
        )
        assert not found, f"answers to {name!r} are others:\n  {told}"

    test.__doc__ = STUDIES[name].__doc__ if name in STUDIES else None
    return test


# Not by a parameter: each takes its own time, and by that the mutants choose.
globals().update({f"test_{name}": _test(name) for name in NAMES})


def test_an_answer_is_kept_to_every_study_and_no_other():
    assert {path.stem for path in KEPT.iterdir()} == set(NAMES)


def test_what_has_changed_is_told_by_its_name():
    kept = {"a": {"b": [1.0, 2.0], "c": "x"}, "d": True, "e": None, "gone": 1}
    now = {"a": {"b": [1.0, 2.1], "c": "x"}, "d": 1, "e": None, "new": {}}
    assert list(differences(kept, now)) == [
        "a / b / 1: 2.0 has become 2.1",
        "d: True has become 1",
        "gone: 1 has become nothing",
        "new: nothing has become {}",
    ]
    assert not list(differences({"a": 1.0}, {"a": 1 + 1e-8}))
    assert list(differences({"a": 1.0}, {"a": 1 + 1e-5}))


@pytest.mark.parametrize(
    ("values", "others"),
    [
        (np.arange(50.0), np.arange(50.0)[::-1]),
        (np.arange(50.0), np.r_[np.arange(49.0), np.nan]),
        (["a", "b"] * 20, ["b", "a"] * 20),
        (["a", None] * 20, ["a", ""] * 20),
        ([(1, 2)] * 40, [(1, 3), *[(1, 2)] * 39]),
        (pd.date_range("2026-01-01", periods=40, tz="UTC"), pd.date_range("2026-01-01T00:00:01", periods=40, tz="UTC")),
    ],
)
def test_another_value_or_order_has_another_digest(values, others):
    one, other = (digest(pd.Series(each)) for each in (values, others))
    assert list(differences(one, other)) and not list(differences(one, digest(pd.Series(values))))


def test_what_is_written_is_read_back():
    value = {"a": {"b": [[1, 2], {"c": "ü"}] * 40, "d": {}}, "e": list(range(100))}
    assert json.loads(written(value)) == value

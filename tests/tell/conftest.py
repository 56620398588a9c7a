"""Shared by the tests of what is told."""

from __future__ import annotations

from collections.abc import Iterator

import pandas as pd
import pytest

from reach.compare import plan


@pytest.fixture(scope="package", autouse=True)
def _planned_once() -> Iterator[None]:
    """What a plan takes from a table of spots is worked out once for each table: every deck ends with a plan, in every language and
    style with that of the same spots. How it is worked out: tests/compare/test_plan.py."""
    seen: dict[tuple[int, int], tuple[pd.DataFrame, plan.Earlier]] = {}

    def once(spots: pd.DataFrame, seed: int) -> plan.Earlier:
        if (id(spots), seed) not in seen:
            seen[id(spots), seed] = spots, worked_out(spots, seed)  # which keeps the table, and so its number
        return seen[id(spots), seed][1]

    with pytest.MonkeyPatch.context() as patch:
        worked_out = plan._seen
        patch.setattr(plan, "_seen", once)
        yield

"""Shared by all tests: how Hypothesis searches, pictures without a screen, the demo's walks and pictures, made once."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from reach.walk import Walk

os.environ.setdefault("MPLBACKEND", "agg")
settings.register_profile(
    "reach", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("reach")

SAMPLES = Path(__file__).parents[1] / "sample_spots"
STUDIES = ("evening", "weekend", "messy")
NOW = datetime(2026, 11, 1, tzinfo=UTC)


@pytest.fixture(scope="session")
def walks() -> dict[str, Walk]:
    """The walk of each demo study, by name. A stage is worked out when a test first asks for it, and never again: change
    nothing in them."""
    from reach.walk import walk

    return {name: walk(SAMPLES / f"{name}.toml", now=NOW) for name in STUDIES}


@pytest.fixture(scope="session")
def drawn(walks) -> Callable[[str, str], Figure]:
    """A picture of a demo study, by the study's and the picture's name, drawn once: change nothing in it. KeyError where
    the study has no such picture."""
    from reach.draw import gallery

    @cache
    def of(study: str, picture: str) -> Figure:
        return {each.name: each for each in gallery.pictures(walks[study].findings)}[picture].build()

    return of

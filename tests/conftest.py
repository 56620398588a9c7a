"""Shared by all tests: how Hypothesis searches, and pictures without a screen."""

import os

from hypothesis import HealthCheck, settings

os.environ.setdefault("MPLBACKEND", "agg")
settings.register_profile(
    "reach", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("reach")

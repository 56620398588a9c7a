"""Change points of a daily level: laws, a second way to the same number, and what is found in made-up days."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_t

from reach.compare.season import change
from tests.compare import season_simulator as simulator

DAYS = np.arange(40)


def _level(seed: int, size: float = 0.0, at: int = 20) -> np.ndarray:
    return simulator.daily(simulator.NOISES[1], len(DAYS), seed) + size * (at <= DAYS)


def test_a_bayes_factor_is_the_ratio_of_two_multivariate_t_densities():
    """White noise of n days, the mean taken off: y'Py is chi-square, and with p(sigma) = 1/sigma the contrasts of the days
    have a density that scipy knows as the limit of a multivariate t with few degrees of freedom, unscaled."""
    days, y = np.arange(12), np.random.default_rng(3).normal(size=12) + 2 * (np.arange(12) >= 6)
    kept = np.linalg.qr(np.column_stack([np.ones(12), np.eye(12)[:, :11]]))[0][:, 1:]  # eleven contrasts
    tops, bottoms = [], []
    for phi in change.PHI:
        for kappa in change.KAPPA:
            lag = np.abs(np.subtract.outer(days, days)).astype(float)
            sigma = phi**lag + kappa * np.exp(-lag / change.WANDER_DAYS)
            x = (days >= 6).astype(float)
            for held, out in ((sigma + change.PRIOR * np.outer(x, x), tops), (sigma, bottoms)):
                spread, df = kept.T @ held @ kept, 1e-9
                # With df -> 0 the density of t is, but for a constant in every cell, that under p(sigma) = 1/sigma.
                scaled = multivariate_t.logpdf(kept.T @ y * 1e9, shape=spread, df=df)
                out.append(scaled)
    truth = np.logaddexp.reduce(tops) - np.logaddexp.reduce(bottoms)
    found = change.step_on(days, y, 6)
    assert found is not None
    assert found.log_bf == pytest.approx(truth, abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.1, 20), st.floats(-50, 50), st.integers(-4000, 4000))
def test_unit_level_and_date_change_nothing(seed, unit, level, shift):
    y = _level(seed, 3.0)
    one, other = change.steps(DAYS, y), change.steps(DAYS + shift, unit * y + level)
    assert other.log_bf == pytest.approx(one.log_bf, abs=1e-6)
    assert np.array_equal(one.likely(), other.likely())
    assert np.array(change.size(other)) == pytest.approx(unit * np.array(change.size(one)), abs=1e-6 * unit)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 10_000))
def test_weaker_mirrors_stronger_and_time_reversed_is_the_same_evidence(seed):
    y = _level(seed, 3.0)
    one, mirrored, back = change.steps(DAYS, y), change.steps(DAYS, -y), change.steps(DAYS, y[::-1].copy())
    assert mirrored.log_bf == pytest.approx(one.log_bf, abs=1e-8)
    assert back.log_bf == pytest.approx(one.log_bf, abs=1e-8)
    middle, low, high = change.size(one)
    assert change.size(mirrored) == pytest.approx((-middle, -high, -low), abs=1e-6)


def test_a_step_is_found_on_its_day_and_sized():
    (claim,) = change.claims(DAYS, _level(7, -4.0))
    assert not claim.is_spell
    assert abs(int(claim.days[claim.inside][0]) - 20) <= 2
    _, low, high = change.size(claim.scan)
    assert low < -4.0 < high < 0


def test_a_spell_is_found_and_is_no_step():
    y = _level(11) - 5.0 * ((DAYS >= 15) & (DAYS < 20))
    (claim,) = change.claims(DAYS, y)
    assert claim.is_spell
    assert set(claim.days[claim.inside]) >= {16, 17, 18}


def test_missing_days_keep_their_dates():
    there = np.delete(DAYS, [3, 4, 18, 19, 30])
    claims = change.claims(there, _level(7, -4.0)[there])
    assert [bool(one.is_spell) for one in claims] == [False]
    assert abs(int(there[claims[0].scan.start[claims[0].scan.best]]) - 20) <= 2


def test_a_known_date_needs_four_days_on_either_side():
    y = _level(5, 2.0)
    assert change.step_on(DAYS, y, 37) is None
    assert change.step_on(DAYS, y, 3) is None
    found = change.step_on(DAYS, y, 20)
    assert found is not None and found.start.tolist() == [20]


def test_fewer_than_twenty_days_claim_nothing():
    assert change.claims(DAYS[:19], 50.0 * (DAYS[:19] >= 9) + _level(1)[:19]) == []


def test_a_watch_asks_for_more():
    assert change.step_threshold(60, watch=True) == change.step_threshold(60) + change.WATCH
    assert change.spell_threshold(60, watch=True) == change.spell_threshold(60) + change.WATCH


def test_quiet_months_claim_next_to_nothing():
    """150 series of 60 days, 296 months: METHOD.md has the table of more."""
    assert sum(simulator.quiet(simulator.NOISES[1], 60, 150)) <= 8

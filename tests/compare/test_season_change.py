"""Change points of a daily level: laws, a second way to the same number, and what is found in made-up days."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_t
from scipy.stats import t as student

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


# -- which changes are looked for


@pytest.mark.parametrize("n", [7, 8, 20])
def test_steps_leave_four_days_on_either_side(n):
    found = change.steps(DAYS[:n], _level(1)[:n])
    if n == 7:
        assert found is None
        return
    assert found is not None and found.start.tolist() == list(range(4, n - 3)) and set(found.stop) == {n}
    assert (
        change.step_on(DAYS[:n], _level(1)[:n], 4) is not None
        and change.step_on(DAYS[:n], _level(1)[:n], n - 4) is not None
    )
    assert change.step_on(DAYS[:n], _level(1)[:n], 3) is None and change.step_on(DAYS[:n], _level(1)[:n], n - 3) is None


@pytest.mark.parametrize("n", [5, 6, 12, 30])
def test_spells_are_two_to_fourteen_days_that_leave_the_first_and_last_two_alone(n):
    found = change.spells(DAYS[:n], _level(1)[:n])
    truth = {(start, stop) for start in range(2, n) for stop in range(start, n - 1) if 2 <= stop - start <= 14}
    assert (set() if found is None else set(zip(found.start.tolist(), found.stop.tolist(), strict=True))) == truth


@pytest.mark.parametrize("seed", range(3))
def test_the_likely_days_are_the_fewest_that_make_95_percent(seed):
    scan = change.spells(DAYS, _level(seed) - 4.0 * ((DAYS >= 15) & (DAYS < 20)))
    assert scan is not None
    chance = np.bincount(scan.start, scan.weights.sum(axis=0), minlength=len(DAYS))
    found = scan.likely()
    assert found.tolist() == sorted(found) and chance[found].sum() >= 0.95
    assert chance[found].sum() - chance[found].min() < 0.95
    assert chance[found].min() >= np.delete(chance, found).max()
    assert set(scan.likely(0.5)) <= set(found)


@pytest.mark.parametrize("seed", range(3))
def test_the_size_told_is_a_point_of_the_mixture_of_t_distributions(seed):
    """Median, 2.5 and 97.5 % by scipy's t over every cell and day, with the prior of 36 times the noise."""
    scan = change.steps(DAYS, _level(seed, 3.0))
    assert scan is not None
    held = scan.a + 1 / 36
    scale = np.sqrt((scan.r0[:, None] - scan.b**2 / held) / ((scan.n - 1) * held))
    for point, p in zip(change.size(scan), (0.5, 0.025, 0.975), strict=True):
        assert (scan.weights * student.cdf((point - scan.b / held) / scale, scan.n - 1)).sum() == pytest.approx(
            p, abs=1e-5
        )


def test_a_straight_line_is_a_step_of_any_shape():
    """Of x = 0, .., 1 over the days; of x = 0 or 1 the same reckoning gives the step."""
    days = np.arange(12)
    y = np.random.default_rng(3).normal(size=12) + 3 * days / 11
    known = change.shape(tuple(days.tolist()))
    bf = []
    for x in (days / 11, (days >= 6).astype(float)):
        top = []
        for base, weigh in zip(known.base, known.weigh, strict=True):
            a, b, r0 = x @ weigh @ x, x @ weigh @ y, y @ weigh @ y
            top.append(base - 0.5 * np.log1p(4 * a) - 11 / 2 * np.log(r0 - b**2 / (a + 1 / 4)))
        none = [base - 11 / 2 * np.log(y @ weigh @ y) for base, weigh in zip(known.base, known.weigh, strict=True)]
        bf.append(np.logaddexp.reduce(top) - np.logaddexp.reduce(none))
    assert change.line(days, y) == pytest.approx(bf[0])
    assert change.step_on(days, y, 6).log_bf == pytest.approx(bf[1])
    assert change.line(days + 700, y) == pytest.approx(bf[0])


# -- how often it is looked again


def _halved(days, level_db, watch, only_steps):
    """As if every series had a step in its middle."""
    at = len(days) // 2
    scan = change.step_on(days, level_db, int(days[at]))
    return change.Claim(scan, days, np.arange(len(days)) >= at, False, 1.0, 0.0)


@pytest.mark.parametrize(("n", "claims"), [(20, 1), (23, 2), (24, 3), (96, 15), (95, 14), (400, 15), (19, 0)])
def test_a_part_of_twelve_days_is_looked_at_again_three_times_deep(n, claims, monkeypatch):
    """Twenty days at first; halved again and again, 1 + 2 + 4 + 8."""
    monkeypatch.setattr(change, "_strongest", _halved)
    found = change.claims(np.arange(n), np.random.default_rng(1).normal(size=n))
    assert len(found) == claims
    first = [int(one.days[one.inside][0]) for one in found]
    assert first == sorted(first)


def _excess(monkeypatch, step: float, spell: float, n: int = 30, **more):
    """What is claimed where both families have so much more than their thresholds."""
    days, level_db = np.arange(n), np.random.default_rng(1).normal(size=n)
    steps, spells = change.steps(days, level_db), change.spells(days, level_db)
    at = max(n, 20)
    monkeypatch.setattr(change, "steps", lambda *_: replace(steps, log_bf=change.step_threshold(at) + step))
    monkeypatch.setattr(change, "spells", lambda *_: replace(spells, log_bf=change.spell_threshold(at) + spell))
    return change._strongest(days, level_db, more.get("watch", False), more.get("only_steps", False))


def test_the_family_farther_above_its_threshold_is_claimed(monkeypatch):
    assert _excess(monkeypatch, 0.5, 0.4).is_spell is False
    monkeypatch.undo()
    assert _excess(monkeypatch, 0.4, 0.5).is_spell is True
    monkeypatch.undo()
    assert _excess(monkeypatch, 0.4, 0.5, only_steps=True).is_spell is False
    monkeypatch.undo()
    assert _excess(monkeypatch, -0.1, -0.2) is None
    monkeypatch.undo()
    assert _excess(monkeypatch, 1.4, 1.4, watch=True) is None
    monkeypatch.undo()
    assert _excess(monkeypatch, 1.6, 1.4, watch=True).excess == pytest.approx(0.1)


def test_a_part_of_few_days_has_the_threshold_of_twenty(monkeypatch):
    assert _excess(monkeypatch, 0.1, -1.0, n=14).excess == pytest.approx(0.1)


def test_no_room_for_a_step_is_no_claim():
    assert change._strongest(DAYS[:5], _level(1)[:5], False, True) is None

"""Laws that hold for any table, whatever the verdict."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.compare import compare, estimate
from reach.compare.comparison import Comparison, LeftOut
from reach.compare.reports import clean
from tests.compare.factory import alternating
from tests.compare.simulator import Scenario, make

SAME_DB = 1e-9
SEEDS = st.integers(0, 2**32 - 1)
MIRRORED = {"a better": "b better", "b better": "a better"}


@st.composite
def tables(draw: st.DrawFn) -> pd.DataFrame:
    """Few or many spots, one band or two, strong or near the limit."""
    return alternating(
        draw(SEEDS),
        receivers=draw(st.integers(2, 14)),
        blocks=draw(st.integers(4, 60)),
        block_min=draw(st.sampled_from([2.0, 6.0, 10.0])),
        difference_db=draw(st.floats(-6, 6)),
        heard=draw(st.floats(0.2, 0.9)),
        level_db=draw(st.floats(-26, -5)),
        bands=draw(st.sampled_from([("20m",), ("20m", "40m")])),
        order=draw(st.sampled_from(["ab", "abba", "ba"])),
    )


def _close(one: float | None, two: float | None, tolerance: float = SAME_DB) -> bool:
    return (one is None) == (two is None) and (one is None or two is None or abs(one - two) <= tolerance)


def _numbers(found: Comparison) -> list[float | None]:
    """Every number that speaks of the difference: headline, both intervals, cross-checks, parts, receivers."""
    of = [found.difference_db, found.low_db, found.high_db, found.naive_difference_db, found.kept, found.limit_slope]
    of += [found.like_low_db, found.like_high_db, found.these_low_db, found.these_high_db]
    of += [found.effective_receivers, found.effective_times, found.pair_low_db, found.pair_high_db]
    for each in found.sensitivity:
        of += [each.difference_db, each.low_db, each.high_db]
    for cell in found.cells:
        of += [cell.difference_db, cell.low_db, cell.high_db, cell.sidak_low_db, cell.these_low_db, cell.p_holm]
    return of


def _same(one: Comparison, other: Comparison) -> None:
    assert one.verdict == other.verdict and [r.code for r in one.reasons] == [r.code for r in other.reasons]
    assert (one.pairs, one.receivers, one.blocks) == (other.pairs, other.receivers, other.blocks)
    assert [(c.by, c.name, c.shown, c.differs) for c in one.cells] == [
        (c.by, c.name, c.shown, c.differs) for c in other.cells
    ]
    numbers = _numbers(one), _numbers(other)
    assert len(numbers[0]) == len(numbers[1])
    for mine, theirs in zip(*numbers, strict=True):
        assert _close(mine, theirs), (mine, theirs)


@given(tables(), st.sampled_from([0.0, 1.7, -3.0]))
def test_exchanging_the_setups_changes_the_sign(spots, power_db):
    ab = compare(spots, "a", "b", power_difference_db=power_db)
    ba = compare(spots, "b", "a", power_difference_db=-power_db)
    assert ba.verdict == MIRRORED.get(ab.verdict, ab.verdict)
    for one, two in (
        (ab.difference_db, ba.difference_db),
        (ab.low_db, ba.high_db),
        (ab.high_db, ba.low_db),
        (ab.these_low_db, ba.these_high_db),
        *((x.difference_db, y.difference_db) for x, y in zip(ab.sensitivity, ba.sensitivity, strict=True)),
        *((x.low_db, y.high_db) for x, y in zip(ab.cells, ba.cells, strict=True)),
    ):
        assert _close(one, None if two is None else -two)
    assert (ab.pairs, ab.receivers, ab.blocks) == (ba.pairs, ba.receivers, ba.blocks)
    assert (ab.heard.a_only, ab.heard.b_only) == (ba.heard.b_only, ba.heard.a_only)


@given(tables(), SEEDS)
def test_the_order_of_rows_changes_nothing(spots, seed):
    order = np.random.default_rng(seed).permutation(len(spots))
    assert compare(spots.iloc[order], "a", "b") == compare(spots, "a", "b")


@given(tables(), SEEDS, st.floats(0.05, 1.0))
def test_duplicate_rows_change_nothing(spots, seed, share):
    """Copies, and weaker reports of the same transmission by the same receiver."""
    again = spots.sample(frac=share, random_state=seed)
    weaker = again.assign(snr_db=again["snr_db"] - np.float32(2))
    base = compare(spots, "a", "b")
    more = compare(pd.concat([again, spots, weaker], ignore_index=True), "a", "b")
    assert _numbers(more) == _numbers(base) and more.verdict == base.verdict and more.pairs == base.pairs
    if base.design is not None:  # both setups were heard
        assert more.left_out.get(LeftOut.DUPLICATE, 0) == 2 * len(again)


@given(tables(), SEEDS)
def test_renaming_receivers_changes_nothing(spots, seed):
    """New names in another order: nothing may hang on the alphabet."""
    known = spots["rx_call"].cat.categories
    shuffled = np.random.default_rng(seed).permutation(len(known))
    renamed = spots.assign(rx_call=spots["rx_call"].cat.rename_categories([f"Z{k}QSA" for k in shuffled]))
    _same(compare(renamed, "a", "b"), compare(spots, "a", "b"))


@given(tables(), st.sampled_from([7.0, 180.0, 60 * 24 * 7, 13.37, -1439.5]))
def test_shifting_all_times_changes_nothing(spots, minutes):
    """Nothing hangs on where the clock stands: not on its hours, days or weeks."""
    later = spots.assign(time_utc=spots["time_utc"] + pd.to_timedelta(minutes, unit="min"))
    _same(compare(later, "a", "b"), compare(spots, "a", "b"))


@given(tables())
def test_time_running_backwards_changes_nothing(spots):
    back = spots.assign(time_utc=spots["time_utc"].max() - (spots["time_utc"] - spots["time_utc"].min()))
    _same(compare(back, "a", "b"), compare(spots, "a", "b"))


@given(tables(), st.floats(-12, 12))
def test_a_constant_added_to_all_reports_changes_nothing(spots, by_db):
    """Every receiver's decibels may count from anywhere: whole ones, and those that lie between."""
    plain = spots.assign(snr_db=spots["snr_db"].astype(float))
    _same(compare(plain.assign(snr_db=plain["snr_db"] + by_db), "a", "b"), compare(plain, "a", "b"))


DAYS = Scenario("laws, days in turn", design="days", days=9, hours=2, receivers=12)
BESIDE = Scenario("laws, beside", design="before after", days=7, hours=2, receivers=14, control=True)


@pytest.mark.parametrize("scenario", [DAYS, BESIDE])
def test_days_in_turn_and_a_control_keep_the_laws(scenario):
    made = make(scenario, 2)

    def found(change, a="vertical", b="wire"):
        control = None if made.control is None else change(made.control)
        return compare(change(made.spots), a, b, control=control)

    def back(table):
        middle = made.spots["time_utc"].min()
        return table.assign(time_utc=middle - (table["time_utc"] - middle))

    base, other = found(lambda table: table), found(lambda table: table, "wire", "vertical")
    assert base.difference_db is not None and _close(base.low_db, -other.high_db)
    _same(found(lambda table: table.assign(time_utc=table["time_utc"] + pd.Timedelta(hours=3, minutes=7))), base)
    _same(found(back), base)
    _same(found(lambda table: table.sample(frac=1, random_state=1)), base)


@given(SEEDS, st.sampled_from([-7.0, -2.5, 0.3, 4.0, 9.0]), st.sampled_from(["ab", "abba"]))
def test_adding_to_one_setup_moves_the_estimate_by_as_much(seed, by_db, order):
    """While no report meets the limit: strong signals, a limit that is known and far below."""
    spots = alternating(seed, level_db=15.0, noise_db=1.5, order=order, blocks=24)
    more = spots.assign(snr_db=spots["snr_db"] + np.where(spots["setup"] == "a", by_db, 0.0))
    base = compare(spots, "a", "b", decoding_limit_db=-28.0)
    moved = compare(more, "a", "b", decoding_limit_db=-28.0)
    assert base.kept == pytest.approx(1.0) and moved.kept == pytest.approx(1.0)
    assert moved.difference_db == pytest.approx(base.difference_db + by_db, abs=1e-4)  # float32 reports
    assert moved.high_db - moved.low_db == pytest.approx(base.high_db - base.low_db, abs=1e-4)


@given(SEEDS, st.floats(-10, 10))
def test_power_is_taken_off(seed, power_db):
    """To the last digit, near the decoding limit too."""
    spots = alternating(seed, blocks=24)
    base = compare(spots, "a", "b")
    less = compare(spots, "a", "b", power_difference_db=power_db)
    if base.difference_db is None:
        assert less.difference_db is None
        return
    assert less.difference_db == pytest.approx(base.difference_db - power_db, abs=1e-9)
    assert less.high_db == pytest.approx(base.high_db - power_db, abs=1e-9)


@given(SEEDS, st.floats(-6, 6), st.floats(-0.2, 0.2), st.sampled_from(["ab", "abba", "aabb"]))
def test_a_steady_drift_of_the_band_cancels(seed, difference_db, per_min, order):
    """Without noise every contrast is the difference, in any order of the blocks."""
    spots = alternating(seed, order=order, heard=0.5)
    time_us = spots["time_utc"].astype("int64").to_numpy()
    receiver = spots["rx_call"].cat.codes.to_numpy().astype(np.int64)
    is_a = (spots["setup"] == "a").to_numpy()
    minutes = (time_us - time_us.min()) / 60e6
    level = 0.001 * np.pi + receiver * 3.1 + per_min * minutes + difference_db * is_a
    reports = clean(time_us, receiver, np.zeros_like(receiver), is_a, level, np.zeros(len(level))).reports
    found = estimate.in_time(reports, np.ones(len(reports)), 60.0, 60.0)
    assert len(found.row) and np.allclose(found.difference_db, difference_db, atol=1e-9)


@given(tables())
def test_the_argument_is_left_as_it_was(spots):
    before = spots.copy(deep=True)
    compare(spots, "a", "b")
    pd.testing.assert_frame_equal(spots, before)


@given(tables())
def test_an_interval_holds_its_estimate_and_the_verdict_follows_it(spots):
    found = compare(spots, "a", "b")
    if found.difference_db is None:
        assert found.verdict == "cannot tell" and found.reasons and found.next_steps
        assert found.low_db is None and found.high_db is None
        return
    assert found.low_db < found.difference_db < found.high_db
    assert (found.verdict == "a better") == (found.low_db > 0)
    assert (found.verdict == "b better") == (found.high_db < 0)
    assert sum(r.weight for r in found.by_receiver) == pytest.approx(1.0)
    assert sum(r.pairs for r in found.by_receiver) == found.pairs == sum(b.pairs for b in found.by_block)

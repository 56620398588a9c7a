"""The steps of the method one by one: design, decoding limit, contrasts, variance, refusals, warnings, breakdown."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.regression.linear_model import OLS
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.sandwich_covariance import cov_cluster_2groups

from reach.assign import schedule
from reach.compare import cells, checks, compare, days, design, estimate, evidence, variance, verdict
from reach.compare.comparison import Caution, Cell, Comparison, Gap, LeftOut, NextStep, Note, Refused, Verdict
from reach.compare.reports import Reports, clean
from reach.errors import CompareError
from tests.compare import simulator
from tests.compare.factory import START, alternating, sorted_reports
from tests.compare.simulator import Scenario

# -- cleaning


def test_one_row_a_transmission_the_strongest_stays():
    found = clean(
        np.array([0, 0, 0, 60_000_000]),
        np.zeros(4, int),
        np.zeros(4, int),
        np.array([True] * 4),
        np.array([-9.0, -3, -5, -7]),
        np.array([0.0, 0, 3, 2]),
    )
    assert found.duplicates == 2
    assert found.reports.power_db.tolist() == [0.0, 2.0] and found.reports.level_db.tolist() == [-3.0, -9.0]
    assert found.reports.snr_db.tolist() == [-3.0, -7.0]
    assert found.row.tolist() == [1, 3]


def test_a_report_in_whole_decibels_stands_for_the_decibel_about_it():
    """Whole on a grid of its own for each setup, or not whole at all."""
    is_a = np.array([True, True, False, False])
    found = clean(
        np.arange(4), np.zeros(4, int), np.zeros(4, int), is_a, np.array([-9.5, -3.5, -5.0, -7.2]), np.zeros(4)
    ).reports
    assert found.round_db.tolist() == [0.5, 0.5, 0.0, 0.0]


@pytest.mark.parametrize(
    ("off_db", "half_db"), [(0.0009, 0.5), (0.0012, 0.0), (-0.0009, 0.5), (-0.0012, 0.0), (0.5, 0.0)]
)
def test_a_thousandth_of_a_decibel_off_is_whole_still(off_db, half_db):
    found = sorted_reports([0.0, 2.0, 4.0], [True] * 3, snr_db=[-9.0, -3.0 + off_db, -12.0], whole=True)
    assert found.round_db.tolist() == [half_db] * 3


def test_two_stations_under_one_callsign_are_two_receivers():
    one = alternating(1, receivers=1)
    moved = one.assign(rx_locator=pd.Categorical(["FN31pr"] * len(one)))
    found = compare(pd.concat([one, moved], ignore_index=True), "a", "b")
    assert len(found.by_receiver) == 2
    assert {r.square for r in found.by_receiver} == {"JN58", "FN31"}
    finer = one.assign(rx_locator=pd.Categorical(["JN58aa"] * len(one)))
    assert len(compare(pd.concat([one, finer], ignore_index=True), "a", "b").by_receiver) == 1


# -- design


def test_alternation_period_and_window():
    found = design.alternation(sorted_reports(np.arange(0, 120, 2.0), np.arange(60) // 5 % 2 == 0))
    assert found.period_min == 10.0 and found.within_min == 20.0 and found.slot_min == 2.0
    assert (found.runs_a, found.runs_b, found.simultaneous, found.confounded) == (6, 6, False, False)


@pytest.mark.parametrize(("again", "told"), [(0, False), (1, False), (2, True)])
def test_that_rows_repeat_others_is_told_above_one_in_fifty(again, told):
    time = pd.date_range("2026-05-09T08:00Z", periods=50 - again, freq="2min")
    spots = pd.DataFrame(
        {"time_utc": [*time, *time[:again]], "rx_call": "G4QRA", "rx_locator": "IO91wm", "band": "20m", "snr_db": -10.0}
    )
    spots = spots.assign(setup=np.where(spots["time_utc"].dt.minute // 10 % 2 == 0, "a", "b"))
    found = compare(spots, "a", "b")
    assert found.left_out.get(LeftOut.DUPLICATE, 0) == again
    assert [each.values for each in found.notes if each.code == Note.REPEATED] == [{"share": 0.04}] * told


def test_where_nothing_can_be_paired_there_is_nothing_to_count():
    """Eight receivers heard both setups, but no fit could be made: none of their reports is a pair."""
    spots = alternating(3, receivers=8, blocks=12)
    labelled = evidence.label(spots, "a", "b")
    data = evidence.gather(labelled, "a", "b", np.zeros(len(labelled.is_a)), None)
    found = checks.enough(data, None)
    assert isinstance(found, checks.Refusal) and found.reason.code == Refused.TOO_LITTLE
    assert [found.reason.values[name] for name in ("receivers", "pairs", "times")] == [0, 0, 0.0]


@pytest.mark.parametrize("together", [False, True])
def test_stretches_are_numbered_from_0_on(together):
    """In turn every five reports; with both on the air at once every moment is a slot."""
    time = np.arange(0, 120, 2.0)
    reports = (
        sorted_reports(np.repeat(time, 2), np.tile([True, False], 60))
        if together
        else sorted_reports(time, np.arange(60) // 5 % 2 == 0)
    )
    numbers = design.block_numbers(reports, design.alternation(reports))
    assert numbers.tolist() == (np.repeat(np.arange(60), 2) if together else np.repeat(np.arange(12), 5)).tolist()


def test_pauses_do_not_count_as_periods():
    time = np.concatenate([np.arange(0, 60, 2.0), 1440 + np.arange(0, 60, 2.0)])
    found = design.alternation(sorted_reports(time, np.floor(time / 10) % 2 == 0))
    assert found.period_min == 10.0 and not found.confounded


def test_days_in_a_row_on_one_setup_are_one_stretch():
    time = np.concatenate([day * 1440 + np.arange(0, 60, 2.0) for day in range(4)])
    found = design.alternation(sorted_reports(time, time < 2 * 1440))
    assert (found.runs_a, found.runs_b) == (1, 1) and found.confounded


def test_both_at_once():
    time = np.repeat(np.arange(0, 60, 2.0), 2)
    found = design.alternation(sorted_reports(time, np.arange(len(time)) % 2 == 0))
    assert found.simultaneous and not found.confounded
    assert (found.period_min, found.within_min) == (2.0, 12.0)


def test_setups_on_bands_of_their_own_are_no_alternation():
    time = np.arange(0, 240, 2.0)
    is_a = time // 10 % 2 == 0
    found = design.alternation(sorted_reports(time, is_a, channel=is_a.astype(int)))
    assert found.confounded and (found.runs_a, found.runs_b) == (0, 0)


@pytest.mark.parametrize(
    ("bands", "reverse"), [(1, False), *((k, way) for k in (2, 4, 6, 9, 10) for way in (False, True))]
)
def test_bands_in_turn_are_timed_within_a_stay(bands, reverse):
    """A and B ten minutes each on one band, then the next: the setups change every ten minutes, however many bands. With the
    order reversed on every second visit too, although a band then sees one setup at the end of a visit and the next's start."""
    time = np.arange(0, 720, 2.0)
    visit = time // (20 * bands)
    found = design.alternation(
        sorted_reports(time, (time // 10 + visit * reverse) % 2 == 0, channel=time // 20 % bands)
    )
    assert found.period_min == 10.0 and found.within_min == 20.0 and not found.confounded
    assert found.farthest_min >= 20 * bands - 10 * (bands > 1)
    if bands == 1:
        assert found.turns is None
    else:
        assert found.turns == design.Turns(bands, 20.0, 20.0 * bands, same_first=not reverse)


def test_two_transmitters_on_two_bands_take_turns_on_each():
    """A on one band while B is on the other, exchanged every ten minutes: no stay, no order of bands."""
    time = np.repeat(np.arange(0, 240, 2.0), 2)
    channel = np.tile([0, 1], 120)
    found = design.alternation(sorted_reports(time, (time // 10 + channel) % 2 == 0, channel=channel))
    assert found.period_min == 10.0 and found.turns is None and not found.confounded and not found.simultaneous


def test_setups_changed_between_visits_only_are_no_stays():
    """20 m with A, 40 m with A, 20 m with B, 40 m with B: each band sees the other setup 40 minutes later."""
    time = np.arange(0, 480, 2.0)
    found = design.alternation(sorted_reports(time, time // 40 % 2 == 0, channel=time // 20 % 2))
    assert found.period_min == 40.0 and found.within_min == found.farthest_min == 50.0 and found.turns is None


def test_the_schedule_counts_silent_blocks():
    """Nobody heard the second half: with a schedule its blocks are known all the same."""
    time = np.array([0.0, 10.0, 20.0, 30.0, 40.0, 50.0])
    reports = sorted_reports([0, 2, 12, 40, 42, 52], [1, 1, 0, 1, 1, 0])
    found = design.alternation(reports, (time, np.arange(6) % 2 == 0))
    assert (found.runs_a, found.runs_b) == (2, 2) and found.period_min == 10.0


def test_a_schedule_tells_when_each_of_two_setups_began_and_nothing_of_a_third():
    start = pd.to_datetime([START] * 3, utc=True) + pd.to_timedelta([0, 10, 20], "min")
    rows = pd.DataFrame({"start": start, "end": start + pd.Timedelta("10min"), "setup": ["a", "c", "b"]})
    began_us, is_a = evidence.label(alternating(1), "a", "b", rows).slots
    assert ((began_us - began_us[0]) / 60e6).tolist() == [0, 20] and is_a.tolist() == [True, False]
    assert evidence.label(alternating(1), "a", "b").slots is None


# -- decoding limit


def test_threshold_of_all_and_of_one_receiver():
    rng = np.random.default_rng(3)
    weak, strong = rng.normal(-20, 3, 400), rng.normal(-5, 3, 400)
    snr = np.concatenate([weak, strong])
    reports = sorted_reports(np.tile(np.arange(400.0), 2), np.ones(800), receiver=np.repeat([0, 1], 400), snr_db=snr)
    limit = estimate.limits(reports.snr_db, reports.receiver, np.zeros(800, int))
    common = np.quantile(snr, 0.02) + 3
    assert limit.threshold_db.min() == pytest.approx(common)
    of_strong = limit.threshold_db[reports.snr_db == strong.max()][0]
    assert of_strong == pytest.approx(np.quantile(strong, 0.03) + 2)
    assert limit.ceiling_db == np.inf
    known = estimate.limits(reports.snr_db, reports.receiver, np.zeros(800, int), decoding_limit_db=-30.0)
    # A receiver never near a known limit is not cut at its own weakest; the other one is.
    assert known.threshold_db[reports.snr_db == strong.max()][0] == -27.0
    assert known.threshold_db.max() == pytest.approx(np.quantile(weak, 0.03) + 2)


def test_every_mode_has_its_own_limit():
    snr = np.concatenate([np.linspace(-28, 0, 200), np.linspace(-12, 10, 200)])
    mode = np.repeat([0, 1], 200)
    reports = sorted_reports(np.arange(400.0), np.ones(400), receiver=np.arange(400), snr_db=snr)
    limit = estimate.limits(
        reports.snr_db, reports.receiver, mode[np.argsort(np.argsort(reports.snr_db, kind="stable"), kind="stable")]
    )
    assert len(np.unique(limit.threshold_db)) == 2


@pytest.mark.parametrize(("count", "own"), [(49, False), (50, True)])
def test_a_mode_of_fewer_than_fifty_reports_has_the_limit_of_all(count, own):
    """Below that none of its reports is the weakest fiftieth."""
    snr = np.concatenate([np.linspace(-28, 0, 400), np.linspace(-12, 10, count)])
    order = np.argsort(snr, kind="stable")
    reports = sorted_reports(np.arange(len(snr)), np.ones(len(snr)), receiver=np.arange(len(snr)), snr_db=snr[order])
    mode = np.repeat([0, 1], [400, count])[order]
    found = estimate.limits(reports.snr_db, reports.receiver, mode).threshold_db[mode == 1]
    assert found == pytest.approx(np.quantile(snr[400:] if own else snr, 0.02) + 3)


def test_saturated_reports_are_cut():
    snr = np.concatenate([np.linspace(-20, -1, 100).round(), np.zeros(60)])
    reports = sorted_reports(np.arange(160.0), np.ones(160), snr_db=snr)
    assert estimate.limits(reports.snr_db, reports.receiver, np.zeros(160, int)).ceiling_db == -1.0


def test_both_setups_are_cut_at_one_level_of_the_signal():
    """A 5 dB stronger: its reports count down to 5 dB above the threshold, B's down to it."""
    reports = sorted_reports(np.arange(40.0), np.arange(40) % 2 == 0, snr_db=np.repeat(np.arange(-30, -10, 1.0), 2))
    limit = estimate.Limits(np.full(40, -25.0), np.inf)
    kept = _kept(reports, limit, 5.0)
    assert reports.snr_db[kept & reports.is_a].min() == -20.0
    assert reports.snr_db[kept & ~reports.is_a].min() == -25.0
    weaker = _kept(reports, limit, -5.0)
    assert reports.snr_db[weaker & reports.is_a].min() == -25.0
    assert reports.snr_db[weaker & ~reports.is_a].min() == -20.0


def _kept(reports: Reports, limit: estimate.Limits, beta_db: float = 0.0) -> np.ndarray:
    return estimate.above(reports, limit, beta_db, estimate.usual_power(reports)).some


def test_a_threshold_within_a_decibel_leaves_part_of_a_whole_report():
    """The mean of what lies above it, as if the decibel were filled evenly: against that, drawn."""
    reports = sorted_reports([0.0, 2.0], [True, False], snr_db=[-10.0, -10.0], whole=True)
    cut = estimate.above(reports, estimate.Limits(np.full(2, -10.2), np.inf), 0.0, estimate.usual_power(reports))
    drawn = np.linspace(-10.5, -9.5, 100_001)
    left = drawn[drawn >= -10.2]
    assert cut.share == pytest.approx(len(left) / len(drawn), abs=1e-4)
    assert cut.level_db == pytest.approx(left.mean(), abs=1e-4)
    below = estimate.above(reports, estimate.Limits(np.full(2, -9.4), np.inf), 0.0, estimate.usual_power(reports))
    assert not below.some.any()
    topped = estimate.above(reports, estimate.Limits(np.full(2, -28.0), -10.25), 0.0, estimate.usual_power(reports))
    assert topped.share == pytest.approx(0.25) and topped.level_db == pytest.approx(-10.375)


def _powered(power_db: np.ndarray, snr_db: np.ndarray) -> Reports:
    """A and B in turn, sent with so much power above the reference."""
    reports = sorted_reports(np.arange(float(len(snr_db))), np.arange(len(snr_db)) % 2 == 0, snr_db=snr_db)
    return replace(reports, power_db=power_db, level_db=reports.snr_db - power_db)


def test_more_power_moves_the_threshold_of_its_ownreports():
    """The same antenna, A with 7 dB more power: its reports count down to 7 dB above the threshold as they were received."""
    snr_db = np.repeat(np.arange(-30, -10, 1.0), 2)
    reports = _powered(np.where(np.arange(40) % 2 == 0, 7.0, 0.0), snr_db)
    limit = estimate.Limits(np.full(40, -25.0), np.inf)
    kept = _kept(reports, limit)
    assert reports.snr_db[kept & reports.is_a].min() == -18.0  # B's partner of it lies at -25
    assert reports.snr_db[kept & ~reports.is_a].min() == -25.0
    # Which power is called the reference is nobody's business.
    other = replace(reports, power_db=reports.power_db - 30, level_db=reports.level_db + 30)
    assert (_kept(other, limit) == kept).all()


def test_power_that_varies_cuts_at_the_least_usual_one():
    """Both setups with full power and 7 dB less by turns: a signal counts where the weak transmissions of both would do."""
    snr_db = np.repeat(np.arange(-30, -10, 1.0), 4)
    power_db = np.tile([0.0, 0.0, -7.0, -7.0], 20)
    reports = _powered(power_db, snr_db)
    kept = _kept(reports, estimate.Limits(np.full(80, -25.0), np.inf))
    assert reports.snr_db[kept & (power_db == 0)].min() == -18.0
    assert reports.snr_db[kept & (power_db < 0)].min() == -25.0
    # One report with a hundredth of the power does not throw out all others, and goes itself where it was cut.
    lone = power_db.copy()
    lone[0] = -20.0
    still = _kept(_powered(lone, snr_db), estimate.Limits(np.full(80, -25.0), np.inf))
    assert (still[1:] == kept[1:]).all() and not still[0]


# -- contrasts


def _in_time(reports: Reports, within_min: float, farthest_min: float | None = None) -> estimate.Contrasts:
    return estimate.in_time(reports, np.ones(len(reports)), within_min, farthest_min or within_min)


def test_a_contrast_needs_the_other_setup_on_both_sides():
    reports = sorted_reports([0, 2, 4, 6], [1, 0, 0, 1], snr_db=[-10.0, -13.0, -12.0, -8.0])
    found = _in_time(reports, 10.0)
    assert found.row.tolist() == [1, 2]
    assert found.difference_db == pytest.approx([-10 + 2 * 2 / 6 + 13, -10 + 2 * 4 / 6 + 12])
    assert _in_time(reports, 3.0).row.tolist() == []
    assert _in_time(reports, 3.0, 4.0).row.tolist() == [1, 2]  # the nearer within 3, the farther within 4


def test_a_report_of_the_same_moment_is_the_neighbour_on_both_sides():
    """Whichever setup is called A: each of the two is held against the other alone."""
    times, snr_db = [0, 2, 2, 4], np.array([-10.0, -13.0, -11.0, -8.0])
    for is_a in ([0, 1, 0, 1], [1, 0, 1, 0]):
        found = _in_time(sorted_reports(times, is_a, snr_db=snr_db), 10.0)
        step = 2.0 if is_a[2] else -2.0
        assert found.row.tolist() == [1, 2] and found.difference_db == pytest.approx([step, step])


def test_a_contrast_counts_by_what_is_left_of_itsreports():
    reports = sorted_reports([0, 2, 4], [1, 0, 1])
    found = estimate.in_time(reports, np.array([0.5, 0.8, 0.25]), 10.0, 10.0)
    assert found.share == pytest.approx([0.5 * 0.8 * 0.25])


def test_contrasts_stay_within_a_receiver_and_a_band():
    apart = sorted_reports([0, 2, 4], [1, 0, 1], receiver=[0, 1, 0])
    assert not len(_in_time(apart, 10.0).row)
    bands = sorted_reports([0, 2, 4], [1, 0, 1], channel=[0, 1, 0])
    assert not len(_in_time(bands, 10.0).row)


def test_at_once_takes_one_moment():
    reports = sorted_reports([0, 0, 2, 4, 4], [1, 0, 1, 0, 1], snr_db=[-5.0, -8.0, -1.0, -9.0, -7.0])
    found = estimate.at_once(reports, np.array([0.5, 1.0, 1.0, 0.5, 0.5]))
    assert found.difference_db.tolist() == [3.0, 2.0] and found.share.tolist() == [0.5, 0.25]


# -- variance


def test_two_way_clusters_agree_with_statsmodels():
    """Stretches of one moment each, kept apart, so that no neighbours count: V = V_receivers + V_times - V_both, with our
    small-sample factors."""
    rng = np.random.default_rng(5)
    m, receivers, times = 600, 20, 15
    receiver, moment = rng.integers(0, receivers, m), rng.integers(0, times, m)
    d = rng.normal(0, 1, m) + rng.normal(0, 1, receivers)[receiver] + rng.normal(0, 1, times)[moment]
    share = np.full(m, 1 / m)
    found = variance.spread(variance.Scores(share * (d - d.mean()), share, receiver, 20.0 * moment, 10.0))
    fitted = OLS(d, np.ones(m)).fit()
    both, by_receiver, by_time = (
        float(np.squeeze(v)) for v in cov_cluster_2groups(fitted, receiver, moment, use_correction=False)
    )
    r, g = found.receivers, found.times
    of_both = by_receiver + by_time - both
    assert found.like**2 == pytest.approx(r / (r - 1) * by_receiver + g / (g - 2.5) * by_time - of_both, rel=1e-9)
    assert found.like_df == pytest.approx(min(r - 1, g - 2))


def test_related_is_the_mean_over_all_phases_of_bins():
    """Bins of 10 minutes begun at each of 500 phases: their sums of squares, and those with Bartlett's neighbours."""
    rng = np.random.default_rng(6)
    t, x = np.sort(rng.uniform(0, 200, 80)), rng.normal(0, 1, 80)
    squares, hac = [], []
    for phase in np.linspace(0, 10, 500, endpoint=False):
        sums = np.bincount(np.floor((t + phase) / 10).astype(int), x)
        squares.append(sums @ sums)
        hac.append(sums @ sums + sums[1:] @ sums[:-1])
    assert variance.related(x, t, 10.0) == pytest.approx(np.mean(squares), rel=5e-3)
    assert variance.related(x, t, 20.0) == pytest.approx(np.mean(hac), rel=5e-3)


@pytest.mark.parametrize("span_min", [90, 30, 20])
def test_related_by_group_is_the_sum_of_each(span_min):
    """Against all pairs, one by one; also where all lie nearer together than what counts as related."""
    rng = np.random.default_rng(7)
    t, x, group = rng.uniform(0, span_min, 60), rng.normal(0, 1, 60), rng.integers(0, 4, 60)
    near = np.maximum(1 - np.abs(t[:, None] - t) / 25, 0) * (group[:, None] == group)
    order = np.lexsort((t, group))
    assert variance.related(x[order], t[order], 25.0, group[order]) == pytest.approx(x @ near @ x)


def test_effective_numbers_count_equal_shares():
    share = np.full(12, 1 / 12)
    found = variance.spread(variance.Scores(share * 0.1, share, np.arange(12) % 3, np.arange(12) // 2 * 30.0, 10.0))
    assert (found.receivers, found.times) == (pytest.approx(3), pytest.approx(6))


def test_every_stretch_counts_once_however_much_was_heard_in_it():
    """Ten hours of 1 dB with a hundred times the reports of ten hours of 3 dB; hours with next to nothing count less."""
    busy, quiet = np.repeat(np.arange(10) * 60.0, 100), np.arange(10, 20) * 60.0
    t = np.concatenate([busy, quiet])
    d = np.concatenate([np.full(1000, 1.0), np.full(10, 3.0)])
    nobody = np.zeros(len(t), dtype=np.int64)

    def mean(of_quiet):
        share = np.concatenate([np.full(1000, 1.0), np.full(10, of_quiet)])
        return variance.by_time(variance.Scores(np.zeros(len(t)), share / share.sum(), nobody, t, 30.0), d)[0]

    assert mean(100.0) == pytest.approx(2.0) and mean(50.0) == pytest.approx(2.0)
    assert 1.0 < mean(1.0) < 1.2


# -- refusals


def _codes(remarks) -> list[str]:
    return [one.code for one in remarks]


def _values(remarks, code) -> dict[str, object]:
    """The values of the one remark with that code."""
    (one,) = [each for each in remarks if each.code == code]
    return dict(one.values)


def _told(scenario: Scenario, seed: int = 1, **options) -> Comparison:
    made = simulator.make(scenario, seed)
    return compare(made.spots, "vertical", "wire", control=made.control, **options)


@pytest.mark.parametrize(
    ("scenario", "why", "next_steps"),
    [
        (
            Scenario("halves", design="halves", hours=6, receivers=40),
            Refused.TOO_FEW_STRETCHES,
            [NextStep.ALTERNATE, NextStep.CONTROL],
        ),
        (
            Scenario("day each", design="day each", days=2, hours=3, receivers=40),
            Refused.TOO_FEW_STRETCHES,
            [NextStep.ALTERNATE, NextStep.CONTROL],
        ),
        (
            Scenario("day each c", design="day each", days=2, hours=3, receivers=40, control=True),
            Refused.TOO_FEW_STRETCHES,
            [NextStep.ALTERNATE, NextStep.CONTROL],
        ),
        (
            Scenario("before after", design="before after", days=6, hours=2, receivers=40),
            Refused.TOO_FEW_STRETCHES,
            [NextStep.ALTERNATE, NextStep.CONTROL],
        ),
        (Scenario("2-hour blocks", block_min=120, receivers=40), Refused.CHANGED_TOO_SLOWLY, [NextStep.ALTERNATE]),
        (
            Scenario("split", design="split", bands=2, hours=6, receivers=40),
            Refused.NO_COMMON_BAND,
            [NextStep.ALTERNATE],
        ),
        (Scenario("short", hours=1, receivers=40), Refused.TOO_LITTLE, [NextStep.GO_ON]),
        (Scenario("two receivers", receivers=2, part_time=0, hoppers=0), Refused.TOO_LITTLE, [NextStep.MORE_RECEIVERS]),
    ],
)
def test_what_cannot_tell_is_refused(scenario, why, next_steps):
    found = _told(scenario)
    assert found.verdict == "cannot tell" and found.difference_db is None and not found.cells
    assert _codes(found.reasons) == [why] and _codes(found.next_steps) == next_steps
    assert found.by_receiver and found.by_block and found.naive_difference_db is not None


def test_nearly_all_at_the_limit_is_refused():
    weak = Scenario(
        "limit", level_db=-34, truth_db=4, offset_sd_db=1, slow_sd_db=1.5, day_sd_db=0, trend_db=0, receivers=100
    )
    found = _told(weak)
    assert found.verdict == "cannot tell" and _codes(found.next_steps) == [NextStep.WAIT_FOR_STRONGER]
    values = _values(found.reasons, Refused.AT_DECODING_LIMIT)
    assert values["kept"] == found.kept and (values["kept"] < 0.25 or values["slope"] > 0.6) and not values["saturated"]


def test_one_receiver_that_carries_the_result_is_refused():
    """Three receivers that say little; one next door, always on, that makes it a claim."""
    others = alternating(2, receivers=3, blocks=40, difference_db=3.0, heard=0.2, noise_db=4.0)
    local = alternating(3, receivers=1, blocks=40, difference_db=3.0, heard=1.0, level_db=0.0, noise_db=1.0)
    local = local.assign(rx_call=pd.Categorical(["EI2QSU"] * len(local)))
    found = compare(pd.concat([others, local], ignore_index=True), "a", "b", decoding_limit_db=-40)
    assert found.verdict == "cannot tell" and _codes(found.next_steps) == [NextStep.MORE_RECEIVERS]
    values = _values(found.reasons, Refused.ONE_RECEIVER)
    assert (values["rx_call"], values["square"]) == ("EI2QSU", "JN58")
    assert values["verdict"] != values["without"]


@pytest.mark.parametrize(
    ("verdict_with", "without", "weight", "carries"),
    [
        ("a better", "no clear difference", 0.31, True),
        ("a better", "b better", 0.31, True),
        ("a better", "a better", 0.60, False),
        ("no clear difference", "a better", 0.60, False),
        ("a better", "cannot tell", 0.45, True),
        ("no clear difference", "cannot tell", 0.45, True),
        ("a better", "cannot tell", 0.33, False),  # three receivers: any two alone are too few to tell
    ],
)
def test_when_one_receiver_carries_the_result(verdict_with, without, weight, carries):
    assert verdict.carries(Verdict(verdict_with), Verdict(without), weight) is carries


def test_a_heavy_receiver_is_named_and_left_out_once():
    others = alternating(2, receivers=4, blocks=40, difference_db=4.0, heard=0.2)
    local = alternating(3, receivers=1, blocks=40, difference_db=4.0, heard=1.0, level_db=0.0, noise_db=1.0)
    local = local.assign(rx_call=pd.Categorical(["EI2QSU"] * len(local)))
    found = compare(pd.concat([others, local], ignore_index=True), "a", "b", decoding_limit_db=-40)
    assert found.verdict == "a better" and found.without is not None
    values = _values(found.warnings, Caution.HEAVY_RECEIVER)
    assert values["rx_call"] == "EI2QSU" and values["weight"] > 0.3 or values["reports"] > 0.4
    assert dict(found.without.values) == {"rx_call": "EI2QSU", "square": "JN58"}
    assert found.without.difference_db == pytest.approx(4.0, abs=1.5)


def test_only_one_setup_heard():
    spots = alternating(1)
    one = spots[(spots["setup"] == "a").to_numpy()]
    found = compare(one, "a", "b")
    assert found.verdict == "cannot tell" and _values(found.reasons, Refused.ONE_UNHEARD) == {"silent": "b"}
    other = compare(spots[(spots["setup"] == "b").to_numpy()], "a", "b")
    assert _values(other.reasons, Refused.ONE_UNHEARD) == {"silent": "a"}
    assert compare(one.assign(setup=one["setup"].cat.remove_unused_categories()), "a", "zz").verdict == "cannot tell"
    nobody = compare(spots.iloc[:0], "a", "b")
    assert nobody.verdict == "cannot tell" and nobody.spots == 0 and _codes(nobody.reasons) == [Refused.NOBODY_HEARD]


@pytest.mark.parametrize(
    ("a", "b", "says"),
    [("a", "a", "two different"), ("wires", "verticals", "no setup is called"), ("c", "d", "there are 'a', 'b'")],
)
def test_a_wrong_question_is_an_error(a, b, says):
    with pytest.raises(CompareError, match=says):
        compare(alternating(1), a, b)


def test_a_name_nearly_right_is_asked_back():
    spots = alternating(1)
    named = spots.assign(setup=spots["setup"].cat.rename_categories(["vertical", "wire"]))
    with pytest.raises(CompareError, match="did you mean 'vertical'"):
        compare(named, "vertcal", "wire")


def test_a_column_that_is_missing_is_named():
    with pytest.raises(CompareError, match="'snr_db'"):
        compare(alternating(1).drop(columns="snr_db"), "a", "b")
    with pytest.raises(CompareError, match="'setup', or a schedule"):
        compare(alternating(1).drop(columns="setup"), "a", "b")
    with pytest.raises(CompareError, match="control station"):
        compare(alternating(1), "a", "b", control=alternating(2).drop(columns="band"))
    with pytest.raises(CompareError, match="60"):
        compare(alternating(1), "a", "b", power_difference_db=float("nan"))


# -- which column tells the setups apart


def test_a_schedule_replaces_the_column():
    spots = alternating(4, blocks=24)
    rows = []
    for k in range(24):
        begin = START + pd.Timedelta(minutes=10 * k)
        rows.append((begin.to_pydatetime(), (begin + pd.Timedelta(minutes=10)).to_pydatetime(), "ab"[k % 2]))
    table = schedule.table(rows[:20])
    found = compare(spots.drop(columns="setup"), "a", "b", schedule=table)
    inside = spots[(spots["time_utc"] < START + pd.Timedelta(minutes=200)).to_numpy()]
    assert found.difference_db == compare(inside, "a", "b").difference_db
    assert found.left_out == {LeftOut.OUTSIDE_SCHEDULE: len(spots) - len(inside)}
    assert found.design.told_by == "schedule"


def _together() -> pd.DataFrame:
    """Both on the air at once: what they share, B 3 dB less, and noise of its own for each."""
    shared = alternating(6, blocks=24, difference_db=0.0, noise_db=0.5, heard=0.9)
    rng = np.random.default_rng(7)
    parts = [
        shared.assign(setup=name, snr_db=(shared["snr_db"] - less + rng.normal(0, 1, len(shared))).round())
        for name, less in (("a", 0.0), ("b", 3.0))
    ]
    return pd.concat(parts, ignore_index=True)


def test_two_callsigns_on_the_air_at_once():
    spots = _together()
    calls = spots["setup"].map({"a": "EI4QTB/P", "b": "EI4QTB/2"})
    found = compare(spots.drop(columns="setup").assign(tx_call=calls), "EI4QTB/P", "EI4QTB/2")
    assert found.design.kind == "simultaneous" and found.design.told_by == "tx_call"
    assert found.verdict == "a better" and found.low_db < 3.0 < found.high_db


def test_two_frequencies_on_the_air_at_once():
    spots = _together()
    mhz = np.where(spots["setup"] == "a", 14.04370, 14.04375) + np.tile([0.0, 1e-6], len(spots) // 2)
    strayed = spots.drop(columns="setup").assign(freq_mhz=np.where(np.arange(len(spots)) == 5, 14.2, mhz))
    found = compare(strayed, "14.04370", "14.04375")
    assert found.design.kind == "simultaneous" and found.design.told_by == "freq_mhz"
    assert found.verdict == "a better" and found.low_db < 3.0 < found.high_db
    assert found.left_out == {LeftOut.NO_SETUP: 1}


# -- result


def test_power_and_equality_are_found():
    spots = alternating(8, receivers=14, blocks=60, difference_db=0.2, noise_db=1.0, level_db=10.0)
    found = compare(spots, "a", "b", decoding_limit_db=-28.0)
    assert found.equal_within_db == 1.0
    unknown = compare(spots, "a", "b", decoding_limit_db=-28.0, power_difference_db=None)
    assert unknown.power_difference_db is None and unknown.difference_db == found.difference_db
    taken = compare(spots, "a", "b", decoding_limit_db=-28.0, power_difference_db=3.0)
    assert taken.power_difference_db == 3.0 and taken.difference_db == pytest.approx(found.difference_db - 3.0)


def test_fading_of_different_depth_is_warned_about():
    found = _told(Scenario("deeper", fast_b_factor=2.0, hours=6, level_db=-12))
    assert found.spread_ratio is not None and found.spread_ratio < 0.8
    assert _values(found.warnings, Caution.FADING_DIFFERS) == {"ratio": found.spread_ratio}


def test_duplicates_and_saturation_are_noted():
    found = _told(Scenario("both", level_db=-6, top_db=0, duplicates=0.2, hours=3, receivers=40))
    assert 0.1 < _values(found.notes, Note.REPEATED)["share"] < 0.3
    assert _values(found.notes, Note.SATURATED) == {"ceiling_db": -1.0}


def test_few_receivers_speak_for_themselves_only():
    spots = alternating(9, receivers=4, blocks=40, heard=0.9)
    found = compare(spots, "a", "b")
    assert found.interval_for == "these receivers only"
    assert (found.low_db, found.high_db) == (found.these_low_db, found.these_high_db)
    many = compare(alternating(9, receivers=14, blocks=40, heard=0.9), "a", "b")
    assert many.interval_for == "receivers like these"


def test_a_control_station_that_moved_in_step_is_warned_about():
    """The control fades with the schedule of the setups: nothing that a comparison may build on."""
    spots = alternating(10, receivers=12, blocks=40, difference_db=3.0)
    steady = compare(spots, "a", "b", control=alternating(11, receivers=12, blocks=40, difference_db=0.0))
    assert steady.control is not None and steady.control.low_db < 0 < steady.control.high_db
    moved = compare(spots, "a", "b", control=alternating(11, receivers=12, blocks=40, difference_db=3.0))
    assert moved.control is not None and moved.control.low_db > 0
    assert _values(moved.warnings, Caution.CONTROL_DIFFERS) == {"difference_db": moved.control.difference_db}
    assert moved.difference_db == steady.difference_db


def test_days_that_alternate_and_a_control_station_give_wide_answers():
    days = _told(Scenario("days", design="days", days=10, hours=3, receivers=30))
    assert days.design.kind == "days alternate" and days.interval_for == "days like these"
    assert days.blocks == 10 and days.high_db - days.low_db > 3
    assert _values(days.warnings, Caution.DAYS_COUNT)["days"] == 10
    control = _told(Scenario("control", design="before after", days=8, hours=3, receivers=30, control=True))
    assert control.design.kind == "before and after with control" and control.low_db < 2 < control.high_db
    assert _codes(control.notes) == [Note.CONTROL_ASSUMED]


def test_days_near_each_other_are_counted_as_alike():
    """The variance of a mean of days, against many simulated stretches of days with that memory."""
    rng = np.random.default_rng(4)
    n, runs, keep = 5, 20_000, np.exp(-1.0)
    level = np.empty((runs, n))
    level[:, 0] = rng.standard_normal(runs)
    for k in range(1, n):
        level[:, k] = keep * level[:, k - 1] + np.sqrt(1 - keep**2) * rng.standard_normal(runs)
    claimed = np.mean([days._mean_variance(one, np.arange(n)) for one in level[:2000]])
    assert claimed == pytest.approx(level.mean(axis=1).var(), rel=0.08)
    assert claimed > 1.5 * np.mean(level[:2000].var(axis=1, ddof=1)) / n
    far = days._mean_variance(level[0], np.arange(n) * 30)
    assert far == pytest.approx(level[0].var(ddof=1) / n)


def test_json_holds_the_named_fields():
    found = compare(alternating(12, blocks=30), "a", "b")
    plain = json.loads(json.dumps(found.to_dict(), allow_nan=False))
    for name in (
        "difference_db", "low_db", "high_db", "confidence", "verdict", "reasons", "spots", "pairs", "receivers", "blocks",
        "left_out", "design", "near_limit", "sensitivity", "heard", "cells", "naive_difference_db", "warnings",
    ):  # fmt: skip
        assert name in plain
    assert plain["verdict"] in list(Verdict) and plain["confidence"] == 0.95
    assert len(plain["sensitivity"]) == 2
    assert json.dumps(compare(alternating(12).iloc[:0], "a", "b").to_dict(), allow_nan=False)


def test_blocks_come_in_time_order():
    found = compare(alternating(13, blocks=20), "a", "b")
    starts = [block.start_utc for block in found.by_block]
    assert starts == sorted(starts) and len(starts) == 20
    assert [block.setup for block in found.by_block] == ["a", "b"] * 10
    assert sum(block.reports for block in found.by_block) == found.spots


def test_a_block_s_interval_is_that_of_the_mean_of_its_pairs():
    """Mean and standard error (scipy's) of the contrasts in each stretch, 1.96 of these either way."""
    time = np.arange(0, 120, 4.0)
    rng = np.random.default_rng(2)
    reports = sorted_reports(time, time // 10 % 2 == 0, snr_db=rng.normal(0, 3, len(time)))
    told, pairs = design.alternation(reports), _in_time(reports, 30.0)
    found = evidence.by_block(reports, told, pairs, ("a", "b"), 0)
    number = design.block_numbers(reports, told)
    assert len(found) == 12 and {block.pairs for block in found} >= {2, 3}
    for k, block in enumerate(found):
        inside = number == np.unique(number)[k]
        difference_db = pairs.difference_db[inside[pairs.row]]
        minutes = [pd.Timestamp(text).timestamp() / 60 for text in (block.start_utc, block.end_utc)]
        assert minutes == [time[inside].min(), time[inside].max()]
        assert (block.reports, block.pairs, block.setup) == (inside.sum(), len(difference_db), "ab"[k % 2])
        if len(difference_db) < 2:
            assert block.difference_db is None and block.low_db is None and block.high_db is None
            continue
        half = 1.96 * stats.sem(difference_db)
        assert block.difference_db == pytest.approx(difference_db.mean())
        assert [block.low_db, block.high_db] == pytest.approx(
            [difference_db.mean() - half, difference_db.mean() + half]
        )


def test_a_receiver_s_interval_is_that_of_the_mean_of_its_pairs():
    found = compare(alternating(13, blocks=20), "a", "b")
    for each in found.by_receiver:
        if each.difference_db is not None and each.low_db is not None:
            assert each.low_db < each.difference_db < each.high_db
            assert each.high_db - each.difference_db == pytest.approx(each.difference_db - each.low_db)


@pytest.mark.parametrize(("shared", "together"), [(0.2, False), (0.5, True), (0.8, True)])
def test_setups_that_share_enough_moments_were_on_the_air_at_once(shared, together):
    """Ten-minute blocks in turn; in so many slots the other setup is there as well."""
    time = np.arange(0, 480, 2.0)
    is_a = time // 10 % 2 == 0
    both = np.arange(len(time)) % 10 < 10 * shared
    found = design.alternation(sorted_reports([*time, *time[both]], [*is_a, *~is_a[both]]))
    assert found.simultaneous is together


def test_a_report_of_a_control_needs_one():
    some, none = sorted_reports([0.0, 4.0], [True, False]), sorted_reports([], [])
    for ours, control_reports in ((some, none), (none, some), (none, none)):
        rows, nearest = days._nearest(ours, control_reports)
        assert rows.shape == (0,) and nearest.shape == (0, 2)


def test_what_a_day_costs_is_held_against_what_the_plan_promises_of_quick_changes():
    """Eight hours of ten-minute blocks heard by as many receivers, from the law that `reach plan` uses."""
    days = _told(Scenario("days", design="days", days=10, hours=3, receivers=30))
    quick_db = _values(days.warnings, Caution.DAYS_COUNT)["quick_db"]
    assert design.hours_needed(False, 10.0, days.receivers, quick_db) == pytest.approx(8.0)
    assert _values(days.warnings, Caution.DAYS_COUNT)["half_width_db"] == (days.high_db - days.low_db) / 2


def test_the_slope_told_at_the_limit_is_a_share():
    spots = alternating(9, receivers=8, blocks=40)
    found = compare(spots, "a", "b")
    assert found.limit_slope is not None
    for slope, told in ((1.7, 1.0), (0.8, 0.8)):
        refusal = checks.at_the_limit(SimpleNamespace(kept=np.array([1.0, 0.5]), slope=slope), False)
        assert dict(refusal.reason.values) == {"kept": 0.75, "slope": told, "saturated": False}


def test_overlap_is_the_share_with_a_partner():
    reports = sorted_reports([0, 5, 100, 200, 204], [1, 0, 1, 0, 1])
    assert design.overlap(reports, within_min=6.0) == pytest.approx(0.8)


# -- breakdown


def _located(seed: int, near_db: float, far_db: float) -> pd.DataFrame:
    """Twelve receivers near and to the east, twelve far and to the west."""
    near = alternating(seed, receivers=12, blocks=40, difference_db=near_db, noise_db=1.5)
    far = alternating(seed + 1, receivers=12, blocks=40, difference_db=far_db, noise_db=1.5)
    far = far.assign(rx_call=far["rx_call"].cat.rename_categories(lambda name: "K" + name[1:]))
    near = near.assign(distance_km=800.0, bearing_deg=92.0)
    far = far.assign(distance_km=6000.0, bearing_deg=285.0)
    return pd.concat([near, far], ignore_index=True).assign(mid_day_night="night")


def test_parts_that_differ_are_claimed():
    found = compare(_located(20, -2.0, 4.0), "a", "b")
    zones = {cell.name: cell for cell in found.cells if cell.by == "zone"}
    assert zones["0-1500"].differs and zones["3000-20100"].differs
    assert zones["0-1500"].difference_db == pytest.approx(-2, abs=0.6)
    assert zones["3000-20100"].difference_db == pytest.approx(4, abs=0.6)
    sectors = {cell.name: (cell.start, cell.end) for cell in found.cells if cell.by == "sector"}
    assert sectors == {"E": (75, 105), "WNW": (285, 315)}
    assert {cell.name: (cell.start, cell.end) for cell in found.cells if cell.by == "zone"} == {
        "0-1500": (0, 1500), "3000-20100": (3000, 20100),
    }  # fmt: skip
    assert not any(
        cell.by in ("band", "day_night") for cell in found.cells
    )  # one band, all night: nothing to tell apart


def test_parts_that_do_not_differ_are_not():
    found = compare(_located(22, 2.0, 2.0), "a", "b")
    assert not any(cell.differs for cell in found.cells)


def test_a_cell_with_few_receivers_is_not_shown():
    spots = _located(24, 2.0, 2.0)
    lonely = spots["rx_call"] == spots["rx_call"].iloc[0]
    found = compare(spots.assign(distance_km=np.where(lonely, 2500.0, spots["distance_km"])), "a", "b")
    cell = next(cell for cell in found.cells if cell.name == "1500-3000")
    assert not cell.shown and cell.difference_db is None and cell.receivers <= 1


def test_holm_agrees_with_statsmodels():
    p = [0.004, 0.2, 0.013, None, 0.012, 0.9, 0.03]
    blank = Cell("ring", "", 0.0, 1.0, 3, 20, True)
    claimed = cells._claims([replace(blank, p_holm=one) for one in p])
    _, adjusted, *_ = multipletests([one for one in p if one is not None], method="holm")
    assert [cell.p_holm for cell in claimed if cell.p_holm is not None] == pytest.approx(list(adjusted))
    assert [cell.differs for cell in claimed] == [True] + 6 * [False]
    assert claimed[3].p_holm is None


def test_sidak_is_wider_than_plain_and_holm_never_smaller_than_its_p():
    found = compare(_located(26, 0.0, 1.0), "a", "b")
    for cell in (cell for cell in found.cells if cell.shown):
        assert cell.sidak_low_db <= cell.low_db < cell.difference_db < cell.high_db <= cell.sidak_high_db
        assert cell.differs == (cell.p_holm < 0.05)


def test_one_part_alone_needs_no_allowance_for_the_number_of_parts():
    spots = _located(26, 1.0, 1.0)
    far = spots["distance_km"] > 1500
    lonely = spots["rx_call"] == spots["rx_call"][far].iloc[0]
    near = spots[~far | lonely].assign(bearing_deg=np.where(far, 285.0, 2.0)[~far | lonely])
    found = compare(near, "a", "b")
    shown = [cell for cell in found.cells if cell.shown]
    assert {(cell.by, cell.name) for cell in shown} == {("zone", "0-1500"), ("ring", "500-1000"), ("sector", "N")}
    for cell in shown:
        assert (cell.sidak_low_db, cell.sidak_high_db) == pytest.approx((cell.low_db, cell.high_db))
    (north,) = [cell for cell in shown if cell.by == "sector"]
    assert (north.start, north.end) == (345, 15)


def test_without_a_station_locator_the_breakdown_is_left_out_and_that_is_said():
    found = compare(alternating(14, blocks=30, bands=("20m", "40m")), "a", "b")
    assert {cell.by for cell in found.cells} == {"band"}
    assert _codes(found.breakdown_left_out) == [Gap.NO_STATION_PLACE, Gap.NO_STATION_LIGHT]
    placed = compare(alternating(14, blocks=30).assign(tx_locator="IO51es"), "a", "b")
    assert {"zone", "ring", "sector"} <= {cell.by for cell in placed.cells} and not placed.breakdown_left_out


# -- a verdict for each band


def _by_band(**each) -> pd.DataFrame:
    """A table of spots with bands of their own: name -> arguments of `alternating`; the same receivers on all."""
    parts = [alternating(k, **how).assign(band=name) for k, (name, how) in enumerate(each.items())]
    return pd.concat(parts, ignore_index=True)


STRONG = {"receivers": 12, "blocks": 40, "level_db": 10.0, "noise_db": 1.0}


def test_every_band_has_a_verdict_or_the_reason_and_stands_first():
    spots = _by_band(
        b20={**STRONG, "difference_db": 4.0},
        b30={**STRONG, "difference_db": -4.0},
        b40={**STRONG, "difference_db": 0.0},
        b60={**STRONG, "blocks": 8},
        b80={**STRONG, "receivers": 2},
        b160=STRONG,
    )
    only_a = spots[~((spots["band"] == "b160") & (spots["setup"] == "b")).to_numpy()]
    found = compare(only_a.assign(tx_locator="IO51es"), "a", "b")
    bands = {cell.name: cell for cell in found.cells if cell.by == "band"}
    assert [cell.by for cell in found.cells][: len(bands)] == ["band"] * len(bands)
    told = {name: cell.verdict for name, cell in bands.items()}
    assert told["b20"] == "a better" and told["b30"] == "b better" and told["b40"] == "no clear difference"
    assert {name for name, one in told.items() if one == "cannot tell"} == {"b60", "b80", "b160"}
    assert {name: cell.reason.code for name, cell in bands.items() if cell.reason} == {
        "b60": Refused.TOO_LITTLE, "b80": Refused.TOO_LITTLE, "b160": Refused.ONE_UNHEARD,
    }  # fmt: skip
    short, few = bands["b60"], bands["b80"]
    assert short.times < 4 and short.more_hours == pytest.approx(80 / 60 * (4 / short.times - 1))
    assert few.receivers == 2 and few.more_hours is None  # no time on the air makes them three


def test_what_a_band_lacks_is_told_in_whole_turns():
    """Of ten-minute blocks nobody can add less than one of each setup."""
    found = compare(_by_band(b20=STRONG, b60={**STRONG, "blocks": 13}).assign(tx_locator="IO51es"), "a", "b")
    (short,) = (cell for cell in found.cells if cell.name == "b60")
    assert 3.5 < short.times < 4 and short.more_hours == pytest.approx(2 * found.design.period_min / 60)


def test_a_band_that_hours_did_nothing_for_is_promised_none():
    """Five hours on a band gave no pair, and "about 4 hours more on 15m should do"; where it was on for one hour they may."""
    sparse = {**STRONG, "heard": 0.01}
    found = compare(_by_band(b20=STRONG, b15={**sparse, "blocks": 60}, b10={**sparse, "blocks": 6}), "a", "b")
    bands = {cell.name: cell for cell in found.cells if cell.by == "band"}
    assert bands["b15"].pairs < 5 and bands["b15"].reason.code == Refused.TOO_LITTLE and bands["b15"].more_hours is None
    assert bands["b10"].more_hours is not None


def test_a_band_s_verdict_allows_for_the_number_of_bands():
    """It stands on the interval for all bands together."""
    for seed in range(6):
        spots = _by_band(**{f"b{k}": {**STRONG, "blocks": 24, "difference_db": 0.4, "noise_db": 3.0} for k in range(4)})
        spots = spots.assign(snr_db=spots["snr_db"] + np.random.default_rng(seed).normal(0, 2, len(spots)).round())
        for cell in compare(spots, "a", "b", decoding_limit_db=-28.0).cells:
            if cell.shown:
                assert (cell.verdict == "a better") == (cell.sidak_low_db > 0)


@pytest.mark.parametrize("seed", range(4))
def test_what_is_advised_gets_there(seed):
    """Where receivers report one slot in twenty, seven hours give a handful of pairs; "about 3 hours in all should tell 1 dB
    apart" was said of them."""
    few = {"receivers": 60, "heard": 0.05}
    found = compare(alternating(seed, blocks=200, block_min=2, **few), "a", "b")
    assert _codes(found.reasons) == [Refused.TOO_LITTLE]
    assert _codes(found.next_steps) == [NextStep.AT_THIS_PACE, NextStep.LONGER_STRETCHES]
    hours = _values(found.next_steps, NextStep.AT_THIS_PACE)["hours"]
    assert found.design.hours < hours
    at_this_pace = compare(alternating(seed, blocks=int(3 * hours * 30), block_min=2, **few), "a", "b")
    assert at_this_pace.pairs > 20
    longer_stretches = compare(alternating(seed, blocks=40, block_min=10, **few), "a", "b")
    assert longer_stretches.pairs > found.pairs


def test_bands_that_come_round_too_late_are_refused_with_advice_that_can_be_followed():
    spots = alternating(14, blocks=120, block_min=14, level_db=10, bands=tuple(f"{k}m" for k in range(10)))
    found = compare(spots, "a", "b")
    assert _codes(found.reasons) == [Refused.TOO_LITTLE]
    values = _values(found.next_steps, NextStep.FEWER_BANDS)
    assert values["bands"] == 10 and values["return_min"] == pytest.approx(280)


def test_an_order_that_was_reversed_is_not_advised_again():
    same = compare(alternating(14, blocks=60, level_db=10, bands=("20m", "40m")), "a", "b")
    assert NextStep.REVERSE in _codes(same.next_steps) and same.design.bands == 2
    about = compare(alternating(14, blocks=60, level_db=10, bands=("20m", "40m"), order="ababbaba"), "a", "b")
    assert NextStep.REVERSE not in _codes(about.next_steps) and about.design.bands == 2
    assert about.design.period_min == same.design.period_min == 10.0

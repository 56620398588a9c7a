"""Reach against the same numbers worked out row by row, and the quantiles against numpy."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import quantile
from reach.measure import reach as measured
from reach.measure import sectors
from reach.measure.receivers import receivers
from reach.measure.tally import tally
from reach.place.geometry import place
from reach.radio.power import Power
from reach.spots import CORROBORATED, RECEIVERS, RING_EDGES_KM, SUSPECT, UNCONFIRMED
from tests import factory
from tests.measure.test_tally import PLACES, spot, table

TRUST_COLUMNS = ["rx_call", "rx_locator", "trust"]


@given(
    st.lists(st.tuples(st.integers(-60, 60), st.integers(0, 6)), min_size=1, max_size=30),
    st.lists(st.floats(0, 1), min_size=1, max_size=5),
)
def test_weighted_quantiles_are_numpys(pairs, shares):
    values, counts = zip(*pairs, strict=True)
    if sum(counts) == 0:
        assert np.isnan(quantile.weighted(values, counts, shares)).all()
        return
    truth = np.quantile(np.repeat(values, counts), shares)
    assert quantile.weighted(values, counts, shares) == pytest.approx(truth, abs=1e-9)


def test_quantile_of_nothing():
    assert np.isnan(quantile.weighted([], [], [0.5]))[0]
    assert quantile.weighted([np.nan, 4], [5, 1], [0.5]) == [4]


def _summary(spots, power=None):
    spots = spots if "distance_km" in spots else place(spots)
    return measured.reach(tally(spots), power=power).to_dict()


@given(st.lists(spot, min_size=1, max_size=40))
def test_figures_are_those_of_the_rows(rows):
    spots = place(table(rows))
    figures = _summary(spots)["all"]["overall"]
    assert figures["spots"] == len(spots)
    assert figures["receivers"] == spots["rx_call"].nunique()
    assert figures["squares"] == spots["rx_locator"].astype(str).str[:4].nunique()
    assert figures["median_km"] == pytest.approx(np.median(spots["distance_km"]), abs=1e-3)
    assert figures["p90_km"] == pytest.approx(np.quantile(spots["distance_km"], 0.9), abs=1e-3)
    assert figures["farthest"]["distance_km"] == pytest.approx(spots["distance_km"].max(), abs=1e-3)
    assert figures["snr_db"]["median"] == np.median(spots["snr_db"])
    assert figures["by_hour"] == [(spots["time_utc"].dt.hour == h).sum() for h in range(24)]


@given(st.lists(spot, min_size=1, max_size=40))
def test_every_cut_adds_up(rows):
    block = _summary(place(table(rows)))["all"]
    total = block["overall"]["spots"]
    assert sum(block["overall"]["by_hour"]) == total
    assert sum(ring["reports"] for ring in block["overall"]["by_ring"]) == total
    assert sum(sector["reports"] for sector in block["overall"]["by_sector"]) == total
    assert sum(part["spots"] for part in block["by_band"].values()) == total
    assert sum(part["spots"] for part in block["by_band_and_setup"]) == total


def test_headline_counts_corroborated_receivers_only():
    rows = [(place_, "20m", "wire", 100 * k, -10, "IO51es") for k, place_ in enumerate(PLACES)]
    known = {("F4QRA", "JN18du"): CORROBORATED, ("DL5QSA", "JO62qm"): CORROBORATED, ("W1QUZ", "FN42hi"): SUSPECT}
    spots = factory.trusted(
        place(table(rows)), pd.DataFrame([(*pair, kind) for pair, kind in known.items()], columns=TRUST_COLUMNS)
    )
    found = _summary(spots)
    everything = found["all"]["overall"]["farthest"]
    assert (everything["rx_call"], everything["trust"]) == ("W1QUZ", SUSPECT)
    assert found["corroborated"]["overall"]["farthest"]["rx_locator"] == "JO62qm"
    assert found["spots_between"] == 3
    assert found["suspect_spots"] == 1
    assert tally(spots).cells["trust"].value_counts()[UNCONFIRMED] == 2


def test_kilometres_per_watt_uses_each_setups_power():
    rows = [(PLACES[0], "20m", "vertical", 0, -10, "IO51es"), (PLACES[3], "20m", "wire", 60, -10, "IO51es")]
    spots = place(table(rows))
    near, far = spots["distance_km"]
    half, five = Power(0.5, "antenna"), Power(5.0, "radio")
    found = _summary(spots, power={("vertical", "20m"): half, ("wire", "20m"): five})["all"]
    assert found["by_setup"]["vertical"]["km_per_watt"] == pytest.approx(near / 0.5, abs=1e-2)
    assert found["by_setup"]["wire"]["km_per_watt"] == pytest.approx(far / 5, abs=1e-2)
    assert found["overall"]["km_per_watt"] == pytest.approx(max(near / 0.5, far / 5), abs=1e-2)
    assert found["by_setup"]["vertical"]["median_snr_at_1_w_db"] == pytest.approx(-10 - 10 * np.log10(0.5), abs=1e-3)
    assert found["by_setup"]["wire"]["median_snr_at_1_w_db"] == pytest.approx(-10 - 10 * np.log10(5), abs=1e-3)
    unnamed = place(table([(PLACES[0], "20m", None, 0, -10, "IO51es")]))
    without_setup = _summary(unnamed, power={("", "20m"): five})["all"]["overall"]
    assert without_setup["km_per_watt"] == pytest.approx(near / 5, abs=1e-2)
    missing = _summary(spots, power={("vertical", "20m"): half})["all"]
    assert missing["overall"]["km_per_watt"] is None and missing["by_setup"]["vertical"]["km_per_watt"] is not None


@given(st.lists(spot, min_size=1, max_size=40))
def test_receivers_are_those_of_the_rows(rows):
    spots = place(table(rows))
    found = receivers(tally(spots)).set_index(["rx_call", "rx_locator"])
    groups = spots.groupby(["rx_call", "rx_locator"], observed=True)
    assert len(found) == groups.ngroups
    for index, group in groups:
        assert found.loc[index, "reports"] == len(group)
        assert found.loc[index, "median_snr_db"] == np.median(group["snr_db"])
        assert found.loc[index, "best_snr_db"] == group["snr_db"].max()
        assert found.loc[index, "first_utc"] == group["time_utc"].min()


def test_no_spots_have_a_summary_and_no_receivers():
    nothing = table([])
    found = _summary(nothing)
    assert found["all"]["overall"]["spots"] == 0
    assert found["all"]["overall"]["farthest"] is None
    assert found["period"]["first_utc"] is None
    empty = receivers(tally(place(nothing)))
    assert list(empty.columns) == list(RECEIVERS) and empty.empty


def test_sectors_are_centred_on_north():
    assert sectors.sector_of([0, 14.999, 15, 344.999, 345, 359.9, np.nan]).tolist() == [0, 0, 1, 11, 0, 0, -1]


def test_rings_own_their_inner_edge():
    assert sectors.ring_of([0, 499.999, 500, 20003.9]).tolist() == [0, 0, 1, len(RING_EDGES_KM) - 2]


def test_reach_is_what_pandas_says_of_the_spots_written_out():
    result = factory.result(1200, 90)
    spots, found = result.spots, result.reach.all.overall
    assert found.reports == len(spots)
    assert found.receivers == spots["rx_call"].nunique()
    assert found.squares == spots["rx_locator"].astype(str).str[:4].nunique()
    assert found.countries == spots["country"].nunique()
    assert found.median_km.value == pytest.approx(spots["distance_km"].quantile(0.5), rel=1e-12)
    assert found.p90_km.value == pytest.approx(spots["distance_km"].quantile(0.9), rel=1e-12)
    top = spots.loc[spots["distance_km"].idxmax()]
    assert found.farthest is not None
    assert (found.farthest.call, found.farthest.locator) == (top["rx_call"], top["rx_locator"])
    assert found.farthest.distance_km == top["distance_km"]
    assert (
        found.farthest.reports
        == (spots["rx_call"].eq(top["rx_call"]) & spots["rx_locator"].eq(top["rx_locator"])).sum()
    )


def test_a_quantile_interval_covers_what_it_promises():
    """Receivers drawn from a known population, with unequal zeal: the interval holds its median 95 times in 100."""
    rng = np.random.default_rng(11)
    truth_km = np.exp(7.0)  # the median of the lognormal distances below
    inside = []
    for _ in range(400):
        km, reports = rng.lognormal(7.0, 0.8, 80), rng.geometric(0.2, 80)
        found = measured.quantile_estimate(km, reports, 0.5)
        inside.append(found.low <= truth_km <= found.high)
    assert 0.92 <= np.mean(inside) <= 0.98


def test_a_share_interval_covers_what_it_promises():
    rng = np.random.default_rng(12)
    inside = []
    for _ in range(400):
        holds, reports = rng.random(80) < 0.3, rng.geometric(0.2, 80)
        found = measured.share_estimate(holds, reports)
        inside.append(found.low <= 0.3 <= found.high)
    assert 0.91 <= np.mean(inside) <= 0.98


@given(st.lists(st.tuples(st.floats(0, 20_000), st.integers(0, 50)), max_size=40), st.sampled_from([0.1, 0.5, 0.9]))
def test_an_interval_holds_its_estimate_and_the_range(rows: list[tuple[float, int]], share: float):
    km, reports = [row[0] for row in rows], [row[1] for row in rows]
    found = measured.quantile_estimate(km, reports, share)
    written_out = np.repeat(km, reports)
    if not len(written_out):
        assert np.isnan(found.value)
        assert not found.has_interval
        return
    assert found.value == pytest.approx(np.quantile(written_out, share), rel=1e-9, abs=1e-9)
    if found.has_interval:
        slack = 1e-9 * (1 + found.value)
        assert written_out.min() - slack <= found.low <= found.value + slack
        assert found.value - slack <= found.high <= written_out.max() + slack

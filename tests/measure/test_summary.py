"""The summary against the same numbers worked out row by row, and the quantiles against numpy."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import quantile
from reach.measure import summary
from reach.measure.tally import tally
from reach.place.place import paths, place
from reach.spots import CORROBORATED, RECEIVERS, RING_EDGES_KM, SUSPECT, UNCONFIRMED
from tests.measure.test_tally import PLACES, spot, table


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


def _summary(spots, trust=None, power=None):
    return summary.summarise(tally(spots), paths(spots), trust, power=power)


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
    trust = pd.DataFrame(
        {
            "rx_call": ["F4QRA", "DL5QSA", "W1QUZ"],
            "rx_locator": ["JN18du", "JO62qm", "FN42hi"],
            "trust": [CORROBORATED, CORROBORATED, SUSPECT],
        }
    )
    found = _summary(table(rows), trust)
    everything = found["all"]["overall"]["farthest"]
    assert (everything["rx_call"], everything["trust"]) == ("W1QUZ", SUSPECT)
    assert found["corroborated"]["overall"]["farthest"]["rx_locator"] == "JO62qm"
    assert found["spots_between"] == 3
    trust = summary.joined(tally(table(rows)), paths(table(rows)), trust)["trust"]
    assert trust.value_counts()[UNCONFIRMED] == 2


def test_kilometres_per_watt_uses_each_setups_power():
    rows = [(PLACES[0], "20m", "vertical", 0, -10, "IO51es"), (PLACES[3], "20m", "wire", 60, -10, "IO51es")]
    spots = place(table(rows))
    near, far = spots["distance_km"]
    half, five = summary.Power(0.5, "antenna"), summary.Power(5.0, "radio")
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
    spots = table(rows)
    found = summary.receivers(tally(spots), paths(spots)).set_index(["rx_call", "rx_locator"])
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
    empty = summary.receivers(tally(nothing), paths(nothing))
    assert list(empty.columns) == list(RECEIVERS) and empty.empty


def test_sectors_are_centred_on_north():
    assert summary.sector_of([0, 14.999, 15, 344.999, 345, 359.9, np.nan]).tolist() == [0, 0, 1, 11, 0, 0, -1]


def test_rings_own_their_inner_edge():
    assert summary.ring_of([0, 499.999, 500, 20003.9]).tolist() == [0, 0, 1, len(RING_EDGES_KM) - 2]

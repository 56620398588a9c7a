"""The facts and sentences of page and slides: numbers from pandas and numpy, by another way."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach import study as studies
from reach.base import words
from reach.draw import captions
from reach.radio import power
from reach.spots import CORROBORATED
from reach.tell import facts
from tests import factory

RESULT = factory.result(1200, 90)


def test_reach_is_what_pandas_says_of_the_spots_written_out():
    spots = facts.with_trust(RESULT)
    found = facts.reach(spots)
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


def test_reach_agrees_with_the_summary():
    spots = facts.with_trust(RESULT)
    for block, part in (("all", spots), ("corroborated", spots[spots["trust"] == CORROBORATED])):
        theirs, ours = RESULT.summary[block]["overall"], facts.reach(part)
        assert (ours.reports, ours.receivers, ours.squares, ours.countries) == (
            theirs["spots"], theirs["receivers"], theirs["squares"], theirs["countries"],
        )  # fmt: skip
        assert ours.median_km.value == pytest.approx(theirs["median_km"], abs=0.001)
        assert ours.p90_km.value == pytest.approx(theirs["p90_km"], abs=0.001)
        assert ours.farthest is not None
        assert ours.farthest.call == theirs["farthest"]["rx_call"]
        assert ours.farthest.bands == tuple(facts.bands(part[part["rx_call"] == ours.farthest.call]))


def test_a_quantile_interval_covers_what_it_promises():
    """Receivers drawn from a known population, with unequal zeal: the interval holds its median 95 times in 100."""
    rng = np.random.default_rng(11)
    truth_km = np.exp(7.0)  # the median of the lognormal distances below
    inside = []
    for _ in range(400):
        km, reports = rng.lognormal(7.0, 0.8, 80), rng.geometric(0.2, 80)
        found = facts.quantile_estimate(km, reports, 0.5)
        inside.append(found.low <= truth_km <= found.high)
    assert 0.92 <= np.mean(inside) <= 0.98


def test_a_share_interval_covers_what_it_promises():
    rng = np.random.default_rng(12)
    inside = []
    for _ in range(400):
        holds, reports = rng.random(80) < 0.3, rng.geometric(0.2, 80)
        found = facts.share_estimate(holds, reports)
        inside.append(found.low <= 0.3 <= found.high)
    assert 0.91 <= np.mean(inside) <= 0.98


@given(st.lists(st.tuples(st.floats(0, 20_000), st.integers(0, 50)), max_size=40), st.sampled_from([0.1, 0.5, 0.9]))
def test_an_interval_holds_its_estimate_and_the_range(rows: list[tuple[float, int]], share: float):
    km, reports = [row[0] for row in rows], [row[1] for row in rows]
    found = facts.quantile_estimate(km, reports, share)
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


def test_one_busy_receiver_gives_no_interval():
    assert not facts.quantile_estimate([100.0, 200.0, 300.0], [500, 1, 1], 0.5).has_interval
    assert not facts.share_estimate([True, False], [500, 1]).has_interval
    assert "too few receivers" in facts.interval_km(facts.quantile_estimate([100.0], [9], 0.5))


def test_the_answer_has_four_sentences_each_with_numbers_behind_it():
    given_without = factory.from_spots(RESULT.spots, _trust(), study=factory.study(compare=None))
    answer = facts.answer(given_without)
    assert [each.topic for each in answer] == ["How far", "Where to", "When", "Which setup"]
    found = facts.headline_reach(given_without)
    assert words.km(found.median_km.value) in answer[0].text
    assert words.things(found.reports, "report") in answer[0].text
    assert facts.interval_km(found.median_km) in answer[0].evidence
    assert words.things(found.countries, "country", "countries") in answer[1].text
    assert words.km(found.median_km.value) in facts.headline(given_without)


def test_the_busiest_hour_is_the_busiest():
    spots = facts.with_trust(RESULT)
    sure = spots[spots["trust"] == CORROBORATED]
    by_hour = sure["time_utc"].dt.hour.value_counts().sort_index()
    sentence = facts.answer(factory.from_spots(RESULT.spots, _trust(), study=factory.study(compare=None)))[2]
    assert f"between {facts.hour(int(by_hour.index[by_hour.argmax()]))} UTC" in sentence.text
    assert sentence.evidence.startswith(f"{words.count(by_hour.max())} of {words.things(len(sure), 'report')}")


def test_suspects_never_carry_the_headline():
    trust = _trust().assign(trust="suspect")
    near = RESULT.spots["distance_km"] < 2000
    calls = RESULT.spots.loc[near, "rx_call"].astype(str).unique()
    trust.loc[trust["rx_call"].astype(str).isin(calls), "trust"] = "corroborated"
    result = factory.from_spots(RESULT.spots, trust, study=factory.study(compare=None))
    found = facts.headline_reach(result)
    assert found.farthest is not None
    assert found.farthest.distance_km < 2000
    sentence = facts.answer(result)[0]
    assert found.farthest.call in sentence.text
    far = RESULT.spots.loc[RESULT.spots["distance_km"].idxmax(), "rx_call"]
    assert str(far) not in sentence.text
    assert f"({far}, suspect)" in sentence.evidence


@pytest.mark.parametrize("trust", ["unconfirmed", "suspect"])
def test_without_corroborated_locators_nothing_is_claimed(trust):
    """No distance, country, square or direction; the hours stand, as they rest on no locator."""
    result = factory.from_spots(RESULT.spots, _trust().assign(trust=trust), study=factory.study(compare=None))
    found = facts.headline_reach(result)
    assert (found.reports, found.farthest) == (0, None)
    assert facts.headline(result) == "No locator is corroborated, so no reach is claimed"
    answer = facts.answer(result)
    assert [each.topic for each in answer] == ["How far", "When", "Which setup"]
    said = " ".join(each.text + each.evidence for each in answer)
    assert not re.search(r"\d\s*km|countr(y|ies) and|sector", said)
    assert ("suspect" in answer[0].evidence) == (trust == "suspect")
    busiest = RESULT.spots["time_utc"].dt.hour.value_counts().sort_index()
    assert f"between {facts.hour(int(busiest.index[busiest.argmax()]))} UTC" in answer[1].text


def test_no_report_at_all():
    result = factory.from_spots(RESULT.spots.iloc[:0], _trust())
    assert len(facts.answer(result)) == 1
    assert facts.headline(result) == "No report was accepted"
    assert facts.period(result) == "no reports"
    assert factory.STATION in facts.circumstances(result)


def test_page_and_pictures_tell_the_same_powers():
    """With two powers given by setup the page said "5 W and 10 W" and the pictures "power not given"."""
    asked = studies.check({"setups": {"vertical": {"power_w": 10.0}, "wire": {"power_w": 5.0}}})
    spots = RESULT.spots.assign(power_w=np.float32("nan"))
    assert set(spots["setup"].dropna()) == set(asked.setups) and spots["setup"].notna().all()
    result = replace(RESULT, study=asked, spots=spots, budgets=power.budgets(asked, power.frequencies_mhz(spots)))
    both = f"5{words.THIN}W and 10{words.THIN}W at the radio"
    assert both in facts.circumstances(result) and both in captions.about(result, "title").subtitle
    assert facts.powers(result) == [5.0, 10.0]


def test_bands_are_sorted_by_wavelength():
    spots = RESULT.spots.iloc[:5].assign(band=pd.Categorical(["70cm", "20m", "2190m", "6mm", "odd"]))
    assert facts.bands(spots) == ["2190m", "20m", "70cm", "6mm", "odd"]


def _trust() -> pd.DataFrame:
    return RESULT.receivers[["rx_call", "rx_locator", "trust"]]

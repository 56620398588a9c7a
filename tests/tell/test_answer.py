"""The answer in words: what it says is what was measured, and nothing is claimed that nothing confirms."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from reach import study as studies
from reach.base import words
from reach.base.words import PRINT
from reach.draw import captions
from reach.measure.reach import quantile_estimate, share_estimate
from reach.radio import power
from reach.spots import CORROBORATED
from reach.tell import page
from reach.tell.deck import outline
from reach.tell.sentences import reach as sentences
from tests import factory

RESULT = factory.result(1200, 90)


def test_one_busy_receiver_gives_no_interval():
    assert not quantile_estimate([100.0, 200.0, 300.0], [500, 1, 1], 0.5).has_interval
    assert not share_estimate([True, False], [500, 1]).has_interval
    assert "too few receivers" in sentences.interval_km(quantile_estimate([100.0], [9], 0.5), PRINT)


def test_the_answer_has_four_sentences_each_with_numbers_behind_it():
    given_without = factory.from_spots(RESULT.spots, _trust(), study=factory.study(compare=None))
    answer = sentences.answer(given_without, PRINT)
    assert [each.topic for each in answer] == ["How far", "Where to", "When", "Which setup"]
    found = given_without.reach.headline
    assert PRINT.beyond(found.median_km.value) in answer[0].text
    assert words.things(found.reports, "report") in answer[0].text
    assert f"interval {sentences.interval_km(found.median_km, PRINT)})" in answer[0].text
    assert sentences.interval_km(found.p90_km, PRINT) in answer[0].evidence
    assert words.things(found.countries, "country", "countries") in answer[1].text
    assert PRINT.beyond(found.median_km.value) in sentences.headline(given_without, PRINT)


def test_no_hour_is_singled_out_of_even_ones():
    """The made-up reports are spread evenly over the hours by construction: "most reports came between 19 and 20" was said."""
    given = factory.from_spots(RESULT.spots, _trust(), study=factory.study(compare=None))
    sentence = sentences.answer(given, PRINT)[2]
    assert sentence.text == "Reports came in 6 hours of the day."
    assert "No hour stands apart from the others." in sentence.evidence


def test_the_fullest_hour_is_named_where_it_stands_apart():
    """Every receiver reports six times as often between 19 and 20 UTC."""
    spots, trust = RESULT.spots, _trust().assign(trust=CORROBORATED)
    then = spots[(spots["time_utc"].dt.hour == 19).to_numpy()]
    planted = pd.concat([spots, *[then] * 5], ignore_index=True)
    given = factory.from_spots(planted, trust, study=factory.study(compare=None))
    found, sentence = given.reach.headline, sentences.answer(given, PRINT)[2]
    (full,) = (hour for hour in found.hours if hour.hour_utc == 19)
    assert sentence.text.startswith("Reports were most frequent between 19:00 and 20:00 UTC")
    assert sentence.evidence.startswith(f"{words.count(full.reports)} of {words.things(found.reports, 'report')}")


def test_suspects_never_carry_the_headline():
    trust = _trust().assign(trust="suspect")
    near = RESULT.spots["distance_km"] < 2000
    calls = RESULT.spots.loc[near, "rx_call"].astype(str).unique()
    trust.loc[trust["rx_call"].astype(str).isin(calls), "trust"] = "corroborated"
    result = factory.from_spots(RESULT.spots, trust, study=factory.study(compare=None))
    found = result.reach.headline
    assert found.farthest is not None
    assert found.farthest.distance_km < 2000
    sentence = sentences.answer(result, PRINT)[0]
    assert found.farthest.call in sentence.text
    far = RESULT.spots.loc[RESULT.spots["distance_km"].idxmax(), "rx_call"]
    assert str(far) not in sentence.text
    assert f"({far}, suspect)" in sentence.evidence


def _trust() -> pd.DataFrame:
    return RESULT.receivers[["rx_call", "rx_locator", "trust"]]


def test_page_and_pictures_tell_the_same_powers():
    """With two powers given by setup the page said "5 W and 10 W" and the pictures "power not given"."""
    asked = studies.check({"setups": {"vertical": {"power_w": 10.0}, "wire": {"power_w": 5.0}}})
    spots = RESULT.spots.assign(power_w=np.float32("nan"))
    assert set(spots["setup"].dropna()) == set(asked.setups) and spots["setup"].notna().all()
    result = replace(RESULT, study=asked, spots=spots, budgets=power.budgets(asked, power.frequencies_mhz(spots)))
    both = f"5{words.THIN}W and 10{words.THIN}W at the radio"
    assert both in sentences.circumstances(result, PRINT) and both in captions.about(result, "title").subtitle
    assert sentences.powers(result) == [5.0, 10.0]


@pytest.mark.parametrize("name", ["evening", "messy", "weekend"])
def test_from_the_rows_read_to_the_reports_of_the_headline_no_number_is_missing(walks, name):
    """1,484 accepted rows and "half of 1,453 reports" ask where 31 went: said on terminal, page and slide where there are any."""
    found = walks[name].findings
    apart = found.counts.accepted - found.reach.headline.reports
    assert (apart > 0) == (name == "messy")
    said = f"{apart} reports with other locators are not counted."
    above = page.html(found).split('id="answer"')[0]
    (station,) = (slide for slide in outline.deck(found).slides if slide.name == "station")
    slide = " ".join(line.text for place in station.texts for line in place)
    for text in (str(walks[name]), html.unescape(above), slide):
        assert (said.replace(" ", "") in re.sub(r"\s", "", text)) == (apart > 0)

"""The gate is heeded: sentences and titles that had claimed what nothing carries now say the plain thing."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.base import tongue, words
from reach.base.words import PRINT, TERMINAL, Typography
from reach.compare.comparison import Verdict
from reach.draw import gallery
from reach.spots import CORROBORATED
from reach.tell.sentences import pictures
from reach.tell.sentences import reach as sentences
from tests import factory
from tests.factory import all_text

RESULT = factory.result(1200, 90)


def among(calls: list[str]) -> object:
    """Findings over the reports of these receivers alone, all corroborated."""
    spots = RESULT.spots[RESULT.spots["rx_call"].isin(calls).to_numpy()].reset_index(drop=True)
    return factory.from_spots(spots, _trust(), study=factory.study(compare=None))


def _trust() -> pd.DataFrame:
    return RESULT.receivers[["rx_call", "rx_locator"]].assign(trust=CORROBORATED)


def busiest(count: int) -> list[str]:
    return list(RESULT.spots["rx_call"].astype(str).value_counts().index[:count])


def test_one_receiver_makes_no_half_of_anything():
    """One receiver at 1 436 km: "half came from beyond 1 440 km"."""
    found = among(busiest(1))
    far = found.reach.headline.farthest
    expected = f"{words.things(found.reach.headline.reports, 'report')} of 1 receiver, {words.PRINT.distance(far.distance_km, far.uncertainty_km)} away"
    assert sentences.headline(found, PRINT) == f"{expected}: too few to say how far"
    for picture in gallery.pictures(found):
        text = all_text(picture.build())
        assert not re.search("[Hh]alf (of .* |of those )?came from", text), picture.name
        assert not any(
            word in text for word in ("most frequent", "Farthest towards", "weaker", "the most", "busiest")
        ), text


def test_few_receivers_give_a_distance_without_an_interval():
    found = among(busiest(4))
    assert sentences.headline(found, PRINT).startswith(
        f"Half of {words.things(found.reach.headline.reports, 'report')} of 4 receivers"
    )
    assert "interval" not in sentences.headline(found, PRINT)


def heard(reports_of: dict[str, int]) -> object:
    """Findings over so many reports of each of these receivers, all corroborated."""
    rows = RESULT.spots.drop_duplicates("rx_call").set_index("rx_call").loc[list(reports_of)].reset_index()
    rows = rows.loc[np.repeat(rows.index, list(reports_of.values()))].reset_index(drop=True)
    return factory.from_spots(rows, _trust(), study=factory.study(compare=None))


def quantiles(found: object, say: Typography) -> list[str]:
    """Everything that says from beyond or within which distance a share of the reports came."""
    titles = (pictures.distance, pictures.curve, pictures.bands, pictures.directions, pictures.farthest_way)
    return [
        sentences.headline(found, say),
        *(each.text for each in sentences.answer(found, say)),
        *(each(found, say) for each in titles),
    ]


KM = re.compile(rf"(\d[\d,{words.THIN}]*)[ {words.THIN}]km")


def beyond_km(text: str, say: Typography) -> list[float]:
    """The distances in a text that are no single receiver's: those have an uncertainty."""
    single = f"{say.plus_minus} {words.NO_BREAK}"
    return [
        float(re.sub(r"\D", "", each[1]))
        for each in KM.finditer(text)
        if text[: each.start()].rstrip(single) == text[: each.start()].rstrip()
    ]


@settings(max_examples=20)
@given(
    st.dictionaries(st.sampled_from(sorted(set(RESULT.spots["rx_call"]))), st.integers(1, 60), min_size=3, max_size=9)
)
def test_no_distance_from_beyond_is_more_than_there_is(reports_of):
    """Whatever the receivers, in every language: no share is said to come from beyond more than its exact quantile, and nothing
    from beyond the farthest."""
    found = heard(reports_of)
    head = found.reach.headline
    away = {row.rx_call: row.distance_km for row in found.receivers.itertuples()}
    half, tenth = np.quantile(np.repeat([away[call] for call in reports_of], list(reports_of.values())), [0.5, 0.9])
    far_km = max(away.values())
    for say, language in [(TERMINAL, "en"), *((PRINT, each) for each in tongue.LANGUAGES)]:
        with tongue.speaking(language):
            for text in quantiles(found, say):
                assert max(beyond_km(text, say), default=0) <= far_km, text
            if head.is_few:
                continue
            answer = sentences.answer(found, say)[0].text
            if half < far_km:
                assert beyond_km(answer, say)[0] <= half, answer
            if tenth < far_km:
                assert half - 10 < beyond_km(answer, say)[-1] <= tenth, answer


def test_where_the_farthest_is_the_half_it_says_so():
    """And where it is the tenth, nothing is said to come from beyond it, nor that nine in ten came from nearer."""
    far, *near = RESULT.spots.drop_duplicates("rx_call").nlargest(5, "distance_km")["rx_call"]
    tenth, half = (heard({far: many, **dict.fromkeys(near, 10)}) for many in (10, 50))
    assert sentences.answer(tenth, TERMINAL)[0].text.startswith("Half of 50 reports of 5 receivers came from beyond ")
    for found in (tenth, half):
        assert found.reach.headline.p90_km.value == found.reach.headline.far_km
        for text in (*quantiles(found, PRINT), *(pictures.close(found, each) for each in (PRINT, TERMINAL))):
            assert not re.search("in ten|tenth", text)
    head = half.reach.headline.farthest
    away = TERMINAL.distance(head.distance_km, head.uncertainty_km)
    assert (
        sentences.headline(half, TERMINAL)
        == f"At least half of 90 reports of 5 receivers came from {away}, the farthest of all"
    )


def test_a_headline_over_the_smaller_part_says_so():
    """78 541 of 2 million reports were shown because the rest are suspect, and the headline was silent about it."""
    few = set(busiest(8))
    trust = _trust().assign(trust=np.where(RESULT.receivers["rx_call"].astype(str).isin(few), CORROBORATED, "suspect"))
    found = factory.from_spots(RESULT.spots, trust, study=factory.study(compare=None))
    more = found.reach.between
    assert more > found.reach.headline.reports
    assert sentences.headline(found, PRINT).endswith(f"; {words.count(more)} more are not counted")
    assert "not counted" not in sentences.headline(among(busiest(80)), PRINT)


def test_one_far_receiver_makes_nothing_weaker():
    """ "The median report beyond 12 000 km is 20 dB weaker" from 19 reports of one receiver."""
    spots = RESULT.spots
    near = spots[(spots["distance_km"] < 3000).to_numpy()]
    call = spots.loc[spots["distance_km"].idxmax(), "rx_call"]
    one = spots[(spots["rx_call"] == call).to_numpy()].assign(snr_db=np.float32(-28))
    found = factory.from_spots(
        pd.concat([near, *[one] * 5], ignore_index=True), _trust(), study=factory.study(compare=None)
    )
    assert pictures.strength_by_distance(found, PRINT).startswith("Strength against distance; the median report was")


def test_receivers_are_no_verdict(walks):
    """ "At 30 of 52 receivers, vertical was the stronger" (p = 0.33) stood right after "No clear difference"."""
    found = walks["evening"].comparison
    assert pictures.receivers_on_the_map(found, PRINT) == "Receivers are divided: 31 for vertical, 22 for wire"
    assert pictures.receivers_of_each(found, PRINT) == pictures.receivers_on_the_map(found, PRINT)
    assert pictures.stretches(found, PRINT) == "30 stretches on the air: vertical ahead in 15, wire in 15"
    ahead = [replace(one, difference_db=3.0) for one in found.by_receiver if one.difference_db is not None]
    assert "divided" in pictures.receivers_on_the_map(
        replace(found, by_receiver=ahead), PRINT
    )  # the verdict is still open
    sure = replace(found, by_receiver=ahead, verdict=Verdict.A_BETTER)
    assert pictures.receivers_on_the_map(sure, PRINT).endswith("vertical was the stronger")


def test_titles_take_two_lines_at_most(walks, drawn):
    """With their intervals."""
    for name in ("evening", "weekend", "messy"):
        for picture in gallery.pictures(walks[name].findings):
            bold = [
                each for each in drawn(name, picture.name).texts if each.get_text() and each.get_fontweight() == 600
            ]
            title = [each.get_text() for each in bold if each.get_fontsize() == max(one.get_fontsize() for one in bold)]
            assert 1 <= len(title) <= 2, (picture.name, title)

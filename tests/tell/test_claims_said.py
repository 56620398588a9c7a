"""The gate is heeded: sentences and titles that had claimed what nothing carries now say the plain thing."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pandas as pd

from reach.base import words
from reach.base.words import PRINT
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

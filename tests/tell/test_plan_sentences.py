"""A plan in words."""

from __future__ import annotations

import json

import pytest

from reach.base.words import PRINT, TERMINAL
from reach.compare import plan
from reach.compare.plan import Earlier, Source
from reach.tell.sentences import plan as sentences


@pytest.mark.parametrize("say", [TERMINAL, PRINT], ids=["terminal", "print"])
@pytest.mark.parametrize("source", list(Source))
def test_every_source_has_a_sentence_of_its_own(source, say):
    said = {one: sentences.earlier(Earlier(one, 12, 1.26, "wire", "loop"), say=say) for one in Source}
    assert said[source].endswith(".") and list(said.values()).count(said[source]) == 1
    assert ("1.3 times" in said[source]) == (source in (Source.ALTERNATED, Source.DEALT))
    assert ("wire and loop" in said[source]) == (source == Source.ALTERNATED)
    assert say is PRINT or said[source].isascii()


def test_the_answer_is_said_with_as_many_digits_as_it_needs():
    for asked, said in ((1.0, "+/-1 dB"), (0.5, "+/-0.5 dB"), (2.25, "+/-2.25 dB")):
        assert sentences.half_width(plan.plan(half_width_db=asked), say=TERMINAL) == said
    made = plan.plan(receivers=30, block_min=2.5)
    assert f"{made.blocks} blocks of 2.5 minutes" in sentences.answer(made, say=TERMINAL)
    assert sentences.half_width(made, say=PRINT) == f"±1{PRINT.gap}dB"


@pytest.mark.parametrize(
    ("hours", "said"), [(2.46, "about 2.5 hours"), (9.96, "about 10 hours"), (40.4, "about 40 hours")]
)
def test_hours_are_rounded_as_they_are_known(hours, said):
    assert sentences.about_hours(hours, say=TERMINAL) == said


def test_the_document_has_the_fields_the_sentences_and_the_advice():
    made = plan.plan(receivers=30)
    plain = json.loads(json.dumps(sentences.document(made), allow_nan=False))
    assert plain["hours"] == made.hours and plain["from_spots"]["source"] == "assumed"
    assert plain["sentences"] == list(sentences.everything(made, say=TERMINAL))
    assert plain["from_spots"]["text"] in plain["sentences"] and plain["advice"] == list(sentences.ADVICE)

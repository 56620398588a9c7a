"""What is said of locators in doubt: each kind of evidence, what was meant, how much hangs on it."""

from __future__ import annotations

import pandas as pd
import pytest

from reach.base.words import PRINT, TERMINAL
from reach.suspects import repair, transcription
from reach.suspects.evidence import Elsewhere, Kind, Piece, Speed
from reach.suspects.find import SUSPECTS
from reach.tell.sentences import suspects
from tests.suspects.test_find import found, steady

THERE = Elsewhere("JO62qm", 1234.4, 5, 1200, moved=False, later=True, until_us=1_778_961_840_000_000)
PRIOR = Piece(Kind.PRIOR, -5.0)
SUSPECT = {
    "rx_call": "DL2QTC", "rx_locator": "IN80dj", "confidence": 0.771, "claimed_country": "Spain",
    "evidence": (PRIOR, Piece(Kind.COUNTRY, 6.2, "Germany"), Piece(Kind.STRENGTH, 0.04, 3.0)),
    "suggestion": "", "suggestion_reason": "", "competing": "", "reports": 1200, "distance_km": 1204.4,
    "suggested_distance_km": float("nan"), "weight_km": 0.3,
}  # fmt: skip
MENDED = {**SUSPECT, "suggestion": "JN80dj", "suggestion_reason": "neighbouring-key", "suggested_distance_km": 1995.0}


@pytest.mark.parametrize(
    ("kind", "facts", "clause"),
    [
        (Kind.COUNTRY, "Germany", "the callsign is one of Germany"),
        (Kind.COUNTRY, "United Kingdom", "the callsign is one of the United Kingdom"),
        (Kind.COUNTRY, "", "the callsign belongs elsewhere"),
        (Kind.SEA, None, "there is no land within 10 km"),
        (Kind.FAR_SOUTH, None, "it lies in the Antarctic, one transcription error from the callsign's own country"),
        (Kind.BORROWED, None, "it is the station's own locator to the last letter"),
        (Kind.SEVERAL, THERE, "1,200 of its 1,205 reports come from JO62qm, 1,234 km away"),
        (Kind.SEVERAL, THERE._replace(there=1), "1 of its 6 reports comes from JO62qm, 1,234 km away"),
        (Kind.SEVERAL, THERE._replace(moved=True), "its later reports all come from JO62qm, 1,234 km away"),
        (
            Kind.SEVERAL,
            THERE._replace(moved=True, later=False),
            "its earlier reports all come from JO62qm, 1,234 km away",
        ),
        (
            Kind.ERROR,
            "mirrored",
            "one transcription error lies between the two (north and south or east and west mixed up)",
        ),
        (Kind.AREA, "California", "the callsign's digit stands for California"),
        (Kind.SPEED, Speed(2.0, 12345.6), "it was at both within 2 min, which takes 12,346 km/h"),
        (Kind.SPEED, Speed(0.0, 12345.6), "it was at both at the same time"),
        (Kind.STRENGTH, 12.4, "its reports are 12 dB stronger than others from as far in the same hours"),
        (Kind.STRENGTH, -12.4, "its reports are 12 dB weaker than others from as far in the same hours"),
    ],
)
def test_each_kind_of_evidence_has_its_clause(kind, facts, clause):
    one = {**SUSPECT, "evidence": (PRIOR, Piece(kind, 1.0, facts))}
    assert suspects.sentence(one, say=TERMINAL) == f"DL2QTC at IN80dj (Spain): {clause}."


def test_no_kind_is_without_words():
    (mark,) = (mark for mark in test_each_kind_of_evidence_has_its_clause.pytestmark if mark.name == "parametrize")
    assert {kind for kind, _, _ in mark.args[1]} | {Kind.PRIOR} == set(Kind)
    for code in (*transcription.Kind, repair.OTHER_LOCATOR):
        assert suspects.reason(code)
    assert suspects.reason("") == ""


def test_the_strongest_comes_first_and_what_speaks_for_it_is_not_said():
    pieces = (PRIOR, Piece(Kind.SEA, 1.0), Piece(Kind.COUNTRY, 6.2, "Germany"), Piece(Kind.SPEED, -0.2, Speed(1, 2000)))
    told = suspects.sentence({**SUSPECT, "claimed_country": "", "evidence": pieces}, say=TERMINAL)
    assert told == "DL2QTC at IN80dj (at sea): the callsign is one of Germany; there is no land within 10 km."


def test_below_any_doubt_it_is_the_move_that_is_told():
    pieces = (PRIOR, Piece(Kind.SEVERAL, 0.3, THERE._replace(moved=True, later=False)))
    assert suspects.sentence({**SUSPECT, "confidence": 0.05, "evidence": pieces}, say=TERMINAL) == (
        "DL2QTC at IN80dj (Spain): it was at JO62qm, 1,234 km away, until 2026-05-16 20:04 UTC and only from here "
        "since; it seems to have moved."
    )


def test_evidence_is_listed_with_its_log_odds():
    assert suspects.evidence(SUSPECT["evidence"], say=TERMINAL) == "prior -5.0; country +6.2"
    errors = (PRIOR, Piece(Kind.ERROR, 6.6, "mirrored"), Piece(Kind.SEVERAL, 5.2, THERE))
    assert suspects.evidence(errors, say=PRINT) == "prior −5.0; transcription error +6.6; several locators +5.2"


def test_what_was_meant_and_what_hangs_on_it():
    claimed = "Claims to be 1,200 km away"
    assert suspects.suggestion(SUSPECT, say=TERMINAL) == f"{claimed}; no repair suggests itself."
    assert suspects.suggestion({**SUSPECT, "competing": "A B C"}, say=TERMINAL) == f"{claimed}; may be A, B or C."
    assert (
        suspects.suggestion(MENDED, say=TERMINAL) == f"{claimed}; probably JN80dj, 2,000 km away (a neighbouring key)."
    )
    assert (
        suspects.weight(SUSPECT, say=PRINT) == "77\u202f% sure; 1\u202f200 reports, which change no headline distance."
    )
    heavy = {**SUSPECT, "confidence": 0.999, "weight_km": 12345.0, "reports": 1}
    assert suspects.weight(heavy, say=TERMINAL) == (
        "More than 99 % sure; 1 report, which would change a headline distance by 12,340 km."
    )


def test_the_terminals_report():
    title, sentence, sure, hint = suspects.report(MENDED, say=TERMINAL)
    assert title == "DL2QTC in IN80dj, 1,200 rows, 1,204 km"
    assert sentence == suspects.sentence(MENDED, say=TERMINAL)
    assert sure == "Confidence that it is wrong: 77% (prior -5.0; country +6.2)."
    assert hint == "Perhaps JN80dj, 1,995 km away: a neighbouring key."
    certain = suspects.report({**SUSPECT, "confidence": 0.9999, "reports": 1, "competing": "A B"}, say=TERMINAL)
    assert certain[0] == "DL2QTC in IN80dj, 1 row, 1,204 km" and "99%" in certain[2]
    assert certain[3] == "No suggestion is clear enough; perhaps: A B."


def test_what_stands_below_a_small_map():
    assert suspects.claim(MENDED, say=PRINT) == "DL2QTC claims IN80dj, 1\u202f200\u202fkm away"
    assert suspects.meant(MENDED, say=PRINT) == "probably JN80dj, 2\u202f000\u202fkm away"
    assert (
        suspects.meant({**SUSPECT, "competing": "A B C"}, say=PRINT)
        == "may be A or B or elsewhere; these reports cannot tell"
    )
    assert suspects.meant({**SUSPECT, "competing": "A B"}, say=PRINT) == "may be A or B; these reports cannot tell"
    assert "nobody can tell" in suspects.meant(SUSPECT, say=PRINT)
    assert suspects.odds(SUSPECT, say=PRINT) == "1\u202f200 reports; wrong with a probability of 77\u202f%"
    both = pd.DataFrame([SUSPECT, {**MENDED, "distance_km": 14000.0}])
    assert suspects.in_doubt(both, say=TERMINAL) == "2 locators are in doubt; the farthest claims 14,000 km"
    assert suspects.in_doubt(both[:1], say=TERMINAL) == "1 locator is in doubt; the farthest claims 1,200 km"


def test_what_is_written_is_the_table_with_words_in_place_of_codes():
    got = found(*steady("DL2QTD", "IN80dj"), *steady("OE3QTC", "NJ88ee"))
    made = suspects.written(got.suspects, say=TERMINAL)
    assert [(name, str(dtype)) for name, dtype in made.dtypes.items()] == [
        (name, dtype) for name, (dtype, _) in suspects.WRITTEN.items()
    ]
    assert list(made.columns) == [name for name in suspects.WRITTEN if name in SUSPECTS or name == "sentence"]
    mended = made.set_index("rx_locator").loc["NJ88ee"]
    assert (mended["suggestion"], mended["suggestion_reason"]) == ("JN88ee", "two characters exchanged")
    assert mended["evidence"].startswith("prior -5.0; ") and mended["sentence"].startswith("OE3QTC at NJ88ee (")
    assert suspects.written(got.suspects[:0], say=TERMINAL).empty

"""Suspects: each kind of evidence on its own, trust, suggestions, and the aims on the simulator."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach.place.geometry import place
from reach.spots import CORROBORATED, PROBLEMS, SUSPECT, UNCONFIRMED
from reach.suspects import evidence, find, transcription
from reach.suspects.evidence import Kind
from reach.suspects.find import SUSPECTS, Doubts
from tests.suspects import error_simulator

HOME = "IO51es"


def spots(*rows: tuple[str, str, int, float]) -> pd.DataFrame:
    """Placed spots from (callsign, locator, minute, SNR)."""
    call, name, minute, snr = zip(*rows, strict=True)
    start = pd.Timestamp("2026-05-16T12:00Z")
    table = pd.DataFrame(
        {
            "time_utc": pd.Series([start + pd.Timedelta(minutes=m) for m in minute]).astype("datetime64[us, UTC]"),
            "rx_call": pd.Categorical(call),
            "rx_locator": pd.Categorical(name),
            "snr_db": pd.Series(snr, dtype="float32"),
            "band": pd.Categorical(["20m"] * len(rows)),
            "setup": pd.Categorical([None] * len(rows)),
            "tx_call": pd.Categorical(["EI4QTB/P"] * len(rows)),
            "tx_locator": pd.Categorical([HOME] * len(rows)),
            "source": pd.Categorical(["may.csv"] * len(rows)),
            "line": range(2, len(rows) + 2),
        }
    )
    return place(table)


def found(*rows: tuple[str, str, int, float]) -> Doubts:
    return find.find(spots(*rows))


def steady(call: str, name: str, count: int = 12, start: int = 0) -> list[tuple[str, str, int, float]]:
    return [(call, name, start + 20 * k, -15.0) for k in range(count)]


def names(findings: Doubts) -> set[tuple[str, str]]:
    return set(zip(findings.suspects["rx_call"], findings.suspects["rx_locator"], strict=True))


def kinds(findings: Doubts) -> set[Kind]:
    """Kinds of evidence against the heaviest suspect."""
    return {piece.kind for piece in findings.suspects["evidence"][0] if piece.log_odds > 0}


def test_same_receiver_several_locators_the_rare_one_is_suspect():
    home = steady("DL2QTC", "JN58td")
    got = found(*home, ("DL2QTC", "JO58td", 125, -15.0))
    assert names(got) == {("DL2QTC", "JO58td")}
    assert got.suspects["suggestion"].tolist() == ["JN58td"]
    assert Kind.SEVERAL in kinds(got) and Kind.ERROR in kinds(got)


def test_portable_stations_may_move():
    got = found(*steady("DL2QTC/P", "JN58td", 6), *steady("DL2QTC/P", "JN48td", 6, start=6 * 20 + 300))
    assert not names(got)


def test_a_move_that_stayed_is_said_and_not_suspected():
    got = found(*steady("DL2QTC", "JN58td", 15), *steady("DL2QTC", "JO62qm", 15, start=15 * 20 + 24 * 60))
    assert not names(got)
    assert got.notes["rx_locator"].tolist() == ["JO62qm"] and set(got.problems["rule"]) == {find.MOVED_RULE}


def test_country():
    got = found(*steady("DL2QTC", "IN80dj"))  # a German call in Madrid
    assert names(got) == {("DL2QTC", "IN80dj")}
    assert (Kind.COUNTRY, evidence.COUNTRY_DIFFERS, "Germany") in got.suspects["evidence"][0]


def test_nobody_with_a_country_is_sent_to_the_antarctic():
    got = found(*steady("CT1QTP", "JN12ks"))
    assert names(got) == {("CT1QTP", "JN12ks")}
    meant = f"{got.suspects['suggestion'][0]} {got.suspects['competing'][0]}".split()
    assert not [name for name in meant if name[1] in "AB"]


@pytest.mark.parametrize("call", ["DL2QTC/MM", "4U1QTC", "LISTENER-7"])
def test_country_is_not_asked_of_those_that_say_none(call):
    assert not names(found(*steady(call, "JN58td")))


def test_anyone_may_be_in_antarctica():
    assert not names(found(*steady("DL2QTC", "RB32hd")))


def test_sea():
    got = found(*steady("LISTENER-7", "HM00aa"))  # in the middle of the Atlantic
    assert names(got) == {("LISTENER-7", "HM00aa")} and Kind.SEA in kinds(got)
    assert not names(found(*steady("LISTENER-7/MM", "HM00aa")))


def test_speed():
    got = found(*steady("W1QTC", "FN42hi"), ("W1QTC", "CM87wj", 121, -15.0))  # Boston, and California a minute later
    assert names(got) == {("W1QTC", "CM87wj")}
    assert Kind.SPEED in kinds(got)


def test_borrowed_locator():
    got = found(*steady("JA1QTC", HOME))
    assert names(got) == {("JA1QTC", HOME)} and Kind.BORROWED in kinds(got)


def test_strength_is_never_alone():
    """Receivers 1,500 km away, one of which hears 25 dB better than all others: odd, but no suspect."""
    others = [row for k in range(20) for row in steady(f"DL2QS{chr(65 + k)}", "JN58td")]
    assert not names(found(*others, *[("F5QTC", "JN18du", 20 * k, 15.0) for k in range(12)]))


def test_trust():
    got = found(*steady("DL2QTC", "JN58td"), *steady("DL2QTD", "IN80dj"), ("LISTENER-7", "JN58td", 0, -15.0))
    trust = got.spots.drop_duplicates(["rx_call", "rx_locator"]).set_index(["rx_call", "rx_locator"])["trust"]
    assert trust["DL2QTC", "JN58td"] == CORROBORATED
    assert trust["DL2QTD", "IN80dj"] == SUSPECT
    assert trust["LISTENER-7", "JN58td"] == UNCONFIRMED


def test_a_suspect_farthest_spot_stands_on_top():
    got = found(*steady("DL2QTC", "JN58td"), *steady("DL2QTD", "IN80dj"), *steady("DL5QTC", "RE78ir", 2))
    assert got.suspects["rx_locator"][0] == "RE78ir"
    assert got.suspects["weight_km"].is_monotonic_decreasing


def test_tables_are_as_described():
    got = found(*steady("DL2QTC", "IN80dj"))
    assert list(got.suspects.columns) == list(SUSPECTS)
    assert list(got.problems.columns) == list(PROBLEMS) and len(got.problems) == 12
    nothing = find.find(spots(*steady("A1QTC", "JN58td"))[:0])
    assert nothing.suspects.empty and nothing.problems.empty and nothing.spots["trust"].tolist() == []
    for of, told in ((got, SUSPECTS), (nothing, SUSPECTS)):
        assert [str(dtype) for dtype in of.suspects.dtypes] == [dtype for dtype, _ in told.values()]
        assert [str(dtype) for dtype in of.problems.dtypes] == [dtype for dtype, _ in PROBLEMS.values()]


def test_errors_lead_back_and_forth():
    assert transcription.relations(["JN58td"], ["JN85td"])[0] and transcription.relations(["JN58td"], ["NJ58td"])[0]
    assert not transcription.relations(["JN58td"], ["FM18lw"])[0]


@pytest.fixture(scope="module")
def claims() -> pd.DataFrame:
    return error_simulator.judged(error_simulator.simulate(6_000, seed=4, error_share=0.05))


def test_aims_are_met_on_the_simulator(claims):
    """With more errors than in life, so that a small simulation has enough of each; margins for its size."""
    for name, (measured, aim, floor, number) in error_simulator.aims(claims).items():
        assert number > 30, name
        assert measured >= aim - 3 if floor else measured <= aim + 0.2, f"{name}: {measured:.2f} %"


def test_what_was_meant_is_looked_for_with_the_heaviest_only(monkeypatch):
    """Where there are more suspects than any real export has, those that move the headline distances most come first."""
    from reach.suspects import repair

    suspects = np.arange(10)
    weight_km, reports = np.array([0, 5, 5, 900, 0, 0, 7, 0, 0, 1.0]), np.arange(10) + 1
    monkeypatch.setattr(repair, "MOST_SEARCHED", 4)
    assert repair.heaviest(suspects, weight_km, reports).tolist() == [1, 2, 3, 6]
    monkeypatch.setattr(repair, "MOST_SEARCHED", 3)
    assert repair.heaviest(suspects, weight_km, reports).tolist() == [2, 3, 6]

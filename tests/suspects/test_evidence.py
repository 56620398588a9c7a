"""Each piece of evidence by itself, on a few made-up spots; repairs, and what a suspect would change."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import locator
from reach.place import path
from reach.place.world import NO, UNKNOWN, YES
from reach.spots import CORROBORATED, SUSPECT, TRUST, UNCONFIRMED
from reach.suspects import evidence, find, history, repair, strength, transcription, weight
from reach.suspects.claims import Claims, claims
from reach.suspects.evidence import Elsewhere, Kind, Speed
from tests.suspects.test_find import HOME, found, kinds, names, spots, steady

CALL, WEST = "DL2QTC", ("DL2QTC", "JN58td")


def told(*rows) -> tuple[pd.DataFrame, Claims]:
    table = spots(*rows)
    return table, claims(table)


def by_name(piece: evidence.Evidence, of: Claims) -> dict[tuple[str, str], float]:
    return {(c, n): v for c, n, v in zip(of.rx_call, of.rx_locator, piece.log_odds, strict=True)}


def past(*rows, doubt: dict[str, float] | None = None) -> tuple[Claims, history.History]:
    table, of = told(*rows)
    against = np.array([(doubt or {}).get(name, 0.0) for name in of.rx_locator])
    return of, history.history(table, of, against)


def pattern(*rows) -> dict[str, int]:
    of, made = past(*rows)
    return dict(zip(of.rx_locator, made.pattern.tolist(), strict=True))


# ------------------------------------------------------------------------------------------------------------- claims


def test_claims_are_the_distinct_pairs_with_their_rows():
    table, of = told(*steady(CALL, "JN58td", 3), *steady("F5QTC", "JN18eu", 2), (CALL, "JO58td", 9, -12.0))
    assert list(zip(of.rx_call, of.rx_locator, of.reports, strict=True)) == [
        (CALL, "JN58td", 3), (CALL, "JO58td", 1), ("F5QTC", "JN18eu", 2),
    ]  # fmt: skip
    assert of.call.tolist() == [0, 0, 1]
    rows = of.rows_of(np.array([False, True, False]))
    assert table["line"].to_numpy()[rows].tolist() == [7] and of.claim_of(rows).tolist() == [1]
    assert of.distance_km == pytest.approx(
        table.groupby(["rx_call", "rx_locator"], observed=True)["distance_km"].max().to_numpy()
    )


# ------------------------------------------------------------------------------------------- what the world says of it


@pytest.mark.parametrize(
    ("call", "name", "answer"),
    [
        ("DL2QTC", "JN58td", YES),
        ("DL2QTC", "IN80dj", NO),
        ("F/DL2QTC", "JN18eu", YES),
        ("FR4QTC", "LG78sv", YES),  # Reunion
        ("KP4QTC", "FK68wk", YES),  # Puerto Rico
        ("DL2QTC/MM", "IN80dj", UNKNOWN),
        ("LISTENER-7", "IN80dj", UNKNOWN),
        ("4U1QTC", "IN80dj", UNKNOWN),
        ("DL2QTC", "IB59", UNKNOWN),
    ],
)
def test_country(call, name, answer):
    _, of = told((call, name, 0, -15.0))
    piece = evidence.country(of)
    assert piece.answer.tolist() == [answer]
    assert piece.log_odds.tolist() == [evidence.COUNTRY_DIFFERS if answer == NO else 0.0]
    if answer == NO:
        assert list(piece.facts(np.array([0]))) == ["Germany"]


def test_sea():
    _, of = told((CALL, "HM00aa", 0, -15.0), (CALL + "/MM", "HM00aa", 0, -15.0), (CALL, "JN58td", 0, -15.0))
    assert by_name(evidence.sea(of), of) == {
        (CALL, "HM00aa"): evidence.AT_SEA, (CALL, "JN58td"): 0.0, (CALL + "/MM", "HM00aa"): 0.0,
    }  # fmt: skip


def test_far_south():
    """KB17ga is one transcription error from Romania; RB32hd is not one from Germany; bases and listeners are let be."""
    rows = [
        ("YR3QTC", "KB17ga"),
        ("DL2QTC", "RB32hd"),
        ("VK0QTB", "RB32hd"),
        ("LISTENER-7", "KB17ga"),
        ("YR3QTC/MM", "KB17ga"),
    ]
    _, of = told(*[(call, name, 0, -15.0) for call, name in rows])
    answer = evidence.country(of).answer
    piece = evidence.far_south(of, answer)
    assert {key for key, value in by_name(piece, of).items() if value} == {("YR3QTC", "KB17ga")}


def test_an_error_into_the_antarctic_carries_no_headline():
    got = found(*steady("YR3QTC", "KB17ga"))
    assert got.spots["trust"].unique().tolist() == [SUSPECT]
    assert Kind.FAR_SOUTH in kinds(got)
    assert "KN17ga" in (got.suspects["suggestion"] + got.suspects["competing"])[0]


def test_only_the_callsign_of_a_base_speaks_for_a_place_in_the_antarctic():
    assert found(*steady("DL2QTC", "RB32hd")).spots["trust"].unique().tolist() == [UNCONFIRMED]
    assert found(("DL2QTC", "RB32hd", 0, -15.0)).spots["trust"].unique().tolist() == [UNCONFIRMED]
    assert found(("VK0QTB", "RB32hd", 0, -15.0)).spots["trust"].unique().tolist() == [CORROBORATED]


def test_listeners_are_corroborated_by_a_second_hour():
    assert found(*steady("LISTENER-7", "JN58td", 3)).spots["trust"].unique().tolist() == [UNCONFIRMED]
    assert found(*steady("LISTENER-7", "JN58td", 4)).spots["trust"].unique().tolist() == [CORROBORATED]


def test_borrowed_only_where_the_callsign_says_another_country():
    _, of = told(("JA1QTC", HOME, 0, -15.0), ("EI5QTC", HOME, 0, -15.0), ("JA2QTC", "IO51ws", 0, -15.0))
    piece = evidence.borrowed(of, evidence.country(of).answer == NO)
    assert {key for key, value in by_name(piece, of).items() if value} == {("JA1QTC", HOME)}


# ------------------------------------------------------------------------------------------------- one receiver, many


def test_patterns_of_two_places():
    here = steady(CALL, "JN58td", 12)
    assert pattern(*here, (CALL, "JN48td", 125, -15.0))["JN48td"] == history.MIXED
    day = 24 * 60
    moved = pattern(*here, *steady(CALL, "JO62qm", 5, start=2 * day))
    assert set(moved.values()) == {history.MOVED}
    assert set(pattern(*here, (CALL, "JO62qm", 2 * day, -15.0)).values()) == {history.BRIEF}
    trip = pattern(*here, *steady(CALL, "JO62qm", 5, start=2 * day), *steady(CALL, "JN58td", 5, start=4 * day))
    assert set(trip.values()) == {history.VISIT}


def test_longer_and_shorter_locators_are_one_place():
    of, made = past(*steady(CALL, "JN58td", 3), *steady(CALL, "JN58td36", 3), *steady(CALL, "JN58", 3))
    assert made.pattern.tolist() == [history.ALONE] * 3 and made.rival.tolist() == [-1] * 3
    of, made = past(*steady(CALL, "JN58td", 3), (CALL, "JN58td36", 65, -15.0), (CALL, "JO62qm", 70, -15.0))
    here = dict(zip(of.rx_locator, made.here, strict=True))
    assert here == {"JN58td": 4, "JN58td36": 4, "JO62qm": 1}


@given(
    st.lists(
        st.tuples(
            st.sampled_from([CALL, "F5QTC"]),
            st.sampled_from(["JN58", "JN58td", "JN58te", "JN58td36", "JN58td37", "JN59", "JN59aa", "JO62qm", "JO62"]),
            st.integers(1, 4),
        ),
        min_size=1,
        max_size=9,
        unique_by=lambda row: row[:2],
    )
)
def test_places_as_a_plain_reading_of_the_rule_has_them(rows):
    _, of = told(*[(call, name, minute, -15.0) for call, name, n in rows for minute in range(n)])
    of_claim, main = history._merge(of)
    for call in {call for call, _, _ in rows}:
        mine = [n for n in range(len(of)) if of.rx_call[n] == call]
        places: dict[str, list[int]] = {}
        for n in sorted(mine, key=lambda n: (-of.characters[n], -of.reports[n])):
            name = of.rx_locator[n][:6].upper()
            home = next((cell for cell in places if cell.startswith(name)), name)
            places.setdefault(home, []).append(n)
        if len(places) == 1:
            assert set(of_claim[mine]) == {-1}
            continue
        assert len(set(of_claim[mine])) == len(places) and -1 not in of_claim[mine]
        for inside in places.values():
            (number,) = set(of_claim[inside])
            assert main[number] == max(inside, key=lambda n: of.reports[n])


def test_portable_mobile_and_visiting_calls_have_no_rivals():
    for call in ("DL2QTC/P", "DL2QTC/M", "DL2QTC/MM", "F/DL2QTC"):
        _, made = past(*steady(call, "JN58td", 5), (call, "JO62qm", 30, -15.0))
        assert made.rival.tolist() == [-1, -1]


def test_the_rival_is_the_place_with_most_reports_and_least_doubt():
    rows = [*steady(CALL, "JN58td", 5), *steady(CALL, "RE78ir", 9, start=3), (CALL, "JN48td", 11, -15.0)]
    of, made = past(*rows)
    assert of.rx_locator[made.rival[1]] == "RE78ir"
    of, made = past(*rows, doubt={"RE78ir": 6.0})
    assert of.rx_locator[made.rival[0]] == "JN58td" and of.rx_locator[made.rival[2]] == "JN58td"


def test_speed_allows_for_an_airliner_and_the_size_of_cells():
    new_york = ("W1QTC", "FN20xr")
    boston = "FN42hi"  # 300 km away
    minute = {True: 3, False: 60}
    for flies, apart in minute.items():
        _, made = past((*new_york, 0, -15.0), ("W1QTC", boston, apart, -15.0))
        assert bool(made.kmh.max() > history.AIRLINER_KMH) == flies
    _, made = past((*new_york, 0, -15.0), ("W1QTC", "FN20xs", 0, -15.0))  # the next cell at the same time
    assert made.kmh.tolist() == [0, 0]


SPOTS_APART = st.lists(
    st.tuples(st.sampled_from([CALL, "F5QTC"]), st.sampled_from(["JN58td", "JO62qm", "FN42hi"]), st.integers(0, 900)),
    min_size=1,
    max_size=9,
    unique_by=lambda row: (row[0], row[2]),
)


@given(SPOTS_APART)
def test_what_the_order_of_reports_says_is_what_a_plain_reading_finds(rows):
    """Report by report: first and last, the fastest hop of each place, stays, and the pattern of each two places."""
    of, made = past(*[(*row, -15.0) for row in rows])
    began_us = pd.Timestamp("2026-05-16T12:00Z").value // 1000
    for n, (call, name) in enumerate(zip(of.rx_call, of.rx_locator, strict=True)):
        own = sorted((minute, where) for who, where, minute in rows if who == call)
        here = [minute for minute, where in own if where == name]
        if len({where for _, where in own}) == 1:
            assert (made.rival[n], made.pattern[n], made.kmh[n], made.here[n]) == (-1, history.ALONE, 0, 0)
            assert np.isnan(made.away_km[n])
            continue
        other = of.rx_locator[made.rival[n]]
        there = [minute for minute, where in own if where == other]
        assert of.rx_call[made.rival[n]] == call and other != name
        counts = [sum(where == each for _, where in own) for each in {where for _, where in own} - {name}]
        assert (made.here[n], made.there[n]) == (len(here), max(counts))
        assert (made.first_us[n] - began_us, made.last_us[n] - began_us) == (
            here[0] * 60_000_000,
            here[-1] * 60_000_000,
        )
        hops = []
        for (m0, a), (m1, b) in itertools.pairwise(own):
            if a != b and name in (a, b):
                km = path.inverse(*locator.centre([a]), *locator.centre([b]))[0][0] - 2 * 5.2
                hops.append((km / ((m1 - m0 + 5) / 60), m1 - m0))
        kmh, _ = max((each for each in hops if each[0] > history.AIRLINER_KMH), default=(0, 0))
        assert made.kmh[n] == pytest.approx(kmh)
        assert not kmh or any((made.kmh[n], made.minutes[n]) == pytest.approx(hop) for hop in hops)
        stays = {
            each: sum(1 for where, _ in itertools.groupby(where for _, where in own) if where == each)
            for each in (name, other)
        }
        stayed = min(len(here), len(there)) >= 3
        if here[-1] <= there[0] or there[-1] <= here[0]:
            expected = history.MOVED if stayed and not kmh else history.BRIEF
        else:
            inner = [each for each, its in ((name, here), (other, there)) if len(its) <= min(len(here), len(there))]
            visit = any(stays[each] == 1 for each in inner) and stayed and not kmh
            expected = history.VISIT if visit else history.MIXED
        assert made.pattern[n] == expected


def test_a_trip_there_and_back_is_no_doubt():
    """Five reports from Munich, five from Berlin two days later, five from Munich again: neither place is doubted."""
    day = 24 * 60
    got = found(
        *steady(CALL, "JN58td", 5), *steady(CALL, "JO62qm", 5, start=2 * day), *steady(CALL, "JN58td", 5, start=4 * day)
    )
    assert got.suspects.empty and got.notes.empty and set(got.spots["trust"]) == {CORROBORATED}


def test_the_weights_are_those_of_the_table_that_users_read():
    """SUSPECTS.md, first table: each weight with its sign."""
    text = (Path(evidence.__file__).parent / "SUSPECTS.md").read_text(encoding="utf-8")
    said = {row.split("|")[1].strip(): re.findall(r"[+-]?\d+\.\d+", row.split("|")[2]) for row in text.splitlines()
            if row.count("|") == 4}  # fmt: skip
    weights = {
        "prior": [evidence.PRIOR], "country": [evidence.COUNTRY_DIFFERS], "call area": [evidence.OUTSIDE_AREA],
        "sea": [evidence.AT_SEA], "far south": [evidence.FAR_SOUTH], "transcription error": [evidence.FAR_ERROR, evidence.NEAR_ERROR],
        "several locators": [evidence.ONE_IS_WRONG[history.MIXED] - evidence.PRIOR], "speed": [evidence.TOO_FAST],
        "borrowed": [evidence.BORROWED], "strength": [evidence.STRENGTH_MOST],
    }  # fmt: skip
    for name, expected in weights.items():
        assert [float(each) for each in said[name]] == pytest.approx(expected), name


def test_rivalry_adds_up_to_the_chance_of_this_place_being_the_wrong_one():
    """The three pieces together are the log-odds of: one of the two is wrong, times this one's share of the blame."""
    of, made = past(*steady(CALL, "JN58td", 9), (CALL, "JN85td", 65, -15.0))
    rivalry = evidence.Rivalry(of, made, np.zeros(2))
    total = evidence.PRIOR + sum(p.log_odds for p in (rivalry.several(), rivalry.known_error(), rivalry.speed()))
    chance = 1 / (1 + np.exp(-total))
    assert chance.sum() == pytest.approx(1, abs=0.01)  # one error apart: one of them is wrong
    assert chance[1] == pytest.approx(1 / (1 + (2 / 10) ** evidence.SHARE_POWER), abs=0.01)


def test_what_speaks_against_a_rival_clears_this_place():
    of, made = past(*steady(CALL, "JN58td", 4), *steady(CALL, "RE58td", 4, start=10))
    share = evidence.Rivalry(of, made, np.array([0.0, 6.0])).blame
    assert share[0] < 0.01 < 0.99 < share[1]


def test_before_and_after_an_error_numbers_say_nothing():
    """Nine reports from one place, then three from another, two digits exchanged: either may be right."""
    rows = [*steady("W1QTC", "EM13td", 9), *steady("W1QTC", "EM31td", 3, start=9 * 20 + 600)]
    got = found(*rows)
    assert names(got) == {("W1QTC", "EM13td"), ("W1QTC", "EM31td")}
    assert got.suspects["confidence"].between(0.4, 0.6).all()
    assert (got.suspects["suggestion"] == "").all() and set(got.suspects["competing"]) == {"EM13td", "EM31td"}


# ----------------------------------------------------------------------------------------------------------- strength


def crowd(count: int = 10) -> list[tuple[str, str, int, float]]:
    """Receivers in Paris that hear -15 dB, give or take."""
    return [
        (f"F5QS{chr(65 + k)}", "JN18eu", 6 * k + j, -15.0 + (k + j) % 3 - 1) for k in range(count) for j in range(2)
    ]


def test_strength_is_held_against_others_of_the_same_hour_band_and_ring():
    table, of = told(*crowd(), ("F6QTC", "JN18eu", 5, 5.0), ("DL9QTC", "JN58td", 5, 5.0), ("F7QTC", "JN18eu", 500, 5.0))
    got = strength.strength(table, of, np.ones(len(of), dtype=bool))
    excess = dict(zip(of.rx_call, got.excess_db, strict=True))
    assert excess["F6QTC"] == pytest.approx(20, abs=1) and abs(excess["F5QSA"]) <= 1
    assert np.isnan(excess["F7QTC"])  # nobody else in that hour
    assert np.isnan(excess["DL9QTC"]) == (table["distance_km"].max() > 1500)  # Munich lies in another ring


@pytest.mark.parametrize(("others", "known"), [(7, False), (8, True)])
def test_eight_reports_of_others_are_needed_to_hold_against(others, known):
    table, of = told(*[(f"F5QS{chr(65 + k)}", "JN18eu", k, -15.0) for k in range(others)], ("F6QTC", "JN18eu", 9, 5.0))
    got = strength.strength(table, of, of.rx_call == "F6QTC")
    assert np.isfinite(got.excess_db[of.rx_call == "F6QTC"]).all() == known == bool(np.isfinite(got.spreads).any())
    assert np.isnan(got.spreads[of.rx_call != "F6QTC"]).all()  # nobody asked


@pytest.mark.parametrize(("step_db", "spread_db"), [(27, 54 / 1.349), (1, 4.0)])
def test_spreads_are_standard_deviations_told_from_the_quartiles(step_db, spread_db):
    """Sixteen others, a quarter each at four levels, of which the first and the third are the quartiles: those of a normal
    distribution lie 1.349 standard deviations apart, and 4 dB are the least. One at the weakest that a report may be, ours at the
    strongest."""
    level = [-60 + step_db * (k % 4) for k in range(16)]
    rows = [(f"F5QS{chr(65 + k)}", "JN18eu", k, float(snr)) for k, snr in enumerate(level)]
    table, of = told(*rows, ("F6QTC", "JN18eu", 20, 60.0))
    got = strength.strength(table, of, of.rx_call == "F6QTC")
    (mine,) = np.flatnonzero(of.rx_call == "F6QTC")
    assert got.excess_db[mine] == 60 - (-60 + step_db)
    assert got.excess_db[mine] / got.spreads[mine] == pytest.approx(spread_db)


def test_own_reports_are_no_witnesses():
    table, of = told(*[("F6QTC", "JN18eu", k, 5.0) for k in range(30)], ("F5QSA", "JN18eu", 3, -15.0))
    got = strength.strength(table, of, np.ones(len(of), dtype=bool))
    assert np.isnan(dict(zip(of.rx_call, got.spreads, strict=True))["F6QTC"])


def test_strength_weighs_little_and_both_ways():
    spreads = np.array([np.nan, 0.0, 1.5, 2.5, -2.5, 40.0])
    piece = evidence.strength(strength.Strength(spreads, spreads * 4))
    assert piece.log_odds.tolist() == [0, 0, 0, 0.5, 0.5, evidence.STRENGTH_MOST]
    assert list(piece.facts(np.array([5, 4]))) == [160.0, -10.0]
    assert evidence.STRENGTH_MOST + evidence.PRIOR < 0  # never alone


# -------------------------------------------------------------------------------------------------------------- repair


def mended(*rows) -> dict[tuple[str, str], pd.Series]:
    got = found(*rows).suspects
    return {(row["rx_call"], row["rx_locator"]): row for _, row in got.iterrows()}


def test_a_single_candidate_in_the_right_country_is_suggested():
    row = mended(*steady("OE3QTC", "NJ88ee"))["OE3QTC", "NJ88ee"]
    assert row["suggestion"] == "JN88ee" and row["suggestion_reason"] == transcription.Kind.EXCHANGED
    assert row["suggested_distance_km"] == pytest.approx(1900, abs=100)
    assert (row["probable_lon_deg"], row["probable_lat_deg"]) == pytest.approx((16.375, 48.1875), abs=0.03)


def test_two_that_compete_are_both_named_and_none_is_suggested():
    row = mended(*steady("LX1QTC", "JN29cr"), *steady("DL2QTC", "JO13td"))["DL2QTC", "JO13td"]
    assert row["suggestion"] == "" and np.isnan(row["suggested_distance_km"])
    assert len(row["competing"].split()) >= 2


def test_who_gave_the_transmitters_locator_is_offered_none():
    row = mended(*steady("JA1QTC", HOME))["JA1QTC", HOME]
    assert row["suggestion"] == "" and row["competing"] == ""


def test_the_rest_of_a_longer_locator_stays():
    assert mended(*steady("OE3QTC", "NJ88ee36"))["OE3QTC", "NJ88ee36"]["suggestion"] == "JN88ee36"
    assert mended(*steady("OE3QTC", "NJ88"))["OE3QTC", "NJ88"]["suggestion"] in ("", "JN88")


def test_a_suggestion_takes_most_of_the_weight():
    assert repair.CLEAR >= 0.9


# -------------------------------------------------------------------------------------------------------------- weight


def test_weight_is_what_a_recount_says():
    """Farthest, median and 90th percentile with and without each suspect, by plain counting."""
    rng = np.random.default_rng(5)
    rows = [
        (f"DL{k % 9 + 1}QS{chr(65 + k)}", f"JN{rng.integers(10)}8td", 3 * k, -15.0)
        for k in range(20)
        for _ in range(k % 4 + 1)
    ]
    table, of = told(*rows, *steady("DL2QTC", "RE78ir", 3), *steady("DL2QTD", "IO90aa", 9))
    suspect = np.array([name in ("RE78ir", "IO90aa") for name in of.rx_locator])
    got = weight.weights_km(of, suspect)
    km, name = table["distance_km"].to_numpy(), table["rx_locator"].astype(str).to_numpy()

    def lower(values: np.ndarray, share: float) -> float:
        return float(np.quantile(values, share, method="inverted_cdf"))

    farthest_sound = km[~np.isin(name, ["RE78ir", "IO90aa"])].max()
    for n in np.flatnonzero(suspect):
        without = km[name != of.rx_locator[n]]
        changes = [
            max(of.distance_km[n] - farthest_sound, 0),
            *(abs(lower(km, s) - lower(without, s)) for s in (0.5, 0.9)),
        ]
        assert got[n] == pytest.approx(max(changes))
    assert not got[~suspect].any()


def test_two_suspects_beyond_everybody_both_weigh():
    got = found(*steady(CALL, "JN58td"), *steady("DL5QTC", "RE78ir", 1), *steady("DL6QTC", "RE79ir", 1)).suspects
    assert (got["weight_km"] > 10_000).all() and got["distance_km"].is_monotonic_decreasing


# ------------------------------------------------------------------------------------------------------------ listings


def test_evidence_adds_up_to_the_confidence():
    got = found(*steady("W1QTC", "FN42hi"), ("W1QTC", "CM87wj", 121, -15.0), *steady("DL2QTD", "IN80dj"))
    tables = [row for table in (got.suspects, got.notes) for row in table.to_dict("records")]
    assert {row["rx_locator"] for row in tables} == {"CM87wj", "IN80dj"}
    for row in tables:
        total = sum(piece.log_odds for piece in row["evidence"])
        assert 1 / (1 + np.exp(-total)) == pytest.approx(row["confidence"], abs=1e-12)
        assert row["evidence"][0] == (Kind.PRIOR, evidence.PRIOR, None)


def test_the_facts_of_another_place():
    """Boston twelve times, and California a minute after the seventh: 4,330 km by geodesic."""
    row = mended(*steady("W1QTC", "FN42hi"), ("W1QTC", "CM87wj", 121, -15.0))["W1QTC", "CM87wj"]
    facts = {piece.kind: piece.facts for piece in row["evidence"]}
    other = facts[Kind.SEVERAL]
    assert isinstance(other, Elsewhere) and other[0::2] == (
        "FN42hi",
        1,
        False,
        pd.Timestamp("2026-05-16T15:40").value // 1000,
    )
    assert other.away_km == pytest.approx(4330, abs=20) and other.there == 12
    fast = facts[Kind.SPEED]
    assert isinstance(fast, Speed) and fast.minutes == pytest.approx(1) and fast.kmh > history.AIRLINER_KMH


def test_a_move_is_told_with_both_places_and_no_doubt():
    day = 24 * 60
    got = found(*steady(CALL, "JN58td", 9), *steady(CALL, "JO62qm", 9, start=2 * day))
    (note,) = got.notes.to_dict("records")
    (other,) = [piece.facts for piece in note["evidence"] if piece.kind is Kind.SEVERAL]
    assert (note["rx_locator"], other.locator, other.moved, other.later) == ("JO62qm", "JN58td", True, False)
    assert set(got.problems["rule"]) == {find.MOVED_RULE} and len(got.problems) == 9


def test_every_row_has_the_trust_of_its_claim():
    """Whatever the order of rows; the table keeps them and its index."""
    table = spots(*steady(CALL, "JN58td", 4), ("DL2QTD", "IN80dj", 3, -15.0), ("LISTENER-7", "JN58td", 0, -15.0))
    got = find.find(table.iloc[::-1]).spots
    assert got["trust"].tolist() == [UNCONFIRMED, SUSPECT, *[CORROBORATED] * 4]
    assert got["trust"].cat.categories.tolist() == list(TRUST)
    pd.testing.assert_frame_equal(got.drop(columns="trust"), table.iloc[::-1])


def test_problems_name_each_spot_concerned_in_order():
    got = found(*steady(CALL, "JN58td", 4), (CALL, "JO58td", 33, -12.0), (CALL, "JO58td", 55, -12.0))
    assert got.problems["line"].tolist() == [6, 7]
    assert set(got.problems["rule"]) == {find.RULE} and set(got.problems["severity"]) == {SUSPECT}
    assert set(got.problems["suggestion"]) == {"JN58td"}
    assert set(got.problems["value"]) == {"Sweden"}  # where JO58 lies
    assert all(told is got.suspects["evidence"][0] for told in got.problems["evidence"])  # one for all, not one a row


def test_nothing_is_written_into_the_spots():
    table = spots(*steady(CALL, "JN58td", 4), (CALL, "JO58td", 33, -12.0))
    before = table.copy(deep=True)
    find.find(table)
    pd.testing.assert_frame_equal(table, before)


# ---------------------------------------------------------------------------------------------------------- call areas


def test_a_digit_of_another_part_of_the_country_is_a_hint_and_no_more():
    """W6QTC in Boston: the digit stands for California. A hint in words, far from a suspect; in its own area nothing."""
    _, of = told(("W6QTC", "FN42hh", 0, -15.0), ("W1QTC", "FN42hh", 0, -15.0), ("DL6QTC", "JN58td", 0, -15.0))
    piece = evidence.call_area(of, evidence.country(of).answer)
    assert by_name(piece, of)["W6QTC", "FN42hh"] == evidence.OUTSIDE_AREA
    assert sum(by_name(piece, of).values()) == evidence.OUTSIDE_AREA
    assert list(piece.facts(np.flatnonzero(piece.log_odds))) == ["California"]
    assert not len(found(*steady("W6QTC", "FN42hh", 6)).suspects)


def test_the_digit_tells_which_of_two_places_is_wrong():
    """One error apart, as often here as there: the place that the digit speaks for is believed."""
    rows = [("W6QTC", name, k, -15.0) for k in range(6) for name in ("FM04ab", "DM04ab")]
    got = found(*rows)
    assert names(got) == {("W6QTC", "FM04ab")} and Kind.AREA in kinds(got)


def test_abroad_the_country_says_all_there_is_to_say():
    _, of = told(("W6QTC", "JN58td", 0, -15.0))
    assert not evidence.call_area(of, evidence.country(of).answer).log_odds.any()

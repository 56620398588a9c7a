"""Where one thing ends and another begins, on both sides of each edge; and sums against a plain reading of the same rule."""

from __future__ import annotations

import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from reach.base import locator
from reach.place import path, world
from reach.place.world import UNKNOWN, YES
from reach.spots import CORROBORATED, RING_EDGES_KM, SUSPECT, UNCONFIRMED
from reach.suspects import evidence, find, history, repair, strength, transcription, weight
from reach.suspects.claims import claims
from reach.suspects.evidence import Evidence, Kind
from tests.suspects.test_evidence import by_name, past, told
from tests.suspects.test_find import HOME, found, names, spots, steady

SUSPECTS_MD = (Path(evidence.__file__).parent / "SUSPECTS.md").read_text(encoding="utf-8")
CALL = "DL2QTC"


def logistic(log_odds):
    return 1 / (1 + np.exp(-log_odds))


# ----------------------------------------------------------------------------------------------- one receiver, two places


def test_patterns_are_five_different_ones():
    five = {history.ALONE, history.MIXED, history.VISIT, history.MOVED, history.BRIEF}
    assert five == set(range(5)) and set(evidence.ONE_IS_WRONG) == five - {history.ALONE}


def rivalry(pattern, here, there, *, error="", far=True, kmh=0.0, doubt=(0.0, 0.0)):
    """Two places of one receiver that stand against each other: the first with `here` reports, the second with `there`."""
    told = SimpleNamespace(
        rival=np.array([1, 0]), pattern=np.full(2, pattern), here=np.array([here, there]), there=np.array([there, here]),
        error=np.array([error, error], dtype=object), far=np.full(2, far), kmh=np.full(2, kmh), minutes=np.full(2, 5.0),
    )  # fmt: skip
    return evidence.Rivalry(None, told, np.array(doubt))


@pytest.mark.parametrize(
    ("pattern", "error", "counts"),
    [
        (history.MIXED, "", True), (history.MIXED, "mirrored", True), (history.BRIEF, "", True),
        (history.BRIEF, "mirrored", False), (history.VISIT, "", False), (history.VISIT, "mirrored", False),
        (history.MOVED, "", False), (history.MOVED, "mirrored", False),
    ],
)  # fmt: skip
def test_numbers_count_where_reports_are_mixed_or_there_are_few_and_no_error_explains_them(pattern, error, counts):
    """Nine reports here and one there, each counted as one more: blame goes with the ratio to the power of 1.2, or in halves."""
    rarer = (10 / 2) ** 1.2 if counts else 1.0
    assert rivalry(pattern, 9, 1, error=error).blame == pytest.approx([1 / (1 + rarer), rarer / (1 + rarer)])


def test_what_the_world_says_against_a_place_goes_into_the_blame_and_what_it_says_for_it_does_not():
    assert rivalry(history.MOVED, 5, 5, doubt=(3.0, 1.0)).blame == pytest.approx(logistic(np.array([2.0, -2.0])))
    assert rivalry(history.MOVED, 5, 5, doubt=(-3.0, 1.0)).blame == pytest.approx(logistic(np.array([-1.0, 1.0])))


@pytest.mark.parametrize("pattern", [history.MIXED, history.BRIEF, history.VISIT, history.MOVED])
@pytest.mark.parametrize(("error", "far"), [("", True), ("mirrored", True), ("wrong-character", False)])
@pytest.mark.parametrize("kmh", [0.0, 0.5, 4000.0])
def test_each_step_is_the_chance_of_the_two_places_times_the_share_of_the_blame(pattern, error, far, kmh):
    made = rivalry(pattern, 4, 2, error=error, far=far, kmh=kmh)
    one_is_wrong = evidence.ONE_IS_WRONG[pattern]
    steps = [one_is_wrong]
    steps.append(steps[-1] + (0.0 if not error else evidence.FAR_ERROR if far else evidence.NEAR_ERROR))
    steps.append(steps[-1] + (evidence.TOO_FAST if kmh else 0.0))
    chance = [logistic(step) * made.blame for step in steps]
    odds = [np.log(each / (1 - each)) for each in chance]
    assert made.several().log_odds == pytest.approx(odds[0] - evidence.PRIOR)
    assert made.known_error().log_odds == pytest.approx(odds[1] - odds[0])
    assert made.speed().log_odds == pytest.approx(odds[2] - odds[1])


def test_the_weights_within_a_rivalry_are_those_that_users_read():
    """SUSPECTS.md, below the tables: what the chance of two places begins with, and how blame is shared."""
    (said,) = re.findall(r"begins at (.*?);", SUSPECTS_MD.replace("\n", " "))
    weights = [float(each) for each in re.findall(r"[+-]\d\.\d", said)]
    order = (history.MIXED, history.BRIEF, history.VISIT, history.MOVED)
    assert weights == [evidence.ONE_IS_WRONG[each] for each in order]
    assert f"power of {evidence.SHARE_POWER}" in SUSPECTS_MD
    assert f"beyond {evidence.STRENGTH_FREE} spreads {evidence.STRENGTH_PER_SPREAD} for each" in SUSPECTS_MD.replace(
        "\n", " "
    )
    assert f"more than {evidence.AREA_MARGIN_KM:g} km away" in SUSPECTS_MD
    assert f"faster than {history.AIRLINER_KMH:g} km/h" in SUSPECTS_MD
    assert f"confidence of {find.SUSPECT_FROM} a claim is a `suspect`" in SUSPECTS_MD.replace("\n", " ")
    assert f"from {find.NOTE_FROM} it is a `note`" in SUSPECTS_MD.replace("\n", " ")
    assert f"{100 * repair.CLEAR:g} % of the weight is suggested" in SUSPECTS_MD


def test_the_size_of_a_cell_is_that_of_the_earth():
    """From the centre to a corner at the equator, by geodesics: 5.2 km for six characters and 125 for four."""
    _, of = told((CALL, "JN58td", 0, -15.0), (CALL, "JN58", 1, -15.0), ("F5QTC", "JN18eu36", 2, -15.0))
    radius_km = dict(zip(of.rx_locator, history._radius_km(of), strict=True))
    small_km, large_km = path.cell_radius_km(["JJ00aa", "JJ00"])
    assert radius_km["JN58td"] == radius_km["JN18eu36"] == pytest.approx(small_km, abs=0.1)
    assert radius_km["JN58"] == pytest.approx(large_km, abs=1)


@pytest.mark.parametrize(("one", "other"), [("FN42hi", "DM04sd"), ("FN42", "DM04sd"), ("FN42", "DM04")])
def test_an_airliner_flies_a_thousand_kilometres_an_hour(one, other):
    """Edge to edge of the cells, with five minutes to spare for how times are written: a minute more and it is no wonder."""
    km = path.inverse(*locator.centre([one]), *locator.centre([other]))[0][0]
    km -= sum(125.0 if len(name) < 6 else 5.2 for name in (one, other))
    enough = int(np.ceil(km / 1000 * 60 - 5))
    for minutes, kmh in ((enough, 0.0), (enough - 1, km / ((enough - 1 + 5) / 60))):
        _, made = past(("W1QTC", one, 0, -15.0), ("W1QTC", other, minutes, -15.0))
        assert made.kmh == pytest.approx([kmh] * 2)
        assert made.minutes == pytest.approx([minutes if kmh else 0.0] * 2)


def test_of_several_hops_the_fastest_counts_for_each_place():
    """Boston, California an hour later, Boston half an hour later, Tokyo a minute later."""
    rows = [("W1QTC", name, minute, -15.0) for name, minute in
            (("FN42hi", 0), ("CM87wj", 60), ("FN42hi", 90), ("PM95vq", 91))]  # fmt: skip
    of, made = past(*rows)
    minutes = dict(zip(of.rx_locator, made.minutes.round(6), strict=True))
    assert minutes == {"CM87wj": 30.0, "FN42hi": 1.0, "PM95vq": 1.0}


def test_a_stay_is_three_reports_in_one_go():
    """Two from Berlin in the middle of many from Munich are mixed in, three are a visit; at the end two are too brief to tell, three a move."""
    home, day = steady(CALL, "JN58td", 9), 24 * 60
    for count, inside, after in ((2, history.MIXED, history.BRIEF), (3, history.VISIT, history.MOVED)):
        trip = steady(CALL, "JO62qm", count, start=2 * day)
        for rows, expected in ((trip + steady(CALL, "JN58td", 9, start=4 * day), inside), (trip, after)):
            _, made = past(*home, *rows)
            assert made.pattern.tolist() == [expected] * 2, (count, expected)
    broken = [
        (CALL, name, 2 * day + k, -15.0)
        for k, name in enumerate(("JN58td", "JN58te", "JN58td", "JN58te", "JN58td", "JN58te"))
    ]
    _, made = past(*home, *broken, *steady(CALL, "JN58td", 3, start=4 * day))
    assert made.pattern.tolist() == [history.MIXED] * 2  # three, but not in one go


def test_a_visit_with_as_many_reports_as_from_home_is_one_from_both_sides():
    """Two from Munich, four from Berlin, two from Munich again, days apart."""
    day = 24 * 60
    _, made = past(
        *steady(CALL, "JN58td", 2), *steady(CALL, "JO62qm", 4, start=2 * day), *steady(CALL, "JN58td", 2, start=4 * day)
    )
    assert made.pattern.tolist() == [history.VISIT] * 2
    # Neither is in the middle of the other.
    rows = [(CALL, name, day * k, -15.0) for k, name in enumerate(["JN58td", "JO62qm"] * 4)]
    assert past(*rows)[1].pattern.tolist() == [history.MIXED] * 2


def test_the_last_from_one_place_at_the_moment_of_the_first_from_the_other_is_no_mixture():
    """The next cell, so that nobody had to fly."""
    _, made = past(*steady(CALL, "JN58td", 4), *steady(CALL, "JN58te", 4, start=60))
    assert made.pattern.tolist() == [history.MOVED] * 2


def test_of_two_other_places_the_one_with_more_reports_is_the_rival():
    """One report against two: every single one counts."""
    of, made = past(*steady(CALL, "JN58td", 5), (CALL, "JN48td", 7, -15.0), *steady(CALL, "JO62qm", 2, start=9))
    assert of.rx_locator[made.rival].tolist() == ["JN58td", "JO62qm", "JN58td"]
    assert of.rx_locator.tolist() == ["JN48td", "JN58td", "JO62qm"]


# ------------------------------------------------------------------------------------------------------------- evidence


def test_a_call_area_is_left_beyond_150_km(monkeypatch):
    _, of = told(*[(f"W{k}QTC", "FN42hh", 0, -15.0) for k in range(1, 5)])
    monkeypatch.setattr(evidence.call_areas, "outside_km", lambda *_: np.array([0.0, 150.0, 150.01, np.nan]))
    piece = evidence.call_area(of, np.full(4, YES, dtype=np.int8))
    assert piece.log_odds.tolist() == [0.0, 0.0, evidence.OUTSIDE_AREA, 0.0]


def test_a_digit_is_left_out_where_both_places_of_a_receiver_lie_outside():
    area = Evidence(Kind.AREA, np.array([1.5, 1.5, 1.5, 0.0, 1.5]))
    left = evidence.once(area, np.array([1, 0, 3, 2, -1]))
    assert left.log_odds.tolist() == [0.0, 0.0, 1.5, 0.0, 1.5]


def test_from_far_south_to_the_southernmost_country():
    """FC55ue, one letter from Ushuaia in FD55: south of 60 S, and between 50 and 60 S there are countries."""
    _, of = told(("LU5QTC", "FC55ue", 0, -15.0), ("DL2QTC", "FC55ue", 0, -15.0), ("LU5QTC", "FC55", 1, -15.0))
    answer = evidence.country(of).answer
    odds = by_name(evidence.far_south(of, answer), of)
    assert odds == {
        ("LU5QTC", "FC55ue"): evidence.FAR_SOUTH,
        ("DL2QTC", "FC55ue"): 0.0,
        ("LU5QTC", "FC55"): evidence.FAR_SOUTH,
    }


@pytest.mark.parametrize(
    ("call", "name"), [("CE8QTC", "FC65ec"), ("CE8QTC", "FA65ec"), ("LU5QTC", "GC21oq"), ("LU5QTC", "GC25os")]
)
def test_between_50_and_60_s_there_is_land_too(call, name):
    """Places from which one error leads to Tierra del Fuego and to no other part of the country."""
    _, of = told((call, name, 0, -15.0))
    assert evidence.far_south(of, evidence.country(of).answer).log_odds.tolist() == [evidence.FAR_SOUTH]


def test_only_the_transmitters_own_locator_is_borrowed_in_any_case_of_letters():
    _, of = told(("JA1QTC", HOME.lower(), 0, -15.0), ("JA2QTC", HOME, 0, -15.0), ("JA3QTC", "IO51et", 0, -15.0))
    piece = evidence.borrowed(of, np.array([True, False, True]))
    assert piece.log_odds.tolist() == [evidence.BORROWED, 0.0, 0.0]


# ------------------------------------------------------------------------------------------------------------- strength


def test_strength_counts_from_one_and_a_half_spreads():
    spreads = np.array([1.5, 1.7, -2.5, 4.5, 4.7])
    odds = evidence.strength(strength.Strength(spreads, spreads)).log_odds
    assert odds == pytest.approx([0.0, 0.1, 0.5, 1.5, 1.5])


@pytest.fixture(scope="module")
def scene():
    """Reports of many receivers on three bands over three hours, some without strength, at distances on and about the rings' edges."""
    rng = np.random.default_rng(12)
    n = 500
    cells = ["IO51fs", "IO91wm", "JN18eu", "JN58td", "JO62qm", "KP20le", "FN42hi", "PM95vq"]
    rows = [(f"G{k % 6}QTC", cells[rng.integers(8)], int(rng.integers(180)), float(rng.integers(-24, 5)))
            for k in range(n)]  # fmt: skip
    table = spots(*rows)
    table["band"] = pd.Categorical(rng.choice(["20m", "40m", "30m"], n))
    table["snr_db"] = table["snr_db"].where(rng.random(n) > 0.1)
    edges = [edge for edge in RING_EDGES_KM if edge < table["distance_km"].max()]
    km = table.groupby("rx_locator", observed=True)["distance_km"].first().sort_values()
    moved = dict(zip(km.index, [*edges, *km][: len(km)], strict=True))  # cells exactly on an edge: the ring beyond it
    return table.assign(distance_km=table["rx_locator"].map(moved).astype(float))


def test_strength_is_what_a_plain_reading_of_the_rule_finds(scene, monkeypatch):
    """Each report against those of other receivers in its hour, band and ring; whatever is worked on at once, however far apart the
    hours are."""
    of = claims(scene)
    asked = np.arange(len(of)) % 3 != 0
    got = strength.strength(scene, of, asked)
    table = scene.assign(
        claim=of.claim_of_row, hour=scene["time_utc"].dt.floor("h"),
        ring=np.searchsorted(RING_EDGES_KM, scene["distance_km"], side="right"),
    ).dropna(subset="snr_db")  # fmt: skip
    groups = [
        (part["claim"].to_numpy(), part["snr_db"].to_numpy(float))
        for _, part in table.groupby(["hour", "band", "ring"], observed=True)
    ]
    for claim in np.flatnonzero(asked):
        excess, spreads, weights = [], [], []
        for whose, level in groups:
            own, others = level[whose == claim], level[whose != claim]
            if len(own) and len(others) >= 8:
                low, middle, high = np.quantile(others, [0.25, 0.5, 0.75], method="inverted_cdf")
                excess.append(own.mean() - middle)
                spreads.append(excess[-1] / max((high - low) / 1.349, 4.0))
                weights.append(len(own))
        if weights:
            assert got.excess_db[claim] == pytest.approx(np.average(excess, weights=weights))
            assert got.spreads[claim] == pytest.approx(np.average(spreads, weights=weights))
        else:
            assert np.isnan(got.excess_db[claim]) and np.isnan(got.spreads[claim])
    assert np.isnan(got.spreads[~asked]).all() and np.isfinite(got.spreads).sum() > 20
    monkeypatch.setattr(strength, "_AT_ONCE", 7)
    monkeypatch.setattr(strength, "_MOST_HOURS", 1)
    again = strength.strength(scene, of, asked)
    assert again.spreads == pytest.approx(got.spreads, nan_ok=True)
    assert again.excess_db == pytest.approx(got.excess_db, nan_ok=True)


# --------------------------------------------------------------------------------------------------------------- weight


def test_weight_over_several_bands_is_what_a_recount_says():
    """Of all bands and of each, farthest, median and 90th percentile, with and without each suspect."""
    rng = np.random.default_rng(21)
    cells = ["IO51fs", "IO91wm", "JN18eu", "JN58td", "JO62qm", "KP20le", "FN42hi", "PM95vq", "RE78ir", "QF56oc"]
    table = spots(*((f"G{n}QTC", cells[n], int(k), -15.0) for n in range(10) for k in range(1 + n * n % 11)))
    table["band"] = pd.Categorical(rng.choice(["20m", "30m", "40m"], len(table), p=[0.6, 0.3, 0.1]))
    of = claims(table)
    for number in range(40):
        suspect = rng.random(len(of)) < 0.4
        if number == 0:
            suspect[:] = False
        _is_recounted(table, of, suspect)


def _is_recounted(scene, of, suspect):
    got = weight.weights_km(of, suspect)
    assert not got[~suspect].any()
    claim, km = of.claim_of_row, scene["distance_km"].to_numpy()
    for n in np.flatnonzero(suspect):
        changes = [0.0]
        for inside in (np.ones(len(km), bool), *(scene["band"].to_numpy() == band for band in ("20m", "30m", "40m"))):
            mine, sound = inside & (claim == n), inside & ~suspect[claim]
            if mine.any():
                changes.append(km[mine].max() - (km[sound].max() if sound.any() else 0.0))
            if mine.any() and (inside & ~mine).any():
                changes += [abs(lower(km[inside], share) - lower(km[inside & ~mine], share)) for share in (0.5, 0.9)]
        assert got[n] == pytest.approx(max(changes)), n


def lower(values, share):
    return float(np.quantile(values, share, method="inverted_cdf"))


def test_where_all_are_suspects_the_farthest_weighs_all_of_its_distance():
    _, of = told(*steady(CALL, "RE78ir", 2))
    assert weight.weights_km(of, np.array([True])) == pytest.approx(of.distance_km)


# --------------------------------------------------------------------------------------------------------------- repair


def weighed(*shares, kinds=None):
    """What `repair` makes of candidates JN00aa, JN01aa, ... with such shares of the weight."""
    n = len(shares)
    values = np.array([[9, 13, 0, k, 0, 0] for k in range(n)])[None]
    kind = np.zeros(n, dtype=int) if kinds is None else np.array(kinds)
    candidates = transcription.Candidates(values, kind, np.ones((1, n), dtype=bool))
    return repair._weigh(candidates, 0, np.array(shares, dtype=float), "JN58td")


def test_ninety_five_in_a_hundred_make_a_suggestion_and_ten_are_worth_a_name(monkeypatch):
    monkeypatch.setattr(repair, "_SOMETHING_ELSE", 0.0)
    assert weighed(95, 5).suggestion == "JN00aa" and weighed(95, 5).competing == ()
    assert weighed(94, 6) == repair.Repair(competing=("JN00aa",))
    assert weighed(90, 10).competing == ("JN00aa", "JN01aa") and weighed(91, 9).competing == ("JN00aa",)
    assert weighed(10, 90).competing == ("JN01aa", "JN00aa")  # the likelier first
    assert weighed(*[20] * 5).competing == ("JN00aa", "JN01aa", "JN02aa")  # three at most, by name where they are alike
    assert weighed(0, 0).competing == ()


def test_that_no_known_error_led_here_has_its_weight_too():
    """The guess stands in the module: one in ten thousand."""
    assert weighed(1e-4 * 19.1).suggestion == "JN00aa" and weighed(1e-4 * 18.9).suggestion == ""
    assert weighed(1e-4 * 0.12).competing == ("JN00aa",) and weighed(1e-4 * 0.11).competing == ()


def test_two_errors_that_lead_to_one_locator_add_and_the_likelier_is_named():
    values = np.array([[9, 13, 0, 0, 0, 0]] * 2)[None]
    kind = np.array([transcription.EXCHANGED, transcription.PAIRS])
    candidates = transcription.Candidates(values, kind, np.ones((1, 2), dtype=bool))
    for weights, named in (((0.5, 0.6), transcription.PAIRS), ((0.6, 0.5), transcription.EXCHANGED)):
        assert repair._weigh(candidates, 0, np.array(weights), "JN58td") == repair.Repair(
            "JN00aa", transcription.CODES[named]
        )


@pytest.mark.parametrize(
    ("error", "mine", "rivals", "expected"),
    [
        ("", 0.8, 1 - 0.95, repair.Repair("JO62qm", repair.OTHER_LOCATOR)),
        ("", 0.79, 0.05, repair.Repair(competing=("JO62qm",))),
        ("", 0.8, 0.051, repair.Repair(competing=("JO62qm",))),
        ("", 0.8, 0.8, None),
        ("", 0.8, 0.81, None),
        ("", 0.5, 0.6, repair.Repair(competing=("JO62qm",))),
        ("mirrored", 0.5, 0.05, repair.Repair("JO62qm", "mirrored")),
        ("mirrored", 0.5, 0.5, repair.Repair(competing=("JO62qm",))),
        ("mirrored", 0.9, 0.95, repair.Repair(competing=("JO62qm",))),
    ],
)
def test_when_the_other_place_of_a_receiver_is_what_was_meant(error, mine, rivals, expected):
    """Sound itself, and one known error away or this one given up."""
    of = SimpleNamespace(rx_locator=np.array(["JN58td", "JO62qm"], dtype=object))
    told = SimpleNamespace(rival=np.array([1, 0]), error=np.array([error, error], dtype=object))
    assert repair._own_place(of, told, np.array([mine, rivals]), np.int64(0)) == expected
    alone = SimpleNamespace(rival=np.array([-1, -1]), error=told.error)
    assert repair._own_place(of, alone, np.array([mine, rivals]), np.int64(0)) is None


# ----------------------------------------------------------------------------------------------------------------- find


def test_strength_is_asked_for_only_where_there_is_doubt(monkeypatch):
    """What lies within two of the prior is beyond doubt."""
    asked = []
    usual = strength.strength
    monkeypatch.setattr(
        strength, "strength", lambda spots, told, some: asked.append(some.copy()) or usual(spots, told, some)
    )
    for odds, wanted in ((2.0, False), (2.1, True)):
        monkeypatch.setattr(evidence, "sea", lambda told, odds=odds: Evidence(Kind.SEA, np.full(len(told), odds)))
        asked.clear()
        found((CALL, "JN58td", 0, -15.0))
        assert asked[0].tolist() == [wanted]


@pytest.mark.parametrize(
    ("spreads", "trust"), [(2.5, CORROBORATED), (-2.5, CORROBORATED), (2.6, UNCONFIRMED), (-2.6, UNCONFIRMED)]
)
def test_a_listener_out_of_keeping_by_more_than_two_and_a_half_spreads_is_unconfirmed(monkeypatch, spreads, trust):
    """One whose callsign names the country is not asked."""
    made = strength.Strength(np.full(2, spreads), np.full(2, 0.0))
    monkeypatch.setattr(
        strength,
        "strength",
        lambda spots, told, some: strength.Strength(np.where(some, made.spreads, np.nan), made.excess_db),
    )
    got = found(*steady("LISTENER-7", "JN58td"), *steady(CALL, "JN58td")).spots
    assert got.groupby("rx_call", observed=True)["trust"].unique().map(list).to_dict() == {
        "LISTENER-7": [trust],
        CALL: [CORROBORATED],
    }


def test_two_hours_by_the_clock_corroborate_a_listener():
    """Two minutes about the full hour are two of them; fifty-nine minutes within one are one."""
    assert (
        found(("LISTENER-7", "JN58td", 59, -15.0), ("LISTENER-7", "JN58td", 60, -15.0)).spots["trust"].tolist()
        == [CORROBORATED] * 2
    )
    assert (
        found(("LISTENER-7", "JN58td", 0, -15.0), ("LISTENER-7", "JN58td", 59, -15.0)).spots["trust"].tolist()
        == [UNCONFIRMED] * 2
    )


def test_suspects_stand_by_weight_then_distance_then_confidence():
    rows = [
        *steady(CALL, "JN58td"),
        *steady("DL5QTC", "RE78ir", 3),
        *steady("DL6QTC", "QF56oc", 1),
        *steady("DL7QTC", "IN80dj", 2),
    ]
    got = found(*rows)
    order = got.suspects[["weight_km", "distance_km", "confidence"]].to_numpy()
    assert order.tolist() == sorted(order.tolist(), reverse=True) and len(order) == 3
    assert names(got) == {("DL5QTC", "RE78ir"), ("DL6QTC", "QF56oc"), ("DL7QTC", "IN80dj")}


def test_claims_of_a_station_that_was_at_two_places_have_the_farther_distance():
    """With what bands there are, 0 where none is told."""
    table = spots(*[(CALL, "JN58td", k, -15.0) for k in range(4)]).drop(columns=["distance_km"])
    table["tx_locator"] = pd.Categorical(["IO51es", "JO62qm", "IO51es", "JO62qm"])
    table["distance_km"] = [1500.0, 500.0, 1500.0, 500.0]
    table["band"] = pd.Categorical(["20m", "40m", None, "40m"])
    of = claims(table)
    assert of.distance_km.tolist() == [1500.0] and of.reports.tolist() == [4]
    cells = set(
        zip(of.cell_tx, of.cell_band.tolist(), of.cell_distance_km.tolist(), of.cell_reports.tolist(), strict=True)
    )
    assert cells == {("IO51es", 0, 1500.0, 1), ("IO51es", 1, 1500.0, 1), ("JO62qm", 2, 500.0, 2)}
    assert of.claim_of_row.tolist() == [0] * 4


def test_a_base_may_have_been_meant_in_the_antarctic():
    """BR32hd, in the Arctic Ocean, for RB32hd on the Ross Ice Shelf: two letters exchanged."""
    (row,) = found(*steady("VK0QTB", "BR32hd")).suspects.to_dict("records")
    assert "RB32hd" in f"{row['suggestion']} {row['competing']}"
    (row,) = found(*steady("DL2QTC", "BR32hd")).suspects.to_dict("records")
    assert "RB32hd" not in f"{row['suggestion']} {row['competing']}"


@pytest.mark.parametrize(
    ("call", "name"),
    [
        ("LISTENER-7", "HM00aa"), ("LISTENER-7", "IN51aa"), ("DL2QTC", "IN51aa"), ("EI5QTC", "OI51es"), ("DL2QTC/MM", "JN58td"),
        ("3D2QTC", "RH91fu"), ("VK0QTB", "BR32hd"), ("OE3QTC", "NJ88ee"), ("F5QTC", "JN18"), ("DL2QTC", "AN58td"), ("4U1QTC", "JB58td"),
        ("VE3QTC", "HO25na"), ("VE3QTC", "FL06kc"), ("YB3QTC", "JN82fp"), ("VE3QTC", "JN82pm"), ("W1QTC", "FO06vt"), ("F5QTC", "LK17ha"),
    ],
)  # fmt: skip
def test_what_was_meant_is_what_a_plain_reading_of_the_rule_finds(call, name):
    """Candidate by candidate: on land or a ship's, and in the callsign's country; where none is known to be there, those of which it is
    not known; none in the Antarctic for a callsign that names a country. Then by their shares."""
    _, of = told((call, name, 0, -15.0))
    (got,) = repair._by_error(of, np.array([0]))
    found = transcription.candidates([name])
    weight, fits = np.exp(found.log_prior()[0]), {}
    for column in np.flatnonzero(found.there[0]):
        lon, lat = (float(part) for part in transcription.centres(found.values[0, column]))
        answer = world.agrees([call], lon, lat, len(name))[0]
        if not (world.on_land(lon, lat, len(name))[0] or world.afloat([call])[0]):
            continue
        if lat < -60 and answer != YES and world.administrations([call])[0]:
            continue
        fits[column] = answer
    best = YES if YES in fits.values() else UNKNOWN
    shares: dict[str, float] = {}
    for column, answer in fits.items():
        if answer == best:
            meant = transcription.text(found.values[0, column], name)
            shares[meant] = shares.get(meant, 0.0) + weight[column]
    total = sum(shares.values()) + 1e-4
    order = sorted(shares, key=lambda meant: (-shares[meant], meant))
    if order and shares[order[0]] / total >= 0.95:
        assert (got.suggestion, got.competing) == (order[0], ())
    else:
        assert got.suggestion == "" and got.reason == ""
        assert got.competing == tuple(meant for meant in order[:3] if shares[meant] / total >= 0.1)


@pytest.mark.parametrize(
    ("odds", "grade", "rule"),
    [
        (2.79, None, None),
        (2.82, "note", "locator-doubtful"),
        (4.58, "note", "locator-doubtful"),
        (4.61, "suspect", "locator-suspect"),
    ],
)
def test_a_note_begins_at_a_tenth_and_a_suspect_at_two_fifths(monkeypatch, odds, grade, rule):
    """Confidence is 1 / (1 + exp(5 - odds)): 0.1 at 2.803 and 0.4 at 4.595."""
    monkeypatch.setattr(
        evidence, "sea", lambda told: Evidence(Kind.SEA, np.where(told.rx_locator == "JN58td", odds, 0.0))
    )
    got = found(*steady(CALL, "JN58td", 2), ("F5QTC", "JN18eu", 0, -15.0))
    rows = [*got.suspects.to_dict("records"), *got.notes.to_dict("records")]
    assert [row["grade"] for row in rows] == ([grade] if grade else [])
    assert got.problems["rule"].tolist() == [rule] * 2 * bool(grade)
    assert got.problems["severity"].tolist() == [grade] * 2 * bool(grade)
    assert got.problems["value"].tolist() == ["Germany"] * 2 * bool(grade)
    trust = [SUSPECT if grade == "suspect" else CORROBORATED] * 2 + [CORROBORATED]
    assert got.spots["trust"].tolist() == trust


def test_of_receivers_that_stay_where_they_are_nothing_is_said_whenever_they_began():
    got = found(
        *steady(CALL, "JN58td", 3, start=50), *steady("F5QTC", "JN18eu", 3), *steady("OE3QTC", "JN88ee", 3, start=20)
    )
    assert got.notes.empty and got.suspects.empty and got.problems.empty


def test_of_a_move_the_later_place_is_told_and_the_other_place_with_no_weight_too():
    day = 24 * 60
    got = found(*steady(CALL, "JN58td", 9, start=2 * day), *steady(CALL, "JO62qm", 9))
    assert got.notes["rx_locator"].tolist() == ["JN58td"]
    assert set(got.problems["line"]) == set(range(2, 11)) and set(got.problems["rule"]) == {find.MOVED_RULE}
    assert [piece.kind for piece in got.notes["evidence"][0]][:2] == [Kind.PRIOR, Kind.SEVERAL]


def test_the_distance_to_what_was_meant_is_from_the_station():
    (row,) = found(*steady("OE3QTC", "NJ88ee")).suspects.to_dict("records")
    truth = path.inverse(*locator.centre([HOME]), *locator.centre(["JN88ee"]))[0][0]
    assert row["suggested_distance_km"] == pytest.approx(truth)
    assert row["claimed_country"] == "" and (row["claimed_lon_deg"], row["claimed_lat_deg"]) == tuple(
        float(part[0]) for part in locator.centre(["NJ88ee"])
    )


def test_who_heard_once_and_gave_the_transmitters_locator_is_offered_none():
    """JO51es in Germany is one letter from the station's own."""
    (row,) = found(("DL2QTC", HOME, 0, -15.0)).suspects.to_dict("records")
    assert (row["suggestion"], row["competing"]) == ("", "")
    (row,) = found(("DL2QTC", "IO51et", 0, -15.0)).suspects.to_dict("records")
    assert "JO51et" in f"{row['suggestion']} {row['competing']}"


def test_every_receiver_has_rivals_of_its_own():
    """Three receivers, with one, two and three places, their reports in among each other."""
    rows = [
        *steady("DL2QTC", "JN58td", 3), *steady("DL2QTC", "JO62qm", 2, start=3), *steady("DL2QTC", "JN48td", 1, start=7),
        *steady("F5QTC", "JN18eu", 2, start=1), *steady("F5QTC", "JN19eu", 1, start=5), *steady("OE3QTC", "JN88ee", 4, start=2),
        *steady("G4QTC", "IO91wm", 1, start=9), *steady("G4QTC", "IO92wm", 3, start=11),
    ]  # fmt: skip
    for some in (rows, rows[::-1], sorted(rows, key=lambda row: row[2])):
        of, made = past(*some)
        rival = {
            (call, name): str(of.rx_locator[n]) if n >= 0 else ""
            for call, name, n in zip(of.rx_call, of.rx_locator, made.rival, strict=True)
        }
        assert rival == {
            ("DL2QTC", "JN58td"): "JO62qm", ("DL2QTC", "JO62qm"): "JN58td", ("DL2QTC", "JN48td"): "JN58td",
            ("F5QTC", "JN18eu"): "JN19eu", ("F5QTC", "JN19eu"): "JN18eu", ("OE3QTC", "JN88ee"): "",
            ("G4QTC", "IO91wm"): "IO92wm", ("G4QTC", "IO92wm"): "IO91wm",
        }  # fmt: skip
        assert (of.call[made.rival[made.rival >= 0]] == of.call[made.rival >= 0]).all()
        us = pd.Timestamp("2026-05-16T12:00Z").value // 1000
        assert dict(zip(of.rx_locator, ((made.last_us - us) / 6e7).tolist(), strict=True))["JN58td"] == 40

"""Which rows are A's and which B's, what comes off them, and the small tables: edges and ties."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from reach.assign.powers import Powers, Told
from reach.compare import design, evidence
from reach.compare.comparison import Heard, Receiver, plain
from reach.errors import CompareError
from tests.compare.factory import START, alternating, sorted_reports


def _on(*mhz: float) -> pd.DataFrame:
    """A report on each of these frequencies."""
    return pd.DataFrame(
        {
            "time_utc": START + pd.to_timedelta(np.arange(len(mhz)) * 2.0, unit="min"),
            "rx_call": "G4QRA", "rx_locator": "IO91wm", "snr_db": -10.0, "band": "20m", "freq_mhz": mhz,
        }
    )  # fmt: skip


@pytest.mark.parametrize(("a", "b"), [("14", "15"), ("15", "14")])
def test_a_spot_is_of_the_nearer_frequency_up_to_half_of_what_they_are_apart(a, b):
    """Whichever is called A; the middle is neither's, nor is what lies farther off."""
    names = evidence.names_of(_on(13.4, 13.5, 14.0, 14.4, 14.5, 14.6, 15.5, 15.6), a, b)
    assert names.fillna("").tolist() == ["", "14", "14", "14", "", "15", "15", ""]


def test_numbers_that_are_no_two_frequencies_of_spots_name_no_setups():
    spots = _on(14.0, 15.0)
    assert evidence._by_frequency(spots, "14", "14.0") is None
    assert evidence._by_frequency(spots, "7.0", "7.1") is None
    assert evidence._by_frequency(spots, "vertical", "14") is None
    assert evidence._by_frequency(spots.drop(columns="freq_mhz"), "14", "15") is None


def test_a_schedule_or_a_column_must_name_the_setups():
    spots = _on(14.0, 15.0).drop(columns="freq_mhz")
    with pytest.raises(CompareError, match="needs the column 'setup', or a schedule"):
        evidence.label(spots, "a", "b")
    with pytest.raises(CompareError, match="no spot has one"):
        evidence.label(spots.assign(setup=pd.Categorical([None, None])), "a", "b")
    with pytest.raises(CompareError, match="no setup is called 'a'; no spot has one"):
        evidence.label(_on(14.0, 15.0), "a", "b")
    with pytest.raises(CompareError, match="no setup is called 'a'"):
        evidence.label(spots.assign(tx_call="EI4QTB"), "a", "b")


def test_a_name_that_no_row_carries_is_asked_back_before_anything_else():
    spots = alternating(1)
    only_a = spots.assign(setup=spots["setup"].astype(object).where(spots["setup"] == "a", "loop"))
    assert evidence.label(only_a, "a", "zz").told_by == "setup"
    with pytest.raises(CompareError, match="did you mean 'loop'"):
        evidence.label(only_a, "a", "loops")
    unheard = evidence.label(only_a, "x", "y", unheard=True)
    assert unheard.told_by == "schedule" and not len(unheard.spots)


def test_power_that_rows_tell_comes_off_each_and_a_number_off_those_of_a():
    spots = alternating(1, blocks=4)
    labelled = evidence.label(spots, "a", "b")
    level_dbm = np.where(labelled.is_a, 37.0, 30.0)

    def power(told: Told, level=None, number=None):
        return evidence.power(labelled, Powers(told, 7.0, "antenna", 0.0, level), number)

    off_db, difference_db = power(Told.BY_ROW, level_dbm)
    assert difference_db == 7.0 and set(off_db[labelled.is_a] - off_db[~labelled.is_a][0]) == {7.0}
    off_db, difference_db = power(Told.STUDY)
    assert difference_db == 7.0 and not off_db.any()
    for powers in (None, Powers(Told.GIVEN, 7.0, "antenna", 0.0, level_dbm)):
        off_db, difference_db = evidence.power(labelled, powers, 3.0)
        assert difference_db == 3.0 and (off_db == 3.0 * labelled.is_a).all()
        off_db, difference_db = evidence.power(labelled, powers, None)
        assert difference_db is None and not off_db.any()


def test_bands_and_modes_are_told_apart_and_rows_without_a_mode_are_of_one():
    spots = pd.DataFrame(
        {"band": ["20m", "40m", "20m", "20m", "40m", "20m"], "mode": ["FT8", "FT8", "CW", None, None, None]}
    )
    channel, mode = evidence.channels(spots)
    assert len(set(channel)) == 5 and channel[3] == channel[5] and len(set(mode)) == 3
    assert mode[0] == mode[1] and mode[3] == mode[4] == mode[5]
    alone, none = evidence.channels(spots.drop(columns="mode"))
    assert alone.tolist() == [0, 1, 0, 0, 1, 0] and not none.any()


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0.0, "2026-05-16T00:00:00Z"),
        (61.5, "2026-05-16T01:01:30Z"),
        (1.0 - 1e-9, "2026-05-16T00:01:00Z"),
        (1440.0, "2026-05-17T00:00:00Z"),
    ],
)
def test_moments_are_told_to_the_second_however_minutes_were_rounded(minutes, text):
    assert evidence.iso(pd.Timestamp("2026-05-16", tz="UTC").value // 1000, minutes) == text


def test_receivers_are_named_by_what_they_heard_in_order_of_the_text():
    def one(call: str, heard: str) -> Receiver:
        return Receiver(call, "IO91", "IO91wm", heard, 1, 1, 0, 0.0)

    rows = (one("M2QRA", "a"), one("G1QRA", "a"), one("G4QRB", "b"), one("G4QRA", "both"), one("G0QRA", "both"))
    assert evidence.heard(rows) == Heard(("G1QRA IO91", "M2QRA IO91"), ("G4QRB IO91",), ("G0QRA IO91", "G4QRA IO91"))


def test_of_receivers_without_weight_those_with_more_pairs_come_first_then_by_name():
    reports = sorted_reports([0, 2, 4, 6], [1, 0, 1, 0], receiver=[2, 1, 0, 0])
    who = pd.DataFrame({"rx_call": ["M1QRA", "G1QRA", "G1QRA"], "square": ["IO91", "IO92", "IO91"], "rx_locator": "IO91wm", "trust": None,
                        **dict.fromkeys(evidence.PLACE, np.nan)})  # fmt: skip
    rows = evidence.by_receiver(reports, who, None)
    assert [(r.rx_call, r.square, r.heard, r.reports_a, r.reports_b) for r in rows] == [
        ("G1QRA", "IO91", "a", 1, 0), ("G1QRA", "IO92", "b", 0, 1), ("M1QRA", "IO91", "both", 1, 1),
    ]  # fmt: skip


def test_numbers_for_json_are_told_to_a_millionth():
    assert plain({"a": (0.123456789, float("nan"), float("inf"), -float("inf"), 3, None, "x")}) == {
        "a": [0.123457, None, None, None, 3, None, "x"]
    }


@pytest.mark.parametrize("together", [False, True])
def test_the_share_with_a_partner_is_that_of_a_search_by_hand(together):
    rng = np.random.default_rng(6)
    for _ in range(20):
        n = int(rng.integers(2, 30))
        time, is_a, who = rng.integers(0, 60, n), rng.random(n) < 0.5, rng.integers(0, 3, n)
        is_a[:2] = True, False
        made = sorted_reports(time, is_a, receiver=who)
        within_min = 0.0 if together else 5.0
        apart = np.abs(made.time_min[:, None] - made.time_min)
        partner = (apart <= within_min) & (made.unit[:, None] == made.unit) & (made.is_a[:, None] != made.is_a)
        assert design.overlap(made, within_min) == pytest.approx(partner.any(axis=1).mean())


@pytest.mark.parametrize("wrong", ["ZZ99", None])
def test_receivers_of_a_station_whose_locator_is_none_have_no_distance(wrong):
    spots = pd.DataFrame({"rx_call": ["G4QRA"], "rx_locator": ["IO91wm"], "tx_locator": [wrong]})
    _, who = evidence.receivers(spots)
    assert who["rx_locator"].tolist() == ["IO91wm"] and who[["distance_km", "bearing_deg"]].isna().all(axis=None)
    _, known = evidence.receivers(spots.assign(rx_lon_deg=1.0, rx_lat_deg=2.0, distance_km=3.0, bearing_deg=4.0))
    assert known[list(evidence.PLACE)].to_numpy().tolist() == [[1.0, 2.0, 3.0, 4.0]]


@pytest.mark.parametrize(("usual", "other"), [("IO51es", "JN58td"), ("JN58td", "IO51es")])
def test_a_receiver_is_as_far_away_as_from_where_the_station_was_heard_most(usual, other):
    spots = pd.DataFrame(
        {
            "rx_call": "G4QRA",
            "rx_locator": "IO91wm",
            "tx_locator": [usual, other, usual],
            "distance_km": [1.0, 2.0, 1.0],
        }
    )
    _, who = evidence.receivers(spots)
    assert who["distance_km"].tolist() == [1.0]

"""Columns of one file: roles, margins, units, and what is asked."""

import numpy as np
import pytest

from reach.base.ways import Medium
from reach.read import columns, roles
from reach.read.profile import profiles
from reach.read.roles import Own
from reach.read.understood import ASSUMED, CONFIRMED, PLAIN, TOLD

CALLS = ["DL2QTB", "OH3QRC", "EA5QUD", "JA7QTE", "K4QSF", "VK3QUG", "F6QTA", "SM5QRD"]
PLACES = ["JN58td", "KP11ub", "IM98jx", "QM08ab", "FM05qc", "QF22ma", "JN18eu", "JO89xi"]
SNR = [-12, -19, -7, -26, -22, -25, -3, -16]


def table(n=40):
    """Rows of a plain export: time, call, locator, snr, MHz."""
    return [
        [
            f"2026-09-12 {10 + k // 30}:{2 * k % 60:02}",
            CALLS[k % 8],
            PLACES[k % 8],
            str(SNR[k % 8] - k % 3),
            f"14.0871{k % 7}",
        ]
        for k in range(n)
    ]


def understand(names, rows, **options):
    return columns.understand(profiles(names, rows), source="a.csv", headed=any(names), **options)


def roles_of(found):
    return {column.role: column.at for column in found.columns}


def test_values_alone_tell():
    found = understand([""] * 5, table())
    assert not found.questions
    assert roles_of(found) == {"datetime": 0, "rx_call": 1, "rx_locator": 2, "snr": 3, "freq": 4}
    assert {column.sure for column in found.columns} <= {TOLD, ASSUMED}


def test_the_order_of_columns_does_not_matter():
    rows = table()
    wanted = {"datetime", "rx_call", "rx_locator", "snr", "freq"}
    for order in ([4, 3, 2, 1, 0], [2, 0, 4, 1, 3], [3, 4, 0, 2, 1]):
        found = understand([""] * 5, [[row[k] for k in order] for row in rows])
        names = ("datetime", "rx_call", "rx_locator", "snr", "freq")
        assert roles_of(found) == {names[k]: at for at, k in enumerate(order)} and set(roles_of(found)) == wanted


def test_plain_headers_are_plain():
    found = understand(["Time", "Callsign", "Locator", "SNR", "MHz"], table())
    assert {column.sure for column in found.columns} == {PLAIN} and not found.assumptions


def test_a_header_that_lies_is_no_match_for_values():
    found = understand(["SNR", "Callsign", "Locator", "Time", "MHz"], table())
    assert found.questions or roles_of(found)["snr"] == 3


def test_what_the_user_says_goes_before_everything():
    rows = [[*row, str(-5 - k % 9)] for k, row in enumerate(table())]
    names = ["Time", "Callsign", "Locator", "SNR", "MHz", "Other"]
    found = understand(names, rows, chosen={"snr_db": 5})
    assert roles_of(found)["snr"] == 5
    assert next(column.sure for column in found.columns if column.role == "snr") == CONFIRMED


def test_two_that_could_be_the_snr_are_asked_about_in_the_words_of_the_file():
    rows = [[*row, str(-8 - k * 5 % 13)] for k, row in enumerate(table())]
    (question,) = understand(["When", "Who", "Where", "x", "MHz", "y"], rows).questions
    assert question.code == "close" and {choice.name for choice in question.choices} == {"x", "y"}
    assert "--column snr=x" in (said := question.said(Medium.OPTION)) and "whole numbers from -28 to -3" in said


def test_two_that_say_the_same_are_not_asked_about():
    rows = [[row[0], row[0][:16].replace(" ", "T"), *row[1:]] for row in table()]
    assert not understand(["Time", "UTC", "Call", "Grid", "SNR", "MHz"], rows).questions


def test_all_that_is_missing_is_asked_at_once():
    rows = [[row[0], row[1], "x"] for row in table()]
    codes = [(q.code, q.values["role"]) for q in understand(["Time", "Call", "Remarks"], rows).questions]
    assert codes == [("missing", "rx_locator"), ("missing", "snr"), ("missing", "band")]


def test_own_places_only():
    rows = [[row[0], row[1], "IO51es", row[3], row[4]] for row in table()]
    found = understand(["Time", "Call", "My locator", "SNR", "MHz"], rows, own=Own("EI4QRA", "IO51es"))
    assert [q.code for q in found.questions] == ["own-places"]
    assert "always IO51es" in found.questions[0].sentence()


@pytest.mark.parametrize(("cell", "holds"), [("58JNtd", "such as"), ("n/a", "always n/a"), ("", "blank")])
@pytest.mark.parametrize("own", [["IO51es"], []], ids=["with its own locator", "without"])
def test_a_column_named_for_locators_that_holds_none_is_told_as_that(cell, holds, own):
    """Not that there is none, nor that the only ones are the station's own: with the way to see what is wrong with each row."""
    rows = [
        [*row[:2], cell[:2] + str(k % 10) + cell[3:] if "JN" in cell else cell, *row[3:], *own]
        for k, row in enumerate(table())
    ]
    found = understand(["Time", "Call", "Grid", "SNR", "MHz", *["My locator"][: len(own)]], rows)
    (question,) = found.questions
    assert question.code == "no-locators"
    said = question.said(Medium.OPTION)
    assert f"'Grid' is called as the receivers' locators are, and no cell of it is one ({holds}" in said
    assert "such as JN58td" in said and said.endswith("say --column locator=Grid.")


def test_readability_and_strength_is_no_snr():
    rows = [[row[0], row[1], row[2], "599", row[4]] for row in table()]
    assert [q.code for q in understand(["Time", "Call", "Grid", "RST", "MHz"], rows).questions] == ["rst"]


def test_a_constant_own_callsign_transmits_unless_the_header_says_it_received():
    rows = [[row[0], "EI4QRA/P", "IO51es", *row[1:]] for row in table()]
    own = Own("EI4QRA", "IO51es")
    found = roles_of(understand(["Time", "A", "B", "C", "D", "SNR", "MHz"], rows, own=own))
    assert (found["tx_call"], found["tx_locator"], found["rx_call"], found["rx_locator"]) == (1, 2, 3, 4)
    names = ["Time", "Receiver", "Receiver grid", "Heard station", "Its grid", "SNR", "MHz"]
    found = roles_of(understand(names, rows, own=own))
    assert (found["rx_call"], found["rx_locator"], found["tx_call"], found["tx_locator"]) == (1, 2, 3, 4)


def test_a_locator_goes_with_its_callsign():
    rng = np.random.default_rng(3)
    others = ["G4QRA", "PA3QTB", "LU6QRH"]
    homes = ["IO91wm", "JO22ab", "GF05rj"]
    rows = []
    for row in table(80):
        k = int(rng.integers(0, 3))
        rows.append([row[0], others[k], row[1], homes[k], row[2], row[3], row[4]])
    found = roles_of(understand(["Time", "Sender", "Receiver", "Grid 1", "Grid 2", "SNR", "MHz"], rows))
    assert (found["tx_locator"], found["rx_locator"]) == (3, 4)


def test_distance_and_bearing_are_never_the_snr():
    rows = [[*row, "1568", "-3"] for row in table()]
    own = Own("EI4QRA", "JN58td")
    places = profiles([""] * 7, rows)
    scores = roles.Scores(places, own).table()
    assert scores[5, roles.ROLES.index("snr")] == roles.ABSENT


def test_a_unit_that_the_header_has_wrong():
    rows = [[*row[:4], f"1408{k % 7}.1"] for k, row in enumerate(table())]
    found = understand(["Time", "Callsign", "Locator", "SNR", "Frequency (MHz)"], rows)
    assert found.place["freq_khz"] == 4
    assert [(a.code, a.values["header"], a.values["read"]) for a in found.assumptions if a.code == "unit"] == [
        ("unit", "mhz", "khz")
    ]


@pytest.mark.parametrize(
    ("cells", "by_mhz"),
    [(["14", "10", "7"], True), (["20", "30", "40"], False), (["10", "20"], False), (["14", "20"], False)],
)
def test_bands_by_megahertz(cells, by_mhz):
    rows = [[*row[:4], cells[k % len(cells)]] for k, row in enumerate(table())]
    assert understand(["Time", "Callsign", "Locator", "SNR", "Band"], rows).band_by_mhz == by_mhz


@pytest.mark.parametrize(
    ("values", "header", "station_w", "unit", "why"),
    [
        ([5], "w", None, "w", "header"),
        ([37], "w", 5.0, "dbm", "station"),  # a header that says watts over 37 dBm, which are the station's 5 W
        ([37], "w", None, "w", "header"),
        ([23, 37], "dbm", None, "dbm", "header"),
        ([-3, 10], None, None, "dbm", "negative"),
        ([0.5, 5], None, None, "w", "fractions"),
        ([37], None, 5.0, "dbm", "station"),
        ([5], None, 5.0, "w", "station"),
        ([23, 37], None, None, "dbm", "steps"),
        ([5, 100], None, None, "w", "watts"),
        ([30], None, None, None, ""),
        ([10, 20], None, None, None, ""),
        ([5, 37], None, None, None, ""),
    ],
)
def test_the_unit_of_a_power(values, header, station_w, unit, why):
    assert columns.power_unit(values, header, station_w) == (unit, why)


def test_a_power_that_may_be_either_is_asked_about():
    rows = [[*row, "30"] for row in table()]
    (question,) = understand(["Time", "Callsign", "Locator", "SNR", "MHz", "Power"], rows).questions
    assert (
        question.said(Medium.OPTION)
        == "a.csv: 30 in 'Power' may be 30 W or 1 W (30 dBm); say which with --column power_w=Power or --column power_dbm=Power."
    )
    assert not understand(
        ["Time", "Callsign", "Locator", "SNR", "MHz", "Power"], rows, chosen={"power_dbm": 5}
    ).questions


def test_stations_that_transmitted_and_nobody_who_received():
    names, own = ["Time", "Sent by", "Its grid", "SNR", "MHz"], Own("EI4QRA", "IO51es")
    (question,) = understand(names, table(), own=own).questions
    assert question.code == "who-received"
    assert "say so with --heard" in (said := question.said(Medium.OPTION)) and "--column callsign='Sent by'" in said
    found = understand(names, table(), own=own, heard=True)
    assert not found.questions and found.constants == {"rx_call": "EI4QRA", "rx_locator": "IO51es"}
    assert (found.place["tx_call"], found.place["tx_locator"]) == (1, 2)


def test_a_list_of_what_was_heard_names_the_place_of_the_others_only():
    rows = [[*row, "EI4QRA"] for row in table()]
    found = understand(["UTC", "Station", "Grid", "dB", "MHz", "Receiver"], rows, own=Own("EI4QRA", "IO51es"))
    assert not found.questions and found.constants == {"rx_locator": "IO51es"}
    assert (found.place["tx_call"], found.place["tx_locator"], found.place["rx_call"]) == (1, 2, 5)


def test_mine_and_dx_do_not_say_who_transmitted():
    rows = [[row[0], "EI4QRA", "IO51es", *row[1:]] for row in table()]
    found = roles_of(understand(["Time", "My call", "My grid", "DX call", "DX grid", "SNR", "MHz"], rows))
    assert (found["tx_call"], found["tx_locator"], found["rx_call"], found["rx_locator"]) == (1, 2, 3, 4)
    turned = [[row[0], row[3], row[4], "DL9QRA", "JO62aa", *row[5:]] for row in rows]
    found = roles_of(understand(["Time", "DX call", "DX grid", "Spotter", "Spotter grid", "SNR", "MHz"], turned))
    assert (found["tx_call"], found["rx_call"]) == (1, 3)  # beside a reporter the DX is who was heard

"""What a callsign says about where its station may be."""

import csv
import io
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach import data
from reach.base import callsigns


def administration(call: str) -> str:
    return callsigns.administrations([call])[0]


@pytest.mark.parametrize(
    ("call", "code"),
    [
        ("DL1QRA", "DE"),  # two characters decide
        ("EI4QTB", "IE"),
        ("F5QRB", "FR"),  # one decides (RR 19.50.1)
        ("G3QRC", "GB"),
        ("2E0QRD", "GB"),
        ("R1QRD", "RU"),
        ("W1QUA", "US"),
        ("AA1QUB", "US"),
        ("AM1QUB", "ES"),  # AMA to AOZ, inside the letter A
        ("9A1QUC", "HR"),
        ("A41QUC", "OM"),
        ("T30QR", "KI"),
        ("3D2QR", "FJ"),  # the half series 3D
        ("3DA0QR", "SZ"),
        ("3DN2QR", "FJ"),
        ("SSA1QR", "EG"),  # the half series SS
        ("STA1QR", ""),  # three letters are no prefix outside a half series
        ("PJ2QR", "NL"),  # territories belong to their administration
        ("P41QR", "NL"),
        ("E51QR", "NZ"),
        ("VR2QR", "CN"),
        ("BV2QR", "CN"),
        ("OX3QR", "DK"),
        ("VP8QR", "GB"),
        ("Z61QR", "XK"),  # in use, though not in the ITU's table
        ("1A0QR", "IT"),
        ("ei4qtb", "IE"),
        (" EI4QTB ", "IE"),
        ("EI4QTB-2", "IE"),
    ],
)
def test_the_prefix_names_the_administration(call, code):
    assert administration(call) == code


@pytest.mark.parametrize(
    ("call", "code"),
    [
        ("EI4QTB/P", "IE"),
        ("EI4QTB/M", "IE"),
        ("EI4QTB/A", "IE"),
        ("EI4QTB/QRP", "IE"),
        ("EI4QTB/7", "IE"),
        ("F/EI4QTB", "FR"),
        ("F/EI4QTB/P", "FR"),
        ("M/EI4QTB", "GB"),  # a prefix in front, an ending behind
        ("VP9/EI4QTB", "GB"),
        ("EI4QTB/VP9", "GB"),  # old style
        ("EI4QTB/W4", "US"),
        ("HB0/EI4QTB", "CH"),
        ("W1QUA/KH6", "US"),
        ("EI4QTB/F", ""),  # France or a word of the owner's: either is accepted
        ("EI4QTB/DL1QRA", ""),
        ("EI4QTB/ATTIC", ""),
        ("EI4QTB/MM", ""),
        ("EI4QTB/AM", ""),
        ("F/EI4QTB/MM", ""),
        ("4U1QR", ""),
        ("C7QR", ""),
        ("DP0QR", ""),
    ],
)
def test_prefixes_in_front_and_endings(call, code):
    assert administration(call) == code


def test_where_it_is_unclear_both_places_are_accepted():
    origin = callsigns.origin("EI4QTB/F")
    assert origin.administrations == ("IE", "FR")
    assert {"IE", "FR", "NC"} <= origin.places


@pytest.mark.parametrize(
    "text", ["SWL123", "DE12345", "F-12345", "F59706", "BRS12345", "IO51ES", "RX1", "COTTAGE", "", "/", "Q1QRA", "-"]
)
def test_identifiers_of_listeners_say_nothing(text):
    assert callsigns.origin(text).places == frozenset()


@pytest.mark.parametrize(
    "series", ["Q", "0A", "1C", "4N", "YZ", "E8", "H5", "J9", "O2", "S4", "T9", "U2", "V9", "X2", "Z9"]
)
def test_series_that_nobody_holds_say_nothing(series):
    assert callsigns.origin(series + "1QRA").places == frozenset()


def test_endings_tell_how_a_station_travels():
    flags = {
        call: (o.roams, o.afloat)
        for call in ("EI4QTB", "EI4QTB/P", "EI4QTB/MM", "F/EI4QTB", "EI4QTB/QRP", "EI4QTB/5")
        for o in callsigns.origins([call])
    }
    assert flags == {
        "EI4QTB": (False, False),
        "EI4QTB/P": (True, False),
        "EI4QTB/MM": (True, True),
        "F/EI4QTB": (True, False),
        "EI4QTB/QRP": (False, False),
        "EI4QTB/5": (False, False),
    }


def test_territories_count_but_not_the_country_around_a_base():
    assert {"PR", "GU"} <= callsigns.origin("W1QUA").places
    assert "CU" not in callsigns.origin("W1QUA").places
    assert "CY" not in callsigns.origin("G3QRC").places
    assert {"RE", "GF", "NC"} <= callsigns.origin("F5QRB").places
    assert "EH" in callsigns.origin("CN8QR").places


def test_antarctica_is_only_for_callsigns_of_bases():
    (row,) = (
        each
        for each in csv.DictReader(io.StringIO(data.read_text("call_territories.csv")))
        if each["territory"] == "US Antarctic bases"
    )
    bounds = [f"KC4{end}" for end in re.findall(r"[A-Z]{3}(?=-|,|$)", row["call_pattern"])]  # "KC4AAA-AAF, KC4USA-USZ"
    assert len(bounds) == 4
    antarctic = [*bounds, "VP8QR", "FT4YQ", "3Y0QR", "RI1ANQ", "VK0QR", "ZL5QR", "LU1ZQ", "ZS7QR", "OR4QR"]
    assert all("AQ" in o.places for o in callsigns.origins(antarctic))
    assert not any("AQ" in o.places for o in callsigns.origins(["W1QUA", "KC4QUA", "DL1QRA", "LU1QRA", "F5QRB"]))


def test_every_range_of_the_table_is_understood():
    """First and last prefix of each of the 310 ranges lead to the range's own administration."""
    for row in callsigns._rows("itu_call_series.csv"):
        wanted = callsigns._parents().get(row["iso3166_alpha2"], row["iso3166_alpha2"])
        for prefix in (row["first_prefix"], row["last_prefix"]):
            if not row["iso3166_alpha2"]:
                assert callsigns._administration(prefix) is None
            elif prefix[0] in callsigns._ONE_DECIDES or prefix[:2] in callsigns._THREE_DECIDE:
                assert callsigns._administration(prefix) == wanted
            else:
                assert administration(prefix[:2] + "5QRA") in ({wanted} if prefix[:2] != "DP" else {wanted, ""})


@given(st.text(max_size=14))
def test_no_text_upsets_it(text):
    origin = callsigns.origin(text)
    assert bool(origin.places) == bool(origin.administrations)

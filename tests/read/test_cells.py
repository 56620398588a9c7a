"""One cell: numbers with marks and units, locators, callsigns, bands; and header words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.read import cells, lexicon


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("-12", -12, ""),
        ("\u221212 dB", -12, "db"),
        ("-12,5", -12.5, ""),
        ("14.087,1", 14087.1, ""),
        ("14,087.1", 14087.1, ""),
        ("14.087.100", 14087100, ""),
        ("14 087 100", 14087100, ""),
        ("14'087", 14087, ""),
        ("14\u00a0087,10 кГц", 14087.1, "khz"),
        ("14.087", 14.087, ""),
        ("14.087 Hz", 14087, "hz"),
        ("1.234 km", 1234, "km"),
        ("1,234 MHz", 1.234, "mhz"),
        ("0.500 km", 0.5, "km"),
        ("5W", 5, "w"),
        ("37 dBm", 37, "dbm"),
        ("１２", 12, ""),
        ("1.4087E+07", 14087000, ""),
        ('="-12"', -12, ""),
        ("'-12", -12, ""),
    ],
)
def test_numbers(text, value, unit):
    said = cells.number(cells.tidy(text))
    assert (said.value, said.unit) == (pytest.approx(value), unit)


@pytest.mark.parametrize("text", ["", "-", "12:30", "JN58td", "1.2.3", "12 34", "1,2,3", "5 apples", "1.234,5.6"])
def test_what_is_no_number(text):
    assert cells.number(cells.tidy(text)) is None


@given(st.floats(-60, 60).map(lambda x: round(x, 2)), st.sampled_from([".", ","]), st.sampled_from(["", " dB", "dB"]))
def test_any_snr_is_read_in_either_decimal(value, mark, unit):
    assert cells.number(cells.tidy(f"{value:.2f}".replace(".", mark) + unit)).value == value


@pytest.mark.parametrize(
    ("text", "name"),
    [("20m", "20m"), ("20 m", "20m"), ("70 cm", "70cm"), ("14 MHz", "20m"), ("20 mètres", "20m"), ("20 м", "20m"),
     ("7.04 MHz", "40m"), ("19m", None), ("20", None), ("JN58td", None)],
)  # fmt: skip
def test_bands(text, name):
    assert cells.band(cells.tidy(text)) == name


def test_a_locator_is_no_callsign():
    assert cells.is_locator("JN58td") and not cells.is_callsign("JN58td")
    assert cells.is_callsign("F/EI4QTB/P") and not cells.is_callsign("14.0871") and not cells.is_callsign("20m")


@pytest.mark.parametrize(
    ("header", "kinds"),
    [
        ("Heard by", {"rx"}),
        ("Reported by", {"rx"}),  # and not how strong it was
        ("Report (dB)", {"snr"}),
        ("rxCall", {"rx", "call"}),
        ("Empfängerrufzeichen", {"rx", "call"}),
        ("Znak odbierającego", {"call", "rx"}),
        ("受信局グリッド", {"rx", "locator"}),
        ("Fréquence (MHz)", {"freq"}),
        ("FREQUENCE", {"freq"}),
        ("c7", set()),
    ],
)
def test_words_lean(header, kinds):
    assert set(lexicon.leanings(header)) == kinds
    assert all(0 < weight <= 1 for weight in lexicon.leanings(header).values())


@pytest.mark.parametrize(
    ("header", "units"),
    [("QRG (kHz)", {"khz"}), ("freqMHz", {"mhz"}), ("Azimut °", {"deg"}), ("Мощность, Вт", {"w"}), ("Band", set())],
)
def test_units_of_headers(header, units):
    assert lexicon.units(header) == units


def test_every_month_of_every_language_is_one_month():
    assert lexicon.month("Sept.") == 9 and lexicon.month("mrt") == 3 and lexicon.month("październik") == 10
    assert lexicon.month("ΜΑΡ") == 3 and lexicon.month("juillet") == 7 and lexicon.month("foo") is None

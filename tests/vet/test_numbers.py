"""Texts of numbers: SNR, frequency, power."""

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base.vocabulary import Words
from reach.vet import cells


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("-12", -12),
        ("+3", 3),
        ("3", 3),
        ("0", 0),
        ("-0", 0),
        ("-12 dB", -12),
        ("-12dB", -12),
        (" -12  DB ", -12),
        ("-12,5", -12.5),
        ("-12.5", -12.5),
        ("-.5", -0.5),
        ("\u221212", -12),
        ("\u201312", -12),
        ("- 12", -12),
        ("-60", -60),
        ("60.0", 60),
    ],
)
def test_snr(text, value):
    assert cells.snr_db(text) == (value, None)


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "snr-blank"),
        ("  ", "snr-blank"),
        ("n/a", "snr-unreadable"),
        ("strong", "snr-unreadable"),
        ("-12 W", "snr-unreadable"),
        ("-12 -13", "snr-unreadable"),
        ("1-2", "snr-unreadable"),
        ("nan", "snr-unreadable"),
        ("inf", "snr-unreadable"),
        ("--12", "snr-unreadable"),
        ("1,234.5", "snr-unreadable"),
        ("\u0661\u0662", "snr-unreadable"),
        ("-60.1", "snr-range"),
        ("61", "snr-range"),
        ("-116", "snr-range"),
        ("599", "snr-range"),
        ("1e9", "snr-range"),
    ],
)
def test_no_snr(text, rule):
    value, finding = cells.snr_db(text)
    assert math.isnan(value)
    assert (finding.rule, finding.severity) == (rule, "rejected")


def test_an_rst_report_is_recognised_for_what_it_is():
    assert cells.snr_db("599")[1].detail == "report"
    assert cells.snr_db("-116")[1].detail == ""


@given(st.floats(-60, 60).map(lambda v: round(v, 2)), st.sampled_from(["{}", "{} dB", " {}dB", "{:+}"]))
def test_snr_comes_back(value, form):
    for text in (form.format(value), form.format(value).replace(".", ","), form.format(value).replace("-", "\u2212")):
        assert cells.snr_db(text) == (value, None)


@given(st.text(max_size=12))
def test_any_text_is_a_number_in_range_or_has_a_reason(text):
    value, finding = cells.snr_db(text)
    assert (finding is None) == (-60 <= value <= 60)
    assert (cells.frequency_mhz(text, "mhz") or 1) > 0
    power, note = cells.power_w(text, "w")
    assert math.isnan(power) or (0 < power <= 100_000 and note is None)


@pytest.mark.parametrize(
    ("text", "unit", "mhz"),
    [
        ("14.0437", "mhz", 14.0437),
        ("14,0437", "mhz", 14.0437),
        ("14043.7", "khz", 14.0437),
        ("14043700", "hz", 14.0437),
        ("14.0437 MHz", "khz", 14.0437),
        ("14043700 Hz", "mhz", 14.0437),
        ("1.40437e7", "hz", 14.0437),
        ("0.4755", "mhz", 0.4755),
        ("0", "mhz", None),
        ("-14", "mhz", None),
        ("14 m", "mhz", None),
        ("twenty", "mhz", None),
    ],
)
def test_frequency(text, unit, mhz):
    assert cells.frequency_mhz(text, unit) == mhz


@pytest.mark.parametrize(
    ("text", "unit", "watt"),
    [
        ("5", "w", 5),
        ("5 W", "mw", 5),
        ("5W", "dbm", 5),
        ("0,5", "w", 0.5),
        ("500", "mw", 0.5),
        ("500 mW", "w", 0.5),
        ("1.5 kW", "w", 1500),
        ("30", "dbm", 1),
        ("100 kW", "w", 100_000),
        ("0", "dbm", 0.001),
        ("37 dBm", "w", 5.0119),  # 10^0.7, by the definition of the decibel
    ],
)
def test_power(text, unit, watt):
    value, note = cells.power_w(text, unit)
    assert value == pytest.approx(watt, rel=1e-4)
    assert note is None


@pytest.mark.parametrize(
    ("text", "unit", "rule"),
    [
        ("QRP", "w", "power-unreadable"),
        ("5 A", "w", "power-unreadable"),
        ("0", "w", "power-range"),
        ("-5", "w", "power-range"),
        ("1e9", "w", "power-range"),
        ("100001", "w", "power-range"),
        ("500", "dbm", "power-range"),
        ("-1e9", "dbm", "power-range"),
    ],
)
def test_a_power_that_is_none_is_a_note_and_unknown(text, unit, rule):
    value, note = cells.power_w(text, unit)
    assert math.isnan(value)
    assert (note.rule, note.severity) == (rule, "note")


def test_a_blank_power_says_nothing():
    value, note = cells.power_w("  ", "w")
    assert math.isnan(value)
    assert note is None


def test_plain_numbers_at_once():
    texts = ["14.5", "+3", "-2", "", "1,5", "1e3", " 4", "x", "123456789012345678"]
    found = cells.plain(Words(np.zeros(0, dtype=np.int8), pd.Index(texts, dtype="str")))
    np.testing.assert_array_equal(found, [14.5, 3, -2] + [np.nan] * 6)

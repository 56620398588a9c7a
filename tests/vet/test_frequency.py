"""Band and frequency: names, units, magnitude, contradictions."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import bands
from reach.study import Options
from tests.vet.rows import judged, said
from tests.vet.rows import words as told


def band_and_mhz(row, **more):
    spots = judged({"band": "", **row}, **more).spots
    return (spots["band"].iloc[0], spots["freq_mhz"].iloc[0]) if len(spots) else None


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("20m", "20m"),
        ("20 M", "20m"),
        ("20 metres", "20m"),
        ("20 meter band", "20m"),
        ("20", "20m"),
        ("020", "20m"),
        ("2200", "2200m"),
        ("23cm", "23cm"),
        ("70cm", "70cm"),
        ("70 CM", "70cm"),
        ("14 MHz", "20m"),
        ("14", "20m"),
        ("5", "60m"),
        ("5.1", "60m"),
        ("7", "40m"),
        ("10", "10m"),  # a wavelength where there is such a band
        ("10 MHz", "30m"),
        ("3.5", "80m"),
        ("1,8 MHz", "160m"),
        ("14.0437", "20m"),
        ("7028 kHz", "40m"),
        ("144", "2m"),
        ("28", "10m"),
        ("50", "6m"),
    ],
)
def test_names_of_bands(text, band):
    assert band_and_mhz({"band": text})[0] == band


@pytest.mark.parametrize("text", ["13cm", "11m", "27", "999", "dx", "0", "20 km", "-20m", "1", "3"])
def test_no_such_band(text):
    assert said(judged({"band": text})) == [(2, "band-unreadable", "rejected")]


@pytest.mark.parametrize(
    ("column", "text", "band", "mhz"),
    [
        ("freq_mhz", "14.0437", "20m", 14.0437),
        ("freq_mhz", "14,0437", "20m", 14.0437),
        ("freq_khz", "14043.7", "20m", 14.0437),
        ("freq_hz", "14043700", "20m", 14.0437),
        ("freq_hz", "14.0437 MHz", "20m", 14.0437),
        ("freq", "14.0437", "20m", 14.0437),
        ("freq", "14043.7", "20m", 14.0437),
        ("freq", "14043,7", "20m", 14.0437),
        ("freq", "14043700", "20m", 14.0437),
        ("freq", "137.5", "2200m", 0.1375),
        ("freq", "475", "630m", 0.475),
        ("freq", "144.3217", "2m", 144.3217),
        ("freq", "14043.7 kHz", "20m", 14.0437),
    ],
)
def test_frequencies(column, text, band, mhz):
    assert band_and_mhz({column: text}) == (band, mhz)


def test_a_number_of_three_hundred_digits_is_no_frequency_and_no_warning():
    """Rounded to a thousandth of a hertz it would pass what a float holds. Warnings are errors here."""
    table = judged({"band": "", "freq": "9" * 303})
    assert len(table.spots) == 0 and table.counts.rejected == 1


@given(st.sampled_from([b for b in bands.allocations() if b.regions]), st.floats(0, 1))
def test_a_frequency_without_a_unit_is_the_same_in_hz_khz_and_mhz(band, at):
    """Exact for whole hertz, whatever the unit; and no number names two bands."""
    hz = round((band.lower_mhz + at * (band.upper_mhz - band.lower_mhz)) * 1e6)
    texts = (f"{hz}", f"{hz / 1e3:.3f}", f"{hz / 1e6:.6f}")
    spots = judged(*({"band": "", "freq": text, "rx_call": f"TESTER-{k}"} for k, text in enumerate(texts))).spots
    assert list(zip(spots["band"], spots["freq_mhz"], strict=True)) == [(band.name, round(hz * 1e-6, 6))] * 3, texts


@pytest.mark.parametrize(
    ("row", "rule", "severity", "words"),
    [
        ({}, "band-blank", "rejected", "Neither"),
        ({"freq_mhz": "x"}, "frequency-unreadable", "rejected", "'x' MHz is no frequency"),
        ({"freq_mhz": "-7"}, "frequency-unreadable", "rejected", "'-7' MHz is no frequency"),
        ({"freq_mhz": "0"}, "frequency-unreadable", "rejected", "'0' MHz is no frequency"),
        (
            {"freq_mhz": "12.3"},
            "frequency-outside-bands",
            "rejected",
            "'12.3' MHz is in no international amateur band.",
        ),
        ({"freq_mhz": "14043"}, "frequency-outside-bands", "rejected", "in kHz it would be on 20m"),
        # A unit in the header or in the cell is taken at its word, a decimal comma or not.
        ({"freq_mhz": "14043,7"}, "frequency-outside-bands", "rejected", "'14043,7' MHz"),
        ({"freq": "7,028 GHz"}, "frequency-outside-bands", "rejected", "'7,028 GHz'"),
        ({"freq": "12300"}, "frequency-outside-bands", "rejected", "'12300'"),
        ({"freq_khz": "7028000"}, "frequency-outside-bands", "rejected", "in Hz it would be on 40m"),
        ({"band": "20m", "freq_mhz": "x"}, "frequency-unreadable", "note", "kept for its band '20m'"),
        ({"band": "x", "freq_mhz": "14.1"}, "band-unreadable", "note", "kept for its frequency '14.1' MHz"),
        (
            {"band": "20m", "freq_mhz": "7.04"},
            "band-frequency",
            "rejected",
            "'20m' and the frequency '7.04' MHz contradict",
        ),
        ({"band": "20m", "freq_mhz": "14.4"}, "band-frequency", "rejected", "contradict"),
    ],
)
def test_what_is_said(row, rule, severity, words):
    vetted = judged({"band": "", **row})
    assert said(vetted) == [(2, rule, severity)]
    assert words in told(vetted)[0]
    assert len(vetted.spots) == (severity == "note")


@pytest.mark.parametrize(
    ("row", "found"),
    [
        ({"freq_khz": "137.5"}, None),
        ({"band": "2200m", "freq_khz": "137.5"}, None),
        ({"band": "2200m", "freq_khz": "x"}, ("frequency-unreadable", "note")),
        ({"band": "x", "freq_khz": "137.5"}, ("band-unreadable", "note")),
        ({"band": "20m", "freq_khz": "137.5"}, ("band-frequency", "rejected")),
        ({"band": "2200m", "freq_khz": "14100"}, ("band-frequency", "rejected")),
        ({"band": "2200m", "freq_khz": "12300"}, ("band-frequency", "rejected")),
    ],
)
def test_the_first_band_counts_as_the_others_do(row, found):
    assert bands.names()[0] == "2200m"
    vetted = judged({"band": "", **row})
    assert said(vetted) == ([(2, *found)] if found else [])
    assert list(vetted.spots["band"]) == ([] if found and found[1] == "rejected" else ["2200m"])


def test_band_and_frequency_that_agree():
    assert band_and_mhz({"band": "20m", "freq_mhz": "14.0437"}) == ("20m", 14.0437)
    assert said(judged({"freq_mhz": "14.0437"})) == []


@pytest.mark.parametrize(
    ("mhz", "region", "words"),
    [
        (
            "7.25",
            1,
            "7.25 MHz is outside the international 40m band of ITU region 1 (7 to 7.2 MHz there); it counts as 40m all the same.",
        ),
        ("7.25", 2, None),
        ("5.2613", 1, "5.2613 MHz is outside the international 60m band of ITU region 1 (5.3515 to 5.3665 MHz there)"),
        ("70.2", 1, "70.2 MHz is on 4m, which is no international band of ITU region 1;"),
    ],
)
def test_a_band_of_another_region_is_a_note(mhz, region, words):
    vetted = judged({"band": "", "freq_mhz": mhz}, options=Options(itu_region=region))
    assert len(vetted.spots) == 1
    assert said(vetted) == ([(2, "frequency-other-region", "note")] if words else [])
    if words:
        assert words in told(vetted)[0]


def test_files_with_other_units_in_one_table():
    rows = [{"freq_mhz": "14.0437"}, {"freq_khz": "7028.7"}, {"freq": "10122300"}, {"band": "80m"}, {"freq_mhz": "x"}]
    vetted = judged(*({"band": ""} | row for row in rows))
    assert vetted.spots["band"].tolist() == ["20m", "40m", "30m", "80m"]
    np.testing.assert_array_equal(vetted.spots["freq_mhz"], [14.0437, 7.0287, 10.1223, np.nan])
    assert said(vetted) == [(6, "frequency-unreadable", "rejected")]

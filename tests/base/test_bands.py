"""Bands by frequency and region.

Edges: Radio Regulations Article 5 as printed on the IARU Region 1 site (80 m by region, 40 m to 7200 kHz) and the
table's own notes; the test types them again, so that a slip in the file shows.
"""

import itertools

import numpy as np
import pytest

from reach.base import bands


@pytest.mark.parametrize(
    ("mhz", "region", "name"),
    [
        (0.1365, 1, "2200m"),
        (1.8213, 1, "160m"),
        (1.9, 1, None),
        (1.9, 2, "160m"),
        (3.5, 1, "80m"),
        (3.8, 1, "80m"),
        (3.9, 1, None),
        (3.9, 2, "80m"),
        (3.9, 3, "80m"),
        (5.3572, 1, "60m"),
        (7.0283, 1, "40m"),
        (7.25, 1, None),
        (7.25, 2, "40m"),
        (10.1223, 3, "30m"),
        (14.0634, 1, "20m"),
        (14.35, 1, "20m"),
        (14.3500001, 1, None),
        (28.0613, 2, "10m"),
        (50.1437, 1, "6m"),
        (53.0, 1, None),
        (144.3217, 1, "2m"),
        (12.3, 1, None),
    ],
)
def test_band_of_a_frequency(mhz, region, name):
    assert bands.band(mhz, region) == name


@pytest.mark.parametrize(
    ("mhz", "name"), [(7.25, "40m"), (5.2613, "60m"), (12.3, None), (0.0, None), (float("nan"), None)]
)
def test_band_somewhere_in_the_world(mhz, name):
    assert bands.band_anywhere(mhz) == name


def test_names_from_long_to_short_waves():
    waves = [bands.wavelength_m(name) for name in bands.names()]
    assert waves == sorted(waves, reverse=True)
    assert {"160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m", "6m"} <= set(bands.names())


def test_no_frequency_has_two_bands():
    """Naming a band does not depend on the region: regions differ in edges, not in names."""
    edges = sorted((b.lower_mhz, b.upper_mhz, b.name) for b in bands.allocations())
    for (_, upper, name), (lower, _, other) in itertools.pairwise(edges):
        assert name == other or upper < lower


def test_a_wavelength_agrees_with_the_frequency():
    """c = 299.792458 m MHz; the names are round, within a fifth."""
    for b in bands.allocations():
        assert bands.wavelength_m(b.name) == pytest.approx(299.792458 / ((b.lower_mhz + b.upper_mhz) / 2), rel=0.2)


def test_edges_and_middle():
    assert bands.edges_mhz("40m", 2) == (7.0, 7.3)
    assert bands.edges_mhz("4m", 1) == (69.9, 70.5)
    assert bands.edges_mhz("13m") is None
    assert bands.middle_mhz("20m") == pytest.approx(14.175)
    assert bands.middle_mhz("13m") is None


@pytest.mark.parametrize("text", ["20", "m", "20 m", "twenty"])
def test_wavelength_refuses(text):
    with pytest.raises(ValueError, match="20m"):
        bands.wavelength_m(text)


@pytest.mark.parametrize("region", [1, 2, 3])
def test_many_frequencies_at_once_are_named_as_one_by_one(region):
    mhz = np.round(np.linspace(0, 150, 30001), 6)
    names = [None if code < 0 else bands.names()[code] for code in bands.codes(mhz, region)]
    assert names == [bands.band(f, region) for f in mhz]
    anywhere = [None if code < 0 else bands.names()[code] for code in bands.codes(mhz)]
    assert anywhere == [bands.band_anywhere(f) for f in mhz]


def test_bands_are_listed_longest_wave_first():
    """By the wave, not by the number or the text: 70 is more than 60, and 70 cm less than 60 m."""
    wanted = ["2200m", "160m", "80m", "60m", "40m", "20m", "2m", "1.25m", "70cm", "23cm", "6mm"]
    assert bands.in_order(["80m", "70cm", "60m", "40m", "23cm"]) == ["80m", "60m", "40m", "70cm", "23cm"]
    for shuffled in (wanted[::-1], sorted(wanted), sorted(wanted, key=len)):
        assert bands.in_order(shuffled) == wanted
    assert bands.in_order(reversed(bands.names())) == list(bands.names())


def test_what_is_no_band_comes_last_and_nothing_twice():
    assert bands.in_order(["other", "20m", "HF", "70cm", "20m", ""]) == ["20m", "70cm", "", "HF", "other"]
    assert bands.in_order([]) == []


@pytest.mark.parametrize(("text", "metres"), [("20m", 20.0), ("1.25m", 1.25), ("70cm", 0.7), ("6mm", 0.006)])
def test_the_unit_of_a_wavelength_is_read(text, metres):
    assert bands.wavelength_m(text) == pytest.approx(metres, rel=1e-12)

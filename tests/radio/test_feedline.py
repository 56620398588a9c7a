"""Feedline losses against published figures, scikit-rf, the exact line and laws."""

import numpy as np
import pytest
import skrf
from hypothesis import assume, given
from hypothesis import strategies as st

from reach.errors import LineError
from reach.radio import feedline, mismatch
from reach.radio.feedline import Line
from tests.radio.line_physics import NEPER_DB, exact_loss_db
from tests.reference import values

FEET_M = 0.3048
KINDS = [each.name for each in feedline.classes()]
KIND = st.sampled_from(KINDS)
MHZ = st.floats(7, 150)
METRES = st.floats(0, 500)
SWR = st.floats(1, 50)

# dB per 100 ft at MHz from sources that the fits were not made from (seen; the first two a licence manual's table
# corrected on its publisher's site, then a radio maker's manual, then a county radio group's table): class, MHz, dB.
WITNESSES = [
    ("RG-58 class", 30, 2.47), ("RG-58 class", 150, 5.63), ("RG-58 class", 50, 3.30), ("RG-58 class", 150, 6.10),
    ("RG-8X class", 30, 1.96), ("RG-8X class", 150, 4.53), ("RG-8 class", 30, 1.08), ("RG-8 class", 150, 2.53),
    ("RG-213 class", 30, 1.08), ("RG-213 class", 150, 2.53), ("RG-213 class", 50, 1.50), ("RG-213 class", 150, 2.70),
    ("low-loss 10 mm class", 30, 0.68), ("low-loss 10 mm class", 150, 1.58), ("low-loss 10 mm class", 50, 0.9),
    ("low-loss 6 mm class", 10, 0.8), ("low-loss 6 mm class", 30, 1.3), ("low-loss 6 mm class", 150, 3.0),
    ("RG-174 class", 30, 4.56), ("RG-174 class", 150, 10.3), ("RG-174 class", 10, 3.3),
]  # fmt: skip
ROUNDING_DB = 0.05  # the county table has one digit


@pytest.mark.parametrize(("kind", "mhz", "db_per_100_ft"), WITNESSES)
def test_other_tables_lie_within_the_spread_that_is_told(kind, mhz, db_per_100_ft):
    found = feedline.find(kind)
    ours = float(found.loss_db_per_100m(mhz)) * FEET_M
    assert ours == pytest.approx(db_per_100_ft, rel=found.spread_percent / 100, abs=ROUNDING_DB)


# The points that the fits were made from, dB per 100 ft at 10 and 100 MHz (a printed handbook table, from memory).
@pytest.mark.parametrize(
    ("kind", "at_10", "at_100"),
    [
        ("RG-58 class", 1.4, 4.9), ("RG-58 solid-core class", 1.1, 3.8), ("RG-8X class", 0.9, 3.2),
        ("RG-8 class", 0.6, 1.9), ("RG-213 class", 0.6, 2.1),
    ],
)  # fmt: skip
def test_the_fit_keeps_its_points(kind, at_10, at_100):
    ours = feedline.find(kind).loss_db_per_100m([10, 100]) * FEET_M
    assert ours == pytest.approx([at_10, at_100], rel=0.05, abs=ROUNDING_DB)


def test_generic_names_only():
    assert {"RG-58 class", "RG-213 class", "low-loss 10 mm class"} <= set(KINDS)
    assert all(name.endswith(" class") for name in KINDS)


@pytest.mark.parametrize("text", ["RG-58 class", "rg58", "RG58 ", "rg-58 CLASS"])
def test_names_are_found_however_they_are_written(text):
    assert feedline.find(text).name == "RG-58 class"


@pytest.mark.parametrize("id", ["1-2", "1-3", "3-2", "3-3", "0.5-5", "2-10"])
def test_published_total_losses(id):
    matched, swr = (float(part) for part in id.split("-"))
    (total,) = values.numbers(f"line-total-{id}")
    assert matched + feedline.extra_loss_db(matched, swr) == pytest.approx(total, abs=0.0001)


def test_scikit_rf_gives_the_same_total_loss_and_swr_at_the_radio():
    """A lossy line of real impedance that ends in a mismatch, cascaded by scikit-rf."""
    rng = np.random.default_rng(7)
    frequency = skrf.Frequency(14.1, 14.1, 1, "mhz")
    for matched, swr in zip(rng.uniform(0.01, 10, 40), rng.uniform(1, 20, 40), strict=True):
        beta = 2 * np.pi / 14.0
        media = skrf.media.DefinedGammaZ0(frequency, z0=50, gamma=matched / NEPER_DB + 1j * beta)
        line = media.line(1, "m")  # a metre with all the loss
        load = mismatch.reflection(swr) * np.exp(1j * rng.uniform(0, 2 * np.pi))
        seen = (line ** media.load(load)).s[0, 0, 0]
        passed = abs(line.s[0, 1, 0]) ** 2 * (1 - abs(load) ** 2)  # matched at 50 ohm, so no wave goes round again
        total = 10 * np.log10((1 - abs(seen) ** 2) / passed)
        assert matched + feedline.extra_loss_db(matched, swr) == pytest.approx(total, abs=1e-9)
        assert mismatch.swr_at_radio(swr, matched) == pytest.approx((1 + abs(seen)) / (1 - abs(seen)), rel=1e-9)


@pytest.mark.parametrize(("load_ohm", "exact"), [(500, 0.056), (5, 0.656)])
def test_how_far_off_a_short_line_can_be(load_ohm, exact):
    """2 m of RG-58 class at 7.1 MHz: the estimate is 0.367 dB for both loads, the truth lies far to either side."""
    line = Line(2, "RG-58 class")
    matched = line.matched_loss_db(7.1)
    total = matched + float(feedline.extra_loss_db(matched, 10))
    truth = exact_loss_db(matched / 2, 7.1, 2, load_ohm + 0j)
    assert total == pytest.approx(0.367, abs=0.0005)
    assert truth == pytest.approx(exact, abs=0.001)
    assert abs(truth - total) <= feedline.extra_loss_swing_db(line, 7.1, 10)


def test_a_long_line_is_within_four_per_cent():
    line = Line(30, "RG-58 class")
    matched = line.matched_loss_db(7.1)
    estimate = matched + float(feedline.extra_loss_db(matched, 10))
    for load_ohm in (500, 5):
        assert exact_loss_db(matched / 30, 7.1, 30, load_ohm + 0j) == pytest.approx(estimate, rel=0.04)


@given(KIND, st.floats(7, 30), st.floats(0.3, 60), st.floats(3, 900), st.floats(-300, 300), st.sampled_from([1.0, 0.7]))
def test_the_exact_loss_lies_within_the_swing(kind, mhz, metres, resistance, reactance, in_conductors):
    swr = float(mismatch.swr_of_impedance(resistance, reactance))
    assume(swr <= 12)
    line = Line(metres, kind)
    matched = line.matched_loss_db(mhz)
    estimate = matched + float(feedline.extra_loss_db(matched, swr))
    load = complex(resistance, reactance)
    truth = exact_loss_db(matched / metres, mhz, metres, load, in_conductors=in_conductors)
    # 1 %: the exact line has a slightly complex impedance, which the SWR on 50 ohm does not know of
    assert abs(truth - estimate) <= feedline.extra_loss_swing_db(line, mhz, swr) + 0.01 * truth


@given(KIND, MHZ, METRES, st.floats(0, 100))
def test_loss_grows_with_length(kind, mhz, metres, more):
    assert Line(metres + more, kind).matched_loss_db(mhz) >= Line(metres, kind).matched_loss_db(mhz) >= 0


@given(KIND, MHZ, MHZ, METRES)
def test_loss_grows_with_frequency(kind, one, other, metres):
    low, high = sorted((one, other))
    assert Line(metres, kind).matched_loss_db(high) >= Line(metres, kind).matched_loss_db(low)


@given(st.floats(0, 30), SWR, SWR)
def test_extra_loss_grows_with_swr(matched, one, other):
    low, high = sorted((one, other))
    assert feedline.extra_loss_db(matched, high) >= feedline.extra_loss_db(matched, low) >= 0


@given(st.floats(0, 30), st.floats(0, 30), SWR)
def test_total_loss_grows_with_matched_loss(one, other, swr):
    low, high = sorted((one, other))
    assert high + feedline.extra_loss_db(high, swr) >= low + feedline.extra_loss_db(low, swr)


@given(st.floats(0, 30))
def test_a_match_costs_nothing_extra(matched):
    assert feedline.extra_loss_db(matched, 1) == 0


def test_own_figure_at_its_frequency_and_scaled():
    line = Line(20, loss_db_per_100m=4.0, loss_at_mhz=10)
    assert line.matched_loss_db(10) == pytest.approx(0.8, rel=1e-12)
    assert line.matched_loss_db(40) == pytest.approx(1.6, rel=1e-12)  # square root of four
    assert line.covers(1) and line.covers(100) and not line.covers(101)


@pytest.mark.parametrize("kind", KINDS)
def test_scaling_by_the_square_root_is_good_to_five_per_cent(kind):
    """What is said of own figures, held against the classes: over a factor of four within HF."""
    found = feedline.find(kind)
    start = np.linspace(max(1.8, found.lowest_mhz), 7.5, 20)
    scaled = found.loss_db_per_100m(start) * 2
    assert scaled == pytest.approx(found.loss_db_per_100m(start * 4), rel=0.055)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: Line(-1, "RG-58 class"), "-1 m cannot be"),
        (lambda: Line(float("nan"), "RG-58 class"), "nan m cannot be"),
        (lambda: Line(10, "RG-59 class"), "no class of cable is called 'RG-59 class'; did you mean 'RG-58 class'"),
        (lambda: Line(10, "spaghetti"), "there are RG-58 class"),
        (lambda: Line(10), "needs a class of cable"),
        (lambda: Line(10, loss_db_per_100m=4), "together with its frequency"),
        (lambda: Line(10, "RG-58 class", 4, 10), "not both"),
        (lambda: Line(10, loss_db_per_100m=-4, loss_at_mhz=10), "a loss is a number"),
        (lambda: Line(10, loss_db_per_100m=4, loss_at_mhz=0), "a frequency of 0 MHz"),
        (lambda: Line(10, "RG-58 class").matched_loss_db(0), "a frequency of 0 MHz"),
        (lambda: Line(10, "RG-58 class").matched_loss_db(432), "432 MHz is outside the table"),
        (lambda: Line(10, "RG-174 class").matched_loss_db(3.6), "from 7 to 150 MHz"),
        (lambda: Line(10, loss_db_per_100m=4, loss_at_mhz=10).matched_loss_db(145), "says nothing about 145 MHz"),
    ],
)
def test_the_impossible_gets_one_sentence(call, names):
    with pytest.raises(LineError, match=names) as caught:
        call()
    assert "\n" not in str(caught.value)

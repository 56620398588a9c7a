"""Starting lengths and trim advice."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import LineError
from reach.radio import trim
from tests.reference import values

MHZ = st.floats(0.1, 1000)


def test_published_quarter_wave():
    free, cut, ratio = values.numbers("qw")
    found = trim.starting_length(7.1)
    assert found.free_quarter_wave_m == pytest.approx(free, abs=0.001)
    assert found.quarter_wave_m == pytest.approx(cut, abs=0.001)
    assert found.quarter_wave_m / found.free_quarter_wave_m == pytest.approx(ratio, abs=0.0001)


def test_a_half_wave_is_two_quarters():
    found = trim.starting_length(14.1)
    assert found.half_wave_m == pytest.approx(2 * found.quarter_wave_m, rel=1e-12)
    assert found.half_wave_m == pytest.approx(468 / 14.1 * 0.3048, rel=1e-12)  # 468 / f feet (common practice)


def test_worked_example():
    """14.150 to 14.050 MHz is 0.7 % longer (common practice)."""
    found = trim.trim(14.150, 14.050, length_m=5.0)
    assert found.change_percent == pytest.approx(0.711, abs=0.001)
    assert found.change_m == pytest.approx(0.0355, abs=0.0001)


def test_too_low_means_shorter():
    found = trim.trim(13.9, 14.1)
    assert found.change_percent == pytest.approx(-1.418, abs=0.001) and found.change_m is None


def test_a_far_resonance_is_doubted():
    assert trim.trim(21.2, 14.1).is_far and trim.trim(14.1, 21.2).is_far
    assert not trim.trim(14.5, 14.1).is_far


@given(MHZ, MHZ)
def test_there_and_back_is_where_it_was(one, other):
    there, back = trim.trim(one, other).change_percent, trim.trim(other, one).change_percent
    assert (1 + there / 100) * (1 + back / 100) == pytest.approx(1, rel=1e-9)


@given(MHZ, st.floats(0.1, 10), st.floats(0.5, 2))
def test_the_trimmed_length_is_resonant_where_wanted(resonant, length, ratio):
    """Length times frequency stays the same."""
    found = trim.trim(resonant, resonant * ratio, length_m=length)
    assert (length + found.change_m) * resonant * ratio == pytest.approx(length * resonant, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "names"),
    [
        (lambda: trim.starting_length(0), "a frequency of 0 MHz"),
        (lambda: trim.trim(-14, 14), "a frequency of -14 MHz"),
        (lambda: trim.trim(14, float("inf")), "a frequency of inf MHz"),
        (lambda: trim.trim(14, 14, length_m=0), "an element of 0 m"),
    ],
)
def test_the_impossible_gets_one_sentence(call, names):
    with pytest.raises(LineError, match=names):
        call()

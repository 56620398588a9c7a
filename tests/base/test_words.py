"""How numbers are written, once for each medium."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base.words import PRINT, TERMINAL, THIN


@pytest.mark.parametrize(
    ("watt", "text"),
    [
        (5, "5 W"), (4.31, "4.3 W"), (4.96, "5 W"), (0.2, "200 mW"), (0.0004, "0.4 mW"), (0.9996, "1 W"),
        (0.9994, "999 mW"), (1500, "1500 W"),
    ],
)  # fmt: skip
def test_a_power(watt, text):
    assert TERMINAL.watt(watt) == text
    assert PRINT.watt(watt) == text.replace(" ", THIN)


@given(st.floats(1e-5, 1500))
def test_no_power_reads_as_none(watt):
    """What is told is within 5 % of what it is; 0.4 mW once read as 0 mW."""
    number, unit = TERMINAL.watt(watt).split(" ")
    assert float(number) * {"W": 1, "mW": 1e-3}[unit] == pytest.approx(watt, rel=0.053)


@pytest.mark.parametrize(("value", "text"), [(14.1, "14.1"), (20.0, "20"), (-8, "-8"), (0.5, "0.5"), (4.5, "4.5")])
def test_a_number_as_it_was_given(value, text):
    assert TERMINAL.plain(value) == text
    assert PRINT.plain(value) == text.replace("-", "\N{MINUS SIGN}")


def test_a_terminal_has_plain_characters_only():
    told = (
        TERMINAL.distance(17020.4, 8.4),
        TERMINAL.db_signed(-0.4),
        TERMINAL.km_span(1390, 1610),
        TERMINAL.watt(0.2),
    )
    assert told == ("17,020 +/- 9 km", "-0.4 dB", "1,390 to 1,610 km", "200 mW")

"""How numbers are written, once for each medium."""

import numpy as np
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


@given(st.one_of(st.floats(0, 20015), st.integers(0, 2001).map(lambda tens: np.nextafter(10.0 * tens, 0))))
def test_a_distance_beyond_or_within_never_claims_more(km):
    """ "One in ten from beyond 1,990 km" where the farthest was at 1,988: rounded to the nearest, it claimed what was not there."""

    def number(text):
        return float(text.removesuffix(" km").replace(",", ""))

    beyond, within = number(TERMINAL.beyond(km)), number(TERMINAL.within(km))
    step = 10 if km >= 1000 else 1
    assert beyond <= km <= within and within - beyond <= step
    assert TERMINAL.km(beyond) == TERMINAL.beyond(km) and TERMINAL.km(within) == TERMINAL.within(km)


def test_a_distance_that_is_said_exactly_stays():
    assert [TERMINAL.beyond(km) for km in (0, 7, 999.9, 1000, 1988.3, 3000)] == [
        "0 km", "7 km", "999 km", "1,000 km", "1,980 km", "3,000 km",
    ]  # fmt: skip
    assert [TERMINAL.within(km) for km in (0, 7, 998.1, 999.9, 1988.3)] == [
        "0 km",
        "7 km",
        "999 km",
        "1,000 km",
        "1,990 km",
    ]
    assert PRINT.beyond_span(1389.9, 1619) == f"1{THIN}380 to 1{THIN}610{THIN}km"


def test_a_terminal_has_plain_characters_only():
    told = (
        TERMINAL.distance(17020.4, 8.4),
        TERMINAL.db_signed(-0.4),
        TERMINAL.km_span(1390, 1610),
        TERMINAL.watt(0.2),
    )
    assert told == ("17,020 +/- 9 km", "-0.4 dB", "1,390 to 1,610 km", "200 mW")

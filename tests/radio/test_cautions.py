"""The cautions: what they must speak of, and that they advise on nothing but care."""

import pytest

from reach.errors import LineError
from reach.radio import cautions


def test_voltage_at_a_wire_end():
    """5 W into 2450 ohm is 111 V rms, into 4 kohm 141 V: sqrt(P R)."""
    assert cautions.end_voltage_v(5, 2450) == pytest.approx(110.68, abs=0.01)
    text = cautions.cautions(5.0)[-1].text
    assert "5 W into 2450 ohm is 111 V rms, into 4000 ohm 141 V" in text
    assert "2450 ohm is 495 V rms" in cautions.cautions(100.0)[-1].text


def test_every_subject_is_there():
    assert [each.title for each in cautions.cautions()] == [
        "Power lines",
        "Lightning and bonding",
        "Exposure to radio waves",
        "Voltage at wire ends",
    ]
    text = " ".join(cautions.lines())
    for words in (
        "power lines",
        "thunderstorm",
        "local electrical code",
        "country",
        "V rms",
        "not advice on compliance",
    ):
        assert words in text


def test_they_close_by_deferring_to_those_who_know():
    assert cautions.lines(5.0)[-1] == cautions.CLOSING
    assert cautions.markdown().rstrip().endswith(cautions.CLOSING)
    assert "licensed" in cautions.CLOSING and "local electrical" in cautions.CLOSING


@pytest.mark.parametrize("power_w", [0, -5, float("nan"), float("inf")])
def test_the_impossible_gets_one_sentence(power_w):
    with pytest.raises(LineError, match="a power in watts"):
        cautions.cautions(power_w)

"""The cautions: what they must speak of, and that they advise on nothing but care."""

from pathlib import Path

import pytest

from reach.base.words import PRINT, TERMINAL
from reach.errors import LineError
from reach.tell.sentences import cautions


def test_voltage_at_a_wire_end():
    """5 W into 2450 ohm is 111 V rms, into 4 kohm 141 V: sqrt(P R)."""
    text = cautions.cautions(5.0, TERMINAL)[-1].text
    assert "5 W into 2450 ohm is 111 V rms, into 4000 ohm 141 V" in text
    assert "2450 ohm is 495 V rms" in cautions.cautions(100.0, TERMINAL)[-1].text


def test_each_medium_has_its_own_space_before_a_unit():
    """In print a line never breaks between a number and its unit; a terminal has plain characters only."""
    assert "5\N{NARROW NO-BREAK SPACE}W into 2450\N{NARROW NO-BREAK SPACE}ohm" in cautions.cautions(5.0, PRINT)[-1].text
    assert all(text.isascii() for text in cautions.lines(5.0, TERMINAL))


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


def test_readme_shows_them_word_for_word():
    """The front page is where a newcomer reads them first; it must not fall behind the program."""
    readme = Path(cautions.__file__).parents[3] / "README.md"
    items = [f"- **{each.title}.** {each.text}" for each in cautions.cautions(say=TERMINAL)]
    assert "\n".join([*items, "", cautions.CLOSING]) + "\n" in readme.read_text(encoding="utf-8")


def test_they_close_by_deferring_to_those_who_know():
    assert cautions.lines(5.0)[-1] == cautions.CLOSING
    assert "licensed" in cautions.CLOSING and "local electrical" in cautions.CLOSING


@pytest.mark.parametrize("power_w", [0, -5, float("nan"), float("inf")])
def test_the_impossible_gets_one_sentence(power_w):
    with pytest.raises(LineError, match="a power in watts"):
        cautions.cautions(power_w)

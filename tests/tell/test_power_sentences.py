"""The power at the antenna, trimming and hops in words: every code has its sentence, in each medium's typography."""

import itertools
import re
from dataclasses import replace

import pytest

from reach.base.words import PRINT, TERMINAL, THIN
from reach.radio import power, trim
from reach.radio.feedline import Line
from reach.radio.power import Budget, Missing, Stated
from reach.study import Cable, Setup
from reach.tell.sentences import power as sentences

BOTH = pytest.mark.parametrize("say", [PRINT, TERMINAL], ids=["print", "terminal"])
WATTS = (None, 5.0, 0.0004)
LINES = (None, Line(2, "rg58"), Line(12, None, 4.5, 10), Line(0, "rg58"))
SWRS = (None, 1, 1.4, 10)
RG58 = Cable(kind="RG-58 class", length_m=20)
BY_HAND = power.budget(Setup(cable=RG58, swr=2), 5.0, 14.1)  # tests/radio/test_power.py


def set_well(text, say):
    """Whether a sentence is set for its medium, ends as a sentence, and no value came out as Python's own."""
    assert text.endswith(".") and not re.search(r"None|\bnan\b|Missing|  |[{}]", text)
    if say is TERMINAL:
        assert text.isascii()
    else:
        assert not any(f"{digit} {unit}" in text for digit in "0123456789" for unit in ("W", "dB", "MHz", "km", "%"))
    return True


@BOTH
@pytest.mark.parametrize("what", Missing)
def test_every_missing_thing_has_a_phrase(what, say):
    (phrase,) = sentences.missing(replace(BY_HAND, missing=(what,)), say)
    assert len(phrase) > 10 and phrase.startswith("the ")


def test_no_two_missing_things_read_alike():
    assert len(set(sentences.missing(replace(BY_HAND, missing=tuple(Missing)), TERMINAL))) == len(Missing)


@BOTH
@pytest.mark.parametrize(
    ("watt", "line", "swr", "mhz"),
    list(itertools.product(WATTS, LINES, SWRS, (None, 14.1))),
)
def test_every_budget_can_be_told(watt, line, swr, mhz, say):
    found = power.of_line(line, swr, watt, mhz)
    told = sentences.budget(found, say)
    assert all(set_well(text, say) for text in told)
    assert ("not known" in told[0]) == (found.power_at_antenna_w is None)
    assert all(phrase in told[0] for phrase in sentences.missing(found, say)) or found.power_at_antenna_w is not None


def test_a_budget_in_words():
    told = sentences.budget(BY_HAND, TERMINAL)
    assert told[0] == "Of your 5.0 W, 3.7 W (35.7 dBm) reach the antenna."
    assert "At 14.1 MHz 20 m of RG-58 class loses 1.09 dB when matched" in told[1]
    assert "about 0.21 dB more from SWR 2.0, 1.30 dB in all" in told[1]
    assert "reads as 2.0 on a meter there and as 1.7 at the radio: a lossy line flatters" in told[2]
    assert sentences.budget(BY_HAND, PRINT)[0] == f"Of your 5.0{THIN}W, 3.7{THIN}W (35.7{THIN}dBm) reach the antenna."


def test_a_short_line_says_how_far_off_the_estimate_may_be():
    found = power.budget(Setup(cable=Cable(kind="RG-58 class", length_m=2), swr=10), 5.0, 7.1)
    least, most = found.total_loss_range_db
    last = sentences.budget(found, TERMINAL)[-1]
    assert "standing wave" in last and f"between {least:.2f} and {most:.2f} dB" in last
    assert "estimate" not in " ".join(sentences.budget(power.budget(Setup(cable=RG58, swr=1.2), 5.0, 14.1), TERMINAL))
    assert sentences.swing(0.04, TERMINAL) == "" and "up to 0.31 dB either way" in sentences.swing(0.31, TERMINAL)


def test_what_is_known_is_told_with_what_is_not():
    no_cable = sentences.budget(power.budget(Setup(swr=1.5), 5.0, 14.1), TERMINAL)
    assert "5.0 W reaches the antenna is not known; missing: the feedline" in no_cable[0]
    assert "reads as 1.5 on a meter there." in no_cable[1]
    no_swr = sentences.budget(power.budget(Setup(cable=RG58), 5.0, 14.1), TERMINAL)
    assert "3.9 W at most; missing: the SWR" in no_swr[0]
    far = Budget(435.0, 5.0, Line(12, "rg58"), missing=(Missing.LOSS,))
    assert sentences.missing(far, TERMINAL) == ("the loss of 12 m of RG-58 class at 435 MHz (known from 1 to 150 MHz)",)


def test_a_meters_one_digit_stands_before_the_truth():
    """R = 50, X = 1 is SWR 1.02, which reads as 1.0 on a meter (common practice)."""
    found = power.budget(Setup(cable=RG58, resistance_ohm=50, reactance_ohm=1), 5.0, 14.1)
    assert "SWR 1.02 at the antenna reads as 1.0 on a meter there" in sentences.budget(found, TERMINAL)[2]


@pytest.mark.parametrize(("swr", "spoken"), [(1.5, False), (5.0, True)])
def test_a_tuner_is_spoken_of_where_one_is_needed(swr, spoken):
    text = " ".join(sentences.budget(power.of_line(Line(10, "rg58"), swr, 5, 7.1), TERMINAL))
    assert ("by way of a tuner" in text) == spoken


@pytest.mark.parametrize(
    ("watt", "text"),
    [(5, "5.0 W"), (3.94, "3.9 W"), (0.45, "450 mW"), (0.0004, "0.4 mW"), (99.99, "100 W"), (400, "400 W")],
)
def test_watts_in_words(watt, text):
    assert sentences.watts(watt, TERMINAL) == text


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (Stated("unknown"), "power not given"),
        (Stated("antenna", (4.31,)), "4.3 W at the antenna"),
        (Stated("antenna", (4.31, 4.34)), "4.3 W at the antenna"),
        (Stated("antenna", (3.9, 4.2, 4.6)), "3.9 to 4.6 W at the antenna"),
        (Stated("antenna", (0.2, 4.6)), "200 mW to 4.6 W at the antenna"),
        (Stated("radio", (5.0, 10.0)), "5 W and 10 W at the radio"),
        (Stated("radio", (1.0, 5.0, 10.0)), "1 W, 5 W and 10 W at the radio"),
        (Stated("radio", (5.0,), ("wire",)), "5 W at the radio (not given for 'wire')"),
        (Stated("radio", (5.0,), ("", "wire")), "5 W at the radio (not given for reports without a setup and 'wire')"),
    ],
)
def test_which_powers(found, text):
    assert sentences.stated(found, TERMINAL) == text
    assert sentences.stated(found, PRINT) == text.replace(" W", f"{THIN}W").replace(" mW", f"{THIN}mW")


# --- lengths, hops ----------------------------------------------------------------------------------------------------


@BOTH
@pytest.mark.parametrize("wanted", [14.07, 14.170, 21.2, 7.0])
@pytest.mark.parametrize("length_m", [None, 0.5, 5.0, 20.0])
def test_every_trim_can_be_told(wanted, length_m, say):
    assert set_well(sentences.trim(trim.trim(14.170, wanted, length_m=length_m), say), say)
    assert set_well(sentences.starting_length(trim.starting_length(wanted), say), say)


def test_trim_advice():
    longer = sentences.trim(trim.trim(14.170, 14.070, length_m=5.0), TERMINAL)
    assert "make it 0.7 % longer, 3.6 cm in all; move half of it (1.8 cm) and measure again" in longer
    assert "1.4 % shorter; move half of it and measure again" in sentences.trim(trim.trim(13.9, 14.1), TERMINAL)
    assert "nothing worth trimming" in sentences.trim(trim.trim(14.1, 14.1001), TERMINAL)
    assert "make sure that the dip" in sentences.trim(trim.trim(21.2, 14.1), TERMINAL)
    assert "make sure" not in sentences.trim(trim.trim(14.5, 14.1), TERMINAL)
    start = sentences.starting_length(trim.starting_length(14.1), TERMINAL)
    assert "a quarter wave of 5.06 m, a half wave of 10.12 m" in start


@BOTH
def test_hops(say):
    """2 R (90 - e - asin(R cos e / (R + h))) at 10 degrees: 1 004 km for 110 km, 2 193 km for 300 km."""
    distance = {"print": f"5{THIN}000{THIN}km", "terminal": "5,000 km"}["print" if say is PRINT else "terminal"]
    km = f"{say.gap}km"
    text = sentences.fewest_hops(5000, say)
    assert set_well(text, say) and text == (
        f"By geometry {distance} takes at least 3 hops off a mirror at 110{km} for a take-off angle of 3 degrees "
        f"(5 at 10 degrees), and at least 2 hops at 300{km} (3 at 10 degrees)."
    )
    assert "at least 1 hop off" in sentences.fewest_hops(900, say)

"""The locator grammar: what it accepts, what it says of the rest, what it suggests."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import grammar
from reach.base.grammar import judge, tidy
from reach.errors import LocatorError

FIELDS = "ABCDEFGHIJKLMNOPQR"
SUBSQUARES = "ABCDEFGHIJKLMNOPQRSTUVWX"
DIGITS = "0123456789"


def locators(*lengths):
    """Valid locators, built from the published alphabets of the pairs (IARU R1 VHF Managers Handbook, 5.12)."""
    alphabets = (FIELDS, DIGITS, SUBSQUARES, DIGITS, SUBSQUARES)

    def of_length(n):
        return st.tuples(*(st.sampled_from(alphabets[i // 2]) for i in range(n))).map("".join)

    return st.one_of(*(of_length(n) for n in lengths))


@pytest.mark.parametrize(
    ("text", "locator"),
    [
        ("JN58td", "JN58td"),
        ("jn58TD", "JN58td"),
        ("  io51ES\t", "IO51es"),
        ("AA00aa", "AA00aa"),
        ("RR99xx", "RR99xx"),
        ("JN58TD12", "JN58td12"),
        ("jn58td12AB", "JN58td12ab"),
    ],
)
def test_accepts(text, locator):
    assert judge(text) == grammar.Verdict(locator)
    assert tidy(text) == locator


@pytest.mark.parametrize(
    ("text", "rule", "suggestion"),
    [
        ("", "locator-blank", ""),
        (" \t ", "locator-blank", ""),
        ("JN", "locator-too-short", ""),
        ("JN5", "locator-too-short", ""),
        ("JN58", "locator-four-characters", ""),
        ("JN58t", "locator-odd-length", ""),
        ("JN58td1", "locator-odd-length", ""),
        ("JN58td12ab34", "locator-too-long", ""),
        ("JNO8td", "locator-letter-for-digit", "JN08td"),
        ("JNI8td", "locator-letter-for-digit", "JN18td"),
        ("JNl8td", "locator-letter-for-digit", "JN18td"),
        ("JN5Btd", "locator-letter-for-digit", "JN58td"),
        ("JNSStd", "locator-letter-for-digit", "JN55td"),
        ("JNX8td", "locator-letter-for-digit", ""),
        ("J058td", "locator-digit-for-letter", "JO58td"),
        ("JN58t0", "locator-digit-for-letter", "JN58to"),
        ("1O51es", "locator-digit-for-letter", ""),  # I or L: two readings, so none is obvious
        ("J758td", "locator-digit-for-letter", ""),
        ("SN58td", "locator-beyond-r", ""),
        ("JZ58td", "locator-beyond-r", ""),
        ("SN58yz", "locator-beyond-r", ""),  # the first thing wrong is named
        ("JN58yd", "locator-beyond-x", ""),
        ("JN58tz", "locator-beyond-x", ""),
        ("JN58td12az", "locator-beyond-x", ""),
        ("58JNtd", "locator-pairs-swapped", "JN58td"),
        ("JNtd58", "locator-pairs-swapped", "JN58td"),
        ("TD58JN", "locator-beyond-r", ""),
        ("SN80hc", "locator-beyond-r", ""),  # HC80sn is a locator, but nobody swaps the first pair with the last
        ("JNtd5812", "locator-pairs-swapped", "JN58td12"),
        ("58JN", "locator-pairs-swapped", ""),
        ("JN 58 td", "locator-stray-character", "JN58td"),
        ("IO-51-es", "locator-stray-character", "IO51es"),
        ("JN58td.", "locator-stray-character", "JN58td"),
        ("JN5_td", "locator-stray-character", ""),
        ("JN５８td", "locator-not-ascii", "JN58td"),  # full-width digits
        ("JN٥٨td", "locator-not-ascii", ""),  # Arabic-Indic digits
        ("ЈО58td", "locator-not-ascii", "JO58td"),  # Cyrillic
        ("JN58tdé", "locator-not-ascii", ""),
        ("JN5\x008td", "locator-stray-character", "JN58td"),
        ("unknown", "locator-no-locator", ""),
        ("N/A", "locator-no-locator", ""),
        ("---", "locator-no-locator", ""),
        ("123456", "locator-no-locator", ""),
    ],
)
def test_says_what_is_wrong(text, rule, suggestion):
    verdict = judge(text)
    assert (verdict.locator, verdict.rule, verdict.suggestion) == (None, rule, suggestion)
    assert verdict.explanation.endswith(".")


@pytest.mark.parametrize(
    ("text", "phrases"),
    [
        ("JNO8td", ["3rd character of 'JNO8td' is the letter O", "a digit must stand (square)"]),
        ("J058td", ["2nd character of 'J058td' is the digit zero", "a letter A to R must stand (field)"]),
        ("SN58td", ["1st character", "beyond R"]),
        ("JN58yz", ["5th character", "beyond X", "subsquare"]),
        ("JN58t", ["has 5 characters"]),
        ("JN５８td", ["FULLWIDTH DIGIT FIVE"]),
        ("JN58", ["2 by 1 degrees"]),
    ],
)
def test_explains(text, phrases):
    explanation = judge(text).explanation
    for phrase in phrases:
        assert phrase in explanation


def test_squares_only_where_allowed():
    assert judge("jn58").locator is None
    assert judge("jn58", four_characters=True).locator == "JN58"
    assert judge("58jn", four_characters=True).suggestion == "JN58"
    assert judge("JNO8", four_characters=True).suggestion == "JN08"
    assert judge("JNO8").suggestion == ""  # a suggestion that would be refused in turn helps nobody


def test_tidy_refuses_with_the_reason_and_the_suggestion():
    with pytest.raises(LocatorError, match=r"letter O, where a digit must stand.*Did you mean JN08td\?"):
        tidy("JNO8td")


@given(locators(6, 8, 10), st.randoms(use_true_random=False))
def test_every_valid_locator_in_any_case_is_accepted(locator, random):
    text = "".join(random.choice((c.lower(), c.upper())) for c in locator)
    assert judge(text).locator == locator[:4] + locator[4:].lower()


@given(locators(4))
def test_every_square_is_accepted_where_allowed(locator):
    assert judge(locator.lower(), four_characters=True).locator == locator


@given(st.text(max_size=14), st.booleans())
def test_any_text_gets_one_clear_answer(text, four):
    verdict = judge(text, four_characters=four)
    assert (verdict.locator is None) == bool(verdict.rule) == bool(verdict.explanation)
    for offered in filter(None, (verdict.locator, verdict.suggestion)):
        assert offered.isascii()
        assert judge(offered, four_characters=four).locator == offered
    if verdict.locator:
        assert verdict.locator.upper() == text.strip().upper()  # accepted as it came, never mended


@given(locators(6), st.integers(0, 5), st.sampled_from(FIELDS + "STUVWXYZ" + DIGITS))
def test_one_changed_character_is_accepted_only_where_its_place_allows(locator, at, character):
    text = locator[:at] + character + locator[at + 1 :]
    allowed = (FIELDS, DIGITS, SUBSQUARES)[at // 2]
    assert (judge(text).locator is not None) == (character in allowed)

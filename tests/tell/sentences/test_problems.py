"""Every rule has an example row and one sentence; a whole table is said as each of its rows would be."""

from __future__ import annotations

from functools import cache

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base.words import PRINT, TERMINAL
from reach.study import Options
from reach.tell.sentences import problems
from reach.vet.ledger import LOCATOR_RULES, RULES
from tests.suspects.test_find import found, steady
from tests.vet.rows import SOUND, judged

# Rule -> (what of a sound row is changed, the sentence); of rules that say more than one thing, several.
CELLS: list[tuple[str, dict[str, str], str]] = [
    ("row-length", {"fault": "row-length 2 5"}, "The row has 2 cells where the header has 5."),
    ("row-quote", {"fault": "row-quote"}, "A quote is opened and never closed."),
    ("row-blank", dict.fromkeys(SOUND, " "), "The row is blank."),
    ("row-header", {"rx_call": "Callsign", "rx_locator": "Locator", "snr_db": "SNR"}, "The row repeats the header."),
    ("row-total", {"fault": "row-total"}, "The row is the total of the table and no report."),
    ("time-blank", {"time_utc": ""}, "The time is blank."),
    ("time-unreadable", {"time_utc": "soon"}, "'soon' is no time; a form such as 2026-05-16 21:30 is wanted."),
    (
        "time-unreadable",
        {"time_utc": "16 Floreal 2026 20:04"},
        "'16 Floreal 2026 20:04' names no month that is known by its English name.",
    ),
    ("time-impossible", {"time_utc": "2026-02-30 20:04"}, "'2026-02-30 20:04' names a day that no calendar has."),
    (
        "time-impossible",
        {"time_utc": "2026-05-16 25:04"},
        "'2026-05-16 25:04' names a time of day that no clock shows.",
    ),
    ("time-impossible", {"time_utc": "9999-12-31 23:59 -02"}, "'9999-12-31 23:59 -02' is beyond the calendar."),
    (
        "time-impossible",
        {"time_utc": "2026-05-16 20:04+15:00"},
        "'2026-05-16 20:04+15:00' names an offset from UTC that no zone has.",
    ),
    (
        "time-impossible",
        {"time_utc": "05/16/2026 20:04"},
        "'05/16/2026 20:04', read day first, names the month 16.",
    ),
    ("time-no-clock", {"time_utc": "2026-05-16"}, "'2026-05-16' is a date without a time of day."),
    ("time-no-date", {"time_utc": "20:04"}, "'20:04' is a time of day without a date."),
    ("time-two-digit-year", {"time_utc": "16.5.26 20:04"}, "'16.5.26 20:04' has a year of two digits; write four."),
    (
        "time-in-future",
        {"time_utc": "2026-06-01 00:01"},
        "'2026-06-01 00:01' lies in the future: no report can be later than the clock.",
    ),
    (
        "time-too-early",
        {"time_utc": "1980-06-01 00:01"},
        "'1980-06-01 00:01' lies before 1990, when no such reports were made.",
    ),
    ("time-offset", {"time_utc": "2026-05-16 22:04+02:00"}, "'2026-05-16 22:04+02:00' was turned into UTC."),
    ("callsign-blank", {"rx_call": " "}, "The callsign is blank."),
    (
        "callsign-unreadable",
        {"rx_call": "?"},
        "'?' names nobody; a callsign such as EI4QTB or a listener's identifier is wanted.",
    ),
    ("callsign-unreadable", {"rx_call": "A\x07B"}, "'A\\x07B' holds characters that cannot be printed."),
    (
        "callsign-too-long",
        {"rx_call": "Y" * 33},
        f"'{'Y' * 33}' has 33 characters; a callsign or identifier has at most 32.",
    ),
    (
        "callsign-blank-inside",
        {"rx_call": "DL2 QTC"},
        "'DL2 QTC' has a blank inside; it is kept as it is and counts as another station than DL2QTC.",
    ),
    (
        "callsign-not-ascii",
        {"rx_call": "SMØQTC"},
        "'SMØQTC' is not in plain letters and digits; it is kept as it is, a station apart from SM0QTC.",
    ),
    ("locator-blank", {"rx_locator": ""}, "The locator is blank."),
    (
        "locator-not-ascii",
        {"rx_locator": "JN58tд"},
        "'JN58tд' holds 'д' (CYRILLIC SMALL LETTER DE); a locator is written in plain letters A to X and digits 0 to 9.",
    ),
    (
        "locator-stray-character",
        {"rx_locator": "JN58-td"},
        "'JN58-td' holds '-'; a locator is letters and digits only, such as JN58td.",
    ),
    (
        "locator-odd-length",
        {"rx_locator": "JN58t"},
        "'JN58t' has 5 characters; a locator is made of pairs, six characters such as JN58td.",
    ),
    (
        "locator-too-short",
        {"rx_locator": "JN5"},
        "'JN5' has 3 characters; a locator is made of pairs, six characters such as JN58td.",
    ),
    (
        "locator-too-long",
        {"rx_locator": "JN58td12ab34"},
        "'JN58td12ab34' has 12 characters; a locator has six, at most ten.",
    ),
    (
        "locator-pairs-swapped",
        {"rx_locator": "58JNtd"},
        "'58JNtd' has its pairs in another order than letters, digits, letters.",
    ),
    (
        "locator-no-locator",
        {"rx_locator": "123456"},
        "'123456' is no locator; six characters such as JN58td are wanted.",
    ),
    (
        "locator-letter-for-digit",
        {"rx_locator": "JNO8td"},
        "The 3rd character of 'JNO8td' is the letter O, where a digit must stand (square).",
    ),
    (
        "locator-digit-for-letter",
        {"rx_locator": "J058td"},
        "The 2nd character of 'J058td' is the digit zero, where a letter A to R must stand (field).",
    ),
    (
        "locator-beyond-r",
        {"rx_locator": "JS58td"},
        "The 2nd character of 'JS58td' is S, beyond R: a letter A to R must stand (field).",
    ),
    (
        "locator-beyond-x",
        {"rx_locator": "JN58ty"},
        "The 6th character of 'JN58ty' is y, beyond X: a letter A to X must stand (subsquare).",
    ),
    (
        "locator-four-characters",
        {"rx_locator": "JN58"},
        "'JN58' is a square of 2 by 1 degrees; six characters are wanted unless squares are allowed.",
    ),
    ("snr-blank", {"snr_db": ""}, "The SNR is blank."),
    ("snr-unreadable", {"snr_db": "loud"}, "'loud' is no SNR; a number of dB such as -12 is wanted."),
    ("snr-range", {"snr_db": "-116"}, "'-116' is no SNR from -60 to 60 dB."),
    (
        "snr-range",
        {"snr_db": "599"},
        "'599' is no SNR from -60 to 60 dB (it looks like a readability and strength report).",
    ),
    ("band-blank", {"band": ""}, "Neither band nor frequency is given."),
    ("band-unreadable", {"band": "13cm"}, "'13cm' is no band; a wavelength such as 20m is wanted."),
    (
        "band-unreadable",
        {"band": "x", "freq_mhz": "14.1"},
        "'x' is no band; the row is kept for its frequency '14.1' MHz.",
    ),
    (
        "frequency-unreadable",
        {"band": "", "freq": "x"},
        "'x' is no frequency; a number such as 14.0437 is wanted.",
    ),
    (
        "frequency-unreadable",
        {"freq_khz": "x"},
        "'x' kHz is no frequency; the row is kept for its band '20m'.",
    ),
    ("frequency-outside-bands", {"band": "", "freq_mhz": "12.3"}, "'12.3' MHz is in no international amateur band."),
    (
        "frequency-outside-bands",
        {"band": "", "freq_mhz": "14043"},
        "'14043' MHz is in no international amateur band; in kHz it would be on 20m.",
    ),
    (
        "frequency-outside-bands",
        {"band": "", "freq_khz": "7028000"},
        "'7028000' kHz is in no international amateur band; in Hz it would be on 40m.",
    ),
    (
        "frequency-other-region",
        {"band": "", "freq_mhz": "7.25"},
        "7.25 MHz is outside the international 40m band of ITU region 1 (7 to 7.2 MHz there); it counts as 40m all the same.",
    ),
    (
        "frequency-other-region",
        {"band": "", "freq_mhz": "70.2"},
        "70.2 MHz is on 4m, which is no international band of ITU region 1; it counts as 4m all the same.",
    ),
    ("band-frequency", {"freq_mhz": "7.04"}, "The band '20m' and the frequency '7.04' MHz contradict each other."),
    (
        "power-unreadable",
        {"power_w": "lots"},
        "'lots' is no power; a number of watts such as 5 is wanted. The power counts as unknown.",
    ),
    ("power-range", {"power_w": "0"}, "'0' is no power above 0 and up to 100 kW. The power counts as unknown."),
]
RECEIVERS = ("callsign-", "locator-")
TRANSMITTERS = [
    (f"tx-{rule}", {name.replace("rx_", "tx_"): text for name, text in change.items()}, f"Transmitter: {sentence}")
    for rule, change, sentence in CELLS
    if rule.startswith(RECEIVERS) and not rule.endswith("-blank")
]
EXAMPLES = CELLS + TRANSMITTERS
BEYOND_A_ROW = {
    "time-order-told", "duplicate", "duplicate-conflict", "locator-suspect", "locator-doubtful", "receiver-moved",
}  # fmt: skip


def told(table: pd.DataFrame) -> list[str]:
    return problems.explanations(table, say=TERMINAL).tolist()


@pytest.mark.parametrize(("rule", "change", "sentence"), EXAMPLES)
def test_each_rule_has_a_row_and_a_sentence(rule, change, sentence):
    """The row breaks this rule and no other, and this is what is said of it."""
    found = judged(change, options=Options(day_first=True, itu_region=1)).problems
    assert found["rule"].tolist() == [rule]
    assert told(found) == [sentence]


def test_no_rule_is_without_an_example():
    assert {rule for rule, _, _ in EXAMPLES} | BEYOND_A_ROW == set(RULES)
    assert set(LOCATOR_RULES) <= set(RULES) and all(RULES.values())


def test_the_order_of_day_and_month_that_a_date_told():
    found = judged({"time_utc": "03/05/2026 20:04"}, {"time_utc": "05/16/2026 20:04"}).problems
    assert found["rule"].tolist() == ["time-order-told"]
    assert told(found) == [
        "'05/16/2026 20:04' can only be month first, so all dates of this file are read month first."
    ]


def test_a_file_that_is_turned_into_utc_as_a_whole_has_its_number_in_the_mediums_digits():
    rows = [{"rx_call": f"DL{k % 10}Q{chr(65 + k // 10 % 26)}{chr(65 + k // 260)}"} for k in range(1200)]
    found = judged(*(row | {"time_utc": "2026-05-16 22:04+02:00"} for row in rows)).problems
    assert found["rule"].tolist() == ["time-offset"]
    for say, count in ((TERMINAL, "1,200"), (PRINT, "1\u202f200")):
        assert problems.explanation(found.iloc[0], say=say) == (
            f"All {count} times of this file name an offset from UTC, as does '2026-05-16 22:04+02:00'; "
            "they were turned into UTC."
        )


def test_duplicates_in_one_file_and_in_several():
    found = judged({}, {}, {"snr_db": "-14"}).problems
    assert found["rule"].tolist() == ["duplicate", "duplicate-conflict"]
    assert told(found) == [
        "Line 2 reports the same reception and is kept.",
        "Line 2 reports the same reception with -12 dB and is kept; this row says -14 dB.",
    ]
    found = judged({"source": "a.csv", "snr_db": "-14.5"}, {"source": "b.csv", "line": 7}).problems
    assert problems.explanation(found.iloc[0], say=PRINT) == (
        "Line 7 of b.csv reports the same reception with −12\u202fdB and is kept; this row says −14.5\u202fdB."
    )


def test_suspects_doubtful_places_and_moves():
    day = 24 * 60
    moved = [*steady("DL2QTC", "JN58td", 9), *steady("DL2QTC", "JO62qm", 9, start=2 * day)]
    near = [*steady("PA5QTJ", "JO21rx", 16), *steady("PA5QTJ", "JO21wx", 7, start=10)]
    doubts = found(*moved, *steady("DL2QTD", "IN80dj", 2), *near)
    by_rule = dict(zip(doubts.problems["rule"], told(doubts.problems), strict=True))
    assert set(by_rule) == {"locator-suspect", "locator-doubtful", "receiver-moved"}
    assert by_rule["locator-doubtful"] == (
        "PA5QTJ at JO21rx (the Netherlands): 7 of its 23 reports come from JO21wx, 29 km away; one transcription error lies "
        "between the two (a wrong character)."
    )
    assert by_rule["receiver-moved"] == (
        "DL2QTC at JO62qm (Germany): it was at JN58td, 502 km away, until 2026-05-16 14:40 UTC and only from here "
        "since; it seems to have moved."
    )
    spain = doubts.problems["locator"].eq("IN80dj")
    assert told(doubts.problems[spain]) == ["DL2QTD at IN80dj (Spain): the callsign is one of Germany."] * 2


@cache
def mixed() -> pd.DataFrame:
    """Problems of all three ways to be said, in file order. Judged once: change nothing in it."""
    rows = [change for _, change, _ in EXAMPLES]
    table = judged({}, {}, {"snr_db": "-14"}, *rows, *rows, options=Options(day_first=True)).problems
    doubts = found(*steady("DL2QTC", "JN58td"), ("DL2QTC", "JO58td", 125, -15.0), *steady("DL2QTD", "IN80dj", 2))
    return pd.concat([table, doubts.problems], ignore_index=True).sort_values("line", kind="stable")


@pytest.mark.parametrize("say", [TERMINAL, PRINT])
def test_a_table_is_said_as_its_rows_one_by_one(say):
    table = mixed()
    whole = problems.explanations(table, say=say)
    assert whole.index.equals(table.index) and str(whole.dtype) == "str"
    assert whole.tolist() == [problems.explanation(row, say=say) for row in table.to_dict("records")]
    assert whole.str.endswith(".").all() and not whole.str.contains("\n").any()


@cache
def sentences():
    return problems.explanations(mixed(), say=TERMINAL).to_numpy()


@given(st.deferred(lambda: st.permutations(range(len(mixed())))))
def test_the_order_of_rows_does_not_matter(order):
    assert problems.explanations(mixed().iloc[order], say=TERMINAL).tolist() == sentences()[order].tolist()


def test_what_is_written_has_words_and_no_codes_beyond_the_rule():
    table = mixed()
    made = problems.written(table, say=TERMINAL)
    assert [(name, str(dtype)) for name, dtype in made.dtypes.items()] == [
        (name, dtype) for name, (dtype, _) in problems.WRITTEN.items()
    ]
    assert made["line"].tolist() == table["line"].tolist()
    assert problems.written(table[:0], say=TERMINAL).empty


def test_an_unknown_rule_is_an_error():
    table = judged({"snr_db": "x"}).problems.assign(rule="snr-too-loud")
    with pytest.raises(ValueError, match="snr-too-loud"):
        told(table)

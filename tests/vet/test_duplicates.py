"""The same reception twice: which row is kept, what is said of the others, and that their order does not matter."""

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.findings import Counts
from reach.study import Options
from reach.vet import duplicates, ledger
from reach.vet.rules import once, sound, vet
from tests.vet.rows import NOW, judged, raw, said
from tests.vet.rows import words as told

ANY = Options(four_character_locators=True)


def test_the_same_row_twice():
    vetted = judged({}, {"rx_call": "dl2qtc "}, {"rx_call": "F5QSA"})
    assert vetted.counts == Counts(3, 2, 0, 1)
    assert said(vetted) == [(3, "duplicate", "note")]
    assert told(vetted)[0] == "Line 2 reports the same reception and is kept."


def test_another_snr_is_a_conflict_and_the_higher_is_kept():
    vetted = judged({"snr_db": "-14"}, {"snr_db": "-12"}, {"snr_db": "-12"})
    assert vetted.spots[["line", "snr_db"]].to_numpy().tolist() == [[3, -12]]
    assert said(vetted) == [(2, "duplicate-conflict", "note"), (4, "duplicate", "note")]
    assert told(vetted)[0] == ("Line 3 reports the same reception with -12 dB and is kept; this row says -14 dB.")


def test_the_longer_locator_of_one_square_is_kept():
    rows = {"rx_locator": "JN58"}, {"rx_locator": "JN58td"}, {"rx_locator": "JN58aa11"}, {"rx_locator": "JN58td"}
    vetted = judged(*rows, options=ANY)
    assert vetted.spots["line"].tolist() == [4]
    assert vetted.spots["rx_locator"].cat.categories.tolist() == ["JN58aa11"]


def test_the_file_is_named_where_there_are_several():
    vetted = judged({"source": "a.csv"}, {"source": "b.csv", "line": 7})
    assert told(vetted) == ["Line 2 of a.csv reports the same reception and is kept."]
    assert vetted.problems["source"].tolist() == ["b.csv"]


@pytest.mark.parametrize(
    "change",
    [
        {"time_utc": "2026-05-16 20:06"},
        {"time_utc": "2026-05-16 20:04:00.000001"},
        {"rx_call": "F5QSA"},
        {"rx_locator": "JN57td"},
        {"band": "40m"},
        {"tx_call": "EI4QTB"},
        {"setup": "wire"},
    ],
)
def test_anything_else_makes_it_another_reception(change):
    assert judged({}, change).counts == Counts(2, 2, 0, 0)


@pytest.mark.parametrize(
    ("frequencies", "kept"),
    [
        (("14.097000", "14.097200"), [2, 3]),  # one on each
        (("14.097003", "14.097099", "14.097103"), [2, 4]),  # the first two are nearer to 14.0970
        (("14.097200", "14.097201"), [2]),
        (("14.097400", "14.097000", "14.096800"), [2, 3]),  # 200 Hz off both is on neither
        (("14.097300", "14.097000", "14.097200"), [2, 3]),  # 100 Hz, half of what is between them, is near enough
        (("14.097000", ""), [2, 3]),
    ],
)
def test_two_frequencies_that_are_compared_are_two_transmissions(frequencies, kept):
    rows = [{"freq_mhz": each} for each in frequencies]
    assert judged(*rows).counts == Counts(len(rows), 1, 0, len(rows) - 1)
    found = judged(*rows, by_mhz=(14.097, 14.0972))
    assert found.spots["line"].tolist() == kept
    assert judged(*rows, by_mhz=(14.0972, 14.097)).spots["line"].tolist() == kept
    every = sound(raw(*rows), now=NOW).spots
    assert once(every, duplicates.maybe(every), by_mhz=(14.097, 14.0972)).spots["line"].tolist() == kept


def test_what_rows_say_of_their_setup_goes_before_their_frequency():
    rows = [{"setup": "wire", "freq_mhz": each} for each in ("14.0970", "14.0972")]
    assert judged(*rows, by_mhz=(14.097, 14.0972)).counts == Counts(2, 1, 0, 1)


def test_the_same_moment_in_other_words_is_the_same():
    assert judged({}, {"time_utc": "2026-05-16T22:04:00+02:00"}).counts == Counts(2, 1, 0, 1)


def test_a_rejected_row_is_no_duplicate():
    vetted = judged({"snr_db": "x"}, {}, {"snr_db": "x"})
    assert vetted.counts == Counts(3, 1, 2, 0)


def test_a_row_that_was_left_out_leaves_no_trace_in_the_tables():
    vetted = judged({"mode": "a"}, {"mode": "b"}, {"rx_call": "?"})
    assert vetted.spots["mode"].cat.categories.tolist() == ["A"]


SMALL = st.fixed_dictionaries(
    {
        "time_utc": st.sampled_from(["2026-05-16 20:04", "2026-05-16 20:06", "1999-01-01 00:00:00.5"]),
        "rx_call": st.sampled_from(["DL2QTC", "F5QSA", "?"]),
        "rx_locator": st.sampled_from(["JN58", "JN58td", "JN58aa", "JN58td11", "IO51es"]),
        "snr_db": st.sampled_from(["-12", "-11", "x"]),
        "band": st.sampled_from(["20m", "40m"]),
        "tx_call": st.sampled_from(["", "EI4QTB"]),
        "setup": st.sampled_from(["", "wire"]),
    }
)
MEASURED = ["time_utc", "rx_call", "snr_db", "band", "tx_call", "setup"]


@given(st.lists(SMALL, max_size=12))
def test_agrees_with_a_plain_reading_of_the_rule(rows):
    """Against sorting and dropping with pandas, on the spots as they are before duplicates go: a setup of its own for
    each row lets them all stay.
    """
    vetted = judged(*rows, options=ANY)
    apart = [row | {"setup": f"{row['setup']}#{k}"} for k, row in enumerate(rows)]
    everything = judged(*apart, options=ANY).spots.astype({"setup": "str", "rx_locator": "str"})
    everything = everything.assign(
        setup=everything["setup"].str.replace(r"#.*", "", regex=True),
        square=everything["rx_locator"].str[:4],
        length=everything["rx_locator"].str.len(),
    )
    ordered = everything.sort_values(["snr_db", "length", "line"], ascending=[False, False, True])
    same = ["time_utc", "rx_call", "square", "band", "tx_call", "setup"]
    assert sorted(ordered.drop_duplicates(same)["line"]) == vetted.spots["line"].tolist()


@given(st.lists(SMALL, max_size=12))
def test_rows_judged_by_themselves_and_then_kept_once_are_what_is_kept_at_once(rows):
    """As a collection does it: sound rows first, duplicates later, and these looked for only where there may be one."""
    table = raw(*rows) if rows else raw({}).iloc[:0]
    whole = vet(table, options=ANY, now=NOW)
    alone = sound(table, options=ANY, now=NOW)
    may = duplicates.maybe(alone.spots)
    for kept in (once(alone.spots), once(alone.spots, may)):
        pd.testing.assert_frame_equal(kept.spots, whole.spots)
        assert kept.counts == Counts(len(alone.spots), len(whole.spots), 0, whole.counts.duplicates)
        told = whole.problems[ledger.is_duplicate(whole.problems)].reset_index(drop=True)
        pd.testing.assert_frame_equal(kept.problems[list(told)].astype(told.dtypes), told)
    assert whole.problems.loc[ledger.is_rejected(whole.problems), "line"].nunique() == whole.counts.rejected
    assert not set(table["line"][alone.rows[~may]]) & set(told["line"])


@given(st.lists(SMALL, max_size=10), st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter_for_what_is_kept(rows, random):
    shuffled = random.sample(rows, len(rows))
    one, other = (judged(*some, options=ANY) for some in (rows, shuffled))
    assert one.counts == other.counts
    kept = [
        sorted(
            (*(str(row[name]) for name in MEASURED), len(row["rx_locator"]), row["rx_locator"][:4])
            for row in vetted.spots.to_dict("records")
        )
        for vetted in (one, other)
    ]
    assert kept[0] == kept[1]


def test_keys_hold_where_the_combinations_pass_the_largest_integer(monkeypatch):
    rows = [{"time_utc": f"2026-05-16 20:0{k % 3}:00.{k % 3}", "rx_call": f"G{k % 5}QTA"} for k in range(30)]
    plain = judged(*rows)
    monkeypatch.setattr(duplicates, "MOST", 100)
    packed = judged(*rows)
    pd.testing.assert_frame_equal(packed.spots, plain.spots)
    assert plain.counts == Counts(30, 15, 0, 15)


@pytest.mark.parametrize("spare", [-5, -2])
def test_receptions_that_fall_into_one_drawer_are_told_apart(monkeypatch, spare):
    rows = [{"time_utc": f"2026-05-16 20:{k % 15:02}", "rx_call": f"G{k % 10}QTA"} for k in range(60)]
    plain = judged(*rows)
    monkeypatch.setattr(duplicates, "SPARE_BITS", spare)
    crowded = judged(*rows)
    pd.testing.assert_frame_equal(crowded.spots, plain.spots)
    assert plain.counts == Counts(60, 30, 0, 30)


@pytest.mark.parametrize("alone", range(5))
def test_a_pair_is_one_report_wherever_it_stands_among_others(alone):
    """The lowest pair of all, with none and with some single ones before it."""
    calls = [f"{letter}1QTC" for letter in "ABCDE"[:alone]] + ["X1QTC", "X1QTC", "Y1QTC"]
    vetted = judged(*({"rx_call": call} for call in calls))
    assert vetted.counts.duplicates == 1 and len(vetted.spots) == len(calls) - 1
    assert said(vetted) == [(alone + 3, "duplicate", "note")]

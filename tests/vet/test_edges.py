"""Edges of what one row may say, on both sides; keys that tell all receptions apart; what the ledger quotes."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.findings import Counts
from reach.spots import PROBLEMS, WRITTEN
from reach.study import Options, Station
from reach.vet import cells, duplicates, fixes, frequency, ledger
from reach.vet.ledger import NOTE, REJECTED, Finding, Ledger
from reach.vet.rules import Offsets, once, vet
from tests.vet.rows import NOW, SOUND, judged, raw, said

# ---------------------------------------------------------------------------------------------------------------- cells


def test_an_identifier_has_32_characters_at_most():
    assert cells.callsign("Y" * 32) == ("Y" * 32, None)
    found = cells.callsign("Y" * 33)[1]
    assert (found.rule, found.value, found.other) == ("callsign-too-long", "Y" * 33, "33")


@pytest.mark.parametrize(("text", "detail"), [("?", "nobody"), ("DL2\x07QTC", "unprintable")])
def test_why_a_callsign_names_nobody(text, detail):
    assert cells.callsign(text)[1] == Finding("callsign-unreadable", REJECTED, text, detail=detail)


@pytest.mark.parametrize(
    ("text", "detail"), [("599", "report"), (" 339 ", "report"), ("5995", ""), ("699", ""), ("100", ""), ("-61", "")]
)
def test_a_report_of_readability_strength_and_tone_is_told_from_a_number(text, detail):
    """R 1 to 5, S and T 1 to 9: two or three digits."""
    assert cells.snr_db(text)[1] == Finding("snr-range", REJECTED, text, detail=detail)


@pytest.mark.parametrize(
    ("text", "mhz"),
    [
        ("14.0437 mhz", 14.0437),
        ("14043.7kHz", 14.0437),
        ("14043700 HZ", 14.0437),
        ("0.0140437 GHz", 14.0437),
        ("14.04370000049", 14.0437),
    ],
)
def test_units_of_frequency_to_the_thousandth_of_a_hertz(text, mhz):
    assert cells.frequency_mhz(text, "mhz") == mhz


def test_a_thousandth_of_a_hertz_is_kept():
    assert cells.frequency_mhz("14.043700001", "mhz") == 14.043700001 == cells.frequency_mhz("14043.700001", "khz")


@pytest.mark.parametrize(
    ("text", "watt"),
    [
        ("2 w", 2),
        ("2 watt", 2),
        ("2 Watts", 2),
        ("2 mW", 0.002),
        ("2 kW", 2000),
        ("50 dBm", 100),
        ("80 dBm", 1e5),
        ("-30 dBm", 1e-6),
    ],
)
def test_units_of_power(text, watt):
    assert cells.power_w(text, "mw") == (pytest.approx(watt, rel=1e-12), None)


@pytest.mark.parametrize("text", ["80.01", "301", "-301", "-1e9", "1e9"])
def test_powers_in_dbm_that_nobody_has(text):
    assert cells.power_w(text, "dbm")[1] == Finding("power-range", NOTE, text)
    assert math.isnan(cells.power_w(text, "dbm")[0])


# --------------------------------------------------------------------------------------------------------- frequencies


@pytest.mark.parametrize(
    ("column", "text", "found"),
    [
        ("freq", "14,0437", 14.0437), ("freq", "14043,7", 14.0437), ("freq", "0,4755", 0.4755), ("freq", "1,4", 1.4),
        ("freq", "0,0", np.nan), ("freq", "-14,1", np.nan), ("freq", "x", np.nan), ("freq", "14 m", np.nan),
        ("freq_khz", "14043,7", 14.0437), ("freq_khz", "14,0437 MHz", 14.0437), ("freq_khz", "0,0", np.nan),
        ("freq_mhz", "0,4755", 0.4755), ("freq_hz", "14043700,0", 14.0437), ("freq_mhz", "7,1 km", np.nan),
        ("freq_khz", "14043.7000004", 14.0437), ("freq_khz", "14043.700001", 14.043700001), ("freq", "14043.7000004", 14.0437),
        ("freq_khz", "14043.7", 14.0437), ("freq_khz", "0", np.nan), ("freq_khz", "-1", np.nan), ("freq_khz", "1", 0.001),
    ],
)  # fmt: skip
def test_a_word_in_megahertz(column, text, found):
    from reach.base.vocabulary import Words

    words = Words(np.zeros(1, dtype=np.int8), pd.Index([text, ""], dtype="str"))
    np.testing.assert_array_equal(frequency._megahertz(words, column), [found, np.nan])  # to the last bit


def test_of_several_columns_the_first_that_says_anything_counts_and_is_quoted():
    rows = [
        {"freq": "14.05", "freq_khz": "7028", "freq_mhz": "21.1"},
        {"freq": "", "freq_khz": "7028", "freq_mhz": "21.1"},
        {"freq": " ", "freq_khz": "", "freq_mhz": "21.1"},
        {"freq": None, "freq_khz": None, "freq_mhz": None, "band": "80m"},
        {"freq": "x", "freq_khz": "7028", "freq_mhz": ""},
        {"freq": "", "freq_khz": "y", "freq_mhz": "", "band": "80m", "rx_call": "F5QSA"},
        {"freq": "", "freq_khz": "9000", "freq_mhz": "7.1"},
    ]
    vetted = judged(*({"band": ""} | row for row in rows))
    assert vetted.spots[["line", "band"]].to_numpy().tolist() == [
        [2, "20m"],
        [3, "40m"],
        [4, "15m"],
        [5, "80m"],
        [7, "80m"],
    ]
    found = vetted.problems[["line", "rule", "severity", "value", "other", "detail"]].to_numpy().tolist()
    assert found == [
        [6, "frequency-unreadable", "rejected", "x", "", ""],
        [7, "frequency-unreadable", "note", "y", "80m", "kHz"],
        [8, "frequency-outside-bands", "rejected", "9000", "", "kHz"],
    ]


def test_a_contradiction_quotes_the_band_first_and_names_the_unit():
    rows = [
        {"band": "20m", "freq_khz": "7028"},
        {"band": "40m", "freq_khz": "7028"},
        {"band": "x", "freq_khz": "7028"},
    ] * 2
    vetted = judged(*({"rx_call": f"G{k}QTC"} | row for k, row in enumerate(rows)))
    found = vetted.problems[["line", "rule", "value", "other", "detail"]].to_numpy().tolist()
    assert found == [
        [line + more, rule, value, "7028", "kHz"]
        for more in (0, 3)
        for line, rule, value in ((2, "band-frequency", "20m"), (4, "band-unreadable", "x"))
    ]


@pytest.mark.parametrize(
    ("text", "band"),
    [
        ("160", "160m"),
        ("1.8", "160m"),
        ("7.2", "40m"),
        ("7.35", None),
        ("4", "4m"),
        ("4.1 MHz", None),
        ("18", "17m"),
        ("24", "12m"),
        ("21", "15m"),
        ("430 MHz", "70cm"),
        ("431", "70cm"),
        ("137 kHz", "2200m"),
    ],
)
def test_bands_as_people_call_them(text, band):
    vetted = judged({"band": text})
    assert vetted.spots["band"].tolist() == ([band] if band else [])


@pytest.mark.parametrize("mhz", ["7.2", "7.2001", "7.3", "3.8", "3.8001", "144.0", "146.0", "146.001"])
@pytest.mark.parametrize("region", [1, 2, 3])
def test_what_lies_beside_a_regions_band_is_noted_and_counts(mhz, region):
    """Radio Regulations, Article 5: 40m to 7.2 MHz in regions 1 and 3 and to 7.3 in 2, 80m to 3.8 in 1, 4 in 2, 3.9 in 3, 2m to 146
    in 1 and to 148 in the others."""
    upper = {"7": (7.2, 7.3, 7.2), "3": (3.8, 4.0, 3.9), "1": (146.0, 148.0, 148.0)}[mhz[0]][region - 1]
    vetted = judged({"band": "", "freq_mhz": mhz}, options=Options(itu_region=region))
    noted = float(mhz) > upper
    assert len(vetted.spots) == 1 and said(vetted) == ([(2, "frequency-other-region", "note")] if noted else [])
    if noted:
        (told,) = vetted.problems.to_dict("records")
        assert (told["value"], told["detail"]) == (f"{float(mhz):g}", str(region))


# ----------------------------------------------------------------------------------------------------------- duplicates


@pytest.mark.parametrize("setups", [["", "wire", "loop"], ["", "wire"], ["wire"]])
@pytest.mark.parametrize("step", ["s", "ms"])
def test_receptions_that_differ_in_one_thing_are_all_told_apart(setups, step):
    """All combinations, seconds or milliseconds apart: none repeats another, and written twice half of them do."""
    start = pd.Timestamp("2026-05-16T20:04:00")
    times = [(start + pd.Timedelta(k, step)).isoformat() for k in (0, 1, 2)]
    things = itertools.product(
        times, ["DL2QTC", "F5QSA", "G4QTC"], ["JN58td", "JN57td", "IO51es"], ["20m", "40m"], ["", "EI4QTB"], setups
    )
    names = ("time_utc", "rx_call", "rx_locator", "band", "tx_call", "setup")
    rows = [dict(zip(names, each, strict=True)) for each in things]
    assert judged(*rows).counts == Counts(len(rows), len(rows), 0, 0)
    assert judged(*rows, *rows[::-1]).counts == Counts(2 * len(rows), len(rows), 0, len(rows))
    table = vet(raw(*rows), now=NOW).spots
    alike = len(setups)
    assert duplicates.maybe(table).all() == (alike > 1) and duplicates.maybe(table).any() == (alike > 1)


@given(st.lists(st.tuples(st.integers(0, 2**40 - 1), st.integers(0, 2**40 - 1), st.integers(0, 6)), max_size=20))
def test_crossed_codes_are_small_whole_numbers_and_as_distinct(rows):
    """Also where the sizes multiplied pass what an integer holds."""
    rows = [*rows, (2**40 - 1, 2**40 - 1, 6), (2**40 - 1, 0, 0), (0, 2**40 - 1, 0), (0, 0, 6), (0, 0, 0)]
    a, b, c = (np.array(part, dtype=np.int64) for part in zip(*rows, strict=True))
    for parts in ([(a, 2**40), (b, 2**40), (c, 7)], [(c, 7), (a, 2**40), (b, 2**40)], [(c, 7), (c, 7)]):
        keys = duplicates._crossed(parts)
        assert ((keys >= 0) & (keys < 2**62)).all()
        distinct = list(zip(*(part.tolist() for part, _ in parts), strict=True))
        assert len(set(keys.tolist())) == len(set(distinct)) == len(set(zip(keys.tolist(), distinct, strict=True)))


def test_times_are_steps_from_the_earliest():
    """In whole seconds where all are; a missing one takes any place among them."""
    times = pd.Series(
        pd.to_datetime(["2026-05-16T20:04:02", "2026-05-16T20:04:00", None, "2026-05-16T20:04:07"])
    ).dt.tz_localize("UTC")
    steps, size = duplicates._moments(times)
    assert steps[:][[0, 1, 3]].tolist() == [2, 0, 7] and size == 8 and 0 <= steps[:][2] < 8
    steps, size = duplicates._moments(times + pd.to_timedelta([0, 0, 0, 1], unit="us"))
    assert steps[:][[0, 1, 3]].tolist() == [2_000_000, 0, 7_000_001] and size == 7_000_002
    steps, size = duplicates._moments(times.iloc[2:])
    assert steps[:].tolist() == [0, 0] and size == 1
    steps, size = duplicates._moments(times.iloc[2:3])
    assert steps[:].tolist() == [0] and size == 1


def test_what_is_told_of_a_row_that_repeats_another():
    """The row that is kept by its line, by its file too where there are several; both SNRs where they differ."""
    rows = [
        {"snr_db": "-14.5"},
        {"snr_db": "-12"},
        {"snr_db": "-12", "rx_call": "F5QSA"},
        {"snr_db": "-12", "rx_call": "F5QSA"},
    ]
    columns = ["line", "rule", "value", "other", "kept_source", "kept_line"]
    assert judged(*rows).problems[columns].to_numpy().tolist() == [
        [2, "duplicate-conflict", "-14.5", "-12", "", 3], [5, "duplicate", "", "", "", 4],
    ]  # fmt: skip
    rows[1] |= {"source": "june.csv"}
    assert judged(*rows).problems[columns].to_numpy().tolist() == [
        [2, "duplicate-conflict", "-14.5", "-12", "june.csv", 3], [5, "duplicate", "", "", "may.csv", 4],
    ]  # fmt: skip


def test_once_keeps_each_reception_of_a_table_of_sound_rows():
    spots = vet(raw({}, {"rx_call": "F5QSA"}), now=NOW).spots
    twice = pd.concat([spots, spots], ignore_index=True)
    for name in ("rx_call", "rx_locator", "band", "source"):
        twice[name] = twice[name].astype("category")
    kept = once(twice)
    assert kept.counts == Counts(4, 2, 0, 2) and kept.rows.tolist() == [0, 1]
    assert kept.newest_utc == pd.Timestamp("2026-05-16T20:04Z")
    assert once(twice, np.array([True, True, False, True])).counts == Counts(4, 3, 0, 1)
    assert once(twice.iloc[:0]).newest_utc is None


# ---------------------------------------------------------------------------------------------------------------- fixes


def test_the_header_tells_what_parts_the_cells(tmp_path):
    """Not the rows, in which a reason may have more commas than there are semicolons."""
    path = tmp_path / "fixes.csv"
    path.write_text(
        "callsign;locator;suggestion;reason;rows;accept\nDL2QTC;JNO8td;JN08td;a, b, c, d, e, f, g, h;1;yes\n"
    )
    assert [fix.becomes for fix in fixes.read(path)] == ["JN08td"]
    path.write_text("callsign\tlocator\tsuggestion\treason\trows\taccept\nDL2QTC\tJNO8td\tJN08td\ta, b; c\t1\ty\n")
    assert [fix.becomes for fix in fixes.read(path)] == ["JN08td"]


@pytest.mark.parametrize(
    ("accept", "taken"),
    [("yes", "JN08td"), ("Y", "JN08td"), ("no", None), ("N", None), ("", None), ("JN18td", "JN18td")],
)
def test_what_an_answer_means(tmp_path, accept, taken):
    path = tmp_path / "fixes.csv"
    path.write_text(f"callsign,locator,suggestion,reason,rows,accept\nDL2QTC,JNO8td,JN08td,x,1,{accept}\n")
    assert [fix.becomes for fix in fixes.read(path)] == ([taken] if taken else [])
    assert fixes.is_decided({"accept": accept}) == (accept != "") and not fixes.is_decided({})


# --------------------------------------------------------------------------------------------------------------- ledger


def test_a_closed_row_takes_no_more_and_others_do():
    book = Ledger(4)
    book.add(np.array([1]), Finding("row-blank", REJECTED), close=True)
    book.add(np.array([0, 1, 2]), Finding("snr-blank", REJECTED))
    book.add_each(
        np.array([1, 2, 3]), np.array([0, 1, 0]), [Finding("power-range", NOTE, "a"), Finding("power-range", NOTE, "b")]
    )
    book.add_each(np.array([1]), np.array([0]), [Finding("time-blank", REJECTED)])
    part = book.part()
    part.add(np.array([0, 1]), Finding("band-blank", REJECTED))
    book.take(part)
    table = raw({}, {}, {}, {})
    found = book.problems(table)
    assert found[["line", "rule", "value"]].to_numpy().tolist() == [
        [2, "snr-blank", ""], [2, "band-blank", ""], [3, "row-blank", ""], [4, "snr-blank", ""], [4, "power-range", "b"],
        [5, "power-range", "a"],
    ]  # fmt: skip
    assert book.rejected.tolist() == [True, True, True, False]
    assert book.rows().tolist() == [0, 0, 1, 2, 2, 3]
    assert set(found["kept_line"]) == {0} and list(found) == list(PROBLEMS)


def test_cells_that_were_rewritten_are_quoted_as_the_file_has_them():
    """Where the finding is about a number or a band, and only there."""
    table = raw({"snr_db": "-99"}, {"snr_db": "-98", "band": "x"}, {"snr_db": "-97"}, {"rx_locator": "-12"})
    table[f"snr_db{WRITTEN}"] = pd.Categorical(["=-99", "", " ", "-12!"])
    table[f"band{WRITTEN}"] = pd.Categorical(["20 m", "x!", "20m", "20m"])
    found = vet(table, now=NOW).problems
    assert found[["line", "rule", "value"]].to_numpy().tolist() == [
        [2, "snr-range", "=-99"], [3, "snr-range", "-98"], [3, "band-unreadable", "x!"], [4, "snr-range", "-97"],
        [5, "locator-no-locator", "-12"],
    ]  # fmt: skip


def test_problems_of_several_steps_stand_by_file_then_line():
    """Files in the order read; what names no file of the table comes last, and one table stays as it is."""
    table = raw({"source": "z.csv"}, {"source": "a.csv"})
    table["source"] = table["source"].cat.set_categories(["z.csv", "a.csv"])

    def of(*rows):
        return ledger.no_problems(len(rows)).assign(source=[each[0] for each in rows], line=[each[1] for each in rows])

    one, two = of(("a.csv", 3), ("z.csv", 9), (None, 1)), of(("z.csv", 2), ("a.csv", 3))
    both = ledger.in_file_order(table, one.assign(rule="one"), ledger.no_problems(0), two.assign(rule="two"))
    assert both[["source", "line", "rule"]].fillna("").to_numpy().tolist() == [
        ["z.csv", 2, "two"], ["z.csv", 9, "one"], ["a.csv", 3, "one"], ["a.csv", 3, "two"], ["", 1, "one"],
    ]  # fmt: skip
    assert len(ledger.in_file_order(table, ledger.no_problems(0))) == 0
    marked = of(("a.csv", 1)).assign(severity=REJECTED, rule="duplicate-conflict")
    assert ledger.is_rejected(marked).tolist() == [True] == ledger.is_duplicate(marked).tolist()
    assert ledger.is_rejected(one).tolist() == [False] * 3 == ledger.is_duplicate(one).tolist()


class InParts(ledger.Problems):
    """Gone through piece by piece, as those of a collection are; the last is not to be asked for."""

    def parts(self):
        yield self.table.iloc[:2].reset_index(drop=True)
        yield self.table.iloc[2:3].reset_index(drop=True)
        yield self.table.iloc[3:].reset_index(drop=True)
        raise AssertionError("more was asked for than is wanted")


@pytest.mark.parametrize("rows", range(5))
def test_the_first_problems_are_the_same_in_one_piece_and_in_several(rows):
    table = ledger.no_problems(5).assign(line=range(5))
    for whole in (ledger.Problems(table), InParts(table)):
        pd.testing.assert_frame_equal(whole.head(rows), table.head(rows))


def test_problems_are_counted_the_most_frequent_first_then_by_name():
    rules = [
        ("snr-range", REJECTED),
        ("callsign-blank", REJECTED),
        ("power-range", NOTE),
        *[("band-blank", REJECTED)] * 2,
    ]
    table = ledger.no_problems(5).assign(**dict(zip(("rule", "severity"), zip(*rules, strict=True), strict=True)))
    found = ledger.Problems(table)
    assert list(found.counted.items()) == [
        (("band-blank", REJECTED), 2), (("callsign-blank", REJECTED), 1), (("power-range", NOTE), 1), (("snr-range", REJECTED), 1),
    ]  # fmt: skip
    assert found.rejecting == {"band-blank": 2, "callsign-blank": 1, "snr-range": 1} and len(found) == 5


def test_problems_before_any_is_filled_in_are_blank():
    none = ledger.no_problems(3)
    assert {name: str(dtype) for name, dtype in none.dtypes.items()} == {
        name: dtype for name, (dtype, _) in PROBLEMS.items()
    }
    for name, (dtype, _) in PROBLEMS.items():
        assert none[name].tolist() == [{"str": "", "int64": 0, "object": None}[dtype]] * 3


# ---------------------------------------------------------------------------------------------------------------- rules


def test_the_station_speaks_where_a_row_is_silent_and_nobody_where_there_is_none():
    rows = [
        {"tx_call": "", "tx_locator": "", "power_w": "", "power_dbm": ""},
        {"tx_call": "ei4qtb", "power_w": "", "power_dbm": "30", "rx_call": "F5QSA"},
    ]
    spots = judged(*rows, station=Station(callsign=" ei4qtb/p ", locator="IO51", power_w=5)).spots
    assert spots["tx_call"].tolist() == ["EI4QTB/P", "EI4QTB"] and spots["tx_locator"].tolist() == ["IO51", "IO51"]
    assert spots["power_w"].tolist() == [5, 1]
    spots = judged(*rows, station=Station(callsign=" ", locator=" ")).spots
    assert spots["tx_call"].isna().tolist() == [True, False] and spots["tx_locator"].isna().all()
    assert spots["power_w"].isna().tolist() == [True, False]


def test_the_first_fault_of_each_kind_is_that_of_its_row():
    rows = [
        {"fault": "row-length 2 5"},
        {},
        {"fault": "row-length 7 5"},
        {"fault": "row-length 2 5"},
        {"fault": "row-quote"},
    ]
    found = judged(*rows).problems[["line", "rule", "value", "other"]].to_numpy().tolist()
    assert found == [
        [2, "row-length", "2", "5"],
        [4, "row-length", "7", "5"],
        [5, "row-length", "2", "5"],
        [6, "row-quote", "", ""],
    ]


def test_a_row_is_blank_where_all_it_needs_is():
    """One cell that says anything is enough to be told what else is missing."""
    blank = dict.fromkeys(SOUND, "")
    assert said(judged({}, blank | {"band": "20m"})) == [(3, "row-blank", "rejected")]
    assert said(judged({}, dict.fromkeys(SOUND, None))) == [
        (3, "row-blank", "rejected")
    ]  # cells that are not there at all
    for name in ("time_utc", "rx_call", "rx_locator", "snr_db"):
        rules = [rule for _, rule, _ in said(judged(blank, blank | {name: SOUND[name]}))]
        assert rules.count("row-blank") == 1 and len(rules) == 5, name


SHIFTED, PLAIN = "2026-05-16T22:04:0{}+02:00", "2026-05-16 20:04:0{}"


@pytest.mark.parametrize(
    ("times", "lines"),
    [
        ([SHIFTED], [2]), ([SHIFTED, SHIFTED], [2]), ([PLAIN, SHIFTED, SHIFTED], [3, 4]), ([PLAIN, PLAIN], []),
        ([SHIFTED, PLAIN], [2]),
    ],
)  # fmt: skip
def test_offsets_are_noted_once_where_all_times_of_a_file_have_one(times, lines):
    found = judged(*({"time_utc": time.format(k)} for k, time in enumerate(times))).problems
    assert found["line"].tolist() == lines
    assert found["other"].tolist() == [
        str(len(times)) if len(lines) == 1 and len(times) == 2 and times[1] == SHIFTED else ""
    ] * len(lines)


def test_a_part_of_a_file_is_told_of_the_whole():
    """The note stands on the line where the first of all is, though another part may begin with one."""
    from reach.vet.rules import sound

    table = raw(*({"time_utc": SHIFTED.format(k), "line": 5 + k} for k in range(3)))
    for first, noted in ((5, [5]), (4, []), (6, [])):
        told = sound(table, now=NOW, of={"may.csv": Offsets(9, 9, first)}).problems
        assert told["line"].tolist() == noted and (told["other"] == "9").all()
    assert sound(table, now=NOW, of={"may.csv": Offsets(9, 8, 4)}).problems["line"].tolist() == [5, 6, 7]


def test_the_newest_time_counts_rejected_rows_too():
    vetted = judged({}, {"time_utc": "2026-07-01 00:00"}, {"time_utc": "x"})
    assert vetted.newest_utc == pd.Timestamp("2026-07-01T00:00Z") and judged({"time_utc": "x"}).newest_utc is None

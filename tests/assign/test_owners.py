"""Whose rows: each rule by an example, conservation as a law, and speed by vocabulary."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.assign import owners
from reach.assign.owners import Direction, base, own, rows_of
from reach.base.words import TERMINAL
from reach.errors import InputError
from reach.findings import InputFile, NoteCode
from reach.read import understood
from reach.study import Station
from reach.tell.sentences import notes as said

ME, OTHER = "EI4QTB", "EI9QUC"
SENT, HEARD = Direction.SENT, Direction.HEARD


def raw(*rows: tuple[str, str], **more: list[str]) -> pd.DataFrame:
    """A raw table of (transmitter, receiver), lines counted from 2."""
    tx, rx = zip(*rows, strict=True)
    table = {"tx_call": tx, "rx_call": rx, "source": ["a.csv"] * len(rows), "line": range(2, 2 + len(rows)), **more}
    return pd.DataFrame(table)


def lines(table: pd.DataFrame) -> list[int]:
    return table["line"].tolist()


MIXED = raw((ME, "G3QSA"), (OTHER, "G3QSA"), ("DL1QTC", ME), ("", "F5QRE"), (f"{ME}/P", "F5QRE"), (OTHER, "F5QRE"))


# ------------------------------------------------------------------------------------------------------- own rows


def test_own_rows_are_kept_and_the_others_counted():
    found = own(MIXED, Station(callsign=ME))
    assert lines(found.raw) == [2, 5, 6], "own, blank, own with a stroke: in file order"
    assert found.other == {OTHER: 2} and found.opposite == 1 and found.set_aside == 3
    assert lines(found.aside) == [3, 7]
    assert [note.code for note in found.notes] == [NoteCode.OTHERS_SET_ASIDE, NoteCode.OPPOSITE_SET_ASIDE]
    assert said.note(found.notes[0], TERMINAL) == (f"2 rows are reports of other transmitters ({OTHER} 2): set aside.")


def test_what_the_station_heard_is_turned_round():
    found = own(MIXED.assign(tx_locator="JN58td", rx_locator="IO51es"), Station(callsign=ME), direction=HEARD)
    assert lines(found.raw) == [4]
    assert found.raw.loc[0, ["rx_call", "tx_call"]].tolist() == ["DL1QTC", ME]
    assert found.raw.loc[0, ["rx_locator", "tx_locator"]].tolist() == ["JN58td", "IO51es"]
    # Its own transmissions (strokes apart) are the other direction; what G3QSA and F5QRE heard is of other receivers.
    assert found.opposite == 2 and found.other == {"F5QRE": 2, "G3QSA": 1}


def test_a_table_without_transmitters_is_all_ones_own():
    table = raw(("", "G3QSA"), ("", "F5QRE")).drop(columns="tx_call")
    for station in (Station(), Station(callsign=ME)):
        found = own(table, station)
        assert found.raw is table and found.set_aside == 0
    assert own(table, Station(callsign="ei4qtb/p")).own == (ME,)


def test_one_transmitter_is_taken_and_told():
    found = own(raw((ME, "G3QSA"), (ME.lower(), "F5QRE")), Station())
    assert found.own == (ME,) and lines(found.raw) == [2, 3]
    assert said.note(found.notes[0], TERMINAL) == (
        f"No callsign was given; {ME}, the only transmitter, was taken for the station."
    )


def test_several_transmitters_are_asked_about_with_counts():
    table = raw((ME, "G3QSA"), (OTHER, "G3QSA"), (OTHER, "F5QRE"))
    with pytest.raises(InputError, match=rf"2 transmitters: {OTHER} \(2 rows\), {ME} \(1 rows\); say whose"):
        own(table, Station())
    with pytest.raises(InputError, match="2 receivers: G3QSA"):
        own(table, Station(), direction=HEARD)


def test_the_station_s_locator_tells_its_callsign():
    table = raw((ME, "G3QSA"), (OTHER, "G3QSA"), (ME, "F5QRE"), tx_locator=["IO51es", "IO63wf", "io51ES"])
    assert lines(own(table, Station(locator="IO51es")).raw) == [2, 4]


def test_all_heard_by_one_is_what_that_one_heard():
    """The commonest mistake: an export of what the station heard, and nothing said of it."""
    table = raw(("DL1QTC", ME), ("F5QRE", ME), ("G3QSA", ME))
    with pytest.raises(InputError, match=f"what {ME} heard is studied with direction='heard'"):
        own(table, Station())
    with pytest.raises(
        InputError, match=f"every row is what {ME} heard, none what others heard of it; .* with direction='heard'"
    ):
        own(table, Station(callsign=ME))
    assert lines(own(table, Station(), direction=HEARD).raw) == [2, 3, 4]
    turned = table.rename(columns={"tx_call": "rx_call", "rx_call": "tx_call"})
    with pytest.raises(InputError, match="is studied with direction='sent'"):
        own(turned, Station(callsign=ME), direction=HEARD)


def test_a_callsign_that_sent_nothing_is_an_error_with_those_that_did():
    with pytest.raises(InputError, match=rf"no row was transmitted by EI1QQQ; there are {ME} \(1 rows\)"):
        own(raw((ME, "G3QSA")), Station(callsign="ei1qqq"))
    with pytest.raises(InputError, match="no row was heard by EI1QQQ"):
        own(raw((ME, "G3QSA")), Station(callsign="EI1QQQ"), direction=HEARD)


def test_what_the_station_heard_is_never_its_own_report():
    """Even where another column says that it transmitted: a loop of one's own signal."""
    found = own(raw((ME, ME), (ME, "G3QSA")), Station(callsign=ME))
    assert lines(found.raw) == [3] and found.opposite == 1


def test_two_callsigns_on_the_air_at_once_are_two_setups():
    table = raw((ME, "G3QSA"), (OTHER, "G3QSA"), ("DL1QTC", "G3QSA"))
    for station in (Station(), Station(callsign=ME)):
        found = own(table, station, setups=(ME, OTHER))
        assert lines(found.raw) == [2, 3] and found.other == {"DL1QTC": 1}
    # A third station that compares these two in its own study does not own them.
    with pytest.raises(InputError):
        own(table, Station(callsign="EI1QQQ"), setups=(ME, OTHER))
    assert lines(own(table, Station(callsign=ME), setups=("vertical", "wire")).raw) == [2]


@pytest.mark.parametrize("text", ["", " ", "?", "transmitter", "total", "---", "12"])
def test_a_cell_that_names_nobody_is_left_to_vetting(text):
    """A repeated header or a total is no other transmitter, in either direction."""
    found = own(raw((ME, "G3QSA"), (text, "F5QRE")), Station(callsign=ME))
    assert lines(found.raw) == [2, 3] and found.set_aside == 0
    found = own(raw(("G3QSA", ME), ("F5QRE", text)), Station(callsign=ME), direction=HEARD)
    assert lines(found.raw) == [2, 3] and found.set_aside == 0


@pytest.mark.parametrize(
    ("text", "whose"),
    [
        ("EI4QTB", "EI4QTB"),
        (" ei4qtb/p ", "EI4QTB"),
        ("F/EI4QTB/P", "EI4QTB"),
        ("EA8/DL1QTC", "DL1QTC"),
        ("W1QSA/KH6", "W1QSA"),
        ("3D2/K1Q", "K1Q"),
        ("EI4QTB/5", "EI4QTB"),
        ("SWL-1234", "SWL-1234"),
        ("", ""),
    ],
)
def test_the_callsign_between_strokes(text, whose):
    assert base(text) == whose


def test_one_receiver_is_one_path():
    found = own(raw((ME, "G3QSA"), (ME, "G3QSA/P")), Station(callsign=ME))
    assert [said.note(note, TERMINAL) for note in found.notes] == ["G3QSA is the only receiver: this is one path."]
    assert own(raw((ME, "G3QSA"), (ME, "F5QRE")), Station(callsign=ME)).notes == ()


# ------------------------------------------------------------------------------------------------------ the control


def test_a_transmitter_that_was_set_aside_can_be_the_control():
    found = own(MIXED, Station(callsign=ME))
    assert lines(rows_of(found, f"{OTHER.lower()}/P")) == [3, 7]
    with pytest.raises(InputError, match=f"'DL9QXY' is no file and no transmitter .*: {OTHER}"):
        rows_of(found, "DL9QXY")


def test_the_control_of_a_station_that_heard_is_another_receiver():
    table = raw(("DL1QTC", ME), ("DL1QTC", OTHER))
    control = rows_of(own(table, Station(callsign=ME), direction=HEARD), OTHER)
    assert control.loc[0, ["rx_call", "tx_call"]].tolist() == ["DL1QTC", OTHER]


# ---------------------------------------------------------------------------- where no header says who transmitted


def file(said: bool = False, s_tx_hz: float = 11.0, s_rx_hz: float = 11.0, name: str = "a.csv") -> InputFile:
    direction = understood.Direction(said, s_tx_hz, s_rx_hz, (9, 9))
    told = understood.Understood.__new__(understood.Understood)
    object.__setattr__(told, "source", name)
    object.__setattr__(told, "direction", direction)
    return InputFile(name, "", 2, understood=told)


@pytest.mark.parametrize(
    "kept",
    [
        file(said=True, s_tx_hz=100.0),
        file(s_tx_hz=11.0, s_rx_hz=100.0),
        file(s_tx_hz=float("nan"), s_rx_hz=float("nan")),
        file(s_tx_hz=44.0, s_rx_hz=10.0),
        InputFile("a.csv", "", 2),
    ],
)
def test_ends_stay_where_header_or_frequencies_agree_or_say_nothing(kept):
    table, told = owners.ends_told(MIXED, [kept], ME)
    assert table is MIXED and told == ()


def test_ends_are_exchanged_where_the_frequencies_say_so():
    table = pd.concat([raw(("DL1QTC", ME)), raw(("DL2QTC", ME)).assign(source="b.csv")], ignore_index=True)
    turned, (note,) = owners.ends_told(table, [file(s_tx_hz=100.0), file(name="b.csv")], ME)
    assert turned["tx_call"].tolist() == [ME, "DL2QTC"] and turned["rx_call"].tolist() == ["DL1QTC", ME]
    assert "lie 11 Hz apart one way round and 100 Hz the other" in said.note(note, TERMINAL)
    assert owners.ends_told(table, [file(s_tx_hz=100.0)], "")[0] is table, "without a callsign nothing can be told"


def test_ends_are_asked_about_where_neither_way_is_one_transmitter():
    with pytest.raises(InputError, match=r"a\.csv: no header says who transmitted.* 100 Hz apart"):
        owners.ends_told(MIXED, [file(s_tx_hz=100.0, s_rx_hz=30.0)], ME)


# ---------------------------------------------------------------------------------------------------------- laws

CALLS = st.sampled_from([ME, f"{ME}/P", OTHER, "G3QSA", "", "?", "F5QRE"])
ROWS = st.lists(st.tuples(CALLS, CALLS), min_size=1, max_size=30)


@given(rows=ROWS, direction=st.sampled_from(Direction), call=st.sampled_from([ME, OTHER, "G3QSA"]))
def test_no_row_is_lost_and_all_stay_in_file_order(rows, direction, call):
    table = raw(*rows)
    before = table.copy()
    try:
        found = own(table, Station(callsign=call), direction=direction)
    except InputError:
        here = "tx_call" if direction is SENT else "rx_call"
        names = table[here].map(base)
        far = table["rx_call" if direction is SENT else "tx_call"].map(base)
        assert not ((names == call) & (far != call)).any(), "there were own rows"
        return
    assert len(found.raw) + found.set_aside == len(table)
    assert sum(found.other.values()) == len(found.aside)
    assert list(found.other.values()) == sorted(found.other.values(), reverse=True)
    assert lines(found.raw) == sorted(lines(found.raw)) and lines(found.aside) == sorted(lines(found.aside))
    assert not set(lines(found.raw)) & set(lines(found.aside))
    pd.testing.assert_frame_equal(table, before)


@given(rows=ROWS)
def test_the_two_directions_are_mirror_images(rows):
    """What is heard in a table is what is sent in the table with its ends exchanged."""
    table = raw(*rows)
    mirrored = table.rename(columns={"rx_call": "tx_call", "tx_call": "rx_call"})
    try:
        sent = own(mirrored, Station(callsign=ME))
    except InputError:
        with pytest.raises(InputError):
            own(table, Station(callsign=ME), direction=HEARD)
        return
    heard = own(table, Station(callsign=ME), direction=HEARD)
    assert lines(heard.raw) == lines(sent.raw) and heard.other == sent.other and heard.opposite == sent.opposite
    for name in ("rx_call", "tx_call"):
        assert heard.raw[name].tolist() == sent.raw[name].tolist()


def test_rows_cost_what_their_few_names_cost(monkeypatch):
    """A callsign is looked at a few times, however many rows it stands in."""
    asked = Counter()
    base = owners.base
    monkeypatch.setattr(owners, "base", lambda text: asked.update([text]) or base(text))
    rng = np.random.default_rng(1)
    calls = pd.Index([f"G{k % 10}Q{chr(65 + k // 26 % 26)}{chr(65 + k % 26)}" for k in range(60)])
    table = pd.DataFrame(
        {
            "tx_call": pd.Categorical.from_codes(rng.integers(0, 2, 20_000), [ME, OTHER]),
            "rx_call": pd.Categorical.from_codes(rng.integers(0, len(calls.unique()), 20_000), calls.unique()),
        }
    )
    found = own(table, Station(callsign=ME))
    assert len(found.raw) + found.set_aside == 20_000
    assert set(asked) >= {ME, OTHER} and max(asked.values()) < 10


def test_owned_is_a_record():
    found = own(MIXED, Station(callsign=ME))
    assert replace(found, opposite=0).set_aside == 2

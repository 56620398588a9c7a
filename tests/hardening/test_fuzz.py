"""Fuzzed exports: `fuzz.py` throws a million; here some hundred, and it is seen that its questions can be answered wrongly."""

from __future__ import annotations

import pytest

from tests.hardening import fuzz

SEED = 7


@pytest.mark.parametrize("hundred", range(3))
def test_fuzzed_exports_are_read_the_same_both_ways_and_nothing_is_lost(tmp_path, hundred):
    for number in range(hundred * 100, hundred * 100 + 100):
        data = fuzz.case(number, SEED)
        assert not fuzz.both_ways(data), data
        assert not fuzz.whole_way(tmp_path / "spots.csv", data), data


def test_a_line_that_is_in_no_row_is_seen():
    text = "a,b\nc,d\n\ne,f\n"
    assert not fuzz.lost_lines(text, [1, 2, 4])
    assert fuzz.lost_lines(text, [1, 4]) and fuzz.lost_lines(text, [2, 4]) and fuzz.lost_lines(text, [1, 2])
    assert fuzz.lost_lines(text, [1, 2, 2, 4])


def test_a_cell_over_lines_hides_none():
    assert not fuzz.lost_lines('a,"b\nc"\nd,e\n', [1, 3])
    assert fuzz.lost_lines('a,"b\nc"\nd,e\n', [1])
    # A blank line behind the row is none of it, whatever it is made of.
    assert not fuzz.lost_lines('a,"b\nc"\n""\x85\nd,e\n', [1, 4])
    assert fuzz.lost_lines('a,"b\nc"\nx""\x85\nd,e\n', [1, 4])

"""A text that is written anew is the same wherever it is cut."""

from __future__ import annotations

import re

import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.read import dialect, layout
from reach.read.dialect import Dialect

ENDS = st.sampled_from(("\n", "\r\n", "\r"))
IN_QUOTES = ('"a,b,c"', '"a,b,""x"""', '"é,,"')


def written_anew(text: str, mark: str, size: int, *, wrapped: bool = False) -> str:
    form = Dialect(mark, ("a", "b", "c"), 1, wrapped=wrapped)
    found, _ = layout.plain_text(pa.py_buffer(text.encode()), form, size=size)
    return bytes(found.slice().to_pybytes()).decode()


@st.composite
def texts(draw: st.DrawFn, lines: st.SearchStrategy[str]) -> str:
    """Lines with ends of every kind, the last with one or none."""
    ended = [line + draw(ENDS) for line in draw(st.lists(lines, max_size=8))]
    return "".join(ended) + draw(st.one_of(st.just(""), lines))


@given(texts(st.text(st.sampled_from("ab  \té"), max_size=9)), st.integers(1, 40))
@pytest.mark.parametrize(("mark", "apart"), [(dialect.BLANKS, " {2,}"), (dialect.BLANK, "[ \t]+")])
def test_columns_set_with_blanks_are_set_with_tabs_line_by_line(mark, apart, text, size):
    expected = "".join(re.sub(apart, "\t", line.strip(" ")) + "\n" for line in text.splitlines())
    assert written_anew(text, mark, size) == expected


@given(texts(st.sampled_from(IN_QUOTES)), st.integers(1, 40))
def test_lines_that_stand_in_quotes_lose_them(text, size):
    expected = "".join(line[1:-1].replace('""', '"') + "\n" for line in text.splitlines())
    assert written_anew(text, ",", size, wrapped=True) == expected


@pytest.mark.parametrize("in_quotes", [8, 9])
def test_a_text_of_which_some_lines_stand_in_quotes_stays_as_it_is(in_quotes):
    """Where one in ten does not, the others do by the way."""
    text = "".join(f"{IN_QUOTES[0]}\n" if k < in_quotes else "a,b,c\n" for k in range(10))
    assert (written_anew(text, ",", 11, wrapped=True) == text) == (in_quotes == 8)

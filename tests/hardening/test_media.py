"""Hostile text in what is written: a spreadsheet works nothing out, and what it holds reads back."""

from __future__ import annotations

import csv
import io
import zipfile

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.base import text
from reach.read import cells
from reach.tell import tables
from reach.vet import fixes

FORMULAS = ["=1+1", "+1+cmd", "-1+2", "@SUM(A1)", '=HYPERLINK("x")', "\t=1", "-a", "+", "=\n1"]
NUMBERS = ["-21", "+3", "-3.5", "-1e-5", "-", "--", "14,15"]


def test_formulas_stand_behind_an_apostrophe_and_numbers_do_not():
    assert all(text.as_cell(each) == f"'{each}" for each in FORMULAS if each != "+")
    assert all(text.as_cell(each) == each for each in NUMBERS)


@given(st.text(max_size=20))
def test_cells_read_back(given):
    assert text.from_cell(text.as_cell(given)) == given or given.startswith("'")
    assert cells.tidy(text.as_cell(given)) == cells.tidy(given) or given.startswith(("=", "'"))


@pytest.mark.parametrize("kind", ["str", "category", "object"])
def test_no_cell_of_a_table_is_a_formula(tmp_path, kind):
    given = [*FORMULAS, *NUMBERS, "plain"]
    tables.write_csv(pd.DataFrame({"=x": pd.Series(given, dtype=kind)}), tmp_path / "a.csv")
    with (tmp_path / "a.csv").open(encoding="utf-8", newline="") as file:
        header, *rows = csv.reader(file)
    assert header == ["'=x"]
    assert [text.from_cell(row[0]) for row in rows] == given
    assert not [row for row in rows if row[0].startswith(("=", "+", "-", "@", "\t")) and row[0] not in {*NUMBERS, "+"}]


def test_a_fix_of_a_callsign_that_looks_like_a_formula_still_fits(tmp_path):
    path = tmp_path / "fixes.csv"
    path.write_text("callsign,locator,suggestion,reason,rows,accept\n'=EI4QTB,'-IO51,IO51es,x,1,yes\n")
    raw = pd.DataFrame({"rx_call": pd.Categorical(["=EI4QTB"]), "rx_locator": pd.Categorical(["-IO51"])})
    changed, applied = fixes.apply(raw, fixes.read(path))
    assert applied.rows == 1 and list(changed["rx_locator"]) == ["IO51es"]


def test_names_of_setups_are_no_formulas_behind_a_chart():
    from pptx.chart.data import CategoryChartData

    from reach.tell.deck import editable

    assert "as_cell" in editable._chart.__code__.co_names
    data = CategoryChartData()
    data.categories = [text.as_cell("=1+1")]
    data.add_series(text.as_cell("=2+2"), [1])
    from pptx.chart.xlsx import CategoryWorkbookWriter

    with zipfile.ZipFile(io.BytesIO(CategoryWorkbookWriter(data).xlsx_blob)) as book:
        assert b"<f>" not in book.read("xl/worksheets/sheet1.xml")

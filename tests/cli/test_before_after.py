"""`reach compare --before --after`: a step that cannot be taken back, beside controls from the same export."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from reach.cli.compare import command
from reach.errors import InputError, StudyError
from tests.cli.answers import after_the_rows
from tests.conftest import SAMPLES

FILES = (str(SAMPLES / "season.csv"), "--callsign", "EI4QTB/P", "--locator", "IO51es")


def told(*args: str) -> str:
    result = CliRunner().invoke(command, [*FILES, *args], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output if "--json" in args else after_the_rows(result.output)


def test_the_step_is_sized_beside_controls_by_name_and_they_head_the_answer():
    first, *rest = told("--before", "2026-04-02", "--control", "EI9QUC", "--control", "EI7QTD").splitlines()
    assert first.startswith("before was ") and "stronger than after, measured against EI9QUC and EI7QTD" in first
    assert any("beside EI9QUC alone" in line for line in rest)
    assert not any("Alternate" in line for line in rest)


def test_nobody_named_takes_those_that_serve_and_leaves_out_the_one_that_changed():
    found = json.loads(told("--before", "2026-04-02", "--after", "2026-04-03", "--json"))
    assert found["controls"] == ["EI7QTD", "EI9QUC"]
    assert found["low_db"] < -4.0 < found["high_db"] or found["low_db"] < -3.0 < found["high_db"]
    assert "EI8QUE" in " ".join(found["sentences"])


@pytest.mark.parametrize(
    ("args", "error", "says"),
    [
        (("--before", "2026-04-02", "--a", "wire"), StudyError, "take the place of"),
        (("--before", "2026-04-09", "--after", "2026-04-02"), StudyError, "would be both"),
        (("--before", "2026-04-02", "--control", "EI1QRA"), InputError, "is no file and no transmitter"),
    ],
)
def test_what_cannot_be_is_one_sentence(args, error, says):
    with pytest.raises(error, match=says):
        told(*args)


def test_a_day_that_is_none_is_said():
    result = CliRunner().invoke(command, [*FILES, "--before", "soon"])
    assert result.exit_code == 2 and "--before: 'soon' is no day or time" in result.output


def test_without_any_control_it_is_refused():
    found = told("--before", "2026-03-02", "--control", "EI9QUC")  # one day before: no three of each
    assert found.startswith("Cannot tell")

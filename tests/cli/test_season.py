"""`reach season` as it is called: by name, by file, from a study; what it writes and what it refuses."""

from __future__ import annotations

import json

import pandas as pd
import pytest
from click.testing import CliRunner

from reach.cli.season import command
from reach.errors import InputError, OutputError
from tests.cli.answers import after_the_rows
from tests.conftest import SAMPLES

ME = ("--callsign", "EI4QTB/P", "--locator", "IO51es")
NAMED = ("--control", "EI9QUC", "--control", "EI7QTD", "--control", "EI8QUE")


def told(*args: str) -> str:
    result = CliRunner().invoke(command, list(args), catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output if "--json" in args else after_the_rows(result.output)


@pytest.fixture(scope="module")
def study() -> str:
    return told(str(SAMPLES / "season.toml"))


def test_a_study_says_the_step_the_log_and_the_control_that_changed(study):
    first, *rest = study.splitlines()
    assert first.startswith("Since 2 April 2026 (began between") and "weaker" in first
    assert "two others (EI7QTD and EI9QUC)" in first and "Each of them shows it." in first
    assert any(line.startswith("EI8QUE itself changed by +") for line in rest)
    assert sum(line.startswith("Log, ") for line in rest) == 2
    assert rest[-1] == "Made-up demonstration data."


def test_named_controls_and_chosen_ones_are_the_same_here(study):
    by_name = told(str(SAMPLES / "season.csv"), *ME, *NAMED)
    chosen = told(str(SAMPLES / "season.csv"), *ME)
    assert by_name.splitlines()[0] == chosen.splitlines()[0] == study.splitlines()[0]
    assert "Nobody named controls" in chosen and "Nobody named controls" not in by_name


def test_a_control_may_be_a_file_of_its_own(tmp_path):
    rows = pd.read_csv(SAMPLES / "season.csv", dtype=str)
    rows[rows["transmitter"] == "EI4QTB/P"].to_csv(tmp_path / "mine.csv", index=False)
    rows[rows["transmitter"] == "EI9QUC"].to_csv(tmp_path / "theirs.csv", index=False)
    said = told(str(tmp_path / "mine.csv"), *ME, "--control", str(tmp_path / "theirs.csv"))
    assert "nobody can tell which of the two" in said.splitlines()[0]
    alone = told(str(tmp_path / "mine.csv"), *ME)
    assert alone.startswith("Without another station as yardstick") and "`--control`" in alone


def test_json_holds_the_sentences_and_the_csv_every_day(tmp_path):
    out = tmp_path / "days.csv"
    found = json.loads(told(str(SAMPLES / "season.toml"), "--json", "--csv", str(out)))
    assert found["sentences"][0] == found["changes"][-1]["text"] and found["changes"][0]["whose"] == "station"
    table = pd.read_csv(out)
    assert len(table) == len(found["days"]) and list(table["day"]) == [each["day"] for each in found["days"]]
    assert table["log"].notna().sum() == len({each["day"] for each in found["log"]} & set(table["day"]))
    with pytest.raises(OutputError, match="already"):
        told(str(SAMPLES / "season.toml"), "--csv", str(out))


def test_an_unknown_control_is_answered_with_those_there_are():
    with pytest.raises(InputError, match=r"'EI1QRA' is no file and no transmitter .* EI9QUC"):
        told(str(SAMPLES / "season.csv"), *ME, "--control", "EI1QRA")


def test_a_collection_is_watched_as_its_files_are(study, tmp_path):
    from reach.cli.add import command as add

    kept = CliRunner().invoke(add, [str(SAMPLES / "season.csv"), "--to", str(tmp_path / "year"), *ME])
    assert kept.exit_code == 0, kept.output
    assert told(str(tmp_path / "year")).splitlines()[0] == study.splitlines()[0]

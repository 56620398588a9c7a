"""What was read and left out stands before the first finding, also where two setups are compared or weeks are watched."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
from click.testing import CliRunner

from reach import study as studies
from reach.base.ways import Medium
from reach.base.words import TERMINAL
from reach.cli import reach
from reach.errors import CompareError
from reach.tell.sentences import notes as sentences
from reach.walk import walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"


def run(*arguments: str) -> list[str]:
    result = CliRunner().invoke(reach, list(arguments))
    assert result.exit_code == 0, result.output
    return result.output.splitlines()


def test_a_comparison_says_first_where_every_row_went():
    lines = run("compare", str(SAMPLES / "shared.toml"))
    assert lines[0].startswith("896 rows read = 538 accepted + 0 rejected + 0 duplicates + 358 set aside. ")
    assert "333 rows are reports of other transmitters (EI9QUC 333): set aside." in lines[0]


def test_so_do_several_setups_and_a_season():
    assert run("compare", str(SAMPLES / "garden.toml"))[0].startswith("2,104 rows read = 2,104 accepted")
    assert run("season", str(SAMPLES / "season.toml"))[0].startswith("14,613 rows read = 3,670 accepted")


def test_no_row_of_a_control_station_s_own_file_vanishes(tmp_path):
    header, *rows = (SAMPLES / "shared.csv").read_text(encoding="utf-8").splitlines()
    own = [row for row in rows if "EI4QTB" in row]
    beside = [row for row in rows if "EI9QUC" in row]
    broken = [beside[0].replace("2026-", "2026/13-", 1), *beside[1:], beside[5]]
    (tmp_path / "own.csv").write_text("\n".join([header, *own]) + "\n", encoding="utf-8")
    (tmp_path / "control.csv").write_text("\n".join([header, *broken]) + "\n", encoding="utf-8")
    lines = run(
        "compare", str(tmp_path / "own.csv"), "--callsign", "EI4QTB/P", "--locator", "IO51es", "--a", "vertical", "--b", "wire",
        "--schedule", str(SAMPLES / "shared_schedule.csv"), "--control", str(tmp_path / "control.csv"),
    )  # fmt: skip
    count = len(broken)
    told = f"{count} rows read = {count - 2} accepted + 1 rejected + 1 duplicate."
    assert f"Note: Control {tmp_path / 'control.csv'}: {told}" in lines


def test_nobody_is_offered_as_a_control_where_one_is_taken_already():
    asked = (
        "compare", str(SAMPLES / "shared.csv"), "--callsign", "EI4QTB/P", "--locator", "IO51es", "--a", "vertical", "--b", "wire",
        "--schedule", str(SAMPLES / "shared_schedule.csv"),
    )  # fmt: skip
    assert "can serve as a control in a comparison: `--control EI9QUC`" in run(*asked)[0]
    for first in (run(*asked, "--control", "EI9QUC")[0], run("season", str(SAMPLES / "season.toml"))[0]):
        assert "set aside" in first and "--control" not in first


def test_a_control_at_the_same_locator_is_not_said_to_be_no_distance_away(tmp_path):
    spots = pd.read_csv(SAMPLES / "shared.csv", dtype=str)
    assert (spots["transmitter_locator"] != "IO51es").any()
    spots.assign(transmitter_locator="IO51es").to_csv(tmp_path / "shared.csv", index=False)
    first = run("vet", str(tmp_path / "shared.csv"), "--callsign", "EI4QTB/P")
    assert any("EI9QUC, at the same locator and heard by" in line for line in first)


def test_a_report_offers_no_control_to_a_study_that_has_one():
    asked = (str(SAMPLES / "shared.csv"), "--callsign", "EI4QTB/P", "--locator", "IO51es")
    plain = walk(studies.check({"files": [asked[0]], "station": {"callsign": asked[2], "locator": asked[4]}}))
    assert any("`--control EI9QUC`" in said for said in sentences.first(plain.notes, TERMINAL))
    for study in (studies.load(SAMPLES / "shared.toml"), studies.load(SAMPLES / "season.toml")):
        told = sentences.first(walk(study).notes, TERMINAL)
        assert any("set aside" in said for said in told) and not any("--control" in said for said in told)


def test_where_no_row_was_accepted_that_is_said_and_not_that_a_setup_is_unknown(tmp_path):
    rows = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()[:20]
    nowhere = [rows[0], *(row.replace(row.split(",")[2], "AA00", 1) for row in rows[1:])]
    (tmp_path / "nowhere.csv").write_text("\n".join(nowhere) + "\n", encoding="utf-8")
    given = ["compare", str(tmp_path / "nowhere.csv"), "--callsign", "EI4QTB/P", "--locator", "IO51es"]
    schedule = str(SAMPLES / "evening_schedule.csv")
    asked = (
        ("--a", "vertical", "--b", "wire", "--schedule", schedule),
        ("--setup", "vertical", "--setup", "wire", "--setup", "loop", "--schedule", schedule),
        ("--before", "2026-05-10"),
    )
    for each in asked:
        result = CliRunner().invoke(reach, [*given, *each])
        assert isinstance(result.exception, CompareError)
        said = result.exception.said(Medium.OPTION)
        assert said.startswith("there is no spot to compare: of 19 rows 19 were rejected")
        assert said.endswith("on the bands asked for; reach vet says why, row by row")

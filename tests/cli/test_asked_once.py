"""What the user confirms is asked once: two exporters in one collection, each with a question of its own."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from reach import cli
from reach.base.ways import Medium
from reach.errors import ReachError

DAYS = """When;Station;Grid;Rpt;QRG
03/05/2026 18:02;G4QRA;IO91wm;-12;14,0871
03/05/2026 18:04;DL2QRB;JN58td;-15;14,0871
03/05/2026 18:06;F5QSA;JN18du;-9;14,0871
03/05/2026 18:08;OH2QRC;KP20le;-19;14,0871
"""
LOCAL = """Local time,Who,Where,Signal,MHz
2026-05-03 20:02,G4QRD,IO91wm,-12,14.0871
2026-05-03 20:04,DL2QRE,JN58td,-15,14.0871
2026-05-03 20:06,F5QSF,JN18du,-9,14.0871
2026-05-03 20:08,OH2QRG,KP20le,-19,14.0871
"""
FILES = ("days.csv", "local.csv", "--locator", "IO51es")


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "days.csv").write_text(DAYS)
    (tmp_path / "local.csv").write_text(LOCAL)
    return tmp_path


def reach(*args):
    ran = CliRunner().invoke(cli.reach, [str(each) for each in args])
    error = ran.exception
    return ran.exit_code, ran.output + (
        error.said(Medium.OPTION) if isinstance(error, ReachError) else str(error or "")
    )


def test_all_questions_of_all_files_come_at_once_with_the_option_for_each():
    _, said = reach("run", *FILES, "--write-study", "may.toml")
    assert "days.csv: '03/05/2026 18:02' may be 3 May 2026 or 5 March 2026" in said and "--day-first" in said
    assert "local.csv: 'Local time' is local time" in said and "--zone local.csv=+01:00" in said


def test_what_is_answered_is_written_file_by_file_and_never_asked_again(folder):
    code, said = reach("run", *FILES, "--day-first", "--zone", "local.csv=+02:00", "--write-study", "may.toml")
    assert code == 0, said
    code, said = reach("vet", "may.toml")
    assert code == 0, said
    first, second = said.split("local.csv:", 1)
    assert "Dates are read day first: you said so." in first and "times are taken as UTC" in first
    assert "02:00 hours ahead of UTC, as you said" in second
    assert said.count("you said so") == 11  # five columns of each, and the order of days


def test_a_study_says_it_by_pattern_and_the_last_that_fits_counts(folder):
    (folder / "may.toml").write_text(
        'files = ["days.csv", "local.csv"]\n[station]\nlocator = "IO51es"\n'
        '[[readings]]\nfile = "*.csv"\nday_first = false\n[[readings]]\nfile = "local*"\nzone = "+02:00"\n'
    )
    code, said = reach("vet", "may.toml")
    assert code == 0 and "month first" in said and "02:00 hours ahead" in said


def test_a_reading_with_a_mistake_is_one_sentence(folder):
    (folder / "may.toml").write_text('files = ["days.csv"]\n[[readings]]\nfile = "days.csv"\nzone = "summer"\n')
    code, said = reach("vet", "may.toml")
    assert code != 0 and "a zone is written as its offset from UTC" in said


def test_days_of_the_schedule_tell_may_from_march(folder):
    (folder / "schedule.csv").write_text("start,end,setup\n2026-05-03T18:00:00Z,2026-05-03T18:10:00Z,vertical\n")
    code, said = reach("vet", "days.csv", "--locator", "IO51es")
    assert code != 0 and "may be 3 May 2026" in said
    (folder / "may.toml").write_text('files = ["days.csv"]\nschedule = "schedule.csv"\n[station]\nlocator = "IO51es"\n')
    code, said = reach("vet", "may.toml")
    assert code == 0 and "day first: only so do they fall on days of the schedule" in said


def test_the_schedule_keeps_the_order_of_days_that_was_answered(folder):
    """Its dates are as open as the export's, and `[[readings]]` are about exports alone."""
    (folder / "schedule.csv").write_text("start,end,setup\n03/05/2026 18:00,03/05/2026 18:10,vertical\n")
    asked = (
        "days.csv",
        "--locator",
        "IO51es",
        "--schedule",
        "schedule.csv",
        "--day-first",
        "--write-study",
        "may.toml",
    )
    code, said = reach("run", *asked)
    assert code == 0, said
    code, said = reach("vet", "may.toml")
    assert code == 0, said


def test_a_file_called_like_a_transmitter_is_not_taken_for_it(folder):
    """Who can serve as a control is asked of the rows that were set aside, whatever lies in the folder."""
    rows = [
        f"2026-05-03 18:{k:02},G{k % 9}QRA,IO91wm,-12,20m,{call},IO51es"
        for k in range(30)
        for call in ("EI4QTB", "EI9QUC")
    ]
    (folder / "two.csv").write_text(
        "time,callsign,locator,snr,band,transmitter,transmitter_locator\n" + "\n".join(rows) + "\n"
    )
    (folder / "EI9QUC").write_text("no table\n")
    code, said = reach("vet", "two.csv", "--callsign", "EI4QTB")
    assert code == 0 and "EI9QUC, at the same locator and heard by 9 receivers" in said

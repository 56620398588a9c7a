"""`reach vet`: what is printed, written and returned."""

import json

import pandas as pd
import pytest
from click.testing import CliRunner

from reach.cli import main, reach
from tests.conftest import SAMPLES

SOUND = "time,callsign,locator,snr,band,remarks\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m,loud\n"
WRONG = SOUND + "2026-05-16 20:02,F5QSA,JNO8td,-7,20m,\n2026-05-16 20:00,DL2QTC,JN58td,-13,20m,\n"


@pytest.fixture
def spots(tmp_path):
    def write(text, name="may.csv"):
        (tmp_path / name).write_text(text, encoding="utf-8")
        return str(tmp_path / name)

    return write


def run(*args, stdin=None):
    return CliRunner().invoke(reach, ["vet", *args], input=stdin)


def test_counts_and_problems_are_printed(spots):
    done = run(spots(WRONG))
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    assert lines[0] == "What was understood"
    assert "3 rows read = 1 accepted + 1 rejected + 1 duplicate" in lines
    assert "  Not used: 'remarks'." in lines
    assert any(line.split() == ["locator-letter-for-digit", "rejected", "1"] for line in lines)
    assert any("letter O, where a digit must stand (square). Perhaps JN08td?" in line for line in lines)
    assert "All of them" in done.stdout


def test_of_very_many_suspects_the_heaviest_are_shown_and_where_all_are(monkeypatch, tmp_path):
    from reach.cli import vet

    messy, path = str(SAMPLES / "messy.toml"), str(tmp_path / "problems.csv")
    every, told = run(messy).stdout, json.loads(run(messy, "--json").stdout)["suspects"]
    assert len(told) == 5 and "heaviest" not in every
    monkeypatch.setattr(vet, "SUSPECTS_SHOWN", 2)
    shown = [each["rx_call"] for each in told if f"\n{each['rx_call']} in {each['rx_locator']}, " in run(messy).stdout]
    assert shown == [each["rx_call"] for each in told[:2]]
    said = "These are the 2 heaviest of 5 suspects; all of them, row by row: "
    assert said + "--problems problems.csv\n" in run(messy).stdout
    assert f"{said}{path}\n" in run(messy, "--problems", path).stdout
    assert {each["rx_call"] for each in told} <= set(pd.read_csv(path)["callsign"])


def test_of_a_sound_file_there_is_only_what_was_understood_and_the_count(spots):
    done = run(spots(SOUND.replace(",remarks", "").replace(",loud", "")))
    assert done.stdout == (
        "What was understood\n"
        "may.csv: 1 row; commas between cells, UTF-8, header on line 1.\n"
        "  time      time                 2026-05-16 20:00  header and values say so\n"
        "  callsign  receiver's callsign  DL2QTC            header and values say so\n"
        "  locator   receiver's locator   JN58td            header and values say so\n"
        "  snr       SNR                  -12               header and values say so\n"
        "  band      band                 20m               header and values say so\n"
        "  No zone is named; times are taken as UTC.\n"
        "\n"
        "1 row read = 1 accepted + 0 rejected + 0 duplicates\n"
    )


def test_the_list_is_cut_and_says_where_the_rest_is(spots):
    rows = "".join(f"2026-05-16 20:{k:02},DL2QTC,JN58,-12,20m,\n" for k in range(30))
    done = run(spots(SOUND + rows))
    assert "The first 20 of 30" in done.stdout
    assert "--problems problems.csv" in done.stdout


def test_problems_are_written(spots, tmp_path):
    path = tmp_path / "problems.csv"
    done = run(spots(WRONG), "--problems", str(path))
    assert f"Wrote {path}" in done.stdout
    table = pd.read_csv(path, keep_default_na=False)
    assert list(table.columns) == [
        "source", "line", "callsign", "locator", "rule", "severity", "explanation", "suggestion",
    ]  # fmt: skip
    assert table[["source", "line", "rule", "suggestion"]].to_numpy().tolist() == [
        ["may.csv", 3, "locator-letter-for-digit", "JN08td"],
        ["may.csv", 4, "duplicate-conflict", ""],
    ]


def test_problems_that_cannot_be_written(spots, tmp_path, capsys):
    with pytest.raises(SystemExit) as done:
        main(["vet", spots(WRONG), "--problems", str(tmp_path / "may.csv" / "problems.csv")])
    assert done.value.code == 2
    assert "cannot be written" in capsys.readouterr().err


OFFSET = SOUND + "2026-05-16 22:02+02:00,F5QSA,JN18eu,-7,20m,\n"


@pytest.mark.parametrize(
    ("text", "code"),
    [(SOUND, 0), (OFFSET, 0), (WRONG, 1), (SOUND + SOUND.splitlines()[1], 1)],
    ids=["sound", "only a remark", "rejected", "duplicate"],
)
def test_strict(spots, text, code):
    path = spots(text)
    assert run(path, "--strict").exit_code == code
    assert run(path).exit_code == 0


def test_all_open_questions_of_all_files_are_asked_at_once(spots, capsys):
    rows = "".join(f"06/05/2026 20:{k:02};DL2QTC;JN58td;{-12 - k};20m\n" for k in range(8))
    first = spots("Ortszeit;Who;Grid;dB;Band\n" + rows, "one.csv")
    second = spots("Time;Who;Grid;RST;Band\n" + rows.replace("-1", "59"), "two.csv")
    with pytest.raises(SystemExit) as done:
        main(["vet", first, second])
    assert done.value.code == 2
    asked = capsys.readouterr().err.splitlines()
    assert [line.removeprefix("reach: ").partition(":")[0] for line in asked] == ["one.csv"] * 2 + ["two.csv"] * 2
    assert "6 May 2026 or 5 June 2026" in asked[0] and "--zone" in asked[1] and "readability" in asked[2]
    done = run(first, "--day-first", "--zone", "UTC+2", "--json")
    assert json.loads(done.stdout)["counts"]["accepted"] == 8
    assert json.loads(done.stdout)["files"][0]["understood"]["settings"]["zone"] == "+02:00"


def test_a_file_without_a_header_takes_numbers_of_columns(spots):
    rows = "".join(f"2026-05-16 20:{k:02},DL2QTC,JN58td,{-12 - k % 5},{-3 - k % 4},20m\n" for k in range(9))
    done = run(spots(rows), "--column", "snr=5", "--json")
    columns = json.loads(done.stdout)["files"][0]["understood"]["columns"]
    assert next(c for c in columns if c["role"] == "snr")["number"] == 5
    assert next(c for c in columns if c["role"] == "snr")["sure"] == "confirmed"


def test_json(spots):
    found = json.loads(run(spots(WRONG), "--json").stdout)
    assert found["counts"] == {"read": 3, "accepted": 1, "rejected": 1, "duplicates": 1, "set_aside": 0}
    assert found["files"][0]["unused_headers"] == ["remarks"]
    assert [(p["line"], p["rule"]) for p in found["problems"]] == [
        (3, "locator-letter-for-digit"), (4, "duplicate-conflict"),
    ]  # fmt: skip


def test_standard_input():
    done = run("-", stdin=SOUND)
    assert "standard input: 1 row;" in done.stdout and "\n1 row read = 1 accepted" in done.stdout


def test_options_are_heeded(spots):
    text = "Quand;Qui;locator;snr;MHz\n03/05/2026 20:00;DL2QTC;JN58;-12;7,25\n"
    given = [spots(text), "--column", "time=Quand", "--column", "callsign=Qui"]
    done = run(*given, "--four-character", "--month-first", "--region", "2", "--json")
    assert json.loads(done.stdout)["problems"] == []
    assert json.loads(done.stdout)["counts"]["accepted"] == 1
    done = run(*given, "--day-first", "--region", "1", "--json")
    assert [p["rule"] for p in json.loads(done.stdout)["problems"]] == [
        "locator-four-characters", "frequency-other-region",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("where", "region", "noted"),
    [("IO51es", None, True), ("FN31pr", None, False), ("IO51es", "2", False), ("FN31pr", "1", True), ("", None, False)],
)
def test_the_region_is_that_of_the_locator_unless_given(spots, where, region, noted):
    """7.25 MHz lies in the 40m band of region 2 alone. Where nobody knows the station's place, no region is assumed."""
    from reach.study import Options, Station, Study
    from reach.walk import Walk

    text = "time,callsign,locator,snr,MHz\n2026-05-16 20:00,DL2QTC,JN58td,-12,7.25\n"
    options = Options(itu_region=int(region) if region else None)
    study = Study(files=[spots(text)], station=Station(callsign="EI4QTB", locator=where), options=options)
    assert ("frequency-other-region" in set(Walk(study).vetted.problems["rule"])) == noted


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "may.csv: is empty."),
        ("a,b\n", "--column time=HEADER"),
        (SOUND.replace("2026-05-16", "03/05/2026"), "--day-first or --month-first"),
    ],
)
def test_what_cannot_be_read_is_one_line_and_exit_code_2(spots, capsys, text, message):
    with pytest.raises(SystemExit) as done:
        main(["vet", spots(text)])
    assert done.value.code == 2
    error = capsys.readouterr().err
    assert message in error
    assert error.count("\n") == 1


def test_a_study_file_names_its_files(spots, tmp_path):
    spots(SOUND)
    study = tmp_path / "may.toml"
    study.write_text('[[sessions]]\nsetup = "wire"\nfiles = ["may.csv"]\n', encoding="utf-8")
    assert "\n1 row read = 1 accepted" in run(str(study)).stdout


def test_cells_are_quoted_as_the_file_has_them(tmp_path):
    """Decimal commas, units and thousands in blanks are rewritten to be understood; what is refused is told in the file's words.
    A header that says SNR stands over one cell in five that is none."""
    file = tmp_path / "a.csv"
    file.write_text(
        "Zeit (UTC);Rufzeichen;Locator;SNR [dB];QRG kHz;Leistung\n"
        "2026-05-16 18:00;DL1QRA;JO62qm;-12,0 dB;14 095,3;5 W\n"
        "2026-05-16 18:02;DL1QRA;JO62qm;-999,5 dB;14 095,3;5 W\n"
        "2026-05-16 18:04;DL2QSU;JN58td;-14,5 dB;140 951,3;5 W\n"
        "2026-05-16 18:06;DL2QSU;JN58td;\u221214,5 dB;14 095,3;500 000 W\n"
        "2026-05-16 18:08;DL2QSU;JN58td;-15,5 dB;14 095,3;5 W\n",
        encoding="utf-8",
    )
    problems = tmp_path / "problems.csv"
    run = CliRunner().invoke(
        reach, ["vet", str(file), "--callsign", "EI4QTB", "--problems", str(problems)], catch_exceptions=False
    )
    assert "5 rows read = 3 accepted + 2 rejected + 0 duplicates" in run.output
    told = problems.read_text(encoding="utf-8")
    for cell in ("'-999,5 dB' is no SNR", "'140 951,3' kHz is in no international", "'500 000 W' is no power"):
        assert cell in run.output and cell in told

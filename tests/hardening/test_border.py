"""The border: whatever is given on the command line, in a study or in a small file, one sentence and no traceback."""

from __future__ import annotations

import importlib
import os
import signal
import subprocess
import sys
import time

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach import cli
from reach import study as studies
from reach.assign import schedule
from reach.base import text
from reach.cli import COMMANDS, amounts, bug
from reach.errors import ReachError, StudyError
from reach.vet import fixes
from tests.cli.test_commands import reach

SPOTS = "time,callsign,locator,snr,frequency\n2026-05-16 18:00,EI4QTB,IO51es,-20,14.15\n"


def refused(*args: object, cwd=None) -> str:
    """The one sentence that came; anything unforeseen fails here."""
    found = reach(*args, cwd=cwd)
    assert found.returncode == 2, found.stderr
    assert found.stderr.count("\n") == 1 and text.is_clean(found.stderr) and "Traceback" not in found.stderr
    return found.stderr


@pytest.mark.parametrize(
    "line",
    [
        "[setups.a]\nswr = 1e308",
        "[setups.a]\nswr = nan",
        "[station]\npower_w = 1e-320",
        "[station]\npower_w = inf",
        "[options]\ndecoding_limit_db = nan",
        "[setups.a]\nresistance_ohm = 1e-300\nreactance_ohm = 0",
        "[setups.a]\nresistance_ohm = 50\nreactance_ohm = inf",
        "[[sessions]]\nsetup = 'a'\nstart = 0001-01-01T00:00:00+14:00\nend = 2026-01-01T00:00:00Z",
        "[[sessions]]\nsetup = 'a'\nstart = 2026-01-01T00:00:00Z\nend = 9999-12-31T23:59:59-14:00",
        "title = " + "[" * 500 + "]" * 500,
        "schedule_shift_min = " + "9" * 4301,
        "files = ['a\\u0000b.csv']",
        "schedule = 'a\\u0000b.csv'",
        f"files = ['{'a' * 300}.csv']",
        f"title = '{'a' * 30000}'",
        "title = 2026-02-31",
    ],
)
@pytest.mark.parametrize("command", ["run", "vet", "budget"])
def test_studies(tmp_path, line, command):
    (tmp_path / "spots.csv").write_text(SPOTS)
    start = "" if line.startswith(("files", "title", "schedule")) else "files = ['spots.csv']\n"
    (tmp_path / "study.toml").write_text(start + line + "\n")
    if command == "budget" and line.startswith(("files", "schedule =")):
        pytest.skip("a budget opens no spots")
    refused(command, "study.toml", cwd=tmp_path)


@pytest.mark.parametrize(
    "args",
    [
        ["motion", "spots.csv", "--fps", "nan"],
        ["motion", "spots.csv", "--seconds", "nan"],
        ["motion", "spots.csv", "--size", "9" * 5000 + "x720"],
        ["motion", "spots.csv", "--size", "\u0661280x720"],
        ["motion", "spots.csv", "--day", "9999-99-99"],
        ["plan", "--seed", "-1"],
        ["plan", "--start", "2026-05-16 18:00", "--session-hours", "nan"],
        ["plan", "--half-width", "1e-300"],
        ["plan", "--start", "0001-01-01 00:00+14:00"],
        ["plan", "--start", "9999-12-31 23:59"],
        ["plan", "--receivers", "9" * 5000],
        ["budget", "--swr", "1e308"],
        ["budget", "--power", "1e-320"],
        ["run", "spots.csv", "--power", "nan"],
        ["run", "a" * 300 + ".csv"],
        ["run", "~nobody9/x.csv"],
        ["vet", "~nobody9/x.csv"],
        ["run", "loop.csv"],
        ["run", "spots.csv/x.csv"],
    ],
)
def test_options(tmp_path, args):
    (tmp_path / "spots.csv").write_text(SPOTS)
    (tmp_path / "loop.csv").symlink_to("loop.csv")
    refused(*args, cwd=tmp_path)


def number_options() -> list[tuple[str, str]]:
    found = []
    for name in COMMANDS:
        for each in importlib.import_module(f"reach.cli.{name}").command.params:
            if isinstance(each, click.Option) and not each.is_flag and isinstance(
                each.type, (amounts.Amount, click.types.FloatParamType, click.types.IntParamType)
            ):  # fmt: skip
                found.append((name, each.opts[0]))
    return found


@pytest.mark.parametrize(("command", "option"), number_options())
def test_every_number_on_the_command_line_is_bounded(command, option):
    """From click's own declarations, so that a new option is asked the day it is born."""
    for value in ("nan", "inf", "-inf", "1e400", "9" * 5000, "", "\x1b[31m", "0x10", "--"):
        found = reach(command, f"{option}={value}")
        assert found.returncode == 2, (value, found.stderr)
        assert text.is_clean(found.stderr) and len(found.stderr) < 2000


@pytest.mark.parametrize(
    "args",
    [["list", "\ud83d"], ["vet", "\ud83d"], ["add", "\ud83d", "--to", "c"], ["run", "x.csv", "--title", "\ud83d"]],
)
def test_half_a_character(args, tmp_path, monkeypatch, capsys):
    """It cannot come from a shell, but from a program that calls `main`."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as ended:
        cli.main(args)
    assert ended.value.code == 2 and capsys.readouterr().err.count("\n") == 1


def test_latin_1_name_of_a_file(tmp_path):
    name = os.fsencode(tmp_path) + b"/caf\xe9.csv"
    with open(name, "w") as out:
        out.write(SPOTS)
    found = reach("vet", os.fsdecode(name), cwd=tmp_path)
    assert found.returncode == 0, found.stderr
    found = reach("run", os.fsdecode(b"no\xe9.csv"), cwd=tmp_path)
    assert found.returncode == 2 and found.stderr.count("\n") == 1


def test_a_working_folder_that_is_gone(tmp_path):
    gone = tmp_path / "gone"
    gone.mkdir()
    code = f"import os; os.chdir({str(gone)!r}); os.rmdir({str(gone)!r}); from reach.cli import main; main(['vet', 'x.csv'])"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert found.returncode == 2 and found.stderr.count("\n") == 1


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no such device here")
def test_a_full_disk_behind_the_output():
    with open("/dev/full", "w") as full:
        found = subprocess.run(
            [sys.executable, "-m", "reach", "locator", "IO51es"], stdout=full, stderr=subprocess.PIPE
        )
    assert found.returncode == 2 and b"No space left" in found.stderr and found.stderr.count(b"\n") == 1


def test_no_standard_input(tmp_path):
    command = f"cd {tmp_path}; {sys.executable} -m reach vet - <&-"
    found = subprocess.run(
        ["sh", "-c", command], capture_output=True, text=True, env={**os.environ, "PYTHONPATH": os.getcwd()}
    )
    assert found.returncode == 2 and found.stderr.count("\n") == 1


def test_a_bug_is_one_sentence_and_a_report_without_private_words(tmp_path, monkeypatch):
    def broken(*args, **kwargs):
        raise ZeroDivisionError(f"{args} said no")

    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    monkeypatch.setattr("reach.base.locator.centre", broken)
    monkeypatch.setattr("reach.base.grammar.judge", broken)
    found = reach("locator", "IO51es", "--json")
    assert found.returncode == bug.EXIT == 70 and found.stderr.count("\n") == 1
    (report,) = tmp_path.glob("reach-bug-*.txt")
    assert str(report) in found.stderr
    said = report.read_text()
    assert "ZeroDivisionError" in said and "reach/cli/locator.py" in said and "--json" in said
    for private in ("IO51es", str(tmp_path), "said no\n"):
        assert private not in said
    assert report.stat().st_mode & 0o077 == 0


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_polite_end_leaves_by_the_door(number):
    code = (
        "import time, sys\nfrom reach import cli\ncli._clean_up_when_ended()\n"
        "try:\n    print('ready', flush=True); time.sleep(60)\nfinally:\n    print('cleaned', flush=True)"
    )
    running = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert running.stdout is not None and running.stdout.readline() == "ready\n"
    time.sleep(0.05)
    running.send_signal(number)
    said, _ = running.communicate(timeout=30)
    assert said == "cleaned\n" and running.returncode == 128 + number


@given(st.text(max_size=200))
def test_text_is_shown_without_orders(given):
    assert text.is_clean(text.shown(given)) and text.shown(text.shown(given)) == text.shown(given)
    assert len(str(ReachError(given * 50))) <= text.LONGEST_SENTENCE
    assert not set("\r\n\x1b\u202e") & set(str(ReachError(given)))


SCHEDULE = "start,end,setup\n2026-05-09 18:00,2026-05-09 18:10,{}\n2026-05-09 18:10,2026-05-09 18:20,b\n"


@pytest.mark.parametrize("cell", ['"a', '"', '"a"b', "x" * 140_000, 'a\n2026-05-09 18:20,2026-05-09 18:30,"'])
def test_a_schedule_loses_no_row_to_a_quote(cell):
    with pytest.raises(StudyError, match=r"line [2345]"):
        schedule.parse(SCHEDULE.format(cell))


def test_a_schedule_with_sound_quotes_and_comments():
    found = schedule.parse('# the "long one\n' + SCHEDULE.format('"a, ""the"" wire"'))
    assert list(found["setup"]) == ['a, "the" wire', "b"]


@pytest.mark.parametrize("year", ["0001-01-01", "9999-12-31", "1000-01-01"])
def test_a_schedule_out_of_all_years(year):
    with pytest.raises(StudyError, match="line 2"):
        schedule.parse(f"start,end,setup\n{year} 18:00+14:00,{year} 18:10+14:00,a\n")


def _of_study(day):
    session = {"setup": "a", "start": f"{day}T00:00:00Z", "end": f"{day}T01:00:00Z"}
    studies.check({"files": ["a.csv"], "setups": {"a": {}}, "sessions": [session]})


def _of_plan(day):
    done = reach("plan", "--a", "a", "--b", "b", "--start", f"{day} 00:00")
    if done.returncode:
        raise StudyError(done.stderr)


def _of_schedule(day):
    schedule.parse(f"start,end,setup\n{day} 00:00,{day} 00:10,a\n")


@pytest.mark.parametrize("read", [_of_study, _of_schedule, _of_plan])
def test_the_years_of_a_time_are_the_same_everywhere(read):
    """Both ends are within; a day before the first and after the last is not, in the same words."""
    read("1900-01-01")
    read("2199-12-31")
    for day in ("1899-12-31", "2200-01-01"):
        with pytest.raises(StudyError, match="a time lies in the years 1900 to 2199"):
            read(day)


FIXES = "callsign,locator,suggestion,reason,rows,accept\n"


@pytest.mark.parametrize("reason", ['"open', '"', "x" * 140_000])
def test_an_open_quote_in_fixes_drops_no_correction(tmp_path, reason):
    path = tmp_path / "fixes.csv"
    path.write_text(FIXES + f"EI4QTB,IO15es,IO51es,{reason},1,yes\nEI4QTC,IO15es,IO51es,,1,yes\n")
    with pytest.raises(StudyError, match="line 2"):
        fixes.read(path)


def test_a_row_of_fixes_with_cells_beyond_the_header(tmp_path):
    path = tmp_path / "fixes.csv"
    path.write_text(FIXES + "EI4QTB,IO15es,IO51es,near, and far,1,yes\n")
    with pytest.raises(StudyError, match="line 2: has 7 cells"):
        fixes.read(path)


def test_a_compiled_file_that_is_cut_off_is_no_order_to_stop(monkeypatch, capsys):
    """As a disc that was full leaves one: Python says EOFError, which elsewhere means that somebody ended a dialogue."""
    monkeypatch.setattr(cli.reach, "invoke", lambda context: (_ for _ in ()).throw(EOFError("marshal data too short")))
    with pytest.raises(SystemExit) as ended:
        cli.main(["locator", "IO51es"])
    said = capsys.readouterr().err.strip()
    assert ended.value.code == 2 and "cut off" in said and "\n" not in said and "stopped" not in said


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may read everything")
def test_a_folder_that_may_not_be_read(tmp_path):
    (tmp_path / "shut").mkdir()
    (tmp_path / "shut" / "spots.csv").write_text(SPOTS)
    (tmp_path / "shut").chmod(0)
    try:
        for name in ("shut/spots.csv", "shut/*.csv"):
            refused("vet", name, cwd=tmp_path)
    finally:
        (tmp_path / "shut").chmod(0o700)


def test_a_system_that_refuses(tmp_path, monkeypatch, capsys):
    """The same for root, to whom no folder is shut: what the system says when a file is opened reaches the user as it is."""
    (tmp_path / "spots.csv").write_text(SPOTS)
    opened = open

    def refuse(name, *args, **kwargs):
        if str(name).endswith("spots.csv"):
            raise PermissionError(13, "Permission denied", name)
        return opened(name, *args, **kwargs)

    monkeypatch.setattr("builtins.open", refuse)
    monkeypatch.setattr("io.open", refuse)
    with pytest.raises(SystemExit) as ended:
        cli.main(["vet", str(tmp_path / "spots.csv")])
    said = capsys.readouterr().err
    assert ended.value.code == 2 and "Permission denied" in said and said.count("\n") == 1

"""The command line as a user meets it: answers on stdout, one line on stderr for what is wrong, exit codes."""

from __future__ import annotations

import contextlib
import importlib
import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from reach.cli import COMMANDS, main

SAMPLES = Path(__file__).parents[2] / "sample_spots"


def reach(*args: object, cwd: Path | None = None, stdin: bytes | None = None) -> subprocess.CompletedProcess[str]:
    """The command line as it starts, in this process: a second one would spend its time on starting."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", newline="", write_through=True) for _ in range(2))
    code, before = 0, sys.stdin
    sys.stdin = io.TextIOWrapper(io.BytesIO(stdin or b""), encoding="utf-8")
    try:
        with contextlib.chdir(cwd or Path.cwd()), contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            main([str(arg) for arg in args])
    except SystemExit as left:
        code = int(left.code or 0)
    finally:
        sys.stdin = before
    texts = (stream.buffer.getvalue().decode() for stream in (out, err))  # type: ignore[attr-defined]
    return subprocess.CompletedProcess(list(args), code, *texts)


def test_it_starts_as_a_module_too():
    found = subprocess.run([sys.executable, "-m", "reach", "locator", "IO51es"], capture_output=True, check=True)
    assert found.stdout.decode() == reach("locator", "IO51es").stdout and not found.stderr


def test_every_command_is_there():
    for name in COMMANDS:
        assert importlib.import_module(f"reach.cli.{name}").command.name == name


def test_locator_and_path():
    """Distance by GeographicLib (Karney's algorithm), an independent implementation."""
    from geographiclib.geodesic import Geodesic

    found = json.loads(reach("locator", "IO51es", "FN31pr", "--json").stdout)
    here, there = found["places"]
    truth = Geodesic.WGS84.Inverse(
        here["latitude_deg"], here["longitude_deg"], there["latitude_deg"], there["longitude_deg"]
    )
    assert found["path"]["distance_km"] == pytest.approx(truth["s12"] / 1000, abs=0.01)
    assert found["path"]["bearing_deg"] == pytest.approx(truth["azi1"] % 360, abs=0.01)
    # 4,789 km off a mirror at 110 km, which spans 1,776 km at 3 degrees (check_values.csv, hop-110), takes three hops.
    assert "at least 3 hops off a mirror at 110 km" in found["path"]["geometry"]


def test_negative_degrees_are_degrees():
    assert reach("locator", "51.77", "-9.63").stdout.startswith("IO51es")


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (("locator", "ZZ99zz"), "ZZ99zz"),
        (("locator", "95", "10"), "off the globe"),
        (("locator", "51.5"), "latitude without a longitude"),
        (("run", "no-such.csv", "--locator", "IO51es"), "no-such.csv"),
        (("run", "no-such.toml"), "No such file"),
        (("vet", "x.csv", "--column", "callsign"), "OURS=THEIRS"),
        (("rnu",), "did you mean 'run'"),
        (("compare", str(SAMPLES / "evening.csv"), "--a", "vertical"), "--a and --b"),
    ],
)
def test_what_is_wrong_is_one_line_and_exit_2(tmp_path, args, says):
    found = reach(*args, cwd=tmp_path)
    assert found.returncode == 2
    assert says in found.stderr and len(found.stderr.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_compare_prints_the_documented_object():
    found = json.loads(reach("compare", SAMPLES / "evening.toml", "--json").stdout)
    assert found["verdict"] in ("a better", "b better", "no clear difference", "cannot tell")
    assert found["low_db"] < found["difference_db"] < found["high_db"]
    text = reach("compare", SAMPLES / "weekend.toml").stdout
    assert text.startswith("1,538 rows read = 1,538 accepted") and text.split("\n\n")[1].startswith("Cannot tell")


def test_vet_strict_and_fixes_round_trip(tmp_path, two_pictures):
    """Suggestions are written, accepted, applied exactly, counted, and the original is kept."""
    assert reach("vet", SAMPLES / "evening.toml", "--strict").returncode == 0
    fixes = tmp_path / "fixes.csv"
    found = reach("vet", SAMPLES / "messy.toml", "--strict", "--write-fixes", fixes)
    assert found.returncode == 1
    suspects = found.stdout.split("\n\n")[1]  # behind what was understood
    assert "RE61eg" in suspects.splitlines()[0]  # the false record stands on top
    lines = fixes.read_text(encoding="utf-8").splitlines()
    accepted = [line + "yes" if line.startswith("DG5QUA,RE61eg,JO61eg") else line for line in lines]
    accepted.append("EI0QRA,AA00aa,,,1,JO61eg")
    fixes.write_text("\n".join(accepted) + "\n", encoding="utf-8")
    out = tmp_path / "out"
    found = reach("run", SAMPLES / "messy.toml", "--fixes", fixes, "--out", out, "--json")
    assert json.loads(found.stdout)["counts"]["fixed"] == 1
    spots = (out / "spots.csv").read_text(encoding="utf-8")
    assert "rx_locator_as_received" in spots.splitlines()[0]
    assert sum("RE61eg" in line for line in spots.splitlines()) == 1
    assert json.loads((out / "manifest.json").read_text())["rows_fixed_on_request"] == 1
    again = reach("run", SAMPLES / "messy.toml", "--fixes", fixes, "--out", out)
    assert "EI0QRA" in again.stdout  # a fix that matches nothing says so
    own = tmp_path / "messy.toml"
    own.write_text('fixes = "fixes.csv"\n' + (SAMPLES / "messy.toml").read_text(encoding="utf-8"), encoding="utf-8")
    (tmp_path / "messy.csv").write_bytes((SAMPLES / "messy.csv").read_bytes())
    said = reach("vet", own).stdout
    assert "1 row had its locator replaced as you asked." in said
    assert "RE61eg" not in said.split("\n\n")[1], "the study's own corrections are applied"


def test_fixes_file_already_there_is_left_alone(tmp_path):
    fixes = tmp_path / "fixes.csv"
    fixes.write_text("mine")
    found = reach("vet", SAMPLES / "messy.toml", "--write-fixes", fixes)
    assert found.returncode == 2 and fixes.read_text() == "mine"


def test_a_foreign_folder_is_left_alone(tmp_path):
    (tmp_path / "thesis.txt").write_text("precious")
    found = reach("run", SAMPLES / "evening.toml", "--out", tmp_path)
    assert found.returncode == 2 and "left alone" in found.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["thesis.txt"]


def test_spots_from_standard_input(tmp_path, two_pictures):
    text = (SAMPLES / "evening.csv").read_bytes()
    found = reach("run", "-", "--out", tmp_path / "out", "--json", stdin=text)
    assert json.loads(found.stdout)["counts"]["accepted"] == 1580


def test_write_study_then_run_it(tmp_path):
    study = tmp_path / "may.toml"
    assert reach("run", SAMPLES / "evening.csv", "--locator", "IO51es", "--write-study", study).returncode == 0
    assert reach("vet", study).returncode == 0
    assert reach("run", SAMPLES / "evening.csv", "--write-study", study).returncode == 2


def test_listeners_that_nothing_confirms_make_no_record(tmp_path):
    """Identifiers without a country, heard within one hour: the folder is made, claims nothing, and says why."""
    rows = [f"2026-05-16 18:0{k},SWL-{k},{name},-1{k},20m" for k, name in enumerate(["JN58td", "JO62qm", "FN31pr"])]
    (tmp_path / "short.csv").write_text("time,callsign,locator,snr,band\n" + "\n".join(rows) + "\n")
    found = reach("run", "short.csv", "--locator", "IO51es", cwd=tmp_path)
    assert found.returncode == 0, found.stderr
    counts, _, first, *_ = found.stdout.splitlines()
    assert counts.startswith("3 rows read = 3 accepted") and first.startswith(
        "No locator is corroborated, so no reach is"
    )
    assert "two different hours" in found.stdout and " km" not in found.stdout
    folder = tmp_path / "outputs" / "short"
    assert {path.stem for path in (folder / "pictures").iterdir()} == {"map-claimed", "timeline"}
    summary = json.loads((folder / "summary.json").read_text())
    assert summary["corroborated"]["overall"]["farthest"] is None
    assert summary["all"]["overall"]["farthest"]["rx_call"] == "SWL-2"
    film = reach("motion", "short.csv", "--locator", "IO51es", cwd=tmp_path)
    assert film.returncode == 2 and "no reach is claimed, and there is nothing to film" in film.stderr


def test_a_run_in_the_terminal_has_one_style_of_numbers_and_says_how_to_compare(tmp_path, two_pictures):
    """Two setups in a column and nothing asked: the sentence names the way; thousands have commas throughout."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    at = next(k for k, line in enumerate(text) if line.startswith("time_utc"))
    rows = [f"{line},{'loop' if k % 2 else 'dipole'}" for k, line in enumerate(text[at + 1 :])]
    (tmp_path / "two.csv").write_text("\n".join([f"{text[at]},antenna", *rows]) + "\n")
    found = reach("run", "two.csv", cwd=tmp_path)
    assert found.returncode == 0, found.stderr
    assert "Half of 1,580 reports came from beyond 2,080 km" in found.stdout and "1,580 rows read" in found.stdout
    assert (
        "No comparison was asked for.\nSetups: dipole and loop. To compare two, name both of them (`--a NAME --b NAME`)."
        in found.stdout
    )

"""`reach budget`: what it prints, what a program may read, and how it refuses."""

import json

import pytest

from reach.base.words import TERMINAL
from reach.cli import main
from reach.radio import feedline
from reach.tell.sentences import cautions

STUDY = """
title = "Two antennas"
made_up = true
[station]
callsign = "EI4QTB/P"
locator = "IO51es"
power_w = 5
[setups.vertical]
cable = { kind = "RG-58 class", length_m = 12 }
swr = 1.4
[setups.wire]
power_w = 2.5
"""


@pytest.fixture
def run(capsys):
    """Run the command; returns exit code, stdout, stderr."""

    def _run(*args):
        with pytest.raises(SystemExit) as ended:
            main(["budget", *map(str, args)])
        out, err = capsys.readouterr()
        return ended.value.code, out, err

    return _run


@pytest.fixture
def study(tmp_path):
    path = tmp_path / "study.toml"
    path.write_text(STUDY, encoding="utf-8")
    return path


def ask(run, *args):
    code, out, err = run(*args, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


def test_one_line(run):
    code, out, err = run("--power", 5, "--cable", "rg58", "--length", 20, "--frequency", 14.1, "--swr", 2)
    assert (code, err) == (0, "")
    assert "Of your 5.0 W, 3.7 W (35.7 dBm) reach the antenna." in out
    for row in ("20 m of RG-58 class", "1.09 dB", "9.54 dB", "0.51 dB", "1.30 dB"):
        assert row in out
    assert "a lossy line flatters" in out and "estimate" in out
    assert "quarter wave of 5.06 m" in out
    assert "\x1b" not in out  # readable without colour


@pytest.mark.parametrize("args", [("--power", 5), ("--cables",), ("--wanted-mhz", 14.1)])
def test_cautions_are_always_shown_with_a_budget(run, args):
    code, out, _ = run(*args)
    assert code == 0
    shown = [text in out for text in cautions.lines(5.0, TERMINAL)]
    assert not any(shown) if args == ("--cables",) else all(shown)


def test_cautions_speak_of_the_power_given(run):
    assert "100 W into 2450 ohm is 495 V rms" in run("--power", 100)[1]


def test_json_is_the_budget(run):
    found = ask(run, "--power", 5, "--cable", "RG-58 class", "--length", 20, "--frequency", 14.1, "--swr", 2)
    (budget,) = found["budgets"]
    assert budget["power_at_antenna_w"] == pytest.approx(3.707, abs=0.001)
    assert budget["missing"] == [] and budget["setup"] is None
    assert found["cautions"] == cautions.lines(5.0, TERMINAL)
    assert found["lengths"][0]["quarter_wave_m"] == pytest.approx(234 / 14.1 * 0.3048)


def test_own_figure_and_impedance(run):
    args = ("--power", 5, "--loss-db-per-100m", 5, "--loss-at-mhz", 14.1, "--length", 20, "--frequency", 14.1)
    (budget,) = ask(run, *args, "--resistance", 50, "--reactance", 1)["budgets"]
    assert budget["matched_loss_db"] == pytest.approx(1.0)
    assert budget["swr_at_antenna"] == pytest.approx(1.0202)
    assert budget["spread_percent"] is None


def test_watts_are_read_at_the_radio(run):
    """A ninth comes back: SWR 2 at the radio; the line's loss hides a worse one at the antenna."""
    args = ("--cable", "rg58", "--length", 20, "--frequency", 14.1, "--forward", 4.5, "--reflected", 0.5)
    found = ask(run, *args)
    (budget,) = found["budgets"]
    assert budget["power_at_radio_w"] == 4.0
    assert budget["swr_at_radio"] == pytest.approx(2.0) and budget["swr_at_antenna"] > 2.4
    assert "measured at the radio" in " ".join(found["notes"])
    (there,) = ask(run, *args, "--measured-at", "antenna")["budgets"]
    assert there["swr_at_antenna"] == pytest.approx(2.0) and there["power_at_radio_w"] is None


def test_swr_at_the_radio_without_a_line_is_not_turned_into_one_at_the_antenna(run):
    found = ask(run, "--power", 5, "--swr", 1.5, "--measured-at", "radio", "--frequency", 14.1)
    assert found["budgets"][0]["swr_at_antenna"] is None
    assert "without the feedline that at the antenna is not known" in found["notes"][0]


def test_what_is_missing_is_named(run):
    code, out, _ = run("--power", 5, "--cable", "rg58", "--length", 20, "--band", "20 M")
    assert code == 0
    assert "3.9 W at most; missing: the SWR or R and X at the antenna." in out and "not known" in out


def test_trim_advice(run):
    _, out, _ = run("--resonant-mhz", 14.150, "--wanted-mhz", 14.050, "--element-length", 5)
    assert "make it 0.7 % longer, 3.6 cm in all; move half of it (1.8 cm) and measure again" in out
    (trim, start) = ask(run, "--resonant-mhz", 7.2, "--band", "40m")["lengths"]
    assert trim["wanted_mhz"] == pytest.approx(7.1) and trim["change_percent"] == pytest.approx(1.408, abs=0.001)
    assert start["half_wave_m"] == pytest.approx(468 / 7.1 * 0.3048)


def test_cables(run):
    out = run("--cables")[1]
    for each in feedline.classes():
        assert each.name in out
    assert [row["name"] for row in ask(run, "--cables")] == [each.name for each in feedline.classes()]


def test_study_all_setups_on_the_bands_asked_for(run, study):
    found = ask(run, study, "--band", "20m", "--band", "40m")["budgets"]
    assert [(b["setup"], b["band"]) for b in found] == [
        ("vertical", "20m"), ("vertical", "40m"), ("wire", "20m"), ("wire", "40m"),
    ]  # fmt: skip
    assert found[0]["power_at_antenna_w"] == pytest.approx(5 * 10 ** (-found[0]["total_loss_db"] / 10), abs=1e-3)
    assert found[2]["power_at_radio_w"] == 2.5 and found[2]["power_at_antenna_w"] is None


def test_study_in_words(run, study):
    code, out, _ = run(study)
    assert code == 0
    assert "Missing for wire on 160m, 80m, 60m, 40m, 30m, 20m, 17m, 15m, 12m, 10m, 6m: the feedline" in out
    assert "used on every band for which the study has none" in out
    assert max(map(len, out.split("Missing")[0].splitlines())) <= 160


def test_nothing_asked_for_gives_an_example(run):
    code, out, err = run()
    assert (code, out) == (2, "") and "reach budget --power 5" in err


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--swr", 0.5], "'0.5' is no number from 1 to 100,000"),
        (["--power", 0], "'0' is no number from 1e-09 to 100,000"),
        (["--cable", "rg58", "--length", -2], "'-2' is no number from 0 to 1,000,000"),
        (["--cable", "rg58", "--length", 2, "--frequency", 1296], "1296 MHz is outside the table"),
        (["--cable", "rg59", "--length", 2], "did you mean 'RG-58 class'"),
        (["--forward", 1, "--reflected", 2], "2 W reflected of 1 W forward cannot be"),
        (["--cable", "rg58", "--length", 70, "--frequency", 14.1, "--swr", 6, "--measured-at", "radio"], "cannot be"),
        (["nowhere.toml"], "nowhere.toml: cannot be read"),
        (["--wanted-mhz", 0], "'0' is no number from 0.001 to 300,000"),
    ],
)
def test_the_impossible_gets_one_line(run, args, says):
    code, out, err = run(*args)
    assert (code, out) == (2, "")
    assert says in err and err.count("\n") == 1


@pytest.mark.parametrize(
    ("args", "says"),
    [
        (["--cable", "rg58"], "needs its --length"),
        (["--forward", 5], "go together"),
        (["--resistance", 50], "go together"),
        (["--swr", 2, "--resistance", 50, "--reactance", 1], "in one way"),
        (["--band", "77m"], "is no band; there are"),
        (["--band", "20m", "--frequency", 14.1], "either --frequency or --band"),
        (["--element-length", 5], "needs --resonant-mhz"),
        (["--resonant-mhz", 14.2], "one frequency to go to"),
    ],
)
def test_what_does_not_go_together_is_told(run, args, says):
    code, _, err = run(*args)
    assert code == 2 and says in err


def test_a_study_says_its_lines_itself(run, study):
    code, _, err = run(study, "--power", 3, "--swr", 2)
    assert code == 2 and "--power, --swr: a study file says that itself" in err

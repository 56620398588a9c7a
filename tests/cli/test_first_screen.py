"""What a user reads first where a schedule's clock is wrong, two setups had different powers, or an export is written in another
tongue or habit: asked or told, not claimed."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from reach.assign import schedule as schedules
from reach.base.ways import Medium
from reach.cli.compare import command as compare_command
from reach.cli.run import command as run_command
from reach.cli.vet import command as vet_command
from reach.errors import ReachError
from tests.assign.clock_simulator import Kind, late, make
from tests.cli.answers import after_the_rows
from tests.compare import simulator

DRAWN = Kind("screen, drawn", plan="drawn", difference_db=4, hours=6, receivers=50)
IN_TURN = replace(DRAWN, name="screen, in turn", plan="alternating")
# The same antenna twice, 5 W with A and 1 W with B: 7 dB, all of it power. Weak: most reports of B are lost.
STRONG = simulator.Scenario("screen, power", truth_db=0, power_difference_db=6.9897, receivers=50, hours=6)
WEAK = replace(STRONG, name="screen, power, weak", level_db=-24)


def _call(k: int) -> str:
    return f"G{k % 10}Q{'RSTU'[k // 26 % 4]}{chr(65 + k % 26)}"


def _export(spots: pd.DataFrame, path: Path, **more: object) -> str:
    """The spots as a CSV file; more : further columns."""
    code = spots["rx_call"].cat.codes
    table = pd.DataFrame(
        {
            "time": spots["time_utc"].dt.strftime("%Y-%m-%d %H:%M:%S"),
            "callsign": code.map(_call),
            "locator": code.map(lambda k: f"IO{80 + k % 20}{'abcd'[k % 4]}{'klmn'[k // 4 % 4]}"),
            "snr": spots["snr_db"].astype(int),
            "band": spots["band"],
            **more,
        }
    )
    table.to_csv(path, index=False)
    return str(path)


def _screen(command: object, *args: str) -> str:
    done = CliRunner().invoke(command, list(args), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return after_the_rows(done.output) if command is compare_command else done.output


def _scheduled(kind: Kind, tmp_path: Path, late_min: float) -> list[str]:
    spots, schedule = make(kind, 4)
    (tmp_path / "times.csv").write_text(schedules.text(late(schedule, late_min)), encoding="utf-8")
    return [_export(spots, tmp_path / "spots.csv"), "--locator", "IO51es", "--a", "A", "--b", "B", "--schedule",
            str(tmp_path / "times.csv")]  # fmt: skip


# -- the schedule's clock


def test_a_schedule_on_time_is_said_to_fit(tmp_path):
    said = _screen(compare_command, *_scheduled(DRAWN, tmp_path, 0))
    assert said.startswith("A was ") and "stronger than B" in said.splitlines()[0]
    assert "The schedule fits: reports step where it says" in said


def test_a_schedule_ten_minutes_late_is_told_and_not_believed(tmp_path):
    args = _scheduled(DRAWN, tmp_path, 10)
    said = _screen(compare_command, *args)
    assert said.startswith(
        "Cannot tell: the schedule does not fit the reports as it stands; it fits best if shifted by -10 min"
    )
    assert "stronger" not in said and "--schedule-shift -10" in said.splitlines()[1]
    # Corrected, it answers as the right one does; confirmed, it is believed.
    right = _screen(compare_command, *args, "--schedule-shift", "-10").splitlines()[0]
    assert right.startswith("A was ") and "stronger than B" in right
    confirmed = _screen(compare_command, *args, "--schedule-confirmed")
    assert not confirmed.startswith("Cannot tell: the schedule") and "The schedule" not in confirmed


def test_a_plan_that_repeats_leaves_two_shifts_open(tmp_path):
    """Five minutes late with blocks of ten: half of every block is the other's, and either way round fits."""
    said = _screen(
        compare_command, *_scheduled(replace(IN_TURN, before_min=30, after_min=30), tmp_path, 4)
    ).splitlines()[0]
    assert said.startswith("Cannot tell: the schedule does not fit the reports as it stands; shifted by ")
    assert "-4 min or +6 min" in said and "the reports alone cannot say" in said


def test_a_schedule_in_local_time_names_the_zone(tmp_path):
    """An hour late, seen from a station near 15 degrees east."""
    args = [*_scheduled(DRAWN, tmp_path, 60), "--locator", "JN78ab"]
    said = _screen(compare_command, *args)
    assert said.startswith("Cannot tell: the schedule does not fit") and "shifted by -60 min" in said
    assert "offset of UTC+1, a zone near the station" in said
    answer = _screen(compare_command, *args, "--schedule-zone", "+01:00").splitlines()[0]
    assert answer.startswith("A was ")


def test_a_schedule_of_another_day_prints_both_spans(tmp_path):
    said = _screen(compare_command, *_scheduled(DRAWN, tmp_path, 3 * 1440)).splitlines()[0]
    assert said.startswith(
        "Cannot tell: no report lies inside the schedule: it runs from 2026-05-19 16:00 to 22:00 UTC, the "
    )
    assert "the reports from 2026-05-16 16:00 to 21:" in said


def test_the_report_says_it_too(tmp_path, two_pictures):
    spots, schedule = make(DRAWN, 4)
    (tmp_path / "times.csv").write_text(schedules.text(late(schedule, 10)), encoding="utf-8")
    _export(spots, tmp_path / "spots.csv")
    study = (
        'files = ["spots.csv"]\nschedule = "times.csv"\n[station]\nlocator = "IO51es"\n[compare]\na = "A"\nb = "B"\n'
    )
    (tmp_path / "may.toml").write_text(study, encoding="utf-8")
    said = _screen(run_command, str(tmp_path / "may.toml"), "--out", str(tmp_path / "out"))
    assert "Cannot tell: the schedule does not fit the reports as it stands" in said and "stronger" not in said
    found = json.loads((tmp_path / "out" / "comparison.json").read_text(encoding="utf-8"))
    assert found["reasons"][0]["code"] == "schedule-in-doubt" and found["reasons"][0]["values"]["shift_min"] == -10.0


@pytest.mark.parametrize(
    ("late_min", "starts"), [(0, "A was "), (10, "Cannot tell: the schedule of sessions does not fit")]
)
def test_sessions_of_a_study_are_held_against_the_reports_too(tmp_path, late_min, starts):
    spots, schedule = make(DRAWN, 4)
    _export(spots, tmp_path / "spots.csv")
    windows = "".join(
        f'[[sessions]]\nsetup = "{row.setup}"\nstart = {row.start.isoformat()}\nend = {row.end.isoformat()}\n'
        for row in late(schedule, late_min).itertuples()
    )
    study = f'files = ["spots.csv"]\n[station]\nlocator = "IO51es"\n[compare]\na = "A"\nb = "B"\n{windows}'
    (tmp_path / "may.toml").write_text(study, encoding="utf-8")
    said = _screen(compare_command, str(tmp_path / "may.toml"))
    assert said.startswith(starts)
    if late_min:
        assert "with their offset, such as 18:00:00+02:00" in said and "--schedule-shift -10" in said
        right = _screen(compare_command, str(tmp_path / "may.toml"), "--schedule-shift", "-10").splitlines()[0]
        assert right.startswith("A was ") and "stronger than B" in right
        confirmed = _screen(compare_command, str(tmp_path / "may.toml"), "--schedule-confirmed")
        assert not confirmed.startswith("Cannot tell: the schedule")


def test_sessions_of_files_or_at_once_are_no_schedule():
    from reach import study as studies

    window = {"setup": "a", "start": "2026-05-16T18:00:00Z", "end": "2026-05-16T18:10:00Z"}
    later = {"setup": "b", "start": "2026-05-16T18:10:00Z", "end": "2026-05-16T18:20:00Z"}
    assert len(schedules.of_sessions(studies.check({"sessions": [window, later]}))) == 2
    for other in (
        {"setup": "b", "files": ["b.csv"]},
        {**later, "start": "2026-05-16T18:09:00Z"},
        {"setup": "b", "start": later["start"]},
    ):
        assert schedules.of_sessions(studies.check({"sessions": [window, other]})) is None


def test_a_name_that_is_in_no_schedule_is_still_asked_about(tmp_path):
    args = _scheduled(DRAWN, tmp_path, 3 * 1440)
    with pytest.raises(Exception, match="no setup is called 'vertical'"):
        _screen(compare_command, *args, "--a", "vertical")


# -- powers


def _powered(scenario: simulator.Scenario, tmp_path: Path, seed: int = 3, **more: object) -> str:
    spots = simulator.make(scenario, seed).spots
    return _export(spots, tmp_path / "spots.csv", setup=spots["setup"], **more)


@pytest.mark.parametrize("scenario", [STRONG, WEAK], ids=["strong", "weak"])
@pytest.mark.parametrize("where", ["rows", "study"])
def test_the_same_antenna_with_five_watts_and_one_is_no_better(tmp_path, scenario, where):
    """The issue's case: it used to read 'vertical was 6.8 dB stronger than wire'."""
    spots = simulator.make(scenario, 3).spots
    if where == "rows":
        file = _export(spots, tmp_path / "spots.csv", setup=spots["setup"],
                       power=spots["setup"].map({"vertical": 5, "wire": 1}).astype(int))  # fmt: skip
        args = [file, "--locator", "IO51es", "--a", "vertical", "--b", "wire"]
    else:
        _export(spots, tmp_path / "spots.csv", setup=spots["setup"])
        study = (
            'files = ["spots.csv"]\n[station]\nlocator = "IO51es"\n[setups.vertical]\npower_w = 5\n[setups.wire]\npower_w = 1\n'
            '[compare]\na = "vertical"\nb = "wire"\n'
        )
        (tmp_path / "may.toml").write_text(study, encoding="utf-8")
        args = [str(tmp_path / "may.toml")]
    first, second = _screen(compare_command, *args).splitlines()[:2]
    assert first.startswith("No clear difference between vertical and wire")
    assert second == (
        "vertical had 7.0 dB more power, 5 W with vertical and 1 W with wire: it was taken off, and what is left is the antenna "
        "with its feedline."
    )


def test_a_study_and_rows_that_disagree_are_refused(tmp_path):
    spots = simulator.make(STRONG, 3).spots
    file = _export(spots, tmp_path / "spots.csv", setup=spots["setup"],
                   power=spots["setup"].map({"vertical": 5, "wire": 1}).astype(int))  # fmt: skip
    args = [file, "--locator", "IO51es", "--a", "vertical", "--b", "wire", "--power", "5"]
    first = _screen(compare_command, *args).splitlines()[0]
    assert first == (
        "Cannot tell: you named 5 W for vertical and 5 W for wire, a difference of 0.0 dB; the rows say 5 W for vertical and "
        "1 W for wire, a difference of +7.0 dB. Which is right? Until then no difference is the antenna's."
    )
    settled = _screen(compare_command, *args, "--power-difference-db", "6.99").splitlines()[0]
    assert settled.startswith("No clear difference")


def test_a_power_of_one_setup_only_is_refused(tmp_path):
    spots = simulator.make(STRONG, 3).spots
    power = spots["setup"].astype(str).map({"vertical": "5", "wire": ""})
    file = _export(spots, tmp_path / "spots.csv", setup=spots["setup"], power=power)
    first = _screen(compare_command, file, "--locator", "IO51es", "--a", "vertical", "--b", "wire").splitlines()[0]
    assert first.startswith("Cannot tell: a power is known for vertical only;")


def test_no_power_known_is_said(tmp_path):
    file = _powered(replace(STRONG, power_difference_db=0), tmp_path)
    said = _screen(compare_command, file, "--locator", "IO51es", "--a", "vertical", "--b", "wire").splitlines()
    assert said[1] == "No power is known; the comparison holds if it was the same with both setups."


# -- exports in other tongues and habits


HABITS = sorted((Path(__file__).parents[1] / "read" / "corpus" / "habits").iterdir())


@pytest.mark.parametrize("path", HABITS, ids=lambda path: path.stem)
def test_the_first_screen_of_nineteen_habits(path):
    """What was understood stands first, and every row went somewhere; where the file cannot tell, it is asked for by an option."""
    zone = ["--zone", "+02:00"] if path.stem == "14_local_time" else []
    heard = ["--heard"] if path.stem == "13_what_was_heard" else []
    args = [str(path), "--callsign", "EI4QRA", "--locator", "IO51es"]
    if zone:
        asked = CliRunner().invoke(vet_command, args, standalone_mode=False)
        assert isinstance(asked.exception, ReachError) and "say it with --zone" in asked.exception.said(Medium.OPTION)
    said = _screen(vet_command, *args, *zone, *heard)
    assert said.startswith("What was understood\n")
    read, accepted, rejected, aside = re.search(
        r"(\d+) rows read = (\d+) accepted \+ (\d+) rejected \+ 0 duplicates(?: \+ (\d+) set aside)?\n", said
    ).groups()
    others = "3" if path.stem == "12_other_transmitter" else None
    assert (rejected, aside) == ("0", others) and int(accepted) + int(aside or 0) == int(read) >= 5
    for role in ("SNR", "callsign", "locator"):
        assert role in said


def test_an_export_of_what_was_heard_is_told_before_anything_is_claimed():
    path = next(path for path in HABITS if path.stem == "13_what_was_heard")
    told = CliRunner().invoke(
        vet_command, [str(path), "--callsign", "EI4QRA", "--locator", "IO51es"], standalone_mode=False
    )
    assert isinstance(told.exception, ReachError)
    assert "what the station receives is studied with --heard" in told.exception.said(Medium.OPTION)

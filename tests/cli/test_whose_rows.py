"""The first screen where an export holds another station's rows, what the station heard, or both: nothing is believed
that was not looked at, and what was left out stands above the first headline."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from reach import study as studies
from reach.cli.compare import command as compare_command
from reach.cli.plan import command as plan_command
from reach.cli.run import command as run_command
from reach.cli.run import tell, walked
from reach.cli.vet import command as vet_command
from reach.errors import InputError
from tests.conftest import SAMPLES

ME, OTHER = "EI4QTB/P", "EI9QUC"
OWN, OTHERS = 923, 569  # of 1,492 rows, as one real export had them
LAW = re.compile(
    r"([\d,]+) rows? read = ([\d,]+) accepted \+ ([\d,]+) rejected \+ ([\d,]+) duplicates(?: \+ ([\d,]+) set aside)?"
)


@pytest.fixture(scope="module")
def evening() -> pd.DataFrame:
    return pd.read_csv(SAMPLES / "evening.csv", dtype=str)


@pytest.fixture(scope="module")
def shared(evening, tmp_path_factory) -> str:
    """(a) 569 of 1,492 rows are of another station, 90 km away."""
    table = evening.head(OWN + OTHERS).copy()
    others = table.index[table.index % 5 % 2 == 1][:OTHERS]  # two of five, from the first on
    table.loc[others, ["transmitter", "transmitter_locator"]] = [OTHER, "IO51rv"]
    path = tmp_path_factory.mktemp("a") / "shared.csv"
    table.to_csv(path, index=False)
    assert (table["transmitter"] == OTHER).sum() == OTHERS
    return str(path)


@pytest.fixture(scope="module")
def heard() -> str:
    """(b) an export of what the station heard."""
    return str(SAMPLES / "listening.csv")


@pytest.fixture(scope="module")
def both(heard, evening, tmp_path_factory) -> str:
    """Both directions in one export."""
    table = pd.read_csv(heard, dtype=str)
    received = table.rename(columns={"receiver": "callsign", "receiver_locator": "locator"})
    path = tmp_path_factory.mktemp("both") / "both.csv"
    pd.concat([evening.head(400), received[evening.columns]]).to_csv(path, index=False)
    return str(path)


def screen(command, *args: str) -> str:
    done = CliRunner().invoke(command, list(args), catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


def answer(*args: str, **given: str) -> str:
    """What `reach run` prints before it draws."""
    with CliRunner().isolation() as (out, *_):
        (found,) = walked(studies.changed(studies.Study(files=list(args)), **given))
        tell(found)
        return out.getvalue().decode()


def conserved(text: str) -> tuple[int, ...]:
    """read, accepted, rejected, duplicates, set aside, as printed, which must add up."""
    read, *fates = (int((part or "0").replace(",", "")) for part in LAW.search(text).groups())
    assert read == sum(fates)
    return read, *fates


# --------------------------------------------------------------------------------- (a) another station's rows too


def test_rows_of_another_station_are_asked_about(shared):
    for command in (vet_command, run_command, compare_command):
        more = ["--a", "x", "--b", "y"] if command is compare_command else []
        with pytest.raises(InputError) as error:
            screen(command, shared, *more)
        assert f"2 transmitters: EI4QTB ({OWN} rows), {OTHER} ({OTHERS} rows); say whose with callsign=" in str(
            error.value
        )


def test_rows_of_another_station_are_set_aside_and_told_first(shared):
    said = answer(shared, station={"callsign": ME, "locator": "IO51es"})
    first, *rest = said.splitlines()
    assert conserved(first) == (1492, OWN, 0, 0, OTHERS)
    assert f"{OTHERS} rows are reports of other transmitters ({OTHER} {OTHERS}): set aside" in first
    assert f"--control {OTHER}" in first
    counted = re.match(r"Half of (\d+) reports came from beyond", next(line for line in rest if line))
    assert OWN - 5 < int(counted[1]) <= OWN  # a few locators that nothing confirms do not count


def test_no_distance_is_measured_from_the_other_s_place(shared):
    (found,) = walked(studies.changed(studies.Study(files=[shared]), station={"callsign": ME}))
    assert set(found.spots["tx_locator"]) == {"IO51es"} and set(found.spots["tx_call"]) == {ME}


def test_vet_says_the_same(shared):
    said = screen(vet_command, shared, "--callsign", ME)
    assert said.index("What was understood") < said.index(f"{OTHERS} rows are reports of other transmitters")
    assert conserved(said) == (1492, OWN, 0, 0, OTHERS)
    told = json.loads(screen(vet_command, shared, "--callsign", ME, "--json"))
    assert told["counts"] == {"read": 1492, "accepted": OWN, "rejected": 0, "duplicates": 0, "set_aside": OTHERS}
    assert told["direction"] == "sent" and any(OTHER in note for note in told["notes"])


def test_the_control_may_be_named_by_its_callsign(shared):
    schedule = str(SAMPLES / "evening_schedule.csv")
    args = [shared, "--callsign", ME, "--schedule", schedule, "--a", "vertical", "--b", "wire"]
    assert "ontrol station" in screen(compare_command, *args, "--control", OTHER)
    with pytest.raises(InputError, match="'EI1QQQ' is no file and no transmitter that was set aside"):
        screen(compare_command, *args, "--control", "EI1QQQ")


# ------------------------------------------------------------------------------------- (b) what the station heard


def test_what_the_station_heard_is_no_reach_of_its_own(heard):
    with pytest.raises(InputError, match="every row is what EI4QTB/P heard, none what others heard of it"):
        screen(vet_command, heard, "--callsign", ME)
    with pytest.raises(InputError, match="what EI4QTB heard is studied with direction='heard'"):
        screen(run_command, heard)


def test_what_the_station_heard_is_studied_where_asked(heard):
    said = answer(heard, direction="heard")
    first = said.splitlines()[0]
    assert conserved(first)[0] == conserved(first)[1]
    assert "No callsign was given; EI4QTB, the only receiver, was taken for the station." in first
    assert "It heard 25 countries" in said and "It was heard" not in said
    assert "the farthest heard was" in said
    vetted = screen(vet_command, heard, "--heard", "--callsign", ME)
    assert conserved(vetted)[0] == conserved(first)[0]
    assert json.loads(screen(vet_command, heard, "--heard", "--json"))["direction"] == "heard"


def test_a_plan_for_listening_counts_transmitters(heard):
    said = screen(plan_command, heard, "--heard", "--callsign", ME)
    assert "transmitters that are heard with both setups" in said and "receiver" not in said


# ------------------------------------------------------------------------------ (c) several and no callsign; both


def test_several_transmitters_without_a_callsign(evening, tmp_path):
    table = evening.head(60).assign(transmitter=[ME, OTHER, "EI7QUA"] * 20)
    table.to_csv(tmp_path / "three.csv", index=False)
    with pytest.raises(InputError, match=r"3 transmitters: EI4QTB \(20 rows\), EI7QUA \(20 rows\), EI9QUC \(20 rows\)"):
        screen(vet_command, str(tmp_path / "three.csv"))


def test_each_direction_leaves_the_other_out(both):
    station = {"callsign": ME, "locator": "IO51es"}
    sent = answer(both, station=station).splitlines()[0]
    received = answer(both, station=station, direction="heard").splitlines()[0]
    a, b = conserved(sent), conserved(received)
    assert a[0] == b[0] and a[1] + b[1] == a[0] and a[4] == b[1] and b[4] == a[1]
    assert "of what the station itself heard: set aside; `--heard` studies them." in sent
    assert "of what others heard of the station: set aside; `--sent` studies them." in received


def test_both_directions_are_two_reports_that_link_to_each_other(both, tmp_path, two_pictures):
    out = tmp_path / "report"
    said = screen(run_command, both, "--callsign", ME, "--both", "--out", str(out))
    for way, other, named in (("sent", "heard", "as others heard it"), ("heard", "sent", "what it heard of others")):
        html = (out / way / "report.html").read_text(encoding="utf-8")
        assert f'href="../{other}/report.html"' in html and named in html
        assert (out / way / "manifest.json").exists()
        assert f"Open {out / way / 'report.html'}" in said
        assert json.loads((out / way / "summary.json").read_text(encoding="utf-8"))["direction"] == way
    assert said.index("as others heard it") < said.index("what it heard of others")
    # A second run takes their place; a report of one direction is no folder for two.
    screen(run_command, both, "--callsign", ME, "--both", "--out", str(out), "--json")


def test_every_place_prints_the_same_law(shared, tmp_path):
    from reach.tell import folder, page
    from reach.tell.deck import outline

    (found,) = walked(studies.changed(studies.Study(files=[shared]), station={"callsign": ME}))
    folder.write_tables(found, tmp_path)
    numbers = {"read": 1492, "accepted": OWN, "rejected": 0, "duplicates": 0, "set_aside": OTHERS}
    assert numbers.items() <= json.loads((tmp_path / "summary.json").read_text(encoding="utf-8"))["counts"].items()
    assert folder.manifest(found, tmp_path)["counts"] == numbers
    html = re.sub(r"<[^>]+>", "", page.html(found)).replace("\u202f", ",")
    body = html[html.index("Skip to the answer") :]
    assert conserved(body)[4] == OTHERS and body.index("set aside") < body.index("The answer")
    slide = outline.deck(found).slide("station")
    told = " ".join(each.text for text in slide.texts for each in text).replace("\u202f", ",")
    assert conserved(told)[4] == OTHERS and f"other transmitters ({OTHER} {OTHERS})" in told


def test_set_aside_is_named_only_where_there_is_any(capsys):
    assert "set aside" not in answer(str(SAMPLES / "evening.csv"))


def test_options_of_direction_are_where_they_belong(tmp_path):
    """A study's own direction is kept unless an option says otherwise."""
    from reach.cli import options

    path = tmp_path / "a.toml"
    path.write_text('direction = "heard"\nfiles = ["a.csv"]\n', encoding="utf-8")
    assert options.study_from((str(path),)).direction == "heard"
    assert options.study_from((str(path),), heard=False).direction == "sent"
    assert options.study_from((str(Path("a.csv")),), heard=True).direction == "heard"
    with pytest.raises(studies.StudyError, match="'direction': input should be 'sent' or 'heard', not 'both'"):
        studies.check({"direction": "both"})


# --- rows that are rejected ---------------------------------------------------------------------------------------------


def squares_only(evening: pd.DataFrame, path: Path, share: float) -> str:
    """The evening, with the receivers' locators cut to squares in a share of the rows."""
    table = evening.head(200).copy()
    cut = table.index < share * len(table)
    table.loc[cut, "locator"] = table.loc[cut, "locator"].str[:4]
    table.to_csv(path, index=False)
    return str(path)


def test_where_many_rows_are_rejected_the_first_screen_says_why_and_what_takes_them(
    evening, tmp_path, monkeypatch, two_pictures
):
    monkeypatch.chdir(tmp_path)
    given = [squares_only(evening, tmp_path / "squares.csv", 0.6), "--callsign", ME, "--locator", "IO51es"]
    first = CliRunner().invoke(run_command, [*given, "--out", "out"], catch_exceptions=False)
    before = first.output.split("Half of")[0]
    rejected = int(LAW.search(before)[3])
    assert f"{rejected} of 200 rows were rejected (locator of four characters 120" in before, first.output
    assert "`--four-character` accepts squares" in before
    page = (tmp_path / "out/report.html").read_text("utf-8")
    assert "locator of four characters 120" in page and "--four-character" not in page
    taken = CliRunner().invoke(run_command, [*given, "--out", "two", "--four-character"], catch_exceptions=False)
    assert "rejected (" not in taken.output


def test_a_few_rejected_rows_are_not_told_above_the_headline(evening, tmp_path):
    path = squares_only(evening, tmp_path / "squares.csv", 0.05)
    study = studies.Study(files=[path], station=studies.Station(callsign=ME, locator="IO51es"))
    (found,) = walked(study)
    assert 10 <= found.counts.rejected < 20 and not found.notes

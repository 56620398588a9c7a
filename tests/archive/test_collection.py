"""A collection of files is those files: the same spots, problems and counts, whatever the order and however often they were added."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import subprocess
import sys
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner, Result

from reach import study as studies
from reach.archive import asked, collection, ledger, listing, taking
from reach.base import beside
from reach.base.ways import Medium
from reach.cli import reach
from reach.errors import InputError, LocatorError, OutputError, ReachError, StudyError
from reach.walk import Walk, walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
NOW = datetime(2026, 11, 1, tzinfo=UTC)
STATION = {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": 5.0}
TWO = ("shared.csv", "evening.csv")


def add(home: Path, *names: str | Path, **more: object) -> None:
    """As `reach add` does, in this process."""
    base = studies.check({"station": STATION, **more}).model_copy(update={"now": NOW})
    with collection.adding(home):
        for name in names:
            taking.add(home, base, SAMPLES / name)


def of_files(*names: str | Path, **more: object) -> Walk:
    return Walk(studies.check({"files": [str(SAMPLES / name) for name in names], "station": STATION, **more}), now=NOW)


def of_collection(home: Path, fixes: str | None = None, **more: object) -> Walk:
    return Walk(studies.check({"files": [str(home)], "station": STATION, **more}), fixes=fixes, now=NOW)


def invoked(*args: object) -> Result:
    return CliRunner().invoke(reach, [str(each) for each in args])


def plain(table: pd.DataFrame) -> pd.DataFrame:
    """Without what tells two equal tables apart: which words a category has that no row uses."""
    return table.astype({name: "object" for name in table if isinstance(table[name].dtype, pd.CategoricalDtype)})


def _cased(problems: pd.DataFrame) -> pd.DataFrame:
    """Duplicates of a collection are quoted in the letters of the spot table, not in those of the file."""
    return problems.assign(**{name: problems[name].str.upper() for name in ("callsign", "locator")})


def same(one: Walk, other: Walk) -> None:
    pd.testing.assert_frame_equal(plain(one.spots), plain(other.spots))
    pd.testing.assert_frame_equal(_cased(one.problems), _cased(other.problems))
    assert one.counts == other.counts
    assert one.notes == other.notes
    assert one.reach.to_dict() == other.reach.to_dict()


def test_a_collection_is_its_files(tmp_path):
    add(tmp_path / "c", *TWO)
    same(of_collection(tmp_path / "c"), of_files(*TWO))


def test_what_two_files_tell_is_told_by_the_rule_within_one(tmp_path):
    """An export that overlaps: its rows are duplicates, and each is listed with the row that is kept."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    later = tmp_path / "later.csv"
    later.write_text("\n".join([text[0], *text[1000:]]) + "\n", encoding="utf-8")
    add(tmp_path / "c", "evening.csv", later)
    walk = of_collection(tmp_path / "c")
    same(walk, of_files("evening.csv", later))
    assert walk.counts.duplicates == len(text) - 1000 and walk.counts.accepted == len(text) - 1


def test_the_order_of_adding_changes_nothing_that_is_measured(tmp_path):
    add(tmp_path / "a", "evening.csv", "weekend.csv", "shared.csv")
    add(tmp_path / "b", "shared.csv", "weekend.csv", "evening.csv")
    one, other = (of_collection(tmp_path / name) for name in "ab")
    assert one.counts == other.counts and one.tally.equals(other.tally)
    assert one.reach.to_dict() == other.reach.to_dict()


def test_rejected_rows_notes_and_suspects_are_those_of_the_files(tmp_path):
    study = studies.load(SAMPLES / "messy.toml")
    more = {"options": study.options.model_dump()}
    add(tmp_path / "c", "messy.csv", **more)
    files, held = of_files("messy.csv", **more), of_collection(tmp_path / "c", **more)
    assert files.counts.rejected > 20
    same(held, files)
    pd.testing.assert_frame_equal(held.suspects, files.suspects)


@pytest.fixture(scope="module")
def of_two(tmp_path_factory) -> Path:
    """An export of two transmitters that says of neither where it stood."""
    path = tmp_path_factory.mktemp("two") / "two.csv"
    table = pd.read_csv(SAMPLES / "evening.csv", dtype=str).drop(columns=["transmitter_locator", "power_w"])
    other = table.head(500).assign(transmitter="G4QRQ")
    pd.concat([table, other]).to_csv(path, index=False)
    return path


@pytest.mark.parametrize("said", [("--callsign", "EI4QTB/P"), ()])
def test_what_a_collection_says_of_its_station_is_said_of_no_other(tmp_path, of_two, said):
    """Neither its place nor its power, whether its study names it or the files alone tell whose they are."""
    home = tmp_path / "c"
    lone = tmp_path / "lone.csv"
    lone.write_text("".join(of_two.read_text().splitlines(keepends=True)[:900]))
    place = ("--locator", "IO51es", "--power", "5")
    for name, more in ((lone, ()), (of_two, ("--callsign", "EI4QTB"))):
        assert invoked("add", name, "--to", home, *said, *place, *more).exit_code == 0
    other = invoked("run", home, "--callsign", "G4QRQ", "--out", tmp_path / "out")
    assert isinstance(other.exception, LocatorError) and "missing: give it with locator=" in str(other.exception)
    mine, theirs = (asked.study_of(home, call) for call in ("EI4QTB/P", "G4QRQ"))
    assert mine.station.locator == "IO51es" and mine.station.power_w == 5.0
    assert theirs.station == studies.Station() and theirs.files == mine.files
    placed = walk(studies.changed(theirs, station={"callsign": "G4QRQ", "locator": "JN58td"}), now=NOW)
    assert len(placed.spots) == 500 and set(placed.spots["tx_locator"]) == {"JN58td"}
    assert placed.spots["power_w"].isna().all()


def test_a_study_asked_of_another_callsign_says_nothing_of_its_own_station(of_two, tmp_path):
    (tmp_path / "study.toml").write_text(
        f"""title = "My wire"
files = ["{of_two}"]
bands = ["20m"]
start = 2026-05-16T00:00:00Z
schedule = "no-such.csv"
[station]
callsign = "EI4QTB/P"
locator = "IO51es"
power_w = 5
[setups.wire]
power_w = 3
[[sessions]]
setup = "wire"
start = 2026-05-16T18:00:00Z
end = 2026-05-16T23:00:00Z
"""
    )
    told = walk(tmp_path / "study.toml", callsign="G4QRQ", locator="JN58td", now=NOW)
    assert len(told.spots) > 400 and told.spots["power_w"].isna().all() and told.spots["setup"].isna().all()
    assert not told.study.title and told.study.bands == ["20m"] and told.study.start is not None
    assert invoked("vet", tmp_path / "study.toml", "--callsign", "G4QRQ", "--locator", "JN58td").exit_code == 0
    same_station = walk(tmp_path / "study.toml", callsign="EI4QTB").study
    assert same_station.setups and same_station.title == "My wire"


def test_a_correction_mends_what_was_added_long_ago(tmp_path):
    """Of a malformed locator as of a suspect, and as a study of the files would have it."""
    from reach.base.words import TERMINAL
    from reach.tell import tables
    from reach.tell.sentences import problems
    from reach.vet import fixes

    more = {"options": studies.load(SAMPLES / "messy.toml").options.model_dump()}
    files = of_files("messy.csv", **more)
    suggested = fixes.suggestions(problems.written(files.problems, say=TERMINAL))
    suggested["accept"] = suggested["suggestion"].map(lambda text: "yes" if text else "")
    tables.write_csv(suggested, tmp_path / "fixes.csv")
    add(tmp_path / "c", "messy.csv", **more)
    mended = Walk(files.study, fixes=tmp_path / "fixes.csv", now=NOW)
    assert mended.counts.accepted > files.counts.accepted and mended.findings.fixed_rows > 10
    same(of_collection(tmp_path / "c", str(tmp_path / "fixes.csv"), **more), mended)
    # Beside the data it needs no option.
    shutil.copy(tmp_path / "fixes.csv", tmp_path / "c" / "fixes.csv")
    held = of_collection(tmp_path / "c", **more)
    same(held, mended)
    assert held.findings.fixed_rows == mended.findings.fixed_rows


def test_corrections_that_its_study_names_are_applied_when_it_is_read_and_not_baked_in(tmp_path):
    home = tmp_path / "c"
    add(home, "shared.csv")
    (home / "study.toml").write_text('fixes = "mine.csv"\n[station]\ncallsign = "EI4QTB"\nlocator = "IO51es"\n')
    (home / "mine.csv").write_text("callsign,locator,suggestion,accept\nDG5QUA,RE61eg,JO61eg,yes\n")
    told = CliRunner().invoke(reach, ["add", str(SAMPLES / "messy.csv"), "--to", str(home)])
    assert told.exit_code == 0, told.output
    read = Walk(asked.study_of(home), now=NOW)
    assert read.rows.applied.rows == 1
    (home / "mine.csv").write_text("callsign,locator,suggestion,accept\nDG5QUA,RE61eg,JO61eg,no\n")
    assert Walk(asked.study_of(home), now=NOW).rows.applied.rows == 0


def test_a_schedule_that_comes_late_names_the_setups(tmp_path):
    add(tmp_path / "c", "evening.csv")
    more = {"schedule": str(SAMPLES / "evening_schedule.csv"), "compare": {"a": "vertical", "b": "wire"}}
    one, other = of_collection(tmp_path / "c", **more), of_files("evening.csv", **more)
    same(one, other)
    assert one.comparison == other.comparison and one.comparison.pairs > 500


def test_two_frequencies_at_once_are_compared_in_files_and_in_a_collection(tmp_path):
    """Every report of the wire, and 2 dB less of it 200 Hz higher: two transmissions where these two are compared, one where
    they are not."""
    spots = pd.read_csv(SAMPLES / "evening.csv", dtype=str)
    lower = spots.drop_duplicates(["time_utc", "callsign"]).assign(frequency_mhz="14.097000")
    upper = lower.assign(frequency_mhz="14.097200", snr_db=(lower["snr_db"].astype(int) - 2).astype(str))
    pd.concat([lower, upper]).to_csv(tmp_path / "both.csv", index=False)
    add(tmp_path / "c", tmp_path / "both.csv")
    compared = {"compare": {"a": "14.0970", "b": "14.0972"}}
    for made in (of_files, of_collection):
        alone, asked = (
            made(tmp_path / ("c" if made is of_collection else "both.csv"), **more) for more in ({}, compared)
        )
        assert alone.counts.duplicates > asked.counts.duplicates
        assert alone.counts.read == asked.counts.read and alone.counts.rejected == asked.counts.rejected
        for found in (asked.compare(), alone.compare("14.0970", "14.0972"), asked.compare("14.0972", "14.0970")):
            assert found.design.kind == "simultaneous"
            assert found.difference_db == pytest.approx(2.0 if found.a == "14.0970" else -2.0, abs=1e-4)
        assert asked.compare().pairs == alone.compare("14.0970", "14.0972").pairs > 1000


def test_a_period_reads_its_days_only_and_the_rest_is_set_aside(tmp_path):
    add(tmp_path / "c", *TWO, "weekend.csv")
    asked_for = {"start": "2026-05-16T19:30:00Z", "end": "2026-05-23T12:00:00Z", "bands": ["20m", "30m"]}
    one, other = of_collection(tmp_path / "c", **asked_for), of_files(*TWO, "weekend.csv", **asked_for)
    same(one, other)
    assert one.raw["time_utc"].dt.date.min().isoformat() == "2026-05-16"  # the 9th was not read
    (note,) = [each for each in one.notes if each.code == "not-asked"]
    assert note.values["rows"] == one.counts.set_aside - 358


def test_what_the_station_heard_is_kept_apart(tmp_path):
    heard = {"direction": "heard"}
    add(tmp_path / "c", "listening.csv", **heard)
    add(tmp_path / "c", "evening.csv")
    same(of_collection(tmp_path / "c", **heard), of_files("listening.csv", **heard))
    same(of_collection(tmp_path / "c"), of_files("evening.csv"))
    both = of_collection(tmp_path / "c")
    assert both.towards("heard").counts == of_files("listening.csv", **heard).counts


def test_another_station_of_the_files_serves_as_control_and_can_be_studied(tmp_path):
    add(tmp_path / "c", "shared.csv")
    more = {"schedule": str(SAMPLES / "shared_schedule.csv"),
            "compare": {"a": "vertical", "b": "wire", "control": "EI9QUC"}}  # fmt: skip
    assert of_collection(tmp_path / "c", **more).comparison == of_files("shared.csv", **more).comparison
    neighbour = {"station": {"callsign": "EI9QUC"}}
    one = Walk(studies.check({"files": [str(tmp_path / "c")], **neighbour}), now=NOW)
    other = Walk(studies.check({"files": [str(SAMPLES / "shared.csv")], **neighbour}), now=NOW)
    pd.testing.assert_frame_equal(plain(one.spots), plain(other.spots))
    assert one.counts == other.counts


# -- the command


def run(*args: str) -> str:
    done = CliRunner().invoke(reach, list(args), catch_exceptions=False, standalone_mode=False)
    return done.output


def test_the_same_file_twice_adds_nothing(tmp_path):
    home = str(tmp_path / "c")
    first = run("add", str(SAMPLES / "shared.csv"), "--to", home, "--callsign", "EI4QTB/P", "--locator", "IO51es")
    assert "896 rows read = 538 of EI4QTB (538 sound) + 333 of EI9QUC (333 sound) + 25 set aside" in first
    before = (tmp_path / "c" / "ledger.json").read_bytes()
    copy = tmp_path / "another-name.csv"
    shutil.copy(SAMPLES / "shared.csv", copy)
    assert "is in the collection already; nothing was added" in run("add", str(copy), "--to", home)
    assert (tmp_path / "c" / "ledger.json").read_bytes() == before


def test_what_is_said_of_the_station_is_kept_beside_the_data_and_never_changed(tmp_path):
    home = tmp_path / "c"
    run(
        "add",
        str(SAMPLES / "evening.csv"),
        "--to",
        str(home),
        "--callsign",
        "EI4QTB/P",
        "--locator",
        "IO51es",
        "--power",
        "5",
    )
    study = asked.study_of(home)
    assert (study.station.callsign, study.station.locator, study.station.power_w) == ("EI4QTB/P", "IO51es", 5.0)
    own = (home / "study.toml").read_text(encoding="utf-8") + "# mine\n"
    (home / "study.toml").write_text(own, encoding="utf-8")
    run("add", str(SAMPLES / "weekend.csv"), "--to", str(home), "--power", "4")
    assert (home / "study.toml").read_text(encoding="utf-8") == own


def test_a_report_of_a_collection_has_the_tables_of_its_files(tmp_path, two_pictures):
    home = str(tmp_path / "c")
    station = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")
    run("add", *(str(SAMPLES / name) for name in TWO), "--to", home, *station)
    run("run", home, "--band", "20m", "--out", str(tmp_path / "a"), "--title", "x")
    run(
        "run",
        *(str(SAMPLES / name) for name in TWO),
        *station,
        "--band",
        "20m",
        "--out",
        str(tmp_path / "b"),
        "--title",
        "x",
    )
    for name in ("summary.json", "spots.csv", "problems.csv", "receivers.csv", "suspects.csv"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes(), name


@pytest.mark.parametrize(("many", "loads"), [(10**6, True), (100, False)])
def test_beside_a_large_collection_that_is_read_nothing_is_loaded(tmp_path, monkeypatch, many, loads):
    add(tmp_path / "c", *TWO)
    monkeypatch.setattr("reach.cli.run._MANY", many)
    told = []

    def drawers(*, at_once: bool):
        told.append(at_once)
        raise OutputError("asked, and that is enough")

    monkeypatch.setattr("reach.tell.pictures.Drawers", drawers)
    for given in (tmp_path / "c", SAMPLES / "evening.csv"):
        assert "enough" in str(invoked("run", given, "--callsign", "EI4QTB", "--out", tmp_path / "out").exception)
    assert told == [loads, True]  # files are short, or nobody knows how long they are


def test_the_list_says_stations_days_and_files(tmp_path):
    add(tmp_path / "c", *TWO)
    said = run("list", str(tmp_path / "c"))
    assert "EI4QTB (own)" in said and "EI9QUC" in said and "2026-05-16" in said
    told = json.loads(run("list", str(tmp_path / "c"), "--json"))
    own, other = told["stations"]
    assert (own["call"], own["spots"], own["days"], own["first"], own["last"]) == (
        "EI4QTB", 538 + 1580, 2, "2026-05-09", "2026-05-16",
    )  # fmt: skip
    assert (other["call"], other["own"], other["spots"]) == ("EI9QUC", False, 333)
    assert [each["rows"] for each in told["files"]] == [896, 1580]


@pytest.mark.parametrize("option", [("--from", "someday"), ("--to", "2026-13-01"), ("--band", "21m")])
def test_a_period_or_band_that_is_none_is_said(option):
    told = CliRunner().invoke(reach, ["vet", str(SAMPLES / "evening.csv"), *option], standalone_mode=False).exception
    assert option[1] in str(getattr(told, "message", told))


# -- what must not happen


def test_a_killed_run_adds_all_of_a_file_or_nothing(tmp_path, monkeypatch):
    """Killed between the parts and the ledger: nobody sees the parts, the next run clears them away and adds the file."""
    home = tmp_path / "c"
    add(home, "shared.csv")
    before = of_collection(home).counts
    monkeypatch.setattr(ledger, "write", lambda *args: (_ for _ in ()).throw(KeyboardInterrupt))
    with pytest.raises(KeyboardInterrupt):
        add(home, "weekend.csv")
    monkeypatch.undo()
    parts = set(home.rglob("*.parquet"))
    assert of_collection(home).counts == before
    with collection.adding(home):
        assert set(home.rglob("*.parquet")) < parts
    add(home, "weekend.csv")
    same(of_collection(home), of_files("shared.csv", "weekend.csv"))


def _hold(home: str, ready: multiprocessing.synchronize.Event, done: multiprocessing.synchronize.Event) -> None:
    with beside.alone(Path(home) / ".adding"):
        ready.set()
        done.wait(60)


@pytest.mark.skipif(os.name == "nt", reason="no such locks")
def test_two_at_once_the_second_says_so(tmp_path):
    home = tmp_path / "c"
    add(home, "shared.csv")
    context = multiprocessing.get_context("spawn")
    ready, done = context.Event(), context.Event()
    other = context.Process(target=_hold, args=(str(home), ready, done))
    other.start()
    try:
        assert ready.wait(60)
        with pytest.raises(OutputError, match="another run is adding to it or taking out of it"):
            add(home, "evening.csv")
    finally:
        done.set()
        other.join()
    add(home, "evening.csv")


def test_folders_and_files_of_others_are_left_alone(tmp_path):
    (tmp_path / "app").mkdir()
    (tmp_path / "app" / "index.html").write_text("mine")
    for home, says in ((tmp_path / "app", "holds other files"), (tmp_path / "app" / "index.html", "is a file")):
        with pytest.raises(OutputError, match=says):
            add(home, "shared.csv")
    assert [each.name for each in (tmp_path / "app").iterdir()] == ["index.html"]
    with pytest.raises(InputError, match="is no collection"):
        listing.held(tmp_path / "app")


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"{", "damaged"),
        (b"[]", "damaged"),
        (b'{"version": 1, "files": [{}]}', "damaged"),
        (b'{"version": 2, "files": []}', "is of version 2"),
    ],
)
def test_a_ledger_of_another_kind_is_never_misread(tmp_path, content, says):
    (tmp_path / "ledger.json").write_bytes(content)
    with pytest.raises(InputError, match=says):
        of_collection(tmp_path).counts  # noqa: B018


def test_a_part_that_is_lost_or_damaged_is_told(tmp_path):
    add(tmp_path, "shared.csv")
    part = next(tmp_path.rglob("spots/*/*.parquet"))
    part.write_bytes(b"nonsense")
    with pytest.raises(InputError, match="misses a part of a file"):
        of_collection(tmp_path).spots  # noqa: B018


def test_two_files_of_one_name_keep_their_rows_apart(tmp_path):
    for name in ("a", "b"):
        (tmp_path / name).mkdir()
    shutil.copy(SAMPLES / "evening.csv", tmp_path / "a" / "log.csv")
    shutil.copy(SAMPLES / "weekend.csv", tmp_path / "b" / "log.csv")
    add(tmp_path / "c", tmp_path / "a" / "log.csv", tmp_path / "b" / "log.csv")
    walk = of_collection(tmp_path / "c")
    assert list(walk.spots["source"].cat.categories) == ["log.csv", "log.csv (2)"]
    assert walk.counts.accepted == 1580 + 1538


def test_whose_is_asked_where_several_could_be_meant(tmp_path):
    add(tmp_path / "c", "shared.csv")
    again = tmp_path / "again.csv"
    again.write_bytes((SAMPLES / "shared.csv").read_bytes() + b"\n")
    add(tmp_path / "c", again, station={"callsign": "EI9QUC"}, start="2026-05-09T00:00:00Z")
    nobody = studies.check({"files": [str(tmp_path / "c")]})
    with pytest.raises(InputError, match=r"spots of 2 stations: EI4QTB .*say whose with callsign="):
        Walk(nobody).spots  # noqa: B018
    with pytest.raises(InputError, match="holds nothing that F5QRA sent"):
        Walk(nobody.model_copy(update={"station": studies.Station(callsign="F5QRA")})).spots  # noqa: B018


def test_a_collection_stands_alone(tmp_path):
    add(tmp_path / "c", "shared.csv")
    with pytest.raises(StudyError, match="a collection stands alone"):
        Walk(studies.check({"files": [str(tmp_path / "c"), str(SAMPLES / "evening.csv")]}))


def test_rows_without_a_station_are_asked_about(tmp_path):
    (tmp_path / "a.csv").write_text("time,callsign,locator,snr,band\n2026-05-16 20:00,DL2QTC,JN58td,-12,20m\n")
    with pytest.raises(InputError, match="say whose rows these are with callsign="):
        add(tmp_path / "c", tmp_path / "a.csv", station={})


def test_a_file_that_is_taken_out_leaves_nothing_and_another_one_counts_in_its_place(tmp_path):
    """A reception that two files report counts by the other once the one is out."""
    home = tmp_path / "c"
    add(home, "shared.csv", "evening.csv", "messy.csv")
    (home / "sent-EI9QUC" / "mine.txt").write_text("kept")
    gone = [entry for entry in ledger.read(home).entries if entry.name != "evening.csv"]
    with collection.adding(home):
        collection.remove(home, gone)
        collection.remove(home, gone)
    same(of_collection(home), of_files("evening.csv"))
    (left,) = ledger.read(home).entries
    assert {path.stem for path in home.rglob("*.parquet")} == {left.part}
    assert [path.name for path in (home / "sent-EI9QUC").iterdir()] == ["mine.txt"], "folders that are empty go too"
    add(home, "shared.csv", "messy.csv")
    assert of_collection(home).counts == of_files("evening.csv", "shared.csv", "messy.csv").counts


def test_what_the_user_puts_into_the_folder_of_a_station_stays(tmp_path):
    """Whatever is cleared: parts of killed runs, and of a file that is taken out."""
    home = tmp_path / "c"
    add(home, "shared.csv", "evening.csv")
    station = home / "sent-EI4QTB"
    day = next((station / "spots").iterdir())
    places = [station / name for name in ("", "spots", "mendable", "problems", "papers", "papers/spots")] + [day]
    foreign = [place / name for place in places for name in ("notes.txt", "mine.parquet", f"{'0' * 20}.txt")]
    for path in foreign:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("mine")
    orphans = [place / f"{'0' * 20}.parquet" for place in (day, station / "mendable", station / "problems")]
    for path in orphans:
        path.write_bytes(b"cut off")
    add(home, "weekend.csv")
    assert not any(path.exists() for path in orphans)
    with collection.adding(home):
        collection.remove(home, ledger.read(home).entries)
    assert {path.read_text() for path in foreign} == {"mine"}
    assert sorted(home.rglob("*.parquet")) == sorted(path for path in foreign if path.suffix == ".parquet")


def held(home: Path) -> dict[Path, bytes]:
    return {path: path.read_bytes() for path in home.rglob("*") if path.is_file()}


def refused(*args: str) -> str:
    """The sentence with which a command is refused."""
    with pytest.raises(ReachError) as told:
        run(*args)
    return told.value.said(Medium.OPTION)


def test_a_file_is_taken_out_by_the_name_in_the_list_and_every_row_is_accounted_for(tmp_path):
    home = str(tmp_path / "c")
    add(tmp_path / "c", "shared.csv", "evening.csv", "weekend.csv")
    said = run("remove", home, "weekend.csv", "shared.csv", "weekend.csv").splitlines()
    assert said == [
        "weekend.csv: taken out, 1,538 rows = 1,538 of EI4QTB (1,538 sound)",
        "shared.csv: taken out, 896 rows = 538 of EI4QTB (538 sound) + 333 of EI9QUC (333 sound) + 25 set aside, of the other direction",
        f"Left in {home}: 1 file, 1,580 rows.",
    ]
    same(of_collection(tmp_path / "c"), of_files("evening.csv"))
    add(tmp_path / "c", "shared.csv")
    assert of_collection(tmp_path / "c").counts == of_files("evening.csv", "shared.csv").counts, "put in again"
    run("remove", home, "shared.csv", "evening.csv")
    assert listing.held(tmp_path / "c").to_dict() == {"stations": [], "files": []}


def test_what_is_no_file_of_the_collection_takes_nothing_out(tmp_path):
    home = tmp_path / "c"
    add(home, "evening.csv", "shared.csv")
    before = held(home)
    for names, says in (
        (["evenng.csv"], "evenng.csv: is no file of {home}; did you mean evening.csv?"),
        (["evening.csv", "exports/shared.csv"], "exports/shared.csv: is no file of {home}; did you mean shared.csv?"),
        ([""], "'': is no file of {home}; there is evening.csv, shared.csv."),
        (["evening.csv", "x"], "x: is no file of {home}; there is evening.csv, shared.csv."),
        (["evening.csv", "--heard"], "evening.csv: is in {home} as sent, not as heard; say --sent."),
    ):
        assert refused("remove", str(home), *names) == says.format(home=home)
    assert held(home) == before
    for k in range(4):
        (tmp_path / f"{k}.csv").write_bytes((SAMPLES / "evening.csv").read_bytes() + b"\n" * (k + 1))
        add(home, tmp_path / f"{k}.csv")
    assert "there is evening.csv, shared.csv, 0.csv, 1.csv and 2 more, as reach list says." in refused(
        "remove", str(home), "weekend"
    )
    assert "is no collection" in refused("remove", str(tmp_path / "new"), "evening.csv")
    assert not (tmp_path / "new").exists()


def test_a_file_of_both_directions_goes_out_of_the_one_that_is_said(tmp_path):
    home = tmp_path / "c"
    add(home, "shared.csv")
    add(home, "shared.csv", direction="heard")
    assert "both as sent and as heard; say which" in refused("remove", str(home), "shared.csv")
    assert "shared.csv: taken out, 896 rows" in run("remove", str(home), "shared.csv", "--heard")
    assert [entry.direction for entry in ledger.read(home).entries] == ["sent"]
    same(of_collection(home), of_files("shared.csv"))


def test_an_archive_goes_out_whole_and_two_of_one_name_are_told_apart(tmp_path):
    for folder, names in (("a", ("evening.csv", "shared.csv")), ("b", ("weekend.csv",))):
        (tmp_path / folder).mkdir()
        with zipfile.ZipFile(tmp_path / folder / "all.zip", "w") as packed:
            for name in names:
                packed.write(SAMPLES / name, name)
    home = tmp_path / "c"
    add(home, tmp_path / "a" / "all.zip", tmp_path / "b" / "all.zip")
    names = [entry.name for entry in ledger.read(home).entries]
    assert names == ["all.zip/evening.csv", "all.zip/shared.csv", "all.zip (2)/weekend.csv"]
    assert "came in all.zip, which is added and taken out whole" in refused("remove", str(home), names[0])
    run("remove", str(home), "all.zip")
    assert of_collection(home).counts == of_files("weekend.csv").counts
    add(home, tmp_path / "a" / "all.zip")
    assert of_collection(home).counts == of_files("weekend.csv", "evening.csv", "shared.csv").counts


def test_killed_at_any_moment_a_file_is_out_or_in(tmp_path):
    """In a process of its own, which forks one that is killed for each moment."""
    done = subprocess.run([sys.executable, "-m", "tests.archive.removals", "25"], capture_output=True, text=True)
    assert done.returncode == 0 and ", 0 torn, 0 left over" in done.stdout, done.stdout + done.stderr


def test_a_full_disc_takes_nothing_out(tmp_path, monkeypatch):
    home = tmp_path / "c"
    add(home, "shared.csv", "evening.csv")
    before = held(home)

    def full(*args):
        raise OutputError("full")

    monkeypatch.setattr(ledger, "write", full)
    with collection.adding(home), pytest.raises(OutputError):
        collection.remove(home, ledger.read(home).entries)
    assert held(home) == before

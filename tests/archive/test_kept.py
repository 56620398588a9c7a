"""What is kept of a collection's days changes no number: there, deleted, damaged, of other content or by another hand."""

from __future__ import annotations

import shutil
from pathlib import Path

import pandas as pd
import pytest

from reach.archive import collection, kept, ledger
from reach.errors import InputError
from reach.tell import folder, page
from reach.walk import Walk
from tests.archive.test_collection import SAMPLES, STATION, add, of_collection, same

SCHEDULE = str(SAMPLES / "evening_schedule.csv")


def kept_in(home: Path) -> list[Path]:
    return sorted((home / kept.NAME).rglob("*.arrow"))


def written(walk: Walk, out: Path) -> dict[str, str]:
    """Everything of a report but its pictures, by the SHA-256 of its bytes."""
    shutil.rmtree(out, ignore_errors=True)
    out.mkdir()
    folder.write_tables(walk.findings, out)
    (out / "report.html").write_text(page.html(walk.findings), encoding="utf-8")
    return folder.hashes(out)


@pytest.fixture
def home(tmp_path):
    """Two days of one export, and an evening that overlaps with none of them."""
    add(tmp_path / "c", "weekend.csv", "evening.csv")
    return tmp_path / "c"


@pytest.fixture
def worked_out(monkeypatch):
    """How many rows were worked out each time."""
    rows: list[int] = []
    real = kept.work_out

    def counting(spots: pd.DataFrame) -> object:
        rows.append(len(spots))
        return real(spots)

    monkeypatch.setattr(kept, "work_out", counting)
    return rows


def test_a_report_has_the_same_bytes_with_and_without_what_is_kept(home, tmp_path, worked_out):
    first = written(of_collection(home), tmp_path / "out")
    files = kept_in(home)
    assert len(files) > 2 and len(worked_out) == 1
    assert written(of_collection(home), tmp_path / "out") == first
    assert len(worked_out) == 1  # the second had it
    shutil.rmtree(home / kept.NAME)
    assert written(of_collection(home), tmp_path / "out") == first
    assert kept_in(home) == files and len(worked_out) == 2


def test_only_the_days_that_changed_are_worked_out_again(home, tmp_path, worked_out):
    of_collection(home).spots  # noqa: B018
    before = {path.name: path.read_bytes() for path in kept_in(home)}
    add(home, "shared.csv")
    walk = of_collection(home)
    spots = walk.rows._loaded.spots
    after = {path.name: path.read_bytes() for path in kept_in(home)}
    changed = [name.removesuffix(".arrow") for name, content in after.items() if before.get(name) != content]
    assert 0 < len(changed) < len(after)
    of_day = spots["time_utc"].dt.strftime("%Y-%m-%d").value_counts()
    assert worked_out[1:] == [sum(of_day[day] for day in changed)]
    add(tmp_path / "fresh", "weekend.csv", "evening.csv", "shared.csv")
    same(walk, of_collection(tmp_path / "fresh"))


def _emptied(path: Path) -> None:
    path.write_bytes(b"")


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-100])


def _one_bit(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[-200] ^= 4
    path.write_bytes(content)


def _of_another_day(path: Path) -> None:
    other = next(each for each in kept_in(path.parents[2]) if each != path)
    path.write_bytes(other.read_bytes())


def _foreign(path: Path) -> None:
    path.write_text("not ours", encoding="utf-8")


def _of_another_version(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"reach kept 1", b"reach kept 0", 1))


def _a_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize("spoil", [_emptied, _cut, _one_bit, _of_another_day, _foreign, _of_another_version, _a_folder])
def test_what_is_no_good_is_not_believed(home, tmp_path, worked_out, spoil):
    first = written(of_collection(home), tmp_path / "out")
    path = kept_in(home)[0]
    spoil(path)
    assert written(of_collection(home), tmp_path / "out") == first
    assert len(worked_out) == 2 and 0 < worked_out[1] < worked_out[0]


@pytest.mark.parametrize(
    "more",
    [
        {"station": {**STATION, "locator": "IO63ua"}},
        {"schedule": SCHEDULE},
        {"sessions": [{"setup": "loop", "start": "2026-05-02T00:00:00Z"}]},
        {"bands": ["20m"]},
        {"options": {"four_character_locators": True}},
    ],
    ids=lambda each: next(iter(each)),
)
def test_whatever_the_user_changes_is_as_in_a_collection_that_nothing_was_kept_of(home, tmp_path, more):
    of_collection(home).spots  # noqa: B018
    with_it = of_collection(home, **more)
    shutil.copytree(home, tmp_path / "fresh", ignore=shutil.ignore_patterns(kept.NAME))
    without = of_collection(tmp_path / "fresh", **more)
    same(with_it, without)
    pd.testing.assert_frame_equal(with_it.spots, without.spots)


def test_a_correction_moves_what_was_kept_of_its_rows(home, tmp_path):
    """Day and night at the receiver go with its new place, and where that makes two rows one reception, one of them goes."""
    before = of_collection(home).spots
    call, locator = before["rx_call"].iloc[0], before["rx_locator"].iloc[0]
    fixes = tmp_path / "fixes.csv"
    fixes.write_text(f"callsign,locator,suggestion,reason,rows,accept\n{call},{locator},,,1,QF56od\n", encoding="utf-8")
    with_it = of_collection(home, fixes=str(fixes))
    shutil.copytree(home, tmp_path / "fresh", ignore=shutil.ignore_patterns(kept.NAME))
    without = of_collection(tmp_path / "fresh", fixes=str(fixes))
    same(with_it, without)
    moved = (with_it.spots["rx_call"] == call) & (with_it.spots["rx_locator"] == "QF56od")
    assert moved.any()
    old = before.loc[(before["rx_call"] == call) & (before["rx_locator"] == locator), "rx_sun_deg"]
    assert not with_it.spots.loc[moved, "rx_sun_deg"].isin(old).any()


def test_a_row_that_takes_the_studys_locator_is_reckoned_from_there(tmp_path):
    """Rows that name no place of the station: nothing can be kept of their day and night, as the study may change."""
    text = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines()
    at = text[0].split(",").index("transmitter_locator")
    rows = [",".join("" if k == at else cell for k, cell in enumerate(line.split(","))) for line in text[1:]]
    silent = tmp_path / "silent.csv"
    silent.write_text("\n".join([text[0], *rows]) + "\n", encoding="utf-8")
    add(tmp_path / "c", silent)
    near, far = (
        of_collection(tmp_path / "c", station={**STATION, "locator": name}).spots for name in ("IO51es", "QF56od")
    )
    assert (near["distance_km"].to_numpy() != far["distance_km"].to_numpy()).all()
    assert (near["tx_sun_deg"].to_numpy() != far["tx_sun_deg"].to_numpy()).all()


def test_a_part_that_is_damaged_is_told_though_its_day_is_kept(home):
    of_collection(home).spots  # noqa: B018
    part = next((home / "sent-EI4QTB" / "spots").rglob("*.parquet"))
    part.write_bytes(part.read_bytes()[:-50])
    with pytest.raises(InputError, match="damaged"):
        of_collection(home).spots  # noqa: B018


def test_a_collection_that_may_not_be_written_to_is_read_all_the_same(home, tmp_path):
    whole = written(of_collection(home), tmp_path / "out")
    shutil.rmtree(home / kept.NAME)
    (home / kept.NAME).write_text("in the way", encoding="utf-8")  # for root writes where it may not
    assert written(of_collection(home), tmp_path / "out") == whole


def test_adding_leaves_what_is_kept(home):
    of_collection(home).spots  # noqa: B018
    files = kept_in(home)
    with collection.adding(home):
        assert kept_in(home) == files


def test_what_was_kept_of_a_day_goes_with_it(home):
    of_collection(home).spots  # noqa: B018
    days = {path.stem for path in (home / "sent-EI4QTB" / "spots").iterdir()}
    notes = home / kept.NAME / "sent-EI4QTB" / "notes.txt"
    notes.write_text("mine")
    with collection.adding(home):
        evening = [each for each in ledger.read(home).entries if each.name == "evening.csv"]
        collection.remove(home, evening)
    left = {path.stem for path in (home / "sent-EI4QTB" / "spots").iterdir()}
    assert left < days and {path.stem for path in kept_in(home)} == left
    with collection.adding(home):
        collection.remove(home, ledger.read(home).entries)
    assert not kept_in(home) and notes.read_text() == "mine"
    notes.unlink()
    add(home, "evening.csv")
    of_collection(home).spots  # noqa: B018
    with collection.adding(home):
        collection.remove(home, ledger.read(home).entries)
    assert not (home / kept.NAME).exists()

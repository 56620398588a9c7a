"""A study that grows into a collection: its files taken in, another dropped, one taken out, read otherwise; the same rows and the
same report as of the files, and of the command line."""

from __future__ import annotations

import json
import os
import re
import resource
import signal
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

import psutil
import pytest

from reach.desk.shelf import Kept
from tests import loaded
from tests.desk.conftest import NOW, SAMPLES, Served, counts, end, enter, evening, sample, settled, start

FATES = ("accepted", "rejected", "duplicates", "set_aside")


def grown(served: Served, *names: str) -> tuple[str, Path]:
    """A study of the evening and of these files, made a collection: its address and its study.toml."""
    at, path = evening(served)
    for name in names:
        assert served.put(f"{at}/files/{name}", sample(name)).status == 204
    assert served.post(f"{at}/grow").status == 303
    assert "A collection of" in settled(served, at)
    return at, path


PICTURES = 3  # of a report; all of them: test_results.py


@pytest.fixture
def own(tmp_path: Path) -> Any:
    served = enter(start(tmp_path / "Reach", pictures=PICTURES))
    yield served
    end(served)


@pytest.fixture
def own_afresh(tmp_path: Path) -> Any:
    """With a worker that the server started by itself, which is ended."""
    served = enter(start(tmp_path / "Reach", afresh=True))
    yield served
    end(served)


def test_it_holds_the_rows_of_its_files_and_each_is_shown(own: Served) -> None:
    at, path = evening(own)
    for name in ("messy.csv", "shared.csv"):
        own.put(f"{at}/files/{name}", sample(name))
    before = settled(own, at)
    assert counts(before).keys() == set(FATES)
    path.write_text("# mine\n" + path.read_text())
    assert own.post(f"{at}/grow").status == 303
    page = settled(own, at)
    assert counts(page) == counts(before) and "A collection of 3 files with 4,034 rows" in page
    assert tomllib.loads(path.read_text())["files"] == ["collection"] and path.read_text().startswith("# mine\n")
    assert sorted(each.name for each in (path.parent / "spots").iterdir()) == ["evening.csv", "messy.csv", "shared.csv"]
    for fate, number in counts(page).items():
        shown = settled(own, f"{at}/rows/{fate}")
        assert re.search(rf"1 to {min(number, 200)} of {number}<", shown), fate
    doubts = settled(own, f"{at}/doubtful")
    assert ">5 to decide<" in doubts and doubts.count('<td class="number">') == 19, "as of the files, one blank"
    assert own.post(f"{at}/doubtful", callsign="LY5QSE", locator="KO15", choice="other", other="KO15xa").status == 303
    assert "23 rows have their locator replaced" in settled(own, f"{at}/doubtful")


def test_another_export_is_one_drop_and_one_is_taken_out_and_put_back(own: Served) -> None:
    at, path = grown(own)
    first = counts(settled(own, at))
    parts = {each: each.stat().st_mtime_ns for each in (path.parent / "collection").rglob("*.parquet")}
    assert own.put(f"{at}/files/weekend.csv", sample("weekend.csv")).status == 204
    assert own.put(f"{at}/files/again.csv", sample("evening.csv")).status == 204, "the same bytes are kept once"
    page = settled(own, at)
    both = counts(page)
    assert both["accepted"] > first["accepted"] and "A collection of 2 files" in page
    assert page.index("weekend.csv:") < page.index("evening.csv:"), "the last one stands first"
    assert {each: each.stat().st_mtime_ns for each in parts} == parts, "what was there is not written anew"
    assert own.post(f"{at}/take-out", entry="weekend.csv").status == 303
    page = settled(own, at)
    assert counts(page) == first and "Put back<" in page
    assert (path.parent / "taken-out" / "weekend.csv").read_bytes() == sample("weekend.csv")
    assert set((path.parent / "collection").rglob("*.parquet")) == set(parts), "its parts are gone with it"
    assert own.post(f"{at}/put-back", name="weekend.csv").status == 303
    assert counts(settled(own, at)) == both
    assert own.post(f"{at}/take-out", entry="study.toml").status == 303
    assert counts(settled(own, at)) == both


def test_a_file_that_will_not_do_waits_and_says_why(own: Served) -> None:
    at, path = grown(own)
    assert own.put(f"{at}/files/odd.csv", b"a,b\n1,2\n3,4\n").status == 204
    assert own.put(f"{at}/files/weekend.csv", sample("weekend.csv")).status == 204
    page = settled(own, at)
    assert "A collection of 2 files" in page and "Not taken in yet" in page
    assert re.search(r'role="alert">[^<]*odd\.csv', page) and "Say how odd.csv is to be read" in page
    assert "1 file waits to be taken into" in own.get(f"{at}/results").text
    assert own.post(f"{at}/take-out", entry="odd.csv").status == 303
    page = settled(own, at)
    assert "Not taken in yet" not in page and (path.parent / "taken-out" / "odd.csv").exists()


def test_a_file_is_read_otherwise_by_taking_it_in_again(own: Served) -> None:
    at, _ = grown(own)
    rows = [f"2026-05-0{1 + k % 9} 18:0{k % 10},IO9{k % 10}ab,K{k % 10}QRB,-{k % 20},14.05,EI4QTB/P" for k in range(60)]
    own.put(f"{at}/files/log.csv", "\n".join(["time,loc,call,snr,mhz,tx", *rows]).encode())
    assert "60 rows read" in settled(own, at)
    page = settled(own, f"{at}?file=log.csv")
    assert "receiver&#39;s locator" in page and 'name="file" value="log.csv"' in page
    before = settled(own, f"{at}/rows/accepted?start=1580")
    assert own.post(f"{at}/reading", file="log.csv", zone="half past").status == 422
    assert own.post(f"{at}/reading", file="log.csv", zone="+01:00").status == 303
    assert "1:00 hours ahead of UTC" in settled(own, f"{at}?file=log.csv")
    after = settled(own, f"{at}/rows/accepted?start=1580")
    assert "2026-05-01 18:00" in before and "2026-05-01 17:00" in after and "2026-05-01 18:00" not in after


def test_what_is_turned_round_is_taken_in_in_the_other_direction(own: Served) -> None:
    at, path = grown(own, "shared.csv")
    assert own.post(f"{at}/station", callsign="EI4QTB/P", locator="IO51es", direction="heard").status == 303
    assert "2 files wait to be taken into" in own.get(f"{at}/station").text
    page = settled(own, at)
    assert counts(page)["accepted"] == 25 and "evening.csv: " not in page
    assert re.search(r'role="alert">every row is what others heard', page), "why the other one is not in it"
    held = json.loads((path.parent / "collection" / "ledger.json").read_text())["files"]
    assert sorted(each["direction"] for each in held) == ["heard", "sent", "sent"]


def test_only_exports_that_lie_here_grow_together(own: Served, tmp_path: Path) -> None:
    at, path = evening(own)
    other = tmp_path / "other.csv"
    other.write_bytes(sample("weekend.csv"))
    told = path.read_text()
    path.write_text(told.replace('files = ["spots', f'files = ["{other}", "spots'))
    assert own.post(f"{at}/grow").status == 303
    assert "put them in here first" in settled(own, at)
    path.write_text(f'{told}\n[[sessions]]\nsetup = "wire"\nfiles = ["spots/evening.csv"]\n')
    own.post(f"{at}/grow")
    assert "give them a start and an end" in settled(own, at)
    assert sorted(each.name for each in path.parent.iterdir()) == ["spots", "study.toml"]


def test_a_period_is_chosen_and_said_beside_its_field(own: Served) -> None:
    at, path = grown(own, "weekend.csv")
    page = settled(own, at)
    assert "reports from 2026-05-16 to 2026-05-24" in page
    answer = own.post(f"{at}/period", **{"from": "yesterday", "to": "2026-05-16"})
    assert answer.status == 422 and 'id="period-from-fault">&#39;yesterday&#39; is no day or time' in answer.text
    assert 'value="yesterday"' in answer.text and "start =" not in path.read_text().replace("# start", "")
    answer = own.post(f"{at}/period", **{"from": "2026-05-17", "to": "2026-05-16"})
    assert answer.status == 422 and 'id="period-to-fault">This is before the beginning.' in answer.text
    assert own.post(f"{at}/period", **{"from": "2026-05-16", "to": "2026-05-16"}).status == 303
    assert "end = 2026-05-17T00:00:00Z" in path.read_text()
    page = settled(own, at)
    assert counts(page)["accepted"] == 1580 and page.count('value="2026-05-16"') == 2
    assert "reports from 2026-05-16 to 2026-05-24" in page, "what there is besides is still said"
    assert own.post(f"{at}/period", **{"from": "2026-05-16 19:30", "to": "2026-05-16 20:00"}).status == 303
    assert 'value="2026-05-16 19:30"' in settled(own, at)
    assert own.post(f"{at}/period", **{"from": "", "to": ""}).status == 303
    assert set(tomllib.loads(path.read_text())).isdisjoint({"start", "end"})


def test_the_command_line_makes_the_same_of_it(own: Served, tmp_path: Path) -> None:
    at, path = grown(own, "shared.csv", "weekend.csv")
    own.post(f"{at}/run")
    page = settled(own, f"{at}/results")
    assert "Open the report" in page and "have changed since this report" not in page
    command = ["run", "study.toml", "--out", str(tmp_path / "x" / "evening")]
    done = loaded.run(command, cwd=path.parent, pictures=PICTURES)
    assert done.returncode == 0, done.stderr
    ours, theirs = (
        {each.relative_to(root): each.read_bytes() for each in root.rglob("*") if each.is_file()}
        for root in (path.parent / "outputs" / "evening", tmp_path / "x" / "evening")
    )
    assert ours == theirs and Path("summary.json") in ours
    assert len([each for each in ours if each.suffix == ".png"]) >= PICTURES


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="needs /proc")
def test_killed_while_it_grows_the_study_is_as_it_was(own_afresh: Served) -> None:
    at, path = evening(own_afresh)
    settled(own_afresh, at)
    before = path.read_bytes()
    for number in range(6):
        own_afresh.put(f"{at}/files/{number}.csv", sample("weekend.csv") + b"\n" * (number + 1))
    before = path.read_bytes()
    own_afresh.post(f"{at}/grow")
    for _ in range(600):
        if list(path.parent.glob(".collection.reach-*/collection/ledger.json")):
            break
        time.sleep(0.01)
    for child in psutil.Process(own_afresh.process.pid).children(recursive=True):
        os.kill(child.pid, signal.SIGKILL)
    page = settled(own_afresh, at)
    assert path.read_bytes() == before and "has ended, perhaps for want of memory" in page
    assert own_afresh.post(f"{at}/grow").status == 303
    assert "A collection of 7 files" in settled(own_afresh, at)
    assert sorted(each.name for each in path.parent.iterdir()) == ["collection", "spots", "study.toml"]


@pytest.mark.skipif(sys.platform != "linux", reason="needs limits of another process")
def test_a_full_disk_takes_nothing_in_and_loses_nothing(own: Served) -> None:
    at, path = grown(own)
    own.put(f"{at}/files/weekend.csv", sample("weekend.csv"))
    home = path.parent / "collection"
    before = {each: each.read_bytes() for each in home.rglob("*") if each.is_file()}
    below = psutil.Process(own.process.pid).children(recursive=True)
    for child in below:
        child.rlimit(psutil.RLIMIT_FSIZE, (10, resource.RLIM_INFINITY))
    page = settled(own, at)
    assert re.search(r'class="fault" role="alert">[^<]*could not be written', page), page
    assert {each: each.read_bytes() for each in home.rglob("*") if each.is_file()} == before
    assert own.post(f"{at}/take-out", entry="evening.csv").status == 422
    assert {each: each.read_bytes() for each in home.rglob("*") if each.is_file()} == before
    for child in below:
        child.rlimit(psutil.RLIMIT_FSIZE, (resource.RLIM_INFINITY,) * 2)
    assert "A collection of 2 files" in settled(own, at)


def test_what_was_put_into_it_elsewhere_counts_too(own: Served) -> None:
    at, path = grown(own)
    home = path.parent / "collection"
    assert loaded.run(["add", str(SAMPLES / "shared.csv"), "--to", str(home), "--callsign", "EI4QTB/P"]).returncode == 0
    page = settled(own, at)
    assert "A collection of 2 files" in page and counts(page)["set_aside"] == 358
    assert "The 358 rows are of files that do not lie in" in settled(own, f"{at}/rows/set_aside")
    assert Kept(path.parent).waiting == []
    own.put(f"{at}/files/brought.csv", sample("shared.csv"))
    page = settled(own, at)
    assert "A collection of 2 files" in page and counts(page)["set_aside"] == 358
    assert sorted(each.name for each in (path.parent / "spots").iterdir()) == ["evening.csv", "shared.csv"]
    assert "1 to 200 of 358<" in settled(own, f"{at}/rows/set_aside")


def test_grown_in_the_browser_by_keys_alone(visit: Any, desk: Served) -> None:
    """On a wide window in light, then, once it is a collection, on a narrow one in dark."""
    at = visit(color_scheme="light", viewport={"width": 1280, "height": 800}, bypass_csp=True)
    at.begin("Weeks")
    page = at.page
    page.get_by_label("CSV files").set_input_files([str(SAMPLES / name) for name in ("evening.csv", "messy.csv")])
    page.get_by_role("button", name="Put in").click()
    at.settled()
    page.get_by_text("A study that goes on for weeks").focus()
    page.keyboard.press("Enter")
    at.without_fault()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("A collection of 2 files").wait_for(timeout=60_000)
    at.settled()
    at.without_fault()
    page.set_viewport_size({"width": 390, "height": 800})
    page.emulate_media(color_scheme="dark")
    page.get_by_label("CSV files").set_input_files(str(SAMPLES / "weekend.csv"))
    page.get_by_label("CSV files").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_text("A collection of 3 files").wait_for(timeout=60_000)
    at.settled()
    page.get_by_role("button", name="Take out messy.csv").focus()
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Put back messy.csv").wait_for(timeout=60_000)
    at.settled()
    page.get_by_role("link", name="How it was read weekend.csv").focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="weekend.csv").wait_for(timeout=60_000)
    at.settled()
    at.without_fault()
    page.get_by_label("From", exact=True).fill("soon")
    page.keyboard.press("Enter")
    page.get_by_role("alert").filter(has_text="is no day or time").wait_for(timeout=60_000)
    at.settled()
    at.without_fault()
    page.get_by_label("From", exact=True).fill("2026-05-23")
    page.keyboard.press("Enter")
    page.get_by_text("lie before 2026-05-23 00:00 UTC").wait_for(timeout=60_000)
    study = (desk.folder / "Weeks" / "study.toml").read_text()
    assert tomllib.loads(study)["files"] == ["collection"] and NOW not in study
    at.complaints = [each for each in at.complaints if "422" not in each]

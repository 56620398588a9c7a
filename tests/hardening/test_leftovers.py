"""Nothing left over: kills at any moment, two at once, disks that are full, folders that may not be written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from reach.base import beside
from reach.draw import basemap
from reach.errors import OutputError
from reach.tell import files, folder

resource = pytest.importorskip("resource")

# A run that stops and waits to be killed, at a moment that is named.
WRITER = """
import os, sys, time
from pathlib import Path
from reach.base import beside
from reach.tell import files, folder
out, moment = Path(sys.argv[1]), sys.argv[2]
def wait():
    print("ready", flush=True); time.sleep(60)
if moment == "between":
    first = os.replace
    def replace(a, b):
        if Path(a).name.startswith(".out.reach-") and Path(b) == out: wait()
        first(a, b)
    os.replace = replace
if moment == "file":
    with files.taking_the_place_of(out) as partial:
        partial.write_text("half"); wait()
with folder.replacing(out) as partial:
    (partial / "report.html").write_text("new")
    if moment == "half": wait()
    (partial / "manifest.json").write_text(folder.to_json({"reach": "1", "outputs": folder.hashes(partial)}))
"""


def make(out: Path, content: str) -> None:
    with folder.replacing(out) as partial:
        (partial / "report.html").write_text(content)
        (partial / "manifest.json").write_text(folder.to_json({"reach": "1", "outputs": folder.hashes(partial)}))


def started(out: Path, moment: str) -> subprocess.Popen:
    running = subprocess.Popen([sys.executable, "-c", WRITER, str(out), moment], stdout=subprocess.PIPE, text=True)
    assert running.stdout is not None and running.stdout.readline() == "ready\n"
    return running


def killed(running: subprocess.Popen) -> None:
    running.send_signal(signal.SIGKILL)
    running.communicate()


@pytest.mark.parametrize("moment", ["half", "between"])
def test_what_was_killed_is_cleared_and_the_old_folder_is_there(tmp_path, moment):
    out = tmp_path / "out"
    make(out, "old")
    killed(started(out, moment))
    assert len(os.listdir(tmp_path)) > (moment == "half")
    folder.check(out)  # what a command asks before it reads anything
    make(out, "newest") if moment == "half" else None
    assert (out / "report.html").read_text() == ("newest" if moment == "half" else "old")
    make(out, "newest")
    assert os.listdir(tmp_path) == ["out"]


def test_a_file_half_written_is_cleared(tmp_path):
    out = tmp_path / "out"
    killed(started(out, "file"))
    assert not out.exists() and len(os.listdir(tmp_path)) == 1
    files.write(out, "whole")
    assert os.listdir(tmp_path) == ["out"] and out.read_text() == "whole"


def test_what_another_one_is_writing_stays(tmp_path):
    out = tmp_path / "out"
    running = started(out, "half")
    try:
        with pytest.raises(OutputError, match="another run"):
            make(out, "mine")
        assert len(os.listdir(tmp_path)) == 1
    finally:
        killed(running)
    make(out, "mine")
    assert os.listdir(tmp_path) == ["out"]


def test_only_ours_is_cleared(tmp_path):
    for name in (".out.mine", ".outer.reach-x", "out.reach-y"):
        (tmp_path / name).mkdir()
    make(tmp_path / "out", "x")
    assert sorted(os.listdir(tmp_path)) == [".out.mine", ".outer.reach-x", "out", "out.reach-y"]


def test_a_full_disk_leaves_the_old_ones_whole(tmp_path):
    make(tmp_path / "out", "old")
    files.write(tmp_path / "a.csv", "old")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))
    try:
        with pytest.raises(OutputError, match="could not be written"):
            make(tmp_path / "out", "x" * 10_000)
        with pytest.raises(OutputError, match="could not be written"):
            files.write(tmp_path / "a.csv", "x" * 10_000, replace=True)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert sorted(os.listdir(tmp_path)) == ["a.csv", "out"]
    assert (tmp_path / "out" / "report.html").read_text() == (tmp_path / "a.csv").read_text() == "old"


@pytest.mark.parametrize("name", ["a" * 300, "file/out"])
def test_places_that_cannot_be(tmp_path, name):
    (tmp_path / "file").touch()
    for write in (lambda place: make(place, "x"), lambda place: files.write(place, "x")):
        with pytest.raises(OutputError):
            write(tmp_path / name)
    assert os.listdir(tmp_path) == ["file"]


def test_a_foreign_cache_is_worked_out_anew(tmp_path):
    whole = {f"{name}_xy": np.zeros((3, 2), np.float32) for name in ("land", "coast", "borders")}
    whole |= {f"{name}_codes": np.zeros(3, np.uint8) for name in ("land", "coast", "borders")}
    file = tmp_path / "basemap-x.npz"
    np.savez(file, **whole)
    assert basemap._load(file) is not None
    for odd in (np.zeros((3, 5)), np.zeros(3), np.zeros((3, 2, 2)), np.array(["a"] * 3), np.zeros((3, 2), complex)):
        np.savez(file, **{**whole, "land_xy": odd})
        assert basemap._load(file) is None


def test_names_of_leftovers_are_hidden_and_beside(tmp_path):
    with beside.folder(tmp_path / "out") as one, beside.file(tmp_path / "a.csv") as two:
        assert one.parent == two.parent == tmp_path and one.name.startswith(".out.") and two.suffix == ".csv"
    assert not os.listdir(tmp_path)

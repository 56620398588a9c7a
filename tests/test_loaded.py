"""`reach` by a fork is what `python -m reach` is: what it says, how it ends, what surrounds it, whose child it is."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from tests import loaded
from tests.conftest import SAMPLES

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets a process adopt")


@pytest.mark.parametrize(
    "args",
    [["locator", "IO51es"], ["vet", str(SAMPLES / "messy.toml"), "--strict"], ["vet", "none.toml"], ["run", "--no-such-option"]],
)  # fmt: skip
def test_it_says_the_same_and_ends_the_same(args: list[str], tmp_path: Path) -> None:
    forked = loaded.run(args, cwd=tmp_path)
    afresh = subprocess.run([sys.executable, "-m", "reach", *args], cwd=tmp_path, capture_output=True, text=True)
    assert (forked.returncode, forked.stdout, forked.stderr) == (afresh.returncode, afresh.stdout, afresh.stderr)


def test_it_reads_what_it_is_given_where_it_is_put(tmp_path: Path) -> None:
    (tmp_path / "in.csv").write_bytes((SAMPLES / "evening.csv").read_bytes())
    with (tmp_path / "in.csv").open("rb") as rows:
        args = ["vet", "-", "--locator", "IO51es", "--problems", "out.csv"]
        found = loaded.run(args, cwd=tmp_path, stdin=rows, umask=0o077, env={**os.environ, "REACH_X": "1"})
    assert found.returncode == 0 and "1,580 accepted" in found.stdout, found.stderr
    assert (tmp_path / "out.csv").stat().st_mode & 0o777 == 0o600


def test_no_file_of_it_is_larger_than_allowed(tmp_path: Path) -> None:
    args = ["vet", str(SAMPLES / "messy.toml"), "--problems", "out.csv"]
    assert loaded.run(args, cwd=tmp_path, largest_file=10).returncode == 2
    assert list(tmp_path.iterdir()) == []


def test_it_is_a_child_that_can_be_killed(tmp_path: Path) -> None:
    with loaded.Reach(
        ["desk", "--folder", str(tmp_path), "--no-browser"], stdout=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None and running.stdout.readline().startswith("Open ")
        assert running.poll() is None and psutil.Process(running.pid).ppid() == os.getpid()
        running.kill()
        assert running.wait(20) == -signal.SIGKILL


def test_what_is_settled_when_python_starts_gets_a_python_of_its_own(tmp_path: Path) -> None:
    how = {"stdout": subprocess.PIPE, "text": True}
    for env, is_forked in ((os.environ, True), ({**os.environ, "PYTHONHASHSEED": "7"}, False)):
        with loaded.Reach(["desk", "--folder", str(tmp_path), "--no-browser"], env=env, **how) as running:
            assert running.stdout is not None and running.stdout.readline().startswith("Open ")
            assert ("desk" not in psutil.Process(running.pid).cmdline()) == is_forked
            running.terminate()
            running.wait(30)

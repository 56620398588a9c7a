"""A process started afresh: by this Python, or by the program of a folder that brings its own."""

from __future__ import annotations

import os
import runpy
import subprocess
import sys
from pathlib import Path

import pytest

from reach.base import afresh

BUNDLED = Path(__file__).parents[2] / ".ci" / "bundled"
MODULE = 'import os\n\n\ndef serve():\n    print("served", os.environ.get("PYINSTALLER_RESET_ENVIRONMENT"))\n'


@pytest.fixture
def served(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A module that can be started, where Python looks for it."""
    (tmp_path / "served_here.py").write_text(MODULE)
    monkeypatch.syspath_prepend(str(tmp_path))
    monkeypatch.setenv("PYTHONPATH", os.pathsep.join([str(tmp_path), *filter(None, sys.path)]))
    monkeypatch.delenv("PYINSTALLER_RESET_ENVIRONMENT", raising=False)
    return "served_here"


def said(module: str) -> str:
    with afresh.start(module, stdout=subprocess.PIPE, text=True) as process:
        return process.communicate(timeout=60)[0]


def test_python_is_started_again(served: str) -> None:
    assert said(served) == "served None\n"


@pytest.mark.skipif(sys.platform == "win32", reason="the stand-in for a program is a script of a shell")
@pytest.mark.parametrize("started", ["reach", "reach-desk"])
def test_a_folder_without_a_python_starts_its_own_program(
    served: str, started: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whichever of its two runs: `reach-desk` has no pipes on Windows."""
    entry = BUNDLED / "start_reach.py"
    program = tmp_path / "a folder" / "reach"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nexec "{sys.executable}" "{entry}" "$@"\n')
    program.chmod(0o755)
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    monkeypatch.setattr(sys, "executable", str(program.with_name(started)))
    assert said(served) == "served 1\n"


@pytest.mark.parametrize(
    ("there", "left"),
    [
        ({}, {}),
        ({"LD_LIBRARY_PATH": "folder"}, {}),
        ({"LD_LIBRARY_PATH": "folder:mine", "LD_LIBRARY_PATH_ORIG": "mine"}, {"LD_LIBRARY_PATH": "mine"}),
    ],
)
def test_what_a_folder_starts_finds_the_libraries_of_the_system(there: dict[str, str], left: dict[str, str]) -> None:
    told = {"HOME": "here", **there}
    runpy.run_path(str(BUNDLED / "surroundings.py"))["put_back"](told)
    assert told == {"HOME": "here", **left}


def test_other_arguments_are_for_the_program_itself() -> None:
    assert not afresh.served(["reach"])
    assert not afresh.served(["reach", "run", "os"])
    assert not afresh.served(["reach", "--serve-afresh"])


def test_without_a_program_nothing_is_started(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "executable", "")
    with pytest.raises(ValueError, match="no Python"):
        afresh.start("served_here")

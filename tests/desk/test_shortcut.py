"""The entry in the menu: what the specification wants, with paths of any kind; and what starts from it."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import stat
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from reach.desk import shortcut
from reach.errors import OutputError

NASTY = ['/home/a b/$HOME/`x`/100%/"q"/back\\slash/reach-desk', "--folder", "/tmp/My Studies/ü"]


def exec_of(entry: str) -> list[str]:
    """The arguments that a menu starts, read as the Desktop Entry Specification says: first the string, then its quoting."""
    (line,) = re.findall(r"^Exec=(.*)$", entry, re.M)
    text = re.sub(r"\\(.)", lambda found: {"s": " ", "n": "\n", "t": "\t", "r": "\r"}.get(found[1], found[1]), line)
    found = re.findall(r'"((?:[^"\\]|\\.)*)"', text)
    return [re.sub(r"\\([\"`$\\])", r"\1", each).replace("%%", "%") for each in found]


def test_a_desktop_entry_starts_what_it_was_told(tmp_path: Path) -> None:
    path = shortcut.write(NASTY, system="linux", home=tmp_path, told={})
    assert path == tmp_path / ".local" / "share" / "applications" / "reach-desk.desktop"
    entry = path.read_text(encoding="utf-8")
    assert exec_of(entry) == NASTY
    assert {"Type=Application", "Terminal=false", "Name=Reach"} <= set(entry.splitlines())
    if shutil.which("desktop-file-validate"):
        subprocess.run(["desktop-file-validate", str(path)], check=True)
    assert shortcut.write(["x"], system="linux", home=tmp_path, told={}) == path, "its own it writes anew"
    path.write_text("[Desktop Entry]\nName=mine\n")
    with pytest.raises(OutputError, match="left alone"):
        shortcut.write(["x"], system="linux", home=tmp_path, told={})


def test_it_goes_where_the_environment_says(tmp_path: Path) -> None:
    told = {"XDG_DATA_HOME": str(tmp_path / "data")}
    assert shortcut.write(["x"], system="linux", home=tmp_path, told=told).is_relative_to(tmp_path / "data")
    told = {"XDG_DATA_HOME": "relative"}
    assert shortcut.write(["x"], system="linux", home=tmp_path, told=told).is_relative_to(tmp_path / ".local")


def test_a_path_with_a_line_break_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="control character"):
        shortcut.write(["/a\nExec=evil"], system="linux", home=tmp_path, told={})


def test_a_command_file_for_macos(tmp_path: Path) -> None:
    path = shortcut.write(NASTY, system="darwin", home=tmp_path, told={})
    assert path.parent == tmp_path / "Applications" and path.stat().st_mode & stat.S_IXUSR
    last = path.read_text(encoding="utf-8").splitlines()[-1]
    assert shlex.split(last) == ["exec", *NASTY]


def test_a_link_for_windows_is_asked_of_its_own_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The program is a stand-in: no such system is here."""
    seen = tmp_path / "seen"
    program = tmp_path / "powershell"
    program.write_text(f'#!/bin/sh\nprintf "%s\\n" "$REACH_LINK" "$REACH_TARGET" "$REACH_ARGUMENTS" "$4" > {seen}\n')
    program.chmod(0o755)
    told = {"APPDATA": str(tmp_path / "Roaming"), "PATH": f"{tmp_path}:/bin:/usr/bin"}
    monkeypatch.setenv("PATH", told["PATH"])
    path = shortcut.write(
        ["C:\\x y\\reach-desk.exe", "--folder", "D:\\my studies"], system="win32", home=tmp_path, told=told
    )
    link, target, arguments, asked = seen.read_text().splitlines()
    assert link == str(path) and path.name == "Reach.lnk" and "Start Menu" in link
    assert target == "C:\\x y\\reach-desk.exe" and arguments == '--folder "D:\\my studies"'
    assert "CreateShortcut($env:REACH_LINK)" in asked and "my studies" not in asked


def test_the_command_writes_it(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "reach", "desk", "--shortcut", "--folder", "my studies"], cwd=tmp_path, capture_output=True, text=True,
        env={**os.environ, "XDG_DATA_HOME": str(tmp_path), "HOME": str(tmp_path)}, check=True,
    )  # fmt: skip
    entry = tmp_path / "applications" / "reach-desk.desktop"
    assert f"Wrote {entry}" in done.stdout
    assert exec_of(entry.read_text())[-2:] == ["--folder", str(tmp_path / "my studies")]


@pytest.mark.parametrize("running", ["reach", "reach-desk"])
def test_in_a_folder_that_brings_its_python_the_menu_opens_the_desk(
    running: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    monkeypatch.setattr(sys, "executable", str(tmp_path / running))
    assert shortcut.command("--folder", "x") == [str(tmp_path / "reach-desk"), "--folder", "x"]


def test_the_program_for_menus_is_named() -> None:
    told = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text())
    assert told["project"]["gui-scripts"] == {"reach-desk": "reach.cli.desk:from_menu"}


def test_from_a_menu_what_is_wrong_is_shown_in_the_browser(tmp_path: Path) -> None:
    """There is no terminal, and the folder is a file."""
    (tmp_path / "taken").write_text("x")
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\nprintf "%s" "$1" > {tmp_path}/opened\n')
    browser.chmod(0o755)
    code = (
        "import sys; sys.stdout = sys.stderr = None; sys.argv = ['reach-desk', '--folder', sys.argv[1]]; "
        "from reach.cli import desk; desk.from_menu()"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "taken")], env={**os.environ, "BROWSER": str(browser)}, timeout=60
    )  # fmt: skip
    assert done.returncode == 2
    shown = Path((tmp_path / "opened").read_text().removeprefix("file://"))
    assert "cannot be used for studies" in shown.read_text() and "taken" in shown.read_text()
    shown.unlink()

"""An entry in the menu of programs that opens the desk, for people who start nothing from a terminal.

Linux: a desktop entry (freedesktop.org, Desktop Entry Specification 1.5) among the user's own applications. macOS: an executable
`.command` file in the user's Applications, which Finder opens. Windows: a shortcut in the Start menu, made by the Windows Script
Host (Microsoft, WshShell.CreateShortcut). The last two were written by their documentation and not tried on such a system.
"""

from __future__ import annotations

import os
import shlex
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from reach.errors import OutputError
from reach.tell import files

OURS: Final = "# Written by `reach desk --shortcut`, which writes it anew."
_MADE: Final = "Reach"
# The names and the paths come by the environment, so that nothing in them is taken for a command.
_LINK: Final = (
    "$link = (New-Object -ComObject WScript.Shell).CreateShortcut($env:REACH_LINK); $link.TargetPath = $env:REACH_TARGET; "
    "$link.Arguments = $env:REACH_ARGUMENTS; $link.Description = 'What your radio reached'; $link.Save()"
)


def command(*options: str) -> list[str]:
    """The program and its arguments that open the desk without a terminal."""
    if getattr(sys, "frozen", False):
        program = Path(sys.executable)  # of a folder that brings its Python: either of its two
        return [str(program.with_name(f"reach-desk{program.suffix}")), *options]
    ending = ".exe" if sys.platform == "win32" else ""
    installed = Path(sysconfig.get_path("scripts")) / f"reach-desk{ending}"
    if installed.is_file():
        return [str(installed), *options]
    return [sys.executable, "-m", "reach", "desk", *options]


def write(
    started: Sequence[str],
    *,
    system: str = sys.platform,
    home: Path | None = None,
    told: Mapping[str, str] = os.environ,
) -> Path:
    """Write the entry.

    started : the program and its arguments
    system : as sys.platform says; home : the user's folder; told : the environment
    Returns where it is. OutputError where that cannot be written, or somebody changed what is there.
    """
    home = home or Path.home()
    if system == "win32":
        return _windows(started, home, told)
    if system == "darwin":
        path, content = home / "Applications" / f"{_MADE}.command", _command_file(started)
    else:
        base = Path(told.get("XDG_DATA_HOME", ""))
        base = base if base.is_absolute() else home / ".local" / "share"  # as the Base Directory Specification has it
        path, content = base / "applications" / "reach-desk.desktop", _desktop_entry(started)
    if path.exists() and OURS not in path.read_text(encoding="utf-8", errors="replace"):
        raise OutputError(
            f"{path}: is there already and was not written by `reach`, so it is left alone; move it away first."
        )
    files.write(path, content, replace=True)
    if system == "darwin":
        path.chmod(path.stat().st_mode | 0o100)
    return path


def _desktop_entry(started: Sequence[str]) -> str:
    shown = " ".join(_quoted(each) for each in started)
    return (
        f"{OURS}\n[Desktop Entry]\nType=Application\nVersion=1.5\nName={_MADE}\nGenericName=Reception reports\n"
        "Comment=How far, where to and when a few watts reached\n"
        f"Exec={shown}\nTerminal=false\nCategories=Network;HamRadio;\nKeywords=radio;locator;QRP;antenna;\n"
    )


def _quoted(argument: str) -> str:
    """An argument as the key Exec has it: quoted, its signs escaped, and that once more as every string of the file."""
    if any(ord(letter) < 0x20 for letter in argument):
        raise OutputError(f"{argument!r}: holds a control character, which no entry of a menu can.")
    escaped = "".join(f"\\{letter}" if letter in '"`$\\' else letter for letter in argument)
    return f'"{escaped}"'.replace("\\", "\\\\").replace("%", "%%")


def _command_file(started: Sequence[str]) -> str:
    return f"#!/bin/sh\n{OURS}\nexec {shlex.join(started)}\n"


def _windows(started: Sequence[str], home: Path, told: Mapping[str, str]) -> Path:
    roaming = Path(told.get("APPDATA") or home / "AppData" / "Roaming")
    path = roaming / "Microsoft" / "Windows" / "Start Menu" / "Programs" / f"{_MADE}.lnk"
    program = shutil.which("powershell") or "powershell"
    given = {
        "REACH_LINK": str(path),
        "REACH_TARGET": started[0],
        "REACH_ARGUMENTS": subprocess.list2cmdline(started[1:]),
    }
    asked = [program, "-NoProfile", "-NonInteractive", "-Command", _LINK]
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        subprocess.run(asked, env={**told, **given}, check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError) as error:
        raise OutputError(f"{path}: could not be written ({error}).") from None
    return path

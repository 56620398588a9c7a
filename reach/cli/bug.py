"""A bug: one sentence for the user, and a report in a file that they may send or not."""

from __future__ import annotations

import os
import platform
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from reach.base.installed import version_of

EXIT: Final = 70  # EX_SOFTWARE of sysexits.h: an error of the program, not of its input
_PACKAGES: Final = ("reach", "numpy", "pandas", "pyarrow", "matplotlib", "click", "pydantic")


def sentence(error: BaseException, args: Sequence[str]) -> str:
    """What the user is told; the report lies in the system's folder for temporary files then, readable by them alone.

    args : of the command line, of which the report keeps the names of options only
    """
    said = "this is a bug in reach and no fault of yours; nothing that was there before was changed"
    try:
        handle, name = tempfile.mkstemp(prefix="reach-bug-", suffix=".txt")
        with os.fdopen(handle, "w", encoding="utf-8", errors="replace") as out:
            out.write(report(error, args))
    except OSError:
        return f"{said} ({type(error).__name__})."
    return f"{said}: please send {name}, which holds no spots, names of files or values of yours."


def report(error: BaseException, args: Sequence[str]) -> str:
    """Versions, the command with the names of its options, and where it went wrong.

    Of the error only its kind is told, not its words, which may quote a cell or a path; and of files only those of programs.
    """
    options = [arg.split("=", 1)[0] for arg in args if arg.startswith("--")]
    lines = [
        f"{platform.system()} {platform.machine()}, Python {platform.python_version()}",
        ", ".join(f"{name} {version_of(name)}" for name in _PACKAGES),
        f"reach {_command(args)} {' '.join(options)}".rstrip(),
        "",
    ]
    while error is not None:
        for frame in traceback.extract_tb(error.__traceback__):
            lines.append(f"{_file(frame.filename)}:{frame.lineno} in {frame.name}\n    {frame.line}")
        lines.append(f"{type(error).__module__}.{type(error).__qualname__}")
        cause = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
        if cause is None:
            break
        error = cause
        lines.append("\nwhile this was handled:")
    return "\n".join(lines) + "\n"


def _command(args: Sequence[str]) -> str:
    from reach.cli import COMMANDS

    return next((arg for arg in args if arg in COMMANDS), "")


def _file(path: str) -> str:
    """A path from the folder of programs that it lies in."""
    for root in sorted(filter(None, sys.path), key=len, reverse=True):
        try:
            return Path(path).relative_to(root).as_posix()
        except ValueError:
            continue
    return Path(path).name

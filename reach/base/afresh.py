"""Another process: this Python started afresh, to serve the one that starts it through pipes.

That takes no fork, which a program with threads may not survive, and no guard in the user's own script, which it never runs.
Where the program is one folder that brings its Python (made by PyInstaller), there is no Python to start: the program `reach` of that
folder is, and asks `served` before anything else whether that is what it was started for.
"""

from __future__ import annotations

import importlib
import json
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

_CODE: Final = (
    "import importlib, json, sys; sys.path[:] = json.loads(sys.argv[1]); importlib.import_module(sys.argv[2]).serve()"
)
_ORDER: Final = "--serve-afresh"


def start(module: str, **pipes: Any) -> subprocess.Popen[Any]:
    """Have `serve()` of a module run in a process of its own, which finds its modules where this one does.

    pipes : as for subprocess.Popen, such as stdin, stdout, text
    ValueError where there is no Python program to start; OSError where it cannot be.
    """
    if not sys.executable:
        raise ValueError("no Python program to start")
    # To a folder's program the one that it starts is nothing but another program, which finds its libraries itself.
    surroundings = {**os.environ, "PYINSTALLER_RESET_ENVIRONMENT": "1"} if _is_folder() else None
    return subprocess.Popen(
        _started(module),
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),  # on Windows, no black box flashes up
        env=surroundings,
        **pipes,
    )


def served(arguments: Sequence[str] | None = None) -> bool:
    """Whether this process was started by `start` out of such a folder; then it has served, and there is nothing left to do.

    arguments : of the process, its own where left out
    """
    match (sys.argv if arguments is None else arguments)[1:]:
        case [asked, module] if asked == _ORDER:
            importlib.import_module(module).serve()
            return True
    return False


def _is_folder() -> bool:
    return bool(getattr(sys, "frozen", False))


def _started(module: str) -> list[str]:
    if _is_folder():
        # Not the program that runs: `reach-desk` has no pipes on Windows, where it is without a window.
        program = Path(sys.executable)
        return [str(program.with_name(f"reach{program.suffix}")), _ORDER, module]
    return [sys.executable, "-c", _CODE, json.dumps(sys.path), module]

"""Another process: this Python started afresh, to serve the one that starts it through pipes.

That takes no fork, which a program with threads may not survive, and no guard in the user's own script, which it never runs.
"""

from __future__ import annotations

import json
import subprocess
import sys
from typing import Any, Final

_CODE: Final = (
    "import importlib, json, sys; sys.path[:] = json.loads(sys.argv[1]); importlib.import_module(sys.argv[2]).serve()"
)


def start(module: str, **pipes: Any) -> subprocess.Popen[Any]:
    """Have `serve()` of a module run in a process of its own, which finds its modules where this one does.

    pipes : as for subprocess.Popen, such as stdin, stdout, text
    ValueError where there is no Python program to start; OSError where it cannot be.
    """
    if not sys.executable or getattr(sys, "frozen", False):
        raise ValueError("no Python program to start")
    return subprocess.Popen(
        [sys.executable, "-c", _CODE, json.dumps(sys.path), module],
        creationflags=getattr(subprocess, "CREATE_NO_WINDOW", 0),  # on Windows, no black box flashes up
        **pipes,
    )

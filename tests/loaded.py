"""`reach` as a process of its own that need not load its libraries first.

    with loaded.Reach(["vet", "may.toml"], stdout=subprocess.PIPE, text=True) as running: ...

A process that has loaded them waits for orders and forks. The fork is the asker's own child, with the pipes, folder, surroundings,
umask and limit that it was given: its number, its signals, its exit code are those of a process, and Python ends it as it ends any.
The same in all of them is what Python settles when it starts, such as how it hashes. Surroundings that Python or a library looks at
when it starts get a Python of their own, and so does everything on systems other than Linux. What a test says of starting, of two
processes that give the same bytes, or of the worker that the desk starts and loses, it says of `python -m reach`.
"""

from __future__ import annotations

import atexit
import contextlib
import ctypes
import gc
import importlib
import inspect
import json
import os
import pkgutil
import runpy
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

_ADOPTS = 36  # PR_SET_CHILD_SUBREAPER of prctl(2): whose parent has ended becomes a child of the caller
# Surroundings of these names are looked at when Python or a library starts, but for those that a fork can follow.
_AT_START = ("PYTHON", "LC_", "LANG", "OMP_", "OPENBLAS_", "MPL", "MALLOC_", "HOME", "XDG_", "PROJ_")
_FOLLOWED = ("PYTHONPATH", "PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
_LIBRARIES = (
    "anyio._backends._asyncio", "cartopy.mpl.geoaxes", "fontTools.ttLib.tables._g_l_y_f", "fontTools.ttLib.tables._n_a_m_e", "geopandas",
    "icalendar", "jinja2", "matplotlib.backends.backend_agg", "matplotlib.backends.backend_svg", "matplotlib.figure", "pandas",
    "PIL.Image", "PIL.ImageDraw", "PIL.PngImagePlugin", "PIL.WebPImagePlugin", "pptx", "pptx.chart.data", "pyarrow.compute", "pyarrow.csv",
    "pyarrow.parquet", "pyproj", "reportlab.graphics.charts.barcharts", "reportlab.pdfgen.canvas", "reportlab.platypus", "rich.console",
    "rich.progress", "rich.status", "scipy.optimize", "scipy.spatial", "scipy.special", "tomlkit", "uvicorn",
    "uvicorn.protocols.http.h11_impl", "starlette.applications",
)  # fmt: skip
_Order = tuple[dict[str, Any], list[int]]


class Reach(subprocess.Popen[Any]):
    """`reach` with these arguments. Of what subprocess.Popen takes: cwd, env, umask, text, encoding and the three streams.

    largest_file : bytes, where a file may be no larger
    pictures : how many pictures of a report are drawn, the first ones, or which, by name, where it need not be all of them
    film_s : how long a film of the desk is [s]
    largest_unpacked : bytes that one file may unpack to, where that is less than for a user
    """

    _more: Mapping[str, Any] = {}

    def __init__(
        self,
        args: Sequence[str],
        *,
        largest_file: int | None = None,
        pictures: int | Sequence[str] | None = None,
        film_s: float | None = None,
        largest_unpacked: int | None = None,
        **how: Any,
    ) -> None:
        less = {"pictures": pictures, "film_s": film_s, "largest_unpacked": largest_unpacked}
        self._order = {"args": list(args), "largest_file": largest_file, "less": less, **self._more}
        super().__init__([sys.executable, "-m", "reach", *args], preexec_fn=lambda: _bound(largest_file), **how)

    def _execute_child(self, *given: Any) -> None:
        asked = inspect.signature(subprocess.Popen._execute_child).bind(self, *given).arguments  # type: ignore[attr-defined]
        env = dict(os.environ if asked["env"] is None else asked["env"])
        if not _is_followed(env):
            super()._execute_child(*given)  # type: ignore[misc]
            return
        pipes = [asked[name] for name in ("p2cread", "p2cwrite", "c2pread", "c2pwrite", "errread", "errwrite")]
        order = {**self._order, "env": env, "cwd": os.path.abspath(asked["cwd"] or os.curdir), "umask": asked["umask"]}
        try:
            self.pid = _forked(
                order, [own if end < 0 else end for own, end in enumerate((pipes[0], pipes[3], pipes[5]))]
            )
            self._child_created = True
        finally:
            self._close_pipe_fds(*pipes)  # type: ignore[attr-defined]


class _Afresh(Reach):
    """What `reach.base.afresh.start` starts, likewise."""

    def __init__(self, module: str, **pipes: Any) -> None:
        self._more = {"module": module}
        super().__init__([], **pipes)


def run(args: Sequence[str], **how: Any) -> subprocess.CompletedProcess[str]:
    """`reach` to its end, and what it printed."""
    with Reach(args, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, **how) as running:
        said = running.communicate()
    return subprocess.CompletedProcess(list(args), running.returncode, *said)


def _is_followed(env: Mapping[str, str]) -> bool:
    def at_start(of: Mapping[str, str]) -> dict[str, str]:
        return {name: told for name, told in of.items() if name.startswith(_AT_START) and name not in _FOLLOWED}

    return sys.platform == "linux" and at_start(env) == _SURROUNDINGS.setdefault(os.getpid(), at_start(os.environ))


# By the number of the process that asks, for a fork of it has to have its own: the line to the process that has loaded everything, and
# what surrounded that when it started.
_LINES: dict[int, socket.socket] = {}
_SURROUNDINGS: dict[int, dict[str, str]] = {}
_ASKED = threading.Lock()


def _forked(order: Mapping[str, Any], streams: Sequence[int]) -> int:
    """The number of a new child of this process, which is what was ordered."""
    with _ASKED:  # answers come in the order of questions, and adoption is the whole process's
        line = _LINES.get(os.getpid()) or _started()
        adopt = ctypes.CDLL(None).prctl
        adopt(_ADOPTS, 1, 0, 0, 0)
        try:
            socket.send_fds(line, [json.dumps(order).encode()], streams)
            number, _ = line.recv(64), line.recv(64)  # the second says that its first parent has ended
        finally:
            adopt(_ADOPTS, 0, 0, 0, 0)
    return int(number)


def _started() -> socket.socket:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    with theirs:
        code = f"from tests import loaded; loaded.load_and_wait({theirs.fileno()})"
        process = subprocess.Popen(
            [sys.executable, "-c", code], pass_fds=[theirs.fileno()], cwd=Path(__file__).parents[1]
        )

    def end() -> None:
        ours.close()
        process.wait()

    atexit.register(end)
    _LINES[os.getpid()] = ours
    return ours


# --- in the process that waits, and in its forks -----------------------------------------------------------------------


def load_and_wait(line: int) -> None:
    """Load everything, and fork for each order that comes by a socket of this number; in the fork, be what was ordered."""
    import reach
    from reach.place import world

    for name in _LIBRARIES:
        with contextlib.suppress(ImportError):  # what is missing here is missing there, and told there
            importlib.import_module(name)
    for module in pkgutil.walk_packages(reach.__path__, "reach."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    world.unpack()
    gc.freeze()  # or each fork would look through all of it when it ends
    ordered = _wait(socket.socket(fileno=line))
    if ordered is not None:
        _be(*ordered)


def _wait(line: socket.socket) -> _Order | None:
    """In a fork: what was ordered, and its streams. In the process that waits None, once nobody can order any more."""
    while True:
        asked, streams, _, _ = socket.recv_fds(line, 1 << 20, 3)
        if not asked:
            return None
        between = os.fork()
        if between == 0:
            child = os.fork()
            if child == 0:
                line.close()
                return json.loads(asked), streams
            line.send(b"%d" % child)
            os._exit(0)
        os.waitpid(between, 0)
        line.send(b"ended")
        for number in streams:
            os.close(number)


def _be(order: Mapping[str, Any], streams: Sequence[int]) -> None:
    """From here on as `python -m reach` begins, or what was to be started afresh."""
    for own, given in enumerate(streams):
        os.dup2(given, own)
        os.close(given)
    sys.stdin = open(0, encoding="utf-8", errors=sys.stdin.errors, closefd=False)  # noqa: SIM115
    sys.stdout = open(1, "w", encoding="utf-8", errors=sys.stdout.errors, closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", 1, encoding="utf-8", errors=sys.stderr.errors, closefd=False)  # noqa: SIM115
    sys.__stdin__, sys.__stdout__, sys.__stderr__ = sys.stdin, sys.stdout, sys.stderr  # type: ignore[misc]
    os.chdir(order["cwd"])
    os.environ.clear()
    os.environ.update(order["env"])
    time.tzset()
    if order["umask"] >= 0:
        os.umask(order["umask"])
    _bound(order["largest_file"])
    _less(**order["less"])
    tempfile.tempdir = None
    sys.dont_write_bytecode = bool(os.environ.get("PYTHONDONTWRITEBYTECODE"))
    if "module" in order:
        importlib.import_module(order["module"]).serve()
        return
    sys.path[0] = os.getcwd()
    sys.argv = ["reach", *order["args"]]
    if order["args"][:1] == ["desk"]:
        ordered = _with_a_nursery()
        if ordered is not None:
            _be(*ordered)
            return
    runpy.run_module("reach", run_name="__main__", alter_sys=True)


def _with_a_nursery() -> _Order | None:
    """What this process starts afresh is forked too: by a child that is made now, before there are threads. There, what was ordered."""
    from reach.base import afresh

    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    if os.fork():
        theirs.close()
        _LINES[os.getpid()] = ours
        afresh.start = _Afresh
        return None
    ours.close()
    for number in (0, 1):  # whoever reads what the desk prints is not kept waiting
        with open(os.devnull, "r+b") as nothing:
            os.dup2(nothing.fileno(), number)
    ordered = _wait(theirs)
    if ordered is None:
        os._exit(0)
    return ordered


def _less(pictures: int | list[str] | None, film_s: float | None, largest_unpacked: int | None) -> None:
    from reach.cli import motion
    from reach.draw import gallery
    from reach.read import sources

    every = gallery.pictures
    if isinstance(pictures, int):
        gallery.pictures = lambda *given, **how: every(*given, **how)[:pictures]
    elif pictures is not None:
        gallery.pictures = lambda *given, **how: [each for each in every(*given, **how) if each.name in pictures]
    if film_s is not None:
        motion.SECONDS = film_s  # type: ignore[misc]
    if largest_unpacked is not None:
        sources.LARGEST_UNPACKED = largest_unpacked  # type: ignore[misc]


def _bound(largest_file: int | None) -> None:
    if largest_file is not None:
        import resource

        resource.setrlimit(resource.RLIMIT_FSIZE, (largest_file, largest_file))

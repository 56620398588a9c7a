"""The pictures of a walk as files, drawn by as many processes as there are processors.

This process draws too; the helpers are the same Python started afresh with a loop that reads what to draw and writes what
came of it through a pipe. That takes no fork (which a program with threads may not survive), no guard in the user's own
script (a helper never runs it), no semaphores (which some places forbid), and is the same on every system. Where no
helper can be had, or one dies, this process draws what is left: the pictures are the same bytes whoever draws them.
"""

from __future__ import annotations

import contextlib
import gc
import io
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, cast

from reach.base import afresh, memory, tongue

if TYPE_CHECKING:
    from types import TracebackType

    from reach.draw.gallery import Picture
    from reach.findings import Findings

_MOST_HELPERS: Final = 7  # each takes some 250 MB
_WAIT_S: Final = 0.05
_OBJECTS_A_LOOK: Final = 100_000  # some two pictures
# What reading from or writing to a helper raises that has died, or was ended.
_GONE: Final = (OSError, EOFError, ValueError, pickle.UnpicklingError)
Step = Callable[[str], None]


class Drawers:
    """Helpers that draw, to be started as soon as it is clear that there will be pictures: they load their libraries while
    the spots are read. A context manager; at its end no helper is left.

    helpers : how many besides this process; where left out, what REACH_HELPERS says, else one less than there are processors
    at_once : whether they start now; else `begin` has them started, once there is a processor that has nothing to do
    """

    def __init__(self, helpers: int | None = None, *, at_once: bool = True) -> None:
        self._left = _wanted() if helpers is None else helpers
        self._starting = threading.Lock()
        self._helpers: list[_Helper] = []
        if at_once:
            self.begin()

    def begin(self) -> None:
        """Have the helpers started that are not yet."""
        with self._starting:
            while self._left:
                self._left -= 1
                with contextlib.suppress(OSError, ValueError):  # no program to start, or not allowed to
                    self._helpers.append(_Helper())

    @property
    def helpers(self) -> int:
        """How many helpers there are."""
        return len(self._helpers)

    def start(self, findings: Findings, folder: Path, *, style: str = "light") -> Drawing:
        """Have the pictures of a walk drawn into a folder, which is made; returns at once.

        findings : one walk's findings
        style : light or dark
        Returns Drawing, which is to be finished. DrawError for an unknown style.
        """
        self.begin()
        folder.mkdir(parents=True, exist_ok=True)
        return Drawing(findings, folder, style, self._helpers)

    def __enter__(self) -> Drawers:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        for helper in self._helpers:
            helper.end()


class Drawing:
    """Pictures of one walk in the making. A context manager; at its end nobody draws them any more, finished or not."""

    def __init__(self, findings: Findings, folder: Path, style: str, helpers: list[_Helper]) -> None:
        findings = findings.for_pictures()
        # Packed first: what is worked out once and kept would make the record larger, or change it while it is packed.
        job = _packed((findings, folder, style)) if helpers else []
        self._folder = folder
        self._left: queue.SimpleQueue[str] = queue.SimpleQueue()
        self._named = threading.Event()  # whether it is known what there is to draw
        self._failed: BaseException | None = None
        # A thread a helper: it only waits at the pipe, so it does not keep this process from working.
        self._threads = [threading.Thread(target=self._hand_out, args=(each, job), daemon=True) for each in helpers]
        for thread in self._threads:
            thread.start()
        try:
            self._name(findings, style)  # while the helpers unpack: this process has still to load what draws
        finally:
            self._named.set()

    def _name(self, findings: Findings, style: str) -> None:
        from reach.draw import gallery, scripts

        self._spoken = scripts.drawn_in(findings.study.spoken)
        with tongue.speaking(self._spoken):
            self._pictures = {picture.name: picture for picture in gallery.pictures(findings, style=style)}
        for name in self._pictures:
            self._left.put(name)

    def finish(self, progress: Step = lambda step: None) -> list[Path]:
        """Draw what nobody has taken yet, and wait for what others have.

        progress : told how far it is
        Returns the files, in the order of the gallery. Raises what went wrong with a picture, wherever it was drawn.
        """
        memory.give_back_now()
        with _seldom_tidied():
            self._draw_here(progress)
            for thread in self._threads:
                thread.join()
            self._draw_here(progress)  # what a helper had in hand when it died
        if self._failed is not None:
            raise self._failed
        return [self._folder / f"{name}.{kind}" for name in self._pictures for kind in ("png", "svg")]

    def __enter__(self) -> Drawing:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        while self._take() is not None:  # nobody is to find anything left to draw
            pass
        for thread in self._threads:
            thread.join()

    def _draw_here(self, progress: Step) -> None:
        while (name := self._next()) is not None:
            progress(f"drawing pictures, {self._left.qsize()} to go")
            with tongue.speaking(self._spoken):
                _draw(self._pictures[name], self._folder)

    def _next(self) -> str | None:
        """A picture to draw; None where there is none left, or drawing has become pointless."""
        return self._take() if self._failed is None else None

    def _take(self) -> str | None:
        with contextlib.suppress(queue.Empty):
            return self._left.get_nowait()
        return None

    def _hand_out(self, helper: _Helper, job: list[Any]) -> None:
        name = None
        try:
            with helper.turn(lambda: self._named.is_set() and self._left.empty()) as is_mine:
                if not is_mine:
                    return
                helper.tell([len(part) for part in job], *job)
                self._named.wait()
                while (name := self._next()) is not None:
                    error = helper.ask(name)
                    if error is not None:
                        self._failed = error
        except _GONE:
            if name is not None:
                self._left.put(name)
        except Exception as error:
            self._failed = error


class _Helper:
    """One other process that draws."""

    def __init__(self) -> None:
        self._process = afresh.start(
            "reach.tell.pictures", stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._busy = threading.Lock()

    @contextlib.contextmanager
    def turn(self, pointless: Callable[[], bool]) -> Iterator[bool]:
        """One walk after the other: wait until the helper is done with an earlier one.

        pointless : whether to wait no longer; yields False then
        """
        while not self._busy.acquire(timeout=_WAIT_S):
            if pointless():
                yield False
                return
        try:
            yield True
        finally:
            self._busy.release()

    def tell(self, what: Any, *parts: Any) -> None:
        """Send something small, and what belongs to it as it is."""
        assert self._process.stdin is not None
        pickle.dump(what, self._process.stdin)
        for part in parts:
            self._process.stdin.write(part)
        self._process.stdin.flush()

    def ask(self, name: str) -> Any:
        """Have a picture drawn and wait for what comes back."""
        assert self._process.stdout is not None
        self.tell(name)
        return pickle.load(self._process.stdout)

    def end(self) -> None:
        """Have it gone: idle or in the middle of a picture, it has nothing left to do."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                if pipe is not None:
                    pipe.close()
        self._process.wait()


def serve() -> None:
    """What a helper does: read a job, then names of pictures, draw each and answer with None or with what went wrong.

    A job comes as the sizes of its parts, then the parts; a name comes as it is.
    """
    # A library that prints must not get into the answers, and Ctrl-C is for the process that the user started.
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    memory.give_back()
    load()
    with _seldom_tidied():
        _draw_what_is_asked(answers)


def _draw_what_is_asked(answers: io.BufferedWriter) -> None:
    """Until nobody asks any more."""
    from reach.draw import gallery, scripts

    pictures: dict[str, Picture] = {}
    spoken = tongue.ENGLISH
    while True:
        try:
            asked = pickle.load(sys.stdin.buffer)
            parts = [] if isinstance(asked, str) else [_read(size) for size in asked]
        except _GONE:
            return
        if parts:
            findings, folder, style = _unpacked(parts)
            spoken = scripts.drawn_in(findings.study.spoken)
            with tongue.speaking(spoken):
                pictures = {picture.name: picture for picture in gallery.pictures(findings, style=style)}
            continue
        with tongue.speaking(spoken):
            error = _error_of(pictures[asked], folder)
        pickle.dump(error, answers)
        answers.flush()


def _packed(what: Any) -> list[Any]:
    """Something to be sent, in parts: large arrays stay where they are in memory and are never there twice."""
    arrays: list[pickle.PickleBuffer] = []
    head = pickle.dumps(what, protocol=5, buffer_callback=arrays.append)
    return [head, *(array.raw() for array in arrays)]


def _unpacked(parts: list[Any]) -> Any:
    return pickle.loads(parts[0], buffers=parts[1:])


def _read(size: int) -> bytearray:
    part = bytearray(size)
    left = memoryview(part)
    while left:
        got = cast(io.BufferedReader, sys.stdin.buffer).readinto(left)
        if not got:
            raise EOFError
        left = left[got:]
    return part


def load() -> None:
    """Load all that the first picture needs before it is asked for: that takes a second, while the spots are read."""
    import cartopy.mpl.geoaxes  # noqa: F401
    import matplotlib.backends.backend_agg
    import matplotlib.backends.backend_svg
    import matplotlib.figure  # noqa: F401
    import pandas  # noqa: F401
    from PIL import Image

    from reach.draw import gallery, style  # noqa: F401

    style.typefaces()
    Image.preinit()  # the kinds of files that it knows


@contextlib.contextmanager
def _seldom_tidied() -> Iterator[None]:
    """Have Python look for objects that hold each other only every few pictures, and not among those that were there before: it
    looks through the libraries again and again else, a twelfth of all the drawing."""
    often = gc.get_threshold()
    gc.freeze()
    gc.set_threshold(_OBJECTS_A_LOOK, *often[1:])
    try:
        yield
    finally:
        gc.set_threshold(*often)
        gc.unfreeze()


def _error_of(picture: Picture, folder: Path) -> Exception | None:
    """Draw a picture; what went wrong, as it can be sent, with where it went wrong written on it."""
    try:
        _draw(picture, folder)
    except Exception as error:
        where = f"while {picture.name} was drawn by a helper:\n{traceback.format_exc()}"
        try:
            sent: Exception = pickle.loads(pickle.dumps(error))
        except Exception:  # not every exception survives the journey
            sent = RuntimeError(f"{type(error).__name__}: {error}")
        sent.add_note(where)
        return sent
    return None


def _draw(picture: Picture, folder: Path) -> None:
    """Both files from one figure."""
    from reach.draw import style

    with style.own_settings():
        figure = picture.build()
        (folder / f"{picture.name}.png").write_bytes(style.png(figure))
        (folder / f"{picture.name}.svg").write_bytes(style.svg(figure, picture.alt_text))
        figure.clear()  # what is drawn holds itself, and would be there until it is looked for
    memory.give_back_now()


def _wanted() -> int:
    """How many helpers there are to be when nobody says so: REACH_HELPERS, a number, says it for this machine."""
    told = os.environ.get("REACH_HELPERS", "")
    return min(int(told) if told.isdecimal() else _processors() - 1, _MOST_HELPERS)


def _processors() -> int:
    """How many this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

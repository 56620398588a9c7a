"""The server from start to end: a lock on the folder, a port of the system's choice, the door for the browser, the end."""

from __future__ import annotations

import asyncio
import contextlib
import html
import os
import signal
import socket
import time
import webbrowser
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Final

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from reach.base import beside
from reach.desk.bench import Bench
from reach.desk.guard import Guard, Keys
from reach.desk.screens import application
from reach.desk.shelf import Shelf
from reach.errors import OutputError

DOOR: Final = "Open reach.html"  # in the folder of studies; not hidden, for some browsers may not read what is
_LOCK: Final = ".reach-desk.lock"
UNUSED_S: Final = 15 * 60  # without a sign of a page: hidden pages give one a minute only, and machines sleep
_LOOKS_EVERY_S: Final = 1.0
_ASLEEP_S: Final = 3.0  # between two looks: then the machine slept, and pages have had no chance to give a sign
HEAD_S: Final = 15.0  # for the head of a request
MOST_CONNECTIONS: Final = 300


def folder_of_studies() -> Path:
    """Where studies lie when nobody says otherwise: Reach, among the user's documents."""
    import platformdirs

    return Path(platformdirs.user_documents_path()) / "Reach"


def serve(
    folder: Path, *, browser: bool = True, told: Callable[[str], None] = lambda said: None, unused_s: float = UNUSED_S
) -> None:
    """Serve the studies of a folder until the user closes it or nobody uses it any more.

    folder : made where it is missing
    browser : whether to open the user's browser; else `told` gets the address
    told : gets a sentence for the user
    unused_s : seconds without a sign of a page after which it ends
    OutputError where the folder cannot be used. Where it is being served already, that page is opened.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = folder / _LOCK
        with beside.alone(lock) as alone:
            if not alone:
                _open_again(folder, browser, told)
                return
            _serve(folder.resolve(), browser, told, unused_s)
    except OSError as error:
        raise OutputError(f"{folder}: cannot be used for studies ({error.strerror or error}).") from None


def _open_again(folder: Path, browser: bool, told: Callable[[str], None]) -> None:
    told(f"The studies of {folder} are open already: {folder / DOOR}")
    if browser:
        webbrowser.open((folder / DOOR).as_uri())


def _serve(folder: Path, browser: bool, told: Callable[[str], None], unused_s: float) -> None:
    bench, clerk = Bench(), Bench()
    bench.ask("load", "")
    with socket.socket() as listening, contextlib.ExitStack() as ended:
        ended.callback(bench.close)
        ended.callback(clerk.close)
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)  # a browser that comes at once waits, rather than finds nobody
        port = listening.getsockname()[1]
        door = folder / DOOR
        ended.callback(door.unlink, missing_ok=True)
        keys = Keys(lambda key: _write_door(door, port, key))
        _write_door(door, port, keys.key)
        running = _Running(bench, unused_s)
        app = Guard(
            application(Shelf(folder), bench, clerk, keys, name=f"reach-{port}", stop=running.stop),
            port=port,
            keys=keys,
            seen=running.seen,
        )
        if browser:
            told(f"Opening {door} in your browser; close it with the button on the page, or here with Ctrl+C.")
            webbrowser.open(door.as_uri())
        else:
            told(f"Open http://127.0.0.1:{port}/open?key={keys.key}")
        settings = uvicorn.Config(
            app, log_level="critical", access_log=False, lifespan="off", server_header=False, ws="none", http=_Patient,
            timeout_keep_alive=10, timeout_graceful_shutdown=2, limit_concurrency=MOST_CONNECTIONS,
        )  # fmt: skip
        with contextlib.suppress(KeyboardInterrupt):
            asyncio.run(running.serve(_Server(settings), listening))


class _Patient(H11Protocol):
    """A connection that is let go where the head of a request does not come in time, byte by byte as it may: else a few hundred of
    them, from any program on this machine, would keep the user out."""

    _ends: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """A client came."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Something came from it."""
        super().data_received(data)
        self._watch()

    def on_response_complete(self) -> None:
        """It has its answer, and may ask again."""
        super().on_response_complete()
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """It left."""
        super().connection_lost(exc)
        self._watch_no_more()

    def _watch(self) -> None:
        if self.cycle is not None and not self.cycle.response_complete:
            self._watch_no_more()
        elif self._ends is None:
            self._ends = self.loop.call_later(HEAD_S, self.transport.close)

    def _watch_no_more(self) -> None:
        if self._ends is not None:
            self._ends.cancel()
            self._ends = None


class _Server(uvicorn.Server):
    """A server that leaves signals to whoever started it."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """None are."""
        yield


class _Running:
    """A server that ends when nobody uses it: no page gave a sign for some time, and nothing is being done."""

    def __init__(self, bench: Bench, unused_s: float) -> None:
        self._bench, self._unused_s, self._last = bench, unused_s, time.monotonic()
        self._server: uvicorn.Server | None = None

    def seen(self) -> None:
        """A page gave a sign."""
        self._last = time.monotonic()

    def stop(self) -> None:
        """End soon."""
        if self._server is not None:
            self._server.should_exit = True

    async def serve(self, server: uvicorn.Server, listening: socket.socket) -> None:
        """Serve until the end."""
        self._server = server
        with contextlib.suppress(NotImplementedError, AttributeError):  # a system without such signals
            asyncio.get_running_loop().add_signal_handler(signal.SIGTERM, self.stop)
        serving = asyncio.create_task(server.serve(sockets=[listening]))
        while not serving.done():
            looked = time.monotonic()
            await asyncio.wait([serving], timeout=_LOOKS_EVERY_S)
            if self._bench.busy or time.monotonic() - looked > _LOOKS_EVERY_S + _ASLEEP_S:
                self.seen()
            elif time.monotonic() - self._last > self._unused_s:
                server.should_exit = True
        await serving


def _write_door(door: Path, port: int, key: str) -> None:
    """The page that leads a browser in. The key stands in a file that only the user can read: what a program is started with,
    such as an address, any other user of the machine can see."""
    address = html.escape(f"http://127.0.0.1:{port}/open?key={key}")
    page = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>reach</title>'
        f'<meta http-equiv="refresh" content="0;url={address}"><p><a href="{address}">Open reach</a></p></html>\n'
    )
    partial = door.with_name(f".{door.name}.new")
    partial.unlink(missing_ok=True)
    with os.fdopen(os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as out:
        out.write(page)
    os.replace(partial, door)

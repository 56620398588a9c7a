"""The desk as a user has it: a process of its own over a folder of its own, asked over a socket."""

from __future__ import annotations

import http.client
import os
import subprocess
import sys
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

import pytest

from tests.page_browser import conftest as pages

SAMPLES = Path(__file__).parents[2] / "sample_spots"


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    content: bytes

    @property
    def text(self) -> str:
        return self.content.decode("utf-8")


@dataclass
class Served:
    """A server, and what a browser that came with the key sends to it."""

    process: subprocess.Popen[str]
    folder: Path
    link: str
    port: int
    cookie: str = ""
    seen: list[str] = field(default_factory=list)

    @property
    def origin(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def raw(self, method: str, path: str, body: bytes | None = None, headers: dict[str, str] | None = None) -> Answer:
        """A request with these headers and no others but what HTTP needs."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        try:
            connection.request(method, path, body, headers or {})
            got = connection.getresponse()
            return Answer(got.status, {name.lower(): value for name, value in got.getheaders()}, got.read())
        finally:
            connection.close()

    @property
    def own(self) -> dict[str, str]:
        return {"Cookie": self.cookie, "Origin": self.origin, "Sec-Fetch-Site": "same-origin"}

    def get(self, path: str) -> Answer:
        return self.raw("GET", path, headers={"Cookie": self.cookie, "Sec-Fetch-Site": "same-origin"})

    def post(self, path: str, **fields: str) -> Answer:
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        return self.raw("POST", path, urlencode(fields).encode(), {**self.own, **kind})

    def put(self, path: str, content: bytes) -> Answer:
        return self.raw("PUT", path, content, self.own)

    def send(self, path: str, **files: bytes) -> Answer:
        """A form with files, as a browser without scripts sends it."""
        mark = uuid.uuid4().hex
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n\r\n'.encode()
            + content
            + b"\r\n"
            for name, content in files.items()
        ]
        kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        return self.raw("POST", path, b"".join(parts) + f"--{mark}--\r\n".encode(), {**self.own, **kind})

    def begin(self, title: str) -> str:
        """A new study; returns the address of its first screen."""
        answer = self.post("/studies", title=title)
        assert answer.status == 303, answer.text
        return answer.headers["location"]


def start(folder: Path, *more: str) -> Served:
    process = subprocess.Popen(
        [sys.executable, "-m", "reach", "desk", "--folder", str(folder), "--no-browser", *more],
        stdout=subprocess.PIPE, text=True, env={**os.environ, "LC_ALL": "C.UTF-8"},
    )  # fmt: skip
    assert process.stdout is not None
    link = process.stdout.readline().removeprefix("Open ").strip()
    return Served(process, folder, link, urlsplit(link).port or 0)


def enter(served: Served) -> Served:
    """Come in by the link, as the browser does."""
    told = urlsplit(served.link)
    answer = served.raw("GET", f"{told.path}?{told.query}")
    assert answer.status == 200
    served.cookie = answer.headers["set-cookie"].split(";")[0]
    return served


def end(served: Served) -> None:
    served.process.terminate()
    served.process.wait(30)
    assert served.process.stdout is not None
    served.process.stdout.close()


@pytest.fixture(scope="session")
def browser(launch: Callable[..., Any]) -> Iterator[Any]:
    """A Chromium with an empty profile that finds no other host than this machine."""
    flags = [flag for flag in pages.FLAGS if not flag.startswith("--host-resolver-rules")]
    running = launch([*flags, "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"])
    yield running
    running.close()


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One server for the tests of a module, a browser having come in."""
    running = enter(start(tmp_path_factory.mktemp("desk") / "Reach"))
    yield running
    end(running)


def sample(name: str) -> bytes:
    return (SAMPLES / name).read_bytes()


def address(name: str) -> str:
    return quote(name, safe="")

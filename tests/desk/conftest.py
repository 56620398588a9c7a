"""The desk as a user has it: a process of its own over a folder of its own, asked over a socket.

One server and one Chromium serve all tests of a worker, each of which begins a study of its own name; a test that ends, starves or
slows the server down starts one for itself.
"""

from __future__ import annotations

import http.client
import os
import re
import subprocess
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

import pytest

from tests import loaded
from tests.conftest import KINDS
from tests.page_browser import conftest as pages

SAMPLES = Path(__file__).parents[2] / "sample_spots"
AT_WORK = ('http-equiv="refresh"', "/cancel")  # what a screen has in it meanwhile
NOW = "now = 2026-11-01T00:00:00Z\n"
BETWEEN = 390
FILM_S = 0.5
LARGEST_UNPACKED = 1 << 28  # an eighth of what it is for a user
LOOKS = ((1280, "light"), (BETWEEN, "light"), (360, "dark"))  # CSS px: a laptop, and what telephones have
NARROW = {"viewport": {"width": 360, "height": 800}, "bypass_csp": True}  # for axe, which is put into the page
FLAGS = (
    *(flag for flag in pages.FLAGS if not flag.startswith("--host-resolver-rules")),
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)
LOOK = """() => axe.run(document, { resultTypes: ["violations"] }).then(
  ({ violations, passes }) => ({ violations, passes: passes.length }))"""
AXE = Path(__file__).parents[1] / "page_browser" / "vendor" / "axe.min.js"


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


def start(folder: Path, *, afresh: bool = False, **less: Any) -> Served:
    """A server over a folder.

    afresh : by a Python of its own, as the worker that it starts; for tests of how they start and end
    less : `pictures`, how many or which its reports have, `film_s`, how long its films are, and `largest_unpacked`, as for `loaded.Reach`
    """
    args = ["desk", "--folder", str(folder), "--no-browser"]
    how: dict[str, Any] = {"stdout": subprocess.PIPE, "text": True, "env": {**os.environ, "LC_ALL": "C.UTF-8"}}
    if afresh:
        process = subprocess.Popen([sys.executable, "-m", "reach", *args], **how)
    else:
        process = loaded.Reach(args, **less, **how)
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
    running = launch(FLAGS)
    yield running
    running.close()


@pytest.fixture(scope="session")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The server, a browser having come in. Its reports have a picture of each kind, its films are short, what it unpacks is less."""
    less = {"pictures": KINDS, "film_s": FILM_S, "largest_unpacked": LARGEST_UNPACKED}
    running = start(tmp_path_factory.mktemp("desk") / "Reach", **less)
    try:
        yield enter(running)
    finally:
        end(running)


@pytest.fixture(scope="session")
def brief(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """Another, whose reports have two pictures: for tests that need one made and look at no picture."""
    running = start(tmp_path_factory.mktemp("brief") / "Reach", pictures=2)
    try:
        yield enter(running)
    finally:
        end(running)


@pytest.fixture(scope="session")
def served(desk: Served) -> Served:
    """The same, for tests that ask it by forms."""
    return desk


def sample(name: str) -> bytes:
    return (SAMPLES / name).read_bytes()


def few_pictures(rows: int = 4) -> bytes:
    """Reports of a British callsign at a locator in Germany, none of them corroborated: their report has three pictures."""
    told = [f"2026-05-16 18:{k:02},G4QRA,JN58td,-{k % 20},20m,EI4QTB" for k in range(rows)]
    return "\n".join(["time,callsign,locator,snr,band,transmitter", *told, ""]).encode()


def settled(served: Served, path: str, *gone: str) -> str:
    """A screen, once it no longer says any of these; that it is at work, where none is given."""
    began = time.monotonic()
    page = served.get(path).text
    while any(each in page for each in gone or AT_WORK):
        waited_s = time.monotonic() - began
        assert waited_s < 1500, f"{path} is still at work"
        time.sleep(max(0.1, waited_s / 8))  # each look is work for the server
        page = served.get(path).text
    return page


def counts(page: str) -> dict[str, int]:
    """What became of the rows, as the screen of the files has it."""
    return {name: int(number) for name, number in re.findall(r'rows/(\w+)">[^<:]*: (\d+)<', page)}


def evening(served: Served) -> tuple[str, Path]:
    """A study of the sample evening, whose now is told: its address and its study.toml."""
    at = served.begin("evening")
    path = served.folder / at.rpartition("/")[2] / "study.toml"
    path.write_text(NOW + path.read_text())
    served.put(f"{at}/files/evening.csv", sample("evening.csv"))
    served.post(f"{at}/station", callsign="EI4QTB/P", locator="IO51es", power_w="5", title="evening", direction="sent")
    return at, path


def address(name: str) -> str:
    return quote(name, safe="")


class Visit:
    """A browser that came in by the link, and what it was told."""

    def __init__(self, browser: Any, served: Served, **context: Any) -> None:
        self.served = served
        self.context = browser.new_context(**context)
        self.context.set_default_timeout(15_000)
        self.page = self.context.new_page()
        self.complaints: list[str] = []
        self.page.on("console", lambda message: self.complaints.append(message.text))
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda request: self._asked(request.url))

    def _asked(self, url: str) -> None:
        if not url.startswith((self.served.origin, "file://", "data:", "blob:")):
            self.complaints.append(f"asked {url}")

    def come_in(self) -> None:
        """By the file that is opened on a double-click."""
        self.page.goto((self.served.folder / "Open reach.html").as_uri())
        self.page.get_by_role("heading", name="Your studies").wait_for(timeout=10_000)

    def begin(self, title: str) -> None:
        self.page.goto(f"{self.served.origin}/")
        self.page.get_by_label("Its name").fill(title)
        self.page.get_by_role("button", name="Begin").click()
        self.page.get_by_role("heading", name="Files", exact=True).wait_for()
        self.still()

    def still(self) -> None:
        """A page that shows something is loaded: its scripts are at work, and it has gone to the place that its address names, which
        takes the focus from where it was."""
        self.page.wait_for_load_state("load")
        self.page.wait_for_timeout(50)

    def settled(self) -> None:
        """What the files hold has been understood, and the screen will not load itself anew under the next key."""
        done = self.page.locator('html:not(:has(meta[http-equiv="refresh"]))')
        done.get_by_text("rows read =").first.wait_for(timeout=60_000)
        self.still()

    def has_key(self) -> Served:
        """The server, to which this browser's forms can be sent without it."""
        (cookie,) = self.context.cookies()
        self.served.cookie = f"{cookie['name']}={cookie['value']}"
        return self.served

    def tab_to(self, what: str, value: str) -> None:
        """From stop to stop until something of the one that has the focus has this value, twenty at the most."""
        for _ in range(20):
            if self.page.evaluate(f"() => document.activeElement.{what}") == value:
                break
            self.page.keyboard.press("Tab")

    def go(self, screen: str) -> None:
        self.page.get_by_role("link", name=screen, exact=True).click()
        self.page.get_by_role("heading", name=screen, exact=True, level=1).wait_for()
        self.still()

    def without_fault(self) -> None:
        """No fault that axe finds, on a wide window in light and on a narrow one in dark; nothing scrolls sideways.

        Every width and every theme is looked at once: what a narrow window changes has no colour, and what dark changes is
        nothing but colours, which a test holds.
        """
        if not self.page.evaluate("() => 'axe' in window"):
            self.page.add_script_tag(content=AXE.read_text(encoding="utf-8"))
        begun_with = self.page.viewport_size
        for width, theme in LOOKS:
            self.page.set_viewport_size({"width": width, "height": 800})
            self.page.emulate_media(color_scheme=theme)
            seen = f"{self.page.url}, {theme}, {width} px wide"
            wide = self.page.evaluate(
                "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"
            )
            assert wide <= 0, f"{seen}: scrolls sideways by {wide}"
            if width == BETWEEN:  # the same rules of style hold there as at the narrowest
                continue
            found = self.page.evaluate(LOOK)
            faults = [(each["id"], [node["html"] for node in each["nodes"]]) for each in found["violations"]]
            assert faults == [], seen
            assert found["passes"] > 10, seen
        self.page.set_viewport_size(begun_with)


@pytest.fixture
def visit(browser: Any, desk: Served) -> Iterator[Any]:
    """A function that comes in with a browser of this kind; at the end it may have complained of nothing."""
    yield from _coming(browser, desk)


@pytest.fixture
def visit_in_whole(launch: Callable[..., Any], desk: Served) -> Iterator[Any]:
    """The same with the browser that users have."""
    running = launch(FLAGS, whole=True)
    yield from _coming(running, desk)
    running.close()


def _coming(browser: Any, desk: Served) -> Iterator[Any]:
    made: list[Visit] = []

    def come(**context: Any) -> Visit:
        made.append(Visit(browser, desk, **context))
        made[-1].come_in()
        return made[-1]

    yield come
    for each in made:
        each.context.close()
    assert [complaint for each in made for complaint in each.complaints] == []

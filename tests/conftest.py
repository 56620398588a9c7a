"""Shared by all tests: how Hypothesis searches, pictures without a screen, the demo's walks and pictures, made once."""

from __future__ import annotations

import gc
import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from reach.walk import Walk

os.environ.setdefault("MPLBACKEND", "agg")
# Workers keep all processors busy: helpers would only load the libraries once more. Tests that want some say so.
os.environ.setdefault("REACH_HELPERS", "0")
os.environ["LC_ALL"] = "C.UTF-8"  # files speak the language of the system, and tests read them in English

# Python looks for objects that hold each other once some eight pictures are drawn, not seven hundred times as often, and never
# among those that the libraries and the tests themselves brought: that took a sixth of the whole run.
gc.set_threshold(400_000, *gc.get_threshold()[1:])


@pytest.hookimpl(trylast=True)
def pytest_collection_finish() -> None:
    gc.freeze()


# A worker takes a file at a time; what draws, opens browsers or starts processes goes first, so that none of it is left for one
# worker at the end.
_LONG = tuple(f"tests/{folder}/" for folder in ("hardening", "desk", "draw", "tell", "page_browser", "archive"))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: not item.nodeid.startswith(_LONG))


# Files that a worker takes as one, for they look at the same pictures or slides.
_TOGETHER = (
    {f"tests/{each}.py" for each in ("draw/test_gallery", "draw/test_pictures", "draw/test_plot", "tell/test_claims_said",
                                     "tell/test_one_number")},
    {"tests/tell/test_deck.py", "tests/tell/test_deck_pages.py"},
)  # fmt: skip


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """As `--dist loadfile`, but for those."""
    if config.getoption("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class Scheduling(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file: str = super()._split_scope(nodeid)
            return next((min(group) for group in _TOGETHER if file in group), file)

    return Scheduling(config, log)


# --- base maps are kept for the session, in a folder that was empty before it ---------------------------------------------


def pytest_configure(config: pytest.Config) -> None:
    """One folder for all workers and for what they start. A map is worked out by whoever needs it first."""
    if hasattr(config, "workerinput"):
        return
    maps = tempfile.mkdtemp(prefix="reach-maps-")
    os.environ["REACH_CACHE"] = maps
    config.add_cleanup(lambda: shutil.rmtree(maps, ignore_errors=True))


# --- nothing goes on the network: whoever tries is told at once, and the session fails even where that is caught ---------

_CALLED_OUT: list[str] = []


def is_outside(event: str, arguments: tuple[object, ...]) -> bool:
    """Whether an audit event of Python's is a look beyond this machine: a name looked up, a connection, a datagram."""
    if event == "socket.getaddrinfo":
        host = arguments[0]
    elif event in ("socket.connect", "socket.sendto"):
        address = arguments[1]
        host = address[0] if isinstance(address, tuple) and address else None  # a path is a socket of this machine
    else:
        return False
    name = host.decode("ascii", "replace") if isinstance(host, bytes) else host
    return isinstance(name, str) and name not in ("", "localhost", "::1") and not name.startswith("127.")


def _guard(event: str, arguments: tuple[object, ...]) -> None:
    if event.startswith("socket.") and is_outside(event, arguments):
        _CALLED_OUT.append(f"{event} {arguments[1:]!r}")
        raise PermissionError(f"a test may not go on the network: {event}")


sys.addaudithook(_guard)


@pytest.hookimpl(trylast=True)
def pytest_runtest_teardown() -> None:
    """Even where the refusal was caught: the test fails, and with it the session."""
    if _CALLED_OUT:
        told = ", ".join(_CALLED_OUT)
        _CALLED_OUT.clear()
        pytest.fail(f"tried to go on the network: {told}", pytrace=False)


settings.register_profile(
    "reach", deadline=None, derandomize=True, max_examples=60, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("reach")

SAMPLES = Path(__file__).parents[1] / "sample_spots"
STUDIES = ("evening", "weekend", "messy")
NOW = datetime(2026, 11, 1, tzinfo=UTC)

# A picture of each way to draw: a base map with an image in the SVG, cells on a map, bars, a polar chart, a mesh with its scale,
# points over time, most words, blocks side by side. Where the same bytes are asked of two ways to a report, these stand for the
# gallery: each is drawn and written by the same function. All of them, by one process and by several: tests/tell/test_pictures.py.
KINDS = (
    "map-station", "map-squares", "bands-distance", "bearing", "hour-by-bearing", "timeline", "suspects", "comparison-blocks",
)  # fmt: skip
# For a Python that is started by itself: of a report those alone are drawn.
KINDS_ALONE = f"""
from reach.draw import gallery
every = gallery.pictures
gallery.pictures = lambda *given, **how: [each for each in every(*given, **how) if each.name in {KINDS}]
"""


@pytest.fixture(scope="session")
def walks() -> dict[str, Walk]:
    """The walk of each demo study and of two more, by name. A stage is worked out when a test first asks for it, and never again: change
    nothing in them."""
    from reach.walk import walk

    return {name: walk(SAMPLES / f"{name}.toml", now=NOW) for name in (*STUDIES, "listening", "shared")}


@pytest.fixture(scope="session")
def drawn(walks) -> Callable[[str, str], Figure]:
    """A picture of a demo study, by the study's and the picture's name, drawn once: change nothing in it. KeyError where
    the study has no such picture."""
    from reach.draw import gallery

    @cache
    def of(study: str, picture: str) -> Figure:
        return {each.name: each for each in gallery.pictures(walks[study].findings)}[picture].build()

    return of


@pytest.fixture
def two_pictures(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of the pictures of a report only the first two are drawn, by this process: for a test that runs a command and reads its
    words and tables. A report of every picture: tests/hardening/test_hostile.py."""
    from reach.draw import gallery

    every = gallery.pictures
    monkeypatch.setattr(gallery, "pictures", lambda *given, **how: every(*given, **how)[:2])
    monkeypatch.setenv("REACH_HELPERS", "0")


# --- a real browser ---------------------------------------------------------------------------------------------------


NO_CHROMIUM = "no Chromium is installed (Debian's package is called chromium)"


@pytest.fixture(scope="session")
def launch() -> Iterator[Callable[..., Any]]:
    """Start a Chromium with these flags. One playwright serves all of a process: it cannot be there twice.

    It is Debian's `chromium-headless-shell` where that is installed: the same engine without what a browser has round a page, which takes
    half the CPU for a page that is opened. `whole=True` starts the browser that users have.
    """
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    shell = shutil.which("chromium-headless-shell") or chromium
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        _missing("playwright is not installed")
    if shell is None:
        _missing(NO_CHROMIUM)
    with sync_playwright() as playwright:

        def start(flags: Iterable[str], *, whole: bool = False) -> Any:
            if whole and chromium is None:
                _missing(NO_CHROMIUM)
            return playwright.chromium.launch(executable_path=chromium if whole else shell, args=list(flags))

        yield start


def _missing(why: str) -> None:
    if os.environ.get("REACH_NEED_CHROMIUM") == "1":
        pytest.fail(f"{why}, and REACH_NEED_CHROMIUM says that it must be")
    pytest.skip(why)

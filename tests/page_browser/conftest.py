"""Open the page in a real Chromium without a network, and hold every test to the same: nothing is asked of anyone,
nothing is complained about.

Where Chromium or playwright is missing these tests are skipped and say so; with REACH_NEED_CHROMIUM=1 in the
environment, as in CI, that is a failure instead.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--host-resolver-rules=MAP * ~NOTFOUND",
)  # fmt: skip
PATIENCE_MS = 15_000
# Open the table behind a figure, wait until it is filled, read its cells.
ROWS = """async (details) => {
  details.open = true;
  while (!details.querySelector("table")) await new Promise((done) => setTimeout(done, 5));
  return [...details.querySelectorAll("tr")].map((row) => [...row.cells].map((cell) => cell.textContent));
}"""


@pytest.fixture(scope="session")
def browser(launch: Callable[..., Any]) -> Iterator[Any]:
    """A Chromium with an empty profile."""
    running = launch(FLAGS)
    yield running
    running.close()


class Opened:
    """A page that is open, and what a reader does with it."""

    def __init__(self, page: Any, address: str) -> None:
        self.page, self.address = page, address

    def settle(self) -> None:
        """Wait until what was asked for is on the screen."""
        self.page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def text(self, selector: str) -> str:
        return str(self.page.locator(selector).inner_text())

    def count(self) -> int:
        """Reports in view, as the page says."""
        self.settle()
        return int(self.text("#count").split(" of ")[0].replace("\u202f", ""))

    def table(self, figure: str) -> list[dict[str, str]]:
        """The numbers behind a figure, by its download button."""
        self.settle()
        details = self.page.locator(f"#{figure} details.numbers")
        if details.get_attribute("open") is None:
            details.locator("summary").click()
        with self.page.expect_download() as waiting:
            details.get_by_role("button", name="Download as CSV").click()
        return rows_of(Path(waiting.value.path()).read_text(encoding="utf-8-sig"))

    def shown(self, figure: str) -> list[dict[str, str]]:
        """The numbers behind a figure, as its table shows them."""
        self.settle()
        rows = self.page.locator(f"#{figure} details.numbers").evaluate(ROWS)
        assert len(rows) - 1 < 200, "the table shows 200 rows at most"
        return [dict(zip(rows[0], row, strict=True)) for row in rows[1:]]

    def counts(self, figure: str) -> list[int]:
        """Reports by bin behind a figure, empty bins left out."""
        return [int(row["reports"]) for row in self.shown(figure) if row["reports"] != "0"]

    def slider(self, label: str) -> Any:
        return self.page.get_by_role("slider", name=label, exact=True)

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)

    def drag(self, figure: str, start: tuple[float, float], end: tuple[float, float]) -> None:
        """Drag over the drawing of a figure; places as shares of its width and height."""
        drawing = self.page.locator(f"#{figure} svg.drawing")
        drawing.scroll_into_view_if_needed()
        box = drawing.bounding_box()
        self.page.mouse.move(box["x"] + start[0] * box["width"], box["y"] + start[1] * box["height"])
        self.page.mouse.down()
        self.page.mouse.move(box["x"] + end[0] * box["width"], box["y"] + end[1] * box["height"], steps=4)
        self.page.mouse.up()
        self.settle()

    def fragment(self) -> str:
        """What the address says after it has been still for a moment."""
        self.page.wait_for_timeout(300)
        return str(self.page.evaluate("() => location.hash"))


def contrast(one: str, other: str) -> float:
    """Source: W3C (2023), Web Content Accessibility Guidelines 2.2, contrast ratio."""
    first, second = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (first + 0.05) / (second + 0.05)


def _luminance(colour: str) -> float:
    parts = [float(part) / 255 for part in re.findall(r"[\d.]+", colour)[:3]]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


WIDTHS_KM = (5, 10, 20, 25, 50, 100, 200, 250, 500, 1000)


def distance_edges(km: Any) -> list[int]:
    """Where the page's bins of distance begin and end: of one width where that is at most a tenth of the median distance, else
    growing with the distance, from a twentieth of the median on."""
    ordered = sorted(km)
    farthest, median = ordered[-1], ordered[(len(ordered) - 1) // 2]
    even = next((width for width in WIDTHS_KM if farthest / width <= 70), 500)
    least = max([width for width in WIDTHS_KM if width <= median / 20], default=5)
    edges = [0]
    while edges[-1] <= farthest:
        low = edges[-1]
        grown = max(w for w in WIDTHS_KM if w == least or (w > least and w <= low / 8 and low % w == 0))
        edges.append(low + (even if even <= median / 10 else grown))
    return edges


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


Open = Callable[..., Opened]
Kind = tuple[Any, ...]  # width and height [CSS px], then what a context shall be like
Tabs = dict[Kind, list[Any]]


@pytest.fixture(scope="session")
def tabs() -> Tabs:
    """Tabs that no test has open just now: one that shows page after page takes half of what a new context does."""
    return defaultdict(list)


@pytest.fixture
def open_page(browser: Any, tmp_path: Path, tabs: Tabs) -> Iterator[Open]:
    """A function that opens a page: its HTML, then fragment, width, and what the context shall be like.

    When the test ends, no page may have asked for anything but its own file or complained about anything.
    """
    yield from _opening(browser, tmp_path, tabs)


@pytest.fixture
def open_in_whole(launch: Callable[..., Any], tmp_path: Path) -> Iterator[Open]:
    """The same in the browser that users have."""
    running = launch(FLAGS, whole=True)
    yield from _opening(running, tmp_path, defaultdict(list))
    running.close()


def _opening(browser: Any, tmp_path: Path, tabs: Tabs) -> Iterator[Open]:
    used: list[tuple[Kind, Any]] = []
    wanted: list[str] = []
    complaints: list[str] = []
    told = {
        "request": lambda request: wanted.append(request.url),
        "console": lambda message: complaints.append(message.text),
        "pageerror": lambda error: complaints.append(str(error)),
        "dialog": lambda dialog: complaints.append(f"dialog: {dialog.message}"),
    }

    def open_it(html: str, fragment: str = "", *, width: int = 1280, height: int = 900, **context: Any) -> Opened:
        path = tmp_path / f"report{len(used)}.html"
        path.write_text(html, encoding="utf-8")
        kind = (width, height, *sorted(context.items()))
        free = tabs[kind]
        if free:
            page = free.pop()
        else:
            size = {"width": width, "height": height}
            page = browser.new_context(viewport=size, offline=True, **context).new_page()
        used.append((kind, page))
        for event, tell in told.items():
            page.on(event, tell)
        address = path.as_uri()
        page.goto(address + fragment)
        page.wait_for_selector("html[data-ready]", timeout=PATIENCE_MS)
        return Opened(page, address)

    yield open_it
    for (width, height, *_), page in used:
        for event, tell in told.items():
            page.remove_listener(event, tell)
        page.goto("about:blank")
        page.mouse.move(0, 0)
        page.emulate_media(media="null")
        page.set_viewport_size({"width": width, "height": height})
    own = ("file://", "blob:", "data:")
    assert [url for url in wanted if not url.startswith(own)] == []
    assert len([url for url in wanted if url.startswith("file://")]) == len(
        {url for url in wanted if url.startswith("file://")}
    )
    assert complaints == []
    for kind, page in used:
        tabs[kind].append(page)

"""Try a built folder out as its user would: elsewhere, without any other Python, the network cut.

    python .ci/bundled/check.py FOLDER INSTALLED

FOLDER : that PyInstaller made; INSTALLED : the program `reach` of the environment that it was made from, whose report has to be the same.
It is copied to a place whose name has a blank and a letter beyond ASCII. Needs Chromium and playwright. Exit code 1 and a traceback
where something is not as it should be.
"""

from __future__ import annotations

import filecmp
import os
import shutil
import stat
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page, sync_playwright

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1",
)  # fmt: skip
PATIENCE_MS = 60_000
KINDS = {
    ".pptx": b"PK",
    ".pdf": b"%PDF",
    ".webp": b"RIFF",
    ".mp4": b"\0\0\0",
    ".zip": b"PK",
    ".html": b"<!doctype html>",
}
DROP = """async (form, [name, text]) => {
  const carried = new DataTransfer();
  carried.items.add(new File([text], name));
  form.dispatchEvent(new DragEvent("drop", { dataTransfer: carried, bubbles: true, cancelable: true }));
}"""


class Bare:
    """A user's machine that has no Python, no table of zones, no film encoder and no browser but one that notes how it was called."""

    def __init__(self, where: Path, folder: Path) -> None:
        self.where, self.folder = where, folder
        self.opened = where / "opened"
        browser = where / "browser"
        browser.write_text(f'#!/bin/sh\n{{ export; echo "asked for $1"; }} > "{self.opened}"\n')
        browser.chmod(browser.stat().st_mode | stat.S_IXUSR)
        (where / "tmp").mkdir()
        self.told = {
            "HOME": str(where), "TMPDIR": str(where / "tmp"), "PATH": str(where / "nothing"), "BROWSER": f'"{browser}" %s', "LANG": "C.UTF-8",
            "PYTHONTZPATH": "",
        }  # fmt: skip

    def run(self, *args: str, program: str = "reach") -> subprocess.CompletedProcess[str]:
        order = [str(self.folder / program), *args]
        return subprocess.run(order, env=self.told, cwd=self.where, capture_output=True, text=True, timeout=900)

    def left_behind(self) -> list[str]:
        """What lies among the temporary files: reports of bugs, and what somebody forgot."""
        return sorted(path.name for path in (self.where / "tmp").iterdir())


def commands(bare: Bare, installed: Path) -> None:
    """The command line: the same report as by the environment, and a sentence where something was left out."""
    samples = bare.folder / "_internal" / "reach" / "sample_spots"
    order = ["run", str(samples / "evening.toml"), "--language", "ja", "--local-time", "Europe/Lisbon", "--out"]
    said = bare.run(*order, "one")
    assert said.returncode == 0 and "1,580 rows read" in said.stdout, said
    told = {**bare.told, "PATH": os.environ["PATH"]}
    subprocess.run([str(installed), *order, "two"], check=True, capture_output=True, env=told, cwd=bare.where)
    alike(bare.where / "one", bare.where / "two")
    film = ["motion", str(samples / "evening.toml"), "--size", "320x320", "--seconds", "1", "--fps", "5"]
    for args, code, words in (
        (["--version"], 0, "reach "),
        (["locator", "IO51es", "FN31pr"], 0, "4,789 km"),
        (["budget", str(samples / "evening.toml")], 0, "5.0 W"),
        (["plan", "--receivers", "9", "--start", "2026-05-16 18:00", "--out", "plan"], 0, "schedule.ics"),
        (["vet", str(samples / "messy.toml"), "--write-fixes", "fixes.csv"], 0, "fixes.csv"),
        (["compare", str(samples / "evening.toml")], 0, "778 pairs"),
        (["season", str(samples / "season.toml")], 0, "dB weaker"),
        (["add", str(samples / "evening.csv"), "--to", "kept", "--callsign", "EI4QTB"], 0, "1,580 of EI4QTB"),
        (["list", "kept"], 0, "EI4QTB (own)"),
        (["remove", "kept", "evening.csv"], 0, "0 files"),
        (["add", "x.csv", "--to", "kept", "--cluster", "local"], 2, "Dask"),
        (["vet", "https://example.org/x.csv"], 2, "https://"),
        ([*film, "--out", "film.mp4"], 0, "WebP"),
        ([*film, "--out", "film.webp", "--language", "ja", "--replace"], 0, "film.webp"),
        (["desk", "--shortcut"], 0, "reach-desk.desktop"),
    ):
        said = bare.run(*args)
        assert said.returncode == code and words in said.stdout + said.stderr, said
    entry = (bare.where / ".local/share/applications/reach-desk.desktop").read_text()
    assert str(bare.folder / "reach-desk") in entry, entry


def alike(one: Path, two: Path) -> None:
    """Two folders with the same files of the same bytes."""
    names = [
        sorted(path.relative_to(each).as_posix() for path in each.rglob("*") if path.is_file()) for each in (one, two)
    ]
    assert names[0] == names[1] and len(names[0]) > 20, names
    differ = filecmp.cmpfiles(one, two, names[0], shallow=False)[1:]
    assert differ == ([], []), differ


def desk(bare: Bare) -> list[Path]:
    """The desk as a double-click starts it: an export dropped, the report, slides and film made. Returns what was downloaded."""
    studies = bare.where / "My studies"
    began = time.monotonic()
    process = subprocess.Popen(
        [str(bare.folder / "reach-desk"), "--folder", str(studies)],
        env=bare.told, cwd=bare.where, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    try:
        door = studies / "Open reach.html"
        wait_for(lambda: bare.opened.is_file() and "asked for" in bare.opened.read_text())
        print(f"desk open after {time.monotonic() - began:.1f} s")
        told = bare.opened.read_text()
        assert door.as_uri() in told and "LD_LIBRARY_PATH" not in told, told  # a browser finds the system's libraries
        with sync_playwright() as playwright:
            chromium = shutil.which("chromium") or shutil.which("chromium-browser")
            browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))
            page = browser.new_page()
            page.set_default_timeout(PATIENCE_MS)
            complaints: list[str] = []
            page.on("console", lambda message: complaints.append(message.text))
            page.on("pageerror", lambda error: complaints.append(str(error)))
            got = walk(page, door, bare)
            assert complaints == [], complaints
            page.get_by_role("button", name="Close reach").click()
            page.get_by_role("heading", name="reach has ended").wait_for()
            browser.close()
        assert process.wait(60) == 0
        assert process.stdout is not None
        said = process.stdout.read()
        assert "Traceback" not in said and len(said.splitlines()) == 1, said
        return got
    finally:
        process.kill()
        process.wait()


def walk(page: Page, door: Path, bare: Bare) -> list[Path]:
    """From the door to what was downloaded."""
    page.goto(door.as_uri())
    page.get_by_label("Its name").fill("An evening")
    page.get_by_role("button", name="Begin").click()
    export = bare.folder / "_internal/reach/sample_spots/evening.csv"
    page.locator("form.drop").evaluate(DROP, [export.name, export.read_text()])
    page.get_by_text("1,580 rows read =").first.wait_for()
    page.get_by_role("link", name="Station and setups").click()
    page.get_by_label("Callsign").first.fill("EI4QTB/P")
    page.get_by_label("Locator").first.fill("IO51es")
    page.get_by_label("Locator").first.press("Enter")
    page.get_by_text("Kept in study.toml.").wait_for()
    page.get_by_role("link", name="Results", exact=True).click()
    begun = time.monotonic()
    for button, then in (
        ("Make the report", "Open the report"), ("Make slides and handout", "deck.pptx"), ("Make the film", "look at"),
    ):  # fmt: skip
        page.get_by_role("button", name=button, exact=True).click()
        page.get_by_role("link", name=then).wait_for(timeout=10 * PATIENCE_MS)
        print(f"{button}: {time.monotonic() - begun:.0f} s")
        begun = time.monotonic()
    assert not page.locator(".fault").filter(visible=True).count(), page.content()
    got = [
        downloaded(page, bare, name) for name in ("Download all of it", "deck.pptx", "deck.pdf", "handout.pdf", ".webp")
    ]
    page.get_by_role("link", name="Open the report").click()
    page.get_by_text("reports came from beyond").first.wait_for()
    page.go_back()
    return got


def downloaded(page: Page, bare: Bare, name: str) -> Path:
    with page.expect_download() as waiting:
        page.get_by_role("link", name=name).first.click()
    path = bare.where / waiting.value.suggested_filename
    waiting.value.save_as(path)
    return path


def wait_for(there: Callable[[], Any], patience_s: float = 60.0) -> None:
    until = time.monotonic() + patience_s
    while not there():
        assert time.monotonic() < until, "the desk did not open"
        time.sleep(0.02)


def main(folder: str, installed: str) -> None:
    where = Path(tempfile.mkdtemp(prefix="reach bündel "))
    try:
        shutil.copytree(folder, where / "reach", symlinks=True)
        bare = Bare(where, where / "reach")
        commands(bare, Path(installed))
        for path in desk(bare):
            content = path.read_bytes()
            print(f"{path.name}: {len(content):,} bytes")
            assert content.startswith(KINDS[path.suffix]) and len(content) > 10_000, path
        assert bare.left_behind() == [], bare.left_behind()
    finally:
        shutil.rmtree(where)
    print("all of it works")


if __name__ == "__main__":
    main(*sys.argv[1:3])

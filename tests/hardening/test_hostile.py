"""Hostile text in every field of every input, through the program as it is run: a terminal gets no order, a spreadsheet works
nothing out, pictures are well-formed, slides hold no formula."""

from __future__ import annotations

import csv
import io
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.etree import ElementTree

import pytest

from reach.base import text
from tests import loaded
from tests.page_browser.conftest import browser  # noqa: F401

pty = pytest.importorskip("pty")

COLOUR = "\x1b[31;47m"  # which reach itself never uses
ORDERS = f"\x1b]0;owned\x07{COLOUR}\u202e"
OWN_STYLE = re.compile(r"\x1b\[[0-9;]*m")
FORMULA = '=HYPERLINK("http://192.0.2.1/";"x")'
MARKUP = "</script><script>document.title='owned'</script><img src=x onerror=document.title='owned'>$5_wire_$9"
# Comma, quote, UTF-8, from line 1, formats as they are; quoted cells no text by force, formulas worked out.
READ_SO = "CSV:44,34,76,1,,0,false,true,false,false,false,-1,true"
HOSTILE = [FORMULA, MARKUP, ORDERS, "@SUM(1;1)", "+1+1|cmd"]
FIELDS = ["time", "callsign", "locator", "snr", "frequency", "power", "transmitter", "transmitter locator", "setup"]
SOUND = ["2026-05-16 18:{:02}", "EI9QUC", "IO51lv", "-20", "14.05", "5", "EI4QTB", "IO51es", "plain"]


def write_all(folder: Path) -> None:
    """Each hostile text once in each field; two setups of which both names are hostile."""
    rows = []
    for k in range(40):
        row = [cell.format(k) for cell in SOUND]
        rows.append([*row[:8], HOSTILE[k % 2]])
    for field in range(len(FIELDS)):
        for k, each in enumerate(HOSTILE):
            row = [cell.format(k) for cell in SOUND]
            rows.append([*row[:field], each, *row[field + 1 :]])
    with (folder / "spots.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[*FIELDS, f"{FORMULA}{ORDERS}"], *(row + [MARKUP] for row in rows)])
    (folder / "schedule.csv").write_text(
        f"start,end,setup\n2026-05-16 18:00,2026-05-16 18:30,{MARKUP.replace(',', '')}\n"
        f"2026-05-16 18:30,2026-05-16 19:00,{ORDERS}\n",
        encoding="utf-8",
    )
    (folder / "fixes.csv").write_text(
        f"callsign,locator,suggestion,reason,rows,accept\n{ORDERS},IO51lv,IO51es,{MARKUP},1,yes\n", encoding="utf-8"
    )
    (folder / "study.toml").write_text(
        "title = '''"
        + MARKUP.replace("'", "`")
        + "'''\nfiles = ['spots.csv']\nschedule = 'schedule.csv'\nnow = 2026-11-01T00:00:00Z\n"
        "[station]\ncallsign = 'EI4QTB'\nlocator = 'IO51es'\n",
        encoding="utf-8",
    )


def on_a_terminal(folder: Path, *args: str, pictures: Sequence[str] | None = None) -> str:
    """What a terminal is sent while a command runs on it. pictures : which a report has, where not all"""
    ours, theirs = pty.openpty()
    running = loaded.Reach(
        args,
        pictures=pictures, cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs,
        env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path)), "TERM": "dumb"},
    )  # fmt: skip
    os.close(theirs)
    sent = b""
    while True:
        try:
            chunk = os.read(ours, 1 << 16)
        except OSError:  # the other end is closed
            break
        if not chunk:
            break
        sent += chunk
    os.close(ours)
    assert running.wait() in (0, 2)
    return sent.decode("utf-8")


@pytest.fixture(scope="module")
def told(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """The folder of a run, and what its terminal was sent."""
    folder = tmp_path_factory.mktemp("hostile")
    write_all(folder)
    sent = on_a_terminal(folder, "run", "study.toml", "--out", "out")
    assert (folder / "out" / "report.html").exists(), sent
    return folder, sent


@pytest.mark.parametrize(
    "args",
    [
        [],
        ["vet", "study.toml"],
        ["vet", "study.toml", "--fixes", "fixes.csv"],
        ["vet", "spots.csv", "--setup", ORDERS],
        ["compare", "study.toml", ORDERS, MARKUP],
        ["locator", ORDERS],
    ],
)
def test_a_terminal_gets_no_order(told, args):
    folder, sent = told
    sent = on_a_terminal(folder, *args) if args else sent
    assert sent.strip() and "Traceback" not in sent
    assert COLOUR not in sent
    assert all(text.is_clean(line.replace("\r", "")) for line in OWN_STYLE.sub("", sent).split("\n")), sent


def test_pictures_are_well_formed_and_run_nothing(told):
    pictures = list((told[0] / "out").rglob("*.svg"))
    assert pictures
    for picture in pictures:
        nodes = list(ElementTree.parse(picture).iter())
        assert not [node.tag for node in nodes if node.tag.endswith("}script")], picture
        assert not [name for node in nodes for name in node.attrib if name.startswith("on")], picture


def test_a_spreadsheet_works_nothing_out(told, tmp_path):
    """Opened by a real one, which then writes down what it took for formulas."""
    tables = list((told[0] / "out").rglob("*.csv"))
    assert len(tables) >= 3
    program = shutil.which("soffice")
    if program is None:
        assert not os.environ.get("REACH_NEED_OFFICE"), "soffice is not on this machine"
        pytest.skip("soffice is not on this machine")
    names = [str(shutil.copy(table, tmp_path / f"{k}.csv")) for k, table in enumerate(tables)]
    (tmp_path / "bait.csv").write_text("a\n=1+1\n")
    names.append(str(tmp_path / "bait.csv"))
    home = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    subprocess.run(
        [program, home, "--headless", f"--infilter={READ_SO}", "--convert-to", "fods", "--outdir", str(tmp_path), *names],
        check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=240,
    )  # fmt: skip
    sheets = list(tmp_path.glob("*.fods"))
    assert len(sheets) == len(names)
    found = [sheet.name for sheet in sheets if b"table:formula=" in sheet.read_bytes()]
    assert found == ["bait.fods"]  # it would be seen


def test_the_page_runs_nothing_of_theirs(told, browser):  # noqa: F811
    page, said = browser.new_page(), []
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((told[0] / "out" / "report.html").as_uri())
    page.wait_for_timeout(1000)
    assert page.title() != "owned" and "owned" in page.title()  # it is there as text
    assert not page.query_selector("img[onerror]") and not said
    page.close()


def test_slides_hold_no_formula_and_are_well_formed(told):
    folder, _ = told
    on_a_terminal(folder, "deck", "study.toml", "--out", "deck")
    (deck,) = (folder / "deck").glob("*.pptx")
    with zipfile.ZipFile(deck) as slides:
        for name in slides.namelist():
            content = slides.read(name)
            if name.endswith((".xml", ".rels")):
                ElementTree.fromstring(content)
            if name.endswith(".xlsx"):
                with zipfile.ZipFile(io.BytesIO(content)) as book:
                    sheets = [each for each in book.namelist() if each.startswith("xl/worksheets/")]
                    assert sheets and not [each for each in sheets if b"<f>" in book.read(each)]

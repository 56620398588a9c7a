"""Hostile text through the film, the handout, a season, a collection that is listed, and three setups that are compared."""

from __future__ import annotations

import csv
import json
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import pytest

from reach.base import text
from reach.tell import film
from tests.hardening.test_hostile import COLOUR, FORMULA, MARKUP, ORDERS, OWN_STYLE, on_a_terminal, write_all
from tests.page_browser.conftest import browser  # noqa: F401

# What makes a PDF do something: a script, an action when it is opened, a program, an address, a form.
ACTIVE = (
    b"/JavaScript",
    b"/JS",
    b"/OpenAction",
    b"/AA",
    b"/Launch",
    b"/URI",
    b"/SubmitForm",
    b"/EmbeddedFile",
    b"/AcroForm",
)
THREE = (MARKUP.replace(",", ""), ORDERS, FORMULA.replace('"', "`"))


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    write_all(tmp_path)
    return tmp_path


def clean(sent: str) -> str:
    """What a terminal was sent, once it is seen that it holds no order and no bug."""
    assert sent.strip() and "Traceback" not in sent and "a bug in reach" not in sent, sent
    assert COLOUR not in sent
    assert all(text.is_clean(line.replace("\r", "")) for line in OWN_STYLE.sub("", sent).split("\n")), sent
    return sent


@pytest.mark.parametrize("name", ["film.webp", "film.mp4"])
def test_a_film_holds_pictures_and_one_line_of_ours(hostile, name):
    small = ["--size", "320x320", "--seconds", "1", "--fps", "4"]
    sent = clean(on_a_terminal(hostile, "motion", "study.toml", "--out", name, *small))
    content = (hostile / name).read_bytes()
    assert "Wrote" in sent and film.SIGNED.encode() in content
    assert not [piece for piece in (b"owned", b"<script", b"wire_", b"HYPERLINK", b"192.0.2.1") if piece in content]
    if name == "film.webp":
        packet = re.search(rb"<x:xmpmeta.*</x:xmpmeta>", content, re.DOTALL)
        assert packet and not list(ElementTree.fromstring(packet[0]))


def test_a_handout_and_slides_as_pdf_do_nothing_when_opened(hostile):
    clean(on_a_terminal(hostile, "deck", "study.toml", "--out", "deck"))
    printed = sorted((hostile / "deck").glob("*.pdf"))
    assert [path.name for path in printed] == ["deck.pdf", "handout.pdf"]
    for path in printed:
        content = path.read_bytes()
        assert b"/ObjStm" not in content  # where objects would hide from this search
        assert not [name for name in ACTIVE if re.search(re.escape(name) + rb"\b", content)], path
        if reader := shutil.which("pdftotext"):
            said = subprocess.run([reader, str(path), "-"], capture_output=True, check=True).stdout.decode("utf-8")
            assert "owned" in said and text.is_clean(said.replace("\n", "").replace("\f", ""))


def test_a_season_with_hostile_notes_and_setups(hostile):
    rows = [["time", "callsign", "locator", "snr", "frequency", "power", "transmitter", "transmitter locator", "setup"]]
    for day in range(1, 25):
        for k, call in enumerate(("EI9QUC", "G4QRV", "DL2QTC", "F8QRE")):
            for sender in ("EI4QTB", "EI7QTD"):
                where = ("IO51lv", "IO92sa", "JO62ab", "JN12ks")[k]
                rows.append(
                    [
                        f"2026-04-{day:02} 18:{2 * k:02}",
                        call,
                        where,
                        str(-20 + day % 3),
                        "14.05",
                        "5",
                        sender,
                        "IO51es",
                        MARKUP,
                    ]
                )
    with (hostile / "season.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    study = (hostile / "study.toml").read_text(encoding="utf-8").replace("schedule = 'schedule.csv'\n", "")
    study = study.replace("'spots.csv'", "'season.csv'") + (
        f"[season]\ncontrols = ['EI7QTD']\n[[log]]\ndate = 2026-04-10\ndone = {json.dumps(MARKUP + FORMULA)}\n"
    )
    (hostile / "season.toml").write_text(study, encoding="utf-8")
    sent = clean(on_a_terminal(hostile, "season", "season.toml", "--csv", "days.csv"))
    with (hostile / "days.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.reader(file) for cell in row]
    assert len(cells) > 20 and "owned" in sent
    assert not [cell for cell in cells if re.match(r"[=@\t]|[+-](?![\d. ]*$)", cell)]


def test_a_collection_with_hostile_names_is_listed(hostile):
    odd = f"a{ORDERS}{FORMULA.replace('/', '')}.csv"
    (hostile / "spots.csv").rename(hostile / odd)
    clean(on_a_terminal(hostile, "add", odd, "--to", "kept", "--callsign", "EI4QTB", "--locator", "IO51es"))
    for more in ([], ["--summary"], ["--json"]):
        sent = clean(on_a_terminal(hostile, "list", "kept", *more))
        assert "EI4QTB" in sent
    told = json.loads(sent)
    assert (
        odd in json.dumps(told, ensure_ascii=False).replace("\\u001b", "\x1b").replace("\\u0007", "\x07")
        or told["files"]
    )


@pytest.fixture
def three(hostile) -> Path:
    """The folder of a study of three setups, of which each has a hostile name."""
    rows = [["time", "callsign", "locator", "snr", "frequency", "setup"]]
    for block in range(18):
        for k, call in enumerate(("EI9QUC", "G4QRV", "DL2QTC", "F8QRE", "M1QUP", "IK3QTZ")):
            where = ("IO51lv", "IO92sa", "JO62ab", "JN12ks", "IO92sb", "JN55bg")[k]
            moment = f"2026-05-16 {15 + block // 6}:{block % 6}{k % 5 * 2}"
            rows.append([moment, call, where, str(-18 + 3 * (block % 3) - k % 2), "14.05", THREE[block % 3]])
    with (hostile / "three.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    names = ", ".join(json.dumps(text.shown(name)) for name in THREE)
    (hostile / "three.toml").write_text(
        f"title = {json.dumps(MARKUP)}\nfiles = ['three.csv']\nnow = 2026-11-01T00:00:00Z\n"
        f"[station]\ncallsign = 'EI4QTB'\nlocator = 'IO51es'\n[compare]\nsetups = [{names}]\n",
        encoding="utf-8",
    )
    return hostile


def test_three_setups_with_hostile_names_are_compared(three, browser):  # noqa: F811
    clean(on_a_terminal(three, "compare", "three.toml"))
    named = ("map-station", "distance", "timeline")
    clean(on_a_terminal(three, "run", "three.toml", "--out", "out", pictures=named))
    told = (three / "out" / "setups.json").read_text(encoding="utf-8")
    assert "\x1b" not in told and json.loads(told)
    drawn = list((three / "out").rglob("*.svg"))
    assert {each.stem for each in drawn} == {*named}
    for picture in drawn:
        nodes = list(ElementTree.parse(picture).iter())
        assert not [node.tag for node in nodes if node.tag.endswith("}script")], picture
    page, said = browser.new_page(), []
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto((three / "out" / "report.html").as_uri())
    page.wait_for_timeout(1000)
    assert page.title() != "owned" and not page.query_selector("img[onerror]") and not said
    assert "onerror" in page.content()  # it came, as text
    page.close()

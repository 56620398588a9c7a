"""Doubtful locators: what is shown of each, what a decision writes, how it is taken back; by forms, and in real Chromium."""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path
from typing import Any

import psutil
import pytest

from tests.desk.conftest import NARROW, Served, sample, settled


def begun(served: Served, title: str) -> str:
    """A study of the messy sample."""
    at = served.begin(title)
    served.put(f"{at}/files/messy.csv", sample("messy.csv"))
    said = {"callsign": "", "locator": "IO51es", "power_w": "5", "title": title, "direction": "sent"}
    assert served.post(f"{at}/station", **said).status == 303
    return at


def shown(served: Served, at: str) -> str:
    return settled(served, f"{at}/doubtful", "Looking at the locators")


def decide(served: Served, at: str, page: str, call: str, choice: str, **more: str) -> int:
    """Press a button on the card or in the row of a callsign."""
    for form in re.findall(r'<form method="post" action="[^"]*/doubtful".*?</form>', page, re.S):
        fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))
        if fields["callsign"] == call:
            return served.post(f"{at}/doubtful", **{**fields, "choice": choice, **more}).status
    raise AssertionError(f"no form for {call}")


def kept(folder: Path) -> list[dict[str, str]]:
    return list(csv.DictReader((folder / "fixes.csv").read_text(encoding="utf-8").splitlines()))


@pytest.fixture(scope="module")
def messy(served: Served) -> str:
    return begun(served, "doubts")


def test_each_card_has_its_sentence_its_evidence_and_its_map(served: Served, messy: str) -> None:
    page = shown(served, messy)
    cards = re.findall(r'<article class="card".*?</article>', page, re.S)
    assert len(cards) == 5
    assert "DG5QUA at RE61eg (at sea): there is no land within 10 km" in cards[0], "the heaviest first"
    assert "against it: whether there is land" in cards[0].replace("Against", "against")
    for card in cards:
        svg = re.search(r"<svg.*?</svg>", card, re.S)
        assert svg and svg[0].count('<circle class="claimed"') == 1 and 'class="land" d="M' in svg[0]
        for x, y in re.findall(r'<circle class="\w+" cx="([\d.]+)" cy="([\d.]+)" r="6"', svg[0]):
            assert 0 < float(x) < 400 and 0 < float(y) < 240
    assert "Take JO61eg" in cards[0] and '<circle class="likely"' in cards[0]
    assert page.count('<td class="number">') == 19, "the malformed ones as a table"
    assert not re.search(r'style="|<script>|onclick', page)


def test_a_decision_is_written_and_can_be_taken_back(served: Served, messy: str) -> None:
    folder = served.folder / "doubts"
    assert decide(served, messy, shown(served, messy), "DG5QUA", "yes") == 303
    assert tomllib.loads((folder / "study.toml").read_text())["fixes"] == "fixes.csv"
    (row,) = kept(folder)
    assert (row["callsign"], row["locator"], row["suggestion"], row["accept"]) == ("DG5QUA", "RE61eg", "JO61eg", "yes")
    assert row["reason"].startswith("DG5QUA at RE61eg (at sea)") and row["rows"] == "1"
    page = shown(served, messy)
    assert "DG5QUA at RE61eg: taken as JO61eg" in page and ">4 to decide<" in page
    assert "1 row has its locator replaced" in page
    assert decide(served, messy, page, "CT1QTP", "no") == 303
    page = shown(served, messy)
    assert "CT1QTP at JN12ks: left as it is" in page and ">3 to decide<" in page
    assert page.index("CT1QTP at JN12ks: left") < page.index("DG5QUA at RE61eg: taken"), "the last one first"
    for call in ("CT1QTP", "DG5QUA"):
        assert decide(served, messy, shown(served, messy), call, "") == 303
    assert [row["accept"] for row in kept(folder)] == ["", ""]
    assert ">5 to decide<" in shown(served, messy)


def test_another_locator_is_taken_or_refused_beside_its_field(served: Served, messy: str) -> None:
    page = shown(served, messy)
    answer = served.post(f"{messy}/doubtful", callsign="LY5QSE", locator="KO15", choice="other", other="KO1")
    assert answer.status == 422
    assert re.search(r'value="KO1" aria-invalid="true" aria-describedby="(fault-m1)"', answer.text)
    assert "&#39;KO1&#39; has 3 characters" in answer.text
    assert served.post(f"{messy}/doubtful", callsign="LY5QSE", locator="KO15", choice="other").status == 422
    assert decide(served, messy, page, "LY5QSE", "other", other="ko15xa") == 303
    page = shown(served, messy)
    assert "23 rows have their locator replaced" in page and "LY5QSE at KO15: taken as ko15xa" in page
    assert page.count('<td class="number">') == 18
    assert decide(served, messy, page, "LY5QSE", "") == 303


def test_a_blank_locator_gets_one(served: Served, messy: str) -> None:
    assert served.post(f"{messy}/doubtful", callsign="HA8QTA", locator="", choice="other", other="JN96cd").status == 303
    assert "HA8QTA at : taken as JN96cd" in shown(served, messy)
    assert served.post(f"{messy}/doubtful", callsign="HA8QTA", locator="", choice="").status == 303


def test_what_the_user_wrote_into_the_file_stays(served: Served) -> None:
    at = begun(served, "own file")
    folder = served.folder / "own-file"
    (folder / "fixes.csv").write_text(
        "callsign;locator;suggestion;accept;mine\nDG5QUA;RE61eg;JO61eg;;seen\nKA9QUL;EN6Iem;EN61em;yes;wrote to him\n"
        "W9QUZ;IO51xx;;IO51xw;\n"
    )
    assert decide(served, at, shown(served, at), "DG5QUA", "yes") == 303
    rows = kept(folder)
    assert [(row["callsign"], row["accept"], row["mine"]) for row in rows] == [
        ("KA9QUL", "yes", "wrote to him"),
        ("W9QUZ", "IO51xw", ""),
        ("DG5QUA", "yes", "seen"),
    ]
    page = shown(served, at)
    assert "KA9QUL at EN6Iem: taken as EN61em<" in page and "2 rows have their locator replaced" in page
    assert "W9QUZ at IO51xx: taken as IO51xw, but no row of the files says so" in page


def test_a_file_elsewhere_or_of_another_kind_is_left_alone(served: Served, tmp_path: Path) -> None:
    at = begun(served, "elsewhere")
    study = served.folder / "elsewhere" / "study.toml"
    told = study.read_text()
    outside = tmp_path / "outside.csv"
    outside.write_text("callsign,locator,suggestion,reason,rows,accept\n")
    study.write_text(f"fixes = {str(outside)!r}\n{told}")
    answer = served.post(f"{at}/doubtful", callsign="DG5QUA", locator="RE61eg", choice="no")
    assert answer.status == 422
    assert outside.read_text() == "callsign,locator,suggestion,reason,rows,accept\n"
    (study.parent / "notes.csv").write_text("my,notes\n")
    study.write_text(f"fixes = 'notes.csv'\n{told}")
    answer = served.post(f"{at}/doubtful", callsign="DG5QUA", locator="RE61eg", choice="no")
    assert answer.status == 422 and "has no column" in answer.text
    assert (study.parent / "notes.csv").read_text() == "my,notes\n"


def test_a_formula_in_a_callsign_is_written_as_text(served: Served) -> None:
    at = begun(served, "formula")
    call = "=HYPERLINK(1)"
    assert served.post(f"{at}/doubtful", callsign=call, locator="IO9", choice="no").status == 303
    assert (served.folder / "formula" / "fixes.csv").read_text().splitlines()[1].startswith("'=HYPERLINK(1),IO9")
    assert served.post(f"{at}/doubtful", callsign=call, locator="IO9", choice="IO91wm").status == 303
    assert [row["accept"] for row in kept(served.folder / "formula")] == ["IO91wm"], "read back it is the same callsign"


def test_decided_and_undone_by_keyboard_alone(visit: Any, desk: Served) -> None:
    at = visit()
    begun(at.has_key(), "Doubts by keys")
    page = at.page
    page.goto(f"{desk.origin}/s/Doubts-by-keys/doubtful")
    page.get_by_role("heading", name="5 to decide").wait_for(timeout=60_000)
    at.still()
    for _ in range(60):
        if page.evaluate("() => document.activeElement.textContent").startswith("Take JO61eg"):
            break
        page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="4 to decide").wait_for(timeout=60_000)
    at.still()
    for _ in range(60):
        page.keyboard.press("Shift+Tab")
        if page.evaluate("() => document.activeElement.textContent") == "Undo: DG5QUA at RE61eg":
            break
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="5 to decide").wait_for(timeout=60_000)


@pytest.mark.skipif(not Path("/proc").is_dir(), reason="needs processes that can be halted")
def test_after_a_slow_decision_the_page_is_where_it_was_left(visit: Any, desk: Served) -> None:
    """Whoever decides goes on with the next card, also where the worker takes long; who takes back is at that card again."""
    at = visit(viewport={"width": 1000, "height": 600})
    root = begun(at.has_key(), "Slow")
    page = at.page
    page.goto(f"{desk.origin}{root}/doubtful")
    page.get_by_role("heading", name="5 to decide").wait_for(timeout=240_000)
    third, fourth = (page.locator("article.card h3").nth(k).inner_text() for k in (2, 3))
    workers = psutil.Process(desk.process.pid).children(recursive=True)

    def slowly(button: Any, heading: str) -> None:
        at_work = max(workers, key=lambda each: sum(each.cpu_times()[:2]))  # the other one reads study files
        at_work.suspend()
        try:
            button.click()
            page.get_by_text("Looking at the locators ...").wait_for(timeout=60_000)
        finally:
            at_work.resume()
        page.get_by_role("heading", name=heading).wait_for(timeout=60_000)

    def is_at(name: str) -> bool:
        """The focus is in the card or entry of this name, and in sight."""
        page.wait_for_function(
            """(name) => {
                const at = document.activeElement, place = at.getBoundingClientRect();
                const said = at.closest("article, li")?.querySelector("h3, span")?.textContent;
                return said === name && place.top >= 0 && place.bottom <= innerHeight;
            }""",
            arg=name,
        )
        return True

    slowly(page.locator("article.card").nth(2).get_by_role("button", name="Leave it"), "4 to decide")
    assert is_at(fourth)
    slowly(page.locator("button", has_text=f"Undo: {third}"), "5 to decide")
    assert is_at(third)
    page.locator("table.decisions tr", has_text="LY5QSE").get_by_role("button", name="Leave it").click()
    page.get_by_text("LY5QSE at KO15: left as it is").wait_for(timeout=60_000)
    at.still()
    assert page.evaluate("() => document.activeElement.closest('table.decisions') !== null")


def test_when_the_last_card_of_a_page_is_decided_the_page_before_is_shown(served: Served, messy: str) -> None:
    assert ">5 to decide<" in shown(served, messy)
    for place in ("?start=12&at=1", "?start=9999&at=3"):
        page = served.get(f"{messy}/doubtful{place}").text
        assert page.count('<article class="card"') == 5
        assert page.count(" autofocus>") == 1
    assert served.get(f"{messy}/doubtful?start=m3").status == 404
    assert "autofocus" not in served.get(f"{messy}/doubtful?at=x").text


def test_axe_finds_no_fault(visit: Any, desk: Served) -> None:
    at = visit(**NARROW)
    root = begun(at.has_key(), "Doubts looked at")
    at.page.goto(f"{desk.origin}{root}/doubtful")
    at.page.get_by_role("heading", name="5 to decide").wait_for(timeout=60_000)
    at.page.get_by_text("What speaks against it").first.click()
    at.without_fault()
    at.page.get_by_role("textbox").first.fill("XX")
    at.page.get_by_role("button", name="Take that").first.click()
    at.page.get_by_role("alert").first.wait_for(timeout=60_000)
    at.without_fault()
    at.page.get_by_role("button", name="Leave it").first.click()
    at.page.get_by_role("heading", name="4 to decide").wait_for(timeout=60_000)
    at.without_fault()
    at.complaints = [each for each in at.complaints if "422" not in each]


def test_without_a_script(visit: Any, desk: Served) -> None:
    at = visit(java_script_enabled=False)
    begun(at.has_key(), "Doubts without script")
    at.page.goto(f"{desk.origin}/s/Doubts-without-script/doubtful")
    at.page.get_by_role("button", name="Take JO61eg").click(timeout=60_000)
    at.page.get_by_text("DG5QUA at RE61eg: taken as JO61eg").wait_for(timeout=60_000)
    at.page.get_by_role("button", name="Undo").click()
    at.page.get_by_role("heading", name="5 to decide").wait_for(timeout=60_000)

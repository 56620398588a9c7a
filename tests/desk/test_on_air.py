"""Who was on when: the table kept as a schedule, painted by mouse, finger and keys, its clock judged and shifted, a plan for later."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest

from reach.assign import schedule
from tests.desk.conftest import NARROW, SAMPLES, Served, sample, settled

STATION = {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": "5", "setups": "yes"}
SETUPS = {"setup-0-was": "", "setup-0-name": "vertical", "setup-1-was": "", "setup-1-name": "wire"}
FIRST = {"start-1": "2026-05-16 18:00", "end-1": "2026-05-16 18:10", "setup-1": "vertical"}
SECOND = {"start-2": "16.05.2026 18:10", "end-2": "2026-05-16T18:20Z", "setup-2": "wire"}
AS_WRITTEN = "start,end,setup\n2026-05-16 18:00,2026-05-16 18:10,vertical\n2026-05-16 18:10,2026-05-16 18:20,wire\n"


def begun(served: Served, title: str, *, spots: bool = True) -> tuple[str, Path]:
    """A study of an evening with two setups: its address and its study.toml."""
    at = served.begin(title)
    if spots:
        assert served.put(f"{at}/files/evening.csv", sample("evening.csv")).status == 204
    assert served.post(f"{at}/station", **STATION, **SETUPS).status == 303
    path = served.folder / at.rpartition("/")[2] / "study.toml"
    path.write_text("now = 2026-11-01T00:00:00Z  # mine\n" + path.read_text())
    return at, path


def stamp(page: str) -> str:
    return re.findall(r'name="stamp" value="(\w+)"', page)[0]


def test_the_table_is_kept_as_a_schedule(served: Served) -> None:
    at, path = begun(served, "table", spots=False)
    assert served.post(f"{at}/on-air", **FIRST, **SECOND, **{"start-3": "", "end-3": "", "setup-3": ""}).status == 303
    assert (path.parent / "schedule.csv").read_text() == AS_WRITTEN
    assert tomllib.loads(path.read_text())["schedule"] == "schedule.csv" and "# mine" in path.read_text()
    page = served.get(f"{at}/on-air").text
    assert 'value="2026-05-16 18:10"' in page and page.count('<rect class="s0"') == 1
    assert served.post(f"{at}/on-air", **FIRST, **SECOND, **{"out-2": "yes"}).status == 303
    assert (path.parent / "schedule.csv").read_text() == "".join(AS_WRITTEN.splitlines(keepends=True)[:2])
    assert served.post(f"{at}/on-air", **FIRST, **{"out-1": "yes"}).status == 303
    assert "schedule" not in tomllib.loads(path.read_text())


@pytest.mark.parametrize(
    ("change", "row", "said"),
    [
        ({"start-1": "dusk"}, 1, "is no time"),
        ({"end-2": "2026-05-16 18:00"}, 2, "which is not after its start"),
        ({"setup-2": ""}, 2, "blank"),
        ({"start-2": "2026-05-16 18:05"}, 2, "while row 1 is on the air until 2026-05-16 18:10"),
    ],
)
def test_what_is_wrong_stands_at_its_row(served: Served, change: dict[str, str], row: int, said: str) -> None:
    at, path = begun(served, "wrong rows", spots=False)
    answer = served.post(f"{at}/on-air", **{**FIRST, **SECOND, **change})
    assert answer.status == 422
    found = re.search(rf'role="alert" id="fault-{row}">([^<]*)<', answer.text)
    assert found and said in found[1], answer.text
    assert 'value="16.05.2026 18:10"' in answer.text or "start-2" in change, "what was typed is still there"
    assert not (path.parent / "schedule.csv").exists()


def test_a_log_that_was_brought_stays_as_it_was(served: Served) -> None:
    at, path = begun(served, "log", spots=False)
    log = b"# my log\nsetup;from;until\nvertical;16.05.2026 19:00;16.05.2026 19:10\n"
    mark = "x0x0x"
    field = f"--{mark}\r\nContent-Disposition: form-data; name="
    parts = f'{field}"zone"\r\n\r\n+01:00\r\n{field}"file"; filename="My log.csv"\r\n\r\n'
    kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}

    def send(content: bytes) -> Any:
        return served.raw(
            "POST",
            f"{at}/on-air/file",
            parts.encode() + content + f"\r\n--{mark}--\r\n".encode(),
            {**served.own, **kind},
        )

    answer = send(b"setup,from\nvertical,now\n")
    assert answer.status == 422 and 'id="log-fault"' in answer.text and "line 1" in answer.text
    assert send(log).status == 303
    told = tomllib.loads(path.read_text())
    assert (told["schedule"], told["schedule_zone"]) == ("My-log.csv", "+01:00")
    assert 'value="2026-05-16 18:00"' in served.get(f"{at}/on-air").text
    assert served.post(f"{at}/on-air", **FIRST, **SECOND).status == 303
    assert (path.parent / "My-log.csv").read_bytes().rstrip() == log.rstrip()
    assert (path.parent / "schedule.csv").read_text() == AS_WRITTEN
    told = tomllib.loads(path.read_text())
    assert told["schedule"] == "schedule.csv" and "schedule_zone" not in told
    renamed = {"setup-0-was": "vertical", "setup-0-name": "whip", "setup-1-was": "wire", "setup-1-name": "wire"}
    assert served.post(f"{at}/station", **STATION, **renamed).status == 303
    assert (path.parent / "schedule.csv").read_text() == AS_WRITTEN.replace("vertical", "whip")


def test_what_to_compare_is_chosen_and_kept(served: Served) -> None:
    at, path = begun(served, "compare", spots=False)
    page = served.get(f"{at}/on-air").text
    assert len(re.findall(r'type="checkbox" name="setup-\d"', page)) == 2 and " checked>" not in page
    alone = served.post(f"{at}/on-air/compare", **{"setup-1": "wire"})
    assert alone.status == 422 and "needs two setups" in alone.text and 'value="wire" checked' in alone.text
    assert "compare" not in tomllib.loads(path.read_text())
    both = {"setup-0": "vertical", "setup-1": "wire"}
    assert served.post(f"{at}/on-air/compare", stamp=stamp(page), **both).status == 303
    assert tomllib.loads(path.read_text())["compare"] == {"a": "vertical", "b": "wire"}
    assert "# mine" in path.read_text()
    assert served.get(f"{at}/on-air").text.count(" checked> ") == 2
    assert served.post(f"{at}/on-air/compare", stamp=stamp(page)).status == 409, "a stale tab"
    turned = re.sub(
        '(?m)^a = "vertical"\nb = "wire"', 'a = "wire"\nb = "vertical"\ncontrol = "EI9QUC"', path.read_text()
    )
    assert 'control = "EI9QUC"' in turned
    path.write_text(turned)
    assert served.post(f"{at}/on-air/compare", **both).status == 303
    assert path.read_text() == turned, "the same two: which is taken from which stays, and so does the control"
    assert served.post(f"{at}/on-air/compare").status == 303
    assert "compare" not in tomllib.loads(path.read_text())


def test_a_stale_tab_writes_over_nothing(served: Served) -> None:
    at, path = begun(served, "stale", spots=False)
    shown = stamp(served.get(f"{at}/on-air").text)
    assert served.post(f"{at}/on-air", stamp=shown, **FIRST).status == 303
    answer = served.post(f"{at}/on-air", stamp=shown, **FIRST, **SECOND)
    assert answer.status == 409 and "changed meanwhile" in answer.text and "16.05.2026 18:10" in answer.text
    now = stamp(served.get(f"{at}/on-air").text)
    (path.parent / "schedule.csv").write_text(AS_WRITTEN)  # in an editor
    assert served.post(f"{at}/on-air/clock", stamp=now, confirmed="yes").status == 409
    assert (path.parent / "schedule.csv").read_text() == AS_WRITTEN


def test_a_clock_that_is_wrong_is_said_and_shifted_back(served: Served) -> None:
    at, path = begun(served, "clock")
    late = schedule.read(SAMPLES / "evening_schedule.csv", shift_min=60)
    (path.parent / "late.csv").write_text(schedule.text(late))
    path.write_text(path.read_text().replace("files =", 'schedule = "late.csv"\nfiles =', 1))
    page = looked(served, at)
    assert "may be shifted" in page
    shift = re.findall(r'name="shift" value="(-?[\d.]+)"', page)[0]
    assert float(shift) == pytest.approx(-60, abs=5)
    assert served.post(f"{at}/on-air/clock", shift=shift).status == 303
    assert tomllib.loads(path.read_text())["schedule_shift_min"] == float(shift)
    page = looked(served, at)
    assert "may be shifted" not in page and "Take the shift of" in page
    assert served.post(f"{at}/on-air/clock", confirmed="yes").status == 303
    assert "whatever the reports say" in looked(served, at)


def looked(served: Served, at: str) -> str:
    return settled(served, f"{at}/on-air", "Reading the reports")


def test_a_plan_is_made_and_offered_to_the_calendar(served: Served) -> None:
    at, _ = begun(served, "plan", spots=False)
    asked = "a=vertical&b=wire&start=2026-05-20+18:00&half_width_db=1&block_min=10&hours=3"
    page = served.get(f"{at}/on-air?{asked}").text
    assert "alternate for" in page and "plan.ics?" in page
    answer = served.get(f"{at}/on-air/plan.ics?{asked}")
    assert answer.headers["content-type"].startswith("text/calendar")
    assert (
        answer.text.startswith("BEGIN:VCALENDAR")
        and "DTSTART:20260520T180000Z" in answer.text
        and "plan: " in answer.text
    )
    rows = schedule.parse(served.get(f"{at}/on-air/plan.csv?{asked}").text)
    assert set(rows["setup"]) == {"vertical", "wire"} and answer.text.count("BEGIN:VEVENT") == len(rows)
    assert "not &#39;soon&#39;" in served.get(f"{at}/on-air?{asked.replace('2026-05-20+18:00', 'soon')}").text
    assert served.get(f"{at}/on-air/plan.ics?{asked.replace('b=wire', 'b=vertical')}").status == 422


def test_the_rows_of_a_plan_go_below_those_of_the_table(served: Served) -> None:
    at, path = begun(served, "plan rows", spots=False)
    assert served.post(f"{at}/on-air", **FIRST, **SECOND).status == 303
    asked = {
        "a": "vertical",
        "b": "wire",
        "start": "2026-05-20 18:00",
        "half_width_db": "1",
        "block_min": "10",
        "hours": "3",
    }
    page = served.get(f"{at}/on-air?{urlencode(asked)}").text
    number = re.findall(r"<button>Put its (\d+) rows into the table<", page)[0]
    answer = served.post(f"{at}/on-air/plan", stamp=stamp(page), **asked)
    assert answer.status == 303 and answer.headers["location"].endswith("day=2026-05-20#table")
    kept = (path.parent / "schedule.csv").read_text()
    plan = served.get(f"{at}/on-air/plan.csv?{urlencode(asked)}").text
    assert kept == AS_WRITTEN + plan.partition("\n")[2] and kept.count("\n") == 3 + int(number)
    assert served.post(f"{at}/on-air/plan", stamp=stamp(page), **asked).status == 409, "a stale tab"
    again = served.post(f"{at}/on-air/plan", **asked)
    assert again.status == 422 and "is on the air until" in again.text, "the same evening twice"
    assert served.post(f"{at}/on-air/plan", **{**asked, "start": "soon"}).status == 422
    assert (path.parent / "schedule.csv").read_text() == kept


def test_a_log_is_dropped_on_its_box(visit: Any, desk: Served) -> None:
    at, path = arrive(visit, desk, "Dropped log")
    page = at.page
    page.get_by_label("Zone of its times").fill("+01:00")

    def drop(name: str, text: str) -> None:
        held = page.evaluate_handle(
            "([name, text]) => { const held = new DataTransfer(); held.items.add(new File([text], name)); return held; }",
            [name, text],
        )
        page.dispatch_event("form.drop", "dragover", {"dataTransfer": held})
        assert "over" in (page.get_attribute("form.drop", "class") or "").split()
        page.dispatch_event("form.drop", "drop", {"dataTransfer": held})

    drop(
        "log.csv",
        "setup;from;until\nvertical;16.05.2026 20:00;16.05.2026 20:10\nwire;16.05.2026 20:10;16.05.2026 20:20\n",
    )
    page.get_by_text("Kept.", exact=True).wait_for(timeout=60_000)
    at.still()
    assert page.get_by_label("start of row 1", exact=True).input_value() == "2026-05-16 19:00"
    assert page.locator(".blocks rect").count() == 2
    assert tomllib.loads(path.read_text())["schedule"] == "log.csv"
    drop("odd.csv", "setup,from\nvertical,now\n")
    page.locator("#log-fault").wait_for(timeout=60_000)
    assert tomllib.loads(path.read_text())["schedule"] == "log.csv"
    at.complaints = [each for each in at.complaints if "422" not in each]


def arrive(visit: Any, desk: Served, title: str, **context: Any) -> tuple[Any, Path]:
    at = visit(**context)
    root, path = begun(at.has_key(), title)
    at.page.goto(f"{desk.origin}{root}/on-air")
    at.page.locator(".strip").first.wait_for(timeout=60_000)
    at.still()
    return at, path


def test_painted_by_mouse(visit: Any, desk: Served) -> None:
    at, path = arrive(visit, desk, "Mouse", viewport={"width": 1280, "height": 900})
    page = at.page
    strip = page.locator(".strip svg").first
    strip.scroll_into_view_if_needed()
    box = strip.bounding_box()
    low, high = (int(page.locator("#painting").get_attribute(f"data-{end}")) for end in ("from", "to"))

    def x(hour: float) -> float:
        return box["x"] + box["width"] * (hour - low) / (high - low)

    def drag(start: float, end: float) -> None:
        page.mouse.move(x(start), box["y"] + 20)
        page.mouse.down()
        page.mouse.move(x(end), box["y"] + 20, steps=5)
        page.mouse.up()

    drag(19 + 2 / 60, 19 + 28 / 60)
    page.get_by_label("2 wire").check()
    strip.scroll_into_view_if_needed()
    box = strip.bounding_box()
    drag(19 + 12 / 60, 19 + 18 / 60)
    assert page.locator(".blocks rect").count() == 3, "a stroke within another divides it"
    page.get_by_role("button", name="Undo").click()
    assert page.locator(".blocks rect").count() == 1
    box = strip.bounding_box()
    drag(19 + 12 / 60, 19 + 18 / 60)
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("Kept.", exact=True).wait_for()
    told = (path.parent / "schedule.csv").read_text().splitlines()[1:]
    assert told == [f"2026-05-16 19:{a},2026-05-16 19:{b},{name}" for a, b, name in
                    (("00", "10", "vertical"), ("10", "20", "wire"), ("20", "30", "vertical"))]  # fmt: skip


def test_painted_by_finger(visit: Any, desk: Served) -> None:
    at, path = arrive(visit, desk, "Finger", viewport={"width": 390, "height": 800}, has_touch=True)
    strip = at.page.locator(".strip svg").first
    strip.scroll_into_view_if_needed()
    box = strip.bounding_box()
    at.page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + 20)
    at.page.locator(".blocks rect").first.wait_for()
    at.page.get_by_role("button", name="Keep it").click()
    at.page.get_by_text("Kept.", exact=True).wait_for()
    (row,) = (path.parent / "schedule.csv").read_text().splitlines()[1:]
    assert row.endswith("vertical")


def test_painted_by_keys_alone(visit: Any, desk: Served) -> None:
    at, path = arrive(visit, desk, "Keys")
    page = at.page
    page.get_by_label("1 vertical").focus()
    for _ in range(10):
        page.keyboard.press("Tab")
        if page.evaluate("() => document.activeElement.getAttribute('role')") == "slider":
            break
    page.keyboard.press("Home")
    page.keyboard.press("Shift+ArrowRight")
    assert re.search(
        r"^\d\d:00 to \d\d:10, \d+ reports?, nothing on$",
        page.evaluate("() => document.activeElement.getAttribute('aria-valuetext')"),
    )
    page.keyboard.press("1")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("2")
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    page.keyboard.press("Delete")
    page.get_by_label("start of row 1").focus()
    page.keyboard.press("Enter")
    page.get_by_text("Kept.", exact=True).wait_for()
    rows = schedule.read(path.parent / "schedule.csv")
    minutes = ((rows["end"] - rows["start"]).dt.total_seconds() / 60).tolist()
    assert list(zip(rows["setup"].astype(str), minutes, strict=True)) == [("vertical", 10), ("wire", 5)]


def test_axe_finds_no_fault(visit: Any, desk: Served) -> None:
    at, path = arrive(visit, desk, "Air looked at", **NARROW)
    (path.parent / "log.csv").write_bytes((SAMPLES / "evening_schedule.csv").read_bytes())
    path.write_text(path.read_text().replace("files =", 'schedule = "log.csv"\nfiles =', 1))
    at.page.reload()
    at.page.get_by_role("heading", name="Its clock").wait_for(timeout=60_000)
    at.without_fault()
    at.page.get_by_label("start of row 1", exact=True).fill("dusk")
    at.page.get_by_role("button", name="Keep it").click()
    at.page.get_by_role("alert").first.wait_for()
    at.without_fault()
    at.page.get_by_role("button", name="Plan it").click()
    at.page.get_by_role("link", name="For your calendar (.ics)").wait_for(timeout=60_000)
    at.without_fault()
    at.complaints = [each for each in at.complaints if "422" not in each]


def test_without_a_script(visit: Any, desk: Served) -> None:
    at, _ = arrive(visit, desk, "Bare", java_script_enabled=False)
    assert not at.page.get_by_role("button", name="Undo").is_visible()
    at.page.get_by_label("start of row 1", exact=True).fill("2026-05-16 18:00")
    at.page.get_by_label("end of row 1", exact=True).fill("2026-05-16 18:10")
    at.page.get_by_label("setup of row 1", exact=True).select_option("wire")
    at.page.get_by_role("button", name="Keep it").click()
    at.page.get_by_text("Kept.", exact=True).wait_for()
    assert at.page.locator(".blocks rect").count() == 1

"""The screens in real Chromium: drop, correct, run, cancel, download; by mouse, by keyboard alone, without a script; no fault
that axe finds, at two widths, light and dark; nothing asked of any other host."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from tests.desk.conftest import NARROW, NOW, SAMPLES, Served, few_pictures, sample


def test_from_the_door_to_the_report_by_mouse(visit_in_whole: Any, desk: Served, tmp_path: Path) -> None:
    """In the browser that users have."""
    at = visit_in_whole()
    page = at.page
    at.begin("An evening")
    page.get_by_label("CSV files").set_input_files(str(SAMPLES / "evening.csv"))
    page.get_by_role("button", name="Put in").click()
    at.settled()
    study = desk.folder / "An-evening" / "study.toml"
    study.write_text(NOW + study.read_text())
    at.go("Station and setups")
    page.get_by_label("Callsign").fill("EI4QTB/P")
    page.get_by_label("Locator").fill("IO51es")
    page.get_by_label("Power at the radio").fill("5")
    page.get_by_role("button", name="Keep it").click()
    at.go("Results")
    page.get_by_role("button", name="Make the report").click()
    page.get_by_role("progressbar").wait_for()
    page.get_by_role("button", name="Cancel").click()
    page.get_by_text("Cancelled. What was here before is as it was.").wait_for()
    at.go("Files")
    page.get_by_role("button", name="Take out evening.csv").click()
    page.get_by_role("button", name="Put back evening.csv").wait_for()
    (tmp_path / "few.csv").write_bytes(few_pictures())
    page.get_by_label("CSV files").set_input_files(str(tmp_path / "few.csv"))
    page.get_by_role("button", name="Put in").click()
    at.settled()
    at.go("Results")
    page.get_by_role("button", name="Make the report").click()
    page.get_by_role("link", name="Open the report").wait_for(timeout=180_000)
    with page.expect_download() as waiting:
        page.get_by_role("link", name="Download all of it").click()
    assert waiting.value.suggested_filename == "an-evening.zip"
    page.get_by_role("link", name="Open the report").click()
    page.wait_for_selector("html[data-ready]")
    asked = page.evaluate("(url) => fetch(url).then(() => 'answered', () => 'refused')", f"{desk.origin}/")
    assert asked == "refused", "a report asks us for nothing"
    at.complaints = [
        each
        for each in at.complaints
        if "CORS" not in each and "net::ERR" not in each and "connect" not in each.lower()
    ]


def test_from_the_door_to_the_download_by_keyboard_alone(visit: Any, desk: Served) -> None:
    """Everything but the system's own window that asks for a file; narrow and dark."""
    at = visit(color_scheme="dark", viewport={"width": 390, "height": 800})
    page = at.page

    def to(name: str) -> None:
        """From stop to stop until that of this name has the focus."""
        seen = ""
        for _ in range(250):
            seen = page.evaluate(
                "() => { const at = document.activeElement; "
                "return (at.getAttribute('aria-label') ?? at.labels?.[0]?.textContent ?? at.textContent).trim(); }"
            )
            if seen.startswith(name) and page.evaluate("() => document.activeElement !== document.body"):
                return
            page.keyboard.press("Tab")
        raise AssertionError(f"no way to {name!r}; the last stop was {seen[:80]!r}")

    def press(name: str, then: str, key: str = "Enter") -> None:
        to(name)
        page.keyboard.press(key)
        page.get_by_text(then).first.wait_for(timeout=180_000)
        at.still()

    to("Its name")
    page.keyboard.type("Keys from door to door")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Files", exact=True).wait_for()
    to("CSV files")
    page.get_by_label("CSV files").set_input_files(str(SAMPLES / "messy.csv"))
    press("Put in", "rows read =")
    press("Say how messy.csv is to be read", "Leave blank what is right already")
    to("Column with the SNR")
    page.keyboard.type("Report (dB)")
    page.keyboard.press("Enter")
    page.get_by_text("you said so").first.wait_for(timeout=60_000)
    press("Station and setups", "Whose reports these are")
    for name, value in (("Callsign", "EI4QTB/P"), ("Locator", "IO51es"), ("Power at the radio", "5")):
        to(name)
        page.keyboard.type(value)
    press("Add a setup", "A new setup")
    page.keyboard.type("vertical")
    press("Another setup", "vertical")
    page.keyboard.type("wire")
    page.keyboard.press("Enter")
    page.get_by_text("Kept in study.toml.").wait_for()
    press("Who was on when", "Reports by day")
    to("Strip of")
    for key in ("Home", "Shift+ArrowRight", "1", "ArrowRight", "2"):
        page.keyboard.press(key)
    press("Keep it", "Kept.")
    press("Doubtful locators", "5 to decide")
    press("Take JO61eg", "4 to decide")
    press("Results", "Here the report is made")
    press("Make the report", "Making the report")
    press("Cancel", "Cancelled. What was here before is as it was.")
    press("Make the report", "Making the report")
    page.get_by_role("link", name="Open the report").wait_for(timeout=300_000)
    to("Download all of it")
    with page.expect_download() as waiting:
        page.keyboard.press("Enter")
    assert waiting.value.suggested_filename == "keys-from-door-to-door.zip"
    folder = desk.folder / "Keys-from-door-to-door"
    assert (folder / "fixes.csv").exists() and (folder / "schedule.csv").read_text().count("\n") == 3


def test_a_file_is_settled_by_keyboard_alone(visit: Any, tmp_path: Path) -> None:
    at = visit()
    page = at.page
    page.get_by_label("Its name").focus()
    page.keyboard.type("By keys")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Files", exact=True).wait_for()
    at.still()
    log = tmp_path / "log.csv"
    rows = [f"2026-05-0{1 + k % 9} 18:0{k % 10},IO9{k % 10}ab,K{k % 10}QRB,-{k % 20},14.05" for k in range(60)]
    log.write_text("\n".join(rows))
    page.get_by_label("CSV files").set_input_files(
        str(log)
    )  # a window of the system asks for it, which is none of ours
    page.get_by_label("CSV files").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    at.settled()
    page.get_by_text("Say how log.csv is to be read").focus()
    page.keyboard.press("Enter")
    page.locator("details[open]").wait_for()
    page.keyboard.press("Tab")
    at.tab_to("name", "zone")
    page.keyboard.type("+01:00")
    page.keyboard.press("Enter")
    page.get_by_text("1:00 hours ahead of UTC").wait_for()


def test_all_screens_work_without_a_script(visit: Any, desk: Served) -> None:
    at = visit(java_script_enabled=False)
    at.begin("No script")
    at.page.get_by_label("CSV files").set_input_files([str(SAMPLES / "evening.csv"), str(SAMPLES / "weekend.csv")])
    at.page.get_by_role("button", name="Put in").click()
    at.settled()
    at.page.get_by_role("button", name="Take out evening.csv").click()
    at.page.get_by_role("button", name="Put back evening.csv").wait_for()
    at.go("Results")
    at.page.get_by_role("button", name="Make the report").wait_for()


def test_two_tabs_see_the_same_job(visit: Any, desk: Served) -> None:
    at = visit()
    at.begin("Tabs")
    at.page.get_by_label("CSV files").set_input_files(str(SAMPLES / "evening.csv"))
    at.page.get_by_role("button", name="Put in").click()
    at.settled()
    at.go("Results")
    other = at.context.new_page()
    other.goto(at.page.url)
    at.page.get_by_role("button", name="Make the report").click()
    at.page.get_by_role("progressbar").wait_for()
    other.get_by_role("button", name="Make the report").click()
    other.get_by_role("progressbar").wait_for()
    assert other.locator("[data-events]").get_attribute("data-events") == at.page.locator(
        "[data-events]"
    ).get_attribute("data-events")
    other.get_by_role("button", name="Cancel").click()
    at.page.get_by_text("Cancelled. What was here before").wait_for()


def test_axe_finds_no_fault_on_any_screen(visit: Any, desk: Served) -> None:
    at = visit(**NARROW)
    at.without_fault()
    at.begin("Looks")
    at.without_fault()
    at.page.get_by_label("CSV files").set_input_files(str(SAMPLES / "messy.csv"))
    at.page.get_by_role("button", name="Put in").click()
    at.settled()
    at.page.get_by_text("Say how messy.csv is to be read").click()
    at.without_fault()
    at.page.get_by_role("link", name="rejected:").click()
    at.page.get_by_role("heading", name="Rows rejected").wait_for()
    at.without_fault()
    at.go("Station and setups")
    at.page.get_by_label("Power at the radio").fill("much")
    at.page.get_by_role("button", name="Keep it").click()
    at.page.get_by_role("alert").first.wait_for()
    at.without_fault()
    at.go("Results")
    at.without_fault()
    report = desk.folder / "Looks" / "outputs" / "made-before"
    (report / "pictures").mkdir(parents=True)
    (report / "report.html").write_text("<!doctype html><title>x</title>")
    (report / "pictures" / "distance-rings.png").write_bytes(
        sample("pictures/evening-map.png") if (SAMPLES / "pictures" / "evening-map.png").exists() else b""
    )
    at.page.reload()
    at.without_fault()
    at.page.get_by_role("button", name="Make the report").click()
    at.page.get_by_role("progressbar").or_(at.page.get_by_role("alert")).first.wait_for()
    at.without_fault()
    if at.page.get_by_role("button", name="Cancel").count():
        at.page.get_by_role("button", name="Cancel").click()
    at.page.goto(f"{desk.origin}/s/none")
    at.without_fault()
    at.complaints = [each for each in at.complaints if "404" not in each and "422" not in each]

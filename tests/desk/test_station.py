"""Station and setups: kept with comments, judged field by field, shown with place and power, and no tab writes over another."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from tests.desk.conftest import NARROW, Served

VERTICAL = {
    "setup-0-was": "", "setup-0-name": "vertical", "setup-0-antenna": "quarter wave", "setup-0-kind": "RG-58 class",
    "setup-0-length_m": "12,5", "setup-0-swr": "1.5", "setup-0-band-0-band": "40m", "setup-0-band-0-swr": "3",
}  # fmt: skip
WIRE = {"setup-1-was": "", "setup-1-name": "wire", "setup-1-resistance_ohm": "42", "setup-1-reactance_ohm": "\u221211"}
STATION = {"callsign": "EI4QTB/P", "position": "51° 46.2' N 9° 37.8' W", "power_w": "5", "setups": "yes"}


def stamp(page: str) -> str:
    return re.findall(r'name="stamp" value="(\w+)"', page)[0]


def test_setups_are_added_renamed_and_taken_out_with_comments_kept(served: Served) -> None:
    at = served.begin("setups")
    path = served.folder / "setups" / "study.toml"
    path.write_text(path.read_text() + "# mine\n")
    assert served.post(f"{at}/station", **STATION, **VERTICAL, **WIRE).status == 303
    told = tomllib.loads(path.read_text())
    assert told["station"] == {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": 5.0}
    assert told["setups"] == {
        "vertical": {"antenna": "quarter wave", "cable": {"kind": "RG-58 class", "length_m": 12.5}, "swr": 1.5, "bands": {"40m": {"swr": 3.0}}},
        "wire": {"resistance_ohm": 42.0, "reactance_ohm": -11.0},
    }  # fmt: skip
    path.write_text(path.read_text() + '# a question\n[compare]\na = "vertical"\nb = "wire"\n')
    page = served.get(f"{at}/station").text
    assert "IO51es" in page and "you are within" in page and page.count("<svg") == 2
    assert re.search(r"40m</th><td class=\"number\"><strong>[34]\.\d W", page)
    swapped = {
        **VERTICAL,
        "setup-0-was": "vertical",
        "setup-0-name": "wire",
        **WIRE,
        "setup-1-was": "wire",
        "setup-1-name": "loop",
    }
    assert served.post(f"{at}/station", **STATION, **swapped).status == 303
    text = path.read_text()
    told = tomllib.loads(text)
    assert told["compare"] == {"a": "wire", "b": "loop"} and told["setups"]["wire"]["antenna"] == "quarter wave"
    assert "# mine\n" in text and "# a question\n" in text
    answer = served.post(f"{at}/station", **STATION, **{**VERTICAL, "setup-0-was": "wire", "setup-0-name": "wire"})
    assert answer.status == 422 and "no setup is called" in answer.text
    path.write_text(text.replace('[compare]\na = "wire"\nb = "loop"\n', ""))
    assert (
        served.post(f"{at}/station", **STATION, **{**VERTICAL, "setup-0-was": "wire", "setup-0-name": "wire"}).status
        == 303
    )
    assert set(tomllib.loads(path.read_text())["setups"]) == {"wire"} and "# a question\n" in path.read_text()


def test_what_is_wrong_stands_beside_its_field_in_the_librarys_sentence(served: Served) -> None:
    at = served.begin("wrong")
    before = (served.folder / "wrong" / "study.toml").read_bytes()
    wrong: dict[str, tuple[dict[str, str], str]] = {
        "position": ({"position": "91 0"}, "latitude runs"),
        "locator": ({"position": "", "locator": "IZ51es"}, "&#39;IZ51es&#39;"),
        "setup-0-swr": ({"setup-0-swr": "0.5"}, "greater than or equal to 1"),
        "setup-0-length_m": ({"setup-0-length_m": "long"}, "not &#39;long&#39;"),
        "setup-0-name": ({"setup-0-name": ""}, "needs a name"),
        "setup-0-kind": ({"setup-0-kind": "RG-58"}, "no class of cable"),
        "setup-1-resistance_ohm": ({"setup-1-resistance_ohm": "-1"}, "greater than or equal"),
        "setup-1-swr": ({"setup-1-resistance_ohm": ""}, "go together"),
        "setup-1-name": ({"setup-1-name": "vertical"}, "Two setups are called"),
        "setup-0-band-0-swr": ({"setup-0-band-0-swr": "0"}, "greater than or equal to 1"),
    }
    for field, (change, said) in wrong.items():
        if field == "setup-0-kind":
            change = {"setup-0-kind": "hosepipe"}
        answer = served.post(f"{at}/station", **{**STATION, **VERTICAL, **WIRE, **change})
        assert answer.status == 422, field
        found = re.search(rf'<span class="fault" id="{field}-fault" role="alert">([^<]*)<', answer.text)
        assert found and said in found[1], (field, re.findall(r'class="fault"[^>]*role="alert">([^<]*)', answer.text))
        assert "quarter wave" in answer.text, "what was typed is still there"
    assert (served.folder / "wrong" / "study.toml").read_bytes() == before


def test_a_stale_tab_writes_over_nothing(served: Served) -> None:
    at = served.begin("two tabs")
    shown = stamp(served.get(f"{at}/station").text)
    assert served.post(f"{at}/station", stamp=shown, **{**STATION, "about": "first"}).status == 303
    answer = served.post(f"{at}/station", stamp=shown, **{**STATION, "about": "second"})
    assert answer.status == 409 and "changed meanwhile" in answer.text and 'value="second"' in answer.text
    assert tomllib.loads((served.folder / "two-tabs" / "study.toml").read_text())["about"] == "first"


def test_a_form_without_a_script_gets_a_setup_more_and_less(served: Served) -> None:
    at = served.begin("bare")
    page = served.post(f"{at}/station", **STATION, action="add").text
    assert 'name="setup-0-name"' in page and "Not kept yet" in page and "needs a name" not in page
    page = served.post(f"{at}/station", **STATION, **VERTICAL, action="band-0").text
    assert 'name="setup-0-band-1-band"' in page
    page = served.post(f"{at}/station", **STATION, **VERTICAL, action="remove-0").text
    assert 'name="setup-0-name"' not in page
    assert served.post(f"{at}/station", **STATION, action="remove-7").status == 404


def test_power_and_place_are_shown_as_one_types(visit: Any) -> None:
    at = visit(viewport={"width": 1280, "height": 900})
    page = at.page
    at.begin("Typing")
    at.go("Station and setups")
    page.get_by_label("or a position").fill("51.77, -9.63")
    page.locator("#place-locator").get_by_text("IO51es").wait_for()
    assert page.get_by_label("Locator", exact=True).input_value() == "IO51es"
    page.get_by_label("Power at the radio, in watts").fill("5")
    page.get_by_role("button", name="Add a setup").click()
    page.get_by_label("Name", exact=True).wait_for()
    at.still()
    page.keyboard.type("vertical")  # the new field has the focus
    page.get_by_label("Cable", exact=True).select_option("RG-58 class")
    page.get_by_label("Length of the cable").fill("20")
    page.get_by_label("SWR of", exact=False).first.fill("2")
    page.locator("#budget-0 td strong").first.wait_for()
    page.get_by_label("SWR of", exact=False).first.fill("0.5")
    page.get_by_label("Antenna").focus()
    page.get_by_text("greater than or equal to 1").wait_for()
    page.get_by_label("SWR of", exact=False).first.fill("2")
    page.get_by_role("button", name="Keep it").first.click()
    page.get_by_text("Kept in study.toml.").wait_for()


def test_axe_finds_no_fault(visit: Any, desk: Served) -> None:
    at = visit(**NARROW)
    root = at.has_key().begin("Setups looked at")
    assert desk.post(f"{root}/station", **STATION, **VERTICAL, **WIRE).status == 303
    at.page.goto(f"{desk.origin}{root}/station")
    at.without_fault()
    at.page.get_by_label("SWR of vertical", exact=True).fill("0.5")
    at.page.get_by_role("button", name="Keep it").first.click()
    at.page.get_by_role("alert").first.wait_for()
    at.without_fault()
    at.complaints = [each for each in at.complaints if "422" not in each]


def test_a_setup_is_added_by_keyboard_alone(visit: Any, desk: Served) -> None:
    at = visit()
    page = at.page
    at.begin("By keys alone")
    at.go("Station and setups")
    page.get_by_label("Callsign").focus()
    for text in ("EI4QTB/P", "IO51es", "", "5"):
        page.keyboard.type(text)
        page.keyboard.press("Tab")
    at.tab_to("textContent", "Add a setup")
    page.keyboard.press("Enter")
    page.get_by_text("Not kept yet").wait_for()
    at.still()
    assert page.evaluate("() => document.activeElement.name") == "setup-0-name"
    page.keyboard.type("wire")
    page.keyboard.press("Enter")
    page.get_by_text("Kept in study.toml.").wait_for()
    told = tomllib.loads((desk.folder / "By-keys-alone" / "study.toml").read_text())
    assert told["setups"] == {"wire": {}} and told["station"]["locator"] == "IO51es"

"""Control stations, the level over weeks, the log of the station: what may serve, what is chosen, what the report then says."""

from __future__ import annotations

import html
import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from reach import study as studies
from reach.base.words import TERMINAL
from reach.tell.sentences import season
from reach.walk import Walk
from tests.desk.conftest import NOW, SAMPLES, Served, sample, settled

SETUPS = {"setups": "yes", "setup-0-was": "", "setup-0-name": "vertical", "setup-1-was": "", "setup-1-name": "wire"}
STATION = {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": "5", "direction": "sent"}


def begun(served: Served, title: str, *names: str) -> tuple[str, Path]:
    at = served.begin(title)
    path = served.folder / at.rpartition("/")[2] / "study.toml"
    path.write_text("# mine\n" + NOW + path.read_text())
    for name in names:
        assert served.put(f"{at}/files/{name}", sample(name)).status == 204
    assert served.post(f"{at}/station", title=title, **STATION).status == 303
    return at, path


def shared(served: Served, title: str) -> tuple[str, Path]:
    """A study of two stations in one export, whose setups are compared."""
    at, path = begun(served, title, "shared.csv")
    assert served.post(f"{at}/station", title=title, **STATION, **SETUPS).status == 303
    (path.parent / "schedule.csv").write_bytes(sample("shared_schedule.csv"))
    path.write_text(path.read_text().replace("files =", 'schedule = "schedule.csv"\nfiles =', 1))
    assert served.post(f"{at}/on-air/compare", **{"setup-0": "vertical", "setup-1": "wire"}).status == 303
    return at, path


def stamp(page: str) -> str:
    return re.findall(r'name="stamp" value="(\w+)"', page)[0]


def rows_of(call: str) -> bytes:
    """What the shared export holds of a station, as its own export."""
    head, *rows = sample("shared.csv").decode().splitlines()
    return "\n".join([head, *(row for row in rows if f",{call}," in row)]).encode()


def test_a_station_of_the_same_files_is_chosen_as_control(served: Served) -> None:
    at, path = shared(served, "control")
    page = settled(served, f"{at}/weeks")
    row = re.findall(r'<tr><th scope="row">EI9QUC</th>.*?</tr>', page, re.S)[0]
    assert "<td>well (76" in row and ">333</td>" in row and " checked" not in row
    told = stamp(page)
    assert served.post(f"{at}/weeks", stamp=told, **{"control-0": "EI9QUC"}).status == 303
    assert tomllib.loads(path.read_text())["compare"] == {"a": "vertical", "b": "wire", "control": "EI9QUC"}
    assert path.read_text().startswith("# mine\n") and "season" not in tomllib.loads(path.read_text())
    assert 'value="EI9QUC" checked' in settled(served, f"{at}/weeks")
    assert served.post(f"{at}/weeks", stamp=told).status == 409, "a stale tab"
    assert served.post(f"{at}/weeks").status == 303
    assert tomllib.loads(path.read_text())["compare"] == {"a": "vertical", "b": "wire"}


def test_of_files_that_cannot_be_told_apart_yet_nothing_is_claimed(served: Served) -> None:
    at = served.begin("whose rows")
    assert served.put(f"{at}/files/shared.csv", sample("shared.csv")).status == 204
    page = settled(served, f"{at}/weeks")
    assert re.search(r'role="alert">the export holds rows of 13 transmitters', page)
    assert "hold no rows of" not in page and "A station's own export can be put in below." in page


def test_an_export_of_its_own_serves_and_never_counts_as_ones_own(served: Served) -> None:
    at, path = shared(served, "own export")
    before = settled(served, at)
    assert served.put(f"{at}/weeks/files/neighbour.csv", rows_of("EI9QUC")).status == 204
    assert served.send(f"{at}/weeks/files", **{"again.csv": rows_of("EI9QUC"), "odd.csv": b"a,b\n1,2\n"}).status == 303
    assert served.put(f"{at}/weeks/files/empty.csv", b"").status == 422
    assert sorted(each.name for each in (path.parent / "controls").iterdir()) == ["neighbour.csv", "odd.csv"]
    page = settled(served, f"{at}/weeks")
    rows = dict(re.findall(r'<tr><th scope="row">([^<]+)</th>(.*?)</tr>', page, re.S))
    assert rows.keys() == {"EI9QUC", "neighbour.csv", "odd.csv"}
    assert "<td>well (76" in rows["neighbour.csv"] and 'role="alert"' in rows["odd.csv"]
    assert served.post(f"{at}/weeks", **{"control-1": "controls/neighbour.csv", "control-0": "EI9QUC"}).status == 303
    assert sorted(tomllib.loads(path.read_text())["compare"]["control"]) == ["EI9QUC", "controls/neighbour.csv"]
    count = re.findall(r"accepted: \d+", before)
    assert count and re.findall(r"accepted: \d+", settled(served, at)) == count
    assert served.post(f"{at}/weeks", **{"control-1": "controls/neighbour.csv"}).status == 303
    own, of_file = Walk(studies.load(path)), Walk(studies.load(path)).compare(control="EI9QUC")
    assert own.comparison is not None and own.comparison.difference_db == pytest.approx(of_file.difference_db)


def test_an_export_of_a_control_is_taken_out_and_put_back(served: Served) -> None:
    at, path = shared(served, "taken out")
    for name in ("neighbour.csv", "odd.csv"):
        assert served.put(f"{at}/weeks/files/{name}", rows_of("EI9QUC") + b"\n" * len(name)).status == 204
    told = {"control-0": "EI9QUC", "control-1": "controls/neighbour.csv", "yardstick-1": "controls/neighbour.csv"}
    assert served.post(f"{at}/weeks", season="yes", watch="yes", **told).status == 303
    before = path.read_text()
    here, away = path.parent / "controls", path.parent / "taken-out" / "controls"
    for name in ("", "other.csv", "controls/odd.csv", "../study.toml"):
        for way in ("take-out", "put-back"):
            assert served.post(f"{at}/weeks/{way}", name=name).status == 303
    assert path.read_text() == before and len(list(here.iterdir())) == 2, "nothing of another name"
    assert served.post(f"{at}/weeks/take-out", name="odd.csv").status == 303
    assert path.read_text() == before, "a file that was not chosen"
    answer = served.post(f"{at}/weeks/take-out", name="neighbour.csv")
    assert (answer.status, answer.headers["location"]) == (303, f"{at}/weeks#own")
    study = tomllib.loads(path.read_text())
    assert study["compare"] == {"a": "vertical", "b": "wire", "control": "EI9QUC"}
    assert study["season"] == {"controls": [], "watch": True}
    assert path.read_text().startswith("# mine\n") and Walk(studies.load(path)).comparison is not None
    assert not list(here.iterdir()) and sorted(each.name for each in away.iterdir()) == ["neighbour.csv", "odd.csv"]
    page = settled(served, f"{at}/weeks")
    assert page.count(f'action="{at}/weeks/put-back"') == 2 and f'action="{at}/weeks/take-out"' not in page
    assert "Taken out" not in settled(served, at), "not among the study's own"
    assert served.post(f"{at}/weeks/put-back", name="neighbour.csv").status == 303
    assert (here / "neighbour.csv").read_bytes() == rows_of("EI9QUC") + b"\n" * len("neighbour.csv")
    page = settled(served, f"{at}/weeks")
    assert re.search(r'<tr><th scope="row">neighbour.csv</th>', page) and f'action="{at}/weeks/take-out"' in page
    assert tomllib.loads(path.read_text()) == study, "to be chosen again"
    assert served.put(f"{at}/weeks/files/new.csv", (away / "odd.csv").read_bytes()).status == 204
    assert served.post(f"{at}/weeks/put-back", name="odd.csv").status == 303
    assert sorted(each.name for each in here.iterdir()) == ["neighbour.csv", "new.csv"] and not list(away.iterdir())


def test_what_is_wrong_in_the_log_stands_at_its_field(served: Served) -> None:
    at, path = begun(served, "log", "weekend.csv")
    fields = {"date-1": "2026-05-16", "done-1": "new mast", "swr-1": "1,3", "season": "yes", "watch": "yes"}
    for field, value, said in (
        ("date-1", "May", "is no day"), ("done-1", "", "in your own words"), ("swr-1", "low", "is no SWR"), ("swr-1", "0.5", "greater than or equal to 1"),
        ("date-1", "1066-10-14", "1900 to 2199"),
    ):  # fmt: skip
        answer = served.post(f"{at}/weeks", **{**fields, field: value})
        name = field.partition("-")[0]
        found = re.search(rf'id="fault-1-{name}">([^<]*)<', answer.text)
        assert answer.status == 422 and found and said in html.unescape(found[1]), answer.text
        assert f'aria-invalid="true" aria-describedby="fault-1-{name}"' in answer.text
        assert 'name="season" value="yes" checked' in answer.text, "what was ticked is still there"
    assert "log" not in tomllib.loads(path.read_text())
    assert served.post(f"{at}/weeks", **fields, **{"date-2": "", "done-2": "", "swr-2": ""}).status == 303
    told = tomllib.loads(path.read_text())
    assert [(str(each["date"]), each["done"], each["swr"]) for each in told["log"]] == [("2026-05-16", "new mast", 1.3)]
    assert told["season"] == {"controls": [], "watch": True} or told["season"] == {"watch": True}
    assert 'value="new mast"' in served.get(f"{at}/weeks").text
    assert served.post(f"{at}/weeks", **{"date-1": "", "done-1": "", "swr-1": ""}).status == 303
    assert not tomllib.loads(path.read_text()).get("log") and "season" not in tomllib.loads(path.read_text())


def test_the_level_over_weeks_stands_in_the_answer(brief: Served) -> None:
    at, path = begun(brief, "Two months", "season.csv")
    page = settled(brief, f"{at}/weeks")
    chosen = {f"yardstick-{k}": call for k, call in enumerate(("EI9QUC", "EI7QTD", "EI8QUE"))}
    assert all(f'value="{call}" aria-label="{call} as a yardstick of the level"' in page for call in chosen.values())
    done = {"date-1": "2026-03-14", "done-1": "new connectors on the feedline", "swr-1": "1.3"}
    assert brief.post(f"{at}/weeks", stamp=stamp(page), season="yes", **chosen, **done).status == 303
    brief.post(f"{at}/run")
    page = html.unescape(settled(brief, f"{at}/results"))
    found = Walk(studies.load(path)).season
    assert found is not None and season.headline(found, say=TERMINAL) in page and "<dt>Over the weeks</dt>" in page


def test_chosen_by_keys_alone_and_axe_finds_no_fault(visit: Any, desk: Served) -> None:
    """On a wide window in light, then, from what was not understood on, on a narrow one in dark."""
    at = visit(color_scheme="light", viewport={"width": 1280, "height": 800}, bypass_csp=True)
    root, path = shared(at.has_key(), "Weeks looked at")
    page = at.page
    page.goto(f"{desk.origin}{root}/weeks")
    box = page.get_by_label("EI9QUC beside the comparison")
    box.wait_for(timeout=60_000)
    at.still()
    at.without_fault()
    box.focus()
    page.keyboard.press("Space")
    page.get_by_label("the report follows it").focus()
    page.keyboard.press("Space")
    page.get_by_label("day, row 1").focus()
    page.keyboard.type("soon")
    page.keyboard.press("Enter")
    page.get_by_text("'soon' is no day").wait_for(timeout=60_000)
    at.still()
    at.without_fault()
    page.set_viewport_size({"width": 390, "height": 800})
    page.emulate_media(color_scheme="dark")
    page.get_by_label("day, row 1").fill("2026-05-09")
    page.keyboard.press("Tab")
    page.keyboard.type("new mast")
    page.keyboard.press("Enter")
    page.get_by_text("Kept in study.toml.").wait_for(timeout=60_000)
    at.still()
    told = tomllib.loads(path.read_text())
    assert told["compare"]["control"] == "EI9QUC" and told["log"][0]["done"] == "new mast" and "season" in told
    page.get_by_label("CSV file of a control").set_input_files(str(SAMPLES / "weekend.csv"))
    page.get_by_label("CSV file of a control").focus()
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    page.get_by_label("weekend.csv as a yardstick").wait_for(timeout=60_000)
    at.still()
    for button, then in (
        ("Take out weekend.csv", "Put back weekend.csv"),
        ("Put back weekend.csv", "Take out weekend.csv"),
    ):
        at.without_fault()
        page.get_by_role("button", name=button).focus()
        page.keyboard.press("Enter")
        page.get_by_role("button", name=then).wait_for(timeout=60_000)
        at.still()
    page.get_by_label("weekend.csv as a yardstick").wait_for(timeout=60_000)
    at.without_fault()
    at.complaints = [each for each in at.complaints if "422" not in each]

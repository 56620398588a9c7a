"""The page as text: what it carries, how small, that text stays text. What it does is tested in tests/page_browser."""

from __future__ import annotations

import base64
import hashlib
import html.parser
import json
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from reach.base import words
from reach.base.words import PRINT
from reach.tell import page
from reach.tell.page import columns, land
from reach.tell.sentences import reach as sentences
from reach.vet import ledger
from tests import factory

RESULT = factory.from_spots(
    *(lambda made: (made.spots, made.receivers[["rx_call", "rx_locator", "trust"]]))(factory.result(1200, 90)),
    study=factory.study(compare=None),
)
TYPES = {"u8": "<u1", "u16": "<u2", "u32": "<u4", "i8": "<i1", "i16": "<i2", "f32": "<f4", "f64": "<f8"}


def decoded(column: dict[str, str]) -> np.ndarray:
    return np.frombuffer(base64.b64decode(column["data"]), TYPES[column["type"]])


def payload(text: str) -> dict[str, Any]:
    found = re.search(r'<script type="application/json" id="data">(.*?)</script>', text, re.DOTALL)
    assert found is not None
    return json.loads(found[1])


def test_columns_hold_every_spot():
    spots = RESULT.spots
    values = columns.encode(spots)
    packed = {name: decoded(column) for name, column in values["spots"].items()}
    places = values["places"]
    band, setup = np.divmod(packed["kind"], len(values["setups"]))
    table = pd.DataFrame(
        {
            "call": np.array(places["call"])[packed["place"]],
            "locator": np.array(places["locator"])[packed["place"]],
            "snr": packed["snr"],
            "tick": packed["tick"],
            "day": np.array(values["period"]["names"])[packed["period"]],
            "band": np.array(values["bands"])[band],
            "setup": np.array(values["setups"])[setup],
        }
    )
    truth = pd.DataFrame(
        {
            "call": spots["rx_call"].astype(str),
            "locator": spots["rx_locator"].astype(str),
            "snr": spots["snr_db"].round().astype("int8"),
            "tick": (spots["time_utc"].dt.hour * 6 + spots["time_utc"].dt.minute // 10).astype("uint8"),
            "day": spots["time_utc"].dt.strftime("%Y-%m-%d"),
            "band": spots["band"].astype(str),
            "setup": spots["setup"].astype(str),
        }
    )
    order = list(truth)
    pd.testing.assert_frame_equal(
        table.sort_values(order, ignore_index=True), truth.sort_values(order, ignore_index=True), check_dtype=False
    )


def test_places_come_nearest_first_with_their_geometry():
    values = columns.encode(RESULT.spots)["places"]
    km = decoded(values["km"])
    assert (np.diff(km) >= 0).all()
    by_place = RESULT.receivers.set_index(["rx_call", "rx_locator"])
    for at in (0, len(km) // 2, len(km) - 1):
        row = by_place.loc[(values["call"][at], values["locator"][at])]
        assert km[at] == row["distance_km"]
        assert decoded(values["bearing"])[at] / columns.BEARING_STEPS == pytest.approx(row["bearing_deg"], abs=0.05)
        lon, lat = decoded(values["position"])[2 * at : 2 * at + 2] / columns.POSITION_STEPS
        assert (lon, lat) == pytest.approx((row["rx_lon_deg"], row["rx_lat_deg"]), abs=0.005)
        assert decoded(values["sector"])[at] == (row["bearing_deg"] + 15) // 30 % 12
        assert values["trust_kinds"][decoded(values["trust"])[at]] == row["trust"]


def test_a_spot_takes_six_bytes():
    values = columns.encode(factory.result(5000, 900, days=30).spots)["spots"]
    assert sum(decoded(column).itemsize for column in values.values()) == 6


def test_more_places_than_two_bytes_can_number():
    many = 70_000
    column = columns.narrow(np.arange(many))
    assert column["type"] == "u32"
    assert decoded(column)[-1] == many - 1


def test_a_setup_without_a_name_is_kept():
    spots = RESULT.spots.assign(setup=pd.Categorical([None] * len(RESULT.spots), categories=["wire"]))
    values = columns.encode(factory.from_spots(spots, RESULT.receivers).spots)
    assert values["setups"] == [""]


def test_two_months_by_day_and_longer_by_month():
    for days, unit in ((60, "day"), (61, "month")):
        times = pd.Series(pd.date_range("2026-05-01", periods=days, freq="D", tz="UTC"))
        found, names, index = columns._periods(times)
        assert (found, names[index[0]]) == (unit, "2026-05-01" if unit == "day" else "2026-05")


def test_fifty_thousand_spots_stay_below_the_promised_size():
    made = factory.result(50_000, 2774, days=30, hours=24)
    many = pd.concat([factory.problems()] * 2000, ignore_index=True)
    compared = factory.comparison(made.receivers)
    text = page.html(factory.from_spots(made.spots, made.receivers, wrong=ledger.Problems(many), comparison=compared))
    assert "(the first 300 of 6\u202f000)" in text
    library = reach_data("d3.min.js")
    assert len(text.encode()) - len(library) < 820_000  # half of it spots, an eighth the script


def reach_data(name: str) -> bytes:
    from reach import data

    return data.read_bytes(name)


def test_the_same_result_gives_the_same_bytes():
    assert page.html(RESULT) == page.html(factory.from_spots(RESULT.spots, RESULT.receivers, study=RESULT.study))


def test_the_policy_names_the_hashes_of_what_is_there():
    text = page.html(RESULT)
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', text)
    assert policy is not None
    said = policy[1].replace("&#39;", "'")
    script, css = (
        re.search(r"<script>(.*?)</script>", text, re.DOTALL),
        re.search(r"<style>(.*?)</style>", text, re.DOTALL),
    )
    assert script is not None
    assert css is not None
    for kind, body in (("script-src", script[1]), ("style-src", css[1])):
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"{kind} 'sha256-{digest}'" in said
    assert "default-src 'none'" in said


class Reader(html.parser.HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]


def test_nothing_points_outside_and_nothing_is_inline():
    reader = Reader()
    reader.feed(page.html(RESULT))
    for _, name, value in reader.attributes:
        assert not name.startswith("on")
        assert name != "style"
        if name in ("src", "href", "action", "srcset", "data"):
            assert (value or "").startswith(("#", "data:"))
    assert reader.tags.count("script") == 2


def test_hostile_text_stays_text():
    evil = '<!--<script></script ></script><script>alert(1)</script><img src=x onerror="alert(1)">&\u2028'
    study = factory.study(title=evil, about=evil, compare=None)
    problems = factory.problems().assign(callsign=evil, rule="time-unreadable", value=evil)
    text = page.html(factory.from_spots(RESULT.spots, RESULT.receivers, study=study, wrong=ledger.Problems(problems)))
    reader = Reader()
    reader.feed(text)
    assert reader.tags.count("script") == 2
    assert "img" not in reader.tags
    shown = payload(text)["tables"][0]["rows"][0]
    assert (
        shown[2] == evil and shown[-2] == f"{words.quoted(evil)} is no time; a form such as 2026-05-16 21:30 is wanted."
    )


def test_embedded_values_hold_no_markup_and_come_back():
    evil = {"<a>": ["&amp;", "<!--<script></script >", "\u2028\u2029"], "n": None}
    text = page.embed(evil)
    assert not set("<>&\u2028\u2029") & set(text)
    assert json.loads(text) == evil


def test_the_sentences_are_in_the_frame():
    text = page.html(RESULT)
    for sentence in sentences.answer(RESULT, PRINT):
        assert html_escaped(sentence.text) in text
    assert f"<h1>{sentences.headline(RESULT, PRINT)}</h1>" in text
    assert "Made-up data." in text


def html_escaped(text: str) -> str:
    import markupsafe

    return str(markupsafe.escape(text))


def test_land_is_wound_for_the_sphere():
    """On the sphere the land covers 29 % of the globe; wound the wrong way it would be the sea, 71 %."""
    import shapely

    values = land.encode()
    at = decoded(values["land"]["points"]).reshape(-1, 2) / values["steps"]
    rings = np.split(at, np.cumsum(values["land"]["sizes"])[:-1])
    outer = np.cumsum([0, *values["land"]["polygons"]])[:-1]
    for number, ring in enumerate(rings):
        clockwise = not shapely.is_ccw(shapely.LinearRing(ring))
        assert clockwise == (number in outer)
    area = sum(_area_share(ring) * (1 if number in outer else -1) for number, ring in enumerate(rings))
    assert area == pytest.approx(0.29, abs=0.01)


def _area_share(ring: np.ndarray) -> float:
    """The share of the sphere inside a ring that crosses no date line: the integral of sin(latitude) over longitude."""
    lon, lat = np.radians(ring).T
    return abs(float(np.sum(np.diff(lon) * (2 + np.sin(lat[1:]) + np.sin(lat[:-1])))) / 2) / (4 * np.pi)


def test_every_script_is_used_once():
    parts = {file.name.removesuffix(".js") for file in _folder("js").iterdir()}
    assert parts == set(page.SCRIPTS)
    assert len(page.SCRIPTS) == len(set(page.SCRIPTS))


def _folder(name: str) -> Any:
    from importlib.resources import files

    return files(page).joinpath(name)


def test_scripts_can_be_made_lean():
    """No string or template runs over the end of a line, so that indentation means nothing."""
    for name in page.SCRIPTS:
        for line in page._part(f"js/{name}.js").splitlines():
            assert line.count("`") % 2 == 0, (name, line)
    assert page.lean("  /** A\n   * B */\n  const a = 1; // why\n\n  // c\n    b();\n") == "const a = 1; // why\nb();"


def test_text_from_data_is_only_ever_written_as_text():
    """No module turns text into markup or code."""
    for name in page.SCRIPTS:
        source = page._part(f"js/{name}.js")
        for word in (
            "innerHTML",
            "outerHTML",
            "insertAdjacentHTML",
            "document.write",
            "eval(",
            "new Function",
            ".html(",
        ):
            assert word not in source, name


def test_conditions_say_solar_hours_ends_and_geometry():
    """The tables count every spot that is no suspect once; the hops are those to the headline's farthest receiver."""
    from reach.tell.page import sections

    result = factory.result()
    spots = sections.sound(result)
    sound = int(spots["reports"].sum())
    told = {table["file"]: table for table in sections.tables(result, spots)}
    for name in ("solar-hours", "ends"):
        columns = [column["name"] for column in told[name]["columns"]]
        assert sum(row[columns.index("reports")] for row in told[name]["rows"]) == sound
    far = result.reach.headline.farthest
    text = sections.conditions(result, spots)["geometry"]
    assert far.call in text and "Geometry, not proof" in text


@pytest.mark.parametrize(("distance_km", "bands", "told"), [(900.0, ("20m",), True), (56.0, ("20m",), False),
                                                             (900.0, ("2m",), False), (900.0, ("6m", "2m"), True)])  # fmt: skip
def test_no_word_of_hops_where_the_ionosphere_hardly_carried_it(distance_km, bands, told):
    from reach.tell.page import sections

    result = factory.result()
    block = result.reach.corroborated
    far = replace(block.overall.farthest, distance_km=distance_km, bands=bands)
    reach = replace(result.reach, corroborated=replace(block, overall=replace(block.overall, farthest=far)))
    found = sections.conditions(replace(result, reach=reach), sections.sound(result))
    assert bool(found["geometry"]) == told

"""Every brush and filter changes every view by the right counts: held against pandas on the same spots."""

from __future__ import annotations

from base64 import b64decode
from typing import Any

import numpy as np
import pandas as pd
import pytest

from reach.base import words
from reach.base.words import PRINT
from reach.measure import reach as measured
from reach.measure.tally import tally
from reach.tell import page
from reach.tell.sentences import reach as sentences
from tests import factory
from tests.page_browser.conftest import Open, Opened, distance_edges

RESULT = factory.result(2400, 160, days=3, hours=20, seed=5)
SPOTS = RESULT.spots.assign(
    hour=lambda t: t["time_utc"].dt.hour,
    day=lambda t: t["time_utc"].dt.strftime("%Y-%m-%d"),
    sector=lambda t: ((t["bearing_deg"] + 15) // 30) % 12,
)
EDGES = distance_edges(SPOTS["distance_km"])
VIEWS = ("far", "strong", "when", "bearing")


@pytest.fixture(scope="module")
def html() -> str:
    return page.html(RESULT)


def rows(*, leave: str = "", trust: tuple[str, ...] = ("corroborated", "unconfirmed"), **asked: Any) -> pd.DataFrame:
    """The spots that pass, worked out from the columns themselves; `leave` names the brush that does not count."""
    keep = SPOTS["trust"].isin(trust)
    for name in ("band", "setup"):
        if name in asked:
            keep &= SPOTS[name].isin(asked[name])
    if "km" in asked and leave != "far":
        keep &= (SPOTS["distance_km"] >= asked["km"][0]) & (SPOTS["distance_km"] < asked["km"][1])
    if "snr" in asked and leave != "strong":
        keep &= SPOTS["snr_db"].between(*asked["snr"])
    if "hours" in asked and leave != "when":
        keep &= SPOTS["hour"].isin(asked["hours"])
    if "days" in asked and leave != "when":
        keep &= SPOTS["day"].isin(asked["days"])
    if "sectors" in asked and leave != "bearing":
        keep &= SPOTS["sector"].isin(asked["sectors"])
    return SPOTS[keep.to_numpy()]


def expected(view: str, **asked: Any) -> list[int]:
    """Reports by bin of a view in the order of its axis, empty bins left out."""
    seen = rows(leave=view, **asked)
    key = {
        "far": np.searchsorted(EDGES, seen["distance_km"], side="right"),
        "strong": seen["snr_db"],
        "when": seen["day"].astype(str) + seen["hour"].map("{:02d}".format),
        "bearing": seen["sector"],
    }[view]
    return list(seen.groupby(np.asarray(key)).size())


def check(opened: Opened, **asked: Any) -> None:
    """All views, the count and the key numbers say what pandas says."""
    assert opened.count() == len(rows(**asked))
    for view in VIEWS:
        assert opened.counts(view) == expected(view, **asked), view
    seen = rows(**asked)
    sure = measured.reach(tally(seen)).headline
    everything = measured.reach(tally(seen)).all.overall
    assert opened.text("#key-reports") == words.count(everything.reports)
    detail = opened.text("#key-reports-detail")
    assert detail.startswith(
        f"{words.things(everything.receivers, 'receiver')}, {words.things(everything.squares, 'square')}"
    )
    assert words.things(everything.countries, "country", "countries") in detail
    for key, estimate in (("median", sure.median_km), ("p90", sure.p90_km)):
        shown = opened.text(f"#key-{key}-detail")
        if estimate.value == sure.far_km:
            assert opened.text(f"#key-{key}") == "–" and shown.startswith("as far as the farthest")
            continue
        assert opened.text(f"#key-{key}") == words.PRINT.beyond(estimate.value)
        assert (
            (sentences.interval_km(estimate, PRINT) in shown)
            if estimate.has_interval
            else ("too few receivers" in shown)
        )
    assert opened.text("#key-median-detail").endswith(words.PRINT.beyond(everything.median_km.value)) or (
        sure.reports == everything.reports  # every locator is corroborated: there is nothing to set beside it
    )
    assert sure.farthest is not None
    assert opened.text("#key-farthest") == PRINT.distance(sure.farthest.distance_km, sure.farthest.uncertainty_km)
    assert sure.farthest.call in opened.text("#key-farthest-detail")
    assert opened.text("#key-snr") == words.PRINT.db(
        float(np.median(seen["snr_db"])), 0 if len(seen) % 2 else 1
    ).replace(".0", "")


def test_untouched(open_page: Open, html: str) -> None:
    check(open_page(html))


def test_brush_distance_by_mouse(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.drag("far", (0.2, 0.5), (0.4, 0.5))
    low, high = (int(part) for part in _asked(opened)["km"].split("_"))
    assert 0 < low < high
    check(opened, km=(low, high))
    opened.page.get_by_role("button", name="Clear: How far: distance").click()
    check(opened)


def test_nothing_is_said_to_come_from_beyond_the_farthest(open_page: Open, html: str) -> None:
    """Of few receivers the farthest itself is the tenth, of one it is the half too."""
    sound = SPOTS[SPOTS["trust"] == "corroborated"]
    places = sound.groupby(np.searchsorted(EDGES, sound["distance_km"], side="right"))["distance_km"].nunique()
    one = int(places.index[places == 1][-1])
    opened = open_page(html, f"#km={EDGES[one - 1]}_{EDGES[one]}")
    check(opened, km=(EDGES[one - 1], EDGES[one]))
    assert opened.text("#key-p90") == opened.text("#key-median") == "–"


def test_brush_snr_by_mouse(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.drag("strong", (0.3, 0.4), (0.5, 0.6))
    low, high = (int(part) for part in _asked(opened)["snr"].split("_"))
    check(opened, snr=(low, high))
    for view in VIEWS:  # the files have what the tables show
        assert opened.table(view) == opened.shown(view)


def test_brush_hours_and_days_by_mouse(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.drag("when", (0.75, 0.55), (0.95, 0.72))
    asked = _asked(opened)
    first, last = (int(part) for part in asked["hour"].split("_"))
    days = [str(day)[:10] for day in pd.date_range(*asked["day"].split("_"))]
    assert 0 < len(days) < 4
    check(opened, hours=range(first, last + 1), days=days)


def test_brush_bearing_by_mouse(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.drag("bearing", (0.48, 0.2), (0.75, 0.5))
    first, last = (int(part) // 30 for part in _asked(opened)["bearing"].split("_"))
    sectors = [(first + step) % 12 for step in range((last - first) % 12 + 1)]
    assert 1 < len(sectors) < 7
    check(opened, sectors=sectors)


def _asked(opened: Opened) -> dict[str, str]:
    return dict(part.split("=") for part in opened.fragment().lstrip("#").split("&"))


def test_every_brush_by_keyboard_alone(open_page: Open, html: str) -> None:
    opened = open_page(html)
    km = (EDGES[4], EDGES[21])
    opened.slider("Distance, from").focus()
    opened.press(*["ArrowRight"] * 4)
    opened.press("Tab")  # the other end; it stops at the first
    opened.press("Home", *["ArrowRight"] * 16)
    check(opened, km=km)
    opened.slider("SNR, to").focus()
    opened.press(*["ArrowLeft"] * 12)
    top = SPOTS["snr_db"].max() - 12
    check(opened, km=km, snr=(-99, top))
    opened.slider("Hour of the day, UTC, from").focus()
    opened.press("End", "ArrowLeft", "ArrowLeft", "ArrowLeft")
    opened.slider("Hour of the day, UTC, to").focus()
    opened.press("Home", "ArrowRight", "ArrowRight")  # over midnight: 20 to 02
    night = {"km": km, "snr": (-99, top), "hours": (20, 21, 22, 23, 0, 1, 2)}
    check(opened, **night)
    opened.slider("Day, from").focus()
    opened.press("ArrowRight")
    days = sorted(SPOTS["day"].unique())[1:]
    check(opened, **night, days=days)
    opened.slider("Bearing, from").focus()
    opened.press("ArrowRight")
    check(opened, **night, days=days, sectors=range(1, 12))
    opened.page.locator("#reset").focus()
    opened.press("Enter")
    check(opened)


def test_every_filter_by_keyboard_alone(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.page.get_by_role("checkbox", name="40m").focus()
    opened.press("Space", "Tab", "Space")  # this box and the next
    check(opened, band=("20m",))
    opened.page.get_by_role("checkbox", name="wire").focus()
    opened.press("Space")
    check(opened, band=("20m",), setup=("vertical",))
    opened.page.get_by_role("radio", name="All but suspects").focus()
    opened.press("ArrowRight")
    check(opened, band=("20m",), setup=("vertical",), trust=("corroborated",))
    opened.page.get_by_role("radio", name="Corroborated only").focus()
    opened.press("ArrowRight")
    check(opened, band=("20m",), setup=("vertical",), trust=("corroborated", "unconfirmed", "suspect"))


def test_fragment_brings_the_view_back(open_page: Open, html: str) -> None:
    first = open_page(html)
    first.page.get_by_role("checkbox", name="30m").uncheck()
    first.drag("far", (0.2, 0.5), (0.7, 0.5))
    first.page.get_by_role("radio", name="Globe").check()
    first.page.get_by_role("button", name="Zoom in").click()
    first.page.locator("#step-on").click()
    fragment = first.fragment()
    again = open_page(html, fragment)
    assert again.count() == first.count()
    assert again.counts("strong") == first.counts("strong")
    assert again.page.get_by_role("radio", name="Globe").is_checked()
    assert again.text("#clock-text") == "00:10 UTC"
    assert again.fragment() == fragment
    again.page.evaluate("() => { location.hash = '#trust=corroborated'; }")
    check(again, trust=("corroborated",))


@pytest.mark.parametrize(
    "fragment",
    ["#km=9000_500&snr=x_y&hour=-5_99&bearing=&day=a_b", "#zoom=1e9&turn=nan_7&time=25:99&at=<b>", "#%", "#&&=&="],
)
def test_fragment_of_nonsense_changes_nothing(open_page: Open, html: str, fragment: str) -> None:
    assert open_page(html, fragment).count() == len(rows())


def test_receivers_in_view_can_be_downloaded(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.drag("strong", (0.3, 0.4), (0.5, 0.6))
    low, high = (int(part) for part in _asked(opened)["snr"].split("_"))
    seen = rows(snr=(low, high)).groupby(["rx_call", "rx_locator"], observed=True)
    table = seen.agg(
        reports=("line", "size"), median=("snr_db", "median"), best=("snr_db", "max"), km=("distance_km", "first")
    )
    found = {(row["receiver"], row["locator"]): row for row in opened.table("receivers")}
    assert set(found) == set(table.index)
    for key, row in table.iterrows():
        assert int(found[key]["reports"]) == row["reports"]
        assert float(found[key]["median SNR dB"]) == row["median"]
        assert float(found[key]["best SNR dB"]) == row["best"]
        assert float(found[key]["distance km"]) == pytest.approx(row["km"], abs=0.06)


def test_table_on_show_can_be_downloaded(open_page: Open, html: str) -> None:
    opened = open_page(html)
    opened.page.get_by_label("Table on show").select_option(label="Rows rejected, suspected or noted")
    assert opened.page.locator("#table-on-show tbody tr").count() == len(RESULT.problems)
    with opened.page.expect_download() as waiting:
        opened.page.get_by_role("button", name="Download this table (CSV)").click()
    assert waiting.value.suggested_filename == "problems.csv"


# As one text: a list of a million numbers takes half a minute on its way here.
PIXELS = """() => {
  const canvas = document.querySelector("#map-canvas");
  const bytes = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data;
  let text = "";
  for (let k = 0; k < bytes.length; k += 8192) text += String.fromCharCode(...bytes.subarray(k, k + 8192));
  return btoa(text);
}"""


@pytest.mark.parametrize("ratio", [1, 2])
def test_dots_that_are_passed_over_would_not_be_seen(
    open_page: Open, monkeypatch: pytest.MonkeyPatch, ratio: int
) -> None:
    """The map with every dot put down is pixel for pixel the one without those that lie whole below others."""
    crowd = factory.result(4000, 900, days=2, hours=20, seed=8)
    script = page._script().replace(
        "pen.drawImage(dot.image", "window.puts = (window.puts || 0) + 1; pen.drawImage(dot.image"
    )

    def shown(guard: str) -> tuple[int, bytes]:
        with monkeypatch.context() as patch:
            patch.setattr(page, "_script", lambda: script.replace("isSeen(dot,", guard))
            opened = open_page(page.html(crowd), device_scale_factor=ratio)
        opened.settle()
        return opened.page.evaluate("window.puts"), b64decode(opened.page.evaluate(PIXELS))

    few, seen = shown("isSeen(dot,")
    every, whole = shown("((dot) => true)(dot,")
    assert 0 < few < 0.9 * every
    assert seen == whole and len(set(seen)) > 2

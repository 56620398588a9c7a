"""How large the page is, how soon it is ready and how fast it follows a brush, beside an Altair page of the same data.

    .venv/bin/python -m tests.benchmarks.page_speed [--loads 5] [--spots 1000,10000,50000]

Needs Chromium, playwright, altair and vl-convert-python. Both pages are opened from a file without a network in the
same browser, in turn. Both show the same four views (map with a path a receiver, distance, SNR, hour by day) that
filter each other; ours shows the bearing rose, the key numbers and the tables besides. The Altair page carries its
JavaScript and compact columns that three lines turn into rows, which is smaller and quicker than what `save` writes.

ready   from the start of the navigation until the first frame with everything drawn, ms
brush   from the pointer's event until that frame is painted, ms: 25 moves over the distance histogram
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from reach import data
from reach.base import locator
from reach.findings import Findings
from reach.tell import page
from tests import factory

RECEIVERS = {1_000: 196, 10_000: 583, 50_000: 2774}
FLAGS = [
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip
MOVES, PAUSE_MS = 25, 110
PICTURE = "() => document.querySelector('canvas').toDataURL()"

# Registered before the page's own listeners: notes when the frame after each pointer move has been painted.
WATCH = """
window.__paints = [];
addEventListener("pointermove", (event) => requestAnimationFrame(() => {
  const channel = new MessageChannel();
  channel.port1.onmessage = () => window.__paints.push(performance.now() - event.timeStamp);
  channel.port2.postMessage(0);
}), true);
"""


@dataclass(frozen=True)
class Measured:
    """One page: its size and times."""

    name: str
    spots: int
    kilobytes: float
    ready_ms: list[float]
    brush_ms: list[float]

    def row(self) -> str:
        median, p95 = np.percentile(self.brush_ms, [50, 95])
        return (
            f"{self.name:8} {self.spots:7,} {self.kilobytes:9,.0f} {np.median(self.ready_ms):9.0f}"
            f" {min(self.ready_ms):7.0f}-{max(self.ready_ms):<6.0f} {median:8.1f} {p95:8.1f}"
        )


ALTAIR_PAGE = """<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Altair</title>
<script>LIBRARY</script></head><body><div id="view"></div>
<script id="columns" type="application/json">COLUMNS</script>
<script id="land" type="application/json">LAND</script>
<script id="spec" type="application/json">SPEC</script>
<script>
const read = (id) => JSON.parse(document.getElementById(id).textContent);
const columns = read("columns"), spec = read("spec"), names = Object.keys(columns);
const rows = columns.km.map((_, i) => Object.fromEntries(names.map((name) => [name, columns[name][i]])));
spec.datasets = { spots: rows, land: read("land").features };
vegaEmbed("#view", spec, { actions: false, renderer: "canvas" }).then(() => requestAnimationFrame(() =>
  (document.documentElement.dataset.ready = Math.round(performance.now()))));
</script></body></html>"""


def altair_page(result: Findings) -> str:
    """The same four linked views by Altair, self-contained."""
    import altair as alt
    import vl_convert as vlc

    version = ".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2])
    (lon_deg,), (lat_deg,) = locator.centre([str(result.spots["tx_locator"].iloc[0])])
    spec = _spec(alt, float(lon_deg), float(lat_deg)).to_json(indent=None)
    columns = {name: values.tolist() for name, values in _columns(result.spots).items()}
    parts = {
        "LIBRARY": vlc.javascript_bundle(vl_version=version).replace("</script", "<\\/script"),
        "COLUMNS": json.dumps(columns, separators=(",", ":")),
        "LAND": data.read_text("countries_110m.geojson.xz"),
        "SPEC": spec,
    }
    pieces = re.split(f"({'|'.join(parts)})", ALTAIR_PAGE)
    return "".join(parts.get(piece, piece) for piece in pieces)


def _columns(spots: pd.DataFrame) -> dict[str, np.ndarray]:
    bearing, km = np.radians(spots["bearing_deg"].fillna(0)), spots["distance_km"]
    return {
        "km": km.round().to_numpy(),
        "snr": spots["snr_db"].round().astype(int).to_numpy(),
        "hour": spots["time_utc"].dt.hour.to_numpy(),
        "day": (spots["time_utc"].dt.day_of_year - spots["time_utc"].dt.day_of_year.min()).to_numpy(),
        "x": (km * np.sin(bearing)).round().to_numpy(),
        "y": (km * np.cos(bearing)).round().to_numpy(),
    }


def _spec(alt: Any, lon_deg: float, lat_deg: float) -> Any:
    """Map, distance, SNR and hour by day, each filtered by the brushes of the others."""
    side, spots = 560, alt.NamedData("spots")
    distance, snr = (
        alt.selection_interval(name="distance", encodings=["x"]),
        alt.selection_interval(name="level", encodings=["x"]),
    )
    when, where = alt.selection_interval(name="when"), alt.selection_interval(name="where", encodings=["x", "y"])
    scale = alt.Scale(domain=[-20015, 20015], nice=False, zero=False)
    projection = {
        "type": "azimuthalEquidistant",
        "rotate": [-lon_deg, -lat_deg, 0],
        "scale": side / 2 / np.pi,
        "translate": [side / 2, side / 2],
    }
    land = alt.layer(alt.Chart(alt.NamedData("land")).mark_geoshape(fill="#d9d8d1")).properties(projection=projection)
    places = (
        alt.Chart(spots)
        .transform_filter(distance & snr & when)
        .transform_aggregate(reports="count()", median="median(snr)", groupby=["x", "y"])
    )
    at = {"x": alt.X("x:Q", scale=scale, axis=None), "y": alt.Y("y:Q", scale=scale, axis=None)}
    colour = alt.Color("median:Q", scale=alt.Scale(scheme="viridis"))
    lines = places.mark_rule(opacity=0.4).encode(**at, x2=alt.X2(datum=0), y2=alt.Y2(datum=0), color=colour)
    dots = places.mark_circle().encode(**at, color=colour, size="reports:Q").add_params(where)
    atlas = alt.layer(land, lines, dots).properties(width=side, height=side)

    def bars(field: str, step: float, brush: Any, others: Any) -> Any:
        chart = alt.Chart(spots).transform_filter(others).mark_bar()
        binned = alt.X(f"{field}:Q", bin=alt.Bin(step=step))
        return chart.encode(x=binned, y="count()").add_params(brush).properties(width=420, height=130)

    grid = (
        alt.Chart(spots)
        .transform_filter(distance & snr & where)
        .mark_rect()
        .encode(
            x=alt.X("hour:Q", bin=alt.Bin(step=1, extent=[0, 24])),
            y=alt.Y("day:Q", bin=alt.Bin(step=1)),
            color="count()",
        )
        .add_params(when)
        .properties(width=420, height=220)
    )
    charts = alt.vconcat(
        bars("km", 500, distance, snr & when & where), bars("snr", 1, snr, distance & when & where), grid
    )
    return alt.hconcat(atlas, charts).resolve_scale(color="independent")


def measure(browser: Any, name: str, spots: int, html: str, loads: int) -> Measured:
    """Open the page `loads` times, brush it in the last."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.html"
        path.write_text(html, encoding="utf-8")
        ready: list[float] = []
        brush: list[float] = []
        for number in range(loads):
            context = browser.new_context(viewport={"width": 1280, "height": 900}, offline=True)
            tab = context.new_page()
            tab.add_init_script(WATCH)
            tab.goto(path.as_uri())
            tab.wait_for_selector("html[data-ready]", timeout=60_000)
            ready.append(float(tab.evaluate("() => document.documentElement.dataset.ready")))
            if number >= loads - 2:
                brush += _brush(tab, name)
            context.close()
    return Measured(name, spots, len(html.encode()) / 1000, ready, brush)


def _brush(tab: Any, name: str) -> list[float]:
    """Drag over the distance histogram; the time to paint of each move."""
    if name == "ours":
        target = tab.locator("#far svg.drawing")
        target.scroll_into_view_if_needed()
        box = target.bounding_box()
        left, top = box["x"] + 0.15 * box["width"], box["y"] + 0.5 * box["height"]
    else:
        box = tab.locator("#view canvas").bounding_box()
        left, top = box["x"] + 770, box["y"] + 70
    tab.wait_for_timeout(400)
    before = tab.evaluate(PICTURE)
    tab.mouse.move(left, top)
    tab.mouse.down()
    tab.mouse.move(left + 10, top)
    tab.wait_for_timeout(PAUSE_MS)
    tab.evaluate("() => { window.__paints.length = 0; }")
    for step in range(MOVES):
        tab.mouse.move(left + 14 + 8 * step, top)
        tab.wait_for_timeout(PAUSE_MS)
    if tab.evaluate(PICTURE) == before:
        raise SystemExit(f"{name}: the map did not follow the brush, so nothing was measured")
    tab.mouse.up()
    return [float(value) for value in tab.evaluate("() => window.__paints")]


def main() -> None:
    from playwright.sync_api import sync_playwright

    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--loads", type=int, default=5)
    parser.add_argument("--spots", default="1000,10000,50000")
    asked = parser.parse_args()
    library_kb = len(data.read_bytes("d3.min.js")) / 1000
    print(f"D3 is {library_kb:.0f} kB of each of our pages.")
    print(f"{'page':8} {'spots':>7} {'kB':>9} {'ready ms':>9} {'range':>14} {'brush ms':>8} {'p95':>8}")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        for spots in (int(part) for part in asked.spots.split(",")):
            result = factory.result(spots, RECEIVERS.get(spots, spots // 18), days=30, hours=24)
            pages = {"ours": page.html(result), "altair": altair_page(result)}
            found = [measure(browser, name, spots, html, asked.loads) for name, html in pages.items()]
            for each in found:
                print(each.row())
            ours, other = found
            print(
                f"{'ratio':8} {spots:7,} {ours.kilobytes / other.kilobytes:9.2f}"
                f" {np.median(ours.ready_ms) / np.median(other.ready_ms):9.2f} {'':14}"
                f" {np.median(ours.brush_ms) / np.median(other.brush_ms):8.2f}"
                f" {np.percentile(ours.brush_ms, 95) / np.percentile(other.brush_ms, 95):8.2f}"
            )
        browser.close()


if __name__ == "__main__":
    main()

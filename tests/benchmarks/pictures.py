"""Every picture of a walk: seconds to build and to write it, first with an empty cache, then cached.

Run: python -m tests.benchmarks.pictures [STUDY.toml] [--look FOLDER]

--look : also keep the pictures there, with a contact sheet of them all at a quarter
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

from reach import study
from reach.draw import basemap, gallery, style
from reach.findings import Findings
from reach.walk import Walk

SAMPLE = Path(__file__).parents[2] / "sample_spots" / "evening.toml"


def timed(result: Findings, look: str, folder: Path | None = None) -> dict[str, tuple[float, float, float]]:
    """Seconds to build, to write as PNG and to write as SVG, by picture."""
    took = {}
    for picture in gallery.pictures(result, style=look):
        start = time.perf_counter()
        figure = picture.build()
        built = time.perf_counter()
        png = style.png(figure)
        written = time.perf_counter()
        style.svg(figure)
        took[picture.name] = (built - start, written - built, time.perf_counter() - written)
        if folder:
            (folder / f"{look}-{picture.name}.png").write_bytes(png)
    return took


def contact_sheet(folder: Path, look: str) -> None:
    """All pictures at a quarter, four in a row."""
    from PIL import Image

    files = sorted(folder.glob(f"{look}-*.png"))
    sheet = Image.new("RGB", (4 * 480, -(-len(files) // 4) * 270))
    for k, file in enumerate(files):
        sheet.paste(
            Image.open(file).convert("RGB").resize((480, 270), Image.Resampling.LANCZOS), (k % 4 * 480, k // 4 * 270)
        )
    sheet.save(folder / f"sheet-{look}.png")


def main(file: Path, folder: Path | None) -> None:
    result = Walk(study.load(file)).findings
    if folder:
        folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as cache:
        os.environ["REACH_CACHE"] = cache
        first = timed(result, "light", folder)
        basemap._remembered.cache_clear()  # what a new process would find: the folder, not the memory
        again = timed(result, "light")
        if folder:
            timed(result, "dark", folder)
    print(f"{'picture':24}{'first s':>9}{'cached s':>10}{'PNG s':>8}{'SVG s':>8}")
    for name, (build, png, svg) in again.items():
        print(f"{name:24}{sum(first[name][:2]):9.2f}{build + png:10.2f}{png:8.2f}{svg:8.2f}")
    totals = [sum(sum(took[:2]) for took in each.values()) for each in (first, again)]
    print(f"{'all, built and PNG':24}{totals[0]:9.2f}{totals[1]:10.2f}")
    if folder:
        for look in ("light", "dark"):
            contact_sheet(folder, look)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("study", nargs="?", type=Path, default=SAMPLE)
    parser.add_argument("--look", type=Path)
    given = parser.parse_args()
    main(given.study, given.look)

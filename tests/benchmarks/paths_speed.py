"""Great circles: ours against one `ax.plot(..., transform=Geodetic())` a path. Run: python -m tests.benchmarks.paths_speed

Prints seconds to add and draw, their ratio, and how far the two pictures agree: the share of the ink of either picture
that has no ink of the other within 2 px. For the pictures the library's threshold is set fine, since at its own it draws
visible corners; for the times it keeps its own, which favours it.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from typing import Any

import cartopy.crs as ccrs
import numpy as np

from reach.draw import basemap, layers, style
from reach.place import path

SITE = layers.Site(-9.625, 51.8125)
NEAR_PX = 2


def receivers(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Positions spread as land's listeners are, none near the antipode where the shortest path is anybody's guess."""
    rng = np.random.default_rng(11)
    lon, lat = rng.uniform(-180, 180, 2 * count), np.degrees(np.arcsin(rng.uniform(-0.8, 0.95, 2 * count)))
    keep = path.inverse(SITE.lon_deg, SITE.lat_deg, lon, lat)[0] < 18_300
    return lon[keep][:count], lat[keep][:count]


def axes(projection: Any) -> tuple[Any, Any]:
    figure = style.sheet(style.LIGHT, 1280, 720)
    made = style.place(figure, 0, 0, 1280, 720, projection=projection)
    made.set_global()
    made.spines["geo"].set_visible(False)
    return figure, made


def ours(projection: Any, lon: np.ndarray, lat: np.ndarray) -> Any:
    figure, made = axes(projection)
    layers.paths(made, style.LIGHT, SITE, lon, lat, "#000000", alpha=1.0)
    figure.canvas.draw()
    return figure


def theirs(projection: Any, lon: np.ndarray, lat: np.ndarray) -> Any:
    figure, made = axes(projection)
    for x, y in zip(lon, lat, strict=True):
        made.plot([SITE.lon_deg, x], [SITE.lat_deg, y], color="#000000", linewidth=style.points(1.6),
                  transform=ccrs.Geodetic())  # fmt: skip
    figure.canvas.draw()
    return figure


def timed(draw: Callable[..., Any], *given: Any, repeats: int) -> float:
    took = []
    for _ in range(repeats):
        start = time.perf_counter()
        draw(*given)
        took.append(time.perf_counter() - start)
    return float(np.median(took))


def lonely_ink(one: Any, other: Any) -> float:
    """The larger share, in percent, of the ink of one picture without ink of the other within NEAR_PX."""
    from scipy.ndimage import binary_dilation

    ink = [np.asarray(f.canvas.buffer_rgba())[..., :3].mean(-1) < 128 for f in (one, other)]
    around = np.hypot(*np.mgrid[-NEAR_PX : NEAR_PX + 1, -NEAR_PX : NEAR_PX + 1]) <= NEAR_PX + 0.3
    shares = [(a & ~binary_dilation(b, around)).sum() / max(a.sum(), 1) for a, b in (ink, ink[::-1])]
    return 100 * float(max(shares))


PROJECTIONS: dict[str, tuple[Callable[[], Any], float]] = {
    # name: how it is made, by how much the library's threshold is refined for the picture
    "round the station": (lambda: basemap.round_the_station(SITE.lon_deg, SITE.lat_deg), 0.05),
    "round another place": (lambda: basemap.round_the_station(15, 40), 0.01),
    "Equal Earth": (lambda: basemap.world(SITE.lon_deg), 0.01),
    "Equal Earth, middle at 180": (lambda: basemap.world(180), 0.01),
    "plate carree": (lambda: ccrs.PlateCarree(), 0.01),
}


def fine(projection: Any, factor: float) -> Any:
    projection.threshold = projection.threshold * factor
    return projection


def main(counts: list[int]) -> None:
    print(f"{'map':28}{'paths':>7}{'theirs s':>10}{'ours s':>9}{'times':>7}{'lonely ink':>12}")
    for name, (make, factor) in PROJECTIONS.items():
        for count in counts:
            lon, lat = receivers(count)
            slow = timed(theirs, make(), lon, lat, repeats=3 if count < 1000 else 1)
            quick = timed(ours, make(), lon, lat, repeats=5 if count < 5000 else 3)
            same = ""
            if count <= 100:  # with more paths the pictures are mostly ink and hide a difference
                same = f"{lonely_ink(ours(make(), lon, lat), theirs(fine(make(), factor), lon, lat)):.2f} %"
            print(f"{name:28}{count:7d}{slow:10.3f}{quick:9.3f}{slow / quick:7.1f}{same:>12}", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("counts", nargs="*", type=int, default=[100, 1000, 10000])
    main(parser.parse_args().counts)

"""A day's film: our frames against drawing each anew, and the whole film by every encoder. Run: python -m tests.benchmarks.film_speed

Prints milliseconds a frame for three ways of drawing the same moments, and seconds and megabytes for the 24-hour film
at 1280 x 720 with the default 360 frames, by every encoder that is there. Synthetic day: 10,000 reports of 600
receivers. Everything is in one process and one run: compare the ratios.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import cartopy.crs as ccrs
from cartopy.feature.nightshade import Nightshade

from reach.draw import areas, layers, motion, style
from reach.findings import Findings
from reach.tell import film
from tests import factory

COUNT, FPS, SIZE = 360, 15, (1280, 720)


def naive(made: motion.Film, result: Findings) -> Callable[[datetime], None]:
    """Every frame from nothing: land, night, a line a path."""
    site = areas.station_site(result)
    figure = style.sheet(style.DARK, *SIZE)

    def frame(when: datetime) -> None:
        figure.clear()
        axes: Any = style.place(figure, 40, 104, 1200, 466, projection=made._axes.projection)
        axes.set_global()
        layers.land(axes, style.DARK)
        axes.add_feature(Nightshade(when.replace(tzinfo=None), alpha=0.4))
        now = made._events.at(when)
        for who in now.who:
            axes.plot([site.lon_deg, made._events._lon[who]], [site.lat_deg, made._events._lat[who]],
                      color="#7fc1e8", transform=ccrs.Geodetic())  # fmt: skip
        figure.canvas.draw()

    return frame


def redrawn(made: motion.Film) -> Callable[[datetime], None]:
    """The same artists, moved; then the whole picture drawn anew."""
    moving = (made._paths, made._earlier, made._dots, *made._station, made._cursor, *made._told, made._night.image)

    def frame(when: datetime) -> None:
        for artist in moving:
            artist.set_animated(False)
        made._night.move(when)
        made._move(when)
        made.figure.canvas.draw()
        for artist in moving:
            artist.set_animated(True)

    return frame


def milliseconds(frame: Callable[[datetime], Any], moments: list[datetime]) -> float:
    frame(moments[0])
    start = time.perf_counter()
    for moment in moments:
        frame(moment)
    return 1000 * (time.perf_counter() - start) / len(moments)


def whole_film(result: Findings, shown: motion.Span, program: str | None, folder: Path) -> tuple[float, float]:
    """Seconds from the walk's result to the file, and its megabytes."""
    film.encoder = lambda: program  # type: ignore[assignment]
    start = time.perf_counter()
    made = motion.Film(result, shown, size_px=SIZE, look="dark")
    written = film.write(made.frames, COUNT, folder / "film.mp4", size_px=SIZE, fps=FPS)
    return time.perf_counter() - start, written.path.stat().st_size / 1e6


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--reports", type=int, default=10_000)
    parser.add_argument("--receivers", type=int, default=600)
    given = parser.parse_args()
    result = factory.result(given.reports, given.receivers, hours=24)
    shown = motion.span(result)
    made = motion.Film(result, shown, size_px=SIZE, look="dark")
    ours = milliseconds(made.frame, made.moments(120))
    ways = [("ours", ours)]
    ways.append(("same artists, drawn anew", milliseconds(redrawn(made), made.moments(24)[1:])))
    ways.append(("from nothing, a line a path", milliseconds(naive(made, result), made.moments(6)[1:])))
    print(f"{given.reports:,} reports, {given.receivers:,} receivers, {SIZE[0]}x{SIZE[1]}")
    for name, each in ways:
        print(f"{name:30} {each:8.1f} ms a frame   {each / ours:6.1f} times ours")
    programs: list[tuple[str, str | None]] = [("Pillow, WebP", None)]
    if program := film.encoder():
        programs.insert(0, ("imageio-ffmpeg, H.264", program))
    for name, program in programs:
        with tempfile.TemporaryDirectory() as folder:
            seconds, size = whole_film(result, shown, program, Path(folder))
        print(f"{name:30} {seconds:8.1f} s   {size:6.2f} MB   ({COUNT} frames)")


if __name__ == "__main__":
    main()

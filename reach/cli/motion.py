"""`reach motion`: a day of reports as a film, with the night side moving."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import Any, Final

import click

from reach.base import tongue
from reach.cli import amounts, console, options
from reach.cli.run import folder_name

# A film as nothing else is asked; the desk makes it so too.
SIZE_PX: Final = (1280, 720)
SECONDS: Final = 24.0
FPS: Final = 15.0
STYLE: Final = "dark"


@click.command("motion", short_help="A day of reports as a film, with the night side moving.")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@options.of_spots
@options.language
@options.local_time
@click.option("--day", metavar="DATE", help="A UTC day such as 2026-05-16.  [default: the period of the reports if it "
              "is within 24 hours, else the day with most reports]")  # fmt: skip
@click.option("--empty-hours", is_flag=True, help="Show hours without reports too, and a day whole.  [default: they are "
              "left out]")  # fmt: skip
@click.option("--out", type=click.Path(), metavar="FILE", help="Ends in .mp4 or .webp.  [default: outputs/<study>.mp4]")
@click.option(
    "--size", default="x".join(map(str, SIZE_PX)), show_default=True, metavar="WxH", help="In pixels, both even."
)
@click.option("--seconds", type=amounts.Amount(0.5, 600), default=SECONDS, show_default=True, help="How long it runs.")
@click.option("--fps", type=amounts.Amount(1, 60), default=FPS, show_default=True, help="Frames a second.")
@click.option("--style", type=click.Choice(["light", "dark"]), default=STYLE, show_default=True)
@click.option("--title", help="The study's name, and so the file's.")
@options.replace
def command(
    files: tuple[str, ...],
    day: str | None,
    empty_hours: bool,
    out: str | None,
    size: str,
    seconds: float,
    fps: float,
    style: str,
    language: str | None,
    replace: bool,
    fixes: str | None,
    **given: Any,
) -> None:
    """Reports light up and fade on a world map while the night side moves. It begins with the first report, leaves hours
    without any out, and ends with all of it at once.

    The film is an MP4 (H.264), or a WebP picture that moves if --out ends in .webp.

    \b
      reach motion spots.csv --locator IO51es
      reach motion may.toml --day 2026-05-16 --out film.mp4 --seconds 40
    """
    shown_day, size_px = _day(day), _size(size)
    study = options.in_language(options.study_from(files, **given), language)
    path = Path(out) if out else Path("outputs") / f"{folder_name(study, files)}.mp4"
    with console.progress() as progress:
        progress("starting")
        from reach.draw import motion, scripts
        from reach.draw import style as styles
        from reach.tell import files as written
        from reach.tell import film
        from reach.walk import Walk

        spoken = scripts.drawn_in(study.spoken)
        target = film.where(path)[0]
        written.apart([target], options.read_by(files, study, fixes))
        written.free(target, replace=replace)
        motion.checked(size_px)
        result = Walk(study, fixes=fixes, progress=progress).findings
        progress("drawing the map")
        shown = motion.span(result, shown_day, empty_hours=empty_hours)
        with styles.own_settings(), tongue.speaking(spoken):
            reel = motion.Film(result, shown, size_px=size_px, look=style, empty_hours=empty_hours)
    count = max(2, round(seconds * fps))
    with styles.own_settings(), tongue.speaking(spoken), console.bar("drawing frames", count) as tick:
        made = film.write(reel.frames, count, path, size_px=size_px, fps=fps, tick=tick, replace=replace)
    if made.note:
        click.echo(made.note, err=True)
    click.echo(
        f"Wrote {made.path}: {shown.start:%Y-%m-%d %H:%M} to {shown.end:%Y-%m-%d %H:%M} UTC in {count / fps:g} s "
        f"({count} frames, {size}, by {made.encoder})"
    )


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text.strip())
    except ValueError:
        raise click.UsageError(f"--day: {text!r} is no day; wanted one such as 2026-05-16.") from None


def _size(text: str) -> tuple[int, int]:
    width, cross, height = text.lower().partition("x")
    if not (cross and all(re.fullmatch("[0-9]{1,5}", part.strip()) for part in (width, height))):
        raise click.UsageError(f"--size: {text!r} is no size; wanted one such as 1280x720.")
    return int(width), int(height)

"""`reach plan`: how long to alternate two setups, and a schedule to follow."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.cli import amounts, console, options

if TYPE_CHECKING:
    import pandas as pd

    from reach.compare.plan import Plan, Row
    from reach.study import Study
    from reach.tell.sentences.direction import Ends

_NAMES = ("schedule.csv", "schedule.ics")


@click.command("plan", short_help="How long to alternate two setups, and a schedule to follow.")
@click.argument("files", nargs=-1, metavar="[FILES|STUDY.toml]")
@click.option("--half-width", "half_width_db", type=amounts.Amount(0.01, 100), default=1.0, show_default=True, metavar="DB",
              help="Wanted: the interval is the difference plus and minus this.")  # fmt: skip
@click.option(
    "--receivers",
    type=amounts.Amount(1, 1_000_000, whole=True),
    metavar="N",
    help="Receivers that will hear both; counted in FILES, else 20.",
)
@click.option("--block", "block_min", type=amounts.MINUTES, default=10.0, show_default=True, metavar="MINUTES",
              help="The shortest block that you can keep up.")  # fmt: skip
@click.option("--bands", metavar="BAND,BAND", default="", help="Bands to go through in turn, such as 20m,30m,40m.")
@click.option("--a", "name_a", metavar="NAME", help="The one setup; the study's `compare` where left out.")
@click.option("--b", "name_b", metavar="NAME", help="The other.")
@click.option("--start", metavar="TIME", help="Start of the schedule in UTC, such as '2026-05-16 18:00'.")
@click.option(
    "--session-hours",
    type=amounts.Amount(0.01, 24),
    metavar="HOURS",
    help="Hours a day; then on at the same time next day.",
)
@click.option(
    "--seed",
    type=amounts.Amount(0, 2**63 - 1, whole=True),
    default=0,
    show_default=True,
    help="For the coin: the same seed, the same schedule.",
)
@click.option("--out", type=click.Path(), metavar="FOLDER",
              help="Write schedule.csv and schedule.ics there, instead of printing the schedule.")  # fmt: skip
@options.replace
@options.station
@options.reading
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(
    files: tuple[str, ...],
    half_width_db: float,
    receivers: int | None,
    block_min: float,
    bands: str,
    name_a: str | None,
    name_b: str | None,
    start: str | None,
    session_hours: float | None,
    seed: int,
    out: str | None,
    replace: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """How many hours and blocks of alternation for a wanted half-width, from assumptions or from earlier spots.

    \b
      reach plan --receivers 30
      reach plan evening.csv --locator IO51es --half-width 0.5
      reach plan --bands 20m,30m,40m
      reach plan --a vertical --b wire --start "2026-05-16 18:00" --seed 7 --out plans
      reach compare FILES --a vertical --b wire --schedule plans/schedule.csv
    """

    begin = options.moment(start, "--start")
    if begin is None and (out or session_hours):
        raise click.UsageError("a schedule needs its start: give --start '2026-05-16 18:00' (UTC).")
    turns = [name.strip() for name in bands.split(",") if name.strip()]
    study = options.study_from(files, **given) if files else None
    if out:
        _may_write(Path(out), options.read_by(files, study), replace=replace)
    with console.progress() as progress:
        progress("starting")
        from reach.compare import plan as plans

        spots = _spots(study, progress) if study is not None else None
        progress("planning")
        made = plans.plan(
            spots, half_width_db=half_width_db, receivers=receivers, block_min=block_min, bands=turns, seed=seed
        )
    schedule, written = None, []
    if begin is not None:
        a, b = study.compare.two or ("a", "b") if study is not None and study.compare else ("a", "b")
        schedule = plans.deal(
            name_a or a, name_b or b, start=begin, blocks=made.blocks, block_min=block_min, session_hours=session_hours,
            bands=turns, seed=seed,
        )  # fmt: skip
        if out:
            written = _write(schedule, Path(out), study.title if study else "", replace=replace)
    _tell(made, study, schedule, written, seed=seed, as_json=as_json)


def _tell(
    made: Plan, study: Study | None, schedule: pd.DataFrame | None, written: list[str], *, seed: int, as_json: bool
) -> None:
    """The plan, and its schedule where there is one: as one JSON object, or in words."""
    from reach.tell.sentences import direction
    from reach.tell.sentences import plan as sentences

    way = direction.ends(study) if study is not None else direction.SENT
    if as_json:
        rows = {"seed": seed, "schedule": _rows(schedule), "written": written}
        console.as_json({**sentences.document(made, way), **rows})
        return
    _print(made, way)
    if schedule is not None and not written:
        from reach.assign import schedule as schedules

        click.echo(f"\nSchedule, UTC, seed {seed}:\n{schedules.text(schedule)}", nl=False)
    for name in written:
        click.echo(f"Written: {name} (UTC, seed {seed})")


def _spots(study: Study, progress: console.Step) -> pd.DataFrame:
    """The spots of the study with their setups; where they were heard does not matter here."""
    from reach.walk import Walk

    return Walk(study, progress=progress).vetted.spots


def _may_write(out: Path, inputs: list[Path], *, replace: bool) -> None:
    """OutputError, before anything is read, where the schedule cannot be written: it is the log that the user keeps."""
    from reach.tell import files

    files.apart([out / name for name in _NAMES], inputs)
    for name in _NAMES:
        files.free(out / name, replace=replace)


def _write(schedule: pd.DataFrame, out: Path, title: str, *, replace: bool) -> list[str]:
    """schedule.csv and schedule.ics in the folder. Returns their paths; OutputError where they cannot be written."""
    from reach.assign import schedule as schedules
    from reach.tell import files

    csv, ics = out / _NAMES[0], out / _NAMES[1]
    both: dict[Path, str | bytes] = {csv: schedules.text(schedule), ics: schedules.calendar(schedule, title=title)}
    files.write_together(both, replace=replace)
    return [str(csv), str(ics)]


def _rows(schedule: pd.DataFrame | None) -> list[dict[str, str]] | None:
    if schedule is None:
        return None
    moments = zip(schedule["start"], schedule["end"], schedule["setup"], strict=True)
    rows = [
        {"start": f"{s:%Y-%m-%dT%H:%M:%SZ}", "end": f"{e:%Y-%m-%dT%H:%M:%SZ}", "setup": name} for s, e, name in moments
    ]
    if "band" in schedule.columns:
        rows = [{**row, "band": band} for row, band in zip(rows, schedule["band"], strict=True)]
    return rows


def _print(made: Plan, way: Ends) -> None:
    from reach.base.words import TERMINAL
    from reach.tell.sentences import plan as sentences

    for sentence in sentences.everything(made, say=TERMINAL, way=way):
        click.echo(sentence)
    click.echo()
    after = [f"{hours:g} h" for hours in made.table_hours]
    console.table(
        f"Half-width in dB after so many hours, and the hours for {sentences.half_width(made, say=TERMINAL)}",
        ["blocks", *after, "hours", "blocks in all"],
        [_row(row) for row in made.table],
    )
    click.echo()
    for sentence in sentences.advice(way, len(made.bands)):
        click.echo(f"- {sentence}")


def _row(row: Row) -> list[str]:
    name = "both at once" if row.block_min == 0 else f"{row.block_min:g} min"
    widths = ["refused" if width is None else f"{width:.2f}" for width in row.half_width_db]
    return [name, *widths, f"{row.hours:.1f}", "" if row.blocks is None else str(row.blocks)]

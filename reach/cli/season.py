"""`reach season`: is the station still as good as it was, and since when not?"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from reach.cli import console, options


@click.command("season", short_help="Is the station still as good as weeks ago, and since when not?")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@click.option(
    "--control",
    "controls",
    multiple=True,
    metavar="CALL|FILE",
    help="A station near by as yardstick: its rows are in FILES, or in a file of their own. Repeatable; three serve best.",
)
@click.option("--watch", is_flag=True, default=None, help="You look every day: more is asked of a change.")
@click.option("--csv", type=click.Path(), help="Also write the level of each day to this file.")
@options.fixes
@options.replace
@options.station
@options.reading
@options.selection
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(
    files: tuple[str, ...],
    controls: tuple[str, ...],
    watch: bool | None,
    csv: str | None,
    fixes: str | None,
    replace: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """The station's level from day to day against other stations that the same receivers heard: steps, spells, slow change.

    \b
      reach season 'autumn/*.csv' --callsign EI4QTB --control EI2QTC --control EI7QTD --control EI8QTE
      reach season autumn.toml --watch                 with [season] and [[log]] in the study
    """
    study = options.study_from(files, **given)
    if csv is not None:
        from reach.tell import files as written

        written.apart([Path(csv)], options.read_by(files, study, fixes, *controls))
        written.free(Path(csv), replace=replace)
    with console.progress() as progress:
        progress("starting")
        from reach.walk import Walk

        walk = Walk(study, fixes=fixes, progress=progress)
        found = walk.level(*controls, watch=watch)
    from reach.base.words import TERMINAL
    from reach.tell.sentences import season as sentences

    if csv is not None:
        from reach.tell import files as written
        from reach.tell import tables

        with written.taking_the_place_of(csv, replace=replace) as partial:
            tables.write_csv(sentences.days(found), partial)
    if as_json:
        console.as_json(sentences.document(found))
        return
    console.rows_first(walk, controlled=bool(found.controls))
    for sentence in sentences.everything(found, say=TERMINAL):
        click.echo(sentence)
    console.notes_after(walk)

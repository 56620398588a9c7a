"""`reach deck`: slides for the club evening, the same as a PDF, and a handout."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from reach.cli import console, options
from reach.cli.run import folder_name


@click.command("deck", short_help="Slides for the club evening, the same as a PDF, and a handout.")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@options.of_spots
@options.language
@options.local_time
@options.compared
@click.option("--title", help="Title of the slides.")
@click.option("--club", default="", help="Whose evening it is: on the first slide and at the foot of all.")
@click.option("--out", type=click.Path(), metavar="FOLDER", help="Folder to write.  [default: outputs/<study>-slides]")
@click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Of the handout.")
@click.option(
    "--style", type=click.Choice(["light", "dark"]), default="light", show_default=True, help="Of the slides."
)
@options.replace
def command(
    files: tuple[str, ...],
    club: str,
    out: str | None,
    paper: str,
    style: str,
    language: str | None,
    replace: bool,
    fixes: str | None,
    **given: Any,
) -> None:
    """Write deck.pptx (its words, tables and charts can be edited), deck.pdf and handout.pdf.

    A folder whose slides you have changed is left alone, unless you say --replace; files of yours in it stay.

    \b
      reach deck may.toml --club "Beara Radio Club"
      reach deck spots.csv --locator IO51es --power 5 --title "Five watts in May" --style dark
    """
    study = options.in_language(options.study_from(files, **given), language)
    folder = Path(out) if out else Path("outputs") / f"{folder_name(study, files)}-slides"
    with console.progress() as progress:
        progress("starting")
        from reach.tell import deck
        from reach.tell import folder as folders
        from reach.walk import Walk

        folders.check(folder, makes=deck.MAKES, replace=replace, inputs=options.read_by(files, study, fixes))
        result = Walk(study, fixes=fixes, progress=progress).findings
        deck.write(
            result,
            folder,
            club=club,
            paper="letter" if paper == "letter" else "a4",
            style=style,
            replace=replace,
            progress=progress,
        )
    for name in (deck.SLIDES, deck.SLIDES_PDF, deck.HANDOUT):
        click.echo(f"Wrote {folder / name}")

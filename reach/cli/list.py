"""`reach list`: what a collection holds."""

from __future__ import annotations

from pathlib import Path

import click

from reach.cli import console


@click.command("list", short_help="What a collection holds: stations, days, files.")
@click.argument("folder", type=click.Path(), metavar="COLLECTION")
@click.option("--json", "as_json", is_flag=True, help="One JSON object: stations, files.")
def command(folder: str, as_json: bool) -> None:
    """Say which stations a collection holds, on which days they were reported, and which files were added.

    \b
      reach list my-year
    """
    from reach.archive import listing
    from reach.base.words import TERMINAL
    from reach.tell.sentences import collection as sentences

    held = listing.held(Path(folder))
    if as_json:
        console.as_json(held.to_dict())
        return
    stations = [sentences.station(each, TERMINAL) for each in held.stations]
    console.table(
        "Stations", ["station", "direction", "spots", "days", "first", "last", "files"], stations, left=(0, 1)
    )
    click.echo()
    files = [sentences.file(entry, TERMINAL) for entry in held.files]
    console.table(
        "Files, in the order they were added",
        ["file", "direction", "rows", "sound", "rejected", "set aside"],
        files,
        left=(0, 1),
    )

"""`reach remove`: take exports out of a collection again."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("remove", short_help="Take exports out of a collection again.")
@click.argument("folder", type=click.Path(), metavar="COLLECTION")
@click.argument("names", nargs=-1, required=True, metavar="NAMES")
@click.option("--heard/--sent", "heard", default=None, help="Which, where a file was added for both directions.")
def command(folder: str, names: tuple[str, ...], heard: bool | None) -> None:
    """Take exports out of a collection, by the names that `reach list` shows: their rows count no more, in any report.

    All of them go, or none where one is not there. A report that another file tells too counts by that one from then on. An archive
    goes whole. The collection keeps no export, so keep your own file: `reach add` puts it in again.

    \b
      reach list my-year
      reach remove my-year october.csv
    """
    from reach.archive import collection, listing
    from reach.base.words import TERMINAL
    from reach.tell.sentences import collection as sentences

    home, direction = Path(folder), None if heard is None else "heard" if heard else "sent"
    listing.ledger_of(home)  # so that none is begun where there is none
    with collection.adding(home):
        gone = listing.named(home, names, direction)
        collection.remove(home, gone)
    for entry in gone:
        click.echo(sentences.removed(entry, TERMINAL))
    click.echo(sentences.left(folder, listing.ledger_of(home).entries, TERMINAL))

"""`reach desk`: the page on this machine for everything that the other commands do."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("desk", short_help="A page in your own browser, for everything without typing.")
@click.option("--folder", type=click.Path(), help="Where studies lie.  [default: Reach, among your documents]")
@click.option("--no-browser", is_flag=True, help="Print the address, which serves once, instead of opening a browser.")
def command(folder: str | None, no_browser: bool) -> None:
    """Open a page that this machine alone serves: drop your exports, see what was understood, get the report.

    All of it lies in ordinary folders that `reach run study.toml` reads too. The page ends itself when it is not used.

    \b
      reach desk
      reach desk --folder my-studies
    """
    from reach.desk import server

    where = Path(folder) if folder else server.folder_of_studies()
    server.serve(where, browser=not no_browser, told=click.echo)

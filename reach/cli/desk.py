"""`reach desk`: the page on this machine for everything that the other commands do; `reach-desk`: the same from a menu."""

from __future__ import annotations

import html
import os
import sys
import tempfile
from pathlib import Path

import click


@click.command("desk", short_help="A page in your own browser, for everything without typing.")
@click.option("--folder", type=click.Path(), help="Where studies lie.  [default: Reach, among your documents]")
@click.option("--no-browser", is_flag=True, help="Print the address, which serves once, instead of opening a browser.")
@click.option("--shortcut", is_flag=True, help="Put an entry into your menu of programs that opens it, and stop.")
def command(folder: str | None, no_browser: bool, shortcut: bool) -> None:
    """Open a page that this machine alone serves: drop your exports, see what was understood, get the report.

    All of it lies in ordinary folders that `reach run study.toml` reads too. The page ends itself when it is not used.

    \b
      reach desk
      reach desk --folder my-studies
      reach desk --shortcut         from then on it stands in your menu
    """
    if shortcut:
        _shortcut(folder)
        return
    from reach.desk import server

    where = Path(folder) if folder else server.folder_of_studies()
    server.serve(where, browser=not no_browser, told=click.echo)


def _shortcut(folder: str | None) -> None:
    from reach.desk import shortcut

    options = ["--folder", os.path.abspath(folder)] if folder else []
    path = shortcut.write(shortcut.command(*options))
    click.echo(f"Wrote {path}. It stands in your menu as Reach; to be rid of it, delete that file.")


def from_menu() -> None:
    """`reach-desk`: as `reach desk`, where there may be no terminal to say anything to. What went wrong is shown in the browser."""
    import webbrowser

    from reach import cli

    if sys.stdout is None or sys.stderr is None:  # Windows without a console
        sys.stdout = sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115
    args = ["desk", *sys.argv[1:]]
    try:
        cli.reach.main(args, prog_name="reach", standalone_mode=False)
    except Exception as error:
        code, sentence = cli.told(error, args)
        click.echo(f"reach: {sentence}", err=True)
        with tempfile.NamedTemporaryFile("w", prefix="reach-", suffix=".html", delete=False, encoding="utf-8") as page:
            page.write(
                '<!doctype html><html lang="en"><meta charset="utf-8"><title>reach could not start</title>'
                f"<h1>reach could not start</h1><p>{html.escape(sentence)}</p></html>\n"
            )
        webbrowser.open(Path(page.name).as_uri())
        sys.exit(code)

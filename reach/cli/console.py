"""Where results and progress are printed. Colours off with NO_COLOR or when the output is no terminal."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from reach.walk import Walk

Step = Callable[[str], None]


@contextlib.contextmanager
def progress() -> Iterator[Step]:
    """A line on stderr that says what is being done; silent when stderr is no terminal.

    Yields a function to call with each step's name.
    """
    if not sys.stderr.isatty():
        yield lambda step: None
        return
    from rich.console import Console

    with Console(stderr=True).status("starting ...") as status:
        yield lambda step: status.update(f"{step} ...")


@contextlib.contextmanager
def bar(what: str, total: int) -> Iterator[Callable[[int], None]]:
    """A bar on stderr for something that takes long; silent when stderr is no terminal.

    Yields a function to call with how much of `total` is done.
    """
    if not sys.stderr.isatty():
        yield lambda done: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (TextColumn(what), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(stderr=True)) as shown:
        task = shown.add_task("", total=total)
        yield lambda done: shown.update(task, completed=done)


def table(title: str, columns: list[str], rows: list[list[str]], *, left: tuple[int, ...] = (0,)) -> None:
    """Print a table to stdout: plain when piped, never narrower than its words.

    left : which columns hold text; the others are aligned right
    """
    from rich.console import Console
    from rich.table import Table

    out = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False, header_style="bold")
    for k, name in enumerate(columns):
        out.add_column(name, justify="left" if k in left else "right", overflow="fold")
    for row in rows:
        out.add_row(*(_plain(cell) for cell in row))
    console = Console(highlight=False, soft_wrap=False, width=None if sys.stdout.isatty() else 160)
    console.print(out)


def as_json(value: Any) -> None:
    """Print one JSON value to stdout."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False))


def _plain(cell: str) -> Any:
    """Text from files is shown as it is, never read as markup."""
    from rich.text import Text

    return Text(cell)


def rows_first(walk: Walk, *, controlled: bool = False) -> None:
    """What was read, where every row went, and what was left out or assumed: it stands above the first finding.

    controlled : there is a control station already, so nobody is offered as one
    """
    from reach.base.words import TERMINAL
    from reach.tell.sentences import notes

    told = [
        note._replace(values={key: value for key, value in note.values.items() if key != "controls" or not controlled})
        for note in walk.notes
    ]
    click.echo(" ".join([f"{notes.law(walk.counts, TERMINAL)}.", *notes.first(told, TERMINAL)]))
    click.echo()


def notes_after(walk: Walk) -> None:
    """What else is to be told once; last, that the data are made up."""
    from reach.base.words import TERMINAL
    from reach.tell.sentences import notes

    for note in notes.after([*walk.notes, *walk.control_notes], TERMINAL):
        click.echo(f"Note: {note}")
    if walk.study.made_up:
        click.echo("\nMade-up demonstration data.")

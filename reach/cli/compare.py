"""`reach compare`: was one setup better than another, by how many dB, and how sure is that?"""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

import click

from reach.cli import amounts, console, options

if TYPE_CHECKING:
    from reach.compare.comparison import Cell, Comparison
    from reach.study import Study
    from reach.walk import Walk


@click.command("compare", short_help="Was setup A better than setup B, by how many dB, and how sure is that?")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@options.compared
@options.schedule
@click.option(
    "--before", metavar="DAY", help="Instead of --a and --b: spots before this day (UTC) against those --after another."
)
@click.option("--after", metavar="DAY", help="From this day (UTC) on; that of --before where left out.")
@click.option(
    "--control",
    "controls",
    multiple=True,
    metavar="CALL|FILE",
    help="A station whose setup did not change: its rows are in FILES, or in a file of their own. Repeatable.",
)
@options.fixes
@click.option(
    "--power-difference-db", type=amounts.DB, help="Power of A minus power of B at the antenna, to be taken off."
)
@options.station
@options.reading
@options.selection
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def command(
    files: tuple[str, ...],
    name_a: str | None,
    name_b: str | None,
    before: str | None,
    after: str | None,
    controls: tuple[str, ...],
    setups: tuple[str, ...],
    fixes: str | None,
    power_difference_db: float | None,
    as_json: bool,
    **given: Any,
) -> None:
    """Compare two setups by pairs of reports of the same receiver close together in time.

    \b
      reach compare evening.csv --locator IO51es --a vertical --b wire --schedule schedule.csv
      reach compare evening.toml
      reach compare autumn/*.csv --before 2026-04-02 --after 2026-04-03 --control EI9QUC     a new mast
      reach compare garden.csv --locator IO51es --setup vertical --setup wire --setup loop --schedule schedule.csv
    """
    name_a, name_b, setups = options.two_or_several(name_a, name_b, setups)
    stepped = _step(before, after, bool(name_a or name_b or setups or given["schedule"]))
    study = options.study_from(files, name_a=name_a, name_b=name_b, setups=setups, **given)
    with console.progress() as progress:
        progress("starting")
        from reach.walk import Walk

        walk = Walk(study, fixes=fixes, progress=progress)
        asked = setups or (() if name_a or name_b or stepped else _of_study(study))
        if asked:
            if controls or power_difference_db is not None:
                raise click.UsageError("--control and --power-difference-db are for two setups, --a and --b.")
            _several(walk, asked, as_json=as_json)
            return
        if stepped is not None:
            found = walk.before_after(*stepped, *controls, power_difference_db=power_difference_db)
        else:
            found = walk.compare(name_a, name_b, control=controls, power_difference_db=power_difference_db)
    if as_json:
        from reach.tell.sentences import comparison as sentences

        console.as_json(sentences.document(found))
    else:
        console.rows_first(walk, controlled=bool(found.controls or found.control))
        _print(found)
        console.notes_after(walk)


def _step(before: str | None, after: str | None, setups: bool) -> tuple[datetime, datetime] | None:
    """The two moments of a step; None where setups take turns. StudyError where both are asked for, or they cross."""
    from reach.errors import StudyError

    if before is None and after is None:
        return None
    if setups:
        raise StudyError("--before and --after take the place of --a, --b and --schedule: give the one or the other.")
    end, start = (
        options.moment(text, name) for text, name in ((before or after, "--before"), (after or before, "--after"))
    )
    assert end is not None and start is not None
    if start < end:
        raise StudyError(f"--after {after} lies before --before {before}: the days between would be both.")
    return end, start


def _of_study(study: Study) -> tuple[str, ...]:
    """Three setups or more: those that the study compares, and where it names none to compare, all that it describes."""
    if study.compare is not None:
        return tuple(study.compare.setups)
    return tuple(study.setups) if len(study.setups) > 2 else ()


def _several(walk: Walk, setups: tuple[str, ...], *, as_json: bool) -> None:
    """Three setups or more: the order as far as it can be told, and every two of them."""
    from reach.base.words import TERMINAL
    from reach.tell.sentences import several as sentences

    found = walk.compare_several(setups)
    if as_json:
        console.as_json(sentences.document(found))
        return
    console.rows_first(walk)
    for sentence in sentences.everything(found, say=TERMINAL):
        click.echo(sentence)
    if found.differences:
        click.echo()
        rows = [
            [f"{each.upper} - {each.lower}", _signed(each.difference_db), sentences.interval(each, say=TERMINAL),
             f"{_signed(each.alone_low_db)} to {_signed(each.alone_high_db)}", "yes" if each.apart else ""]
            for each in found.differences
        ]  # fmt: skip
        console.table("Every two, in dB", ["setups", "difference", "95 % all together", "95 % alone", "apart"], rows)
    console.notes_after(walk)


def _print(found: Comparison) -> None:
    from reach.base.words import TERMINAL
    from reach.tell.sentences import comparison as sentences
    from reach.tell.sentences import direction

    for sentence in sentences.everything(found, say=TERMINAL):
        click.echo(sentence)
    shown = [cell for cell in found.cells if cell.shown]
    if shown:
        click.echo()
        columns = [
            "part",
            f"{direction.ends(found).far}s",
            "pairs",
            f"{found.a} - {found.b}",
            "95 % alone",
            "95 % all parts",
            "differs",
        ]
        console.table("Part by part, in dB", columns, [_row(cell) for cell in shown])


def _row(cell: Cell) -> list[str]:
    from reach.base.words import TERMINAL
    from reach.tell.sentences import comparison as sentences

    return [
        f"{cell.by.replace('_', '/')} {sentences.part(cell, say=TERMINAL)}",
        str(cell.receivers),
        str(cell.pairs),
        _signed(cell.difference_db),
        _limits(cell.low_db, cell.high_db),
        _limits(cell.sidak_low_db, cell.sidak_high_db),
        "yes" if cell.differs else "",
    ]


def _signed(value_db: float | None) -> str:
    from reach.base.words import TERMINAL

    return "" if value_db is None else TERMINAL.signed(value_db)


def _limits(low_db: float | None, high_db: float | None) -> str:
    from reach.base.words import TERMINAL

    return "" if low_db is None or high_db is None else TERMINAL.limits(low_db, high_db, unit=False)

"""`reach vet`: check files row by row and list what is wrong or doubtful."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.cli import console, options
from reach.cli.run import mended

if TYPE_CHECKING:
    import pandas as pd

    from reach.findings import Counts, InputFile
    from reach.study import Study
    from reach.vet.ledger import Problems

Said = Callable[["pd.DataFrame"], "pd.DataFrame"]  # problems as people read them
SHOWN = 20
SUSPECTS_SHOWN = 100  # each is a few lines


@click.command("vet", short_help="Check files row by row and list what is wrong or doubtful.")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@options.station
@options.reading
@options.selection
@click.option("--problems", "problems_path", type=click.Path(), help="Write the list of problems to this CSV file.")
@click.option(
    "--write-fixes", "fixes_path", type=click.Path(), help="Write suggestions for you to accept to this CSV file."
)
@options.replace
@click.option("--strict", is_flag=True, help="Exit with 1 if a row is rejected, a duplicate or a suspect.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object: counts, files, problems.")
def command(
    files: tuple[str, ...],
    problems_path: str | None,
    fixes_path: str | None,
    replace: bool,
    strict: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Check spots without mapping them: what is read, accepted, rejected, and why.

    FILES are CSV files (compressed ones too, globs, - for standard input), or one study file that names them.

    \b
      reach vet spots.csv
      reach vet 'may/*.csv' --problems problems.csv
      reach vet spots.csv --locator IO51es  look for suspects too: well-formed and wrong
      reach vet spots.csv --write-fixes fixes.csv
      reach vet spots.csv --strict          exit code 1 where something is wrong
    """
    study = options.study_from(files, **given)
    _may_write(problems_path, fixes_path, options.read_by(files, study), replace=replace)
    with console.progress() as progress:
        progress("reading")
        from reach.walk import Walk

        checked = Walk(study, progress=progress)
        from reach.base.words import TERMINAL
        from reach.tell.sentences import direction, notes
        from reach.tell.sentences import problems as sentences

        way = direction.ends(study)
        wrong, inputs = checked.wrong, checked.inputs
        said = partial(sentences.written, say=TERMINAL, way=way)
        told = [notes.note(each, TERMINAL) for each in checked.notes if each.code in notes.FIRST]
        suspects = checked.suspects if checked.can_place else None
        if problems_path:
            _write(wrong.parts(), Path(problems_path), said, replace=replace)
        if fixes_path:
            from reach.vet import fixes

            _write(fixes.suggestions(said(wrong.table)), Path(fixes_path), replace=replace)
    if as_json:
        console.as_json(
            {"direction": study.direction}
            | _object(checked.counts, inputs, said(wrong.table))
            | {"notes": told, "suspects": _suspects(suspects, study)}
        )
    else:
        _print_understood(inputs)
        for sentence in told:
            click.echo(sentence)
        if checked.rows.applied.rows:
            click.echo(mended(checked.rows.applied.rows))
        _print_suspects(suspects, problems_path)
        _print(checked.counts, wrong, problems_path, said)
        if fixes_path:
            click.echo(
                f"Wrote {fixes_path}. Put yes or another locator under accept, then: reach run ... --fixes {fixes_path}"
            )
    if strict and any(map(is_serious, wrong.counted)):
        raise SystemExit(1)


def is_serious(said: tuple[str, str]) -> bool:
    """Whether problems of a rule and a severity are more than a remark: rejected rows, suspects, duplicates."""
    from reach.vet import ledger

    rule, severity = said
    return severity != ledger.NOTE or rule.startswith(ledger.DUPLICATE)


def _may_write(problems: str | None, fixes: str | None, inputs: Sequence[Path], *, replace: bool) -> None:
    """OutputError, before anything is read, where a file cannot be written: it may hold spots, or the user's decisions."""
    from reach.tell import files

    files.apart([problems, fixes], inputs)
    files.distinct(problems, fixes)
    for path in (problems, fixes):
        if path:
            files.free(path, replace=replace)


def _write(
    table: pd.DataFrame | Iterator[pd.DataFrame], path: Path, said: Said = lambda part: part, *, replace: bool
) -> None:
    from reach.tell import files, tables

    with files.taking_the_place_of(path, replace=replace) as unfinished:
        tables.write_csv(table, unfinished, said=said)


def _suspects(suspects: pd.DataFrame | None, study: Study) -> list[dict[Any, Any]] | None:
    """Suspects as plain values, heaviest first; None where the station's locator is not known."""
    if suspects is None:
        return None
    from reach.base.words import TERMINAL
    from reach.tell.sentences import direction
    from reach.tell.sentences import suspects as sentences

    written = direction.as_written(sentences.written(suspects, say=TERMINAL), direction.ends(study))
    table = written.astype(object)
    return table.where(table.notna(), None).to_dict("records")


def _print_understood(inputs: Sequence[InputFile]) -> None:
    """First how each file was read: whoever sees a wrong column here need not look at what follows from it."""
    from reach.base.words import TERMINAL
    from reach.tell.sentences import understood as sentences

    understood = [file.understood for file in inputs if file.understood is not None]
    if not understood:  # a collection was understood when its files were added
        return
    click.secho("What was understood", bold=True)
    for each in understood:
        for line in sentences.lines(each, TERMINAL):
            click.echo(line)
    click.echo()


def _print_suspects(suspects: pd.DataFrame | None, path: str | None) -> None:
    """Suspects first, by how much they would change the result; of very many the heaviest. path : where all problems are written"""
    if suspects is None:
        click.echo("Give --locator to look for suspects too: rows that are well-formed and wrong.", err=True)
        return
    from reach.base.words import TERMINAL
    from reach.tell.sentences import suspects as sentences

    for row in suspects.head(SUSPECTS_SHOWN).to_dict("records"):
        title, *lines = sentences.report(row, say=TERMINAL)
        click.secho(title, bold=True)
        for line in lines:
            click.echo(f"  {line}")
    if len(suspects) > SUSPECTS_SHOWN:
        all_of_them = path or "--problems problems.csv"
        click.echo(
            f"These are the {SUSPECTS_SHOWN} heaviest of {len(suspects):,} suspects; all of them, row by row: {all_of_them}"
        )
    if len(suspects):
        click.echo()


def _object(counts: Counts, inputs: Sequence[InputFile], problems: pd.DataFrame) -> dict[str, Any]:
    return {
        "counts": counts.numbers,
        "files": [
            {
                "name": file.name,
                "rows": file.rows,
                "sha256": file.sha256,
                "unused_headers": list(file.unused_headers),
                "understood": None if file.understood is None else file.understood.to_dict(),
            }
            for file in inputs
        ],
        "problems": problems.to_dict("records"),
    }


def _print(counts: Counts, wrong: Problems, path: str | None, said: Said) -> None:
    from reach.base.words import TERMINAL
    from reach.tell.sentences import notes

    click.echo(notes.law(counts, TERMINAL))
    if len(wrong):
        _print_rules(wrong)
        _print_first(wrong, path, said)
    if path:
        click.echo(f"Wrote {path}")


def _print_rules(wrong: Problems) -> None:
    """How often each rule spoke, the most frequent first."""
    rows = [[*said, f"{count:,}"] for said, count in wrong.counted.items()]
    click.echo()
    console.table("What is said of the rows", ["rule", "severity", "rows"], rows, left=(0, 1))


def _print_first(wrong: Problems, path: str | None, said: Said) -> None:
    """The first problems, with a word on where the rest is."""
    several = _is_of_several(wrong)
    click.echo()
    rows = []
    for problem in said(wrong.head(SHOWN)).astype("str").to_dict("records"):
        where = f"{problem['source']}:{problem['line']}" if several else problem["line"]
        hint = f" Perhaps {problem['suggestion']}?" if problem["suggestion"] else ""
        rows.append([where, problem["callsign"], problem["locator"], f"{problem['explanation']}{hint}"])
    title = "All of them" if len(wrong) <= SHOWN else f"The first {SHOWN} of {len(wrong):,}"
    console.table(title, ["line", "callsign", "locator", "what"], rows, left=(0, 1, 2, 3))
    if len(wrong) > SHOWN and not path:
        click.echo("All of them as a file: --problems problems.csv")


def _is_of_several(wrong: Problems) -> bool:
    """Whether they are of more than one file."""
    seen: set[str] = set()
    for part in wrong.parts():
        seen.update(part["source"].unique())
        if len(seen) > 1:
            return True
    return False

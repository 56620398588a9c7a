"""`reach vet`: check files row by row and list what is wrong or doubtful."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.cli import console, options

if TYPE_CHECKING:
    import pandas as pd

    from reach.result import Counts, InputFile
    from reach.study import Study

SHOWN = 20


@click.command("vet", short_help="Check files row by row and list what is wrong or doubtful.")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml")
@options.reading
@click.option("--problems", "problems_path", type=click.Path(), help="Write the list of problems to this CSV file.")
@click.option("--strict", is_flag=True, help="Exit with 1 if a row is rejected, a duplicate or a suspect.")
@click.option("--json", "as_json", is_flag=True, help="One JSON object: counts, files, problems.")
def command(files: tuple[str, ...], problems_path: str | None, strict: bool, as_json: bool, **given: Any) -> None:
    """Check spots without mapping them: what is read, accepted, rejected, and why.

    FILES are CSV files (compressed ones too, globs, - for standard input), or one study file that names them.

    \b
      reach vet spots.csv
      reach vet 'may/*.csv' --problems problems.csv
      reach vet spots.csv --strict          exit code 1 where something is wrong
    """
    study = options.study_from(files, **given)
    with console.progress() as progress:
        progress("reading")
        from reach.read.table import read_files
        from reach.vet import rules

        raw, inputs = read_files(*_files(study), columns=study.options.columns, folder=study.folder)
        progress("vetting")
        vetted = rules.vet(raw, station=study.station, options=study.options)
        problems = vetted.problems
        if problems_path:
            progress("writing problems")
            _write(problems, Path(problems_path))
    if as_json:
        console.as_json(_object(vetted.counts, inputs, problems))
    else:
        _print(vetted.counts, inputs, problems, problems_path)
    if strict and serious(problems).any():
        raise SystemExit(1)


def _files(study: Study) -> list[str]:
    """The files of a study: those named on top, and those of its sessions."""
    return list(dict.fromkeys([*study.files, *(name for session in study.sessions for name in session.files)]))


def serious(problems: pd.DataFrame) -> pd.Series:
    """Which problems are more than a remark: rejected rows, suspects, duplicates."""
    return (problems["severity"] != "note") | problems["rule"].str.startswith("duplicate")


def _write(problems: pd.DataFrame, path: Path) -> None:
    from reach.errors import OutputError
    from reach.tell.folder import write_csv

    try:
        write_csv(problems, path)
    except OSError as error:
        raise OutputError(f"{path}: cannot be written ({error.strerror}).") from None


def _object(counts: Counts, inputs: Sequence[InputFile], problems: pd.DataFrame) -> dict[str, Any]:
    return {
        "counts": {
            "read": counts.read,
            "accepted": counts.accepted,
            "rejected": counts.rejected,
            "duplicates": counts.duplicates,
        },
        "files": [
            {"name": file.name, "rows": file.rows, "sha256": file.sha256, "unused_headers": list(file.unused_headers)}
            for file in inputs
        ],
        "problems": problems.to_dict("records"),
    }


def _print(counts: Counts, inputs: Sequence[InputFile], problems: pd.DataFrame, path: str | None) -> None:
    rows = "row" if counts.read == 1 else "rows"
    parts = f"{counts.accepted:,} accepted + {counts.rejected:,} rejected + {counts.duplicates:,} duplicates"
    click.echo(f"{counts.read:,} {rows} read = {parts}")
    for file in inputs:
        if file.unused_headers:
            click.echo(f"Not used in {file.name}: {', '.join(file.unused_headers)}")
    if len(problems):
        _print_rules(problems)
        _print_first(problems, path)
    if path:
        click.echo(f"Wrote {path}")


def _print_rules(problems: pd.DataFrame) -> None:
    """How often each rule spoke, the most frequent first."""
    counted = Counter(zip(problems["rule"].astype(str), problems["severity"].astype(str), strict=True))
    rows = [[*said, f"{count:,}"] for said, count in sorted(counted.items(), key=lambda item: (-item[1], item[0]))]
    click.echo()
    console.table("What is said of the rows", ["rule", "severity", "rows"], rows, left=(0, 1))


def _print_first(problems: pd.DataFrame, path: str | None) -> None:
    """The first problems, with a word on where the rest is."""
    several = len(problems["source"].unique()) > 1
    click.echo()
    rows = []
    for problem in problems.head(SHOWN).astype("str").to_dict("records"):
        where = f"{problem['source']}:{problem['line']}" if several else problem["line"]
        hint = f" Perhaps {problem['suggestion']}?" if problem["suggestion"] else ""
        rows.append([where, problem["callsign"], problem["locator"], f"{problem['explanation']}{hint}"])
    title = "All of them" if len(problems) <= SHOWN else f"The first {SHOWN} of {len(problems):,}"
    console.table(title, ["line", "callsign", "locator", "what"], rows, left=(0, 1, 2, 3))
    if len(problems) > SHOWN and not path:
        click.echo("All of them as a file: --problems problems.csv")

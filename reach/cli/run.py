"""`reach run`: from CSV files or a study to a folder of maps, charts, tables and a page."""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from reach.base import memory
from reach.cli import console, options

if TYPE_CHECKING:
    from reach.findings import Findings
    from reach.study import Study
    from reach.walk import Walk

_MANY: Final = (
    1_000_000  # rows of a collection, from which on reading them keeps two processors busy for half a second and more
)


@click.command("run", short_help="From CSV files or a study to a folder of maps, charts, tables and a page.")
@click.argument("files", nargs=-1, required=True, metavar="FILES|STUDY.toml|COLLECTION")
@options.of_spots
@options.language
@options.local_time
@options.compared
@click.option("--title", help="Title of the report, and the folder's name.")
@click.option("--out", type=click.Path(), help="Folder to write.  [default: outputs/<study>]")
@click.option("--style", type=click.Choice(["light", "dark"]), default="light", show_default=True, help="Of pictures.")
@click.option("--write-study", type=click.Path(), help="Only write a study file to start from, and stop.")
@click.option("--csv", is_flag=True, help="Spots as CSV even beyond 100,000 of them, where Parquet is written else.")
@click.option("--both", is_flag=True, help="Two reports that link to each other: what others heard, what it heard.")
@options.replace
@click.option("--json", "as_json", is_flag=True, help="Print the summary as one JSON object.")
def command(
    files: tuple[str, ...],
    fixes: str | None,
    out: str | None,
    style: str,
    write_study: str | None,
    csv: bool,
    both: bool,
    language: str | None,
    replace: bool,
    as_json: bool,
    **given: Any,
) -> None:
    """Check, map, measure and show spots.

    FILES are CSV files (compressed ones too, globs, - for standard input), or one study file that names files,
    setups, sessions and a comparison.

    \b
      reach run spots.csv --locator IO51es --power 5
      reach run 'may/*.csv' --locator IO51es --write-study may.toml
      reach run spots.csv --locator IO51es --a vertical --b wire --schedule schedule.csv
      reach run spots.csv --callsign EI4QTB --heard   what the station itself heard
      reach run may.toml --fixes fixes.csv
    """
    if write_study:
        options.none_elsewhere(files, "--write-study")
    study = options.study_from(files, **given)
    if language or not write_study:  # what is only the system's is not written down
        study = options.in_language(study, language)
    inputs = options.read_by(files, study, fixes)
    if write_study:
        told = any(given[name] not in (None, ()) for name in ("columns", "zones", "day_first"))
        _write_study(study, Path(write_study), inputs, settle=told or not study.source, replace=replace)
        return
    folder = Path(out) if out else Path("outputs") / folder_name(study, files)
    # A report a direction: each in a folder of its own where there are two, with the way to the other's page.
    ways = ("sent", "heard") if both else (study.direction,)
    folders = {way: folder / way if both else folder for way in ways}
    for each in folders.values():
        may_write(each, inputs, replace=replace)
    from reach.tell import folder as written
    from reach.tell import pictures
    from reach.tell.sentences import direction

    # They load while this process reads, but not beside one that needs all processors for it.
    with pictures.Drawers(at_once=not _is_large(study)) as drawers, contextlib.ExitStack() as ended:
        begun = []

        def begin(walk: Walk) -> None:
            """Millions of spots are written while the walk goes on."""
            one = ended.enter_context(contextlib.ExitStack())
            report = one.enter_context(written.begin(folders[walk.study.direction], csv=csv, replace=replace))
            report.write_spots(walk.spots, direction.ends(walk.study), drawers)
            begun.append((one, report))

        found = walked(study, *ways, fixes=fixes, begin=begin)
        for k, (findings, (one, report)) in enumerate(zip(found, begun, strict=True)):
            if not as_json:
                tell(findings, named=both)
            other = f"../{ways[1 - k]}/report.html" if both else ""
            with console.progress() as progress, one:
                report.draw(findings, drawers, style=style)
                report.finish(progress, other=other)
    if as_json:
        said = [written.summary_file(findings) for findings in found]
        console.as_json(dict(zip(ways, said, strict=True)) if both else said[0])
        return
    for each in folders.values():
        click.echo(f"Open {each / 'report.html'}")


def _is_large(study: Study) -> bool:
    """Whether a study is about a collection of so many rows that reading them is work for every processor."""
    from reach.archive import ledger, rows

    collection = rows.collection_of(study)
    return collection is not None and sum(entry.rows for entry in ledger.read(collection).entries) > _MANY


def may_write(out: Path, inputs: Iterable[Path] = (), *, replace: bool = False) -> None:
    """OutputError, before anything is read, where the report cannot be written to this folder."""
    from reach.tell import folder

    folder.check(out, makes=folder.MAKES, replace=replace, inputs=inputs)


def walked(
    study: Study, *ways: str, fixes: str | None = None, begin: Callable[[Walk], None] = lambda walk: None
) -> list[Findings]:
    """Everything found in each direction, the study's own where none is named; with progress on stderr. The files are read
    once.

    begin : what is done with each walk before anything is found
    """
    with console.progress() as progress:
        progress("starting")
        from reach.walk import Walk

        found = _found(Walk(study, fixes=fixes, progress=progress), ways or (study.direction,), begin)
        # Of a year half of what is held, now that the walk is gone: drawing needs little, but for each process that draws.
        memory.give_back_now()
        return found


def _found(walk: Walk, ways: Iterable[str], begin: Callable[[Walk], None]) -> list[Findings]:
    found = []
    for each in [walk.towards(way) for way in ways]:
        begin(each)
        found.append(each.findings.without_cells())
    return found


def tell(findings: Findings, *, named: bool = False) -> None:
    """The answer in a few lines: it does not wait for the pictures. What was left out, and why, stands above it.

    named : whether to say first in which direction it is
    """
    from reach.base.words import TERMINAL
    from reach.tell.sentences import notes
    from reach.tell.sentences import reach as sentences

    if named:
        click.secho(sentences.circumstances(findings, TERMINAL), bold=True)
    click.echo(" ".join([sentences.counts(findings, TERMINAL), *sentences.left_out(findings, TERMINAL)]))
    if findings.fixed_rows:
        click.echo(mended(findings.fixed_rows))
    click.echo()
    for sentence in sentences.answer(findings, TERMINAL):
        click.echo(sentence.text)
        if sentence.needs_evidence and sentence.evidence:
            click.echo(sentence.evidence)
    for note in notes.after(findings.notes, TERMINAL):
        click.echo(f"Note: {note}")


def mended(rows: int) -> str:
    """That rows were changed by the corrections that the user approved."""
    from reach.base.words import TERMINAL

    return f"{TERMINAL.things(rows, 'row')} had {'its' if rows == 1 else 'their'} locator replaced as you asked."


def folder_name(study: Study, files: tuple[str, ...]) -> str:
    """A plain folder name from the title, else from the first file."""
    first = Path(files[0]).name if files else "spots"
    text = study.title or ("standard-input" if first == "-" else first.split(".")[0])
    plain = "".join(letter if letter.isalnum() else "-" for letter in text.lower())
    return "-".join(part for part in plain.split("-") if part)[:60] or "spots"


def _write_study(study: Study, path: Path, inputs: list[Path], *, settle: bool, replace: bool) -> None:
    """The study as a file.

    settle : whether to write how each of its files is read, so that nothing is asked again. They are opened for that: what
        they leave open is asked now. A study that is only rewritten may be about files that are not there yet.
    """
    from reach import study as studies
    from reach.tell import files, study_file
    from reach.walk import Walk

    files.apart([path], inputs)
    files.free(path, replace=replace)
    if settle:
        with console.progress() as progress:
            study = studies.settled(study, Walk(study, progress=progress).understood)
    files.write(path, study_file.text(study, beside=path.parent), replace=replace)
    click.echo(f"Wrote {path}. Fill in your setups and sessions, then: reach run {path}")

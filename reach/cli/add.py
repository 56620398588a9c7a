"""`reach add`: put exports into a collection, which grows and is never read anew."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.cli import console, options

if TYPE_CHECKING:
    from reach.archive.ledger import Entry
    from reach.study import Study


@click.command("add", short_help="Put exports into a collection that grows.")
@click.argument("files", nargs=-1, required=True, metavar="FILES")
@click.option(
    "--to", "folder", type=click.Path(), required=True, metavar="COLLECTION", help="Folder of the collection."
)
@options.station
@options.reading
def command(files: tuple[str, ...], folder: str, **given: Any) -> None:
    """Read exports once, judge their rows, and keep them in a folder. The same file twice, or one that overlaps, adds nothing twice.

    Wherever a command takes FILES it takes a collection. Its study.toml and fixes.csv, if you put them there, are applied
    whenever it is read. What is said of the station when the collection is begun is written to its study.toml.

    \b
      reach add 'october/*.csv' --to my-year --callsign EI4QTB --locator IO51es --power 5
      reach add yesterday.csv --to my-year
      reach run my-year --from 2026-10-01 --to 2026-11-01 --band 20m
      reach list my-year
    """
    from reach.archive import asked, collection
    from reach.base.words import TERMINAL
    from reach.read import sources
    from reach.tell.sentences import collection as sentences

    home = Path(folder)
    study = options.changed(asked.study_of(home), **given)
    paths = sources.expand(files, Path())
    with console.progress() as progress, collection.adding(home):
        _begin(home, study, told=any(given[name] is not None for name in ("callsign", "locator", "power_w")))
        for path in paths:
            name = sources.STANDARD_INPUT if path is None else path.name
            if path is not None and _is_here(home, path, study):
                click.echo(sentences.already(name))
                continue
            progress(f"reading {name}")
            for entry in _add(home, study, path):
                click.echo(sentences.added(entry, TERMINAL))


def _begin(home: Path, study: Study, *, told: bool) -> None:
    """Write what is said of the station beside the data, where the user has written nothing there yet."""
    from reach.archive import collection
    from reach.tell import files, study_file

    path = home / collection.STUDY
    if told and not path.exists():
        bare = study.model_copy(update={"files": [], "folder": home})
        files.write(path, study_file.text(bare, beside=home))


def _is_here(home: Path, path: Path, study: Study) -> bool:
    """Whether this very file was added before. What cannot be read is told by who reads it."""
    from reach.archive import ledger

    if not path.is_file():
        return False
    with path.open("rb") as content:
        sha256 = hashlib.file_digest(content, "sha256").hexdigest()
    return ledger.read(home).holds(sha256, study.direction)


def _add(home: Path, study: Study, path: Path | None) -> list[Entry]:
    """Read one file and keep what it holds."""
    from reach.archive import collection, taking

    with collection.staging(home) as staged:
        (entered,) = collection.enter(home, [(staged, taking.adds(study, path, staged))])
    return entered

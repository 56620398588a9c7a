"""`reach add`: put exports into a collection, which grows and is never read anew."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from reach.cli import console, options

if TYPE_CHECKING:
    from reach.archive.ledger import Entry
    from reach.read.remote import Url
    from reach.study import Study


@click.command("add", short_help="Put exports into a collection that grows.")
@click.argument("files", nargs=-1, required=True, metavar="FILES")
@click.option(
    "--to", "folder", type=click.Path(), required=True, metavar="COLLECTION", help="Folder of the collection."
)
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Dask scheduler whose workers read the files, or `local`: a worker on each core here.",
)
@options.station
@options.reading
def command(files: tuple[str, ...], folder: str, cluster: str | None, **given: Any) -> None:
    """Read exports once, judge their rows, and keep them in a folder. The same file twice, or one that overlaps, adds nothing twice.

    Wherever a command takes FILES it takes a collection. Its study.toml and fixes.csv, if you put them there, are applied
    whenever it is read. What is said of the station when the collection is begun is written to its study.toml.

    \b
      reach add 'october/*.csv' --to my-year --callsign EI4QTB --locator IO51es --power 5
      reach add yesterday.csv --to my-year
      reach run my-year --from 2026-10-01 --to 2026-11-01 --band 20m
      reach list my-year
      reach add 'all/*.csv.gz' --to /data/all --cluster tcp://10.0.0.7:8786
    """
    from reach.archive import asked, collection
    from reach.base.words import TERMINAL
    from reach.read import sources
    from reach.tell.sentences import collection as sentences

    home = Path(folder)
    study = options.changed(asked.study_of(home, given["callsign"]), **given)
    paths = _named(files)
    with console.progress() as progress, collection.adding(home):
        _begin(home, study, told=any(given[name] is not None for name in ("callsign", "locator", "power_w")))
        with _adding(cluster, home, study, paths) as added:
            for path in paths:
                name = sources.STANDARD_INPUT if path is None else path.name
                progress(f"reading {name}")
                for line in [sentences.added(entry, TERMINAL) for entry in next(added)] or [sentences.already(name)]:
                    click.echo(line)


def _named(files: tuple[str, ...]) -> list[Path | Url | None]:
    """What is to be added, in order: paths, URLs, None for standard input."""
    from reach.read import remote, sources

    found: list[Path | Url | None] = []
    for is_url, names in ((key, tuple(group)) for key, group in itertools.groupby(files, remote.is_url)):
        found += [url for name in names for url in remote.listed(name)] if is_url else sources.expand(names, Path())
    return list(dict.fromkeys(found))


@contextlib.contextmanager
def _adding(
    address: str | None, home: Path, study: Study, paths: Sequence[Path | Url | None]
) -> Iterator[Iterator[list[Entry]]]:
    """For each file the entries that it added, none where it was there: worked out here, or on a cluster."""
    if address is None:
        from reach.archive import taking

        yield (taking.add(home, study, path) for path in paths)
        return
    from reach.archive import cluster

    with (
        cluster.joined(address, most=len(paths)) as client,
        contextlib.closing(cluster.add(client, home, study, paths)) as added,
    ):
        yield added


def _begin(home: Path, study: Study, *, told: bool) -> None:
    """Write what is said of the station beside the data, where the user has written nothing there yet."""
    from reach.archive import collection
    from reach.tell import files, study_file

    path = home / collection.STUDY
    if told and not path.exists():
        bare = study.model_copy(update={"files": [], "folder": home})
        files.write(path, study_file.text(bare, beside=home))

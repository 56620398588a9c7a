"""`reach list`: what a collection holds."""

from __future__ import annotations

from pathlib import Path

import click

from reach.cli import console


@click.command("list", short_help="What a collection holds: stations, days, files.")
@click.argument("folder", type=click.Path(), metavar="COLLECTION")
@click.option(
    "--summary",
    is_flag=True,
    help="Of each station: reports, receivers, farthest, median distance, first and last day.",
)
@click.option(
    "--cluster", metavar="ADDRESS", help="With --summary: Dask scheduler whose workers read the stations, or `local`."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object: stations, files.")
def command(folder: str, summary: bool, cluster: str | None, as_json: bool) -> None:
    """Say which stations a collection holds, on which days they were reported, and which files were added.

    \b
      reach list my-year
      reach list /data/all --summary --cluster local
    """
    from reach.archive import listing
    from reach.base.words import TERMINAL
    from reach.tell.sentences import collection as sentences

    if cluster and not summary:
        raise click.UsageError("--cluster: goes with --summary.")
    if summary:
        _summarise(Path(folder), cluster, as_json=as_json)
        return
    held = listing.held(Path(folder))
    if as_json:
        console.as_json(held.to_dict())
        return
    stations = [sentences.station(each, TERMINAL) for each in held.stations]
    console.table(
        "Stations", ["station", "direction", "spots", "days", "first", "last", "files"], stations, left=(0, 1)
    )
    click.echo()
    files = [sentences.file(entry, TERMINAL) for entry in held.files]
    console.table(
        "Files, in the order they were added",
        ["file", "direction", "rows", "sound", "rejected", "set aside"],
        files,
        left=(0, 1),
    )


def _summarise(folder: Path, address: str | None, *, as_json: bool) -> None:
    """Every station in figures, the most reports first: worked out here, one after the other, or on a cluster."""
    from reach.archive import transmitters
    from reach.base.words import TERMINAL
    from reach.tell.sentences import collection as sentences

    if address is None:
        which = transmitters.stations(folder)
        with console.bar("stations", len(which)) as done:
            parts = []
            for k, each in enumerate(transmitters.summaries(folder, which), 1):
                parts.append([each])
                done(k)
        found = transmitters.merged(parts)
    else:
        from reach.archive import cluster

        with cluster.joined(address, most=len(transmitters.stations(folder))) as client:
            found = cluster.summaries(client, folder)
    if as_json:
        console.as_json({"stations": [each.to_dict() for each in found]})
        return
    columns = ["station", "direction", "reports", "receivers", "half from beyond", "farthest", "by", "first", "last"]
    console.table("Stations", columns, [sentences.summary(each, TERMINAL) for each in found], left=(0, 1, 6))

"""`reach demo`: the whole walk on the bundled samples."""

from __future__ import annotations

import contextlib
from pathlib import Path

import click

from reach.cli import console, options
from reach.cli.run import may_write, tell, walked

SAMPLES = ("evening", "weekend", "messy", "listening", "shared", "garden", "season")


@click.command("demo", short_help="Run the whole walk on the bundled, made-up sample spots.")
@click.option("--out", type=click.Path(), default="outputs", show_default=True, help="Folder to write the folders in.")
@click.option("--only", type=click.Choice(SAMPLES), help="One of the samples.")
@click.option("--style", type=click.Choice(["light", "dark"]), default="light", show_default=True, help="Of pictures.")
@options.language
@options.replace
def command(out: str, only: str | None, style: str, language: str | None, replace: bool) -> None:
    """Show what reach does, on made-up spots of a made-up station.

    \b
      evening   two antennas alternated every ten minutes: a comparison that can tell
      weekend   one antenna a day: a comparison that cannot tell, and says so
      messy     an export with everything that goes wrong in exports
      listening what the station heard of others, with two antennas
      shared    an export that holds another station's reports too
      garden    three antennas in turn: who is best, and who cannot be told apart
      season    two months of evenings against three neighbours: what changed, and whose it was
    """
    from reach import study
    from reach.tell import folder as written
    from reach.tell import pictures

    where = samples_folder()
    folders = {name: Path(out) / f"demo-{name}" for name in ((only,) if only else SAMPLES)}
    for folder in folders.values():
        may_write(folder, replace=replace)
    with pictures.Drawers() as drawers, contextlib.ExitStack() as ended:
        begun = {}
        for name, folder in folders.items():
            (findings,) = walked(options.in_language(study.load(where / f"{name}.toml"), language))
            click.secho(findings.study.title, bold=True)
            tell(findings)
            click.echo()
            # Its pictures are drawn while the next study is walked through.
            one = ended.enter_context(contextlib.ExitStack())
            each = one.enter_context(written.begin(folder, replace=replace))
            each.draw(findings, drawers, style=style)
            begun[folder] = one, each
        for folder, (one, each) in begun.items():
            with console.progress() as progress, one:
                each.finish(progress)
            click.echo(f"Open {folder / 'report.html'}")


def samples_folder() -> Path:
    """Where the samples are: in the package as installed, or beside it in a checkout."""
    import reach
    from reach.errors import InputError

    package = Path(reach.__file__).parent
    for folder in (package / "sample_spots", package.parent / "sample_spots"):
        if folder.is_dir():
            return folder
    raise InputError("the sample spots are missing from this installation.")

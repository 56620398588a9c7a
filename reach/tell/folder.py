"""Write one walk's findings as a folder: page, pictures, tables, manifest.

The folder appears whole or not at all: everything is written beside it under another name and renamed at the end, so
a failed or interrupted run leaves an older folder as it was. The same input gives the same bytes.
"""

from __future__ import annotations

import contextlib
import json
import os
import platform
import shutil
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Any

from reach.base import beside, ways, words
from reach.base.installed import version_of
from reach.base.words import TERMINAL
from reach.errors import OutputError
from reach.findings import Findings
from reach.tell import files, geodata, pictures, tables
from reach.tell.sentences import calendar, direction, problems, season, several, suspects
from reach.tell.sentences import comparison as sentences

if TYPE_CHECKING:
    import pandas as pd

MANIFEST = "manifest.json"
MAKES = ("report.html", "summary.json", "problems.csv", "suspects.csv")  # always
MOST_AS_CSV = 100_000  # spots: what a spreadsheet still opens without complaint
_SHAPES_THE_NUMBERS = ("numpy", "pandas", "pyarrow", "pyproj", "shapely", "scipy", "maidenhead", "cartopy")
_SHAPES_THE_PICTURES = ("matplotlib", "pillow")
Step = Callable[[str], None]


def write(
    findings: Findings,
    out: str | Path,
    *,
    style: str = "light",
    csv: bool = False,
    replace: bool = False,
    drawers: pictures.Drawers | None = None,
    other: str = "",
    progress: Step = lambda step: None,
) -> Path:
    """Write the whole folder.

    findings : one walk's findings
    out : the folder to make or to replace, what else is in it staying; its parent is made where it is missing
    style : light or dark, for the pictures
    csv : spots as CSV even where they are so many that Parquet serves better
    replace : whether files that were changed after an earlier run may be written over
    drawers : who draws the pictures, where they were started before; started and ended here where left out
    other : address, from this folder, of the page about the other direction; the page then links to it
    progress : told the name of each step
    Returns the folder. OutputError where it cannot be written, or holds something that `reach` did not write.
    """
    out = Path(out)
    with contextlib.ExitStack() as ended:
        drawers = drawers or ended.enter_context(pictures.Drawers())
        begun = ended.enter_context(begin(out, csv=csv, replace=replace))
        begun.draw(findings, drawers, style=style)
        begun.finish(progress, other=other)
    return out


@contextlib.contextmanager
def begin(out: str | Path, *, csv: bool = False, replace: bool = False) -> Iterator[Begun]:
    """A folder in the making, of which each part is begun as soon as what it takes is known.

    Arguments and errors as `write`. Yields Begun, which is to be finished; the folder is there when the context ends.
    """
    with replacing(Path(out), makes=MAKES, replace=replace) as folder, contextlib.ExitStack() as ended:
        yield Begun(folder, csv, ended)


class Begun:
    """A folder in the making. The table of spots and the pictures are made beside whatever else this process does, such as the
    rest of the walk, or the next study's."""

    _findings: Findings
    _drawing: pictures.Drawing

    def __init__(self, folder: Path, csv: bool, ended: contextlib.ExitStack) -> None:
        self._folder, self._csv, self._ended = folder, csv, ended
        self._beside = ended.enter_context(ThreadPoolExecutor(1))
        self._spots: Future[None] | None = None

    def write_spots(self, spots: pd.DataFrame, way: direction.Ends, drawers: pictures.Drawers) -> None:
        """Begin with the table of spots; who draws starts at its end at the latest. way : words of the direction"""
        self._spots = self._beside.submit(write_spots, spots, self._folder, way, csv=self._csv)
        self._beside.submit(drawers.begin)

    def draw(self, findings: Findings, drawers: pictures.Drawers, *, style: str = "light") -> None:
        """Have the pictures drawn; DrawError for an unknown style."""
        self._findings = findings
        self._drawing = self._ended.enter_context(drawers.start(findings, self._folder / "pictures", style=style))

    def finish(self, progress: Step = lambda step: None, *, other: str = "") -> None:
        """Write the tables and the page, draw what is left, and the manifest last of all. other : as for `write`"""
        from reach.tell import page

        write_tables(self._findings, self._folder, csv=self._csv, spots=self._spots is None, progress=progress)
        progress("writing the page")
        _text(self._folder / "report.html", page.html(self._findings, other=other))
        self._drawing.finish(progress)
        if self._spots is not None:
            self._spots.result()
        write_manifest(self._findings, self._folder)


def write_tables(
    findings: Findings, folder: Path, *, csv: bool = False, spots: bool = True, progress: Step = lambda step: None
) -> None:
    """Write summary.json, comparison.json, setups.json, season.json, season.csv and the tables of a long period where there are
    such, spots.csv, problems.csv, suspects.csv, receivers.csv and .geojson.

    Where the station heard others the last two are transmitters.csv and .geojson, and columns say rx_ of the station.
    csv : spots as CSV however many; else more than MOST_AS_CSV are written as spots.parquet instead, with
        receivers.parquet, which map programs open too, beside the other two
    spots : whether the table of spots is still to be written
    """
    progress("writing tables")
    way = direction.ends(findings)
    if spots:
        write_spots(findings.spots, folder, way, csv=csv)
    receivers = direction.as_written(findings.receivers, way)
    _text(folder / "summary.json", to_json(summary_file(findings)))
    if findings.comparison is not None:
        _text(folder / "comparison.json", to_json(sentences.document(findings.comparison)))
    if findings.season is not None:
        _text(folder / "season.json", to_json(season.document(findings.season)))
        tables.write_csv(season.days(findings.season), folder / "season.csv")
    if findings.several is not None:
        _text(folder / "setups.json", to_json(several.document(findings.several)))
    if findings.calendar is not None:
        for name, table in calendar.written(findings.calendar).items():
            tables.write_csv(direction.as_written(table, way), folder / f"{name}.csv")
    if not _as_csv(findings.spots, csv):
        geodata.write_geoparquet(receivers, folder / f"{way.far}s.parquet")
    said = partial(problems.written, say=TERMINAL, way=way)
    tables.write_csv(findings.wrong.parts(), folder / "problems.csv", said=said)
    doubted = direction.as_written(suspects.written(findings.suspects, say=TERMINAL), way)
    tables.write_csv(doubted, folder / "suspects.csv")
    tables.write_csv(receivers, folder / f"{way.far}s.csv")
    _text(folder / f"{way.far}s.geojson", geodata.receivers_geojson(receivers))


def write_spots(spots: pd.DataFrame, folder: Path, way: direction.Ends, *, csv: bool = False) -> None:
    """Write the one table of them that has a row for each spot."""
    if _as_csv(spots, csv):
        tables.write_csv(direction.as_written(spots, way), folder / "spots.csv")
    else:
        tables.write_parquet(direction.as_written(spots, way), folder / "spots.parquet")


def _as_csv(spots: pd.DataFrame, csv: bool) -> bool:
    return csv or len(spots) <= MOST_AS_CSV


def summary_file(findings: Findings) -> dict[str, Any]:
    """What goes into summary.json: counts of rows, then the summary, then power at the antenna."""
    counts = findings.counts
    return {
        "title": findings.study.title,
        "made_up": findings.study.made_up,
        "direction": findings.direction,
        "counts": {
            **counts.numbers,
            "fixed": findings.fixed_rows,
            "suspect_receivers": len(findings.suspects),
        },
        **findings.reach.to_dict(),
        **({"season": season.short(findings.season)} if findings.season is not None else {}),
        **({"setups": several.summary(findings.several)} if findings.several is not None else {}),
    }


def manifest(findings: Findings, folder: Path) -> dict[str, Any]:
    """Where the numbers come from: versions, SHA-256 of inputs and outputs, options. No date: runs can be compared."""
    return {
        "reach": version_of("reach"),
        "python": platform.python_version(),
        "packages": {name: version_of(name) for name in _SHAPES_THE_NUMBERS + _SHAPES_THE_PICTURES},
        "inputs": [
            {"name": file.name, "sha256": file.sha256, "rows": file.rows, "unused_headers": list(file.unused_headers)}
            for file in findings.inputs
        ],
        "now": findings.now.isoformat() if findings.now else None,
        "study": findings.study.model_dump(mode="json", exclude_none=True),
        "counts": findings.counts.numbers,
        "rows_fixed_on_request": findings.fixed_rows,
        "outputs": hashes(folder),
    }


def hashes(folder: Path) -> dict[str, str]:
    """SHA-256 of each file below a folder, by its path from there, in order."""
    return {
        path.relative_to(folder).as_posix(): files.sha256(path) for path in sorted(folder.rglob("*")) if path.is_file()
    }


def write_manifest(findings: Findings, folder: Path) -> None:
    """Write the manifest of what lies in a folder, last of all."""
    _text(folder / MANIFEST, to_json(manifest(findings, folder)))


def to_json(value: Any) -> str:
    """JSON as written to files: readable, keys in their order, no NaN."""
    return json.dumps(value, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


@contextlib.contextmanager
def replacing(out: Path, *, makes: tuple[str, ...] = (), replace: bool = False) -> Iterator[Path]:
    """A temporary folder that takes the place of `out` when all went well, with whatever there is not ours kept in it.

    makes, replace : as for `check`
    Yields the temporary folder, beside `out`. OutputError as `check`, where what was made has the name of a kept file,
    or where the place cannot be written to; then `out` is as it was.
    """
    check(out, makes=makes, replace=replace)
    real = out.resolve()  # where `out` is a link to a folder, that folder is meant
    with contextlib.ExitStack() as ended:
        # What stands around it and has to be made goes again where nothing comes of it.
        ended.callback(_away_if_empty, [each for each in real.parents if not each.exists()])
        try:
            real.parent.mkdir(parents=True, exist_ok=True)
            with beside.turn(real.parent):
                if beside.clear(real):
                    raise OutputError(
                        f"{out}: another run of `reach` is writing it just now; wait for that one, or choose another folder."
                    )
                partial = ended.enter_context(beside.folder(real))
        except OSError as error:
            raise OutputError(f"{out}: cannot be written ({files.why(error)}); choose another place.") from None
        try:
            yield partial
            _put(partial, out, real, makes=makes, replace=replace)
        except OSError as error:
            raise OutputError(f"{out}: could not be written ({files.why(error)}).") from None


def _away_if_empty(folders: Iterable[Path]) -> None:
    """folders : from the innermost on"""
    for each in folders:
        with contextlib.suppress(OSError):  # not made, or something is in it
            each.rmdir()


def _put(partial: Path, out: Path, real: Path, *, makes: tuple[str, ...], replace: bool) -> None:
    """The finished folder takes its place."""
    _flush(partial)
    # Looked at again, for a note may have been put there while pictures were drawn.
    held = check(out, makes=makes, replace=replace)
    _keep(real, partial, held.kept, out)
    partial.chmod(0o777 & ~files.umask())
    _swap(partial, real, {*held.ours, *held.kept, MANIFEST})
    beside.settle(real.parent)


@dataclass(frozen=True)
class Held:
    """What a folder holds, as paths from there: what an earlier run wrote and nobody changed, and all else."""

    ours: tuple[str, ...] = ()
    kept: tuple[str, ...] = ()


def check(
    out: Path,
    *,
    makes: tuple[str, ...] = (),
    replace: bool = False,
    inputs: Iterable[str | Path | None] = (),
) -> Held:
    """What lies in the folder to be written, if it may be written at all.

    out : free, empty, or an earlier run's folder
    makes : names that such a run always writes; a folder of ours without the first of them is another command's
    replace : whether files that were changed after `reach` wrote them may be written over
    inputs : what is about to be read: none of it may be among the files that go
    Returns Held. OutputError, which names the files, where the folder is to be left alone.
    """
    if not os.path.lexists(out):
        beside.clear(out.resolve())  # a run that was killed while it put a new folder in the place of the old one
    if not os.path.lexists(out):
        return Held()
    if not out.is_dir():
        raise OutputError(f"{out}: is a file; a folder is wanted that `reach` may make or replace.")
    there = _files(out)
    if not there:
        return Held()
    known = _known(out / MANIFEST)
    if known is None:
        others = [name for name in there if name != MANIFEST] or there
        why = f"its {MANIFEST} is not ours" if (out / MANIFEST).exists() else f"no {MANIFEST}"
        raise OutputError(
            f"{out}: holds {_listed(others)}, which `reach` did not write ({why}), so it is left alone; "
            f"{ways.asked('elsewhere', 'folder')}."
        )
    if makes and makes[0] not in known:
        raise OutputError(f"{out}: holds what another command of `reach` wrote; {ways.asked('elsewhere', 'folder')}.")
    same = _same(out, there, known)
    changed = [name for name, unchanged in same.items() if not unchanged]
    if changed and not replace:
        raise OutputError(
            f"{out}: {_listed(changed)} {'were' if len(changed) > 1 else 'was'} changed after `reach` wrote the folder, "
            f"so it is left alone; {ways.asked('elsewhere', 'folder', 'your changes')}."
        )
    foreign = [name for name in there if name not in known and name != MANIFEST]
    _no_clash(out, makes, foreign)
    files.apart([out / name for name in (*same, MANIFEST)], inputs)
    return Held(tuple(name for name, unchanged in same.items() if unchanged), (*foreign, *changed))


def edited(out: Path) -> list[str]:
    """What an earlier run wrote into a folder and somebody changed since, as paths from there."""
    known = _known(out / MANIFEST) or {}
    return [name for name, unchanged in _same(out, _files(out), known).items() if not unchanged]


def _same(out: Path, there: Iterable[str], known: dict[str, str]) -> dict[str, bool]:
    """Of what lies in a folder and an earlier run wrote, whether it is as that run left it."""
    return {name: _sha256(out / name) == known[name] for name in there if name in known}


def _known(manifest: Path) -> dict[str, str] | None:
    """SHA-256 by path of what the manifest of an earlier run lists; None where it is no manifest of ours."""
    try:
        told = json.loads(manifest.read_text(encoding="utf-8"))
        outputs = told["outputs"] if "reach" in told else None
    except (OSError, ValueError, KeyError, TypeError):
        return None
    sound = isinstance(outputs, dict) and all(isinstance(value, str) for value in outputs.values())
    return outputs if sound else None


def _files(folder: Path) -> list[str]:
    """Every file below a folder, links and empty folders too, by its path from there, in order. Links are not followed:
    what they lead to is none of ours."""
    found = []
    for at, folders, names in os.walk(folder, followlinks=False):
        links = [name for name in folders if (Path(at) / name).is_symlink()]
        found += [Path(at) / name for name in (*names, *links)]
        if not folders and not names and Path(at) != folder:
            found.append(Path(at))
    return sorted(path.relative_to(folder).as_posix() for path in found)


def _sha256(file: Path) -> str:
    """Empty where a link or a folder has taken the file's place: that is a change too."""
    if file.is_symlink() or not file.is_file():
        return ""
    return files.sha256(file)


def _no_clash(out: Path, made: Iterable[str], foreign: Iterable[str]) -> None:
    """OutputError where what is made would take the place of a foreign file, or of a folder that one lies in."""
    new = set(made)
    above = {parent.as_posix() for name in new for parent in PurePosixPath(name).parents}
    for name in foreign:
        if name in new or name in above or any(parent.as_posix() in new for parent in PurePosixPath(name).parents):
            raise OutputError(
                f"{out}: holds {name}, which `reach` did not write and would write over; "
                "move it elsewhere or choose another folder."
            )


def _keep(out: Path, partial: Path, kept: Iterable[str], said: Path) -> None:
    """Give the new folder everything of the old one that is not ours, the old one staying as it is.

    A changed file of ours that was made anew is not kept: it comes here only where the user said --replace.
    """
    made = set(_files(partial))
    known = _known(out / MANIFEST) or {}
    kept = [name for name in kept if not (name in known and name in made)]
    _no_clash(said, made, kept)
    for name in kept:
        old, new = out / name, partial / name
        if old.is_dir() and not old.is_symlink():
            new.mkdir(parents=True, exist_ok=True)
            continue
        new.parent.mkdir(parents=True, exist_ok=True)
        if os.path.lexists(new):  # on a disc that takes capital and small letters for the same
            _no_clash(said, [name], [name])
        # A second link is the same file, so nothing can be lost between here and the swap; not every disc can have one.
        try:
            os.link(old, new, follow_symlinks=False)
        except (OSError, NotImplementedError):
            shutil.copy2(old, new, follow_symlinks=False)


def _flush(folder: Path) -> None:
    """What was written goes to the disc before the folder gets its name."""
    for name in _files(folder):
        if (folder / name).is_file():
            with (folder / name).open("rb+") as written:
                os.fsync(written.fileno())


def _listed(names: list[str], most: int = 3) -> str:
    """'a, b and 4 more'."""
    more = [f"{len(names) - most} more"] if len(names) > most else []
    return words.listed([*names[:most], *more])


def _swap(partial: Path, out: Path, seen: set[str]) -> None:
    """Put the new folder in the place of the old one.

    seen : what of the old one is accounted for; anything else came in the last moment and is moved over
    """
    if not out.exists():
        os.replace(partial, out)
        return
    with beside.folder(out) as old:
        was = old / beside.WAS
        os.replace(out, was)
        try:
            os.replace(partial, out)
        except BaseException:
            os.replace(was, out)
            raise
        for name in _files(was):
            if name not in seen and not os.path.lexists(out / name):
                (out / name).parent.mkdir(parents=True, exist_ok=True)
                os.replace(was / name, out / name)


def _text(path: Path, content: str) -> None:
    path.write_text(content, encoding="utf-8", newline="\n")

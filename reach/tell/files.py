"""The one way to write a file: whole or not at all, never over an input, never unasked over what a user may have edited.

Everything that `reach` writes passes through here: a single file by `write` or `taking_the_place_of`, a folder by
`tell/folder.py`, whose files are these. Before anything is read, a command asks `apart` and `free` about the places it
was told to write to, so that a refusal costs nobody a minute of waiting.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from reach.base import beside, ways
from reach.errors import OutputError

if TYPE_CHECKING:
    from reach.study import Study


def write(path: str | Path, content: str | bytes, *, replace: bool = False, lasting: bool = True) -> Path:
    """Write one file.

    path : where; its folder is made where it is missing
    content : text is written as UTF-8 with the line ends it has
    replace : whether a file that is there already may be written over
    lasting : whether it waits until a power cut would take nothing away; what can be worked out again need not
    Returns the path. OutputError where it is there and may not be replaced, or cannot be written; then what was there
    before is there still.
    """
    with taking_the_place_of(path, replace=replace, lasting=lasting) as partial:
        partial.write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    return Path(path)


def write_together(contents: Mapping[Path, str | bytes], *, replace: bool = False) -> None:
    """Write several files that belong together: each is there in full before the first takes its place.

    contents, replace : as `write`. OutputError as `write`; then all are as they were.
    """
    with contextlib.ExitStack() as all_went_well:
        for path, content in contents.items():
            with all_went_well.enter_context(taking_the_place_of(path, replace=replace)).open("wb") as partial:
                partial.write(content.encode("utf-8") if isinstance(content, str) else content)
                partial.flush()
                os.fsync(partial.fileno())


def sha256(path: Path) -> str:
    """Of the bytes of a file, in hexadecimal."""
    with path.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


@contextlib.contextmanager
def taking_the_place_of(
    path: str | Path, *, replace: bool = False, lasting: bool = True, said: str | Path | None = None
) -> Iterator[Path]:
    """A temporary file beside `path`, with its ending, that takes its place when all went well.

    replace, lasting : as for `write`
    said : what an error names, where the user knows no file of that name
    Yields the temporary file, empty, for writers that want a name. OutputError as `write`.
    """
    path = Path(path)
    said = path if said is None else said
    free(path, replace=replace)
    # A link keeps pointing where it did; what it points at is what is written.
    target = path.resolve()
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(f"{said}: cannot be written ({why(error)}); choose another place.") from None
    with contextlib.ExitStack() as ended:
        try:
            with beside.turn(target.parent):
                beside.clear(target)
                partial = ended.enter_context(beside.file(target))
        except OSError as error:
            raise OutputError(f"{said}: cannot be written ({why(error)}); choose another place.") from None
        try:
            yield partial
            if lasting:
                _settle(partial)
            partial.chmod(0o666 & ~umask())  # the rights of a new file of the user's, which a temporary one has not
            os.replace(partial, target)
            if lasting:
                beside.settle(target.parent)
        except OSError as error:
            raise OutputError(f"{said}: could not be written ({why(error)}).") from None


def why(error: OSError) -> str:
    """What the system says, in its words: libraries glue words of their own to it, or leave it out."""
    return os.strerror(error.errno) if error.errno else error.strerror or str(error)


def free(path: str | Path, *, replace: bool = False) -> None:
    """OutputError where something is there already that may not be replaced; a folder never may."""
    path = Path(path)
    if os.path.isdir(path):  # no error where the name is too long, which shows when it is written
        raise OutputError(f"{path}: is a folder; give the name of a file.")
    if os.path.lexists(path) and not replace:  # a link that leads nowhere is there too
        raise OutputError(
            f"{path}: is there already and may hold your work, so it is left alone; "
            f"{ways.asked('elsewhere', 'name', 'it')}."
        )


def apart(outputs: Iterable[str | Path | None], inputs: Iterable[str | Path | None]) -> None:
    """OutputError where something to be written is something to be read.

    outputs, inputs : paths; None and "-" (standard input) are passed over, and so is what is not there
    Files are told apart by what they are, not by their names: links of either kind lead to the same file.
    """
    known = [(path, which) for path in _named(inputs) if (which := identity(path)) is not None]
    for out in _named(outputs) if known else []:
        which = identity(out)
        same = next((path for path, other in known if other == which), None)
        if same is not None:
            called = f"{out}: is" if str(same) == str(out) else f"{out}: is the same file as {same},"
            raise OutputError(f"{called} one of the files to read, so it is not written over; choose another name.")


def read_by(study: Study | None) -> list[Path]:
    """Every file that a walk over a study reads: spots, schedule, corrections, a control station's spots. InputError where a pattern
    fits nothing."""
    from reach.read import sources

    if study is None:
        return []
    in_sessions = (name for session in study.sessions for name in session.files)
    control = study.compare.controls if study.compare else ()
    near = [name for name in (study.season.controls if study.season else []) if (study.folder / name).exists()]
    spots = sources.expand([*study.files, *in_sessions, *control, *near], study.folder)
    kept = [study.folder / name for name in (study.schedule, study.fixes) if name]
    return [*(path for path in spots if path is not None), *kept]


def distinct(*outputs: str | Path | None) -> None:
    """OutputError where two files to be written are one."""
    wanted = _named(outputs)
    for k, out in enumerate(wanted):
        if any(_one_place(out, other) for other in wanted[:k]):
            raise OutputError(f"{out}: was given for two files to write; give each its own name.")


def identity(path: str | Path) -> tuple[int, int] | None:
    """What a path leads to, as device and number of the file there; None where nothing is."""
    try:
        found = os.stat(path)
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _one_place(a: Path, b: Path) -> bool:
    one = identity(a)
    return one == identity(b) if one is not None else a.resolve() == b.resolve()


def _named(paths: Iterable[str | Path | None]) -> list[Path]:
    return [Path(path) for path in paths if path is not None and str(path) != "-"]


def _settle(file: Path) -> None:
    """What was written goes to the disc, so that a power cut after the renaming finds content and not an empty file."""
    with file.open("rb+") as written:
        os.fsync(written.fileno())


def umask() -> int:
    """What the user's new files are not permitted."""
    mask = os.umask(0)
    os.umask(mask)
    return mask

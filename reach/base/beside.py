"""Temporary files and folders beside what is to be written, each locked while its process lives.

What is killed cannot clean up after itself, so the next run into the same place does: whatever lies there under our name and
is locked by nobody belongs to a process that is dead. The system lets a lock go with its process, however that ends. Where a
system has no such locks (fcntl), nothing is cleared, for nobody can tell what is in use.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

try:
    import fcntl
except ImportError:  # pragma: no cover (Windows)
    fcntl = None  # type: ignore[assignment]

WAS: Final = "was"  # in a temporary folder: what stood in the place before
_MARK: Final = ".reach-"


@contextlib.contextmanager
def folder(target: Path) -> Iterator[Path]:
    """An empty folder beside `target`, gone at the end unless it was renamed. OSError where none can be made."""
    made = Path(tempfile.mkdtemp(prefix=_prefix(target), dir=target.parent))
    try:
        with _locked(made):
            yield made
    finally:
        left = made.with_name(f"{made.name}-left")
        with contextlib.suppress(OSError):
            os.replace(made, left)  # another machine may still be writing there: it finds nothing then
        for each in (left, made):
            shutil.rmtree(each, ignore_errors=True)


@contextlib.contextmanager
def file(target: Path) -> Iterator[Path]:
    """An empty file beside `target`, with its ending; as `folder`."""
    handle, name = tempfile.mkstemp(prefix=_prefix(target), suffix=target.suffix, dir=target.parent)
    os.close(handle)
    made = Path(name)
    try:
        with _locked(made):
            yield made
    finally:
        made.unlink(missing_ok=True)


def turn(parent: Path) -> contextlib.AbstractContextManager[None]:
    """Nobody else looks for what is in use in this folder, or begins something there."""
    return _locked(parent, wait=True)


@contextlib.contextmanager
def alone(mark: Path) -> Iterator[bool]:
    """Hold a file, which is made empty, for as long as this lasts; yields False where another process holds it. Where a system
    has no such locks, nobody is kept out."""
    if fcntl is None:
        yield True
        return
    handle = os.open(mark, os.O_RDONLY | os.O_CREAT, 0o666)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            yield False
            return
        except OSError:  # a disc without locks
            pass
        yield True
    finally:
        os.close(handle)


def clear(target: Path) -> bool:
    """Clear away what dead processes left beside `target`, and put back what one of them had taken from its place.

    Returns whether a living one is writing there.
    """
    in_use = False
    for left in sorted(_left(target)):
        if not _is_dead(left):
            in_use = True
            continue
        if os.path.lexists(left / WAS) and not os.path.lexists(target):
            with contextlib.suppress(OSError):
                os.replace(left / WAS, target)
        if os.path.lexists(left / WAS) and not os.path.lexists(target):
            continue  # it could not be put back: then it stays where it is
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)
    return in_use


def settle(parent: Path) -> None:
    """The new names in a folder go to the disc, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(parent, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _prefix(target: Path) -> str:
    return f".{target.name}{_MARK}"


def _left(target: Path) -> list[Path]:
    with contextlib.suppress(OSError), os.scandir(target.parent) as there:
        return [Path(each.path) for each in there if each.name.startswith(_prefix(target))]
    return []


@contextlib.contextmanager
def _locked(path: Path, *, wait: bool = False) -> Iterator[None]:
    """A file or folder locked for as long as this lasts; on a disc without locks it is none."""
    if fcntl is None:
        yield
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
        yield
    finally:
        os.close(handle)


def _is_dead(left: Path) -> bool:
    if fcntl is None:
        return False
    try:
        handle = os.open(left, os.O_RDONLY | os.O_NOFOLLOW)
    except OSError:
        return False
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    finally:
        os.close(handle)
    return True

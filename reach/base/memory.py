"""How much of what was freed the C library of Linux keeps for itself. A command sets it; a library leaves its process alone.

Elsewhere there is nothing to set. And when Python looks for what may be freed.
"""

from __future__ import annotations

import contextlib
import ctypes
import gc
import os
import sys
from collections.abc import Iterator
from typing import Final

_MMAP_THRESHOLD: Final = -3  # of mallopt(3): blocks from this size on are mapped, and go back when they are freed
_TRIM_THRESHOLD: Final = -1  # and from how much on what is free at the end of the heap: twice as much, as is usual
_ARENAS: Final = -8  # heaps that threads share: in one of its own a thread cannot use what others have freed
_LARGE: Final = 1 << 25  # the most that it takes
_SMALL: Final = 1 << 20

_is_set = False


def give_back() -> None:
    """Large arrays go back to the system when they are done with, from now on in this process.

    Left to itself the library keeps what was freed once it has seen a few large arrays. With much smaller blocks than these the
    system would clear each page anew for every array in passing, a sixth of a report's time. Nor does numpy, where it is not imported
    yet and the user does not say otherwise, ask for pages of two megabytes: the system would clear them where they are asked for, and
    threads wait for that.
    """
    global _is_set
    _is_set = _mapped_from(_LARGE)
    os.environ.setdefault("NUMPY_MADVISE_HUGEPAGE", "0")


def give_back_now() -> None:
    """What is free goes back at once, wherever it lies, where `give_back` was called and it is much: between two steps that
    have little in common. Arrow has a heap of its own, of which it keeps what was freed for a while."""
    if not _is_set:
        return
    if "pyarrow" in sys.modules:
        sys.modules["pyarrow"].default_memory_pool().release_unused()
    if _free() > _LARGE:
        ctypes.CDLL(None).malloc_trim(0)


class _Mallinfo2(ctypes.Structure):
    """As mallinfo2(3) returns it, in bytes."""

    _fields_ = [
        (name, ctypes.c_size_t)
        for name in "arena ordblks smblks hblks hblkhd usmblks fsmblks uordblks fordblks keepcost".split()
    ]


def _free() -> int:
    """What the C library keeps of what was freed [bytes]; 0 where it does not tell."""
    with contextlib.suppress(OSError, AttributeError, TypeError):
        ask = ctypes.CDLL(None).mallinfo2
        ask.restype = _Mallinfo2
        return int(ask().fordblks)
    return 0


@contextlib.contextmanager
def sparing() -> Iterator[None]:
    """Meanwhile smaller blocks go back too, where `give_back` was called: for a stage that needs the most memory."""
    if not _is_set:
        yield
        return
    _mapped_from(_SMALL)
    try:
        yield
    finally:
        _mapped_from(_LARGE)


@contextlib.contextmanager
def uncollected() -> Iterator[None]:
    """Meanwhile Python does not look for cycles: where millions of small things without any are made, it would look at all of them
    again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _mapped_from(size: int) -> bool:
    with contextlib.suppress(OSError, AttributeError, TypeError):
        library = ctypes.CDLL(None)
        library.malloc_trim(0)
        library.mallopt(_ARENAS, 1)
        return bool(library.mallopt(_MMAP_THRESHOLD, size) and library.mallopt(_TRIM_THRESHOLD, 2 * size))
    return False

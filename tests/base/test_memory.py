"""What of the memory that was freed goes back to the system, in processes of their own."""

from __future__ import annotations

import gc
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from reach.base import memory

# Every second of many blocks below the large ones is kept, so that what is freed between them is no end of the heap.
HELD = """
import contextlib, numpy as np
from reach.base import memory
def pages():
    return int(open("/proc/self/statm").read().split()[1]) * 4096
def left():
    before = pages()
    blocks = [np.ones(8 << 20, np.uint8) for _ in range(24)]
    kept = blocks[::2]
    del blocks
    return (pages() - before) >> 20
{first}
with {how}:
    print(left())
print(left())
"""


@pytest.mark.skipif(sys.platform != "linux", reason="the C library of Linux has the setting")
def test_a_sparing_stage_gives_blocks_back_that_others_keep_and_leaves_no_trace():
    def held(first: str, how: str) -> list[int]:
        code = HELD.format(first=first, how=how)
        return [int(mb) for mb in subprocess.check_output([sys.executable, "-c", code], text=True).split()]

    sparing, after = held("memory.give_back()", "memory.sparing()")
    usual, _ = held("memory.give_back()", "contextlib.nullcontext()")
    assert sparing < 110 and usual > 150 and after > 150


@pytest.mark.skipif(sys.platform != "linux", reason="the C library of Linux has the setting")
def test_what_is_free_goes_back_when_it_is_asked_for():
    """Half of 192 MB are free between blocks that are kept; a library's process gives nothing back."""
    ask = HELD.replace("with {how}:\n    print(left())", "").replace("return (pages", "{how}\n    return (pages")

    def held(first: str, how: str) -> int:
        return int(subprocess.check_output([sys.executable, "-c", ask.format(first=first, how=how)], text=True))

    assert held("memory.give_back()", "memory.give_back_now()") < 110
    assert held("memory.give_back()", "pass") > 150


@pytest.mark.parametrize("asked", [True, False])
def test_arrow_gives_back_what_it_keeps_of_what_was_freed_where_a_command_asked_for_it(monkeypatch, asked):
    from reach.base import memory

    given_back = []
    pool = SimpleNamespace(release_unused=lambda: given_back.append("unused"))
    monkeypatch.setitem(sys.modules, "pyarrow", SimpleNamespace(default_memory_pool=lambda: pool))
    monkeypatch.setattr(memory, "_is_set", asked)
    memory.give_back_now()
    assert given_back == ["unused"] * asked


def test_a_library_leaves_its_process_alone(monkeypatch):
    from reach.base import memory

    def refuse(_):
        raise AssertionError("set, though no command asked for it")

    monkeypatch.setattr(memory, "_mapped_from", refuse)
    monkeypatch.setattr(memory, "_is_set", False)
    with memory.sparing():
        pass
    memory.give_back_now()


def test_cycles_are_looked_for_again_after_a_stage_without_them_and_not_where_they_were_not_before():
    assert gc.isenabled()
    with pytest.raises(ZeroDivisionError), memory.uncollected():
        assert not gc.isenabled()
        _ = 1 / 0
    assert gc.isenabled()
    gc.disable()
    try:
        with memory.uncollected():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()


@pytest.mark.parametrize("said, asks", [(None, False), ("1", True)])
def test_numpy_asks_for_large_pages_only_where_the_user_says_so(said, asks):
    code = "from reach.base import memory; memory.give_back()\nimport numpy._core.multiarray as m; print(m._set_madvise_hugepage(False))"
    environment = {name: text for name, text in os.environ.items() if name != "NUMPY_MADVISE_HUGEPAGE"}
    environment |= {} if said is None else {"NUMPY_MADVISE_HUGEPAGE": said}
    assert subprocess.check_output([sys.executable, "-c", code], text=True, env=environment).strip() == str(asks)

"""Kill `reach remove` at random moments, over and over: the collection is whole each time, with the file or without it.

    python -m tests.archive.removals [kills] [seed]

A process is forked for each, so that nothing is waited for but the removal itself. It prints how often the file was still there and
how often it was out, how often the collection was torn, and how often a part was left over after the next run.
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

from reach import cli
from reach.archive import collection, ledger, listing  # noqa: F401 (loaded before anything is forked)
from reach.cli import remove  # noqa: F401
from reach.tell.sentences import collection as sentences  # noqa: F401
from tests.archive.kills import ONE, TWO, add, is_whole, left_over


def removing(home: Path) -> int:
    """The number of a process that takes the second file out as the command does."""
    child = os.fork()
    if child:
        return child
    with open(os.devnull, "w") as nowhere:
        os.dup2(nowhere.fileno(), 1)
        try:
            cli.main(["remove", str(home), TWO])
        except SystemExit as end:
            os._exit(int(end.code or 0))
        finally:
            os._exit(99)


def main(kills: int = 200, seed: int = 1) -> None:
    chance, where = random.Random(seed), Path(tempfile.mkdtemp())
    home, before = where / "c", where / "before"
    assert add(before, ONE).wait() == 0 and add(before, TWO).wait() == 0
    shutil.copytree(before, home)
    took_s = 0.0
    for _ in range(2):  # the first time what it needs is still to be loaded
        shutil.rmtree(home)
        shutil.copytree(before, home)
        began = time.monotonic()
        assert os.waitpid(removing(home), 0)[1] == 0
        took_s = time.monotonic() - began
    there, torn, left = 0, 0, 0
    for _ in range(kills):
        shutil.rmtree(home)
        shutil.copytree(before, home)
        child = removing(home)
        time.sleep(chance.uniform(0.0, 1.1) * took_s)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        names = [entry.name for entry in ledger.read(home).entries]
        there += TWO in names
        torn += names not in ([ONE, TWO], [ONE]) or not is_whole(home)
        with collection.adding(home):  # as whatever is added or removed next does
            left += bool(left_over(home))
    shutil.rmtree(where)
    print(f"{kills} kills: {there} with the file, {kills - there} without, {torn} torn, {left} left over")
    raise SystemExit(bool(torn or left))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))

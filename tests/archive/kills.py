"""Kill `reach add` at random moments, over and over: the collection is whole each time, nothing is lost and nothing is there twice.

    python -m tests.archive.kills [kills] [seed] [address of a cluster, such as local; or pieces]

With `pieces` the file is gone through in a dozen pieces, as a large one is.

Takes minutes, so it is a script and no test. It prints how many were killed before anything of the second file was written, while it
was, and when it was in; how often the collection was not the first file alone, or that one and the second, how often a part was left
over after the next run, and how often a process of the killed one lived on: these must be 0.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import psutil

from reach import study as studies
from reach.archive import kept, ledger
from reach.walk import Walk
from tests import loaded

SAMPLES = Path(__file__).parents[2] / "sample_spots"
STATION = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")
ONE, TWO = "evening.csv", "weekend.csv"
IN_PIECES = "from reach.read import pieces; pieces.PIECE = 9000; from reach.cli import main; main()"
PATIENCE_S = 300  # a worker that is still loading ends once it has loaded, on a busy machine after a while
ROWS = {(ONE,): 1580, (ONE, TWO): 1580 + 1538}


def add(home: Path, name: str, *more: str, in_pieces: bool = False) -> subprocess.Popen[bytes]:
    """`reach add`, begun. It need not load its libraries, while which nothing is written; in pieces it is a Python of its own."""
    asked = ["add", str(SAMPLES / name), "--to", str(home), *STATION, *more]
    if in_pieces:
        program = [sys.executable, "-c", IN_PIECES]
        return subprocess.Popen([*program, *asked], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return loaded.Reach(asked, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def found_at(home: Path) -> str:
    """At what a run was killed, from what it left."""
    if len(ledger.read(home).entries) > 1:
        return "after"
    return "during" if any(home.glob(".staged.*")) else "before"


def is_whole(home: Path) -> bool:
    """Whether the collection holds just the rows of the files in its ledger."""
    names = tuple(entry.name for entry in ledger.read(home).entries)
    walk = Walk(studies.check({"files": [str(home)], "station": {"callsign": "EI4QTB/P", "locator": "IO51es"}}))
    return walk.counts.accepted == ROWS[names] and not walk.counts.duplicates


def left_over(home: Path) -> set[str]:
    """Parts of no file, and unfinished ones; what is kept of days was worked out by looking whether all is whole."""
    here = {entry.part for entry in ledger.read(home).entries}
    inside = {path for path in home.rglob("*") if path.is_file() and path.parent != home}
    return {path.name for path in inside - set((home / kept.NAME).rglob("*")) if path.stem not in here}


def survivors(below: list[psutil.Process]) -> int:
    """How many processes are there still after a while that the killed one had started."""
    return len(psutil.wait_procs(below, timeout=PATIENCE_S)[1])


def main(kills: int = 200, seed: int = 1, how: str = "") -> None:
    in_pieces = how == "pieces"
    more = ("--cluster", how) if how and not in_pieces else ()
    chance, where = random.Random(seed), Path(tempfile.mkdtemp())
    home, before = where / "c", where / "before"
    assert add(before, ONE).wait() == 0
    shutil.copytree(before, home)

    def whole_run() -> float:
        """How long one takes that is not killed, and goes on with what is there [s]."""
        began = time.monotonic()
        assert add(home, TWO, *more, in_pieces=in_pieces).wait() == 0
        return time.monotonic() - began

    whole_run()
    shutil.rmtree(home)
    shutil.copytree(before, home)
    took_s, torn, left, lived, at = whole_run(), 0, 0, 0, Counter[str]()
    for k in range(kills):
        shutil.rmtree(home)
        shutil.copytree(before, home)
        running = add(home, TWO, *more, in_pieces=in_pieces)
        time.sleep(chance.uniform(0.3, 1.05) * took_s)
        below = psutil.Process(running.pid).children(recursive=True) if running.poll() is None else []
        running.kill()
        running.wait()
        at[found_at(home)] += 1
        lived += survivors(below) > 0
        torn += not is_whole(home)
        if k % 5 == 4:
            was_there = len(ledger.read(home).entries) > 1
            rerun_s = whole_run()
            took_s = took_s if was_there else rerun_s  # other work on the machine makes it longer and shorter
            torn += not is_whole(home)
            left += bool(left_over(home))
            print(
                k + 1, *(f"{many} {when}" for when, many in at.items()), torn, left, lived, file=sys.stderr, flush=True
            )
    shutil.rmtree(where)
    when = ", ".join(f"{at[name]} {name}" for name in ("before", "during", "after"))
    print(f"{kills} kills ({when}): {torn} torn, {left} left over, {lived} lived on")
    raise SystemExit(bool(torn or left or lived))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *sys.argv[3:4])

"""Kill `reach add` at random moments, over and over: the collection is whole each time, nothing is lost and nothing is there twice.

    python -m tests.archive.kills [kills] [seed] [address of a cluster, such as local; or pieces]

With `pieces` the file is gone through in a dozen pieces, as a large one is.

Takes minutes, so it is a script and no test. It prints how often the collection was not the first file alone, or that one and
the second, how often a part was left over after the next run, and how often a process of the killed one lived on; all must be 0.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

from reach import study as studies
from reach.archive import kept, ledger
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
STATION = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")
ONE, TWO = "evening.csv", "weekend.csv"
IN_PIECES = "from reach.read import pieces; pieces.PIECE = 9000; from reach.cli import main; main()"
ROWS = {(ONE,): 1580, (ONE, TWO): 1580 + 1538}


def add(home: Path, name: str, *more: str, in_pieces: bool = False) -> subprocess.Popen[bytes]:
    program = ["-c", IN_PIECES] if in_pieces else ["-m", "reach"]
    return subprocess.Popen(
        [sys.executable, *program, "add", str(SAMPLES / name), "--to", str(home), *STATION, *more],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


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
    return len(psutil.wait_procs(below, timeout=30)[1])


def main(kills: int = 200, seed: int = 1, how: str = "") -> None:
    in_pieces = how == "pieces"
    more = ("--cluster", how) if how and not in_pieces else ()
    chance, where = random.Random(seed), Path(tempfile.mkdtemp())
    home, before = where / "c", where / "before"
    assert add(before, ONE).wait() == 0
    shutil.copytree(before, home)
    began = time.monotonic()
    assert add(home, TWO, *more, in_pieces=in_pieces).wait() == 0
    took_s, torn, left, lived = time.monotonic() - began, 0, 0, 0
    for k in range(kills):
        shutil.rmtree(home)
        shutil.copytree(before, home)
        running = add(home, TWO, *more, in_pieces=in_pieces)
        time.sleep(chance.uniform(0.3, 1.05) * took_s)  # nothing is written while Python loads
        below = psutil.Process(running.pid).children(recursive=True) if running.poll() is None else []
        running.kill()
        running.wait()
        lived += survivors(below) > 0
        torn += not is_whole(home)
        if k % 5 == 4:
            torn += add(home, TWO, *more, in_pieces=in_pieces).wait() != 0 or not is_whole(home)
            left += bool(left_over(home))
    shutil.rmtree(where)
    print(f"{kills} kills: {torn} torn, {left} left over, {lived} lived on")
    raise SystemExit(bool(torn or left or lived))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]), *sys.argv[3:4])

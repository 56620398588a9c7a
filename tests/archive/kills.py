"""Kill `reach add` at random moments, over and over: the collection is whole each time, nothing is lost and nothing is there twice.

    python -m tests.archive.kills [kills] [seed]

Takes minutes, so it is a script and no test. It prints how often the collection was not the first file alone, or that one and
the second, and how often a part was left over after the next run; both must be 0.
"""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from reach import study as studies
from reach.archive import ledger
from reach.walk import Walk

SAMPLES = Path(__file__).parents[2] / "sample_spots"
STATION = ("--callsign", "EI4QTB/P", "--locator", "IO51es", "--power", "5")
ONE, TWO = "evening.csv", "weekend.csv"
ROWS = {(ONE,): 1580, (ONE, TWO): 1580 + 1538}


def add(home: Path, name: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "reach", "add", str(SAMPLES / name), "--to", str(home), *STATION],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def is_whole(home: Path) -> bool:
    """Whether the collection holds just the rows of the files in its ledger."""
    names = tuple(entry.name for entry in ledger.read(home).entries)
    walk = Walk(studies.check({"files": [str(home)], "station": {"callsign": "EI4QTB/P", "locator": "IO51es"}}))
    return walk.counts.accepted == ROWS[names] and not walk.counts.duplicates


def left_over(home: Path) -> set[str]:
    """Parts of no file, and unfinished ones."""
    here = {entry.part for entry in ledger.read(home).entries}
    return {path.name for path in home.rglob("*") if path.is_file() and path.parent != home and path.stem not in here}


def main(kills: int = 200, seed: int = 1) -> None:
    chance, where = random.Random(seed), Path(tempfile.mkdtemp())
    home, before = where / "c", where / "before"
    assert add(before, ONE).wait() == 0
    shutil.copytree(before, home)
    began = time.monotonic()
    assert add(home, TWO).wait() == 0
    took_s, torn, left = time.monotonic() - began, 0, 0
    for k in range(kills):
        shutil.rmtree(home)
        shutil.copytree(before, home)
        running = add(home, TWO)
        time.sleep(chance.uniform(0.3, 1.05) * took_s)  # nothing is written while Python loads
        running.kill()
        running.wait()
        torn += not is_whole(home)
        if k % 5 == 4:
            torn += add(home, TWO).wait() != 0 or not is_whole(home)
            left += bool(left_over(home))
    shutil.rmtree(where)
    print(f"{kills} kills: {torn} torn, {left} left over")
    raise SystemExit(bool(torn or left))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))

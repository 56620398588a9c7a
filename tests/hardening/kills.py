"""Kill `reach` at random moments, over and over: nothing former is lost, and the next run leaves nothing over.

    python -m tests.hardening.kills [kills] [seed] [command ...]

Takes minutes to hours, so it is a script and no test. It prints how often a former result was lost (not whole, or not there
after the next run) and how often something was left over, both of which must be 0.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from reach.tell import folder

SAMPLES = Path(__file__).parents[2] / "sample_spots"
STUDY = str(SAMPLES / "evening.toml")
COMMANDS: dict[str, list[str]] = {
    "vet": ["vet", STUDY, "--problems", "out", "--replace"],
    "run": ["run", STUDY, "--out", "out", "--replace"],
    "deck": ["deck", STUDY, "--out", "out", "--replace"],
    "motion": ["motion", STUDY, "--out", "out.webp", "--size", "384x320", "--seconds", "1", "--fps", "5", "--replace"],
}


def start(args: list[str], where: Path) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "reach", *args], cwd=where, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


def is_whole(out: Path, before: bytes | None) -> bool:
    """A file as it was or is to be; a folder whose manifest fits what lies in it."""
    if out.is_dir():
        try:
            told = json.loads((out / folder.MANIFEST).read_text())["outputs"]
        except (OSError, ValueError, KeyError):
            return False
        return all((out / name).is_file() for name in told)
    return out.is_file() and out.read_bytes() == before


def kill_often(name: str, kills: int, chance: random.Random, tell: Callable[[str], None]) -> tuple[int, int]:
    """How often something was lost, and how often left over."""
    where = Path(tempfile.mkdtemp())
    args = COMMANDS[name]
    out = where / ("out.webp" if name == "motion" else "out")
    began = time.monotonic()
    if start(args, where).wait():
        raise SystemExit(f"{name} fails by itself")
    took_s, lost, left = time.monotonic() - began, 0, 0
    before = out.read_bytes() if out.is_file() else None
    for k in range(kills):
        running = start(args, where)
        time.sleep(chance.uniform(0, 1.05 * took_s))
        running.kill()
        running.wait()
        if out.exists() and not is_whole(out, before):
            lost += 1
        if (k + 1) % 10 == 0 or not out.exists() or k == kills - 1:
            start(args, where).wait()
            lost += not is_whole(out, before)
            left += os.listdir(where) != [out.name]
            tell(f"{name}: {k + 1} kills, {lost} lost, {left} left over")
    shutil.rmtree(where)
    return lost, left


def main(kills: int = 200, seed: int = 1, *names: str) -> None:
    chance = random.Random(seed)
    chosen = names or tuple(COMMANDS)
    found = [kill_often(name, kills // len(chosen), chance, print) for name in chosen]
    lost, left = (sum(each) for each in zip(*found, strict=True))
    print(f"{kills} kills: {lost} lost, {left} left over")
    raise SystemExit(bool(lost or left))


if __name__ == "__main__":
    numbers, names = sys.argv[1:3], sys.argv[3:]
    main(*map(int, numbers), *names)

"""Two Dask workers against one: the same files added to a collection, in turn, in one run.

    python -m tests.benchmarks.cluster_speed --files 8 --rows 250000 --rounds 5

Both clusters are there all the time and have read a file before they are timed, so that neither pays for its start. What is
timed is all of it: reading, judging, writing the parts, and entering them.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import tempfile
import time
from pathlib import Path
from typing import Any

from reach import study as studies
from reach.archive import cluster, collection
from tests.benchmarks import big_export


def exports(folder: Path, files: int, rows: int) -> list[Path]:
    """A large export in as many files, each with its header."""
    whole = folder / "whole.csv"
    big_export.write(whole, files * rows, days=30)
    head, *lines = whole.read_text(encoding="utf-8").splitlines(keepends=True)
    whole.unlink()
    found = []
    for k in range(files):
        found.append(folder / f"{k}.csv")
        found[-1].write_text(head + "".join(lines[k * rows : (k + 1) * rows]), encoding="utf-8")
    return found


def seconds(client: Any, home: Path, paths: list[Path]) -> float:
    """How long these files take into a fresh collection."""
    study = studies.check({"station": {"callsign": "EI4QTB/P", "locator": "IO51es", "power_w": 5}})
    shutil.rmtree(home, ignore_errors=True)
    began = time.perf_counter()
    with collection.adding(home):
        for _ in cluster.add(client, home, study, paths):
            pass
    return time.perf_counter() - began


def main(files: int, rows: int, rounds: int) -> None:
    from distributed import Client, LocalCluster

    quiet = {"threads_per_worker": 1, "host": "127.0.0.1", "dashboard_address": "127.0.0.1:0", "silence_logs": 50}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        paths = exports(folder, files, rows)
        with (
            LocalCluster(n_workers=1, **quiet) as a,
            LocalCluster(n_workers=2, **quiet) as b,
            Client(a) as one,
            Client(b) as two,
        ):
            for client in (one, two, one, two):
                seconds(client, folder / "c", paths[:2])
            took = []
            for _ in range(rounds):
                took.append((seconds(one, folder / "c", paths), seconds(two, folder / "c", paths)))
                print("one worker {:.1f} s, two {:.1f} s".format(*took[-1]), flush=True)
    ratios = sorted(alone / both for alone, both in took)
    print(f"{files} files of {rows:,} rows, {rounds} rounds; load of the machine {os.getloadavg()[0]:.1f}")
    print(f"one worker  {statistics.median(alone for alone, _ in took):6.1f} s")
    print(f"two workers {statistics.median(both for _, both in took):6.1f} s")
    print(f"ratio {statistics.median(ratios):.2f} ({ratios[0]:.2f} to {ratios[-1]:.2f}); aim 1.6")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--files", type=int, default=8)
    parser.add_argument("--rows", type=int, default=250_000)
    parser.add_argument("--rounds", type=int, default=5)
    given = parser.parse_args()
    main(given.files, given.rows, given.rounds)

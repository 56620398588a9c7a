"""Seconds and memory of `reach run` on two million rows, stage by stage, and of `reach demo` on a fresh and on a used machine.

    python -m tests.benchmarks.run_speed                     both
    python -m tests.benchmarks.run_speed --rows 200000       smaller
    python -m tests.benchmarks.run_speed --csv big.csv       keep the generated export, or use the one that is there
    python -m tests.benchmarks.run_speed --only run          or demo
    python -m tests.benchmarks.run_speed --compare           the study compares the two setups too

Every measurement is a process of its own. The ratio is to a bare pyarrow.csv.read_csv of the same file, timed in the same
run, which checks nothing. Seconds of CPU count every thread. Memory by stage is the highest so far of the process itself. For
the whole, `reach run` is started as a user would and its processes are watched: what they hold together at one time, shared
pages counted once (proportional set size; Linux only). Aims on two cores: 25 s and 1,200 MB for two million rows; 20 s for the
demo's first run and 10 s for its second.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.benchmarks import big_export

ROWS = 2_000_000
MOST_S, MOST_MB = 25.0, 1200.0
FIRST_S, AGAIN_S = 20.0, 10.0
STAGES = (
    "read",
    "assign",
    "vet",
    "place",
    "suspects",
    "count",
    "measure",
    "compare",
    "tables",
    "page",
    "pictures",
    "manifest",
)


def megabytes(who: int = resource.RUSAGE_SELF) -> float:
    """The highest memory so far; macOS counts in bytes, others in kilobytes."""
    return resource.getrusage(who).ru_maxrss / (1024**2 if sys.platform == "darwin" else 1024)


def stages(study: str, out: str) -> dict[str, Any]:
    """Seconds and memory of each stage of `reach run`, in this process, in the order of the walk."""
    start = time.perf_counter()
    took: dict[str, tuple[float, float, float]] = {}

    def stage(name: str, work: Callable[[], Any]) -> Any:
        began, worked = time.perf_counter(), time.process_time()
        made = work()
        took[name] = time.perf_counter() - began, time.process_time() - worked, megabytes()
        return made

    from reach import study as studies
    from reach.tell import folder, page, pictures
    from reach.walk import Walk

    walk = Walk(studies.load(study))
    with pictures.Drawers() as drawers, folder.replacing(Path(out)) as partial:
        for name, work in (
            ("read", lambda: walk.raw), ("assign", lambda: walk.assigned), ("vet", lambda: walk.vetted),
            ("place", lambda: walk.placed), ("suspects", lambda: walk.doubts), ("count", lambda: walk.tally),
            ("measure", lambda: walk.reach), ("compare", lambda: walk.comparison),
        ):  # fmt: skip
            stage(name, work)
        findings = walk.findings
        drawing = drawers.start(findings, partial / "pictures")
        stage("tables", lambda: folder.write_tables(findings, partial))
        html = stage("page", lambda: page.html(findings))
        (partial / "report.html").write_text(html, encoding="utf-8")
        drawn = stage("pictures", lambda: list(drawing.finish()))
        stage("manifest", lambda: folder.write_manifest(findings, partial))
    return {
        "stages": took, "total": time.perf_counter() - start, "cpu": time.process_time(), "rows": walk.counts.read, "cells": len(walk.tally.cells),
        "receivers": len(findings.receivers), "pictures": len(drawn), "here_mb": megabytes(),
        "helper_mb": megabytes(resource.RUSAGE_CHILDREN) if drawers.helpers else 0.0,
        "helper_cpu": sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2]),
    }  # fmt: skip


def _held_mb(pid: int) -> float:
    """What a process holds, its share of shared pages counted; 0 where it is gone, or the system does not say."""
    try:
        told = Path(f"/proc/{pid}/smaps_rollup").read_text(encoding="utf-8")
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in told.splitlines() if line.startswith("Pss:")), 0.0)


def whole(study: str, out: str) -> dict[str, Any]:
    """Seconds of `reach run` from start to end, and the most that its processes held together."""
    start, most = time.perf_counter(), 0.0
    running = subprocess.Popen(
        [sys.executable, "-m", "reach", "run", study, "--out", out],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    while running.poll() is None:
        helpers = Path(f"/proc/{running.pid}/task/{running.pid}/children")
        family = [running.pid, *map(int, helpers.read_text().split() if helpers.exists() else [])]
        most = max(most, sum(map(_held_mb, family)))
        time.sleep(0.05)
    if running.returncode:
        raise SystemExit("reach run failed")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return {"total": time.perf_counter() - start, "cpu": used.ru_utime + used.ru_stime, "held_mb": most}


def bare(csv: str, _: str) -> dict[str, Any]:
    """The peer."""
    start = time.perf_counter()
    from pyarrow import csv as arrow

    rows = arrow.read_csv(csv).num_rows
    return {"total": time.perf_counter() - start, "cpu": time.process_time(), "rows": rows, "here_mb": megabytes()}


MEASURED = {"stages": stages, "whole": whole, "bare": bare}


def measured(what: str, *args: str) -> dict[str, Any]:
    """One measurement in a process of its own."""
    found = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.run_speed", "--measure", what, *args],
        stdout=subprocess.PIPE,
        check=True,
    )
    return json.loads(found.stdout)


def report_run(csv: Path, folder: Path) -> None:
    peer = min((measured("bare", str(csv), "-") for _ in range(3)), key=lambda run: run["total"])
    ours = measured("stages", str(csv.with_suffix(".toml")), str(folder / "report"))
    print(f"{ours['rows']:,} rows, {csv.stat().st_size / 1e6:.0f} MB, {ours['receivers']:,} receivers, "
          f"{ours['cells']:,} cells, {ours['pictures']} pictures, {os.cpu_count()} processors\n")  # fmt: skip
    print(f"{'':12}{'seconds':>9}{'x bare':>9}{'of CPU':>9}{'MB so far':>11}")
    rows = [("bare read", peer["total"], peer["cpu"], peer["here_mb"]), *((n, *ours["stages"][n]) for n in STAGES)]
    rows.append(("helpers", 0.0, ours["helper_cpu"], ours["helper_mb"]))
    all_of_it = measured("whole", str(csv.with_suffix(".toml")), str(folder / "whole"))
    rows.append(("all of it", all_of_it["total"], all_of_it["cpu"], all_of_it["held_mb"]))
    for name, seconds, cpu, memory in rows:
        print(f"{name:12}{seconds:9.2f}{seconds / peer['total']:9.1f}{cpu:9.2f}{memory:11.0f}")
    size = sum(path.stat().st_size for path in (folder / "report").rglob("*") if path.is_file())
    print(f"{'':12}{size / 1e6:.0f} MB written; aims: {MOST_S:g} s, {MOST_MB:,.0f} MB\n")


def demo(out: Path, cache: Path) -> tuple[float, float, float]:
    """Seconds until the first answer stands there, and until all is written; seconds of CPU, helpers included."""
    before = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2])
    start = time.perf_counter()
    running = subprocess.Popen(
        [sys.executable, "-m", "reach", "demo", "--out", str(out)],
        stdout=subprocess.PIPE, env={**os.environ, "REACH_CACHE": str(cache), "PYTHONUNBUFFERED": "1"},
    )  # fmt: skip
    assert running.stdout is not None
    running.stdout.readline()
    answered = time.perf_counter() - start
    running.stdout.read()
    if running.wait():
        raise SystemExit("the demo failed")
    cpu = sum(resource.getrusage(resource.RUSAGE_CHILDREN)[:2]) - before
    return answered, time.perf_counter() - start, cpu


def report_demo(folder: Path) -> None:
    print(f"{'demo':12}{'answer s':>9}{'all s':>9}{'of CPU':>9}")
    for name, aim in (("first", FIRST_S), ("second", AGAIN_S)):
        answered, done, cpu = demo(folder / "demo", folder / "cache")
        print(f"{name:12}{answered:9.1f}{done:9.1f}{cpu:9.1f}   aim: {aim:g} s")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=ROWS)
    parser.add_argument("--days", type=int, default=30)
    parser.add_argument("--csv", type=Path, help="where to keep the export, or where it is already")
    parser.add_argument("--compare", action="store_true", help="let the study compare its two setups")
    parser.add_argument("--only", choices=("run", "demo"))
    parser.add_argument("--measure", choices=MEASURED, help=argparse.SUPPRESS)
    parser.add_argument("paths", nargs="*", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.measure:
        print(json.dumps(MEASURED[given.measure](*given.paths)))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if given.only != "demo":
            csv = given.csv or folder / "big.csv"
            if not csv.exists():
                big_export.write(csv, given.rows, days=given.days)
            big_export.write_study(csv, compared=given.compare)
            report_run(csv, folder)
        if given.only != "run":
            report_demo(folder)


if __name__ == "__main__":
    main()

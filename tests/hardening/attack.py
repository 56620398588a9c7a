"""Throw made command lines and files at `reach`, in this process, and count what came of them.

    python -m tests.hardening.attack [cases] [seed]

Every case has files of its own: sound ones, of which one at most is made up, and a command line. Expected is an end with exit
code 0, 1 or 2, and with 2 a sentence that no terminal obeys. Anything else is printed with what brought it about and counted.
"""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import sys
import tempfile
import warnings
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from hypothesis import HealthCheck, Phase, Verbosity, given, settings
from hypothesis import seed as seeded
from hypothesis import strategies as st

from reach import cli
from reach.base import text
from tests.hardening.strategies import EVERYTHING, commands

SAMPLES = Path(__file__).parents[2] / "sample_spots"
ROWS = 60  # of the sound export: enough for every stage, and quick
STUDY = """files = ["spots.csv"]
schedule = "schedule.csv"
[station]
callsign = "EI4QTB/P"
locator = "IO51es"
"""
FIXES = "callsign,locator,suggestion,reason,rows,accept\nEI4QTC,IO15es,IO51es,,1,yes\n"


@dataclass(frozen=True)
class Case:
    """One attack. made : name and text of the file that is made up, or nothing"""

    args: list[str]
    made: tuple[str, str] | None

    @classmethod
    def drawn(cls, commands_of: Sequence[str] | None = None) -> st.SearchStrategy[Case]:
        """commands_of : names of the commands to draw from; all but the demo where left out"""
        made = st.sampled_from(sorted(EVERYTHING)).flatmap(
            lambda name: EVERYTHING[name]().map(lambda text: (name, text))
        )
        return st.builds(cls, commands(commands_of) if commands_of else commands(), st.one_of(st.none(), made))


@dataclass(frozen=True)
class Ended:
    """How it ended."""

    code: int
    said: str

    @property
    def as_expected(self) -> bool:
        return self.code in (0, 1, 2) and "Traceback" not in self.said and all(map(_is_plain, self.said.split("\n")))


def _is_plain(line: str) -> bool:
    return text.is_clean(line.replace("\t", " "))


def sound_files(folder: Path) -> None:
    """Files that are as they should be."""
    lines = (SAMPLES / "evening.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "spots.csv").write_text("".join(lines[: ROWS + 1]), encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    shutil.copy(SAMPLES / "shared_schedule.csv", folder / "schedule.csv")
    (folder / "fixes.csv").write_text(FIXES, encoding="utf-8")
    (folder / "folder").mkdir()


def run(case: Case) -> Ended:
    """One case in a folder of its own, which is gone afterwards."""
    before = Path.cwd()
    out, complaint = io.StringIO(), io.StringIO()
    with tempfile.TemporaryDirectory() as name:
        sound_files(Path(name))
        if case.made is not None:
            (Path(name) / case.made[0]).write_text(case.made[1], encoding="utf-8", errors="replace", newline="")
        os.chdir(name)
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(complaint), warnings.catch_warnings():
                warnings.simplefilter("ignore")  # the suite makes errors of them; here only the end counts
                cli.main(case.args)
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 1
        else:
            code = 0
        finally:
            os.chdir(before)
    return Ended(code, complaint.getvalue())


def main(cases: int = 1000, seed: int = 1) -> None:
    ends: Counter[str] = Counter()

    @seeded(seed)
    @settings(
        max_examples=cases, database=None, deadline=None, phases=[Phase.generate], verbosity=Verbosity.quiet,
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(Case.drawn())
    def throw(case: Case) -> None:
        ended = run(case)
        ends["all"] += 1
        ends[str(ended.code)] += 1
        if not ended.as_expected:
            ends["unexpected"] += 1
            print(f"{ended.code}: {case}\n    {ended.said[-400:]}", flush=True)

    throw()
    print(f"{ends['all']} cases: {ends['unexpected']} unexpected; exit codes {dict(sorted(ends.items()))}")
    raise SystemExit(bool(ends["unexpected"]))


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))

"""Exports found by watching which lines of the program they reach: coverage-guided fuzzing of the reader and the rules.

    pip install atheris                                   (a wheel for Python 3.11 to 3.13, Linux; not among our requirements)
    python -m tests.hardening.guided [new-corpus] [options of libFuzzer, such as -max_total_time=900]

Starts from the files in `tests/hardening/corpus`, small ones that it found to reach something new, and asks of every file
what `fuzz.py` asks: both readers say the same, no line is lost, and the whole way ends in a table or in a sentence. What it finds
wrong is printed, kept as a file in the working folder, and ends it. New files worth keeping go to the first folder, if one is named.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import atheris

CORPUS = Path(__file__).parent / "corpus"

with atheris.instrument_imports(include=["reach"]):
    import reach
    import reach.read.table
    import reach.vet.rules
    from tests.hardening import fuzz


def main() -> None:
    reach.read, reach.vet  # noqa: B018  a namespace that loads what it names when it is asked
    with tempfile.TemporaryDirectory() as name:
        path, unkept = Path(name) / "spots.csv", Path(name) / "new"
        unkept.mkdir()

        def one(data: bytes) -> None:
            wrong = (fuzz.both_ways(data) if data else "") or fuzz.whole_way(path, data)
            if wrong:
                raise AssertionError(wrong)

        folders = [arg for arg in sys.argv[1:] if not arg.startswith("-")]
        options = [arg for arg in sys.argv[1:] if arg.startswith("-")]
        atheris.Setup([sys.argv[0], *options, *(folders or [str(unkept)]), str(CORPUS)], one)
        atheris.Fuzz()


if __name__ == "__main__":
    main()

"""The same bytes, whatever surrounds the program: as an installed wheel far from the checkout, by several Pythons, in odd
surroundings.

    python -m tests.hardening.surroundings [--only evening] [python3.12 ...]

Builds a wheel, installs it with `constraints.txt` for this Python and for each that is named, and makes the demo there as usual and
in each of the surroundings below. Prints how many files differ, which must be none; where Pythons differ, what names them in
manifest and page may. Takes minutes, so it is a script; `test_surroundings.py` holds a smaller part of it in the suite.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).parents[2]
LOUD = "lines.linewidth: 9\naxes.facecolor: red\nfont.size: 30\nsavefig.pad_inches: 3\nfont.family: monospace\n"
LANGUAGES = ("tr_TR", "nl_NL")  # which the demo does not speak; in one that it does it has other words
# What says which Python it was: the manifest, the foot of the page, and so the page's hash in the manifest.
WITHOUT_SOURCE = {
    "manifest.json": re.compile(rb'"python": "[0-9.]+[^"]*"|"report.html": "[0-9a-f]{64}"'),
    "report.html": re.compile(rb"\b3\.[0-9]{2}\.[0-9]+\b"),
}


@dataclass(frozen=True)
class Surroundings:
    """What a program finds around it: its name, the variables, the mask of new files' rights."""

    name: str
    env: dict[str, str]
    umask: int = 0o022


def usual(env: dict[str, str]) -> Surroundings:
    return Surroundings("usual", {**env, "LC_ALL": "C.UTF-8"})


def odd(env: dict[str, str], folder: Path, languages: tuple[str, ...] = ("tr_TR", "de_DE")) -> Iterator[Surroundings]:
    """Surroundings as no machine has them, made of those of this one.

    env : variables that the program needs to be found; folder : where homes and languages are made
    languages : names of the C library's, one for the letters, one for numbers, days and order
    """
    bare = {name: env[name] for name in ("PATH", "PYTHONPATH") if name in env}
    yield Surroundings(
        "no home, dumb terminal, nobody else may read, warnings are errors, no docstrings, plain C",
        {
            **bare, "TERM": "dumb", "COLUMNS": "7", "PYTHONOPTIMIZE": "2", "PYTHONWARNINGS": "error", "LC_ALL": "C", "PYTHONUTF8": "0",
            "TZ": "Pacific/Chatham", "PYTHONHASHSEED": "4294967295", "OMP_NUM_THREADS": "3", "MPLBACKEND": "module://nowhere",
        },
        0o077,
    )  # fmt: skip
    home, kept = folder / "home", {"REACH_CACHE": env["REACH_CACHE"]} if "REACH_CACHE" in env else {}
    for place in (home / ".config" / "matplotlib", home / ".matplotlib"):
        place.mkdir(parents=True)
        (place / "matplotlibrc").write_text(LOUD)
    letters, numbers = languages
    locpath = {**language(letters, folder), **language(numbers, folder)}
    yield Surroundings(
        f"settings of matplotlib's at home, letters of {letters}, the rest of {numbers}",
        {
            **bare, **kept, **locpath, "HOME": str(home), "LANG": f"{numbers}.UTF-8", "LC_CTYPE": f"{letters}.UTF-8",
            "TZ": "Asia/Kathmandu", "PYTHONHASHSEED": "7", "MPLBACKEND": "webagg", "OMP_NUM_THREADS": "2", "PYTHONDEVMODE": "1",
            "PYTHONMALLOC": "malloc",  # where development mode checks each piece of memory, that takes as long as all the rest
        },
        0o000,
    )  # fmt: skip


def language(name: str, folder: Path) -> dict[str, str]:
    """Where the C library finds a language that this machine may not have; nothing where none can be made."""
    program = shutil.which("localedef")
    if program is None:
        return {}
    made = folder / "locales"
    made.mkdir(exist_ok=True)
    subprocess.run([program, "-i", name, "-f", "UTF-8", str(made / f"{name}.UTF-8")], capture_output=True, check=False)
    return {"LOCPATH": str(made)} if (made / f"{name}.UTF-8").is_dir() else {}


def ended(command: list[str], where: Path, around: Surroundings) -> subprocess.CompletedProcess[str]:
    """A command in a folder with settings of matplotlib's, without a terminal."""
    where.mkdir(parents=True, exist_ok=True)
    if around.name != "usual":
        (where / "matplotlibrc").write_text(LOUD)
    return subprocess.run(
        command, cwd=where, env=around.env, umask=around.umask, start_new_session=True,
        stdin=subprocess.DEVNULL, capture_output=True, text=True, encoding="utf-8", errors="replace",
    )  # fmt: skip


def contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def differing(one: dict[str, bytes], other: dict[str, bytes], *, pythons: bool = False) -> list[str]:
    """Names of files that are not the same in both. pythons : whether the line that names the Python may differ."""

    def plain(name: str, content: bytes | None) -> bytes | None:
        said = WITHOUT_SOURCE.get(Path(name).name)
        return said.sub(b"", content) if pythons and content and said else content

    return sorted(
        name for name in one.keys() | other.keys() if plain(name, one.get(name)) != plain(name, other.get(name))
    )


def installed(python: str, wheel: Path, where: Path) -> Path:
    """The `reach` of an environment of its own."""
    subprocess.run([python, "-m", "venv", str(where)], check=True)
    pip = [str(where / "bin" / "pip"), "install", "-q", "-c", str(CHECKOUT / "constraints.txt"), str(wheel)]
    subprocess.run(pip, check=True)
    return where / "bin" / "reach"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("pythons", nargs="*")
    parser.add_argument("--only", help="one of the samples")
    given = parser.parse_args()
    demo = ["demo", "--out", "out", *(["--only", given.only] if given.only else [])]
    env = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "PYTHONHOME")}
    bad = 0
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        build = [sys.executable, "-m", "pip", "wheel", "-q", "--no-deps", "-w", made, str(CHECKOUT)]
        subprocess.run(build, check=True)
        (wheel,) = folder.glob("*.whl")
        first: dict[str, bytes] = {}
        for k, python in enumerate([sys.executable, *given.pythons]):
            reach = str(installed(python, wheel, folder / f"python{k}"))
            for n, around in enumerate([usual(env), *odd(env, folder / f"around{k}", LANGUAGES)]):
                where = folder / f"made{k}-{n}"
                found = ended([reach, *demo], where, around)
                told = contents(where / "out") if found.returncode == 0 else {}
                first = first or told
                apart = differing(first, told, pythons=k > 0)
                bad += bool(apart) or not told
                print(
                    f"{Path(python).name}, {around.name}: {len(told)} files, {len(apart)} differ {apart[:5]}",
                    flush=True,
                )
                if not told:
                    print(found.stderr[-2000:])
                shutil.rmtree(where)
    raise SystemExit(bad > 0)


if __name__ == "__main__":
    main()

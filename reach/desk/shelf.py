"""The folder of studies as it lies on the disc: which there are, what each holds, a file put in or taken out.

Nothing is found by putting a name from outside into a path: studies, files and results are found by listing what is there.
"""

from __future__ import annotations

import contextlib
import filecmp
import hashlib
import json
import os
import tempfile
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import tomlkit
from tomlkit.exceptions import TOMLKitError

from reach.archive import ledger
from reach.archive.ledger import Entry
from reach.base import beside, text
from reach.desk import names
from reach.errors import StudyError
from reach.tell import files

STUDY: Final = "study.toml"
SPOTS: Final = "spots"  # where the exports lie, below the study's folder
COLLECTION: Final = "collection"  # what they grow into, there too
CONTROLS: Final = "controls"  # exports of other stations, which never count as one's own
TAKEN_OUT: Final = "taken-out"
OUTPUTS: Final = "outputs"
MANIFEST: Final = "manifest.json"
ANSWER: Final = ".answer.json"  # what a run said in words, and of which report
MADE: Final = ".made.json"  # from what slides and film were made
SLIDES: Final = "-slides"  # behind a report's name: the folder of its slides
_ARRIVING: Final = ".arriving-"
_LARGEST_STUDY: Final = 1 << 20


@dataclass(frozen=True)
class Kept:
    """A study on the shelf: a folder with a study.toml."""

    folder: Path

    @property
    def name(self) -> str:
        """The folder's name, by which it is found."""
        return self.folder.name

    @property
    def path(self) -> Path:
        """Its study.toml."""
        return self.folder / STUDY

    def read(self) -> dict[str, Any]:
        """What study.toml says; empty where it cannot be read, which whoever walks through it says in a sentence."""
        try:
            if self.path.stat().st_size > _LARGEST_STUDY:
                return {}
            return tomllib.loads(self.path.read_text(encoding="utf-8-sig"))
        except (OSError, ValueError, RecursionError):
            return {}

    @property
    def title(self) -> str:
        """What it is called; the folder's name where it says nothing."""
        told = self.read().get("title")
        return text.one_line(told) if isinstance(told, str) and told.strip() else self.name

    @property
    def files(self) -> list[str]:
        """The files that it names, as it names them."""
        told = self.read().get("files")
        return [name for name in told if isinstance(name, str)] if isinstance(told, list) else []

    @property
    def collection(self) -> Path | None:
        """The collection in its folder that it is about; None where it names its exports."""
        named = self.files
        home = next((each for each in _entries(self.folder) if [each.name] == named), None)
        if home is None or not home.is_dir(follow_symlinks=False) or not Path(home.path, ledger.NAME).is_file():
            return None
        return Path(home.path)

    @property
    def direction(self) -> str:
        """Which end of the rows the station is: sent or heard."""
        return "heard" if self.read().get("direction") == "heard" else "sent"

    @property
    def exports(self) -> list[str]:
        """What lies among its exports, by name."""
        return _names(self.folder / SPOTS)

    @property
    def collected(self) -> list[Entry]:
        """What its collection holds in its direction, in the order in which it was taken in."""
        home, way = self.collection, self.direction
        return [] if home is None else [each for each in ledger.read(home).entries if each.direction == way]

    @property
    def waiting(self) -> list[str]:
        """Exports that its collection is still to take in, by name."""
        if self.collection is None:
            return []
        here = {each.file for each in self.collected}
        return [name for name in self.exports if name not in here]

    @property
    def taken_out(self) -> list[str]:
        """Files that were taken out and may be put back, by name."""
        return _names(self.folder / TAKEN_OUT)

    def stamp(self) -> str:
        """Changes when anything changes that a walk over the study reads."""
        seen = hashlib.sha256()
        with contextlib.suppress(OSError):
            seen.update(self.path.read_bytes())
        for path in _read(self.folder):
            with contextlib.suppress(OSError):
                told = path.stat()
                if path.is_file():
                    seen.update(f"{path}\0{told.st_size}\0{told.st_mtime_ns}\0".encode("utf-8", "surrogateescape"))
        return seen.hexdigest()[:16]

    # --- its exports ----------------------------------------------------------------------------------------------------

    @contextlib.contextmanager
    def arriving(self) -> Iterator[Path]:
        """An empty file in the study's folder for what is being sent; gone at the end unless it was put in."""
        for left in self.folder.glob(f"{_ARRIVING}*"):  # of a server that was killed; one server has the shelf
            if left.stat().st_size == 0 or not _is_fresh(left):
                left.unlink(missing_ok=True)
        handle, name = tempfile.mkstemp(prefix=_ARRIVING, dir=self.folder)
        os.close(handle)
        try:
            yield Path(name)
        finally:
            Path(name).unlink(missing_ok=True)

    def put(self, arrived: Path, called: str) -> tuple[str, bool]:
        """Put a file in.

        arrived : the file, complete; it is moved
        called : what the browser calls it
        Returns the name it has here, and whether it is new: the same bytes are kept once. A collection has to take it in yet.
        """
        before = self.exports
        name = self._lay(arrived, called, SPOTS, [each.file for each in self.collected])
        if self.collection is not None:
            return name, name not in before
        entry = f"{SPOTS}/{name}"
        new = entry not in self.files
        if new:
            self.name_files([*self.files, entry])
        return name, new

    def _lay(self, arrived: Path, called: str, below: str, taken: Iterable[str]) -> str:
        """Move a file into a folder of the study under a name that nobody has there or elsewhere; the same bytes are kept once."""
        home = self.folder / below
        home.mkdir(exist_ok=True)
        there = _names(home)
        same = next((name for name in there if filecmp.cmp(arrived, home / name, shallow=False)), None)
        if same is not None:
            return same
        name = names.free(names.plain(called, otherwise="spots.csv"), [*there, *taken])
        arrived.chmod(0o666 & ~files.umask())
        os.replace(arrived, home / name)
        beside.settle(home)
        return name

    @property
    def controls(self) -> list[str]:
        """Exports of control stations that lie in its folder, by name."""
        return _names(self.folder / CONTROLS)

    @property
    def controls_taken_out(self) -> list[str]:
        """Those that were taken out and may be put back, by name."""
        return _names(self.folder / TAKEN_OUT / CONTROLS)

    def put_control(self, arrived: Path, called: str) -> str:
        """Lay an export of a control station beside the study's own, as `put`; the study names it once it is chosen."""
        return self._lay(arrived, called, CONTROLS, [])

    def lay_control_beside(self, name: str) -> None:
        """Move an export of a control station beside those that are here, as `lay_beside`; the study may not name it any more."""
        self._move(name, CONTROLS, f"{TAKEN_OUT}/{CONTROLS}")

    def put_control_back(self, name: str) -> None:
        """Put one back that was taken out; the study names it once it is chosen. Nothing where there is none of this name."""
        if name in self.controls_taken_out:
            away = self.folder / TAKEN_OUT / CONTROLS / name
            self.put_control(away, name)
            away.unlink(missing_ok=True)  # the same bytes were there already

    def take_out(self, entry: str) -> bool:
        """Take a file out of the study; one that lies among its exports is moved beside them and can be put back.

        entry : as study.toml names it
        Returns whether it was there.
        """
        if entry not in self.files:
            return False
        self.name_files([each for each in self.files if each != entry])
        if entry.startswith(f"{SPOTS}/"):
            self.lay_beside(entry.removeprefix(f"{SPOTS}/"))
        return True

    def lay_beside(self, name: str) -> None:
        """Move an export beside those that count, where it can be put back from; nothing where there is none of this name."""
        self._move(name, SPOTS, TAKEN_OUT)

    def _move(self, name: str, below: str, to: str) -> None:
        if name in _names(self.folder / below):
            away = self.folder / to
            away.mkdir(parents=True, exist_ok=True)
            os.replace(self.folder / below / name, away / names.free(name, _names(away)))

    def put_back(self, name: str) -> bool:
        """Put a file back that was taken out. Returns whether it was there."""
        if name not in self.taken_out:
            return False
        self.put(self.folder / TAKEN_OUT / name, name)
        (self.folder / TAKEN_OUT / name).unlink(missing_ok=True)  # the same bytes were there already
        return True

    def name_files(self, entries: list[str]) -> None:
        """study.toml with these files, everything else in it as it was."""
        try:
            document = tomlkit.parse(self.path.read_text(encoding="utf-8-sig"))
        except (OSError, ValueError, TOMLKitError) as error:
            raise StudyError(f"{self.path}: cannot be changed, as it cannot be read ({error}).") from None
        named = tomlkit.array()
        named.extend(entries)
        document["files"] = named.multiline(len(entries) > 3)
        files.write(self.path, tomlkit.dumps(document), replace=True)

    # --- its reports ----------------------------------------------------------------------------------------------------

    def reports(self) -> list[str]:
        """The folders below outputs/ that hold a report, the newest first."""
        found = [
            each
            for each in _entries(self.folder / OUTPUTS)
            if each.is_dir(follow_symlinks=False)
            and not each.name.startswith(".")
            and Path(each.path, "report.html").is_file()
        ]
        found.sort(key=lambda each: Path(each.path, "report.html").stat().st_mtime, reverse=True)
        return [each.name for each in found]

    def results(self, report: str) -> list[str]:
        """The files of a report by their path from its folder, in order; links are none of ours."""
        if report not in self.reports():
            return []
        root, found = self.folder / OUTPUTS / report, []
        for at, _, inside in os.walk(root, followlinks=False):
            found += [Path(at) / name for name in inside if not (Path(at) / name).is_symlink()]
        return sorted(path.relative_to(root).as_posix() for path in found if path.is_file())

    def result(self, report: str, name: str) -> Path | None:
        """One file of a report; None where there is none of this name."""
        return self.folder / OUTPUTS / report / name if name in self.results(report) else None

    def said(self, report: str) -> dict[str, Any]:
        """What the run said that wrote this report: `sentences`, `changed` since the run before, the `stamp` of what it read;
        empty where it was written by another one."""
        try:
            told = json.loads((self.folder / ANSWER).read_text(encoding="utf-8"))
            same = told["report"] == report and told["manifest"] == self.fingerprint(report)
            return {"sentences": told["sentences"], "changed": told["changed"], "stamp": told["stamp"]} if same else {}
        except (OSError, ValueError, KeyError, TypeError):
            return {}

    def made(self) -> dict[str, dict[str, str]]:
        """What was made here beside reports, as `MADE` tells it: by kind, the `stamp` of what it was made from, and more."""
        try:
            told = json.loads((self.folder / MADE).read_text(encoding="utf-8"))
            return {kind: {name: str(value) for name, value in each.items()} for kind, each in told.items()}
        except (OSError, ValueError, AttributeError):
            return {}

    def beside(self, report: str) -> list[str]:
        """Slides, handout and film of a report, by their path from outputs/; links are none of ours."""
        if report not in self.reports():
            return []
        outputs, found = self.folder / OUTPUTS, []
        for each in _entries(outputs):
            if each.name == report + SLIDES and each.is_dir(follow_symlinks=False):
                found += [f"{each.name}/{name}" for name in _names(Path(each.path)) if name != MANIFEST]
            elif each.name in (f"{report}.mp4", f"{report}.webp") and each.is_file(follow_symlinks=False):
                found.append(each.name)
        return sorted(found)

    def one_beside(self, name: str) -> Path | None:
        """One of these files; None where there is none of this name."""
        known = any(name in self.beside(report) for report in self.reports())
        return self.folder / OUTPUTS / name if known else None

    def fingerprint(self, report: str) -> str:
        """Of a report: the SHA-256 of its manifest, which lists all of it."""
        return hashlib.sha256((self.folder / OUTPUTS / report / MANIFEST).read_bytes()).hexdigest()


@dataclass(frozen=True)
class Shelf:
    """The folder that the studies lie in."""

    folder: Path

    def studies(self) -> list[Kept]:
        """Every study, by title."""
        return sorted(self._kept(), key=lambda study: (study.title.casefold(), study.name))

    def find(self, name: str) -> Kept | None:
        """The study in the folder of this name; None where there is none."""
        return next((study for study in self._kept() if study.name == name), None)

    def room(self, title: str) -> Path:
        """A folder for a new study of this title, made and empty."""
        taken = [each.name for each in _entries(self.folder)]
        made = self.folder / names.free(names.plain(title, otherwise="study").rstrip("."), taken)
        made.mkdir(mode=0o700)
        return made

    def _kept(self) -> Iterator[Kept]:
        """Every study, in any order; none is read."""
        for each in _entries(self.folder):
            if not each.name.startswith(".") and each.is_dir() and Path(each.path, STUDY).is_file():
                yield Kept(Path(each.path))


def _entries(folder: Path) -> list[os.DirEntry[str]]:
    try:
        with os.scandir(folder) as there:
            return list(there)
    except OSError:
        return []


def _read(folder: Path) -> Iterator[Path]:
    """The files below a study's folder that it may read, in order: of a collection its ledger, which tells all of it."""
    for at, inside, found in os.walk(folder):
        is_collection = ledger.NAME in found and Path(at) != folder
        inside[:] = (
            [] if is_collection else sorted(each for each in inside if not each.startswith(".") and each != OUTPUTS)
        )
        yield from (
            Path(at, name) for name in sorted([ledger.NAME] if is_collection else found) if not name.startswith(".")
        )


def _names(folder: Path) -> list[str]:
    """Plain files in a folder, by name."""
    return sorted(
        each.name for each in _entries(folder) if each.is_file(follow_symlinks=False) and not each.name.startswith(".")
    )


def _is_fresh(left: Path) -> bool:
    """Whether it may still be arriving: written to within the last hour."""
    import time

    return time.time() - left.stat().st_mtime < 3600

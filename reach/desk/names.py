"""Names that come from a browser, made fit to be names of files here: on every system, in a glob, and on a command line."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from pathlib import PurePosixPath
from typing import Final

LONGEST: Final = 80  # characters; with a folder's name before them well below what any disc takes
_PACKED: Final = (".gz", ".bz2", ".xz", ".zst")
# Names that Windows keeps for devices, whatever follows them. Source: Microsoft, Naming Files, Paths, and Namespaces.
_DEVICES: Final = re.compile(r"(?i)(con|prn|aux|nul|(com|lpt)[\d\u00b9\u00b2\u00b3])(\.|$)")


def plain(name: str, *, otherwise: str) -> str:
    """A name of letters, digits, dots, dashes and underscores that begins with a letter or a digit.

    name : as it came: with folders, blanks, signs of a glob, in any script
    otherwise : what it is called where nothing is left
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    kept = "".join(letter if letter.isalnum() or letter in "._-" else "-" for letter in last)
    kept = re.sub(r"-{2,}", "-", re.sub(r"\.{2,}", ".", kept)).strip("._-")
    if len(kept) > LONGEST:
        ending = _ending(kept)[-16:]
        kept = kept[: LONGEST - len(ending)].rstrip("._-") + ending
    while len(kept.encode()) > 2 * LONGEST:  # letters of several bytes each
        kept = kept[: len(kept) // 2].rstrip("._-") + _ending(kept)[-16:]
    if not kept:
        return otherwise
    return f"file-{kept}" if _DEVICES.match(kept) else kept


def free(name: str, taken: Collection[str]) -> str:
    """The name, or where it is taken the same with a number: 'log.csv', 'log-2.csv'. Capitals do not tell names apart."""
    known = {each.casefold() for each in taken}
    ending = _ending(name)
    stem = name[: len(name) - len(ending)]
    tried, number = name, 1
    while tried.casefold() in known:
        number += 1
        tried = f"{stem}-{number}{ending}"
    return tried


def _ending(name: str) -> str:
    """'.csv', '.csv.gz'; empty where there is none."""
    path = PurePosixPath(name)
    last = path.suffix
    return PurePosixPath(path.stem).suffix + last if last.lower() in _PACKED else last

"""Files that lie elsewhere, by their URL: fetched where the user names one on the command line, and never else.

The one module that can go on the network. fsspec opens what is named; each scheme but two needs a package of its own.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final, TypeVar
from urllib.parse import urlsplit

from reach.base import text as texts
from reach.errors import InputError

T = TypeVar("T")
SCHEMES: Final = ("https", "http", "s3", "file", "memory")
_WEB: Final = ("https", "http")


@dataclass(frozen=True)
class Url:
    """A file that lies elsewhere."""

    text: str

    @property
    def shown(self) -> str:
        """Without what may be secret: a name with its password before the host, a key in the query."""
        parts = urlsplit(self.text)
        return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"

    @property
    def name(self) -> str:
        """The file's own name."""
        return _safe(self._places[-1])

    @property
    def folder(self) -> str:
        """The name of the folder that it lies in, which may tell it from another of its name."""
        return _safe(self._places[-2]) if len(self._places) > 1 else ""

    @property
    def _places(self) -> list[str]:
        parts = urlsplit(self.text)
        return [each for each in (parts.netloc.rpartition("@")[2], *parts.path.split("/")) if each.strip(". ")] or ["_"]


def is_url(name: str) -> bool:
    """Whether a name is a URL; a drive has one letter."""
    return re.match(r"[A-Za-z][A-Za-z0-9+.-]+://", name) is not None


def listed(url: str) -> list[Url]:
    """The files that a URL names, several where it is a pattern of a store that can list, by name. InputError where there is none."""
    found = Url(url)
    _scheme(found)
    if "*" not in url or urlsplit(url).scheme in _WEB:
        return [found]
    system, place = _opened(found, lambda fsspec: fsspec.core.url_to_fs(url))
    hits = [Url(system.unstrip_protocol(hit)) for hit in sorted(_tried(found, lambda: system.glob(place)))]
    if not hits:
        raise InputError(f"{found.shown}: no file is called so.")
    return hits


def fetch(url: Url, folder: Path, *, most: int) -> Path:
    """Bring a file here.

    url : what to fetch; folder : where to, which holds nothing of that name yet; most : bytes that it may have
    Returns its path, under its own name in a folder called as the one it lay in. InputError where it cannot be had, or is larger
    than any file may be.
    """
    path = folder / url.folder / url.name
    path.parent.mkdir(parents=True, exist_ok=True)
    opened = _opened(url, lambda fsspec: fsspec.open(url.text, "rb"))

    def copied() -> None:
        left = most
        with opened as there, path.open("wb") as here:
            while chunk := there.read(1 << 20):
                left -= len(chunk)
                if left < 0:
                    raise InputError(
                        f"{url.shown}: is more than {most / (1 << 30):g} GiB, which is the limit; divide it."
                    )
                here.write(chunk)

    _tried(url, copied)
    return path


def _scheme(url: Url) -> None:
    try:
        scheme = urlsplit(url.text).scheme.lower()
    except ValueError as error:
        raise InputError(f"{url.text}: is no URL ({error}).") from None
    if scheme not in SCHEMES:
        raise InputError(
            f"{url.shown}: {scheme}:// is not read; wanted {', '.join(SCHEMES[:-1])} or a path on this machine."
        )


def _opened(url: Url, ask: Callable[[Any], T]) -> T:
    try:
        import fsspec
    except ImportError:
        raise InputError(f"{url.shown}: needs fsspec, which is not installed: pip install 'reach[remote]'.") from None
    return _tried(url, lambda: ask(fsspec))


def _tried(url: Url, ask: Callable[[], T]) -> T:
    """What the package of a scheme returns; whatever it raises, each its own kinds, is a sentence here."""
    try:
        return ask()
    except InputError:
        raise
    except ImportError as error:
        missing = re.sub(r"[^\w ,.:/-]", "", str(error).split("\n")[0])
        raise InputError(f"{url.shown}: a package for it is missing ({missing}).") from None
    except FileNotFoundError:
        raise InputError(f"{url.shown}: there is no such file.") from None
    except Exception as error:
        why = texts.one_line(str(error).replace(url.text, url.shown).split("\n")[0]) or type(error).__name__
        raise InputError(f"{url.shown}: cannot be fetched ({why}).") from None


def _safe(name: str) -> str:
    """A name that is one on any system."""
    return re.sub(r'[\\/:*?"<>|\x00-\x1f]', "_", name)

"""Bundled data. Source, licence and SHA-256 of every file: SOURCES.md beside this one."""

from __future__ import annotations

import lzma
from importlib.resources import files


def read_bytes(name: str) -> bytes:
    """The bytes of a bundled file; unpacked where its name ends in .xz."""
    content = files(__name__).joinpath(name).read_bytes()
    return lzma.decompress(content) if name.endswith(".xz") else content


def read_text(name: str) -> str:
    """The text of a bundled file (UTF-8); unpacked where its name ends in .xz."""
    return read_bytes(name).decode("utf-8")

"""Which versions of this project and of the libraries it stands on are installed."""

from __future__ import annotations

from functools import cache
from importlib.metadata import PackageNotFoundError, version


@cache
def version_of(package: str, otherwise: str = "not installed") -> str:
    """The installed version of a package. otherwise : what is said where there is none"""
    try:
        return version(package)
    except PackageNotFoundError:
        return otherwise

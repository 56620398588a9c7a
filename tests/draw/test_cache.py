"""Where projected base maps are kept."""

import os
from pathlib import Path

import platformdirs
import pytest
from platformdirs.macos import MacOS
from platformdirs.unix import Unix
from platformdirs.windows import Windows

from reach.draw import basemap


@pytest.fixture(autouse=True)
def nothing_told(monkeypatch):
    for name in ("REACH_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)


def test_what_the_user_says_comes_first(monkeypatch, tmp_path):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "own"))
    assert basemap.cache_folder() == tmp_path / "own"
    monkeypatch.setenv("REACH_CACHE", "")
    assert basemap.cache_folder() is None


def on(monkeypatch, system):
    """As on another system."""
    monkeypatch.setattr(platformdirs, "PlatformDirs", system)


def test_the_platforms_own_place(monkeypatch, tmp_path):
    """XDG Base Directory Specification 0.8; Apple, File System Programming Guide; the folder of Windows is the variable's."""
    monkeypatch.setenv("HOME", str(tmp_path))
    on(monkeypatch, Unix)
    assert basemap.cache_folder() == tmp_path / ".cache" / "reach"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert basemap.cache_folder() == tmp_path / "xdg" / "reach"
    monkeypatch.delenv("XDG_CACHE_HOME")
    on(monkeypatch, MacOS)
    assert basemap.cache_folder() == tmp_path / "Library" / "Caches" / "reach"


def test_windows(monkeypatch, tmp_path):
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "local"))
    on(monkeypatch, Windows)
    monkeypatch.setattr("platformdirs.windows.get_win_folder", lambda _: str(tmp_path / "local"))
    assert basemap.cache_folder() == Path(tmp_path / "local" / "reach")


def test_without_a_home_nothing_is_kept(monkeypatch):
    on(monkeypatch, Unix)
    monkeypatch.setattr(os.path, "expanduser", lambda path: path)  # as it answers where there is no home
    assert basemap.cache_folder() is None

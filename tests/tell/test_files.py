"""One file: whole or not at all, never over an input, never unasked over another."""

from __future__ import annotations

import os
import stat

import pytest

from reach.errors import OutputError
from reach.tell import files


def test_text_is_written_as_it_is_and_bytes_too(tmp_path):
    files.write(tmp_path / "new" / "a.csv", "å,b\r\n")
    files.write(tmp_path / "b.bin", b"\x00\xff")
    assert (tmp_path / "new" / "a.csv").read_bytes() == b"\xc3\xa5,b\r\n"
    assert (tmp_path / "b.bin").read_bytes() == b"\x00\xff"


def test_a_file_that_is_there_is_left_alone_unless_asked(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("mine")
    with pytest.raises(OutputError, match=r"log\.csv: is there already .* replace=True"):
        files.write(path, "ours")
    assert path.read_text() == "mine"
    files.write(path, "ours", replace=True)
    assert path.read_text() == "ours"


def test_a_folder_is_never_a_file(tmp_path):
    with pytest.raises(OutputError, match="is a folder"):
        files.write(tmp_path, "ours", replace=True)


@pytest.mark.parametrize("lasting", [True, False])
@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, OSError])
def test_what_fails_half_way_leaves_what_was_there(tmp_path, error, lasting):
    path = tmp_path / "log.csv"
    path.write_text("mine")
    taking = files.taking_the_place_of(path, replace=True, lasting=lasting)
    with pytest.raises((error, OutputError)), taking as partial:
        partial.write_text("half")
        raise error
    assert path.read_text() == "mine" and os.listdir(tmp_path) == ["log.csv"]


@pytest.mark.parametrize("lasting", [True, False])
def test_a_new_file_has_the_rights_of_any_new_file(tmp_path, lasting):
    (tmp_path / "plain").touch()
    files.write(tmp_path / "ours", "x", lasting=lasting)
    assert stat.S_IMODE((tmp_path / "ours").stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


def test_a_link_stays_a_link(tmp_path):
    (tmp_path / "real").write_text("mine")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    files.write(tmp_path / "link", "ours", replace=True)
    assert (tmp_path / "link").is_symlink() and (tmp_path / "real").read_text() == "ours"


def test_a_link_that_leads_nowhere_is_there_too(tmp_path):
    (tmp_path / "link").symlink_to(tmp_path / "gone")
    with pytest.raises(OutputError, match="is there already"):
        files.write(tmp_path / "link", "ours")


def test_files_are_told_apart_by_what_they_are(tmp_path):
    spots = tmp_path / "spots.csv"
    spots.write_text("x")
    (tmp_path / "soft").symlink_to(spots)
    os.link(spots, tmp_path / "hard")
    (tmp_path / "copy").write_text("x")
    for name in ("spots.csv", "soft", "hard", "../" + tmp_path.name + "/spots.csv"):
        with pytest.raises(OutputError, match="one of the files to read"):
            files.apart([tmp_path / name], [None, "-", spots])
    with pytest.raises(OutputError, match=r"hard: is the same file as .*spots\.csv, one of the files to read"):
        files.apart([tmp_path / "hard"], [spots])
    files.apart([tmp_path / "copy", tmp_path / "new", None], [spots, tmp_path / "not there", "-"])


def test_two_outputs_are_two_files(tmp_path):
    files.distinct(tmp_path / "a", tmp_path / "b", None)
    with pytest.raises(OutputError, match="two files to write"):
        files.distinct(tmp_path / "a", tmp_path / "x" / ".." / "a")

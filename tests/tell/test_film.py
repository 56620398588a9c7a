"""Films: what is in the file, which encoder is taken, and what happens when one fails."""

from __future__ import annotations

import os
import re
import stat
import struct
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from click.testing import CliRunner

from reach.errors import OutputError
from reach.tell import film

SIZE = (64, 48)
COUNT = 8
CLOSE = 12  # of 255: what lossy coding may change of a plain colour


def frames(count: int = COUNT, size: tuple[int, int] = SIZE) -> Iterator[np.ndarray]:
    """Plain colours, each frame its own, all in one array that is used again and again, as a figure's buffer is."""
    buffer = np.empty((size[1], size[0], 4), np.uint8)
    for k in range(count):
        buffer[:] = colour(k)
        yield buffer


def colour(number: int) -> tuple[int, int, int, int]:
    return (30 * number % 256, 200 - 20 * number, 90, 255)


def write(out: Path, **more) -> film.Written:
    return film.write(frames, COUNT, out, size_px=SIZE, fps=4, **more)


def decoded(path: Path, program: str) -> np.ndarray:
    """The film's frames as RGB, read back by an ffmpeg."""
    read = subprocess.run(
        [program, "-v", "error", "-i", str(path), "-f", "rawvideo", "-pix_fmt", "rgb24", "-"], capture_output=True,
        check=True,
    )  # fmt: skip
    return np.frombuffer(read.stdout, np.uint8).reshape(-1, SIZE[1], SIZE[0], 3)


needs_shell = pytest.mark.skipif(sys.platform == "win32", reason="the pretended encoders are shell scripts")


def pretended(folder: Path, then: str) -> str:
    """A program that says it writes H.264, and does something else."""
    program = folder / "ffmpeg"
    program.write_text(f'#!/bin/sh\ncase "$*" in *-encoders*) echo " V....D libx264  H.264"; exit 0;; esac\n{then}\n')
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    return str(program)


# --- MP4 --------------------------------------------------------------------------------------------------------------


def test_an_mp4_holds_every_frame(tmp_path):
    done = []
    made = write(tmp_path / "film.mp4", tick=done.append)
    assert made.path == tmp_path / "film.mp4" and not made.note
    assert done == list(range(1, COUNT + 1))
    shown = decoded(made.path, film.encoder())
    assert len(shown) == COUNT
    for k in range(COUNT):
        assert np.abs(shown[k].astype(int) - colour(k)[:3]).mean() < CLOSE
    assert [path.name for path in tmp_path.iterdir()] == ["film.mp4"]


def test_an_mp4_is_what_every_laptop_plays(tmp_path):
    made = write(tmp_path / "film.mp4")
    # The encoder reads its own film back: what it says of the stream, and how often and how long each frame stands.
    told = subprocess.run([film.encoder(), "-i", str(made.path)], capture_output=True, text=True, check=False).stderr
    stream = re.search(r"Stream #0:0.*Video: (\w+).*?, (\w+)[(,].*?, (\d+)x(\d+).*?([\d.]+) fps", told)
    assert stream is not None, told
    assert stream.groups() == ("h264", "yuv420p", str(SIZE[0]), str(SIZE[1]), "4")
    assert "Duration: 00:00:02.00" in told and "Audio" not in told


def test_the_index_of_an_mp4_comes_first(tmp_path):
    content = write(tmp_path / "film.mp4").path.read_bytes()
    boxes, at = [], 0
    while at < len(content):
        size, name = struct.unpack(">I4s", content[at : at + 8])
        boxes.append(name)
        at += size
    assert boxes.index(b"moov") < boxes.index(b"mdat")


def test_the_same_frames_give_the_same_bytes(tmp_path):
    first, second = write(tmp_path / "a.mp4").path.read_bytes(), write(tmp_path / "b.mp4").path.read_bytes()
    assert first == second


def test_the_permissions_are_those_of_any_file(tmp_path):
    (tmp_path / "plain").touch()
    write(tmp_path / "film.mp4")
    assert (tmp_path / "film.mp4").stat().st_mode == (tmp_path / "plain").stat().st_mode


# --- which encoder ----------------------------------------------------------------------------------------------------


def test_the_encoder_is_the_one_in_the_package_not_one_of_this_machine(monkeypatch, tmp_path):
    pretended(tmp_path, "exit 0")
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    brought = film.encoder()
    assert brought and Path(brought).is_relative_to(Path(imageio_ffmpeg.__file__).parent)


@needs_shell
def test_an_encoder_without_h264_is_passed_over(tmp_path, monkeypatch):
    poor = tmp_path / "ffmpeg"
    poor.write_text("#!/bin/sh\necho ' V..... mpeg4'\n")
    poor.chmod(0o755)
    monkeypatch.setattr(imageio_ffmpeg, "get_ffmpeg_exe", lambda: str(poor))
    assert film.encoder() is None


@pytest.mark.parametrize("why", ["no program", "cannot run"])
def test_where_the_package_cannot_run_it_is_a_webp_and_that_is_said(tmp_path, monkeypatch, why):
    def missing():
        if why == "no program":
            raise RuntimeError("No ffmpeg exe could be found.")
        return str(tmp_path / "not-there")

    monkeypatch.setattr(imageio_ffmpeg, "get_ffmpeg_exe", missing)
    made = write(tmp_path / "film.mp4")
    assert made.path == tmp_path / "film.webp" and made.encoder == "Pillow"
    assert "WebP" in made.note and "imageio-ffmpeg" in made.note
    assert [path.name for path in tmp_path.iterdir()] == ["film.webp"]


def test_a_webp_holds_every_frame_at_its_time(tmp_path):
    from PIL import Image

    made = write(tmp_path / "film.webp")
    assert made.encoder == "Pillow" and not made.note
    with Image.open(made.path) as shown:
        assert (shown.size, shown.n_frames) == (SIZE, COUNT)
        for k in range(COUNT):
            shown.seek(k)
            shown.load()
            assert shown.info["duration"] == 250
            assert np.abs(np.asarray(shown.convert("RGB")).astype(int) - colour(k)[:3]).mean() < CLOSE
    assert write(tmp_path / "again.webp").path.read_bytes() == made.path.read_bytes()


def test_a_webp_needs_the_memory_of_one_frame(tmp_path):
    kept = []

    def counted(count):
        for frame in frames(count):
            kept.append(frame)
            assert len(kept) <= 2
            yield frame
            kept.pop(0)

    film.write(counted, COUNT, tmp_path / "film.webp", size_px=SIZE, fps=4)


# --- when it goes wrong -----------------------------------------------------------------------------------------------


@needs_shell
@pytest.mark.parametrize(
    ("then", "said"),
    [
        ("cat >/dev/null; echo 'x264 [error]: no room for it' >&2; exit 1", "no room for it"),
        ("echo 'Unknown option fast' >&2; exit 3", "Unknown option fast"),  # does not even read: the pipe breaks
        ("cat >/dev/null; exit 2", "it gave no reason"),
    ],
)
def test_a_failing_encoder_is_quoted(tmp_path, monkeypatch, then, said):
    monkeypatch.setattr(film, "encoder", lambda: pretended(tmp_path, then))
    (tmp_path / "out").mkdir()
    large = (640, 480)  # more than a pipe holds
    with pytest.raises(OutputError, match=said) as error:
        film.write(lambda n: frames(n, large), COUNT, tmp_path / "out" / "film.mp4", size_px=large, fps=4)
    assert "\n" not in str(error.value)
    assert list((tmp_path / "out").iterdir()) == []


@pytest.mark.parametrize("name", ["film.mp4", "film.webp"])
def test_an_interrupted_film_leaves_nothing_behind(tmp_path, name):
    def interrupted(count):
        yield next(frames(count))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        film.write(interrupted, COUNT, tmp_path / name, size_px=SIZE, fps=4)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["film.mp4", "film.webp"])
def test_a_film_that_is_there_is_replaced_when_asked(tmp_path, name):
    made = write(tmp_path / name).path
    before = made.read_bytes()
    made.write_bytes(b"holiday " * 100)
    with pytest.raises(OutputError, match="left alone"):
        write(tmp_path / name)
    assert made.read_bytes() == b"holiday " * 100
    write(tmp_path / name, replace=True)
    assert made.read_bytes() == before


@pytest.mark.parametrize("name", ["film.avi", "film"])
def test_a_name_that_says_no_kind_of_film(tmp_path, name):
    with pytest.raises(OutputError, match=r"ends in \.mp4 or \.webp, such as film\.mp4"):
        write(tmp_path / name)


def test_a_place_that_cannot_be_written(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(OutputError, match="cannot be written"):
        write(tmp_path / "file" / "film.webp")


def test_a_frame_of_another_shape_is_a_bug(tmp_path):
    with pytest.raises(AssertionError, match="shape"):
        film.write(lambda n: frames(n, (32, 32)), COUNT, tmp_path / "film.webp", size_px=SIZE, fps=4)


# --- the command ------------------------------------------------------------------------------------------------------


@pytest.fixture
def spots(tmp_path) -> Path:
    path = tmp_path / "spots.csv"
    path.write_text(
        "time,callsign,grid,snr,band\n2026-05-16 18:02,G4QRA,IO91wm,-12,20m\n2026-05-16 19:40,DL2QTC,JN58td,-20,20m\n"
    )
    return path


def run(*asked: str):
    from reach.cli.motion import command

    return CliRunner().invoke(command, list(asked), catch_exceptions=False)


def test_the_command_makes_a_film_of_the_period(tmp_path, spots):
    out = tmp_path / "out" / "film.webp"
    ran = run(
        str(spots), "--locator", "IO51es", "--size", "320x320", "--seconds", "0.5", "--fps", "4", "--out", str(out)
    )
    assert ran.exit_code == 0
    assert ran.output == (
        f"Wrote {out}: 2026-05-16 18:00 to 2026-05-16 20:00 UTC in 0.5 s (2 frames, 320x320, by Pillow)\n"
    )
    from PIL import Image

    with Image.open(out) as shown:
        assert (shown.size, shown.n_frames) == ((320, 320), 2)


@pytest.mark.parametrize(
    ("option", "value", "said"),
    [("--day", "16.5.", "wanted one such as 2026-05-16"), ("--size", "wide", "wanted one such as 1280x720")],
)
def test_the_command_says_what_it_wants(spots, option, value, said):
    ran = run(str(spots), "--locator", "IO51es", option, value)
    assert ran.exit_code == 2 and said in ran.output


def test_the_command_looks_at_the_place_before_it_works(tmp_path, spots):
    (tmp_path / "film.mp4").write_text("holiday")
    with pytest.raises(OutputError, match="left alone"):
        run(str(spots), "--locator", "IO51es", "--out", str(tmp_path / "film.mp4"))

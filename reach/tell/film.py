"""Frames into a film file: H.264 in an MP4 by the ffmpeg that imageio-ffmpeg brings; WebP by Pillow where that cannot run.

The MP4 is what a club's laptop, a phone or a slide plays unaided: yuv420p, even sides, its index in front. The encoder
runs as a program of its own. It is the one in the package's wheel, not whatever this machine has, so that the same
frames give the same bytes on every machine of a kind.
"""

from __future__ import annotations

import contextlib
import errno
import functools
import os
import subprocess
import tempfile
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from reach.errors import OutputError
from reach.tell import files

if TYPE_CHECKING:
    from PIL.Image import Image

Frame = npt.NDArray[np.uint8]
MP4, WEBP = ".mp4", ".webp"
SIGNED: Final = "Drawn by reach from reception reports."  # in every film
WEBP_QUALITY: Final = 62
_CODEC: Final = "libx264"
_A_LITTLE: Final = 1 << 16  # bytes
_LAST_LINES: Final = 3


@dataclass(frozen=True)
class Written:
    """A film: where it is, by what it was made, and what the user should know (empty: nothing)."""

    path: Path
    encoder: str
    note: str = ""


def write(
    frames: Callable[[int], Iterable[Frame]],
    count: int,
    out: str | Path,
    *,
    size_px: tuple[int, int],
    fps: float,
    tick: Callable[[int], None] = lambda done: None,
    replace: bool = False,
) -> Written:
    """Write a film.

    frames : called with `count`, yields so many frames RGBA, uint8, shape (height, width, 4), one at a time
    out : a file ending in .mp4 or .webp; an MP4 becomes a WebP beside it where no encoder can run
    size_px : width and height, even; fps : frames a second, > 0
    tick : told how many frames are done
    replace : whether a file that is there already may be written over
    Returns Written. OutputError where the name, the place or the encoder will not do; then nothing is left behind.
    """
    out = Path(out)
    target, program, note = where(out)
    with files.taking_the_place_of(target, replace=replace) as partial:
        told = _told(frames(count), size_px, tick)
        if program:
            _mp4(told, partial, program, size_px, fps)
        else:
            _webp(told, count, partial, size_px, fps)
    return Written(target, Path(program).name if program else "Pillow", note)


def where(out: Path) -> tuple[Path, str | None, str]:
    """The file that will be written, the encoder's program (None: Pillow), and a note where that is not as asked."""
    kind = out.suffix.lower()
    if kind == WEBP:
        return out, None, ""
    if kind != MP4:
        raise OutputError(f"{out}: a film's name ends in .mp4 or .webp, such as {out.stem or 'film'}.mp4.")
    program = encoder()
    if program:
        return out, program, ""
    note = (
        "No film encoder runs on this machine (neither one of the package imageio-ffmpeg nor an ffmpeg with H.264), so the "
        "film is a WebP picture that moves: browsers play it, slides may not."
    )
    return out.with_suffix(WEBP), None, note


def encoder() -> str | None:
    """The ffmpeg program of imageio-ffmpeg, if it runs here and writes H.264; None where it does not."""
    import imageio_ffmpeg

    try:
        # Where a machine has no wheel of its own kind the package itself looks for an ffmpeg on the PATH; one named in
        # IMAGEIO_FFMPEG_EXE is taken before all others. Both may be poorer builds, so the codec is asked for.
        program = str(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError:
        return None
    return program if _writes_h264(program) else None


@functools.cache
def _writes_h264(program: str) -> bool:
    """Whether an ffmpeg was built with the encoder; some systems leave it out."""
    try:
        asked = subprocess.run(
            [program, "-hide_banner", "-loglevel", "error", "-encoders"], capture_output=True, stdin=subprocess.DEVNULL,
            timeout=30, check=False,
        )  # fmt: skip
    except (OSError, subprocess.SubprocessError):
        return False
    return _CODEC.encode() in asked.stdout.split()


def _told(frames: Iterable[Frame], size_px: tuple[int, int], tick: Callable[[int], None]) -> Iterator[Frame]:
    """The frames, checked for their shape and counted as they pass."""
    width, height = size_px
    for done, frame in enumerate(frames, 1):
        if frame.shape != (height, width, 4):
            raise AssertionError(f"a frame of shape {frame.shape} in a film of {width}x{height}")
        yield frame
        tick(done)


# --- MP4 --------------------------------------------------------------------------------------------------------------


def command(program: str, out: Path, size_px: tuple[int, int], fps: float) -> list[str]:
    """The encoder's command line: raw frames come in on its standard input.

    The number of threads is fixed because it changes the bytes; dates and version strings are left out.
    """
    width, height = size_px
    return [
        program, "-hide_banner", "-loglevel", "error", "-nostdin", "-y",
        "-f", "rawvideo", "-pix_fmt", "rgba", "-video_size", f"{width}x{height}", "-framerate", f"{fps:g}", "-i", "pipe:0",
        "-an", "-c:v", _CODEC, "-preset", "veryfast", "-crf", "21", "-pix_fmt", "yuv420p", "-threads", "2",
        "-map_metadata", "-1", "-metadata", f"comment={SIGNED}", "-fflags", "+bitexact", "-flags:v", "+bitexact",
        "-movflags", "+faststart", "-f", "mp4", str(out),
    ]  # fmt: skip


def _mp4(frames: Iterable[Frame], out: Path, program: str, size_px: tuple[int, int], fps: float) -> None:
    # What the encoder says goes to a file: nobody reads a pipe while frames are written, and a full one would block.
    with tempfile.TemporaryFile() as said:
        try:
            running = subprocess.Popen(
                command(program, out, size_px, fps), stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=said
            )
        except OSError as error:
            raise OutputError(f"The encoder {program} cannot be started ({error.strerror}).") from None
        assert running.stdin is not None
        try:
            for frame in frames:
                running.stdin.write(np.ascontiguousarray(frame).data)
            running.stdin.close()
            code = running.wait()
        except OSError:  # a broken pipe, or what Windows makes of one: the encoder has stopped and says why
            code = running.wait() or 1
        except BaseException:
            running.kill()
            running.wait()
            raise
        finally:
            with contextlib.suppress(OSError):
                running.stdin.close()
        if code:
            _no_room(out, said)
            raise OutputError(f"The encoder {program} failed: {_words_of(said)}")


def _no_room(out: Path, said: Any) -> None:
    """OSError, which those who write files put into words, where the encoder ended because the disc takes no more."""
    said.seek(0)
    told = said.read().decode("utf-8", "replace")
    for number in (errno.ENOSPC, errno.EFBIG, errno.EDQUOT):
        if os.strerror(number) in told:
            raise OSError(number, os.strerror(number))
    with out.open("ab", buffering=0) as more:  # its words may have had no room either
        more.write(bytes(_A_LITTLE))
        more.write(bytes(_A_LITTLE))


def _words_of(said: Any) -> str:
    """What an encoder said last, as the end of a sentence."""
    said.seek(0)
    lines = [line.strip() for line in said.read().decode("utf-8", "replace").splitlines() if line.strip()]
    return "; ".join(lines[-_LAST_LINES:]).rstrip(".") + "." if lines else "it gave no reason."


# --- WebP -------------------------------------------------------------------------------------------------------------


def _webp(frames: Iterable[Frame], count: int, out: Path, size_px: tuple[int, int], fps: float) -> None:
    from PIL import features

    if not features.check("webp"):
        raise OutputError("No film encoder can run on this machine, and this Pillow writes no WebP: install ffmpeg.")
    milliseconds = [round(1000 * (k + 1) / fps) - round(1000 * k / fps) for k in range(count)]
    about = f'<x:xmpmeta xmlns:x="adobe:ns:meta/"><!-- {SIGNED} --></x:xmpmeta>'.encode()
    with out.open("wb") as file:
        _reel(iter(frames), count, size_px).save(
            file, format="WEBP", save_all=True, duration=milliseconds, loop=0, quality=WEBP_QUALITY, method=0, xmp=about
        )


def _reel(frames: Iterator[Frame], count: int, size_px: tuple[int, int]) -> Image:
    """A picture of many frames that draws each when it is asked for, so that none but one is in memory."""
    from PIL import Image

    class Reel(Image.Image):
        n_frames = count

        def __init__(self) -> None:
            super().__init__()
            self._mode, self._size = "RGB", size_px
            self._at = -1
            self.seek(0)

        def seek(self, frame: int) -> None:
            while self._at < frame:
                self.im = Image.fromarray(np.ascontiguousarray(next(frames)[..., :3])).im
                self._at += 1

        def tell(self) -> int:
            return self._at

    return Reel()

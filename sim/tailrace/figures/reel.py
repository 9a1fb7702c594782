"""Frames to a film in one file: GIF, or MP4 by way of the program ffmpeg."""

import contextlib
import subprocess
from collections.abc import Iterable
from itertools import chain
from pathlib import Path

import numpy as np
from PIL import Image

from tailrace.errors import TailraceError
from tailrace.figures.style import ByteArray

TICK = 100
"""GIF counts time in hundredths of a second."""


class FilmError(TailraceError):
    """A film cannot be written as asked; the message says what to change."""


def nearest_rate(rate: float) -> float:
    """The rate that a GIF can have that is nearest to one asked for (float, 1/s), 1/s."""
    return TICK / max(2, round(TICK / rate))


def write_gif(path: Path, pictures: Iterable[ByteArray], rate: float, colours: ByteArray) -> None:
    """Write a GIF that repeats for ever; the same pictures give the same bytes.

    Parameters
    ----------
    pictures : iterable of (rows, columns, 3) arrays, 0 to 255
    rate : float, 1/s
        As of ``nearest_rate``.
    colours : (colours, 3) array, 0 to 255
        At most 256; each point takes the nearest.
    """
    table = Image.new("P", (1, 1))
    table.putpalette(np.asarray(colours, np.uint8).tobytes())
    images = (
        Image.fromarray(picture).quantize(palette=table, dither=Image.Dither.NONE)
        for picture in pictures
    )
    first = next(images)
    with path.open("wb") as stream:  # Pillow leaves a file of its own open when interrupted
        first.save(
            stream,
            format="GIF",
            save_all=True,
            append_images=images,
            duration=round(1000 / rate),
            loop=0,
            optimize=False,
        )


def write_mp4(path: Path, pictures: Iterable[ByteArray], rate: float, program: str) -> None:
    """Write an MP4 (H.264); the same pictures and the same ffmpeg give the same bytes.

    Raises FilmError with the last line that ffmpeg says where it cannot do it.

    Parameters
    ----------
    pictures : iterable of (rows, columns, 3) arrays, 0 to 255
        Even numbers of rows and columns.
    rate : float, 1/s
    program : str
        Where ffmpeg is.
    """
    pictures = iter(pictures)
    first = next(pictures)
    rows, columns, _ = first.shape
    raw = ("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{columns}x{rows}", "-r", f"{rate:g}")
    film = ("-an", "-c:v", "libx264", "-pix_fmt", "yuv420p", "-crf", "18", "-threads", "1")
    plain = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-f", "mp4")
    command = [program, "-y", "-v", "error", *raw, "-i", "-", *film, *plain, str(path)]
    pipe, nowhere = subprocess.PIPE, subprocess.DEVNULL
    with subprocess.Popen(command, stdin=pipe, stdout=nowhere, stderr=pipe) as running:
        assert running.stdin is not None and running.stderr is not None  # for the type checker
        try:
            for picture in chain([first], pictures):
                running.stdin.write(picture.tobytes())
            running.stdin.close()
        except BrokenPipeError:  # it has given up; why, it says below
            with contextlib.suppress(BrokenPipeError):
                running.stdin.close()
        except BaseException:
            running.kill()
            raise
        reported = running.stderr.read().decode(errors="replace").strip()
        if running.wait() != 0:
            last = reported.splitlines()[-1] if reported else "nothing"
            raise FilmError(
                f"{path.name}: expected ffmpeg to write an MP4, found that it says: {last}; "
                "name a file that ends in .gif"
            )

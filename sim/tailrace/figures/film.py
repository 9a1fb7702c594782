"""The plume moving through a tube, then the recorded peak: frames, and one film made of them."""

import contextlib
import subprocess
from collections.abc import Iterable, Iterator
from itertools import chain
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from PIL import Image

from tailrace.errors import TailraceError
from tailrace.figures.curves import curve, view
from tailrace.figures.plume import (
    COLOURS,
    ROUND,
    across,
    along,
    colour_bar,
    length_label,
    outlet_curve,
    seconds,
    show_sections,
    show_tube,
    title_of,
)
from tailrace.figures.sizes import SIZES, Size
from tailrace.figures.style import INK, SERIES, ByteArray, Look, sheet, short, sized
from tailrace.figures.writing import in_language
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.plume import Plume
from tailrace.wording import say

DOTS = 120
"""Picture elements an inch."""
SLIDE = 1280
"""Picture elements across a slide."""
LETTERS = 1.3
SMALLEST, LARGEST = 6.0, 16.0
"""Points of a letter for each inch of width, of sizes without a name, and its bounds."""


def film_size(name: str) -> Size:
    """A size by its name, or of width and height in picture elements.

    ``name``: of ``SIZES``, or such as ``1280x720``. Even numbers of picture elements both ways.
    Raises ValueError for another text.
    """
    if name in SIZES:
        size = SIZES[name]
        # a slide: the next of 16 to 9 in even numbers
        by = SLIDE / DOTS / size.width if name == "slide" else 1.0
        tall = size.height * (1.6 if size.narrow else 1.0)
        return Size(_even(by * size.width), _even(by * tall), by * size.font)
    across, _, down = name.lower().partition("x")
    if not (across.isascii() and across.isdigit() and down.isascii() and down.isdigit()):
        raise ValueError(f"no size {name!r}")
    width, height = int(across) / DOTS, int(down) / DOTS
    return Size(_even(width), _even(height), float(np.clip(LETTERS * width, SMALLEST, LARGEST)))


def _even(inches: float) -> float:
    return 2 * int(inches * DOTS / 2 + 1e-6) / DOTS


def frames(plume: Plume, size: Size, rate: float, rest: int, hold: int) -> Iterator[ByteArray]:
    """Draw the frames of a film: one for each moment of the plume, then the recorded peak.

    Parameters
    ----------
    size : Size
        As of ``film_size``.
    rate : float, 1/s
        Frames a second, for the words on how fast it goes.
    rest, hold : int
        Frames for the recorded peak, where there is one, and of the last picture.

    Yields
    ------
    (rows, columns, 3) array, 0 to 255
    """
    narrowest = "column" if size.narrow else "page"
    with sized(SIZES[narrowest]), matplotlib.rc_context(letters(size)):
        stage = _Stage(plume, size, rate, rest)
        for index in range(len(plume.times)):
            yield stage.frame(index, 0)
        shown = 0 if plume.recorded is None else rest
        for index in range(1, shown + 1):
            yield stage.frame(len(plume.times) - 1, index)
        for _ in range(hold):
            yield stage.frame(len(plume.times) - 1, shown)


def words_on(plume: Plume) -> str:
    """What the film shows, in words: for the file, and for those who cannot see it."""
    seen = say(
        "Concentration of {solute} in the tube “{part}” (bore {bore:.3g} mm, length {length:g} mm, "
        "Fourier number {fourier:.2g}) as time goes on, and below it the signal at its outlet.",
        solute=plume.solute,
        part=plume.part,
        bore=1e3 * plume.bore,
        length=1e3 * plume.length,
        fourier=plume.fourier_number,
    )
    return seen + (say(" Then the peak recorded at the end of the path.") if plume.recorded else "")


def letters(size: Size) -> Any:
    """Settings of letters and lines for a size."""
    small = 0.85 * size.font
    names = ("font.size", "axes.titlesize", "axes.labelsize")
    ticks = ("xtick.labelsize", "ytick.labelsize")
    lines = {"figure.dpi": DOTS, "lines.linewidth": 0.17 * size.font}
    return dict.fromkeys(names, size.font) | dict.fromkeys(ticks, small) | lines


class _Stage:
    """Everything that stands still, drawn once, and what moves before it."""

    def __init__(self, plume: Plume, size: Size, rate: float, rest: int) -> None:
        self.plume, self.rate, self.rest = plume, rate, rest
        figure = sheet(size.width, size.height)
        self.canvas = FigureCanvasAgg(figure)
        tube, sections, outlet, end = _panels(figure, size, plume)
        image = show_tube(tube, plume, 0, animated=True)
        self.sections = []
        if sections is not None:
            self.sections = show_sections(sections, plume, 0, animated=True)
        (sections or tube).set_xlabel(length_label(plume, size))
        colour_bar(figure, image, [tube, *filter(None, [sections])], size)
        self.break_at = ";\n" if size.narrow else "; "
        room = self.break_at.count("\n") + 1
        tube.set_title(short(title_of(plume), 40 if size.narrow else 64) + "\n " * room)
        self.image = image
        times, heights = outlet_curve(plume)
        seen = times >= plume.times[0]
        self.out = _Trace(
            outlet, say("Signal at the outlet"), times[seen], heights[seen], SERIES[0]
        )
        self.end = None
        if end is not None:
            times, heights = _recorded(plume)
            self.end = _Trace(
                end, say("Recorded at the end of the path"), times, heights, SERIES[1]
            )
        place: Look = {"xycoords": "axes fraction", "textcoords": "offset points", "animated": True}
        self.clock = tube.annotate("", (0, 1), (0, 0.45 * size.font), color=INK, **place)
        in_language(figure)
        self.canvas.draw()
        figure.set_layout_engine("none")
        self.still = self.canvas.copy_from_bbox(figure.bbox)

    def frame(self, index: int, later: int) -> ByteArray:
        """Picture at a moment of the plume, ``later`` frames into the recorded peak."""
        plume, peak = self.plume, []
        now, span = plume.times[index], plume.times[-1] - plume.times[0]
        clock = self._clock(now, span, self._first())
        if self.end is not None and later:
            begin, span = self.end.times[0], np.ptp(self.end.times)
            now = begin + span * later / self.rest
            peak = self.end.until(now)
            clock = self._clock(now, span, self.rest)
            # the end of a short path records while the tube still empties; of a long one, after
            index = max(0, np.searchsorted(plume.times, now, side="right") - 1)
            if now > plume.times[-1]:
                last = seconds(plume.times[-1], np.ptp(plume.times))
                clock += say("; tube at {last} s", last=last)
        self.canvas.restore_region(self.still)
        self.image.set_data(along(plume, index))
        if self.sections:
            for image, values in zip(self.sections, across(plume, index), strict=True):
                image.set_data(values)
        moving = [self.image, *self.sections, *self.out.until(plume.times[index]), *peak]
        self.clock.set_text(clock.replace("; ", self.break_at))
        for artist in (*moving, self.clock):
            if artist.axes is not None:
                artist.axes.draw_artist(artist)
        return np.asarray(self.canvas.buffer_rgba())[:, :, :3].copy()

    def _first(self) -> int:
        return max(1, len(self.plume.times) - 1)

    def _clock(self, now: float, span: float, count: int) -> str:
        """The time, and how fast it goes."""
        return clock(now, span, span / count * self.rate)


def clock(now: float, span: float, pace: float) -> str:
    """A time (s) of a span (s), and how many times as fast as it happens it goes."""
    how = "{now} s, shown {pace:g} times as fast as it happens"
    if pace <= 1:
        how = "{now} s, shown {pace:g} times as slow as it happens"
    return say(how, now=seconds(now, span), pace=float(f"{max(pace, 1 / pace):.2g}"))


class _Trace:
    """A curve that is drawn as time goes on; (points,) arrays of times, s, and heights."""

    def __init__(
        self, panel: Axes, title: str, times: FloatArray, heights: FloatArray, colour: str
    ) -> None:
        self.times, self.heights = times, heights
        panel.set(xlim=(times[0], times[-1]), ylim=(0, 1.12 * heights.max()), yticks=[])
        panel.set_title(title)
        panel.set_xlabel(say("Time from the injection, s"))
        panel.locator_params(axis="x", nbins=6)
        moves: Look = {"color": colour, "animated": True}
        (self.line,) = panel.plot([], [], **moves)
        (self.point,) = panel.plot([], [], marker="o", clip_on=False, zorder=5, **moves)
        self.point.set_in_layout(False)  # nowhere yet, and so without bounds

    def until(self, now: float) -> list[Artist]:
        """What is to be drawn at a time (s)."""
        past = self.times <= now
        height = np.interp(now, self.times, self.heights)
        self.line.set_data([*self.times[past], now], [*self.heights[past], height])
        self.point.set_data([now], [height])
        return [self.line, self.point]


def _panels(
    figure: Figure, size: Size, plume: Plume
) -> tuple[Axes, Axes | None, Axes, Axes | None]:
    """The tube above, over its sections if it is bent; the outlet signal below, and the peak."""
    ended, bent = plume.recorded is not None, plume.across is not None
    below_tube = (2.0 if ended else 1.0) if size.narrow else 1.1
    ratios = [1.7 if bent else 1.0, below_tube]
    halves = figure.subfigures(2, 1, height_ratios=ratios, squeeze=False)
    upper, lower = halves[0, 0], halves[1, 0]
    rows = [1.0, ROUND] if bent else [1.0]
    tubes = upper.subplots(len(rows), 1, squeeze=False, height_ratios=rows).ravel()
    shape = (1 + ended, 1) if size.narrow else (1, 1 + ended)
    below = lower.subplots(*shape, squeeze=False).ravel()
    return tubes[0], tubes[1] if bent else None, below[0], below[1] if ended else None


def _recorded(plume: Plume) -> tuple[FloatArray, FloatArray]:
    """Times and heights of the recorded peak as far as it is seen, with room on both sides."""
    times, heights = curve(plume.recorded, 0)
    first, last = view(times, heights)
    room = 0.1 * (last - first)
    inside = (times >= first - room) & (times <= last + room)
    return times[inside], np.clip(heights[inside], 0.0, None)


def palette() -> ByteArray:
    """The colours that a film is made of, at most 256: (colours, 3) array, 0 to 255."""
    shades = COLOURS(np.linspace(0, 1, 600) ** 1.5)[:, :3]  # the eye tells light ones apart best
    greys = np.repeat(np.linspace(0, 1, 32)[:, None], 3, axis=1)
    # no tint so light that it is taken for one of the shades
    tints = [np.linspace(to_rgb(SERIES[one]), (1, 1, 1), 28)[:22] for one in (0, 1)]
    colours = np.rint(255 * np.vstack([shades, greys, *tints])).astype(np.uint8)
    # Pillow looks up colours by their six leading bits: white must not share its with another.
    _, first = np.unique(colours >> 2, axis=0, return_index=True)
    return np.asarray(colours[np.sort(first)])


WEAVE = 8 * (
    np.array([[0, 32, 8, 40, 2, 34, 10, 42], [48, 16, 56, 24, 50, 18, 58, 26],
              [12, 44, 4, 36, 14, 46, 6, 38], [60, 28, 52, 20, 62, 30, 54, 22],
              [3, 35, 11, 43, 1, 33, 9, 41], [51, 19, 59, 27, 49, 17, 57, 25],
              [15, 47, 7, 39, 13, 45, 5, 37], [63, 31, 55, 23, 61, 29, 53, 21]]) / 63 - 0.5
)  # fmt: skip
"""Added to colours before each takes the nearest of the table, so that no contours show: the
8 x 8 threshold matrix of Bayer (1973; from memory)."""
TICK = 100
"""GIF counts time in hundredths of a second."""


CODECS = {
    "mp4": ("-c:v", "libx264", "-crf", "18"),
    "webm": (
        "-c:v",
        "libvpx-vp9",
        "-crf",
        "24",
        "-b:v",
        "0",
        "-deadline",
        "good",
        "-cpu-used",
        "4",
    ),
}
"""By the ending of a file, what ffmpeg is told of it."""


class FilmError(TailraceError):
    """A film cannot be written as asked; the message says what to change."""


def nearest_rate(rate: float) -> float:
    """The rate that a GIF can have that is nearest to one asked for (float, 1/s), 1/s."""
    return TICK / max(2, round(TICK / rate))


def write_gif(
    path: Path, pictures: Iterable[ByteArray], rate: float, colours: ByteArray, words: str = ""
) -> None:
    """Write a GIF that repeats for ever; the same pictures give the same bytes.

    Parameters
    ----------
    pictures : iterable of (rows, columns, 3) arrays, 0 to 255
    rate : float, 1/s
        As of ``nearest_rate``.
    colours : (colours, 3) array, 0 to 255
        At most 256; each point takes the nearest.
    words : str
        What is seen: the comment of the file, in UTF-8.
    """
    table = np.asarray(colours, np.uint8)
    nearest = _nearest(table)
    images = (_reduced(picture, table, nearest) for picture in pictures)
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
            comment=words.encode(),
        )


def _nearest(table: ByteArray) -> ByteArray:
    """The place in the table that is nearest to each colour of six bits a channel: (64, 64, 64)."""
    steps = 4.0 * np.arange(64) + 1.5
    red, green, blue = (steps[:, None] - table[:, channel] for channel in range(3))
    pair = (red**2)[:, None] + (green**2)[None]
    rows = [np.argmin(one[:, None] + (blue**2)[None], axis=2) for one in pair]
    return np.asarray(rows, np.uint8)


def _reduced(picture: ByteArray, table: ByteArray, nearest: ByteArray) -> Image.Image:
    """A picture in the colours of the table; between two of them it is woven of both.

    The weave stands still, lest what does not move flicker, and leaves greys and white alone.
    """
    rows, columns, _ = picture.shape
    weave = np.tile(WEAVE, (-(-rows // 8), -(-columns // 8)))[:rows, :columns, None]
    tinted = np.ptp(picture, axis=2, keepdims=True) > 0
    woven = np.clip(picture + np.where(tinted, weave, 0.0), 0, 255).astype(np.uint8) >> 2
    places = nearest[woven[..., 0], woven[..., 1], woven[..., 2]]
    image = Image.fromarray(places, "P")
    image.putpalette(table.tobytes())
    return image


def write_video(
    path: Path, pictures: Iterable[ByteArray], rate: float, program: str, form: str, words: str = ""
) -> None:
    """Write an MP4 (H.264) or WebM (VP9): the same bytes from the same pictures and ffmpeg.

    Raises FilmError with the last line that ffmpeg says where it cannot do it.

    Parameters
    ----------
    pictures : iterable of (rows, columns, 3) arrays, 0 to 255
        Even numbers of rows and columns.
    rate : float, 1/s
    program : str
        Where ffmpeg is.
    form : str
        Of ``CODECS``.
    words : str
        What is seen: the description in the file.
    """
    pictures = iter(pictures)
    first = next(pictures)
    rows, columns, _ = first.shape
    raw = ("-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{columns}x{rows}", "-r", f"{rate:g}")
    film = ("-an", *CODECS[form], "-pix_fmt", "yuv420p", "-threads", "1")
    plain = ("-map_metadata", "-1", "-fflags", "+bitexact", "-flags:v", "+bitexact", "-f", form)
    told = ("-metadata", f"description={words}")
    command = [program, "-y", "-v", "error", *raw, "-i", "-", *film, *told, *plain, str(path)]
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
                f"{path.name}: expected ffmpeg to write {form}, found that it says: {last}; "
                "name a file that ends in .gif"
            )

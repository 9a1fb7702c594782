"""The whole way as a film: one band through all parts, and what leaves each of them."""

import textwrap
from collections.abc import Iterator

import matplotlib
import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle

from tailrace.figures.curves import curve, levelled, view
from tailrace.figures.film import clock, letters
from tailrace.figures.plume import COLOURS, SHADES, along, show_tube
from tailrace.figures.sizes import SIZES, Size
from tailrace.figures.style import DASHES, FAINT, INK, SERIES, ByteArray, Look, sheet, short, sized
from tailrace.figures.writing import in_language
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.way import Leg, Way
from tailrace.wording import say

MOST_ABREAST = 6
"""Signals in a row."""
MOST_LINES = 3
"""Of a name below its box."""
FEWEST_LINES = 38
"""Of text, in the height of a picture with a signal for each part."""


def words_on(way: Way) -> str:
    """What the film shows, in words: for the file, and for those who cannot see it."""
    seen = say(
        "The band of {solute} on its way through {parts}, and below them the signal behind each.",
        solute=way.solute,
        parts=", ".join(leg.name for leg in way.legs),
    )
    ghost = say(" At last the recorded peak over the textbook's Gaussian.")
    return seen + (ghost if np.isfinite(way.mean) else "")


def way_frames(way: Way, size: Size, rate: float, hold: int) -> Iterator[ByteArray]:
    """Draw the frames of a film: the moments of one part after the other.

    Parameters
    ----------
    size : Size
        As of ``tailrace.figures.film.film_size``.
    rate : float, 1/s
        Frames a second, for the words on how fast it goes.
    hold : int
        Frames of the last picture.

    Yields
    ------
    (rows, columns, 3) array, 0 to 255
    """
    narrowest = "column" if size.narrow else "page"
    with sized(SIZES[narrowest]), matplotlib.rc_context(letters(size)):
        picture: ByteArray
        for number in range(len(way.legs)):
            stage = _Stage(way, number, size, rate)
            for time in way.legs[number].times:
                picture = stage.frame(float(time))
                yield picture
        for _ in range(hold):
            yield picture


class _Stage:
    """One part: everything that stands still, drawn once, and what moves before it."""

    def __init__(self, way: Way, number: int, size: Size, rate: float) -> None:
        self.way, self.number, self.leg = way, number, way.legs[number]
        span = float(np.ptp(self.leg.times))
        self.pace = span / max(len(self.leg.times) - 1, 1) * rate
        figure = sheet(size.width, size.height)
        self.canvas = FigureCanvasAgg(figure)
        ribbon, inside, signals, last = _panels(figure, len(way.legs) - 1, size)
        figure.suptitle(
            short(
                say("{solute} on its way: {title}", solute=way.solute, title=way.title),
                int(1.7 * size.width * 72 / size.font),
            ),
            fontsize=1.1 * size.font,
        )
        self.boxes = _ribbon(ribbon, way, number, size)
        self.image = _inside(inside, self.leg)
        moves: Look = {"animated": True, "color": INK}
        self.words = inside.text(0.5, 0.5, "", ha="center", va="center", **moves)
        self.words.set_transform(inside.transAxes)
        self.clock = inside.annotate(
            "", (1, 1), (0, 0.3 * size.font), xycoords="axes fraction",
            textcoords="offset points", ha="right", **moves,
        )  # fmt: skip
        inside.set_title(short(say("In {part}", part=self.leg.name), 40), loc="left")
        panels = [*signals, last]
        shown = way.legs[len(way.legs) - len(panels) :]
        for place, (panel, leg) in enumerate(zip(panels, shown, strict=True)):
            _signal(panel, way, leg, size)
            if place + len(way.legs) - len(panels) < number:
                panel.plot(*_seen(leg), color=SERIES[0 if panel is not last else 1])
        at = number - len(way.legs) + len(panels)
        self.line: Line2D | None = None
        if at >= 0:
            colour = SERIES[0 if panels[at] is not last else 1]
            (self.line,) = panels[at].plot([], [], animated=True, color=colour)
            self.line.set_in_layout(False)
        in_language(figure)
        self.canvas.draw()
        figure.set_layout_engine("none")
        self.still = self.canvas.copy_from_bbox(figure.bbox)

    def frame(self, time: float) -> ByteArray:
        """Picture at a time (s)."""
        self.canvas.restore_region(self.still)
        held = [self.way.held(one, time) for one in range(len(self.way.legs))]
        for box, share in zip(self.boxes, held, strict=True):
            red, green, blue, _ = COLOURS(float(np.sqrt(share)))
            box.set_facecolor((red, green, blue))
        share = held[self.number]
        if self.leg.plume is not None:
            at = int(np.searchsorted(self.leg.plume.times, time - 1e-12))
            values = along(self.leg.plume, min(at, len(self.leg.plume.times) - 1))
        else:
            values = np.full((1, 1), 100 * share)
        self.image.set_data(values)
        self.words.set_text("" if self.leg.plume is not None else _inside_words(share))
        self.words.set_color("white" if share > 0.35 else INK)
        self.clock.set_text(clock(time, float(np.ptp(self.leg.times)), self.pace))
        moving: list[Artist] = [*self.boxes, self.image, self.words, self.clock]
        if self.line is not None:
            times, heights = _seen(self.leg)
            past = times <= time
            end = np.interp(time, times, heights, 0.0, 0.0)
            self.line.set_data([*times[past], time], [*heights[past], end])
            moving.append(self.line)
        for artist in moving:
            assert artist.axes is not None
            artist.axes.draw_artist(artist)
        return np.asarray(self.canvas.buffer_rgba())[:, :, :3].copy()


def _panels(figure: Figure, signals: int, size: Size) -> tuple[Axes, Axes, list[Axes], Axes]:
    """The path above, what is inside below it, then the signals, then what is recorded.

    A low picture has no room for the signals.
    """
    rows = -(-signals // MOST_ABREAST)
    if size.height * 72 / size.font < FEWEST_LINES:
        upper, lower = figure.subfigures(2, 1, squeeze=False).ravel()
        ribbon, inside = upper.subplots(2, 1, height_ratios=(0.9, 1.0))
        return ribbon, inside, [], lower.subplots()
    parts = figure.subfigures(3, 1, squeeze=False, height_ratios=(1.5, 1.15 * rows, 1.5))
    upper, middle, lower = parts.ravel()
    ribbon, inside = upper.subplots(2, 1, height_ratios=(0.5, 1.0))
    abreast = _abreast(signals)
    middle.suptitle(say("The signal behind each part, in its own time"), fontsize=size.font)
    found = middle.subplots(rows, abreast, squeeze=False).ravel()
    for spare in found[signals:]:
        spare.remove()
    return ribbon, inside, list(found[:signals]), lower.subplots()


def _abreast(signals: int) -> int:
    """How many signals stand in a row."""
    return -(-signals // -(-signals // MOST_ABREAST))


def _ribbon(panel: Axes, way: Way, number: int, size: Size) -> list[Rectangle]:
    """A box for each part, in the order of the path; the one that is looked into framed."""
    count = len(way.legs)
    panel.set(xlim=(0, count), ylim=(0, 1), xticks=[], yticks=[])
    panel.axis("off")
    boxes = []
    for place, leg in enumerate(way.legs):
        here = place == number
        box = Rectangle(
            (place + 0.04, 0.42), 0.92, 0.55, animated=True,
            edgecolor=INK if here else FAINT, linewidth=0.2 * size.font if here else 1.0,
        )  # fmt: skip
        panel.add_patch(box)
        boxes.append(box)
        letters_a_line = max(4, int(1.75 * size.width / count * 72 / size.font))
        lines = textwrap.wrap(leg.name, letters_a_line, break_long_words=False)[:MOST_LINES]
        name = "\n".join(short(line, letters_a_line + 1) for line in lines)
        panel.text(
            place + 0.5, 0.3, name, ha="center", va="top", color=INK,
            fontsize=0.85 * size.font, fontweight="bold" if here else "normal",
        )  # fmt: skip
    return boxes


def _inside(panel: Axes, leg: Leg) -> matplotlib.image.AxesImage:
    """The tube between its walls; of another part a field as dark as it is full."""
    if leg.plume is not None:
        image = show_tube(panel, leg.plume, 0, animated=True)
        panel.set_xlabel(say("Length, mm"))
        return image
    panel.set(xlim=(0, 1), ylim=(0, 1), xticks=[], yticks=[])
    panel.grid(visible=False)
    return panel.imshow(
        np.zeros((1, 1)), extent=(0, 1, 0, 1), aspect="auto", animated=True, **SHADES
    )


def _inside_words(share: float) -> str:
    """How much is in a part that is no tube; what is shaded is not said to be empty."""
    if 0.0005 <= share < 0.0095:
        return say("{share:.1f} % inside", share=100 * share)
    return say(
        "< 0.1 % inside" if 0 < share < 0.0005 else "{share:.0f} % inside", share=100 * share
    )


def _seen(leg: Leg) -> tuple[FloatArray, FloatArray]:
    times, heights = curve(leg.band, 0)
    return times, levelled(heights) if leg.begins else np.clip(heights, 0.0, None)


def _signal(panel: Axes, way: Way, leg: Leg, size: Size) -> None:
    """An empty panel for what leaves a part; in the last one the textbook's Gaussian, a ghost."""
    last = leg is way.legs[-1]
    times, heights = _seen(leg)
    first, end = view(times, heights)
    top = float(heights.max())
    if last and np.isfinite(way.mean):
        width = np.sqrt(way.variance)
        along_it = np.linspace(way.mean - 4 * width, way.mean + 4 * width, 241)
        ghost = np.exp(-(((along_it - way.mean) / width) ** 2) / 2) / (np.sqrt(2 * np.pi) * width)
        panel.plot(along_it, ghost, color=INK, alpha=0.55, linestyle=DASHES[1])
        high = int(np.argmax(ghost)) + 40
        panel.annotate(
            say("textbook Gaussian"), (along_it[high], ghost[high]), (0.6 * size.font, 0),
            textcoords="offset points", va="bottom", color=INK, alpha=0.8,
        )  # fmt: skip
        first, end = min(first, way.mean - 3 * width), max(end, way.mean + 3 * width)
        top = max(top, float(ghost.max()))
    room = 0.05 * (end - first)
    panel.set(xlim=(first - room, end + room), ylim=(0, 1.15 * top), yticks=[])
    panel.locator_params(axis="x", nbins=8 if last else 3)
    wide = size.width / _abreast(len(way.legs) - 1) * 72 / size.font
    name = say("Recorded, behind {part}", part=leg.name) if last else leg.name
    panel.set_title(short(name, 60 if last else max(10, int(1.5 * wide))))
    panel.set_xlabel(say("Time from the start of the injection, s") if last else say("Time, s"))

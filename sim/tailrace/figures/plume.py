"""What is in a tube at a few moments, over the signal at its outlet."""

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, PowerNorm
from matplotlib.figure import Figure
from matplotlib.image import AxesImage
from matplotlib.patches import Circle

from tailrace.figures.curves import curve, levelled, view
from tailrace.figures.sizes import Size
from tailrace.figures.style import FAINT, INK, SERIES, Look, pale, sheet, short
from tailrace.parts.tube.bent.fields import PLACES
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.plume import Plume
from tailrace.wording import number, say

MILLI = 1e3
LIGHTEST = 0.12
"""Share of the colours between white and the first of cividis."""
COLOURS = LinearSegmentedColormap.from_list(
    "white to dark",
    [
        (0.0, "#ffffff"),
        *zip(
            np.linspace(LIGHTEST, 1.0, 64),
            matplotlib.colormaps["cividis_r"](np.linspace(0.0, 1.0, 64)),
            strict=True,
        ),
    ],
    N=512,
)
"""White where there is nothing, then ever darker: even steps of lightness, legible in grey and
without telling red from green."""
LEVELS = (1, 5, 20, 50, 100)
WALL = 0.14
"""Thickness of the drawn wall over the radius."""
ROUND = 1.5
"""Height of the sections of a bent tube over that of the tube."""
FAINTEST = 0.1
"""%, white up to here: how far what is in a tube is settled (``tailrace.parts.tube.fields``)."""
SHADES: Look = {"cmap": COLOURS, "norm": PowerNorm(0.5, FAINTEST, 100.0)}


def draw(plume: Plume, size: Size) -> Figure:
    """Return the Figure for a Plume at a Size; call it within ``sized``."""
    moments = len(plume.times)
    bent = plume.across is not None
    height = 1.35 * size.height if size.narrow else size.height
    figure = sheet(size.width, (1.7 if bent else 1.0) * height)
    rows = [1.0, ROUND] if bent else [1.0]
    grid = figure.add_gridspec(len(rows) * moments + 1, 1, height_ratios=[*rows * moments, 2.6])
    panels = [figure.add_subplot(grid[len(rows) * row]) for row in range(moments)]
    for index, panel in enumerate(panels):
        image = show_tube(panel, plume, index)
        panel.tick_params(bottom=False, labelbottom=False)
        panel.set_ylabel(
            _beside(plume, index), rotation=0, ha="right", va="center", fontsize=0.9 * size.font
        )
    if bent:
        below = [figure.add_subplot(grid[2 * row + 1]) for row in range(moments)]
        for index, panel in enumerate(below):
            show_sections(panel, plume, index)
    panels[-1].tick_params(bottom=True, labelbottom=True)
    length, _, sections = length_label(plume, size).partition("\n")
    panels[-1].set_xlabel(length)
    if bent:
        below[-1].set_xlabel(sections)
    colour_bar(figure, image, panels, size)
    _signal(figure.add_subplot(grid[-1]), plume, size)
    return figure


def _letter(index: int) -> str:
    return chr(ord("a") + index)


def _beside(plume: Plume, index: int) -> str:
    time = seconds(plume.times[index], plume.residence)
    held = percent(plume.held[index])
    letter = _letter(index)
    return say("{letter}  {time} s\n{held} inside", letter=letter, time=time, held=held)


def _signal(panel: Axes, plume: Plume, size: Size) -> None:
    times, heights = outlet_curve(plume)
    panel.fill_between(times, heights, color=pale(SERIES[0], 0.15), linewidth=0)
    panel.plot(times, heights, color=SERIES[0])
    top = 1.28 * heights.max()
    for index, moment in enumerate(plume.times):
        panel.axvline(moment, color=FAINT, linewidth=0.8, linestyle=(0, (2, 2)), zorder=0)
        panel.text(
            moment, 0.97 * top, _letter(index), ha="center", va="top", color=INK,
            fontsize=0.9 * size.font,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0},
        )  # fmt: skip
    first = min(plume.times[0], view(times, heights)[0])
    first -= min(max(first, 0.0), 0.1 * (times[-1] - first))  # some room, but not before zero
    panel.set(xlim=(first, times[-1]), ylim=(0, top), yticks=[])
    panel.set_xlabel(say("Time from the start of the injection, s"))
    panel.set_ylabel(say("Signal\nat the outlet"))


def show_tube(panel: Axes, plume: Plume, index: int, animated: bool = False) -> AxesImage:
    """Draw what is in the tube at one moment, between its walls; a bent one in its plane.

    ``animated``: leave the image out where the rest is drawn; for films.
    """
    radius, length = MILLI * plume.bore / 2, MILLI * plume.length
    image = panel.imshow(
        along(plume, index),
        extent=(0, length, -radius, radius),
        aspect="auto",
        interpolation="bilinear",
        animated=animated,
        **SHADES,
    )
    outer = radius * (1 + WALL)
    for low, high in ((radius, outer), (-outer, -radius)):
        panel.axhspan(low, high, color=FAINT, linewidth=0)
    panel.set(xlim=(0, length), ylim=(-outer, outer), yticks=[])
    _bare(panel)
    return image


def show_sections(panel: Axes, plume: Plume, index: int, animated: bool = False) -> list[AxesImage]:
    """Draw a bent tube's sections at one moment, each below its place."""
    panel.set(xlim=(0, 1), xticks=[], yticks=[])
    _bare(panel)
    images = []
    for place, values in zip(PLACES, across(plume, index), strict=True):
        inset = panel.inset_axes((place - 0.1, 0.0, 0.2, 1.0))
        inset.add_patch(Circle((0, 0), 1.03, fill=False, edgecolor=FAINT, linewidth=3.0, zorder=3))
        images.append(
            inset.imshow(values, extent=(-1, 1, -1, 1), origin="lower", animated=animated, **SHADES)
        )
        inset.set(xlim=(-1.14, 1.14), ylim=(-1.14, 1.14), xticks=[], yticks=[], aspect="equal")
        _bare(inset)
    return images


def _bare(panel: Axes) -> None:
    panel.grid(visible=False)
    for side in panel.spines.values():
        side.set_visible(False)


def along(plume: Plume, index: int) -> FloatArray:
    """The tube from wall to wall, a bent one's outer wall first: % of the highest inlet value.

    (2 rings, sections) array.
    """
    if plume.plane is not None:
        return np.asarray(_percent(plume) * plume.plane[index][::-1])
    values = plume.concentration[index]
    return np.asarray(_percent(plume) * np.vstack([values[::-1], values]))


def across(plume: Plume, index: int) -> FloatArray:
    """Sections of a bent tube in the same measure: (places, points, points) array."""
    assert plume.across is not None
    return np.asarray(_percent(plume) * plume.across[index])


def _percent(plume: Plume) -> float:
    highest = float(levelled(curve(plume.inlet, 0)[1]).max()) / plume.flow_rate
    return 100 / highest


def colour_bar(figure: Figure, image: AxesImage, panels: list[Axes], size: Size) -> None:
    """The key to the colours, right of the panels."""
    bar = figure.colorbar(image, ax=panels, pad=0.015, aspect=14, fraction=0.05)
    bar.set_ticks(LEVELS, labels=[f"{level}" for level in LEVELS])
    bar.ax.tick_params(labelsize=0.85 * size.font)
    wide = say("Concentration, %\nof the highest\nthat enters")
    bar.set_label(say("% of what enters") if size.narrow else wide)
    bar.outline.set_edgecolor(FAINT)


def length_label(plume: Plume, size: Size) -> str:
    """Label of the axis along the tube."""
    bore, bent = MILLI * plume.bore, plume.across is not None
    if size.narrow:
        label = say("Length, mm (bore {bore:.3g} mm)", bore=bore)
        return f"{label}\n{say('Outer side above, and right')}" if bent else label
    label = say("Length along the tube, mm (bore {bore:.3g} mm, drawn wider than it is)", bore=bore)
    if not bent:
        return label
    places = ", ".join(f"{100 * place:.0f}" for place in PLACES)
    where = "Sections at {places} %; outer side of the bend above, in sections right"
    return f"{label}\n{say(where, places=places)}"


def outlet_curve(plume: Plume) -> tuple[FloatArray, FloatArray]:
    """Times and heights of the outlet signal that are drawn, (points,) arrays, s and 1/s."""
    return plume.outlet.times[0], np.clip(plume.outlet.values[0], 0.0, None)


def seconds(time: float, residence: float) -> str:
    """A time with as many digits as a hundredth of the residence time asks for, without unit."""
    places = max(0, int(np.ceil(2 - np.log10(residence))))
    return number(f"{round(float(time), places) + 0.0:.{places}f}")  # -0.0 + 0.0 is 0.0


def percent(share: float) -> str:
    """A share (float, 1) in whole per cent."""
    return f"{max(0.0, 100 * share):.0f} %"


def title_of(plume: Plume) -> str:
    """One line that says what is shown."""
    part, solute = short(plume.part, 40), short(plume.solute, 40)
    return say("What is in {part}: {solute}", part=part, solute=solute)

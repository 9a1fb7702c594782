"""What is in a tube at a few moments, over the signal at its outlet."""

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap, PowerNorm
from matplotlib.figure import Figure
from matplotlib.image import AxesImage

from tailrace.figures.curves import curve, levelled, view
from tailrace.figures.style import FAINT, INK, SERIES, Size, sheet, short
from tailrace.quantities.arrays import FloatArray
from tailrace.studies.plume import Plume

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


def draw(plume: Plume, size: Size) -> Figure:
    """Return the Figure for a Plume at a Size; call it within ``sized``."""
    moments = len(plume.times)
    height = 1.35 * size.height if size.narrow else size.height
    figure = sheet(size.width, height)
    below, strip = 2.6, 1.0
    grid = figure.add_gridspec(moments + 1, 1, height_ratios=[strip] * moments + [below])
    panels = [figure.add_subplot(grid[row]) for row in range(moments)]
    for index, panel in enumerate(panels):
        image = show_tube(panel, plume, plume.concentration[index])
        panel.tick_params(bottom=False, labelbottom=False)
        panel.set_ylabel(
            _beside(plume, index), rotation=0, ha="right", va="center", fontsize=0.9 * size.font
        )
    panels[-1].tick_params(bottom=True, labelbottom=True)
    panels[-1].set_xlabel(length_label(plume, size))
    colour_bar(figure, image, panels, size)
    _signal(figure.add_subplot(grid[moments]), plume, size)
    return figure


def _letter(index: int) -> str:
    return chr(ord("a") + index)


def _beside(plume: Plume, index: int) -> str:
    time = seconds(plume.times[index], plume.residence)
    return f"{_letter(index)}  {time} s\n{percent(plume.held[index])} inside"


def _signal(panel: Axes, plume: Plume, size: Size) -> None:
    times, heights = outlet_curve(plume)
    panel.fill_between(times, heights, color=SERIES[0], alpha=0.15, linewidth=0)
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
    panel.set_xlabel("Time from the start of the injection, s")
    panel.set_ylabel("Signal\nat the outlet")


def show_tube(panel: Axes, plume: Plume, values: FloatArray, animated: bool = False) -> AxesImage:
    """Draw what is in the tube, mirrored at the axis, between its walls.

    Parameters
    ----------
    values : (rings, sections) array, 1/m^3
    animated : bool
        Leave the image out where the rest is drawn; for films.
    """
    radius, length = MILLI * plume.bore / 2, MILLI * plume.length
    image = panel.imshow(
        mirrored(plume, values),
        extent=(0, length, -radius, radius),
        aspect="auto",
        cmap=COLOURS,
        norm=PowerNorm(0.5, 0.0, 100.0),
        interpolation="bilinear",
        animated=animated,
    )
    outer = radius * (1 + WALL)
    for low, high in ((radius, outer), (-outer, -radius)):
        panel.axhspan(low, high, color=FAINT, linewidth=0)
    panel.set(xlim=(0, length), ylim=(-outer, outer), yticks=[])
    panel.grid(visible=False)
    for side in panel.spines.values():
        side.set_visible(False)
    return image


def mirrored(plume: Plume, values: FloatArray) -> FloatArray:
    """The whole section, wall to wall: (2 rings, sections) array, % of the highest inlet value."""
    highest = float(levelled(curve(plume.inlet, 0)[1]).max()) / plume.flow_rate
    return 100 / highest * np.vstack([values[::-1], values])


def colour_bar(figure: Figure, image: AxesImage, panels: list[Axes], size: Size) -> None:
    """The key to the colours, right of the panels."""
    bar = figure.colorbar(image, ax=panels, pad=0.015, aspect=14, fraction=0.05)
    bar.set_ticks(LEVELS, labels=[f"{level}" for level in LEVELS])
    bar.ax.tick_params(labelsize=0.85 * size.font)
    bar.set_label(
        "% of what enters" if size.narrow else "Concentration, %\nof the highest\nthat enters"
    )
    bar.outline.set_edgecolor(FAINT)


def length_label(plume: Plume, size: Size) -> str:
    """Label of the axis along the tube."""
    bore = f"{MILLI * plume.bore:.3g} mm"
    scale = f"bore {bore}" if size.narrow else f"bore {bore}, drawn wider than it is"
    return f"Length, mm ({scale})" if size.narrow else f"Length along the tube, mm ({scale})"


def outlet_curve(plume: Plume) -> tuple[FloatArray, FloatArray]:
    """Times and heights of the outlet signal that are drawn, (points,) arrays, s and 1/s."""
    return plume.outlet.times[0], np.clip(plume.outlet.values[0], 0.0, None)


def seconds(time: float, residence: float) -> str:
    """A time with as many digits as a hundredth of the residence time asks for, without unit."""
    places = max(0, int(np.ceil(2 - np.log10(residence))))
    return f"{round(float(time), places) + 0.0:.{places}f}"  # -0.0 + 0.0 is 0.0


def percent(share: float) -> str:
    """A share (float, 1) in whole per cent."""
    return f"{max(0.0, 100 * share):.0f} %"


def title_of(plume: Plume) -> str:
    """One line that says what is shown."""
    return f"What is in {short(plume.part, 40)}: {short(plume.solute, 40)}"

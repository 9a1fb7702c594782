"""The section of a bent tube with its two vortices, beside what such tubes add."""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure

from tailrace.figures.sizes import Size
from tailrace.figures.style import DASHES, INK, SERIES, sheet
from tailrace.quantities.arrays import AnyArray, FloatArray
from tailrace.studies.gallery.exhibit import Exhibit
from tailrace.wording import say

SQUARE_MICROLITRE, MILLILITRE_A_MINUTE = 1e-18, 1e-6 / 60
FLOWS = (0.02, 0.05, 0.1, 0.2, 0.5)
STREAMLINES = (0.15, 0.4, 0.65, 0.9)


def draw_straight_bent_coiled(exhibit: Exhibit, size: Size) -> Figure:
    """Variance against flow, and the section of a straight and a coiled tube."""
    figure = sheet(size.width, 1.9 * size.height if size.narrow else size.height)
    shape = (2, 2) if size.narrow else (2, 3)
    grid = figure.add_gridspec(*shape, height_ratios=(1.6, 1) if size.narrow else (1, 1))
    lines = figure.add_subplot(grid[0, :] if size.narrow else grid[:, :2])
    sections = [grid[1, 0], grid[1, 1]] if size.narrow else [grid[0, 2], grid[1, 2]]
    panels = [figure.add_subplot(one) for one in sections]
    drawn = [(name, table) for name, table in exhibit.groups("laid")]
    for order, (name, table) in enumerate(drawn):
        on = np.isfinite(table["variance_volume"])
        radius = table["bend_radius"][0]
        lines.plot(
            table["flow_rate"][on] / MILLILITRE_A_MINUTE,
            table["variance_volume"][on] / SQUARE_MICROLITRE,
            color=SERIES[order],
            linestyle=DASHES[order],
            marker=".",
            label=name
            if np.isinf(radius)
            else say("{name}, radius {radius:g} mm", name=name, radius=1e3 * radius),
        )
    lines.set(
        xscale="log",
        xlabel=say("Flow, mL/min"),
        ylabel=say("Variance that the tube adds, µL²"),
        ylim=(0, None),
        xticks=FLOWS,
    )
    lines.set_xticks([], minor=True)
    lines.set_xticklabels([say("{flow:g}", flow=flow) for flow in FLOWS])
    lines.legend(loc="upper left")
    shown = [(name, table) for name, table in drawn if np.any(np.isfinite(table["axial"]))]
    for panel, (name, table) in zip(panels, shown, strict=True):
        image = draw_section(panel, table, size)
        panel.set_title(name, fontsize=size.font)
    bar = figure.colorbar(image, ax=panels, pad=0.03, aspect=18, ticks=[0, 0.5, 1, 1.5, 2])
    bar.set_label(say("Speed along the tube\nover its mean"), fontsize=0.9 * size.font)
    return figure


def draw_section(panel: Axes, table: dict[str, AnyArray], size: Size) -> QuadMesh:
    """Speed along the tube as shades and the secondary flow as lines; outer side on the right."""
    on = np.isfinite(table["distance"])
    r, angle = np.unique(table["distance"][on]), np.unique(table["angle"][on])
    axial, stream = (
        whole(table[name][on].reshape(r.size, angle.size), mirror)
        for name, mirror in (("axial", 1.0), ("stream", -1.0))
    )
    around = np.concatenate([angle, 2 * np.pi - angle[-2::-1]])
    x, y = r[:, None] * np.cos(around), r[:, None] * np.sin(around)
    image = panel.pcolormesh(x, y, axial, cmap="cividis", vmin=0, vmax=2.0, shading="gouraud")
    image.set_rasterized(True)
    if np.any(stream):
        levels = [*(-one for one in reversed(STREAMLINES)), *STREAMLINES]
        panel.contour(
            x, y, stream, levels=levels, colors="white", linewidths=0.09 * size.font,
            linestyles="solid",
        )  # fmt: skip
        panel.annotate(
            say("outer side"), (1.03, 0), (1.12, 0), rotation=90, va="center", color=INK,
            fontsize=0.9 * size.font,
        )  # fmt: skip
    panel.set(aspect="equal", xlim=(-1.05, 1.3), ylim=(-1.05, 1.05), xticks=[], yticks=[])
    panel.grid(visible=False)
    for side in panel.spines.values():
        side.set_visible(False)
    return image


def whole(half: FloatArray, mirror: float) -> FloatArray:
    """The whole section from the half with angles from 0 to pi; mirror: sign of the other half."""
    return np.concatenate([half, mirror * half[:, -2::-1]], axis=1)

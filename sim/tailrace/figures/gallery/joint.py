"""A peak behind a joint, on a linear and on a logarithmic scale."""

from matplotlib.ticker import FuncFormatter

from tailrace.figures.gallery.family import draw_family
from tailrace.figures.style import sheet


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 1.9 * size.height if size.narrow else size.height)
    axes = figure.subplots(*((2, 1) if size.narrow else (1, 2)))
    curves = [(name, curve["time"], curve["signal"]) for name, curve in exhibit.groups("joint")]
    for panel in axes:
        draw_family(panel, curves)
    axes[0].set(xlim=(-1.1, 1.5), ylim=(0, None))
    top = max(values.max() for _, _, values in curves)
    axes[1].set(yscale="log", ylim=(2e-5 * top, 1.5 * top), xlim=(-1.5, 12))
    axes[1].yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    for panel in axes:
        panel.set(xlabel="Time from the middle of the peak, s", ylabel="Signal over amount, 1/s")
    figure.legend(
        *axes[0].get_legend_handles_labels(),
        loc="outside lower center",
        ncols=2,
        handlelength=3.2,
        columnspacing=1.5,
    )
    return figure

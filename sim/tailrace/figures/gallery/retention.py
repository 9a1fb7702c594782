"""Plates recorded and share kept against the retention factor, a line for each column."""

from matplotlib.ticker import FixedLocator, FuncFormatter, NullFormatter

from tailrace.figures.style import DASHES, SERIES, sheet

MARKERS = "osD^"


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 2.1 * size.height if size.narrow else size.height)
    axes = figure.subplots(*((2, 1) if size.narrow else (1, 2)), sharex=True)
    for order, (name, line) in enumerate(exhibit.groups("column")):
        look = {
            "color": SERIES[order],
            "linestyle": DASHES[order],
            "marker": MARKERS[order],
            "markersize": 0.4 * size.font,
            "label": name,
        }
        axes[0].plot(line["retention_factor"], line["plates_recorded"] / 1000, **look)
        axes[1].plot(line["retention_factor"], 100 * line["kept"], **look)
    for panel in axes:
        panel.set(xscale="log", xlabel="Retention factor k")
        panel.xaxis.set_major_locator(FixedLocator([0.5, 1, 2, 5, 10, 20]))
        panel.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
        panel.xaxis.set_minor_formatter(NullFormatter())
        panel.xaxis.set_minor_locator(FixedLocator([]))
    axes[0].set(ylim=(0, None), ylabel="Plates recorded, thousands")
    axes[1].set(ylim=(0, 103), ylabel="Share of the column's own, %")
    if size.narrow:
        axes[0].set_xlabel("")
    figure.legend(
        *axes[0].get_legend_handles_labels(),
        loc="outside lower center",
        ncols=1 if size.narrow else 2,
        handlelength=3.2,
    )
    return figure

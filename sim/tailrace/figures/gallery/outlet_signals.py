"""What leaves a tube, a panel for each Fourier number."""

from tailrace.figures.style import SERIES, sheet


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    rows, columns = (4, 2) if size.narrow else (2, 4)
    figure = sheet(size.width, 1.75 * size.height if size.narrow else size.height)
    axes = figure.subplots(rows, columns, sharex=True, sharey=True).ravel()
    for panel, (fourier, curve) in zip(axes, exhibit.groups("fourier_number"), strict=False):
        panel.plot(curve["time"], curve["signal"], color=SERIES[0], label="simulated")
        panel.plot(
            curve["time"],
            curve["long_tube_theory"],
            color=SERIES[1],
            linestyle=(0, (3.5, 1.5)),
            label="long-tube\ntheory",
        )
        panel.text(
            0.97,
            0.95,
            f"X = {fourier:g}",
            transform=panel.transAxes,
            ha="right",
            va="top",
        )
    last = axes[-1]
    last.legend(*axes[0].get_legend_handles_labels(), loc="center", handlelength=1.6)
    last.set_axis_off()
    above = axes[-1 - columns]
    above.tick_params(labelbottom=True)
    axes[0].set(xlim=(0, 3), ylim=(0, None), xticks=[0, 1, 2], yticks=[0, 2, 4, 6])
    figure.supxlabel("Time over residence time", fontsize=size.font)
    figure.supylabel("Signal × residence time", fontsize=size.font)
    return figure

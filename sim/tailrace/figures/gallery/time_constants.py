"""One peak through a series of time constants."""

from tailrace.figures.gallery.family import draw_family, key
from tailrace.figures.style import sheet


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 1.25 * size.height if size.narrow else size.height)
    panel = figure.subplots()
    curves = []
    for constant, curve in exhibit.groups("time_constant"):
        kept = 100 * curve["plates_kept"][0]
        curves.append((f"{constant:g} s: {kept:.0f} %", curve["time"], curve["signal"]))
    draw_family(panel, curves)
    panel.set(
        ylim=(0, None),
        xlabel="Time from the start of the injection, s",
        ylabel="Signal over amount, 1/s",
    )
    panel.margins(x=0.01)
    key(figure, panel, size, "Time constant: plates kept")
    return figure

"""One peak in a series of flow cells."""

from tailrace.figures.gallery.family import draw_family, key, shaded
from tailrace.figures.style import sheet

MICROLITRE = 1e-9


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    figure = sheet(size.width, 1.25 * size.height if size.narrow else size.height)
    panel = figure.subplots()
    curves = []
    for volume, curve in exhibit.groups("cell_volume"):
        if volume == 0:
            shaded(panel, curve["time"], curve["signal"], "at the inlet: 100 %")
            continue
        share, kept = volume / curve["peak_volume"][0], 100 * curve["plates_kept"][0]
        label = f"{volume / MICROLITRE:g} µL ({share:.1f}): {kept:.0f} %"
        curves.append((label, curve["time"], curve["signal"]))
    draw_family(panel, curves)
    panel.set(
        ylim=(0, None),
        xlabel="Time from the start of the injection, s",
        ylabel="Signal over amount, 1/s",
    )
    panel.margins(x=0.01)
    key(figure, panel, size, "Cell (over the peak's volume):\nplates kept")
    return figure

"""The figures of the gallery: from exhibits to pictures; a module for each, none computes."""

from importlib import import_module

import matplotlib

from tailrace.figures.picture import Picture
from tailrace.figures.sizes import sized


def draw(exhibit, size="page"):
    """Draw one figure.

    Parameters
    ----------
    exhibit : tailrace.studies.gallery.exhibit.Exhibit
    size : str
        Of ``tailrace.figures.sizes.SIZES``. On a slide the title stands above the figure.

    Returns
    -------
    Picture
    """
    module = import_module(f"tailrace.figures.gallery.{exhibit.name.replace('-', '_')}")
    with sized(size) as chosen:
        figure = module.draw(exhibit, chosen)
        if size == "slide":
            figure.suptitle(exhibit.title, x=0.01, ha="left", fontweight="bold")
        for panel in figure.axes:
            # Ticks that are made later, when a file is written, must be of this size, too.
            panel.tick_params(labelsize=matplotlib.rcParams["xtick.labelsize"], which="both")
        figure.draw_without_rendering()
        return Picture(figure, exhibit.title, exhibit.alt)

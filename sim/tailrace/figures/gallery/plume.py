"""What is in a tube at five moments, and the signal that leaves it."""

from tailrace.figures.plume import draw as draw_plume


def draw(exhibit, size):
    """Return the Figure for an Exhibit at a Size."""
    return draw_plume(exhibit.subject, size)

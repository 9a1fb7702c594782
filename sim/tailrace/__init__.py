"""Numerical simulation of how an injected band broadens on its way through a chromatograph.

``load_scenario`` reads a scenario file, its ``itinerary()`` is what there is to travel, and
``travel`` answers what is recorded at the end and what each part added. Both load when first used.
"""

from importlib import import_module

from tailrace.display import shown_by

_DOORS = {"load_scenario": "tailrace.scenario", "travel": "tailrace.journey"}

__all__ = ["load_scenario", "travel"]


def __getattr__(name: str) -> object:
    if name in _DOORS:
        return getattr(import_module(_DOORS[name]), name)
    raise AttributeError(f"module 'tailrace' has no attribute {name!r}")


def _html(value: object) -> str:
    from tailrace.report.notebook import html

    return html(value)


shown_by(html=_html)

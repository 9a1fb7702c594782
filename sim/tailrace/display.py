"""What a notebook shows of an object.

A room says only that its object can be shown; how it is shown is the business of the report room
above it, which is looked up when a notebook asks, not before.
"""

from importlib import import_module

VIEWS = {
    "Result": "result_html",
    "Itinerary": "itinerary_html",
    "Scenario": "scenario_html",
}
"""By class, a function of ``tailrace.report.notebook``."""


class Displayed:
    """Gives a class of ``VIEWS`` its rich display in notebooks."""

    def _repr_html_(self):
        """HTML, str; asked for by notebooks."""
        view = getattr(import_module("tailrace.report.notebook"), VIEWS[type(self).__name__])
        return view(self)

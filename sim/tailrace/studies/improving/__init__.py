"""Which changes to an instrument, in which order, at what price.

``planning.py`` which combinations there are; ``instruments.py`` builds them; ``branches.py``
travels them; ``readings.py`` and ``scoring.py`` read the figure that is aimed at; ``ledger.py``
keeps both together; ``sharing.py``, ``ordering.py``, ``searching.py`` and ``reasons.py`` draw the
conclusions; ``accounts.py`` and ``answering.py`` put them into ``result.py``; ``expecting.py``
says what the bench should find.
"""

from tailrace.studies.improving.aims import AIMS, ORDERS, Aim, Constraints

__all__ = ["AIMS", "ORDERS", "Aim", "Constraints", "improve"]


def improve(scenario, **choices):
    """Answer which changes are worth making; see ``tailrace.studies.improving.answering``."""
    from tailrace.studies.improving.answering import improve as answer

    return answer(scenario, **choices)

"""Which changes to an instrument, in which order, at what price.

``planning.py`` which combinations there are; ``instruments.py`` builds them; ``branches.py``
simulates them; ``ledger.py`` holds what came of them and reads the metric that is aimed at;
``ordering.py`` and ``searching.py`` answer single questions, from which ``solve.py`` chooses the
best combination and its order; ``assemble.py`` fills ``result.py``; ``expecting.py`` says what the
bench should find.
"""

from typing import TYPE_CHECKING, Any

from tailrace.studies.improving.aims import AIMS, ORDERS, Aim, Constraints

if TYPE_CHECKING:
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.improving.result import Improvement

__all__ = ["AIMS", "ORDERS", "Aim", "Constraints", "improve"]


def improve(scenario: "Scenario", **choices: Any) -> "Improvement":
    """Answer which changes are worth making; see ``tailrace.studies.improving.solve.improve``."""
    from tailrace.studies.improving.solve import improve as answer

    return answer(scenario, **choices)

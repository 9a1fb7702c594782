"""The cases of a sweep: which values meet, and each as a checked scenario of its own."""

import itertools

from tailrace.errors import BudgetError
from tailrace.quantities.kinds import show
from tailrace.scenario.changed import OF_THE_START, remade, with_values
from tailrace.scenario.target import StudyError
from tailrace.studies.axis import axis

MOST_CASES = 20_000
"""Hours of work for a long path on one processor."""


def axes_of(scenario, vary, together=False):
    """Read what is varied.

    Parameters
    ----------
    scenario : Scenario
    vary : sequence of str
        One text for each field; see ``tailrace.studies.axis.axis``.
    together : bool
        True: the fields change in step. False: every value of one meets every value of the others.

    Returns
    -------
    tuple of Axis

    Raises
    ------
    StudyError, BudgetError
        For an axis that is wrong, a field that is varied twice, lists of unequal length that
        should go in step; for more than MOST_CASES cases.
    """
    if isinstance(vary, str) or not vary:
        raise StudyError("expected a list of fields to vary, found none; name one or more")
    axes = tuple(axis(scenario.tables, text) for text in vary)
    places = [one.target.place for one in axes]
    names = [one.name for one in axes]
    for index, name in enumerate(names):
        if places[index] in places[:index] or name in names[:index]:
            raise StudyError(f"{name}: expected each field once, found it again; join the lists")
    if together and len({len(one) for one in axes}) > 1:
        found = ", ".join(f"{one.name} {len(one)}" for one in axes)
        raise StudyError(f"expected as many values of each in step, found {found}; even them out")
    count = len(axes[0]) if together else 1
    for one in () if together else axes:
        count *= len(one)
    if count > MOST_CASES:
        raise BudgetError(f"expected at most {MOST_CASES} cases, found {count}; use fewer points")
    return axes


def choices(axes, together=False):
    """Positions on the axes, one tuple a case; the last axis changes fastest.

    Parameters
    ----------
    axes : tuple of Axis
    together : bool

    Returns
    -------
    list of tuple of int
    """
    ranges = [range(len(one)) for one in axes]
    return list(zip(*ranges, strict=True) if together else itertools.product(*ranges))


def described(axes, choice) -> str:
    """A case in words: ``tube.length = 50 mm, method.flow = 0.1 mL/min``."""
    return ", ".join(
        f"{one.name} = {shown(one, index)}" for one, index in zip(axes, choice, strict=True)
    )


def shown(one, index) -> str:
    """One value of an axis as people write it."""
    value = one.values[index]
    if one.unit == "":
        return str(value)
    return f"{value:.4g}" if one.unit == "1" else show(value, one.target.kind)


def cases_of(scenario, axes, together=False):
    """Each case as a scenario of its own, checked as strictly as a file.

    Parameters
    ----------
    scenario : Scenario
    axes : tuple of Axis
    together : bool

    Yields
    ------
    Scenario

    Raises
    ------
    ScenarioError
        With the case in front of what is wrong with it.
    """
    document = {key: value for key, value in scenario.tables.items() if key not in OF_THE_START}
    for choice in choices(axes, together):
        values = {
            one.target.place: one.written[index] for one, index in zip(axes, choice, strict=True)
        }
        where = f"at {described(axes, choice)}"
        yield remade(scenario, with_values(document, values), where)

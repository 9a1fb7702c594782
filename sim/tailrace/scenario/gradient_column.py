"""From ``[gradient]`` and the solutes to a column that is run with a gradient."""

from dataclasses import fields
from itertools import pairwise

import numpy as np

from tailrace.parts.column.gradient import GradientColumn
from tailrace.quantities.kinds import show
from tailrace.scenario.problems import Problem

MOST_FACTOR = 1e4
"""A solute with a greater k at the end of the programme counts as one that never leaves; the same
bound holds for a retention factor that is given."""


def with_gradient(column, document) -> GradientColumn:
    """Return the column as the document's gradient makes it.

    Parameters
    ----------
    column : Column
    document : Document
        With a gradient, and kw and s of every solute.
    """
    gradient = document.gradient
    given = {field.name: getattr(column, field.name) for field in fields(column)}
    return GradientColumn(
        **given,
        weak_factor=np.array([one.kw for one in document.solutes]),
        strength=np.array([one.s for one in document.solutes]),
        programme_times=np.array([one.time for one in gradient.programme]),
        programme_fractions=np.array([one.strong for one in gradient.programme]),
        dwell_volume=gradient.dwell_volume or 0.0,
    )


def falling_times(gradient) -> list[Problem]:
    """Return the rows of a programme that come before the one above them."""
    rows = gradient.programme
    return [
        Problem(
            ("gradient", "programme", index, "time"),
            f"expected a time of {show(above.time, 'programme time')} or later, as in the row "
            f"above, found {show(one.time, 'programme time')}; put the rows in order",
        )
        for index, (above, one) in enumerate(pairwise(rows), start=1)
        if one.time < above.time
    ]


def never_leaving(column, stream) -> list[Problem]:
    """Return the solutes that the gradient does not bring off the column.

    Parameters
    ----------
    column : GradientColumn
    stream : Stream
    """
    factors = column.elution(stream).leaving_factor
    return [
        Problem(
            ("solutes", index, "kw"),
            f"expected a solute that leaves the column, found k = {factor:.2g} at the end of the "
            "programme; end it with more of the strong liquid, or correct kw and s",
        )
        for index, factor in enumerate(factors)
        if factor > MOST_FACTOR
    ]

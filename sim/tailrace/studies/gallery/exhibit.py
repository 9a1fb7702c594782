"""``Exhibit``: all that one figure of the gallery shows, and the words that go with it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.quantities.arrays import AnyArray

ERROR = "numerical_error"
"""Column of every table: estimate of the error of what is drawn, over its size."""
DISCRETISATION = "Largest discretisation error of what is drawn: {error}."
"""What that column is, in a sentence for a reader."""


SHOWN = {"m": "mm", "m^3": "uL", "m^6": "uL^2", "m^3/s": "mL/min", "Pa": "bar", "1/m^3": "1/mL"}
"""Units for people, by the SI unit."""
SIZES = {
    "mm": 1e-3,
    "um": 1e-6,
    "uL": 1e-9,
    "uL^2": 1e-18,
    "mL/min": 1e-6 / 60,
    "bar": 1e5,
    "1/mL": 1e6,
}
"""What one of them is in SI."""


@dataclass(frozen=True, kw_only=True)
class Series:
    """One column of the table behind a figure.

    Parameters
    ----------
    values : (rows,) array, in ``unit``
        Numbers, NaN where there is none, or text.
    unit : str
        SI as a rule; ``1`` for a bare number, empty for text.
    shown : tuple of str and float
        Unit for people, and what one of it is, in ``unit``.
    """

    values: AnyArray
    unit: str
    meaning: str
    shown: tuple[str, float]


@dataclass(frozen=True, kw_only=True)
class Exhibit:
    """What a figure shows: numbers and words; no picture yet.

    Parameters
    ----------
    caption : str
        Two sentences: what is shown, and what is to be seen in it.
    alt : str
        The picture in words, for those who cannot see it.
    table : dict of str to Series
        All that is drawn, one row a point; columns of equal length.
    subject : object, optional
        What a figure shows that no table holds: the liquid in a tube.
    about_error : str
        The largest of ERROR in a sentence, with a place ``{error}`` for it.
    """

    name: str
    title: str
    caption: str
    alt: str
    table: dict[str, Series]
    subject: object = None
    about_error: str = DISCRETISATION

    @property
    def largest_error(self) -> float:
        """Largest error of all that is drawn, over its size. float, 1."""
        return float(np.nanmax(self.table[ERROR].values))

    def column(self, name: str) -> AnyArray:
        """Values of one column of the table. (rows,) array, in its own unit."""
        return self.table[name].values

    def groups(self, name: str) -> Iterator[tuple[Any, dict[str, AnyArray]]]:
        """The table cut at each new value of a column.

        Yields
        ------
        value, dict of str to (rows,) array
            In the order of the table.
        """
        labels = self.column(name)
        for label in dict.fromkeys(labels.tolist()):
            pick = labels == label
            yield label, {key: one.values[pick] for key, one in self.table.items()}


def table_of(
    meanings: Mapping[str, tuple[str, ...]], pieces: Sequence[Mapping[str, Any]]
) -> dict[str, Series]:
    """Put a table together.

    Parameters
    ----------
    meanings : dict of str to (str, str) or (str, str, str)
        By column: unit, meaning, and the unit for people where that of SHOWN is not meant.
    pieces : sequence of dict of str to (rows,) array or scalar, in the unit of the column
        Rows that belong together; a scalar stands in every row of its piece.

    Returns
    -------
    dict of str to Series
    """
    spread = [np.broadcast_arrays(*(piece[name] for name in meanings)) for piece in pieces]
    joined = [
        np.concatenate([np.atleast_1d(one) for one in column])
        for column in zip(*spread, strict=True)
    ]
    found = {}
    for (name, (unit, meaning, *other)), values in zip(meanings.items(), joined, strict=True):
        shown = other[0] if other else SHOWN.get(unit, unit)
        size = (shown, 1.0 if shown == unit else SIZES[shown])
        found[name] = Series(values=values, unit=unit, meaning=meaning, shown=size)
    return found

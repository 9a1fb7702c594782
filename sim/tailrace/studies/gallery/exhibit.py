"""``Exhibit``: all that one figure of the gallery shows, and the words that go with it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from tailrace.quantities.arrays import AnyArray

ERROR = "numerical_error"
"""Column of every table: estimate of the error of what is drawn, over its size."""


@dataclass(frozen=True, kw_only=True)
class Series:
    """One column of the table behind a figure.

    Parameters
    ----------
    values : (rows,) array, in ``unit``
        Numbers, NaN where there is none, or text.
    unit : str
        SI as a rule; ``1`` for a bare number, empty for text.
    """

    values: AnyArray
    unit: str
    meaning: str


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
    """

    name: str
    title: str
    caption: str
    alt: str
    table: dict[str, Series]
    subject: object = None

    @property
    def largest_error(self) -> float:
        """Largest discretisation error of all that is drawn, over its size. float, 1."""
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
    meanings: Mapping[str, tuple[str, str]], pieces: Sequence[Mapping[str, Any]]
) -> dict[str, Series]:
    """Put a table together.

    Parameters
    ----------
    meanings : dict of str to (str, str)
        By column: unit and meaning.
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
    return {
        name: Series(values=values, unit=unit, meaning=meaning)
        for (name, (unit, meaning)), values in zip(meanings.items(), joined, strict=True)
    }

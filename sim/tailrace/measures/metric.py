"""What is said of a metric: one row of the registry."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from tailrace.measures.peaks import Gaussian, Peaks
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import Description


@dataclass(frozen=True, kw_only=True)
class Metric:
    """One row.

    Parameters
    ----------
    name : str
        In records and JSON.
    label : str
        As people say it, in ``[[accept]]`` too.
    unit : str
        SI; "1" of a plain number.
    meaning : str
        A clause without a full stop.
    read : callable or None
        Reads (lanes,) values off ``Peaks``; None as a value or as the reader where what it needs
        was not given.
    per : str
        ``solute`` or ``pair`` (of neighbours).
    kind : str
        Kind of quantity, by which limits are read and values shown; empty: a plain number.
    shown, digits : str and int
        Unit and significant digits for people; the SI unit where ``shown`` is empty.
    sensitivity : float, 1
        Relative error of the metric over that of its signal (over the height), near a Gaussian's:
        from the slope of the flank where it is read; small for sums over the whole peak.
    relative_to : str
        What that error is a share of: ``itself``, the ``width`` of the peak (of times, which can be
        near zero), that over the ``hold_up`` time, or its ``variance``, all of it, of what is a
        part of that; ``one`` where products and marches are compared, and the metric is less.
    in_gradient : str
        The metric that stands in for this one, NaN then, where the column is run with a gradient.
    of_column : bool
        There is none without a column.
    of_pair : callable or None
        Of a pair: read off metrics of peaks in the order of elution, (..., peaks) arrays by name;
        None where it is read off the trace.
    textbook : callable or None
        Its value for a ``Gaussian`` peak; None where a sum of variances says nothing of it.
    """

    name: str
    label: str
    unit: str
    meaning: str
    read: Callable[[Peaks], FloatArray | None] | None = None
    per: Literal["solute", "pair"] = "solute"
    kind: str = ""
    shown: str = ""
    digits: int = 3
    sensitivity: float = 2.0
    relative_to: Literal["itself", "width", "hold_up", "variance", "one"] = "itself"
    in_gradient: str = ""
    of_column: bool = False
    of_pair: Callable[[Mapping[str, FloatArray]], FloatArray] | None = None
    textbook: Callable[[Gaussian], FloatArray] | None = None

    @property
    def description(self) -> Description:
        """As fields of results are described."""
        return Description(
            meaning=self.meaning,
            unit=self.unit,
            label=self.label,
            shown=self.shown,
            digits=self.digits,
            along=(self.per,),
        )

"""A kind of part that the project does not have: a packed in-line filter, as a folder and a row.

A short bed of inert particles: liquid is dispersed in it as on a column without retention.
"""

ROW = '        Kind("filter", "Filter"),\n'

FOLDER = {
    "__init__.py": "",
    "part.py": '''"""A packed in-line filter."""

from collections.abc import Collection
from dataclasses import dataclass

from tailrace.eluent.stream import Stream
from tailrace.parts.base import Part
from tailrace.quantities.arrays import Number


@dataclass(frozen=True, kw_only=True)
class Filter(Part):
    """A short bed of inert particles.

    Parameters
    ----------
    volume : scalar or (lanes,) array, m^3
        Of the liquid in it.
    plates : scalar or (lanes,) array, 1
    bore, length : scalar or (lanes,) array, m
        Of the bed.
    permeability : scalar or (lanes,) array, m^2
        Of the bed (Darcy).
    """

    name: str
    volume: Number
    plates: Number
    bore: Number
    length: Number
    permeability: Number

    kind = "filter"
    smooths = True

    def pressure_drop(self, stream: Stream) -> Number:
        """Darcy's law. Scalar or (lanes,) array, Pa."""
        section = 3.141592653589793 / 4 * self.bore**2
        return stream.viscosity * self.length * stream.flow_rate / (section * self.permeability)

    def shortest_time(self, stream: Stream) -> Number:
        """Standard deviation of what it adds. Scalar or (lanes,) array, s."""
        return self.residence(stream) / self.plates**0.5

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Its packing."""
        return ["taken as evenly packed"]
''',
    "table.py": '''"""A filter as ``[[path]]`` writes it."""

from typing import Literal

from pydantic import Field

from tailrace.parts.table import PathTable
from tailrace.quantities.fields import Bore, Length, Volume


class FilterTable(PathTable):
    """A packed in-line filter."""

    part: Literal["filter"]
    volume: Volume
    plates: float = Field(ge=1, le=1e5, examples=[50])
    bore: Bore
    length: Length
    permeability: float = Field(gt=0, examples=[1e-13], description="m^2")
''',
    "theory.py": '''"""Closed form of a filter."""

import numpy as np

from tailrace.signals.cumulants import Cumulants


def theory(part, stream) -> Cumulants:
    """Mean T, variance T^2/N, third 3 T^3/N^2 of an inverse Gaussian."""
    mean = np.broadcast_to(part.residence(stream), (stream.lanes,))
    variance = mean**2 / part.plates
    return Cumulants(
        mean=mean,
        gaussian_variance=variance,
        variance=variance,
        third=3 * mean**3 / part.plates**2,
    )
''',
    "transfer.py": '''"""The transfer function of a filter."""

import numpy as np

from tailrace.signals.spectra import by_lane


def transfer(part, stream, omega):
    """Convection with dispersion on a long bed."""
    late = 1j * omega * by_lane(part.residence(stream))
    return np.exp(-2 * late / (1 + np.sqrt(1 + 2 * late / by_lane(part.plates))))
''',
    "march.py": '''"""How a band goes through a filter."""

from tailrace.signals.response import through_plates


def march(part, stream, band, resolution):
    """By the response of convection with dispersion."""
    return through_plates(band, part.residence(stream), part.plates, resolution.truncation)
''',
}

SCENARIO = """\
title = "A packed filter before the detector"

[method]
flow   = "0.6 mL/min"
eluent = { viscosity = "1.0 mPa*s" }

[[solutes]]
name        = "one"
diffusivity = "1.0e-9 m^2/s"

[injection]
shape  = "plug"
volume = "1 uL"

[[path]]
name   = "groove"
part   = "chamber"
volume = "0.5 uL"

[[path]]
name         = "in-line filter"
part         = "filter"
volume       = "6 uL"
plates       = 40
bore         = "2.1 mm"
length       = "4 mm"
permeability = 4e-14

[[path]]
name   = "cell"
part   = "cell"
volume = "2 uL"
"""

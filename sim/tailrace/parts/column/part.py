"""The column: a packed bed between two heads, isocratic."""

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np

from tailrace.eluent.stream import Stream, kozeny_carman
from tailrace.errors import PartError
from tailrace.parts.base import POINTS_PER_WIDTH, Doubt, Part, Passage
from tailrace.parts.column.packing import EDDY, TYPICAL_ERROR, reduced_heights
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.checks import checked, one_of

TOTAL_POROSITY = {"core-shell": 0.52, "fully porous": 0.65}
"""Fraction of the bed that an unretained small molecule reaches, at the usual core ratio.

A solid core takes its share of it; ranges of ``POROSITIES`` (Guiochon and Gritti, J. Chromatogr. A
1218 (2011) 1915, review; from memory).
"""
POROSITIES = {"core-shell": (0.50, 0.55), "fully porous": (0.60, 0.70)}

CORE_RATIO = {"core-shell": 0.7, "fully porous": 0.0}
"""Core over particle diameter; 0.63 to 0.74 in core-shell particles of 2.6 to 2.7 um (same)."""

SYNONYMS = {
    "superficially porous": "core-shell",
    "solid core": "core-shell",
    "porous shell": "core-shell",
    "core shell": "core-shell",
    "spp": "core-shell",
    "fully porous": "fully porous",
    "totally porous": "fully porous",
    "fpp": "fully porous",
    "tpp": "fully porous",
}
"""What the trade calls the two kinds of particles, in small letters and with hyphens as blanks."""

EXTERNAL_POROSITY = 0.40
"""Fraction of the bed between the particles; 0.37 to 0.42 in slurry-packed beds (from memory)."""

_Kept: TypeAlias = tuple[Stream, tuple[FloatArray, FloatArray]]


@dataclass(frozen=True, kw_only=True)
class Column(Part):
    """A packed column with a constant retention factor.

    Parameters
    ----------
    bore, length, particle_diameter : scalar or (lanes,) array, m
    particle : str
        ``core-shell`` or ``fully porous``, or one of ``SYNONYMS``.
    core_ratio : scalar or (lanes,) array, 1
        Core over particle diameter; NaN: the usual one of the kind of particle.
    plates : scalar or (lanes,) array, 1
        At ``plates_flow``, of every solute; NaN: from the plate-height curve of the packing.
    plates_include_head : bool
        True: the plates are those of bed and both heads together, as a maker measures and
        certifies them. False: those of the bed, to which the heads come; so it is with a
        gradient, whatever is given.
    plates_flow : scalar or (lanes,) array, m^3/s
        NaN: the plates hold at any flow. At others they follow the curve's ratio.
    plates_diffusivity : scalar or (lanes,) array, m^2/s
        Of each solute where the plates were found; NaN: as it is now. Else they follow likewise.
    plates_over_curve : scalar or (lanes,) array, 1
        Where no plates are given: how many it has over those of the plate-height curve.
    porosity, external_porosity : scalar or (lanes,) array, 1
        Total (NaN: the usual one) and between the particles.
    head_volume : scalar or (lanes,) array, m^3
        Mixed volume at each end: frit and distributor.
    column_tailing : scalar or (lanes,) array, 1
        USP tailing factor, at any flow and retention, as measured without broadening outside: an
        exponential behind the bed makes it, and plates are those at half height (``tailing.py``).
        NaN: none.
    kinetics : str
        ``equilibrium``: slow exchange is part of the dispersion. ``lumped``: first-order exchange.
        ``two-site``: the same with fast and slow sites side by side.
    mass_transfer_rate : scalar or (lanes,) array, 1/s
        Of the exchange, dq/dt = rate (K c - q), with k held on the dead volume; NaN: exchange
        between the liquid around the particles and all that is in them, as slow as the curve's C.
        With two sites that of the fast ones; NaN: in equilibrium.
    slow_share, slow_rate : scalar or (lanes,) array, 1 and 1/s
        Share of k that is held on slow sites, and the rate of these.
    capacity : scalar or (lanes,) array, mol
        What saturates the column (Langmuir); NaN: linear.
    """

    name: str
    bore: Number
    length: Number
    particle_diameter: Number
    particle: str = "fully porous"
    core_ratio: Number = float("nan")
    plates: Number = float("nan")
    plates_include_head: bool = True
    plates_flow: Number = float("nan")
    plates_diffusivity: Number = float("nan")
    plates_over_curve: Number = 1.0
    porosity: Number = float("nan")
    external_porosity: Number = EXTERNAL_POROSITY
    head_volume: Number = 0.0
    column_tailing: Number = float("nan")
    kinetics: str = "equilibrium"
    mass_transfer_rate: Number = float("nan")
    slow_share: Number = float("nan")
    slow_rate: Number = float("nan")
    capacity: Number = float("nan")

    kind = "column"
    faults = ("plates",)
    separates = True
    smooths = True

    def __post_init__(self) -> None:
        """Take the particle by its usual name."""
        object.__setattr__(self, "particle", kind_of_particle(self.particle))
        checked(self)
        one_of(self, "particle", tuple(CORE_RATIO))
        one_of(self, "kinetics", ("equilibrium", "lumped", "two-site"))

    @property
    def core(self) -> FloatArray:
        """Core over particle diameter. Scalar or (lanes,) array, 1."""
        return _given(self.core_ratio, CORE_RATIO[self.particle])

    @property
    def shell_share(self) -> FloatArray:
        """Share of the particle that is not core. Scalar or (lanes,) array, 1."""
        return 1 - np.power(self.core, 3)

    @property
    def total_porosity(self) -> FloatArray:
        """The one given, or the usual one carried to this core. Scalar or (lanes,) array, 1."""
        usual_pores = TOTAL_POROSITY[self.particle] - EXTERNAL_POROSITY
        usual_shell = (1 - EXTERNAL_POROSITY) * (1 - CORE_RATIO[self.particle] ** 3)
        shell = (1 - np.asarray(self.external_porosity)) * self.shell_share
        return _given(self.porosity, self.external_porosity + usual_pores * (shell / usual_shell))

    @property
    def most_porosity(self) -> float:
        """Total porosity of which nothing but cores is left out. 1."""
        outside = np.asarray(self.external_porosity)
        return float(np.min(outside + (1 - outside) * self.shell_share))

    @property
    def shell_porosity(self) -> FloatArray:
        """Pores of the shell over the shell. Scalar or (lanes,) array, 1."""
        pores = self.total_porosity - self.external_porosity
        return pores / ((1 - np.asarray(self.external_porosity)) * self.shell_share)

    @property
    def bed_volume(self) -> FloatArray:
        """Of the liquid in the bed that an unretained solute reaches. (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length * self.total_porosity

    @property
    def volume(self) -> FloatArray:
        """Of the liquid in the bed and both heads. Scalar or (lanes,) array, m^3."""
        return np.asarray(self.bed_volume + 2 * np.asarray(self.head_volume))

    def dead_time(self, stream: Stream) -> FloatArray:
        """Time of an unretained solute in the bed. Scalar or (lanes,) array, s."""
        return self.bed_volume / stream.flow_rate

    def head_time(self, stream: Stream) -> FloatArray:
        """Time in one head. Scalar or (lanes,) array, s."""
        return np.asarray(self.head_volume) / stream.flow_rate

    def retention_time(self, stream: Stream) -> FloatArray:
        """Dead time of the bed times (1 + k). (lanes,) array, s."""
        whole = 1 + np.asarray(stream.retention_factor, dtype=float)
        return np.asarray(self.dead_time(stream) * whole)

    def residence(self, stream: Stream) -> FloatArray:
        """Retention time of the bed and time in both heads. (lanes,) array, s."""
        return self.retention_time(stream) + 2 * self.head_time(stream)

    def retained(self, stream: Stream) -> FloatArray:
        """Time in the stationary phase. Scalar or (lanes,) array, s."""
        return np.asarray(self.residence(stream) - self.dead_time(stream)) - 2 * self.head_time(
            stream
        )

    @property
    def particles_long(self) -> FloatArray:  # type: ignore[override]
        """Length over particle diameter. Scalar or (lanes,) array, 1."""
        return np.asarray(self.length / np.asarray(self.particle_diameter))

    def loading(self, stream: Stream) -> FloatArray:
        """Amount injected over capacity; 0 where either is not known. (lanes,) array, 1."""
        return _given(np.asarray(stream.amount, dtype=float) / self.capacity, 0.0)

    def reduced_velocity(self, stream: Stream) -> FloatArray:
        """Velocity between the particles times particle diameter over diffusivity. 1."""
        section = np.pi / 4 * np.square(self.bore) * self.external_porosity
        velocity = stream.flow_rate / section
        return velocity * self.particle_diameter / stream.diffusivity

    def zone_retention(self, stream: Stream) -> FloatArray:
        """Time in the particles over time between them. (lanes,) array, 1."""
        whole = 1 + np.asarray(stream.retention_factor, dtype=float)
        return whole * self.total_porosity / self.external_porosity - 1

    def heights(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """Reduced plate heights of dispersion and of slow exchange. Two (lanes,) arrays, 1."""
        dispersion, exchange = reduced_heights(
            self.reduced_velocity(stream),
            self.zone_retention(stream),
            self.shell_porosity,
            self.external_porosity,
            self.core,
            EDDY[self.particle],
        )
        return dispersion / self.plates_over_curve, exchange / self.plates_over_curve

    def plates_of_bed(self, stream: Stream) -> FloatArray:
        """The plates given less what the heads take of them; NaN: none given. (lanes,) array, 1.

        Each head is one stirred tank; the share of the heads is the same at any flow. Raises
        PartError where the heads alone leave fewer plates than are given.
        """
        plates = self._by_variance(np.asarray(self.plates, dtype=float))
        if not self.plates_include_head:
            return plates
        bed, head = self.retention_time(stream), self.head_time(stream)
        heads, whole = 2 * np.square(head), np.square(bed + 2 * head)
        left = whole / plates - heads
        if np.any(left <= 0):
            most = np.min(np.where(left <= 0, whole / np.maximum(heads, 1e-300), np.inf))
            raise PartError(
                f"{self.name}: head_volume alone leaves {most:.3g} plates, fewer than those given: "
                "give a smaller head_volume, fewer plates, or plates_include_head = false if they "
                "are those of the bed alone"
            )
        return np.asarray(np.square(bed) / left)

    def variances(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        """Variances in time of the bed: dispersion, and slow exchange. Two (lanes,) arrays, s^2.

        Raises PartError where exchange or heads alone leave fewer plates than are given.
        """
        # asked for a dozen times a journey; parts and streams do not change
        cached: _Kept | None = self.__dict__.get("_variances")
        if cached is None or cached[0] is not stream:
            cached = stream, self._variances_at(stream)
            self.__dict__["_variances"] = cached
        return cached[1]

    def _variances_at(self, stream: Stream) -> tuple[FloatArray, FloatArray]:
        dispersion, exchange = self.heights(stream)
        at = self._where_found(stream)
        stated = (
            self.plates_of_bed(stream)
            * sum(self.heights(at))
            * self.particle_diameter
            / self.length
        )
        square = np.square(self.retention_time(stream))
        scale = square * self.particle_diameter / self.length / _given(stated, 1.0)
        curve = np.asarray(self.length / (sum(self.heights(stream)) * self.particle_diameter))
        scale = scale * np.where(np.isnan(stated), curve / self._by_variance(curve), 1.0)
        dispersion, exchange = dispersion * scale, exchange * scale
        if self.kinetics == "equilibrium":
            return dispersion + exchange, np.zeros_like(dispersion)
        held = self.dead_time(stream) * np.asarray(stream.retention_factor, dtype=float)
        fast_given = ~np.isnan(np.asarray(self.mass_transfer_rate, dtype=float))
        if self.kinetics == "two-site":
            mobile, sites, rates = self._two_sites(stream)
            slow = 2 * mobile * np.sum(sites / rates, axis=0)
            whole = ~np.isnan(np.asarray(self.plates, dtype=float))
            curve = np.where(fast_given, dispersion, dispersion + exchange)
        else:
            slow = _given(2 * held / np.asarray(self.mass_transfer_rate), exchange)
            whole = ~np.isnan(np.asarray(self.plates) * self.mass_transfer_rate)
            curve = dispersion
        dispersion = np.where(whole, dispersion + exchange - slow, curve)
        if np.any(dispersion <= 0):
            most = np.min(np.where(dispersion <= 0, square / np.maximum(slow, 1e-300), np.inf))
            key = self._rate_key
            raise PartError(
                f"{self.name}: {key} alone leaves {most:.3g} plates, fewer than those "
                f"given: give a higher {key} or fewer plates"
            )
        return dispersion, slow

    def _where_found(self, stream: Stream) -> Stream:
        """The stream with which the plates were found."""
        return replace(
            stream,
            flow_rate=_given(self.plates_flow, stream.flow_rate),
            diffusivity=_given(self.plates_diffusivity, stream.diffusivity),
        )

    def plates_carried(self, stream: Stream) -> FloatArray:
        """Plates at this stream over those where they were found, by the curve. (lanes,) array."""
        found = self.heights(self._where_found(stream))
        return np.asarray(sum(found) / sum(self.heights(stream)))

    def _by_variance(self, plates: FloatArray) -> FloatArray:
        """Mean squared over variance for plates as certificates have them, at half height."""
        if np.isnan(self.column_tailing).all():
            return plates
        from tailrace.parts.column.tailing import by_variance

        return by_variance(self.column_tailing, plates)

    @property
    def _rate_key(self) -> str:
        return "slow_rate" if self.kinetics == "two-site" else "mass_transfer_rate"

    def _two_sites(self, stream: Stream) -> tuple[FloatArray, FloatArray, FloatArray]:
        """As of ``exchange``: fast sites, then slow ones."""
        k = np.asarray(stream.retention_factor, dtype=float)
        fast = _given(self.mass_transfer_rate, np.inf)
        rows = np.broadcast_arrays(
            (1 - np.asarray(self.slow_share)) * k,
            np.asarray(self.slow_share) * k,
            fast,
            np.asarray(self.slow_rate, dtype=float),
        )
        return self.dead_time(stream), np.stack(rows[:2]), np.stack(rows[2:])

    def tail_time(self, stream: Stream) -> FloatArray:
        """Time constant of the exponential that makes it tail; 0 for none. (lanes,) array, s."""
        if np.isnan(self.column_tailing).all():
            return np.zeros(np.shape(stream.retention_factor))
        from tailrace.parts.column.tailing import tail_share

        plates = self.plate_number(stream)
        return (
            tail_share(self.column_tailing, plates) * self.retention_time(stream) / np.sqrt(plates)
        )

    def march_seconds(
        self, stream: Stream, deviation: FloatArray, points: FloatArray, refinement: float
    ) -> float:
        """Of a bed that is cut into cells, or that widens a band to very many of its steps."""
        from tailrace.parts.column.cells.grid import seconds_of

        return seconds_of(self, stream, deviation, points, refinement)

    def compiles(self, stream: Stream) -> tuple[str, ...]:
        """Of a bed that is cut into cells."""
        return ("parts/column/cells/march",) if self.in_cells(stream) else ()

    def in_cells(self, stream: Stream) -> bool:
        """Whether the bed is cut into cells."""
        return self.kinetics != "equilibrium" or bool(np.any(self.loading(stream) > 0))

    def exchange(self, stream: Stream) -> tuple[FloatArray, FloatArray, FloatArray]:
        """First-order exchange: mobile time s; on each kind of site its retention 1 and rate 1/s.

        (lanes,) array and two (sites, lanes) arrays; a rate is infinite where nothing is exchanged
        slowly.
        """
        if self.kinetics == "two-site":
            return self._two_sites(stream)
        given = ~np.isnan(np.asarray(self.mass_transfer_rate, dtype=float))
        given = given | (self.kinetics == "equilibrium")
        dead, k = self.dead_time(stream), np.asarray(stream.retention_factor, dtype=float)
        zone = self.zone_retention(stream)
        mobile = np.where(given, dead, self.retention_time(stream) / (1 + zone))
        held = np.where(given, k, zone)
        slow = self.variances(stream)[1]
        rate = np.where(slow > 0, 2 * mobile * held / np.where(slow > 0, slow, 1.0), np.inf)
        held, rate = np.broadcast_arrays(held, rate)
        return mobile, held[None], rate[None]

    def plate_number(self, stream: Stream) -> FloatArray:
        """Plates of the bed at this stream: those given, or the curve's. (lanes,) array, 1."""
        return np.square(self.retention_time(stream)) / sum(self.variances(stream))

    def pressure_drop(self, stream: Stream) -> Number:
        """Kozeny-Carman, frits left out. Scalar or (lanes,) array, Pa."""
        return kozeny_carman(
            stream, self.bore, self.length, self.particle_diameter, self.external_porosity
        )

    def shortest_time(self, stream: Stream) -> FloatArray:
        """Standard deviation that the bed adds without slow sites and tail. (lanes,) array, s."""
        left = np.square(self.retention_time(stream)) / self.plate_number(stream)
        left = left - np.square(self.tail_time(stream))
        if self.kinetics == "two-site":
            left = self.variances(stream)[0]
        return self.residence(stream) / self.retention_time(stream) * np.sqrt(left)

    def first_step(self, step: Number, edged: bool, stream: Stream) -> FloatArray:
        """Resolve what the bed makes of a brief injection."""
        return np.maximum(step, self.shortest_time(stream) / POINTS_PER_WIDTH)

    def refused(self, stream: Stream) -> tuple[str, str] | None:
        """Heads or an exchange that alone leave fewer plates than are given."""
        key = "head_volume"
        try:
            self.plates_of_bed(stream)
            key = self._rate_key
            self.variances(stream)
        except PartError as error:
            return key, str(error)
        return None

    def no_transfer(self, stream: Stream) -> str:
        """An overloaded column is not linear."""
        return f"{self.name} is overloaded" if np.any(self.loading(stream) > 0) else ""

    def as_factor(self, stream: Stream, mean: Number = 0.0, variance: Number = 0.0) -> Passage:
        """With next to no sample on it."""
        if not self.no_transfer(stream):
            return self, stream
        return replace(self, capacity=float("nan")), stream

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """Its plates and its porosity."""
        found = []
        if "plates" not in given:
            found.append(
                Doubt(
                    taken="plates from the curve of a good column, within "
                    f"{100 * TYPICAL_ERROR:.0f} %",
                    settled="the certificate, or a late peak, to which the instrument adds little",
                    others=tuple(
                        replace(self, plates_over_curve=factor)
                        for factor in (1 - TYPICAL_ERROR, 1 + TYPICAL_ERROR)
                    ),
                )
            )
        if "porosity" not in given:
            usual = self.total_porosity / TOTAL_POROSITY[self.particle]
            low, high = (usual * one for one in POROSITIES[self.particle])
            most, least = np.max(high), np.min(low)
            found.append(
                Doubt(
                    taken=f"the usual porosity, and not another between {least:.2g} and {most:.2g}",
                    settled="the retention time of an unretained solute",
                    others=tuple(replace(self, porosity=one) for one in (low, high)),
                )
            )
        return found

    def assumptions(self, given: Collection[str]) -> list[str]:
        """What is taken as usual of such columns, and the models."""
        found = [] if "particle" in given else [f"particle {self.particle}, none given"]
        if self.particle == "core-shell" and "core_ratio" not in given:
            found.append(f"core ratio {self.core:g}; 0.63 to 0.74 are in use")
        if "porosity" not in given:
            found.append(
                f"total porosity {self.total_porosity:.3g}, the usual one of {self.particle} "
                "particles"
            )
        if "external_porosity" not in given:
            found.append(
                f"{self.external_porosity:g} of the bed between the particles; pressure drop by "
                "Kozeny-Carman, typically within 20 %, frits left out"
            )
        if "plates" not in given:
            found.append(
                f"plates from the plate-height curve of a good column of {self.particle} "
                f"particles, typically within {100 * TYPICAL_ERROR:.0f} %"
            )
        elif "plates_flow" not in given:
            found.append(
                "the plates given were found at the flow of the method; at others they follow the "
                "plate-height curve"
            )
        if {"plates", "head_volume"} <= set(given) and "plates_include_head" not in given:
            found.append("the plates given include what head_volume takes, as certified ones do")
        if self.kinetics == "lumped" and "mass_transfer_rate" not in given:
            found.append("exchange with the particles as slow as the curve's C terms")
        if "column_tailing" in given:
            found.append(
                f"tailing of {self.column_tailing:g} by an exponential behind the bed, the same at "
                "any flow and retention; plates are those at half height, as certificates have "
                "them, and by the variance there are fewer"
            )
        if self.kinetics == "two-site" and "mass_transfer_rate" not in given:
            found.append("fast sites in equilibrium, since no mass_transfer_rate is given")
        if "capacity" in given:
            found.append("Langmuir isotherm; the solutes do not compete for the column")
        return found


def kind_of_particle(name: str) -> str:
    """The kind that a name of the trade stands for; any other name as it is."""
    plain = " ".join(name.lower().replace("-", " ").replace("_", " ").split())
    return SYNONYMS.get(plain.removesuffix(" particles"), name)


def _given(value: Number, otherwise: Number) -> FloatArray:
    """The value where there is one, else (NaN) the other."""
    value = np.asarray(value, dtype=float)
    return np.where(np.isnan(value), otherwise, value)

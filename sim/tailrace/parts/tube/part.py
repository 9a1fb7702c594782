"""A tube: connecting capillary, needle seat, heat exchanger, sample loop; anything with a bore."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from tailrace.eluent.stream import LAMINAR_LIMIT, Stream, hagen_poiseuille, reynolds_number
from tailrace.parts.base import EDGE_DETAIL, POINTS_PER_WIDTH, Part
from tailrace.parts.tube.bent.stretch import Chain, Stretch
from tailrace.quantities.arrays import BoolArray, FloatArray, Number
from tailrace.quantities.checks import one_of, stretches
from tailrace.quantities.kinds import show

POINTS_PER_RESIDENCE = 128
"""In the first tube: an edge passes the middle of a short tube undiminished."""
POINTS_PER_FRONT, MOST_PER_RESIDENCE = 10, 16_000
"""For the front behind an edge, and of a very short tube."""
POINTS_PER_BENT_FRONT = 2.5
"""Behind an edge in a bent tube, which is marched as smooth all the same: 2e-5 in L2."""
POINTS_IN_LONG_TUBES = 16
"""Per standard deviation, of a narrow injection into a first tube that delays it by many widths."""
EDGE_STEP, STEEPER = np.sqrt(12) / 64, 0.7
"""Of a plug's standard deviation, the step in time that it comes with; of another band's, that of
which its steepest slope is."""
LEAST_FOURIER, MOST_FOURIER = 0.003, 100.0
"""Fourier numbers between which the tube is checked against the exact solution."""
LEAST_PECLET = 1000.0
ENTRANCE = 0.056
"""Length in which the flow develops, over bore and Reynolds number (from memory)."""
ALONG = "diffusion along the tubes"
DEVELOPING = "flow that is still developing at the inlets of tubes"
MIXED, CARRIED_OVER = "mixed", "carried over"
MOST_DEAN = 200.0
"""To which ``bent/flow.py`` is tabulated."""
LOOSE = 0.1
"""Half the bore over the bend radius up to which a bend is loose (common practice, no source)."""


@dataclass(frozen=True, kw_only=True)
class Tube(Part):
    """A round, open tube in laminar flow, straight or bent.

    Parameters
    ----------
    bore : scalar or (lanes,) array, m
        Inner diameter.
    length : scalar or (lanes,) array, m
    bend_radius : scalar or (lanes,) array, m
        Of its axis; infinite where it is straight.
    bends : tuple of (length m, bend radius m, turned)
        Stretches behind each other, instead of one bend radius; turned ones bend the other way.
    inlet : "mixed" or "carried over"
        Whether what enters is uniform over the section, or has the profile with which it left the
        tube before: the same place over the bore, which is the same streamline, with an equal
        share of the flow around it, whatever the two bores.
    hands_on : bool
        Whether the next part takes over the profile.
    """

    name: str
    bore: Number
    length: Number
    bend_radius: Number = np.inf
    bends: tuple[tuple[float, float, bool], ...] = ()
    inlet: str = MIXED
    hands_on: bool = False

    kind = "tube"
    faults = ("bore", "length", "volume", "bend_radius")
    smooths = True
    laminar = True
    shows_inside = True

    def __post_init__(self) -> None:
        """Refuse sizes, bends and inlets that no tube has."""
        super().__post_init__()
        stretches(self, self.bends)
        one_of(self, "inlet", (MIXED, CARRIED_OVER))

    @property
    def volume(self) -> Number:
        """Scalar or (lanes,) array, m^3."""
        return np.pi / 4 * np.square(self.bore) * self.length

    def fourier_number(self, stream: Stream) -> FloatArray:
        """X = pi D L / F: residence over the radial diffusion time a^2/D. (lanes,) array, 1.

        Does not depend on the bore. Below about 1 the outlet signal is not Gaussian.
        """
        return np.asarray(np.pi * stream.diffusivity * self.length / stream.flow_rate)

    def peclet_number(self, stream: Stream) -> FloatArray:
        """Mean velocity times bore over diffusivity. (lanes,) array, 1.

        Above about 1000 molecular diffusion along the tube is negligible: it adds to the
        variance the fraction 192 / Pe^2 of Taylor's (Aris, Proc. R. Soc. A 235 (1956) 67).
        """
        return np.asarray(4 * stream.flow_rate / (np.pi * self.bore * stream.diffusivity))

    def reynolds_number(self, stream: Stream) -> Number:
        """Mean velocity times bore over kinematic viscosity. Scalar or (lanes,) array, 1."""
        return reynolds_number(stream, self.bore)

    @property
    def is_bent(self) -> bool:
        """Whether any of it is bent, in any lane."""
        return not all(np.all(np.isinf(radius)) for _, radius, _ in self.stretches)

    @property
    def nearly_as_fine(self) -> bool:  # type: ignore[override]
        """Grids of bent tubes grow by a power of the fineness: see ``bent/resolution.py``."""
        return self.is_bent

    @property
    def finer(self) -> float:  # type: ignore[override]
        """Of finite volumes over two directions more than of those over one."""
        return 12.0 if self.is_bent else 8.0

    @property
    def carries_over(self) -> bool:  # type: ignore[override]
        """Whether the profile of the tube before enters."""
        return self.inlet == CARRIED_OVER

    def handing_on(self) -> Self:
        """The tube with its profile kept for the next one."""
        return replace(self, hands_on=True)

    @property
    def manner(self) -> str:  # type: ignore[override]
        """How its theory and march begin: "bent" where it is bent or joined to another tube."""
        return "bent" if self.is_bent or self.carries_over or self.hands_on else ""

    @property
    def expands(self) -> bool:  # type: ignore[override]
        """Where it is solved for, and not tabulated as one number beside another."""
        return bool(self.manner)

    @property
    def stretches(self) -> list[tuple[float, Number, bool]]:
        """Share of the length, bend radius in m, and whether it turns back, of each stretch."""
        if not self.bends:
            return [(1.0, self.bend_radius, False)]
        whole = sum(length for length, _, _ in self.bends)
        return [(length / whole, radius, turned) for length, radius, turned in self.bends]

    def bent_lanes(self, lanes: int) -> BoolArray:
        """Which lanes are bent anywhere. (lanes,) array."""
        bent = [np.isfinite(np.broadcast_to(radius, (lanes,))) for _, radius, _ in self.stretches]
        found: BoolArray = np.any(bent, axis=0)
        return found

    def dean_number(self, stream: Stream, radius: Number) -> Number:
        """Reynolds number times the root of half the bore over a bend radius. 1; 0 if straight."""
        root = np.sqrt(np.asarray(self.bore) / 2 / np.asarray(radius))
        return np.where(root > 0, self.reynolds_number(stream) * root, 0.0)

    def variance_if_bent(self, radius: float, stream: Stream) -> FloatArray | None:
        """Good to a few percent of what it says; (lanes,) array, s^2."""
        if self.is_bent:
            return None
        if self.bent_on(radius).refused(stream) is not None:
            return np.full(stream.lanes, np.nan)
        from tailrace.parts.tube.bent.theory import rough_change

        lanes = (stream.lanes,)
        fourier = np.broadcast_to(self.fourier_number(stream), lanes)
        schmidt = stream.schmidt_number
        strength = np.square(self.dean_number(stream, radius)) * schmidt
        change = rough_change(np.broadcast_to(strength, lanes), fourier)
        return change * np.square(np.broadcast_to(self.residence(stream), lanes) / fourier)

    def bent_on(self, radius: float) -> Part:
        """On one bend all along."""
        return replace(self, bend_radius=radius, bends=())

    def straightened(self, stream: Stream) -> tuple[Part, Stream]:
        """A straight tube in which solutes diffuse as much faster as gives its variance."""
        if not self.is_bent:
            return self, stream
        from tailrace.parts.tube.bent.theory import stirred

        lanes = (stream.lanes,)
        fourier = np.broadcast_to(self.fourier_number(stream), lanes)
        schmidt = stream.schmidt_number
        faster = sum(
            share
            * stirred(
                np.broadcast_to(np.square(self.dean_number(stream, radius)) * schmidt, lanes),
                fourier,
            )
            for share, radius, _ in self.stretches
        )
        straight = replace(self, bend_radius=np.inf, bends=())
        return straight, replace(stream, diffusivity=stream.diffusivity * faster)

    def as_factor(
        self, stream: Stream, mean: Number = 0.0, variance: Number = 0.0
    ) -> tuple[Part, Stream]:
        """Itself in lanes that are bent as is tabulated, or closer; else straight, entered mixed,
        and as long or short as is."""
        from tailrace.parts.tube.spectrum import LEAST, MOST

        tube, stream = self._widened(stream)
        held = tube._tabulated(stream)
        if tube.is_bent and np.all(held):
            return tube, stream
        part, to = tube.straightened(stream)
        fourier = part.fourier_number(to)
        near = np.clip(fourier, LEAST * 1.001, MOST / 1.001)
        if np.any(near != fourier):
            to = replace(to, diffusivity=to.diffusivity * near / fourier)
        if tube.is_bent and np.any(held):
            to = replace(to, diffusivity=np.where(held, stream.diffusivity, to.diffusivity))
            radius = np.where(held, tube.stretches[0][1], np.inf)
            return replace(part, bend_radius=radius), to  # type: ignore[type-var]
        return replace(part, inlet=MIXED, hands_on=False), to  # type: ignore[type-var]

    def _widened(self, stream: Stream) -> tuple[Self, Stream]:
        """Where a bend is closer than is tabulated, the closest that is, in which solutes diffuse
        so much faster that the variance is its own: in shape two such tubes hardly differ."""
        from tailrace.parts.tube.bent.spectrum import LEAST_PASSED, highest_strength
        from tailrace.parts.tube.bent.theory import stirred

        if not self.is_bent or len(self.stretches) > 1 or self.carries_over or self.hands_on:
            return self, stream
        schmidt = stream.schmidt_number
        ((_, strength),), fourier = self._bending(stream), self.fourier_number(stream)
        rows = np.broadcast_arrays(
            strength, highest_strength(schmidt), fourier, schmidt, np.zeros(stream.lanes)
        )
        own, most, length, number = (np.array(one) for one in rows[:4])
        closer = (own > most) & (most > 0) & (length >= LEAST_PASSED)
        if not np.any(closer):
            return self, stream
        faster, wider = np.ones((2, stream.lanes))
        faster[closer] = stirred(own[closer], length[closer]) / stirred(
            most[closer], length[closer]
        )
        most = np.minimum(most, highest_strength(number / faster))
        wider[closer] = (own / (most * faster))[closer]
        tube = replace(self, bend_radius=self.stretches[0][1] * wider, bends=())
        return tube, replace(stream, diffusivity=stream.diffusivity * faster)

    def left_out(self, stream: Stream, diffusivity: Mapping[str, float]) -> dict[str, FloatArray]:
        """As if it were straight; where its flow develops, as if nothing spread there at all."""
        from tailrace.parts.tube.bent.theory import straight_variance

        lanes = (stream.lanes,)
        fourier = np.broadcast_to(self.fourier_number(stream), lanes)
        whole = straight_variance(fourier)
        reynolds = np.nan_to_num(np.asarray(self.reynolds_number(stream), dtype=float))
        developed = 1 - np.minimum(ENTRANCE * reynolds * self.bore / self.length, 1.0)
        found = {
            ALONG: fourier / 24 * 192 / np.square(self.peclet_number(stream)) / whole,
            DEVELOPING: straight_variance(fourier * developed) / whole - 1,
        }
        for effect, ratio in diffusivity.items():
            found[effect] = straight_variance(fourier * ratio) / ratio**2 / whole - 1
        return {effect: np.broadcast_to(change, lanes) for effect, change in found.items()}

    def pressure_drop(self, stream: Stream) -> Number:
        """Hagen-Poiseuille, times the friction of each stretch. Scalar or (lanes,) array, Pa."""
        straight = hagen_poiseuille(stream, self.bore, self.length)
        if not self.is_bent:
            return straight
        from tailrace.parts.tube.bent.flow import friction

        return straight * sum(
            share * friction(self.dean_number(stream, radius))
            for share, radius, _ in self.stretches
        )

    def refused(self, stream: Stream) -> tuple[str, str] | None:
        """A bend that no tube of this bore makes, or in which the flow is not known."""
        key = "bends" if self.bends else "bend_radius"
        tightest = min(float(np.min(radius)) for _, radius, _ in self.stretches)
        if tightest < float(np.max(self.bore)):
            return key, (
                f"expected bends wider than the bore of {show(np.max(self.bore), 'bore')}, found a "
                f"radius of {show(tightest, 'bend radius')}; check both and their units"
            )
        highest = max(float(np.max(self.dean_number(stream, r))) for _, r, _ in self.stretches)
        if np.isnan(highest):
            return key, "expected a viscosity beside a bent tube, found none; add one"
        if highest > MOST_DEAN:
            return key, (
                f"expected a Dean number up to {MOST_DEAN:g}, up to which the flow in a bend is "
                f"known, found {highest:.4g}; lower the flow rate or widen the bend"
            )
        return None

    def no_transfer(self, stream: Stream) -> str:
        """Of numbers that are not tabulated, or not solved for."""
        from tailrace.parts.tube.spectrum import LEAST, MOST

        fourier = self.fourier_number(stream)
        if self.manner:
            return self._not_solved(stream)
        if np.min(fourier) < LEAST or np.max(fourier) > MOST:
            return f"the Fourier number of {self.name} is outside {LEAST:g} to {MOST:g}"
        return ""

    def _not_solved(self, stream: Stream) -> str:
        from tailrace.parts.tube.bent.between import LEAST, MOST_DEAN, MOST_STRENGTH, covers

        if np.all(self._tabulated(stream)):
            return ""
        # what takes over a profile may be as short as it likes
        fourier = np.maximum(self.fourier_number(stream), LEAST if self.carries_over else 0.0)
        if all(covers(*one, fourier) for one in self._bending(stream)):
            return ""
        return (
            f"{self.name} has a Fourier number outside 0.003 to 30, a Dean number De above "
            f"{MOST_DEAN:g} or De^2 Sc above {MOST_STRENGTH:.0e}"
        )

    def _bending(self, stream: Stream) -> list[tuple[FloatArray, FloatArray]]:
        """De and C of each stretch."""
        schmidt = stream.schmidt_number
        deans = [np.asarray(self.dean_number(stream, radius)) for _, radius, _ in self.stretches]
        return [(dean, np.where(dean > 0, dean**2 * schmidt, 0.0)) for dean in deans]

    def _tabulated(self, stream: Stream) -> BoolArray:
        """In which lanes it has one bend or none, and its transfer function stands in a table."""
        from tailrace.parts.tube.bent.spectrum import passes
        from tailrace.parts.tube.spectrum import LEAST, MOST

        if len(self.stretches) > 1 or self.carries_over or self.hands_on:
            return np.zeros(1, dtype=bool)
        ((dean, strength),), fourier = self._bending(stream), self.fourier_number(stream)
        straight = (strength == 0) & (fourier >= LEAST) & (fourier <= MOST)
        return np.asarray(straight | passes(dean, strength, fourier))

    def tabulated_bends(self, stream: Stream) -> FloatArray | None:
        """None if it is bent in several stretches, or outside the table."""
        if not self.is_bent or not np.all(self._tabulated(stream)):
            return super().tabulated_bends(stream)
        ((_, strength),) = self._bending(stream)
        held = np.broadcast_arrays(strength, self.fourier_number(stream), np.zeros(stream.lanes))
        return np.stack(held[:2], axis=1)[np.atleast_1d(strength > 0)]

    def known(self, stream: Stream) -> float:
        """Less well where it is bent."""
        from tailrace.parts.tube.bent import responses, spectrum

        if not self.is_bent:
            return super().known(stream)
        return spectrum.ERROR if np.all(self._tabulated(stream)) else responses.ERROR

    def solving_seconds(self, stream: Stream) -> float:
        """Where they are bent and not in the table: of each that differs, or of those between which
        many are read."""
        from tailrace.parts.tube.bent import between

        chains = self._to_solve(stream)
        return between.seconds(chains) if chains else 0.0

    def cumulant_seconds(self, stream: Stream) -> float:
        """As ``solving_seconds``."""
        from tailrace.parts.tube.bent import between

        chains = self._to_solve(stream)
        return between.cumulant_seconds(chains) if chains else 0.0

    def _to_solve(self, stream: Stream) -> list[Chain]:
        """Of lanes that no table holds."""
        if not self.manner:
            return []
        held = np.broadcast_to(self._tabulated(stream), (stream.lanes,))
        if np.all(held):
            return []
        chains = self.chains(stream)
        return [tuple(chains[lane]) for lane in np.flatnonzero(~held)]

    def chains(self, stream: Stream) -> list[list[Stretch]]:
        """Stretches for each lane."""
        lanes = (stream.lanes,)
        fourier = np.broadcast_to(self.fourier_number(stream), lanes)
        residence = np.broadcast_to(self.residence(stream), lanes)
        schmidt = np.broadcast_to(stream.schmidt_number, lanes)
        found: list[list[Stretch]] = [[] for _ in range(stream.lanes)]
        for share, radius, turned in self.stretches:
            deans = np.broadcast_to(self.dean_number(stream, radius), lanes)
            for lane, dean in enumerate(deans):
                found[lane].append(
                    Stretch(
                        dean=float(dean),
                        strength=float(dean**2 * schmidt[lane]) if dean else 0.0,
                        length=float(share * fourier[lane]),
                        residence=float(share * residence[lane]),
                        turned=turned,
                    )
                )
        return found

    def march_seconds(
        self, stream: Stream, deviation: FloatArray, points: FloatArray, refinement: float
    ) -> float:
        """Of bent lanes, from the grids that they need."""
        if not self.is_bent:
            return 0.0
        from tailrace.parts.tube.bent.march import seconds_of

        plug = np.isinf(points)
        front = np.broadcast_to(self.shortest_time(stream), plug.shape) / POINTS_PER_BENT_FRONT
        edge = np.where(deviation > 0, np.minimum(deviation * EDGE_STEP, front), front)
        step = np.where(plug, edge, deviation / points)
        sharp = np.where(plug, np.sqrt(2 * deviation * step), STEEPER * deviation)
        numbers = np.stack([deviation, sharp, step], axis=1).tolist()
        each = zip(map(tuple, self.chains(stream)), map(tuple, numbers), strict=True)
        return sum(  # of lanes that are the same one is marched
            seconds_of([*way], wide, steep, fine, refinement)
            for way, (wide, steep, fine) in dict.fromkeys(each)
        )

    def compiles(self, stream: Stream) -> tuple[str, ...]:
        """Of straight tubes or bent ones."""
        return ("parts/tube/bent/march" if self.is_bent else "parts/tube/march",)

    def shortest_time(self, stream: Stream) -> Number:
        """Of the front, which rises in a few hundredths of the residence; (lanes,) array, s.

        The more mixing, the slower.
        """
        fourier = self.fourier_number(stream)
        return self.residence(stream) * np.minimum(0.15 * fourier, 0.2 / np.sqrt(fourier))

    def first_step(self, step: Number, edged: bool, stream: Stream) -> Number:
        """Resolve the front, and in a short tube the edges of the injection."""
        edge = np.asarray(self.residence(stream)) / POINTS_PER_RESIDENCE
        step = np.clip(edge, np.asarray(step) / EDGE_DETAIL, step)
        smooth = np.asarray(self.shortest_time(stream))
        if edged:  # behind an edge stands the front, whatever comes before
            least = np.asarray(self.residence(stream)) / MOST_PER_RESIDENCE
            points = POINTS_PER_BENT_FRONT if self.is_bent else POINTS_PER_FRONT
            step = np.minimum(step, np.maximum(smooth / points, least))
        return np.where(
            self.fourier_number(stream) > 1,
            smooth / POINTS_IN_LONG_TUBES,
            np.maximum(step, smooth / POINTS_PER_WIDTH),
        )

    def cautions(self, stream: Stream) -> list[str]:
        """Fourier, Peclet and Reynolds numbers at which the model is not sure."""
        fourier, peclet = self.fourier_number(stream), self.peclet_number(stream)
        reynolds = np.max(self.reynolds_number(stream))
        found = []
        short = fourier.min() < LEAST_FOURIER and not self.carries_over
        if short or fourier.max() > MOST_FOURIER:
            found.append(
                f"{self.name}: Fourier number {fourier.min():.2g} is outside {LEAST_FOURIER} to "
                f"{MOST_FOURIER:g}, where the tube is checked against the exact solution"
            )
        if peclet.min() < LEAST_PECLET:
            found.append(
                f"{self.name}: Peclet number {peclet.min():.0f} is below {LEAST_PECLET:.0f}: "
                f"diffusion along the tube, about {192 / peclet.min() ** 2:.1g} of its long-tube "
                "variance, is left out of the simulation"
            )
        if reynolds > LAMINAR_LIMIT:
            found.append(
                f"{self.name}: Reynolds number {reynolds:.0f} is above {LAMINAR_LIMIT:.0f}: the "
                "flow may be turbulent, then neither the variance nor the pressure drop holds"
            )
        tightest = min(float(np.min(radius)) for _, radius, _ in self.stretches)
        if float(np.max(self.bore)) > 2 * LOOSE * tightest:
            found.append(
                f"{self.name}: bent to a radius of only {tightest / float(np.max(self.bore)):.2g} "
                "bores; the flow is that of a bend much wider than the bore"
            )
        return found

    def assumptions(self, given: Collection[str]) -> list[str]:
        """Its shape, and how it is entered."""
        if self.is_bent:
            found = ["taken as round, and its flow as fully developed in each bend from the start"]
        elif "bend_radius" in given:
            found = ["taken as round, and its flow as fully developed"]
        else:
            found = ["taken as straight and round; a bend stirs it: give its bend_radius"]
        if self.carries_over:
            found.append("entered without mixing, each streamline on its way")
        return found

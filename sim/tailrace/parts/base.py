"""What every part of the path is and can; each kind overrides what it does otherwise.

No code outside ``parts/`` asks for a kind by its name: it asks for one of these capabilities.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Self, TypeAlias

import numpy as np

from tailrace.eluent.stream import Stream
from tailrace.quantities.arrays import FloatArray, Number
from tailrace.quantities.checks import checked
from tailrace.signals.band import Band

ALIKE = ("tanks", "signal_times", "signal_heights", "programme_times", "programme_fractions")
"""Numbers of which a journey takes one for all lanes, as it does of every word."""
EDGE_DETAIL = 8
"""An edge is followed no finer than this times the points that the injected band takes itself."""
POINTS_PER_TURNOVER, LEAST_PER_TURNOVER = 2000, 16
MOST_DETAIL = 256
"""For a mixed volume much smaller than the plug."""
POINTS_PER_WIDTH = 10
"""Samples per standard deviation of a smooth feature."""


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What a scenario leaves open of a part.

    Parameters
    ----------
    taken, settled : str
        Clauses: what is taken in its place, and which measurement settles it.
    others : tuple of Part
        What the part could be instead.
    """

    taken: str
    settled: str
    others: "tuple[Part, ...]"


class Idle(str):
    """A clause on what is assumed of a part, which moves no number that is read off peaks."""


class Part:
    """A part with the defaults of one that neither adds nor holds anything.

    Numbers of a part are SI scalars, or (lanes,) arrays; NaN where something is not given.
    """

    kind: ClassVar[str]
    """The name that ``[[path]]`` and results call it by; that of its row in ``KINDS``."""
    manner: ClassVar[str] = ""
    """Prefix of the modules that hold its theory and march, where a kind has several."""
    faults: ClassVar[tuple[str, ...]] = ()
    """Keys of its table that a fault changes without anybody's knowing."""
    joins: ClassVar[bool] = False
    """A joint, which may be made anew."""
    injects: ClassVar[bool] = False
    """The band begins here."""
    separates: ClassVar[bool] = False
    """A column: solutes are retained here."""
    in_gradient: ClassVar[bool] = False
    """A column that is run with a gradient."""
    focuses: ClassVar[bool] = False
    """A column whose liquid changes while solutes are on their way: it passes on other distances
    in time than those that enter."""
    observes: ClassVar[bool] = False
    """A flow cell: the light beam sees what is in it."""
    records: ClassVar[bool] = False
    """A detector: it writes the signal down."""
    carries_flow: ClassVar[bool] = True
    """The liquid flows through it: it lies on the path and has a pressure drop."""
    smooths: ClassVar[bool] = False
    """It leaves no edge of what enters."""
    bent_band: bool = False
    """It makes a corner in the band where there was none, which is met to a lower order."""
    nearly_as_fine: bool = False
    """Half as fine it is marched on a grid hardly coarser: the whole difference counts as error."""
    laminar: ClassVar[bool] = False
    """It smooths by laminar flow and diffusion across it: it has a Fourier number."""
    shows_inside: ClassVar[bool] = False
    """What it holds at a moment can be computed."""
    finer: ClassVar[float] = 8.0
    """How many times as long a march of double fineness takes at most."""
    carries_over: ClassVar[bool] = False
    """What enters keeps the profile over the section that it left the part before with."""
    expands: ClassVar[bool] = False
    """Its transfer function is smooth in its numbers only where it is expanded about some: its
    folder has a module ``beside.py``."""
    behind: ClassVar[bool] = False
    """It lies behind the cell in which the signal is recorded: see ``parts/behind.py``."""

    pressure_limit: Number = float("nan")
    light_path: Number = float("nan")
    interval: Number = float("nan")
    sampling_phase: Number = 0.0
    particles_long: Number = float("nan")
    """Length of a packed bed over the diameter of its particles."""

    def __post_init__(self) -> None:
        """Refuse sizes that no part has; raises PartError."""
        checked(self)

    if TYPE_CHECKING:  # fields or properties of each kind

        @property
        def name(self) -> str: ...

        @property
        def volume(self) -> Number: ...

        @property
        def gradient_time(self) -> Number: ...

    def residence(self, stream: Stream) -> Number:
        """Mean time in the part, volume over flow rate. Scalar or (lanes,) array, s."""
        return self.volume / stream.flow_rate

    def retained(self, stream: Stream) -> Number:
        """Share of the residence that is for being retained. Scalar or (lanes,) array, s."""
        return 0.0

    def pressure_drop(self, stream: Stream) -> Number:
        """Zero: wide against the tubes. Scalar or (lanes,) array, Pa."""
        return 0.0

    def fourier_number(self, stream: Stream) -> FloatArray:
        """Residence over the radial diffusion time; NaN of all but a tube. (lanes,) array, 1."""
        return np.full(stream.lanes, np.nan)

    def shortest_time(self, stream: Stream) -> Number:
        """Shortest time that its response resolves. Scalar or (lanes,) array, s."""
        return 0.0

    @property
    def edged(self) -> bool:
        """Whether what it injects has edges."""
        return False

    def detail(self, stream: Stream) -> Number:
        """Time step that what it injects takes itself. Scalar or (lanes,) array, s."""
        return 0.0

    def duration(self, stream: Stream) -> Number:
        """Time between two edges of what it injects. Scalar or (lanes,) array, s; NaN: none."""
        return float("nan")

    def tail(self, stream: Stream) -> Number:
        """Time constant of a tail that it injects. Scalar or (lanes,) array, s; 0: none."""
        return 0.0

    def coarsest(self, stream: Stream) -> Number:
        """Time step above which what it injects cannot be computed. Scalar or (lanes,) array, s."""
        return np.inf

    def first_step(self, step: Number, edged: bool, stream: Stream) -> Number:
        """Time step that resolves what this part, met first, makes of an injection.

        Parameters
        ----------
        step : scalar or (lanes,) array, s
            Time step that the injected band takes itself.
        edged : bool
            Whether the injected band has edges.
        stream : Stream
        """
        return step

    def met_at(self, time: FloatArray, stream: Stream) -> Self:
        """The part as a band meets it that arrives at this time, (lanes,) array, s."""
        return self

    def standing(self, before: Number, between: Number) -> Self:
        """The part where it stands on its path.

        Parameters
        ----------
        before : scalar or (lanes,) array, m^3
            Volume of all that lies between the injection and it.
        between : scalar or (lanes,) array, m^3
            Volume from the inlet of the first column to its own; 0 up to there.
        """
        return self

    def passes_on(self, stream: Stream) -> Stream:
        """What flows behind the part where this arrives; the same object if nothing changes."""
        return stream

    def variance_passed(self, stream: Stream, variance: Number = 0.0) -> Number:
        """Variance in time of a band of this variance behind the part over that before it. 1.

        What the part itself adds is left out.
        """
        return 1.0

    def handing_on(self) -> Self:
        """The part with what the next one needs to take over its profile."""
        return self

    def variance_if_bent(self, radius: float, stream: Stream) -> FloatArray | None:
        """What a straight part would add more if it lay on this radius. (lanes,) array, s^2.

        Closed form; NaN where it is not known; None where the part is not straight or no tube.
        """
        return None

    def bent_on(self, radius: float) -> "Part":
        """The same on a bend of this radius (m) where it can lie on one."""
        return self

    def straightened(self, stream: Stream) -> "Passage":
        """The same without its bends, in a stream that spreads it as much: itself."""
        return self, stream

    def as_factor(self, stream: Stream, mean: Number = 0.0, variance: Number = 0.0) -> "Passage":
        """What stands in for it in a product where it has no transfer function, or a dear one.

        ``mean``, ``variance``: of a column that focuses, how long it is to hold a band, s, and how
        much to spread it, s^2.
        """
        return self.straightened(stream)

    def slower(self, times: Number) -> Self:
        """The same where all that it does takes so many times as long; the flow is the stream's."""
        return self

    def left_out(self, stream: Stream, diffusivity: Mapping[str, float]) -> dict[str, FloatArray]:
        """Relative change of the variance it adds by what is not modelled, by clauses; closed form.

        ``diffusivity``: in it over that of the stream, by effects that change it.
        """
        return {}

    @property
    def idle(self) -> bool:
        """Whether the band leaves it as it entered."""
        return self.behind

    @property
    def by_points(self) -> bool:
        """Whether the signal is written down at intervals."""
        return False

    def noise_bandwidth(self) -> Number:
        """Equivalent bandwidth for white noise, Hz; NaN of all but a detector."""
        return float("nan")

    def recorded_noise(self) -> Number:
        """Noise of the recorded points, peak to peak, AU; NaN of all but a detector."""
        return float("nan")

    def refused(self, stream: Stream) -> tuple[str, str] | None:
        """Key and sentence of what cannot be computed of it at this stream; None: nothing."""
        return None

    def march_seconds(
        self, stream: Stream, deviation: FloatArray, points: FloatArray, refinement: float
    ) -> float:
        """Of one processor, if a march takes long.

        ``deviation``: of the band that enters, s; ``points``: its steps to one of these, infinite
        of a plug; (lanes,) arrays.
        """
        return 0.0

    def compiles(self, stream: Stream) -> tuple[str, ...]:
        """Modules of the package whose kernels a march needs."""
        return ()

    def no_transfer(self, stream: Stream) -> str:
        """Why its transfer function cannot be had at this stream: a clause; empty if it can."""
        return ""

    def known(self, stream: Stream) -> float:
        """To which its transfer function is known, over what passes at rest."""
        return 1e-6

    def tabulated_bends(self, stream: Stream) -> FloatArray | None:
        """C and X of each lane whose bend has a tabulated transfer function, (lanes, 2) array; none
        of what is not bent; None where it goes about it otherwise."""
        return None if self.manner else np.zeros((0, 2))

    def solving_seconds(self, stream: Stream) -> float:
        """Of one processor, about, until its transfer functions of all lanes are solved for; 0:
        they are at hand."""
        return 0.0

    def cumulant_seconds(self, stream: Stream) -> float:
        """Of one processor, about, until its exact cumulants of all lanes are solved for; 0: they
        are at hand."""
        return 0.0

    def cautions(self, stream: Stream) -> list[str]:
        """What to know before the numbers of this part are trusted: sentences."""
        return []

    def cautions_behind(self, band: Band) -> list[str]:
        """What to know of the band that leaves the part: sentences."""
        return []

    def doubts(self, given: Collection[str], stream: Stream) -> list[Doubt]:
        """What the keys that were given (names) leave open, where it matters for the peak."""
        return []

    def assumptions(self, given: Collection[str]) -> list[str]:
        """What is assumed of the part beyond the keys that were given (names): clauses."""
        return []


class Stirred(Part):
    """A part that mixes what is in it: it makes a corner of an edge."""

    def first_step(self, step: Number, edged: bool, stream: Stream) -> Number:
        """Resolve the corner, which is met only to first order."""
        if not edged:
            return step
        turnover, step = np.asarray(self.residence(stream)), np.asarray(step)
        fine = np.maximum(step / EDGE_DETAIL, np.minimum(step, turnover / POINTS_PER_TURNOVER))
        return np.minimum(fine, np.maximum(turnover / LEAST_PER_TURNOVER, step / MOST_DETAIL))


Passage: TypeAlias = tuple[Part, Stream]
"""A part and what flows through it."""
Passages: TypeAlias = Sequence[Passage]


def joined_to(passages: Passages, place: int) -> Passages:
    """The parts right before one whose profile it takes over, from where the band was uniform."""
    first = place
    while passages[first][0].carries_over:
        first -= 1
    return passages[first:place]

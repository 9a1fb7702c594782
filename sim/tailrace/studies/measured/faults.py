"""What may be wrong with an instrument, one number each; and the instrument with all its joints."""

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np
from scipy.interpolate import CubicSpline

from tailrace.errors import AccuracyError, PartError
from tailrace.journey.factors import factor_of
from tailrace.journey.itinerary import Itinerary
from tailrace.journey.product import cumulants_of
from tailrace.journey.propagation import spread
from tailrace.parts import KINDS
from tailrace.parts.base import Part
from tailrace.quantities.arrays import BoolArray, FloatArray
from tailrace.scenario.build import diffusivities
from tailrace.scenario.measured import measured_files
from tailrace.scenario.problems import Tables
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, Target, Where, target, value_at, where_is
from tailrace.studies.cases import joined, kin
from tailrace.studies.measured.bench import Bench, Setup

GAP_BORE, NO_GAP = "1.6 mm", "1 um"
"""Of a joint that the scenario does not name: as wide as the usual tubes are outside (common
practice, no source); and as long as counts for none."""
NO_WASHOUT, STRAIGHT, PUMP = "0.001 nL", "straight", "pump"
NOTHING = {"length": 1.5e-6, "volume": 1.5e-15, "response time": 1e-6, "duration": 1e-6}
"""By kinds of quantities: what is no more than this is as good as nothing. SI."""
MOST = 1e9
FACTOR, TRIED, CLOSE = 30.0, 15, 21
"""By which a fault makes a number smaller or larger at most; values that are looked at, then where
it shows."""
ESTIMATED = ("molar_volume", "formula", "rings")
"""Keys of a solute that its diffusivity takes the place of."""
SLIGHT, STRONG = 2e-4, 30.0
"""Relative changes of the variance between which faults are looked for."""
CHANGES = (-0.6, -0.3, -0.1, 0.1, 0.3, 1.0, 3.0, 10.0)
"""From which the search begins."""
FAR = 30.0
"""Values that are so many times as large as the one before: a tube that is bent closely changes
its variance hardly more than one bent ten times as widely, so a value between is tried, too."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One number that may be other than the scenario says.

    Parameters
    ----------
    name : str
        Of the field.
    parts : tuple of str
        What is at fault; the two neighbours of a joint that the scenario does not name.
    target : Target
    where : Where
    nominal : float, SI unit of the field
        As the scenario says; infinite: straight.
    joint : str
        Name of the joint, where it is one; empty: it is none.
    """

    name: str
    parts: tuple[str, ...]
    target: Target
    where: Where
    nominal: float
    joint: str = ""

    def tried(self) -> FloatArray:
        """Values, rising, (values,) array, SI unit of the field."""
        low, high = self.target.bounds
        if self.slight < self.nominal < np.inf:
            low, high = max(low, self.nominal / FACTOR), min(high, self.nominal * FACTOR)
        return np.geomspace(max(low, self.slight), min(high, MOST), TRIED)

    @property
    def slight(self) -> float:
        """Value up to which the scenario says nothing, SI unit of the field."""
        return NOTHING.get(self.target.kind, 0.0)


@dataclass(frozen=True, kw_only=True)
class Reach:
    """How a fault changes the variance of the measurement in which it shows most.

    Parameters
    ----------
    values, changes : (values,) array, SI unit of the field and 1
        Rising values, and the variance over that of the scenario, less 1; closed form.
    """

    values: FloatArray
    changes: FloatArray

    @cached_property
    def _curve(self) -> CubicSpline:
        return CubicSpline(np.log(self.values), self.changes)

    def at(self, value: float) -> float:
        """Change at a value."""
        return float(self._curve(np.log(np.clip(value, self.values[0], self.values[-1]))))

    def slope(self, value: float) -> float:
        """Its derivative, over the unit of the value."""
        return float(self._curve(np.log(value), 1)) / value

    @property
    def begins(self) -> FloatArray:
        """Values from which to search."""
        inside = [one for one in CHANGES if self.changes.min() < one < self.changes.max()]
        order = np.argsort(self.changes, kind="stable")
        found = np.exp(np.interp(inside, self.changes[order], np.log(self.values[order])))
        found = np.unique([*found, self.values[0], self.values[-1]])
        gaps = np.flatnonzero(found[1:] > FAR * found[:-1])
        return np.unique([*found, *np.sqrt(found[gaps] * found[gaps + 1])])


Asked: TypeAlias = tuple[Fault, Reach, tuple[Fault, ...]]
"""A fault, how it shows, and others that do just the same."""


def reach_of(fault: Fault, setups: Sequence[Setup]) -> Reach | None:
    """None where no measurement shows the fault."""
    best: tuple[float, Setup, FloatArray] | None = None
    for one in setups:
        if not one.concerned(fault.where):
            continue
        values = fault.tried()
        sound, shows = _shown(values, _changes(one, fault, values))
        if shows.any() and (best is None or sound > best[0]):
            # a spline needs more of them where it shows
            low, high = np.flatnonzero(shows)[[0, -1]]
            ends = values[max(low - 1, 0)], values[min(high + 1, values.size - 1)]
            best = sound, one, np.geomspace(*ends, CLOSE)
    if best is None:
        return None
    _, one, values = best
    found = _changes(one, fault, values)
    if values[0] < fault.nominal < values[-1]:
        apart = np.abs(values / fault.nominal - 1) > 0.01
        values, found = values[apart], found[apart]
        at = int(np.searchsorted(values, fault.nominal))
        values, found = np.insert(values, at, fault.nominal), np.insert(found, at, 0.0)
    _, shows = _shown(values, found)
    shows |= np.isclose(values, fault.nominal, rtol=1e-9)
    return Reach(values=values[shows], changes=found[shows]) if np.sum(shows) > 1 else None


def _shown(values: FloatArray, changes: FloatArray) -> tuple[float, BoolArray]:
    """How much a fault changes at most (logarithm), and the values between which it shows."""
    sound = np.isfinite(changes)
    shows = sound & (changes < STRONG)
    shown = np.flatnonzero(shows & (np.abs(changes) > SLIGHT))
    if not shown.size:
        return 0.0, np.zeros(values.size, dtype=bool)
    shows[: shown[0]] = shows[shown[-1] + 1 :] = False
    return float(np.abs(np.log1p(changes[sound])).max()), shows


def _changes(setup: Setup, fault: Fault, values: FloatArray) -> FloatArray:
    with np.errstate(all="ignore"):
        return _variances(setup, fault.where, values) / _variances(setup, fault.where) - 1


def _variances(setup: Setup, where: Where, values: FloatArray | None = None) -> FloatArray:
    """Closed form, (values,) array, s^2, NaN of what no part can be, or is not computed to its
    accuracy; of the scenario as it is without values."""
    if values is None:
        return _computed(setup, [setup.itinerary([], [])])
    cases = [setup.itinerary([where], [float(one)]) for one in values]
    found = np.full(values.size, np.nan)
    for group in kin(cases):
        found[group] = _variance(setup, [cases[at] for at in group])
    return found


def _computed(setup: Setup, cases: Sequence[Itinerary]) -> FloatArray:
    passages = spread(setup.stood(joined(cases)))
    return np.asarray(sum(one.variance for one in cumulants_of(passages)))


def _variance(setup: Setup, cases: Sequence[Itinerary]) -> FloatArray:
    """Of cases that are kin."""
    try:
        return _computed(setup, cases)
    except (PartError, AccuracyError):
        if len(cases) == 1:
            return np.array([np.nan])
        return np.concatenate([_variance(setup, [one]) for one in cases])


def with_joints(scenario: Scenario) -> tuple[Scenario, dict[str, tuple[str, str]]]:
    """The scenario with a joint, as good as tight, wherever two parts meet without one; with a
    detector's response, an injector's washout and the column's plates said where they are not.

    A joint goes with the tubes that end in it: where one of these is taken out, it is, too.

    Returns
    -------
    Scenario
    dict of str to (str, str)
        The two neighbours of each joint that was put in.
    """
    tables: Tables = dict(scenario.tables)
    ahead = [part for part, _ in scenario.itinerary().passages if not part.behind]
    flown = [part for part in ahead if part.carries_flow or part.injects]
    joints = {
        f"joint {one.name} | {other.name}"[:80]: (one, other)
        for one, other in pairwise(flown)
        if not (one.joins or other.joins or other.carries_over)
    }
    behind = {other.name: name for name, (_, other) in joints.items()}
    path: list[Any] = []
    for row in scenario.tables["path"]:
        if row["name"] in behind:
            gap = {"gap_bore": GAP_BORE, "gap_length": NO_GAP}
            path.append({"name": behind[row["name"]], "part": "fitting", **gap})
        path.append(_said(row, scenario))
    tables["path"] = path
    if scenario.tables["injection"]["shape"] == "plug" and "strong" not in tables["injection"]:
        tables["injection"] = {
            **tables["injection"],
            "shape": "washout",
            "washout_volume": NO_WASHOUT,
        }
    detector = tables.get("detector", {})
    if not {"time_constant", "rise_time"} & set(detector):
        tables["detector"] = {**detector, "time_constant": "0 s"}
    tables["solutes"] = _diffusing(scenario)
    tables["measured"] = [_without(row, joints) for row in scenario.tables["measured"]]
    built = Scenario.from_tables(
        tables, scenario.path.parent, name=scenario.path.name, files=scenario.files.contents()
    )
    return built, {name: (one.name, other.name) for name, (one, other) in joints.items()}


def _diffusing(scenario: Scenario) -> list[Any]:
    """Solutes with their diffusivity in place of what it is estimated from."""
    rows, method = scenario.tables["solutes"], scenario.document.method
    if method.stated_temperature not in (None, method.temperature):
        return list(rows)
    found = []
    for row, size in zip(rows, diffusivities(scenario), strict=True):
        if "diffusivity" not in row:
            row = {key: one for key, one in row.items() if key not in ESTIMATED}
            row["diffusivity"] = f"{float(size)!r} m^2/s"
        found.append(row)
    return found


def _said(row: Tables, scenario: Scenario) -> Tables:
    """Of a column without plates those of its curve, which then holds from the method's flow; of a
    tube how it lies."""
    for part, stream in scenario.itinerary().passages:
        if part.name != row["name"]:
            continue
        if "plates" in part.faults and "plates" not in row:
            plain, to = factor_of(part, stream)
            plates = float(plain.plate_number(to)[0])  # type: ignore[attr-defined]
            flow = f"{scenario.document.method.flow!r} m^3/s"
            return {**row, "plates": plates, "plates_flow": flow}
        if "bend_radius" in part.faults and not {"bend_radius", "bends"} & set(row):
            return {**row, "bend_radius": scenario.tables["method"].get("bend_radius", STRAIGHT)}
    return row


def _without(row: Tables, joints: dict[str, tuple[Part, Part]]) -> Tables:
    """A row of ``[[measured]]`` that takes out the joints of the tubes that it takes out."""
    out = row.get("without", [])
    gone = [
        name
        for name, pair in joints.items()
        if any(
            one.name in out for one in pair if one.laminar or not any(two.laminar for two in pair)
        )
    ]
    return {**row, "without": [*out, *gone]} if gone else row


def faults_of(scenario: Scenario, joints: dict[str, tuple[str, str]]) -> Iterator[Fault]:
    """Every fault that is tried, of a scenario ``with_joints``."""
    for field, parts, joint in _fields(scenario, joints):
        try:
            found = target(scenario.tables, field)
        except StudyError:
            continue
        value = value_at(scenario.document, found.place)
        if value is None or _impossible(scenario, found):
            continue
        yield Fault(
            name=found.name,
            parts=parts,
            target=found,
            where=where_is(scenario.document, found.place),
            nominal=value,
            joint=joint,
        )


def _fields(
    scenario: Scenario, joints: dict[str, tuple[str, str]]
) -> Iterator[tuple[str, tuple[str, ...], str]]:
    """Fields that may be there, what is at fault then, and the joint that it is."""
    for part, _ in scenario.itinerary().passages:
        sign = "'" if '"' in part.name else '"'
        for key in part.faults if not part.behind else ():
            parts, joint = joints.get(part.name, (part.name,)), part.name if part.joins else ""
            yield f"{sign}{part.name}{sign}.{key}", parts, joint
    yield "method.flow", (PUMP,), ""
    for name in dict.fromkeys(one.solute for one in measured_files(scenario)):
        yield f'solutes."{name}".diffusivity', (name,), ""


def told_apart(
    scenario: Scenario, joints: dict[str, tuple[str, str]], held: Sequence[Bench]
) -> tuple[dict[str, Asked], tuple[str, ...]]:
    """Faults that show, by their names, those that do just the same together; and the others."""
    asked, unseen, same = dict[str, Asked](), list[str](), dict[Hashable, str]()
    linear = all(one.linear for one in held)
    for fault in faults_of(scenario, joints):
        # linear parts may change places: joints of one bore, one flow and one liquid are the same
        free = linear and bool(fault.joint) and fault.parts in joints.values()
        key = free, tuple(one.concerned(fault.where) for one in held)
        if free and key in same:
            of = same[key]
            asked[of] = (*asked[of][:2], (*asked[of][2], fault))
            continue
        reach = reach_of(fault, held)
        if reach is None:
            unseen.append(fault.name)
            continue
        same[key] = fault.name
        asked[fault.name] = fault, reach, ()
    return asked, tuple(unseen)


def _impossible(scenario: Scenario, found: Target) -> bool:
    """Whether a number there goes with what else the part's table says."""
    head, *rest, key = found.place
    if head != "path":
        return False
    row = scenario.tables["path"][rest[0]]
    tried = {**row, key: 1.5 if found.kind == "number" else row.get(str(key), 1.5)}
    return any(True for _ in KINDS[row["part"]].table.conflicts(tried))

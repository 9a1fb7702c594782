"""The measurement plan of an instrument before anything is measured."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from tailrace.display import Handed
from tailrace.errors import PartError
from tailrace.journey.hydraulics import pressure
from tailrace.journey.product import cumulants_of, not_multiplied
from tailrace.journey.propagation import spread
from tailrace.measurements.measuring import metrics_of
from tailrace.measures.registry import APEX, WIDTH
from tailrace.quantities.arrays import FloatArray
from tailrace.quantities.described import described
from tailrace.quantities.kinds import KINDS
from tailrace.scenario.changed import OF_THE_START
from tailrace.scenario.inputs import correlation_of, inputs_of
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.problems import Tables
from tailrace.scenario.scenario import Scenario
from tailrace.scenario.target import StudyError, where_is
from tailrace.scenario.toml import as_toml
from tailrace.scenario.typical import with_typical
from tailrace.studies.batch import MARCH
from tailrace.studies.measured.bench import Setup, Standing, benches, signals, standing
from tailrace.studies.measured.faults import Fault, Reach, told_apart, with_joints
from tailrace.studies.measured.information import Known, covariances
from tailrace.studies.measured.inventing import Invention, csv_of, invented, width_of
from tailrace.studies.measured.optimising import groups
from tailrace.studies.measured.problem import Side
from tailrace.studies.runner import Runner

FLOWS = (0.5, 1.0, 2.0)
"""Of the measurements on a union, over the method's."""
SLOW = 4.0
"""A further response setting, over that of the scenario."""
REPEATS = 3
RATIO = 500.0
"""Height over the standard deviation of the noise that is taken where none is given."""
POINTS = 12.0
"""To a standard deviation of the peak."""
COVERED = 1.959964
DETECTED = 3.0
"""Standard deviations that a fault has to be away from nothing to be seen."""
TOGETHER = 0.95
LOST = 0.25
"""Standard uncertainty of a change of the variance, all faults being open, above which a fault is
not to be told from the others."""


@dataclass(frozen=True, kw_only=True)
class Measuring:
    """One measurement of the plan, and what it should show."""

    name: str = described("measurement", "", label="measurement", names=True)
    file: str = described("file that its signal is to be kept in", "")
    solute: str = described("what is injected", "")
    flow: float = described("flow rate", "m^3/s", label="flow", shown="mL/min")
    time_constant: float = described("time constant of the detector", "s", label="response")
    without: tuple[str, ...] = described("parts taken out", "")
    repeats: int = described("how many times", label="times")
    apex: float = described("time of the maximum, from the injection", "s", label="maximum")
    width: float = described("width at half height", "s", label="width")
    points: float = described("greatest interval between points", "s", label="interval")
    height: float = described("height over that of the first measurement", label="height")
    variance: float = described("variance in volume", "m^6", label="variance", shown="uL^2")
    variance_low: float = described("its lower end, 95 %, from the uncertain inputs", "m^6")
    variance_high: float = described("its upper end", "m^6")
    pressure: float = described("pressure of the pump", "Pa", label="pressure", shown="bar")


@dataclass(frozen=True, kw_only=True)
class Identified:
    """What the plan would say of one fault."""

    name: str = described("field", "", label="field", names=True)
    twins: tuple[str, ...] = described("fields that do just the same to every measurement", "")
    kind: str = described("kind of quantity; empty: a plain number", "")
    nominal: float = described("value in the scenario, SI unit of the field", "1")
    seen_from: float = described(
        "nearest value that would be seen, three standard deviations away; NaN: none",
        "1",
    )
    alone: float = described("standard uncertainty of its change of the variance, alone, relative")
    together: float = described("the same, all faults being open")

    @property
    def identifiable(self) -> bool:
        """Whether it can be told from the others."""
        return self.together < LOST and not self.twins


@dataclass(frozen=True, kw_only=True)
class Protocol(Handed):
    """What ``protocol`` says of a scenario."""

    title: str = described("title of the scenario", "")
    signal_to_noise: float = described("height over the standard deviation of the noise, assumed")
    inputs: tuple[str, ...] = described("uncertain inputs", "", along=("input",))
    measurings: tuple[Measuring, ...] = described("the plan", along=("measurement",))
    identified: tuple[Identified, ...] = described("what it would say", along=("field",))
    indistinguishable: tuple[tuple[str, ...], ...] = described("groups not to be told apart", "")
    unseen: tuple[str, ...] = described("fields that it does not show", "", along=("unseen field",))
    text: str = described("scenario with the rows of the plan", "")
    source: object = field(default=None, repr=False, compare=False)


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A measurement plan that has not been worked out yet."""

    scenario: Scenario
    rows: tuple[Tables, ...]
    signal_to_noise: float

    @property
    def question(self) -> dict[str, object]:
        """What must not change."""
        return {
            "scenario_sha256": self.scenario.sha256,
            "signal_to_noise": self.signal_to_noise,
        }


def plan(scenario: Scenario, signal_to_noise: float = RATIO) -> Plan:
    """Choose the measurements: a union at three flows, a slower response, tubes bypassed, and the
    column in its place where there is one that does not focus what the parts before it add.

    Raises StudyError for a signal-to-noise ratio that is none.
    """
    if not 3 <= signal_to_noise <= 1e6:
        raise StudyError(
            "--signal-to-noise: expected a ratio from 3 to 1e6, found "
            f"{signal_to_noise:g}; give the height of the peak over the noise"
        )
    rows = tuple(_rows(scenario))
    return Plan(scenario=scenario, rows=rows, signal_to_noise=signal_to_noise)


def _rows(scenario: Scenario) -> list[Tables]:
    itinerary = scenario.itinerary()
    on = [part for part, _ in itinerary.passages if part.carries_flow and not part.behind]
    columns = [part.name for part in on if part.separates]
    tubes = [part.name for part in on if part.smooths and not part.separates]
    flow, base = scenario.document.method.flow, "union" if columns else "as it is"
    solute = {"solute": scenario.document.solutes[0].name}
    rows: list[Tables] = []

    def add(name: str, without: Sequence[str], **more: Any) -> None:
        number = f"{len(rows) + 1:02d}"
        rows.append(
            {"name": name, "file": f"{number}.csv", **solute, "without": [*without], **more}
        )

    for share in FLOWS:
        add(f"{base}, {_flow(share * flow)}", columns, flow=_flow(share * flow))
    detector = scenario.document.detector
    constant = detector.time_constant if detector else None
    if constant:
        slow = f"{SLOW * constant:.4g} s"
        add(f"{base}, response {slow}", columns, time_constant=slow)
    for name in tubes if len(tubes) > 1 else []:
        add(f"{base}, without {name}", [*columns, name])
    if columns and not any(part.focuses for part in on):
        add("column in its place", [])
    return rows


def _flow(flow: float) -> str:
    return f"{flow * 60e6:.4g} mL/min"


def answer(plan: Plan, runner: Runner | None = None) -> Protocol:
    """Work a plan out: what each measurement should show, what all of them together would say.

    Raises BudgetError, AccuracyError or PartError where the instrument cannot be simulated so.
    """
    engine = (runner or Runner()).engine
    scenario, rows = _invented(plan, engine)
    text = as_toml(_tables(plan.scenario, rows)) + _repeats(rows[0])
    built, joints = with_joints(scenario)
    sides = [Side(_stood(bench, engine)) for bench in benches(built)]
    identified, alike, unseen = _identified(built, joints, sides)
    return Protocol(
        title=plan.scenario.title,
        signal_to_noise=plan.signal_to_noise,
        inputs=tuple(one.name for one in inputs_of(plan.scenario)),
        measurings=tuple(_measurings(scenario, rows, engine)),
        identified=identified,
        indistinguishable=alike,
        unseen=unseen,
        text=text,
        source=plan.scenario,
    )


def _stood(setup: Standing, engine: str) -> Standing:
    """As a product of factors; with what that lacks of a march where all is to be marched."""
    return standing(setup, engine=engine) if engine == MARCH else replace(setup, stand_in=True)


REMARK = "# Repeats: take the # off the rows of those that were made."


def repeat_of(file: str, number: int) -> str:
    """The file of a repeat, numbered from 1, of a measurement."""
    return file if number == 1 else file.replace(".csv", f"-{number}.csv")


def _repeats(row: Tables) -> str:
    """Rows of what is measured again, as remarks."""
    again = [
        {
            **row,
            "name": f"{row['name']}, no. {number}",
            "file": repeat_of(row["file"], number),
            "same_as": row["name"],
        }
        for number in range(2, REPEATS + 1)
    ]
    lines = as_toml({"measured": again}).splitlines()
    return "\n".join(["", REMARK, *(f"# {line}".rstrip() for line in lines), ""])


def _tables(scenario: Scenario, rows: Sequence[Tables]) -> Tables:
    carried = [key for key in OF_THE_START if key in ("uncertain", "correlated")]
    tables = {key: one for key, one in scenario.tables.items() if key not in OF_THE_START}
    tables |= {key: scenario.tables[key] for key in carried if key in scenario.tables}
    return tables | {"measured": [dict(row) for row in rows]}


def _invented(plan: Plan, engine: str) -> tuple[Scenario, list[Tables]]:
    """The scenario with signals of the plan as they should be; rows that cannot be are left out."""
    rows, files = list[Tables](), plan.scenario.files.contents()
    times: FloatArray = 0.1 * np.arange(100.0)
    blank = csv_of(times, np.exp(-((times - 5) ** 2)))
    for row in plan.rows:
        tables = _tables(plan.scenario, [row])
        one = Scenario.from_tables(
            tables, plan.scenario.path.parent, files=files | {row["file"]: blank}
        )
        left = as_measured(one, measured_files(one)[0])
        setups = [Setup(base=one, scenario=built, stand_in=True) for built in (one, left)]
        whole, journey = (each.stood(each.itinerary([], [])) for each in setups)
        if not_multiplied(spread(journey)) and not not_multiplied(spread(whole)):
            continue  # nothing is left that can be computed
        band = signals([journey], engine=engine)
        how = Invention(
            signal_to_noise=plan.signal_to_noise,
            interval=float(f"{width_of(band) / POINTS:.2g}"),
            delay=0.0,
            before=0.6,
            behind=0.8,
        )
        rows.append(row)
        files[row["file"]] = csv_of(*invented(band, how, [len(rows)]))
    if not rows:
        raise PartError("expected parts that can be measured on a union, found none; name tubes")
    built = Scenario.from_tables(
        _tables(plan.scenario, rows), plan.scenario.path.parent, files=files
    )
    return replace(built, path=plan.scenario.path), rows


def _measurings(scenario: Scenario, rows: Sequence[Tables], engine: str) -> list[Measuring]:
    known = scenario if inputs_of(scenario) else with_typical(scenario)
    inputs = inputs_of(known)
    together = correlation_of(known, inputs)
    found, first = list[Measuring](), 0.0
    for bench, row in zip(benches(scenario), rows, strict=True):
        setup = _stood(bench, engine)
        band, flow = setup.signals([], [[]]), bench.scenario.document.method.flow
        metrics, width = metrics_of(band), width_of(band)
        height = float(band.values.max()) / flow
        first = first or height
        variance, slopes = _variance(setup, []), []
        for one in inputs:
            where = where_is(scenario.document, one.target.place)
            mean, deviation = one.mean_and_deviation()
            ends = [float(np.clip(mean + k * deviation, *one.target.bounds)) for k in (1, -1)]
            pair = [_variance(setup, [(where, end)]) for end in ends]
            slopes.append((pair[0] - pair[1]) / 2)
        changes = np.array(slopes)
        half = COVERED * float(np.sqrt(max(float(changes @ together @ changes), 0.0)))
        detector = bench.scenario.document.detector
        constant = (detector.time_constant or 0.0) if detector else 0.0
        found.append(
            Measuring(
                name=row["name"],
                file=row["file"],
                solute=row["solute"],
                flow=flow,
                time_constant=constant,
                without=tuple(row["without"]),
                repeats=REPEATS if not found else 1,
                apex=float(metrics[APEX][0]),
                width=float(metrics[WIDTH][0]),
                points=width / POINTS * 2,
                height=height / first,
                variance=variance * flow**2,
                variance_low=max(variance - half, 0.0) * flow**2,
                variance_high=(variance + half) * flow**2,
                pressure=pressure(spread(bench.itinerary([], []))).highest,
            )
        )
    return found


def _variance(setup: Setup, values: Sequence[tuple[Any, float]]) -> float:
    """Closed form, s^2."""
    itinerary = setup.itinerary([one for one, _ in values], [one for _, one in values])
    return float(sum(one.variance[0] for one in cumulants_of(spread(setup.stood(itinerary)))))


def _identified(
    scenario: Scenario, joints: dict[str, tuple[str, str]], sides: Sequence[Side]
) -> tuple[tuple[Identified, ...], tuple[tuple[str, ...], ...], tuple[str, ...]]:
    """From the Fisher information of all measurements, delays, areas and baselines being open."""
    asked, unseen = told_apart(scenario, joints, [side.bench for side in sides])
    known = [
        Known(
            fault=fault,
            reach=reach,
            start=_start(fault, reach),
            twins=[one.name for one in twins],
        )
        for fault, reach, twins in asked.values()
    ]
    found = covariances(scenario, known, sides)
    alone = np.array([float(np.sqrt(one[0, 0])) for one, _ in found])
    together = np.array([float(np.sqrt(one[k, k])) for k, (_, one) in enumerate(found)])
    lost = [k for k in range(len(known)) if together[k] >= LOST]
    whole = found[0][1] if found else np.eye(0)
    deviation = np.sqrt(np.diag(whole))
    correlation = whole / np.outer(deviation, deviation)
    names = [known[k].fault.name for k in lost]
    alike = groups(correlation[np.ix_(lost, lost)], names, TOGETHER)
    alike += [(one.fault.name, *one.twins) for one in known if one.twins]
    identified = tuple(
        Identified(
            name=one.fault.name,
            twins=tuple(one.twins),
            kind=one.fault.target.kind if one.fault.target.kind in KINDS else "",
            nominal=one.fault.nominal,
            seen_from=_seen_from(one.reach, DETECTED * float(alone[k])),
            alone=float(alone[k]),
            together=float(together[k]),
        )
        for k, one in enumerate(known)
    )
    return identified, tuple(alike), unseen


def _start(fault: Fault, reach: Reach) -> float:
    """Where its derivative is taken: as the scenario says, or where it begins to count."""
    if fault.slight < fault.nominal < np.inf:
        return float(np.clip(fault.nominal, reach.values[0] * 1.01, reach.values[-1] / 1.01))
    sizes = np.abs(reach.changes)
    least = np.abs(sizes - min(0.05, 0.5 * float(sizes.max())))
    return float(reach.values[int(np.argmin(least))])


def _seen_from(reach: Reach, change: float) -> float:
    """The nearest value that changes the variance so much; NaN: none."""
    fine = np.geomspace(reach.values[0], reach.values[-1], 400)
    enough = np.abs([reach.at(float(one)) for one in fine]) >= change
    if not enough.any():
        return float("nan")
    middle = float(np.log(fine[int(np.argmin(np.abs([reach.at(float(v)) for v in fine])))]))
    near: FloatArray = np.where(enough, np.abs(np.log(fine) - middle), np.inf)
    return float(fine[int(np.argmin(near))])

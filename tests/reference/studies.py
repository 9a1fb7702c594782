"""A tolerance study made by hand, for rooms that show or store one and compute none."""

import numpy as np

from tailrace.studies.tolerance.result import (
    Acceptance,
    AtDiscrepancy,
    Check,
    FirstOrder,
    Indices,
    Interval,
    Outcome,
    Population,
    Question,
    RegionMap,
    Spread,
    Stop,
    Tolerance,
    ToleranceLimits,
    Tried,
    UncertainInput,
    Widened,
    Widening,
)

SAMPLES = 400
NAN = float("nan")


def acceptance(accepted=396, refused=3, samples=SAMPLES, lower=0.975, upper=0.998):
    """So many of so many; the bounds are not computed."""
    return Acceptance(
        samples=samples,
        accepted=accepted,
        refused=refused,
        undecided=samples - accepted - refused,
        probability=accepted / samples,
        interval=Interval(low=lower - 0.003, high=upper),
        lower_bound=lower,
        required=0.95,
        confidence=0.95,
    )


def spread(values, unit):
    """Moments and quantiles; the errors are plausible, not computed."""
    low, high = np.quantile(values, [0.025, 0.975])
    deviation = float(values.std(ddof=1))
    ends = Interval(low=deviation / 8, high=deviation / 9, unit=unit)
    return Spread(
        unit=unit,
        samples=len(values),
        mean=float(values.mean()),
        standard_uncertainty=deviation,
        mean_error=deviation / len(values) ** 0.5,
        uncertainty_error=deviation / (2 * len(values)) ** 0.5,
        symmetric=Interval(low=float(low), high=float(high), unit=unit),
        shortest=Interval(
            low=float(low) - deviation / 20, high=float(high) - deviation / 20, unit=unit
        ),
        symmetric_error=ends,
        shortest_error=ends,
        numerical_error=deviation / 50,
    )


def first_order(own, unit, inputs, off):
    """Of a sum, or of the simulation."""
    return FirstOrder(
        unit=unit,
        value=own.mean * off,
        standard_uncertainty=own.standard_uncertainty * 1.3,
        interval=Interval(low=own.mean * 0.9, high=own.mean * 1.04, unit=unit),
        sensitivities=np.arange(1.0, inputs + 1),
        contributions=own.standard_uncertainty * np.arange(1.0, inputs + 1) / inputs,
        probability=0.93,
        allowed=own.standard_uncertainty / 10,
        misleads=True,
    )


def outcome(name, values, at_least=NAN, at_most=NAN, unit="1", kind="", judged=None, inputs=2):
    """One figure that is followed, with uncertainty of both kinds."""
    own = spread(values, unit)
    return Outcome(
        name=name,
        measure=name.split(" of ")[0].split(",")[0],
        of=name.partition(" of ")[2],
        unit=unit,
        kind=kind,
        at_least=at_least,
        at_most=at_most,
        nominal=own.mean * 1.001,
        nominal_error=own.numerical_error,
        values=values,
        errors=np.full(len(values), own.numerical_error),
        spread=own,
        by_kind={"tolerance": own, "knowledge": own},
        limits=ToleranceLimits(
            unit=unit,
            samples=len(values),
            content=0.95,
            confidence=0.95,
            at_least=float(np.quantile(values, 0.03)),
            at_most=float(np.quantile(values, 0.97)),
            between=Interval(low=float(values.min()), high=float(values.max()), unit=unit),
        ),
        first_order=first_order(own, unit, inputs, 0.97),
        linearised=first_order(own, unit, inputs, 1.0),
        acceptance=judged,
    )


def outcomes(generator, solute):
    """Three figures: with a limit below, with one above in a unit, and without any."""
    return (
        outcome(
            f"plates of {solute}",
            generator.normal(12000, 400, SAMPLES),
            at_least=11000.0,
            judged=acceptance(),
        ),
        outcome(
            f"width of {solute}",
            generator.lognormal(1.1, 0.05, SAMPLES),
            at_most=3.3,
            unit="s",
            kind="duration",
            judged=acceptance(380, 18, lower=0.93),
        ),
        outcome("pressure", generator.normal(2.1e7, 4e5, SAMPLES), unit="Pa", kind="pressure"),
    )


def indices(names, followed):
    """Shares that fall off from input to input."""
    shape = (len(followed), len(names))
    first = np.broadcast_to(0.7 / 2.0 ** np.arange(shape[1]), shape).copy()
    return Indices(
        inputs=names,
        outcomes=tuple(one.name for one in followed),
        first=first,
        first_low=first - 0.04,
        first_high=first + 0.04,
        total=first + 0.05,
        total_low=first + 0.02,
        total_high=first + 0.09,
        confidence=0.95,
        base=512,
    )


def widening(rule, scale, names):
    """The greatest scale of a few that were tried."""
    tried = tuple(
        Tried(
            scale=at,
            acceptance=acceptance(
                SAMPLES - int(20 * at), int(20 * at) - 2, lower=0.985 - 0.03 * at
            ),
        )
        for at in (0.5, 1.0, 1.5, 2.0)
    )
    return Widening(
        rule=rule,
        governing="",
        inputs=tuple(
            Widened(
                name=name,
                unit="m",
                kind="bore",
                scale=scale,
                limits=Interval(
                    low=1.2e-4 - 1.2e-5 * scale, high=1.2e-4 + 1.2e-5 * scale, unit="m"
                ),
            )
            for name in names
        ),
        scale=scale,
        scale_refused=scale + 0.5,
        tried=tried,
        fresh=acceptance(),
        unmoved=(),
        inert=False,
    )


def region(names):
    """Allowed where both inputs are small, not known on the rim."""
    first, second = np.linspace(1.0e-4, 1.4e-4, 6), np.linspace(1.0e-4, 1.4e-4, 5)
    height = (first[None, :] + second[:, None]) / 2.4e-4
    allowed = np.where(height < 0.98, 1, np.where(height < 1.05, -1, 0))
    accepted = np.where(allowed == 1, 98, np.where(allowed == 0, 40, 92))
    return RegionMap(
        names=names,
        units=("m", "m"),
        kinds=("bore", "bore"),
        first=first,
        second=second,
        accepted=accepted,
        undecided=np.zeros_like(accepted),
        samples=100,
        lower=accepted / 100 - 0.03,
        upper=accepted / 100 + 0.01,
        allowed=allowed,
        required=0.95,
        confidence=0.95,
        stated=(Interval(low=1.08e-4, high=1.32e-4, unit="m"),) * 2,
        nominal=(1.2e-4, 1.2e-4),
    )


def check(what, how):
    """A row of a qualification with a limit above."""
    return Check(
        what=what,
        how=how,
        unit="s",
        kind="duration",
        expected=0.9,
        at_least=NAN,
        at_most=1.2,
        measurement=0.02,
        guard=0.033,
        accept_at_least=NAN,
        accept_at_most=1.167,
        rule="guarded",
        consumer_risk=0.004,
        producer_risk=0.02,
        consumer_risk_interval=Interval(low=0.001, high=0.01),
        producer_risk_interval=Interval(low=0.01, high=0.04),
        basis="accepted",
        content=0.95,
        confidence=0.95,
    )


def population(name):
    """Instruments where knowledge is least favourable."""
    return Population(
        confidence=0.95,
        median=0.97,
        low=0.9,
        knowledge={name: 2.6e-9},
        acceptance=acceptance(370, 25, lower=0.89),
    )


def inputs(generator, names):
    """Two inputs and their samples, a bore and a volume."""
    values = generator.normal([1.2e-4, 2.5e-9], [6e-6, 1e-10], (SAMPLES, 2))
    shared = {"lowest": 1e-15, "greatest": 0.1, "cut": 0.0}
    bore = UncertainInput(
        name=names[0],
        unit="m",
        quantity="bore",
        kind="tolerance",
        because="drawing",
        nominal=1.2e-4,
        distribution="uniform",
        low=-1.2e-5,
        high=1.2e-5,
        values=values[:, 0],
        **shared,
    )
    volume = UncertainInput(
        name=names[1],
        unit="m^3",
        quantity="volume",
        kind="knowledge",
        because="",
        nominal=2.5e-9,
        distribution="normal",
        deviation=1e-10,
        values=values[:, 1],
        **shared,
    )
    return bore, volume


def made_up(scenario, names=("inlet tube.bore", "flow cell.volume")) -> Tolerance:
    """A study of two inputs with something in every place; the numbers mean nothing.

    Parameters
    ----------
    scenario : Scenario
        For the names of solutes and parts.
    names : tuple of two str
        Of the inputs.
    """
    generator = np.random.default_rng(7)
    solutes = [one.name for one in scenario.document.solutes]
    followed = outcomes(generator, solutes[0])
    parts = [part for part, _ in scenario.itinerary().passages]
    given = inputs(generator, names)
    warnings = np.full(SAMPLES, "", dtype=object)
    warnings[3] = "the pressure is near its limit"
    return Tolerance(
        title="A study",
        question=question(scenario, names),
        solutes=tuple(solutes),
        parts=tuple(part.name for part in parts),
        part_kinds=tuple(part.kind for part in parts),
        inputs=given,
        computed=np.ones(SAMPLES, dtype=bool),
        warnings=warnings,
        metrics=metrics(generator, parts, solutes),
        outcomes=followed,
        acceptance=acceptance(),
        population=population(names[1]),
        discrepancies=tuple(
            AtDiscrepancy(size=size, acceptance=acceptance()) for size in (0.0, 0.05)
        ),
        stop=Stop(
            digits=2,
            size=100,
            batches=4,
            tolerances=np.array([5.0, 0.005, 5e4]),
            reached=True,
        ),
        indices=indices(names, followed),
        widenings=(
            widening("alone", 1.5, names[:1]),
            widening("alike", 1.0, names),
        ),
        maps=(region(names),),
        checks=(check("width", "union"), check("retention time", "peak standard")),
    )


def question(scenario, names):
    """What was asked of two inputs."""
    return Question(
        scenario_sha256=scenario.sha256,
        samples=SAMPLES,
        digits=None,
        seed=1,
        generator="random",
        indices=512,
        widen=names[:1],
        together=True,
        maps=(names,),
    )


def metrics(generator, parts, solutes):
    """Some of the metrics of every sample, as ``metrics_of`` names them."""
    flowed = [one for one in parts if one.carries_flow]
    return {
        "recorded/plates_half_height": generator.normal(12000, 400, (SAMPLES, len(solutes))),
        "numerical_error/plates_half_height": np.full((SAMPLES, len(solutes)), 8.0),
        "parts/variance_simulated": generator.normal(1, 0.1, (SAMPLES, len(parts), len(solutes))),
        "pressure/total": generator.normal(2.1e7, 4e5, SAMPLES),
        "pressure/cell_inlet": np.zeros(SAMPLES),
        "pressure/highest": generator.normal(2.5e7, 4e5, SAMPLES),
        "pressure/highest_at_cell": np.zeros(SAMPLES),
        "pressure/drop": np.ones((SAMPLES, len(flowed))),
    }

"""A tolerance study made by hand, for rooms that show or store one and compute none."""

from types import SimpleNamespace

import numpy as np

from tailrace.studies.tolerance.result import (
    Acceptance,
    Check,
    FirstOrder,
    Indices,
    Interval,
    Outcome,
    RegionMap,
    Spread,
    Stop,
    Tolerance,
    ToleranceLimits,
    Widened,
    Widening,
)

SAMPLES = 400
NAN = float("nan")


def acceptance(accepted=396, refused=3, samples=SAMPLES, lower=0.975):
    """So many of so many; the bounds are not computed."""
    return Acceptance(
        samples=samples,
        accepted=accepted,
        refused=refused,
        undecided=samples - accepted - refused,
        probability=accepted / samples,
        interval=Interval(low=lower - 0.003, high=0.998),
        lower_bound=lower,
        required=0.95,
        confidence=0.95,
    )


def spread(values):
    """Moments and quantiles; the errors are plausible, not computed."""
    low, high = np.quantile(values, [0.025, 0.975])
    deviation = float(values.std(ddof=1))
    ends = Interval(low=deviation / 8, high=deviation / 9)
    return Spread(
        samples=len(values),
        mean=float(values.mean()),
        standard_uncertainty=deviation,
        mean_error=deviation / len(values) ** 0.5,
        uncertainty_error=deviation / (2 * len(values)) ** 0.5,
        symmetric=Interval(low=float(low), high=float(high)),
        shortest=Interval(low=float(low) - deviation / 20, high=float(high) - deviation / 20),
        symmetric_error=ends,
        shortest_error=ends,
        numerical_error=deviation / 50,
    )


def outcome(name, values, at_least=NAN, at_most=NAN, unit="1", kind="", judged=None, inputs=2):
    """One figure that is followed, with uncertainty of both kinds."""
    own = spread(values)
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
        by_kind={"tolerance": own, "measurement": own},
        limits=ToleranceLimits(
            content=0.95,
            confidence=0.95,
            at_least=float(np.quantile(values, 0.03)),
            at_most=float(np.quantile(values, 0.97)),
            between=Interval(low=float(values.min()), high=float(values.max())),
        ),
        first_order=FirstOrder(
            value=own.mean * 0.97,
            standard_uncertainty=own.standard_uncertainty * 1.3,
            interval=Interval(low=own.mean * 0.9, high=own.mean * 1.04),
            sensitivities=np.arange(1.0, inputs + 1),
            contributions=own.standard_uncertainty * np.arange(1.0, inputs + 1) / inputs,
            probability=0.93,
            remark="Closed form misleads: its uncertainty is 1.3 times that of the simulation.",
            misleads=True,
        ),
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


def widening(title, scale, names, rule=""):
    """The greatest scale of a few that were tried."""
    tried = tuple(
        (at, acceptance(SAMPLES - int(20 * at), int(20 * at) - 2, lower=0.985 - 0.03 * at))
        for at in (0.5, 1.0, 1.5, 2.0)
    )
    return Widening(
        title=title,
        rule=rule,
        inputs=tuple(
            Widened(
                name=name,
                unit="m",
                kind="bore",
                scale=scale,
                stated="uniform, half width 0.012 mm",
                widest=f"uniform, half width {0.012 * scale:g} mm",
                limits=Interval(low=1.2e-4 - 1.2e-5 * scale, high=1.2e-4 + 1.2e-5 * scale),
            )
            for name in names
        ),
        scale=scale,
        scale_refused=scale + 0.5,
        tried=tried,
        fresh=acceptance(),
        sentence=f"{title}: up to {scale:g} times as wide as stated keeps every criterion.",
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
        stated=(Interval(low=1.08e-4, high=1.32e-4), Interval(low=1.08e-4, high=1.32e-4)),
        nominal=(1.2e-4, 1.2e-4),
    )


def check(what):
    """A row of a qualification with a limit above."""
    return Check(
        what=what,
        how="union in place of the column",
        often="every six months, since tubes are changed by users",
        unit="s",
        kind="duration",
        expected=0.9,
        at_least=NAN,
        at_most=1.2,
        measurement=0.02,
        guard=0.033,
        accept_at_least=NAN,
        accept_at_most=1.167,
        rule="Pass where the reading is at most 1.167 s.",
        consumer_risk=0.004,
        producer_risk=0.02,
        consumer_risk_interval=Interval(low=0.001, high=0.01),
        producer_risk_interval=Interval(low=0.01, high=0.04),
        because="95 % of the samples that keep every criterion lie below it.",
    )


def inputs(generator, names):
    """Two inputs and their samples, a bore and a volume."""
    values = generator.normal([1.2e-4, 2.5e-9], [6e-6, 1e-10], (SAMPLES, 2))
    return SimpleNamespace(
        names=names,
        units=("m", "m^3"),
        quantities=("bore", "volume"),
        kinds=("tolerance", "measurement"),
        sentences=("uniform, half width 0.012 mm", "normal, standard deviation 0.1 uL"),
        because=("drawing", ""),
        values=lambda: values,
    )


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
    return Tolerance(
        plan=SimpleNamespace(
            scenario=scenario,
            seed=1,
            generator="random",
            samples=SAMPLES,
            question={"scenario_sha256": scenario.sha256, "seed": 1, "samples": SAMPLES},
        ),
        samples=inputs(generator, names),
        figures=figures(generator, scenario, solutes),
        outcomes=followed,
        acceptance=acceptance(),
        stop=Stop(
            digits=2,
            size=100,
            batches=4,
            tolerances=np.array([5.0, 0.005, 5e4]),
            reached=True,
            sentence="Two digits of every standard uncertainty stood still after 4 batches.",
        ),
        indices=indices(names, followed),
        widenings=(
            widening(f"{names[0]} alone", 1.5, names[:1]),
            widening("all together, alike", 1.0, names, "Each by the same factor."),
        ),
        maps=(region(names),),
        checks=(check("variance without the column"), check("width of the peak standard")),
        cautions=("One sample of 400 carries a warning: the pressure is near its limit.",),
    )


def figures(generator, scenario, solutes):
    """Some of the figures of every sample, as ``metrics_of`` names them."""
    parts = [part for part, _ in scenario.itinerary().passages]
    flowed = [one for one in parts if one.kind not in ("injector", "detector")]
    warnings = np.full(SAMPLES, "", dtype=object)
    warnings[3] = "pressure: 199 bar of 200 bar"
    computed = np.ones(SAMPLES, dtype=bool)
    return {
        "recorded/plates_half_height": generator.normal(12000, 400, (SAMPLES, len(solutes))),
        "numerical_error/plates_half_height": np.full((SAMPLES, len(solutes)), 8.0),
        "parts/variance_simulated": generator.normal(1, 0.1, (SAMPLES, len(parts), len(solutes))),
        "pressure/total": generator.normal(2.1e7, 4e5, SAMPLES),
        "pressure/cell_inlet": np.zeros(SAMPLES),
        "pressure/drop": np.ones((SAMPLES, len(flowed))),
        "computed": computed,
        "warnings": warnings.astype(str),
    }

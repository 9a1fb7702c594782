"""Numerical simulation of how an injected band broadens on its way through a chromatograph.

>>> import tailrace
>>> scenario = tailrace.load("instrument.toml")
>>> result = tailrace.run(scenario)
>>> result.recorded["plates_half_height"]

``load`` reads a scenario, ``run`` propagates its solutes, ``sweep``, ``improve`` and ``tolerance``
ask questions that take many runs, ``measure`` reads measured signals, ``compare`` holds them
against the simulation, ``fit`` fits fields to them and ``diagnose`` says which part is at fault,
and ``read`` reads back whatever one of them stored. A scenario is changed with
``scenario.changed({"inlet tube.length": "100 mm"})``. All that
is needed is loaded when it is first used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from os import PathLike
from typing import TYPE_CHECKING, Literal, TypeAlias

from tailrace.cache import choose_cache
from tailrace.display import shown_by

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from tailrace.journey.result import Result
    from tailrace.measurements.result import Measured
    from tailrace.measurements.signal import Wanted
    from tailrace.scenario.scenario import Scenario
    from tailrace.studies.improving.aims import Constraints
    from tailrace.studies.improving.result import Improvement
    from tailrace.studies.measured.diagnosis import Diagnosis
    from tailrace.studies.measured.result import Compared, Fitted
    from tailrace.studies.runner import Runner
    from tailrace.studies.sweeping import Sweep
    from tailrace.studies.tolerance.result import Tolerance

__all__ = [
    "__version__",
    "compare",
    "diagnose",
    "fit",
    "improve",
    "load",
    "measure",
    "read",
    "run",
    "sweep",
    "tolerance",
]

choose_cache()

Path: TypeAlias = "str | PathLike[str]"
Progress: TypeAlias = "Callable[[int, int], object]"
Engine: TypeAlias = Literal["product", "march"]


def load(path: Path) -> Scenario:
    """Read and check a scenario file.

    Parameters
    ----------
    path : str or path

    Returns
    -------
    Scenario
        ``Scenario.from_text`` and ``Scenario.from_tables`` make one without a file.

    Raises
    ------
    ScenarioError
        With one sentence for each thing to mend: file, line, key, what was expected, what was
        found, what to change.
    """
    from tailrace.scenario.scenario import Scenario

    return Scenario.load(path)


def run(
    scenario: Scenario | Path,
    *,
    accuracy: float | None = None,
    solver: Literal["finite differences", "spectral"] | None = None,
    progress: Progress | None = None,
) -> Result:
    """Propagate every solute of a scenario through its path.

    Parameters
    ----------
    scenario : Scenario or path
    accuracy : float, 1, optional
        Relative error asked of the signal behind a tube; the scenario's own without it.
    solver : str, optional
        How a band goes through tubes; the scenario's own without it.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of parts.

    Returns
    -------
    Result
        What each part does, what is recorded, the estimated discretisation errors, the bands.

    Raises
    ------
    BudgetError
        Where it would take too much memory or time.
    AccuracyError, MeasureError
        Where the numbers cannot be computed as asked.
    """
    from dataclasses import replace

    from tailrace.journey import travel
    from tailrace.scenario.columns import with_columns
    from tailrace.scenario.doubts import with_assumptions

    loaded = _loaded(scenario)
    itinerary = loaded.itinerary().computed(accuracy=accuracy, solver=solver)
    found = replace(travel(itinerary, progress, blame=True), source=loaded)
    return with_columns(loaded, with_assumptions(loaded, found), accuracy, solver)


def sweep(
    scenario: Scenario | Path,
    vary: Sequence[str],
    *,
    together: bool = False,
    engine: Engine = "product",
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Sweep:
    """Vary fields of a scenario and run every case.

    Parameters
    ----------
    scenario : Scenario or path
    vary : sequence of str
        ``"tube.length = 50 mm .. 1 m, 40 points"`` or ``"method.flow = 0.1, 0.3 mL/min"``.
    together : bool
        True: the fields change in step. False: every value of one meets every value of the others.
    engine : str
        ``product``: multiply transfer functions where the path is linear, march some cases to
        compare; ``march``: march all.
    executor : concurrent.futures.Executor, optional
        Where cases are computed; threads of this machine without one.
    progress : callable, optional
        Called as ``progress(done, total)`` with numbers of cases.

    Returns
    -------
    Sweep

    Raises
    ------
    StudyError, ScenarioError, BudgetError
        For a wrong axis or case, before anything is computed.
    AccuracyError
        Where no case at all can be computed.
    """
    from tailrace.studies.sweeping import sweep as answer

    return answer(_loaded(scenario), vary, together, _runner(executor, progress, engine))


def improve(
    scenario: Scenario | Path,
    *,
    aim: Literal["", "plates", "resolution", "tailing", "signal", "variance"] = "",
    of: str = "",
    constraints: Constraints | None = None,
    stop: float = 0.02,
    order: Literal["gain", "money", "effort"] = "gain",
    engine: Engine = "product",
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Improvement:
    """Say which of a scenario's ``[[changes]]`` to make, and in which order.

    Parameters
    ----------
    scenario : Scenario or path
    aim, of : str
        What is to be better (empty: plates, without a column the variance), and of which solute
        (of a resolution: pair ``a/b``); the worst of all counts where ``of`` is empty.
    constraints : Constraints, optional
        ``tailrace.studies.improving.Constraints(pressure=4e7)``.
    stop : float, 1
        A step that brings less than this share of the metric before it is not worth making.
    order : str
        Most gain first, or most for the money or the working time.
    engine, executor, progress : optional
        As of ``sweep``.

    Returns
    -------
    Improvement

    Raises
    ------
    StudyError, ScenarioError, AccuracyError, MeasureError
        For what cannot be asked or computed, and where the start has no such metric.
    """
    from tailrace.studies import improving

    answer: Callable[..., Improvement] = improving.improve
    return answer(
        _loaded(scenario),
        aim=aim,
        of=of,
        constraints=constraints,
        stop=stop,
        order=order,
        runner=_runner(executor, progress, engine),
    )


def tolerance(
    scenario: Scenario | Path,
    *,
    samples: int = 10_000,
    digits: int | None = None,
    seed: int = 1,
    generator: Literal["random", "sobol", "halton", "latin hypercube"] = "random",
    indices: int = 0,
    widen: Sequence[str] = (),
    together: bool = False,
    maps: Sequence[tuple[str, str]] = (),
    engine: Engine = "product",
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> Tolerance:
    """Sample the ``[[uncertain]]`` inputs of a scenario and judge by its ``[[accept]]``.

    Parameters
    ----------
    scenario : Scenario or path
    samples, seed : int
    digits : int, optional
        1 or 2: sample until this many digits of all standard uncertainties stand (JCGM 101, 7.9).
    generator : str
    indices : int
        Rows of each sample for Sobol' indices, a power of 2; 0: none.
    widen : sequence of str
        Fields whose widest tolerance is looked for; ``("all",)`` for every one.
    together : bool
        Widen these all at once, too.
    maps : sequence of two str
        Pairs of fields: where may they lie?
    engine, executor, progress : optional
        As of ``sweep``.

    Returns
    -------
    Tolerance

    Raises
    ------
    StudyError, BudgetError, ScenarioError, AccuracyError
        For what cannot be asked, an input whose far ends are no sound scenario, and where no sample
        can be computed.
    """
    from tailrace.studies.tolerance import answer, plan

    asked = (samples, digits, seed, generator, indices, widen, together, maps)
    planned = plan(_loaded(scenario), *asked)
    return answer(planned, _runner(executor, progress, engine))


def measure(
    *files: Path,
    window: tuple[float, float] | None = None,
    baseline: Literal["constant", "line", "smooth"] = "line",
    blank: Path | None = None,
    repeats: bool = False,
    wanted: Wanted | None = None,
) -> Measured:
    """Measure the peaks of signals, text of any layout or ASTM E1947 netCDF.

    Parameters
    ----------
    *files : str or path
    window : tuple of two float, s, optional
        One peak, from and to; without it every peak that stands out.
    baseline : str
        Through the blank stretches on both sides of a peak.
    blank : str or path, optional
        A blank run, taken off first.
    repeats : bool
        Whether the files are one measurement, made several times.
    wanted : Wanted, optional
        Columns and units, where the files do not say.

    Raises
    ------
    SignalError
        Where a file holds no signal, or no peak.
    """
    from pathlib import Path

    from tailrace.measurements.measuring import measured_file, measured_files
    from tailrace.measurements.reading import load_signal

    signals = [load_signal(Path(one), wanted) for one in files]
    empty = None if blank is None else load_signal(Path(blank), wanted)
    measurements = [
        measured_file(one, window=window, baseline=baseline, blank=empty) for one in signals
    ]
    return measured_files(measurements, repeats)


def compare(
    scenario: Scenario | Path,
    *,
    seed: int = 15,
    executor: Executor | None = None,
    progress: Progress | None = None,
    engine: Engine = "product",
) -> Compared:
    """Hold the measured signals of a scenario against their simulation.

    Parameters
    ----------
    scenario : Scenario or path
        With ``[[measured]]``.
    seed : int
        Of the noise that is drawn upon the simulated signals.
    executor, progress, engine : optional
        As of ``sweep``; counted are measurements.

    Raises
    ------
    StudyError, SignalError
        Without ``[[measured]]``; where a signal holds no whole peak.
    BudgetError, AccuracyError
        As of ``run``; where measured and simulated have nothing in common.
    """
    from tailrace.studies.measured.comparing import answer, plan

    return answer(plan(_loaded(scenario), seed), _runner(executor, progress, engine))


def fit(scenario: Scenario | Path, free: Sequence[str], *, engine: Engine = "product") -> Fitted:
    """Fit fields of a scenario to its measured signals.

    Parameters
    ----------
    scenario : Scenario or path
        With ``[[measured]]``.
    free : sequence of str
        Fields, named as for ``sweep``: ``"flow cell.volume"``.
    engine : optional
        As of ``sweep``.

    Raises
    ------
    StudyError, SignalError
        For a field that is none or matters for no measurement; as of ``compare``.
    BudgetError, AccuracyError
        As of ``run``; where the fit does not come to rest.
    """
    from tailrace.studies.measured.fitting import fit as made

    return made(_loaded(scenario), free, _runner(None, None, engine))


def diagnose(
    scenario: Scenario | Path,
    *,
    executor: Executor | None = None,
    progress: Progress | None = None,
    engine: Engine = "product",
) -> Diagnosis:
    """Say which part of an instrument is at fault, from measured signals.

    Parameters
    ----------
    scenario : Scenario or path
        The instrument as it should be, with ``[[measured]]``.
    executor, progress, engine : optional
        As of ``sweep``; counted are hypotheses.

    Raises
    ------
    StudyError, SignalError
        As of ``compare``.
    BudgetError, AccuracyError
        As of ``run``; where measured and simulated have nothing in common.
    """
    from tailrace.studies.measured.diagnosing import answer, plan

    return answer(plan(_loaded(scenario)), _runner(executor, progress, engine))


def read(path: Path, chunks: int | dict[str, int] | Literal["auto"] | None = None) -> object:
    """Read back what a run, a study or a measurement stored.

    Parameters
    ----------
    path : str or path
        A file of one of these commands with ``--out``, or of ``save``.
    chunks : int, dict or "auto", optional
        As of ``xarray.open_dataset``: metrics of a sweep are then arrays of Dask, which are read
        when they are computed with; ``{}`` keeps the blocks of the file.

    Raises
    ------
    RecordError
        Where the file is missing, damaged, or of another origin.
    """
    from pathlib import Path

    from tailrace.report.forms import read as stored

    return stored(Path(path), chunks)


def _loaded(scenario: Scenario | Path) -> Scenario:
    from tailrace.scenario.scenario import Scenario

    return scenario if isinstance(scenario, Scenario) else Scenario.load(scenario)


def _runner(
    executor: Executor | None, progress: Progress | None, engine: str = "product"
) -> Runner:
    from tailrace.studies.runner import Runner

    return Runner(executor, progress=progress, engine=engine)


def __getattr__(name: str) -> str:
    if name == "__version__":
        from tailrace.identity import own_version

        return own_version()
    raise AttributeError(f"module 'tailrace' has no attribute {name!r}")


def _made(form: str) -> Callable[..., object]:
    def make(value: object, *more: object) -> object:
        from tailrace.report import forms

        return getattr(forms, form)(value, *more)

    return make


shown_by(
    **{form: _made(form) for form in ("html", "to_xarray", "to_json", "to_html", "plot", "save")}
)

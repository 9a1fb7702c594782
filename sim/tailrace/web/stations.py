"""What a page is made of: for each scenario its sliders, its sheets, its versions."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from tailrace.errors import ScenarioError
from tailrace.records.provenance import provenance_of
from tailrace.scenario.measured import as_measured, measured_files
from tailrace.scenario.page_table import PageTable, VersionTable
from tailrace.scenario.problems import unknown
from tailrace.scenario.scenario import Scenario
from tailrace.studies.free_sliders import FreeSliders, free_sliders
from tailrace.studies.measured.bench import benches
from tailrace.studies.runner import Runner
from tailrace.studies.sliders import SliderError, Sliders, sliders
from tailrace.web.sheet import Sheet, lesson, read
from tailrace.web.sliding import HEADINGS, Measured, Station

MOST_MEASURED = 1200
"""Points of a measured signal on a page."""


def stations_of(
    paths: Sequence[Path],
    slide: Sequence[str] = (),
    solutes: Sequence[str] = (),
    runner: Runner | None = None,
) -> list[Station]:
    """The stations of a page with these scenarios, computed.

    Without sliders or solutes those of ``[page]``. Raises SliderError, SheetError, and what
    ``free_sliders`` and ``sliders`` raise.
    """
    found = []
    for path in paths:
        scenario = Scenario.load(path)
        page = scenario.document.page
        sheet = _sheet(path.parent, page)
        for name in page.headings.keys() - HEADINGS:
            raise ScenarioError([f"{path}: headings: {unknown('heading', name, list(HEADINGS))}"])
        versions = page.versions or [VersionTable.model_validate({"name": "as it stands"})]
        for number, version in enumerate(versions):
            base = Scenario.load(path.parent / version.file) if version.file else scenario
            one, measured = version_of(base, version)
            asked = slide or version.slide or page.slide
            if not asked:
                raise SliderError(
                    f"{path}: expected sliders, found none; give --slide, or slide in [page]"
                )
            shown = solutes or page.solutes
            found.append(
                Station(
                    study=_studied(one, asked, shown, runner, page.stops),
                    provenance=replace(
                        provenance_of(one), scenario_sha256=base.sha256, scenario=base.text
                    ),
                    page=page,
                    sheet=sheet,
                    name=path.stem,
                    versions=tuple(v.name for v in page.versions),
                    version=number,
                    measured=measured,
                )
            )
    return found


def _studied(
    scenario: Scenario,
    slide: Sequence[str],
    solutes: Sequence[str],
    runner: Runner | None,
    stops: bool,
) -> FreeSliders | Sliders:
    free = None if stops else free_sliders(scenario, slide, solutes, runner)
    return free or sliders(scenario, slide, solutes, runner)


def _sheet(folder: Path, page: PageTable) -> Sheet | None:
    if not page.sheet:
        return None
    return lesson(read(folder / page.sheet), read(folder / page.answers) if page.answers else "")


def version_of(scenario: Scenario, version: VersionTable) -> tuple[Scenario, Measured | None]:
    """The instrument of a version, and the signal that is drawn upon it. Raises ScenarioError."""
    if version.changes:
        return scenario.with_changes(*version.changes), None
    if not version.measured:
        return scenario, None
    names = [one.name for one in scenario.document.measured]
    if version.measured not in names:
        raise ScenarioError(
            [f"[page] versions: expected one of {', '.join(names)}, found {version.measured}"]
        )
    at = names.index(version.measured)
    bench = benches(scenario)[at]
    first, last = bench.way.spot.window
    values, step = bench.even.values[first:last], bench.even.step
    start = float(bench.even.times[first])
    every = max(1, values.size // MOST_MEASURED)
    area = float(values.sum() * step)
    return as_measured(scenario, measured_files(scenario)[at]), {
        "name": version.measured,
        "start": start,
        "step": step * every,
        "values": np.round(values[::every] / area, 5).tolist(),
        "noise": float(bench.noise.deviation / area),
    }

"""The forms in which a result is handed on: record, JSON, page, picture; and records read back."""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import singledispatch
from pathlib import Path
from typing import Any

import xarray

from tailrace.errors import TailraceError
from tailrace.figures.improvement import draw_staircase
from tailrace.figures.peaks import draw_peaks
from tailrace.figures.style import Picture
from tailrace.figures.sweeps import draw_lines, draw_maps
from tailrace.figures.tolerance import draw_distributions
from tailrace.identity import own_version
from tailrace.journey import travel
from tailrace.journey.result import Result
from tailrace.measurements.result import Measured
from tailrace.records.kinds import kind_named
from tailrace.records.provenance import Provenance, provenance_of
from tailrace.records.record import as_record, as_result, tree_of, with_files
from tailrace.records.store import More, read_record, write_bytes, write_record
from tailrace.records.sweep_record import KIND as SWEEP
from tailrace.records.sweep_record import as_dataset, as_sweep, stored_part
from tailrace.records.trade import for_people
from tailrace.report.improvement.audit import page as improvement_page
from tailrace.report.improvement.printed import as_json as improvement_json
from tailrace.report.notebook import html
from tailrace.report.page import page
from tailrace.report.run import as_json as run_json
from tailrace.report.sweep import as_json as sweep_json
from tailrace.report.sweep import page as sweep_page
from tailrace.report.tellers import told_by
from tailrace.report.tolerance.audit import page as tolerance_page
from tailrace.report.tolerance.printed import as_json as tolerance_json
from tailrace.scenario.scenario import Scenario
from tailrace.studies.improving.result import Improvement
from tailrace.studies.measured.diagnosis import Diagnosis
from tailrace.studies.measured.following import Followed
from tailrace.studies.measured.protocol import Protocol
from tailrace.studies.measured.result import Compared, Fitted
from tailrace.studies.sweeping import Sweep
from tailrace.studies.tolerance.result import Tolerance

__all__ = ["forms", "html", "plot", "read", "save", "to_html", "to_json", "to_xarray"]


@dataclass(frozen=True, kw_only=True)
class Forms:
    """How one result is made into each form."""

    record: Callable[[], xarray.DataTree]
    numbers: Callable[[], dict[str, Any]]
    page: Callable[[], str]
    picture: Callable[[], Picture]
    more: Callable[[], More | None] = lambda: None


@singledispatch
def forms(value: object) -> Forms:
    """The forms of a result; a new kind of result is a function registered here."""
    raise TypeError(f"expected a result of tailrace, found {type(value).__name__}")


def _origin(source: object) -> Provenance:
    if isinstance(source, Scenario):
        return provenance_of(source)
    if isinstance(source, Provenance):
        return source
    # one that was travelled by hand comes from nowhere
    return Provenance(title="", scenario_sha256="", scenario="", version=own_version())


@forms.register
def _of_run(result: Result) -> Forms:
    provenance = _origin(result.source)

    def record() -> xarray.DataTree:
        return as_record(result, provenance)

    return Forms(
        record=record,
        numbers=lambda: run_json(
            result, provenance.title, provenance.scenario_sha256, own_version()
        ),
        page=lambda: page(record()),
        picture=lambda: draw_peaks(result),
    )


@forms.register
def _of_improvement(study: Improvement) -> Forms:
    source = study.scenario
    if not isinstance(source, Scenario):
        raise TailraceError(
            f"{source.title}: expected a scenario that can be run again, found a record whose data "
            "files are missing; put them beside it"
        )

    def record() -> xarray.DataTree:
        states = {name: travel(itinerary) for name, itinerary in study.states().items()}
        return tree_of(study, provenance_of(source), states=states)

    return Forms(
        record=record,
        numbers=lambda: improvement_json(study, own_version()),
        page=lambda: improvement_page(record()),
        picture=lambda: draw_staircase(for_people(study)),
    )


@forms.register
def _of_sweep(study: Sweep) -> Forms:
    source = provenance_of(study.plan.scenario)

    def dataset() -> xarray.Dataset:
        return as_dataset(study, source)

    def picture() -> Picture:
        return draw_maps(dataset()) if study.mapped else draw_lines(study)

    return Forms(
        record=lambda: with_files(xarray.DataTree(dataset()), source),
        numbers=lambda: sweep_json(study),
        page=lambda: sweep_page(study, source),
        picture=picture,
        more=lambda: stored_part(study),
    )


@forms.register
def _of_tolerance(study: Tolerance) -> Forms:
    provenance = _origin(study.source)

    def record() -> xarray.DataTree:
        return tree_of(study, provenance)

    return Forms(
        record=record,
        numbers=lambda: tolerance_json(study, provenance),
        page=lambda: tolerance_page(record()),
        picture=lambda: draw_distributions(study),
    )


@forms.register
def _of_signals(
    study: Measured | Compared | Fitted | Diagnosis | Protocol | Followed,
) -> Forms:
    provenance, teller = _origin(getattr(study, "source", None)), told_by(kind_named(study))
    if isinstance(study, Measured):
        provenance = replace(provenance, title=study.title)

    def record() -> xarray.DataTree:
        return tree_of(study, provenance)

    return Forms(
        record=record,
        numbers=lambda: teller.as_json(study, provenance),
        page=lambda: teller.page(record()),
        picture=lambda: teller.picture(study),
    )


def to_xarray(value: object) -> xarray.DataTree:
    """The record of a result, every variable with its unit and meaning."""
    return forms(value).record()


def to_json(value: object) -> str:
    """The object that the command prints with ``--json``: SI, null where there is no value."""
    return json.dumps(forms(value).numbers(), indent=2, allow_nan=False)


def to_html(value: object) -> str:
    """The report: one page that stands alone."""
    return forms(value).page()


def plot(value: object) -> Picture:
    """The picture that says most; its ``figure`` is one of matplotlib."""
    return forms(value).picture()


def save(value: object, path: Path) -> None:
    """Write a form to a file, chosen by its ending; raises OSError where that cannot be."""
    built = forms(value)
    contents: dict[str, Callable[[], bytes]] = {
        ".json": lambda: to_json(value).encode(),
        ".html": lambda: built.page().encode(),
        ".svg": lambda: built.picture().svg(),
        ".png": lambda: built.picture().png(),
        ".pdf": lambda: built.picture().pdf(),
    }
    ending = Path(path).suffix.lower()
    if ending in (".h5", ".nc"):
        write_record(path, built.record(), built.more())
    elif ending in contents:
        write_bytes(path, contents[ending]())
    else:
        raise TailraceError(
            f"{path}: expected a name that ends in .h5, .nc, {', '.join(contents)}, found "
            f"{ending or 'no ending'}; add one"
        )


def read(path: Path, chunks: Any = None) -> object:
    """Read a record back into its result; raises RecordError where the file is none."""
    record = read_record(path, chunks=chunks)
    if record.attrs["kind"] == SWEEP:
        text, title = str(record.attrs["scenario"]), str(record.attrs["title"])
        return as_sweep(record.to_dataset(), Scenario.from_text(text, path.parent, name=title))
    found = as_result(record)
    return _with_scenario(found, path.parent) if isinstance(found, Improvement) else found


def _with_scenario(study: Improvement, folder: Path) -> Improvement:
    """With the whole scenario, unless files that it names are not in the folder."""
    stored = study.scenario
    with suppress(TailraceError):
        scenario = Scenario.from_text(stored.text, folder, name=stored.title)
        # a byte order mark is no part of the text
        return replace(study, scenario=replace(scenario, sha256=stored.sha256))
    return study

"""What ``tolerance --json`` prints: one object of plain numbers in SI."""

import math
from dataclasses import fields, is_dataclass

import numpy as np

OF_EVERY_SAMPLE = ("values", "errors")
"""Left out: they are in the record."""


def as_contract(study) -> dict:
    """Turn a study into one object.

    Parameters
    ----------
    study : tailrace.records.tolerance_study.Study

    Returns
    -------
    dict
        ``title``, ``scenario_sha256``, ``version``, ``libraries``, ``question`` (with the seed),
        ``samples``, ``computed`` (a number), ``met``; ``inputs``, ``outcomes``, ``acceptance``,
        ``stop``, ``indices``, ``widenings``, ``maps``, ``qualification``, ``cautions`` with the
        keys of ``tailrace.studies.tolerance.result``; ``solvers_agree``, None where the solvers
        were not compared. None where a number does not exist.
    """
    provenance = study.provenance
    return {
        "title": provenance.title,
        "scenario_sha256": provenance.scenario_sha256,
        "version": provenance.version,
        "libraries": provenance.libraries,
        "question": study.question,
        "samples": study.samples,
        "computed": int(np.count_nonzero(study.computed)),
        "met": study.met,
        "inputs": _plain(study.inputs),
        "outcomes": _plain(study.outcomes),
        "acceptance": _plain(study.acceptance),
        "stop": _plain(study.stop),
        "indices": _plain(study.indices),
        "widenings": _plain(study.widenings),
        "maps": _plain(study.maps),
        "qualification": _plain(study.checks),
        "cautions": list(study.cautions),
        "solvers_agree": None if study.check is None else study.check.agree,
    }


def _plain(value):
    if is_dataclass(value):
        named = ((one.name, getattr(value, one.name)) for one in fields(value))
        told = {name: _plain(one) for name, one in named if name not in OF_EVERY_SAMPLE}
        return told | ({"met": value.met} if hasattr(value, "met") else {})
    if isinstance(value, dict):
        return {key: _plain(one) for key, one in value.items()}
    if isinstance(value, (tuple, list)):
        return [_plain(one) for one in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value

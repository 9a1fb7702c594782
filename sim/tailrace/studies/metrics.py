"""What each metric of a case is: descriptions of what ``lanes.metrics_of`` gives by name."""

from dataclasses import replace

from tailrace.journey.result import PartResult, Pressure, Result
from tailrace.measures.registry import METRICS
from tailrace.quantities.described import Description, descriptions
from tailrace.studies.neighbours import NEXT, NEXT_ERROR

DROP = "drop"


def description_of(key: str) -> Description:
    """The description of a metric by its key, such as ``recorded/apex``; samples lie first."""
    group, _, name = key.partition("/")
    if group == "parts":
        return replace(descriptions(PartResult)[name], along=("sample", "part", "solute"))
    if group == "pressure":
        along = ("sample", "flow_part") if name == DROP else ("sample",)
        return replace(descriptions(Pressure)["parts" if name == DROP else name], along=along)
    if group in (NEXT, NEXT_ERROR):
        meaning = f"{METRICS[name].meaning}, of this solute and the next to elute"
        if group == NEXT_ERROR:
            meaning = f"discretisation error of: {meaning}"
        return replace(METRICS[name].description, meaning=meaning, along=("sample", "solute"))
    of_group = descriptions(Result)[group].entries
    assert of_group is not None
    return replace(of_group(name), along=("sample", "solute"))

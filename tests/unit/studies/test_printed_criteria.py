"""Numbers as data systems print them, as criteria: of every sample what a run of it says."""

import numpy as np
import pytest
from reference.tolerances import UNCERTAIN, loaded

from tailrace.journey import travel
from tailrace.records.separation import separation
from tailrace.scenario.criteria import criteria_of
from tailrace.studies.runner import Runner
from tailrace.studies.samples import sampled
from tailrace.studies.tolerance.models import JourneyModel

ROWS = "".join(
    f'\n[[accept]]\nmeasure = "{one}"\nat_least = 1\n'
    for one in (
        "peak-to-valley ratio",
        "selectivity",
        "relative retention",
        "resolution, factor 1.18",
        "retention factor",
        "reduced plate height",
    )
)


@pytest.mark.parametrize("engine", ["march", "product"])
def test_each_is_that_of_a_run(tmp_path, engine):
    scenario = loaded(tmp_path, UNCERTAIN.replace("cell.volume", "one.retention_factor"), ROWS)
    criteria = criteria_of(scenario)
    samples = sampled(scenario, 3, 1)
    model = JourneyModel(scenario, criteria, Runner(engine=engine))
    found = model(samples, "some")
    assert np.all(found.errors >= 0)
    for case, itinerary in enumerate(samples.itineraries(scenario)):
        result = travel(itinerary)
        pairs = separation(result)
        by_hand = [
            pairs.peak_to_valley[0],
            pairs.selectivity[0],
            pairs.relative_retention[0],
            pairs.half_height_printed[0],
            result.recorded["retention_factor_recorded"].min(),
            result.recorded["reduced_plate_height"].min(),
        ]
        assert found.values[:, case] == pytest.approx(by_hand, rel=1e-3)
        # the column alone: k of the bed, less by what the path outside adds to the hold-up time
        assert pairs.selectivity[0] > pairs.relative_retention[0] > 1


def test_without_a_column_they_are_refused(tmp_path):
    import tailrace
    from tailrace.errors import ScenarioError

    bare = loaded(tmp_path).text.replace('part = "column"', 'part = "chamber"')
    file = tmp_path / "bare.toml"
    file.write_text(
        "\n".join(
            line
            for line in bare.splitlines()
            if line.split(" ")[0] not in ("bore", "length", "particle_diameter", "plates")
        ).replace(
            'part = "chamber"\n\n[[path]]\nname = "cell"',
            'part = "chamber"\nvolume = "1 uL"\n\n[[path]]\nname = "cell"',
        )
        + ROWS
    )
    with pytest.raises(ScenarioError, match="without a column"):
        tailrace.load(file)

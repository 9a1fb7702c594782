"""From one instrument to another: variances of differences, margins and passes, by hand.

The difference of two independent draws has twice the variance of one, of one draw none; equivalence
by how often a difference is within its margin (Clopper and Pearson).
"""

import json

import numpy as np
import pytest
from click.testing import CliRunner
from reference.tolerances import SCENARIO
from scipy.stats import norm

import tailrace
from tailrace.cli.main import main
from tailrace.errors import TailraceError
from tailrace.report.tolerance.moved import conclusion
from tailrace.studies.tolerance.transferring import transfer

COUNT = 200
ROWS = """
[[uncertain]]
field = "cell.volume"
distribution = "normal"
standard_deviation = "0.3 uL"

[[uncertain]]
field = "column.plates"
distribution = "normal"
relative = 0.02
kind = "KIND"

[[accept]]
measure = "plates"
solute = "one"
at_least = 3000
margin = MARGIN
"""


def written(folder, name="first", kind="tolerance", margin=300, change=("", "")):
    file = folder / f"{name}.toml"
    rows = ROWS.replace("KIND", kind).replace("MARGIN", str(margin))
    file.write_text((SCENARIO + rows).replace(*change))
    return file


def found(folder, kind="tolerance", same=(), **more):
    one = tailrace.load(written(folder, kind=kind, **more))
    other = tailrace.load(written(folder, "second", kind=kind, **more))
    return transfer(one, other, COUNT, 3, same)


def test_what_is_shared_drops_out(tmp_path):
    apart = found(tmp_path).rows[0].spread
    half = found(tmp_path, kind="knowledge").rows[0].spread
    column = found(tmp_path, same=["column.plates"]).rows[0].spread
    none = found(tmp_path, same=["column.plates", "cell.volume"]).rows[0].spread
    # the column is the same on both: what is not known of it, or a part that is moved along
    assert half.standard_uncertainty == pytest.approx(column.standard_uncertainty, rel=1e-12)
    assert half.standard_uncertainty < apart.standard_uncertainty
    assert none.standard_uncertainty == pytest.approx(0, abs=1e-6)
    assert abs(apart.mean) < 4 * apart.mean_error


def test_the_variance_is_that_of_two_draws(tmp_path):
    from tailrace.studies.tolerance import answer, plan

    alone = answer(plan(tailrace.load(written(tmp_path)), samples=COUNT)).outcomes[0].spread
    apart = found(tmp_path).rows[0].spread
    both = np.sqrt(2) * alone.standard_uncertainty
    # each known within 1/sqrt(2 n), four deviations
    assert apart.standard_uncertainty == pytest.approx(both, rel=4 * np.sqrt(2 / (2 * COUNT)))


def test_equivalence_is_the_share_within_the_margin(tmp_path):
    spread = found(tmp_path).rows[0].spread
    margin = round(float(spread.standard_uncertainty), 3)
    result = found(tmp_path, margin=margin)
    share = norm.cdf(1) - norm.cdf(-1)
    room = 4 * np.sqrt(share * (1 - share) / COUNT)
    assert result.equivalent.probability == pytest.approx(share, abs=room)
    assert not result.satisfied
    assert "at most" in conclusion(result) and "equivalence not kept" in conclusion(result)
    assert found(tmp_path, margin=100 * margin).satisfied


def test_both_pass(tmp_path):
    one = tailrace.load(written(tmp_path))
    worse = written(tmp_path, "worse", change=('volume = "4 uL"', 'volume = "9 uL"'))
    result = transfer(one, tailrace.load(worse), COUNT)
    row = result.rows[0]
    assert row.nominal == pytest.approx(row.spread.mean, rel=0.1)
    assert row.nominal < 0
    assert result.both.accepted <= min(row.first.accepted, row.second.accepted)
    assert result.second_given_first == pytest.approx(
        result.both.accepted / row.first.accepted, rel=1e-12
    )


def test_scenarios_that_are_not_of_one_method_are_refused(tmp_path):
    one = tailrace.load(written(tmp_path))
    other = tailrace.load(written(tmp_path, "other", change=('name = "two"', 'name = "three"')))
    with pytest.raises(TailraceError, match="name them alike"):
        transfer(one, other, 10)
    with pytest.raises(TailraceError, match="uncertain field of both"):
        transfer(one, one, 10, same=["cell.length"])


def test_the_command(tmp_path):
    one, other = written(tmp_path), written(tmp_path, "second", margin=1000)
    asked = ["tolerance", str(one), "--against", str(other), "--samples", "64"]
    done = CliRunner().invoke(main, [*asked, "--json"])
    answer = json.loads(done.stdout)
    assert done.exit_code == (0 if answer["met"] else 1)
    assert answer["rows"][0]["margin"] == 300
    assert "second less first" in CliRunner().invoke(main, asked).stdout
    refused = CliRunner().invoke(main, [*asked, "--digits", "2"])
    assert refused.exit_code == 2

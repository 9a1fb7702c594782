"""Records of one question held against each other: each number over what it is made of."""

import numpy as np
import pytest
import xarray

from tailrace.records.again import Difference, differences
from tailrace.report.again import scales

PARTS = np.array([1.0, 1e-4, 1.0])


def _tree(skewness, evidence):
    parts = {
        "variance_simulated": ("part", PARTS, {"units": "s^2"}),
        "skewness_simulated": ("part", np.array(skewness), {"units": "1"}),
    }
    tried = {
        "signal": ("time", np.zeros(200), {"units": "V"}),
        "log_evidence": ("hypothesis", np.array(evidence), {"units": "1"}),
    }
    return xarray.DataTree.from_dict({"/": xarray.Dataset(parts), "/m": xarray.Dataset(tried)})


def test_each_part_and_each_hypothesis_is_held_over_what_is_subtracted_for_it():
    """A third moment known to 1e-12 leaves a part's skewness (behind / own)^1.5 times that."""
    off = 1e-12 * (np.cumsum(PARTS) / PARTS) ** 1.5
    one = _tree([2.0, 50.0, 2.0], [0.0, -40.0])
    for at in range(3):
        other = _tree([2.0, 50.0, 2.0] + off * (np.arange(3) == at), [0.0, -40.0 + 1e-10])
        found = {row.name: row for row in differences(one, other)}
        assert found["/skewness_simulated"].rounding == pytest.approx(1e-12, rel=0.02)
        assert found["/m/log_evidence"].rounding == pytest.approx(1e-12, rel=0.02)
        told = scales([*found.values()])
        assert "(variance behind the part / its own)^1.5" in told and "half the points" in told
    assert "skewness" not in scales([found["/m/log_evidence"]])


def _held(groups, alter):
    """Rows of what ``alter`` makes of one number, by name."""
    one, other = (
        xarray.DataTree.from_dict(
            {path: xarray.Dataset({name: (dims, np.array(values, dtype=float), {"units": "1"})
                                   for name, dims, values in rows})
             for path, rows in groups.items()}
        )
        for _ in range(2)
    )  # fmt: skip
    path, name, by = alter
    other[path][name].values[...] += by
    return {row.name: row.rounding for row in differences(one, other)}


def test_a_score_is_held_over_both_numbers_that_are_subtracted_for_it():
    """1.2 less 1.19 over 0.005: a unit in the last place of either is 240 of the score's."""
    groups = {
        "/m/zeta": [("tailing_5", (), 2.0), ("width", (), 0.5)],
        "/m/measured": [("tailing_5", (), 1.2), ("width", (), 1e-3)],
        "/m/joint_uncertainty": [("tailing_5", (), 0.005), ("width", (), 0.1)],
        "/elsewhere": [("tailing_5", (), 1e4)],
    }
    found = _held(groups, ("/m/zeta", "tailing_5", 2.4e-12))
    assert found == {"/m/zeta/tailing_5": pytest.approx(1e-14, rel=1e-2)}
    assert _held(groups, ("/m/zeta", "width", 1e-12))["/m/zeta/width"] == pytest.approx(1e-12)


def test_errors_of_samples_are_held_over_the_values_of_their_criterion_alone():
    groups = {
        "/outcomes": [
            ("values", ("outcome", "sample"), [[600.0, np.nan], [0.5, 0.25]]),
            ("errors", ("outcome", "sample"), [[1e-2, 1e-2], [1e-3, 1e-3]]),
        ]
    }
    by = np.array([[6e-10, 0.0], [0.0, 0.0]])
    assert _held(groups, ("/outcomes", "errors", by))["/outcomes/errors"] == pytest.approx(1e-12)
    held = _held(groups, ("/outcomes", "errors", by[::-1] / 600))["/outcomes/errors"]
    assert held == pytest.approx(2e-12)


def test_what_is_told_by_a_small_rest_of_its_column_is_held_over_that():
    """Two columns that are alike but for a part e: the inverse of e loses as many digits, here of
    numbers that are rounded to 1e-16."""
    part, random = 1e-4, np.random.default_rng(4)
    first, rest = np.linalg.qr(random.normal(size=(50, 2)))[0].T

    def sure(columns):
        inverse = np.linalg.inv(np.linalg.qr(columns, mode="r"))
        return float(np.linalg.norm(inverse[0])), float(1 / np.linalg.norm(columns[:, 0]))

    columns = np.stack([first + part * rest, first], axis=1)
    together, alone = sure(columns)
    turned = sure(columns * (1 + 1e-16 * random.choice([-1, 1, 2], columns.shape)))[0]
    groups = {"/identified": [("together", ("field",), [together]), ("alone", ("field",), [alone])]}
    assert abs(turned / together - 1) > 1e-13
    found = _held(groups, ("/identified", "together", turned - together))
    assert 1e-18 < found["/identified/together"] < 1e-15


def test_a_skewness_by_two_solvers_is_held_over_how_much_rounding_counts_in_it():
    groups = {
        "/cross_check": [("rounding", ("solute",), [500.0, 0.1])],
        "/cross_check/differences": [("skewness", ("solute",), [1e-4, 1e-4])],
        "/cross_check/values": [("skewness", ("solute",), [0.7, 0.7])],
    }
    place = "/cross_check/differences"
    found = _held(groups, (place, "skewness", np.array([5e-12, 1e-14])))
    assert found[f"{place}/skewness"] == pytest.approx(1e-14)
    found = _held(groups, (place, "skewness", np.array([0.0, 1e-12])))
    assert found[f"{place}/skewness"] == pytest.approx(1e-12)


def test_what_such_numbers_are_held_over_is_said():
    def told(name):
        return scales([Difference(name=name, largest=1e-3, rounding=1e-3)])

    assert "zeta" in told("/measured/a/zeta/tailing_5")
    assert "of their criterion" in told("/outcomes/errors")
    assert "than alone" in told("/identified/together")
    assert "two solvers" in told("/cross_check/differences/skewness")
    assert told("/recorded/width").count(";") == 0
